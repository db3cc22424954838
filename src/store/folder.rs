//! The whole of a job's folder in memory, for judging it. Links are not followed and nothing outside
//! is reached; what is not read is named with its reason.

use std::path::Path;

use super::{JobFolder, StoreError};
use crate::ports::{Disk, DiskFault, FileKind};
use crate::record::verify::FolderBytes;

/// The largest file that is read: as large as a journal may be.
const FILE_LEN_BYTES_MAX: u64 = crate::journal::JOURNAL_LEN_BYTES_MAX as u64;
/// The most bytes of all files together.
const ALL_LEN_BYTES_MAX: u64 = 1 << 30;
/// Files in a job, at most.
const FILES_MAX: usize = 20_000;
/// Folders in folders, at most.
const DEPTH_MAX: usize = 8;

/// Reads every file of a job's folder.
///
/// # Errors
/// The folder itself cannot be listed, or a file that is there cannot be read.
pub fn load_folder(disk: &dyn Disk, job: &JobFolder) -> Result<FolderBytes, StoreError> {
    let mut load = Load { disk, found: FolderBytes::default(), left: ALL_LEN_BYTES_MAX };
    let mut folders = vec![(job.root().to_owned(), String::new(), 0)];
    while let Some((folder, prefix, depth)) = folders.pop() {
        for entry in disk.list(&folder)? {
            let path = folder.join(&entry.name);
            let name = format!("{prefix}{}", entry.name.to_string_lossy());
            let is_text = entry.name.to_str().is_some();
            match entry.kind {
                _ if load.is_full() => return Err(StoreError::TooMuch { path: job.root().into() }),
                _ if !is_text => load.odd(name, "has a name that is not UTF-8"),
                FileKind::File => load.file(name, &path)?,
                FileKind::Dir if depth < DEPTH_MAX => {
                    folders.push((path, format!("{name}/"), depth + 1));
                }
                FileKind::Dir => load.odd(name, "lies in too many folders"),
                FileKind::Link => load.odd(name, "is a link, which is not followed"),
                FileKind::Special => load.odd(name, "is a pipe, socket or device"),
            }
        }
    }
    Ok(load.found)
}

struct Load<'a> {
    disk: &'a dyn Disk,
    found: FolderBytes,
    left: u64,
}

impl Load<'_> {
    fn is_full(&self) -> bool {
        self.found.files.len() + self.found.odd.len() >= FILES_MAX
    }

    fn odd(&mut self, name: String, why: &str) {
        self.found.odd.insert(name, why.to_owned());
    }

    fn file(&mut self, name: String, path: &Path) -> Result<(), StoreError> {
        match self.disk.read(path, FILE_LEN_BYTES_MAX.min(self.left)) {
            Ok(bytes) => {
                self.left = self.left.saturating_sub(bytes.len() as u64);
                self.found.files.insert(name, bytes);
                Ok(())
            }
            Err(error) if error.fault == DiskFault::TooLarge => {
                self.odd(name, "is larger than this program reads");
                Ok(())
            }
            Err(error) if error.fault == DiskFault::NotRegular => {
                self.odd(name, "is not a plain file");
                Ok(())
            }
            Err(error) => Err(error.into()),
        }
    }
}
