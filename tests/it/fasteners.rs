//! Fasteners: order, passes, the wrench with its adapter, re-checks, and what is done again.

use witnessmark::ids::Name;
use witnessmark::language::Thread;
use witnessmark::procedure::model::Verdict;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::command::{AdapterEntry, WrenchEntry};
use witnessmark::walk::event::{Direction, Tight};
use witnessmark::walk::flow::{Ask, InstanceIdx};
use witnessmark::walk::place::Stand;
use witnessmark::walk::tighten::{Due, TightenNote};
use witnessmark::walk::wrench::{ANGLE, LENGTH};
use witnessmark::walk::{Address, Answer, Command, Event, Refusal, exceptions, replay};

use crate::support::procedures::made;
use crate::support::pure::{Bench, files_of};

pub(crate) const EQUIPMENT: &str = r#"format: "1.0"
equipment: marram_3_40
title: Test machine
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]
fasteners:
  rim: {title: Rim nuts, count: 8, order: star, condition: dry, thread: M10}
torques:
  rim:
    full: {nominal: "30 N·m", plus: "1.5 N·m", minus: "1.5 N·m", basis: invented}
    large: {nominal: "80 N·m", plus: "2 N·m", minus: "2 N·m", basis: invented}
    recheck: {between: ["25 N·m", "40 N·m"], basis: invented}
limits:
  rim: {gap: {at_most: "0.1 mm", basis: invented}}
"#;

const NUTS: &str = "- id: nuts
  tighten: Tighten the rim nuts.
  fasteners: rim
  torque: rim.full
  with: torque_wrench
  passes: [33 %, 67 %, 100 %]
  on_redo: this_one
- {id: seen, hold: Confirm the nuts., by: mechanic}
- {id: stripe, do: Draw the stripe.}
";

fn text_of(steps: &str) -> String {
    made(&format!("steps:\n{steps}"))
}

fn bench(steps: &str) -> Bench {
    let text = text_of(steps);
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn newton_metres(text: &str) -> Reading {
    Reading::parse(text, Unit::NewtonMetre).unwrap()
}

fn entry(bench: &Bench, setting: &str) -> WrenchEntry {
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == "W-01").unwrap();
    WrenchEntry {
        instrument: snapshot(listed),
        setting: newton_metres(setting),
        adapter: None,
        thread: Thread::Dry,
    }
}

fn adapter(figures: [Option<&str>; 3]) -> AdapterEntry {
    let [length, extension, angle] = figures;
    let read = |text: Option<&str>, unit| text.map(|text| Reading::parse(text, unit).unwrap());
    AdapterEntry {
        length: read(length, LENGTH),
        extension: read(extension, LENGTH),
        angle: read(angle, ANGLE),
    }
}

fn set(bench: &mut Bench, entry: WrenchEntry) -> Result<(), Refusal> {
    bench.submit(Command::SetWrench { address: at("nuts"), wrench: Box::new(entry) })
}

fn set_to(bench: &mut Bench, setting: &str) -> Result<(), Refusal> {
    let entry = entry(bench, setting);
    set(bench, entry)
}

fn tighten(bench: &mut Bench, fastener: u32, reading: Option<&str>) -> Result<(), Refusal> {
    let tight = Tight { fastener, reading: reading.map(newton_metres), so: true };
    bench.submit(Command::Tighten { address: at("nuts"), tight })
}

fn note(bench: &Bench) -> (InstanceIdx, TightenNote) {
    let index = bench.files.flow.find(&at("nuts")).unwrap();
    let Ask::Tighten(note) = &bench.files.flow.instance(index).ask else { panic!() };
    (index, (**note).clone())
}

fn due(bench: &Bench) -> Due {
    let (index, note) = note(bench);
    note.due(&bench.state.tightening_of(index))
}

fn n_tight(bench: &Bench) -> usize {
    let (index, note) = note(bench);
    note.n_tight(&bench.state.tightening_of(index).rounds)
}

/// Tightens whatever is due until nothing is; says what was set and tightened.
fn all(bench: &mut Bench) -> Vec<String> {
    let mut done = Vec::new();
    loop {
        match due(bench) {
            Due::Wrench { pass } => {
                let setting = ["10", "20", "30", "30"][pass as usize - 1];
                set_to(bench, setting).unwrap();
                done.push(format!("{setting}:"));
            }
            Due::Fastener { fastener, .. } => {
                tighten(bench, fastener, None).unwrap();
                done.push(fastener.to_string());
            }
            Due::Nothing => return done,
        }
    }
}

fn recheck(fastener: u32, reading: &str, bench: &Bench) -> Command {
    Command::Recheck {
        address: at("nuts"),
        fastener,
        direction: Direction::Tightening,
        reading: newton_metres(reading),
        instrument: Box::new(entry(bench, "30").instrument),
    }
}

fn loosen(fastener: u32) -> Command {
    let reason = "the washer was missing".to_owned();
    Command::Loosen { address: at("nuts"), fastener, reason }
}

fn asked(bench: &Bench) -> String {
    bench.asked().map_or_else(|| "nothing".to_owned(), |(_, address)| address.to_string())
}

#[test]
fn in4_nuts_go_in_their_order_through_every_pass() {
    let mut bench = bench(NUTS);
    assert!(matches!(tighten(&mut bench, 1, None), Err(Refusal::WrenchNotSet { pass: 1 })));
    set_to(&mut bench, "10").unwrap();
    tighten(&mut bench, 1, None).unwrap();
    let refusal = tighten(&mut bench, 2, None).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "fastener 2 is not due now: next comes 5; tighten that one first"
    );
    // A kill between two nuts loses nothing.
    assert_eq!(replay(&bench.files.flow, &bench.entries).unwrap(), bench.state);
    let rest = all(&mut bench);
    assert_eq!(rest.join(" "), "5 3 7 2 6 4 8 20: 1 5 3 7 2 6 4 8 30: 1 5 3 7 2 6 4 8");
    assert_eq!((n_tight(&bench), asked(&bench).as_str()), (8, "seen"));
    let index = note(&bench).0;
    let held = bench.state.held[index].as_ref().unwrap();
    assert!(matches!(&held.answer, Answer::Tightened(rounds) if rounds.len() == 3));
    let event = &bench.entries.last().unwrap().event;
    assert!(matches!(event, Event::FastenerTightened { judged: Some(judged), .. }
        if judged.verdict == Some(Verdict::Accept)));
}

#[test]
fn in4_a_round_more_is_one_more_pass_at_the_full_torque() {
    let mut bench = bench(&NUTS.replace("  on_redo", "  round_more: true\n  on_redo"));
    let done = all(&mut bench);
    assert_eq!(done.iter().filter(|word| *word == "30:").count(), 2);
    assert_eq!(done.len(), 4 * 9);
    assert_eq!(asked(&bench), "seen");
}

#[test]
fn in4_a_wrong_setting_is_refused_with_the_one_to_set() {
    let mut bench = bench(NUTS);
    let early = set_to(&mut bench, "30").unwrap_err().to_string();
    assert_eq!(
        early,
        "this setting gives 30.0 N·m at the fastener, and pass 1 needs 8.91 N·m to 10.89 N·m; \
         set the wrench to 9.9 N·m"
    );
    let mut other = entry(&bench, "10");
    other.instrument.kind = Name::new("spanner").unwrap();
    assert!(matches!(set(&mut bench, other), Err(Refusal::InstrumentChanged(_))));
    assert!(matches!(set_to(&mut bench, "101"), Err(Refusal::OutOfRange { .. })));
    assert_eq!(due(&bench), Due::Wrench { pass: 1 });
}

#[test]
fn o11_a_recheck_is_kept_beside_what_was_set_and_grades_nothing() {
    let mut bench = bench(NUTS);
    all(&mut bench);
    let before = (bench.state.held.clone(), bench.state.walk.clone(), n_tight(&bench));
    let command = recheck(5, "34", &bench);
    bench.submit(command).unwrap();
    assert_eq!(before, (bench.state.held.clone(), bench.state.walk.clone(), n_tight(&bench)));
    let check = &bench.state.rechecks[0];
    assert_eq!((check.fastener, check.direction.word()), (5, "tightening"));
    assert_eq!(check.reading.echo(), "34 N·m");
    // The 30 stays, and 34 fails nothing.
    let (index, note) = note(&bench);
    let rounds = bench.state.tightening_of(index).rounds;
    let last = rounds.iter().rfind(|round| round.fasteners.iter().any(|t| t.fastener == 5));
    assert_eq!(last.unwrap().wrench.setting.echo(), "30 N·m");
    assert!(!note.is_not_so(&rounds));
    let lines = exceptions::list(&bench.files, &bench.state);
    assert!(lines.iter().all(|line| !line.contains("34")), "{lines:?}");
    assert_eq!(replay(&bench.files.flow, &bench.entries).unwrap(), bench.state);
}

#[test]
fn o11_a_recheck_limit_of_the_step_judges_the_recheck_and_not_the_step() {
    let steps = NUTS.replace("  on_redo", "  recheck_limit: rim.recheck\n  on_redo");
    let mut bench = bench(&steps);
    all(&mut bench);
    for reading in ["34", "41"] {
        let command = recheck(5, reading, &bench);
        bench.submit(command).unwrap();
    }
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(!lines.contains("34 N·m"), "{lines}");
    assert!(lines.contains("fastener 5 of nuts was re-checked in the tightening direction: 41"));
    assert_eq!((n_tight(&bench), asked(&bench).as_str()), (8, "seen"));
}

#[test]
fn o11_a_loosened_nut_is_open_again_and_both_histories_are_kept() {
    let mut bench = bench(NUTS);
    all(&mut bench);
    bench.give(&at("seen"), &Ask::Hold(String::new()), Answer::Released);
    let stripe = || Command::Answer { address: at("stripe"), answer: Answer::Done, signed: None };
    bench.submit(stripe()).unwrap();
    assert_eq!(bench.state.walk.stand, Stand::End);
    bench.submit(loosen(5)).unwrap();
    // Seven of eight; the step is asked again and the signature over it has lapsed.
    assert_eq!((n_tight(&bench), asked(&bench).as_str()), (7, "nuts"));
    assert_eq!(bench.state.lapsed.len(), 1);
    let note = &bench.state.loosened[0];
    assert_eq!((note.fastener, note.reason.as_str()), (5, "the washer was missing"));
    assert_eq!(note.by.as_ref().unwrap().as_str(), "i.varga");
    let kept: Vec<String> = note
        .superseded
        .iter()
        .map(|r| format!("{} {}", r.wrench.setting.text, r.fasteners[0].fastener))
        .collect();
    assert_eq!(kept, ["10 5", "20 5", "30 5"]);
    assert_eq!(all(&mut bench).join(" "), "10: 5 20: 5 30: 5");
    assert_eq!((n_tight(&bench), asked(&bench).as_str()), (8, "seen"));
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("fastener 5 of nuts was loosened"), "{lines}");
    assert_eq!(replay(&bench.files.flow, &bench.entries).unwrap(), bench.state);
    bench.give(&at("seen"), &Ask::Hold(String::new()), Answer::Released);
    assert_eq!(bench.state.walk.stand, Stand::End);
}

#[test]
fn o11_the_procedure_says_what_is_done_again() {
    for (redo, again, n_left) in [
        ("all", "10: 1 5 3 7 2 6 4 8 20: 1 5 3 7 2 6 4 8 30: 1 5 3 7 2 6 4 8", 0),
        // The loosened one goes through the passes before, too: it is loose.
        ("{from_pass: 3}", "10: 5 20: 5 30: 1 5 3 7 2 6 4 8", 0),
    ] {
        let mut bench = bench(&NUTS.replace("this_one", redo));
        all(&mut bench);
        bench.submit(loosen(5)).unwrap();
        assert_eq!(n_tight(&bench), n_left, "{redo}");
        assert_eq!(all(&mut bench).join(" "), again, "{redo}");
        assert_eq!(asked(&bench), "seen");
    }
}

#[test]
fn o11_a_nut_that_was_never_tight_is_neither_loosened_nor_checked_nor_typed_anew() {
    let mut bench = bench(NUTS);
    assert!(matches!(bench.submit(loosen(5)), Err(Refusal::NotTightened { .. })));
    set_to(&mut bench, "10").unwrap();
    tighten(&mut bench, 1, None).unwrap();
    let early = recheck(5, "34", &bench);
    assert!(matches!(bench.submit(early), Err(Refusal::NotTightened { .. })));
    // In mid step one can be taken back as well.
    bench.submit(loosen(1)).unwrap();
    assert_eq!(due(&bench), Due::Wrench { pass: 1 });
    all(&mut bench);
    let anew = Command::Correct {
        address: at("nuts"),
        answer: Answer::Tightened(Vec::new()),
        reason: "typed wrongly".to_owned(),
        signed: None,
    };
    assert_eq!(bench.submit(anew), Err(Refusal::TightenedNotCorrected));
}

#[test]
fn o11_a_figure_outside_in_the_last_pass_is_not_so_and_goes_to_the_mechanic() {
    let mut bench = bench(NUTS);
    loop {
        match due(&bench) {
            Due::Wrench { pass } => {
                set_to(&mut bench, ["10", "20", "30"][pass as usize - 1]).unwrap();
            }
            Due::Fastener { pass: 3, fastener } => {
                tighten(&mut bench, fastener, Some("32")).unwrap();
                break;
            }
            // A figure of an earlier pass is kept and judges nothing.
            Due::Fastener { fastener, .. } => tighten(&mut bench, fastener, Some("12")).unwrap(),
            Due::Nothing => panic!(),
        }
    }
    assert_eq!(asked(&bench), "nuts/decision");
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("fastener 1 is not so, 32 N·m is above"), "{lines}");
}

#[test]
fn o14_the_torque_at_the_fastener_counts_and_not_the_bare_setting() {
    let steps = NUTS.replace("rim.full", "rim.large").replace("[33 %, 67 %, 100 %]", "[100 %]");
    for (angle, setting) in [("0", "71.1"), ("90", "80"), ("180", "91.4")] {
        let mut bench = bench(&steps);
        let with = |setting: &str, bench: &Bench| WrenchEntry {
            adapter: Some(adapter([Some("400"), Some("50"), Some(angle)])),
            ..entry(bench, setting)
        };
        if angle != "90" {
            let bare = with("80", &bench);
            let refusal = set(&mut bench, bare).unwrap_err().to_string();
            assert!(refusal.ends_with(&format!("set the wrench to {setting} N·m")), "{refusal}");
        }
        let right = with(setting, &bench);
        set(&mut bench, right).unwrap();
        let event = &bench.entries.last().unwrap().event;
        // Tool, adapter, its three figures and the setting stand in the entry, as typed.
        assert!(matches!(event, Event::WrenchSet { wrench, judged: None, .. }
            if wrench.setting.text == setting
                && wrench.instrument.id == "W-01"
                && wrench.adapter.as_ref().is_some_and(|a| a.angle.text == angle
                    && a.length.text == "400" && a.extension.text == "50")));
    }
}

#[test]
fn o14_an_adapter_with_a_figure_missing_is_not_judged() {
    let mut bench = bench(NUTS);
    for figures in [
        [Some("400"), Some("50"), None],
        [Some("400"), None, Some("0")],
        [None, Some("50"), Some("0")],
    ] {
        let missing = WrenchEntry { adapter: Some(adapter(figures)), ..entry(&bench, "9") };
        let n_before = bench.entries.len();
        let refusal = set(&mut bench, missing).unwrap_err();
        assert!(matches!(refusal, Refusal::AdapterUnknown { .. }), "{refusal}");
        assert_eq!(bench.entries.len(), n_before);
    }
    assert_eq!(due(&bench), Due::Wrench { pass: 1 });
}

#[test]
fn o14_an_oiled_thread_against_a_dry_torque_goes_to_the_mechanic_without_a_factor() {
    let mut bench = bench(NUTS);
    let oiled = WrenchEntry { thread: Thread::Oiled, ..entry(&bench, "10") };
    set(&mut bench, oiled).unwrap();
    assert_eq!(asked(&bench), "nuts/decision");
    let event = &bench.entries.last().unwrap().event;
    assert!(matches!(event, Event::WrenchSet { judged: Some(judged), .. }
        if judged.verdict == Some(Verdict::Refer)));
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(
        lines.contains("not judged: the thread is oiled, and the torque is for dry ones"),
        "{lines}"
    );
    // The torque is what the wrench says: nothing was scaled.
    let (index, _) = note(&bench);
    assert_eq!(bench.state.tightening_of(index).rounds[0].wrench.setting.echo(), "10 N·m");
}

#[test]
fn what_a_tightening_step_names_must_be_there_and_be_a_torque() {
    let refused = |steps: &str| {
        let text = text_of(steps);
        files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").unwrap_err()
    };
    for (wrong, right, said) in [
        ("fasteners: rim", "fasteners: rum", "there is no set of fasteners `rum`"),
        ("rim.full", "rim.ful", "there is no torque `rim.ful`"),
        ("rim.full", "rim.gap", "and no torque"),
    ] {
        let message = refused(&NUTS.replace(wrong, right));
        assert!(message.contains(said), "{message}");
    }
}

/// A tightening that a state of the machine hangs on is done anew when the state is gone; what was
/// tightened before neither counts nor stands in the way.
#[test]
fn st6_a_tightening_whose_state_ran_out_is_begun_anew() {
    let steps = NUTS
        .replace("  on_redo: this_one\n", "  on_redo: this_one\n  sets: [quiet]\n")
        .replace("do: Draw the stripe.", "do: Draw the stripe., needs: [quiet]");
    let text = made(&format!(
        "tokens: {{quiet: {{title: Nothing moves, volatile: true}}}}\nsteps:\n{steps}"
    ));
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").unwrap();
    let mut bench = Bench::new(files);
    assert_eq!(all(&mut bench).len(), 27);
    assert_eq!(asked(&bench), "seen");
    bench.submit(Command::Pause { reason: "the crane is needed".to_owned() }).unwrap();
    bench.take_up();
    assert_eq!(asked(&bench), "nuts");
    assert_eq!(due(&bench), Due::Wrench { pass: 1 });
    assert_eq!(all(&mut bench).len(), 27);
    assert_eq!(asked(&bench), "seen");
    assert_eq!(replay(&bench.files.flow, &bench.entries).unwrap(), bench.state);
}
