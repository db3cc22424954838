//! Signatures inside a journal: each field of the statement against what the entry must say.
//!
//! What an entry must say is the caller's matter, and so are the statement's bytes: this compares,
//! looks the signer up, and verifies.

use super::namespaces::Namespace;
use super::roster::{AuthorityFault, Grant, authority, owner_of};
use super::sshsig::{self, SignatureFault};
use crate::ids::{JobId, Moment, PersonId, Role, Sha256};
use crate::shop::model::Shop;
use crate::walk::address::Address;
use crate::walk::event::{Event, Meaning, Signed, Statement};

/// What the statement of an entry must say.
#[derive(Debug, Clone)]
pub struct Expected<'a> {
    /// The job.
    pub job: &'a JobId,
    /// The number of the entry before.
    pub head_n: u64,
    /// The SHA-256 of that entry's line.
    pub head: Sha256,
    /// The step instance, where the entry is about one.
    pub address: Option<&'a Address>,
    /// What is meant.
    pub meaning: &'a Meaning,
    /// Who must have signed, where only one person may.
    pub signer: Option<&'a PersonId>,
    /// The time of the entry before; a statement is not older than what it speaks of.
    pub not_before: Option<Moment>,
    /// The time of the entry that holds the statement.
    pub not_after: Option<Moment>,
}

/// Why a signed statement does not count.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StatementFault {
    /// About another job.
    #[error("it was signed for the job {found}, not for {wanted}")]
    OtherJob {
        /// What it says.
        found: JobId,
        /// What it must say.
        wanted: JobId,
    },
    /// Over another entry number.
    #[error("it was signed when the last entry was number {found}; here that is number {wanted}")]
    OtherHeadNumber {
        /// What it says.
        found: u64,
        /// What it must say.
        wanted: u64,
    },
    /// Over other entries.
    #[error(
        "it was signed over other entries: their hash ends in {}, and that of the entries here \
         in {}",
        tail(found),
        tail(wanted)
    )]
    OtherHead {
        /// What it says.
        found: Sha256,
        /// What it must say.
        wanted: Sha256,
    },
    /// About another step.
    #[error("it was signed for {}, not for {}", place(found.as_ref()), place(wanted.as_ref()))]
    OtherAddress {
        /// What it says.
        found: Option<Address>,
        /// What it must say.
        wanted: Option<Address>,
    },
    /// Meant something else.
    #[error("it says {}, and the entry needs {}", told(found), told(wanted))]
    OtherMeaning {
        /// What it says.
        found: Meaning,
        /// What it must say.
        wanted: Meaning,
    },
    /// Signed by somebody else.
    #[error("`{found}` signed it, and only `{wanted}` may: they must sign themselves")]
    OtherSigner {
        /// Who signed.
        found: PersonId,
        /// Who should have.
        wanted: PersonId,
    },
    /// Signed in a role that cannot mean this.
    #[error("`{signer}` signed it as {role}, and {} needs {}", .namespace.spoken(), roles(*.namespace))]
    RoleTooLow {
        /// Who signed.
        signer: PersonId,
        /// In which role.
        role: Role,
        /// For what.
        namespace: Namespace,
    },
    /// Claimed to be older than what it speaks of.
    #[error(
        "it claims to be signed on {}, before the entry that it follows ({}); the clock was \
         wrong or the time was made up",
        .at.spoken(),
        .previous.spoken()
    )]
    BeforePreviousEntry {
        /// The claimed time.
        at: Moment,
        /// The time of the entry before.
        previous: Moment,
    },
    /// Claimed to be younger than the entry that holds it.
    #[error(
        "it claims to be signed on {}, after the entry that holds it was written ({}); the clock \
         was wrong or the time was made up",
        .at.spoken(),
        .entry.spoken()
    )]
    AfterItsEntry {
        /// The claimed time.
        at: Moment,
        /// The time of the entry.
        entry: Moment,
    },
    /// The last entry, which nothing signs, bears another time than the release that it is about.
    #[error(
        "the job was released on {}, and the entry that says so claims {}; nobody signed that time",
        .at.spoken(),
        .entry.spoken()
    )]
    NotItsEntry {
        /// The signed time.
        at: Moment,
        /// The time of the entry.
        entry: Moment,
    },
    /// The signer had no right to.
    #[error(transparent)]
    Authority(AuthorityFault),
    /// Signed with the key of another person of the roster.
    #[error("it is said to be signed by `{said}`, but the key is that of `{found}`")]
    OthersKey {
        /// Who is said to have signed.
        said: PersonId,
        /// Whose key it is.
        found: PersonId,
    },
    /// The signature does not hold.
    #[error(transparent)]
    Signature(SignatureFault),
}

fn tail(hash: &Sha256) -> String {
    hash.to_string().split_off(56)
}

fn place(address: Option<&Address>) -> String {
    address.map_or_else(|| "the job as a whole".to_owned(), |address| format!("`{address}`"))
}

fn told(meaning: &Meaning) -> String {
    match meaning {
        Meaning::Performed { from_n, to_n } => {
            format!("`{}` for the entries {from_n} to {to_n}", meaning.word())
        }
        Meaning::Decided { verdict, reason } | Meaning::Conceded { verdict, reason } => {
            let reason = reason.escape_debug();
            format!("`{}` {} because \u{201c}{reason}\u{201d}", meaning.word(), verdict.word())
        }
        Meaning::Deviated { done, reason } => {
            let what = if *done { "done otherwise" } else { "left out" };
            let reason = reason.escape_debug();
            format!("`{}` {what} because \u{201c}{reason}\u{201d}", meaning.word())
        }
        Meaning::Disposed(said) => {
            let (what, reason) = (said.disposition.word(), said.reason.escape_debug());
            let lot = said.lot.as_ref().map_or_else(String::new, |lot| {
                format!(", lot \u{201c}{}\u{201d},", lot.escape_debug())
            });
            format!("`{}` {what}{lot} because \u{201c}{reason}\u{201d}", meaning.word())
        }
        Meaning::Resumed { reason } => {
            let reason = reason.escape_debug();
            format!("`{}` because \u{201c}{reason}\u{201d}", meaning.word())
        }
        Meaning::Identified | Meaning::HoldReleased => format!("`{}`", meaning.word()),
    }
}

fn roles(namespace: Namespace) -> &'static str {
    match namespace.roles() {
        [Role::Mechanic] => "a mechanic",
        [_, ..] => "an apprentice or mechanic",
        [] => "the shop key",
    }
}

/// The signature that an event carries, and the step that it must be about.
pub fn signed_of(event: &Event) -> Option<(&Signed, Option<&Address>)> {
    match event {
        Event::Identified(signed)
        | Event::PerformedSigned(signed)
        | Event::WorkResumed { signed, .. } => Some((signed, None)),
        Event::Conceded { address, signed, .. }
        | Event::Disposed { address, signed, .. }
        | Event::Answered { address, signed: Some(signed), .. }
        | Event::Corrected { address, signed: Some(signed), .. } => Some((signed, Some(address))),
        Event::Answered { signed: None, .. }
        | Event::Corrected { signed: None, .. }
        | Event::JobOpened(_)
        | Event::SafetyAcknowledged { .. }
        | Event::ItemChecked { .. }
        | Event::LayerLaid { .. }
        | Event::WrenchSet { .. }
        | Event::FastenerTightened { .. }
        | Event::FastenerRechecked { .. }
        | Event::FastenerLoosened { .. }
        | Event::Confirmed { .. }
        | Event::TokenExpired { .. }
        | Event::WorkHalted { .. }
        | Event::Paused { .. }
        | Event::TakenUp { .. }
        | Event::WitnessTold { .. }
        | Event::EvidenceAdded { .. }
        | Event::WaitBegun { .. }
        | Event::ZeroChecked { .. }
        | Event::NoteAdded { .. }
        | Event::TornTailSetAside { .. }
        | Event::ClockWentBack { .. }
        | Event::ExceptionsAcknowledged { .. }
        | Event::Released { .. } => None,
    }
}

/// Checks every field of a statement, the signer's right to make it, and its signature over
/// `statement_bytes`, the canonical bytes of that same statement.
///
/// # Errors
/// Every fault found, fields first.
pub fn check_signed(
    signed: &Signed,
    shop: &Shop,
    expected: &Expected<'_>,
    statement_bytes: &[u8],
) -> Result<Grant, Vec<StatementFault>> {
    let statement = &signed.statement;
    let mut faults = fields(statement, expected);
    let namespace = Namespace::of(&statement.meaning);
    let by = Signer { person: &statement.signer, role: statement.role, at: statement.at };
    match check_signer(&by, shop, namespace, statement_bytes, &signed.signature) {
        Ok(grant) if faults.is_empty() => Ok(grant),
        Ok(_) => Err(faults),
        Err(more) => {
            faults.extend(more);
            Err(faults)
        }
    }
}

fn fields(statement: &Statement, expected: &Expected<'_>) -> Vec<StatementFault> {
    let mut faults = Vec::new();
    if statement.job != *expected.job {
        let (found, wanted) = (statement.job.clone(), expected.job.clone());
        faults.push(StatementFault::OtherJob { found, wanted });
    }
    if statement.head_n != expected.head_n {
        let (found, wanted) = (statement.head_n, expected.head_n);
        faults.push(StatementFault::OtherHeadNumber { found, wanted });
    }
    if statement.head != expected.head {
        let (found, wanted) = (statement.head, expected.head);
        faults.push(StatementFault::OtherHead { found, wanted });
    }
    if statement.address.as_ref() != expected.address {
        let (found, wanted) = (statement.address.clone(), expected.address.cloned());
        faults.push(StatementFault::OtherAddress { found, wanted });
    }
    if statement.meaning != *expected.meaning {
        let (found, wanted) = (statement.meaning.clone(), expected.meaning.clone());
        faults.push(StatementFault::OtherMeaning { found, wanted });
    }
    if let Some(wanted) = expected.signer
        && statement.signer != *wanted
    {
        let (found, wanted) = (statement.signer.clone(), wanted.clone());
        faults.push(StatementFault::OtherSigner { found, wanted });
    }
    faults.extend(times(statement.at, expected.not_before, expected.not_after));
    faults
}

pub(super) fn times(
    at: Moment,
    not_before: Option<Moment>,
    not_after: Option<Moment>,
) -> impl Iterator<Item = StatementFault> {
    let early = not_before
        .filter(|previous| at.time() < previous.time())
        .map(|previous| StatementFault::BeforePreviousEntry { at, previous });
    let late = not_after
        .filter(|entry| entry.time() < at.time())
        .map(|entry| StatementFault::AfterItsEntry { at, entry });
    early.into_iter().chain(late)
}

/// Who a statement says has signed, as what and when.
pub(super) struct Signer<'a> {
    /// Who.
    pub(super) person: &'a PersonId,
    /// As what.
    pub(super) role: Role,
    /// When.
    pub(super) at: Moment,
}

/// Checks that the signer might sign for this purpose, had the role, and did sign.
pub(super) fn check_signer(
    signer: &Signer<'_>,
    shop: &Shop,
    namespace: Namespace,
    bytes: &[u8],
    signature: &str,
) -> Result<Grant, Vec<StatementFault>> {
    let mut faults = Vec::new();
    if !namespace.roles().contains(&signer.role) {
        let (person, role) = (signer.person.clone(), signer.role);
        faults.push(StatementFault::RoleTooLow { signer: person, role, namespace });
    }
    let grant = match authority(shop, signer.person, signer.role, signer.at) {
        Ok(grant) => grant,
        Err(fault) => {
            faults.push(StatementFault::Authority(fault));
            return Err(faults);
        }
    };
    if let Err(fault) = sshsig::verify(&grant.key, namespace, bytes, signature) {
        faults.push(whose(shop, signer.person, fault));
    }
    if faults.is_empty() { Ok(grant) } else { Err(faults) }
}

/// Names the owner of the key, when another key made the signature.
fn whose(shop: &Shop, said: &PersonId, fault: SignatureFault) -> StatementFault {
    match fault {
        SignatureFault::OtherKey { found, wanted } => match owner_of(shop, &found) {
            Some(found) => StatementFault::OthersKey { said: said.clone(), found },
            None => StatementFault::Signature(SignatureFault::OtherKey { found, wanted }),
        },
        fault => StatementFault::Signature(fault),
    }
}

#[cfg(test)]
mod tests {
    use super::super::roster::tests::{id, moment, pair, shop};
    use super::*;
    use crate::procedure::model::Verdict;

    const AT: &str = "2026-03-01T10:00:00.000+01:00";

    fn statement(signer: &str, role: Role, meaning: Meaning) -> Statement {
        Statement {
            job: JobId::numbered(2026, 31),
            head_n: 7,
            head: Sha256::of(b"line 7"),
            address: None,
            signer: id(signer),
            role,
            meaning,
            at: moment(AT),
        }
    }

    /// Stands in for the canonical bytes, which the journal encodes.
    fn bytes(statement: &Statement) -> Vec<u8> {
        format!("{statement:?}").into_bytes()
    }

    fn expected<'a>(job: &'a JobId, meaning: &'a Meaning) -> Expected<'a> {
        Expected {
            job,
            head_n: 7,
            head: Sha256::of(b"line 7"),
            address: None,
            meaning,
            signer: None,
            not_before: Some(moment(AT)),
            not_after: Some(moment(AT)),
        }
    }

    fn check_as(
        statement: Statement,
        key: &str,
        expected: &Expected<'_>,
    ) -> Result<Grant, Vec<StatementFault>> {
        let bytes = bytes(&statement);
        let signature = pair(key).sign(Namespace::of(&statement.meaning), &bytes);
        check_signed(&Signed { statement, signature }, &shop(), expected, &bytes)
    }

    /// A statement that says all it must say, signed with `key`.
    fn check_key(statement: Statement, key: &str) -> Result<Grant, Vec<StatementFault>> {
        let (job, meaning) = (statement.job.clone(), statement.meaning.clone());
        check_as(statement, key, &expected(&job, &meaning))
    }

    fn check(signer: &str, role: Role, meaning: Meaning) -> Result<Grant, Vec<StatementFault>> {
        check_key(statement(signer, role, meaning), signer)
    }

    fn decided() -> Meaning {
        Meaning::Decided { verdict: Verdict::Accept, reason: "within wear".into() }
    }

    #[test]
    fn each_meaning_takes_its_roles() {
        let performed = || Meaning::Performed { from_n: 1, to_n: 7 };
        for role in [Role::Apprentice, Role::Mechanic] {
            assert!(check("i.varga", role, Meaning::Identified).is_ok());
            assert!(check("i.varga", role, performed()).is_ok());
        }
        assert!(check("t.lehrling", Role::Apprentice, performed()).is_ok());
        assert!(check("a.writer", Role::Author, Meaning::Identified).is_ok());
        for meaning in [decided(), Meaning::HoldReleased] {
            assert_eq!(
                check("i.varga", Role::Mechanic, meaning.clone()).map(|grant| grant.person),
                Ok(id("i.varga"))
            );
            assert!(matches!(
                check("t.lehrling", Role::Apprentice, meaning.clone()).unwrap_err()[..],
                [StatementFault::RoleTooLow { .. }]
            ));
            assert!(matches!(
                check("t.lehrling", Role::Mechanic, meaning).unwrap_err()[..],
                [StatementFault::Authority(AuthorityFault::RoleMissing { .. })]
            ));
        }
        let author = check("a.writer", Role::Author, performed()).unwrap_err();
        assert_eq!(
            author[0].to_string(),
            "`a.writer` signed it as author, and a performer's signature needs an apprentice or \
             mechanic"
        );
    }

    #[test]
    fn every_field_is_compared_and_told_apart() {
        let address = Address::parse("teardown/valves[cylinder=2]/spring").unwrap();
        let (job, meaning, varga) = (JobId::numbered(2026, 32), decided(), id("i.varga"));
        let hold = || statement("m.both", Role::Mechanic, Meaning::HoldReleased);
        let other = Expected {
            job: &job,
            head_n: 8,
            head: Sha256::ZERO,
            address: Some(&address),
            meaning: &meaning,
            signer: Some(&varga),
            not_before: Some(moment("2026-03-01T09:00:00.001Z")),
            not_after: Some(moment("2026-03-01T08:59:59.999Z")),
        };
        let all = check_as(hold(), "m.both", &other);
        let said: Vec<String> = all.unwrap_err().iter().map(ToString::to_string).collect();
        assert_eq!(said.len(), 8, "{said:#?}");
        assert_eq!(said[0], "it was signed for the job 2026-0031, not for 2026-0032");
        assert_eq!(
            said[3],
            "it was signed for the job as a whole, not for `teardown/valves[cylinder=2]/spring`"
        );
        assert_eq!(
            said[4],
            "it says `hold_released`, and the entry needs `decided` accept because \
             \u{201c}within wear\u{201d}"
        );
        assert!(said[6].starts_with("it claims to be signed on 1 Mar 2026 10:00 (+01:00), before"));
    }

    #[test]
    fn a_signature_by_another_person_names_them() {
        let by_other = check_key(statement("i.varga", Role::Mechanic, decided()), "t.lehrling");
        let (said, found) = (id("i.varga"), id("t.lehrling"));
        assert_eq!(by_other, Err(vec![StatementFault::OthersKey { said, found }]));
        let stranger = check_key(statement("i.varga", Role::Mechanic, decided()), "stranger");
        assert!(matches!(
            stranger.unwrap_err()[..],
            [StatementFault::Signature(SignatureFault::OtherKey { .. })]
        ));
    }

    #[test]
    fn sg2_a_signature_is_worth_nothing_for_another_meaning() {
        let hold = statement("i.varga", Role::Mechanic, Meaning::HoldReleased);
        let bytes = bytes(&hold);
        let signature = pair("i.varga").sign(Namespace::Session, &bytes);
        let (job, meaning) = (hold.job.clone(), hold.meaning.clone());
        let expected = expected(&job, &meaning);
        let signed = Signed { statement: hold, signature };
        assert!(matches!(
            check_signed(&signed, &shop(), &expected, &bytes).unwrap_err()[..],
            [StatementFault::Signature(SignatureFault::OtherNamespace { .. })]
        ));
    }
}
