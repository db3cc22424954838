//! The release statement: what the releaser says in `record.json`, and the check of their signature.
//!
//! The signature is over the whole of `record.json`, so the statement needs none of its own. The
//! rest of the record is other files' matter.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::namespaces::Namespace;
use super::roster::Grant;
use super::statement::{Signer, StatementFault, check_signer, times};
use crate::ids::{JobId, Moment, PersonId, Role, Sha256};
use crate::shop::model::Shop;

/// The longest `record.json` whose signature is checked.
pub const RECORD_LEN_BYTES_MAX: usize = 64 * 1024 * 1024;

/// "This job is finished; I have seen its exceptions."
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Release {
    /// The job.
    pub job: JobId,
    /// The number of the last entry before the release.
    pub head_n: u64,
    /// The SHA-256 of that entry's line.
    pub head: Sha256,
    /// Who releases.
    pub signer: PersonId,
    /// In which role.
    pub role: Role,
    /// The claimed time.
    pub at: Moment,
}

/// How a release stands in `record.json`. Keys are sorted by the canonical form.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReleaseWire {
    pub(super) at: String,
    head: String,
    head_n: u64,
    job: String,
    kind: String,
    pub(super) meaning: String,
    pub(super) role: String,
    pub(super) signer: String,
}

impl From<&Release> for ReleaseWire {
    fn from(release: &Release) -> Self {
        Self {
            at: release.at.to_string(),
            head: release.head.to_string(),
            head_n: release.head_n,
            job: release.job.to_string(),
            kind: "release".to_owned(),
            meaning: "released".to_owned(),
            role: release.role.word().to_owned(),
            signer: release.signer.to_string(),
        }
    }
}

/// Why a release in a record is not one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the release in the record is not one: `{key}` is not as a release writes it")]
pub struct ReleaseFault {
    /// The first key that is wrong.
    pub key: &'static str,
}

impl TryFrom<&ReleaseWire> for Release {
    type Error = ReleaseFault;

    fn try_from(wire: &ReleaseWire) -> Result<Self, ReleaseFault> {
        let fault = |key| ReleaseFault { key };
        if wire.kind != "release" {
            return Err(fault("kind"));
        }
        if wire.meaning != "released" {
            return Err(fault("meaning"));
        }
        let release = Self {
            job: JobId::parse(&wire.job).ok_or(fault("job"))?,
            head_n: wire.head_n,
            head: Sha256::parse(&wire.head).ok_or(fault("head"))?,
            signer: PersonId::new(wire.signer.as_str()).ok().ok_or(fault("signer"))?,
            role: Role::parse(&wire.role).ok_or(fault("role"))?,
            at: Moment::parse(&wire.at).ok_or(fault("at"))?,
        };
        // A time can be written in many ways and read from all of them; a record has one.
        if release.at.to_string() != wire.at {
            return Err(fault("at"));
        }
        Ok(release)
    }
}

/// What the release of a record must say.
#[derive(Debug, Clone)]
pub struct ReleaseExpected<'a> {
    /// The job.
    pub job: &'a JobId,
    /// The number of the last entry before the release.
    pub head_n: u64,
    /// The SHA-256 of that entry's line.
    pub head: Sha256,
    /// The time of that entry.
    pub not_before: Option<Moment>,
    /// The time of the `released` entry, once there is one.
    pub not_after: Option<Moment>,
}

/// Checks a release's fields, the releaser's right, and their signature over the exact bytes of
/// `record.json`.
///
/// # Errors
/// Every fault found, fields first.
pub fn check_release(
    release: &Release,
    shop: &Shop,
    expected: &ReleaseExpected<'_>,
    record_bytes: &[u8],
    signature: &str,
) -> Result<Grant, Vec<StatementFault>> {
    let mut faults = Vec::new();
    if release.job != *expected.job {
        let (found, wanted) = (release.job.clone(), expected.job.clone());
        faults.push(StatementFault::OtherJob { found, wanted });
    }
    if release.head_n != expected.head_n {
        let (found, wanted) = (release.head_n, expected.head_n);
        faults.push(StatementFault::OtherHeadNumber { found, wanted });
    }
    if release.head != expected.head {
        let (found, wanted) = (release.head, expected.head);
        faults.push(StatementFault::OtherHead { found, wanted });
    }
    faults.extend(times(release.at, expected.not_before, expected.not_after));
    let signer = Signer { person: &release.signer, role: release.role, at: release.at };
    match check_signer(&signer, shop, Namespace::Release, record_bytes, signature) {
        Ok(grant) if faults.is_empty() => Ok(grant),
        Ok(_) => Err(faults),
        Err(more) => {
            faults.extend(more);
            Err(faults)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::roster::AuthorityFault;
    use super::super::roster::tests::{id, moment, pair, shop};
    use super::super::sshsig::{Alteration, SignatureFault};
    use super::*;

    const RECORD: &[u8] = br#"{"release":{},"values":["2.50","-0","1e21","9007199254740993"]}"#;

    fn release(signer: &str, role: Role) -> Release {
        Release {
            job: JobId::numbered(2026, 31),
            head_n: 41,
            head: Sha256::of(b"line 41"),
            signer: id(signer),
            role,
            at: moment("2026-03-01T16:00:00+01:00"),
        }
    }

    fn check(release: &Release, record: &[u8], signature: &str) -> Vec<StatementFault> {
        let job = JobId::numbered(2026, 31);
        let expected = ReleaseExpected {
            job: &job,
            head_n: 41,
            head: Sha256::of(b"line 41"),
            not_before: Some(moment("2026-03-01T15:00:00Z")),
            not_after: None,
        };
        check_release(release, &shop(), &expected, record, signature).err().unwrap_or_default()
    }

    #[test]
    fn a_release_has_one_written_form() {
        let release = release("i.varga", Role::Mechanic);
        let bytes = serde_json_canonicalizer::to_vec(&ReleaseWire::from(&release)).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        assert_eq!(
            text,
            format!(
                "{{\"at\":\"2026-03-01T16:00:00.000+01:00\",\"head\":\"{}\",\"head_n\":41,\
                 \"job\":\"2026-0031\",\"kind\":\"release\",\"meaning\":\"released\",\
                 \"role\":\"mechanic\",\"signer\":\"i.varga\"}}",
                release.head
            )
        );
        let read = |text: &str| {
            let wire: ReleaseWire = serde_json::from_str(text).unwrap();
            Release::try_from(&wire).map_err(|fault| fault.key)
        };
        assert_eq!(read(&text), Ok(release));
        assert_eq!(read(&text.replace("released", "rejected")), Err("meaning"));
        assert_eq!(read(&text.replace("\"release\"", "\"approval\"")), Err("kind"));
        assert_eq!(read(&text.replace("16:00:00.000", "16:00:00")), Err("at"));
        assert_eq!(read(&text.replace("i.varga", "I. Varga")), Err("signer"));
    }

    #[test]
    fn a_mechanic_releases_the_exact_bytes_of_the_record() {
        let release = release("i.varga", Role::Mechanic);
        let signature = pair("i.varga").sign(Namespace::Release, RECORD);
        assert_eq!(check(&release, RECORD, &signature), []);
        let with_newline = [RECORD, b"\n"].concat();
        assert_eq!(
            check(&release, &with_newline, &signature),
            [StatementFault::Signature(SignatureFault::Altered(Alteration::LineEndAdded))]
        );
        let saved_again = br#"{"release":{},"values":["2.5","-0","1e21","9007199254740993"]}"#;
        assert_eq!(
            check(&release, saved_again, &signature),
            [StatementFault::Signature(SignatureFault::Bad)]
        );
    }

    #[test]
    fn an_apprentice_cannot_release() {
        let signature = pair("t.lehrling").sign(Namespace::Release, RECORD);
        let honest = check(&release("t.lehrling", Role::Apprentice), RECORD, &signature);
        assert!(matches!(honest[..], [StatementFault::RoleTooLow { .. }]));
        let boast = check(&release("t.lehrling", Role::Mechanic), RECORD, &signature);
        assert!(matches!(
            boast[..],
            [StatementFault::Authority(AuthorityFault::RoleMissing { .. })]
        ));
    }

    #[test]
    fn a_release_of_other_entries_is_refused_field_by_field() {
        let mut other = release("i.varga", Role::Mechanic);
        other.job = JobId::numbered(2026, 30);
        other.head_n = 40;
        other.head = Sha256::ZERO;
        other.at = moment("2026-03-01T15:59:59.999+01:00");
        let signature = pair("i.varga").sign(Namespace::Release, RECORD);
        assert_eq!(check(&other, RECORD, &signature).len(), 4);
    }

    proptest! {
        #[test]
        fn no_text_makes_the_reader_panic(text in "\\PC{0,200}") {
            if let Ok(wire) = serde_json::from_str::<ReleaseWire>(&text) {
                drop(Release::try_from(&wire));
            }
        }
    }
}
