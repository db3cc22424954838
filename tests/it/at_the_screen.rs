//! What a hand at the screen must find: the way to safety from everywhere, for whom a step is, which
//! key leads on, texts that are not lost, and no word that lies on another.

use witnessmark::session::Session;
use witnessmark::tui::model::{Overlay, Screen};
use witnessmark::walk::Event;

use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, at_the_reading, screen};

/// A section with a state to be left in; a step that is the mechanic's; a long list.
const STEPS: &str = r"safe_state: Motor locked and drains open
steps:
  - id: gauge
    do: Read the gauge.
  - id: current
    measure: Measure the gap of the cover.
    by: mechanic
    with: calliper
    unit: mm
    limit: spring.free_length
    below: {verdict: accept}
    above: {verdict: accept}
    could_not_measure: {verdict: accept}
  - id: seen
    hold: Confirm that the pump may be closed.
    by: mechanic
";

fn bench() -> Bench {
    Bench::with(&[("bench_steps", STEPS)])
}

/// Ines at the first step.
fn begun<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand
}

/// Tomas at the job that Ines left, before he has looked at what is open.
fn taken_over<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    crate::plain::typed(session, &["1", "y", "quit"]);
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("ctrl-w 2 enter");
    hand.passphrase();
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::TakeUp { .. })));
    hand
}

fn foot(hand: &Hand<'_>, columns: u16, rows: u16) -> String {
    let text = screen(hand.model(), columns, rows);
    let last = text.lines().nth(usize::from(rows) - 1);
    last.unwrap_or_default().to_owned()
}

#[test]
fn before_going_on_the_same_keys_stop_change_hands_and_leave_as_everywhere_else() {
    let bench = bench();
    let (mut session, mut released) = (bench.job_of("bench_steps"), Released::default());
    let mut hand = taken_over(&mut session, &mut released);
    let foot = foot(&hand, 80, 24);
    for key in ["r  I have looked", "s  STOP", "w  who", "?  keys", "q  leave"] {
        assert!(foot.contains(key), "`{key}`: {foot}");
    }
    for stop in ["s", "ctrl-s"] {
        hand.keys(stop);
        assert!(hand.screen().contains("Motor locked and drains open"), "{}", hand.screen());
        // What must be looked at is still due when the work is not stopped after all.
        hand.keys("esc");
        assert!(matches!(hand.model().overlays.last(), Some(Overlay::TakeUp { .. })), "{stop}");
    }
    hand.keys("q");
    assert!(hand.screen().contains("Leave the job for now?"), "{}", hand.screen());
    hand.keys("n w");
    assert!(hand.screen().contains("Who is at work from here on?"), "{}", hand.screen());
    hand.keys("esc");
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::TakeUp { .. })));
    hand.keys("s");
    hand.text("Smoke from the motor");
    hand.keys("enter");
    assert!(matches!(hand.entries().last().unwrap().event, Event::WorkHalted { .. }));
    let text = hand.screen();
    assert!(text.contains("STOPPED") && text.contains("LEAVE IT SO"), "{text}");
}

#[test]
fn a_note_is_stopped_from_saved_and_never_dropped() {
    let bench = bench();
    let (mut session, mut released) = (bench.job_of("bench_steps"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    hand.keys("t");
    hand.text("Chips in the tray");
    hand.keys("enter");
    hand.text("and oil.");
    hand.keys("ctrl-h");
    let n_entries = hand.entries().len();
    hand.keys("esc");
    assert_eq!(hand.entries().len(), n_entries);
    assert!(hand.screen().contains("What you wrote is kept"), "{}", hand.screen());
    hand.keys("t");
    assert!(hand.screen().contains("and oil") && !hand.screen().contains("and oil."));
    hand.keys("ctrl-s");
    assert!(hand.screen().contains("LEAVE IT SO"), "{}", hand.screen());
    hand.keys("esc t ctrl-r");
    let Event::NoteAdded { text, .. } = &hand.entries().last().unwrap().event else {
        panic!("{}", hand.screen());
    };
    assert_eq!(text, "Chips in the tray\nand oil");
    // The next note is a new one.
    hand.keys("t");
    assert!(!hand.screen().contains("Chips"), "{}", hand.screen());
}

#[test]
fn a_reason_that_was_left_with_escape_is_there_again_and_backspace_of_any_kind_erases() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("45.0");
    hand.keys("ctrl-h ctrl-h");
    assert_eq!(hand.model().draft.field.text(), "45");
    assert!(matches!(hand.model().screen, Screen::Walk), "no history while a figure is typed");
    hand.keys("ctrl-x");
    hand.text("jaws too shortt");
    hand.keys("ctrl-h esc");
    assert!(hand.model().overlays.is_empty());
    hand.keys("ctrl-x");
    assert!(hand.screen().contains("> jaws too short\n"), "{}", hand.screen());
    // Stopping the work keeps it as well.
    hand.keys("ctrl-s");
    hand.text("Oil on the floor");
    hand.keys("esc ctrl-x");
    assert!(hand.screen().contains("> jaws too short\n"), "{}", hand.screen());
    hand.keys("ctrl-u esc");
    // The reason of a correction.
    hand.keys("ctrl-o");
    while !hand.model().shown.outline[cursor(&hand)].text.starts_with("Look at the spring") {
        hand.keys("up");
    }
    hand.keys("c 2 enter");
    hand.text("seen in better light");
    hand.keys("esc enter");
    assert!(hand.screen().contains("> seen in better light"), "{}", hand.screen());
    hand.keys("enter");
    assert!(matches!(hand.entries().last().unwrap().event, Event::Corrected { .. }));
}

fn cursor(hand: &Hand<'_>) -> usize {
    let Screen::Outline { cursor } = hand.model().screen else { panic!("{}", hand.screen()) };
    cursor
}

#[test]
fn a_step_that_is_somebody_elses_says_so_before_it_is_done_and_which_key_changes_hands() {
    let bench = bench();
    let (mut session, mut released) = (bench.job_of("bench_steps"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    hand.keys("enter");
    for (columns, rows) in [(80, 24), (60, 16), (120, 40)] {
        let text = screen(hand.model(), columns, rows);
        let at = text.find("FOR ").unwrap_or_else(|| panic!("{text}"));
        assert!(at < text.find("MEASURE").unwrap(), "{text}");
        assert!(text.contains("a mechanic: ctrl-w changes who is at work"), "{text}");
    }
    hand.keys("tab 1 enter");
    hand.text("45.0");
    hand.keys("enter");
    let said = "this is for a mechanic, and Ines Varga is listed as apprentice; call a mechanic: \
                ctrl-w changes who is at work";
    let text = hand.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains(said), "{text}");
    // The mechanic is told nothing of the kind, and the figure is still there.
    hand.keys("ctrl-w 2 enter");
    hand.passphrase();
    hand.keys("r");
    assert!(!hand.screen().contains("FOR "), "{}", hand.screen());
    hand.keys("tab 1 enter");
    hand.text("45.0");
    hand.keys("enter");
    assert_eq!(hand.asked(), "seen", "{}", hand.screen());
    assert!(!hand.screen().contains("FOR "), "{}", hand.screen());
    hand.keys("w 1 enter");
    hand.passphrase();
    hand.keys("r");
    let text = hand.screen();
    assert!(text.contains("a mechanic, who looks and signs: enter, and pick who signs"), "{text}");
    drop(hand);
    // In lines too.
    let mut session = bench.job_of("bench_steps");
    let (_, said) = crate::plain::typed(&mut session, &["1", "y", "1", "45.0", "", "quit"]);
    let at = said.find("FOR a mechanic: type `who` for that person").unwrap();
    assert!(at < said.find("MEASURE:").unwrap(), "{said}");
    let refused = said.find("Not accepted: this is for a mechanic").unwrap();
    assert!(
        said.get(refused..).unwrap().contains("Type `who`, and that person goes on."),
        "{said}"
    );
}

#[test]
fn no_word_on_the_status_line_lies_on_another() {
    let bench = Bench::new();
    for (columns, rows) in [(80, 24), (60, 16), (40, 12), (120, 40), (44, 13)] {
        let (mut session, mut released) = (bench.job(), Released::default());
        let mut hand =
            crate::tui::at_a_long_warning(&mut session, &mut released, (columns, rows), 30);
        hand.keys("r");
        let text = hand.screen().split_whitespace().collect::<Vec<_>>().join(" ");
        let whole = "NOT ACCEPTED: read it to its end first: the arrow down shows the rest";
        assert!(text.contains(whole), "{columns}x{rows}: {}", hand.screen());
        assert!(!text.contains("rest below"), "{}", hand.screen());
        hand.keys("page_down page_down page_down page_down page_down page_down");
        hand.keys("page_down page_down page_down page_down page_down page_down page_down r");
        let text = hand.screen();
        assert!(text.contains("Saved: you have read it."), "{columns}x{rows}: {text}");
        assert!(!text.contains("it. re"), "{text}");
    }
}

#[test]
fn what_was_said_of_the_last_move_goes_with_the_next_key_whatever_that_key_does() {
    let bench = bench();
    let (mut session, mut released) = (bench.job_of("bench_steps"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    hand.keys("enter");
    assert!(hand.screen().contains("Saved."), "{}", hand.screen());
    let (n_entries, address) = (hand.entries().len(), hand.asked());
    hand.keys("ctrl-l");
    assert!(!hand.screen().contains("Saved."), "{}", hand.screen());
    assert_eq!((hand.entries().len(), hand.asked()), (n_entries, address));
}

/// The rows of the middle, in one line each.
fn middle(hand: &Hand<'_>, columns: u16, rows: u16) -> String {
    let text = screen(hand.model(), columns, rows);
    text.lines().skip(3).take(usize::from(rows) - 5).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_smallest_window_shows_what_is_picked_with_what_it_comes_to() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("45.0");
    hand.keys("enter");
    assert_eq!(hand.asked(), "valves[cylinder=2]/spring");
    for (digit, picked, comes_to) in
        [("1", "1 (*) Coils even", "-> good"), ("2", "2 (*) The spring leans", "-> replace the")]
    {
        hand.keys(digit);
        let text = middle(&hand, 40, 12);
        assert!(text.contains(picked) && text.contains(comes_to), "{text}");
    }
    insta::assert_snapshot!("40x12_picked", screen(hand.model(), 40, 12));
    for key in ["1-3 pick", "enter record", "s STOP", "? keys"] {
        assert!(foot(&hand, 40, 12).contains(key), "`{key}`: {}", foot(&hand, 40, 12));
    }
}

#[test]
fn the_smallest_window_shows_what_is_measured_with_what_against_what() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    let text = screen(hand.model(), 40, 12);
    for what in ["cylinder 1", "MEASURE", "free length", "C-03", " > ", "limit: 44.6 mm to 45.4 mm"]
    {
        assert!(text.contains(what), "`{what}`: {text}");
    }
    assert!(text.contains("more"), "{text}");
    for key in ["enter record", "tab tool", "^s STOP", "^k keys"] {
        assert!(text.lines().nth(11).unwrap().contains(key), "`{key}`: {text}");
    }
    insta::assert_snapshot!("40x12_figure", text);
    // Out of its limit, the question about the figure has the figure in it.
    hand.text("44.1");
    hand.keys("enter");
    let text = middle(&hand, 40, 12);
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("OUT OF ITS LIMIT: 44.1 mm. Is the figure right?"), "{text}");
    insta::assert_snapshot!("40x12_out_of_limit", screen(hand.model(), 40, 12));
    for key in ["tab tool", "^x cannot", "^s STOP", "^k keys"] {
        assert!(foot(&hand, 60, 16).contains(key), "`{key}`: {}", foot(&hand, 60, 16));
    }
}

#[test]
fn the_smallest_window_shows_the_pass_and_its_torque_and_a_setting_that_is_out_says_so_at_once() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let hand = crate::assembly::at_the_nuts_of(&mut session, &mut released);
    for (columns, rows) in [(40, 12), (60, 16)] {
        let text = middle(&hand, columns, rows).split_whitespace().collect::<Vec<_>>().join(" ");
        for what in ["pass 1 of 2", "torque, 10 N·m", "NEXT fastener 1"] {
            assert!(text.contains(what), "`{what}`: {text}");
        }
    }
    drop(hand);
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_wrench(&mut session, &mut released);
    let text = screen(hand.model(), 40, 12);
    for what in ["pass 1 of 2", "10 N·m", "here ctrl-y", " > ", "9 N·m to 11 N·m"] {
        assert!(text.contains(what), "`{what}`: {text}");
    }
    for key in ["enter set", "^y thread", "^s STOP", "^k keys"] {
        assert!(text.lines().nth(11).unwrap().contains(key), "`{key}`: {text}");
    }
    insta::assert_snapshot!("40x12_wrench", text);
    hand.keys("ctrl-y");
    hand.text("14");
    let out = "OUT: the pass needs 9 N·m to 11 N·m; set it to 10 N·m";
    assert!(hand.screen().contains(out), "{}", hand.screen());
    hand.keys("ctrl-u");
    hand.text("10");
    assert!(!hand.screen().contains("OUT:"), "{}", hand.screen());
}

/// Before the wrench is set.
fn at_the_wrench<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = begun(session, released);
    hand.keys("1 enter y y y");
    hand.text("K-88");
    hand.keys("enter");
    assert_eq!(hand.asked(), "nuts", "{}", hand.screen());
    hand
}

#[test]
fn no_letter_has_two_meanings_where_both_are_due() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = crate::assembly::at_the_nuts_of(&mut session, &mut released);
    hand.keys("m");
    assert!(hand.screen().contains("What does the wrench show?"), "{}", hand.screen());
    hand.keys("esc f");
    assert!(hand.screen().contains("The path of the photo or file"), "{}", hand.screen());
    hand.keys("esc o w");
    assert!(matches!(hand.model().screen, Screen::Who { .. }), "{}", hand.screen());
    // On no screen does the table hold a key twice.
    hand.keys("esc");
    for open in ["", "o", "p", "h", "w", "t", "?", "d", "s"] {
        hand.keys(open);
        let table = witnessmark::tui::keymap::table(hand.model());
        for (n, binding) in table.iter().enumerate() {
            for key in &binding.keys {
                let other = |other: &witnessmark::tui::keymap::Binding| {
                    other.keys.contains(key) && other.what != binding.what
                };
                let twice = table.iter().skip(n + 1).any(other);
                assert!(!twice, "{key:?} on `{open}`: {table:#?}");
            }
        }
        hand.keys("esc esc");
    }
}

#[test]
fn the_outline_offers_what_its_row_can_and_nobody_at_work_comes_back_to_the_question_who() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("p esc");
    assert!(matches!(hand.model().screen, Screen::Who { .. }), "{}", hand.screen());
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y y y esc ctrl-o");
    assert!(!foot(&hand, 80, 24).contains("correct"), "{}", foot(&hand, 80, 24));
    while hand.model().shown.outline[cursor(&hand)].answer.is_none() {
        hand.keys("up");
    }
    assert!(foot(&hand, 80, 24).contains("c  correct this answer"), "{}", foot(&hand, 80, 24));
}

/// Sentences with their stops, put into other sentences.
const STOPS: &str = r"safe_state: Press nothing with force here.
steps:
  - id: lift
    section: Lift it
    standing:
      - {id: hot, see: The pump had stopped., then: Stop.}
      - {id: lock, see: A lock or a tag hangs there., then: Stop.}
    steps:
      - id: wipe
        do: Wipe the bench.
";

#[test]
fn sentences_end_once_and_what_may_happen_at_any_moment_stays_apart() {
    let bench = Bench::with(&[("bench_stops", STOPS)]);
    let (mut session, mut released) = (bench.job_of("bench_stops"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    hand.keys("o");
    let both = "ANY TIME: The pump had stopped; A lock or a tag hangs there";
    assert!(hand.screen().contains(both), "{}", hand.screen());
    hand.keys("esc s");
    let text = hand.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Press nothing with force here. What was seen?"), "{text}");
    hand.keys("1 enter d");
    assert!(!hand.screen().contains(".."), "{}", hand.screen());
    drop(hand);
    let (_, said) = crate::plain::typed(&mut session, &["y", "concede lift/wipe", "where", "quit"]);
    assert!(!said.contains(".."), "{said}");
}
