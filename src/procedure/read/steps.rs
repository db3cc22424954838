//! Steps and their actions.

use std::collections::BTreeMap;

use super::exits::{exit, otherwise};
use super::role;
use crate::diag::{Code, Diagnostic};
use crate::ids::{Name, Role};
use crate::language::head;
use crate::language::take::{self, Lower, each, optional};
use crate::procedure::model::{
    Action, CountRef, DurationRef, EntryKind, Exit, Finding, Headline, HeadlineNote, LimitRef,
    Mode, Phase, Repeat, SafetyText, SafetyWords, SignalWord, Step, StopText, Toward, Verdict,
};
use crate::procedure::sign::Sign;
use crate::source::{At, Span};
use crate::units::duration::parse_duration;
use crate::units::repeat::REPEATS_MAX;
use crate::units::{Criterion, DecisionRule, RepeatRule, Repeats, Unit};
use crate::yaml::{Kind, Node};

/// The steps of a block.
pub(super) fn steps(node: Option<&Node>, lower: &mut Lower<'_>) -> Option<Vec<Step>> {
    each(node, |step_node| step(step_node, lower))
}

fn step(node: &Node, lower: &mut Lower<'_>) -> Option<Step> {
    let when = optional(node.get("when"), |when| lower.condition(when));
    let safety = safety(node, lower);
    let action = action(node, lower);
    let disturbs = optional(node.get("disturbs"), |n| lower.condition(n));
    Some(Step {
        id: take::name(node.get("id")?)?,
        when: when?,
        safety: safety?,
        uses: take::names(node.get("uses"))?,
        fits: take::names(node.get("fits"))?,
        sets: take::names(node.get("sets"))?,
        clears: take::names(node.get("clears"))?,
        needs: take::names(node.get("needs"))?,
        why: optional(node.get("why"), take::text)?,
        expect: optional(node.get("expect"), take::text)?,
        by: optional(node.get("by"), role)?,
        basis: optional(node.get("basis"), take::text)?,
        phase: optional(node.get("as"), phase)?,
        headline: optional(node.get("headline"), headline)?,
        concession: optional(node.get("concession"), role_at)?,
        disturbs: disturbs?,
        witness: optional(node.get("witness"), role_at)?,
        action: action?,
    })
}

fn role_at(node: &Node) -> Option<At<Role>> {
    role(node).map(|role| At::new(role, node.span))
}

fn phase(node: &Node) -> Option<Phase> {
    match node.text()? {
        "found" => Some(Phase::Found),
        "left" => Some(Phase::Left),
        _ => None,
    }
}

fn headline(node: &Node) -> Option<HeadlineNote> {
    Some(HeadlineNote {
        under: Headline::parse(node.get("under")?.text()?)?,
        label: take::text(node.get("label")?)?,
    })
}

/// The safety messages, worst first whatever their order in the file.
fn safety(node: &Node, lower: &mut Lower<'_>) -> Option<Vec<SafetyText>> {
    let mut all = Vec::new();
    for word in SignalWord::ALL {
        let texts = each(node.get(&word.word().to_lowercase()), |node| {
            let other = other_languages(node.get("in"))?;
            in_all_languages((node, &other), lower);
            Some(SafetyText {
                word,
                hazard: take::text(node.get("hazard")?)?,
                consequence: take::text(node.get("consequence")?)?,
                avoid: take::text(node.get("avoid")?)?,
                signs: each(node.get("signs"), |sign| Sign::find(sign.text()?))?,
                other,
            })
        });
        all.extend(texts?);
    }
    Some(all)
}

/// Reports a message that is not there in a language of the file, and one that is there in a language
/// that is not among them: nobody would see that the next message lacks it.
fn in_all_languages((node, other): (&Node, &BTreeMap<Name, SafetyWords>), lower: &mut Lower<'_>) {
    let missing: Vec<Name> =
        lower.languages.iter().filter(|name| !other.contains_key(*name)).cloned().collect();
    for language in missing {
        let headline = format!("this safety message does not stand in `{language}`");
        let help =
            format!("add `in: {{{language}: {{word: …, hazard: …, consequence: …, avoid: …}}}}`");
        lower.error(Code::MissingTranslation, node.span, headline, &help);
    }
    for (key, _) in node.get("in").map_or(&[][..], Node::entries) {
        if lower.languages.iter().all(|listed| listed.as_str() != key.value) {
            let headline = format!("`{}` is not among the languages of this procedure", key.value);
            let help = format!("list it at the head: `languages: [{}]`", key.value);
            lower.error(Code::MissingTranslation, key.span, headline, &help);
        }
    }
}

fn other_languages(node: Option<&Node>) -> Option<BTreeMap<Name, SafetyWords>> {
    let entries = node.map_or(&[][..], Node::entries);
    let words = entries.iter().map(|(language, node)| {
        let text = |key: &str| take::text(node.get(key)?);
        let words = SafetyWords {
            word: text("word")?,
            hazard: text("hazard")?,
            consequence: text("consequence")?,
            avoid: text("avoid")?,
        };
        Some((take::key_name(language)?.value, words))
    });
    words.collect()
}

fn action(node: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let is = |key: &str| node.get(key);
    if let Some(text) = is("do") {
        Some(Action::Do { text: take::text(text)? })
    } else if let Some(text) = is("check") {
        check(node, text, lower)
    } else if let Some(text) = is("look") {
        look(node, text, lower)
    } else if let Some(text) = is("measure") {
        measure(node, text, lower)
    } else if let Some(text) = is("work_out") {
        super::work_out::work_out(node, text, lower)
    } else if let Some(text) = is("build") {
        build(node, text, lower)
    } else if let Some(text) = is("tighten") {
        super::tighten::tighten(node, text, lower)
    } else if let Some(text) = is("enter") {
        let kind = entry_kind(node, lower);
        Some(Action::Enter { text: take::text(text)?, kind: kind? })
    } else if let Some(text) = is("attach") {
        let may_lack = take::flag(node.get("may_lack"));
        Some(Action::Attach { text: take::text(text)?, may_lack })
    } else if let Some(text) = is("hold") {
        Some(Action::Hold { text: take::text(text)?, role: role(node.get("by")?)? })
    } else if let Some(text) = is("wait") {
        wait(node, text, lower)
    } else if let Some(title) = is("section") {
        section(node, title, lower)
    } else if let Some(procedure) = is("perform") {
        Some(Action::Perform { procedure: take::name(procedure)? })
    } else {
        stop(node, "stop").map(Action::Stop)
    }
}

/// How a job ends, told by the text under `key` and its neighbours.
pub(super) fn stop(node: &Node, key: &str) -> Option<StopText> {
    Some(StopText {
        text: take::text(node.get(key)?)?,
        safe_state: take::text(node.get("safe_state")?)?,
        tell: each(node.get("tell"), take::text)?,
    })
}

fn check(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let not_so = not_so(node, text, "An item is not so.", lower);
    Some(Action::Check {
        text: take::text(text)?,
        items: each(node.get("items"), take::text)?,
        not_so: not_so?,
    })
}

/// The exit of what is not so; to the mechanic with `say`, where the file has none.
pub(super) fn not_so(node: &Node, text: &Node, say: &str, lower: &mut Lower<'_>) -> Option<Exit> {
    let given = optional(node.get("not_so"), |not_so| exit(not_so, lower))?;
    Some(given.unwrap_or_else(|| Exit {
        verdict: Verdict::Refer,
        say: Some(say.to_owned()),
        parts: Vec::new(),
        to: Role::Mechanic,
        steps: Vec::new(),
        rework: None,
        stop: None,
        span: text.span,
    }))
}

fn build(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let not_so = not_so(node, text, "A layer does not lie as it must.", lower);
    Some(Action::Build {
        text: take::text(text)?,
        stack: take::name(node.get("stack")?)?,
        laid: Toward::parse(node.get("laid")?.text()?)?,
        not_so: not_so?,
    })
}

fn look(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let entries = node.get("findings").map_or(&[][..], Node::entries);
    let findings: Vec<Option<Finding>> = entries
        .iter()
        .map(|(key, finding)| {
            let exit = exit(finding, lower);
            Some(Finding {
                id: take::key_name(key)?,
                see: take::text(finding.get("see")?)?,
                likely_cause: optional(finding.get("likely_cause"), take::text)?,
                exit: exit?,
            })
        })
        .collect();
    Some(Action::Look {
        text: take::text(text)?,
        several: take::flag(node.get("several")),
        findings: findings.into_iter().collect::<Option<_>>()?,
    })
}

/// A wait. Its latest time and the exit that follows it come together or not at all.
fn wait(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let too_late = optional(node.get("too_late"), |n| exit(n, lower));
    let length = duration_ref(node.get("for")?)?;
    let at_most = optional(node.get("at_most"), |n| parse_duration(n.text()?))?;
    let key = |name: &str| {
        let found = node.entries().iter().find(|(key, _)| key.value == name);
        found.map_or(text.span, |(key, _)| key.span)
    };
    match (at_most, node.get("too_late")) {
        (Some(_), None) => lower.report(
            Diagnostic::error(
                Code::MissingExit,
                key("at_most"),
                "a wait that took too long has no exit",
            )
            .help("say under `too_late` what follows"),
        ),
        (None, Some(_)) => lower.report(
            Diagnostic::error(Code::UnusedExit, key("too_late"), "this wait can never be too late")
                .help("delete `too_late`, or give the wait `at_most`"),
        ),
        (Some(most), Some(_)) if matches!(&length, DurationRef::Literal(at) if at.value > most) => {
            lower.report(
                Diagnostic::error(
                    Code::BadValue,
                    key("at_most"),
                    "the longest time is shorter than the wait",
                )
                .help("give `at_most` a longer time than `for`"),
            );
        }
        _ => {}
    }
    Some(Action::Wait { text: take::text(text)?, length, at_most_s: at_most, too_late: too_late? })
}

/// A time, or the name of one in the equipment file.
pub(super) fn duration_ref(node: &Node) -> Option<DurationRef> {
    match parse_duration(node.text()?) {
        Some(seconds) => Some(DurationRef::Literal(At::new(seconds, node.span))),
        None => take::name(node).map(DurationRef::Figure),
    }
}

pub(super) fn unit(node: &Node) -> Option<At<Unit>> {
    node.get("unit").and_then(|n| Some(At::new(Unit::parse(n.text()?)?, n.span)))
}

/// The limit of a step, or the name of one, with the exits of the step held against it.
pub(super) fn limit_ref(
    node: &Node,
    limit: &Node,
    unit: Option<&At<Unit>>,
    lower: &mut Lower<'_>,
) -> Option<LimitRef> {
    if !matches!(limit.kind, Kind::Map(_)) {
        return Some(LimitRef::Figure(take::name(limit)?));
    }
    let here = lower.criterion(limit, head(limit))?;
    // The exits are read even where the limit measures something else.
    exits_fit(node, &here, limit, lower);
    let bound = here.limit.at_least.as_ref().or(here.limit.at_most.as_ref())?;
    let fits = unit.is_none_or(|unit| lower.same_dimension(bound, head(limit), unit));
    fits.then(|| LimitRef::Here(Box::new(At::new(here, limit.span))))
}

fn measure(node: &Node, text: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let unit = unit(node);
    let relative_to = optional(node.get("relative_to"), |n| lower.condition(n));
    let temperature = optional(node.get("temperature"), |n| lower.condition(n));
    // A share is a plain number, whatever the reading is.
    let held = if node.get("relative_to").is_some() { None } else { unit.as_ref() };
    let limit = node.get("limit").and_then(|limit| limit_ref(node, limit, held, lower));
    let mut taken = |key: &str| optional(node.get(key), |n| exit(n, lower));
    let (below, above, could_not) = (taken("below"), taken("above"), taken("could_not_measure"));
    let not_proven = taken("not_proven");
    let several = several(node, lower);
    let second = optional(node.get("second"), |second| {
        let within = second.get("agree_within")?;
        let (value, _) = take::figure(within)?;
        let fits = unit.as_ref().is_none_or(|u| lower.same_dimension(&value, within.span, u));
        fits.then(|| At::new(value, within.span))
    });
    Some(Action::Measure {
        text: take::text(text)?,
        with: take::name(node.get("with")?)?,
        unit: unit?.value,
        limit: limit?,
        below: below?,
        above: above?,
        not_proven: not_proven?,
        relative_to: relative_to?,
        temperature: temperature?,
        blind: take::flag(node.get("blind")),
        several: several?,
        could_not_measure: could_not??,
        second: second?,
    })
}

/// How many readings are taken, and which counts. Both keys come together or not at all.
#[expect(clippy::option_option, reason = "absent is an answer, unreadable is none")]
fn several(node: &Node, lower: &mut Lower<'_>) -> Option<Option<(Repeats, Vec<Name>)>> {
    let (readings, counts) = match (node.get("readings"), node.get("counts")) {
        (None, None) => return Some(None),
        (Some(readings), Some(counts)) => (readings, counts),
        (Some(alone), None) => {
            let headline = "it is not said which of several readings counts".to_owned();
            let help = "add `counts:` with `first`, `mean`, `median` or `worst`";
            lower.error(Code::MissingKey, alone.span, headline, help);
            return None;
        }
        (None, Some(alone)) => {
            let headline = "one reading counts as it is".to_owned();
            lower.error(Code::MissingKey, alone.span, headline, "add `readings:`, or delete this");
            return None;
        }
    };
    let points: Vec<At<Name>> = match readings.kind {
        Kind::Seq(_) => take::names(Some(readings))?,
        _ => Vec::new(),
    };
    let spelt: Vec<At<String>> =
        points.iter().map(|point| At::new(point.value.to_string(), point.span)).collect();
    lower.unique(&spelt, "points");
    let count = if points.is_empty() { take::number(readings)? } else { 0 };
    let count = usize::try_from(count).ok()?.max(points.len());
    if !(2..=REPEATS_MAX).contains(&count) {
        let headline = format!("{count} readings are not several");
        let help = format!("write a number from 2 to {REPEATS_MAX}, or delete both keys");
        lower.error(Code::BadValue, readings.span, headline, &help);
        return None;
    }
    let rule = RepeatRule::parse(counts.text()?)?;
    let points = points.into_iter().map(|point| point.value).collect();
    Some(Some((Repeats { count, rule }, points)))
}

/// Holds the exits of a measurement against its limit: one for every side that a reading can lie
/// on, and none for a side that it cannot. Named limits are held against them by `walk::flow`.
fn exits_fit(node: &Node, criterion: &Criterion, at: &Node, lower: &mut Lower<'_>) {
    let limit = &criterion.limit;
    let sides = [
        ("below", limit.at_least.is_some(), "at_least"),
        ("above", limit.at_most.is_some(), "at_most"),
    ];
    let not_proven = node.entries().iter().find(|(key, _)| key.value == "not_proven");
    match (not_proven, matches!(criterion.rule, DecisionRule::Proven(_))) {
        (None, true) if !misspelt(node, "not_proven") => lower.report(
            Diagnostic::error(
                Code::MissingExit,
                head_of_limit(node, at),
                "a reading that proves neither has no exit",
            )
            .help("say under `not_proven` what follows"),
        ),
        (Some((key, _)), false) => lower.report(
            Diagnostic::error(Code::UnusedExit, key.span, "this limit decides every reading")
                .related(head(at), "the limit")
                .help("delete `not_proven`, or give the limit `rule: proven`"),
        ),
        _ => {}
    }
    for (side, can_be, bound) in sides {
        let key = node.entries().iter().find(|(key, _)| key.value == side).map(|(key, _)| key.span);
        match (key, can_be) {
            (None, true) if !misspelt(node, side) => lower.report(
                Diagnostic::error(
                    Code::MissingExit,
                    head_of_limit(node, at),
                    format!("a reading {side} this limit has no exit"),
                )
                .help(format!("say under `{side}` what follows")),
            ),
            (Some(span), false) => lower.report(
                Diagnostic::error(
                    Code::UnusedExit,
                    span,
                    format!("no reading can lie {side} this limit"),
                )
                .related(head(at), "the limit")
                .help(format!("delete `{side}`, or give the limit `{bound}`")),
            ),
            _ => {}
        }
    }
}

fn head_of_limit(node: &Node, limit: &Node) -> Span {
    let key = node.entries().iter().find(|(key, _)| key.value == "limit");
    key.map_or(limit.span, |(key, _)| key.span)
}

/// True when a key of `node` was probably meant to be `wanted`; that has been said then.
fn misspelt(node: &Node, wanted: &str) -> bool {
    node.entries()
        .iter()
        .any(|(key, _)| crate::diag::suggestion(&key.value, [wanted]) == Some(wanted))
}

fn entry_kind(node: &Node, lower: &mut Lower<'_>) -> Option<EntryKind> {
    match node.get("kind").map_or(Some("text"), Node::text)? {
        "text" => Some(EntryKind::Text),
        "figure" => {
            let unit = unit(node)?;
            let plausible = optional(node.get("plausible"), |range| {
                let ends = lower.range(range)?;
                lower.same_dimension(&ends.0, head(range), &unit).then_some(ends)
            });
            Some(EntryKind::Figure { unit: unit.value, plausible: plausible? })
        }
        "choice" => {
            let choices = node.get("choices")?.entries().iter();
            let named = choices.map(|(key, line)| Some((take::key_name(key)?, take::text(line)?)));
            named.collect::<Option<_>>().map(EntryKind::Choice)
        }
        "date" => Some(EntryKind::Date),
        "serial" => Some(EntryKind::Serial),
        "fit_out" => Some(EntryKind::FitOut),
        _ => None,
    }
}

fn section(node: &Node, title: &Node, lower: &mut Lower<'_>) -> Option<Action> {
    let repeat = optional(node.get("repeat"), |repeat| {
        let until = repeat.get("until").and_then(|until| lower.condition(until));
        Some(Repeat {
            until: until?,
            at_most: count_ref(repeat.get("at_most")?)?,
            otherwise: otherwise(repeat.get("otherwise")?)?,
        })
    });
    let standing = super::standing(node.get("standing"), lower);
    let steps = steps(node.get("steps"), lower);
    Some(Action::Section {
        title: take::text(title)?,
        each: optional(node.get("each"), take::name)?,
        repeat: repeat?,
        safe_state: optional(node.get("safe_state"), take::text)?,
        standing: standing?,
        one_of: optional(node.get("one_of"), take::text_at)?,
        mode: node.get("mode").and_then(|mode| Mode::parse(mode.text()?)),
        any_order: node.get("any_order").filter(|n| take::flag(Some(n))).map(|n| n.span),
        steps: steps?,
    })
}

/// A whole number, or the name of one in the equipment file.
pub(super) fn count_ref(node: &Node) -> Option<CountRef> {
    match take::number(node) {
        Some(number) => Some(CountRef::Literal(At::new(number, node.span))),
        None => take::name(node).map(CountRef::Figure),
    }
}
