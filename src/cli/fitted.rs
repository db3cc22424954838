//! `fitted`: which parts the jobs of a shop fitted where, by machine, position, part or lot.

use std::collections::BTreeMap;

use serde::Serialize;

use super::out::Out;
use super::report::{Failure, Kind};
use super::{FittedArguments, exit, jobs};
use crate::ids::JobId;
use crate::record::verify::verify;
use crate::session::fitted::{FoundParts, PartOfJob, Wanted};
use crate::session::open::OpenShop;
use crate::store::load_folder;
use crate::visible::visible;

/// The format of the answer as JSON, `MAJOR.MINOR`.
///
/// Change list:
/// - 1.0: the first.
const JSON_FORMAT: &str = "1.0";

/// How far a job's word can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Trust {
    /// Released, and all five answers of `verify` are good.
    Good,
    /// Released, and `verify` finds something.
    NotGood,
    /// Not released; its journal says so.
    Open,
}

impl Trust {
    fn word(self) -> &'static str {
        match self {
            Self::Good => "released",
            Self::NotGood => "NOT GOOD",
            Self::Open => "open",
        }
    }
}

pub(super) fn run(arguments: &FittedArguments, out: Out) -> Result<u8, Failure> {
    let wanted = Wanted {
        machine: arguments.machine.clone(),
        at: arguments.at.iter().map(|at| at.replace(' ', "=")).collect(),
        part: arguments.part.clone(),
        lot: arguments.lot.clone(),
    };
    if wanted == Wanted::default() {
        return Err(Failure::usage("nothing is asked for").hint(
            "name at least one: `--machine TAG`, `--at cylinder=3`, `--part NAME`, `--lot LOT`",
        ));
    }
    let shop = jobs::load(&arguments.shop)?;
    let found = shop.fitted(&wanted)?;
    let trust = trust(&shop, &found);
    if arguments.json {
        out.line(&json(&found, &trust));
    } else {
        for line in table(&found, &trust) {
            out.line(&line);
        }
    }
    let n_bad = trust.values().filter(|trust| **trust == Trust::NotGood).count();
    if n_bad + found.unread.len() == 0 {
        return Ok(exit::OK);
    }
    let what = format!(
        "{} of the jobs cannot be read, and {n_bad} of those listed do not verify",
        found.unread.len()
    );
    Err(Failure::new(Kind::Damaged, what)
        .hint("`witnessmark verify FOLDER` says what is wrong with each; the answer is not whole"))
}

/// Every job that was found, verified against the shop's key where it is released.
fn trust(shop: &OpenShop, found: &FoundParts) -> BTreeMap<JobId, Trust> {
    let mut trust = BTreeMap::new();
    for part in &found.parts {
        trust.entry(part.job.clone()).or_insert_with(|| {
            if !part.is_released {
                return Trust::Open;
            }
            let bytes = load_folder(shop.disk().as_ref(), &shop.folder.job(&part.job));
            let is_good = bytes.is_ok_and(|bytes| verify(&bytes, Some(&shop.trust)).is_good());
            if is_good { Trust::Good } else { Trust::NotGood }
        });
    }
    trust
}

fn of(trust: &BTreeMap<JobId, Trust>, part: &PartOfJob) -> Trust {
    trust.get(&part.job).copied().unwrap_or(Trust::Open)
}

fn table(found: &FoundParts, trust: &BTreeMap<JobId, Trust>) -> Vec<String> {
    const HEAD: [&str; 8] =
        ["JOB", "STATE", "MACHINE", "POSITION", "PART", "LOT", "ENTERED", "STEP AND ENTRY"];
    let mut rows = vec![HEAD.map(str::to_owned)];
    for one in &found.parts {
        let part = &one.part;
        let position = if part.position.is_empty() { "machine" } else { &part.position };
        let by = part.by.as_deref().unwrap_or("nobody");
        let at = one.at.map_or_else(String::new, |at| format!(", {}", at.spoken()));
        rows.push([
            one.job.to_string(),
            of(trust, one).word().to_owned(),
            format!("{} ({})", one.machine, one.serial),
            position.replace('=', " ").replace(',', ", "),
            format!("{} ({})", part.title, part.number.as_deref().unwrap_or(&part.part)),
            part.lot.clone().unwrap_or_else(|| "-".to_owned()),
            format!("{by}{at}"),
            format!("{}, entry {}", part.step, part.n),
        ]);
    }
    let mut lines = aligned(&rows);
    if found.parts.is_empty() {
        lines.clear();
    }
    let n_of = trust.len();
    lines.push(format!(
        "{} part{} in {n_of} of {} jobs",
        found.parts.len(),
        if found.parts.len() == 1 { "" } else { "s" },
        found.n_jobs
    ));
    let unread = found.unread.iter();
    lines.extend(unread.map(|(job, why)| visible(&format!("{job}  NOT READ  {why}"))));
    lines
}

/// The rows with their columns below each other.
fn aligned(rows: &[[String; 8]]) -> Vec<String> {
    let rows: Vec<[String; 8]> =
        rows.iter().map(|row| row.each_ref().map(|cell| visible(cell))).collect();
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..8).map(width).collect();
    let line = |row: &[String; 8]| {
        let cells = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}"));
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    rows.iter().map(line).collect()
}

#[derive(Serialize)]
struct Wire<'a> {
    format: &'a str,
    jobs_looked_into: usize,
    not_read: Vec<NotRead<'a>>,
    parts: Vec<PartWire<'a>>,
}

#[derive(Serialize)]
struct NotRead<'a> {
    job: &'a str,
    why: &'a str,
}

#[derive(Serialize)]
struct PartWire<'a> {
    at: Option<String>,
    by: Option<&'a str>,
    entry: u64,
    job: &'a str,
    lot: Option<&'a str>,
    machine: &'a str,
    number: Option<&'a str>,
    part: &'a str,
    position: &'a str,
    serial: &'a str,
    state: &'a str,
    step: &'a str,
    title: &'a str,
}

fn json(found: &FoundParts, trust: &BTreeMap<JobId, Trust>) -> String {
    let part = |one: &'_ PartOfJob| of(trust, one);
    let parts = found.parts.iter().map(|one| PartWire {
        at: one.at.map(|at| at.to_string()),
        by: one.part.by.as_deref(),
        entry: one.part.n,
        job: one.job.as_str(),
        lot: one.part.lot.as_deref(),
        machine: &one.machine,
        number: one.part.number.as_deref(),
        part: &one.part.part,
        position: &one.part.position,
        serial: &one.serial,
        state: match part(one) {
            Trust::Good => "released",
            Trust::NotGood => "not_good",
            Trust::Open => "open",
        },
        step: &one.part.step,
        title: &one.part.title,
    });
    let unread = found.unread.iter();
    crate::canonical::to_line(&Wire {
        format: JSON_FORMAT,
        jobs_looked_into: found.n_jobs,
        not_read: unread.map(|(job, why)| NotRead { job: job.as_str(), why }).collect(),
        parts: parts.collect(),
    })
}
