//! One writer: a lock that dies with its process.
//!
//! Lock files live in the shop's `locks` folder and never in a job's, whose files are hashed,
//! replaced and frozen. They stay empty and are never removed: two processes could otherwise hold
//! locks on two files of one name.

use std::path::Path;

use super::StoreError;
use crate::ports::{Disk, DiskFault, Lock};

/// Takes the lock at `path`, which stands for the folder or file `of`.
///
/// # Errors
/// [`StoreError::InUse`] while somebody else holds it.
pub fn take(disk: &dyn Disk, path: &Path, of: &Path) -> Result<Box<dyn Lock>, StoreError> {
    if let Some(folder) = path.parent() {
        ensure_dir(disk, folder)?;
    }
    disk.try_lock(path)?.ok_or_else(|| StoreError::InUse { path: of.to_owned() })
}

/// Makes one folder that may be there already.
pub(super) fn ensure_dir(disk: &dyn Disk, path: &Path) -> Result<(), StoreError> {
    use crate::ports::{DiskAction, DiskError, FileKind};
    match disk.kind(path)? {
        Some(FileKind::Dir) => return Ok(()),
        Some(_) => {
            return Err(DiskError::new(DiskAction::MakeDir, path, DiskFault::NotRegular).into());
        }
        None => {}
    }
    match disk.create_dir(path) {
        // Another process may have made it in between.
        Err(error) if error.fault != DiskFault::AlreadyThere => Err(error.into()),
        _ => Ok(disk.sync_dir(path.parent().unwrap_or(Path::new("")))?),
    }
}
