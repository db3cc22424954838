//! Limits on quantities; bounds are inclusive.

use super::{Quantity, Unit};

/// A limit: at least one bound, both of one dimension, `at_least <= at_most`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// The least value that passes; that value itself passes.
    pub at_least: Option<Quantity>,
    /// The greatest value that passes; that value itself passes.
    pub at_most: Option<Quantity>,
    /// The unit that the limit was written in, for showing it.
    pub unit: Unit,
}

/// Where a reading lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Below the least.
    Below,
    /// Within, bounds included.
    Within,
    /// Above the greatest.
    Above,
}
