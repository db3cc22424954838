//! The hands on the keys of the full screen.

use std::io::Write as _;
use std::time::{Duration, Instant};

use witnessmark::ids::PersonId;
use witnessmark::language::Thread;
use witnessmark::procedure::model::EntryKind;
use witnessmark::walk::event::Wrench;
use witnessmark::walk::flow::Ask;
use witnessmark::walk::{Address, Answer, Event};

use super::{Bench, Story, answers, by_itself, story};
use crate::support::pty::{PATIENCE, Screen};

/// A key that is not taken, because the program was still at work, is pressed again after so long.
const AGAIN: Duration = Duration::from_secs(4);
/// A key that changes nothing on the screen is waited for no longer.
const QUIET_MAX: Duration = Duration::from_millis(400);
const ENTER: &str = "\r";
const PAGE_DOWN: &str = "\u{1b}[6~";
const DOWN: &str = "\u{1b}[B";
const PAGE_UP: &str = "\u{1b}[5~";

fn ctrl(letter: char) -> String {
    char::from(u8::try_from(letter).unwrap() & 0x1f).to_string()
}

struct Hands<'a> {
    story: &'a Story,
    bench: Bench,
    screen: Screen,
    /// The key that answered last. Pressed twice in a row, it is taken for one that is held down.
    last: String,
    n_keys: usize,
    /// How many bytes had been drawn when the screen was last looked at.
    n_drawn: usize,
    /// True where the last key was seen to change the screen.
    is_drawn: bool,
}

impl<'a> Hands<'a> {
    fn start(story: &'a Story, bench: Bench) -> Self {
        let place = bench.shop.to_str().unwrap().to_owned();
        let arguments = ["demo", "--overhaul", "--shop", &place];
        let screen = Screen::start(&arguments, (80, 24));
        screen.until("Who is at work");
        Self { story, bench, screen, last: String::new(), n_keys: 0, n_drawn: 0, is_drawn: true }
    }

    /// Waits until what the last key brought is drawn, and nothing more comes.
    fn settle(&mut self) {
        let start = Instant::now();
        let mut before = self.n_drawn;
        self.is_drawn = false;
        while start.elapsed() < QUIET_MAX && !self.is_drawn {
            std::thread::sleep(Duration::from_millis(20));
            let now = self.screen.raw.lock().unwrap().len();
            self.is_drawn = now == before && now != self.n_drawn;
            before = now;
        }
        self.n_drawn = before;
    }

    /// Presses one key that may answer something.
    fn press(&mut self, key: &str) {
        if self.last == key {
            self.screen.burst(PAGE_UP);
        }
        self.screen.burst(key);
        key.clone_into(&mut self.last);
        self.n_keys += 1;
        self.settle();
    }

    /// Types text into a field, and goes on.
    fn types(&mut self, text: &str) {
        self.screen.burst(text);
        self.n_keys += text.chars().count();
        self.settle();
        self.press(ENTER);
    }

    /// Picks the line of a list that has `words`.
    fn picks(&mut self, words: &str) {
        let text = self.screen.text();
        let line = text.lines().find(|line| line.contains(words) && line.contains("( )"));
        let line = line.or_else(|| text.lines().find(|l| l.contains(words) && l.contains("(*)")));
        let line = line.unwrap_or_else(|| panic!("no line has `{words}`:\n{text}"));
        let number: String = line.chars().filter(char::is_ascii_digit).take(1).collect();
        self.press(&number);
        self.press(ENTER);
    }

    /// Presses the number of a line; lines beyond the ninth are reached with the arrow.
    fn number(&mut self, number: usize) {
        self.press(&number.min(9).to_string());
        for _ in 9..number {
            self.press(DOWN);
        }
    }

    fn signs(&mut self, person: &PersonId) {
        let typed = self.bench.passphrase(person);
        self.types(&typed);
    }

    /// What is due before anything else, after a break or a change of hands.
    fn looks_again(&mut self) {
        while self.screen.text().contains("I have looked") {
            let n_before = self.bench.entries.len();
            for _ in 0..6 {
                self.screen.burst(PAGE_DOWN);
            }
            self.settle();
            self.press("r");
            let start = Instant::now();
            while self.bench.entries.len() == n_before {
                assert!(start.elapsed() < PATIENCE, "not taken up:\n{}", self.screen.text());
                std::thread::sleep(Duration::from_millis(5));
                self.bench.read();
            }
            self.settle();
        }
    }

    /// Does what `event` says. A key that came while the program was busy is pressed once more.
    fn does(&mut self, event: &Event) {
        self.looks_again();
        self.moves(event);
        if !self.bench.waits_for(event, AGAIN) {
            let shown = self.screen.text();
            if shown.contains("I have looked") {
                // It came up while the keys were on their way.
                self.looks_again();
                self.moves(event);
            } else {
                let last = self.last.clone();
                self.press(&last);
            }
            let saved = self.bench.waits_for(event, AGAIN);
            assert!(saved, "{event:?}\nnot saved:\n{shown}\n---\n{}", self.screen.text());
        }
        if !self.is_drawn {
            // The key was slow to be taken; what is pressed before the screen says so is thrown away.
            self.settle();
        }
    }

    fn moves(&mut self, event: &Event) {
        match event {
            Event::Identified(signed) => {
                let person = signed.statement.signer.clone();
                if !self.screen.text().contains("Who is at work") {
                    self.press(&ctrl('w'));
                }
                self.picks(&self.story.names[&person].clone());
                self.signs(&person);
            }
            Event::SafetyAcknowledged { .. } => {
                for _ in 0..4 {
                    self.screen.burst(PAGE_DOWN);
                }
                self.settle();
                self.press("r");
            }
            Event::ItemChecked { so, .. } => self.press(if *so { "y" } else { "n" }),
            Event::LayerLaid { laid, .. } => {
                self.press(if laid.so { "y" } else { "n" });
                if let Some(lot) = &laid.lot {
                    self.types(lot);
                }
            }
            Event::WrenchSet { address, pass, wrench, .. } => self.wrench(address, *pass, wrench),
            Event::FastenerTightened { tight, .. } => match &tight.reading {
                Some(reading) => {
                    self.press("m");
                    self.types(&reading.text);
                }
                None => self.press(if tight.so { "y" } else { "n" }),
            },
            Event::WaitBegun { .. } => self.press(ENTER),
            Event::WitnessTold { who, .. } => {
                self.press(ENTER);
                self.picks(&self.story.names[who].clone());
            }
            Event::PerformedSigned(signed) => {
                self.press(&ctrl('g'));
                self.signs(&signed.statement.signer);
            }
            Event::Confirmed { .. } => self.press("y"),
            Event::Answered { address, answer, signed, .. } => {
                let signer = signed.as_ref().map(|s| s.statement.signer.clone());
                self.answers(address, answer, signer.as_ref());
            }
            other => panic!("no hand does {other:?}"),
        }
    }

    fn wrench(&mut self, address: &Address, pass: u32, wrench: &Wrench) {
        if self.bench.takes(&wrench.instrument.kind, &wrench.instrument.id) {
            self.press("\t");
            self.picks(&wrench.instrument.id);
        }
        if pass == 1 {
            // The first press says dry, the second oiled.
            self.press(&ctrl('y'));
            if wrench.thread == Thread::Oiled {
                self.press(&ctrl('y'));
            }
        }
        assert!(wrench.adapter.is_none(), "{address}: the story has no adapter");
        self.types(&wrench.setting.text);
    }

    fn answers(&mut self, address: &Address, answer: &Answer, signer: Option<&PersonId>) {
        match answer {
            Answer::Done | Answer::Waited(_) | Answer::WorkedOut(_) => self.press(ENTER),
            Answer::Found(_) => {
                for number in self.story.numbers(address, answer) {
                    self.number(number);
                }
                self.press(ENTER);
            }
            Answer::Read { reading, instrument, .. } => {
                if self.bench.takes(&instrument.kind, &instrument.id) {
                    self.press("\t");
                    self.picks(&instrument.id);
                }
                self.types(&reading.text);
                if self.screen.text().contains("once more") {
                    self.press(ENTER);
                }
            }
            Answer::CouldNotMeasure { reason } | Answer::NotAttached { reason } => {
                self.press(&ctrl('x'));
                self.types(reason);
            }
            Answer::Entered(text) => {
                let is_choice = matches!(
                    self.story.ask(address),
                    Ask::Enter { kind: EntryKind::Choice(_) | EntryKind::FitOut, .. }
                );
                if is_choice {
                    self.number(self.story.numbers(address, answer)[0]);
                    self.press(ENTER);
                } else {
                    self.types(text);
                }
            }
            Answer::EnteredFigure(reading) => self.types(&reading.text),
            Answer::Attached(evidence) => self.types(&self.story.file(&evidence.name)),
            Answer::Decided { reason, .. } => {
                self.number(self.story.numbers(address, answer)[0]);
                self.press(ENTER);
                self.types(reason);
                self.signed_by(signer.unwrap());
            }
            Answer::Released => {
                self.press(ENTER);
                self.signed_by(signer.unwrap());
            }
            other => panic!("no hand answers {other:?}"),
        }
    }

    fn signed_by(&mut self, person: &PersonId) {
        self.picks(&self.story.names[person].clone());
        self.signs(person);
    }

    /// Kills the program in mid step, with a figure half typed, and goes on where it was.
    fn killed(mut self) -> Self {
        self.screen.burst("12");
        self.settle();
        self.screen.child.kill().unwrap();
        self.screen.end();
        let before = self.bench.entries.len();
        let who = self.bench.entries.last().unwrap().by.clone().unwrap();
        let mut hands = Self::start(self.story, self.bench);
        hands.n_keys = self.n_keys;
        hands.bench.in_hand.clear();
        hands.picks(&hands.story.names[&who].clone());
        hands.signs(&who);
        let start = Instant::now();
        while hands.bench.entries.len() == before {
            assert!(start.elapsed() < PATIENCE, "{}", hands.screen.text());
            std::thread::sleep(Duration::from_millis(5));
            hands.bench.read();
        }
        assert!(matches!(hands.bench.entries[before].event, Event::Identified(_)));
        hands.bench.n_seen = before + 1;
        hands.settle();
        hands
    }

    /// Looks at every exception, signs for the whole job, and leaves.
    fn releases(&mut self) {
        let mechanic = self.story.mechanic.clone();
        let start = Instant::now();
        while !self.screen.text().contains("Who signs for the whole job?") {
            assert!(start.elapsed() < PATIENCE, "{}", self.screen.text());
            self.press(ENTER);
        }
        self.signed_by(&mechanic);
        self.screen.until("Check it at any time");
        self.press("q");
        assert_eq!(self.screen.end(), 0);
        self.bench.read();
    }
}

#[test]
fn the_whole_overhaul_by_hand_killed_twice_released_and_verified() {
    let story = story();
    let dir = tempfile::tempdir().unwrap();
    let mut hands = Hands::start(&story, Bench::at(&dir.path().join("shop")));
    // In the middle of the valves, and with half of the nuts of the rim tight.
    let is_measured = |event: &Event| {
        matches!(event, Event::Answered { address, .. }
            if address.to_string() == "valves/cylinders[cylinder=2]/stacks[side=inlet]/spring")
    };
    let is_half_tight = |event: &Event| {
        matches!(event, Event::FastenerTightened { address, pass: 2, tight, .. }
            if address.to_string() == "rebuild/close_up/rim_nuts" && tight.fastener == 2)
    };
    let mut n_killed = 0;
    for entry in story.entries.iter().filter(|entry| !by_itself(&entry.event)) {
        hands.does(&entry.event);
        if is_measured(&entry.event) || is_half_tight(&entry.event) {
            hands = hands.killed();
            n_killed += 1;
        }
    }
    assert_eq!(n_killed, 2);
    hands.releases();
    assert_eq!(hands.bench.answers(), answers(&story.entries));
    assert!(matches!(hands.bench.entries.last().unwrap().event, Event::Released { .. }));
    hands.bench.verifies();
    // Seen with `--nocapture`: a figure to keep small.
    writeln!(std::io::stderr(), "{} keys pressed", hands.n_keys).unwrap();
}
