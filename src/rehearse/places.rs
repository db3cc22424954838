//! The steps of a procedure as its author sees them: one place in a file, whatever the position or pass.
//!
//! The walk knows instances, thousands of them. What a rehearsal takes is counted by places, so that
//! three cylinders do not make three times the work.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::bench::Shelf;
use crate::equipment;
use crate::ids::{EquipmentId, ProcedureId, StepId};
use crate::procedure::{
    self,
    model::{Action, Exit, Procedure, Step},
};
use crate::source::{Source, Sources, Span};
use crate::walk::compile::performed;
use crate::walk::flow::{Ask, Guard, GuardIdx, InstanceIdx};
use crate::walk::{Flow, Library, compile};

/// A place, by its index in [`Course::places`].
pub type PlaceIdx = usize;

/// What kind of place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlaceKind {
    /// A step that the author wrote, or what belongs to it.
    Step,
    /// What happens when a repeat or a rework has come to its bound.
    Bound,
    /// A decision or stop that an exit leads to.
    Exit,
}

/// A step at one place of a file.
#[derive(Debug, Clone)]
pub struct Place {
    /// Its first instance in the walk.
    pub first: InstanceIdx,
    /// Where it is written.
    pub span: Option<Span>,
    /// What kind of place.
    pub kind: PlaceKind,
}

/// A guard at one place of a file.
#[derive(Debug, Clone)]
pub struct GuardPlace {
    /// In the author's words.
    pub text: String,
    /// Where it is written.
    pub span: Option<Span>,
    /// One of the instances that it opens.
    pub opens: Option<InstanceIdx>,
}

/// A procedure with all it performs, joined with an equipment file, and the places in its files.
#[derive(Debug)]
pub struct Course {
    /// The files, for line numbers.
    pub sources: Sources,
    /// The compiled procedure.
    pub flow: Flow,
    /// Every place, in walk order.
    pub places: Vec<Place>,
    /// The place of each instance.
    pub place_of: Vec<PlaceIdx>,
    /// Every guard that an author wrote.
    pub guards: Vec<GuardPlace>,
    /// The guard place of each guard of the flow that has one.
    pub guard_of: Vec<Option<usize>>,
    /// The procedures of the closure.
    pub procedures: BTreeMap<ProcedureId, Arc<Procedure>>,
}

impl Course {
    /// Reads and joins the files; `None` where they have mistakes, which `check` shows.
    pub fn load(shelf: &Shelf, top: &ProcedureId, equipment: &EquipmentId) -> Option<Self> {
        let mut sources = Sources::default();
        let file = shelf.equipment.get(equipment)?;
        let source = Source::new(file.name.as_str(), file.text.as_str());
        let id = sources.add(source.clone());
        let equipment = Arc::new(equipment::read(id, &source).0?);
        let mut procedures = BTreeMap::new();
        let mut todo = vec![top.clone()];
        while let Some(id) = todo.pop() {
            if procedures.contains_key(&id) {
                continue;
            }
            let file = shelf.procedures.get(&id)?;
            let source = Source::new(file.name.as_str(), file.text.as_str());
            let procedure = procedure::read(sources.add(source.clone()), &source).0?;
            todo.extend(performed(&procedure.steps));
            procedures.insert(id, Arc::new(procedure));
        }
        let span = procedures.get(top)?.id.span;
        let library = Library { procedures: procedures.clone(), equipment };
        let flow = compile(&library, top, span).0?;
        Some(Self::of(sources, flow, procedures))
    }

    fn of(sources: Sources, flow: Flow, procedures: BTreeMap<ProcedureId, Arc<Procedure>>) -> Self {
        let mut places: Vec<Place> = Vec::new();
        let mut known: BTreeMap<(ProcedureId, Vec<StepId>), PlaceIdx> = BTreeMap::new();
        let mut place_of = Vec::new();
        for (index, instance) in flow.instances.iter().enumerate() {
            let ids: Vec<StepId> = instance.address.0.iter().map(|s| s.id.clone()).collect();
            let found = Found::resolve(&procedures, &flow.procedure, &ids);
            let key = (found.procedure.clone(), found.inner.clone());
            let place = *known.entry(key).or_insert_with(|| {
                places.push(Place {
                    first: index,
                    span: found.span,
                    kind: found.kind(&instance.ask),
                });
                places.len().saturating_sub(1)
            });
            place_of.push(place);
        }
        let (guards, guard_of) = guard_places(&flow);
        Self { sources, flow, places, place_of, guards, guard_of, procedures }
    }

    /// The place of an instance.
    pub fn place(&self, instance: InstanceIdx) -> PlaceIdx {
        self.place_of.get(instance).copied().unwrap_or_default()
    }

    /// `file:line` of a place in a file.
    pub fn line(&self, span: Option<Span>) -> Option<(String, usize)> {
        let span = span?;
        let source = self.sources.file(span.file)?;
        Some((source.name().to_owned(), source.line_col(span.start).line))
    }
}

/// What the words of an address stand for.
struct Found {
    procedure: ProcedureId,
    inner: Vec<StepId>,
    span: Option<Span>,
    /// Words after the last written step: `decision`, `bound`, `stop`, `second`, `needs`, a finding.
    tail: Vec<String>,
    in_section: bool,
}

impl Found {
    fn resolve(
        procedures: &BTreeMap<ProcedureId, Arc<Procedure>>,
        top: &ProcedureId,
        ids: &[StepId],
    ) -> Self {
        let mut found = Self {
            procedure: top.clone(),
            inner: Vec::new(),
            span: procedures.get(top).map(|p| p.id.span),
            tail: Vec::new(),
            in_section: false,
        };
        let mut steps: Vec<&Step> =
            procedures.get(top).map_or_else(Vec::new, |p| p.steps.iter().collect());
        for id in ids {
            let step = steps.iter().find(|step| step.id.value == *id).copied();
            let step = step.filter(|_| found.tail.is_empty());
            found.inner.push(id.clone());
            let Some(step) = step else {
                found.tail.push(id.as_str().to_owned());
                continue;
            };
            found.span = Some(step.id.span);
            found.in_section = matches!(step.action, Action::Section { .. });
            steps = inside(&step.action);
            if let Action::Perform { procedure } = &step.action {
                found.procedure = procedure.value.clone();
                found.inner.clear();
                let called = procedures.get(&procedure.value);
                steps = called.map_or_else(Vec::new, |p| p.steps.iter().collect());
            }
        }
        found
    }

    fn kind(&self, ask: &Ask) -> PlaceKind {
        if !matches!(ask, Ask::Decide { .. } | Ask::Stop(_)) {
            return PlaceKind::Step;
        }
        let tail: Vec<&str> = self.tail.iter().map(String::as_str).collect();
        match tail.as_slice() {
            [] => PlaceKind::Step,
            ["bound", "decision" | "stop"] => PlaceKind::Bound,
            ["decision" | "stop"] if self.in_section => PlaceKind::Bound,
            _ => PlaceKind::Exit,
        }
    }
}

/// The steps that stand inside an action.
fn inside(action: &Action) -> Vec<&Step> {
    let exits: Vec<&Exit> = match action {
        Action::Section { steps, .. } => return steps.iter().collect(),
        Action::Check { not_so, .. }
        | Action::Build { not_so, .. }
        | Action::Tighten { not_so, .. } => vec![not_so],
        Action::Look { findings, .. } => findings.iter().map(|finding| &finding.exit).collect(),
        Action::Measure { below, above, not_proven, could_not_measure, .. } => {
            below.iter().chain(above).chain(not_proven).chain([could_not_measure]).collect()
        }
        Action::WorkOut(work) => {
            work.below.iter().chain(&work.above).chain([&work.could_not_work_out]).collect()
        }
        Action::Wait { too_late, .. } => too_late.iter().collect(),
        Action::Do { .. }
        | Action::Enter { .. }
        | Action::Attach { .. }
        | Action::Hold { .. }
        | Action::Perform { .. }
        | Action::Stop(_) => Vec::new(),
    };
    exits.into_iter().flat_map(|exit| exit.steps.iter()).collect()
}

fn guard_places(flow: &Flow) -> (Vec<GuardPlace>, Vec<Option<usize>>) {
    let opened = opened_by(flow);
    let mut places: Vec<GuardPlace> = Vec::new();
    let mut known: BTreeMap<(Option<Span>, String), usize> = BTreeMap::new();
    let guard_of = flow.guards.iter().enumerate().map(|(index, guard)| {
        let span = match guard {
            Guard::Condition { expr, .. } => Some(expr.span()),
            Guard::FitOut { .. } => None,
            Guard::Outcome { .. } => return None,
        };
        let text = guard.text(flow);
        let place = *known.entry((span, text.clone())).or_insert_with(|| {
            places.push(GuardPlace { text, span, opens: opened.get(&index).copied() });
            places.len().saturating_sub(1)
        });
        Some(place)
    });
    let guard_of = guard_of.collect();
    (places, guard_of)
}

/// The first instance that each guard opens.
fn opened_by(flow: &Flow) -> BTreeMap<GuardIdx, InstanceIdx> {
    let mut opened = BTreeMap::new();
    for node in &flow.nodes {
        if let crate::walk::flow::Node::Test { guard, skipped, .. } = node {
            let inside =
                if skipped.is_empty() { skipped.start.saturating_sub(1) } else { skipped.start };
            opened.entry(*guard).or_insert(inside.min(flow.instances.len().saturating_sub(1)));
        }
    }
    for (index, instance) in flow.instances.iter().enumerate() {
        if let Ask::Build { layers, .. } = &instance.ask {
            for guard in layers.iter().filter_map(|layer| layer.when) {
                opened.entry(guard).or_insert(index);
            }
        }
    }
    opened
}
