//! Exits of inspections, and what follows when a bound is reached.

use super::role;
use super::steps::{count_ref, steps, stop};
use crate::ids::Role;
use crate::language::take::{self, Lower, optional};
use crate::procedure::model::{Exit, Otherwise, Rework, Verdict};
use crate::yaml::Node;

/// An exit, or the exit that a finding carries.
pub(super) fn exit(node: &Node, lower: &mut Lower<'_>) -> Option<Exit> {
    let steps = steps(node.get("steps"), lower);
    let verdict = Verdict::parse(node.get("verdict")?.text()?)?;
    let rework = match verdict {
        Verdict::Rework => Some(Rework {
            at_most: count_ref(node.get("at_most")?)?,
            otherwise: otherwise(node.get("otherwise")?)?,
        }),
        _ => None,
    };
    let stop = match verdict {
        Verdict::Stop => Some(stop(node, "say")?),
        _ => None,
    };
    Some(Exit {
        verdict,
        say: optional(node.get("say"), take::text)?,
        parts: take::names(node.get("parts"))?,
        to: optional(node.get("to"), role)?.unwrap_or(Role::Mechanic),
        steps: steps?,
        rework,
        stop,
        span: node.span,
    })
}

/// What follows when a bound is reached.
pub(super) fn otherwise(node: &Node) -> Option<Otherwise> {
    if node.get("stop").is_some() {
        return stop(node, "stop").map(Otherwise::Stop);
    }
    Some(Otherwise::Refer { to: role(node.get("refer")?)?, say: take::text(node.get("say")?)? })
}
