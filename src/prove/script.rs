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
const N_TRIES_MAX: usize = 2_048;
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

/// The same answers, looked up by number.
struct Given {
    answers: Vec<Option<Answer>>,
    substitutes: BTreeMap<InstanceIdx, Verdict>,
}

impl Given {
    fn none(flow: &Flow) -> Self {
        Self { answers: vec![None; flow.instances.len()], substitutes: BTreeMap::new() }
    }

    fn add(&mut self, instance: InstanceIdx, class: &Class) {
        if let Some(slot) = self.answers.get_mut(instance) {
            *slot = Some(class.answer.clone());
        }
        self.substitutes.extend(class.substitute.map(|verdict| (instance, verdict)));
    }
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
        let mut given = Given::none(flow);
        for (instance, class) in &self.answers {
            given.add(*instance, class);
        }
        given
    }

    /// True where the walk takes every answer, stands at the place, and a condition is true there.
    pub fn replays(&self, flow: &Flow, when: Option<&Expr<Ref>>) -> bool {
        self.laid_out(flow).leads_there(flow, when)
    }

    /// The same, of a script that is laid out already.
    fn leads_there(&self, flow: &Flow, when: Option<&Expr<Ref>>) -> bool {
        let given = self.given(flow);
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
        let mut out = self.clone();
        out.lay_out(flow, 0);
        out
    }

    /// Lays out anew what stands at this place of the script or behind it.
    fn lay_out(&mut self, flow: &Flow, from: usize) {
        let mut given = Given::none(flow);
        for (place, (instance, class)) in self.answers.iter_mut().enumerate() {
            let ask = &flow.instance(*instance).ask;
            match (ask, &class.answer) {
                _ if place < from => {}
                (_, Answer::Built(laid)) => {
                    let so = laid.iter().all(|layer| layer.so);
                    let due = walk(flow, &given).layers_due(flow, &given, *instance);
                    let n = if so { due.len() } else { 1 };
                    let laid = due.into_iter().take(n).map(|layer| super::classes::laid(layer, so));
                    class.answer = Answer::Built(laid.collect());
                }
                (Ask::WorkOut(note), Answer::WorkedOut(_)) => {
                    let worked = walk(flow, &given).worked_out(flow, &given, note);
                    class.answer = Answer::WorkedOut(worked);
                }
                _ => {}
            }
            given.add(*instance, class);
        }
    }

    /// True where a later answer decides about this one.
    fn decided(&self, flow: &Flow, instance: InstanceIdx) -> bool {
        self.answers.iter().any(|(i, _)| {
            matches!(&flow.instance(*i).ask, Ask::Decide { about: Some(about), .. }
                if *about == instance)
        })
    }

    /// The script with figures that the walk follows, if some are found. Where the walk leaves the script,
    /// the figures before that place are changed, one and then two of them, until it comes further.
    pub(super) fn tried(
        self,
        flow: &Flow,
        when: Option<&Expr<Ref>>,
        other: &dyn Fn(InstanceIdx) -> Vec<Class>,
    ) -> Result<Self, Self> {
        let mut found = self.laid_out(flow);
        let readings: Vec<Quantity> =
            self.answers.iter().filter_map(|(_, class)| value(&class.answer)).collect();
        let mut n_left = N_TRIES_MAX;
        loop {
            if found.leads_there(flow, when) {
                return Ok(found);
            }
            let leaves = found.leaves(flow);
            let varied = found.varied(flow, leaves, &readings, other);
            let first = varied.iter().map(|(place, _)| *place).min().unwrap_or(0);
            let mut base = found.clone();
            // What comes behind the place does not tell whether it is passed.
            base.answers.truncate(leaves.map_or(usize::MAX, |place| place + 1));
            let further = changes(&varied).take(n_left).find_map(|changes| {
                n_left -= 1;
                let mut changed = base.clone();
                for (place, answer) in &changes {
                    if let Some((_, class)) = changed.answers.get_mut(*place) {
                        class.answer = (*answer).clone();
                    }
                }
                changed.lay_out(flow, first);
                let passes = match leaves {
                    Some(_) => changed.leaves(flow).is_none(),
                    None => changed.leads_there(flow, when),
                };
                passes.then_some(changed)
            });
            let Some(further) = further else { return Err(self) };
            let n = further.answers.len();
            found.answers.splice(..n, further.answers);
            found.lay_out(flow, n);
        }
    }

    /// The place of the first answer that the walk does not ask for, or that comes out otherwise.
    fn leaves(&self, flow: &Flow) -> Option<usize> {
        let walk = walk(flow, &self.given(flow));
        let mut path = walk.path.iter();
        self.answers.iter().position(|(instance, class)| {
            path.next() != Some(instance)
                || (walk.verdicts.get(*instance).copied().flatten() != class.verdict
                    && !self.decided(flow, *instance))
        })
    }

    /// The equipment's figures that go into what is worked out at a place: what else goes into it is
    /// mostly a share of one of them.
    fn figures_at(&self, flow: &Flow, place: usize) -> Vec<Quantity> {
        let mut figures = Vec::new();
        let instance = self.answers.get(place).map(|(instance, _)| flow.instance(*instance));
        if let Some(Ask::WorkOut(note)) = instance.map(|instance| &instance.ask) {
            for formula in note.formulas() {
                formula.each_name(&mut |name, _| {
                    if let Ref::Figure(figure) = name {
                        figures.push(figure.clone());
                    }
                });
            }
        }
        figures
    }

    /// The figures before a place, the nearest first, each with others that could stand there.
    fn varied(
        &self,
        flow: &Flow,
        before: Option<usize>,
        readings: &[Quantity],
        other: &dyn Fn(InstanceIdx) -> Vec<Class>,
    ) -> Vec<(usize, Vec<Answer>)> {
        let n = before.map_or(self.answers.len(), |place| place + 1);
        let near = before.map_or_else(Vec::new, |place| self.figures_at(flow, place));
        let answers = self.answers.iter().enumerate().take(n).collect::<Vec<_>>().into_iter().rev();
        let figures = answers.filter_map(|(place, (instance, class))| {
            let ask = &flow.instance(*instance).ask;
            let others = other(*instance).into_iter().map(|class| class.answer);
            let found = alternatives(ask, &class.answer, (readings, &near), others);
            (!found.is_empty()).then_some((place, found))
        });
        figures.take(N_VARIED_MAX).collect()
    }
}

/// One figure in the place of another, then two at once.
fn changes(varied: &[(usize, Vec<Answer>)]) -> impl Iterator<Item = Vec<(usize, &Answer)>> {
    let singles: Vec<Vec<(usize, &Answer)>> = varied
        .iter()
        .map(|(place, found)| found.iter().map(|answer| (*place, answer)).collect())
        .collect();
    let pairs = singles.clone().into_iter().enumerate().flat_map({
        let singles = singles.clone();
        move |(i, of_one)| {
            let after: Vec<_> = singles.iter().skip(i + 1).flatten().copied().collect();
            of_one
                .into_iter()
                .flat_map(move |one| after.clone().into_iter().map(move |two| vec![one, two]))
        }
    });
    singles.into_iter().flatten().map(|single| vec![single]).chain(pairs)
}

fn value(answer: &Answer) -> Option<Quantity> {
    match answer {
        Answer::Read { reading, .. } | Answer::EnteredFigure(reading) => {
            Some(reading.value.clone())
        }
        _ => None,
    }
}

/// Other answers with another figure or text: those of other classes, shares of figures that go into
/// the same calculation, and the other readings of the script, also a little above and below.
fn alternatives(
    ask: &Ask,
    answer: &Answer,
    (readings, near): (&[Quantity], &[Quantity]),
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
    let mut shares_of = |quantities: &[Quantity], shares: &[(i32, i32)]| {
        for quantity in quantities.iter().filter(|q| q.dimension == unit.dimension()) {
            for (top, bottom) in shares {
                let factor = num_rational::Ratio::new((*top).into(), (*bottom).into());
                found.push(Quantity { si: &quantity.si * factor, dimension: quantity.dimension });
            }
        }
    };
    shares_of(near, &[(1, 1), (19, 20), (9, 10), (4, 5), (1, 2), (1, 5), (1, 20), (1, 100)]);
    shares_of(readings, &[(1, 1), (999, 1000), (1001, 1000), (11, 10), (9, 10)]);
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
