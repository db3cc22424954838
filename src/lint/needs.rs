//! What must be at hand before step 1 against what the steps use, both ways.

use crate::diag::{Code, Diagnostic, suggestion};
use crate::yaml::Node;

/// Reports what is used and not listed, and what is listed and not used. What a performed
/// procedure uses, it lists itself.
pub(super) fn both_ways(root: &Node, steps: &[&Node]) -> Vec<Diagnostic> {
    let items = |node: Option<&'_ Node>| -> Vec<Node> {
        node.map_or(Vec::new(), |node| {
            if node.text().is_some() { vec![node.clone()] } else { node.items().to_vec() }
        })
    };
    let needs = root.get("needs");
    let mut listed = Vec::new();
    for (list, noun) in [("tools", "tool"), ("supplies", "supply")] {
        let names = items(needs.and_then(|needs| needs.get(list)));
        listed.extend(names.into_iter().map(|name| (noun, name)));
    }
    let mut used: Vec<(Node, &str)> = Vec::new();
    for step in steps {
        used.extend(items(step.get("uses")).into_iter().map(|name| (name, "supplies")));
        // In `enter` and the like `with` does not stand; an instrument is a tool.
        used.extend(items(step.get("with")).into_iter().map(|name| (name, "tools")));
    }
    let mut found = Vec::new();
    let mut told: Vec<String> = Vec::new();
    for (name, list) in &used {
        let Some(text) = name.text() else { continue };
        let is_listed = listed.iter().any(|(_, node)| node.text() == Some(text));
        if is_listed || told.iter().any(|known| known == text) {
            continue;
        }
        told.push(text.to_owned());
        let names = listed.iter().filter_map(|(_, node)| node.text());
        let help = match suggestion(text, names) {
            Some(near) => format!("did you mean `{near}`?"),
            None if *list == "tools" => format!("list it: `needs: {{tools: [{text}]}}`"),
            None => format!("list `{text}` under `tools` or `supplies` of `needs`"),
        };
        found.push(
            Diagnostic::warning(
                Code::NotListed,
                name.span,
                format!("`{text}` is used here and not listed under `needs`"),
            )
            .help(help),
        );
    }
    for (noun, name) in &listed {
        let Some(text) = name.text() else { continue };
        let near = used.iter().filter_map(|(node, _)| node.text());
        let is_used = near.clone().any(|used| used == text);
        // The misspelt use has been reported, with this name as what was meant.
        let meant = told.iter().any(|used| suggestion(used, [text]).is_some());
        if !is_used && !meant {
            found.push(
                Diagnostic::warning(
                    Code::NotUsed,
                    name.span,
                    format!("no step uses the {noun} `{text}`"),
                )
                .help("name it under `uses` of the step that takes it, or delete it here"),
            );
        }
    }
    found
}
