//! A job through its real session on a disk that stops at every operation in turn: resumed at the
//! same step, nothing lost, nothing doubled.

use std::collections::BTreeMap;
use std::rc::Rc;

use chrono::TimeDelta;
use witnessmark::demo::{self, HeldKey, clock::SimulatedClock};
use witnessmark::ids::{JobId, Moment, PersonId};
use witnessmark::ports::{Clock, Disk};
use witnessmark::rehearsal::model::Rehearsal;
use witnessmark::session::Session;
use witnessmark::session::open::OpenShop;
use witnessmark::session::play::{Hands, PlayError, Until, play};
use witnessmark::store::ShopFolder;
use witnessmark::walk::{Address, Answer, Entry, Event, replay};

use crate::rehearsals::script;
use crate::support::disk::{FakeDisk, Survives};

/// Far enough for readings, lists, entries, safety texts and signatures.
const END: &str = "make_safe/lock/lock_isolator";

struct Bench {
    keys: BTreeMap<PersonId, HeldKey>,
    script: Rehearsal,
    disk: FakeDisk,
    job: JobId,
}

fn clock() -> Rc<dyn Clock> {
    let end = Moment::parse("2026-11-25T15:00:00+01:00").unwrap();
    Rc::new(SimulatedClock::ending(end, TimeDelta::hours(5)))
}

fn bench() -> Bench {
    let disk = FakeDisk::new("/shop");
    let port = disk.port();
    let folder = ShopFolder::at("/shop");
    let made = demo::make(&port, &clock(), &folder).unwrap_or_else(|e| panic!("{e}"));
    let shop = OpenShop::load(&port, &clock(), folder).unwrap_or_else(|e| panic!("{e}"));
    let script = script(demo::SCRIPT);
    let session = shop
        .new_job(&script.procedure.value, &script.machine.value)
        .unwrap_or_else(|e| panic!("{e}"));
    let job = session.job().clone();
    Bench { keys: made.keys, script, disk, job }
}

impl Bench {
    /// The same disk, on its own.
    fn copy(&self) -> FakeDisk {
        let copy = FakeDisk::new("/shop");
        ShopFolder::at("/shop").create(copy.port().as_ref()).unwrap();
        let port = copy.port();
        let job = ShopFolder::at("/shop").job(&self.job);
        for dir in [job.root().to_owned(), job.files(), job.evidence()] {
            port.create_dir(&dir).unwrap();
            port.sync_dir(dir.parent().unwrap()).unwrap();
        }
        for (path, bytes) in self.disk.files() {
            copy.put(&path, &bytes);
        }
        copy
    }

    fn resume(&self, disk: &FakeDisk) -> Session {
        let port: Rc<dyn Disk> = disk.port();
        let shop = OpenShop::load(&port, &clock(), ShopFolder::at("/shop"));
        let shop = shop.unwrap_or_else(|e| panic!("{e}"));
        shop.resume(&self.job).unwrap_or_else(|e| panic!("{e}"))
    }

    fn play(&self, session: &mut Session) -> Result<(), PlayError> {
        let hands = Hands {
            performer: &self.keys[&self.script.performer.value],
            mechanic: &self.keys[&self.script.mechanic.value],
            second: None,
        };
        let until = Until::Asked(Address::parse(END).unwrap());
        play(session, &self.script, &hands, &until).map(|_| ())
    }
}

/// Entries that a person made, without their times, signatures and numbers.
fn moves(entries: &[Entry]) -> Vec<String> {
    entries
        .iter()
        .filter_map(|entry| match &entry.event {
            Event::Answered { address, answer, judged, .. } => {
                Some(format!("{address} {answer:?} {judged:?}"))
            }
            Event::ItemChecked { address, item, so, judged } => {
                Some(format!("{address} {item} {so} {judged:?}"))
            }
            Event::SafetyAcknowledged { address, .. } => Some(format!("{address} read")),
            Event::Identified(signed) => Some(format!("{} identified", signed.statement.signer)),
            _ => None,
        })
        .collect()
}

fn stopped_everywhere(survives: Survives) {
    let bench = bench();
    let whole = bench.copy();
    let mut session = bench.resume(&whole);
    let ops_before = whole.n_ops();
    bench.play(&mut session).unwrap_or_else(|e| panic!("{e}"));
    let n_ops = whole.n_ops() - ops_before;
    let wanted = moves(session.entries());
    assert!(wanted.len() > 20 && n_ops > 40, "{} moves, {n_ops} operations", wanted.len());
    assert!(session.entries().iter().any(|e| matches!(
        &e.event,
        Event::Answered { answer: Answer::Found(_) | Answer::Entered(_), .. }
    )));

    for k in 1..=n_ops {
        let disk = bench.copy();
        let mut session = bench.resume(&disk);
        disk.stop_at(k);
        assert!(bench.play(&mut session).is_err(), "operation {k} was stopped");
        // What was shown as saved, and not one entry more.
        let acknowledged = session.entries().to_vec();
        drop(session);
        disk.power_cut(survives);

        let mut session = bench.resume(&disk);
        let found: Vec<Entry> = session
            .entries()
            .iter()
            .filter(|e| !matches!(e.event, Event::TornTailSetAside { .. }))
            .cloned()
            .collect();
        assert_eq!(found[..acknowledged.len()], acknowledged, "operation {k}");
        assert!(found.len() <= acknowledged.len() + 1, "operation {k}");
        let replayed = replay(&session.files().flow, session.entries()).unwrap();
        assert_eq!(&replayed, session.state(), "operation {k}");
        bench.play(&mut session).unwrap_or_else(|e| panic!("operation {k}: {e}"));
        assert_eq!(moves(session.entries()), wanted, "operation {k}");
    }
}

#[test]
fn stopped_at_every_operation_with_nothing_unsynced_left() {
    stopped_everywhere(Survives::Nothing);
}

#[test]
fn stopped_at_every_operation_with_all_that_was_written_left() {
    stopped_everywhere(Survives::Everything);
}

#[test]
fn o16_no_space_shows_not_saved_and_retry_saves_exactly_once() {
    let bench = bench();
    let disk = bench.copy();
    let mut session = bench.resume(&disk);
    let performer = bench.script.performer.value.clone();
    session.identify(&performer, &bench.keys[&performer]).unwrap_or_else(|e| panic!("{e}"));
    let before = (session.state().clone(), disk.files());
    disk.set_free_bytes(Some(0));
    let asked = session.state().walk.asked().unwrap();
    let address = session.files().flow.instance(asked).address.clone();
    let command = witnessmark::walk::Command::CheckItem { address, item: 0, so: true };
    let error = session.submit(command.clone()).unwrap_err().to_string();
    assert!(error.starts_with("NOT SAVED: "), "{error}");
    assert!(error.contains("/shop/jobs/2026-0001/journal.jsonl"), "{error}");
    assert_eq!(session.state(), &before.0, "the step is not shown as done");
    assert_eq!(session.unsaved(), Some(&command));
    assert_eq!(disk.files(), before.1, "existing files are as they were");
    assert!(session.retry().is_err());
    disk.set_free_bytes(None);
    session.retry().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(session.unsaved(), None);
    assert_eq!(session.entries().len(), 3);
    drop(session);
    assert_eq!(bench.resume(&disk).entries().len(), 3);
}
