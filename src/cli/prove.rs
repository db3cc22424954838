//! `prove`: what procedures promise, on every path; scripts that break it, saved as rehearsals.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::ProveArguments;
use super::check::{look, together};
use super::exit;
use super::out::Out;
use super::rehearse::find::{folder_of, shop_beside};
use super::report::Failure;
use crate::diag::{has_errors, render};
use crate::ids::Name;
use crate::ports::{Clock as _, Disk as _, Overwrite};
use crate::prove::{Cast, Proof, Proven, Report, Script, diagnostics, prove, rehearsal, to_yaml};
use crate::rehearse::bench::{APPROVER, Bench, Shelf};
use crate::shop::model::Shop;
use crate::store::{OsDisk, StoreError, SystemClock};
use crate::walk::Flow;

pub(super) fn run(arguments: &ProveArguments, out: Out) -> Result<u8, Failure> {
    let read = look(&arguments.files)?;
    if has_errors(&read.out) {
        out.raw(&render::terminal(&read.out, &read.sources, out.colour()));
        return Ok(exit::FINDINGS);
    }
    if read.flows.is_empty() {
        let failure = Failure::usage("there is nothing to prove among these files".to_owned());
        return Err(failure.hint("give procedures with all they perform, and their equipment file"));
    }
    let shop = match &arguments.save {
        Some(_) => Some(shop_of(&arguments.files, read.shop.as_ref(), out)?),
        None => None,
    };
    let mut reports = Vec::new();
    for flow in &read.flows {
        let before = processor_ms();
        let report = prove(flow);
        let spent_ms = processor_ms().saturating_sub(before);
        tell(flow, &report, spent_ms, out);
        reports.push(report);
    }
    let mut holds = true;
    for (flow, report) in read.flows.iter().zip(together(&read.flows, &reports)) {
        let found = diagnostics(flow, &report);
        holds &= !has_errors(&found);
        out.raw(&render::terminal(&found, &read.sources, out.colour()));
        if let (Some(folder), Some(shop)) = (&arguments.save, &shop) {
            save(folder, flow, &report, shop, out)?;
        }
    }
    Ok(if holds { exit::OK } else { exit::FINDINGS })
}

fn tell(flow: &Flow, report: &Report, spent_ms: u64, out: Out) {
    out.line(&format!("{} on {}", flow.procedure, flow.equipment_id()));
    for proven in &report.promises {
        let word = match &proven.proof {
            Proof::Proved => "proved",
            Proof::Broken(_) => "BROKEN",
            Proof::NotProven(..) => "NOT PROVEN",
        };
        out.line(&format!("  {word:<10}  {}", proven.text(flow)));
    }
    out.line(&format!(
        "  {} fit-outs, {} paths by classes of answers, {} states visited, {spent_ms} ms of processor time",
        report.n_fit_outs, report.n_paths, report.n_states
    ));
    out.line(
        "  This covers the instructions, with answers as they stood: not answers corrected later, \
         not what hands did.",
    );
}

/// The shop whose people, instruments and machines play the scripts: the one among the files, the one
/// beside them, or the demo's, as `rehearse` takes it.
fn shop_of(files: &[PathBuf], named: Option<&Shop>, out: Out) -> Result<Shop, Failure> {
    if let Some(shop) = named {
        return Ok(shop.clone());
    }
    let mut notes = Vec::new();
    let here = PathBuf::from(".");
    let folder = folder_of(files).unwrap_or(here);
    let text = shop_beside(&folder, &mut notes)?;
    for note in notes {
        out.note(&note);
    }
    let shelf = Shelf { procedures: BTreeMap::new(), equipment: BTreeMap::new(), shop: text };
    let mut shop = Bench::set_up(&shelf, SystemClock.now())?.shop_file()?;
    shop.people.retain(|person| person.id.as_str() != APPROVER);
    Ok(shop)
}

fn save(folder: &Path, flow: &Flow, report: &Report, shop: &Shop, out: Out) -> Result<(), Failure> {
    if !OsDisk.exists(folder).map_err(StoreError::from)? {
        OsDisk.create_dir(folder).map_err(StoreError::from)?;
    }
    for (number, (proven, script)) in report.broken().enumerate() {
        let id = format!("{}_breaks_{}", flow.procedure, number + 1);
        let id: String = id.chars().take(64).collect();
        let Ok(id) = Name::new(id) else { continue };
        let cast = Cast::of(shop, flow, script);
        let text = written(flow, (proven, script), &cast, &id);
        let path = folder.join(format!("{id}.yaml"));
        OsDisk.write_new(&path, text.as_bytes(), Overwrite::Replace).map_err(StoreError::from)?;
        out.line(&format!("{}", path.display()));
        for gap in cast.gaps(flow, script) {
            out.line(&format!("  before `rehearse` can play it: {gap}"));
        }
    }
    Ok(())
}

fn written(flow: &Flow, (proven, script): (&Proven, &Script), cast: &Cast, id: &Name) -> String {
    let promise = proven.text(flow);
    let place = proven.place(flow, script);
    let comment = format!(
        "The shortest answers that break: {promise}\nThey lead to {place}.\nOnce it is mended, add \
         the answers that follow, and say what must come of them."
    );
    to_yaml(&rehearsal(flow, script, cast, id.clone(), &format!("Breaks: {promise}")), &comment)
}

/// The processor time of this process so far.
fn processor_ms() -> u64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    let ms = time.tv_sec.saturating_mul(1_000).saturating_add(time.tv_nsec / 1_000_000);
    u64::try_from(ms).unwrap_or(0)
}
