//! What a figure is on the other scale that people read: millimetres beside inches, newton metres
//! beside pound-force inches. For showing only: no verdict looks at it.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Signed as _};

use super::quantity::ten_to;
use super::{Quantity, Reading, Unit};

/// Figures that are shown of a conversion that does not end.
const FIGURES: usize = 4;
/// The most places behind the point.
const PLACES_MAX: usize = 6;
/// From so many newton metres on, wrenches are marked in feet instead of inches.
const LARGE_TORQUE: i32 = 20;

impl Unit {
    /// The unit of the other scale that `value`, in this one, is most often read in; `None` where
    /// no other is common.
    pub fn counterpart(self, value: &Quantity) -> Option<Self> {
        Some(match self {
            Self::Millimetre => Self::Inch,
            Self::Micrometre => Self::Thou,
            Self::Inch => Self::Millimetre,
            Self::Thou => Self::Micrometre,
            Self::NewtonMetre if value.si.abs() < Ratio::from_integer(LARGE_TORQUE.into()) => {
                Self::PoundForceInch
            }
            Self::NewtonMetre => Self::PoundForceFoot,
            Self::PoundForceInch
            | Self::PoundForceFoot
            | Self::KilogramForceMetre
            | Self::KilogramForceCentimetre => Self::NewtonMetre,
            Self::BarGauge | Self::KilopascalGauge | Self::MegapascalGauge => Self::PsiGauge,
            Self::BarAbs | Self::KilopascalAbs | Self::MegapascalAbs => Self::PsiAbs,
            Self::BarDiff | Self::KilopascalDiff | Self::MegapascalDiff => Self::PsiDiff,
            Self::PsiGauge => Self::BarGauge,
            Self::PsiAbs => Self::BarAbs,
            Self::PsiDiff => Self::BarDiff,
            Self::Celsius => Self::Fahrenheit,
            Self::Fahrenheit => Self::Celsius,
            Self::LitrePerMinute | Self::CubicMetrePerHour => Self::UsGallonPerMinute,
            Self::UsGallonPerMinute | Self::ImperialGallonPerMinute => Self::LitrePerMinute,
            Self::Kilogram => Self::Pound,
            Self::Pound => Self::Kilogram,
            Self::Newton | Self::Kilonewton => Self::PoundForce,
            Self::PoundForce => Self::Newton,
            _ => return None,
        })
    }
}

impl Reading {
    /// The figure as it would be in `asked`, the unit of the field, or where it was typed in that
    /// one, in its counterpart: `= 37.846 mm`, `≈ 1.49 in`. `None` where there is nothing to add.
    pub fn beside(&self, asked: Unit) -> Option<String> {
        let unit = if self.unit == asked { asked.counterpart(&self.value)? } else { asked };
        if unit.dimension() != self.value.dimension {
            return None;
        }
        let places = places(&self.value.in_unit(unit));
        let is_whole = (self.value.in_unit(unit) * ten_to(places)).is_integer();
        let text = if is_whole {
            self.value.render(unit)
        } else {
            self.value.render_rounded(unit, places)
        };
        Some(format!("{} {text}", if is_whole { "=" } else { "≈" }))
    }
}

/// The places behind the point that leave [`FIGURES`] figures of `value`.
fn places(value: &Ratio<BigInt>) -> usize {
    let mut top = Ratio::<BigInt>::one();
    let mut places = FIGURES;
    while places > 0 && value.abs() >= top {
        top *= BigInt::from(10);
        places = places.saturating_sub(1);
    }
    let mut bottom = Ratio::new(BigInt::one(), BigInt::from(10));
    while (FIGURES..PLACES_MAX).contains(&places) && value.abs() < bottom {
        bottom /= BigInt::from(10);
        places = places.saturating_add(1);
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_stands_beside_its_counterpart_with_four_figures() {
        let beside = |text: &str, asked: Unit| Reading::parse(text, asked).unwrap().beside(asked);
        let cases = [
            ("37.85", Unit::Millimetre, Some("≈ 1.490 in")),
            ("25.4", Unit::Millimetre, Some("= 1 in")),
            ("0.05", Unit::Millimetre, Some("≈ 0.001969 in")),
            ("1.49 in", Unit::Millimetre, Some("≈ 37.85 mm")),
            ("10", Unit::NewtonMetre, Some("≈ 88.51 lbf·in")),
            ("-30", Unit::NewtonMetre, Some("≈ -22.13 lbf·ft")),
            ("90 lb-in", Unit::NewtonMetre, Some("≈ 10.17 N·m")),
            ("40", Unit::BarGauge, Some("≈ 580.2 psi gauge")),
            ("20", Unit::Celsius, Some("= 68 °F")),
            ("12500", Unit::Newton, Some("≈ 2810 lbf")),
            ("3", Unit::One, None),
            ("60", Unit::Second, None),
        ];
        for (text, asked, expected) in cases {
            assert_eq!(beside(text, asked).as_deref(), expected, "{text}");
        }
    }

    #[test]
    fn counterparts_measure_the_same() {
        for unit in Unit::ALL {
            let one = Quantity::new(Ratio::one(), *unit);
            if let Some(other) = unit.counterpart(&one) {
                assert_eq!(unit.dimension(), other.dimension(), "{unit:?}");
                assert_ne!(*unit, other);
            }
        }
    }
}
