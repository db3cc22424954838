//! What was found: results that the rules did not let pass first, in the words of the procedure and with
//! what was decided and done; then what was also looked at and is in order.

use serde::Serialize;

use super::index::{Index, is_refused, judged, with_place};
use super::words::{self, places, position_of, without_passes};
use crate::procedure::model::{NO_FAULT, Verdict};
use crate::record::completion::{Answer, Finding, Step};

/// A result at all the places where it was the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Found {
    /// What was seen.
    pub(super) what: String,
    /// What was asked.
    pub(super) asked: String,
    pub(super) places: String,
    /// What the person was told about it.
    pub(super) said: String,
    /// The verdict of the rules.
    pub(super) verdict: String,
    /// What was decided and done, with names.
    pub(super) outcome: Vec<String>,
    pub(super) likely_cause: Option<String>,
    /// The entries, and who answered.
    pub(super) entries: Vec<Entry>,
    /// True for a figure or a lack of one, which the table of readings tells too.
    pub(super) is_figure: bool,
    rank: u8,
    #[serde(skip)]
    positions: Vec<String>,
}

/// One entry of a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Entry {
    pub(super) n: u64,
    pub(super) by: Option<String>,
    pub(super) at: String,
}

/// Something that was looked at, and passed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Passed {
    pub(super) asked: String,
    pub(super) what: String,
    pub(super) places: String,
    /// True where the place was looked at once more afterwards.
    pub(super) is_once_more: bool,
    #[serde(skip)]
    positions: Vec<String>,
}

/// True where an inspection found that there is nothing to tell.
pub(super) fn is_without_fault(found: &[Finding]) -> bool {
    matches!(found, [only] if only.id == NO_FAULT)
}

/// An answer in words, as people read it.
pub(super) fn what(step: &Step) -> String {
    match &step.answer {
        Answer::Found(found) => words::seen(found),
        Answer::Entered(text) => words::entered(text),
        Answer::EnteredFigure(figure) => words::as_typed(figure),
        Answer::WorkedOut { result: Some(result), .. } => {
            let exact = words::as_typed(result);
            step.what.replacen(&exact, &words::rounded(result, step.limit.as_ref()), 1)
        }
        Answer::Read { .. } => step.what.replacen(" number is ", " is ", 1),
        _ => step.what.clone(),
    }
}

/// All results that the rules did not let pass, worst first; those that are alike in one.
pub(super) fn refused(index: &Index<'_>) -> Vec<Found> {
    let mut all: Vec<Found> = Vec::new();
    for step in &index.record.steps {
        let is_told = !matches!(step.answer, Answer::Decided { .. } | Answer::Stopped);
        if !is_told || !is_refused(step) {
            continue;
        }
        let one = found(index, step);
        let same = all.iter_mut().find(|known| {
            (&known.what, &known.asked, &known.outcome, &known.verdict)
                == (&one.what, &one.asked, &one.outcome, &one.verdict)
        });
        match same {
            Some(known) => {
                known.positions.extend(one.positions);
                known.entries.extend(one.entries);
            }
            None => all.push(one),
        }
    }
    for one in &mut all {
        one.places = places(&one.positions.iter().map(String::as_str).collect::<Vec<_>>());
    }
    all.sort_by_key(|one| one.rank);
    all
}

fn found(index: &Index<'_>, step: &Step) -> Found {
    let in_force = step.verdict.as_deref().and_then(Verdict::parse);
    let likely_cause = match &step.answer {
        Answer::Found(found) => found.iter().find_map(|finding| finding.likely_cause.clone()),
        _ => None,
    };
    Found {
        what: what(step),
        asked: step.text.clone(),
        places: String::new(),
        said: step.said.join(" "),
        verdict: judged(step).map_or_else(String::new, |verdict| verdict.word().to_owned()),
        outcome: index.outcome(step),
        likely_cause,
        entries: vec![Entry {
            n: step.n,
            by: step.by.as_deref().map(|by| index.name(by).to_owned()),
            at: step.at.clone(),
        }],
        is_figure: matches!(
            step.answer,
            Answer::Read { .. } | Answer::CouldNotMeasure { .. } | Answer::WorkedOut { .. }
        ),
        rank: match in_force.or_else(|| judged(step)) {
            Some(Verdict::Stop) => 0,
            Some(Verdict::Replace) => 1,
            Some(Verdict::Refer) => 2,
            Some(Verdict::Accept) => 3,
            Some(Verdict::Rework) | None => 4,
        },
        positions: vec![position_of(&step.address)],
    }
}

impl Found {
    /// What was seen, and where.
    pub(super) fn what_where(&self) -> String {
        with_place(&self.what, &self.places)
    }

    /// The same, and what was done, in a few words.
    pub(super) fn in_short(&self) -> String {
        let what = with_place(&words::short(&self.what, 56), &self.places);
        let done = self.outcome.last().map_or("", |done| done.split(": ").next().unwrap_or(""));
        if done.is_empty() { what } else { format!("{what}, {done}") }
    }
}

/// What inspections found that is not without fault and was let pass, one line for those alike.
pub(super) fn passed(index: &Index<'_>) -> Vec<Passed> {
    let mut all: Vec<Passed> = Vec::new();
    for step in &index.record.steps {
        let Answer::Found(found) = &step.answer else { continue };
        if is_without_fault(found) || is_refused(step) {
            continue;
        }
        let (what, is_once_more) = (words::seen(found), index.later(step).is_some());
        let at = position_of(&step.address);
        let same = all.iter_mut().find(|known| {
            known.what == what && known.asked == step.text && known.is_once_more == is_once_more
        });
        match same {
            Some(known) => known.positions.push(at),
            None => all.push(Passed {
                asked: step.text.clone(),
                what,
                places: String::new(),
                is_once_more,
                positions: vec![at],
            }),
        }
    }
    for one in &mut all {
        one.places = places(&one.positions.iter().map(String::as_str).collect::<Vec<_>>());
    }
    all
}

/// Steps that were left out or done otherwise than written, and inspections without a photo.
pub(super) fn departures<'a>(index: &Index<'a>) -> Vec<(&'a Step, String)> {
    let told = |step: &'a Step| {
        let said = match &step.answer {
            Answer::Deviated { done: true, reason } => {
                format!("done otherwise than written: {reason}")
            }
            Answer::Deviated { done: false, reason } => format!("left out: {reason}"),
            _ => return None,
        };
        Some((step, said))
    };
    index.record.steps.iter().filter_map(told).collect()
}

/// What likely caused what was found, where nobody entered a cause: by the findings that condemned a part
/// or stopped the job, those at most places first. What was accepted or only done again is no cause.
pub(super) fn likely_causes(index: &Index<'_>) -> Vec<(String, String)> {
    let mut told: Vec<(String, String, bool, Vec<String>)> = Vec::new();
    for step in &index.record.steps {
        let verdict = step.verdict.as_deref().and_then(Verdict::parse);
        let is_cause = matches!(verdict, Some(Verdict::Replace | Verdict::Stop));
        let Answer::Found(found) = &step.answer else { continue };
        for finding in found.iter().filter(|_| is_cause) {
            let Some(cause) = &finding.likely_cause else { continue };
            let place = without_passes(&step.address);
            let see = words::seen(std::slice::from_ref(finding));
            match told.iter_mut().find(|(known, ..)| known == cause) {
                Some((_, _, stops, at)) => {
                    *stops |= verdict == Some(Verdict::Stop);
                    at.push(place);
                }
                None => {
                    told.push((cause.clone(), see, verdict == Some(Verdict::Stop), vec![place]));
                }
            }
        }
    }
    told.sort_by_key(|(_, _, stops, at)| (!stops, usize::MAX - at.len()));
    told.into_iter().map(|(cause, see, ..)| (see, cause)).collect()
}

#[cfg(test)]
mod tests {
    use serde_json::{Value as Json, json};

    use super::super::sample::{full, parsed};
    use super::*;

    fn step(address: &str, found: &Json, verdict: (&str, &str)) -> Json {
        json!({"address": address, "answer": found, "at": "t", "n": 7, "by": "i.varga", "said": [],
            "text": "Look at it.", "verdict": verdict.0, "verdict_judged": verdict.1, "what": "w",
            "within": []})
    }

    fn seen(id: &str, cause: &str) -> Json {
        json!({"found": [{"id": id, "likely_cause": cause, "see": format!("A {id}")}]})
    }

    #[test]
    fn likely_causes_are_those_of_what_was_condemned_or_stopped_the_job() {
        let mut value = full();
        value["steps"] = json!([
            step("safe/vent", &seen("drip", "a valve that passes"), ("rework", "rework")),
            step("jar", &seen("milky", "water"), ("accept", "refer")),
            step("a[c=1]/spring", &seen("lean", "tired"), ("replace", "replace")),
            step("a[c=1]/face", &seen("swell", "solvent"), ("replace", "refer")),
            step("a[c=2]/face", &seen("swell", "solvent"), ("replace", "refer")),
            step("papers", &seen("none", "nobody asked"), ("stop", "stop")),
        ]);
        let record = parsed(&value);
        let causes = likely_causes(&Index::of(&record));
        let causes: Vec<&str> = causes.iter().map(|(_, cause)| cause.as_str()).collect();
        assert_eq!(causes, ["nobody asked", "solvent", "tired"]);
    }

    #[test]
    fn results_alike_are_one_row_worst_first_and_what_passed_stands_apart() {
        let mut value = full();
        value["dispositions"] = json!([]);
        value["concessions"] = json!([]);
        value["steps"] = json!([
            step("wash/jar", &seen("milky", "water"), ("accept", "accept")),
            step("wash#2/jar", &seen("clear", "none"), ("accept", "accept")),
            step("gap", &seen("wide", "dirt"), ("rework", "rework")),
            step("gap#2", &seen("even", "none"), ("accept", "accept")),
            step("a[c=1]/face", &seen("cut", "grit"), ("replace", "replace")),
            step("a[c=2]/face", &seen("cut", "grit"), ("replace", "replace")),
        ]);
        let record = parsed(&value);
        let index = Index::of(&record);
        let rows = refused(&index);
        let told: Vec<String> = rows.iter().map(Found::what_where).collect();
        assert_eq!(told, ["A cut (c 1, 2)", "A wide"]);
        assert_eq!(rows[1].outcome, ["done again, then in order"]);
        let passed = passed(&index);
        let told: Vec<(&str, bool)> =
            passed.iter().map(|one| (one.what.as_str(), one.is_once_more)).collect();
        assert_eq!(told, [("A milky", true), ("A clear", false), ("A even", false)]);
    }
}
