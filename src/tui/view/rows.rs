//! Rows of text: breaking lines, and putting text into the buffer.
//!
//! The only place where text enters the buffer, and so the only one that makes it safe to show.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

use crate::tui::theme::Role;
use crate::units::Unit;
use crate::visible::visible;

/// One row, in pieces by role.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) bits: Vec<(Role, String)>,
    /// The column of the cursor.
    pub(super) cursor: Option<usize>,
}

impl Row {
    pub(super) fn new(role: Role, text: impl Into<String>) -> Self {
        Self { bits: vec![(role, text.into())], cursor: None }
    }

    pub(super) fn of(bits: Vec<(Role, String)>) -> Self {
        Self { bits, cursor: None }
    }
}

/// The columns that `text` takes once it is safe to show.
pub(super) fn width(text: &str) -> usize {
    visible(text).width()
}

/// `text` in at most `columns` columns; what is cut off is marked.
pub(super) fn cut(text: &str, columns: usize) -> String {
    let text = visible(text);
    if text.width() <= columns {
        return text;
    }
    let mut out = String::new();
    let mut used = 0;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used + 2 > columns {
            break;
        }
        out.push(c);
    }
    out.push_str(if columns >= 2 { ".." } else { "" });
    out
}

/// `text` broken into rows of at most `columns`, each set in by `indent`.
pub(super) fn wrapped(role: Role, text: &str, columns: usize, indent: usize) -> Vec<Row> {
    let room = columns.saturating_sub(indent).max(1);
    let set_in = " ".repeat(indent);
    lines(text, room)
        .into_iter()
        .map(|line| Row::of(vec![(Role::Plain, set_in.clone()), (role, line)]))
        .collect()
}

/// Rows that begin with `first`, and go on set in by as much as it takes.
pub(super) fn hanging(first: (Role, &str), rest: (Role, &str), columns: usize) -> Vec<Row> {
    let indent = width(first.1).min(columns.saturating_sub(8));
    let mut rows = wrapped(rest.0, rest.1, columns, indent);
    if let Some(bit) = rows.first_mut().and_then(|row| row.bits.first_mut()) {
        *bit = (first.0, cut(first.1, indent));
    }
    rows
}

/// `text` broken at spaces into lines of at most `room` columns, a figure and its unit together; longer
/// words are broken too, behind a stroke where they have one.
fn lines(text: &str, room: usize) -> Vec<String> {
    let text = visible(text);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in words(&text, room) {
        let joined = line.width() + usize::from(!line.is_empty()) + word.width();
        if !line.is_empty() && joined > room {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        if word.width() <= room {
            line.push_str(&word);
            continue;
        }
        for piece in word.split_inclusive('/') {
            if !line.is_empty() && line.width() + piece.width() > room {
                lines.push(std::mem::take(&mut line));
            }
            for c in piece.chars() {
                if line.width() + c.width().unwrap_or(0) > room && !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(c);
            }
        }
    }
    lines.push(line);
    lines
}

fn is_unit(word: &str) -> bool {
    let unit = word.trim_end_matches([',', '.', ';', ':', ')']);
    !unit.is_empty() && Unit::ALL.iter().any(|known| known.symbol() == unit)
}

/// The pieces between which a line may end.
fn words(text: &str, room: usize) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ') {
        let figure = |last: &String| last.ends_with(|c: char| c.is_ascii_digit());
        match words.last_mut().filter(|last| figure(last) && is_unit(word)) {
            Some(last) if last.width() + 1 + word.width() <= room => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// Puts the pieces of a row on the first line of `area`.
pub(super) fn put(buf: &mut Buffer, area: Rect, bits: &[(Role, String)]) {
    let area = area.intersection(buf.area);
    if area.is_empty() {
        return;
    }
    let mut x = area.x;
    for (role, text) in bits {
        let room = area.right().saturating_sub(x);
        if room == 0 {
            return;
        }
        let text = visible(text);
        // Whatever lay there goes with its style, and does not shine through.
        let taken = u16::try_from(text.width()).unwrap_or(u16::MAX).min(room);
        for column in x..x.saturating_add(taken) {
            if let Some(cell) = buf.cell_mut((column, area.y)) {
                cell.reset();
            }
        }
        (x, _) = buf.set_stringn(x, area.y, &text, usize::from(room), role.style());
    }
}

/// Puts one piece at the right end of the first line of `area`.
pub(super) fn put_right(buf: &mut Buffer, area: Rect, (role, text): (Role, &str)) {
    let columns = u16::try_from(width(text)).unwrap_or(u16::MAX);
    if columns <= area.width {
        let area = Rect { x: area.right() - columns, width: columns, ..area };
        put(buf, area, &[(role, text.to_owned())]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_at_spaces_and_long_words_break_too() {
        assert_eq!(lines("the free length", 9), ["the free", "length"]);
        assert_eq!(lines("abcdefgh ij", 4), ["abcd", "efgh", "ij"]);
        assert_eq!(lines("", 4), [""]);
        assert_eq!(lines("軸受 の", 4), ["軸受", "の"]);
        assert_eq!(lines("軸", 1), ["軸"]);
        assert_eq!(lines("set to 4 N·m, dry", 9), ["set to", "4 N·m,", "dry"]);
        assert_eq!(
            lines("at faces/disc_thickness/decision", 12),
            ["at", "faces/", "disc_thickne", "ss/decision"]
        );
    }

    #[test]
    fn what_is_cut_off_is_marked() {
        assert_eq!(cut("abcdef", 6), "abcdef");
        assert_eq!(cut("abcdef", 5), "abc..");
        assert_eq!(cut("a\u{1b}b", 9), r"a\u{1b}b");
        assert_eq!(cut("abc", 1), "");
    }
}
