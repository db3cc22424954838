//! The walk: which step is asked, what an answer leads to, what a person may do.
//!
//! A pure function of the files and the entries. There is no stored place in the procedure: undo,
//! correction, resume and replay are all the same fold on other input. Nothing here touches files,
//! clocks or the terminal.

pub mod address;
pub mod event;

pub use address::{Address, Segment};
pub use event::{Answer, Entry, Event, Judged, Next};
