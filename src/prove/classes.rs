//! The answers to a question, cut into classes: one answer for each that anything can tell apart.
//!
//! The only place of the prover that knows the kinds of question. What an answer leads to is read
//! off it by the walk's own functions.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, Zero as _};

use crate::equipment::model::Equipment;
use crate::ids::{Name, Sha256};
use crate::language::Thread;
use crate::procedure::model::{EntryKind, NO_FAULT, Verdict};
use crate::units::{Criterion, Decision, Quantity, Reading, Unit};
use crate::walk::decide::substitutes;
use crate::walk::event::{
    Answer, Evidence, InstrumentSnapshot, Laid, Round, Several, Tight, Waited, WorkedOut, Wrench,
};
use crate::walk::flow::{Ask, Flow, Instance, Outcome};
use crate::walk::measure::{Against, MeasureNote};
use crate::walk::place::{comes_out, judge};
use crate::walk::stack::LayerNote;
use crate::walk::tighten::TightenNote;

/// The most findings of one step that may be picked together in every combination.
pub const N_FINDINGS_TOGETHER_MAX: usize = 12;

/// One class of answers, by an answer out of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Class {
    /// The answer.
    pub answer: Answer,
    /// The verdict that a mechanic puts in the place of that of the rules.
    pub substitute: Option<Verdict>,
    /// For a second reading: whether it agrees with the first.
    pub agrees: Option<bool>,
    /// What is said of a reading, where the reading alone does not tell: its limit is a share of
    /// another, or hangs on the uncertainty of the instrument.
    pub decision: Option<Decision>,
    /// The verdict in force.
    pub verdict: Option<Verdict>,
}

/// Where readings are cut, in SI units.
pub(super) type Cuts = BTreeSet<Ratio<BigInt>>;

/// A step has more answers than can be told apart one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TooMany;

/// The classes of answers to `instance`, with its readings cut at `cuts` too.
pub(super) fn classes(
    flow: &Flow,
    instance: &Instance,
    cuts: &Cuts,
) -> Result<Vec<Class>, TooMany> {
    let ask = &instance.ask;
    let (mut said, mut classes) = (Vec::new(), Vec::new());
    for answer in answers(flow, ask, cuts)? {
        let rules = judge(ask, &answer);
        let class =
            Class { answer, substitute: None, agrees: None, decision: None, verdict: rules };
        each_decision(ask, class, &mut said);
    }
    for class in said {
        let rules = class.verdict;
        if ask.is_second() && matches!(class.answer, Answer::Read { .. }) {
            let apart = rules.max(Some(Verdict::Refer));
            classes.push(Class { agrees: Some(true), ..class.clone() });
            classes.push(Class { agrees: Some(false), verdict: apart, ..class });
            continue;
        }
        let rules = rules.filter(|_| instance.concession.is_some());
        let others = rules.map_or_else(Vec::new, |rules| substitutes(ask, rules));
        classes.push(class.clone());
        classes.extend(others.into_iter().map(|verdict| Class {
            substitute: Some(verdict),
            verdict: Some(verdict),
            ..class.clone()
        }));
    }
    Ok(classes)
}

impl Class {
    /// Whether the outcome of the answer is this one.
    pub(super) fn comes_out(&self, ask: &Ask, is: &Outcome) -> bool {
        match (self.decision, is) {
            (Some(said), Outcome::Below) => said == Decision::Below,
            (Some(said), Outcome::Above) => said == Decision::Above,
            (Some(said), Outcome::NotProven) => said == Decision::NotProven,
            _ => comes_out(ask, &self.answer, is),
        }
    }
}

/// `class` once for everything that may be said of its reading.
fn each_decision(ask: &Ask, class: Class, out: &mut Vec<Class>) {
    let (Ask::Measure(note), Answer::Read { reading, .. }) = (ask, &class.answer) else {
        out.push(class);
        return;
    };
    let may = match &note.against {
        Against::Fixed(criterion) => criterion.possible(&reading.value),
        Against::Share(_) => {
            let all = [Decision::Within, Decision::Below, Decision::Above, Decision::NotProven];
            all.into_iter().filter(|said| note.verdict(*said).is_some()).collect()
        }
    };
    if let [_] = may.as_slice() {
        out.push(class);
        return;
    }
    out.extend(may.into_iter().map(|said| Class {
        decision: Some(said),
        verdict: note.verdict(said),
        ..class.clone()
    }));
}

fn answers(flow: &Flow, ask: &Ask, cuts: &Cuts) -> Result<Vec<Answer>, TooMany> {
    Ok(match ask {
        Ask::Needs(items) => vec![Answer::Items(vec![true; items.len()])],
        Ask::Do(_) => vec![Answer::Done],
        Ask::Hold(_) => vec![Answer::Released],
        Ask::Stop(_) => vec![Answer::Stopped],
        Ask::Check { items, .. } => {
            let so = vec![true; items.len()];
            let mut not_so = so.clone();
            if let Some(first) = not_so.first_mut() {
                *first = false;
            }
            vec![Answer::Items(so), Answer::Items(not_so)]
        }
        Ask::Look { several, findings, .. } => {
            let ids: Vec<Name> = findings.iter().map(|finding| finding.id.clone()).collect();
            picked(&ids, *several)?
        }
        Ask::Measure(note) => {
            let mut at = cuts.clone();
            let fixed = matches!(note.against, Against::Fixed(_));
            at.extend(note.against.criterion().into_iter().flat_map(Criterion::cuts));
            // What is plausible of a share is not known beforehand either.
            let plausible = note.plausible.as_ref().filter(|_| fixed);
            let figures = figures(&at, note.unit, plausible).into_iter();
            let read = figures.map(|value| read(note, &value));
            let none = Answer::CouldNotMeasure { reason: "out of reach".to_owned() };
            read.chain([none]).collect()
        }
        // What it comes to is taken for free: safe for a proof, and a break is only possible.
        Ask::WorkOut(note) => {
            let mut at = cuts.clone();
            let bounds = note.limit.iter().flat_map(|limit| [&limit.at_least, &limit.at_most]);
            at.extend(bounds.flatten().map(|q| q.si.clone()));
            let worked = |result| {
                Answer::WorkedOut(WorkedOut {
                    calculation: note.calculation.name.to_owned(),
                    given: BTreeMap::new(),
                    result,
                })
            };
            let read = figures(&at, note.unit, None)
                .into_iter()
                .map(|value| worked(Ok(reading(&value, note.unit))));
            read.chain([worked(Err("refused".to_owned()))]).collect()
        }
        Ask::Build { layers, .. } => {
            let laid = |so: bool| layers.first().map(|layer| laid(layer, so)).into_iter().collect();
            vec![
                Answer::Built(layers.iter().map(|layer| self::laid(layer, true)).collect()),
                Answer::Built(laid(false)),
            ]
        }
        Ask::Tighten(note) => vec![
            Answer::Tightened(note.pass_numbers().map(|pass| round(note, pass)).collect()),
            Answer::Tightened(vec![unfit(note)]),
        ],
        Ask::Wait { length_s, too_late, .. } => {
            let late = too_late.as_ref().map(|(at_most_s, _)| at_most_s + 1);
            [*length_s].into_iter().chain(late).map(Waited::made_up).map(Answer::Waited).collect()
        }
        Ask::Enter { kind, .. } => entries(flow, kind, cuts),
        Ask::Attach { may_lack, .. } => {
            let file =
                Evidence { name: "photo.jpg".to_owned(), len_bytes: 1, sha256: Sha256::ZERO };
            let mut answers = vec![Answer::Attached(file)];
            if *may_lack {
                answers.push(Answer::NotAttached { reason: "no camera".to_owned() });
            }
            answers
        }
        Ask::Decide { may, .. } => may
            .iter()
            .map(|verdict| Answer::Decided { verdict: *verdict, reason: "as seen".to_owned() })
            .collect(),
    })
}

/// A layer as it must lie, or not.
pub(super) fn laid(layer: &LayerNote, so: bool) -> Laid {
    let lot = (so && layer.lot).then(|| "L-1".to_owned());
    Laid { layer: layer.id.clone(), so, lot }
}

/// A pass as it must be.
fn round(note: &TightenNote, pass: u32) -> Round {
    let unit = note.torque.unit;
    let wrench = Wrench {
        instrument: instrument(&note.with),
        setting: reading(&note.aim_of(pass), unit),
        adapter: None,
        thread: note.condition,
    };
    let tight = |fastener: &u32| Tight { fastener: *fastener, reading: None, so: true };
    Round { pass, wrench, fasteners: note.order.iter().map(tight).collect() }
}

/// A first pass on threads that the torque is not for.
fn unfit(note: &TightenNote) -> Round {
    let first = note.pass_numbers().next().unwrap_or(1);
    let mut round = round(note, first);
    round.wrench.thread = if note.condition == Thread::Dry { Thread::Oiled } else { Thread::Dry };
    round.fasteners.clear();
    round
}

fn entries(flow: &Flow, kind: &EntryKind, cuts: &Cuts) -> Vec<Answer> {
    match kind {
        EntryKind::Text => vec![Answer::Entered("as seen".to_owned())],
        EntryKind::Date => vec![Answer::Entered("2026-01-01".to_owned())],
        EntryKind::Serial => vec![Answer::Entered("0000000".to_owned())],
        EntryKind::Choice(choices) => {
            choices.iter().map(|(id, _)| Answer::Entered(id.value.to_string())).collect()
        }
        EntryKind::FitOut => {
            plates(&flow.equipment, &flow.fit_outs).into_iter().map(Answer::Entered).collect()
        }
        EntryKind::Figure { unit, plausible } => figures(cuts, *unit, plausible.as_ref())
            .into_iter()
            .map(|value| Answer::EnteredFigure(reading(&value, *unit)))
            .collect(),
    }
}

/// The letters or codes of the machines that a procedure is written for.
pub(super) fn plates(equipment: &Equipment, written_for: &[String]) -> Vec<String> {
    let builds = equipment.builds().into_iter().map(|(plate, _)| plate);
    builds.filter(|plate| written_for.is_empty() || written_for.contains(plate)).collect()
}

/// Every single finding, and where several may be picked every combination of faults.
fn picked(ids: &[Name], several: bool) -> Result<Vec<Answer>, TooMany> {
    let mut answers: Vec<Answer> = ids.iter().map(|id| Answer::Found(vec![id.clone()])).collect();
    if !several {
        return Ok(answers);
    }
    let faults: Vec<&Name> = ids.iter().filter(|id| id.as_str() != NO_FAULT).collect();
    if faults.len() > N_FINDINGS_TOGETHER_MAX {
        return Err(TooMany);
    }
    for set in 0..(1_u32 << faults.len()) {
        if set.count_ones() > 1 {
            let among = faults.iter().enumerate().filter(|(bit, _)| set >> bit & 1 == 1);
            answers.push(Answer::Found(among.map(|(_, id)| (*id).clone()).collect()));
        }
    }
    Ok(answers)
}

/// Figures at every cut, between two of them, below the least and above the greatest.
fn figures(cuts: &Cuts, unit: Unit, plausible: Option<&(Quantity, Quantity)>) -> Vec<Quantity> {
    let mut at = cuts.clone();
    let fits =
        |si: &Ratio<BigInt>| plausible.is_none_or(|(from, to)| *si >= from.si && *si <= to.si);
    at.retain(fits);
    if let Some((from, to)) = plausible {
        at.extend([from.si.clone(), to.si.clone()]);
    }
    let unit_si = Quantity::new(Ratio::from_integer(1.into()), unit).si
        - Quantity::new(Ratio::zero(), unit).si;
    let hundredth = Ratio::new(1.into(), 100.into());
    let beside = |si: &Ratio<BigInt>| {
        if si.is_zero() { unit_si.clone() } else { si.abs() * &hundredth }
    };
    let mut figures = Vec::new();
    match at.first() {
        None => figures.push(Quantity::new(Ratio::from_integer(1.into()), unit).si),
        Some(first) => figures.push(first - beside(first)),
    }
    let mut before: Option<Ratio<BigInt>> = None;
    for cut in &at {
        if let Some(before) = before {
            figures.push((before + cut) / BigInt::from(2));
        }
        figures.push(cut.clone());
        before = Some(cut.clone());
    }
    figures.extend(before.map(|last| &last + beside(&last)));
    figures.retain(fits);
    figures.dedup();
    figures.into_iter().map(|si| Quantity { si, dimension: unit.dimension() }).collect()
}

/// A reading of exactly this value.
pub(super) fn reading(value: &Quantity, unit: Unit) -> Reading {
    Reading { text: value.render(unit), unit, value: value.clone() }
}

/// A reading of exactly this value, by an instrument that leaves no doubt.
pub(super) fn read(note: &MeasureNote, value: &Quantity) -> Answer {
    let unit = note.unit.step();
    let nothing = Quantity::new(Ratio::zero(), unit).render(unit);
    let exact =
        InstrumentSnapshot { uncertainty: nothing, k: "2".to_owned(), ..instrument(&note.with) };
    let reading = reading(value, note.unit);
    // The same reading over and over: whatever the rule, it is the one that counts.
    let several = note.several.as_ref().map(|several| {
        Box::new(Several { taken: vec![reading.clone(); several.repeats.count], reason: None })
    });
    Answer::Read { reading, instrument: exact, several }
}

/// An instrument of a kind; which one is for the shop to say.
pub(super) fn instrument(kind: &Name) -> InstrumentSnapshot {
    InstrumentSnapshot {
        certificate_sha256: None,
        id: kind.to_string(),
        kind: kind.clone(),
        calibration_due: NaiveDate::MAX,
        certificate: String::new(),
        resolution: String::new(),
        uncertainty: String::new(),
        k: String::new(),
    }
}
