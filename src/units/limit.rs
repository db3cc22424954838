//! Limits on quantities; bounds are inclusive.
//!
//! A verdict compares exact values. What a limit means for a step is the business of `walk`.

use std::cmp::Ordering;

use super::{Quantity, Reading, Unit};

/// A limit: at least one bound, both of one dimension, `at_least <= at_most`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// The least value that passes; that value itself passes.
    pub at_least: Option<Quantity>,
    /// The greatest value that passes; that value itself passes.
    pub at_most: Option<Quantity>,
    /// The unit that the limit was written in, for showing it.
    pub unit: Unit,
}

/// Where a reading lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Below the least.
    Below,
    /// Within, bounds included.
    Within,
    /// Above the greatest.
    Above,
}

/// Why two bounds are no limit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LimitFault {
    /// Neither bound is given.
    #[error("a limit has at least one bound")]
    NoBound,
    /// The least is above the greatest.
    #[error("nothing can meet this limit: {at_least} is above {at_most}")]
    Reversed {
        /// The least value, as shown.
        at_least: String,
        /// The greatest value, as shown.
        at_most: String,
    },
    /// The bounds, or a bound and the unit, measure different things.
    #[error("one side of this limit is {one} and the other {other}")]
    Mixed {
        /// What one side measures.
        one: &'static str,
        /// What the other side measures.
        other: &'static str,
    },
}

impl Limit {
    /// Joins the bounds to a limit that is shown in `unit`.
    ///
    /// # Errors
    /// No bound, bounds that nothing can meet, or sides of different dimension.
    pub fn new(
        at_least: Option<Quantity>,
        at_most: Option<Quantity>,
        unit: Unit,
    ) -> Result<Self, LimitFault> {
        let mixed = at_least.iter().chain(&at_most).find(|q| q.dimension != unit.dimension());
        if let Some(bound) = mixed {
            return Err(LimitFault::Mixed {
                one: unit.dimension().noun(),
                other: bound.dimension.noun(),
            });
        }
        match (&at_least, &at_most) {
            (None, None) => Err(LimitFault::NoBound),
            (Some(least), Some(most)) if least.si > most.si => Err(LimitFault::Reversed {
                at_least: least.render(unit),
                at_most: most.render(unit),
            }),
            _ => Ok(Self { at_least, at_most, unit }),
        }
    }

    /// Where `value` lies; `None` where it measures something else than the limit does.
    pub fn judge(&self, value: &Quantity) -> Option<Side> {
        if let Some(least) = &self.at_least
            && value.compare(least)? == Ordering::Less
        {
            return Some(Side::Below);
        }
        if let Some(most) = &self.at_most
            && value.compare(most)? == Ordering::Greater
        {
            return Some(Side::Above);
        }
        Some(Side::Within)
    }

    /// The limit in words: `at least 44.6 mm`, `44.6 mm to 45.4 mm`.
    pub fn render(&self) -> String {
        let shown = |q: &Quantity| q.render(self.unit);
        match (&self.at_least, &self.at_most) {
            (Some(least), Some(most)) if least == most => format!("exactly {}", shown(least)),
            (Some(least), Some(most)) => format!("{} to {}", shown(least), shown(most)),
            (Some(least), None) => format!("at least {}", shown(least)),
            (None, Some(most)) => format!("at most {}", shown(most)),
            (None, None) => "no limit".to_owned(),
        }
    }

    /// The verdict on `reading` in words: `43.9 mm is below 44.6 mm`.
    ///
    /// The two sides are shown with as many places as it takes to tell them apart.
    pub fn explain(&self, reading: &Reading) -> String {
        let against = |bound: &Option<Quantity>| {
            let shown = bound.as_ref().map_or_else(String::new, |q| q.render(self.unit));
            (self.beside(reading, bound.as_ref()), shown)
        };
        match self.judge(&reading.value) {
            None => format!(
                "{} is {}, and the limit is {}",
                reading.spoken(),
                reading.value.dimension.noun(),
                self.unit.dimension().noun()
            ),
            Some(Side::Below) => {
                let (value, bound) = against(&self.at_least);
                format!("{value} is below {bound}")
            }
            Some(Side::Above) => {
                let (value, bound) = against(&self.at_most);
                format!("{value} is above {bound}")
            }
            Some(Side::Within) => {
                let value = self.beside(reading, None);
                match (&self.at_least, &self.at_most) {
                    (Some(_), Some(_)) => format!("{value} is within {}", self.render()),
                    _ => format!("{value} is {}", self.render()),
                }
            }
        }
    }

    /// The reading as typed and, where it was typed in another unit, in the unit of the limit.
    fn beside(&self, reading: &Reading, bound: Option<&Quantity>) -> String {
        if reading.unit == self.unit {
            return reading.spoken();
        }
        let value = &reading.value;
        let converted = if value.is_decimal_in(self.unit) {
            value.render(self.unit)
        } else {
            // Four places suit a shop; more are taken while rounding would hide the difference.
            let told_apart = (4..=40).find_map(|places| {
                let text = value.render_rounded(self.unit, places);
                let rounded = Quantity::parse_literal(&text).ok()?.0;
                let same = bound.is_none_or(|b| rounded.compare(b) == value.compare(b));
                same.then(|| format!("about {text}"))
            });
            told_apart.unwrap_or_else(|| value.render(self.unit))
        };
        format!("{} ({converted})", reading.spoken())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(at_least: Option<&str>, at_most: Option<&str>) -> Limit {
        let read = |text: &str| Quantity::parse_literal(text).unwrap();
        let unit = at_least.or(at_most).map(|text| read(text).1).unwrap();
        Limit::new(at_least.map(|t| read(t).0), at_most.map(|t| read(t).0), unit).unwrap()
    }

    fn reading(text: &str) -> Reading {
        Reading::parse(text, Unit::Millimetre).unwrap()
    }

    #[test]
    fn a_value_at_a_bound_passes() {
        let limit = limit(Some("44.6 mm"), Some("45.4 mm"));
        let side = |text| limit.judge(&reading(text).value).unwrap();
        assert_eq!(side("44.6"), Side::Within);
        assert_eq!(side("45.40"), Side::Within);
        assert_eq!(side("44.599999999999999999"), Side::Below);
        assert_eq!(side("45.400000000000000001"), Side::Above);
        assert_eq!(limit.judge(&Quantity::whole(45)), None);
    }

    #[test]
    fn readings_near_a_limit_are_judged_as_typed_and_not_as_rounded() {
        let most = limit(None, Some("2.03 mm"));
        let verdicts = ["2.0349", "2.035", "2.03", "2.030"].map(|t| most.judge(&reading(t).value));
        assert_eq!(
            verdicts,
            [Some(Side::Above), Some(Side::Above), Some(Side::Within), Some(Side::Within)]
        );
        assert_eq!(limit(Some("2.03 mm"), None).judge(&reading("2.025").value), Some(Side::Below));
    }

    #[test]
    fn limits_and_verdicts_in_words() {
        let least = limit(Some("44.6 mm"), None);
        assert_eq!(least.render(), "at least 44.6 mm");
        assert_eq!(limit(None, Some("0.05 mm")).render(), "at most 0.05 mm");
        let both = limit(Some("44.6 mm"), Some("45.4 mm"));
        assert_eq!(both.render(), "44.6 mm to 45.4 mm");
        assert_eq!(limit(Some("1 mm"), Some("1 mm")).render(), "exactly 1 mm");
        assert_eq!(least.explain(&reading("43.90")), "43.90 mm is below 44.6 mm");
        assert_eq!(both.explain(&reading("45.41")), "45.41 mm is above 45.4 mm");
        assert_eq!(both.explain(&reading("45")), "45 mm is within 44.6 mm to 45.4 mm");
        assert_eq!(least.explain(&reading("45")), "45 mm is at least 44.6 mm");
        assert_eq!(least.explain(&reading("1.5 in")), "1.5 in (38.1 mm) is below 44.6 mm");
    }

    #[test]
    fn an_explanation_never_shows_two_equal_sides_of_a_failure() {
        // 127/15 mm is 8.4666…, and the bound is its rounding to six places.
        let most = limit(None, Some("8.466666 mm"));
        assert_eq!(
            most.explain(&reading("1/3 in")),
            "1/3 in (about 8.4667 mm) is above 8.466666 mm"
        );
        let least = limit(Some("8.4667 mm"), None);
        assert_eq!(
            least.explain(&reading("1/3 in")),
            "1/3 in (about 8.46667 mm) is below 8.4667 mm"
        );
    }

    #[test]
    fn bounds_that_are_no_limit_are_refused() {
        let mm = |text: &str| Quantity::parse_literal(text).unwrap().0;
        assert_eq!(Limit::new(None, None, Unit::Millimetre), Err(LimitFault::NoBound));
        assert_eq!(
            Limit::new(Some(mm("2 mm")), Some(mm("1 mm")), Unit::Millimetre)
                .unwrap_err()
                .to_string(),
            "nothing can meet this limit: 2 mm is above 1 mm"
        );
        assert_eq!(
            Limit::new(Some(mm("2")), Some(mm("3 mm")), Unit::Millimetre).unwrap_err().to_string(),
            "one side of this limit is a length and the other a plain number"
        );
    }
}
