//! Where a job departed from its procedure, and what became of it: what a releaser looks at first.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An entry that was made later than what it says was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LateEntry {
    /// The instance.
    pub address: String,
    /// When it was entered.
    pub at: String,
    /// Who entered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// When it was seen.
    pub observed: String,
    /// Why it was entered later.
    pub reason: String,
}

/// A verdict in the place of that of the rules.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Concession {
    /// The instance.
    pub address: String,
    /// When.
    pub at: String,
    /// Who.
    pub by: String,
    /// The entry.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// The verdict of the rules.
    pub rules: String,
    /// The verdict in its place.
    pub verdict: String,
}

/// A failed result and what was done about it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Disposition {
    /// The instance.
    pub address: String,
    /// When it was done, where one entry says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// Who decided, laid or signs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// `inspected_again`, `used_as_is`, `fitted`, `replaced`, `set_apart`, `scrapped`, or
    /// `left_at_stop` where the job was stopped.
    pub done: String,
    /// The entry that says what was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_n: Option<u64>,
    /// The lot of the part in its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The entry of the failed result.
    pub n: u64,
    /// The verdict of the rules.
    pub rules: String,
    /// What was done, in words.
    pub says: String,
    /// The verdict in force.
    pub verdict: String,
    /// The result in words.
    pub what: String,
}

/// A state of the machine that had to be verified again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Expired {
    /// Why.
    pub because: String,
    /// The entry.
    pub n: u64,
    /// The state for people.
    pub title: String,
    /// Its name.
    pub token: String,
}

/// Work that was stopped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Halt {
    /// Where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// When.
    pub at: String,
    /// Who stopped it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// Who let it go on, where somebody did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resumed: Option<Resumed>,
    /// The state in which the machine was left.
    pub safe_state: String,
    /// The standing condition that was seen, where it was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<String>,
}

/// Who let stopped work go on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Resumed {
    /// When.
    pub at: String,
    /// Who.
    pub by: String,
    /// Why.
    pub reason: String,
}

/// An instance that was not asked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotApplicable {
    /// Its canonical name.
    pub address: String,
    /// What was not so.
    pub because: String,
    /// What would have been asked.
    pub text: String,
}

/// A correction with both values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// The instance.
    pub address: String,
    /// The value since.
    pub after: String,
    /// When it was corrected.
    pub at: String,
    /// The value before.
    pub before: String,
    /// When that was given.
    pub before_at: String,
    /// By whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_by: Option<String>,
    /// Who corrected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry that corrected.
    pub n: u64,
    /// Why.
    pub reason: String,
    /// The entry that was superseded.
    pub supersedes: u64,
}

/// A signature that no longer counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lapsed {
    /// The instance.
    pub address: String,
    /// The entry of the correction.
    pub by_n: u64,
    /// The entry of the signature.
    pub n: u64,
}

/// A sentence about the journal itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JournalNote {
    /// The entry.
    pub n: u64,
    /// What happened.
    pub text: String,
}

/// An answer that no longer belongs to the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Parked {
    /// The instance.
    pub address: String,
    /// When it was given.
    pub at: String,
    /// Who gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry.
    pub n: u64,
    /// What was asked.
    pub text: String,
    /// The answer in words.
    pub what: String,
}

/// The exceptions as acknowledged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exceptions {
    /// Who looked at them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The entry that says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub n: Option<u64>,
    /// Each, as it was shown.
    pub shown: Vec<String>,
}

/// How the job was stopped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stop {
    /// The instance.
    pub address: String,
    /// The state in which the machine is left.
    pub safe_state: String,
    /// Who is told.
    pub tell: Vec<String>,
    /// Why it ended.
    pub text: String,
}
