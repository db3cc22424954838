//! Sets of fasteners: their order held against their number.

use std::collections::BTreeMap;

use super::entries;
use crate::diag::Code;
use crate::equipment::fasteners::{Fasteners, star};
use crate::ids::Name;
use crate::language::Thread;
use crate::language::take::{self, Lower, each, optional};
use crate::source::At;
use crate::yaml::{Kind, Node};

pub(super) fn fasteners(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<Name, Fasteners>> {
    let sets: Vec<Option<(Name, Fasteners)>> = entries(root, "fasteners")
        .iter()
        .map(|(key, node)| {
            let set = set(key, node, lower);
            Some((take::key_name(key)?.value, set?))
        })
        .collect();
    sets.into_iter().collect()
}

fn set(key: &At<String>, node: &Node, lower: &mut Lower<'_>) -> Option<Fasteners> {
    let count = node.get("count").and_then(take::number);
    let order = count.and_then(|count| order(node.get("order")?, count, lower));
    Some(Fasteners {
        title: take::text(node.get("title")?)?,
        order: order?,
        condition: Thread::parse(node.get("condition")?.text()?)?,
        thread: optional(node.get("thread"), take::text)?,
        span: key.span,
    })
}

fn order(node: &Node, count: u32, lower: &mut Lower<'_>) -> Option<Vec<u32>> {
    if !matches!(node.kind, Kind::Seq(_)) {
        let star = star(count);
        if star.is_none() {
            let headline = format!("{count} fasteners have no opposite pairs");
            lower.error(Code::BadValue, node.span, headline, "list the order number by number");
        }
        return star;
    }
    let given: Vec<u32> = each(Some(node), take::number)?;
    let mut sorted = given.clone();
    sorted.sort_unstable();
    if !sorted.into_iter().eq(1..=count) {
        let headline = format!("the order must name each of 1 to {count} once");
        lower.error(Code::BadValue, node.span, headline, "look at the numbers, and at `count`");
        return None;
    }
    Some(given)
}
