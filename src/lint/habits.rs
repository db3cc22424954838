//! Habits of the trade that one step or one figure shows: an expected result where it counts, a basis
//! for each limit, signal words by whom they protect, nothing to do inside a warning.

use super::lexicon::{self, HANDLING, PEOPLE, PROPERTY, UNITS};
use super::passage::{self, Word};
use crate::diag::{Code, Diagnostic};
use crate::language::head;
use crate::procedure::model::Mode;
use crate::source::{Source, Span};
use crate::yaml::{Kind, Node};

/// The most lines that are kept in mind.
const CONFIRMED_MAX: usize = 9;

/// Everything to be said of one step.
pub(super) fn step(step: &Node, root: &Node, source: &Source) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    expected_result(step, &mut found);
    basis(step, &mut found);
    unit_of_the_limit(step, &mut found);
    handling(step, source, &mut found);
    lists_to_confirm(step, &mut found);
    for word in ["danger", "warning", "caution", "notice"] {
        let Some(node) = step.get(word) else { continue };
        let one = std::slice::from_ref(node);
        let messages = if node.items().is_empty() { one } else { node.items() };
        for message in messages {
            harm(word, message, step, root, &mut found);
            hidden_action(message, step, root, source, &mut found);
        }
    }
    found
}

fn key_span(node: &Node, key: &str) -> Span {
    let found = node.entries().iter().find(|(known, _)| known.value == key);
    found.map_or_else(|| head(node), |(key, _)| key.span)
}

/// The first of `keys` that `node` has.
fn first_of(node: &Node, keys: &[&'static str]) -> Option<&'static str> {
    keys.iter().copied().find(|key| node.get(key).is_some())
}

fn expected_result(step: &Node, found: &mut Vec<Diagnostic>) {
    let Some(action) = first_of(step, &["do", "hold", "enter", "build", "tighten"]) else { return };
    let Some(grave) = first_of(step, &["danger", "sets", "clears", "needs"]) else { return };
    if step.get("expect").is_some() {
        return;
    }
    let what = match grave {
        "danger" => "people can die of a mistake here",
        "needs" => "this step counts on a state of the machine",
        _ => "later steps count on this one",
    };
    found.push(
        Diagnostic::warning(
            Code::NoExpectedResult,
            key_span(step, action),
            "nothing says how the person can tell that this worked",
        )
        .related(key_span(step, grave), what)
        .help("say under `expect` what is seen, heard or read when it is right"),
    );
}

/// Lists of a section that is done first and confirmed then.
fn lists_to_confirm(section: &Node, found: &mut Vec<Diagnostic>) {
    let Some(mode) = section.get("mode") else { return };
    if mode.text() != Some(Mode::DoConfirm.word()) {
        return;
    }
    let mut todo: Vec<&Node> = section.get("steps").map_or(&[][..], Node::items).iter().collect();
    while let Some(step) = todo.pop() {
        // A section inside that says its own is looked at by itself.
        if step.get("mode").is_none() {
            todo.extend(step.get("steps").map_or(&[][..], Node::items));
        }
        let Some(items) = step.get("items").filter(|_| step.get("check").is_some()) else {
            continue;
        };
        let n = items.items().len();
        if n > CONFIRMED_MAX {
            found.push(
                Diagnostic::warning(
                    Code::LongConfirmList,
                    key_span(step, "items"),
                    format!("{n} lines are done from memory here before they are confirmed"),
                )
                .related(mode.span, "all of a list is done first")
                .help(format!(
                    "split the list into lists of {CONFIRMED_MAX} lines at most, or let the section be `read_do`"
                )),
            );
        }
    }
}

fn basis(step: &Node, found: &mut Vec<Diagnostic>) {
    let Some(limit) = step.get("limit") else { return };
    if matches!(limit.kind, Kind::Map(_))
        && step.get("basis").is_none()
        && limit.get("basis").is_none()
    {
        found.push(
            Diagnostic::warning(
                Code::NoBasis,
                key_span(step, "limit"),
                "nothing says where this limit comes from",
            )
            .help("name drawing, manual or shop standard under `basis`"),
        );
    }
}

/// The figures of an inline limit with the words of their units.
fn figures(limit: &Node) -> Vec<(&Node, &str)> {
    let keys = ["at_least", "at_most", "between", "nominal"];
    let values = keys.into_iter().filter_map(|key| limit.get(key));
    let each = values.flat_map(|v| std::iter::once(v).chain(v.items()));
    each.filter_map(|node| Some((node, node.text()?.trim().split_once(' ')?.1.trim()))).collect()
}

fn unit_of_the_limit(step: &Node, found: &mut Vec<Diagnostic>) {
    let (Some(unit), Some(limit)) = (step.get("unit"), step.get("limit")) else { return };
    let Some(word) = unit.text() else { return };
    let length = ["mm", "cm", "m", "µm", "in", "ft", "thou"];
    let other = figures(limit)
        .into_iter()
        .find(|(_, given)| *given != word && length.contains(given) && length.contains(&word));
    if let Some((node, given)) = other {
        found.push(
            Diagnostic::warning(
                Code::OtherUnit,
                node.span,
                format!("the limit is in `{given}`, and the instrument is read in `{word}`"),
            )
            .related(unit.span, "the reading")
            .help(format!("give the limit in `{word}`, as it is read")),
        );
    }
}

fn handling(step: &Node, source: &Source, found: &mut Vec<Diagnostic>) {
    let Some(text) = step.get("check") else { return };
    let items = step.get("items").map_or(&[][..], Node::items);
    for node in std::iter::once(text).chain(items) {
        let (said, start) = match node.verbatim(source) {
            Some((said, start)) => (said, Some(start)),
            None => (node.text().unwrap_or(""), None),
        };
        for words in passage::sentences(said) {
            let hit = words.iter().enumerate().find(|(i, word)| {
                let before = i.checked_sub(1).and_then(|before| words.get(before));
                let opens = before.is_none_or(|b| ["and", "then", "or"].contains(&&*b.lower));
                let next = words.get(i + 1).map(|word| word.lower.as_str());
                opens && HANDLING.contains(&&*word.lower) && lexicon::commands(&word.lower, next)
            });
            if let Some((_, word)) = hit {
                let span = start.map_or(node.span, |start| {
                    Span::new(node.span.file, start + word.range.start, start + word.range.end)
                });
                found.push(
                    Diagnostic::warning(
                        Code::HandlingInCheck,
                        span,
                        format!("`{}` handles the part; a `check` only compares", word.lower),
                    )
                    .help("make a `do` of it before the check, and say here what is then so"),
                );
                break;
            }
        }
    }
}

fn words_of(node: Option<&Node>) -> Vec<Word> {
    let text = node.and_then(Node::text).unwrap_or("");
    passage::sentences(text).into_iter().flatten().collect()
}

/// Whom a message protects, held against its signal word.
fn harm(word: &str, message: &Node, step: &Node, root: &Node, found: &mut Vec<Diagnostic>) {
    if root.get("signal_words").and_then(Node::text) != Some("ansi-z535") {
        return;
    }
    let mut said = words_of(message.get("consequence"));
    said.extend(words_of(message.get("hazard")));
    let names = |list: &[&str]| said.iter().any(|word| list.contains(&&*word.lower));
    let span = if message.get("consequence").is_some() {
        key_span(message, "consequence")
    } else {
        return;
    };
    let (people, property) = (names(PEOPLE), names(PROPERTY));
    let signal = word.to_uppercase();
    if word != "notice" && property && !people {
        found.push(
            Diagnostic::warning(
                Code::SignalWord,
                span,
                format!("{signal} is about people, and this harms property only"),
            )
            .related(key_span(step, word), "the signal word")
            .help("write `notice`, or say whom it can hurt and how"),
        );
    }
    if word == "notice" && injures(&said) {
        found.push(
            Diagnostic::warning(
                Code::SignalWord,
                span,
                "NOTICE is about property, and this can hurt people",
            )
            .related(key_span(step, word), "the signal word")
            .help("write `caution`, `warning` or `danger`, by how badly it can hurt"),
        );
    }
}

/// Words that leave no doubt that a person is hurt.
fn injures(said: &[Word]) -> bool {
    const SURE: &[&str] = &[
        "finger", "fingers", "skin", "injury", "injuries", "injure", "burns", "crushed", "kill",
        "kills", "death", "blind", "eyes", "lungs", "person", "people", "somebody",
    ];
    said.iter().any(|word| SURE.contains(&&*word.lower))
}

/// A tool, a supply or a value to set in `avoid`: what the job needs is done in steps.
fn hidden_action(
    message: &Node,
    step: &Node,
    root: &Node,
    source: &Source,
    found: &mut Vec<Diagnostic>,
) {
    let Some(avoid) = message.get("avoid") else { return };
    let (text, start) = match avoid.verbatim(source) {
        Some((text, start)) => (text, Some(start)),
        None => (avoid.text().unwrap_or(""), None),
    };
    let place = |from: usize, to: usize| {
        start.map_or(avoid.span, |start| Span::new(avoid.span.file, start + from, start + to))
    };
    let needs = root.get("needs");
    let lists = [
        needs.and_then(|needs| needs.get("tools")),
        needs.and_then(|needs| needs.get("supplies")),
        step.get("uses"),
    ];
    let names: Vec<String> = lists
        .into_iter()
        .flatten()
        .flat_map(Node::items)
        .filter_map(|name| Some(name.text()?.replace('_', " ")))
        .collect();
    for words in passage::sentences(text) {
        let lower: Vec<&str> = words.iter().map(|word| word.lower.as_str()).collect();
        let named = names.iter().find_map(|name| {
            let wanted: Vec<&str> = name.split(' ').collect();
            let at = lower.windows(wanted.len()).position(|have| have == wanted)?;
            Some((name, words.get(at)?.range.start, words.get(at + wanted.len() - 1)?.range.end))
        });
        let distance = lower.iter().any(|word| ["keep", "stay", "stand", "away"].contains(word));
        let value = words.windows(2).find_map(|pair| match pair {
            [number, unit] if lexicon::is_number(&number.lower) => (UNITS.contains(&&*unit.lower)
                && !distance)
                .then_some((number.range.start, unit.range.end)),
            _ => None,
        });
        let (what, from, to) = match (named, value) {
            (Some((name, from, to)), _) => (format!("`{name}`"), from, to),
            (None, Some((from, to))) => ("a value to set or to read".to_owned(), from, to),
            (None, None) => continue,
        };
        found.push(
            Diagnostic::warning(
                Code::ActionInWarning,
                place(from, to),
                format!("a safety message names {what}"),
            )
            .help(
                "what the job needs is done in a step, where it is answered; the message says how \
                 not to get hurt",
            ),
        );
        return;
    }
}

/// The days of a procedure: it is in force only from the day of its change on.
pub(super) fn days(root: &Node) -> Vec<Diagnostic> {
    let own = root.get("revision").and_then(Node::text);
    let note = root.get("revisions").map_or(&[][..], Node::items);
    let note = note.iter().find(|note| note.get("revision").and_then(Node::text) == own);
    let date = note.and_then(|note| note.get("date"));
    let (Some(effective), Some(date)) = (root.get("effective"), date) else { return Vec::new() };
    // Days are written so that their texts sort as they do.
    if effective.text() >= date.text() {
        return Vec::new();
    }
    vec![
        Diagnostic::warning(
            Code::EffectiveTooEarly,
            effective.span,
            "the revision holds from a day before it was made",
        )
        .related(date.span, "made on this day")
        .help("correct one of the two days"),
    ]
}

/// The limits that an equipment file names.
pub(super) fn named_limits(root: &Node) -> Vec<&Node> {
    let groups = root.get("limits").map_or(&[][..], Node::entries).iter();
    groups.flat_map(|(_, group)| group.entries()).map(|(_, limit)| limit).collect()
}

/// The first of `limits` for which neither it nor its file says how readings are compared with it.
pub(super) fn comparison(root: &Node, limits: &[&Node]) -> Option<Diagnostic> {
    if root.get("compare").is_some() {
        return None;
    }
    let silent =
        |limit: &&&Node| matches!(limit.kind, Kind::Map(_)) && limit.get("compare").is_none();
    let limit = limits.iter().find(silent)?;
    Some(
        Diagnostic::warning(
            Code::NoComparison,
            head(limit),
            "nothing says whether readings are rounded before they are compared with this limit",
        )
        .help("say `compare: absolute` with the limit or, from format 1.1 on, at the head of the file; or how they are rounded"),
    )
}

/// Constants of an equipment file without a source; limits cannot be without.
pub(super) fn figures_without_basis(root: &Node) -> Vec<Diagnostic> {
    let groups = root.get("constants").map_or(&[][..], Node::entries);
    groups
        .iter()
        .flat_map(|(_, group)| group.entries())
        .filter(|(_, constant)| constant.get("value").is_some() && constant.get("basis").is_none())
        .map(|(key, _)| {
            Diagnostic::warning(
                Code::NoBasis,
                key.span,
                format!("nothing says where `{}` comes from", key.value),
            )
            .help("name drawing, manual or shop standard under `basis`")
        })
        .collect()
}
