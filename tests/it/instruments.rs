//! Instruments in a job: the check at zero each day, the loads of a torque wrench, the certificate that
//! a record names, and a limit that is kept back until the reading is saved.

use witnessmark::language::Thread;
use witnessmark::procedure::model::Verdict;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::command::WrenchEntry;
use witnessmark::walk::event::{InstrumentSnapshot, Tight};
use witnessmark::walk::{Address, Answer, Command, Event, Refusal, exceptions, replay};

use crate::fasteners;
use crate::plain::typed;
use crate::support::bench::{Bench as TypingBench, Released};
use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};
use crate::tui::Hand;

fn bench(steps: &str) -> Bench {
    let text = made(&format!("steps:\n{steps}"));
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}\n{text}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn instrument(bench: &Bench, id: &str) -> InstrumentSnapshot {
    snapshot(bench.files.shop.instruments.iter().find(|i| i.id == id).unwrap())
}

fn length(text: &str) -> Reading {
    Reading::parse(text, Unit::Millimetre).unwrap()
}

/// A job of two depths, read by the instrument that is checked at zero.
fn depths() -> Bench {
    let depth = |id: &str| {
        format!(
            "- id: {id}\n  measure: Depth of the seat\n  with: dial_depth_gauge\n  unit: mm\n  limit: \
             {{at_least: 4 mm}}\n  basis: Made\n  below: {{verdict: replace, parts: [spring]}}\n  \
             could_not_measure: {{verdict: refer}}\n"
        )
    };
    bench(&[depth("first"), depth("other"), "- {id: last, do: Look around.}\n".to_owned()].concat())
}

fn read(bench: &mut Bench, address: &str, text: &str) -> Result<(), Refusal> {
    let instrument = instrument(bench, "Z-01");
    let answer = Answer::Read { reading: length(text), instrument, several: None };
    bench.submit(Command::Answer { address: at(address), answer, signed: None })
}

fn zero(bench: &mut Bench, text: &str) -> Result<bool, Refusal> {
    let instrument = Box::new(instrument(bench, "Z-01"));
    bench.submit(Command::CheckZero { instrument, reading: length(text) })?;
    let Event::ZeroChecked { so, .. } = bench.entries.last().unwrap().event else { panic!() };
    Ok(so)
}

#[test]
fn in2_an_instrument_is_found_at_zero_each_day_before_its_first_reading() {
    let mut bench = depths();
    let refused = read(&mut bench, "first", "4.20").unwrap_err();
    assert_eq!(
        refused.to_string(),
        "Z-01 was not found at zero today; read it with nothing in it first, and it must show zero \
         within 0.02 mm"
    );
    // Just beyond what is allowed: it stands in the journal, and the readings wait.
    assert!(!zero(&mut bench, "-0.021").unwrap());
    assert!(matches!(read(&mut bench, "first", "4.20"), Err(Refusal::ZeroDue { .. })));
    assert!(zero(&mut bench, "-0.02").unwrap(), "the figure itself is near enough");
    read(&mut bench, "first", "4.20").unwrap();
    // One that is found off later on the day bars the next reading.
    assert!(!zero(&mut bench, "0.05").unwrap());
    assert!(matches!(read(&mut bench, "other", "4.20"), Err(Refusal::ZeroDue { .. })));
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("Z-01 showed 0.05 mm with nothing in it on 25 Nov 2026"), "{lines}");
    // The next day it is looked at anew.
    assert!(zero(&mut bench, "0.00").unwrap());
    bench.n_ticks += 24 * 3600;
    bench.take_up();
    assert!(matches!(read(&mut bench, "other", "4.20"), Err(Refusal::ZeroDue { .. })));
    assert!(zero(&mut bench, "0").unwrap());
    read(&mut bench, "other", "4.20").unwrap();
    // The journal leads to the same again.
    let files = &bench.files;
    assert_eq!(replay(&files.flow, &bench.entries).unwrap(), bench.state);
}

#[test]
fn in2_a_figure_of_another_kind_and_a_check_that_nobody_asks_for_are_refused() {
    let mut bench = depths();
    let given = Box::new(instrument(&bench, "Z-01"));
    let reading = Reading::parse("0", Unit::NewtonMetre).unwrap();
    let refused = bench.submit(Command::CheckZero { instrument: given, reading }).unwrap_err();
    assert!(matches!(refused, Refusal::WrongDimension { .. }), "{refused}");
    let given = Box::new(instrument(&bench, "C-03"));
    let reading = length("0");
    let refused = bench.submit(Command::CheckZero { instrument: given, reading }).unwrap_err();
    assert!(matches!(refused, Refusal::NoZeroCheck(_)), "{refused}");
    let changed = InstrumentSnapshot { certificate_sha256: None, ..instrument(&bench, "Z-01") };
    let changed = Box::new(changed);
    let refused =
        bench.submit(Command::CheckZero { instrument: changed, reading: length("0") }).unwrap_err();
    assert!(matches!(refused, Refusal::InstrumentChanged(_)), "{refused}");
}

/// ISO 6789-1 has a torque tool calibrated again after so many loads as well as after so long.
#[test]
fn in4_a_wrench_counts_every_fastener_and_stops_at_its_last() {
    let text = made(
        "steps:\n- {id: nuts, tighten: Tighten the rim nuts., fasteners: rim, torque: rim.full, \
         with: counted_wrench, passes: [60 %, 100 %], \
         on_redo: this_one}\n",
    );
    let files = files_of(&[("made", &text)], ("marram_3_40", fasteners::EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    let set = |bench: &mut Bench, id: &str, to: &str| {
        let wrench = Box::new(WrenchEntry {
            instrument: instrument(bench, id),
            setting: Reading::parse(to, Unit::NewtonMetre).unwrap(),
            adapter: None,
            thread: Thread::Dry,
        });
        bench.submit(Command::SetWrench { address: at("nuts"), wrench })
    };
    let tighten = |bench: &mut Bench, fastener: u32| {
        let tight = Tight { fastener, reading: None, so: true };
        bench.submit(Command::Tighten { address: at("nuts"), tight })
    };
    let star = [1, 5, 3, 7, 2, 6, 4, 8];
    set(&mut bench, "W-30", "18").unwrap();
    for fastener in star {
        tighten(&mut bench, fastener).unwrap();
    }
    set(&mut bench, "W-30", "30").unwrap();
    // The list says 4990: eight and two more are the 5000.
    tighten(&mut bench, 1).unwrap();
    tighten(&mut bench, 5).unwrap();
    let refused = tighten(&mut bench, 3).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "W-30 has tightened the 5000 fasteners after which it is calibrated again; set another wrench"
    );
    assert!(matches!(set(&mut bench, "W-30", "30"), Err(Refusal::LoadsReached { .. })));
    set(&mut bench, "W-31", "30").unwrap();
    for fastener in [3, 7, 2, 6, 4, 8] {
        tighten(&mut bench, fastener).unwrap();
    }
    assert_eq!(bench.state.loads["W-30"], 10);
    assert_eq!(bench.state.loads["W-31"], 6);
}

const BLIND: &str = "steps:
  - id: depth
    measure: Measure the depth of the seat.
    with: depth_gauge
    unit: mm
    limit: {between: [7.30 mm, 7.50 mm]}
    basis: Drawing 8812 of the bench pump
    blind: true
    below: {verdict: replace, parts: [seat], say: Too shallow.}
    above: {verdict: replace, parts: [seat], say: Too deep.}
    could_not_measure: {verdict: refer}
  - {id: last, do: Look around.}
";

/// Whatever tells the limit, or on which side of it a reading lies.
const TELLING: [&str; 8] =
    ["7.3", "7.5", "8812", "Too ", "replace", "below", "above", "within the limit"];

#[test]
fn me9_in_blind_entry_nothing_tells_the_limit_before_the_reading_is_saved() {
    let bench = TypingBench::with(&[("blind", BLIND)]);
    let (mut session, mut released) = (bench.job_of("blind"), Released::default());
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("1 enter");
    hand.passphrase();
    let sealed = |hand: &Hand<'_>, when: &str| {
        let screen = hand.screen();
        for telling in TELLING {
            assert!(!screen.contains(telling), "{when} says `{telling}`:\n{screen}");
        }
    };
    sealed(&hand, "the question");
    hand.text("6.91");
    sealed(&hand, "a figure while it is typed");
    hand.keys("enter");
    sealed(&hand, "the choice of the instrument");
    hand.keys("1 enter enter");
    sealed(&hand, "the check at zero");
    hand.text("0.01");
    insta::assert_snapshot!("80x24_zero", hand.screen());
    hand.keys("enter");
    sealed(&hand, "the figure before it is saved");
    insta::assert_snapshot!("80x24_blind", hand.screen());
    hand.keys("enter");
    assert_eq!(hand.asked(), "last");
    // The limit was drawn after the entry, which carries its verdict.
    let judged = hand.entries().iter().rev().find_map(|entry| entry.event.judged()).unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Replace));
    let said = hand.screen();
    assert!(said.contains("6.91 mm is below 7.3 mm"), "{said}");
}

#[test]
fn me9_in2_plain_lines_keep_the_limit_back_and_ask_for_the_zero() {
    let bench = TypingBench::with(&[("blind", BLIND)]);
    let mut session = bench.job_of("blind");
    let (_, said) = typed(&mut session, &["1", "1", "0.01", "6.91", ""]);
    let (before, after) = said.split_once("6.91 mm").unwrap();
    for telling in TELLING {
        assert!(!before.contains(telling), "it says `{telling}`:\n{before}");
    }
    assert!(before.contains("D-02 with nothing in it: what does it show? Zero within 0.02 mm"));
    assert!(after.contains("Saved: 6.91 mm is below 7.3 mm, with D-02"), "{after}");
    assert!(after.contains("Too shallow"), "{after}");
    let zero = session.entries().iter().find(|e| matches!(e.event, Event::ZeroChecked { .. }));
    let Event::ZeroChecked { instrument, so: true, .. } = &zero.unwrap().event else { panic!() };
    // The certificate stands in the entry by its hash, as the list gives it.
    assert!(instrument.certificate_sha256.as_ref().unwrap().starts_with("9f86d081"));
}
