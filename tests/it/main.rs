//! Tests of the whole.
mod reference;
