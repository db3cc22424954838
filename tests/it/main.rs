//! Tests of the whole.
mod language;
mod reference;
mod ssh_keygen;
mod store;
mod support;
