//! What is done about a failed result: the ways out that the job itself shows, those that a mechanic
//! signs for, and that no job is released while one is missing.

use witnessmark::ids::Moment;
use witnessmark::procedure::model::{Disposition, Verdict};
use witnessmark::walk::disposition::{Said, Settled, failed, open};
use witnessmark::walk::event::Meaning;
use witnessmark::walk::exceptions::{blocks, list, parts_needed};
use witnessmark::walk::fitted::fitted;
use witnessmark::walk::{Address, Answer, Command, Entry, Event, Refusal};

use crate::plain::{WHOLE_JOB, typed};
use crate::rehearsals;
use crate::rehearse::demo_shelf;
use crate::support::bench::{Bench as TypingBench, Released};
use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};
use crate::tui::Hand;

fn bench(steps: &str) -> Bench {
    let text = made(steps);
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}\n{text}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn answer(bench: &mut Bench, address: &str, answer: Answer) {
    bench.submit(Command::Answer { address: at(address), answer, signed: None }).unwrap();
}

fn read(bench: &mut Bench, address: &str, text: &str) {
    let shop = &bench.files.shop;
    let instrument = shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let unit = witnessmark::units::Unit::Millimetre;
    let reading = witnessmark::units::Reading::parse(text, unit).unwrap();
    let instrument = witnessmark::walk::accept::snapshot(instrument);
    answer(bench, address, Answer::Read { reading, instrument, several: None });
}

fn dispose(bench: &mut Bench, address: &str, said: &Said, who: &str) -> Result<(), Refusal> {
    let signed = bench.signed(who, Some(at(address)), Meaning::Disposed(said.clone()));
    bench.submit(Command::Dispose { address: at(address), said: said.clone(), signed })
}

/// What keeps the job from being released, but for the work that is not signed for.
fn blocked(bench: &Bench) -> Vec<String> {
    let mut blocks = blocks(&bench.files, &bench.state);
    blocks.retain(|block| !block.contains("is not signed for"));
    blocks
}

/// How each failed result was settled, as a word.
fn ways(bench: &Bench) -> Vec<&'static str> {
    let word = |settled: &Settled| match settled {
        Settled::Again { .. } => "again",
        Settled::Accepted { .. } => "accepted",
        Settled::Fitted(_) => "fitted",
        Settled::Stated(_) => "stated",
        Settled::Ended => "ended",
        Settled::Open => "open",
    };
    failed(&bench.files, &bench.state).iter().map(|failed| word(&failed.settled)).collect()
}

const SPRING: &str = "steps:
- {id: spring, measure: Measure the spring., with: calliper, unit: mm, limit: spring.length,
   concession: mechanic, below: {verdict: replace, parts: [spring]},
   could_not_measure: {verdict: refer, parts: [spring]}}
- {id: last, do: Look around.}
";

#[test]
fn me8_a_failed_result_keeps_the_job_open_until_a_mechanic_signs_what_was_done() {
    let mut bench = bench(SPRING);
    read(&mut bench, "spring", "37.5");
    answer(&mut bench, "last", Answer::Done);
    let [block] = blocked(&bench).try_into().unwrap();
    assert!(block.starts_with("spring: replace (37.5 mm is below 38 mm"), "{block}");
    assert!(block.ends_with("nothing says what was done about it; a mechanic says so and signs"));
    let said = Said::parse(Disposition::Replaced, "lot L-77: from the store, fitted by hand");
    let refusal = dispose(&mut bench, "spring", &said, "i.varga").unwrap_err();
    assert!(matches!(refusal, Refusal::RoleMissing { .. }), "{refusal}");
    dispose(&mut bench, "spring", &said, "t.reiter").unwrap();
    assert_eq!(blocked(&bench), Vec::<String>::new());
    assert_eq!(ways(&bench), ["stated"]);
    // It is looked at before signing, and the part stands among those fitted.
    let lines = list(&bench.files, &bench.state).join("\n");
    assert!(
        lines.contains("spring: replaced, lot L-77, signed by t.reiter: from the store, fitted"),
        "{lines}"
    );
    let parts = fitted(&bench.files, &bench.state);
    let part = parts.iter().map(|p| (p.part.to_string(), p.lot.clone())).collect::<Vec<_>>();
    assert_eq!(part, [("spring".to_owned(), Some("L-77".to_owned()))]);
    assert_eq!(parts_needed(&bench.files, &bench.state).len(), 1);
    // The reading is corrected: what was said of the other figure lapses.
    let shop = &bench.files.shop;
    let instrument = shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let unit = witnessmark::units::Unit::Millimetre;
    let reading = witnessmark::units::Reading::parse("37.2", unit).unwrap();
    let answer = Answer::Read {
        reading,
        instrument: witnessmark::walk::accept::snapshot(instrument),
        several: None,
    };
    let reason = "read again".to_owned();
    let correct = Command::Correct { address: at("spring"), answer, reason, signed: None };
    bench.submit(correct).unwrap();
    assert_eq!((ways(&bench), bench.state.lapsed.len()), (vec!["open"], 1));
}

#[test]
fn me8_use_as_it_is_takes_a_named_authority_and_nothing_else_says_so() {
    let mut bench = bench(SPRING);
    read(&mut bench, "spring", "37.5");
    answer(&mut bench, "last", Answer::Done);
    // There is no such word among what can be stated.
    assert_eq!(Disposition::parse("used_as_is"), None);
    let reason = "back in service for a week only".to_owned();
    let meaning = Meaning::Conceded { verdict: Verdict::Accept, reason: reason.clone() };
    let signed = bench.signed("t.reiter", Some(at("spring")), meaning);
    let verdict = Verdict::Accept;
    bench.submit(Command::Concede { address: at("spring"), verdict, reason, signed }).unwrap();
    assert_eq!((ways(&bench), blocked(&bench)), (vec!["accepted"], Vec::new()));
    let said = Said::parse(Disposition::Scrapped, "gone");
    let refusal = dispose(&mut bench, "spring", &said, "t.reiter").unwrap_err();
    assert!(matches!(refusal, Refusal::NothingToDispose(_)), "{refusal}");
}

#[test]
fn me8_a_decision_of_the_mechanic_says_it_or_leaves_it_open() {
    for (verdict, way) in [(Verdict::Accept, "accepted"), (Verdict::Replace, "open")] {
        let mut bench = bench(SPRING);
        let reason = "stuck".to_owned();
        answer(&mut bench, "spring", Answer::CouldNotMeasure { reason });
        let asked = bench.asked().unwrap().1;
        let reason = "as seen".to_owned();
        let meaning = Meaning::Decided { verdict, reason: reason.clone() };
        let signed = Some(bench.signed("t.reiter", Some(asked.clone()), meaning));
        let decided = Answer::Decided { verdict, reason };
        bench.submit(Command::Answer { address: asked, answer: decided, signed }).unwrap();
        bench.take_up();
        answer(&mut bench, "last", Answer::Done);
        assert_eq!(ways(&bench), [way]);
        assert_eq!(blocked(&bench).len(), usize::from(way == "open"));
    }
}

#[test]
fn me8_rework_returns_to_the_same_measurement_and_that_result_counts() {
    let mut bench = bench(
        "steps:
- {id: gap, measure: Measure the gap., with: calliper, unit: mm, limit: spring.length,
   below: {verdict: rework, steps: [{id: lap, do: Lap it.}], at_most: 1,
     otherwise: {refer: mechanic, say: It does not come out.}},
   could_not_measure: {verdict: refer}}
",
    );
    read(&mut bench, "gap", "37.5");
    answer(&mut bench, "gap/lap", Answer::Done);
    assert_eq!(bench.asked().unwrap().1, at("gap#2"));
    read(&mut bench, "gap#2", "38.4");
    assert_eq!((ways(&bench), blocked(&bench)), (vec!["again"], Vec::new()));
    let [only] = failed(&bench.files, &bench.state).try_into().unwrap();
    assert!(matches!(only.settled, Settled::Again { address, .. } if address == at("gap#2")));
}

#[test]
fn me8_a_part_laid_anew_at_its_position_settles_the_result_and_another_position_does_not() {
    let steps = "steps:
- {id: plate, enter: Letter, kind: fit_out}
- id: valves
  section: Valves
  each: cylinder
  steps:
  - {id: spring, look: Look at the spring., findings: {no_fault: {see: Whole, verdict: accept},
     broken: {see: Broken, verdict: replace, parts: [spring]}}}
- id: rebuild
  section: Rebuild
  each: cylinder
  steps:
  - {id: lay, build: Lay the valve., stack: valve, laid: against_flow, not_so: {verdict: refer},
     expect: Every part drops in.}
";
    let mut bench = bench(steps);
    answer(&mut bench, "plate", Answer::Entered("B".to_owned()));
    for (cylinder, found) in [(1, "no_fault"), (2, "broken")] {
        let found = Answer::Found(vec![witnessmark::ids::Name::new(found).unwrap()]);
        answer(&mut bench, &format!("valves[cylinder={cylinder}]/spring"), found);
    }
    assert_eq!(ways(&bench), ["open"]);
    for cylinder in 1..=2 {
        let address = at(&format!("rebuild[cylinder={cylinder}]/lay"));
        let index = bench.files.flow.find(&address).unwrap();
        let (flow, state) = (&bench.files.flow, &bench.state);
        let due = state.walk.layers_due(flow, state, index).into_iter();
        let due: Vec<_> = due.map(|note| (note.id.clone(), note.lot)).collect();
        for (layer, lot) in due {
            let lot = lot.then(|| "K-1".to_owned());
            let laid = witnessmark::walk::event::Laid { layer, so: true, lot };
            bench.submit(Command::LayLayer { address: address.clone(), laid }).unwrap();
        }
        assert_eq!(ways(&bench), [if cylinder == 1 { "open" } else { "fitted" }]);
    }
    assert_eq!(blocked(&bench), Vec::<String>::new());
}

/// The demo's stories and cases end in jobs that can be released: whatever failed in them has its way out.
#[test]
fn me8_no_story_of_the_demo_leaves_a_failed_result_open() {
    let now = Moment::parse("2026-11-25T06:00:00+01:00").unwrap();
    let mut bench = witnessmark::rehearse::Bench::set_up(&demo_shelf(), now).unwrap();
    let listed = std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals"));
    let (mut n_failed, mut left) = (0, Vec::new());
    for file in listed.unwrap() {
        let path = file.unwrap().path();
        let script = rehearsals::script(&std::fs::read_to_string(&path).unwrap());
        // A part that others perform ends before the steps of theirs that lay what it found to be worn.
        if script.alone {
            continue;
        }
        let cases = script.cases.iter().map(|case| case.name.value.to_string());
        let names: Vec<String> = std::iter::once("the story".to_owned()).chain(cases).collect();
        for (case, story) in names.iter().zip(script.stories()) {
            let session = bench.play(&story).unwrap().session;
            let (files, state) = (session.files(), session.state());
            n_failed += failed(files, state).len();
            let name = path.file_name().unwrap().to_string_lossy();
            let open = open(files, state);
            left.extend(
                open.iter()
                    .map(|failed| format!("{name} | {case} | {}", failed.text(files, state))),
            );
        }
    }
    assert!(n_failed > 20, "{n_failed}");
    assert!(left.is_empty(), "{left:#?}");
}

/// The job of the typing bench with two failed results of which nothing says what was done.
fn typed_to_the_dispositions() -> (TypingBench, witnessmark::session::Session) {
    let bench = TypingBench::new();
    let mut session = bench.job();
    let n_lines = WHOLE_JOB.iter().position(|line| line.starts_with("dispose")).unwrap();
    typed(&mut session, &WHOLE_JOB[..n_lines]);
    (bench, session)
}

fn said_of(entries: &[Entry]) -> Vec<(String, Said)> {
    let of = |entry: &Entry| match &entry.event {
        Event::Disposed { address, said, .. } => Some((address.to_string(), said.clone())),
        _ => None,
    };
    entries.iter().filter_map(of).collect()
}

#[test]
fn me8_keys_and_lines_state_the_same_and_say_what_they_do_not_take() {
    let (_bench, mut session) = typed_to_the_dispositions();
    let lines = [
        "dispose valves[cylinder=9]/spring",
        "dispose valves[cylinder=1]/spring",
        "7",
        "dispose valves[cylinder=1]/spring",
        "2",
        "on the shelf of doubtful parts, tagged",
        "1",
        "",
    ];
    let (_, said) = typed(&mut session, &lines);
    assert!(said.contains("Write `dispose` and the address of a failed result"), "{said}");
    assert!(said.contains("1. replaced") && said.contains("set apart"), "{said}");
    assert!(said.contains("`7` is not one of the answers here. Nothing was saved."), "{said}");
    assert!(said.contains("It stands on the list to look at before signing"), "{said}");
    let by_lines = said_of(session.entries());
    let [(at, stated)] = by_lines.as_slice() else { panic!("{by_lines:#?}") };
    assert_eq!(at, "valves[cylinder=1]/spring");
    assert_eq!(stated.disposition, Disposition::SetApart);

    let (_bench, mut session) = typed_to_the_dispositions();
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("enter");
    insta::assert_snapshot!("80x24_what_failed", hand.screen());
    hand.keys("up up up up a");
    assert!(hand.screen().contains("nothing on this row failed"), "{}", hand.screen());
    hand.keys("esc enter a");
    insta::assert_snapshot!("80x24_what_was_done", hand.screen());
    hand.keys("down enter enter");
    assert!(hand.screen().contains("write at least a word"), "{}", hand.screen());
    hand.text("on the shelf of doubtful parts, tagged");
    hand.keys("enter enter");
    hand.passphrase();
    assert_eq!(said_of(hand.entries()), by_lines);
}
