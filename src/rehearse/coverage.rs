//! What rehearsals can take of a procedure, and what they took.

use std::collections::{BTreeMap, BTreeSet};

use super::places::{Course, PlaceIdx, PlaceKind, Standing};
use crate::ids::{EquipmentId, Name, StepId};
use crate::procedure::model::{EntryKind, Verdict};
use crate::units::{Decision, Limit, Quantity, Side};
use crate::walk::event::Answer;
use crate::walk::flow::{Ask, InstanceIdx, Node};
use crate::walk::place::{Answers, Walk};

/// A group of targets, in the order that they are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Steps.
    Steps,
    /// Guards, each both ways.
    Branches,
    /// Findings and choices.
    Findings,
    /// Other outcomes: not so, out of limit, no reading, decisions.
    Exits,
    /// Readings below, at and above each bound.
    Limits,
    /// Fit-outs.
    FitOuts,
    /// Positions of each repeated section.
    Positions,
    /// Bounds of repeats and reworks, reached.
    Bounds,
}

impl Group {
    /// Every group.
    pub const ALL: [Self; 8] = [
        Self::Steps,
        Self::Branches,
        Self::Findings,
        Self::Exits,
        Self::Limits,
        Self::FitOuts,
        Self::Positions,
        Self::Bounds,
    ];

    /// The word on screens and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Steps => "steps",
            Self::Branches => "branches",
            Self::Findings => "findings",
            Self::Exits => "exits",
            Self::Limits => "limits",
            Self::FitOuts => "fit-outs",
            Self::Positions => "positions",
            Self::Bounds => "bounds",
        }
    }
}

/// An outcome that has an exit but no name of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// A reading below the limit.
    Below,
    /// A reading above the limit.
    Above,
    /// No reading.
    CouldNotMeasure,
    /// The reading proves neither.
    NotProven,
    /// Something is not so.
    NotSo,
    /// A wait that took longer than it may.
    TooLate,
    /// No file.
    NotAttached,
    /// The mechanic decides this.
    Decided(Verdict),
}

impl Way {
    fn text(self) -> String {
        match self {
            Self::Below => "a reading below the limit".to_owned(),
            Self::Above => "a reading above the limit".to_owned(),
            Self::CouldNotMeasure => "no reading".to_owned(),
            Self::NotProven => "a reading that proves neither".to_owned(),
            Self::NotSo => "something that is not so".to_owned(),
            Self::TooLate => "a wait that took too long".to_owned(),
            Self::NotAttached => "nothing to attach".to_owned(),
            Self::Decided(verdict) => format!("decision {}", verdict.word()),
        }
    }
}

/// One of the two bounds of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bound {
    /// `at_least`
    Least,
    /// `at_most`
    Most,
}

/// Where a reading lies against a bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Edge {
    /// Below it.
    Below,
    /// On it.
    At,
    /// Above it.
    Above,
}

/// Something that a rehearsal takes or does not take.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A step is answered.
    Step(PlaceIdx),
    /// A guard comes out so.
    Guard(usize, bool),
    /// A finding or a choice is picked.
    Picked(PlaceIdx, Name),
    /// An outcome.
    Way(PlaceIdx, Way),
    /// A reading against a bound.
    Limit(PlaceIdx, Bound, Edge),
    /// A fit-out of an equipment file.
    FitOut(EquipmentId, String),
    /// A position of a repeated section.
    Position(Standing),
    /// What happens at a bound.
    Bound(PlaceIdx),
}

impl Target {
    /// The step that it is taken at, where it is one.
    fn place(&self) -> Option<PlaceIdx> {
        match self {
            Self::Step(place)
            | Self::Bound(place)
            | Self::Picked(place, _)
            | Self::Way(place, _)
            | Self::Limit(place, ..) => Some(*place),
            Self::Guard(..) | Self::FitOut(..) | Self::Position(_) => None,
        }
    }

    /// The group that it is counted in.
    pub fn group(&self) -> Group {
        match self {
            Self::Step(_) => Group::Steps,
            Self::Guard(..) => Group::Branches,
            Self::Picked(..) => Group::Findings,
            Self::Way(..) => Group::Exits,
            Self::Limit(..) => Group::Limits,
            Self::FitOut(..) => Group::FitOuts,
            Self::Position(..) => Group::Positions,
            Self::Bound(_) => Group::Bounds,
        }
    }
}

/// A target in words, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The group.
    pub group: Group,
    /// What it is.
    pub what: String,
    /// The address of a step instance where it can be taken; empty for what is nowhere in the walk.
    pub at: String,
    /// The file that it is counted in.
    pub file: String,
    /// The line there, where known.
    pub line: Option<usize>,
}

/// What rehearsals took of courses, and what there is to take of them. A file that several courses
/// perform is counted once.
#[derive(Debug, Default)]
pub struct Coverage {
    /// All there is to take.
    pub all: BTreeMap<Target, Shown>,
    /// What was taken of it.
    pub taken: BTreeSet<Target>,
    /// What an author says to be out of reach, each with the reason.
    pub out_of_reach: BTreeMap<Target, String>,
}

impl Coverage {
    /// Nothing taken yet.
    pub fn of(course: &Course) -> Self {
        let mut coverage = Self::default();
        coverage.join(course);
        coverage
    }

    /// Counts what `course` has to take.
    pub fn join(&mut self, course: &Course) {
        for target in everything(course) {
            let told = shown(course, &target);
            self.all.entry(target).or_insert(told);
        }
    }

    /// Adds what a walk took.
    pub fn add(&mut self, course: &Course, walk: &Walk, answers: &dyn Answers) {
        let seen = seen(course, walk, answers);
        self.taken.extend(seen.into_iter().filter(|target| self.all.contains_key(target)));
    }

    /// Takes an author's word that nothing leads to what is not taken at the places that `pattern`
    /// names. False where nothing is left there, so that the word says nothing.
    pub fn excuse(&mut self, course: &Course, pattern: &str, because: &str) -> bool {
        let named = course.flow.instances.iter().enumerate().filter(|(_, instance)| {
            crate::rehearsal::model::fits_within(pattern, &instance.address.to_string())
        });
        let places: BTreeSet<PlaceIdx> = named.map(|(index, _)| course.place(index)).collect();
        let there = |target: &Target| target.place().is_some_and(|place| places.contains(&place));
        let left: Vec<Target> =
            self.missing().map(|(target, _)| target).filter(|t| there(t)).cloned().collect();
        let is_any = !left.is_empty();
        self.out_of_reach.extend(left.into_iter().map(|target| (target, because.to_owned())));
        is_any
    }

    /// What nothing took, but for what is said to be out of reach.
    pub fn missing(&self) -> impl Iterator<Item = (&Target, &Shown)> {
        let open = |target: &Target| {
            !self.taken.contains(target) && !self.out_of_reach.contains_key(target)
        };
        self.all.iter().filter(move |(target, _)| open(target))
    }

    /// What nothing took, in the order of groups, files and lines.
    pub fn missing_in_order(&self) -> Vec<&Shown> {
        let mut missing: Vec<&Shown> = self.missing().map(|(_, shown)| shown).collect();
        missing.sort_by_key(|shown| (shown.group, &shown.file, shown.line));
        missing
    }

    /// The files that something is counted in, in alphabetical order.
    pub fn files(&self) -> BTreeSet<&str> {
        self.all.values().map(|shown| shown.file.as_str()).collect()
    }

    /// How many of a group are taken, and how many there are; of one file, or of all.
    pub fn count(&self, group: Group, file: Option<&str>) -> (usize, usize) {
        let counts = |shown: &Shown| shown.group == group && file.is_none_or(|f| f == shown.file);
        let all = self.all.iter().filter(|(_, shown)| counts(shown));
        let taken = all.clone().filter(|(target, _)| self.taken.contains(target)).count();
        (taken, all.count())
    }
}

/// The bounds of a limit.
fn bounds(limit: &Limit) -> impl Iterator<Item = (Bound, &Quantity)> {
    let least = limit.at_least.as_ref().map(|bound| (Bound::Least, bound));
    least.into_iter().chain(limit.at_most.as_ref().map(|bound| (Bound::Most, bound)))
}

/// What an answer takes at `instance`, whatever else was answered.
pub(super) fn taken_by(course: &Course, instance: InstanceIdx, answer: &Answer) -> Vec<Target> {
    let place = course.place(instance);
    let way = |way| vec![Target::Way(place, way)];
    match (&course.flow.instance(instance).ask, answer) {
        (Ask::Look { .. }, Answer::Found(found)) => {
            found.iter().map(|name| Target::Picked(place, name.clone())).collect()
        }
        (Ask::Enter { kind: EntryKind::Choice(_), .. }, Answer::Entered(word)) => {
            Name::new(word.as_str())
                .ok()
                .map(|name| Target::Picked(place, name))
                .into_iter()
                .collect()
        }
        (Ask::Enter { kind: EntryKind::FitOut, .. }, Answer::Entered(plate)) => {
            vec![Target::FitOut(course.flow.equipment_id().clone(), plate.clone())]
        }
        (Ask::Measure(_), Answer::CouldNotMeasure { .. }) => way(Way::CouldNotMeasure),
        (Ask::Measure(note), Answer::Read { reading, instrument, .. }) => {
            let mut out = Vec::new();
            match note.decision(reading, instrument) {
                Some(Decision::Below) => out.push(Target::Way(place, Way::Below)),
                Some(Decision::Above) => out.push(Target::Way(place, Way::Above)),
                Some(Decision::NotProven) => out.push(Target::Way(place, Way::NotProven)),
                Some(Decision::Within) | None => {}
            }
            for (bound, figure) in note.limit().into_iter().flat_map(bounds) {
                let edge = match reading.value.compare(figure) {
                    Some(std::cmp::Ordering::Less) => Edge::Below,
                    Some(std::cmp::Ordering::Equal) => Edge::At,
                    Some(std::cmp::Ordering::Greater) => Edge::Above,
                    None => continue,
                };
                out.push(Target::Limit(place, bound, edge));
            }
            out
        }
        (Ask::WorkOut(note), Answer::WorkedOut(worked)) => match note.side(worked) {
            None => way(Way::CouldNotMeasure),
            Some(Side::Below) => way(Way::Below),
            Some(Side::Above) => way(Way::Above),
            Some(Side::Within) => Vec::new(),
        },
        (Ask::Wait { too_late: Some((at_most_s, _)), .. }, Answer::Waited(waited))
            if waited.at_longest_s > *at_most_s =>
        {
            way(Way::TooLate)
        }
        (Ask::Check { .. }, Answer::Items(items)) if items.contains(&false) => way(Way::NotSo),
        (Ask::Build { .. }, Answer::Built(laid)) if laid.iter().any(|l| !l.so) => way(Way::NotSo),
        (Ask::Tighten(note), Answer::Tightened(rounds)) if note.is_not_so(rounds) => {
            way(Way::NotSo)
        }
        (Ask::Attach { .. }, Answer::NotAttached { .. }) => way(Way::NotAttached),
        (Ask::Decide { .. }, Answer::Decided { verdict, .. }) => way(Way::Decided(*verdict)),
        _ => Vec::new(),
    }
}

/// The target that an instance is, by being answered at all.
fn own(course: &Course, instance: InstanceIdx) -> Option<Target> {
    let place = course.place(instance);
    match course.places.get(&place)?.kind {
        PlaceKind::Step => Some(Target::Step(place)),
        PlaceKind::Bound => Some(Target::Bound(place)),
        PlaceKind::Exit => None,
    }
}

/// The positions that an instance stands at.
fn positions(course: &Course, instance: InstanceIdx) -> impl Iterator<Item = Target> {
    course.standing.get(instance).into_iter().flatten().cloned().map(Target::Position)
}

/// All that a walk took.
pub(super) fn seen(course: &Course, walk: &Walk, answers: &dyn Answers) -> BTreeSet<Target> {
    let mut seen = BTreeSet::new();
    for &index in walk.path.iter().filter(|index| !course.is_given(**index)) {
        seen.extend(own(course, index));
        seen.extend(positions(course, index));
        if let Some(answer) = answers.answer(index) {
            seen.extend(taken_by(course, index, answer));
        }
        for (note, due) in walk.layers(&course.flow, answers, index) {
            let place = note.when.and_then(|guard| course.guard_of.get(guard).copied().flatten());
            seen.extend(place.map(|place| Target::Guard(place, due)));
        }
    }
    for (at, next) in walk.nodes.iter().zip(walk.nodes.iter().skip(1)) {
        let Node::Test { guard, yes, no, .. } = course.flow.node(*at) else { continue };
        let place = course.guard_of.get(*guard).copied().flatten();
        let Some(place) = place.filter(|_| yes != no) else { continue };
        if next == yes || next == no {
            seen.insert(Target::Guard(place, next == yes));
        }
    }
    seen
}

/// All that there is to take.
pub(super) fn everything(course: &Course) -> BTreeSet<Target> {
    let flow = &course.flow;
    let mut all = BTreeSet::new();
    let written = flow.instances.iter().enumerate().filter(|(index, _)| !course.is_given(*index));
    for (index, instance) in written {
        let place = course.place(index);
        all.extend(own(course, index));
        all.extend(positions(course, index));
        all.extend(ways(place, &instance.ask));
        if let Ask::Enter { kind: EntryKind::FitOut, .. } = &instance.ask {
            let builds = flow.equipment.builds().into_iter().map(|(plate, _)| plate);
            let fits = |plate: &String| flow.fit_outs.is_empty() || flow.fit_outs.contains(plate);
            let target = |plate| Target::FitOut(flow.equipment_id().clone(), plate);
            all.extend(builds.filter(fits).map(target));
        }
    }
    for place in course.guards.keys() {
        all.extend([Target::Guard(*place, true), Target::Guard(*place, false)]);
    }
    all
}

/// What an ask can be answered with that counts.
fn ways(place: PlaceIdx, ask: &Ask) -> Vec<Target> {
    let way = |way| Target::Way(place, way);
    match ask {
        Ask::Look { findings, .. } => {
            findings.iter().map(|finding| Target::Picked(place, finding.id.clone())).collect()
        }
        Ask::Enter { kind: EntryKind::Choice(choices), .. } => {
            choices.iter().map(|(id, _)| Target::Picked(place, id.value.clone())).collect()
        }
        Ask::Measure(note) => {
            let mut out = vec![way(Way::CouldNotMeasure)];
            out.extend(note.below.iter().map(|_| way(Way::Below)));
            out.extend(note.above.iter().map(|_| way(Way::Above)));
            out.extend(note.not_proven.iter().map(|_| way(Way::NotProven)));
            for (bound, _) in note.limit().into_iter().flat_map(bounds) {
                let edges = [Edge::Below, Edge::At, Edge::Above];
                out.extend(edges.map(|edge| Target::Limit(place, bound, edge)));
            }
            out
        }
        // Its edges are no reading that anybody could enter: below and above are what counts.
        Ask::WorkOut(note) => {
            let mut out = vec![way(Way::CouldNotMeasure)];
            out.extend(note.below.iter().map(|_| way(Way::Below)));
            out.extend(note.above.iter().map(|_| way(Way::Above)));
            out
        }
        Ask::Check { .. } | Ask::Build { .. } | Ask::Tighten(_) => vec![way(Way::NotSo)],
        Ask::Attach { may_lack: true, .. } => vec![way(Way::NotAttached)],
        Ask::Wait { too_late: Some(_), .. } => vec![way(Way::TooLate)],
        Ask::Decide { may, .. } => may.iter().map(|v| way(Way::Decided(*v))).collect(),
        Ask::Needs(_)
        | Ask::Do(_)
        | Ask::Enter { .. }
        | Ask::Attach { may_lack: false, .. }
        | Ask::Hold(_)
        | Ask::Wait { too_late: None, .. }
        | Ask::Stop(_) => Vec::new(),
    }
}

/// A target in words.
fn shown(course: &Course, target: &Target) -> Shown {
    let address = |index: InstanceIdx| course.flow.instance(index).address.to_string();
    let shown = |what: String, at: String, line: Option<(String, usize)>| {
        let (file, line) = line.map_or((String::new(), None), |(file, line)| (file, Some(line)));
        Shown { group: target.group(), what, at, file, line }
    };
    let at_place = |place: PlaceIdx, what: String| {
        let place = course.places.get(&place);
        let at = place.map(|place| address(place.first)).unwrap_or_default();
        shown(what, at, place.and_then(|place| course.line(place.span)))
    };
    match target {
        Target::Step(place) => at_place(*place, "step".to_owned()),
        Target::Bound(place) => at_place(*place, "the bound reached".to_owned()),
        Target::Picked(place, name) => at_place(*place, format!("`{name}`")),
        Target::Way(place, way) => at_place(*place, way.text()),
        Target::Limit(place, bound, edge) => {
            at_place(*place, limit_text(course, *place, *bound, *edge))
        }
        Target::Guard(place, truth) => {
            let guard = course.guards.get(place);
            let opens = guard.and_then(|guard| guard.opens);
            let text = guard.map_or("", |guard| guard.text.as_str());
            // A condition without a place is that of a performed procedure's fit-outs.
            let line = guard.and_then(|guard| guard.span).or_else(|| {
                let place = course.places.get(&course.place(opens?))?;
                place.span
            });
            shown(
                format!("{truth}: {text}"),
                opens.map(address).unwrap_or_default(),
                course.line(line),
            )
        }
        Target::FitOut(_, plate) => Shown {
            file: course.equipment_file.clone(),
            ..shown(format!("fit-out {plate}"), String::new(), None)
        },
        Target::Position(stand) => {
            let section: Vec<&str> = stand.section.iter().map(StepId::as_str).collect();
            shown(
                format!("{}={}", stand.kind, stand.name),
                section.join("/"),
                course.line(course.sections.get(stand).copied()),
            )
        }
    }
}

fn limit_text(course: &Course, place: PlaceIdx, bound: Bound, edge: Edge) -> String {
    let first = course.places.get(&place).map(|place| place.first);
    let ask = first.map(|first| &course.flow.instance(first).ask);
    let limit = match ask {
        Some(Ask::Measure(note)) => note.limit(),
        _ => None,
    };
    let figure = limit.and_then(|limit| {
        let bound = match bound {
            Bound::Least => &limit.at_least,
            Bound::Most => &limit.at_most,
        };
        bound.as_ref().map(|quantity| quantity.render(limit.unit))
    });
    let word = match edge {
        Edge::Below => "below",
        Edge::At => "at",
        Edge::Above => "above",
    };
    format!("a reading {word} {}", figure.unwrap_or_default())
}
