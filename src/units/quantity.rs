//! An exact quantity: a rational number of SI units with its dimension.
//!
//! Reads authors' figures and prints exact ones. The looser forms that people type are read by
//! `entry`; verdicts are given by `limit`.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, Zero as _};

use super::dimension::Dimension;
use super::fault::EntryFault;
use super::unit::Unit;

/// The most digits that a figure may have. No gauge comes near it; it bounds the work of one entry.
pub const FIGURE_DIGITS_MAX: usize = 40;

/// The most decimal places that an exact figure is printed with; beyond them it is a fraction.
const EXACT_PLACES_MAX: usize = 12;

/// The most decimal places that a rounded figure is printed with.
const ROUNDED_PLACES_MAX: usize = 60;

/// An exact quantity.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Quantity {
    /// The value in SI units of the dimension.
    pub si: Ratio<BigInt>,
    /// What it measures.
    pub dimension: Dimension,
}

impl Quantity {
    /// `figure` of `unit`.
    pub fn new(figure: Ratio<BigInt>, unit: Unit) -> Self {
        Self { si: figure * unit.factor() + unit.offset(), dimension: unit.dimension() }
    }

    /// A whole plain number.
    pub fn whole(number: impl Into<BigInt>) -> Self {
        Self::new(Ratio::from_integer(number.into()), Unit::One)
    }

    /// The value of a plain whole number that fits, else `None`.
    pub fn as_whole(&self) -> Option<u32> {
        if self.dimension != Dimension::Number || !self.si.is_integer() {
            return None;
        }
        u32::try_from(self.si.to_integer()).ok()
    }

    /// Reads a figure as authors write it in files: `44.6 mm`, `-0.02 mm`, `3`.
    ///
    /// # Errors
    /// Anything but a decimal figure with a point, and a known unit or none.
    pub fn parse_literal(text: &str) -> Result<(Self, Unit), EntryFault> {
        let text = text.trim();
        if text.is_empty() {
            return Err(EntryFault::Empty);
        }
        let (negative, unsigned) = match text.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let end = unsigned
            .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ','))
            .unwrap_or(unsigned.len());
        let (figure, rest) = unsigned.split_at(end);
        let unit_text = rest.trim_start();
        if figure.is_empty() {
            return Err(EntryFault::NoFigure(unsigned.chars().next()));
        }
        if figure.contains(',') {
            return Err(EntryFault::CommaInFile);
        }
        let unit = match Unit::parse(unit_text) {
            _ if unit_text.is_empty() => Unit::One,
            Some(unit) => unit,
            None if unit_text.starts_with('/')
                || unit_text.contains(|c: char| c.is_ascii_digit()) =>
            {
                return Err(EntryFault::not_in_file(unit_text));
            }
            None => return Err(EntryFault::unknown_unit(unit_text)),
        };
        let magnitude = super::entry::decimal(figure)?;
        Ok((Self::new(if negative { -magnitude } else { magnitude }, unit), unit))
    }

    /// The exact figure in `unit`. With a unit of another dimension it is the figure in SI units.
    pub fn in_unit(&self, unit: Unit) -> Ratio<BigInt> {
        if unit.dimension() == self.dimension {
            (&self.si - unit.offset()) / unit.factor()
        } else {
            self.si.clone()
        }
    }

    /// This as a difference on `scale`, such as a tolerance or an uncertainty: one of its steps, or
    /// a pressure given as one of the scale itself, which can mean one thing only. A temperature on
    /// a scale is not a difference: `2 °C` is also 275.15 K.
    pub fn as_step_of(&self, scale: Dimension) -> Option<Self> {
        let step = scale.step();
        let same_scale = self.dimension == scale && scale != Dimension::Temperature;
        (self.dimension == step || same_scale)
            .then(|| Self { si: self.si.clone(), dimension: step })
    }

    /// Which of two quantities is greater; `None` where they measure different things.
    pub fn compare(&self, other: &Self) -> Option<Ordering> {
        (self.dimension == other.dimension).then(|| self.si.cmp(&other.si))
    }

    /// True when it lies in a range, both ends included; false where that measures something else.
    pub fn lies_in(&self, (from, to): &(Self, Self)) -> bool {
        self.compare(from).is_some_and(Ordering::is_ge)
            && self.compare(to).is_some_and(Ordering::is_le)
    }

    /// The exact figure with its unit: a decimal where it ends within 12 places, else `p/q`.
    pub fn render(&self, unit: Unit) -> String {
        let unit = self.shown_in(unit);
        with_symbol(&exact(&self.in_unit(unit)), unit)
    }

    /// The exact figure where it is a decimal, else one rounded to four places that says so.
    pub fn render_near(&self, unit: Unit) -> String {
        let unit = self.shown_in(unit);
        if self.is_decimal_in(unit) {
            self.render(unit)
        } else {
            format!("about {}", self.render_rounded(unit, 4))
        }
    }

    /// The figure with its unit, rounded to `places` and with all of them shown; halves go away from
    /// zero. For showing only: a verdict never looks at it.
    pub fn render_rounded(&self, unit: Unit, places: usize) -> String {
        let unit = self.shown_in(unit);
        let places = places.min(ROUNDED_PLACES_MAX);
        let scaled = (self.in_unit(unit) * ten_to(places)).round().to_integer();
        with_symbol(&decimal_text(&scaled, places), unit)
    }

    /// The exact figure as a mixed fraction with its unit: `2 3/4 in`.
    pub fn render_fraction(&self, unit: Unit) -> String {
        let unit = self.shown_in(unit);
        let figure = self.in_unit(unit);
        let whole = figure.trunc().to_integer();
        let part = (&figure - figure.trunc()).abs();
        let sign = if figure.is_negative() { "-" } else { "" };
        let text = if part.is_zero() {
            whole.to_string()
        } else if whole.is_zero() {
            format!("{sign}{}/{}", part.numer(), part.denom())
        } else {
            format!("{whole} {}/{}", part.numer(), part.denom())
        };
        with_symbol(&text, unit)
    }

    /// True when the figure in `unit` is a decimal that [`Quantity::render`] prints in full.
    pub fn is_decimal_in(&self, unit: Unit) -> bool {
        (self.in_unit(unit) * ten_to(EXACT_PLACES_MAX)).is_integer()
    }

    /// The sum; `None` for what cannot be added.
    pub fn plus(&self, other: &Self) -> Option<Self> {
        let dimension = self.dimension.plus(other.dimension)?;
        Some(Self { si: &self.si + &other.si, dimension })
    }

    /// The difference; `None` for what cannot be taken from each other.
    pub fn minus(&self, other: &Self) -> Option<Self> {
        let dimension = self.dimension.minus(other.dimension)?;
        Some(Self { si: &self.si - &other.si, dimension })
    }

    /// The product; `None` where its dimension is not in this version.
    pub fn times(&self, other: &Self) -> Option<Self> {
        let dimension = self.dimension.times(other.dimension)?;
        Some(Self { si: &self.si * &other.si, dimension })
    }

    /// The quotient; `None` for a divisor of zero or a dimension that is not in this version.
    pub fn over(&self, other: &Self) -> Option<Self> {
        let dimension = self.dimension.over(other.dimension)?;
        (!other.si.is_zero()).then(|| Self { si: &self.si / &other.si, dimension })
    }

    /// The same with the other sign.
    #[must_use]
    pub fn negated(&self) -> Self {
        Self { si: -&self.si, dimension: self.dimension }
    }

    fn shown_in(&self, unit: Unit) -> Unit {
        if unit.dimension() == self.dimension { unit } else { self.dimension.base() }
    }
}

/// A figure followed by the symbol of its unit.
pub(super) fn with_symbol(figure: &str, unit: Unit) -> String {
    match unit.symbol() {
        "" => figure.to_owned(),
        symbol => format!("{figure} {symbol}"),
    }
}

pub(super) fn ten_to(places: usize) -> BigInt {
    BigInt::from(10).pow(u32::try_from(places).unwrap_or(u32::MAX))
}

/// `scaled / 10^places` with exactly `places` decimals.
fn decimal_text(scaled: &BigInt, places: usize) -> String {
    let sign = if scaled.is_negative() { "-" } else { "" };
    let digits = format!("{:0>width$}", scaled.abs().to_string(), width = places + 1);
    let (whole, part) = digits.split_at(digits.len() - places);
    if part.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") }
}

fn exact(figure: &Ratio<BigInt>) -> String {
    let scaled = figure * ten_to(EXACT_PLACES_MAX);
    if !scaled.is_integer() {
        return format!("{}/{}", figure.numer(), figure.denom());
    }
    let text = decimal_text(&scaled.to_integer(), EXACT_PLACES_MAX);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn literal(text: &str) -> Quantity {
        Quantity::parse_literal(text).unwrap().0
    }

    #[test]
    fn authors_figures_are_read_exactly() {
        assert_eq!(
            literal("44.6 mm").in_unit(Unit::Micrometre),
            Ratio::from_integer(44_600.into())
        );
        assert_eq!(literal("44.6mm"), literal("4.46 cm"));
        assert_eq!(literal("-0.02 mm").render(Unit::Micrometre), "-20 µm");
        assert_eq!(literal("3"), Quantity::whole(3));
        assert_eq!(literal("1 in"), literal("25.4 mm"));
    }

    #[test]
    fn what_is_not_an_authors_figure_is_refused_with_its_reason() {
        let refused = |text: &str| Quantity::parse_literal(text).unwrap_err().to_string();
        assert_eq!(refused("44,6 mm"), "a figure in a file has a decimal point, not a comma");
        assert_eq!(
            refused("3/16 in"),
            "a figure in a file is a decimal such as `0.1875 in`; `/16 in` does not belong there"
        );
        assert_eq!(refused("44.6 mmm"), "`mmm` is not a unit that this version has");
        assert_eq!(refused("44.6 MM"), "`MM` is not a unit that this version has; write `mm`");
        assert_eq!(refused("mm"), "a figure starts with a digit; found `m`");
        assert_eq!(refused("1e3 mm"), "a figure has no exponent; write all its digits");
        assert_eq!(refused(""), "nothing was typed");
        assert_eq!(refused("1 000 mm"), "the digits are grouped with a space; write them together");
    }

    #[test]
    fn exact_figures_print_as_decimals_or_as_fractions() {
        assert_eq!(literal("0.0005 in").render(Unit::Micrometre), "12.7 µm");
        assert_eq!(literal("1 mm").render(Unit::Inch), "5/127 in");
        assert_eq!(literal("1 mm").render_rounded(Unit::Inch, 4), "0.0394 in");
        assert_eq!(literal("-0.5").render_rounded(Unit::One, 0), "-1");
        assert_eq!(literal("100").render(Unit::One), "100");
        assert_eq!(literal("0 mm").render(Unit::Millimetre), "0 mm");
        assert_eq!(literal("2.75 in").render_fraction(Unit::Inch), "2 3/4 in");
        assert_eq!(literal("-0.75 in").render_fraction(Unit::Inch), "-3/4 in");
        assert_eq!(literal("-2.75 in").render_fraction(Unit::Inch), "-2 3/4 in");
    }

    #[test]
    fn scales_with_a_zero_of_their_own_differ_from_their_differences() {
        let (warm, cold, step) = (literal("60 °C"), literal("20 °C"), literal("40 ΔK"));
        assert_eq!(warm.minus(&cold), Some(step.clone()));
        assert_eq!(cold.plus(&step), Some(warm.clone()));
        assert_eq!(step.plus(&cold), Some(warm.clone()));
        assert_eq!(warm.plus(&cold), None);
        assert_eq!(warm.compare(&step), None);
        assert_eq!(literal("212 °F").render(Unit::Celsius), "100 °C");
        assert_eq!(literal("-40 °C").render(Unit::Fahrenheit), "-40 °F");
        assert_eq!(literal("18 Δ°F"), literal("10 ΔK"));
        let (gauge, abs) = (literal("2 bar gauge"), literal("2 bar abs"));
        assert_eq!(gauge.minus(&literal("1.5 bar gauge")), Some(literal("0.5 bar diff")));
        assert_eq!(gauge.plus(&literal("0.5 bar diff")), Some(literal("2.5 bar gauge")));
        assert_eq!((gauge.minus(&abs), gauge.plus(&abs), gauge.compare(&abs)), (None, None, None));
    }

    #[test]
    fn products_and_quotients_have_the_dimension_that_they_should() {
        let same = |one: Option<Quantity>, other: &str| assert_eq!(one.unwrap(), literal(other));
        same(literal("18 lbf").times(&literal("1 in")), "18 in-lb");
        same(literal("3 L").over(&literal("2 min")), "1.5 L/min");
        same(literal("18 bar diff").times(&literal("6 m³/h")), "3000 W");
        same(literal("12 N").over(&literal("4 mm")), "3 N/mm");
        same(literal("46 cSt").times(&literal("1000 kg/m³")), "46 cP");
        same(literal("10 N").over(&literal("1 cm²")), "1 bar diff");
        assert_eq!(literal("1 N·m").compare(&literal("1 W")), None);
    }

    #[test]
    fn quantities_of_different_dimension_do_not_meet() {
        let (length, number) = (literal("1 mm"), literal("1"));
        assert_eq!(length.compare(&number), None);
        assert_eq!(length.plus(&number), None);
        assert_eq!(length.times(&length), Some(literal("1 mm²")));
        assert_eq!(number.over(&length), None);
        assert_eq!(literal("20 °C").times(&literal("2")), None);
        assert_eq!(length.over(&length), Some(Quantity::whole(1)));
        assert_eq!(length.over(&literal("0 mm")), None);
        assert_eq!(length.times(&literal("2")), Some(literal("2 mm")));
        assert_eq!(length.compare(&literal("2 mm")), Some(Ordering::Less));
    }
}
