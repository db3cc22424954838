//! Tests of the whole.
mod language;
mod reference;
