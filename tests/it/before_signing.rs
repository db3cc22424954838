//! What a person is shown before they sign: the step in its words, what was found by whom, what is to
//! be done first and with which key. On the screen and in lines.

use witnessmark::shown::State;
use witnessmark::tui::model::{Overlay, Screen};
use witnessmark::walk::Event;

use crate::plain::typed;
use crate::support::bench::{Bench, PASSPHRASE, Released};
use crate::tui::{Hand, screen};

const STEPS: &str = r"steps:
  - id: twice
    measure: Measure the free length of the spring.
    with: calliper
    unit: mm
    limit: spring.free_length
    second: {agree_within: 0.05 mm}
    below: {verdict: replace, parts: [spring]}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
  - id: valves
    section: Valve
    each: cylinder
    steps:
      - id: length
        measure: Measure the spring that goes in.
        with: calliper
        unit: mm
        limit: spring.free_length
        concession: mechanic
        below: {verdict: replace, parts: [spring]}
        above: {verdict: refer}
        could_not_measure: {verdict: refer}
  - id: seen
    hold: Confirm that the pump may be closed.
    by: mechanic
";

fn bench() -> Bench {
    Bench::with(&[("bench_words", STEPS)])
}

/// The words of a screen, whatever lines they stand on.
fn flat(hand: &Hand<'_>) -> String {
    hand.screen().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Two people have measured, and their readings do not agree.
const DISAGREE: &[&str] = &["1", "1", "44.90", "", "who", "2", "seen", "1", "45.20", ""];

#[test]
fn readings_that_do_not_agree_are_both_shown_with_names_to_whoever_decides() {
    let bench = bench();
    let mut session = bench.job_of("bench_words");
    let (_, said) = typed(&mut session, &[DISAGREE, &["quit"]].concat());
    let both = "first, by Ines Varga: 44.90 mm is within 44.6 mm to 45.4 mm, with C-03; second, by \
                Tomas Reiter: 45.20 mm is within 44.6 mm to 45.4 mm, with C-03; the two agree \
                within 0.05 mm";
    assert!(said.contains(both), "{said}");
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert_eq!(hand.asked(), "twice/second/decision");
    assert!(flat(&hand).contains(both), "{}", hand.screen());
    // On the way to the signature too, above the statement itself.
    hand.keys("1 enter");
    hand.text("The second is right");
    hand.keys("enter");
    let (words, statement) = (flat(&hand), "I decide at twice/second/decision:");
    assert!(words.find(both).unwrap() < words.find(statement).unwrap(), "{words}");
    hand.keys("enter");
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::Passphrase { .. })));
    let words = flat(&hand);
    assert!(words.find(both).unwrap() < words.find(statement).unwrap(), "{words}");
}

#[test]
fn a_second_reading_says_that_it_is_another_persons_before_it_is_taken() {
    let bench = bench();
    let mut session = bench.job_of("bench_words");
    let (_, said) = typed(&mut session, &["1", "1", "44.90", "", "quit"]);
    let whom = "FOR another person, who has not seen the first reading: type `who` for that person";
    assert!(said.contains(whom), "{said}");
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert_eq!(hand.asked(), "twice/second");
    let whom =
        "FOR another person, who has not seen the first reading: ctrl-w changes who is at work";
    assert!(flat(&hand).contains(whom), "{}", hand.screen());
    hand.keys("ctrl-w 2 enter");
    hand.text(PASSPHRASE);
    hand.keys("enter r");
    assert!(!flat(&hand).contains("FOR another"), "{}", hand.screen());
}

/// Past the readings: the spring of cylinder 1 is too short, that of cylinder 2 is good.
const TO_THE_HOLD: &[&str] = &["1", "The second is right", "1", "", "44.1", "", "45.0", ""];

#[test]
fn a_concession_and_a_hold_show_the_step_the_reading_and_its_limit_and_the_statement() {
    let bench = bench();
    let mut session = bench.job_of("bench_words");
    typed(&mut session, &[DISAGREE, TO_THE_HOLD, &["quit"]].concat());
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert_eq!(hand.asked(), "seen", "{}", hand.screen());
    let found = "Measure the spring that goes in (cylinder 1) -> 44.1 mm is below 44.6 mm, with \
                 C-03: replace";
    assert!(flat(&hand).contains(&format!("found {found}")), "{}", hand.screen());
    hand.keys("o");
    while !is_at(&hand, "valves[cylinder=1]/length") {
        hand.keys("up");
    }
    hand.keys("d");
    let words = [
        "step Measure the spring that goes in (cylinder 1)",
        "44.1 mm is below 44.6 mm",
        "by Tomas Reiter",
    ];
    for what in words {
        assert!(flat(&hand).contains(what), "`{what}`: {}", hand.screen());
    }
    hand.keys("enter");
    hand.text("the owner knows");
    hand.keys("enter enter");
    for what in words.iter().chain(&["I decide at valves[cylinder=1]/length, in the place of"]) {
        assert!(flat(&hand).contains(what), "`{what}`: {}", hand.screen());
    }
    hand.text(PASSPHRASE);
    hand.keys("enter");
    // The row shows what was signed, and its section does not hide it.
    let text = flat(&hand);
    assert!(text.contains("signed Tomas Reiter decided: accept it as it is"), "{text}");
    let outline = &hand.model().shown.outline;
    let section = outline.iter().find(|row| row.text == "Valve, cylinder 1").unwrap();
    assert_eq!(section.state, State::Noted);
    let section = outline.iter().find(|row| row.text == "Valve, cylinder 2").unwrap();
    assert_eq!(section.state, State::Done);
}

fn is_at(hand: &Hand<'_>, address: &str) -> bool {
    let Screen::Outline { cursor } = hand.model().screen else { panic!("{}", hand.screen()) };
    let row = &hand.model().shown.outline[cursor];
    row.address.as_ref().is_some_and(|at| at.to_string() == address)
}

#[test]
fn the_sign_off_names_the_key_that_says_what_was_done_and_the_row_shows_it() {
    let bench = Bench::new();
    let mut session = bench.job();
    let lines = crate::plain::WHOLE_JOB;
    let n = lines.iter().position(|line| line.starts_with("dispose")).unwrap();
    let (_, said) = typed(&mut session, &lines[..n]);
    assert!(said.contains("Say what was done: `dispose valves[cylinder=1]/spring`"), "{said}");
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    let text = flat(&hand);
    assert!(text.contains("press enter for the step, then a"), "{text}");
    hand.keys("enter");
    assert!(flat(&hand).contains("a mechanic says so and signs: press a"), "{}", hand.screen());
    let text = hand.screen();
    let foot = text.lines().nth(23).unwrap();
    assert!(foot.contains("a what was done"), "{foot}");
    hand.keys("a enter");
    assert!(hand.screen().contains("With a lot: `lot L-77: TEXT`"), "{}", hand.screen());
    // A lot on its own is no reason, and is not lost as one.
    hand.text("L-221");
    assert!(hand.screen().contains("lot: none"), "{}", hand.screen());
    hand.keys("enter");
    assert!(flat(&hand).contains("a lot stands before it: `lot L-221: a new part`"));
    hand.keys("ctrl-u");
    hand.text("lot L-221: a new spring");
    assert!(hand.screen().contains("lot: L-221"), "{}", hand.screen());
    hand.keys("enter enter");
    hand.text(PASSPHRASE);
    hand.keys("enter");
    let Event::Disposed { said, .. } = &hand.entries().last().unwrap().event else {
        panic!("{}", hand.screen());
    };
    assert_eq!((said.lot.as_deref(), said.reason.as_str()), (Some("L-221"), "a new spring"));
    let text = flat(&hand);
    let signed = "signed replaced: another part is in its place, lot L-221: a new spring; signed by \
                  Tomas Reiter";
    assert!(text.contains(signed), "{text}");
    drop(hand);
    let lone = ["dispose valves[cylinder=2]/length", "1", "L-7", "quit"];
    let (_, said) = typed(&mut session, &lone);
    assert!(said.contains("`lot L-7: a new part`. Nothing was saved."), "{said}");
}

#[test]
fn each_line_that_is_looked_at_is_said_in_words_below_itself() {
    let bench = Bench::new();
    let mut session = bench.job();
    let lines = crate::plain::WHOLE_JOB;
    let n = lines.iter().position(|line| *line == "release").unwrap();
    typed(&mut session, &lines[..n]);
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    let Screen::SignOff { lines, .. } = &hand.model().screen else { panic!("{}", hand.screen()) };
    let lines = lines.clone();
    assert!(lines[1].starts_with("open/seats/decision: decided accept by t.reiter"), "{lines:#?}");
    hand.keys("enter");
    for (columns, rows) in [(80, 24), (60, 16), (40, 12)] {
        let text = screen(hand.model(), columns, rows);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let who = if rows > 12 { "t.reiter is Tomas Reiter" } else { "by Tomas Reiter" };
        for what in [lines[1].as_str(), "step A burr is for the mechanic", who] {
            assert!(words.contains(what), "`{what}` at {columns}x{rows}: {text}");
        }
    }
    drop(hand);
    let (_, said) = typed(&mut session, &["release", "seen", "quit"]);
    let at = said.find(&lines[1]).unwrap();
    assert!(said.get(at..).unwrap().contains("Who: t.reiter is Tomas Reiter."), "{said}");
}

#[test]
fn all_that_is_signed_can_be_paged_through_in_the_smallest_window() {
    let bench = Bench::new();
    let mut session = bench.job();
    let lines = crate::plain::WHOLE_JOB;
    let n = lines.iter().position(|line| *line == "release").unwrap();
    typed(&mut session, &lines[..n]);
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (40, 12));
    let Screen::SignOff { lines, .. } = hand.model().screen.clone() else { panic!() };
    let n_entries = hand.entries().len();
    hand.keys("page_down page_down page_down");
    assert!(!hand.screen().contains("All steps are answered"), "{}", hand.screen());
    hand.keys("page_up page_up page_up page_up page_up page_up");
    assert!(hand.screen().contains("All steps are answered"), "{}", hand.screen());
    for _ in 0..=lines.len() {
        hand.keys("enter");
    }
    hand.keys("enter");
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::Passphrase { .. })));
    let mut seen = String::new();
    hand.keys("page_up page_up page_up page_up page_up page_up page_up page_up");
    for _ in 0..8 {
        seen.push_str(&flat(&hand));
        hand.keys("page_down");
    }
    for word in lines.iter().flat_map(|line| line.split(' ')) {
        assert!(seen.contains(word), "`{word}` is signed and never seen: {seen}");
    }
    // The first letter that is typed shows the field again.
    hand.text("b");
    assert!(hand.screen().contains(" > *"), "{}", hand.screen());
    assert_eq!(hand.entries().len(), n_entries);
}
