//! witnessmark: guided overhaul procedures in a terminal.
//!
//! The library holds everything; `main` only calls [`cli`]. See DEVELOPERS.md for the map.

pub mod address;
pub mod calc;
pub mod canonical;
pub mod cli;
pub mod demo;
pub mod diag;
pub mod equipment;
pub mod expr;
pub mod ids;
pub mod journal;
pub mod language;
pub mod lint;
pub mod photo;
pub mod plain;
pub mod ports;
pub mod procedure;
pub mod prove;
pub mod record;
pub mod rehearsal;
pub mod rehearse;
pub mod session;
pub mod shop;
pub mod shown;
pub mod source;
pub mod store;
pub mod tui;
pub mod units;
pub mod visible;
pub mod walk;
pub mod yaml;
