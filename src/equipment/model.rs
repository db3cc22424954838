//! An equipment file: what a machine type is made of, and its figures.

use std::collections::BTreeMap;

use chrono::NaiveDate;

pub use super::fasteners::Fasteners;
pub use super::stack::{Layer, Stack};
use crate::ids::{EquipmentId, FigureId, Name, PartId, Revision};
use crate::language::RevisionNote;
use crate::source::{At, Span};
use crate::units::{Criterion, Quantity};

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
    /// What stands on the name plate besides.
    pub name_plate: NamePlate,
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

/// What stands on the name plate.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NamePlate {
    /// The first and the last serial number that the file is for, of one length.
    pub serials: Option<(String, String)>,
    /// The parts of a code that stands for the settings; empty where a letter does.
    pub code: Vec<CodePart>,
}

/// Some characters of a name plate's code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodePart {
    /// The first of its characters, from 1.
    pub at: u32,
    /// How many.
    pub length: u32,
    /// The settings that they stand for.
    pub means: BTreeMap<String, BTreeMap<Name, Name>>,
}

/// Why a name plate says nothing about the machine's settings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PlateFault {
    /// The letter is not in the table; those that are.
    Letter(Vec<String>),
    /// The code has another length.
    Length {
        /// How many characters it has.
        found: usize,
        /// How many it should have.
        wanted: usize,
    },
    /// Some of its characters stand for nothing.
    Characters {
        /// The first of them, from 1.
        at: u32,
        /// The characters.
        found: String,
        /// Those that would stand for something.
        known: Vec<String>,
    },
}

/// The greatest number of different codes that are looked at one by one.
pub const N_BUILDS_MAX: usize = 4_096;

impl Equipment {
    /// The settings that `plate`, a letter or a code, stands for.
    ///
    /// # Errors
    /// What of it stands for nothing.
    pub fn build(&self, plate: &str) -> Result<BTreeMap<Name, Name>, PlateFault> {
        if self.name_plate.code.is_empty() {
            let letters = || self.fit_outs.keys().cloned().collect();
            let fit_out = self.fit_outs.get(plate);
            return fit_out
                .map(|f| f.settings.clone())
                .ok_or_else(|| PlateFault::Letter(letters()));
        }
        let characters: Vec<char> = plate.chars().collect();
        let end = |part: &CodePart| part.at.saturating_add(part.length).saturating_sub(1);
        let wanted = self.name_plate.code.iter().map(end).max().unwrap_or(0) as usize;
        if characters.len() != wanted {
            return Err(PlateFault::Length { found: characters.len(), wanted });
        }
        let mut settings = BTreeMap::new();
        for part in &self.name_plate.code {
            let skip = part.at.saturating_sub(1) as usize;
            let found: String = characters.iter().skip(skip).take(part.length as usize).collect();
            let Some(means) = part.means.get(&found) else {
                let known = part.means.keys().cloned().collect();
                return Err(PlateFault::Characters { at: part.at, found, known });
            };
            settings.extend(means.clone());
        }
        Ok(settings)
    }

    /// Every letter or code, each with its settings, up to [`N_BUILDS_MAX`]; characters of a code
    /// that stand for nothing are shown as `-`.
    pub fn builds(&self) -> Vec<(String, BTreeMap<Name, Name>)> {
        if self.name_plate.code.is_empty() {
            let fit_outs = self.fit_outs.iter();
            return fit_outs.map(|(letter, f)| (letter.clone(), f.settings.clone())).collect();
        }
        let mut parts: Vec<&CodePart> = self.name_plate.code.iter().collect();
        parts.sort_by_key(|part| part.at);
        let mut builds = vec![(String::new(), BTreeMap::new())];
        for part in parts {
            let mut longer = Vec::new();
            for (text, settings) in &builds {
                let gap = (part.at.saturating_sub(1) as usize).saturating_sub(text.chars().count());
                for (characters, means) in &part.means {
                    let mut settings: BTreeMap<Name, Name> = settings.clone();
                    settings.extend(means.clone());
                    longer.push((format!("{text}{}{characters}", "-".repeat(gap)), settings));
                }
            }
            longer.truncate(N_BUILDS_MAX);
            builds = longer;
        }
        builds
    }

    /// Whether a procedure that is written for `wanted` is written for this: by its own id, or its family's.
    pub fn takes(&self, wanted: &EquipmentId) -> bool {
        self.id.value == *wanted || self.family.as_ref().is_some_and(|f| f.value == *wanted)
    }

    /// Whether the file is for the machine with this serial number.
    pub fn is_for(&self, serial: &str) -> bool {
        self.name_plate.serials.as_ref().is_none_or(|(from, to)| {
            serial.len() == from.len() && (from.as_str()..=to.as_str()).contains(&serial)
        })
    }
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
    /// What a reading must keep to.
    pub criterion: Criterion,
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
