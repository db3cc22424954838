//! Tightening: the setting of the wrench is typed, then one key a fastener.

use super::answer::{asks_zero, edit, instruments};
use super::{Effect, refuse};
use crate::language::Thread;
use crate::shown::question::Typed;
use crate::shown::ring::{adapter_entry, adapter_text, loosened_entry, recheck_entry};
use crate::shown::{Question, RingShown};
use crate::tui::keymap::Move;
use crate::tui::model::{Draft, LineFor, Model};
use crate::walk::Command;
use crate::walk::command::WrenchEntry;
use crate::walk::event::Tight;
use crate::walk::tighten::Due;

pub(super) fn wrench(model: &mut Model, what: Move) -> Vec<Effect> {
    if edit(&mut model.draft_mut().field, what) {
        model.draft_mut().scroll = None;
        return Vec::new();
    }
    match what {
        Move::Go => set(model),
        Move::Instruments => instruments(model),
        Move::Thread => {
            let now = model.answering().and_then(|(question, draft, _)| thread(question, draft));
            model.draft_mut().thread = Some(match now {
                Some(Thread::Dry) => Thread::Oiled,
                Some(Thread::Oiled) | None => Thread::Dry,
            });
            Vec::new()
        }
        Move::Adapter => ask(model, LineFor::Adapter),
        _ => again(model, what),
    }
}

fn ask(model: &mut Model, what: LineFor) -> Vec<Effect> {
    model.ask_line(what);
    Vec::new()
}

/// How the thread is: as said now, else as it was said for the pass before.
pub(in crate::tui) fn thread(question: &Question, draft: &Draft) -> Option<Thread> {
    let before = || question.ring.as_ref()?.wrench().map(|wrench| wrench.thread);
    draft.thread.or_else(before)
}

/// The adapter: as typed now, else as it was for the pass before.
pub(in crate::tui) fn adapter_of(question: &Question, draft: &Draft) -> Option<String> {
    let before = || question.ring.as_ref()?.wrench()?.adapter.as_ref().map(adapter_text);
    draft.adapter.clone().or_else(before).filter(|text| !text.is_empty())
}

/// The wrench as it is typed so far.
pub(in crate::tui) fn entry(
    question: &Question,
    draft: &Draft,
    mark: Option<&str>,
) -> Result<WrenchEntry, String> {
    let ring = question.ring.as_ref().ok_or("no fasteners are tightened here")?;
    let setting = match question.typed(&draft.field.text(), None) {
        Typed::Figure { reading, .. } => reading,
        Typed::Fault(fault) => return Err(fault),
        Typed::Nothing => return Err("type what the wrench is set to first".to_owned()),
    };
    let line = question.instrument(mark);
    let line = line.ok_or("press tab and pick the wrench in your hand first")?;
    let thread = thread(question, draft)
        .ok_or("say first how the thread is: ctrl-y changes between dry and oiled")?;
    let adapter = adapter_of(question, draft);
    ring.entry(setting, line.snapshot.clone(), adapter.as_deref(), thread)
}

fn set(model: &mut Model) -> Vec<Effect> {
    if asks_zero(model) {
        return Vec::new();
    }
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    let mark = model.instrument(question);
    let address = question.address.clone();
    let entry = match entry(question, draft, mark.as_deref()) {
        Ok(entry) => entry,
        Err(why) => return refuse(model, &why),
    };
    if let (Some(kind), Some(id)) = (question.instrument_kind().cloned(), mark) {
        model.hand.instruments.insert(kind, id);
    }
    vec![Effect::Submit(Box::new(Command::SetWrench { address, wrench: Box::new(entry) }))]
}

pub(super) fn adapter(model: &mut Model, text: String) -> Vec<Effect> {
    let text = if text == "none" { String::new() } else { text };
    if let Err(fault) = adapter_entry(&text) {
        return refuse(model, &fault);
    }
    model.overlays.pop();
    model.draft_mut().adapter = Some(text);
    Vec::new()
}

pub(super) fn fastener(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Yes | Move::No => tight(model, what == Move::Yes, None),
        Move::Shown => ask(model, LineFor::Shown),
        _ => again(model, what),
    }
}

fn due(ring: &RingShown) -> Option<u32> {
    match ring.due {
        Due::Fastener { fastener, .. } => Some(fastener),
        Due::Wrench { .. } | Due::Nothing => None,
    }
}

fn tight(model: &Model, so: bool, reading: Option<crate::units::Reading>) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let Some(fastener) = question.ring.as_ref().and_then(due) else { return Vec::new() };
    let address = question.address.clone();
    let tight = Tight { fastener, reading, so };
    vec![Effect::Submit(Box::new(Command::Tighten { address, tight }))]
}

pub(super) fn shown(model: &mut Model, text: &str) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    match question.typed(text, None) {
        Typed::Figure { reading, .. } => tight(model, true, Some(reading)),
        Typed::Fault(fault) => refuse(model, &fault),
        Typed::Nothing => refuse(model, "type what the wrench shows"),
    }
}

/// A fastener that was loosened, or is checked again.
pub(super) fn again(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Loosened => ask(model, LineFor::Loosened),
        Move::Recheck => {
            let mark = model.answering().and_then(|(question, ..)| model.instrument(question));
            if mark.is_none() {
                return instruments(model);
            }
            ask(model, LineFor::Recheck)
        }
        Move::Instruments => instruments(model),
        _ => Vec::new(),
    }
}

pub(super) fn loosened(model: &mut Model, text: &str) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let address = question.address.clone();
    match loosened_entry(text) {
        Ok((fastener, reason)) => {
            vec![Effect::Submit(Box::new(Command::Loosen { address, fastener, reason }))]
        }
        Err(form) => refuse(model, &form),
    }
}

pub(super) fn rechecked(model: &mut Model, text: &str) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let Some(ring) = &question.ring else { return Vec::new() };
    let mark = model.instrument(question);
    let line = question.instrument(mark.as_deref());
    let Some(line) = line else {
        return refuse(model, "press tab and pick the wrench in your hand first");
    };
    let (address, instrument) = (question.address.clone(), line.snapshot.clone());
    match recheck_entry(text, ring.unit()) {
        Ok((fastener, direction, reading)) => vec![Effect::Submit(Box::new(Command::Recheck {
            address,
            fastener,
            direction,
            reading,
            instrument: Box::new(instrument),
        }))],
        Err(form) => refuse(model, &form),
    }
}
