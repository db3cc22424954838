//! How a mapping of the language is described: its keys, their shapes, and what goes with what.
//!
//! The descriptions themselves are in `table`. The reader, the JSON Schemas and the listing for
//! people are all made from them, so the three cannot disagree.

use crate::diag::Code;

/// A mapping of the language.
#[derive(Debug)]
pub struct Mapping {
    /// Its name in schemas and in the listing.
    pub name: &'static str,
    /// With an article, for messages: `a step`.
    pub noun: &'static str,
    /// One line for people.
    pub doc: &'static str,
    /// The keys that may always stand in it.
    pub fields: &'static [Field],
    /// Keys that depend on others.
    pub choice: Choice,
    /// The shape of values under keys that the author makes up.
    pub rest: Option<Shape>,
}

/// One key.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// The key.
    pub key: &'static str,
    /// What stands under it.
    pub shape: Shape,
    /// Whether it must be there.
    pub presence: Presence,
    /// One line for people.
    pub doc: &'static str,
    /// The version of the language that first had it; for a reserved key, that reserved it.
    pub since: &'static str,
}

/// Whether a key must be there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Presence {
    /// It must.
    Required,
    /// It may.
    Optional,
    /// It means something in a later version and is refused in this one.
    Reserved,
}

/// A key that must be there.
pub(super) const fn must(key: &'static str, shape: Shape, doc: &'static str) -> Field {
    Field { key, shape, presence: Presence::Required, doc, since: "1.0" }
}

/// A key that may be there.
pub(super) const fn may(key: &'static str, shape: Shape, doc: &'static str) -> Field {
    Field { key, shape, presence: Presence::Optional, doc, since: "1.0" }
}

/// The same key, had by the language from `version` on.
pub(super) const fn since(version: &'static str, field: Field) -> Field {
    Field { since: version, ..field }
}

/// A key that a later version will have.
pub(super) const fn later(key: &'static str, doc: &'static str) -> Field {
    Field { key, shape: Shape::Anything, presence: Presence::Reserved, doc, since: "1.0" }
}

/// What may stand under a key.
#[derive(Debug, Clone, Copy)]
pub enum Shape {
    /// Whatever it is, it is refused elsewhere.
    Anything,
    /// A text of some kind.
    Text(&'static TextShape),
    /// One of fixed words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A whole number from 1 to [`COUNT_MAX`].
    Count,
    /// A whole number, or the name of a figure of the equipment file.
    CountOrFigure,
    /// The name of a figure of the equipment file, or a mapping.
    FigureOr(&'static Mapping),
    /// One value of the first shape, or a list or mapping of the second.
    Either(&'static Self, &'static Self),
    /// A mapping.
    Mapping(&'static Mapping),
    /// A list of at least so many.
    List(&'static Self, usize),
    /// One, or a list of at least one.
    OneOrMore(&'static Self),
    /// A mapping whose keys the author makes up, of at least so many.
    Keyed(&'static TextShape, &'static Self, usize),
}

/// The greatest whole number anywhere in a file. No machine has ten thousand of anything that a
/// person inspects one by one.
pub const COUNT_MAX: u32 = 9999;

/// A kind of text.
#[derive(Debug)]
pub struct TextShape {
    /// For messages: `a date such as 2026-09-01`.
    pub noun: &'static str,
    /// A regular expression that every accepted text meets; `None` for any that is not blank.
    pub pattern: Option<&'static str>,
    /// What else than a string an accepted, unquoted text may be to a JSON Schema.
    pub typed: &'static [&'static str],
    /// Whether YAML tools elsewhere could spoil it.
    pub quoting: Quoting,
    /// The code of the message when it is refused.
    pub code: Code,
    /// Says what keeps a text from being one of these, and perhaps what to do about it.
    pub check: fn(&str) -> Result<(), TextFault>,
}

/// Why a text is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextFault {
    /// What is wrong; empty where the noun says it all.
    pub why: String,
    /// What to do.
    pub help: Option<String>,
}

/// When an unquoted text calls for quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quoting {
    /// Where any YAML tool would re-type it.
    WhenRetyped,
    /// The same, but plain whole numbers such as `3` are safe.
    WhenRetypedUnlessWhole,
    /// Never: numbers and dates are what is wanted.
    Never,
}

/// Keys that depend on others.
#[derive(Debug)]
pub enum Choice {
    /// None do.
    None,
    /// Exactly one case is picked by a key that is there.
    Key(&'static KeyChoice),
    /// One case is picked by the word under a key.
    Word(&'static WordChoice),
}

/// A choice by which key is there.
#[derive(Debug)]
pub struct KeyChoice {
    /// What is picked: `action`.
    pub what: &'static str,
    /// The code when none is picked or more than one.
    pub code: Code,
    /// The cases.
    pub cases: &'static [Case],
}

/// A choice by a word.
#[derive(Debug)]
pub struct WordChoice {
    /// The key with the word.
    pub key: &'static str,
    /// The word that holds when the key is not there.
    pub default: Option<&'static str>,
    /// The cases.
    pub cases: &'static [Case],
}

/// One case of a choice.
#[derive(Debug)]
pub struct Case {
    /// The word that picks it, or the name of what its lead keys say.
    pub word: &'static str,
    /// The keys any of which picks it; none in a choice by word.
    pub lead: &'static [Field],
    /// The keys that go with it.
    pub fields: &'static [Field],
    /// A choice inside the case.
    pub then: Choice,
}

impl Case {
    /// The lead keys and the keys that go with them, those of a choice inside not counted.
    pub fn own(&self) -> impl Iterator<Item = &'static Field> {
        self.lead.iter().chain(self.fields)
    }

    /// All keys of the case, those of a choice inside too.
    pub fn all(&self) -> Vec<&'static Field> {
        let mut fields: Vec<_> = self.own().collect();
        for case in self.then.cases() {
            fields.extend(case.all());
        }
        fields
    }
}

impl Choice {
    /// The cases.
    pub fn cases(&self) -> &'static [Case] {
        match self {
            Self::None => &[],
            Self::Key(choice) => choice.cases,
            Self::Word(choice) => choice.cases,
        }
    }
}

impl Mapping {
    /// All keys, whatever the case; a key of several cases stands here several times.
    pub fn all(&self) -> Vec<&'static Field> {
        let mut fields: Vec<_> = self.fields.iter().collect();
        for case in self.choice.cases() {
            fields.extend(case.all());
        }
        fields
    }
}
