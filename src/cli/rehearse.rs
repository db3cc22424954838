//! `rehearse`: plays rehearsal files, lists what they do not take, writes what is missing.

mod find;
mod show;

use std::collections::BTreeMap;
use std::path::Path;

use super::RehearseArguments;
use super::exit;
use super::out::Out;
use super::report::Failure;
use crate::ids::{EquipmentId, ProcedureId};
use crate::ports::{Clock as _, Disk as _, Overwrite};
use crate::rehearsal::model::Rehearsal;
use crate::rehearse::missing::{Cast, Missing};
use crate::rehearse::mutate::mutants;
use crate::rehearse::places::Course;
use crate::rehearse::{
    Bench, Coverage, Fate, Mutant, Played, RehearseError, mutate, write_missing,
};
use crate::source::Source;
use crate::store::{OsDisk, StoreError, SystemClock};
use find::Input;

/// How to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Format {
    /// For people.
    Text,
    /// JSON.
    Json,
}

/// A rehearsal with its file, and what came of it.
struct Shown {
    source: Source,
    script: Rehearsal,
    result: Result<Played, RehearseError>,
}

/// What is known of a procedure on an equipment file.
struct Rehearsed {
    course: Course,
    coverage: Coverage,
    n_rehearsals: usize,
    missing: Option<Missing>,
    mutants: Option<Vec<(Mutant, Fate)>>,
}

/// A procedure with the equipment that it is played on.
type Pair = (ProcedureId, EquipmentId);

pub(super) fn run(arguments: &RehearseArguments, out: Out) -> Result<u8, Failure> {
    let input = find::input(arguments)?;
    let now = SystemClock.now();
    let mut bench = Bench::set_up(&input.shelf, now)?;
    let played: Vec<Shown> = input
        .rehearsals
        .iter()
        .map(|(source, script)| {
            let result = bench.play(script);
            Shown { source: source.clone(), script: script.clone(), result }
        })
        .collect();
    let mut rehearsed = Vec::new();
    for (pair, scripts) in pairs(&input, &mut bench)? {
        let mut of = rehearse(&input, &pair, &played)?;
        if let Some(folder) = &arguments.write_missing {
            of.missing = Some(write(folder, (&input, &pair), &mut bench, &mut of)?);
        }
        if arguments.mutate {
            of.mutants = Some(mutated(&input, &of.course, &scripts)?);
        }
        rehearsed.push(of);
    }
    match arguments.format {
        Format::Text => show::text(&played, &rehearsed, &input.notes, out),
        Format::Json => show::json(&played, &rehearsed, out),
    }
    let differs = |shown: &Shown| !shown.result.as_ref().is_ok_and(Played::is_as_expected);
    let misses = rehearsed.iter().any(|of| of.coverage.missing().next().is_some());
    let wrong = played.iter().any(differs) || (arguments.all && misses);
    Ok(if wrong { exit::FINDINGS } else { exit::OK })
}

/// Every procedure that is named or rehearsed, with the equipment of each machine, and its rehearsals.
fn pairs<'a>(
    input: &'a Input,
    bench: &mut Bench,
) -> Result<BTreeMap<Pair, Vec<&'a Rehearsal>>, Failure> {
    let shop = bench.shop_file()?;
    let mut pairs: BTreeMap<Pair, Vec<&Rehearsal>> = BTreeMap::new();
    for (_, script) in &input.rehearsals {
        let machine = shop.machines.iter().find(|m| m.tag == script.machine.value);
        let Some(machine) = machine else { continue };
        let pair = (script.procedure.value.clone(), machine.equipment.clone());
        pairs.entry(pair).or_default().push(script);
    }
    for procedure in &input.procedures {
        let machines = shop.machines.iter().map(|m| (m.equipment.clone(), m.tag.as_str()));
        let mut mistakes = None;
        let mut fits = false;
        for (equipment, tag) in machines.collect::<BTreeMap<_, _>>() {
            match bench.open(procedure, tag) {
                Ok(_) => {
                    pairs.entry((procedure.clone(), equipment)).or_default();
                    fits = true;
                }
                Err(error) => mistakes = Some(error),
            }
        }
        if let Some(error) = mistakes.filter(|_| !fits) {
            return Err(error.into());
        }
    }
    Ok(pairs)
}

fn rehearse(input: &Input, pair: &Pair, played: &[Shown]) -> Result<Rehearsed, Failure> {
    let (procedure, equipment) = pair;
    let course = Course::load(&input.shelf, procedure, equipment).ok_or_else(|| {
        Failure::new(
            super::report::Kind::Findings,
            format!("`{procedure}` on `{equipment}` has mistakes, or files are missing"),
        )
        .hint(format!("`witnessmark check {}` shows them", input.folder.join("*.yaml").display()))
    })?;
    let mut coverage = Coverage::of(&course);
    let mut n_rehearsals = 0;
    for shown in played {
        let Ok(played) = &shown.result else { continue };
        let flow = &played.session.files().flow;
        if flow.procedure == *procedure && flow.equipment_id() == equipment {
            n_rehearsals += 1;
            let state = played.session.state();
            coverage.add(&course, &state.walk, state);
        }
    }
    Ok(Rehearsed { course, coverage, n_rehearsals, missing: None, mutants: None })
}

fn write(
    folder: &Path,
    (input, pair): (&Input, &Pair),
    bench: &mut Bench,
    of: &mut Rehearsed,
) -> Result<Missing, Failure> {
    let shop = bench.shop_file()?;
    let like =
        input.rehearsals.iter().map(|(_, script)| script).find(|s| s.procedure.value == pair.0);
    let tag = like.map(|script| script.machine.value.as_str());
    let fitting = shop.machines.iter().filter(|machine| machine.equipment == pair.1);
    let machine = fitting.clone().find(|m| Some(m.tag.as_str()) == tag).or(fitting.clone().next());
    let Some(machine) = machine else {
        return Err(Failure::usage(format!(
            "there is no machine of `{}` in the shop file",
            pair.1
        )));
    };
    let cast = Cast::of(&shop, machine, like)?;
    if !OsDisk.exists(folder).map_err(StoreError::from)? {
        OsDisk.create_dir(folder).map_err(StoreError::from)?;
    }
    let path = |id: &str| folder.join(format!("{id}.yaml"));
    let mut is_free = |id: &str| {
        let used = input.rehearsals.iter().any(|(_, script)| script.id.as_str() == id);
        !used && OsDisk.exists(&path(id)).is_ok_and(|there| !there)
    };
    let missing = write_missing(bench, &of.course, &mut of.coverage, &cast, &mut is_free)?;
    for written in &missing.written {
        OsDisk
            .write_new(&path(&written.id), written.text.as_bytes(), Overwrite::Never)
            .map_err(StoreError::from)?;
    }
    Ok(missing)
}

fn mutated(
    input: &Input,
    course: &Course,
    scripts: &[&Rehearsal],
) -> Result<Vec<(Mutant, Fate)>, Failure> {
    let now = SystemClock.now();
    let mut out = Vec::new();
    for mutant in mutants(&input.shelf, course) {
        let fate = mutate(&input.shelf, &mutant, scripts, now)?;
        out.push((mutant, fate));
    }
    Ok(out)
}
