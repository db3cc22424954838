//! What a move does to what the screen holds, and what is then to be done outside. Pure: no clock, no
//! session, no terminal. Nothing is shown as recorded before the session says that it is saved.

mod answer;
mod build;
mod over;
mod tighten;

pub(super) use tighten::{adapter_of, entry as wrench_entry, thread};
use zeroize::Zeroizing;

use super::keymap::{Move, Press};
use super::model::{Draft, Model, Overlay, PhotoOf, PhotoShown, Screen, Signing, Status};
use super::view;
use crate::ids::PersonId;
use crate::shown::{HistoryShown, Place, Question, Sheet, Shown};
use crate::walk::hands::PAUSE_MINUTES;
use crate::walk::{Address, Command};

/// A key that answered is dead for so long: the pause before a held key begins to repeat.
const HELD_FIRST_MS: u64 = 700;
/// The same key again within this time is still the same press, held down.
const HELD_MS: u64 = 250;
/// Text right behind a bare escape belongs to a key that arrived in pieces.
const ESCAPE_MS: u64 = 100;
/// After such a pause the last steps are shown before anything is answered.
const PAUSE_MS: u64 = PAUSE_MINUTES.unsigned_abs() * 60_000;

/// Something that happened.
#[derive(Debug, Clone)]
pub enum Msg {
    /// A key asked for a move.
    Did {
        /// The move.
        what: Move,
        /// The key.
        key: Press,
        /// When, by a clock that never goes back.
        at_ms: u64,
    },
    /// Text was pasted.
    Paste(String),
    /// The window has another size.
    Resized(u16, u16),
    /// A move is saved.
    Saved {
        /// The job since.
        shown: Box<Shown>,
        /// What is said about it.
        said: String,
    },
    /// A move was refused.
    Refused {
        /// The job as it stands.
        shown: Box<Shown>,
        /// Why.
        why: String,
    },
    /// A move was not saved.
    NotSaved(String),
    /// An earlier step, for a correction.
    Looked(Box<Question>),
    /// The history of the machine, or why there is none.
    History(Result<Box<HistoryShown>, String>),
    /// The job sheet.
    Sheet(Box<Sheet>),
    /// A photo.
    Photo(Box<PhotoShown>),
    /// Another open step is put.
    Chosen(Box<Shown>),
    /// A passphrase is needed.
    AskPassphrase {
        /// Whose.
        person: PersonId,
        /// For what.
        what: Signing,
    },
    /// The job is released.
    Released {
        /// The job since.
        shown: Box<Shown>,
        /// What was written and how it is checked.
        lines: Vec<String>,
    },
}

/// Something to be done outside.
pub enum Effect {
    /// Save a move.
    Submit(Box<Command>),
    /// Put a file into the job's folder, then answer with it or lay it beside the step.
    Keep {
        /// The file's path as typed.
        path: String,
        /// The step.
        address: Option<Address>,
        /// True when it answers the step.
        answers: bool,
    },
    /// Fetch the history of the machine.
    History,
    /// Fetch the job sheet.
    Sheet,
    /// Fetch one of some photos.
    Photo(Vec<PhotoOf>, usize),
    /// What is answered next at a step was seen earlier.
    Late {
        /// The step.
        address: Address,
        /// When and why, as typed.
        text: String,
    },
    /// Put another open step.
    Choose(Address),
    /// Look at the job anew after a long time.
    Arrive,
    /// Save the move that was not saved.
    Retry,
    /// Let `person` sign; ask for their passphrase where their key has one.
    Unlock {
        /// Who.
        person: PersonId,
        /// What.
        what: Signing,
    },
    /// Sign.
    Sign {
        /// Who.
        person: PersonId,
        /// Their passphrase.
        passphrase: Zeroizing<String>,
        /// What.
        what: Signing,
    },
    /// Fetch an earlier step for a correction.
    Look(Address),
    /// Go to sleep.
    Suspend,
    /// Leave.
    Quit,
}

impl Effect {
    /// True when keys typed before it were typed at another question.
    pub fn answers(&self) -> bool {
        !matches!(
            self,
            Self::Suspend
                | Self::Quit
                | Self::Look(_)
                | Self::History
                | Self::Sheet
                | Self::Photo(..)
                | Self::Choose(_)
                | Self::Arrive
        )
    }
}

/// What `msg` does to `model`.
pub fn update(model: &mut Model, msg: Msg) -> Vec<Effect> {
    match msg {
        Msg::Did { what, key, at_ms } => did(model, what, key, at_ms),
        Msg::Paste(text) => {
            if model.is_typing() {
                over::paste(model, &text);
            }
            Vec::new()
        }
        Msg::Resized(columns, rows) => {
            model.hand.size = (columns, rows);
            Vec::new()
        }
        Msg::Saved { shown, said } => {
            saved(model, *shown);
            model.status = Some(Status::Good(said));
            Vec::new()
        }
        Msg::Refused { shown, why } => {
            model.shown = *shown;
            model.draft_mut().warned = false;
            if model.shown.released {
                // Released all the same, with something left to do; there is no step to go back to.
                model.overlays.clear();
                model.screen = Screen::Done(vec![why]);
                return Vec::new();
            }
            model.status = Some(Status::Refused(why));
            // A pause may have come due meanwhile.
            if model.overlays.is_empty() && matches!(model.screen, Screen::Walk) {
                model.take_up();
            }
            Vec::new()
        }
        Msg::NotSaved(why) => {
            model.hand.unsaved = Some(why);
            Vec::new()
        }
        Msg::Looked(question) => {
            let draft = Draft { address: Some(question.address.clone()), ..Draft::default() };
            let correcting = super::model::Correcting { question: *question, draft };
            model.screen = Screen::Correct(Box::new(correcting));
            Vec::new()
        }
        Msg::History(Ok(history)) => {
            model.screen = Screen::History { history, cursor: 0 };
            Vec::new()
        }
        Msg::Sheet(sheet) => {
            model.screen = Screen::Sheet { sheet, scroll: 0 };
            Vec::new()
        }
        Msg::Photo(shown) => {
            if let Some(Overlay::Photo(before)) = model.overlays.last_mut() {
                *before = shown;
            } else {
                model.overlays.push(Overlay::Photo(shown));
            }
            Vec::new()
        }
        Msg::History(Err(why)) => refuse(model, &why),
        Msg::Chosen(shown) => {
            saved(model, *shown);
            model.settle_screen();
            Vec::new()
        }
        Msg::AskPassphrase { person, what } => {
            let secret = super::field::Secret::default();
            model.overlays.push(Overlay::Passphrase { person, secret, what });
            Vec::new()
        }
        Msg::Released { shown, lines } => {
            model.shown = *shown;
            model.overlays.clear();
            model.screen = Screen::Done(lines);
            model.status = None;
            Vec::new()
        }
    }
}

/// Takes up the job as it is after a move was saved.
fn saved(model: &mut Model, shown: Shown) {
    let way_before = model.way();
    let over_before = matches!(model.shown.place, Place::Asked(_));
    let halted_before = model.shown.halted.is_some();
    let note_kept = matches!(model.overlays.last(), Some(Overlay::Note(_)));
    model.shown = shown;
    model.hand.unsaved = None;
    model.overlays.clear();
    let over_now = matches!(model.shown.place, Place::Asked(_));
    let leaves = match &model.screen {
        Screen::Correct(_) => !note_kept,
        Screen::Who { .. } => true,
        Screen::Walk | Screen::SignOff { .. } => over_before != over_now,
        Screen::Outline { .. }
        | Screen::Sheet { .. }
        | Screen::History { .. }
        | Screen::Done(_) => false,
    };
    let halted = model.shown.halted.is_some();
    if leaves || halted && !halted_before {
        model.settle_screen();
    }
    if let Screen::SignOff { lines, seen } = &mut model.screen
        && *lines != model.shown.exceptions
    {
        lines.clone_from(&model.shown.exceptions);
        *seen = 0;
    }
    let address = model.shown.question().map(|q| q.address.clone());
    // What is typed is there again once work that was stopped goes on.
    let same_way = model.way() == way_before || halted != halted_before;
    if model.draft.address != address || !same_way {
        model.draft = Draft { address, ..Draft::default() };
    }
    model.draft.scroll = None;
    model.hand.paged = None;
    // Whoever stops the work sees first that it is stopped.
    if halted_before || model.shown.halted.is_none() {
        model.take_up();
    }
}

fn did(model: &mut Model, what: Move, key: Press, at_ms: u64) -> Vec<Effect> {
    let paused = model.hand.last_at.is_some_and(|last| at_ms.saturating_sub(last) > PAUSE_MS);
    model.hand.last_at = Some(at_ms);
    if paused && model.shown.who.is_some() && !model.shown.released && model.overlays.is_empty() {
        return vec![Effect::Arrive];
    }
    // A key stops repeating once another one is pressed, so the first was let go of.
    model.hand.held = model.hand.held.filter(|(held, ..)| *held == key);
    if what.answers() {
        if is_held(model, key, at_ms) {
            return Vec::new();
        }
        model.hand.held = Some((key, at_ms, HELD_FIRST_MS));
    }
    if let Move::Type(_) = what {
        let split = model.hand.escape_at.is_some_and(|e| at_ms.saturating_sub(e) < ESCAPE_MS);
        if split {
            return Vec::new();
        }
    }
    model.hand.escape_at = (what == Move::Back).then_some(at_ms);
    model.status = None;
    if model.hand.unsaved.is_some() && matches!(what, Move::Retry) {
        return vec![Effect::Retry];
    }
    match what {
        Move::Suspend => return vec![Effect::Suspend],
        Move::Help => {
            model.overlays.push(Overlay::Help { scroll: 0 });
            return Vec::new();
        }
        Move::Leave => {
            if matches!(model.screen, Screen::Done(_)) {
                return vec![Effect::Quit];
            }
            if !matches!(model.overlays.last(), Some(Overlay::Leave)) {
                model.overlays.push(Overlay::Leave);
            }
            return Vec::new();
        }
        _ => {}
    }
    if model.overlays.is_empty() {
        answer::on_screen(model, what)
    } else {
        over::on_top(model, what)
    }
}

/// True when `key` is the one that answered last and has not been let go since.
fn is_held(model: &mut Model, key: Press, at_ms: u64) -> bool {
    let Some((last, at, dead_ms)) = model.hand.held else { return false };
    if last != key || at_ms.saturating_sub(at) >= dead_ms {
        return false;
    }
    model.hand.held = Some((key, at_ms, HELD_MS));
    let said = "One press, one answer: that key came too soon and was not taken.".to_owned();
    model.status = Some(Status::Refused(said));
    true
}

/// Moves the rows that are shown; `by` rows down, or up where it is negative.
fn scroll(model: &mut Model, by: isize) {
    let fit = view::fit(model);
    let max = fit.n_rows.saturating_sub(fit.height);
    let now = fit.offset.saturating_add_signed(by).min(max);
    match model.overlays.last_mut() {
        Some(Overlay::Help { scroll } | Overlay::TakeUp { scroll, .. }) => *scroll = now,
        Some(_) => model.hand.paged = Some(now),
        None => match &mut model.screen {
            Screen::Sheet { scroll, .. } => *scroll = now,
            Screen::History { .. } => model.hand.paged = Some(now),
            Screen::Walk | Screen::Correct(_) | Screen::SignOff { .. } => {
                model.draft_mut().scroll = Some(now);
            }
            _ => {}
        },
    }
}

/// The number of rows of a page.
fn page(model: &Model) -> isize {
    isize::try_from(view::fit(model).height.max(2)).unwrap_or(isize::MAX).saturating_sub(1)
}

/// True when the last row has been on the screen.
fn at_end(model: &Model) -> bool {
    let fit = view::fit(model);
    fit.offset.saturating_add(fit.height) >= fit.n_rows
}

/// A text that is too short to be an answer, or the way of a step that has none.
fn refuse(model: &mut Model, why: &str) -> Vec<Effect> {
    model.status = Some(Status::Refused(why.to_owned()));
    Vec::new()
}
