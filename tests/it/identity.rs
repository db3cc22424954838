//! Whoever is at work says so with their key, in each run of the program: a terminal that was left does not
//! know who stands before it now.

use witnessmark::tui::model::Screen;
use witnessmark::walk::Event;

use crate::plain::typed;
use crate::support::bench::{Bench, Released, pair, person};
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

/// Whoever is asked once more is told why: it did not last, or what it was signed over was corrected.
#[test]
fn a_step_that_is_asked_once_more_says_why() {
    use witnessmark::shown::Shown;
    use witnessmark::walk::{Address, Answer, Command};
    let steps = "tokens:\n  quiet: {title: Nothing moves, volatile: true}\nsteps:\n  \
                 - {id: still, check: Look at the shaft., items: [It stands still.], \
                 not_so: {verdict: refer}, sets: [quiet]}\n  \
                 - id: seat\n    look: Look at the seat.\n    needs: [quiet]\n    findings:\n      \
                 fine: {see: Bright, verdict: accept}\n      \
                 dull: {see: Dull, verdict: refer}\n      grey: {see: Grey, verdict: refer}\n  \
                 - {id: last, do: Look around., needs: [quiet]}\n";
    let bench = Bench::with(&[("bench_again", steps)]);
    let mut session = bench.job_of("bench_again");
    let again = |session: &witnessmark::session::Session| {
        let shown = Shown::of(session);
        let question = shown.question().unwrap();
        (question.address.to_string(), question.again.clone())
    };
    let (apprentice, mechanic) = (person("i.varga"), person("t.reiter"));
    let key = |who: &witnessmark::ids::PersonId| witnessmark::demo::HeldKey(pair(who));
    session.identify(&apprentice, &key(&apprentice)).unwrap();
    let still = Command::CheckItem { address: Address::parse("still").unwrap(), item: 0, so: true };
    session.submit(still.clone()).unwrap();
    let address = Address::parse("seat").unwrap();
    let found = |what: &str| Answer::Found(vec![what.parse().unwrap()]);
    let answer = Command::Answer { address: address.clone(), answer: found("dull"), signed: None };
    session.submit(answer).unwrap();
    let decision = Address::parse("seat/decision").unwrap();
    let decide = (witnessmark::procedure::model::Verdict::Accept, "Seen");
    session.decide(&decision, decide, &mechanic, &key(&mechanic)).unwrap();
    assert_eq!(again(&session), ("last".to_owned(), None));
    let reason = "It is grey".to_owned();
    let correct = Command::Correct { address, answer: found("grey"), reason, signed: None };
    session.submit(correct).unwrap();
    let (asked, why) = again(&session);
    assert_eq!(asked, "seat/decision");
    assert!(why.unwrap().contains("corrected what this was signed over"));
    session.submit(Command::Pause { reason: "lunch".to_owned() }).unwrap();
    let shown = session.to_take_up().unwrap();
    session.submit(Command::TakeUp { shown }).unwrap();
    let (asked, why) = again(&session);
    assert_eq!(asked, "still");
    assert_eq!(
        why.unwrap(),
        "`Nothing moves` does not outlast a pause; what was done since stands"
    );
    let (_, said) = typed(&mut session, &["y", "quit"]);
    assert!(said.contains("AGAIN: `Nothing moves` does not outlast a pause"), "{said}");
    assert_eq!(again(&session).0, "seat/decision");
}
