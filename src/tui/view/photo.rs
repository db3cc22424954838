//! A photo on the screen: two pixels a cell where the terminal has colours, signs of rising weight
//! where it has none, and an empty place where the terminal draws the picture itself.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Color;

use super::rows::{Row, hanging, put, wrapped};
use crate::photo::Photo;
use crate::tui::model::PhotoShown;
use crate::tui::theme::{Colours, Look, Role};

/// Signs from dark to light, for terminals that write light on dark.
const SHADES: [&str; 5] = [" ", "░", "▒", "▓", "█"];
/// The same where there is only ASCII.
const SHADES_ASCII: [&str; 10] = [" ", ".", ":", "-", "=", "+", "*", "#", "%", "@"];
/// The steps of each colour in the cube of 256 colours.
const CUBE: [u8; 6] = [0, 95, 135, 175, 215, 255];
/// The sixteen colours as most terminals show them.
const SIXTEEN: [(Color, [u8; 3]); 16] = [
    (Color::Black, [0, 0, 0]),
    (Color::Red, [170, 0, 0]),
    (Color::Green, [0, 170, 0]),
    (Color::Yellow, [170, 85, 0]),
    (Color::Blue, [0, 0, 170]),
    (Color::Magenta, [170, 0, 170]),
    (Color::Cyan, [0, 170, 170]),
    (Color::Gray, [170, 170, 170]),
    (Color::DarkGray, [85, 85, 85]),
    (Color::LightRed, [255, 85, 85]),
    (Color::LightGreen, [85, 255, 85]),
    (Color::LightYellow, [255, 255, 85]),
    (Color::LightBlue, [85, 85, 255]),
    (Color::LightMagenta, [255, 85, 255]),
    (Color::LightCyan, [85, 255, 255]),
    (Color::White, [255, 255, 255]),
];

/// A photo is drawn up to so many times its own size, where it is very small.
const GROW_MAX: u32 = 4;

/// What stands above the photo: which it is, of how many, and whose; why it is not shown.
pub(super) fn head(shown: &PhotoShown, columns: usize) -> Vec<Row> {
    let mut rows = hanging((Role::Task, "PHOTO  "), (Role::Task, &shown.name), columns);
    rows.extend(shown.about.iter().flat_map(|about| wrapped(Role::Quiet, about, columns, 7)));
    if let Err(why) = &shown.picture {
        rows.push(Row::default());
        rows.extend(hanging((Role::Look, "NOT SHOWN  "), (Role::Plain, why), columns));
    }
    rows
}

/// The place of the photo below its `n_head` rows, in the shape of the picture. A cell is about
/// twice as high as wide.
pub(super) fn place(photo: &Photo, body: Rect, n_head: usize) -> Option<Rect> {
    let taken = u16::try_from(n_head).ok()?.saturating_add(1);
    let height = body.height.checked_sub(taken).filter(|rows| *rows > 0)?;
    let room = Rect { y: body.y + taken, height, ..body };
    let (columns, rows) = photo.fit(u32::from(room.width), u32::from(room.height) * 2, GROW_MAX);
    let side = |n: u32, most: u16| u16::try_from(n).unwrap_or(most).clamp(1, most.max(1));
    Some(Rect {
        width: side(columns, room.width),
        height: side(rows.div_ceil(2), room.height),
        ..room
    })
}

/// Draws `photo` into `area`, as well as the terminal can without drawing pictures itself.
pub(super) fn draw(photo: &Photo, look: Look, area: Rect, buf: &mut Buffer) {
    let is_shaded = look.ascii || look.no_colour;
    let rows = u32::from(area.height) * if is_shaded { 1 } else { 2 };
    let small = photo.scaled(u32::from(area.width), rows);
    for y in 0..area.height {
        for x in 0..area.width {
            let Some(cell) = buf.cell_mut((area.x + x, area.y + y)) else { continue };
            cell.reset();
            let (column, row) = (u32::from(x), u32::from(y));
            if is_shaded {
                cell.set_symbol(shade(small.at(column, row), look.ascii));
                continue;
            }
            let [upper, lower] = [small.at(column, row * 2), small.at(column, row * 2 + 1)]
                .map(|pixel| colour(pixel, look.colours));
            cell.set_symbol("▀").set_fg(upper).set_bg(lower);
        }
    }
}

/// What is shown where photos cannot be: one line.
pub(super) fn too_small(area: Rect, buf: &mut Buffer) {
    put(buf, area, &[(Role::Quiet, "make the window larger to see the photo".to_owned())]);
}

/// How light a colour looks, from 0 to 255.
fn light([red, green, blue]: [u8; 3]) -> u32 {
    (u32::from(red) * 299 + u32::from(green) * 587 + u32::from(blue) * 114) / 1000
}

fn shade(pixel: [u8; 3], ascii: bool) -> &'static str {
    let signs: &[&'static str] = if ascii { &SHADES_ASCII } else { &SHADES };
    let at = light(pixel) as usize * signs.len() / 256;
    signs.get(at).copied().unwrap_or(" ")
}

/// The colour nearest to `pixel` that the terminal has.
fn colour(pixel: [u8; 3], colours: Colours) -> Color {
    let [red, green, blue] = pixel;
    match colours {
        Colours::All => Color::Rgb(red, green, blue),
        Colours::Cube => Color::Indexed(cube(pixel)),
        Colours::Sixteen => SIXTEEN
            .iter()
            .min_by_key(|(_, known)| apart(*known, pixel))
            .map_or(Color::Reset, |(colour, _)| *colour),
    }
}

/// The nearest of the 216 colours and 24 greys.
fn cube(pixel: [u8; 3]) -> u8 {
    let nearest = |part: u8| {
        let steps = CUBE.iter().zip(0_u8..);
        steps.min_by_key(|(step, _)| step.abs_diff(part)).map_or((0, 0), |(s, n)| (*s, n))
    };
    let [red, green, blue] = pixel.map(nearest);
    let in_cube = [red.0, green.0, blue.0];
    // Greys 8, 18 ... 238 stand behind the cube.
    let grey = u8::try_from(light(pixel).saturating_sub(3) / 10).unwrap_or(23).min(23);
    let level = 8 + grey * 10;
    if apart([level; 3], pixel) < apart(in_cube, pixel) {
        232 + grey
    } else {
        16 + 36 * red.1 + 6 * green.1 + blue.1
    }
}

fn apart(one: [u8; 3], other: [u8; 3]) -> u32 {
    one.iter().zip(other).map(|(a, b)| u32::from(a.abs_diff(b)).pow(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_becomes_the_nearest_one_that_the_terminal_has() {
        let of = |pixel, colours| colour(pixel, colours);
        assert_eq!(of([250, 12, 3], Colours::All), Color::Rgb(250, 12, 3));
        assert_eq!(of([255, 0, 0], Colours::Cube), Color::Indexed(196));
        assert_eq!(of([128, 128, 128], Colours::Cube), Color::Indexed(244));
        assert_eq!(of([0, 0, 0], Colours::Cube), Color::Indexed(16));
        assert_eq!(of([255, 255, 255], Colours::Cube), Color::Indexed(231));
        assert_eq!(of([160, 10, 10], Colours::Sixteen), Color::Red);
        assert_eq!(of([250, 250, 250], Colours::Sixteen), Color::White);
    }

    #[test]
    fn without_colours_what_is_lighter_has_a_heavier_sign() {
        let grey = |level: u8| shade([level; 3], false);
        assert_eq!([0, 70, 130, 180, 255].map(grey), SHADES);
        assert_eq!((shade([0; 3], true), shade([255; 3], true)), (" ", "@"));
    }
}
