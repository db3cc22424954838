//! Tests of the program from outside, all in one binary.
#![expect(clippy::disallowed_methods, reason = "tests lay out files of their own")]
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test ends where something it relies on is not so"
)]

mod crash;
mod journal;
mod language;
mod legality;
mod record;
mod reference;
mod rehearsals;
mod ssh_keygen;
mod store;
mod support;
mod tidy;
mod verify;
mod walk;
