//! What a torque wrench gives at the fastener with an adapter on it, and how far one may be off.
//!
//! With the wrench `L` long, the adapter `E` long and the angle `θ` between them, a setting of `S`
//! gives `S · (L + E · cos θ) / L` at the fastener, by moments about it: straight on it gives more,
//! at a right angle the same. Nothing is corrected for a thread that is oiled where dry was asked:
//! no rule of thumb holds.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Signed as _, ToPrimitive as _, Zero as _};

use super::{Dimension, Quantity};

/// The decimal places of a cosine that is no plain fraction.
const COSINE_PLACES: u32 = 12;

/// An adapter as it is declared; what was not measured is missing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Declared {
    /// From the middle of the grip to the drive of the wrench.
    pub wrench: Option<Quantity>,
    /// From the drive of the wrench to the middle of the fastener.
    pub extension: Option<Quantity>,
    /// Between wrench and adapter; zero where the adapter prolongs the wrench.
    pub angle: Option<Quantity>,
}

/// An adapter whose geometry is known and turns the fastener.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adapter {
    gain: Ratio<BigInt>,
    is_exact: bool,
}

/// Why the torque at the fastener is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AdapterFault {
    /// A declared adapter without one of its figures.
    #[error(
        "an adapter is on the wrench and {0} is missing; measure it, the reading counts only then"
    )]
    Missing(&'static str),
    /// A figure of the wrong kind.
    #[error("{what} is {is}, and must be {wanted}")]
    Kind {
        /// Which figure.
        what: &'static str,
        /// What it measures.
        is: &'static str,
        /// What it must measure.
        wanted: &'static str,
    },
    /// A wrench of no length, or an adapter of less.
    #[error("{0} cannot be so short; measure it again")]
    Short(&'static str),
    /// The adapter reaches back to the hand or beyond.
    #[error("the adapter reaches back past the grip and would turn nothing; turn it the other way")]
    FoldsBack,
}

const WRENCH: &str = "the length of the wrench";
const EXTENSION: &str = "the length of the adapter";
const ANGLE: &str = "the angle between wrench and adapter";

impl Declared {
    /// The adapter, once all is known.
    ///
    /// # Errors
    /// What is missing, of another kind, or turns no fastener.
    pub fn adapter(&self) -> Result<Adapter, AdapterFault> {
        let wrench = known(self.wrench.as_ref(), WRENCH, Dimension::Length)?;
        let extension = known(self.extension.as_ref(), EXTENSION, Dimension::Length)?;
        let angle = known(self.angle.as_ref(), ANGLE, Dimension::Angle)?;
        if !wrench.is_positive() {
            return Err(AdapterFault::Short(WRENCH));
        }
        if extension.is_negative() {
            return Err(AdapterFault::Short(EXTENSION));
        }
        let (cosine, is_exact) = match plain_cosine(angle) {
            Some(cosine) => (cosine, true),
            // Without an extension the angle has no part in it.
            None => (cosine(angle), extension.is_zero()),
        };
        let gain = (wrench + extension * cosine) / wrench;
        if gain.is_positive() {
            Ok(Adapter { gain, is_exact })
        } else {
            Err(AdapterFault::FoldsBack)
        }
    }
}

fn known<'a>(
    figure: Option<&'a Quantity>,
    what: &'static str,
    wanted: Dimension,
) -> Result<&'a Ratio<BigInt>, AdapterFault> {
    let figure = figure.ok_or(AdapterFault::Missing(what))?;
    if figure.dimension == wanted {
        Ok(&figure.si)
    } else {
        let is = figure.dimension.noun();
        Err(AdapterFault::Kind { what, is, wanted: wanted.noun() })
    }
}

/// The part of a turn that an angle is off a whole number of turns, to either side: 0 to 1/2.
fn folded(turns: &Ratio<BigInt>) -> Ratio<BigInt> {
    let part = turns - turns.floor();
    let rest = Ratio::one() - &part;
    part.min(rest)
}

/// The cosine of an angle in turns, where it is a plain fraction; there are no other such angles.
fn plain_cosine(turns: &Ratio<BigInt>) -> Option<Ratio<BigInt>> {
    let twelfths = folded(turns) * BigInt::from(12);
    if !twelfths.is_integer() {
        return None;
    }
    let halves = match twelfths.to_integer().to_u8()? {
        0 => 2,
        2 => 1,
        3 => 0,
        4 => -1,
        6 => -2,
        _ => return None,
    };
    Some(Ratio::new(BigInt::from(halves), BigInt::from(2)))
}

/// The cosine of an angle in turns, to [`COSINE_PLACES`].
fn cosine(turns: &Ratio<BigInt>) -> Ratio<BigInt> {
    let turns = folded(turns).to_f64().unwrap_or_default();
    let scale = BigInt::from(10).pow(COSINE_PLACES);
    let cosine = Ratio::from_float(libm::cos(turns * std::f64::consts::TAU));
    Ratio::new((cosine.unwrap_or_else(Ratio::one) * &scale).round().to_integer(), scale)
}

impl Adapter {
    /// False where the cosine was rounded, to twelve places.
    pub fn is_exact(&self) -> bool {
        self.is_exact
    }

    /// How many times the setting comes to the fastener.
    pub fn gain(&self) -> &Ratio<BigInt> {
        &self.gain
    }

    /// The torque at the fastener with the wrench at `setting`: what limits apply to.
    #[must_use]
    pub fn at_fastener(&self, setting: &Quantity) -> Quantity {
        Quantity { si: &setting.si * &self.gain, dimension: setting.dimension }
    }

    /// What to set the wrench to, for `torque` at the fastener.
    #[must_use]
    pub fn setting_for(&self, torque: &Quantity) -> Quantity {
        Quantity { si: &torque.si / &self.gain, dimension: torque.dimension }
    }
}

/// How far a wrench is off, as a share of what the reference shows: set 100 N·m, 98 N·m measured,
/// is 2/98. `None` for a reference of zero or of another kind.
pub fn deviation(set: &Quantity, reference: &Quantity) -> Option<Ratio<BigInt>> {
    let off = set.minus(reference)?.over(reference)?;
    (off.dimension == Dimension::Number).then_some(off.si)
}

/// How far an adjustable wrench with a scale may be off by ISO 6789 (type II, class A), as a share:
/// 6 % where it goes up to 10 N·m or less, else 4 %.
pub fn permitted_deviation(greatest: &Quantity) -> Option<Ratio<BigInt>> {
    if greatest.dimension != Dimension::Torque {
        return None;
    }
    let is_small = greatest.si <= Ratio::from_integer(10.into());
    Some(Ratio::new(if is_small { 6 } else { 4 }.into(), 100.into()))
}

/// Whether a wrench that goes up to `greatest` keeps to ISO 6789; on the limit it does.
pub fn conforms(set: &Quantity, reference: &Quantity, greatest: &Quantity) -> Option<bool> {
    Some(deviation(set, reference)?.abs() <= permitted_deviation(greatest)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    fn read(text: &str) -> Quantity {
        Quantity::parse_literal(text).unwrap().0
    }

    fn declared(wrench: &str, extension: &str, angle: &str) -> Declared {
        let read = |text: &str| (!text.is_empty()).then(|| read(text));
        Declared { wrench: read(wrench), extension: read(extension), angle: read(angle) }
    }

    #[test]
    fn o14_plain_angles_are_exact_and_the_others_say_that_they_are_not() {
        let target = read("80 N·m");
        for (angle, setting, is_exact) in [
            ("0 °", "71.1 N·m", true),
            ("45 °", "73.5 N·m", false),
            ("60 °", "75.3 N·m", true),
            ("90 °", "80.0 N·m", true),
            ("120 °", "85.3 N·m", true),
            ("180 °", "91.4 N·m", true),
            ("270 °", "80.0 N·m", true),
            ("-60 °", "75.3 N·m", true),
            ("420 °", "75.3 N·m", true),
            ("0.25 turn", "80.0 N·m", true),
        ] {
            let adapter = declared("400 mm", "50 mm", angle).adapter().unwrap();
            let set = adapter.setting_for(&target);
            assert_eq!(set.render_rounded(Unit::NewtonMetre, 1), setting, "{angle}");
            assert_eq!(adapter.is_exact(), is_exact, "{angle}");
            assert_eq!(adapter.at_fastener(&set), target, "{angle}");
        }
        let right_angle = declared("400 mm", "50 mm", "90 °").adapter().unwrap();
        assert_eq!(right_angle.at_fastener(&target), target);
        let none = declared("400 mm", "0 mm", "45 °").adapter().unwrap();
        assert!(none.is_exact() && none.gain().is_one());
    }

    #[test]
    fn o14_an_adapter_that_is_not_measured_holds_the_reading() {
        for (wrench, extension, angle, fault) in [
            ("", "50 mm", "0 °", "the length of the wrench"),
            ("400 mm", "", "0 °", "the length of the adapter"),
            ("400 mm", "50 mm", "", "the angle between wrench and adapter"),
        ] {
            assert_eq!(
                declared(wrench, extension, angle).adapter().unwrap_err().to_string(),
                format!(
                    "an adapter is on the wrench and {fault} is missing; measure it, the reading \
                     counts only then"
                )
            );
        }
        let fault = |wrench, extension, angle| declared(wrench, extension, angle).adapter();
        assert_eq!(fault("400 mm", "400 mm", "180 °"), Err(AdapterFault::FoldsBack));
        assert_eq!(fault("0 mm", "50 mm", "0 °"), Err(AdapterFault::Short(WRENCH)));
        assert_eq!(fault("400 mm", "-50 mm", "0 °"), Err(AdapterFault::Short(EXTENSION)));
        assert_eq!(
            fault("400 mm", "50 mm", "90").unwrap_err().to_string(),
            "the angle between wrench and adapter is a plain number, and must be an angle"
        );
    }

    #[test]
    fn a_wrench_at_its_permitted_deviation_conforms() {
        let conforms = |set: &str, reference: &str, greatest: &str| {
            conforms(&read(set), &read(reference), &read(greatest))
        };
        assert_eq!(conforms("60 N·m", "62.5 N·m", "100 N·m"), Some(true));
        assert_eq!(conforms("60 N·m", "62.6 N·m", "100 N·m"), Some(false));
        assert_eq!(conforms("10 N·m", "9.5 N·m", "10 N·m"), Some(true));
        assert_eq!(conforms("10 N·m", "9.5 N·m", "11 N·m"), Some(false));
        assert_eq!(conforms("10 N·m", "0 N·m", "11 N·m"), None);
        assert_eq!(conforms("10 mm", "9 N·m", "11 N·m"), None);
    }
}
