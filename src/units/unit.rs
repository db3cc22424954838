//! The table of units.

use super::quantity::Dimension;

/// A unit of the table. Copies are cheap; two are equal when they are the same row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// No unit: a plain number.
    One,
    /// Metre.
    Metre,
    /// Centimetre.
    Centimetre,
    /// Millimetre.
    Millimetre,
    /// Micrometre.
    Micrometre,
    /// International inch.
    Inch,
    /// International foot.
    Foot,
    /// A thousandth of an inch.
    Thou,
}

impl Unit {
    /// What it measures.
    pub fn dimension(self) -> Dimension {
        if self == Self::One { Dimension::Number } else { Dimension::Length }
    }
}
