//! The table of signature namespaces: what a signature can mean, and who may mean it.
//!
//! A namespace is inside the signed bytes, so a signature for one purpose is worth nothing for
//! another. The table is one piece and has one version: a change of what a meaning covers takes a
//! new `.v2` name, never another reading of an old one.

use crate::ids::Role;
use crate::walk::event::Meaning;

/// The principal of the shop key in `allowed_signers`. No person may have this id.
pub const SHOP_PRINCIPAL: &str = "shop";

/// One purpose of a signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Namespace {
    /// "I am the person working from here on."
    Session,
    /// "I carried out these entries."
    Performed,
    /// "I release this hold."
    Hold,
    /// "I decide this verdict", and corrections of what only a mechanic answers.
    Decision,
    /// "I let this step be left out, or be done otherwise than written."
    Deviation,
    /// "I put this verdict in the place of that of the rules."
    Concession,
    /// "This was done about a failed result."
    Disposition,
    /// "The work that was stopped may go on."
    Resumption,
    /// "This job is finished", over `record.json`.
    Release,
    /// "This revision of this file may be worked by."
    Approval,
    /// The roster and instrument list, by the shop key.
    Roster,
    /// The list of approvals as a whole, by the shop key.
    Approvals,
}

impl Namespace {
    /// All namespaces of version 1 of the table.
    pub const ALL: [Self; 12] = [
        Self::Session,
        Self::Performed,
        Self::Hold,
        Self::Decision,
        Self::Deviation,
        Self::Concession,
        Self::Disposition,
        Self::Resumption,
        Self::Release,
        Self::Approval,
        Self::Roster,
        Self::Approvals,
    ];

    /// The namespace as signatures and `allowed_signers` write it.
    pub fn text(self) -> &'static str {
        match self {
            Self::Session => "session.v1@witnessmark",
            Self::Performed => "performed.v1@witnessmark",
            Self::Hold => "hold.v1@witnessmark",
            Self::Decision => "decision.v1@witnessmark",
            Self::Deviation => "deviation.v1@witnessmark",
            Self::Concession => "concession.v1@witnessmark",
            Self::Disposition => "disposition.v1@witnessmark",
            Self::Resumption => "resumption.v1@witnessmark",
            Self::Release => "release.v1@witnessmark",
            Self::Approval => "approval.v1@witnessmark",
            Self::Roster => "roster.v1@witnessmark",
            Self::Approvals => "approvals.v1@witnessmark",
        }
    }

    /// Reads a namespace of this table.
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|namespace| namespace.text() == text)
    }

    /// What a signature in this namespace is, for people.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::Session => "a signature that identifies a person",
            Self::Performed => "a performer's signature",
            Self::Hold => "a released hold",
            Self::Decision => "a mechanic's decision",
            Self::Deviation => "a deviation that was allowed",
            Self::Concession => "a concession",
            Self::Disposition => "what was done about a failed result",
            Self::Resumption => "leave to go on after a stop",
            Self::Release => "a release",
            Self::Approval => "an approval",
            Self::Roster => "the shop's signature of its roster",
            Self::Approvals => "the shop's signature of its list of approvals",
        }
    }

    /// The roles that may sign in it; none for what only the shop key signs.
    pub fn roles(self) -> &'static [Role] {
        match self {
            Self::Session => &[Role::Apprentice, Role::Mechanic, Role::Author],
            Self::Performed => &[Role::Apprentice, Role::Mechanic],
            Self::Hold
            | Self::Decision
            | Self::Deviation
            | Self::Concession
            | Self::Disposition
            | Self::Resumption
            | Self::Release
            | Self::Approval => &[Role::Mechanic],
            Self::Roster | Self::Approvals => &[],
        }
    }

    /// True when only the shop key signs in it.
    pub fn is_the_shops(self) -> bool {
        self.roles().is_empty()
    }

    /// The namespace of a meaning inside a journal.
    pub fn of(meaning: &Meaning) -> Self {
        match meaning {
            Meaning::Identified => Self::Session,
            Meaning::Performed { .. } => Self::Performed,
            Meaning::Decided { .. } => Self::Decision,
            Meaning::HoldReleased => Self::Hold,
            Meaning::Deviated { .. } => Self::Deviation,
            Meaning::Conceded { .. } => Self::Concession,
            Meaning::Disposed(_) => Self::Disposition,
            Meaning::Resumed { .. } => Self::Resumption,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::model::Verdict;
    use crate::walk::disposition::{Disposition, Said};

    #[test]
    fn every_meaning_of_a_journal_has_the_namespace_of_the_table() {
        let meanings = [
            (Meaning::Identified, "session.v1@witnessmark"),
            (Meaning::Performed { from_n: 1, to_n: 2 }, "performed.v1@witnessmark"),
            (
                Meaning::Decided { verdict: Verdict::Accept, reason: "r".into() },
                "decision.v1@witnessmark",
            ),
            (Meaning::HoldReleased, "hold.v1@witnessmark"),
            (Meaning::Deviated { done: true, reason: "r".into() }, "deviation.v1@witnessmark"),
            (
                Meaning::Conceded { verdict: Verdict::Accept, reason: "r".into() },
                "concession.v1@witnessmark",
            ),
            (
                Meaning::Disposed(Said::parse(Disposition::Scrapped, "r")),
                "disposition.v1@witnessmark",
            ),
            (Meaning::Resumed { reason: "r".into() }, "resumption.v1@witnessmark"),
        ];
        for (meaning, text) in meanings {
            assert_eq!(Namespace::of(&meaning).text(), text);
        }
    }

    #[test]
    fn names_are_read_back_and_hold_nothing_that_a_list_would_split() {
        for namespace in Namespace::ALL {
            assert_eq!(Namespace::parse(namespace.text()), Some(namespace));
            // `"`, `,`, `*`, `?` and `!` mean something in `allowed_signers`.
            let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b".@".contains(&b);
            assert!(namespace.text().bytes().all(plain));
        }
        assert_eq!(Namespace::parse("release.v2@witnessmark"), None);
    }

    #[test]
    fn an_apprentice_signs_for_their_own_work_only() {
        let of = |role: Role| -> Vec<Namespace> {
            Namespace::ALL.into_iter().filter(|n| n.roles().contains(&role)).collect()
        };
        assert_eq!(of(Role::Apprentice), [Namespace::Session, Namespace::Performed]);
        assert_eq!(of(Role::Author), [Namespace::Session]);
        assert_eq!(of(Role::Mechanic).len(), 10);
    }
}
