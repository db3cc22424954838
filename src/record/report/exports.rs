//! The record for other programs and plain paper: CSV, JSON, Markdown and text.
//!
//! Each is made of the bytes of `record.json` and names their hash. Every leaf of the record has a
//! line of its own by construction, under the path at which it stands.

use serde_json::{Value, json};

use super::ReportFault;
use super::first_page::FirstPage;
use super::readings::{self, Row};
use crate::canonical;
use crate::ids::{Moment, Sha256};
use crate::record::completion::Record;
use crate::visible::visible;

/// A record taken apart, ready to be written in any of the forms.
#[derive(Debug)]
pub struct Exports {
    record: Record,
    hash: Sha256,
    value: Value,
    lines: Vec<(String, String)>,
}

impl Exports {
    /// Takes apart the bytes of a record.
    ///
    /// # Errors
    /// The bytes are not those of a record.
    pub fn of(bytes: &[u8]) -> Result<Self, ReportFault> {
        let record = Record::parse(bytes)?;
        let value = tree(&record);
        let mut lines = Vec::new();
        leaves(&value, String::new(), &mut lines);
        Ok(Self { record, hash: Sha256::of(bytes), value, lines })
    }

    /// Two columns, `field` and `value`, as RFC 4180 has them. A cell that a spreadsheet would run
    /// as a formula begins with an apostrophe; plain numbers are left alone.
    pub fn csv(&self) -> String {
        let mut text = String::from("field,value\r\n");
        csv_row(&mut text, "record_sha256", &self.hash.to_string());
        for (field, value) in &self.lines {
            csv_row(&mut text, field, value);
        }
        text
    }

    /// The record as it was signed, in a frame that names the hash of its bytes.
    pub fn json(&self) -> String {
        let mut text = canonical::to_line(
            &json!({ "record": self.value, "record_sha256": self.hash.to_string() }),
        );
        text.push('\n');
        text
    }

    /// Headings and tables. Nothing typed becomes markup.
    pub fn markdown(&self) -> String {
        let record = &self.record;
        let mut text = format!(
            "# Job {}: {}\n\n{} on {} ({}), serial number {}.\n\nSHA-256 of `record.json`: `{}`\n\n",
            md(&record.job),
            md(&record.outcome),
            md(&record.procedure.title),
            md(&record.machine.equipment_title),
            md(&record.machine.tag),
            md(&record.machine.serial),
            self.hash
        );
        self.first_page(&mut text, &Markdown);
        text.push_str("## Signatures\n\n| name | when | meaning |\n| --- | --- | --- |\n");
        for [name, when, meaning] in self.signatures() {
            text.extend([format!("| {} | {} | {} |\n", md(&name), md(&when), md(&meaning))]);
        }
        text.push_str("\n## The whole record\n\n| field | value |\n| --- | --- |\n");
        for (field, value) in &self.lines {
            text.extend([format!("| {} | {} |\n", md(field), md(value))]);
        }
        text
    }

    /// Plain lines.
    pub fn text(&self) -> String {
        let record = &self.record;
        let mut text = format!(
            "Job {}: {}\n{} on {} ({}), serial number {}\nSHA-256 of record.json: {}\n",
            visible(&record.job),
            visible(&record.outcome),
            visible(&record.procedure.title),
            visible(&record.machine.equipment_title),
            visible(&record.machine.tag),
            visible(&record.machine.serial),
            self.hash
        );
        self.first_page(&mut text, &Plain);
        text.push_str("Signatures\n");
        for [name, when, meaning] in self.signatures() {
            let line = format!("  {}  {}  {}\n", visible(&name), visible(&when), visible(&meaning));
            text.extend([line]);
        }
        text.push_str("\nThe whole record\n");
        for (field, value) in &self.lines {
            text.extend([format!("  {}: {}\n", visible(field), visible(value))]);
        }
        text
    }

    /// What the first page of the HTML report tells too, part by part.
    fn first_page(&self, text: &mut String, form: &dyn Form) {
        let record = &self.record;
        let first = FirstPage::of(record, &readings::rows(&record.steps, &record.dispositions));
        form.heading(text, first.outcome);
        if let Some(stop) = &record.stop {
            form.line(text, &stop.text);
            form.line(text, &format!("Left in this state: {}", stop.safe_state));
        }
        for group in &first.groups {
            form.heading(text, group.title);
            group.lines.iter().for_each(|told| form.told(text, &told.label, &told.says));
        }
        form.heading(text, "Outside the limit");
        let n_outside = first.outside.len() + first.n_more_outside;
        form.line(text, &format!("{n_outside} of {} figures", first.n_judged));
        first.outside.iter().for_each(|row| form.figure(text, row));
        more(text, form, first.n_more_outside);
        form.heading(text, first.parts_title);
        for part in &first.replaced {
            let told = [
                format!("{} × {}", part.quantity, part.title),
                part.number.clone().unwrap_or_default(),
                part.places.clone(),
                if part.lots.is_empty() { String::new() } else { format!("lot {}", part.lots) },
            ];
            let told: Vec<String> = told.into_iter().filter(|text| !text.is_empty()).collect();
            form.told(text, &told.join(", "), &part.because);
        }
        if first.replaced.is_empty() {
            form.line(text, "None");
        }
        more(text, form, first.n_more_replaced);
        form.heading(text, "Who signed");
        for signer in &first.signers {
            let name = format!("{} ({})", signer.name, signer.roles);
            let at = Moment::parse(&signer.at).map_or_else(|| signer.at.clone(), Moment::spoken);
            form.told(text, &name, &format!("{}; last {at}", signer.says.join(", ")));
        }
        form.heading(text, "How to check this job");
        form.line(text, "This text proves nothing by itself. In the folder of the job:");
        form.commands(text, &["sha256sum -c SHA256SUMS", "witnessmark verify ."]);
        form.line(
            text,
            "Without this program, recipe.txt says how. The shop's public key has to come from the \
             shop, by another way than this folder.",
        );
        text.push('\n');
    }

    /// Who signed, when with offset, and what it means; the release last.
    fn signatures(&self) -> Vec<[String; 3]> {
        let name = |id: &str| {
            let of = self.record.people.iter().find(|person| person.id == id);
            of.map_or_else(|| id.to_owned(), |person| format!("{} ({id})", person.name))
        };
        let when = |at: &str| Moment::parse(at).map_or_else(|| at.to_owned(), Moment::spoken);
        let mut all: Vec<[String; 3]> = self
            .record
            .signatures
            .iter()
            .map(|s| [name(&s.signer), when(&s.at), format!("{} ({})", s.says, s.meaning)])
            .collect();
        let release = |key: &str| {
            self.value.pointer(&format!("/release/{key}")).and_then(Value::as_str).unwrap_or("")
        };
        all.push([
            name(release("signer")),
            when(release("at")),
            format!("{} as {}", release("meaning"), release("role")),
        ]);
        all
    }
}

/// A form of the first page.
trait Form {
    fn heading(&self, text: &mut String, heading: &str);
    fn line(&self, text: &mut String, line: &str);
    fn told(&self, text: &mut String, label: &str, says: &str);
    fn figure(&self, text: &mut String, row: &Row);
    fn commands(&self, text: &mut String, lines: &[&str]);
}

struct Markdown;
struct Plain;

fn more(text: &mut String, form: &dyn Form, n: usize) {
    if n > 0 {
        form.line(text, &format!("and {n} more below"));
    }
}

/// A figure as found and as left, with what was done where no figure tells.
fn figure_words(row: &Row) -> String {
    // One reading of one time is both.
    let is_one = row.found == row.left;
    let cell = |phase: &str, cell: Option<&super::readings::Cell>| {
        cell.map(|cell| {
            let side = cell.outside.map_or_else(String::new, |side| format!(", {side}"));
            format!("as {phase} {}{side}", cell.text)
        })
    };
    let told = [
        Some(format!("limit {}", row.limit)),
        cell(if is_one { "found and left" } else { "found" }, row.found.as_ref()),
        cell("left", row.left.as_ref().filter(|_| !is_one)),
        row.settled.clone(),
    ];
    told.into_iter().flatten().collect::<Vec<_>>().join("; ").replace('\u{a0}', " ")
}

fn figure_place(row: &Row) -> String {
    if row.position.is_empty() {
        row.text.clone()
    } else {
        format!("{} ({})", row.text, row.position)
    }
}

impl Form for Markdown {
    fn heading(&self, text: &mut String, heading: &str) {
        text.extend(["\n## ", &md(heading), "\n\n"]);
    }

    fn line(&self, text: &mut String, line: &str) {
        text.extend([&md(line), "\n\n"]);
    }

    fn told(&self, text: &mut String, label: &str, says: &str) {
        text.extend(["- **", &md(label), "**: ", &md(says), "\n"]);
    }

    fn figure(&self, text: &mut String, row: &Row) {
        self.told(text, &figure_place(row), &figure_words(row));
        if let Some(picture) = &row.picture {
            text.extend(["  `", &picture.plain(), "`\n"]);
        }
    }

    fn commands(&self, text: &mut String, lines: &[&str]) {
        text.extend(["```sh\n", &lines.join("\n"), "\n```\n\n"]);
    }
}

impl Form for Plain {
    fn heading(&self, text: &mut String, heading: &str) {
        text.extend(["\n", visible(heading).as_ref(), "\n"]);
    }

    fn line(&self, text: &mut String, line: &str) {
        text.extend(["  ", visible(line).as_ref(), "\n"]);
    }

    fn told(&self, text: &mut String, label: &str, says: &str) {
        text.extend(["  ", visible(label).as_ref(), ": ", visible(says).as_ref(), "\n"]);
    }

    fn figure(&self, text: &mut String, row: &Row) {
        self.told(text, &figure_place(row), &figure_words(row));
        if let Some(picture) = &row.picture {
            text.extend(["    ", &picture.plain(), "\n"]);
        }
    }

    fn commands(&self, text: &mut String, lines: &[&str]) {
        text.extend(lines.iter().flat_map(|line| ["    ", line, "\n"]));
    }
}

/// The record as a tree of plain values.
pub(super) fn tree(record: &Record) -> Value {
    serde_json::to_value(record).expect("internal: a record is plain data")
}

/// Every leaf with its path, in the order of the record. What is empty is said to be.
fn leaves(value: &Value, path: String, out: &mut Vec<(String, String)>) {
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            for (key, inner) in fields {
                let dotted = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                leaves(inner, dotted, out);
            }
        }
        Value::Array(items) if !items.is_empty() => {
            for (n, inner) in items.iter().enumerate() {
                leaves(inner, format!("{path}[{n}]"), out);
            }
        }
        Value::Object(_) | Value::Array(_) => out.push((path, "none".to_owned())),
        Value::String(text) => out.push((path, text.clone())),
        other => out.push((path, other.to_string())),
    }
}

fn csv_row(out: &mut String, field: &str, value: &str) {
    out.push_str(&cell(field));
    out.push(',');
    out.push_str(&cell(value));
    out.push_str("\r\n");
}

/// One cell. An apostrophe of the text's own gets another, so that reading back is exact.
fn cell(text: &str) -> String {
    let acts = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    let guard = if text.starts_with('\'') || (acts && !is_plain_number(text)) { "'" } else { "" };
    let cell = format!("{guard}{text}");
    if cell.contains([',', ';', '"', '\r', '\n', '\t']) {
        return format!("\"{}\"", cell.replace('"', "\"\""));
    }
    cell
}

fn is_plain_number(text: &str) -> bool {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let (whole, rest) = digits.split_once('.').map_or((digits, None), |(w, r)| (w, Some(r)));
    let all = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    all(whole) && rest.is_none_or(all)
}

/// Text in which nothing is markup: every ASCII sign that Markdown or HTML could read is escaped.
fn md(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in visible(text).chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '@' => out.push_str("&#64;"),
            ':' => out.push_str("&#58;"),
            c if "\\`*_{}[]()#+-!|~".contains(c) => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads what [`csv_row`] writes, as RFC 4180 has it, guards taken off.
    fn read_back(text: &str) -> Vec<Vec<String>> {
        let (mut rows, mut row, mut cell) = (Vec::new(), Vec::new(), String::new());
        let mut chars = text.chars().peekable();
        let mut quoted = false;
        while let Some(c) = chars.next() {
            match (c, quoted) {
                ('"', true) if chars.next_if_eq(&'"').is_some() => cell.push('"'),
                ('"', _) => quoted = !quoted,
                (',', false) => row.push(std::mem::take(&mut cell)),
                ('\r', false) => {
                    assert_eq!(chars.next(), Some('\n'));
                    row.push(std::mem::take(&mut cell));
                    rows.push(std::mem::take(&mut row));
                }
                (c, _) => cell.push(c),
            }
        }
        for cell in rows.iter_mut().flatten() {
            if let Some(rest) = cell.strip_prefix('\'') {
                *cell = rest.to_owned();
            }
        }
        rows
    }

    #[test]
    fn o20_numbers_stay_numbers_and_formulas_do_not_run() {
        for same in ["-0.02", "2.50", "0012", "+7", "-3"] {
            assert_eq!(cell(same), same);
        }
        let live = [
            "=HYPERLINK(\"http://x\",\"y\")",
            "+1 shim fitted",
            "@home",
            "-2+3+cmd|' /C calc'!A0",
            "\t=1+1",
            "\r=1",
            "--1",
            "-",
            "-1.",
            "＝1+1",
        ];
        for text in live {
            let made = cell(text);
            assert!(made.starts_with('\'') || made.starts_with("\"'"), "{made}");
        }
        assert_eq!(cell("a;\"b\"\nc"), "\"a;\"\"b\"\"\nc\"");
    }

    #[test]
    fn o20_our_own_csv_reads_back_to_the_same_values() {
        let values = ["", "-0.02", "=1", "'", "''=1", "'a", "a,b", "q\"q", "l\r\nm", "\t=1", "ö;x"];
        let mut text = String::new();
        for value in values {
            csv_row(&mut text, "=f", value);
        }
        let wanted: Vec<Vec<String>> =
            values.iter().map(|v| vec!["=f".to_owned(), (*v).to_owned()]).collect();
        assert_eq!(read_back(&text), wanted);
    }

    #[test]
    fn re1_every_leaf_has_a_line_and_nothing_typed_is_markup() {
        let value = json!({"a": [{"b": 1}, "x"], "c": [], "d": {"e": true}});
        let mut lines = Vec::new();
        leaves(&value, String::new(), &mut lines);
        let text: Vec<String> = lines.iter().map(|(f, v)| format!("{f}={v}")).collect();
        assert_eq!(text, ["a[0].b=1", "a[1]=x", "c=none", "d.e=true"]);
        assert_eq!(md("<b>*x*</b>|[y](z)"), r"&lt;b&gt;\*x\*&lt;/b&gt;\|\[y\]\(z\)");
        assert_eq!(md("http://x"), "http&#58;//x");
    }
}
