//! The walk: which step is asked, what an answer leads to, what a person may do.
//!
//! A pure function of the files and the entries. There is no stored place in the procedure: undo,
//! correction, resume and replay are all the same fold on other input. Nothing here touches files,
//! clocks or the terminal.

#![warn(clippy::wildcard_enum_match_arm, clippy::arithmetic_side_effects)]

pub mod accept;
pub use crate::address;
pub mod command;
pub mod compile;
pub mod decide;
pub mod disposition;
pub mod event;
pub mod exceptions;
pub mod fitted;
pub mod flow;
pub mod hands;
pub mod instruments;
pub mod job;
pub mod late;
pub mod measure;
mod names;
pub mod open;
pub mod place;
mod reached;
pub mod refusal;
pub mod safety;
pub mod several;
pub mod stack;
pub mod tighten;
pub mod wait;
pub mod work_out;
pub mod wrench;

pub use address::{Address, Segment};
pub use command::Command;
pub use compile::{Library, compile};
pub use decide::{actor, decide, decided};
pub use event::{Answer, Entry, Event, Judged, Next};
pub use flow::Flow;
pub use job::{Files, JobState, replay};
pub use late::Late;
pub use refusal::Refusal;
