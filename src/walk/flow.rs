//! The flow graph: every step instance of a procedure with all it performs, and the ways between.
//!
//! Runner and prover share this graph and [`Flow::next`]; the runner evaluates guards over answers,
//! a prover enumerates their truth. Repeats and reworks are unrolled to their bounds, so the graph
//! has no circles and every edge leads to a node with a greater index.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use super::address::Address;
use super::measure::{Against, MeasureNote};
use super::stack::LayerNote;
use super::tighten::TightenNote;
use super::work_out::WorkOutNote;
use crate::equipment::model::Equipment;
use crate::expr::Expr;
use crate::ids::{EquipmentId, Name, PartId, ProcedureId, Revision, Role, TokenId};
use crate::procedure::model::{
    EntryKind, Finding, HeadlineNote, Mode, Phase, Promise, SafetyText, StopText, Token, Verdict,
};
use crate::source::{At, Span};
use crate::units::Quantity;

/// A step instance, by its index in [`Flow::instances`].
pub type InstanceIdx = usize;
/// A node, by its index in [`Flow::nodes`].
pub type NodeIdx = usize;
/// A guard, by its index in [`Flow::guards`].
pub type GuardIdx = usize;

/// A compiled procedure.
#[derive(Debug, Clone)]
pub struct Flow {
    /// The top procedure.
    pub procedure: ProcedureId,
    /// Its title.
    pub title: String,
    /// Its revision.
    pub revision: Revision,
    /// Who signs for the job.
    pub signed_by: Role,
    /// The fit-outs that it is written for; empty for all.
    pub fit_outs: Vec<String>,
    /// The equipment it was joined with.
    pub equipment: Arc<Equipment>,
    /// Every procedure of the closure with its revision and title.
    pub procedures: BTreeMap<ProcedureId, (Revision, String)>,
    /// Every step instance, in walk order.
    pub instances: Vec<Instance>,
    /// The nodes; the walk starts at the first.
    pub nodes: Vec<Node>,
    /// The guards.
    pub guards: Vec<Guard>,
    /// The blocks whose members may be walked in any order, an inner one before those around it.
    pub any_orders: Vec<AnyOrder>,
    /// The tokens of all procedures.
    pub tokens: BTreeMap<TokenId, Token>,
    /// The promises of all procedures, resolved to instances.
    pub promises: Vec<ResolvedPromise>,
    /// What performed procedures take over from those that perform them.
    pub assumed: Vec<Assumed>,
    by_address: BTreeMap<Address, InstanceIdx>,
}

impl Flow {
    pub(super) fn assemble(parts: FlowParts, equipment: Arc<Equipment>) -> Self {
        let by_address =
            parts.instances.iter().enumerate().map(|(i, x)| (x.address.clone(), i)).collect();
        Self {
            procedure: parts.procedure,
            title: parts.title,
            revision: parts.revision,
            signed_by: parts.signed_by,
            fit_outs: parts.fit_outs,
            equipment,
            procedures: parts.procedures,
            instances: parts.instances,
            nodes: parts.nodes,
            guards: parts.guards,
            any_orders: parts.any_orders,
            tokens: parts.tokens,
            promises: parts.promises,
            assumed: parts.assumed,
            by_address,
        }
    }

    /// The instance that `address` names.
    pub fn find(&self, address: &Address) -> Option<InstanceIdx> {
        self.by_address.get(address).copied()
    }

    /// An instance that the flow itself numbered.
    pub fn instance(&self, index: InstanceIdx) -> &Instance {
        self.instances.get(index).expect("internal: instance indices come from this flow")
    }

    /// A node that the flow itself numbered.
    pub fn node(&self, index: NodeIdx) -> &Node {
        self.nodes.get(index).expect("internal: node indices come from this flow")
    }

    /// A guard that the flow itself numbered.
    pub fn guard(&self, index: GuardIdx) -> &Guard {
        self.guards.get(index).expect("internal: guard indices come from this flow")
    }

    /// Where the walk goes from a node, given what its guard came to (ignored where there is none).
    /// `None` at the ends.
    pub fn next(&self, node: NodeIdx, truth: bool) -> Option<NodeIdx> {
        match self.node(node) {
            Node::Ask { to, .. } => *to,
            Node::Test { yes, no, .. } => Some(if truth { *yes } else { *no }),
            Node::Performed { to, .. } => Some(*to),
            Node::End => None,
        }
    }

    /// Where the walk goes from `at`: to `next`, or with `None` past a step that is open. `open` are
    /// the nodes of all open steps so far.
    ///
    /// A section of free order is left only once nothing in it is open; until then the walk looks
    /// at its other members. `None` where it must wait.
    pub fn onward(&self, at: NodeIdx, next: Option<NodeIdx>, open: &[NodeIdx]) -> Option<NodeIdx> {
        let mut waits = next.is_none();
        // Inner blocks come first.
        for order in self.any_orders.iter().filter(|order| order.range().contains(&at)) {
            let range = order.range();
            if !waits {
                if next.is_some_and(|next| range.contains(&next)) {
                    break;
                }
                waits = open.iter().any(|node| range.contains(node));
            }
            let member = order.members.iter().position(|member| member.contains(&at));
            if waits
                && let Some(other) = member.and_then(|m| order.members.get(m.saturating_add(1)))
            {
                return Some(other.start);
            }
        }
        next.filter(|_| !waits)
    }

    /// The files that the flow is made of: every procedure, and the equipment file.
    pub fn equipment_id(&self) -> &EquipmentId {
        &self.equipment.id.value
    }
}

/// A block whose members may be walked in any order: none reads what another writes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnyOrder {
    /// The nodes of each member, in file order; every way into a member enters at its first node.
    pub members: Vec<Range<NodeIdx>>,
}

impl AnyOrder {
    /// The nodes of all members.
    pub fn range(&self) -> Range<NodeIdx> {
        let start = self.members.first().map_or(0, |member| member.start);
        start..self.members.last().map_or(start, |member| member.end)
    }
}

/// What [`Flow::assemble`] is given.
pub(super) struct FlowParts {
    pub(super) procedure: ProcedureId,
    pub(super) title: String,
    pub(super) revision: Revision,
    pub(super) signed_by: Role,
    pub(super) fit_outs: Vec<String>,
    pub(super) procedures: BTreeMap<ProcedureId, (Revision, String)>,
    pub(super) instances: Vec<Instance>,
    pub(super) nodes: Vec<Node>,
    pub(super) guards: Vec<Guard>,
    pub(super) any_orders: Vec<AnyOrder>,
    pub(super) tokens: BTreeMap<TokenId, Token>,
    pub(super) promises: Vec<ResolvedPromise>,
    pub(super) assumed: Vec<Assumed>,
}

/// One instance of a step.
#[derive(Debug, Clone)]
pub struct Instance {
    /// Its canonical name.
    pub address: Address,
    /// The procedure that the step stands in.
    pub procedure: ProcedureId,
    /// The titles of the sections and performed procedures around it, outermost first.
    pub within: Vec<String>,
    /// Where the step is written; `None` for what the program asks by itself.
    pub span: Option<Span>,
    /// What is asked.
    pub ask: Ask,
    /// Who answers.
    pub by: Role,
    /// Safety text, worst first.
    pub safety: Vec<SafetyText>,
    /// What good looks like.
    pub expect: Option<String>,
    /// Why the step is there.
    pub why: Option<String>,
    /// As found or as left.
    pub phase: Option<Phase>,
    /// Its answer stands on the first page of the report.
    pub headline: Option<HeadlineNote>,
    /// Tools and supplies.
    pub uses: Vec<Name>,
    /// Parts that go in when it is done.
    pub fits: Vec<PartId>,
    /// Tokens set when it is answered.
    pub sets: Vec<TokenId>,
    /// Tokens cleared when it is answered.
    pub clears: Vec<TokenId>,
    /// Tokens without which it may not be answered.
    pub needs: Vec<TokenId>,
    /// Who may put another verdict in place of the rules' own.
    pub concession: Option<Role>,
    /// The reading as found that cannot be taken again once it is answered.
    pub disturbs: Option<Expr<Ref>>,
    /// Who is told before it is answered.
    pub witness: Option<Role>,
    /// How the machine is left when the work is stopped here.
    pub safe_state: Option<Arc<str>>,
    /// What may happen here at any moment, and what is done then.
    pub standing: Arc<[StandingNote]>,
    /// Whether its section is read and done, or done and confirmed.
    pub mode: Mode,
    /// Whether a mechanic may let it be left out or done otherwise.
    pub deviation: Deviation,
    /// True for later passes, decisions and stops by an exit: they count only once begun.
    pub begun_only: bool,
}

/// Whether a step may be left out or done otherwise than written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deviation {
    /// With a mechanic's signature and a reason.
    Allowed,
    /// Not: why, as the end of a sentence that begins with the step.
    Barred(&'static str),
}

/// Something that may happen at any step in its scope.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandingNote {
    /// Its name.
    pub id: Name,
    /// What is seen.
    pub see: String,
    /// What is done at once.
    pub then: String,
}

/// The first of two independent readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SecondOf {
    /// Where the first one is asked.
    pub first: InstanceIdx,
    /// How far the two may lie apart.
    pub agree_within: Quantity,
}

/// What an instance asks for, with everything looked up.
#[derive(Debug, Clone)]
pub enum Ask {
    /// What must be at hand before step 1, line by line.
    Needs(Vec<String>),
    /// An instruction.
    Do(String),
    /// A list.
    Check {
        /// What it is about.
        text: String,
        /// Its items.
        items: Vec<String>,
        /// What follows when an item is not so.
        not_so: ExitNote,
    },
    /// Findings.
    Look {
        /// What to look at.
        text: String,
        /// True when several may be picked.
        several: bool,
        /// The findings, in file order.
        findings: Vec<FindingNote>,
    },
    /// A reading.
    Measure(Box<MeasureNote>),
    /// A figure that the program works out.
    WorkOut(Box<WorkOutNote>),
    /// A stack.
    Build {
        /// What is built.
        text: String,
        /// The stack in words.
        stack: String,
        /// Its layers, from the first in to the last in.
        layers: Vec<LayerNote>,
        /// True when the liquid runs from the first in to the last in.
        flows_to_last: bool,
        /// What follows when a layer does not lie as it must.
        not_so: ExitNote,
    },
    /// Fasteners.
    Tighten(Box<TightenNote>),
    /// A fact.
    Enter {
        /// What to enter.
        text: String,
        /// What is accepted.
        kind: EntryKind,
    },
    /// A photo or file.
    Attach {
        /// What it shows.
        text: String,
        /// True when the job goes on without it.
        may_lack: bool,
    },
    /// A decision on another instance's outcome, or on a bound that was reached.
    Decide {
        /// The instance whose verdict is decided; `None` for a repeat's bound.
        about: Option<InstanceIdx>,
        /// What the decider is told.
        say: String,
        /// The verdicts that may be given.
        may: Vec<Verdict>,
        /// The parts that a `replace` adds.
        parts: Vec<PartId>,
    },
    /// A hold.
    Hold(String),
    /// A time that passes.
    Wait {
        /// What happens meanwhile.
        text: String,
        /// How long, in seconds.
        length_s: u64,
        /// The longest that it may take, in seconds, and what follows when it took longer.
        too_late: Option<(u64, ExitNote)>,
    },
    /// The end of the job before its end.
    Stop(StopText),
}

impl Ask {
    /// The one line that is shown large.
    pub fn text(&self) -> &str {
        match self {
            Self::Needs(_) => "Before you begin: confirm each line",
            Self::Do(text)
            | Self::Hold(text)
            | Self::Wait { text, .. }
            | Self::Check { text, .. }
            | Self::Look { text, .. }
            | Self::Build { text, .. }
            | Self::Enter { text, .. }
            | Self::Attach { text, .. }
            | Self::Decide { say: text, .. } => text,
            Self::Tighten(note) => &note.text,
            Self::Measure(note) => &note.text,
            Self::WorkOut(note) => &note.text,
            Self::Stop(stop) => &stop.text,
        }
    }

    /// The action's word.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Needs(_) => "needs",
            Self::Do(_) => "do",
            Self::Check { .. } => "check",
            Self::Look { .. } => "look",
            Self::Measure(_) => "measure",
            Self::WorkOut(_) => "work_out",
            Self::Build { .. } => "build",
            Self::Tighten(_) => "tighten",
            Self::Enter { .. } => "enter",
            Self::Attach { .. } => "attach",
            Self::Decide { .. } => "decide",
            Self::Hold(_) => "hold",
            Self::Wait { .. } => "wait",
            Self::Stop(_) => "stop",
        }
    }

    /// The items of a list that is confirmed line by line.
    pub fn items(&self) -> Option<&[String]> {
        match self {
            Self::Needs(items) | Self::Check { items, .. } => Some(items),
            Self::Do(_)
            | Self::Look { .. }
            | Self::Measure(_)
            | Self::WorkOut(_)
            | Self::Build { .. }
            | Self::Tighten(_)
            | Self::Enter { .. }
            | Self::Attach { .. }
            | Self::Decide { .. }
            | Self::Hold(_)
            | Self::Wait { .. }
            | Self::Stop(_) => None,
        }
    }

    /// True for an independent second reading.
    pub fn is_second(&self) -> bool {
        matches!(self, Self::Measure(note) if note.second_of.is_some())
    }

    /// What the question itself reads of earlier answers.
    pub fn formulas(&self) -> Vec<&Expr<Ref>> {
        match self {
            Self::WorkOut(note) => note.formulas().collect(),
            Self::Measure(note) => match &note.against {
                Against::Share(share) => vec![&share.of],
                Against::Fixed(_) => Vec::new(),
            },
            Self::Needs(_)
            | Self::Do(_)
            | Self::Check { .. }
            | Self::Look { .. }
            | Self::Build { .. }
            | Self::Tighten(_)
            | Self::Enter { .. }
            | Self::Attach { .. }
            | Self::Decide { .. }
            | Self::Hold(_)
            | Self::Wait { .. }
            | Self::Stop(_) => Vec::new(),
        }
    }

    /// True for what a mechanic may let be left out; other steps can only be done otherwise.
    pub fn may_be_left_out(&self) -> bool {
        match self {
            Self::Do(_)
            | Self::Check { .. }
            | Self::Look { .. }
            | Self::Measure(_)
            | Self::Enter { .. }
            | Self::Attach { .. } => true,
            Self::Needs(_)
            | Self::WorkOut(_)
            | Self::Build { .. }
            | Self::Tighten(_)
            | Self::Decide { .. }
            | Self::Hold(_)
            | Self::Wait { .. }
            | Self::Stop(_) => false,
        }
    }

    /// True when the answer must be signed in its entry.
    pub fn is_signed(&self) -> bool {
        matches!(self, Self::Decide { .. } | Self::Hold(_))
    }
}

/// What the walk needs to know of an exit; where it leads is in the graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExitNote {
    /// The verdict.
    pub verdict: Verdict,
    /// What the person is told.
    pub say: Option<String>,
    /// Parts added by a `replace`.
    pub parts: Vec<PartId>,
}

/// What the walk needs to know of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingNote {
    /// Its name.
    pub id: Name,
    /// What it looks like.
    pub see: String,
    /// A likely cause.
    pub likely_cause: Option<String>,
    /// What follows.
    pub exit: ExitNote,
}

impl FindingNote {
    pub(super) fn of(finding: &Finding) -> Self {
        Self {
            id: finding.id.value.clone(),
            see: finding.see.clone(),
            likely_cause: finding.likely_cause.clone(),
            exit: ExitNote::of(&finding.exit),
        }
    }
}

impl ExitNote {
    pub(super) fn of(exit: &crate::procedure::model::Exit) -> Self {
        Self {
            verdict: exit.verdict,
            say: exit.say.clone(),
            parts: exit.parts.iter().map(|p| p.value.clone()).collect(),
        }
    }
}

/// A node of the graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Node {
    /// An instance is asked.
    Ask {
        /// The instance.
        instance: InstanceIdx,
        /// Where the walk goes once it is answered; `None` after a stop.
        to: Option<NodeIdx>,
    },
    /// A guard is read.
    Test {
        /// The guard.
        guard: GuardIdx,
        /// Where the walk goes when it is true.
        yes: NodeIdx,
        /// Where the walk goes when it is false.
        no: NodeIdx,
        /// Instances that are not applicable when it is false.
        skipped: Range<InstanceIdx>,
    },
    /// A performed procedure is left by its end; only where it promises something about it.
    Performed {
        /// The procedure.
        procedure: ProcedureId,
        /// The step that performs it.
        address: Address,
        /// Where the walk goes on.
        to: NodeIdx,
    },
    /// All steps are done.
    End,
}

/// What a test reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Guard {
    /// A condition of the author's.
    Condition {
        /// As written.
        text: String,
        /// As resolved.
        expr: Expr<Ref>,
        /// Whether it opens steps or ends a repeat.
        kind: ConditionKind,
    },
    /// The outcome of an instance.
    Outcome {
        /// The instance.
        instance: InstanceIdx,
        /// What its outcome is compared with.
        is: Outcome,
    },
    /// The fit-out is one of those that a performed procedure is written for.
    FitOut {
        /// The letters.
        letters: Vec<String>,
    },
}

impl Guard {
    /// The guard in the author's words, for "not applicable: …".
    pub fn text(&self, flow: &Flow) -> String {
        match self {
            Self::Condition { text, .. } => text.clone(),
            Self::Outcome { instance, is } => {
                format!("{} of {}", is.text(), flow.instance(*instance).address)
            }
            Self::FitOut { letters } => format!("the fit-out is {}", letters.join(" or ")),
        }
    }
}

/// Whether a condition opens steps or ends a repeat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ConditionKind {
    /// `when`
    When,
    /// `until`
    Until,
}

/// An outcome to compare with.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// The finding is among those picked.
    Found(Name),
    /// The reading lies below its limit.
    Below,
    /// The reading lies above its limit.
    Above,
    /// The rule of the limit proves neither.
    NotProven,
    /// There is no reading.
    CouldNotMeasure,
    /// An item is not so.
    NotSo,
    /// The wait took too long.
    TooLate,
    /// The verdict in force is this one.
    Verdict(Verdict),
}

impl Outcome {
    fn text(&self) -> String {
        match self {
            Self::Found(name) => format!("finding `{name}`"),
            Self::Below => "a reading below the limit".to_owned(),
            Self::Above => "a reading above the limit".to_owned(),
            Self::NotProven => "a reading that proves neither".to_owned(),
            Self::CouldNotMeasure => "no reading".to_owned(),
            Self::NotSo => "an item that is not so".to_owned(),
            Self::TooLate => "a wait that took too long".to_owned(),
            Self::Verdict(verdict) => format!("decision {}", verdict.word()),
        }
    }
}

/// What a resolved name stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ref {
    /// An answer: the last visited of these instances (passes, in order).
    Answer {
        /// The passes.
        passes: Vec<InstanceIdx>,
        /// What of it.
        field: Field,
    },
    /// A setting of the fit-out.
    Setting(Name),
    /// A figure of the equipment file.
    Figure(Quantity),
    /// The name of a position.
    Position {
        /// Its kind.
        kind: Name,
        /// Its name.
        name: String,
    },
    /// A bare word that names nothing: a choice, if typing agrees.
    Word(Name),
}

/// What of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// The verdict in force.
    Verdict,
    /// The figure, finding, choice or text.
    Value,
    /// The grade of a reading.
    Grade,
}

/// A promise resolved to instances, for the prover.
#[derive(Debug, Clone)]
pub struct ResolvedPromise {
    /// As read.
    pub promise: Promise,
    /// The instances of `reach` or `before`; empty for `end`.
    pub target: Vec<InstanceIdx>,
    /// For `end`: the nodes at which the procedure that promises is left by its end.
    pub ends: Vec<NodeIdx>,
    /// The instances of `first`.
    pub first: Vec<InstanceIdx>,
    /// How many segments the address of `reach` or `before` itself has; those of steps inside it
    /// are longer.
    pub target_depth: usize,
    /// The same of `first`.
    pub first_depth: usize,
    /// The condition under which `reach` must not be entered, as resolved.
    pub when: Option<Expr<Ref>>,
    /// The procedure that promises.
    pub procedure: ProcedureId,
}

/// The states that a performed procedure takes over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumed {
    /// The node that it begins with.
    pub at: NodeIdx,
    /// True for the procedure that the job is about: nothing comes before it.
    pub top: bool,
    /// The procedure.
    pub procedure: ProcedureId,
    /// The states, and where the procedure names them.
    pub tokens: Vec<At<TokenId>>,
}
