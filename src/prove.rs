//! Proof: every path of a procedure, and the shortest script that breaks a promise.
//!
//! Works on the graph that the walk walks, with every answer, every fit-out and every decision that
//! a person may give. What it covers are the instructions, with answers as they stood: not answers
//! that are corrected later, and not what hands did.

mod classes;
mod explore;
mod facts;
mod lapse;
mod script;
mod term;
mod watch;
mod words;
mod yaml;

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigUint;

use crate::ids::{ProcedureId, TokenId};
use crate::procedure::model::Promise;
use crate::source::Span;
use crate::walk::flow::{Flow, Guard, InstanceIdx, Node};
pub use classes::{Class, N_FINDINGS_TOGETHER_MAX, TooMany};
pub use explore::N_STATES_MAX;
use explore::{Broken, Explorer, Left, classes_of};
pub use script::{Lapse, Script};
pub use words::diagnostics;
pub use yaml::{Cast, rehearsal, scripted, to_yaml};

/// What is promised.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// A promise of a procedure, by its index in the flow.
    Promise(usize),
    /// A step needs a state of the machine that is in force.
    Needs(InstanceIdx, TokenId),
    /// A performed procedure takes over a state of the machine.
    Assumes(ProcedureId, TokenId),
    /// A step is asked again once the state that it sets has lapsed, and needs another one then.
    Again(InstanceIdx, TokenId),
}

/// What became of a promise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Proof {
    /// It holds on every path.
    Proved,
    /// The script breaks it.
    Broken(Script),
    /// Some path may break it, and no answers were found that do; with that path, if there is one.
    NotProven(Doubt, Option<Script>),
}

/// Why something is not proven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// It hangs on how several readings compare.
    Relation,
    /// It hangs on the order of steps whose order is free.
    FreeOrder,
    /// Not everything could be looked at.
    Unfinished(&'static str),
}

/// A promise, its place and its proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proven {
    /// What is promised.
    pub subject: Subject,
    /// Where it is written.
    pub span: Option<Span>,
    /// What became of it.
    pub proof: Proof,
}

/// A condition that always comes out the same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Constant {
    /// Where it is written.
    pub span: Span,
    /// As written.
    pub text: String,
    /// What it always is.
    pub truth: bool,
}

/// What a proof comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// Every promise, and every state that is needed and not in force.
    pub promises: Vec<Proven>,
    /// Steps that no path comes to, by where they are written.
    pub dead: BTreeMap<Span, String>,
    /// Conditions that always come out the same.
    pub constant: BTreeSet<Constant>,
    /// How many fit-outs were looked at.
    pub n_fit_outs: usize,
    /// How many paths there are, counted by classes of answers.
    pub n_paths: BigUint,
    /// How many states were looked at.
    pub n_states: usize,
    /// Why not everything was looked at.
    pub unfinished: Option<&'static str>,
}

impl Report {
    /// The promises that break.
    pub fn broken(&self) -> impl Iterator<Item = (&Proven, &Script)> {
        self.promises.iter().filter_map(|proven| match &proven.proof {
            Proof::Broken(script) => Some((proven, script)),
            Proof::Proved | Proof::NotProven(..) => None,
        })
    }
}

/// Proves all that is promised of `flow`.
pub fn prove(flow: &Flow) -> Report {
    let (explored, left) = Explorer::new(flow).run();
    let mut promises = Vec::new();
    for (number, resolved) in flow.promises.iter().enumerate() {
        let span = match &resolved.promise {
            Promise::NeverReach { step, .. } => step.span,
            Promise::FirstBefore { before, .. } => before.span,
        };
        let found = explored.broken.get(&Broken::Promise(number));
        let proof = match found {
            Some(found) => {
                let script = script(flow, &left, &explored, found);
                settle(flow, &left.facts, script, resolved.when.as_ref())
            }
            None if left.free_order.contains(&number) => Proof::NotProven(Doubt::FreeOrder, None),
            None => explored
                .unfinished
                .map_or(Proof::Proved, |why| Proof::NotProven(Doubt::Unfinished(why), None)),
        };
        promises.push(Proven { subject: Subject::Promise(number), span: Some(span), proof });
    }
    promises.extend(states(flow, &left, &explored));
    let no_gaps = explored.unfinished.is_none()
        && !explored.broken.keys().any(|broken| matches!(broken, Broken::Needs(..)));
    Report {
        promises,
        dead: if no_gaps { dead(flow, &explored) } else { BTreeMap::new() },
        constant: if no_gaps { constant(flow, &explored) } else { BTreeSet::new() },
        n_fit_outs: classes::plates(&flow.equipment, &flow.fit_outs).len(),
        n_paths: explored.n_paths,
        n_states: explored.n_states,
        unfinished: explored.unfinished,
    }
}

/// The states that are needed and not in force, each step and state once, by its shortest script.
fn states(flow: &Flow, left: &Left, explored: &explore::Explored) -> Vec<Proven> {
    let mut best: BTreeMap<(Option<Span>, TokenId), (explore::Rank, Subject, explore::Found)> =
        BTreeMap::new();
    for (broken, found) in &explored.broken {
        let (span, token, subject) = match broken {
            Broken::Promise(_) => continue,
            Broken::Needs(instance, token) => {
                let span = flow.instance(*instance).span;
                (span, token, Subject::Needs(*instance, token.clone()))
            }
            Broken::Again(instance, token) => {
                let span = flow.instance(*instance).span;
                (span, token, Subject::Again(*instance, token.clone()))
            }
            Broken::Assumes(number, token) => {
                let Some(assumed) = flow.assumed.get(*number) else { continue };
                let span = assumed.tokens.iter().find(|t| t.value == *token).map(|t| t.span);
                (span, token, Subject::Assumes(assumed.procedure.clone(), token.clone()))
            }
        };
        let known = best.entry((span, token.clone()));
        let entry = known.or_insert_with(|| (found.rank, subject.clone(), *found));
        if found.rank < entry.0 {
            *entry = (found.rank, subject, *found);
        }
    }
    best.into_iter()
        .map(|((span, _), (_, subject, found))| {
            let script = script(flow, left, explored, &found);
            Proven { subject, span, proof: settle(flow, &left.facts, script, None) }
        })
        .collect()
}

fn script(
    flow: &Flow,
    left: &Left,
    explored: &explore::Explored,
    found: &explore::Found,
) -> Script {
    let answers = explored.path(flow, found).into_iter().filter_map(|(instance, class)| {
        let classes = classes_of(flow, &left.facts, instance).ok()?;
        classes.get(class as usize).map(|class| (instance, class.clone()))
    });
    let answers = answers.collect();
    let lapse = found
        .lapse
        .and_then(|(asks, fact)| Some(Lapse { token: left.lapsing.get(&fact)?.clone(), asks }));
    let mut script = Script { answers, at: None, lapse };
    script.at = match flow.node(found.at) {
        Node::Ask { instance, .. } => Some(*instance),
        // A procedure may begin with a test; what it asks first is for the walk to say.
        Node::Test { .. } | Node::Performed { .. } => script.asked(flow),
        Node::End => None,
    };
    script
}

fn settle(
    flow: &Flow,
    facts: &facts::Facts,
    script: Script,
    when: Option<&crate::expr::Expr<crate::walk::flow::Ref>>,
) -> Proof {
    let other = |instance| classes_of(flow, facts, instance).unwrap_or_default();
    match script.tried(flow, when, &other) {
        Ok(script) => Proof::Broken(script),
        Err(script) => Proof::NotProven(Doubt::Relation, Some(script)),
    }
}

/// Steps whose every instance is out of reach, but for those behind a condition that is never true:
/// that is told of the condition.
fn dead(flow: &Flow, explored: &explore::Explored) -> BTreeMap<Span, String> {
    let mut alive: BTreeMap<Span, (bool, String)> = BTreeMap::new();
    let mut told: BTreeSet<InstanceIdx> = BTreeSet::new();
    for (node, reached) in flow.nodes.iter().zip(&explored.reached) {
        if let Node::Test { guard, skipped, .. } = node
            && matches!(flow.guard(*guard), Guard::Condition { .. })
            && explored.truths.get(*guard) == Some(&(false, true))
        {
            told.extend(skipped.clone());
        }
        let Node::Ask { instance: number, .. } = node else { continue };
        let reached = reached | told.contains(number);
        let instance = flow.instance(*number);
        if let Some(span) = instance.span {
            let name = || (false, instance.address.to_string());
            alive.entry(span).or_insert_with(name).0 |= reached;
        }
    }
    alive
        .into_iter()
        .filter(|(_, (alive, _))| !alive)
        .map(|(span, (_, name))| (span, name))
        .collect()
}

/// Conditions of the author's that come out the same at every place and in every state.
fn constant(flow: &Flow, explored: &explore::Explored) -> BTreeSet<Constant> {
    let mut seen: BTreeMap<Span, (bool, bool, String)> = BTreeMap::new();
    for (guard, (may_true, may_false)) in flow.guards.iter().zip(&explored.truths) {
        let Guard::Condition { text, expr, .. } = guard else { continue };
        // The program's own: which step of `one_of` was chosen.
        if text.starts_with("chosen == ") {
            continue;
        }
        let entry = seen.entry(expr.span()).or_insert((false, false, text.clone()));
        entry.0 |= *may_true;
        entry.1 |= *may_false;
    }
    seen.into_iter()
        .filter(|(_, (may_true, may_false, _))| may_true != may_false)
        .map(|(span, (truth, _, text))| Constant { span, text, truth })
        .collect()
}
