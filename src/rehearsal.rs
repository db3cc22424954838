//! Rehearsal files: what they hold, and reading them from YAML. Playing them is `session`'s work.

pub mod model;
pub mod read;
pub mod write;

pub use read::{read, read_tree};
