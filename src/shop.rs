//! The shop file: who works here, with what, on which machines. Files and keys are `store`'s and
//! `record`'s matter.

pub mod model;
pub mod read;

pub use read::{read, read_tree};
