//! The whole job from receipt to hand-over: it fits every pump and fit-out, and plays to its end.

use std::path::Path;
use std::sync::Arc;

use witnessmark::equipment::model::Equipment;
use witnessmark::ids::Role;
use witnessmark::procedure::model::{EntryKind, Verdict};
use witnessmark::units::Reading;
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::event::{Evidence, Round, Waited};
use witnessmark::walk::flow::{Ask, InstanceIdx};
use witnessmark::walk::place::{Stand, Status};
use witnessmark::walk::{Address, Answer};

use crate::rehearsals::plays_as_expected;
use crate::support::pure::{Bench, Choices, own_files};

/// A job in which nothing is wrong, on a machine of one fit-out.
struct Good {
    bench: Bench,
    letter: String,
    /// Findings and choices that are taken where they are offered.
    rather: &'static [&'static str],
}

impl Good {
    fn walk_to_end(&mut self) {
        for _ in 0..3_000 {
            let Some((index, address)) = self.bench.asked() else { break };
            let flow = Arc::clone(&self.bench.files.flow);
            let instance = flow.instance(index);
            // Whoever is at work verifies what does not outlast a change of hands.
            let is_volatile = |token| flow.tokens[token].volatile;
            let verifies =
                !self.bench.state.expired.is_empty() && instance.sets.iter().any(is_volatile);
            let held = verifies || matches!(instance.ask, Ask::Hold(_) | Ask::Decide { .. });
            let who = if instance.by == Role::Mechanic { "a.salmela" } else { "i.varga" };
            if !held
                && self.bench.state.person.as_ref().map(witnessmark::ids::PersonId::as_str)
                    != Some(who)
            {
                self.bench.identify(who);
            }
            self.bench.take_up();
            self.bench.acknowledge(index, &address);
            let answer = self.answer(index, &instance.ask);
            self.bench.give(&address, &instance.ask, answer);
        }
    }

    fn rather_of<'a>(&self, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
        let names: Vec<&str> = names.collect();
        names.into_iter().find(|name| self.rather.contains(name))
    }

    fn answer(&self, index: InstanceIdx, ask: &Ask) -> Answer {
        match ask {
            Ask::Check { items, .. } => Answer::Items(vec![true; items.len()]),
            Ask::Look { findings, .. } => {
                let good = findings.iter().find(|f| f.exit.verdict == Verdict::Accept);
                let rather = self.rather_of(findings.iter().map(|f| f.id.as_str()));
                let id = rather.unwrap_or_else(|| good.unwrap().id.as_str());
                Answer::Found(vec![id.parse().unwrap()])
            }
            Ask::Measure(note) => {
                let (with, unit, limit) = (&note.with, &note.unit, note.limit().unwrap());
                let instruments = &self.bench.files.shop.instruments;
                let instrument = instruments.iter().find(|i| i.kind == *with).unwrap();
                let at = limit.at_least.as_ref().or(limit.at_most.as_ref()).unwrap();
                let reading = Reading::parse(&at.render(*unit), *unit).unwrap();
                Answer::Read { reading, instrument: snapshot(instrument), several: None }
            }
            Ask::Attach { .. } => Answer::Attached(Evidence {
                name: "photo.jpg".to_owned(),
                len_bytes: 4_000,
                sha256: witnessmark::ids::Sha256::of(b"a photo"),
            }),
            Ask::Wait { length_s, .. } => Answer::Waited(Waited {
                begun: self.bench.now(),
                ended: self.bench.now(),
                boot: None,
                elapsed_s: *length_s,
                at_longest_s: *length_s,
                doubtful: true,
            }),
            Ask::Enter { kind: EntryKind::FitOut, .. } => Answer::Entered(self.letter.clone()),
            Ask::Enter { kind: EntryKind::Choice(all), .. } => {
                let first = all[0].0.value.as_str();
                let rather = self.rather_of(all.iter().map(|choice| choice.0.value.as_str()));
                Answer::Entered(rather.unwrap_or(first).to_owned())
            }
            // What is left has one good answer, or the first of the generator's.
            Ask::Build { .. } | Ask::Tighten(_) => self.steady(index, ask),
            _ => self.bench.random_answer(index, ask, &mut Choices::new(1)),
        }
    }

    /// The first answer of the generator in which every layer and fastener is as it must be.
    fn steady(&self, index: InstanceIdx, ask: &Ask) -> Answer {
        let due = |round: &Round| match ask {
            Ask::Tighten(note) => round.wrench.thread == note.condition,
            _ => true,
        };
        let all_so = |answer: &Answer| match answer {
            Answer::Built(laid) => laid.iter().all(|laid| laid.so),
            Answer::Tightened(rounds) => {
                rounds.iter().flat_map(|r| &r.fasteners).all(|tight| tight.so)
                    && rounds.iter().all(due)
            }
            _ => false,
        };
        (1..200)
            .map(|seed| self.bench.random_answer(index, ask, &mut Choices::new(seed)))
            .find(all_so)
            .unwrap()
    }

    fn is_done(&self, end: &str) -> bool {
        let flow = &self.bench.files.flow;
        self.bench.state.walk.status.iter().enumerate().any(|(index, status)| {
            *status == Status::Done && flow.instance(index).address.to_string().ends_with(end)
        })
    }
}

fn letters(equipment: &Equipment) -> Vec<String> {
    equipment.fit_outs.keys().cloned().collect()
}

fn good(job: (&str, &str, &str), letter: &str, rather: &'static [&'static str]) -> Good {
    let (procedure, equipment, serial) = job;
    let bench = Bench::of(own_files(procedure, equipment), serial);
    let mut good = Good { bench, letter: letter.to_owned(), rather };
    good.walk_to_end();
    let stand = &good.bench.state.walk.stand;
    let at = good.bench.asked().map(|(_, address)| address.to_string());
    assert_eq!(*stand, Stand::End, "{procedure} on {equipment} {letter} stands at {at:?}");
    good
}

const PUMPS: [(&str, &str); 2] = [("marram_3_40", "0340117"), ("marram_5_60", "0560021")];

#[test]
fn the_whole_job_ends_well_on_every_pump_and_fit_out() {
    for (equipment, serial) in PUMPS {
        let files = own_files("overhaul", equipment);
        for letter in letters(&files.flow.equipment) {
            let built = files.flow.equipment.build(&letter).unwrap();
            let setting = |name: &str| {
                built.iter().find(|(k, _)| k.as_str() == name).map(|(_, v)| v.to_string()).unwrap()
            };
            let (elastomer, plate) = (setting("elastomer"), setting("plate"));
            let rings = setting("noise_ring");
            let job = good(("overhaul", equipment, serial), &letter, &["new", "opens"]);
            // Petroleum jelly and kerosene never come near EPDM.
            let is_epdm = elastomer == "epdm";
            assert_eq!(job.is_done("close_up/grease_other"), !is_epdm, "{equipment} {letter}");
            assert_eq!(job.is_done("lay_inlet/grease_epdm"), is_epdm, "{equipment} {letter}");
            assert!(!(is_epdm && job.is_done("fill_kerosene")), "{equipment} {letter}");
            // Plastic is drawn up once more, cold. Metal is not.
            assert_eq!(job.is_done("cold/plastic_again"), plate == "pvdf", "{equipment} {letter}");
            assert_eq!(job.is_done("]/noise"), rings == "fitted", "{equipment} {letter}");
            assert!(job.is_done("hydraulic_end/signed"), "{equipment} {letter}");
            // Nothing of what must be cleared is left standing.
            let spec = &job.bench.files.flow.tokens;
            let left: Vec<_> = job
                .bench
                .state
                .walk
                .tokens
                .iter()
                .filter(|token| spec[*token].clear_before_release)
                .collect();
            assert!(left.is_empty(), "{equipment} {letter}: {left:?}");
        }
    }
}

#[test]
fn every_cylinder_is_gone_through_without_a_word_about_their_number() {
    for (equipment, serial) in PUMPS {
        let job = good(("overhaul", equipment, serial), "A", &["new"]);
        let flow = &job.bench.files.flow;
        let cylinders = flow.equipment.positions.values().map(Vec::len).collect::<Vec<_>>();
        for cylinder in 1..=(if equipment == "marram_3_40" { 3 } else { 5 }) {
            for end in ["renew/fit/screw", "renew/fit/ring", "renew/fit/face_seen"] {
                let at = format!("diaphragms_on[cylinder={cylinder}]/{end}");
                assert!(job.is_done(&at), "{equipment} {at} {cylinders:?}");
            }
        }
    }
}

#[test]
fn the_fluid_end_alone_and_a_gear_reducer_end_well_too() {
    for (equipment, serial) in PUMPS {
        let files = own_files("fluid_end_service", equipment);
        for letter in letters(&files.flow.equipment) {
            good(("fluid_end_service", equipment, serial), &letter, &[]);
        }
    }
    let files = own_files("reducer_service", "corran_r2");
    for letter in letters(&files.flow.equipment) {
        let job = good(("reducer_service", "corran_r2", "R20114"), &letter, &[]);
        assert_eq!(job.is_done("close/own_oil"), letter == "P");
    }
}

#[test]
fn the_ten_moments_where_apprentices_go_wrong_have_their_guards() {
    let files = own_files("overhaul", "marram_3_40");
    for (moment, at) in [
        ("trusting the gauge", "make_safe/verify/outlet_vent"),
        ("trusting the gauge", "make_safe/prepare/gauge"),
        ("undoing what must stay", "teardown/open/ease"),
        ("undoing what must stay", "teardown/plate_off"),
        ("mixing positions", "teardown/open/lay_trays"),
        ("mixing positions", "teardown/places"),
        ("a squeezed measurement", "valves/cylinders[cylinder=1]/stacks[side=inlet]/free_length"),
        ("a measurement without zero", "valves/callipers_at_zero"),
        ("wiping before looking", "diaphragms/cylinders[cylinder=1]/face"),
        ("calling oil clean too soon", "oil_flush/wash/settle"),
        ("calling oil clean too soon", "oil_flush/water_test"),
        ("a reversed diaphragm", "diaphragms_on[cylinder=1]/renew/fit/face_seen"),
        ("a forgotten bar", "diaphragms_on[cylinder=1]/renew/fit/spanner_off"),
        (
            "inlet built like outlet",
            "rebuild/valves_laid[cylinder=1]/pockets[side=inlet]/lay_inlet/way",
        ),
        ("one bolt to full torque", "rebuild/close_up/rim_nuts"),
        ("the first start", "test/line_up/outlet_valve"),
        ("the first start", "test/run_up/jog"),
    ] {
        let address = Address::parse(at).unwrap();
        assert!(files.flow.find(&address).is_some(), "{moment}: no step at {at}");
    }
}

/// Local rules, the maker's manual and licensed people come before any text of ours.
#[test]
fn whoever_begins_a_job_is_told_first_that_local_rules_and_the_manual_win() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    for path in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        if path.extension().is_none_or(|ending| ending != "yaml") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let source = witnessmark::source::Source::new("procedure", text.as_str());
        let read = witnessmark::procedure::read(witnessmark::source::FileId(0), &source).0.unwrap();
        // What assumes a state or lies at a position is begun by the procedure that performs it.
        if !read.assumes.is_empty() || read.id.value.as_str().starts_with("valve_stack_") {
            continue;
        }
        let says = |line: &String| line.contains("rules") && line.contains("manual");
        assert!(read.needs.state.iter().any(says), "{}", path.display());
    }
}

/// Mineral oil and EPDM: no shop fits a pump out so, and a file that says so is not worked by.
#[test]
fn a_fit_out_with_mineral_oil_behind_epdm_is_refused_before_any_job() {
    let ours = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let equipment = std::fs::read_to_string(ours.join("equipment/marram_3_40.yaml")).unwrap();
    let wrong = equipment.replacen("oil: polyglycol", "oil: mineral", 1);
    assert_ne!(wrong, equipment);
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("marram_3_40.yaml");
    std::fs::write(&file, wrong).unwrap();
    let mut prove = std::process::Command::new(env!("CARGO_BIN_EXE_witnessmark"));
    prove.arg("prove").arg(file);
    for name in std::fs::read_dir(ours).unwrap().map(|entry| entry.unwrap().path()) {
        if name.extension().is_some_and(|ending| ending == "yaml") {
            prove.arg(name);
        }
    }
    let out = prove.output().unwrap();
    assert_eq!(out.status.code(), Some(1));
    let told = String::from_utf8(out.stdout).unwrap() + &String::from_utf8(out.stderr).unwrap();
    let broken = told.lines().filter(|line| line.contains("BROKEN")).collect::<Vec<_>>();
    assert!(!broken.is_empty(), "{told}");
    assert!(broken.iter().all(|line| line.contains("oil == mineral")), "{broken:#?}");
}

/// Every rehearsal of the repository, each named once in a test below or in `rehearsals`.
#[test]
fn every_rehearsal_is_played_by_a_test() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals");
    let named = [include_str!("whole_job.rs"), include_str!("rehearsals.rs")].concat();
    for file in std::fs::read_dir(folder).unwrap() {
        let name = file.unwrap().file_name().to_str().unwrap().to_owned();
        assert!(named.contains(&format!("/{name}\"")), "no test plays {name}");
    }
}

fn plays(name: &str) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals");
    plays_as_expected(&std::fs::read_to_string(Path::new(folder).join(name)).unwrap());
}

macro_rules! rehearsals {
    ($($test:ident: $path:literal),* $(,)?) => {
        $(
            #[test]
            fn $test() {
                plays($path.trim_start_matches('/'));
            }
        )*
    };
}

rehearsals! {
    a_service_with_worn_springs_is_released: "/service_with_worn_springs.yaml",
    starved_suction_is_found_and_named: "/starved_suction.yaml",
    a_torn_diaphragm_opens_the_hydraulic_end: "/torn_diaphragm.yaml",
    an_end_of_life_on_five_cylinders_is_released: "/end_of_life.yaml",
    a_reducer_gets_one_more_shim: "/reducer_shimmed.yaml",
    no_statement_no_job: "/no_statement.yaml",
    the_isolator_of_another_pump_ends_the_job: "/isolator_of_another_pump.yaml",
    metal_in_the_oil_is_not_closed_over: "/metal_not_opened.yaml",
    a_relief_valve_that_cannot_be_set_ends_the_job: "/relief_valve_stuck.yaml",
    hot_oil_ends_the_test_run: "/hot_oil.yaml",
    a_worn_pair_of_wheels_does_not_go_back: "/reducer_worn_pair.yaml",
    doubts_go_to_the_mechanic: "/doubts_go_to_the_mechanic.yaml",
    everything_at_once: "/everything_at_once.yaml",
    a_plastic_plate_is_drawn_up_once_more: "/cleaning_duty.yaml",
    five_cylinders_and_noise_rings: "/five_cylinders_fluid_end.yaml",
}
