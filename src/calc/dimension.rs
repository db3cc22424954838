//! What figures of a calculation measure, and the units that they are written in.
//!
//! Lengths and plain numbers are read by `units`; the rows here are those that it does not have. The
//! only place of `calc` that knows a factor between units.

use num_bigint::BigInt;
use num_rational::Ratio;

/// What a figure measures. Kinds of one physical dimension that must not be mixed, such as gauge and
/// absolute pressure, are different here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A plain number, a share or a ratio.
    Number,
    /// A length, in metres.
    Length,
    /// An area, in square metres.
    Area,
    /// A volume, in cubic metres.
    Volume,
    /// A mass, in kilograms.
    Mass,
    /// A time, in seconds.
    Time,
    /// A temperature on a scale, in kelvin.
    Temperature,
    /// A difference of two temperatures, in kelvin.
    TemperatureDifference,
    /// A pressure above that of the air, in pascals.
    GaugePressure,
    /// A pressure above vacuum, in pascals.
    AbsolutePressure,
    /// A difference of two pressures, or a stress, in pascals.
    PressureDifference,
    /// A force, in newtons.
    Force,
    /// A torque, in newton metres.
    Torque,
    /// A flow, in cubic metres per second.
    Flow,
    /// A speed, in metres per second.
    Speed,
    /// A speed of rotation, in turns per second, so that it stays exact.
    Rotation,
    /// A power, in watts.
    Power,
    /// A kinematic viscosity, in square metres per second.
    KinematicViscosity,
    /// A dynamic viscosity, in pascal seconds.
    DynamicViscosity,
    /// A density, in kilograms per cubic metre.
    Density,
    /// A spring rate, in newtons per metre.
    SpringRate,
    /// An angle, in turns, so that it stays exact.
    Angle,
    /// An electric current, in amperes.
    Current,
    /// A voltage, in volts.
    Voltage,
}

/// One unit of the table.
#[derive(Debug, PartialEq, Eq)]
pub struct Unit {
    /// How figures in it are followed; empty for a plain number.
    pub symbol: &'static str,
    /// Other accepted spellings.
    spellings: &'static [&'static str],
    /// What it measures.
    pub dimension: Dimension,
    /// SI units in one of these, as numerator and denominator.
    factor: (i64, i64),
    /// What is added after that: scales that do not begin at zero.
    offset: (i64, i64),
}

const fn unit(
    symbol: &'static str,
    spellings: &'static [&'static str],
    dimension: Dimension,
    factor: (i64, i64),
) -> Unit {
    Unit { symbol, spellings, dimension, factor, offset: (0, 1) }
}

const fn scale(
    symbol: &'static str,
    spellings: &'static [&'static str],
    factor: (i64, i64),
    offset: (i64, i64),
) -> Unit {
    Unit { offset, ..unit(symbol, spellings, Dimension::Temperature, factor) }
}

use Dimension as D;

/// The pound-force is 4.4482216152605 N by definition; the inch is 25.4 mm.
static UNITS: &[Unit] = &[
    unit("", &["number"], D::Number, (1, 1)),
    unit("%", &[], D::Number, (1, 100)),
    unit("ppm", &[], D::Number, (1, 1_000_000)),
    unit("m", &[], D::Length, (1, 1)),
    unit("cm", &[], D::Length, (1, 100)),
    unit("mm", &[], D::Length, (1, 1000)),
    unit("µm", &[], D::Length, (1, 1_000_000)),
    unit("in", &[], D::Length, (127, 5000)),
    unit("ft", &[], D::Length, (381, 1250)),
    unit("thou", &[], D::Length, (127, 5_000_000)),
    unit("mm²", &["mm2"], D::Area, (1, 1_000_000)),
    unit("cm²", &["cm2"], D::Area, (1, 10_000)),
    unit("m²", &["m2"], D::Area, (1, 1)),
    unit("in²", &["in2"], D::Area, (16_129, 25_000_000)),
    unit("L", &["l"], D::Volume, (1, 1000)),
    unit("mL", &["ml", "cm³", "cm3", "cc"], D::Volume, (1, 1_000_000)),
    unit("m³", &["m3"], D::Volume, (1, 1)),
    unit("in³", &["in3"], D::Volume, (2_048_383, 125_000_000_000)),
    unit("US gal", &[], D::Volume, (473_176_473, 125_000_000_000)),
    unit("imp gal", &["UK gal"], D::Volume, (454_609, 100_000_000)),
    unit("kg", &[], D::Mass, (1, 1)),
    unit("g", &[], D::Mass, (1, 1000)),
    unit("lb", &["lbm"], D::Mass, (45_359_237, 100_000_000)),
    unit("s", &[], D::Time, (1, 1)),
    unit("min", &[], D::Time, (60, 1)),
    unit("h", &[], D::Time, (3600, 1)),
    scale("°C", &["degC"], (1, 1), (5463, 20)),
    scale("°F", &["degF"], (5, 9), (45_967, 180)),
    scale("K", &[], (1, 1), (0, 1)),
    unit("ΔK", &["Δ°C"], D::TemperatureDifference, (1, 1)),
    unit("bar gauge", &[], D::GaugePressure, (100_000, 1)),
    unit("kPa gauge", &[], D::GaugePressure, (1000, 1)),
    unit("MPa gauge", &[], D::GaugePressure, (1_000_000, 1)),
    unit("bar abs", &[], D::AbsolutePressure, (100_000, 1)),
    unit("kPa abs", &[], D::AbsolutePressure, (1000, 1)),
    unit("MPa abs", &[], D::AbsolutePressure, (1_000_000, 1)),
    unit("bar", &["bar diff"], D::PressureDifference, (100_000, 1)),
    unit("Pa", &["Pa diff"], D::PressureDifference, (1, 1)),
    unit("kPa", &["kPa diff"], D::PressureDifference, (1000, 1)),
    unit("N/mm²", &["N/mm2", "MPa", "MPa diff"], D::PressureDifference, (1_000_000, 1)),
    unit(
        "psi",
        &["psi diff", "lbf/in²", "lbf/in2"],
        D::PressureDifference,
        (8_896_443_230_521, 1_290_320_000),
    ),
    unit("N", &[], D::Force, (1, 1)),
    unit("kN", &[], D::Force, (1000, 1)),
    unit("lbf", &[], D::Force, (8_896_443_230_521, 2_000_000_000_000)),
    unit("kgf", &[], D::Force, (196_133, 20_000)),
    unit("N·m", &["Nm", "N m", "N-m"], D::Torque, (1, 1)),
    unit(
        "lbf·ft",
        &["lbf ft", "lbf-ft", "ft-lb", "ft-lbs", "lb-ft", "ft·lb", "ft lb"],
        D::Torque,
        (3_389_544_870_828_501, 2_500_000_000_000_000),
    ),
    unit(
        "lbf·in",
        &["lbf in", "lbf-in", "in-lb", "in-lbs", "lb-in", "in·lb", "in lb"],
        D::Torque,
        (1_129_848_290_276_167, 10_000_000_000_000_000),
    ),
    unit("kgf·m", &["kgf m", "kgf-m"], D::Torque, (196_133, 20_000)),
    unit("L/min", &["l/min", "lpm"], D::Flow, (1, 60_000)),
    unit("L/h", &["l/h"], D::Flow, (1, 3_600_000)),
    unit("L/s", &["l/s"], D::Flow, (1, 1000)),
    unit("m³/h", &["m3/h"], D::Flow, (1, 3600)),
    unit("m³/s", &["m3/s"], D::Flow, (1, 1)),
    unit("US gpm", &["US gal/min"], D::Flow, (157_725_491, 2_500_000_000_000)),
    unit("m/s", &[], D::Speed, (1, 1)),
    unit("ft/s", &[], D::Speed, (381, 1250)),
    unit("rev/min", &["rpm", "1/min", "min⁻¹", "strokes/min"], D::Rotation, (1, 60)),
    unit("rev/s", &[], D::Rotation, (1, 1)),
    unit("kW", &[], D::Power, (1000, 1)),
    unit("W", &[], D::Power, (1, 1)),
    unit("hp", &[], D::Power, (37_284_993_579_113_511, 50_000_000_000_000)),
    unit("mm²/s", &["mm2/s", "cSt"], D::KinematicViscosity, (1, 1_000_000)),
    unit("m²/s", &["m2/s"], D::KinematicViscosity, (1, 1)),
    unit("mPa·s", &["mPa s", "cP"], D::DynamicViscosity, (1, 1000)),
    unit("Pa·s", &["Pa s"], D::DynamicViscosity, (1, 1)),
    unit("kg/m³", &["kg/m3"], D::Density, (1, 1)),
    unit("g/cm³", &["g/cm3", "kg/L", "kg/l"], D::Density, (1000, 1)),
    unit("lb/ft³", &["lb/ft3"], D::Density, (5_669_904_625, 353_960_582)),
    unit("N/mm", &["kN/m"], D::SpringRate, (1000, 1)),
    unit("N/m", &[], D::SpringRate, (1, 1)),
    unit("lbf/in", &["lb/in"], D::SpringRate, (8_896_443_230_521, 50_800_000_000)),
    unit("°", &["deg"], D::Angle, (1, 360)),
    unit("turns", &["turn"], D::Angle, (1, 1)),
    unit("A", &[], D::Current, (1, 1)),
    unit("V", &[], D::Voltage, (1, 1)),
    unit("kV", &[], D::Voltage, (1000, 1)),
];

impl Dimension {
    /// The dimension for messages: `a length`.
    pub fn noun(self) -> &'static str {
        match self {
            Self::Number => "a plain number",
            Self::Length => "a length",
            Self::Area => "an area",
            Self::Volume => "a volume",
            Self::Mass => "a mass",
            Self::Time => "a time",
            Self::Temperature => "a temperature",
            Self::TemperatureDifference => "a difference of temperature",
            Self::GaugePressure => "a gauge pressure",
            Self::AbsolutePressure => "an absolute pressure",
            Self::PressureDifference => "a difference of pressure or a stress",
            Self::Force => "a force",
            Self::Torque => "a torque",
            Self::Flow => "a flow",
            Self::Speed => "a speed",
            Self::Rotation => "a speed of rotation",
            Self::Power => "a power",
            Self::KinematicViscosity => "a kinematic viscosity",
            Self::DynamicViscosity => "a dynamic viscosity",
            Self::Density => "a density",
            Self::SpringRate => "a spring rate",
            Self::Angle => "an angle",
            Self::Current => "an electric current",
            Self::Voltage => "a voltage",
        }
    }

    /// The dimension as one word, for programs.
    pub fn word(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::Length => "length",
            Self::Area => "area",
            Self::Volume => "volume",
            Self::Mass => "mass",
            Self::Time => "time",
            Self::Temperature => "temperature",
            Self::TemperatureDifference => "temperature_difference",
            Self::GaugePressure => "gauge_pressure",
            Self::AbsolutePressure => "absolute_pressure",
            Self::PressureDifference => "pressure_difference",
            Self::Force => "force",
            Self::Torque => "torque",
            Self::Flow => "flow",
            Self::Speed => "speed",
            Self::Rotation => "rotation",
            Self::Power => "power",
            Self::KinematicViscosity => "kinematic_viscosity",
            Self::DynamicViscosity => "dynamic_viscosity",
            Self::Density => "density",
            Self::SpringRate => "spring_rate",
            Self::Angle => "angle",
            Self::Current => "current",
            Self::Voltage => "voltage",
        }
    }

    /// Symbols of its units, for messages.
    pub fn symbols(self) -> Vec<&'static str> {
        let named = |unit: &&Unit| unit.dimension == self && !unit.symbol.is_empty();
        UNITS.iter().filter(named).map(|unit| unit.symbol).collect()
    }
}

impl Unit {
    /// The unit of `dimension` that is written like this.
    pub fn of(dimension: Dimension, text: &str) -> Option<&'static Self> {
        let known = crate::units::Unit::parse(text).map(crate::units::Unit::symbol);
        let of = || UNITS.iter().filter(|unit| unit.dimension == dimension);
        of().find(|unit| Some(unit.symbol) == known)
            .or_else(|| of().find(|unit| known.is_some_and(|known| unit.is_written(known))))
            .or_else(|| of().find(|unit| unit.is_written(text)))
    }

    /// A unit of any dimension that is written like this.
    pub fn any(text: &str) -> Option<&'static Self> {
        let known = crate::units::Unit::parse(text).map(crate::units::Unit::symbol);
        let is = |unit: &&Self| Some(unit.symbol) == known || unit.is_written(text);
        UNITS.iter().find(is)
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

    /// The exact SI value of a figure in this unit.
    pub fn to_si(&self, figure: &Ratio<BigInt>) -> Ratio<BigInt> {
        figure * ratio(self.factor) + ratio(self.offset)
    }

    /// The figure in this unit of an SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "factors are exact to 15 digits and more")]
        let [top, bottom, add, below] =
            [self.factor.0, self.factor.1, self.offset.0, self.offset.1].map(|n| n as f64);
        (si - add / below) * bottom / top
    }
}

fn ratio((above, below): (i64, i64)) -> Ratio<BigInt> {
    Ratio::new(BigInt::from(above), BigInt::from(below))
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
    fn lengths_are_those_of_units() {
        for unit in UNITS.iter().filter(|unit| unit.dimension == Dimension::Length) {
            let known = crate::units::Unit::parse(unit.symbol).expect(unit.symbol);
            assert_eq!(known.factor(), ratio(unit.factor), "{}", unit.symbol);
        }
    }
}
