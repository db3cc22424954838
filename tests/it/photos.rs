//! Photos on the screen: looked at before they are attached and again later, on every kind of
//! terminal; files that are no photos, damaged or gone.

use std::io::Cursor;
use std::path::Path;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Color;
use witnessmark::session::Session;
use witnessmark::tui::graphics::Graphics;
use witnessmark::tui::theme::Colours;
use witnessmark::tui::view::{picture, view};

use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, screen};

pub(crate) const PHOTOS: &str = "steps:
  - {id: seat, attach: A photo of the seat before wiping}
  - {id: wipe, do: Wipe the seat.}
";

/// A valve seat seen from above: a light ring on dark, red on its left side and blue on its right.
pub(crate) fn seat() -> Vec<u8> {
    let picture = image::RgbImage::from_fn(64, 48, |x, y| {
        let (dx, dy) = (i64::from(x) - 32, i64::from(y) - 24);
        let far = dx * dx + dy * dy;
        image::Rgb(match (far, x < 32) {
            (100..=380, true) => [230, 60, 40],
            (100..=380, false) => [60, 90, 240],
            _ => [20, 20, 24],
        })
    });
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), image::ImageFormat::Png).unwrap();
    bytes
}

/// Ines at the step that asks for a photo, with some files on the disk.
fn begun<'a>(bench: &Bench, session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let put = |path: &str, bytes: &[u8]| bench.disk.put(Path::new(path), bytes);
    put("/cam/seat.png", &seat());
    put("/cam/half.png", &seat()[..200]);
    put("/cam/list.txt", b"seat no. 2");
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand
}

/// The colours of the cell in the middle of the ring's left and right side.
fn sides(hand: &Hand<'_>) -> [(Color, Color); 2] {
    let area = Rect { x: 0, y: 0, width: 80, height: 24 };
    let mut buf = Buffer::empty(area);
    view(hand.model(), area, &mut buf);
    let (place, _) = picture(hand.model(), area).expect("a photo is on the screen");
    let y = place.y + place.height / 2;
    // The ring is 10 to 19 pixels from the middle of 64.
    [17, 47].map(|x| {
        let cell = &buf[(place.x + x * place.width / 64, y)];
        (cell.fg, cell.bg)
    })
}

#[test]
fn a_photo_is_looked_at_before_it_is_attached_and_again_from_the_outline() {
    let bench = Bench::with(&[("bench_photos", PHOTOS)]);
    let (mut session, mut released) = (bench.job_of("bench_photos"), Released::default());
    let mut hand = begun(&bench, &mut session, &mut released);
    hand.text("/cam/seat.png");
    hand.keys("tab");
    insta::assert_snapshot!("80x24_photo", hand.screen());
    assert_eq!(hand.asked(), "seat", "looking attaches nothing");
    hand.keys("esc");
    assert!(hand.screen().contains("/cam/seat.png"), "what was typed is there: {}", hand.screen());
    hand.keys("enter");
    assert_eq!(hand.asked(), "wipe", "{}", hand.screen());
    // A second one beside the next step, and a file that is none.
    for path in ["/cam/seat.png", "/cam/list.txt"] {
        hand.keys("f");
        hand.text(path);
        hand.keys("enter");
    }
    hand.keys("f");
    insta::assert_snapshot!("80x24_attached", hand.screen());
    hand.keys("tab");
    assert!(hand.screen().contains("NOT SHOWN"), "{}", hand.screen());
    assert!(hand.screen().contains("no JPEG or PNG"), "{}", hand.screen());
    hand.keys("down");
    assert!(hand.screen().contains("photo or file 1 of 2"), "{}", hand.screen());
    assert!(hand.screen().contains("64 x 48 pixels"), "{}", hand.screen());
    hand.keys("esc esc o up");
    assert!(hand.screen().contains("with seat.png; press i to look at it"), "{}", hand.screen());
    hand.keys("i");
    assert!(hand.screen().contains("by Ines Varga, today 07:10"), "{}", hand.screen());
    assert!(hand.screen().contains('▀'), "{}", hand.screen());
}

#[test]
fn a_photo_has_the_colours_that_the_terminal_has_and_signs_where_it_has_none() {
    let bench = Bench::with(&[("bench_photos", PHOTOS)]);
    let (mut session, mut released) = (bench.job_of("bench_photos"), Released::default());
    let mut hand = begun(&bench, &mut session, &mut released);
    hand.text("/cam/seat.png");
    hand.keys("tab");
    let sixteen = [(Color::LightRed, Color::LightRed), (Color::LightBlue, Color::LightBlue)];
    assert_eq!(sides(&hand), sixteen);
    hand.runtime.model.hand.look.colours = Colours::Cube;
    let [(red, _), (blue, _)] = sides(&hand);
    assert!(matches!((red, blue), (Color::Indexed(16..), Color::Indexed(16..))), "{red} {blue}");
    assert_ne!(red, blue);
    hand.runtime.model.hand.look.colours = Colours::All;
    let [(red, _), (blue, _)] = sides(&hand);
    assert_eq!((red, blue), (Color::Rgb(230, 60, 40), Color::Rgb(60, 90, 240)));
    hand.runtime.model.hand.look.no_colour = true;
    assert_eq!(sides(&hand), [(Color::Reset, Color::Reset); 2]);
    let text = hand.screen();
    assert!(text.contains('▒') || text.contains('░'), "{text}");
    hand.runtime.model.hand.look.ascii = true;
    let text = screen(hand.model(), 60, 16);
    assert!(text.is_ascii(), "{text}");
    insta::assert_snapshot!("60x16_photo_ascii", text);
    // A terminal that draws pictures gets an empty place for it.
    hand.runtime.model.hand.look = witnessmark::tui::theme::Look {
        graphics: Some(Graphics::Kitty),
        ..witnessmark::tui::theme::Look::default()
    };
    assert_eq!(sides(&hand), [(Color::Reset, Color::Reset); 2]);
    assert!(!hand.screen().contains('▀'), "{}", hand.screen());
}

#[test]
fn a_file_that_is_damaged_gone_or_another_by_now_is_said_and_nothing_is_lost() {
    let bench = Bench::with(&[("bench_photos", PHOTOS)]);
    let (mut session, mut released) = (bench.job_of("bench_photos"), Released::default());
    let mut hand = begun(&bench, &mut session, &mut released);
    for (path, why) in [
        ("/cam/half.png", "the picture is damaged"),
        ("/cam/list.txt", "it is no JPEG or PNG picture"),
        ("/cam/none.png", "look at the path"),
    ] {
        hand.text(path);
        hand.keys("tab");
        let text = hand.screen().split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("NOT SHOWN") && text.contains(why), "{path}: {text}");
        hand.keys("esc");
        assert!(hand.screen().contains(path), "{}", hand.screen());
        hand.keys("ctrl-u");
    }
    hand.text("/cam/seat.png");
    hand.keys("enter");
    let kept: Vec<_> = bench
        .disk
        .files()
        .into_keys()
        .filter(|p| p.to_string_lossy().contains("evidence/"))
        .collect();
    let [kept] = kept.as_slice() else { panic!("one file is kept: {kept:?}") };
    bench.disk.put(kept, &seat()[..300]);
    hand.keys("o up i");
    assert!(hand.screen().contains("not the one that was attached"), "{}", hand.screen());
}

#[test]
fn o04_a_photo_fits_every_window() {
    let bench = Bench::with(&[("bench_photos", PHOTOS)]);
    let (mut session, mut released) = (bench.job_of("bench_photos"), Released::default());
    let mut hand = begun(&bench, &mut session, &mut released);
    hand.text("/cam/seat.png");
    hand.keys("tab");
    for columns in 0..=60 {
        for rows in 0..=20 {
            drop(screen(hand.model(), columns, rows));
        }
    }
    for (columns, rows) in [(200, 60), (300, 100)] {
        let mut model = hand.model().clone();
        model.hand.size = (columns, rows);
        let area = Rect { x: 0, y: 0, width: columns, height: rows };
        let (place, _) = picture(&model, area).expect("there is room");
        assert_eq!(area.intersection(place), place);
        assert!(screen(&model, columns, rows).contains('▀'));
    }
}
