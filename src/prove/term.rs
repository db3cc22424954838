//! What is left of a condition once some of the names in it are known.
//!
//! Every term is kept once and named by a number, so that two states that no later condition can
//! tell apart are equal numbers. What an operation comes to is worked out by `expr::eval` alone;
//! here members that can decide nothing any more are only left out.

use std::collections::BTreeMap;

use crate::expr::eval::{self, Lookup, Value};
use crate::expr::{Arithmetic, Comparison, Expr, Fold};
use crate::source::{FileId, Span};
use crate::units::{Dimension, Quantity};

/// A term, by its number.
pub(super) type TermId = u32;
/// A known value, by its number.
pub(super) type ValueId = u32;

/// What a term still waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Leaf {
    /// The answer of a step, by its number in `facts`.
    Slot(u32),
    /// The truth of a relation between readings that are all known to be there.
    Free(u32),
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Term {
    Const(ValueId),
    Leaf(Leaf),
    Answered(TermId),
    Not(TermId),
    Negate(TermId),
    And(Vec<TermId>),
    Or(Vec<TermId>),
    Compare(Comparison, TermId, TermId),
    In(TermId, TermId),
    Arithmetic(Arithmetic, TermId, TermId),
    Fold(Fold, Vec<TermId>),
    /// A relation, over the answers that it reads.
    Relation(u32, Vec<TermId>),
}

/// A relation as it was first met: its shape, over its operands by their place.
pub(super) type Relation = Expr<usize>;

/// All terms and values.
#[derive(Debug, Default)]
pub(super) struct Terms {
    all: Vec<(Term, Vec<Leaf>)>,
    by_term: BTreeMap<Term, TermId>,
    values: Vec<Lookup>,
    by_value: BTreeMap<String, ValueId>,
    relations: Vec<(Relation, Vec<TermId>)>,
    replaced: BTreeMap<(TermId, Leaf, ValueId), TermId>,
}

fn nowhere() -> Span {
    Span::new(FileId(0), 0, 0)
}

impl Terms {
    /// The number of a known value.
    pub(super) fn value(&mut self, value: &Lookup) -> ValueId {
        let key = match value {
            Lookup::Value(Value::Quantity(q)) => {
                format!("q{:?} {}/{}", q.dimension, q.si.numer(), q.si.denom())
            }
            other => format!("{other:?}"),
        };
        if let Some(known) = self.by_value.get(&key) {
            return *known;
        }
        let id = index(self.values.len());
        self.values.push(value.clone());
        self.by_value.insert(key, id);
        id
    }

    pub(super) fn truth(&mut self, truth: bool) -> ValueId {
        self.value(&Lookup::Value(Value::Truth(truth)))
    }

    pub(super) fn looked_up(&self, value: ValueId) -> &Lookup {
        self.values.get(value as usize).expect("internal: value numbers come from here")
    }

    /// The value of a term that waits for nothing.
    pub(super) fn known(&self, term: TermId) -> Option<ValueId> {
        match &self.entry(term).0 {
            Term::Const(value) => Some(*value),
            _ => None,
        }
    }

    pub(super) fn is_true(&self, value: ValueId) -> bool {
        matches!(self.looked_up(value), Lookup::Value(Value::Truth(true)))
    }

    /// What a term waits for, in order.
    pub(super) fn leaves(&self, term: TermId) -> &[Leaf] {
        &self.entry(term).1
    }

    fn entry(&self, term: TermId) -> &(Term, Vec<Leaf>) {
        self.all.get(term as usize).expect("internal: term numbers come from here")
    }

    pub(super) fn constant(&mut self, value: &Lookup) -> TermId {
        let value = self.value(value);
        self.intern(Term::Const(value))
    }

    /// The term of a relation of this shape between these answers.
    pub(super) fn relate(&mut self, shape: Relation, operands: Vec<TermId>) -> TermId {
        let known = |(s, o): &(Relation, Vec<TermId>)| same_shape(s, &shape) && *o == operands;
        let id = index(self.relations.iter().position(known).unwrap_or(self.relations.len()));
        if id as usize == self.relations.len() {
            self.relations.push((shape, operands.clone()));
        }
        self.make(Term::Relation(id, operands))
    }

    /// What a relation can come to: true, false, and no result where something is divided.
    pub(super) fn choices(&mut self, relation: u32) -> Vec<ValueId> {
        let divides = self.relations.get(relation as usize).is_some_and(|(s, _)| divides(s));
        let mut choices = vec![self.truth(true), self.truth(false)];
        if divides {
            choices.push(self.value(&Lookup::Unanswered));
        }
        choices
    }

    fn intern(&mut self, term: Term) -> TermId {
        if let Some(known) = self.by_term.get(&term) {
            return *known;
        }
        let mut leaves: Vec<Leaf> = match &term {
            Term::Const(_) => Vec::new(),
            Term::Leaf(leaf) => vec![*leaf],
            Term::Answered(a) | Term::Not(a) | Term::Negate(a) => self.leaves(*a).to_vec(),
            Term::Compare(_, a, b) | Term::In(a, b) | Term::Arithmetic(_, a, b) => {
                self.leaves(*a).iter().chain(self.leaves(*b)).copied().collect()
            }
            Term::And(members)
            | Term::Or(members)
            | Term::Fold(_, members)
            | Term::Relation(_, members) => {
                members.iter().flat_map(|m| self.leaves(*m).iter().copied()).collect()
            }
        };
        leaves.sort_unstable();
        leaves.dedup();
        let id = index(self.all.len());
        self.all.push((term.clone(), leaves));
        self.by_term.insert(term, id);
        id
    }

    /// What an operation over terms comes to: a value as soon as it is decided.
    fn decided(&self, shape: &Expr<usize>, operands: &[TermId]) -> Option<Lookup> {
        let look = |place: &usize| {
            let known = operands.get(*place).and_then(|term| self.known(*term));
            known.map_or(Lookup::Unanswered, |value| self.looked_up(value).clone())
        };
        let is_open = operands.iter().any(|term| self.known(*term).is_none());
        match eval::outcome(shape, &look) {
            Lookup::Unanswered if is_open => None,
            decided => Some(decided),
        }
    }

    /// The term for `term`, as short as it can be written.
    pub(super) fn make(&mut self, term: Term) -> TermId {
        let at = nowhere();
        let name = |place: usize| Box::new(Expr::Name(place, at));
        let (shape, operands): (Expr<usize>, Vec<TermId>) = match &term {
            Term::Const(_) | Term::Leaf(_) => return self.intern(term),
            Term::Answered(a) => {
                if self.known(*a).is_none() {
                    return self.intern(term);
                }
                (Expr::Answered(0, at), vec![*a])
            }
            Term::Not(a) => (Expr::Not(name(0), at), vec![*a]),
            Term::Negate(a) => (Expr::Negate(name(0), at), vec![*a]),
            Term::Compare(sign, a, b) => (Expr::Compare(*sign, name(0), name(1), at), vec![*a, *b]),
            Term::In(a, b) => (Expr::In(name(0), name(1), at), vec![*a, *b]),
            Term::Arithmetic(sign, a, b) => {
                (Expr::Arithmetic(*sign, name(0), name(1), at), vec![*a, *b])
            }
            Term::And(members) => (Expr::And(names(members.len()), at), members.clone()),
            Term::Or(members) => (Expr::Or(names(members.len()), at), members.clone()),
            Term::Fold(fold, members) => {
                (Expr::Fold(*fold, names(members.len()), at), members.clone())
            }
            Term::Relation(id, operands) => return self.related(*id, operands),
        };
        if let Some(decided) = self.decided(&shape, &operands) {
            return self.constant(&decided);
        }
        match term {
            Term::And(members) => self.joined(members, false, Term::And),
            Term::Or(members) => self.joined(members, true, Term::Or),
            Term::Fold(fold, members) => self.folded(fold, members),
            other => self.intern(other),
        }
    }

    fn is(&self, term: TermId, value: &Lookup) -> bool {
        self.known(term).is_some_and(|known| self.looked_up(known) == value)
    }

    /// `and` or `or`, without the members that decide nothing.
    fn joined(
        &mut self,
        mut members: Vec<TermId>,
        decides: bool,
        build: fn(Vec<TermId>) -> Term,
    ) -> TermId {
        members.retain(|member| !self.is(*member, &Lookup::Value(Value::Truth(!decides))));
        members.sort_unstable();
        members.dedup();
        match members.as_slice() {
            [single] => *single,
            _ => self.intern(build(members)),
        }
    }

    fn folded(&mut self, fold: Fold, mut members: Vec<TermId>) -> TermId {
        members.retain(|member| !self.is(*member, &Lookup::NotApplicable));
        match fold {
            Fold::Any | Fold::All => {
                let neutral = Lookup::Value(Value::Truth(fold == Fold::All));
                members.retain(|member| !self.is(*member, &neutral));
                members.sort_unstable();
                members.dedup();
            }
            Fold::Count => {
                members.retain(|member| !self.is(*member, &Lookup::Value(Value::Truth(false))));
                members.sort_unstable();
            }
            Fold::Min | Fold::Max => {
                let known: Vec<TermId> = members
                    .iter()
                    .copied()
                    .filter(|m| self.known(*m).is_some() && !self.is(*m, &Lookup::Unanswered))
                    .collect();
                members.retain(|member| !known.contains(member));
                let shape = Expr::Fold(fold, names(known.len()), nowhere());
                if let Some(running @ Lookup::Value(_)) = self.decided(&shape, &known) {
                    members.push(self.constant(&running));
                }
                members.sort_unstable();
                members.dedup();
            }
            Fold::Sum | Fold::Mean => members.sort_unstable(),
        }
        self.intern(Term::Fold(fold, members))
    }

    /// A relation: what matters of its readings is whether they are there at all.
    fn related(&mut self, id: u32, operands: &[TermId]) -> TermId {
        let operands: Vec<TermId> = operands.iter().map(|o| self.there(*o)).collect();
        let Some((shape, _)) = self.relations.get(id as usize).cloned() else {
            return self.intern(Term::Relation(id, operands));
        };
        let unanswered = operands.iter().any(|o| self.is(*o, &Lookup::Unanswered));
        match self.decided(&shape, &operands) {
            None => self.intern(Term::Relation(id, operands)),
            Some(Lookup::NotApplicable) => self.constant(&Lookup::NotApplicable),
            Some(Lookup::Unanswered) if unanswered => self.constant(&Lookup::Unanswered),
            Some(Lookup::Value(_) | Lookup::Unanswered) => {
                let open = operands.iter().any(|o| self.known(*o).is_none());
                if open {
                    self.intern(Term::Relation(id, operands))
                } else {
                    self.intern(Term::Leaf(Leaf::Free(id)))
                }
            }
        }
    }

    /// A reading of 1 in the place of any other.
    fn there(&mut self, operand: TermId) -> TermId {
        let Some(value) = self.known(operand) else { return operand };
        match self.looked_up(value).clone() {
            Lookup::Value(Value::Quantity(quantity)) => {
                let one = one(quantity.dimension);
                self.constant(&Lookup::Value(Value::Quantity(one)))
            }
            Lookup::Value(Value::Text(_)) => {
                self.constant(&Lookup::Value(Value::Text("text".to_owned())))
            }
            _ => operand,
        }
    }

    /// `term` with a value in the place of one of its leaves.
    pub(super) fn replace(&mut self, term: TermId, leaf: Leaf, with: ValueId) -> TermId {
        if self.leaves(term).binary_search(&leaf).is_err() {
            return term;
        }
        if let Some(known) = self.replaced.get(&(term, leaf, with)) {
            return *known;
        }
        let whole = self.entry(term).0.clone();
        let mut all = |members: Vec<TermId>| -> Vec<TermId> {
            members.into_iter().map(|m| self.replace(m, leaf, with)).collect()
        };
        let new = match whole {
            Term::Const(_) => whole,
            Term::Leaf(_) => Term::Const(with),
            Term::Answered(a) => Term::Answered(self.replace(a, leaf, with)),
            Term::Not(a) => Term::Not(self.replace(a, leaf, with)),
            Term::Negate(a) => Term::Negate(self.replace(a, leaf, with)),
            Term::And(members) => Term::And(all(members)),
            Term::Or(members) => Term::Or(all(members)),
            Term::Compare(sign, a, b) => {
                Term::Compare(sign, self.replace(a, leaf, with), self.replace(b, leaf, with))
            }
            Term::In(a, b) => Term::In(self.replace(a, leaf, with), self.replace(b, leaf, with)),
            Term::Arithmetic(sign, a, b) => {
                Term::Arithmetic(sign, self.replace(a, leaf, with), self.replace(b, leaf, with))
            }
            Term::Fold(fold, members) => Term::Fold(fold, all(members)),
            Term::Relation(id, operands) => Term::Relation(id, all(operands)),
        };
        let new = self.make(new);
        self.replaced.insert((term, leaf, with), new);
        new
    }
}

/// One unit of a dimension.
pub(super) fn one(dimension: Dimension) -> Quantity {
    Quantity { si: num_rational::Ratio::from_integer(1.into()), dimension }
}

/// True for two writings of one relation, wherever they stand.
fn same_shape(a: &Relation, b: &Relation) -> bool {
    let all = |a: &[Relation], b: &[Relation]| {
        a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same_shape(a, b))
    };
    match (a, b) {
        (Expr::Quantity(a, _), Expr::Quantity(b, _)) => a == b,
        (Expr::Name(a, _), Expr::Name(b, _)) | (Expr::Answered(a, _), Expr::Answered(b, _)) => {
            a == b
        }
        (Expr::Word(a, _), Expr::Word(b, _)) => a == b,
        (Expr::Truth(a, _), Expr::Truth(b, _)) => a == b,
        (Expr::Not(a, _), Expr::Not(b, _)) | (Expr::Negate(a, _), Expr::Negate(b, _)) => {
            same_shape(a, b)
        }
        (Expr::And(a, _), Expr::And(b, _)) | (Expr::Or(a, _), Expr::Or(b, _)) => all(a, b),
        (Expr::Fold(fold, a, _), Expr::Fold(other, b, _)) => fold == other && all(a, b),
        (Expr::Compare(sign, left, right, _), Expr::Compare(other, l, r, _)) => {
            sign == other && same_shape(left, l) && same_shape(right, r)
        }
        (Expr::Arithmetic(sign, left, right, _), Expr::Arithmetic(other, l, r, _)) => {
            sign == other && same_shape(left, l) && same_shape(right, r)
        }
        (Expr::In(left, right, _), Expr::In(l, r, _)) => {
            same_shape(left, l) && same_shape(right, r)
        }
        _ => false,
    }
}

/// True where something is divided by what is not known beforehand.
fn divides(shape: &Relation) -> bool {
    match shape {
        Expr::Arithmetic(Arithmetic::Divide, left, right, _) => {
            let mut reads = false;
            right.each_name(&mut |_, _| reads = true);
            reads || divides(left)
        }
        Expr::Not(a, _) | Expr::Negate(a, _) => divides(a),
        Expr::And(m, _) | Expr::Or(m, _) | Expr::Fold(_, m, _) => m.iter().any(divides),
        Expr::Compare(_, a, b, _) | Expr::In(a, b, _) | Expr::Arithmetic(_, a, b, _) => {
            divides(a) || divides(b)
        }
        Expr::Quantity(..)
        | Expr::Word(..)
        | Expr::Truth(..)
        | Expr::Name(..)
        | Expr::Answered(..) => false,
    }
}

fn names(n: usize) -> Vec<Expr<usize>> {
    (0..n).map(|place| Expr::Name(place, nowhere())).collect()
}

/// A length as a number of this module; none comes near the bound.
pub(super) fn index(n: usize) -> u32 {
    u32::try_from(n).expect("internal: a flow has far fewer than 2^32 of anything")
}
