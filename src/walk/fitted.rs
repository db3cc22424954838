//! The parts that were fitted: what build steps laid, each with its lot and position, what went in with
//! other steps, and what a mechanic says was replaced.

use super::address::Address;
use super::disposition::Disposition;
use super::event::Answer;
use super::exceptions::{latest, parts_needed, parts_of_result, position_text};
use super::flow::{Ask, InstanceIdx};
use super::job::{Files, JobState};
use super::place::{Answers as _, Stand};
use crate::ids::{Name, PartId, PersonId};
use crate::procedure::model::Verdict;

/// One part as it was fitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartFitted {
    /// The part.
    pub part: PartId,
    /// How many.
    pub quantity: u32,
    /// The layer that it makes, or the part, in words.
    pub title: String,
    /// Its layer, where it was laid in a stack.
    pub layer: Option<Name>,
    /// Its lot, where one was written down.
    pub lot: Option<String>,
    /// The position that it went to, such as `cylinder=2,side=inlet`; empty for the machine.
    pub position: String,
    /// The step that it went in with, or whose result called for it.
    pub step: Address,
    /// The entry that says so.
    pub n: u64,
    /// Who fitted it, or signs that it was.
    pub by: Option<PersonId>,
}

/// The parts fitted, in walk order; of several passes of a step, the last.
pub fn fitted(files: &Files, state: &JobState) -> Vec<PartFitted> {
    let flow = &files.flow;
    let mut parts = Vec::new();
    for index in latest(files, state) {
        let instance = flow.instance(index);
        parts.extend(with_step(files, state, index));
        parts.extend(replaced(files, state, index));
        let (Ask::Build { layers, .. }, Some(Answer::Built(_))) =
            (&instance.ask, state.answer(index))
        else {
            continue;
        };
        for note in state.standing(flow, index) {
            let Some(layer) = layers.iter().find(|layer| layer.id == note.laid.layer) else {
                continue;
            };
            parts.push(PartFitted {
                part: layer.part.clone(),
                quantity: 1,
                title: layer.title.clone(),
                layer: Some(layer.id.clone()),
                lot: note.laid.lot.clone(),
                position: position_text(files, index),
                step: instance.address.clone(),
                n: note.n,
                by: note.by.clone(),
            });
        }
    }
    parts
}

/// What a mechanic says was fitted in the place of a failed part.
fn replaced(files: &Files, state: &JobState, index: InstanceIdx) -> Vec<PartFitted> {
    let stated = state.disposed.get(&index);
    let Some(stated) = stated.filter(|s| s.said.disposition == Disposition::Replaced) else {
        return Vec::new();
    };
    let listed = &files.flow.equipment.parts;
    let parts = parts_of_result(files, state, index).into_iter();
    let part = |part: PartId| PartFitted {
        quantity: listed.get(&part).map_or(1, |part| part.quantity),
        title: listed.get(&part).map_or_else(|| part.spoken(), |part| part.title.clone()),
        part,
        layer: None,
        lot: stated.said.lot.clone(),
        position: position_text(files, index),
        step: files.flow.instance(index).address.clone(),
        n: stated.n,
        by: Some(stated.by.clone()),
    };
    parts.map(part).collect()
}

/// True when `place` lies in `whole`: in the machine, or at the same cylinder.
pub(super) fn lies_in(whole: &str, place: &str) -> bool {
    whole.is_empty() || whole.split(',').all(|one| place.split(',').any(|p| p == one))
}

/// The parts that a step fits without laying them in a stack: it was done, and as it must be.
fn with_step(files: &Files, state: &JobState, index: InstanceIdx) -> Vec<PartFitted> {
    let instance = files.flow.instance(index);
    let Some(held) = state.held.get(index).and_then(Option::as_ref) else { return Vec::new() };
    let verdict = state.walk.verdicts.get(index).copied().flatten();
    let left_out = matches!(held.answer, Answer::Deviated { done: false, .. });
    if left_out || verdict.is_some_and(|verdict| verdict != Verdict::Accept) {
        return Vec::new();
    }
    let fitted = |part: &PartId| {
        let listed = files.flow.equipment.parts.get(part);
        PartFitted {
            part: part.clone(),
            quantity: listed.map_or(1, |listed| listed.quantity),
            title: listed.map_or_else(|| part.spoken(), |listed| listed.title.clone()),
            layer: None,
            lot: None,
            position: position_text(files, index),
            step: instance.address.clone(),
            n: held.n,
            by: held.by.clone(),
        }
    };
    instance.fits.iter().map(fitted).collect()
}

/// Parts that are needed and did not go in, one sentence each. A job that was stopped has left them
/// out on purpose.
pub fn needed_and_not_fitted(files: &Files, state: &JobState) -> Vec<String> {
    if matches!(state.walk.stand, Stand::Stopped(_)) {
        return Vec::new();
    }
    let fitted = fitted(files, state);
    let mut lines = Vec::new();
    for needed in parts_needed(files, state) {
        let there: u32 = fitted
            .iter()
            .filter(|part| part.part == needed.part)
            .filter(|part| {
                // A step outside the section of a position fits the part at all of them.
                lies_in(&needed.position, &part.position)
                    || part.layer.is_none() && lies_in(&part.position, &needed.position)
            })
            .map(|part| part.quantity)
            .fold(0, u32::saturating_add);
        if there < needed.quantity {
            let at = if needed.position.is_empty() { "the machine" } else { &needed.position };
            lines.push(format!(
                "{} for {at}: {} needed, {there} fitted",
                needed.part.spoken(),
                needed.quantity
            ));
        }
    }
    lines
}
