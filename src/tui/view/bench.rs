//! The bench: a list of open jobs, and what is open on the one that is picked.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::widgets::Widget as _;

use super::rows::{Row, cut, hanging, put, put_right, width, wrapped};
use super::{LEAST, signs};
use crate::shown::spoken_at;
use crate::tui::bench::{Bench, Page};
use crate::tui::keymap::Binding;
use crate::tui::theme::Role;
use crate::walk::event::Next;

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
    let room = usize::from(middle.width).saturating_sub(1).min(super::TEXT_WIDTH_MAX + 20);
    let (rows, focus) = if bench.helps { help(bench, room) } else { page(bench, room) };
    let height = usize::from(middle.height);
    let skip = (focus + 1).saturating_sub(height).min(rows.len().saturating_sub(height));
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

fn head(bench: &Bench<'_>, area: Rect, buf: &mut Buffer) {
    let demo = if bench.is_demo() { " DEMO " } else { "" };
    let room = usize::from(area.width).saturating_sub(width(demo) + 1);
    let line = format!("{:<room$}", cut(&format!(" {}", bench.title()), room));
    let first = Rect { height: 1, ..area };
    put(buf, first, &[(Role::Demo, demo.to_owned()), (Role::Head, format!("{line} "))]);
    let place = match &bench.page {
        _ if bench.helps => "Keys".to_owned(),
        Page::Jobs { .. } => format!("Bench: {} open", bench.ids.len()),
        Page::Machines { .. } => "A new job: on which machine?".to_owned(),
        Page::Procedures { tag, .. } => format!("A new job on {tag}: what is to be done?"),
    };
    let second = Rect { y: area.y + 1, height: 1, ..area };
    put(buf, second, &[(Role::Plain, format!(" {place}"))]);
    let rule = "─".repeat(usize::from(area.width));
    put(buf, Rect { y: area.y + 2, height: 1, ..area }, &[(Role::Quiet, rule)]);
}

fn help(bench: &Bench<'_>, columns: usize) -> (Vec<Row>, usize) {
    let mut rows = vec![Row::new(Role::Label, "Keys that work there")];
    let mut below: Vec<Binding> = crate::tui::keymap::bench_keys(&bench.page, false);
    below.retain(|key| !key.says.is_empty());
    for key in below {
        let mark = format!("  {:<10}", key.label);
        rows.extend(hanging((Role::Task, &mark), (Role::Plain, key.says), columns));
    }
    (rows, 0)
}

fn page(bench: &Bench<'_>, columns: usize) -> (Vec<Row>, usize) {
    match &bench.page {
        Page::Jobs { cursor } => jobs(bench, *cursor, columns),
        Page::Machines { cursor } => {
            let lines = bench.machines().into_iter();
            list(lines.map(|(tag, title)| format!("{tag}  {title}")), *cursor, columns)
        }
        Page::Procedures { offers, cursor, .. } => {
            let lines = offers.iter();
            list(
                lines.map(|offer| format!("{}, revision {}", offer.title, offer.revision)),
                *cursor,
                columns,
            )
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

fn jobs(bench: &Bench<'_>, cursor: usize, columns: usize) -> (Vec<Row>, usize) {
    if bench.ids.is_empty() {
        let text = "No job is open. Press n to begin one.";
        return (wrapped(Role::Task, text, columns, 0), 0);
    }
    let mut rows = Vec::new();
    let mut focus = 0;
    for (n, id) in bench.ids.iter().enumerate() {
        let picked = n == cursor;
        let mark = format!("{:>2} {} ", n + 1, if picked { "(*)" } else { "( )" });
        let role = if picked { Role::Picked } else { Role::Plain };
        let Some(job) = bench.lines.get(id) else {
            rows.push(Row::of(vec![(Role::Task, mark), (role, id.to_string())]));
            continue;
        };
        match &job.stands {
            Err(why) => {
                let text = format!("{id}  DAMAGED  {why}");
                rows.extend(hanging((Role::Task, &mark), (Role::Bad, &text), columns));
            }
            Ok(line) => {
                let word = match &line.next {
                    Some(Next::End | Next::Stopped) => "SIGN-OFF",
                    Some(Next::Ask(_)) => "OPEN",
                    None => "NEW",
                };
                let by = bench.name(line.left_by.as_ref());
                let at = spoken_at(line.left_at, bench.now);
                let what = format!("{id}  {:<7} {}", line.machine, line.procedure.spoken());
                let left = format!("left by {by}, {at}");
                let mut first = Row::of(vec![
                    (Role::Task, mark.clone()),
                    (
                        if word == "SIGN-OFF" { Role::Look } else { Role::Quiet },
                        format!("{word:<9}"),
                    ),
                    (role, what),
                ]);
                let used: usize = first.bits.iter().map(|(_, text)| width(text)).sum();
                if picked {
                    first.cursor = Some(4);
                }
                if used + 2 + width(&left) <= columns {
                    let fill = " ".repeat(columns - used - width(&left));
                    first.bits.push((Role::Plain, fill));
                    first.bits.push((Role::Quiet, left));
                    rows.push(first);
                } else {
                    rows.push(first);
                    rows.extend(wrapped(Role::Quiet, &left, columns, 16));
                }
            }
        }
        if picked {
            if let Some(Some(open)) = bench.open.get(id) {
                let set_in = "       open ";
                rows.extend(hanging((Role::Look, set_in), (Role::Plain, &open.what), columns));
                for rest in &open.rest {
                    let to_do = "      to do ";
                    rows.extend(hanging((Role::Look, to_do), (Role::Plain, rest), columns));
                }
            }
            focus = rows.len();
        }
    }
    (rows, focus)
}
