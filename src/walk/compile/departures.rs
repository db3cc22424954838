//! Where a person may depart from the procedure, with a signature: leave a step out, do it
//! otherwise, or put another verdict in place of the rules' own.
//!
//! Never where something hangs on the step: a state that it sets, a hold, a promise, a condition.
//! So no departure can lead anywhere that was not proved.

use std::collections::BTreeSet;

use super::Builder;
use crate::diag::{Code, Diagnostic};
use crate::expr::Expr;
use crate::procedure::model::EntryKind;
use crate::walk::flow::{Ask, Deviation, Field, Guard, InstanceIdx, Ref};

impl Builder<'_> {
    /// Notes at every instance whether it allows a deviation, and reports concessions where there
    /// can be none.
    pub(super) fn departures(&mut self) {
        let shares = self.instances.iter().flat_map(|instance| {
            let is_reading = matches!(instance.ask, Ask::Measure(_));
            if is_reading { instance.ask.formulas() } else { Vec::new() }
        });
        let read = reads(
            self.guards
                .iter()
                .filter_map(|guard| match guard {
                    Guard::Condition { expr, .. } => Some(expr),
                    Guard::Outcome { .. } | Guard::FitOut { .. } => None,
                })
                .chain(shares),
        );
        let promise_reads =
            reads(self.resolved_promises.iter().filter_map(|promise| promise.when.as_ref()));
        let promised: BTreeSet<InstanceIdx> = self
            .resolved_promises
            .iter()
            .flat_map(|promise| promise.target.iter().chain(&promise.first))
            .copied()
            .collect();
        for (index, instance) in self.instances.iter_mut().enumerate() {
            if instance.deviation != Deviation::Allowed {
                continue;
            }
            let hangs = read.iter().chain(&promise_reads).any(|(i, _)| *i == index);
            let barred = if let Some(why) = never(&instance.ask) {
                Some(why)
            } else if !instance.sets.is_empty() || !instance.clears.is_empty() {
                Some(
                    "a state of the machine hangs on it; stop the work and ask the author of the \
                     procedure",
                )
            } else if promised.contains(&index) {
                Some("the procedure promises something about it; stop the work and ask the author")
            } else if hangs {
                Some(
                    "later steps hang on its answer; answer it, or stop the work and ask the author",
                )
            } else {
                None
            };
            if let Some(why) = barred {
                instance.deviation = Deviation::Barred(why);
            }
        }
        for (index, span) in &self.concessions {
            let Some(instance) = self.instances.get(*index) else { continue };
            let judges =
                matches!(instance.ask, Ask::Check { .. } | Ask::Look { .. } | Ask::Measure(_));
            let why = if !judges {
                "the step gives no decision that another could take the place of"
            } else if !instance.sets.is_empty() || !instance.clears.is_empty() {
                "a state of the machine hangs on this step"
            } else if promise_reads.contains(&(*index, Field::Verdict)) {
                "a promise of this procedure reads its decision"
            } else {
                continue;
            };
            self.out.push(
                Diagnostic::error(
                    Code::NoConcession,
                    *span,
                    format!("no concession can be given here: {why}"),
                )
                .help("take `concession` out"),
            );
        }
    }
}

/// Why a question is never left out or done otherwise, whatever hangs on it.
fn never(ask: &Ask) -> Option<&'static str> {
    match ask {
        Ask::Hold(_) => Some("a hold point is passed by its signature only"),
        Ask::Stop(_) => Some("the job ends there"),
        Ask::Needs(_) => Some("the work begins with it"),
        Ask::Decide { .. } => Some("it is a decision already"),
        Ask::Enter { kind: EntryKind::FitOut | EntryKind::Serial, .. } => {
            Some("the job must be about the right machine")
        }
        Ask::Measure(note) if note.second_of.is_some() => Some("two independent readings are two"),
        Ask::WorkOut(_) => Some("the program works it out"),
        Ask::Build { .. } | Ask::Tighten(_) => {
            Some("what does not go as written is entered as not so, and a mechanic decides")
        }
        Ask::Do(_)
        | Ask::Check { .. }
        | Ask::Look { .. }
        | Ask::Measure(_)
        | Ask::Enter { .. }
        | Ask::Attach { .. }
        | Ask::Wait { .. } => None,
    }
}

/// What the conditions read.
fn reads<'e>(conditions: impl Iterator<Item = &'e Expr<Ref>>) -> BTreeSet<(InstanceIdx, Field)> {
    let mut found = BTreeSet::new();
    for expr in conditions {
        expr.each_name(&mut |name, _| {
            if let Ref::Answer { passes, field } = name {
                found.extend(passes.iter().map(|index| (*index, *field)));
            }
        });
    }
    found
}
