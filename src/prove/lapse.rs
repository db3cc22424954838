//! States that may lapse at any place: a break, other hands or a time takes them away, and the step that
//! set them is asked again there and then.

use std::collections::{BTreeMap, BTreeSet};

use super::facts::Facts;
use super::watch::{Look, Mark, Watch};
use crate::ids::TokenId;
use crate::procedure::model::Token;
use crate::walk::flow::{Flow, InstanceIdx, Node, NodeIdx};

/// What has to be so when a step is asked again because the state that it sets has lapsed.
#[derive(Debug, Clone, Default)]
pub(super) struct Again {
    /// The states that it needs, with their facts.
    pub(super) needs: Vec<(TokenId, Option<u32>)>,
    /// Promises that look at it, with the facts of their marks.
    pub(super) firsts: Vec<(usize, Vec<u32>)>,
}

/// The states that may lapse at any place and whose setters need another state or stand in a
/// promise, with all that the setters need. What the promises look at is kept to the end.
pub(super) fn lapses(
    flow: &Flow,
    facts: &Facts,
    watch: &mut Watch,
) -> BTreeMap<TokenId, BTreeSet<TokenId>> {
    let mut lapses: BTreeMap<TokenId, BTreeSet<TokenId>> = BTreeMap::new();
    let may_expire = |token: &TokenId| flow.tokens.get(token).is_some_and(Token::may_expire);
    for (number, instance) in flow.instances.iter().enumerate() {
        let node = facts.node_of.get(number).copied().unwrap_or(0);
        let looks = watch.looks.get(&node).cloned().unwrap_or_default();
        let promised = looks.iter().any(|look| matches!(look, Look::First { .. }));
        for token in instance.sets.iter().filter(|token| may_expire(token)) {
            if instance.needs.is_empty() && !promised {
                continue;
            }
            lapses.entry(token.clone()).or_default().extend(instance.needs.iter().cloned());
            for other in instance.needs.iter().filter(|token| may_expire(token)) {
                lapses.entry(other.clone()).or_default();
            }
            for look in &looks {
                let Look::First { marks: Some(marks), .. } = look else { continue };
                for mark in marks {
                    if let Some(place) = watch.places.get_mut(*mark as usize) {
                        place.last_use = flow.nodes.len();
                    }
                }
            }
        }
    }
    lapses
}

/// What has to be so when the step that set a state is asked again, by step.
pub(super) fn again(
    flow: &Flow,
    (facts, watch): (&Facts, &Watch),
    (tokens, lapsing): (&BTreeMap<TokenId, u32>, &BTreeSet<u32>),
    first_place: u32,
) -> BTreeMap<InstanceIdx, Again> {
    let mut all = BTreeMap::new();
    for (number, instance) in flow.instances.iter().enumerate() {
        let lapses = |token: &TokenId| tokens.get(token).is_some_and(|fact| lapsing.contains(fact));
        if !instance.sets.iter().any(lapses) {
            continue;
        }
        let needs = instance.needs.iter().map(|token| (token.clone(), tokens.get(token).copied()));
        let node = facts.node_of.get(number).copied().unwrap_or(0);
        let looks = watch.looks.get(&node).into_iter().flatten();
        let firsts = looks.filter_map(|look| match look {
            Look::First { promise, marks: Some(marks) } => {
                Some((*promise, marks.iter().map(|mark| first_place + mark).collect()))
            }
            Look::First { marks: None, .. } | Look::Never { .. } => None,
        });
        let again = Again { needs: needs.collect(), firsts: firsts.collect() };
        all.insert(number, again);
    }
    all
}

/// The nodes where a person is asked and something that a lapse hangs on may have changed since they
/// were asked before. At all others a lapse breaks what it broke there already, on a shorter way.
pub(super) fn lapses_anew(
    flow: &Flow,
    watch: &Watch,
    (tokens, again): (&BTreeMap<TokenId, u32>, &BTreeMap<InstanceIdx, Again>),
    first_place: u32,
) -> Vec<bool> {
    let facts: BTreeSet<u32> = again
        .values()
        .flat_map(|again| {
            let needs = again.needs.iter().filter_map(|(_, fact)| *fact);
            needs.chain(again.firsts.iter().flat_map(|(_, marks)| marks.iter().copied()))
        })
        .collect();
    let changes = |number: InstanceIdx| {
        let instance = flow.instance(number);
        let states = instance.sets.iter().chain(&instance.clears).filter_map(|t| tokens.get(t));
        let marks = watch.marks.get(&number).into_iter().flatten().map(|mark| match mark {
            Mark::ByVerdict(place) | Mark::Set(place) | Mark::Void(place) => first_place + place,
        });
        again.contains_key(&number) || states.copied().chain(marks).any(|f| facts.contains(&f))
    };
    let mut anew = vec![false; flow.nodes.len()];
    anew.first_mut().into_iter().for_each(|node| *node = true);
    for (at, node) in flow.nodes.iter().enumerate() {
        let is_anew = anew.get(at).copied().unwrap_or(true);
        let mut reach = |to: NodeIdx| {
            anew.get_mut(to).into_iter().for_each(|node| *node = true);
        };
        match node {
            Node::Ask { instance, to: Some(to) } if changes(*instance) => reach(*to),
            Node::Test { yes, no, .. } if is_anew => {
                reach(*yes);
                reach(*no);
            }
            Node::Performed { to, .. } if is_anew => reach(*to),
            Node::Ask { .. } | Node::Test { .. } | Node::Performed { .. } | Node::End => {}
        }
    }
    let asks = |node: &Node| matches!(node, Node::Ask { .. } | Node::End);
    anew.iter().zip(&flow.nodes).map(|(anew, node)| *anew && asks(node)).collect()
}
