//! The record as one page for people: self-contained HTML, for screens light and dark and for paper.
//!
//! Made of `record.json` alone, so that the page can be made again from it. Everything that comes from
//! the record is escaped; nothing typed becomes markup.

mod annex;
mod details;
mod document;
pub mod exports;
mod findings;
mod first_page;
mod index;
mod parts;
pub mod photos;
mod picture;
mod readings;
#[cfg(test)]
mod sample;
mod sheet;
mod shown;
mod signers;
mod words;

use std::collections::BTreeMap;

use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;

use super::completion::{Answer, Figure, Instrument, Record, RecordFault, Wrench};
use crate::ids::{Moment, Sha256};
use crate::procedure::model::Verdict;
use crate::visible::visible_lines;
use first_page::FirstPage;
use index::Index;
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
    /// Pieces that are needed, and pieces that went in new.
    n_needed: u32,
    n_new: u32,
    n_outside: usize,
    n_signatures: usize,
    /// The hash of the record's bytes.
    sha256: String,
    /// Those who are named by id elsewhere.
    names: BTreeMap<&'a str, &'a str>,
    found: Vec<findings::Found>,
    departures: Vec<shown::Departure<'a>>,
    passed: Vec<findings::Passed>,
    /// Inspections that found nothing, which are counted instead of listed.
    n_without_fault: usize,
    readings: Vec<Row>,
    instruments: Vec<&'a Instrument>,
    needed: Vec<shown::Needed>,
    fitted: Vec<details::FittedLine>,
    dispositions: Vec<shown::Settled<'a>>,
    shown: Vec<String>,
    signatures: Vec<signers::Signed>,
    lines: Vec<details::Line<'a>>,
    not_asked: Vec<details::NotAsked>,
    has_previous: bool,
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
    let index = Index::of(&record);
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_name| AutoEscape::Html);
    environment.set_undefined_behavior(UndefinedBehavior::SemiStrict);
    environment.set_formatter(formatter);
    environment.add_filter("spoken", spoken);
    environment.add_filter("sign", sign);
    environment.add_filter("words", |name: String| words::spoken(&name));
    environment.add_filter("address", address);
    let places = index.places();
    environment.add_filter("place", move |at: String| {
        places.get(&at).cloned().unwrap_or_else(|| words::spoken(&at))
    });
    environment.add_filter("figure", |figure: Serde<Figure>| details::figure(&figure));
    environment.add_filter("wrench", |wrench: Serde<Wrench>| details::wrench(&wrench));
    environment.add_template("report.html", PAGE)?;
    let view = view(&index, bytes, evidence);
    Ok(environment.get_template("report.html")?.render(Serde(&view))?)
}

fn view<'a>(index: &Index<'a>, bytes: &[u8], evidence: &BTreeMap<String, Vec<u8>>) -> View<'a> {
    let record = index.record;
    let readings = readings::rows(index);
    let departures = shown::departures(index);
    let without_fault = record.steps.iter().filter(
        |step| matches!(&step.answer, Answer::Found(found) if findings::is_without_fault(found)),
    );
    let new = record.fitted.iter().filter(|fitted| parts::is_new(record, fitted));
    View {
        annex: annex::lines(&exports::tree(record)),
        photos: photos::of(index, evidence),
        first: FirstPage::of(index, &readings),
        n_departures: departures.len() + record.concessions.len(),
        n_needed: record.parts.iter().map(|part| part.quantity).fold(0, u32::saturating_add),
        n_new: new.map(|part| part.quantity).fold(0, u32::saturating_add),
        n_outside: readings.iter().filter(|row| row.is_outside).count(),
        n_signatures: (record.signatures.len() + 1).saturating_sub(record.lapsed.len()),
        sha256: Sha256::of(bytes).to_string(),
        names: record.people.iter().map(|p| (p.id.as_str(), p.name.as_str())).collect(),
        found: findings::refused(index),
        departures,
        passed: findings::passed(index),
        n_without_fault: without_fault.count(),
        instruments: details::instruments(index),
        needed: shown::needed(index),
        fitted: details::fitted(index),
        dispositions: shown::settled(index),
        shown: shown::looked(index),
        signatures: signers::all(index),
        lines: details::lines(index),
        not_asked: details::not_asked(index),
        has_previous: record.previous_release.chars().any(|c| c != '0'),
        readings,
        style: Value::from_safe_string(style(&record.job)),
        record,
    }
}

/// The style, with the job on every sheet of paper.
fn style(job: &str) -> String {
    // Letters and digits cannot end a text of a style sheet.
    let job: String = job.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').collect();
    STYLE.replace("JOB", &job)
}

/// An address as code that breaks where a name ends, not within.
fn address(at: &str) -> Value {
    let mut html = String::new();
    for c in visible_lines(at).chars() {
        match c {
            '<' => html.push_str("&lt;"),
            '>' => html.push_str("&gt;"),
            '&' => html.push_str("&amp;"),
            '"' => html.push_str("&quot;"),
            '\'' => html.push_str("&#x27;"),
            '/' => html.push_str("/<wbr>"),
            c => html.push(c),
        }
    }
    Value::from_safe_string(html)
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

    use super::sample::full;
    use super::*;
    use crate::canonical;

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
        assert!(page.contains("<svg") && page.contains("Job 2026-0031"));
        assert!(page.contains("counter(page)"), "pages have no numbers");
    }
}
