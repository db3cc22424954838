//! The screens that are lists: who, outline, sign-off, released.

use super::Body;
use super::card::point_at;
use super::rail::role;
use super::rows::{Row, hanging, wrapped};
use crate::shown::{Place, spoken_at};
use crate::tui::model::Model;
use crate::tui::theme::Role;

/// Rows of people to pick from.
pub(super) fn people(
    people: &[&crate::shown::Colleague],
    cursor: usize,
    columns: usize,
) -> (Vec<Row>, usize) {
    let mut rows = Vec::new();
    let mut focus = 0;
    for (n, person) in people.iter().enumerate() {
        let picked = n == cursor;
        let mark = format!("{} {} ", n + 1, if picked { "(*)" } else { "( )" });
        let role = if picked { Role::Picked } else { Role::Plain };
        let text = format!("{}, {}", person.name, person.roles_text());
        let mut line = hanging((Role::Task, &mark), (role, &text), columns);
        if picked {
            point_at(&mut line, 3);
        }
        rows.extend(line);
        if picked {
            focus = rows.len();
        }
    }
    if people.is_empty() {
        let text = "Nobody on the list of authorised people may do this today.";
        rows.extend(wrapped(Role::Bad, text, columns, 0));
    }
    (rows, focus)
}

pub(super) fn who(model: &Model, cursor: usize, columns: usize) -> Body {
    let shown = &model.shown;
    let title = format!("{}, revision {}", shown.title, shown.revision);
    let mut rows = wrapped(Role::Task, &title, columns, 0);
    if shown.is_demo() {
        rows.push(Row::new(Role::Plain, "A demo job: nothing in it counts."));
    }
    rows.push(Row::default());
    rows.push(Row::new(Role::Task, "Who is at work from here on?"));
    let before = rows.len();
    let (list, focus) = people(&shown.workers(), cursor, columns);
    rows.extend(list);
    let focus = before + focus;
    let barred: Vec<&String> = shown.people.iter().filter_map(|p| p.barred.as_ref()).collect();
    if !barred.is_empty() {
        rows.push(Row::default());
    }
    for why in barred {
        rows.extend(hanging((Role::Look, "not today: "), (Role::Quiet, why), columns));
    }
    Body { rows, focus: Some(focus), scroll: None, ..Body::default() }
}

pub(super) fn outline(model: &Model, cursor: usize, columns: usize, height: usize) -> Body {
    let mut rows = Vec::new();
    let mut focus = 0;
    for (n, row) in model.shown.outline.iter().enumerate() {
        // What is seen lies about the row that is picked: what is a window away is not laid out.
        if n.abs_diff(cursor) > height {
            rows.push(Row::default());
            continue;
        }
        let picked = n == cursor;
        let indent = "  ".repeat(row.depth.min(6));
        let mark = format!(
            "{}{} {:<8}{indent}",
            if picked { ">" } else { " " },
            row.state.letter(),
            match row.state {
                crate::shown::State::NotApplicable => "n/a",
                state => state.word(),
            }
        );
        let text = match row.count {
            Some((done, all)) => format!("{} ({done} of {all})", row.text),
            None => row.text.clone(),
        };
        let text_role = match (picked, row.count.is_some()) {
            (true, _) => Role::Picked,
            (false, true) => Role::Task,
            (false, false) => Role::Plain,
        };
        let mut line = hanging((role(row.state), &mark), (text_role, &text), columns);
        if picked {
            point_at(&mut line, 0);
        }
        rows.extend(line);
        if picked {
            rows.extend(detail(model, n, columns));
            focus = rows.len();
        }
    }
    Body { rows, focus: Some(focus), scroll: None, ..Body::default() }
}

/// Answer, person, time or condition of the row that is picked.
fn detail(model: &Model, n: usize, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    let Some(row) = model.shown.outline.get(n) else { return rows };
    if let Some(answer) = &row.answer {
        rows.extend(hanging((Role::Quiet, "       -> "), (Role::Plain, answer), columns));
    }
    for signed in &row.signed {
        rows.extend(hanging((Role::Quiet, "       signed "), (Role::Plain, signed), columns));
    }
    if row.failed {
        let text = "nothing says what was done about it: press a, and a mechanic signs";
        rows.extend(hanging((Role::Look, "       to do "), (Role::Plain, text), columns));
    }
    if let Some((by, at)) = &row.by {
        let by = model.shown.name_or_nobody(by.as_ref());
        let text = format!("by {by}, {}; press c to correct it", spoken_at(*at, model.shown.now));
        rows.extend(wrapped(Role::Quiet, &text, columns, 10));
    }
    let files = row.address.as_ref().map(|address| model.shown.files_of(address));
    for file in files.iter().flatten() {
        let text = format!("{}; press i to look at it", file.evidence.name);
        rows.extend(hanging((Role::Quiet, "          with "), (Role::Plain, &text), columns));
    }
    if let Some(because) = &row.because {
        let text = format!("asked only when {because}");
        rows.extend(wrapped(Role::Quiet, &text, columns, 10));
    }
    if let Some(address) = &row.address {
        rows.extend(wrapped(Role::Quiet, &address.to_string(), columns, 10));
    }
    rows
}

pub(super) fn sign_off(model: &Model, lines: &[String], seen: usize, columns: usize) -> Body {
    let shown = &model.shown;
    let mut rows = Vec::new();
    match &shown.place {
        Place::Stopped { text, .. } => {
            rows.extend(hanging((Role::Bad, "STOPPED  "), (Role::Task, &text.text), columns));
            let state = format!("State of the machine: {}", text.safe_state);
            rows.extend(wrapped(Role::Plain, &state, columns, 0));
        }
        Place::Asked(_) => {
            let text = shown.stopped_short();
            rows.extend(hanging((Role::Bad, "STOPPED  "), (Role::Task, &text), columns));
        }
        Place::End => rows.push(Row::new(Role::Task, "All steps are answered.")),
    }
    rows.push(Row::default());
    if !shown.blocks.is_empty() {
        rows.push(Row::new(Role::Label, "Before the job can be signed"));
        for block in &shown.blocks {
            rows.extend(hanging((Role::Look, "  to do  "), (Role::Plain, block), columns));
        }
        if shown.outline.iter().any(|row| row.failed) {
            let text = "press enter for the step, then a: a mechanic says what was done, and signs";
            rows.extend(wrapped(Role::Task, text, columns, 9));
        }
        for open in &shown.unsigned {
            let name = shown.name(&open.person);
            let text = format!("{name} signs for {}: press enter", open.range_text());
            rows.extend(wrapped(Role::Task, &text, columns, 9));
        }
        return Body { rows, scroll: model.draft.scroll, ..Body::default() };
    }
    let title = format!("Look at before signing: {} of {} looked at", seen, lines.len());
    rows.extend(wrapped(Role::Label, &title, columns, 0));
    let (mut from, mut focus) = (None, rows.len());
    for (n, line) in lines.iter().enumerate() {
        let (mark, role, text) = match n.cmp(&seen) {
            std::cmp::Ordering::Less => ("[x] ", Role::Good, Role::Plain),
            std::cmp::Ordering::Equal => (" >  ", Role::Picked, Role::Task),
            std::cmp::Ordering::Greater => ("[ ] ", Role::Quiet, Role::Quiet),
        };
        if n == seen {
            from = Some(rows.len());
        }
        rows.extend(hanging((role, mark), (text, line), columns));
        if n == seen {
            // In words below what is signed letter for letter.
            let said = super::over::in_words(&shown.line_in_words(line), columns.saturating_sub(4));
            rows.extend(said.into_iter().map(|mut row| {
                row.bits.insert(0, (Role::Plain, "    ".to_owned()));
                row
            }));
        }
        if n <= seen {
            focus = rows.len();
        }
    }
    if seen >= lines.len() {
        rows.push(Row::default());
        let text = format!("A {} signs for the whole job: press enter.", shown.signed_by.word());
        rows.extend(wrapped(Role::Task, &text, columns, 0));
        focus = rows.len();
    }
    Body { rows, focus: Some(focus), from, scroll: model.draft.scroll, ..Body::default() }
}

pub(super) fn done(lines: &[String], columns: usize) -> Body {
    let mut rows = vec![Row::new(Role::Good, "The job is closed."), Row::default()];
    for line in lines {
        rows.extend(wrapped(Role::Plain, line, columns, 0));
    }
    Body { rows, focus: None, scroll: None, ..Body::default() }
}
