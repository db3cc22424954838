//! Carries moves to the session and brings back what came of them.

use std::cell::RefCell;
use std::path::Path;
use std::rc::Rc;

use crossterm::event::Event;
use zeroize::Zeroizing;

use super::keymap::{self, Press};
use super::model::{Model, PhotoOf, PhotoShown, Signing};
use super::update::{Effect, Msg, update};
use crate::ids::PersonId;
use crate::photo::Photo;
use crate::ports::Signer;
use crate::session::keys::{Keys, Releaser};
use crate::session::{Session, SubmitError};
use crate::shown::question::is_for_another;
use crate::shown::{
    HistoryShown, Question, Sheet, Shown, Texts, decision_words, spoken_at, verdict_words,
};
use crate::walk::event::Meaning;
use crate::walk::{Address, Answer, Command, Event as Entered};

/// What the loop around the runtime does next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Nothing has changed.
    Idle,
    /// Draw.
    Draw,
    /// Draw, and throw away the keys that were typed before this answer was given.
    Answered,
    /// Go to sleep.
    Suspend,
    /// Leave.
    Quit,
}

/// The model with the session behind it.
pub struct Runtime<'a> {
    /// What the screen holds.
    pub model: Model,
    session: &'a mut Session,
    keys: &'a dyn Keys,
    releaser: &'a mut dyn Releaser,
    /// The words of the answers so far.
    texts: RefCell<Texts>,
    /// The open step that the person went to, where the order is free.
    chosen: Option<Address>,
}

impl<'a> Runtime<'a> {
    /// The screen of `session` in a window of `size` columns and rows.
    pub fn new(
        session: &'a mut Session,
        keys: &'a dyn Keys,
        releaser: &'a mut dyn Releaser,
        size: (u16, u16),
    ) -> Self {
        let mut texts = Texts::default();
        let model = Model::new(Shown::with(session, None, &mut texts), size);
        let texts = RefCell::new(texts);
        Self { model, session, keys, releaser, texts, chosen: None }
    }

    /// Takes an event of the terminal that came at `at_ms`.
    pub fn feed(&mut self, event: &Event, at_ms: u64) -> Turn {
        let msg = match event {
            Event::Key(key) => {
                let Some(press) = Press::of(key) else { return Turn::Idle };
                match keymap::lookup(&self.model, press) {
                    Some(what) => Msg::Did { what, key: press, at_ms },
                    // What was said of the move before is not taken for an answer to this key.
                    None if self.model.status.take().is_some() => return Turn::Draw,
                    None => return Turn::Idle,
                }
            }
            Event::Paste(text) => Msg::Paste(text.clone()),
            Event::Resize(columns, rows) => Msg::Resized(*columns, *rows),
            Event::FocusGained | Event::FocusLost | Event::Mouse(_) => return Turn::Idle,
        };
        let mut turn = Turn::Draw;
        let mut effects = update(&mut self.model, msg);
        while !effects.is_empty() {
            let mut next = Vec::new();
            for effect in effects {
                match effect {
                    Effect::Quit => return Turn::Quit,
                    Effect::Suspend => return Turn::Suspend,
                    effect => {
                        if effect.answers() {
                            turn = Turn::Answered;
                        }
                        let (msg, more) = self.perform(effect);
                        next.extend(more);
                        if let Some(msg) = msg {
                            next.extend(update(&mut self.model, msg));
                        }
                    }
                }
            }
            effects = next;
        }
        turn
    }

    /// Shows how much of a running wait is left; true where there is one.
    pub fn tick(&mut self) -> bool {
        let Some(question) = self.model.shown.question().filter(|q| q.left_s.is_some()) else {
            return false;
        };
        let index = self.session.files().flow.find(&question.address);
        let left = index.and_then(|index| crate::shown::question::left_s(self.session, index));
        if left == question.left_s {
            return false;
        }
        self.model.shown = self.shown();
        true
    }

    fn perform(&mut self, effect: Effect) -> (Option<Msg>, Option<Effect>) {
        match effect {
            Effect::Quit | Effect::Suspend => (None, None),
            Effect::Look(address) => {
                let index = self.session.files().flow.find(&address);
                (index.map(|i| Msg::Looked(Box::new(Question::of(self.session, i)))), None)
            }
            Effect::Unlock { person, what } => {
                if self.keys.asks_passphrase(&person) {
                    return (Some(Msg::AskPassphrase { person, what }), None);
                }
                let passphrase = Zeroizing::new(String::new());
                (None, Some(Effect::Sign { person, passphrase, what }))
            }
            Effect::Submit(command) => {
                let said = said(&command);
                let result = self.session.submit(*command);
                (Some(self.outcome(result, said)), None)
            }
            Effect::Keep { path, address, answers } => {
                (Some(self.keep(&path, address, answers)), None)
            }
            Effect::History => {
                (Some(Msg::History(HistoryShown::of(self.session).map(Box::new))), None)
            }
            Effect::Sheet => (Some(Msg::Sheet(Box::new(Sheet::of(self.session)))), None),
            Effect::Photo(all, at) => (self.photo(all, at).map(Msg::Photo), None),
            Effect::Late { address, text } => (Some(self.late(&address, &text)), None),
            Effect::Arrive => (Some(Msg::Chosen(Box::new(self.shown()))), None),
            Effect::Choose(address) => {
                self.chosen = Some(address);
                let shown = Box::new(self.shown());
                (Some(Msg::Chosen(shown)), None)
            }
            Effect::Retry => {
                let result = self.session.retry();
                (Some(self.outcome(result, "Saved now.".to_owned())), None)
            }
            Effect::Sign { person, passphrase, what } => {
                (Some(self.sign(&person, passphrase, what)), None)
            }
        }
    }

    fn sign(&mut self, person: &PersonId, passphrase: Zeroizing<String>, what: Signing) -> Msg {
        let signer = match self.keys.signer(person, passphrase) {
            Ok(signer) => signer,
            Err(error) => return self.refused(error.to_string()),
        };
        let signer = signer.as_ref();
        let (result, said) = match what {
            Signing::Identify => {
                (self.session.identify(person, signer), "Saved: you are at work.".to_owned())
            }
            Signing::Performed => {
                let signed = self.session.sign_performed(person, signer);
                (signed, "Saved: the work is signed for.".to_owned())
            }
            Signing::Hold(address) => {
                let released = self.session.release_hold(&address, person, signer);
                (released, "Saved: the hold is lifted.".to_owned())
            }
            Signing::Decide { address, verdict, reason } => {
                let decided = self.session.decide(&address, (verdict, &reason), person, signer);
                (decided, format!("Saved: {}.", decision_words(verdict)))
            }
            Signing::Correct { address, verdict, why, reason } => {
                let answer = Answer::Decided { verdict, reason: why };
                let corrected = self.correct(&address, answer, reason, person, signer);
                (corrected, "Saved: the decision is corrected.".to_owned())
            }
            Signing::Deviate { address, done, reason } => {
                let deviated = self.session.deviate(&address, (done, &reason), person, signer);
                (deviated, "Saved: a mechanic allowed it.".to_owned())
            }
            Signing::Concede { address, verdict, reason } => {
                let conceded = self.session.concede(&address, (verdict, &reason), person, signer);
                (conceded, format!("Saved: {}.", decision_words(verdict)))
            }
            Signing::Dispose(address, said) => {
                let disposed = self.session.dispose(&address, &said, person, signer);
                (disposed, format!("Saved: {}.", said.disposition.spoken()))
            }
            Signing::Resume(reason) => {
                let resumed = self.session.resume_work(&reason, person, signer);
                (resumed, "Saved: the work goes on.".to_owned())
            }
            Signing::Release(lines) => return self.release(person, signer, &lines),
        };
        self.outcome(result, said)
    }

    fn correct(
        &mut self,
        address: &Address,
        answer: Answer,
        reason: String,
        person: &PersonId,
        signer: &dyn Signer,
    ) -> Result<(), SubmitError> {
        let Answer::Decided { verdict, reason: why } = &answer else { return Ok(()) };
        let meaning = Meaning::Decided { verdict: *verdict, reason: why.clone() };
        let signed = self.session.sign(person, Some(address.clone()), meaning, signer)?;
        let address = address.clone();
        self.session.submit(Command::Correct { address, answer, reason, signed: Some(signed) })
    }

    fn release(&mut self, person: &PersonId, signer: &dyn Signer, lines: &[String]) -> Msg {
        if self.session.state().person.as_ref() != Some(person) {
            let result = self.session.identify(person, signer);
            if result.is_err() {
                return self.outcome(result, String::new());
            }
        }
        match self.releaser.release(self.session, person, signer, lines) {
            Ok(lines) => Msg::Released { shown: Box::new(self.shown()), lines },
            Err(why) => self.refused(why),
        }
    }

    fn shown(&self) -> Shown {
        Shown::with(self.session, self.chosen.as_ref(), &mut self.texts.borrow_mut())
    }

    /// Keeps a file, then answers with it or lays it beside the step.
    fn keep(&mut self, path: &str, address: Option<Address>, answers: bool) -> Msg {
        let evidence = match self.session.keep_file(Path::new(path)) {
            Ok(evidence) => evidence,
            Err(error) => return self.outcome(Err(error), String::new()),
        };
        let said = format!("Saved: {} lies with the job.", evidence.name);
        let command = match address {
            Some(address) if answers => {
                Command::Answer { address, answer: Answer::Attached(evidence), signed: None }
            }
            address => Command::AddEvidence { address, evidence },
        };
        let result = self.session.submit(command);
        self.outcome(result, said)
    }

    /// The photo `at` of `all`, or why it is not shown.
    fn photo(&self, all: Vec<PhotoOf>, at: usize) -> Option<Box<PhotoShown>> {
        let (name, mut about, bytes) = match all.get(at)? {
            PhotoOf::Path(path) => {
                let about = "not attached yet: esc, then enter attaches it".to_owned();
                (path.clone(), vec![about], self.session.look_at_file(Path::new(path)))
            }
            PhotoOf::Attached(file) => {
                let by = self.model.shown.name_or_nobody(file.by.as_ref());
                let about = format!("by {by}, {}", spoken_at(file.at, self.model.shown.now));
                (file.evidence.name.clone(), vec![about], self.session.attached(&file.evidence))
            }
        };
        if all.len() > 1 {
            about.push(format!("photo or file {} of {}", at + 1, all.len()));
        }
        let picture = bytes.and_then(|bytes| Photo::read(&bytes).map_err(|e| e.to_string()));
        if let Ok(photo) = &picture {
            let (width, height) = photo.taken_size();
            about.push(format!("{width} x {height} pixels"));
        }
        Some(Box::new(PhotoShown { all, at, name, about, picture: picture.map(Rc::new) }))
    }

    /// Takes up when what is answered next at a step was seen.
    fn late(&mut self, address: &Address, text: &str) -> Msg {
        match self.session.seen_earlier(address, text) {
            Ok(late) => {
                let said = format!(
                    "LATE ENTRY: what you answer here was seen on {}.",
                    late.observed.spoken()
                );
                Msg::Saved { shown: Box::new(self.shown()), said }
            }
            Err(refusal) => self.refused(refusal.to_string()),
        }
    }

    fn refused(&self, why: String) -> Msg {
        Msg::Refused { shown: Box::new(self.shown()), why }
    }

    fn outcome(&self, result: Result<(), SubmitError>, said: String) -> Msg {
        match result {
            Ok(()) => Msg::Saved { shown: Box::new(self.shown()), said: self.also(said) },
            Err(SubmitError::NotSaved(error)) => Msg::NotSaved(error.to_string()),
            Err(error) => {
                let why = error.to_string();
                let key = if self.model.is_typing() { "ctrl-w" } else { "w" };
                self.refused(if is_for_another(&error) {
                    format!("{why}: {key} changes who is at work")
                } else {
                    why
                })
            }
        }
    }

    /// What is said about a saved answer, with the decision that it came to.
    fn also(&self, said: String) -> String {
        let last = self.session.entries().last().map(|entry| &entry.event);
        match last {
            Some(Entered::ZeroChecked { .. }) => Question::zero_said(self.session),
            // The limit was kept back: what the reading came to is news.
            Some(Entered::Answered { address, .. })
                if let Some(said) = Question::revealed(self.session, address) =>
            {
                format!("{said}.")
            }
            Some(
                Entered::Answered { judged, signed: None, .. }
                | Entered::Corrected { judged, signed: None, .. }
                | Entered::ItemChecked { judged: Some(judged), .. }
                | Entered::LayerLaid { judged: Some(judged), .. }
                | Entered::WrenchSet { judged: Some(judged), .. }
                | Entered::FastenerTightened { judged: Some(judged), .. },
            ) => match judged.verdict {
                Some(verdict) => format!("Saved: {}.", verdict_words(verdict)),
                None => said,
            },
            _ => said,
        }
    }

    /// The session, once the screen is gone.
    pub fn session(&self) -> &Session {
        self.session
    }
}

/// What is said once `command` is saved.
fn said(command: &Command) -> String {
    match command {
        Command::AcknowledgeSafety { .. } => "Saved: you have read it.",
        Command::CheckItem { so: true, .. } => "Saved: it is so.",
        Command::Tighten { tight, .. } if tight.so => "Saved: tightened.",
        Command::CheckItem { so: false, .. } | Command::Tighten { .. } => "Saved: it is NOT so.",
        Command::SetWrench { .. } => "Saved: the wrench is set.",
        Command::Recheck { .. } => "Saved: the re-check is kept; what it was set to stays.",
        Command::Loosen { .. } => "Saved: it is open again. Tighten it once more.",
        Command::LayLayer { laid, .. } if laid.so => "Saved: it is laid.",
        Command::LayLayer { .. } => "Saved: it does NOT lie so.",
        Command::AddNote { .. } => "Saved: the note is in the job log.",
        Command::TakeUp { .. } => "Saved: the work is in your hands.",
        Command::Halt { .. } => "Saved: the work is stopped.",
        Command::Pause { .. } => "Saved: paused.",
        Command::TellWitness { .. } => "Saved: they were told.",
        Command::Correct { .. } => "Saved: corrected.",
        Command::Confirm { .. } => "Saved: it stands.",
        _ => "Saved.",
    }
    .to_owned()
}
