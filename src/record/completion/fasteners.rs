//! The part of a record that is about fasteners: rounds, re-checks, what was loosened again.

use super::encode::{Writer, figure, id, instrument_of};
use super::{Adapter, Loosened, Recheck, Round, Tight, Wrench};
use crate::walk::event;
use crate::walk::flow::Ask;
use crate::walk::wrench::{DIGITS, at_fastener};

pub(super) fn round(round: &event::Round) -> Round {
    let tight = |tight: &event::Tight| Tight {
        fastener: tight.fastener,
        reading: tight.reading.as_ref().map(figure),
        so: tight.so,
    };
    Round {
        fasteners: round.fasteners.iter().map(tight).collect(),
        pass: round.pass,
        wrench: wrench(&round.wrench),
    }
}

fn wrench(wrench: &event::Wrench) -> Wrench {
    let at = at_fastener(wrench);
    let worked_out = match &at {
        Some(at) if at.exact => "exact".to_owned(),
        Some(_) => format!("rounded to {DIGITS} digits"),
        None => "not worked out".to_owned(),
    };
    Wrench {
        adapter: wrench.adapter.as_ref().map(|adapter| Adapter {
            angle: figure(&adapter.angle),
            extension: figure(&adapter.extension),
            length: figure(&adapter.length),
        }),
        instrument: instrument_of(&wrench.instrument),
        setting: figure(&wrench.setting),
        thread: wrench.thread.word().to_owned(),
        torque: at.map_or_else(String::new, |at| at.torque.render(wrench.setting.unit)),
        worked_out,
    }
}

impl Writer<'_> {
    pub(super) fn rechecks(&self) -> Vec<Recheck> {
        let flow = &self.files.flow;
        let checks = self.state.rechecks.iter();
        checks
            .map(|check| {
                let limit =
                    flow.find(&check.address).and_then(|index| match &flow.instance(index).ask {
                        Ask::Tighten(note) => note.recheck.as_ref(),
                        _ => None,
                    });
                Recheck {
                    address: check.address.to_string(),
                    at: check.at.to_string(),
                    by: id(check.by.as_ref()),
                    direction: check.direction.word().to_owned(),
                    fastener: check.fastener,
                    instrument: instrument_of(&check.instrument),
                    judged: limit.map(|limit| limit.explain(&check.reading)),
                    n: check.n,
                    reading: figure(&check.reading),
                }
            })
            .collect()
    }

    pub(super) fn loosened(&self) -> Vec<Loosened> {
        let notes = self.state.loosened.iter();
        notes
            .map(|note| Loosened {
                address: note.address.to_string(),
                at: note.at.to_string(),
                by: id(note.by.as_ref()),
                fastener: note.fastener,
                n: note.n,
                reason: note.reason.clone(),
                superseded: note.superseded.iter().map(round).collect(),
            })
            .collect()
    }
}
