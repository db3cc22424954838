//! The shop's list of approvals: which revision of which file may be worked by, and who said so.
//!
//! The list is a chain of canonical JSON lines, and the shop key signs its bytes as a whole. What
//! approvals mean for a job is [`super::closure`]'s matter; files are the callers'.
//!
//! One line, its keys in canonical order, then LF:
//!
//! | key | value |
//! | --- | --- |
//! | `n` | its number, from 0 |
//! | `prev` | SHA-256 of the line before without its LF; 64 zeros for the first |
//! | `signature` | the approver's SSHSIG over the canonical JSON of `statement` |
//! | `statement` | `approver at id kind of refers revision role sha256` |

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::key::{KeyPair, PublicKey};
use super::namespaces::Namespace;
use super::sshsig::{self, SignatureFault};
use crate::ids::{Moment, Name, PersonId, Revision, Role, Sha256};

/// The longest list that is read.
pub const LIST_LEN_BYTES_MAX: usize = 16 * 1024 * 1024;

/// The longest line that is read.
pub const LINE_LEN_BYTES_MAX: usize = 64 * 1024;

/// The most files that one file may refer to.
pub const REFERS_MAX: usize = 256;

/// The two kinds of file that need an approval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FileKind {
    /// A procedure file.
    Procedure,
    /// An equipment file; the limits live there.
    Equipment,
}

impl FileKind {
    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Procedure => "procedure",
            Self::Equipment => "equipment",
        }
    }

    fn parse(word: &str) -> Option<Self> {
        [Self::Procedure, Self::Equipment].into_iter().find(|kind| kind.word() == word)
    }
}

/// A file by its kind and id, written `procedure/overhaul`. A procedure and an equipment file may
/// have the same id.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Subject {
    /// Its kind.
    pub of: FileKind,
    /// Its id.
    pub id: Name,
}

impl Subject {
    fn parse(text: &str) -> Option<Self> {
        let (of, id) = text.split_once('/')?;
        Some(Self { of: FileKind::parse(of)?, id: Name::new(id).ok()? })
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.of.word(), self.id)
    }
}

/// What an approver says about one revision of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApprovalStatement {
    /// The file.
    pub file: Subject,
    /// Its revision.
    pub revision: Revision,
    /// The SHA-256 of its bytes.
    pub sha256: Sha256,
    /// Everything that it refers to, as it was when it was approved.
    pub refers: BTreeMap<Subject, Sha256>,
    /// Who approves.
    pub approver: PersonId,
    /// In which role.
    pub role: Role,
    /// The claimed time.
    pub at: Moment,
}

impl ApprovalStatement {
    /// The bytes that are signed.
    pub fn bytes(&self) -> Vec<u8> {
        canonical(&StatementWire::from(self))
    }

    /// Signs the statement with the approver's key.
    pub fn sign(self, key: &KeyPair) -> Approval {
        let signature = key.sign(Namespace::Approval, &self.bytes());
        Approval { statement: self, signature }
    }
}

/// A statement with its approver's signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approval {
    /// The statement.
    pub statement: ApprovalStatement,
    /// Its SSHSIG, armoured.
    pub signature: String,
}

/// The list, oldest first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Approvals(pub Vec<Approval>);

/// Why a list of approvals is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ListFault {
    /// Longer than any list.
    #[error("the list is {0} bytes long and at most {LIST_LEN_BYTES_MAX} are read")]
    TooLong(usize),
    /// Lines end in CRLF.
    #[error(
        "line {0} of the list ends in CRLF: line endings were changed, as version control can do. \
         Restore the file from where it was written, or with `sed -i 's/\\r$//' FILE`, and keep \
         `-text` for it in `.gitattributes`"
    )]
    LineEndings(usize),
    /// The last line is not complete.
    #[error(
        "the last line of the list (line {0}) is not complete: writing it was cut short. Restore \
         the list from a copy; whatever was being approved is approved anew"
    )]
    Torn(usize),
    /// A line that is not an approval.
    #[error("line {line} of the list is not an approval: {why}. Restore the list from a copy")]
    NotAnApproval {
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        why: String,
    },
    /// A line in another than its canonical form.
    #[error(
        "line {0} of the list is not in its canonical form; it was edited or saved by another \
         program. Restore the list from a copy"
    )]
    NotCanonical(usize),
    /// A line that does not follow from the one before.
    #[error(
        "line {0} of the list does not follow from the line before: something was changed, added \
         or dropped in front of it. Restore the list from a copy"
    )]
    Chain(usize),
    /// The shop key's signature does not hold.
    #[error(
        "the shop's signature of the list of approvals does not hold: {0}. If an approval was \
         added on purpose, the holder of the shop key signs the list again"
    )]
    Signature(#[source] SignatureFault),
}

/// Checks the shop key's signature over the exact bytes of the list.
///
/// # Errors
/// The list is too long, or `trust` did not sign these bytes as a list of approvals.
pub fn check_list(bytes: &[u8], signature: &str, trust: &PublicKey) -> Result<(), ListFault> {
    if bytes.len() > LIST_LEN_BYTES_MAX {
        return Err(ListFault::TooLong(bytes.len()));
    }
    sshsig::verify(trust, Namespace::Approvals, bytes, signature).map_err(ListFault::Signature)
}

impl Approvals {
    /// Reads the list and proves its chain. Who signed what is not looked at here.
    ///
    /// # Errors
    /// The first line that is not a canonical approval following from the line before.
    pub fn scan(bytes: &[u8]) -> Result<Self, ListFault> {
        if bytes.len() > LIST_LEN_BYTES_MAX {
            return Err(ListFault::TooLong(bytes.len()));
        }
        let mut list = Vec::new();
        let mut prev = Sha256::ZERO;
        for (idx, line) in bytes.split_inclusive(|byte| *byte == b'\n').enumerate() {
            let number = idx.saturating_add(1);
            let line = line.strip_suffix(b"\n").ok_or(ListFault::Torn(number))?;
            if line.ends_with(b"\r") {
                return Err(ListFault::LineEndings(number));
            }
            let wire =
                parse_line(line).map_err(|why| ListFault::NotAnApproval { line: number, why })?;
            let approval = Approval::try_from(&wire)
                .map_err(|why| ListFault::NotAnApproval { line: number, why: why.to_owned() })?;
            // Number and chain as the line says them; whether they are right comes next.
            let said = Sha256::parse(&wire.prev).unwrap_or(Sha256::ZERO);
            if encode_line(wire.n, said, &approval) != line {
                return Err(ListFault::NotCanonical(number));
            }
            if wire.n != number_of(idx) || said != prev {
                return Err(ListFault::Chain(number));
            }
            prev = Sha256::of(line);
            list.push(approval);
        }
        Ok(Self(list))
    }

    /// The list's bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut prev = Sha256::ZERO;
        for (idx, approval) in self.0.iter().enumerate() {
            let line = encode_line(number_of(idx), prev, approval);
            prev = Sha256::of(&line);
            bytes.extend(line);
            bytes.push(b'\n');
        }
        bytes
    }

    /// The bytes of a list with one more approval. The shop key signs them anew.
    ///
    /// # Errors
    /// As [`Approvals::scan`], of the list as it stands or as it would be.
    pub fn append(bytes: &[u8], approval: Approval) -> Result<Vec<u8>, ListFault> {
        let mut list = Self::scan(bytes)?;
        list.0.push(approval);
        let longer = list.encode();
        Self::scan(&longer)?;
        Ok(longer)
    }

    /// The approval of a file that counts: its latest.
    pub fn in_force(&self, file: &Subject) -> Option<&Approval> {
        self.0.iter().rev().find(|approval| approval.statement.file == *file)
    }

    /// Every approval of a file, latest first.
    pub fn all_of(&self, file: &Subject) -> impl Iterator<Item = &Approval> {
        self.0.iter().rev().filter(move |approval| approval.statement.file == *file)
    }
}

fn number_of(idx: usize) -> u64 {
    u64::try_from(idx).unwrap_or(u64::MAX)
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LineWire {
    n: u64,
    prev: String,
    signature: String,
    statement: StatementWire,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StatementWire {
    approver: String,
    at: String,
    id: String,
    kind: String,
    of: String,
    refers: BTreeMap<String, String>,
    revision: u32,
    role: String,
    sha256: String,
}

impl From<&ApprovalStatement> for StatementWire {
    fn from(statement: &ApprovalStatement) -> Self {
        let refers =
            statement.refers.iter().map(|(file, hash)| (file.to_string(), hash.to_string()));
        Self {
            approver: statement.approver.to_string(),
            at: statement.at.to_string(),
            id: statement.file.id.to_string(),
            kind: "approval".to_owned(),
            of: statement.file.of.word().to_owned(),
            refers: refers.collect(),
            revision: statement.revision.0,
            role: statement.role.word().to_owned(),
            sha256: statement.sha256.to_string(),
        }
    }
}

impl TryFrom<&LineWire> for Approval {
    type Error = &'static str;

    fn try_from(line: &LineWire) -> Result<Self, &'static str> {
        let wire = &line.statement;
        if wire.kind != "approval" {
            return Err("`kind` is not `approval`");
        }
        if wire.refers.len() > REFERS_MAX {
            return Err("`refers` lists too many files");
        }
        let refers: Option<BTreeMap<Subject, Sha256>> = wire
            .refers
            .iter()
            .map(|(file, hash)| Some((Subject::parse(file)?, Sha256::parse(hash)?)))
            .collect();
        let statement = ApprovalStatement {
            file: Subject {
                of: FileKind::parse(&wire.of).ok_or("`of` is no kind of file")?,
                id: Name::new(wire.id.as_str()).ok().ok_or("`id` is not a name")?,
            },
            revision: Revision(wire.revision),
            sha256: Sha256::parse(&wire.sha256).ok_or("`sha256` is not a hash")?,
            refers: refers.ok_or("`refers` holds something other than files and hashes")?,
            approver: PersonId::new(wire.approver.as_str())
                .ok()
                .ok_or("`approver` is not a person's id")?,
            role: Role::parse(&wire.role).ok_or("`role` is not a role")?,
            at: Moment::parse(&wire.at).ok_or("`at` is not a time with its offset")?,
        };
        Ok(Self { statement, signature: line.signature.clone() })
    }
}

fn parse_line(line: &[u8]) -> Result<LineWire, String> {
    if line.len() > LINE_LEN_BYTES_MAX {
        return Err(format!("it is longer than {LINE_LEN_BYTES_MAX} bytes"));
    }
    serde_json::from_slice(line).map_err(|fault| fault.to_string())
}

fn encode_line(n: u64, prev: Sha256, approval: &Approval) -> Vec<u8> {
    canonical(&LineWire {
        n,
        prev: prev.to_string(),
        signature: approval.signature.clone(),
        statement: StatementWire::from(&approval.statement),
    })
}

fn canonical(value: &impl Serialize) -> Vec<u8> {
    serde_json_canonicalizer::to_vec(value)
        .expect("internal: text, small whole numbers and maps with text keys always encode")
}

#[cfg(test)]
pub(super) mod tests {
    use proptest::prelude::*;

    use super::super::roster::tests::{id, moment, pair};
    use super::*;

    pub(in crate::record) fn file(text: &str) -> Subject {
        Subject::parse(text).unwrap()
    }

    pub(in crate::record) fn statement(
        name: &str,
        revision: u32,
        bytes: &[u8],
    ) -> ApprovalStatement {
        ApprovalStatement {
            file: file(name),
            revision: Revision(revision),
            sha256: Sha256::of(bytes),
            refers: BTreeMap::new(),
            approver: id("i.varga"),
            role: Role::Mechanic,
            at: moment("2026-03-01T10:00:00+01:00"),
        }
    }

    fn list() -> Approvals {
        let mut second = statement("procedure/overhaul", 1, b"o1");
        second.refers.insert(file("equipment/pump"), Sha256::of(b"p1"));
        Approvals(vec![
            statement("equipment/pump", 1, b"p1").sign(&pair("i.varga")),
            second.sign(&pair("i.varga")),
            statement("procedure/overhaul", 2, b"o2").sign(&pair("i.varga")),
        ])
    }

    #[test]
    fn a_list_is_read_as_it_was_written() {
        let bytes = list().encode();
        assert_eq!(Approvals::scan(&bytes), Ok(list()));
        assert_eq!(Approvals::scan(b""), Ok(Approvals::default()));
        let first = String::from_utf8(bytes).unwrap();
        let first = first.lines().next().unwrap();
        let zeros = "0".repeat(64);
        assert!(
            first.starts_with(&format!("{{\"n\":0,\"prev\":\"{zeros}\",\"signature\":\"-----")),
            "{first}"
        );
        assert!(first.contains(
            "\"statement\":{\"approver\":\"i.varga\",\"at\":\"2026-03-01T10:00:00.000+01:00\",\
             \"id\":\"pump\",\"kind\":\"approval\",\"of\":\"equipment\",\"refers\":{},\
             \"revision\":1,\"role\":\"mechanic\",\"sha256\":\""
        ));
    }

    #[test]
    fn appending_keeps_the_old_bytes() {
        let old = Approvals(list().0[..2].to_vec()).encode();
        let longer = Approvals::append(&old, list().0[2].clone()).unwrap();
        assert!(longer.starts_with(&old));
        assert_eq!(longer, list().encode());
        let damaged = &old[..old.len() - 1];
        assert_eq!(Approvals::append(damaged, list().0[2].clone()), Err(ListFault::Torn(2)));
    }

    #[test]
    fn the_latest_approval_of_a_file_is_in_force() {
        let list = list();
        let of = |name: &str| list.in_force(&file(name)).map(|a| a.statement.revision.0);
        assert_eq!(of("procedure/overhaul"), Some(2));
        assert_eq!(of("equipment/pump"), Some(1));
        // The same id of another kind is another file.
        assert_eq!(of("procedure/pump"), None);
        assert_eq!(list.all_of(&file("procedure/overhaul")).count(), 2);
    }

    #[test]
    fn dropping_swapping_and_editing_lines_is_noticed() {
        let text = String::from_utf8(list().encode()).unwrap();
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let scan = |text: String| Approvals::scan(text.as_bytes()).unwrap_err();
        assert_eq!(scan([lines[0], lines[2]].concat()), ListFault::Chain(2));
        assert_eq!(scan([lines[1], lines[0]].concat()), ListFault::Chain(1));
        assert_eq!(scan(text.replacen("i.varga", "m.both", 1)), ListFault::Chain(2));
        assert_eq!(scan(text.replacen(":0,", ": 0,", 1)), ListFault::NotCanonical(1));
        assert_eq!(scan(text.replace('\n', "\r\n")), ListFault::LineEndings(1));
        assert_eq!(scan(text.trim_end().to_owned()), ListFault::Torn(3));
        let twice = text.replacen("\"n\":0", "\"n\":0,\"n\":0", 1);
        assert!(matches!(scan(twice), ListFault::NotAnApproval { line: 1, .. }));
        let unknown = text.replacen("\"n\":0", "\"m\":1,\"n\":0", 1);
        assert!(matches!(scan(unknown), ListFault::NotAnApproval { line: 1, .. }));
        let short_time = text.replacen("00.000+", "00+", 1);
        assert_eq!(scan(short_time), ListFault::NotCanonical(1));
        assert!(matches!(scan("\n".into()), ListFault::NotAnApproval { line: 1, .. }));
        let long = format!("{}\n", "x".repeat(LINE_LEN_BYTES_MAX + 1));
        assert!(matches!(scan(long), ListFault::NotAnApproval { line: 1, .. }));
    }

    #[test]
    fn the_shop_key_signs_the_whole_list() {
        let bytes = list().encode();
        let key = pair("shop");
        let signature = key.sign(Namespace::Approvals, &bytes);
        assert_eq!(check_list(&bytes, &signature, &key.public()), Ok(()));
        let cut = Approvals(list().0[..2].to_vec()).encode();
        assert_eq!(
            check_list(&cut, &signature, &key.public()),
            Err(ListFault::Signature(SignatureFault::Bad))
        );
    }

    proptest! {
        #[test]
        fn no_bytes_make_scan_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            drop(Approvals::scan(&bytes));
        }

        #[test]
        fn one_changed_byte_is_noticed_in_all_but_the_last_line(at in 0usize..2000, byte: u8) {
            let good = list();
            let before = Approvals(good.0[..2].to_vec()).encode().len();
            let mut bytes = good.encode();
            let at = at % before;
            prop_assume!(bytes[at] != byte);
            bytes[at] = byte;
            prop_assert!(Approvals::scan(&bytes).is_err());
        }
    }
}
