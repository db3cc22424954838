//! The plain walk over pipes: what is said, what is refused, what stands in the journal.

use witnessmark::plain::{PlainEnd, With, run};
use witnessmark::session::Session;

use crate::support::bench::{Bench, BenchKeys, Released, Types};

/// Types `lines` at `session` and returns how it ended and what was said.
fn typed(session: &mut Session, lines: &[&str]) -> (PlainEnd, String) {
    let text = lines.iter().map(|line| format!("{line}\n")).collect::<String>();
    let mut out = Vec::new();
    let mut released = Released::default();
    let with =
        With { keys: &BenchKeys, passphrases: &mut Types, releaser: &mut released };
    let end = run(session, &mut text.as_bytes(), &mut out, with).unwrap();
    let said = String::from_utf8(out).unwrap();
    assert!(!said.contains('\u{1b}'), "{said}");
    (end, said)
}

/// The whole job, answer by answer.
pub(crate) const WHOLE_JOB: &[&str] = &[
    "1", // Ines
    "y", "y", "y", // needs
    "Rattles when warm", "", // complaint
    "A", "", // fit-out
    "2", "", // dampener
    "1,250", "1250", "", // hours: the first is refused
    "read", "y", // safety, lift
    "y", "n", // seats: a burr
    "1", "Burr is below the sealing face", "1", "", // decision, by the only mechanic
    "2", "", // spring of 1 leans
    "1", "45,0", "", // with C-03
    "1", "", // spring of 2
    "44.5", "", // below
    "2 3", "", // dirt
    "1", "", // dry
    "", "1", "", // Ines signs, Tomas lifts the hold
    "y", // cover
    "", // Ines signs for the rest
    "release", "seen", "seen", "seen", "seen", "1", "",
];

#[test]
fn a_whole_job_over_a_pipe() {
    let bench = Bench::new();
    let mut session = bench.job();
    let (end, said) = typed(&mut session, WHOLE_JOB);
    assert_eq!(end, PlainEnd::Released, "{said}");
    insta::assert_snapshot!(said);
}
