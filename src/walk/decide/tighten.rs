//! Moves at a tightening step: setting the wrench, a fastener, a re-check, a fastener loosened.

use super::super::accept::{dimension, in_range, line, listed};
use super::super::address::Address;
use super::super::command::WrenchEntry;
use super::super::event::{
    Adapter, Answer, Direction, Event, InstrumentSnapshot, Judged, Next, Round, Tight, Wrench,
};
use super::super::flow::{Ask, Instance, InstanceIdx};
use super::super::instruments::ready;
use super::super::place::judge;
use super::super::refusal::Refusal;
use super::super::tighten::{Due, TightenNote};
use super::super::wrench::{self, at_fastener, setting_for};
use super::Decision;
use crate::units::{Reading, Side};

impl Decision<'_> {
    /// The tightening that is asked, when `address` names it.
    fn tightening(
        &self,
        address: &Address,
    ) -> Result<(InstanceIdx, &Instance, &TightenNote), Refusal> {
        let (index, instance) = self.asked(address)?;
        if self.state.asks_to_confirm() {
            return Err(Refusal::ConfirmFirst);
        }
        let Ask::Tighten(note) = &instance.ask else {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        };
        Ok((index, instance, note))
    }

    pub(super) fn set_wrench(
        &self,
        address: &Address,
        given: &WrenchEntry,
    ) -> Result<Event, Refusal> {
        let (index, instance, note) = self.tightening(address)?;
        let person = self.worker(Some(instance.by))?;
        self.open(index, instance)?;
        let tightening = self.state.tightening_of(index);
        let (Due::Wrench { pass } | Due::Fastener { pass, .. }) = note.due(&tightening) else {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        };
        let unit = note.torque.unit;
        dimension(&given.setting, unit)?;
        let by = listed(self.files, self.state, &note.with, &given.instrument, self.now)?;
        in_range(by, &given.setting)?;
        let wrench = Box::new(Wrench {
            instrument: given.instrument.clone(),
            setting: given.setting.clone(),
            adapter: adapter(given)?,
            thread: given.thread,
        });
        torque_fits(note, pass, &wrench)?;
        let build = |judged| Event::WrenchSet {
            address: address.clone(),
            pass,
            wrench: wrench.clone(),
            judged,
        };
        if wrench.thread == note.condition {
            return Ok(build(None));
        }
        // The torque holds for another thread, and no factor leads from one to the other.
        let mut rounds = tightening.rounds;
        rounds.push(Round { pass, wrench: (*wrench).clone(), fasteners: Vec::new() });
        let verdict = judge(&instance.ask, &Answer::Tightened(rounds));
        let draft = build(Some(Judged { verdict, next: Next::End }));
        Ok(build(Some(self.judged(verdict, draft, Some(&person)))))
    }

    pub(super) fn tighten(&self, address: &Address, given: &Tight) -> Result<Event, Refusal> {
        let (index, instance, note) = self.tightening(address)?;
        let person = self.worker(Some(instance.by))?;
        self.open(index, instance)?;
        let mut tightening = self.state.tightening_of(index);
        if let Some(round) = tightening.rounds.last() {
            let mark = &round.wrench.instrument.id;
            if let Some(wrench) = self.files.shop.instrument(mark) {
                ready(self.state, wrench, self.now)?;
            }
        }
        let (pass, next) = match note.due(&tightening) {
            Due::Fastener { pass, fastener } => (pass, fastener),
            Due::Wrench { pass } => return Err(Refusal::WrenchNotSet { pass }),
            Due::Nothing => return Err(Refusal::WrongKind { asked: instance.ask.word() }),
        };
        if given.fastener != next {
            return Err(Refusal::FastenerNotOpen { fastener: given.fastener, next });
        }
        if let Some(reading) = &given.reading {
            dimension(reading, note.torque.unit)?;
        }
        let tight = note.judged(pass, given);
        let build = |judged| Event::FastenerTightened {
            address: address.clone(),
            pass,
            tight: tight.clone(),
            judged,
        };
        tightening.tighten(pass, tight.clone());
        if !note.is_whole(&tightening.rounds) {
            return Ok(build(None));
        }
        let verdict = judge(&instance.ask, &Answer::Tightened(tightening.rounds));
        let draft = build(Some(Judged { verdict, next: Next::End }));
        Ok(build(Some(self.judged(verdict, draft, Some(&person)))))
    }

    /// The tightening step `address` with a fastener that was tightened and counts.
    fn tightened(
        &self,
        address: &Address,
        fastener: u32,
    ) -> Result<(InstanceIdx, &Instance, &TightenNote), Refusal> {
        let flow = &self.files.flow;
        let index = flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
        let instance = flow.instance(index);
        let Ask::Tighten(note) = &instance.ask else {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        };
        let counts = self.state.walk.open.contains(&index) || self.state.walk.path.contains(&index);
        if !counts || !self.state.tightening_of(index).holds(fastener) {
            return Err(Refusal::NotTightened { fastener, address: address.clone() });
        }
        Ok((index, instance, note))
    }

    pub(super) fn recheck(
        &self,
        address: &Address,
        (fastener, direction): (u32, Direction),
        reading: &Reading,
        instrument: &InstrumentSnapshot,
    ) -> Result<Event, Refusal> {
        let (_, instance, note) = self.tightened(address, fastener)?;
        self.worker(Some(instance.by))?;
        dimension(reading, note.torque.unit)?;
        let by = listed(self.files, self.state, &note.with, instrument, self.now)?;
        in_range(by, reading)?;
        Ok(Event::FastenerRechecked {
            address: address.clone(),
            fastener,
            direction,
            reading: reading.clone(),
            instrument: instrument.clone(),
        })
    }

    pub(super) fn loosen(
        &self,
        address: &Address,
        fastener: u32,
        reason: &str,
    ) -> Result<Event, Refusal> {
        let (_, instance, _) = self.tightened(address, fastener)?;
        let person = self.worker(Some(instance.by))?;
        line("the reason", reason)?;
        let build = |judged| Event::FastenerLoosened {
            address: address.clone(),
            fastener,
            reason: reason.to_owned(),
            judged,
        };
        let draft = build(Judged { verdict: None, next: Next::End });
        Ok(build(self.judged(None, draft, Some(&person))))
    }
}

/// The adapter with all three of its figures, where one is used.
fn adapter(given: &WrenchEntry) -> Result<Option<Adapter>, Refusal> {
    let Some(entry) = &given.adapter else { return Ok(None) };
    let figure = |reading: &Option<Reading>, what: &'static str, unit| match reading {
        Some(reading) => dimension(reading, unit).map(|()| reading.clone()),
        None => Err(Refusal::AdapterUnknown { what }),
    };
    Ok(Some(Adapter {
        length: figure(&entry.length, "the length of the wrench", wrench::LENGTH)?,
        extension: figure(&entry.extension, "the length of the adapter", wrench::LENGTH)?,
        angle: figure(&entry.angle, "the angle between them", wrench::ANGLE)?,
    }))
}

/// Whether the torque at the fastener is the one that the pass asks for.
fn torque_fits(note: &TightenNote, pass: u32, wrench: &Wrench) -> Result<(), Refusal> {
    let Some(found) = at_fastener(wrench) else {
        return Err(Refusal::AdapterUseless);
    };
    let wanted = note.keep_to(pass);
    if wanted.judge(&found.torque) == Some(Side::Within) {
        return Ok(());
    }
    let unit = note.torque.unit;
    let set = setting_for(&note.aim_of(pass), wrench.adapter.as_ref());
    Err(Refusal::WrenchSetting {
        torque: found.torque.render_rounded(unit, 1),
        pass,
        wanted: wanted.render(),
        set: set.map_or_else(String::new, |set| set.render_rounded(unit, 1)),
    })
}
