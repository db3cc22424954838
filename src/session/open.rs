//! Opens a job: a new one from the shop's approved files, or one that was begun.

use std::collections::BTreeMap;
use std::rc::Rc;

use chrono::Datelike as _;

use super::{Session, SubmitError};
use crate::ids::{EquipmentId, JobId, ProcedureId, Sha256};
use crate::ports::{Clock, Disk, DiskFault};
use crate::prove::prove;
use crate::record::approvals::{FileKind, LIST_LEN_BYTES_MAX, ListFault, check_list};
use crate::record::files::{
    APPROVALS, APPROVALS_SIGNATURE, FilesFault, JobFiles, SHOP, SHOP_SIGNATURE, equipment_name,
    load, procedure_name,
};
use crate::record::roster::{ROSTER_LEN_BYTES_MAX, RosterFault};
use crate::record::sshsig::ARMOUR_LEN_BYTES_MAX;
use crate::record::{
    ApprovalFault, Approvals, KeyFault, PublicKey, check_closure, check_people, check_roster,
    not_effective,
};
use crate::shop::model::Machine;
use crate::store::{InnerPath, JobFolder, JournalWriter, ShopFolder, StoreError};
use crate::walk::event::{JobOpened, SEMANTICS, SEMANTICS_KNOWN};
use crate::walk::{Entry, Event, Flow, JobState, Refusal, replay};

/// The largest procedure or equipment file.
const FILE_LEN_BYTES_MAX: u64 = 1 << 20;
/// The largest signature or key file.
const SMALL_LEN_BYTES_MAX: u64 = 64 << 10;

/// Why a job was not opened. No half-made job is left that could be worked on.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The disk or the journal.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The shop's public key cannot be read.
    #[error("`trust`, the shop's public key, cannot be read: {0}; restore it")]
    Trust(KeyFault),
    /// A text file is not text.
    #[error("`{0}` is not UTF-8 text; restore it")]
    NotText(String),
    /// The roster does not hold.
    #[error("the list of authorised people does not hold: {0}")]
    Roster(RosterFault),
    /// The list of approvals does not hold.
    #[error("the list of approvals does not hold: {0}")]
    Approvals(ListFault),
    /// A file is not approved as it stands.
    #[error("not every file is approved as it stands: {}", join(.0))]
    NotApproved(Vec<ApprovalFault>),
    /// The list of approvals is an older one, or another.
    #[error(
        "the list of approvals is older than job {0}, which was opened with a longer one or \
         another: with it, superseded revisions would count again. Restore `approvals.jsonl` and \
         its signature as they last were"
    )]
    ListRolledBack(JobId),
    /// The files do not fit together.
    #[error(transparent)]
    Files(#[from] FilesFault),
    /// A promise of the procedure breaks.
    #[error("what the procedure promises does not hold: {}", .0.join("; "))]
    Broken(Vec<String>),
    /// The machine is not on the shop's list.
    #[error("there is no machine `{tag}` on the shop's list; it has {known}")]
    NoMachine {
        /// What was asked for.
        tag: String,
        /// Those there are.
        known: String,
    },
    /// The equipment file is for machines with other serial numbers.
    #[error(
        "`{equipment}` is for the serial numbers {from} to {to}, and `{tag}` has {serial}; look at the plate, and at the machine's line in `shop.yaml`"
    )]
    OtherSerials {
        /// The equipment file.
        equipment: EquipmentId,
        /// The first serial number that it is for.
        from: String,
        /// The last.
        to: String,
        /// The machine.
        tag: String,
        /// Its serial number.
        serial: String,
    },
    /// The person may not open a job.
    #[error(transparent)]
    Person(#[from] Refusal),
    /// The job's first entry is not that of a job.
    #[error("the journal of job {0} does not begin with the opening of a job; restore the folder")]
    NotAJob(JobId),
    /// The job was walked by other rules.
    #[error(
        "job {job} was made under rules {found} of the walk, and this program knows those up to {SEMANTICS}; use the program that made it"
    )]
    OtherRules {
        /// The job.
        job: JobId,
        /// Its rules.
        found: u32,
    },
    /// A file of the job is not the one that it was opened with.
    #[error("`files/{0}` is not the file that the job was opened with; restore it before going on")]
    FileChanged(String),
    /// The job is released and its folder closed.
    #[error("job {0} is released and closed; look at its `report.html`, or check it with `verify`")]
    Released(JobId),
    /// Saving the first entries.
    #[error(transparent)]
    Submit(#[from] SubmitError),
}

fn join(faults: &[ApprovalFault]) -> String {
    faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// A shop whose roster and list of approvals are signed by its key.
#[derive(Debug)]
pub struct OpenShop {
    /// Where it lies.
    pub folder: ShopFolder,
    /// The shop's public key.
    pub trust: PublicKey,
    /// Its approvals.
    pub approvals: Approvals,
    disk: Rc<dyn Disk>,
    clock: Rc<dyn Clock>,
    bytes: BTreeMap<String, Vec<u8>>,
    shop: crate::shop::model::Shop,
}

impl OpenShop {
    /// Reads the shop's own files and checks its key's signatures over them.
    ///
    /// # Errors
    /// Any of them missing or not as signed.
    pub fn load(
        disk: &Rc<dyn Disk>,
        clock: &Rc<dyn Clock>,
        folder: ShopFolder,
    ) -> Result<Self, OpenError> {
        let read = |path: &std::path::Path, max| {
            disk.read(path, max).map_err(|e| OpenError::Store(e.into()))
        };
        let trust_text = text("trust", read(&folder.trust(), SMALL_LEN_BYTES_MAX)?)?;
        let trust = PublicKey::parse(trust_text.trim()).map_err(OpenError::Trust)?;
        let shop_bytes = read(&folder.shop_file(), ROSTER_LEN_BYTES_MAX as u64)?;
        let shop_sig = read(&folder.shop_signature(), SMALL_LEN_BYTES_MAX)?;
        let list_bytes = read(&folder.approvals(), LIST_LEN_BYTES_MAX as u64)?;
        let list_sig = read(&folder.approvals_signature(), SMALL_LEN_BYTES_MAX)?;
        check_roster(&shop_bytes, &text(SHOP_SIGNATURE, shop_sig.clone())?, &trust)
            .map_err(OpenError::Roster)?;
        check_list(&list_bytes, &text(APPROVALS_SIGNATURE, list_sig.clone())?, &trust)
            .map_err(OpenError::Approvals)?;
        let approvals = Approvals::scan(&list_bytes).map_err(OpenError::Approvals)?;
        let mut sources = crate::source::Sources::default();
        let source = crate::source::Source::new(SHOP, text(SHOP, shop_bytes.clone())?);
        let id = sources.add(source.clone());
        let (shop, diagnostics) = crate::shop::read(id, &source);
        let Some(shop) = shop else {
            let shown = crate::diag::render::terminal(&diagnostics, &sources, false);
            return Err(FilesFault::Mistakes(shown).into());
        };
        if let Some(fault) = check_people(&shop, &trust).into_iter().next() {
            return Err(OpenError::Roster(fault));
        }
        let bytes = BTreeMap::from([
            (SHOP.to_owned(), shop_bytes),
            (SHOP_SIGNATURE.to_owned(), shop_sig),
            (APPROVALS.to_owned(), list_bytes),
            (APPROVALS_SIGNATURE.to_owned(), list_sig),
        ]);
        let (disk, clock) = (Rc::clone(disk), Rc::clone(clock));
        Ok(Self { folder, trust, approvals, disk, clock, bytes, shop })
    }

    /// The shop file.
    pub fn shop(&self) -> &crate::shop::model::Shop {
        &self.shop
    }

    /// The disk.
    pub fn disk(&self) -> &Rc<dyn Disk> {
        &self.disk
    }

    /// The clock.
    pub fn clock(&self) -> &Rc<dyn Clock> {
        &self.clock
    }

    /// The procedures that the list of approvals names, in order.
    pub fn approved_procedures(&self) -> Vec<ProcedureId> {
        let files = self.approvals.0.iter().map(|approval| &approval.statement.file);
        let mut ids: Vec<ProcedureId> = files
            .filter(|file| file.of == FileKind::Procedure)
            .filter_map(|file| ProcedureId::new(file.id.as_str()).ok())
            .collect();
        ids.sort();
        ids.dedup();
        ids
    }

    /// The machine with this tag.
    ///
    /// # Errors
    /// Not on the list.
    pub fn machine(&self, tag: &str) -> Result<&Machine, OpenError> {
        self.shop.machines.iter().find(|m| m.tag == tag).ok_or_else(|| OpenError::NoMachine {
            tag: tag.to_owned(),
            known: self.shop.machines.iter().map(|m| m.tag.as_str()).collect::<Vec<_>>().join(", "),
        })
    }

    /// Reads the shop's files for a job of `procedure` on `equipment`, without asking whether they
    /// are approved. The second half are the bytes by their name below `files/`.
    ///
    /// # Errors
    /// A missing file, or every mistake.
    pub fn files(
        &self,
        procedure: &ProcedureId,
        equipment: &EquipmentId,
    ) -> Result<(JobFiles, BTreeMap<String, Vec<u8>>), OpenError> {
        let mut bytes = self.bytes.clone();
        let path = self.folder.equipment().join(format!("{equipment}.yaml"));
        bytes.insert(
            equipment_name(equipment),
            self.disk.read(&path, FILE_LEN_BYTES_MAX).map_err(StoreError::from)?,
        );
        // The closure is found by reading: each file names those that it performs.
        let mut todo = vec![procedure.clone()];
        while let Some(id) = todo.pop() {
            let name = procedure_name(&id);
            if bytes.contains_key(&name) {
                continue;
            }
            let path = self.folder.procedures().join(format!("{id}.yaml"));
            if id != *procedure && !self.disk.exists(&path).map_err(StoreError::from)? {
                continue;
            }
            let read = self.disk.read(&path, FILE_LEN_BYTES_MAX).map_err(StoreError::from)?;
            if let Ok(text) = std::str::from_utf8(&read) {
                let source = crate::source::Source::new(name.as_str(), text);
                let (found, _) = crate::procedure::read(crate::source::FileId(0), &source);
                if let Some(found) = found {
                    todo.extend(crate::walk::compile::performed(&found.steps));
                }
            }
            bytes.insert(name, read);
        }
        let files = load(&bytes, procedure, equipment)?;
        Ok((files, bytes))
    }

    /// Opens a new job of `procedure` on the machine `tag`. Nobody has identified on it yet.
    ///
    /// # Errors
    /// Files that are missing, wrong or not approved; a promise that breaks; an unknown machine; the
    /// disk.
    pub fn new_job(&self, procedure: &ProcedureId, tag: &str) -> Result<Session, OpenError> {
        self.job(procedure, tag, |flow| {
            let report = prove(flow);
            let broken: Vec<String> =
                report.broken().map(|(proven, _)| proven.text(flow)).collect();
            if broken.is_empty() { Ok(()) } else { Err(OpenError::Broken(broken)) }
        })
    }

    /// Opens a job to rehearse, in a shop that was made for that: what the procedure promises need not
    /// hold, so that the very answers that break a promise can be played.
    ///
    /// # Errors
    /// Files that are missing, wrong or not approved; an unknown machine; the disk.
    pub fn rehearsed_job(&self, procedure: &ProcedureId, tag: &str) -> Result<Session, OpenError> {
        self.job(procedure, tag, |_| Ok(()))
    }

    fn job(
        &self,
        procedure: &ProcedureId,
        tag: &str,
        holds: impl FnOnce(&Flow) -> Result<(), OpenError>,
    ) -> Result<Session, OpenError> {
        let machine = self.machine(tag)?.clone();
        let (files, mut bytes) = self.files(procedure, &machine.equipment)?;
        check_closure(&self.approvals, &self.shop, &files.in_hand)
            .map_err(OpenError::NotApproved)?;
        self.not_rolled_back()?;
        let now = self.clock.now();
        let early = not_effective(&files.in_hand, now.day());
        if !early.is_empty() {
            return Err(OpenError::NotApproved(early));
        }
        holds(&files.files.flow)?;
        let equipment = &files.files.flow.equipment;
        if let Some((from, to)) = &equipment.name_plate.serials
            && !equipment.is_for(&machine.serial)
        {
            return Err(OpenError::OtherSerials {
                equipment: machine.equipment,
                from: from.clone(),
                to: to.clone(),
                tag: machine.tag,
                serial: machine.serial,
            });
        }
        let previous_release = self.last_release()?;
        let (job, folder) = self.folder.create_job(self.disk.as_ref(), now.time().year())?;
        let mut hashes = BTreeMap::new();
        for (name, bytes) in std::mem::take(&mut bytes) {
            folder.add(self.disk.as_ref(), &InnerPath::new(format!("files/{name}"))?, &bytes)?;
            hashes.insert(name, Sha256::of(&bytes));
        }
        let opened = JobOpened {
            job: job.clone(),
            kind: self.shop.kind,
            semantics: SEMANTICS,
            machine: machine.tag,
            serial: machine.serial,
            equipment: machine.equipment,
            procedure: procedure.clone(),
            revision: files.files.flow.revision,
            files: hashes,
            previous_release,
        };
        let mut writer = JournalWriter::create(&self.disk, &folder)?;
        let event = Event::JobOpened(Box::new(opened.clone()));
        let entry = Entry { n: 0, at: now, by: None, late: None, event };
        writer.append(&entry)?;
        let state = JobState::open(&files.files.flow, opened, now);
        Ok(Session {
            disk: Rc::clone(&self.disk),
            clock: Rc::clone(&self.clock),
            job,
            folder,
            files: files.files,
            writer,
            state,
            entries: vec![entry],
            unsaved: None,
            late: None,
            identified: false,
            recovery: crate::store::Recovery::default(),
        })
    }

    /// Goes on with a job that was begun: same step, nothing lost, nothing doubled.
    ///
    /// # Errors
    /// Another process works on it, damage, or files that are not those it was opened with.
    pub fn resume(&self, job: &JobId) -> Result<Session, OpenError> {
        resume(&self.disk, &self.clock, job, self.folder.job(job))
    }

    /// Refuses a list of approvals that lacks what any job of the shop was opened with: an older list
    /// is signed by the shop as well, and would bring superseded revisions back.
    fn not_rolled_back(&self) -> Result<(), OpenError> {
        let is = self.bytes.get(APPROVALS).map_or(&[][..], Vec::as_slice);
        for job in self.folder.job_ids(self.disk.as_ref())?.into_iter().rev() {
            let folder = self.folder.job(&job);
            let read = |name: &str, max: usize| {
                let path = InnerPath::new(format!("files/{name}")).ok()?;
                folder.read(self.disk.as_ref(), &path, max as u64).ok()
            };
            // A folder that is damaged, or of the time of another shop key, says nothing; the folders
            // of the other jobs still do.
            let Some(was) = read(APPROVALS, LIST_LEN_BYTES_MAX) else { continue };
            if is.starts_with(&was) {
                continue;
            }
            let Some(signature) = read(APPROVALS_SIGNATURE, ARMOUR_LEN_BYTES_MAX) else { continue };
            let is_ours = std::str::from_utf8(&signature)
                .is_ok_and(|signature| check_list(&was, signature, &self.trust).is_ok());
            if is_ours {
                return Err(OpenError::ListRolledBack(job));
            }
        }
        Ok(())
    }

    /// The hash of the last record released in this shop, by job number.
    fn last_release(&self) -> Result<Sha256, OpenError> {
        for id in self.folder.job_ids(self.disk.as_ref())?.into_iter().rev() {
            let folder = self.folder.job(&id);
            // A damaged journal of another job is that job's trouble, not this one's.
            let Ok(scan) = folder.read_journal(self.disk.as_ref()) else { continue };
            if let Some(Event::Released { record, .. }) = scan.lines.last().map(|l| &l.entry.event)
            {
                return Ok(*record);
            }
        }
        Ok(Sha256::ZERO)
    }
}

fn text(name: &str, bytes: Vec<u8>) -> Result<String, OpenError> {
    String::from_utf8(bytes).ok().ok_or_else(|| OpenError::NotText(name.to_owned()))
}

/// The bytes below `files/` of a job folder, by name.
///
/// # Errors
/// The disk, or a file too large.
pub fn job_file_bytes(
    disk: &dyn Disk,
    folder: &JobFolder,
    opened: &JobOpened,
) -> Result<BTreeMap<String, Vec<u8>>, StoreError> {
    let mut bytes = BTreeMap::new();
    for name in opened.files.keys() {
        let path = InnerPath::new(format!("files/{name}"))?;
        bytes.insert(name.clone(), folder.read(disk, &path, LIST_LEN_BYTES_MAX as u64)?);
    }
    Ok(bytes)
}

/// True when the journal ends with a release.
fn is_released(disk: &dyn Disk, folder: &JobFolder) -> bool {
    let last = folder.read_journal(disk).ok().and_then(|scan| scan.lines.last().cloned());
    last.is_some_and(|line| matches!(line.entry.event, Event::Released { .. }))
}

fn resume(
    disk: &Rc<dyn Disk>,
    clock: &Rc<dyn Clock>,
    job: &JobId,
    folder: JobFolder,
) -> Result<Session, OpenError> {
    let (writer, scan, recovery) = match JournalWriter::open(disk, &folder) {
        Err(StoreError::Disk(error))
            if error.fault == DiskFault::Denied && is_released(disk.as_ref(), &folder) =>
        {
            return Err(OpenError::Released(job.clone()));
        }
        opened => opened?,
    };
    let entries: Vec<Entry> = scan.lines.into_iter().map(|line| line.entry).collect();
    let Some(Event::JobOpened(opened)) = entries.first().map(|e| &e.event) else {
        return Err(OpenError::NotAJob(job.clone()));
    };
    if opened.job != *job {
        return Err(OpenError::NotAJob(job.clone()));
    }
    if !SEMANTICS_KNOWN.contains(&opened.semantics) {
        return Err(OpenError::OtherRules { job: job.clone(), found: opened.semantics });
    }
    let bytes = job_file_bytes(disk.as_ref(), &folder, opened)?;
    for (name, hash) in &opened.files {
        if bytes.get(name).map(|b| Sha256::of(b)) != Some(*hash) {
            return Err(OpenError::FileChanged(name.clone()));
        }
    }
    let loaded = load(&bytes, &opened.procedure, &opened.equipment)?;
    let state =
        replay(&loaded.files.flow, &entries).ok_or_else(|| OpenError::NotAJob(job.clone()))?;
    let mut session = Session {
        disk: Rc::clone(disk),
        clock: Rc::clone(clock),
        job: job.clone(),
        folder,
        files: loaded.files,
        writer,
        state,
        entries,
        unsaved: None,
        late: None,
        recovery,
        identified: false,
    };
    session.note_recovery()?;
    Ok(session)
}

impl Session {
    /// Tells the journal what was set aside; nothing is set aside silently.
    fn note_recovery(&mut self) -> Result<(), SubmitError> {
        if self.state.released.is_some() {
            return Ok(());
        }
        for torn in self.recovery.torn.clone() {
            self.settle_clock()?;
            let entry = Entry {
                n: self.state.n_entries,
                at: self.clock.now(),
                by: None,
                late: None,
                event: torn.event(),
            };
            self.save(entry)?;
        }
        Ok(())
    }
}
