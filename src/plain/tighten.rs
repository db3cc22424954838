//! Fasteners: the wrench is set, then they are tightened one by one. Loosened, and checked again.

use super::{Halt, Prompt, Walker, sentence};
use crate::language::Thread;
use crate::shown::Question;
use crate::shown::question::Typed;
use crate::shown::ring::{
    FastenerState, RingShown, adapter_text, loosened_entry, recheck_entry, wrench_words,
};
use crate::walk::event::Tight;
use crate::walk::tighten::Due;
use crate::walk::{Address, Command};

impl Walker<'_> {
    /// The fasteners, the torque, and what is done so far.
    pub(super) fn ring(&mut self, question: &Question) -> Result<(), Halt> {
        let Some(ring) = &question.ring else { return Ok(()) };
        let order: Vec<String> = ring.note.order.iter().map(ToString::to_string).collect();
        self.talk.say(&format!("{}. Order: {}.", ring.note.fasteners, order.join(", ")))?;
        self.talk.say(&format!(
            "Torque: {}; thread: {}.",
            ring.note.torque.render(),
            ring.thread_words()
        ))?;
        if let Some(basis) = &ring.note.basis {
            self.talk.say(&format!("Basis: {}.", basis.trim_end_matches('.')))?;
        }
        self.talk.say(&format!("{}.", sentence(&ring.count_words())))?;
        for line in ring.history() {
            self.talk.say(&format!("{}.", sentence(&line)))?;
        }
        Ok(())
    }

    /// What is due: the wrench, or the next fastener.
    pub(super) fn tighten(&mut self, question: &Question) -> Result<(), Halt> {
        let Some(ring) = &question.ring else { return Err(Halt::Again) };
        match ring.due {
            Due::Wrench { pass } => self.wrench(question, ring, pass),
            Due::Fastener { pass, fastener } => self.fastener(question, ring, (pass, fastener)),
            Due::Nothing => Err(Halt::Again),
        }
    }

    fn wrench(&mut self, question: &Question, ring: &RingShown, pass: u32) -> Result<(), Halt> {
        self.talk.say(&format!("Set the wrench. {}.", sentence(&ring.pass_words(pass))))?;
        let mark = self.in_hand(question)?;
        let line = question.instrument(mark.as_deref());
        let Some(line) = line.cloned() else {
            self.talk.say("There is no wrench to set. Nothing was saved.")?;
            return Err(Halt::Leave(super::PlainEnd::Left));
        };
        self.talk.say(&format!("With {}.", line.text()))?;
        let thread = self.thread(ring)?;
        let adapter = self.adapter(ring)?;
        let text = format!(
            "What the wrench is set to, in {}, or `instrument` for another wrench",
            ring.unit().word()
        );
        let typed = self.prompt(Prompt::Short, &text)?;
        if typed == "instrument" {
            return self.another_instrument(question);
        }
        let setting = match question.typed(&typed, None) {
            Typed::Nothing => return self.not_understood(""),
            Typed::Fault(fault) => {
                self.talk.say(&format!("Not understood: {fault}. Nothing was saved."))?;
                return Err(Halt::Again);
            }
            Typed::Figure { reading, .. } => reading,
        };
        let entry = match ring.entry(setting, line.snapshot.clone(), adapter.as_deref(), thread) {
            Ok(entry) => entry,
            Err(fault) => {
                self.talk.say(&format!("Not understood: {fault}. Nothing was saved."))?;
                return Err(Halt::Again);
            }
        };
        self.echoed(&format!("{typed} -> {}", wrench_words(&entry, ring.unit())))?;
        let address = question.address.clone();
        self.submit(Command::SetWrench { address: address.clone(), wrench: Box::new(entry) })?;
        self.talk.say("Saved: the wrench is set.")?;
        self.last = Some(address);
        Ok(())
    }

    fn thread(&mut self, ring: &RingShown) -> Result<Thread, Halt> {
        let text = format!(
            "The torque is for the thread {}. How is it? d = dry, o = oiled",
            ring.thread_words()
        );
        match self.prompt(Prompt::Short, &text)?.as_str() {
            "d" | "dry" => Ok(Thread::Dry),
            "o" | "oiled" => Ok(Thread::Oiled),
            other => self.not_understood(other),
        }
    }

    fn adapter(&mut self, ring: &RingShown) -> Result<Option<String>, Halt> {
        let before = ring.wrench().and_then(|wrench| wrench.adapter.as_ref()).map(adapter_text);
        let text = match &before {
            Some(before) => format!("An adapter? enter = as before ({before}), n = none"),
            None => "An adapter on the wrench? enter or n = none, else the length of the wrench, \
                     of the adapter and the angle between them, such as `400 50 90`"
                .to_owned(),
        };
        let typed = self.prompt(Prompt::Short, &text)?;
        Ok(match typed.as_str() {
            "" => before,
            "n" | "none" => None,
            _ => Some(typed),
        })
    }

    fn fastener(
        &mut self,
        question: &Question,
        ring: &RingShown,
        (pass, fastener): (u32, u32),
    ) -> Result<(), Halt> {
        let of_pass = ring.states();
        let done = of_pass.iter().filter(|(_, state)| *state == FastenerState::Done).count();
        self.talk.say(&format!(
            "{}. Fastener {fastener}, {} of {}.",
            sentence(&ring.pass_words(pass)),
            done + 1,
            of_pass.len()
        ))?;
        let text = "y = tightened, n = not so, or what the wrench showed";
        let typed = self.prompt(Prompt::Short, text)?;
        let (reading, so) = match typed.as_str() {
            "y" | "yes" => (None, true),
            "n" | "no" => (None, false),
            _ => match question.typed(&typed, None) {
                Typed::Figure { reading, .. } => (Some(reading), true),
                Typed::Nothing | Typed::Fault(_) => return self.not_understood(&typed),
            },
        };
        let tight = ring.note.judged(pass, &Tight { fastener, reading, so });
        if let Some(reading) = &tight.reading {
            let judged = if tight.so { "so" } else { "NOT so" };
            let limit = ring.note.keep_to(pass).explain(reading);
            self.echoed(&format!("{typed} -> {limit} -> {judged}"))?;
        }
        let address = question.address.clone();
        let so = tight.so;
        self.submit(Command::Tighten { address: address.clone(), tight })?;
        self.talk.say(if so { "Saved: tightened." } else { "Saved: it is NOT so." })?;
        self.last = Some(address);
        Ok(())
    }

    /// The tightening step that a command is about: the one named first, else the one asked, else
    /// the last one done.
    fn tightening_at<'t>(&self, text: &'t str) -> Option<(Question, &'t str)> {
        let (flow, state) = (&self.session.files().flow, self.session.state());
        let (first, rest) = text.split_once(' ').unwrap_or((text, ""));
        let named = Address::parse(first).and_then(|address| flow.find(&address));
        let is_ring =
            |index: &usize| matches!(flow.instance(*index).ask, crate::walk::flow::Ask::Tighten(_));
        let asked = state.walk.asked().filter(is_ring);
        let last = || state.walk.path.iter().rev().copied().find(|index| is_ring(index));
        let index = named.or(asked).or_else(last)?;
        let rest = if named.is_some() { rest } else { text };
        Some((Question::of(self.session, index), rest.trim()))
    }

    /// A fastener was loosened again.
    pub(super) fn loosened(&mut self, text: &str) -> Result<(), Halt> {
        let Some((question, text)) = self.tightening_at(text) else {
            self.talk.say("No fasteners were tightened in this job so far.")?;
            return Ok(());
        };
        let (fastener, reason) = match loosened_entry(text) {
            Ok(entry) => entry,
            Err(form) => {
                self.talk.say(&format!("Not understood: {form}. Nothing was saved."))?;
                return Ok(());
            }
        };
        let address = question.address.clone();
        self.echoed(&format!("Fastener {fastener} of {address} was loosened: {reason}"))?;
        self.submit(Command::Loosen { address, fastener, reason })?;
        self.talk.say("Saved. It counts as loose now. Tighten it again.")?;
        Ok(())
    }

    /// A fastener is checked again.
    pub(super) fn recheck(&mut self, text: &str) -> Result<(), Halt> {
        let Some((question, text)) = self.tightening_at(text) else {
            self.talk.say("No fasteners were tightened in this job so far.")?;
            return Ok(());
        };
        let Some(ring) = &question.ring else { return Ok(()) };
        let (fastener, direction, reading) = match recheck_entry(text, ring.unit()) {
            Ok(entry) => entry,
            Err(form) => {
                self.talk.say(&format!("Not understood: {form}. Nothing was saved."))?;
                return Ok(());
            }
        };
        let mark = self.instrument(&question)?;
        let line = question.instrument(mark.as_deref());
        let Some(line) = line else { return Ok(()) };
        let instrument = line.snapshot.clone();
        let address = question.address.clone();
        self.echoed(&format!(
            "Fastener {fastener} of {address}, {} direction: {}",
            direction.word(),
            reading.echo()
        ))?;
        let instrument = Box::new(instrument);
        self.submit(Command::Recheck { address, fastener, direction, reading, instrument })?;
        self.talk.say("Saved. What it was set to stays.")?;
        Ok(())
    }
}
