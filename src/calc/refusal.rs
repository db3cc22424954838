//! Why a calculation has no result, in the words of whoever gave the figures.

use super::bounds::Outside;
use super::unit::noun;
use crate::units::Dimension;
use crate::visible::visible;

/// Why a calculation has no result.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CalcRefusal {
    /// There is no calculation of this name.
    #[error("there is no calculation `{}`{}", visible(.name), meant(*.near))]
    NoSuch {
        /// The name.
        name: String,
        /// The one that it is most like.
        near: Option<&'static str>,
    },
    /// An input that the calculation does not have.
    #[error("`{calculation}` has no input `{}`; it takes {}", visible(.name), listed(.known))]
    Unknown {
        /// The calculation.
        calculation: &'static str,
        /// The name as given.
        name: String,
        /// The names that it has.
        known: Vec<&'static str>,
    },
    /// The same input twice.
    #[error("`{0}` is given twice; give it once")]
    Twice(String),
    /// An input is missing.
    #[error("`{name}` is missing: {what}{such}")]
    Missing {
        /// The input.
        name: &'static str,
        /// What it is.
        what: &'static str,
        /// What one looks like.
        such: String,
    },
    /// One of several inputs is missing, or they contradict each other, or do not go together.
    #[error("{0}")]
    Together(String),
    /// A text that is no figure of the input's dimension.
    #[error("`{name}` {fault}")]
    Unreadable {
        /// The input.
        name: String,
        /// What is wrong.
        fault: String,
    },
    /// A figure of another dimension than the input's.
    #[error("`{name}` is {}, and {} is asked for", noun(*.is), noun(*.wanted))]
    WrongDimension {
        /// The input.
        name: String,
        /// What it measures.
        is: Dimension,
        /// What it should measure.
        wanted: Dimension,
    },
    /// A list for a figure, a word for a list and the like.
    #[error("`{name}` is {is}; {wanted} is asked for")]
    WrongShape {
        /// The input.
        name: String,
        /// What it is.
        is: &'static str,
        /// What it should be.
        wanted: &'static str,
    },
    /// A word that is not among the choices.
    #[error("`{name}` is `{}`; it is one of {}", visible(.found), listed(.choices))]
    Word {
        /// The input.
        name: String,
        /// The word as given.
        found: String,
        /// The choices.
        choices: Vec<&'static str>,
    },
    /// A figure out of its range.
    #[error("`{name}` is {found}; it must lie from {low} to {high}: {because}")]
    Outside {
        /// The input.
        name: String,
        /// The figure as given.
        found: String,
        /// The least.
        low: String,
        /// The greatest.
        high: String,
        /// Why the range ends there.
        because: String,
    },
    /// The figures are each in range, and nothing real comes of them together.
    #[error("{0}")]
    Impossible(String),
    /// The arithmetic left the numbers.
    #[error(
        "`{0}` cannot be worked out from these figures: the arithmetic leaves the numbers; look at the units"
    )]
    NotFinite(&'static str),
}

fn meant(near: Option<&str>) -> String {
    near.map_or_else(
        || "; `witnessmark calc` lists them".to_owned(),
        |near| format!("; do you mean `{near}`?"),
    )
}

impl From<Outside> for CalcRefusal {
    fn from(outside: Outside) -> Self {
        Self::Impossible(outside.to_string())
    }
}

/// Names in backticks, with commas.
pub(super) fn listed(names: &[&str]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}
