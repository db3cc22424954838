//! Which parts the jobs of a shop fitted where: by machine, position, part or lot.
//!
//! Of a released job its signed record says so, of an open one its journal. Whether a record is good
//! is `verify`'s matter; the caller asks it where an answer hangs on the record.

use super::open::OpenShop;
use crate::ids::{JobId, Moment};
use crate::record::completion::{Fitted, Record, fitted_of};
use crate::record::release::RECORD_LEN_BYTES_MAX;
use crate::store::{InnerPath, StoreError};
use crate::walk::Event;

/// What is asked for; every one that is given must fit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// The machine, by its tag or its serial number.
    pub machine: Option<String>,
    /// Positions such as `cylinder=3`, each of which must be among those of the part.
    pub at: Vec<String>,
    /// The part, by its name, its title or its number in the store.
    pub part: Option<String>,
    /// The lot, letter for letter.
    pub lot: Option<String>,
}

impl Wanted {
    fn fits(&self, (tag, serial): (&str, &str), part: &Fitted) -> bool {
        let is = |wanted: &Option<String>, known: &[Option<&str>]| {
            wanted.as_deref().is_none_or(|wanted| known.contains(&Some(wanted)))
        };
        is(&self.machine, &[Some(tag), Some(serial)])
            && is(&self.part, &[Some(&part.part), Some(&part.title), part.number.as_deref()])
            && is(&self.lot, &[part.lot.as_deref()])
            && self.at.iter().all(|at| part.position.split(',').any(|one| one == at))
    }
}

/// A part as a job of the shop fitted it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartOfJob {
    /// The job.
    pub job: JobId,
    /// The machine's tag.
    pub machine: String,
    /// Its serial number.
    pub serial: String,
    /// When it was entered.
    pub at: Option<Moment>,
    /// True when the job is released and its record says so; else its journal does.
    pub is_released: bool,
    /// The part.
    pub part: Fitted,
}

/// What was found in all jobs of a shop.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FoundParts {
    /// The parts, by job and then as the job fitted them.
    pub parts: Vec<PartOfJob>,
    /// How many jobs were looked into.
    pub n_jobs: usize,
    /// Jobs that could not be read, with the reason. They may hold such a part or not.
    pub unread: Vec<(JobId, String)>,
}

impl OpenShop {
    /// The parts that the jobs of this shop fitted and that are wanted.
    ///
    /// # Errors
    /// The list of jobs cannot be read.
    pub fn fitted(&self, wanted: &Wanted) -> Result<FoundParts, StoreError> {
        let mut found = FoundParts::default();
        for job in self.folder.job_ids(self.disk().as_ref())? {
            found.n_jobs += 1;
            match self.fitted_in(&job) {
                Ok(parts) => found.parts.extend(parts.into_iter().filter(|part| {
                    wanted.fits((part.machine.as_str(), part.serial.as_str()), &part.part)
                })),
                Err(why) => found.unread.push((job, why)),
            }
        }
        Ok(found)
    }

    fn fitted_in(&self, job: &JobId) -> Result<Vec<PartOfJob>, String> {
        let (folder, disk) = (self.folder.job(job), self.disk().as_ref());
        let scan = folder.read_journal(disk).map_err(|error| error.to_string())?;
        let first = scan.lines.first().map(|line| &line.entry.event);
        let Some(Event::JobOpened(opened)) = first else {
            return Err("it was never opened; its folder can be removed".to_owned());
        };
        let last = scan.lines.last().map(|line| &line.entry.event);
        let is_released = matches!(last, Some(Event::Released { .. }));
        let parts = if is_released {
            let path = InnerPath::new("record.json").map_err(|error| error.to_string())?;
            let bytes = folder.read(disk, &path, RECORD_LEN_BYTES_MAX as u64);
            Record::parse(&bytes.map_err(|e| e.to_string())?).map_err(|e| e.to_string())?.fitted
        } else {
            let (files, state) =
                self.look(&folder).ok_or("its files cannot be read; opening the job says why")?;
            fitted_of(&files, &state)
        };
        let of = |part: Fitted| PartOfJob {
            job: job.clone(),
            machine: opened.machine.clone(),
            serial: opened.serial.clone(),
            at: scan.lines.iter().find(|line| line.entry.n == part.n).map(|line| line.entry.at),
            is_released,
            part,
        };
        Ok(parts.into_iter().map(of).collect())
    }
}
