//! Tests of the program from outside, all in one binary.
#![expect(clippy::disallowed_methods, reason = "tests lay out files of their own")]
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::unwrap_in_result,
    reason = "a test ends where something it relies on is not so"
)]

mod assembly;
mod at_the_screen;
mod before_signing;
mod benches;
mod by_hand;
mod calc;
mod capabilities;
mod cli;
mod crash;
mod departures;
mod dispositions;
mod drawings;
mod fasteners;
mod first_page;
mod fitted;
mod flow_rules;
mod forgery;
mod formats;
mod hands;
mod identity;
mod instruments;
mod interrupted;
mod journal;
mod language;
mod languages;
mod late;
mod legality;
mod lint;
mod name_plate;
mod numbers;
mod photos;
mod plain;
mod prove;
mod pty;
mod record;
mod reference;
mod rehearsals;
mod rehearse;
mod safety_rules;
mod screen;
mod screens;
mod sealed;
mod sheet;
mod signing_keys;
mod ssh_keygen;
mod stacks;
mod store;
mod stories;
mod support;
mod tidy;
mod tui;
mod verify;
mod waits;
mod walk;
mod whole_job;
mod work_out;
