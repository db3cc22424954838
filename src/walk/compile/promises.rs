//! What procedures promise, resolved to the instances of their steps. Proving it is for `prove`.

use super::Builder;
use crate::diag::{Code, Diagnostic};
use crate::procedure::model::Promise;
use crate::walk::flow::{InstanceIdx, Node, NodeIdx, ResolvedPromise};
use crate::walk::names::{Place, Resolver, StaticPath};

impl Builder<'_> {
    /// Resolves all promises, once every instance is there.
    pub(super) fn promises(&mut self) {
        for (procedure, prefix, promise) in std::mem::take(&mut self.pending_promises) {
            let root_len = prefix.len();
            let place = Place { path: prefix, root_len, positions: Vec::new() };
            let instances_of = |builder: &mut Self, path: &crate::expr::Path| {
                let resolver = Resolver {
                    declared: &builder.declared,
                    instances: &builder.instances,
                    equipment: builder.equipment,
                };
                let Some(step) = resolver.step(path, &place) else {
                    builder.out.push(
                        Diagnostic::error(
                            Code::UndefinedName,
                            path.span,
                            format!("`{path}` is no step of this procedure"),
                        )
                        .help("name a step by its sections: `section.step`"),
                    );
                    return None;
                };
                let mut found = builder.under(&step);
                found.sort_unstable();
                Some((step, found))
            };
            let mut condition = None;
            let mut ends = Vec::new();
            let (target, first) = match &promise {
                Promise::NeverReach { step, when, .. } => {
                    let target = instances_of(self, step);
                    if let (Some((path, _)), Some(when)) = (&target, when) {
                        let mut at = path.clone();
                        at.pop();
                        let positions = Vec::new();
                        condition = self.resolved(when, &Place { path: at, root_len, positions });
                    }
                    (target, None)
                }
                Promise::FirstBefore { first, before, .. } => {
                    let target = if promise.is_about_the_end() {
                        ends = self.ends(&place.path);
                        Some((Vec::new(), Vec::new()))
                    } else {
                        instances_of(self, before)
                    };
                    (target, instances_of(self, first))
                }
            };
            self.resolved_promises.push(ResolvedPromise {
                promise,
                target_depth: target.as_ref().map_or(0, |(path, _)| path.len()),
                first_depth: first.as_ref().map_or(0, |(path, _)| path.len()),
                target: target.map(|(_, found)| found).unwrap_or_default(),
                first: first.map(|(_, found)| found).unwrap_or_default(),
                ends,
                when: condition,
                procedure,
            });
        }
    }

    /// The nodes at which the procedure performed at `prefix` is left by its end: each time that it
    /// is performed, or the end of the job where nothing performs it.
    fn ends(&self, prefix: &StaticPath) -> Vec<NodeIdx> {
        let is_end = |node: &Node| match node {
            Node::End => prefix.is_empty(),
            Node::Performed { address, .. } => {
                address.0.iter().map(|segment| &segment.id).eq(prefix)
            }
            Node::Ask { .. } | Node::Test { .. } => false,
        };
        let nodes = self.nodes.iter().enumerate();
        nodes.filter(|(_, node)| is_end(node)).map(|(at, _)| at).collect()
    }

    /// Every instance at or inside the step or section `path`.
    fn under(&self, path: &StaticPath) -> Vec<InstanceIdx> {
        self.declared
            .instances
            .iter()
            .filter(|(at, _)| at.starts_with(path))
            .flat_map(|(_, found)| found.iter().copied())
            .collect()
    }
}
