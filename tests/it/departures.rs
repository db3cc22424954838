//! Where a person departs from the procedure, and where they cannot: free order, steps left out or
//! done otherwise, concessions, witness points, second readings.

use witnessmark::procedure::model::Verdict;
use witnessmark::walk::event::Meaning;
use witnessmark::walk::exceptions::{blocks, list, parts_needed};
use witnessmark::walk::place::Status;
use witnessmark::walk::{Address, Answer, Command, Refusal};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of, person};
use crate::support::small_shop;

const TOKENS: &str = "tokens: {locked: {title: Locked}}\n";

fn bench(steps: &str) -> Bench {
    let text = made(&format!("{TOKENS}{steps}"));
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}\n{text}")))
}

/// What is said of a file that is refused.
fn refused(steps: &str) -> String {
    let text = made(&format!("{TOKENS}{steps}"));
    files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").map(|_| ()).unwrap_err()
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

impl Bench {
    fn answer(&mut self, address: &str, answer: Answer) -> Result<(), Refusal> {
        self.submit(Command::Answer { address: at(address), answer, signed: None })
    }

    fn open(&self) -> Vec<String> {
        let of = |index: &usize| self.files.flow.instance(*index).address.to_string();
        self.state.walk.open.iter().map(of).collect()
    }

    fn deviate(&mut self, address: &str, done: bool, who: &str) -> Result<(), Refusal> {
        let reason = "the cover is welded".to_owned();
        let meaning = Meaning::Deviated { done, reason: reason.clone() };
        let signed = Some(self.signed(who, Some(at(address)), meaning));
        let answer = Answer::Deviated { done, reason };
        self.submit(Command::Answer { address: at(address), answer, signed })
    }

    fn status(&self, address: &str) -> Status {
        self.state.walk.status[self.files.flow.find(&at(address)).unwrap()]
    }
}

fn reading(bench: &Bench, text: &str) -> Answer {
    let shop = &bench.files.shop;
    let instrument = shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let unit = witnessmark::units::Unit::Millimetre;
    Answer::Read {
        reading: witnessmark::units::Reading::parse(text, unit).unwrap(),
        instrument: witnessmark::walk::accept::snapshot(instrument),
        several: None,
    }
}

// --- free order ---

const FREE: &str = "steps:
- id: valves
  section: Valves
  each: cylinder
  any_order: true
  steps:
  - {id: out, do: Take it out.}
  - {id: wipe, do: Wipe it.}
- id: covers
  section: Covers
  any_order: true
  steps:
  - {id: left, do: Close the left one.}
  - {id: right, do: Close the right one.}
- {id: last, do: Look around.}
";

#[test]
fn fb4_in_free_order_a_person_may_jump_and_elsewhere_not() {
    let mut bench = bench(FREE);
    // The positions are free, the steps of one position are not.
    assert_eq!(bench.open(), ["valves[cylinder=1]/out", "valves[cylinder=2]/out"]);
    let refusal = bench.answer("valves[cylinder=2]/wipe", Answer::Done).unwrap_err();
    assert!(matches!(refusal, Refusal::StepNotOpen { .. }), "{refusal}");
    bench.answer("valves[cylinder=2]/out", Answer::Done).unwrap();
    bench.answer("valves[cylinder=2]/wipe", Answer::Done).unwrap();
    assert_eq!(bench.status("valves[cylinder=2]/wipe"), Status::Done);
    assert_eq!(bench.open(), ["valves[cylinder=1]/out"]);
    // What lies behind the section waits for all of it.
    assert!(bench.answer("covers/left", Answer::Done).is_err());
    bench.answer("valves[cylinder=1]/out", Answer::Done).unwrap();
    bench.answer("valves[cylinder=1]/wipe", Answer::Done).unwrap();
    assert_eq!(bench.open(), ["covers/left", "covers/right"]);
    bench.answer("covers/right", Answer::Done).unwrap();
    bench.answer("covers/left", Answer::Done).unwrap();
    assert_eq!(bench.open(), ["last"]);
}

#[test]
fn fb4_the_result_does_not_hang_on_the_order() {
    let orders: [[&str; 4]; 3] = [
        [
            "valves[cylinder=1]/out",
            "valves[cylinder=1]/wipe",
            "valves[cylinder=2]/out",
            "valves[cylinder=2]/wipe",
        ],
        [
            "valves[cylinder=2]/out",
            "valves[cylinder=1]/out",
            "valves[cylinder=2]/wipe",
            "valves[cylinder=1]/wipe",
        ],
        [
            "valves[cylinder=2]/out",
            "valves[cylinder=2]/wipe",
            "valves[cylinder=1]/out",
            "valves[cylinder=1]/wipe",
        ],
    ];
    let walks = orders.map(|order| {
        let mut bench = bench(FREE);
        for address in order {
            bench.answer(address, Answer::Done).unwrap();
        }
        bench.state.walk
    });
    assert_eq!(walks[0], walks[1]);
    assert_eq!(walks[0], walks[2]);
}

#[test]
fn fb4_steps_that_hang_on_each_other_cannot_be_free() {
    let reads = refused(
        "steps:
- id: pair
  section: Pair
  any_order: true
  steps:
  - {id: oil, enter: How it looks, kind: choice, choices: {clear: Clear, milky: Milky}}
  - {id: drain, do: Drain it., when: oil == milky}
",
    );
    assert!(reads.contains("WM511") && reads.contains("reads what another step"), "{reads}");
    let token = refused(
        "steps:
- id: pair
  section: Pair
  any_order: true
  steps:
  - {id: lock, do: Lock it., sets: [locked]}
  - {id: open, do: Open it., needs: [locked]}
",
    );
    assert!(token.contains("WM511") && token.contains("`locked` is set by one"), "{token}");
}

#[test]
fn fb4_one_of_several_closes_the_others_as_not_chosen() {
    let mut bench = bench(
        "steps:
- id: way
  section: How the seat comes out
  one_of: How does the seat come out?
  steps:
  - {id: puller, do: Draw it with the puller.}
  - {id: heat, section: With heat, steps: [{id: warm, do: Warm it.}, {id: lift, do: Lift it.}]}
  - {id: stuck, stop: It does not move., safe_state: Leave it}
- {id: last, do: Look around.}
",
    );
    assert_eq!(bench.open(), ["way/chosen"]);
    let refusal = bench.answer("way/chosen", Answer::Entered("hammer".to_owned())).unwrap_err();
    assert!(matches!(refusal, Refusal::UnknownChoice { .. }), "{refusal}");
    bench.answer("way/chosen", Answer::Entered("heat".to_owned())).unwrap();
    assert_eq!(bench.open(), ["way/heat/warm"]);
    assert!(bench.answer("way/puller", Answer::Done).is_err());
    bench.answer("way/heat/warm", Answer::Done).unwrap();
    bench.answer("way/heat/lift", Answer::Done).unwrap();
    assert_eq!(bench.open(), ["last"]);
    for (address, text) in [("way/puller", "chosen == puller"), ("way/stuck", "chosen == stuck")] {
        let Status::NotApplicable(guard) = bench.status(address) else { panic!("{address}") };
        assert_eq!(bench.files.flow.guard(guard).text(&bench.files.flow), text);
    }
}

// --- left out, done otherwise, not applicable ---

const SEAT: &str = "steps:
- {id: plate, enter: Letter, kind: fit_out}
- {id: seat, measure: Measure the seat., with: calliper, unit: mm, limit: spring.length,
   when: elastomer == epdm, below: {verdict: accept}, could_not_measure: {verdict: refer}}
- {id: wipe, do: Wipe the seat.}
- {id: lock, do: Lock it., sets: [locked]}
- {id: colour, enter: How it looks, kind: choice, choices: {clear: Clear, milky: Milky}}
- {id: drain, do: Drain it., when: colour == milky}
- {id: release, hold: Look at it all, by: mechanic}
";

#[test]
fn o13_not_applicable_by_the_fit_out_asks_nobody_and_says_why() {
    let mut bench = bench(SEAT);
    bench.answer("plate", Answer::Entered("B".to_owned())).unwrap();
    assert_eq!(bench.open(), ["wipe"]);
    let Status::NotApplicable(guard) = bench.status("seat") else { panic!("asked") };
    let flow = &bench.files.flow;
    assert_eq!(flow.guard(guard).text(flow), "elastomer == epdm");
    let lines = list(&bench.files, &bench.state);
    assert!(!lines.iter().any(|line| line.contains("seat")), "{lines:?}");
    assert_eq!(bench.state.progress().not_applicable, 1);
}

#[test]
fn o13_fb8_leaving_a_step_out_takes_a_reason_and_a_mechanic() {
    let mut bench = bench(SEAT);
    bench.answer("plate", Answer::Entered("A".to_owned())).unwrap();
    let unsigned = Answer::Deviated { done: false, reason: "no seat".to_owned() };
    let refusal = bench.answer("seat", unsigned).unwrap_err();
    assert!(matches!(refusal, Refusal::Signature(_)), "{refusal}");
    let refusal = bench.deviate("seat", false, "i.varga").unwrap_err();
    assert!(matches!(refusal, Refusal::RoleMissing { .. }), "{refusal}");
    bench.deviate("seat", false, "t.reiter").unwrap();
    // Accounted for, and neither a pass nor a blank.
    assert_eq!(bench.status("seat"), Status::Done);
    let seat = bench.files.flow.find(&at("seat")).unwrap();
    assert_eq!(bench.state.walk.verdicts[seat], None);
    let lines = list(&bench.files, &bench.state);
    assert_eq!(lines, ["seat: left out, allowed by t.reiter: the cover is welded"]);
}

#[test]
fn fb8_what_others_hang_on_is_never_left_out() {
    let mut bench = bench(SEAT);
    bench.answer("plate", Answer::Entered("B".to_owned())).unwrap();
    bench.deviate("wipe", true, "t.reiter").unwrap();
    for (address, why) in [
        ("lock", "a state of the machine hangs on it"),
        ("colour", "later steps hang on its answer"),
        ("release", "a hold point is passed by its signature only"),
    ] {
        let refusal = bench.deviate(address, false, "t.reiter").unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
        match address {
            "lock" => bench.answer("lock", Answer::Done).unwrap(),
            "colour" => bench.answer("colour", Answer::Entered("clear".to_owned())).unwrap(),
            _ => {}
        }
    }
}

#[test]
fn o13_a_blank_step_keeps_the_job_open() {
    let bench = bench(SEAT);
    let blocks = blocks(&bench.files, &bench.state);
    assert!(blocks[0].contains("step plate is still open"), "{blocks:?}");
}

// --- concessions ---

const SPRING: &str = "steps:
- {id: spring, measure: Measure the spring., with: calliper, unit: mm, limit: spring.length,
   concession: mechanic, below: {verdict: replace, parts: [spring], steps: [{id: fetch, do: Fetch one.}]},
   could_not_measure: {verdict: refer}}
- {id: last, do: Look around.}
";

fn concede(bench: &mut Bench, verdict: Verdict, who: &str) -> Result<(), Refusal> {
    let reason = "back in service for a week only".to_owned();
    let meaning = Meaning::Conceded { verdict, reason: reason.clone() };
    let signed = bench.signed(who, Some(at("spring")), meaning);
    bench.submit(Command::Concede { address: at("spring"), verdict, reason, signed })
}

#[test]
fn fb8_a_concession_shows_both_verdicts_and_the_walk_follows_it() {
    let mut bench = bench(SPRING);
    assert!(matches!(
        concede(&mut bench, Verdict::Accept, "t.reiter"),
        Err(Refusal::NothingToCorrect(_))
    ));
    let short = reading(&bench, "37.5");
    bench.answer("spring", short).unwrap();
    assert_eq!(bench.open(), ["spring/fetch"]);
    assert_eq!(parts_needed(&bench.files, &bench.state).len(), 1);
    assert!(matches!(
        concede(&mut bench, Verdict::Accept, "i.varga"),
        Err(Refusal::RoleMissing { .. })
    ));
    assert!(matches!(
        concede(&mut bench, Verdict::Replace, "t.reiter"),
        Err(Refusal::SubstituteNotOpen { .. })
    ));
    concede(&mut bench, Verdict::Accept, "t.reiter").unwrap();
    assert_eq!(bench.open(), ["last"]);
    assert!(parts_needed(&bench.files, &bench.state).is_empty());
    let lines = list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("t.reiter put accept in the place of what the rules say"), "{lines}");
    assert!(lines.contains("spring: replace (37.5 mm is below 38 mm"), "{lines}");
    // The reading is corrected: the concession was about another figure and lapses.
    let answer = reading(&bench, "37.2");
    let command = Command::Correct {
        address: at("spring"),
        answer,
        reason: "read again".to_owned(),
        signed: None,
    };
    bench.submit(command).unwrap();
    assert_eq!(bench.open(), ["spring/fetch"]);
    assert_eq!(bench.state.lapsed.len(), 1);
}

#[test]
fn fb8_a_good_part_may_be_replaced_all_the_same() {
    let mut bench = bench(SPRING);
    let good = reading(&bench, "38.4");
    bench.answer("spring", good).unwrap();
    concede(&mut bench, Verdict::Replace, "t.reiter").unwrap();
    assert_eq!(parts_needed(&bench.files, &bench.state).len(), 1);
    assert_eq!(bench.open(), ["last"]);
}

#[test]
fn fb8_no_concession_where_a_state_or_a_promise_hangs_on_it() {
    let without = "steps:\n- {id: wipe, do: Wipe it., concession: mechanic}\n";
    assert!(refused(without).contains("gives no decision"), "{}", refused(without));
    let token = "steps:\n- {id: dead, look: Look., findings: {no_fault: {see: Dead, verdict: accept}, \
                 live: {see: Live, verdict: stop, say: End, safe_state: Off}}, sets: [locked], \
                 concession: mechanic}\n";
    assert!(refused(token).contains("a state of the machine hangs on this step"));
    let promise = "never: [{reach: close, when: seat.verdict != accept, because: Of leaks}]\nsteps:\n\
                   - {id: seat, look: Look., findings: {no_fault: {see: Good, verdict: accept}, \
                   worn: {see: Worn, verdict: stop, say: End, safe_state: Off}}, concession: mechanic}\n\
                   - {id: close, do: Close it.}\n";
    assert!(refused(promise).contains("a promise of this procedure reads its decision"));
}

// --- witness points ---

#[test]
fn fb9_a_witness_point_advances_after_a_recorded_notice() {
    let mut bench = bench("steps:\n- {id: lift, do: Lift the cover., witness: mechanic}\n");
    assert_eq!(
        bench.answer("lift", Answer::Done).unwrap_err(),
        Refusal::WitnessNotTold(witnessmark::ids::Role::Mechanic)
    );
    let tell = |who: &str| Command::TellWitness { address: at("lift"), who: person(who) };
    assert!(matches!(bench.submit(tell("i.varga")), Err(Refusal::RoleMissing { .. })));
    bench.submit(tell("t.reiter")).unwrap();
    assert!(matches!(bench.submit(tell("t.reiter")), Err(Refusal::NothingToWitness)));
    bench.answer("lift", Answer::Done).unwrap();
    assert!(bench.state.is_over());
}

#[test]
fn fb9_at_a_hold_nothing_goes_on_before_another_person_releases_it() {
    let mut bench = bench(
        "steps:\n- {id: wipe, do: Wipe it.}\n- {id: look, hold: Look at it, by: mechanic}\n\
         - {id: close, do: Close it.}\n",
    );
    bench.answer("wipe", Answer::Done).unwrap();
    assert!(matches!(bench.answer("close", Answer::Done), Err(Refusal::StepNotOpen { .. })));
    assert!(matches!(bench.answer("look", Answer::Released), Err(Refusal::Signature(_))));
    let signed =
        |bench: &Bench, who| Some(bench.signed(who, Some(at("look")), Meaning::HoldReleased));
    let by = |bench: &mut Bench, who| {
        let signed = signed(bench, who);
        bench.submit(Command::Answer { address: at("look"), answer: Answer::Released, signed })
    };
    assert!(matches!(by(&mut bench, "i.varga"), Err(Refusal::RoleMissing { .. })));
    assert!(matches!(by(&mut bench, "t.reiter"), Err(Refusal::WorkNotSigned(_))));
    let ask = bench.files.flow.instance(bench.state.walk.asked().unwrap()).ask.clone();
    bench.give(&at("look"), &ask, Answer::Released);
    assert_eq!(bench.open(), ["close"]);
}

// --- second readings ---

const TWICE: &str = "steps:
- {id: gap, measure: Measure the spring., with: calliper, unit: mm, limit: spring.length,
   sets: [locked], second: {agree_within: \"0.05 mm\"},
   below: {verdict: accept}, could_not_measure: {verdict: refer}}
- {id: last, do: Look around., needs: [locked]}
";

#[test]
fn sg4_a_second_reading_is_another_persons_and_the_first_stays_sealed() {
    let mut bench = bench(TWICE);
    let first = reading(&bench, "38.40");
    bench.answer("gap", first.clone()).unwrap();
    assert_eq!(bench.open(), ["gap/second"]);
    let flow = std::sync::Arc::clone(&bench.files.flow);
    assert_eq!(bench.state.walk.sealed(&flow), flow.find(&at("gap")));
    assert!(bench.state.walk.tokens.is_empty(), "the state holds once both readings are good");
    assert_eq!(
        bench.answer("gap/second", first.clone()).unwrap_err(),
        Refusal::SameMeasurer(person("i.varga"))
    );
    bench.identify("t.reiter");
    bench.take_up_now();
    let second = reading(&bench, "38.45");
    bench.answer("gap/second", second).unwrap();
    assert_eq!(bench.state.walk.sealed(&flow), None);
    assert_eq!(bench.open(), ["last"]);
    assert_eq!(bench.state.walk.tokens.len(), 1);
}

#[test]
fn sg4_readings_that_do_not_agree_are_for_a_mechanic() {
    let mut bench = bench(TWICE);
    let (first, second) = (reading(&bench, "38.40"), reading(&bench, "38.46"));
    bench.answer("gap", first).unwrap();
    bench.identify("a.salmela");
    bench.take_up_now();
    bench.answer("gap/second", second).unwrap();
    assert_eq!(bench.open(), ["gap/second/decision"]);
    let second = bench.files.flow.find(&at("gap/second")).unwrap();
    assert_eq!(bench.state.walk.verdicts[second], Some(Verdict::Refer));
}

// --- a whole job with all of them, released and verified ---

const DEPARTURES: &str = "  - {id: photo, attach: A photo of the seat before wiping}
  - {id: lift, do: Lift the cover., witness: mechanic}
  - id: length
    measure: Measure the free length.
    with: caliper
    unit: mm
    limit: spring.free_length
    second: {agree_within: 0.05 mm}
    concession: mechanic
    below: {verdict: replace, parts: [spring]}
    could_not_measure: {verdict: refer}
  - {id: wipe, do: Wipe the seat.}
";

#[test]
fn a_job_with_every_departure_is_released_and_verifies() {
    use small_shop::{address, answer, person, read, signer, submit};
    let bench = small_shop::Bench::with_steps(DEPARTURES);
    let small = witnessmark::ids::ProcedureId::new("small").unwrap();
    let mut session = bench.shop.new_job(&small, "P-1").unwrap_or_else(|e| panic!("{e}"));
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    // Whatever a file is called, it lies under its hash and nowhere else.
    let name = "../../<img src=x>; rm -rf ~ \u{202e}gpj.exe";
    let photo = session.keep(name, b"\xff\xd8\xff\xe0 a photo").unwrap();
    answer(&mut session, "photo", Answer::Attached(photo.clone()));
    let beside = session.keep("note.txt", b"seat no. 2").unwrap();
    let about = Some(address("lift"));
    submit(&mut session, Command::AddEvidence { address: about, evidence: beside });
    let who = person("t.reiter");
    submit(&mut session, Command::TellWitness { address: address("lift"), who });
    answer(&mut session, "lift", Answer::Done);
    let short = read(&session, "44.50", "C-03");
    answer(&mut session, "length", short);
    let accept = (Verdict::Accept, "a new one is on its way");
    session
        .concede(&address("length"), accept, &person("t.reiter"), &signer("t.reiter"))
        .unwrap_or_else(|e| panic!("{e}"));
    session.identify(&person("o.nkemelu"), &signer("o.nkemelu")).unwrap();
    let shown = session.to_take_up().expect("the work is in other hands");
    submit(&mut session, Command::TakeUp { shown });
    let second = read(&session, "44.62", "C-03");
    answer(&mut session, "length/second", second);
    let accept = (Verdict::Accept, "both are worn alike");
    session
        .decide(
            &address("length/second/decision"),
            accept,
            &person("t.reiter"),
            &signer("t.reiter"),
        )
        .unwrap_or_else(|e| panic!("{e}"));
    let otherwise = (true, "blown off, as the seat is glued");
    session
        .deviate(&address("wipe"), otherwise, &person("t.reiter"), &signer("t.reiter"))
        .unwrap_or_else(|e| panic!("{e}"));
    for who in ["i.varga", "o.nkemelu"] {
        session.sign_performed(&person(who), &signer(who)).unwrap_or_else(|e| panic!("{e}"));
    }
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    let folder = bench.release(&mut session);
    let of = |path: &str| folder.files.get(path).map(Vec::as_slice);
    assert_eq!(of(&format!("evidence/{}", photo.sha256)), Some(&b"\xff\xd8\xff\xe0 a photo"[..]));
    assert_eq!(folder.files.keys().filter(|path| path.starts_with("evidence/")).count(), 2);
    let verified = witnessmark::record::verify::verify(&folder, Some(&small_shop::trust()));
    assert!(verified.is_good(), "{verified:#?}");
    let report = String::from_utf8_lossy(of("report.html").unwrap()).into_owned();
    assert!(!report.contains("<img src=x>") && report.contains("&lt;img src=x&gt;"));
    for said in ["a new one is on its way", "blown off", "was told before", "both are worn alike"] {
        assert!(report.contains(said), "{said}");
    }
}

#[test]
fn fb2_the_branch_follows_the_figure_and_a_person_disagrees_openly_or_not_at_all() {
    let mut wide = bench(SPRING);
    // The bound itself passes: 38.00 is not below 38.
    let exact = reading(&wide, "38.00");
    wide.answer("spring", exact).unwrap();
    assert_eq!(
        (wide.open(), parts_needed(&wide.files, &wide.state).len()),
        (vec!["last".to_owned()], 0)
    );
    let mut bench = bench(SPRING);
    let short = reading(&bench, "37.99");
    bench.answer("spring", short).unwrap();
    // Only the way of the failed figure is open; the step of the other is refused.
    assert_eq!(bench.open(), ["spring/fetch"]);
    let refused = bench.answer("last", Answer::Done).unwrap_err();
    assert!(matches!(refused, Refusal::StepNotOpen { .. }), "{refused}");
    // Without a reason, or without the role, nobody disagrees.
    let meaning = Meaning::Conceded { verdict: Verdict::Accept, reason: String::new() };
    let signed = bench.signed("t.reiter", Some(at("spring")), meaning);
    let (address, verdict, reason) = (at("spring"), Verdict::Accept, String::new());
    let silent = Command::Concede { address, verdict, reason, signed };
    assert!(matches!(bench.submit(silent), Err(Refusal::BadText { .. })));
    assert!(matches!(
        concede(&mut bench, Verdict::Accept, "i.varga"),
        Err(Refusal::RoleMissing { .. })
    ));
    concede(&mut bench, Verdict::Accept, "t.reiter").unwrap();
    let lines = list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("37.99 mm is below 38 mm"), "{lines}");
    assert!(lines.contains("t.reiter put accept in the place of what the rules say"), "{lines}");
}
