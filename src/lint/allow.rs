//! Comments that let a warning stand: `# allow WM706: the maker's manual says it so`.
//!
//! The comment stands at the end of the line, or alone on the line before. It covers the text that
//! begins there. Errors cannot be allowed; a comment without a reason or without use is reported.

use std::ops::Range;

use crate::diag::{Code, Diagnostic};
use crate::source::{FileId, Source, Span};
use crate::yaml::{Kind, Node, Style};

const MARK: &str = "# allow ";

struct Allowance {
    code: Option<Code>,
    word: String,
    reason: bool,
    span: Span,
    /// The bytes of the file whose warnings it lets stand.
    covers: Range<usize>,
    used: bool,
}

/// Leaves out the warnings that comments of the file allow, and reports comments that are wrong.
pub fn allow(
    found: Vec<Diagnostic>,
    file: FileId,
    source: &Source,
    root: Option<&Node>,
) -> Vec<Diagnostic> {
    if !source.text().contains(MARK) {
        return found;
    }
    let mut texts = Vec::new();
    if let Some(root) = root {
        scalars(root, &mut texts);
    }
    let mut allowances = allowances(file, source, &texts);
    let mut kept = Vec::new();
    for fault in found {
        let at = fault.primary.span;
        let allowance = allowances.iter_mut().find(|a| {
            a.code == Some(fault.code)
                && a.reason
                && at.file == file
                && a.covers.contains(&at.start)
                && !fault.is_error()
        });
        match allowance {
            Some(allowance) => allowance.used = true,
            None => kept.push(fault),
        }
    }
    for allowance in allowances {
        kept.extend(fault(&allowance, &kept));
    }
    kept.sort_by_key(|fault| fault.primary.span.start);
    kept
}

fn fault(allowance: &Allowance, kept: &[Diagnostic]) -> Option<Diagnostic> {
    let Some(code) = allowance.code else {
        let headline = format!("there is no code `{}`", allowance.word);
        return Some(
            Diagnostic::warning(Code::BadAllowance, allowance.span, headline)
                .help("name one code, such as `# allow WM706: the reason`"),
        );
    };
    if !allowance.reason {
        let headline = format!("{code} is allowed without a reason");
        return Some(
            Diagnostic::warning(Code::BadAllowance, allowance.span, headline)
                .help(format!("say why: `# allow {code}: the reason`")),
        );
    }
    if allowance.used {
        return None;
    }
    let error = kept.iter().any(|fault| {
        fault.code == code
            && fault.is_error()
            && allowance.covers.contains(&fault.primary.span.start)
    });
    let (headline, help) = if error {
        (format!("{code} is an error, and errors cannot be allowed"), "mend it and delete this")
    } else {
        (format!("there is no {code} here to allow"), "delete this comment")
    };
    Some(Diagnostic::warning(Code::UnusedAllowance, allowance.span, headline).help(help))
}

/// The places of all texts; a `#` inside one is no comment.
fn scalars(node: &Node, out: &mut Vec<(Range<usize>, Style)>) {
    if let Kind::Scalar(scalar) = &node.kind {
        out.push((node.span.start..node.span.end, scalar.style));
    }
    for (_, value) in node.entries() {
        scalars(value, out);
    }
    for item in node.items() {
        scalars(item, out);
    }
}

fn allowances(file: FileId, source: &Source, texts: &[(Range<usize>, Style)]) -> Vec<Allowance> {
    let text = source.text();
    let mut found = Vec::new();
    for (at, _) in text.match_indices(MARK) {
        let before = text.get(..at).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |end| end + 1);
        let lead = text.get(line_start..at).unwrap_or("");
        let in_text = texts.iter().any(|(range, _)| range.contains(&at));
        if in_text || !(lead.is_empty() || lead.ends_with([' ', '\t'])) {
            continue;
        }
        let rest = text.get(at..).unwrap_or("");
        let line = rest.lines().next().unwrap_or("");
        let said = line.get(MARK.len()..).unwrap_or("");
        let (word, reason) = said.split_once(':').unwrap_or((said, ""));
        let from =
            if lead.trim().is_empty() { next_line(text, at + line.len()) } else { line_start };
        found.push(Allowance {
            code: Code::parse(word),
            word: word.trim().to_owned(),
            reason: !reason.trim().is_empty(),
            span: Span::new(file, at, at + line.trim_end().len()),
            covers: from..end_of_texts(text, from, texts),
            used: false,
        });
    }
    found
}

/// The start of the next line that is neither empty nor a comment.
fn next_line(text: &str, from: usize) -> usize {
    let mut at = from;
    while let Some(end) = text.get(at..).and_then(|rest| rest.find('\n')) {
        at += end + 1;
        let line = text.get(at..).and_then(|rest| rest.lines().next()).unwrap_or("").trim();
        if !line.is_empty() && !line.starts_with('#') {
            break;
        }
    }
    at
}

/// The end of the line at `from`, or of the last text that begins on it.
fn end_of_texts(text: &str, from: usize, texts: &[(Range<usize>, Style)]) -> usize {
    let end = text.get(from..).and_then(|rest| rest.find('\n')).map_or(text.len(), |n| from + n);
    let begun = texts.iter().filter(|(range, _)| (from..=end + 1).contains(&range.start));
    begun
        .filter(|(range, style)| range.start <= end || *style == Style::Block)
        .map(|(range, _)| range.end)
        .max()
        .unwrap_or(end)
        .max(end)
}
