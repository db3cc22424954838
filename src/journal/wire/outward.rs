//! From the walk's events to the shapes on a line. Nothing here can fail.

use super::{
    AdapterWire, AnswerWire, BootClockWire, EvidenceWire, InstrumentWire, JobOpenedWire,
    JudgedWire, LaidWire, LateWire, Line, MeaningWire, NextWire, ReadingWire, RoundWire,
    STATEMENT_KIND, SeveralWire, SignedWire, StatementWire, TightWire, WaitedWire, What,
    WorkedOutWire, WrenchWire,
};
use crate::ids::BootClock;
use crate::ids::Sha256;
use crate::journal::FORMAT;
use crate::units::Reading;
use crate::walk::event::{
    Evidence, InstrumentSnapshot, JobOpened, Laid, Meaning, Round, Several, Signed, Statement,
    Tight, Wrench,
};
use crate::walk::{Answer, Entry, Event, Judged, Next};

impl Line {
    /// The line of `entry` after a line whose hash is `prev`.
    pub(in crate::journal) fn new(entry: &Entry, prev: Sha256) -> Self {
        Self {
            at: entry.at.to_string(),
            by: entry.by.as_ref().map(ToString::to_string),
            format: FORMAT.to_owned(),
            late: entry.late.as_ref().map(|late| LateWire {
                observed: late.observed.to_string(),
                reason: late.reason.clone(),
            }),
            n: entry.n,
            prev: prev.to_string(),
            what: What::from(&entry.event),
        }
    }
}

impl From<&Event> for What {
    #[expect(clippy::too_many_lines, reason = "one arm an event, each a few fields")]
    fn from(event: &Event) -> Self {
        match event {
            Event::JobOpened(opened) => Self::JobOpened(opened.as_ref().into()),
            Event::Identified(signed) => Self::Identified(signed.as_ref().into()),
            Event::SafetyAcknowledged { address, text } => {
                Self::SafetyAcknowledged { address: address.to_string(), text: text.to_string() }
            }
            Event::ItemChecked { address, item, so, judged } => Self::ItemChecked {
                address: address.to_string(),
                item: *item,
                judged: judged.as_ref().map(Into::into),
                so: *so,
            },
            Event::LayerLaid { address, laid, judged } => Self::LayerLaid {
                address: address.to_string(),
                judged: judged.as_ref().map(Into::into),
                laid: laid.into(),
            },
            Event::WrenchSet { address, pass, wrench, judged } => Self::WrenchSet {
                address: address.to_string(),
                judged: judged.as_ref().map(Into::into),
                pass: *pass,
                wrench: wrench.as_ref().into(),
            },
            Event::FastenerTightened { address, pass, tight, judged } => Self::FastenerTightened {
                address: address.to_string(),
                judged: judged.as_ref().map(Into::into),
                pass: *pass,
                tight: tight.into(),
            },
            Event::FastenerRechecked { address, fastener, direction, reading, instrument } => {
                Self::FastenerRechecked {
                    address: address.to_string(),
                    direction: direction.word().to_owned(),
                    fastener: *fastener,
                    instrument: instrument.into(),
                    reading: reading.into(),
                }
            }
            Event::FastenerLoosened { address, fastener, reason, judged } => {
                Self::FastenerLoosened {
                    address: address.to_string(),
                    fastener: *fastener,
                    judged: judged.into(),
                    reason: reason.clone(),
                }
            }
            Event::Answered { address, answer, judged, signed } => Self::Answered {
                address: address.to_string(),
                answer: answer.into(),
                judged: judged.into(),
                signed: signed.as_deref().map(Into::into),
            },
            Event::Corrected { address, supersedes, answer, reason, judged, signed } => {
                Self::Corrected {
                    address: address.to_string(),
                    answer: answer.into(),
                    judged: judged.into(),
                    reason: reason.clone(),
                    signed: signed.as_deref().map(Into::into),
                    supersedes: *supersedes,
                }
            }
            Event::Confirmed { address, judged } => {
                Self::Confirmed { address: address.to_string(), judged: judged.into() }
            }
            Event::Conceded { address, verdict, reason, judged, signed } => Self::Conceded {
                address: address.to_string(),
                judged: judged.into(),
                reason: reason.clone(),
                signed: signed.as_ref().into(),
                verdict: verdict.word().to_owned(),
            },
            Event::Disposed { address, said, signed } => Self::Disposed {
                address: address.to_string(),
                disposition: said.disposition.word().to_owned(),
                lot: said.lot.clone(),
                reason: said.reason.clone(),
                signed: signed.as_ref().into(),
            },
            Event::TokenExpired { token, address, because } => Self::TokenExpired {
                address: address.to_string(),
                because: because.word().to_owned(),
                token: token.to_string(),
            },
            Event::WorkHalted { address, standing, reason, safe_state } => Self::WorkHalted {
                address: address.as_ref().map(ToString::to_string),
                reason: reason.clone(),
                safe_state: safe_state.clone(),
                standing: standing.as_ref().map(ToString::to_string),
            },
            Event::WorkResumed { reason, signed } => {
                Self::WorkResumed { reason: reason.clone(), signed: signed.as_ref().into() }
            }
            Event::Paused { reason } => Self::Paused { reason: reason.clone() },
            Event::TakenUp { shown } => Self::TakenUp { shown: shown.clone() },
            Event::WitnessTold { address, who } => {
                Self::WitnessTold { address: address.to_string(), who: who.to_string() }
            }
            Event::EvidenceAdded { address, evidence } => Self::EvidenceAdded {
                address: address.as_ref().map(ToString::to_string),
                evidence: evidence.into(),
            },
            Event::WaitBegun { address, boot } => Self::WaitBegun {
                address: address.to_string(),
                boot: boot.map(BootClockWire::from),
            },
            Event::ZeroChecked { instrument, reading, so } => Self::ZeroChecked {
                instrument: instrument.into(),
                reading: reading.into(),
                so: *so,
            },
            Event::NoteAdded { address, text } => Self::NoteAdded {
                address: address.as_ref().map(ToString::to_string),
                text: text.clone(),
            },
            Event::PerformedSigned(signed) => Self::PerformedSigned(signed.as_ref().into()),
            Event::TornTailSetAside { len_bytes, sha256 } => {
                Self::TornTailSetAside { len_bytes: *len_bytes, sha256: sha256.to_string() }
            }
            Event::ClockWentBack { from } => Self::ClockWentBack { from: from.to_string() },
            Event::ExceptionsAcknowledged { shown } => {
                Self::ExceptionsAcknowledged { shown: shown.clone() }
            }
            Event::Released { record, signature } => {
                Self::Released { record: record.to_string(), signature: signature.to_string() }
            }
        }
    }
}

impl From<&JobOpened> for JobOpenedWire {
    fn from(opened: &JobOpened) -> Self {
        Self {
            equipment: opened.equipment.to_string(),
            files: opened
                .files
                .iter()
                .map(|(path, hash)| (path.clone(), hash.to_string()))
                .collect(),
            job: opened.job.to_string(),
            kind: opened.kind.word().to_owned(),
            machine: opened.machine.clone(),
            previous_release: opened.previous_release.to_string(),
            procedure: opened.procedure.to_string(),
            revision: opened.revision.0,
            semantics: opened.semantics,
            serial: opened.serial.clone(),
        }
    }
}

impl From<BootClock> for BootClockWire {
    fn from(clock: BootClock) -> Self {
        Self { boot: clock.boot.to_string(), seconds: clock.seconds }
    }
}

impl From<&Answer> for AnswerWire {
    fn from(answer: &Answer) -> Self {
        match answer {
            Answer::Done => Self::Done,
            Answer::Items(items) => Self::Items(items.clone()),
            Answer::Found(findings) => {
                Self::Found(findings.iter().map(ToString::to_string).collect())
            }
            Answer::Read { reading, instrument, several } => {
                let several = several.as_deref().map(SeveralWire::from);
                Self::Read { instrument: instrument.into(), reading: reading.into(), several }
            }
            Answer::WorkedOut(worked) => Self::WorkedOut(WorkedOutWire {
                calculation: worked.calculation.clone(),
                given: worked.given.clone(),
                refused: worked.result.as_ref().err().cloned(),
                result: worked.result.as_ref().ok().map(Into::into),
            }),
            Answer::CouldNotMeasure { reason } => Self::CouldNotMeasure { reason: reason.clone() },
            Answer::Built(laid) => Self::Built(laid.iter().map(Into::into).collect()),
            Answer::Tightened(rounds) => Self::Tightened(rounds.iter().map(Into::into).collect()),
            Answer::Entered(text) => Self::Entered(text.clone()),
            Answer::EnteredFigure(reading) => Self::EnteredFigure(reading.into()),
            Answer::Attached(evidence) => Self::Attached(evidence.into()),
            Answer::NotAttached { reason } => Self::NotAttached { reason: reason.clone() },
            Answer::Deviated { done, reason } => {
                Self::Deviated { done: *done, reason: reason.clone() }
            }
            Answer::Decided { verdict, reason } => {
                Self::Decided { reason: reason.clone(), verdict: verdict.word().to_owned() }
            }
            Answer::Released => Self::Released,
            Answer::Waited(waited) => Self::Waited(WaitedWire {
                at_longest_s: waited.at_longest_s,
                begun: waited.begun.to_string(),
                boot: waited.boot.map(BootClockWire::from),
                doubtful: waited.doubtful,
                elapsed_s: waited.elapsed_s,
                ended: waited.ended.to_string(),
            }),
            Answer::Stopped => Self::Stopped,
        }
    }
}

impl From<&Laid> for LaidWire {
    fn from(laid: &Laid) -> Self {
        Self { layer: laid.layer.to_string(), lot: laid.lot.clone(), so: laid.so }
    }
}

impl From<&Round> for RoundWire {
    fn from(round: &Round) -> Self {
        Self {
            fasteners: round.fasteners.iter().map(Into::into).collect(),
            pass: round.pass,
            wrench: (&round.wrench).into(),
        }
    }
}

impl From<&Tight> for TightWire {
    fn from(tight: &Tight) -> Self {
        Self {
            fastener: tight.fastener,
            reading: tight.reading.as_ref().map(Into::into),
            so: tight.so,
        }
    }
}

impl From<&Wrench> for WrenchWire {
    fn from(wrench: &Wrench) -> Self {
        Self {
            adapter: wrench.adapter.as_ref().map(|adapter| AdapterWire {
                angle: (&adapter.angle).into(),
                extension: (&adapter.extension).into(),
                length: (&adapter.length).into(),
            }),
            instrument: (&wrench.instrument).into(),
            setting: (&wrench.setting).into(),
            thread: wrench.thread.word().to_owned(),
        }
    }
}

impl From<&Several> for SeveralWire {
    fn from(several: &Several) -> Self {
        let taken = several.taken.iter().map(ReadingWire::from).collect();
        Self { reason: several.reason.clone(), taken }
    }
}

impl From<&Reading> for ReadingWire {
    fn from(reading: &Reading) -> Self {
        Self {
            text: reading.text.clone(),
            unit: reading.unit.word().to_owned(),
            value: reading.value.render(reading.unit),
        }
    }
}

impl From<&Evidence> for EvidenceWire {
    fn from(evidence: &Evidence) -> Self {
        Self {
            len_bytes: evidence.len_bytes,
            name: evidence.name.clone(),
            sha256: evidence.sha256.to_string(),
        }
    }
}

impl From<&InstrumentSnapshot> for InstrumentWire {
    fn from(instrument: &InstrumentSnapshot) -> Self {
        Self {
            calibration_due: instrument.calibration_due.to_string(),
            certificate: instrument.certificate.clone(),
            certificate_sha256: instrument.certificate_sha256.clone(),
            id: instrument.id.clone(),
            k: instrument.k.clone(),
            kind: instrument.kind.to_string(),
            resolution: instrument.resolution.clone(),
            uncertainty: instrument.uncertainty.clone(),
        }
    }
}

impl From<&Judged> for JudgedWire {
    fn from(judged: &Judged) -> Self {
        let next = match &judged.next {
            Next::Ask(address) => NextWire::Ask(address.to_string()),
            Next::End => NextWire::End,
            Next::Stopped => NextWire::Stopped,
        };
        Self { next, verdict: judged.verdict.map(|verdict| verdict.word().to_owned()) }
    }
}

impl From<&Signed> for SignedWire {
    fn from(signed: &Signed) -> Self {
        Self { signature: signed.signature.clone(), statement: (&signed.statement).into() }
    }
}

impl From<&Statement> for StatementWire {
    fn from(statement: &Statement) -> Self {
        let meaning = match &statement.meaning {
            Meaning::Identified => MeaningWire::Identified,
            Meaning::Performed { from_n, to_n } => {
                MeaningWire::Performed { from_n: *from_n, to_n: *to_n }
            }
            Meaning::Decided { verdict, reason } => {
                MeaningWire::Decided { reason: reason.clone(), verdict: verdict.word().to_owned() }
            }
            Meaning::HoldReleased => MeaningWire::HoldReleased,
            Meaning::Disposed(said) => MeaningWire::Disposed {
                disposition: said.disposition.word().to_owned(),
                lot: said.lot.clone(),
                reason: said.reason.clone(),
            },
            Meaning::Resumed { reason } => MeaningWire::Resumed { reason: reason.clone() },
            Meaning::Deviated { done, reason } => {
                MeaningWire::Deviated { done: *done, reason: reason.clone() }
            }
            Meaning::Conceded { verdict, reason } => {
                MeaningWire::Conceded { reason: reason.clone(), verdict: verdict.word().to_owned() }
            }
        };
        Self {
            address: statement.address.as_ref().map(ToString::to_string),
            at: statement.at.to_string(),
            head: statement.head.to_string(),
            head_n: statement.head_n,
            job: statement.job.to_string(),
            kind: STATEMENT_KIND.to_owned(),
            meaning,
            role: statement.role.word().to_owned(),
            signer: statement.signer.to_string(),
        }
    }
}
