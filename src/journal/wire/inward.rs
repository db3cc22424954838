//! From the shapes on a line to the walk's events: every value is checked.

use std::str::FromStr;

use chrono::NaiveDate;

use super::{
    AdapterWire, AnswerWire, BootClockWire, EvidenceWire, InstrumentWire, JobOpenedWire,
    JudgedWire, LaidWire, LateWire, Line, MeaningWire, NextWire, ReadingWire, RoundWire,
    STATEMENT_KIND, SeveralWire, SignedWire, StatementWire, TightWire, What, WorkedOutWire,
    WrenchWire,
};
use crate::ids::{BootClock, JobId, Moment, Revision, Role, Sha256};
use crate::language::Thread;
use crate::procedure::model::Verdict;
use crate::shop::model::ShopKind;
use crate::units::Reading;
use crate::walk::disposition::{Disposition, Said};
use crate::walk::event::{
    Adapter, Direction, Evidence, Expiry, InstrumentSnapshot, JobOpened, Laid, Meaning, Round,
    Several, Signed, Statement, Tight, Waited, WorkedOut, Wrench,
};
use crate::walk::{Address, Answer, Entry, Event, Judged, Late, Next};

/// A value that its field does not hold.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ValueFault {
    /// A text that is not what the field holds.
    #[error("`{field}` holds `{}`, which is not {wanted}", found.escape_debug())]
    Field {
        /// The field.
        field: &'static str,
        /// What stands there.
        found: String,
        /// What should.
        wanted: &'static str,
    },
    /// A reading whose text, unit and value do not say the same.
    #[error("the reading `{}` with the value `{}`: {reason}", text.escape_debug(), value.escape_debug())]
    Reading {
        /// The text as typed.
        text: String,
        /// The value that was recorded with it.
        value: String,
        /// How they disagree.
        reason: String,
    },
}

fn field<T>(
    field: &'static str,
    found: &str,
    wanted: &'static str,
    value: Option<T>,
) -> Result<T, ValueFault> {
    value.ok_or_else(|| ValueFault::Field { field, found: found.to_owned(), wanted })
}

fn hash(name: &'static str, found: &str) -> Result<Sha256, ValueFault> {
    field(name, found, "a SHA-256 of 64 small hexadecimal digits", Sha256::parse(found))
}

fn moment(name: &'static str, found: &str) -> Result<Moment, ValueFault> {
    field(name, found, "a time with its offset", Moment::parse(found))
}

fn address(found: &str) -> Result<Address, ValueFault> {
    field("address", found, "the address of a step", Address::parse(found))
}

fn named<T: FromStr>(name: &'static str, found: &str) -> Result<T, ValueFault> {
    field(name, found, "a name", found.parse().ok())
}

fn job(found: &str) -> Result<JobId, ValueFault> {
    field("job", found, "a job's number", JobId::parse(found))
}

fn verdict(found: &str) -> Result<Verdict, ValueFault> {
    field("verdict", found, "a verdict", Verdict::parse(found))
}

impl Line {
    /// The entry on this line, and the hash that it claims for the line before. The format has
    /// been looked at by then.
    pub(in crate::journal) fn into_entry(self) -> Result<(Entry, Sha256), ValueFault> {
        let entry = Entry {
            n: self.n,
            at: moment("at", &self.at)?,
            by: self.by.as_deref().map(|by| named("by", by)).transpose()?,
            late: self.late.map(TryInto::try_into).transpose()?,
            event: self.what.try_into()?,
        };
        Ok((entry, hash("prev", &self.prev)?))
    }
}

impl TryFrom<LateWire> for Late {
    type Error = ValueFault;

    fn try_from(late: LateWire) -> Result<Self, ValueFault> {
        Ok(Self { observed: moment("observed", &late.observed)?, reason: late.reason })
    }
}

impl TryFrom<What> for Event {
    type Error = ValueFault;

    #[expect(clippy::too_many_lines, reason = "one arm an event, each a few fields")]
    fn try_from(what: What) -> Result<Self, ValueFault> {
        Ok(match what {
            What::JobOpened(opened) => Self::JobOpened(Box::new(opened.try_into()?)),
            What::Identified(signed) => Self::Identified(Box::new(signed.try_into()?)),
            What::SafetyAcknowledged { address: at, text } => {
                Self::SafetyAcknowledged { address: address(&at)?, text: hash("text", &text)? }
            }
            What::ItemChecked { address: at, item, judged, so } => Self::ItemChecked {
                address: address(&at)?,
                item,
                so,
                judged: judged.map(TryInto::try_into).transpose()?,
            },
            What::LayerLaid { address: at, judged, laid } => Self::LayerLaid {
                address: address(&at)?,
                laid: laid.try_into()?,
                judged: judged.map(TryInto::try_into).transpose()?,
            },
            What::WrenchSet { address: at, judged, pass, wrench } => Self::WrenchSet {
                address: address(&at)?,
                pass,
                wrench: Box::new(wrench.try_into()?),
                judged: judged.map(TryInto::try_into).transpose()?,
            },
            What::FastenerTightened { address: at, judged, pass, tight } => {
                Self::FastenerTightened {
                    address: address(&at)?,
                    pass,
                    tight: tight.try_into()?,
                    judged: judged.map(TryInto::try_into).transpose()?,
                }
            }
            What::FastenerRechecked { address: at, direction, fastener, instrument, reading } => {
                let way = Direction::parse(&direction);
                Self::FastenerRechecked {
                    address: address(&at)?,
                    fastener,
                    direction: field("direction", &direction, "`tightening` or `loosening`", way)?,
                    reading: reading.try_into()?,
                    instrument: instrument.try_into()?,
                }
            }
            What::FastenerLoosened { address: at, fastener, judged, reason } => {
                Self::FastenerLoosened {
                    address: address(&at)?,
                    fastener,
                    reason,
                    judged: judged.try_into()?,
                }
            }
            What::Answered { address: at, answer, judged, signed } => Self::Answered {
                address: address(&at)?,
                answer: answer.try_into()?,
                judged: judged.try_into()?,
                signed: boxed(signed)?,
            },
            What::Corrected { address: at, answer, judged, reason, signed, supersedes } => {
                Self::Corrected {
                    address: address(&at)?,
                    supersedes,
                    answer: answer.try_into()?,
                    reason,
                    judged: judged.try_into()?,
                    signed: boxed(signed)?,
                }
            }
            What::Confirmed { address: at, judged } => {
                Self::Confirmed { address: address(&at)?, judged: judged.try_into()? }
            }
            What::Conceded { address: at, judged, reason, signed, verdict: word } => {
                Self::Conceded {
                    address: address(&at)?,
                    verdict: verdict(&word)?,
                    reason,
                    judged: judged.try_into()?,
                    signed: Box::new(signed.try_into()?),
                }
            }
            What::Disposed { address: at, disposition, lot, reason, signed } => Self::Disposed {
                address: address(&at)?,
                said: said(&disposition, lot, reason)?,
                signed: Box::new(signed.try_into()?),
            },
            What::TokenExpired { address: at, because, token } => {
                let known = Expiry::ALL.into_iter().find(|expiry| expiry.word() == because);
                Self::TokenExpired {
                    token: named("token", &token)?,
                    address: address(&at)?,
                    because: field("because", &because, "a reason why a state ends", known)?,
                }
            }
            What::WorkHalted { address: at, reason, safe_state, standing } => Self::WorkHalted {
                address: at.as_deref().map(address).transpose()?,
                standing: standing.as_deref().map(|name| named("standing", name)).transpose()?,
                reason,
                safe_state,
            },
            What::WorkResumed { reason, signed } => {
                Self::WorkResumed { reason, signed: Box::new(signed.try_into()?) }
            }
            What::Paused { reason } => Self::Paused { reason },
            What::TakenUp { shown } => Self::TakenUp { shown },
            What::WitnessTold { address: at, who } => {
                Self::WitnessTold { address: address(&at)?, who: named("who", &who)? }
            }
            What::EvidenceAdded { address: at, evidence } => Self::EvidenceAdded {
                address: at.as_deref().map(address).transpose()?,
                evidence: evidence.try_into()?,
            },
            What::WaitBegun { address: at, boot: clock } => {
                Self::WaitBegun { address: address(&at)?, boot: boot(clock)? }
            }
            What::ZeroChecked { instrument, reading, so } => Self::ZeroChecked {
                instrument: instrument.try_into()?,
                reading: reading.try_into()?,
                so,
            },
            What::NoteAdded { address: at, text } => {
                Self::NoteAdded { address: at.as_deref().map(address).transpose()?, text }
            }
            What::PerformedSigned(signed) => Self::PerformedSigned(Box::new(signed.try_into()?)),
            What::TornTailSetAside { len_bytes, sha256 } => {
                Self::TornTailSetAside { len_bytes, sha256: hash("sha256", &sha256)? }
            }
            What::ClockWentBack { from } => Self::ClockWentBack { from: moment("from", &from)? },
            What::ExceptionsAcknowledged { shown } => Self::ExceptionsAcknowledged { shown },
            What::Released { record, signature } => Self::Released {
                record: hash("record", &record)?,
                signature: hash("signature", &signature)?,
            },
        })
    }
}

fn boot(wire: Option<BootClockWire>) -> Result<Option<BootClock>, ValueFault> {
    wire.map(|wire| Ok(BootClock { boot: hash("boot", &wire.boot)?, seconds: wire.seconds }))
        .transpose()
}

fn boxed(signed: Option<SignedWire>) -> Result<Option<Box<Signed>>, ValueFault> {
    Ok(signed.map(Signed::try_from).transpose()?.map(Box::new))
}

impl TryFrom<JobOpenedWire> for JobOpened {
    type Error = ValueFault;

    fn try_from(opened: JobOpenedWire) -> Result<Self, ValueFault> {
        let kinds = [ShopKind::Record, ShopKind::Demo];
        let kind = kinds.into_iter().find(|kind| kind.word() == opened.kind);
        let files = opened.files.into_iter().map(|(path, of)| Ok((path, hash("files", &of)?)));
        Ok(Self {
            job: job(&opened.job)?,
            kind: field("kind", &opened.kind, "`record` or `demo`", kind)?,
            semantics: opened.semantics,
            machine: opened.machine,
            serial: opened.serial,
            equipment: named("equipment", &opened.equipment)?,
            procedure: named("procedure", &opened.procedure)?,
            revision: Revision(opened.revision),
            files: files.collect::<Result<_, ValueFault>>()?,
            previous_release: hash("previous_release", &opened.previous_release)?,
        })
    }
}

impl TryFrom<AnswerWire> for Answer {
    type Error = ValueFault;

    fn try_from(answer: AnswerWire) -> Result<Self, ValueFault> {
        Ok(match answer {
            AnswerWire::Done => Self::Done,
            AnswerWire::Items(items) => Self::Items(items),
            AnswerWire::Found(findings) => Self::Found(
                findings.iter().map(|name| named("found", name)).collect::<Result<_, _>>()?,
            ),
            AnswerWire::Read { instrument, reading, several } => {
                let several = several.map(Several::try_from).transpose()?.map(Box::new);
                Self::Read {
                    reading: reading.try_into()?,
                    instrument: instrument.try_into()?,
                    several,
                }
            }
            AnswerWire::WorkedOut(wire) => Self::WorkedOut(wire.try_into()?),
            AnswerWire::CouldNotMeasure { reason } => Self::CouldNotMeasure { reason },
            AnswerWire::Built(laid) => {
                Self::Built(laid.into_iter().map(TryInto::try_into).collect::<Result<_, _>>()?)
            }
            AnswerWire::Tightened(rounds) => {
                let rounds = rounds.into_iter().map(TryInto::try_into);
                Self::Tightened(rounds.collect::<Result<_, _>>()?)
            }
            AnswerWire::Entered(text) => Self::Entered(text),
            AnswerWire::EnteredFigure(reading) => Self::EnteredFigure(reading.try_into()?),
            AnswerWire::Attached(evidence) => Self::Attached(evidence.try_into()?),
            AnswerWire::NotAttached { reason } => Self::NotAttached { reason },
            AnswerWire::Deviated { done, reason } => Self::Deviated { done, reason },
            AnswerWire::Decided { reason, verdict: word } => {
                Self::Decided { verdict: verdict(&word)?, reason }
            }
            AnswerWire::Released => Self::Released,
            AnswerWire::Waited(wire) => Self::Waited(Waited {
                begun: moment("begun", &wire.begun)?,
                ended: moment("ended", &wire.ended)?,
                boot: boot(wire.boot)?,
                elapsed_s: wire.elapsed_s,
                at_longest_s: wire.at_longest_s,
                doubtful: wire.doubtful,
            }),
            AnswerWire::Stopped => Self::Stopped,
        })
    }
}

impl TryFrom<WorkedOutWire> for WorkedOut {
    type Error = ValueFault;

    fn try_from(wire: WorkedOutWire) -> Result<Self, ValueFault> {
        let result = match (wire.result, wire.refused) {
            (Some(reading), None) => Ok(reading.try_into()?),
            (None, Some(why)) => Err(why),
            (found, _) => {
                let found = if found.is_some() { "both" } else { "neither" };
                return field("worked_out", found, "a `result` or what was `refused`", None);
            }
        };
        Ok(Self { calculation: wire.calculation, given: wire.given, result })
    }
}

impl TryFrom<LaidWire> for Laid {
    type Error = ValueFault;

    fn try_from(wire: LaidWire) -> Result<Self, ValueFault> {
        Ok(Self { layer: named("layer", &wire.layer)?, so: wire.so, lot: wire.lot })
    }
}

impl TryFrom<RoundWire> for Round {
    type Error = ValueFault;

    fn try_from(wire: RoundWire) -> Result<Self, ValueFault> {
        let fasteners = wire.fasteners.into_iter().map(TryInto::try_into);
        Ok(Self {
            pass: wire.pass,
            wrench: wire.wrench.try_into()?,
            fasteners: fasteners.collect::<Result<_, _>>()?,
        })
    }
}

impl TryFrom<TightWire> for Tight {
    type Error = ValueFault;

    fn try_from(wire: TightWire) -> Result<Self, ValueFault> {
        let reading = wire.reading.map(TryInto::try_into).transpose()?;
        Ok(Self { fastener: wire.fastener, reading, so: wire.so })
    }
}

impl TryFrom<WrenchWire> for Wrench {
    type Error = ValueFault;

    fn try_from(wire: WrenchWire) -> Result<Self, ValueFault> {
        let adapter = |wire: AdapterWire| {
            Ok(Adapter {
                length: wire.length.try_into()?,
                extension: wire.extension.try_into()?,
                angle: wire.angle.try_into()?,
            })
        };
        let thread = Thread::parse(&wire.thread);
        Ok(Self {
            thread: field("thread", &wire.thread, "`dry` or `oiled`", thread)?,
            instrument: wire.instrument.try_into()?,
            setting: wire.setting.try_into()?,
            adapter: wire.adapter.map(adapter).transpose()?,
        })
    }
}

impl TryFrom<ReadingWire> for Reading {
    type Error = ValueFault;

    fn try_from(wire: ReadingWire) -> Result<Self, ValueFault> {
        let fault = |reason: String| ValueFault::Reading {
            text: wire.text.clone(),
            value: wire.value.clone(),
            reason,
        };
        let reading = Self::from_recorded(&wire.text, &wire.unit)
            .map_err(|error| fault(error.to_string()))?;
        let value = reading.value.render(reading.unit);
        if value == wire.value { Ok(reading) } else { Err(fault(format!("the text says {value}"))) }
    }
}

impl TryFrom<SeveralWire> for Several {
    type Error = ValueFault;

    fn try_from(wire: SeveralWire) -> Result<Self, ValueFault> {
        let taken = wire.taken.into_iter().map(Reading::try_from).collect::<Result<_, _>>()?;
        Ok(Self { taken, reason: wire.reason })
    }
}

impl TryFrom<EvidenceWire> for Evidence {
    type Error = ValueFault;

    fn try_from(wire: EvidenceWire) -> Result<Self, ValueFault> {
        let sha256 = hash("sha256", &wire.sha256)?;
        Ok(Self { name: wire.name, len_bytes: wire.len_bytes, sha256 })
    }
}

impl TryFrom<InstrumentWire> for InstrumentSnapshot {
    type Error = ValueFault;

    fn try_from(wire: InstrumentWire) -> Result<Self, ValueFault> {
        let due = NaiveDate::from_str(&wire.calibration_due).ok();
        Ok(Self {
            calibration_due: field("calibration_due", &wire.calibration_due, "a day", due)?,
            id: wire.id,
            kind: named("kind", &wire.kind)?,
            certificate: wire.certificate,
            certificate_sha256: wire.certificate_sha256,
            resolution: wire.resolution,
            uncertainty: wire.uncertainty,
            k: wire.k,
        })
    }
}

impl TryFrom<JudgedWire> for Judged {
    type Error = ValueFault;

    fn try_from(wire: JudgedWire) -> Result<Self, ValueFault> {
        Ok(Self {
            verdict: wire.verdict.as_deref().map(verdict).transpose()?,
            next: match wire.next {
                NextWire::Ask(at) => Next::Ask(address(&at)?),
                NextWire::End => Next::End,
                NextWire::Stopped => Next::Stopped,
            },
        })
    }
}

fn said(word: &str, lot: Option<String>, reason: String) -> Result<Said, ValueFault> {
    let known = Disposition::parse(word);
    let disposition = field("disposition", word, "what is done about a failed result", known)?;
    Ok(Said { disposition, lot, reason })
}

impl TryFrom<SignedWire> for Signed {
    type Error = ValueFault;

    fn try_from(wire: SignedWire) -> Result<Self, ValueFault> {
        Ok(Self { statement: wire.statement.try_into()?, signature: wire.signature })
    }
}

impl TryFrom<StatementWire> for Statement {
    type Error = ValueFault;

    fn try_from(wire: StatementWire) -> Result<Self, ValueFault> {
        let is_statement = (wire.kind == STATEMENT_KIND).then_some(());
        field("kind", &wire.kind, "`statement`", is_statement)?;
        Ok(Self {
            job: job(&wire.job)?,
            head_n: wire.head_n,
            head: hash("head", &wire.head)?,
            address: wire.address.as_deref().map(address).transpose()?,
            signer: named("signer", &wire.signer)?,
            role: field("role", &wire.role, "a role", Role::parse(&wire.role))?,
            meaning: match wire.meaning {
                MeaningWire::Identified => Meaning::Identified,
                MeaningWire::Performed { from_n, to_n } => Meaning::Performed { from_n, to_n },
                MeaningWire::Decided { reason, verdict: word } => {
                    Meaning::Decided { verdict: verdict(&word)?, reason }
                }
                MeaningWire::HoldReleased => Meaning::HoldReleased,
                MeaningWire::Disposed { disposition, lot, reason } => {
                    Meaning::Disposed(said(&disposition, lot, reason)?)
                }
                MeaningWire::Resumed { reason } => Meaning::Resumed { reason },
                MeaningWire::Deviated { done, reason } => Meaning::Deviated { done, reason },
                MeaningWire::Conceded { reason, verdict: word } => {
                    Meaning::Conceded { verdict: verdict(&word)?, reason }
                }
            },
            at: moment("at", &wire.at)?,
        })
    }
}
