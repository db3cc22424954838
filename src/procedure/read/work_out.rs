//! A figure that the program works out: the calculation, what it is given, the limit of its result.

use super::exits::exit;
use super::steps::{limit_ref, unit};
use crate::language::take::{self, Lower, optional};
use crate::procedure::model::{Action, WorkOut};
use crate::yaml::{Kind, Node};

pub(super) fn work_out(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let unit = unit(node);
    let limit = optional(node.get("limit"), |limit| limit_ref(node, limit, unit.as_ref(), lower));
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
