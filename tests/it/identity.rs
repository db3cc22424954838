//! Whoever is at work says so with their key, in each run of the program: a terminal that was left does not
//! know who stands before it now.

use witnessmark::tui::model::Screen;
use witnessmark::walk::Event;

use crate::plain::typed;
use crate::support::bench::{Bench, Released};
use crate::tui::Hand;

#[test]
fn sg1_each_run_of_the_program_asks_who_is_at_work() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    drop(hand);
    let job = session.job().clone();
    // The program ends right after somebody identified.
    assert!(matches!(session.entries().last().unwrap().event, Event::Identified(_)));
    drop(session);
    let mut session = bench.shop.resume(&job).unwrap_or_else(|e| panic!("{e}"));
    let n_entries = session.entries().len();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert!(matches!(hand.model().screen, Screen::Who { .. }), "{}", hand.screen());
    assert!(hand.screen().contains("nobody"), "{}", hand.screen());
    hand.keys("esc y y esc enter esc y");
    assert_eq!(hand.entries().len(), n_entries, "{}", hand.screen());
    drop(hand);
    drop(session);
    let mut session = bench.shop.resume(&job).unwrap_or_else(|e| panic!("{e}"));
    let (_, said) = typed(&mut session, &["y", "y"]);
    assert!(said.contains("Who"), "{said}");
    assert_eq!(session.entries().len(), n_entries, "{said}");
}

#[test]
fn sg1_whoever_comes_back_to_a_job_says_who_they_are_before_they_take_it_up() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y y y");
    drop(hand);
    let job = session.job().clone();
    drop(session);
    bench.clock.pass(chrono::TimeDelta::hours(2));
    let mut session = bench.shop.resume(&job).unwrap_or_else(|e| panic!("{e}"));
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert!(hand.model().overlays.is_empty(), "{}", hand.screen());
    hand.keys("2 enter");
    hand.passphrase();
    let text = hand.screen();
    assert!(text.contains("left") && text.contains("Ines Varga"), "{text}");
    assert!(text.contains("Tomas Reiter"), "{text}");
}

#[test]
fn a_job_that_cannot_be_walked_is_not_begun() {
    let demo = crate::rehearsals::demo();
    let shop = demo.shop.folder.root().to_owned();
    let open = |arguments: &[&str]| {
        let out = std::process::Command::new(env!("CARGO_BIN_EXE_witnessmark"))
            .arg("open")
            .args(arguments)
            .args(["--machine", "P-101A", "--shop"])
            .arg(&shop)
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap();
        (out.status.code(), String::from_utf8(out.stderr).unwrap())
    };
    // No terminal, and no word that lines would do.
    let (status, said) = open(&["overhaul"]);
    assert_eq!(status, Some(2), "{said}");
    assert!(said.contains("use `--plain`"), "{said}");
    let (status, said) = open(&["overhau", "--plain"]);
    assert_eq!(status, Some(2), "{said}");
    assert!(said.contains("did you mean `overhaul`?"), "{said}");
    let jobs = demo.shop.jobs_without_record().unwrap();
    assert!(jobs.is_empty(), "{jobs:?}");
}

#[test]
fn sg1_who_worked_on_a_job_is_not_asked_to_sign_for_the_whole_of_it() {
    use witnessmark::shown::Shown;
    let bench = Bench::new();
    let mut session = bench.job();
    let who = |session: &witnessmark::session::Session| {
        let shown = Shown::of(session);
        shown.releasers().into_iter().map(|p| p.id.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(who(&session), ["t.reiter"], "the other mechanic's qualification has run out");
    // The only one there is is named all the same: the refusal says what is to be done.
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("2 enter");
    hand.passphrase();
    hand.keys("y");
    drop(hand);
    assert_eq!(who(&session), ["t.reiter"]);
    let demo = crate::rehearsals::demo();
    let script = crate::rehearsals::script(include_str!(
        "../../procedures/rehearsals/doubts_go_to_the_mechanic.yaml"
    ));
    let session = demo.open(&script);
    assert_eq!(who(&session).len(), 2, "both mechanics of the demo, before anybody worked");
}
