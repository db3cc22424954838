//! Parts: what went in new, what was put back, and what was needed and did not go in.

use std::collections::BTreeSet;

use serde::Serialize;

use super::index::{Index, with_place};
use super::words::places;
use crate::record::completion::{Answer, Fitted, Part, Record, Step};

/// A part at all its places.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Pieces {
    pub(super) title: String,
    pub(super) number: Option<String>,
    pub(super) quantity: u32,
    pub(super) places: String,
    /// Each lot with its places: `SR-2231 (cylinder 1, 2, 3, inlet side)`.
    pub(super) lots: Vec<String>,
    pub(super) because: String,
    /// True where an inspection called for it, or a step put it in without one.
    pub(super) is_failed: bool,
}

/// The parts of a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Parts {
    /// Fitted, and new.
    pub(super) renewed: Vec<Pieces>,
    /// Needed, and not fitted.
    pub(super) missing: Vec<Pieces>,
}

impl Pieces {
    /// How many of what, where, in a few words.
    pub(super) fn in_short(&self) -> String {
        with_place(&format!("{} × {}", self.quantity, self.title), &self.places)
    }
}

/// True when `place` lies in `whole`: in the machine, or at the same cylinder.
fn lies_in(whole: &str, place: &str) -> bool {
    whole.is_empty() || whole.split(',').all(|one| place.split(',').any(|p| p == one))
}

/// True when what was fitted is what was needed, at its place.
fn serves(fitted: &Fitted, part: &Part) -> bool {
    // A step outside the section of a position fits the part at all of them.
    fitted.part == part.part
        && (lies_in(&part.position, &fitted.position)
            || fitted.layer.is_none() && lies_in(&fitted.position, &part.position))
}

/// True for a part that is new: it was needed or has a lot, or a step put it in by itself. What else is
/// laid in a stack is what was taken out of it.
pub(super) fn is_new(record: &Record, fitted: &Fitted) -> bool {
    fitted.layer.is_none()
        || fitted.lot.is_some()
        || record.parts.iter().any(|part| serves(fitted, part))
}

pub(super) fn of(index: &Index<'_>) -> Parts {
    let record = index.record;
    let mut groups: Vec<(&str, Vec<&Fitted>)> = Vec::new();
    for fitted in record.fitted.iter().filter(|fitted| is_new(record, fitted)) {
        match groups.iter_mut().find(|(part, _)| *part == fitted.part) {
            Some((_, all)) => all.push(fitted),
            None => groups.push((&fitted.part, vec![fitted])),
        }
    }
    let mut renewed: Vec<Pieces> =
        groups.iter().filter_map(|(_, all)| renewed_one(index, all)).collect();
    renewed.sort_by_key(|pieces| !pieces.is_failed);
    Parts { renewed, missing: missing(index) }
}

fn renewed_one(index: &Index<'_>, all: &[&Fitted]) -> Option<Pieces> {
    let (record, first) = (index.record, all.first()?);
    let needed: Vec<&Part> =
        record.parts.iter().filter(|part| all.iter().any(|fitted| serves(fitted, part))).collect();
    let mut because: Vec<String> = Vec::new();
    for why in needed.iter().map(|part| reason(index, &part.because)) {
        add(&mut because, why);
    }
    if needed.is_empty() {
        for fitted in all {
            let text = index.step(&fitted.step).map_or(fitted.step.as_str(), |step| &step.text);
            add(&mut because, text.to_owned());
        }
    }
    let is_called = |part: &&Part| index.step(&part.because).is_some();
    // What a layer is called tells its place too; where the layers differ, the part's own name does.
    let is_one = all.iter().all(|fitted| fitted.title == first.title);
    let title = match needed.first() {
        Some(part) if !is_one => &part.title,
        _ => &first.title,
    };
    Some(Pieces {
        title: title.clone(),
        number: first.number.clone(),
        quantity: all.iter().map(|fitted| fitted.quantity).fold(0, u32::saturating_add),
        places: places(&all.iter().map(|fitted| fitted.position.as_str()).collect::<Vec<_>>()),
        lots: lots(index, all),
        is_failed: needed.is_empty() || needed.iter().any(is_called),
        because: because.join("; "),
    })
}

fn add(list: &mut Vec<String>, text: String) {
    if !list.contains(&text) {
        list.push(text);
    }
}

/// The lots of what was fitted, each with its places where there are several.
fn lots(index: &Index<'_>, all: &[&Fitted]) -> Vec<String> {
    let mut lots: Vec<(&str, Vec<&str>)> = Vec::new();
    let stated = |fitted: &Fitted| {
        let of = index.record.dispositions.iter();
        of.clone().find(|d| d.done == "replaced" && d.address == fitted.step)?.lot.as_deref()
    };
    for fitted in all {
        let Some(lot) = fitted.lot.as_deref().or_else(|| stated(fitted)) else { continue };
        match lots.iter_mut().find(|(known, _)| *known == lot) {
            Some((_, at)) => at.push(&fitted.position),
            None => lots.push((lot, vec![&fitted.position])),
        }
    }
    let is_all = lots.len() == 1 && lots.iter().all(|(_, at)| at.len() == all.len());
    // Where every lot went to the same cylinders, only the side tells them apart.
    let firsts = |at: &[&str]| {
        at.iter().map(|at| at.split(',').next().unwrap_or("").to_owned()).collect::<BTreeSet<_>>()
    };
    let is_same = lots
        .windows(2)
        .all(|two| two.iter().map(|(_, at)| firsts(at)).collect::<BTreeSet<_>>().len() == 1);
    let told = lots.iter().map(|(lot, at)| {
        let rests: Vec<&str> =
            at.iter().map(|at| at.split_once(',').map_or("", |(_, rest)| rest)).collect();
        let at = match places(&rests) {
            rest if is_same && lots.len() > 1 && !rest.is_empty() => rest,
            _ => places(at),
        };
        if at.is_empty() || is_all { (*lot).to_owned() } else { format!("{lot} ({at})") }
    });
    told.collect()
}

/// How many pieces of a needed part did not go in.
pub(super) fn lacks(record: &Record, part: &Part) -> u32 {
    let fitted = record.fitted.iter().filter(|fitted| serves(fitted, part));
    let there = fitted.map(|fitted| fitted.quantity).fold(0, u32::saturating_add);
    part.quantity.saturating_sub(there)
}

/// What was needed and did not go in, by part.
fn missing(index: &Index<'_>) -> Vec<Pieces> {
    let record = index.record;
    let mut groups: Vec<(&Part, Vec<&str>, Vec<String>, u32)> = Vec::new();
    for part in &record.parts {
        let lacks = lacks(record, part);
        if lacks == 0 {
            continue;
        }
        let why = reason(index, &part.because);
        match groups.iter_mut().find(|(first, ..)| first.part == part.part) {
            Some((_, at, because, n)) => {
                at.push(&part.position);
                add(because, why);
                *n = n.saturating_add(lacks);
            }
            None => groups.push((part, vec![&part.position], vec![why], lacks)),
        }
    }
    let mut missing: Vec<Pieces> = groups
        .into_iter()
        .map(|(part, at, because, quantity)| Pieces {
            title: part.title.clone(),
            number: part.number.clone(),
            quantity,
            places: places(&at),
            lots: Vec::new(),
            is_failed: index.step(&part.because).is_some(),
            because: because.join("; "),
        })
        .collect();
    missing.sort_by_key(|pieces| !pieces.is_failed);
    missing
}

/// Why a part is needed, as an owner reads it: what was seen or measured, else as it stands.
pub(super) fn reason(index: &Index<'_>, because: &str) -> String {
    let Some(step) = index.step(because) else { return because.to_owned() };
    match (&step.answer, index.inspected(step)) {
        (Answer::Decided { .. }, Some(inspected)) => seen(inspected),
        (Answer::Decided { reason, .. }, None) => reason.clone(),
        _ => seen(step),
    }
}

fn seen(step: &Step) -> String {
    match &step.answer {
        Answer::Found(found) => super::words::seen(found),
        Answer::Read { .. } => {
            step.what.split_once(", with ").map_or(&*step.what, |(figure, _)| figure).to_owned()
        }
        Answer::CouldNotMeasure { .. } => step.what.clone(),
        _ => format!("{} {}", step.text, step.what),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::sample::{full, parsed};
    use super::*;

    #[test]
    fn renewed_is_what_was_fitted_new_and_what_was_left_out_is_missing() {
        let mut value = full();
        let part = |part: &str, position: &str, quantity: u32, because: &str| json!({"because": because, "part": part, "position": position, "quantity": quantity, "title": part});
        let fitted = |part: &str, layer: Option<&str>, position: &str, lot: Option<&str>| {
            let mut fitted = json!({"n": 9, "part": part, "position": position, "quantity": 1,
                "step": "tear/spring", "title": part});
            if let Some(layer) = layer {
                fitted["layer"] = json!(layer);
            }
            if let Some(lot) = lot {
                fitted["lot"] = json!(lot);
            }
            fitted
        };
        value["parts"] = json!([
            part("spring", "cylinder=2", 1, "tear/spring"),
            part("ring", "cylinder=1", 2, "always renewed"),
            part("ring", "cylinder=2", 2, "always renewed"),
            part("gasket", "", 1, "always renewed"),
        ]);
        value["fitted"] = json!([
            fitted("spring", Some("s"), "cylinder=1,side=inlet", None),
            fitted("spring", Some("s"), "cylinder=2,side=inlet", None),
            fitted("ring", Some("r"), "cylinder=1,side=inlet", Some("A")),
            fitted("ring", Some("r"), "cylinder=1,side=outlet", Some("B")),
            fitted("ring", Some("r"), "cylinder=2,side=inlet", Some("A")),
            fitted("seal", None, "", None),
            fitted("disc", Some("d"), "cylinder=1", None),
        ]);
        let record = parsed(&value);
        let parts = of(&Index::of(&record));
        let told = |pieces: &[Pieces]| {
            let one = |p: &Pieces| {
                format!("{} {} [{}] {}", p.quantity, p.title, p.places, p.lots.join("; "))
            };
            pieces.iter().map(one).collect::<Vec<_>>()
        };
        assert_eq!(
            told(&parts.renewed),
            [
                "1 spring [cylinder 2, inlet side] ",
                // No inspection called for it; a step put it in.
                "1 seal [] ",
                "3 ring [cylinder 1, 2, inlet side; cylinder 1, outlet side] A (cylinder 1, 2, inlet \
                 side); B (cylinder 1, outlet side)",
            ]
        );
        assert_eq!(told(&parts.missing), ["1 ring [cylinder 2] ", "1 gasket [] "]);
        assert!(!is_new(&record, &record.fitted[6]) && is_new(&record, &record.fitted[5]));
    }
}
