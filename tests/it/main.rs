//! Tests of the program from outside, all in one binary.
#![expect(clippy::disallowed_methods, reason = "tests lay out files of their own")]
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test ends where something it relies on is not so"
)]

mod crash;
mod interrupted;
mod journal;
mod language;
mod legality;
mod plain;
mod reference;
mod rehearsals;
mod screen;
mod ssh_keygen;
mod store;
mod support;
mod tidy;
mod tui;
mod walk;
