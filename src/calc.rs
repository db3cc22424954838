//! Named calculations: pure functions with formula, range and source.

pub mod atmosphere;
pub mod bounds;
pub mod fluids;
pub mod friction;
pub mod oil;
pub mod suction;
pub mod water;
