//! What every screen keeps to: the way to safety, what holds at any moment, understanding told from
//! doing, no time traps, nothing by colour alone.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::io::Write;
use std::rc::Rc;

use chrono::TimeDelta;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{Terminal, TerminalOptions, Viewport};
use witnessmark::session::Session;
use witnessmark::tui::model::{Overlay, Screen};
use witnessmark::tui::runtime::Turn;
use witnessmark::tui::theme::Role;
use witnessmark::tui::view::view;
use witnessmark::walk::Event;

use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, at_the_reading, runs, screen};

/// A section with a state to be left in, something that may happen at any moment, and two warnings.
const COVER: &str = r"safe_state: Motor locked and drains open
steps:
  - id: gauge
    do: Read the gauge.
  - id: open
    section: Open the cover
    safe_state: Cover on two studs, drains open
    standing:
      - {id: hot, see: The housing is over 60 °C, then: Stop and leave it to cool.}
    steps:
      - id: lift
        warning:
          hazard: Weight of the cover
          consequence: A falling cover crushes hands.
          avoid: Lift it by two people.
        do: Lift the cover.
      - id: turn
        caution:
          hazard: Sharp rim of the cover
          consequence: The rim cuts.
          avoid: Wear gloves.
        do: Turn the cover over.
      - id: gap
        measure: Measure the gap of the cover.
        with: calliper
        unit: mm
        limit: spring.free_length
        below: {verdict: accept}
        above: {verdict: accept}
        could_not_measure: {verdict: accept}
  - id: last
    do: Wipe the bench.
";

fn shop() -> Bench {
    Bench::with(&[("bench_cover", COVER)])
}

fn words(hand: &Hand<'_>) -> Vec<&'static str> {
    hand.entries().iter().map(|entry| entry.event.word()).collect()
}

/// Ines at the first step.
fn at_the_gauge<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    assert_eq!(hand.asked(), "gauge", "{}", hand.screen());
    hand
}

#[test]
fn st5_reading_a_warning_does_nothing_and_one_key_reads_one() {
    let bench = shop();
    let (mut session, mut released) = (bench.job_of("bench_cover"), Released::default());
    let mut hand = at_the_gauge(&mut session, &mut released);
    hand.keys("enter");
    assert_eq!(hand.asked(), "open/lift");
    let before = words(&hand).len();
    // No key of doing does anything before the warning is read, and reading completes nothing.
    hand.keys("enter y");
    assert_eq!(words(&hand).len(), before);
    hand.keys("r");
    let read = words(&hand)[before..].to_vec();
    assert_eq!((read.len(), hand.asked().as_str()), (1, "open/lift"), "{read:?}");
    // The key that read it does not do the step, nor read the warning of the next.
    hand.keys("r r");
    assert_eq!(words(&hand).len(), before + 1);
    hand.keys("enter");
    assert_eq!(hand.asked(), "open/turn");
    assert!(hand.screen().contains("CAUTION"), "{}", hand.screen());
    let done = words(&hand)[before..].to_vec();
    assert_eq!(done.len(), 2);
    assert_ne!(done[0], done[1], "two kinds of entry: {done:?}");
    let question = hand.model().shown.question().unwrap();
    assert!(!question.safety_read, "the next warning is not read with the first");
}

#[test]
fn st5_an_acknowledgement_faster_than_reading_is_shown_to_whoever_signs_and_a_second_look_is_not() {
    let bench = shop();
    let (mut session, mut released) = (bench.job_of("bench_cover"), Released::default());
    let mut hand = at_the_gauge(&mut session, &mut released);
    hand.keys("enter");
    // Fifteen words in less than half a second.
    bench.clock.pass(TimeDelta::milliseconds(400));
    hand.keys("r");
    bench.clock.pass(TimeDelta::seconds(5));
    hand.keys("enter");
    assert_eq!(hand.asked(), "open/turn");
    bench.clock.pass(TimeDelta::seconds(3));
    hand.keys("r enter");
    drop(hand);
    let hasty: Vec<String> =
        session.exceptions().into_iter().filter(|line| line.contains("faster than")).collect();
    let said = "safety text acknowledged faster than it can be read: open/lift (15 words in 0.4 s, i.varga)";
    assert_eq!(hasty, [said]);
    // The same words once more, after a correction or a state that ran out, are known.
    assert_eq!(session.state().hasty.len(), 1);
    assert_eq!(session.state().read_by.len(), 2);
}

#[test]
fn fb7_what_may_happen_at_any_moment_is_on_every_screen_of_its_section_and_on_no_other() {
    let bench = shop();
    let (mut session, mut released) = (bench.job_of("bench_cover"), Released::default());
    let mut hand = at_the_gauge(&mut session, &mut released);
    let see = "The housing is over 60 °C";
    let looks = ["o", "p", "h", "t", "?", "w", "q", "b"];
    for look in looks {
        hand.keys(look);
        assert!(!hand.screen().contains(see), "{look}: {}", hand.screen());
        hand.keys("esc");
    }
    hand.keys("enter");
    for size in [(80, 24), (60, 16), (40, 12), (120, 40)] {
        assert!(screen(hand.model(), size.0, size.1).contains(see), "while a warning is read");
    }
    hand.keys("r");
    for look in [""].into_iter().chain(looks) {
        hand.keys(look);
        for size in [(80, 24), (60, 16), (40, 12), (120, 40)] {
            let text = screen(hand.model(), size.0, size.1);
            assert!(text.contains(see), "`{look}` at {size:?}: {text}");
        }
        hand.keys("esc");
    }
    hand.keys("enter r enter tab 1 enter");
    assert_eq!(hand.asked(), "open/gap");
    hand.text("45.0");
    hand.keys("enter");
    assert_eq!(hand.asked(), "last", "{}", hand.screen());
    assert!(!hand.screen().contains(see), "{}", hand.screen());
}

#[test]
fn fb10_from_every_screen_one_key_stops_the_work_and_says_how_the_machine_is_left() {
    let bench = shop();
    // What is opened, and the key that stops from there.
    let from = [
        ("", "s"),
        ("o", "s"),
        ("p", "s"),
        ("h", "s"),
        ("w", "s"),
        ("?", "s"),
        ("q", "ctrl-s"),
        ("b", "ctrl-s"),
        ("d", "ctrl-s"),
        ("f", "ctrl-s"),
        ("t", "ctrl-s"),
    ];
    for (open, stop) in from {
        let (mut session, mut released) = (bench.job_of("bench_cover"), Released::default());
        let mut hand = at_the_gauge(&mut session, &mut released);
        hand.keys("enter r");
        hand.keys(open);
        hand.keys(stop);
        let text = hand.screen();
        assert!(text.contains("Cover on two studs, drains open"), "{open}: {text}");
        hand.keys("1 enter");
        assert!(matches!(hand.entries().last().unwrap().event, Event::WorkHalted { .. }), "{open}");
        let text = hand.screen();
        assert!(text.contains("STOPPED") && text.contains("LEAVE IT SO"), "{open}: {text}");
        // Nothing goes on without a mechanic.
        let n_entries = hand.entries().len();
        hand.keys("y n r enter 1 enter");
        hand.text("cooled down");
        hand.keys("enter enter");
        assert_eq!(hand.entries().len(), n_entries, "{}", hand.screen());
        hand.passphrase();
        assert!(matches!(hand.entries().last().unwrap().event, Event::WorkResumed { .. }));
    }
}

#[test]
fn fb10_what_was_typed_is_there_again_once_the_work_goes_on() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("45.0");
    hand.keys("ctrl-s");
    assert!(hand.screen().contains("LEAVE IT SO"), "{}", hand.screen());
    hand.text("Oil on the floor");
    hand.keys("enter");
    assert!(matches!(hand.entries().last().unwrap().event, Event::WorkHalted { .. }));
    hand.keys("enter 1 enter");
    hand.text("Wiped");
    hand.keys("enter enter");
    hand.passphrase();
    assert_eq!(hand.model().draft.field.text(), "45.0", "{}", hand.screen());
    assert!(hand.screen().contains("45.0 mm is within"), "{}", hand.screen());
}

#[test]
fn pk4_where_a_figure_exists_no_word_is_taken_for_it_and_lists_are_answered_line_by_line() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    let n_entries = hand.entries().len();
    for word in ["ok", "OK", "good", "fine", "yes", "y", "-", "within"] {
        hand.text(word);
        assert!(hand.screen().contains("NO FIGURE YET"), "{word}: {}", hand.screen());
        hand.keys("enter");
        assert!(hand.screen().contains("NOT ACCEPTED"), "{word}: {}", hand.screen());
        hand.keys("ctrl-u");
    }
    assert_eq!(hand.entries().len(), n_entries);
    // In lines too.
    drop(hand);
    let (_, said) = crate::plain::typed(&mut session, &["ok", "1", "ok", "good", "quit"]);
    assert!(said.contains("Not understood"), "{said}");
    assert_eq!(session.entries().len(), n_entries, "{said}");
    // A list takes one key a line; none of its keys answers it whole.
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    let before = hand.entries().len();
    hand.keys("enter space a");
    assert_eq!(hand.entries().len(), before, "no key answers all lines at once");
    hand.keys("y");
    assert_eq!(hand.entries().len(), before + 1);
    assert!(matches!(hand.entries().last().unwrap().event, Event::ItemChecked { .. }));
}

/// A list that is done first and confirmed then, and one that is read and done.
const CONFIRMED: &str = "steps:
  - id: before_run
    section: Before the run
    mode: do_confirm
    steps:
      - id: suction
        check: Confirm the suction side.
        items: [The valve is open, The strainer is clean]
        not_so: {verdict: refer}
  - id: after
    section: After it
    steps:
      - id: drains
        check: Close the drains.
        items: [The drain is shut]
        not_so: {verdict: refer}
";

#[test]
fn pk4_a_section_says_whether_its_lists_are_done_first_and_confirmed_then() {
    let bench = Bench::with(&[("bench_confirmed", CONFIRMED)]);
    let (mut session, mut released) = (bench.job_of("bench_confirmed"), Released::default());
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    let first = "do all of this list, then confirm it line by line";
    assert!(hand.screen().contains(&format!("FIRST    {first}")), "{}", hand.screen());
    hand.keys("y y");
    assert_eq!(hand.asked(), "after/drains");
    assert!(!hand.screen().contains(first), "{}", hand.screen());
    drop(hand);
    let mut session = bench.job_of("bench_confirmed");
    let (_, said) = crate::plain::typed(&mut session, &["1", "y", "y", "quit"]);
    assert_eq!(said.matches(&format!("First: {first}")).count(), 1, "{said}");
}

#[test]
fn ac3_a_day_of_idling_loses_nothing_and_mistakes_say_what_was_typed_and_what_is_due() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("44.1");
    let n_entries = hand.entries().len();
    bench.clock.pass(TimeDelta::hours(24));
    hand.idle(24 * 3_600_000);
    hand.keys("left");
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::TakeUp { .. })));
    assert_eq!(hand.model().draft.field.text(), "44.1");
    hand.keys("page_down page_down page_down r");
    assert_eq!(hand.model().draft.field.text(), "44.1", "{}", hand.screen());
    assert!(hand.entries().len() > n_entries, "that it was looked at is entered");
    // What was typed, and what it is held against.
    let text = hand.screen();
    assert!(text.contains("44.1 mm is below 44.6 mm"), "{text}");
    let n_entries = hand.entries().len();
    hand.keys("enter");
    assert_eq!(hand.entries().len(), n_entries, "out of its limit a figure is asked for twice");
    assert!(hand.screen().contains("Is the figure right?"), "{}", hand.screen());
    hand.keys("ctrl-u");
    hand.text("4,51.0");
    hand.keys("enter");
    let text = hand.screen();
    assert!(text.contains("NOT ACCEPTED") && text.contains("4,51.0"), "{text}");
    assert_eq!(hand.entries().len(), n_entries);
}

#[test]
fn ac3_the_sign_off_asks_twice_and_shows_what_will_be_signed() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let lines = crate::plain::WHOLE_JOB;
    let release = lines.iter().position(|line| *line == "release").unwrap();
    crate::plain::typed(&mut session, &lines[..release]);
    let mut hand = Hand::at(&mut session, &mut released, (100, 40));
    hand.keys("w 2 enter");
    hand.passphrase();
    if matches!(hand.model().overlays.last(), Some(Overlay::TakeUp { .. })) {
        hand.keys("page_down page_down r");
    }
    let Screen::SignOff { lines, .. } = &hand.model().screen else {
        panic!("{}", hand.screen());
    };
    let lines = lines.clone();
    assert!(!lines.is_empty());
    for _ in &lines {
        hand.keys("enter");
    }
    hand.keys("enter");
    assert!(matches!(hand.model().overlays.last(), Some(Overlay::People { .. })));
    hand.keys("enter");
    let text = hand.screen();
    assert!(text.contains("I sign for the whole job"), "{text}");
    for line in &lines {
        let start: String = line.chars().take(40).collect();
        assert!(text.contains(&start), "`{start}` is signed and not shown:\n{text}");
    }
    hand.keys("esc esc");
    assert!(hand.model().overlays.is_empty(), "neither question signed anything");
}

/// Where the bytes go that a terminal would get.
#[derive(Default)]
struct Line(Rc<Cell<usize>>);

impl Write for Line {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.set(self.0.get() + bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_key_sends_little_over_a_slow_line_and_one_that_changes_nothing_sends_nothing() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.job(), Released::default());
    let mut hand = at_the_reading(&mut session, &mut released);
    let sent = Rc::new(Cell::new(0));
    let area = Rect { x: 0, y: 0, width: 80, height: 24 };
    let options = TerminalOptions { viewport: Viewport::Fixed(area) };
    let backend = CrosstermBackend::new(Line(Rc::clone(&sent)));
    let mut terminal = Terminal::with_options(backend, options).unwrap();
    let mut press = |hand: &mut Hand<'_>, key: &str| {
        let before = sent.get();
        if hand.keys(key) != Turn::Idle {
            let model = hand.model();
            let draw = |frame: &mut ratatui::Frame<'_>| {
                if let Some(at) = view(model, frame.area(), frame.buffer_mut()) {
                    frame.set_cursor_position(at);
                }
            };
            terminal.draw(draw).unwrap();
        }
        sent.get() - before
    };
    let whole = press(&mut hand, "4");
    assert!(whole < 4_000, "the whole screen is {whole} bytes");
    // A modem of another age sends a thousand characters a second: nothing is waited for.
    for (key, most) in [("5", 500), (".", 400), ("0", 400), ("left", 60), ("back", 500)] {
        let bytes = press(&mut hand, key);
        assert!(bytes <= most, "`{key}` sends {bytes} bytes, and {most} are the most");
    }
    press(&mut hand, "ctrl-o");
    assert_eq!(press(&mut hand, "z"), 0, "a key without a meaning sends nothing");
    for _ in 0..5 {
        let bytes = press(&mut hand, "up");
        assert!(bytes <= 1_300, "a row up in the outline sends {bytes} bytes");
    }
}

/// Texts by the one role that they are drawn in.
struct Told(BTreeMap<String, Role>);

impl Told {
    fn look(&mut self, hand: &Hand<'_>, what: &str) {
        let telling = [
            Role::Good,
            Role::Bad,
            Role::Look,
            Role::Danger,
            Role::Warning,
            Role::Caution,
            Role::Notice,
        ];
        for (role, text) in runs(hand.model(), 120, 40) {
            // Signs of a drawing differ as signs, and are looked at in the tests of each drawing.
            if !telling.contains(&role) || !text.chars().any(char::is_alphanumeric) {
                continue;
            }
            let before = *self.0.entry(text.clone()).or_insert(role);
            assert_eq!(before, role, "`{text}` at {what} is told apart by its colour alone");
        }
    }
}

#[test]
fn ac1_on_no_screen_is_anything_told_by_its_colour_alone() {
    let mut told = Told(BTreeMap::new());
    let bench = shop();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = Hand::at(&mut session, &mut released, (120, 40));
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("1 enter");
    for keys in ["y", "y", "y"] {
        told.look(&hand, "the stack");
        hand.keys(keys);
    }
    hand.text("K-88");
    hand.keys("enter");
    hand.text("10");
    told.look(&hand, "the wrench");
    hand.keys("ctrl-y enter y y");
    told.look(&hand, "the circle");
    hand.keys("n");
    told.look(&hand, "a fastener that is not so");
    for looks in ["o", "p", "h", "t", "b", "q", "?"] {
        hand.keys(looks);
        told.look(&hand, looks);
        hand.keys("esc");
    }
    drop(hand);
    let (mut session, mut released) = (bench.job_of("bench_cover"), Released::default());
    let mut hand = at_the_gauge(&mut session, &mut released);
    for keys in ["enter", "r", "s", "1 enter", "enter"] {
        hand.keys(keys);
        told.look(&hand, keys);
    }
    assert!(told.0.len() > 25, "{}", told.0.len());
}

#[test]
fn ac2_no_byte_of_a_walk_in_lines_moves_a_cursor_or_draws_anything_anew() {
    let bench = Bench::new();
    let mut session = bench.job();
    let more = ["outline", "sheet", "history", "where", "help"];
    let lines: Vec<&str> = ["1"].into_iter().chain(more).chain(["quit"]).collect();
    let (_, mut said) = crate::plain::typed(&mut session, &lines);
    let mut session = bench.job();
    said.push_str(&crate::plain::typed(&mut session, crate::plain::WHOLE_JOB).1);
    let (mut session, nuts) = (bench.closing(), ["1", "1", "", "y", "y", "y", "K-88", "quit"]);
    said.push_str(&crate::plain::typed(&mut session, &nuts).1);
    let bad: Vec<char> = said.chars().filter(|c| c.is_control() && *c != '\n').collect();
    assert_eq!(bad, [], "only ends of lines");
    assert!(said.lines().count() > 200, "{}", said.lines().count());
    assert!(!said.contains(['│', '─', '▲', '▼', '█', '◆']), "no drawing either");
}
