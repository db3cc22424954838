//! `report`: the record of a finished job in a form of the reader's choice, on standard output.

use std::collections::BTreeMap;
use std::path::Path;

use clap::ValueEnum;

use super::out::Out;
use super::report::{Failure, Kind};
use super::{ReportArguments, ShopArgument, exit, jobs, parse_job};
use crate::ports::{Disk as _, DiskFault};
use crate::record::release::RECORD_LEN_BYTES_MAX;
use crate::record::report::exports::Exports;
use crate::record::report::photos::PHOTO_LEN_BYTES_MAX;
use crate::record::report::{ReportFault, render_with};
use crate::store::{InnerPath, JobFolder, OsDisk, StoreError, load_folder};

/// The forms of a report.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Format {
    /// One self-contained page for screen and paper.
    Html,
    /// Headings and tables.
    Markdown,
    /// Plain lines.
    Text,
    /// Two columns, a row a field, safe to open in a spreadsheet.
    Csv,
    /// A row a reading, with its figure, limit and instrument, safe to open in a spreadsheet.
    CsvReadings,
    /// The record as it was signed, with the hash of its bytes.
    Json,
}

pub(super) fn run(arguments: &ReportArguments, out: Out) -> Result<u8, Failure> {
    let folder = folder(&arguments.job, &arguments.shop)?;
    let bytes = record(&folder)?;
    match arguments.format {
        Format::Html => {
            let photos = photos(&folder)?;
            out.raw(&render_with(&bytes, &photos).map_err(|e| fault(&e))?);
        }
        Format::Markdown => out.raw(&Exports::of(&bytes).map_err(|e| fault(&e))?.markdown()),
        Format::Text => out.raw(&Exports::of(&bytes).map_err(|e| fault(&e))?.text()),
        Format::Csv => out.raw(&Exports::of(&bytes).map_err(|e| fault(&e))?.csv()),
        Format::CsvReadings => {
            out.raw(&Exports::of(&bytes).map_err(|e| fault(&e))?.readings_csv());
        }
        Format::Json => out.raw(&Exports::of(&bytes).map_err(|e| fault(&e))?.json()),
    }
    Ok(exit::OK)
}

fn fault(fault: &ReportFault) -> Failure {
    Failure::new(Kind::Damaged, fault.to_string())
        .hint("`witnessmark verify FOLDER` says what else is wrong with it")
}

/// The photos of a job by their SHA-256, those that a page can hold.
fn photos(folder: &JobFolder) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
    let mut photos = load_folder(&OsDisk, folder)?.files;
    photos
        .retain(|path, bytes| path.starts_with("evidence/") && bytes.len() <= PHOTO_LEN_BYTES_MAX);
    let name = |path: String| path.trim_start_matches("evidence/").to_owned();
    Ok(photos.into_iter().map(|(path, bytes)| (name(path), bytes)).collect())
}

/// A folder that is there, else a job of the shop.
pub(super) fn folder(job: &str, shop: &ShopArgument) -> Result<JobFolder, Failure> {
    let named = Path::new(job);
    if OsDisk.kind(named).map_err(StoreError::from)?.is_some() {
        return Ok(JobFolder::at(named));
    }
    let id = parse_job(job)?;
    Ok(jobs::folder(shop)?.job(&id))
}

/// The bytes of the record of a released job.
pub(super) fn record(folder: &JobFolder) -> Result<Vec<u8>, Failure> {
    let name = InnerPath::new("record.json")?;
    match folder.read(&OsDisk, &name, RECORD_LEN_BYTES_MAX as u64) {
        Err(StoreError::Disk(error)) if error.fault == DiskFault::NotThere => Err(Failure::new(
            Kind::Refused,
            format!("`{}` holds no record", folder.root().display()),
        )
        .hint("a record is made when the job is released; `witnessmark jobs` lists the jobs")),
        read => Ok(read?),
    }
}
