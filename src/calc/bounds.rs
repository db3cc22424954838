//! A figure outside of what a formula holds for, and the check that finds it.
//!
//! Every function of the fluid calculations passes its arguments through here, so that none of them
//! can give NaN. What people typed, and in which unit, is not known here.

use std::fmt;

/// A figure that a formula cannot take, with the range and the reason. All in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outside {
    /// What the figure is of, as a person calls it.
    pub what: &'static str,
    /// The figure.
    pub found: f64,
    /// The least figure that the formula takes.
    pub low: f64,
    /// The greatest figure that the formula takes.
    pub high: f64,
    /// The unit of all three; empty for a plain number.
    pub unit: &'static str,
    /// Why the range ends there.
    pub because: &'static str,
}

/// A unit as the shop has it: what to add, what to multiply with, what it is called.
fn shop_unit(unit: &'static str) -> (f64, f64, &'static str) {
    match unit {
        "K" => (-273.15, 1.0, "°C"),
        "Pa" => (0.0, 1e-5, "bar"),
        "m³/s" => (0.0, 6e4, "L/min"),
        "m²/s" => (0.0, 1e6, "mm²/s"),
        other => (0.0, 1.0, other),
    }
}

/// Seven digits, without a tail of zeroes; very large and very small figures with a power of ten.
fn seven_digits(figure: f64) -> String {
    let size = figure.abs();
    if size > 0.0 && !(1e-4..1e9).contains(&size) {
        return format!("{figure:.3e}");
    }
    let places = match size {
        size if size >= 1e5 => 1,
        size if size >= 1e3 => 3,
        size if size >= 1.0 => 5,
        _ => 7,
    };
    let text = format!("{:.places$}", figure + 0.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl fmt::Display for Outside {
    /// In the units of the shop: °C, bar, L/min, mm²/s.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, found, low, high, unit, because } = self;
        let (offset, factor, unit) = shop_unit(unit);
        let shown = |figure: &f64| seven_digits((figure + offset) * factor);
        let gap = if unit.is_empty() { "" } else { " " };
        let (low, high) = (shown(low), shown(high));
        if !found.is_finite() {
            return write!(f, "{what} is not a number; {low} to {high}{gap}{unit} is asked for");
        }
        let found = shown(found);
        write!(
            f,
            "{what} is {found}{gap}{unit}; it must lie from {low} to {high}{gap}{unit}: {because}"
        )
    }
}

impl std::error::Error for Outside {}

/// A range that a formula takes, both ends among it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// What is bounded, as a person calls it.
    pub what: &'static str,
    /// The least figure, in SI units.
    pub low: f64,
    /// The greatest figure, in SI units.
    pub high: f64,
    /// The SI unit; empty for a plain number.
    pub unit: &'static str,
    /// Why the range ends there.
    pub because: &'static str,
}

impl Bounds {
    /// Gives the figure back when it is a number within the range.
    pub fn take(&self, found: f64) -> Result<f64, Outside> {
        // Written so that NaN fails.
        if found >= self.low && found <= self.high {
            return Ok(found);
        }
        let Self { what, low, high, unit, because } = *self;
        Err(Outside { what, found, low, high, unit, because })
    }
}

/// The least and the greatest that a figure may be; both alike when it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// The least.
    pub low: f64,
    /// The greatest.
    pub high: f64,
}

impl Spread {
    /// A figure that is known.
    pub const fn only(figure: f64) -> Self {
        Self { low: figure, high: figure }
    }

    /// A figure that lies somewhere between two.
    pub const fn between(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// Whether there is anything between both ends.
    pub fn is_wide(&self) -> bool {
        self.low < self.high
    }
}

/// A whole power by multiplications alone, which every processor rounds alike.
pub(super) fn whole_power(base: f64, exponent: i32) -> f64 {
    let mut left = exponent.unsigned_abs();
    let mut square = base;
    let mut product = 1.0;
    while left > 0 {
        if left & 1 == 1 {
            product *= square;
        }
        square *= square;
        left >>= 1;
    }
    if exponent < 0 { 1.0 / product } else { product }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BORE: Bounds =
        Bounds { what: "the bore", low: 0.01, high: 1.0, unit: "m", because: "pipes are so" };

    #[test]
    fn both_ends_belong_and_what_is_no_number_does_not() {
        assert!(BORE.take(0.01).is_ok() && BORE.take(1.0).is_ok());
        for bad in [0.009, 1.1, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(BORE.take(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_refusal_names_figure_range_and_reason() {
        let text = BORE.take(2.0).expect_err("too wide").to_string();
        assert_eq!(text, "the bore is 2 m; it must lie from 0.01 to 1 m: pipes are so");
        let hot = Bounds { what: "the water", low: 273.15, high: 473.15, unit: "K", because: "so" };
        let text = hot.take(573.15).expect_err("too hot").to_string();
        assert_eq!(text, "the water is 300 °C; it must lie from 0 to 200 °C: so");
        let tank = Bounds { what: "the tank", low: -1e5, high: 10e6, unit: "Pa", because: "so" };
        let text = tank.take(2e17).expect_err("too much").to_string();
        assert_eq!(text, "the tank is 2.000e12 bar; it must lie from -1 to 100 bar: so");
        assert!(BORE.take(f64::NAN).expect_err("no number").to_string().contains("not a number"));
    }

    #[test]
    fn whole_powers_of_either_sign() {
        for (exponent, want) in [(0, 1.0), (1, 2.0), (10, 1024.0), (-3, 0.125)] {
            assert!((whole_power(2.0, exponent) - want).abs() < f64::EPSILON, "{exponent}");
        }
    }
}
