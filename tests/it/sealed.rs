//! What is kept back until it is time: nothing on any screen tells the first of two independent readings
//! before the second is saved, nor a limit that is to be read against blindly.

use witnessmark::shown::history::HistoryShown;
use witnessmark::shown::sheet::Sheet;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::{Address, Answer, Command};

use crate::support::bench::{Bench, pair, person};

const TWICE: &str = r#"needs: {tools: [calliper]}
steps:
  - id: gap
    measure: Measure the free length.
    with: calliper
    unit: mm
    limit: spring.free_length
    second: {agree_within: "0.1 mm"}
    below: {verdict: refer}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
"#;

const BLIND: &str = r"needs: {tools: [calliper]}
steps:
  - id: gap
    measure: Measure the free length.
    with: calliper
    unit: mm
    limit: spring.free_length
    blind: true
    below: {verdict: refer}
    above: {verdict: refer}
    could_not_measure: {verdict: refer}
";

fn read(session: &mut witnessmark::session::Session, at: &str, length: &str) {
    let instrument = session.files().shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let answer = Answer::Read {
        reading: Reading::parse(length, Unit::Millimetre).unwrap(),
        instrument: snapshot(instrument),
        several: None,
    };
    let address = Address::parse(at).unwrap();
    session.submit(Command::Answer { address, answer, signed: None }).unwrap();
}

fn begun(bench: &Bench, procedure: &str, who: &str) -> witnessmark::session::Session {
    let mut session = bench.job_of(procedure);
    let id = person(who);
    session.identify(&id, &witnessmark::demo::HeldKey(pair(&id))).unwrap();
    let needs = Address::parse("needs").unwrap();
    session.submit(Command::CheckItem { address: needs, item: 0, so: true }).unwrap();
    session
}

#[test]
fn sg4_nothing_shows_the_first_reading_before_the_second_is_saved() {
    let bench = Bench::with(&[("bench_twice", TWICE)]);
    let mut session = begun(&bench, "bench_twice", "i.varga");
    read(&mut session, "gap", "44.91");
    // Corrected, so that it would stand among the corrections too.
    let instrument = session.files().shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let answer = Answer::Read {
        reading: Reading::parse("44.98", Unit::Millimetre).unwrap(),
        instrument: snapshot(instrument),
        several: None,
    };
    let (address, reason) = (Address::parse("gap").unwrap(), "Jaws were not wiped".to_owned());
    session.submit(Command::Correct { address, answer, reason, signed: None }).unwrap();
    let told = |session: &witnessmark::session::Session| {
        let history = HistoryShown::of(session).unwrap();
        format!(
            "{history:?} {:?} {:?}",
            Sheet::of(session),
            witnessmark::shown::Shown::of(session).outline
        )
    };
    for figure in ["44.98", "44.91"] {
        assert!(!told(&session).contains(figure), "{figure}: {}", told(&session));
    }
    let second = person("t.reiter");
    session.identify(&second, &witnessmark::demo::HeldKey(pair(&second))).unwrap();
    let shown = session.to_take_up().unwrap();
    assert!(shown.iter().all(|line| !line.contains("44.9")), "{shown:#?}");
    session.submit(Command::TakeUp { shown }).unwrap();
    read(&mut session, "gap/second", "45.00");
    assert!(told(&session).contains("44.98"), "{}", told(&session));
}

#[test]
fn me9_neither_the_limit_nor_earlier_readings_show_before_a_blind_reading_is_saved() {
    let bench = Bench::with(&[("bench_blind", BLIND)]);
    let mut session = begun(&bench, "bench_blind", "i.varga");
    read(&mut session, "gap", "44.98");
    assert_eq!(HistoryShown::of(&session).unwrap().series.len(), 1);
    drop(session);
    let mut session = begun(&bench, "bench_blind", "i.varga");
    let kept = HistoryShown::of(&session).unwrap();
    assert!(kept.series.is_empty(), "{kept:?}");
    read(&mut session, "gap", "45.01");
    let shown = HistoryShown::of(&session).unwrap();
    assert_eq!(shown.series[0].points.len(), 2);
}

/// In a small window too, every line of the history can be brought on to the screen.
#[test]
fn the_last_reading_of_a_history_is_reached_in_the_smallest_window() {
    let bench = Bench::with(&[("bench_blind", BLIND)]);
    for length in ["44.91", "44.92", "44.93"] {
        let mut session = begun(&bench, "bench_blind", "i.varga");
        read(&mut session, "gap", length);
    }
    let mut session = begun(&bench, "bench_blind", "i.varga");
    read(&mut session, "gap", "44.94");
    let mut released = crate::support::bench::Released::default();
    let mut hand = crate::tui::Hand::at(&mut session, &mut released, (40, 12));
    hand.keys("h");
    let mut seen = hand.screen();
    for _ in 0..8 {
        hand.keys("page_down");
        seen.push_str(&hand.screen());
    }
    for length in ["44.91", "44.92", "44.93", "44.94"] {
        assert!(seen.contains(length), "{length}:\n{seen}");
    }
    hand.keys("page_up page_up page_up page_up page_up page_up page_up page_up");
    assert!(hand.screen().contains("Jobs of P-7"), "{}", hand.screen());
}
