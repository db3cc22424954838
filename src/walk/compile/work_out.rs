//! A calculation in a step: its name, its inputs and its result, held against what it says of itself.

use super::super::flow::{Ask, ExitNote, Ref};
use super::super::names::Resolver;
use super::super::work_out::{GivenFrom, GivenNote, WorkOutNote};
use super::{Builder, Context};
use crate::calc::{self, Calculation, Gives, Input, Need, Takes};
use crate::diag::{Code, Diagnostic};
use crate::expr::typing::{self, Type};
use crate::expr::{Condition, Expr};
use crate::ids::Name;
use crate::procedure::model::{Step, WorkOut};
use crate::source::{At, Span};
use crate::units::Criterion;

impl Builder<'_> {
    pub(super) fn work_out(
        &mut self,
        step: &Step,
        work: &WorkOut,
        context: &Context<'_>,
    ) -> Option<Ask> {
        let Some(calculation) = calc::find(work.calculation.value.as_str()) else {
            let known = calc::ALL.iter().map(|calculation| calculation.name);
            let at = &work.calculation;
            self.unknown(at.span, "calculation", at.value.as_str(), known);
            return None;
        };
        let result = self.result(work, calculation);
        let given: Vec<Option<GivenNote>> = work
            .given
            .iter()
            .map(|(name, formulas)| self.given(calculation, name, formulas, context))
            .collect();
        self.all_given(work, calculation);
        let unit = work.unit.value;
        let (limit, basis) = if let Some(limit) = &work.limit {
            let found = self.limit(limit, step, unit)?;
            let exits = (work.below.as_ref(), work.above.as_ref(), None);
            self.no_uncertainty(&found.criterion, limit.span());
            self.exits_of(&found.criterion, limit.span(), exits);
            (Some(found.criterion.limit), found.basis)
        } else {
            self.no_side(work);
            (None, None)
        };
        Some(Ask::WorkOut(Box::new(WorkOutNote {
            text: work.text.clone(),
            calculation,
            given: given.into_iter().collect::<Option<_>>()?,
            result: result?,
            unit,
            limit,
            basis,
            below: work.below.as_ref().map(ExitNote::of),
            above: work.above.as_ref().map(ExitNote::of),
            could_not: ExitNote::of(&work.could_not_work_out),
        })))
    }

    /// What is worked out has no instrument, so that no rule can ask for its uncertainty.
    fn no_uncertainty(&mut self, criterion: &Criterion, span: Span) {
        if criterion.needs_uncertainty() || criterion.grades.is_some() {
            self.out.push(
                Diagnostic::error(
                    Code::BadLimit,
                    span,
                    "a figure that is worked out is held against plain bounds",
                )
                .help("give the limit neither a rule nor grades"),
            );
        }
    }

    /// The result that is kept: the named one, or the first; a figure in the unit of the step.
    fn result(
        &mut self,
        work: &WorkOut,
        calculation: &'static Calculation,
    ) -> Option<&'static str> {
        let named = work.result.as_ref();
        let output = match named {
            None => calculation.outputs.first(),
            Some(at) => {
                let found = calculation.output(at.value.as_str());
                if found.is_none() {
                    let known = calculation.outputs.iter().map(|output| output.name);
                    self.unknown(at.span, "result", at.value.as_str(), known);
                }
                found
            }
        }?;
        let span = named.map_or(work.calculation.span, |at| at.span);
        let Gives::Figure(dimension) = output.gives else {
            let headline =
                format!("`{}` of `{}` is no single figure", output.name, calculation.name);
            self.out.push(
                Diagnostic::error(Code::TypeMismatch, span, headline)
                    .help("name under `result` one that is a figure"),
            );
            return None;
        };
        if dimension != work.unit.value.dimension() {
            let headline = format!(
                "`{}` of `{}` is {}, and the step gives it in {}",
                output.name,
                calculation.name,
                dimension.noun(),
                work.unit.value.word()
            );
            let help = if output.unit.is_empty() { "number" } else { output.unit };
            self.out.push(
                Diagnostic::error(Code::DimensionMismatch, work.unit.span, headline)
                    .help(format!("write a unit such as `{help}`")),
            );
            return None;
        }
        Some(output.name)
    }

    /// Every input that the calculation cannot do without.
    fn all_given(&mut self, work: &WorkOut, calculation: &'static Calculation) {
        let is_given =
            |input: &Input| work.given.iter().any(|(name, _)| name.value.as_str() == input.name);
        let missing: Vec<&str> = calculation
            .inputs
            .iter()
            .filter(|input| matches!(input.need, Need::Required) && !is_given(input))
            .map(|input| input.name)
            .collect();
        if !missing.is_empty() {
            let names = missing.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>();
            let headline = format!("`{}` is not given {}", calculation.name, names.join(", "));
            self.out.push(
                Diagnostic::error(Code::MissingKey, work.calculation.span, headline)
                    .help("write it under `given`; `calc NAME --explain` says what it takes"),
            );
        }
    }

    fn no_side(&mut self, work: &WorkOut) {
        for (exit, name) in [(&work.below, "below"), (&work.above, "above")] {
            if let Some(exit) = exit {
                let headline = format!("no result can lie {name} a limit that is not there");
                self.out.push(
                    Diagnostic::error(Code::UnusedExit, exit.span, headline)
                        .help(format!("delete `{name}`, or give the step a `limit`")),
                );
            }
        }
    }

    fn given(
        &mut self,
        calculation: &'static Calculation,
        name: &At<Name>,
        formulas: &[Condition],
        context: &Context<'_>,
    ) -> Option<GivenNote> {
        let Some(input) = calculation.input(name.value.as_str()) else {
            let known = calculation.inputs.iter().map(|input| input.name);
            self.unknown(name.span, "input of this calculation", name.value.as_str(), known);
            return None;
        };
        let text = formulas.iter().map(|f| f.text.as_str()).collect::<Vec<_>>().join("; ");
        let from = if let Takes::Word(words) = input.takes {
            GivenFrom::Word(self.word(words, formulas)?)
        } else {
            let found: Vec<_> = formulas.iter().map(|f| self.formula(input, f, context)).collect();
            GivenFrom::Formulas(found.into_iter().collect::<Option<_>>()?)
        };
        let most = match input.takes {
            Takes::Figures(_) => usize::MAX,
            Takes::Range(_) => 2,
            Takes::Figure(_) | Takes::Count | Takes::Word(_) => 1,
        };
        if let Some(beyond) = formulas.get(most) {
            let takes =
                if most == 1 { "one figure" } else { "one figure, or the least and the greatest" };
            let headline = format!("`{}` takes {takes}", input.name);
            self.out.push(Diagnostic::error(Code::BadValue, beyond.span, headline));
            return None;
        }
        Some(GivenNote { input: input.name, takes: input.takes, unit: input.unit, from, text })
    }

    fn word(&mut self, words: &'static [&'static str], formulas: &[Condition]) -> Option<String> {
        let first = formulas.first()?;
        let found = words.iter().find(|word| **word == first.text);
        if found.is_none() {
            self.unknown(first.span, "word of this input", &first.text, words.iter().copied());
        }
        found.map(|word| (*word).to_owned())
    }

    /// A formula whose names are resolved and whose figure measures what the input takes.
    fn formula(
        &mut self,
        input: &'static Input,
        formula: &Condition,
        context: &Context<'_>,
    ) -> Option<Expr<Ref>> {
        let (expr, is) = self.typed(formula, context)?;
        let wanted = input.takes.dimension();
        if let Type::Quantity(dimension) = is
            && Some(dimension) == wanted
        {
            return Some(expr);
        }
        let wanted = wanted.map_or("a word", calc::Dimension::noun);
        let headline = format!("`{}` takes {wanted}, and this is {}", input.name, is.noun());
        self.out.push(
            Diagnostic::error(Code::DimensionMismatch, formula.span, headline)
                .help(format!("give {}", input.what)),
        );
        None
    }

    /// A formula with its names looked up, and what it comes to.
    pub(super) fn typed(
        &mut self,
        formula: &Condition,
        context: &Context<'_>,
    ) -> Option<(Expr<Ref>, Type)> {
        let resolver = Resolver {
            declared: &self.declared,
            instances: &self.instances,
            equipment: self.equipment,
        };
        let expr = resolver.resolve(&formula.expr, &context.place(), &mut self.out)?;
        let word_of = |found: &Ref| match found {
            Ref::Word(word) => Some(word.clone()),
            Ref::Answer { .. } | Ref::Setting(_) | Ref::Figure(_) | Ref::Position { .. } => None,
        };
        match typing::check(expr, &|found| resolver.type_of(found), &word_of) {
            Ok(typed) => Some(typed),
            Err(diagnostics) => {
                self.out.extend(diagnostics);
                None
            }
        }
    }
}
