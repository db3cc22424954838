//! Diagnostics as SARIF 2.1.0, which code hosts and editors read.
//!
//! Columns count Unicode code points; hidden characters are escaped, so the text acts on nothing.

use serde::Serialize;

use super::{Code, Diagnostic, Level};
use crate::source::{LineCol, Sources, Span};

/// The schema that the output follows.
const SCHEMA: &str = "https://json.schemastore.org/sarif-2.1.0.json";

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Log<'a> {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run<'a> {
    tool: Tool,
    column_kind: &'static str,
    results: Vec<Finding<'a>>,
}

#[derive(Serialize)]
struct Tool {
    driver: Driver,
}

#[derive(Serialize)]
struct Driver {
    name: &'static str,
    version: &'static str,
    rules: Vec<Rule>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Rule {
    id: &'static str,
    name: &'static str,
    short_description: Message<'static>,
    full_description: Message<'static>,
}

#[derive(Serialize)]
struct Message<'a> {
    text: std::borrow::Cow<'a, str>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Finding<'a> {
    rule_id: &'static str,
    rule_index: usize,
    level: &'static str,
    message: Message<'a>,
    locations: [Location<'a>; 1],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    related_locations: Vec<Location<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    fixes: Vec<Fix<'a>>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Location<'a> {
    physical_location: Physical,
    #[serde(skip_serializing_if = "Option::is_none")]
    message: Option<Message<'a>>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Physical {
    artifact_location: Artifact,
    region: Region,
}

#[derive(Serialize)]
struct Artifact {
    uri: String,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Region {
    start_line: usize,
    start_column: usize,
    end_line: usize,
    end_column: usize,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Fix<'a> {
    artifact_changes: [Change<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Change<'a> {
    artifact_location: Artifact,
    replacements: [Replacement<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Replacement<'a> {
    deleted_region: Region,
    inserted_content: Message<'a>,
}

fn message(text: &str) -> Message<'_> {
    Message { text: text.into() }
}

/// A file's name as a relative reference: only what a URI cannot hold is escaped.
fn uri(name: &str) -> String {
    let kept = |b: u8| b.is_ascii_alphanumeric() || b"-._~/".contains(&b);
    name.bytes()
        .map(|b| if kept(b) { char::from(b).to_string() } else { format!("%{b:02X}") })
        .collect()
}

fn artifact(span: Span, sources: &Sources) -> Artifact {
    Artifact { uri: uri(sources.file(span.file).map_or("", |source| source.name())) }
}

fn region(span: Span, sources: &Sources) -> Region {
    let at = |offset| {
        let first = LineCol { line: 1, column: 1 };
        sources.file(span.file).map_or(first, |source| source.line_col(offset))
    };
    let (start, end) = (at(span.start), at(span.end));
    Region {
        start_line: start.line,
        start_column: start.column,
        end_line: end.line,
        end_column: end.column,
    }
}

fn location<'a>(span: Span, text: Option<&'a str>, sources: &Sources) -> Location<'a> {
    Location {
        physical_location: Physical {
            artifact_location: artifact(span, sources),
            region: region(span, sources),
        },
        message: text.map(message),
    }
}

fn finding<'a>(d: &'a Diagnostic, sources: &Sources) -> Finding<'a> {
    let text = match &d.help {
        Some(help) => format!("{}. {help}", d.headline),
        None => d.headline.clone(),
    };
    let fixes = d.fix.iter().map(|edit| Fix {
        artifact_changes: [Change {
            artifact_location: artifact(edit.span, sources),
            replacements: [Replacement {
                deleted_region: region(edit.span, sources),
                inserted_content: message(&edit.text),
            }],
        }],
    });
    Finding {
        rule_id: d.code.number(),
        rule_index: Code::ALL.iter().position(|code| *code == d.code).unwrap_or(0),
        level: match d.level {
            Level::Warning => "warning",
            Level::Error => "error",
        },
        message: Message { text: text.into() },
        locations: [location(d.primary.span, None, sources)],
        related_locations: d
            .related
            .iter()
            .map(|label| location(label.span, Some(&label.text), sources))
            .collect(),
        fixes: fixes.collect(),
    }
}

/// Every diagnostic as one SARIF log.
pub fn sarif(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let rule = |code: &Code| Rule {
        id: code.number(),
        name: code.name(),
        short_description: message(code.summary()),
        full_description: message(code.why()),
    };
    let log = Log {
        schema: SCHEMA,
        version: "2.1.0",
        runs: [Run {
            tool: Tool {
                driver: Driver {
                    name: "witnessmark",
                    version: env!("CARGO_PKG_VERSION"),
                    rules: Code::ALL.iter().map(rule).collect(),
                },
            },
            column_kind: "unicodeCodePoints",
            results: diagnostics.iter().map(|d| finding(d, sources)).collect(),
        }],
    };
    let text =
        serde_json::to_string_pretty(&log).expect("internal: texts and numbers always become JSON");
    super::render::escaped(&text)
}
