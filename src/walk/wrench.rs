//! What a torque wrench gives at the fastener, with an adapter or without.
//!
//! What an adapter does to the setting is `units::torque_wrench`'s to say. That is exact where the
//! cosine of its angle is a plain fraction; for other angles the torque is rounded to 6 digits.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "rationals of any size do not overflow, and divisors are held against zero before"
)]

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::Zero as _;

use super::event::{Adapter, Wrench};
use crate::units::torque_wrench::Declared;
use crate::units::{Quantity, Unit};

/// The unit of an adapter's length.
pub const LENGTH: Unit = Unit::Millimetre;
/// The unit of an adapter's angle.
pub const ANGLE: Unit = Unit::Degree;
/// The digits of a torque that is worked out in floating point.
pub const DIGITS: usize = 6;

/// A torque as it was worked out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtFastener {
    /// The torque.
    pub torque: Quantity,
    /// False where it was rounded to [`DIGITS`] digits.
    pub exact: bool,
}

type Figure = Ratio<BigInt>;

/// The torque at the fastener; `None` for an adapter that no wrench can turn with.
pub fn at_fastener(wrench: &Wrench) -> Option<AtFastener> {
    let setting = &wrench.setting.value;
    let Some(adapter) = &wrench.adapter else {
        return Some(AtFastener { torque: setting.clone(), exact: true });
    };
    let (gain, exact) = gain(adapter)?;
    let torque = Quantity { si: &setting.si * gain, dimension: setting.dimension };
    let torque = if exact { torque } else { rounded(&torque, wrench.setting.unit) };
    Some(AtFastener { torque, exact })
}

/// The setting that gives `torque` at the fastener.
pub fn setting_for(torque: &Quantity, adapter: Option<&Adapter>) -> Option<Quantity> {
    let Some(adapter) = adapter else { return Some(torque.clone()) };
    let (gain, _) = gain(adapter)?;
    Some(Quantity { si: &torque.si / gain, dimension: torque.dimension })
}

/// How much more comes to the fastener than the wrench is set to, and whether that is exact.
fn gain(adapter: &Adapter) -> Option<(Figure, bool)> {
    let declared = Declared {
        wrench: Some(adapter.length.value.clone()),
        extension: Some(adapter.extension.value.clone()),
        angle: Some(adapter.angle.value.clone()),
    };
    let adapter = declared.adapter().ok()?;
    Some((adapter.gain().clone(), adapter.is_exact()))
}

/// `torque` to [`DIGITS`] digits in `unit`.
fn rounded(torque: &Quantity, unit: Unit) -> Quantity {
    let figure = torque.in_unit(unit);
    let mut scale = Figure::from_integer(1.into());
    let ten = Figure::from_integer(10.into());
    let most = Figure::from_integer(BigInt::from(10).pow(6));
    let least = &most / &ten;
    while !figure.is_zero() && &figure * &scale < least {
        scale *= &ten;
    }
    while &figure * &scale >= most {
        scale /= &ten;
    }
    Quantity::new((figure * &scale).round() / scale, unit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::Thread;
    use crate::units::Reading;
    use crate::walk::event::InstrumentSnapshot;

    fn wrench(setting: &str, adapter: Option<(&str, &str, &str)>) -> Wrench {
        let read = |text: &str, unit| Reading::parse(text, unit).unwrap();
        Wrench {
            instrument: InstrumentSnapshot {
                id: "W-01".to_owned(),
                kind: crate::ids::Name::new("torque_wrench").unwrap(),
                certificate_sha256: None,
                calibration_due: chrono::NaiveDate::MAX,
                certificate: "X".to_owned(),
                resolution: "1".to_owned(),
                uncertainty: "1".to_owned(),
                k: "2".to_owned(),
            },
            setting: read(setting, Unit::NewtonMetre),
            adapter: adapter.map(|(length, extension, angle)| Adapter {
                length: read(length, LENGTH),
                extension: read(extension, LENGTH),
                angle: read(angle, ANGLE),
            }),
            thread: Thread::Dry,
        }
    }

    fn newton_metres(text: &str) -> Quantity {
        Reading::parse(text, Unit::NewtonMetre).unwrap().value
    }

    #[test]
    fn o14_settings_with_an_adapter_are_those_worked_by_hand() {
        let table = include_str!("../../tests/reference/torque_adapter.csv");
        let rows = table.lines().filter(|line| !line.starts_with('#'));
        let mut n_rows = 0;
        for row in rows {
            let [torque, length, extension, angle, set] =
                row.split(',').collect::<Vec<_>>().try_into().unwrap();
            let wrench = wrench("80", Some((length, extension, angle)));
            let setting = setting_for(&newton_metres(torque), wrench.adapter.as_ref()).unwrap();
            let shown = setting.render_rounded(Unit::NewtonMetre, 1);
            assert_eq!(shown, format!("{set} {}", Unit::NewtonMetre.symbol()), "{row}");
            n_rows += 1;
        }
        assert_eq!(n_rows, 8);
    }

    #[test]
    fn o14_plain_angles_are_exact_and_others_are_rounded_and_say_so() {
        let at = |angle: &str| at_fastener(&wrench("80", Some(("400", "50", angle)))).unwrap();
        let exact = [("0", "90"), ("60", "85"), ("90", "80"), ("120", "75"), ("180", "70")];
        for (angle, torque) in exact {
            assert_eq!(at(angle), AtFastener { torque: newton_metres(torque), exact: true });
        }
        // 80 * (400 + 50 * cos 45 degrees) / 400 = 87.0710678...
        assert_eq!(at("45"), AtFastener { torque: newton_metres("87.0711"), exact: false });
        assert_eq!(at("89.9").torque, newton_metres("80.0175"));
        assert_eq!(at_fastener(&wrench("80", None)).unwrap().torque, newton_metres("80"));
    }

    #[test]
    fn o14_an_adapter_that_folds_back_past_the_hand_turns_nothing() {
        assert_eq!(at_fastener(&wrench("80", Some(("400", "400", "180")))), None);
        assert_eq!(at_fastener(&wrench("80", Some(("0", "50", "0")))), None);
    }
}
