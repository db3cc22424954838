//! Whether every file of a job is approved, as it stands and with everything that it refers to.
//!
//! Callers have checked the shop key's signatures of the roster and of the list before; which files
//! belong to a job is their matter too.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::approvals::{Approval, Approvals, Subject};
use super::key::PublicKey;
use super::namespaces::Namespace;
use super::roster::{AuthorityFault, Grant, authority};
use super::sshsig::{self, SignatureFault};
use crate::ids::{PersonId, Revision, Role, Sha256};
use crate::shop::model::Shop;

/// A file that a job is to be worked by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileInHand {
    /// Its revision, as it says itself.
    pub revision: Revision,
    /// The first day on which it may be worked by.
    pub effective: NaiveDate,
    /// The SHA-256 of its bytes.
    pub sha256: Sha256,
    /// Everything that it refers to.
    pub refers: BTreeMap<Subject, Sha256>,
    /// Who wrote this revision, as the file says.
    pub authors: BTreeSet<PersonId>,
}

/// Why a file may not be worked by.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ApprovalFault {
    /// No approval at all.
    #[error(
        "`{file}` was never approved; a mechanic who did not write it approves revision {revision}"
    )]
    NeverApproved {
        /// The file.
        file: Subject,
        /// Its revision.
        revision: Revision,
    },
    /// Changed under the same revision number.
    #[error(
        "`{file}` is not as it was approved: its bytes differ from the approved revision \
         {revision}. Restore the approved file, or count the revision up and have it approved"
    )]
    Changed {
        /// The file.
        file: Subject,
        /// Its revision.
        revision: Revision,
    },
    /// An approved revision that a later one replaced.
    #[error(
        "`{file}` is revision {found}, which was approved once; revision {in_force} is in force. \
         Use that one"
    )]
    Superseded {
        /// The file.
        file: Subject,
        /// The revision in hand.
        found: Revision,
        /// The revision that counts.
        in_force: Revision,
    },
    /// Approved, and for a later day.
    #[error(
        "revision {revision} of `{file}` may be worked by from {effective} on, and it is {day}; \
         wait until then, or have a revision with an earlier day approved"
    )]
    NotEffective {
        /// The file.
        file: Subject,
        /// Its revision.
        revision: Revision,
        /// Its first day.
        effective: NaiveDate,
        /// The day of the job.
        day: NaiveDate,
    },
    /// A revision that is not the approved one.
    #[error(
        "`{file}` is revision {found}, which was not approved; revision {in_force} is in force. \
         Use that one, or have revision {found} approved"
    )]
    NotApproved {
        /// The file.
        file: Subject,
        /// The revision in hand.
        found: Revision,
        /// The revision that counts.
        in_force: Revision,
    },
    /// The approved bytes, with another revision number in the approval.
    #[error(
        "`{file}` says revision {found}, but its approval says {approved}; have it approved \
         anew with the right number"
    )]
    OtherRevision {
        /// The file.
        file: Subject,
        /// What the file says.
        found: Revision,
        /// What the approval says.
        approved: Revision,
    },
    /// Something that it refers to is another than at the approval.
    #[error(
        "`{file}` was approved together with another `{referred}` than the one here; restore \
         that one, or have `{file}` approved anew"
    )]
    Refers {
        /// The file.
        file: Subject,
        /// The first file that differs.
        referred: Subject,
    },
    /// Something that it refers to is not here.
    #[error("`{file}` refers to `{referred}`, which is not among the job's files; add it")]
    NotInHand {
        /// The file.
        file: Subject,
        /// What it refers to.
        referred: Subject,
    },
    /// The approver had no right to.
    #[error("the approval of `{file}` does not count: {fault}")]
    Authority {
        /// The file.
        file: Subject,
        /// Why.
        #[source]
        fault: AuthorityFault,
    },
    /// The approver did not sign as a mechanic.
    #[error(
        "the approval of `{file}` was signed by `{approver}` as {role}; only a mechanic approves. \
         Have it approved anew"
    )]
    RoleClaimed {
        /// The file.
        file: Subject,
        /// Who approved.
        approver: PersonId,
        /// The role that the approval claims.
        role: Role,
    },
    /// The approver wrote it.
    #[error(
        "`{approver}` approved their own revision of `{file}`; a mechanic who did not write it \
         must approve it"
    )]
    OwnWork {
        /// The file.
        file: Subject,
        /// Who.
        approver: PersonId,
    },
    /// The signature does not hold.
    #[error(
        "the approval of `{file}` is not signed by `{approver}`: {fault}. Have it approved anew"
    )]
    Signature {
        /// The file.
        file: Subject,
        /// Who is said to have signed.
        approver: PersonId,
        /// Why.
        #[source]
        fault: SignatureFault,
    },
}

/// Checks that every file in hand is approved as it stands, by somebody who might, and that all
/// that it refers to is in hand and is what it was approved with.
///
/// An approval from before its approver's key was revoked still counts: the shop key signed the
/// list with it, and its holder is who revokes.
///
/// # Errors
/// Every fault, in the order of the files.
pub fn check_closure(
    list: &Approvals,
    shop: &Shop,
    files: &BTreeMap<Subject, FileInHand>,
) -> Result<(), Vec<ApprovalFault>> {
    let mut faults = Vec::new();
    for (file, in_hand) in files {
        for (referred, hash) in &in_hand.refers {
            let (file, referred) = (file.clone(), referred.clone());
            match files.get(&referred) {
                None => faults.push(ApprovalFault::NotInHand { file, referred }),
                Some(found) if found.sha256 != *hash => {
                    faults.push(ApprovalFault::Refers { file, referred });
                }
                Some(_) => {}
            }
        }
        match approval_of(list, file, in_hand) {
            Err(fault) => faults.push(fault),
            Ok(approval) => faults.extend(check_approval(approval, shop, file, in_hand)),
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// The files in hand that may not be worked by yet on a day.
pub fn not_effective(files: &BTreeMap<Subject, FileInHand>, day: NaiveDate) -> Vec<ApprovalFault> {
    let early = files.iter().filter(|(_, in_hand)| in_hand.effective > day);
    early
        .map(|(file, in_hand)| ApprovalFault::NotEffective {
            file: file.clone(),
            revision: in_hand.revision,
            effective: in_hand.effective,
            day,
        })
        .collect()
}

fn approval_of<'a>(
    list: &'a Approvals,
    file: &Subject,
    in_hand: &FileInHand,
) -> Result<&'a Approval, ApprovalFault> {
    let (file, found) = (file.clone(), in_hand.revision);
    let Some(latest) = list.in_force(&file) else {
        return Err(ApprovalFault::NeverApproved { file, revision: found });
    };
    let in_force = latest.statement.revision;
    if latest.statement.sha256 == in_hand.sha256 {
        if in_force == found {
            return Ok(latest);
        }
        return Err(ApprovalFault::OtherRevision { file, found, approved: in_force });
    }
    if list.all_of(&file).any(|older| older.statement.sha256 == in_hand.sha256) {
        return Err(ApprovalFault::Superseded { file, found, in_force });
    }
    if found == in_force {
        return Err(ApprovalFault::Changed { file, revision: found });
    }
    Err(ApprovalFault::NotApproved { file, found, in_force })
}

/// Whether an approval of exactly this file counts.
fn check_approval(
    approval: &Approval,
    shop: &Shop,
    file: &Subject,
    in_hand: &FileInHand,
) -> Vec<ApprovalFault> {
    let statement = &approval.statement;
    let approver = &statement.approver;
    let mut faults = Vec::new();
    if let Some(referred) = first_difference(&statement.refers, &in_hand.refers) {
        faults.push(ApprovalFault::Refers { file: file.clone(), referred: referred.clone() });
    }
    if statement.role != Role::Mechanic {
        let (approver, role) = (approver.clone(), statement.role);
        faults.push(ApprovalFault::RoleClaimed { file: file.clone(), approver, role });
    }
    match authority(shop, approver, Role::Mechanic, statement.at) {
        Err(fault) => faults.push(ApprovalFault::Authority { file: file.clone(), fault }),
        Ok(grant) => {
            if is_author(shop, &grant, &in_hand.authors) {
                let approver = approver.clone();
                faults.push(ApprovalFault::OwnWork { file: file.clone(), approver });
            }
            let (bytes, key) = (statement.bytes(), &grant.key);
            let signed = sshsig::verify(key, Namespace::Approval, &bytes, &approval.signature);
            if let Err(fault) = signed {
                let approver = approver.clone();
                faults.push(ApprovalFault::Signature { file: file.clone(), approver, fault });
            }
        }
    }
    faults
}

fn first_difference<'a>(
    approved: &'a BTreeMap<Subject, Sha256>,
    found: &'a BTreeMap<Subject, Sha256>,
) -> Option<&'a Subject> {
    approved.keys().chain(found.keys()).find(|file| approved.get(file) != found.get(file))
}

/// True when the approver is among the authors, by id or by key under another id.
fn is_author(shop: &Shop, approver: &Grant, authors: &BTreeSet<PersonId>) -> bool {
    authors.contains(&approver.person)
        || shop.people.iter().any(|person| {
            authors.contains(&person.id)
                && PublicKey::parse(&person.key).is_ok_and(|key| key == approver.key)
        })
}

#[cfg(test)]
mod tests {
    use super::super::approvals::tests::{file, statement};
    use super::super::roster::tests::{date, id, moment, pair, shop};
    use super::*;

    fn in_hand(revision: u32, bytes: &[u8], author: &str) -> FileInHand {
        FileInHand {
            revision: Revision(revision),
            effective: date("2026-01-01"),
            sha256: Sha256::of(bytes),
            refers: BTreeMap::new(),
            authors: [id(author)].into(),
        }
    }

    fn files() -> BTreeMap<Subject, FileInHand> {
        let mut overhaul = in_hand(2, b"o2", "m.both");
        overhaul.refers.insert(file("equipment/pump"), Sha256::of(b"p1"));
        [
            (file("equipment/pump"), in_hand(1, b"p1", "a.writer")),
            (file("procedure/overhaul"), overhaul),
        ]
        .into()
    }

    fn list() -> Approvals {
        let mut overhaul = statement("procedure/overhaul", 2, b"o2");
        overhaul.refers.insert(file("equipment/pump"), Sha256::of(b"p1"));
        Approvals(vec![
            statement("procedure/overhaul", 1, b"o1").sign(&pair("i.varga")),
            statement("equipment/pump", 1, b"p1").sign(&pair("i.varga")),
            overhaul.sign(&pair("i.varga")),
        ])
    }

    /// The faults after changing the list and the files.
    fn faults(
        change: impl FnOnce(&mut Approvals, &mut BTreeMap<Subject, FileInHand>),
    ) -> Vec<ApprovalFault> {
        let (mut list, mut files) = (list(), files());
        change(&mut list, &mut files);
        check_closure(&list, &shop(), &files).err().unwrap_or_default()
    }

    /// The faults after replacing the approval of the equipment file with one by `person`.
    fn approved_by(person: &str, role: Role, at: &str) -> Vec<ApprovalFault> {
        faults(|list, _| {
            let mut pump = list.0[1].statement.clone();
            (pump.approver, pump.role, pump.at) = (id(person), role, moment(at));
            list.0[1] = pump.sign(&pair(person));
        })
    }

    #[test]
    fn files_as_they_were_approved_may_be_worked_by() {
        assert_eq!(check_closure(&list(), &shop(), &files()), Ok(()));
        assert_eq!(check_closure(&list(), &shop(), &BTreeMap::new()), Ok(()));
    }

    #[test]
    fn an_approval_holds_for_exactly_one_hash_and_the_latest_counts() {
        let (pump, overhaul) = (file("equipment/pump"), file("procedure/overhaul"));
        let revisions = |text: &str| {
            let (revision, bytes) = (text.replace('o', "").parse().unwrap(), text.as_bytes());
            faults(|_, files| {
                let refers = files[&overhaul].refers.clone();
                let new = FileInHand { refers, ..in_hand(revision, bytes, "m.both") };
                files.insert(overhaul.clone(), new);
            })
        };
        let (file, in_force) = (overhaul.clone(), Revision(2));
        assert_eq!(
            revisions("o1"),
            [ApprovalFault::Superseded { file: file.clone(), found: Revision(1), in_force }]
        );
        assert_eq!(
            revisions("o3"),
            [ApprovalFault::NotApproved { file: file.clone(), found: Revision(3), in_force }]
        );
        let changed = faults(|_, files| {
            files.get_mut(&overhaul).unwrap().sha256 = Sha256::of(b"o2 with another limit");
        });
        assert_eq!(changed, [ApprovalFault::Changed { file: file.clone(), revision: in_force }]);
        let renumbered = faults(|_, files| {
            files.get_mut(&overhaul).unwrap().revision = Revision(3);
        });
        assert_eq!(
            renumbered,
            [ApprovalFault::OtherRevision { file, found: Revision(3), approved: in_force }]
        );
        let never = faults(|list, _| drop(list.0.remove(1)));
        let revision = Revision(1);
        assert_eq!(never, [ApprovalFault::NeverApproved { file: pump, revision }]);
    }

    #[test]
    fn what_a_file_refers_to_is_part_of_its_approval() {
        let (pump, overhaul) = (file("equipment/pump"), file("procedure/overhaul"));
        let missing = faults(|_, files| drop(files.remove(&pump)));
        let (file, referred) = (overhaul.clone(), pump.clone());
        let expected = ApprovalFault::NotInHand { file: file.clone(), referred: referred.clone() };
        assert_eq!(missing, [expected]);
        let differs = ApprovalFault::Refers { file, referred };
        let unlisted = faults(|_, files| files.get_mut(&overhaul).unwrap().refers.clear());
        assert_eq!(unlisted, std::slice::from_ref(&differs));
        // A new revision of the limits, properly approved, does not slip under an old approval.
        let moved_on = faults(|list, files| {
            list.0.push(statement("equipment/pump", 2, b"p2").sign(&pair("i.varga")));
            files.insert(pump.clone(), in_hand(2, b"p2", "a.writer"));
            files.get_mut(&overhaul).unwrap().refers.insert(pump.clone(), Sha256::of(b"p2"));
        });
        assert_eq!(moved_on, std::slice::from_ref(&differs));
        let other_hash = faults(|_, files| {
            files.get_mut(&overhaul).unwrap().refers.insert(pump.clone(), Sha256::of(b"p0"));
        });
        assert_eq!(other_hash, [differs.clone(), differs]);
    }

    #[test]
    fn only_a_qualified_mechanic_who_did_not_write_it_approves() {
        let at = "2026-03-01T10:00:00+01:00";
        assert_eq!(approved_by("m.both", Role::Mechanic, at), []);
        assert_eq!(approved_by("o.past", Role::Mechanic, at), []);
        let authority = |person: &str, at: &str| {
            matches!(approved_by(person, Role::Mechanic, at)[..], [ApprovalFault::Authority { .. }])
        };
        assert!(authority("t.lehrling", at));
        assert!(authority("n.obody", at));
        assert!(authority("i.varga", "2027-01-01T10:00:00+01:00"));
        assert!(authority("o.past", "2026-07-01T10:00:00+01:00"));
        assert!(matches!(
            approved_by("m.both", Role::Author, at)[..],
            [ApprovalFault::RoleClaimed { .. }]
        ));
    }

    #[test]
    fn nobody_approves_their_own_work_under_any_name() {
        let pump = file("equipment/pump");
        let own = [ApprovalFault::OwnWork { file: pump.clone(), approver: id("i.varga") }];
        let by_name = faults(|_, files| {
            files.get_mut(&pump).unwrap().authors.insert(id("i.varga"));
        });
        assert_eq!(by_name, own);
        let mut same_key = shop();
        same_key.people[3].key = same_key.people[1].key.clone();
        assert_eq!(check_closure(&list(), &same_key, &files()), Err(own.to_vec()));
        assert_eq!(
            own[0].to_string(),
            "`i.varga` approved their own revision of `equipment/pump`; a mechanic who did not \
             write it must approve it"
        );
    }

    #[test]
    fn a_statement_changed_after_signing_does_not_count() {
        let forged = faults(|list, _| list.0[1].statement.at = moment("2026-03-02T10:00:00Z"));
        let fault = SignatureFault::Bad;
        let (file, approver) = (file("equipment/pump"), id("i.varga"));
        assert_eq!(forged, [ApprovalFault::Signature { file, approver, fault }]);
        let mut late = shop();
        late.people[1].qualified_from = date("2026-03-02");
        assert_eq!(check_closure(&list(), &late, &files()).unwrap_err().len(), 2);
    }
}
