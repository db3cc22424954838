//! Diagnostics as text: pictures for people, lines for editors, JSON for tools.
//!
//! Text that comes from files is made visible here, so that no file acts on the terminal that shows
//! what is wrong with it. Printing is left to `cli`.

use std::fmt::Write as _;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level as Heading, Renderer, Snippet};
use serde::Serialize;

use crate::source::{Source, Sources, Span};
use crate::visible::{is_hidden, stand_in, visible, visible_lines};

use super::{Diagnostic, Label, Level};

/// The version of the shape that [`json`] writes: readers refuse another major number.
pub const JSON_FORMAT: &str = "1.0";

impl Level {
    /// The level's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// Every diagnostic as a picture of its place, with a blank line between two.
pub fn terminal(diagnostics: &[Diagnostic], sources: &Sources, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let mut shown = String::new();
    for (i, diagnostic) in diagnostics.iter().enumerate() {
        if i > 0 {
            shown.push('\n');
        }
        shown.push_str(renderer.render(&[picture(diagnostic, sources)]).trim_end_matches('\n'));
        shown.push('\n');
    }
    shown
}

/// Every diagnostic as one line, `file:line:column: error[WM204]: headline`.
pub fn short(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let mut shown = String::new();
    for d in diagnostics {
        let place = Place::of(d.primary.span, sources);
        // Writing to a `String` cannot fail.
        let _ = writeln!(
            shown,
            "{}:{}:{}: {}[{}]: {}",
            visible(&place.file),
            place.line,
            place.column,
            d.level.word(),
            d.code.number(),
            visible(&d.headline)
        );
    }
    shown
}

fn picture<'a>(diagnostic: &'a Diagnostic, sources: &'a Sources) -> Group<'a> {
    let heading = match diagnostic.level {
        Level::Warning => Heading::WARNING,
        Level::Error => Heading::ERROR,
    };
    let mut group = Group::with_title(
        heading.primary_title(visible(&diagnostic.headline)).id(diagnostic.code.number()),
    );
    let mut files = vec![diagnostic.primary.span.file];
    for label in &diagnostic.related {
        if !files.contains(&label.span.file) {
            files.push(label.span.file);
        }
    }
    for file in files {
        let labels = std::iter::once((AnnotationKind::Primary, &diagnostic.primary))
            .chain(diagnostic.related.iter().map(|label| (AnnotationKind::Context, label)))
            .filter(|(_, label)| label.span.file == file)
            .collect::<Vec<_>>();
        if let Some(source) = sources.file(file) {
            group = group.element(excerpt(source, &labels));
        }
    }
    if let Some(help) = &diagnostic.help {
        group = group.element(Heading::HELP.message(visible_lines(help)));
    }
    group
}

/// The lines that `labels` touch, with the labels.
fn excerpt<'a>(
    source: &Source,
    labels: &[(AnnotationKind, &Label)],
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let text = source.text();
    let ranges: Vec<Range<usize>> =
        labels.iter().map(|(_, l)| on_characters(text, l.span)).collect();
    let first = ranges.iter().map(|range| range.start).min().unwrap_or(0);
    let last = ranges.iter().map(|range| range.end).max().unwrap_or(first);
    let start = text.get(..first).and_then(|before| before.rfind('\n')).map_or(0, |at| at + 1);
    let after = text.get(last..).unwrap_or("");
    let end = last + after.find('\n').unwrap_or(after.len());
    let shown = Shown::new(text.get(start..end).unwrap_or(""));
    let annotations = labels.iter().zip(ranges).map(|((kind, label), range)| {
        let annotation = kind.span(shown.at(range.start - start)..shown.at(range.end - start));
        let text = visible(&label.text);
        if text.is_empty() { annotation } else { annotation.label(text) }
    });
    let annotations: Vec<_> = annotations.collect();
    Snippet::source(shown.text)
        .line_start(source.line_col(start).line)
        .path(visible(source.name()))
        .annotations(annotations)
}

/// The range of `span`, cut to the text and widened to whole characters.
fn on_characters(text: &str, span: Span) -> Range<usize> {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

/// Some lines with their hidden characters replaced, and where the bytes have gone.
struct Shown {
    text: String,
    /// For each replaced character: the byte behind it before and after, in order.
    moved: Vec<(usize, usize)>,
}

impl Shown {
    fn new(lines: &str) -> Self {
        let mut text = String::with_capacity(lines.len());
        let mut moved = Vec::new();
        for (at, c) in lines.char_indices() {
            let after = at + c.len_utf8();
            let ends_line = c == '\r'
                && lines.get(after..).is_some_and(|r| r.is_empty() || r.starts_with('\n'));
            if ends_line {
                moved.push((after, text.len()));
            } else if is_hidden(c) && c != '\n' && c != '\t' {
                text.push_str(&stand_in(c));
                moved.push((after, text.len()));
            } else {
                text.push(c);
            }
        }
        Self { text, moved }
    }

    /// Where byte `at` of the lines stands in the shown text.
    fn at(&self, at: usize) -> usize {
        let behind = self.moved.iter().rev().find(|(before, _)| *before <= at);
        let (before, after) = behind.copied().unwrap_or((0, 0));
        (after + (at - before)).min(self.text.len())
    }
}

/// A place as tools read it: lines and columns from 1, columns in characters, bytes from 0.
#[derive(Serialize)]
struct Place {
    file: String,
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
    byte_start: usize,
    byte_end: usize,
}

impl Place {
    fn of(span: Span, sources: &Sources) -> Self {
        let source = sources.file(span.file);
        let at = |offset| {
            source.map_or((1, 1), |source| {
                let place = source.line_col(offset);
                (place.line, place.column)
            })
        };
        let ((line, column), (end_line, end_column)) = (at(span.start), at(span.end));
        Self {
            file: source.map_or_else(String::new, |source| source.name().to_owned()),
            line,
            column,
            end_line,
            end_column,
            byte_start: span.start,
            byte_end: span.end,
        }
    }
}

/// A labelled place in [`json`].
#[derive(Serialize)]
struct Related<'a> {
    text: &'a str,
    #[serde(flatten)]
    place: Place,
}

/// One diagnostic in [`json`].
#[derive(Serialize)]
struct Entry<'a> {
    code: &'static str,
    name: &'static str,
    level: &'static str,
    headline: &'a str,
    label: &'a str,
    #[serde(flatten)]
    place: Place,
    related: Vec<Related<'a>>,
    help: Option<&'a str>,
}

#[derive(Serialize)]
struct Report<'a> {
    format: &'static str,
    diagnostics: Vec<Entry<'a>>,
}

/// Every diagnostic as JSON for other programs.
///
/// ```json
/// {"format": "1.0", "diagnostics": [
///   {"code": "WM204", "name": "one-action", "level": "error", "headline": "…", "label": "",
///    "file": "a.yaml", "line": 4, "column": 3, "end_line": 4, "end_column": 5,
///    "byte_start": 61, "byte_end": 63,
///    "related": [{"text": "…", "file": "…", "line": 1, …}], "help": null}]}
/// ```
/// Lines and columns count from 1, columns in characters; ends are one past the last. Bytes count
/// from 0. Hidden characters are escaped as `\uXXXX`, which reads back as the exact text.
pub fn json(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let entries = diagnostics.iter().map(|d| Entry {
        code: d.code.number(),
        name: d.code.name(),
        level: d.level.word(),
        headline: &d.headline,
        label: &d.primary.text,
        place: Place::of(d.primary.span, sources),
        related: d
            .related
            .iter()
            .map(|label| Related { text: &label.text, place: Place::of(label.span, sources) })
            .collect(),
        help: d.help.as_deref(),
    });
    let report = Report { format: JSON_FORMAT, diagnostics: entries.collect() };
    let text = serde_json::to_string_pretty(&report)
        .expect("internal: texts and numbers always become JSON");
    escaped(&text)
}

/// JSON with its hidden characters as `\uXXXX`, ended by a line break.
pub(super) fn escaped(text: &str) -> String {
    let mut shown = String::with_capacity(text.len() + 1);
    for c in text.chars() {
        // Between strings there are only newlines, which stay; all hidden characters fit four digits.
        if is_hidden(c) && c != '\n' {
            let _ = write!(shown, "\\u{:04x}", u32::from(c));
        } else {
            shown.push(c);
        }
    }
    shown.push('\n');
    shown
}

#[cfg(test)]
#[path = "render_tests.rs"]
mod tests;
