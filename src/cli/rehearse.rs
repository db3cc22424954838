//! `rehearse`: plays rehearsal files, lists what they do not take, writes what is missing.

pub(super) mod find;
mod show;

use std::collections::BTreeMap;
use std::path::Path;

use super::RehearseArguments;
use super::exit;
use super::out::Out;
use super::report::Failure;
use crate::ids::{EquipmentId, ProcedureId};
use crate::ports::{Clock as _, Disk as _, Overwrite};
use crate::procedure::model::Procedure;
use crate::rehearsal::model::Rehearsal;
use crate::rehearse::missing::{Cast, Missing};
use crate::rehearse::mutate::{broken, mutants};
use crate::rehearse::places::{Atlas, Course};
use crate::rehearse::{
    Bench, Coverage, Fate, Mutant, Played, RehearseError, mutate, write_missing,
};
use crate::source::Source;
use crate::store::{OsDisk, StoreError, SystemClock};
use crate::walk::compile::performed;
use find::Input;

/// How to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Format {
    /// For people.
    Text,
    /// JSON.
    Json,
}

/// A story of a rehearsal file: its own or a case, and what came of it.
struct Shown {
    source: Source,
    /// The case; none for the story of the file itself.
    case: Option<String>,
    script: Rehearsal,
    result: Result<Played, RehearseError>,
}

/// What is known of a procedure on an equipment file, beside what rehearsals take.
struct Rehearsed {
    course: Course,
    missing: Option<Missing>,
    mutants: Option<Vec<(Mutant, Fate)>>,
}

/// A procedure, whether it is played alone, and the equipment that it is played on.
type Pair = (ProcedureId, bool, EquipmentId);

pub(super) fn run(arguments: &RehearseArguments, out: Out) -> Result<u8, Failure> {
    let input = find::input(arguments)?;
    let now = SystemClock.now();
    let mut bench = Bench::set_up(&input.shelf, now)?;
    let mut played: Vec<Shown> = Vec::new();
    for (source, script) in &input.rehearsals {
        let names = script.cases.iter().map(|case| Some(case.name.value.to_string()));
        for (case, story) in std::iter::once(None).chain(names).zip(script.stories()) {
            let result = bench.play(&story);
            played.push(Shown { source: source.clone(), case, script: story, result });
        }
    }
    let pairs = pairs(&input, &mut bench)?;
    let mut rehearsed = courses(&input, &pairs)?;
    let mut coverage = coverage(&rehearsed, &played);
    let idle = excuse(&input, &rehearsed, &mut coverage);
    let mut in_turn: Vec<(&mut Rehearsed, &Vec<Rehearsal>)> =
        rehearsed.iter_mut().zip(pairs.values()).collect();
    // The shortest first: what they take of a file, the long ones that perform it need not.
    in_turn.sort_by_key(|(of, _)| of.course.flow.instances.len());
    for (of, scripts) in in_turn {
        if let Some(folder) = &arguments.write_missing {
            of.missing = Some(write(folder, &input, &mut bench, (of, &mut coverage))?);
        }
        if arguments.mutate {
            of.mutants = Some(mutated(&input, &of.course, scripts)?);
        }
    }
    match arguments.format {
        Format::Text => show::text(&played, (&rehearsed, &coverage), (&input.notes, &idle), out),
        Format::Json => show::json(&played, (&rehearsed, &coverage), out),
    }
    let differs = |shown: &Shown| !shown.result.as_ref().is_ok_and(Played::is_as_expected);
    let misses = coverage.missing().next().is_some();
    let wrong = played.iter().any(differs) || !idle.is_empty() || (arguments.all && misses);
    Ok(if wrong { exit::FINDINGS } else { exit::OK })
}

/// Every procedure that is named or rehearsed, with the equipment of each machine, and its rehearsals.
fn pairs(input: &Input, bench: &mut Bench) -> Result<BTreeMap<Pair, Vec<Rehearsal>>, Failure> {
    let shop = bench.shop_file()?;
    let mut pairs: BTreeMap<Pair, Vec<Rehearsal>> = BTreeMap::new();
    for (_, script) in &input.rehearsals {
        let machine = shop.machines.iter().find(|m| m.tag == script.machine.value);
        let Some(machine) = machine else { continue };
        let pair = (script.procedure.value.clone(), script.alone, machine.equipment.clone());
        pairs.entry(pair).or_default().extend(script.stories());
    }
    for named in &input.procedures {
        let (procedure, is_part) = (&named.id.value, !named.assumes.is_empty());
        let machines = shop.machines.iter().map(|m| (m.equipment.clone(), m.tag.as_str()));
        let mut mistakes = None;
        let mut fits = false;
        for (equipment, tag) in machines.collect::<BTreeMap<_, _>>() {
            // What others perform may only be walked alone: they read the plate and set what it assumes.
            for is_alone in [false, true].into_iter().filter(|alone| *alone || !is_part) {
                match bench.open(procedure, tag, is_alone) {
                    Ok(_) => {
                        pairs.entry((procedure.clone(), is_alone, equipment.clone())).or_default();
                        fits = true;
                        break;
                    }
                    Err(error) => mistakes = Some(error),
                }
            }
        }
        // One that stands only where another performs it, as at a position, counts there.
        let is_performed = |other: &Procedure| performed(&other.steps).contains(procedure);
        let counts = fits || input.procedures.iter().any(is_performed);
        if let Some(error) = mistakes.filter(|_| !counts) {
            return Err(error.into());
        }
    }
    Ok(pairs)
}

/// Every pair joined, with one numbering of places.
fn courses(
    input: &Input,
    pairs: &BTreeMap<Pair, Vec<Rehearsal>>,
) -> Result<Vec<Rehearsed>, Failure> {
    let mut atlas = Atlas::default();
    let course = |(procedure, is_alone, equipment): &Pair| {
        let top = (procedure, *is_alone);
        let course = Course::load(&input.shelf, top, equipment, &mut atlas);
        let course = course.ok_or_else(|| {
            let headline =
                format!("`{procedure}` on `{equipment}` has mistakes, or files are missing");
            let shown = input.folder.join("*.yaml");
            Failure::new(super::report::Kind::Findings, headline)
                .hint(format!("`witnessmark check {}` shows them", shown.display()))
        })?;
        Ok(Rehearsed { course, missing: None, mutants: None })
    };
    pairs.keys().map(course).collect()
}

/// What was played takes of all courses together: a file counts wherever it is performed.
fn coverage(rehearsed: &[Rehearsed], played: &[Shown]) -> Coverage {
    let mut coverage = Coverage::default();
    for of in rehearsed {
        coverage.join(&of.course);
    }
    for played in played.iter().filter_map(|shown| shown.result.as_ref().ok()) {
        let flow = &played.session.files().flow;
        let is_of = |of: &&Rehearsed| {
            of.course.flow.procedure == flow.procedure
                && of.course.flow.equipment_id() == flow.equipment_id()
        };
        if let Some(of) = rehearsed.iter().find(is_of) {
            let state = played.session.state();
            coverage.add(&of.course, &state.walk, state);
        }
    }
    coverage
}

/// Takes what authors say to be out of reach. What they say of places where nothing is left is told.
fn excuse(input: &Input, rehearsed: &[Rehearsed], coverage: &mut Coverage) -> Vec<String> {
    let mut idle = Vec::new();
    for (source, script) in &input.rehearsals {
        let is_of = |of: &&Rehearsed| {
            of.course.procedure == script.procedure.value && of.course.is_alone == script.alone
        };
        let Some(of) = rehearsed.iter().find(is_of) else { continue };
        for (at, because) in &script.out_of_reach {
            if !coverage.excuse(&of.course, &at.value, because) {
                let line = source.line_col(at.span.start).line;
                idle.push(format!(
                    "{}:{line}: nothing is left at `{}` that could be out of reach; take the line away",
                    source.name(),
                    at.value
                ));
            }
        }
    }
    idle
}

fn write(
    folder: &Path,
    input: &Input,
    bench: &mut Bench,
    (of, coverage): (&Rehearsed, &mut Coverage),
) -> Result<Missing, Failure> {
    let flow = &of.course.flow;
    let shop = bench.shop_file()?;
    let scripts = input.rehearsals.iter().map(|(_, script)| script);
    let like = scripts.clone().find(|script| script.procedure.value == of.course.procedure);
    let tag = like.map(|script| script.machine.value.as_str());
    let fitting = shop.machines.iter().filter(|m| m.equipment == *flow.equipment_id());
    let machine = fitting.clone().find(|m| Some(m.tag.as_str()) == tag).or(fitting.clone().next());
    let Some(machine) = machine else {
        return Err(Failure::usage(format!(
            "there is no machine of `{}` in the shop file",
            flow.equipment_id()
        )));
    };
    let cast = Cast::of(&shop, machine, like)?;
    if !OsDisk.exists(folder).map_err(StoreError::from)? {
        OsDisk.create_dir(folder).map_err(StoreError::from)?;
    }
    let path = |id: &str| folder.join(format!("{id}.yaml"));
    let mut is_free = |id: &str| {
        let used = scripts.clone().any(|script| script.id.as_str() == id);
        !used && OsDisk.exists(&path(id)).is_ok_and(|there| !there)
    };
    let missing = write_missing(bench, &of.course, coverage, &cast, &mut is_free)?;
    if let Some(written) = &missing.written {
        OsDisk
            .write_new(&path(&written.id), written.text.as_bytes(), Overwrite::Never)
            .map_err(StoreError::from)?;
    }
    Ok(missing)
}

fn mutated(
    input: &Input,
    course: &Course,
    scripts: &[Rehearsal],
) -> Result<Vec<(Mutant, Fate)>, Failure> {
    let now = SystemClock.now();
    let broken = broken(&course.flow);
    let mut out = Vec::new();
    for mutant in mutants(&input.shelf, course) {
        let fate = mutate(&input.shelf, &mutant, (scripts, &broken), now)?;
        out.push((mutant, fate));
    }
    Ok(out)
}
