//! The stack as it grows: first in at the bottom, next layer marked, faces said in words.
//!
//! Plain characters throughout: the picture is the same on every terminal.

use super::card::point_at;
use super::rows::{Row, cut, hanging, width};
use crate::shown::Question;
use crate::shown::stack::{LayerState, layer_words};
use crate::tui::model::{Draft, Model, Screen};
use crate::tui::theme::Role;
use crate::walk::event::Laid;

/// Columns for the mark before the box.
const MARK: usize = 12;
/// The widest box.
const BOX_MAX: usize = 30;

/// The layers laid so far on the screen as it is.
fn given<'a>(question: &'a Question, draft: &'a Draft, correction: bool) -> &'a [Laid] {
    match &question.stack {
        Some(stack) if !correction => &stack.laid,
        _ => &draft.laid,
    }
}

pub(super) fn rows(
    model: &Model,
    (question, draft): (&Question, &Draft),
    mut rows: Vec<Row>,
    columns: usize,
) -> (Vec<Row>, usize) {
    let Some(stack) = &question.stack else { return (rows, 0) };
    let correction = matches!(model.screen, Screen::Correct(_));
    let laid = given(question, draft, correction);
    let widest = stack.layers.iter().map(|layer| width(&layer.note.title)).max().unwrap_or(0);
    let inner = widest.clamp(8, BOX_MAX).min(columns.saturating_sub(MARK + 4));
    let edge = format!("{:MARK$}+{}+", "", "-".repeat(inner + 2));
    let arrow = if stack.flows_to_last { "flow ^" } else { "flow v" };
    rows.push(Row::new(Role::Quiet, format!("{:MARK$}to the liquid   {arrow}", "")));
    rows.push(Row::new(Role::Plain, edge.clone()));
    let mut focus = rows.len();
    let states = stack.states(laid);
    for (n, (note, state)) in states.iter().enumerate().rev() {
        let place = match n {
            0 => "first in",
            n if n + 1 == states.len() => "last in",
            _ => "",
        };
        let lies = note.lies.as_ref().map_or_else(String::new, |lies| format!(", {lies}"));
        let (mark, role, said) = match state {
            LayerState::Laid(laid) => {
                let lot = laid.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
                ("[x]", Role::Good, format!("LAID{lot}{lies}"))
            }
            LayerState::NotSo => ("[n]", Role::Bad, "NOT SO".to_owned()),
            LayerState::Next => ("=>", Role::Picked, "NEXT".to_owned()),
            LayerState::Ahead => ("[ ]", Role::Quiet, note.lies.clone().unwrap_or_default()),
            LayerState::Out(because) => (" - ", Role::Quiet, format!("only when {because}")),
        };
        let title = format!("{:inner$}", cut(&note.title, inner));
        let (left, right) = match state {
            LayerState::Next => ("#", "#"),
            LayerState::Out(_) => (":", ":"),
            LayerState::Laid(_) | LayerState::NotSo | LayerState::Ahead => ("|", "|"),
        };
        let used = MARK + inner + 4;
        let mut row = Row::of(vec![
            (Role::Quiet, format!("{place:>8} ")),
            (role, format!("{mark:<3}")),
            (Role::Plain, format!("{left} ")),
            (if *state == LayerState::Next { Role::Task } else { role }, title),
            (Role::Plain, format!(" {right} ")),
            (role, cut(&said, columns.saturating_sub(used + 1))),
        ]);
        if *state == LayerState::Next {
            row.cursor = Some(9);
            focus = rows.len() + 1;
        }
        rows.push(row);
    }
    rows.push(Row::new(Role::Plain, edge));
    rows.push(Row::new(Role::Quiet, format!("{:MARK$}to the oil", "")));
    if let Some(note) = stack.next(laid) {
        let text = layer_words(note);
        let mut next = hanging((Role::Picked, "  NEXT  "), (Role::Task, &text), columns);
        point_at(&mut next, 2);
        rows.extend(next);
        focus = rows.len().max(focus);
    }
    (rows, focus)
}
