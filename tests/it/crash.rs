//! A session stopped at every operation of the disk in turn, and disks that refuse.

use std::path::Path;
use std::rc::Rc;

use witnessmark::ids::{JobId, Sha256};
use witnessmark::ports::{Disk, DiskFault, Overwrite};
use witnessmark::store::{JobFolder, JournalWriter, ShopFolder, StoreError};
use witnessmark::walk::{Entry, Event};

use crate::support::disk::{FakeDisk, Survives};
use crate::support::generate::{journal_bytes, session};

/// A job on a fake disk, created and lasting, with an empty journal.
struct Bench {
    disk: FakeDisk,
    port: Rc<dyn Disk>,
    job: JobFolder,
}

impl Bench {
    fn new() -> Self {
        let disk = FakeDisk::new("/shop");
        let port = disk.port();
        let shop = ShopFolder::at("/shop");
        shop.create(port.as_ref()).unwrap();
        let (id, job) = shop.create_job(port.as_ref(), 2026).unwrap();
        assert_eq!(id, JobId::numbered(2026, 1));
        drop(JournalWriter::create(&port, &job).unwrap());
        Self { disk, port, job }
    }

    /// A journal that holds `n` entries and its writer.
    fn with_entries(n: usize) -> (Self, JournalWriter) {
        let bench = Self::new();
        let (mut writer, _, _) = JournalWriter::open(&bench.port, &bench.job).unwrap();
        for entry in session(n) {
            writer.append(&entry).unwrap();
        }
        (bench, writer)
    }

    /// Opens the job and appends what is missing of `planned`, as a session does. `acknowledged`
    /// counts the planned entries that were called saved.
    fn work(&self, planned: &[Entry], acknowledged: &mut usize) -> Result<(), StoreError> {
        let (mut writer, scan, recovery) = JournalWriter::open(&self.port, &self.job)?;
        let n_there = check_planned(scan.entries(), planned);
        assert!(n_there >= *acknowledged, "{n_there} of {acknowledged} saved entries are there");
        assert!(n_there <= *acknowledged + 1, "an entry that nobody made");
        *acknowledged = n_there;
        let mut append = |entry: &Entry, event: Event| {
            let entry = Entry { n: writer.next_n(), event, ..entry.clone() };
            writer.append(&entry).map(|_| ())
        };
        for torn in &recovery.torn {
            append(&planned[0], torn.event())?;
        }
        for entry in &planned[n_there..] {
            append(entry, entry.event.clone())?;
            *acknowledged += 1;
        }
        Ok(())
    }

    /// After all work: every planned entry once and in order, every torn tail told, nothing else.
    fn check_end(&self, planned: &[Entry]) {
        let scan = self.job.read_journal(self.port.as_ref()).unwrap();
        assert_eq!(check_planned(scan.entries(), planned), planned.len());
        let mut told: Vec<Sha256> = scan.entries().filter_map(torn_sha256).collect();
        let files = self.disk.files();
        let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
        let mut kept: Vec<Sha256> = files
            .iter()
            .filter(|(path, _)| name(path).starts_with("journal.torn-"))
            .map(|(_, bytes)| Sha256::of(bytes))
            .collect();
        told.sort();
        kept.sort();
        assert_eq!(told, kept);
        let part = files.keys().find(|path| name(path).starts_with(".journal"));
        assert_eq!(part, None);
    }

    fn journal(&self) -> Vec<u8> {
        self.disk.files()[&self.job.journal()].clone()
    }
}

fn torn_sha256(entry: &Entry) -> Option<Sha256> {
    match &entry.event {
        Event::TornTailSetAside { sha256, .. } => Some(*sha256),
        _ => None,
    }
}

/// How many of `planned` are among `entries`, which must be the first of them in order.
fn check_planned<'a>(entries: impl Iterator<Item = &'a Entry>, planned: &[Entry]) -> usize {
    let events: Vec<_> =
        entries.filter(|entry| torn_sha256(entry).is_none()).map(|entry| &entry.event).collect();
    assert!(events.iter().copied().eq(planned.iter().take(events.len()).map(|e| &e.event)));
    events.len()
}

#[test]
fn pk2_a_session_stopped_at_any_operation_keeps_every_saved_entry_once() {
    let planned = session(30);
    let whole = Bench::new();
    let n_ops_before = whole.disk.n_ops();
    whole.work(&planned, &mut 0).unwrap();
    whole.check_end(&planned);
    let n_ops = whole.disk.n_ops() - n_ops_before;
    assert!(n_ops >= 60, "each append writes and syncs; {n_ops} operations were counted");
    assert!(whole.disk.n_syncs() >= 30);
    for survives in Survives::ALL {
        for stop_at in 1..=n_ops {
            let bench = Bench::new();
            let mut acknowledged = 0;
            bench.disk.stop_at(stop_at);
            bench.work(&planned, &mut acknowledged).unwrap_err();
            bench.disk.power_cut(survives);
            bench.work(&planned, &mut acknowledged).unwrap();
            bench.check_end(&planned);
        }
    }
}

#[test]
fn a_recovery_stopped_at_any_operation_is_recovered_from() {
    let planned = session(4);
    for first in Survives::ALL {
        for second in Survives::ALL {
            for (first_stop, second_stop) in (1..=10).flat_map(|a| (1..=14).map(move |b| (a, b))) {
                let bench = Bench::new();
                let mut acknowledged = 0;
                bench.disk.stop_at(first_stop);
                bench.work(&planned, &mut acknowledged).unwrap_err();
                bench.disk.power_cut(first);
                bench.disk.stop_at(second_stop);
                // Late stops may come after the work is done.
                drop(bench.work(&planned, &mut acknowledged));
                bench.disk.power_cut(second);
                bench.work(&planned, &mut acknowledged).unwrap();
                bench.check_end(&planned);
            }
        }
    }
}

#[test]
fn o15_a_torn_tail_is_set_aside_once_wherever_that_was_stopped() {
    for survives in Survives::ALL {
        for stop_at in 1..=12 {
            let (bench, writer) = Bench::with_entries(2);
            drop(writer);
            let whole = bench.journal();
            let tear =
                || bench.disk.put(&bench.job.journal(), &[&whole, b"{\"at\"".as_slice()].concat());
            tear();
            bench.disk.stop_at(stop_at);
            drop(JournalWriter::open(&bench.port, &bench.job));
            bench.disk.power_cut(survives);
            let (writer, scan, recovery) = JournalWriter::open(&bench.port, &bench.job).unwrap();
            assert!(scan.entries().eq(&session(2)));
            assert_eq!(bench.journal(), whole);
            let [torn] = &recovery.torn[..] else { panic!("{:?}", recovery.torn) };
            assert_eq!(torn.path, bench.job.root().join("journal.torn-1"));
            assert_eq!(bench.disk.files()[&torn.path], b"{\"at\"");
            drop(writer);
        }
    }
}

#[test]
fn o15_the_same_bytes_torn_twice_are_told_twice() {
    let (bench, mut writer) = Bench::with_entries(2);
    for n in 2..5u32 {
        drop(writer);
        let torn = [&bench.journal(), b"{".as_slice()].concat();
        bench.disk.put(&bench.job.journal(), &torn);
        let opened = JournalWriter::open(&bench.port, &bench.job).unwrap();
        let [torn] = &opened.2.torn[..] else { panic!("{:?}", opened.2.torn) };
        assert_eq!(torn.path, bench.job.root().join(format!("journal.torn-{}", n - 1)));
        writer = opened.0;
        let entry = Entry { n: n.into(), event: torn.event(), ..session(1).remove(0) };
        writer.append(&entry).unwrap();
    }
}

#[test]
fn a_file_replaced_while_the_power_goes_is_the_old_one_or_the_new_one() {
    let path = Path::new("/shop/shop.yaml");
    for survives in Survives::ALL {
        for stop_at in 1..=5 {
            let disk = FakeDisk::new("/shop");
            disk.put(path, b"old");
            disk.stop_at(stop_at);
            let saved = disk.write_new(path, b"the new bytes", Overwrite::Replace);
            disk.power_cut(survives);
            let bytes = disk.read(path, 100).unwrap();
            assert!(bytes == b"old" || bytes == b"the new bytes", "{bytes:?}");
            assert!(saved.is_err());
        }
    }
}

#[test]
fn a_job_number_is_given_once_wherever_its_creation_stopped() {
    let planned = session(2);
    for stop_at in 1..=12 {
        let disk = FakeDisk::new("/shop");
        let port = disk.port();
        let shop = ShopFolder::at("/shop");
        shop.create(port.as_ref()).unwrap();
        shop.create_job(port.as_ref(), 2025).unwrap();
        disk.stop_at(stop_at);
        let begun = shop
            .create_job(port.as_ref(), 2026)
            .and_then(|(id, job)| JournalWriter::create(&port, &job).map(|_| id));
        disk.power_cut(Survives::Nothing);
        let (id, job) = shop.create_job(port.as_ref(), 2026).unwrap();
        assert_ne!(Some(&id), begun.ok().as_ref());
        drop(JournalWriter::create(&port, &job).unwrap());
        let bench = Bench { disk, port: Rc::clone(&port), job };
        bench.work(&planned, &mut 0).unwrap();
        bench.check_end(&planned);
        let ids = shop.job_ids(port.as_ref()).unwrap();
        assert_eq!(ids[0], JobId::numbered(2025, 1));
        assert_eq!(ids.last(), Some(&id));
    }
}

#[test]
fn o16_a_full_disk_changes_nothing_and_a_retry_saves_once() {
    for room in [0, 1, 40] {
        let (bench, mut writer) = Bench::with_entries(3);
        let entry = session(4).remove(3);
        let before = bench.disk.files();
        bench.disk.set_free_bytes(Some(room));

        let error = writer.append(&entry).unwrap_err().to_string();
        assert_eq!(
            error,
            "cannot save `/shop/jobs/2026-0001/journal.jsonl`: there is no space left on the \
             disk; free some space and try again"
        );
        assert_eq!(bench.disk.files(), before);
        assert!(writer.is_poisoned());
        assert!(matches!(writer.append(&entry), Err(StoreError::NotSaved { .. })));

        let StoreError::Disk(error) = writer.retry().unwrap_err() else { panic!("not the disk") };
        assert_eq!(error.fault, DiskFault::NoSpace);
        assert_eq!(error.path, bench.job.journal());
        assert_eq!(bench.disk.files(), before);

        bench.disk.set_free_bytes(None);
        writer.retry().unwrap();
        assert_eq!(bench.journal(), journal_bytes(&session(3)));
        writer.append(&entry).unwrap();
        writer.append(&session(5)[4]).unwrap();
        bench.disk.power_cut(Survives::Nothing);
        assert_eq!(bench.journal(), journal_bytes(&session(5)));
    }
}

#[test]
fn after_a_failed_sync_the_file_is_not_trusted_again() {
    for dies in [false, true] {
        let (bench, mut writer) = Bench::with_entries(3);
        let planned = session(6);
        bench.disk.fail_sync_at(1);
        let error = writer.append(&planned[3]).unwrap_err().to_string();
        assert!(error.contains("input/output error"), "{error}");
        let writer = if dies {
            drop(writer);
            bench.disk.power_cut(Survives::Everything);
            JournalWriter::open(&bench.port, &bench.job).unwrap().0
        } else {
            writer.retry().unwrap();
            writer
        };
        let mut writer = writer;
        assert_eq!(writer.next_n(), 3);
        for entry in &planned[3..] {
            writer.append(entry).unwrap();
        }
        bench.disk.power_cut(Survives::Nothing);
        assert_eq!(bench.journal(), journal_bytes(&planned));
    }
}

#[test]
fn a_retry_stopped_at_any_operation_loses_nothing() {
    let planned = session(6);
    for survives in Survives::ALL {
        for stop_at in 1..=8 {
            let (bench, mut writer) = Bench::with_entries(3);
            bench.disk.fail_sync_at(1);
            writer.append(&planned[3]).unwrap_err();
            bench.disk.stop_at(stop_at);
            let mut acknowledged = 3;
            if writer.retry().and_then(|()| writer.append(&planned[3])).is_ok() {
                acknowledged = 4;
            }
            drop(writer);
            bench.disk.power_cut(survives);
            bench.work(&planned, &mut acknowledged).unwrap();
            bench.check_end(&planned);
        }
    }
}

#[test]
fn a_journal_changed_from_outside_is_not_overwritten_by_a_retry() {
    let (bench, mut writer) = Bench::with_entries(3);
    bench.disk.fail_sync_at(1);
    writer.append(&session(4)[3]).unwrap_err();
    let other = journal_bytes(&session(2));
    bench.disk.put(&bench.job.journal(), &other);
    assert!(matches!(writer.retry(), Err(StoreError::ChangedOutside { .. })));
    assert_eq!(bench.journal(), other);
    assert!(writer.is_poisoned());
}

#[test]
fn o16_a_read_only_disk_can_be_looked_at_and_not_worked_on() {
    let (bench, writer) = Bench::with_entries(3);
    drop(writer);
    bench.disk.set_read_only_mount(true);
    let scan = bench.job.read_journal(bench.port.as_ref()).unwrap();
    assert_eq!(scan.lines.len(), 3);
    let error = JournalWriter::open(&bench.port, &bench.job).unwrap_err().to_string();
    assert_eq!(
        error,
        "cannot save `/shop/jobs/2026-0001/journal.jsonl`: the disk is mounted read-only; \
         mount it for writing, or copy the folder to a disk that is"
    );
    let shop = ShopFolder::at("/shop");
    let error = shop.create_job(bench.port.as_ref(), 2026).unwrap_err().to_string();
    assert!(error.starts_with("cannot make the folder `/shop/jobs/2026-0002`"), "{error}");
}

#[test]
fn a_frozen_journal_says_that_nobody_may_write_to_it() {
    let (bench, writer) = Bench::with_entries(3);
    drop(writer);
    bench.job.freeze(bench.port.as_ref()).unwrap();
    let error = JournalWriter::open(&bench.port, &bench.job).unwrap_err().to_string();
    assert!(error.contains("you do not have permission"), "{error}");
    assert_eq!(bench.journal(), journal_bytes(&session(3)));
}

#[test]
fn a_second_writer_is_refused_until_the_first_is_gone() {
    let (bench, writer) = Bench::with_entries(1);
    let error = JournalWriter::open(&bench.port, &bench.job).unwrap_err().to_string();
    assert_eq!(
        error,
        "`/shop/jobs/2026-0001` is in use by another witnessmark on this computer; close it \
         there, or wait until it is done, then try again"
    );
    drop(writer);
    JournalWriter::open(&bench.port, &bench.job).unwrap();
}

#[test]
fn o15_damage_is_refused_and_left_as_it_is() {
    let (bench, writer) = Bench::with_entries(3);
    drop(writer);
    let mut damaged = bench.journal();
    let at = damaged.iter().position(|&byte| byte == b'\n').unwrap() + 30;
    damaged[at] ^= 1;
    // Even with a torn tail, which alone would be put right.
    damaged.extend_from_slice(b"{\"at\"");
    bench.disk.put(&bench.job.journal(), &damaged);
    let before = bench.disk.files();
    let error = JournalWriter::open(&bench.port, &bench.job).unwrap_err();
    assert!(error.to_string().contains("lines 2 and 3 of the journal"), "{error}");
    assert_eq!(bench.disk.files(), before);
}

#[test]
fn an_entry_that_cannot_be_read_back_is_not_written() {
    let (bench, mut writer) = Bench::with_entries(1);
    let mut entry = session(2).remove(1);
    entry.event = Event::NoteAdded { address: None, text: "x".repeat(1 << 20) };
    let error = writer.append(&entry).unwrap_err().to_string();
    assert!(error.starts_with("entry 1 was not saved"), "{error}");
    entry.n = 7;
    assert!(matches!(writer.append(&entry), Err(StoreError::OutOfOrder { wanted: 1, found: 7 })));
    assert!(!writer.is_poisoned());
    writer.append(&session(2)[1]).unwrap();
    assert_eq!(bench.journal(), journal_bytes(&session(2)));
}
