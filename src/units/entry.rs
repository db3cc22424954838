//! What people type into a field, and why it is refused.

use super::{Quantity, Unit};

/// A figure as typed and as understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The text as typed, letter for letter (`2.50` stays `2.50`), unit included when typed.
    pub text: String,
    /// The unit: as typed, or the field's.
    pub unit: Unit,
    /// The exact value.
    pub value: Quantity,
}

/// Why an entry is not a figure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EntryFault {
    /// Placeholder until the table is filled.
    #[error("nothing was typed")]
    Empty,
}
