//! The job sheet and the machine's history, in lines.

use super::{Halt, Walker};
use crate::shown::sheet::{DecidedLine, Taken};
use crate::shown::{HistoryShown, Sheet, Shown};
use crate::units::Side;

/// A step's text and where it is done.
fn at(text: &str, position: Option<&str>) -> String {
    let text = text.trim_end_matches('.');
    position.map_or_else(|| text.to_owned(), |position| format!("{text}, {position}"))
}

impl Walker<'_> {
    /// Parts, readings as found and as left, cause, deviations, decisions, corrections, notes.
    pub(super) fn sheet(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        let sheet = Sheet::of(self.session);
        self.talk.say(match sheet.parts.len() {
            0 => "No parts to fetch so far.",
            _ => "Parts to fetch:",
        })?;
        for part in &sheet.parts {
            let number = part.number.as_deref().map_or_else(String::new, |n| format!(" ({n})"));
            let at = if part.position.is_empty() {
                String::new()
            } else {
                format!(", for {}", part.position)
            };
            self.talk.say(&format!(
                "{} x {}{number}{at}: {}",
                part.quantity, part.title, part.because
            ))?;
        }
        for reading in &sheet.readings {
            let said = |taken: &Option<Taken>| {
                taken.as_ref().map_or_else(
                    || "not read".to_owned(),
                    |taken| format!("{} {}{}", taken.text, taken.word(), taken.with_text()),
                )
            };
            self.talk.say(&format!(
                "Reading: {}. As found: {}. As left: {}. Limit: {}.",
                at(&reading.text, reading.position.as_deref()),
                said(&reading.found),
                said(&reading.left),
                reading.limit
            ))?;
        }
        for cause in &sheet.causes {
            let about = at(&cause.about, cause.position.as_deref());
            let word = if cause.entered { "Cause" } else { "Likely cause" };
            self.talk.say(&format!("{word}: {about} -> {}", cause.text))?;
        }
        for line in &sheet.deviations {
            self.decided("Deviation", line, &shown)?;
        }
        for line in &sheet.decisions {
            self.decided("Decision", line, &shown)?;
        }
        for correction in &sheet.corrections {
            self.talk.say(&format!("Corrected: {correction}"))?;
        }
        for (by, about, text) in &sheet.notes {
            let by = shown.name_or_nobody(by.as_ref());
            let about = about.as_deref().unwrap_or("the job");
            self.talk.say(&format!("Note by {by} on {about}: {text}"))?;
        }
        Ok(())
    }

    fn decided(&mut self, word: &str, line: &DecidedLine, shown: &Shown) -> Result<(), Halt> {
        let by = shown.name_or_nobody(line.by.as_ref());
        let about = at(&line.about, line.position.as_deref());
        self.talk.say(&format!("{word}: {about} -> {}; {by}: {}", line.what, line.reason))?;
        Ok(())
    }

    /// The machine's jobs, and each reading over them with its limit and its trend.
    pub(super) fn history(&mut self) -> Result<(), Halt> {
        let history = match HistoryShown::of(self.session) {
            Ok(history) => history,
            Err(why) => {
                self.talk.say(&format!("There is no history to show: {why}."))?;
                return Ok(());
            }
        };
        for past in &history.jobs {
            let stands = match past.released_at {
                _ if past.job == *self.session.job() => "this one".to_owned(),
                Some(at) => format!("released {}", at.spoken()),
                None => "open".to_owned(),
            };
            let (procedure, at) = (past.procedure.spoken(), past.opened_at.spoken());
            self.talk.say(&format!("Job {}: {procedure}, {at}, {stands}.", past.job))?;
        }
        for (job, why) in &history.damaged {
            self.talk.say(&format!("Job {job}: DAMAGED: {why}."))?;
        }
        if history.series.is_empty() {
            self.talk.say("No reading of this procedure was taken on this machine yet.")?;
        }
        for series in &history.series {
            let about = at(&series.text, series.position.as_deref());
            self.talk.say(&format!("Reading: {about}. Limit: {}.", series.limit.render()))?;
            for point in &series.points {
                let word = match series.limit.judge(&point.reading.value) {
                    Some(Side::Within) | None => "within",
                    Some(Side::Below) => "BELOW",
                    Some(Side::Above) => "ABOVE",
                };
                let (at, echo) = (point.at.spoken(), point.reading.echo());
                self.talk.say(&format!("  {}, {at}: {echo}, {word}", point.job))?;
            }
            self.talk.say(&format!("  Trend: {}.", series.trend_text()))?;
        }
        Ok(())
    }
}
