//! Changes of single places in a YAML text; every other byte stays as it is.

use std::ops::Range;

use crate::source::{FileId, Source};
use crate::yaml::{self, Node};

/// One change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Edit {
    /// The bytes that go.
    pub(super) range: Range<usize>,
    /// What comes in their place.
    pub(super) with: String,
}

impl Edit {
    /// Puts `with` in the place of `node`.
    pub(super) fn replace(node: &Node, with: impl Into<String>) -> Self {
        Self { range: node.span.start..node.span.end, with: with.into() }
    }

    /// Puts `with` at `at`.
    pub(super) fn insert(at: usize, with: impl Into<String>) -> Self {
        Self { range: at..at, with: with.into() }
    }
}

/// The tree of `text`, where it is YAML at all.
pub(super) fn tree(text: &str) -> Option<Node> {
    yaml::parse(FileId(0), &Source::new("", text)).0
}

/// The text with all edits made. Edits do not overlap.
pub(super) fn apply(text: &str, edits: &[Edit]) -> String {
    let mut sorted: Vec<&Edit> = edits.iter().collect();
    sorted.sort_by_key(|edit| edit.range.start);
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for edit in sorted {
        out.push_str(text.get(at..edit.range.start).unwrap_or_default());
        out.push_str(&edit.with);
        at = edit.range.end;
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}

/// An edit that puts `entry` (`key: value`, one line) before the first key of the mapping `node`.
pub(super) fn first_entry(text: &str, node: &Node, entry: &str) -> Edit {
    let start = node.span.start;
    if text.get(start..).is_some_and(|rest| rest.starts_with('{')) {
        return Edit::insert(start + 1, format!("{entry}, "));
    }
    Edit::insert(start, format!("{entry}\n{}", " ".repeat(indent(text, start))))
}

/// An edit that puts `item` (one line) before the first item of the list `node`.
pub(super) fn first_item(text: &str, node: &Node, item: &str) -> Edit {
    let start = node.span.start;
    if text.get(start..).is_some_and(|rest| rest.starts_with('[')) {
        return Edit::insert(start + 1, format!("{item}, "));
    }
    Edit::insert(start, format!("- {item}\n{}", " ".repeat(indent(text, start))))
}

/// How many bytes stand before `at` on its line.
fn indent(text: &str, at: usize) -> usize {
    let before = text.get(..at).unwrap_or_default();
    at - before.rfind('\n').map_or(0, |newline| newline + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_goes_before_the_first_key_in_both_styles() {
        let text = "steps:\n  - id: a\n    do: X\n  - {id: b, do: Y}\n";
        let root = tree(text).unwrap();
        let steps = root.get("steps").unwrap();
        let edits: Vec<Edit> =
            steps.items().iter().map(|step| first_entry(text, step, "when: false")).collect();
        assert_eq!(
            apply(text, &edits),
            "steps:\n  - when: false\n    id: a\n    do: X\n  - {when: false, id: b, do: Y}\n"
        );
        let first = first_item(text, steps, "{id: z, do: Z}");
        assert!(apply(text, &[first]).starts_with("steps:\n  - {id: z, do: Z}\n  - id: a\n"));
        let flow = "people: [{id: a}]";
        let people = tree(flow).unwrap();
        let first = first_item(flow, people.get("people").unwrap(), "{id: z}");
        assert_eq!(apply(flow, &[first]), "people: [{id: z}, {id: a}]");
    }
}
