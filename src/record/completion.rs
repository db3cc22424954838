//! The completion record, `record.json`: what was done to the machine, by whom, and on what grounds.
//!
//! The shapes of the file. [`encode()`] fills them from a job; whether what they say follows from the
//! journal is [`mod@super::verify`]'s matter.
//!
//! Change list of the format:
//! - 1.0: the first.

mod encode;
mod fasteners;
mod limit;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::release::ReleaseWire;
use crate::canonical::{self, CanonicalFault};

pub use encode::encode;
pub(super) use encode::says;
pub use limit::{Limit, Several, WrongAcceptances};

/// The format that this program writes, `MAJOR.MINOR`.
pub const FORMAT: &str = "1.0";

/// A completion record. Figures, times and hashes are text, letter for letter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Verdicts in the place of those of the rules.
    pub concessions: Vec<Concession>,
    /// Corrections, in order.
    pub corrections: Vec<Correction>,
    /// Photos and files beside steps that did not ask for one; the others stand in their steps.
    pub evidence: Vec<EvidenceBeside>,
    /// The exceptions as the releaser acknowledged them.
    pub exceptions: Exceptions,
    /// Parts that were fitted, in walk order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fitted: Vec<Fitted>,
    /// States of the machine that had to be verified again.
    pub expired: Vec<Expired>,
    /// [`FORMAT`].
    pub format: String,
    /// Every time that the work was stopped.
    pub halts: Vec<Halt>,
    /// The job.
    pub job: String,
    /// The entries that this record is over.
    pub journal: Journal,
    /// What happened to the journal itself: torn tails, clocks that went back.
    pub journal_notes: Vec<JournalNote>,
    /// `record`, or `demo` for a made-up shop.
    pub kind: String,
    /// Signatures that a correction made worthless.
    pub lapsed: Vec<Lapsed>,
    /// Entries that were made later than what they say was seen, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub late: Vec<LateEntry>,
    /// Fasteners that were loosened again, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub loosened: Vec<Loosened>,
    /// The machine.
    pub machine: Machine,
    /// The SHA-256 of every file below `files/` and `evidence/`, by its path.
    pub manifest: BTreeMap<String, String>,
    /// Instances that were not asked, each with the condition that made it so.
    pub not_applicable: Vec<NotApplicable>,
    /// Free notes, in order.
    pub notes: Vec<Note>,
    /// When the job was opened.
    pub opened_at: String,
    /// `completed` or `stopped`.
    pub outcome: String,
    /// Answers that were given and no longer belong to the job.
    pub parked: Vec<Parked>,
    /// Parts that the machine needs.
    pub parts: Vec<Part>,
    /// Everybody who has an entry in the journal, in the order of their first.
    pub people: Vec<Person>,
    /// The SHA-256 of the record that the shop released before this one, or zeros.
    pub previous_release: String,
    /// The procedure that was walked.
    pub procedure: Procedure,
    /// Every procedure that it performs, and itself.
    pub procedures: Vec<Procedure>,
    /// Re-checks of fasteners, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rechecks: Vec<Recheck>,
    /// Who releases the job, as what, and when.
    pub release: ReleaseWire,
    /// The version of the rules of the walk.
    pub semantics: u32,
    /// The shop.
    pub shop: Shop,
    /// Every signature in the journal, in order.
    pub signatures: Vec<Signature>,
    /// Every instance that was visited, in order.
    pub steps: Vec<Step>,
    /// How the job was stopped, where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop: Option<Stop>,
    /// Who was told before witness points.
    pub witnesses: Vec<Witness>,
    /// How many accepted readings are expected to be wrong, by the uncertainty of the instruments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrong_acceptances: Option<WrongAcceptances>,
}

/// An entry that was made later than what it says was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LateEntry {
    /// The instance.
    pub address: String,
    /// When it was entered.
    pub at: String,
    /// Who entered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// When it was seen.
    pub observed: String,
    /// Why it was entered later.
    pub reason: String,
}

/// A verdict in the place of that of the rules.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Concession {
    /// The instance.
    pub address: String,
    /// When.
    pub at: String,
    /// Who.
    pub by: String,
    /// The entry.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// The verdict of the rules.
    pub rules: String,
    /// The verdict in its place.
    pub verdict: String,
}

/// A state of the machine that had to be verified again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Expired {
    /// Why.
    pub because: String,
    /// The entry.
    pub n: u64,
    /// The state for people.
    pub title: String,
    /// Its name.
    pub token: String,
}

/// Work that was stopped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Halt {
    /// Where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// When.
    pub at: String,
    /// Who stopped it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// Who let it go on, where somebody did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resumed: Option<Resumed>,
    /// The state in which the machine was left.
    pub safe_state: String,
    /// The standing condition that was seen, where it was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<String>,
}

/// Who let stopped work go on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Resumed {
    /// When.
    pub at: String,
    /// Who.
    pub by: String,
    /// Why.
    pub reason: String,
}

/// A photo or file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// How many bytes.
    pub len_bytes: u64,
    /// The name that it had.
    pub name: String,
    /// Its SHA-256, which is its name below `evidence/`.
    pub sha256: String,
}

/// A photo or file beside a step that did not ask for one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EvidenceBeside {
    /// The instance that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The file.
    pub file: Evidence,
    /// The entry.
    pub n: u64,
}

/// Somebody who was told before a witness point.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Witness {
    /// The instance.
    pub address: String,
    /// When.
    pub at: String,
    /// The entry.
    pub n: u64,
    /// Who.
    pub who: String,
}

/// The entries that a record is over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Journal {
    /// The hash of the last of them.
    pub head: String,
    /// Its number.
    pub n: u64,
}

/// The shop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Its id.
    pub id: String,
    /// The revision of the roster and the instrument list.
    pub revision: u32,
    /// One line for people.
    pub title: String,
}

/// The machine.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// The equipment file.
    pub equipment: String,
    /// Its revision.
    pub equipment_revision: u32,
    /// Its title.
    pub equipment_title: String,
    /// The letter on the name plate, once entered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit_out: Option<String>,
    /// The serial number.
    pub serial: String,
    /// The mark on it.
    pub tag: String,
    /// One line for people, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
}

/// A procedure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Procedure {
    /// Its id.
    pub id: String,
    /// Its revision.
    pub revision: u32,
    /// Its title.
    pub title: String,
}

/// Somebody who worked on the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// The certificate of their qualification, where the roster names one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<String>,
    /// Their id.
    pub id: String,
    /// Their name.
    pub name: String,
    /// Their roles.
    pub roles: Vec<String>,
}

/// One visited instance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Its canonical name.
    pub address: String,
    /// What was answered, for programs.
    pub answer: Answer,
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry that confirmed it after it had been set aside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed: Option<u64>,
    /// The limit, for readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Limit>,
    /// The entry that the answer in force stands in.
    pub n: u64,
    /// When it was seen, where it was entered late.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observed: Option<String>,
    /// `found` or `left`, where the procedure says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<String>,
    /// The safety text that was acknowledged before, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub safety: Option<SafetyRead>,
    /// What the person was told about the outcome.
    pub said: Vec<String>,
    /// What was asked.
    pub text: String,
    /// The verdict in force.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verdict: Option<String>,
    /// The verdict as it was judged when the answer was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verdict_judged: Option<String>,
    /// The answer in words.
    pub what: String,
    /// The titles of the sections and procedures around it, outermost first.
    pub within: Vec<String>,
}

/// An acknowledged safety text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SafetyRead {
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// The SHA-256 of the text as shown.
    pub text: String,
}

/// An answer with everything in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Answer {
    /// Carried out.
    Done,
    /// A list, line by line.
    Items(Vec<Item>),
    /// Findings.
    Found(Vec<Finding>),
    /// A reading.
    Read {
        /// The instrument as it stood.
        instrument: Instrument,
        /// The figure; of several the one that counts.
        reading: Figure,
        /// All readings, where the step asks for several.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        several: Option<Several>,
    },
    /// A figure that the program worked out.
    WorkedOut {
        /// The calculation.
        calculation: String,
        /// What it was given, by input.
        given: BTreeMap<String, String>,
        /// Why it refused what it was given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        refused: Option<String>,
        /// The result.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        result: Option<Figure>,
        /// The working as on paper, line by line.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        working: Vec<String>,
    },
    /// No reading.
    CouldNotMeasure {
        /// Why.
        reason: String,
    },
    /// A stack, layer by layer from the first in.
    Built(Vec<Layer>),
    /// Fasteners, round by round.
    Tightened(Vec<Round>),
    /// A text, letter for letter.
    Entered(String),
    /// A figure that was entered.
    EnteredFigure(Figure),
    /// A photo or file.
    Attached(Evidence),
    /// No photo or file.
    NotAttached {
        /// Why.
        reason: String,
    },
    /// Left out, or done otherwise than written.
    Deviated {
        /// True when it was done, otherwise than written.
        done: bool,
        /// What and why.
        reason: String,
    },
    /// A decision.
    Decided {
        /// Why.
        reason: String,
        /// The verdict.
        verdict: String,
    },
    /// A released hold.
    Released,
    /// A wait.
    Waited {
        /// When it began.
        begun: String,
        /// True where only one clock tells, or the clocks disagree.
        doubtful: bool,
        /// The seconds that passed.
        elapsed_s: u64,
        /// When it ended.
        ended: String,
    },
    /// The end before the end.
    Stopped,
}

/// A figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// As typed.
    pub text: String,
    /// The unit's word.
    pub unit: String,
    /// The exact value with its unit.
    pub value: String,
}

/// One line of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// True when it was so.
    pub so: bool,
    /// The line.
    pub text: String,
}

/// One layer of a stack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Layer {
    /// Its name in the stack.
    pub layer: String,
    /// How its marked face lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lies: Option<String>,
    /// The lot of the part.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The part.
    pub part: String,
    /// True when it lies as it must.
    pub so: bool,
    /// One line for people.
    pub title: String,
}

/// What was tightened with one setting of the wrench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Round {
    /// The fasteners, in order.
    pub fasteners: Vec<Tight>,
    /// The pass, from 1.
    pub pass: u32,
    /// The wrench.
    pub wrench: Wrench,
}

/// One fastener, tightened once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tight {
    /// Its number.
    pub fastener: u32,
    /// What the wrench showed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading: Option<Figure>,
    /// True when it was as it must be.
    pub so: bool,
}

/// A torque wrench as it was set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wrench {
    /// The adapter on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adapter: Option<Adapter>,
    /// The wrench.
    pub instrument: Instrument,
    /// What it was set to.
    pub setting: Figure,
    /// `dry` or `oiled`.
    pub thread: String,
    /// The torque at the fastener that this comes to.
    pub torque: String,
    /// `exact`, or how it was rounded.
    pub worked_out: String,
}

/// An adapter on a torque wrench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adapter {
    /// Between wrench and adapter.
    pub angle: Figure,
    /// From the square to the fastener.
    pub extension: Figure,
    /// From the hand to the square.
    pub length: Figure,
}

/// A re-check of a fastener; it replaces nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Recheck {
    /// The instance.
    pub address: String,
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// `tightening` or `loosening`.
    pub direction: String,
    /// The fastener.
    pub fastener: u32,
    /// The instrument as it stood.
    pub instrument: Instrument,
    /// What it was held against, where the step says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged: Option<String>,
    /// The entry.
    pub n: u64,
    /// The figure.
    pub reading: Figure,
}

/// A fastener that was loosened again, with what no longer counts because of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Loosened {
    /// The instance.
    pub address: String,
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The fastener.
    pub fastener: u32,
    /// The entry.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// What no longer counts.
    pub superseded: Vec<Round>,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Its name.
    pub id: String,
    /// A likely cause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub likely_cause: Option<String>,
    /// What it looks like.
    pub see: String,
}

/// A measuring instrument as it stood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// The last day on which its calibration held.
    pub calibration_due: String,
    /// The certificate.
    pub certificate: String,
    /// The mark on it.
    pub id: String,
    /// Coverage factor.
    pub k: String,
    /// Its kind.
    pub kind: String,
    /// Resolution.
    pub resolution: String,
    /// Expanded uncertainty.
    pub uncertainty: String,
}

/// An instance that was not asked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotApplicable {
    /// Its canonical name.
    pub address: String,
    /// What was not so.
    pub because: String,
    /// What would have been asked.
    pub text: String,
}

/// A correction with both values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// The instance.
    pub address: String,
    /// The value since.
    pub after: String,
    /// When it was corrected.
    pub at: String,
    /// The value before.
    pub before: String,
    /// When that was given.
    pub before_at: String,
    /// By whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_by: Option<String>,
    /// Who corrected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry that corrected.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// The entry that was superseded.
    pub supersedes: u64,
}

/// A signature that no longer counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lapsed {
    /// The instance.
    pub address: String,
    /// The entry of the correction.
    pub by_n: u64,
    /// The entry of the signature.
    pub n: u64,
}

/// A note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// The instance that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// The note.
    pub text: String,
}

/// A sentence about the journal itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JournalNote {
    /// The entry.
    pub n: u64,
    /// What happened.
    pub text: String,
}

/// An answer that no longer belongs to the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Parked {
    /// The instance.
    pub address: String,
    /// When it was given.
    pub at: String,
    /// Who gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// What was asked.
    pub text: String,
    /// The answer in words.
    pub what: String,
}

/// A part that is needed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Why.
    pub because: String,
    /// The number in the shop's store.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Its name.
    pub part: String,
    /// The position that it goes to; empty for the machine.
    pub position: String,
    /// How many.
    pub quantity: u32,
    /// One line for people.
    pub title: String,
}

/// A part that was fitted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fitted {
    /// Who fitted it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Its layer, where it was laid in a stack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// Its lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The entry.
    pub n: u64,
    /// The number in the shop's store.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Its name.
    pub part: String,
    /// The position that it went to; empty for the machine.
    pub position: String,
    /// How many.
    pub quantity: u32,
    /// The step that it went in with.
    pub step: String,
    /// One line for people.
    pub title: String,
}

/// The exceptions as acknowledged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exceptions {
    /// Who looked at them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry that says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub n: Option<u64>,
    /// Each, as it was shown.
    pub shown: Vec<String>,
}

/// A signature in the journal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    /// The instance that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// The claimed time.
    pub at: String,
    /// What is meant, as one word.
    pub meaning: String,
    /// The entry that holds it.
    pub n: u64,
    /// In which role.
    pub role: String,
    /// What is meant, in words.
    pub says: String,
    /// Who signed.
    pub signer: String,
}

/// How the job was stopped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stop {
    /// The instance.
    pub address: String,
    /// The state in which the machine is left.
    pub safe_state: String,
    /// Who is told.
    pub tell: Vec<String>,
    /// Why it ended.
    pub text: String,
}

/// Why a text is not a completion record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordFault {
    /// Not UTF-8.
    #[error("`record.json` is not text; restore it from where it was written")]
    NotText,
    /// Not in canonical form.
    #[error("`record.json` is not as it was written: {0}")]
    NotCanonical(#[from] CanonicalFault),
    /// Written by a later version of this program.
    #[error(
        "`record.json` is written in format {0}, and this program reads {FORMAT}; use a newer version"
    )]
    OtherFormat(String),
    /// A field is missing, unknown or of the wrong shape.
    #[error("`record.json` is not shaped like a completion record: {0}")]
    Shape(String),
}

impl Record {
    /// The JSON Schema of a record, as the text of `schemas/record.schema.json`.
    pub fn schema() -> String {
        canonical::schema_of::<Self>("witnessmark: the completion record of a job")
    }

    /// Reads the bytes of a `record.json`.
    ///
    /// # Errors
    /// The first reason why it is none.
    pub fn parse(bytes: &[u8]) -> Result<Self, RecordFault> {
        let text = std::str::from_utf8(bytes).ok().ok_or(RecordFault::NotText)?;
        let value = canonical::parse(text)?;
        if let Some(format) = value.get("format").and_then(serde_json::Value::as_str)
            && format != FORMAT
        {
            return Err(RecordFault::OtherFormat(format.escape_debug().to_string()));
        }
        serde_json::from_value(value).map_err(|error| RecordFault::Shape(error.to_string()))
    }
}

/// True when `path`, below a job's folder, stands in the manifest of its record.
pub fn is_in_manifest(path: &str) -> bool {
    path.starts_with("files/") || path.starts_with("evidence/")
}
