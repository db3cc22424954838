//! What the first page tells: the outcome, why it failed, what to change, the next service, figures
//! outside their limits, parts replaced and who signed. One summary for page, Markdown and text.

use std::collections::BTreeMap;

use serde::Serialize;

use super::readings::{self, Row, position, spoken_position};
use crate::procedure::model::Headline;
use crate::record::completion::{Answer, Fitted, Part, Record, Step};

/// So many rows of a table stand on the first page; the rest is counted.
const ROWS_MAX: usize = 12;

/// What stands before everything else.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct FirstPage {
    /// How the job ended, in words.
    pub(super) outcome: &'static str,
    pub(super) groups: Vec<Group>,
    /// Places that were measured or worked out against a limit.
    pub(super) n_judged: usize,
    /// Those outside their limit, as found or as left.
    pub(super) outside: Vec<Row>,
    /// Further ones that do not stand on the first page.
    pub(super) n_more_outside: usize,
    /// What the parts below are: renewed, or needed where the job was stopped.
    pub(super) parts_title: &'static str,
    pub(super) replaced: Vec<Replaced>,
    /// True where some of them are renewed whatever is found.
    pub(super) has_routine: bool,
    pub(super) n_more_replaced: usize,
    pub(super) signers: Vec<Signer>,
}

/// Answers under one heading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Group {
    pub(super) under: &'static str,
    pub(super) title: &'static str,
    pub(super) lines: Vec<Told>,
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Told {
    pub(super) label: String,
    pub(super) says: String,
}

/// A part that the machine needed, at all its places.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Replaced {
    pub(super) title: String,
    pub(super) number: Option<String>,
    pub(super) quantity: u32,
    pub(super) places: String,
    pub(super) lots: String,
    pub(super) because: String,
    /// True where an inspection called for it.
    pub(super) is_failed: bool,
}

/// A person with everything that they signed for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Signer {
    pub(super) name: String,
    pub(super) roles: String,
    pub(super) says: Vec<String>,
    /// The last signature.
    pub(super) at: String,
}

impl FirstPage {
    /// Of a record with the rows of its readings.
    pub(super) fn of(record: &Record, rows: &[Row]) -> Self {
        let n_judged = rows.iter().filter(|row| !row.limit.is_empty()).count();
        let mut outside: Vec<Row> = rows.iter().filter(|row| row.is_outside).cloned().collect();
        let n_more_outside = outside.len().saturating_sub(ROWS_MAX);
        outside.truncate(ROWS_MAX);
        let mut replaced = replaced(record);
        let n_more_replaced = replaced.len().saturating_sub(ROWS_MAX);
        replaced.truncate(ROWS_MAX);
        Self {
            outcome: match record.outcome.as_str() {
                "completed" => "Completed and released",
                "stopped" => "Stopped, and released as stopped",
                _ => "Released",
            },
            groups: groups(record),
            n_judged,
            outside,
            n_more_outside,
            parts_title: if record.outcome == "completed" {
                "Parts renewed"
            } else {
                "Parts needed"
            },
            has_routine: replaced.iter().any(|part| !part.is_failed),
            replaced,
            n_more_replaced,
            signers: signers(record),
        }
    }
}

fn title(headline: Headline) -> &'static str {
    match headline {
        Headline::Cause => "Why it failed",
        Headline::Change => "What to change",
        Headline::NextService => "Next service",
    }
}

fn groups(record: &Record) -> Vec<Group> {
    let all = Headline::ALL.into_iter().map(|headline| Group {
        under: headline.word(),
        title: title(headline),
        lines: told(record, headline),
    });
    all.filter(|group| !group.lines.is_empty()).collect()
}

/// The answers under a heading, the last pass of each place. Where a procedure names no cause, the
/// likely causes that its findings name stand there.
fn told(record: &Record, headline: Headline) -> Vec<Told> {
    let mut lines: BTreeMap<usize, (String, Told)> = BTreeMap::new();
    for (at, step) in record.steps.iter().enumerate() {
        let Some(told) = step.headline.as_ref().filter(|h| h.under == headline.word()) else {
            continue;
        };
        let place = readings::without_passes(&step.address);
        let position = position(&step.address);
        let label = match position.as_str() {
            "" => told.label.clone(),
            position => format!("{} ({position})", told.label),
        };
        let first = lines.iter().find(|(_, (known, _))| *known == place).map(|(first, _)| *first);
        lines.insert(first.unwrap_or(at), (place, Told { label, says: told.says.clone() }));
    }
    if lines.is_empty() && headline == Headline::Cause {
        return likely_causes(&record.steps);
    }
    lines.into_values().map(|(_, told)| told).collect()
}

fn likely_causes(steps: &[Step]) -> Vec<Told> {
    let mut told: Vec<Told> = Vec::new();
    for step in steps {
        let Answer::Found(found) = &step.answer else { continue };
        for finding in found {
            let Some(says) = &finding.likely_cause else { continue };
            if !told.iter().any(|known| known.says == *says) {
                let label = format!("Likely, by “{}”", finding.see);
                told.push(Told { label, says: says.clone() });
            }
        }
    }
    told
}

/// The parts needed, those that an inspection called for first.
fn replaced(record: &Record) -> Vec<Replaced> {
    let mut groups: Vec<(&Part, Vec<&Part>)> = Vec::new();
    for part in &record.parts {
        match groups.iter_mut().find(|(first, _)| first.part == part.part) {
            Some((_, parts)) => parts.push(part),
            None => groups.push((part, vec![part])),
        }
    }
    let mut replaced: Vec<Replaced> =
        groups.iter().map(|(first, parts)| replaced_one(record, first, parts)).collect();
    replaced.sort_by_key(|part| !part.is_failed);
    replaced
}

fn replaced_one(record: &Record, first: &Part, parts: &[&Part]) -> Replaced {
    let mut because: Vec<String> = Vec::new();
    for part in parts {
        let why = reason(record, &part.because);
        if !because.contains(&why) {
            because.push(why);
        }
    }
    Replaced {
        title: first.title.clone(),
        number: first.number.clone(),
        quantity: parts.iter().map(|part| part.quantity).sum(),
        places: places(&parts.iter().map(|part| part.position.as_str()).collect::<Vec<_>>()),
        lots: lots(record, parts).join(", "),
        is_failed: parts.iter().any(|part| step_of(record, &part.because).is_some()),
        because: because.join("; "),
    }
}

fn step_of<'a>(record: &'a Record, address: &str) -> Option<&'a Step> {
    record.steps.iter().find(|step| step.address == address)
}

/// Why a part is needed, as an owner reads it: what was seen or measured, else as it stands.
fn reason(record: &Record, because: &str) -> String {
    let Some(step) = step_of(record, because) else { return because.to_owned() };
    match &step.answer {
        Answer::Found(found) => {
            found.iter().map(|finding| finding.see.as_str()).collect::<Vec<_>>().join("; ")
        }
        Answer::Decided { reason, .. } => reason.clone(),
        Answer::Read { .. } => {
            step.what.split_once(", with ").map_or(&*step.what, |(figure, _)| figure).to_owned()
        }
        _ => format!("{} {}", step.text, step.what),
    }
}

/// The lots of what was fitted in the place of `parts`.
fn lots(record: &Record, parts: &[&Part]) -> Vec<String> {
    let lies_in = |fitted: &&Fitted| {
        parts.iter().any(|part| {
            part.part == fitted.part
                && part
                    .position
                    .split(',')
                    .all(|key| key.is_empty() || fitted.position.split(',').any(|own| own == key))
        })
    };
    let mut lots: Vec<String> = Vec::new();
    for lot in record.fitted.iter().filter(lies_in).filter_map(|fitted| fitted.lot.as_ref()) {
        if !lots.contains(lot) {
            lots.push(lot.clone());
        }
    }
    let stated = record
        .dispositions
        .iter()
        .filter(|disposition| parts.iter().any(|part| part.because == disposition.address));
    for lot in stated.filter_map(|disposition| disposition.lot.as_ref()) {
        if !lots.contains(lot) {
            lots.push(lot.clone());
        }
    }
    lots
}

/// Positions as people say them: `cylinder 1, 2, 3` where nothing else is told apart.
fn places(positions: &[&str]) -> String {
    let mut by_key: Vec<(&str, Vec<&str>)> = Vec::new();
    for position in positions.iter().filter(|position| !position.is_empty()) {
        let Some((key, value)) = position.split_once('=').filter(|(_, v)| !v.contains(',')) else {
            // More than one key: each place by itself.
            let all = positions.iter().map(|position| spoken_position(position));
            return all.collect::<Vec<_>>().join("; ");
        };
        match by_key.iter_mut().find(|(known, _)| *known == key) {
            Some((_, values)) => values.push(value),
            None => by_key.push((key, vec![value])),
        }
    }
    let spoken = by_key.iter().map(|(key, values)| {
        let mut values = values.clone();
        values.dedup();
        format!("{key} {}", values.join(", "))
    });
    spoken.collect::<Vec<_>>().join("; ")
}

/// Who signed, in the order of their first entry, with what each signature means.
fn signers(record: &Record) -> Vec<Signer> {
    let said = |id: &str| {
        let mut counts: Vec<(&str, usize)> = Vec::new();
        for signature in record.signatures.iter().filter(|s| s.signer == id) {
            match counts.iter_mut().find(|(meaning, _)| *meaning == signature.meaning) {
                Some((_, n)) => *n += 1,
                None => counts.push((&signature.meaning, 1)),
            }
        }
        counts
    };
    let release = &record.release;
    let signer = |id: &str, name: &str, roles: &[String]| {
        let counts = said(id);
        let mut says: Vec<String> =
            counts.iter().filter_map(|(meaning, n)| words(meaning, *n)).collect();
        let mut own = record.signatures.iter().filter(|s| s.signer == id).map(|s| s.at.as_str());
        let mut at = own.next_back().unwrap_or_default().to_owned();
        if release.signer == id {
            says.push(format!("released the job as {}", release.role));
            at.clone_from(&release.at);
        }
        (!says.is_empty()).then(|| Signer {
            name: name.to_owned(),
            roles: roles.join(", "),
            says,
            at,
        })
    };
    let people = record.people.iter();
    people.filter_map(|person| signer(&person.id, &person.name, &person.roles)).collect()
}

/// What so many signatures of one meaning say; nothing for those that only begin a person's work.
fn words(meaning: &str, n: usize) -> Option<String> {
    let many = |one: &str, more: &str| {
        if n == 1 { format!("1 {one}") } else { format!("{n} {more}") }
    };
    Some(match meaning {
        "identified" => return None,
        "performed" => "signed for the work that they carried out".to_owned(),
        "decided" => format!("decided {}", many("doubtful result", "doubtful results")),
        "hold_released" => format!("released {}", many("hold point", "hold points")),
        "resumed" => format!("let the work go on after {}", many("stop", "stops")),
        "deviated" => {
            format!("let {} be left out or done otherwise than written", many("step", "steps"))
        }
        "disposed" => {
            format!("stated what was done about {}", many("failed result", "failed results"))
        }
        "conceded" => format!(
            "put another verdict in the place of that of the rules for {}",
            many("result", "results")
        ),
        other => format!("signed {}", many(other, other)),
    })
}
