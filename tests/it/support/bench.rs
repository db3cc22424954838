//! A small invented shop with one short job that has every kind of step, with keys and a clock that
//! are the same in every run.

use std::cell::Cell;
use std::path::Path;
use std::rc::Rc;

use chrono::TimeDelta;
use witnessmark::demo::HeldKey;
use witnessmark::ids::{EquipmentId, Moment, PersonId, ProcedureId};
use witnessmark::ports::{Clock, Overwrite, SignError, Signer};
use witnessmark::record::KeyPair;
use witnessmark::session::Session;
use witnessmark::session::keys::{Keys, Passphrases, Releaser};
use witnessmark::session::open::OpenShop;
use witnessmark::session::shop::{With, approve, set_up};
use witnessmark::store::ShopFolder;
use zeroize::Zeroizing;

use super::disk::FakeDisk;

/// What everybody's key opens with.
pub(crate) const PASSPHRASE: &str = "brass shim";

const SHOP: &str = r#"format: "1.1"
shop: bench
title: Bench shop (all invented)
revision: 1
kind: demo
people:
  - {id: i.varga, name: Ines Varga, roles: [apprentice], key: "{i.varga}", qualified_from: 2026-01-01, qualified_until: 2027-12-31}
  - {id: t.reiter, name: Tomas Reiter, roles: [mechanic], key: "{t.reiter}", qualified_from: 2026-01-01, qualified_until: 2027-12-31}
  - {id: a.salmela, name: Aino Salmela, roles: [mechanic], key: "{a.salmela}", qualified_from: 2026-01-01, qualified_until: 2026-06-30}
  - {id: m.dube, name: Mbali Dube, roles: [author], key: "{m.dube}", qualified_from: 2026-01-01, qualified_until: 2027-12-31}
instruments:
  - {id: C-01, kind: calliper, title: "Calliper 150 mm, dial", range: {from: "0 mm", to: "150 mm"}, resolution: "0.02 mm", uncertainty: "0.04 mm", k: "2", calibration_due: 2027-03-01, certificate: CAL-1, out_of_use: Jaws sprung}
  - {id: C-03, kind: calliper, title: "Calliper 150 mm, digital", range: {from: "0 mm", to: "150 mm"}, resolution: "0.01 mm", uncertainty: "0.03 mm", k: "2", calibration_due: 2027-03-01, certificate: CAL-3}
  - {id: C-04, kind: calliper, title: "Calliper 200 mm, digital", range: {from: "0 mm", to: "200 mm"}, resolution: "0.01 mm", uncertainty: "0.03 mm", k: "2", calibration_due: 2026-12-01, certificate: CAL-4}
  - {id: W-02, kind: torque_wrench, title: "Torque wrench 5 to 60 N·m, click", range: {from: "5 N·m", to: "60 N·m"}, resolution: "0.5 N·m", uncertainty: "1 N·m", k: "2", calibration_due: 2027-03-01, certificate: CAL-12}
  - {id: D-02, kind: depth_gauge, title: Depth gauge 25 mm, range: {from: "0 mm", to: "25 mm"}, resolution: "0.01 mm", uncertainty: "0.01 mm", k: "2", calibration_due: 2027-03-01, certificate: CAL-5, certificate_sha256: 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08, zero_check: "0.02 mm"}
machines:
  - {tag: P-7, equipment: bench_pump, serial: "0700123", fit_out: A, title: Bench pump}
"#;

const EQUIPMENT: &str = r#"format: "1.0"
equipment: bench_pump
title: Bench pump (invented)
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First issue}]
positions: {cylinder: [1, 2]}
settings: {elastomer: [epdm, nbr]}
fit_outs:
  A: {title: EPDM, elastomer: epdm}
  B: {title: NBR, elastomer: nbr}
parts:
  spring: {title: Valve spring, number: "BP-21", per: cylinder}
  gasket: {title: Cover gasket, number: "BP-30", always_new: true}
  seat: {title: "Valve seat, keyed", lot: true}
  disc: {title: Valve disc}
stacks:
  valve:
    title: Valve of the bench pump
    layers:
      - {layer: seat, part: seat, face: the keyed face, toward: against_flow, profile: seat}
      - {layer: disc, part: disc, face: the guide stem, toward: with_flow, profile: disc}
      - {layer: damper, part: disc, title: Damper, profile: ring, when: elastomer == nbr}
      - {layer: spring, part: spring, profile: spring}
fasteners:
  cover: {title: Cover nuts, count: 4, order: star, condition: dry, thread: M8}
torques:
  cover: {full: {nominal: "20 N·m", plus: "1 N·m", minus: "1 N·m", basis: Drawing of the bench pump}}
limits:
  spring: {free_length: {between: ["44.6 mm", "45.4 mm"], plausible: {from: "30 mm", to: "60 mm"}, basis: Drawing of the bench pump}}
"#;

/// The procedure.
const PROCEDURE: &str = r#"format: "1.0"
procedure: bench_service
title: "Service the bench pump"
equipment: bench_pump
revision: 3
effective: 2026-01-01
revisions: [{revision: 3, date: 2026-01-01, by: m.dube, why: First issue}]
performed_by: apprentice
signed_by: mechanic
signal_words: ansi-z535
needs:
  tools: [calliper, ring_spanner]
  ppe: [safety_glasses]
steps:
  - id: receive
    section: Receive the pump
    steps:
      - id: complaint
        enter: Enter the complaint in the owner's own words.
        why: What the owner heard is often the shortest way to the cause.
      - id: fit_out
        enter: Enter the letter on the name plate.
        kind: fit_out
      - id: dampener
        enter: Enter whether a dampener sits on the outlet line.
        kind: choice
        choices: {with_one: A dampener is on the line, without: No dampener is on the line}
      - id: hours
        enter: Enter the running hours.
        kind: figure
        unit: number
        plausible: {from: "0", to: "200000"}
  - id: seal
    when: elastomer == nbr
    do: Wipe the old grease off the cover seal.
  - id: open
    section: Open the pump
    steps:
      - id: lift
        warning:
          hazard: "Pressure trapped between closed valves"
          consequence: The cover can burst off and injure badly.
          avoid: Stand beside the cover, never in front of it.
        notice:
          hazard: Keeper screws beside the rim studs
          consequence: Undone, they open the oil side.
          avoid: Leave every keeper screw alone.
        do: "Lift the cover straight off its studs."
        uses: [ring_spanner]
        expect: The cover lies on wood, sealing face up.
        why: A scratched face leaks.
      - id: seats
        check: Confirm that every seat is whole.
        items: [The inlet seat has no burr., The outlet seat has no burr.]
        not_so: {verdict: refer, say: A burr is for the mechanic.}
  - id: valves
    section: Valve
    each: cylinder
    steps:
      - id: spring
        look: "Look at the spring, coil by coil."
        expect: Coils even and smooth, ends square.
        findings:
          no_fault: {see: Coils even and smooth, verdict: accept}
          leaning: {see: The spring leans on its end, likely_cause: Tired, verdict: replace, parts: [spring], say: "Tag it, do not bin it."}
          cracked:
            see: A crack in the wire
            verdict: refer
            say: The mechanic decides on a cracked spring.
      - id: length
        measure: Measure the free length of the spring, standing on its end.
        with: calliper
        unit: mm
        limit: spring.free_length
        as: found
        why: Jaws that squeeze the spring read a length that it does not have.
        expect: The spring still turns between the jaws.
        below: {verdict: replace, parts: [spring], say: A tired spring is never stretched.}
        above: {verdict: refer, say: This is not the spring of this pump.}
        could_not_measure: {verdict: refer, say: The mechanic judges the spring.}
  - id: dirt
    look: Look at the dirt in the cover. Several may be seen.
    several: true
    findings:
      no_fault: {see: Clean, verdict: accept}
      sand: {see: Sand or grit, verdict: accept}
      metal: {see: Bright flakes, verdict: accept, say: Note it for the report.}
  - id: leak
    look: Look for oil under the pump.
    findings:
      dry: {see: Dry, verdict: accept}
      flood: {see: Oil runs and does not stop, verdict: stop, say: Oil runs from the drive case., safe_state: "Pump locked, drip tray under it", tell: [the certified mechanic]}
  - id: seen
    hold: Confirm that the open pump may be closed.
    by: mechanic
    expect: Every part lies in its tray.
  - id: cover
    do: Fit the cover with a new gasket.
    fits: [gasket]
"#;

/// A second procedure: a stack and fasteners.
const CLOSING: &str = r#"format: "1.0"
procedure: bench_close
title: "Close the bench pump"
equipment: bench_pump
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First issue}]
performed_by: apprentice
signed_by: mechanic
signal_words: ansi-z535
steps:
  - id: fit_out
    enter: Enter the letter on the name plate.
    kind: fit_out
  - id: inlet
    build: Lay the inlet valve, part by part.
    stack: valve
    laid: against_flow
    expect: Every part drops in by its own weight.
  - id: nuts
    tighten: Tighten the cover nuts.
    fasteners: cover
    torque: cover.full
    with: torque_wrench
    passes: [50 %, 100 %]
    on_redo: this_one
    expect: The wrench clicks once at each nut.
  - id: stripe
    do: Draw a paint line across every nut.
"#;

/// What every further procedure begins with.
const HEAD: &str = r#"format: "1.1"
procedure: {id}
title: "A short job, {id}"
equipment: bench_pump
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First issue}]
performed_by: apprentice
signed_by: mechanic
signal_words: ansi-z535
"#;

/// A clock that moves only when it is told to.
#[derive(Debug)]
pub(crate) struct TestClock(Cell<Moment>);

impl TestClock {
    pub(crate) fn pass(&self, time: TimeDelta) {
        self.0.set(Moment::new(self.0.get().time() + time));
    }
}

impl Clock for TestClock {
    fn now(&self) -> Moment {
        self.0.get()
    }
}

/// The shop.
pub(crate) struct Bench {
    pub(crate) shop: OpenShop,
    pub(crate) clock: Rc<TestClock>,
    pub(crate) disk: FakeDisk,
}

/// Everybody's keys. They open with [`PASSPHRASE`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct BenchKeys;

/// The key of `id`, always the same.
pub(crate) fn pair(id: &PersonId) -> KeyPair {
    let n = PEOPLE.iter().position(|known| *known == id.as_str()).unwrap();
    KeyPair::from_seed(&[u8::try_from(n).unwrap() + 1; 32])
}

const PEOPLE: [&str; 4] = ["i.varga", "t.reiter", "a.salmela", "m.dube"];

impl Keys for BenchKeys {
    fn signer(
        &self,
        person: &PersonId,
        passphrase: Zeroizing<String>,
    ) -> Result<Box<dyn Signer>, SignError> {
        if passphrase.as_str() != PASSPHRASE {
            return Err(SignError::WrongPassphrase);
        }
        Ok(Box::new(HeldKey(pair(person))))
    }
}

/// Types the right passphrase.
pub(crate) struct Types;

impl Passphrases for Types {
    fn ask(&mut self, _: &PersonId, _: &str) -> Option<Zeroizing<String>> {
        Some(Zeroizing::new(PASSPHRASE.to_owned()))
    }
}

/// Takes down who released what, and writes no record.
#[derive(Default)]
pub(crate) struct Released(pub(crate) Option<(PersonId, Vec<String>)>);

impl Releaser for Released {
    fn release(
        &mut self,
        _: &mut Session,
        person: &PersonId,
        _: &dyn Signer,
        shown: &[String],
    ) -> Result<Vec<String>, String> {
        self.0 = Some((person.clone(), shown.to_vec()));
        Ok(vec![
            "Written: jobs/2026-0001/record.json and its signature".to_owned(),
            "Check it with: witnessmark verify jobs/2026-0001".to_owned(),
        ])
    }
}

pub(crate) fn person(id: &str) -> PersonId {
    PersonId::new(id).unwrap()
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self::with(&[])
    }

    /// The shop with more procedures of its bench pump, each by its id and the text behind the head.
    pub(crate) fn with(more: &[(&str, &str)]) -> Self {
        Self::edited(more, &[])
    }

    /// The same with some words of the shop's list and of the procedure put differently.
    pub(crate) fn edited(more: &[(&str, &str)], edits: &[(&str, &str)]) -> Self {
        let edit = |text: &str| {
            edits.iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
        };
        let disk = FakeDisk::new("/bench");
        let port = disk.port();
        let clock =
            Rc::new(TestClock(Cell::new(Moment::parse("2026-11-25T07:10:00.000+01:00").unwrap())));
        let as_clock: Rc<dyn Clock> = clock.clone();
        let folder = ShopFolder::at("/bench/shop");
        folder.create(port.as_ref()).unwrap();
        let mut shop_yaml = edit(SHOP);
        for id in PEOPLE {
            let public = pair(&person(id)).public().text();
            shop_yaml = shop_yaml.replace(&format!("{{{id}}}"), &public);
        }
        let write = |path: &Path, text: &str| {
            port.write_new(path, text.as_bytes(), Overwrite::Replace).unwrap();
        };
        write(&folder.equipment().join("bench_pump.yaml"), EQUIPMENT);
        write(&folder.procedures().join("bench_service.yaml"), &edit(PROCEDURE));
        write(&folder.procedures().join("bench_close.yaml"), CLOSING);
        for (id, text) in more {
            let head = HEAD.replace("{id}", id);
            write(&folder.procedures().join(format!("{id}.yaml")), &format!("{head}{text}"));
        }
        let shop_key = KeyPair::from_seed(&[99; 32]);
        let trust = shop_key.public();
        let shop_key = HeldKey(shop_key);
        set_up(&port, &folder, &shop_yaml, (&trust, &shop_key)).unwrap_or_else(|e| panic!("{e}"));
        let approver = person("t.reiter");
        let key = HeldKey(pair(&approver));
        let more = more.iter().map(|(id, _)| *id);
        for id in ["bench_service", "bench_close"].into_iter().chain(more) {
            let procedure = ProcedureId::new(id).unwrap();
            approve(
                &port,
                &as_clock,
                &folder,
                (&procedure, &EquipmentId::new("bench_pump").unwrap()),
                With { person: &approver, key: &key },
                &shop_key,
            )
            .unwrap_or_else(|e| panic!("{e}"));
        }
        let shop = OpenShop::load(&port, &as_clock, folder).unwrap_or_else(|e| panic!("{e}"));
        Self { shop, clock, disk }
    }

    fn procedure() -> ProcedureId {
        ProcedureId::new("bench_service").unwrap()
    }

    /// A job of a stack and fasteners.
    pub(crate) fn closing(&self) -> Session {
        let procedure = ProcedureId::new("bench_close").unwrap();
        self.shop.new_job(&procedure, "P-7").unwrap_or_else(|e| panic!("{e}"))
    }

    pub(crate) fn job(&self) -> Session {
        self.shop.new_job(&Self::procedure(), "P-7").unwrap_or_else(|e| panic!("{e}"))
    }

    /// A job of one of the further procedures.
    pub(crate) fn job_of(&self, id: &str) -> Session {
        let procedure = ProcedureId::new(id).unwrap();
        self.shop.new_job(&procedure, "P-7").unwrap_or_else(|e| panic!("{e}"))
    }
}
