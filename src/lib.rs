//! witnessmark: guided overhaul procedures in a terminal.
//!
//! The library holds everything; `main` only calls [`cli`]. See DEVELOPERS.md for the map.

pub mod diag;
pub mod equipment;
pub mod expr;
pub mod ids;
pub mod language;
pub mod procedure;
pub mod rehearsal;
pub mod shop;
pub mod source;
pub mod units;
pub mod visible;
pub mod walk;
pub mod yaml;
