//! First question: are the files as they were? Held against `SHA256SUMS`, against the record's
//! manifest, and against what the journal says of the files and the record.

use std::collections::BTreeMap;

use super::case::{Case, RECORD, SIGNATURE};
use super::{Answer, FaultName, Faults, Question};
use crate::ids::Sha256;
use crate::record::completion::is_in_manifest;
use crate::walk::Entry;
use crate::walk::event::{Answer as Answered, Event, Evidence};

const SUMS: &str = "SHA256SUMS";

pub(super) fn answer(case: &Case<'_>) -> Answer {
    let mut files = Files { held: &case.folder.files, faults: Faults::default() };
    for (path, why) in &case.folder.odd {
        files.faults.add(FaultName::NotAPlainFile, path, format!("`{path}` {why}; take it out"));
    }
    let (opened, released) = (case.opened(), case.released());
    let has_sums = case.folder.files.contains_key(SUMS);
    // A journal that cannot be read does not say whether the job is released; what is there does.
    let is_closed = released.is_some() || (opened.is_none() && has_sums);
    if is_closed {
        files.list();
    } else if opened.is_none() {
        let why = "neither a journal nor `SHA256SUMS` says which files the job has";
        files.faults.add(FaultName::NotJudged, "", why);
    }
    for (name, hash) in opened.iter().flat_map(|opened| &opened.files) {
        files.hold(&format!("files/{name}"), *hash, "the journal's opening entry");
    }
    for (n, evidence) in evidence(&case.entries) {
        files.evidence(n, evidence);
    }
    if let Some(released) = released {
        files.hold(RECORD, released.record, "the journal's last entry");
        files.hold(SIGNATURE, released.signature, "the journal's last entry");
    }
    if let Some(record) = case.good_record().filter(|_| is_closed) {
        files.manifest(&record.manifest);
    }
    let n_files = case.folder.files.len();
    let checked = match (opened, released) {
        (Some(_), Some(_)) => {
            format!("{n_files} files are as listed in SHA256SUMS, in the record and in the journal")
        }
        (Some(opened), None) => format!(
            "the {} files that the job was opened with are unchanged; there is no SHA256SUMS \
             before the release",
            opened.files.len()
        ),
        (None, _) => format!(
            "{n_files} files are as listed in SHA256SUMS and in the record; the journal cannot be \
             read to compare"
        ),
    };
    files.faults.answer(Question::Files, checked)
}

/// Every photo and file that an entry names, those that were corrected away too.
fn evidence(entries: &[Entry]) -> impl Iterator<Item = (u64, &Evidence)> {
    entries.iter().filter_map(|entry| match &entry.event {
        Event::EvidenceAdded { evidence, .. }
        | Event::Answered { answer: Answered::Attached(evidence), .. }
        | Event::Corrected { answer: Answered::Attached(evidence), .. } => {
            Some((entry.n, evidence))
        }
        _ => None,
    })
}

struct Files<'a> {
    held: &'a BTreeMap<String, Vec<u8>>,
    faults: Faults,
}

impl Files<'_> {
    /// Holds a file against the hash that `said_by` gives it.
    fn hold(&mut self, path: &str, hash: Sha256, said_by: &str) {
        match self.held.get(path) {
            None => self.faults.add(
                FaultName::FileMissing,
                path,
                format!("`{path}` is missing, and {said_by} names it; restore it from a copy"),
            ),
            Some(bytes) if Sha256::of(bytes) == hash => {}
            Some(bytes) => self.changed(path, bytes, hash, said_by),
        }
    }

    /// A file with another hash, and how to put it right where only its line endings were changed.
    fn changed(&mut self, path: &str, bytes: &[u8], hash: Sha256, said_by: &str) {
        match only_line_endings(bytes, hash) {
            Some(restore) => self.faults.add(
                FaultName::LineEndings,
                path,
                format!(
                    "only the line endings of `{path}` were changed, as file copying tools do; \
                     restore them with `{}`, and with git keep `-text` for the file in \
                     `.gitattributes`",
                    restore.replace("FILE", path)
                ),
            ),
            None => self.faults.add(
                FaultName::FileChanged,
                path,
                format!("`{path}` is not the file that {said_by} names: its bytes were changed"),
            ),
        }
    }

    /// Holds a photo or file that an entry names against what lies in the folder.
    fn evidence(&mut self, n: u64, evidence: &Evidence) {
        let path = format!("evidence/{}", evidence.sha256);
        self.hold(&path, evidence.sha256, &format!("entry {n} of the journal"));
        let len = self.held.get(&path).map_or(evidence.len_bytes, |bytes| bytes.len() as u64);
        if len != evidence.len_bytes {
            let says = format!(
                "entry {n} says that `{path}` has {} bytes, and it has {len}",
                evidence.len_bytes
            );
            self.faults.add(FaultName::FileChanged, format!("entry {n}"), says);
        }
    }

    /// Holds every file against `SHA256SUMS`, and the list against the files.
    fn list(&mut self) {
        let Some(bytes) = self.held.get(SUMS) else {
            let says = "there is no `SHA256SUMS`; open the job once more to have it written, or \
                        restore it from a copy";
            return self.faults.add(FaultName::SumsMissing, SUMS, says);
        };
        let sums = match parse(bytes) {
            Ok(sums) => sums,
            Err(SumsFault { line, is_line_endings: true }) => {
                let says = format!(
                    "only the line endings of `SHA256SUMS` were changed, from line {line} on; \
                     restore it from where it was written"
                );
                return self.faults.add(FaultName::LineEndings, SUMS, says);
            }
            Err(SumsFault { line, .. }) => {
                let says = format!(
                    "line {line} of `SHA256SUMS` is not as such a list is written; restore it \
                     from a copy"
                );
                return self.faults.add(FaultName::SumsDamaged, SUMS, says);
            }
        };
        for (path, hash) in &sums {
            self.hold(path, *hash, "`SHA256SUMS`");
        }
        let added = self.held.keys().filter(|path| *path != SUMS && !sums.contains_key(*path));
        for path in added.cloned().collect::<Vec<_>>() {
            let says = format!("`{path}` is not in `SHA256SUMS`: it was put in later; take it out");
            self.faults.add(FaultName::FileAdded, path, says);
        }
    }

    /// Holds the record's manifest against the files, and the files against it.
    fn manifest(&mut self, manifest: &BTreeMap<String, String>) {
        for (path, hash) in manifest {
            // A hash that is none fits no file.
            let hash = Sha256::parse(hash).unwrap_or(Sha256::ZERO);
            self.hold(path, hash, "the record's manifest");
        }
        let held = self.held.keys().filter(|path| is_in_manifest(path));
        for path in held.filter(|path| !manifest.contains_key(*path)).cloned().collect::<Vec<_>>() {
            let says = format!("`{path}` is not in the record's manifest: it was put in later");
            self.faults.add(FaultName::FileAdded, path, says);
        }
    }
}

/// The command that turns the line endings back, when `bytes` have the hash then.
fn only_line_endings(bytes: &[u8], hash: Sha256) -> Option<&'static str> {
    let mut without_cr = Vec::with_capacity(bytes.len());
    let mut with_cr = Vec::with_capacity(bytes.len());
    for (at, byte) in bytes.iter().enumerate() {
        let before_lf = *byte == b'\r' && bytes.get(at.saturating_add(1)) == Some(&b'\n');
        if !before_lf {
            without_cr.push(*byte);
        }
        if *byte == b'\n' && (at == 0 || bytes.get(at.saturating_sub(1)) != Some(&b'\r')) {
            with_cr.push(b'\r');
        }
        with_cr.push(*byte);
    }
    let with_end = [bytes, b"\n"].concat();
    let without_end = bytes.strip_suffix(b"\n").unwrap_or(bytes);
    let turned_back = [
        (without_cr.as_slice(), "sed -i 's/\\r$//' FILE"),
        (&with_cr, "sed -i 's/$/\\r/' FILE"),
        (&with_end, "echo >> FILE"),
        (without_end, "truncate -s -1 FILE"),
    ];
    turned_back.into_iter().find(|(bytes, _)| Sha256::of(bytes) == hash).map(|(_, how)| how)
}

#[derive(Debug, PartialEq, Eq)]
struct SumsFault {
    line: usize,
    is_line_endings: bool,
}

/// Reads a list as `sha256sum` writes it: sorted by path, each path once.
fn parse(bytes: &[u8]) -> Result<BTreeMap<String, Sha256>, SumsFault> {
    let mut sums: BTreeMap<String, Sha256> = BTreeMap::new();
    for (line, number) in bytes.split_inclusive(|byte| *byte == b'\n').zip(1..) {
        let fault = || SumsFault { line: number, is_line_endings: line.ends_with(b"\r\n") };
        let text = std::str::from_utf8(line).ok().ok_or_else(fault)?;
        let (path, hash) = text.strip_suffix('\n').and_then(parse_line).ok_or_else(fault)?;
        let is_next = sums.last_key_value().is_none_or(|(last, _)| *last < path);
        if !is_next || path == SUMS {
            return Err(fault());
        }
        sums.insert(path, hash);
    }
    Ok(sums)
}

fn parse_line(line: &str) -> Option<(String, Sha256)> {
    let (is_escaped, line) = match line.strip_prefix('\\') {
        Some(rest) => (true, rest),
        None => (false, line),
    };
    let (hash, path) = line.split_once("  ")?;
    let hash = Sha256::parse(hash)?;
    if !is_escaped {
        return (!path.contains(['\\', '\r'])).then(|| (path.to_owned(), hash));
    }
    let mut found = String::new();
    let mut letters = path.chars();
    while let Some(letter) = letters.next() {
        found.push(match letter {
            '\\' => match letters.next()? {
                'n' => '\n',
                'r' => '\r',
                '\\' => '\\',
                _ => return None,
            },
            other => other,
        });
    }
    Some((found, hash))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_read_as_sha256sum_writes_it_and_only_so() {
        let zeros = "0".repeat(64);
        let good = format!("{zeros}  a b\n\\{zeros}  c\\\\d\\ne\n");
        let names: Vec<String> = parse(good.as_bytes()).unwrap().into_keys().collect();
        assert_eq!(names, ["a b", "c\\d\ne"]);
        let fault = |text: String| parse(text.as_bytes()).unwrap_err();
        let damaged = |line| SumsFault { line, is_line_endings: false };
        assert_eq!(fault(format!("{zeros}  a")), damaged(1));
        assert_eq!(fault(format!("{zeros}  b\n{zeros}  a\n")), damaged(2));
        assert_eq!(fault(format!("{zeros}  a\n{zeros}  a\n")), damaged(2));
        assert_eq!(fault(format!("{zeros} *a\n")), damaged(1));
        let crlf = SumsFault { line: 1, is_line_endings: true };
        assert_eq!(fault(format!("{zeros}  a\r\n")), crlf);
    }

    #[test]
    fn line_endings_that_were_turned_are_told_from_changed_bytes() {
        let hash = Sha256::of(b"a\nb\n");
        for turned in [b"a\r\nb\r\n".as_slice(), b"a\nb", b"a\nb\n\n"] {
            assert!(only_line_endings(turned, hash).is_some(), "{turned:?}");
        }
        let back = only_line_endings(b"a\nb\n", Sha256::of(b"a\r\nb\r\n"));
        assert_eq!(back, Some("sed -i 's/$/\\r/' FILE"));
        assert_eq!(only_line_endings(b"a\nc\n", hash), None);
    }
}
