//! The answers that a search tries at each step: the good one first, then one for each way on.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigInt;
use num_rational::Ratio;

use super::places::Course;
use crate::expr::Expr;
use crate::ids::{Name, Sha256};
use crate::language::Thread;
use crate::procedure::model::{EntryKind, NO_FAULT, Verdict};
use crate::shop::model::{Instrument, Machine, Shop};
use crate::units::{Quantity, Reading, Unit};
use crate::walk::accept::snapshot;
use crate::walk::event::{Answer, Evidence, Round, Several, Tight, Waited, Wrench};
use crate::walk::flow::{Ask, FindingNote, Guard, InstanceIdx, Ref};
use crate::walk::measure::MeasureNote;
use crate::walk::tighten::TightenNote;

/// What is said where a reason is due.
pub(super) const REASON: &str = "As this rehearsal needs it";

/// One way to answer.
#[derive(Debug, Clone)]
pub(super) enum Candidate {
    /// This answer.
    Fixed(Box<Answer>),
    /// The layers that are due, all as they must be or the first of them not.
    Lay {
        /// Whether they are.
        so: bool,
    },
    /// What the program works out.
    WorkOut,
}

/// The candidates of every instance, the good one first. None is empty.
pub(super) fn all(course: &Course, shop: &Shop, machine: &Machine) -> Vec<Vec<Candidate>> {
    let thresholds = thresholds(course);
    let maker = Maker { course, shop, machine, thresholds: &thresholds };
    (0..course.flow.instances.len()).map(|index| maker.of(index)).collect()
}

/// The figures that conditions hold an instance's answer against.
fn thresholds(course: &Course) -> BTreeMap<InstanceIdx, Vec<Quantity>> {
    let mut out: BTreeMap<InstanceIdx, Vec<Quantity>> = BTreeMap::new();
    for guard in &course.flow.guards {
        let Guard::Condition { expr, .. } = guard else { continue };
        let mut found = Vec::new();
        figures(expr, &mut found);
        expr.each_name(&mut |name, _| {
            if let Ref::Answer { passes, .. } = name {
                for index in passes {
                    let known = out.entry(*index).or_default();
                    known.extend(
                        found.iter().filter(|q| !known.contains(q)).cloned().collect::<Vec<_>>(),
                    );
                }
            }
        });
    }
    out
}

fn figures(expr: &Expr<Ref>, out: &mut Vec<Quantity>) {
    match expr {
        Expr::Quantity(figure, _) | Expr::Name(Ref::Figure(figure), _) => out.push(figure.clone()),
        Expr::Name(..) | Expr::Word(..) | Expr::Truth(..) | Expr::Answered(..) => {}
        Expr::Not(inner, _) | Expr::Negate(inner, _) => figures(inner, out),
        Expr::And(members, _) | Expr::Or(members, _) | Expr::Fold(_, members, _) => {
            for member in members {
                figures(member, out);
            }
        }
        Expr::Compare(_, left, right, _)
        | Expr::In(left, right, _)
        | Expr::Arithmetic(_, left, right, _) => {
            figures(left, out);
            figures(right, out);
        }
    }
}

struct Maker<'a> {
    course: &'a Course,
    shop: &'a Shop,
    machine: &'a Machine,
    thresholds: &'a BTreeMap<InstanceIdx, Vec<Quantity>>,
}

impl Maker<'_> {
    fn of(&self, index: InstanceIdx) -> Vec<Candidate> {
        let fixed = |answers: Vec<Answer>| {
            answers.into_iter().map(|answer| Candidate::Fixed(Box::new(answer))).collect()
        };
        match &self.course.flow.instance(index).ask {
            Ask::Do(_) => fixed(vec![Answer::Done]),
            Ask::Hold(_) => fixed(vec![Answer::Released]),
            Ask::Stop(_) => fixed(vec![Answer::Stopped]),
            Ask::Needs(items) => fixed(vec![Answer::Items(vec![true; items.len()])]),
            Ask::Check { items, .. } => {
                let mut not_so = vec![true; items.len()];
                if let Some(first) = not_so.first_mut() {
                    *first = false;
                }
                fixed(vec![Answer::Items(vec![true; items.len()]), Answer::Items(not_so)])
            }
            Ask::Look { several, findings, .. } => fixed(looks(findings, *several)),
            Ask::Measure(_) => fixed(self.readings(index)),
            Ask::WorkOut(_) => vec![Candidate::WorkOut],
            Ask::Build { .. } => vec![Candidate::Lay { so: true }, Candidate::Lay { so: false }],
            Ask::Tighten(note) => fixed(self.tightened(note)),
            Ask::Enter { kind, .. } => fixed(self.entries(index, kind)),
            Ask::Attach { may_lack, .. } => {
                let file = Evidence {
                    name: "photo.jpg".to_owned(),
                    len_bytes: 1,
                    sha256: Sha256::of(b"photo"),
                };
                let mut answers = vec![Answer::Attached(file)];
                if *may_lack {
                    answers.push(Answer::NotAttached { reason: REASON.to_owned() });
                }
                fixed(answers)
            }
            Ask::Wait { length_s, too_late, .. } => {
                let late = too_late.as_ref().map(|(at_most_s, _)| at_most_s.saturating_add(60));
                let waits = [*length_s].into_iter().chain(late);
                fixed(waits.map(|seconds| Answer::Waited(Waited::made_up(seconds))).collect())
            }
            Ask::Decide { may, .. } => fixed(
                may.iter()
                    .map(|v| Answer::Decided { verdict: *v, reason: REASON.to_owned() })
                    .collect(),
            ),
        }
    }

    /// An instrument of this kind that may be used for `value`.
    fn instrument(&self, kind: &Name, value: Option<&Quantity>) -> Option<&Instrument> {
        self.shop.instruments.iter().find(|listed| {
            listed.kind == *kind
                && listed.out_of_use.is_none()
                && value.is_none_or(|value| value.lies_in(&listed.range))
        })
    }

    fn readings(&self, index: InstanceIdx) -> Vec<Answer> {
        let mut out = Vec::new();
        if let Ask::Measure(note) = &self.course.flow.instance(index).ask
            && let Some(limit) = note.limit()
        {
            let MeasureNote { with, unit, plausible, .. } = &**note;
            let step = self.instrument(with, None).map(|listed| listed.resolution.clone());
            let bounds = [limit.at_least.as_ref(), limit.at_most.as_ref()];
            // An instrument for temperatures or gauge pressures is read in steps of a difference.
            let step =
                step.filter(|s| s.dimension == limit.unit.dimension().step()).or_else(|| {
                    bounds.into_iter().flatten().next().map(|bound| shifted(bound, bound, 1, 100))
                });
            let mut values = good_values(bounds, step.as_ref());
            let judged = |value: &Quantity| limit.judge(value) == Some(crate::units::Side::Within);
            values.retain(|value| judged(value));
            for figure in bounds
                .into_iter()
                .flatten()
                .chain(self.thresholds.get(&index).into_iter().flatten())
            {
                values.extend(around(figure, step.as_ref()));
            }
            let fits = |value: &Quantity| {
                value.dimension == unit.dimension()
                    && plausible.as_ref().is_none_or(|range| value.lies_in(range))
            };
            let mut known = BTreeSet::new();
            for value in values.iter().filter(|value| fits(value)) {
                let Some(listed) = self.instrument(with, Some(value)) else { continue };
                let Some(reading) = reading(value, *unit).filter(|r| known.insert(r.text.clone()))
                else {
                    continue;
                };
                let several = note.several.as_ref().map(|several| {
                    Box::new(Several {
                        taken: vec![reading.clone(); several.repeats.count],
                        reason: None,
                    })
                });
                out.push(Answer::Read { reading, instrument: snapshot(listed), several });
            }
        }
        out.push(Answer::CouldNotMeasure { reason: REASON.to_owned() });
        out
    }

    fn entries(&self, index: InstanceIdx, kind: &EntryKind) -> Vec<Answer> {
        let typed = |text: &str| Answer::Entered(text.to_owned());
        match kind {
            EntryKind::Text => vec![typed("Entered for this rehearsal")],
            EntryKind::Date => vec![typed("2026-01-01")],
            EntryKind::Serial => vec![typed(&self.machine.serial)],
            EntryKind::Choice(choices) => {
                choices.iter().map(|(id, _)| typed(id.value.as_str())).collect()
            }
            EntryKind::FitOut => self.plates().iter().map(|plate| typed(plate)).collect(),
            EntryKind::Figure { unit, plausible } => {
                let ten = Quantity::new(Ratio::from_integer(BigInt::from(10)), *unit);
                let mut values = match plausible {
                    Some((from, to)) => vec![between(from, to), from.clone(), to.clone()],
                    None => vec![ten],
                };
                for figure in self.thresholds.get(&index).into_iter().flatten() {
                    let one = Quantity::new(Ratio::from_integer(BigInt::from(1)), *unit);
                    values.extend(around(figure, Some(&shifted(&one, &one, -9, 10))));
                }
                let fits = |value: &&Quantity| {
                    value.dimension == unit.dimension()
                        && plausible.as_ref().is_none_or(|range| value.lies_in(range))
                };
                let mut known = BTreeSet::new();
                let read = values.iter().filter(fits).filter_map(|value| reading(value, *unit));
                read.filter(|r| known.insert(r.text.clone())).map(Answer::EnteredFigure).collect()
            }
        }
    }

    /// What may stand on the name plate, this machine's own first.
    fn plates(&self) -> Vec<String> {
        let flow = &self.course.flow;
        let fits = |plate: &String| flow.fit_outs.is_empty() || flow.fit_outs.contains(plate);
        let all = flow.equipment.builds().into_iter().map(|(plate, _)| plate);
        let mut plates: Vec<String> = all.filter(fits).collect();
        plates.sort_by_key(|plate| self.machine.fit_out.as_ref() != Some(plate));
        plates
    }

    fn tightened(&self, note: &TightenNote) -> Vec<Answer> {
        let wrench = |pass: u32, thread: Thread| {
            let listed = self.instrument(&note.with, Some(&note.aim_of(pass)))?;
            let setting = reading(&note.aim_of(pass), note.torque.unit)?;
            Some(Wrench { instrument: snapshot(listed), setting, adapter: None, thread })
        };
        let tight = |fastener: &u32| Tight { fastener: *fastener, reading: None, so: true };
        let whole: Option<Vec<Round>> = note
            .pass_numbers()
            .map(|pass| {
                let fasteners = note.order.iter().map(tight).collect();
                Some(Round { pass, wrench: wrench(pass, note.condition)?, fasteners })
            })
            .collect();
        let other = Thread::ALL.into_iter().find(|thread| *thread != note.condition);
        let not_so = other
            .and_then(|thread| wrench(1, thread))
            .map(|wrench| vec![Round { pass: 1, wrench, fasteners: Vec::new() }]);
        // Without a wrench of this kind in the shop the step cannot be done at all; an empty answer
        // keeps the walk there.
        let mut out = vec![Answer::Tightened(whole.unwrap_or_default())];
        out.extend(not_so.map(Answer::Tightened));
        out
    }
}

fn looks(findings: &[FindingNote], several: bool) -> Vec<Answer> {
    let mut sorted: Vec<&FindingNote> = findings.iter().collect();
    sorted.sort_by_key(|finding| finding.exit.verdict != Verdict::Accept);
    let mut out: Vec<Answer> = sorted.iter().map(|f| Answer::Found(vec![f.id.clone()])).collect();
    if several {
        let faults = findings.iter().map(|f| f.id.clone()).filter(|id| id.as_str() != NO_FAULT);
        out.push(Answer::Found(faults.collect()));
    }
    out
}

/// Figures within a limit, the plainest first.
fn good_values(bounds: [Option<&Quantity>; 2], step: Option<&Quantity>) -> Vec<Quantity> {
    let (Some(step), [least, most]) = (step, bounds) else { return Vec::new() };
    match (least, most) {
        (Some(least), Some(most)) => vec![between(least, most)],
        (Some(least), None) => vec![shifted(least, step, 20, 1), shifted(least, step, 5, 1)],
        (None, Some(most)) => vec![shifted(most, step, -3, 1), shifted(most, step, -1, 1)],
        (None, None) => Vec::new(),
    }
}

/// A figure itself and a step to both sides.
fn around(figure: &Quantity, step: Option<&Quantity>) -> Vec<Quantity> {
    let mut out = vec![figure.clone()];
    out.extend(step.map(|step| shifted(figure, step, -1, 1)));
    out.extend(step.map(|step| shifted(figure, step, 1, 1)));
    out
}

/// `figure` moved by a share of `step`, on the scale of its SI unit.
fn shifted(figure: &Quantity, step: &Quantity, parts: i32, of: i32) -> Quantity {
    let share = Ratio::new(BigInt::from(parts), BigInt::from(of));
    Quantity { si: &figure.si + &step.si * share, dimension: figure.dimension }
}

fn between(from: &Quantity, to: &Quantity) -> Quantity {
    let two = Ratio::from_integer(BigInt::from(2));
    Quantity { si: (&from.si + &to.si) / two, dimension: from.dimension }
}

/// The figure as a person would type it, where they can.
fn reading(value: &Quantity, unit: Unit) -> Option<Reading> {
    let read = Reading::parse(&value.render(unit), unit).ok()?;
    (read.value == *value).then_some(read)
}
