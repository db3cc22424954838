//! Does a calculation: looks over what is given, works it out, holds it against limits, and says how
//! much each figure weighs.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{ToPrimitive as _, Zero as _};

use super::bounds::Spread;
use super::declare::{
    AT_LEAST, AT_MOST, Calculation, Gives, Input, Need, Output, Takes, VERDICT, VERDICTS,
};
use super::figure::{Figure, shown};
use super::refusal::{CalcRefusal, listed};
use super::unit::Unit;
use super::working::{Comparison, Outcome, Sheet, Used, Value, Weight, Working, effect};
use crate::units::Dimension;

/// What one input is given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Given {
    /// A figure.
    Figure(Figure),
    /// The least and the greatest that a figure may be.
    Range(Box<[Figure; 2]>),
    /// A list.
    Figures(Vec<Figure>),
    /// A word.
    Word(String),
}

impl Given {
    fn shape(&self) -> &'static str {
        match self {
            Self::Figure(_) => "a figure",
            Self::Range(_) => "a range",
            Self::Figures(_) => "a list of figures",
            Self::Word(_) => "a word",
        }
    }

    /// One figure, or the two ends of a range; a list where there are more.
    pub fn one_or_range(figures: Vec<Figure>) -> Self {
        match <[Figure; 1]>::try_from(figures) {
            Ok([only]) => Self::Figure(only),
            Err(figures) => match <[Figure; 2]>::try_from(figures) {
                Ok(ends) => Self::Range(Box::new(ends)),
                Err(figures) => Self::Figures(figures),
            },
        }
    }

    /// As it is written: `0.5 m to 2 m`, `1 mm, 2 mm`.
    pub fn text(&self) -> String {
        self.written(|figure| figure.text.clone())
    }

    fn written(&self, figure: impl Fn(&Figure) -> String) -> String {
        let between = if let Self::Range(_) = self { " to " } else { ", " };
        match self {
            Self::Word(word) => crate::visible::visible(word),
            _ => self.figures().iter().map(figure).collect::<Vec<_>>().join(between),
        }
    }

    fn figures(&self) -> &[Figure] {
        match self {
            Self::Figure(figure) => std::slice::from_ref(figure),
            Self::Range(ends) => ends.as_slice(),
            Self::Figures(list) => list,
            Self::Word(_) => &[],
        }
    }
}

/// What a calculation is given: by name, each with where it came from.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Inputs(BTreeMap<String, (Given, String)>);

impl Inputs {
    /// Nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one, with where it came from. A name that is there already is replaced.
    pub fn set(&mut self, name: impl Into<String>, given: Given, from: impl Into<String>) {
        self.0.insert(name.into(), (given, from.into()));
    }

    /// Reads the texts of inputs as `calculation` takes them.
    ///
    /// # Errors
    /// The first name that it does not have, or text that it cannot read.
    pub fn read<'a>(
        calculation: &Calculation,
        texts: impl IntoIterator<Item = (&'a str, &'a str)>,
        from: &str,
    ) -> Result<Self, CalcRefusal> {
        let mut inputs = Self::new();
        for (name, text) in texts {
            let Some((takes, _)) = calculation.takes(name) else {
                return Err(unknown(calculation, name));
            };
            if inputs.0.contains_key(name) {
                return Err(CalcRefusal::Twice(name.to_owned()));
            }
            inputs.set(name, read(name, text, takes)?, from);
        }
        Ok(inputs)
    }
}

fn unknown(calculation: &Calculation, name: &str) -> CalcRefusal {
    let (calculation, known) = (calculation.name, calculation.input_names());
    CalcRefusal::Unknown { calculation, name: name.to_owned(), known }
}

fn read(name: &str, text: &str, takes: Takes) -> Result<Given, CalcRefusal> {
    let unreadable = |fault| CalcRefusal::Unreadable { name: name.to_owned(), fault };
    Ok(match takes {
        Takes::Figure(dimension) => {
            Given::Figure(Figure::read(text, dimension).map_err(unreadable)?)
        }
        Takes::Count => Given::Figure(Figure::read(text, Dimension::Number).map_err(unreadable)?),
        Takes::Range(dimension) => {
            Given::one_or_range(Figure::read_range(text, dimension).map_err(unreadable)?)
        }
        Takes::Figures(dimension) => {
            Given::Figures(Figure::read_list(text, dimension).map_err(unreadable)?)
        }
        Takes::Word(_) => Given::Word(text.to_owned()),
    })
}

/// What a calculation works with: every input looked over, defaults filled in.
#[derive(Debug, Clone)]
pub struct Known<'a> {
    calculation: &'a Calculation,
    used: BTreeMap<&'static str, (Given, String)>,
    on_paper: bool,
}

impl<'a> Known<'a> {
    /// Looks `inputs` over: names, shapes, dimensions, ranges; fills in what holds without.
    fn of(calculation: &'a Calculation, inputs: &Inputs) -> Result<Self, CalcRefusal> {
        let names = calculation.input_names();
        if let Some(other) = inputs.0.keys().find(|name| !names.contains(&name.as_str())) {
            return Err(unknown(calculation, other));
        }
        let mut used = BTreeMap::new();
        for input in calculation.inputs {
            let (given, from) = match (inputs.0.get(input.name), input.need) {
                (Some((given, from)), _) => (given.clone(), from.clone()),
                (None, Need::Default(text)) => (
                    read(input.name, text, input.takes)?,
                    "taken where nothing is given".to_owned(),
                ),
                (None, Need::Optional(_)) => continue,
                (None, Need::Required) => return Err(missing(calculation, input)),
            };
            fits(input.name, &given, input.takes)?;
            in_range(input, &given)?;
            used.insert(input.name, (given, from));
        }
        for name in [AT_LEAST, AT_MOST] {
            if let (Some((given, from)), Some((takes, _))) =
                (inputs.0.get(name), calculation.takes(name))
            {
                fits(name, given, takes)?;
                used.insert(name, (given.clone(), from.clone()));
            }
        }
        let known = Self { calculation, used, on_paper: true };
        if let (Some(low), Some(high)) = (known.maybe(AT_LEAST), known.maybe(AT_MOST))
            && low > high
        {
            let text = "`at_least` is more than `at_most`: nothing can lie between them";
            return Err(CalcRefusal::Together(text.to_owned()));
        }
        Ok(known)
    }

    /// True when all of the working is wanted, and not its results alone: what a small change does, and
    /// what to change. What is left out may be no result, and no part of a refusal.
    pub fn on_paper(&self) -> bool {
        self.on_paper
    }

    /// True when the input is given or has a default.
    pub fn has(&self, name: &str) -> bool {
        self.used.contains_key(name)
    }

    /// The figure in SI units.
    ///
    /// # Errors
    /// When it is not given, which for a required input cannot be.
    pub fn figure(&self, name: &'static str) -> Result<f64, CalcRefusal> {
        self.maybe(name).ok_or_else(|| self.missing(name))
    }

    /// The figure in SI units, if it is given.
    pub fn maybe(&self, name: &str) -> Option<f64> {
        self.exact_maybe(name).map(|si| si.to_f64().unwrap_or(f64::NAN))
    }

    /// The exact figure in SI units.
    ///
    /// # Errors
    /// When it is not given.
    pub fn exact(&self, name: &'static str) -> Result<Ratio<BigInt>, CalcRefusal> {
        self.exact_maybe(name).ok_or_else(|| self.missing(name))
    }

    /// The exact figure in SI units, if it is given.
    pub fn exact_maybe(&self, name: &str) -> Option<Ratio<BigInt>> {
        match &self.used.get(name)?.0 {
            Given::Figure(figure) => Some(figure.si.clone()),
            Given::Range(_) | Given::Figures(_) | Given::Word(_) => None,
        }
    }

    /// The least and the greatest that the figure may be, if it is given; in units of which `per` make
    /// one SI unit, so that what was typed in them comes out as typed.
    pub fn spread_in(&self, name: &str, per: u32) -> Option<Spread> {
        let (given, _) = self.used.get(name)?;
        let figures = given.figures();
        let per = Ratio::from_integer(BigInt::from(per));
        let end = |figure: Option<&Figure>| (&figure?.si * &per).to_f64();
        Some(Spread::between(end(figures.first())?, end(figures.last())?))
    }

    /// The least and the greatest that the figure may be in SI units, if it is given.
    pub fn spread_maybe(&self, name: &str) -> Option<Spread> {
        self.spread_in(name, 1)
    }

    /// The least and the greatest that the figure may be in SI units.
    ///
    /// # Errors
    /// When it is not given.
    pub fn spread(&self, name: &'static str) -> Result<Spread, CalcRefusal> {
        self.spread_maybe(name).ok_or_else(|| self.missing(name))
    }

    /// The one of several inputs that is given.
    ///
    /// # Errors
    /// None of them is given, or two that say the same thing in two ways.
    pub fn one_of(&self, names: &[&'static str]) -> Result<&'static str, CalcRefusal> {
        let mut given = names.iter().copied().filter(|name| self.has(name));
        match (given.next(), given.next()) {
            (Some(only), None) => Ok(only),
            (Some(one), Some(other)) => Err(CalcRefusal::Together(format!(
                "`{one}` and `{other}` say the same thing in two ways; give one of them"
            ))),
            (None, _) => {
                Err(CalcRefusal::Together(format!("one of these is missing: {}", listed(names))))
            }
        }
    }

    /// The whole number.
    ///
    /// # Errors
    /// When it is not given.
    pub fn count(&self, name: &'static str) -> Result<u32, CalcRefusal> {
        let exact = self.exact(name)?;
        exact.to_integer().to_u32().ok_or_else(|| self.missing(name))
    }

    /// The exact figures of a list, in SI units; empty when it is not given.
    pub fn exact_list(&self, name: &str) -> Vec<Ratio<BigInt>> {
        let Some((given, _)) = self.used.get(name) else { return Vec::new() };
        given.figures().iter().map(|figure| figure.si.clone()).collect()
    }

    /// The figures of a list, in SI units; empty when it is not given.
    pub fn list(&self, name: &str) -> Vec<f64> {
        let Some((given, _)) = self.used.get(name) else { return Vec::new() };
        given.figures().iter().map(Figure::value).collect()
    }

    /// The word; empty when it is not given.
    pub fn word(&self, name: &str) -> &str {
        match self.used.get(name) {
            Some((Given::Word(word), _)) => word,
            _ => "",
        }
    }

    /// The figure as shown in the unit of the input.
    pub fn shown(&self, name: &str) -> String {
        let unit = self.calculation.takes(name).map_or("", |(_, unit)| unit);
        self.maybe(name).map_or_else(String::new, |si| shown(si, unit))
    }

    /// That an input is missing.
    pub fn missing(&self, name: &'static str) -> CalcRefusal {
        let none = CalcRefusal::Missing { name, what: "it is needed here", such: String::new() };
        self.calculation.input(name).map_or(none, |input| missing(self.calculation, input))
    }

    fn with(&self, name: &'static str, figure: Figure) -> Self {
        let mut changed = self.clone();
        changed.used.insert(name, (Given::Figure(figure), String::new()));
        changed.on_paper = false;
        changed
    }

    fn listed(&self) -> Vec<Used> {
        let limits = [(AT_LEAST, "limit"), (AT_MOST, "limit")];
        let own = self.calculation.inputs.iter().map(|i| (i.name, i.symbol, i.what));
        own.chain(limits.into_iter().map(|(name, what)| (name, "", what)))
            .filter_map(|(name, symbol, what)| {
                let (given, from) = self.used.get(name)?;
                let unit = self.calculation.takes(name).map_or("", |(_, unit)| unit);
                let (given, shown) = in_words(given, unit);
                Some(Used { name, symbol, what, given, shown, from: from.clone() })
            })
            .collect()
    }
}

/// The text as given, and the same in `unit` where that is another.
fn in_words(given: &Given, unit: &str) -> (String, Option<String>) {
    if let Given::Word(_) = given {
        return (given.text(), None);
    }
    let symbols = |text: &str| {
        text.trim_start_matches(|c: char| "-−+.,0123456789".contains(c)).trim().to_owned()
    };
    let same = given.figures().iter().all(|figure| symbols(&figure.text) == unit);
    (given.text(), (!same).then(|| given.written(|figure| figure.shown(unit))))
}

fn missing(calculation: &Calculation, input: &Input) -> CalcRefusal {
    let such = calculation
        .example
        .iter()
        .find(|(name, _)| *name == input.name)
        .map_or_else(String::new, |(name, text)| format!("; such as `{name}=\"{text}\"`"));
    CalcRefusal::Missing { name: input.name, what: input.what, such }
}

fn fits(name: &str, given: &Given, takes: Takes) -> Result<(), CalcRefusal> {
    let name = || name.to_owned();
    let wrong = |wanted| CalcRefusal::WrongShape { name: name(), is: given.shape(), wanted };
    match (takes, given) {
        (Takes::Figure(_) | Takes::Range(_), Given::Figure(_))
        | (Takes::Figures(_), Given::Figures(_)) => {}
        (Takes::Range(_), Given::Range(ends)) => {
            let [least, greatest] = ends.as_ref();
            if least.si > greatest.si {
                let fault = format!(
                    "is {} to {}: the least is more than the greatest; exchange them",
                    least.text, greatest.text
                );
                return Err(CalcRefusal::Unreadable { name: name(), fault });
            }
        }
        (Takes::Count, Given::Figure(figure)) => {
            if !figure.si.is_integer() {
                let fault = format!("is {}; a whole number is asked for", figure.text);
                return Err(CalcRefusal::Unreadable { name: name(), fault });
            }
        }
        (Takes::Word(choices), Given::Word(word)) => {
            if !choices.contains(&word.as_str()) {
                let (found, choices) = (word.clone(), choices.to_vec());
                return Err(CalcRefusal::Word { name: name(), found, choices });
            }
        }
        (Takes::Figure(_), _) => return Err(wrong("a figure")),
        (Takes::Range(_), _) => return Err(wrong("a figure or a range")),
        (Takes::Count, _) => return Err(wrong("a whole number")),
        (Takes::Figures(_), _) => return Err(wrong("a list of figures")),
        (Takes::Word(_), _) => return Err(wrong("a word")),
    }
    if let Some(wanted) = takes.dimension()
        && let Some(other) = given.figures().iter().find(|figure| figure.dimension != wanted)
    {
        return Err(CalcRefusal::WrongDimension { name: name(), is: other.dimension, wanted });
    }
    Ok(())
}

fn in_range(input: &Input, given: &Given) -> Result<(), CalcRefusal> {
    let (Some(range), Some(dimension)) = (input.range, input.takes.dimension()) else {
        return Ok(());
    };
    let end = |text| {
        Figure::read(text, dimension)
            .map_err(|fault| CalcRefusal::Unreadable { name: input.name.to_owned(), fault })
    };
    let (low, high) = (end(range.low)?, end(range.high)?);
    match given.figures().iter().find(|figure| figure.si < low.si || figure.si > high.si) {
        None => Ok(()),
        Some(outside) => Err(CalcRefusal::Outside {
            name: input.name.to_owned(),
            found: outside.text.clone(),
            low: range.low.to_owned(),
            high: range.high.to_owned(),
            because: range.because.to_owned(),
        }),
    }
}

/// Does `calculation` with `inputs`.
///
/// # Errors
/// What is missing, contradictory, out of range or impossible, with the reason.
pub fn run(calculation: &Calculation, inputs: &Inputs) -> Result<Working, CalcRefusal> {
    let known = Known::of(calculation, inputs)?;
    let sheet = (calculation.run)(&known)?;
    finite(&sheet)?;
    let mut sensitivity = weights(calculation, &known, &sheet);
    let results = outcomes(calculation, &sheet);
    let mut working = Working {
        calculation: calculation.name,
        title: calculation.title,
        inputs: known.listed(),
        lines: sheet.lines,
        results,
        compared_with: sheet.compared_with,
        sensitivity: sheet.weights,
        changes: sheet.changes,
        warnings: sheet.warnings,
    };
    working.sensitivity.append(&mut sensitivity);
    hold(calculation, &known, &mut working)?;
    Ok(working)
}

/// The results of `calculation` with `inputs`, without the rest of its working: the same figures and the
/// same refusals, at a small part of the cost.
///
/// # Errors
/// As [`run`].
pub fn results(calculation: &Calculation, inputs: &Inputs) -> Result<Vec<Outcome>, CalcRefusal> {
    let known = Known { on_paper: false, ..Known::of(calculation, inputs)? };
    let sheet = (calculation.run)(&known)?;
    finite(&sheet)?;
    Ok(outcomes(calculation, &sheet))
}

fn finite(sheet: &Sheet) -> Result<(), CalcRefusal> {
    for (name, value) in &sheet.values {
        let all = match value {
            Value::Figure(si) => si.is_finite(),
            Value::Figures(list) => list.iter().all(|si| si.is_finite()),
            Value::Word(_) => true,
        };
        if !all {
            return Err(CalcRefusal::NotFinite(name));
        }
    }
    Ok(())
}

fn outcomes(calculation: &Calculation, sheet: &Sheet) -> Vec<Outcome> {
    let find = |output: &Output| {
        let (_, value) = sheet.values.iter().find(|(name, _)| *name == output.name)?;
        let Output { name, what, gives, unit, .. } = *output;
        Some(Outcome { name, what, gives, unit, value: value.clone() })
    };
    calculation.outputs.iter().filter_map(find).collect()
}

/// Holds the results against `at_least` and `at_most`.
fn hold(
    calculation: &Calculation,
    known: &Known<'_>,
    working: &mut Working,
) -> Result<(), CalcRefusal> {
    let Some(held) = calculation.held else { return Ok(()) };
    let mut verdict = None;
    for (limit, name, word) in
        [(AT_LEAST, held.at_least, "below"), (AT_MOST, held.at_most, "above")]
    {
        let Some(bound) = known.maybe(limit) else { continue };
        let Some(value) = working.figure(name) else {
            let absent = calculation.output(name).map_or("", |output| output.absent);
            return Err(CalcRefusal::Together(format!(
                "`{limit}` is a limit for `{name}`, which does not come out {absent}"
            )));
        };
        let broken = if limit == AT_LEAST { value < bound } else { value > bound };
        let unit = calculation.output(name).map_or("", |output| output.unit);
        let from = known.used.get(limit).map_or("", |(_, from)| from.as_str());
        working.compared_with.push(Comparison {
            what: name.to_owned(),
            value: shown(value, unit),
            against: format!("{} {} ({from})", limit.replace('_', " "), shown(bound, unit)),
            verdict: if broken { word } else { "within" }.to_owned(),
        });
        if broken || verdict.is_none() {
            verdict = Some(if broken { word } else { "within" });
        }
    }
    if let Some(verdict) = verdict {
        working.results.push(Outcome {
            name: VERDICT,
            what: "how it stands against the limit",
            gives: Gives::Word(VERDICTS),
            unit: "",
            value: Value::Word(verdict.to_owned()),
        });
    }
    Ok(())
}

/// The change of an input that its weight is told for.
fn nudged(input: &Input, si: &Ratio<BigInt>) -> (String, Ratio<BigInt>) {
    let one = || Ratio::from_integer(BigInt::from(1));
    match input.takes {
        Takes::Count => ("1 more".to_owned(), si + one()),
        Takes::Figure(Dimension::Temperature) => ("1 °C more".to_owned(), si + one()),
        _ if si.is_zero() => {
            let unit = Unit::named(input.unit).to_si(&one());
            (format!("{} more", shown(unit.to_f64().unwrap_or(0.0), input.unit)), unit)
        }
        _ => ("1 % more".to_owned(), si * Ratio::new(BigInt::from(101), BigInt::from(100))),
    }
}

fn weights(calculation: &Calculation, known: &Known<'_>, sheet: &Sheet) -> Vec<Weight> {
    let (Some(main), Some(output)) = (sheet.main(calculation), calculation.outputs.first()) else {
        return Vec::new();
    };
    let mut weights = Vec::new();
    for input in calculation.inputs.iter().filter(|input| input.weighs) {
        let Some((Given::Figure(figure), _)) = known.used.get(input.name) else { continue };
        let (step, si) = nudged(input, &figure.si);
        let changed = Figure { si, ..figure.clone() };
        let after = (calculation.run)(&known.with(input.name, changed)).ok();
        let after = after.and_then(|sheet| sheet.main(calculation)).filter(|si| si.is_finite());
        if let Some(after) = after {
            let effect = effect(main, after, output.unit);
            weights.push(Weight { input: input.name.to_owned(), step, effect });
        }
    }
    weights
}
