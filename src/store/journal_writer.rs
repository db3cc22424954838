//! A journal on the disk: one writer, and nothing counts as saved before it is lasting.
//!
//! Entries are appended to the file and synced. When that fails once, the file is not written to
//! again: after a failed sync the system may call bytes saved that never were. The acknowledged
//! lines then go to a new file, which takes the name when it is lasting.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::rc::Rc;

use super::{JobFolder, StoreError, lock};
use crate::ids::Sha256;
use crate::journal::{self, JOURNAL_LEN_BYTES_MAX, LINE_LEN_BYTES_MAX, LineFault, Scan, Tail};
use crate::ports::disk::PART_ENDING;
use crate::ports::{Disk, FileKind, Lock, OpenFile, Overwrite};
use crate::walk::{Entry, Event};

/// What the files are called that hold torn tails, before their number.
const TORN_PREFIX: &str = "journal.torn-";

/// What opening a journal had to put right.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Recovery {
    /// True when the last line lacked only its line feed, which was added.
    pub newline_added: bool,
    /// Torn tails that no entry mentions yet, oldest first. Each is told to the person and gets
    /// an entry.
    pub torn: Vec<TornTail>,
}

/// Unfinished bytes that were set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TornTail {
    /// The file that holds them now.
    pub path: PathBuf,
    /// How many they are.
    pub len_bytes: u64,
    /// Their hash.
    pub sha256: Sha256,
}

impl TornTail {
    /// What the journal says of it.
    pub fn event(&self) -> Event {
        Event::TornTailSetAside { len_bytes: self.len_bytes, sha256: self.sha256 }
    }
}

/// What has been acknowledged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Acknowledged {
    next_n: u64,
    head: Sha256,
    len_bytes: u64,
}

impl Acknowledged {
    fn of(scan: &Scan, len_bytes: usize) -> Self {
        Self { next_n: scan.next_n(), head: scan.head(), len_bytes: len_bytes as u64 }
    }
}

/// The one writer of a job's journal; holds the job's lock as long as it lives.
#[derive(Debug)]
pub struct JournalWriter {
    disk: Rc<dyn Disk>,
    job: JobFolder,
    acknowledged: Acknowledged,
    /// `None` after a failed save, until [`JournalWriter::retry`] has put it right.
    file: Option<Box<dyn OpenFile>>,
    _lock: Box<dyn Lock>,
}

impl JournalWriter {
    /// Starts the journal of a new job.
    ///
    /// # Errors
    /// Also when there is a journal already.
    pub fn create(disk: &Rc<dyn Disk>, job: &JobFolder) -> Result<Self, StoreError> {
        let lock = lock::take(disk.as_ref(), job.lock_path()?, job.root())?;
        disk.write_new(&job.journal(), b"", Overwrite::Never)?;
        let file = disk.open_append(&job.journal())?;
        let acknowledged = Acknowledged { next_n: 0, head: Sha256::ZERO, len_bytes: 0 };
        Ok(Self {
            disk: Rc::clone(disk),
            job: job.clone(),
            acknowledged,
            file: Some(file),
            _lock: lock,
        })
    }

    /// Opens the journal of a job that was begun, and puts right what a power cut may have left:
    /// a missing line feed is added, unfinished bytes are set aside. Damage is never put right.
    ///
    /// # Errors
    /// [`StoreError::InUse`] while another process works on the job; the scan's error, and nothing
    /// changed, when anything before the tail is wrong.
    pub fn open(
        disk: &Rc<dyn Disk>,
        job: &JobFolder,
    ) -> Result<(Self, Scan, Recovery), StoreError> {
        let lock = lock::take(disk.as_ref(), job.lock_path()?, job.root())?;
        let bytes = job.journal_bytes(disk.as_ref())?;
        let mut scan = job.scan(&bytes)?;
        sweep_parts(disk.as_ref(), job)?;
        let mut recovery = Recovery::default();
        let mut len_bytes = bytes.len();
        if let Tail::Torn { at, .. } = scan.tail {
            let (whole, torn) = bytes.split_at(at);
            set_aside(disk.as_ref(), job, &scan, torn)?;
            disk.write_new(&job.journal(), whole, Overwrite::Replace)?;
            len_bytes = at;
        }
        let mut file = disk.open_append(&job.journal())?;
        if scan.tail == Tail::MissingNewline {
            file.write(b"\n")?;
            recovery.newline_added = true;
            len_bytes += 1;
        }
        // A process that died between writing and syncing leaves a line that can be read and may
        // still be lost. Nothing of the scan may be shown as saved before it is.
        file.sync()?;
        disk.sync_dir(job.root())?;
        scan.tail = Tail::Whole;
        recovery.torn = unmentioned(disk.as_ref(), job, &scan)?;
        let writer = Self {
            disk: Rc::clone(disk),
            job: job.clone(),
            acknowledged: Acknowledged::of(&scan, len_bytes),
            file: Some(file),
            _lock: lock,
        };
        Ok((writer, scan, recovery))
    }

    /// The number of the next entry.
    pub fn next_n(&self) -> u64 {
        self.acknowledged.next_n
    }

    /// The hash of the last saved line, or zeros.
    pub fn head(&self) -> Sha256 {
        self.acknowledged.head
    }

    /// True after a failed save, until [`JournalWriter::retry`] has put it right.
    pub fn is_poisoned(&self) -> bool {
        self.file.is_none()
    }

    /// Saves `entry` and returns its hash once it is lasting.
    ///
    /// # Errors
    /// The entry is then not saved. When the disk failed, nothing more is saved before
    /// [`JournalWriter::retry`].
    pub fn append(&mut self, entry: &Entry) -> Result<Sha256, StoreError> {
        let path = || self.job.journal();
        let Acknowledged { next_n, head, len_bytes } = self.acknowledged;
        if entry.n != next_n {
            return Err(StoreError::OutOfOrder { wanted: next_n, found: entry.n });
        }
        let line = journal::encode(entry, head);
        read_back(entry, head, &line)?;
        let hash = Sha256::of(line.as_bytes());
        let mut bytes = line.into_bytes();
        bytes.push(b'\n');
        let len_bytes_after = len_bytes + bytes.len() as u64;
        if len_bytes_after > JOURNAL_LEN_BYTES_MAX as u64 {
            return Err(StoreError::JournalFull { path: path() });
        }
        let Some(mut file) = self.file.take() else {
            return Err(StoreError::NotSaved { path: path() });
        };
        if let Err(error) = file.write(&bytes).and_then(|()| file.sync()) {
            // Takes the unfinished bytes away where that is still possible. If it is not, they
            // are a torn tail or an entry nobody was told of, and both are dealt with.
            drop(file.truncate(len_bytes));
            return Err(error.into());
        }
        self.file = Some(file);
        self.acknowledged =
            Acknowledged { next_n: next_n + 1, head: hash, len_bytes: len_bytes_after };
        Ok(hash)
    }

    /// Puts a failed save right: reads what is on the disk, writes the acknowledged lines and
    /// nothing else to a new file, and goes on with that one. The entry is then appended again.
    ///
    /// # Errors
    /// Why it is not put right yet; it can be tried again.
    pub fn retry(&mut self) -> Result<(), StoreError> {
        if self.file.is_some() {
            return Ok(());
        }
        let disk = self.disk.as_ref();
        let changed = || StoreError::ChangedOutside { path: self.job.journal() };
        let bytes = self.job.journal_bytes(disk)?;
        let len_bytes = usize::try_from(self.acknowledged.len_bytes).unwrap_or(usize::MAX);
        let acknowledged = bytes.get(..len_bytes).ok_or_else(changed)?;
        let scan = self.job.scan(acknowledged)?;
        if scan.tail != Tail::Whole || Acknowledged::of(&scan, len_bytes) != self.acknowledged {
            return Err(changed());
        }
        disk.write_new(&self.job.journal(), acknowledged, Overwrite::Replace)?;
        self.file = Some(disk.open_append(&self.job.journal())?);
        Ok(())
    }
}

/// Refuses, before anything is written, a line that could not be read again.
fn read_back(entry: &Entry, prev: Sha256, line: &str) -> Result<(), StoreError> {
    let n = entry.n;
    match journal::decode(line) {
        Ok((found, found_prev)) if found == *entry && found_prev == prev => Ok(()),
        Ok(_) => Err(StoreError::Unreadable { n, source: LineFault::OtherWriting }),
        Err(source) => Err(StoreError::Unreadable { n, source }),
    }
}

/// Removes files that a dying process left half-written. They never had a name that counts.
fn sweep_parts(disk: &dyn Disk, job: &JobFolder) -> Result<(), StoreError> {
    for entry in disk.list(job.root())? {
        let name = entry.name.to_string_lossy();
        if entry.kind == FileKind::File && name.starts_with('.') && name.ends_with(PART_ENDING) {
            disk.remove(&job.root().join(&entry.name))?;
        }
    }
    Ok(())
}

/// Keeps `torn` beside the journal, once, even when a power cut interrupts it and it is done again.
fn set_aside(disk: &dyn Disk, job: &JobFolder, scan: &Scan, torn: &[u8]) -> Result<(), StoreError> {
    let sha256 = Sha256::of(torn);
    if unmentioned(disk, job, scan)?.iter().any(|kept| kept.sha256 == sha256) {
        return Ok(disk.sync_dir(job.root())?);
    }
    let last = torn_files(disk, job)?.into_keys().max().unwrap_or(0);
    let path = job.root().join(format!("{TORN_PREFIX}{}", last.saturating_add(1)));
    Ok(disk.write_new(&path, torn, Overwrite::Never)?)
}

/// The files of torn tails that are kept in the folder, by their number.
fn torn_files(disk: &dyn Disk, job: &JobFolder) -> Result<BTreeMap<u32, PathBuf>, StoreError> {
    let entries = disk.list(job.root())?;
    let files = entries.iter().filter(|entry| entry.kind == FileKind::File);
    Ok(files
        .filter_map(|entry| {
            let number = entry.name.to_str()?.strip_prefix(TORN_PREFIX)?.parse().ok()?;
            Some((number, job.root().join(&entry.name)))
        })
        .collect())
}

/// The torn tails that are kept in the folder and that no entry mentions, oldest first.
fn unmentioned(disk: &dyn Disk, job: &JobFolder, scan: &Scan) -> Result<Vec<TornTail>, StoreError> {
    // Counted, because two power cuts can leave the same bytes.
    let mut n_mentions: BTreeMap<Sha256, usize> = BTreeMap::new();
    for entry in scan.entries() {
        if let Event::TornTailSetAside { sha256, .. } = &entry.event {
            *n_mentions.entry(*sha256).or_default() += 1;
        }
    }
    let mut tails = Vec::new();
    for path in torn_files(disk, job)?.into_values() {
        let bytes = disk.read(&path, LINE_LEN_BYTES_MAX as u64)?;
        let sha256 = Sha256::of(&bytes);
        match n_mentions.get_mut(&sha256) {
            Some(n) if *n > 0 => *n -= 1,
            _ => tails.push(TornTail { path, len_bytes: bytes.len() as u64, sha256 }),
        }
    }
    Ok(tails)
}
