//! What an instance asks, with everything looked up in the equipment file.

use std::sync::Arc;

use super::super::address::{Address, Segment};
use super::super::flow::{Ask, Deviation, ExitNote, FindingNote, Instance, InstanceIdx, SecondOf};
use super::{Builder, Context};
use crate::diag::{Code, Diagnostic};
use crate::ids::{FigureId, Role, StepId, TokenId};
use crate::procedure::model::{Action, DurationRef, Exit, LimitRef, Step, Verdict};
use crate::source::{At, Span};
use crate::units::duration::whole_seconds;
use crate::units::{Limit, Quantity, Unit};

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
            Action::Measure { .. } => return self.measure(step),
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

    fn measure(&mut self, step: &Step) -> Option<Ask> {
        let Action::Measure { text, with, unit, limit, below, above, could_not_measure, second: _ } =
            &step.action
        else {
            return None;
        };
        let (found, plausible, basis) = self.limit(limit, step, *unit)?;
        self.exits_of(&found, limit.span(), (below.as_ref(), above.as_ref()));
        Some(Ask::Measure {
            text: text.clone(),
            with: with.value.clone(),
            unit: *unit,
            limit: found,
            plausible,
            basis,
            below: below.as_ref().map(ExitNote::of),
            above: above.as_ref().map(ExitNote::of),
            could_not_measure: ExitNote::of(could_not_measure),
            second_of: None,
        })
    }
}

impl Builder<'_> {
    /// A limit, a plausible range and what the limit rests on, looked up and held against the unit
    /// that figures are in.
    pub(super) fn limit(&mut self, limit: &LimitRef, step: &Step, unit: Unit) -> Option<LookedUp> {
        let (found, plausible, basis) = match limit {
            LimitRef::Here(at) => (at.value.clone(), None, step.basis.clone()),
            LimitRef::Figure(at) => {
                let Some(named) = self.equipment.limits.get(&at.value) else {
                    let known = self.equipment.limits.keys().map(FigureId::as_str);
                    self.unknown(at.span, "limit", at.value.as_str(), known);
                    return None;
                };
                let basis = step.basis.clone().or_else(|| Some(named.basis.clone()));
                (named.limit.clone(), named.plausible.clone(), basis)
            }
        };
        if found.unit.dimension() != unit.dimension() {
            self.out.push(Diagnostic::error(
                Code::DimensionMismatch,
                limit.span(),
                format!("the limit is {} and the reading is in {}", found.render(), unit.symbol()),
            ));
            return None;
        }
        Some((found, plausible, basis))
    }

    /// An exit for each side that a figure can lie on, and none for a side that it cannot.
    pub(super) fn exits_of(
        &mut self,
        found: &Limit,
        span: Span,
        (below, above): (Option<&Exit>, Option<&Exit>),
    ) {
        for (bound, exit, name, side) in [
            (found.at_least.is_some(), below, "below", "least"),
            (found.at_most.is_some(), above, "above", "greatest"),
        ] {
            if bound && exit.is_none() {
                self.out.push(
                    Diagnostic::error(
                        Code::MissingExit,
                        span,
                        format!("the limit has a {side} value, and the step has no `{name}`"),
                    )
                    .help(format!("add `{name}:` with a verdict")),
                );
            }
            if let (false, Some(exit)) = (bound, exit) {
                self.out.push(
                    Diagnostic::error(
                        Code::UnusedExit,
                        exit.span,
                        format!("the limit has no {side} value, so `{name}` is never taken"),
                    )
                    .help(format!("take `{name}` out, or give the limit a {side} value")),
                );
            }
        }
    }
}

/// A limit, the plausible range of what is held against it, and its basis.
pub(super) type LookedUp = (Limit, Option<(Quantity, Quantity)>, Option<String>);

/// The question of the independent second reading: whatever is not good goes to a mechanic.
pub(super) fn second(ask: Ask, first: InstanceIdx, agree_within: &Quantity) -> Ask {
    let refer = ExitNote { verdict: Verdict::Refer, say: None, parts: Vec::new() };
    let Ask::Measure { text, with, unit, limit, plausible, basis, below, above, .. } = ask else {
        return ask;
    };
    Ask::Measure {
        text,
        with,
        unit,
        limit,
        plausible,
        basis,
        below: below.map(|_| refer.clone()),
        above: above.map(|_| refer.clone()),
        could_not_measure: refer,
        second_of: Some(SecondOf { first, agree_within: agree_within.clone() }),
    }
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
        uses: Vec::new(),
        sets: Vec::new(),
        clears: Vec::new(),
        needs: Vec::new(),
        concession: None,
        witness: None,
        safe_state: context.safe_state.clone(),
        standing: Arc::clone(&context.standing),
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
        uses: step.uses.iter().map(|u| u.value.clone()).collect(),
        sets: tokens(&step.sets),
        clears: tokens(&step.clears),
        needs: tokens(&step.needs),
        concession: step.concession.as_ref().map(|role| role.value),
        witness: step.witness.as_ref().map(|role| role.value),
        safe_state: context.safe_state.clone(),
        standing: Arc::clone(&context.standing),
        deviation: Deviation::Allowed,
        begun_only: false,
    }
}
