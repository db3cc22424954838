//! Joins a procedure with all it performs and with an equipment file into one [`Flow`].
//!
//! Reports everything that no single file can know: missing references, units that do not fit,
//! names that stand for nothing, conditions read before they are answered.

mod any_order;
mod ask;
mod build;
mod declare;
mod departures;
mod parts;
mod promises;
mod sections;
mod tighten;
mod work_out;

pub use parts::parts_not_used;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::address::{Address, Segment};
use super::flow::{
    AnyOrder, Ask, Assumed, ConditionKind, Flow, FlowParts, Guard, GuardIdx, Instance, InstanceIdx,
    Node, NodeIdx, Outcome, Ref, ResolvedPromise, StandingNote,
};
use super::names::{Declared, Place, Resolver, StaticPath};
use super::reached;
use crate::diag::{Code, Diagnostic, has_errors};
use crate::equipment::model::Equipment;
use crate::expr::{Expr, typing};
use crate::ids::{Name, PartId, ProcedureId, Role, StepId, TokenId};
use crate::procedure::model::{
    Action, Condition, CountRef, Exit, Mode, Otherwise, Procedure, Promise, Rework, Standing, Step,
    StopText, Verdict,
};
use crate::source::Span;
use ask::{plain_instance, step_instance};
use sections::Section;

/// The greatest number of nodes that a flow may have once repeats are unrolled.
pub const N_NODES_MAX: usize = 200_000;
/// The greatest number of passes of one repeat or rework.
pub const N_PASSES_MAX: u32 = 100;

/// The files that a flow is made of.
#[derive(Debug, Clone)]
pub struct Library {
    /// Procedures by id.
    pub procedures: BTreeMap<ProcedureId, Arc<Procedure>>,
    /// The equipment file.
    pub equipment: Arc<Equipment>,
}

/// The procedures that `steps` perform directly, in order.
pub fn performed(steps: &[Step]) -> Vec<ProcedureId> {
    let mut ids = Vec::new();
    each_step(steps, &mut |step| {
        if let Action::Perform { procedure } = &step.action {
            ids.push(procedure.value.clone());
        }
    });
    ids
}

/// Calls `seen` with every step, those of sections and exits included, in file order.
pub fn each_step<'a>(steps: &'a [Step], seen: &mut dyn FnMut(&'a Step)) {
    for step in steps {
        seen(step);
        match &step.action {
            Action::Section { steps, .. } => each_step(steps, seen),
            Action::Do { .. }
            | Action::Check { .. }
            | Action::Look { .. }
            | Action::Measure { .. }
            | Action::WorkOut(_)
            | Action::Build { .. }
            | Action::Tighten { .. }
            | Action::Enter { .. }
            | Action::Attach { .. }
            | Action::Hold { .. }
            | Action::Wait { .. }
            | Action::Perform { .. }
            | Action::Stop(_) => {
                for (_, exit) in ways(&step.action) {
                    each_step(&exit.steps, seen);
                }
            }
        }
    }
}

/// The outcomes of an action that have an exit of their own.
fn ways(action: &Action) -> Vec<(Outcome, &Exit)> {
    match action {
        Action::Check { not_so, .. } => vec![(Outcome::NotSo, not_so)],
        Action::Look { findings, .. } => findings
            .iter()
            .map(|finding| (Outcome::Found(finding.id.value.clone()), &finding.exit))
            .collect(),
        Action::Wait { too_late, .. } => {
            too_late.iter().map(|exit| (Outcome::TooLate, exit)).collect()
        }
        Action::Measure { below, above, not_proven, could_not_measure, .. } => {
            let below = below.as_ref().map(|exit| (Outcome::Below, exit));
            let above = above.as_ref().map(|exit| (Outcome::Above, exit));
            let neither = not_proven.as_ref().map(|exit| (Outcome::NotProven, exit));
            let none = Some((Outcome::CouldNotMeasure, could_not_measure));
            [below, above, neither, none].into_iter().flatten().collect()
        }
        Action::WorkOut(work) => {
            let below = work.below.as_ref().map(|exit| (Outcome::Below, exit));
            let above = work.above.as_ref().map(|exit| (Outcome::Above, exit));
            let none = Some((Outcome::CouldNotMeasure, &work.could_not_work_out));
            [below, above, none].into_iter().flatten().collect()
        }
        Action::Build { not_so, .. } | Action::Tighten { not_so, .. } => {
            vec![(Outcome::NotSo, not_so)]
        }
        Action::Do { .. }
        | Action::Enter { .. }
        | Action::Attach { .. }
        | Action::Hold { .. }
        | Action::Section { .. }
        | Action::Perform { .. }
        | Action::Stop(_) => Vec::new(),
    }
}

/// Compiles the procedure `top` of `library`.
///
/// # Errors
/// Every mistake of the files together; warnings come back with the flow.
pub fn compile(
    library: &Library,
    top: &ProcedureId,
    top_span: Span,
) -> (Option<Flow>, Vec<Diagnostic>) {
    let Some(procedure) = library.procedures.get(top) else {
        let missing = Diagnostic::error(
            Code::UndefinedReference,
            top_span,
            format!("there is no procedure `{top}`"),
        );
        return (None, vec![missing]);
    };
    let mut builder = Builder::new(library);
    builder.declare_procedure(procedure, (&[], &[]), &mut Vec::new());
    if has_errors(&builder.out) {
        return (None, dedupe(builder.out));
    }
    let context = Context {
        procedure,
        path: Vec::new(),
        root_len: 0,
        address: Address::default(),
        positions: Vec::new(),
        within: Vec::new(),
        safe_state: None,
        standing: Arc::default(),
        mode: Mode::default(),
        begun_only: false,
    };
    builder.procedure(procedure, &context);
    builder.emit(Node::End);
    // What was not laid cannot be looked at.
    if builder.out.iter().any(|found| found.code == Code::TooManySteps) {
        return (None, dedupe(builder.out));
    }
    builder.promises();
    let declared = builder.assigned_names();
    builder.out.extend(declared);
    let dependent = builder.dependent_members();
    builder.out.extend(dependent);
    builder.departures();
    let out = dedupe(std::mem::take(&mut builder.out));
    if has_errors(&out) {
        return (None, out);
    }
    let parts = FlowParts {
        procedure: top.clone(),
        title: procedure.title.clone(),
        revision: procedure.revision,
        signed_by: procedure.signed_by,
        fit_outs: procedure.fit_outs.iter().map(|letter| letter.value.clone()).collect(),
        procedures: builder.procedures,
        instances: builder.instances,
        nodes: builder.nodes,
        guards: builder.guards,
        any_orders: builder.any_orders.into_iter().map(|(order, _)| order).collect(),
        tokens: builder.tokens,
        promises: builder.resolved_promises,
        assumed: builder.assumed,
    };
    (Some(Flow::assemble(parts, Arc::clone(&library.equipment))), out)
}

/// A step compiled at many positions makes the same mistake at each: one mistake, one message.
fn dedupe(diagnostics: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut seen = BTreeSet::new();
    let mut kept: Vec<Diagnostic> = diagnostics
        .into_iter()
        .filter(|d| seen.insert((d.code, d.primary.span, d.headline.clone())))
        .collect();
    kept.sort_by_key(|d| (d.primary.span.file, d.primary.span.start));
    kept
}

/// Where the builder stands.
#[derive(Clone)]
struct Context<'a> {
    procedure: &'a Procedure,
    path: StaticPath,
    root_len: usize,
    address: Address,
    positions: Vec<(Name, String)>,
    within: Vec<String>,
    safe_state: Option<Arc<str>>,
    standing: Arc<[StandingNote]>,
    mode: Mode,
    begun_only: bool,
}

impl Context<'_> {
    fn place(&self) -> Place {
        Place {
            path: self.path.clone(),
            root_len: self.root_len,
            positions: self.positions.clone(),
        }
    }

    /// Takes up a block's own safe state and standing conditions.
    fn guard(&mut self, safe_state: Option<&String>, standing: &[Standing]) {
        if let Some(safe_state) = safe_state {
            self.safe_state = Some(Arc::from(safe_state.as_str()));
        }
        if !standing.is_empty() {
            let own = standing.iter().map(|standing| StandingNote {
                id: standing.id.value.clone(),
                see: standing.see.clone(),
                then: standing.then.clone(),
            });
            self.standing = self.standing.iter().cloned().chain(own).collect();
        }
    }

    /// The place inside a block called `id`.
    fn inside(&self, id: &StepId, positions: Vec<(Name, String)>, pass: u32) -> Self {
        let mut inner = self.clone();
        inner.path.push(id.clone());
        inner.positions.extend(positions.iter().cloned());
        inner.address = self.address.child(Segment { id: id.clone(), positions, pass });
        inner
    }
}

/// An edge that still needs its end.
#[derive(Clone, Copy)]
enum Open {
    To(NodeIdx),
    Yes(NodeIdx),
    No(NodeIdx),
}

const UNPATCHED: NodeIdx = usize::MAX;

struct Builder<'a> {
    library: &'a Library,
    equipment: &'a Equipment,
    declared: Declared,
    procedures: BTreeMap<ProcedureId, (crate::ids::Revision, String)>,
    instances: Vec<Instance>,
    nodes: Vec<Node>,
    guards: Vec<Guard>,
    guard_places: Vec<NodeIdx>,
    tokens: BTreeMap<TokenId, crate::procedure::model::Token>,
    open: Vec<Open>,
    any_orders: Vec<(AnyOrder, Span)>,
    concessions: Vec<(InstanceIdx, Span)>,
    fit_out_spans: Vec<(GuardIdx, Span)>,
    pending_promises: Vec<(ProcedureId, StaticPath, Promise)>,
    resolved_promises: Vec<ResolvedPromise>,
    assumed: Vec<Assumed>,
    out: Vec<Diagnostic>,
}

impl<'a> Builder<'a> {
    fn new(library: &'a Library) -> Self {
        Self {
            library,
            equipment: &library.equipment,
            declared: Declared::default(),
            procedures: BTreeMap::new(),
            instances: Vec::new(),
            nodes: Vec::new(),
            guards: Vec::new(),
            guard_places: Vec::new(),
            tokens: BTreeMap::new(),
            open: Vec::new(),
            any_orders: Vec::new(),
            concessions: Vec::new(),
            fit_out_spans: Vec::new(),
            pending_promises: Vec::new(),
            resolved_promises: Vec::new(),
            assumed: Vec::new(),
            out: Vec::new(),
        }
    }

    // --- the graph ---

    fn emit(&mut self, node: Node) -> NodeIdx {
        let index = self.nodes.len();
        for open in std::mem::take(&mut self.open) {
            let (Open::To(from) | Open::Yes(from) | Open::No(from)) = open;
            match (open, self.nodes.get_mut(from)) {
                (Open::To(_), Some(Node::Ask { to, .. })) => *to = Some(index),
                (Open::To(_), Some(Node::Performed { to, .. })) => *to = index,
                (Open::Yes(_), Some(Node::Test { yes, .. })) => *yes = index,
                (Open::No(_), Some(Node::Test { no, .. })) => *no = index,
                _ => unreachable!("internal: an open edge belongs to the node that it names"),
            }
        }
        self.nodes.push(node);
        index
    }

    fn full(&mut self, span: Span) -> bool {
        if self.nodes.len() < N_NODES_MAX {
            return false;
        }
        if !self.out.iter().any(|d| d.code == Code::TooManySteps) {
            self.out.push(
                Diagnostic::error(
                    Code::TooManySteps,
                    span,
                    format!(
                        "with all repeats and positions this has more than {N_NODES_MAX} places"
                    ),
                )
                .help("lower `at_most`, or split the procedure"),
            );
        }
        true
    }

    fn ask(&mut self, instance: Instance, path: StaticPath) -> InstanceIdx {
        let index = self.instances.len();
        self.instances.push(instance);
        self.declared.instances.entry(path).or_default().push(index);
        let node = self.emit(Node::Ask { instance: index, to: None });
        self.open = vec![Open::To(node)];
        index
    }

    /// Opens a test; `body` is built on its true side, and afterwards both sides are open.
    fn when(&mut self, guard: GuardIdx, body: impl FnOnce(&mut Self)) {
        let from = self.instances.len();
        let node = self.test(guard);
        self.open = vec![Open::Yes(node)];
        body(self);
        self.skip(node, from);
        self.open.push(Open::No(node));
    }

    fn test(&mut self, guard: GuardIdx) -> NodeIdx {
        let at = self.instances.len();
        let node = self.emit(Node::Test { guard, yes: UNPATCHED, no: UNPATCHED, skipped: at..at });
        if let Some(place) = self.guard_places.get_mut(guard) {
            *place = node;
        }
        node
    }

    fn skip(&mut self, node: NodeIdx, from: InstanceIdx) {
        let to = self.instances.len();
        if let Some(Node::Test { skipped, .. }) = self.nodes.get_mut(node) {
            *skipped = from..to;
        }
    }

    fn outcome(&mut self, instance: InstanceIdx, is: Outcome) -> GuardIdx {
        self.guard(Guard::Outcome { instance, is })
    }

    fn guard(&mut self, guard: Guard) -> GuardIdx {
        let index = self.guards.len();
        self.guards.push(guard);
        self.guard_places.push(UNPATCHED);
        index
    }

    fn condition(
        &mut self,
        condition: &Condition,
        place: &Place,
        kind: ConditionKind,
    ) -> Option<GuardIdx> {
        let expr = self.resolved(condition, place)?;
        Some(self.guard(Guard::Condition { text: condition.text.clone(), expr, kind }))
    }

    fn resolved(&mut self, condition: &Condition, place: &Place) -> Option<Expr<Ref>> {
        let resolver = Resolver {
            declared: &self.declared,
            instances: &self.instances,
            equipment: self.equipment,
        };
        let expr = resolver.resolve(&condition.expr, place, &mut self.out)?;
        let typed =
            typing::check_condition(expr, &|found| resolver.type_of(found), &|found| match found {
                Ref::Word(word) => Some(word.clone()),
                Ref::Answer { .. } | Ref::Setting(_) | Ref::Figure(_) | Ref::Position { .. } => {
                    None
                }
            });
        match typed {
            Ok(expr) => Some(expr),
            Err(diagnostics) => {
                for diagnostic in diagnostics {
                    let near = resolver.near(&condition.expr, &diagnostic, place);
                    self.out.push(match near {
                        Some(near) => diagnostic.help(format!("did you mean `{near}`?")),
                        None => diagnostic,
                    });
                }
                None
            }
        }
    }

    // --- steps ---

    fn procedure(&mut self, procedure: &'a Procedure, context: &Context<'a>) {
        if !procedure.assumes.is_empty() {
            self.assumed.push(Assumed {
                at: self.nodes.len(),
                top: context.path.is_empty(),
                procedure: procedure.id.value.clone(),
                tokens: procedure.assumes.clone(),
            });
        }
        let mut context = context.clone();
        context.guard(procedure.safe_state.as_ref(), &procedure.standing);
        let context = &context;
        let lines = procedure.needs.lines();
        if !lines.is_empty() {
            let id = StepId::new("needs").expect("internal: `needs` is a name");
            let mut instance =
                plain_instance(context, &id, Ask::Needs(lines), procedure.performed_by);
            instance.begun_only = context.begun_only;
            let mut path = context.path.clone();
            path.push(id);
            self.ask(instance, path);
        }
        self.steps(&procedure.steps, context);
    }

    /// A procedure inside another, with a node at its end where it promises something about that.
    fn performed(&mut self, called: &'a Procedure, inner: &Context<'a>) {
        self.procedure(called, inner);
        let promised = called.promises.iter().any(Promise::is_about_the_end);
        if promised && !self.open.is_empty() {
            let (procedure, address) = (called.id.value.clone(), inner.address.clone());
            let node = self.emit(Node::Performed { procedure, address, to: UNPATCHED });
            self.open = vec![Open::To(node)];
        }
    }

    fn steps(&mut self, steps: &'a [Step], context: &Context<'a>) {
        for step in steps {
            if self.full(step.id.span) {
                return;
            }
            match &step.when {
                None => self.step(step, context),
                Some(when) => match self.condition(when, &context.place(), ConditionKind::When) {
                    Some(guard) => self.when(guard, |builder| builder.step(step, context)),
                    None => self.step(step, context),
                },
            }
        }
    }

    fn step(&mut self, step: &'a Step, context: &Context<'a>) {
        match &step.action {
            Action::Section {
                title,
                each,
                repeat,
                any_order,
                one_of,
                mode,
                safe_state,
                standing,
                steps,
            } => {
                let (any_order, one_of) = (*any_order, one_of.as_ref());
                let mut context = context.clone();
                context.guard(safe_state.as_ref(), standing);
                context.mode = mode.unwrap_or(context.mode);
                let context = &context;
                let section = Section {
                    title,
                    each: each.as_ref(),
                    repeat: repeat.as_ref(),
                    any_order,
                    one_of,
                    steps,
                };
                self.section(step, section, context);
            }
            Action::Perform { procedure } => {
                if let Some(called) = self.library.procedures.get(&procedure.value) {
                    let mut inner = context.inside(&step.id.value, Vec::new(), 1);
                    inner.root_len = inner.path.len();
                    inner.within.push(called.title.clone());
                    inner.procedure = called;
                    let Some(first) = called.fit_outs.first() else {
                        return self.performed(called, &inner);
                    };
                    let letters = called.fit_outs.iter().map(|letter| letter.value.clone());
                    let guard = self.guard(Guard::FitOut { letters: letters.collect() });
                    self.fit_out_spans.push((guard, first.span));
                    self.when(guard, |builder| builder.performed(called, &inner));
                }
            }
            Action::Stop(_) => {
                self.inspect(step, context);
                self.open.clear();
            }
            Action::Do { .. }
            | Action::Check { .. }
            | Action::Look { .. }
            | Action::Measure { .. }
            | Action::WorkOut(_)
            | Action::Build { .. }
            | Action::Tighten { .. }
            | Action::Enter { .. }
            | Action::Attach { .. }
            | Action::Hold { .. }
            | Action::Wait { .. } => self.inspect(step, context),
        }
    }

    fn otherwise(&mut self, otherwise: &Otherwise, context: &Context<'a>, done: &mut Vec<Open>) {
        match otherwise {
            Otherwise::Stop(stop) => self.stop(stop, context),
            Otherwise::Refer { to, say } => {
                let may = vec![Verdict::Accept, Verdict::Stop];
                let ask = Ask::Decide { about: None, say: say.clone(), may, parts: Vec::new() };
                self.decision(ask, *to, context);
                done.append(&mut self.open);
            }
        }
    }

    /// A decision with its own stop; afterwards the edge that goes on is open.
    fn decision(&mut self, ask: Ask, to: Role, context: &Context<'a>) {
        let id = StepId::new("decision").expect("internal: `decision` is a name");
        let mut instance = plain_instance(context, &id, ask, to);
        instance.begun_only = true;
        let inner = context.inside(&id, Vec::new(), 1);
        let decision = self.ask(instance, inner.path.clone());
        let guard = self.outcome(decision, Outcome::Verdict(Verdict::Stop));
        let stop = StopText {
            text: "The mechanic has stopped this job".to_owned(),
            safe_state: "Leave the machine as the mechanic directs, locked and tagged".to_owned(),
            tell: Vec::new(),
        };
        self.when(guard, |builder| builder.stop(&stop, &inner));
    }

    /// A stop by an exit; afterwards nothing is open.
    fn stop(&mut self, stop: &StopText, context: &Context<'a>) {
        let mut id = StepId::new("stop").expect("internal: `stop` is a name");
        let ask = Ask::Stop(stop.clone());
        let mut instance =
            plain_instance(context, &id, ask.clone(), context.procedure.performed_by);
        // A step may stop the job for more than one reason, each with a place of its own.
        for n in 2_u32.. {
            if !self.instances.iter().any(|known| known.address == instance.address) {
                break;
            }
            id = StepId::new(format!("stop_{n}")).expect("internal: `stop_2` is a name");
            instance = plain_instance(context, &id, ask.clone(), context.procedure.performed_by);
        }
        instance.begun_only = true;
        let mut path = context.path.clone();
        path.push(id);
        self.ask(instance, path);
        self.open.clear();
    }

    fn count(&mut self, count: &CountRef) -> u32 {
        let (value, span) = match count {
            CountRef::Literal(at) => (Some(at.value), at.span),
            CountRef::Figure(at) => {
                let constant = self.equipment.constants.get(&at.value);
                if constant.is_none() {
                    let known = self.equipment.constants.keys().map(crate::ids::FigureId::as_str);
                    self.unknown(at.span, "constant", at.value.as_str(), known);
                    return 1;
                }
                (constant.and_then(|c| c.value.as_whole()), at.span)
            }
        };
        match value {
            Some(n) if (1..=N_PASSES_MAX).contains(&n) => n,
            _ => {
                self.out.push(Diagnostic::error(
                    Code::BadValue,
                    span,
                    format!("a bound is a whole number from 1 to {N_PASSES_MAX}"),
                ));
                1
            }
        }
    }

    /// An asked step with all its exits.
    fn inspect(&mut self, step: &'a Step, context: &Context<'a>) {
        let Some(ask) = self.lookup(step, context) else { return };
        let disturbed = step.disturbs.as_ref();
        let disturbs = disturbed.and_then(|name| Some(self.typed(name, context)?.0));
        let ways = ways(&step.action);
        let rework = ways.iter().find_map(|(_, exit)| exit.rework.as_ref());
        let bound = rework.map_or(0, |rework| self.rework_bound(&ways, rework));
        let mut done = Vec::new();
        for pass in 1..=bound.saturating_add(1) {
            let mut inner = context.inside(&step.id.value, Vec::new(), pass);
            inner.begun_only |= pass > 1;
            let mut instance = step_instance(step, context, inner.address.clone(), ask.clone());
            instance.begun_only = inner.begun_only;
            instance.disturbs.clone_from(&disturbs);
            if pass > 1 {
                instance.within.push(format!("inspection {pass}"));
            }
            let index = self.ask(instance, inner.path.clone());
            if let Some(role) = &step.concession {
                self.concessions.push((index, role.span));
            }
            self.place_layers(&ask);
            self.exits(index, &ways, &inner);
            self.second(step, index, &inner);
            let Some(rework) = rework else {
                done.append(&mut self.open);
                break;
            };
            let guard = self.outcome(index, Outcome::Verdict(Verdict::Rework));
            let from = self.instances.len();
            let node = self.test(guard);
            done.push(Open::No(node));
            self.open = vec![Open::Yes(node)];
            if pass <= bound {
                for (outcome, exit) in ways.iter().filter(|(_, e)| e.verdict == Verdict::Rework) {
                    let guard = self.outcome(index, outcome.clone());
                    self.when(guard, |builder| builder.steps(&exit.steps, &inner));
                }
            } else {
                // The exits of this same pass may have a decision and a stop of their own.
                let id = StepId::new("bound").expect("internal: `bound` is a name");
                let at_bound = inner.inside(&id, Vec::new(), 1);
                self.otherwise(&rework.otherwise, &at_bound, &mut done);
            }
            self.skip(node, from);
        }
        self.open = done;
    }

    /// The independent second reading, where the step asks for one and the first is good.
    fn second(&mut self, step: &'a Step, first: InstanceIdx, inner: &Context<'a>) {
        let Action::Measure { second: Some(agree), .. } = &step.action else { return };
        let Some(ask) = self.lookup(step, inner) else { return };
        let ask = ask::second(ask, first, &agree.value);
        let id = StepId::new("second").expect("internal: `second` is a name");
        let here = inner.inside(&id, Vec::new(), 1);
        let mut instance = step_instance(step, inner, here.address.clone(), ask);
        instance.begun_only = inner.begun_only;
        instance.within.push("second reading, by another person".to_owned());
        (instance.concession, instance.witness) = (None, None);
        // What the step sets holds once both readings are good.
        if let Some(first) = self.instances.get_mut(first) {
            first.sets.clear();
            first.clears.clear();
            // Two independent readings are two, whatever the first of them sets.
            first.deviation = super::flow::Deviation::Barred("two independent readings are two");
        }
        let guard = self.outcome(first, Outcome::Verdict(Verdict::Accept));
        self.when(guard, |builder| {
            let index = builder.ask(instance, here.path.clone());
            let guard = builder.outcome(index, Outcome::Verdict(Verdict::Refer));
            let say = "Two independent readings do not agree, or the second is not good";
            let may = vec![Verdict::Accept, Verdict::Stop];
            let about = Some(index);
            let ask = Ask::Decide { about, say: say.to_owned(), may, parts: Vec::new() };
            builder.when(guard, |builder| builder.decision(ask, Role::Mechanic, &here));
        });
    }

    fn rework_bound(&mut self, ways: &[(Outcome, &'a Exit)], first: &Rework) -> u32 {
        for (_, exit) in ways {
            if let Some(other) = &exit.rework
                && (other.otherwise != first.otherwise
                    || !same_count(&other.at_most, &first.at_most))
            {
                self.out.push(
                    Diagnostic::error(
                        Code::BadValue,
                        exit.span,
                        "all reworks of one step share `at_most` and `otherwise`",
                    )
                    .help("write the same bound in each, or split the step"),
                );
            }
        }
        self.count(&first.at_most)
    }

    /// The exits of a pass that do not lead back: steps of outcomes, stops, decisions.
    fn exits(&mut self, index: InstanceIdx, ways: &[(Outcome, &'a Exit)], inner: &Context<'a>) {
        for (outcome, exit) in ways {
            if exit.verdict != Verdict::Rework && !exit.steps.is_empty() {
                let guard = self.outcome(index, outcome.clone());
                self.when(guard, |builder| builder.steps(&exit.steps, inner));
            }
        }
        let stops: Vec<_> = ways.iter().filter(|(_, e)| e.verdict == Verdict::Stop).collect();
        for (outcome, exit) in &stops {
            let Some(stop) = &exit.stop else { continue };
            let guard = self.outcome(index, outcome.clone());
            // Two findings that stop need two addresses.
            let place = match outcome {
                Outcome::Found(name) if stops.len() > 1 => StepId::new(name.as_str())
                    .map_or_else(|_| inner.clone(), |id| inner.inside(&id, Vec::new(), 1)),
                Outcome::Found(_)
                | Outcome::Below
                | Outcome::Above
                | Outcome::NotProven
                | Outcome::CouldNotMeasure
                | Outcome::NotSo
                | Outcome::TooLate
                | Outcome::Verdict(_) => inner.clone(),
            };
            self.when(guard, |builder| builder.stop(stop, &place));
        }
        let refers: Vec<_> = ways.iter().filter(|(_, e)| e.verdict == Verdict::Refer).collect();
        if let Some((_, first)) = refers.first() {
            let mut parts: Vec<PartId> = Vec::new();
            for (_, exit) in &refers {
                parts.extend(exit.parts.iter().map(|p| p.value.clone()));
            }
            parts.sort();
            parts.dedup();
            let mut may = vec![Verdict::Accept, Verdict::Stop];
            if !parts.is_empty() {
                may.insert(1, Verdict::Replace);
            }
            let mut say: Vec<&str> = refers.iter().filter_map(|(_, e)| e.say.as_deref()).collect();
            say.dedup();
            let say = if say.is_empty() {
                "Decide what is done about this".to_owned()
            } else {
                say.join(" / ")
            };
            let guard = self.outcome(index, Outcome::Verdict(Verdict::Refer));
            let ask = Ask::Decide { about: Some(index), say, may, parts };
            let to = first.to;
            self.when(guard, |builder| builder.decision(ask, to, inner));
        }
    }

    // --- after the graph ---

    /// What a node reads of earlier answers: its condition, or what its question is made of.
    fn read_at(&self, node: NodeIdx) -> Vec<&Expr<Ref>> {
        let condition = |guard: GuardIdx| match self.guards.get(guard) {
            Some(Guard::Condition { expr, .. }) => Some(expr),
            Some(Guard::Outcome { .. } | Guard::FitOut { .. }) | None => None,
        };
        match self.nodes.get(node) {
            Some(Node::Ask { instance, .. }) => {
                let Some(asked) = self.instances.get(*instance) else { return Vec::new() };
                let layers: &[_] =
                    if let Ask::Build { layers, .. } = &asked.ask { layers } else { &[] };
                let layers = layers.iter().filter_map(|layer| condition(layer.when?));
                layers.chain(asked.ask.formulas()).collect()
            }
            Some(Node::Test { guard, .. }) => condition(*guard).into_iter().collect(),
            Some(Node::Performed { .. } | Node::End) | None => Vec::new(),
        }
    }

    /// Names that some path reaches without an answer.
    fn assigned_names(&self) -> Vec<Diagnostic> {
        let graph = reached::Graph { nodes: &self.nodes, instances: &self.instances };
        let fit_outs = self.fit_out_spans.iter().filter_map(|(guard, span)| {
            let place = self.guard_places.get(*guard).copied().filter(|at| *at != UNPATCHED)?;
            graph.no_fit_out("the fit-out", *span, place)
        });
        let read = (0..self.nodes.len()).flat_map(|at| {
            let formulas = self.read_at(at).into_iter();
            formulas.flat_map(|formula| graph.unassigned(formula, at)).collect::<Vec<_>>()
        });
        let disturbed = self.nodes.iter().enumerate().filter_map(|(at, node)| {
            let Node::Ask { instance, .. } = node else { return None };
            graph.disturbed(self.instances.get(*instance)?.disturbs.as_ref()?, at)
        });
        read.chain(fit_outs).chain(disturbed).collect()
    }
}

fn same_count(a: &CountRef, b: &CountRef) -> bool {
    match (a, b) {
        (CountRef::Literal(a), CountRef::Literal(b)) => a.value == b.value,
        (CountRef::Figure(a), CountRef::Figure(b)) => a.value == b.value,
        _ => false,
    }
}
