//! The steps of a procedure as its author sees them: one place in a file, whatever the position or pass.
//!
//! The walk knows instances, thousands of them. What a rehearsal takes is counted by places, so that
//! three cylinders do not make three times the work, and a step that is taken in one procedure is taken
//! in every other that performs its file.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::alone;
use super::bench::Shelf;
use crate::equipment;
use crate::ids::{EquipmentId, Name, ProcedureId, StepId};
use crate::procedure::{
    self,
    model::{Action, Exit, Procedure, Step},
};
use crate::source::{Source, Sources, Span};
use crate::walk::compile::performed;
use crate::walk::flow::{Ask, Guard, GuardIdx, InstanceIdx};
use crate::walk::{Flow, Library, compile};

/// A place, by its number in an [`Atlas`].
pub type PlaceIdx = usize;

/// Where a condition is written: its file and bytes, where known, and its words.
type GuardKey = (Option<(String, usize, usize)>, String);

/// One numbering of places and guards over all courses that are loaded with it.
#[derive(Debug, Default)]
pub struct Atlas {
    places: BTreeMap<(ProcedureId, Vec<StepId>), PlaceIdx>,
    guards: BTreeMap<GuardKey, usize>,
}

impl Atlas {
    fn place(&mut self, procedure: &ProcedureId, inner: &[StepId]) -> PlaceIdx {
        let next = self.places.len();
        *self.places.entry((procedure.clone(), inner.to_vec())).or_insert(next)
    }

    fn guard(&mut self, key: GuardKey) -> usize {
        let next = self.guards.len();
        *self.guards.entry(key).or_insert(next)
    }
}

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
    /// True for what only plays a procedure alone; nobody wrote it, and nothing of it counts.
    pub is_given: bool,
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

/// A position of a repeated section, by the section's place in its file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Standing {
    /// The procedure that the section is written in.
    pub procedure: ProcedureId,
    /// The section, from the outermost step in.
    pub section: Vec<StepId>,
    /// The kind of position, such as `cylinder`.
    pub kind: Name,
    /// The position.
    pub name: String,
}

/// A procedure with all it performs, joined with an equipment file, and the places in its files.
#[derive(Debug)]
pub struct Course {
    /// The files, for line numbers.
    pub sources: Sources,
    /// The procedure, be it played alone or as it is.
    pub procedure: ProcedureId,
    /// True where it is played alone.
    pub is_alone: bool,
    /// The name of the equipment file.
    pub equipment_file: String,
    /// The compiled procedure.
    pub flow: Flow,
    /// Every place of this course.
    pub places: BTreeMap<PlaceIdx, Place>,
    /// The place of each instance.
    pub place_of: Vec<PlaceIdx>,
    /// The positions that each instance stands at.
    pub standing: Vec<Vec<Standing>>,
    /// Where each position's section is written.
    pub sections: BTreeMap<Standing, Span>,
    /// Every guard of this course that an author wrote.
    pub guards: BTreeMap<usize, GuardPlace>,
    /// The guard place of each guard of the flow that has one.
    pub guard_of: Vec<Option<usize>>,
    /// The procedures of the closure.
    pub procedures: BTreeMap<ProcedureId, Arc<Procedure>>,
}

impl Course {
    /// Reads and joins the files, with the places numbered by `atlas`; `None` where the files have
    /// mistakes, which `check` shows.
    pub fn load(
        shelf: &Shelf,
        (top, is_alone): (&ProcedureId, bool),
        equipment: &EquipmentId,
        atlas: &mut Atlas,
    ) -> Option<Self> {
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
        let first = if is_alone { alone::id_of(top)? } else { top.clone() };
        if is_alone {
            let text = alone::caller(procedures.get(top)?, &equipment);
            let source = Source::new(format!("{first}.yaml"), text);
            let caller = procedure::read(sources.add(source.clone()), &source).0?;
            procedures.insert(first.clone(), Arc::new(caller));
        }
        let span = procedures.get(&first)?.id.span;
        let library = Library { procedures: procedures.clone(), equipment };
        let flow = compile(&library, &first, span).0?;
        let equipment_file = file.name.clone();
        Some(Self::of((top, is_alone), (sources, equipment_file), (flow, procedures), atlas))
    }

    fn of(
        (procedure, is_alone): (&ProcedureId, bool),
        (sources, equipment_file): (Sources, String),
        (flow, procedures): (Flow, BTreeMap<ProcedureId, Arc<Procedure>>),
        atlas: &mut Atlas,
    ) -> Self {
        let mut places: BTreeMap<PlaceIdx, Place> = BTreeMap::new();
        let mut place_of = Vec::new();
        let mut standing = Vec::new();
        let mut sections = BTreeMap::new();
        for (index, instance) in flow.instances.iter().enumerate() {
            let ids: Vec<StepId> = instance.address.0.iter().map(|s| s.id.clone()).collect();
            let found = Found::resolve(&procedures, &flow.procedure, &ids);
            let place = atlas.place(&found.procedure, &found.inner);
            places.entry(place).or_insert_with(|| Place {
                first: index,
                span: found.span,
                kind: found.kind(&instance.ask),
                is_given: is_alone && found.procedure == flow.procedure,
            });
            place_of.push(place);
            let mut stands = Vec::new();
            for (n, segment) in instance.address.0.iter().enumerate() {
                if segment.positions.is_empty() {
                    continue;
                }
                let path = ids.get(..=n).unwrap_or(&ids);
                let found = Found::resolve(&procedures, &flow.procedure, path);
                for (kind, name) in &segment.positions {
                    let stand = Standing {
                        procedure: found.caller.0.clone(),
                        section: found.caller.1.clone(),
                        kind: kind.clone(),
                        name: name.clone(),
                    };
                    sections.extend(found.span.map(|span| (stand.clone(), span)));
                    stands.push(stand);
                }
            }
            standing.push(stands);
        }
        let (guards, guard_of) = guard_places(&flow, &sources, atlas);
        Self {
            procedure: procedure.clone(),
            is_alone,
            sources,
            equipment_file,
            flow,
            places,
            place_of,
            standing,
            sections,
            guards,
            guard_of,
            procedures,
        }
    }

    /// The place of an instance.
    pub fn place(&self, instance: InstanceIdx) -> PlaceIdx {
        self.place_of.get(instance).copied().unwrap_or_default()
    }

    /// True for an instance that nobody wrote, which only plays a procedure alone.
    pub fn is_given(&self, instance: InstanceIdx) -> bool {
        self.places.get(&self.place(instance)).is_some_and(|place| place.is_given)
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
    /// The last written step by the file that it is written in, be it one that performs another file.
    caller: (ProcedureId, Vec<StepId>),
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
            caller: (top.clone(), Vec::new()),
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
            found.caller = (found.procedure.clone(), found.inner.clone());
            found.in_section = matches!(step.action, Action::Section { .. });
            steps = inside(&step.action);
            if let Action::Perform { procedure } = &step.action {
                found.procedure = procedure.value.clone();
                found.inner.clear();
                let called = procedures.get(&procedure.value);
                found.span = called.map(|called| called.id.span).or(found.span);
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

fn guard_places(
    flow: &Flow,
    sources: &Sources,
    atlas: &mut Atlas,
) -> (BTreeMap<usize, GuardPlace>, Vec<Option<usize>>) {
    let opened = opened_by(flow);
    let mut places: BTreeMap<usize, GuardPlace> = BTreeMap::new();
    let guard_of = flow.guards.iter().enumerate().map(|(index, guard)| {
        let span = match guard {
            Guard::Condition { expr, .. } => Some(expr.span()),
            Guard::FitOut { .. } => None,
            Guard::Outcome { .. } => return None,
        };
        let text = guard.text(flow);
        let file = span.and_then(|span| {
            Some((sources.file(span.file)?.name().to_owned(), span.start, span.end))
        });
        let place = atlas.guard((file, text.clone()));
        let opens = opened.get(&index).copied();
        places.entry(place).or_insert(GuardPlace { text, span, opens });
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
