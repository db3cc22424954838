//! The table of readings: as found beside as left, with what was said of each, and a small picture of
//! where each lies between its limits.

use num_bigint::BigInt;
use num_rational::Ratio;
use serde::Serialize;

use super::index::{Index, done_words, is_refused, with_place};
use super::picture::{self, Drawn, Picture};
use super::words::{self, position, with_nbsp, without_passes};
use crate::record::completion::{Answer, Step};
use crate::units::Quantity;

/// One place that was measured, or a figure that was worked out and held against a limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Row {
    pub(super) text: String,
    pub(super) address: String,
    /// Where, for people: `cylinder 2, inlet side`.
    pub(super) position: String,
    pub(super) limit: String,
    pub(super) found: Option<Cell>,
    pub(super) left: Option<Cell>,
    /// A figure that the procedure calls neither as found nor as left.
    pub(super) once: Option<Cell>,
    /// What the figure as left was asked as, where another step asked for it.
    pub(super) left_text: Option<String>,
    /// What was done about it, where no figure tells how it was left.
    pub(super) settled: Option<String>,
    /// Why a figure that is outside or in doubt was let pass, and by whom.
    pub(super) notes: Vec<String>,
    pub(super) picture: Option<Picture>,
    /// True when the figure lies outside its limit, as found or as left.
    pub(super) is_outside: bool,
    /// True when it does not, or was not taken, and the rules did not let it pass either.
    pub(super) is_in_doubt: bool,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Cell {
    pub(super) text: String,
    /// True for a figure, which stays on one line; not for why there is none.
    pub(super) is_figure: bool,
    pub(super) verdict: Option<String>,
    /// On which side of its limit it lies outside: `below` or `above`.
    pub(super) outside: Option<&'static str>,
}

impl Row {
    /// What was measured, where and with what result, in a few words.
    pub(super) fn in_short(&self) -> String {
        let what = words::short(self.text.trim_end_matches('.'), 56);
        let cells = [&self.left, &self.once, &self.found].into_iter().flatten();
        let cells = cells.map(|cell| cell.text.as_str()).next().unwrap_or("");
        format!("{}: {cells}", with_place(&what, &self.position))
    }
}

/// The rows, in the order in which the places were first measured. Passes of one place share a row, and
/// so does a figure as left with the first as found that has its limit.
pub(super) fn rows(index: &Index<'_>) -> Vec<Row> {
    let steps = &index.record.steps;
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
    // A figure as left stands once: beside the first one found.
    let mut taken: Vec<&str> = Vec::new();
    let mut pairs: Vec<Option<&Step>> = Vec::new();
    for (_, passes) in &places {
        let left = as_left(steps, passes).filter(|left| !taken.contains(&left.address.as_str()));
        taken.extend(left.map(|left| left.address.as_str()));
        pairs.push(left);
    }
    let own = places.iter().zip(pairs).filter(|((_, passes), _)| {
        passes.last().is_some_and(|last| !taken.contains(&last.address.as_str()))
    });
    own.filter_map(|((place, passes), as_left)| row(index, place, passes, as_left)).collect()
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

fn row(index: &Index<'_>, place: &str, passes: &[&Step], as_left: Option<&Step>) -> Option<Row> {
    let (first, last) = (*passes.first()?, *passes.last()?);
    let phase = |step: &Step| step.phase.as_deref().map(str::to_owned);
    // Only what the procedure calls so is as left; or what was measured again after it was worked on.
    let is_left = phase(last).as_deref() == Some("left");
    let is_worked = passes.len() > 1 && last.verdict.as_deref().is_none_or(|v| v == "accept");
    let left = as_left.or((is_left || is_worked || passes.len() > 1).then_some(last));
    let is_found = passes.len() > 1 || phase(first).as_deref() == Some("found");
    let (found, once) = match (is_found, is_left) {
        (true, _) => (Some(first), None),
        (false, true) => (None, None),
        (false, false) => (None, Some(first)),
    };
    let limit = last.limit.as_ref();
    let told: Vec<&Step> = [found, once, left].into_iter().flatten().collect();
    let cells: Vec<Cell> = told.iter().map(|step| cell(step)).collect();
    let is_outside = cells.iter().any(|cell| cell.outside.is_some());
    let settled = index.disposition(last).filter(|done| left.is_none() && is_short(&done.done));
    let mut notes: Vec<String> = Vec::new();
    for (step, cell) in told.iter().zip(&cells) {
        let told = said_of(index, step, cell, settled.is_some());
        notes.extend(told.into_iter().filter(|told| !told.is_empty()));
    }
    notes.dedup();
    let phases = [("found", found), ("once", once), ("left", left)];
    let phases = phases.into_iter().filter_map(|(phase, step)| Some((phase, step?)));
    let shown: Vec<String> = cells.iter().map(|cell| cell.text.replace('\u{a0}', " ")).collect();
    let drawn: Vec<Drawn<'_>> = phases
        .zip(&shown)
        .filter_map(|((phase, step), text)| {
            Some((phase, value(step)?, text.as_str(), outside(step)))
        })
        .collect();
    Some(Row {
        text: last.text.clone(),
        address: place.to_owned(),
        position: position(place),
        limit: limit.map_or_else(String::new, |limit| limit.words.clone()),
        found: found.map(cell),
        left: left.map(cell),
        once: once.map(cell),
        left_text: as_left.map(|step| index.asked_where(step)),
        settled: settled.map(done_words),
        notes,
        picture: limit.and_then(|limit| picture::of(limit, &drawn)),
        is_outside,
        is_in_doubt: !is_outside && told.iter().any(|step| is_refused(step)),
    })
}

/// True for what is said in so few words that it stands in the place of a figure.
fn is_short(done: &str) -> bool {
    ["fitted", "replaced", "left_at_stop"].contains(&done)
}

/// Why a figure that is outside or in doubt was let pass; nothing of one that is good.
fn said_of(index: &Index<'_>, step: &Step, cell: &Cell, is_settled: bool) -> Vec<String> {
    if is_refused(step) {
        let mut said = index.outcome(step);
        if is_settled {
            said.retain(|said| !said.starts_with("part renewed") && !said.starts_with("left so"));
        }
        return said;
    }
    match (cell.outside, step.said.as_slice()) {
        (None, _) => Vec::new(),
        (Some(_), []) => vec!["The procedure lets it pass.".to_owned()],
        (Some(_), said) => vec![said.join(" ")],
    }
}

fn outside(step: &Step) -> Option<&'static str> {
    match step.limit.as_ref().and_then(|limit| limit.decided.as_deref()) {
        Some("below") => Some("below"),
        Some("above") => Some("above"),
        _ => None,
    }
}

fn cell(step: &Step) -> Cell {
    let text = match &step.answer {
        // As typed, last zeros included; a figure and its unit stay on one line.
        Answer::Read { reading, .. } => with_nbsp(&words::as_typed(reading)),
        Answer::WorkedOut { result: Some(result), .. } => {
            with_nbsp(&words::rounded(result, step.limit.as_ref()))
        }
        _ => step.what.clone(),
    };
    Cell {
        text,
        is_figure: value(step).is_some(),
        verdict: step.verdict_judged.clone(),
        outside: outside(step),
    }
}

fn value(step: &Step) -> Option<Ratio<BigInt>> {
    match &step.answer {
        Answer::Read { reading, .. } | Answer::WorkedOut { result: Some(reading), .. } => {
            si(&reading.value)
        }
        _ => None,
    }
}

/// The exact value of a figure as records write it; `None` for fractions that do not end.
pub(super) fn si(text: &str) -> Option<Ratio<BigInt>> {
    Some(Quantity::parse_literal(text).ok()?.0.si)
}

#[cfg(test)]
mod tests {
    use super::super::sample::of_steps;
    use super::*;
    use crate::record::completion::{Figure, Instrument, Limit};

    fn rows_of(steps: &[Step]) -> Vec<Row> {
        rows(&Index::of(&of_steps(steps)))
    }

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
        let rows = rows_of(&steps);
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
        // Measured once, and the procedure says neither as found nor as left.
        assert!(rows[1].left.is_none() && rows[1].found.is_none());
        assert_eq!(rows[1].once.as_ref().unwrap().text, "45\u{a0}mm");
        assert_eq!(rows[1].picture.as_ref().unwrap().marks[0].phase, "once");
    }

    #[test]
    fn a_figure_is_outside_by_its_limit_whatever_the_procedure_makes_of_it() {
        let decided = |word: &str, verdict: &str| {
            let mut step = step("a", "43 mm", verdict);
            step.limit.as_mut().unwrap().decided = Some(word.to_owned());
            rows_of(&[step]).remove(0).is_outside
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
        let rows = rows_of(&steps);
        let left = |row: &Row| (row.address.clone(), row.left.as_ref().map(|c| c.text.clone()));
        assert_eq!(left(&rows[0]), ("in/flow".to_owned(), Some("45\u{a0}mm".to_owned())));
        assert_eq!(rows[0].left_text.as_deref(), Some(" (full load)"));
        // Another position is another thing.
        assert_eq!(left(&rows[1]), ("in[c=1]/gap".to_owned(), None));
        // The figure as left stands once, beside the first that it answers.
        let places: Vec<&str> = rows.iter().map(|row| row.address.as_str()).collect();
        assert_eq!(places, ["in/flow", "in[c=1]/gap", "test[c=2]/gap", "test/other"]);
    }

    #[test]
    fn a_reading_is_shown_as_typed_with_its_last_zeros() {
        let figure = |text: &str| Figure {
            text: text.to_owned(),
            unit: "mm".to_owned(),
            value: "37.9 mm".to_owned(),
        };
        assert_eq!(words::as_typed(&figure("37.90")), "37.90 mm");
        assert_eq!(words::as_typed(&figure("37,90 mm")), "37,90 mm");
    }

    #[test]
    fn a_figure_that_is_outside_says_in_its_row_who_let_it_pass_and_why() {
        let outside = |verdict: &str| {
            let mut step = step("a", "43 mm", verdict);
            step.limit.as_mut().unwrap().decided = Some("below".to_owned());
            step.said = vec!["The mechanic judges it.".to_owned()];
            step
        };
        let mut decision = step("a/decision", "0 mm", "accept");
        decision.answer =
            Answer::Decided { reason: "Deep enough.".to_owned(), verdict: "accept".to_owned() };
        decision.by = Some("i.varga".to_owned());
        let decided = rows_of(&[outside("refer"), decision]).remove(0);
        assert_eq!(decided.notes, ["Ines Varga accepted it: Deep enough"]);
        assert_eq!(rows_of(&[outside("accept")])[0].notes, ["The mechanic judges it."]);
        let mut silent = outside("accept");
        silent.said.clear();
        assert_eq!(rows_of(&[silent])[0].notes, ["The procedure lets it pass."]);
        assert!(rows_of(&[step("a", "45 mm", "accept")])[0].notes.is_empty());
    }

    #[test]
    fn a_renewed_part_has_no_reading_as_left_and_odd_figures_no_picture() {
        let renewed = rows_of(&[step("a", "43 mm", "replace")]);
        assert!(renewed[0].left.is_none() && renewed[0].picture.is_some());
        let mut odd = step("a", "45 mm", "accept");
        odd.limit.as_mut().unwrap().at_least = Some("5/127 in".to_owned());
        assert!(rows_of(&[odd])[0].picture.is_none());
        assert!(rows_of(&[step("a", "1/3 in", "accept")])[0].picture.is_none());
    }
}
