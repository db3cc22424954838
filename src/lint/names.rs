//! One name for each thing, and letters that are what they look like.

use std::collections::BTreeMap;

use super::lexicon::SYNONYMS;
use super::passage::Passage;
use crate::diag::{Code, Diagnostic};
use crate::source::{FileId, Source, Span};
use crate::yaml::Node;

/// Letters of other scripts that are drawn like a Latin one, with that one.
const LOOK_ALIKES: &[(char, char)] = &[
    ('а', 'a'),
    ('е', 'e'),
    ('о', 'o'),
    ('р', 'p'),
    ('с', 'c'),
    ('у', 'y'),
    ('х', 'x'),
    ('і', 'i'),
    ('ѕ', 's'),
    ('ј', 'j'),
    ('А', 'A'),
    ('В', 'B'),
    ('Е', 'E'),
    ('К', 'K'),
    ('М', 'M'),
    ('Н', 'H'),
    ('О', 'O'),
    ('Р', 'P'),
    ('С', 'C'),
    ('Т', 'T'),
    ('Х', 'X'),
    ('Α', 'A'),
    ('Β', 'B'),
    ('Ε', 'E'),
    ('Ζ', 'Z'),
    ('Η', 'H'),
    ('Ι', 'I'),
    ('Κ', 'K'),
    ('Μ', 'M'),
    ('Ν', 'N'),
    ('Ο', 'O'),
    ('Ρ', 'P'),
    ('Τ', 'T'),
    ('Υ', 'Y'),
    ('Χ', 'X'),
    ('ο', 'o'),
    ('ν', 'v'),
];

/// Reports Latin words with a letter of another script among theirs.
pub(super) fn look_alikes(file: FileId, source: &Source) -> Vec<Diagnostic> {
    let text = source.text();
    if text.is_ascii() {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut at = 0;
    for word in text.split(|c: char| !c.is_alphanumeric() && c != '_') {
        let start = at + text.get(at..).and_then(|rest| rest.find(word)).unwrap_or(0);
        at = start + word.len();
        if word.is_ascii() || !word.contains(|c: char| c.is_ascii_alphabetic()) {
            continue;
        }
        let odd = word.char_indices().find_map(|(i, c)| {
            LOOK_ALIKES.iter().find(|(like, _)| *like == c).map(|(_, latin)| (i, c, *latin))
        });
        if let Some((i, c, latin)) = odd {
            let span = Span::new(file, start + i, start + i + c.len_utf8());
            let headline = format!(
                "`{c}` (U+{:04X}) looks like `{latin}` and is another letter",
                u32::from(c)
            );
            found.push(
                Diagnostic::warning(Code::LookAlike, span, headline)
                    .help(format!("write `{latin}`"))
                    .fix(span, latin.to_string()),
            );
        }
    }
    found
}

/// Reports the second name of a thing, where the list of needs or an earlier text has given it one.
pub(super) fn two_names(root: &Node, passages: &[Passage<'_>]) -> Vec<Diagnostic> {
    let mut known: BTreeMap<usize, (&str, Span)> = BTreeMap::new();
    for list in ["tools", "supplies"] {
        let names = root.get("needs").and_then(|needs| needs.get(list));
        for name in names.map_or(&[][..], Node::items) {
            let spoken = name.text().unwrap_or("").replace('_', " ");
            let words: Vec<&str> = spoken.split(' ').collect();
            if let Some((group, word)) = named(&words) {
                known.entry(group).or_insert((word, name.span));
            }
        }
    }
    let mut found = Vec::new();
    for passage in passages {
        for words in passage.sentences() {
            let lower: Vec<&str> = words.iter().map(|word| word.lower.as_str()).collect();
            for i in 0..lower.len() {
                let Some((group, word)) = named_at(lower.get(i..).unwrap_or(&[])) else { continue };
                let n_words = word.split(' ').count();
                let (Some(first), Some(last)) = (words.get(i), words.get(i + n_words - 1)) else {
                    continue;
                };
                let span = passage.at(&(first.range.start..last.range.end));
                let (name, place) = *known.entry(group).or_insert((word, span));
                if name != word {
                    found.push(
                        Diagnostic::warning(
                            Code::TwoNames,
                            span,
                            format!("`{word}` and `{name}` are two names for one thing"),
                        )
                        .related(place, "its first name")
                        .help(format!("write `{name}` everywhere, or `{word}` everywhere")),
                    );
                }
            }
        }
    }
    found
}

fn named(words: &[&str]) -> Option<(usize, &'static str)> {
    (0..words.len()).find_map(|i| named_at(words.get(i..)?))
}

/// The group and the word of it that `words` begin with; a plural counts as its singular.
fn named_at(words: &[&str]) -> Option<(usize, &'static str)> {
    SYNONYMS.iter().enumerate().find_map(|(group, names)| {
        let name = names.iter().find(|name| {
            let mut wanted = name.split(' ').peekable();
            let mut given = words.iter();
            loop {
                let Some(want) = wanted.next() else { return true };
                let Some(have) = given.next() else { return false };
                let last = wanted.peek().is_none();
                let plural = last
                    && (have.strip_suffix('s') == Some(want)
                        || have.strip_suffix("es") == Some(want));
                if *have != want && !plural {
                    return false;
                }
            }
        })?;
        Some((group, *name))
    })
}
