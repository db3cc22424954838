//! Third question: are the signatures good, by whom, and in what meaning? Whether the signers had the
//! right to sign is the fourth.

use super::case::{Case, RECORD, SIGNATURE};
use super::{Answer, FaultName, Faults, Question, SignedBy};
use crate::ids::{Moment, PersonId};
use crate::journal::{self, ScannedLine};
use crate::record::key::PublicKey;
use crate::record::namespaces::Namespace;
use crate::record::release::{ReleaseExpected, check_release};
use crate::record::sshsig::{self, SignatureFault};
use crate::record::statement::{Expected, StatementFault, check_signed, signed_of};
use crate::shop::model::Shop;

pub(super) fn answer(case: &Case<'_>) -> (Answer, Vec<SignedBy>) {
    let mut check = Check { case, faults: Faults::default(), good: Vec::new() };
    let Some(files) = case.good_files() else {
        let why = "without the job's journal and files nobody knows whose keys to hold the \
                   signatures against";
        check.faults.add(FaultName::NotJudged, "", why);
        return (check.faults.answer(Question::Signatures, ""), Vec::new());
    };
    let shop = &files.files.shop;
    check.journal(shop);
    let n_good = check.good.len();
    let checked = if case.released().is_some() {
        check.record(shop);
        format!("{n_good} signatures in the journal and the one over the record are good")
    } else {
        let says = "the job is not released yet: there is no signed record to judge";
        check.faults.add(FaultName::NotReleased, "", says);
        format!("{n_good} signatures in the journal are good; the job is not released yet")
    };
    (check.faults.answer(Question::Signatures, checked), check.good)
}

struct Check<'a> {
    case: &'a Case<'a>,
    faults: Faults,
    good: Vec<SignedBy>,
}

impl Check<'_> {
    fn journal(&mut self, shop: &Shop) {
        let Some(opened) = self.case.opened() else { return };
        let mut before: Option<&ScannedLine> = None;
        for line in self.case.lines() {
            let last_at = before.map(|line| line.entry.at);
            before = Some(line);
            let Some((signed, address)) = signed_of(&line.entry.event) else { continue };
            let statement = &signed.statement;
            let expected = Expected {
                job: &opened.job,
                head_n: line.entry.n.saturating_sub(1),
                head: line.prev,
                address,
                meaning: &statement.meaning,
                signer: line.entry.by.as_ref(),
                not_before: last_at,
                not_after: Some(line.entry.at),
            };
            let bytes = journal::statement_bytes(statement);
            let place = format!("entry {}", line.entry.n);
            let faults = check_signed(signed, shop, &expected, &bytes).err().unwrap_or_default();
            let about = About {
                place: &place,
                signer: &statement.signer,
                namespace: Namespace::of(&statement.meaning),
                bytes: &bytes,
                armour: &signed.signature,
            };
            if self.is_good(shop, faults, &about) {
                self.good.push(SignedBy {
                    signer: statement.signer.to_string(),
                    role: statement.role.word().to_owned(),
                    meaning: statement.meaning.word().to_owned(),
                    says: crate::record::completion::says(&statement.meaning),
                    at: statement.at.to_string(),
                    n: Some(line.entry.n),
                });
            }
        }
    }

    fn record(&mut self, shop: &Shop) {
        let (Some(released), Some(opened)) = (self.case.released(), self.case.opened()) else {
            return;
        };
        let Some(signature) = self.case.folder.files.get(SIGNATURE) else {
            let says = "there is no `record.json.sig`: the record is not signed";
            return self.faults.add(FaultName::NotSigned, SIGNATURE, says);
        };
        let Ok(armour) = std::str::from_utf8(signature) else {
            let says = "`record.json.sig` is not text, so it is no signature";
            return self.faults.add(FaultName::SignatureBad, SIGNATURE, says);
        };
        let (Some(bytes), Some(Ok(release))) =
            (self.case.folder.files.get(RECORD), self.case.release())
        else {
            let says = "the record cannot be read, so nobody knows who is said to have signed it";
            return self.faults.add(FaultName::NotJudged, RECORD, says);
        };
        let expected = ReleaseExpected {
            job: &opened.job,
            head_n: released.before.entry.n,
            head: released.before.hash,
            not_before: Some(released.before.entry.at),
            not_after: Some(released.line.entry.at),
        };
        let mut faults =
            check_release(&release, shop, &expected, bytes, armour).err().unwrap_or_default();
        if let Some(by) = released.line.entry.by.as_ref().filter(|by| **by != release.signer) {
            let (found, wanted) = (release.signer.clone(), by.clone());
            faults.push(StatementFault::OtherSigner { found, wanted });
        }
        // No hash and no signature is over this entry, so all that it says stands elsewhere too.
        let (at, entry) = (release.at, released.line.entry.at);
        if at < entry {
            faults.push(StatementFault::NotItsEntry { at, entry });
        }
        let about = About {
            place: SIGNATURE,
            signer: &release.signer,
            namespace: Namespace::Release,
            bytes,
            armour,
        };
        if self.is_good(shop, faults, &about) {
            self.good.push(SignedBy {
                signer: release.signer.to_string(),
                role: release.role.word().to_owned(),
                meaning: "released".to_owned(),
                says: "releases the job".to_owned(),
                at: release.at.to_string(),
                n: None,
            });
        }
    }

    /// Takes up the faults that belong to this question; true when there are none.
    fn is_good(&mut self, shop: &Shop, faults: Vec<StatementFault>, about: &About<'_>) -> bool {
        let mut is_good = true;
        for fault in faults {
            let (name, says) = match fault {
                StatementFault::RoleTooLow { .. } => continue,
                // The right to sign is the fourth question; the signature is still held against
                // the key of the person, or against its own where nobody knows them.
                StatementFault::Authority(_) => match signed_at_all(shop, about) {
                    Ok(()) => continue,
                    Err(fault) => (name_of(&fault), fault.to_string()),
                },
                StatementFault::Signature(ref why) => (name_of(why), fault.to_string()),
                StatementFault::OthersKey { .. } => (FaultName::SignatureBad, fault.to_string()),
                StatementFault::OtherJob { .. }
                | StatementFault::OtherHeadNumber { .. }
                | StatementFault::OtherHead { .. }
                | StatementFault::OtherAddress { .. }
                | StatementFault::OtherMeaning { .. }
                | StatementFault::OtherSigner { .. }
                | StatementFault::BeforePreviousEntry { .. }
                | StatementFault::AfterItsEntry { .. }
                | StatementFault::NotItsEntry { .. } => {
                    (FaultName::StatementDiffers, fault.to_string())
                }
            };
            is_good = false;
            self.faults.add(
                name,
                about.place,
                format!(
                    "the signature of `{}` ({}) does not hold: {says}",
                    about.signer, about.place
                ),
            );
        }
        is_good
    }
}

fn name_of(fault: &SignatureFault) -> FaultName {
    match fault {
        SignatureFault::OtherNamespace { .. } => FaultName::WrongPurpose,
        SignatureFault::NotTouched => FaultName::PresenceNotProven,
        SignatureFault::Altered(_) | SignatureFault::ArmourLineEndings => FaultName::LineEndings,
        SignatureFault::TooLong(_)
        | SignatureFault::NotASignature
        | SignatureFault::NotCanonical
        | SignatureFault::OtherKey { .. }
        | SignatureFault::Bad => FaultName::SignatureBad,
    }
}

/// A signature with what it is said to sign.
struct About<'a> {
    place: &'a str,
    signer: &'a PersonId,
    namespace: Namespace,
    bytes: &'a [u8],
    armour: &'a str,
}

fn signed_at_all(shop: &Shop, about: &About<'_>) -> Result<(), SignatureFault> {
    let listed = shop.person(about.signer);
    let key = match listed.and_then(|person| PublicKey::parse(&person.key).ok()) {
        Some(key) => key,
        None => sshsig::signing_key(about.armour)?,
    };
    sshsig::verify(&key, about.namespace, about.bytes, about.armour)
}

/// Every claim to have signed: who, when, and in which entry (`None` for the record).
pub(super) fn claims(case: &Case<'_>) -> Vec<Claim> {
    let mut claims: Vec<Claim> = case
        .lines()
        .iter()
        .filter_map(|line| {
            let (signed, _) = signed_of(&line.entry.event)?;
            let statement = &signed.statement;
            Some(Claim {
                place: format!("entry {}", line.entry.n),
                signer: statement.signer.clone(),
                role: statement.role,
                namespace: Namespace::of(&statement.meaning),
                at: statement.at,
            })
        })
        .collect();
    if let (Some(_), Some(Ok(release))) = (case.released(), case.release()) {
        claims.push(Claim {
            place: SIGNATURE.to_owned(),
            signer: release.signer,
            role: release.role,
            namespace: Namespace::Release,
            at: release.at,
        });
    }
    claims
}

/// A claim to have signed.
#[derive(Debug, Clone)]
pub(super) struct Claim {
    pub(super) place: String,
    pub(super) signer: PersonId,
    pub(super) role: crate::ids::Role,
    pub(super) namespace: Namespace,
    pub(super) at: Moment,
}
