//! The safety of the shipped procedures held against the standards they name: the order in which
//! energy is controlled, and the grade of each safety message.

use std::path::Path;

use num_traits::ToPrimitive as _;
use witnessmark::ids::TokenId;
use witnessmark::procedure::model::{Action, Procedure, SafetyText, SignalWord, Step, Verdict};
use witnessmark::source::{FileId, Source};
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::compile::each_step;

use crate::support::pure::own_files;

/// The shipped procedures, each with the text that it was read from.
fn procedures() -> Vec<(Procedure, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let paths = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let files = paths.filter(|path| path.extension().is_some_and(|ending| ending == "yaml"));
    let read = files.map(|path| {
        let text = std::fs::read_to_string(path).unwrap();
        let source = Source::new("procedure", text.as_str());
        (witnessmark::procedure::read(FileId(0), &source).0.unwrap(), text)
    });
    read.collect()
}

/// A paragraph of the standard, and the steps that serve it.
type Paragraph = (&'static str, &'static [&'static str]);

/// 29 CFR 1910.147(d), (1) to (6): prepare, shut down, isolate, lock or tag, stored energy, verify,
/// "in the following sequence". Each paragraph with the steps that serve it.
#[test]
fn energy_is_controlled_in_the_order_of_the_standard_on_every_machine() {
    let pump: [Paragraph; 6] = [
        ("(d)(1)", &["prepare/energies", "prepare/dampener"]),
        ("(d)(2)", &["shut_down/stop_pump"]),
        (
            "(d)(3)",
            &["isolate/open_isolator", "isolate/close_outlet_valve", "isolate/close_inlet_valve"],
        ),
        ("(d)(4)", &["lock/lock_isolator", "lock/lock_valves"]),
        ("(d)(5)", &["stored/open_outlet_vent", "stored/open_inlet_vent"]),
        ("(d)(6)", &["verify/outlet_vent", "verify/inlet_vent", "verify/try_start", "zero_energy"]),
    ];
    let reducer: [Paragraph; 6] = [
        ("(d)(1)", &["isolate/energies"]),
        ("(d)(2)", &["isolate/stop_drive"]),
        ("(d)(3)", &["isolate/open_isolator"]),
        ("(d)(4)", &["isolate/lock_on"]),
        ("(d)(5)", &["isolate/load_held"]),
        ("(d)(6)", &["isolate/try_start", "isolate/made_safe"]),
    ];
    // Nothing is prepared there: the pump was started from it.
    let test: [Paragraph; 5] = [
        ("(d)(2)", &["again/stop_pump"]),
        ("(d)(3)", &["again/open_isolator", "again/close_valves"]),
        ("(d)(4)", &["again/lock_on"]),
        ("(d)(5)", &["again/vent"]),
        ("(d)(6)", &["again/try_start"]),
    ];
    let all: [(&str, &str, &str, &[Paragraph]); 8] = [
        ("make_safe", "marram_3_40", "", &pump),
        ("make_safe", "marram_5_60", "", &pump),
        ("overhaul", "marram_3_40", "make_safe/", &pump),
        ("overhaul", "marram_5_60", "make_safe/", &pump),
        ("fluid_end_service", "marram_3_40", "make_safe/", &pump),
        ("reducer_service", "corran_r2", "", &reducer),
        ("overhaul", "marram_3_40", "test/", &test),
        ("overhaul", "marram_5_60", "test/", &test),
    ];
    for (procedure, equipment, prefix, order) in all {
        let flow = own_files(procedure, equipment).flow;
        let place = |step: &str| {
            let wanted = format!("{prefix}{step}");
            let found = flow.instances.iter().position(|i| i.address.to_string() == wanted);
            found.unwrap_or_else(|| panic!("{procedure} on {equipment}: no step {wanted}"))
        };
        for pair in order.windows(2) {
            let last = pair[0].1.iter().map(|step| place(step)).max().unwrap();
            let first = pair[1].1.iter().map(|step| place(step)).min().unwrap();
            assert!(last < first, "{procedure}: {} does not come before {}", pair[0].0, pair[1].0);
        }
    }
}

/// Whoever hangs locks says at the head in which order energy goes, and which hold looks at it. The test
/// run takes the pump over locked and hangs its locks again; its order is held to above.
#[test]
fn every_procedure_that_hangs_a_lock_has_its_energy_control_at_its_head() {
    let locked = TokenId::new("locked").unwrap();
    let mut n = 0;
    for (procedure, text) in procedures() {
        let mut hangs = false;
        each_step(&procedure.steps, &mut |step| {
            hangs |= step.sets.iter().any(|token| token.value == locked);
        });
        if hangs && procedure.assumes.iter().all(|token| token.value != locked) {
            n += 1;
            let id = &procedure.id.value;
            // `energy` is read into the states that each step needs, so its order is looked up here.
            let head =
                text.split_once("\nenergy:\n").unwrap_or_else(|| panic!("{id}: no `energy`"));
            let states = head.1.split_once("states: [").unwrap().1.split_once(']').unwrap().0;
            let states: Vec<&str> = states.split(", ").collect();
            let place = |state: &str| states.iter().position(|s| *s == state).unwrap();
            assert!(place("isolated") < place("locked"), "{id}");
        }
    }
    assert!(n >= 2, "{n}");
}

/// The grades of ANSI Z535.6 by what comes of the hazard, as the standard's definitions of its signal
/// words have it: DANGER where death or grave injury will come, WARNING where it can, CAUTION where a
/// slight one can, NOTICE where nobody is hurt. Which injury is grave is common practice, no source:
/// what kills, blinds, crushes, or takes a finger.
#[test]
fn every_safety_message_has_the_grade_of_its_consequence() {
    let grave = |text: &str| {
        [
            "kill",
            "blind",
            "crush",
            "torn-off",
            "cut off",
            "through the skin",
            "injure badly",
            "wind in",
        ]
        .iter()
        .any(|word| text.contains(word))
    };
    let slight = |text: &str| {
        ["pinched", "cut fingers", "burnt", "irritated"].iter().any(|word| text.contains(word))
    };
    let hurts = |text: &str| {
        grave(text)
            || slight(text)
            || ["finger", "hand", "skin", "eye", "person", "people"]
                .iter()
                .any(|word| text.contains(word))
    };
    let mut n = 0;
    for (procedure, _) in procedures() {
        let id = procedure.id.value.clone();
        each_step(&procedure.steps, &mut |step| {
            for SafetyText { word, hazard, consequence, avoid, .. } in &step.safety {
                n += 1;
                let at = format!("{id}.{}: {} {consequence}", step.id.value, word.word());
                assert!(!hazard.is_empty() && !avoid.is_empty(), "{at}");
                let text = consequence.to_lowercase();
                let fits = match word {
                    SignalWord::Danger => text.contains("kill") && !text.contains("can "),
                    SignalWord::Warning => grave(&text),
                    SignalWord::Caution => slight(&text) && !grave(&text),
                    SignalWord::Notice => !hurts(&text),
                };
                assert!(fits, "{at}");
            }
        });
    }
    assert!(n >= 40, "{n}");
}

/// Common practice, no source: a spring shorter than a new one is replaced, never stretched; light under a
/// straight edge says where to measure and rejects nothing; 18 in·lbf is 2.0 N·m on a fitter's table.
#[test]
fn practice_a_short_spring_is_replaced_and_light_means_measure() {
    let all = procedures();
    let (inspection, _) =
        all.iter().find(|(p, _)| p.id.value.as_str() == "valve_inspection").unwrap();
    let (mut n_springs, mut n_lights) = (0, 0);
    each_step(&inspection.steps, &mut |step| match (step.id.value.as_str(), &step.action) {
        ("free_length", Action::Measure { below, above, .. }) => {
            n_springs += 1;
            let below = below.as_ref().unwrap();
            assert_eq!(below.verdict, Verdict::Replace);
            assert_eq!(below.parts[0].value.as_str(), "valve_spring");
            assert!(below.steps.is_empty() && below.rework.is_none(), "nothing is done to it");
            assert!(above.is_none(), "a long spring is no fault");
        }
        ("light", Action::Look { findings, .. }) => {
            n_lights += 1;
            let seen = findings.iter().find(|f| f.id.value.as_str() == "light_seen").unwrap();
            assert_eq!(seen.exit.verdict, Verdict::Accept, "light alone rejects nothing");
            let measures = |step: &&Step| matches!(step.action, Action::Measure { .. });
            // Metal and plastic each have their own: one of them may be lapped.
            assert!(seen.exit.steps.iter().filter(measures).count() >= 2);
            assert!(seen.exit.steps.iter().all(|step| measures(&step)), "nothing comes before it");
        }
        _ => {}
    });
    assert_eq!((n_springs, n_lights), (1, 1));
    let torque = Reading::parse("18 in-lb", Unit::NewtonMetre).unwrap();
    assert_eq!(
        torque.value.in_unit(Unit::NewtonMetre).to_f64().map(|t| format!("{t:.1}")).unwrap(),
        "2.0"
    );
}

/// 29 CFR 1910.147(d)(5)(ii): where energy can build again, its absence is verified again.
#[test]
fn st6_a_zero_is_proved_again_every_day() {
    let zero = TokenId::new("pressure_zero").unwrap();
    for (procedure, equipment) in
        [("make_safe", "marram_3_40"), ("overhaul", "marram_3_40"), ("overhaul", "marram_5_60")]
    {
        let flow = own_files(procedure, equipment).flow;
        let note = &flow.tokens[&zero];
        assert!(note.volatile && note.lasts_s.is_some_and(|s| s <= 24 * 3600), "{procedure}");
        // What is asked again is a look at the vents, and not a tick.
        let mut setters = flow.instances.iter().filter(|i| i.sets.contains(&zero));
        let last = setters.next_back().unwrap();
        assert!(matches!(last.ask, witnessmark::walk::flow::Ask::Look { .. }), "{}", last.address);
    }
}
