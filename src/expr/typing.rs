//! Whether the parts of a condition fit together: types, dimensions and choices.
//!
//! A caller says what each name is; this module turns bare words next to a choice into words and
//! checks the rest. It runs before anything is asked, so no walk meets 1 mm plus a plain number.

use crate::diag::{Code, Diagnostic, suggestion};
use crate::ids::Name;
use crate::source::Span;
use crate::units::Dimension;

use super::ast::{Arithmetic, Comparison, Expr, Fold};

/// The words of a verdict.
pub const VERDICT_WORDS: [&str; 5] = ["accept", "rework", "replace", "refer", "stop"];

/// What an expression is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Type {
    /// True or false.
    Truth,
    /// A quantity of a dimension.
    Quantity(Dimension),
    /// A verdict: one of [`VERDICT_WORDS`].
    Verdict,
    /// One of the words.
    Choice {
        /// Whose words they are, to follow "none of": ``the findings of `diaphragm` ``.
        of: String,
        /// The words.
        words: Vec<Name>,
    },
    /// Any number of the words: several findings.
    Several {
        /// Whose words they are, as in [`Type::Choice`].
        of: String,
        /// The words.
        words: Vec<Name>,
    },
    /// Free text.
    Text,
    /// A step without a value, which only `answered(…)` may name.
    Nothing,
}

impl Type {
    /// The type for messages.
    pub fn noun(&self) -> String {
        match self {
            Self::Truth => "true or false".to_owned(),
            Self::Quantity(dimension) => dimension.noun().to_owned(),
            Self::Verdict => "a verdict".to_owned(),
            Self::Choice { of, .. } => format!("one of {of}"),
            Self::Several { of, .. } => format!("several of {of}"),
            Self::Text => "a text".to_owned(),
            Self::Nothing => "a step without a value".to_owned(),
        }
    }

    /// The words that may stand beside this type, and whose they are.
    fn words(&self) -> Option<(Vec<&str>, &str)> {
        match self {
            Self::Verdict => Some((VERDICT_WORDS.to_vec(), "the verdicts")),
            Self::Choice { of, words } | Self::Several { of, words } => {
                Some((words.iter().map(Name::as_str).collect(), of))
            }
            Self::Truth | Self::Quantity(_) | Self::Text | Self::Nothing => None,
        }
    }
}

/// Checks that everything in `expr` fits together, and tells words from names.
///
/// `type_of` says what a name is. `word_of` gives the word of a "name" that stands for nothing but
/// may be a choice; `type_of` is never asked about such a one.
///
/// # Errors
/// Everything that does not fit.
pub fn check<R>(
    expr: Expr<R>,
    type_of: &dyn Fn(&R) -> Type,
    word_of: &dyn Fn(&R) -> Option<Name>,
) -> Result<(Expr<R>, Type), Vec<Diagnostic>> {
    let mut typing = Typing { type_of, word_of, diagnostics: Vec::new() };
    let (expr, found) = typing.expr(expr);
    match found {
        Some(found) if typing.diagnostics.is_empty() => Ok((expr, found)),
        _ => Err(typing.diagnostics),
    }
}

/// Like [`check`], for a place that needs true or false.
///
/// # Errors
/// Everything that does not fit, and an expression that is neither true nor false.
pub fn check_condition<R>(
    expr: Expr<R>,
    type_of: &dyn Fn(&R) -> Type,
    word_of: &dyn Fn(&R) -> Option<Name>,
) -> Result<Expr<R>, Vec<Diagnostic>> {
    let mut typing = Typing { type_of, word_of, diagnostics: Vec::new() };
    let expr = typing.truth(expr);
    if typing.diagnostics.is_empty() { Ok(expr) } else { Err(typing.diagnostics) }
}

/// What a condition may name.
const NAMED: &str =
    "name a step before this one, a setting, a position or a figure of the equipment file";

struct Typing<'a, R> {
    type_of: &'a dyn Fn(&R) -> Type,
    word_of: &'a dyn Fn(&R) -> Option<Name>,
    diagnostics: Vec<Diagnostic>,
}

/// An expression with its type; `None` once its fault has been reported.
type Typed<R> = (Expr<R>, Option<Type>);

impl<R> Typing<'_, R> {
    /// Reports once: the members of a fold over positions all stand at the same place.
    fn report(&mut self, diagnostic: Diagnostic) {
        if !self.diagnostics.contains(&diagnostic) {
            self.diagnostics.push(diagnostic);
        }
    }

    fn undefined(&mut self, word: &Name, span: Span) {
        self.report(
            Diagnostic::error(
                Code::UndefinedName,
                span,
                format!("`{word}` stands for nothing here"),
            )
            .help(NAMED),
        );
    }

    fn bare_word(&self, expr: &Expr<R>) -> Option<(Name, Span)> {
        match expr {
            Expr::Name(name, span) => (self.word_of)(name).map(|word| (word, *span)),
            Expr::Word(word, span) => Some((word.clone(), *span)),
            _ => None,
        }
    }

    fn expr(&mut self, expr: Expr<R>) -> Typed<R> {
        match expr {
            Expr::Quantity(quantity, span) => {
                let found = Type::Quantity(quantity.dimension);
                (Expr::Quantity(quantity, span), Some(found))
            }
            Expr::Name(name, span) => {
                let found = self.name(&name, span);
                (Expr::Name(name, span), found)
            }
            Expr::Word(word, span) => {
                self.undefined(&word, span);
                (Expr::Word(word, span), None)
            }
            Expr::Truth(truth, span) => (Expr::Truth(truth, span), Some(Type::Truth)),
            Expr::Not(inner, span) => {
                (Expr::Not(Box::new(self.truth(*inner)), span), Some(Type::Truth))
            }
            Expr::And(members, span) => (Expr::And(self.truths(members), span), Some(Type::Truth)),
            Expr::Or(members, span) => (Expr::Or(self.truths(members), span), Some(Type::Truth)),
            Expr::Compare(sign, left, right, span) => {
                let (left, right) = self.compare(sign, *left, *right, span);
                (Expr::Compare(sign, Box::new(left), Box::new(right), span), Some(Type::Truth))
            }
            Expr::In(left, right, span) => {
                let (left, right) = self.within(*left, *right, span);
                (Expr::In(Box::new(left), Box::new(right), span), Some(Type::Truth))
            }
            Expr::Arithmetic(sign, left, right, span) => {
                let (left, one) = self.quantity(*left);
                let (right, other) = self.quantity(*right);
                let found = match (one, other) {
                    (Some(one), Some(other)) => self.arithmetic(sign, one, other, span),
                    _ => None,
                };
                let expr = Expr::Arithmetic(sign, Box::new(left), Box::new(right), span);
                (expr, found.map(Type::Quantity))
            }
            Expr::Negate(inner, span) => {
                let (inner, found) = self.quantity(*inner);
                (Expr::Negate(Box::new(inner), span), found.map(Type::Quantity))
            }
            Expr::Fold(fold, members, span) => self.fold(fold, members, span),
            Expr::Answered(name, span) => {
                if let Some(word) = (self.word_of)(&name) {
                    self.undefined(&word, span);
                }
                (Expr::Answered(name, span), Some(Type::Truth))
            }
        }
    }

    fn name(&mut self, name: &R, span: Span) -> Option<Type> {
        if let Some(word) = (self.word_of)(name) {
            self.undefined(&word, span);
            return None;
        }
        let found = (self.type_of)(name);
        if found == Type::Nothing {
            self.report(
                Diagnostic::error(Code::TypeMismatch, span, "this step has no value")
                    .help("ask for its `.verdict`, or whether it is `answered(…)`"),
            );
            return None;
        }
        Some(found)
    }

    fn truth(&mut self, expr: Expr<R>) -> Expr<R> {
        let span = expr.span();
        let (expr, found) = self.expr(expr);
        let help = match &found {
            None | Some(Type::Truth) => return expr,
            Some(Type::Quantity(_)) => "compare it with a figure, such as `x >= 44.6 mm`",
            Some(Type::Several { .. }) => "ask with `in`, such as `torn in x`",
            Some(_) => "compare it with `==` or `!=`",
        };
        let noun = found.map_or_else(String::new, |found| found.noun());
        self.report(
            Diagnostic::error(
                Code::TypeMismatch,
                span,
                format!("a condition is true or false; this is {noun}"),
            )
            .help(help),
        );
        expr
    }

    fn truths(&mut self, members: Vec<Expr<R>>) -> Vec<Expr<R>> {
        members.into_iter().map(|member| self.truth(member)).collect()
    }

    fn quantity(&mut self, expr: Expr<R>) -> (Expr<R>, Option<Dimension>) {
        let span = expr.span();
        let (expr, found) = self.expr(expr);
        match found {
            Some(Type::Quantity(dimension)) => (expr, Some(dimension)),
            None => (expr, None),
            Some(other) => {
                self.report(Diagnostic::error(
                    Code::TypeMismatch,
                    span,
                    format!("a figure is needed here; this is {}", other.noun()),
                ));
                (expr, None)
            }
        }
    }

    fn compare(
        &mut self,
        sign: Comparison,
        left: Expr<R>,
        right: Expr<R>,
        span: Span,
    ) -> (Expr<R>, Expr<R>) {
        let (at_left, at_right) = (left.span(), right.span());
        let (left, one, right, other) = match (self.bare_word(&left), self.bare_word(&right)) {
            (None, Some(word)) => {
                let (left, one) = self.expr(left);
                let (right, other) = self.word(right, word, one.as_ref());
                (left, one, right, other)
            }
            (Some(word), None) => {
                let (right, other) = self.expr(right);
                let (left, one) = self.word(left, word, other.as_ref());
                (left, one, right, other)
            }
            // One of the two is misspelt; the other would then be known.
            (Some((one, _)), Some((other, _))) => {
                self.report(
                    Diagnostic::error(
                        Code::UndefinedName,
                        span,
                        format!("neither `{one}` nor `{other}` stands for anything here"),
                    )
                    .help(NAMED),
                );
                (left, None, right, None)
            }
            (None, None) => {
                let (left, one) = self.expr(left);
                let (right, other) = self.expr(right);
                (left, one, right, other)
            }
        };
        if let (Some(one), Some(other)) = (one, other) {
            self.comparable(sign, (&one, at_left), (&other, at_right), span);
        }
        (left, right)
    }

    /// A bare word beside something of type `beside`.
    fn word(&mut self, expr: Expr<R>, word: (Name, Span), beside: Option<&Type>) -> Typed<R> {
        let (word, span) = word;
        let Some(beside) = beside else { return (expr, None) };
        let Some((known, of)) = beside.words() else {
            self.undefined(&word, span);
            return (expr, None);
        };
        if !known.contains(&word.as_str()) {
            let help = suggestion(word.as_str(), known.iter().copied()).map_or_else(
                || format!("there are {}", spoken_list(&known)),
                |meant| format!("did you mean `{meant}`?"),
            );
            self.report(
                Diagnostic::error(Code::TypeMismatch, span, format!("`{word}` is none of {of}"))
                    .help(help),
            );
            return (Expr::Word(word, span), None);
        }
        let found = match beside {
            Type::Several { of, words } => Type::Choice { of: of.clone(), words: words.clone() },
            other => other.clone(),
        };
        (Expr::Word(word, span), Some(found))
    }

    fn comparable(
        &mut self,
        sign: Comparison,
        (one, at_one): (&Type, Span),
        (other, at_other): (&Type, Span),
        span: Span,
    ) {
        let nouns = (one.noun(), other.noun());
        let in_order = !matches!(sign, Comparison::Equal | Comparison::NotEqual);
        let (code, headline, help) = match (one, other) {
            (Type::Quantity(a), Type::Quantity(b)) if a == b => return,
            (Type::Quantity(a), Type::Quantity(b)) => (
                Code::DimensionMismatch,
                format!("{} is compared with {}", nouns.0, nouns.1),
                a.mend(*b).unwrap_or("give both sides a unit of the same kind, such as `3 mm`"),
            ),
            (Type::Several { .. }, _) | (_, Type::Several { .. }) => (
                Code::TypeMismatch,
                "several findings cannot be compared".to_owned(),
                "ask for one of them with `in`, such as `torn in diaphragm`",
            ),
            _ if !may_be_equal(one, other) => (
                Code::TypeMismatch,
                format!("{} is compared with {}", nouns.0, nouns.1),
                "compare things of the same kind",
            ),
            _ if in_order => (
                Code::TypeMismatch,
                "only figures are less or greater".to_owned(),
                "compare with `==` or `!=`",
            ),
            _ => return,
        };
        self.report(
            Diagnostic::error(code, span, headline)
                .related(at_one, nouns.0)
                .related(at_other, nouns.1)
                .help(help),
        );
    }

    fn within(&mut self, left: Expr<R>, right: Expr<R>, span: Span) -> (Expr<R>, Expr<R>) {
        let at_right = right.span();
        let (right, list) = self.expr(right);
        let (left, item) = match self.bare_word(&left) {
            Some(word) => self.word(left, word, list.as_ref()),
            None => self.expr(left),
        };
        match (item, list) {
            (Some(item), Some(list @ Type::Several { .. }))
                if !may_be_equal(&item, &one_of(&list)) =>
            {
                self.report(Diagnostic::error(
                    Code::TypeMismatch,
                    span,
                    format!("{} is never among {}", item.noun(), list.noun()),
                ));
            }
            (_, None | Some(Type::Several { .. })) => {}
            (_, Some(list)) => self.report(
                Diagnostic::error(
                    Code::TypeMismatch,
                    at_right,
                    format!("`in` looks among several findings; this is {}", list.noun()),
                )
                .help("compare it with `==`"),
            ),
        }
        (left, right)
    }

    fn arithmetic(
        &mut self,
        sign: Arithmetic,
        one: Dimension,
        other: Dimension,
        span: Span,
    ) -> Option<Dimension> {
        let (found, words) = match sign {
            Arithmetic::Add => (one.plus(other), "added to"),
            Arithmetic::Subtract => (one.minus(other), "in a difference with"),
            Arithmetic::Multiply => (one.times(other), "multiplied by"),
            Arithmetic::Divide => (one.over(other), "divided by"),
        };
        if found.is_none() {
            let mend = one.mend(other);
            let (one, other) = (one.noun(), other.noun());
            self.report(
                Diagnostic::error(
                    Code::DimensionMismatch,
                    span,
                    format!("{one} cannot be {words} {other}"),
                )
                .help(match sign {
                    Arithmetic::Add | Arithmetic::Subtract => {
                        mend.unwrap_or("give both sides a unit of the same kind, such as `3 mm`")
                    }
                    Arithmetic::Multiply | Arithmetic::Divide => {
                        "no kind of figure comes of it; look at the units of both sides"
                    }
                }),
            );
        }
        found
    }

    fn fold(&mut self, fold: Fold, members: Vec<Expr<R>>, span: Span) -> Typed<R> {
        if matches!(fold, Fold::Any | Fold::All | Fold::Count) {
            let members = self.truths(members);
            let found = match fold {
                Fold::Count => Type::Quantity(Dimension::Number),
                _ => Type::Truth,
            };
            return (Expr::Fold(fold, members, span), Some(found));
        }
        let mut dimension = None;
        let mut is_sound = true;
        let mut checked = Vec::with_capacity(members.len());
        for member in members {
            let at = member.span();
            let (member, found) = self.quantity(member);
            checked.push(member);
            match (found, dimension) {
                (None, _) => is_sound = false,
                (Some(found), Some(known)) if found != known => {
                    is_sound = false;
                    self.report(Diagnostic::error(
                        Code::DimensionMismatch,
                        at,
                        "this is not the same kind of figure at every position",
                    ));
                }
                (found, _) => dimension = found,
            }
        }
        if let (Fold::Sum, Some(dimension)) = (fold, dimension)
            && dimension.plus(dimension).is_none()
        {
            is_sound = false;
            let headline = format!("the sum of {}s means nothing", dimension.noun());
            self.report(
                Diagnostic::error(Code::DimensionMismatch, span, headline)
                    .help("take the mean, the least or the greatest of them"),
            );
        }
        let found = is_sound.then(|| Type::Quantity(dimension.unwrap_or(Dimension::Number)));
        (Expr::Fold(fold, checked, span), found)
    }
}

/// The type of one member of several findings.
fn one_of(list: &Type) -> Type {
    match list {
        Type::Several { of, words } => Type::Choice { of: of.clone(), words: words.clone() },
        other => other.clone(),
    }
}

/// Whether values of the two types can ever be equal.
fn may_be_equal(one: &Type, other: &Type) -> bool {
    match (one, other) {
        (Type::Choice { words: a, .. }, Type::Choice { words: b, .. }) => {
            a.iter().any(|word| b.contains(word))
        }
        (Type::Quantity(a), Type::Quantity(b)) => a == b,
        (Type::Truth, Type::Truth) | (Type::Verdict, Type::Verdict) | (Type::Text, Type::Text) => {
            true
        }
        _ => false,
    }
}

fn spoken_list(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => "no words".to_owned(),
    }
}

#[cfg(test)]
#[path = "typing_tests.rs"]
mod tests;
