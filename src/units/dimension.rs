//! What a quantity measures, and what comes of two such kinds in a sum, a product or a quotient.
//!
//! Figures are the business of `quantity`.

use super::unit::Unit;

/// What a quantity measures. Two kinds of one physical dimension, such as gauge and absolute
/// pressure, are different here: mixing them is a mistake.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A plain number.
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
    /// A pressure above that of the air, in pascal.
    GaugePressure,
    /// A pressure above vacuum, in pascal.
    AbsolutePressure,
    /// A difference of two pressures, in pascal.
    PressureDifference,
    /// A force, in newtons.
    Force,
    /// A torque, in newton metres; energy is not among the dimensions.
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

/// The powers of metre, kilogram and second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Powers([i8; 3]);

impl Powers {
    fn zip_with(self, other: Self, join: impl Fn(i8, i8) -> i8) -> Self {
        let mut joined = self.0;
        for (one, other) in joined.iter_mut().zip(other.0) {
            *one = join(*one, other);
        }
        Self(joined)
    }
}

impl Dimension {
    /// Every dimension.
    pub const ALL: &'static [Self] = &[
        Self::Number,
        Self::Length,
        Self::Area,
        Self::Volume,
        Self::Mass,
        Self::Time,
        Self::Temperature,
        Self::TemperatureDifference,
        Self::GaugePressure,
        Self::AbsolutePressure,
        Self::PressureDifference,
        Self::Force,
        Self::Torque,
        Self::Flow,
        Self::Speed,
        Self::Rotation,
        Self::Power,
        Self::KinematicViscosity,
        Self::DynamicViscosity,
        Self::Density,
        Self::SpringRate,
        Self::Angle,
        Self::Current,
        Self::Voltage,
    ];

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
            Self::PressureDifference => "a difference of pressure",
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

    /// The SI unit of the dimension.
    pub fn base(self) -> Unit {
        match self {
            Self::Number => Unit::One,
            Self::Length => Unit::Metre,
            Self::Area => Unit::SquareMetre,
            Self::Volume => Unit::CubicMetre,
            Self::Mass => Unit::Kilogram,
            Self::Time => Unit::Second,
            Self::Temperature => Unit::Kelvin,
            Self::TemperatureDifference => Unit::KelvinDifference,
            Self::GaugePressure => Unit::PascalGauge,
            Self::AbsolutePressure => Unit::PascalAbs,
            Self::PressureDifference => Unit::PascalDiff,
            Self::Force => Unit::Newton,
            Self::Torque => Unit::NewtonMetre,
            Self::Flow => Unit::CubicMetrePerSecond,
            Self::Speed => Unit::MetrePerSecond,
            Self::Rotation => Unit::RevolutionPerSecond,
            Self::Power => Unit::Watt,
            Self::KinematicViscosity => Unit::SquareMetrePerSecond,
            Self::DynamicViscosity => Unit::PascalSecond,
            Self::Density => Unit::KilogramPerCubicMetre,
            Self::SpringRate => Unit::NewtonPerMetre,
            Self::Angle => Unit::Turn,
            Self::Current => Unit::Ampere,
            Self::Voltage => Unit::Volt,
        }
    }

    /// The unit that a shop uses where nobody has said otherwise.
    pub fn usual(self) -> Unit {
        match self {
            Self::Number => Unit::One,
            Self::Length => Unit::Millimetre,
            Self::Area => Unit::SquareMillimetre,
            Self::Volume => Unit::Litre,
            Self::Mass => Unit::Kilogram,
            Self::Time => Unit::Minute,
            Self::Temperature => Unit::Celsius,
            Self::TemperatureDifference => Unit::KelvinDifference,
            Self::GaugePressure => Unit::BarGauge,
            Self::AbsolutePressure => Unit::BarAbs,
            Self::PressureDifference => Unit::BarDiff,
            Self::Force => Unit::Newton,
            Self::Torque => Unit::NewtonMetre,
            Self::Flow => Unit::LitrePerMinute,
            Self::Speed => Unit::MetrePerSecond,
            Self::Rotation => Unit::RevolutionPerMinute,
            Self::Power => Unit::Kilowatt,
            Self::KinematicViscosity => Unit::Centistokes,
            Self::DynamicViscosity => Unit::Centipoise,
            Self::Density => Unit::KilogramPerCubicMetre,
            Self::SpringRate => Unit::NewtonPerMillimetre,
            Self::Angle => Unit::Degree,
            Self::Current => Unit::Ampere,
            Self::Voltage => Unit::Volt,
        }
    }

    /// The powers of metre, kilogram and second, for what products and quotients are made of. None
    /// for scales with a zero of their own, whose multiples mean nothing, and for what no product of
    /// the others gives.
    fn powers(self) -> Option<Powers> {
        Some(Powers(match self {
            Self::Number => [0, 0, 0],
            Self::Length => [1, 0, 0],
            Self::Area => [2, 0, 0],
            Self::Volume => [3, 0, 0],
            Self::Mass => [0, 1, 0],
            Self::Time => [0, 0, 1],
            Self::PressureDifference => [-1, 1, -2],
            Self::Force => [1, 1, -2],
            Self::Torque => [2, 1, -2],
            Self::Flow => [3, 0, -1],
            Self::Speed => [1, 0, -1],
            Self::Rotation => [0, 0, -1],
            Self::Power => [2, 1, -3],
            Self::KinematicViscosity => [2, 0, -1],
            Self::DynamicViscosity => [-1, 1, -1],
            Self::Density => [-3, 1, 0],
            Self::SpringRate => [0, 1, -2],
            Self::Temperature
            | Self::TemperatureDifference
            | Self::GaugePressure
            | Self::AbsolutePressure
            | Self::Angle
            | Self::Current
            | Self::Voltage => return None,
        }))
    }

    fn of_powers(powers: Powers) -> Option<Self> {
        Self::ALL.iter().copied().find(|dimension| dimension.powers() == Some(powers))
    }

    /// The dimension of a product, or `None` where there is none such.
    pub fn times(self, other: Self) -> Option<Self> {
        match (self, other) {
            // Twice 20 °C is not 40 °C.
            (Self::Number, Self::Temperature) | (Self::Temperature, Self::Number) => None,
            (Self::Number, any) | (any, Self::Number) => Some(any),
            _ => {
                let (one, other) = (self.powers()?, other.powers()?);
                Self::of_powers(one.zip_with(other, |a, b| a + b))
            }
        }
    }

    /// The dimension of a quotient, or `None` where there is none such.
    pub fn over(self, other: Self) -> Option<Self> {
        match (self, other) {
            (Self::Temperature, _) | (_, Self::Temperature) => None,
            (any, Self::Number) => Some(any),
            (one, same) if one == same => Some(Self::Number),
            _ => {
                let (one, other) = (self.powers()?, other.powers()?);
                Self::of_powers(one.zip_with(other, |a, b| a - b))
            }
        }
    }

    /// The dimension of a sum, or `None` where the two cannot be added: a temperature and a
    /// difference make a temperature, and two temperatures make nothing.
    pub fn plus(self, other: Self) -> Option<Self> {
        match (self.difference(), other.difference()) {
            // A scale and a difference on it, in either order.
            (Some(step), _) if step == other => Some(self),
            (_, Some(step)) if step == self => Some(other),
            (None, None) if self == other => Some(self),
            _ => None,
        }
    }

    /// The dimension of a difference, or `None` where there is none such: two temperatures make a
    /// difference, a gauge and an absolute pressure make nothing.
    pub fn minus(self, other: Self) -> Option<Self> {
        match self.difference() {
            Some(step) if other == self => Some(step),
            Some(step) if other == step => Some(self),
            None if self == other => Some(self),
            _ => None,
        }
    }

    /// How to mend a sum, a difference or a comparison of two kinds of one dimension.
    pub fn mend(self, other: Self) -> Option<&'static str> {
        use Dimension::{AbsolutePressure, GaugePressure, Temperature, TemperatureDifference};
        match (self, other) {
            (GaugePressure, AbsolutePressure) | (AbsolutePressure, GaugePressure) => Some(
                "they are counted from different zeros, and the air's pressure between them changes; \
                 give both in `gauge` or both in `abs`",
            ),
            (Temperature, Temperature | TemperatureDifference)
            | (TemperatureDifference, Temperature) => {
                Some("a difference of temperature is written in `ΔK` or `Δ°F`")
            }
            // The same scale twice, or a scale and a difference on it.
            (one, other)
                if one.step() == other.step() && (one != other || one.difference().is_some()) =>
            {
                Some("a difference of pressure is written with `diff`, such as `0.2 bar diff`")
            }
            _ => None,
        }
    }

    /// What differences of it are: itself, but for the scales with a zero of their own.
    #[must_use]
    pub fn step(self) -> Self {
        self.difference().unwrap_or(self)
    }

    /// For a scale with a zero of its own: what its differences are.
    fn difference(self) -> Option<Self> {
        match self {
            Self::Temperature => Some(Self::TemperatureDifference),
            Self::GaugePressure | Self::AbsolutePressure => Some(Self::PressureDifference),
            _ => None,
        }
    }
}
