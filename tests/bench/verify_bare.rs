//! The least that checking a job's folder can cost: every file read and hashed once, and each of its
//! signatures checked, with the crates that `verify` uses and nothing else. For `verify_many.sh`.
//!
//! `verify_bare FOLDERS N_THREADS`, where the folders below `FOLDERS` are copies of one job.
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the disk by itself")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};
use ssh_key::{PublicKey, SshSig};
use witnessmark::journal;
use witnessmark::record::{Approvals, FolderBytes, Namespace, signed_of};
use witnessmark::store::{JobFolder, OsDisk, load_folder};

/// A signature with what it is over.
struct Signed {
    namespace: &'static str,
    message: Vec<u8>,
    armour: String,
}

/// Every signature of a job: in its journal, over its record, and those of the shop.
fn signatures(folder: &FolderBytes) -> Vec<Signed> {
    let bytes = |path: &str| folder.files.get(path).expect("a file of a released job").clone();
    let text = |path: &str| String::from_utf8(bytes(path)).expect("a signature is text");
    let mut all = Vec::new();
    for line in &journal::scan(&bytes("journal.jsonl")).expect("a good journal").lines {
        let Some((signed, _)) = signed_of(&line.entry.event) else { continue };
        all.push(Signed {
            namespace: Namespace::of(&signed.statement.meaning).text(),
            message: journal::statement_bytes(&signed.statement),
            armour: signed.signature.clone(),
        });
    }
    for (namespace, path) in [
        (Namespace::Release, "record.json"),
        (Namespace::Roster, "files/shop.yaml"),
        (Namespace::Approvals, "files/approvals.jsonl"),
    ] {
        let (namespace, message) = (namespace.text(), bytes(path));
        all.push(Signed { namespace, message, armour: text(&format!("{path}.sig")) });
    }
    let list = Approvals::scan(&bytes("files/approvals.jsonl")).expect("a list of approvals");
    all.extend(list.0.into_iter().map(|approval| Signed {
        namespace: Namespace::Approval.text(),
        message: approval.statement.bytes(),
        armour: approval.signature,
    }));
    all
}

fn files_below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() { files_below(&path, found) } else { found.push(path) }
    }
}

/// Reads and hashes one folder and checks the signatures; the last byte of each hash, so that nothing
/// is left out as unused.
fn check(folder: &Path, signatures: &[Signed]) -> u64 {
    let mut paths = Vec::new();
    files_below(folder, &mut paths);
    let mut sum = 0;
    for path in paths {
        let bytes = std::fs::read(path).expect("a file");
        sum += u64::from(Sha256::digest(&bytes).last().copied().unwrap_or(0));
    }
    for signed in signatures {
        let signature = SshSig::from_pem(&signed.armour).expect("a signature");
        let key = PublicKey::from(signature.public_key().clone());
        key.verify(signed.namespace, &signed.message, &signature).expect("a good signature");
    }
    sum
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter(|argument| argument != "--bench");
    let root = PathBuf::from(arguments.next().expect("a folder of job folders"));
    let n_threads = arguments.next().and_then(|n| n.parse().ok()).unwrap_or(1);
    let listed = std::fs::read_dir(root).expect("a folder of job folders");
    let folders: Vec<PathBuf> = listed.map(|entry| entry.expect("an entry").path()).collect();
    let first = folders.first().expect("at least one job folder");
    let signatures = signatures(&load_folder(&OsDisk, &JobFolder::at(first)).expect("a folder"));
    let chunk = folders.len().div_ceil(n_threads).max(1);
    let one = |folders: &[PathBuf]| folders.iter().map(|f| check(f, &signatures)).sum::<u64>();
    let one = &one;
    let sum: u64 = std::thread::scope(|scope| {
        let workers: Vec<_> =
            folders.chunks(chunk).map(|part| scope.spawn(move || one(part))).collect();
        workers.into_iter().map(|worker| worker.join().expect("no panic")).sum()
    });
    println!("{} folders, {} signatures each, {sum}", folders.len(), signatures.len());
}
