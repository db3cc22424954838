//! What a condition comes to, given the answers so far.
//!
//! Exact throughout. A result is given as soon as the answers decide it; what is still open gives
//! none. The expression has been through `typing`; what does not fit gives no result either.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;

use crate::ids::Name;
use crate::units::Quantity;

use super::ast::{Arithmetic, Comparison, Expr, Fold};

/// What a name has come to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lookup {
    /// It has a value.
    Value(Value),
    /// Its step does not apply, so it never has one.
    NotApplicable,
    /// Its step is not answered yet.
    Unanswered,
}

/// A value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// True or false.
    Truth(bool),
    /// A figure.
    Quantity(Quantity),
    /// A finding, a choice, a verdict.
    Word(Name),
    /// Several findings.
    Words(Vec<Name>),
    /// A text.
    Text(String),
}

/// The value of `expr`, or `None` where the answers do not decide it: a name is unanswered or does
/// not apply, a divisor is zero, `min`, `max`, `mean` or `sum` has no member.
///
/// Members of a fold that do not apply are left out, so `all` of none is true and `any` of none
/// false.
pub fn eval<R>(expr: &Expr<R>, look: &dyn Fn(&R) -> Lookup) -> Option<Value> {
    match outcome(expr, look) {
        Lookup::Value(value) => Some(value),
        Lookup::NotApplicable | Lookup::Unanswered => None,
    }
}

fn truth(truth: bool) -> Lookup {
    Lookup::Value(Value::Truth(truth))
}

/// A figure, or nothing where the operation has no result.
fn figure(quantity: Option<Quantity>) -> Lookup {
    quantity.map_or(Lookup::Unanswered, |q| Lookup::Value(Value::Quantity(q)))
}

/// What `expr` comes to with the answers so far: a value, nothing ever (a name that it needs does not
/// apply), or nothing yet. What it comes to once, it stays at whatever else is answered.
pub fn outcome<R>(expr: &Expr<R>, look: &dyn Fn(&R) -> Lookup) -> Lookup {
    match expr {
        Expr::Quantity(quantity, _) => Lookup::Value(Value::Quantity(quantity.clone())),
        Expr::Name(name, _) => look(name),
        Expr::Word(word, _) => Lookup::Value(Value::Word(word.clone())),
        Expr::Truth(value, _) => truth(*value),
        Expr::Not(inner, _) => match outcome(inner, look) {
            Lookup::Value(Value::Truth(value)) => truth(!value),
            other => open(&other),
        },
        Expr::And(members, _) => joined(members, look, false),
        Expr::Or(members, _) => joined(members, look, true),
        Expr::Compare(sign, left, right, _) => {
            both(left, right, look, |left, right| compared(*sign, left, right))
        }
        Expr::In(left, right, _) => both(left, right, look, |left, right| match (left, right) {
            (Value::Word(word), Value::Words(words)) => truth(words.contains(word)),
            _ => Lookup::Unanswered,
        }),
        Expr::Arithmetic(sign, left, right, _) => {
            both(left, right, look, |left, right| match (left, right) {
                (Value::Quantity(left), Value::Quantity(right)) => figure(match sign {
                    Arithmetic::Add => left.plus(right),
                    Arithmetic::Subtract => left.minus(right),
                    Arithmetic::Multiply => left.times(right),
                    Arithmetic::Divide => left.over(right),
                }),
                _ => Lookup::Unanswered,
            })
        }
        Expr::Negate(inner, _) => match outcome(inner, look) {
            Lookup::Value(Value::Quantity(quantity)) => figure(Some(quantity.negated())),
            other => open(&other),
        },
        Expr::Fold(fold, members, _) => folded(*fold, members, look),
        Expr::Answered(name, _) => truth(matches!(look(name), Lookup::Value(_))),
    }
}

/// What does not apply stays so; any value here is of the wrong type and decides nothing.
fn open(found: &Lookup) -> Lookup {
    match found {
        Lookup::NotApplicable => Lookup::NotApplicable,
        Lookup::Unanswered | Lookup::Value(_) => Lookup::Unanswered,
    }
}

/// An operation that needs both sides. A side that does not apply settles it, for no later answer
/// to the other side can give a value.
fn both<R>(
    left: &Expr<R>,
    right: &Expr<R>,
    look: &dyn Fn(&R) -> Lookup,
    operation: impl FnOnce(&Value, &Value) -> Lookup,
) -> Lookup {
    match (outcome(left, look), outcome(right, look)) {
        (Lookup::Value(left), Lookup::Value(right)) => operation(&left, &right),
        (Lookup::NotApplicable, _) | (_, Lookup::NotApplicable) => Lookup::NotApplicable,
        (Lookup::Unanswered, _) | (_, Lookup::Unanswered) => Lookup::Unanswered,
    }
}

/// `and` (decided by a false member) or `or` (decided by a true one).
fn joined<R>(members: &[Expr<R>], look: &dyn Fn(&R) -> Lookup, decides: bool) -> Lookup {
    let (mut is_open, mut does_not_apply) = (false, false);
    for member in members {
        match outcome(member, look) {
            Lookup::Value(Value::Truth(value)) if value == decides => return truth(decides),
            Lookup::Value(Value::Truth(_)) => {}
            Lookup::NotApplicable => does_not_apply = true,
            Lookup::Unanswered | Lookup::Value(_) => is_open = true,
        }
    }
    match (is_open, does_not_apply) {
        (true, _) => Lookup::Unanswered,
        (false, true) => Lookup::NotApplicable,
        (false, false) => truth(!decides),
    }
}

fn compared(sign: Comparison, left: &Value, right: &Value) -> Lookup {
    let order = match (left, right) {
        (Value::Quantity(left), Value::Quantity(right)) => left.compare(right),
        (Value::Truth(left), Value::Truth(right)) => Some(left.cmp(right)),
        (Value::Word(left), Value::Word(right)) => Some(left.cmp(right)),
        (Value::Text(left), Value::Text(right)) => Some(left.cmp(right)),
        _ => None,
    };
    let Some(order) = order else { return Lookup::Unanswered };
    truth(match sign {
        Comparison::Equal => order == Ordering::Equal,
        Comparison::NotEqual => order != Ordering::Equal,
        Comparison::Less => order == Ordering::Less,
        Comparison::LessOrEqual => order != Ordering::Greater,
        Comparison::Greater => order == Ordering::Greater,
        Comparison::GreaterOrEqual => order != Ordering::Less,
    })
}

fn folded<R>(fold: Fold, members: &[Expr<R>], look: &dyn Fn(&R) -> Lookup) -> Lookup {
    let decides = match fold {
        Fold::Any => Some(true),
        Fold::All => Some(false),
        Fold::Count | Fold::Sum | Fold::Min | Fold::Max | Fold::Mean => None,
    };
    let mut is_open = false;
    let mut count: usize = 0;
    let mut figures = Vec::new();
    for member in members {
        match outcome(member, look) {
            Lookup::Value(Value::Truth(value)) if Some(value) == decides => return truth(value),
            Lookup::Value(Value::Truth(value)) => count += usize::from(value),
            Lookup::Value(Value::Quantity(quantity)) => figures.push(quantity),
            Lookup::NotApplicable => {}
            Lookup::Unanswered | Lookup::Value(_) => is_open = true,
        }
    }
    if is_open {
        return Lookup::Unanswered;
    }
    match fold {
        Fold::Any | Fold::All => truth(fold == Fold::All),
        Fold::Count => figure(Some(Quantity::whole(count))),
        Fold::Sum => figure(sum(&figures)),
        Fold::Mean => figure(mean(&figures)),
        Fold::Min => figure(figures.into_iter().min_by(by_value)),
        Fold::Max => figure(figures.into_iter().max_by(by_value)),
    }
}

fn by_value(a: &Quantity, b: &Quantity) -> Ordering {
    a.si.cmp(&b.si)
}

fn sum(figures: &[Quantity]) -> Option<Quantity> {
    let (first, rest) = figures.split_first()?;
    rest.iter().try_fold(first.clone(), |total, figure| total.plus(figure))
}

/// Temperatures have a mean, and no sum.
fn mean(figures: &[Quantity]) -> Option<Quantity> {
    let dimension = figures.first()?.dimension;
    let total: Ratio<BigInt> = figures.iter().map(|figure| &figure.si).sum();
    Some(Quantity { si: total / BigInt::from(figures.len()), dimension })
}

#[cfg(test)]
#[path = "eval_tests.rs"]
mod tests;
