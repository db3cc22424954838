//! What came of rehearsing, for people and for programs.

use serde_json::{Value, json};

use super::super::out::Out;
use super::{Rehearsed, Shown};
use crate::rehearse::{Coverage, Fate, Group, Mutant, coverage};

/// The format of the JSON; 1.0 the first, 2.0 counts by file and plays cases, 2.1 says of mistakes that
/// they break a promise.
const JSON_FORMAT: &str = "2.1";

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
        let verdicts = expected.verdicts.iter().map(|(at, _)| at);
        let mut stated = verdicts.chain(&expected.asked).chain(&expected.not_asked);
        let at = stated.find(|at| at.value == difference.what);
        Line {
            row: at.map(|at| line_of(at.span.start)),
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

/// The name of a story: its file, and its case.
fn name(shown: &Shown) -> String {
    let file = shown.source.name();
    shown.case.as_ref().map_or_else(|| file.to_owned(), |case| format!("{file}, case {case}"))
}

fn is_fine(shown: &Shown) -> bool {
    stuck(shown).is_none() && lines(shown).is_empty()
}

pub(super) fn text(
    played: &[Shown],
    (rehearsed, coverage): (&[Rehearsed], &Coverage),
    (notes, idle): (&[String], &[String]),
    out: Out,
) {
    for note in notes {
        out.line(&format!("note: {note}"));
    }
    let of_file = |one: &Shown, other: &Shown| one.source.name() == other.source.name();
    for stories in played.chunk_by(of_file) {
        let Some(first) = stories.first() else { continue };
        let n_fine = stories.iter().filter(|shown| is_fine(shown)).count();
        if n_fine == stories.len() {
            let cases = match n_fine.saturating_sub(1) {
                0 => String::new(),
                1 => ", 1 case too".to_owned(),
                n_cases => format!(", {n_cases} cases too"),
            };
            out.line(&format!("{}: as expected{cases}", first.source.name()));
            continue;
        }
        for shown in stories.iter().filter(|shown| !is_fine(shown)) {
            differing_text(shown, out);
        }
    }
    for line in idle {
        out.line(line);
    }
    coverage_text(rehearsed, coverage, out);
    for of in rehearsed {
        if let Some(mutants) = &of.mutants {
            mutants_text(of, mutants, out);
        }
    }
}

fn differing_text(shown: &Shown, out: Out) {
    let name = name(shown);
    if let Some(why) = stuck(shown) {
        out.line(&format!("{name}: cannot be played to its end"));
        out.line(&format!("    {why}"));
        return;
    }
    let lines = lines(shown);
    let s = if lines.len() == 1 { "" } else { "s" };
    out.line(&format!("{name}: {} difference{s}", lines.len()));
    let file = shown.source.name();
    for Line { row, what, expected, found } in lines {
        let at = row.map_or_else(|| file.to_owned(), |line| format!("{file}:{line}"));
        out.line(&format!("  {at}: {what}"));
        out.line(&format!("    - expected: {expected}"));
        out.line(&format!("    + found:    {found}"));
    }
}

fn title(of: &Rehearsed) -> String {
    let alone = if of.course.is_alone { " alone" } else { "" };
    format!("{}{alone} on {}", of.course.procedure, of.course.flow.equipment_id())
}

/// A table: what is taken of each file, group by group.
fn coverage_text(rehearsed: &[Rehearsed], coverage: &Coverage, out: Out) {
    let files: Vec<&str> = coverage.files().into_iter().collect();
    let width = files.iter().map(|file| file.chars().count()).max().unwrap_or(0).max(8);
    let row = |name: &str, cells: &dyn Fn(Group) -> String| {
        let cells = Group::ALL.map(|group| format!("{:>10}", cells(group))).concat();
        out.line(format!("{name:<width$}{cells}").trim_end());
    };
    let cell = |group: Group, file: Option<&str>| match coverage.count(group, file) {
        (_, 0) => "-".to_owned(),
        (n_taken, n_all) => format!("{n_taken}/{n_all}"),
    };
    out.line("");
    row("taken of", &|group| group.word().to_owned());
    for file in &files {
        row(file, &|group| cell(group, Some(file)));
    }
    row("all", &|group| cell(group, None));
    let mut wrote = false;
    for (of, missing) in rehearsed.iter().filter_map(|of| Some((of, of.missing.as_ref()?))) {
        wrote = true;
        if let Some(written) = &missing.written {
            let s = if written.n_cases == 1 { "" } else { "s" };
            out.line(&format!(
                "written: {}.yaml, {} with {} case{s}; confirm what it expects",
                written.id,
                title(of),
                written.n_cases
            ));
        }
    }
    for (of, missing) in rehearsed.iter().filter_map(|of| Some((of, of.missing.as_ref()?))) {
        if let Some(why) = &missing.stuck {
            out.line(&format!(
                "nothing is written for {}: the plain way through it does not play: {why}",
                title(of)
            ));
        }
    }
    let told = |missing: &coverage::Shown| {
        let line = missing.line.map(|line| format!(":{line}")).unwrap_or_default();
        let address = if missing.at.is_empty() { "" } else { " at " };
        let word = missing.group.word();
        format!("  {}{line}: {word}: {}{address}{}", missing.file, missing.what, missing.at)
    };
    if !coverage.out_of_reach.is_empty() {
        out.line("out of reach, as the author says:");
    }
    for (target, because) in &coverage.out_of_reach {
        if let Some(shown) = coverage.all.get(target) {
            out.line(&format!("{}: {because}", told(shown)));
        }
    }
    let missing = coverage.missing_in_order();
    if missing.is_empty() {
        return;
    }
    out.line(if wrote { "not taken, and no answers found that lead there:" } else { "not taken:" });
    for missing in missing {
        out.line(&told(missing));
    }
}

fn mutants_text(of: &Rehearsed, mutants: &[(Mutant, Fate)], out: Out) {
    let count = |fate: Fate| mutants.iter().filter(|(_, of)| *of == fate).count();
    out.line(&format!(
        "mistakes in {}: {} made, {} refused by `check`, {} by the proof, {} noticed by a rehearsal, {} \
         noticed by none",
        title(of),
        mutants.len(),
        count(Fate::Checked),
        count(Fate::Disproved),
        count(Fate::Noticed),
        count(Fate::Unnoticed)
    ));
    for (mutant, _) in mutants.iter().filter(|(_, fate)| *fate == Fate::Unnoticed) {
        out.line(&format!("  {}:{}: {}", mutant.file, mutant.line, mutant.what));
    }
}

pub(super) fn json(played: &[Shown], (rehearsed, coverage): (&[Rehearsed], &Coverage), out: Out) {
    let missing: Vec<Value> = coverage.missing_in_order().into_iter().map(missing_json).collect();
    let value = json!({
        "format": JSON_FORMAT,
        "rehearsals": played.iter().map(rehearsal_json).collect::<Vec<_>>(),
        "coverage": counts_json(coverage, None),
        "files": coverage.files().into_iter().map(|file| json!({
            "file": file,
            "coverage": counts_json(coverage, Some(file)),
        })).collect::<Vec<_>>(),
        "not_taken": missing,
        "out_of_reach": coverage.out_of_reach.iter().filter_map(|(target, because)| {
            let mut shown = missing_json(coverage.all.get(target)?);
            shown.as_object_mut()?.insert("because".to_owned(), json!(because));
            Some(shown)
        }).collect::<Vec<_>>(),
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
        "case": shown.case,
        "result": result,
        "stuck": stuck,
        "differences": differences,
    })
}

fn counts_json(coverage: &Coverage, file: Option<&str>) -> Value {
    let groups = Group::ALL.into_iter().map(|group| {
        let (taken, all) = coverage.count(group, file);
        (group.word().to_owned(), json!({"taken": taken, "all": all}))
    });
    Value::Object(groups.collect())
}

fn rehearsed_json(of: &Rehearsed) -> Value {
    let mutants = of.mutants.as_ref().map(|mutants| {
        let mutant = |(mutant, fate): &(Mutant, Fate)| {
            let fate = match fate {
                Fate::Checked => "refused by check",
                Fate::Disproved => "breaks a promise",
                Fate::Noticed => "noticed",
                Fate::Unnoticed => "not noticed",
            };
            json!({"file": mutant.file, "line": mutant.line, "what": mutant.what, "fate": fate})
        };
        mutants.iter().map(mutant).collect::<Vec<_>>()
    });
    let written = of.missing.as_ref().and_then(|missing| missing.written.as_ref());
    json!({
        "procedure": of.course.procedure.as_str(),
        "alone": of.course.is_alone,
        "equipment": of.course.flow.equipment_id().as_str(),
        "written": written.map(|written| json!({"id": written.id, "cases": written.n_cases})),
        "mistakes": mutants,
    })
}

fn missing_json(missing: &coverage::Shown) -> Value {
    json!({
        "group": missing.group.word(),
        "what": missing.what,
        "at": missing.at,
        "file": missing.file,
        "line": missing.line,
    })
}
