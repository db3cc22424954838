//! Tightening: passes that rise to the full torque, and what is done again.

use super::steps::not_so;
use crate::diag::Code;
use crate::language::take::{self, Lower, each, optional};
use crate::language::texts::percent;
use crate::procedure::model::{Action, OnRedo};
use crate::yaml::{Kind, Node};

pub(super) fn tighten(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let not_so = not_so(node, text, "A fastener is not so.", lower);
    let passes = node.get("passes").and_then(|passes| shares(passes, lower));
    let n_given = passes.as_ref().map(Vec::len);
    let on_redo = node.get("on_redo").and_then(|redo| on_redo(redo, n_given, lower));
    let mut passes = passes?;
    if take::flag(node.get("round_more")) {
        passes.push(100);
    }
    Some(Action::Tighten {
        text: take::text(text)?,
        fasteners: take::name(node.get("fasteners")?)?,
        torque: take::name(node.get("torque")?)?,
        with: take::name(node.get("with")?)?,
        passes,
        on_redo: on_redo?,
        recheck_limit: optional(node.get("recheck_limit"), take::name)?,
        not_so: not_so?,
    })
}

/// The shares: rising, the last one whole.
fn shares(node: &Node, lower: &mut Lower<'_>) -> Option<Vec<u32>> {
    let shares: Vec<u32> = each(Some(node), |share| percent(share.text()?))?;
    let rising = shares.iter().zip(shares.iter().skip(1)).all(|(a, b)| a < b);
    if rising && shares.last() == Some(&100) {
        return Some(shares);
    }
    if !shares.is_empty() {
        let headline = "the passes must rise to `100 %`".to_owned();
        let help = "write the shares from small to whole; `round_more` adds a round at the end";
        lower.error(Code::BadValue, node.span, headline, help);
    }
    None
}

fn on_redo(node: &Node, n_passes: Option<usize>, lower: &mut Lower<'_>) -> Option<OnRedo> {
    if !matches!(node.kind, Kind::Map(_)) {
        return match node.text()? {
            "this_one" => Some(OnRedo::ThisOne),
            "all" => Some(OnRedo::All),
            _ => None,
        };
    }
    let from = node.get("from_pass")?;
    let pass = take::number(from)?;
    if n_passes.is_some_and(|n| usize::try_from(pass).is_ok_and(|pass| pass > n)) {
        let headline = format!("there is no pass {pass}");
        lower.error(Code::BadValue, from.span, headline, "count the passes from 1");
        return None;
    }
    Some(OnRedo::FromPass(pass))
}
