//! Stacks and fasteners as people meet them: on the full screen and in plain lines.

use witnessmark::session::Session;
use witnessmark::walk::Event;

use crate::plain::typed;
use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, screen};

fn words(session: &Session) -> Vec<&'static str> {
    session.entries().iter().map(|entry| entry.event.word()).collect()
}

/// At the stack, with Ines at work.
fn at_the_stack<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("enter");
    hand.passphrase();
    hand.keys("1 enter");
    hand
}

/// Behind the stack.
fn at_the_nuts<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = at_the_stack(session, released);
    hand.keys("y n");
    hand
}

#[test]
fn in4_the_stack_grows_from_the_first_in_with_the_next_layer_marked() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_stack(&mut session, &mut released);
    insta::assert_snapshot!("80x24_stack_first", hand.screen());
    hand.keys("y y");
    // The seat keeps its lot: the key alone lays nothing.
    hand.keys("y");
    assert!(hand.screen().contains("Its lot"), "{}", hand.screen());
    hand.keys("esc");
    insta::assert_snapshot!("80x24_stack_last", hand.screen());
    hand.keys("y");
    hand.text("K-88");
    hand.keys("enter");
    assert!(hand.screen().contains("TIGHTEN"), "{}", hand.screen());
    let laid: Vec<_> = session
        .entries()
        .iter()
        .filter_map(|entry| match &entry.event {
            Event::LayerLaid { laid, .. } => Some((laid.layer.as_str(), laid.lot.as_deref())),
            _ => None,
        })
        .collect();
    assert_eq!(laid, [("spring", None), ("disc", None), ("seat", Some("K-88"))]);
}

#[test]
fn in4_a_small_window_still_shows_the_next_layer_and_its_face() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_stack(&mut session, &mut released);
    hand.keys("y");
    hand.runtime.model.hand.size = (40, 12);
    insta::assert_snapshot!("40x12_stack", hand.screen());
}

#[test]
fn in4_o14_the_wrench_is_set_before_the_first_nut_and_the_circle_shows_the_next() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_stack(&mut session, &mut released);
    hand.keys("y y y");
    hand.text("K-88");
    hand.keys("enter");
    insta::assert_snapshot!("80x24_wrench", hand.screen());
    hand.text("10");
    hand.keys("enter");
    assert!(hand.screen().contains("say first how the thread is"), "{}", hand.screen());
    // An adapter with a figure missing is refused; what was typed is kept.
    hand.keys("ctrl-y ctrl-a");
    hand.text("400 50");
    hand.keys("enter enter");
    assert!(hand.screen().contains("the angle between them is"), "{}", hand.screen());
    hand.keys("ctrl-a");
    hand.text("400 50 90");
    hand.keys("enter");
    insta::assert_snapshot!("80x24_wrench_adapter", hand.screen());
    hand.keys("enter y y");
    insta::assert_snapshot!("80x24_circle", hand.screen());
    // Torque against passes in narrow windows too, beside the circle or above it.
    insta::assert_snapshot!("60x16_circle", screen(hand.model(), 60, 16));
    insta::assert_snapshot!("44x20_circle", screen(hand.model(), 44, 20));
    hand.keys("y y");
    hand.text("20");
    hand.keys("enter y y m");
    hand.text("20.5");
    hand.keys("enter y");
    assert!(hand.screen().contains("paint line"), "{}", hand.screen());
    assert_eq!(words(&session).iter().filter(|w| **w == "fastener_tightened").count(), 8);
}

#[test]
fn o11_a_nut_is_loosened_and_checked_again_from_the_outline() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_stack(&mut session, &mut released);
    hand.keys("y y y");
    hand.text("K-88");
    hand.keys("enter ctrl-y");
    hand.text("10");
    hand.keys("enter y y y y");
    hand.text("20");
    hand.keys("enter y y y y");
    hand.keys("o up c");
    insta::assert_snapshot!("80x24_circle_done", hand.screen());
    hand.keys("e");
    hand.text("3 tightening 24");
    hand.keys("enter");
    assert!(hand.screen().contains("what it was set to stays"), "{}", hand.screen());
    hand.keys("o up c l");
    hand.text("3 the washer was missing");
    hand.keys("enter");
    insta::assert_snapshot!("80x24_loosened", hand.screen());
    hand.text("10");
    hand.keys("enter y");
    hand.text("20");
    hand.keys("enter y");
    assert!(hand.screen().contains("paint line"), "{}", hand.screen());
    let all = words(&session);
    assert_eq!(all.iter().filter(|w| **w == "fastener_rechecked").count(), 1);
    assert_eq!(all.iter().filter(|w| **w == "fastener_loosened").count(), 1);
    assert_eq!(all.iter().filter(|w| **w == "fastener_tightened").count(), 10);
}

#[test]
fn in4_a_layer_that_does_not_lie_so_ends_the_step() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let hand = at_the_nuts(&mut session, &mut released);
    assert!(hand.screen().contains("DECIDE"), "{}", hand.screen());
}

/// The whole closing, in plain lines.
const CLOSING: &[&str] = &[
    "1", // Ines
    "A",
    "", // fit-out
    "y",
    "y",
    "y",
    "K-88",
    "",  // the stack, its seat with a lot
    "1", // the wrench
    "d",
    "400 50 0",
    "10",
    "", // 11.25 at the nut: refused
    "d",
    "n",
    "10",
    "", // pass 1
    "y",
    "y",
    "y",
    "y", // its nuts
    "d",
    "",
    "20",
    "", // pass 2
    "y",
    "y",
    "20.5",
    "",
    "y", // its nuts, one with a figure
    "recheck 3 tightening 24",
    "1",
    "", // kept
    "loosened 3 the washer was missing",
    "", // open again
    "d",
    "",
    "10",
    "",
    "y", // nut 3
    "d",
    "",
    "20",
    "",
    "y", // nut 3
    "y", // stripe
    "quit",
];

#[test]
fn in4_o11_o14_a_closing_in_plain_lines() {
    let bench = Bench::new();
    let mut session = bench.closing();
    let (_, said) = typed(&mut session, CLOSING);
    insta::assert_snapshot!("closing", said);
    let again = bench.shop.resume(session.job());
    drop(again);
    let all = words(&session);
    assert_eq!(all.iter().filter(|w| **w == "layer_laid").count(), 3);
    assert_eq!(all.iter().filter(|w| **w == "wrench_set").count(), 4);
    assert_eq!(all.iter().filter(|w| **w == "fastener_tightened").count(), 10);
    assert_eq!(all.last(), Some(&"answered"));
}

/// At the first nut, with the wrench set for the first pass.
pub(crate) fn at_the_nuts_of<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = at_the_stack(session, released);
    hand.keys("y y y");
    hand.text("K-88");
    hand.keys("enter ctrl-y");
    hand.text("10");
    hand.keys("enter");
    hand
}

#[test]
fn o12_the_next_person_is_told_which_nuts_are_open_and_who_left_them_when() {
    let bench = Bench::new();
    let (mut session, mut released) = (bench.closing(), Released::default());
    let mut hand = at_the_nuts_of(&mut session, &mut released);
    hand.keys("y y");
    let job = session.job().clone();
    drop(session);
    bench.clock.pass(chrono::TimeDelta::minutes(12));
    let mut session = bench.shop.resume(&job).unwrap();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("2 enter");
    hand.passphrase();
    insta::assert_snapshot!("80x24_nuts_handover", hand.screen());
    // Nothing is tightened before what is open was looked at; then each keeps their own.
    hand.keys("y enter r y");
    let by: Vec<_> = session
        .entries()
        .iter()
        .filter(|entry| matches!(entry.event, Event::FastenerTightened { .. }))
        .map(|entry| entry.by.as_ref().unwrap().as_str())
        .collect();
    assert_eq!(by, ["i.varga", "i.varga", "t.reiter"]);
}
