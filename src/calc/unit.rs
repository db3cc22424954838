//! The units that figures of a calculation are written in.
//!
//! Every unit of `units` can be written. The table has those that a calculation offers, by the symbols
//! that its working shows, and with the spellings that stand for them here: a stress in N/mm², a bare
//! `bar` where only a difference can be meant.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive as _;

use crate::units::{Dimension, Unit as U};

/// One unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unit {
    /// How figures in it are followed; empty for a plain number.
    pub symbol: &'static str,
    /// Other accepted spellings.
    spellings: &'static [&'static str],
    /// The unit that it is, or is a share of.
    of: U,
    /// How many of those it is, as numerator and denominator.
    share: (i64, i64),
}

const fn unit(symbol: &'static str, spellings: &'static [&'static str], of: U) -> Unit {
    part(symbol, spellings, of, (1, 1))
}

/// A unit that nobody reads off an instrument here, and that `units` has no row for.
const fn part(
    symbol: &'static str,
    spellings: &'static [&'static str],
    of: U,
    share: (i64, i64),
) -> Unit {
    Unit { symbol, spellings, of, share }
}

static UNITS: &[Unit] = &[
    unit("", &["number"], U::One),
    unit("%", &[], U::Percent),
    part("ppm", &[], U::One, (1, 1_000_000)),
    unit("m", &[], U::Metre),
    unit("cm", &[], U::Centimetre),
    unit("mm", &[], U::Millimetre),
    unit("µm", &[], U::Micrometre),
    unit("in", &[], U::Inch),
    unit("ft", &[], U::Foot),
    unit("thou", &[], U::Thou),
    unit("mm²", &["mm2"], U::SquareMillimetre),
    unit("cm²", &["cm2"], U::SquareCentimetre),
    unit("m²", &["m2"], U::SquareMetre),
    unit("in²", &["in2"], U::SquareInch),
    unit("L", &["l"], U::Litre),
    unit("mL", &["ml", "cm³", "cm3", "cc"], U::Millilitre),
    unit("m³", &["m3"], U::CubicMetre),
    unit("in³", &["in3"], U::CubicInch),
    unit("US gal", &[], U::UsGallon),
    unit("imp gal", &["UK gal"], U::ImperialGallon),
    unit("kg", &[], U::Kilogram),
    unit("g", &[], U::Gram),
    unit("lb", &["lbm"], U::Pound),
    unit("s", &[], U::Second),
    unit("min", &[], U::Minute),
    unit("h", &[], U::Hour),
    unit("°C", &["degC"], U::Celsius),
    unit("°F", &["degF"], U::Fahrenheit),
    unit("K", &[], U::Kelvin),
    unit("ΔK", &["Δ°C"], U::KelvinDifference),
    unit("bar gauge", &[], U::BarGauge),
    unit("kPa gauge", &[], U::KilopascalGauge),
    unit("MPa gauge", &[], U::MegapascalGauge),
    unit("bar abs", &[], U::BarAbs),
    unit("kPa abs", &[], U::KilopascalAbs),
    unit("MPa abs", &[], U::MegapascalAbs),
    unit("bar", &["bar diff"], U::BarDiff),
    unit("Pa", &["Pa diff"], U::PascalDiff),
    unit("kPa", &["kPa diff"], U::KilopascalDiff),
    unit("N/mm²", &["N/mm2", "MPa", "MPa diff"], U::MegapascalDiff),
    unit("psi", &["psi diff", "lbf/in²", "lbf/in2"], U::PsiDiff),
    unit("N", &[], U::Newton),
    unit("kN", &[], U::Kilonewton),
    unit("lbf", &[], U::PoundForce),
    unit("kgf", &[], U::KilogramForce),
    unit("N·m", &["Nm", "N m", "N-m"], U::NewtonMetre),
    unit(
        "lbf·ft",
        &["lbf ft", "lbf-ft", "ft-lb", "ft-lbs", "lb-ft", "ft·lb", "ft lb"],
        U::PoundForceFoot,
    ),
    unit(
        "lbf·in",
        &["lbf in", "lbf-in", "in-lb", "in-lbs", "lb-in", "in·lb", "in lb"],
        U::PoundForceInch,
    ),
    unit("kgf·m", &["kgf m", "kgf-m"], U::KilogramForceMetre),
    unit("L/min", &["l/min", "lpm"], U::LitrePerMinute),
    unit("L/h", &["l/h"], U::LitrePerHour),
    part("L/s", &["l/s"], U::CubicMetrePerSecond, (1, 1000)),
    unit("m³/h", &["m3/h"], U::CubicMetrePerHour),
    unit("m³/s", &["m3/s"], U::CubicMetrePerSecond),
    unit("US gpm", &["US gal/min"], U::UsGallonPerMinute),
    unit("m/s", &[], U::MetrePerSecond),
    part("ft/s", &[], U::MetrePerSecond, (381, 1250)),
    unit("rev/min", &["rpm", "1/min", "min⁻¹", "strokes/min"], U::RevolutionPerMinute),
    unit("rev/s", &[], U::RevolutionPerSecond),
    unit("kW", &[], U::Kilowatt),
    unit("W", &[], U::Watt),
    unit("hp", &[], U::Horsepower),
    unit("mm²/s", &["mm2/s", "cSt"], U::Centistokes),
    unit("m²/s", &["m2/s"], U::SquareMetrePerSecond),
    unit("mPa·s", &["mPa s", "cP"], U::Centipoise),
    unit("Pa·s", &["Pa s"], U::PascalSecond),
    unit("kg/m³", &["kg/m3"], U::KilogramPerCubicMetre),
    unit("g/cm³", &["g/cm3", "kg/L", "kg/l"], U::GramPerCubicCentimetre),
    unit("lb/ft³", &["lb/ft3"], U::PoundPerCubicFoot),
    unit("N/mm", &["kN/m"], U::NewtonPerMillimetre),
    unit("N/m", &[], U::NewtonPerMetre),
    unit("lbf/in", &["lb/in"], U::PoundForcePerInch),
    unit("°", &["deg"], U::Degree),
    unit("turns", &["turn"], U::Turn),
    unit("A", &[], U::Ampere),
    unit("V", &[], U::Volt),
    part("kV", &[], U::Volt, (1000, 1)),
];

/// A dimension for messages of calculations, where a stress may be asked for.
pub(super) fn noun(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::PressureDifference => "a difference of pressure or a stress",
        dimension => dimension.noun(),
    }
}

/// Symbols of the units of a dimension, for messages.
pub(super) fn symbols(dimension: Dimension) -> Vec<&'static str> {
    let named = |unit: &&Unit| unit.dimension() == dimension && !unit.symbol.is_empty();
    UNITS.iter().filter(named).map(|unit| unit.symbol).collect()
}

impl Unit {
    /// The unit of `dimension` that is written like this. Only where a difference of pressure is asked
    /// for does `bar` alone say enough.
    pub fn of(dimension: Dimension, text: &str) -> Option<Self> {
        let known = U::parse(text).map(U::symbol);
        let of = || UNITS.iter().filter(|unit| unit.dimension() == dimension);
        of().find(|unit| Some(unit.symbol) == known)
            .or_else(|| of().find(|unit| known.is_some_and(|known| unit.is_written(known))))
            .or_else(|| of().find(|unit| unit.is_written(text)))
            .copied()
            .or_else(|| {
                let bare = dimension == Dimension::PressureDifference;
                let of = U::parse(text)
                    .or_else(|| U::parse(&format!("{text} diff")).filter(|_| bare))?;
                (of.dimension() == dimension).then(|| unit(of.symbol(), &[], of))
            })
    }

    /// The unit of any dimension that is written like this.
    pub fn any(text: &str) -> Option<Self> {
        let of = U::parse(text);
        let in_table =
            |unit: &&Self| Some(unit.symbol) == of.map(U::symbol) || unit.is_written(text);
        let found = UNITS.iter().find(in_table).copied();
        found.or_else(|| of.map(|of| unit(of.symbol(), &[], of)))
    }

    /// The unit of this symbol.
    ///
    /// # Panics
    /// When the table has no such symbol: the program's own tables name only those that it has.
    pub fn named(symbol: &str) -> &'static Self {
        UNITS.iter().find(|unit| unit.symbol == symbol).expect("internal: a unit of the table")
    }

    fn is_written(&self, text: &str) -> bool {
        self.symbol == text || self.spellings.contains(&text)
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.of.dimension()
    }

    fn factor(&self) -> Ratio<BigInt> {
        let (above, below) = self.share;
        self.of.factor() * Ratio::new(BigInt::from(above), BigInt::from(below))
    }

    /// The exact SI value of a figure in this unit.
    pub fn to_si(&self, figure: &Ratio<BigInt>) -> Ratio<BigInt> {
        figure * self.factor() + self.of.offset()
    }

    /// The figure in this unit of an SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        // Factors are exact to 15 digits and more.
        let float = |n: &BigInt| n.to_f64().unwrap_or(f64::NAN);
        let (factor, offset) = (self.factor(), self.of.offset());
        (si - float(offset.numer()) / float(offset.denom())) * float(factor.denom())
            / float(factor.numer())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_stands_for_two_units() {
        let mut seen = std::collections::BTreeSet::new();
        for unit in UNITS {
            for text in std::iter::once(&unit.symbol).chain(unit.spellings) {
                assert!(seen.insert(*text), "`{text}` stands twice");
            }
        }
    }

    #[test]
    fn what_units_calls_the_same_is_the_same() {
        for unit in UNITS {
            if let Some(known) = U::parse(unit.symbol) {
                assert_eq!(known.factor(), unit.factor(), "{}", unit.symbol);
                assert_eq!(known.offset(), unit.of.offset(), "{}", unit.symbol);
                assert_eq!(known.dimension(), unit.dimension(), "{}", unit.symbol);
            }
        }
        for length in ["m", "cm", "mm", "µm", "in", "ft", "thou"] {
            assert!(U::parse(length).is_some(), "{length}");
        }
    }
}
