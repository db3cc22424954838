//! Pictures as terminals take them: three ways to send one, told apart by the environment alone.
//!
//! No terminal is asked what it can do: over a slow line the answer would come among the keys, or
//! never. Where nothing says that a terminal draws pictures, none is sent.

use std::fmt::Write as _;

use ratatui::layout::Rect;

use crate::photo::Photo;

/// A way to send a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Graphics {
    /// The graphics protocol of kitty.
    Kitty,
    /// Inline files, as iTerm2 began them.
    Inline,
    /// Sixels, as of DEC's terminals.
    Sixel,
}

/// The characters of base64 in one piece, as the protocol of kitty asks for.
const PIECE_CHARS: usize = 4_096;
/// The most pixels across a picture that is sent: enough for any window, and little over a line.
const SENT_SIDE_MAX: u32 = 640;
/// Sixels come in bands of so many rows.
const BAND: u32 = 6;
/// Steps of red, green and blue in the palette of sixels.
const STEPS: u32 = 6;

impl Graphics {
    /// What the environment says, by `said`, which gives a variable that is set. A multiplexer or
    /// a line between would swallow pictures, so inside one there are none.
    pub fn of(said: impl Fn(&str) -> Option<String>) -> Option<Self> {
        match said("WITNESSMARK_PHOTOS").as_deref() {
            Some("kitty") => return Some(Self::Kitty),
            Some("inline") => return Some(Self::Inline),
            Some("sixel") => return Some(Self::Sixel),
            Some(_) => return None,
            None => {}
        }
        if said("TMUX").is_some() || said("STY").is_some() {
            return None;
        }
        let term = said("TERM").unwrap_or_default();
        let program = said("TERM_PROGRAM").unwrap_or_default();
        if term == "xterm-kitty" || term == "xterm-ghostty" || said("KITTY_WINDOW_ID").is_some() {
            Some(Self::Kitty)
        } else if program == "iTerm.app" || program == "WezTerm" || program == "mintty" {
            Some(Self::Inline)
        } else if term.starts_with("foot") || term.starts_with("mlterm") || term.contains("sixel") {
            Some(Self::Sixel)
        } else {
            None
        }
    }

    /// The text that draws `photo` into the cells of `place`, the cursor being in its first one.
    /// `cell` is the size of a cell in pixels.
    pub fn text(self, photo: &Photo, place: Rect, cell: (u16, u16)) -> String {
        let wide = u32::from(place.width) * u32::from(cell.0.max(1));
        let high = u32::from(place.height) * u32::from(cell.1.max(1));
        // The terminal scales these itself.
        let sent = || {
            let (columns, rows) = photo.fit(wide.min(SENT_SIDE_MAX), high.min(SENT_SIDE_MAX), 1);
            photo.scaled(columns, rows)
        };
        match self {
            Self::Kitty => kitty(&sent(), place),
            Self::Inline => inline(&sent(), place),
            // Sixels are as large as they are sent.
            Self::Sixel => {
                let (columns, rows) = photo.fit(wide, high, u32::MAX);
                sixel(&photo.scaled(columns, rows))
            }
        }
    }

    /// The text that takes the picture away; empty where drawing over it is enough.
    pub fn gone(self) -> &'static str {
        match self {
            Self::Kitty => "\u{1b}_Ga=d,d=A,q=2\u{1b}\\",
            Self::Inline | Self::Sixel => "",
        }
    }
}

/// Three bytes a pixel, in pieces; `q=2` so that the terminal answers nothing, and `C=1` so that
/// the cursor stays.
fn kitty(photo: &Photo, place: Rect) -> String {
    let (width, height) = photo.size();
    let all = base64(photo.rgb());
    let mut text = String::with_capacity(all.len() + all.len() / 100 + 100);
    let mut rest = all.as_str();
    let mut head =
        format!("a=T,f=24,s={width},v={height},c={},r={},C=1,q=2,", place.width, place.height);
    loop {
        let (piece, after) = rest.split_at(rest.len().min(PIECE_CHARS));
        let more = u8::from(!after.is_empty());
        write!(text, "\u{1b}_G{head}m={more};{piece}\u{1b}\\").expect("internal: a String");
        head = String::new();
        rest = after;
        if rest.is_empty() {
            return text;
        }
    }
}

/// A PNG file that the terminal scales into so many cells.
fn inline(photo: &Photo, place: Rect) -> String {
    let png = photo.png();
    format!(
        "\u{1b}]1337;File=inline=1;size={};width={};height={};preserveAspectRatio=1:{}\u{7}",
        png.len(),
        place.width,
        place.height,
        base64(&png)
    )
}

/// Bands of six rows, colour by colour, of a palette with even steps.
fn sixel(photo: &Photo) -> String {
    let (width, height) = photo.size();
    let mut text = format!("\u{1b}P0;1q\"1;1;{width};{height}");
    for colour in 0..STEPS.pow(3) {
        let [red, green, blue] =
            [colour / STEPS / STEPS, colour / STEPS % STEPS, colour % STEPS].map(|n| n * 100 / 5);
        write!(text, "#{colour};2;{red};{green};{blue}").expect("internal: a String");
    }
    for top in (0..height).step_by(BAND as usize) {
        band(photo, top, &mut text);
        text.push('-');
    }
    text.push_str("\u{1b}\\");
    text
}

/// The colours of a band, each with its columns of six dots; alike ones are counted.
fn band(photo: &Photo, top: u32, text: &mut String) {
    let (width, height) = photo.size();
    let mut by_colour: std::collections::BTreeMap<u32, Vec<u8>> = std::collections::BTreeMap::new();
    for x in 0..width {
        for row in 0..BAND.min(height - top) {
            let colour = step(photo.at(x, top + row), x, top + row);
            let dots = by_colour.entry(colour).or_insert_with(|| vec![0; width as usize]);
            if let Some(dots) = dots.get_mut(x as usize) {
                *dots |= 1 << row;
            }
        }
    }
    for (colour, dots) in by_colour {
        write!(text, "#{colour}").expect("internal: a String");
        let mut dots = dots.into_iter().peekable();
        while let Some(dot) = dots.next() {
            let mut n = 1;
            while dots.next_if_eq(&dot).is_some() {
                n += 1;
            }
            let sign = char::from(b'?' + dot);
            if n > 3 {
                write!(text, "!{n}{sign}").expect("internal: a String");
            } else {
                (0..n).for_each(|_| text.push(sign));
            }
        }
        text.push('$');
    }
}

/// The colour of the palette for a pixel. Neighbours are rounded differently, so that soft shades
/// do not break into steps.
fn step(pixel: [u8; 3], x: u32, y: u32) -> u32 {
    const ORDER: [[u32; 4]; 4] = [[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]];
    let bias = ORDER
        .get((y % 4) as usize)
        .and_then(|row| row.get((x % 4) as usize))
        .map_or(0, |n| n * 255 / 16);
    let [red, green, blue] =
        pixel.map(|part| (u32::from(part) * (STEPS - 1) + bias) / 255).map(|n| n.min(STEPS - 1));
    (red * STEPS + green) * STEPS + blue
}

/// Base64 with padding, on one line.
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let bits = three.iter().fold(0_u32, |bits, byte| bits << 8 | u32::from(*byte))
            << (8 * (3 - three.len()));
        for n in 0..4 {
            let at = (bits >> (18 - 6 * n) & 63) as usize;
            let sign = if n > three.len() { b'=' } else { SIGNS.get(at).copied().unwrap_or(b'=') };
            text.push(char::from(sign));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLACE: Rect = Rect { x: 0, y: 0, width: 4, height: 2 };

    fn said(all: &[(&str, &str)]) -> Option<Graphics> {
        Graphics::of(|name| {
            all.iter().find(|(known, _)| *known == name).map(|(_, value)| (*value).to_owned())
        })
    }

    #[test]
    fn the_environment_says_how_pictures_are_sent_and_nothing_is_guessed() {
        let xterm = ("TERM", "xterm-256color");
        assert_eq!(said(&[xterm]), None);
        assert_eq!(said(&[("TERM", "xterm-kitty")]), Some(Graphics::Kitty));
        assert_eq!(said(&[xterm, ("TERM_PROGRAM", "iTerm.app")]), Some(Graphics::Inline));
        assert_eq!(said(&[("TERM", "foot")]), Some(Graphics::Sixel));
        assert_eq!(said(&[("TERM", "xterm-kitty"), ("TMUX", "/tmp/x,1,0")]), None);
        assert_eq!(
            said(&[("TERM", "linux"), ("WITNESSMARK_PHOTOS", "sixel")]),
            Some(Graphics::Sixel)
        );
        assert_eq!(said(&[("TERM", "xterm-kitty"), ("WITNESSMARK_PHOTOS", "off")]), None);
    }

    #[test]
    fn base64_is_that_of_rfc_4648() {
        let vectors = ["", "Zg==", "Zm8=", "Zm9v", "Zm9vYg==", "Zm9vYmE=", "Zm9vYmFy"];
        for (n, text) in vectors.iter().enumerate() {
            assert_eq!(base64(&b"foobar"[..n]), *text);
        }
    }

    #[test]
    fn a_picture_is_sent_in_pieces_and_asks_for_no_answer() {
        let photo = Photo::plain(200, 100, [10, 200, 30]);
        let text = Graphics::Kitty.text(&photo, PLACE, (50, 50));
        assert!(text.starts_with("\u{1b}_Ga=T,f=24,s=200,v=100,c=4,r=2,C=1,q=2,m=1;"), "{text}");
        let pieces: Vec<&str> = text.split_terminator("\u{1b}\\").collect();
        assert_eq!(pieces.len(), (200 * 100 * 3_usize).div_ceil(3).div_ceil(1024));
        for piece in &pieces {
            let (head, body) = piece.split_once(';').unwrap();
            assert!(head.starts_with("\u{1b}_G") && body.len() <= PIECE_CHARS, "{head}");
            let is_last = piece == pieces.last().unwrap();
            assert!(head.ends_with(if is_last { "m=0" } else { "m=1" }), "{head}");
        }
        assert!(Graphics::Kitty.gone().contains("q=2"));
    }

    #[test]
    fn a_picture_is_a_png_file_between_its_marks() {
        let photo = Photo::plain(8, 8, [0, 0, 0]);
        let text = Graphics::Inline.text(&photo, PLACE, (8, 16));
        assert!(text.starts_with("\u{1b}]1337;File=inline=1;size="), "{text}");
        assert!(text.contains("width=4;height=2;preserveAspectRatio=1:iVBORw0KGgo"), "{text}");
        assert!(text.ends_with('\u{7}'));
    }

    #[test]
    fn sixels_fill_the_place_and_alike_columns_are_counted() {
        let photo = Photo::plain(8, 8, [255, 255, 255]);
        let text = Graphics::Sixel.text(&photo, PLACE, (8, 16));
        assert!(text.starts_with("\u{1b}P0;1q\"1;1;32;32#0;2;0;0;0#1;2;0;0;20"), "{text}");
        // 32 rows: five whole bands, and one with two rows of dots.
        assert_eq!(text.matches("#215!32~$-").count(), 5, "{text}");
        assert!(text.ends_with("#215!32B$-\u{1b}\\"), "{text}");
    }
}
