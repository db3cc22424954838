//! What was answered step by step, with the figure, the instrument and the limit that each rests on.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limit::{Limit, Several};

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
    /// What the first page of the report says of it; from format 1.1 on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub headline: Option<Headline>,
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

/// An answer that stands on the first page of the report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Headline {
    /// What the answer is called there.
    pub label: String,
    /// The answer as an owner reads it.
    pub says: String,
    /// Where it stands: `found`, `product`, `cause`, `change` or `next_service`.
    pub under: String,
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
    /// The SHA-256 of the certificate's file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate_sha256: Option<String>,
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

/// A reading with nothing in the instrument.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZeroCheck {
    /// When.
    pub at: String,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The instrument as it stood.
    pub instrument: Instrument,
    /// The entry.
    pub n: u64,
    /// What it showed.
    pub reading: Figure,
    /// True when that is near enough to zero.
    pub so: bool,
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
