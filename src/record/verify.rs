//! Judges a job's folder: five independent answers, each good or with its faults by name.
//!
//! A pure function of bytes, which may come from anywhere; nothing in them makes it panic. Reading the
//! folder is `store`'s matter, and where the shop's public key comes from is the caller's: a folder
//! can never vouch for itself.

mod authority;
mod case;
mod chain;
mod files;
mod rebuilt;
mod shown;
mod signatures;

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::approvals::Approvals;
use super::key::PublicKey;
use crate::shop::model::Shop;
use case::Case;

/// The bytes of a job's folder.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FolderBytes {
    /// Every file, by its path below the folder.
    pub files: BTreeMap<String, Vec<u8>>,
    /// What is there and was not read, with the reason: links, devices, what is too large.
    pub odd: BTreeMap<String, String>,
}

/// The five questions, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Question {
    /// Are the files as they were?
    Files,
    /// Is the journal one chain, with the head that was signed?
    Chain,
    /// Are the signatures good?
    Signatures,
    /// Had the signers the right to sign, under a roster that we trust?
    Authority,
    /// Do the answers, walked again, give what the journal and the record say?
    Replay,
}

impl Question {
    /// All five.
    pub const ALL: [Self; 5] =
        [Self::Files, Self::Chain, Self::Signatures, Self::Authority, Self::Replay];

    /// The question's word in JSON and text.
    pub fn word(self) -> &'static str {
        match self {
            Self::Files => "files",
            Self::Chain => "chain",
            Self::Signatures => "signatures",
            Self::Authority => "authority",
            Self::Replay => "replay",
        }
    }

    /// Its number, from 1.
    pub fn number(self) -> u8 {
        match self {
            Self::Files => 1,
            Self::Chain => 2,
            Self::Signatures => 3,
            Self::Authority => 4,
            Self::Replay => 5,
        }
    }
}

macro_rules! fault_names {
    ($($(#[doc = $doc:literal])+ $name:ident = $word:literal,)+) => {
        /// What is wrong, by name. Names are for programs and never change their meaning.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum FaultName {
            $($(#[doc = $doc])+ $name,)+
        }

        impl FaultName {
            /// The name in JSON and text.
            pub fn word(self) -> &'static str {
                match self {
                    $(Self::$name => $word,)+
                }
            }
        }
    };
}

fault_names! {
    /// `SHA256SUMS` is not there.
    SumsMissing = "sums-missing",
    /// `SHA256SUMS` is not such a list.
    SumsDamaged = "sums-damaged",
    /// A file's bytes are other ones.
    FileChanged = "file-changed",
    /// Only a file's line endings were changed.
    LineEndings = "line-endings",
    /// A file is gone.
    FileMissing = "file-missing",
    /// A file was put in.
    FileAdded = "file-added",
    /// A link, device or too large a file.
    NotAPlainFile = "not-a-plain-file",
    /// There is no journal.
    JournalMissing = "journal-missing",
    /// A line of the journal is damaged, or the chain is broken.
    JournalDamaged = "journal-damaged",
    /// The journal ends with an unfinished entry.
    JournalTorn = "journal-torn",
    /// A later version of the program wrote the journal.
    NewerFormat = "newer-format",
    /// The journal is not that of a job.
    NotAJob = "not-a-job",
    /// The record was signed over another journal.
    HeadDiffers = "head-differs",
    /// The record cannot be read.
    RecordUnreadable = "record-unreadable",
    /// The job is not released yet.
    NotReleased = "not-released",
    /// The record is not signed.
    NotSigned = "not-signed",
    /// A signature does not fit what it is said to sign.
    SignatureBad = "signature-bad",
    /// A signature was made for another purpose.
    WrongPurpose = "wrong-purpose",
    /// A touch key signed without being touched.
    PresenceNotProven = "presence-not-proven",
    /// A signed statement says something else than its place asks for.
    StatementDiffers = "statement-differs",
    /// Nobody that we know vouches for the people of this job.
    OriginUnknown = "origin-unknown",
    /// The shop's signature of the roster does not hold.
    RosterNotSigned = "roster-not-signed",
    /// The roster lists people in a way that cannot be relied on.
    RosterUnfit = "roster-unfit",
    /// The shop's signature of the approvals does not hold.
    ApprovalsNotSigned = "approvals-not-signed",
    /// A file was not approved as it stands.
    NotApproved = "not-approved",
    /// A file was approved once, and a later revision was in force.
    Superseded = "superseded",
    /// The list of approvals was an older one than the shop had when the job was opened.
    ApprovalsRolledBack = "approvals-rolled-back",
    /// A signer is not in the roster.
    SignerUnknown = "signer-unknown",
    /// A signer had not the role.
    RoleMissing = "role-missing",
    /// A signer was not qualified yet.
    NotYetQualified = "not-yet-qualified",
    /// A signer's qualification had lapsed.
    QualificationLapsed = "qualification-lapsed",
    /// A signer's key was revoked.
    KeyRevoked = "key-revoked",
    /// A signer's key cannot be used.
    KeyUnusable = "key-unusable",
    /// The job's files cannot be worked by.
    FilesUnusable = "files-unusable",
    /// The job was walked by other rules.
    CannotJudge = "cannot-judge",
    /// An entry does not follow from those before it.
    EntryDeparts = "entry-departs",
    /// The record is not what the journal gives.
    RecordDiffers = "record-differs",
    /// Something before it is too damaged to ask this question.
    NotJudged = "not-judged",
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Its name.
    pub name: FaultName,
    /// Where: a file, or `entry 12`.
    pub place: Option<String>,
    /// In a sentence.
    pub says: String,
}

/// The answer to one question: good when it has no faults.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The question.
    pub question: Question,
    /// What was looked at, in a sentence.
    pub checked: String,
    /// What is wrong, first things first.
    pub faults: Vec<Fault>,
}

impl Answer {
    /// True without faults.
    pub fn is_good(&self) -> bool {
        self.faults.is_empty()
    }
}

/// A signature that holds: who, in what meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedBy {
    /// Who.
    pub signer: String,
    /// In which role.
    pub role: String,
    /// The meaning's word.
    pub meaning: String,
    /// The meaning in words.
    pub says: String,
    /// The claimed time.
    pub at: String,
    /// The entry, or `None` for the signature over the record.
    pub n: Option<u64>,
}

/// What `verify` found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verification {
    /// The job, where the journal names one.
    pub job: Option<String>,
    /// `record` or `demo`.
    pub kind: Option<String>,
    /// True when the journal ends with a release.
    pub is_released: bool,
    /// The five answers, in order.
    pub answers: Vec<Answer>,
    /// The signatures that hold, in order, the one over the record last.
    pub signatures: Vec<SignedBy>,
    /// What is worth knowing and is no fault.
    pub remarks: Vec<String>,
}

impl Verification {
    /// True when all five answers are good.
    pub fn is_good(&self) -> bool {
        self.answers.iter().all(Answer::is_good)
    }

    /// 0 when all are good, else 10 and the number of the first that is not.
    pub fn exit_status(&self) -> u8 {
        let first = self.answers.iter().find(|answer| !answer.is_good());
        first.map_or(0, |answer| answer.question.number().saturating_add(10))
    }

    /// The answer to a question.
    pub fn answer(&self, question: Question) -> Option<&Answer> {
        self.answers.iter().find(|answer| answer.question == question)
    }
}

/// What is known today and was not when the job was signed.
#[derive(Debug, Clone, Copy)]
pub struct Today<'a> {
    /// The day.
    pub day: NaiveDate,
    /// The shop's roster as it is today, signed by its key.
    pub roster: Option<&'a Shop>,
    /// The shop's list of approvals as it is today, signed by its key.
    pub approvals: Option<&'a Approvals>,
}

/// Judges a job's folder by what it holds, against the shop's public key where we have it.
pub fn verify(folder: &FolderBytes, trust: Option<&PublicKey>) -> Verification {
    verify_today(folder, trust, None)
}

/// Like [`verify`], and says too what has changed since: qualifications that lapsed, people who
/// left, keys that were revoked.
pub fn verify_today(
    folder: &FolderBytes,
    trust: Option<&PublicKey>,
    today: Option<Today<'_>>,
) -> Verification {
    let case = Case::of(folder);
    let mut remarks = case.remarks();
    let files = files::answer(&case);
    let chain = chain::answer(&case);
    let (signatures, signed) = signatures::answer(&case);
    let authority = authority::answer(&case, trust, today, &mut remarks);
    let replay = rebuilt::answer(&case, &mut remarks);
    Verification {
        job: case.opened().map(|opened| opened.job.to_string()),
        kind: case.opened().map(|opened| opened.kind.word().to_owned()),
        is_released: case.released().is_some(),
        answers: vec![files, chain, signatures, authority, replay],
        signatures: signed,
        remarks,
    }
}

/// Collects the faults of one answer.
#[derive(Debug, Default)]
struct Faults(Vec<Fault>);

/// The most faults that one answer names; a folder with more is not better understood by them.
const FAULTS_MAX: usize = 100;

impl Faults {
    fn add(&mut self, name: FaultName, place: impl Into<String>, says: impl Into<String>) {
        let place = Some(place.into()).filter(|place| !place.is_empty());
        self.push(Fault { name, place, says: says.into() });
    }

    /// Adds a fault unless its place has one already: one changed file is told once.
    fn push(&mut self, fault: Fault) {
        let told = fault.place.is_some() && self.0.iter().any(|known| known.place == fault.place);
        if !told && self.0.len() < FAULTS_MAX {
            self.0.push(fault);
        }
    }

    fn answer(self, question: Question, checked: impl Into<String>) -> Answer {
        Answer { question, checked: checked.into(), faults: self.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_folder_fails_every_question_and_does_not_panic() {
        let found = verify(&FolderBytes::default(), None);
        assert!(found.answers.iter().all(|answer| !answer.is_good()));
        assert_eq!(found.exit_status(), 11);
        assert!(found.text().contains("journal-missing"), "{}", found.text());
        let numbers: Vec<u8> = Question::ALL.map(Question::number).to_vec();
        assert_eq!(numbers, [1, 2, 3, 4, 5]);
    }
}
