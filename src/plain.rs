//! The walk as plain lines: for screen readers, dumb terminals and pipes.
//!
//! The same moves as on the full screen, through the same session, so the journal is the same. No
//! cursor movement, no colour, no codes: one line after the other, and everything that can be
//! chosen has a number. Where keys lie and how passphrases are typed is for the caller.

mod answer;
mod build;
mod depart;
mod finish;
mod hands;
mod look;
mod sheet;
mod sign;
mod talk;
mod tighten;

use std::collections::BTreeMap;
use std::io::{BufRead, Write};

use crate::ids::Name;
use crate::session::keys::{Keys, Passphrases, Releaser};
use crate::session::{Session, SubmitError};
use crate::shown::question::is_for_another;
use crate::shown::{Place, Question, Shown, spoken_at};
use crate::units::duration::spoken_duration;
use crate::walk::flow::Ask;
use crate::walk::{Address, Answer, Command};

use talk::Talk;

/// How a plain walk ended. The job's folder is as the last saved entry left it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlainEnd {
    /// The person left; the job stays open.
    Left,
    /// The input ended; the job stays open.
    InputEnded,
    /// The job is released.
    Released,
}

/// Why a plain walk broke off. Everything that was said to be saved is saved.
#[derive(Debug, thiserror::Error)]
pub enum PlainError {
    /// Reading or writing lines.
    #[error("lines could not be read or written: {0}; what was saved stays, resume the job")]
    Lines(#[from] std::io::Error),
}

/// What a plain walk needs besides the session.
pub struct With<'a> {
    /// The people's keys.
    pub keys: &'a dyn Keys,
    /// How passphrases are asked for.
    pub passphrases: &'a mut dyn Passphrases,
    /// How the job is released.
    pub releaser: &'a mut dyn Releaser,
}

/// Walks the job in `session` until it is released, left, or the input ends.
///
/// # Errors
/// Lines that cannot be read or written.
pub fn run<'a>(
    session: &'a mut Session,
    input: &'a mut (dyn BufRead + 'a),
    out: &'a mut (dyn Write + 'a),
    with: With<'a>,
) -> Result<PlainEnd, PlainError> {
    let mut walker = Walker {
        session,
        talk: Talk::new(input, out),
        with,
        instruments: BTreeMap::new(),
        placed: None,
        chosen: None,
        last: None,
    };
    match walker.walk() {
        Ok(end) | Err(Halt::Leave(end)) => {
            walker.talk.say(match end {
                PlainEnd::Released => "The job is released and closed.",
                PlainEnd::Left | PlainEnd::InputEnded => {
                    "The job stays as it is. Everything that was answered is saved."
                }
            })?;
            Ok(end)
        }
        // `walk` goes on after `Again` by itself.
        Err(Halt::Again) => Ok(PlainEnd::Left),
        Err(Halt::Lines(error)) => Err(error.into()),
    }
}

/// Why a question was not answered to its end.
enum Halt {
    /// It is asked again.
    Again,
    /// The walk ends.
    Leave(PlainEnd),
    /// Lines.
    Lines(std::io::Error),
}

impl From<std::io::Error> for Halt {
    fn from(error: std::io::Error) -> Self {
        Self::Lines(error)
    }
}

/// What may be typed at a prompt.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Prompt {
    /// Letters, figures, numbers of a list: commands are plain words.
    Short,
    /// Text of the person's own: commands need a colon in front.
    FreeText,
}

struct Walker<'a> {
    session: &'a mut Session,
    talk: Talk<'a>,
    with: With<'a>,
    /// The instrument used last, by kind.
    instruments: BTreeMap<Name, String>,
    /// The step whose place in the job was said last.
    placed: Option<Address>,
    /// The open step that the person goes to, where the order is free.
    chosen: Option<Address>,
    /// The step that was put last, so that a list is not read out again for every line of it.
    last: Option<Address>,
}

impl Walker<'_> {
    fn walk(&mut self) -> Result<PlainEnd, Halt> {
        let arrived = Shown::of(self.session);
        self.greet(&arrived)?;
        if arrived.released {
            self.talk.say("This job is released. Nothing can be added to it.")?;
            return Ok(PlainEnd::Left);
        }
        if arrived.who.is_none() {
            self.repeat(Self::identify)?;
        }
        loop {
            let shown = Shown::at(self.session, self.chosen.as_ref());
            if let Some(lines) = &shown.take_up {
                // Asked anew each time: who is at work, and so what is due, may have changed.
                match self.take_up(lines) {
                    Ok(()) | Err(Halt::Again) => continue,
                    Err(halt) => return Err(halt),
                }
            }
            if let Some((reason, safe_state)) = &shown.halted {
                match self.halted(&shown, reason, safe_state) {
                    Ok(Some(end)) => return Ok(end),
                    Ok(None) | Err(Halt::Again) => continue,
                    Err(halt) => return Err(halt),
                }
            }
            let turn = match &shown.place {
                Place::Asked(question) => self.turn(&shown, question).map(|()| None),
                Place::End | Place::Stopped { .. } => self.finish(&shown),
            };
            match turn {
                Ok(Some(end)) => return Ok(end),
                Ok(None) | Err(Halt::Again) => {}
                Err(halt) => return Err(halt),
            }
        }
    }

    /// Does `part` until it comes to an end.
    fn repeat(&mut self, part: impl Fn(&mut Self) -> Result<(), Halt>) -> Result<(), Halt> {
        loop {
            match part(self) {
                Err(Halt::Again) => {}
                done => return done,
            }
        }
    }

    fn greet(&mut self, shown: &Shown) -> Result<(), Halt> {
        if shown.is_demo() {
            self.talk.say("DEMO. Nothing in this job counts.")?;
        }
        self.talk.say(&format!(
            "Job {}, machine {}. {}, revision {}.",
            shown.job, shown.machine, shown.title, shown.revision
        ))?;
        self.talk.say("Type `help` at any time for what can be typed.")?;
        Ok(())
    }

    /// Puts the step that is asked and takes one answer.
    fn turn(&mut self, shown: &Shown, question: &Question) -> Result<(), Halt> {
        if self.placed.as_ref() != Some(&question.address) {
            self.place(shown, question)?;
            self.placed = Some(question.address.clone());
        }
        if !question.safety_read {
            return self.safety(question);
        }
        if let Some(role) = question.witness {
            return self.tell_witness(shown, question, role);
        }
        if self.last.as_ref() != Some(&question.address) {
            self.step(question)?;
        }
        // Set before the answer: whatever is refused, the step is put in full again.
        self.last = None;
        if let Some(parked) = &question.parked {
            let by = shown.name_or_nobody(parked.by.as_ref());
            self.talk.say(&format!(
                "This was answered before, by {by}, {}: {}.",
                spoken_at(parked.at, shown.now),
                parked.text
            ))?;
            let address = question.address.clone();
            return self.confirm_parked(question, Command::Confirm { address });
        }
        let address = question.address.clone();
        match &question.ask {
            Ask::Needs(items) | Ask::Check { items, .. } => self.item(question, items),
            Ask::Build { .. } => self.layer(question),
            Ask::Tighten(_) => self.tighten(question),
            Ask::Decide { .. } => self.decide(shown, question),
            Ask::Hold(_) => self.hold(shown, question),
            Ask::Wait { length_s, .. } => self.wait(question, *length_s),
            _ => {
                let answer = self.answer(question)?;
                let words = question.consequence(&answer).map(|c| c.words);
                self.submit(Command::Answer { address: address.clone(), answer, signed: None })?;
                let kept_back = Question::revealed(self.session, &address);
                match (kept_back, words) {
                    (Some(words), _) => self.talk.say(&format!("{words}."))?,
                    (None, Some(words)) => self.talk.say(&format!("Saved: {words}."))?,
                    (None, None) => self.talk.say("Saved.")?,
                }
                Ok(())
            }
        }
    }

    fn confirm_parked(&mut self, question: &Question, command: Command) -> Result<(), Halt> {
        let reply =
            self.prompt(Prompt::Short, "Does it still stand? y = it stands, c = another answer")?;
        match reply.as_str() {
            "y" | "yes" => {
                self.submit(command)?;
                self.talk.say("Saved. The answer stands.")?;
                Ok(())
            }
            "c" => self.correct(&question.address.to_string()),
            other => self.not_understood(other),
        }
    }

    /// Shows the safety text whole and has it acknowledged on its own.
    fn safety(&mut self, question: &Question) -> Result<(), Halt> {
        self.talk.say("Read this first, to its end:")?;
        for text in &question.safety {
            self.talk.say(&format!("{}: {}", text.called, text.hazard))?;
            self.talk.say(&format!("  What can happen: {}", text.consequence))?;
            self.talk.say(&format!("  How to avoid it: {}", text.avoid))?;
            if !text.signs.is_empty() {
                let signs: Vec<String> = text.signs.iter().map(ToString::to_string).collect();
                self.talk.say(&format!("  Signs: {}", signs.join(", ")))?;
            }
        }
        if let Some(why) = &question.safety_unread {
            self.talk.say(&format!("You cannot go on: {why}."))?;
        }
        let reply = self.prompt(Prompt::Short, "Type `read` once you have read it")?;
        if reply != "read" {
            return self.not_understood(&reply);
        }
        self.submit(Command::AcknowledgeSafety { address: question.address.clone() })?;
        self.talk.say("Saved. You have read it.")?;
        Ok(())
    }

    /// Begins a wait, or ends one whose time has passed. The person may go away meanwhile.
    fn wait(&mut self, question: &Question, length_s: u64) -> Result<(), Halt> {
        let address = question.address.clone();
        let whole = spoken_duration(length_s);
        let Some(left_s) = question.left_s else {
            if !self.yes_or_no(&format!("{whole} pass. Begin now? y = begin, n = not yet"))? {
                return Err(Halt::Again);
            }
            self.submit(Command::BeginWait { address })?;
            self.talk.say("Saved. The time runs, also while you are away.")?;
            return Ok(());
        };
        if left_s > 0 {
            self.talk.say(&format!("{} of {whole} are left.", spoken_duration(left_s)))?;
        }
        let reply = self.prompt(Prompt::Short, "Type `over` once the time has passed")?;
        if reply != "over" {
            return self.not_understood(&reply);
        }
        self.submit(Command::EndWait { address })?;
        self.talk.say("Saved. The time has passed.")?;
        Ok(())
    }

    /// One line of a list.
    fn item(&mut self, question: &Question, items: &[String]) -> Result<(), Halt> {
        let next = question.items_done.len();
        let text = items.get(next).map_or("", String::as_str);
        self.talk.say(&format!("Line {} of {}: {text}", next.saturating_add(1), items.len()))?;
        let so = self.yes_or_no("Is it so? y = yes, n = no")?;
        let item = u32::try_from(next).unwrap_or(u32::MAX);
        let address = question.address.clone();
        self.submit(Command::CheckItem { address: address.clone(), item, so })?;
        let mut all = question.items_done.clone();
        all.push(so);
        self.talk.say(if so { "Saved: it is so." } else { "Saved: it is NOT so." })?;
        if all.len() == items.len() {
            if let Some(consequence) = question.consequence(&Answer::Items(all)) {
                self.talk.say(&format!("{}.", sentence(&consequence.words)))?;
            }
        } else {
            self.last = Some(address);
        }
        Ok(())
    }

    /// Saves a move. A refusal is said, and the question is asked again. What was not saved can be
    /// saved again.
    fn submit(&mut self, command: Command) -> Result<(), Halt> {
        let result = self.session.submit(command);
        self.saved(result)
    }

    fn saved(&mut self, mut result: Result<(), SubmitError>) -> Result<(), Halt> {
        loop {
            match result {
                Ok(()) => return Ok(()),
                Err(SubmitError::NotSaved(error)) => {
                    self.talk.say(&format!("NOT SAVED. {}.", sentence(&error.to_string())))?;
                    let reply = self.talk.line(
                        "Your answer is kept. `retry` = save it again, `quit` = leave without it",
                    )?;
                    match reply.as_deref().map(str::trim) {
                        Some("retry") => result = self.session.retry(),
                        None => return Err(Halt::Leave(PlainEnd::InputEnded)),
                        Some("quit") => return Err(Halt::Leave(PlainEnd::Left)),
                        Some(_) => result = Err(SubmitError::NotSaved(error)),
                    }
                }
                Err(error) => {
                    let said = sentence(&format!("Not accepted: {error}"));
                    self.talk.say(&format!("{said}."))?;
                    if is_for_another(&error) {
                        self.talk.say("Type `who`, and that person goes on.")?;
                    }
                    return Err(Halt::Again);
                }
            }
        }
    }

    /// Asks for one line. Commands are carried out here, and the question is then asked again.
    fn prompt(&mut self, kind: Prompt, text: &str) -> Result<String, Halt> {
        let Some(line) = self.talk.line(text)? else {
            return Err(Halt::Leave(PlainEnd::InputEnded));
        };
        let line = line.trim();
        let command = match (line.strip_prefix(':'), kind) {
            (Some(command), _) => Some(command.trim()),
            (None, Prompt::Short) => Some(line),
            (None, Prompt::FreeText) => None,
        };
        if let Some(command) = command
            && self.command(command)?
        {
            return Err(Halt::Again);
        }
        Ok(line.to_owned())
    }

    /// Carries out `text` where it is a command.
    fn command(&mut self, text: &str) -> Result<bool, Halt> {
        let (word, rest) = text.split_once(' ').unwrap_or((text, ""));
        match (word, rest.trim()) {
            ("help" | "?", "") => self.help()?,
            ("where", "") => self.where_am_i()?,
            ("outline", "") => self.outline()?,
            ("sheet", "") => self.sheet()?,
            ("history", "") => self.history()?,
            ("back", "") => {}
            ("who", "") => self.identify()?,
            ("sign", "") => self.sign_own_work()?,
            ("note", text) => self.note(text)?,
            ("file", path) => self.file(path)?,
            ("files", "") => self.attached()?,
            ("go", address) => self.go(address)?,
            ("stop-work", reason) => self.stop_work(reason)?,
            ("pause", reason) => self.pause(reason)?,
            // Bare, it says that something was looked at.
            ("seen", text) if !text.is_empty() => self.seen_earlier(text)?,
            ("left-out", "") => self.deviate(false)?,
            ("otherwise", "") => self.deviate(true)?,
            ("concede", address) => self.concede(address)?,
            ("dispose", address) => self.dispose(address)?,
            ("correct", address) => self.correct(address)?,
            ("loosened", text) => self.loosened(text)?,
            ("recheck", text) => self.recheck(text)?,
            ("quit", "") => return Err(Halt::Leave(PlainEnd::Left)),
            _ => return Ok(false),
        }
        Ok(true)
    }

    fn yes_or_no(&mut self, text: &str) -> Result<bool, Halt> {
        let reply = self.prompt(Prompt::Short, text)?;
        match reply.as_str() {
            "y" | "yes" => Ok(true),
            "n" | "no" => Ok(false),
            other => self.not_understood(other),
        }
    }

    /// Says back what was understood. An empty line is a yes.
    fn echoed(&mut self, text: &str) -> Result<(), Halt> {
        let reply = self.prompt(Prompt::Short, &format!("{text}? enter = yes, n = no"))?;
        match reply.as_str() {
            "" | "y" | "yes" => Ok(()),
            "n" | "no" => {
                self.talk.say("Nothing was saved.")?;
                Err(Halt::Again)
            }
            other => self.not_understood(other),
        }
    }

    /// Asks for a reason in the person's own words. Without one nothing else is asked.
    fn reason(&mut self, text: &str) -> Result<String, Halt> {
        let reason = self.prompt(Prompt::FreeText, text)?;
        if reason.is_empty() { self.not_understood("") } else { Ok(reason) }
    }

    fn not_understood<T>(&mut self, typed: &str) -> Result<T, Halt> {
        let said = if typed.is_empty() {
            "Nothing was typed.".to_owned()
        } else {
            format!("`{typed}` is not one of the answers here.")
        };
        self.talk.say(&format!("{said} Nothing was saved."))?;
        Err(Halt::Again)
    }
}

/// `text` with a capital first letter and no stop at its end.
fn sentence(text: &str) -> String {
    let text = text.trim_end_matches('.');
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
