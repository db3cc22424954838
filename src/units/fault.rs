//! Why a text is not a figure, in the words of the person who typed or wrote it.

use super::entry::{ENTRY_CHARS_MAX, is_space};
use super::quantity::FIGURE_DIGITS_MAX;
use super::{Dimension, Unit};

/// Why an entry is not a figure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EntryFault {
    /// Nothing but spaces.
    #[error("nothing was typed")]
    Empty,
    /// More than [`ENTRY_CHARS_MAX`] characters.
    #[error("this is too long for a figure; at most {ENTRY_CHARS_MAX} characters are read")]
    TooLong,
    /// More than [`FIGURE_DIGITS_MAX`] digits.
    #[error("a figure has at most {FIGURE_DIGITS_MAX} digits")]
    TooManyDigits,
    /// A character that stands in no figure.
    #[error("`{}` does not belong in a figure", crate::visible::visible(&.0.to_string()))]
    Character(char),
    /// No digit where the figure should start.
    #[error("a figure starts with a digit{}", found(*.0))]
    NoFigure(Option<char>),
    /// A mark between groups of digits.
    #[error("the digits are grouped with {}; write them together", mark_name(*.0))]
    Grouped(char),
    /// A decimal point and a decimal comma in one figure.
    #[error("both `.` and `,` stand in the figure; keep the decimal mark and leave the other out")]
    TwoMarks,
    /// The same decimal mark twice.
    #[error("`{0}` stands more than once; a figure has one decimal mark")]
    RepeatedMark(char),
    /// A comma before three digits.
    #[error("`{text}` can be {decimal} or {grouped}; write one of them without a comma")]
    Unclear {
        /// The figure as typed.
        text: String,
        /// The figure if the comma is the decimal mark.
        decimal: String,
        /// The figure if the comma groups thousands.
        grouped: String,
    },
    /// A decimal mark with no digit after it.
    #[error("the figure ends with `{0}`; write the digits after it or leave it out")]
    EndsInMark(char),
    /// A form such as `1e3`.
    #[error("a figure has no exponent; write all its digits")]
    Exponent,
    /// A fraction with a zero below the stroke.
    #[error("a fraction cannot have 0 below the `/`")]
    ZeroBelow,
    /// A `/` that is not part of a fraction such as `3/16` or `1 3/16`.
    #[error("`{0}` is not a fraction; write it like `3/16` or `1 3/16`")]
    Fraction(String),
    /// A whole number followed by a fraction of one or more.
    #[error("the fraction `{0}` after a whole number must be less than 1")]
    NotProper(String),
    /// A fraction without a unit in a metric field.
    #[error("say the unit of this fraction: write `{0} in` for inches, or a decimal figure")]
    UnitNeeded(String),
    /// Text after the figure that is no unit.
    #[error("`{}` is not a unit that this version has{}", crate::visible::visible(.text), mend(*.meant))]
    UnknownUnit {
        /// The text.
        text: String,
        /// The unit that it most likely meant.
        meant: Option<&'static str>,
    },
    /// A word that stands for more than one unit.
    #[error("`{}` can mean different things; write {mend}", crate::visible::visible(.text))]
    AmbiguousUnit {
        /// The text.
        text: String,
        /// What to write.
        mend: String,
    },
    /// A unit of another dimension than the field's.
    #[error("`{typed}` is {}, and this field takes {}{}", .is.noun(), .wanted.noun(), instead(*.wanted))]
    WrongDimension {
        /// The unit as typed or understood.
        typed: String,
        /// What it measures.
        is: Dimension,
        /// What the field measures.
        wanted: Dimension,
    },
    /// Feet followed by a figure without the inch mark.
    #[error("say the unit of `{0}` after the feet: write `{0} in` or `{0}\"`")]
    InchesUnmarked(String),
    /// Feet followed by something that is not inches below twelve, or feet that are not whole.
    #[error("feet and inches are whole feet, then inches below 12, like `6' 5 1/4\"`")]
    FeetAndInches,
    /// A figure in a file with a decimal comma.
    #[error("a figure in a file has a decimal point, not a comma")]
    CommaInFile,
    /// A form that is read from people but not from files.
    #[error("a figure in a file is a decimal such as `0.1875 in`; `{}` does not belong there",
        crate::visible::visible(.0))]
    NotInFile(String),
    /// A recorded reading whose text names another unit than was recorded.
    #[error("the text `{text}` is in `{says}`, and the record says `{recorded}`")]
    RecordedUnit {
        /// The recorded text.
        text: String,
        /// The unit that the text means.
        says: &'static str,
        /// The unit that was recorded.
        recorded: String,
    },
}

fn found(character: Option<char>) -> String {
    character.map_or_else(String::new, |c| {
        format!("; found `{}`", crate::visible::visible(&c.to_string()))
    })
}

fn mark_name(mark: char) -> String {
    if is_space(mark) { "a space".to_owned() } else { format!("`{mark}`") }
}

fn mend(meant: Option<&str>) -> String {
    meant.map_or_else(String::new, |unit| format!("; write `{unit}`"))
}

/// How a figure of `wanted` is written, where people often leave half of its unit out.
fn instead(wanted: Dimension) -> &'static str {
    match wanted {
        Dimension::Torque => "; write `N·m`, `in-lb` or `ft-lb`",
        Dimension::Force => "; write `N` or `lbf`",
        Dimension::Flow => "; write `L/min` or `m³/h`",
        _ => "",
    }
}

impl EntryFault {
    pub(super) fn unknown_unit(text: &str) -> Self {
        if let Some(mend) = Unit::ambiguity(text) {
            return Self::AmbiguousUnit { text: text.to_owned(), mend };
        }
        Self::UnknownUnit { text: text.to_owned(), meant: Unit::suggestion(text) }
    }

    /// Names what `rest`, found after a figure in a file, was meant to be.
    pub(super) fn not_in_file(rest: &str) -> Self {
        let mut chars = rest.chars();
        match (chars.next(), chars.next()) {
            (Some(c), _) if c.is_ascii_digit() => Self::Grouped(' '),
            (Some('\'' | '’'), Some(c)) if c.is_ascii_digit() => Self::Grouped('\''),
            (Some('e' | 'E'), Some(c)) if c.is_ascii_digit() || c == '-' || c == '+' => {
                Self::Exponent
            }
            _ => Self::NotInFile(rest.chars().take(ENTRY_CHARS_MAX).collect()),
        }
    }
}
