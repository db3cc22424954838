//! Several limits in order, each with a name: the first that a reading meets is its grade.
//!
//! What follows from a grade is the business of `walk`.

use super::{Limit, Quantity, Side};

/// The most grades of one reading.
pub const GRADES_MAX: usize = 16;

/// One grade.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grade {
    /// Its name, such as `new` or `serviceable`.
    pub name: String,
    /// What a reading must keep to.
    pub limit: Limit,
}

/// Grades in the order in which they are tried, closest first, each within the next; at least one,
/// all of one dimension.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grades(Vec<Grade>);

/// What becomes of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Graded<'a> {
    /// The first grade that it meets.
    Met(&'a Grade),
    /// It meets none: where it lies, seen from the last grade.
    Missed(Side),
}

/// Why a list of limits is no list of grades.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GradesFault {
    /// The list is empty.
    #[error("a list of grades has at least one")]
    None,
    /// More than [`GRADES_MAX`].
    #[error("a reading has at most {GRADES_MAX} grades")]
    TooMany,
    /// Two grades of one name.
    #[error("the grade `{0}` stands twice; give one of them another name")]
    Twice(String),
    /// Grades that measure different things.
    #[error("the grade `{one}` is {is} and `{other}` is {other_is}")]
    Mixed {
        /// The first grade.
        one: String,
        /// What it measures.
        is: &'static str,
        /// Another grade.
        other: String,
        /// What that measures.
        other_is: &'static str,
    },
    /// Whatever meets a grade meets an earlier one.
    #[error(
        "no reading gets the grade `{later}`, as `{earlier}` takes all of them before; put `{later}` first or give it other bounds"
    )]
    Never {
        /// The grade that is never given.
        later: String,
        /// The one that stands before it.
        earlier: String,
    },
    /// A grade that takes readings which the next one does not.
    #[error(
        "some readings get the grade `{closer}` and would miss `{wider}`; write the closest grade first, and let each take all that those before it take"
    )]
    NotWider {
        /// The grade that should be within the other.
        closer: String,
        /// The grade after it.
        wider: String,
    },
}

impl Grades {
    /// Checks a list of grades.
    ///
    /// # Errors
    /// No grade, too many, a name twice, other dimensions, or a grade that is never given.
    pub fn new(grades: Vec<Grade>) -> Result<Self, GradesFault> {
        let first = grades.first().ok_or(GradesFault::None)?;
        if grades.len() > GRADES_MAX {
            return Err(GradesFault::TooMany);
        }
        for (at, grade) in grades.iter().enumerate() {
            let (one, other) = (first.limit.unit.dimension(), grade.limit.unit.dimension());
            if one != other {
                return Err(GradesFault::Mixed {
                    one: first.name.clone(),
                    is: one.noun(),
                    other: grade.name.clone(),
                    other_is: other.noun(),
                });
            }
            for earlier in grades.iter().take(at) {
                if earlier.name == grade.name {
                    return Err(GradesFault::Twice(grade.name.clone()));
                }
                if earlier.limit.covers(&grade.limit) {
                    return Err(GradesFault::Never {
                        later: grade.name.clone(),
                        earlier: earlier.name.clone(),
                    });
                }
            }
        }
        for (closer, wider) in grades.iter().zip(grades.iter().skip(1)) {
            if !wider.limit.covers(&closer.limit) {
                return Err(GradesFault::NotWider {
                    closer: closer.name.clone(),
                    wider: wider.name.clone(),
                });
            }
        }
        Ok(Self(grades))
    }

    /// The widest grade: what misses it has none.
    pub fn widest(&self) -> Option<&Grade> {
        self.0.last()
    }

    /// The grades in their order.
    pub fn iter(&self) -> impl Iterator<Item = &Grade> {
        self.0.iter()
    }

    /// The grade of `value`; `None` where it measures something else.
    pub fn judge(&self, value: &Quantity) -> Option<Graded<'_>> {
        let mut missed = None;
        for grade in &self.0 {
            match grade.limit.judge(value)? {
                Side::Within => return Some(Graded::Met(grade)),
                side => missed = Some(Graded::Missed(side)),
            }
        }
        missed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grade(name: &str, least: Option<&str>, most: Option<&str>) -> Grade {
        let read = |text: &str| Quantity::parse_literal(text).unwrap();
        let unit = least.or(most).map(|text| read(text).1).unwrap();
        let limit = Limit::new(least.map(|t| read(t).0), most.map(|t| read(t).0), unit).unwrap();
        Grade { name: name.to_owned(), limit }
    }

    fn fault(grades: Vec<Grade>) -> String {
        Grades::new(grades).unwrap_err().to_string()
    }

    #[test]
    fn the_first_grade_that_is_met_counts() {
        let grades = Grades::new(vec![
            grade("new", Some("45 mm"), Some("46 mm")),
            grade("serviceable", Some("44.6 mm"), None),
        ])
        .unwrap();
        let graded = |text: &str| match grades.judge(&Quantity::parse_literal(text).unwrap().0) {
            Some(Graded::Met(grade)) => grade.name.clone(),
            other => format!("{other:?}"),
        };
        assert_eq!(graded("45 mm"), "new");
        assert_eq!(graded("44.99 mm"), "serviceable");
        assert_eq!(graded("46.01 mm"), "serviceable");
        assert_eq!(graded("44.6 mm"), "serviceable");
        assert_eq!(graded("44.59 mm"), "Some(Missed(Below))");
        assert_eq!(graded("45"), "None");
        assert_eq!(grades.iter().count(), 2);
    }

    #[test]
    fn lists_that_cannot_be_meant_are_refused() {
        assert_eq!(fault(vec![]), "a list of grades has at least one");
        assert_eq!(
            fault(vec![grade("a", Some("1 mm"), None), grade("a", None, Some("0 mm"))]),
            "the grade `a` stands twice; give one of them another name"
        );
        assert_eq!(
            fault(vec![grade("a", Some("1 mm"), None), grade("b", Some("1 bar diff"), None)]),
            "the grade `a` is a length and `b` is a difference of pressure"
        );
        assert_eq!(
            fault(vec![
                grade("serviceable", Some("44.6 mm"), None),
                grade("new", Some("45 mm"), Some("46 mm"))
            ]),
            "no reading gets the grade `new`, as `serviceable` takes all of them before; put `new` \
             first or give it other bounds"
        );
        assert_eq!(
            fault(vec![
                grade("new", Some("45 mm"), Some("46 mm")),
                grade("worn", Some("44 mm"), Some("45.5 mm"))
            ]),
            "some readings get the grade `new` and would miss `worn`; write the closest grade \
             first, and let each take all that those before it take"
        );
        let many =
            (0..=GRADES_MAX).map(|n| grade(&format!("g{n}"), None, Some(&format!("{n} mm"))));
        assert_eq!(Grades::new(many.clone().collect()), Err(GradesFault::TooMany));
        assert!(Grades::new(many.take(GRADES_MAX).collect()).is_ok());
    }
}
