//! A failed command: heading, sentence, hints, and the exit status that goes with its kind.

use super::exit;
use crate::demo::DemoError;
use crate::ports::SignError;
use crate::record::KeyFault;
use crate::rehearse::RehearseError;
use crate::session::SubmitError;
use crate::session::open::OpenError;
use crate::session::play::PlayError;
use crate::session::release::ReleaseError;
use crate::session::shop::ApproveError;
use crate::store::StoreError;

/// What kind of failure, which decides heading and exit status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Usage,
    Findings,
    Refused,
    Damaged,
    Machine,
}

/// A failed command.
#[derive(Debug)]
pub(super) struct Failure {
    kind: Kind,
    text: String,
    hints: Vec<String>,
}

impl Failure {
    pub(super) fn new(kind: Kind, text: impl Into<String>) -> Self {
        Self { kind, text: text.into(), hints: Vec::new() }
    }

    pub(super) fn usage(text: impl Into<String>) -> Self {
        Self::new(Kind::Usage, text)
    }

    #[must_use]
    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    pub(super) fn status(&self) -> u8 {
        match self.kind {
            Kind::Usage => exit::USAGE,
            Kind::Findings => exit::FINDINGS,
            Kind::Refused => exit::REFUSED,
            Kind::Damaged => exit::DAMAGED,
            Kind::Machine => exit::MACHINE,
        }
    }

    pub(super) fn text(&self) -> String {
        let heading = match self.kind {
            Kind::Usage => "cannot do that",
            Kind::Findings => "mistakes found",
            Kind::Refused => "refused",
            Kind::Damaged => "damaged",
            Kind::Machine => "not done",
        };
        let mut text = format!("{heading}: {}", self.text);
        for hint in &self.hints {
            text.push_str("\n  next: ");
            text.push_str(hint);
        }
        text
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let kind = match &error {
            StoreError::Journal { .. }
            | StoreError::NoJournal { .. }
            | StoreError::ChangedOutside { .. } => Kind::Damaged,
            _ => Kind::Machine,
        };
        Self::new(kind, error.to_string())
    }
}

impl From<OpenError> for Failure {
    fn from(error: OpenError) -> Self {
        let text = error.to_string();
        match error {
            OpenError::Store(error) => error.into(),
            OpenError::Submit(error) => error.into(),
            OpenError::Files(_) => {
                Self::new(Kind::Findings, text).hint("`witnessmark check FILES` shows them again")
            }
            OpenError::ListRolledBack(_) => Self::new(Kind::Refused, text)
                .hint("`witnessmark verify` of that job shows its list; ask who keeps the shop key"),
            OpenError::NotApproved(_) => Self::new(Kind::Refused, text).hint(
                "`witnessmark approve PROCEDURE --equipment ID --by PERSON` approves them as they stand",
            ),
            OpenError::Broken(_) => Self::new(Kind::Refused, text)
                .hint("`witnessmark prove FILES` shows the answers that break it"),
            OpenError::NoMachine { .. }
            | OpenError::OtherSerials { .. }
            | OpenError::Person(_) | OpenError::Released(_) => {
                Self::new(Kind::Refused, text)
            }
            OpenError::Trust(_)
            | OpenError::NotText(_)
            | OpenError::Roster(_)
            | OpenError::Approvals(_)
            | OpenError::NotAJob(_)
            | OpenError::OtherRules { .. }
            | OpenError::FileChanged(_) => Self::new(Kind::Damaged, text),
        }
    }
}

impl From<SubmitError> for Failure {
    fn from(error: SubmitError) -> Self {
        let text = error.to_string();
        match error {
            SubmitError::NotSaved(_) | SubmitError::NotRead(_) => Self::new(Kind::Machine, text),
            SubmitError::Refused(_) | SubmitError::Signature(_) | SubmitError::NotSigned(_) => {
                Self::new(Kind::Refused, text)
            }
        }
    }
}

impl From<ReleaseError> for Failure {
    fn from(error: ReleaseError) -> Self {
        let text = error.to_string();
        let kind = match &error {
            ReleaseError::Store(_) | ReleaseError::Submit(SubmitError::NotSaved(_)) => {
                Kind::Machine
            }
            ReleaseError::FileChanged(_) | ReleaseError::NotGood(_) => Kind::Damaged,
            _ => Kind::Refused,
        };
        Self::new(kind, text)
            .hint("`witnessmark walk JOB` goes on; nothing that was entered is lost")
    }
}

impl From<PlayError> for Failure {
    fn from(error: PlayError) -> Self {
        let text = error.to_string();
        match error {
            PlayError::Submit { error, .. } if matches!(*error, SubmitError::NotSaved(_)) => {
                Self::new(Kind::Machine, text)
            }
            _ => Self::new(Kind::Refused, text),
        }
    }
}

impl From<ApproveError> for Failure {
    fn from(error: ApproveError) -> Self {
        match error {
            ApproveError::Open(error) => error.into(),
            ApproveError::Store(error) => error.into(),
            other => Self::new(Kind::Refused, other.to_string()),
        }
    }
}

impl From<RehearseError> for Failure {
    fn from(error: RehearseError) -> Self {
        match error {
            RehearseError::Open(error) => error.into(),
            RehearseError::Approve(error) => error.into(),
            missing @ (RehearseError::Missing { .. } | RehearseError::Nobody { .. }) => {
                Self::new(Kind::Findings, missing.to_string())
            }
        }
    }
}

impl From<DemoError> for Failure {
    fn from(error: DemoError) -> Self {
        match error {
            DemoError::Store(error) => error.into(),
            DemoError::Approve(error) => error.into(),
            DemoError::Open(error) => error.into(),
            other => Self::new(Kind::Machine, other.to_string()),
        }
    }
}

impl From<SignError> for Failure {
    fn from(error: SignError) -> Self {
        Self::new(Kind::Refused, error.to_string())
    }
}

impl From<KeyFault> for Failure {
    fn from(error: KeyFault) -> Self {
        Self::new(Kind::Refused, error.to_string())
    }
}
