//! Fourth question: had each signer the role, and were they qualified at the claimed time, under a
//! roster and approvals that a shop key which we trust has signed?

use std::collections::BTreeSet;

use super::case::Case;
use super::signatures::{Claim, claims};
use super::{Answer, FaultName, Faults, Question, Today};
use crate::record::approvals::{Approvals, ListFault, check_list};
use crate::record::closure::{ApprovalFault, check_closure, not_effective};
use crate::record::files::{APPROVALS, APPROVALS_SIGNATURE, JobFiles, SHOP, SHOP_SIGNATURE};
use crate::record::key::PublicKey;
use crate::record::roster::{AuthorityFault, RosterFault, authority, check_people, check_roster};
use crate::record::sshsig::SignatureFault;
use crate::shop::model::Shop;

pub(super) fn answer(
    case: &Case<'_>,
    trust: Option<&PublicKey>,
    today: Option<Today<'_>>,
    remarks: &mut Vec<String>,
) -> Answer {
    let mut faults = Faults::default();
    let Some(files) = case.good_files() else {
        let why = "the job's journal or files cannot be read, so nobody knows who had which role";
        faults.add(FaultName::NotJudged, "", why);
        return faults.answer(Question::Authority, "");
    };
    let shop = &files.files.shop;
    origin(case, shop, trust, &mut faults);
    approvals(case, files, trust, &mut faults);
    let claims = claims(case);
    signers(shop, &claims, &mut faults);
    if let Some(today) = today {
        since(shop, &claims, today, &mut faults, remarks);
        if let Some(now) = today.approvals {
            rolled_back(case, now, &mut faults, remarks);
        }
    }
    let people: BTreeSet<&str> = claims.iter().map(|claim| claim.signer.as_str()).collect();
    let key = trust.map_or_else(String::new, PublicKey::fingerprint);
    let checked = format!(
        "roster {} and the approvals of {} files are signed by the shop key {key}; {} signatures \
         by {} people who had the role and were qualified when they signed",
        shop.revision,
        files.in_hand.len(),
        claims.len(),
        people.len()
    );
    faults.answer(Question::Authority, checked)
}

/// Whether the shop key that we trust has signed the roster.
fn origin(case: &Case<'_>, shop: &Shop, trust: Option<&PublicKey>, faults: &mut Faults) {
    let Some(trust) = trust else {
        let says = "consistent in itself, origin unknown: a folder cannot vouch for its own \
                    people. Give the shop's public key, got by another way than this folder, \
                    with `--trust FILE`";
        return faults.add(FaultName::OriginUnknown, "", says);
    };
    for fault in check_people(shop, trust) {
        faults.add(FaultName::RosterUnfit, "", fault.to_string());
    }
    let place = format!("files/{SHOP_SIGNATURE}");
    let (Some(bytes), Some(signature)) =
        (case.folder.files.get(&format!("files/{SHOP}")), case.text(&place))
    else {
        let says = "the shop's signature of the roster is missing or is not text";
        return faults.add(FaultName::RosterNotSigned, place, says);
    };
    match check_roster(bytes, signature, trust) {
        Ok(()) => {}
        Err(RosterFault::Signature(SignatureFault::OtherKey { found, wanted })) => {
            let says = format!(
                "origin unknown: the roster is signed by another shop key ({found}) than the one \
                 that was given ({wanted}); if the job is another shop's, give that shop's key"
            );
            faults.add(FaultName::OriginUnknown, place, says);
        }
        Err(fault) => faults.add(FaultName::RosterNotSigned, place, fault.to_string()),
    }
}

/// Whether every file was approved, as of the opening.
fn approvals(case: &Case<'_>, files: &JobFiles, trust: Option<&PublicKey>, faults: &mut Faults) {
    let place = format!("files/{APPROVALS}");
    let Some(bytes) = case.folder.files.get(&place) else {
        let says = "the list of approvals is missing";
        return faults.add(FaultName::ApprovalsNotSigned, place, says);
    };
    if let Some(trust) = trust {
        let signature_place = format!("files/{APPROVALS_SIGNATURE}");
        match case.text(&signature_place).map(|text| check_list(bytes, text, trust)) {
            None => {
                let says = "the shop's signature of the approvals is missing or is not text";
                faults.add(FaultName::ApprovalsNotSigned, signature_place, says);
            }
            // Another key was told of already, with the roster.
            Some(Ok(()) | Err(ListFault::Signature(SignatureFault::OtherKey { .. }))) => {}
            Some(Err(fault)) => {
                faults.add(FaultName::ApprovalsNotSigned, signature_place, fault.to_string());
            }
        }
    }
    let list = match Approvals::scan(bytes) {
        Ok(list) => list,
        Err(fault) => return faults.add(FaultName::NotApproved, place, fault.to_string()),
    };
    if let Err(found) = check_closure(&list, &files.files.shop, &files.in_hand) {
        for fault in found {
            let name = match fault {
                ApprovalFault::Superseded { .. } => FaultName::Superseded,
                _ => FaultName::NotApproved,
            };
            faults.add(name, "", fault.to_string());
        }
    }
    let Some(opened_at) = case.entries.first().map(|entry| entry.at) else { return };
    for fault in not_effective(&files.in_hand, opened_at.day()) {
        faults.add(FaultName::NotApproved, "", fault.to_string());
    }
    for file in files.in_hand.keys() {
        let late = list.in_force(file).filter(|approval| approval.statement.at > opened_at);
        if let Some(approval) = late {
            let says = format!(
                "`{file}` was approved on {}, after the job was opened on {}",
                approval.statement.at.spoken(),
                opened_at.spoken()
            );
            faults.add(FaultName::NotApproved, "", says);
        }
    }
}

/// Whether the job was opened with the list of approvals as the shop had it then: an older one is
/// signed by the shop as well, and lets a superseded revision count.
fn rolled_back(case: &Case<'_>, now: &Approvals, faults: &mut Faults, remarks: &mut Vec<String>) {
    let place = format!("files/{APPROVALS}");
    let then = case.folder.files.get(&place).and_then(|bytes| Approvals::scan(bytes).ok());
    let (Some(then), Some(opened_at)) = (then, case.entries.first().map(|entry| entry.at)) else {
        return;
    };
    let (n_then, n_now) = (then.0.len(), now.0.len());
    let n_same = then.0.iter().zip(&now.0).take_while(|(then, now)| then == now).count();
    if n_same < n_then && n_same < n_now {
        let says = "the list of approvals that the job was opened with is not an earlier state of \
                    the shop's: the two part ways, and each is signed by the shop key";
        return faults.add(FaultName::ApprovalsRolledBack, place, says);
    }
    if n_now < n_then {
        remarks.push(format!(
            "the shop's list of approvals has {n_now} lines today and had {n_then} when this job \
             was opened; restore it, so that no superseded revision counts again"
        ));
        return;
    }
    let missing = now.0.iter().skip(n_then).find(|approval| approval.statement.at < opened_at);
    if let Some(approval) = missing {
        let says = format!(
            "the job was opened on {} with a list of approvals that lacks the one of `{}` on {}: an \
             older list was slipped in",
            opened_at.spoken(),
            approval.statement.file,
            approval.statement.at.spoken()
        );
        faults.add(FaultName::ApprovalsRolledBack, place, says);
    }
}

fn name_of(fault: &AuthorityFault) -> FaultName {
    match fault {
        AuthorityFault::UnknownSigner(_) => FaultName::SignerUnknown,
        AuthorityFault::RoleMissing { .. } => FaultName::RoleMissing,
        AuthorityFault::NotYetQualified { .. } => FaultName::NotYetQualified,
        AuthorityFault::Lapsed { .. } => FaultName::QualificationLapsed,
        AuthorityFault::Revoked { .. } => FaultName::KeyRevoked,
        AuthorityFault::Key { .. } => FaultName::KeyUnusable,
    }
}

/// Whether each signer might sign, by the roster that came with the job.
fn signers(shop: &Shop, claims: &[Claim], faults: &mut Faults) {
    for (at, claim) in claims.iter().enumerate() {
        let place = claim.place.as_str();
        if !claim.namespace.roles().contains(&claim.role) {
            let says = format!(
                "`{}` signed as {}, which is not enough for {} ({place})",
                claim.signer,
                claim.role,
                claim.namespace.spoken()
            );
            faults.add(FaultName::RoleMissing, place, says);
            continue;
        }
        match authority(shop, &claim.signer, claim.role, claim.at) {
            Err(fault) => faults.add(name_of(&fault), place, format!("{fault} ({place})")),
            Ok(grant) => {
                if let Some(day) = grant.revoked_later {
                    revoked_later(claims, at, day, faults);
                }
            }
        }
    }
}

/// A claimed time before a revocation counts where another person signed later, before that day.
fn revoked_later(claims: &[Claim], at: usize, revoked: chrono::NaiveDate, faults: &mut Faults) {
    let Some(claim) = claims.get(at) else { return };
    let later = claims.iter().skip(at.saturating_add(1));
    let is_witnessed =
        later.into_iter().any(|other| other.signer != claim.signer && other.at.day() < revoked);
    if !is_witnessed {
        let says = format!(
            "the key of `{}` was revoked on {revoked}; the signature claims an earlier time, and \
             no later signature of another person proves it ({})",
            claim.signer, claim.place
        );
        faults.add(FaultName::KeyRevoked, claim.place.as_str(), says);
    }
}

/// What today's roster and calendar add. Keys are judged at the claimed time, so that somebody left
/// or a qualification lapsed since is a remark; a revocation is more.
fn since(
    shop: &Shop,
    claims: &[Claim],
    today: Today<'_>,
    faults: &mut Faults,
    remarks: &mut Vec<String>,
) {
    let mut told = BTreeSet::new();
    for (at, claim) in claims.iter().enumerate() {
        let signer = &claim.signer;
        let now = today.roster.map(|roster| roster.person(signer));
        if let Some(Some(person)) = now
            && let Some(revoked) = person.revoked
        {
            if revoked <= claim.at.day() {
                let says = format!(
                    "the key of `{signer}` was revoked on {revoked}, and the signature claims a \
                     time after that ({})",
                    claim.place
                );
                faults.add(FaultName::KeyRevoked, claim.place.as_str(), says);
            } else {
                revoked_later(claims, at, revoked, faults);
            }
        }
        if !told.insert(signer) {
            continue;
        }
        let then = shop.person(signer);
        match now {
            Some(None) => remarks.push(format!(
                "`{signer}` is not in the shop's roster any more; what they signed while they \
                 were stands"
            )),
            Some(Some(person)) if then.is_some_and(|then| then.key != person.key) => {
                remarks.push(format!(
                    "`{signer}` has another key today than the one that signed here"
                ));
            }
            _ => {
                let until = now.flatten().or(then).map(|person| person.qualified_until);
                if let Some(until) = until.filter(|until| *until < today.day) {
                    remarks.push(format!(
                        "the qualification of `{signer}` has lapsed since, after {until}; what \
                         they signed before stands"
                    ));
                }
            }
        }
    }
}
