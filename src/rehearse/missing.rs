//! Writes rehearsals that take what no rehearsal takes yet.
//!
//! Greedy: each new one is made for the first target that is open, then turned so that it takes as
//! many others along as it can. What is written has been played through a real session, and plays
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
    pub fn of(shop: &Shop, machine: &Machine, like: Option<&Rehearsal>) -> Result<Self, RehearseError> {
        let usual = |role: Role, not: &[&PersonId]| {
            let may = shop.people.iter().filter(|p| p.covers(role) && p.revoked.is_none());
            may.map(|p| &p.id).find(|id| {
                !not.contains(id) && id.as_str() != super::bench::APPROVER
            })
        };
        let nobody = |what| RehearseError::Nobody { shop: shop.title.clone(), what };
        let like_performer = like.map(|r| &r.performer.value);
        let like_mechanic = like.map(|r| &r.mechanic.value);
        let mechanic = like_mechanic.or_else(|| {
            usual(Role::Mechanic, &like_performer.into_iter().collect::<Vec<_>>())
        });
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
    let mut out = Missing::default();
    let mut given_up = BTreeSet::new();
    let mut number = 0_usize;
    let plain = search.plain();
    let base = search.climb(&plain, &Goal::End, &BTreeSet::new(), N_WALKS_MAX);
    let base = base.map_or(plain, |found| found.chosen);
    loop {
        let open: Vec<Target> =
            coverage.missing().filter(|target| !given_up.contains(*target)).cloned().collect();
        let Some(goal) = open.first() else { break };
        let none = BTreeSet::new();
        let Some(found) = search.climb(&base, &Goal::Take(goal.clone()), &none, N_WALKS_MAX) else {
            given_up.insert(goal.clone());
            continue;
        };
        let found = with_others(&search, found, &open);
        number = number.saturating_add(1);
        while !is_free(&id_of(course, number)) {
            number = number.saturating_add(1);
        }
        let takes = open.iter().filter(|target| found.seen.contains(*target));
        let draft = draft(course, &search, &found, cast, takes.map(|t| take_text(course, t)).collect());
        let draft = Draft { id: id_of(course, number), ..draft };
        match play_draft(bench, course, coverage, draft)? {
            Some(written) if coverage.taken.contains(goal) => out.written.push(written),
            _ => {
                given_up.insert(goal.clone());
            }
        }
    }
    out.not_found = given_up.iter().map(|target| shown(course, target)).collect();
    Ok(out)
}

fn id_of(course: &Course, number: usize) -> String {
    format!("{}_{number}", course.flow.procedure)
}

/// Turns the answers so that they take more of what is open, without losing any.
fn with_others(search: &Search<'_>, found: Found, open: &[Target]) -> Found {
    let mut found = found;
    for other in open {
        if found.seen.contains(other) {
            continue;
        }
        let goal = Goal::Take(other.clone());
        let more = search.climb(&found.chosen, &goal, &found.locked, N_WALKS_ALONG_MAX);
        let Some(more) = more else { continue };
        if open.iter().all(|t| !found.seen.contains(t) || more.seen.contains(t)) {
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
    let answered = walked.path.iter().filter_map(|index| {
        Some((*index, search.answer(*index, &found.chosen)?))
    });
    let answered: Vec<_> = answered.collect();
    let has_second = answered.iter().any(|(index, _)| {
        matches!(course.flow.instance(*index).ask, Ask::Measure { second_of: Some(_), .. })
    });
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
        let ask = &files.flow.instance(*index).ask;
        let verdict = judge(ask, state.answer(*index)?)?;
        let telling = match ask {
            Ask::Measure { .. } => true,
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
