//! What stands behind the first page: each step, each instrument once, and what was not asked, told by
//! its reason.

use serde::Serialize;

use super::findings::what;
use super::index::{Index, with_place};
use super::parts::is_new;
use super::words::{self, places, position, position_of, read_as, without_passes};
use crate::record::completion::{Answer, Figure, Instrument, Limit, Step, Wrench};

/// One step, for people.
#[derive(Debug, Serialize)]
pub(super) struct Line<'a> {
    pub(super) n: u64,
    pub(super) confirmed: Option<u64>,
    pub(super) within: String,
    pub(super) text: String,
    pub(super) position: String,
    pub(super) address: &'a str,
    pub(super) limit: String,
    pub(super) what: String,
    /// What else there is to say of the answer, a line each.
    pub(super) notes: Vec<String>,
    pub(super) said: Vec<String>,
    pub(super) verdict: &'a Option<String>,
    pub(super) verdict_judged: &'a Option<String>,
    /// True where it was accepted and done once more all the same.
    pub(super) is_once_more: bool,
    pub(super) step: &'a Step,
}

/// What was not asked, by its reason.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub(super) struct NotAsked {
    pub(super) because: String,
    /// Each step once, with its places.
    pub(super) steps: Vec<String>,
}

/// A part as it was fitted.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub(super) struct FittedLine {
    pub(super) title: String,
    pub(super) number: Option<String>,
    pub(super) lot: Option<String>,
    pub(super) quantity: u32,
    pub(super) place: String,
    pub(super) is_new: bool,
    pub(super) by: String,
    pub(super) entries: Vec<u64>,
    #[serde(skip)]
    positions: Vec<String>,
}

pub(super) fn lines<'a>(index: &Index<'a>) -> Vec<Line<'a>> {
    index.record.steps.iter().map(|step| line(index, step)).collect()
}

fn line<'a>(index: &Index<'a>, step: &'a Step) -> Line<'a> {
    let mut within = step.within.clone();
    within.dedup();
    Line {
        n: step.n,
        confirmed: step.confirmed,
        within: within.join(" › "),
        text: index.asked(step),
        position: position(&step.address),
        address: &step.address,
        limit: step.limit.as_ref().map_or_else(String::new, limit_words),
        what: what(step),
        notes: notes(step),
        said: step.said.clone(),
        verdict: &step.verdict,
        verdict_judged: &step.verdict_judged,
        is_once_more: matches!(step.answer, Answer::Found(_))
            && step.verdict.as_deref() == Some("accept")
            && index.later(step).is_some(),
        step,
    }
}

/// A limit with what stands behind it, nothing said twice.
fn limit_words(limit: &Limit) -> String {
    let mut words = limit.words.clone();
    if limit.blind {
        words.push_str(", shown only after the reading was saved");
    }
    if let Some(basis) = &limit.basis {
        words.extend([" (", basis, ")"]);
    }
    words
}

fn notes(step: &Step) -> Vec<String> {
    let read = |figure: &Figure| Some(format!("read as {}", read_as(figure)?));
    match &step.answer {
        Answer::Read { reading, instrument, .. } => {
            let typed = words::as_typed(reading);
            let with =
                (!step.what.contains(&instrument.id)).then(|| format!("with {}", instrument.id));
            let typed = (!step.what.contains(&typed)).then(|| format!("typed {typed}"));
            [typed, read(reading), with].into_iter().flatten().collect()
        }
        Answer::EnteredFigure(figure) => read(figure).into_iter().collect(),
        Answer::Found(found) => {
            let causes = found.iter().filter_map(|finding| finding.likely_cause.as_ref());
            causes.map(|cause| format!("likely cause: {cause}")).collect()
        }
        // Where it is held against a limit, the working says what to change.
        Answer::WorkedOut { working, .. } if step.limit.is_some() => working.clone(),
        _ => Vec::new(),
    }
}

/// A figure as it was typed, and how it was read where that differs.
pub(super) fn figure(figure: &Figure) -> String {
    let typed = words::as_typed(figure);
    read_as(figure).map_or_else(|| typed.clone(), |read| format!("{typed} (read as {read})"))
}

/// A wrench as it was set, in one line.
pub(super) fn wrench(wrench: &Wrench) -> String {
    let mut said = format!(
        "{} set to {}: {} at the fastener{}, thread {}",
        wrench.instrument.id,
        figure(&wrench.setting),
        wrench.torque,
        if wrench.worked_out == "exact" {
            String::new()
        } else {
            format!(" ({})", wrench.worked_out)
        },
        wrench.thread
    );
    if let Some(adapter) = &wrench.adapter {
        let (extension, length) = (figure(&adapter.extension), figure(&adapter.length));
        said.extend([", adapter ", &extension, " on ", &length, " at ", &figure(&adapter.angle)]);
    }
    said
}

/// Every instrument as it stood, once.
pub(super) fn instruments<'a>(index: &Index<'a>) -> Vec<&'a Instrument> {
    let record = index.record;
    let of_rounds = |rounds: &'a [crate::record::completion::Round]| {
        rounds.iter().map(|round| &round.wrench.instrument)
    };
    let mut all: Vec<&'a Instrument> = Vec::new();
    for step in &record.steps {
        match &step.answer {
            Answer::Read { instrument, .. } => all.push(instrument),
            Answer::Tightened(rounds) => all.extend(of_rounds(rounds)),
            _ => {}
        }
    }
    all.extend(record.loosened.iter().flat_map(|loosened| of_rounds(&loosened.superseded)));
    all.extend(record.rechecks.iter().map(|check| &check.instrument));
    all.extend(record.zero_checks.iter().map(|check| &check.instrument));
    let mut once: Vec<&'a Instrument> = Vec::new();
    for instrument in all {
        if !once.contains(&instrument) {
            once.push(instrument);
        }
    }
    once.sort_by(|one, other| one.id.cmp(&other.id));
    once
}

/// Steps that were not asked for one reason, at whatever places.
struct Reason {
    /// The reason, its places taken off.
    key: String,
    /// What was not so, and the step whose answer it is about with its places.
    head: String,
    of: Option<(String, Vec<String>)>,
    steps: Vec<(String, Vec<String>)>,
}

pub(super) fn not_asked(index: &Index<'_>) -> Vec<NotAsked> {
    let mut all: Vec<Reason> = Vec::new();
    for step in &index.record.not_applicable {
        let (head, of) = match step.because.rsplit_once(" of ") {
            Some((head, address)) if !address.contains(' ') => (head, Some(address)),
            _ => (step.because.as_str(), None),
        };
        let key = format!("{head} {}", of.map_or_else(String::new, without_positions));
        let at = all.iter().position(|reason| reason.key == key).unwrap_or_else(|| {
            all.push(Reason {
                key,
                head: of.map_or_else(|| words::condition(head), |_| outcome(head)),
                of: of.map(|address| (index.text(address), Vec::new())),
                steps: Vec::new(),
            });
            all.len() - 1
        });
        let Some(reason) = all.get_mut(at) else { continue };
        if let (Some((_, places)), Some(address)) = (&mut reason.of, of) {
            places.push(position_of(address));
        }
        let position = position_of(&step.address);
        match reason.steps.iter_mut().find(|(text, _)| *text == step.text) {
            Some((_, positions)) => positions.push(position),
            None => reason.steps.push((step.text.clone(), vec![position])),
        }
    }
    let placed = |(text, positions): (String, Vec<String>)| {
        with_place(&text, &places(&positions.iter().map(String::as_str).collect::<Vec<_>>()))
    };
    let told = all.into_iter().map(|reason| NotAsked {
        because: match reason.of {
            Some(of) => format!("{} at “{}”", reason.head, placed(of).trim_end_matches('.')),
            None => reason.head,
        },
        steps: reason.steps.into_iter().map(placed).collect(),
    });
    told.collect()
}

/// An address whatever the position and the pass.
fn without_positions(address: &str) -> String {
    let words = without_passes(address);
    let parts = words.split('[').map(|part| part.split_once(']').map_or(part, |(_, rest)| rest));
    parts.collect()
}

/// An outcome of a step, as the reason why others were not asked.
fn outcome(head: &str) -> String {
    if let Some(found) = head.strip_prefix("finding ") {
        return format!("“{}” was found", words::spoken(found.trim_matches('`')));
    }
    match head.strip_prefix("decision ") {
        Some("rework") => "it had to be done once more".to_owned(),
        Some(verdict) => format!("the verdict was {verdict}"),
        None => words::spoken(head),
    }
}

/// Parts as they were fitted, those alike in one line; what is new first.
pub(super) fn fitted(index: &Index<'_>) -> Vec<FittedLine> {
    let record = index.record;
    let mut all: Vec<FittedLine> = Vec::new();
    for fitted in &record.fitted {
        let is_new = is_new(record, fitted);
        let by = fitted.by.as_deref().map_or("", |by| index.name(by));
        let same = all.iter_mut().find(|known| {
            (&known.title, &known.number, &known.lot, known.is_new, known.by.as_str())
                == (&fitted.title, &fitted.number, &fitted.lot, is_new, by)
        });
        match same {
            Some(known) => {
                known.quantity = known.quantity.saturating_add(fitted.quantity);
                known.positions.push(fitted.position.clone());
                known.entries.push(fitted.n);
            }
            None => all.push(FittedLine {
                title: fitted.title.clone(),
                number: fitted.number.clone(),
                lot: fitted.lot.clone(),
                quantity: fitted.quantity,
                place: String::new(),
                is_new,
                by: by.to_owned(),
                entries: vec![fitted.n],
                positions: vec![fitted.position.clone()],
            }),
        }
    }
    for one in &mut all {
        one.place = places(&one.positions.iter().map(String::as_str).collect::<Vec<_>>());
    }
    all.sort_by_key(|one| !one.is_new);
    all
}
