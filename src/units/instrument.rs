//! Whether an instrument is good enough for a limit, before anyone reads it.
//!
//! What a reading by it proves is told by `decision`; whether its calibration holds, and that it is
//! checked for zero, is left to others. Nothing here asks for a ratio of its own accord: how much
//! is enough is the shop's to say.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, Zero as _};

use super::{Dimension, Limit, Quantity, Side, Uncertainty, Unit};

/// What a certificate says of an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Capacity {
    /// The least and the greatest reading.
    pub range: (Quantity, Quantity),
    /// The smallest step that it shows, as a difference.
    pub resolution: Quantity,
    /// Its uncertainty.
    pub uncertainty: Uncertainty,
}

/// How much better than the limit an instrument must be.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Demand {
    /// The least capability index; see [`Capacity::capability`].
    pub capability: Option<Ratio<BigInt>>,
    /// The least number of the instrument's steps between the bounds.
    pub steps: Option<Ratio<BigInt>>,
}

/// Why an instrument does not suit a limit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unfit {
    /// It measures something else.
    #[error("it measures {is}, and the limit is {wanted}; take another kind of instrument")]
    Kind {
        /// What it measures.
        is: &'static str,
        /// What the limit measures.
        wanted: &'static str,
    },
    /// A bound that it cannot show.
    #[error("{bound} lies outside its range of {from} to {to}; take one that reaches it")]
    Range {
        /// The bound.
        bound: String,
        /// The least reading.
        from: String,
        /// The greatest reading.
        to: String,
    },
    /// Too few steps between the bounds.
    #[error(
        "its steps of {resolution} are too coarse for a tolerance of {tolerance}; take one with finer steps"
    )]
    Coarse {
        /// The step.
        resolution: String,
        /// The width of the limit.
        tolerance: String,
    },
    /// Too great an uncertainty.
    #[error(
        "its capability index is {index} for a tolerance of {tolerance}, and at least {wanted} is asked for; take one with a smaller uncertainty"
    )]
    Capability {
        /// The index.
        index: String,
        /// The width of the limit.
        tolerance: String,
        /// What is asked for.
        wanted: String,
    },
}

impl Capacity {
    /// The width of a limit over four standard uncertainties, as in JCGM 106: a limit of 16 N·m
    /// and an expanded uncertainty of 4 N·m with `k` = 2 give 2. `None` for a limit with one bound,
    /// without uncertainty, or where the two measure different things.
    pub fn capability(&self, limit: &Limit) -> Option<Ratio<BigInt>> {
        let standard = self.uncertainty.standard().si;
        let comparable = self.uncertainty.is_of(limit.unit.dimension()) && !standard.is_zero();
        let tolerance = limit.width()?;
        comparable.then(|| tolerance.si / (standard * BigInt::from(4)))
    }

    /// Whether a reading lies in the range; `None` where it measures something else.
    pub fn reach(&self, value: &Quantity) -> Option<Side> {
        let (from, to) = &self.range;
        Some(match (value.compare(from)?.is_lt(), value.compare(to)?.is_gt()) {
            (true, _) => Side::Below,
            (_, true) => Side::Above,
            (false, false) => Side::Within,
        })
    }

    /// All that speaks against measuring against `limit` with this instrument; empty where it suits.
    ///
    /// Without any demand it must still reach the bounds, and show a step between two of them.
    pub fn unfit(&self, limit: &Limit, demand: &Demand) -> Vec<Unfit> {
        let wanted = limit.unit.dimension();
        if self.range.0.dimension != wanted {
            let is = self.range.0.dimension.noun();
            return vec![Unfit::Kind { is, wanted: wanted.noun() }];
        }
        let mut found: Vec<Unfit> = Vec::new();
        for bound in limit.at_least.iter().chain(&limit.at_most) {
            if self.reach(bound) != Some(Side::Within) {
                found.push(Unfit::Range {
                    bound: bound.render_near(limit.unit),
                    from: self.range.0.render_near(limit.unit),
                    to: self.range.1.render_near(limit.unit),
                });
            }
        }
        let Some(tolerance) = limit.width() else { return found };
        let shown = |q: &Quantity| q.render_near(limit.unit.step());
        if self.is_coarse(&tolerance, wanted, demand) {
            let resolution =
                self.resolution.as_step_of(wanted).as_ref().map_or_else(String::new, shown);
            found.push(Unfit::Coarse { resolution, tolerance: shown(&tolerance) });
        }
        let number = |figure: &Ratio<BigInt>| {
            Quantity::new(figure.clone(), Unit::One).render_near(Unit::One)
        };
        if let (Some(least), Some(index)) = (&demand.capability, self.capability(limit))
            && index < *least
        {
            found.push(Unfit::Capability {
                index: number(&index),
                tolerance: shown(&tolerance),
                wanted: number(least),
            });
        }
        found
    }

    fn is_coarse(&self, tolerance: &Quantity, of: Dimension, demand: &Demand) -> bool {
        let Some(resolution) = self.resolution.as_step_of(of) else { return false };
        // A limit that only one figure meets is told by whether the figure is shown at all.
        if tolerance.si.is_zero() {
            return false;
        }
        let one = || Ratio::from_integer(BigInt::from(1));
        let steps = demand.steps.clone().unwrap_or_else(one).max(one());
        resolution.si.is_positive() && resolution.si * steps > tolerance.si
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Quantity {
        Quantity::parse_literal(text).unwrap().0
    }

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        let unit = least.or(most).map(|text| Quantity::parse_literal(text).unwrap().1).unwrap();
        Limit::new(least.map(read), most.map(read), unit).unwrap()
    }

    fn capacity(from: &str, to: &str, resolution: &str, expanded: &str) -> Capacity {
        Capacity {
            range: (read(from), read(to)),
            resolution: read(resolution),
            uncertainty: Uncertainty::parse_literal(expanded, "2").unwrap(),
        }
    }

    fn at_least(capability: i32, steps: i32) -> Demand {
        let whole = |n: i32| (n > 0).then(|| Ratio::from_integer(n.into()));
        Demand { capability: whole(capability), steps: whole(steps) }
    }

    fn said(capacity: &Capacity, limit: &Limit, demand: &Demand) -> Vec<String> {
        capacity.unfit(limit, demand).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn in2_the_index_is_the_width_over_four_standard_uncertainties() {
        let wrench = capacity("40 N·m", "220 N·m", "1 N·m", "4 N·m");
        let limit = limit(Some("192 N·m"), Some("208 N·m"));
        assert_eq!(wrench.capability(&limit), Some(Ratio::from_integer(2.into())));
        let none: [&str; 0] = [];
        assert_eq!(said(&wrench, &limit, &at_least(2, 0)), none);
        assert_eq!(
            said(&wrench, &limit, &at_least(3, 0)),
            ["its capability index is 2 for a tolerance of 16 N·m, and at least 3 is asked for; \
              take one with a smaller uncertainty"]
        );
    }

    #[test]
    fn an_instrument_must_reach_and_resolve_the_limit() {
        let none: [&str; 0] = [];
        let caliper = capacity("0 mm", "150 mm", "0.01 mm", "0.03 mm");
        assert_eq!(said(&caliper, &limit(Some("44.6 mm"), None), &at_least(3, 10)), none);
        assert_eq!(
            said(&caliper, &limit(None, Some("150.1 mm")), &Demand::default()),
            ["150.1 mm lies outside its range of 0 mm to 150 mm; take one that reaches it"]
        );
        let narrow = limit(Some("20.000 mm"), Some("20.005 mm"));
        let coarse = "its steps of 0.01 mm are too coarse for a tolerance of 0.005 mm; take one \
                      with finer steps";
        assert_eq!(said(&caliper, &narrow, &Demand::default()), [coarse]);
        assert_eq!(said(&caliper, &limit(Some("20 mm"), Some("20.05 mm")), &at_least(0, 5)), none);
        assert_eq!(
            said(&caliper, &limit(Some("20 mm"), Some("20.05 mm")), &at_least(0, 6)).len(),
            1
        );
        assert_eq!(
            said(&caliper, &limit(Some("1 bar gauge"), None), &Demand::default()),
            ["it measures a length, and the limit is a gauge pressure; take another kind of \
              instrument"]
        );
        assert_eq!(caliper.reach(&read("150 mm")), Some(Side::Within));
        assert_eq!(caliper.reach(&read("-1 mm")), Some(Side::Below));
        assert_eq!(caliper.reach(&read("1 N·m")), None);
    }

    #[test]
    fn a_gauge_and_a_thermometer_have_steps_that_are_differences() {
        let gauge = capacity("0 bar gauge", "16 bar gauge", "0.1 bar gauge", "0.1 bar gauge");
        let between = limit(Some("5 bar gauge"), Some("5.2 bar gauge"));
        assert_eq!(gauge.capability(&between), Some(Ratio::from_integer(1.into())));
        assert_eq!(said(&gauge, &between, &at_least(1, 2)).len(), 0);
        let thermometer = capacity("-20 °C", "120 °C", "1 ΔK", "0.5 ΔK");
        let warm = limit(Some("40 °C"), Some("40.5 °C"));
        assert_eq!(
            said(&thermometer, &warm, &at_least(1, 1)),
            [
                "its steps of 1 ΔK are too coarse for a tolerance of 0.5 ΔK; take one with finer \
                 steps",
                "its capability index is 0.5 for a tolerance of 0.5 ΔK, and at least 1 is asked \
                 for; take one with a smaller uncertainty"
            ]
        );
    }
}
