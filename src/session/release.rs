//! Releases a job, step by step in the order that trust needs, and finishes what a power cut left.
//!
//! Until the `released` entry is saved the job is complete and unsigned, whatever lies in its folder;
//! everything before that entry can be done again. What comes after it is readable copies and sums,
//! which carry no trust and are simply written anew.

use std::collections::BTreeMap;

use super::{Session, SubmitError};
use crate::ids::{Moment, PersonId, Sha256};
use crate::ports::{DiskError, DiskFault, Overwrite, SignError, Signer};
use crate::record::completion::{self, Record, RecordFault};
use crate::record::recipe;
use crate::record::release::{
    RECORD_LEN_BYTES_MAX, Release, ReleaseExpected, ReleaseFault, check_release,
};
use crate::record::report::photos::PHOTO_LEN_BYTES_MAX;
use crate::record::report::{self, ReportFault};
use crate::record::sshsig::ARMOUR_LEN_BYTES_MAX;
use crate::record::{Namespace, StatementFault};
use crate::store::{InnerPath, StoreError, sums};
use crate::walk::exceptions;
use crate::walk::{Command, Refusal};

/// The largest file below `files/` or `evidence/` that is hashed.
const FILE_LEN_BYTES_MAX: u64 = 1 << 30;

/// What was released.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleaseDone {
    /// Who released.
    pub signer: PersonId,
    /// The hash of `record.json`.
    pub record: Sha256,
    /// The hash of `record.json.sig`.
    pub signature: Sha256,
    /// What had to be cleared away before, said to the person.
    pub discarded: Option<String>,
}

/// What was found of an earlier release when a job was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Finished {
    /// Nothing was to be done.
    Nothing,
    /// A good signature over the journal as it stands: the release was completed.
    Completed(ReleaseDone),
    /// The job was released; its readable copies and sums were missing and are written now.
    Closed,
    /// A record or signature that does not count was removed. The sentence says which and why.
    Discarded(String),
}

impl Finished {
    /// What to tell the person; `None` when nothing was to be done.
    pub fn text(&self) -> Option<String> {
        match self {
            Self::Nothing => None,
            Self::Closed => Some(
                "The job was released already; its report and list of hashes are written now."
                    .to_owned(),
            ),
            Self::Completed(done) => Some(format!(
                "The release by {} was cut short after the signature; it is complete now.",
                done.signer
            )),
            Self::Discarded(why) => Some(why.clone()),
        }
    }
}

/// Why a job was not released. Up to and with [`ReleaseError::Submit`] it is complete and unsigned.
#[derive(Debug, thiserror::Error)]
pub enum ReleaseError {
    /// A rule.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The releaser has not identified.
    #[error(
        "{person} is not the one at work on this job; identify as {person} first, then release"
    )]
    NotAtWork {
        /// Who wants to release.
        person: PersonId,
    },
    /// An entry was refused or not saved.
    #[error(transparent)]
    Submit(#[from] SubmitError),
    /// A file of the job is not the one that it was opened with.
    #[error("`files/{0}` is not the file that the job was opened with; restore it, then release")]
    FileChanged(String),
    /// The disk.
    #[error("the record was not saved and the job is not released: {0}")]
    Store(#[from] StoreError),
    /// No signature was made.
    #[error("the job is not released: {0}")]
    NotSigned(#[from] SignError),
    /// What came back from the disk does not verify.
    #[error("what was saved does not verify, and the job is not released: {0}; try again")]
    NotGood(Unusable),
    /// The job is released, and its folder is not closed.
    #[error(
        "the job is released and its signature is good, but the folder is not closed yet: {0}; \
         open the job once more to close it"
    )]
    NotClosed(StoreError),
    /// The report could not be made; a fault of the program.
    #[error("the job is released and its signature is good, but the report was not made: {0}")]
    Report(#[from] ReportFault),
}

/// Why a record and a signature in the folder are no release of the job as it stands.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unusable {
    /// A signature without a record.
    #[error("there is a signature and no record")]
    NoRecord,
    /// A record without a signature.
    #[error("the record is not signed")]
    NoSignature,
    /// Not a record.
    #[error(transparent)]
    Record(#[from] RecordFault),
    /// Its release is none.
    #[error(transparent)]
    Release(#[from] ReleaseFault),
    /// A signature that is not text.
    #[error("the signature is not text")]
    NotText,
    /// The record of other entries.
    #[error("the record is not the one that the journal gives as it stands now")]
    OtherRecord,
    /// The releaser is not the person at work.
    #[error("{0} signed it and is not the one at work any more")]
    OtherPerson(PersonId),
    /// The exceptions were not looked at just before.
    #[error("the list to look at was not acknowledged just before it")]
    NotAcknowledged,
    /// The statement or signature does not hold.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Statement(Vec<StatementFault>),
}

/// A record with a signature that was verified against the bytes on the disk.
struct Good {
    signer: PersonId,
    /// The time that the signature claims.
    at: Moment,
    record: Vec<u8>,
    signature: Vec<u8>,
}

impl Session {
    /// Releases the job in the name of `person`, who has looked at `shown`, the list of exceptions.
    ///
    /// Can be called again after any error; a step that is done is not doubled.
    ///
    /// # Errors
    /// The first step that was not done.
    pub fn release(
        &mut self,
        person: &PersonId,
        signer: &dyn Signer,
        shown: &[String],
    ) -> Result<ReleaseDone, ReleaseError> {
        if self.state.released.is_some() {
            return Err(Refusal::JobReleased.into());
        }
        if let Some(block) = self.blocks().into_iter().next() {
            return Err(Refusal::NotReady(block).into());
        }
        if self.state.person.as_ref() != Some(person) {
            return Err(ReleaseError::NotAtWork { person: person.clone() });
        }
        self.mend()?;
        let discarded = match self.finish_release()? {
            Finished::Completed(done) => return Ok(done),
            Finished::Discarded(said) => Some(said),
            Finished::Nothing | Finished::Closed => None,
        };
        self.acknowledge(shown)?;
        let written = self.write_signed(person, signer);
        let good = match written {
            Ok(good) => good,
            Err(error) => {
                // The error that counts is the first; what stays behind is discarded next time.
                drop(self.discard());
                return Err(error);
            }
        };
        Ok(ReleaseDone { discarded, ..self.complete(good)? })
    }

    /// Finishes or clears away what a release left that was cut short. To be called when a job is
    /// opened, before anything else.
    ///
    /// # Errors
    /// The disk, or a rule that keeps a good signature from being completed now.
    pub fn finish_release(&mut self) -> Result<Finished, ReleaseError> {
        if self.state.released.is_some() {
            // The sums are written last of all, so with them everything is there.
            let is_written = self.disk.exists(&self.folder.sums()).map_err(StoreError::from)?;
            if is_written {
                self.folder.freeze(self.disk.as_ref()).map_err(ReleaseError::NotClosed)?;
                return Ok(Finished::Nothing);
            }
            self.close()?;
            return Ok(Finished::Closed);
        }
        match self.stored()? {
            None => Ok(Finished::Nothing),
            Some(Ok(good)) => {
                self.mend()?;
                Ok(Finished::Completed(self.complete(good)?))
            }
            Some(Err(why)) => {
                self.discard()?;
                Ok(Finished::Discarded(format!(
                    "An earlier attempt to release the job was discarded: {why}. The job is not \
                     released; when it is ready, release it again."
                )))
            }
        }
    }

    /// Makes the journal writable again after a save that failed. The move itself is made anew.
    fn mend(&mut self) -> Result<(), ReleaseError> {
        self.writer.retry()?;
        self.unsaved = None;
        Ok(())
    }

    /// True when the last entry is the acknowledgement of the exceptions as they are, by the person
    /// at work.
    fn is_acknowledged(&self) -> bool {
        let Some((n, by, seen)) = &self.state.exceptions_seen else { return false };
        n.saturating_add(1) == self.state.n_entries
            && Some(by) == self.state.person.as_ref()
            && *seen == exceptions::list(&self.files, &self.state)
    }

    fn acknowledge(&mut self, shown: &[String]) -> Result<(), ReleaseError> {
        self.settle_clock()?;
        if !self.is_acknowledged() {
            let shown = shown.to_vec();
            self.submit(Command::AcknowledgeExceptions { shown })?;
        } else if shown != exceptions::list(&self.files, &self.state) {
            return Err(Refusal::ExceptionsChanged.into());
        }
        // A clock that went back since would be an entry after the acknowledgement.
        self.settle_clock()?;
        if self.is_acknowledged() { Ok(()) } else { Err(Refusal::ExceptionsChanged.into()) }
    }

    /// Writes the record, has it signed, writes the signature, reads both back and verifies them.
    fn write_signed(&self, person: &PersonId, signer: &dyn Signer) -> Result<Good, ReleaseError> {
        let release = Release {
            job: self.job.clone(),
            head_n: self.state.n_entries.saturating_sub(1),
            head: self.writer.head(),
            signer: person.clone(),
            role: self.files.flow.signed_by,
            at: self.clock.now(),
        };
        let record = self.record(&release)?.into_bytes();
        self.write(&self.folder.record(), &record, Overwrite::Never)?;
        let signature = signer.sign(Namespace::Release.text(), &record)?;
        self.write(&self.folder.record_signature(), signature.as_bytes(), Overwrite::Never)?;
        match self.stored()? {
            Some(Ok(good)) if good.record == record => Ok(good),
            Some(Ok(_)) => Err(ReleaseError::NotGood(Unusable::OtherRecord)),
            Some(Err(why)) => Err(ReleaseError::NotGood(why)),
            None => Err(ReleaseError::NotGood(Unusable::NoRecord)),
        }
    }

    fn write(
        &self,
        path: &std::path::Path,
        bytes: &[u8],
        overwrite: Overwrite,
    ) -> Result<(), StoreError> {
        Ok(self.disk.write_new(path, bytes, overwrite)?)
    }

    /// The record of the job as it stands, with this release.
    fn record(&self, release: &Release) -> Result<String, ReleaseError> {
        let manifest = self.manifest()?;
        for (name, hash) in &self.state.opened.files {
            if manifest.get(&format!("files/{name}")) != Some(hash) {
                return Err(ReleaseError::FileChanged(name.clone()));
            }
        }
        Ok(completion::encode(&self.files, &self.state, &self.entries, &manifest, release))
    }

    /// The hash of every file below `files/` and `evidence/`.
    fn manifest(&self) -> Result<BTreeMap<String, Sha256>, StoreError> {
        let mut manifest = BTreeMap::new();
        for path in self.folder.list(self.disk.as_ref())? {
            if completion::is_in_manifest(path.as_str()) {
                let bytes = self.folder.read(self.disk.as_ref(), &path, FILE_LEN_BYTES_MAX)?;
                manifest.insert(path.as_str().to_owned(), Sha256::of(&bytes));
            }
        }
        Ok(manifest)
    }

    /// The photos and files of the job by their SHA-256, those that a page can hold.
    fn photos(&self) -> Result<BTreeMap<String, Vec<u8>>, StoreError> {
        let mut photos = BTreeMap::new();
        for path in self.folder.list(self.disk.as_ref())? {
            let Some(hash) = path.as_str().strip_prefix("evidence/") else { continue };
            match self.folder.read(self.disk.as_ref(), &path, PHOTO_LEN_BYTES_MAX as u64) {
                Ok(bytes) => drop(photos.insert(hash.to_owned(), bytes)),
                Err(StoreError::Disk(DiskError { fault: DiskFault::TooLarge, .. })) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(photos)
    }

    fn read_if_there(&self, name: &str, max: usize) -> Result<Option<Vec<u8>>, StoreError> {
        match self.folder.read(self.disk.as_ref(), &InnerPath::new(name)?, max as u64) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(StoreError::Disk(DiskError { fault: DiskFault::NotThere, .. })) => Ok(None),
            // More than any record or signature: certainly neither.
            Err(StoreError::Disk(DiskError { fault: DiskFault::TooLarge, .. })) => {
                Ok(Some(Vec::new()))
            }
            Err(error) => Err(error),
        }
    }

    /// The record and the signature as they lie on the disk, judged against the journal as it
    /// stands; `None` when there is neither.
    fn stored(&self) -> Result<Option<Result<Good, Unusable>>, ReleaseError> {
        let record = self.read_if_there("record.json", RECORD_LEN_BYTES_MAX)?;
        let signature = self.read_if_there("record.json.sig", ARMOUR_LEN_BYTES_MAX)?;
        match (record, signature) {
            (None, None) => Ok(None),
            (None, Some(_)) => Ok(Some(Err(Unusable::NoRecord))),
            (Some(_), None) => Ok(Some(Err(Unusable::NoSignature))),
            (Some(record), Some(signature)) => self.judge(record, signature).map(Some),
        }
    }

    fn judge(
        &self,
        record: Vec<u8>,
        signature: Vec<u8>,
    ) -> Result<Result<Good, Unusable>, ReleaseError> {
        let release = match release_of(&record) {
            Ok(release) => release,
            Err(why) => return Ok(Err(why)),
        };
        let Ok(armour) = std::str::from_utf8(&signature) else {
            return Ok(Err(Unusable::NotText));
        };
        let expected = ReleaseExpected {
            job: &self.job,
            head_n: self.state.n_entries.saturating_sub(1),
            head: self.writer.head(),
            not_before: Some(self.state.last_at),
            not_after: Some(self.clock.now()),
        };
        let checked = check_release(&release, &self.files.shop, &expected, &record, armour);
        if let Err(faults) = checked {
            return Ok(Err(Unusable::Statement(faults)));
        }
        if self.state.person.as_ref() != Some(&release.signer) {
            return Ok(Err(Unusable::OtherPerson(release.signer)));
        }
        if !self.is_acknowledged() {
            return Ok(Err(Unusable::NotAcknowledged));
        }
        if self.record(&release)?.as_bytes() != record.as_slice() {
            return Ok(Err(Unusable::OtherRecord));
        }
        Ok(Ok(Good { signer: release.signer, at: release.at, record, signature }))
    }

    /// Removes what lies there of a record that does not count.
    fn discard(&self) -> Result<(), ReleaseError> {
        for path in [self.folder.record_signature(), self.folder.record()] {
            match self.disk.remove(&path) {
                Err(error) if error.fault != DiskFault::NotThere => {
                    return Err(StoreError::from(error).into());
                }
                _ => {}
            }
        }
        Ok(self.disk.sync_dir(self.folder.root()).map_err(StoreError::from)?)
    }

    /// Saves the `released` entry and closes the folder.
    fn complete(&mut self, good: Good) -> Result<ReleaseDone, ReleaseError> {
        // Only the last step of a save can have failed and still have left both names; they are
        // lasting before the journal speaks of them.
        self.disk.sync_dir(self.folder.root()).map_err(StoreError::from)?;
        let (record, signature) = (Sha256::of(&good.record), Sha256::of(&good.signature));
        // Nothing signs the last entry, so it says nothing of its own: its time is the signed one,
        // also where the release was cut short and is completed days later.
        let command = Command::MarkReleased { record, signature };
        self.enter(&command, good.at.into())?;
        self.close()?;
        Ok(ReleaseDone { signer: good.signer, record, signature, discarded: None })
    }

    /// Writes the readable copies and the sums, and freezes the folder.
    fn close(&self) -> Result<(), ReleaseError> {
        let record = self
            .read_if_there("record.json", RECORD_LEN_BYTES_MAX)
            .map_err(ReleaseError::NotClosed)?
            .unwrap_or_default();
        let photos = self.photos().map_err(ReleaseError::NotClosed)?;
        let page = report::render_with(&record, &photos)?;
        let recipe = recipe(&self.job);
        let written = self
            .write(&self.folder.report(), page.as_bytes(), Overwrite::Replace)
            .and_then(|()| self.write(&self.folder.recipe(), recipe.as_bytes(), Overwrite::Replace))
            .and_then(|()| sums::write_sums(self.disk.as_ref(), &self.folder))
            .and_then(|()| self.folder.freeze(self.disk.as_ref()));
        written.map_err(ReleaseError::NotClosed)
    }
}

fn release_of(record: &[u8]) -> Result<Release, Unusable> {
    Ok(Release::try_from(&Record::parse(record)?.release)?)
}
