//! The prover: the demo, deletions that must break it, and small procedures against brute force.

mod oracle;

use witnessmark::ids::{Name, ProcedureId, Sha256};
use witnessmark::prove::{Cast, Doubt, Proof, Proven, Report, Subject, prove, rehearsal, to_yaml};
use witnessmark::rehearsal::model::{Rehearsal, ScriptedAnswer};
use witnessmark::session::open::OpenError;
use witnessmark::source::{FileId, Source};
use witnessmark::units::Reading;
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::event::{Evidence, Laid, Waited};
use witnessmark::walk::flow::{Ask, InstanceIdx};
use witnessmark::walk::stack::LayerNote;
use witnessmark::walk::{Answer, Files};

use super::support::procedures::{self, EQUIPMENT, with_promises};
use super::support::pure::{Bench, demo_files, files_of, own_files};

const PUMP: &str = include_str!("../../procedures/equipment/marram_3_40.yaml");

fn failing(files: &Files, report: &Report) -> Vec<String> {
    report
        .promises
        .iter()
        .filter(|proven| proven.proof != Proof::Proved)
        .map(|proven| format!("{}: {:?}", proven.text(&files.flow), proven.proof))
        .collect()
}

#[test]
fn au7_the_demo_is_proved_for_every_fit_out() {
    let files = demo_files();
    let report = prove(&files.flow);
    assert_eq!(failing(&files, &report), Vec::<String>::new());
    assert_eq!(report.unfinished, None);
    assert!(report.promises.len() >= 16);
}

/// The whole jobs, on every machine: what their proof takes is told in states, as a time would hang on the
/// machine that it is measured on. Seconds are for `witnessmark prove` to tell.
#[test]
fn au7_every_job_is_proved_on_every_machine_in_bounded_states() {
    for (top, equipment, n_digits, n_states) in [
        ("overhaul", "marram_3_40", 200, 150_000),
        ("overhaul", "marram_5_60", 240, 500_000),
        ("fluid_end_service", "marram_5_60", 90, 10_000),
        ("reducer_service", "corran_r2", 12, 2_000),
    ] {
        let files = own_files(top, equipment);
        let report = prove(&files.flow);
        let job = format!("{top} on {equipment}");
        assert_eq!(failing(&files, &report), Vec::<String>::new(), "{job}");
        assert_eq!(report.unfinished, None, "{job}");
        assert_eq!(report.n_fit_outs, files.flow.equipment.builds().len(), "{job}");
        assert!(report.n_paths.to_string().len() > n_digits, "{job}: {}", report.n_paths);
        assert!(report.n_states < n_states, "{job}: {}", report.n_states);
    }
}

/// The promises of the demo's job `top` that are not proved any more with a text in one of its files replaced.
fn mutated(top: &str, which: &str, from: &str, to: &str) -> Result<Vec<String>, String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let listed = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path());
    let yaml = listed.filter(|path| path.extension().is_some_and(|ext| ext == "yaml"));
    let texts: Vec<(String, String)> = yaml
        .map(|path| {
            let id = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let text = std::fs::read_to_string(&path).unwrap();
            if id == which {
                assert!(text.contains(from), "{which} has no {from:?}");
                return (id, text.replacen(from, to, 1));
            }
            (id, text)
        })
        .collect();
    let texts: Vec<(&str, &str)> =
        texts.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    let files = files_of(&texts, ("marram_3_40", PUMP), top)?;
    let report = prove(&files.flow);
    for (proven, script) in report.broken() {
        let when = match &proven.subject {
            Subject::Promise(i) => files.flow.promises[*i].when.as_ref(),
            Subject::Needs(..) | Subject::Assumes(..) | Subject::Again(..) => None,
        };
        assert!(script.replays(&files.flow, when), "{}", proven.text(&files.flow));
    }
    // Behind a figure that the program works out a break is only possible.
    let kept = |proven: &&Proven| proven.proof != Proof::Proved;
    Ok(report.promises.iter().filter(kept).map(|proven| proven.text(&files.flow)).collect())
}

/// A step of a job that nobody is asked any more.
fn left_out(top: &str, which: &str, step: &str) {
    let from = format!("- id: {step}\n");
    let path = format!("{}/procedures/{which}.yaml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let at = text.find(&from).unwrap_or_else(|| panic!("{which} has no {step}"));
    let before = text.get(..at).unwrap();
    let indent = before.len() - before.rfind('\n').unwrap() - 1;
    let to = format!("{from}{}  when: false\n", " ".repeat(indent));
    let broken = mutated(top, which, &from, &to).unwrap();
    assert!(!broken.is_empty(), "{which}: nobody misses {step}");
}

#[test]
fn st6_every_step_of_the_isolation_is_missed_if_it_is_left_out() {
    for step in [
        "open_isolator",
        "close_outlet_valve",
        "close_inlet_valve",
        "close_other_lines",
        "lock_isolator",
        "lock_valves",
        "open_outlet_vent",
        "open_inlet_vent",
        "drain",
        "outlet_vent",
        "inlet_vent",
        "try_start",
        "stop_pump",
        "serial",
    ] {
        left_out("fluid_end_service", "make_safe", step);
    }
}

#[test]
fn au7_every_hold_is_missed_if_it_is_left_out() {
    for (which, step) in [
        ("make_safe", "zero_energy"),
        ("valve_inspection", "findings_seen"),
        ("diaphragm_inspection", "findings_seen"),
        ("close_up", "closed_seen"),
        ("fluid_end_service", "locks_may_come_off"),
    ] {
        left_out("fluid_end_service", which, step);
    }
}

/// Two parts of the energy control that change places: the file is refused, or a promise breaks.
#[test]
fn st6_the_order_of_the_energy_control_is_missed_if_two_parts_are_swapped() {
    let path = format!("{}/procedures/make_safe.yaml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let at = |id: &str| text.find(&format!("  - id: {id}\n")).unwrap();
    for [first, second, after] in [
        ["shut_down", "isolate", "lock"],
        ["isolate", "lock", "stored"],
        ["lock", "stored", "verify"],
        ["stored", "verify", "zero_energy"],
        ["verify", "zero_energy", "zero_seen"],
    ] {
        let between = |from, to| text.get(at(from)..at(to)).unwrap();
        let (a, b) = (between(first, second), between(second, after));
        let noticed =
            match mutated("fluid_end_service", "make_safe", &format!("{a}{b}"), &format!("{b}{a}"))
            {
                Ok(broken) => !broken.is_empty(),
                Err(_) => true,
            };
        assert!(noticed, "nobody misses the order of {first} and {second}");
    }
}

/// The header's own order holds, whatever the steps say that they need.
#[test]
fn st6_the_states_of_the_header_are_set_in_their_order_and_seen_at_its_hold_point() {
    let broken = |steps: &str| -> Vec<String> {
        let text = procedures::made(&format!(
            "tokens: {{isolated: {{title: Cut off}}, locked: {{title: Locked}}}}\nenergy: {{states: \
             [isolated, locked], hold: seen}}\nsteps:\n{steps}"
        ));
        let text = text.replace("format: \"1.0\"", "format: \"1.1\"");
        let files = files_of(&[("made", text.as_str())], ("marram_3_40", EQUIPMENT), "made");
        let files = files.unwrap_or_else(|e| panic!("{e}"));
        prove(&files.flow).broken().map(|(proven, _)| proven.text(&files.flow)).collect()
    };
    let isolate = "- {id: isolate, do: Open the isolator., sets: [isolated]}\n";
    let lock = "- {id: lock, do: Hang the lock., sets: [locked]}\n";
    let seen = "- {id: seen, hold: Confirm it., by: mechanic}\n";
    assert_eq!(broken(&[isolate, lock, seen].concat()), Vec::<String>::new());
    assert_eq!(
        broken(&[lock, isolate, seen].concat()),
        ["`isolated` is in force at `lock`"],
        "a lock before the isolator is open"
    );
    assert_eq!(broken(&[isolate, seen].concat()), ["`locked` is in force at `seen`"]);
    let sometimes = lock.replace("sets:", "when: way == on, sets:");
    let way = "- {id: way, enter: Way, kind: choice, choices: {on: On, off: Off}}\n";
    assert_eq!(
        broken(&[way, isolate, &sometimes, seen].concat()),
        ["`locked` is in force at `seen`"]
    );
}

/// A run for trial: clear, unlock, run, stop, isolate, verify.
#[test]
fn st7_every_step_of_a_trial_run_is_missed_if_it_is_left_out() {
    for step in [
        "pump_seen",
        "lock_off",
        "power_on",
        "jog",
        "stop_pump",
        "open_isolator",
        "lock_on",
        "vent",
        "try_start",
        "vents_seen",
    ] {
        left_out("overhaul", "test_run", step);
    }
}

/// What a performed procedure promises about its own end holds wherever it is performed, and is
/// missed there.
#[test]
fn what_a_performed_procedure_promises_about_its_end_is_missed_if_it_is_left_out() {
    for (which, step) in [
        ("valve_stack_inlet", "way"),
        ("valve_stack_outlet", "way"),
        ("diaphragm_install", "cured"),
        ("hydraulic_end", "signed"),
        ("relief_valve", "relief_seen"),
        ("test_run", "accepted"),
    ] {
        left_out("overhaul", which, step);
    }
}

#[test]
fn the_guards_of_the_flush_medium_are_missed_if_they_are_taken_out() {
    for from in [
        "        when: oil == mineral and elastomer != epdm\n",
        "        when: oil == white_oil and elastomer != epdm\n",
    ] {
        let broken = mutated("fluid_end_service", "oil_flush", from, "").unwrap();
        assert!(broken.iter().any(|text| text.contains("epdm")), "{broken:?}");
    }
}

/// How many small procedures of each kind are held against brute force; `WITNESSMARK_N_ORACLE` says
/// otherwise.
fn n_oracle() -> u64 {
    std::env::var("WITNESSMARK_N_ORACLE").ok().and_then(|n| n.parse().ok()).unwrap_or(500)
}

fn small(seed: u64, relations: bool) -> Option<(String, Files)> {
    let text = with_promises(seed, relations);
    let files = files_of(&[("made", text.as_str())], ("marram_3_40", EQUIPMENT), "made").ok()?;
    Some((text, files))
}

fn with_a_part(seed: u64) -> Option<(String, Files)> {
    let (made, part) = procedures::with_a_part(seed);
    let texts = [("made", made.as_str()), ("part", part.as_str())];
    let files = files_of(&texts, ("marram_3_40", EQUIPMENT), "made").ok()?;
    Some((format!("{made}\n{part}"), files))
}

/// Holds proofs against brute force, `exact` where no readings are compared; how often a step was
/// asked again without what it needs.
fn against_brute_force(made: &dyn Fn(u64) -> Option<(String, Files)>, exact: bool) -> u64 {
    let (mut n_compared, mut n_broken, mut n_lapses) = (0_u64, 0_u64, 0_u64);
    for seed in 0..n_oracle() {
        let Some((text, files)) = made(seed) else { continue };
        let flow = &files.flow;
        let exact = !text.contains("second:") && exact;
        let Some(breaks) = oracle::breaks(flow, 4_000) else { continue };
        n_compared += 1;
        let report = prove(flow);
        let (mut needs, mut again) = (None, None);
        for proven in &report.promises {
            let (known, when) = match &proven.subject {
                Subject::Promise(i) => {
                    let plain = breaks.promises.get(i).or_else(|| breaks.lapsed.get(i));
                    (plain.copied(), flow.promises[*i].when.as_ref())
                }
                Subject::Needs(..) | Subject::Assumes(..) => (breaks.needs, None),
                Subject::Again(..) => (breaks.again, None),
            };
            let what = proven.text(flow);
            match &proven.proof {
                Proof::Proved => assert_eq!(known, None, "{seed}: {what}\n{text}"),
                Proof::Broken(script) => {
                    n_broken += 1;
                    assert!(script.replays(flow, when), "{seed}: {what}\n{text}");
                    let n = script.answers.len();
                    match &proven.subject {
                        Subject::Promise(_) if exact => {
                            assert_eq!(Some(n), known, "{seed}: {what}\n{script:?}\n{text}");
                        }
                        Subject::Promise(_) => {}
                        Subject::Needs(..) | Subject::Assumes(..) => {
                            needs = Some(needs.map_or(n, |known: usize| known.min(n)));
                        }
                        Subject::Again(..) => {
                            n_lapses += 1;
                            again = Some(again.map_or(n, |known: usize| known.min(n)));
                        }
                    }
                }
                Proof::NotProven(Doubt::Relation, _) => {
                    assert!(!exact, "{seed}: {what}\n{text}");
                }
                Proof::NotProven(Doubt::FreeOrder, _) => {}
                Proof::NotProven(Doubt::Unfinished(why), _) => panic!("{seed}: {why}"),
            }
        }
        if exact {
            assert_eq!(needs, breaks.needs, "{seed}\n{text}");
            assert_eq!(again, breaks.again, "{seed}\n{text}");
        }
    }
    assert!(n_compared * 4 > n_oracle(), "only {n_compared} were small enough");
    assert!(n_broken > n_compared / 4, "only {n_broken} broken");
    n_lapses
}

#[test]
fn au7_without_relations_a_proof_agrees_with_brute_force_and_finds_a_shortest_script() {
    against_brute_force(&|seed| small(seed, false), true);
}

#[test]
fn with_relations_what_is_proved_holds_and_what_is_broken_replays() {
    against_brute_force(&|seed| small(seed, true), false);
}

/// At any place a state may lapse, and the step that set it is asked again there and then.
#[test]
fn st6_states_that_lapse_anywhere_agree_with_brute_force() {
    let n_lapses = against_brute_force(
        &|seed| {
            let text = procedures::with_lapses(seed);
            let texts = [("made", text.as_str())];
            let files = files_of(&texts, ("marram_3_40", EQUIPMENT), "made").ok()?;
            Some((text, files))
        },
        true,
    );
    assert!(n_lapses > 10, "only {n_lapses}");
}

/// The end of a performed procedure is its own, each time that it was begun.
#[test]
fn a_promise_about_the_end_of_a_performed_procedure_agrees_with_brute_force() {
    against_brute_force(&with_a_part, true);
}

/// No job opens by a procedure whose promise breaks, approved or not.
#[test]
fn au7_a_job_does_not_open_on_a_broken_promise() {
    let steps = |when: &str| {
        format!(
            "  - {{id: plate, enter: Letter, kind: fit_out}}\n  - id: lock\n{when}    do: Lock it.\n\
             \x20 - {{id: cover, do: Lift the cover.}}\nalways:\n  - first: lock\n    before: cover\n    \
             because: It can start.\n"
        )
    };
    let open = |steps: &str| {
        let bench = crate::support::small_shop::Bench::with_steps(steps);
        bench.shop.new_job(&ProcedureId::new("small").unwrap(), "P-1").map(|_| ())
    };
    open(&steps("")).unwrap();
    let broken = open(&steps("    when: elastomer == epdm\n")).unwrap_err();
    assert!(matches!(&broken, OpenError::Broken(_)), "{broken}");
    assert!(broken.to_string().contains("always `lock` before `cover`"), "{broken}");
}

#[test]
fn au7_a_saved_script_is_read_back_and_played_to_the_same_place() {
    let mut n_played = 0;
    for seed in 0..80 {
        let Some((_, files)) = small(seed, false) else { continue };
        let flow = &files.flow;
        for (proven, script) in prove(flow).broken() {
            let cast = Cast::of(&files.shop, flow, script);
            let id = Name::new("broken").unwrap();
            let text = to_yaml(&rehearsal(flow, script, &cast, id, "Broken"), "Made");
            let source = Source::new("broken.yaml", text.as_str());
            let (read, found) = witnessmark::rehearsal::read(FileId(0), &source);
            let read = read.unwrap_or_else(|| panic!("{found:?}\n{text}"));
            assert_eq!(found, Vec::new(), "{text}");
            assert_eq!(
                played(&files, &read, script.at),
                script.at,
                "{}\n{text}",
                proven.text(flow)
            );
            n_played += 1;
        }
    }
    assert!(n_played > 20, "only {n_played}");
}

/// Where a job stands once every scripted answer of a rehearsal is given.
fn played(files: &Files, script: &Rehearsal, until: Option<InstanceIdx>) -> Option<InstanceIdx> {
    let mut bench = Bench::new(files.clone());
    let scripted = |address: &str, concession: bool| {
        let is = |a: &ScriptedAnswer| matches!(a, ScriptedAnswer::Concede { .. }) == concession;
        script.answers.iter().find(|a| a.at.value == address && is(&a.answer)).map(|a| &a.answer)
    };
    while let Some((index, address)) = bench.asked() {
        if Some(index) == until {
            return until;
        }
        let instance = files.flow.instance(index).clone();
        let given = scripted(&address.to_string(), false);
        let answer = match (&instance.ask, given) {
            (Ask::Check { items, .. }, Some(ScriptedAnswer::NotSo(not_so))) => {
                Answer::Items((1..).take(items.len()).map(|n: u32| !not_so.contains(&n)).collect())
            }
            (Ask::Needs(items) | Ask::Check { items, .. }, None) => {
                Answer::Items(vec![true; items.len()])
            }
            (Ask::Build { .. }, Some(ScriptedAnswer::NotSo(not_so))) => {
                let due = bench.state.walk.layers_due(&files.flow, &bench.state, index);
                let laid = |(n, note): (u32, &LayerNote)| {
                    let so = !not_so.contains(&n);
                    let lot = (so && note.lot).then(|| "L-1".to_owned());
                    Laid { layer: note.id.clone(), so, lot }
                };
                let all: Vec<Laid> = (1..).zip(due).map(laid).collect();
                let until = all.iter().position(|laid| !laid.so).map_or(all.len(), |i| i + 1);
                Answer::Built(all[..until].to_vec())
            }
            (Ask::Build { .. }, None | Some(ScriptedAnswer::Lots(_))) => {
                let due = bench.state.walk.layers_due(&files.flow, &bench.state, index);
                let laid = |note: &LayerNote| Laid {
                    layer: note.id.clone(),
                    so: true,
                    lot: note.lot.then(|| "L-1".to_owned()),
                };
                Answer::Built(due.into_iter().map(laid).collect())
            }
            (Ask::Tighten(note), Some(ScriptedAnswer::Settings(settings))) => {
                let listed = files.shop.instruments.iter().find(|i| i.id == settings.instrument);
                let mut rounds = oracle::rounds(note, settings.thread.is_none());
                for round in &mut rounds {
                    round.wrench.instrument = snapshot(listed.unwrap());
                }
                Answer::Tightened(rounds)
            }
            (Ask::Wait { length_s, .. }, None) => Answer::Waited(Waited::made_up(*length_s)),
            (Ask::Wait { .. }, Some(ScriptedAnswer::Waited(seconds))) => {
                Answer::Waited(Waited::made_up(*seconds))
            }
            (Ask::Do(_), None) => Answer::Done,
            (Ask::Stop(_), None) => Answer::Stopped,
            (_, Some(ScriptedAnswer::Found(found))) => Answer::Found(found.clone()),
            (Ask::Measure(note), Some(ScriptedAnswer::Reading { text, instrument })) => {
                let listed = files.shop.instruments.iter().find(|i| i.id == *instrument).unwrap();
                let reading = Reading::parse(text, note.unit).unwrap();
                Answer::Read { reading, instrument: snapshot(listed), several: None }
            }
            (_, Some(ScriptedAnswer::CouldNotMeasure(reason))) => {
                Answer::CouldNotMeasure { reason: reason.clone() }
            }
            (_, Some(ScriptedAnswer::Entered(text))) => Answer::Entered(text.clone()),
            (_, Some(ScriptedAnswer::NothingToAttach(reason))) => {
                Answer::NotAttached { reason: reason.clone() }
            }
            (_, Some(ScriptedAnswer::Attach(name))) => Answer::Attached(Evidence {
                name: name.clone(),
                len_bytes: 1,
                sha256: Sha256::of(b"a"),
            }),
            (_, Some(ScriptedAnswer::Decide { verdict, because })) => {
                Answer::Decided { verdict: *verdict, reason: because.clone() }
            }
            // The script ends here, or the state that the step needs is not in force.
            _ => return Some(index),
        };
        let needs_more = instance.needs.iter().any(|t| !bench.state.walk.tokens.contains(t));
        if needs_more {
            return Some(index);
        }
        bench.acknowledge(index, &address);
        bench.give(&address, &instance.ask, answer);
        if let Some(ScriptedAnswer::Concede { verdict, .. }) = scripted(&address.to_string(), true)
        {
            bench.put_in_place(&address, *verdict);
        }
    }
    None
}
