//! Writes rehearsals that take what no rehearsal takes yet.
//!
//! One file: the plain way through as its story, and a case for each other way. Greedy: each case is
//! made for a target that is open, then turned so that it takes as many others along as it can; what the
//! rest takes too is left out in the end. What is written has been played through a real session, and
//! plays back with nothing otherwise than it expects.

use std::collections::BTreeSet;

use super::bench::{Bench, RehearseError};
use super::candidates::{self, REASON};
use super::coverage::{Coverage, Shown, Target, everything};
use super::places::Course;
use super::search::{Chosen, Found, Goal, N_WALKS_ALONG_MAX, N_WALKS_MAX, Search};
use super::write::{Draft, DraftCase, Expect, Parts, changed, compressed, lines};
use crate::ids::{PartId, PersonId, Role};
use crate::procedure::model::Disposition;
use crate::rehearsal::{self, model::Rehearsal, model::ScriptedAnswer};
use crate::session::Session;
use crate::session::play::{PlayError, differences};
use crate::shop::model::{Machine, Shop};
use crate::source::{FileId, Source};
use crate::walk::event::Answer;
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::place::{Answers as _, Stand, judge};
use crate::walk::{disposition, exceptions};

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

/// A rehearsal file that was written and played.
#[derive(Debug, Clone)]
pub struct Written {
    /// Its id, which is also the name of its file.
    pub id: String,
    /// The file.
    pub text: String,
    /// How many cases it has.
    pub n_cases: usize,
}

/// What came of writing.
#[derive(Debug, Default)]
pub struct Missing {
    /// The new rehearsal file, where it takes something.
    pub written: Option<Written>,
    /// Why nothing was written although something is missing: the plain way through does not play.
    pub stuck: Option<PlayError>,
    /// What no answers were found for, or what did not play; nothing is known of it.
    pub not_found: Vec<Shown>,
}

/// Writes a rehearsal file for what `coverage` misses of `course`, and adds what it takes to it.
/// `is_free` says whether an id can be taken.
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
    let of_course = everything(course);
    let open = |coverage: &Coverage| -> Vec<Target> {
        let missing = coverage.missing().map(|(target, _)| target);
        missing.filter(|target| of_course.contains(*target)).cloned().collect()
    };
    let mut targets = open(coverage);
    let mut out = Missing::default();
    if !targets.is_empty() {
        let story = plain_way(&search);
        let of_story = search.seen(&search.walk(&story), &story);
        targets.retain(|target| !of_story.contains(target));
        let plan = needed(plan(&search, &story, &targets), &targets);
        let plan = merged(&search, plan, &targets);
        let ids = (1_usize..).map(|n| format!("{}_{n}", course.procedure));
        let id = ids.take(N_IDS_MAX).find(|id| is_free(id)).unwrap_or_default();
        let of_story = Vec::new();
        let mut writer = Writer { bench, course, search: &search, coverage, of_story, stuck: None };
        out.written = writer.file(id, cast, &story, &plan)?;
        out.stuck = writer.stuck;
    }
    out.not_found = open(coverage).iter().filter_map(|t| coverage.all.get(t).cloned()).collect();
    Ok(out)
}

/// The most numbers that are tried for the name of a file.
const N_IDS_MAX: usize = 10_000;

/// Drafts, plays and keeps.
struct Writer<'a> {
    bench: &'a mut Bench,
    course: &'a Course,
    search: &'a Search<'a>,
    coverage: &'a mut Coverage,
    /// The story's answers, in the order of its walk.
    of_story: Vec<(InstanceIdx, Answer)>,
    /// Why the story does not play to its end.
    stuck: Option<PlayError>,
}

impl Writer<'_> {
    fn file(
        &mut self,
        id: String,
        cast: &Cast,
        story: &Chosen,
        plan: &[Found],
    ) -> Result<Option<Written>, RehearseError> {
        self.of_story = self.answered(story);
        let flow = &self.course.flow;
        let is_work = |ask: &Ask| !matches!(ask, Ask::Hold(_) | Ask::Decide { .. });
        let mut needs_second = flow.instances.iter().map(|instance| {
            instance.ask.is_second() || (instance.by == Role::Mechanic && is_work(&instance.ask))
        });
        let mut draft = Draft {
            id,
            procedure: self.course.procedure.to_string(),
            is_alone: self.course.is_alone,
            machine: cast.machine.tag.clone(),
            performer: cast.performer.clone(),
            mechanic: cast.mechanic.clone(),
            second: cast.second.clone().filter(|_| needs_second.any(|needs| needs)),
            answers: lines(flow, &self.of_story),
            expect: Expect::default(),
            cases: Vec::new(),
        };
        let played = match self.play(&draft)? {
            Some(Ok(session)) => {
                draft.answers.extend(disposed(&session));
                self.play(&draft)?
            }
            other => other,
        };
        let session = match played {
            Some(Ok(session)) => session,
            other => {
                self.stuck = other.and_then(Result::err);
                return Ok(None);
            }
        };
        draft.expect = expect(&session);
        let n_before = self.coverage.taken.len();
        self.coverage.add(self.course, &session.state().walk, session.state());
        let of_story = session;
        for found in plan {
            self.case(&mut draft, found, &of_story)?;
        }
        let takes_more = self.coverage.taken.len() > n_before;
        Ok(takes_more.then(|| Written {
            id: draft.id.clone(),
            text: draft.yaml(),
            n_cases: draft.cases.len(),
        }))
    }

    /// The answers of a walk, in its order.
    fn answered(&self, chosen: &Chosen) -> Vec<(InstanceIdx, Answer)> {
        let answer = |index: InstanceIdx| Some((index, self.search.answer(index, chosen)?));
        self.search.walk(chosen).path.into_iter().filter_map(answer).collect()
    }

    /// Plays the last story of a draft, or says why it does not play to its end; `None` where what was
    /// written is no rehearsal.
    fn play(&mut self, draft: &Draft) -> Result<Option<Result<Session, PlayError>>, RehearseError> {
        let Some(script) = last_story(draft) else { return Ok(None) };
        let played = self.bench.play(&script)?;
        Ok(Some(match played.stuck {
            None => Ok(played.session),
            Some(why) => Err(why),
        }))
    }

    /// A case for what `found` takes and nothing else does, where it plays.
    fn case(
        &mut self,
        draft: &mut Draft,
        found: &Found,
        story: &Session,
    ) -> Result<(), RehearseError> {
        let mut takes: Vec<&Shown> = found
            .seen
            .iter()
            .filter(|target| !self.coverage.taken.contains(*target))
            .filter_map(|target| self.coverage.all.get(target))
            .collect();
        // The rarest first; a step or branch is mostly there for the sake of something else.
        takes.sort_by_key(|shown| std::cmp::Reverse(shown.group));
        let Some(first) = takes.first() else { return Ok(()) };
        let answers = changed(&self.course.flow, &self.of_story, &self.answered(&found.chosen));
        draft.cases.push(DraftCase {
            name: draft.free_name(first),
            takes: takes.iter().map(|shown| take_text(shown)).collect(),
            answers,
            expect: Expect::default(),
        });
        let mut session = self.play(draft)?.and_then(Result::ok);
        let left = session.as_ref().map(disposed).unwrap_or_default();
        if let (false, Some(case)) = (left.is_empty(), draft.cases.last_mut()) {
            case.answers.extend(left);
            session = self.play(draft)?.and_then(Result::ok);
        }
        let expected =
            session.as_ref().map(|session| expect_of_case(session, story, &draft.expect));
        if let (Some(case), Some(expected)) = (draft.cases.last_mut(), expected) {
            case.expect = expected;
        }
        let holds = |session: &Session| {
            last_story(draft).is_some_and(|script| differences(session, &script).is_empty())
        };
        match session.filter(holds) {
            Some(session) => {
                self.coverage.add(self.course, &session.state().walk, session.state());
            }
            None => drop(draft.cases.pop()),
        }
        Ok(())
    }
}

/// What is said at the end of a job of the failed results that no step of it settles: as many lines as
/// there are such results, so that the job could be released.
fn disposed(session: &Session) -> Vec<(String, String)> {
    let (files, state) = (session.files(), session.state());
    let of = |failed: disposition::Failed| {
        let parts = exceptions::parts_of_result(files, state, failed.index);
        let keeps_lot =
            |part: &PartId| files.flow.equipment.parts.get(part).is_some_and(|listed| listed.lot);
        let (disposition, lot) = match parts.as_slice() {
            [part] if keeps_lot(part) => (Disposition::Replaced, Some("LOT-1".to_owned())),
            [] => (Disposition::SetApart, None),
            _ => (Disposition::Replaced, None),
        };
        let said = ScriptedAnswer::Dispose { disposition, lot, because: REASON.to_owned() };
        (files.flow.instance(failed.index).address.to_string(), said.keys())
    };
    disposition::open(files, state).into_iter().map(of).collect()
}

fn last_story(draft: &Draft) -> Option<Rehearsal> {
    let source = Source::new("written", draft.yaml());
    rehearsal::read(FileId(0), &source).0?.stories().last()
}

/// The answers of the plain way to the end.
fn plain_way(search: &Search<'_>) -> Chosen {
    let plain = search.plain();
    let way = search.climb(&plain, &Goal::End, &BTreeSet::new(), N_WALKS_MAX);
    way.map_or(plain, |found| found.chosen)
}

/// Answers for each target that can be taken. The rarest come first: bounds and fit-outs take the
/// plain steps along.
fn plan(search: &Search<'_>, story: &Chosen, open: &[Target]) -> Vec<Found> {
    let none = BTreeSet::new();
    let mut left: Vec<Target> = open.iter().rev().cloned().collect();
    let mut plan = Vec::new();
    while let Some(goal) = left.first().cloned() {
        left.retain(|target| *target != goal);
        let found = search.climb(story, &Goal::Take(goal.clone()), &none, N_WALKS_MAX);
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

fn take_text(shown: &Shown) -> String {
    if shown.at.is_empty() { shown.what.clone() } else { format!("{} of {}", shown.what, shown.at) }
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
        parts: Parts::All(parts.map(|needed| (needed.part.to_string(), needed.position)).collect()),
        verdicts: state.walk.path.iter().filter_map(verdict).collect(),
        asked: Vec::new(),
        not_asked: Vec::new(),
    }
}

/// What a case comes to that the story does not, and the other way round.
fn expect_of_case(case: &Session, story: &Session, of_story: &Expect) -> Expect {
    let flow = &case.files().flow;
    let all = expect(case);
    let parts = match (&all.parts, &of_story.parts) {
        _ if all.stopped != of_story.stopped => Parts::AsInStory,
        (parts, same) if parts == same => Parts::AsInStory,
        (Parts::All(parts), Parts::All(known)) if known.iter().all(|k| parts.contains(k)) => {
            Parts::More(parts.iter().filter(|part| !known.contains(part)).cloned().collect())
        }
        _ => all.parts,
    };
    let verdicts: Vec<_> =
        all.verdicts.into_iter().filter(|told| !of_story.verdicts.contains(told)).collect();
    let is_step = |index: &InstanceIdx| {
        !matches!(flow.instance(*index).ask, Ask::Decide { .. } | Ask::Stop(_) | Ask::Needs(_))
    };
    let only = |one: &Session, other: &Session| {
        let other: BTreeSet<_> = other.state().walk.path.iter().collect();
        let path = one.state().walk.path.iter().filter(|index| is_step(index));
        let only = path.filter(|index| !other.contains(index));
        only.map(|index| flow.instance(*index).address.clone()).collect::<Vec<_>>()
    };
    let mut asked = only(case, story);
    asked.retain(|address| verdicts.iter().all(|(at, _)| *at != address.to_string()));
    // Behind a stop nothing is asked, which says nothing.
    let path = &case.state().walk.path;
    let end = path.last().copied().filter(|_| all.stopped);
    let mut not_asked = only(story, case);
    not_asked.retain(|address| {
        end.is_none_or(|end| flow.find(address).is_some_and(|index| index < end))
    });
    let come_to: Vec<String> =
        path.iter().map(|index| flow.instance(*index).address.to_string()).collect();
    Expect {
        stopped: all.stopped,
        parts,
        verdicts,
        asked: compressed(&asked, &[]),
        not_asked: compressed(&not_asked, &come_to),
    }
}
