//! Second question: is the journal one unbroken chain, and is its head the one that was signed?

use super::case::{Case, JOURNAL, RECORD};
use super::{Answer, FaultName, Faults, Question};
use crate::journal::{ScanError, Tail};
use crate::walk::event::Event;

pub(super) fn answer(case: &Case<'_>) -> Answer {
    let mut faults = Faults::default();
    let scan = match &case.scan {
        None => {
            let says = "there is no `journal.jsonl`; bring it back from a copy";
            faults.add(FaultName::JournalMissing, JOURNAL, says);
            return faults.answer(Question::Chain, "");
        }
        Some(Err(error)) => {
            let name = match error {
                ScanError::Newer { .. } => FaultName::NewerFormat,
                ScanError::LineEnds { .. } => FaultName::LineEndings,
                ScanError::Damaged { .. }
                | ScanError::Chain { .. }
                | ScanError::Number { .. }
                | ScanError::TooLarge { .. } => FaultName::JournalDamaged,
            };
            faults.add(name, JOURNAL, error.to_string());
            return faults.answer(Question::Chain, "");
        }
        Some(Ok(scan)) => scan,
    };
    match scan.tail {
        Tail::Whole => {}
        Tail::MissingNewline => {
            let says = "the last line of the journal lacks its line feed; it was not copied whole";
            faults.add(FaultName::JournalTorn, JOURNAL, says);
        }
        Tail::Torn { len_bytes, .. } => {
            let says = format!(
                "the journal ends with {len_bytes} bytes of an unfinished entry; open the job to \
                 have them set aside"
            );
            faults.add(FaultName::JournalTorn, JOURNAL, says);
        }
    }
    if case.opened().is_none() {
        let says = "the journal does not begin with the opening of a job";
        faults.add(FaultName::NotAJob, JOURNAL, says);
    }
    let n_entries = scan.lines.len();
    if case.released().is_none() {
        let checked = format!("{n_entries} entries are one chain; nobody has signed its head yet");
        return faults.answer(Question::Chain, checked);
    }
    head(case, &mut faults);
    if let Some(n) = released_early(case) {
        let says = format!("entry {n} releases the job, and other entries follow it");
        faults.add(FaultName::HeadDiffers, format!("entry {n}"), says);
    }
    let checked = format!(
        "{n_entries} entries are one chain, and its head is the one that the record was signed over"
    );
    faults.answer(Question::Chain, checked)
}

/// Holds what the record says of the journal against the journal.
fn head(case: &Case<'_>, faults: &mut Faults) {
    let Some(released) = case.released() else { return };
    let record = match &case.record {
        None => {
            let says = "there is no `record.json`, so nothing says which head was signed";
            return faults.add(FaultName::RecordUnreadable, RECORD, says);
        }
        Some(Err(fault)) => {
            return faults.add(FaultName::RecordUnreadable, RECORD, fault.to_string());
        }
        Some(Ok(record)) => record,
    };
    let release = match case.release() {
        Some(Ok(release)) => release,
        Some(Err(fault)) => {
            return faults.add(FaultName::RecordUnreadable, RECORD, fault.to_string());
        }
        None => return,
    };
    let (n, head) = (released.before.entry.n, released.before.hash);
    let says_so = record.journal.n == n
        && record.journal.head == head.to_string()
        && release.head_n == n
        && release.head == head;
    if !says_so {
        let says = format!(
            "the record was signed over another journal: it names entry {} as the last before \
             the release, and here that is entry {n} with another hash or number",
            release.head_n
        );
        faults.add(FaultName::HeadDiffers, RECORD, says);
    }
    let of_job = case
        .opened()
        .is_some_and(|opened| record.job == opened.job.as_str() && release.job == opened.job);
    if !of_job {
        let says = "the record is that of another job than the journal";
        faults.add(FaultName::HeadDiffers, format!("{RECORD}: job"), says);
    }
}

/// The first entry that releases the job and is not the last of its kind.
fn released_early(case: &Case<'_>) -> Option<u64> {
    let mut released = case.entries.iter().filter(|e| matches!(e.event, Event::Released { .. }));
    let first = released.next()?;
    released.next().map(|_| first.n)
}
