//! Limits on quantities; bounds are inclusive.
//!
//! A verdict compares exact values, unless the limit says that readings are rounded first. What a
//! limit with an uncertain reading means is told by `decision`; what a limit means for a step is the business of `walk`.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;

use super::quantity::ten_to;
use super::{Compare, Dimension, Quantity, Reading, Unit};

/// A limit: at least one bound, both of one dimension, `at_least <= at_most`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// The least value that passes; that value itself passes.
    pub at_least: Option<Quantity>,
    /// The greatest value that passes; that value itself passes.
    pub at_most: Option<Quantity>,
    /// The unit that the limit was written in, for showing it.
    pub unit: Unit,
    /// How a reading is held against the bounds.
    pub compare: Compare,
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
    /// Two bounds that state different numbers of places.
    #[error(
        "`{one}` and `{other}` have different numbers of decimals; write both with as many as a reading is rounded to"
    )]
    PlacesDiffer {
        /// One figure as written.
        one: String,
        /// The other.
        other: String,
    },
    /// A bound between two rounded figures.
    #[error(
        "{bound} has more decimals than readings are rounded to, which is {places}; state as many"
    )]
    FinerThanRounded {
        /// The bound, as shown.
        bound: String,
        /// What readings are rounded to.
        places: u8,
    },
    /// A tolerance below zero.
    #[error("a tolerance says how far a reading may lie off, and is not negative")]
    NegativeTolerance,
    /// A tolerance that is no difference of what the nominal figure measures.
    #[error("a tolerance of {nominal} cannot be {is}; write it in `{}` or another unit of {}", .wanted.usual().word(), .wanted.noun())]
    NotATolerance {
        /// What the tolerance measures.
        is: &'static str,
        /// What the nominal figure measures.
        nominal: &'static str,
        /// What a tolerance of it must measure.
        wanted: Dimension,
    },
    /// Percent of a temperature.
    #[error(
        "a share of a temperature means nothing, as its scale has a zero of its own; write the tolerance in `ΔK`"
    )]
    PercentOfTemperature,
    /// Percent of a figure that is in percent.
    #[error(
        "percent of a percentage can be read in two ways; write the least and the greatest with `between`"
    )]
    PercentOfPercent,
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
            _ => Ok(Self { at_least, at_most, unit, compare: Compare::Absolute }),
        }
    }

    /// The same bounds, with readings compared so.
    ///
    /// # Errors
    /// A bound that lies between two rounded figures: no reading could equal it.
    pub fn with_compare(self, compare: Compare) -> Result<Self, LimitFault> {
        if let Compare::Rounded { places, .. } = compare {
            let scale = ten_to(usize::from(places));
            let finer = |bound: &&Quantity| !(bound.in_unit(self.unit) * &scale).is_integer();
            if let Some(bound) = self.at_least.iter().chain(&self.at_most).find(finer) {
                return Err(LimitFault::FinerThanRounded {
                    bound: bound.render(self.unit),
                    places,
                });
            }
        }
        Ok(Self { compare, ..self })
    }

    /// True where every reading that `other` takes is taken by this one too, both comparing alike.
    pub fn covers(&self, other: &Self) -> bool {
        let alike = self.compare == other.compare
            && (self.compare == Compare::Absolute || self.unit == other.unit)
            && self.unit.dimension() == other.unit.dimension();
        let below = match (&self.at_least, &other.at_least) {
            (None, _) => true,
            (Some(_), None) => false,
            (Some(own), Some(other)) => own.si <= other.si,
        };
        let above = match (&self.at_most, &other.at_most) {
            (None, _) => true,
            (Some(_), None) => false,
            (Some(own), Some(other)) => own.si >= other.si,
        };
        alike && below && above
    }

    /// What is held against the bounds: the value, rounded where the limit says so. A record keeps
    /// both.
    #[must_use]
    pub fn compared(&self, value: &Quantity) -> Quantity {
        self.compare.apply(value, self.unit)
    }

    /// Where `value` lies; `None` where it measures something else than the limit does.
    pub fn judge(&self, value: &Quantity) -> Option<Side> {
        let value = self.compared(value);
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

    /// How far `value` as compared lies inside the nearer bound, in SI units; negative outside.
    /// `None` where it measures something else.
    pub(super) fn margin(&self, value: &Quantity) -> Option<Ratio<BigInt>> {
        if value.dimension != self.unit.dimension() {
            return None;
        }
        let value = self.compared(value);
        let below = self.at_least.as_ref().map(|least| &value.si - &least.si);
        let above = self.at_most.as_ref().map(|most| &most.si - &value.si);
        below.into_iter().chain(above).min()
    }

    /// How far apart the bounds are, as a difference; `None` for a limit with one bound.
    pub fn width(&self) -> Option<Quantity> {
        let (least, most) = self.at_least.as_ref().zip(self.at_most.as_ref())?;
        let dimension = self.unit.dimension().step();
        Some(Quantity { si: &most.si - &least.si, dimension })
    }

    /// Where a right reading lies on both sides: the bounds, and the plausible range on a side that
    /// has none. `None` where a side stays open; slips are looked for only between two ends.
    pub fn expected<'a>(
        &'a self,
        plausible: Option<&'a (Quantity, Quantity)>,
    ) -> Option<(&'a Quantity, &'a Quantity)> {
        let least = self.at_least.as_ref().or(plausible.map(|(from, _)| from))?;
        let most = self.at_most.as_ref().or(plausible.map(|(_, to)| to))?;
        Some((least, most))
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
    /// The two sides are shown with as many places as it takes to tell them apart. Where readings
    /// are rounded, both the reading and what it is rounded to are shown.
    pub fn explain(&self, reading: &Reading) -> String {
        let against = |bound: &Option<Quantity>| {
            let shown = bound.as_ref().map_or_else(String::new, |q| q.render(self.unit));
            (self.as_compared(reading, bound.as_ref()), shown)
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
                let value = self.as_compared(reading, None);
                match (&self.at_least, &self.at_most) {
                    (Some(_), Some(_)) => format!("{value} is within {}", self.render()),
                    _ => format!("{value} is {}", self.render()),
                }
            }
        }
    }

    /// The reading as it is held against `bound`.
    fn as_compared(&self, reading: &Reading, bound: Option<&Quantity>) -> String {
        match self.compare {
            Compare::Absolute => self.beside(reading, bound),
            Compare::Rounded { places, ties } => {
                let rounded = self.compared(&reading.value);
                let rounded = rounded.render_rounded(self.unit, usize::from(places));
                format!("{}, {} to {rounded},", self.beside(reading, None), ties.word())
            }
        }
    }

    /// The reading as typed and, where that is in another unit or no decimal, as the limit shows it.
    fn beside(&self, reading: &Reading, bound: Option<&Quantity>) -> String {
        let value = &reading.value;
        let is_decimal = value.is_decimal_in(self.unit);
        if reading.unit == self.unit && (is_decimal || !self.unit.is_metric()) {
            return reading.spoken();
        }
        let converted = if is_decimal {
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

    /// Limit and readings of a question often asked about ASTM E29.
    #[test]
    fn o09_the_limit_says_whether_readings_are_rounded_and_how() {
        use crate::units::Ties::{HalfEven, HalfUp};
        let most = limit(None, Some("2.03 mm"));
        let least = limit(Some("2.03 mm"), None);
        let rounded = |limit: &Limit, ties| {
            limit.clone().with_compare(Compare::rounded_like(["2.03 mm"], ties).unwrap()).unwrap()
        };
        let side = |limit: &Limit, text| limit.judge(&reading(text).value).unwrap();
        for (text, absolute, even, up) in [
            ("2.0349", Side::Above, Side::Within, Side::Within),
            ("2.035", Side::Above, Side::Above, Side::Above),
            ("2.03", Side::Within, Side::Within, Side::Within),
            ("2.030", Side::Within, Side::Within, Side::Within),
        ] {
            assert_eq!(side(&most, text), absolute, "{text}");
            assert_eq!(side(&rounded(&most, HalfEven), text), even, "{text}");
            assert_eq!(side(&rounded(&most, HalfUp), text), up, "{text}");
        }
        assert_eq!(side(&least, "2.025"), Side::Below);
        assert_eq!(side(&rounded(&least, HalfEven), "2.025"), Side::Below);
        assert_eq!(side(&rounded(&least, HalfUp), "2.025"), Side::Within);

        // A failing line never shows two equal sides, and both figures stay.
        assert_eq!(most.explain(&reading("2.0349")), "2.0349 mm is above 2.03 mm");
        let (even, up) = (rounded(&least, HalfEven), rounded(&least, HalfUp));
        assert_eq!(
            even.explain(&reading("2.025")),
            "2.025 mm, half_even to 2.02 mm, is below 2.03 mm"
        );
        assert_eq!(
            up.explain(&reading("2.025")),
            "2.025 mm, half_up to 2.03 mm, is at least 2.03 mm"
        );
        assert_eq!(
            rounded(&most, HalfUp).explain(&reading("0.08 in")),
            "0.08 in (2.032 mm), half_up to 2.03 mm, is at most 2.03 mm"
        );
        assert_eq!(up.compared(&reading("2.025").value).render(Unit::Millimetre), "2.03 mm");
        assert_eq!(reading("2.030").text, "2.030");
    }

    #[test]
    fn a_bound_that_no_rounded_reading_can_equal_is_refused() {
        let to_one = Compare::Rounded { places: 1, ties: crate::units::Ties::HalfUp };
        let fault = limit(None, Some("2.03 mm")).with_compare(to_one).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "2.03 mm has more decimals than readings are rounded to, which is 1; state as many"
        );
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
