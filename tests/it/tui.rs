//! The full screen, driven by keys: what is drawn, what counts, what never does.

use std::fmt::Write as _;

use chrono::TimeDelta;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyEventState, KeyModifiers};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use witnessmark::session::Session;
use witnessmark::tui::model::{Model, Screen};
use witnessmark::tui::runtime::{Runtime, Turn};
use witnessmark::tui::theme::Role;
use witnessmark::tui::view::view;
use witnessmark::walk::{Entry, Event as Entered};

use crate::support::bench::{Bench, BenchKeys, PASSPHRASE, Released};

/// A hand at the keys of one job.
pub(crate) struct Hand<'a> {
    pub(crate) runtime: Runtime<'a>,
    at_ms: u64,
}

fn key(code: KeyCode, modifiers: KeyModifiers, kind: KeyEventKind) -> Event {
    Event::Key(KeyEvent { code, modifiers, kind, state: KeyEventState::NONE })
}

fn press(word: &str) -> Event {
    let (word, modifiers) = match word.strip_prefix("ctrl-") {
        Some(letter) => (letter, KeyModifiers::CONTROL),
        None => (word, KeyModifiers::NONE),
    };
    let code = match word {
        "enter" => KeyCode::Enter,
        "esc" => KeyCode::Esc,
        "tab" => KeyCode::Tab,
        "up" => KeyCode::Up,
        "down" => KeyCode::Down,
        "page_down" => KeyCode::PageDown,
        "page_up" => KeyCode::PageUp,
        "back" => KeyCode::Backspace,
        "space" => KeyCode::Char(' '),
        "left" => KeyCode::Left,
        letter => {
            assert_eq!(letter.chars().count(), 1, "no key is called {letter}");
            KeyCode::Char(letter.chars().next().unwrap())
        }
    };
    key(code, modifiers, KeyEventKind::Press)
}

impl<'a> Hand<'a> {
    pub(crate) fn at(
        session: &'a mut Session,
        released: &'a mut Released,
        size: (u16, u16),
    ) -> Self {
        Self { runtime: Runtime::new(session, &BenchKeys, released, size), at_ms: 0 }
    }

    /// Presses keys by name, a second apart.
    pub(crate) fn keys(&mut self, words: &str) -> Turn {
        let mut turn = Turn::Idle;
        for word in words.split_whitespace() {
            self.at_ms += 1_000;
            turn = self.runtime.feed(&press(word), self.at_ms);
        }
        turn
    }

    /// Types text, quickly.
    pub(crate) fn text(&mut self, text: &str) {
        self.at_ms += 1_000;
        for c in text.chars() {
            self.at_ms += 20;
            let event = key(KeyCode::Char(c), KeyModifiers::NONE, KeyEventKind::Press);
            self.runtime.feed(&event, self.at_ms);
        }
    }

    pub(crate) fn passphrase(&mut self) {
        self.text(PASSPHRASE);
        self.keys("enter");
    }

    /// Lets time pass at the screen.
    pub(crate) fn idle(&mut self, ms: u64) {
        self.at_ms += ms;
    }

    pub(crate) fn screen(&self) -> String {
        let (columns, rows) = self.model().hand.size;
        screen(self.model(), columns, rows)
    }

    pub(crate) fn model(&self) -> &Model {
        &self.runtime.model
    }

    pub(crate) fn entries(&self) -> &[Entry] {
        self.runtime.session().entries()
    }

    pub(crate) fn asked(&self) -> String {
        let question = self.model().shown.question();
        question.map_or_else(|| "none".to_owned(), |q| q.address.to_string())
    }
}

fn draw(model: &Model, columns: u16, rows: u16) -> (Buffer, Option<(u16, u16)>) {
    let area = Rect { x: 0, y: 0, width: columns, height: rows };
    let mut buf = Buffer::empty(area);
    let mut model = model.clone();
    model.hand.size = (columns, rows);
    let cursor = view(&model, area, &mut buf).map(|p| (p.x, p.y));
    (buf, cursor)
}

fn lines(buf: &Buffer) -> Vec<String> {
    let area = buf.area;
    (area.top()..area.bottom())
        .map(|y| {
            let row = (area.left()..area.right()).map(|x| buf[(x, y)].symbol());
            row.collect::<String>().trim_end().to_owned()
        })
        .collect()
}

pub(crate) fn screen(model: &Model, columns: u16, rows: u16) -> String {
    let (buf, cursor) = draw(model, columns, rows);
    let mut text = lines(&buf).join("\n");
    if let Some((x, y)) = cursor {
        write!(text, "\ncursor at column {x}, row {y}").unwrap();
    }
    text
}

/// Which role stands where: a line for each row with anything but plain text.
fn roles(model: &Model, columns: u16, rows: u16) -> String {
    let (buf, _) = draw(model, columns, rows);
    let mut out = String::new();
    for y in 0..rows {
        let mut runs: Vec<(Role, u16, u16)> = Vec::new();
        for x in 0..columns {
            let role = Role::of(buf[(x, y)].style()).expect("every cell has a role");
            match runs.last_mut() {
                Some((last, _, to)) if *last == role => *to = x,
                _ => runs.push((role, x, x)),
            }
        }
        let runs: Vec<String> = runs
            .iter()
            .filter(|(role, ..)| *role != Role::Plain)
            .map(|(role, from, to)| format!("{from}-{to} {role:?}"))
            .collect();
        if !runs.is_empty() {
            writeln!(out, "{y:2}: {}", runs.join(", ")).unwrap();
        }
    }
    out
}

/// Stops of the whole job, in order: each plays on from the one before.
const STOPS: [&str; 14] = [
    "who", "needs", "text", "safety", "step", "list", "decision", "findings", "figure", "several",
    "hold", "cover", "sign_off", "done",
];

/// Plays the same answers as `plain::WHOLE_JOB` and shows each stop to `look`.
fn whole_job(hand: &mut Hand<'_>, look: &mut dyn FnMut(&str, &Hand<'_>)) {
    let mut stops = STOPS.iter();
    let mut stop = |hand: &Hand<'_>| look(stops.next().unwrap(), hand);
    stop(hand);
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y");
    stop(hand);
    hand.keys("y y");
    hand.text("Rattles when warm");
    stop(hand);
    hand.keys("enter 1 enter 2 enter");
    hand.text("1,250");
    hand.keys("enter ctrl-u");
    hand.text("1250");
    hand.keys("enter");
    stop(hand);
    hand.keys("r");
    stop(hand);
    hand.keys("enter y");
    stop(hand);
    hand.keys("n 1");
    stop(hand);
    hand.keys("enter");
    hand.text("Burr is below the sealing face");
    hand.keys("enter enter");
    hand.passphrase();
    hand.keys("2");
    stop(hand);
    hand.keys("enter tab 1 enter");
    hand.text("45,0");
    stop(hand);
    hand.keys("enter 1 enter");
    hand.text("44.5");
    hand.keys("enter enter 2 3");
    stop(hand);
    hand.keys("enter 1 enter");
    stop(hand);
    hand.keys("enter");
    hand.passphrase();
    hand.keys("enter 1 enter");
    hand.passphrase();
    stop(hand);
    hand.keys("enter enter");
    hand.passphrase();
    for _ in 0..2 {
        // What is missing is shown in the outline; a mechanic says what was done.
        hand.keys("enter a enter");
        hand.text("a new spring");
        hand.keys("enter enter");
        hand.passphrase();
        hand.keys("esc");
    }
    hand.keys("enter enter");
    stop(hand);
    // Among the lines is the safety text: the clock of this bench stands still while it is read.
    hand.keys("enter enter enter enter enter enter 1 enter");
    hand.passphrase();
    stop(hand);
}

/// What entries say, without times and signatures.
fn said(entries: &[Entry]) -> Vec<String> {
    let said = |event: &Entered| match event {
        Entered::Identified(signed) => format!("identified {}", signed.statement.signer),
        Entered::PerformedSigned(signed) => {
            format!("performed {} {:?}", signed.statement.signer, signed.statement.meaning)
        }
        Entered::Answered { address, answer, judged, signed } => {
            format!("{address} {answer:?} {judged:?} {}", signed.is_some())
        }
        Entered::Disposed { address, said, .. } => format!("{address} {said:?}"),
        other => format!("{other:?}"),
    };
    entries.iter().map(|entry| format!("{:?} {}", entry.by, said(&entry.event))).collect()
}

#[test]
fn each_screen_of_a_whole_job() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    whole_job(&mut hand, &mut |name, hand| {
        insta::assert_snapshot!(format!("80x24_{name}"), hand.screen());
        if ["safety", "findings", "figure"].contains(&name) {
            insta::assert_snapshot!(format!("60x16_{name}"), screen(hand.model(), 60, 16));
            insta::assert_snapshot!(format!("120x40_{name}"), screen(hand.model(), 120, 40));
        }
        if ["safety", "figure"].contains(&name) {
            insta::assert_snapshot!(format!("roles_{name}"), roles(hand.model(), 80, 24));
        }
    });
    assert!(matches!(hand.model().screen, Screen::Done(_)));
    assert_eq!(hand.keys("q"), Turn::Quit);
}

#[test]
fn keys_and_lines_make_the_same_journal() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    whole_job(&mut hand, &mut |_, _| {});
    let by_keys = said(hand.entries());
    let mut session = bench.job();
    crate::plain::typed(&mut session, crate::plain::WHOLE_JOB);
    let by_lines = said(session.entries());
    // The first entry names the job, and these are two.
    assert_eq!(by_keys[1..], by_lines[1..]);
}

#[test]
fn every_screen_fits_every_window() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    let mut models: Vec<Model> = Vec::new();
    whole_job(&mut hand, &mut |_, hand| models.push(hand.model().clone()));
    for extra in ["?", "ctrl-q", "o", "p", "t", "w"] {
        let mut session = bench.job();
        let mut released = Released::default();
        let mut hand = Hand::at(&mut session, &mut released, (80, 24));
        hand.keys("1 enter");
        models.push(hand.model().clone());
        hand.passphrase();
        hand.keys("y y y esc");
        hand.keys("ctrl-t");
        hand.text("a note");
        models.push(hand.model().clone());
        hand.keys("esc ctrl-o");
        models.push(hand.model().clone());
        hand.keys(extra);
        models.push(hand.model().clone());
    }
    // Large windows too, the largest that a wall of a workshop has.
    for (model, (columns, rows)) in
        models.iter().flat_map(|model| [(120, 40), (200, 60), (300, 100)].map(|size| (model, size)))
    {
        let (buf, cursor) = draw(model, columns, rows);
        assert!(cursor.is_none_or(|(x, y)| x < columns && y < rows));
        assert!(lines(&buf)[0].contains("P-7"), "{:?}", lines(&buf)[0]);
    }
    for model in &models {
        for columns in 0..=60 {
            for rows in 0..=20 {
                let (buf, cursor) = draw(model, columns, rows);
                if let Some((x, y)) = cursor {
                    assert!(x < columns && y < rows, "{x},{y} in {columns}x{rows}");
                }
                if columns >= 22 && rows > 0 && (columns < 40 || rows < 12) {
                    let said = lines(&buf)[0].clone();
                    assert_eq!(said, format!("needs 40x12, has {columns}x{rows}"));
                }
            }
        }
    }
}

/// A job with `session` at its first step that is done with one key.
fn at_the_lift<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y y y");
    hand.text("Rattles");
    hand.keys("enter 1 enter 2 enter");
    hand.text("12");
    hand.keys("enter r");
    assert_eq!(hand.asked(), "open/lift");
    hand
}

#[test]
fn o05_a_key_that_is_held_down_answers_once() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift(&mut session, &mut released);
    hand.keys("enter");
    assert_eq!(hand.asked(), "open/seats");
    let n_entries = hand.entries().len();
    // `y` as plain presses 30 ms apart, after the pause before a key repeats.
    for n in 0..20 {
        let at = hand.at_ms + 2_000 + if n == 0 { 0 } else { 500 + n * 30 };
        hand.runtime.feed(&press("y"), at);
    }
    assert_eq!(hand.entries().len(), n_entries + 1);
    // Let go, and pressed again.
    hand.at_ms += 5_000;
    hand.keys("y");
    assert_eq!(hand.entries().len(), n_entries + 2);
}

#[test]
fn o05_releases_and_repeats_answer_nothing() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift(&mut session, &mut released);
    let n_entries = hand.entries().len();
    let enter = |kind| key(KeyCode::Enter, KeyModifiers::NONE, kind);
    for kind in [KeyEventKind::Repeat, KeyEventKind::Release, KeyEventKind::Repeat] {
        hand.at_ms += 1_000;
        assert_eq!(hand.runtime.feed(&enter(kind), hand.at_ms), Turn::Idle);
    }
    assert_eq!(hand.entries().len(), n_entries);
    hand.at_ms += 1_000;
    assert_eq!(hand.runtime.feed(&enter(KeyEventKind::Press), hand.at_ms), Turn::Answered);
    assert_eq!(hand.entries().len(), n_entries + 1);
}

/// A job at its first reading, with the calliper in hand.
pub(crate) fn at_the_reading<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = at_the_lift(session, released);
    hand.keys("enter y");
    hand.keys("y 1 enter tab 1 enter");
    assert_eq!(hand.asked(), "valves[cylinder=1]/length");
    hand
}

#[test]
fn o05_a_paste_and_a_split_escape_never_confirm_or_clear() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    let n_entries = hand.entries().len();
    hand.runtime.feed(&Event::Paste("45.0\n".to_owned()), hand.at_ms + 10);
    assert_eq!(hand.model().draft.field.text(), "45.0");
    // A function key of the Linux console that arrives in pieces: escape, then `[[A`.
    hand.at_ms += 2_000;
    hand.runtime.feed(&press("esc"), hand.at_ms);
    for (n, c) in (1..).zip("[[A".chars()) {
        let event = key(KeyCode::Char(c), KeyModifiers::NONE, KeyEventKind::Press);
        hand.runtime.feed(&event, hand.at_ms + n * 20);
    }
    assert_eq!(hand.model().draft.field.text(), "45.0");
    assert_eq!(hand.entries().len(), n_entries);
    // What is typed survives a window that is too small, help, and looking around.
    hand.runtime.feed(&Event::Resize(20, 5), hand.at_ms);
    hand.runtime.feed(&Event::Resize(80, 24), hand.at_ms);
    hand.keys("ctrl-k esc ctrl-o esc ctrl-p esc");
    assert_eq!(hand.model().draft.field.text(), "45.0");
    hand.keys("enter");
    assert_eq!(hand.asked(), "valves[cylinder=2]/spring");
}

#[test]
fn what_is_not_saved_is_said_kept_and_saved_again() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("45.0");
    let n_entries = hand.entries().len();
    bench.disk.set_free_bytes(Some(0));
    hand.keys("enter");
    assert_eq!(hand.entries().len(), n_entries);
    insta::assert_snapshot!("80x24_not_saved", hand.screen());
    hand.keys("enter y 1");
    assert_eq!(hand.model().draft.field.text(), "45.0");
    hand.keys("r");
    assert_eq!(hand.entries().len(), n_entries);
    bench.disk.set_free_bytes(None);
    hand.keys("r");
    assert_eq!(hand.entries().len(), n_entries + 1);
    assert_eq!(hand.asked(), "valves[cylinder=2]/spring");
}

#[test]
fn safety_text_is_read_to_its_end_first() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (40, 12));
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y y y");
    hand.text("Rattles");
    hand.keys("enter 1 enter 2 enter");
    hand.text("12");
    hand.keys("enter");
    let n_entries = hand.entries().len();
    hand.keys("r");
    assert_eq!(hand.entries().len(), n_entries, "{}", hand.screen());
    insta::assert_snapshot!("40x12_safety", hand.screen());
    hand.keys("page_down page_down page_down r");
    assert_eq!(hand.entries().len(), n_entries + 1, "{}", hand.screen());
}

#[test]
fn the_next_person_is_shown_what_is_open() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift(&mut session, &mut released);
    hand.keys("enter y");
    let job = session.job().clone();
    drop(session);
    bench.clock.pass(TimeDelta::minutes(12));
    let mut session = bench.shop.resume(&job).unwrap();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert!(matches!(hand.model().screen, Screen::Who { .. }));
    hand.keys("2 enter");
    hand.passphrase();
    insta::assert_snapshot!("80x24_handover", hand.screen());
    let n_entries = hand.entries().len();
    hand.keys("y n enter esc");
    assert_eq!(hand.entries().len(), n_entries);
    hand.keys("r y");
    let last = hand.entries().last().unwrap();
    assert_eq!(last.by.as_ref().unwrap().as_str(), "t.reiter");
    // The same person after a long pause at the same screen.
    bench.clock.pass(TimeDelta::minutes(45));
    hand.at_ms += 45 * 60_000;
    let n_entries = hand.entries().len();
    hand.keys("1");
    assert_eq!(hand.model().overlays.len(), 1);
    hand.keys("enter");
    assert_eq!(hand.entries().len(), n_entries);
}

#[test]
fn ca1_an_answer_is_corrected_from_the_outline_with_a_reason() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("44.1");
    hand.keys("enter");
    insta::assert_snapshot!("80x24_out_of_limit", hand.screen());
    hand.keys("enter o");
    while hand.model().shown.outline[cursor(&hand)].text
        != "Measure the free length of the spring, standing on its end."
    {
        hand.keys("up");
    }
    insta::assert_snapshot!("80x24_outline", hand.screen());
    hand.keys("c");
    hand.text("45.1");
    hand.keys("enter");
    hand.text("misread the vernier");
    insta::assert_snapshot!("80x24_correction", hand.screen());
    hand.keys("enter");
    assert!(matches!(hand.entries().last().unwrap().event, Entered::Corrected { .. }));
    hand.keys("p");
    insta::assert_snapshot!("80x24_sheet", hand.screen());
    hand.keys("esc ?");
    insta::assert_snapshot!("80x24_help", hand.screen());
}

fn cursor(hand: &Hand<'_>) -> usize {
    match hand.model().screen {
        Screen::Outline { cursor } => cursor,
        _ => panic!("no outline: {}", hand.screen()),
    }
}

#[test]
fn a_wrong_passphrase_signs_nothing_and_is_never_shown() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.text("not this one");
    insta::assert_snapshot!("80x24_passphrase", hand.screen());
    assert!(!format!("{:?}", hand.model()).contains("not this"));
    hand.keys("enter");
    assert_eq!(hand.entries().len(), 1);
    assert!(hand.screen().contains("NOT ACCEPTED: the passphrase does not open this key"));
    hand.passphrase();
    assert_eq!(hand.entries().len(), 2);
}

/// Text that acts on terminals, as no file can hold it and damaged ones might.
const NAUGHTY: &str = "Seal\u{7}\u{1b}]52;c;cm0=\u{7}\u{9d}0;x\u{9c}\u{202e}LIAF\u{1b}[2J\r\n";

#[test]
fn o06_text_that_acts_on_terminals_is_drawn_as_stand_ins() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.runtime.feed(&Event::Paste(NAUGHTY.to_owned()), hand.at_ms);
    let model = &mut hand.runtime.model;
    model.shown.title = NAUGHTY.to_owned();
    for person in &mut model.shown.people {
        person.name = NAUGHTY.to_owned();
    }
    for row in &mut model.shown.outline {
        row.text = NAUGHTY.to_owned();
        row.answer = row.answer.as_ref().map(|_| NAUGHTY.to_owned());
    }
    if let witnessmark::shown::Place::Asked(question) = &mut model.shown.place {
        question.within = vec![NAUGHTY.to_owned()];
        question.expect = Some(NAUGHTY.to_owned());
        question.why = Some(NAUGHTY.to_owned());
        question.ask = witnessmark::walk::flow::Ask::Do(NAUGHTY.to_owned());
    }
    model.status = Some(witnessmark::tui::model::Status::Refused(NAUGHTY.to_owned()));
    let mut seen = String::new();
    for keys in ["o", "p", "esc t", "ctrl-k", "esc esc w", "esc x"] {
        hand.keys(keys);
        if let Screen::Sheet { sheet, .. } = &mut hand.runtime.model.screen {
            sheet.notes.push((None, Some(NAUGHTY.to_owned()), NAUGHTY.to_owned()));
        }
        hand.runtime.model.status =
            Some(witnessmark::tui::model::Status::Refused(NAUGHTY.to_owned()));
        let (buf, _) = draw(hand.model(), 120, 40);
        for cell in &buf.content {
            let bad = cell.symbol().chars().find(|c| witnessmark::visible::is_hidden(*c));
            assert_eq!(bad, None, "{}", hand.screen());
        }
        seen.push_str(&lines(&buf).join("\n"));
    }
    assert!(seen.contains(r"Seal\u{7}\u{1b}]52"), "{seen}");
}

#[test]
fn the_other_screens() {
    let bench = Bench::new();
    let mut session = bench.job();
    crate::plain::typed(&mut session, &[crate::plain::PARKED, &["quit"]].concat());
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    assert!(hand.model().overlays.is_empty(), "the same person, a moment later");
    insta::assert_snapshot!("80x24_confirm", hand.screen());
    hand.keys("y");
    assert_eq!(hand.asked(), "open/lift");
    hand.keys("t");
    hand.text("First line");
    hand.keys("enter");
    hand.text("and a second.");
    insta::assert_snapshot!("80x24_note", hand.screen());
    hand.keys("ctrl-r q");
    assert!(matches!(hand.entries().last().unwrap().event, Entered::NoteAdded { .. }));
    insta::assert_snapshot!("80x24_leave", hand.screen());
    assert_eq!(hand.keys("n"), Turn::Draw);
    assert_eq!(hand.keys("q y"), Turn::Quit);
}

#[test]
fn a_reading_that_could_not_be_made_and_a_job_that_ends_early() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.keys("tab");
    insta::assert_snapshot!("80x24_instruments", hand.screen());
    hand.keys("2 enter ctrl-x");
    hand.text("jaws too short");
    hand.keys("enter");
    assert_eq!(hand.asked(), "valves[cylinder=1]/length/decision");
    hand.keys("2 enter");
    hand.text("No spring to be had");
    hand.keys("enter");
    insta::assert_snapshot!("80x24_people", hand.screen());
    hand.keys("enter");
    hand.passphrase();
    insta::assert_snapshot!("80x24_stop", hand.screen());
    hand.keys("enter");
    insta::assert_snapshot!("80x24_stop_sure", hand.screen());
    hand.keys("y");
    insta::assert_snapshot!("80x24_stopped", hand.screen());
}

/// The runs of one role in a screen, as (role, text).
pub(crate) fn runs(model: &Model, columns: u16, rows: u16) -> Vec<(Role, String)> {
    let (buf, _) = draw(model, columns, rows);
    let mut all = Vec::new();
    for y in 0..rows {
        let mut last: Option<(Role, String)> = None;
        for x in 0..columns {
            let role = Role::of(buf[(x, y)].style()).expect("every cell has a role");
            let sign = buf[(x, y)].symbol();
            match &mut last {
                Some((of, text)) if *of == role => text.push_str(sign),
                _ => all.extend(last.replace((role, sign.to_owned()))),
            }
        }
        all.extend(last);
    }
    all.iter().map(|(role, text)| (*role, text.trim().to_owned())).collect()
}

#[test]
fn ac1_with_colours_stripped_every_state_and_signal_word_still_differs() {
    // Roles that say good, bad, look, or how bad a danger is. None may share its text with another.
    let telling = [
        Role::Good,
        Role::Bad,
        Role::Look,
        Role::Danger,
        Role::Warning,
        Role::Caution,
        Role::Notice,
    ];
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (120, 40));
    let mut said: std::collections::BTreeMap<String, Role> = std::collections::BTreeMap::new();
    let mut n_told = 0;
    whole_job(&mut hand, &mut |name, hand| {
        for (role, text) in runs(hand.model(), 120, 40) {
            if !telling.contains(&role) || text.is_empty() {
                continue;
            }
            n_told += 1;
            let before = *said.entry(text.clone()).or_insert(role);
            assert_eq!(before, role, "`{text}` at {name} is told apart by its colour alone");
        }
    });
    assert!(n_told > 80, "{n_told}");
    let words: std::collections::BTreeSet<_> =
        witnessmark::shown::State::ALL.map(|s| (s.letter(), s.word())).into_iter().collect();
    assert_eq!(words.len(), witnessmark::shown::State::ALL.len());
    // And the letters stand in the outline as drawn without colours.
    hand.runtime.model.hand.look.no_colour = true;
    let (buf, _) = draw(hand.model(), 120, 40);
    let plain = |cell: &ratatui::buffer::Cell| {
        (cell.fg, cell.bg) == (ratatui::style::Color::Reset, ratatui::style::Color::Reset)
    };
    assert!(buf.content.iter().all(plain));
}

/// A job in a window of `size` whose safety text has `n` lines and ends with `LASTWORD`.
pub(crate) fn at_a_long_warning<'a>(
    session: &'a mut Session,
    released: &'a mut Released,
    size: (u16, u16),
    n: usize,
) -> Hand<'a> {
    let mut hand = at_the_lift_unread(session, released, size);
    let witnessmark::shown::Place::Asked(question) = &mut hand.runtime.model.shown.place else {
        panic!("a step is asked");
    };
    let width = usize::from(size.0) - 8;
    question.safety[0].consequence = vec!["w".repeat(width); n].join(" ");
    "Read to LASTWORD".clone_into(&mut question.safety.last_mut().unwrap().avoid);
    hand
}

/// At the lift, its safety text not read yet.
pub(crate) fn at_the_lift_unread<'a>(
    session: &'a mut Session,
    released: &'a mut Released,
    size: (u16, u16),
) -> Hand<'a> {
    let mut hand = Hand::at(session, released, size);
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("y y y");
    hand.text("Rattles");
    hand.keys("enter 1 enter 2 enter");
    hand.text("12");
    hand.keys("enter");
    hand
}

#[test]
fn st2_no_key_reaches_the_action_before_the_last_line_of_a_long_warning_was_drawn() {
    for size in [(80, 24), (60, 20)] {
        let bench = Bench::new();
        let mut session = bench.job();
        let mut released = Released::default();
        let mut hand = at_a_long_warning(&mut session, &mut released, size, 30);
        let n_entries = hand.entries().len();
        let mut n_looks = 0;
        while !hand.screen().contains("LASTWORD") {
            for key in ["r", "enter", "y", "n", "1", "9", "tab", "ctrl-x", "x", "left"] {
                hand.keys(key);
            }
            assert_eq!(hand.entries().len(), n_entries, "{}", hand.screen());
            assert!(!hand.screen().contains("Lift the cover"), "{}", hand.screen());
            hand.keys("down");
            n_looks += 1;
            assert!(n_looks < 60, "{}", hand.screen());
        }
        assert!(n_looks > 5, "the text was longer than the window");
        // Acknowledging is an entry of its own, and completes nothing.
        hand.keys("page_down page_down r");
        assert_eq!(hand.entries().len(), n_entries + 1);
        let last = &hand.entries().last().unwrap().event;
        assert!(matches!(last, Entered::SafetyAcknowledged { .. }), "{last:?}");
        assert_eq!(hand.asked(), "open/lift");
    }
}

#[test]
fn ac4_at_forty_columns_and_in_ascii_no_word_of_a_safety_text_is_lost() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift_unread(&mut session, &mut released, (40, 12));
    hand.runtime.model.hand.look.ascii = true;
    let safety = hand.model().shown.question().unwrap().safety.clone();
    let mut seen = String::new();
    for _ in 0..40 {
        let text = hand.screen();
        assert!(text.is_ascii(), "{text}");
        seen.push_str(&text);
        hand.keys("down");
    }
    let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    for text in safety {
        for word in
            [&text.hazard, &text.consequence, &text.avoid].into_iter().flat_map(|t| words(t))
        {
            assert!(seen.contains(&word), "`{word}` is never shown");
        }
    }
}

#[test]
fn o04_every_overlay_draws_at_every_size_and_what_is_typed_survives_a_shrinking_window() {
    let bench = Bench::new();
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("2.0");
    let n_entries = hand.entries().len();
    for open in ["ctrl-k", "ctrl-t", "ctrl-s", "ctrl-b", "ctrl-d", "ctrl-f", "tab", "ctrl-x"] {
        hand.keys(open);
        for size in [(0, 0), (1, 1), (20, 5), (46, 44), (200, 4), (300, 100), (40, 12)] {
            hand.runtime.feed(&Event::Resize(size.0, size.1), hand.at_ms);
            let text = hand.screen();
            assert!(size.0 < 40 || size.1 < 12 || text.lines().count() >= 12, "{text}");
        }
        hand.runtime.feed(&Event::Resize(120, 40), hand.at_ms);
        hand.keys("esc esc");
    }
    assert_eq!(hand.model().draft.field.text(), "2.0");
    assert_eq!(hand.entries().len(), n_entries, "a size enters nothing");
}
