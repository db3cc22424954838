//! The roster: whether the shop signed it, and what a person of it may do at a time.
//!
//! Reading `shop.yaml` is `shop`'s matter. A roster that nobody trusted has signed proves nothing:
//! callers check it first, with a shop key that did not come with the job.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::key::{KeyFault, PublicKey};
use super::namespaces::{Namespace, SHOP_PRINCIPAL};
use super::sshsig::{self, SignatureFault};
use crate::ids::{Moment, PersonId, Role};
use crate::shop::model::{Person, Shop, Standing};

/// The longest shop file whose signature is checked.
pub const ROSTER_LEN_BYTES_MAX: usize = 4 * 1024 * 1024;

/// Why a roster is not trusted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RosterFault {
    /// Longer than any shop file.
    #[error("the shop file is {0} bytes long and at most {ROSTER_LEN_BYTES_MAX} are read")]
    TooLong(usize),
    /// The shop key's signature does not hold.
    #[error(
        "the shop's signature of the roster does not hold: {0}. If the shop file was changed on \
         purpose, the holder of the shop key signs it again"
    )]
    Signature(#[source] SignatureFault),
    /// One person is listed twice.
    #[error("`{0}` is listed twice; a person stands in the roster once, with all their roles")]
    ListedTwice(PersonId),
    /// Two names share a key.
    #[error(
        "`{first}` and `{second}` have the same key, so they are one person under two names; \
         whoever is a second person makes a key of their own"
    )]
    SharedKey {
        /// Who is listed first.
        first: PersonId,
        /// Who is listed later.
        second: PersonId,
    },
    /// A person signs with the shop key.
    #[error("`{0}` has the shop key as their own; the shop key signs lists, never work")]
    ShopKey(PersonId),
    /// A person has the principal of the shop key.
    #[error("a person cannot have the id `{SHOP_PRINCIPAL}`; it stands for the shop key")]
    ReservedId,
    /// A key that cannot be used.
    #[error("the key of `{person}` cannot be used: {fault}")]
    Key {
        /// Whose.
        person: PersonId,
        /// Why.
        #[source]
        fault: KeyFault,
    },
}

/// Checks the shop key's signature over the exact bytes of the shop file.
///
/// # Errors
/// The file is too long, or `trust` did not sign these bytes as a roster.
pub fn check_roster(bytes: &[u8], signature: &str, trust: &PublicKey) -> Result<(), RosterFault> {
    if bytes.len() > ROSTER_LEN_BYTES_MAX {
        return Err(RosterFault::TooLong(bytes.len()));
    }
    sshsig::verify(trust, Namespace::Roster, bytes, signature).map_err(RosterFault::Signature)
}

/// Checks that every name of the roster is one person with one key, in file order.
pub fn check_people(shop: &Shop, shop_key: &PublicKey) -> Vec<RosterFault> {
    let mut faults = Vec::new();
    let mut ids: BTreeSet<&PersonId> = BTreeSet::new();
    let mut keys: BTreeMap<PublicKey, &PersonId> = BTreeMap::new();
    for person in &shop.people {
        if person.id.as_str() == SHOP_PRINCIPAL {
            faults.push(RosterFault::ReservedId);
        }
        if !ids.insert(&person.id) {
            faults.push(RosterFault::ListedTwice(person.id.clone()));
            continue;
        }
        let key = match PublicKey::parse(&person.key) {
            Ok(key) => key,
            Err(fault) => {
                faults.push(RosterFault::Key { person: person.id.clone(), fault });
                continue;
            }
        };
        if key == *shop_key {
            faults.push(RosterFault::ShopKey(person.id.clone()));
        }
        if let Some(first) = keys.get(&key) {
            let (first, second) = ((*first).clone(), person.id.clone());
            faults.push(RosterFault::SharedKey { first, second });
        } else {
            keys.insert(key, &person.id);
        }
    }
    faults
}

/// What the roster grants a person at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grant {
    /// Who.
    pub person: PersonId,
    /// The role of theirs that covers what was needed.
    pub role: Role,
    /// Their key.
    pub key: PublicKey,
    /// The certificate that says so.
    pub certificate: Option<String>,
    /// The last day on which they are qualified.
    pub until: NaiveDate,
    /// The day of a revocation that came after the claimed time. Such a signature counts only
    /// where another person's signature proves that it was there before that day.
    pub revoked_later: Option<NaiveDate>,
}

/// Why a person may not sign for something at a time.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AuthorityFault {
    /// Not in the roster.
    #[error("`{0}` is not in the roster; the holder of the shop key enrols them")]
    UnknownSigner(PersonId),
    /// Without the role.
    #[error("`{person}` is not {} {needed} in this roster; somebody who is must sign", article(*.needed))]
    RoleMissing {
        /// Who.
        person: PersonId,
        /// What was needed.
        needed: Role,
    },
    /// Before the first day.
    #[error("`{person}` is qualified from {} on, and the signature claims {}", day(*.from), .at.spoken())]
    NotYetQualified {
        /// Who.
        person: PersonId,
        /// The first day.
        from: NaiveDate,
        /// The claimed time.
        at: Moment,
    },
    /// After the last day.
    #[error(
        "the qualification of `{person}` lapsed after {}, and the signature claims {}; once it \
         is renewed, the holder of the shop key signs the roster with the new day",
        day(*.until),
        .at.spoken()
    )]
    Lapsed {
        /// Who.
        person: PersonId,
        /// The last day.
        until: NaiveDate,
        /// The claimed time.
        at: Moment,
    },
    /// On or after the day of revocation.
    #[error(
        "the key of `{person}` was revoked on {}, and the signature claims {}; it does not count",
        day(*.revoked),
        .at.spoken()
    )]
    Revoked {
        /// Who.
        person: PersonId,
        /// The day from which the key no longer counts.
        revoked: NaiveDate,
        /// The claimed time.
        at: Moment,
    },
    /// A key that cannot be used.
    #[error("the key of `{person}` cannot be used: {fault}")]
    Key {
        /// Whose.
        person: PersonId,
        /// Why.
        #[source]
        fault: KeyFault,
    },
}

fn article(role: Role) -> &'static str {
    match role {
        Role::Apprentice | Role::Author => "an",
        Role::Mechanic => "a",
    }
}

fn day(date: NaiveDate) -> String {
    date.format("%-d %b %Y").to_string()
}

/// Looks up whether `person` could act as `needed` at the time `at`.
///
/// Days are counted where the time was taken: a qualification until 31 December holds until that
/// day's midnight in the shop, whatever day it is in Greenwich.
///
/// # Errors
/// The first of: unknown, revoked by then, role missing, not yet qualified, lapsed.
pub fn authority(
    shop: &Shop,
    person: &PersonId,
    needed: Role,
    at: Moment,
) -> Result<Grant, AuthorityFault> {
    let found = find(shop, person)?;
    let id = || person.clone();
    let standing = found.standing(at.day());
    if let Standing::Revoked(revoked) = standing {
        return Err(AuthorityFault::Revoked { person: id(), revoked, at });
    }
    let role = found
        .roles
        .iter()
        .copied()
        .filter(|role| role.covers(needed))
        .min()
        .ok_or_else(|| AuthorityFault::RoleMissing { person: id(), needed })?;
    match standing {
        Standing::NotYet(from) => {
            return Err(AuthorityFault::NotYetQualified { person: id(), from, at });
        }
        Standing::Lapsed(until) => {
            return Err(AuthorityFault::Lapsed { person: id(), until, at });
        }
        Standing::Qualified | Standing::Revoked(_) => {}
    }
    let key = PublicKey::parse(&found.key)
        .map_err(|fault| AuthorityFault::Key { person: id(), fault })?;
    Ok(Grant {
        person: id(),
        role,
        key,
        certificate: found.certificate.clone(),
        until: found.qualified_until,
        revoked_later: found.revoked,
    })
}

fn find<'a>(shop: &'a Shop, person: &PersonId) -> Result<&'a Person, AuthorityFault> {
    shop.person(person).ok_or_else(|| AuthorityFault::UnknownSigner(person.clone()))
}

/// Whose key has this fingerprint, for naming who did sign.
pub fn owner_of(shop: &Shop, fingerprint: &str) -> Option<PersonId> {
    shop.people
        .iter()
        .find(|person| {
            PublicKey::parse(&person.key).is_ok_and(|key| key.fingerprint() == fingerprint)
        })
        .map(|person| person.id.clone())
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::ids::{Name, Revision};
    use crate::record::key::KeyPair;
    use crate::shop::model::ShopKind;
    use crate::source::{FileId, Span};

    pub(in crate::record) fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    pub(in crate::record) fn moment(text: &str) -> Moment {
        Moment::parse(text).unwrap()
    }

    pub(in crate::record) fn id(text: &str) -> PersonId {
        PersonId::new(text).unwrap()
    }

    /// The key of the made-up person or shop `name`.
    pub(in crate::record) fn pair(name: &str) -> KeyPair {
        let mut seed = [1; 32];
        for (byte, letter) in seed.iter_mut().zip(name.bytes()) {
            *byte = letter;
        }
        KeyPair::from_seed(&seed)
    }

    fn person(name: &str, roles: &[Role]) -> Person {
        Person {
            id: id(name),
            name: name.to_uppercase(),
            roles: roles.to_vec(),
            key: pair(name).public().text(),
            qualified_from: date("2026-01-01"),
            qualified_until: date("2026-12-31"),
            certificate: Some("C-1".into()),
            revoked: None,
            language: None,
            span: Span::new(FileId(0), 0, 0),
        }
    }

    /// A shop with an apprentice, two mechanics, an author, and a mechanic whose key was revoked.
    pub(in crate::record) fn shop() -> Shop {
        let mut gone = person("o.past", &[Role::Mechanic]);
        gone.revoked = Some(date("2026-06-01"));
        Shop {
            id: Name::new("bench").unwrap(),
            title: "A bench".into(),
            revision: Revision(1),
            kind: ShopKind::Demo,
            people: vec![
                person("t.lehrling", &[Role::Apprentice]),
                person("i.varga", &[Role::Mechanic]),
                person("m.both", &[Role::Author, Role::Mechanic]),
                person("a.writer", &[Role::Author]),
                gone,
            ],
            instruments: Vec::new(),
            machines: Vec::new(),
        }
    }

    fn ask(person: &str, needed: Role, at: &str) -> Result<Grant, AuthorityFault> {
        authority(&shop(), &id(person), needed, moment(at))
    }

    #[test]
    fn the_shop_key_signs_the_exact_bytes_of_the_roster() {
        let key = pair("shop");
        let bytes = b"shop: bench\n";
        let signature = key.sign(Namespace::Roster, bytes);
        assert_eq!(check_roster(bytes, &signature, &key.public()), Ok(()));
        let fault = check_roster(b"shop: bench\r\n", &signature, &key.public()).unwrap_err();
        assert!(fault.to_string().contains("only the line endings"), "{fault}");
        let other = check_roster(bytes, &signature, &pair("else").public()).unwrap_err();
        assert!(matches!(other, RosterFault::Signature(SignatureFault::OtherKey { .. })));
        let purpose = key.sign(Namespace::Approvals, bytes);
        assert!(check_roster(bytes, &purpose, &key.public()).is_err());
    }

    #[test]
    fn qualification_holds_from_its_first_to_its_last_day_in_the_shop() {
        let first = ask("i.varga", Role::Mechanic, "2026-01-01T00:00:00+10:00").unwrap();
        assert_eq!(first.until, date("2026-12-31"));
        assert_eq!(first.role, Role::Mechanic);
        assert_eq!(first.certificate.as_deref(), Some("C-1"));
        assert!(ask("i.varga", Role::Mechanic, "2026-12-31T23:59:59-08:00").is_ok());
        assert_eq!(
            ask("i.varga", Role::Mechanic, "2025-12-31T23:59:59+01:00").unwrap_err().to_string(),
            "`i.varga` is qualified from 1 Jan 2026 on, and the signature claims \
             31 Dec 2025 23:59 (+01:00)"
        );
        let lapsed = ask("i.varga", Role::Mechanic, "2027-01-01T00:00:00+01:00").unwrap_err();
        assert!(
            matches!(&lapsed, AuthorityFault::Lapsed { until, .. } if *until == date("2026-12-31"))
        );
        assert!(lapsed.to_string().contains("lapsed after 31 Dec 2026"), "{lapsed}");
    }

    #[test]
    fn roles_cover_downwards_only() {
        let at = "2026-03-01T10:00:00+01:00";
        assert!(ask("i.varga", Role::Apprentice, at).is_ok());
        assert_eq!(
            ask("t.lehrling", Role::Mechanic, at).unwrap_err().to_string(),
            "`t.lehrling` is not a mechanic in this roster; somebody who is must sign"
        );
        assert!(matches!(
            ask("a.writer", Role::Apprentice, at),
            Err(AuthorityFault::RoleMissing { .. })
        ));
        assert_eq!(
            ask("n.obody", Role::Apprentice, at),
            Err(AuthorityFault::UnknownSigner(id("n.obody")))
        );
    }

    #[test]
    fn a_revoked_key_is_refused_from_the_day_and_marked_before_it() {
        let before = ask("o.past", Role::Mechanic, "2026-05-31T23:00:00+02:00").unwrap();
        assert_eq!(before.revoked_later, Some(date("2026-06-01")));
        assert!(matches!(
            ask("o.past", Role::Mechanic, "2026-06-01T00:00:00+02:00"),
            Err(AuthorityFault::Revoked { .. })
        ));
    }

    #[test]
    fn one_person_under_two_names_is_noticed() {
        let key = pair("shop").public();
        assert_eq!(check_people(&shop(), &key), []);
        let mut twice = shop();
        // A comment does not make another key.
        twice.people[1].key = format!("{} another", twice.people[0].key);
        twice.people[2].id = twice.people[0].id.clone();
        twice.people[3].key = key.text();
        twice.people[4].id = id("shop");
        assert_eq!(
            check_people(&twice, &key),
            [
                RosterFault::SharedKey { first: id("t.lehrling"), second: id("i.varga") },
                RosterFault::ListedTwice(id("t.lehrling")),
                RosterFault::ShopKey(id("a.writer")),
                RosterFault::ReservedId,
            ]
        );
        let mut bad = shop();
        bad.people[0].key = "ssh-rsa AAAA".into();
        assert!(matches!(check_people(&bad, &key)[..], [RosterFault::Key { .. }]));
    }

    #[test]
    fn a_key_finds_its_owner() {
        let print = pair("i.varga").public().fingerprint();
        assert_eq!(owner_of(&shop(), &print), Some(id("i.varga")));
        assert_eq!(owner_of(&shop(), "SHA256:none"), None);
    }
}
