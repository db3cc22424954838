//! The whole overhaul by hand: key by key in a real terminal of 80x24, killed twice in mid step, and
//! line by line over a pipe. What was entered is the same, and the record verifies.
//!
//! What the hands do is worked out from the entries of the same answers played without a screen, so
//! that the script of keys follows the procedures by itself.

mod keys;
mod lines;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::time::{Duration, Instant};

use witnessmark::ids::{Name, PersonId};
use witnessmark::session::play::Until;
use witnessmark::store::{OsDisk, ShopFolder};
use witnessmark::walk::flow::{Ask, Flow};
use witnessmark::walk::{Address, Answer, Entry, Event};

use crate::rehearsals::{demo, script};
use crate::support::pty::{BINARY, job, passphrase};

const STORY: &str = include_str!("../../procedures/rehearsals/everything_at_once.yaml");

/// The story as it is played: the flow, and what was entered up to the release.
struct Story {
    flow: Arc<Flow>,
    entries: Vec<Entry>,
    /// The people by their names on the screen.
    names: BTreeMap<PersonId, String>,
    /// Who signs for the job.
    mechanic: PersonId,
    /// Files with the names and the content of the evidence.
    files: tempfile::TempDir,
}

fn story() -> Story {
    let demo = demo();
    let script = script(STORY);
    let mut session = demo.open(&script);
    demo.play(&mut session, &script, &Until::Over);
    for person in session.state().unsigned_people() {
        session.sign_performed(&person, &demo.made.keys[&person]).unwrap();
    }
    let entries = session.entries().to_vec();
    let files = tempfile::tempdir().unwrap();
    for entry in &entries {
        if let Event::Answered { answer: Answer::Attached(evidence), .. } = &entry.event {
            let content = format!("made up for a rehearsal: {}\n", evidence.name);
            std::fs::write(files.path().join(&evidence.name), content).unwrap();
        }
    }
    let flow = Arc::clone(&session.files().flow);
    let people = &session.files().shop.people;
    let names = people.iter().map(|p| (p.id.clone(), p.name.clone())).collect();
    Story { names, flow, entries, mechanic: script.mechanic.value.clone(), files }
}

impl Story {
    fn ask(&self, address: &Address) -> &Ask {
        &self.flow.instance(self.flow.find(address).unwrap()).ask
    }

    fn file(&self, name: &str) -> String {
        self.files.path().join(name).to_str().unwrap().to_owned()
    }

    /// The numbers, from 1, of the findings or of the choice in `answer`.
    fn numbers(&self, address: &Address, answer: &Answer) -> Vec<usize> {
        let at =
            |ids: Vec<&str>, wanted: &str| ids.iter().position(|id| *id == wanted).unwrap() + 1;
        match (self.ask(address), answer) {
            (Ask::Look { findings, .. }, Answer::Found(found)) => {
                let ids = || findings.iter().map(|f| f.id.as_str()).collect();
                found.iter().map(|id| at(ids(), id.as_str())).collect()
            }
            (Ask::Decide { may, .. }, Answer::Decided { verdict, .. }) => {
                vec![may.iter().position(|v| v == verdict).unwrap() + 1]
            }
            (Ask::Enter { .. }, Answer::Entered(id)) => {
                vec![at(self.choices(address), id)]
            }
            (ask, answer) => panic!("{ask:?} has no numbers for {answer:?}"),
        }
    }

    /// The ids of what may be chosen, empty where text is typed.
    fn choices(&self, address: &Address) -> Vec<&str> {
        use witnessmark::procedure::model::EntryKind;
        match self.ask(address) {
            Ask::Enter { kind: EntryKind::Choice(all), .. } => {
                all.iter().map(|choice| choice.0.value.as_str()).collect()
            }
            Ask::Enter { kind: EntryKind::FitOut, .. } => {
                self.flow.equipment.fit_outs.keys().map(String::as_str).collect()
            }
            _ => Vec::new(),
        }
    }
}

/// What time, a kill or a change of hands brings by itself; the rest is done by hand.
fn by_itself(event: &Event) -> bool {
    matches!(
        event,
        Event::JobOpened(_)
            | Event::TokenExpired { .. }
            | Event::TakenUp { .. }
            | Event::ClockWentBack { .. }
    )
}

/// An event without times, hashes of the journal and signatures.
fn said(event: &Event) -> String {
    match event {
        Event::Identified(signed) => format!("identified {}", signed.statement.signer),
        Event::PerformedSigned(signed) => format!("performed {}", signed.statement.signer),
        Event::Answered { address, answer, judged, signed } => {
            let answer = match answer {
                Answer::Waited(waited) => format!("waited {}", !waited.doubtful),
                other => format!("{other:?}"),
            };
            let signer = signed.as_ref().map(|s| s.statement.signer.clone());
            format!("{address} {answer} {judged:?} {signer:?}")
        }
        Event::WaitBegun { address, .. } => format!("wait begun {address}"),
        other => format!("{other:?}"),
    }
}

/// The demo's shop on a disk, with its only job as it is saved.
struct Bench {
    shop: PathBuf,
    /// The size of the journal that was read last.
    len_bytes: u64,
    entries: Vec<Entry>,
    /// How many entries are accounted for.
    n_seen: usize,
    /// The instrument in the hand, by kind.
    in_hand: BTreeMap<Name, String>,
}

impl Bench {
    fn at(shop: &Path) -> Self {
        let shop = shop.to_owned();
        Self { shop, len_bytes: 0, entries: Vec::new(), n_seen: 0, in_hand: BTreeMap::new() }
    }

    fn read(&mut self) {
        let folder = ShopFolder::at(&self.shop);
        let Ok(mut jobs) = folder.job_ids(&OsDisk) else { return };
        let Some(job) = jobs.pop() else { return };
        let folder = folder.job(&job);
        let len_bytes = std::fs::metadata(folder.journal()).map_or(0, |m| m.len());
        if len_bytes == self.len_bytes {
            return;
        }
        let scan = folder.read_journal(&OsDisk).unwrap();
        self.entries = scan.lines.into_iter().map(|line| line.entry).collect();
        self.len_bytes = len_bytes;
    }

    /// True once `event` is saved, right behind what was saved before.
    fn has(&mut self, event: &Event) -> bool {
        self.read();
        while let Some(next) = self.entries.get(self.n_seen) {
            self.n_seen += 1;
            if by_itself(&next.event) {
                continue;
            }
            assert_eq!(said(&next.event), said(event), "another entry than was meant");
            return true;
        }
        false
    }

    /// Waits for `event`; false when `patience` is over.
    fn waits_for(&mut self, event: &Event, patience: Duration) -> bool {
        let start = Instant::now();
        while start.elapsed() < patience {
            if self.has(event) {
                return true;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        false
    }

    fn passphrase(&self, person: &PersonId) -> String {
        passphrase(&self.shop, person.as_str())
    }

    /// True where the instrument must be taken into the hand first.
    fn takes(&mut self, kind: &Name, mark: &str) -> bool {
        self.in_hand.insert(kind.clone(), mark.to_owned()).as_deref() != Some(mark)
    }

    /// `verify` over the released job, by the program itself.
    fn verifies(&self) {
        let job = self.shop.join("jobs").join(job(&self.shop));
        let trust = self.shop.join("trust");
        let done = Command::new(BINARY).arg("verify").arg(&job).arg("--trust").arg(trust).output();
        let done = done.unwrap();
        let text = String::from_utf8_lossy(&done.stdout).into_owned();
        assert!(done.status.success(), "{text}{}", String::from_utf8_lossy(&done.stderr));
    }

    /// What was answered, step by step: the last answer at each address.
    fn answers(&self) -> BTreeMap<String, String> {
        answers(&self.entries)
    }
}

fn answers(entries: &[Entry]) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for entry in entries {
        if let Event::Answered { address, .. } = &entry.event {
            out.insert(address.to_string(), said(&entry.event));
        }
    }
    out
}
