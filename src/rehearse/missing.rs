//! Writes rehearsals that take what no rehearsal takes yet.
//!
//! Greedy: each new one is made for a target that is open, then turned so that it takes as many
//! others along as it can; what the rest takes too is left out in the end. What is written has been played through a real session, and plays
//! back with nothing otherwise than it expects.

use std::collections::BTreeSet;

use super::bench::{Bench, RehearseError};
use super::candidates;
use super::coverage::{Coverage, Shown, Target, shown};
use super::places::Course;
use super::search::{Found, Goal, N_WALKS_ALONG_MAX, N_WALKS_MAX, Search};
use super::write::{Draft, Expect, lines};
use crate::ids::{PersonId, Role};
use crate::rehearsal::{self, model::Rehearsal};
use crate::session::Session;
use crate::shop::model::{Machine, Shop};
use crate::source::{FileId, Source};
use crate::walk::exceptions;
use crate::walk::flow::Ask;
use crate::walk::place::{Answers as _, Stand, judge};

/// Who and what is named in a written rehearsal.
#[derive(Debug, Clone)]
pub struct Cast {
    /// The machine.
    pub machine: Machine,
    /// Who performs.
    pub performer: PersonId,
    /// Who decides.
    pub mechanic: PersonId,
    /// Who takes second readings.
    pub second: Option<PersonId>,
}

impl Cast {
    /// People of the shop for a job on `machine`: those that `like` names, where it is there.
    ///
    /// # Errors
    /// Nobody who may do it.
    pub fn of(
        shop: &Shop,
        machine: &Machine,
        like: Option<&Rehearsal>,
    ) -> Result<Self, RehearseError> {
        let usual = |role: Role, not: &[&PersonId]| {
            let may = shop.people.iter().filter(|p| p.covers(role) && p.revoked.is_none());
            may.map(|p| &p.id).find(|id| !not.contains(id) && id.as_str() != super::bench::APPROVER)
        };
        let nobody = |what| RehearseError::Nobody { shop: shop.title.clone(), what };
        let like_performer = like.map(|r| &r.performer.value);
        let like_mechanic = like.map(|r| &r.mechanic.value);
        let mechanic = like_mechanic
            .or_else(|| usual(Role::Mechanic, &like_performer.into_iter().collect::<Vec<_>>()));
        let mechanic = mechanic.ok_or_else(|| nobody("decide and sign as a mechanic"))?.clone();
        let performer = like_performer.or_else(|| usual(Role::Apprentice, &[&mechanic]));
        let performer = performer.ok_or_else(|| nobody("perform beside the mechanic"))?.clone();
        let second = like.and_then(|r| r.second.as_ref()).map(|second| &second.value);
        let second = second.or_else(|| usual(Role::Mechanic, &[&performer, &mechanic]));
        let second = second.or(Some(&mechanic)).filter(|id| **id != performer).cloned();
        Ok(Self { machine: machine.clone(), performer, mechanic, second })
    }
}

/// A rehearsal that was written and played.
#[derive(Debug, Clone)]
pub struct Written {
    /// Its id, which is also the name of its file.
    pub id: String,
    /// The file.
    pub text: String,
}

/// What came of writing.
#[derive(Debug, Default)]
pub struct Missing {
    /// New rehearsals.
    pub written: Vec<Written>,
    /// What no answers were found for, or what did not play; nothing is known of it.
    pub not_found: Vec<Shown>,
}

/// Writes rehearsals for what `coverage` misses, and adds what they take to it. `is_free` says
/// whether an id can be taken.
///
/// # Errors
/// The job cannot be opened.
pub fn write_missing(
    bench: &mut Bench,
    course: &Course,
    coverage: &mut Coverage,
    cast: &Cast,
    is_free: &mut dyn FnMut(&str) -> bool,
) -> Result<Missing, RehearseError> {
    let shop = bench.shop_file()?;
    let search = Search::new(course, candidates::all(course, &shop, &cast.machine));
    let open: Vec<Target> = coverage.missing().cloned().collect();
    let mut out = Missing::default();
    let mut number = 0_usize;
    let plan = needed(plan(&search, &open), &open);
    for found in merged(&search, plan, &open) {
        number = number.saturating_add(1);
        while !is_free(&id_of(course, number)) {
            number = number.saturating_add(1);
        }
        let takes = coverage.missing().filter(|target| found.seen.contains(*target));
        let takes = takes.map(|target| take_text(course, target)).collect();
        let draft = draft(course, &search, &found, cast, takes);
        let draft = Draft { id: id_of(course, number), ..draft };
        out.written.extend(play_draft(bench, course, coverage, draft)?);
    }
    out.not_found = coverage.missing().map(|target| shown(course, target)).collect();
    Ok(out)
}

/// Answers for each target that can be taken. The rarest come first: bounds and fit-outs take the
/// plain steps along.
fn plan(search: &Search<'_>, open: &[Target]) -> Vec<Found> {
    let plain = search.plain();
    let none = BTreeSet::new();
    let base = search.climb(&plain, &Goal::End, &none, N_WALKS_MAX);
    let base = base.map_or(plain, |found| found.chosen);
    let mut left: Vec<Target> = open.iter().rev().cloned().collect();
    let mut plan = Vec::new();
    while let Some(goal) = left.first().cloned() {
        left.retain(|target| *target != goal);
        let found = search.climb(&base, &Goal::Take(goal.clone()), &none, N_WALKS_MAX);
        let Some(found) = found else { continue };
        let found = with_others(search, found, goal, &left);
        left.retain(|target| !found.seen.contains(target));
        plan.push(found);
    }
    plan
}

/// The most tries to do without one rehearsal by turning another.
const N_MERGES_MAX: usize = 400;

/// The plan with rehearsals left out whose own targets another takes once it is turned a little.
fn merged(search: &Search<'_>, mut plan: Vec<Found>, open: &[Target]) -> Vec<Found> {
    let all = taken(&plan, open);
    let mut n_left = N_MERGES_MAX;
    let mut index = 0;
    while index < plan.len() {
        let mut rest = plan.clone();
        rest.remove(index);
        let own: Vec<&Target> = all.difference(&taken(&rest, open)).copied().collect();
        let turned = (0..rest.len()).find_map(|other| {
            let mut turned = rest.get(other)?.clone();
            for target in &own {
                n_left = n_left.checked_sub(1)?;
                let goal = Goal::Take((*target).clone());
                let none = BTreeSet::new();
                turned = search.climb(&turned.chosen, &goal, &none, N_WALKS_ALONG_MAX)?;
            }
            let mut rest = rest.clone();
            *rest.get_mut(other)? = turned;
            (taken(&rest, open) == all).then_some(rest)
        });
        match turned {
            Some(fewer) => plan = fewer,
            None => index = index.saturating_add(1),
        }
    }
    plan
}

/// What of `open` a plan takes.
fn taken<'a>(plan: &[Found], open: &'a [Target]) -> BTreeSet<&'a Target> {
    open.iter().filter(|t| plan.iter().any(|found| found.seen.contains(*t))).collect()
}

/// The plan without what the rest of it takes too.
fn needed(mut plan: Vec<Found>, open: &[Target]) -> Vec<Found> {
    let mut index = 0;
    while index < plan.len() {
        let others = |target: &Target| {
            let rest = plan.iter().enumerate().filter(|(other, _)| *other != index);
            rest.into_iter().any(|(_, found)| found.seen.contains(target))
        };
        let own = plan.get(index).map(|found| &found.seen);
        let mut takes = open.iter().filter(|target| own.is_some_and(|seen| seen.contains(*target)));
        if takes.all(others) {
            plan.remove(index);
        } else {
            index = index.saturating_add(1);
        }
    }
    plan
}

fn id_of(course: &Course, number: usize) -> String {
    format!("{}_{number}", course.flow.procedure)
}

/// Turns the answers so that they take more of what is open. What was turned for stays taken; what
/// came along by chance may go for something else, as another rehearsal takes it by chance too.
fn with_others(search: &Search<'_>, found: Found, goal: Target, open: &[Target]) -> Found {
    let count = |found: &Found| open.iter().filter(|t| found.seen.contains(*t)).count();
    let mut found = found;
    let mut turned_for = vec![goal];
    for other in open {
        if found.seen.contains(other) {
            continue;
        }
        let goal = Goal::Take(other.clone());
        let more = search.climb(&found.chosen, &goal, &found.locked, N_WALKS_ALONG_MAX);
        let Some(more) = more else { continue };
        let keeps = turned_for.iter().all(|target| more.seen.contains(target));
        if keeps && count(&more) >= count(&found) {
            turned_for.push(other.clone());
            found = more;
        }
    }
    found
}

fn take_text(course: &Course, target: &Target) -> String {
    let shown = shown(course, target);
    if shown.at.is_empty() { shown.what } else { format!("{} of {}", shown.what, shown.at) }
}

fn draft(
    course: &Course,
    search: &Search<'_>,
    found: &Found,
    cast: &Cast,
    takes: Vec<String>,
) -> Draft {
    let walked = search.walk(&found.chosen);
    let answered = walked
        .path
        .iter()
        .filter_map(|index| Some((*index, search.answer(*index, &found.chosen)?)));
    let answered: Vec<_> = answered.collect();
    let has_second = answered.iter().any(|(index, _)| course.flow.instance(*index).ask.is_second());
    Draft {
        id: String::new(),
        procedure: course.flow.procedure.to_string(),
        machine: cast.machine.tag.clone(),
        performer: cast.performer.clone(),
        mechanic: cast.mechanic.clone(),
        second: cast.second.clone().filter(|_| has_second),
        answers: lines(&course.flow, &answered),
        takes,
        expect: Expect::default(),
    }
}

/// Plays a draft, writes down what came of it, and plays it once more as it is written. `None` where
/// it does not play.
fn play_draft(
    bench: &mut Bench,
    course: &Course,
    coverage: &mut Coverage,
    draft: Draft,
) -> Result<Option<Written>, RehearseError> {
    let Some(script) = read(&draft.yaml()) else { return Ok(None) };
    let played = bench.play(&script)?;
    if played.stuck.is_some() {
        return Ok(None);
    }
    let draft = Draft { expect: expect(&played.session), ..draft };
    let text = draft.yaml();
    let Some(script) = read(&text) else { return Ok(None) };
    let played = bench.play(&script)?;
    if !played.is_as_expected() {
        return Ok(None);
    }
    let state = played.session.state();
    coverage.add(course, &state.walk, state);
    Ok(Some(Written { id: draft.id, text }))
}

fn read(text: &str) -> Option<Rehearsal> {
    rehearsal::read(FileId(0), &Source::new("written", text)).0
}

/// What came of a played job, as a rehearsal expects it.
fn expect(session: &Session) -> Expect {
    let (files, state) = (session.files(), session.state());
    let parts = exceptions::parts_needed(files, state).into_iter();
    let verdict = |index: &usize| {
        let ask = state.walk.ask(&files.flow, state, *index);
        let verdict = judge(&ask, state.answer(*index)?)?;
        let telling = match *ask {
            Ask::Measure(_) => true,
            Ask::Decide { .. } | Ask::Stop(_) | Ask::Hold(_) => false,
            _ => verdict != crate::procedure::model::Verdict::Accept,
        };
        telling.then(|| (files.flow.instance(*index).address.to_string(), verdict))
    };
    Expect {
        stopped: matches!(state.walk.stand, Stand::Stopped(_)),
        parts: parts.map(|needed| (needed.part.to_string(), needed.position)).collect(),
        verdicts: state.walk.path.iter().filter_map(verdict).collect(),
    }
}
