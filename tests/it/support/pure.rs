//! A job without files, keys or clock: the pure walk, driven by random legal moves.

use std::collections::BTreeMap;

use witnessmark::ids::{
    BootClock, EquipmentId, JobId, Moment, Name, Now, PersonId, ProcedureId, Revision, Role, Sha256,
};
use witnessmark::language::Thread;
use witnessmark::procedure::model::{EntryKind, NO_FAULT, Verdict};
use witnessmark::record::files::{self, equipment_name, procedure_name};
use witnessmark::shop::model::ShopKind;
use witnessmark::units::{Quantity, Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::decide::substitutes;
use witnessmark::walk::event::{
    Evidence, JobOpened, Laid, Meaning, Round, SEMANTICS, Several, Signed, Statement, Tight,
    Waited, Wrench,
};
use witnessmark::walk::flow::{Ask, Deviation, InstanceIdx};
use witnessmark::walk::hands::{due, lines};
use witnessmark::walk::measure::MeasureNote;
use witnessmark::walk::place::Answers as _;
use witnessmark::walk::tighten::TightenNote;
use witnessmark::walk::{
    Address, Answer, Command, Entry, Event, Files, JobState, Refusal, decided,
};

/// A small source of choices that a failing test prints as one number.
#[derive(Debug, Clone)]
pub(crate) struct Choices(u64);

impl Choices {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        // xorshift64*, Vigna 2016; good enough to choose by.
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let mixed = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33;
        usize::try_from(mixed % (n.max(1) as u64)).unwrap()
    }

    pub(crate) fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// The files of a job from texts: procedures by id, the equipment, a shop.
pub(crate) fn files_of(
    procedures: &[(&str, &str)],
    equipment: (&str, &str),
    top: &str,
) -> Result<Files, String> {
    let mut bytes = BTreeMap::new();
    for (id, text) in procedures {
        bytes.insert(procedure_name(&ProcedureId::new(*id).unwrap()), text.as_bytes().to_vec());
    }
    let equipment_id = EquipmentId::new(equipment.0).unwrap();
    bytes.insert(equipment_name(&equipment_id), equipment.1.as_bytes().to_vec());
    bytes.insert(files::SHOP.to_owned(), SHOP.as_bytes().to_vec());
    files::load(&bytes, &ProcedureId::new(top).unwrap(), &equipment_id)
        .map(|loaded| loaded.files)
        .map_err(|fault| fault.to_string())
}

/// The text of a file below `procedures/`.
fn text_of(path: &str) -> String {
    let path = format!("{}/procedures/{path}.yaml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// A job of the repository's own procedures on one of its machine types.
pub(crate) fn own_files(top: &str, equipment: &str) -> Files {
    let listed = std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/procedures")).unwrap();
    let names: Vec<String> = listed
        .filter_map(|file| {
            file.unwrap().file_name().to_str()?.strip_suffix(".yaml").map(str::to_owned)
        })
        .collect();
    let texts: Vec<(String, String)> =
        names.into_iter().map(|name| (name.clone(), text_of(&name))).collect();
    let texts: Vec<(&str, &str)> =
        texts.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let machine = text_of(&format!("equipment/{equipment}"));
    files_of(&texts, (equipment, &machine), top).unwrap_or_else(|e| panic!("{e}"))
}

/// The demo's job.
pub(crate) fn demo_files() -> Files {
    own_files("fluid_end_service", "marram_3_40")
}

const SHOP: &str = r#"format: "1.1"
shop: test_shop
title: Test shop
revision: 1
kind: demo
people:
  - {id: i.varga, name: Ines Varga, roles: [apprentice], key: "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAABAgMEBQYHCAkKCwwNDg8QERITFBUWFxgZGhscHR4f", qualified_from: 2020-01-01, qualified_until: 2030-01-01}
  - {id: t.reiter, name: Tomas Reiter, roles: [mechanic], key: "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8g", qualified_from: 2020-01-01, qualified_until: 2030-01-01}
  - {id: a.salmela, name: Aino Salmela, roles: [mechanic], key: "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAIDBAUGBwgJCgsMDQ4PEBESExQVFhcYGRobHB0eHyAh", qualified_from: 2020-01-01, qualified_until: 2030-01-01}
instruments:
  - {id: C-03, kind: calliper, title: Calliper, range: {from: "0 mm", to: "150 mm"}, resolution: "0.01 mm", uncertainty: "0.03 mm", k: "2", calibration_due: 2029-01-01, certificate: X-1}
  - {id: M-02, kind: micrometer, title: Micrometer, range: {from: "0 mm", to: "25 mm"}, resolution: "0.01 mm", uncertainty: "0.004 mm", k: "2", calibration_due: 2029-01-01, certificate: X-2}
  - {id: F-01, kind: feeler_gauge, title: Feeler, range: {from: "0.03 mm", to: "1.00 mm"}, resolution: "0.01 mm", uncertainty: "0.004 mm", k: "2", calibration_due: 2029-01-01, certificate: X-3}
  - {id: M-05, kind: micrometer, title: Overdue, range: {from: "0 mm", to: "25 mm"}, resolution: "0.01 mm", uncertainty: "0.004 mm", k: "2", calibration_due: 2021-01-01, certificate: X-4}
  - {id: W-01, kind: torque_wrench, title: Wrench, range: {from: "2 N·m", to: "100 N·m"}, resolution: "0.5 N·m", uncertainty: "1 N·m", k: "2", calibration_due: 2029-01-01, certificate: X-5}
  - {id: S-01, kind: spring_tester, title: Tester, range: {from: "0 N", to: "100 N"}, resolution: "0.1 N", uncertainty: "0.3 N", k: "2", calibration_due: 2029-01-01, certificate: X-6}
  - {id: D-01, kind: depth_gauge, title: Depth gauge, range: {from: "0 mm", to: "25 mm"}, resolution: "0.01 mm", uncertainty: "0.01 mm", k: "2", calibration_due: 2029-01-01, certificate: X-7}
  - {id: I-01, kind: dial_indicator, title: Indicator, range: {from: "0 mm", to: "10 mm"}, resolution: "0.01 mm", uncertainty: "0.005 mm", k: "2", calibration_due: 2029-01-01, certificate: X-8}
  - {id: W-11, kind: torque_screwdriver, title: Screwdriver, range: {from: "1 N·m", to: "6 N·m"}, resolution: "0.1 N·m", uncertainty: "0.1 N·m", k: "2", calibration_due: 2029-01-01, certificate: X-9}
  - {id: W-20, kind: torque_driver, title: Handle, range: {from: "5 N·m", to: "30 N·m"}, resolution: "0.1 N·m", uncertainty: "0.5 N·m", k: "2", calibration_due: 2029-01-01, certificate: X-10}
  - {id: P-01, kind: pressure_gauge, title: Gauge, range: {from: "0 bar gauge", to: "25 bar gauge"}, resolution: "0.05 bar diff", uncertainty: "0.1 bar diff", k: "2", calibration_due: 2029-01-01, certificate: X-11}
  - {id: V-01, kind: vacuum_gauge, title: Compound gauge, range: {from: "-1 bar gauge", to: "5 bar gauge"}, resolution: "0.01 bar diff", uncertainty: "0.02 bar diff", k: "2", calibration_due: 2029-01-01, certificate: X-12}
  - {id: Q-01, kind: flow_meter, title: Weighed tank, range: {from: "5 L/min", to: "150 L/min"}, resolution: "0.1 L/min", uncertainty: "0.3 L/min", k: "2", calibration_due: 2029-01-01, certificate: X-13}
  - {id: N-01, kind: tachometer, title: Tachometer, range: {from: "10 rpm", to: "3000 rpm"}, resolution: "0.1 rpm", uncertainty: "0.3 rpm", k: "2", calibration_due: 2029-01-01, certificate: X-14}
  - {id: A-01, kind: clamp_meter, title: Clamp meter, range: {from: "0 A", to: "60 A"}, resolution: "0.01 A", uncertainty: "0.05 A", k: "2", calibration_due: 2029-01-01, certificate: X-15}
  - {id: T-01, kind: thermometer, title: Thermometer, range: {from: "-20 °C", to: "150 °C"}, resolution: "0.1 ΔK", uncertainty: "0.5 ΔK", k: "2", calibration_due: 2029-01-01, certificate: X-16}
  - {id: Z-01, kind: dial_depth_gauge, title: Dial depth gauge, range: {from: "0 mm", to: "25 mm"}, resolution: "0.01 mm", uncertainty: "0.01 mm", k: "2", calibration_due: 2029-01-01, certificate: X-17, certificate_sha256: 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08, zero_check: "0.02 mm"}
  - {id: W-30, kind: counted_wrench, title: Wrench near its count, range: {from: "2 N·m", to: "100 N·m"}, resolution: "0.5 N·m", uncertainty: "1 N·m", k: "2", calibration_due: 2029-01-01, certificate: X-18, loads: {so_far: 4990, at_most: 5000}}
  - {id: W-31, kind: counted_wrench, title: Wrench just calibrated, range: {from: "2 N·m", to: "100 N·m"}, resolution: "0.5 N·m", uncertainty: "1 N·m", k: "2", calibration_due: 2029-01-01, certificate: X-19, loads: {at_most: 5000}}
machines:
  - {tag: P-101A, equipment: marram_3_40, serial: "0340117", fit_out: A, title: Feed pump A}
"#;

/// A job in memory.
#[derive(Debug, Clone)]
pub(crate) struct Bench {
    pub(crate) files: Files,
    pub(crate) state: JobState,
    pub(crate) entries: Vec<Entry>,
    pub(crate) n_ticks: i64,
    /// The clock since boot at tick 0, where the machine has one.
    pub(crate) boot: Option<BootClock>,
}

fn instance_witness(files: &Files, index: InstanceIdx) -> bool {
    files.flow.instance(index).witness.is_some()
}

pub(crate) fn person(text: &str) -> PersonId {
    PersonId::new(text).unwrap()
}

impl Bench {
    pub(crate) fn new(files: Files) -> Self {
        Self::of(files, "0340117")
    }

    /// A job on the machine of a serial number.
    pub(crate) fn of(files: Files, serial: &str) -> Self {
        let opened = JobOpened {
            job: JobId::numbered(2026, 1),
            kind: ShopKind::Demo,
            semantics: SEMANTICS,
            machine: "P-101A".to_owned(),
            serial: serial.to_owned(),
            equipment: files.flow.equipment_id().clone(),
            procedure: files.flow.procedure.clone(),
            revision: Revision(1),
            files: BTreeMap::new(),
            previous_release: Sha256::ZERO,
        };
        let at = Moment::parse("2026-11-25T06:00:00+01:00").unwrap();
        let state = JobState::open(&files.flow, opened.clone(), at);
        let event = Event::JobOpened(Box::new(opened));
        let entries = vec![Entry { n: 0, at, by: None, late: None, event }];
        let mut bench = Self { files, state, entries, n_ticks: 0, boot: None };
        bench.identify("i.varga");
        bench
    }

    pub(crate) fn identify(&mut self, who: &str) {
        let signed = self.signed(who, None, Meaning::Identified);
        self.submit(Command::Identify(signed)).unwrap();
    }

    pub(crate) fn now(&self) -> Moment {
        let start = Moment::parse("2026-11-25T06:00:00+01:00").unwrap().time();
        Moment::new(start + chrono::TimeDelta::seconds(self.n_ticks))
    }

    /// A statement as the session would make it; its signature is checked by `record`, not here.
    pub(crate) fn signed(
        &self,
        who: &str,
        address: Option<Address>,
        meaning: Meaning,
    ) -> Box<Signed> {
        let role = if who == "i.varga" { Role::Apprentice } else { Role::Mechanic };
        Box::new(Signed {
            statement: Statement {
                job: JobId::numbered(2026, 1),
                head_n: self.state.n_entries - 1,
                head: Sha256::ZERO,
                address,
                signer: person(who),
                role,
                meaning,
                at: self.now(),
            },
            signature: String::new(),
        })
    }

    #[expect(clippy::needless_pass_by_value, reason = "a command is used up, as in a session")]
    pub(crate) fn submit(&mut self, command: Command) -> Result<(), Refusal> {
        self.n_ticks += 30;
        let now = self.now();
        let boot = self
            .boot
            .map(|at| BootClock { seconds: at.seconds.saturating_add_signed(self.n_ticks), ..at });
        self.settle();
        for entry in decided(&self.files, &self.state, &command, Now { wall: now, boot })? {
            self.state.apply(&self.files.flow, &entry);
            self.entries.push(entry);
        }
        self.settle();
        Ok(())
    }

    /// True when `command` was taken; false when a state ran out meanwhile.
    fn submitted(&mut self, command: Command) -> bool {
        let n_before = self.n_expired();
        let taken = self.submit(command);
        if taken.is_err() && self.n_expired() > n_before {
            return false;
        }
        taken.unwrap_or_else(|e| panic!("{e}"));
        true
    }

    fn n_expired(&self) -> usize {
        self.entries.iter().filter(|e| matches!(e.event, Event::TokenExpired { .. })).count()
    }

    /// Enters what time and hands alone bring, as a session does.
    fn settle(&mut self) {
        let now = self.now();
        while let Some(event) = due(&self.files, &self.state, now) {
            let by = self.state.person.clone();
            let entry = Entry { n: self.state.n_entries, at: now, by, late: None, event };
            self.state.apply(&self.files.flow, &entry);
            self.entries.push(entry);
        }
    }

    /// Looks at what is open, where that is due.
    pub(crate) fn take_up(&mut self) {
        // The move that comes next takes half a minute.
        let next = Moment::new(self.now().time() + chrono::TimeDelta::seconds(60));
        while self.state.take_up_due(next) {
            self.n_ticks += 60;
            self.settle();
            let shown = lines(&self.files, &self.state);
            match self.submit(Command::TakeUp { shown }) {
                Ok(()) => return,
                Err(Refusal::TakeUpChanged) => {}
                Err(refusal) => panic!("{refusal}"),
            }
        }
    }

    /// Looks at what is open and says so.
    pub(crate) fn take_up_now(&mut self) {
        let shown = lines(&self.files, &self.state);
        self.submit(Command::TakeUp { shown }).unwrap();
    }

    /// The instance that is asked, with its address.
    pub(crate) fn asked(&self) -> Option<(InstanceIdx, Address)> {
        let index = self.state.walk.asked()?;
        Some((index, self.files.flow.instance(index).address.clone()))
    }

    /// Answers one of the open instances with a random legal answer; now and then the work pauses.
    pub(crate) fn step(&mut self, choices: &mut Choices) {
        if self.state.walk.open.is_empty() {
            return;
        }
        self.take_up();
        if !self.now_and_then(choices) {
            self.step_on(choices);
        }
    }

    /// The same without a pause.
    pub(crate) fn step_on(&mut self, choices: &mut Choices) {
        let open = self.state.walk.open.clone();
        if open.is_empty() {
            return;
        }
        self.take_up();
        let open = self.state.walk.open.clone();
        let index = open[choices.below(open.len())];
        let instance = self.files.flow.instance(index).clone();
        let address = instance.address.clone();
        self.acknowledge(index, &address);
        if self.state.must_confirm(index) {
            match self.submit(Command::Confirm { address: address.clone() }) {
                Ok(()) => {}
                // What a mechanic signed, a mechanic confirms.
                Err(Refusal::RoleMissing { .. }) => {
                    self.identify("t.reiter");
                    self.take_up();
                    // A state that did not outlast the change of hands is verified again first.
                    let is_open = self.state.walk.open.contains(&index);
                    if is_open && self.state.must_confirm(index) {
                        self.submit(Command::Confirm { address }).unwrap();
                    }
                }
                Err(refusal) => panic!("{refusal}"),
            }
            return;
        }
        let may_leave_out = instance.ask.may_be_left_out();
        let answer = if instance.deviation == Deviation::Allowed && choices.one_in(12) {
            Answer::Deviated { done: !may_leave_out, reason: "no access".to_owned() }
        } else {
            self.random_answer(index, &instance.ask, choices)
        };
        self.give(&address, &instance.ask, answer);
        if choices.one_in(4) {
            self.concede(index, choices);
        }
    }

    /// Now and then somebody pauses, or the work is stopped and let go on; true when that changed
    /// what is asked.
    fn now_and_then(&mut self, choices: &mut Choices) -> bool {
        if choices.one_in(40) {
            self.submit(Command::Pause { reason: "lunch".to_owned() }).unwrap();
            self.take_up();
        } else if choices.one_in(60) {
            let reason = "oil on the floor".to_owned();
            self.submit(Command::Halt { standing: None, reason: reason.clone() }).unwrap();
            let signed = self.signed("t.reiter", None, Meaning::Resumed { reason: reason.clone() });
            self.submit(Command::Resume { reason, signed }).unwrap();
        } else {
            return false;
        }
        true
    }

    /// Puts another verdict in the place of that of the rules, where the step allows one.
    fn concede(&mut self, index: InstanceIdx, choices: &mut Choices) {
        let flow = std::sync::Arc::clone(&self.files.flow);
        let instance = flow.instance(index);
        let done = self.state.walk.path.contains(&index);
        let Some(answer) = self.state.answer(index).filter(|_| done) else { return };
        let rules = self.state.walk.judge_at(&flow, &self.state, index, answer);
        let (Some(_), Some(rules)) = (instance.concession, rules) else { return };
        let may = substitutes(&instance.ask, rules);
        if may.is_empty() {
            return;
        }
        let verdict = may[choices.below(may.len())];
        self.put_in_place(&instance.address, verdict);
    }

    /// A mechanic puts `verdict` in the place of that of the rules.
    pub(crate) fn put_in_place(&mut self, address: &Address, verdict: Verdict) {
        let reason = "worn evenly".to_owned();
        let meaning = Meaning::Conceded { verdict, reason: reason.clone() };
        let signed = self.signed("t.reiter", Some(address.clone()), meaning);
        let address = address.clone();
        self.submit(Command::Concede { address, verdict, reason, signed }).unwrap();
    }

    pub(crate) fn acknowledge(&mut self, index: InstanceIdx, address: &Address) {
        let instance = self.files.flow.instance(index);
        if !instance.safety.is_empty() && !self.state.acknowledged.contains_key(&index) {
            let address = address.clone();
            self.submit(Command::AcknowledgeSafety { address }).unwrap();
        }
        if instance_witness(&self.files, index) && !self.state.told.contains_key(&index) {
            let reiter = person("t.reiter");
            let at_work = self.state.person.as_ref() == Some(&reiter);
            let who = if at_work { person("a.salmela") } else { reiter };
            let address = address.clone();
            self.submit(Command::TellWitness { address, who }).unwrap();
        }
    }

    /// Gives `answer` the way its question needs it.
    #[expect(clippy::too_many_lines, reason = "one arm for each kind of answer")]
    pub(crate) fn give(&mut self, address: &Address, ask: &Ask, answer: Answer) {
        let second = match ask {
            Ask::Measure(note) => note.second_of.as_ref().map(|second| second.first),
            _ => None,
        };
        if let Some(first) = second {
            let by = self.state.held[first].as_ref().and_then(|held| held.by.clone());
            let salmela = person("a.salmela");
            self.identify(if by == Some(salmela) { "i.varga" } else { "a.salmela" });
        }
        let second = second.is_some();
        self.take_up();
        let index = self.files.flow.find(address).unwrap();
        if !self.state.walk.open.contains(&index) {
            // A state that did not outlast the change of hands is verified again first, by whoever
            // is at work now.
            return;
        }
        match (&answer, ask) {
            (Answer::Deviated { done, reason }, _) => {
                let meaning = Meaning::Deviated { done: *done, reason: reason.clone() };
                let signed = self.signed("t.reiter", Some(address.clone()), meaning);
                let address = address.clone();
                self.submit(Command::Answer { address, answer, signed: Some(signed) }).unwrap();
            }
            (Answer::Items(items), _) => {
                for (item, so) in items.iter().enumerate() {
                    let item = u32::try_from(item).unwrap();
                    let command = Command::CheckItem { address: address.clone(), item, so: *so };
                    if !self.submitted(command) {
                        return;
                    }
                }
            }
            (Answer::Built(laid), _) => {
                for laid in laid {
                    let command =
                        Command::LayLayer { address: address.clone(), laid: laid.clone() };
                    if !self.submitted(command) {
                        return;
                    }
                }
            }
            (Answer::Tightened(rounds), _) => {
                for round in rounds {
                    let (to, wrench) = (address.clone(), Box::new((&round.wrench).into()));
                    if !self.submitted(Command::SetWrench { address: to, wrench }) {
                        return;
                    }
                    for tight in &round.fasteners {
                        let command =
                            Command::Tighten { address: address.clone(), tight: tight.clone() };
                        if !self.submitted(command) {
                            return;
                        }
                    }
                }
            }
            (Answer::Waited(waited), Ask::Wait { .. }) => {
                let end = Command::EndWait { address: address.clone() };
                if self.state.waits.contains_key(&index) && self.submit(end).is_ok() {
                    // It went on while something else was verified again.
                    return;
                }
                self.submit(Command::BeginWait { address: address.clone() }).unwrap();
                // The move itself takes half a minute.
                self.n_ticks += i64::try_from(waited.at_longest_s).unwrap() - 30;
                let mut ended = self.submit(Command::EndWait { address: address.clone() });
                if ended == Err(Refusal::TakeUpFirst) {
                    self.take_up();
                    ended = self.submit(Command::EndWait { address: address.clone() });
                }
                match ended {
                    // A state that did not outlast the wait is verified again before it ends.
                    Ok(()) | Err(Refusal::StepNotOpen { .. } | Refusal::Expired(_)) => {}
                    Err(refusal) => panic!("{refusal}"),
                }
            }
            (Answer::Released, _) => {
                for who in self.state.unsigned_people() {
                    let (from_n, to_n) = self.state.unsigned_range(&who).unwrap();
                    let meaning = Meaning::Performed { from_n, to_n };
                    let signed = self.signed(who.as_str(), None, meaning);
                    self.submit(Command::SignPerformed(signed)).unwrap();
                }
                // Nobody lifts a hold over their own work.
                for who in ["t.reiter", "a.salmela"] {
                    let signed = self.signed(who, Some(address.clone()), Meaning::HoldReleased);
                    let (to, answer) = (address.clone(), answer.clone());
                    match self.submit(Command::Answer { address: to, answer, signed: Some(signed) })
                    {
                        Err(Refusal::SamePerson(_)) if who == "t.reiter" => {}
                        taken => {
                            taken.unwrap();
                            break;
                        }
                    }
                }
            }
            (Answer::Decided { verdict, reason }, _) => {
                let meaning = Meaning::Decided { verdict: *verdict, reason: reason.clone() };
                let signed = self.signed("t.reiter", Some(address.clone()), meaning);
                let address = address.clone();
                self.submit(Command::Answer { address, answer, signed: Some(signed) }).unwrap();
            }
            _ => {
                let address = address.clone();
                self.submit(Command::Answer { address, answer, signed: None })
                    .unwrap_or_else(|e| panic!("{e}"));
            }
        }
        if second {
            self.identify("i.varga");
            self.take_up();
        }
    }

    /// A random answer that `ask`, the question of `index`, accepts.
    pub(crate) fn random_answer(
        &self,
        index: InstanceIdx,
        ask: &Ask,
        choices: &mut Choices,
    ) -> Answer {
        match ask {
            Ask::Needs(items) => Answer::Items(vec![true; items.len()]),
            Ask::Check { items, .. } => {
                Answer::Items(items.iter().map(|_| !choices.one_in(20)).collect())
            }
            Ask::Build { .. } => {
                let from = self.state.standing(&self.files.flow, index).len();
                self.random_stack(index, from, choices)
            }
            Ask::Tighten(note) => Answer::Tightened(self.random_rounds(note, index, choices)),
            Ask::Do(_) => Answer::Done,
            Ask::WorkOut(note) => {
                Answer::WorkedOut(self.state.walk.worked_out(&self.files.flow, &self.state, note))
            }
            Ask::Hold(_) => Answer::Released,
            Ask::Wait { length_s, .. } => Answer::Waited(Waited {
                begun: self.now(),
                ended: self.now(),
                boot: None,
                elapsed_s: *length_s,
                at_longest_s: length_s + choices.below(2) as u64 * 3600,
                doubtful: true,
            }),
            Ask::Stop(_) => Answer::Stopped,
            Ask::Look { several, findings, .. } => {
                let fault = |f: &&witnessmark::walk::flow::FindingNote| f.id.as_str() != NO_FAULT;
                if *several && choices.one_in(3) {
                    let faults: Vec<Name> = findings
                        .iter()
                        .filter(fault)
                        .filter(|_| choices.one_in(2))
                        .map(|f| f.id.clone())
                        .collect();
                    if !faults.is_empty() {
                        return Answer::Found(faults);
                    }
                }
                // Mostly the first that is accepted, so that walks get far.
                let good = findings.iter().find(|f| f.exit.verdict == Verdict::Accept);
                let any = &findings[choices.below(findings.len())];
                let chosen = if choices.one_in(4) { any } else { good.unwrap_or(any) };
                Answer::Found(vec![chosen.id.clone()])
            }
            Ask::Measure(note) => {
                let (with, unit, plausible) = (&note.with, &note.unit, &note.plausible);
                let limit = note.limit().unwrap();
                if choices.one_in(15) {
                    return Answer::CouldNotMeasure { reason: "out of reach".to_owned() };
                }
                let instrument = self
                    .files
                    .shop
                    .instruments
                    .iter()
                    .find(|i| i.kind == *with && i.id != "M-05")
                    .unwrap();
                let bounds: Vec<&Quantity> =
                    [&limit.at_least, &limit.at_most].into_iter().flatten().collect();
                let at = bounds[choices.below(bounds.len())];
                let steps = [-2, -1, 0, 0, 1, 2][choices.below(6)];
                let shift = Quantity::new(
                    num_rational::Ratio::new(steps.into(), 100.into()),
                    Unit::Millimetre,
                );
                // Around figures that are no lengths, only the bound itself.
                let value = at.plus(&shift).unwrap_or_else(|| at.clone());
                let fits = |range: &(Quantity, Quantity)| {
                    value.compare(&range.0).unwrap().is_ge()
                        && value.compare(&range.1).unwrap().is_le()
                };
                let fine = plausible.as_ref().is_none_or(fits) && fits(&instrument.range);
                let shown = if fine { value.render(*unit) } else { at.render(*unit) };
                let reading = Reading::parse(&shown, *unit).unwrap();
                let several = over_and_over(note, &reading);
                Answer::Read { reading, instrument: snapshot(instrument), several }
            }
            Ask::Attach { may_lack: true, .. } if choices.one_in(3) => {
                Answer::NotAttached { reason: "no camera".to_owned() }
            }
            Ask::Attach { .. } => Answer::Attached(Evidence {
                name: format!("photo-{}.jpg", choices.below(9)),
                len_bytes: 4_000,
                sha256: Sha256::of(b"a photo"),
            }),
            Ask::Enter { kind, .. } => self.random_entry(kind, choices),
            Ask::Decide { may, .. } => {
                let verdict =
                    if choices.one_in(4) { may[choices.below(may.len())] } else { may[0] };
                Answer::Decided { verdict, reason: "seen it".to_owned() }
            }
        }
    }

    /// The stack of `index` from a layer on, mostly to its end.
    pub(crate) fn random_stack(
        &self,
        index: InstanceIdx,
        from: usize,
        choices: &mut Choices,
    ) -> Answer {
        let flow = &self.files.flow;
        let due = self.state.walk.layers_due(flow, &self.state, index);
        let mut all = Vec::new();
        for note in due.into_iter().skip(from) {
            let so = !choices.one_in(12);
            let lot = (so && note.lot).then(|| format!("L-{}", choices.below(90)));
            all.push(Laid { layer: note.id.clone(), so, lot });
            if !so {
                break;
            }
        }
        Answer::Built(all)
    }

    /// What is left of the fasteners, mostly to their end.
    fn random_rounds(
        &self,
        note: &TightenNote,
        index: InstanceIdx,
        choices: &mut Choices,
    ) -> Vec<Round> {
        let mut tightening = self.state.tightening_of(index);
        let listed = self.files.shop.instruments.iter().find(|i| i.kind == note.with).unwrap();
        let unit = note.torque.unit;
        let mut rounds: Vec<Round> = Vec::new();
        for pass in note.pass_numbers() {
            let open = note.open(&tightening.rounds, pass);
            if open.is_empty() {
                continue;
            }
            let aim = note.aim_of(pass).render(unit);
            let other = choices.one_in(40);
            let due = note.condition;
            let wrench = Wrench {
                instrument: snapshot(listed),
                setting: Reading::parse(&aim, unit).unwrap(),
                adapter: None,
                thread: match (due, other) {
                    (Thread::Oiled, false) | (Thread::Dry, true) => Thread::Oiled,
                    _ => Thread::Dry,
                },
            };
            let mut round = Round { pass, wrench, fasteners: Vec::new() };
            for fastener in open {
                if other {
                    break;
                }
                let reading = choices.one_in(5).then(|| Reading::parse(&aim, unit).unwrap());
                let so = !choices.one_in(60);
                round.fasteners.push(Tight { fastener, reading, so });
                if !so {
                    break;
                }
            }
            tightening.rounds.push(round.clone());
            rounds.push(round);
            if note.is_not_so(&tightening.rounds) {
                break;
            }
        }
        rounds
    }

    /// Loosens a random fastener that was tightened and counts; false where there is none.
    pub(crate) fn loosen_one(&mut self, choices: &mut Choices) -> bool {
        let flow = std::sync::Arc::clone(&self.files.flow);
        for index in self.state.walk.path.clone() {
            let instance = flow.instance(index);
            let Ask::Tighten(note) = &instance.ask else { continue };
            let fastener = note.order[choices.below(note.order.len())];
            if self.state.tightening_of(index).holds(fastener) {
                let (address, reason) = (instance.address.clone(), "washer missing".to_owned());
                self.submit(Command::Loosen { address, fastener, reason })
                    .unwrap_or_else(|e| panic!("{e}"));
                return true;
            }
        }
        false
    }

    fn random_entry(&self, kind: &EntryKind, choices: &mut Choices) -> Answer {
        match kind {
            EntryKind::Text => Answer::Entered("as seen".to_owned()),
            EntryKind::Figure { unit, plausible } => {
                let text = match plausible {
                    Some((from, _)) => from.render(*unit),
                    None => format!("{} {}", choices.below(90) + 1, unit.symbol()),
                };
                Answer::EnteredFigure(Reading::parse(text.trim(), *unit).unwrap())
            }
            EntryKind::Choice(all) => {
                Answer::Entered(all[choices.below(all.len())].0.value.to_string())
            }
            EntryKind::Date => Answer::Entered("2026-11-25".to_owned()),
            EntryKind::Serial => Answer::Entered(self.state.opened.serial.clone()),
            EntryKind::FitOut => {
                let letters: Vec<&String> = self.files.flow.equipment.fit_outs.keys().collect();
                Answer::Entered(letters[choices.below(letters.len())].clone())
            }
        }
    }
}

/// The same reading as often as the step asks for it.
fn over_and_over(note: &MeasureNote, reading: &Reading) -> Option<Box<Several>> {
    let count = note.several.as_ref()?.repeats.count;
    Some(Box::new(Several { taken: vec![reading.clone(); count], reason: None }))
}
