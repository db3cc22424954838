//! The table of readings: as found beside as left, with a small picture of where each lies between its
//! limits. Places in a picture are whole thousandths of its width.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};
use serde::Serialize;

use crate::record::completion::{Answer, Figure, Limit, Step};
use crate::units::Quantity;

/// One place that was measured.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Row {
    pub(super) text: String,
    pub(super) address: String,
    pub(super) limit: String,
    pub(super) found: Option<Cell>,
    pub(super) left: Option<Cell>,
    pub(super) picture: Option<Picture>,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) verdict: Option<String>,
}

/// Where readings lie.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Picture {
    pub(super) zone_x: u32,
    pub(super) zone_width: u32,
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
pub(super) fn rows(steps: &[Step]) -> Vec<Row> {
    let mut places: Vec<(String, Vec<&Step>)> = Vec::new();
    for step in steps {
        if !matches!(step.answer, Answer::Read { .. } | Answer::CouldNotMeasure { .. }) {
            continue;
        }
        let place = without_passes(&step.address);
        match places.iter_mut().find(|(known, _)| *known == place) {
            Some((_, passes)) => passes.push(step),
            None => places.push((place, vec![step])),
        }
    }
    places.iter().filter_map(|(place, passes)| row(place, passes)).collect()
}

fn without_passes(address: &str) -> String {
    let words = address.split('/').map(|word| word.split_once('#').map_or(word, |(w, _)| w));
    words.collect::<Vec<_>>().join("/")
}

fn row(place: &str, passes: &[&Step]) -> Option<Row> {
    let (first, last) = (*passes.first()?, *passes.last()?);
    let is_left_only = passes.len() == 1 && first.phase.as_deref() == Some("left");
    // A part that is renewed, or a step that is only as found, has no reading as left.
    let is_left = last.phase.as_deref() != Some("found")
        && last.verdict.as_deref().is_none_or(|verdict| verdict == "accept");
    let found = (!is_left_only).then_some(first);
    let left = (is_left_only || is_left || passes.len() > 1).then_some(last);
    let limit = last.limit.as_ref();
    Some(Row {
        text: last.text.clone(),
        address: place.to_owned(),
        limit: limit.map_or_else(String::new, |limit| limit.words.clone()),
        found: found.map(cell),
        left: left.map(cell),
        picture: limit.and_then(|limit| picture(limit, found, left)),
    })
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
        _ => step.what.clone(),
    };
    Cell { text, verdict: step.verdict_judged.clone() }
}

fn value(step: &Step) -> Option<(Ratio<BigInt>, &str)> {
    match &step.answer {
        Answer::Read { reading, .. } => Some((si(&reading.value)?, reading.value.as_str())),
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
    Some(Picture { zone_x, zone_width: zone_end.saturating_sub(zone_x).max(2), marks, label })
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
            limit: Some(Limit {
                at_least: Some("44 mm".to_owned()),
                at_most: Some("46 mm".to_owned()),
                basis: None,
                compare: None,
                conforms: None,
                decided: None,
                grade: None,
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
        let rows = rows(&steps);
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
        let marks: Vec<_> = picture.marks.iter().map(|m| (m.phase, m.x)).collect();
        assert_eq!(marks, [("found", 833), ("left", 389)]);
        assert_eq!(rows[1].picture.as_ref().unwrap().marks.len(), 1);
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
        let renewed = rows(&[step("a", "43 mm", "replace")]);
        assert!(renewed[0].left.is_none() && renewed[0].picture.is_some());
        let mut odd = step("a", "45 mm", "accept");
        odd.limit.as_mut().unwrap().at_least = Some("5/127 in".to_owned());
        assert!(rows(&[odd])[0].picture.is_none());
        assert!(rows(&[step("a", "1/3 in", "accept")])[0].picture.is_none());
    }
}
