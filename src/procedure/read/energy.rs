//! How hazardous energy is controlled, as the header demands it: each of its states may be set only while
//! the one before is in force, and a hold point looks at all of them. Written into the steps as what
//! they need, so that walk and proof hold to it like to any other need.

use super::path;
use crate::diag::Code;
use crate::expr::Path;
use crate::ids::{StepId, TokenId};
use crate::language::take::{self, Lower};
use crate::procedure::model::{Action, Exit, Step};
use crate::source::At;
use crate::yaml::Node;

/// What the header demands.
struct Energy {
    /// The states, in the order in which they come to be.
    states: Vec<At<TokenId>>,
    /// The hold point at which all of them are in force.
    hold: Path,
}

/// Reads the demand and adds to the steps what follows from it.
pub(super) fn demand(node: Option<&Node>, steps: &mut [Step], lower: &mut Lower<'_>) {
    let read = |node: &Node| {
        let states = take::names(node.get("states"))?;
        Some(Energy { states, hold: path(node.get("hold")?)? })
    };
    let Some(energy) = node.and_then(read) else { return };
    for (before, state) in energy.states.iter().zip(energy.states.iter().skip(1)) {
        in_turn(before, &state.value, steps);
    }
    let words: Vec<&str> = energy.hold.words.iter().map(|word| word.value.as_str()).collect();
    match found(&words, steps) {
        Some(step) if matches!(step.action, Action::Hold { .. }) => {
            for state in &energy.states {
                need(step, state);
            }
        }
        other => {
            let what = match other {
                Some(_) => "asks for no signature",
                None => "is not there",
            };
            let headline = format!("the hold point `{}` that `energy` demands {what}", energy.hold);
            let help = match other {
                Some(_) => "write `hold: …` and `by: mechanic` at that step",
                None => {
                    "add it: a step with that id, `hold: …` and `by: mechanic`; or name another by its \
                     sections, `section.step`"
                }
            };
            lower.error(Code::MissingHold, energy.hold.span, headline, help);
        }
    }
}

/// Steps that set `state` need the one before it.
fn in_turn(before: &At<TokenId>, state: &TokenId, steps: &mut [Step]) {
    for step in steps {
        if step.sets.iter().any(|set| set.value == *state) {
            need(step, before);
        }
        inside(&mut step.action, &mut |steps| in_turn(before, state, steps));
    }
}

fn need(step: &mut Step, state: &At<TokenId>) {
    let own = |token: &At<TokenId>| token.value == state.value;
    if !step.needs.iter().chain(&step.sets).any(own) {
        step.needs.push(state.clone());
    }
}

/// The step that a dotted name stands for.
fn found<'s>(words: &[&str], steps: &'s mut [Step]) -> Option<&'s mut Step> {
    let (first, rest) = words.split_first()?;
    let is_first = |id: &StepId| id.as_str() == *first;
    let step = steps.iter_mut().find(|step| is_first(&step.id.value))?;
    if rest.is_empty() {
        return Some(step);
    }
    match &mut step.action {
        Action::Section { steps, .. } => found(rest, steps),
        _ => None,
    }
}

/// The lists of steps that stand in an action.
fn inside(action: &mut Action, each: &mut dyn FnMut(&mut [Step])) {
    let mut exits: Vec<&mut Exit> = Vec::new();
    match action {
        Action::Section { steps, .. } => each(steps),
        Action::Check { not_so, .. }
        | Action::Build { not_so, .. }
        | Action::Tighten { not_so, .. } => exits.push(not_so),
        Action::Look { findings, .. } => exits.extend(findings.iter_mut().map(|f| &mut f.exit)),
        Action::Measure { below, above, not_proven, could_not_measure, .. } => {
            exits.extend(below.iter_mut().chain(above).chain(not_proven));
            exits.push(could_not_measure);
        }
        Action::WorkOut(work) => {
            exits.extend(work.below.iter_mut().chain(&mut work.above));
            exits.push(&mut work.could_not_work_out);
        }
        Action::Wait { too_late, .. } => exits.extend(too_late.iter_mut()),
        Action::Do { .. }
        | Action::Enter { .. }
        | Action::Attach { .. }
        | Action::Hold { .. }
        | Action::Perform { .. }
        | Action::Stop(_) => {}
    }
    for exit in exits {
        each(&mut exit.steps);
    }
}
