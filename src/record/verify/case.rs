//! What a folder holds, read once for all five questions. Nothing is judged here.

use std::collections::BTreeMap;

use super::FolderBytes;
use crate::ids::Sha256;
use crate::journal::{self, Scan, ScanError, ScannedLine};
use crate::record::completion::{Record, RecordFault};
use crate::record::files::{FilesFault, JobFiles, load};
use crate::record::release::{Release, ReleaseFault};
use crate::walk::Entry;
use crate::walk::event::{Event, JobOpened};

pub(super) const JOURNAL: &str = "journal.jsonl";
pub(super) const RECORD: &str = "record.json";
pub(super) const SIGNATURE: &str = "record.json.sig";

/// The `released` entry.
#[derive(Debug, Clone, Copy)]
pub(super) struct Released<'a> {
    /// Its line.
    pub(super) line: &'a ScannedLine,
    /// The line before.
    pub(super) before: &'a ScannedLine,
    /// The hash of the record that it names.
    pub(super) record: Sha256,
    /// The hash of the signature that it names.
    pub(super) signature: Sha256,
}

/// A folder, taken apart.
pub(super) struct Case<'a> {
    pub(super) folder: &'a FolderBytes,
    /// The journal; `None` where there is none.
    pub(super) scan: Option<Result<Scan, ScanError>>,
    /// Its entries, as far as it can be read.
    pub(super) entries: Vec<Entry>,
    /// The files that the job was worked by; `None` where no job is named.
    pub(super) files: Option<Result<JobFiles, FilesFault>>,
    /// The record; `None` where there is none.
    pub(super) record: Option<Result<Record, RecordFault>>,
}

impl<'a> Case<'a> {
    pub(super) fn of(folder: &'a FolderBytes) -> Self {
        let scan = folder.files.get(JOURNAL).map(|bytes| journal::scan(bytes));
        let entries = match &scan {
            Some(Ok(scan)) => scan.entries().cloned().collect(),
            Some(Err(_)) | None => Vec::new(),
        };
        let record = folder.files.get(RECORD).map(|bytes| Record::parse(bytes));
        let mut case = Self { folder, scan, entries, files: None, record };
        case.files = case.opened().map(|opened| {
            let bytes: BTreeMap<String, Vec<u8>> = folder
                .files
                .iter()
                .filter_map(|(path, bytes)| Some((path.strip_prefix("files/")?, bytes)))
                .map(|(name, bytes)| (name.to_owned(), bytes.clone()))
                .collect();
            load(&bytes, &opened.procedure, &opened.equipment)
        });
        case
    }

    /// The lines of a journal that can be read.
    pub(super) fn lines(&self) -> &[ScannedLine] {
        match &self.scan {
            Some(Ok(scan)) => &scan.lines,
            Some(Err(_)) | None => &[],
        }
    }

    /// What entry 0 says.
    pub(super) fn opened(&self) -> Option<&JobOpened> {
        match &self.entries.first()?.event {
            Event::JobOpened(opened) => Some(opened),
            _ => None,
        }
    }

    /// The last entry, when it is a release.
    pub(super) fn released(&self) -> Option<Released<'_>> {
        let [.., before, line] = self.lines() else { return None };
        match line.entry.event {
            Event::Released { record, signature } => {
                Some(Released { line, before, record, signature })
            }
            _ => None,
        }
    }

    /// The record, when it can be read.
    pub(super) fn good_record(&self) -> Option<&Record> {
        self.record.as_ref()?.as_ref().ok()
    }

    /// What the record says of its release.
    pub(super) fn release(&self) -> Option<Result<Release, ReleaseFault>> {
        Some(Release::try_from(&self.good_record()?.release))
    }

    /// The files, when they fit together.
    pub(super) fn good_files(&self) -> Option<&JobFiles> {
        self.files.as_ref()?.as_ref().ok()
    }

    /// The text of a file of the folder.
    pub(super) fn text(&self, path: &str) -> Option<&str> {
        std::str::from_utf8(self.folder.files.get(path)?).ok()
    }

    pub(super) fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let has_record = [RECORD, SIGNATURE].iter().any(|p| self.folder.files.contains_key(*p));
        if self.released().is_none() && has_record {
            remarks.push(
                "a record or its signature lies there although the journal says nothing of a \
                 release: an attempt was cut short, and it counts for nothing until the job is \
                 opened again"
                    .to_owned(),
            );
        }
        if self.opened().is_some_and(|o| o.kind == crate::shop::model::ShopKind::Demo) {
            remarks.push(
                "this is a demo job of a made-up shop: it says nothing of a real machine"
                    .to_owned(),
            );
        }
        remarks
    }
}
