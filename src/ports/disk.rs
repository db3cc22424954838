//! The disk as the program sees it: few operations, each of which can fail on its own.
//!
//! Saving a whole file is written here once, over the small operations, so that a disk that fails
//! between any two of them tests the very steps that the real disk takes.

use std::ffi::OsString;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// The ending of a file that is being written and has not got its name yet.
pub const PART_ENDING: &str = ".part";

/// The only way to files.
///
/// No operation follows a link in the last word of its path. Changes are lasting only once they
/// are synced: bytes by [`OpenFile::sync`], names by [`Disk::sync_dir`].
pub trait Disk: fmt::Debug {
    /// Reads a regular file of at most `len_bytes_max` bytes.
    fn read(&self, path: &Path, len_bytes_max: u64) -> Result<Vec<u8>, DiskError>;

    /// Lists a folder, sorted by name.
    fn list(&self, dir: &Path) -> Result<Vec<DirEntry>, DiskError>;

    /// Says what stands at `path` without following a link; `None` for nothing.
    fn kind(&self, path: &Path) -> Result<Option<FileKind>, DiskError>;

    /// Makes one folder; [`DiskFault::AlreadyThere`] when the name is taken, by whomever.
    fn create_dir(&self, path: &Path) -> Result<(), DiskError>;

    /// Makes a new empty file and opens it for writing; [`DiskFault::AlreadyThere`] when the name
    /// is taken.
    fn create(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError>;

    /// Opens a regular file for writing at its end.
    fn open_append(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError>;

    /// Makes the names in a folder lasting.
    fn sync_dir(&self, dir: &Path) -> Result<(), DiskError>;

    /// Gives a file another name in one step: readers see the old file or the new one.
    fn rename(&self, from: &Path, to: &Path, overwrite: Overwrite) -> Result<(), DiskError>;

    /// Removes a file.
    fn remove(&self, path: &Path) -> Result<(), DiskError>;

    /// Takes away everybody's right to write to a file.
    fn set_read_only(&self, path: &Path) -> Result<(), DiskError>;

    /// Lets nobody but its owner read or change a file; for keys.
    fn set_private(&self, path: &Path) -> Result<(), DiskError> {
        let _ = path;
        Ok(())
    }

    /// The permission bits of a file that others than its owner may read or change.
    fn open_to_others(&self, path: &Path) -> Result<Option<u32>, DiskError> {
        let _ = path;
        Ok(None)
    }

    /// Takes the lock file at `path`, made if need be; `None` while somebody else holds it. The
    /// lock is let go when it is dropped and when the process dies.
    fn try_lock(&self, path: &Path) -> Result<Option<Box<dyn Lock>>, DiskError>;

    /// Writes a whole file so that, at any moment and after any power cut, the name stands for
    /// nothing or the old bytes before it, and for all the new bytes after it.
    ///
    /// # Errors
    /// Whatever step failed. The file under `path` is then as it was, except when only the last
    /// step failed: then it holds the new bytes, which a power cut may still undo.
    fn write_new(&self, path: &Path, bytes: &[u8], overwrite: Overwrite) -> Result<(), DiskError> {
        if overwrite == Overwrite::Never && self.kind(path)?.is_some() {
            return Err(DiskError::new(DiskAction::Save, path, DiskFault::AlreadyThere));
        }
        let part = part_path(path);
        let written = (|| {
            let mut file = self.create(&part)?;
            file.write(bytes)?;
            file.sync()?;
            drop(file);
            self.rename(&part, path, overwrite)
        })();
        if let Err(error) = written {
            // The failure that counts is the first one; a part file that stays is swept up later.
            drop(self.remove(&part));
            return Err(error.about(path));
        }
        self.sync_dir(path.parent().unwrap_or(Path::new("")))
    }

    /// True when anything stands at `path`, a link included.
    fn exists(&self, path: &Path) -> Result<bool, DiskError> {
        Ok(self.kind(path)?.is_some())
    }
}

/// A name beside `path` that no other writer of this computer uses.
fn part_path(path: &Path) -> PathBuf {
    static N_PARTS: AtomicU32 = AtomicU32::new(0);
    let n = N_PARTS.fetch_add(1, Ordering::Relaxed);
    let mut name = OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    name.push(format!(".{}-{n}{PART_ENDING}", std::process::id()));
    path.with_file_name(name)
}

/// A file open for writing at its end.
pub trait OpenFile: fmt::Debug {
    /// Writes all of `bytes`. After an error any part of them may have been written.
    fn write(&mut self, bytes: &[u8]) -> Result<(), DiskError>;

    /// Returns once the bytes are lasting. After an error nobody knows which are, and a second
    /// call may wrongly succeed: the system forgets what it failed to write.
    fn sync(&mut self) -> Result<(), DiskError>;

    /// Cuts the file to its first `len_bytes` bytes.
    fn truncate(&mut self, len_bytes: u64) -> Result<(), DiskError>;
}

/// A held lock; dropping it lets go.
pub trait Lock: fmt::Debug {}

/// Whether a file may take the name of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overwrite {
    /// The name must be free.
    Never,
    /// The file of that name is replaced.
    Replace,
}

/// What stands under a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FileKind {
    /// A regular file.
    File,
    /// A folder.
    Dir,
    /// A symbolic link, wherever it leads.
    Link,
    /// A pipe, socket or device.
    Special,
}

/// One name in a folder.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct DirEntry {
    /// The name, without the folder.
    pub name: OsString,
    /// What it stands for.
    pub kind: FileKind,
}

/// What was being done when the disk failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DiskAction {
    /// Reading a file.
    Read,
    /// Listing a folder.
    List,
    /// Writing or syncing a file, or giving it its name.
    Save,
    /// Making a folder.
    MakeDir,
    /// Removing a file.
    Remove,
    /// Taking away write permission.
    Protect,
    /// Taking a lock.
    Lock,
}

impl DiskAction {
    fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::List => "list",
            Self::Save => "save",
            Self::MakeDir => "make the folder",
            Self::Remove => "remove",
            Self::Protect => "make read-only",
            Self::Lock => "lock",
        }
    }
}

/// Why the disk did not do it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DiskFault {
    /// The disk or the person's share of it is full.
    NoSpace,
    /// The disk takes no changes at all.
    ReadOnly,
    /// This person may not.
    Denied,
    /// There is nothing of that name.
    NotThere,
    /// The name is taken.
    AlreadyThere,
    /// A link, pipe or device, or a folder where a file was wanted.
    NotRegular,
    /// More bytes than the reader takes.
    TooLarge,
    /// Anything else; the cause says what.
    Other,
}

impl DiskFault {
    fn of(error: &io::Error) -> Self {
        use io::ErrorKind as Kind;
        match error.kind() {
            Kind::StorageFull | Kind::QuotaExceeded => Self::NoSpace,
            Kind::ReadOnlyFilesystem => Self::ReadOnly,
            Kind::PermissionDenied => Self::Denied,
            Kind::NotFound => Self::NotThere,
            Kind::AlreadyExists => Self::AlreadyThere,
            Kind::IsADirectory | Kind::NotADirectory => Self::NotRegular,
            Kind::FileTooLarge => Self::TooLarge,
            _ => Self::Other,
        }
    }

    /// The reason in plain words, and what to do next.
    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::NoSpace => {
                ("there is no space left on the disk", "free some space and try again")
            }
            Self::ReadOnly => (
                "the disk is mounted read-only",
                "mount it for writing, or copy the folder to a disk that is",
            ),
            Self::Denied => (
                "you do not have permission",
                "ask the owner of the folder for it, or work as the person who has it",
            ),
            Self::NotThere => ("there is nothing of that name", "check the path"),
            Self::AlreadyThere => (
                "something of that name is there already",
                "choose another name or move the other away",
            ),
            Self::NotRegular => (
                "a link, folder or device stands there, or a file where a folder should be",
                "put a plain file or folder in its place",
            ),
            Self::TooLarge => ("the file is larger than this program reads", "check what it is"),
            Self::Other => ("the disk reported a fault", "look at the disk, then try again"),
        }
    }
}

/// A failed disk operation: what, on which path, why, and what to do next.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.sentence())]
pub struct DiskError {
    /// What was being done.
    pub action: DiskAction,
    /// The path it was done to.
    pub path: PathBuf,
    /// Why it failed.
    pub fault: DiskFault,
    /// What the system said, where it was the system that refused.
    #[source]
    pub source: Option<io::Error>,
}

impl DiskError {
    /// A failure that the program itself found.
    pub fn new(action: DiskAction, path: &Path, fault: DiskFault) -> Self {
        Self { action, path: path.to_owned(), fault, source: None }
    }

    /// A failure that the system reported.
    pub fn from_io(action: DiskAction, path: &Path, error: io::Error) -> Self {
        let fault = DiskFault::of(&error);
        Self { action, path: path.to_owned(), fault, source: Some(error) }
    }

    /// The same failure, told of the file that the person knows instead of its part file.
    #[must_use]
    fn about(mut self, path: &Path) -> Self {
        path.clone_into(&mut self.path);
        self
    }

    fn sentence(&self) -> String {
        let (reason, next) = self.fault.words();
        let detail = match (self.fault, &self.source) {
            (DiskFault::Other, Some(error)) => format!(" ({error})"),
            _ => String::new(),
        };
        let action = self.action.word();
        format!("cannot {action} `{}`: {reason}{detail}; {next}", self.path.display())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failure_names_the_path_the_reason_and_the_next_step() {
        let full = io::Error::from(io::ErrorKind::StorageFull);
        let error = DiskError::from_io(DiskAction::Save, Path::new("/shop/journal.jsonl"), full);
        assert_eq!(
            error.to_string(),
            "cannot save `/shop/journal.jsonl`: there is no space left on the disk; \
             free some space and try again"
        );
        let odd = io::Error::other("input/output error");
        let error = DiskError::from_io(DiskAction::Read, Path::new("/x"), odd);
        assert!(error.to_string().contains("(input/output error)"), "{error}");
    }

    #[test]
    fn part_files_of_one_path_never_share_a_name() {
        let path = Path::new("/jobs/journal.jsonl");
        assert_ne!(part_path(path), part_path(path));
        assert_eq!(part_path(path).parent(), path.parent());
    }
}
