//! What a person may ask for, in the imperative.

use super::address::Address;
use super::event::{Answer, Evidence, Signed};
use crate::ids::{PersonId, Sha256};
use crate::procedure::model::Verdict;

/// A move of a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Command {
    /// Work from here on as the signer.
    Identify(Box<Signed>),
    /// The safety text of the instance is read.
    AcknowledgeSafety {
        /// The instance.
        address: Address,
    },
    /// One item of a list.
    CheckItem {
        /// The instance.
        address: Address,
        /// The item, from 0.
        item: u32,
        /// True when it is so.
        so: bool,
    },
    /// Answer the instance that is asked.
    Answer {
        /// The instance.
        address: Address,
        /// The answer.
        answer: Answer,
        /// The signature, for decisions and holds.
        signed: Option<Box<Signed>>,
    },
    /// Replace an earlier answer.
    Correct {
        /// The instance.
        address: Address,
        /// The new answer.
        answer: Answer,
        /// Why.
        reason: String,
        /// The signature, for decisions.
        signed: Option<Box<Signed>>,
    },
    /// The parked answer that is asked again still stands.
    Confirm {
        /// The instance.
        address: Address,
    },
    /// Put another verdict in the place of that of the rules.
    Concede {
        /// The instance.
        address: Address,
        /// The verdict.
        verdict: Verdict,
        /// Why.
        reason: String,
        /// The signature.
        signed: Box<Signed>,
    },
    /// A person is told of a witness point.
    TellWitness {
        /// The instance.
        address: Address,
        /// Who is told.
        who: PersonId,
    },
    /// Put a photo or file beside a step.
    AddEvidence {
        /// The instance, where it is about one.
        address: Option<Address>,
        /// The file, which lies in the job's folder by now.
        evidence: Evidence,
    },
    /// The time of a wait runs from now on.
    BeginWait {
        /// The instance.
        address: Address,
    },
    /// The time of a wait has passed.
    EndWait {
        /// The instance.
        address: Address,
    },
    /// Add a note.
    AddNote {
        /// The instance that it is about.
        address: Option<Address>,
        /// The note.
        text: String,
    },
    /// Sign for the work entries of a range.
    SignPerformed(Box<Signed>),
    /// The releaser has looked at each exception.
    AcknowledgeExceptions {
        /// The exceptions as shown.
        shown: Vec<String>,
    },
    /// The record is written, signed and checked.
    MarkReleased {
        /// The hash of `record.json`.
        record: Sha256,
        /// The hash of `record.json.sig`.
        signature: Sha256,
    },
}
