//! The completion record, `record.json`: what was done to the machine, by whom, and on what grounds.
//!
//! The shapes of the file. [`encode()`] fills them from a job; whether what they say follows from the
//! journal is [`mod@super::verify`]'s matter.
//!
//! Change list of the format:
//! - 1.1: answers that stand on the first page of the report, as `headline` of a step; `name` of a
//!   limit; instruments read with nothing in them, the hash of a certificate, limits kept back.
//! - 1.0: the first.

mod answers;
mod departures;
mod dispositions;
mod encode;
mod fasteners;
mod limit;
mod version;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::release::ReleaseWire;
use crate::canonical::{self, CanonicalFault};

pub use answers::{
    Adapter, Answer, Evidence, EvidenceBeside, Figure, Finding, Headline, Instrument, Item, Layer,
    Loosened, Recheck, Round, SafetyRead, Step, Tight, Wrench, ZeroCheck,
};
pub use departures::{
    Concession, Correction, Disposition, Exceptions, Expired, Halt, JournalNote, Lapsed, LateEntry,
    NotApplicable, Parked, Resumed, Stop,
};
pub(super) use encode::says;
pub use encode::{encode, encode_as, fitted_of};
pub use limit::{Limit, Several, WrongAcceptances};
pub use version::Version;

/// The format that this program writes, `MAJOR.MINOR`.
pub const FORMAT: &str = Version::NEWEST.word();

/// A completion record. Figures, times and hashes are text, letter for letter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Verdicts in the place of those of the rules.
    pub concessions: Vec<Concession>,
    /// Corrections, in order.
    pub corrections: Vec<Correction>,
    /// Failed results, each with what was done about it, in walk order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dispositions: Vec<Disposition>,
    /// Photos and files beside steps that did not ask for one; the others stand in their steps.
    pub evidence: Vec<EvidenceBeside>,
    /// The exceptions as the releaser acknowledged them.
    pub exceptions: Exceptions,
    /// Parts that were fitted, in walk order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fitted: Vec<Fitted>,
    /// States of the machine that had to be verified again.
    pub expired: Vec<Expired>,
    /// The format that it is written in, one of [`Version`].
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
    /// Readings with nothing in the instrument, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zero_checks: Vec<ZeroCheck>,
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
    /// Who fitted it, or signs that it was.
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
    /// The step that it went in with, or whose result called for it.
    pub step: String,
    /// One line for people.
    pub title: String,
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
        "`record.json` is written in format {0}, and this program reads {known}; use a newer version",
        known = Version::words()
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
            && Version::parse(format).is_none()
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
