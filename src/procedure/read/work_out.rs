//! A figure that the program works out: the calculation, what it is given, the limit of its result.

use super::exits::exit;
use super::steps::{exits_fit, unit};
use crate::language::head;
use crate::language::take::{self, Lower, optional};
use crate::procedure::model::{Action, LimitRef, WorkOut};
use crate::source::At;
use crate::yaml::{Kind, Node};

pub(super) fn work_out(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let unit = unit(node);
    let limit = optional(node.get("limit"), |limit| match limit.kind {
        Kind::Map(_) => {
            let here = lower.limit(limit, head(limit))?;
            exits_fit(node, &here, limit, lower);
            let bound = here.at_least.as_ref().or(here.at_most.as_ref())?;
            let fits = unit.as_ref().is_none_or(|u| lower.same_dimension(bound, head(limit), u));
            fits.then(|| LimitRef::Here(At::new(here, limit.span)))
        }
        _ => Some(LimitRef::Figure(take::name(limit)?)),
    });
    let entries = node.get("given").map_or(&[][..], Node::entries);
    let given: Vec<_> = entries
        .iter()
        .map(|(key, value)| {
            let formulas: Vec<_> = match &value.kind {
                Kind::Seq(list) => list.iter().map(|item| lower.condition(item)).collect(),
                _ => vec![lower.condition(value)],
            };
            Some((take::key_name(key)?, formulas.into_iter().collect::<Option<Vec<_>>>()?))
        })
        .collect();
    let mut taken = |key: &str| optional(node.get(key), |n| exit(n, lower));
    let (below, above, could_not) = (taken("below"), taken("above"), taken("could_not_work_out"));
    Some(Action::WorkOut(Box::new(WorkOut {
        text: take::text(text)?,
        calculation: take::name(node.get("calculation")?)?,
        given: given.into_iter().collect::<Option<_>>()?,
        result: optional(node.get("result"), take::name)?,
        unit: unit?,
        limit: limit?,
        below: below?,
        above: above?,
        could_not_work_out: could_not??,
    })))
}
