//! Laying a stack: one key a layer, and the lot where one is kept.

use super::Effect;
use super::answer::candidate;
use crate::tui::keymap::Move;
use crate::tui::model::{LineFor, Model};
use crate::walk::event::Laid;
use crate::walk::{Answer, Command};

pub(super) fn layers(model: &mut Model, what: Move) -> Vec<Effect> {
    let so = match what {
        Move::Yes => true,
        Move::No => false,
        _ => return Vec::new(),
    };
    let Some((question, draft, correction)) = model.answering() else { return Vec::new() };
    let Some(stack) = &question.stack else { return Vec::new() };
    let given = if correction { &draft.laid } else { &stack.laid };
    let Some(note) = stack.next(given) else { return Vec::new() };
    if so && note.lot {
        model.ask_line(LineFor::Lot);
        return Vec::new();
    }
    laid(model, so, None)
}

/// The lot of the next layer is typed.
pub(super) fn lot(model: &mut Model, text: String) -> Vec<Effect> {
    if matches!(model.answering(), Some((_, _, true))) {
        model.overlays.pop();
    }
    laid(model, true, Some(text))
}

fn laid(model: &mut Model, so: bool, lot: Option<String>) -> Vec<Effect> {
    let Some((question, draft, correction)) = model.answering() else { return Vec::new() };
    let Some(stack) = &question.stack else { return Vec::new() };
    let mut given = if correction { draft.laid.clone() } else { stack.laid.clone() };
    let Some(note) = stack.next(&given) else { return Vec::new() };
    let laid = Laid { layer: note.id.clone(), so, lot };
    if !correction {
        let address = question.address.clone();
        return vec![Effect::Submit(Box::new(Command::LayLayer { address, laid }))];
    }
    given.push(laid);
    let whole = !so || stack.next(&given).is_none();
    // A reason that is broken off begins the stack anew.
    model.draft_mut().laid = if whole { Vec::new() } else { given.clone() };
    if whole { candidate(model, Answer::Built(given)) } else { Vec::new() }
}
