//! Moves in what lies over the screen: choices, reasons, passphrases, notes, what to look at first.

use tui_textarea::CursorMove;

use super::answer::{candidate, edit, halt};
use super::{Effect, at_end, build, page, refuse, scroll, tighten};
use crate::ids::Role;
use crate::shown::outline::said_of;
use crate::tui::keymap::Move;
use crate::tui::model::{
    Choosing, LineFor, Model, Overlay, PhotoOf, PhotoShown, Screen, Signing, Status, Way,
};
use crate::visible::visible_lines;
use crate::walk::disposition::Disposition;
use crate::walk::{Answer, Command};

pub(super) fn on_top(model: &mut Model, what: Move) -> Vec<Effect> {
    let pages = matches!(what, Move::PageUp | Move::PageDown);
    let scrolls = matches!(
        model.overlays.last(),
        Some(Overlay::Help { .. } | Overlay::TakeUp { .. } | Overlay::Note(_) | Overlay::Photo(_))
    );
    if pages && !scrolls {
        let by = if what == Move::PageDown { page(model) } else { -page(model) };
        scroll(model, by);
        return Vec::new();
    }
    model.hand.paged = None;
    let Some(top) = model.overlays.last_mut() else { return Vec::new() };
    match (top, what) {
        (_, Move::Halt | Move::Back | Move::Who) => leave(model, what),
        (
            Overlay::Help { .. } | Overlay::TakeUp { .. },
            Move::Up | Move::Down | Move::PageDown | Move::PageUp,
        ) => {
            let by = match what {
                Move::Up => -1,
                Move::Down => 1,
                Move::PageDown => page(model),
                _ => -page(model),
            };
            scroll(model, by);
            Vec::new()
        }
        (Overlay::TakeUp { lines, .. }, Move::Read) => {
            let shown = lines.clone();
            if !at_end(model) {
                return refuse(model, "read it to its end first: the arrow down shows the rest");
            }
            vec![Effect::Submit(Box::new(Command::TakeUp { shown }))]
        }
        (Overlay::Leave, Move::Yes) => vec![Effect::Quit],
        (Overlay::Sure { answer, .. }, Move::Yes) => {
            let answer = (**answer).clone();
            candidate(model, answer)
        }
        (Overlay::Choice { options, cursor, .. }, what) => {
            if what == Move::Go {
                return choose(model);
            }
            move_cursor(cursor, options.len(), what);
            Vec::new()
        }
        (Overlay::People { people, cursor, what: signs, .. }, what) => {
            if what == Move::Go {
                let Some(person) = people.get(*cursor) else {
                    return refuse(model, "nobody on the list may do this today; call a mechanic");
                };
                return vec![Effect::Unlock { person: person.id.clone(), what: signs.clone() }];
            }
            move_cursor(cursor, people.len(), what);
            Vec::new()
        }
        (Overlay::Instruments { .. }, what) => instruments(model, what),
        (Overlay::Passphrase { person, secret, what: signs }, what) => {
            match what {
                Move::Type(c) => secret.push(c),
                Move::Erase => secret.erase(),
                Move::Clear => drop(secret.take()),
                Move::Go => {
                    return vec![Effect::Sign {
                        person: person.clone(),
                        passphrase: secret.take(),
                        what: signs.clone(),
                    }];
                }
                _ => {}
            }
            Vec::new()
        }
        (Overlay::Photo(shown), Move::Up | Move::Down) => vec![turned(shown, what)],
        (Overlay::Line { what: LineFor::Evidence, field }, Move::Photo) => {
            let typed = field.text().trim().to_owned();
            photos(model, typed)
        }
        (Overlay::Line { .. }, Move::Go) => line(model),
        (Overlay::Line { field, .. }, what) => {
            edit(field, what);
            Vec::new()
        }
        (Overlay::Note(_), what) => note(model, what),
        (_, _) => Vec::new(),
    }
}

/// Leaves what lies on top, for what is below it or for another move.
fn leave(model: &mut Model, what: Move) -> Vec<Effect> {
    match (model.overlays.last(), what) {
        (_, Move::Halt) => {
            // What must be looked at before going on is still due if the work goes on.
            while !matches!(model.overlays.last(), Some(Overlay::TakeUp { .. }) | None) {
                model.leave_top();
            }
            return halt(model);
        }
        (Some(Overlay::TakeUp { .. }), Move::Who) => {
            model.overlays.clear();
            model.screen = Screen::Who { cursor: 0 };
        }
        (Some(Overlay::TakeUp { .. }), _) => {
            return refuse(model, "look at it first, then press r");
        }
        (Some(Overlay::Note(_)), _) => {
            if model.leave_top() {
                let said = "What you wrote is kept: the note shows it again.".to_owned();
                model.status = Some(Status::Good(said));
            }
        }
        _ => drop(model.leave_top()),
    }
    Vec::new()
}

fn move_cursor(cursor: &mut usize, n_rows: usize, what: Move) {
    let last = n_rows.saturating_sub(1);
    *cursor = match what {
        Move::Up => cursor.saturating_sub(1),
        Move::Down => (*cursor + 1).min(last),
        Move::Pick(index) if index <= last => index,
        _ => *cursor,
    };
}

fn instruments(model: &mut Model, what: Move) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let ids: Vec<String> =
        question.usable_instruments().iter().map(|i| i.id().to_owned()).collect();
    let kind = question.instrument_kind().cloned();
    let Some(Overlay::Instruments { cursor }) = model.overlays.last_mut() else {
        return Vec::new();
    };
    if what != Move::Go {
        move_cursor(cursor, ids.len(), what);
        return Vec::new();
    }
    if let (Some(kind), Some(id)) = (kind, ids.get(*cursor)) {
        model.hand.instruments.insert(kind, id.clone());
    }
    model.overlays.pop();
    Vec::new()
}

/// One of a few is chosen.
fn choose(model: &mut Model) -> Vec<Effect> {
    let Some(Overlay::Choice { cursor, what, .. }) = model.overlays.last() else {
        return Vec::new();
    };
    let line = match what {
        Choosing::Deviation(address) => Some(LineFor::Deviation(address.clone(), *cursor == 0)),
        Choosing::Concession(address, may) => {
            may.get(*cursor).map(|verdict| LineFor::Concession(address.clone(), *verdict))
        }
        Choosing::Disposition(address) => Disposition::ALL
            .get(*cursor)
            .map(|disposition| LineFor::Disposition(address.clone(), *disposition)),
        Choosing::Halt(known) => match known.get(*cursor) {
            Some((name, see)) => {
                let standing = Some(name.clone());
                return vec![Effect::Submit(Box::new(Command::Halt {
                    standing,
                    reason: see.clone(),
                }))];
            }
            None => Some(LineFor::Halt),
        },
        Choosing::Halted if *cursor == 0 => Some(LineFor::Resume),
        Choosing::Halted => {
            model.overlays.clear();
            let lines = model.shown.exceptions.clone();
            model.screen = Screen::SignOff { lines, seen: 0 };
            return Vec::new();
        }
        Choosing::Witness(address, people) => {
            let Some(who) = people.get(*cursor) else {
                return refuse(model, "nobody on the list may be told today; call a mechanic");
            };
            let command = Command::TellWitness { address: address.clone(), who: who.clone() };
            return vec![Effect::Submit(Box::new(command))];
        }
    };
    if let Some(what) = line {
        model.ask_line(what);
    }
    Vec::new()
}

/// The photo before or after the one that is looked at; behind the last comes the first.
fn turned(shown: &PhotoShown, what: Move) -> Effect {
    let last = shown.all.len().saturating_sub(1);
    let at = match what {
        Move::Up => shown.at.checked_sub(1).unwrap_or(last),
        _ if shown.at == last => 0,
        _ => shown.at + 1,
    };
    Effect::Photo(shown.all.clone(), at)
}

/// The photo whose path is typed, or those that lie with the step.
pub(super) fn photos(model: &mut Model, typed: String) -> Vec<Effect> {
    if !typed.is_empty() {
        return vec![Effect::Photo(vec![PhotoOf::Path(typed)], 0)];
    }
    let address = model.answering().map(|(question, ..)| question.address.clone());
    let all: Vec<PhotoOf> = address
        .map_or_else(Vec::new, |address| model.shown.files_of(&address))
        .into_iter()
        .map(PhotoOf::Attached)
        .collect();
    if all.is_empty() {
        return refuse(model, "type the path of a photo first; nothing lies with this step yet");
    }
    let last = all.len() - 1;
    vec![Effect::Photo(all, last)]
}

/// The mechanic whose signature is needed.
fn mechanic(model: &mut Model, what: Signing) -> Vec<Effect> {
    let people = model.people_for(Role::Mechanic);
    let title = "Which mechanic signs for it?".to_owned();
    model.overlays.push(Overlay::People { title, people, cursor: 0, what });
    Vec::new()
}

/// A line of text is complete.
fn line(model: &mut Model) -> Vec<Effect> {
    let Some(Overlay::Line { what, field }) = model.overlays.last() else { return Vec::new() };
    let (what, text) = (what.clone(), field.text().trim().to_owned());
    if text.is_empty() {
        return refuse(model, "write at least a word");
    }
    match what {
        LineFor::Deviation(address, done) => {
            return mechanic(model, Signing::Deviate { address, done, reason: text });
        }
        LineFor::Concession(address, verdict) => {
            return mechanic(model, Signing::Concede { address, verdict, reason: text });
        }
        LineFor::Disposition(address, disposition) => {
            return match said_of(disposition, &text) {
                Ok(said) => mechanic(model, Signing::Dispose(address, said)),
                Err(why) => refuse(model, &why),
            };
        }
        LineFor::Evidence => {
            let address = model.shown.question().map(|q| q.address.clone());
            return vec![Effect::Keep { path: text, address, answers: false }];
        }
        LineFor::Halt => {
            return vec![Effect::Submit(Box::new(Command::Halt { standing: None, reason: text }))];
        }
        LineFor::Pause => return vec![Effect::Submit(Box::new(Command::Pause { reason: text }))],
        LineFor::Late => {
            let address = model.shown.question().map(|q| q.address.clone());
            return address.map(|address| Effect::Late { address, text }).into_iter().collect();
        }
        LineFor::Resume => return mechanic(model, Signing::Resume(text)),
        LineFor::Lacking => return candidate(model, Answer::NotAttached { reason: text }),
        LineFor::CouldNot
        | LineFor::Lot
        | LineFor::Zero(_)
        | LineFor::Adapter
        | LineFor::Shown
        | LineFor::Loosened
        | LineFor::Recheck
        | LineFor::Decision(_)
        | LineFor::Correction(_) => {}
    }
    let Some((question, _, correction)) = model.answering() else { return Vec::new() };
    let (address, role) = (question.address.clone(), question.by);
    let signing = match (what, correction) {
        (
            LineFor::Deviation(..)
            | LineFor::Concession(..)
            | LineFor::Disposition(..)
            | LineFor::Halt
            | LineFor::Pause
            | LineFor::Late
            | LineFor::Resume
            | LineFor::Evidence
            | LineFor::Lacking,
            _,
        ) => return Vec::new(),
        (LineFor::CouldNot, _) => {
            return candidate(model, Answer::CouldNotMeasure { reason: text });
        }
        (LineFor::Zero(id), _) => return zero(model, &id, &text),
        (LineFor::Lot, _) => return build::lot(model, text),
        (LineFor::Adapter, _) => return tighten::adapter(model, text),
        (LineFor::Shown, _) => return tighten::shown(model, &text),
        (LineFor::Loosened, _) => return tighten::loosened(model, &text),
        (LineFor::Recheck, _) => return tighten::rechecked(model, &text),
        (LineFor::Decision(verdict), true) => {
            let what = LineFor::Correction(Box::new(Answer::Decided { verdict, reason: text }));
            model.ask_line(what);
            return Vec::new();
        }
        (LineFor::Decision(verdict), false) => Signing::Decide { address, verdict, reason: text },
        (LineFor::Correction(answer), _) => match *answer {
            Answer::Decided { verdict, reason: why } => {
                Signing::Correct { address, verdict, why, reason: text }
            }
            answer => {
                let command = Command::Correct { address, answer, reason: text, signed: None };
                return vec![Effect::Submit(Box::new(command))];
            }
        },
    };
    let people = model.people_for(role);
    let title = "Who decides?".to_owned();
    model.overlays.push(Overlay::People { title, people, cursor: 0, what: signing });
    Vec::new()
}

/// What an instrument shows with nothing in it was typed.
fn zero(model: &mut Model, id: &str, text: &str) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let (Some(line), Some(unit)) = (question.zero_due(Some(id)), question.field()) else {
        return Vec::new();
    };
    match line.zero_checked(text, unit) {
        Ok(command) => vec![Effect::Submit(Box::new(command))],
        Err(fault) => refuse(model, &fault.to_string()),
    }
}

fn note(model: &mut Model, what: Move) -> Vec<Effect> {
    let address = model.shown.question().map(|q| q.address.clone());
    let Some(Overlay::Note(area)) = model.overlays.last_mut() else { return Vec::new() };
    match what {
        Move::Type(c) => area.insert_char(c),
        Move::Go => area.insert_newline(),
        Move::Erase => {
            area.delete_char();
        }
        Move::Delete => {
            area.delete_next_char();
        }
        Move::Left => area.move_cursor(CursorMove::Back),
        Move::Right => area.move_cursor(CursorMove::Forward),
        Move::Up => area.move_cursor(CursorMove::Up),
        Move::Down => area.move_cursor(CursorMove::Down),
        Move::Clear => {
            area.delete_line_by_head();
            area.delete_line_by_end();
        }
        Move::Home => area.move_cursor(CursorMove::Head),
        Move::End => area.move_cursor(CursorMove::End),
        Move::SaveNote => {
            let text = area.lines().join("\n");
            let text = text.trim_end().to_owned();
            return vec![Effect::Submit(Box::new(Command::AddNote { address, text }))];
        }
        _ => {}
    }
    Vec::new()
}

/// Pasted text goes where text is typed, and nowhere else. It never confirms anything.
pub(super) fn paste(model: &mut Model, text: &str) {
    match model.overlays.last_mut() {
        Some(Overlay::Line { field, .. }) => field.paste(text),
        Some(Overlay::Passphrase { secret, .. }) => {
            text.trim_end_matches(['\r', '\n']).chars().for_each(|c| secret.push(c));
        }
        Some(Overlay::Note(area)) => {
            let text = visible_lines(&text.replace("\r\n", "\n").replace('\r', "\n"));
            area.insert_str(text.replace('\t', "    "));
        }
        Some(_) => {}
        None => {
            if matches!(model.way(), Some(Way::Figure | Way::Wrench | Way::Text | Way::File)) {
                let draft = model.draft_mut();
                draft.field.paste(text);
                draft.warned = false;
            }
        }
    }
}
