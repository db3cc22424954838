//! Looks for answers that lead to a target, with the walk itself as the judge.
//!
//! A try is a choice for every instance, and one walk over it; what is not come to is not looked at.
//! The way to a target is climbed guard by guard: at the last place from which the target can still
//! be reached, answers that the guard reads are changed until it comes out the other way. Every climb
//! is bounded, so that a target that no answers reach is given up, not waited for.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};

use super::candidates::Candidate;
use super::coverage::{Target, seen, taken_by};
use super::places::Course;
use crate::procedure::model::EntryKind;
use crate::walk::event::{Answer, Laid};
use crate::walk::flow::{Ask, Guard, GuardIdx, InstanceIdx, Node, NodeIdx, Outcome, Ref};
use crate::walk::place::{Answers, Stand, Walk, walk};

/// The most guards that are turned on the way to one target.
const N_TURNS_MAX: usize = 60;
/// The most walks for one target of its own.
pub(super) const N_WALKS_MAX: usize = 1_500;
/// The most walks for a target that is to be taken along.
pub(super) const N_WALKS_ALONG_MAX: usize = 60;
/// The most pairs of answers that are changed together at one guard.
const N_PAIRS_MAX: usize = 300;

/// A choice for every instance, by the index of its candidate.
pub(super) type Chosen = Vec<usize>;
/// Answers that are changed together.
type Move = Vec<(InstanceIdx, usize)>;

/// What is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Goal {
    /// The end of the procedure.
    End,
    /// A target.
    Take(Target),
}

/// Answers that take something.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// The answers.
    pub(super) chosen: Chosen,
    /// The answers that must stay as they are.
    pub(super) locked: BTreeSet<InstanceIdx>,
    /// All that they take.
    pub(super) seen: BTreeSet<Target>,
}

/// The search over one course.
pub(super) struct Search<'a> {
    course: &'a Course,
    options: Vec<Vec<Candidate>>,
    laid: RefCell<BTreeMap<(InstanceIdx, bool), Answer>>,
    plates: Vec<InstanceIdx>,
    decisions: BTreeMap<InstanceIdx, Vec<InstanceIdx>>,
    opened_by: Vec<Vec<GuardIdx>>,
    n_left: Cell<usize>,
}

/// The answers of a try.
struct Try<'a> {
    search: &'a Search<'a>,
    chosen: &'a Chosen,
    laid: &'a BTreeMap<(InstanceIdx, bool), Answer>,
}

impl Answers for Try<'_> {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        match self.search.option(instance, self.chosen)? {
            Candidate::Fixed(answer) => Some(answer),
            Candidate::Lay { so } => self.laid.get(&(instance, *so)),
            Candidate::WorkOut => self.laid.get(&(instance, true)),
        }
    }
}

impl<'a> Search<'a> {
    /// A search with these candidates.
    pub(super) fn new(course: &'a Course, options: Vec<Vec<Candidate>>) -> Self {
        let flow = &course.flow;
        let mut search = Self {
            course,
            options,
            laid: RefCell::default(),
            plates: Vec::new(),
            decisions: BTreeMap::new(),
            opened_by: vec![Vec::new(); flow.instances.len()],
            n_left: Cell::new(0),
        };
        for (index, instance) in flow.instances.iter().enumerate() {
            match &instance.ask {
                Ask::Enter { kind: EntryKind::FitOut, .. } => search.plates.push(index),
                Ask::Decide { about: Some(about), .. } => {
                    search.decisions.entry(*about).or_default().push(index);
                }
                _ => {}
            }
        }
        for node in &flow.nodes {
            let Node::Test { guard, skipped, .. } = node else { continue };
            for index in skipped.clone() {
                search.opened_by.get_mut(index).into_iter().for_each(|list| list.push(*guard));
            }
        }
        search
    }

    /// The first candidate everywhere.
    pub(super) fn plain(&self) -> Chosen {
        vec![0; self.options.len()]
    }

    fn option(&self, instance: InstanceIdx, chosen: &Chosen) -> Option<&Candidate> {
        self.options.get(instance)?.get(chosen.get(instance).copied()?)
    }

    /// Walks over the chosen answers.
    pub(super) fn walk(&self, chosen: &Chosen) -> Walk {
        self.n_left.set(self.n_left.get().saturating_sub(1));
        let flow = &self.course.flow;
        // Layers are due by the fit-out, so they are laid when the walk comes to them.
        for _ in 0..=flow.instances.len() {
            let (walked, lay) = {
                let laid = self.laid.borrow();
                let answers = Try { search: self, chosen, laid: &laid };
                let walked = walk(flow, &answers);
                let lay = walked.asked().and_then(|index| {
                    match (self.option(index, chosen)?, &flow.instance(index).ask) {
                        (Candidate::Lay { so }, _) => {
                            let due = walked.layers_due(flow, &answers, index);
                            Some(((index, *so), stack(&due, *so)))
                        }
                        (Candidate::WorkOut, Ask::WorkOut(note)) => {
                            let worked = walked.worked_out(flow, &answers, note);
                            Some(((index, true), Answer::WorkedOut(worked)))
                        }
                        _ => None,
                    }
                });
                (walked, lay)
            };
            let Some((key, answer)) = lay else { return walked };
            if self.laid.borrow().get(&key) == Some(&answer) {
                return walked;
            }
            self.laid.borrow_mut().insert(key, answer);
        }
        walk(flow, &Vec::new())
    }

    /// The answer chosen at an instance that was walked.
    pub(super) fn answer(&self, instance: InstanceIdx, chosen: &Chosen) -> Option<Answer> {
        let laid = self.laid.borrow();
        Try { search: self, chosen, laid: &laid }.answer(instance).cloned()
    }

    /// All that a walk over the chosen answers takes.
    pub(super) fn seen(&self, walked: &Walk, chosen: &Chosen) -> BTreeSet<Target> {
        let laid = self.laid.borrow();
        seen(self.course, walked, &Try { search: self, chosen, laid: &laid })
    }

    fn is_met(&self, goal: &Goal, walked: &Walk, chosen: &Chosen) -> Option<BTreeSet<Target>> {
        match goal {
            Goal::End => (walked.stand == Stand::End).then(|| self.seen(walked, chosen)),
            Goal::Take(target) => {
                let seen = self.seen(walked, chosen);
                // A walk that hangs at a question has no rehearsal.
                (seen.contains(target) && walked.asked().is_none()).then_some(seen)
            }
        }
    }

    /// Changes answers of `base` until the goal is met; those that are locked stay.
    pub(super) fn climb(
        &self,
        base: &Chosen,
        goal: &Goal,
        locked: &BTreeSet<InstanceIdx>,
        n_walks_max: usize,
    ) -> Option<Found> {
        self.n_left.set(n_walks_max);
        let goals = self.goal_nodes(goal);
        let reach = self.reach(&goals);
        let mut chosen = base.clone();
        let mut locked = locked.clone();
        let mut turned = BTreeSet::new();
        for _ in 0..N_TURNS_MAX {
            let walked = self.walk(&chosen);
            if let Some(seen) = self.is_met(goal, &walked, &chosen) {
                return Some(Found { chosen, locked, seen });
            }
            if let Some(found) = self.answer_there(goal, &goals, &walked, (&chosen, &locked)) {
                return Some(found);
            }
            let moved = self.turn(&walked, &reach, (&chosen, &locked), &mut turned)?;
            for (index, option) in moved {
                locked.insert(index);
                set(&mut chosen, index, option);
            }
        }
        None
    }

    /// At a goal that was come to: other answers there.
    fn answer_there(
        &self,
        goal: &Goal,
        goals: &BTreeSet<NodeIdx>,
        walked: &Walk,
        (chosen, locked): (&Chosen, &BTreeSet<InstanceIdx>),
    ) -> Option<Found> {
        let Goal::Take(target) = goal else { return None };
        for node in walked.nodes.iter().filter(|node| goals.contains(node)) {
            let moves = match (self.course.flow.node(*node), target) {
                (Node::Ask { instance, .. }, Target::Guard(place, _)) => {
                    self.layer_moves(*instance, *place, chosen)
                }
                (Node::Ask { instance, .. }, _) => self.direct(*instance, target, chosen),
                (Node::Test { guard, .. }, _) => self.moves(*guard, chosen),
                (Node::Performed { .. } | Node::End, _) => Vec::new(),
            };
            for moved in free(moves, locked) {
                if self.n_left.get() == 0 {
                    return None;
                }
                let changed = with(chosen, &moved);
                let walked = self.walk(&changed);
                if let Some(seen) = self.is_met(goal, &walked, &changed) {
                    let mut locked = locked.clone();
                    locked.extend(moved.iter().map(|(index, _)| *index));
                    return Some(Found { chosen: changed, locked, seen });
                }
            }
        }
        None
    }

    /// Turns the last guard behind which the goal lies the other way.
    fn turn(
        &self,
        walked: &Walk,
        reach: &[bool],
        (chosen, locked): (&Chosen, &BTreeSet<InstanceIdx>),
        turned: &mut BTreeSet<NodeIdx>,
    ) -> Option<Move> {
        let can = |node: NodeIdx| reach.get(node).copied().unwrap_or(false);
        let steps = walked.nodes.iter().zip(walked.nodes.iter().skip(1).map(Some).chain([None]));
        let steps: Vec<(&NodeIdx, Option<&NodeIdx>)> = steps.collect();
        for (node, next) in steps.into_iter().rev() {
            let Node::Test { guard, yes, no, .. } = self.course.flow.node(*node) else { continue };
            let other = if next == Some(yes) { no } else { yes };
            if next == Some(other) || !can(*other) || !turned.insert(*node) {
                continue;
            }
            for moved in free(self.moves(*guard, chosen), locked) {
                if self.n_left.get() == 0 {
                    return None;
                }
                let walked = self.walk(&with(chosen, &moved));
                let mut pairs = walked.nodes.iter().zip(walked.nodes.iter().skip(1));
                if pairs.any(|(at, next)| at == node && next == other) {
                    return Some(moved);
                }
            }
        }
        None
    }

    fn goal_nodes(&self, goal: &Goal) -> BTreeSet<NodeIdx> {
        let flow = &self.course.flow;
        let is_goal = |node: &Node| match (node, goal) {
            (Node::End, Goal::End) => true,
            (Node::Ask { instance, .. }, Goal::Take(target)) => self.may_take(*instance, target),
            (Node::Test { guard, .. }, Goal::Take(Target::Guard(place, _))) => {
                self.course.guard_of.get(*guard).copied().flatten() == Some(*place)
            }
            _ => false,
        };
        let nodes = flow.nodes.iter().enumerate();
        nodes.filter(|(_, node)| is_goal(node)).map(|(index, _)| index).collect()
    }

    fn may_take(&self, instance: InstanceIdx, target: &Target) -> bool {
        match target {
            Target::Step(place)
            | Target::Bound(place)
            | Target::Picked(place, _)
            | Target::Way(place, _)
            | Target::Limit(place, ..) => self.course.place(instance) == *place,
            Target::FitOut(..) => self.plates.contains(&instance),
            Target::Position(stand) => {
                self.course.standing.get(instance).is_some_and(|all| all.contains(stand))
            }
            Target::Guard(place, _) => self.layer_guard(instance, *place).is_some(),
        }
    }

    fn layer_guard(&self, instance: InstanceIdx, place: usize) -> Option<GuardIdx> {
        let Ask::Build { layers, .. } = &self.course.flow.instance(instance).ask else {
            return None;
        };
        let of = |guard: &GuardIdx| self.course.guard_of.get(*guard).copied().flatten();
        layers.iter().filter_map(|layer| layer.when).find(|guard| of(guard) == Some(place))
    }

    fn layer_moves(&self, instance: InstanceIdx, place: usize, chosen: &Chosen) -> Vec<Move> {
        let guard = self.layer_guard(instance, place);
        guard.map_or_else(Vec::new, |guard| self.moves(guard, chosen))
    }

    /// Other answers at `instance` that take `target`.
    fn direct(&self, instance: InstanceIdx, target: &Target, chosen: &Chosen) -> Vec<Move> {
        let options = self.options.get(instance).map_or(&[][..], Vec::as_slice);
        let takes = |candidate: &Candidate| match candidate {
            Candidate::Fixed(answer) => taken_by(self.course, instance, answer).contains(target),
            Candidate::Lay { so } => !so,
            Candidate::WorkOut => false,
        };
        let other = |option: &usize| chosen.get(instance) != Some(option);
        let found = options.iter().enumerate().filter(|(_, candidate)| takes(candidate));
        found
            .map(|(option, _)| option)
            .filter(other)
            .map(|option| vec![(instance, option)])
            .collect()
    }

    /// The nodes from which a goal can be reached.
    fn reach(&self, goals: &BTreeSet<NodeIdx>) -> Vec<bool> {
        let nodes = &self.course.flow.nodes;
        let mut reach = vec![false; nodes.len()];
        // Every edge leads to a greater index.
        for (index, node) in nodes.iter().enumerate().rev() {
            let can = |to: &NodeIdx| reach.get(*to).copied().unwrap_or(false);
            let is = goals.contains(&index)
                || match node {
                    Node::Ask { to, .. } => to.as_ref().is_some_and(can),
                    Node::Test { yes, no, .. } => can(yes) || can(no),
                    Node::Performed { to, .. } => can(to),
                    Node::End => false,
                };
            reach.get_mut(index).into_iter().for_each(|slot| *slot = is);
        }
        reach
    }

    /// Changes of answers that a guard reads: one answer, one alike at all positions, two at once.
    fn moves(&self, guard: GuardIdx, chosen: &Chosen) -> Vec<Move> {
        let mut read = Vec::new();
        self.read_by(guard, 2, &mut read);
        let options = |index: &InstanceIdx| self.options.get(*index).map_or(0, Vec::len);
        let singles: Vec<(InstanceIdx, usize)> = read
            .iter()
            .flat_map(|index| (0..options(index)).map(|option| (*index, option)))
            .filter(|(index, option)| chosen.get(*index) != Some(option))
            .collect();
        let mut moves: Vec<Move> = singles.iter().map(|single| vec![*single]).collect();
        let mut alike: BTreeMap<(usize, usize), Move> = BTreeMap::new();
        for (index, option) in &singles {
            alike.entry((self.course.place(*index), *option)).or_default().push((*index, *option));
        }
        moves.extend(alike.into_values().filter(|moved| moved.len() > 1));
        let pairs = singles.iter().enumerate().flat_map(|(i, one)| {
            let after = singles.iter().skip(i.saturating_add(1));
            after.filter(|two| two.0 != one.0).map(|two| vec![*one, *two])
        });
        moves.extend(pairs.take(N_PAIRS_MAX));
        moves
    }

    /// The instances whose answers a guard reads, the nearest first.
    fn read_by(&self, guard: GuardIdx, depth: usize, out: &mut Vec<InstanceIdx>) {
        let mut direct: Vec<InstanceIdx> = Vec::new();
        match self.course.flow.guard(guard) {
            Guard::FitOut { .. } => direct.extend(&self.plates),
            Guard::Outcome { instance, is } => {
                direct.push(*instance);
                if matches!(is, Outcome::Verdict(_)) {
                    direct.extend(self.decisions.get(instance).into_iter().flatten());
                }
            }
            Guard::Condition { expr, .. } => expr.each_name(&mut |name, _| match name {
                Ref::Setting(_) => direct.extend(&self.plates),
                Ref::Answer { passes, .. } => {
                    for index in passes {
                        direct.push(*index);
                        direct.extend(self.decisions.get(index).into_iter().flatten());
                    }
                }
                Ref::Figure(_) | Ref::Position { .. } | Ref::Word(_) => {}
            }),
        }
        let new: Vec<InstanceIdx> =
            direct.into_iter().filter(|index| !out.contains(index)).collect();
        for index in new {
            if !out.contains(&index) {
                out.push(index);
            }
            if depth > 0 {
                let guards = self.opened_by.get(index).cloned().unwrap_or_default();
                for guard in guards {
                    self.read_by(guard, depth.saturating_sub(1), out);
                }
            }
        }
    }
}

fn stack(due: &[&crate::walk::stack::LayerNote], so: bool) -> Answer {
    let layers = due.iter().map(|note| {
        let lot = (so && note.lot).then(|| "LOT-1".to_owned());
        Laid { layer: note.id.clone(), so, lot }
    });
    Answer::Built(if so { layers.collect() } else { layers.take(1).collect() })
}

fn set(chosen: &mut Chosen, index: InstanceIdx, option: usize) {
    if let Some(slot) = chosen.get_mut(index) {
        *slot = option;
    }
}

fn with(chosen: &Chosen, moved: &Move) -> Chosen {
    let mut changed = chosen.clone();
    for (index, option) in moved {
        set(&mut changed, *index, *option);
    }
    changed
}

fn free(moves: Vec<Move>, locked: &BTreeSet<InstanceIdx>) -> impl Iterator<Item = Move> {
    moves.into_iter().filter(|moved| moved.iter().all(|(index, _)| !locked.contains(index)))
}
