//! The plain walk over pipes: what is said, what is refused, what stands in the journal.

use witnessmark::plain::{PlainEnd, With, run};
use witnessmark::session::Session;

use crate::support::bench::{Bench, BenchKeys, Released, Types};

/// Types `lines` at `session` and returns how it ended and what was said.
pub(crate) fn typed(session: &mut Session, lines: &[&str]) -> (PlainEnd, String) {
    let text = [lines, &[""]].concat().join("\n");
    let mut out = Vec::new();
    let mut released = Released::default();
    let with = With { keys: &BenchKeys, passphrases: &mut Types, releaser: &mut released };
    let end = run(session, &mut text.as_bytes(), &mut out, with).unwrap();
    let said = String::from_utf8(out).unwrap();
    assert!(!said.contains('\u{1b}'), "{said}");
    (end, said)
}

/// The whole job, answer by answer.
pub(crate) const WHOLE_JOB: &[&str] = &[
    "1", // Ines
    "y",
    "y",
    "y", // needs
    "Rattles when warm",
    "", // complaint
    "A",
    "", // fit-out
    "2",
    "", // dampener
    "1,250",
    "1250",
    "", // hours: the first is refused
    "read",
    "y", // safety, lift
    "y",
    "n", // seats: a burr
    "1",
    "Burr is below the sealing face",
    "1",
    "", // decision, by the only mechanic
    "2",
    "", // spring of 1 leans
    "1",
    "45,0",
    "", // with C-03
    "1",
    "", // spring of 2
    "44.5",
    "", // below
    "2 3",
    "", // dirt
    "1",
    "", // dry
    "",
    "1",
    "",  // Ines signs, Tomas lifts the hold
    "y", // cover
    "",  // Ines signs for the rest
    "dispose valves[cylinder=1]/spring",
    "1",
    "a new spring",
    "1",
    "", // what was done about the first, signed by Tomas
    "dispose valves[cylinder=2]/length",
    "1",
    "a new spring",
    "1",
    "",
    "release",
    "seen",
    "seen", // the safety text, read while the clock stood still
    "seen",
    "seen",
    "seen",
    "seen",
    "seen",
    "1",
    "",
];

#[test]
fn a_whole_job_over_a_pipe() {
    let bench = Bench::new();
    let mut session = bench.job();
    let (end, said) = typed(&mut session, WHOLE_JOB);
    assert_eq!(end, PlainEnd::Released, "{said}");
    insta::assert_snapshot!(said);
}

#[test]
fn the_end_of_the_input_leaves_the_job_as_it_is() {
    let bench = Bench::new();
    let mut session = bench.job();
    for n_lines in 0..WHOLE_JOB.len() - 1 {
        let mut session = bench.job();
        let (end, _) = typed(&mut session, &WHOLE_JOB[..n_lines]);
        assert_eq!(end, PlainEnd::InputEnded, "after {n_lines} lines");
        let job = session.job().clone();
        let before = session.state().clone();
        drop(session);
        assert_eq!(bench.shop.resume(&job).unwrap().state(), &before);
    }
    assert_eq!(typed(&mut session, &["1", "quit"]).0, PlainEnd::Left);
}

#[test]
fn commands_corrections_and_refusals() {
    let bench = Bench::new();
    let mut session = bench.job();
    let (end, said) = typed(
        &mut session,
        &[
            "9",
            "1",
            "help",
            "y",
            "n",
            "y",
            "y",
            "y", // needs: a `no` is refused
            ":where",
            "note",
            "",
            "quit it rattles",
            "",
            "A",
            "",
            "2",
            "n",
            "1",
            "",
            "correct",
            "correct receive/nothing",
            "correct open/lift",
            "correct receive/dampener",
            "2",
            "",
            "looked at the wrong line",
            "note seen at the gate",
            "1250",
            "",
            "outline",
            "sheet",
            "quit",
        ],
    );
    assert_eq!(end, PlainEnd::Left, "{said}");
    insta::assert_snapshot!(said);
}

#[test]
fn text_that_acts_on_terminals_is_said_in_stand_ins() {
    let bench = Bench::new();
    let mut session = bench.job();
    let naughty = "Rattles\u{202e}LIAF";
    let (_, said) = typed(
        &mut session,
        &[
            "1",
            "\u{1b}[2J",
            "y",
            "y",
            "y",
            "\u{9d}0;x\u{9c}",
            "",
            naughty,
            "",
            "sheet",
            "outline",
            "quit",
        ],
    );
    assert!(!said.contains(|c| witnessmark::visible::is_hidden(c) && c != '\n'), "{said}");
    assert!(said.contains(r"Rattles\u{202e}LIAF"), "{said}");
}

/// A job of the other fit-out, whose answer to `seal` was parked by a correction and is asked again.
pub(crate) const PARKED: &[&str] = &[
    "1",
    "y",
    "y",
    "y",
    "Rattles",
    "",
    "B",
    "",
    "2",
    "",
    "12",
    "",
    "y", // seal
    "correct receive/fit_out",
    "A",
    "",
    "misread the plate", // it is parked
    "correct receive/fit_out",
    "B",
    "",
    "it was a B after all", // and asked again
];

#[test]
fn a_parked_answer_is_confirmed() {
    let bench = Bench::new();
    let mut session = bench.job();
    let lines = [PARKED, &["y", "quit"]].concat();
    let (end, said) = typed(&mut session, &lines);
    assert_eq!(end, PlainEnd::Left, "{said}");
    let (_, said) = said.split_once("Corrected.").unwrap();
    insta::assert_snapshot!(said);
}

#[test]
fn could_not_measure_and_a_stop() {
    let bench = Bench::new();
    let mut session = bench.job();
    let lines = [
        "1",
        "y",
        "y",
        "y",
        "Rattles",
        "",
        "A",
        "",
        "2",
        "",
        "12",
        "",
        "read",
        "y",
        "y",
        "y", // open
        "3",
        "",
        "1",
        "Seen under the lens",
        "1",
        "", // a crack is decided on
        "C-04",
        "instrument",
        "1",
        "could not",
        "jaws too short",
        "", // no reading
        "1",
        "No harm in it",
        "1",
        "",
        "1",
        "",
        "46",
        "",
        "2",
        "Wrong spring, wrong pump",
        "1",
        "",
        "stopped",
        "",
        "release",
    ];
    let (end, said) = typed(&mut session, &lines);
    assert_eq!(end, PlainEnd::InputEnded, "{said}");
    let (_, said) = said.split_once("Address open/seats").unwrap();
    insta::assert_snapshot!(said);
}

#[test]
fn what_can_never_be_right_is_refused_before_it_is_said_back_and_a_reason_before_a_signer() {
    let bench = Bench::new();
    let mut session = bench.job();
    let n = WHOLE_JOB.iter().position(|line| *line == "45,0").unwrap();
    let lines = [&WHOLE_JOB[..n], &["450", "45,0", "", "quit"]].concat();
    let (_, said) = typed(&mut session, &lines);
    let why = "Not understood: 450 mm cannot be right here: plausible is 30 mm to 60 mm";
    assert!(said.contains(why), "{said}");
    assert!(!said.contains("450 -> "), "nothing that it would come to is said: {said}");
    assert!(said.contains("45,0 -> 45.0 mm is within"), "{said}");
    // A decision without a reason asks for no signer.
    let mut session = bench.job();
    let n = WHOLE_JOB.iter().position(|line| line.starts_with("Burr")).unwrap();
    let (_, said) = typed(&mut session, &[&WHOLE_JOB[..n], &["", "quit"]].concat());
    assert!(said.contains("The reason: Nothing was typed. Nothing was saved."), "{said}");
    assert!(!said.contains("Who decides?"), "{said}");
}

#[test]
fn a_person_who_changes_back_before_taking_up_goes_on_and_files_are_listed_with_their_paths() {
    let bench = Bench::new();
    bench.disk.put(std::path::Path::new("/cam/seat.png"), b"a picture");
    let mut session = bench.job();
    let lines = ["1", "files", "file /cam/seat.png", "files", "who", "2", "who", "1", "y", "quit"];
    let (_, said) = typed(&mut session, &lines);
    assert!(said.contains("No photo or file lies with this job yet."), "{said}");
    let listed = said.lines().find(|line| line.contains("seat.png, at ")).unwrap();
    assert!(listed.contains("by Ines Varga, today 07:10: /bench/shop/jobs/2026-0001/"), "{listed}");
    assert!(said.contains("Before you go on."), "{said}");
    assert!(!said.contains("in your hands already"), "{said}");
    assert!(said.contains("Saved: it is so."), "{said}");
}
