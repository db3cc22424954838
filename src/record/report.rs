//! The record as one page for people: self-contained HTML, for screens light and dark and for paper.
//!
//! Made of `record.json` alone, so that the page can be made again from it. Everything that comes from
//! the record is escaped; nothing typed becomes markup.

mod annex;
pub mod exports;
mod first_page;
pub mod photos;
mod readings;

use std::collections::BTreeMap;

use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;

use super::completion::{Answer, Finding, Record, RecordFault, Step};
use crate::ids::{Moment, Sha256};
use crate::procedure::model::{NO_FAULT, Verdict};
use crate::visible::visible_lines;
use first_page::FirstPage;
use readings::Row;

const PAGE: &str = include_str!("report/report.html");
const STYLE: &str = include_str!("report/style.css");

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum ReportFault {
    /// The record cannot be read.
    #[error(transparent)]
    Record(#[from] RecordFault),
    /// The page's own template is at fault.
    #[error("the page could not be made: {0}; please report this")]
    Template(#[from] minijinja::Error),
}

#[derive(Serialize)]
struct View<'a> {
    /// Every field, for the annex.
    annex: Vec<annex::Line>,
    photos: Vec<photos::Photo<'a>>,
    /// What the first page tells.
    first: FirstPage,
    n_departures: usize,
    n_fitted: usize,
    /// The hash of the record's bytes.
    sha256: String,
    /// Those who are named by id elsewhere.
    names: BTreeMap<&'a str, &'a str>,
    findings: Vec<&'a Step>,
    /// Inspections that found nothing, which are counted instead of listed.
    n_without_fault: usize,
    readings: Vec<Row>,
    record: &'a Record,
    style: Value,
}

/// Makes the page of a record, without pictures.
///
/// # Errors
/// The bytes are not those of a record.
pub fn render(record: &[u8]) -> Result<String, ReportFault> {
    render_with(record, &BTreeMap::new())
}

/// Makes the page of a record. `evidence` are the job's photos and files by their SHA-256.
///
/// # Errors
/// The bytes are not those of a record.
pub fn render_with(
    bytes: &[u8],
    evidence: &BTreeMap<String, Vec<u8>>,
) -> Result<String, ReportFault> {
    let record = Record::parse(bytes)?;
    let value = exports::tree(&record);
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_name| AutoEscape::Html);
    environment.set_undefined_behavior(UndefinedBehavior::SemiStrict);
    environment.set_formatter(formatter);
    environment.add_filter("spoken", spoken);
    environment.add_filter("sign", sign);
    environment.add_filter("words", |name: String| name.replace('_', " "));
    environment.add_template("report.html", PAGE)?;
    let readings = readings::rows(&record.steps, &record.dispositions);
    let is_departure = |step: &&Step| matches!(step.answer, Answer::Deviated { .. });
    let view = View {
        annex: annex::lines(&value),
        photos: photos::of(&record, evidence),
        first: FirstPage::of(&record, &readings),
        n_departures: record.steps.iter().filter(is_departure).count() + record.concessions.len(),
        n_fitted: record.fitted.len(),
        sha256: Sha256::of(bytes).to_string(),
        names: record.people.iter().map(|p| (p.id.as_str(), p.name.as_str())).collect(),
        findings: record.steps.iter().filter(|step| is_finding(step)).collect(),
        n_without_fault: record
            .steps
            .iter()
            .filter(|step| matches!(&step.answer, Answer::Found(found) if is_without_fault(found)))
            .count(),
        readings,
        record: &record,
        style: Value::from_safe_string(STYLE.to_owned()),
    };
    Ok(environment.get_template("report.html")?.render(Serde(&view))?)
}

/// Escapes as always, after showing characters that would act on the direction of text.
fn formatter(
    out: &mut minijinja::Output<'_>,
    state: &mut minijinja::State<'_, '_>,
    value: &Value,
) -> Result<(), minijinja::Error> {
    match value.as_str() {
        Some(text) if !value.is_safe() => {
            minijinja::escape_formatter(out, state, &Value::from(visible_lines(text)))
        }
        _ => minijinja::escape_formatter(out, state, value),
    }
}

fn is_without_fault(found: &[Finding]) -> bool {
    matches!(found, [only] if only.id == NO_FAULT)
}

/// What an inspection found or somebody decided, other than readings.
fn is_finding(step: &Step) -> bool {
    match &step.answer {
        Answer::Found(found) => !is_without_fault(found),
        Answer::Decided { .. }
        | Answer::CouldNotMeasure { .. }
        | Answer::NotAttached { .. }
        | Answer::Deviated { .. } => true,
        Answer::Items(items) => items.iter().any(|item| !item.so),
        Answer::Built(layers) => layers.iter().any(|layer| !layer.so),
        Answer::Tightened(rounds) => {
            rounds.iter().any(|round| round.fasteners.iter().any(|tight| !tight.so))
        }
        Answer::WorkedOut { refused, .. } => refused.is_some(),
        Answer::Done
        | Answer::Read { .. }
        | Answer::Entered(_)
        | Answer::EnteredFigure(_)
        | Answer::Attached(_)
        | Answer::Released
        | Answer::Waited { .. }
        | Answer::Stopped => false,
    }
}

fn spoken(at: String) -> String {
    Moment::parse(&at).map_or(at, Moment::spoken)
}

/// A sign beside the word, so that colour is never all there is.
fn sign(word: &str) -> &'static str {
    match Verdict::parse(word) {
        Some(Verdict::Accept) => "✓",
        Some(Verdict::Rework) => "↻",
        Some(Verdict::Replace) => "✗",
        Some(Verdict::Refer) => "?",
        Some(Verdict::Stop) => "■",
        None => "",
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value as Json, json};

    use super::*;
    use crate::canonical;

    /// A record with at least one of everything.
    #[expect(clippy::too_many_lines, reason = "a whole record, field by field")]
    fn full() -> Json {
        let step = |answer: Json| {
            json!({
                "address": "tear/spring", "answer": answer, "at": "2026-11-25T10:00:00.000+01:00",
                "by": "i.varga", "confirmed": 9, "n": 7,
                "headline": {"label": "First", "says": "grit", "under": "cause"}, "observed": "2026-11-25T09:00:00.000+01:00",
                "phase": "found",
                "limit": {"at_least": "44.6 mm", "at_most": "45.4 mm", "basis": "manual",
                          "compare": "rounded_half_up to 1 place", "conforms": "0.000001",
                          "decided": "below", "grade": "worn", "name": "spring.length", "rounded": "43.9 mm",
                          "rule": "guarded", "words": "44.6 mm to 45.4 mm"},
                "safety": {"at": "t", "by": "i.varga", "n": 6, "text": "hash"},
                "said": ["renew it"], "text": "Measure", "verdict": "replace",
                "verdict_judged": "refer", "what": "43.9 mm", "within": ["Teardown"],
            })
        };
        let figure = json!({"text": "43.9", "unit": "mm", "value": "43.9 mm"});
        let instrument = json!({
            "calibration_due": "2027-01-01", "certificate": "K1", "certificate_sha256": "K2", "id": "C-03", "k": "2",
            "kind": "caliper", "resolution": "0.01 mm", "uncertainty": "0.02 mm",
        });
        let round = json!({
            "fasteners": [{"fastener": 5, "reading": figure, "so": true}], "pass": 2,
            "wrench": {"adapter": {"angle": figure, "extension": figure, "length": figure},
                "instrument": instrument, "setting": figure, "thread": "dry",
                "torque": "30 N·m", "worked_out": "exact"},
        });
        let fitted = json!([{"by": "i.varga", "layer": "spring", "lot": "L-7", "n": 31, "number": "78",
                "part": "valve_spring", "position": "cylinder=3", "quantity": 61, "step": "rebuild/inlet",
                "title": "Valve spring"}]);
        let loosened = json!([{"address": "close/nuts", "at": "t", "by": "i.varga", "fastener": 5, "n": 33,
                "reason": "washer missing", "superseded": [round.clone()]}]);
        let rechecks = json!([{"address": "close/nuts", "at": "t", "by": "i.varga",
                "direction": "tightening", "fastener": 4, "instrument": instrument,
                "judged": "34 is fine", "n": 34, "reading": figure}]);
        let dispositions = json!([{"address": "da", "at": "db", "by": "dc", "done": "dd",
                "done_n": 27, "lot": "de", "n": 28, "rules": "replace", "says": "df",
                "verdict": "refer", "what": "dg"}]);
        let steps = vec![
            step(json!({"attached": {"len_bytes": 78, "name": "ef", "sha256": "eg"}})),
            step(json!({"not_attached": {"reason": "no camera"}})),
            step(json!({"deviated": {"done": true, "reason": "by hand"}})),
            step(
                json!({"waited": {"begun": "wb", "doubtful": true, "elapsed_s": 61, "ended": "we"}}),
            ),
            step(json!("done")),
            step(json!("released")),
            step(json!("stopped")),
            step(json!({"items": [{"so": true, "text": "one"}, {"so": false, "text": "two"}]})),
            step(json!({"found": [{"id": "worn", "likely_cause": "grit", "see": "a ring"}]})),
            step(json!({"read": {"instrument": instrument, "reading": figure,
                    "several": {"points": ["rim", "hub"], "reason": "it leaned", "rule": "worst",
                    "taken": [figure.clone(), figure.clone()]}}})),
            step(json!({"could_not_measure": {"reason": "too dirty"}})),
            step(json!({"built": [{"layer": "seat", "lies": "face up", "lot": "K-8",
                    "part": "valve_seat", "so": true, "title": "Seat"}]})),
            step(json!({"tightened": [round.clone()]})),
            step(json!({"entered": "typed"})),
            step(json!({"entered_figure": figure})),
            step(json!({"decided": {"reason": "good enough", "verdict": "accept"}})),
        ];
        let mut record = json!({
            "concessions": [{"address": "ca", "at": "cb", "by": "cc", "n": 21, "reason": "cd",
                "rules": "replace", "verdict": "accept"}],
            "evidence": [{"address": "ea", "at": "eb", "by": "ec", "n": 22,
                "file": {"len_bytes": 77, "name": "ed", "sha256": "ee"}}],
            "witnesses": [{"address": "wa", "at": "wb", "n": 23, "who": "wc"}],
            "corrections": [{"address": "a", "after": "b", "at": "c", "before": "d",
                "before_at": "e", "before_by": "f", "by": "g", "n": 12, "reason": "h",
                "supersedes": 11}],
            "exceptions": {"by": "k.osei", "n": 40, "shown": ["look at this"]},
            "fitted": fitted,
            "expired": [{"because": "xa", "n": 24, "title": "xb", "token": "xc"}],
            "halts": [{"address": "ha", "at": "hb", "by": "hc", "n": 25, "reason": "hd",
                "resumed": {"at": "he", "by": "hf", "reason": "hg"}, "safe_state": "hh",
                "standing": "hi"}],
            "format": "1.1", "job": "2026-0031", "journal": {"head": "head", "n": 40},
            "journal_notes": [{"n": 5, "text": "torn"}], "kind": "demo",
            "late": [{"address": "la", "at": "lb", "by": "lc", "n": 26, "observed": "ld",
                "reason": "le"}],
            "lapsed": [{"address": "x", "by_n": 13, "n": 10}],
            "loosened": loosened,
            "machine": {"equipment": "pump", "equipment_revision": 2, "equipment_title": "Pump",
                "fit_out": "A", "serial": "0012", "tag": "P-101", "title": "Feed pump"},
            "manifest": {"files/shop.yaml": "hash of it"},
            "not_applicable": [{"address": "y", "because": "elastomer == epdm", "text": "Rinse"}],
            "notes": [{"address": "z", "at": "when", "by": "i.varga", "n": 8, "text": "note"}],
            "opened_at": "2026-11-25T08:00:00.000+01:00", "outcome": "stopped",
            "parked": [{"address": "q", "at": "then", "by": "who", "n": 3, "text": "t", "what": "w"}],
            "parts": [{"because": "b", "number": "77", "part": "valve_spring",
                "position": "cylinder=2", "quantity": 1, "title": "Spring"}],
            "people": [{"certificate": "C", "id": "i.varga", "name": "Ines Varga",
                "roles": ["apprentice"]}],
            "previous_release": "zeros",
            "procedure": {"id": "overhaul", "revision": 3, "title": "Overhaul"},
            "procedures": [{"id": "safe", "revision": 4, "title": "Make safe"}],
            "rechecks": rechecks,
            "release": {"at": "2026-11-25T16:00:00.000+01:00", "head": "h", "head_n": 40,
                "job": "2026-0031", "kind": "release", "meaning": "released",
                "role": "mechanic", "signer": "k.osei"},
            "semantics": 1, "shop": {"id": "shop", "revision": 5, "title": "Shop"},
            "signatures": [{"address": "hold", "at": "at", "meaning": "hold_released", "n": 30,
                "role": "mechanic", "says": "releases the hold", "signer": "k.osei"}],
            "steps": steps,
            "stop": {"address": "s", "safe_state": "closed", "tell": ["shift"], "text": "No statement"},
        });
        record["wrong_acceptances"] = json!({"expected": "0.017", "n_readings": 62});
        record["dispositions"] = dispositions;
        record["zero_checks"] = json!([{"at": "za", "by": "zb", "instrument": instrument, "n": 35,
            "reading": figure, "so": false}]);
        record
    }

    fn page(record: &Json) -> String {
        render(canonical::to_line(record).as_bytes()).unwrap_or_else(|e| panic!("{e:#}"))
    }

    /// Gives every leaf a value of its own, the page's own switches left alone, and lists them.
    fn mark(value: &mut Json, key: &str, marks: &mut Vec<String>) {
        let kept = ["format", "outcome"].contains(&key);
        match value {
            Json::String(text)
                if !kept && !["done", "released", "stopped"].contains(&text.as_str()) =>
            {
                *text = format!("mark-{}-", marks.len());
                marks.push(text.clone());
            }
            Json::Number(_) => {
                let number = 700_000 + marks.len();
                *value = json!(number);
                marks.push(number.to_string());
            }
            Json::Array(items) => items.iter_mut().for_each(|item| mark(item, key, marks)),
            Json::Object(fields) => {
                for (key, value) in fields.iter_mut() {
                    // A revision or a version of rules is a small number by its type, not here.
                    mark(value, key, marks);
                }
            }
            _ => {}
        }
    }

    #[test]
    fn re1_every_field_of_a_record_is_on_the_page() {
        let mut record = full();
        let mut marks = Vec::new();
        mark(&mut record, "", &mut marks);
        assert!(marks.len() > 150, "{}", marks.len());
        let page = page(&record);
        let missing: Vec<&String> = marks.iter().filter(|m| !page.contains(m.as_str())).collect();
        let names = |m: &String| {
            let text = record.to_string();
            let at = text.find(m.as_str()).unwrap();
            text.get(at.saturating_sub(60)..at + m.len()).unwrap().to_owned()
        };
        let missing: Vec<String> = missing.into_iter().map(names).collect();
        assert!(missing.is_empty(), "{missing:#?}");
    }

    #[test]
    fn nothing_typed_becomes_markup() {
        let mut record = full();
        let nasty = "<script>alert('1')</script>\"><img src=x onerror=y>&amp;{{ 7*7 }}\u{202e}";
        let paths = [
            "/notes/0/text",
            "/steps/13/answer/entered",
            "/corrections/0/reason",
            "/machine/tag",
            "/steps/9/answer/read/instrument/id",
            "/people/0/name",
            "/steps/0/verdict",
            "/release/at",
            "/outcome",
            "/steps/5/limit/words",
            "/kind",
        ];
        for path in paths {
            *record.pointer_mut(path).unwrap() = json!(nasty);
        }
        let page = page(&record);
        assert!(!page.contains("<script") && !page.contains("<img src=x"));
        assert!(page.contains("&lt;script&gt;") && page.contains("{{ 7*7 }}"));
        assert!(!page.contains('\u{202e}'));
        // No attribute is left by a quote that was typed.
        assert!(!page.contains("\"><img"));
    }

    #[test]
    fn a_demo_says_so_first_and_a_page_asks_for_nothing_from_outside() {
        let page = page(&full());
        let body = page.split_once("<body>").unwrap().1;
        assert!(body.trim_start().starts_with("<p class=\"banner\">DEMO"));
        for outside in ["http://", "https://", "src=\"h", "<link", "@import", "url("] {
            assert!(!page.contains(outside), "{outside}");
        }
        assert!(page.contains("<svg") && page.contains("@page { margin"));
    }
}
