//! Equipment files: what they hold, and reading them from YAML.

pub mod fasteners;
pub mod model;
pub mod read;
pub mod stack;

pub use read::{read, read_tree};
