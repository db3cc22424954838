//! The signs that screens are drawn with, and what stands for them on a terminal without UTF-8.
//!
//! Screens are drawn once, with the better signs; a terminal that has only ASCII gets them replaced
//! cell by cell, so that both show the same thing at the same place.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Color;

use crate::tui::theme::Look;

/// What is drawn, and what stands for it in ASCII.
const STAND_INS: [(&str, &str); 46] = [
    ("─", "-"),
    ("│", "|"),
    ("┌", "+"),
    ("┐", "+"),
    ("└", "+"),
    ("┘", "+"),
    ("├", "+"),
    ("┤", "+"),
    ("┼", "+"),
    ("═", "="),
    ("━", "="),
    ("┃", "|"),
    ("┄", "."),
    ("█", "#"),
    ("▄", "_"),
    ("▀", "\""),
    ("▐", "["),
    ("▌", "]"),
    ("░", ":"),
    ("▒", "~"),
    ("▓", "%"),
    ("╱", "/"),
    ("╲", "\\"),
    ("▲", "^"),
    ("▼", "v"),
    ("◆", "O"),
    ("●", "*"),
    ("○", "o"),
    ("·", "."),
    ("×", "x"),
    ("°", "o"),
    ("±", "~"),
    ("≈", "~"),
    ("²", "2"),
    ("³", "3"),
    ("Δ", "d"),
    ("µ", "u"),
    ("μ", "u"),
    ("→", ">"),
    ("–", "-"),
    ("—", "-"),
    ("’", "'"),
    ("‘", "'"),
    ("“", "\""),
    ("”", "\""),
    ("…", "."),
];

/// What stands for `sign` in ASCII. Letters that ASCII lacks are a question mark.
pub(super) fn ascii(sign: &str) -> &str {
    if sign.is_ascii() {
        return sign;
    }
    STAND_INS.iter().find(|(drawn, _)| *drawn == sign).map_or("?", |(_, stands)| stands)
}

/// Makes what was drawn fit the terminal.
pub(super) fn fit_to(look: Look, area: Rect, buf: &mut Buffer) {
    if !look.ascii && !look.no_colour {
        return;
    }
    for y in area.top()..area.bottom() {
        for x in area.left()..area.right() {
            let Some(cell) = buf.cell_mut((x, y)) else { continue };
            if look.ascii && !cell.symbol().is_ascii() {
                let sign = ascii(cell.symbol()).to_owned();
                cell.set_symbol(&sign);
            }
            if look.no_colour {
                cell.set_fg(Color::Reset).set_bg(Color::Reset);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use unicode_width::UnicodeWidthStr as _;

    use super::*;

    #[test]
    fn every_stand_in_is_one_ascii_column_for_one_column() {
        for (drawn, stands) in STAND_INS {
            assert_eq!((drawn.width(), stands.len()), (1, 1), "{drawn}");
            assert!(stands.is_ascii());
        }
        assert_eq!(ascii("軸"), "?");
        assert_eq!(ascii("a"), "a");
    }
}
