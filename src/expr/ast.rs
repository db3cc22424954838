//! The tree of a condition or formula, generic over how it names answers.
//!
//! Freshly parsed trees name things by [`Path`]; `walk::flow` replaces every path by a reference to
//! step instances and every aggregate by the list of its members.

use std::fmt;

use crate::ids::Name;
use crate::source::{At, Span};
use crate::units::Quantity;

/// A dotted name as the author wrote it, `backlash.places.play.verdict`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Path {
    /// Its words, at least one.
    pub words: Vec<At<Name>>,
    /// The whole of it.
    pub span: Span,
}

impl fmt::Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, word) in self.words.iter().enumerate() {
            if i > 0 {
                f.write_str(".")?;
            }
            f.write_str(word.value.as_str())?;
        }
        Ok(())
    }
}

/// A condition with its own text, so that people can be shown why a step is not applicable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Condition {
    /// The text as the author wrote it.
    pub text: String,
    /// The parsed condition.
    pub expr: Expr<Path>,
    /// Where it stands.
    pub span: Span,
}

/// How two values are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Comparison {
    /// `==`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    LessOrEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterOrEqual,
}

/// `+ - * /`
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Arithmetic {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
}

/// A fold over positions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fold {
    /// True when one member is.
    Any,
    /// True when every member is.
    All,
    /// How many members are true.
    Count,
    /// The sum of the members.
    Sum,
    /// The least member.
    Min,
    /// The greatest member.
    Max,
    /// The mean of the members.
    Mean,
}

/// A condition or formula whose names are of type `R`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expr<R> {
    /// A number with or without a unit.
    Quantity(Quantity, Span),
    /// A dotted name: an answer, a setting, a figure, a position, or a bare choice such as `torn`.
    Name(R, Span),
    /// A choice, verdict or text, once typing has told it from a name.
    Word(Name, Span),
    /// `true` or `false`.
    Truth(bool, Span),
    /// `not x`
    Not(Box<Self>, Span),
    /// `x and y and …`
    And(Vec<Self>, Span),
    /// `x or y or …`
    Or(Vec<Self>, Span),
    /// `x < y`
    Compare(Comparison, Box<Self>, Box<Self>, Span),
    /// `x in y` (`torn in diaphragm`)
    In(Box<Self>, Box<Self>, Span),
    /// `x + y`
    Arithmetic(Arithmetic, Box<Self>, Box<Self>, Span),
    /// `-x`
    Negate(Box<Self>, Span),
    /// `any(x)` as parsed, with one member; with one member per position once resolved.
    Fold(Fold, Vec<Self>, Span),
    /// `answered(x)`: true where the step was asked and answered.
    Answered(R, Span),
}

impl<R> Expr<R> {
    /// Where the expression was written.
    pub fn span(&self) -> Span {
        match self {
            Self::Quantity(_, span)
            | Self::Name(_, span)
            | Self::Word(_, span)
            | Self::Truth(_, span)
            | Self::Not(_, span)
            | Self::And(_, span)
            | Self::Or(_, span)
            | Self::Compare(_, _, _, span)
            | Self::In(_, _, span)
            | Self::Arithmetic(_, _, _, span)
            | Self::Negate(_, span)
            | Self::Fold(_, _, span)
            | Self::Answered(_, span) => *span,
        }
    }

    /// Calls `seen` with every name in the expression and its place.
    pub fn each_name<'a>(&'a self, seen: &mut dyn FnMut(&'a R, Span)) {
        match self {
            Self::Quantity(..) | Self::Word(..) | Self::Truth(..) => {}
            Self::Name(name, span) | Self::Answered(name, span) => seen(name, *span),
            Self::Not(inner, _) | Self::Negate(inner, _) => inner.each_name(seen),
            Self::And(members, _) | Self::Or(members, _) | Self::Fold(_, members, _) => {
                for member in members {
                    member.each_name(seen);
                }
            }
            Self::Compare(_, left, right, _)
            | Self::In(left, right, _)
            | Self::Arithmetic(_, left, right, _) => {
                left.each_name(seen);
                right.each_name(seen);
            }
        }
    }
}
