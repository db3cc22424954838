//! Which names are answered on every path: definite assignment, as compilers do it.

use super::flow::{Ask, Field, Instance, InstanceIdx, Node, NodeIdx, Ref};
use crate::diag::{Code, Diagnostic};
use crate::expr::Expr;
use crate::procedure::model::{EntryKind, Verdict};
use crate::source::Span;

/// The graph as far as it matters here.
pub(super) struct Graph<'a> {
    pub(super) nodes: &'a [Node],
    pub(super) instances: &'a [Instance],
}

impl Graph<'_> {
    /// A diagnostic for every name of `expr`, read at node `at`, that some path has not answered.
    pub(super) fn unassigned(&self, expr: &Expr<Ref>, at: NodeIdx) -> Vec<Diagnostic> {
        let mut out = Vec::new();
        self.visit(expr, at, &mut Vec::new(), &mut out);
        out
    }

    fn visit<'e>(
        &self,
        expr: &'e Expr<Ref>,
        at: NodeIdx,
        answered: &mut Vec<&'e Ref>,
        out: &mut Vec<Diagnostic>,
    ) {
        match expr {
            // A member that is not applicable is left out of an aggregate.
            Expr::Quantity(..)
            | Expr::Word(..)
            | Expr::Truth(..)
            | Expr::Answered(..)
            | Expr::Fold(_, _, _) => {}
            Expr::Name(name, span) => out.extend(self.name(name, *span, at, answered)),
            Expr::Not(inner, _) | Expr::Negate(inner, _) => self.visit(inner, at, answered, out),
            Expr::And(members, _) => {
                // `answered(x) and x == torn`: what stands behind the guard may read `x`.
                let known = answered.len();
                for member in members {
                    self.visit(member, at, answered, out);
                    if let Expr::Answered(name, _) = member {
                        answered.push(name);
                    }
                }
                answered.truncate(known);
            }
            Expr::Or(members, _) => {
                // `not answered(x) or x == torn` guards as well.
                let known = answered.len();
                for member in members {
                    self.visit(member, at, answered, out);
                    if let Expr::Not(inner, _) = member
                        && let Expr::Answered(name, _) = inner.as_ref()
                    {
                        answered.push(name);
                    }
                }
                answered.truncate(known);
            }
            Expr::Compare(_, left, right, _)
            | Expr::In(left, right, _)
            | Expr::Arithmetic(_, left, right, _) => {
                self.visit(left, at, answered, out);
                self.visit(right, at, answered, out);
            }
        }
    }

    fn name(&self, name: &Ref, span: Span, at: NodeIdx, answered: &[&Ref]) -> Option<Diagnostic> {
        match name {
            Ref::Figure(_) | Ref::Position { .. } | Ref::Word(_) => None,
            Ref::Setting(setting) => self.no_fit_out(&format!("`{setting}`"), span, at),
            Ref::Answer { passes, field } => {
                let guarded = answered.iter().any(|known| match known {
                    Ref::Answer { passes: p, .. } => p == passes,
                    Ref::Setting(_) | Ref::Figure(_) | Ref::Position { .. } | Ref::Word(_) => false,
                });
                if guarded {
                    return None;
                }
                let id = passes
                    .first()
                    .and_then(|i| self.instances.get(*i))
                    .and_then(|x| x.address.0.last())
                    .map_or_else(String::new, |segment| segment.id.to_string());
                if self.avoidable(passes, at) {
                    let asked = passes.first().and_then(|i| self.instances.get(*i)?.span);
                    let found = Diagnostic::error(
                        Code::NotYetAnswered,
                        span,
                        format!("`{id}` is not answered on every path to this place"),
                    )
                    .label("read here")
                    .help(format!("ask it on every path, or write `answered({id}) and …`"));
                    return Some(match asked {
                        Some(asked) => found.related(asked, "asked here, and not on every path"),
                        None => found,
                    });
                }
                (*field == Field::Value && self.may_lack_a_reading(passes)).then(|| {
                    Diagnostic::error(
                        Code::NotYetAnswered,
                        span,
                        format!("`{id}` has no reading where it could not be measured"),
                    )
                    .help(format!("write `answered({id}) and …`, or read `{id}.verdict`"))
                })
            }
        }
    }

    fn may_lack_a_reading(&self, passes: &[InstanceIdx]) -> bool {
        passes.iter().filter_map(|i| self.instances.get(*i)).any(|instance| {
            let without = if let Ask::Measure(note) = &instance.ask {
                &note.could_not_measure
            } else if let Ask::WorkOut(note) = &instance.ask {
                &note.could_not
            } else {
                return false;
            };
            without.verdict != Verdict::Stop
        })
    }

    /// A diagnostic where the step at node `at` can be reached without the reading that it disturbs, or
    /// names none.
    pub(super) fn disturbed(&self, reading: &Expr<Ref>, at: NodeIdx) -> Option<Diagnostic> {
        let span = reading.span();
        let Expr::Name(Ref::Answer { passes, .. }, _) = reading else {
            let headline = "this is no step that reads or looks at something";
            let fault = Diagnostic::error(Code::UndefinedName, span, headline);
            return Some(fault.help("name the step that must come first"));
        };
        self.avoidable(passes, at).then(|| {
            let headline = "this step can be reached before what it disturbs was read as found";
            Diagnostic::error(Code::NotYetAnswered, span, headline)
                .label("not read on every path to this place")
                .help("read it first on every path: once disturbed it cannot be read again")
        })
    }

    /// A diagnostic where `what`, read at node `at`, is read before the fit-out is entered.
    pub(super) fn no_fit_out(&self, what: &str, span: Span, at: NodeIdx) -> Option<Diagnostic> {
        let fit_outs: Vec<InstanceIdx> = self
            .instances
            .iter()
            .enumerate()
            .filter(|(_, x)| matches!(&x.ask, Ask::Enter { kind: EntryKind::FitOut, .. }))
            .map(|(i, _)| i)
            .collect();
        self.avoidable(&fit_outs, at).then(|| {
            Diagnostic::error(
                Code::NotYetAnswered,
                span,
                format!("{what} comes from the name plate, which is not entered on every path to this place"),
            )
            .help("put an `enter` step of `kind: fit_out` before it")
        })
    }

    /// True when the place `at` can be reached without any of `asked`.
    fn avoidable(&self, asked: &[InstanceIdx], at: NodeIdx) -> bool {
        let mut reached = vec![false; self.nodes.len()];
        if let Some(start) = reached.first_mut() {
            *start = true;
        }
        // Edges lead to greater indices only, so one sweep is enough.
        for (index, node) in self.nodes.iter().enumerate().take(at) {
            if !reached.get(index).copied().unwrap_or(false) {
                continue;
            }
            let targets = match node {
                Node::Ask { instance, to } => {
                    if asked.contains(instance) {
                        [None, None]
                    } else {
                        [*to, None]
                    }
                }
                Node::Test { yes, no, .. } => [Some(*yes), Some(*no)],
                Node::Performed { to, .. } => [Some(*to), None],
                Node::End => [None, None],
            };
            for target in targets.into_iter().flatten() {
                if let Some(mark) = reached.get_mut(target) {
                    *mark = true;
                }
            }
        }
        reached.get(at).copied().unwrap_or(false)
    }
}
