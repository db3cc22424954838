//! Every rehearsal of the demo, played through real sessions on a real disk.

use std::collections::BTreeSet;
use std::rc::Rc;

use chrono::TimeDelta;
use witnessmark::demo::clock::SimulatedClock;
use witnessmark::demo::{self, Made};
use witnessmark::ids::PersonId;
use witnessmark::ports::{Clock, Disk};
use witnessmark::rehearsal::{self, model::Rehearsal};
use witnessmark::rehearse::places::{Atlas, Course};
use witnessmark::rehearse::{Bench, Coverage};
use witnessmark::session::Session;
use witnessmark::session::open::OpenShop;
use witnessmark::session::play::{Hands, Until, differences, play, unused};
use witnessmark::source::{FileId, Source};
use witnessmark::store::{OsDisk, ShopFolder, SystemClock};
use witnessmark::walk::{Address, replay};

use crate::rehearse::demo_shelf;

pub(crate) struct Demo {
    pub(crate) shop: OpenShop,
    pub(crate) made: Made,
    _dir: tempfile::TempDir,
}

pub(crate) fn demo() -> Demo {
    let dir = tempfile::tempdir().unwrap();
    let disk: Rc<dyn Disk> = Rc::new(OsDisk);
    let clock: Rc<dyn Clock> = Rc::new(SystemClock);
    let folder = ShopFolder::at(dir.path().join("shop"));
    let made = demo::make(&disk, &clock, &folder).unwrap_or_else(|e| panic!("{e}"));
    // Waits of played jobs pass at once.
    let played: Rc<dyn Clock> =
        Rc::new(SimulatedClock::ending(SystemClock.now(), TimeDelta::hours(60)));
    let shop = OpenShop::load(&disk, &played, folder).unwrap_or_else(|e| panic!("{e}"));
    Demo { shop, made, _dir: dir }
}

pub(crate) fn script(text: &str) -> Rehearsal {
    let source = Source::new("script.yaml", text);
    let (script, diagnostics) = rehearsal::read(FileId(0), &source);
    script.unwrap_or_else(|| panic!("{diagnostics:#?}"))
}

impl Demo {
    pub(crate) fn open(&self, script: &Rehearsal) -> Session {
        self.shop
            .new_job(&script.procedure.value, &script.machine.value)
            .unwrap_or_else(|e| panic!("{e}"))
    }

    pub(crate) fn play(
        &self,
        session: &mut Session,
        script: &Rehearsal,
        until: &Until,
    ) -> BTreeSet<usize> {
        let key = |id: &PersonId| &self.made.keys[id];
        let hands = Hands {
            performer: key(&script.performer.value),
            mechanic: key(&script.mechanic.value),
            second: script
                .second
                .as_ref()
                .map(|second| key(&second.value) as &dyn witnessmark::ports::Signer),
        };
        play(session, script, &hands, until).unwrap_or_else(|e| panic!("{e}"))
    }
}

pub(crate) fn plays_as_expected(text: &str) {
    let demo = demo();
    let script = script(text);
    let mut session = demo.open(&script);
    let used = demo.play(&mut session, &script, &Until::Over);
    assert_eq!(differences(&session, &script), Vec::new());
    assert_eq!(unused(&script, &used), Vec::<usize>::new());
    let replayed = replay(&session.files().flow, session.entries()).unwrap();
    assert_eq!(&replayed, session.state());
    let progress = session.state().progress();
    assert_eq!(
        progress.done + progress.current + progress.ahead + progress.not_applicable,
        progress.total
    );
}

/// Plays every story of a file in memory. What is left of the files whose rehearsal it is to be is told.
pub(crate) fn left_of(text: &str, files: &[&str]) -> Vec<String> {
    let script = script(text);
    let shelf = demo_shelf();
    let mut bench = Bench::set_up(&shelf, SystemClock.now()).unwrap_or_else(|e| panic!("{e}"));
    let shop = bench.shop_file().unwrap();
    let machine = shop.machines.iter().find(|m| m.tag == script.machine.value).unwrap();
    let top = (&script.procedure.value, script.alone);
    let course = Course::load(&shelf, top, &machine.equipment, &mut Atlas::default()).unwrap();
    let mut coverage = Coverage::of(&course);
    let names = script.cases.iter().map(|case| case.name.value.as_str());
    for (name, story) in std::iter::once("story").chain(names).zip(script.stories()) {
        let played = bench.play(&story).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (stuck, unused) = (&played.stuck, &played.unused);
        assert!(played.is_as_expected(), "{name}: {stuck:?} {unused:?} {:#?}", played.differences);
        let state = played.session.state();
        coverage.add(&course, &state.walk, state);
    }
    for (at, because) in &script.out_of_reach {
        assert!(coverage.excuse(&course, &at.value, because), "nothing is left at {}", at.value);
    }
    let missing = coverage.missing_in_order().into_iter();
    let missing = missing.filter(|shown| files.contains(&shown.file.as_str()));
    missing.map(|shown| format!("{}: {} at {}", shown.group.word(), shown.what, shown.at)).collect()
}

/// Each of these files takes every way through its procedure: steps, branches, findings, exits, edges of
/// limits, bounds. The files are small, and each is a test of its own, so that they run side by side.
macro_rules! every_way {
    ($($procedure:ident: $path:literal),* $(,)?) => {
        mod every_way {
            $(
                #[test]
                fn $procedure() {
                    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals");
                    let text = std::fs::read_to_string(format!("{folder}{}", $path)).unwrap();
                    let file = concat!(stringify!($procedure), ".yaml");
                    assert_eq!(super::left_of(&text, &[file]), Vec::<String>::new());
                }
            )*
        }
    };
}

every_way! {
    cause: "/cause_every_way.yaml",
    close_up: "/close_up_every_way.yaml",
    diaphragm_inspection: "/diaphragm_inspection_every_way.yaml",
    diaphragm_install: "/diaphragm_install_every_way.yaml",
    fill_and_bleed: "/fill_and_bleed_every_way.yaml",
    fluid_end_teardown: "/fluid_end_teardown_every_way.yaml",
    hand_over: "/hand_over_every_way.yaml",
    hydraulic_end: "/hydraulic_end_every_way.yaml",
    make_safe: "/make_safe_every_way.yaml",
    oil_flush: "/oil_flush_every_way.yaml",
    receive: "/receive_every_way.yaml",
    reducer_service: "/reducer_service_every_way.yaml",
    relief_valve: "/relief_valve_every_way.yaml",
    test_run: "/test_run_every_way.yaml",
    valve_inspection: "/valve_inspection_every_way.yaml",
}

#[test]
fn five_cylinders_are_gone_through_by_the_same_files() {
    for text in [
        include_str!("../../procedures/rehearsals/diaphragm_inspection_every_way_5.yaml"),
        include_str!("../../procedures/rehearsals/make_safe_every_way_5.yaml"),
        include_str!("../../procedures/rehearsals/valve_inspection_every_way_5.yaml"),
    ] {
        assert_eq!(left_of(text, &[]), Vec::<String>::new());
    }
}

#[test]
fn a_doubt_at_every_valve_is_the_mechanics() {
    let text = include_str!("../../procedures/rehearsals/nothing_wrong.yaml");
    let of_epdm = "step at rebuild/valves[cylinder=1]/pockets[side=";
    let left = left_of(text, &["valve_stack_inlet.yaml", "valve_stack_outlet.yaml"]);
    // What only EPDM asks for is taken by the stories of other pumps.
    let others = left.iter().filter(|told| !told.contains(of_epdm) && !told.contains("elastomer"));
    assert_eq!(others.collect::<Vec<_>>(), Vec::<&String>::new());
}

#[test]
fn a_kit_in_doubt_is_the_mechanics() {
    let text = include_str!("../../procedures/rehearsals/service_with_worn_springs.yaml");
    let left = left_of(text, &["overhaul.yaml"]);
    let exits: Vec<&String> = left.iter().filter(|told| told.starts_with("exits")).collect();
    assert_eq!(exits, Vec::<&String>::new());
}

#[test]
fn worn_spring_and_warped_plate() {
    plays_as_expected(include_str!("../../procedures/rehearsals/worn_spring_warped_plate.yaml"));
}

#[test]
fn nothing_wrong() {
    plays_as_expected(include_str!("../../procedures/rehearsals/nothing_wrong.yaml"));
}

#[test]
fn a_stop_before_solvent_meets_epdm() {
    plays_as_expected(include_str!("../../procedures/rehearsals/solvent_stop.yaml"));
}

#[test]
fn the_demo_is_handed_over_at_the_first_valve_inspection() {
    let demo = demo();
    let script = script(demo::SCRIPT);
    let mut session = demo.open(&script);
    let at = Address::parse(demo::HANDED_OVER_AT).unwrap();
    demo.play(&mut session, &script, &Until::Asked(at.clone()));
    let asked = session.state().walk.asked().unwrap();
    assert_eq!(session.files().flow.instance(asked).address, at);
    // The same place after the process is gone.
    let job = session.job().clone();
    let before = session.state().clone();
    drop(session);
    let session = demo.shop.resume(&job).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(session.state(), &before);
}
