//! The stack as it grows: each part cut through from the side, first in at the bottom, its marked
//! face said in words and by an arrow, and the stack of the other side beside it where there is room.

use super::card::point_at;
use super::rows::{Row, cut, hanging, width};
use crate::language::Profile;
use crate::shown::Question;
use crate::shown::stack::{LayerState, StackShown, layer_words};
use crate::tui::model::{Draft, Model, Screen};
use crate::tui::theme::Role;
use crate::walk::event::Laid;
use crate::walk::stack::LayerNote;

/// Columns for the mark before the pocket.
const MARK: usize = 12;
/// Columns of a part as it is drawn.
const PART: usize = 18;
/// Columns of a picture in a window too narrow for the whole one.
const NARROW_BELOW: usize = 56;
/// From so many columns on, the other side's stack stands beside this one.
const BESIDE_FROM: usize = 90;

/// The part as it looks from the side, in [`PART`] columns, lying the way up that it must.
fn picture(note: &LayerNote) -> &'static str {
    let down = note.faces_up == Some(false);
    match (note.profile, down) {
        (Profile::Ring, _) => "▐██▌          ▐██▌",
        (Profile::Seat, false) => "▐███╲        ╱███▌",
        (Profile::Seat, true) => "▐███╱        ╲███▌",
        (Profile::Disc, false) => "  ▐▄▄▄▄▄██▄▄▄▄▄▌  ",
        (Profile::Disc, true) => "  ▐▀▀▀▀▀██▀▀▀▀▀▌  ",
        (Profile::Spring, _) => "   ╱╲╱╲╱╲╱╲╱╲╱╲   ",
        (Profile::Cage, false) => "▐█▄▄█▄▄█▄▄█▄▄█▄▄█▌",
        (Profile::Cage, true) => "▐█▀▀█▀▀█▀▀█▀▀█▀▀█▌",
        (Profile::Plate, _) => "▐════════════════▌",
        (Profile::Screw, _) => "     ▐██████▌     ",
        (Profile::Block, _) => "▐████████████████▌",
    }
}

/// The layers laid so far on the screen as it is.
fn given<'a>(question: &'a Question, draft: &'a Draft, correction: bool) -> &'a [Laid] {
    match &question.stack {
        Some(stack) if !correction => &stack.laid,
        _ => &draft.laid,
    }
}

/// The pocket at one layer: walls, and what lies between them.
fn pocket(note: &LayerNote, state: &LayerState<'_>) -> Vec<(Role, String)> {
    let (role, inside) = match state {
        LayerState::Laid(_) => (Role::Good, picture(note).to_owned()),
        LayerState::NotSo => (Role::Bad, picture(note).to_owned()),
        LayerState::Next => (Role::Task, picture(note).to_owned()),
        LayerState::Ahead => (Role::Quiet, "·  ".repeat(PART / 3)),
        LayerState::Out(_) => (Role::Quiet, " ".repeat(PART)),
    };
    let arrow = match (note.faces_up, state) {
        (_, LayerState::Out(_)) | (None, _) => " ",
        (Some(true), _) => "▲",
        (Some(false), _) => "▼",
    };
    let arrow_role = if *state == LayerState::Next { Role::Picked } else { role };
    vec![
        (Role::Plain, "│".to_owned()),
        (role, inside),
        (Role::Plain, "│".to_owned()),
        (arrow_role, arrow.to_owned()),
    ]
}

/// Its mark, the role of its words, and the words.
fn words(note: &LayerNote, state: &LayerState<'_>) -> (&'static str, Role, String) {
    // The arrow stands beside it, and the line below says the whole of what comes next.
    let face = note.lies.as_ref().and_then(|lies| lies.split(',').next()).unwrap_or_default();
    let lies = if face.is_empty() { String::new() } else { format!(", {face}") };
    match state {
        LayerState::Laid(laid) => {
            let lot = laid.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
            ("[x]", Role::Good, format!("LAID{lot}{lies}"))
        }
        LayerState::NotSo => ("[n]", Role::Bad, "NOT SO".to_owned()),
        LayerState::Next => ("=> ", Role::Picked, "NEXT".to_owned()),
        LayerState::Ahead => ("[ ]", Role::Quiet, face.to_owned()),
        LayerState::Out(_) => (" - ", Role::Quiet, "none goes here".to_owned()),
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
    let narrow = columns < NARROW_BELOW;
    let beside = question.beside.as_ref().filter(|_| columns >= BESIDE_FROM);
    let other = beside.map(|(_, other)| pockets(other));
    let mark = if narrow { 4 } else { MARK };
    let arrow = if stack.flows_to_last { "flow ▲" } else { "flow ▼" };
    let above = format!("{:mark$}to the liquid   {arrow}", "");
    let used = width(&above);
    let mut top = vec![(Role::Quiet, above)];
    let room = columns.saturating_sub(PART + 6);
    if let Some((side, _)) = beside {
        top.push((Role::Quiet, format!("{:>1$}", side, room.saturating_sub(used) + PART + 5)));
    }
    rows.push(Row::of(top));
    let mut focus = rows.len();
    let titles = stack.layers.iter().map(|layer| width(&layer.note.title)).max().unwrap_or(0);
    let titles = titles.clamp(8, 26);
    let states = stack.states(laid);
    let last = states.len().saturating_sub(1);
    for (n, (note, state)) in states.iter().enumerate().rev() {
        let place = match n {
            _ if narrow => "",
            0 => "first in",
            n if n == last => "last in",
            _ => "",
        };
        let (sign, role, said) = words(note, state);
        let title = if *state == LayerState::Next { Role::Task } else { role };
        let set_in = mark.saturating_sub(4);
        let mut bits = vec![(Role::Quiet, format!("{place:>set_in$} ")), (role, sign.to_owned())];
        bits.extend(pocket(note, state));
        bits.push((title, format!(" {:titles$}", cut(&note.title, titles))));
        let used: usize = bits.iter().map(|(_, text)| width(text)).sum();
        let room = if other.is_some() { room } else { columns };
        bits.push((Role::Plain, "  ".to_owned()));
        bits.push((role, cut(&said, room.saturating_sub(used + 3))));
        if let Some(other) = other.as_ref().and_then(|other| other.get(last - n)) {
            let used: usize = bits.iter().map(|(_, text)| width(text)).sum();
            bits.push((Role::Plain, " ".repeat(room.saturating_sub(used))));
            bits.extend(other.clone());
        }
        let mut row = Row::of(bits);
        if *state == LayerState::Next {
            row.cursor = Some(set_in + 1);
            focus = rows.len() + 1;
        }
        rows.push(row);
    }
    let floor = format!("{:mark$}└{}┘", "", "─".repeat(PART));
    let mut floor = vec![(Role::Plain, floor), (Role::Quiet, " to the oil".to_owned())];
    if other.is_some() {
        let used: usize = floor.iter().map(|(_, text)| width(text)).sum();
        let fill = " ".repeat(room.saturating_sub(used));
        floor.push((Role::Plain, format!("{fill}└{}┘", "─".repeat(PART))));
    }
    rows.push(Row::of(floor));
    if let Some(note) = stack.next(laid) {
        let text = layer_words(note);
        let mut next = hanging((Role::Picked, "  NEXT  "), (Role::Task, &text), columns);
        point_at(&mut next, 2);
        rows.extend(next);
        focus = rows.len().max(focus);
    }
    (rows, focus)
}

/// The pockets of a stack from the top down.
fn pockets(stack: &StackShown) -> Vec<Vec<(Role, String)>> {
    stack.states(&stack.laid).iter().rev().map(|(note, state)| pocket(note, state)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_is_drawn_in_the_same_width_and_differs_by_the_way_up_where_it_has_one() {
        let note = |profile, faces_up| LayerNote {
            id: "one".parse().unwrap(),
            part: "one".parse().unwrap(),
            title: String::new(),
            lies: None,
            faces_up,
            profile,
            lot: false,
            when: None,
        };
        for profile in Profile::ALL {
            for up in [None, Some(true), Some(false)] {
                assert_eq!(width(picture(&note(profile, up))), PART, "{profile:?}");
            }
        }
        for profile in [Profile::Seat, Profile::Disc, Profile::Cage] {
            let pictures = [true, false].map(|up| picture(&note(profile, Some(up))));
            assert_ne!(pictures[0], pictures[1], "{profile:?}");
        }
    }
}
