//! The fluid calculations by name: what each is given, what it says of itself, and its working.
//!
//! Figures arrive in SI units, by name. Reading units, and where a figure came from, is for the caller.

mod explain;
mod run;
mod suction;
mod table;

use std::collections::BTreeMap;
use std::fmt;

use super::bounds::Outside;
use super::oil::OilRefusal;
use super::suction::working::Step;
use super::suction::{Spread, SuctionRefusal};

pub use self::table::FLUIDS;

/// What an input is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A single figure.
    Figure,
    /// A figure, or the least and the greatest that it may be.
    Range,
    /// One of these words.
    Word(&'static [&'static str]),
}

/// One input of a calculation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Input {
    /// Its name.
    pub name: &'static str,
    /// What it is of.
    pub what: &'static str,
    /// Its SI unit; empty for words and plain numbers.
    pub unit: &'static str,
    /// A figure, a range or a word.
    pub kind: Kind,
    /// What holds without it; `None` when it must be given.
    pub without: Option<&'static str>,
}

/// A calculation: what it says of itself, and how it is done.
#[derive(Debug, Clone, Copy)]
pub struct Fluid {
    /// Its name.
    pub name: &'static str,
    /// What it answers, in a line.
    pub title: &'static str,
    /// The formulas.
    pub formulas: &'static [&'static str],
    /// The symbols in them, each with what it stands for and its unit.
    pub symbols: &'static [(&'static str, &'static str)],
    /// Where it holds.
    pub valid: &'static [&'static str],
    /// What it warns of.
    pub warnings: &'static [&'static str],
    /// Where it comes from, and what of it is from memory.
    pub sources: &'static [&'static str],
    /// What it is given.
    pub inputs: &'static [Input],
    run: fn(&Given) -> Result<Answer, FluidRefusal>,
}

/// What a calculation is given, by name.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Given {
    /// Figures in SI units.
    pub figures: BTreeMap<String, Spread>,
    /// Words.
    pub words: BTreeMap<String, String>,
}

impl Given {
    /// With this figure too, in SI units.
    #[must_use]
    pub fn with(mut self, name: &str, figure: f64) -> Self {
        self.figures.insert(name.to_owned(), Spread::only(figure));
        self
    }

    /// With this range too, in SI units.
    #[must_use]
    pub fn between(mut self, name: &str, low: f64, high: f64) -> Self {
        self.figures.insert(name.to_owned(), Spread::between(low, high));
        self
    }

    /// With this word too.
    #[must_use]
    pub fn word(mut self, name: &str, word: &str) -> Self {
        self.words.insert(name.to_owned(), word.to_owned());
        self
    }

    fn maybe(&self, name: &str) -> Option<Spread> {
        self.figures.get(name).copied()
    }

    fn range(&self, name: &'static str) -> Result<Spread, FluidRefusal> {
        self.maybe(name).ok_or(FluidRefusal::Missing { one_of: vec![name] })
    }

    fn figure(&self, name: &'static str) -> Result<f64, FluidRefusal> {
        self.range(name).map(|spread| spread.low)
    }

    fn figure_or(&self, name: &str, without: f64) -> f64 {
        self.maybe(name).map_or(without, |spread| spread.low)
    }

    /// The one of several figures that is given: none is missing, two contradict each other.
    fn one_of(&self, names: &[&'static str]) -> Result<(&'static str, Spread), FluidRefusal> {
        let mut given = names.iter().filter_map(|&name| Some((name, self.maybe(name)?)));
        match (given.next(), given.next()) {
            (None, _) => Err(FluidRefusal::Missing { one_of: names.to_vec() }),
            (Some((one, _)), Some((other, _))) => Err(FluidRefusal::Both { one, other }),
            (Some(only), None) => Ok(only),
        }
    }
}

/// A figure that comes out.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Its name.
    pub name: &'static str,
    /// The figure in SI units, or the word.
    pub value: Value,
}

/// A result.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A figure, with its SI unit.
    Figure(f64, &'static str),
    /// A word or a code.
    Word(String),
}

/// What a calculation answers. The first outcome is the main one.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The results.
    pub outcomes: Vec<Outcome>,
    /// Whether what is required is met, where something is required.
    pub meets: Option<bool>,
    /// The working, line by line.
    pub working: Vec<Step>,
    /// What each figure weighs, in words.
    pub weights: Vec<String>,
    /// What to change to win what is missing, in words.
    pub changes: Vec<String>,
    /// What weakens the result, in words.
    pub warnings: Vec<String>,
}

impl Answer {
    fn of(outcomes: Vec<Outcome>, working: Vec<Step>) -> Self {
        let none = Vec::new;
        Self { outcomes, meets: None, working, weights: none(), changes: none(), warnings: none() }
    }

    fn main(&self) -> Option<f64> {
        match self.outcomes.first()?.value {
            Value::Figure(figure, _) => Some(figure),
            Value::Word(_) => None,
        }
    }
}

fn figure(name: &'static str, figure: f64, unit: &'static str) -> Outcome {
    Outcome { name, value: Value::Figure(figure, unit) }
}

fn word(name: &'static str, word: impl Into<String>) -> Outcome {
    Outcome { name, value: Value::Word(word.into()) }
}

/// Why a calculation has no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum FluidRefusal {
    /// An input that it does not have.
    Unknown {
        /// The name as given.
        name: String,
        /// The names that it has.
        known: Vec<&'static str>,
    },
    /// An input is missing, or one of several.
    Missing {
        /// The names of which one is needed.
        one_of: Vec<&'static str>,
    },
    /// Two inputs say the same thing in two ways.
    Both {
        /// The one.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
    /// An input that does not go with the others, and the one that does.
    Instead {
        /// The one given.
        found: &'static str,
        /// The one that is wanted.
        wanted: &'static str,
    },
    /// A range where a single figure is asked for.
    NoRange(&'static str),
    /// A word that is not among the choices.
    Word {
        /// The input.
        name: &'static str,
        /// The word as given.
        found: String,
        /// The choices.
        choices: &'static [&'static str],
    },
    /// A figure out of its range.
    Outside(Outside),
    /// No figure for this oil.
    Oil(OilRefusal),
    /// No result for this suction.
    Suction(Box<SuctionRefusal>),
}

impl From<Outside> for FluidRefusal {
    fn from(outside: Outside) -> Self {
        Self::Outside(outside)
    }
}

impl From<OilRefusal> for FluidRefusal {
    fn from(refusal: OilRefusal) -> Self {
        Self::Oil(refusal)
    }
}

impl From<SuctionRefusal> for FluidRefusal {
    fn from(refusal: SuctionRefusal) -> Self {
        Self::Suction(Box::new(refusal))
    }
}

/// Names in backticks, with commas.
fn listed(names: &[&str]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

impl fmt::Display for FluidRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown { name, known } => {
                let name = crate::visible::visible(name);
                write!(f, "there is no input `{name}`; the inputs are {}", listed(known))
            }
            Self::Missing { one_of } => match one_of.as_slice() {
                [only] => write!(f, "`{only}` is missing"),
                several => write!(f, "one of these is missing: {}", listed(several)),
            },
            Self::Both { one, other } => {
                write!(f, "`{one}` and `{other}` say the same thing in two ways: give one of them")
            }
            Self::Instead { found, wanted } => {
                write!(f, "`{found}` does not go with the other inputs: give `{wanted}` instead")
            }
            Self::NoRange(name) => write!(f, "`{name}` is a single figure, not a range"),
            Self::Word { name, found, choices } => {
                let found = crate::visible::visible(found);
                write!(f, "`{name}` is `{found}`; it is one of {}", listed(choices))
            }
            Self::Outside(outside) => outside.fmt(f),
            Self::Oil(refusal) => refusal.fmt(f),
            Self::Suction(refusal) => refusal.fmt(f),
        }
    }
}

impl std::error::Error for FluidRefusal {}

impl Fluid {
    /// The calculation of this name.
    pub fn named(name: &str) -> Option<&'static Self> {
        FLUIDS.iter().find(|fluid| fluid.name == name)
    }

    /// Does the calculation, and says what each figure weighs.
    pub fn answer(&self, given: &Given) -> Result<Answer, FluidRefusal> {
        self.look_over(given)?;
        let mut answer = (self.run)(given)?;
        if answer.weights.is_empty() {
            answer.weights = self.weights(given, &answer);
        }
        Ok(answer)
    }

    /// Whether the inputs are those that the calculation has.
    fn look_over(&self, given: &Given) -> Result<(), FluidRefusal> {
        for name in given.figures.keys().chain(given.words.keys()) {
            let is_word = given.words.contains_key(name);
            let fits = |input: &&Input| {
                input.name == name && matches!(input.kind, Kind::Word(_)) == is_word
            };
            if !self.inputs.iter().any(|input| fits(&input)) {
                let known = self.inputs.iter().map(|input| input.name).collect();
                return Err(FluidRefusal::Unknown { name: name.clone(), known });
            }
        }
        for &Input { name, kind, without, .. } in self.inputs {
            let there = given.figures.contains_key(name) || given.words.contains_key(name);
            if without.is_none() && !there {
                return Err(FluidRefusal::Missing { one_of: vec![name] });
            }
            if kind == Kind::Figure && given.maybe(name).is_some_and(|spread| spread.is_wide()) {
                return Err(FluidRefusal::NoRange(name));
            }
            if let (Kind::Word(choices), Some(found)) = (kind, given.words.get(name))
                && !choices.contains(&found.as_str())
            {
                return Err(FluidRefusal::Word { name, found: found.clone(), choices });
            }
        }
        Ok(())
    }

    /// What 1 % more of each figure, or 1 °C, does to the main result.
    fn weights(&self, given: &Given, answer: &Answer) -> Vec<String> {
        let Some(main) = answer.main() else { return Vec::new() };
        let mut weights = Vec::new();
        for input in self.inputs {
            let Some(spread) = given.maybe(input.name) else { continue };
            let (step, by) = if input.unit == "K" {
                ("1 °C more".to_owned(), 1.0)
            } else {
                ("1 % more".to_owned(), spread.low / 100.0)
            };
            let changed = given.clone().with(input.name, spread.low + by);
            let Some(after) = (self.run)(&changed).ok().and_then(|after| after.main()) else {
                continue;
            };
            let share = 100.0 * (after - main) / main;
            if share.is_finite() {
                weights.push(format!("{step} {}: {share:+.2} %", input.what));
            }
        }
        weights
    }
}

#[cfg(test)]
#[path = "fluids_tests.rs"]
mod tests;
