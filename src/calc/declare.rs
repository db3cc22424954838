//! What a calculation says of itself: name, formulas, inputs with their ranges, results, sources.
//!
//! All of it can be looked at before a figure is known, so that a file that names a calculation can be
//! checked. How it is done is in `perform`.

use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

/// What an input takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// A single figure.
    Figure(Dimension),
    /// A whole number.
    Count,
    /// A figure, or the least and the greatest that it may be.
    Range(Dimension),
    /// A list of figures.
    Figures(Dimension),
    /// One of these words.
    Word(&'static [&'static str]),
}

impl Takes {
    /// The dimension of its figures; none for words.
    pub fn dimension(self) -> Option<Dimension> {
        match self {
            Self::Figure(dimension) | Self::Range(dimension) | Self::Figures(dimension) => {
                Some(dimension)
            }
            Self::Count => Some(Dimension::Number),
            Self::Word(_) => None,
        }
    }
}

/// Whether an input must be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// It must.
    Required,
    /// This holds without it.
    Default(&'static str),
    /// It may be left out; these words say what follows from that.
    Optional(&'static str),
}

/// The range of an input, both ends among it, and why it ends there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Range {
    /// The least, as a figure with its unit.
    pub low: &'static str,
    /// The greatest, as a figure with its unit.
    pub high: &'static str,
    /// Why.
    pub because: &'static str,
}

/// One input of a calculation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Input {
    /// Its name.
    pub name: &'static str,
    /// Its symbol in the formulas; empty for what stands in none.
    pub symbol: &'static str,
    /// What it is, as a person calls it.
    pub what: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// The unit that it is shown in; empty for words and plain numbers.
    pub unit: &'static str,
    /// Whether it must be given.
    pub need: Need,
    /// Where it must lie; none for words.
    pub range: Option<Range>,
    /// Whether the working says how much it weighs.
    pub weighs: bool,
}

impl Input {
    /// An input of one figure that must be given.
    pub const fn figure(
        name: &'static str,
        symbol: &'static str,
        what: &'static str,
        (dimension, unit): (Dimension, &'static str),
    ) -> Self {
        let (takes, need) = (Takes::Figure(dimension), Need::Required);
        Self { name, symbol, what, takes, unit, need, range: None, weighs: true }
    }

    /// An input of a whole number that must be given.
    pub const fn count(name: &'static str, symbol: &'static str, what: &'static str) -> Self {
        Self { takes: Takes::Count, ..Self::figure(name, symbol, what, (Dimension::Number, "")) }
    }

    /// An input of a list that must be given.
    pub const fn figures(
        name: &'static str,
        symbol: &'static str,
        what: &'static str,
        (dimension, unit): (Dimension, &'static str),
    ) -> Self {
        let takes = Takes::Figures(dimension);
        Self { takes, ..Self::figure(name, symbol, what, (dimension, unit)) }
    }

    /// The same as a figure that may be a range: the worst of it is reckoned with.
    ///
    /// What the ends weigh is for the calculation to say: it knows which of them counts.
    #[must_use]
    pub const fn or_range(self) -> Self {
        let takes = match self.takes {
            Takes::Figure(dimension) => Takes::Range(dimension),
            other => other,
        };
        Self { takes, weighs: false, ..self }
    }

    /// An input of one of several words.
    pub const fn word(
        name: &'static str,
        what: &'static str,
        words: &'static [&'static str],
    ) -> Self {
        let figure = Self::figure(name, "", what, (Dimension::Number, ""));
        Self { takes: Takes::Word(words), ..figure }
    }

    /// The same with a range and why it ends there.
    #[must_use]
    pub const fn from_to(
        self,
        low: &'static str,
        high: &'static str,
        because: &'static str,
    ) -> Self {
        Self { range: Some(Range { low, high, because }), ..self }
    }

    /// The same, and this holds without it.
    #[must_use]
    pub const fn or(self, default: &'static str) -> Self {
        Self { need: Need::Default(default), ..self }
    }

    /// The same, and it may be left out.
    #[must_use]
    pub const fn optional(self, without: &'static str) -> Self {
        Self { need: Need::Optional(without), ..self }
    }

    /// The same, without a line on what it weighs.
    #[must_use]
    pub const fn weightless(self) -> Self {
        Self { weighs: false, ..self }
    }
}

/// What a result is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gives {
    /// A figure.
    Figure(Dimension),
    /// A list of figures.
    Figures(Dimension),
    /// One of these words.
    Word(&'static [&'static str]),
    /// A text of its own, such as a code.
    Text,
}

/// One result of a calculation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Output {
    /// Its name.
    pub name: &'static str,
    /// What it is.
    pub what: &'static str,
    /// What it gives.
    pub gives: Gives,
    /// The unit that it is shown in.
    pub unit: &'static str,
    /// When it is left out; empty when it never is.
    pub absent: &'static str,
}

impl Output {
    /// A result that is a figure.
    pub const fn figure(
        name: &'static str,
        what: &'static str,
        (dimension, unit): (Dimension, &'static str),
    ) -> Self {
        Self { name, what, gives: Gives::Figure(dimension), unit, absent: "" }
    }

    /// A result that is a list.
    pub const fn figures(
        name: &'static str,
        what: &'static str,
        (dimension, unit): (Dimension, &'static str),
    ) -> Self {
        Self { name, what, gives: Gives::Figures(dimension), unit, absent: "" }
    }

    /// A result that is a word.
    pub const fn word(
        name: &'static str,
        what: &'static str,
        words: &'static [&'static str],
    ) -> Self {
        Self { name, what, gives: Gives::Word(words), unit: "", absent: "" }
    }

    /// A result that is a text.
    pub const fn text(name: &'static str, what: &'static str) -> Self {
        Self { name, what, gives: Gives::Text, unit: "", absent: "" }
    }

    /// The same, and when it is left out.
    #[must_use]
    pub const fn unless(self, absent: &'static str) -> Self {
        Self { absent, ..self }
    }
}

/// Which results a limit is held against. A calculation whose result is a range holds the least
/// against `at_least` and the greatest against `at_most`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// The result that `at_least` is for.
    pub at_least: &'static str,
    /// The result that `at_most` is for.
    pub at_most: &'static str,
}

/// The inputs that every calculation with something to hold takes beside its own.
pub const AT_LEAST: &str = "at_least";
/// See [`AT_LEAST`].
pub const AT_MOST: &str = "at_most";
/// The result that says how a limit was met.
pub const VERDICT: &str = "verdict";
/// The words of [`VERDICT`].
pub const VERDICTS: &[&str] = &["within", "below", "above"];

/// A named calculation.
#[derive(Debug, Clone, Copy)]
pub struct Calculation {
    /// Its name.
    pub name: &'static str,
    /// What it answers, in a line.
    pub title: &'static str,
    /// The formulas.
    pub formulas: &'static [&'static str],
    /// The symbols in them that are no inputs, each with what it stands for and its unit.
    pub symbols: &'static [(&'static str, &'static str)],
    /// Where it holds.
    pub valid: &'static [&'static str],
    /// What it warns of, and what it does not look at.
    pub warnings: &'static [&'static str],
    /// Where it comes from, and what of it is from memory.
    pub sources: &'static [&'static str],
    /// What it is given.
    pub inputs: &'static [Input],
    /// What comes out; the first is the main result.
    pub outputs: &'static [Output],
    /// What `at_least` and `at_most` are held against; none where there is nothing to hold.
    pub held: Option<Held>,
    /// Inputs of an example that can be tried, as names and texts.
    pub example: &'static [(&'static str, &'static str)],
    /// Does it.
    pub run: fn(&Known<'_>) -> Result<Sheet, CalcRefusal>,
}

impl Calculation {
    /// The input of this name; limits are not among them.
    pub fn input(&self, name: &str) -> Option<&'static Input> {
        self.inputs.iter().find(|input| input.name == name)
    }

    /// The result of this name; the verdict is not among them.
    pub fn output(&self, name: &str) -> Option<&'static Output> {
        self.outputs.iter().find(|output| output.name == name)
    }

    /// What an input takes, limits included.
    pub fn takes(&self, name: &str) -> Option<(Takes, &'static str)> {
        let held = self.held.and_then(|held| match name {
            AT_LEAST => self.output(held.at_least),
            AT_MOST => self.output(held.at_most),
            _ => None,
        });
        if let Some(Output { gives: Gives::Figure(dimension), unit, .. }) = held {
            return Some((Takes::Figure(*dimension), unit));
        }
        self.input(name).map(|input| (input.takes, input.unit))
    }

    /// Every name that may be given.
    pub fn input_names(&self) -> Vec<&'static str> {
        let limits: &[&str] = if self.held.is_some() { &[AT_LEAST, AT_MOST] } else { &[] };
        self.inputs.iter().map(|input| input.name).chain(limits.iter().copied()).collect()
    }
}
