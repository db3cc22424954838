//! The parts that were fitted: what build steps laid, each with its lot and position.

use super::address::Address;
use super::event::Answer;
use super::exceptions::{latest, parts_needed, position_text};
use super::flow::{Ask, InstanceIdx};
use super::job::{Files, JobState};
use super::place::{Answers as _, Stand, Status};
use crate::ids::{Name, PartId, PersonId};

/// One part as it was fitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartFitted {
    /// The part.
    pub part: PartId,
    /// The layer that it makes, in words.
    pub title: String,
    /// Its layer in the stack.
    pub layer: Name,
    /// Its lot, where one was written down.
    pub lot: Option<String>,
    /// The position that it went to, such as `cylinder=2,side=inlet`; empty for the machine.
    pub position: String,
    /// The step that laid it.
    pub step: Address,
    /// The entry that says so.
    pub n: u64,
    /// Who laid it.
    pub by: Option<PersonId>,
}

/// The parts fitted, in walk order; of several passes of a step, the last.
pub fn fitted(files: &Files, state: &JobState) -> Vec<PartFitted> {
    let flow = &files.flow;
    let mut parts = Vec::new();
    for index in latest(files, state) {
        let instance = flow.instance(index);
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
                title: layer.title.clone(),
                layer: layer.id.clone(),
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

/// True when some step of the walk lays `part`.
fn is_laid_here(files: &Files, state: &JobState, part: &PartId) -> bool {
    let asked = |index: InstanceIdx| {
        !matches!(state.walk.status.get(index), Some(Status::NotApplicable(_) | Status::NotBegun))
    };
    files.flow.instances.iter().enumerate().any(|(index, instance)| {
        matches!(&instance.ask, Ask::Build { layers, .. }
            if asked(index) && layers.iter().any(|layer| layer.part == *part))
    })
}

/// Parts that are needed and that the steps of this job lay, and that were not laid; one sentence
/// each. A job that was stopped has left them out on purpose.
pub fn needed_and_not_fitted(files: &Files, state: &JobState) -> Vec<String> {
    if matches!(state.walk.stand, Stand::Stopped(_)) {
        return Vec::new();
    }
    let fitted = fitted(files, state);
    let lies_in = |whole: &str, place: &str| {
        whole.is_empty() || whole.split(',').all(|one| place.split(',').any(|p| p == one))
    };
    let mut lines = Vec::new();
    for needed in parts_needed(files, state) {
        if !is_laid_here(files, state, &needed.part) {
            continue;
        }
        let there = fitted
            .iter()
            .filter(|part| part.part == needed.part && lies_in(&needed.position, &part.position))
            .count();
        if there < usize::try_from(needed.quantity).unwrap_or(usize::MAX) {
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
