//! The classes of forgery: what is changed, with which keys, and where it must be named.

use std::sync::OnceLock;

use chrono::TimeDelta;
use witnessmark::journal;
use witnessmark::record::FolderBytes;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::{Answer, Entry, Event};

use super::honest;
use crate::support::pure::Choices;
use crate::support::small_shop::{Forger, forge, sum_again};

macro_rules! class {
    ($name:literal, |$choices:ident| $make:expr) => {
        $crate::forgery::classes::Class { name: $name, make: |$choices| $make }
    };
}

mod files;
mod people;

/// A forged folder and where it must be named.
pub(super) struct Forged {
    /// The job that it was made of.
    pub(super) from: &'static FolderBytes,
    /// The forgery.
    pub(super) folder: FolderBytes,
    /// The names of a fault, any of which is right.
    pub(super) names: &'static [&'static str],
    /// The fault's place, or words of its sentence.
    pub(super) place: String,
}

/// One kind of forgery.
pub(super) struct Class {
    pub(super) name: &'static str,
    pub(super) make: fn(&mut Choices) -> Forged,
}

/// Everything that must be caught.
pub(super) fn caught() -> Vec<Class> {
    let mut all = files::by_a_stranger();
    all.extend(people::by_an_apprentice());
    all.extend(people::by_key_holders());
    all.extend(consequences());
    all
}

/// What the holders of all the keys can write undetected.
pub(super) fn undetected() -> Vec<Class> {
    let mut all = vec![
        class!("a reading on the same side of its limit", |choices| {
            let job = pick(choices, |entries| any(entries, is_good_reading));
            let n = which(choices, &entries_of(job), is_good_reading);
            lie(job, forge(job, |entries| set_reading(&mut entries[n], "44.83"), same))
        }),
        class!("a note", |choices| {
            let is_note = |entry: &Entry| matches!(entry.event, Event::NoteAdded { .. });
            let job = pick(choices, |entries| any(entries, is_note));
            let n = which(choices, &entries_of(job), is_note);
            let change = |entries: &mut Vec<Entry>| {
                let Event::NoteAdded { text, .. } = &mut entries[n].event else { panic!() };
                "smells of nothing".clone_into(text);
            };
            lie(job, forge(job, change, same))
        }),
        class!("the whole job an hour later", |choices| {
            let job = pick(choices, |_| true);
            let forger = Forger { later: TimeDelta::hours(1), ..Forger::with_every_key() };
            lie(job, forger.forge(job, |_| {}, same))
        }),
    ];
    all.extend(files::by_everybody_together());
    all
}

fn lie(from: &'static FolderBytes, folder: FolderBytes) -> Forged {
    Forged { from, folder, names: &[], place: String::new() }
}

fn same(record: String) -> String {
    record
}

/// Honest jobs to forge.
fn jobs() -> &'static [FolderBytes] {
    static JOBS: OnceLock<Vec<FolderBytes>> = OnceLock::new();
    JOBS.get_or_init(|| (0..12).map(honest::released).collect())
}

fn pick(choices: &mut Choices, is_fit: impl Fn(&[Entry]) -> bool) -> &'static FolderBytes {
    let fit: Vec<&FolderBytes> = jobs().iter().filter(|job| is_fit(&entries_of(job))).collect();
    assert!(!fit.is_empty(), "no honest job is fit for this forgery");
    fit[choices.below(fit.len())]
}

fn entries_of(job: &FolderBytes) -> Vec<Entry> {
    journal::scan(&job.files["journal.jsonl"]).unwrap().entries().cloned().collect()
}

fn any(entries: &[Entry], is: impl Fn(&Entry) -> bool) -> bool {
    entries.iter().any(is)
}

/// The number of one of the entries that are so.
fn which(choices: &mut Choices, entries: &[Entry], is: impl Fn(&Entry) -> bool) -> usize {
    let fit: Vec<usize> = (0..entries.len()).filter(|n| is(&entries[*n])).collect();
    fit[choices.below(fit.len())]
}

fn lines_of(job: &FolderBytes) -> Vec<String> {
    String::from_utf8(job.files["journal.jsonl"].clone())
        .unwrap()
        .lines()
        .map(str::to_owned)
        .collect()
}

fn with_lines(job: &FolderBytes, lines: &[String]) -> FolderBytes {
    let mut folder = job.clone();
    folder.files.insert("journal.jsonl".into(), (lines.join("\n") + "\n").into_bytes());
    sum_again(&mut folder);
    folder
}

fn is_reading(entry: &Entry) -> bool {
    matches!(entry.event, Event::Answered { answer: Answer::Read { .. }, .. })
}

/// A reading that passed, well inside its limit.
fn is_good_reading(entry: &Entry) -> bool {
    let Event::Answered { answer: Answer::Read { reading, .. }, .. } = &entry.event else {
        return false;
    };
    ["45.0", "45,1", "1.77 in"].contains(&reading.text.as_str())
}

fn set_reading(entry: &mut Entry, text: &str) {
    let Event::Answered { answer: Answer::Read { reading, .. }, .. } = &mut entry.event else {
        panic!("{entry:?}")
    };
    *reading = Reading::parse(text, Unit::Millimetre).unwrap();
}

/// Key holders re-chain and re-sign, and something does not follow any more.
#[expect(clippy::too_many_lines, reason = "one entry for each class of forgery")]
fn consequences() -> Vec<Class> {
    use witnessmark::procedure::model::Verdict;
    use witnessmark::walk::Next;

    use crate::support::small_shop::{address, person};

    const DEPARTS: &[&str] = &["entry-departs"];

    /// Forges one of the readings and expects it to be named there.
    fn reading(choices: &mut Choices, change: impl FnOnce(&mut Vec<Entry>, usize)) -> Forged {
        let job = pick(choices, |entries| any(entries, is_good_reading));
        let n = which(choices, &entries_of(job), is_good_reading);
        let folder = forge(job, |entries| change(entries, n), same);
        Forged { from: job, folder, names: DEPARTS, place: format!("entry {n}") }
    }

    fn judged(entry: &mut Entry) -> &mut witnessmark::walk::Judged {
        let Event::Answered { judged, .. } = &mut entry.event else { panic!() };
        judged
    }

    vec![
        class!("a verdict that the reading does not give", |choices| {
            let verdict = [Verdict::Replace, Verdict::Rework, Verdict::Stop][choices.below(3)];
            reading(choices, |entries, n| judged(&mut entries[n]).verdict = Some(verdict))
        }),
        class!("a path that the answers do not lead to", |choices| {
            let next = if choices.one_in(2) { Next::End } else { Next::Ask(address("closed")) };
            reading(choices, |entries, n| judged(&mut entries[n]).next = next)
        }),
        class!("a reading beyond its limit with the old verdict", |choices| {
            let text = ["44.59", "44.5999999", "31", "1.7 in"][choices.below(4)];
            reading(choices, |entries, n| set_reading(&mut entries[n], text))
        }),
        class!("a reading that nobody believes", |choices| {
            let text = ["29.9", "60.1", "450"][choices.below(3)];
            reading(choices, |entries, n| set_reading(&mut entries[n], text))
        }),
        class!("a safety text that nobody acknowledged", |choices| {
            let job = pick(choices, |_| true);
            let is_safety = |e: &Entry| matches!(e.event, Event::SafetyAcknowledged { .. });
            let folder = forge(job, |entries| entries.retain(|e| !is_safety(e)), same);
            Forged { from: job, folder, names: DEPARTS, place: "safety text".to_owned() }
        }),
        class!("an instrument out of calibration", |choices| {
            reading(choices, |entries, n| {
                let Event::Answered { answer: Answer::Read { instrument, .. }, .. } =
                    &mut entries[n].event
                else {
                    panic!()
                };
                "C-09".clone_into(&mut instrument.id);
                "K C-09".clone_into(&mut instrument.certificate);
                instrument.calibration_due = "2026-01-31".parse().unwrap();
            })
        }),
        class!("an instrument with a better certificate than the shop's list has", |choices| {
            reading(choices, |entries, n| {
                let Event::Answered { answer: Answer::Read { instrument, .. }, .. } =
                    &mut entries[n].event
                else {
                    panic!()
                };
                "0.001 mm".clone_into(&mut instrument.uncertainty);
            })
        }),
        class!("work in another person's name", |choices| {
            let who = ["t.reiter", "a.writer", "s.tranger"][choices.below(3)];
            reading(choices, |entries, n| entries[n].by = Some(person(who)))
        }),
        class!("an entry from before the one that it follows", |choices| {
            reading(choices, |entries, n| entries[n].at = entries[0].at)
        }),
        class!("a step done before its turn", |choices| {
            let job = pick(choices, |_| true);
            let folder = forge(
                job,
                |entries| {
                    let event = entries[2].event.clone();
                    entries[2].event = entries[3].event.clone();
                    entries[3].event = event;
                },
                same,
            );
            Forged { from: job, folder, names: DEPARTS, place: "entry 2".to_owned() }
        }),
        class!("a correction of another entry than it says", |choices| {
            let is_correction = |e: &Entry| matches!(e.event, Event::Corrected { .. });
            let job = pick(choices, |entries| any(entries, is_correction));
            let n = which(choices, &entries_of(job), is_correction);
            let change = |entries: &mut Vec<Entry>| {
                let Event::Corrected { supersedes, .. } = &mut entries[n].event else { panic!() };
                *supersedes -= 1;
            };
            let folder = forge(job, change, same);
            Forged { from: job, folder, names: DEPARTS, place: format!("entry {n}") }
        }),
        class!("exceptions that were not the ones shown", |choices| {
            let is_shown = |e: &Entry| matches!(e.event, Event::ExceptionsAcknowledged { .. });
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_shown);
            let change = |entries: &mut Vec<Entry>| {
                let Event::ExceptionsAcknowledged { shown } = &mut entries[n].event else {
                    panic!()
                };
                if shown.pop().is_none() {
                    shown.push("nothing to see".to_owned());
                }
            };
            let folder = forge(job, change, same);
            Forged { from: job, folder, names: DEPARTS, place: format!("entry {n}") }
        }),
        class!("a failed result about which nobody says what was done", |choices| {
            let is_disposed = |e: &Entry| matches!(e.event, Event::Disposed { .. });
            let job = pick(choices, |entries| any(entries, is_disposed));
            let folder = forge(job, |entries| entries.retain(|e| !is_disposed(e)), same);
            let place = "nothing says what was done about it".to_owned();
            Forged { from: job, folder, names: DEPARTS, place }
        }),
        class!("another lot than the mechanic signed", |choices| {
            let is_disposed = |e: &Entry| matches!(e.event, Event::Disposed { .. });
            let job = pick(choices, |entries| any(entries, is_disposed));
            let n = which(choices, &entries_of(job), is_disposed);
            let change = |entries: &mut Vec<Entry>| {
                let Event::Disposed { said, .. } = &mut entries[n].event else { panic!() };
                said.lot = Some("L-78".to_owned());
            };
            let folder = forge(job, change, same);
            Forged { from: job, folder, names: DEPARTS, place: format!("entry {n}") }
        }),
        class!("another machine than the shop has", |choices| {
            let job = pick(choices, |_| true);
            let change = |entries: &mut Vec<Entry>| {
                let Event::JobOpened(opened) = &mut entries[0].event else { panic!() };
                "0013".clone_into(&mut opened.serial);
            };
            let folder = forge(job, change, same);
            Forged { from: job, folder, names: DEPARTS, place: "entry 0".to_owned() }
        }),
        class!("a record that says something else than its journal", |choices| {
            const SWAPS: [(&str, &str); 9] = [
                (r#""outcome":"completed""#, r#""outcome":"stopped""#),
                (r#""verdict":"accept""#, r#""verdict":"rework""#),
                (r#""quantity":1"#, r#""quantity":2"#),
                (r#""serial":"0012""#, r#""serial":"0013""#),
                (r#""uncertainty":"0.03 mm""#, r#""uncertainty":"0.01 mm""#),
                (r#""role":"apprentice""#, r#""role":"mechanic""#),
                (r#""kind":"record""#, r#""kind":"demo""#),
                (r#""name":"I.VARGA""#, r#""name":"T.REITER""#),
                (r#""at_least":"44.6 mm""#, r#""at_least":"44.5 mm""#),
            ];
            let job = pick(choices, |entries| any(entries, is_reading));
            let text = String::from_utf8(job.files["record.json"].clone()).unwrap();
            let fit: Vec<_> = SWAPS.iter().filter(|(from, _)| text.contains(from)).collect();
            let (from, to) = fit[choices.below(fit.len())];
            let folder = forge(job, |_| {}, |record| record.replacen(from, to, 1));
            let names = &["record-differs"];
            Forged { from: job, folder, names, place: "record.json".to_owned() }
        }),
    ]
}
