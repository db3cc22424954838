//! The record for other programs and plain paper: CSV, JSON, Markdown and text.
//!
//! Each is made of the bytes of `record.json` and names their hash. Every leaf of the record has a
//! line of its own by construction, under the path at which it stands.

use serde_json::{Value, json};

use unicode_width::UnicodeWidthStr as _;

use super::ReportFault;
use super::document::{self, Block, DEMO};
use super::index::Index;
use super::words::position;
use crate::canonical;
use crate::ids::Sha256;
use crate::record::completion::{Answer, Record};
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

    /// A row a reading, as RFC 4180 has it: what was measured and where, as found or as left, the
    /// figure as typed and its unit apart, and what it was held against. Cells as in [`Self::csv`].
    pub fn readings_csv(&self) -> String {
        let head = "entry,at,by,address,asked,where,as,figure,unit,value,outside,verdict,least,most,instrument";
        let mut text = format!("{head}\r\n");
        for step in &self.record.steps {
            let (figure, instrument) = match &step.answer {
                Answer::Read { reading, instrument, .. } => (Some(reading), instrument.id.as_str()),
                Answer::WorkedOut { result: Some(result), .. } => (Some(result), ""),
                Answer::CouldNotMeasure { .. } => (None, ""),
                _ => continue,
            };
            let limit = step.limit.as_ref();
            let decided = limit.and_then(|limit| limit.decided.as_deref());
            let row = [
                &*step.n.to_string(),
                &step.at,
                step.by.as_deref().unwrap_or(""),
                &step.address,
                &step.text,
                &position(&step.address),
                step.phase.as_deref().unwrap_or(""),
                figure.map_or("", |figure| &figure.text),
                figure.map_or("", |figure| &figure.unit),
                figure.map_or("", |figure| &figure.value),
                decided.filter(|decided| *decided != "within").unwrap_or(""),
                step.verdict.as_deref().unwrap_or(""),
                limit.and_then(|limit| limit.at_least.as_deref()).unwrap_or(""),
                limit.and_then(|limit| limit.at_most.as_deref()).unwrap_or(""),
                instrument,
            ];
            text.extend([row.map(cell).join(","), "\r\n".to_owned()]);
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
        let demo =
            if record.kind == "demo" { ["**", DEMO, "**\n\n"].concat() } else { String::new() };
        let mut text = format!(
            "{demo}# Job {}: {}\n\nSHA-256 of `record.json`: `{}`\n\n",
            md(&record.job),
            md(&record.procedure.title),
            self.hash
        );
        let mut before = None;
        for block in document::of(&Index::of(record)) {
            markdown(&mut text, &block, before.as_ref());
            before = Some(block);
        }
        text.push_str("\n## The whole record\n\n| field | value |\n| --- | --- |\n");
        for (field, value) in &self.lines {
            text.extend([format!("| {} | {} |\n", md(field), md(value))]);
        }
        text
    }

    /// Plain lines of no more than 80 columns, but for words that are longer.
    pub fn text(&self) -> String {
        let record = &self.record;
        let mut text = String::new();
        if record.kind == "demo" {
            wrap(&mut text, "", "", DEMO);
        }
        let title = format!("Job {}: {}", record.job, record.procedure.title);
        wrap(&mut text, "", "", &title);
        wrap(&mut text, "", "  ", &format!("SHA-256 of record.json: {}", self.hash));
        for block in document::of(&Index::of(record)) {
            plain(&mut text, &block);
        }
        text.push_str("\nThe whole record\n");
        for (field, value) in &self.lines {
            wrap(&mut text, "  ", "      ", &format!("{field}: {value}"));
        }
        text
    }
}

/// One block as Markdown; items of a list that stand together are one list.
fn markdown(text: &mut String, block: &Block, before: Option<&Block>) {
    let is_item = |block: &Block| matches!(block, Block::Told(..) | Block::Picture(_));
    if before.is_some_and(is_item) && !is_item(block) && !matches!(block, Block::Heading(_)) {
        text.push('\n');
    }
    match block {
        Block::Heading(heading) => {
            if !text.ends_with("\n\n") {
                text.push('\n');
            }
            text.extend(["## ", &md(heading), "\n\n"]);
        }
        Block::Line(line) => text.extend([&md(line), "\n\n"]),
        Block::Told(label, says) if label.is_empty() => text.extend(["- ", &md(says), "\n"]),
        Block::Told(label, says) => {
            text.extend(["- **", &md(label), "**: ", &md(says), "\n"]);
        }
        Block::Picture(picture) => text.extend(["  `", picture, "`\n"]),
        Block::Commands(lines) => text.extend(["```sh\n", &lines.join("\n"), "\n```\n\n"]),
        Block::Table(head, rows) => {
            text.extend(["| ", &head.join(" | "), " |\n| --- | --- | --- |\n"]);
            for [one, two, three] in rows {
                text.extend([format!("| {} | {} | {} |\n", md(one), md(two), md(three))]);
            }
        }
    }
}

/// One block as plain lines.
fn plain(text: &mut String, block: &Block) {
    match block {
        Block::Heading(heading) => {
            text.push('\n');
            wrap(text, "", "", heading);
        }
        Block::Line(line) => wrap(text, "  ", "  ", line),
        Block::Told(label, says) if label.is_empty() => wrap(text, "  - ", "    ", says),
        Block::Told(label, says) => wrap(text, "  ", "    ", &format!("{label}: {says}")),
        Block::Picture(picture) => text.extend(["    ", picture, "\n"]),
        Block::Commands(lines) => text.extend(lines.iter().flat_map(|line| ["    ", line, "\n"])),
        Block::Table(_, rows) => {
            for [one, two, three] in rows {
                wrap(text, "  ", "    ", &format!("{one}, {two}: {three}"));
            }
        }
    }
}

/// So wide is plain text.
const COLUMNS: usize = 80;

/// Lines of whole words, the first after `first`, the others after `rest`.
fn wrap(out: &mut String, first: &str, rest: &str, text: &str) {
    let mut line = first.to_owned();
    let mut is_begun = false;
    for word in visible(text).split(' ') {
        if is_begun && line.width() + 1 + word.width() > COLUMNS {
            out.extend([line.trim_end(), "\n"]);
            (line, is_begun) = (rest.to_owned(), false);
        }
        if is_begun {
            line.push(' ');
        }
        line.push_str(word);
        is_begun = true;
    }
    out.extend([line.trim_end(), "\n"]);
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

/// Text in which nothing is markup: signs that Markdown or HTML could read where they stand are escaped,
/// and no others, so that it can be read as it stands too.
fn md(text: &str) -> String {
    let text = visible(text);
    let mut out = String::with_capacity(text.len());
    let n_digits = text.bytes().take_while(u8::is_ascii_digit).count();
    let mut before = None;
    let mut rest = text.chars();
    let mut at = 0_usize;
    while let Some(c) = rest.next() {
        let next = rest.clone().next();
        let is_within = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '@' => out.push_str("&#64;"),
            // What a reader of Markdown would make an address of.
            ':' if rest.as_str().starts_with("//") => out.push_str("&#58;"),
            '.' if out.to_ascii_lowercase().ends_with("www") => out.push_str("&#46;"),
            '_' if is_within(before) && is_within(next) => out.push('_'),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '~' => out.extend(['\\', c]),
            // The start of a heading, a list, a line across or a numbered item.
            '#' | '+' | '-' | '=' if at == 0 => out.extend(['\\', c]),
            '.' | ')' if at == n_digits && at > 0 && next.is_none_or(|c| c == ' ') => {
                out.extend(['\\', c]);
            }
            c => out.push(c),
        }
        before = Some(c);
        at += 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::sample::full;
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
    fn readings_are_rows_with_figure_and_unit_apart_and_numbers_as_typed() {
        let mut value = full();
        value["steps"][9]["address"] = json!("a[cylinder=2]/b");
        value["steps"][9]["answer"]["read"]["reading"]["text"] = json!("0043.90");
        let exports = Exports::of(canonical::to_line(&value).as_bytes()).unwrap();
        let rows = read_back(&exports.readings_csv());
        assert_eq!(rows[0][7..9], ["figure", "unit"]);
        let row = &rows[1];
        let told = [3, 5, 6, 7, 8, 10, 12, 13].map(|at| row[at].as_str());
        let wanted = [
            "a[cylinder=2]/b",
            "cylinder 2",
            "found",
            "0043.90",
            "mm",
            "below",
            "44.6 mm",
            "45.4 mm",
        ];
        assert_eq!(told, wanted);
        // One that could not be taken is a row without a figure.
        assert_eq!((rows.len(), rows[2][7].as_str()), (3, ""));
        assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    }

    #[test]
    fn re1_every_leaf_has_a_line_and_nothing_typed_is_markup() {
        let value = json!({"a": [{"b": 1}, "x"], "c": [], "d": {"e": true}});
        let mut lines = Vec::new();
        leaves(&value, String::new(), &mut lines);
        let text: Vec<String> = lines.iter().map(|(f, v)| format!("{f}={v}")).collect();
        assert_eq!(text, ["a[0].b=1", "a[1]=x", "c=none", "d.e=true"]);
        assert_eq!(md("<b>*x*</b>|[y](z)"), r"&lt;b&gt;\*x\*&lt;/b&gt;\|\[y\](z)");
        assert_eq!(md("http://x"), "http&#58;//x");
    }

    #[test]
    fn markdown_escapes_what_acts_where_it_stands_and_nothing_else() {
        for same in [
            "2026-03-02T08:00:00.000+01:00",
            "steps(3).limit_name",
            "37.4 mm (least), cylinder 2!",
            "a - b + c # d = e",
        ] {
            assert_eq!(md(same), same);
        }
        for (text, escaped) in [
            ("# a", r"\# a"),
            ("- a", r"\- a"),
            ("--- a", r"\--- a"),
            ("1. a", r"1\. a"),
            ("12) a", r"12\) a"),
            ("_a_ b", r"\_a\_ b"),
            ("![a](b)", r"!\[a\](b)"),
            ("www.x.y", "www&#46;x.y"),
            ("a@b.c", "a&#64;b.c"),
            (r"a\b`c`~", r"a\\b\`c\`\~"),
        ] {
            assert_eq!(md(text), escaped);
        }
    }

    #[test]
    fn plain_lines_are_no_wider_than_a_terminal() {
        let mut text = String::new();
        wrap(&mut text, "  ", "    ", &"a label: with words ".repeat(9));
        assert!(text.lines().count() > 1 && text.lines().all(|l| l.len() <= COLUMNS), "{text}");
        assert!(text.lines().skip(1).all(|line| line.starts_with("    ")), "{text}");
        let mut text = String::new();
        wrap(&mut text, "", "", &"x".repeat(100));
        assert_eq!(text.trim_end().len(), 100);
    }
}
