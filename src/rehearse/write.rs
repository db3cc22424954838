//! A rehearsal as YAML, as an author would write it: positions that are alike on one line.

use std::collections::BTreeMap;

use super::coverage::Shown;
use crate::ids::PersonId;
use crate::procedure::model::Verdict;
use crate::prove::scripted;
use crate::rehearsal::model::{fits, fits_within};
use crate::rehearsal::write::quoted;
use crate::walk::event::Answer;
use crate::walk::{Address, Flow};

/// A rehearsal that is being written.
#[derive(Debug, Clone)]
pub(super) struct Draft {
    /// Its id.
    pub(super) id: String,
    /// The procedure.
    pub(super) procedure: String,
    /// True where it is played alone.
    pub(super) is_alone: bool,
    /// The machine's tag.
    pub(super) machine: String,
    /// Who performs.
    pub(super) performer: PersonId,
    /// Who decides.
    pub(super) mechanic: PersonId,
    /// Who takes second readings.
    pub(super) second: Option<PersonId>,
    /// The answers: address or pattern, and the keys beside it.
    pub(super) answers: Vec<(String, String)>,
    /// What must come of it, once it has been played.
    pub(super) expect: Expect,
    /// The cases.
    pub(super) cases: Vec<DraftCase>,
}

/// A case that is being written.
#[derive(Debug, Clone)]
pub(super) struct DraftCase {
    /// Its name.
    pub(super) name: String,
    /// What it is written for, a line each.
    pub(super) takes: Vec<String>,
    /// The answers that differ from the story's.
    pub(super) answers: Vec<(String, String)>,
    /// What must come of it, once it has been played.
    pub(super) expect: Expect,
}

/// A parts list as a draft states it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) enum Parts {
    /// Not stated: that of the story.
    #[default]
    AsInStory,
    /// That of the story, and these.
    More(Vec<(String, String)>),
    /// These.
    All(Vec<(String, String)>),
}

/// What came of a played draft.
#[derive(Debug, Clone, Default)]
pub(super) struct Expect {
    /// True for a stop.
    pub(super) stopped: bool,
    /// Parts with their positions.
    pub(super) parts: Parts,
    /// Verdicts by address.
    pub(super) verdicts: Vec<(String, Verdict)>,
    /// Steps that the walk comes to.
    pub(super) asked: Vec<String>,
    /// Steps that the walk does not come to.
    pub(super) not_asked: Vec<String>,
}

/// The most lines that say what a case is written for.
const N_TAKES_SHOWN_MAX: usize = 12;
/// The most steps that are listed as asked, or as not asked.
const N_ASKED_MAX: usize = 6;
/// The most letters of a case's name.
const NAME_LEN_MAX: usize = 40;

impl Draft {
    /// The file.
    pub(super) fn yaml(&self) -> String {
        let mut out = String::new();
        let mut line = |text: &str| {
            out.push_str(text);
            out.push('\n');
        };
        line(
            "# Written by `witnessmark rehearse --write-missing`; nobody has confirmed it yet. What stands",
        );
        line(
            "# under `expect` is what came of the procedure as it is, right or wrong: hold every line of it",
        );
        line("# against the practice of the shop, then take this comment away.");
        line("format: \"1.0\"");
        line(&format!("rehearsal: {}", self.id));
        line(&format!("title: {}", quoted(&format!("The plain way through {}", self.procedure))));
        line(&format!("procedure: {}", self.procedure));
        if self.is_alone {
            line("alone: true");
        }
        line(&format!("machine: {}", quoted(&self.machine)));
        line(&format!("performer: {}", self.performer));
        line(&format!("mechanic: {}", self.mechanic));
        if let Some(second) = &self.second {
            line(&format!("second: {second}"));
        }
        line("");
        line(if self.answers.is_empty() { "answers: []" } else { "answers:" });
        for (at, answer) in &self.answers {
            line(&format!("  - {{at: {}, {answer}}}", quoted(at)));
        }
        line("");
        self.expect.yaml("", &mut line);
        if !self.cases.is_empty() {
            line("");
            line("cases:");
        }
        for case in &self.cases {
            case.yaml(&mut line);
        }
        out
    }

    /// A name for a case that takes `first`, as no other case has it.
    pub(super) fn free_name(&self, first: &Shown) -> String {
        let step = first.at.rsplit('/').next().unwrap_or_default();
        let step = step.split(['[', '#']).next().unwrap_or_default();
        let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { ' ' };
        let text: String = format!("{step} {}", first.what).chars().map(plain).collect();
        let words = text.split_whitespace();
        let words = words.filter(|word| !matches!(*word, "a" | "the" | "that" | "is" | "reading"));
        let words: Vec<&str> = words.collect();
        let mut name = words.join("_");
        if !name.starts_with(|c: char| c.is_ascii_lowercase()) {
            name = format!("case_{name}");
        }
        name.truncate(NAME_LEN_MAX);
        let is_free = |name: &String| self.cases.iter().all(|case| case.name != *name);
        let mut numbered = (2..).map(|n| format!("{name}_{n}")).take(self.cases.len());
        if is_free(&name) {
            return name;
        }
        numbered.find(is_free).unwrap_or(name)
    }
}

impl DraftCase {
    fn yaml(&self, line: &mut dyn FnMut(&str)) {
        line(&format!("  {}:", self.name));
        for take in self.takes.iter().take(N_TAKES_SHOWN_MAX) {
            line(&format!("    # {take}"));
        }
        if let Some(more) = self.takes.len().checked_sub(N_TAKES_SHOWN_MAX).filter(|n| *n > 0) {
            line(&format!("    # and {more} more"));
        }
        line("    answers:");
        for (at, answer) in &self.answers {
            line(&format!("      - {{at: {}, {answer}}}", quoted(at)));
        }
        self.expect.yaml("    ", line);
    }
}

impl Expect {
    fn yaml(&self, indent: &str, line: &mut dyn FnMut(&str)) {
        let mut line = |text: &str| line(&format!("{indent}{text}"));
        line("expect:");
        line(if self.stopped { "  outcome: stopped" } else { "  outcome: released" });
        let (key, parts) = match &self.parts {
            Parts::AsInStory => ("", &[][..]),
            Parts::More(parts) => ("more_parts", parts.as_slice()),
            Parts::All(parts) => ("parts", parts.as_slice()),
        };
        if !key.is_empty() {
            line(&format!("  {key}:{}", if parts.is_empty() { " []" } else { "" }));
        }
        for (part, position) in parts {
            if position.is_empty() {
                line(&format!("    - {{part: {part}}}"));
            } else {
                line(&format!("    - {{part: {part}, position: {}}}", quoted(position)));
            }
        }
        if !self.verdicts.is_empty() {
            line("  verdicts:");
        }
        for (at, verdict) in &self.verdicts {
            line(&format!("    {}: {}", quoted(at), verdict.word()));
        }
        for (key, steps) in [("asked", &self.asked), ("not_asked", &self.not_asked)] {
            if !steps.is_empty() {
                line(&format!("  {key}:"));
            }
            for at in steps.iter().take(N_ASKED_MAX) {
                line(&format!("    - {}", quoted(at)));
            }
        }
    }
}

/// The addresses with `*` for their positions, each once; with the positions where the pattern would
/// name one of `not` too.
pub(super) fn compressed(addresses: &[Address], not: &[String]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for address in addresses {
        let pattern = pattern(address);
        let names_other = not.iter().any(|other| fits_within(&pattern, other));
        let text = if names_other { address.to_string() } else { pattern };
        if !out.contains(&text) {
            out.push(text);
        }
    }
    out
}

type Line = (String, String);

/// The scripted lines for the answers of a walk, in its order; answers that are alike at all their
/// positions become one line with `*`.
pub(super) fn lines(flow: &Flow, answered: &[(usize, Answer)]) -> Vec<Line> {
    let groups = grouped(flow, answered).into_iter();
    groups.flat_map(|(pattern, lines)| joined(&pattern, lines)).collect()
}

/// The lines of a walk that must stand in a case of a story, so that the rest can be the story's.
pub(super) fn changed(
    flow: &Flow,
    story: &[(usize, Answer)],
    answered: &[(usize, Answer)],
) -> Vec<Line> {
    let of_story: BTreeMap<String, Vec<Line>> = grouped(flow, story).into_iter().collect();
    let mut out = Vec::new();
    for (pattern, answers) in grouped(flow, answered) {
        let known = of_story.get(&pattern).cloned().unwrap_or_default();
        let known = joined(&pattern, known);
        let whole = joined(&pattern, answers.clone());
        let few: Vec<Line> = whole.iter().filter(|line| !known.contains(line)).cloned().collect();
        let rest = known
            .into_iter()
            .filter(|(at, _)| !few.iter().any(|(own, _)| own == at || fits(own, at)));
        let script: Vec<Line> = few.iter().cloned().chain(rest).collect();
        let given = |at: &String| {
            let exact = script.iter().find(|(own, _)| own == at);
            exact.or_else(|| script.iter().find(|(own, _)| fits(own, at))).map(|(_, text)| text)
        };
        let does = answers.iter().all(|(at, text)| given(at) == Some(text));
        out.extend(if does { few } else { whole });
    }
    out
}

/// The lines of a walk by pattern, in its order.
fn grouped(flow: &Flow, answered: &[(usize, Answer)]) -> Vec<(String, Vec<Line>)> {
    let mut by_pattern: Vec<(String, Vec<Line>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for (index, answer) in answered {
        let instance = flow.instance(*index);
        let Some(text) = scripted(&instance.ask, answer).map(|answer| answer.keys()) else {
            continue;
        };
        let pattern = pattern(&instance.address);
        let at = *known.entry(pattern.clone()).or_insert_with(|| {
            by_pattern.push((pattern, Vec::new()));
            by_pattern.len().saturating_sub(1)
        });
        if let Some((_, lines)) = by_pattern.get_mut(at) {
            lines.push((instance.address.to_string(), text));
        }
    }
    by_pattern
}

/// The most frequent answer under the pattern, then those that differ.
fn joined(pattern: &str, lines: Vec<Line>) -> Vec<Line> {
    if lines.len() < 2 {
        return lines;
    }
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for (_, text) in &lines {
        let count = counts.entry(text).or_default();
        *count = count.saturating_add(1);
    }
    let most = counts.values().copied().max().unwrap_or_default();
    let first = lines.iter().find(|(_, text)| counts.get(text.as_str()) == Some(&most));
    let Some(common) = first.map(|(_, text)| text.clone()) else { return lines };
    let others = lines.into_iter().filter(|(_, text)| *text != common);
    std::iter::once((pattern.to_owned(), common.clone()))
        .chain(others.collect::<Vec<_>>())
        .collect()
}

fn pattern(address: &Address) -> String {
    let mut any = address.clone();
    for (_, name) in any.0.iter_mut().flat_map(|segment| segment.positions.iter_mut()) {
        "*".clone_into(name);
    }
    any.to_string()
}
