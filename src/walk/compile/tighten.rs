//! What a tightening step asks: the fasteners, the torque and the passes.

use super::super::flow::{Ask, ExitNote};
use super::super::tighten::TightenNote;
use super::Builder;
use crate::diag::{Code, Diagnostic};
use crate::equipment::model::NamedLimit;
use crate::ids::{FigureId, Name};
use crate::procedure::model::{Action, Step};
use crate::source::At;
use crate::units::{Dimension, Quantity};

impl Builder<'_> {
    pub(super) fn tighten(&mut self, step: &Step) -> Option<Ask> {
        let Action::Tighten {
            text,
            fasteners,
            torque,
            with,
            passes,
            on_redo,
            recheck_limit,
            not_so,
        } = &step.action
        else {
            return None;
        };
        let equipment = self.equipment;
        let set = equipment.fasteners.get(&fasteners.value);
        if set.is_none() {
            let known = equipment.fasteners.keys().map(Name::as_str);
            self.unknown(fasteners.span, "set of fasteners", fasteners.value.as_str(), known);
        }
        let named = self.torque(torque);
        let recheck = match recheck_limit {
            Some(limit) => Some(self.torque(limit)?.criterion.limit),
            None => None,
        };
        let (set, named) = (set?, named?);
        let Some(aim) = aim(&named) else {
            self.out.push(
                Diagnostic::error(
                    Code::BadLimit,
                    torque.span,
                    format!("`{}` has one bound only, so no wrench can be set to it", torque.value),
                )
                .help("give it `nominal` with `plus` and `minus`, or `between`"),
            );
            return None;
        };
        Some(Ask::Tighten(Box::new(TightenNote {
            text: text.clone(),
            fasteners: set.title.clone(),
            order: set.order.clone(),
            condition: set.condition,
            thread: set.thread.clone(),
            torque: named.criterion.limit,
            aim,
            basis: step.basis.clone().or(Some(named.basis)),
            with: with.value.clone(),
            passes: passes.clone(),
            on_redo: *on_redo,
            recheck,
            not_so: ExitNote::of(not_so),
        })))
    }

    fn torque(&mut self, figure: &At<FigureId>) -> Option<NamedLimit> {
        let equipment = self.equipment;
        let Some(named) = equipment.limits.get(&figure.value) else {
            let known = equipment.limits.keys().map(FigureId::as_str);
            self.unknown(figure.span, "torque", figure.value.as_str(), known);
            return None;
        };
        let limit = &named.criterion.limit;
        if limit.unit.dimension() != Dimension::Torque {
            self.out.push(Diagnostic::error(
                Code::DimensionMismatch,
                figure.span,
                format!("`{}` is {}, and no torque", figure.value, limit.render()),
            ));
            return None;
        }
        // What reaches the fastener is worked out of the setting; nobody knows its uncertainty.
        if named.criterion.needs_uncertainty() || named.criterion.grades.is_some() {
            let headline = format!("the torque `{}` has a rule or grades of its own", figure.value);
            self.out.push(
                Diagnostic::error(Code::BadLimit, figure.span, headline)
                    .related(named.span, "given here")
                    .help("give a torque plain bounds"),
            );
            return None;
        }
        Some(named.clone())
    }
}

/// The torque that a wrench is set to: the nominal one, or the middle.
fn aim(named: &NamedLimit) -> Option<Quantity> {
    if let Some(nominal) = &named.nominal {
        return Some(nominal.clone());
    }
    let limit = &named.criterion.limit;
    let (least, most) = (limit.at_least.as_ref()?, limit.at_most.as_ref()?);
    least.plus(most)?.over(&Quantity::whole(2))
}
