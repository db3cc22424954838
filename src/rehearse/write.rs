//! A rehearsal as YAML, as an author would write it: positions that are alike on one line.

use std::collections::BTreeMap;

use crate::ids::PersonId;
use crate::procedure::model::Verdict;
use crate::prove::scripted;
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
    /// What it is written for, a line each.
    pub(super) takes: Vec<String>,
    /// What must come of it, once it has been played.
    pub(super) expect: Expect,
}

/// What came of a played draft.
#[derive(Debug, Clone, Default)]
pub(super) struct Expect {
    /// True for a stop.
    pub(super) stopped: bool,
    /// Parts with their positions.
    pub(super) parts: Vec<(String, String)>,
    /// Verdicts by address.
    pub(super) verdicts: Vec<(String, Verdict)>,
}

/// The most lines that say what a rehearsal is written for.
const N_TAKES_SHOWN_MAX: usize = 12;

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
        line(
            "# against the practice of the shop, then take this comment away. It takes, as first of all:",
        );
        for take in self.takes.iter().take(N_TAKES_SHOWN_MAX) {
            line(&format!("#   {take}"));
        }
        if let Some(more) = self.takes.len().checked_sub(N_TAKES_SHOWN_MAX).filter(|n| *n > 0) {
            line(&format!("#   and {more} more"));
        }
        line("format: \"1.0\"");
        line(&format!("rehearsal: {}", self.id));
        line(&format!("title: {}", quoted(&self.title())));
        line(&format!("procedure: {}", self.procedure));
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
        self.expect.yaml(&mut line);
        out
    }

    fn title(&self) -> String {
        let first = self.takes.first().map_or("The plain way through", String::as_str);
        let more = self.takes.len().saturating_sub(1);
        let text = if more == 0 { first.to_owned() } else { format!("{first}, and {more} more") };
        text.chars().take(120).collect()
    }
}

impl Expect {
    fn yaml(&self, line: &mut dyn FnMut(&str)) {
        line("expect:");
        line(if self.stopped { "  outcome: stopped" } else { "  outcome: released" });
        line(if self.parts.is_empty() { "  parts: []" } else { "  parts:" });
        for (part, position) in &self.parts {
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
    }
}

/// The scripted lines for the answers of a walk, in its order; answers that are alike at all their
/// positions become one line with `*`.
pub(super) fn lines(flow: &Flow, answered: &[(usize, Answer)]) -> Vec<(String, String)> {
    let mut by_pattern: Vec<(String, Vec<(String, String)>)> = Vec::new();
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
    by_pattern.into_iter().flat_map(|(pattern, lines)| joined(pattern, lines)).collect()
}

/// The most frequent answer under the pattern, then those that differ.
fn joined(pattern: String, lines: Vec<(String, String)>) -> Vec<(String, String)> {
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
    std::iter::once((pattern, common.clone())).chain(others.collect::<Vec<_>>()).collect()
}

fn pattern(address: &Address) -> String {
    let mut any = address.clone();
    for (_, name) in any.0.iter_mut().flat_map(|segment| segment.positions.iter_mut()) {
        "*".clone_into(name);
    }
    any.to_string()
}
