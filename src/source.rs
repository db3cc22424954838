//! Text of a file with its lines, and byte ranges in it.
//!
//! Knows nothing of YAML or of messages; `diag` turns these ranges into pictures.

use std::sync::Arc;

/// Which file of a set a span lies in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u32);

/// A byte range in one file; `start <= end`, both on character boundaries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// The first byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// The range `start..end` of `file`.
    pub fn new(file: FileId, start: usize, end: usize) -> Self {
        Self { file, start, end: end.max(start) }
    }
}

/// A value and where it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Span,
}

impl<T> At<T> {
    /// Joins a value with its place.
    pub fn new(value: T, span: Span) -> Self {
        Self { value, span }
    }
}

/// A line and column as people count them: both from 1, columns in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineCol {
    /// The line, from 1.
    pub line: usize,
    /// The column, in characters, from 1.
    pub column: usize,
}

/// One file's text.
#[derive(Debug, Clone)]
pub struct Source {
    name: Arc<str>,
    text: Arc<str>,
}

impl Source {
    /// Keeps `text` under the `name` that messages will show.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> Self {
        Self { name: name.into(), text: text.into() }
    }

    /// The name that messages show.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text of `span`, or the empty text where the span does not fit this file.
    pub fn slice(&self, span: Span) -> &str {
        self.text.get(span.start..span.end).unwrap_or("")
    }

    /// Where `offset` lies. An offset past the end counts as the end; one inside a character
    /// counts as that character's start.
    pub fn line_col(&self, offset: usize) -> LineCol {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = self.text.get(..end).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        LineCol {
            line: before.matches('\n').count() + 1,
            column: before.get(line_start..).unwrap_or("").chars().count() + 1,
        }
    }
}

/// The files that one stage of work reads, in the order they were added.
#[derive(Debug, Clone, Default)]
pub struct Sources(Vec<Source>);

impl Sources {
    /// Adds a file and returns how spans name it.
    pub fn add(&mut self, source: Source) -> FileId {
        let id = FileId(u32::try_from(self.0.len()).unwrap_or(u32::MAX));
        self.0.push(source);
        id
    }

    /// The file that `id` names.
    pub fn file(&self, id: FileId) -> Option<&Source> {
        self.0.get(id.0 as usize)
    }

    /// All files with their ids.
    pub fn iter(&self) -> impl Iterator<Item = (FileId, &Source)> {
        self.0.iter().enumerate().map(|(i, s)| (FileId(u32::try_from(i).unwrap_or(u32::MAX)), s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_not_bytes() {
        let text =
            "# prüf – 5 µm\nnote: |\n  “clean” the face – 20 °C\nlimit: {max: abc, unit: mm}\n";
        let source = Source::new("a.yaml", text);
        let byte = text.find("abc").unwrap();
        assert_eq!(byte, 73);
        assert_eq!(source.line_col(byte), LineCol { line: 4, column: 14 });
        let text = "limit: {note: \"µm – é\", max: abc}";
        let source = Source::new("b.yaml", text);
        assert_eq!(source.line_col(text.find("abc").unwrap()), LineCol { line: 1, column: 30 });
    }

    #[test]
    fn an_offset_inside_a_character_or_past_the_end_does_not_panic() {
        let source = Source::new("a", "µ");
        assert_eq!(source.line_col(1), LineCol { line: 1, column: 1 });
        assert_eq!(source.line_col(99), LineCol { line: 1, column: 2 });
    }
}
