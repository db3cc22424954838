//! The job sheet: what it says of a job with a spring that was renewed, a cause, and departures.

use crate::support::bench::{Bench, Released};
use crate::tui::{Hand, screen};

const CAUSE: &str = r"steps:
  - id: fit_out
    enter: Enter the letter on the name plate.
    kind: fit_out
  - id: spring
    look: Look at the spring.
    findings:
      no_fault: {see: Coils even and smooth, verdict: accept}
      leaning: {see: The spring leans on its end, likely_cause: Tired by heat, verdict: accept}
  - id: found
    measure: Measure the free length of the old spring.
    with: calliper
    unit: mm
    limit: spring.free_length
    as: found
    below: {verdict: replace, parts: [spring]}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
  - id: left
    measure: Measure the free length of the spring that goes in.
    with: calliper
    unit: mm
    limit: spring.free_length
    as: left
    below: {verdict: refer}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
  - id: stayed
    measure: Measure the spring of the other cylinder.
    with: calliper
    unit: mm
    limit: spring.free_length
    below: {verdict: refer}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
  - id: ranking
    section: The cause
    steps:
      - id: first_cause
        enter: Enter the cause that the evidence puts first.
        kind: choice
        choices: {heat: Heat, age: Honest end of life}
      - id: speaks_for
        enter: Enter what speaks for it.
        kind: text
  - id: wipe
    do: Wipe the cover.
  - id: last
    do: Look around.
";

/// Plays the job up to its last step.
fn played<'a>(
    session: &'a mut witnessmark::session::Session,
    released: &'a mut Released,
) -> Hand<'a> {
    let mut hand = Hand::at(session, released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    hand.keys("1 enter 2 enter tab 1 enter");
    for figure in ["44.1", "45.0", "44.9"] {
        hand.text(figure);
        hand.keys("enter enter");
    }
    assert_eq!(hand.asked(), "ranking/first_cause", "{}", hand.screen());
    hand.keys("1 enter");
    hand.text("Blue coils, found 44.1 mm");
    hand.keys("enter d 2 enter");
    hand.text("The cover is new");
    hand.keys("enter enter");
    hand.passphrase();
    assert_eq!(hand.asked(), "last", "{}", hand.screen());
    hand
}

#[test]
fn the_job_sheet_puts_as_found_beside_as_left_with_cause_and_deviations() {
    let bench = Bench::with(&[("bench_cause", CAUSE)]);
    let mut session = bench.job_of("bench_cause");
    let mut released = Released::default();
    let mut hand = played(&mut session, &mut released);
    hand.keys("p");
    insta::assert_snapshot!("80x40_job_sheet", screen(hand.model(), 80, 40));
    insta::assert_snapshot!("60x16_job_sheet", screen(hand.model(), 60, 16));
    // The end of it is reached in a small window, by keys.
    hand.runtime.feed(&crossterm::event::Event::Resize(60, 16), 0);
    hand.keys("page_down page_down page_down");
    assert!(hand.screen().contains("None so far: decisions"), "{}", hand.screen());
    let sheet = witnessmark::shown::Sheet::of(&session);
    let words = |n: usize| {
        let line = &sheet.readings[n];
        let said = |taken: &Option<witnessmark::shown::sheet::Taken>| {
            taken.as_ref().map(|taken| (taken.text.clone(), taken.word()))
        };
        (said(&line.found), said(&line.left))
    };
    let said = |text: &str, word| Some((text.to_owned(), word));
    // Sent away: nothing of it is left in the machine.
    assert_eq!(words(0), (said("44.1 mm", "BELOW"), None));
    assert_eq!(words(1), (None, said("45.0 mm", "within")));
    // Good as it was found, it stays: the one reading is both.
    assert_eq!(words(2), (said("44.9 mm", "within"), said("44.9 mm", "within")));
    assert!(sheet.parts.iter().any(|part| part.title == "Valve spring"), "{:?}", sheet.parts);
}

#[test]
fn the_job_sheet_and_the_history_over_lines_say_the_same() {
    let bench = Bench::with(&[("bench_cause", CAUSE)]);
    let mut session = bench.job_of("bench_cause");
    let mut released = Released::default();
    drop(played(&mut session, &mut released));
    let (_, said) = crate::plain::typed(&mut session, &["sheet", "history", "quit"]);
    insta::assert_snapshot!("job_sheet_and_history_in_lines", said);
}
