//! What lies over the screens. Each takes the whole body: one thing to do at a time.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::widgets::Widget as _;
use tui_textarea::TextArea;

use super::rows::{Row, hanging, put, wrapped};
use super::{Body, lists};
use crate::shown::{FileShown, spoken_at};
use crate::tui::keymap;
use crate::tui::model::{Choosing, LineFor, Model, Overlay, Signing};
use crate::tui::theme::Role;
use crate::walk::disposition::Said;

pub(super) fn body(model: &Model, overlay: &Overlay, columns: usize) -> Body {
    match overlay {
        Overlay::Help { scroll } => help(model, *scroll, columns),
        Overlay::Leave => leave(model, columns),
        Overlay::TakeUp { lines, scroll } => Body {
            rows: take_up(lines, columns),
            focus: None,
            scroll: Some(*scroll),
            ..Body::default()
        },
        Overlay::Sure { lines, .. } => {
            let mut rows = vec![Row::new(Role::Bad, "This cannot be undone."), Row::default()];
            for line in lines {
                rows.extend(wrapped(Role::Task, line, columns, 0));
            }
            rows.push(Row::default());
            rows.push(Row::new(Role::Plain, "y = yes, that is so.  esc = back"));
            Body { rows, focus: None, scroll: None, ..Body::default() }
        }
        Overlay::Choice { title, options, cursor, what } => {
            let mut rows = wrapped(Role::Task, title, columns, 0);
            if let Choosing::Deviation(address)
            | Choosing::Concession(address, _)
            | Choosing::Disposition(address) = what
            {
                rows.extend(in_words(&model.shown.step_in_words(address), columns));
            }
            rows.push(Row::default());
            let mut focus = 0;
            for (n, text) in options.iter().enumerate() {
                let picked = n == *cursor;
                let mark = format!("{} {} ", n + 1, if picked { "(*)" } else { "( )" });
                let role = if picked { Role::Picked } else { Role::Plain };
                let mut option = hanging((Role::Task, &mark), (role, text), columns);
                if picked {
                    super::card::point_at(&mut option, 3);
                }
                rows.extend(option);
                if picked {
                    focus = rows.len();
                }
            }
            Body { rows, focus: Some(focus), scroll: None, ..Body::default() }
        }
        Overlay::People { title, people, cursor, what } => {
            let mut rows = wrapped(Role::Task, title, columns, 0);
            rows.push(Row::default());
            let before = rows.len();
            let people: Vec<&crate::shown::Colleague> = people.iter().collect();
            let (list, focus) = lists::people(&people, *cursor, columns);
            rows.extend(list);
            rows.push(Row::default());
            rows.extend(about(model, what, columns));
            rows.extend(hanging((Role::Quiet, "signs: "), (Role::Plain, &what.says()), columns));
            Body { rows, focus: Some(before + focus), scroll: None, ..Body::default() }
        }
        Overlay::Passphrase { person, secret, what } => {
            let name = model.shown.name(person);
            let about = about(model, what, columns);
            passphrase((&name, secret.n_chars()), what, about, columns)
        }
        Overlay::Line { what, field } => line(model, what, field, columns),
        Overlay::Note(_) => Body { rows: Vec::new(), focus: None, scroll: None, ..Body::default() },
        Overlay::Photo(shown) => {
            Body { rows: super::photo::head(shown, columns), ..Body::default() }
        }
        Overlay::Instruments { cursor } => instruments(model, *cursor, columns),
    }
}

fn help(model: &Model, scroll: usize, columns: usize) -> Body {
    // The keys of what lies below the help.
    let mut below = model.clone();
    below.overlays.pop();
    let mut rows = vec![Row::new(Role::Label, "Keys that work there")];
    for key in keymap::table(&below).into_iter().filter(|key| !key.says.is_empty()) {
        let mark = format!("  {:<10}", key.label);
        rows.extend(hanging((Role::Task, &mark), (Role::Plain, key.says), columns));
    }
    rows.push(Row::default());
    for text in [
        "One press is one answer: a key that is held down answers once.",
        "Every answer is saved before the next step is shown. Leaving loses nothing.",
        "Where you type, commands need the control key; ctrl-u empties the line.",
    ] {
        rows.extend(wrapped(Role::Plain, text, columns, 0));
    }
    Body { rows, focus: None, scroll: Some(scroll), ..Body::default() }
}

fn leave(model: &Model, columns: usize) -> Body {
    let mut rows = vec![Row::new(Role::Task, "Leave the job for now?"), Row::default()];
    let text = "It stays open. Everything that was answered is saved.";
    rows.extend(wrapped(Role::Plain, text, columns, 0));
    let typed = model.draft.field.text();
    if !typed.is_empty() {
        let text = format!("What is typed and not recorded goes: {typed}");
        rows.extend(wrapped(Role::Bad, &text, columns, 0));
    }
    if model.hand.unsaved.is_some() {
        rows.extend(wrapped(Role::Bad, "The answer that was NOT SAVED goes.", columns, 0));
    }
    if model.kept.note.is_some() {
        rows.extend(wrapped(Role::Bad, "The note that is not saved goes.", columns, 0));
    }
    rows.push(Row::default());
    rows.push(Row::new(Role::Plain, "y = leave.  n = stay"));
    Body { rows, focus: None, scroll: None, ..Body::default() }
}

fn take_up(lines: &[String], columns: usize) -> Vec<Row> {
    let mut rows = wrapped(Role::Task, "Before you go on: look again, at the machine", columns, 0);
    rows.push(Row::default());
    for line in lines {
        // The word before the colon says what kind of line it is.
        let (word, text) = line.split_once(": ").unwrap_or(("", line));
        let role = if word.starts_with("done") { Role::Good } else { Role::Look };
        let mark = format!("{word:<11} ");
        if word.chars().count() > 30 {
            rows.extend(wrapped(Role::Plain, line, columns, 0));
        } else {
            rows.extend(hanging((role, &mark), (Role::Plain, text), columns));
        }
    }
    rows.push(Row::default());
    rows.push(Row::new(Role::Plain, "Press r once you have looked."));
    rows
}

/// What `what` is about, in words; the statement itself stands below, letter for letter.
fn about(model: &Model, what: &Signing, columns: usize) -> Vec<Row> {
    let said = what.address().map(|address| model.shown.step_in_words(address));
    in_words(&said.unwrap_or_default(), columns)
}

/// Labels and texts, a row or more each.
pub(super) fn in_words(said: &[(&'static str, String)], columns: usize) -> Vec<Row> {
    let row = |(label, text): &(&'static str, String)| {
        hanging((Role::Quiet, &format!("{label:<7}")), (Role::Plain, text), columns)
    };
    said.iter().flat_map(row).collect()
}

fn passphrase(
    (name, n_chars): (&str, usize),
    what: &Signing,
    about: Vec<Row>,
    columns: usize,
) -> Body {
    let mut rows = about;
    rows.extend(wrapped(Role::Task, &format!("{name} signs:"), columns, 0));
    rows.extend(wrapped(Role::Plain, &what.says(), columns, 2));
    if let Signing::Release(lines) = what {
        for line in lines {
            rows.extend(hanging((Role::Quiet, "  - "), (Role::Quiet, line), columns));
        }
    }
    rows.push(Row::default());
    let ask = "Passphrase of your own key; it is not shown:";
    rows.extend(wrapped(Role::Plain, ask, columns, 0));
    let dots = "*".repeat(n_chars.min(columns.saturating_sub(5)));
    let cursor = Some(3 + dots.len());
    let fill = " ".repeat(14_usize.saturating_sub(dots.len()));
    rows.push(Row {
        bits: vec![(Role::Plain, " > ".to_owned()), (Role::Typed, format!("{dots}{fill}"))],
        cursor,
    });
    let focus = Some(rows.len());
    Body { rows, focus, scroll: None, ..Body::default() }
}

fn line(model: &Model, what: &LineFor, field: &crate::tui::field::Field, columns: usize) -> Body {
    let mut rows = Vec::new();
    if let Some((question, ..)) = model.answering() {
        rows.extend(wrapped(Role::Plain, question.ask.text(), columns, 0));
        if let Some(about) = &question.about {
            rows.extend(wrapped(Role::Quiet, about, columns, 0));
        }
        if let LineFor::Correction(answer) = what {
            let before = question.answered.clone().unwrap_or_default();
            let after = crate::walk::exceptions::answer_text(&question.ask, answer);
            rows.push(Row::default());
            rows.extend(hanging((Role::Quiet, "so far  "), (Role::Plain, &before), columns));
            rows.extend(hanging((Role::Quiet, "now     "), (Role::Task, &after), columns));
        }
    }
    if let Some(address) = what.address() {
        rows.extend(in_words(&model.shown.step_in_words(address), columns));
    }
    if let LineFor::Decision(verdict) | LineFor::Concession(_, verdict) = what {
        let words = crate::shown::decision_words(*verdict);
        rows.extend(hanging((Role::Quiet, "decision  "), (Role::Task, words), columns));
    }
    if let (LineFor::Halt, Some(question)) = (what, model.shown.question()) {
        let safe = &question.safe_state;
        rows.extend(hanging((Role::Bad, "LEAVE IT SO  "), (Role::Task, safe), columns));
    }
    rows.push(Row::default());
    rows.extend(wrapped(Role::Task, what.title(), columns, 0));
    rows.push(super::card::typed(field, "", columns));
    let focus = Some(rows.len());
    if let LineFor::Disposition(_, disposition) = what
        && !field.is_empty()
    {
        let said = Said::parse(*disposition, &field.text());
        let lot = said.lot.as_deref().unwrap_or("none");
        rows.extend(hanging((Role::Quiet, "   lot: "), (Role::Plain, lot), columns));
    }
    if *what == LineFor::Evidence {
        let address = model.answering().map(|(question, ..)| question.address.clone());
        let files = address.map_or_else(Vec::new, |address| model.shown.files_of(&address));
        rows.extend(files.iter().flat_map(|file| attached(model, file, columns)));
    }
    Body { rows, focus, scroll: None, ..Body::default() }
}

/// A photo or file that lies with a step.
pub(super) fn attached(model: &Model, file: &FileShown, columns: usize) -> Vec<Row> {
    let by = model.shown.name_or_nobody(file.by.as_ref());
    let text = format!("{}, by {by}, {}", file.evidence.name, spoken_at(file.at, model.shown.now));
    hanging((Role::Quiet, "   with it: "), (Role::Plain, &text), columns)
}

fn instruments(model: &Model, cursor: usize, columns: usize) -> Body {
    let mut rows = vec![Row::new(Role::Task, "Which instrument is in your hand?"), Row::default()];
    let mut focus = 0;
    if let Some((question, ..)) = model.answering() {
        for (n, line) in question.usable_instruments().iter().enumerate() {
            let picked = n == cursor;
            let mark = format!("{} {} ", n + 1, if picked { "(*)" } else { "( )" });
            let role = if picked { Role::Picked } else { Role::Plain };
            let mut option = hanging((Role::Task, &mark), (role, &line.text()), columns);
            if picked {
                super::card::point_at(&mut option, 3);
            }
            rows.extend(option);
            if picked {
                focus = rows.len();
            }
        }
        rows.push(Row::default());
        for why in question.instruments.iter().filter_map(|i| i.barred.as_ref()) {
            rows.extend(hanging((Role::Look, "not today: "), (Role::Quiet, why), columns));
        }
    }
    Body { rows, focus: Some(focus), scroll: None, ..Body::default() }
}

/// The note editor, and where its cursor is.
pub(super) fn note(area: &TextArea<'static>, at: Rect, buf: &mut Buffer) -> Option<Position> {
    if at.height < 2 || at.width < 4 {
        return None;
    }
    let title = "Note: ctrl-r saves it, esc keeps it".to_owned();
    put(buf, Rect { height: 1, ..at }, &[(Role::Task, title)]);
    let inner = Rect { y: at.y + 1, height: at.height - 1, ..at };
    area.render(inner, buf);
    let (top, left) = area.scroll_offset();
    let cursor = area.screen_cursor();
    let place =
        |at: usize, scrolled: u16| u16::try_from(at).unwrap_or(u16::MAX).saturating_sub(scrolled);
    Some(Position {
        x: inner.x.saturating_add(place(cursor.col, left)).min(inner.right() - 1),
        y: inner.y.saturating_add(place(cursor.row, top)).min(inner.bottom() - 1),
    })
}
