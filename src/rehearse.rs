//! Rehearsals: plays them without a screen, says what they do not take, writes what is missing.
//!
//! A rehearsal is played through a real session: same decisions, same journal, same signatures. Only
//! the disk, the clock and the keys are made on the spot, in memory, so that nothing of the user's is
//! needed or touched. Finding files and printing is for `cli`.

mod alone;
pub mod bench;
mod candidates;
pub mod coverage;
mod edits;
mod memory;
pub mod missing;
pub mod mutate;
pub mod places;
mod search;
mod write;

pub use bench::{Bench, Played, RehearseError, Shelf, Text};
pub use coverage::{Coverage, Group, Target};
pub use missing::{Written, write_missing};
pub use mutate::{Fate, Mutant, mutate};
