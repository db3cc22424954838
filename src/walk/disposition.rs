//! What is done about a failed result: every result that the rules do not accept has one way out that
//! the job itself shows, or one that a mechanic signs for.
//!
//! Most ways out follow from the entries: the same inspection was made again, the part was laid anew,
//! a mechanic decided. What no step shows, such as a part replaced outside any stack or one set apart,
//! is stated and signed. A part used as it is takes a concession; there is no other word for that.

use super::accept;
use super::address::Address;
use super::event::{Answer, Meaning, Signed};
use super::exceptions::{answer_text, parts_of_result, position_text, without_pass};
use super::fitted::{PartFitted, fitted, lies_in};
use super::flow::{Ask, InstanceIdx};
use super::job::{Files, JobState};
use super::place::{Answers as _, Stand};
use super::refusal::Refusal;
use crate::ids::{Moment, PartId, PersonId};
pub use crate::procedure::model::Disposition;
use crate::procedure::model::Verdict;

/// What was done, as a mechanic states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// What.
    pub disposition: Disposition,
    /// The lot of the part in its place.
    pub lot: Option<String>,
    /// What was done and why.
    pub reason: String,
}

impl Said {
    /// Reads what a person writes on one line: the reason, or `lot L-77: the reason`.
    pub fn parse(disposition: Disposition, text: &str) -> Self {
        let text = text.trim();
        let split = text.strip_prefix("lot ").and_then(|rest| rest.split_once(':'));
        let (lot, reason) = match split {
            Some((lot, reason)) => (Some(lot.trim().to_owned()), reason.trim()),
            None => (None, text),
        };
        Self { disposition, lot, reason: reason.to_owned() }
    }
}

/// What was stated of one result, by whom and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stated {
    /// What.
    pub said: Said,
    /// The entry.
    pub n: u64,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
}

/// The way out of a failed result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Settled {
    /// The same inspection was made again, and that result stands in its place.
    Again {
        /// The last time that it was made.
        address: Address,
        /// The entry.
        n: u64,
    },
    /// Used as it is, by a decision or a concession.
    Accepted {
        /// Who decided.
        by: Option<PersonId>,
        /// The entry.
        n: u64,
        /// Why.
        reason: String,
    },
    /// The parts that it calls for were laid.
    Fitted(Vec<PartFitted>),
    /// Stated and signed.
    Stated(Stated),
    /// The job was stopped, and the machine is left as its safe state says.
    Ended,
    /// Nothing says what was done.
    Open,
}

/// A result that the rules do not accept, or a part that a mechanic replaces all the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failed {
    /// The instance.
    pub index: InstanceIdx,
    /// The verdict of the rules.
    pub rules: Verdict,
    /// The verdict in force, after decisions and concessions.
    pub verdict: Verdict,
    /// What was done.
    pub settled: Settled,
}

impl Failed {
    /// The failed result in words, with its address.
    pub fn text(&self, files: &Files, state: &JobState) -> String {
        let flow = &files.flow;
        let (instance, ask) = (flow.instance(self.index), state.walk.ask(flow, state, self.index));
        let what = state.answer(self.index).map(|answer| answer_text(&ask, answer));
        format!("{}: {} ({})", instance.address, self.verdict.word(), what.unwrap_or_default())
    }
}

/// Every failed result of the walk with its way out, in walk order.
pub fn failed(files: &Files, state: &JobState) -> Vec<Failed> {
    let parts = fitted(files, state);
    let of = |index: &InstanceIdx| one(files, state, *index, &parts);
    state.walk.path.iter().filter_map(of).collect()
}

/// The failed results of which nothing says what was done. Empty while the job is under way or was
/// stopped.
pub fn open(files: &Files, state: &JobState) -> Vec<Failed> {
    if state.walk.stand != Stand::End {
        return Vec::new();
    }
    failed(files, state).into_iter().filter(|failed| failed.settled == Settled::Open).collect()
}

/// The failed result of `index`, where it has one.
pub fn at(files: &Files, state: &JobState, index: InstanceIdx) -> Option<Failed> {
    state.walk.path.contains(&index).then(|| one(files, state, index, &fitted(files, state)))?
}

fn one(
    files: &Files,
    state: &JobState,
    index: InstanceIdx,
    parts: &[PartFitted],
) -> Option<Failed> {
    let flow = &files.flow;
    let answer = state.answer(index)?;
    let ask = &flow.instance(index).ask;
    if matches!(ask, Ask::Hold(_) | Ask::Stop(_) | Ask::Decide { about: Some(_), .. }) {
        return None;
    }
    let rules = state.walk.judge_at(flow, state, index, answer)?;
    let verdict = state.walk.verdicts.get(index).copied().flatten().unwrap_or(rules);
    if rules == Verdict::Accept && verdict != Verdict::Replace {
        return None;
    }
    let settled = settled(files, state, (index, verdict), parts);
    Some(Failed { index, rules, verdict, settled })
}

fn settled(
    files: &Files,
    state: &JobState,
    (index, verdict): (InstanceIdx, Verdict),
    parts: &[PartFitted],
) -> Settled {
    if let Some(stated) = state.disposed.get(&index) {
        return Settled::Stated(stated.clone());
    }
    if let Some(conceded) = state.conceded.get(&index)
        && conceded.verdict == Verdict::Accept
    {
        let (by, n, reason) = (Some(conceded.by.clone()), conceded.n, conceded.reason.clone());
        return Settled::Accepted { by, n, reason };
    }
    let flow = &files.flow;
    if let Some((decision, decided)) = decision_on(files, state, index)
        && decided == Verdict::Accept
    {
        let held = state.held.get(decision).and_then(Option::as_ref);
        let reason = match held.map(|held| &held.answer) {
            Some(Answer::Decided { reason, .. }) => reason.clone(),
            _ => String::new(),
        };
        let n = held.map_or(0, |held| held.n);
        return Settled::Accepted { by: held.and_then(|held| held.by.clone()), n, reason };
    }
    let place = without_pass(&flow.instance(index).address);
    let again = state.walk.path.iter().rev().find(|i| {
        **i != index && without_pass(&flow.instance(**i).address) == place && **i > index
    });
    if let Some(again) = again {
        let n = state.held.get(*again).and_then(Option::as_ref).map_or(0, |held| held.n);
        return Settled::Again { address: flow.instance(*again).address.clone(), n };
    }
    if verdict == Verdict::Replace {
        let laid = laid_for(files, state, index, parts);
        if !laid.is_empty() {
            return Settled::Fitted(laid);
        }
    }
    if matches!(state.walk.stand, Stand::Stopped(_)) || state.halted().is_some() {
        return Settled::Ended;
    }
    Settled::Open
}

/// The decision on a result, or on the bound of its own rework, with its verdict.
fn decision_on(
    files: &Files,
    state: &JobState,
    index: InstanceIdx,
) -> Option<(InstanceIdx, Verdict)> {
    let flow = &files.flow;
    let inside = &flow.instance(index).address;
    let decides = |i: InstanceIdx| {
        let Ask::Decide { about, .. } = &flow.instance(i).ask else { return false };
        about.map_or_else(
            || flow.instance(i).address.0.starts_with(&inside.0),
            |about| about == index,
        )
    };
    state.walk.path.iter().rev().copied().find_map(|i| {
        let Answer::Decided { verdict, .. } = state.answer(i)? else { return None };
        decides(i).then_some((i, *verdict))
    })
}

/// The parts that a result calls for as they were laid after it; empty unless each was.
fn laid_for(
    files: &Files,
    state: &JobState,
    index: InstanceIdx,
    fitted: &[PartFitted],
) -> Vec<PartFitted> {
    let wanted = parts_of_result(files, state, index);
    let position = position_text(files, index);
    let since = state
        .held
        .get(index)
        .and_then(Option::as_ref)
        .map_or(0, |held| held.supersedes.first().copied().unwrap_or(held.n));
    let is_laid = |part: &PartId, laid: &&PartFitted| {
        // A step outside the section of a position fits the part at all of them.
        let at = lies_in(&position, &laid.position)
            || laid.layer.is_none() && lies_in(&laid.position, &position);
        laid.part == *part && at && laid.n > since
    };
    let each: Option<Vec<PartFitted>> =
        wanted.iter().map(|part| fitted.iter().find(|laid| is_laid(part, laid)).cloned()).collect();
    each.unwrap_or_default()
}

/// Checks what a mechanic states about `address`.
///
/// # Errors
/// No failed result there, one that is used as it is, a lot where none can be told, or a signature
/// that says something else.
pub(super) fn check(
    files: &Files,
    state: &JobState,
    address: &Address,
    said: &Said,
    signed: &Signed,
) -> Result<(), Refusal> {
    let index = files.flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
    let nothing = || Refusal::NothingToDispose(address.clone());
    let failed = at(files, state, index).ok_or_else(nothing)?;
    if matches!(failed.settled, Settled::Again { .. } | Settled::Accepted { .. }) {
        return Err(nothing());
    }
    accept::line("what was done", &said.reason)?;
    if let Some(lot) = &said.lot {
        accept::line("the lot", lot)?;
    }
    let parts = parts_of_result(files, state, index);
    let listed = |part: &PartId| files.flow.equipment.parts.get(part);
    match (said.disposition, &said.lot, parts.as_slice()) {
        (Disposition::Replaced, None, [part]) if listed(part).is_some_and(|part| part.lot) => {
            let part = listed(part).map_or_else(|| part.spoken(), |part| part.title.clone());
            return Err(Refusal::LotMissing { part });
        }
        (Disposition::Replaced, Some(_), [_]) | (_, None, _) => {}
        (_, Some(_), _) => {
            return Err(Refusal::BadText {
                what: "the lot",
                why: "belongs to one part that was replaced; here, write it into what was done",
            });
        }
    }
    let statement = &signed.statement;
    if statement.address.as_ref() != Some(address) {
        return Err(Refusal::Signature("it is about another step"));
    }
    if statement.meaning != Meaning::Disposed(said.clone()) {
        return Err(Refusal::Signature("it says something else than what was done"));
    }
    Ok(())
}
