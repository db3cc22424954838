//! What names in conditions stand for: innermost block first, never across a procedure's border.

use std::collections::BTreeMap;

use super::flow::{Ask, Field, Instance, InstanceIdx, Ref};
use crate::diag::{Code, Diagnostic, suggestion};
use crate::equipment::model::Equipment;
use crate::expr::typing::Type;
use crate::expr::{Expr, Fold, Path};
use crate::ids::{FigureId, Name, StepId};
use crate::procedure::model::EntryKind;
use crate::source::Span;
use crate::units::Quantity;

/// A step or section by its names alone: perform path, sections, step; no positions, no passes.
pub(super) type StaticPath = Vec<StepId>;

/// Where a condition stands.
#[derive(Debug, Clone)]
pub(super) struct Place {
    /// The enclosing blocks.
    pub(super) path: StaticPath,
    /// How many words of `path` lie outside the condition's own procedure.
    pub(super) root_len: usize,
    /// The positions in force.
    pub(super) positions: Vec<(Name, String)>,
}

/// What is declared in the whole closure.
#[derive(Debug, Default)]
pub(super) struct Declared {
    /// Every step and section, with the kinds of position that it is repeated over.
    pub(super) steps: BTreeMap<StaticPath, Vec<Name>>,
    /// The instances made so far, by their step.
    pub(super) instances: BTreeMap<StaticPath, Vec<InstanceIdx>>,
}

/// Resolves names against what is declared and made so far.
pub(super) struct Resolver<'a> {
    pub(super) declared: &'a Declared,
    pub(super) instances: &'a [Instance],
    pub(super) equipment: &'a Equipment,
}

/// A name that two things have, of which the nearer would be taken without a word.
fn shadowed(path: &Path, other: &str) -> Diagnostic {
    Diagnostic::error(
        Code::ShadowedName,
        path.span,
        format!("`{path}` is a step here, and {other} as well"),
    )
    .help("rename the step, so that the name means one thing")
}

enum Target {
    Step(StaticPath, Field),
    Setting(Name),
    Figure(Quantity),
    Position(Name),
    Word(Name),
}

impl Resolver<'_> {
    /// Replaces every name of `expr` by what it stands for at `place`, and every aggregate by its
    /// members.
    pub(super) fn resolve(
        &self,
        expr: &Expr<Path>,
        place: &Place,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Expr<Ref>> {
        let both = |a: &Expr<Path>, b: &Expr<Path>, out: &mut Vec<Diagnostic>| {
            let (a, b) = (self.resolve(a, place, out), self.resolve(b, place, out));
            Some((Box::new(a?), Box::new(b?)))
        };
        Some(match expr {
            Expr::Quantity(quantity, span) => Expr::Quantity(quantity.clone(), *span),
            Expr::Word(word, span) => Expr::Word(word.clone(), *span),
            Expr::Truth(truth, span) => Expr::Truth(*truth, *span),
            Expr::Name(path, span) => Expr::Name(self.name(path, place, out)?, *span),
            Expr::Answered(path, span) => {
                let found = self.name(path, place, out)?;
                if !matches!(found, Ref::Answer { .. } | Ref::Setting(_)) {
                    out.push(
                        Diagnostic::error(
                            Code::TypeMismatch,
                            *span,
                            format!("`answered` asks about a step, and `{path}` is none"),
                        )
                        .help("name a step of this procedure"),
                    );
                    return None;
                }
                Expr::Answered(found, *span)
            }
            Expr::Not(inner, span) => Expr::Not(Box::new(self.resolve(inner, place, out)?), *span),
            Expr::Negate(inner, span) => {
                Expr::Negate(Box::new(self.resolve(inner, place, out)?), *span)
            }
            Expr::And(members, span) => Expr::And(self.all(members, place, out)?, *span),
            Expr::Or(members, span) => Expr::Or(self.all(members, place, out)?, *span),
            Expr::Compare(op, a, b, span) => {
                let (a, b) = both(a, b, out)?;
                Expr::Compare(*op, a, b, *span)
            }
            Expr::In(a, b, span) => {
                let (a, b) = both(a, b, out)?;
                Expr::In(a, b, *span)
            }
            Expr::Arithmetic(op, a, b, span) => {
                let (a, b) = both(a, b, out)?;
                Expr::Arithmetic(*op, a, b, *span)
            }
            Expr::Fold(fold, members, span) => self.fold(*fold, members, *span, place, out)?,
        })
    }

    fn all(
        &self,
        members: &[Expr<Path>],
        place: &Place,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Vec<Expr<Ref>>> {
        let resolved: Vec<_> = members.iter().map(|m| self.resolve(m, place, out)).collect();
        resolved.into_iter().collect()
    }

    /// One member per combination of the positions that the names inside range over.
    fn fold(
        &self,
        fold: Fold,
        members: &[Expr<Path>],
        span: Span,
        place: &Place,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Expr<Ref>> {
        let mut free: Vec<Name> = Vec::new();
        for member in members {
            member.each_name(&mut |path, _| {
                if let Ok(Target::Step(step, _)) = self.target(path, place) {
                    for kind in self.free_kinds(&step, place) {
                        if !free.contains(&kind) {
                            free.push(kind);
                        }
                    }
                }
            });
        }
        if free.is_empty() {
            out.push(
                Diagnostic::error(
                    Code::BadCondition,
                    span,
                    "nothing here stands at several positions",
                )
                .help("name a step of a section with `each`, or drop the aggregate"),
            );
            return None;
        }
        let mut places = vec![place.clone()];
        for kind in &free {
            let names = self.equipment.positions.get(kind).cloned().unwrap_or_default();
            places = places
                .iter()
                .flat_map(|place| {
                    names.iter().map(|name| {
                        let mut place = place.clone();
                        place.positions.push((kind.clone(), name.clone()));
                        place
                    })
                })
                .collect();
        }
        let mut resolved = Vec::new();
        for place in &places {
            let before = out.len();
            for member in members {
                resolved.push(self.resolve(member, place, out)?);
            }
            if out.len() > before {
                return None;
            }
        }
        Some(Expr::Fold(fold, resolved, span))
    }

    fn free_kinds(&self, step: &StaticPath, place: &Place) -> Vec<Name> {
        self.declared
            .steps
            .get(step)
            .into_iter()
            .flatten()
            .filter(|kind| !place.positions.iter().any(|(bound, _)| bound == *kind))
            .cloned()
            .collect()
    }

    fn name(&self, path: &Path, place: &Place, out: &mut Vec<Diagnostic>) -> Option<Ref> {
        match self.target(path, place) {
            Err(diagnostic) => {
                out.push(*diagnostic);
                None
            }
            Ok(Target::Word(word)) => Some(Ref::Word(word)),
            Ok(Target::Setting(name)) => Some(Ref::Setting(name)),
            Ok(Target::Figure(quantity)) => Some(Ref::Figure(quantity)),
            Ok(Target::Position(kind)) => {
                let bound = place.positions.iter().rev().find(|(k, _)| *k == kind);
                let Some((_, name)) = bound else {
                    out.push(Diagnostic::error(
                        Code::UndefinedName,
                        path.span,
                        format!(
                            "no `{kind}` is current here: no section around this has `each: {kind}`"
                        ),
                    ));
                    return None;
                };
                Some(match name.parse::<u32>() {
                    Ok(number) => Ref::Figure(Quantity::whole(number)),
                    Err(_) => Ref::Position { kind, name: name.clone() },
                })
            }
            Ok(Target::Step(step, field)) => {
                let free = self.free_kinds(&step, place);
                if let Some(kind) = free.first() {
                    out.push(
                        Diagnostic::error(
                            Code::UndefinedName,
                            path.span,
                            format!("`{path}` stands for one answer per {kind} here"),
                        )
                        .help("say which: `any(…)`, `all(…)` or `count(…)`"),
                    );
                    return None;
                }
                let passes = self.passes(&step, place);
                if passes.is_empty() {
                    out.push(
                        Diagnostic::error(
                            Code::NotYetAnswered,
                            path.span,
                            format!("`{path}` is not answered before this place on any path"),
                        )
                        .help("move this after the step, or name another step"),
                    );
                    return None;
                }
                Some(Ref::Answer { passes, field })
            }
        }
    }

    /// The instances of `step` at the positions in force, in pass order.
    pub(super) fn passes(&self, step: &StaticPath, place: &Place) -> Vec<InstanceIdx> {
        let fits = |index: &InstanceIdx| {
            self.instances.get(*index).is_some_and(|instance| {
                instance.address.positions().all(|(kind, name)| {
                    place
                        .positions
                        .iter()
                        .rev()
                        .find(|(k, _)| k == kind)
                        .is_none_or(|(_, n)| n == name)
                })
            })
        };
        self.declared.instances.get(step).into_iter().flatten().copied().filter(fits).collect()
    }

    /// The step that `path` names at `place`, whole, for promises.
    pub(super) fn step(&self, path: &Path, place: &Place) -> Option<StaticPath> {
        match self.steps_named(path, place).into_iter().next() {
            Some(Ok(Target::Step(step, Field::Value))) => Some(step),
            _ => None,
        }
    }

    /// A name that is known at `place` and looks like one of those that `fault` says to be unknown.
    pub(super) fn near(
        &self,
        expr: &Expr<Path>,
        fault: &Diagnostic,
        place: &Place,
    ) -> Option<String> {
        if fault.code != Code::UndefinedName {
            return None;
        }
        let steps = self.declared.steps.keys().filter_map(|path| {
            let (id, block) = path.split_last()?;
            let seen = block.len() >= place.root_len && place.path.starts_with(block);
            seen.then_some(id.as_str())
        });
        let settings = self.equipment.settings.keys().map(Name::as_str);
        let positions = self.equipment.positions.keys().map(Name::as_str);
        let constants = self.equipment.constants.keys().map(FigureId::as_str);
        let known: Vec<&str> = steps.chain(settings).chain(positions).chain(constants).collect();
        let span = fault.primary.span;
        let mut near = None;
        expr.each_name(&mut |path, at| {
            if near.is_none() && span.start <= at.start && at.end <= span.end {
                let text = path.to_string();
                near = suggestion(&text, known.iter().copied()).map(str::to_owned);
            }
        });
        near
    }

    fn target(&self, path: &Path, place: &Place) -> Result<Target, Box<Diagnostic>> {
        let words: Vec<&Name> = path.words.iter().map(|w| &w.value).collect();
        let Some((first, rest)) = words.split_first() else {
            return Err(Box::new(Diagnostic::error(
                Code::BadCondition,
                path.span,
                "a name is due",
            )));
        };
        let mut named = self.steps_named(path, place).into_iter();
        if let Some(innermost) = named.next() {
            return match self.behind(path, named.next().is_some()) {
                Some(other) => Err(Box::new(shadowed(path, other))),
                None => innermost,
            };
        }
        if rest.is_empty() {
            if self.equipment.settings.contains_key(*first) {
                return Ok(Target::Setting((*first).clone()));
            }
            if self.equipment.positions.contains_key(*first) {
                return Ok(Target::Position((*first).clone()));
            }
            return Ok(Target::Word((*first).clone()));
        }
        self.figure(path)
    }

    /// What `path` means in each block around `place` that has a step of its first word, innermost
    /// first; the callers of this procedure are out of sight.
    fn steps_named(&self, path: &Path, place: &Place) -> Vec<Result<Target, Box<Diagnostic>>> {
        let words: Vec<&Name> = path.words.iter().map(|w| &w.value).collect();
        let Some((first, rest)) = words.split_first() else { return Vec::new() };
        let Ok(id) = StepId::new(first.as_str()) else { return Vec::new() };
        let blocks = (place.root_len..=place.path.len()).rev();
        blocks
            .filter_map(|depth| {
                let mut at = place.path.get(..depth)?.to_vec();
                at.push(id.clone());
                let there = self.declared.steps.contains_key(&at);
                there.then(|| self.descend(at, rest, path))
            })
            .collect()
    }

    /// What else `path` could mean where it names a step.
    fn behind(&self, path: &Path, outer_step: bool) -> Option<&'static str> {
        let one = if let [word] = path.words.as_slice() { Some(&word.value) } else { None };
        if outer_step {
            Some("a step of a section around this one")
        } else if one.is_some_and(|word| self.equipment.settings.contains_key(word)) {
            Some("a setting of the fit-out")
        } else if one.is_some_and(|word| self.equipment.positions.contains_key(word)) {
            Some("a kind of position")
        } else if self.known_figure(&path.to_string()).is_some() {
            Some("a figure of the equipment file")
        } else {
            None
        }
    }

    fn descend(
        &self,
        mut at: StaticPath,
        rest: &[&Name],
        path: &Path,
    ) -> Result<Target, Box<Diagnostic>> {
        for (i, word) in rest.iter().enumerate() {
            let after = i.saturating_add(1);
            let last = after == rest.len();
            if let Ok(id) = StepId::new(word.as_str()) {
                at.push(id);
                if self.declared.steps.contains_key(&at) {
                    continue;
                }
                at.pop();
            }
            match (word.as_str(), last) {
                ("verdict", true) => return Ok(Target::Step(at, Field::Verdict)),
                ("value", true) => return Ok(Target::Step(at, Field::Value)),
                ("grade", true) => return Ok(Target::Step(at, Field::Grade)),
                _ => {
                    let inside = self.declared.steps.keys().filter_map(|p| {
                        (p.len() == at.len().saturating_add(1) && p.starts_with(&at))
                            .then(|| p.last().map(StepId::as_str))?
                    });
                    let known: Vec<&str> = inside.chain(["verdict", "value", "grade"]).collect();
                    let span = path.words.get(after).map_or(path.span, |w| w.span);
                    let mut diagnostic = Diagnostic::error(
                        Code::UndefinedName,
                        span,
                        format!(
                            "`{word}` is nothing inside `{}`",
                            at.last().map_or("", |x| x.as_str())
                        ),
                    );
                    if let Some(near) = suggestion(word.as_str(), known) {
                        diagnostic = diagnostic.help(format!("did you mean `{near}`?"));
                    }
                    return Err(Box::new(diagnostic));
                }
            }
        }
        Ok(Target::Step(at, Field::Value))
    }

    fn figure(&self, path: &Path) -> Result<Target, Box<Diagnostic>> {
        let text = path.to_string();
        if let Some(value) = self.known_figure(&text) {
            return Ok(Target::Figure(value));
        }
        let known = self
            .declared
            .steps
            .keys()
            .filter_map(|p| p.last().map(StepId::as_str))
            .chain(self.equipment.constants.keys().map(FigureId::as_str))
            .chain(self.equipment.settings.keys().map(Name::as_str));
        let first = path.words.first().map_or("", |w| w.value.as_str());
        let mut diagnostic = Diagnostic::error(
            Code::UndefinedName,
            path.span,
            format!("`{path}` is neither a step visible here nor a figure of the equipment file"),
        );
        if let Some(near) = suggestion(&text, known.clone()).or_else(|| suggestion(first, known)) {
            diagnostic = diagnostic.help(format!("did you mean `{near}`?"));
        }
        Err(Box::new(diagnostic))
    }

    /// The figure of the equipment file that `text` names, without a word about where there is none:
    /// to look for what may have been meant takes far longer than the look-up.
    fn known_figure(&self, text: &str) -> Option<Quantity> {
        let id = |text: &str| FigureId::new(text).ok();
        if let Some(constant) = id(text).and_then(|id| self.equipment.constants.get(&id)) {
            return Some(constant.value.clone());
        }
        let (before, bound) = text.rsplit_once('.')?;
        let named = id(before).and_then(|id| self.equipment.limits.get(&id))?;
        match bound {
            "at_least" => named.criterion.limit.at_least.clone(),
            "at_most" => named.criterion.limit.at_most.clone(),
            _ => None,
        }
    }

    /// The type of a resolved name.
    pub(super) fn type_of(&self, found: &Ref) -> Type {
        match found {
            Ref::Word(_) => Type::Nothing,
            Ref::Setting(name) => Type::Choice {
                of: format!("the values of `{name}`"),
                words: self
                    .equipment
                    .settings
                    .get(name)
                    .map(|choices| choices.iter().map(|c| c.value.clone()).collect())
                    .unwrap_or_default(),
            },
            Ref::Figure(quantity) => Type::Quantity(quantity.dimension),
            Ref::Position { kind, .. } => Type::Choice {
                of: format!("the places of `{kind}`"),
                words: self
                    .equipment
                    .positions
                    .get(kind)
                    .map(|names| names.iter().filter_map(|n| Name::new(n.clone()).ok()).collect())
                    .unwrap_or_default(),
            },
            Ref::Answer { field: Field::Verdict, .. } => Type::Verdict,
            Ref::Answer { passes, field: Field::Grade } => passes
                .first()
                .and_then(|i| self.instances.get(*i))
                .map_or(Type::Nothing, |instance| grades_of(&instance.ask, &instance.address)),
            Ref::Answer { passes, field: Field::Value } => passes
                .first()
                .and_then(|i| self.instances.get(*i))
                .map_or(Type::Nothing, |instance| type_of_ask(&instance.ask, &instance.address)),
        }
    }
}

/// The grades of a reading as words; nothing where it has none.
fn grades_of(ask: &Ask, address: &super::Address) -> Type {
    let Ask::Measure(note) = ask else { return Type::Nothing };
    let Some(grades) = &note.against.stated().grades else { return Type::Nothing };
    let words = grades.iter().filter_map(|grade| Name::new(grade.name.as_str()).ok()).collect();
    let of = address.0.last().map(|s| format!("the grade of {}", s.id)).unwrap_or_default();
    Type::Choice { of, words }
}

fn type_of_ask(ask: &Ask, address: &super::Address) -> Type {
    let of = |what: &str| {
        let id = address.0.last().map(|segment| segment.id.as_str());
        format!("the {what} of `{}`", id.unwrap_or_default())
    };
    match ask {
        Ask::Look { several, findings, .. } => {
            let (of, words) = (of("findings"), findings.iter().map(|f| f.id.clone()).collect());
            if *several { Type::Several { of, words } } else { Type::Choice { of, words } }
        }
        Ask::Measure(note) => Type::Quantity(note.unit.dimension()),
        Ask::WorkOut(note) => Type::Quantity(note.unit.dimension()),
        Ask::Enter { kind, .. } => match kind {
            EntryKind::Figure { unit, .. } => Type::Quantity(unit.dimension()),
            EntryKind::Choice(choices) => {
                let words = choices.iter().map(|(c, _)| c.value.clone()).collect();
                Type::Choice { of: of("choices"), words }
            }
            EntryKind::Text | EntryKind::Date | EntryKind::Serial | EntryKind::FitOut => Type::Text,
        },
        Ask::Needs(_)
        | Ask::Do(_)
        | Ask::Check { .. }
        | Ask::Attach { .. }
        | Ask::Build { .. }
        | Ask::Tighten(_)
        | Ask::Decide { .. }
        | Ask::Hold(_)
        | Ask::Wait { .. }
        | Ask::Stop(_) => Type::Nothing,
    }
}
