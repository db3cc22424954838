//! Brute force: every answer to every question, through the real walk.

use std::collections::BTreeMap;

use witnessmark::ids::{Name, Sha256, TokenId};
use witnessmark::language::Thread;
use witnessmark::procedure::model::{EntryKind, Promise, Token, Verdict};
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::Answer;
use witnessmark::walk::decide::substitutes;
use witnessmark::walk::event::{Evidence, InstrumentSnapshot, Laid, Round, Tight, Waited, Wrench};
use witnessmark::walk::flow::{Ask, Flow, InstanceIdx, Node};
use witnessmark::walk::place::{Answers, Stand, Walk, walk};
use witnessmark::walk::stack::LayerNote;
use witnessmark::walk::tighten::TightenNote;

/// What is broken, with the number of answers of the shortest way there.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Breaks {
    /// By promise.
    pub(crate) promises: BTreeMap<usize, usize>,
    /// By state that is needed.
    pub(crate) needs: Option<usize>,
    /// By promise: where it takes a state that lapses and whose setter is asked again.
    pub(crate) lapsed: BTreeMap<usize, usize>,
    /// Where a setter is asked again and needs a state that is not in force then.
    pub(crate) again: Option<usize>,
}

struct Search<'f> {
    flow: &'f Flow,
    answers: Vec<Option<Answer>>,
    substitutes: BTreeMap<InstanceIdx, Verdict>,
    breaks: Breaks,
    n_left: usize,
}

impl Answers for Search<'_> {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        self.answers.answer(instance)
    }

    fn substitute(&self, instance: InstanceIdx) -> Option<Verdict> {
        self.substitutes.get(&instance).copied()
    }
}

/// Every break, or nothing where there are more than `n_places_max` places to look at.
pub(crate) fn breaks(flow: &Flow, n_places_max: usize) -> Option<Breaks> {
    let mut search = Search {
        flow,
        answers: vec![None; flow.instances.len()],
        substitutes: BTreeMap::new(),
        breaks: Breaks::default(),
        n_left: n_places_max,
    };
    search.go().then_some(search.breaks)
}

fn least(known: &mut Option<usize>, n: usize) {
    *known = Some(known.map_or(n, |known| known.min(n)));
}

impl Search<'_> {
    fn go(&mut self) -> bool {
        if self.n_left == 0 {
            return false;
        }
        self.n_left -= 1;
        let at = walk(self.flow, self);
        let n = at.path.len();
        let asked = match at.stand {
            Stand::Asked(asked, _) => Some(asked),
            Stand::End => None,
            Stand::Stopped(_) => return true,
        };
        for promise in 0..self.flow.promises.len() {
            let broken = if self.is_broken(promise, &at, asked) { Some(n) } else { None };
            for n in self.broken_ends(promise, &at).into_iter().chain(broken) {
                let known = self.breaks.promises.entry(promise).or_insert(n);
                *known = (*known).min(n);
            }
        }
        self.lapses(&at);
        let Some(asked) = asked else { return true };
        let instance = self.flow.instance(asked);
        if instance.needs.iter().any(|token| !at.tokens.contains(token)) {
            least(&mut self.breaks.needs, n);
            return true;
        }
        let due = at.layers_due(self.flow, self, asked);
        for answer in answers(&instance.ask, &due) {
            let rules = at.judge_at(self.flow, self, asked, &answer);
            self.answers[asked] = Some(answer);
            let mut others = vec![None];
            if let (Some(_), Some(rules)) = (instance.concession, rules) {
                others.extend(substitutes(&instance.ask, rules).into_iter().map(Some));
            }
            for other in others {
                match other {
                    Some(verdict) => self.substitutes.insert(asked, verdict),
                    None => self.substitutes.remove(&asked),
                };
                if !self.go() {
                    return false;
                }
            }
            self.substitutes.remove(&asked);
        }
        self.answers[asked] = None;
        true
    }

    /// Each state that may lapse does so here, and the step that set it is asked again.
    fn lapses(&mut self, at: &Walk) {
        let may_expire =
            |token: &TokenId| self.flow.tokens.get(token).is_some_and(Token::may_expire);
        let n = at.path.len();
        for token in at.tokens.iter().filter(|token| may_expire(token)) {
            let setter = at.setter(self.flow, token).unwrap();
            for other in &self.flow.instance(setter).needs {
                let by = at.setter(self.flow, other);
                if by.is_none_or(|by| by > setter && may_expire(other)) {
                    least(&mut self.breaks.again, n);
                }
            }
            for (number, resolved) in self.flow.promises.iter().enumerate() {
                let depth = |i: &InstanceIdx| self.flow.instance(*i).address.0.len();
                let own = |i: &InstanceIdx| depth(i) == resolved.target_depth;
                let is_step = resolved.target.iter().any(own);
                if matches!(resolved.promise, Promise::FirstBefore { .. })
                    && resolved.target.contains(&setter)
                    && (!is_step || own(&setter))
                    && !self.is_completed(&resolved.first, resolved.first_depth, at, Some(setter))
                {
                    let known = self.breaks.lapsed.entry(number).or_insert(n);
                    *known = (*known).min(n);
                }
            }
        }
    }

    fn is_broken(&self, promise: usize, at: &Walk, asked: Option<InstanceIdx>) -> bool {
        let resolved = &self.flow.promises[promise];
        let address = |i: InstanceIdx| &self.flow.instance(i).address.0;
        let depth = resolved.target_depth;
        let is_step = |all: &[InstanceIdx], d: usize| all.iter().any(|i| address(*i).len() == d);
        let enters = match asked {
            None => {
                let job = |end: &usize| matches!(self.flow.node(*end), Node::End);
                resolved.ends.iter().any(job)
            }
            Some(asked) if !resolved.target.contains(&asked) => false,
            Some(asked) if is_step(&resolved.target, depth) => address(asked).len() == depth,
            // A section: entered where the last answer lay outside it, or in another pass.
            Some(asked) => at
                .path
                .last()
                .is_none_or(|last| address(*last).get(..depth) != address(asked).get(..depth)),
        };
        if !enters {
            return false;
        }
        match &resolved.promise {
            Promise::NeverReach { .. } => {
                resolved.when.as_ref().is_none_or(|when| at.is_so(self.flow, self, when))
            }
            Promise::FirstBefore { .. } => {
                !self.is_completed(&resolved.first, resolved.first_depth, at, asked)
            }
        }
    }

    /// The ends of performed procedures that a walk went through without what had to come first,
    /// by the number of answers up to there.
    fn broken_ends(&self, promise: usize, at: &Walk) -> Vec<usize> {
        let resolved = &self.flow.promises[promise];
        let mut broken = Vec::new();
        let mut path = Vec::new();
        for node in &at.nodes {
            match self.flow.node(*node) {
                Node::Ask { instance, .. } => path.push(*instance),
                Node::Performed { address, .. } if resolved.ends.contains(node) => {
                    // What lies in this very performance.
                    let within = |i: &&InstanceIdx| {
                        self.flow.instance(**i).address.0.starts_with(&address.0)
                    };
                    let first: Vec<InstanceIdx> =
                        resolved.first.iter().filter(within).copied().collect();
                    let walked = Walk { path: path.clone(), ..at.clone() };
                    if !self.is_completed(&first, resolved.first_depth, &walked, None) {
                        broken.push(path.len());
                    }
                }
                Node::Performed { .. } | Node::Test { .. } | Node::End => {}
            }
        }
        broken
    }

    /// For a step or section without positions around it.
    fn is_completed(
        &self,
        first: &[InstanceIdx],
        depth: usize,
        at: &Walk,
        asked: Option<InstanceIdx>,
    ) -> bool {
        let address = |i: InstanceIdx| &self.flow.instance(i).address.0;
        let is_step = first.iter().any(|i| address(*i).len() == depth);
        let sets: Vec<_> = first.iter().flat_map(|i| &self.flow.instance(*i).sets).collect();
        let mut completed = false;
        for index in &at.path {
            let instance = self.flow.instance(*index);
            let inside = first.contains(index);
            if inside && !is_step {
                completed = true;
            } else if inside {
                let ends = address(*index).last().unwrap().id.as_str();
                let own = address(*index).len() == depth;
                let decides = matches!(instance.ask, Ask::Decide { .. })
                    && ends == "decision"
                    && (address(*index).len() == depth + 1
                        || address(*index)[depth].id.as_str() == "bound"
                        || address(*index)[depth].id.as_str() == "second");
                let second = ends == "second" && address(*index).len() == depth + 1;
                if own || decides || second {
                    let answer = self.answers[*index].as_ref().unwrap();
                    let rules = at.judge_at(self.flow, self, *index, answer);
                    let verdict = self.substitute(*index).or(rules);
                    completed = verdict.is_none_or(|v| v == Verdict::Accept);
                }
            } else if instance.clears.iter().any(|token| sets.contains(&token)) {
                completed = false;
            }
        }
        // A section is completed once it is left by its end.
        let after = asked.is_none_or(|asked| first.iter().all(|i| *i < asked));
        completed && (is_step || after)
    }
}

fn instrument(kind: &Name) -> InstrumentSnapshot {
    InstrumentSnapshot {
        id: "any".to_owned(),
        kind: kind.clone(),
        certificate_sha256: None,
        calibration_due: chrono::NaiveDate::MAX,
        certificate: String::new(),
        resolution: String::new(),
        uncertainty: String::new(),
        k: String::new(),
    }
}

/// Every fastener in every pass, or one on threads that the torque is not for.
pub(super) fn rounds(note: &TightenNote, so: bool) -> Vec<Round> {
    let other = if note.condition == Thread::Dry { Thread::Oiled } else { Thread::Dry };
    let round = |pass: u32| Round {
        pass,
        wrench: Wrench {
            instrument: instrument(&note.with),
            setting: Reading::parse(&note.aim_of(pass).render(note.torque.unit), note.torque.unit)
                .unwrap(),
            adapter: None,
            thread: if so { note.condition } else { other },
        },
        fasteners: (so.then_some(&note.order).into_iter().flatten())
            .map(|fastener| Tight { fastener: *fastener, reading: None, so })
            .collect(),
    };
    note.pass_numbers().take(if so { usize::MAX } else { 1 }).map(round).collect()
}

fn answers(ask: &Ask, due: &[&LayerNote]) -> Vec<Answer> {
    let reading = |text: &str| Reading::parse(text, Unit::Millimetre).unwrap();
    match ask {
        Ask::Needs(items) => vec![Answer::Items(vec![true; items.len()])],
        Ask::Do(_) => vec![Answer::Done],
        Ask::Hold(_) => vec![Answer::Released],
        Ask::Stop(_) => vec![Answer::Stopped],
        Ask::WorkOut(_) => panic!("the oracle's procedures work nothing out"),
        Ask::Check { items, .. } => (0..1_u32 << items.len())
            .map(|so| Answer::Items((0..items.len()).map(|i| so >> i & 1 == 1).collect()))
            .collect(),
        Ask::Look { several: false, findings, .. } => {
            findings.iter().map(|f| Answer::Found(vec![f.id.clone()])).collect()
        }
        Ask::Look { findings, .. } => {
            let faults: Vec<&Name> =
                findings.iter().map(|f| &f.id).filter(|id| id.as_str() != "no_fault").collect();
            let sets = (1..1_u32 << faults.len()).map(|set| {
                let among = faults.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1);
                Answer::Found(among.map(|(_, id)| (*id).clone()).collect())
            });
            sets.chain([Answer::Found(vec![Name::new("no_fault").unwrap()])]).collect()
        }
        Ask::Measure(note) => {
            let with = &note.with;
            let figures: &[&str] = if note.limit().unwrap().at_least.is_some() {
                &["37.99", "38.00", "38.49", "38.50", "38.51"]
            } else {
                &["0.10", "0.11"]
            };
            let none = Answer::CouldNotMeasure { reason: "out of reach".to_owned() };
            let read = figures.iter().map(|text| Answer::Read {
                reading: reading(text),
                instrument: instrument(with),
                several: None,
            });
            read.chain([none]).collect()
        }
        Ask::Build { .. } => {
            let laid = |so| move |l: &&LayerNote| Laid { layer: l.id.clone(), so, lot: None };
            vec![
                Answer::Built(due.iter().map(laid(true)).collect()),
                Answer::Built(due.iter().take(1).map(laid(false)).collect()),
            ]
        }
        Ask::Tighten(note) => [true, false].map(|so| Answer::Tightened(rounds(note, so))).to_vec(),
        Ask::Wait { length_s, too_late, .. } => {
            let late = too_late.as_ref().map(|(at_most_s, _)| at_most_s + 60);
            [*length_s]
                .into_iter()
                .chain(late)
                .map(|s| Answer::Waited(Waited::made_up(s)))
                .collect()
        }
        Ask::Enter { kind: EntryKind::FitOut, .. } => {
            ["A", "B"].map(|letter| Answer::Entered(letter.to_owned())).to_vec()
        }
        Ask::Enter { kind: EntryKind::Choice(choices), .. } => {
            choices.iter().map(|(c, _)| Answer::Entered(c.value.to_string())).collect()
        }
        Ask::Enter { .. } => vec![Answer::Entered("as seen".to_owned())],
        Ask::Attach { may_lack, .. } => {
            let file = Evidence { name: "a.jpg".to_owned(), len_bytes: 1, sha256: Sha256::ZERO };
            let none = Answer::NotAttached { reason: "no camera".to_owned() };
            if *may_lack {
                vec![Answer::Attached(file), none]
            } else {
                vec![Answer::Attached(file)]
            }
        }
        Ask::Decide { may, .. } => may
            .iter()
            .map(|v| Answer::Decided { verdict: *v, reason: "as seen".to_owned() })
            .collect(),
    }
}
