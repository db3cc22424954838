//! How far a reading may be from the truth, as a certificate states it.
//!
//! What follows for a verdict is told by `decision` and `risk`.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, Zero as _};

use super::{Dimension, EntryFault, Quantity, Unit};

/// An expanded uncertainty with its coverage factor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Uncertainty {
    expanded: Quantity,
    k: Ratio<BigInt>,
}

/// Why figures are no uncertainty.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UncertaintyFault {
    /// Below zero.
    #[error("an uncertainty is not negative")]
    Negative,
    /// A coverage factor of zero or less.
    #[error("a coverage factor `k` is greater than 0, most often 2")]
    Coverage,
    /// A point on a scale of temperature.
    #[error("an uncertainty of a temperature is a difference; write it in `ΔK` or `Δ°F`")]
    Temperature,
    /// No figure at all.
    #[error(transparent)]
    Figure(#[from] EntryFault),
}

impl Uncertainty {
    /// `expanded`, stated with the coverage factor `k`. A pressure may stand as one of its scale.
    ///
    /// # Errors
    /// A negative uncertainty, a factor of zero or less, a temperature that is no difference.
    pub fn new(expanded: Quantity, k: Ratio<BigInt>) -> Result<Self, UncertaintyFault> {
        if expanded.dimension == Dimension::Temperature {
            return Err(UncertaintyFault::Temperature);
        }
        if expanded.si.is_negative() {
            return Err(UncertaintyFault::Negative);
        }
        if !k.is_positive() {
            return Err(UncertaintyFault::Coverage);
        }
        let dimension = expanded.dimension.step();
        Ok(Self { expanded: Quantity { si: expanded.si, dimension }, k })
    }

    /// Reads both as a certificate states them: `0.02 mm` and `2`.
    ///
    /// # Errors
    /// What is no figure, and all that [`Uncertainty::new`] refuses.
    pub fn parse_literal(expanded: &str, k: &str) -> Result<Self, UncertaintyFault> {
        let (k, unit) = Quantity::parse_literal(k)?;
        if unit != Unit::One {
            return Err(UncertaintyFault::Coverage);
        }
        Self::new(Quantity::parse_literal(expanded)?.0, k.si)
    }

    /// The expanded uncertainty, as a difference.
    pub fn expanded(&self) -> &Quantity {
        &self.expanded
    }

    /// The coverage factor.
    pub fn k(&self) -> &Ratio<BigInt> {
        &self.k
    }

    /// The standard uncertainty: the expanded one over `k`.
    pub fn standard(&self) -> Quantity {
        Quantity { si: &self.expanded.si / &self.k, dimension: self.expanded.dimension }
    }

    /// True where the reading is taken for the truth.
    pub fn is_zero(&self) -> bool {
        self.expanded.si.is_zero()
    }

    /// True where it can be that of a reading which measures `dimension`.
    pub fn is_of(&self, dimension: Dimension) -> bool {
        self.expanded.dimension == dimension.step()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_uncertainty_is_a_difference_with_its_factor() {
        let read = |expanded, k| Uncertainty::parse_literal(expanded, k);
        let u = read("0.05 mm", "2").unwrap();
        assert_eq!(u.standard().render(Unit::Millimetre), "0.025 mm");
        assert!(u.is_of(Dimension::Length) && !u.is_of(Dimension::Torque));
        let u = read("0.1 bar gauge", "1.65").unwrap();
        assert_eq!(u, read("0.1 bar diff", "1.65").unwrap());
        assert!(u.is_of(Dimension::GaugePressure) && u.is_of(Dimension::AbsolutePressure));
        assert!(read("0.5 ΔK", "2").unwrap().is_of(Dimension::Temperature));
        for (expanded, k, fault) in [
            ("-0.1 mm", "2", UncertaintyFault::Negative),
            ("0.1 mm", "0", UncertaintyFault::Coverage),
            ("0.1 mm", "2 mm", UncertaintyFault::Coverage),
            ("0.5 °C", "2", UncertaintyFault::Temperature),
        ] {
            assert_eq!(read(expanded, k), Err(fault));
        }
        assert!(matches!(read("x", "2"), Err(UncertaintyFault::Figure(_))));
    }
}
