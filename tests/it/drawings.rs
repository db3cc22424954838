//! Drawings made of entries: the map of a face, and what was seen at each time of a look.

use witnessmark::session::Session;

use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, screen};

const FACE: &str = r#"steps:
  - id: a1
    enter: Enter the height at the first place.
    kind: figure
    unit: mm
  - id: a2
    enter: Enter the height at the second place.
    kind: figure
    unit: mm
  - id: a3
    enter: Enter the height at the third place.
    kind: figure
    unit: mm
  - id: b1
    enter: Enter the height at the fourth place.
    kind: figure
    unit: mm
  - id: b2
    enter: Enter the height at the fifth place.
    kind: figure
    unit: mm
  - id: b3
    enter: Enter the height at the sixth place.
    kind: figure
    unit: mm
  - id: flat
    work_out: Read how flat the face is.
    calculation: flatness
    given: {heights: [a1, a2, a3, b1, b2, b3], columns: 3, step_x: 50 mm, step_y: 50 mm}
    unit: mm
    limit: {at_most: "0.05 mm"}
    basis: Drawing of the bench pump
    above: {verdict: refer}
    could_not_work_out: {verdict: refer}
  - id: last
    do: Look around.
"#;

/// Ines at the first step.
fn begun<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand
}

#[test]
fn the_map_of_a_face_shows_each_reading_above_the_lowest_and_in_ascii_too() {
    let bench = Bench::with(&[("bench_face", FACE)]);
    let (mut session, mut released) = (bench.job_of("bench_face"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    for height in ["0.012", "0.004", "0.000", "0.020", "0.009", "0.016"] {
        hand.text(height);
        hand.keys("enter");
    }
    assert_eq!(hand.asked(), "flat", "{}", hand.screen());
    let text = screen(hand.model(), 80, 40);
    insta::assert_snapshot!("80x24_face", hand.screen());
    let row = |text: &str, n: usize| {
        let at = text.lines().position(|line| line.contains("The face from above")).unwrap();
        text.lines().nth(at + n).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert_eq!(row(&text, 1), "▓▓12 ░░ 4 ·▼ 0");
    assert_eq!(row(&text, 2), "█▲20 ▒▒ 9 ██16");
    // Too narrow for the figures, then in ASCII: each step still has a sign of its own.
    hand.runtime.model.hand.look.ascii = true;
    let text = screen(hand.model(), 80, 40);
    assert!(text.is_ascii(), "{text}");
    assert_eq!(row(&text, 1), "%%12 :: 4 .v 0");
    assert_eq!(row(&text, 2), "#^20 ~~ 9 ##16");
    drop(hand);
    let (_, said) = crate::plain::typed(&mut session, &["1", "quit"]);
    assert!(said.contains("Row 1: 12, 4, 0 µm above the lowest place"), "{said}");
}

const FLUSH: &str = r"steps:
  - id: wash
    section: One flush
    repeat:
      until: sample == clear
      at_most: 4
      otherwise: {refer: mechanic, say: It does not come clear.}
    steps:
      - id: sample
        look: Hold the jar against the lamp.
        findings:
          clear: {see: Clear as from the can, verdict: accept}
          milky: {see: Cloudy or milky, verdict: accept}
          dark: {see: Dark, verdict: accept}
  - id: last
    do: Look around.
";

#[test]
fn a_sample_that_is_taken_again_stands_on_a_scale_with_those_before() {
    let bench = Bench::with(&[("bench_flush", FLUSH)]);
    let (mut session, mut released) = (bench.job_of("bench_flush"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    assert!(!hand.screen().contains("times"), "nothing was seen before: {}", hand.screen());
    hand.keys("3 enter");
    hand.keys("2 enter");
    insta::assert_snapshot!("80x24_sample", hand.screen());
    let text = hand.screen();
    let lines: Vec<String> = text
        .lines()
        .skip_while(|line| !line.contains("times"))
        .take(4)
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    let scale = ["times 1 2", "1 · · Clear as from the can", "2 · ● Cloudy or milky", "3 ● · Dark"];
    assert_eq!(lines, scale, "{text}");
    hand.runtime.model.hand.look.ascii = true;
    assert!(screen(hand.model(), 60, 20).contains("2     .  *"), "{}", hand.screen());
    drop(hand);
    let (_, said) = crate::plain::typed(&mut session, &["1", "quit"]);
    assert!(said.contains("Seen before, time 1: 3"), "{said}");
}

const CLOSE_CALL: &str = r#"steps:
  - id: spring
    measure: Measure the free length of the spring.
    with: calliper
    unit: mm
    limit: {between: ["44.60 mm", "44.80 mm"], rule: proven}
    basis: Drawing of the bench pump
    below: {verdict: replace, parts: [spring]}
    above: {verdict: refer}
    not_proven: {verdict: refer}
    could_not_measure: {verdict: refer}
  - id: last
    do: Look around.
"#;

#[test]
fn me3_the_limit_bar_shows_the_band_that_is_too_close_to_call_and_the_figure_on_the_other_scale() {
    let bench = Bench::with(&[("bench_close_call", CLOSE_CALL)]);
    let (mut session, mut released) = (bench.job_of("bench_close_call"), Released::default());
    let mut hand = begun(&mut session, &mut released);
    hand.keys("tab 1 enter");
    hand.text("44.61");
    insta::assert_snapshot!("80x24_close_call", hand.screen());
    hand.keys("back back");
    hand.text("70");
    assert!(hand.screen().contains("◆"), "{}", hand.screen());
    hand.keys("ctrl-u");
    hand.text("1.76 in");
    assert!(hand.screen().contains("≈ 44.70 mm"), "{}", hand.screen());
    hand.runtime.model.hand.look.ascii = true;
    let text = screen(hand.model(), 60, 20);
    assert!(text.is_ascii(), "{text}");
    insta::assert_snapshot!("60x20_close_call_ascii", text);
}
