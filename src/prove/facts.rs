//! What the conditions of a flow read, and where readings have to be cut for them.
//!
//! Each answer that a condition can read is a *slot*: the last of some passes of a step, and what
//! of it. What is left of conditions once slots are known is the business of `term`.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::Zero as _;

use super::term::{Leaf, Relation, Term, TermId, Terms, index, one};
use crate::expr::eval::{self, Lookup, Value};
use crate::expr::{Comparison, Expr, Fold};
use crate::ids::Name;
use crate::procedure::model::EntryKind;
use crate::source::{FileId, Span};
use crate::units::{Dimension, Quantity};
use crate::walk::flow::{Ask, Field, Flow, Guard, InstanceIdx, Node, NodeIdx, Outcome, Ref};

/// What of an answer a slot holds.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum What {
    /// The figure, finding, choice or text.
    Value,
    /// The verdict in force.
    Verdict,
    /// The grade of a reading.
    Grade,
    /// Whether the outcome is this one.
    Outcome(Outcome),
    /// A setting of the fit-out.
    Setting(Name),
    /// The letter or code on the name plate.
    Plate,
}

/// An answer as conditions read it.
#[derive(Debug, Clone)]
pub(super) struct Slot {
    /// The passes, in order.
    pub(super) passes: Vec<InstanceIdx>,
    /// What of it.
    pub(super) what: What,
    /// The conditions that read it.
    pub(super) readers: Vec<u32>,
    /// The node of its last writer.
    pub(super) last_write: NodeIdx,
    /// Where readings must be cut, in SI units.
    pub(super) cuts: BTreeSet<Ratio<BigInt>>,
}

/// A condition, of a guard or of a promise.
#[derive(Debug, Clone)]
pub(super) struct Condition {
    /// All of it.
    pub(super) term: TermId,
    /// The last node that reads it.
    pub(super) last_use: NodeIdx,
}

/// Everything that is read.
#[derive(Debug, Default)]
pub(super) struct Facts {
    pub(super) terms: Terms,
    pub(super) slots: Vec<Slot>,
    pub(super) conditions: Vec<Condition>,
    /// The condition of each guard.
    pub(super) of_guard: Vec<Option<u32>>,
    /// The condition of each promise that has one.
    pub(super) of_promise: Vec<Option<u32>>,
    /// The node of each instance.
    pub(super) node_of: Vec<NodeIdx>,
    /// The slots that each instance writes, in order.
    pub(super) writes: Vec<Vec<u32>>,
    by_key: BTreeMap<(Vec<InstanceIdx>, What), u32>,
    by_term: BTreeMap<TermId, u32>,
    /// The name-plate steps.
    pub(super) plates: Vec<InstanceIdx>,
    deciders: BTreeMap<InstanceIdx, Vec<InstanceIdx>>,
}

impl Facts {
    /// Looks through all conditions of `flow`.
    pub(super) fn of(flow: &Flow) -> Self {
        let mut facts = Self {
            node_of: vec![0; flow.instances.len()],
            writes: vec![Vec::new(); flow.instances.len()],
            of_guard: vec![None; flow.guards.len()],
            ..Self::default()
        };
        let mut guard_at = BTreeMap::new();
        for (at, node) in flow.nodes.iter().enumerate() {
            match node {
                Node::Ask { instance, .. } => {
                    if let Some(slot) = facts.node_of.get_mut(*instance) {
                        *slot = at;
                    }
                }
                Node::Test { guard, .. } => {
                    guard_at.insert(*guard, at);
                }
                Node::Performed { .. } | Node::End => {}
            }
        }
        for (index, instance) in flow.instances.iter().enumerate() {
            match &instance.ask {
                Ask::Enter { kind: EntryKind::FitOut, .. } => facts.plates.push(index),
                Ask::Decide { about: Some(about), .. } => {
                    facts.deciders.entry(*about).or_default().push(index);
                }
                _ => {}
            }
        }
        for (guard, at) in guard_at {
            let term = match flow.guard(guard) {
                Guard::Condition { expr, .. } => facts.build(flow, expr),
                Guard::Outcome { instance, is: Outcome::Verdict(verdict) } => {
                    let slot = facts.slot(flow, &[*instance], What::Verdict);
                    let word = facts.word(verdict.word());
                    facts.terms.make(Term::Compare(Comparison::Equal, slot, word))
                }
                Guard::Outcome { instance, is } => {
                    facts.slot(flow, &[*instance], What::Outcome(is.clone()))
                }
                Guard::FitOut { letters } => {
                    let plate = facts.slot(flow, &[], What::Plate);
                    let same = letters.iter().map(|letter| {
                        let text = Lookup::Value(Value::Text(letter.clone()));
                        let letter = facts.terms.constant(&text);
                        facts.terms.make(Term::Compare(Comparison::Equal, plate, letter))
                    });
                    let same: Vec<TermId> = same.collect();
                    facts.terms.make(Term::Or(same))
                }
            };
            let condition = facts.condition(term, at);
            if let Some(slot) = facts.of_guard.get_mut(guard) {
                *slot = Some(condition);
            }
        }
        for promise in &flow.promises {
            let condition = promise.when.as_ref().map(|when| {
                let term = facts.build(flow, when);
                let nodes = promise.target.iter().filter_map(|i| facts.node_of.get(*i));
                let last_use = nodes.max().copied().unwrap_or(0);
                facts.condition(term, last_use)
            });
            facts.of_promise.push(condition);
        }
        facts
    }

    /// The condition with this term. The same one at several places, as at each cylinder, is one: what
    /// is left of it is kept once.
    fn condition(&mut self, term: TermId, last_use: NodeIdx) -> u32 {
        let known = self.by_term.get(&term).copied();
        if let Some((id, known)) =
            known.and_then(|id| Some((id, self.conditions.get_mut(id as usize)?)))
        {
            known.last_use = known.last_use.max(last_use);
            return id;
        }
        let id = index(self.conditions.len());
        self.by_term.insert(term, id);
        for leaf in self.terms.leaves(term).to_vec() {
            if let Leaf::Slot(slot) = leaf
                && let Some(slot) = self.slots.get_mut(slot as usize)
            {
                slot.readers.push(id);
            }
        }
        self.conditions.push(Condition { term, last_use });
        id
    }

    fn word(&mut self, word: &str) -> TermId {
        let found = Name::new(word);
        let value = found.map_or(Lookup::Unanswered, |word| Lookup::Value(Value::Word(word)));
        self.terms.constant(&value)
    }

    fn slot(&mut self, _flow: &Flow, passes: &[InstanceIdx], what: What) -> TermId {
        let key = (passes.to_vec(), what.clone());
        let known = self.by_key.get(&key).copied();
        let id = known.unwrap_or_else(|| {
            let id = index(self.slots.len());
            let mut writers: Vec<InstanceIdx> = match what {
                What::Setting(_) | What::Plate => self.plates.clone(),
                What::Value | What::Verdict | What::Grade | What::Outcome(_) => passes.to_vec(),
            };
            if what == What::Verdict {
                let deciders = passes.iter().filter_map(|i| self.deciders.get(i)).flatten();
                writers.extend(deciders.copied().collect::<Vec<_>>());
            }
            let mut last_write = 0;
            for writer in writers {
                last_write = last_write.max(self.node_of.get(writer).copied().unwrap_or(0));
                if let Some(writes) = self.writes.get_mut(writer) {
                    writes.push(id);
                }
            }
            self.by_key.insert(key, id);
            let passes = passes.to_vec();
            let (readers, cuts) = (Vec::new(), BTreeSet::new());
            self.slots.push(Slot { passes, what, readers, last_write, cuts });
            id
        });
        self.terms.make(Term::Leaf(Leaf::Slot(id)))
    }

    /// The term for a resolved name.
    fn name(&mut self, flow: &Flow, name: &Ref) -> TermId {
        match name {
            Ref::Answer { passes, field } => {
                let what = match field {
                    Field::Value => What::Value,
                    Field::Verdict => What::Verdict,
                    Field::Grade => What::Grade,
                };
                self.slot(flow, passes, what)
            }
            Ref::Setting(setting) => self.slot(flow, &[], What::Setting(setting.clone())),
            Ref::Figure(quantity) => {
                self.terms.constant(&Lookup::Value(Value::Quantity(quantity.clone())))
            }
            Ref::Position { name, .. } => {
                let value = match Name::new(name.clone()) {
                    Ok(word) => Value::Word(word),
                    Err(_) => Value::Text(name.clone()),
                };
                self.terms.constant(&Lookup::Value(value))
            }
            Ref::Word(word) => self.terms.constant(&Lookup::Value(Value::Word(word.clone()))),
        }
    }

    fn build(&mut self, flow: &Flow, expr: &Expr<Ref>) -> TermId {
        let mut all = |members: &[Expr<Ref>]| -> Vec<TermId> {
            members.iter().map(|member| self.build(flow, member)).collect()
        };
        let term = match expr {
            Expr::Quantity(quantity, _) => {
                return self.terms.constant(&Lookup::Value(Value::Quantity(quantity.clone())));
            }
            Expr::Word(word, _) => {
                return self.terms.constant(&Lookup::Value(Value::Word(word.clone())));
            }
            Expr::Truth(truth, _) => {
                return self.terms.constant(&Lookup::Value(Value::Truth(*truth)));
            }
            Expr::Name(name, _) => return self.name(flow, name),
            Expr::Answered(name, _) => Term::Answered(self.name(flow, name)),
            Expr::Not(inner, _) => Term::Not(self.build(flow, inner)),
            Expr::Negate(inner, _) => Term::Negate(self.build(flow, inner)),
            Expr::And(members, _) => Term::And(all(members)),
            Expr::Or(members, _) => Term::Or(all(members)),
            Expr::Fold(fold, members, _) => Term::Fold(*fold, all(members)),
            Expr::In(left, right, _) => Term::In(self.build(flow, left), self.build(flow, right)),
            Expr::Arithmetic(sign, left, right, _) => {
                Term::Arithmetic(*sign, self.build(flow, left), self.build(flow, right))
            }
            Expr::Compare(sign, left, right, _) => {
                if endless(flow, left) || endless(flow, right) {
                    let cut = self.cut(flow, left, right) || self.cut(flow, right, left);
                    if !cut {
                        return self.relation(flow, expr);
                    }
                }
                Term::Compare(*sign, self.build(flow, left), self.build(flow, right))
            }
        };
        self.terms.make(term)
    }

    /// Cuts the readings of `side` where it meets the constant `against`. False where that cannot
    /// be done: then the truth is free.
    fn cut(&mut self, flow: &Flow, side: &Expr<Ref>, against: &Expr<Ref>) -> bool {
        let Some(against) = fixed(against) else { return false };
        let members = match side {
            Expr::Fold(Fold::Min | Fold::Max, members, _) => members.as_slice(),
            other => std::slice::from_ref(other),
        };
        let Some(cuts) =
            members.iter().map(|m| straight(flow, m, &against)).collect::<Option<Vec<_>>>()
        else {
            return false;
        };
        for (name, cut) in cuts {
            let term = self.name(flow, name);
            if let Some(Leaf::Slot(slot)) = self.terms.leaves(term).first().copied()
                && let (Some(slot), Some(cut)) = (self.slots.get_mut(slot as usize), cut)
            {
                slot.cuts.insert(cut);
            }
        }
        true
    }

    fn relation(&mut self, flow: &Flow, expr: &Expr<Ref>) -> TermId {
        let mut operands: Vec<&Ref> = Vec::new();
        expr.each_name(&mut |name, _| {
            if !operands.contains(&name) {
                operands.push(name);
            }
        });
        let shape = shaped(expr, &|name| operands.iter().position(|o| *o == name).unwrap_or(0));
        let operands = operands.iter().map(|name| self.name(flow, name)).collect();
        self.terms.relate(shape, operands)
    }

    /// Where the readings of an instance are cut by conditions, in SI units.
    pub(super) fn cuts(&self, instance: InstanceIdx) -> BTreeSet<Ratio<BigInt>> {
        let writes = self.writes.get(instance).into_iter().flatten();
        let slots = writes.filter_map(|slot| self.slots.get(*slot as usize));
        slots.flat_map(|slot| slot.cuts.iter().cloned()).collect()
    }
}

/// The dimension of a name whose answers are without end; texts have none.
#[expect(clippy::option_option, reason = "no name without end, a text, or a figure")]
fn endless_name(flow: &Flow, name: &Ref) -> Option<Option<Dimension>> {
    let Ref::Answer { passes, field: Field::Value } = name else { return None };
    match &flow.instance(*passes.first()?).ask {
        Ask::Measure(note) => Some(Some(note.unit.dimension())),
        Ask::Enter { kind: EntryKind::Figure { unit, .. }, .. } => Some(Some(unit.dimension())),
        Ask::WorkOut(note) => Some(Some(note.unit.dimension())),
        Ask::Enter {
            kind: EntryKind::Text | EntryKind::Date | EntryKind::Serial | EntryKind::FitOut,
            ..
        } => Some(None),
        _ => None,
    }
}

/// True where answers without end are compared, and not only counted or tested inside.
fn endless(flow: &Flow, expr: &Expr<Ref>) -> bool {
    match expr {
        Expr::Name(name, _) => endless_name(flow, name).is_some(),
        Expr::Negate(inner, _) => endless(flow, inner),
        Expr::Arithmetic(_, left, right, _) => endless(flow, left) || endless(flow, right),
        Expr::Fold(_, members, _) => members.iter().any(|member| endless(flow, member)),
        Expr::Quantity(..)
        | Expr::Word(..)
        | Expr::Truth(..)
        | Expr::Answered(..)
        | Expr::Not(..)
        | Expr::And(..)
        | Expr::Or(..)
        | Expr::Compare(..)
        | Expr::In(..) => false,
    }
}

/// What an expression without answers comes to.
fn fixed(expr: &Expr<Ref>) -> Option<Quantity> {
    let look = |name: &Ref| match name {
        Ref::Figure(quantity) => Lookup::Value(Value::Quantity(quantity.clone())),
        Ref::Answer { .. } | Ref::Setting(_) | Ref::Position { .. } | Ref::Word(_) => {
            Lookup::Unanswered
        }
    };
    let mut reads = false;
    expr.each_name(&mut |name, _| reads |= !matches!(name, Ref::Figure(_)));
    match (reads, eval::outcome(expr, &look)) {
        (false, Lookup::Value(Value::Quantity(quantity))) => Some(quantity),
        _ => None,
    }
}

/// The one reading of a straight line, and where the line meets a constant. `None` for everything
/// else.
fn straight<'e>(
    flow: &Flow,
    expr: &'e Expr<Ref>,
    against: &Quantity,
) -> Option<(&'e Ref, Option<Ratio<BigInt>>)> {
    let mut read = None;
    let n_read = line(expr, &mut read)?;
    if n_read != 1 {
        return None;
    }
    let name = read?;
    let dimension = endless_name(flow, name)??;
    let at = |si: Ratio<BigInt>| {
        let look = |found: &Ref| match found {
            Ref::Figure(quantity) => Lookup::Value(Value::Quantity(quantity.clone())),
            _ => Lookup::Value(Value::Quantity(Quantity { si: si.clone(), dimension })),
        };
        match eval::outcome(expr, &look) {
            Lookup::Value(Value::Quantity(quantity)) if quantity.dimension == against.dimension => {
                Some(quantity.si)
            }
            _ => None,
        }
    };
    let (zero, first) = (at(Ratio::zero())?, at(one(dimension).si)?);
    let slope = first - &zero;
    let cut = (!slope.is_zero()).then(|| (against.si.clone() - &zero) / &slope);
    Some((name, cut))
}

/// How often a straight line reads an answer, which it notes; `None` where it is none.
fn line<'e>(expr: &'e Expr<Ref>, read: &mut Option<&'e Ref>) -> Option<usize> {
    use crate::expr::Arithmetic::{Add, Divide, Multiply, Subtract};
    match expr {
        Expr::Quantity(..) | Expr::Name(Ref::Figure(_), _) => Some(0),
        Expr::Name(name @ Ref::Answer { .. }, _) => {
            *read = Some(name);
            Some(1)
        }
        Expr::Negate(inner, _) => line(inner, read),
        Expr::Arithmetic(sign, left, right, _) => {
            let (left, right) = (line(left, read)?, line(right, read)?);
            match sign {
                Add | Subtract => Some(left + right),
                Multiply if left == 0 || right == 0 => Some(left + right),
                Divide if right == 0 => Some(left),
                Multiply | Divide => None,
            }
        }
        _ => None,
    }
}

/// The same expression over places in the list of its operands.
fn shaped(expr: &Expr<Ref>, place: &dyn Fn(&Ref) -> usize) -> Relation {
    let at = Span::new(FileId(0), 0, 0);
    let inner = |e: &Expr<Ref>| Box::new(shaped(e, place));
    let all = |m: &[Expr<Ref>]| m.iter().map(|e| shaped(e, place)).collect();
    match expr {
        Expr::Quantity(quantity, _) => Expr::Quantity(quantity.clone(), at),
        Expr::Name(name, _) => Expr::Name(place(name), at),
        Expr::Word(word, _) => Expr::Word(word.clone(), at),
        Expr::Truth(truth, _) => Expr::Truth(*truth, at),
        Expr::Not(a, _) => Expr::Not(inner(a), at),
        Expr::And(m, _) => Expr::And(all(m), at),
        Expr::Or(m, _) => Expr::Or(all(m), at),
        Expr::Compare(sign, a, b, _) => Expr::Compare(*sign, inner(a), inner(b), at),
        Expr::In(a, b, _) => Expr::In(inner(a), inner(b), at),
        Expr::Arithmetic(sign, a, b, _) => Expr::Arithmetic(*sign, inner(a), inner(b), at),
        Expr::Negate(a, _) => Expr::Negate(inner(a), at),
        Expr::Fold(fold, m, _) => Expr::Fold(*fold, all(m), at),
        Expr::Answered(name, _) => Expr::Answered(place(name), at),
    }
}
