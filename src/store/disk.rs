//! The real disk.

#![expect(clippy::disallowed_methods, reason = "the only file that touches the disk")]

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};

use crate::ports::{
    DirEntry, Disk, DiskAction, DiskError, DiskFault, FileKind, Lock, OpenFile, Overwrite,
};

/// The files of this computer.
#[derive(Debug, Clone, Copy, Default)]
pub struct OsDisk;

impl OsDisk {
    /// The description of the regular file at `path`; anything else is refused.
    fn regular(action: DiskAction, path: &Path) -> Result<Metadata, DiskError> {
        let found = fs::symlink_metadata(path).map_err(|e| DiskError::from_io(action, path, e))?;
        if found.is_file() {
            Ok(found)
        } else {
            Err(DiskError::new(action, path, DiskFault::NotRegular))
        }
    }

    /// Opens the regular file at `path`. It is looked at again after opening, because it can have
    /// been exchanged in between.
    fn open(
        action: DiskAction,
        path: &Path,
        options: &mut OpenOptions,
    ) -> Result<(File, u64), DiskError> {
        let fault = |error| DiskError::from_io(action, path, error);
        Self::regular(action, path)?;
        let file = without_following(options).open(path).map_err(fault)?;
        let found = file.metadata().map_err(fault)?;
        if found.is_file() {
            Ok((file, found.len()))
        } else {
            Err(DiskError::new(action, path, DiskFault::NotRegular))
        }
    }
}

/// Keeps an open from following a link, and from waiting for the other end of a pipe.
fn without_following(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
        options.custom_flags(flags.bits().cast_signed());
    }
    options
}

fn kind_of(file_type: fs::FileType) -> FileKind {
    if file_type.is_file() {
        FileKind::File
    } else if file_type.is_dir() {
        FileKind::Dir
    } else if file_type.is_symlink() {
        FileKind::Link
    } else {
        FileKind::Special
    }
}

impl Disk for OsDisk {
    fn read(&self, path: &Path, len_bytes_max: u64) -> Result<Vec<u8>, DiskError> {
        let (file, len_bytes) = Self::open(DiskAction::Read, path, OpenOptions::new().read(true))?;
        if len_bytes > len_bytes_max {
            return Err(DiskError::new(DiskAction::Read, path, DiskFault::TooLarge));
        }
        let mut bytes = Vec::new();
        // One byte more than allowed, to notice a file that grows while it is read.
        file.take(len_bytes_max.saturating_add(1))
            .read_to_end(&mut bytes)
            .map_err(|error| DiskError::from_io(DiskAction::Read, path, error))?;
        if bytes.len() as u64 > len_bytes_max {
            return Err(DiskError::new(DiskAction::Read, path, DiskFault::TooLarge));
        }
        Ok(bytes)
    }

    fn list(&self, dir: &Path) -> Result<Vec<DirEntry>, DiskError> {
        let fault = |error| DiskError::from_io(DiskAction::List, dir, error);
        let found = fs::symlink_metadata(dir).map_err(fault)?;
        if !found.is_dir() {
            return Err(DiskError::new(DiskAction::List, dir, DiskFault::NotRegular));
        }
        let mut entries = Vec::new();
        for entry in fs::read_dir(dir).map_err(fault)? {
            let entry = entry.map_err(fault)?;
            let kind = kind_of(entry.file_type().map_err(fault)?);
            entries.push(DirEntry { name: entry.file_name(), kind });
        }
        entries.sort();
        Ok(entries)
    }

    fn kind(&self, path: &Path) -> Result<Option<FileKind>, DiskError> {
        match fs::symlink_metadata(path) {
            Ok(found) => Ok(Some(kind_of(found.file_type()))),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(DiskError::from_io(DiskAction::Read, path, error)),
        }
    }

    fn create_dir(&self, path: &Path) -> Result<(), DiskError> {
        fs::create_dir(path).map_err(|error| DiskError::from_io(DiskAction::MakeDir, path, error))
    }

    fn create(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(path)
            .map_err(|error| DiskError::from_io(DiskAction::Save, path, error))?;
        Ok(Box::new(OsFile { file, path: path.to_owned() }))
    }

    fn open_append(&self, path: &Path) -> Result<Box<dyn OpenFile>, DiskError> {
        let (file, _) = Self::open(DiskAction::Save, path, OpenOptions::new().append(true))?;
        Ok(Box::new(OsFile { file, path: path.to_owned() }))
    }

    fn sync_dir(&self, dir: &Path) -> Result<(), DiskError> {
        let dir = if dir.as_os_str().is_empty() { Path::new(".") } else { dir };
        // Elsewhere a folder cannot be opened as a file, and names are lasting at once.
        if cfg!(unix) {
            File::open(dir)
                .and_then(|opened| opened.sync_all())
                .map_err(|error| DiskError::from_io(DiskAction::Save, dir, error))?;
        }
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path, overwrite: Overwrite) -> Result<(), DiskError> {
        match overwrite {
            Overwrite::Replace => fs::rename(from, to),
            Overwrite::Never => rename_to_free_name(from, to),
        }
        .map_err(|error| DiskError::from_io(DiskAction::Save, to, error))
    }

    fn remove(&self, path: &Path) -> Result<(), DiskError> {
        fs::remove_file(path).map_err(|error| DiskError::from_io(DiskAction::Remove, path, error))
    }

    fn set_read_only(&self, path: &Path) -> Result<(), DiskError> {
        let mut permissions = Self::regular(DiskAction::Protect, path)?.permissions();
        permissions.set_readonly(true);
        fs::set_permissions(path, permissions)
            .map_err(|error| DiskError::from_io(DiskAction::Protect, path, error))
    }

    fn try_lock(&self, path: &Path) -> Result<Option<Box<dyn Lock>>, DiskError> {
        let fault = |error| DiskError::from_io(DiskAction::Lock, path, error);
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false);
        let file = without_following(&mut options).open(path).map_err(fault)?;
        // A program that is being started holds every open file of its parent for a moment, locks
        // with it: who truly has the lock still has it a little later.
        for _ in 0..10 {
            match file.try_lock() {
                Ok(()) => return Ok(Some(Box::new(OsLock { _file: file }))),
                Err(fs::TryLockError::WouldBlock) => {}
                Err(fs::TryLockError::Error(error)) => return Err(fault(error)),
            }
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        Ok(None)
    }
}

/// Renames only to a name that is free, in one step where the file system can.
fn rename_to_free_name(from: &Path, to: &Path) -> io::Result<()> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        use rustix::io::Errno;
        match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
            Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => {}
            done => return Ok(done?),
        }
    }
    // A second name for the same file is refused where the name is taken.
    fs::hard_link(from, to)?;
    fs::remove_file(from)
}

#[derive(Debug)]
struct OsFile {
    file: File,
    path: PathBuf,
}

impl OsFile {
    fn saved(&self, result: io::Result<()>) -> Result<(), DiskError> {
        result.map_err(|error| DiskError::from_io(DiskAction::Save, &self.path, error))
    }
}

impl OpenFile for OsFile {
    fn write(&mut self, bytes: &[u8]) -> Result<(), DiskError> {
        let result = self.file.write_all(bytes);
        self.saved(result)
    }

    fn sync(&mut self) -> Result<(), DiskError> {
        self.saved(self.file.sync_data())
    }

    fn truncate(&mut self, len_bytes: u64) -> Result<(), DiskError> {
        self.saved(self.file.set_len(len_bytes))
    }
}

/// The system lets go of the lock when the file is closed, and so when the process dies.
#[derive(Debug)]
struct OsLock {
    _file: File,
}

impl Lock for OsLock {}
