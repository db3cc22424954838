//! The walk itself: from the files and the answers to the place that is asked next.

use std::collections::{BTreeMap, BTreeSet};

use super::event::{Answer, Next, Round, Waited};
use super::flow::{
    Ask, ExitNote, Field, Flow, Guard, GuardIdx, InstanceIdx, Node, NodeIdx, Outcome, Ref,
};
use crate::expr::Expr;
use crate::expr::eval::{self, Lookup, Value};
use crate::ids::{Name, PartId, TokenId};
use crate::procedure::model::{EntryKind, Verdict};
use crate::units::Decision;

/// The answers that count, by instance.
pub trait Answers {
    /// The answer of an instance, unless it has none or needs to be confirmed first.
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer>;

    /// The verdict that a mechanic put in the place of that of the rules.
    fn substitute(&self, _instance: InstanceIdx) -> Option<Verdict> {
        None
    }

    /// True when the answer of an instance was true when it was given and is asked for once more,
    /// because the state that it set does not outlast what came since.
    fn is_to_be_verified(&self, _instance: InstanceIdx) -> bool {
        false
    }
}

impl Answers for Vec<Option<Answer>> {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        self.get(instance).and_then(Option::as_ref)
    }
}

/// Where the walk stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// This instance is asked; the node is where it stands in the graph.
    Asked(InstanceIdx, NodeIdx),
    /// All steps are done.
    End,
    /// This stop was reached and acknowledged.
    Stopped(InstanceIdx),
}

/// How an instance stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Answered and counted.
    Done,
    /// Asked now.
    Current,
    /// Not reached yet.
    Ahead,
    /// Not asked, because of a condition.
    NotApplicable(GuardIdx),
    /// Not begun: a later pass, a decision or a stop that nothing has called for. Not counted.
    NotBegun,
}

/// What the walk comes to: a pure function of the flow and the answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Walk {
    /// Where it stands.
    pub stand: Stand,
    /// Every instance that may be answered now, the one that is asked first. More than one only in
    /// sections whose order is free.
    pub open: Vec<InstanceIdx>,
    /// The instances visited and answered, in order.
    pub path: Vec<InstanceIdx>,
    /// The nodes passed, in order.
    pub nodes: Vec<NodeIdx>,
    /// How every instance stands.
    pub status: Vec<Status>,
    /// The verdict in force of every visited instance that has one.
    pub verdicts: Vec<Option<Verdict>>,
    /// The letter or code on the name plate, once entered.
    pub fit_out: Option<String>,
    /// The settings that it stands for.
    pub settings: BTreeMap<Name, Name>,
    /// The tokens that are set where the walk stands.
    pub tokens: BTreeSet<TokenId>,
    /// The tokens that are set now, at the end of all that was done. These are other ones where an
    /// answer on the way has to be verified again.
    pub in_force: BTreeSet<TokenId>,
    /// What is asked next once that is verified.
    pub waiting: Option<InstanceIdx>,
}

/// Walks `flow` over `answers` from the start.
pub fn walk(flow: &Flow, answers: &dyn Answers) -> Walk {
    let mut walk = Walk::at_the_start(flow.instances.len());
    let mut at: NodeIdx = 0;
    let mut open: Vec<NodeIdx> = Vec::new();
    let mut set_there = None;
    loop {
        walk.nodes.push(at);
        let truth = match flow.node(at) {
            Node::End => {
                if set_there.is_none() {
                    walk.stand = Stand::End;
                }
                break;
            }
            Node::Ask { instance, .. } => match answers
                .answer(*instance)
                .filter(|answer| walk.stands(flow, answers, *instance, answer))
                // Beside others that are open, it is one of them.
                .filter(|_| {
                    walk.open.is_empty()
                        || set_there.is_some()
                        || !answers.is_to_be_verified(*instance)
                }) {
                None if set_there.is_some() => {
                    walk.waiting = Some(*instance);
                    break;
                }
                None => {
                    if walk.open.is_empty() {
                        walk.stand = Stand::Asked(*instance, at);
                        walk.set_status(*instance, Status::Current);
                    }
                    walk.open.push(*instance);
                    open.push(at);
                    match flow.onward(at, None, &open) {
                        Some(member) => {
                            at = member;
                            continue;
                        }
                        None => break,
                    }
                }
                Some(answer) => {
                    if !walk.take((flow, answers), (*instance, at), answer, &mut set_there) {
                        break;
                    }
                    true
                }
            },
            Node::Performed { .. } => true,
            Node::Test { guard, skipped, .. } => {
                let truth = walk.holds(flow, answers, *guard);
                if !truth {
                    for instance in skipped.clone() {
                        walk.set_status(instance, Status::NotApplicable(*guard));
                    }
                }
                truth
            }
        };
        let next = flow.next(at, truth);
        match next.and_then(|next| flow.onward(at, Some(next), &open)) {
            Some(next) => at = next,
            None => break,
        }
    }
    walk.in_force.clone_from(&walk.tokens);
    if let Some(tokens) = set_there {
        walk.tokens = tokens;
        for instance in walk.open.clone() {
            walk.set_status(instance, Status::Current);
        }
    }
    walk.settle(flow);
    walk
}

impl Walk {
    fn at_the_start(n_instances: usize) -> Self {
        Self {
            stand: Stand::End,
            open: Vec::new(),
            path: Vec::new(),
            nodes: Vec::new(),
            status: vec![Status::Ahead; n_instances],
            verdicts: vec![None; n_instances],
            fit_out: None,
            settings: BTreeMap::new(),
            tokens: BTreeSet::new(),
            in_force: BTreeSet::new(),
            waiting: None,
        }
    }

    /// Takes up an answer that counts; false where the job ends with it. The first that has to be verified
    /// again is what is asked, with the states of its own place kept in `set_there`; what came behind it
    /// was done, and stays done while it is looked at again.
    fn take(
        &mut self,
        (flow, answers): (&Flow, &dyn Answers),
        (index, at): (InstanceIdx, NodeIdx),
        answer: &Answer,
        set_there: &mut Option<BTreeSet<TokenId>>,
    ) -> bool {
        let again = answers.is_to_be_verified(index);
        if again && set_there.is_none() {
            *set_there = Some(self.tokens.clone());
            self.stand = Stand::Asked(index, at);
            self.open.push(index);
        }
        self.visit(flow, answers, index, answer);
        if again {
            for token in &flow.instance(index).sets {
                self.tokens.remove(token);
            }
            self.set_status(index, Status::Ahead);
        }
        if !matches!(answer, Answer::Stopped) {
            return true;
        }
        self.stand = Stand::Stopped(index);
        *set_there = None;
        // Nothing is asked any more, whatever else was open.
        for open in std::mem::take(&mut self.open) {
            self.set_status(open, Status::Ahead);
        }
        false
    }

    fn set_status(&mut self, instance: InstanceIdx, status: Status) {
        if let Some(slot) = self.status.get_mut(instance) {
            *slot = status;
        }
    }

    fn visit(&mut self, flow: &Flow, answers: &dyn Answers, index: InstanceIdx, answer: &Answer) {
        let instance = flow.instance(index);
        self.path.push(index);
        self.set_status(index, Status::Done);
        let verdict =
            answers.substitute(index).or_else(|| self.judge_at(flow, answers, index, answer));
        if let Some(slot) = self.verdicts.get_mut(index) {
            *slot = verdict;
        }
        // A decision puts its verdict in the place of the referred one.
        if let (Ask::Decide { about: Some(about), .. }, Some(verdict)) = (&instance.ask, verdict)
            && let Some(slot) = self.verdicts.get_mut(*about)
        {
            *slot = Some(verdict);
        }
        if let (Ask::Enter { kind: EntryKind::FitOut, .. }, Answer::Entered(letter)) =
            (&instance.ask, answer)
        {
            self.fit_out = Some(letter.clone());
            self.settings = flow.equipment.build(letter).unwrap_or_default();
        }
        for token in &instance.sets {
            self.tokens.insert(token.clone());
        }
        for token in &instance.clears {
            self.tokens.remove(token);
        }
    }

    /// After the walk: what was never begun does not count, whatever lies before or behind.
    fn settle(&mut self, flow: &Flow) {
        for (status, instance) in self.status.iter_mut().zip(&flow.instances) {
            let open = matches!(status, Status::Ahead | Status::NotApplicable(_));
            if instance.begun_only && open {
                *status = Status::NotBegun;
            }
        }
    }

    pub(super) fn holds(&self, flow: &Flow, answers: &dyn Answers, guard: GuardIdx) -> bool {
        match flow.guard(guard) {
            Guard::FitOut { letters } => {
                self.fit_out.as_ref().is_some_and(|fit_out| letters.contains(fit_out))
            }
            Guard::Outcome { instance, is } => answers.answer(*instance).is_some_and(|answer| {
                let substituted = answers.substitute(*instance).is_some();
                self.outcome_is((flow, answers), (*instance, substituted), answer, is)
            }),
            Guard::Condition { expr, .. } => {
                // `compile` refuses conditions that are read before they are answered, so an
                // unknown truth is out of reach; false keeps the walk total all the same.
                self.is_so(flow, answers, expr)
            }
        }
    }

    /// Whether a condition that some answers were resolved for is true where the walk stands.
    pub fn is_so(&self, flow: &Flow, answers: &dyn Answers, condition: &Expr<Ref>) -> bool {
        let look = |found: &Ref| self.look(flow, answers, found);
        matches!(eval::eval(condition, &look), Some(Value::Truth(true)))
    }

    fn outcome_is(
        &self,
        (flow, answers): (&Flow, &dyn Answers),
        (instance, substituted): (InstanceIdx, bool),
        answer: &Answer,
        is: &Outcome,
    ) -> bool {
        match is {
            Outcome::Verdict(verdict) => {
                self.verdicts.get(instance).copied().flatten() == Some(*verdict)
            }
            // With another verdict in its place, nothing follows from the outcome any more.
            Outcome::Found(_)
            | Outcome::Below
            | Outcome::Above
            | Outcome::NotProven
            | Outcome::CouldNotMeasure
            | Outcome::NotSo
            | Outcome::TooLate => {
                !substituted && comes_out(&self.ask(flow, answers, instance), answer, is)
            }
        }
    }

    pub(super) fn look(&self, flow: &Flow, answers: &dyn Answers, found: &Ref) -> Lookup {
        match found {
            Ref::Figure(quantity) => Lookup::Value(Value::Quantity(quantity.clone())),
            Ref::Word(word) => Lookup::Value(Value::Word(word.clone())),
            Ref::Position { name, .. } => match Name::new(name.clone()) {
                Ok(word) => Lookup::Value(Value::Word(word)),
                Err(_) => Lookup::Value(Value::Text(name.clone())),
            },
            Ref::Setting(setting) => self
                .settings
                .get(setting)
                .map_or(Lookup::Unanswered, |word| Lookup::Value(Value::Word(word.clone()))),
            Ref::Answer { passes, field } => {
                // A name means the last pass that the walk came to, asked or not applicable.
                for index in passes.iter().rev() {
                    match self.status.get(*index) {
                        Some(Status::Done) => {
                            return self.value(flow, answers, *index, *field);
                        }
                        Some(Status::NotApplicable(_)) => return Lookup::NotApplicable,
                        Some(Status::Current | Status::Ahead | Status::NotBegun) | None => {}
                    }
                }
                Lookup::Unanswered
            }
        }
    }

    fn value(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
        field: Field,
    ) -> Lookup {
        if field == Field::Verdict {
            let verdict = self.verdicts.get(index).copied().flatten().unwrap_or(Verdict::Accept);
            return match Name::new(verdict.word()) {
                Ok(word) => Lookup::Value(Value::Word(word)),
                Err(_) => Lookup::Unanswered,
            };
        }
        let ask = &flow.instance(index).ask;
        answers.answer(index).map_or(Lookup::Unanswered, |answer| match field {
            Field::Grade => grade_of(ask, answer),
            Field::Value | Field::Verdict => value_of(ask, answer),
        })
    }

    /// The instance that set `token` last, where it is set.
    pub fn setter(&self, flow: &Flow, token: &TokenId) -> Option<InstanceIdx> {
        if !self.tokens.contains(token) {
            return None;
        }
        self.path.iter().rev().copied().find(|i| flow.instance(*i).sets.contains(token))
    }

    /// The first of two independent readings, while the second is open: nobody is shown it.
    pub fn sealed(&self, flow: &Flow) -> Option<InstanceIdx> {
        self.open.iter().chain(&self.waiting).find_map(|index| {
            let Ask::Measure(note) = &flow.instance(*index).ask else { return None };
            note.second_of.as_ref().map(|second| second.first)
        })
    }

    /// Where the walk went, as entries keep it.
    pub fn next(&self, flow: &Flow) -> Next {
        match self.stand {
            Stand::Asked(instance, _) => Next::Ask(flow.instance(instance).address.clone()),
            Stand::End => Next::End,
            Stand::Stopped(_) => Next::Stopped,
        }
    }

    /// The instance that is asked.
    pub fn asked(&self) -> Option<InstanceIdx> {
        match self.stand {
            Stand::Asked(instance, _) => Some(instance),
            Stand::End | Stand::Stopped(_) => None,
        }
    }

    /// The instances that the walk can still come to from where it stands, itself included.
    pub fn reachable(&self, flow: &Flow) -> BTreeSet<InstanceIdx> {
        let Stand::Asked(_, start) = self.stand else { return BTreeSet::new() };
        let mut marked = vec![false; flow.nodes.len()];
        if let Some(mark) = marked.get_mut(start) {
            *mark = true;
        }
        let mut found = BTreeSet::new();
        for (index, node) in flow.nodes.iter().enumerate().skip(start) {
            if !marked.get(index).copied().unwrap_or(false) {
                continue;
            }
            let targets = match node {
                Node::Ask { instance, to } => {
                    found.insert(*instance);
                    [*to, None]
                }
                Node::Test { yes, no, .. } => [Some(*yes), Some(*no)],
                Node::Performed { to, .. } => [Some(*to), None],
                Node::End => [None, None],
            };
            for target in targets.into_iter().flatten() {
                if let Some(mark) = marked.get_mut(target) {
                    *mark = true;
                }
            }
        }
        found
    }
}

/// What a condition reads of an answer.
pub fn value_of(ask: &Ask, answer: &Answer) -> Lookup {
    let word = |text: &str| match Name::new(text) {
        Ok(word) => Lookup::Value(Value::Word(word)),
        Err(_) => Lookup::Unanswered,
    };
    match answer {
        Answer::Read { reading, .. } | Answer::EnteredFigure(reading) => {
            Lookup::Value(Value::Quantity(reading.value.clone()))
        }
        Answer::WorkedOut(worked) => match &worked.result {
            Ok(reading) => Lookup::Value(Value::Quantity(reading.value.clone())),
            Err(_) => Lookup::NotApplicable,
        },
        Answer::Found(found) if matches!(ask, Ask::Look { several: true, .. }) => {
            Lookup::Value(Value::Words(found.clone()))
        }
        Answer::Found(found) => match found.first() {
            Some(word) => Lookup::Value(Value::Word(word.clone())),
            None => Lookup::Unanswered,
        },
        Answer::Entered(text) => {
            if matches!(ask, Ask::Enter { kind: EntryKind::Choice(_), .. }) {
                word(text)
            } else {
                Lookup::Value(Value::Text(text.clone()))
            }
        }
        Answer::CouldNotMeasure { .. } | Answer::Deviated { .. } | Answer::NotAttached { .. } => {
            Lookup::NotApplicable
        }
        Answer::Attached(_)
        | Answer::Done
        | Answer::Items(_)
        | Answer::Built(_)
        | Answer::Tightened(_)
        | Answer::Waited(_)
        | Answer::Released
        | Answer::Stopped => Lookup::Value(Value::Truth(true)),
        Answer::Decided { verdict, .. } => word(verdict.word()),
    }
}

/// Whether the outcome of an answer is this one; verdicts in force are the walk's to know.
pub fn comes_out(ask: &Ask, answer: &Answer, is: &Outcome) -> bool {
    match (is, answer) {
        (Outcome::Found(finding), Answer::Found(found)) => found.contains(finding),
        (Outcome::NotSo, Answer::Items(items)) => items.contains(&false),
        (Outcome::NotSo, Answer::Built(laid)) => laid.iter().any(|layer| !layer.so),
        (Outcome::NotSo, Answer::Tightened(rounds)) => is_not_so(ask, rounds),
        (Outcome::TooLate, Answer::Waited(waited)) => too_late(ask, waited).is_some(),
        (Outcome::CouldNotMeasure, Answer::CouldNotMeasure { .. }) => true,
        (Outcome::CouldNotMeasure, Answer::WorkedOut(worked)) => worked.result.is_err(),
        (Outcome::Below, _) => decision(ask, answer) == Some(Decision::Below),
        (Outcome::Above, _) => decision(ask, answer) == Some(Decision::Above),
        (Outcome::NotProven, _) => decision(ask, answer) == Some(Decision::NotProven),
        _ => false,
    }
}

/// What is said of the figure of an answer; `None` without a figure, or one that nothing is said of.
pub fn decision(ask: &Ask, answer: &Answer) -> Option<Decision> {
    match (ask, answer) {
        (Ask::Measure(note), Answer::Read { reading, instrument, .. }) => {
            note.decision(reading, instrument)
        }
        (Ask::WorkOut(note), Answer::WorkedOut(worked)) => note.side(worked).map(Decision::from),
        _ => None,
    }
}

/// The grade of a reading; not applicable where it has none.
pub fn grade_of(ask: &Ask, answer: &Answer) -> Lookup {
    let (Ask::Measure(note), Answer::Read { reading, .. }) = (ask, answer) else {
        return Lookup::NotApplicable;
    };
    let grade = note.against.criterion().and_then(|criterion| criterion.grade(&reading.value));
    let word = grade.and_then(|grade| Name::new(grade.name.as_str()).ok());
    word.map_or(Lookup::NotApplicable, |word| Lookup::Value(Value::Word(word)))
}

fn is_not_so(ask: &Ask, rounds: &[Round]) -> bool {
    matches!(ask, Ask::Tighten(note) if note.is_not_so(rounds))
}

/// The verdict that the rules give to an answer; `None` for answers that are no inspection, and for
/// answers that do not belong to the question.
pub fn judge(ask: &Ask, answer: &Answer) -> Option<Verdict> {
    match (ask, answer) {
        (Ask::Check { not_so, .. }, Answer::Items(items)) => {
            Some(if items.contains(&false) { not_so.verdict } else { Verdict::Accept })
        }
        (Ask::Look { findings, .. }, Answer::Found(found)) => findings
            .iter()
            .filter(|finding| found.contains(&finding.id))
            .map(|finding| finding.exit.verdict)
            .max(),
        (Ask::Measure(note), Answer::CouldNotMeasure { .. }) => {
            Some(note.could_not_measure.verdict)
        }
        (Ask::Measure(note), Answer::Read { .. }) => note.verdict(decision(ask, answer)?),
        // Without a limit it is a figure and no inspection, unless no figure came.
        (Ask::WorkOut(note), Answer::WorkedOut(worked)) => match note.exit(worked) {
            Some(exit) => Some(exit.verdict),
            None => note.limit.is_some().then_some(Verdict::Accept),
        },
        (Ask::Build { not_so, .. }, Answer::Built(laid)) => {
            let not = laid.iter().any(|layer| !layer.so);
            Some(if not { not_so.verdict } else { Verdict::Accept })
        }
        (Ask::Tighten(note), Answer::Tightened(rounds)) => {
            let not = note.is_not_so(rounds);
            Some(if not { note.not_so.verdict } else { Verdict::Accept })
        }
        (Ask::Decide { .. }, Answer::Decided { verdict, .. }) => Some(*verdict),
        (Ask::Stop(_), Answer::Stopped) => Some(Verdict::Stop),
        (Ask::Hold(_), Answer::Released) => Some(Verdict::Accept),
        (Ask::Wait { too_late: Some(_), .. }, Answer::Waited(waited)) => {
            Some(too_late(ask, waited).map_or(Verdict::Accept, |exit| exit.verdict))
        }
        _ => None,
    }
}

impl Walk {
    /// The verdict that the rules give to the answer of `index`, other answers considered: what its
    /// limit is a share of, and two independent readings that lie too far apart, which are for a
    /// mechanic.
    pub fn judge_at(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
        answer: &Answer,
    ) -> Option<Verdict> {
        let ask = self.ask(flow, answers, index);
        let verdict = judge(&ask, answer);
        if let (Ask::Measure(note), Answer::Read { reading, .. }) = (ask.as_ref(), answer)
            && let Some(second) = &note.second_of
            && let Some(Answer::Read { reading: first, .. }) = answers.answer(second.first)
        {
            let apart = reading.value.minus(&first.value);
            let agree = apart.is_some_and(|apart| {
                apart.lies_in(&(second.agree_within.negated(), second.agree_within.clone()))
            });
            if !agree {
                return verdict.max(Some(Verdict::Refer));
            }
        }
        verdict
    }
}

/// The exits that an answer takes: what each says and which parts it adds.
pub fn exits_taken<'a>(ask: &'a Ask, answer: &Answer) -> Vec<&'a ExitNote> {
    match (ask, answer) {
        (Ask::Check { not_so, .. }, Answer::Items(items)) if items.contains(&false) => vec![not_so],
        (Ask::Look { findings, .. }, Answer::Found(found)) => {
            findings.iter().filter(|f| found.contains(&f.id)).map(|f| &f.exit).collect()
        }
        (Ask::Measure(note), Answer::CouldNotMeasure { .. }) => vec![&note.could_not_measure],
        (Ask::Measure(note), Answer::Read { .. }) => {
            decision(ask, answer).and_then(|decision| note.exit(decision)).into_iter().collect()
        }
        (Ask::WorkOut(note), Answer::WorkedOut(worked)) => note.exit(worked).into_iter().collect(),
        (Ask::Build { not_so, .. }, Answer::Built(laid)) if laid.iter().any(|l| !l.so) => {
            vec![not_so]
        }
        (Ask::Tighten(note), Answer::Tightened(rounds)) if note.is_not_so(rounds) => {
            vec![&note.not_so]
        }
        (Ask::Wait { .. }, Answer::Waited(waited)) => too_late(ask, waited).into_iter().collect(),
        _ => Vec::new(),
    }
}

/// The exit of a wait that took longer than it may.
fn too_late<'a>(ask: &'a Ask, waited: &Waited) -> Option<&'a ExitNote> {
    let Ask::Wait { too_late: Some((at_most_s, exit)), .. } = ask else { return None };
    (waited.at_longest_s > *at_most_s).then_some(exit)
}

/// Every part that an exit of `ask` may call for, once each.
pub fn parts_of(ask: &Ask) -> Vec<PartId> {
    let exits: Vec<&ExitNote> = match ask {
        Ask::Check { not_so, .. } | Ask::Build { not_so, .. } => vec![not_so],
        Ask::Tighten(note) => vec![&note.not_so],
        Ask::Look { findings, .. } => findings.iter().map(|f| &f.exit).collect(),
        Ask::Measure(note) => note.exits().collect(),
        Ask::WorkOut(note) => note.exits().collect(),
        Ask::Needs(_)
        | Ask::Do(_)
        | Ask::Enter { .. }
        | Ask::Attach { .. }
        | Ask::Decide { .. }
        | Ask::Hold(_)
        | Ask::Stop(_) => Vec::new(),
        Ask::Wait { too_late, .. } => too_late.iter().map(|(_, exit)| exit).collect(),
    };
    let mut parts: Vec<PartId> = exits.iter().flat_map(|exit| exit.parts.clone()).collect();
    parts.sort();
    parts.dedup();
    parts
}
