//! An equipment file: what a machine type is made of, and its figures.

use std::collections::BTreeMap;

use chrono::NaiveDate;

pub use super::fasteners::Fasteners;
pub use super::stack::{Layer, Stack};
use crate::ids::{EquipmentId, FigureId, Name, PartId, Revision};
use crate::language::RevisionNote;
use crate::source::{At, Span};
use crate::units::{Limit, Quantity};

/// An equipment file.
#[derive(Debug, Clone)]
pub struct Equipment {
    /// Its id, which is also the name of its file without the ending.
    pub id: At<EquipmentId>,
    /// The family that it belongs to; procedures may be written for the family.
    pub family: Option<At<EquipmentId>>,
    /// One line for people.
    pub title: String,
    /// Its revision.
    pub revision: Revision,
    /// The day from which the revision holds.
    pub effective: NaiveDate,
    /// The change log.
    pub revisions: Vec<RevisionNote>,
    /// Kinds of position with their names in order (`cylinder: [1, 2, 3]`).
    pub positions: BTreeMap<Name, Vec<String>>,
    /// Settings that a fit-out gives, each with its choices in file order.
    pub settings: BTreeMap<Name, Vec<At<Name>>>,
    /// Fit-outs by the letter on the name plate, in letter order.
    pub fit_outs: BTreeMap<String, FitOut>,
    /// Parts by name.
    pub parts: BTreeMap<PartId, Part>,
    /// Limits and torques by dotted name.
    pub limits: BTreeMap<FigureId, NamedLimit>,
    /// Constants by dotted name.
    pub constants: BTreeMap<FigureId, Constant>,
    /// Sets of fasteners by name.
    pub fasteners: BTreeMap<Name, Fasteners>,
    /// Stacks by name.
    pub stacks: BTreeMap<Name, Stack>,
}

/// What one letter on the name plate means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FitOut {
    /// One line for people.
    pub title: String,
    /// A value for every setting.
    pub settings: BTreeMap<Name, Name>,
}

/// A part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// One line for people.
    pub title: String,
    /// The number in the shop's store, letter for letter, where there is one.
    pub number: Option<String>,
    /// How many go to one position.
    pub quantity: u32,
    /// The kind of position that it belongs to, where it belongs to one.
    pub per: Option<At<Name>>,
    /// True when the part is renewed whatever it looks like.
    pub always_new: bool,
    /// True when the lot is written down as the part is laid.
    pub lot: bool,
    /// Where it is declared.
    pub span: Span,
}

/// A limit with its source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedLimit {
    /// The limit.
    pub limit: Limit,
    /// The figure that is aimed at, where the file names one.
    pub nominal: Option<Quantity>,
    /// Readings outside this range are taken for a slip of the hand.
    pub plausible: Option<(Quantity, Quantity)>,
    /// Where the figures come from.
    pub basis: String,
    /// Where it is declared.
    pub span: Span,
}

/// A constant with its source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Constant {
    /// The figure.
    pub value: Quantity,
    /// Where it comes from.
    pub basis: Option<String>,
    /// Where it is declared.
    pub span: Span,
}
