//! The table of readings: as found beside as left, with a small picture of where each lies between its
//! limits. Places in a picture are whole thousandths of its width.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};
use serde::Serialize;

use crate::record::completion::{Answer, Disposition, Figure, Limit, Step};
use crate::units::Quantity;

/// One place that was measured, or a figure that was worked out and held against a limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Row {
    pub(super) text: String,
    pub(super) address: String,
    /// Where, for people: `cylinder 2, side inlet`.
    pub(super) position: String,
    pub(super) limit: String,
    pub(super) found: Option<Cell>,
    pub(super) left: Option<Cell>,
    /// What the figure as left was asked as, where another step asked for it.
    pub(super) left_text: Option<String>,
    /// What was done about it, where no figure tells how it was left.
    pub(super) settled: Option<String>,
    pub(super) picture: Option<Picture>,
    /// True when the figure lies outside its limit, as found or as left.
    pub(super) is_outside: bool,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) verdict: Option<String>,
    /// On which side of its limit it lies outside: `below` or `above`.
    pub(super) outside: Option<&'static str>,
}

/// Where readings lie.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Picture {
    pub(super) zone_x: u32,
    pub(super) zone_width: u32,
    /// True where the limit has a least.
    pub(super) has_least: bool,
    /// True where the limit has a most.
    pub(super) has_most: bool,
    pub(super) marks: Vec<Mark>,
    pub(super) label: String,
}

/// A reading in a picture.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Mark {
    pub(super) x: u32,
    pub(super) phase: &'static str,
}

/// A picture is this wide.
const WIDTH: u32 = 1000;

/// The rows, in the order in which the places were first measured. Passes of one place share a row:
/// the first is as found, the last as left.
pub(super) fn rows(steps: &[Step], dispositions: &[Disposition]) -> Vec<Row> {
    let mut places: Vec<(String, Vec<&Step>)> = Vec::new();
    for step in steps {
        let is_judged = match step.answer {
            Answer::Read { .. } | Answer::CouldNotMeasure { .. } => true,
            Answer::WorkedOut { .. } => step.limit.is_some(),
            _ => false,
        };
        if !is_judged {
            continue;
        }
        let place = without_passes(&step.address);
        match places.iter_mut().find(|(known, _)| *known == place) {
            Some((_, passes)) => passes.push(step),
            None => places.push((place, vec![step])),
        }
    }
    let settled = |steps: &[&Step]| {
        let last = steps.last()?;
        dispositions.iter().find(|disposition| disposition.address == last.address)
    };
    places
        .iter()
        .filter_map(|(place, passes)| {
            let as_left = as_left(steps, passes);
            row(place, passes, as_left, settled(passes))
        })
        .collect()
}

/// The last figure as left of what `passes` found: another step that is held against the same named
/// limit, at the same position, or at any where the one found was told of the machine.
fn as_left<'a>(steps: &'a [Step], passes: &[&Step]) -> Option<&'a Step> {
    let found = passes.last().filter(|step| step.phase.as_deref() == Some("found"))?;
    let name = found.limit.as_ref()?.name.as_ref()?;
    let at = position(&found.address);
    steps.iter().rev().find(|step| {
        step.phase.as_deref() == Some("left")
            && step.n > found.n
            && matches!(step.answer, Answer::Read { .. })
            && step.limit.as_ref().is_some_and(|limit| limit.name.as_ref() == Some(name))
            && (at.is_empty() || position(&step.address) == at)
    })
}

/// An address as it is whatever the pass.
pub(super) fn without_passes(address: &str) -> String {
    let words = address.split('/').map(|word| word.split_once('#').map_or(word, |(w, _)| w));
    words.collect::<Vec<_>>().join("/")
}

/// The positions in an address, for people: `cylinder 2, side inlet`.
pub(super) fn position(address: &str) -> String {
    let inner = address.split('[').skip(1).filter_map(|rest| rest.split_once(']'));
    inner.map(|(inside, _)| spoken_position(inside)).collect::<Vec<_>>().join(", ")
}

/// `cylinder=2,side=inlet` for people.
pub(super) fn spoken_position(position: &str) -> String {
    position.replace(',', ", ").replace(['=', '_'], " ")
}

fn row(
    place: &str,
    passes: &[&Step],
    as_left: Option<&Step>,
    settled: Option<&Disposition>,
) -> Option<Row> {
    let (first, last) = (*passes.first()?, *passes.last()?);
    let is_left_only = passes.len() == 1 && first.phase.as_deref() == Some("left");
    // A part that is renewed, or a step that is only as found, has no reading as left.
    let is_left = last.phase.as_deref() != Some("found")
        && last.verdict.as_deref().is_none_or(|verdict| verdict == "accept");
    let found = (!is_left_only).then_some(first);
    let left = as_left.or((is_left_only || is_left || passes.len() > 1).then_some(last));
    let limit = last.limit.as_ref();
    let (found_cell, left_cell) = (found.map(cell), left.map(cell));
    let cells = found_cell.iter().chain(&left_cell);
    let is_outside = cells.into_iter().any(|cell| cell.outside.is_some());
    Some(Row {
        text: last.text.clone(),
        address: place.to_owned(),
        position: position(place),
        limit: limit.map_or_else(String::new, |limit| limit.words.clone()),
        found: found_cell,
        left: left_cell,
        left_text: as_left.map(asked),
        settled: settled.filter(|_| left.is_none()).map(done),
        is_outside,
        picture: limit.and_then(|limit| picture(limit, found, left)),
    })
}

/// What a step asked, with its position.
fn asked(step: &Step) -> String {
    let at = position(&step.address);
    if at.is_empty() { step.text.clone() } else { format!("{} ({at})", step.text) }
}

/// What was done about a failed result, short.
fn done(disposition: &Disposition) -> String {
    let lot = disposition.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
    let done = match disposition.done.as_str() {
        "fitted" | "replaced" => "part renewed",
        "used_as_is" => "used as it is",
        "left_at_stop" => "left so at the stop",
        "set_apart" => "set apart",
        other => other,
    };
    format!("{done}{lot}")
}

/// The text as typed, with the unit of the field where none was typed.
fn as_typed(reading: &Figure) -> String {
    let bare =
        reading.text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'));
    if bare { format!("{} {}", reading.text, reading.unit) } else { reading.text.clone() }
}

fn cell(step: &Step) -> Cell {
    let text = match &step.answer {
        // As typed, last zeros included; a figure and its unit stay on one line.
        Answer::Read { reading, .. } => as_typed(reading).replace(' ', "\u{a0}"),
        Answer::WorkedOut { result: Some(result), .. } => as_typed(result).replace(' ', "\u{a0}"),
        _ => step.what.clone(),
    };
    let decided = step.limit.as_ref().and_then(|limit| limit.decided.as_deref());
    let outside = match decided {
        Some("below") => Some("below"),
        Some("above") => Some("above"),
        _ => None,
    };
    Cell { text, verdict: step.verdict_judged.clone(), outside }
}

fn value(step: &Step) -> Option<(Ratio<BigInt>, &str)> {
    match &step.answer {
        Answer::Read { reading, .. } | Answer::WorkedOut { result: Some(reading), .. } => {
            Some((si(&reading.value)?, reading.value.as_str()))
        }
        _ => None,
    }
}

/// The exact value of a figure as records write it; `None` for fractions that do not end.
fn si(text: &str) -> Option<Ratio<BigInt>> {
    Some(Quantity::parse_literal(text).ok()?.0.si)
}

fn picture(limit: &Limit, found: Option<&Step>, left: Option<&Step>) -> Option<Picture> {
    let bound = |text: &Option<String>| text.as_deref().map(si);
    let (least, most) = (bound(&limit.at_least), bound(&limit.at_most));
    // A bound that cannot be drawn would make the picture say something else than the limit.
    if least == Some(None) || most == Some(None) {
        return None;
    }
    let (least, most) = (least.flatten(), most.flatten());
    let found = found.and_then(value);
    let left = left.and_then(value);
    let values = || found.iter().chain(&left).map(|(value, _)| value);
    let low = values().chain(&least).chain(&most).min()?.clone();
    let high = values().chain(&least).chain(&most).max()?.clone();
    values().next()?;
    let span = &high - &low;
    let span = match (span.is_zero(), high.is_zero()) {
        (false, _) => span,
        (true, false) => high.abs() / BigInt::from(10),
        (true, true) => Ratio::from_integer(1.into()),
    };
    let margin = &span / BigInt::from(4);
    let (low, high) = (low - &margin, high + &margin);
    let x = |value: &Ratio<BigInt>| {
        let share = (value - &low) / (&high - &low) * BigInt::from(WIDTH);
        share.round().to_integer().to_u32().unwrap_or(0).min(WIDTH)
    };
    let zone_x = least.as_ref().map_or(0, x);
    let zone_end = most.as_ref().map_or(WIDTH, x);
    let mut marks = Vec::new();
    let mut label = format!("limit {}", limit.words);
    let is_same = found == left;
    for (phase, reading) in [("found", found.as_ref()), ("left", left.as_ref())] {
        let Some((value, text)) = reading else { continue };
        if !(is_same && phase == "found") {
            marks.push(Mark { x: x(value), phase });
        }
        label.push_str(&["; as ", phase, " ", text].concat());
    }
    Some(Picture {
        zone_x,
        zone_width: zone_end.saturating_sub(zone_x).max(2),
        has_least: least.is_some(),
        has_most: most.is_some(),
        marks,
        label,
    })
}

impl Picture {
    /// The picture in plain characters: `-` outside, `[===]` the range that passes, `o` as found, `x`
    /// as left.
    pub(super) fn plain(&self) -> String {
        const COLUMNS: u32 = 24;
        let column = |x: u32| (x * (COLUMNS - 1) + WIDTH / 2) / WIDTH;
        let (from, to) = (column(self.zone_x), column((self.zone_x + self.zone_width).min(WIDTH)));
        let at = |n: u32| {
            let mark = self.marks.iter().rev().find(|mark| column(mark.x) == n);
            match mark.map(|mark| mark.phase) {
                Some("found") => 'o',
                Some(_) => 'x',
                None if n == from && self.has_least => '[',
                None if n == to && self.has_most => ']',
                None if (from..=to).contains(&n) => '=',
                None => '-',
            }
        };
        (0..COLUMNS).map(at).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::completion::Instrument;

    fn step(address: &str, value: &str, verdict: &str) -> Step {
        let none = String::new;
        Step {
            address: address.to_owned(),
            answer: Answer::Read {
                instrument: Instrument {
                    certificate_sha256: None,
                    calibration_due: none(),
                    certificate: none(),
                    id: none(),
                    k: none(),
                    kind: none(),
                    resolution: none(),
                    uncertainty: none(),
                },
                reading: Figure { text: value.to_owned(), unit: none(), value: value.to_owned() },
                several: None,
            },
            at: none(),
            by: None,
            confirmed: None,
            headline: None,
            limit: Some(Limit {
                blind: false,
                at_least: Some("44 mm".to_owned()),
                at_most: Some("46 mm".to_owned()),
                basis: None,
                compare: None,
                conforms: None,
                decided: None,
                grade: None,
                name: None,
                rounded: None,
                rule: None,
                words: "44 mm to 46 mm".to_owned(),
            }),
            n: 1,
            observed: None,
            phase: None,
            safety: None,
            said: Vec::new(),
            text: none(),
            verdict: Some(verdict.to_owned()),
            verdict_judged: Some(verdict.to_owned()),
            what: none(),
            within: Vec::new(),
        }
    }

    #[test]
    fn passes_of_a_place_stand_side_by_side_and_are_drawn() {
        let steps = [
            step("a/gap", "47 mm", "rework"),
            step("b[c=1]/gap", "45 mm", "accept"),
            step("a/gap#2", "4.5 cm", "accept"),
        ];
        let rows = rows(&steps, &[]);
        assert_eq!(rows.len(), 2);
        let texts =
            |row: &Row| [&row.found, &row.left].map(|cell| cell.as_ref().map(|c| c.text.clone()));
        assert_eq!(
            texts(&rows[0]),
            [Some("47\u{a0}mm".to_owned()), Some("4.5\u{a0}cm".to_owned())]
        );
        let picture = rows[0].picture.as_ref().unwrap();
        // 43.25 mm to 47.75 mm over the width.
        assert_eq!((picture.zone_x, picture.zone_width), (167, 444));
        assert_eq!(picture.plain(), "----[====x====]----o----");
        let marks: Vec<_> = picture.marks.iter().map(|m| (m.phase, m.x)).collect();
        assert_eq!(marks, [("found", 833), ("left", 389)]);
        assert_eq!(rows[1].picture.as_ref().unwrap().marks.len(), 1);
    }

    #[test]
    fn a_figure_is_outside_by_its_limit_whatever_the_procedure_makes_of_it() {
        let decided = |word: &str, verdict: &str| {
            let mut step = step("a", "43 mm", verdict);
            step.limit.as_mut().unwrap().decided = Some(word.to_owned());
            rows(&[step], &[]).remove(0).is_outside
        };
        assert!(decided("below", "accept") && decided("above", "refer"));
        assert!(!decided("within", "accept") && !decided("not_proven", "refer"));
    }

    #[test]
    fn found_and_left_by_two_steps_with_one_limit_share_a_row() {
        let at = |address: &str, value: &str, n: u64, phase: &str, name: &str| {
            let mut step = step(address, value, "accept");
            (step.n, step.phase) = (n, Some(phase.to_owned()));
            step.limit.as_mut().unwrap().name = Some(name.to_owned());
            step
        };
        let steps = [
            at("in/flow", "43 mm", 1, "found", "flow"),
            at("in[c=1]/gap", "44 mm", 2, "found", "gap"),
            at("test[load=full]/flow", "45 mm", 3, "left", "flow"),
            at("test[c=2]/gap", "45 mm", 4, "left", "gap"),
            at("test/other", "45 mm", 5, "left", "other"),
        ];
        let rows = rows(&steps, &[]);
        let left = |row: &Row| (row.address.clone(), row.left.as_ref().map(|c| c.text.clone()));
        assert_eq!(left(&rows[0]), ("in/flow".to_owned(), Some("45\u{a0}mm".to_owned())));
        assert_eq!(rows[0].left_text.as_deref(), Some(" (load full)"));
        // Another position is another thing.
        assert_eq!(left(&rows[1]), ("in[c=1]/gap".to_owned(), None));
    }

    #[test]
    fn a_reading_is_shown_as_typed_with_its_last_zeros() {
        let figure = |text: &str| Figure {
            text: text.to_owned(),
            unit: "mm".to_owned(),
            value: "37.9 mm".to_owned(),
        };
        assert_eq!(as_typed(&figure("37.90")), "37.90 mm");
        assert_eq!(as_typed(&figure("37,90 mm")), "37,90 mm");
    }

    #[test]
    fn a_renewed_part_has_no_reading_as_left_and_odd_figures_no_picture() {
        let renewed = rows(&[step("a", "43 mm", "replace")], &[]);
        assert!(renewed[0].left.is_none() && renewed[0].picture.is_some());
        let mut odd = step("a", "45 mm", "accept");
        odd.limit.as_mut().unwrap().at_least = Some("5/127 in".to_owned());
        assert!(rows(&[odd], &[])[0].picture.is_none());
        assert!(rows(&[step("a", "1/3 in", "accept")], &[])[0].picture.is_none());
    }
}
