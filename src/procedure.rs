//! Procedure files: what they hold, and reading them from YAML with every fault of a file at once.
//!
//! Joining procedures with each other and with equipment is `walk::flow`'s work.

pub mod model;
pub mod read;
pub mod sign;

pub use read::{read, read_tree};
