//! What an instance asks, with everything looked up in the equipment file.

use std::sync::Arc;

use super::super::address::{Address, Segment};
use super::super::flow::{
    Ask, Deviation, ExitNote, FindingNote, Instance, InstanceIdx, Ref, SecondOf,
};
use super::super::measure::{Against, MeasureNote, Share};
use super::super::several::SeveralNote;
use super::{Builder, Context};
use crate::diag::{Code, Diagnostic};
use crate::expr::typing::Type;
use crate::expr::{Condition, Expr};
use crate::ids::{FigureId, Role, StepId, TokenId};
use crate::procedure::model::{Action, DurationRef, Exit, LimitRef, Step, Verdict};
use crate::source::{At, Span};
use crate::units::duration::whole_seconds;
use crate::units::{Compare, Criterion, DecisionRule, Dimension, Quantity, Unit};

impl Builder<'_> {
    /// The step's question with everything looked up in the equipment file.
    pub(super) fn lookup(&mut self, step: &Step, context: &Context<'_>) -> Option<Ask> {
        Some(match &step.action {
            Action::Do { text } => Ask::Do(text.clone()),
            Action::Check { text, items, not_so } => Ask::Check {
                text: text.clone(),
                items: items.clone(),
                not_so: ExitNote::of(not_so),
            },
            Action::Look { text, several, findings } => Ask::Look {
                text: text.clone(),
                several: *several,
                findings: findings.iter().map(FindingNote::of).collect(),
            },
            Action::Measure { .. } => return self.measure(step, context),
            Action::WorkOut(work) => return self.work_out(step, work, context),
            Action::Build { .. } => return self.build(step, context),
            Action::Tighten { .. } => return self.tighten(step),
            Action::Enter { text, kind } => Ask::Enter { text: text.clone(), kind: kind.clone() },
            Action::Attach { text, may_lack } => {
                Ask::Attach { text: text.clone(), may_lack: *may_lack }
            }
            Action::Hold { text, .. } => Ask::Hold(text.clone()),
            Action::Wait { text, length, at_most_s, too_late } => Ask::Wait {
                text: text.clone(),
                length_s: self.duration(length, *at_most_s)?,
                too_late: at_most_s.zip(too_late.as_ref().map(ExitNote::of)),
            },
            Action::Stop(stop) => Ask::Stop(stop.clone()),
            Action::Section { .. } | Action::Perform { .. } => return None,
        })
    }

    fn duration(&mut self, length: &DurationRef, at_most_s: Option<u64>) -> Option<u64> {
        let at = match length {
            DurationRef::Literal(at) => return Some(at.value),
            DurationRef::Figure(at) => at,
        };
        let Some(constant) = self.equipment.constants.get(&at.value) else {
            let known = self.equipment.constants.keys().map(FigureId::as_str);
            self.unknown(at.span, "constant", at.value.as_str(), known);
            return None;
        };
        let seconds = whole_seconds(&constant.value);
        if seconds.is_none() {
            let headline = format!("`{}` is no time of whole seconds, at most 31 days", at.value);
            self.out.push(
                Diagnostic::error(Code::DimensionMismatch, at.span, headline)
                    .help("name a constant such as `10 min`"),
            );
        }
        if seconds.zip(at_most_s).is_some_and(|(least, most)| least > most) {
            let headline = format!("`{}` is longer than `at_most` of this wait", at.value);
            self.out.push(
                Diagnostic::error(Code::BadValue, at.span, headline)
                    .help("give `at_most` a longer time than `for`"),
            );
        }
        seconds
    }

    fn measure(&mut self, step: &Step, context: &Context<'_>) -> Option<Ask> {
        let Action::Measure {
            text,
            with,
            unit,
            limit,
            below,
            above,
            not_proven,
            relative_to,
            temperature,
            blind,
            several,
            could_not_measure,
            second: _,
        } = &step.action
        else {
            return None;
        };
        let of = match relative_to {
            Some(relative_to) => Some(self.reference(relative_to, *unit, context)?),
            None => None,
        };
        let held_in = if of.is_some() { Unit::Percent } else { *unit };
        let found = self.limit(limit, step, held_in)?;
        self.exits_of(
            &found.criterion,
            limit.span(),
            (below.as_ref(), above.as_ref(), not_proven.as_ref()),
        );
        let holds_at = found.criterion.holds_at.is_some();
        let temperature =
            self.temperature(holds_at, (temperature.as_ref(), limit.span()), context)?;
        let against = match (of, relative_to) {
            (Some(of), Some(relative_to)) => {
                self.shares_fit(&found.criterion, limit.span());
                let text = relative_to.text.clone();
                Against::Share(Box::new(Share { shares: found.criterion, text, of, now: None }))
            }
            _ => Against::Fixed(found.criterion),
        };
        Some(Ask::Measure(Box::new(MeasureNote {
            text: text.clone(),
            with: with.value.clone(),
            unit: *unit,
            against,
            plausible: found.plausible,
            basis: found.basis,
            limit_name: found.name,
            below: below.as_ref().map(ExitNote::of),
            above: above.as_ref().map(ExitNote::of),
            not_proven: not_proven.as_ref().map(ExitNote::of),
            could_not_measure: ExitNote::of(could_not_measure),
            blind: *blind,
            temperature,
            several: several
                .as_ref()
                .map(|(repeats, points)| SeveralNote { repeats: *repeats, points: points.clone() }),
            second_of: None,
        })))
    }

    /// Where the part's temperature was read, with its names looked up; for a limit that holds at some
    /// temperatures only, and for no other.
    #[expect(clippy::option_option, reason = "absent is an answer, wrong is none")]
    fn temperature(
        &mut self,
        holds_at: bool,
        (read, limit): (Option<&Condition>, Span),
        context: &Context<'_>,
    ) -> Option<Option<Expr<Ref>>> {
        let (code, span, headline, help) = match (holds_at, read) {
            (false, None) => return Some(None),
            (true, Some(read)) => {
                let (expr, is) = self.typed(read, context)?;
                if matches!(is, Type::Quantity(Dimension::Temperature)) {
                    return Some(Some(expr));
                }
                let headline = format!("this is {}, and no temperature", is.noun());
                (Code::DimensionMismatch, read.span, headline, "name an earlier reading in °C")
            }
            (true, None) => {
                let headline = "this limit holds at some temperatures only, and the step does not say where the \
                                part's was read";
                let help = "add `temperature:` with the step that reads it";
                (Code::MissingKey, limit, headline.to_owned(), help)
            }
            (false, Some(read)) => {
                let headline = "the limit holds at any temperature".to_owned();
                (Code::BadLimit, read.span, headline, "delete it, or give the limit `holds_at`")
            }
        };
        self.out.push(Diagnostic::error(code, span, headline).help(help));
        None
    }

    /// What a limit is a share of, with its names looked up.
    fn reference(
        &mut self,
        relative_to: &Condition,
        unit: Unit,
        context: &Context<'_>,
    ) -> Option<Expr<Ref>> {
        let (expr, is) = self.typed(relative_to, context)?;
        let wanted = unit.dimension();
        let measured = matches!(is, Type::Quantity(is) if is == wanted);
        let headline = if !measured {
            format!("the reading is {}, and this is {}", wanted.noun(), is.noun())
        } else if wanted == wanted.step() {
            return Some(expr);
        } else {
            format!(
                "a share of {} means nothing, as its scale has a zero of its own",
                wanted.noun()
            )
        };
        self.out.push(
            Diagnostic::error(Code::DimensionMismatch, relative_to.span, headline)
                .help("name an earlier reading of the same kind"),
        );
        None
    }

    fn shares_fit(&mut self, shares: &Criterion, span: Span) {
        let headline = if shares.grades.is_some() {
            "shares of another reading have no grades"
        } else if shares.limit.compare != Compare::Absolute {
            "shares of another reading are not rounded; their places are not known beforehand"
        } else {
            return;
        };
        self.out.push(
            Diagnostic::error(Code::BadLimit, span, headline)
                .help("give the share plain bounds, such as `at_least: 97 %`"),
        );
    }
}

impl Builder<'_> {
    /// A limit, a plausible range and what the limit rests on, looked up and held against the unit
    /// that figures are in.
    pub(super) fn limit(&mut self, limit: &LimitRef, step: &Step, unit: Unit) -> Option<LookedUp> {
        let found = match limit {
            LimitRef::Here(at) => LookedUp {
                criterion: at.value.clone(),
                plausible: None,
                basis: step.basis.clone(),
                name: None,
            },
            LimitRef::Figure(at) => {
                let Some(named) = self.equipment.limits.get(&at.value) else {
                    let known = self.equipment.limits.keys().map(FigureId::as_str);
                    self.unknown(at.span, "limit", at.value.as_str(), known);
                    return None;
                };
                LookedUp {
                    criterion: named.criterion.clone(),
                    plausible: named.plausible.clone(),
                    basis: step.basis.clone().or_else(|| Some(named.basis.clone())),
                    name: Some(at.value.clone()),
                }
            }
        };
        let stated = &found.criterion.limit;
        if stated.unit.dimension() != unit.dimension() {
            self.out.push(Diagnostic::error(
                Code::DimensionMismatch,
                limit.span(),
                format!("the limit is {} and the reading is in {}", stated.render(), unit.symbol()),
            ));
            return None;
        }
        Some(found)
    }

    /// An exit for each side that a figure can lie on, and none for a side that it cannot.
    pub(super) fn exits_of(
        &mut self,
        found: &Criterion,
        span: Span,
        (below, above, not_proven): (Option<&Exit>, Option<&Exit>, Option<&Exit>),
    ) {
        let proves = matches!(found.rule, DecisionRule::Proven(_));
        for (can_be, exit, name, has) in [
            (found.limit.at_least.is_some(), below, "below", "least value"),
            (found.limit.at_most.is_some(), above, "above", "greatest value"),
            (proves, not_proven, "not_proven", "rule `proven`"),
        ] {
            if can_be && exit.is_none() {
                self.out.push(
                    Diagnostic::error(
                        Code::MissingExit,
                        span,
                        format!("the limit has a {has}, and the step has no `{name}`"),
                    )
                    .help(format!("add `{name}:` with a verdict")),
                );
            }
            if let (false, Some(exit)) = (can_be, exit) {
                self.out.push(
                    Diagnostic::error(
                        Code::UnusedExit,
                        exit.span,
                        format!("the limit has no {has}, so `{name}` is never taken"),
                    )
                    .help(format!("take `{name}` out, or give the limit a {has}")),
                );
            }
        }
    }
}

/// What a limit comes to.
pub(super) struct LookedUp {
    pub(super) criterion: Criterion,
    /// Readings outside are taken for a slip of the hand.
    pub(super) plausible: Option<(Quantity, Quantity)>,
    /// What the limit rests on.
    pub(super) basis: Option<String>,
    /// Its name in the equipment file.
    pub(super) name: Option<FigureId>,
}

/// The question of the independent second reading: whatever is not good goes to a mechanic.
pub(super) fn second(ask: Ask, first: InstanceIdx, agree_within: &Quantity) -> Ask {
    let refer = ExitNote { verdict: Verdict::Refer, say: None, parts: Vec::new() };
    let Ask::Measure(mut note) = ask else { return ask };
    for exit in [&mut note.below, &mut note.above, &mut note.not_proven].into_iter().flatten() {
        *exit = refer.clone();
    }
    note.could_not_measure = refer;
    note.second_of = Some(SecondOf { first, agree_within: agree_within.clone() });
    Ask::Measure(note)
}

/// A step in one line, as people choose it among others.
pub(super) fn title(step: &Step) -> String {
    match &step.action {
        Action::Do { text }
        | Action::Check { text, .. }
        | Action::Look { text, .. }
        | Action::Measure { text, .. }
        | Action::Build { text, .. }
        | Action::Tighten { text, .. }
        | Action::Enter { text, .. }
        | Action::Attach { text, .. }
        | Action::Hold { text, .. }
        | Action::Wait { text, .. } => text.clone(),
        Action::WorkOut(work) => work.text.clone(),
        Action::Section { title, .. } => title.clone(),
        Action::Perform { procedure } => procedure.value.spoken(),
        Action::Stop(stop) => stop.text.clone(),
    }
}

pub(super) fn plain_instance(context: &Context<'_>, id: &StepId, ask: Ask, by: Role) -> Instance {
    let segment = Segment { id: id.clone(), positions: Vec::new(), pass: 1 };
    Instance {
        address: context.address.child(segment),
        procedure: context.procedure.id.value.clone(),
        within: context.within.clone(),
        span: None,
        ask,
        by,
        safety: Vec::new(),
        expect: None,
        why: None,
        phase: None,
        headline: None,
        uses: Vec::new(),
        fits: Vec::new(),
        sets: Vec::new(),
        clears: Vec::new(),
        needs: Vec::new(),
        concession: None,
        disturbs: None,
        witness: None,
        safe_state: context.safe_state.clone(),
        standing: Arc::clone(&context.standing),
        mode: context.mode,
        deviation: Deviation::Barred("the program asks it, not the procedure"),
        begun_only: false,
    }
}

pub(super) fn step_instance(
    step: &Step,
    context: &Context<'_>,
    address: Address,
    ask: Ask,
) -> Instance {
    let by = match &step.action {
        Action::Hold { role, .. } => *role,
        Action::Do { .. }
        | Action::Check { .. }
        | Action::Look { .. }
        | Action::Measure { .. }
        | Action::WorkOut(_)
        | Action::Build { .. }
        | Action::Tighten { .. }
        | Action::Enter { .. }
        | Action::Attach { .. }
        | Action::Wait { .. }
        | Action::Section { .. }
        | Action::Perform { .. }
        | Action::Stop(_) => step.by.unwrap_or(context.procedure.performed_by),
    };
    let mut safety = step.safety.clone();
    safety.sort_by_key(|text| text.word);
    let tokens = |list: &[At<TokenId>]| list.iter().map(|t| t.value.clone()).collect();
    Instance {
        address,
        procedure: context.procedure.id.value.clone(),
        within: context.within.clone(),
        span: Some(step.id.span),
        ask,
        by,
        safety,
        expect: step.expect.clone(),
        why: step.why.clone(),
        phase: step.phase,
        headline: step.headline.clone(),
        uses: step.uses.iter().map(|u| u.value.clone()).collect(),
        fits: step.fits.iter().map(|part| part.value.clone()).collect(),
        sets: tokens(&step.sets),
        clears: tokens(&step.clears),
        needs: tokens(&step.needs),
        concession: step.concession.as_ref().map(|role| role.value),
        disturbs: None,
        witness: step.witness.as_ref().map(|role| role.value),
        safe_state: context.safe_state.clone(),
        standing: Arc::clone(&context.standing),
        mode: context.mode,
        deviation: Deviation::Allowed,
        begun_only: false,
    }
}
