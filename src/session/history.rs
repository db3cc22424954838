//! What the shop's folder holds of earlier jobs: those of one machine with their readings, and those
//! that are open. Reads journals only; takes no lock and mends nothing.

use std::collections::{BTreeMap, BTreeSet};

use super::Session;
use super::open::OpenShop;
use crate::ids::{JobId, Moment, PersonId, ProcedureId};
use crate::ports::Disk;
use crate::record::completion::Record;
use crate::store::{JobFolder, ShopFolder, StoreError};
use crate::units::Reading;
use crate::walk::event::Next;
use crate::walk::{Address, Answer, Entry, Event, Files, JobState, open, replay};

/// The largest record that is looked at.
const RECORD_LEN_BYTES_MAX: u64 = 64 << 20;

/// A job of the machine, as its journal has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastJob {
    /// The job.
    pub job: JobId,
    /// The procedure.
    pub procedure: ProcedureId,
    /// When it was opened.
    pub opened_at: Moment,
    /// When it was released; `None` while it is open.
    pub released_at: Option<Moment>,
    /// The readings that count, by step, with the moment of their entry.
    pub readings: BTreeMap<Address, (Moment, Reading)>,
}

/// The history of a machine.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct History {
    /// Its jobs, oldest first, the one on the screen among them.
    pub jobs: Vec<PastJob>,
    /// Jobs whose journal cannot be read, with the reason. They may be of this machine or not.
    pub damaged: Vec<(JobId, String)>,
}

/// An open job, as far as its last entries tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenJob {
    /// The job.
    pub job: JobId,
    /// How it stands; why its journal cannot be read, where that is so.
    pub stands: Result<OpenJobLine, String>,
}

/// What a glance at a journal tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Glance {
    /// It is open, and stands so.
    Open(OpenJob),
    /// It is released.
    Released,
    /// The whole journal has to be read.
    Unclear,
}

/// What a list shows of an open job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenJobLine {
    /// The machine's tag.
    pub machine: String,
    /// The procedure.
    pub procedure: ProcedureId,
    /// The step that was asked when the last answer was given.
    pub next: Option<Next>,
    /// Who made the last entry.
    pub left_by: Option<PersonId>,
    /// When.
    pub left_at: Moment,
    /// The number of entries.
    pub n_entries: usize,
}

/// The reading of an answer.
fn reading(answer: &Answer) -> Option<&Reading> {
    match answer {
        Answer::Read { reading, .. } => Some(reading),
        _ => None,
    }
}

fn past(job: JobId, entries: &[Entry], machine: (&str, &str)) -> Option<PastJob> {
    let first = entries.first()?;
    let Event::JobOpened(opened) = &first.event else { return None };
    if (opened.machine.as_str(), opened.serial.as_str()) != machine {
        return None;
    }
    let mut past = PastJob {
        job,
        procedure: opened.procedure.clone(),
        opened_at: first.at,
        released_at: None,
        readings: BTreeMap::new(),
    };
    for entry in entries {
        match &entry.event {
            Event::Answered { address, answer, .. } | Event::Corrected { address, answer, .. } => {
                if let Some(found) = reading(answer) {
                    past.readings.insert(address.clone(), (entry.at, found.clone()));
                } else {
                    past.readings.remove(address);
                }
            }
            Event::Released { .. } => past.released_at = Some(entry.at),
            _ => {}
        }
    }
    Some(past)
}

/// The steps of a released job, by address; `None` where its record cannot be read: `verify` tells why.
fn record_steps(disk: &dyn Disk, job: &JobFolder) -> Option<BTreeSet<String>> {
    let bytes = disk.read(&job.record(), RECORD_LEN_BYTES_MAX).ok()?;
    let record = Record::parse(&bytes).ok()?;
    Some(record.steps.into_iter().map(|step| step.address).collect())
}

impl Session {
    /// True where the answer to a step counts now and may be seen: the first of two independent readings
    /// is kept from whoever takes the second.
    fn counts(&self, address: &Address) -> bool {
        let (flow, walk) = (&self.files.flow, &self.state.walk);
        let index = flow.find(address).filter(|index| walk.path.contains(index));
        index.is_some_and(|index| walk.sealed(flow) != Some(index))
    }

    /// The jobs of this machine in this shop's folder.
    ///
    /// # Errors
    /// The list of jobs cannot be read.
    pub fn history(&self) -> Result<History, StoreError> {
        let Some(root) = self.folder.shop() else { return Ok(History::default()) };
        let (shop, disk) = (ShopFolder::at(root), self.disk.as_ref());
        let opened = &self.state.opened;
        let machine = (opened.machine.as_str(), opened.serial.as_str());
        let mut history = History::default();
        for id in shop.job_ids(disk)? {
            match shop.job(&id).read_journal(disk) {
                Ok(scan) => {
                    let entries: Vec<Entry> = scan.entries().cloned().collect();
                    let Some(mut past) = past(id, &entries, machine) else { continue };
                    if past.job == self.job {
                        past.readings.retain(|address, _| self.counts(address));
                    } else if past.released_at.is_some() {
                        // What was set aside and never asked again stands in no record.
                        let job = shop.job(&past.job);
                        let visited = record_steps(disk, &job);
                        past.readings.retain(|at, _| {
                            visited.as_ref().is_none_or(|v| v.contains(&at.to_string()))
                        });
                    }
                    history.jobs.push(past);
                }
                Err(error) => history.damaged.push((id, error.to_string())),
            }
        }
        Ok(history)
    }
}

impl OpenShop {
    /// The jobs without a signed record, newest first. Only names are looked at.
    ///
    /// # Errors
    /// The list of jobs cannot be read.
    pub fn jobs_without_record(&self) -> Result<Vec<JobId>, StoreError> {
        let disk = self.disk().as_ref();
        let mut ids = self.folder.job_ids(disk)?;
        ids.retain(|id| {
            // Of a folder that cannot be looked at, the job is better shown than hidden.
            !disk.exists(&self.folder.job(id).record_signature()).unwrap_or(false)
        });
        ids.reverse();
        Ok(ids)
    }

    /// How the open job `id` stands, by its journal alone; `None` once it is released.
    pub fn open_job(&self, id: &JobId) -> Option<OpenJob> {
        let disk = self.disk().as_ref();
        let stands = match self.folder.job(id).read_journal(disk) {
            Err(error) => Err(error.to_string()),
            Ok(scan) => {
                let first = scan.lines.first().map(|line| &line.entry.event);
                let last = scan.lines.last().map(|line| &line.entry);
                match (first, last) {
                    (Some(Event::JobOpened(opened)), Some(last)) => {
                        if matches!(last.event, Event::Released { .. }) {
                            return None;
                        }
                        let judged = scan.entries().filter_map(|entry| entry.event.judged()).last();
                        Ok(OpenJobLine {
                            machine: opened.machine.clone(),
                            procedure: opened.procedure.clone(),
                            next: judged.map(|judged| judged.next.clone()),
                            left_by: last.by.clone(),
                            left_at: last.at,
                            n_entries: scan.lines.len(),
                        })
                    }
                    _ => Err("it was never opened; its folder can be removed".to_owned()),
                }
            }
        };
        Some(OpenJob { job: id.clone(), stands })
    }

    /// How the job `id` stands by the ends of its journal, which are read in no time; `Unclear` where
    /// the whole of it has to be read. Damage in between is not seen: [`OpenShop::open_job`] sees it.
    pub fn glance(&self, id: &JobId) -> Glance {
        let disk = self.disk().as_ref();
        let judges = |entry: &Entry| entry.event.judged().is_some();
        let Ok(Some(ends)) = self.folder.job(id).journal_ends(disk, judges) else {
            return Glance::Unclear;
        };
        let (Event::JobOpened(opened), Some(last)) = (&ends.first.event, ends.last.first()) else {
            return Glance::Unclear;
        };
        if matches!(last.event, Event::Released { .. }) {
            return Glance::Released;
        }
        let line = OpenJobLine {
            machine: opened.machine.clone(),
            procedure: opened.procedure.clone(),
            next: ends.last.iter().find_map(|entry| Some(entry.event.judged()?.next.clone())),
            left_by: last.by.clone(),
            left_at: last.at,
            n_entries: ends.n_lines,
        };
        Glance::Open(OpenJob { job: id.clone(), stands: Ok(line) })
    }

    /// What is open on the job `id`, by its files and its journal: the step, then what is left of it.
    /// `None` where they cannot be read; opening the job then says why.
    pub fn what_is_open(&self, id: &JobId) -> Option<open::Open> {
        let (files, state) = self.look(&self.folder.job(id))?;
        Some(open::open(&files.flow, &state))
    }

    /// The files of a job and what its entries come to; `None` where they cannot be read.
    pub(super) fn look(&self, folder: &JobFolder) -> Option<(Files, JobState)> {
        let disk: &dyn Disk = self.disk().as_ref();
        let entries: Vec<Entry> =
            folder.read_journal(disk).ok()?.lines.into_iter().map(|line| line.entry).collect();
        let Some(Event::JobOpened(opened)) = entries.first().map(|entry| &entry.event) else {
            return None;
        };
        let bytes = super::open::job_file_bytes(disk, folder, opened).ok()?;
        let loaded =
            crate::record::files::load(&bytes, &opened.procedure, &opened.equipment).ok()?;
        let state = replay(&loaded.files.flow, &entries)?;
        Some((loaded.files, state))
    }
}
