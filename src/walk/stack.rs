//! A stack as it is laid: the layers that are due, and what was laid of them.
//!
//! A layer may drop out by the fit-out, so which layers are due is read from the walk as it stands.

use super::event::{Answer, Laid};
use super::flow::{Ask, Flow, GuardIdx, InstanceIdx};
use super::job::JobState;
use super::place::{Answers, Walk};
use super::refusal::Refusal;
use crate::ids::{Name, PartId, PersonId};
use crate::language::Profile;

/// What the walk needs to know of a layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerNote {
    /// Its name in the stack.
    pub id: Name,
    /// The part.
    pub part: PartId,
    /// One line for people.
    pub title: String,
    /// How its marked face lies, where it has one.
    pub lies: Option<String>,
    /// True when that face points up; `None` where it may lie either way up.
    pub faces_up: Option<bool>,
    /// How it looks from the side.
    pub profile: Profile,
    /// True when its lot is written down.
    pub lot: bool,
    /// The layer drops out where this is false.
    pub when: Option<GuardIdx>,
}

/// A layer that was laid, with the entry that says so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaidNote {
    /// The layer.
    pub laid: Laid,
    /// The entry.
    pub n: u64,
    /// Who laid it.
    pub by: Option<PersonId>,
}

impl Walk {
    /// The layers of a build step from the first in to the last in, each with whether it is due.
    pub fn layers<'f>(
        &self,
        flow: &'f Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
    ) -> Vec<(&'f LayerNote, bool)> {
        let Ask::Build { layers, .. } = &flow.instance(index).ask else { return Vec::new() };
        let due = |note: &LayerNote| note.when.is_none_or(|when| self.holds(flow, answers, when));
        layers.iter().map(|note| (note, due(note))).collect()
    }

    /// The layers that are due, from the first in to the last in.
    pub fn layers_due<'f>(
        &self,
        flow: &'f Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
    ) -> Vec<&'f LayerNote> {
        let all = self.layers(flow, answers, index).into_iter();
        all.filter(|(_, due)| *due).map(|(note, _)| note).collect()
    }

    /// True when `answer` still answers the question of `index`. What was built for another fit-out
    /// does not.
    pub(super) fn stands(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
        answer: &Answer,
    ) -> bool {
        match (&flow.instance(index).ask, answer) {
            (Ask::Build { .. }, Answer::Built(laid)) => {
                is_whole(&self.layers_due(flow, answers, index), laid)
            }
            (Ask::Tighten(note), Answer::Tightened(rounds)) => note.is_whole(rounds),
            (Ask::WorkOut(note), Answer::WorkedOut(worked)) => {
                self.is_worked_out(flow, answers, note, worked)
            }
            (Ask::Measure(_), Answer::Read { .. }) => self.can_judge(flow, answers, index, answer),
            _ => true,
        }
    }
}

/// True when `laid` is all that is due, or ends with a layer that is not so.
fn is_whole(due: &[&LayerNote], laid: &[Laid]) -> bool {
    let in_order = laid.iter().zip(due).all(|(laid, note)| laid.layer == note.id);
    let Some((last, before)) = laid.split_last() else { return due.is_empty() };
    in_order
        && laid.len() <= due.len()
        && before.iter().all(|laid| laid.so)
        && (!last.so || laid.len() == due.len())
}

impl JobState {
    /// The layers laid so far that still count: those that lie as they must, in the order that is
    /// due now.
    pub fn standing(&self, flow: &Flow, index: InstanceIdx) -> Vec<&LaidNote> {
        let due = self.walk.layers_due(flow, self, index);
        let laid = self.laid.get(&index).map_or(&[][..], Vec::as_slice);
        laid.iter()
            .zip(due)
            .take_while(|(note, due)| note.laid.so && note.laid.layer == due.id)
            .map(|(note, _)| note)
            .collect()
    }

    /// Takes up a layer; false where the stack has none such now.
    pub(super) fn lay(&mut self, flow: &Flow, index: InstanceIdx, note: LaidNote) -> bool {
        let due = self.walk.layers_due(flow, self, index);
        let Some(at) = due.iter().position(|layer| layer.id == note.laid.layer) else {
            return false;
        };
        let laid = self.laid.entry(index).or_default();
        laid.truncate(at);
        laid.push(note);
        true
    }

    /// The answer that the layers laid so far make.
    pub(super) fn built(&self, index: InstanceIdx) -> Answer {
        let laid = self.laid.get(&index).map_or(&[][..], Vec::as_slice);
        Answer::Built(laid.iter().map(|note| note.laid.clone()).collect())
    }
}

/// Checks what is said of one layer.
///
/// # Errors
/// A lot that is missing, or one where none is kept.
pub(super) fn lot_fits(note: &LayerNote, laid: &Laid) -> Result<(), Refusal> {
    match (&laid.lot, note.lot && laid.so) {
        (Some(lot), true) => super::accept::line("the lot", lot),
        (None, true) => Err(Refusal::LotMissing { part: note.title.clone() }),
        (None, false) => Ok(()),
        (Some(_), false) => Err(Refusal::LotNotDue { part: note.title.clone() }),
    }
}

/// Checks a whole stack as a correction gives it.
///
/// # Errors
/// The first layer that is not the one due, or whose lot does not fit.
pub(super) fn whole_fits(due: &[&LayerNote], laid: &[Laid]) -> Result<(), Refusal> {
    for (laid, note) in laid.iter().zip(due) {
        if laid.layer != note.id {
            return Err(not_open(&laid.layer, Some(note)));
        }
        lot_fits(note, laid)?;
    }
    if is_whole(due, laid) { Ok(()) } else { Err(Refusal::WrongKind { asked: "build" }) }
}

pub(super) fn not_open(layer: &Name, next: Option<&LayerNote>) -> Refusal {
    Refusal::LayerNotOpen {
        layer: layer.spoken(),
        next: next.map_or_else(|| "nothing more".to_owned(), |note| note.title.clone()),
    }
}
