//! Takes up layers and fasteners: every one is an entry of its own.

use super::JobState;
use crate::walk::event::{Answer, Entry, Event};
use crate::walk::flow::{Ask, Flow, InstanceIdx};
use crate::walk::stack::LaidNote;
use crate::walk::tighten::{LoosenedNote, RecheckNote};

impl JobState {
    /// Takes up an entry about a layer or a fastener; true when answers changed.
    pub(super) fn assembled(&mut self, flow: &Flow, instance: InstanceIdx, entry: &Entry) -> bool {
        let by = entry.by.clone();
        if let Event::LayerLaid { laid, judged, .. } = &entry.event {
            let note = LaidNote { laid: laid.clone(), n: entry.n, by };
            if !self.lay(flow, instance, note) {
                return false;
            }
            self.did_work(entry);
            if judged.is_none() {
                return false;
            }
            let answer = self.built(instance);
            self.hold(instance, answer, entry);
            return true;
        }
        self.did_work(entry);
        if let Event::WrenchSet { pass, wrench, judged, .. } = &entry.event {
            self.tightening.entry(instance).or_default().set(*pass, (**wrench).clone());
            return self.tightened(instance, judged.is_some(), entry);
        }
        if let Event::FastenerTightened { pass, tight, judged, .. } = &entry.event {
            let tightening = self.tightening.entry(instance).or_default();
            if let Some(round) = tightening.rounds.last() {
                let loads = self.loads.entry(round.wrench.instrument.id.clone()).or_default();
                *loads = loads.saturating_add(1);
            }
            return tightening.tighten(*pass, tight.clone())
                && self.tightened(instance, judged.is_some(), entry);
        }
        if let Event::FastenerRechecked { address, fastener, direction, reading, instrument } =
            &entry.event
        {
            self.rechecks.push(RecheckNote {
                n: entry.n,
                address: address.clone(),
                fastener: *fastener,
                direction: *direction,
                reading: reading.clone(),
                instrument: instrument.clone(),
                by,
                at: entry.at,
            });
            return false;
        }
        let Event::FastenerLoosened { fastener, reason, .. } = &entry.event else { return false };
        self.loosen(flow, instance, (*fastener, reason), entry)
    }

    /// Takes up a tightening that a judgement has ended; true when it has.
    fn tightened(&mut self, instance: InstanceIdx, ended: bool, entry: &Entry) -> bool {
        if !ended {
            return false;
        }
        let tightening = self.tightening.entry(instance).or_default();
        tightening.wrench_set = false;
        let answer = Answer::Tightened(tightening.rounds.clone());
        self.hold(instance, answer, entry);
        true
    }

    /// A fastener was loosened: what its step says must be done again, and what was signed over it.
    fn loosen(
        &mut self,
        flow: &Flow,
        instance: InstanceIdx,
        (fastener, reason): (u32, &str),
        entry: &Entry,
    ) -> bool {
        let address = flow.instance(instance).address.clone();
        let Ask::Tighten(note) = &flow.instance(instance).ask else { return false };
        let superseded = self.tightening.entry(instance).or_default().loosen(note, fastener);
        self.loosened.push(LoosenedNote {
            n: entry.n,
            address,
            fastener,
            reason: reason.to_owned(),
            by: entry.by.clone(),
            at: entry.at,
            superseded,
        });
        if let Some(held) = self.held.get_mut(instance).and_then(Option::take) {
            self.lapse(flow, (instance, held.n), entry);
        }
        true
    }
}
