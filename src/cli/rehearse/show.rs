//! What came of rehearsing, for people and for programs.

use serde_json::{Value, json};

use super::super::out::Out;
use super::{Rehearsed, Shown};
use crate::rehearse::coverage::{self, missing_by_group};
use crate::rehearse::{Fate, Group, Mutant};

/// The format of the JSON; 1.0 the first.
const JSON_FORMAT: &str = "1.0";

/// One line of a difference.
struct Line {
    row: Option<usize>,
    what: String,
    expected: String,
    found: String,
}

/// What of a rehearsal came otherwise than its file says.
fn lines(shown: &Shown) -> Vec<Line> {
    let Ok(played) = &shown.result else { return Vec::new() };
    let line_of = |start: usize| shown.source.line_col(start).line;
    let expected = &shown.script.expect;
    let different = played.differences.iter().map(|difference| {
        let at = expected.verdicts.iter().find(|(at, _)| at.value == difference.what);
        Line {
            row: at.map(|(at, _)| line_of(at.span.start)),
            what: difference.what.clone(),
            expected: difference.expected.clone(),
            found: difference.found.clone(),
        }
    });
    let idle = played.unused.iter().filter_map(|index| shown.script.answers.get(*index));
    let idle = idle.map(|answer| Line {
        row: Some(line_of(answer.span.start)),
        what: answer.at.value.clone(),
        expected: "asked".to_owned(),
        found: "not asked, so that this answer is never given".to_owned(),
    });
    different.chain(idle).collect()
}

/// Why a rehearsal did not play to its end.
fn stuck(shown: &Shown) -> Option<String> {
    match &shown.result {
        Err(error) => Some(error.to_string()),
        Ok(played) => played.stuck.as_ref().map(ToString::to_string),
    }
}

pub(super) fn text(played: &[Shown], rehearsed: &[Rehearsed], notes: &[String], out: Out) {
    for note in notes {
        out.line(&format!("note: {note}"));
    }
    for shown in played {
        rehearsal_text(shown, out);
    }
    for of in rehearsed {
        coverage_text(of, out);
        if let Some(mutants) = &of.mutants {
            mutants_text(mutants, out);
        }
    }
}

fn rehearsal_text(shown: &Shown, out: Out) {
    let name = shown.source.name();
    if let Some(why) = stuck(shown) {
        out.line(&format!("{name}: cannot be played to its end"));
        out.line(&format!("    {why}"));
        return;
    }
    let lines = lines(shown);
    if lines.is_empty() {
        out.line(&format!("{name}: as expected"));
        return;
    }
    let s = if lines.len() == 1 { "" } else { "s" };
    out.line(&format!("{name}: {} difference{s}", lines.len()));
    for Line { row, what, expected, found } in lines {
        let at = row.map_or_else(|| name.to_owned(), |line| format!("{name}:{line}"));
        out.line(&format!("  {at}: {what}"));
        out.line(&format!("    - expected: {expected}"));
        out.line(&format!("    + found:    {found}"));
    }
}

fn title(of: &Rehearsed) -> String {
    format!("{} on {}", of.course.flow.procedure, of.course.flow.equipment_id())
}

fn coverage_text(of: &Rehearsed, out: Out) {
    let s = if of.n_rehearsals == 1 { "" } else { "s" };
    let mut head = format!("{}, {} rehearsal{s}", title(of), of.n_rehearsals);
    if let Some(missing) = &of.missing {
        head = format!("{head} and {} written", missing.written.len());
    }
    out.line(&format!("\n{head}:"));
    for group in Group::ALL {
        let (n_taken, n_all) = of.coverage.count(group);
        if n_all > 0 {
            out.line(&format!("  {:<10} {n_taken:>4} of {n_all:>4}", group.word()));
        }
    }
    for written in of.missing.iter().flat_map(|missing| &missing.written) {
        out.line(&format!("written: {}.yaml; confirm what it expects", written.id));
    }
    let groups = missing_by_group(&of.course, &of.coverage);
    if groups.is_empty() {
        return;
    }
    let head = match &of.missing {
        Some(_) => "not taken, and no answers found that lead there:",
        None => "not taken:",
    };
    out.line(head);
    for missing in groups.values().flatten() {
        let at = missing.line.as_ref().map(|(file, line)| format!("{file}:{line}: "));
        let address = if missing.at.is_empty() { "" } else { " at " };
        let word = missing.group.word();
        out.line(&format!(
            "  {}{word}: {}{address}{}",
            at.unwrap_or_default(),
            missing.what,
            missing.at
        ));
    }
}

fn mutants_text(mutants: &[(Mutant, Fate)], out: Out) {
    let count = |fate: Fate| mutants.iter().filter(|(_, of)| *of == fate).count();
    out.line(&format!(
        "mistakes: {} made, {} refused by `check`, {} noticed by a rehearsal, {} noticed by none",
        mutants.len(),
        count(Fate::Checked),
        count(Fate::Noticed),
        count(Fate::Unnoticed)
    ));
    for (mutant, _) in mutants.iter().filter(|(_, fate)| *fate == Fate::Unnoticed) {
        out.line(&format!("  {}:{}: {}", mutant.file, mutant.line, mutant.what));
    }
}

pub(super) fn json(played: &[Shown], rehearsed: &[Rehearsed], out: Out) {
    let value = json!({
        "format": JSON_FORMAT,
        "rehearsals": played.iter().map(rehearsal_json).collect::<Vec<_>>(),
        "procedures": rehearsed.iter().map(rehearsed_json).collect::<Vec<_>>(),
    });
    out.raw(&format!("{value:#}\n"));
}

fn rehearsal_json(shown: &Shown) -> Value {
    let lines = lines(shown);
    let stuck = stuck(shown);
    let result = match (&stuck, lines.is_empty()) {
        (Some(_), _) => "stuck",
        (None, true) => "as expected",
        (None, false) => "differs",
    };
    let differences: Vec<Value> = lines
        .into_iter()
        .map(|l| json!({"line": l.row, "what": l.what, "expected": l.expected, "found": l.found}))
        .collect();
    json!({
        "file": shown.source.name(),
        "rehearsal": shown.script.id.as_str(),
        "result": result,
        "stuck": stuck,
        "differences": differences,
    })
}

fn rehearsed_json(of: &Rehearsed) -> Value {
    let groups = Group::ALL.into_iter().map(|group| {
        let (taken, all) = of.coverage.count(group);
        (group.word().to_owned(), json!({"taken": taken, "all": all}))
    });
    let missing = missing_by_group(&of.course, &of.coverage);
    let missing: Vec<Value> = missing.values().flatten().map(missing_json).collect();
    let mutants = of.mutants.as_ref().map(|mutants| {
        let mutant = |(mutant, fate): &(Mutant, Fate)| {
            let fate = match fate {
                Fate::Checked => "refused by check",
                Fate::Noticed => "noticed",
                Fate::Unnoticed => "not noticed",
            };
            json!({"file": mutant.file, "line": mutant.line, "what": mutant.what, "fate": fate})
        };
        mutants.iter().map(mutant).collect::<Vec<_>>()
    });
    let written = of.missing.as_ref().map(|missing| {
        missing.written.iter().map(|written| written.id.as_str()).collect::<Vec<_>>()
    });
    json!({
        "procedure": of.course.flow.procedure.as_str(),
        "equipment": of.course.flow.equipment_id().as_str(),
        "coverage": groups.collect::<serde_json::Map<_, _>>(),
        "not_taken": missing,
        "written": written,
        "mistakes": mutants,
    })
}

fn missing_json(missing: &coverage::Shown) -> Value {
    json!({
        "group": missing.group.word(),
        "what": missing.what,
        "at": missing.at,
        "file": missing.line.as_ref().map(|(file, _)| file.as_str()),
        "line": missing.line.as_ref().map(|(_, line)| *line),
    })
}
