//! Whether the members of a block may really be walked in any order: none may read what another
//! writes, so that one order stands for all.

use std::collections::BTreeSet;
use std::ops::Range;

use super::Builder;
use crate::diag::{Code, Diagnostic};
use crate::ids::TokenId;
use crate::procedure::model::EntryKind;
use crate::source::Span;
use crate::walk::flow::{Ask, InstanceIdx, Node, NodeIdx, Ref};

/// What a member writes.
#[derive(Default)]
struct Writes {
    instances: BTreeSet<InstanceIdx>,
    tokens: BTreeSet<TokenId>,
    fit_out: bool,
}

impl Builder<'_> {
    /// A diagnostic for every member of a free block that hangs on another one.
    pub(super) fn dependent_members(&self) -> Vec<Diagnostic> {
        let mut out = Vec::new();
        for (order, span) in &self.any_orders {
            let writes: Vec<Writes> = order.members.iter().map(|m| self.writes(m)).collect();
            for (at, member) in order.members.iter().enumerate() {
                let others =
                    || writes.iter().enumerate().filter(move |(i, _)| *i != at).map(|(_, w)| w);
                if let Some(read) = self.reads(member, &|found| match found {
                    Ref::Answer { passes, .. } => {
                        passes.iter().any(|i| others().any(|w| w.instances.contains(i)))
                    }
                    Ref::Setting(_) => others().any(|w| w.fit_out),
                    Ref::Figure(_) | Ref::Position { .. } | Ref::Word(_) => false,
                }) {
                    out.push(
                        Diagnostic::error(
                            Code::OrderMatters,
                            read,
                            "this reads what another step of the same section answers".to_owned(),
                        )
                        .related(*span, "the section says that its order is free")
                        .help("take `any_order` out, or move this step behind the section"),
                    );
                }
                let touched = self.tokens_read(member);
                if let Some(token) =
                    touched.iter().find(|t| others().any(|w| w.tokens.contains(*t)))
                {
                    out.push(
                        Diagnostic::error(
                            Code::OrderMatters,
                            *span,
                            format!(
                                "`{token}` is set by one of these and needed or set by another"
                            ),
                        )
                        .help("take `any_order` out, or move the step that sets it in front"),
                    );
                }
            }
        }
        out
    }

    fn asked(&self, member: &Range<NodeIdx>) -> impl Iterator<Item = InstanceIdx> {
        let nodes = self.nodes.get(member.clone()).unwrap_or_default();
        nodes.iter().filter_map(|node| match node {
            Node::Ask { instance, .. } => Some(*instance),
            Node::Test { .. } | Node::Performed { .. } | Node::End => None,
        })
    }

    fn writes(&self, member: &Range<NodeIdx>) -> Writes {
        let mut writes = Writes::default();
        for index in self.asked(member) {
            writes.instances.insert(index);
            if let Some(instance) = self.instances.get(index) {
                writes.tokens.extend(instance.sets.iter().chain(&instance.clears).cloned());
                let fit_out = matches!(&instance.ask, Ask::Enter { kind: EntryKind::FitOut, .. });
                writes.fit_out |= fit_out;
            }
        }
        writes
    }

    fn tokens_read(&self, member: &Range<NodeIdx>) -> BTreeSet<TokenId> {
        self.asked(member)
            .filter_map(|index| self.instances.get(index))
            .flat_map(|x| x.sets.iter().chain(&x.clears).chain(&x.needs))
            .cloned()
            .collect()
    }

    /// The first place of `member` that reads something `of_others`.
    fn reads(&self, member: &Range<NodeIdx>, of_others: &dyn Fn(&Ref) -> bool) -> Option<Span> {
        let mut found = None;
        let disturbs = |index: InstanceIdx| self.instances.get(index)?.disturbs.as_ref();
        let disturbed = self.asked(member).filter_map(disturbs);
        for expr in member.clone().flat_map(|node| self.read_at(node)).chain(disturbed) {
            expr.each_name(&mut |name, span| {
                if found.is_none() && of_others(name) {
                    found = Some(span);
                }
            });
        }
        found
    }
}
