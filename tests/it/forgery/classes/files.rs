//! Forgeries of files: by a stranger who can write to the folder and has no key; and by everybody
//! together, the holder of the shop key too.

use witnessmark::ids::{Moment, Sha256};
use witnessmark::record::files::{APPROVALS, APPROVALS_SIGNATURE, SHOP, SHOP_SIGNATURE};
use witnessmark::record::{Approvals, FolderBytes, KeyPair, Namespace, signed_of};
use witnessmark::walk::{Entry, Event};

use super::{
    Class, Forged, any, entries_of, honest, jobs, lie, lines_of, pick, same, which, with_lines,
};
use crate::support::pure::Choices;
use crate::support::small_shop::{Forger, key, signed_mut, sum_again};

const DAMAGED: &[&str] = &["journal-damaged"];
const STALE: &[&str] = &["signature-bad", "wrong-purpose", "statement-differs"];

const NO_KEY: Forger = Forger {
    has: |_| false,
    fits_statements: true,
    releaser: None,
    later: chrono::TimeDelta::zero(),
};

fn is_signed(entry: &Entry) -> bool {
    signed_of(&entry.event).is_some()
}

/// Puts other text into a file below `files/`.
fn edited(job: &FolderBytes, name: &str, from: &str, to: &str) -> FolderBytes {
    let mut folder = job.clone();
    let path = format!("files/{name}");
    let text = String::from_utf8(folder.files[&path].clone()).unwrap();
    assert!(text.contains(from), "{name} has no `{from}`");
    folder.files.insert(path, text.replacen(from, to, 1).into_bytes());
    folder
}

/// Lets entry 0 name the files as they are now.
fn named_again(folder: &FolderBytes) -> impl FnOnce(&mut Vec<Entry>) + use<> {
    let hashes: Vec<(String, Sha256)> = folder
        .files
        .iter()
        .filter_map(|(path, bytes)| {
            Some((path.strip_prefix("files/")?.to_owned(), Sha256::of(bytes)))
        })
        .collect();
    move |entries| {
        let Event::JobOpened(opened) = &mut entries[0].event else { panic!() };
        opened.files = hashes.into_iter().collect();
    }
}

const EDITS: [(&str, &str, &str, &str); 4] = [
    ("equipment-test_pump.yaml", "44.6 mm", "40.6 mm", "equipment/test_pump"),
    ("equipment-test_pump.yaml", "Maker's sheet 7", "Maker's sheet 8", "equipment/test_pump"),
    ("procedure-small.yaml", "Take off the cover.", "Lift off the cover.", "procedure/small"),
    ("procedure-small.yaml", "Renew the spring.", "Keep the spring.", "procedure/small"),
];

pub(super) fn by_a_stranger() -> Vec<Class> {
    let mut all = journal();
    all.extend(record());
    all.extend(files());
    all
}

/// One line of the journal changed, with the sums made again. The place is told from 1.
fn line(choices: &mut Choices, change: fn(&mut Vec<String>, usize), place: usize) -> Forged {
    let job = pick(choices, |_| true);
    let mut lines = lines_of(job);
    let n = choices.below(lines.len() - 2);
    change(&mut lines, n);
    let place = format!("line {}", n + place);
    Forged { from: job, folder: with_lines(job, &lines), names: DAMAGED, place }
}

fn journal() -> Vec<Class> {
    vec![
        class!("an entry changed, with the sums made again", |choices| {
            let job = pick(choices, |_| true);
            let mut lines = lines_of(job);
            let n = choices.below(lines.len() - 1);
            lines[n] = lines[n].replacen(".000+01:00", ".001+01:00", 1);
            let folder = with_lines(job, &lines);
            let place = format!("lines {} and {} of the journal", n + 1, n + 2);
            Forged { from: job, folder, names: DAMAGED, place }
        }),
        class!("an entry dropped", |choices| {
            line(choices, |lines, n| drop(lines.remove(n)), 1)
        }),
        class!("an entry put in twice", |choices| {
            line(choices, |lines, n| lines.insert(n, lines[n].clone()), 2)
        }),
        class!("two entries swapped", |choices| {
            line(choices, |lines, n| lines.swap(n, n + 1), 1)
        }),
        class!("an entry of another job in the place of one of this", |choices| {
            let job = pick(choices, |_| true);
            let mut lines = lines_of(job);
            let at = jobs().iter().position(|other| other == job).unwrap();
            let others = lines_of(&jobs()[(at + 1) % jobs().len()]);
            let fit: Vec<usize> = (1..lines.len().min(others.len()) - 1)
                .filter(|n| lines[*n] != others[*n])
                .collect();
            let n = fit[choices.below(fit.len())];
            lines[n].clone_from(&others[n]);
            let folder = with_lines(job, &lines);
            Forged { from: job, folder, names: DAMAGED, place: "of the journal".to_owned() }
        }),
        class!("the end cut off", |choices| {
            let job = pick(choices, |_| true);
            let mut lines = lines_of(job);
            lines.truncate(lines.len() - 1 - choices.below(3));
            let folder = with_lines(job, &lines);
            Forged { from: job, folder, names: &["not-released"], place: String::new() }
        }),
        class!("an entry changed, and the chain made again without a key", |choices| {
            let job = pick(choices, |_| true);
            let entries = entries_of(job);
            let last_signed = entries.iter().rposition(is_signed).unwrap();
            let n = which(choices, &entries[..last_signed], |entry| !is_signed(entry));
            let first = n + entries[n..].iter().position(is_signed).unwrap();
            let change = |entries: &mut Vec<Entry>| {
                let at = entries[n].at.time() + chrono::TimeDelta::milliseconds(1);
                entries[n].at = Moment::new(at);
            };
            let forger = Forger { fits_statements: choices.one_in(2), ..NO_KEY };
            let folder = forger.forge(job, change, same);
            Forged { from: job, folder, names: STALE, place: format!("entry {first}") }
        }),
        class!("a signature of the journal moved to another entry", |choices| {
            let job = pick(choices, |_| true);
            let entries = entries_of(job);
            let to = which(choices, &entries, is_signed);
            let from = which(choices, &entries, |e| is_signed(e) && e.n != to as u64);
            let armour = signed_of(&entries[from].event).unwrap().0.signature.clone();
            let change = |entries: &mut Vec<Entry>| {
                signed_mut(&mut entries[to].event).unwrap().signature = armour;
            };
            let folder = NO_KEY.forge(job, change, same);
            Forged { from: job, folder, names: STALE, place: format!("entry {to}") }
        }),
    ]
}

#[expect(clippy::needless_pass_by_value, reason = "one shape for every change of a record")]
fn other_serial(record: String) -> String {
    record.replacen(r#""serial":"0012""#, r#""serial":"0013""#, 1)
}

fn record() -> Vec<Class> {
    vec![
        class!("the record changed, with the sums made again", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = job.clone();
            let text = String::from_utf8(folder.files["record.json"].clone()).unwrap();
            folder.files.insert("record.json".into(), other_serial(text).into_bytes());
            sum_again(&mut folder);
            let names = &["file-changed"];
            Forged { from: job, folder, names, place: "record.json".to_owned() }
        }),
        class!("the record changed, and the journal's last entry with it", |choices| {
            let job = pick(choices, |_| true);
            let folder = NO_KEY.forge(job, |_| {}, other_serial);
            Forged { from: job, folder, names: STALE, place: "record.json.sig".to_owned() }
        }),
        class!("the signature of another record", |choices| {
            let job = pick(choices, |_| true);
            let other = pick(choices, |_| true);
            let mut folder = job.clone();
            let mut signature = other.files["record.json.sig"].clone();
            if job == other {
                signature = key("t.reiter").sign(Namespace::Session, b"{}").into_bytes();
            }
            folder.files.insert("record.json.sig".into(), signature);
            let folder = NO_KEY.forge(&folder, |_| {}, same);
            Forged { from: job, folder, names: STALE, place: "record.json.sig".to_owned() }
        }),
    ]
}

fn files() -> Vec<Class> {
    vec![
        class!("a file edited after its approval", |choices| {
            let job = pick(choices, |_| true);
            let (name, from, to, file) = EDITS[choices.below(EDITS.len())];
            let folder = edited(job, name, from, to);
            let change = named_again(&folder);
            let forger = if choices.one_in(2) { NO_KEY } else { Forger::with_every_key() };
            let folder = forger.forge(&folder, change, same);
            Forged { from: job, folder, names: &["not-approved"], place: file.to_owned() }
        }),
        class!("a roster that the shop did not sign", |choices| {
            let job = pick(choices, |_| true);
            let folder = edited(job, SHOP, "roles: [apprentice]", "roles: [apprentice, mechanic]");
            let change = named_again(&folder);
            let folder = Forger::with_every_key().forge(&folder, change, same);
            let place = format!("files/{SHOP_SIGNATURE}");
            Forged { from: job, folder, names: &["roster-not-signed"], place }
        }),
        class!("a shop key of the forger's own", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = job.clone();
            let own = KeyPair::from_seed(&[66; 32]);
            for (name, signature, namespace) in [
                (SHOP, SHOP_SIGNATURE, Namespace::Roster),
                (APPROVALS, APPROVALS_SIGNATURE, Namespace::Approvals),
            ] {
                let signed = own.sign(namespace, &folder.files[&format!("files/{name}")]);
                folder.files.insert(format!("files/{signature}"), signed.into_bytes());
            }
            let change = named_again(&folder);
            let folder = Forger::with_every_key().forge(&folder, change, same);
            let place = format!("files/{SHOP_SIGNATURE}");
            Forged { from: job, folder, names: &["origin-unknown"], place }
        }),
        class!("an approval by the approver that the shop did not sign", |choices| {
            let job = pick(choices, |_| true);
            let (name, from, to, _) = EDITS[choices.below(EDITS.len())];
            let mut folder = edited(job, name, from, to);
            approve_again(&mut folder);
            let change = named_again(&folder);
            let folder = Forger::with_every_key().forge(&folder, change, same);
            let place = format!("files/{APPROVALS_SIGNATURE}");
            Forged { from: job, folder, names: &["approvals-not-signed"], place }
        }),
        class!("an older list of approvals", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = job.clone();
            let path = format!("files/{APPROVALS}");
            let bytes = folder.files[&path].clone();
            let end = bytes.iter().position(|byte| *byte == b'\n').unwrap();
            folder.files.insert(path, bytes[..=end].to_vec());
            let change = named_again(&folder);
            let folder = Forger::with_every_key().forge(&folder, change, same);
            let place = format!("files/{APPROVALS_SIGNATURE}");
            Forged { from: job, folder, names: &["approvals-not-signed"], place }
        }),
        class!("a file put in", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = job.clone();
            let path = ["files/new.yaml", "evidence/photo"][choices.below(2)].to_owned();
            folder.files.insert(path.clone(), b"x".to_vec());
            sum_again(&mut folder);
            Forged { from: job, folder, names: &["file-added"], place: path }
        }),
        class!("a file taken out", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = job.clone();
            let paths: Vec<String> =
                job.files.keys().filter(|path| path.starts_with("files/")).cloned().collect();
            let path = paths[choices.below(paths.len())].clone();
            folder.files.remove(&path);
            sum_again(&mut folder);
            Forged { from: job, folder, names: &["file-missing"], place: path }
        }),
        class!("a photo that was never there, in journal and record", |choices| {
            let job = pick(choices, |entries| any(entries, is_photo));
            let n = which(choices, &entries_of(job), is_photo);
            let change = |entries: &mut Vec<Entry>| {
                let Event::EvidenceAdded { evidence, .. } = &mut entries[n].event else { panic!() };
                evidence.sha256 = Sha256::of(b"another");
            };
            let folder = Forger::with_every_key().forge(job, change, same);
            let place = format!("entry {n} of the journal");
            Forged { from: job, folder, names: &["file-missing"], place }
        }),
    ]
}

fn is_photo(entry: &Entry) -> bool {
    matches!(entry.event, Event::EvidenceAdded { .. })
}

/// The approver approves the files as they are now.
fn approve_again(folder: &mut FolderBytes) {
    let list = format!("files/{APPROVALS}");
    let mut approvals = Approvals::scan(&folder.files[&list]).unwrap();
    let hash = |of: &str| {
        let name = format!("files/{}.yaml", of.replace('/', "-"));
        Sha256::of(&folder.files[&name])
    };
    for approval in &mut approvals.0 {
        let mut statement = approval.statement.clone();
        statement.sha256 = hash(&statement.file.to_string());
        for (file, refers) in &mut statement.refers {
            *refers = hash(&file.to_string());
        }
        let approver = key(statement.approver.as_str());
        *approval = statement.sign(&approver);
    }
    folder.files.insert(list, approvals.encode());
}

/// With the shop key in it, everything can be written anew.
pub(super) fn by_everybody_together() -> Vec<Class> {
    vec![
        class!("another basis of a limit, approved and signed by the shop", |choices| {
            let job = pick(choices, |_| true);
            let mut folder = edited(job, EDITS[1].0, EDITS[1].1, EDITS[1].2);
            approve_again(&mut folder);
            let list = &folder.files[&format!("files/{APPROVALS}")];
            let signature = key("shop").sign(Namespace::Approvals, list);
            folder.files.insert(format!("files/{APPROVALS_SIGNATURE}"), signature.into_bytes());
            let change = named_again(&folder);
            lie(job, Forger::with_every_key().forge(&folder, change, same))
        }),
        class!("another photo in the place of one", |choices| {
            let job = pick(choices, |entries| any(entries, is_photo));
            let n = which(choices, &entries_of(job), is_photo);
            let entries = entries_of(job);
            let Event::EvidenceAdded { evidence, .. } = &entries[n].event else { panic!() };
            let mut folder = job.clone();
            let old = folder.files.remove(&format!("evidence/{}", evidence.sha256)).unwrap();
            let new = vec![b'n'; old.len()];
            let sha256 = Sha256::of(&new);
            folder.files.insert(format!("evidence/{sha256}"), new);
            let change = |entries: &mut Vec<Entry>| {
                let Event::EvidenceAdded { evidence, .. } = &mut entries[n].event else { panic!() };
                evidence.sha256 = sha256;
            };
            lie(job, Forger::with_every_key().forge(&folder, change, same))
        }),
        class!("another whole job under the number of this one", |choices| {
            let job = pick(choices, |_| true);
            lie(job, honest::released(500 + choices.below(3) as u64))
        }),
    ]
}
