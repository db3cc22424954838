//! What a person may ask for, in the imperative.

use super::address::Address;
use super::disposition::Said;
use super::event::{
    Adapter, Answer, Direction, Evidence, InstrumentSnapshot, Laid, Signed, Tight, Wrench,
};
use super::late::Late;
use crate::ids::{Name, PersonId, Sha256};
use crate::language::Thread;
use crate::procedure::model::Verdict;
use crate::units::Reading;

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
    /// The wrench is set for the pass that is due.
    SetWrench {
        /// The instance.
        address: Address,
        /// The wrench as far as it is known.
        wrench: Box<WrenchEntry>,
    },
    /// One fastener.
    Tighten {
        /// The instance.
        address: Address,
        /// The fastener.
        tight: Tight,
    },
    /// A tightened fastener was checked again.
    Recheck {
        /// The instance.
        address: Address,
        /// The fastener.
        fastener: u32,
        /// Which way it was turned.
        direction: Direction,
        /// The reading.
        reading: Reading,
        /// The instrument as it stands.
        instrument: Box<InstrumentSnapshot>,
    },
    /// A tightened fastener was loosened again.
    Loosen {
        /// The instance.
        address: Address,
        /// The fastener.
        fastener: u32,
        /// Why.
        reason: String,
    },
    /// A move that is entered later than it was made.
    Late {
        /// When it was made, and why it was not entered then.
        late: Late,
        /// The move.
        command: Box<Self>,
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
    /// State what was done about a failed result.
    Dispose {
        /// The instance.
        address: Address,
        /// What was done.
        said: Said,
        /// The signature.
        signed: Box<Signed>,
    },
    /// Stop the work and make the machine safe.
    Halt {
        /// The standing condition that was seen, where it was one.
        standing: Option<Name>,
        /// Why.
        reason: String,
    },
    /// Let the work go on.
    Resume {
        /// Why.
        reason: String,
        /// The signature.
        signed: Box<Signed>,
    },
    /// Pause.
    Pause {
        /// Why, or what is to be known.
        reason: String,
    },
    /// Go on after a pause or somebody else, having looked at these lines.
    TakeUp {
        /// The lines as shown.
        shown: Vec<String>,
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
    /// An instrument was read with nothing in it.
    CheckZero {
        /// The instrument as it stands.
        instrument: Box<InstrumentSnapshot>,
        /// What it shows.
        reading: Reading,
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

impl Command {
    /// The move itself, and when it was really made where it is entered late.
    pub fn split_late(&self) -> (Option<&Late>, &Self) {
        if let Self::Late { late, command } = self { (Some(late), command) } else { (None, self) }
    }

    /// The step of a move that can be entered later than it was made: an answer of one's own.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "all other moves are made when they are entered"
    )]
    pub fn may_be_late(&self) -> Option<&Address> {
        match self {
            Self::Answer { address, signed: None, .. }
            | Self::Correct { address, signed: None, .. }
            | Self::CheckItem { address, .. }
            | Self::LayLayer { address, .. } => Some(address),
            _ => None,
        }
    }
}

/// A torque wrench as a person says that it is set. A figure may be missing; then the move is
/// refused and what was typed is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrenchEntry {
    /// The wrench.
    pub instrument: InstrumentSnapshot,
    /// The setting.
    pub setting: Reading,
    /// The adapter, where one is on it.
    pub adapter: Option<AdapterEntry>,
    /// The thread.
    pub thread: Thread,
}

/// An adapter as far as it is known.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AdapterEntry {
    /// From the middle of the hand to the square of the wrench.
    pub length: Option<Reading>,
    /// From the square to the middle of the fastener.
    pub extension: Option<Reading>,
    /// Between the two.
    pub angle: Option<Reading>,
}

impl From<&Wrench> for WrenchEntry {
    fn from(wrench: &Wrench) -> Self {
        let entry = |adapter: &Adapter| AdapterEntry {
            length: Some(adapter.length.clone()),
            extension: Some(adapter.extension.clone()),
            angle: Some(adapter.angle.clone()),
        };
        Self {
            instrument: wrench.instrument.clone(),
            setting: wrench.setting.clone(),
            adapter: wrench.adapter.as_ref().map(entry),
            thread: wrench.thread,
        }
    }
}
