//! A disk, a clock and keys that live as long as a rehearsal.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use chrono::TimeDelta;

use crate::ids::{BootClock, Moment, Sha256};
use crate::ports::{
    Clock, DirEntry, Disk, DiskAction, DiskError, DiskFault, FileKind, Lock, OpenFile, Overwrite,
    SignError, Signer,
};
use crate::record::{KeyPair, Namespace};

type Bytes = Rc<RefCell<Vec<u8>>>;

#[derive(Debug, Clone)]
enum Entry {
    Dir,
    File(Bytes),
}

/// A disk in memory. What is written is lasting at once, and nothing outlives it.
#[derive(Debug, Default)]
pub(super) struct MemoryDisk(RefCell<BTreeMap<PathBuf, Entry>>);

impl MemoryDisk {
    /// An empty disk with a folder at `root`.
    pub(super) fn with_root(root: &Path) -> Self {
        let disk = Self::default();
        disk.0.borrow_mut().insert(root.to_owned(), Entry::Dir);
        disk
    }

    /// Another disk with the same files; a change of the one is none of the other.
    pub(super) fn fork(&self) -> Self {
        let copy = |entry: &Entry| match entry {
            Entry::Dir => Entry::Dir,
            Entry::File(bytes) => Entry::File(Rc::new(RefCell::new(bytes.borrow().clone()))),
        };
        let entries = self.0.borrow();
        Self(RefCell::new(entries.iter().map(|(path, e)| (path.clone(), copy(e))).collect()))
    }

    fn file(&self, action: DiskAction, path: &Path) -> Result<Bytes, DiskError> {
        match self.0.borrow().get(path) {
            Some(Entry::File(bytes)) => Ok(Rc::clone(bytes)),
            Some(Entry::Dir) => Err(DiskError::new(action, path, DiskFault::NotRegular)),
            None => Err(DiskError::new(action, path, DiskFault::NotThere)),
        }
    }

    fn free(&self, action: DiskAction, path: &Path) -> Result<(), DiskError> {
        if self.0.borrow().contains_key(path) {
            return Err(DiskError::new(action, path, DiskFault::AlreadyThere));
        }
        if path.parent().is_some_and(|dir| self.0.borrow().contains_key(dir)) {
            Ok(())
        } else {
            Err(DiskError::new(action, path, DiskFault::NotThere))
        }
    }
}

impl Disk for MemoryDisk {
    fn read(&self, path: &Path, len_bytes_max: u64) -> Result<Vec<u8>, DiskError> {
        let bytes = self.file(DiskAction::Read, path)?.borrow().clone();
        if bytes.len() as u64 > len_bytes_max {
            return Err(DiskError::new(DiskAction::Read, path, DiskFault::TooLarge));
        }
        Ok(bytes)
    }

    fn list(&self, dir: &Path) -> Result<Vec<DirEntry>, DiskError> {
        let entries = self.0.borrow();
        if !matches!(entries.get(dir), Some(Entry::Dir)) {
            return Err(DiskError::new(DiskAction::List, dir, DiskFault::NotThere));
        }
        let inside = entries.iter().filter(|(path, _)| path.parent() == Some(dir));
        let named = inside.filter_map(|(path, entry)| {
            let kind = match entry {
                Entry::Dir => FileKind::Dir,
                Entry::File(_) => FileKind::File,
            };
            Some(DirEntry { name: path.file_name()?.to_owned(), kind })
        });
        Ok(named.collect())
    }

    fn kind(&self, path: &Path) -> Result<Option<FileKind>, DiskError> {
        Ok(self.0.borrow().get(path).map(|entry| match entry {
            Entry::Dir => FileKind::Dir,
            Entry::File(_) => FileKind::File,
        }))
    }

    fn create_dir(&self, path: &Path) -> Result<(), DiskError> {
        self.free(DiskAction::MakeDir, path)?;
        self.0.borrow_mut().insert(path.to_owned(), Entry::Dir);
        Ok(())
    }

    fn create(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        self.free(DiskAction::Save, path)?;
        let bytes = Bytes::default();
        self.0.borrow_mut().insert(path.to_owned(), Entry::File(Rc::clone(&bytes)));
        Ok(Box::new(MemoryFile(bytes)))
    }

    fn open_append(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        Ok(Box::new(MemoryFile(self.file(DiskAction::Save, path)?)))
    }

    fn sync_dir(&self, _dir: &Path) -> Result<(), DiskError> {
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path, overwrite: Overwrite) -> Result<(), DiskError> {
        let file = self.file(DiskAction::Save, from)?;
        if overwrite == Overwrite::Never {
            self.free(DiskAction::Save, to)?;
        }
        let mut entries = self.0.borrow_mut();
        entries.remove(from);
        entries.insert(to.to_owned(), Entry::File(file));
        Ok(())
    }

    fn remove(&self, path: &Path) -> Result<(), DiskError> {
        self.file(DiskAction::Remove, path)?;
        self.0.borrow_mut().remove(path);
        Ok(())
    }

    fn set_read_only(&self, path: &Path) -> Result<(), DiskError> {
        self.file(DiskAction::Protect, path).map(drop)
    }

    fn try_lock(&self, _path: &Path) -> Result<Option<Box<dyn Lock>>, DiskError> {
        // One process, one thread: nobody else is there to hold it.
        Ok(Some(Box::new(MemoryLock)))
    }
}

#[derive(Debug)]
struct MemoryFile(Bytes);

impl OpenFile for MemoryFile {
    fn write(&mut self, bytes: &[u8]) -> Result<(), DiskError> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(())
    }

    fn sync(&mut self) -> Result<(), DiskError> {
        Ok(())
    }

    fn truncate(&mut self, len_bytes: u64) -> Result<(), DiskError> {
        self.0.borrow_mut().truncate(usize::try_from(len_bytes).unwrap_or(usize::MAX));
        Ok(())
    }
}

#[derive(Debug)]
struct MemoryLock;

impl Lock for MemoryLock {}

/// How far the clock of a rehearsal moves on whenever it is read.
const TICK: TimeDelta = TimeDelta::seconds(30);

/// A clock that moves on by half a minute whenever it is read.
#[derive(Debug)]
pub(super) struct Ticking {
    shown: Cell<Moment>,
    stands: Cell<bool>,
}

impl Ticking {
    /// A clock that shows `start` first.
    pub(super) fn from(start: Moment) -> Self {
        let before = Moment::new(start.time() - TICK);
        Self { shown: Cell::new(before), stands: Cell::new(false) }
    }
}

impl Clock for Ticking {
    fn now(&self) -> Moment {
        if !self.stands.get() {
            self.shown.set(Moment::new(self.shown.get().time() + TICK));
        }
        self.shown.get()
    }

    fn boot(&self) -> Option<BootClock> {
        let up = u64::try_from(self.shown.get().time().timestamp()).ok()?;
        Some(BootClock { boot: Sha256::of(b"a rehearsal"), seconds: up })
    }

    fn stand(&self, at: Option<Moment>) {
        self.stands.set(at.is_some());
        self.shown.set(at.map_or(self.shown.get(), |at| at.max(self.shown.get())));
    }
}

/// A key in memory that signs without asking.
#[derive(Debug)]
pub(super) struct Held(pub(super) KeyPair);

impl Signer for Held {
    fn sign(&self, namespace: &str, message: &[u8]) -> Result<String, SignError> {
        let known = Namespace::parse(namespace);
        known.map(|namespace| self.0.sign(namespace, message)).ok_or_else(|| SignError::Agent {
            reason: format!("`{namespace}` is no purpose we know"),
        })
    }
}
