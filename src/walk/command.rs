//! What a person may ask for, in the imperative.

use super::address::Address;
use super::event::{Answer, Laid, Signed};
use crate::ids::Sha256;

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
    /// One layer of a stack.
    LayLayer {
        /// The instance.
        address: Address,
        /// The layer.
        laid: Laid,
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
