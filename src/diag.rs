//! What is wrong with a file, as a value: code, headline, places, mend.
//!
//! Only the renderers under this module know lines, columns and colours. A refusal of a person's
//! move and a fault of the machine are other families and never pass through here.

pub mod codes;
pub mod render;
pub mod sarif;

use crate::source::Span;
pub use codes::Code;

/// How much a diagnostic weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// Worth knowing; the file can be used.
    Warning,
    /// The file cannot be used.
    Error,
}

/// A place with a word about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// The place.
    pub span: Span,
    /// What is there; may be empty for the primary place.
    pub text: String,
}

/// A change that mends a mistake and changes nothing else that the file says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// The bytes that are replaced.
    pub span: Span,
    /// What stands there afterwards.
    pub text: String,
}

/// One finding about a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Its stable code.
    pub code: Code,
    /// Its weight.
    pub level: Level,
    /// One sentence without a full stop, in the author's terms.
    pub headline: String,
    /// The exact characters that are wrong.
    pub primary: Label,
    /// Other places that matter.
    pub related: Vec<Label>,
    /// What to do about it.
    pub help: Option<String>,
    /// The edit that does it, where there is only one thing that can have been meant.
    pub fix: Option<Edit>,
}

impl Diagnostic {
    /// An error with its place.
    pub fn error(code: Code, span: Span, headline: impl Into<String>) -> Self {
        Self {
            code,
            level: Level::Error,
            headline: headline.into(),
            primary: Label { span, text: String::new() },
            related: Vec::new(),
            help: None,
            fix: None,
        }
    }

    /// A warning with its place.
    pub fn warning(code: Code, span: Span, headline: impl Into<String>) -> Self {
        Self { level: Level::Warning, ..Self::error(code, span, headline) }
    }

    /// Says a word at the primary place.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.primary.text = text.into();
        self
    }

    /// Adds a related place.
    #[must_use]
    pub fn related(mut self, span: Span, text: impl Into<String>) -> Self {
        self.related.push(Label { span, text: text.into() });
        self
    }

    /// Offers to write the known word that `word` at the primary place must have meant.
    #[must_use]
    pub fn meant<'a>(self, word: &str, known: impl IntoIterator<Item = &'a str> + Clone) -> Self {
        let span = self.primary.span;
        match sure_suggestion(word, known) {
            Some(near) => self.fix(span, near),
            None => self,
        }
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }

    /// Offers an edit that mends it.
    #[must_use]
    pub fn fix(mut self, span: Span, text: impl Into<String>) -> Self {
        self.fix = Some(Edit { span, text: text.into() });
        self
    }

    /// True for an error.
    pub fn is_error(&self) -> bool {
        self.level == Level::Error
    }
}

/// True when any of `diagnostics` is an error.
pub fn has_errors(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(Diagnostic::is_error)
}

/// The name among `known` that `word` most likely meant, by edit distance.
pub fn suggestion<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (word.chars().count() / 3).max(1);
    known
        .into_iter()
        .map(|candidate| (edit_distance(word, candidate), candidate))
        .filter(|(distance, _)| *distance <= limit)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// The name among `known` that `word` must have meant: the only one that is so near.
pub fn sure_suggestion<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Option<&'a str> {
    let near = suggestion(word, known.clone())?;
    let others = known.into_iter().filter(|other| *other != near);
    let rival = suggestion(word, others)
        .is_some_and(|other| edit_distance(word, other) <= edit_distance(word, near));
    (!rival).then_some(near)
}

/// Levenshtein distance with a swap of neighbours counted as one edit.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    // `row[j]` is the distance from what is read of `a` to the first `j` characters of `b`.
    let mut row: Vec<usize> = (0..=b.len()).collect();
    let mut above = row.clone();
    let mut before = None;
    for (i, from) in a.chars().enumerate() {
        let two_above = std::mem::replace(&mut above, row);
        row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let at = |row: &[usize], j: usize| row.get(j).copied().unwrap_or(usize::MAX / 2);
            let change = at(&above, j) + usize::from(from != *to);
            let mut best = change.min(at(&above, j + 1) + 1).min(at(&row, j) + 1);
            let swapped = j > 0 && before == Some(*to) && b.get(j - 1) == Some(&from);
            if swapped {
                best = best.min(at(&two_above, j - 1) + 1);
            }
            row.push(best);
        }
        before = Some(from);
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_near_miss_is_suggested_and_a_far_one_is_not() {
        assert_eq!(suggestion("mesure", ["do", "measure"]), Some("measure"));
        assert_eq!(suggestion("verdcit", ["verdict", "value"]), Some("verdict"));
        assert_eq!(suggestion("banana", ["do", "measure"]), None);
    }

    #[test]
    fn a_swap_of_neighbours_is_one_edit() {
        for (a, b, distance) in [
            ("", "", 0),
            ("", "abc", 3),
            ("abc", "", 3),
            ("ab", "ba", 1),
            ("abcd", "acbd", 1),
            ("kitten", "sitting", 3),
        ] {
            assert_eq!(edit_distance(a, b), distance, "{a} {b}");
        }
    }
}
