//! Several readings of one thing, and the declared rule that makes one value of them.
//!
//! The rule stands in the procedure, before anyone has read anything. It is a function of all the
//! readings and drops none of them; keeping them, and a reason for one too many, is left to `walk`.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::Zero as _;

use super::{Limit, Quantity};

/// The most readings of one thing.
pub const REPEATS_MAX: usize = 100;

/// Which value counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RepeatRule {
    /// The first reading; the others are for comparison.
    First,
    /// Their mean, exactly.
    Mean,
    /// The middle one in order of size; of an even number the mean of the middle two.
    Median,
    /// The one that is farthest outside its limit, or nearest to a bound from within.
    Worst,
}

/// The value that counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// The value.
    pub value: Quantity,
    /// Which reading it is, counted from 0; `None` where it was worked out of several.
    pub reading: Option<usize>,
}

/// Why readings give no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RepeatFault {
    /// There is none.
    #[error("there is no reading yet")]
    None,
    /// More than [`REPEATS_MAX`].
    #[error("at most {REPEATS_MAX} readings are taken of one thing")]
    TooMany,
    /// Readings, or readings and limit, that measure different things.
    #[error("one reading is {one} and another, or the limit, {other}")]
    Mixed {
        /// What the first measures.
        one: &'static str,
        /// What another measures.
        other: &'static str,
    },
    /// The worst reading is one against a limit.
    #[error("the worst reading is told by a limit, and there is none")]
    NoLimit,
}

impl RepeatRule {
    const ALL: [Self; 4] = [Self::First, Self::Mean, Self::Median, Self::Worst];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::Mean => "mean",
            Self::Median => "median",
            Self::Worst => "worst",
        }
    }

    /// Reads the word in files.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|rule| rule.word() == word)
    }

    /// The value that counts, of readings in the order in which they were taken. Only
    /// [`RepeatRule::Worst`] looks at the limit.
    ///
    /// # Errors
    /// No reading, too many, other dimensions, or no limit to be worst against.
    pub fn settle(
        self,
        readings: &[Quantity],
        limit: Option<&Limit>,
    ) -> Result<Settled, RepeatFault> {
        let first = readings.first().ok_or(RepeatFault::None)?;
        if readings.len() > REPEATS_MAX {
            return Err(RepeatFault::TooMany);
        }
        let of_limit = limit.map(|limit| limit.unit.dimension());
        let mut dimensions = readings.iter().map(|q| q.dimension).chain(of_limit);
        if let Some(other) = dimensions.find(|other| *other != first.dimension) {
            return Err(RepeatFault::Mixed { one: first.dimension.noun(), other: other.noun() });
        }
        let one = |at: usize| {
            let value = readings.get(at).unwrap_or(first).clone();
            Settled { value, reading: Some(at) }
        };
        Ok(match self {
            Self::First => one(0),
            Self::Mean => mean(first, readings.iter()),
            Self::Median => {
                let mut order: Vec<usize> = (0..readings.len()).collect();
                order.sort_by_key(|at| readings.get(*at).map(|q| &q.si));
                let (below, above) = ((order.len() - 1) / 2, order.len() / 2);
                if below == above {
                    one(order.get(below).copied().unwrap_or(0))
                } else {
                    let middle = order.get(below..=above).unwrap_or(&order);
                    mean(first, middle.iter().filter_map(|at| readings.get(*at)))
                }
            }
            Self::Worst => {
                let limit = limit.ok_or(RepeatFault::NoLimit)?;
                let margins = readings.iter().map(|q| limit.margin(q)).enumerate();
                // Of equally bad ones the first.
                let worst = margins.min_by(|(_, one), (_, other)| {
                    one.partial_cmp(other).unwrap_or(Ordering::Equal)
                });
                one(worst.map_or(0, |(at, _)| at))
            }
        })
    }
}

fn mean<'a>(first: &Quantity, readings: impl Iterator<Item = &'a Quantity>) -> Settled {
    let (sum, n) = readings
        .fold((Ratio::<BigInt>::zero(), 0_usize), |(sum, n), reading| (sum + &reading.si, n + 1));
    let si = sum / BigInt::from(n.max(1));
    Settled { value: Quantity { si, dimension: first.dimension }, reading: None }
}

/// How many readings are taken, and the rule over them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeats {
    /// How many the procedure asks for; at least one.
    pub count: usize,
    /// Which value counts.
    pub rule: RepeatRule,
}

impl Repeats {
    /// How many are still to be taken before anything counts.
    pub fn n_due(self, n_taken: usize) -> usize {
        self.count.saturating_sub(n_taken)
    }

    /// True for a reading beyond those asked for: it counts by the same rule, and needs a reason.
    pub fn needs_reason(self, n_taken: usize) -> bool {
        n_taken >= self.count
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    fn read(texts: &[&str]) -> Vec<Quantity> {
        texts.iter().map(|text| Quantity::parse_literal(text).unwrap().0).collect()
    }

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        let read = |text: &str| Quantity::parse_literal(text).unwrap().0;
        Limit::new(least.map(read), most.map(read), Unit::Millimetre).unwrap()
    }

    #[test]
    fn each_rule_gives_its_value() {
        let readings = read(&["44.9 mm", "44.7 mm", "45.2 mm"]);
        let between = limit(Some("44.6 mm"), Some("45.4 mm"));
        let settled = |rule: RepeatRule| {
            let settled = rule.settle(&readings, Some(&between)).unwrap();
            (settled.value.render(Unit::Millimetre), settled.reading)
        };
        assert_eq!(settled(RepeatRule::First), ("44.9 mm".to_owned(), Some(0)));
        assert_eq!(settled(RepeatRule::Mean), ("674/15 mm".to_owned(), None));
        assert_eq!(settled(RepeatRule::Median), ("44.9 mm".to_owned(), Some(0)));
        assert_eq!(settled(RepeatRule::Worst), ("44.7 mm".to_owned(), Some(1)));
    }

    #[test]
    fn the_median_of_an_even_number_is_between_the_middle_two() {
        let readings = read(&["4 mm", "1 mm", "2 mm", "9 mm"]);
        let settled = RepeatRule::Median.settle(&readings, None).unwrap();
        assert_eq!(
            (settled.value.render(Unit::Millimetre), settled.reading),
            ("3 mm".into(), None)
        );
    }

    #[test]
    fn the_mean_of_temperatures_is_one_on_the_scale() {
        let settled = RepeatRule::Mean.settle(&read(&["20 °C", "86 °F"]), None).unwrap();
        assert_eq!(settled.value.render(Unit::Celsius), "25 °C");
    }

    #[test]
    fn the_worst_is_that_farthest_out_and_else_that_nearest_a_bound() {
        let worst = |limit: &Limit, texts: &[&str]| {
            RepeatRule::Worst.settle(&read(texts), Some(limit)).unwrap().reading
        };
        let between = limit(Some("1 mm"), Some("2 mm"));
        assert_eq!(worst(&between, &["0.9 mm", "2.2 mm", "1.5 mm"]), Some(1));
        assert_eq!(worst(&between, &["1.5 mm", "1.1 mm", "1.9 mm"]), Some(1));
        assert_eq!(worst(&limit(Some("1 mm"), None), &["9 mm", "1 mm", "0.5 mm"]), Some(2));
        assert_eq!(worst(&limit(None, Some("1 mm")), &["0.9 mm", "-5 mm"]), Some(0));
    }

    #[test]
    fn readings_that_cannot_be_taken_together_are_refused() {
        let fault = |rule: RepeatRule, texts: &[&str], limit: Option<&Limit>| {
            rule.settle(&read(texts), limit).unwrap_err().to_string()
        };
        assert_eq!(fault(RepeatRule::Mean, &[], None), "there is no reading yet");
        assert_eq!(
            fault(RepeatRule::First, &["1 mm", "1"], None),
            "one reading is a length and another, or the limit, a plain number"
        );
        assert_eq!(
            fault(RepeatRule::Worst, &["1 mm"], None),
            "the worst reading is told by a limit, and there is none"
        );
        let many = vec!["1 mm"; REPEATS_MAX + 1];
        assert_eq!(RepeatRule::Mean.settle(&read(&many), None), Err(RepeatFault::TooMany));
    }

    #[test]
    fn me5_a_reading_beyond_those_asked_for_needs_a_reason() {
        let repeats = Repeats { count: 3, rule: RepeatRule::parse("median").unwrap() };
        assert_eq!([0, 2, 3, 4].map(|n| repeats.n_due(n)), [3, 1, 0, 0]);
        assert_eq!([2, 3, 4].map(|n| repeats.needs_reason(n)), [false, true, true]);
        for rule in RepeatRule::ALL {
            assert_eq!(RepeatRule::parse(rule.word()), Some(rule));
        }
        assert_eq!(RepeatRule::parse("best"), None);
    }
}
