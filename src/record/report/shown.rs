//! Rows of the report that are told by addresses in the record, with what stands at the addresses.

use serde::Serialize;

use super::findings::{self, what};
use super::index::{Index, done_words};
use super::parts;
use super::words::{self, places};
use crate::record::completion::{Answer, Disposition, Part};

/// A step left out, or done otherwise than written.
#[derive(Debug, Serialize)]
pub(super) struct Departure<'a> {
    pub(super) text: String,
    pub(super) says: String,
    pub(super) n: u64,
    pub(super) at: &'a str,
    pub(super) by: Option<&'a str>,
}

pub(super) fn departures<'a>(index: &Index<'a>) -> Vec<Departure<'a>> {
    let told = findings::departures(index).into_iter();
    told.map(|(step, says)| Departure {
        text: index.asked_where(step),
        says,
        n: step.n,
        at: &step.at,
        by: step.by.as_deref(),
    })
    .collect()
}

/// A part that was needed.
#[derive(Debug, Serialize)]
pub(super) struct Needed {
    pub(super) quantity: u32,
    pub(super) title: String,
    pub(super) number: Option<String>,
    pub(super) place: String,
    pub(super) because: String,
    pub(super) missing: bool,
}

pub(super) fn needed(index: &Index<'_>) -> Vec<Needed> {
    let record = index.record;
    let one = |part: &Part| Needed {
        quantity: part.quantity,
        title: part.title.clone(),
        number: part.number.clone(),
        place: places(&[&part.position]),
        because: match index.step(&part.because) {
            Some(step) => format!(
                "{}: {}",
                index.inspected(step).unwrap_or(step).text.trim_end_matches('.'),
                parts::reason(index, &part.because)
            ),
            None => part.because.clone(),
        },
        missing: parts::lacks(record, part) > 0,
    };
    record.parts.iter().map(one).collect()
}

/// A failed result and what was done about it.
#[derive(Debug, Serialize)]
pub(super) struct Settled<'a> {
    pub(super) place: String,
    pub(super) what: String,
    pub(super) rules: &'a str,
    pub(super) verdict: &'a str,
    pub(super) done: String,
    pub(super) says: String,
    pub(super) by: Option<&'a str>,
    pub(super) at: Option<&'a str>,
    pub(super) n: u64,
    pub(super) done_n: Option<u64>,
}

pub(super) fn settled<'a>(index: &Index<'a>) -> Vec<Settled<'a>> {
    let one = |d: &'a Disposition| {
        let step = index.step(&d.address);
        let says = match (d.done.as_str(), step.and_then(|step| index.later(step))) {
            ("inspected_again", Some(later)) => format!("then: {}", what(later)),
            // Which parts, without where in the procedure.
            ("fitted", _) => {
                let each = d.says.split("; ");
                let parts = each.map(|one| one.split_once(" fitted at ").map_or(one, |(p, _)| p));
                parts.collect::<Vec<_>>().join("; ")
            }
            _ => d.says.clone(),
        };
        // Not once more what the row says already.
        let done = done_words(d);
        let says =
            says.strip_prefix(&done).and_then(|rest| rest.strip_prefix(": ")).unwrap_or(&says);
        Settled {
            place: index.place(&d.address),
            what: step.map_or_else(|| d.what.clone(), what),
            rules: &d.rules,
            verdict: &d.verdict,
            says: if says == done { String::new() } else { says.to_owned() },
            done,
            by: d.by.as_deref(),
            at: d.at.as_deref(),
            n: d.n,
            done_n: d.done_n,
        }
    };
    index.record.dispositions.iter().map(one).collect()
}

/// What the releaser looked at, addresses told by what was asked there.
pub(super) fn looked(index: &Index<'_>) -> Vec<String> {
    let one = |line: &String| {
        let known = line.split_once(": ").and_then(|(at, rest)| Some((index.step(at)?, rest)));
        let Some((step, rest)) = known else { return named(index, line) };
        let rest = match (&step.answer, rest.split_once(" (")) {
            (Answer::Found(_), Some((verdict, _))) => format!("{verdict} ({})", what(step)),
            _ => named(index, rest),
        };
        let asked = index.inspected(step).unwrap_or(step);
        let asked = asked.text.trim_end_matches('.');
        let place = super::index::with_place(asked, &words::position(&step.address));
        format!("{place}: {rest}")
    };
    index.record.exceptions.shown.iter().map(one).collect()
}

/// A line with people by their names, and addresses by what was asked there.
fn named(index: &Index<'_>, line: &str) -> String {
    let mut said: Vec<String> = Vec::new();
    for word in line.split(' ') {
        let bare = word.trim_matches(['(', ')', ':', ',', ';', '.']);
        let (head, tail) = word.split_once(bare).unwrap_or(("", ""));
        let is_address = bare.contains(['/', '_']) || said.last().is_some_and(|w| w == "at");
        let name = index.name(bare);
        let told = match index.step(bare).filter(|_| is_address) {
            _ if bare.is_empty() => word.to_owned(),
            Some(step) => {
                let asked = index.inspected(step).unwrap_or(step);
                let place = words::position(&step.address);
                let place = super::index::with_place(&asked.text, &place);
                format!("{head}“{}”{tail}", place.trim_end_matches('.'))
            }
            None if name != bare => format!("{head}{name}{tail}"),
            None if bare.contains('=') && bare.is_ascii() => {
                format!("{head}{}{tail}", words::places(&[bare]))
            }
            None => words::entered(word),
        };
        said.push(told);
    }
    said.join(" ")
}
