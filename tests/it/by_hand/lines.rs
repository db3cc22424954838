//! The same hands on a pipe: numbered lines in, lines out.

use std::io::{Read as _, Write as _};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use witnessmark::ids::{Name, PersonId};
use witnessmark::language::Thread;
use witnessmark::walk::event::Wrench;
use witnessmark::walk::{Address, Answer, Event};

use super::{Bench, Story, answers, by_itself, story};
use crate::support::pty::{BINARY, PATIENCE};

struct Pipe<'a> {
    story: &'a Story,
    bench: Bench,
    child: Child,
    to: ChildStdin,
    said: Arc<Mutex<String>>,
    /// How much of what was said had been said when the last line was typed.
    n_said: usize,
}

impl<'a> Pipe<'a> {
    fn start(story: &'a Story, bench: Bench) -> Self {
        let mut command = Command::new(BINARY);
        command.args(["demo", "--overhaul", "--plain", "--shop"]).arg(&bench.shop);
        command.env_clear().env("LANG", "C.UTF-8").env("TZ", "UTC");
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::inherit());
        let mut child = command.spawn().unwrap();
        let (to, mut from) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        let said = Arc::new(Mutex::new(String::new()));
        let kept = Arc::clone(&said);
        std::thread::spawn(move || {
            let mut bytes = [0u8; 4096];
            while let Ok(n @ 1..) = from.read(&mut bytes) {
                kept.lock().unwrap().push_str(&String::from_utf8_lossy(&bytes[..n]));
            }
        });
        Self { story, bench, child, to, said, n_said: 0 }
    }

    /// What was said since the last line, once it ends with a prompt.
    fn prompt(&self) -> String {
        let start = Instant::now();
        loop {
            let said = self.said.lock().unwrap().get(self.n_said..).unwrap_or_default().to_owned();
            if said.ends_with(": ") {
                return said;
            }
            assert!(start.elapsed() < PATIENCE, "no prompt comes: {said}");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    /// Types a line at the next prompt.
    fn line(&mut self, line: &str) {
        self.prompt();
        self.without_prompt(line);
    }

    /// Types a passphrase, which a pipe is not asked for aloud.
    fn without_prompt(&mut self, line: &str) {
        self.n_said = self.said.lock().unwrap().len();
        writeln!(self.to, "{line}").unwrap();
    }

    fn signs(&mut self, person: &PersonId) {
        let typed = self.bench.passphrase(person);
        self.without_prompt(&typed);
    }

    fn does(&mut self, event: &Event) {
        while self.prompt().contains("Type `seen` once you have looked:") {
            self.line("seen");
        }
        self.moves(event);
        let saved = self.bench.waits_for(event, PATIENCE);
        assert!(saved, "{event:?} is not saved:\n{}", self.said.lock().unwrap());
    }

    fn moves(&mut self, event: &Event) {
        match event {
            Event::Identified(signed) => {
                let person = signed.statement.signer.clone();
                if !self.prompt().contains("Who is at work") {
                    self.line("who");
                }
                self.line(person.as_str());
                self.signs(&person);
            }
            Event::SafetyAcknowledged { .. } => self.line("read"),
            Event::ItemChecked { so, .. } => self.line(if *so { "y" } else { "n" }),
            Event::LayerLaid { laid, .. } => {
                self.line(if laid.so { "y" } else { "n" });
                if let Some(lot) = &laid.lot {
                    self.echoed(lot);
                }
            }
            Event::WrenchSet { wrench, .. } => self.wrench(wrench),
            Event::FastenerTightened { tight, .. } => match &tight.reading {
                Some(reading) => self.echoed(&reading.text),
                None => self.line(if tight.so { "y" } else { "n" }),
            },
            Event::WaitBegun { .. } | Event::Confirmed { .. } => self.line("y"),
            Event::WitnessTold { who, .. } => self.line(who.as_str()),
            Event::PerformedSigned(signed) => {
                // A hold and the end of the job ask for it by themselves.
                if !self.prompt().contains("signs for their own work") {
                    self.line("sign");
                }
                self.line("");
                self.signs(&signed.statement.signer);
            }
            Event::Answered { address, answer, signed, .. } => {
                let signer = signed.as_ref().map(|s| s.statement.signer.clone());
                self.answers(address, answer, signer.as_ref());
            }
            other => panic!("no hand does {other:?}"),
        }
    }

    /// A line that is said back, and an empty one that says yes.
    fn echoed(&mut self, line: &str) {
        self.line(line);
        self.line("");
    }

    fn takes(&mut self, kind: &Name, mark: &str) {
        let other = self.bench.in_hand.contains_key(kind);
        if self.bench.takes(kind, mark) {
            if other && !self.prompt().contains("The number or the mark") {
                self.line("instrument");
            }
            self.line(mark);
        }
    }

    fn wrench(&mut self, wrench: &Wrench) {
        let thread = if wrench.thread == Thread::Dry { "dry" } else { "oiled" };
        let (kind, mark) = (&wrench.instrument.kind, &wrench.instrument.id);
        let other = self.bench.in_hand.contains_key(kind);
        if self.bench.takes(kind, mark) {
            if other && !self.prompt().contains("The number or the mark") {
                for line in [thread, "", "instrument"] {
                    self.line(line);
                }
            }
            self.line(mark);
        }
        self.line(thread);
        self.line("");
        self.echoed(&wrench.setting.text);
    }

    fn answers(&mut self, address: &Address, answer: &Answer, signer: Option<&PersonId>) {
        let number = |story: &Story| {
            let numbers = story.numbers(address, answer);
            numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
        };
        match answer {
            Answer::Done => self.line("y"),
            Answer::WorkedOut(_) => self.line(""),
            Answer::Waited(_) => self.line("over"),
            Answer::Found(_) => self.echoed(&number(self.story)),
            Answer::Read { reading, instrument, .. } => {
                self.takes(&instrument.kind, &instrument.id);
                self.echoed(&reading.text);
            }
            Answer::Entered(text) if self.story.choices(address).is_empty() => self.echoed(text),
            Answer::Entered(id) => self.echoed(id),
            Answer::EnteredFigure(reading) => self.echoed(&reading.text),
            Answer::Attached(evidence) => self.echoed(&self.story.file(&evidence.name)),
            Answer::Decided { reason, .. } => {
                self.line(&number(self.story));
                self.line(reason);
                self.signed_by(signer.unwrap());
            }
            Answer::Released => self.signed_by(signer.unwrap()),
            other => panic!("no hand answers {other:?}"),
        }
    }

    fn signed_by(&mut self, person: &PersonId) {
        self.echoed(person.as_str());
        self.signs(person);
    }

    fn releases(&mut self) {
        let mechanic = self.story.mechanic.clone();
        self.line("release");
        while self.prompt().contains("Type `seen` once you have looked at it") {
            self.line("seen");
        }
        self.signed_by(&mechanic);
        assert!(self.child.wait().unwrap().success());
        self.bench.read();
    }
}

#[test]
fn the_whole_overhaul_over_a_pipe_is_the_same_job() {
    let story = story();
    let dir = tempfile::tempdir().unwrap();
    let mut pipe = Pipe::start(&story, Bench::at(&dir.path().join("shop")));
    for entry in story.entries.iter().filter(|entry| !by_itself(&entry.event)) {
        pipe.does(&entry.event);
    }
    pipe.releases();
    assert_eq!(pipe.bench.answers(), answers(&story.entries));
    assert!(matches!(pipe.bench.entries.last().unwrap().event, Event::Released { .. }));
    pipe.bench.verifies();
}
