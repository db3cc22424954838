//! The working of a calculation: what went in, each line as on paper, what came out and how much each
//! figure weighs.
//!
//! A value, the same for the terminal, the record and other programs.

use super::declare::{Calculation, Gives};
use super::figure::{digits, in_three, shown};

/// An input as it was used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Used {
    /// Its name.
    pub name: &'static str,
    /// Its symbol in the formulas, or empty.
    pub symbol: &'static str,
    /// What it is.
    pub what: &'static str,
    /// The figure, list or word as it was given.
    pub given: String,
    /// The same in the units of the working, where they are others.
    pub shown: Option<String>,
    /// Where it came from.
    pub from: String,
}

/// One line of the working.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What the line works out.
    pub what: String,
    /// The formula with symbols; empty where a figure is looked up or compared.
    pub formula: String,
    /// The formula with its figures.
    pub figures: String,
    /// The result with its unit.
    pub result: String,
}

impl Line {
    pub(super) fn new(
        what: impl Into<String>,
        formula: impl Into<String>,
        figures: impl Into<String>,
        result: impl Into<String>,
    ) -> Self {
        let (what, formula) = (what.into(), formula.into());
        Self { what, formula, figures: figures.into(), result: result.into() }
    }
}

/// A result as a value.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A figure in SI units.
    Figure(f64),
    /// Figures in SI units.
    Figures(Vec<f64>),
    /// A word or a code.
    Word(String),
}

/// A named result.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Its name.
    pub name: &'static str,
    /// What it is.
    pub what: &'static str,
    /// What it measures; none for a word.
    pub gives: Gives,
    /// The unit that it is shown in.
    pub unit: &'static str,
    /// The value.
    pub value: Value,
}

impl Outcome {
    /// The value for people.
    pub fn shown(&self) -> String {
        match &self.value {
            Value::Figure(si) => shown(*si, self.unit),
            Value::Figures(list) => {
                list.iter().map(|si| shown(*si, self.unit)).collect::<Vec<_>>().join(", ")
            }
            Value::Word(word) => word.clone(),
        }
    }
}

/// What a result is held against.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// The result.
    pub what: String,
    /// Its value.
    pub value: String,
    /// What it is held against, with where that came from.
    pub against: String,
    /// How it stands.
    pub verdict: String,
}

/// What a small change of one input does to the main result.
#[derive(Debug, Clone, PartialEq)]
pub struct Weight {
    /// The input by name, or one reading of a list.
    pub input: String,
    /// The change, such as `1 % more`.
    pub step: String,
    /// What it does, such as `+0.485 N/mm (+4.06 %)`; empty where it does nothing.
    pub effect: String,
}

/// A finished calculation.
#[derive(Debug, Clone, PartialEq)]
pub struct Working {
    /// The calculation's name.
    pub calculation: &'static str,
    /// What it answers.
    pub title: &'static str,
    /// What went in.
    pub inputs: Vec<Used>,
    /// The working.
    pub lines: Vec<Line>,
    /// What came out; the first is the main result.
    pub results: Vec<Outcome>,
    /// What it was held against.
    pub compared_with: Vec<Comparison>,
    /// How much each input weighs in the main result.
    pub sensitivity: Vec<Weight>,
    /// What to change where something is missing.
    pub changes: Vec<String>,
    /// What weakens the result.
    pub warnings: Vec<String>,
}

impl Working {
    /// The result of this name.
    pub fn result(&self, name: &str) -> Option<&Value> {
        self.results.iter().find(|result| result.name == name).map(|result| &result.value)
    }

    /// The figure of this name in SI units.
    pub fn figure(&self, name: &str) -> Option<f64> {
        match self.result(name)? {
            Value::Figure(si) => Some(*si),
            Value::Figures(_) | Value::Word(_) => None,
        }
    }

    /// The list of this name in SI units.
    pub fn figures(&self, name: &str) -> Option<&[f64]> {
        match self.result(name)? {
            Value::Figures(list) => Some(list),
            Value::Figure(_) | Value::Word(_) => None,
        }
    }

    /// The word or the code of this name.
    pub fn word(&self, name: &str) -> Option<&str> {
        match self.result(name)? {
            Value::Word(word) => Some(word),
            Value::Figure(_) | Value::Figures(_) => None,
        }
    }

    /// The whole working as paragraphs under headings, without an end of line at the end.
    pub fn text(&self) -> String {
        let page = vec![format!("{}: {}", self.calculation, self.title)];
        let main = self.results.first().map_or("the result", |result| result.name);
        let heading = format!("What a small change does to {main}");
        let paragraphs: [(&str, Vec<String>); 7] = [
            ("Given", self.inputs.iter().map(given).collect()),
            ("Working", self.lines.iter().flat_map(on_paper).collect()),
            ("Result", self.results.iter().map(outcome).collect()),
            ("Held against", self.compared_with.iter().map(compared).collect()),
            ("To change it", self.changes.clone()),
            (&heading, self.weights()),
            ("Take care", self.warnings.clone()),
        ];
        paged(page, paragraphs)
    }
}

/// A page of lines, with the paragraphs that say something under their headings.
pub(super) fn paged<'a>(
    mut page: Vec<String>,
    paragraphs: impl IntoIterator<Item = (&'a str, Vec<String>)>,
) -> String {
    for (heading, lines) in paragraphs {
        if !lines.is_empty() {
            page.push(String::new());
            page.push(heading.to_owned());
            page.extend(lines.into_iter().map(|line| format!("  {line}")));
        }
    }
    page.join("\n")
}

impl Working {
    /// What each input weighs, a line each; those that weigh nothing together in one.
    fn weights(&self) -> Vec<String> {
        let (still, moving): (Vec<&Weight>, Vec<&Weight>) =
            self.sensitivity.iter().partition(|weight| weight.effect.is_empty());
        let mut lines: Vec<String> = moving
            .into_iter()
            .map(|weight| format!("{} {}: {}", weight.input, weight.step, weight.effect))
            .collect();
        if !still.is_empty() {
            let names: Vec<&str> = still.iter().map(|weight| weight.input.as_str()).collect();
            lines.push(format!("nothing: {}", names.join(", ")));
        }
        lines
    }
}

fn given(used: &Used) -> String {
    let symbol = if used.symbol.is_empty() { String::new() } else { format!("{} = ", used.symbol) };
    let other = used.shown.as_ref().map_or_else(String::new, |shown| format!(" = {shown}"));
    format!("{}: {symbol}{}{other} ({}; {})", used.name, used.given, used.what, used.from)
}

fn on_paper(line: &Line) -> Vec<String> {
    let Line { what, formula, figures, result } = line;
    let mut lines = vec![what.clone()];
    let mut write = |text: &str| {
        if !text.is_empty() {
            lines.push(format!("  {text}"));
        }
    };
    write(formula);
    // What stands in no formula, or is only what goes into one, is no equation.
    if formula.is_empty() || result.is_empty() || figures.starts_with("with ") {
        write(figures);
    } else if !figures.is_empty() {
        write(&format!("= {figures}"));
    }
    if !result.is_empty() {
        write(&format!("= {result}"));
    }
    lines
}

fn outcome(outcome: &Outcome) -> String {
    format!("{}: {} ({})", outcome.name, outcome.shown(), outcome.what)
}

fn compared(comparison: &Comparison) -> String {
    let Comparison { what, value, against, verdict } = comparison;
    format!("{what}: {value} against {against}: {verdict}")
}

/// What a calculation writes while it works; [`super::run`] makes a [`Working`] of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sheet {
    pub(super) lines: Vec<Line>,
    pub(super) values: Vec<(&'static str, Value)>,
    pub(super) compared_with: Vec<Comparison>,
    pub(super) weights: Vec<Weight>,
    pub(super) changes: Vec<String>,
    pub(super) warnings: Vec<String>,
}

impl Sheet {
    /// An empty sheet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Writes a line.
    pub fn line(
        &mut self,
        what: impl Into<String>,
        formula: impl Into<String>,
        figures: impl Into<String>,
        result: impl Into<String>,
    ) {
        self.lines.push(Line::new(what, formula, figures, result));
    }

    /// Writes lines that were written elsewhere.
    pub fn lines(&mut self, lines: impl IntoIterator<Item = Line>) {
        self.lines.extend(lines);
    }

    /// Gives the named result, in SI units.
    pub fn gives(&mut self, name: &'static str, si: f64) {
        self.values.push((name, Value::Figure(si)));
    }

    /// Gives the named list, in SI units.
    pub fn gives_list(&mut self, name: &'static str, list: Vec<f64>) {
        self.values.push((name, Value::Figures(list)));
    }

    /// Gives the named word or code.
    pub fn gives_word(&mut self, name: &'static str, word: impl Into<String>) {
        self.values.push((name, Value::Word(word.into())));
    }

    /// Warns of something.
    pub fn warn(&mut self, text: impl Into<String>) {
        self.warnings.push(text.into());
    }

    /// Says what to change.
    pub fn change(&mut self, text: impl Into<String>) {
        self.changes.push(text.into());
    }

    /// Holds a result against something.
    pub fn held(&mut self, comparison: Comparison) {
        self.compared_with.push(comparison);
    }

    /// Says what one reading weighs.
    pub fn weighs(
        &mut self,
        input: impl Into<String>,
        step: impl Into<String>,
        effect: impl Into<String>,
    ) {
        let (input, step, effect) = (input.into(), step.into(), effect.into());
        self.weights.push(Weight { input, step, effect });
    }

    pub(super) fn main(&self, calculation: &Calculation) -> Option<f64> {
        let name = calculation.outputs.first()?.name;
        self.figure(name)
    }

    pub(super) fn figure(&self, name: &str) -> Option<f64> {
        self.values.iter().find_map(|(given, value)| match value {
            Value::Figure(si) if *given == name => Some(*si),
            _ => None,
        })
    }
}

/// A change as a figure and, where that says more, as a share of what it was; empty for none.
pub(super) fn effect(before: f64, after: f64, unit: &str) -> String {
    let change = after - before;
    if change.abs() <= before.abs() * 1e-9 {
        return String::new();
    }
    let sign = if change > 0.0 { "+" } else { "−" };
    if unit == "%" {
        return format!("now {}, then {}", shown(before, unit), shown(after, unit));
    }
    let size = in_three(change.abs(), unit);
    let share = 100.0 * change / before;
    if before.abs() > f64::MIN_POSITIVE && share.is_finite() {
        return format!("{sign}{size} ({sign}{} %)", digits(share.abs(), 3));
    }
    format!("{sign}{size}")
}
