//! One figure of a calculation: exact in SI units, with the text that it was given as.
//!
//! Reading and showing only; what a figure may be is said where an input is declared.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive as _;

use super::unit::{Unit, noun, symbols};
use crate::units::{self, Dimension, Quantity};

/// The most figures that one list has.
pub const LIST_MAX: usize = 10_000;

/// A figure with what it measures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// The exact value in SI units.
    pub si: Ratio<BigInt>,
    /// What it measures.
    pub dimension: Dimension,
    /// The text that it was given as, unit included.
    pub text: String,
}

impl Figure {
    /// A figure from elsewhere in the program, with the text to show for it.
    pub fn new(si: Ratio<BigInt>, dimension: Dimension, text: impl Into<String>) -> Self {
        Self { si, dimension, text: text.into() }
    }

    /// Reads `44.6 mm` as a figure of `dimension`; a plain number needs no unit.
    ///
    /// # Errors
    /// What is wrong with the text, as a fragment that goes behind it.
    pub fn read(text: &str, dimension: Dimension) -> Result<Self, String> {
        let mut figures = Self::read_list(text, dimension)?;
        match (figures.pop(), figures.is_empty()) {
            (Some(only), true) => Ok(only),
            _ => Err("is more than one figure; it takes one, and no range".to_owned()),
        }
    }

    /// Reads `2 m`, or `0.5 to 2 m` as the least and the greatest.
    ///
    /// # Errors
    /// What is wrong with the text, as a fragment that goes behind it.
    pub fn read_range(text: &str, dimension: Dimension) -> Result<Vec<Self>, String> {
        let figures = Self::read_list(&text.replace(" to ", " "), dimension)?;
        match figures.len() {
            1 | 2 => Ok(figures),
            _ => {
                Err("is more than two figures; give one, or the least and the greatest".to_owned())
            }
        }
    }

    /// Reads `0 4.5 -2 µm`: a unit holds for all the figures before it that have none.
    ///
    /// # Errors
    /// What is wrong with the text, as a fragment that goes behind it.
    pub fn read_list(text: &str, dimension: Dimension) -> Result<Vec<Self>, String> {
        let mut figures = Vec::new();
        let mut waiting: Vec<String> = Vec::new();
        let mut unit_text = String::new();
        for piece in text.replace([';', '|'], " ").replace(", ", " ").split_whitespace() {
            let starts = piece.trim_start_matches(['-', '−', '+']);
            if starts.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
                if !unit_text.is_empty() {
                    settle(&mut waiting, &unit_text, dimension, &mut figures)?;
                    unit_text.clear();
                }
                let end = piece
                    .char_indices()
                    .find(|(_, c)| !c.is_ascii_digit() && !"-−+.,".contains(*c))
                    .map_or(piece.len(), |(at, _)| at);
                let (digits, glued) = piece.split_at(end);
                waiting.push(digits.to_owned());
                glued.clone_into(&mut unit_text);
            } else if waiting.is_empty() {
                return Err("has no figure where one should start".to_owned());
            } else {
                if !unit_text.is_empty() {
                    unit_text.push(' ');
                }
                unit_text.push_str(piece);
            }
            if figures.len() + waiting.len() > LIST_MAX {
                return Err(format!("has more than {LIST_MAX} figures"));
            }
        }
        settle(&mut waiting, &unit_text, dimension, &mut figures)?;
        if figures.is_empty() { Err("has no figure".to_owned()) } else { Ok(figures) }
    }

    /// The value in SI units as the nearest floating-point number.
    pub fn value(&self) -> f64 {
        self.si.to_f64().unwrap_or(f64::NAN)
    }

    /// The value in `unit`, for showing.
    pub fn shown(&self, unit: &str) -> String {
        shown(self.value(), unit)
    }
}

/// Gives the figures that wait for a unit the one that follows them.
fn settle(
    waiting: &mut Vec<String>,
    unit_text: &str,
    dimension: Dimension,
    figures: &mut Vec<Figure>,
) -> Result<(), String> {
    if waiting.is_empty() {
        return Ok(());
    }
    let unit = if unit_text.is_empty() && dimension == Dimension::Number {
        *Unit::named("")
    } else {
        Unit::of(dimension, unit_text).ok_or_else(|| no_unit(unit_text, dimension))?
    };
    for digits in waiting.drain(..) {
        let plain = digits.strip_prefix('+').unwrap_or(&digits);
        let (number, _) = Quantity::parse_literal(plain).map_err(|fault| format!("- {fault}"))?;
        let text = with_unit(&digits, unit.symbol);
        figures.push(Figure::new(unit.to_si(&number.si), dimension, text));
    }
    Ok(())
}

fn no_unit(text: &str, dimension: Dimension) -> String {
    let known = symbols(dimension).join(", ");
    if text.is_empty() {
        return format!("has no unit; {} is asked for: {known}", noun(dimension));
    }
    let text = crate::visible::visible(text);
    if let Some(mend) = units::Unit::ambiguity(&text) {
        return format!(
            "has the unit `{text}`, which can mean different things: {mend}; {} is asked for",
            noun(dimension)
        );
    }
    match Unit::any(&text) {
        Some(other) => format!(
            "has the unit `{text}`, which is {}; {} is asked for: {known}",
            noun(other.dimension()),
            noun(dimension)
        ),
        None => format!("has the unit `{text}`, which is not one of {}: {known}", noun(dimension)),
    }
}

/// A figure followed by a unit; angles and shares stand close to theirs.
fn with_unit(figure: &str, symbol: &str) -> String {
    match symbol {
        "" => figure.to_owned(),
        "°" => format!("{figure}°"),
        symbol => format!("{figure} {symbol}"),
    }
}

/// An SI value in the unit of this symbol, with five digits that count.
pub(super) fn shown(si: f64, unit: &str) -> String {
    with_unit(&digits(Unit::named(unit).from_si(si), 5), unit)
}

/// An SI value in the unit of this symbol, with three digits that count.
pub(super) fn in_three(si: f64, unit: &str) -> String {
    with_unit(&digits(Unit::named(unit).from_si(si), 3), unit)
}

/// `count` digits that matter, without a tail of zeroes; very small and very large figures with a
/// power of ten.
pub fn digits(figure: f64, count: usize) -> String {
    if figure.abs() < f64::MIN_POSITIVE {
        return "0".to_owned();
    }
    let scientific = format!("{:.*e}", count.saturating_sub(1), figure);
    let Some((mantissa, power)) = scientific.split_once('e') else { return scientific };
    let Ok(power) = power.parse::<i32>() else { return scientific };
    let trimmed = |text: &str| {
        if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text.to_owned()
        }
    };
    if !(-5..9).contains(&power) {
        return format!("{}e{power}", trimmed(mantissa));
    }
    let places = i32::try_from(count).unwrap_or(5) - 1 - power;
    trimmed(&format!("{:.*}", usize::try_from(places).unwrap_or(0), figure))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(text: &str, dimension: Dimension) -> Vec<f64> {
        Figure::read_list(text, dimension).expect(text).iter().map(Figure::value).collect()
    }

    #[test]
    fn a_unit_holds_for_the_figures_before_it() {
        assert_eq!(values("0 4.5 -2 µm", Dimension::Length), [0.0, 4.5e-6, -2e-6]);
        assert_eq!(values("1 mm, 2 in; 3 4 m", Dimension::Length), [0.001, 0.0508, 3.0, 4.0]);
        assert_eq!(values("0.5mm", Dimension::Length), [0.0005]);
        assert_eq!(values("30 %", Dimension::Number), [0.3]);
        assert_eq!(values("20 US gpm", Dimension::Flow), [0.001_261_803_928]);
        assert_eq!(values("-40 °F", Dimension::Temperature), [233.15]);
        assert_eq!(values("6 rpm", Dimension::Rotation), [0.1]);
        let difference = Dimension::PressureDifference;
        for (text, pascals) in
            [("2 bar", 2e5), ("2 bar diff", 2e5), ("20 mbar", 2e3), ("1 mH2O", 9806.65)]
        {
            assert_eq!(values(text, difference), [pascals], "{text}");
        }
        assert_eq!(values("-300 mbar gauge", Dimension::GaugePressure), [-3e4]);
        let ends = Figure::read_range("-5 to 40 °C", Dimension::Temperature).unwrap();
        assert_eq!(ends.iter().map(Figure::value).collect::<Vec<_>>(), [268.15, 313.15]);
        assert_eq!(ends[0].text, "-5 °C");
    }

    #[test]
    fn what_is_no_figure_says_why() {
        for (text, dimension, why) in [
            ("", Dimension::Length, "has no figure"),
            ("12", Dimension::Length, "has no unit; a length is asked for"),
            ("12 kg", Dimension::Length, "which is a mass; a length is asked for"),
            ("12 furlong", Dimension::Length, "not one of a length: m, cm, mm"),
            (
                "18 bar",
                Dimension::GaugePressure,
                "can mean different things: `bar gauge`, `bar abs` or `bar diff`; a gauge pressure",
            ),
            (
                "18 psi",
                Dimension::AbsolutePressure,
                "can mean different things: `psi gauge`, `psi abs`",
            ),
            ("18 bar abs", Dimension::GaugePressure, "is an absolute pressure; a gauge pressure"),
            ("12 Nm", Dimension::PressureDifference, "is a torque"),
            ("mm 12", Dimension::Length, "no figure where one should start"),
            ("1,250 mm", Dimension::Length, "decimal point"),
            ("1.2.3 mm", Dimension::Length, "more than once"),
            ("1-2 mm", Dimension::Length, "-"),
        ] {
            let fault = Figure::read_list(text, dimension).expect_err(text);
            assert!(fault.contains(why), "{text}: {fault}");
        }
        assert!(Figure::read("1 2 mm", Dimension::Length).is_err());
        assert!(Figure::read_range("1 to 2 to 3 mm", Dimension::Length).is_err());
    }

    #[test]
    fn figures_are_shown_with_five_digits_that_count() {
        for (si, unit, text) in [
            (0.0125e-3, "mm", "0.0125 mm"),
            (11_944.110_6, "N/mm", "11.944 N/mm"),
            (0.0, "mm", "0 mm"),
            (-0.0, "mm", "0 mm"),
            (123_456.789, "N", "123457 N"),
            (99_999.6, "N", "100000 N"),
            (1.0 / 3.0, "%", "33.333 %"),
            (1e-9, "", "1e-9"),
            (273.15, "°C", "0 °C"),
            (0.25, "°", "90°"),
        ] {
            assert_eq!(shown(si, unit), text);
        }
    }
}
