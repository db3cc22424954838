//! The rail: sections with their state, and the steps of the section that is open.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::rows::{cut, put, put_right, width};
use crate::shown::{OutlineRow, State};
use crate::tui::model::Model;
use crate::tui::theme::Role;

pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    for y in area.top()..area.bottom() {
        let edge = Rect { x: area.right() - 1, y, width: 1, height: 1 };
        put(buf, edge, &[(Role::Quiet, "│".to_owned())]);
    }
    let rows = seen(&model.shown.outline);
    let inner = Rect { width: area.width - 2, height: area.height.saturating_sub(1), ..area };
    let height = usize::from(inner.height);
    let here = rows.iter().position(|r| r.state == State::Here && r.address.is_some());
    let skip = here
        .map_or(0, |here| here.saturating_sub(height / 2).min(rows.len().saturating_sub(height)));
    for (row, y) in rows.iter().skip(skip).zip(inner.top()..inner.bottom()) {
        let line = Rect { y, height: 1, ..inner };
        let count = row.count.map_or_else(String::new, |(done, all)| format!(" {done}/{all}"));
        let indent = "  ".repeat(row.depth.min(4));
        let room = usize::from(inner.width).saturating_sub(4 + indent.len() + width(&count));
        let text = match row.state {
            State::Here if row.address.is_some() => Role::Picked,
            State::Here => Role::Task,
            State::NotApplicable => Role::Quiet,
            State::Done | State::Noted | State::Open => Role::Plain,
        };
        put(
            buf,
            line,
            &[
                (Role::Plain, " ".to_owned()),
                (role(row.state), row.state.letter().to_string()),
                (Role::Plain, format!(" {indent}")),
                (text, cut(&row.text, room)),
            ],
        );
        put_right(buf, line, (Role::Plain, &count));
    }
    let legend = Rect { y: area.bottom() - 1, height: 1, width: area.width - 1, ..area };
    let text = " D done L look at H here N n/a";
    put(buf, legend, &[(Role::Quiet, text.to_owned())]);
}

/// The role of a state's letter.
pub(super) fn role(state: State) -> Role {
    match state {
        State::Done => Role::Good,
        State::Noted => Role::Look,
        State::Here => Role::Key,
        State::Open => Role::Plain,
        State::NotApplicable => Role::Quiet,
    }
}

/// The rows of the open sections; of the others their heads alone.
fn seen(outline: &[OutlineRow]) -> Vec<&OutlineRow> {
    // Whether the section at each depth is open, outermost first.
    let mut open: Vec<bool> = Vec::new();
    let mut rows = Vec::new();
    for row in outline {
        open.truncate(row.depth);
        if open.iter().all(|is_open| *is_open) {
            rows.push(row);
        }
        if row.address.is_none() {
            open.push(row.state == State::Here);
        }
    }
    rows
}
