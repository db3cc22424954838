//! What can happen in a job: answers and events, in the past tense.
//!
//! How they look in the journal is `journal::wire`'s matter; these types hold checked values only.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate};

use super::address::Address;
use super::disposition::Said;
use super::late::Late;
use crate::ids::{
    BootClock, EquipmentId, JobId, Moment, Name, PersonId, ProcedureId, Revision, Role, Sha256,
    TokenId,
};
use crate::language::Thread;
use crate::procedure::model::Verdict;
use crate::shop::model::ShopKind;
use crate::units::Reading;

/// The version of the rules of the walk that new jobs are walked by.
///
/// - 3: what was done behind a step that is verified again stays done meanwhile, and stands in the record
///   of a job that ends there.
/// - 2: a decision that is corrected with a signature is a decision again, and no work of its signer's;
///   safety text acknowledged faster than it can be read is looked at before the release.
/// - 1: the first.
pub const SEMANTICS: u32 = 3;

/// Every version of the rules that this program can walk by. A job is walked by its own to its end,
/// and a record of any other cannot be judged here.
pub const SEMANTICS_KNOWN: std::ops::RangeInclusive<u32> = 1..=SEMANTICS;

/// What a person answered to one step instance.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// `do`: carried out.
    Done,
    /// `check` and the needs before step 1: one truth an item; complete lists only.
    Items(Vec<bool>),
    /// `look`: the findings picked, in file order, with an optional note.
    Found(Vec<Name>),
    /// `measure`: a reading.
    Read {
        /// The figure as typed and as understood.
        reading: Reading,
        /// The instrument as it stood.
        instrument: InstrumentSnapshot,
        /// Where the step asks for several readings: all that were taken. `reading` is then the one
        /// that counts.
        several: Option<Box<Several>>,
    },
    /// `work_out`: what the program worked out, as it was shown.
    WorkedOut(WorkedOut),
    /// `measure`: no reading could be made.
    CouldNotMeasure {
        /// Why.
        reason: String,
    },
    /// `build`: the layers laid, from the first in; complete, or up to the one that is not so.
    Built(Vec<Laid>),
    /// `tighten`: the rounds that count, in order; complete, or up to what is not so.
    Tightened(Vec<Round>),
    /// `enter`: a text, choice, day or serial number, letter for letter.
    Entered(String),
    /// `enter` of a figure.
    EnteredFigure(Reading),
    /// `attach`: a photo or file, which lies in the job's folder under its hash.
    Attached(Evidence),
    /// `attach`: there is none.
    NotAttached {
        /// Why.
        reason: String,
    },
    /// Any step that allows it: left out, or done otherwise than written. Always signed.
    Deviated {
        /// True when it was done, otherwise than written.
        done: bool,
        /// What was done and why, or why it was left out.
        reason: String,
    },
    /// A mechanic's decision on a referred outcome. Always signed.
    Decided {
        /// The verdict: accept, replace or stop.
        verdict: Verdict,
        /// Why.
        reason: String,
    },
    /// `hold`: released. Always signed.
    Released,
    /// `wait`: the time has passed.
    Waited(Waited),
    /// `stop`: the person has read that the job ends and has made the machine safe.
    Stopped,
}

/// Several readings of one step; none is ever dropped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Several {
    /// All of them, in the order in which they were taken.
    pub taken: Vec<Reading>,
    /// Why there is one more than the step asks for.
    pub reason: Option<String>,
}

/// A figure that the program worked out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkedOut {
    /// The calculation.
    pub calculation: String,
    /// What it was given, by input: a figure with its unit, a list or a word.
    pub given: BTreeMap<String, String>,
    /// The result to six digits that matter, or why the calculation refused what it was given.
    pub result: Result<Reading, String>,
}

/// A wait from its begin to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waited {
    /// When it began, or began anew after the clock went back.
    pub begun: Moment,
    /// When it ended.
    pub ended: Moment,
    /// The clock since boot at its end, where the machine has one.
    pub boot: Option<BootClock>,
    /// The seconds that passed for certain: the smaller that the clocks say.
    pub elapsed_s: u64,
    /// The seconds that may have passed: the greater that the clocks say.
    pub at_longest_s: u64,
    /// True where only the wall clock tells, or the two clocks disagree.
    pub doubtful: bool,
}

impl Waited {
    /// A wait of so many seconds by clocks that agree, at no particular time: for answers that are
    /// worked out and that nobody gave.
    pub fn made_up(seconds: u64) -> Self {
        let at = Moment::new(DateTime::UNIX_EPOCH.fixed_offset());
        Self {
            begun: at,
            ended: at,
            boot: None,
            elapsed_s: seconds,
            at_longest_s: seconds,
            doubtful: false,
        }
    }
}

/// Why a state no longer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Expiry {
    /// It lasts for a stated time only.
    Time,
    /// The work was paused.
    Pause,
    /// Somebody else took over.
    Hands,
    /// The work was stopped.
    Halt,
}

impl Expiry {
    /// Every reason.
    pub const ALL: [Self; 4] = [Self::Time, Self::Pause, Self::Hands, Self::Halt];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Pause => "pause",
            Self::Hands => "hands",
            Self::Halt => "halt",
        }
    }

    /// In words.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::Time => "its time is over",
            Self::Pause => "the work was paused",
            Self::Hands => "somebody else took over",
            Self::Halt => "the work was stopped",
        }
    }
}

/// A photo or file as evidence.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Evidence {
    /// The name that the file had, letter for letter; never used as a path.
    pub name: String,
    /// How many bytes.
    pub len_bytes: u64,
    /// The SHA-256, which is also its name in the job's folder.
    pub sha256: Sha256,
}

/// One layer of a stack, as it was laid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Laid {
    /// The layer, by its name in the stack.
    pub layer: Name,
    /// True when it lies as it must.
    pub so: bool,
    /// The lot of the part, where one is written down.
    pub lot: Option<String>,
}

/// A torque wrench as it was set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrench {
    /// The wrench as it stood in the shop's list.
    pub instrument: InstrumentSnapshot,
    /// The setting as typed.
    pub setting: Reading,
    /// The adapter, where one is on it.
    pub adapter: Option<Adapter>,
    /// The thread as it was found or made.
    pub thread: Thread,
}

/// An adapter on a torque wrench, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adapter {
    /// From the middle of the hand to the square of the wrench.
    pub length: Reading,
    /// From the square to the middle of the fastener.
    pub extension: Reading,
    /// Between the two; 0 is straight on.
    pub angle: Reading,
}

/// What was tightened with one setting of the wrench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Round {
    /// The pass, from 1.
    pub pass: u32,
    /// The wrench.
    pub wrench: Wrench,
    /// The fasteners, in order.
    pub fasteners: Vec<Tight>,
}

/// One fastener, tightened once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tight {
    /// Its number.
    pub fastener: u32,
    /// What the wrench showed, where it shows something.
    pub reading: Option<Reading>,
    /// True when it is as it must be.
    pub so: bool,
}

/// Which way a fastener is turned to re-check it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Further on.
    Tightening,
    /// Back.
    Loosening,
}

impl Direction {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Tightening, Self::Loosening];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Tightening => "tightening",
            Self::Loosening => "loosening",
        }
    }

    /// Reads the word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|direction| direction.word() == word)
    }
}

/// An instrument as the shop's list described it when it was used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InstrumentSnapshot {
    /// The mark on it.
    pub id: String,
    /// Its kind.
    pub kind: Name,
    /// The last day on which its calibration held.
    pub calibration_due: NaiveDate,
    /// The certificate.
    pub certificate: String,
    /// Resolution, as the list writes it.
    pub resolution: String,
    /// Expanded uncertainty, as the list writes it.
    pub uncertainty: String,
    /// Coverage factor.
    pub k: String,
    /// The SHA-256 of the certificate's file, where the list gives it.
    pub certificate_sha256: Option<String>,
}

/// Where the walk stands after an answer, as it was shown to the person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// This instance is asked next.
    Ask(Address),
    /// All steps are done.
    End,
    /// A stop was reached and acknowledged.
    Stopped,
}

/// What the program made of an answer when it was given; stands in the entry, judged again on replay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judged {
    /// The verdict, for steps that have one.
    pub verdict: Option<Verdict>,
    /// Where the walk went.
    pub next: Next,
}

/// A signature over a statement, both as they stand in the entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signed {
    /// The statement.
    pub statement: Statement,
    /// Its SSHSIG, armoured.
    pub signature: String,
}

/// What somebody says with a signature. Its canonical JSON is the signed bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// The job.
    pub job: JobId,
    /// The number of the last entry before the signature.
    pub head_n: u64,
    /// The SHA-256 of that entry's line.
    pub head: Sha256,
    /// The step instance, where the signature is about one.
    pub address: Option<Address>,
    /// Who signs.
    pub signer: PersonId,
    /// In which role.
    pub role: Role,
    /// What is meant.
    pub meaning: Meaning,
    /// The claimed time.
    pub at: Moment,
}

/// The closed list of what a signature can mean inside a journal. Each has its own namespace.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meaning {
    /// "I am the person working from here on."
    Identified,
    /// "I carried out the entries of this range."
    Performed {
        /// The first entry.
        from_n: u64,
        /// The last entry.
        to_n: u64,
    },
    /// "I decide this verdict for this instance."
    Decided {
        /// The verdict.
        verdict: Verdict,
        /// Why.
        reason: String,
    },
    /// "I release this hold."
    HoldReleased,
    /// "I let this step be left out, or be done otherwise than written."
    Deviated {
        /// True when it is done, otherwise than written.
        done: bool,
        /// What and why.
        reason: String,
    },
    /// "The work that was stopped may go on."
    Resumed {
        /// Why.
        reason: String,
    },
    /// "I put this verdict in the place of that of the rules."
    Conceded {
        /// The verdict.
        verdict: Verdict,
        /// Why.
        reason: String,
    },
    /// "This was done about a failed result."
    Disposed(Said),
}

impl Meaning {
    /// The word in files.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Identified => "identified",
            Self::Performed { .. } => "performed",
            Self::Decided { .. } => "decided",
            Self::HoldReleased => "hold_released",
            Self::Deviated { .. } => "deviated",
            Self::Resumed { .. } => "resumed",
            Self::Conceded { .. } => "conceded",
            Self::Disposed(_) => "disposed",
        }
    }
}

/// What entry 0 says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobOpened {
    /// The job.
    pub job: JobId,
    /// Whether it counts.
    pub kind: ShopKind,
    /// The version of the rules of the walk.
    pub semantics: u32,
    /// The machine's tag.
    pub machine: String,
    /// The machine's serial number.
    pub serial: String,
    /// The equipment file.
    pub equipment: EquipmentId,
    /// The procedure that is walked.
    pub procedure: ProcedureId,
    /// Its revision.
    pub revision: Revision,
    /// The SHA-256 of every file that the job was opened with, by its path below `files/`.
    pub files: BTreeMap<String, Sha256>,
    /// The SHA-256 of the last record released in this shop, or zeros for the first.
    pub previous_release: Sha256,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Event {
    /// Entry 0.
    JobOpened(Box<JobOpened>),
    /// A person proved their key and works from here on.
    Identified(Box<Signed>),
    /// The safety text of an instance was read to its end and acknowledged.
    SafetyAcknowledged {
        /// The instance.
        address: Address,
        /// The SHA-256 of the text as shown.
        text: Sha256,
    },
    /// One item of a list was answered.
    ItemChecked {
        /// The instance.
        address: Address,
        /// The item, from 0.
        item: u32,
        /// True when it is so.
        so: bool,
        /// What the program made of it, with the last item only.
        judged: Option<Judged>,
    },
    /// One layer of a stack was laid.
    LayerLaid {
        /// The instance.
        address: Address,
        /// The layer.
        laid: Laid,
        /// What the program made of it, with the last layer only.
        judged: Option<Judged>,
    },
    /// The wrench was set for a pass.
    WrenchSet {
        /// The instance.
        address: Address,
        /// The pass, from 1.
        pass: u32,
        /// The wrench as it was set.
        wrench: Box<Wrench>,
        /// What the program made of it, only where the thread ends the step.
        judged: Option<Judged>,
    },
    /// One fastener was tightened.
    FastenerTightened {
        /// The instance.
        address: Address,
        /// The pass, from 1.
        pass: u32,
        /// The fastener.
        tight: Tight,
        /// What the program made of it, with the last one only.
        judged: Option<Judged>,
    },
    /// A tightened fastener was checked again. What it was set to stays.
    FastenerRechecked {
        /// The instance.
        address: Address,
        /// The fastener.
        fastener: u32,
        /// Which way it was turned.
        direction: Direction,
        /// The reading.
        reading: Reading,
        /// The instrument as it stood.
        instrument: InstrumentSnapshot,
    },
    /// A tightened fastener was loosened again.
    FastenerLoosened {
        /// The instance.
        address: Address,
        /// The fastener.
        fastener: u32,
        /// Why.
        reason: String,
        /// Where the walk went.
        judged: Judged,
    },
    /// A step instance was answered.
    Answered {
        /// The instance.
        address: Address,
        /// The answer.
        answer: Answer,
        /// What the program made of it.
        judged: Judged,
        /// The signature, where the answer needs one.
        signed: Option<Box<Signed>>,
    },
    /// An earlier answer was replaced.
    Corrected {
        /// The instance.
        address: Address,
        /// The entry that is superseded.
        supersedes: u64,
        /// The new answer.
        answer: Answer,
        /// Why.
        reason: String,
        /// What the program made of it.
        judged: Judged,
        /// The signature, where the answer needs one.
        signed: Option<Box<Signed>>,
    },
    /// An answer that had been parked is asked again and still stands.
    Confirmed {
        /// The instance.
        address: Address,
        /// What the program made of it.
        judged: Judged,
    },
    /// A mechanic's verdict stands in the place of that of the rules.
    Conceded {
        /// The instance.
        address: Address,
        /// The verdict.
        verdict: Verdict,
        /// Why.
        reason: String,
        /// What the program made of it.
        judged: Judged,
        /// The signature.
        signed: Box<Signed>,
    },
    /// A mechanic states what was done about a failed result.
    Disposed {
        /// The instance.
        address: Address,
        /// What was done.
        said: Said,
        /// The signature.
        signed: Box<Signed>,
    },
    /// A state that steps set no longer holds, and must be verified again.
    TokenExpired {
        /// The state.
        token: TokenId,
        /// The instance that set it, which is asked again.
        address: Address,
        /// Why.
        because: Expiry,
    },
    /// The work was stopped and the machine is to be made safe.
    WorkHalted {
        /// The instance that was asked.
        address: Option<Address>,
        /// The standing condition that was seen, where it was one.
        standing: Option<Name>,
        /// Why.
        reason: String,
        /// The state in which the machine is left.
        safe_state: String,
    },
    /// A mechanic lets the work go on.
    WorkResumed {
        /// Why.
        reason: String,
        /// The signature.
        signed: Box<Signed>,
    },
    /// The person at work pauses.
    Paused {
        /// Why, or what is to be known.
        reason: String,
    },
    /// Whoever goes on has looked at what is open and at what was done last.
    TakenUp {
        /// The lines as they were shown.
        shown: Vec<String>,
    },
    /// A person was told that a step is about to be done, and may watch.
    WitnessTold {
        /// The instance.
        address: Address,
        /// Who was told.
        who: PersonId,
    },
    /// A photo or file was put beside a step that did not ask for one.
    EvidenceAdded {
        /// The instance, where it is about one.
        address: Option<Address>,
        /// The file.
        evidence: Evidence,
    },
    /// A wait began.
    WaitBegun {
        /// The instance.
        address: Address,
        /// The clock since boot, where the machine has one.
        boot: Option<BootClock>,
    },
    /// An instrument was read with nothing in it.
    ZeroChecked {
        /// The instrument as it stood.
        instrument: InstrumentSnapshot,
        /// What it showed.
        reading: Reading,
        /// True when that is near enough to zero for the day's readings.
        so: bool,
    },
    /// A free note.
    NoteAdded {
        /// The instance that it is about, where it is about one.
        address: Option<Address>,
        /// The note.
        text: String,
    },
    /// The performer signed their range.
    PerformedSigned(Box<Signed>),
    /// Unfinished bytes at the end of the journal were set aside.
    TornTailSetAside {
        /// How many bytes.
        len_bytes: u64,
        /// Their SHA-256.
        sha256: Sha256,
    },
    /// The clock went back.
    ClockWentBack {
        /// The time of the entry before.
        from: Moment,
    },
    /// The releaser has looked at these exceptions, one by one.
    ExceptionsAcknowledged {
        /// The exceptions as they were shown.
        shown: Vec<String>,
    },
    /// The record was written, signed and checked. Nothing may follow.
    Released {
        /// The SHA-256 of `record.json`.
        record: Sha256,
        /// The SHA-256 of `record.json.sig`.
        signature: Sha256,
    },
}

impl Event {
    /// What the program made of the answer, where the event gives or completes one.
    pub fn judged(&self) -> Option<&Judged> {
        match self {
            Self::Answered { judged, .. }
            | Self::Corrected { judged, .. }
            | Self::FastenerLoosened { judged, .. }
            | Self::Confirmed { judged, .. }
            | Self::Conceded { judged, .. } => Some(judged),
            Self::ItemChecked { judged, .. }
            | Self::LayerLaid { judged, .. }
            | Self::WrenchSet { judged, .. }
            | Self::FastenerTightened { judged, .. } => judged.as_ref(),
            Self::JobOpened(_)
            | Self::Identified(_)
            | Self::SafetyAcknowledged { .. }
            | Self::FastenerRechecked { .. }
            | Self::Disposed { .. }
            | Self::TokenExpired { .. }
            | Self::WorkHalted { .. }
            | Self::WorkResumed { .. }
            | Self::Paused { .. }
            | Self::TakenUp { .. }
            | Self::WitnessTold { .. }
            | Self::EvidenceAdded { .. }
            | Self::WaitBegun { .. }
            | Self::ZeroChecked { .. }
            | Self::NoteAdded { .. }
            | Self::PerformedSigned(_)
            | Self::TornTailSetAside { .. }
            | Self::ClockWentBack { .. }
            | Self::ExceptionsAcknowledged { .. }
            | Self::Released { .. } => None,
        }
    }

    /// The step that it is about.
    pub fn address(&self) -> Option<&Address> {
        match self {
            Self::SafetyAcknowledged { address, .. }
            | Self::ItemChecked { address, .. }
            | Self::LayerLaid { address, .. }
            | Self::WrenchSet { address, .. }
            | Self::FastenerTightened { address, .. }
            | Self::FastenerRechecked { address, .. }
            | Self::FastenerLoosened { address, .. }
            | Self::Answered { address, .. }
            | Self::Corrected { address, .. }
            | Self::WaitBegun { address, .. }
            | Self::Confirmed { address, .. }
            | Self::Conceded { address, .. }
            | Self::Disposed { address, .. }
            | Self::TokenExpired { address, .. }
            | Self::WitnessTold { address, .. } => Some(address),
            Self::NoteAdded { address, .. }
            | Self::EvidenceAdded { address, .. }
            | Self::WorkHalted { address, .. } => address.as_ref(),
            Self::JobOpened(_)
            | Self::Identified(_)
            | Self::WorkResumed { .. }
            | Self::Paused { .. }
            | Self::TakenUp { .. }
            | Self::ZeroChecked { .. }
            | Self::PerformedSigned(_)
            | Self::TornTailSetAside { .. }
            | Self::ClockWentBack { .. }
            | Self::ExceptionsAcknowledged { .. }
            | Self::Released { .. } => None,
        }
    }

    /// The event's word in the journal.
    pub fn word(&self) -> &'static str {
        match self {
            Self::JobOpened(_) => "job_opened",
            Self::Identified(_) => "identified",
            Self::SafetyAcknowledged { .. } => "safety_acknowledged",
            Self::ItemChecked { .. } => "item_checked",
            Self::LayerLaid { .. } => "layer_laid",
            Self::WrenchSet { .. } => "wrench_set",
            Self::FastenerTightened { .. } => "fastener_tightened",
            Self::FastenerRechecked { .. } => "fastener_rechecked",
            Self::FastenerLoosened { .. } => "fastener_loosened",
            Self::Answered { .. } => "answered",
            Self::Corrected { .. } => "corrected",
            Self::Confirmed { .. } => "confirmed",
            Self::Conceded { .. } => "conceded",
            Self::Disposed { .. } => "disposed",
            Self::TokenExpired { .. } => "token_expired",
            Self::WorkHalted { .. } => "work_halted",
            Self::WorkResumed { .. } => "work_resumed",
            Self::Paused { .. } => "paused",
            Self::TakenUp { .. } => "taken_up",
            Self::WitnessTold { .. } => "witness_told",
            Self::EvidenceAdded { .. } => "evidence_added",
            Self::WaitBegun { .. } => "wait_begun",
            Self::ZeroChecked { .. } => "zero_checked",
            Self::NoteAdded { .. } => "note_added",
            Self::PerformedSigned(_) => "performed_signed",
            Self::TornTailSetAside { .. } => "torn_tail_set_aside",
            Self::ClockWentBack { .. } => "clock_went_back",
            Self::ExceptionsAcknowledged { .. } => "exceptions_acknowledged",
            Self::Released { .. } => "released",
        }
    }
}

/// One entry of a journal, without the chain that `journal` adds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its number, from 0.
    pub n: u64,
    /// When it was entered, which is when it was observed unless it is late.
    pub at: Moment,
    /// Who was at work; `None` before anyone identified.
    pub by: Option<PersonId>,
    /// When it was really observed, where it was entered late.
    pub late: Option<Late>,
    /// What happened.
    pub event: Event,
}
