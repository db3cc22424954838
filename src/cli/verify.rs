//! `verify`: five answers about each finished job, and what they do and do not mean.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::out::Out;
use super::report::{Failure, Kind};
use super::{VerifyArguments, exit, jobs};
use crate::ports::{Clock as _, Disk as _};
use crate::record::PublicKey;
use crate::record::verify::{Today, verify_today};
use crate::session::open::OpenShop;
use crate::store::{JobFolder, OsDisk, ShopFolder, StoreError, SystemClock, load_folder};

const EXPLANATION: &str = "\
What `verify` answers, each on its own:
  1 files unchanged    every file of the folder is as it was when it was closed
  2 chain whole        the journal is one unbroken chain, and its head is the one that was signed
  3 signatures good    each signature is by the key of the person it names, for its own purpose
  4 authority          the shop key signed roster and approvals; each signer had the role then
  5 replay             the answers, walked again, give the same path, verdicts, parts and record
The exit status is 0, or 10 and the number of the first answer that failed.

Protected: whoever can write to the folder and has no key can change, add, drop, reorder or splice
nothing unnoticed.
Nobody signs report.html, recipe.txt and SHA256SUMS: they are copies and an aid for people, and whoever
changes one and makes the sums anew changes nothing that counts. `witnessmark report JOB` makes the page
again from record.json, which is signed.
Not protected:
  a consistent lie told by the holders of all the keys
  absolute time: times are the shop's own word until a third party attests them
  whole folders that are deleted
  a program that was replaced
  a person who gives away a passphrase
  a key that lies open in a key agent: its signatures look like any other and show nobody's presence,
    so this program releases nothing with one, unless it is a touch key and was touched
A folder cannot vouch for itself: trust comes from `--trust FILE`, or from the `trust` file of the
shop that the folder lies in. Compare that key with one you were given another way.";

pub(super) fn run(arguments: &VerifyArguments, out: Out) -> u8 {
    if arguments.explain {
        out.line(EXPLANATION);
    }
    let mut status = exit::OK;
    for (n, answer) in all(arguments).into_iter().enumerate() {
        if n > 0 && !arguments.json {
            out.line("");
        }
        // A folder that cannot be judged keeps no other from being judged.
        let one = match answer {
            Ok((text, one)) => {
                out.line(&text);
                one
            }
            Err(failure) => {
                out.note(&failure.text());
                failure.status()
            }
        };
        // The first folder that failed decides, so that a good one after it hides nothing.
        if status == exit::OK {
            status = one;
        }
    }
    status
}

type Judged = Result<(String, u8), Failure>;

/// Judges all folders, several at once, and answers in the order of the command line.
fn all(arguments: &VerifyArguments) -> Vec<Judged> {
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let n_workers = arguments.jobs.map_or(processors, usize::from).min(arguments.folders.len());
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            let Some(folder) = arguments.folders.get(n) else { return done };
            done.push((n, one(folder, arguments)));
        }
    };
    let mut judged: Vec<(usize, Judged)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..n_workers).map(|_| scope.spawn(work)).collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().expect("internal: judging a folder does not panic"))
            .collect()
    });
    judged.sort_by_key(|(n, _)| *n);
    judged.into_iter().map(|(_, answer)| answer).collect()
}

fn one(folder: &Path, arguments: &VerifyArguments) -> Judged {
    let disk = OsDisk;
    if disk.kind(folder).map_err(StoreError::from)?.is_none() {
        return Err(Failure::usage(format!("there is no folder `{}`", folder.display()))
            .hint("name a job folder, such as `DIR/jobs/2026-0001`"));
    }
    let (trust, from) = trust(folder, arguments.trust.as_deref())?;
    let bytes = load_folder(&disk, &JobFolder::at(folder))?;
    // What the shop says today matters only where it is the shop that we trust.
    let around = jobs::load_folder(ShopFolder::at(folder.join("..").join("..")))
        .ok()
        .filter(|shop| trust.as_ref() == Some(&shop.trust));
    let roster = around.as_ref().map(OpenShop::shop);
    let approvals = around.as_ref().map(|shop| &shop.approvals);
    let today = Today { day: SystemClock.now().day(), roster, approvals };
    let verification = verify_today(&bytes, trust.as_ref(), Some(today));
    let status = verification.exit_status();
    if arguments.json {
        return Ok((verification.json(), status));
    }
    let trusting = match (&trust, &from) {
        (Some(key), Some(path)) => {
            format!("trusting the shop key {} from {}", key.fingerprint(), path.display())
        }
        _ => "no shop key to trust was given, and the folder lies in no shop".to_owned(),
    };
    Ok((format!("{}\n{trusting}\n{}", folder.display(), verification.text().trim_end()), status))
}

/// The key to trust and where it came from: as named, else of the shop around the folder.
fn trust(
    folder: &Path,
    named: Option<&Path>,
) -> Result<(Option<PublicKey>, Option<PathBuf>), Failure> {
    let disk = OsDisk;
    let around = folder.join("..").join("..").join("trust");
    let path = named.map_or(around, Path::to_owned);
    if named.is_none() && disk.kind(&path).map_err(StoreError::from)?.is_none() {
        return Ok((None, None));
    }
    let bytes = disk.read(&path, 64 << 10).map_err(StoreError::from)?;
    let text = String::from_utf8_lossy(&bytes);
    // A public key file may carry a comment after the key.
    let key: Vec<&str> = text.split_whitespace().take(2).collect();
    let key = PublicKey::parse(&key.join(" ")).map_err(|fault| {
        Failure::new(Kind::Damaged, format!("`{}` is not a shop key: {fault}", path.display()))
            .hint("give the shop's public key, one line such as `ssh-ed25519 AAAA…`")
    })?;
    Ok((Some(key), Some(path)))
}
