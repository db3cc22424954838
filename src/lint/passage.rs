//! The texts of a procedure for people, each with its use and its place, cut into sentences and words.
//!
//! What a word means is left to `lexicon`, what may be said where to `wording`.

use std::borrow::Cow;
use std::ops::Range;

use super::lexicon;
use crate::source::{Source, Span};
use crate::yaml::Node;

/// What a text is for, and so how it has to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// The instruction of an action, by the action's word.
    Action(&'static str),
    /// A line of a `check`.
    Item,
    /// How a hazard is avoided.
    Avoid,
    /// Another part of a safety message.
    Safety,
    /// A note: it informs and orders nothing.
    Note(&'static str),
    /// Any other text for people.
    Other,
}

/// One text.
#[derive(Debug)]
pub(super) struct Passage<'a> {
    /// What it is for.
    pub(super) usage: Use,
    /// The text.
    pub(super) text: Cow<'a, str>,
    /// Where its first byte stands, where the file holds it letter for letter.
    start: Option<usize>,
    /// The whole value.
    span: Span,
}

/// A word without the marks around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    /// Small letters.
    pub(super) lower: String,
    /// Its bytes in the passage.
    pub(super) range: Range<usize>,
    /// True where a comma, semicolon or colon stands behind it.
    pub(super) pause: bool,
}

impl<'a> Passage<'a> {
    fn of(node: &'a Node, usage: Use, source: &'a Source) -> Option<Self> {
        let (text, start) = match node.verbatim(source) {
            Some((text, start)) => (Cow::Borrowed(text), Some(start)),
            None => (Cow::Borrowed(node.text()?), None),
        };
        Some(Self { usage, text, start, span: node.span })
    }

    /// The place of some of its bytes; the whole value where escapes hide them.
    pub(super) fn at(&self, range: &Range<usize>) -> Span {
        match self.start {
            Some(start) => Span::new(self.span.file, start + range.start, start + range.end),
            None => self.span,
        }
    }

    /// True where the file holds the text letter for letter, so that an edit can be made inside.
    pub(super) fn can_be_edited(&self) -> bool {
        self.start.is_some()
    }

    /// Its sentences.
    pub(super) fn sentences(&self) -> Vec<Vec<Word>> {
        sentences(&self.text)
    }
}

/// Cuts a text into sentences of words. A point ends a sentence where it ends a token that is no
/// abbreviation; marks alone are no words.
pub(super) fn sentences(text: &str) -> Vec<Vec<Word>> {
    let mut all = Vec::new();
    let mut open: Vec<Word> = Vec::new();
    let mut from = 0;
    for token in text.split_whitespace() {
        let at = text.get(from..).and_then(|rest| rest.find(token)).map_or(from, |at| from + at);
        from = at + token.len();
        let inside = |c: char| c.is_alphanumeric();
        let Some(first) = token.find(inside) else { continue };
        let last = token.rfind(inside).unwrap_or(first);
        let end = last + token.get(last..).and_then(|t| t.chars().next()).map_or(1, char::len_utf8);
        let lower = token.get(first..end).unwrap_or(token).to_lowercase();
        let behind = token.get(end..).unwrap_or("");
        let stops = behind.contains(['.', '!', '?']) && !lexicon::ABBREVIATIONS.contains(&&*lower);
        let pause = behind.contains([',', ';', ':']);
        open.push(Word { lower, range: at + first..at + end, pause });
        if stops {
            all.push(std::mem::take(&mut open));
        }
    }
    if !open.is_empty() {
        all.push(open);
    }
    all
}

/// How many words a sentence counts: a number with its unit is one, a tag such as `P-101B` is one.
pub(super) fn count(words: &[Word]) -> usize {
    let mut n_words = words.len();
    for pair in words.windows(2) {
        if let [number, unit] = pair
            && lexicon::is_number(&number.lower)
            && !number.pause
            && lexicon::UNITS.contains(&&*unit.lower)
        {
            n_words -= 1;
        }
    }
    n_words
}

/// Every step below `root`, those of exits, findings and sections included, in file order.
pub(super) fn steps(root: &Node) -> Vec<&Node> {
    let mut found = Vec::new();
    collect(root, &mut found);
    found
}

fn collect<'a>(node: &'a Node, found: &mut Vec<&'a Node>) {
    for (key, value) in node.entries() {
        if key.value == "steps" {
            for step in value.items() {
                found.push(step);
                collect(step, found);
            }
        } else {
            collect(value, found);
        }
    }
    for item in node.items() {
        collect(item, found);
    }
}

/// The actions whose text is an instruction.
pub(super) const INSTRUCTIONS: [&str; 8] =
    ["do", "check", "look", "measure", "enter", "hold", "build", "tighten"];

/// Every text for people of a procedure.
pub(super) fn of_procedure<'a>(root: &'a Node, source: &'a Source) -> Vec<Passage<'a>> {
    let mut found = Vec::new();
    texts(root, source, false, &mut found);
    found
}

fn texts<'a>(node: &'a Node, source: &'a Source, safety: bool, out: &mut Vec<Passage<'a>>) {
    for (key, value) in node.entries() {
        // Rules of English hold for no other language.
        if safety && key.value == "in" {
            continue;
        }
        let is_safety = ["danger", "warning", "caution", "notice"].contains(&&*key.value);
        let instruction = INSTRUCTIONS.into_iter().find(|word| *word == key.value);
        let note = ["why", "expect", "likely_cause"].into_iter().find(|word| *word == key.value);
        let usage = match key.value.as_str() {
            _ if is_safety => None,
            "avoid" => Some(Use::Avoid),
            "hazard" | "consequence" if safety => Some(Use::Safety),
            "items" => Some(Use::Item),
            "say" | "see" | "because" | "people" | "state" | "what" | "safe_state" | "stop" => {
                Some(Use::Other)
            }
            _ => instruction.map(Use::Action).or(note.map(Use::Note)),
        };
        // `expect` is a mapping in rehearsals only, and `stop` may be one in later versions.
        if let Some(usage) = usage {
            let all = std::iter::once(value).chain(value.items());
            out.extend(all.filter_map(|text| Passage::of(text, usage, source)));
        }
        texts(value, source, is_safety, out);
    }
    for item in node.items() {
        texts(item, source, safety, out);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(text: &str) -> Vec<usize> {
        sentences(text).iter().map(|words| count(words)).collect()
    }

    #[test]
    fn ll1_a_number_with_its_unit_and_a_tag_count_as_one_word() {
        assert_eq!(counts("Set the gap to 0.05 mm."), [5]);
        assert_eq!(counts("Open valve PV-101B of pump P-101."), [6]);
        assert_eq!(counts("Wait 10 minutes, then look."), [4]);
        assert_eq!(counts("Tighten to 200 N·m – by hand."), [5]);
        assert_eq!(counts("Set 200 N·m ± 4 %."), [3]);
    }

    #[test]
    fn ll1_a_point_in_a_figure_or_an_abbreviation_ends_no_sentence() {
        assert_eq!(counts("Use a leaf of 0.05 mm, e.g. the first. Then stop!"), [8, 2]);
        assert_eq!(counts(""), [] as [usize; 0]);
        assert_eq!(counts("(Look here.) No. 4 is worn."), [2, 4]);
    }

    #[test]
    fn words_know_their_bytes() {
        let words = sentences("Lift “µ” off, now.").remove(0);
        let text = "Lift “µ” off, now.";
        let told: Vec<_> = words.iter().map(|w| text.get(w.range.clone()).unwrap()).collect();
        assert_eq!(told, ["Lift", "µ", "off", "now"]);
        assert!(words[2].pause && !words[3].pause);
    }
}
