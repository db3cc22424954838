//! Quantities, units, what people type, limits.
//!
//! Every value is an exact rational in SI units, so a comparison at a limit never depends on
//! floating point. This version has lengths and plain numbers.

pub mod duration;
pub mod entry;
pub mod fault;
pub mod limit;
pub mod quantity;
pub mod unit;

pub use entry::Reading;
pub use fault::EntryFault;
pub use limit::{Limit, LimitFault, Side};
pub use quantity::{Dimension, Quantity};
pub use unit::Unit;
