//! The full screen: what it holds, what keys mean, what moves do, how it is drawn.
//!
//! `update` is pure and keys reach it as moves; `view` only reads; `runtime` carries moves to the
//! session; `terminal` alone knows a real terminal.

pub mod bench;
pub mod field;
pub mod graphics;
pub mod keymap;
pub mod model;
pub mod runtime;
pub mod terminal;
pub mod theme;
pub mod update;
pub mod view;

pub use terminal::{End, TermError, run, run_bench};
