//! Whether an answer fits its question: findings, figures, instruments, texts.

use chrono::NaiveDate;

use super::event::{Answer, Evidence, InstrumentSnapshot};
use super::flow::{Ask, Deviation, FindingNote, Instance, SecondOf};
use super::instruments::ready;
use super::job::{Files, JobState};
use super::measure::MeasureNote;
use super::refusal::Refusal;
use crate::equipment::model::PlateFault;
use crate::ids::{Moment, Name};
use crate::procedure::model::{EntryKind, NO_FAULT, Verdict};
use crate::shop::model::Instrument;
use crate::units::{Capacity, Criterion, Quantity, Reading, Uncertainty, Unit};

/// The longest text of one line that an entry holds, in characters.
pub const LINE_LEN_MAX: usize = 500;
/// The longest note, in characters.
pub const NOTE_LEN_MAX: usize = 5_000;

/// The longest name of an attached file, in characters.
pub const EVIDENCE_NAME_LEN_MAX: usize = 255;
/// The largest attached file, in bytes.
pub const EVIDENCE_LEN_BYTES_MAX: u64 = 64 * 1024 * 1024;

/// Checks `answer` against the question of `instance`.
///
/// # Errors
/// The first rule that it breaks.
pub(super) fn check(
    files: &Files,
    state: &JobState,
    instance: &Instance,
    answer: &Answer,
    now: Moment,
) -> Result<(), Refusal> {
    match (&instance.ask, answer) {
        (Ask::Do(_), Answer::Done)
        | (Ask::Hold(_), Answer::Released)
        | (Ask::Stop(_), Answer::Stopped) => Ok(()),
        (Ask::Needs(items) | Ask::Check { items, .. }, Answer::Items(given)) => {
            if given.len() == items.len() {
                Ok(())
            } else {
                Err(Refusal::WrongKind { asked: instance.ask.word() })
            }
        }
        (Ask::Look { several, findings, .. }, Answer::Found(found)) => {
            findings_fit(findings, *several, found)
        }
        (Ask::Measure(note), Answer::CouldNotMeasure { reason }) => {
            other_person(state, note.second_of.as_ref())?;
            line("the reason", reason)
        }
        (Ask::Measure(note), Answer::Read { .. }) => {
            let index = files.flow.find(&instance.address);
            let ask = index.map(|index| state.walk.ask(&files.flow, state, index));
            match ask.as_deref() {
                Some(Ask::Measure(now_asked)) => read_fits(files, state, now_asked, answer, now),
                _ => read_fits(files, state, note, answer, now),
            }
        }
        (Ask::WorkOut(note), Answer::WorkedOut(worked)) => {
            if state.walk.worked_out(&files.flow, state, note) == *worked {
                Ok(())
            } else {
                Err(Refusal::WorkedOutOtherwise { calculation: note.calculation.name })
            }
        }
        (Ask::Build { .. }, Answer::Built(laid)) => {
            let index = files.flow.find(&instance.address);
            let due = index.map(|index| state.walk.layers_due(&files.flow, state, index));
            super::stack::whole_fits(&due.unwrap_or_default(), laid)
        }
        (
            Ask::Enter { kind: EntryKind::Figure { unit, plausible }, .. },
            Answer::EnteredFigure(reading),
        ) => {
            dimension(reading, *unit)?;
            plausible_figure(reading, *unit, plausible.as_ref())
        }
        (Ask::Enter { kind, .. }, Answer::Entered(text)) => {
            entered(files, state, kind, text, instance)
        }
        (Ask::Attach { .. }, Answer::Attached(file)) => evidence(file),
        (Ask::Attach { may_lack: true, .. }, Answer::NotAttached { reason }) => {
            line("the reason", reason)
        }
        (Ask::Attach { may_lack: false, .. }, Answer::NotAttached { .. }) => {
            Err(Refusal::NotReady("the procedure does not go on without this file".to_owned()))
        }
        (_, Answer::Deviated { done, reason }) => {
            line("the reason", reason)?;
            match (instance.deviation, *done || instance.ask.may_be_left_out()) {
                (Deviation::Barred(why), _) => {
                    Err(Refusal::NoDeviation { address: instance.address.clone(), why })
                }
                (Deviation::Allowed, false) => Err(Refusal::NoDeviation {
                    address: instance.address.clone(),
                    why: "it can only be done otherwise; say what was done",
                }),
                (Deviation::Allowed, true) => Ok(()),
            }
        }
        (Ask::Decide { may, .. }, Answer::Decided { verdict, reason }) => {
            line("the reason", reason)?;
            if may.contains(verdict) {
                Ok(())
            } else {
                Err(Refusal::VerdictNotOpen { verdict: verdict.word(), may: words(may) })
            }
        }
        _ => Err(Refusal::WrongKind { asked: instance.ask.word() }),
    }
}

/// Whether a reading, and all that it was made of, fits a question with all that this takes from
/// earlier answers.
fn read_fits(
    files: &Files,
    state: &JobState,
    note: &MeasureNote,
    answer: &Answer,
    now: Moment,
) -> Result<(), Refusal> {
    let Answer::Read { reading, instrument, several } = answer else {
        return Err(Refusal::WrongKind { asked: "measure" });
    };
    let taken = several.as_ref().map_or(std::slice::from_ref(reading), |s| &s.taken);
    other_person(state, note.second_of.as_ref())?;
    for one in taken {
        dimension(one, note.unit)?;
    }
    note.several_fit(reading, several.as_deref())?;
    let listed = listed(files, state, &note.with, instrument, now)?;
    let Some(criterion) = note.against.criterion() else {
        return Err(Refusal::NoReference { limit: note.against.render() });
    };
    suits(listed, criterion)?;
    state.walk.holds_at_that(&files.flow, state, note)?;
    for one in taken {
        in_range(listed, one)?;
        plausible_figure(one, note.unit, note.plausible.as_ref())?;
    }
    match criterion.decide(&reading.value, instrument.expanded().as_ref()) {
        Ok(_) => Ok(()),
        Err(fault) => Err(Refusal::Undecided { id: instrument.id.clone(), why: fault.to_string() }),
    }
}

/// A second reading is another person's.
fn other_person(state: &JobState, second_of: Option<&SecondOf>) -> Result<(), Refusal> {
    let first = second_of
        .and_then(|second| state.held.get(second.first))
        .and_then(Option::as_ref)
        .and_then(|held| held.by.as_ref());
    match first {
        Some(person) if state.person.as_ref() == Some(person) => {
            Err(Refusal::SameMeasurer(person.clone()))
        }
        _ => Ok(()),
    }
}

/// Checks what an entry keeps of a file. Its bytes are the store's matter.
///
/// # Errors
/// No name, no bytes, or too many of either.
pub fn evidence(file: &Evidence) -> Result<(), Refusal> {
    let why = if file.name.trim().is_empty() {
        "it has no name; give the file one"
    } else if file.name.chars().count() > EVIDENCE_NAME_LEN_MAX {
        "its name is too long; 255 characters are the most"
    } else if file.len_bytes == 0 {
        "it is empty; look whether the photo was saved"
    } else if file.len_bytes > EVIDENCE_LEN_BYTES_MAX {
        "it is larger than 64 MB; make it smaller, or keep it elsewhere and note where"
    } else {
        return Ok(());
    };
    Err(Refusal::BadEvidence { name: file.name.clone(), why })
}

fn words(verdicts: &[Verdict]) -> String {
    verdicts.iter().map(|v| v.word()).collect::<Vec<_>>().join(", ")
}

fn findings_fit(findings: &[FindingNote], several: bool, found: &[Name]) -> Result<(), Refusal> {
    for name in found {
        if !findings.iter().any(|f| f.id == *name) {
            let known = findings.iter().map(|f| f.id.as_str()).collect::<Vec<_>>().join(", ");
            return Err(Refusal::UnknownFinding { found: name.clone(), known });
        }
    }
    let in_file_order: Vec<&Name> =
        findings.iter().map(|f| &f.id).filter(|id| found.contains(id)).collect();
    let once_each = in_file_order.len() == found.len() && in_file_order.iter().copied().eq(found);
    if found.is_empty() || !once_each || (!several && found.len() > 1) {
        return Err(Refusal::FindingCount { several });
    }
    if found.len() > 1 && found.iter().any(|name| name.as_str() == NO_FAULT) {
        return Err(Refusal::NoFaultExcludes);
    }
    Ok(())
}

pub(super) fn dimension(reading: &Reading, unit: Unit) -> Result<(), Refusal> {
    if reading.value.dimension == unit.dimension() {
        return Ok(());
    }
    Err(Refusal::WrongDimension {
        reading: reading.echo(),
        needed: unit.dimension().noun().to_owned(),
        unit: unit.symbol().to_owned(),
    })
}

pub(crate) fn plausible_figure(
    reading: &Reading,
    unit: Unit,
    range: Option<&(Quantity, Quantity)>,
) -> Result<(), Refusal> {
    match range {
        Some(range) if !reading.value.lies_in(range) => {
            Err(Refusal::Implausible { reading: reading.echo(), range: range_text(range, unit) })
        }
        _ => Ok(()),
    }
}

fn range_text(range: &(Quantity, Quantity), unit: Unit) -> String {
    format!("{} to {}", range.0.render(unit), range.1.render(unit))
}

/// An instrument as the list describes it, for an entry.
pub fn snapshot(instrument: &Instrument) -> InstrumentSnapshot {
    let shown = |quantity: &Quantity| quantity.render(quantity.dimension.usual());
    InstrumentSnapshot {
        id: instrument.id.clone(),
        kind: instrument.kind.clone(),
        calibration_due: instrument.calibration_due,
        certificate: instrument.certificate.clone(),
        resolution: shown(&instrument.resolution),
        uncertainty: shown(&instrument.uncertainty),
        k: instrument.k.clone(),
        certificate_sha256: instrument.certificate_sha256.clone(),
    }
}

/// Whether `instrument` may be used today for a reading of `kind`.
///
/// # Errors
/// Another kind, out of use, or calibration due.
pub fn usable(instrument: &Instrument, kind: &Name, now: Moment) -> Result<(), Refusal> {
    if instrument.kind != *kind {
        return Err(Refusal::InstrumentKind {
            id: instrument.id.clone(),
            is: instrument.kind.spoken(),
            needed: kind.spoken(),
        });
    }
    if let Some(reason) = &instrument.out_of_use {
        return Err(Refusal::InstrumentOutOfUse {
            id: instrument.id.clone(),
            reason: reason.clone(),
        });
    }
    if instrument.calibration_due < now.day() {
        return Err(Refusal::CalibrationDue {
            id: instrument.id.clone(),
            due: instrument.calibration_due.to_string(),
        });
    }
    Ok(())
}

/// Whether `instrument` is good enough for what a reading is held against.
///
/// # Errors
/// A bound beyond its range, steps too coarse for the limit, a capability below the one asked for.
pub fn suits(instrument: &Instrument, criterion: &Criterion) -> Result<(), Refusal> {
    let Ok((k, _)) = Quantity::parse_literal(&instrument.k) else { return Ok(()) };
    let Ok(uncertainty) = Uncertainty::new(instrument.uncertainty.clone(), k.si) else {
        return Ok(());
    };
    let capacity = Capacity {
        range: instrument.range.clone(),
        resolution: instrument.resolution.clone(),
        uncertainty,
    };
    match capacity.unfit(&criterion.limit, &criterion.demand).first() {
        None => Ok(()),
        Some(why) => Err(Refusal::Unsuitable { id: instrument.id.clone(), why: why.to_string() }),
    }
}

/// The list's row of the instrument that was used, where it may be used for this.
///
/// # Errors
/// As [`on_the_list`]; not checked at zero, or used as often as it may be.
pub(super) fn listed<'f>(
    files: &'f Files,
    state: &JobState,
    kind: &Name,
    given: &InstrumentSnapshot,
    now: Moment,
) -> Result<&'f Instrument, Refusal> {
    let listed = on_the_list(files, Some(kind), given, now)?;
    ready(state, listed, now)?;
    Ok(listed)
}

/// The list's row of an instrument, where it may be used today; for readings of `kind`, where one is
/// asked for.
///
/// # Errors
/// Not on the list, not to be used today, or another one by now.
pub(super) fn on_the_list<'f>(
    files: &'f Files,
    kind: Option<&Name>,
    given: &InstrumentSnapshot,
    now: Moment,
) -> Result<&'f Instrument, Refusal> {
    let listed = files.shop.instrument(&given.id);
    let listed = listed.ok_or_else(|| Refusal::UnknownInstrument(given.id.clone()))?;
    usable(listed, kind.unwrap_or(&listed.kind), now)?;
    if snapshot(listed) != *given {
        return Err(Refusal::InstrumentChanged(given.id.clone()));
    }
    Ok(listed)
}

/// Whether an instrument shows such a figure at all.
///
/// # Errors
/// A figure beyond its range.
pub(super) fn in_range(listed: &Instrument, reading: &Reading) -> Result<(), Refusal> {
    if reading.value.lies_in(&listed.range) {
        return Ok(());
    }
    Err(Refusal::OutOfRange {
        reading: reading.echo(),
        id: listed.id.clone(),
        range: range_text(&listed.range, reading.unit),
    })
}

fn entered(
    files: &Files,
    state: &JobState,
    kind: &EntryKind,
    text: &str,
    instance: &Instance,
) -> Result<(), Refusal> {
    line("the entry", text)?;
    match kind {
        EntryKind::Text => Ok(()),
        EntryKind::Figure { .. } => Err(Refusal::WrongKind { asked: instance.ask.word() }),
        EntryKind::Choice(choices) => {
            if choices.iter().any(|(id, _)| id.value.as_str() == text) {
                return Ok(());
            }
            let known =
                choices.iter().map(|(id, _)| id.value.as_str()).collect::<Vec<_>>().join(", ");
            Err(Refusal::UnknownChoice { entered: text.to_owned(), known })
        }
        EntryKind::Date => {
            let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
            if day.is_some_and(|day| day.to_string() == text) {
                Ok(())
            } else {
                Err(Refusal::BadDate(text.to_owned()))
            }
        }
        EntryKind::Serial => {
            let expected = &state.opened.serial;
            if text == expected {
                return Ok(());
            }
            let same = text.chars().zip(expected.chars()).take_while(|(a, b)| a == b).count();
            Err(Refusal::SerialDiffers { expected: expected.clone(), at: same.saturating_add(1) })
        }
        EntryKind::FitOut => plate(files, text),
    }
}

/// Checks what stands on the name plate: it must say what the machine is made of, and the procedure
/// must be written for such a machine.
fn plate(files: &Files, text: &str) -> Result<(), Refusal> {
    let flow = &files.flow;
    let fault = match flow.equipment.build(text) {
        Err(fault) => fault,
        Ok(_) if flow.fit_outs.is_empty() || flow.fit_outs.iter().any(|f| f == text) => {
            return Ok(());
        }
        Ok(_) => {
            return Err(Refusal::OtherFitOut {
                entered: text.to_owned(),
                written_for: flow.fit_outs.join(", "),
            });
        }
    };
    Err(match fault {
        PlateFault::Letter(known) => {
            Refusal::UnknownFitOut { entered: text.to_owned(), known: known.join(", ") }
        }
        PlateFault::Length { found, wanted } => Refusal::PlateLength { found, wanted },
        PlateFault::Characters { at, found, known } => {
            Refusal::PlateCharacters { at, found, known: known.join(", ") }
        }
    })
}

/// Checks a text of one line.
pub(super) fn line(what: &'static str, text: &str) -> Result<(), Refusal> {
    let why = if text.trim().is_empty() {
        "is empty; write at least a word"
    } else if text.chars().count() > LINE_LEN_MAX {
        "is too long; 500 characters are the most, so put the rest into a note"
    } else if text.chars().any(char::is_control) {
        "holds control characters; type it again"
    } else {
        return Ok(());
    };
    Err(Refusal::BadText { what, why })
}

/// Checks a note of several lines.
pub(super) fn note(text: &str) -> Result<(), Refusal> {
    let why = if text.trim().is_empty() {
        "is empty; write at least a word"
    } else if text.chars().count() > NOTE_LEN_MAX {
        "is too long; 5,000 characters are the most, so split it"
    } else if text.chars().any(|c| c.is_control() && c != '\n') {
        "holds control characters; type it again"
    } else {
        return Ok(());
    };
    Err(Refusal::BadText { what: "the note", why })
}
