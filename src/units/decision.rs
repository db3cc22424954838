//! What a reading with an uncertainty proves about its limit, by a declared rule.
//!
//! Guard bands are exact, so that a reading on a drawn-in bound never hangs on rounding: it is
//! taken. A reading exactly a guard band outside its limit is not proven either way. Only the rule
//! by probability rests on floating point; see `risk`.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Signed as _, ToPrimitive as _};

use super::{Compare, Limit, Quantity, Reading, Side, Uncertainty, risk};

/// How wide the band along a bound is in which a reading does not count as proven.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Guard {
    /// So many times the expanded uncertainty.
    Expanded(Ratio<BigInt>),
    /// So many times the standard uncertainty, whatever the coverage factor of the certificate.
    Standard(Ratio<BigInt>),
}

impl Guard {
    /// Once the expanded uncertainty.
    pub fn full() -> Self {
        Self::Expanded(Ratio::one())
    }

    /// 1.645 standard uncertainties: on a drawn-in bound one reading in twenty is wrongly taken.
    pub fn ninety_five() -> Self {
        Self::Standard(Ratio::new(1645.into(), 1000.into()))
    }

    /// The width of the band.
    pub fn width(&self, uncertainty: &Uncertainty) -> Quantity {
        let (times, of) = match self {
            Self::Expanded(times) => (times, uncertainty.expanded().clone()),
            Self::Standard(times) => (times, uncertainty.standard()),
        };
        Quantity { si: of.si * times, dimension: of.dimension }
    }

    fn times(&self) -> &Ratio<BigInt> {
        match self {
            Self::Expanded(times) | Self::Standard(times) => times,
        }
    }
}

/// What it takes to accept a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DecisionRule {
    /// The reading lies within its limit; the uncertainty plays no part.
    Simple,
    /// The reading lies within the limit drawn in by a guard band; any other is rejected.
    Guarded(Guard),
    /// As [`DecisionRule::Guarded`], but rejected only when it lies a guard band outside; between,
    /// neither is proven.
    Proven(Guard),
    /// The truth lies within the limit with at least this probability, as a plain number.
    Probability(Ratio<BigInt>),
}

/// What a rule says of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Decision {
    /// Accepted.
    Within,
    /// Rejected for its lower bound. Under a guard band it may still lie within the limit itself.
    Below,
    /// Rejected for its upper bound, likewise.
    Above,
    /// Neither accepted nor rejected.
    NotProven,
}

/// Why there is no decision.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecisionFault {
    /// A rule that needs the uncertainty, without it.
    #[error(
        "the rule `{0}` needs the uncertainty of the instrument, and it is not known; take an instrument with a certificate"
    )]
    NoUncertainty(&'static str),
    /// Two of limit, reading and uncertainty that measure different things.
    #[error("the limit is {limit} and the {what} {is}")]
    Mixed {
        /// What the limit measures.
        limit: &'static str,
        /// Which of the others does not fit.
        what: &'static str,
        /// What that measures.
        is: &'static str,
    },
    /// A rounded reading held against a guard band.
    #[error("the rule `{0}` weighs the reading as it was read; let the limit compare `absolute`")]
    Rounded(&'static str),
    /// A guard band below zero.
    #[error("a guard band is not negative")]
    NegativeGuard,
    /// A probability of 0 or less, or of 1 or more.
    #[error("a probability lies between 0 % and 100 %")]
    Probability,
}

impl DecisionRule {
    /// The word in files and records.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Simple => "simple",
            Self::Guarded(_) => "guarded",
            Self::Proven(_) => "proven",
            Self::Probability(_) => "probability",
        }
    }

    /// Whether the rule can be used with `limit`: all that can be told before there is a reading.
    ///
    /// # Errors
    /// A guard band below zero, a probability that is none, a limit that rounds its readings.
    pub fn check(&self, limit: &Limit) -> Result<(), DecisionFault> {
        match self {
            Self::Simple => return Ok(()),
            Self::Guarded(guard) | Self::Proven(guard) if guard.times().is_negative() => {
                return Err(DecisionFault::NegativeGuard);
            }
            Self::Probability(share) if !share.is_positive() || *share >= Ratio::one() => {
                return Err(DecisionFault::Probability);
            }
            Self::Guarded(_) | Self::Proven(_) | Self::Probability(_) => {}
        }
        match limit.compare {
            Compare::Absolute => Ok(()),
            Compare::Rounded { .. } => Err(DecisionFault::Rounded(self.word())),
        }
    }

    /// What the rule says of `value`.
    ///
    /// # Errors
    /// What [`DecisionRule::check`] refuses, an uncertainty that is missing, other dimensions.
    pub fn decide(
        &self,
        limit: &Limit,
        value: &Quantity,
        uncertainty: Option<&Uncertainty>,
    ) -> Result<Decision, DecisionFault> {
        self.check(limit)?;
        let side = limit.judge(value).ok_or_else(|| mixed(limit, "reading", value))?;
        if *self == Self::Simple {
            return Ok(match side {
                Side::Within => Decision::Within,
                Side::Below => Decision::Below,
                Side::Above => Decision::Above,
            });
        }
        let uncertainty = self.uncertainty(limit, uncertainty)?;
        let accepted = match self {
            Self::Simple => side == Side::Within,
            Self::Guarded(guard) => margin(limit, value) >= Some(guard.width(uncertainty).si),
            Self::Proven(guard) => {
                let (margin, width) = (margin(limit, value), guard.width(uncertainty).si);
                // A band of no width leaves nothing open: a margin below zero is then outside.
                if margin < Some(width.clone()) && margin >= Some(-&width) {
                    return Ok(Decision::NotProven);
                }
                margin >= Some(width)
            }
            Self::Probability(share) => {
                let probability = risk::conformance_probability(limit, value, uncertainty);
                probability.zip(share.to_f64()).is_some_and(|(is, share)| is >= share)
            }
        };
        Ok(if accepted { Decision::Within } else { rejected(limit, value) })
    }

    fn uncertainty<'a>(
        &self,
        limit: &Limit,
        uncertainty: Option<&'a Uncertainty>,
    ) -> Result<&'a Uncertainty, DecisionFault> {
        let known = uncertainty.ok_or(DecisionFault::NoUncertainty(self.word()))?;
        if known.is_of(limit.unit.dimension()) {
            Ok(known)
        } else {
            Err(mixed(limit, "uncertainty", known.expanded()))
        }
    }

    /// The least and the greatest reading that are accepted, by a rule that draws a limit in; the
    /// limit's own bounds for any other. Where the least is above the greatest, no reading is ever
    /// accepted: the instrument is not good enough for the limit.
    pub fn zone(
        &self,
        limit: &Limit,
        uncertainty: &Uncertainty,
    ) -> (Option<Quantity>, Option<Quantity>) {
        let (Self::Guarded(guard) | Self::Proven(guard)) = self else {
            return (limit.at_least.clone(), limit.at_most.clone());
        };
        let width = guard.width(uncertainty);
        let least = limit.at_least.as_ref().and_then(|least| least.plus(&width));
        (least, limit.at_most.as_ref().and_then(|most| most.minus(&width)))
    }

    /// The rule in words, to be printed with each verdict: `guarded, limits drawn in by 4 N·m
    /// (U = 4 N·m, k = 2)`.
    pub fn words(&self, limit: &Limit, uncertainty: &Uncertainty) -> String {
        let shown = |q: &Quantity| q.render_near(limit.unit.step());
        let stated = || {
            let k = Quantity::new(uncertainty.k().clone(), super::Unit::One);
            format!("(U = {}, k = {})", shown(uncertainty.expanded()), k.render(super::Unit::One))
        };
        match self {
            Self::Simple => "simple: the reading is compared with the limit as it is".to_owned(),
            Self::Guarded(guard) => {
                format!(
                    "guarded, limits drawn in by {} {}",
                    shown(&guard.width(uncertainty)),
                    stated()
                )
            }
            Self::Proven(guard) => format!(
                "proven, by {} inside or outside the limits {}",
                shown(&guard.width(uncertainty)),
                stated()
            ),
            Self::Probability(share) => {
                let share = Quantity::new(share.clone(), super::Unit::One);
                format!(
                    "probability, at least {} within the limits {}",
                    share.render(super::Unit::Percent),
                    stated()
                )
            }
        }
    }

    /// What the rule says of `reading`, in words: `205 N·m is within 192 N·m to 208 N·m, but closer
    /// to 208 N·m than 4 N·m: not proven`.
    ///
    /// # Errors
    /// As [`DecisionRule::decide`].
    pub fn explain(
        &self,
        limit: &Limit,
        reading: &Reading,
        uncertainty: Option<&Uncertainty>,
    ) -> Result<String, DecisionFault> {
        let decision = self.decide(limit, &reading.value, uncertainty)?;
        let against = limit.explain(reading);
        let is_within = limit.judge(&reading.value) == Some(Side::Within);
        Ok(match self {
            Self::Simple => against,
            Self::Guarded(guard) | Self::Proven(guard) => {
                let width = guard.width(self.uncertainty(limit, uncertainty)?);
                let width = width.render_near(limit.unit.step());
                match (decision, is_within) {
                    (Decision::Within, _) => format!("{against}, by {width} or more"),
                    (Decision::NotProven, true) => {
                        format!("{against}, but by less than {width}: not proven")
                    }
                    (Decision::NotProven, false) => {
                        format!("{against}, but by no more than {width}: not proven")
                    }
                    (Decision::Below | Decision::Above, true) => {
                        format!("{against}, but by less than {width}: rejected")
                    }
                    (Decision::Below | Decision::Above, false) => against,
                }
            }
            Self::Probability(share) => {
                let uncertainty = self.uncertainty(limit, uncertainty)?;
                let is = risk::conformance_probability(limit, &reading.value, uncertainty);
                let is = is.unwrap_or_default() * 100.0;
                let share = Quantity::new(share.clone(), super::Unit::One);
                let share = share.render(super::Unit::Percent);
                let end = if decision == Decision::Within { "enough" } else { "too little" };
                format!("{against}; it conforms with a probability of {is:.2} %, {end} for {share}")
            }
        })
    }
}

fn mixed(limit: &Limit, what: &'static str, other: &Quantity) -> DecisionFault {
    let (limit, is) = (limit.unit.dimension().noun(), other.dimension.noun());
    DecisionFault::Mixed { limit, what, is }
}

/// How far `value` lies inside the nearer bound, negative outside.
fn margin(limit: &Limit, value: &Quantity) -> Option<Ratio<BigInt>> {
    limit.margin(value)
}

/// For which bound a reading is rejected: the one that it lies beyond, or else the nearer.
fn rejected(limit: &Limit, value: &Quantity) -> Decision {
    let below = limit.at_least.as_ref().map(|least| &value.si - &least.si);
    let above = limit.at_most.as_ref().map(|most| &most.si - &value.si);
    match (below, above) {
        (None, _) => Decision::Above,
        (_, None) => Decision::Below,
        (Some(below), Some(above)) => match below.cmp(&above) {
            Ordering::Less | Ordering::Equal => Decision::Below,
            Ordering::Greater => Decision::Above,
        },
    }
}

#[cfg(test)]
#[path = "decision_tests.rs"]
mod tests;
