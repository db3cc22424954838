//! Several readings in one step: how they are typed, and the one value that counts.

use super::event::Several;
use super::measure::MeasureNote;
use super::refusal::Refusal;
use crate::ids::Name;
use crate::units::{EntryFault, Reading, RepeatFault, Repeats};

/// How many readings a step asks for, and which counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeveralNote {
    /// How many, and the rule over them.
    pub repeats: Repeats,
    /// The points that they are taken at, in order; empty for readings of one and the same thing.
    pub points: Vec<Name>,
}

/// Why typed readings are none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SeveralFault {
    /// The only one is no figure.
    #[error(transparent)]
    One(#[from] EntryFault),
    /// One of them is no figure.
    #[error("reading {n}: {fault}")]
    Figure {
        /// Which one, from 1.
        n: usize,
        /// Why.
        fault: EntryFault,
    },
    /// They give no value.
    #[error(transparent)]
    Settle(#[from] RepeatFault),
}

impl Several {
    /// As they are typed: `44.7; 44.8; 44.9`.
    pub fn typed(&self) -> String {
        let texts = self.taken.iter().map(|reading| reading.text.as_str()).collect::<Vec<_>>();
        let because = self.reason.as_ref().map(|reason| format!(" because {reason}"));
        texts.join("; ") + &because.unwrap_or_default()
    }
}

impl SeveralNote {
    /// What is typed, in words: `3 readings, split by ";"; the median counts`.
    pub fn words(&self) -> String {
        let rule = self.repeats.rule.word();
        if self.points.is_empty() {
            format!("{} readings, with `;` between them; the {rule} counts", self.repeats.count)
        } else {
            let points = self.points.iter().map(Name::spoken).collect::<Vec<_>>().join("; ");
            format!("one reading at each point, in this order: {points}; the {rule} counts")
        }
    }
}

impl MeasureNote {
    /// What is understood of `text`: one reading, or as many as the step asks for with `;` between
    /// them and after one too many `because` and a reason.
    ///
    /// # Errors
    /// What is no figure, or no value of several.
    pub fn parse(&self, text: &str) -> Result<(Reading, Option<Box<Several>>), SeveralFault> {
        let one = |n: usize, text: &str| {
            Reading::parse(text, self.unit).map_err(|fault| SeveralFault::Figure { n, fault })
        };
        if self.several.is_none() {
            return Ok((Reading::parse(text, self.unit)?, None));
        }
        let (figures, reason) = match text.split_once("because") {
            Some((figures, reason)) => (figures, Some(reason.trim().to_owned())),
            None => (text, None),
        };
        let taken = figures
            .trim()
            .trim_end_matches(';')
            .split(';')
            .enumerate()
            .map(|(at, text)| one(at.saturating_add(1), text.trim()))
            .collect::<Result<Vec<_>, _>>()?;
        let reading = self.settled(&taken)?;
        Ok((reading, Some(Box::new(Several { taken, reason }))))
    }

    /// The reading that counts of several.
    ///
    /// # Errors
    /// No reading, too many, readings of different kinds.
    pub fn settled(&self, taken: &[Reading]) -> Result<Reading, RepeatFault> {
        let Some(several) = &self.several else {
            return taken.first().cloned().ok_or(RepeatFault::None);
        };
        let values: Vec<_> = taken.iter().map(|reading| reading.value.clone()).collect();
        let settled = several.repeats.rule.settle(&values, self.limit())?;
        Ok(match settled.reading.and_then(|at| taken.get(at)) {
            Some(reading) => reading.clone(),
            None => Reading {
                text: settled.value.render(self.unit),
                unit: self.unit,
                value: settled.value,
            },
        })
    }

    /// Whether `several` is what the step asks for, and `reading` the value of them.
    pub(super) fn several_fit(
        &self,
        reading: &Reading,
        several: Option<&Several>,
    ) -> Result<(), Refusal> {
        let (note, given) = match (&self.several, several) {
            (None, None) => return Ok(()),
            (Some(note), Some(given)) => (note, given),
            (None, Some(_)) | (Some(_), None) => {
                return Err(Refusal::WrongKind { asked: "measure" });
            }
        };
        let (asked, taken) = (note.repeats.count, given.taken.len());
        if taken < asked || (!note.points.is_empty() && taken > asked) {
            return Err(Refusal::ReadingCount { asked, taken });
        }
        match &given.reason {
            None if taken > asked => return Err(Refusal::OneReadingTooMany { asked }),
            Some(_) if taken == asked => return Err(Refusal::WrongKind { asked: "measure" }),
            Some(reason) => super::accept::line("the reason", reason)?,
            None => {}
        }
        match self.settled(&given.taken) {
            Ok(settled) if settled == *reading => Ok(()),
            Ok(_) => Err(Refusal::SettledOtherwise { rule: note.repeats.rule.word() }),
            Err(fault) => Err(Refusal::BadReadings(fault.to_string())),
        }
    }
}
