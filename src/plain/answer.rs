//! Takes answers: findings, readings, entries, corrections, notes.

use super::{Halt, Prompt, Walker, sentence};
use crate::procedure::model::EntryKind;
use crate::shown::Question;
use crate::shown::question::Typed;
use crate::walk::exceptions::answer_text;
use crate::walk::flow::{Ask, FindingNote};
use crate::walk::{Address, Answer, Command, Refusal};

impl Walker<'_> {
    /// One complete answer to `question`, said back before it counts.
    pub(super) fn answer(&mut self, question: &Question) -> Result<Answer, Halt> {
        match &question.ask {
            Ask::Do(_) => {
                if self.yes_or_no("Is it done? y = yes, n = not yet")? {
                    Ok(Answer::Done)
                } else {
                    self.talk.say("Nothing was saved. Do it, then answer.")?;
                    Err(Halt::Again)
                }
            }
            Ask::WorkOut(_) => {
                let answer = question.worked_out().ok_or(Halt::Again)?;
                let comes_to = question
                    .consequence(&answer)
                    .map_or_else(String::new, |c| format!(" -> {}", c.words.trim_end_matches('.')));
                let result = answer_text(&question.ask, &answer);
                self.echoed(&format!("{result}{comes_to}. Go on"))?;
                Ok(answer)
            }
            Ask::Needs(items) | Ask::Check { items, .. } => {
                let mut given = Vec::new();
                for (n, item) in items.iter().enumerate() {
                    self.talk.say(&format!("Line {} of {}: {item}", n + 1, items.len()))?;
                    given.push(self.yes_or_no("Is it so? y = yes, n = no")?);
                }
                Ok(Answer::Items(given))
            }
            Ask::Look { several, findings, .. } => self.findings(question, *several, findings),
            Ask::Measure(_) => self.reading(question),
            Ask::Build { .. } => self.layers(question),
            Ask::Enter { kind, .. } => self.entry(question, kind),
            Ask::Attach { may_lack, .. } => self.attach(*may_lack),
            Ask::Stop(_) => {
                let reply = self.prompt(
                    Prompt::Short,
                    "Type `stopped` once the machine is in this state and the people are told",
                )?;
                if reply == "stopped" { Ok(Answer::Stopped) } else { self.not_understood(&reply) }
            }
            // These are signed, in `sign`, or come part by part.
            Ask::Decide { .. } | Ask::Hold(_) | Ask::Tighten(_) | Ask::Wait { .. } => {
                Err(Halt::Again)
            }
        }
    }

    fn findings(
        &mut self,
        question: &Question,
        several: bool,
        findings: &[FindingNote],
    ) -> Result<Answer, Halt> {
        let text = if several {
            "The numbers of all that you see, such as `1 3`"
        } else {
            "The number of what you see"
        };
        let reply = self.prompt(Prompt::Short, text)?;
        let mut picked = Vec::new();
        for word in reply.split([' ', ',']).filter(|word| !word.is_empty()) {
            match word.parse::<usize>().ok().and_then(|n| n.checked_sub(1)) {
                Some(index) if index < findings.len() => picked.push(index),
                _ => return self.not_understood(&reply),
            }
        }
        picked.sort_unstable();
        picked.dedup();
        if picked.is_empty() || (!several && picked.len() > 1) {
            return self.not_understood(&reply);
        }
        let chosen: Vec<&FindingNote> = picked.iter().filter_map(|i| findings.get(*i)).collect();
        let answer = Answer::Found(chosen.iter().map(|f| f.id.clone()).collect());
        let seen = chosen.iter().map(|f| f.see.as_str()).collect::<Vec<_>>().join("; and ");
        let comes_to = question.consequence(&answer).map_or_else(String::new, |c| c.words);
        for cause in chosen.iter().filter_map(|f| f.likely_cause.as_ref()) {
            self.talk.say(&format!("Likely cause: {cause}."))?;
        }
        self.echoed(&format!("{reply} -> {seen} -> {}", comes_to.trim_end_matches('.')))?;
        Ok(answer)
    }

    /// A reading with its instrument, or the reason why there is none.
    fn reading(&mut self, question: &Question) -> Result<Answer, Halt> {
        let Some(unit) = question.field() else { return Err(Halt::Again) };
        if let Some(limit) = question.limit_words() {
            let mut words = vec![limit];
            words.extend(question.limit_notes());
            self.talk.say(&format!("Limit: {}.", words.join("; ")))?;
        }
        let instrument = self.in_hand(question)?;
        if let Some(line) = question.instrument(instrument.as_deref()) {
            self.talk.say(&format!("With {}.", line.text()))?;
        }
        if let Some(rule) = question.rule_words(instrument.as_deref()) {
            self.talk.say(&format!("Rule: {rule}."))?;
        }
        let text = format!(
            "The reading in {}, or `could not` with no reading, or `instrument` for another one",
            unit.word()
        );
        let typed = self.prompt(Prompt::Short, &text)?;
        match typed.as_str() {
            "could not" => return self.could_not(question),
            "instrument" => return self.another_instrument(question),
            _ => {}
        }
        let reading = match question.typed(&typed, instrument.as_deref()) {
            Typed::Nothing => return self.not_understood(""),
            Typed::Fault(fault) => {
                self.talk.say(&format!("Not understood: {fault}. Nothing was saved."))?;
                return Err(Halt::Again);
            }
            Typed::Figure { reading, several, words, .. } => {
                let answer = question.figure_answer(reading, several, instrument.as_deref());
                let Some(answer) = answer else {
                    self.talk.say("There is no instrument to read with. Nothing was saved.")?;
                    return Err(Halt::Again);
                };
                let comes_to = question
                    .consequence(&answer)
                    .map_or_else(String::new, |c| format!(" -> {}", c.words.trim_end_matches('.')));
                self.echoed(&format!("{typed} -> {words}{comes_to}"))?;
                answer
            }
        };
        Ok(reading)
    }

    /// The instrument used last where it may be used here, or one that is chosen now.
    pub(super) fn in_hand(&mut self, question: &Question) -> Result<Option<String>, Halt> {
        let remembered = question
            .instrument_kind()
            .and_then(|kind| self.instruments.get(kind))
            .filter(|id| question.usable_instruments().iter().any(|line| line.id() == id.as_str()));
        let taken = match remembered.cloned() {
            Some(id) => Some(id),
            None => self.instrument(question)?,
        };
        if let (Some(line), Some(unit)) = (question.zero_due(taken.as_deref()), question.field()) {
            let typed = self.prompt(Prompt::Short, &line.zero_words())?;
            match line.zero_checked(&typed, unit) {
                Ok(command) => self.submit(command)?,
                Err(fault) => {
                    self.talk.say(&format!("Not understood: {fault}. Nothing was saved."))?;
                    return Err(Halt::Again);
                }
            }
            self.talk.say(&Question::zero_said(self.session))?;
            return Err(Halt::Again);
        }
        Ok(taken)
    }

    /// The instrument is laid down: the next question asks which is taken up.
    pub(super) fn another_instrument<T>(&mut self, question: &Question) -> Result<T, Halt> {
        if let Some(kind) = question.instrument_kind() {
            self.instruments.remove(kind);
        }
        Err(Halt::Again)
    }

    /// Chooses among the instruments that may be used today; `None` where the person says that
    /// no reading can be made.
    pub(super) fn instrument(&mut self, question: &Question) -> Result<Option<String>, Halt> {
        let kind = question.instrument_kind().cloned();
        let usable = question.usable_instruments();
        for line in question.instruments.iter().filter_map(|line| line.barred.as_ref()) {
            self.talk.say(&format!("Not to be used: {line}."))?;
        }
        if usable.is_empty() {
            self.talk.say("No instrument of this kind may be used today.")?;
            return Ok(None);
        }
        self.talk.say("Instruments:")?;
        for (n, line) in usable.iter().enumerate() {
            self.talk.say(&format!("{}. {}", n + 1, line.text()))?;
        }
        let reply = self.prompt(Prompt::Short, "The number or the mark of the one in your hand")?;
        let by_number = reply.parse::<usize>().ok().and_then(|n| usable.get(n.checked_sub(1)?));
        let chosen = by_number.or_else(|| usable.iter().find(|line| line.id() == reply));
        let Some(chosen) = chosen else { return self.not_understood(&reply) };
        if let Some(kind) = kind {
            self.instruments.insert(kind, chosen.id().to_owned());
        }
        Ok(Some(chosen.id().to_owned()))
    }

    fn could_not(&mut self, question: &Question) -> Result<Answer, Halt> {
        let reason = self.reason("Why could it not be measured")?;
        let answer = Answer::CouldNotMeasure { reason: reason.clone() };
        let comes_to = question.consequence(&answer).map_or_else(String::new, |c| c.words);
        self.echoed(&format!(
            "Could not be measured: {reason} -> {}",
            comes_to.trim_end_matches('.')
        ))?;
        Ok(answer)
    }

    fn entry(&mut self, question: &Question, kind: &EntryKind) -> Result<Answer, Halt> {
        match kind {
            EntryKind::Figure { unit, .. } => {
                let text = match unit.symbol() {
                    "" => "The figure".to_owned(),
                    symbol => format!("The figure, in {symbol}"),
                };
                let typed = self.prompt(Prompt::Short, &text)?;
                match question.typed(&typed, None) {
                    Typed::Nothing => self.not_understood(""),
                    Typed::Fault(fault) => {
                        self.talk.say(&format!("Not understood: {fault}. Nothing was saved."))?;
                        Err(Halt::Again)
                    }
                    Typed::Figure { reading, words, .. } => {
                        self.echoed(&format!("{typed} -> {words}"))?;
                        question.figure_answer(reading, None, None).ok_or(Halt::Again)
                    }
                }
            }
            EntryKind::Choice(_) | EntryKind::FitOut if !question.choices.is_empty() => {
                let word = if matches!(kind, EntryKind::FitOut) { "letter" } else { "number" };
                let reply = self.prompt(Prompt::Short, &format!("The {word} of your choice"))?;
                let choices = &question.choices;
                let by_number =
                    reply.parse::<usize>().ok().and_then(|n| choices.get(n.checked_sub(1)?));
                let chosen = by_number.or_else(|| choices.iter().find(|(id, _)| *id == reply));
                if reply.is_empty() {
                    return self.not_understood("");
                }
                let Some((id, text)) = chosen else {
                    // The letter of a name plate that nobody knows: say which there are.
                    let known = choices.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>();
                    let known = known.join(", ");
                    self.talk
                        .say(&format!("`{reply}` is not among {known}. Nothing was saved."))?;
                    return Err(Halt::Again);
                };
                self.echoed(&format!("{reply} -> {id}: {text}"))?;
                Ok(Answer::Entered(id.clone()))
            }
            EntryKind::Choice(_)
            | EntryKind::FitOut
            | EntryKind::Text
            | EntryKind::Date
            | EntryKind::Serial => {
                let text = match kind {
                    EntryKind::FitOut => "The code on the name plate, sign by sign",
                    EntryKind::Date => "The day, as year-month-day",
                    EntryKind::Serial => "The number, sign by sign as on the plate",
                    _ => "Your text, on one line",
                };
                let typed = self.prompt(Prompt::FreeText, text)?;
                if typed.is_empty() {
                    return self.not_understood("");
                }
                self.echoed(&format!("Enter `{typed}`"))?;
                Ok(Answer::Entered(typed))
            }
        }
    }

    /// Replaces an earlier answer.
    pub(super) fn correct(&mut self, text: &str) -> Result<(), Halt> {
        let flow = self.session.files().flow.clone();
        let Some(address) = Address::parse(text) else {
            self.talk
                .say("Write `correct` and the address of a step; `outline` shows the addresses.")?;
            return Ok(());
        };
        let Some(index) = flow.find(&address) else {
            self.talk.say(&format!("Not accepted: {}.", Refusal::NoSuchStep(address)))?;
            return Ok(());
        };
        let question = Question::of(self.session, index);
        let Some(before) = question.answered.clone() else {
            self.talk.say(&format!("Not accepted: {}.", Refusal::NothingToCorrect(address)))?;
            return Ok(());
        };
        if matches!(question.ask, Ask::Hold(_)) {
            self.talk.say(&format!("Not accepted: {}.", Refusal::HoldNotCorrected))?;
            return Ok(());
        }
        if matches!(question.ask, Ask::Tighten(_)) {
            self.talk.say(&format!("Not accepted: {}.", Refusal::TightenedNotCorrected))?;
            return Ok(());
        }
        self.step(&question)?;
        self.talk.say(&format!("The answer so far: {before}."))?;
        if let Ask::Decide { .. } = question.ask {
            return self.correct_decision(&question);
        }
        let answer = self.answer(&question)?;
        let reason = self.reason("Why is the answer corrected")?;
        let words = question.consequence(&answer).map(|c| c.words);
        self.submit(Command::Correct { address, answer, reason, signed: None })?;
        match words {
            Some(words) => self.talk.say(&format!("Corrected. {}.", sentence(&words)))?,
            None => self.talk.say("Corrected.")?,
        }
        Ok(())
    }

    /// Adds a note to the step that is asked.
    pub(super) fn note(&mut self, text: &str) -> Result<(), Halt> {
        let shown = crate::shown::Shown::at(self.session, self.chosen.as_ref());
        let address = shown.question().map(|question| question.address.clone());
        let mut lines = Vec::new();
        if text.is_empty() {
            self.talk.say("Write the note. A line with nothing but a full stop ends it.")?;
            loop {
                match self.talk.line("Note")? {
                    // A note that was broken off is not taken for a whole one.
                    None => return Err(Halt::Leave(super::PlainEnd::InputEnded)),
                    Some(line) if line.trim() == "." => break,
                    Some(line) => lines.push(line),
                }
            }
        } else {
            lines.push(text.to_owned());
        }
        self.submit(Command::AddNote { address, text: lines.join("\n") })?;
        self.talk.say("Saved. The note is in the job log.")?;
        Ok(())
    }
}
