//! What a reading must keep to: a limit, the grades within it, and the rule that an uncertain
//! reading is decided by.
//!
//! Everything that judges a reading, shows where it would lie, or cuts readings into classes goes
//! through here.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Signed as _};

use super::quantity::ten_to;
use super::{
    Compare, Decision, DecisionFault, DecisionRule, Demand, Dimension, Grade, Graded, Grades,
    Limit, Quantity, Reading, Side, Uncertainty, Unit, risk,
};

/// What a reading must keep to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Criterion {
    /// The bounds that are kept to; with grades those of the last, which is the widest.
    pub limit: Limit,
    /// Names for how good an accepted reading is, closest first.
    pub grades: Option<Grades>,
    /// What it takes to accept a reading.
    pub rule: DecisionRule,
    /// How much better than the limit an instrument must be.
    pub demand: Demand,
    /// The temperatures of the part between which the limit holds; `None` where it holds at any.
    pub holds_at: Option<(Quantity, Quantity)>,
}

impl From<Limit> for Criterion {
    fn from(limit: Limit) -> Self {
        Self {
            limit,
            grades: None,
            rule: DecisionRule::Simple,
            demand: Demand::default(),
            holds_at: None,
        }
    }
}

impl Criterion {
    /// True where the rule cannot do without the uncertainty of the instrument.
    pub fn needs_uncertainty(&self) -> bool {
        self.rule != DecisionRule::Simple
    }

    /// What is said of `value`.
    ///
    /// # Errors
    /// As [`DecisionRule::decide`].
    pub fn decide(
        &self,
        value: &Quantity,
        uncertainty: Option<&Uncertainty>,
    ) -> Result<Decision, DecisionFault> {
        self.rule.decide(&self.limit, value, uncertainty)
    }

    /// Every decision that some uncertainty could lead to for `value`; exactly one where the
    /// uncertainty plays no part, none where it measures something else.
    pub fn possible(&self, value: &Quantity) -> Vec<Decision> {
        let Some(side) = self.limit.judge(value).map(Decision::from) else { return Vec::new() };
        let rejected = [
            self.limit.at_least.as_ref().map(|_| Decision::Below),
            self.limit.at_most.as_ref().map(|_| Decision::Above),
        ];
        match (&self.rule, side) {
            (DecisionRule::Guarded(_), Decision::Within) | (DecisionRule::Probability(_), _) => {
                [Decision::Within].into_iter().chain(rejected.into_iter().flatten()).collect()
            }
            (DecisionRule::Simple | DecisionRule::Guarded(_), _) => vec![side],
            (DecisionRule::Proven(_), _) => vec![side, Decision::NotProven],
        }
    }

    /// The first grade that `value` meets.
    pub fn grade(&self, value: &Quantity) -> Option<&Grade> {
        match self.grades.as_ref()?.judge(value)? {
            Graded::Met(grade) => Some(grade),
            Graded::Missed(_) => None,
        }
    }

    /// Every limit that a value is held against.
    fn limits(&self) -> impl Iterator<Item = &Limit> {
        let grades = self.grades.iter().flat_map(|grades| grades.iter().map(|grade| &grade.limit));
        std::iter::once(&self.limit).chain(grades)
    }

    /// The values at which what is said of a reading can change, in SI units: every bound, and
    /// where readings are rounded the figures that are rounded to it and from it.
    pub fn cuts(&self) -> Vec<Ratio<BigInt>> {
        let mut cuts = Vec::new();
        for limit in self.limits() {
            for bound in limit.at_least.iter().chain(&limit.at_most) {
                cuts.push(bound.si.clone());
                if let Compare::Rounded { places, .. } = limit.compare {
                    let half = Ratio::new(BigInt::one(), 2.into()) / ten_to(usize::from(places));
                    let in_unit = bound.in_unit(limit.unit);
                    cuts.push(Quantity::new(&in_unit - &half, limit.unit).si);
                    cuts.push(Quantity::new(&in_unit + &half, limit.unit).si);
                }
            }
        }
        cuts
    }

    /// The criterion in `unit` that this one, in shares, makes of `reference`: at least 97 % of
    /// 45 mm. `None` for a reference of zero or less, a point of temperature, or bounds that are
    /// no plain shares.
    pub fn of_reference(&self, reference: &Quantity, unit: Unit) -> Option<Self> {
        let is_scale = unit.dimension() != unit.dimension().step();
        let measured = reference.dimension == unit.dimension() && reference.si.is_positive();
        if !measured || is_scale || self.limit.unit.dimension() != Dimension::Number {
            return None;
        }
        let times = |share: &Quantity| Quantity {
            si: &share.si * &reference.si,
            dimension: reference.dimension,
        };
        let limit = &self.limit;
        let made =
            Limit::new(limit.at_least.as_ref().map(times), limit.at_most.as_ref().map(times), unit);
        Some(Self { limit: made.ok()?, grades: None, ..self.clone() })
    }

    /// The criterion in words: `at least 44.6 mm`, `new: at least 45 mm; worn: at least 44.6 mm`.
    pub fn render(&self) -> String {
        let bounds = match &self.grades {
            None => self.limit.render(),
            Some(grades) => {
                let each = grades.iter().map(|g| format!("{}: {}", g.name, g.limit.render()));
                each.collect::<Vec<_>>().join("; ")
            }
        };
        match self.holds_at_words() {
            Some(range) => format!("{bounds}, at {range}"),
            None => bounds,
        }
    }

    /// The temperatures at which the limit holds, in words: `18 °C to 22 °C`.
    pub fn holds_at_words(&self) -> Option<String> {
        let (from, to) = self.holds_at.as_ref()?;
        let shown = |point: &Quantity| point.render(point.dimension.usual());
        Some(format!("{} to {}", shown(from), shown(to)))
    }

    /// What is said of `reading`, in words.
    pub fn explain(&self, reading: &Reading, uncertainty: Option<&Uncertainty>) -> String {
        let said = self.rule.explain(&self.limit, reading, uncertainty);
        let said = said.unwrap_or_else(|_| self.limit.explain(reading));
        match self.grade(&reading.value) {
            Some(grade) => format!("{said} ({})", grade.name.replace('_', " ")),
            None => said,
        }
    }

    /// How likely the truth behind `value` keeps to the limit; `None` without an uncertainty of
    /// the same kind.
    pub fn conformance(&self, value: &Quantity, uncertainty: &Uncertainty) -> Option<f64> {
        risk::conformance_probability(&self.limit, value, uncertainty)
    }
}

impl From<Side> for Decision {
    fn from(side: Side) -> Self {
        match side {
            Side::Below => Self::Below,
            Side::Within => Self::Within,
            Side::Above => Self::Above,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Guard;

    fn read(text: &str) -> (Quantity, Unit) {
        Quantity::parse_literal(text).unwrap()
    }

    fn criterion(least: &str, most: Option<&str>, rule: DecisionRule) -> Criterion {
        let (least, unit) = read(least);
        let limit = Limit::new(Some(least), most.map(|most| read(most).0), unit).unwrap();
        Criterion { rule, ..Criterion::from(limit) }
    }

    #[test]
    fn every_decision_that_an_uncertainty_leads_to_is_among_the_possible_ones() {
        let rules = [
            DecisionRule::Simple,
            DecisionRule::Guarded(Guard::full()),
            DecisionRule::Proven(Guard::full()),
            DecisionRule::Probability(Ratio::new(3.into(), 10.into())),
        ];
        let mut n_seen = 0;
        for rule in rules {
            for most in [None, Some("208 N·m")] {
                let criterion = criterion("192 N·m", most, rule.clone());
                for tenths in 1850..2150 {
                    let value = read(&format!("{}.{} N·m", tenths / 10, tenths % 10)).0;
                    let possible = criterion.possible(&value);
                    for expanded in ["0 N·m", "0.1 N·m", "4 N·m", "1000 N·m"] {
                        let u = Uncertainty::parse_literal(expanded, "2").unwrap();
                        let is = criterion.decide(&value, Some(&u)).unwrap();
                        assert!(possible.contains(&is), "{is:?} of {value:?} by {rule:?}");
                        n_seen += 1;
                    }
                }
            }
        }
        assert_eq!(n_seen, 4 * 2 * 300 * 4);
    }

    #[test]
    fn a_share_of_another_reading_is_an_exact_limit() {
        let share = criterion("97 %", Some("103 %"), DecisionRule::Simple);
        let of = |text: &str| share.of_reference(&read(text).0, Unit::Millimetre);
        assert_eq!(of("45 mm").unwrap().render(), "43.65 mm to 46.35 mm");
        assert_eq!(of("0 mm"), None);
        assert_eq!(of("-45 mm"), None);
        assert_eq!(of("45 N·m"), None);
        assert_eq!(share.of_reference(&read("20 °C").0, Unit::Celsius), None);
        let figure = criterion("97 mm", None, DecisionRule::Simple);
        assert_eq!(figure.of_reference(&read("45 mm").0, Unit::Millimetre), None);
    }

    #[test]
    fn a_rounded_limit_is_cut_where_rounding_turns() {
        let mut criterion = criterion("2.03 mm", None, DecisionRule::Simple);
        let to_two = Compare::Rounded { places: 2, ties: crate::units::Ties::HalfUp };
        criterion.limit = criterion.limit.with_compare(to_two).unwrap();
        let shown: Vec<String> = criterion
            .cuts()
            .into_iter()
            .map(|si| Quantity { si, dimension: Dimension::Length }.render(Unit::Millimetre))
            .collect();
        assert_eq!(shown, ["2.03 mm", "2.025 mm", "2.035 mm"]);
    }
}
