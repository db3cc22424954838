//! Tests of the program from outside, all in one binary.
#![expect(clippy::disallowed_methods, reason = "tests lay out files of their own")]

mod ssh_keygen;
