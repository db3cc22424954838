//! Readings of height at places, and the same as whole numbers, in which sums are quick and exact.

use num_bigint::BigInt;

use super::exact::{Exact, common};

/// A reading: where it was taken (one place along an edge, two on a face) and its height.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The place, in metres.
    pub at: Vec<Exact>,
    /// The height, in metres.
    pub height: Exact,
}

/// Readings as whole numbers: one scale for places, one for heights.
pub(super) struct Whole {
    pub(super) places: Vec<Vec<BigInt>>,
    pub(super) heights: Vec<BigInt>,
    /// How many of the whole numbers are a metre of place.
    pub(super) place_scale: BigInt,
    /// How many are a metre of height.
    pub(super) height_scale: BigInt,
}

impl Whole {
    pub(super) fn of(readings: &[Reading]) -> Self {
        let place_scale = common(readings.iter().flat_map(|reading| &reading.at));
        let height_scale = common(readings.iter().map(|reading| &reading.height));
        let whole = |number: &Exact, scale: &BigInt| number.numer() * (scale / number.denom());
        Self {
            places: readings
                .iter()
                .map(|reading| reading.at.iter().map(|at| whole(at, &place_scale)).collect())
                .collect(),
            heights: readings.iter().map(|reading| whole(&reading.height, &height_scale)).collect(),
            place_scale,
            height_scale,
        }
    }
}
