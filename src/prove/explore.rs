//! The exploration: every node of the graph with every state in which a walk can come to it.
//!
//! A state is what conditions still to be read, states of the machine still to be needed and
//! promises still to be looked at make of the answers so far; nothing else is kept. Edges lead to
//! greater nodes only, so one sweep over the nodes meets every state once all that leads to it is
//! known.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigUint;
use num_traits::Zero as _;

use super::classes::{Class, TooMany, classes};
use super::facts::{Facts, What};
use super::lapse::{Again, again, lapses, lapses_anew};
use super::term::{Leaf, TermId, ValueId, index};
use super::watch::{Look, Mark, Watch};
use crate::expr::eval::{Lookup, Value};
use crate::ids::{Name, TokenId};
use crate::procedure::model::Verdict;
use crate::walk::event::Answer;
use crate::walk::flow::{Assumed, Flow, InstanceIdx, Node, NodeIdx};
use crate::walk::place::{grade_of, value_of};

/// The most states that one proof looks at.
pub const N_STATES_MAX: usize = 3_000_000;

/// For a state in force: no step set it, or nobody asks which.
const NO_SETTER: u32 = 0;

/// What is kept of the answers so far: numbered facts in order. Without an entry, a condition is
/// whole, an answer is not given, a state of the machine is not set.
type Key = Vec<(u32, u32)>;

/// How a state was first come to, on a shortest way.
#[derive(Debug, Clone, Copy)]
struct Trace {
    from: Option<(NodeIdx, u32)>,
    class: u32,
}

#[derive(Debug)]
struct Entry {
    n_ways: BigUint,
    rank: Rank,
    trace: Trace,
}

/// How good a way is as a script: relations that it leaves open, whether it takes a state that
/// lapses, then its length in answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rank {
    pub(super) n_free: u32,
    pub(super) lapses: bool,
    pub(super) n_answers: u32,
}

/// What is broken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Broken {
    /// A promise, by its index.
    Promise(usize),
    /// A step needs a state that is not in force.
    Needs(InstanceIdx, TokenId),
    /// A performed procedure takes over a state that is not in force; by its index.
    Assumes(usize, TokenId),
    /// A step that is asked again because a state lapsed needs another that is not in force then.
    Again(InstanceIdx, TokenId),
}

/// Where something is broken first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Found {
    pub(super) rank: Rank,
    pub(super) at: NodeIdx,
    state: u32,
    /// The step that is asked again there, and the number of the state that lapsed.
    pub(super) lapse: Option<(InstanceIdx, u32)>,
}

/// What the exploration comes to.
#[derive(Debug)]
pub(super) struct Explored {
    pub(super) broken: BTreeMap<Broken, Found>,
    pub(super) n_paths: BigUint,
    pub(super) n_states: usize,
    /// Whether each node can be come to.
    pub(super) reached: Vec<bool>,
    /// Whether each guard can be true and can be false.
    pub(super) truths: Vec<(bool, bool)>,
    /// Why not everything was looked at.
    pub(super) unfinished: Option<&'static str>,
    traces: Vec<Vec<Trace>>,
}

/// What an answer does to a state.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Effect {
    writes: Vec<(u32, ValueId)>,
    marks: Vec<(u32, bool)>,
}

/// What is looked at where a state comes to a node.
struct Looking {
    at: NodeIdx,
    looks: Vec<Look>,
    /// The states that procedures which are performed there take over, with their facts.
    assumed: Vec<(usize, TokenId, Option<u32>)>,
    /// The states that the step needs, with their facts.
    needs: Vec<(InstanceIdx, TokenId, Option<u32>)>,
    lapses: bool,
}

pub(super) struct Explorer<'f> {
    flow: &'f Flow,
    pub(super) facts: Facts,
    pub(super) watch: Watch,
    tokens: BTreeMap<TokenId, u32>,
    /// States that may lapse at any place, and whose setters are watched: by their fact.
    lapsing: BTreeSet<u32>,
    /// By fact: the last node that can ask for it.
    last_use: Vec<NodeIdx>,
    /// By node: how many facts are asked for the last time before it.
    n_dropped: Vec<u32>,
    /// By step that sets a state which may lapse: what has to be so when it is asked again.
    again: BTreeMap<InstanceIdx, Again>,
    /// Nodes where a lapse may break something that it broke at no node before.
    lapses_anew: Vec<bool>,
    first_condition: u32,
    first_place: u32,
    first_inside: u32,
    /// Answers that are final once a node is left.
    final_after: Vec<Vec<u32>>,
    canonical: BTreeMap<(u32, Vec<TermId>), ValueId>,
    levels: Vec<BTreeMap<Key, Entry>>,
    out: Explored,
}

impl<'f> Explorer<'f> {
    pub(super) fn new(flow: &'f Flow) -> Self {
        let facts = Facts::of(flow);
        let watch = Watch::of(flow, &facts);
        let mut last_use: Vec<NodeIdx> = facts
            .slots
            .iter()
            .map(|slot| {
                let readers = slot.readers.iter().filter_map(|c| facts.conditions.get(*c as usize));
                readers.map(|c| c.last_use).max().unwrap_or(0)
            })
            .collect();
        let first_condition = index(last_use.len());
        last_use.extend(facts.conditions.iter().map(|condition| condition.last_use));
        let mut tokens = BTreeMap::new();
        let mut watch = watch;
        let lapses = lapses(flow, &facts, &mut watch);
        let mut needed: BTreeMap<TokenId, NodeIdx> = BTreeMap::new();
        for (i, instance) in flow.instances.iter().enumerate() {
            let at = facts.node_of.get(i).copied().unwrap_or(0);
            for token in &instance.needs {
                let last = needed.entry(token.clone()).or_default();
                *last = (*last).max(at);
            }
        }
        for assumed in flow.assumed.iter().filter(|assumed| !assumed.top) {
            for token in &assumed.tokens {
                let last = needed.entry(token.value.clone()).or_default();
                *last = (*last).max(assumed.at);
            }
        }
        // At any place a state may lapse and its setter be asked again, with all that it needs.
        for (token, needs) in &lapses {
            for token in needs.iter().chain([token]) {
                needed.insert(token.clone(), flow.nodes.len());
            }
        }
        for (token, last) in needed {
            tokens.insert(token, index(last_use.len()));
            last_use.push(last);
        }
        let first_place = index(last_use.len());
        last_use.extend(watch.places.iter().map(|place| place.last_use));
        let first_inside = index(last_use.len());
        last_use.extend(watch.inside.iter().map(|last| last.unwrap_or(0)));
        let mut final_after = vec![Vec::new(); flow.nodes.len()];
        for (number, slot) in facts.slots.iter().enumerate() {
            if let Some(list) = final_after.get_mut(slot.last_write) {
                list.push(index(number));
            }
        }
        let lapsing: BTreeSet<u32> =
            lapses.keys().filter_map(|token| tokens.get(token).copied()).collect();
        let n = flow.nodes.len();
        let again = again(flow, (&facts, &watch), (&tokens, &lapsing), first_place);
        let lapses_anew = lapses_anew(flow, &watch, (&tokens, &again), first_place);
        let mut n_dropped = vec![0; n + 2];
        for last in &last_use {
            n_dropped.get_mut(last + 1).into_iter().for_each(|count| *count += 1);
        }
        for at in 1..n_dropped.len() {
            let before = n_dropped.get(at - 1).copied().unwrap_or(0);
            n_dropped.get_mut(at).into_iter().for_each(|count| *count += before);
        }
        let out = Explored {
            broken: BTreeMap::new(),
            n_paths: BigUint::zero(),
            n_states: 0,
            reached: vec![false; n],
            truths: vec![(false, false); flow.guards.len()],
            unfinished: None,
            traces: vec![Vec::new(); n],
        };
        let levels = (0..n).map(|_| BTreeMap::new()).collect();
        Self {
            flow,
            facts,
            watch,
            tokens,
            lapsing,
            last_use,
            n_dropped,
            again,
            lapses_anew,
            first_condition,
            first_place,
            first_inside,
            final_after,
            canonical: BTreeMap::new(),
            levels,
            out,
        }
    }

    pub(super) fn run(mut self) -> (Explored, Left) {
        let mut start: Key = Vec::new();
        for assumed in self.flow.assumed.iter().filter(|assumed| assumed.top) {
            for token in &assumed.tokens {
                if let Some(fact) = self.tokens.get(&token.value) {
                    set(&mut start, *fact, Some(NO_SETTER));
                }
            }
        }
        let rank = Rank { n_free: 0, lapses: false, n_answers: 0 };
        let trace = Trace { from: None, class: 0 };
        let entry = Entry { n_ways: BigUint::from(1_u8), rank, trace };
        if let Some(first) = self.levels.first_mut() {
            first.insert(start, entry);
        }
        for at in 0..self.flow.nodes.len() {
            let Some(level) = self.levels.get_mut(at).map(std::mem::take) else { break };
            if level.is_empty() {
                continue;
            }
            self.out.n_states += level.len();
            if self.out.n_states > N_STATES_MAX {
                self.out.unfinished = Some("there are too many states to look at");
                break;
            }
            if let Some(reached) = self.out.reached.get_mut(at) {
                *reached = true;
            }
            self.level(at, level);
            if self.out.unfinished.is_some() {
                break;
            }
        }
        let tokens = self.tokens.into_iter().map(|(token, fact)| (fact, token));
        let lapsing = tokens.filter(|(fact, _)| self.lapsing.contains(fact)).collect();
        let free_order = self.watch.free_order;
        (self.out, Left { facts: self.facts, free_order, lapsing })
    }

    fn level(&mut self, at: NodeIdx, level: BTreeMap<Key, Entry>) {
        let traces: Vec<Trace> = level.values().map(|entry| entry.trace).collect();
        if let Some(slot) = self.out.traces.get_mut(at) {
            *slot = traces;
        }
        let here = self.looking(at);
        match self.flow.node(at).clone() {
            Node::End => {
                for (number, (key, entry)) in level.into_iter().enumerate() {
                    self.look(&here, &key, entry.rank, index(number));
                    self.out.n_paths += entry.n_ways;
                }
            }
            Node::Performed { to, .. } => {
                let closing = self.closing(at, to);
                let keeps = closing.is_empty() && self.keeps(at, to);
                let mut kept = BTreeMap::new();
                for (number, (key, entry)) in level.into_iter().enumerate() {
                    let number = index(number);
                    self.look(&here, &key, entry.rank, number);
                    let trace = Trace { from: Some((at, number)), class: 0 };
                    let entry = Entry { trace, ..entry };
                    if keeps {
                        kept.insert(key, entry);
                    } else {
                        self.go((to, &closing), key, entry);
                    }
                }
                self.hand_on(to, kept);
            }
            Node::Test { guard, skipped, .. } => {
                let condition = self.facts.of_guard.get(guard).copied().flatten();
                let mut not_applicable: Vec<u32> = skipped
                    .filter_map(|i| Some((i, self.facts.writes.get(i)?)))
                    .flat_map(|(i, slots)| slots.iter().map(move |slot| (i, *slot)))
                    .filter(|(i, slot)| self.is_pass(*slot, *i))
                    .map(|(_, slot)| slot)
                    .collect();
                not_applicable.sort_unstable();
                not_applicable.dedup();
                let none = self.facts.terms.value(&Lookup::NotApplicable);
                let edges = [true, false].map(|truth| {
                    let to = self.flow.next(at, truth);
                    to.map(|to| (to, self.closing(at, to)))
                });
                for (number, (key, entry)) in level.into_iter().enumerate() {
                    let (may_true, may_false) =
                        condition.map_or((true, true), |condition| self.truth(&key, condition));
                    if let Some(seen) = self.out.truths.get_mut(guard) {
                        seen.0 |= may_true;
                        seen.1 |= may_false;
                    }
                    let n_free = entry.rank.n_free + u32::from(may_true && may_false);
                    let rank = Rank { n_free, ..entry.rank };
                    let trace = Trace { from: Some((at, index(number))), class: 0 };
                    for (truth, edge) in [(may_true, &edges[0]), (may_false, &edges[1])]
                        .into_iter()
                        .enumerate()
                        .filter(|(_, (may, _))| *may)
                        .map(|(i, (_, edge))| (i == 0, edge))
                    {
                        let Some((to, closing)) = edge else { continue };
                        let mut key = key.clone();
                        if !truth {
                            for slot in &not_applicable {
                                set(&mut key, *slot, Some(none));
                            }
                        }
                        let entry = Entry { n_ways: entry.n_ways.clone(), rank, trace };
                        self.go((*to, closing), key, entry);
                    }
                }
            }
            Node::Ask { instance, to } => self.ask(&here, (instance, to), level),
        }
    }

    /// True where no fact is asked for the last time at a node or on the way to the other: a state that
    /// nothing is written into goes over as it is.
    fn keeps(&self, at: NodeIdx, to: NodeIdx) -> bool {
        self.n_dropped.get(at) == self.n_dropped.get(to)
    }

    /// Enters states as they are.
    fn hand_on(&mut self, to: NodeIdx, states: BTreeMap<Key, Entry>) {
        match self.levels.get_mut(to) {
            Some(level) if level.is_empty() => *level = states,
            _ => states.into_iter().for_each(|(key, entry)| self.enter(to, key, entry)),
        }
    }

    fn is_pass(&self, slot: u32, instance: InstanceIdx) -> bool {
        let slot = self.facts.slots.get(slot as usize);
        slot.is_some_and(|slot| {
            matches!(slot.what, What::Value | What::Verdict) && slot.passes.contains(&instance)
        })
    }

    fn ask(
        &mut self,
        here: &Looking,
        (instance, to): (InstanceIdx, Option<NodeIdx>),
        mut level: BTreeMap<Key, Entry>,
    ) {
        let at = here.at;
        let found = self.flow.instance(instance);
        let Ok(classes) = classes(self.flow, found, &self.facts.cuts(instance)) else {
            self.out.unfinished = Some("a step has too many findings that may be picked together");
            return;
        };
        let effects = self.effects(at, instance, &classes);
        let closing = to.map(|to| (to, self.closing(at, to)));
        let section = self.section(at);
        let mut tokens: Vec<(u32, Option<u32>)> = Vec::new();
        for token in &found.sets {
            let Some(fact) = self.tokens.get(token) else { continue };
            let watched = self.lapsing.contains(fact);
            tokens.push((*fact, Some(if watched { index(instance) + 1 } else { NO_SETTER })));
        }
        let cleared = found.clears.iter().filter_map(|token| self.tokens.get(token));
        tokens.extend(cleared.map(|fact| (*fact, None)));
        // A step that says nothing which anything asks for: its states stay as they are.
        if let ([(effect, (class, n))], Some((to, closing))) = (effects.as_slice(), &closing)
            && effect.writes.is_empty()
            && effect.marks.is_empty()
            && tokens.is_empty()
            && section.is_empty()
            && closing.is_empty()
            && self.keeps(at, *to)
        {
            let mut number = 0;
            level.retain(|key, entry| {
                let goes_on = self.look(here, key, entry.rank, number);
                entry.rank.n_answers += 1;
                if *n != 1 {
                    entry.n_ways *= *n;
                }
                entry.trace = Trace { from: Some((at, number)), class: *class };
                number += 1;
                goes_on
            });
            self.hand_on(*to, level);
            return;
        }
        for (number, (key, entry)) in level.into_iter().enumerate() {
            let number = index(number);
            if !self.look(here, &key, entry.rank, number) {
                continue;
            }
            let rank = Rank { n_answers: entry.rank.n_answers + 1, ..entry.rank };
            for (effect, (class, n)) in &effects {
                let n_ways = &entry.n_ways * *n;
                let Some((to, closing)) = &closing else {
                    self.out.n_paths += n_ways;
                    continue;
                };
                let mut key = key.clone();
                for (slot, value) in &effect.writes {
                    set(&mut key, *slot, Some(*value));
                }
                for (fact, value) in &tokens {
                    set(&mut key, *fact, *value);
                }
                for (fact, is_set) in &effect.marks {
                    set(&mut key, *fact, is_set.then_some(1));
                }
                for (promise, inside) in &section {
                    set(&mut key, *promise, *inside);
                }
                let trace = Trace { from: Some((at, number)), class: *class };
                self.go((*to, closing), key, Entry { n_ways, rank, trace });
            }
        }
    }

    /// The sections, of those that must not be entered, that an answer at a node lies in.
    fn section(&self, at: NodeIdx) -> Vec<(u32, Option<u32>)> {
        let mut sections = Vec::new();
        for (promise, last) in self.watch.inside.iter().enumerate() {
            if last.is_none_or(|last| last < at) {
                continue;
            }
            let looks = self.watch.looks.get(&at).into_iter().flatten();
            let mut inside = looks.filter_map(|look| match look {
                Look::Never { promise: p, section } if *p == promise => *section,
                Look::Never { .. } | Look::First { .. } => None,
            });
            sections.push((self.first_inside + index(promise), inside.next_back()));
        }
        sections
    }

    /// The answers to an instance that can be told apart from here on, each with a class that gives
    /// it and the number of such classes.
    fn effects(
        &mut self,
        at: NodeIdx,
        instance: InstanceIdx,
        classes: &[Class],
    ) -> Vec<(Effect, (u32, u32))> {
        let mut effects: BTreeMap<Effect, (u32, u32)> = BTreeMap::new();
        let slots = self.facts.writes.get(instance).cloned().unwrap_or_default();
        let marks = self.watch.marks.get(&instance).cloned().unwrap_or_default();
        for (number, class) in classes.iter().enumerate() {
            let mut writes = Vec::new();
            for slot in &slots {
                let live = self.last_use.get(*slot as usize).is_some_and(|last| *last > at);
                let Some(value) = self.written(*slot, instance, class).filter(|_| live) else {
                    continue;
                };
                let value = self.canonical(at, *slot, &value);
                writes.push((*slot, value));
            }
            let accepted = class.verdict.is_none_or(|verdict| verdict == Verdict::Accept);
            let marks = marks.iter().map(|mark| match mark {
                Mark::ByVerdict(place) => (self.first_place + place, accepted),
                Mark::Set(place) => (self.first_place + place, true),
                Mark::Void(place) => (self.first_place + place, false),
            });
            let effect = Effect { writes, marks: marks.collect() };
            effects.entry(effect).or_insert_with(|| (index(number), 0)).1 += 1;
        }
        let mut effects: Vec<(Effect, (u32, u32))> = effects.into_iter().collect();
        effects.sort_by_key(|(_, (class, _))| *class);
        effects
    }

    /// What an answer writes into a slot.
    fn written(&self, slot: u32, instance: InstanceIdx, class: &Class) -> Option<Lookup> {
        let slot = self.facts.slots.get(slot as usize)?;
        let ask = &self.flow.instance(instance).ask;
        Some(match &slot.what {
            What::Value => value_of(ask, &class.answer),
            What::Grade => grade_of(ask, &class.answer),
            What::Verdict => {
                let verdict = class.verdict.unwrap_or(Verdict::Accept);
                let word = Name::new(verdict.word());
                word.map_or(Lookup::Unanswered, |word| Lookup::Value(Value::Word(word)))
            }
            What::Outcome(is) => {
                let so = class.substitute.is_none() && class.comes_out(ask, is);
                Lookup::Value(Value::Truth(so))
            }
            What::Setting(name) => {
                let Answer::Entered(plate) = &class.answer else { return None };
                let settings = self.flow.equipment.build(plate).ok()?;
                let word = settings.get(name)?.clone();
                Lookup::Value(Value::Word(word))
            }
            What::Plate => {
                let Answer::Entered(plate) = &class.answer else { return None };
                Lookup::Value(Value::Text(plate.clone()))
            }
        })
    }

    /// The first value met that does the same to every condition still to be read.
    fn canonical(&mut self, at: NodeIdx, slot: u32, value: &Lookup) -> ValueId {
        let value = self.facts.terms.value(value);
        let readers = self.facts.slots.get(slot as usize).map(|s| s.readers.clone());
        let mut does = Vec::new();
        for reader in readers.unwrap_or_default() {
            let Some(condition) = self.facts.conditions.get(reader as usize) else { continue };
            if condition.last_use > at {
                does.push(self.facts.terms.replace(condition.term, Leaf::Slot(slot), value));
            }
        }
        *self.canonical.entry((slot, does)).or_insert(value)
    }

    /// The answers that are final on the way from one node to another.
    fn closing(&self, from: NodeIdx, to: NodeIdx) -> Vec<u32> {
        let passed = self.final_after.get(from..to).unwrap_or_default();
        let live = |slot: &&u32| self.last_use.get(**slot as usize).is_some_and(|l| *l >= to);
        passed.iter().flatten().filter(live).copied().collect()
    }

    /// Enters a state at the end of an edge.
    fn go(&mut self, (to, closing): (NodeIdx, &[u32]), mut key: Key, entry: Entry) {
        let unanswered = self.facts.terms.value(&Lookup::Unanswered);
        for slot in closing {
            let value = get(&key, *slot).unwrap_or(unanswered);
            set(&mut key, *slot, None);
            let readers = self.facts.slots.get(*slot as usize).map(|s| s.readers.clone());
            for reader in readers.unwrap_or_default() {
                let Some(condition) = self.facts.conditions.get(reader as usize) else { continue };
                if condition.last_use < to {
                    continue;
                }
                let fact = self.first_condition + reader;
                let term = get(&key, fact).unwrap_or(condition.term);
                let left = self.facts.terms.replace(term, Leaf::Slot(*slot), value);
                set(&mut key, fact, Some(left));
            }
        }
        key.retain(|(fact, _)| self.last_use.get(*fact as usize).is_some_and(|l| *l >= to));
        self.split(to, key, entry);
    }

    /// Takes every truth of the relations that are known to be there and enters each state.
    fn split(&mut self, to: NodeIdx, key: Key, entry: Entry) {
        let conditions = self.first_condition..self.first_condition + self.n_conditions();
        let free =
            key.iter().filter(|(fact, _)| conditions.contains(fact)).find_map(|(_, term)| {
                self.facts.terms.leaves(*term).iter().copied().find(|l| matches!(l, Leaf::Free(_)))
            });
        let Some(leaf @ Leaf::Free(relation)) = free else {
            return self.enter(to, key, entry);
        };
        for choice in self.facts.terms.choices(relation) {
            let mut key = key.clone();
            for (fact, term) in &mut key {
                if conditions.contains(fact) {
                    *term = self.facts.terms.replace(*term, leaf, choice);
                }
            }
            let rank = Rank { n_free: entry.rank.n_free + 1, ..entry.rank };
            let entry = Entry { n_ways: entry.n_ways.clone(), rank, trace: entry.trace };
            self.split(to, key, entry);
        }
    }

    fn n_conditions(&self) -> u32 {
        index(self.facts.conditions.len())
    }

    fn enter(&mut self, to: NodeIdx, key: Key, entry: Entry) {
        let Some(level) = self.levels.get_mut(to) else { return };
        match level.entry(key) {
            std::collections::btree_map::Entry::Vacant(vacant) => {
                vacant.insert(entry);
            }
            std::collections::btree_map::Entry::Occupied(mut occupied) => {
                let known = occupied.get_mut();
                known.n_ways += entry.n_ways;
                if entry.rank < known.rank {
                    known.rank = entry.rank;
                    known.trace = entry.trace;
                }
            }
        }
    }

    /// Whether a condition can be true and can be false (or without result) in a state.
    fn truth(&mut self, key: &Key, condition: u32) -> (bool, bool) {
        let Some(whole) = self.facts.conditions.get(condition as usize) else {
            return (false, true);
        };
        let mut term = get(key, self.first_condition + condition).unwrap_or(whole.term);
        let unanswered = self.facts.terms.value(&Lookup::Unanswered);
        for leaf in self.facts.terms.leaves(term).to_vec() {
            if let Leaf::Slot(slot) = leaf {
                let value = get(key, slot).unwrap_or(unanswered);
                term = self.facts.terms.replace(term, leaf, value);
            }
        }
        match self.facts.terms.known(term) {
            Some(value) if self.facts.terms.is_true(value) => (true, false),
            Some(_) => (false, true),
            None => (true, true),
        }
    }

    /// What is looked at in every state that comes to a node.
    fn looking(&self, at: NodeIdx) -> Looking {
        let flow = self.flow;
        let fact = |token: &TokenId| self.tokens.get(token).copied();
        let here = |(_, assumed): &(usize, &Assumed)| !assumed.top && assumed.at == at;
        let assumed = flow.assumed.iter().enumerate().filter(here).flat_map(|(number, assumed)| {
            let tokens = assumed.tokens.iter();
            tokens.map(move |token| (number, token.value.clone(), fact(&token.value)))
        });
        let needs = match flow.node(at) {
            Node::Ask { instance, .. } => flow
                .instance(*instance)
                .needs
                .iter()
                .map(|token| (*instance, token.clone(), fact(token)))
                .collect(),
            Node::Test { .. } | Node::Performed { .. } | Node::End => Vec::new(),
        };
        Looking {
            at,
            looks: self.watch.looks.get(&at).cloned().unwrap_or_default(),
            assumed: assumed.collect(),
            needs,
            lapses: self.lapses_anew.get(at).copied().unwrap_or(true),
        }
    }

    /// Looks at what is promised where a state comes to a node. False where the walk ends there.
    fn look(&mut self, here: &Looking, key: &Key, rank: Rank, state: u32) -> bool {
        let at = here.at;
        for look in &here.looks {
            match look {
                Look::Never { promise, section } => {
                    let (promise, section) = (*promise, *section);
                    let fact = self.first_inside + index(promise);
                    if section.is_some() && get(key, fact) == section {
                        continue;
                    }
                    let condition = self.facts.of_promise.get(promise).copied().flatten();
                    let (may_true, may_false) =
                        condition.map_or((true, false), |condition| self.truth(key, condition));
                    if may_true {
                        let n_free = rank.n_free + u32::from(may_false);
                        self.broken(Broken::Promise(promise), Rank { n_free, ..rank }, at, state);
                    }
                }
                Look::First { promise, marks } => {
                    let kept = marks.as_ref().is_some_and(|marks| {
                        marks.iter().all(|mark| get(key, self.first_place + mark).is_some())
                    });
                    if !kept {
                        self.broken(Broken::Promise(*promise), rank, at, state);
                    }
                }
            }
        }
        if here.lapses {
            self.lapse(at, key, rank, state);
        }
        let in_force = |fact: &Option<u32>| fact.is_some_and(|fact| get(key, fact).is_some());
        for (number, token, fact) in &here.assumed {
            if !in_force(fact) {
                self.broken(Broken::Assumes(*number, token.clone()), rank, at, state);
            }
        }
        let mut goes_on = true;
        for (instance, token, fact) in &here.needs {
            if !in_force(fact) {
                goes_on = false;
                self.broken(Broken::Needs(*instance, token.clone()), rank, at, state);
            }
        }
        goes_on
    }

    /// A break, other hands or time may come at any place. A state that does not outlast it is then
    /// verified by the step that set it, which is asked there and then: what it needs and what must
    /// come before it has to be so at that moment too.
    fn lapse(&mut self, at: NodeIdx, key: &Key, rank: Rank, state: u32) {
        let rank = Rank { lapses: true, ..rank };
        let mut found: Vec<(Broken, Found)> = Vec::new();
        for fact in &self.lapsing {
            let setter = get(key, *fact).and_then(|value| value.checked_sub(1));
            let Some(setter) = setter.map(|setter| setter as usize) else { continue };
            let Some(again) = self.again.get(&setter) else { continue };
            let here = Found { rank, at, state, lapse: Some((setter, *fact)) };
            for (token, fact) in &again.needs {
                // What is verified after this step lapses with it, and is not verified yet.
                let held = fact.and_then(|fact| get(key, fact));
                if held.is_none_or(|by| by > index(setter) + 1) {
                    found.push((Broken::Again(setter, token.clone()), here));
                }
            }
            for (promise, marks) in &again.firsts {
                if !marks.iter().all(|mark| get(key, *mark).is_some()) {
                    found.push((Broken::Promise(*promise), here));
                }
            }
        }
        for (what, found) in found {
            self.broken_by(what, found);
        }
    }

    fn broken(&mut self, what: Broken, rank: Rank, at: NodeIdx, state: u32) {
        self.broken_by(what, Found { rank, at, state, lapse: None });
    }

    fn broken_by(&mut self, what: Broken, found: Found) {
        let known = self.out.broken.entry(what).or_insert(found);
        if found.rank < known.rank {
            *known = found;
        }
    }
}

/// What is kept of an exploration for scripts.
pub(super) struct Left {
    pub(super) facts: Facts,
    pub(super) free_order: BTreeSet<usize>,
    /// States by their facts, for those that lapse.
    pub(super) lapsing: BTreeMap<u32, TokenId>,
}

impl Explored {
    /// The answers on the shortest way to a break, each with its class.
    pub(super) fn path(&self, flow: &Flow, found: &Found) -> Vec<(InstanceIdx, u32)> {
        let mut path = Vec::new();
        let mut at = (found.at, found.state);
        while let Some(trace) = self.traces.get(at.0).and_then(|t| t.get(at.1 as usize)) {
            let Some(from) = trace.from else { break };
            if let Node::Ask { instance, .. } = flow.node(from.0) {
                path.push((*instance, trace.class));
            }
            at = from;
        }
        path.reverse();
        path
    }
}

/// The classes of answers to an instance, as the exploration numbered them.
pub(super) fn classes_of(
    flow: &Flow,
    facts: &Facts,
    instance: InstanceIdx,
) -> Result<Vec<Class>, TooMany> {
    classes(flow, flow.instance(instance), &facts.cuts(instance))
}

fn get(key: &Key, fact: u32) -> Option<u32> {
    let at = key.binary_search_by_key(&fact, |(f, _)| *f).ok()?;
    key.get(at).map(|(_, value)| *value)
}

fn set(key: &mut Key, fact: u32, value: Option<u32>) {
    match (key.binary_search_by_key(&fact, |(f, _)| *f), value) {
        (Ok(at), Some(value)) => {
            if let Some(slot) = key.get_mut(at) {
                slot.1 = value;
            }
        }
        (Ok(at), None) => {
            key.remove(at);
        }
        (Err(at), Some(value)) => key.insert(at, (fact, value)),
        (Err(_), None) => {}
    }
}
