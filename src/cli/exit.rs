//! The exit statuses, each with one meaning.

/// All went well.
pub const OK: u8 = 0;
/// `check` found mistakes in files, or `rehearse` differences.
pub const FINDINGS: u8 = 1;
/// The command line is wrong.
pub const USAGE: u8 = 2;
/// A rule does not allow it: not approved, not authorised, wrong passphrase, wrong step.
pub const REFUSED: u8 = 3;
/// A file is damaged or not what it should be.
pub const DAMAGED: u8 = 4;
/// The disk or the terminal did not do it: no space, read-only, in use by another process.
pub const MACHINE: u8 = 5;
/// The job was left before its end; it can be gone on with.
pub const LEFT_OPEN: u8 = 6;
/// `verify`: this number plus that of the first of the five answers that failed.
pub const VERIFY: u8 = 10;
/// A mistake of the program itself.
pub const BUG: u8 = 70;

/// Every status with its meaning, as the README lists them.
pub const ALL: [(u8, &str); 9] = [
    (OK, "all went well"),
    (FINDINGS, "`check` found mistakes, or `rehearse` differences"),
    (USAGE, "the command line is wrong"),
    (REFUSED, "a rule does not allow it"),
    (DAMAGED, "a file is damaged or not what it should be"),
    (MACHINE, "the disk or the terminal did not do it"),
    (LEFT_OPEN, "a job played or walked in lines was left before its end"),
    (VERIFY, "`verify`: 10 + the number of the first answer that failed"),
    (BUG, "a mistake of the program itself"),
];
