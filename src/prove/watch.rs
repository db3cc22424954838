//! What is promised, as marks that a walk sets and places that look at them.
//!
//! A step counts as completed once it is answered and the verdict in force is *accept*; a section
//! or performed procedure once it is left by its end. Where a state that it set is cleared later,
//! it is not completed any more.

use std::collections::{BTreeMap, BTreeSet};

use super::facts::Facts;
use super::term::index;
use crate::ids::{StepId, TokenId};
use crate::procedure::model::Promise;
use crate::walk::flow::{Ask, Flow, InstanceIdx, Node, NodeIdx, ResolvedPromise};
use crate::walk::{Address, Segment};

/// A step or section at one set of positions that must be completed.
#[derive(Debug, Clone)]
pub(super) struct Place {
    /// The instances whose verdict counts, or all of a section.
    counted: BTreeSet<InstanceIdx>,
    is_step: bool,
    /// The last node in it.
    last: NodeIdx,
    positions: Vec<(String, String)>,
    /// Of a promise about the end: where its procedure is performed, passes included.
    around: Vec<Segment>,
    /// The states that it sets.
    sets: BTreeSet<TokenId>,
    /// The last node that looks at it.
    pub(super) last_use: NodeIdx,
}

/// What an instance does to marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// Completed if the verdict in force is accept, or there is none.
    ByVerdict(u32),
    /// Completed.
    Set(u32),
    /// Completed no more.
    Void(u32),
}

/// What must hold where a node is come to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Look {
    /// The promise's condition is not true; with the number of the section, if one is entered.
    Never { promise: usize, section: Option<u32> },
    /// These marks are set; `None` where no answers could set them.
    First { promise: usize, marks: Option<Vec<u32>> },
}

/// All that is watched.
#[derive(Debug, Default)]
pub(super) struct Watch {
    pub(super) places: Vec<Place>,
    /// By instance.
    pub(super) marks: BTreeMap<InstanceIdx, Vec<Mark>>,
    /// By node.
    pub(super) looks: BTreeMap<NodeIdx, Vec<Look>>,
    /// By promise: the last node inside a section that must not be entered.
    pub(super) inside: Vec<Option<NodeIdx>>,
    /// Promises between steps whose order is free.
    pub(super) free_order: BTreeSet<usize>,
}

impl Watch {
    pub(super) fn of(flow: &Flow, facts: &Facts) -> Self {
        let mut watch = Self::default();
        for (promise, resolved) in flow.promises.iter().enumerate() {
            watch.inside.push(None);
            match &resolved.promise {
                Promise::NeverReach { .. } => watch.never(flow, facts, (promise, resolved)),
                Promise::FirstBefore { .. } => watch.first(flow, facts, (promise, resolved)),
            }
        }
        watch.voids(flow);
        watch
    }

    fn never(
        &mut self,
        flow: &Flow,
        facts: &Facts,
        (promise, resolved): (usize, &ResolvedPromise),
    ) {
        let depth = resolved.target_depth;
        let is_step = resolved.target.iter().any(|i| is_main(flow, *i, depth));
        let mut sections: Vec<Address> = Vec::new();
        for target in &resolved.target {
            let at = facts.node_of.get(*target).copied().unwrap_or(0);
            let section = if is_step {
                if !is_main(flow, *target, depth) {
                    continue;
                }
                None
            } else {
                let head = flow.instance(*target).address.0.iter().take(depth).cloned();
                let head = Address(head.collect());
                let found = sections.iter().position(|s| *s == head);
                let number = found.unwrap_or(sections.len());
                if found.is_none() {
                    sections.push(head);
                }
                if let Some(inside) = self.inside.get_mut(promise) {
                    *inside = (*inside).max(Some(at));
                }
                Some(index(number))
            };
            self.looks.entry(at).or_default().push(Look::Never { promise, section });
            if let Some(when) = &resolved.when {
                let mut reads = Vec::new();
                when.each_name(&mut |name, _| {
                    if let crate::walk::flow::Ref::Answer { passes, .. } = name {
                        reads.extend(passes.iter().copied());
                    }
                });
                if reads.iter().any(|read| Self::is_free(flow, facts, *read, at)) {
                    self.free_order.insert(promise);
                }
            }
        }
    }

    fn first(
        &mut self,
        flow: &Flow,
        facts: &Facts,
        (promise, resolved): (usize, &ResolvedPromise),
    ) {
        let depth = resolved.first_depth;
        let is_step = resolved.first.iter().any(|i| is_main(flow, *i, depth));
        let mut found: BTreeMap<Vec<Segment>, Place> = BTreeMap::new();
        // The end of a procedure asks for what was completed since it was begun, so that passes
        // around it count; those inside it do not.
        let n_around = resolved.ends.first().map_or(0, |end| performed_at(flow, *end).len());
        for first in &resolved.first {
            let address = &flow.instance(*first).address;
            let head: Vec<Segment> = address.0.iter().take(depth).cloned().collect();
            let around: Vec<Segment> = head.iter().take(n_around).cloned().collect();
            let inside = head.into_iter().skip(n_around);
            let inside = inside.map(|segment| Segment { pass: 1, ..segment });
            let head: Vec<Segment> = around.iter().cloned().chain(inside).collect();
            let positions = head.iter().flat_map(|s| s.positions.iter());
            let positions = positions.map(|(k, n)| (k.to_string(), n.clone())).collect();
            let place = found.entry(head).or_insert_with(|| Place {
                counted: BTreeSet::new(),
                is_step,
                last: 0,
                positions,
                around,
                sets: BTreeSet::new(),
                last_use: 0,
            });
            place.last = place.last.max(facts.node_of.get(*first).copied().unwrap_or(0));
            place.sets.extend(flow.instance(*first).sets.iter().cloned());
            if !is_step || counts(flow, *first, depth) {
                place.counted.insert(*first);
            }
        }
        let base = self.places.len();
        self.places.extend(found.into_values());
        let n_places = self.places.len();
        let targets: Vec<(NodeIdx, Option<InstanceIdx>)> = if resolved.target.is_empty() {
            resolved.ends.iter().map(|at| (*at, None)).collect()
        } else {
            let depth = resolved.target_depth;
            let has_main = resolved.target.iter().any(|i| is_main(flow, *i, depth));
            let mains = resolved.target.iter().filter(|i| !has_main || is_main(flow, **i, depth));
            mains.map(|i| (facts.node_of.get(*i).copied().unwrap_or(0), Some(*i))).collect()
        };
        for (at, target) in targets {
            let mut marks = Some(Vec::new());
            let mut n_required = 0_usize;
            for number in base..n_places {
                let Some(place) = self.places.get_mut(number) else { continue };
                let belongs = match target {
                    Some(target) => compatible(flow, target, &place.positions),
                    None => place.around == performed_at(flow, at),
                };
                if !belongs {
                    continue;
                }
                n_required += 1;
                place.last_use = place.last_use.max(at);
                let too_late = !place.is_step && place.last >= at;
                marks = marks.filter(|_| !too_late);
                if let Some(marks) = &mut marks {
                    marks.push(index(number));
                }
            }
            marks = marks.filter(|_| n_required > 0);
            self.looks.entry(at).or_default().push(Look::First { promise, marks });
            if resolved.first.iter().any(|first| Self::is_free(flow, facts, *first, at)) {
                self.free_order.insert(promise);
            }
        }
        for number in base..n_places {
            let Some(place) = self.places.get(number) else { continue };
            let number = index(number);
            for counted in &place.counted {
                let mark = if place.is_step { Mark::ByVerdict(number) } else { Mark::Set(number) };
                self.marks.entry(*counted).or_default().push(mark);
            }
        }
    }

    /// True where a person may come to the node before they come to the instance, in any order.
    fn is_free(flow: &Flow, facts: &Facts, instance: InstanceIdx, at: NodeIdx) -> bool {
        let other = facts.node_of.get(instance).copied().unwrap_or(0);
        flow.any_orders.iter().any(|order| {
            let member = |node| order.members.iter().position(|m| m.contains(&node));
            matches!((member(other), member(at)), (Some(a), Some(b)) if a != b)
        })
    }

    /// Where a state is cleared, whatever set it is completed no more.
    fn voids(&mut self, flow: &Flow) {
        for (instance, found) in flow.instances.iter().enumerate() {
            for (number, place) in self.places.iter().enumerate() {
                let own = place.counted.contains(&instance);
                if !own && found.clears.iter().any(|token| place.sets.contains(token)) {
                    self.marks.entry(instance).or_default().push(Mark::Void(index(number)));
                }
            }
        }
    }
}

fn ids(address: &Address) -> impl Iterator<Item = &StepId> {
    address.0.iter().map(|segment| &segment.id)
}

/// True for the instance of the step itself, and not of one inside it.
fn is_main(flow: &Flow, instance: InstanceIdx, depth: usize) -> bool {
    ids(&flow.instance(instance).address).count() == depth
}

/// True for the instances whose verdict is that of the step: its own, its second reading's, and
/// decisions about them.
fn counts(flow: &Flow, instance: InstanceIdx, depth: usize) -> bool {
    if is_main(flow, instance, depth) {
        return true;
    }
    match &flow.instance(instance).ask {
        Ask::Measure(note) => {
            note.second_of.as_ref().is_some_and(|second| is_main(flow, second.first, depth))
        }
        Ask::Decide { about: Some(about), .. } => *about != instance && counts(flow, *about, depth),
        // What is decided once no more rework is allowed.
        Ask::Decide { about: None, .. } => {
            let bound = flow.instance(instance).address.0.get(depth);
            bound.is_some_and(|segment| segment.id.as_str() == "bound")
        }
        _ => false,
    }
}

/// Where the procedure that is left at an end is performed; nothing for the end of the job.
fn performed_at(flow: &Flow, end: NodeIdx) -> &[Segment] {
    match flow.node(end) {
        Node::Performed { address, .. } => &address.0,
        Node::Ask { .. } | Node::Test { .. } | Node::End => &[],
    }
}

/// True where the positions around `target` are none others than `positions`.
fn compatible(flow: &Flow, target: InstanceIdx, positions: &[(String, String)]) -> bool {
    flow.instance(target).address.positions().all(|(kind, name)| {
        let same = positions.iter().find(|(k, _)| *k == kind.as_str());
        same.is_none_or(|(_, n)| n == name)
    })
}
