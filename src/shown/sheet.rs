//! The job sheet: parts to fetch, readings as found beside as left, the cause, deviations and
//! decisions, corrections and notes.
//!
//! Made when somebody looks at it, not with every move: it goes through the whole job.

use super::question::{by_what_was_found, decision_words, positions_text};
use crate::ids::PersonId;
use crate::procedure::model::{EntryKind, Phase, Verdict};
use crate::session::Session;
use crate::units::Decision;
use crate::walk::address::Address;
use crate::walk::exceptions::{answer_text, parts_needed};
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::place::{self, Answers as _};
use crate::walk::{Answer, Files, JobState};

/// A line of the parts list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartLine {
    /// The part's title.
    pub title: String,
    /// Its number, where the equipment file has one.
    pub number: Option<String>,
    /// How many.
    pub quantity: u32,
    /// Where it goes.
    pub position: String,
    /// Why it is on the list.
    pub because: String,
}

/// A place that was measured, with what it was when found and when left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingLine {
    /// What was measured.
    pub text: String,
    /// Where; `None` where there is one place only.
    pub position: Option<String>,
    /// The limit and where it comes from.
    pub limit: String,
    /// As found.
    pub found: Option<Taken>,
    /// As left.
    pub left: Option<Taken>,
}

/// One reading of a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The reading, or why there is none.
    pub text: String,
    /// What is said of it against its limit; `None` where it could not be measured.
    pub said: Option<Decision>,
    /// The mark on the instrument.
    pub with: Option<String>,
}

impl Taken {
    /// The instrument, as the end of a line.
    pub fn with_text(&self) -> String {
        self.with.as_ref().map_or_else(String::new, |with| format!(", with {with}"))
    }

    /// Its word.
    pub fn word(&self) -> &'static str {
        match self.said {
            Some(Decision::Within) => "within",
            Some(Decision::Below) => "BELOW",
            Some(Decision::Above) => "ABOVE",
            Some(Decision::NotProven) => "NOT PROVEN",
            None => "NO READING",
        }
    }
}

/// Something about the cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CauseLine {
    /// What was asked, or what was seen.
    pub about: String,
    /// Where.
    pub position: Option<String>,
    /// The cause, or what speaks for or against it.
    pub text: String,
    /// True where a person entered it; otherwise the procedure says that it is likely.
    pub entered: bool,
}

/// Something that a person decided, allowed or left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DecidedLine {
    /// The step.
    pub about: String,
    /// Where.
    pub position: Option<String>,
    /// What became of it.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Who signed for it or entered it.
    pub by: Option<PersonId>,
}

/// The job sheet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sheet {
    /// Parts to fetch.
    pub parts: Vec<PartLine>,
    /// Readings, by the place where they were taken, in walk order.
    pub readings: Vec<ReadingLine>,
    /// The cause: what was entered about it first, then what findings make likely.
    pub causes: Vec<CauseLine>,
    /// What was done otherwise than written, or left out.
    pub deviations: Vec<DecidedLine>,
    /// What a person decided.
    pub decisions: Vec<DecidedLine>,
    /// Corrections, a sentence each.
    pub corrections: Vec<String>,
    /// Notes: by whom, about what, the text.
    pub notes: Vec<(Option<PersonId>, Option<String>, String)>,
}

impl Sheet {
    /// The sheet of the job in `session`.
    pub fn of(session: &Session) -> Self {
        let (files, state) = (session.files(), session.state());
        let flow = &files.flow;
        let parts = parts_needed(files, state).into_iter().map(|needed| {
            let part = flow.equipment.parts.get(&needed.part);
            PartLine {
                title: part.map_or_else(|| needed.part.spoken(), |p| p.title.clone()),
                number: part.and_then(|p| p.number.clone()),
                quantity: needed.quantity,
                position: position_words(&needed.position),
                because: because(files, needed.because),
            }
        });
        let sealed = state.walk.sealed(flow);
        let open = state
            .corrections
            .iter()
            .filter(|note| flow.find(&note.address).is_none_or(|index| sealed != Some(index)));
        let corrections = open.map(|note| {
            let ask = flow.find(&note.address).map(|index| &flow.instance(index).ask);
            let shown = |answer| ask.map_or_else(String::new, |ask| answer_text(ask, answer));
            format!(
                "{}: {} -> {}, because {}",
                note.address,
                shown(&note.before),
                shown(&note.after),
                note.reason
            )
        });
        let notes = state.notes.iter().map(|(_, by, address, text)| {
            (by.clone(), address.as_ref().map(ToString::to_string), text.clone())
        });
        Self {
            parts: parts.collect(),
            readings: readings(files, state),
            causes: causes(files, state),
            deviations: decided(files, state, deviation),
            decisions: decided(files, state, decision),
            corrections: corrections.collect(),
            notes: notes.collect(),
        }
    }
}

/// Why a part is on the list: the step that asked for it in its words, where there is one.
fn because(files: &Files, because: String) -> String {
    let index = Address::parse(&because).and_then(|address| files.flow.find(&address));
    index.map_or(because, |index| {
        files.flow.instance(index).ask.text().trim_end_matches('.').to_owned()
    })
}

/// An address without its passes: the place that is measured.
fn place(address: &Address) -> Address {
    let mut place = address.clone();
    for segment in &mut place.0 {
        segment.pass = 1;
    }
    place
}

/// Each place once. The first pass of a place is as found, its last as left; a step that says itself
/// which it is, is taken at its word. A reading that sends the part away is not left in the machine.
fn readings(files: &Files, state: &JobState) -> Vec<ReadingLine> {
    let flow = &files.flow;
    let sealed = state.walk.sealed(flow);
    let mut places: Vec<(Address, Vec<InstanceIdx>)> = Vec::new();
    for index in state.walk.path.iter().copied().filter(|index| sealed != Some(*index)) {
        if !matches!(
            state.answer(index),
            Some(Answer::Read { .. } | Answer::CouldNotMeasure { .. })
        ) {
            continue;
        }
        let place = place(&flow.instance(index).address);
        match places.iter_mut().find(|(known, _)| *known == place) {
            Some((_, passes)) => passes.push(index),
            None => places.push((place, vec![index])),
        }
    }
    let line = |(place, passes): (Address, Vec<InstanceIdx>)| {
        let (first, last) = (*passes.first()?, *passes.last()?);
        let instance = flow.instance(last);
        let stays = state
            .answer(last)
            .and_then(|answer| state.walk.judge_at(flow, state, last, answer))
            .is_none_or(|verdict| verdict == Verdict::Accept);
        let left_only = passes.len() == 1 && instance.phase == Some(Phase::Left);
        let is_left =
            left_only || passes.len() > 1 || (instance.phase != Some(Phase::Found) && stays);
        let limit = match state.walk.ask(flow, state, last).as_ref() {
            Ask::Measure(note) => match &note.basis {
                Some(basis) => format!("{} ({basis})", note.against.render()),
                None => note.against.render(),
            },
            _ => String::new(),
        };
        Some(ReadingLine {
            text: instance.ask.text().to_owned(),
            position: positions_text(&place),
            limit,
            found: if left_only { None } else { taken(files, state, first) },
            left: if is_left { taken(files, state, last) } else { None },
        })
    };
    places.into_iter().filter_map(line).collect()
}

fn taken(files: &Files, state: &JobState, index: InstanceIdx) -> Option<Taken> {
    let answer = state.answer(index)?;
    match answer {
        Answer::Read { reading, instrument, .. } => Some(Taken {
            text: reading.echo(),
            said: place::decision(&state.walk.ask(&files.flow, state, index), answer),
            with: Some(instrument.id.clone()),
        }),
        Answer::CouldNotMeasure { reason } => {
            Some(Taken { text: reason.clone(), said: None, with: None })
        }
        _ => None,
    }
}

/// What was entered; of a choice the words that were offered.
fn entered_text(ask: &Ask, answer: &Answer) -> String {
    let (Ask::Enter { kind: EntryKind::Choice(choices), .. }, Answer::Entered(id)) = (ask, answer)
    else {
        return answer_text(ask, answer);
    };
    let offered = choices.iter().find(|(known, _)| known.value.as_str() == id);
    offered.map_or_else(|| id.clone(), |(_, text)| text.clone())
}

/// True for the steps that ask for the cause: those of this name, alone or behind other words.
fn asks_for_cause(address: &Address) -> bool {
    address.0.last().is_some_and(|last| {
        let id = last.id.as_str();
        id == "cause" || id.ends_with("_cause")
    })
}

/// What was entered in the sections that ask for the cause, then what findings make likely.
fn causes(files: &Files, state: &JobState) -> Vec<CauseLine> {
    let flow = &files.flow;
    let section = |address: &Address| {
        address.0.split_last().map(|(_, section)| section.to_vec()).unwrap_or_default()
    };
    let asking: Vec<_> = flow
        .instances
        .iter()
        .filter(|instance| asks_for_cause(&instance.address))
        .map(|instance| section(&instance.address))
        .collect();
    let mut entered = Vec::new();
    let mut likely = Vec::new();
    for index in &state.walk.path {
        let (instance, Some(answer)) = (flow.instance(*index), state.answer(*index)) else {
            continue;
        };
        let line = |about: &str, text: String, entered| CauseLine {
            about: about.to_owned(),
            position: positions_text(&instance.address),
            text,
            entered,
        };
        match (&instance.ask, answer) {
            (Ask::Enter { .. }, Answer::Entered(_) | Answer::EnteredFigure(_))
                if asking.contains(&section(&instance.address)) =>
            {
                entered.push(line(instance.ask.text(), entered_text(&instance.ask, answer), true));
            }
            (Ask::Look { findings, .. }, Answer::Found(found)) => {
                let found = findings.iter().filter(|finding| found.contains(&finding.id));
                likely.extend(found.filter_map(|finding| {
                    let cause = finding.likely_cause.clone()?;
                    Some(line(&finding.see, cause, false))
                }));
            }
            _ => {}
        }
    }
    entered.into_iter().chain(likely).collect()
}

/// What became of a step, and why.
type Became = (String, String, Option<PersonId>);

fn decided(
    files: &Files,
    state: &JobState,
    became: impl Fn(&JobState, InstanceIdx, &Answer) -> Option<Became>,
) -> Vec<DecidedLine> {
    let lines = state.walk.path.iter().filter_map(|index| {
        let instance = files.flow.instance(*index);
        let (what, reason, by) = became(state, *index, state.answer(*index)?)?;
        let ask = by_what_was_found(files, state, instance.ask.clone());
        Some(DecidedLine {
            about: ask.text().to_owned(),
            position: positions_text(&instance.address),
            what,
            reason,
            by,
        })
    });
    lines.collect()
}

fn by(state: &JobState, index: InstanceIdx) -> Option<PersonId> {
    state.held.get(index)?.as_ref()?.by.clone()
}

fn deviation(state: &JobState, index: InstanceIdx, answer: &Answer) -> Option<Became> {
    let (what, reason) = match answer {
        Answer::Deviated { done: true, reason } => ("done otherwise than written", reason),
        Answer::Deviated { done: false, reason } => ("left out", reason),
        Answer::NotAttached { reason } => ("no photo or file", reason),
        _ => return None,
    };
    Some((what.to_owned(), reason.clone(), by(state, index)))
}

fn decision(state: &JobState, index: InstanceIdx, answer: &Answer) -> Option<Became> {
    if let Some(conceded) = state.conceded.get(&index) {
        let what =
            format!("{}, in the place of what the rules say", decision_words(conceded.verdict));
        return Some((what, conceded.reason.clone(), Some(conceded.by.clone())));
    }
    let Answer::Decided { verdict, reason } = answer else { return None };
    Some((decision_words(*verdict).to_owned(), reason.clone(), by(state, index)))
}

/// `cylinder=2,side=inlet` in words.
fn position_words(text: &str) -> String {
    text.split(',').map(|one| one.replace(['=', '_'], " ")).collect::<Vec<_>>().join(", ")
}
