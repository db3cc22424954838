//! What lies beside the step on the screen: the stack of the other side, the other positions.

use super::outline::{OutlineRow, State};
use super::{StackShown, question};
use crate::session::Session;
use crate::walk::Address;
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::place::Status;

/// The same stack, laid the other way round in the same place but for its side, with its name for
/// people: the outlet beside the inlet. `None` for other steps, and where there is no such stack.
pub(super) fn stack(session: &Session, index: InstanceIdx) -> Option<(String, StackShown)> {
    let (flow, state) = (&session.files().flow, session.state());
    let here = flow.instance(index);
    let Ask::Build { stack, flows_to_last, .. } = &here.ask else { return None };
    let same_place = |other: &Address| {
        let differs = |a: &Address, b: &Address| {
            a.positions().any(|(kind, name)| {
                kind.as_str() != "side" && b.positions().any(|(k, n)| k == kind && n != name)
            })
        };
        !differs(other, &here.address)
    };
    let other = flow.instances.iter().position(|other| {
        matches!(&other.ask, Ask::Build { stack: title, flows_to_last: to_last, .. }
            if title == stack && to_last != flows_to_last)
            && same_place(&other.address)
    })?;
    let applies =
        state.walk.status.get(other).is_some_and(|s| !matches!(s, Status::NotApplicable(_)));
    let name = question::positions_text(&flow.instance(other).address)
        .or_else(|| flow.instance(other).within.last().cloned())?;
    applies.then(|| StackShown::of(session, other)).flatten().map(|shown| (name, shown))
}

/// The positions at which the step `address` stands, each with how it stands there; empty where
/// there is only one. Several steps of one position count together: what is open comes first.
pub fn positions(outline: &[OutlineRow], address: &Address) -> Vec<(String, State)> {
    let same_step = |other: &Address| {
        other.0.len() == address.0.len()
            && other.0.iter().zip(&address.0).all(|(a, b)| a.id == b.id)
            && other.positions().count() == address.positions().count()
    };
    let mut found: Vec<(String, State)> = Vec::new();
    for row in outline {
        let Some(at) = row.address.as_ref().filter(|at| same_step(at)) else { continue };
        let values: Vec<String> = at.positions().map(|(_, name)| name.replace('_', " ")).collect();
        let name = values.join(" ");
        if name.is_empty() {
            return Vec::new();
        }
        match found.iter_mut().find(|(known, _)| *known == name) {
            Some((_, state)) => *state = row.state,
            None => found.push((name, row.state)),
        }
    }
    if found.len() > 1 { found } else { Vec::new() }
}
