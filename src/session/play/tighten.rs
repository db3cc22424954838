//! Plays fasteners: the wrench set as scripted, every fastener in its turn.

use super::{PlayError, Player, figure};
use crate::rehearsal::model::Settings;
use crate::walk::accept::snapshot;
use crate::walk::command::{AdapterEntry, WrenchEntry};
use crate::walk::event::Tight;
use crate::walk::flow::InstanceIdx;
use crate::walk::tighten::{Due, TightenNote};
use crate::walk::wrench::{ANGLE, LENGTH};
use crate::walk::{Address, Command};

impl Player<'_> {
    /// What is left to tighten, to its end or to what is not so.
    pub(super) fn tighten(
        &mut self,
        (index, address): (InstanceIdx, &Address),
        note: &TightenNote,
        script: &Settings,
    ) -> Result<(), PlayError> {
        while self.session.state().walk.asked() == Some(index) {
            let command = match note.due(&self.session.state().tightening_of(index)) {
                Due::Wrench { pass } => {
                    let wrench = self.wrench(address, (note, pass), script)?;
                    Command::SetWrench { address: address.clone(), wrench: Box::new(wrench) }
                }
                Due::Fastener { pass, fastener } => {
                    let last = usize::try_from(pass).is_ok_and(|pass| pass == note.passes.len());
                    let shown = script.shown.iter().find(|(n, _)| *n == fastener && last);
                    let reading = shown
                        .map(|(_, text)| figure(address, text, note.torque.unit))
                        .transpose()?;
                    let tight = Tight { fastener, reading, so: true };
                    Command::Tighten { address: address.clone(), tight }
                }
                Due::Nothing => break,
            };
            if !self.submit_part(address, command)? {
                break;
            }
        }
        Ok(())
    }

    /// The wrench as scripted for a pass; passes beyond the script take its last setting.
    fn wrench(
        &self,
        address: &Address,
        (note, pass): (&TightenNote, u32),
        script: &Settings,
    ) -> Result<WrenchEntry, PlayError> {
        let at = usize::try_from(pass).unwrap_or(usize::MAX).saturating_sub(1);
        let setting = script.settings.get(at).or(script.settings.last());
        let setting = setting.map_or("", String::as_str);
        let shop = &self.session.files().shop;
        let listed = shop.instrument(&script.instrument).ok_or_else(|| PlayError::Instrument {
            address: address.clone(),
            instrument: script.instrument.clone(),
        })?;
        Ok(WrenchEntry {
            instrument: snapshot(listed),
            setting: figure(address, setting, note.torque.unit)?,
            adapter: script.adapter.as_deref().map(|text| adapter(address, text)).transpose()?,
            thread: script.thread.unwrap_or(note.condition),
        })
    }
}

fn adapter(address: &Address, text: &str) -> Result<AdapterEntry, PlayError> {
    let mut words = text.split_whitespace();
    let mut next = |unit| words.next().map(|word| figure(address, word, unit)).transpose();
    Ok(AdapterEntry { length: next(LENGTH)?, extension: next(LENGTH)?, angle: next(ANGLE)? })
}
