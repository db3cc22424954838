//! Fifth question: do the answers, walked again through the procedure that came with them, give the
//! same path, verdicts and parts, was each entry allowed when it was made, and is the record what
//! the journal gives, byte for byte?

use std::collections::BTreeMap;

use serde_json::Value;

use super::case::{Case, RECORD};
use super::{Answer, FaultName, Faults, Question};
use crate::ids::Sha256;
use crate::record::completion::{Version, encode_as, is_in_manifest};
use crate::record::files::FilesFault;
use crate::record::replay::{ReplayFault, replay_check};
use crate::record::report::{self, photos::PHOTO_LEN_BYTES_MAX};
use crate::visible::visible;
use crate::walk::JobState;
use crate::walk::event::SEMANTICS_KNOWN;
use crate::walk::job::Files;

pub(super) fn answer(case: &Case<'_>, remarks: &mut Vec<String>) -> Answer {
    let mut faults = Faults::default();
    let is_unknown = |found: &u32| !SEMANTICS_KNOWN.contains(found);
    if let Some(found) = case.opened().map(|o| o.semantics).filter(is_unknown) {
        // Other rules may read the files otherwise too, so nothing else is said of them.
        let says = ReplayFault::CannotJudge { found }.to_string();
        faults.add(FaultName::CannotJudge, "entry 0", says);
        return faults.answer(Question::Replay, "");
    }
    let files = match &case.files {
        None => {
            faults.add(FaultName::NotJudged, "", "the journal cannot be read");
            return faults.answer(Question::Replay, "");
        }
        Some(Err(fault)) => {
            let says = match fault {
                FilesFault::Missing(_) | FilesFault::NotText(_) => fault.to_string(),
                FilesFault::Mistakes(shown) => format!(
                    "the files that came with the job have mistakes: {}",
                    shown.lines().next().unwrap_or_default()
                ),
            };
            faults.add(FaultName::FilesUnusable, "", says);
            return faults.answer(Question::Replay, "");
        }
        Some(Ok(files)) => &files.files,
    };
    let checked = match replay_check(files, &case.entries) {
        Err(fault) => {
            let (name, place) = match &fault {
                ReplayFault::CannotJudge { .. } => (FaultName::CannotJudge, "entry 0".to_owned()),
                ReplayFault::Departs { n, .. } => (FaultName::EntryDeparts, format!("entry {n}")),
            };
            faults.add(name, place, fault.to_string());
            String::new()
        }
        Ok(state) => {
            if case.released().is_some() {
                record(case, files, &state, &mut faults, remarks);
            }
            said(case, &state)
        }
    };
    faults.answer(Question::Replay, checked)
}

fn said(case: &Case<'_>, state: &JobState) -> String {
    let n_entries = case.entries.len();
    let n_steps = state.walk.path.len();
    let record = if case.released().is_some() {
        "; the record made again from them is the same, byte for byte"
    } else {
        ""
    };
    format!(
        "{n_entries} entries walked again give the same {n_steps} steps, verdicts and parts, and \
         each was allowed when it was made{record}"
    )
}

/// Makes the record again and compares.
fn record(
    case: &Case<'_>,
    files: &Files,
    state: &JobState,
    faults: &mut Faults,
    remarks: &mut Vec<String>,
) {
    let (Some(found), Some(Ok(release))) = (case.folder.files.get(RECORD), case.release()) else {
        let says = "the record is missing or cannot be read, so it cannot be compared";
        return faults.add(FaultName::RecordDiffers, RECORD, says);
    };
    let manifest: BTreeMap<String, Sha256> = case
        .folder
        .files
        .iter()
        .filter(|(path, _)| is_in_manifest(path))
        .map(|(path, bytes)| (path.clone(), Sha256::of(bytes)))
        .collect();
    let entries = case.entries.split_last().map_or(&[][..], |(_, before)| before);
    // In the format that it was written in: a later one may say more.
    let version = case.good_record().and_then(|record| Version::parse(&record.format));
    let version = version.unwrap_or(Version::NEWEST);
    let made = encode_as(version, (files, state, entries), &manifest, &release);
    if made.as_bytes() != found.as_slice() {
        let says = difference(found, &made);
        return faults.add(FaultName::RecordDiffers, RECORD, says);
    }
    // The page carries no trust and another version may write it otherwise; still, whoever reads
    // only the page should know.
    let page = case.folder.files.get("report.html");
    let photos: BTreeMap<String, Vec<u8>> = case
        .folder
        .files
        .iter()
        .filter_map(|(path, bytes)| Some((path.strip_prefix("evidence/")?, bytes)))
        .filter(|(_, bytes)| bytes.len() <= PHOTO_LEN_BYTES_MAX)
        .map(|(hash, bytes)| (hash.to_owned(), bytes.clone()))
        .collect();
    let made = report::render_with(found, &photos);
    if page.is_some_and(|page| made.is_ok_and(|made| made.as_bytes() != page)) {
        remarks.push(
            "`report.html` is not the page that this version of the program makes of the record: \
             another version made it, or it was changed; what counts is the record"
                .to_owned(),
        );
    }
}

/// The first place where two records differ, in words.
fn difference(found: &[u8], made: &str) -> String {
    let parsed = (serde_json::from_slice::<Value>(found), serde_json::from_str::<Value>(made));
    let (Ok(found), Ok(made)) = parsed else {
        return "the record is not what the journal gives".to_owned();
    };
    let Some((path, found, made)) = first_difference(String::new(), Some(&found), Some(&made))
    else {
        return "the record says what the journal gives, but is written otherwise".to_owned();
    };
    format!(
        "the record is not what the journal gives: at `{}` it says {}, and the journal gives {}",
        visible(path.trim_start_matches('.')),
        shown(found),
        shown(made)
    )
}

type Difference<'a> = (String, Option<&'a Value>, Option<&'a Value>);

fn first_difference<'a>(
    path: String,
    found: Option<&'a Value>,
    made: Option<&'a Value>,
) -> Option<Difference<'a>> {
    match (found, made) {
        (Some(Value::Object(a)), Some(Value::Object(b))) => a
            .keys()
            .chain(b.keys())
            .find_map(|key| first_difference(format!("{path}.{key}"), a.get(key), b.get(key))),
        (Some(Value::Array(a)), Some(Value::Array(b))) => (0..a.len().max(b.len()))
            .find_map(|at| first_difference(format!("{path}[{at}]"), a.get(at), b.get(at))),
        (found, made) if found == made => None,
        (found, made) => Some((path, found, made)),
    }
}

fn shown(value: Option<&Value>) -> String {
    const CHARS_MAX: usize = 120;
    let text = value.map_or_else(|| "nothing".to_owned(), ToString::to_string);
    let mut cut: String = visible(&text).chars().take(CHARS_MAX).collect();
    if cut.len() < text.len() {
        cut.push('…');
    }
    cut
}
