//! A shop's folder: what stands where, and new job numbers.
//!
//! ```text
//! shop.yaml          people, instruments, machines     shop.yaml.sig   the shop key's signature
//! approvals.jsonl    approvals, chained                approvals.jsonl.sig
//! trust              the shop key's public half        allowed_signers for `ssh-keygen -Y`
//! keys/              public keys                       locks/          one empty file a lock
//! procedures/        equipment/ and rehearsals/ below  jobs/           one folder a job
//! ```

use std::path::{Path, PathBuf};

use super::job_folder::KEEP_BYTES;
use super::lock::ensure_dir;
use super::{JobFolder, StoreError, lock};
use crate::ids::JobId;
use crate::ports::{Disk, DiskFault, FileKind, Lock, Overwrite};

/// A shop's folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShopFolder {
    root: PathBuf,
}

impl ShopFolder {
    /// The shop at `root`. Nothing is looked at yet.
    pub fn at(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into() }
    }

    /// Makes the folder itself and those in it, as far as they are missing.
    pub fn create(&self, disk: &dyn Disk) -> Result<(), StoreError> {
        ensure_dir(disk, &self.root)?;
        for folder in [
            self.keys(),
            self.procedures(),
            self.equipment(),
            self.rehearsals(),
            self.jobs(),
            self.locks(),
        ] {
            ensure_dir(disk, &folder)?;
        }
        let attributes = self.root.join(".gitattributes");
        if !disk.exists(&attributes)? {
            disk.write_new(&attributes, KEEP_BYTES.as_bytes(), Overwrite::Never)?;
        }
        Ok(())
    }

    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The shop file.
    pub fn shop_file(&self) -> PathBuf {
        self.root.join("shop.yaml")
    }

    /// The shop key's signature over the shop file.
    pub fn shop_signature(&self) -> PathBuf {
        self.root.join("shop.yaml.sig")
    }

    /// The shop key's public half.
    pub fn trust(&self) -> PathBuf {
        self.root.join("trust")
    }

    /// The roster in the form that `ssh-keygen -Y verify` reads.
    pub fn allowed_signers(&self) -> PathBuf {
        self.root.join("allowed_signers")
    }

    /// The chained list of approvals.
    pub fn approvals(&self) -> PathBuf {
        self.root.join("approvals.jsonl")
    }

    /// The shop key's signature over the approvals.
    pub fn approvals_signature(&self) -> PathBuf {
        self.root.join("approvals.jsonl.sig")
    }

    /// Keys.
    pub fn keys(&self) -> PathBuf {
        self.root.join("keys")
    }

    /// Procedure files.
    pub fn procedures(&self) -> PathBuf {
        self.root.join("procedures")
    }

    /// Equipment files.
    pub fn equipment(&self) -> PathBuf {
        self.procedures().join("equipment")
    }

    /// Rehearsal files.
    pub fn rehearsals(&self) -> PathBuf {
        self.procedures().join("rehearsals")
    }

    /// Job folders.
    pub fn jobs(&self) -> PathBuf {
        self.root.join("jobs")
    }

    /// Lock files.
    pub fn locks(&self) -> PathBuf {
        self.root.join("locks")
    }

    /// The folder of a job. Nothing is looked at yet.
    pub fn job(&self, id: &JobId) -> JobFolder {
        let lock = self.locks().join(format!("{id}.lock"));
        JobFolder::in_shop(self.jobs().join(id.as_str()), lock)
    }

    /// Every job that has a folder, oldest number first.
    pub fn job_ids(&self, disk: &dyn Disk) -> Result<Vec<JobId>, StoreError> {
        let mut ids: Vec<JobId> = disk
            .list(&self.jobs())?
            .iter()
            .filter(|entry| entry.kind == FileKind::Dir)
            .filter_map(|entry| JobId::parse(entry.name.to_str()?))
            .collect();
        ids.sort_by_key(JobId::parts);
        Ok(ids)
    }

    /// Makes the folder of the next job of `year`. No other process gets the same number.
    pub fn create_job(&self, disk: &dyn Disk, year: i32) -> Result<(JobId, JobFolder), StoreError> {
        let numbers = self.job_ids(disk)?.into_iter().map(|id| id.parts());
        let last = numbers.filter(|(of_year, _)| *of_year == year).map(|(_, number)| number).max();
        let mut number = last.unwrap_or(0).saturating_add(1);
        loop {
            let id = JobId::numbered(year, number);
            let folder = self.job(&id);
            match disk.create_dir(folder.root()) {
                Ok(()) => {
                    disk.sync_dir(&self.jobs())?;
                    folder.create_inside(disk)?;
                    return Ok((id, folder));
                }
                // Another process was faster; the number after it is free until someone takes it.
                Err(error) if error.fault == DiskFault::AlreadyThere && number < u32::MAX => {
                    number += 1;
                }
                Err(error) => return Err(error.into()),
            }
        }
    }

    /// Takes the lock under which the shop's own files are changed.
    pub fn lock(&self, disk: &dyn Disk) -> Result<Box<dyn Lock>, StoreError> {
        lock::take(disk, &self.locks().join("shop.lock"), &self.root)
    }
}
