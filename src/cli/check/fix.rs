//! `check --fix`: the edits that messages offer, made in the text; every other byte stays.

use crate::diag::{Diagnostic, Edit};
use crate::source::FileId;

/// The text of `file` with the edits of `found` made, and how many that were. Of edits that touch
/// one another only the first is made; the next round sees what is left.
pub(super) fn apply(text: &str, file: FileId, found: &[Diagnostic]) -> (String, usize) {
    let mut edits: Vec<&Edit> = found
        .iter()
        .filter_map(|fault| fault.fix.as_ref())
        .filter(|edit| edit.span.file == file)
        .collect();
    edits.sort_by_key(|edit| (edit.span.start, edit.span.end));
    let (mut done, mut from, mut n_edits) = (String::with_capacity(text.len()), 0, 0);
    for edit in edits {
        let Some(kept) = text.get(from..edit.span.start) else { continue };
        if text.get(edit.span.start..edit.span.end).is_none_or(|old| old == edit.text) {
            continue;
        }
        done.push_str(kept);
        done.push_str(&edit.text);
        from = edit.span.end;
        n_edits += 1;
    }
    done.push_str(text.get(from..).unwrap_or(""));
    (done, n_edits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::Code;
    use crate::source::Span;

    #[test]
    fn edits_leave_every_other_byte_and_do_not_overlap() {
        let edit = |start, end, text: &str| {
            let span = Span::new(FileId(0), start, end);
            Diagnostic::warning(Code::QuoteIt, span, "x").fix(span, text)
        };
        let text = "a: NO # µ\r\nb: 012\r\n";
        let at = text.find("012").unwrap();
        let found = [edit(at, at + 3, "\"012\""), edit(3, 5, "\"NO\""), edit(4, 5, "?")];
        let (fixed, n_edits) = apply(text, FileId(0), &found);
        assert_eq!((fixed.as_str(), n_edits), ("a: \"NO\" # µ\r\nb: \"012\"\r\n", 2));
        assert_eq!(apply(text, FileId(1), &found), (text.to_owned(), 0));
    }
}
