//! Figures that the program works out: which calculation, with what, and what comes of it.
//!
//! The figure is worked out anew at every walk over the answers. An answer that says otherwise does
//! not stand: a corrected reading has its step asked again, and a record with an edited figure does
//! not follow from its readings.

use std::collections::BTreeMap;

use num_traits::ToPrimitive as _;

use super::event::{Answer, WorkedOut};
use super::flow::{ExitNote, Flow, Ref};
use super::place::{Answers, Walk};
use crate::calc::{
    self, Calculation, Figure, Given, Inputs, Outcome, Takes, Value as Worked, Working,
};
use crate::expr::Expr;
use crate::expr::eval::{self, Lookup, Value};
use crate::units::{Limit, Quantity, Reading, Side, Unit};

/// The digits of a result that matter. More would be noise, and would tell machines apart.
const N_DIGITS: usize = 6;

/// What the walk needs to know of a calculation in a step.
#[derive(Debug, Clone)]
pub struct WorkOutNote {
    /// What is worked out.
    pub text: String,
    /// The calculation.
    pub calculation: &'static Calculation,
    /// What it is given.
    pub given: Vec<GivenNote>,
    /// The result that is kept.
    pub result: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Its limit.
    pub limit: Option<Limit>,
    /// Where the limit comes from.
    pub basis: Option<String>,
    /// What follows below the limit.
    pub below: Option<ExitNote>,
    /// What follows above the limit.
    pub above: Option<ExitNote>,
    /// What follows when the calculation refuses what it is given.
    pub could_not: ExitNote,
}

/// One input of a calculation in a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenNote {
    /// The input.
    pub input: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// The unit that the calculation shows it in; empty for a plain number.
    pub unit: &'static str,
    /// The formulas, or the word.
    pub from: GivenFrom,
    /// As the file writes it.
    pub text: String,
}

/// Where an input comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GivenFrom {
    /// A word that the calculation knows.
    Word(String),
    /// Figures.
    Formulas(Vec<Expr<Ref>>),
}

impl PartialEq for WorkOutNote {
    fn eq(&self, other: &Self) -> bool {
        self.calculation.name == other.calculation.name
            && (&self.text, &self.given, self.result, self.unit)
                == (&other.text, &other.given, other.result, other.unit)
            && (&self.limit, &self.basis) == (&other.limit, &other.basis)
            && (&self.below, &self.above, &self.could_not)
                == (&other.below, &other.above, &other.could_not)
    }
}

impl Eq for WorkOutNote {}

impl WorkOutNote {
    /// Where a result lies against the limit; within, where there is none.
    pub fn side(&self, worked: &WorkedOut) -> Option<Side> {
        let reading = worked.result.as_ref().ok()?;
        match &self.limit {
            Some(limit) => limit.judge(&reading.value),
            None => Some(Side::Within),
        }
    }

    /// The exit that a result takes, if any.
    pub fn exit(&self, worked: &WorkedOut) -> Option<&ExitNote> {
        match self.side(worked) {
            None => Some(&self.could_not),
            Some(Side::Below) => self.below.as_ref(),
            Some(Side::Above) => self.above.as_ref(),
            Some(Side::Within) => None,
        }
    }

    /// Every formula of what it is given.
    pub fn formulas(&self) -> impl Iterator<Item = &Expr<Ref>> {
        self.given.iter().flat_map(|given| match &given.from {
            GivenFrom::Word(_) => &[][..],
            GivenFrom::Formulas(formulas) => formulas.as_slice(),
        })
    }

    /// Every exit.
    pub fn exits(&self) -> impl Iterator<Item = &ExitNote> {
        self.below.iter().chain(&self.above).chain([&self.could_not])
    }
}

impl Walk {
    /// The working of `note` with the answers so far.
    ///
    /// # Errors
    /// An input without a value, or what the calculation refuses, in words.
    pub fn working(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        note: &WorkOutNote,
    ) -> Result<Working, String> {
        let inputs = self.inputs(flow, answers, note)?;
        calc::run(note.calculation, &inputs).map_err(|refusal| refusal.to_string())
    }

    fn inputs(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        note: &WorkOutNote,
    ) -> Result<Inputs, String> {
        let mut inputs = Inputs::new();
        for given in &note.given {
            inputs.set(given.input, self.given(flow, answers, given)?, given.origin());
        }
        Ok(inputs)
    }

    /// What the step of `note` comes to with the answers so far.
    pub fn worked_out(&self, flow: &Flow, answers: &dyn Answers, note: &WorkOutNote) -> WorkedOut {
        let given = note.given.iter().map(|given| {
            let value = self.given(flow, answers, given);
            (given.input.to_owned(), value.map_or_else(|why| why, |value| value.text()))
        });
        WorkedOut {
            calculation: note.calculation.name.to_owned(),
            given: given.collect::<BTreeMap<_, _>>(),
            // Every walk over the answers comes by here: the figure alone, without its page.
            result: self.inputs(flow, answers, note).and_then(|inputs| {
                let results = calc::results(note.calculation, &inputs);
                reading(&results.map_err(|refusal| refusal.to_string())?, note)
            }),
        }
    }

    /// True where `worked` is what the answers before it come to.
    pub(super) fn is_worked_out(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        note: &WorkOutNote,
        worked: &WorkedOut,
    ) -> bool {
        self.worked_out(flow, answers, note) == *worked
    }

    fn given(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        given: &GivenNote,
    ) -> Result<Given, String> {
        let formulas = match &given.from {
            GivenFrom::Word(word) => return Ok(Given::Word(word.clone())),
            GivenFrom::Formulas(formulas) => formulas,
        };
        let mut figures = Vec::new();
        for formula in formulas {
            let look = |found: &Ref| self.look(flow, answers, found);
            let Lookup::Value(Value::Quantity(quantity)) = eval::outcome(formula, &look) else {
                return Err(format!("`{}` has no figure: `{}`", given.input, given.text));
            };
            let text = match self.typed(answers, formula) {
                Some(reading) => reading.spoken(),
                None => in_words(&quantity, given),
            };
            figures.push(Figure::new(quantity.si, quantity.dimension, text));
        }
        match (given.takes, figures.len()) {
            (Takes::Figures(_), _) => Ok(Given::Figures(figures)),
            (Takes::Range(_), 1 | 2) => Ok(Given::one_or_range(figures)),
            (Takes::Range(_), _) => {
                Err(format!("`{}` takes one figure, or the least and the greatest", given.input))
            }
            (_, 1) => figures.pop().map(Given::Figure).ok_or_else(String::new),
            _ => Err(format!("`{}` takes one figure", given.input)),
        }
    }

    /// The figure as a person typed it, where the formula is nothing but a step.
    fn typed<'a>(&self, answers: &'a dyn Answers, formula: &Expr<Ref>) -> Option<&'a Reading> {
        let Expr::Name(Ref::Answer { passes, .. }, _) = formula else { return None };
        let index = passes.iter().rev().copied().find(|index| self.path.contains(index))?;
        let answer = answers.answer(index)?;
        if let Answer::Read { reading, .. } | Answer::EnteredFigure(reading) = answer {
            return Some(reading);
        }
        let Answer::WorkedOut(worked) = answer else { return None };
        worked.result.as_ref().ok()
    }
}

impl GivenNote {
    /// Where the input comes from, for the working.
    fn origin(&self) -> String {
        match &self.from {
            GivenFrom::Word(_) => "as the procedure says".to_owned(),
            GivenFrom::Formulas(formulas) => match formulas.as_slice() {
                [Expr::Name(Ref::Answer { .. }, _)] => format!("from step `{}`", self.text),
                [Expr::Name(Ref::Figure(_), _)] => format!("`{}`, equipment data", self.text),
                [Expr::Quantity(..)] => "as the procedure says".to_owned(),
                _ => format!("`{}`", self.text),
            },
        }
    }
}

/// A worked-out input in the unit that the calculation shows it in.
fn in_words(quantity: &Quantity, given: &GivenNote) -> String {
    Figure::new(quantity.si.clone(), quantity.dimension, "").shown(given.unit)
}

/// The kept result, as an entry holds it.
fn reading(results: &[Outcome], note: &WorkOutNote) -> Result<Reading, String> {
    let kept = results.iter().find(|outcome| outcome.name == note.result);
    let Some(Worked::Figure(si)) = kept.map(|outcome| &outcome.value) else {
        return Err(format!("`{}` has no `{}` here", note.calculation.name, note.result));
    };
    let offset = note.unit.offset().to_f64().unwrap_or(f64::NAN);
    let factor = note.unit.factor().to_f64().unwrap_or(f64::NAN);
    let text = calc::digits((si - offset) / factor, N_DIGITS);
    Reading::parse(&text, note.unit)
        .map_err(|_fault| format!("`{text}` is beyond what a figure of this field can be"))
}
