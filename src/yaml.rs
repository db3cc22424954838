//! YAML text to a tree with exact places, for all kinds of file.
//!
//! Strict by intent: one document, no anchors, aliases, tags or merge keys, no key twice, no
//! character that cannot be seen. Built from parser events, because only they tell anchors, tags
//! and quotes apart and keep every place; an unquoted text stays as it was written. What keys mean
//! is `language`'s matter.

mod build;
mod characters;
mod core;
pub mod limits;

pub use self::core::{Retyped, retyped, to_json};

use crate::diag::{Code, Diagnostic};
use crate::source::{At, FileId, Source, Span};

/// A value with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// Where it stands, quotes and brackets included; a block text starts after its `|` or `>`.
    pub span: Span,
    /// What it is.
    pub kind: Kind,
}

/// The kinds of value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// A text, whatever it looks like: nothing is made a number here.
    Scalar(Scalar),
    /// Keys with their values, in file order, no key twice.
    Map(Vec<(At<String>, Node)>),
    /// A list.
    Seq(Vec<Node>),
    /// Nothing, or an unquoted `null` or `~`.
    Null,
    /// Something that has been refused already; nothing more is to be said about it.
    Refused,
}

/// A text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scalar {
    /// The text after quotes, escapes and folding.
    pub text: String,
    /// How it was written.
    pub style: Style,
}

/// How a text was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// Without quotes; `text` is letter for letter what stands in the file.
    Plain,
    /// In `'` or `"`.
    Quoted,
    /// After `|` or `>`.
    Block,
}

impl Node {
    /// The value of `key`, where this is a mapping that has it.
    pub fn get(&self, key: &str) -> Option<&Self> {
        self.entries().iter().find(|(known, _)| known.value == key).map(|(_, value)| value)
    }

    /// The keys and values, where this is a mapping; none elsewhere.
    pub fn entries(&self) -> &[(At<String>, Self)] {
        match &self.kind {
            Kind::Map(entries) => entries,
            _ => &[],
        }
    }

    /// The items, where this is a list; none elsewhere.
    pub fn items(&self) -> &[Self] {
        match &self.kind {
            Kind::Seq(items) => items,
            _ => &[],
        }
    }

    /// The text, where this is one.
    pub fn text(&self) -> Option<&str> {
        match &self.kind {
            Kind::Scalar(scalar) => Some(&scalar.text),
            _ => None,
        }
    }

    /// The text as it stands in the file with the place of its first byte, for what is parsed
    /// further and needs exact places inside. Quotes are left off.
    /// `None` where an escape keeps the text in the file from being the text that is meant.
    pub fn verbatim<'s>(&self, source: &'s Source) -> Option<(&'s str, usize)> {
        let Kind::Scalar(scalar) = &self.kind else { return None };
        let raw = source.slice(self.span);
        match scalar.style {
            Style::Plain | Style::Block => Some((raw, self.span.start)),
            Style::Quoted => {
                let inner = raw.get(1..raw.len().checked_sub(1)?)?;
                (!inner.contains(['\\', '\'', '"'])).then_some((inner, self.span.start + 1))
            }
        }
    }
}

/// Reads `source` to a tree. The tree is there unless the text is not YAML, empty or too large;
/// with errors it is there too, so that the rest of the file can be checked in the same go.
pub fn parse(file: FileId, source: &Source) -> (Option<Node>, Vec<Diagnostic>) {
    let text = source.text();
    if text.len() > limits::FILE_LEN_BYTES_MAX {
        let headline = format!("the file is larger than {} KiB", limits::FILE_LEN_BYTES_MAX / 1024);
        let fault = Diagnostic::error(Code::TooLarge, Span::new(file, 0, 0), headline)
            .help("split it; a procedure can `perform` another");
        return (None, vec![fault]);
    }
    let mut found = characters::scan(file, text);
    let hidden: Vec<usize> =
        found.iter().map(|d| source.line_col(d.primary.span.start).line).collect();
    let masked = if found.is_empty() { String::new() } else { characters::masked(text) };
    let readable = if found.is_empty() { text } else { &masked };
    let (node, faults) = build::Builder::new(file, readable).document();
    // A control character may make its line bad YAML as well; that is one mistake.
    found.extend(faults.into_iter().filter(|fault| {
        let line = source.line_col(fault.primary.span.start).line;
        fault.code != Code::BadYaml || !hidden.contains(&line)
    }));
    found.sort_by_key(|fault| fault.primary.span.start);
    (node, found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> Vec<(&'static str, usize, usize)> {
        let source = Source::new("t.yaml", text);
        let (_, found) = parse(FileId(0), &source);
        let place = |d: &Diagnostic| source.line_col(d.primary.span.start);
        found.iter().map(|d| (d.code.number(), place(d).line, place(d).column)).collect()
    }

    fn tree(text: &str) -> Node {
        let (node, found) = parse(FileId(0), &Source::new("t.yaml", text));
        assert_eq!(found, []);
        node.unwrap()
    }

    #[test]
    fn unquoted_texts_stay_letter_for_letter() {
        let node = tree("a: 0510210600\nb: 1.10\nc: NO\nd: 12:30\ne: 1E5\nf: ~\n");
        for (key, text) in
            [("a", "0510210600"), ("b", "1.10"), ("c", "NO"), ("d", "12:30"), ("e", "1E5")]
        {
            assert_eq!(node.get(key).unwrap().text(), Some(text));
        }
        assert_eq!(node.get("f").unwrap().kind, Kind::Null);
    }

    #[test]
    fn places_are_exact_for_every_style() {
        let text =
            "# µ\nq: \"é x\"\nb: |\n  one\n  two\np: long\n  text\nm:\n  - {k: v}\n  - w\nz: 1\n";
        let source = Source::new("t", text);
        let (node, _) = parse(FileId(0), &source);
        let node = node.unwrap();
        let slice = |key: &str| source.slice(node.get(key).unwrap().span);
        assert_eq!(slice("q"), "\"é x\"");
        assert_eq!(slice("b"), "one\n  two");
        assert_eq!(slice("p"), "long\n  text");
        assert_eq!(node.get("p").unwrap().text(), Some("long text"));
        assert_eq!(slice("m"), "- {k: v}\n  - w");
        assert_eq!(source.slice(node.get("m").unwrap().items()[0].span), "{k: v}");
        assert_eq!(slice("z"), "1");
        assert_eq!(source.slice(node.entries()[1].0.span), "b");
    }

    #[test]
    fn what_the_language_does_without_is_refused_at_its_place() {
        assert_eq!(faults("a: 1\nb: 2\na: 3\n"), [("WM102", 3, 1)]);
        assert_eq!(faults("a: 1\n---\na: 2\n"), [("WM103", 2, 1)]);
        assert_eq!(faults("a: &x 1\nb: *x\n"), [("WM104", 1, 4), ("WM104", 2, 4)]);
        assert_eq!(faults("b: *x\n"), [("WM104", 1, 4)]);
        assert_eq!(faults("a: !!str 1\nb: ! c\n"), [("WM104", 1, 4), ("WM104", 2, 4)]);
        assert_eq!(faults("a: {<<: *x, b: 1}\n"), [("WM104", 1, 5)]);
        assert_eq!(faults("? [a]\n: b\n"), [("WM104", 1, 3)]);
        assert_eq!(faults("%YAML 1.2\n---\na: 1\n"), [("WM104", 1, 1)]);
        assert_eq!(faults("a: \"\\u202e\"\n"), [("WM105", 1, 4)]);
        assert_eq!(faults("a: x\u{1b}[2J\n# \u{202e}\nb: \u{7}\n").len(), 3);
        assert_eq!(faults(""), [("WM101", 1, 1)]);
        assert_eq!(faults("# only a comment\n"), [("WM101", 1, 1)]);
        assert_eq!(faults("a: b: c\n"), [("WM101", 1, 5)]);
        assert_eq!(faults("a: [1\n").len(), 1);
        assert_eq!(faults("a:\n\t- b\n").len(), 1);
    }

    #[test]
    fn size_and_depth_are_capped() {
        let wide = "a".repeat(limits::FILE_LEN_BYTES_MAX + 1);
        assert_eq!(faults(&wide), [("WM106", 1, 1)]);
        let fits = "[".repeat(limits::DEPTH_MAX) + &"]".repeat(limits::DEPTH_MAX);
        assert_eq!(faults(&fits), []);
        let deep = "[".repeat(limits::DEPTH_MAX + 1) + &"]".repeat(limits::DEPTH_MAX + 1);
        assert_eq!(faults(&deep), [("WM106", 1, limits::DEPTH_MAX + 1)]);
        let deeper = "[".repeat(100_000);
        assert_eq!(faults(&deeper).len(), 1);
        let blocks = (0..1000).map(|i| " ".repeat(i) + "a:\n").collect::<String>();
        assert_eq!(faults(&blocks)[0].0, "WM106");
    }

    #[test]
    fn a_thousand_comments_are_no_matter() {
        let text = "# x\n".repeat(1000) + "a: 1\n" + &"# y\n".repeat(1000);
        assert_eq!(tree(&text).get("a").unwrap().text(), Some("1"));
    }
}
