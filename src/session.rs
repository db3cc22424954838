//! One person at work on one job: decide, save, then show.
//!
//! The order is the point of this module: a move is decided on the state, its entry is made lasting,
//! and only then does the state that screens draw change. Nothing here draws or asks.

pub mod bench;
pub mod fitted;
pub mod history;
pub mod keys;
pub mod open;
pub mod play;
pub mod release;
pub mod shop;

use std::path::Path;
use std::rc::Rc;

use chrono::TimeDelta;

use crate::ids::{JobId, Moment, Now, PersonId, Role, Sha256};
use crate::journal;
use crate::ports::{Clock, Disk, SignError, Signer};
use crate::procedure::model::Verdict;
use crate::record::statement::Expected;
use crate::record::{Namespace, StatementFault, check_signed, signed_of};
use crate::store::{InnerPath, JobFolder, JournalWriter, Recovery, StoreError};
use crate::walk::disposition::Said;
use crate::walk::event::{Evidence, Meaning, Signed, Statement};
use crate::walk::flow::Ask;
use crate::walk::{
    Address, Answer, Command, Entry, Files, JobState, Late, Refusal, accept, decided, exceptions,
    hands,
};

/// Why a move did not count. The state is as it was.
#[derive(Debug, thiserror::Error)]
pub enum SubmitError {
    /// It breaks a rule.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Its signature does not hold.
    #[error("the signature does not hold: {}", faults_text(.0))]
    Signature(Vec<StatementFault>),
    /// No signature was made.
    #[error(transparent)]
    NotSigned(#[from] SignError),
    /// A file to attach cannot be read.
    #[error("the file was not attached: {0}; look at its path, or choose another file")]
    NotRead(String),
    /// It was not saved. The move is kept and can be saved again with [`Session::retry`].
    #[error("NOT SAVED: {0}")]
    NotSaved(#[from] StoreError),
}

fn faults_text(faults: &[StatementFault]) -> String {
    faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// A job that is open for work by this process.
#[derive(Debug)]
pub struct Session {
    disk: Rc<dyn Disk>,
    clock: Rc<dyn Clock>,
    job: JobId,
    folder: JobFolder,
    files: Files,
    writer: JournalWriter,
    state: JobState,
    entries: Vec<Entry>,
    unsaved: Option<Command>,
    /// A step whose next answer was seen earlier, as the person said.
    late: Option<(Address, Late)>,
    recovery: Recovery,
    /// True once somebody identified with their key since the program began. Who was at work before it
    /// ended may have gone home.
    identified: bool,
}

impl Session {
    /// The job's name.
    pub fn job(&self) -> &JobId {
        &self.job
    }

    /// The job's folder.
    pub fn folder(&self) -> &JobFolder {
        &self.folder
    }

    /// The files in force.
    pub fn files(&self) -> &Files {
        &self.files
    }

    /// Who is at work, once somebody has identified in this run of the program.
    pub fn at_work(&self) -> Option<&PersonId> {
        self.state.person.as_ref().filter(|_| self.identified)
    }

    /// The job as saved.
    pub fn state(&self) -> &JobState {
        &self.state
    }

    /// Every saved entry, in order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The disk that the job lies on.
    pub fn disk(&self) -> &Rc<dyn Disk> {
        &self.disk
    }

    /// What had to be put right when the job was opened.
    pub fn recovery(&self) -> &Recovery {
        &self.recovery
    }

    /// The time.
    pub fn now(&self) -> Moment {
        self.clock.now()
    }

    /// The time by both clocks.
    pub fn clocks(&self) -> Now {
        Now { wall: self.clock.now(), boot: self.clock.boot() }
    }

    /// Ends the wait at `address` so many seconds after it began, where the clock is that of a played
    /// job. Where something else took longer, it ends now.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn end_wait(&mut self, address: &Address, seconds: u64) -> Result<(), SubmitError> {
        let index = self.files.flow.find(address);
        let running = index.and_then(|index| self.state.waits.get(&index));
        let length = TimeDelta::seconds(i64::try_from(seconds).unwrap_or(0));
        let over = running.map(|running| Moment::new(running.at.time() + length));
        self.clock.stand(over);
        let ended = self.submit(Command::EndWait { address: address.clone() });
        self.clock.stand(None);
        ended
    }

    /// The move that could not be saved, if any.
    pub fn unsaved(&self) -> Option<&Command> {
        self.unsaved.as_ref()
    }

    /// What must be looked at before signing.
    pub fn exceptions(&self) -> Vec<String> {
        exceptions::list(&self.files, &self.state)
    }

    /// What keeps the job from being released.
    pub fn blocks(&self) -> Vec<String> {
        exceptions::blocks(&self.files, &self.state)
    }

    /// Decides `command`, saves what it makes, then changes the state.
    ///
    /// # Errors
    /// The rule it breaks, the signature that does not hold, or why it was not saved.
    pub fn submit(&mut self, command: Command) -> Result<(), SubmitError> {
        self.settle_clock()?;
        let command = self.with_late(command);
        let now = self.clock.now();
        let clocks = Now { wall: now, boot: self.clock.boot() };
        let begins = match &command {
            Command::BeginWait { address } => self.wait_length_s(address),
            _ => None,
        };
        for entry in decided(&self.files, &self.state, &command, clocks)? {
            if let Err(error) = self.save(entry) {
                if matches!(error, SubmitError::NotSaved(_)) {
                    self.unsaved = Some(command);
                }
                return Err(error);
            }
        }
        self.unsaved = None;
        self.identified |= matches!(command, Command::Identify(_));
        if let Some(seconds) = begins {
            self.clock.wait_began(seconds);
        }
        self.drop_late();
        // What the move brought with it is entered at once, so that what is shown is so. What
        // cannot be saved now is entered, or refused aloud, with the next move.
        drop(self.settle_clock());
        Ok(())
    }

    fn wait_length_s(&self, address: &Address) -> Option<u64> {
        let flow = &self.files.flow;
        match &flow.instance(flow.find(address)?).ask {
            Ask::Wait { length_s, .. } => Some(*length_s),
            _ => None,
        }
    }

    /// Enters what `command` makes at the time `now`, which is not that of the clock.
    fn enter(&mut self, command: &Command, now: Now) -> Result<(), SubmitError> {
        for entry in decided(&self.files, &self.state, command, now)? {
            self.save(entry)?;
        }
        Ok(())
    }

    /// What is answered next at `address` was seen at the time that `text` says, and why it was not
    /// entered then; see [`Late::parse`]. It holds until the step is answered.
    ///
    /// # Errors
    /// A text that cannot be read, or a step that is not asked.
    pub fn seen_earlier(&mut self, address: &Address, text: &str) -> Result<Late, Refusal> {
        let late = Late::parse(text, self.clock.now())?;
        if self.files.flow.find(address).is_none() {
            return Err(Refusal::NoSuchStep(address.clone()));
        }
        self.late = Some((address.clone(), late.clone()));
        Ok(late)
    }

    /// When what is answered next at `address` was seen, where the person said so.
    pub fn late(&self, address: &Address) -> Option<&Late> {
        self.late.as_ref().filter(|(at, _)| at == address).map(|(_, late)| late)
    }

    /// The move as it is entered: late, where the person said that it was made earlier.
    fn with_late(&self, command: Command) -> Command {
        match command.may_be_late().and_then(|address| self.late(address)) {
            None => command,
            Some(late) => Command::Late { late: late.clone(), command: Box::new(command) },
        }
    }

    /// Forgets the time once the step that it is about is answered.
    fn drop_late(&mut self) {
        let entry = self.entries.last();
        let answered = entry.and_then(|e| e.event.judged().and(e.event.address()));
        if self.late.as_ref().is_some_and(|(address, _)| Some(address) == answered) {
            self.late = None;
        }
    }

    /// Saves the move that could not be saved, once.
    ///
    /// # Errors
    /// As [`Session::submit`]; the move is then still kept.
    pub fn retry(&mut self) -> Result<(), SubmitError> {
        self.writer.retry()?;
        match self.unsaved.take() {
            None => Ok(()),
            Some(command) => self.submit(command),
        }
    }

    /// Enters what time and hands alone bring, a clock that went back or a state that no longer
    /// holds, before anything else, so that a signature made next names the entry that really lies
    /// before it.
    fn settle_clock(&mut self) -> Result<(), SubmitError> {
        let now = self.clock.now();
        while let Some(event) = hands::due(&self.files, &self.state, now) {
            let by = self.state.person.clone();
            self.save(Entry { n: self.state.n_entries, at: now, by, late: None, event })?;
        }
        Ok(())
    }

    fn save(&mut self, entry: Entry) -> Result<(), SubmitError> {
        self.check_signature(&entry)?;
        self.writer.append(&entry)?;
        self.state.apply(&self.files.flow, &entry);
        self.entries.push(entry);
        Ok(())
    }

    fn check_signature(&self, entry: &Entry) -> Result<(), SubmitError> {
        let Some((signed, address)) = signed_of(&entry.event) else { return Ok(()) };
        let expected = Expected {
            job: &self.job,
            head_n: entry.n.saturating_sub(1),
            head: self.writer.head(),
            address,
            meaning: &signed.statement.meaning,
            signer: entry.by.as_ref(),
            not_before: Some(self.state.last_at),
            not_after: Some(entry.at),
        };
        let bytes = journal::statement_bytes(&signed.statement);
        match check_signed(signed, &self.files.shop, &expected, &bytes) {
            Ok(_) => Ok(()),
            Err(faults) => Err(SubmitError::Signature(faults)),
        }
    }

    /// Makes the statement of `person` over the journal as it stands, and signs it.
    ///
    /// # Errors
    /// No signature, or a clock that went back and could not be noted.
    pub fn sign(
        &mut self,
        person: &PersonId,
        address: Option<Address>,
        meaning: Meaning,
        signer: &dyn Signer,
    ) -> Result<Box<Signed>, SubmitError> {
        self.settle_clock()?;
        let statement = Statement {
            job: self.job.clone(),
            head_n: self.state.n_entries.saturating_sub(1),
            head: self.writer.head(),
            address,
            signer: person.clone(),
            role: self.role_for(person, &meaning),
            meaning,
            at: self.clock.now(),
        };
        let namespace = Namespace::of(&statement.meaning).text();
        let signature = signer.sign(namespace, &journal::statement_bytes(&statement))?;
        Ok(Box::new(Signed { statement, signature }))
    }

    /// The role in which `person` signs: a mechanic where they are one, else their first.
    fn role_for(&self, person: &PersonId, meaning: &Meaning) -> Role {
        let listed = self.files.shop.person(person);
        let roles = listed.map(|p| p.roles.as_slice()).unwrap_or_default();
        let needs_mechanic = match meaning {
            Meaning::Decided { .. }
            | Meaning::HoldReleased
            | Meaning::Deviated { .. }
            | Meaning::Resumed { .. }
            | Meaning::Conceded { .. }
            | Meaning::Disposed(_) => true,
            Meaning::Identified | Meaning::Performed { .. } => false,
        };
        if needs_mechanic || roles.contains(&Role::Mechanic) {
            return Role::Mechanic;
        }
        roles.first().copied().unwrap_or(Role::Apprentice)
    }

    /// `person` works from here on.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn identify(&mut self, person: &PersonId, signer: &dyn Signer) -> Result<(), SubmitError> {
        let signed = self.sign(person, None, Meaning::Identified, signer)?;
        self.submit(Command::Identify(signed))
    }

    /// `person` signs for their entries that are not signed for yet.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn sign_performed(
        &mut self,
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let (from_n, to_n) = self
            .state
            .unsigned_range(person)
            .ok_or_else(|| Refusal::NothingToSign(person.clone()))?;
        let signed = self.sign(person, None, Meaning::Performed { from_n, to_n }, signer)?;
        self.submit(Command::SignPerformed(signed))
    }

    /// Answers at `address` with what a person signs in the entry itself.
    fn answer_signed(
        &mut self,
        address: &Address,
        answer: Answer,
        meaning: Meaning,
        (person, signer): (&PersonId, &dyn Signer),
    ) -> Result<(), SubmitError> {
        let signed = self.sign(person, Some(address.clone()), meaning, signer)?;
        self.submit(Command::Answer { address: address.clone(), answer, signed: Some(signed) })
    }

    /// `person` releases the hold at `address`.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn release_hold(
        &mut self,
        address: &Address,
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        self.answer_signed(address, Answer::Released, Meaning::HoldReleased, (person, signer))
    }

    /// `person` lets the step at `address` be left out, or be done otherwise than written.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn deviate(
        &mut self,
        address: &Address,
        (done, reason): (bool, &str),
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let meaning = Meaning::Deviated { done, reason: reason.to_owned() };
        let answer = Answer::Deviated { done, reason: reason.to_owned() };
        self.answer_signed(address, answer, meaning, (person, signer))
    }

    /// What must be looked at before the work is taken up, where that is due.
    pub fn to_take_up(&self) -> Option<Vec<String>> {
        self.take_up_due().then(|| hands::lines(&self.files, &self.state))
    }

    /// True when whoever is at work must first look at what is open and at what was done last.
    pub fn take_up_due(&self) -> bool {
        self.state.take_up_due(self.clock.now())
    }

    /// `person` lets the work that was stopped go on.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn resume_work(
        &mut self,
        reason: &str,
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let meaning = Meaning::Resumed { reason: reason.to_owned() };
        let signed = self.sign(person, None, meaning, signer)?;
        self.submit(Command::Resume { reason: reason.to_owned(), signed })
    }

    /// `person` puts `verdict` in the place of that of the rules at `address`.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn concede(
        &mut self,
        address: &Address,
        (verdict, reason): (Verdict, &str),
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let meaning = Meaning::Conceded { verdict, reason: reason.to_owned() };
        let signed = self.sign(person, Some(address.clone()), meaning, signer)?;
        self.submit(Command::Concede {
            address: address.clone(),
            verdict,
            reason: reason.to_owned(),
            signed,
        })
    }

    /// `person` states what was done about the failed result at `address`.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn dispose(
        &mut self,
        address: &Address,
        said: &Said,
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let meaning = Meaning::Disposed(said.clone());
        let signed = self.sign(person, Some(address.clone()), meaning, signer)?;
        self.submit(Command::Dispose { address: address.clone(), said: said.clone(), signed })
    }

    /// Puts a file into the job's folder under its SHA-256, and says what an entry keeps of it. The
    /// bytes are lasting before the entry is made; a file whose entry never came does no harm.
    ///
    /// # Errors
    /// A file that is no evidence, or why it was not saved.
    pub fn keep(&self, name: &str, bytes: &[u8]) -> Result<Evidence, SubmitError> {
        let evidence = Evidence {
            name: name.to_owned(),
            len_bytes: bytes.len() as u64,
            sha256: Sha256::of(bytes),
        };
        accept::evidence(&evidence)?;
        let path = InnerPath::new(format!("evidence/{}", evidence.sha256))?;
        self.folder.add(self.disk.as_ref(), &path, bytes)?;
        Ok(evidence)
    }

    /// Reads the file at `path` and keeps it, as [`Session::keep`] does. No link is followed.
    ///
    /// # Errors
    /// The file cannot be read, is no evidence, or was not saved.
    pub fn keep_file(&self, path: &Path) -> Result<Evidence, SubmitError> {
        let bytes = self
            .disk
            .read(path, accept::EVIDENCE_LEN_BYTES_MAX)
            .map_err(|error| SubmitError::NotRead(error.to_string()))?;
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        self.keep(&name, &bytes)
    }

    /// The bytes of a file that is not attached yet. No link is followed.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub fn look_at_file(&self, path: &Path) -> Result<Vec<u8>, String> {
        let read = self.disk.read(path, accept::EVIDENCE_LEN_BYTES_MAX);
        read.map_err(|error| format!("{error}; look at the path"))
    }

    /// The bytes of a file that was attached, as they were then.
    ///
    /// # Errors
    /// It is gone, or is another file by now.
    pub fn attached(&self, evidence: &Evidence) -> Result<Vec<u8>, String> {
        let path = self.folder.evidence().join(evidence.sha256.to_string());
        let bytes = self
            .disk
            .read(&path, accept::EVIDENCE_LEN_BYTES_MAX)
            .map_err(|error| format!("{error}; restore it from a copy of the job's folder"))?;
        if Sha256::of(&bytes) == evidence.sha256 {
            Ok(bytes)
        } else {
            let why = "the file in the job's folder is not the one that was attached; restore it";
            Err(why.to_owned())
        }
    }

    /// `person` decides at `address`.
    ///
    /// # Errors
    /// As [`Session::submit`].
    pub fn decide(
        &mut self,
        address: &Address,
        (verdict, reason): (Verdict, &str),
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let meaning = Meaning::Decided { verdict, reason: reason.to_owned() };
        let answer = Answer::Decided { verdict, reason: reason.to_owned() };
        self.answer_signed(address, answer, meaning, (person, signer))
    }
}
