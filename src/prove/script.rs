//! A script: the answers that lead to a place, tried out on the real walk.
//!
//! Where an answer hangs on how two readings compare, figures are looked for that do it; a script
//! that the walk does not follow is none.

use std::collections::BTreeMap;

use super::classes::{Class, read, reading};
use crate::expr::Expr;
use crate::ids::TokenId;
use crate::procedure::model::{EntryKind, Verdict};
use crate::units::Quantity;
use crate::walk::event::Answer;
use crate::walk::flow::{Ask, Flow, InstanceIdx, Ref};
use crate::walk::place::{Answers, Stand, walk};

/// The most sets of figures that are tried for one script.
const N_TRIES_MAX: usize = 4_096;
/// The most figures that are varied for one script.
const N_VARIED_MAX: usize = 6;

/// The answers that lead to a place, in the order of the walk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Script {
    /// The answers.
    pub answers: Vec<(InstanceIdx, Class)>,
    /// The step that is asked then; `None` at the end.
    pub at: Option<InstanceIdx>,
    /// What lapses there, before that step is answered.
    pub lapse: Option<Lapse>,
}

/// A state of the machine that did not outlast a break, other hands or a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lapse {
    /// The state.
    pub token: TokenId,
    /// The step that had set it and is asked again.
    pub asks: InstanceIdx,
}

impl Answers for Script {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        let found = self.answers.iter().rev().find(|(index, _)| *index == instance);
        found.map(|(_, class)| &class.answer)
    }

    fn substitute(&self, instance: InstanceIdx) -> Option<Verdict> {
        let found = self.answers.iter().rev().find(|(index, _)| *index == instance);
        found.and_then(|(_, class)| class.substitute)
    }
}

/// The same answers, looked up by number.
struct Given {
    answers: Vec<Option<Answer>>,
    substitutes: BTreeMap<InstanceIdx, Verdict>,
}

impl Answers for Given {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        self.answers.get(instance).and_then(Option::as_ref)
    }

    fn substitute(&self, instance: InstanceIdx) -> Option<Verdict> {
        self.substitutes.get(&instance).copied()
    }
}

impl Script {
    fn given(&self, flow: &Flow) -> Given {
        let mut answers = vec![None; flow.instances.len()];
        let mut substitutes = BTreeMap::new();
        for (instance, class) in &self.answers {
            if let Some(slot) = answers.get_mut(*instance) {
                *slot = Some(class.answer.clone());
            }
            substitutes.extend(class.substitute.map(|verdict| (*instance, verdict)));
        }
        Given { answers, substitutes }
    }

    /// True where the walk takes every answer, stands at the place, and a condition is true there.
    pub fn replays(&self, flow: &Flow, when: Option<&Expr<Ref>>) -> bool {
        let given = self.laid_out(flow).given(flow);
        let walk = walk(flow, &given);
        let stands = match (walk.stand, self.at) {
            (Stand::Asked(instance, _), Some(at)) => instance == at,
            (Stand::End, None) => true,
            (Stand::Asked(..) | Stand::End | Stand::Stopped(_), _) => false,
        };
        let lapses = self.lapse.as_ref().is_none_or(|lapse| {
            let mut without = given.answers.clone();
            without.get_mut(lapse.asks).into_iter().for_each(|answer| *answer = None);
            let substitutes = given.substitutes.clone();
            let then = self::walk(flow, &Given { answers: without, substitutes });
            walk.setter(flow, &lapse.token) == Some(lapse.asks) && then.asked() == Some(lapse.asks)
        });
        stands
            && lapses
            && walk.path.len() == self.answers.len()
            && walk.path.iter().zip(&self.answers).all(|(a, (b, _))| a == b)
            && self.answers.iter().all(|(i, class)| {
                walk.verdicts.get(*i).copied().flatten() == class.verdict || self.decided(flow, *i)
            })
            && when.is_none_or(|when| walk.is_so(flow, &given, when))
    }

    /// The step that is asked once every answer is given.
    pub(super) fn asked(&self, flow: &Flow) -> Option<InstanceIdx> {
        walk(flow, &self.laid_out(flow).given(flow)).asked()
    }

    /// The same with every stack laid in the layers that are due by then, and every figure worked out,
    /// which the answers before it tell.
    fn laid_out(&self, flow: &Flow) -> Self {
        let answers = Vec::with_capacity(self.answers.len());
        let mut out = Self { answers, at: self.at, lapse: self.lapse.clone() };
        for (instance, class) in &self.answers {
            let mut class = class.clone();
            if let Answer::Built(laid) = &class.answer {
                let so = laid.iter().all(|layer| layer.so);
                let due = walk(flow, &out).layers_due(flow, &out, *instance);
                let n = if so { due.len() } else { 1 };
                let laid = due.into_iter().take(n).map(|layer| super::classes::laid(layer, so));
                class.answer = Answer::Built(laid.collect());
            }
            if let (Ask::WorkOut(note), Answer::WorkedOut(_)) =
                (&flow.instance(*instance).ask, &class.answer)
            {
                class.answer = Answer::WorkedOut(walk(flow, &out).worked_out(flow, &out, note));
            }
            out.answers.push((*instance, class));
        }
        out
    }

    /// True where a later answer decides about this one.
    fn decided(&self, flow: &Flow, instance: InstanceIdx) -> bool {
        self.answers.iter().any(|(i, _)| {
            matches!(&flow.instance(*i).ask, Ask::Decide { about: Some(about), .. }
                if *about == instance)
        })
    }

    /// The script with figures that the walk follows, if some are found.
    pub(super) fn tried(
        mut self,
        flow: &Flow,
        when: Option<&Expr<Ref>>,
        other: &dyn Fn(InstanceIdx) -> Vec<Class>,
    ) -> Result<Self, Self> {
        if self.replays(flow, when) {
            return Ok(self.laid_out(flow));
        }
        let readings: Vec<Quantity> =
            self.answers.iter().filter_map(|(_, class)| value(&class.answer)).collect();
        let mut varied: Vec<(usize, Vec<Answer>)> = Vec::new();
        for (place, (instance, class)) in self.answers.iter().enumerate().rev() {
            if varied.len() == N_VARIED_MAX {
                break;
            }
            let ask = &flow.instance(*instance).ask;
            let others = other(*instance).into_iter().map(|class| class.answer);
            let found = alternatives(ask, &class.answer, &readings, others);
            if !found.is_empty() {
                varied.push((place, found));
            }
        }
        let before = self.clone();
        for turn in 1..N_TRIES_MAX {
            let mut rest = turn;
            for (place, found) in &varied {
                let digit = rest % (found.len() + 1);
                rest /= found.len() + 1;
                let original = before.answers.get(*place).map(|(_, class)| &class.answer);
                let answer = digit.checked_sub(1).and_then(|i| found.get(i)).or(original);
                if let (Some((_, class)), Some(answer)) = (self.answers.get_mut(*place), answer) {
                    class.answer = answer.clone();
                }
            }
            if rest > 0 {
                break;
            }
            if self.replays(flow, when) {
                return Ok(self.laid_out(flow));
            }
        }
        Err(before)
    }
}

fn value(answer: &Answer) -> Option<Quantity> {
    match answer {
        Answer::Read { reading, .. } | Answer::EnteredFigure(reading) => {
            Some(reading.value.clone())
        }
        _ => None,
    }
}

/// Other answers with another figure or text: those of other classes, and the other readings of the
/// script, also a little above and below.
fn alternatives(
    ask: &Ask,
    answer: &Answer,
    readings: &[Quantity],
    others: impl Iterator<Item = Answer>,
) -> Vec<Answer> {
    let (unit, plausible) = match ask {
        Ask::Measure(note) => (note.unit, note.plausible.as_ref()),
        Ask::Enter { kind: EntryKind::Figure { unit, plausible }, .. } => {
            (*unit, plausible.as_ref())
        }
        Ask::Enter { kind: EntryKind::Text, .. } => {
            return vec![Answer::Entered("otherwise".to_owned())];
        }
        Ask::Enter { kind: EntryKind::Date, .. } => {
            return vec![Answer::Entered("2026-01-02".to_owned())];
        }
        _ => return Vec::new(),
    };
    let Some(own) = value(answer) else { return Vec::new() };
    let mut found: Vec<Quantity> = Vec::new();
    for near in readings.iter().filter(|q| q.dimension == unit.dimension()) {
        for (top, bottom) in [(1, 1), (999, 1000), (1001, 1000), (11, 10), (9, 10)] {
            let factor = num_rational::Ratio::new(top.into(), bottom.into());
            found.push(Quantity { si: &near.si * factor, dimension: near.dimension });
        }
    }
    found.extend(others.filter_map(|other| value(&other)));
    found.retain(|q| {
        *q != own && plausible.is_none_or(|(from, to)| q.si >= from.si && q.si <= to.si)
    });
    let mut once: Vec<Quantity> = Vec::new();
    for quantity in found {
        if !once.contains(&quantity) {
            once.push(quantity);
        }
    }
    let once = once.into_iter();
    match ask {
        Ask::Measure(note) => once.map(|q| read(note, &q)).collect(),
        _ => once.map(|q| Answer::EnteredFigure(reading(&q, unit))).collect(),
    }
}
