//! Stacks: their layers held against the parts.

use std::collections::BTreeMap;

use super::entries;
use crate::diag::{Code, Diagnostic, suggestion};
use crate::equipment::stack::{Layer, Stack};
use crate::ids::Name;
use crate::language::take::{self, Lower, optional};
use crate::language::{Profile, Toward, head};
use crate::source::At;
use crate::yaml::Node;

pub(super) fn stacks(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<Name, Stack>> {
    let stacks: Vec<Option<(Name, Stack)>> = entries(root, "stacks")
        .iter()
        .map(|(key, node)| {
            let stack = stack(root, key, node, lower);
            Some((take::key_name(key)?.value, stack?))
        })
        .collect();
    stacks.into_iter().collect()
}

fn stack(root: &Node, key: &At<String>, node: &Node, lower: &mut Lower<'_>) -> Option<Stack> {
    let nodes = node.get("layers").map_or(&[][..], Node::items);
    let names: Vec<At<String>> =
        nodes.iter().filter_map(|n| n.get("layer").and_then(take::text_at)).collect();
    lower.unique(&names, "layers");
    if !nodes.is_empty() && nodes.iter().all(|layer| layer.get("when").is_some()) {
        let headline = format!("every layer of `{}` can drop out", key.value);
        let help = "leave one layer without `when`; a step with nothing to lay has no end";
        lower.error(Code::BadValue, key.span, headline, help);
    }
    let layers: Vec<Option<Layer>> = nodes.iter().map(|n| layer(root, n, lower)).collect();
    Some(Stack {
        title: take::text(node.get("title")?)?,
        layers: layers.into_iter().collect::<Option<_>>()?,
        span: key.span,
    })
}

fn layer(root: &Node, node: &Node, lower: &mut Lower<'_>) -> Option<Layer> {
    let when = optional(node.get("when"), |when| lower.condition(when));
    let parts: Vec<&str> = entries(root, "parts").iter().map(|(k, _)| k.value.as_str()).collect();
    if let Some(part) = node.get("part")
        && let Some(text) = part.text()
        && Name::new(text).is_ok()
        && !parts.contains(&text)
    {
        let help = match suggestion(text, parts.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "declare it under `parts`".to_owned(),
        };
        let headline = format!("there is no part `{text}`");
        lower.error(Code::BadValue, part.span, headline, &help);
    }
    let (face, toward) = (node.get("face"), node.get("toward"));
    if face.is_some() != toward.is_some() {
        lower.report(
            Diagnostic::error(
                Code::MissingKey,
                head(node),
                "`face` says which face is marked and `toward` where it points; give both",
            )
            .help("add the other one, or take both out where the layer may lie either way up"),
        );
        return None;
    }
    let face = match (face, toward) {
        (Some(face), Some(toward)) => Some((take::text(face)?, Toward::parse(toward.text()?)?)),
        _ => None,
    };
    Some(Layer {
        layer: take::name(node.get("layer")?)?,
        part: take::name(node.get("part")?)?,
        face,
        profile: optional(node.get("profile"), |word| Profile::parse(word.text()?))?
            .unwrap_or(Profile::Block),
        title: optional(node.get("title"), take::text)?,
        when: when?,
    })
}
