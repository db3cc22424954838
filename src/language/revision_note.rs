//! A line of the change log that procedure and equipment files both carry.

use chrono::NaiveDate;

use crate::ids::{PersonId, Revision};

/// One line of a file's change log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RevisionNote {
    /// The revision that the line is about.
    pub revision: Revision,
    /// The day of the change.
    pub date: NaiveDate,
    /// Who wrote it.
    pub by: PersonId,
    /// What changed, where the author says so.
    pub what: Option<String>,
    /// Why.
    pub why: String,
}
