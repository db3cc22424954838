//! A job's folder: what stands where, reading from it with care, freezing it.
//!
//! A folder may come from anywhere, so no link is followed and nothing outside it is reached.

use std::path::{Path, PathBuf};

use super::lock::ensure_dir;
use super::{InnerPath, StoreError};
use crate::journal::{self, JOURNAL_LEN_BYTES_MAX, Scan};
use crate::ports::{Disk, DiskAction, DiskError, DiskFault, FileKind, Overwrite};
use crate::walk::Entry;

/// The journal's name.
const JOURNAL: &str = "journal.jsonl";

/// Folders in folders, at most.
const DEPTH_MAX: usize = 8;

/// Files in a job, at most.
const FILES_MAX: usize = 100_000;

/// The rule that keeps version control from converting line ends, which would break every hash.
pub(super) const KEEP_BYTES: &str = "* -text\n";

/// So many lines at the end of a journal are looked at, at most.
const ENDS_MAX: usize = 64;

/// Both ends of a journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ends {
    /// The first entry.
    pub first: Entry,
    /// The last entries, newest first.
    pub last: Vec<Entry>,
    /// How many lines there are.
    pub n_lines: usize,
}

/// A job's folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobFolder {
    root: PathBuf,
    lock: Option<PathBuf>,
}

impl JobFolder {
    /// A folder wherever it is, for looking at only.
    pub fn at(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into(), lock: None }
    }

    pub(super) fn in_shop(root: PathBuf, lock: PathBuf) -> Self {
        Self { root, lock: Some(lock) }
    }

    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The shop's folder: a job's lies in its folder of jobs.
    pub fn shop(&self) -> Option<&Path> {
        self.root.parent().and_then(Path::parent)
    }

    /// The lock file, which is not in the folder.
    pub(super) fn lock_path(&self) -> Result<&Path, StoreError> {
        self.lock.as_deref().ok_or_else(|| StoreError::OutsideShop { path: self.root.clone() })
    }

    /// The journal.
    pub fn journal(&self) -> PathBuf {
        self.root.join(JOURNAL)
    }

    /// Copies of the files that the job was opened with.
    pub fn files(&self) -> PathBuf {
        self.root.join("files")
    }

    /// Attachments, each under its SHA-256.
    pub fn evidence(&self) -> PathBuf {
        self.root.join("evidence")
    }

    /// The completion record.
    pub fn record(&self) -> PathBuf {
        self.root.join("record.json")
    }

    /// The releaser's signature over the record.
    pub fn record_signature(&self) -> PathBuf {
        self.root.join("record.json.sig")
    }

    /// The readable copy.
    pub fn report(&self) -> PathBuf {
        self.root.join("report.html")
    }

    /// How a stranger checks the job without this program.
    pub fn recipe(&self) -> PathBuf {
        self.root.join("recipe.txt")
    }

    /// The list of hashes for `sha256sum -c`.
    pub fn sums(&self) -> PathBuf {
        self.root.join("SHA256SUMS")
    }

    /// Makes what every job folder holds before its first entry.
    pub(super) fn create_inside(&self, disk: &dyn Disk) -> Result<(), StoreError> {
        ensure_dir(disk, &self.files())?;
        ensure_dir(disk, &self.evidence())?;
        let attributes = self.root.join(".gitattributes");
        Ok(disk.write_new(&attributes, KEEP_BYTES.as_bytes(), Overwrite::Never)?)
    }

    /// Reads a file of the folder, of at most `len_bytes_max` bytes. No link on the way is followed.
    pub fn read(
        &self,
        disk: &dyn Disk,
        path: &InnerPath,
        len_bytes_max: u64,
    ) -> Result<Vec<u8>, StoreError> {
        for folder in std::iter::once(self.root.clone()).chain(path.folders(&self.root)) {
            let fault = match disk.kind(&folder)? {
                Some(FileKind::Dir) => continue,
                Some(_) => DiskFault::NotRegular,
                None => DiskFault::NotThere,
            };
            return Err(DiskError::new(DiskAction::Read, &folder, fault).into());
        }
        Ok(disk.read(&path.below(&self.root), len_bytes_max)?)
    }

    /// Adds a file that will never change. Adding the same bytes again does nothing.
    pub fn add(&self, disk: &dyn Disk, path: &InnerPath, bytes: &[u8]) -> Result<(), StoreError> {
        for folder in path.folders(&self.root) {
            ensure_dir(disk, &folder)?;
        }
        let target = path.below(&self.root);
        if disk.exists(&target)? && disk.read(&target, bytes.len() as u64)? == bytes {
            return Ok(());
        }
        Ok(disk.write_new(&target, bytes, Overwrite::Never)?)
    }

    /// Reads the journal without taking the lock and without mending anything.
    pub fn read_journal(&self, disk: &dyn Disk) -> Result<Scan, StoreError> {
        self.scan(&self.journal_bytes(disk)?)
    }

    /// The first and the last entry of the journal, and the last ones before it down to one that
    /// `is_wanted`, newest first; `None` where the whole journal has to be read to say anything.
    /// Nothing of what lies between is checked.
    ///
    /// # Errors
    /// The disk.
    pub fn journal_ends(
        &self,
        disk: &dyn Disk,
        is_wanted: impl Fn(&Entry) -> bool,
    ) -> Result<Option<Ends>, StoreError> {
        let bytes = self.journal_bytes(disk)?;
        let is_whole = bytes.last() == Some(&b'\n');
        let Some(text) = std::str::from_utf8(&bytes).ok().filter(|_| is_whole) else {
            return Ok(None);
        };
        let decoded = |line: &str| journal::decode(line).ok().map(|(entry, _)| entry);
        let Some(first) = text.lines().next().and_then(decoded) else { return Ok(None) };
        let mut last = Vec::new();
        for line in text.lines().rev().take(ENDS_MAX) {
            let Some(entry) = decoded(line) else { return Ok(None) };
            let is_wanted = is_wanted(&entry);
            last.push(entry);
            if is_wanted {
                break;
            }
        }
        Ok(Some(Ends { first, last, n_lines: text.lines().count() }))
    }

    pub(super) fn journal_bytes(&self, disk: &dyn Disk) -> Result<Vec<u8>, StoreError> {
        let name = InnerPath::new(JOURNAL)?;
        match self.read(disk, &name, JOURNAL_LEN_BYTES_MAX as u64) {
            Err(StoreError::Disk(error)) if error.fault == DiskFault::NotThere => {
                Err(StoreError::NoJournal { path: self.journal() })
            }
            read => read,
        }
    }

    pub(super) fn scan(&self, bytes: &[u8]) -> Result<Scan, StoreError> {
        journal::scan(bytes).map_err(|source| StoreError::Journal { path: self.journal(), source })
    }

    /// Every file of the folder, by its path below it, sorted. Anything but plain files and
    /// folders is refused.
    pub fn list(&self, disk: &dyn Disk) -> Result<Vec<InnerPath>, StoreError> {
        let mut found = Vec::new();
        let mut folders = vec![(self.root.clone(), String::new(), 0)];
        while let Some((folder, prefix, depth)) = folders.pop() {
            for entry in disk.list(&folder)? {
                let path = folder.join(&entry.name);
                let Some(name) = entry.name.to_str() else {
                    return Err(StoreError::NameNotText { path });
                };
                match entry.kind {
                    FileKind::File => found.push(InnerPath::new(format!("{prefix}{name}"))?),
                    FileKind::Dir if depth < DEPTH_MAX => {
                        folders.push((path, format!("{prefix}{name}/"), depth + 1));
                    }
                    FileKind::Dir => return Err(StoreError::TooMuch { path }),
                    FileKind::Link | FileKind::Special => {
                        let fault = DiskFault::NotRegular;
                        return Err(DiskError::new(DiskAction::Read, &path, fault).into());
                    }
                }
                if found.len() > FILES_MAX {
                    return Err(StoreError::TooMuch { path: self.root.clone() });
                }
            }
        }
        found.sort();
        Ok(found)
    }

    /// Takes away the right to write to every file. It keeps off slips, not intent.
    ///
    /// The journal comes last: while it can be written to, the job can be opened and this be done
    /// again.
    pub fn freeze(&self, disk: &dyn Disk) -> Result<(), StoreError> {
        for path in self.list(disk)? {
            if path.as_str() != JOURNAL {
                disk.set_read_only(&path.below(&self.root))?;
            }
        }
        Ok(disk.set_read_only(&self.journal())?)
    }
}
