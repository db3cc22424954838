//! Characters that no file may hold: they act on a terminal, change the direction of text, or
//! cannot be seen. Says where they are; what is written around them is not looked at.

use crate::diag::{Code, Diagnostic};
use crate::source::{FileId, Span};

/// Why `c` may not stand in a file, or `None` for a character that may. `\n` and `\t` may; `\r` may
/// only before `\n`, which the caller knows.
pub(super) fn refused(c: char) -> Option<&'static str> {
    match c {
        '\n' | '\t' => None,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            Some("changes the direction of the text around it")
        }
        '\u{2028}' | '\u{2029}' => Some("is a hidden line break"),
        '\u{ad}' | '\u{200b}' | '\u{2060}' | '\u{feff}' => Some("cannot be seen"),
        c if c.is_control() => Some("is a control character"),
        _ => None,
    }
}

/// Finds every refused character of `text`, one message a line.
pub(super) fn scan(file: FileId, text: &str) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    let mut line_taken = false;
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        if c == '\n' {
            line_taken = false;
        }
        let after = chars.peek().map(|(_, next)| *next);
        // A byte order mark is an editor's habit and says nothing; a line may end in `\r\n`.
        let harmless = (c == '\u{feff}' && at == 0) || (c == '\r' && after == Some('\n'));
        if harmless || line_taken {
            continue;
        }
        if let Some(why) = refused(c) {
            line_taken = true;
            found.push(message(c, why, Span::new(file, at, at + c.len_utf8())));
        }
    }
    found
}

/// `text` with every refused character replaced by a harmless one of the same length, so that the
/// rest of the file can be read and every place stays.
pub(super) fn masked(text: &str) -> String {
    let mut chars = text.chars().peekable();
    let mut masked = String::with_capacity(text.len());
    while let Some(c) = chars.next() {
        let line_end = c == '\r' && chars.peek() == Some(&'\n');
        let first = masked.is_empty() && c == '\u{feff}';
        masked.push(match c.len_utf8() {
            _ if line_end || first || refused(c).is_none() => c,
            1 => '?',
            2 => 'µ',
            _ => '…',
        });
    }
    masked
}

/// The message about a refused character that stands at `span`, or came of an escape there.
pub(super) fn message(c: char, why: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        Code::ControlCharacter,
        span,
        format!("the character U+{:04X} {why}", u32::from(c)),
    )
    .help("delete it; texts hold what can be seen, and line breaks")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_on_a_terminal_or_turns_text_round_is_found_and_line_ends_are_not() {
        for c in ['\u{1b}', '\u{7}', '\u{9d}', '\u{9c}', '\u{202e}', '\u{2066}', '\u{200f}', '\r'] {
            let text = format!("a: µ{c}x\n");
            let found = scan(FileId(0), &text);
            assert_eq!(found.len(), 1, "{}", c.escape_unicode());
            assert_eq!(found[0].primary.span.start, "a: µ".len());
        }
        assert!(scan(FileId(0), "\u{feff}a:\tb\r\nc: é\n").is_empty());
        assert_eq!(scan(FileId(0), "a\u{feff}").len(), 1);
    }

    #[test]
    fn one_line_gives_one_message() {
        assert_eq!(scan(FileId(0), "\u{1b}\u{1b}\n\u{1b}").len(), 2);
    }
}
