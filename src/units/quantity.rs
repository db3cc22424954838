//! An exact quantity: a rational number of SI units with its dimension.

use num_bigint::BigInt;
use num_rational::Ratio;

/// What a quantity measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A plain number.
    Number,
    /// A length, in metres.
    Length,
}

/// An exact quantity.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Quantity {
    /// The value in SI units of the dimension.
    pub si: Ratio<BigInt>,
    /// What it measures.
    pub dimension: Dimension,
}
