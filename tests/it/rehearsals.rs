//! Every rehearsal of the demo, played through real sessions on a real disk.

use std::collections::BTreeSet;
use std::rc::Rc;

use chrono::TimeDelta;
use witnessmark::demo::clock::SimulatedClock;
use witnessmark::demo::{self, Made};
use witnessmark::ids::PersonId;
use witnessmark::ports::{Clock, Disk};
use witnessmark::rehearsal::{self, model::Rehearsal};
use witnessmark::session::Session;
use witnessmark::session::open::OpenShop;
use witnessmark::session::play::{Hands, Until, differences, play, unused};
use witnessmark::source::{FileId, Source};
use witnessmark::store::{OsDisk, ShopFolder, SystemClock};
use witnessmark::walk::{Address, replay};

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
    assert_eq!(unused(&script, &used), Vec::<&str>::new());
    let replayed = replay(&session.files().flow, session.entries()).unwrap();
    assert_eq!(&replayed, session.state());
    let progress = session.state().progress();
    assert_eq!(
        progress.done + progress.current + progress.ahead + progress.not_applicable,
        progress.total
    );
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
