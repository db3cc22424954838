//! The job sheet: what to fetch, what was found and left, why, and what was done otherwise.

use std::collections::{BTreeMap, BTreeSet};

use super::Body;
use super::rows::{Row, hanging, width, wrapped};
use crate::ids::PersonId;
use crate::shown::Sheet;
use crate::shown::sheet::{DecidedLine, ReadingLine, Taken};
use crate::tui::model::Model;
use crate::tui::theme::Role;
use crate::units::Decision;

/// The rows of the sheet, of which those about the first `height` from `scroll` on are seen.
pub(super) fn body(
    model: &Model,
    sheet: &Sheet,
    (scroll, height): (usize, usize),
    columns: usize,
) -> Body {
    let mut rows = Vec::new();
    if !sheet.parts.is_empty() {
        heading(&mut rows, "Parts to fetch");
    }
    for part in &sheet.parts {
        let number = part.number.as_deref().map_or_else(String::new, |n| format!(" ({n})"));
        let place =
            if part.position.is_empty() { String::new() } else { format!(", {}", part.position) };
        let text = format!("{}{number}{place}", part.title);
        let mark = format!("  {} x ", part.quantity);
        rows.extend(hanging((Role::Task, &mark), (Role::Plain, &text), columns));
        rows.extend(wrapped(Role::Quiet, &part.because, columns, 6));
    }
    if !sheet.readings.is_empty() {
        heading(&mut rows, "Readings, as found and as left");
    }
    for reading in &sheet.readings {
        rows.extend(measured(reading, columns));
    }
    if !sheet.causes.is_empty() {
        heading(&mut rows, "Cause");
    }
    for cause in &sheet.causes {
        let about = at(&cause.about, cause.position.as_deref());
        let (mark, role) =
            if cause.entered { ("    ", Role::Task) } else { ("    likely: ", Role::Plain) };
        rows.extend(wrapped(Role::Plain, &about, columns, 2));
        rows.extend(hanging((Role::Quiet, mark), (role, &cause.text), columns));
    }
    decided(model, ("Deviations", &sheet.deviations), &mut rows, columns);
    decided(model, ("Decisions", &sheet.decisions), &mut rows, columns);
    if !sheet.corrections.is_empty() {
        heading(&mut rows, "Corrections");
    }
    for correction in &sheet.corrections {
        rows.extend(wrapped(Role::Plain, correction, columns, 2));
    }
    notes(model, sheet, (scroll, height), &mut rows, columns);
    let without = [
        ("parts to fetch", sheet.parts.is_empty()),
        ("readings", sheet.readings.is_empty()),
        ("cause", sheet.causes.is_empty()),
        ("deviations", sheet.deviations.is_empty()),
        ("decisions", sheet.decisions.is_empty()),
    ];
    let without: Vec<&str> =
        without.into_iter().filter(|(_, is_empty)| *is_empty).map(|(what, _)| what).collect();
    if !without.is_empty() {
        rows.push(Row::default());
        let text = format!("None so far: {}.", without.join(", "));
        rows.extend(wrapped(Role::Quiet, &text, columns, 0));
    }
    Body { rows, focus: None, scroll: Some(scroll), ..Body::default() }
}

/// The notes. A long job has thousands, so those that are far from what is seen are counted and not
/// laid out; empty rows stand for them.
fn notes(
    model: &Model,
    sheet: &Sheet,
    (scroll, height): (usize, usize),
    rows: &mut Vec<Row>,
    columns: usize,
) {
    if sheet.notes.is_empty() {
        return;
    }
    heading(rows, "Notes");
    let names: BTreeMap<Option<&PersonId>, String> = sheet
        .notes
        .iter()
        .map(|(by, ..)| by.as_ref())
        .collect::<BTreeSet<_>>()
        .into_iter()
        .map(|by| (by, model.shown.name_or_nobody(by)))
        .collect();
    let counts: Vec<usize> = sheet
        .notes
        .iter()
        .map(|(by, at, text)| {
            let name = names.get(&by.as_ref()).map_or("", String::as_str);
            let at = at.as_deref().unwrap_or("the job");
            let head = n_rows(&[name, ", on ", at], columns, 2);
            head + text.lines().map(|line| n_rows(&[line], columns, 4)).sum::<usize>()
        })
        .collect();
    // The sheet may be scrolled past its end where the window has grown; a page is left on each side.
    let last = (rows.len() + counts.iter().sum::<usize>()).saturating_sub(height);
    let from = scroll.min(last).saturating_sub(height);
    let seen = from..from + 3 * height;
    for ((by, at, text), n) in sheet.notes.iter().zip(counts) {
        if rows.len() + n <= seen.start || rows.len() >= seen.end {
            rows.resize_with(rows.len() + n, Row::default);
            continue;
        }
        let name = names.get(&by.as_ref()).map_or("", String::as_str);
        rows.extend(wrapped(
            Role::Quiet,
            &format!("{name}, on {}", at.as_deref().unwrap_or("the job")),
            columns,
            2,
        ));
        for line in text.lines() {
            rows.extend(wrapped(Role::Plain, line, columns, 4));
        }
    }
}

/// How many rows `wrapped` makes of the joined `parts`.
fn n_rows(parts: &[&str], columns: usize, indent: usize) -> usize {
    let is_plain = |text: &&str| text.bytes().all(|byte| matches!(byte, b' '..=b'~'));
    let len: usize = parts.iter().map(|text| text.len()).sum();
    if len + indent <= columns && parts.iter().all(is_plain) {
        return 1;
    }
    wrapped(Role::Plain, &parts.concat(), columns, indent).len()
}

fn heading(rows: &mut Vec<Row>, text: &str) {
    if !rows.is_empty() {
        rows.push(Row::default());
    }
    rows.push(Row::new(Role::Label, text));
}

/// What a step asks, and where.
fn at(text: &str, position: Option<&str>) -> String {
    let text = text.trim_end_matches('.');
    position.map_or_else(|| text.to_owned(), |position| format!("{text}, {position}"))
}

/// A place with its readings: beside each other where there is room.
fn measured(reading: &ReadingLine, columns: usize) -> Vec<Row> {
    let mut rows =
        wrapped(Role::Plain, &at(&reading.text, reading.position.as_deref()), columns, 2);
    let cell = |label: &str, taken: Option<&Taken>| match taken {
        None => vec![(Role::Quiet, format!("{label} ")), (Role::Quiet, "-".to_owned())],
        Some(taken) => {
            let role = if taken.said == Some(Decision::Within) { Role::Good } else { Role::Bad };
            vec![
                (Role::Quiet, format!("{label} ")),
                (Role::Task, format!("{} ", taken.text)),
                (role, taken.word().to_owned()),
                (Role::Quiet, taken.with_text()),
            ]
        }
    };
    let (found, left) =
        (cell("as found", reading.found.as_ref()), cell("as left", reading.left.as_ref()));
    let wide = |bits: &[(Role, String)]| bits.iter().map(|(_, text)| width(text)).sum::<usize>();
    let half = columns.saturating_sub(4) / 2;
    let set_in = || vec![(Role::Plain, "    ".to_owned())];
    if wide(&found) + 2 <= half && wide(&left) <= half {
        let fill = " ".repeat(half - wide(&found));
        let both = set_in().into_iter().chain(found).chain([(Role::Plain, fill)]).chain(left);
        rows.push(Row::of(both.collect()));
    } else {
        for taken in [("    as found ", &reading.found), ("    as left  ", &reading.left)] {
            let (label, Some(taken)) = taken else { continue };
            let role = if taken.said == Some(Decision::Within) { Role::Good } else { Role::Bad };
            let text = format!("{} {}{}", taken.text, taken.word(), taken.with_text());
            rows.extend(hanging((Role::Quiet, label), (role, &text), columns));
        }
    }
    if !reading.limit.is_empty() {
        rows.extend(hanging(
            (Role::Quiet, "    limit    "),
            (Role::Quiet, &reading.limit),
            columns,
        ));
    }
    rows
}

fn decided(
    model: &Model,
    (title, lines): (&str, &[DecidedLine]),
    rows: &mut Vec<Row>,
    columns: usize,
) {
    if !lines.is_empty() {
        heading(rows, title);
    }
    for line in lines {
        rows.extend(wrapped(Role::Plain, &at(&line.about, line.position.as_deref()), columns, 2));
        let by = model.shown.name_or_nobody(line.by.as_ref());
        let text = format!("{}; {by}: {}", line.what, line.reason);
        rows.extend(hanging((Role::Look, "    -> "), (Role::Plain, &text), columns));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_counted_as_they_are_laid_out() {
        for text in
            ["", "short", "a note that is longer than the row", "lang ö 軸受", "a\u{1b}b", "  x "]
        {
            for columns in [8, 12, 40] {
                let laid = wrapped(Role::Plain, text, columns, 4).len();
                assert_eq!(n_rows(&[text], columns, 4), laid, "{text} in {columns}");
            }
        }
    }
}
