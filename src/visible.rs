//! Text from outside, made safe to show.
//!
//! Files, names and entries may hold characters that act on a terminal or turn the direction of
//! text. Whatever is shown passes through here; what is stored and hashed does not.

use std::fmt::Write as _;

/// True for a character that acts on the terminal or on the direction of text instead of showing.
///
/// C0 and C1 controls with DEL, the directional marks, embeddings, overrides and isolates, and the
/// line and paragraph separators, which some terminals obey.
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// `text` on one row: every hidden character is replaced by a stand-in such as `\u{1b}`.
pub fn visible(text: &str) -> String {
    replaced(text, |_| false)
}

/// Like [`visible`], but newlines and tabs stay.
pub fn visible_lines(text: &str) -> String {
    replaced(text, |c| c == '\n' || c == '\t')
}

/// The stand-in for a hidden character.
pub(crate) fn stand_in(c: char) -> String {
    match c {
        '\n' => "\\n".to_owned(),
        '\t' => "\\t".to_owned(),
        '\r' => "\\r".to_owned(),
        _ => c.escape_unicode().to_string(),
    }
}

fn replaced(text: &str, stays: impl Fn(char) -> bool) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if is_hidden(c) && !stays(c) {
            // Writing to a `String` cannot fail.
            let _ = shown.write_str(&stand_in(c));
        } else {
            shown.push(c);
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn controls_and_direction_marks_become_stand_ins() {
        assert_eq!(
            visible("Seal\u{7}\u{1b}]52;c;x\u{7} change"),
            r"Seal\u{7}\u{1b}]52;c;x\u{7} change"
        );
        assert_eq!(visible("\u{9d}0;x\u{9c}"), r"\u{9d}0;x\u{9c}");
        assert_eq!(visible("PASS\u{202e}LIAF"), r"PASS\u{202e}LIAF");
        assert_eq!(visible("12\r34\n\t"), r"12\r34\n\t");
        assert_eq!(visible_lines("a\n\tb\r\u{7f}"), "a\n\tb\\r\\u{7f}");
        assert_eq!(visible("軸受 é – 5 µm"), "軸受 é – 5 µm");
        for c in ['\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{2066}', '\u{2069}', '\u{80}'] {
            assert!(is_hidden(c), "{c:?}");
        }
    }
}
