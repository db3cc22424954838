//! The job sheet: parts to fetch, readings as found and as left, corrections and notes.

use crate::ids::PersonId;
use crate::procedure::model::Phase;
use crate::session::Session;
use crate::walk::Answer;
use crate::walk::exceptions::{answer_text, parts_needed, position_text};

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

/// A reading with its limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingLine {
    /// What was measured.
    pub text: String,
    /// Where.
    pub position: String,
    /// The reading against its limit, and the instrument.
    pub reading: String,
    /// As found or as left, where the step says so.
    pub phase: Option<&'static str>,
}

/// The job sheet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sheet {
    /// Parts to fetch.
    pub parts: Vec<PartLine>,
    /// Readings, in walk order.
    pub readings: Vec<ReadingLine>,
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
                because: needed.because,
            }
        });
        let sealed = state.walk.sealed(flow);
        let readings = state.walk.path.iter().filter_map(|index| {
            let instance = flow.instance(*index);
            let held = state.held.get(*index)?.as_ref()?;
            let shown = matches!(held.answer, Answer::Read { .. }) && sealed != Some(*index);
            shown.then(|| ReadingLine {
                text: instance.ask.text().to_owned(),
                position: position_words(&position_text(files, *index)),
                reading: answer_text(&instance.ask, &held.answer),
                phase: instance.phase.map(|phase| match phase {
                    Phase::Found => "as found",
                    Phase::Left => "as left",
                }),
            })
        });
        let corrections = state.corrections.iter().map(|note| {
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
        Self {
            parts: parts.collect(),
            readings: readings.collect(),
            corrections: corrections.collect(),
            notes: state
                .notes
                .iter()
                .map(|(_, by, address, text)| {
                    (by.clone(), address.as_ref().map(ToString::to_string), text.clone())
                })
                .collect(),
        }
    }
}

/// `cylinder=2,side=inlet` in words.
fn position_words(text: &str) -> String {
    text.split(',').map(|one| one.replace(['=', '_'], " ")).collect::<Vec<_>>().join(", ")
}
