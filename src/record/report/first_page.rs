//! What the first page tells: the outcome, what was found, why it failed, what to change, the next
//! service, figures outside their limits, parts renewed and who signed. One summary for page, Markdown
//! and text.

use serde::Serialize;

use super::findings::{self, Found};
use super::index::{Index, with_place};
use super::parts::{self, Pieces};
use super::readings::Row;
use super::sheet;
use super::signers::{self, Signer};
use super::words::{self, count, places, position_of, without_passes};
use crate::ids::Moment;
use crate::procedure::model::Headline;
use crate::record::completion::{Answer, Headline as Answered, Step};

/// What stands before everything else.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct FirstPage {
    /// How the job ended, in words.
    pub(super) outcome: &'static str,
    pub(super) is_stopped: bool,
    pub(super) groups: Vec<Group>,
    pub(super) has_headlines: bool,
    /// Results that the rules did not let pass; figures stand in the table of figures.
    pub(super) found: Vec<Found>,
    pub(super) more_found: Vec<String>,
    /// How many figures were held against a limit, and which are outside, in words.
    pub(super) figures: String,
    /// Those outside their limit or in doubt, as found or as left.
    pub(super) outside: Vec<Row>,
    /// Further ones, each in a few words; a sheet has room for so many rows.
    pub(super) more_outside: Vec<String>,
    /// What the parts below are: renewed, or fitted before the stop.
    pub(super) parts_title: &'static str,
    pub(super) renewed: Vec<Pieces>,
    pub(super) more_renewed: Vec<String>,
    /// Renewed whatever was found.
    pub(super) routine: Vec<Pieces>,
    /// What the parts below are: needed, and not fitted.
    pub(super) missing_title: &'static str,
    pub(super) missing: Vec<Pieces>,
    pub(super) more_missing: Vec<String>,
    /// Steps left out, done otherwise, verdicts put in the place of others, and corrections, counted.
    pub(super) departures: String,
    pub(super) signers: Vec<Signer>,
}

/// Answers under one heading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Group {
    pub(super) under: &'static str,
    pub(super) title: &'static str,
    /// True for what is told in the frame of the outcome, line by line.
    pub(super) is_fact: bool,
    /// True where the first answer is what somebody stands for, and may be set off.
    pub(super) is_stated: bool,
    pub(super) lines: Vec<Told>,
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Told {
    pub(super) label: String,
    pub(super) says: String,
}

impl FirstPage {
    /// Of a record with the rows of its readings.
    pub(super) fn of(index: &Index<'_>, rows: &[Row]) -> Self {
        let record = index.record;
        let is_stopped = record.outcome == "stopped";
        let parts = parts::of(index);
        let mut outside: Vec<Row> =
            rows.iter().filter(|row| row.is_outside || row.is_in_doubt).cloned().collect();
        let figures = figures(rows);
        let mut found: Vec<Found> =
            findings::refused(index).into_iter().filter(|found| !found.is_figure).collect();
        let (mut renewed, routine): (Vec<_>, Vec<_>) =
            parts.renewed.into_iter().partition(|pieces| pieces.is_failed);
        let mut missing = parts.missing;
        let groups = groups(index);
        let (more_found, more_renewed, more_outside, more_missing) = sheet::fit(
            sheet::room(&groups),
            (&mut found, &mut renewed, &mut outside, &mut missing),
        );
        Self {
            outcome: match record.outcome.as_str() {
                "completed" => "Completed and released",
                "stopped" => "Stopped, and released as stopped",
                _ => "Released",
            },
            is_stopped,
            has_headlines: groups.iter().any(|group| !group.is_fact),
            groups,
            found,
            more_found: more_found.iter().map(Found::in_short).collect(),
            figures,
            outside,
            more_outside: more_outside.iter().map(Row::in_short).collect(),
            parts_title: if is_stopped { "Parts fitted before the stop" } else { "Parts renewed" },
            renewed,
            more_renewed: more_renewed.iter().map(Pieces::in_short).collect(),
            routine,
            missing_title: "Parts needed and not fitted",
            missing,
            more_missing: more_missing.iter().map(Pieces::in_short).collect(),
            departures: departures(index),
            signers: signers::signers(index),
        }
    }
}

/// How many figures there are, and how many of them are not within their limit.
fn figures(rows: &[Row]) -> String {
    let n_judged = rows.iter().filter(|row| !row.limit.is_empty()).count();
    let n_outside = rows.iter().filter(|row| row.is_outside).count();
    let n_in_doubt = rows.iter().filter(|row| row.is_in_doubt).count();
    let doubt = match n_in_doubt {
        0 => String::new(),
        n => format!("; {n} not taken or in doubt"),
    };
    match (n_judged, n_outside + n_in_doubt) {
        (0, 0) => "Nothing was held against a limit.".to_owned(),
        (1, 0) => "The one figure lies within.".to_owned(),
        (n, 0) => format!("All {n} figures lie within."),
        (n, _) => format!("{n_outside} of {} outside{doubt}.", count(n, "figure", "figures")),
    }
}

/// What departs from the procedure, counted in words.
fn departures(index: &Index<'_>) -> String {
    let record = index.record;
    let deviated = findings::departures(index);
    let is_left_out = |step: &Step| matches!(step.answer, Answer::Deviated { done: false, .. });
    let n_left_out = deviated.iter().filter(|(step, _)| is_left_out(step)).count();
    let counted = [
        (n_left_out, "step left out", "steps left out"),
        (deviated.len() - n_left_out, "done otherwise than written", "done otherwise than written"),
        (record.concessions.len(), "verdict against the rule", "verdicts against the rules"),
        (record.corrections.len(), "correction", "corrections"),
        (record.late.len(), "entry made late", "entries made late"),
        (record.halts.len(), "stop of the work", "stops of the work"),
    ];
    let told = counted.into_iter().filter(|(n, ..)| *n > 0);
    let told: Vec<String> = told.map(|(n, one, more)| count(n, one, more)).collect();
    if told.is_empty() {
        "No deviations from the procedure, no corrections.".to_owned()
    } else {
        format!("{}.", told.join(", "))
    }
}

fn title(headline: Headline) -> &'static str {
    match headline {
        Headline::Found => "As it came",
        Headline::Product => "The product side",
        Headline::Cause => "Why it failed",
        Headline::Change => "What to change",
        Headline::NextService => "Next service",
    }
}

const LIKELY: &str = "Likely, by what was found";

fn groups(index: &Index<'_>) -> Vec<Group> {
    let is_stopped = index.record.outcome == "stopped";
    let group = |headline: Headline| {
        let is_cause = headline == Headline::Cause;
        let mut lines = told(index, headline);
        let mut is_stated = matches!(headline, Headline::Cause | Headline::Change);
        let mut title = title(headline);
        if is_cause && (lines.is_empty() || is_stopped) {
            (is_stated, title) = (false, LIKELY);
            lines.extend(likely(index));
        }
        let is_fact = matches!(headline, Headline::Found | Headline::Product);
        Group { under: headline.word(), title, is_fact, is_stated, lines }
    };
    let all = Headline::ALL.into_iter().map(group);
    all.filter(|group| !group.lines.is_empty()).collect()
}

/// An answer on its way to the page, with all the places where it was given.
struct Line<'a> {
    place: String,
    positions: Vec<String>,
    label: &'a str,
    says: String,
    step: &'a Step,
}

/// The answers under a heading, the last pass of each place. What was only to be done stands once, with
/// all its places.
fn told(index: &Index<'_>, headline: Headline) -> Vec<Told> {
    let mut lines: Vec<Line<'_>> = Vec::new();
    for step in &index.record.steps {
        let Some(told) = step.headline.as_ref().filter(|h| h.under == headline.word()) else {
            continue;
        };
        let place = without_passes(&step.address);
        let position = position_of(&step.address);
        let says = says(index, step, told);
        let is_done = matches!(step.answer, Answer::Done);
        let same = lines.iter_mut().find(|line| {
            line.place == place
                || is_done && line.label == told.label && line.step.answer == Answer::Done
        });
        match same {
            Some(line) => {
                (line.says, line.step) = (says, step);
                if line.place != place {
                    line.positions.push(position);
                }
            }
            None => lines.push(Line {
                place,
                positions: vec![position],
                label: &told.label,
                says,
                step,
            }),
        }
    }
    // A list that asks every job whether anything is open there says nothing of this one by itself.
    let is_asked_always = |step: &Step| match &step.answer {
        Answer::Items(items) => items.iter().all(|item| item.so),
        _ => false,
    };
    if headline == Headline::Product && lines.iter().all(|line| is_asked_always(line.step)) {
        return Vec::new();
    }
    let told = lines.into_iter().map(|line| {
        let at = places(&line.positions.iter().map(String::as_str).collect::<Vec<_>>());
        Told { label: with_place(line.label, &at), says: line.says }
    });
    told.collect()
}

fn says(index: &Index<'_>, step: &Step, told: &Answered) -> String {
    match &step.answer {
        Answer::Done => {
            let when = Moment::parse(&step.at).map_or_else(|| step.at.clone(), Moment::spoken);
            let by = step.by.as_deref().map_or("", |by| index.name(by));
            format!("{when}, {by}")
        }
        Answer::EnteredFigure(figure) | Answer::Read { reading: figure, .. } => {
            words::as_typed(figure)
        }
        Answer::WorkedOut { result: Some(result), .. } => {
            words::rounded(result, step.limit.as_ref())
        }
        _ => told.says.clone(),
    }
}

/// What likely caused it, what stopped the job first.
fn likely(index: &Index<'_>) -> Vec<Told> {
    let causes = findings::likely_causes(index);
    let causes = causes
        .into_iter()
        .map(|(see, says)| Told { label: format!("By “{}”", words::short(&see, 64)), says });
    let mut lines: Vec<Told> = causes.collect();
    if let Some(stop) = index.record.stop.as_ref().filter(|_| !lines.is_empty()) {
        lines.insert(0, Told { label: "What stopped the job".to_owned(), says: stop.text.clone() });
    }
    lines
}
