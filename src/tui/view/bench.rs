//! The bench: a list of open jobs, and what is open on the one that is picked.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::widgets::Widget as _;

use super::rows::{Row, cut, hanging, put, put_right, width, wrapped};
use super::{LEAST, signs};
use crate::ids::JobId;
use crate::session::bench::Offer;
use crate::session::history::OpenJobLine;
use crate::shown::spoken_at;
use crate::tui::bench::{Bench, Over, Page, Said};
use crate::tui::keymap::{Binding, bench_keys};
use crate::tui::theme::Role;
use crate::walk::event::Next;
use crate::walk::open::Signs;

/// Draws the bench, and returns where the cursor belongs.
pub fn bench(bench: &Bench<'_>, area: Rect, buf: &mut Buffer) -> Option<Position> {
    let area = area.intersection(buf.area);
    ratatui::widgets::Clear.render(area, buf);
    let (columns, least_rows) = LEAST;
    if area.width < columns || area.height < least_rows {
        let text = format!("needs {columns}x{least_rows}, has {}x{}", area.width, area.height);
        put(buf, Rect { height: area.height.min(1), ..area }, &[(Role::Plain, text)]);
        signs::fit_to(bench.look, area, buf);
        return None;
    }
    head(bench, area, buf);
    let middle =
        Rect { x: area.x + 1, y: area.y + 3, width: area.width - 1, height: area.height - 5 };
    let room = room(area.width);
    let height = height((area.width, area.height));
    let (rows, skip) = if let Some((over, scroll)) = &bench.over {
        let rows = over_body(bench, over, room);
        (rows, *scroll)
    } else {
        let (rows, focus) = page(bench, room);
        let picked = rows.iter().position(|row| row.cursor.is_some());
        let skip = (focus + 1).saturating_sub(height);
        // What is picked is seen before what is said of it.
        (rows, picked.map_or(skip, |picked| skip.min(picked)))
    };
    let skip = skip.min(rows.len().saturating_sub(height));
    let mut cursor = None;
    for (row, y) in rows.iter().skip(skip).zip(middle.top()..middle.bottom()) {
        put(buf, Rect { y, height: 1, ..middle }, &row.bits);
        if let Some(column) = row.cursor {
            let x = middle.x.saturating_add(u16::try_from(column).unwrap_or(u16::MAX));
            cursor = Some(Position { x: x.min(middle.right() - 1), y });
        }
    }
    let status = Rect { y: area.bottom() - 2, height: 1, ..area };
    put(buf, status, &[(Role::Quiet, "─".repeat(usize::from(area.width)))]);
    if let Some(why) = &bench.refused {
        let text = format!(" NOT ACCEPTED: {why} ");
        put(buf, status, &[(Role::Bad, cut(&text, usize::from(area.width)))]);
    }
    if rows.len() > skip + height {
        put_right(buf, status, (Role::Look, " more below "));
    }
    super::keys_line(&bench.keys(), Rect { y: area.bottom() - 1, height: 1, ..area }, buf);
    signs::fit_to(bench.look, area, buf);
    cursor
}

/// The columns of text in a window of `width`.
fn room(width: u16) -> usize {
    usize::from(width).saturating_sub(2).min(super::TEXT_WIDTH_MAX + 20)
}

/// The rows of the middle in a window of this size.
pub fn height((_, rows): (u16, u16)) -> usize {
    usize::from(rows).saturating_sub(5)
}

/// All rows of what lies over the bench.
pub fn over_rows(bench: &Bench<'_>) -> usize {
    bench.over.as_ref().map_or(0, |(over, _)| over_body(bench, over, room(bench.size.0)).len())
}

fn over_body(bench: &Bench<'_>, over: &Over, columns: usize) -> Vec<Row> {
    match over {
        Over::Help => help(bench, columns),
        Over::Said(said) => said_rows(said, columns),
    }
}

/// What, why, what next. A line that says what to do next stands out.
fn said_rows(said: &Said, columns: usize) -> Vec<Row> {
    let (role, word) =
        if said.refused { (Role::Bad, "NOT OPENED") } else { (Role::Good, "CLOSED") };
    let mut rows = vec![Row::new(role, word), Row::default()];
    for line in &said.lines {
        let text = line.trim_start();
        let indent = (line.len() - text.len()).min(8);
        match text.strip_prefix("next: ") {
            Some(next) => {
                rows.extend(hanging((Role::Look, "what next: "), (Role::Task, next), columns));
            }
            None => rows.extend(wrapped(Role::Plain, text, columns, indent)),
        }
    }
    rows.push(Row::default());
    rows.extend(wrapped(Role::Plain, "Nothing was lost. Press esc for the bench.", columns, 0));
    rows
}

fn head(bench: &Bench<'_>, area: Rect, buf: &mut Buffer) {
    let demo = if bench.is_demo() { " DEMO " } else { "" };
    let room = usize::from(area.width).saturating_sub(width(demo) + 1);
    let line = format!("{:<room$}", cut(&format!(" {}", bench.title()), room));
    let first = Rect { height: 1, ..area };
    put(buf, first, &[(Role::Demo, demo.to_owned()), (Role::Head, format!("{line} "))]);
    let place = match &bench.page {
        _ if matches!(bench.over, Some((Over::Help, _))) => "Keys".to_owned(),
        Page::Jobs { .. } => format!("Bench: {} open", bench.ids.len()),
        Page::Waiting { .. } => match (bench.waiting().len(), bench.n_unseen()) {
            (n, 0) => format!("Waiting for a signature: {n}"),
            (n, unseen) => format!("Waiting for a signature: {n} so far, {unseen} to look at"),
        },
        Page::Machines { .. } => "A new job: on which machine?".to_owned(),
        Page::Procedures { tag, .. } => format!("A new job on {tag}: what is to be done?"),
    };
    let second = Rect { y: area.y + 1, height: 1, ..area };
    put(buf, second, &[(Role::Plain, format!(" {place}"))]);
    let rule = "─".repeat(usize::from(area.width));
    put(buf, Rect { y: area.y + 2, height: 1, ..area }, &[(Role::Quiet, rule)]);
}

fn help(bench: &Bench<'_>, columns: usize) -> Vec<Row> {
    let mut rows = vec![Row::new(Role::Label, "Keys that work there")];
    let mut below: Vec<Binding> = bench_keys(&bench.page, bench.n_rows(), None);
    below.retain(|key| !key.says.is_empty());
    for key in below {
        let mark = format!("  {:<10}", key.label);
        rows.extend(hanging((Role::Task, &mark), (Role::Plain, key.says), columns));
    }
    rows
}

fn page(bench: &Bench<'_>, columns: usize) -> (Vec<Row>, usize) {
    match &bench.page {
        Page::Jobs { cursor } if bench.ids.is_empty() => {
            let text = "No job is open. Press n to begin one.";
            (wrapped(Role::Task, text, columns, 0), *cursor)
        }
        Page::Jobs { cursor } => jobs(bench, bench.ids.iter(), *cursor, columns),
        Page::Waiting { cursor } => {
            let waiting = bench.waiting();
            if waiting.is_empty() && bench.n_unseen() == 0 {
                let text = "No open job waits for a signature. Press esc for all open jobs.";
                return (wrapped(Role::Task, text, columns, 0), 0);
            }
            jobs(bench, waiting.into_iter(), *cursor, columns)
        }
        Page::Machines { cursor } => {
            let lines = bench.machines().into_iter();
            list(lines.map(|(tag, title)| format!("{tag}  {title}")), *cursor, columns)
        }
        Page::Procedures { offers, cursor, .. } => {
            let lines = offers.iter();
            let words = |offer: &Offer| {
                let (title, id) = (&offer.title, &offer.procedure);
                format!("{title}, revision {}  ({id})", offer.revision)
            };
            list(lines.map(words), *cursor, columns)
        }
    }
}

fn list(lines: impl Iterator<Item = String>, cursor: usize, columns: usize) -> (Vec<Row>, usize) {
    let mut rows = Vec::new();
    let mut focus = 0;
    for (n, text) in lines.enumerate() {
        let picked = n == cursor;
        let mark = format!("{} {} ", n + 1, if picked { "(*)" } else { "( )" });
        let role = if picked { Role::Picked } else { Role::Plain };
        let mut line = hanging((Role::Task, &mark), (role, &text), columns);
        if picked {
            super::card::point_at(&mut line, 3);
        }
        rows.extend(line);
        if picked {
            focus = rows.len();
        }
    }
    (rows, focus)
}

/// The word of a job: what it waits for, as far as that was looked at.
fn word(bench: &Bench<'_>, id: &JobId, next: Option<&Next>) -> (Role, &'static str) {
    match (bench.awaited(id), next) {
        (Some(awaited), _) => (Role::Look, awaited.what.word()),
        (None, Some(Next::End | Next::Stopped)) => (Role::Look, Signs::SignOff.word()),
        (None, Some(Next::Ask(_))) => (Role::Quiet, "OPEN"),
        (None, None) => (Role::Quiet, "NEW"),
    }
}

fn jobs<'a>(
    bench: &'a Bench<'_>,
    ids: impl Iterator<Item = &'a JobId>,
    cursor: usize,
    columns: usize,
) -> (Vec<Row>, usize) {
    let mut rows = Vec::new();
    let mut focus = 0;
    for (n, id) in ids.enumerate() {
        let picked = n == cursor;
        let mark = format!("{:>2} {} ", n + 1, if picked { "(*)" } else { "( )" });
        let role = if picked { Role::Picked } else { Role::Plain };
        match bench.lines.get(id).map(|job| &job.stands) {
            None => rows.push(Row::of(vec![(Role::Task, mark), (role, id.to_string())])),
            Some(Err(why)) => {
                let text = format!("{id}  DAMAGED  {why}");
                rows.extend(hanging((Role::Task, &mark), (Role::Bad, &text), columns));
            }
            Some(Ok(line)) => rows.extend(job(bench, (id, line), &mark, picked, columns)),
        }
        if picked {
            rows.extend(open(bench, id, columns));
            focus = rows.len();
        } else if matches!(bench.page, Page::Waiting { .. }) {
            rows.extend(awaited(bench, id, columns));
        }
    }
    (rows, focus)
}

/// A job on its line, and who left it when.
fn job(
    bench: &Bench<'_>,
    (id, line): (&JobId, &OpenJobLine),
    mark: &str,
    picked: bool,
    columns: usize,
) -> Vec<Row> {
    let (word_role, word) = word(bench, id, line.next.as_ref());
    let by = bench.name(line.left_by.as_ref());
    let left = format!("left by {by}, {}", spoken_at(line.left_at, bench.now));
    let mut first = Row::of(vec![
        (Role::Task, mark.to_owned()),
        (word_role, format!("{word:<9}")),
        (
            if picked { Role::Picked } else { Role::Plain },
            format!("{id}  {:<7} {}", line.machine, line.procedure.spoken()),
        ),
    ]);
    let used: usize = first.bits.iter().map(|(_, text)| width(text)).sum();
    if picked {
        first.cursor = Some(4);
    }
    if used + 2 + width(&left) <= columns {
        first.bits.push((Role::Plain, " ".repeat(columns - used - width(&left))));
        first.bits.push((Role::Quiet, left));
        return vec![first];
    }
    let mut rows = vec![first];
    rows.extend(wrapped(Role::Quiet, &left, columns, 16));
    rows
}

/// What is open on a job.
fn open(bench: &Bench<'_>, id: &JobId, columns: usize) -> Vec<Row> {
    let Some(Some(open)) = bench.open.get(id) else { return Vec::new() };
    let mut rows = hanging((Role::Look, "       open "), (Role::Plain, &open.what), columns);
    for rest in &open.rest {
        rows.extend(hanging((Role::Look, "      to do "), (Role::Plain, rest), columns));
    }
    rows.extend(awaited(bench, id, columns));
    rows
}

/// Whose signature a job waits for, in their order.
fn awaited(bench: &Bench<'_>, id: &JobId, columns: usize) -> Vec<Row> {
    let Some(awaited) = bench.awaited(id) else { return Vec::new() };
    let first = awaited
        .first
        .iter()
        .map(|person| format!("first {} signs for their own work", bench.name(Some(person))));
    let then = format!("a {} {}", awaited.by.word(), awaited.what.says());
    let all: Vec<String> = first.chain([then]).collect();
    hanging((Role::Look, "       sign "), (Role::Plain, &all.join("; then ")), columns)
}
