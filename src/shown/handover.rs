//! What the next person has to know: what is open, who left it and when, what was done last.

use super::outline::SEALED;
use super::ring::FastenerState;
use super::{RingShown, StackShown};
use crate::ids::{Moment, PersonId};
use crate::session::Session;
use crate::walk::Event;
use crate::walk::exceptions::answer_text;
use crate::walk::place::Stand;

/// A pause after which the last steps are shown again before going on, in minutes.
pub const PAUSE_MINUTES: i64 = 30;
/// So many done steps are shown again.
const LAST_STEPS: usize = 3;

/// A step that was done, for looking at once more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DoneStep {
    /// What it asked for.
    pub text: String,
    /// What was answered.
    pub answer: String,
    /// By whom.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// What the next person has to know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handover {
    /// What is open, a line each.
    pub open: Vec<String>,
    /// Who made the last entry.
    pub left_by: Option<PersonId>,
    /// When.
    pub left_at: Moment,
    /// The steps done last, oldest first.
    pub last: Vec<DoneStep>,
    /// What had to be put right in the journal when it was opened.
    pub put_right: Vec<String>,
    /// True when nobody has done anything on this job yet.
    pub untouched: bool,
}

impl Handover {
    /// What is left behind in `session`.
    pub fn of(session: &Session) -> Self {
        let (files, state) = (session.files(), session.state());
        let worked = session.entries().iter().rev().find(|entry| {
            !matches!(
                entry.event,
                Event::JobOpened(_)
                    | Event::Identified(_)
                    | Event::ClockWentBack { .. }
                    | Event::TornTailSetAside { .. }
            )
        });
        let mut done: Vec<usize> = state.walk.path.clone();
        done.sort_by_key(|index| state.held.get(*index).and_then(Option::as_ref).map(|h| h.n));
        let sealed = state.walk.sealed(&files.flow);
        let last = done.iter().rev().take(LAST_STEPS).rev().filter_map(|index| {
            let held = state.held.get(*index)?.as_ref()?;
            let ask = &files.flow.instance(*index).ask;
            Some(DoneStep {
                text: ask.text().to_owned(),
                answer: if sealed == Some(*index) {
                    SEALED.to_owned()
                } else {
                    answer_text(ask, &held.answer)
                },
                by: held.by.clone(),
                at: held.at,
            })
        });
        let put_right = state.journal_notes.iter().map(|(n, text)| format!("entry {n}: {text}"));
        Self {
            open: open(session),
            left_by: worked.and_then(|entry| entry.by.clone()),
            left_at: worked.map_or(state.opened_at, |entry| entry.at),
            last: last.collect(),
            put_right: put_right.collect(),
            untouched: worked.is_none(),
        }
    }
}

fn open(session: &Session) -> Vec<String> {
    let (flow, state) = (&session.files().flow, session.state());
    match state.walk.stand {
        Stand::Asked(index, _) => {
            let instance = flow.instance(index);
            let mut lines = vec![format!("{}: {}", instance.address, instance.ask.text())];
            if let (Some(items), Some(done)) = (instance.ask.items(), state.items.get(&index)) {
                for (n, item) in items.iter().enumerate().skip(done.len()) {
                    lines.push(format!("its line {} of {}: {item}", n + 1, items.len()));
                }
            }
            if let Some(stack) = StackShown::of(session, index) {
                let n_due = stack.due().count();
                for (n, note) in stack.due().enumerate().skip(stack.laid.len()) {
                    lines.push(format!("its layer {} of {n_due}: {}", n + 1, note.title));
                }
            }
            if let Some(ring) = RingShown::of(session, index) {
                let pass = ring.pass().map_or_else(String::new, |pass| ring.pass_words(pass));
                lines.push(format!("{}; {pass}", ring.count_words()));
                let open = ring.states().into_iter().filter(|(_, s)| *s != FastenerState::Done);
                let open: Vec<String> = open.map(|(number, _)| number.to_string()).collect();
                lines.push(format!("its fasteners still open in this pass: {}", open.join(", ")));
            }
            lines
        }
        Stand::End => vec!["all steps are answered; the job waits for its sign-off".to_owned()],
        Stand::Stopped(_) => vec!["the job was stopped; it waits for its sign-off".to_owned()],
    }
}
