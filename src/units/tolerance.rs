//! A limit as a nominal figure with how far a reading may lie off, absolute or in percent.
//!
//! Percent are resolved to exact bounds once, when the limit is made: nobody at the bench works
//! them out.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::Signed as _;

use super::limit::{Limit, LimitFault};
use super::{Dimension, EntryFault, Quantity, Unit};

/// How far a reading may lie off the nominal figure, to one side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tolerance {
    /// By this much.
    Absolute(Quantity),
    /// By this share of the nominal figure, as a plain number: 4 % is 0.04.
    Share(Ratio<BigInt>),
}

impl Tolerance {
    /// Reads a tolerance as authors write it: `0.2 mm`, `4 %`.
    ///
    /// # Errors
    /// What is no figure in a file.
    pub fn parse_literal(text: &str) -> Result<Self, EntryFault> {
        let (value, unit) = Quantity::parse_literal(text)?;
        Ok(if unit == Unit::Percent { Self::Share(value.si) } else { Self::Absolute(value) })
    }

    /// What may be added to or taken from `nominal`.
    fn resolve(&self, nominal: &Quantity, unit: Unit) -> Result<Quantity, LimitFault> {
        let step = match self {
            Self::Share(_) if unit == Unit::Percent => return Err(LimitFault::PercentOfPercent),
            Self::Share(_) if nominal.dimension == Dimension::Temperature => {
                return Err(LimitFault::PercentOfTemperature);
            }
            Self::Share(share) => {
                Quantity { si: nominal.si.abs() * share, dimension: nominal.dimension.step() }
            }
            Self::Absolute(value) => {
                value.as_step_of(nominal.dimension).ok_or(LimitFault::NotATolerance {
                    is: value.dimension.noun(),
                    nominal: nominal.dimension.noun(),
                    wanted: nominal.dimension.step(),
                })?
            }
        };
        if step.si.is_negative() {
            return Err(LimitFault::NegativeTolerance);
        }
        Ok(step)
    }
}

impl Limit {
    /// The limit from `nominal` less `minus` to `nominal` and `plus`, shown in `unit`.
    ///
    /// # Errors
    /// A tolerance that is negative, measures something else, or is a share of what has none.
    pub fn around(
        nominal: &Quantity,
        plus: &Tolerance,
        minus: &Tolerance,
        unit: Unit,
    ) -> Result<Self, LimitFault> {
        let plus = plus.resolve(nominal, unit)?;
        let minus = minus.resolve(nominal, unit)?;
        Self::new(nominal.minus(&minus), nominal.plus(&plus), unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The limit in words, or why there is none.
    fn around(nominal: &str, plus: &str, minus: &str) -> String {
        let (nominal, unit) = Quantity::parse_literal(nominal).unwrap();
        let read = |text| Tolerance::parse_literal(text).unwrap();
        let limit = Limit::around(&nominal, &read(plus), &read(minus), unit);
        limit.map_or_else(|fault| fault.to_string(), |limit| limit.render())
    }

    #[test]
    fn tolerances_become_exact_bounds() {
        for (nominal, plus, minus, limit) in [
            ("45 mm", "0.4 mm", "0.2 mm", "44.8 mm to 45.4 mm"),
            ("200 N·m", "4 %", "4 %", "192 N·m to 208 N·m"),
            // 25.5 mm is no decimal number of inches.
            ("1 in", "0.1 mm", "0 mm", "1 in to 255/254 in"),
            ("0.3 mm", "10 %", "10 %", "0.27 mm to 0.33 mm"),
            ("-20 mm", "5 %", "5 %", "-21 mm to -19 mm"),
            ("20 °C", "2 ΔK", "2 ΔK", "18 °C to 22 °C"),
            ("68 °F", "9 Δ°F", "5 ΔK", "59 °F to 77 °F"),
            ("5 bar gauge", "0.2 bar diff", "0.1 bar gauge", "4.9 bar gauge to 5.2 bar gauge"),
            ("5 bar abs", "4 %", "4 %", "4.8 bar abs to 5.2 bar abs"),
            ("3", "0", "0", "exactly 3"),
        ] {
            assert_eq!(around(nominal, plus, minus), limit, "{nominal}");
        }
    }

    #[test]
    fn what_is_no_tolerance_is_refused_with_what_to_write() {
        for (nominal, plus, fault) in [
            (
                "45 mm",
                "-0.4 mm",
                "a tolerance says how far a reading may lie off, and is not negative",
            ),
            (
                "45 mm",
                "1 bar diff",
                "a tolerance of a length cannot be a difference of pressure; write it in `mm` or \
                 another unit of a length",
            ),
            (
                "20 °C",
                "2 °C",
                "a tolerance of a temperature cannot be a temperature; write it in `ΔK` or another \
                 unit of a difference of temperature",
            ),
            (
                "20 °C",
                "4 %",
                "a share of a temperature means nothing, as its scale has a zero of its own; write \
                 the tolerance in `ΔK`",
            ),
            (
                "60 %",
                "5 %",
                "percent of a percentage can be read in two ways; write the least and the greatest \
                 with `between`",
            ),
        ] {
            assert_eq!(around(nominal, plus, plus), fault, "{nominal}");
        }
    }
}
