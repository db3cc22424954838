//! The forgery corpus: seeded forgeries of honest jobs, each by somebody with certain keys. Every one
//! that breaks a hash, another person's signature, an approval or a consequence is named at its
//! place; what a holder of all the keys can write undetected is a listed class, shown to pass.
//!
//! `WITNESSMARK_CORPUS=full` takes 300 honest jobs and every byte of a released folder in turn;
//! without it the tests take a sample of both.

mod classes;
mod honest;

use std::collections::BTreeMap;

use witnessmark::record::FolderBytes;
use witnessmark::record::verify::{Verification, verify};

use crate::support::pure::Choices;
use crate::support::small_shop::{sum_again, trust};
use classes::{Forged, caught, undetected};

/// True for the run that takes everything.
fn is_full() -> bool {
    std::env::var("WITNESSMARK_CORPUS").is_ok_and(|value| value == "full")
}

fn judge(folder: &FolderBytes) -> Verification {
    verify(folder, Some(&trust()))
}

#[test]
fn re6_ca2_three_hundred_forgeries_are_each_named_at_their_place() {
    const FORGERIES: usize = 300;
    let classes = caught();
    let mut n_of_class: BTreeMap<&str, usize> = BTreeMap::new();
    for seed in 0..FORGERIES {
        let class = &classes[seed % classes.len()];
        let mut choices = Choices::new(seed as u64 + 1);
        let Forged { from, folder, names, place } = (class.make)(&mut choices);
        assert_ne!(folder, *from, "seed {seed}, {}: nothing was forged", class.name);
        let found = judge(&folder);
        let faults = || found.answers.iter().flat_map(|answer| &answer.faults);
        let is_named = faults().any(|fault| {
            let at = fault.place.as_deref().unwrap_or_default();
            let said = || {
                fault.says.match_indices(&place).any(|(at, _)| {
                    // Entry 1 is not entry 12.
                    !fault
                        .says
                        .get(at + place.len()..)
                        .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
                })
            };
            names.contains(&fault.name.word()) && (at == place || (!place.is_empty() && said()))
        });
        assert!(
            is_named && !found.is_good(),
            "seed {seed}, {}: {names:?} at `{place}` is not among\n{}",
            class.name,
            found.text()
        );
        *n_of_class.entry(class.name).or_default() += 1;
    }
    assert!(n_of_class.values().all(|n| *n >= 5), "{n_of_class:#?}");
    assert_eq!(n_of_class.len(), classes.len(), "two classes have one name");
}

/// What no check of a folder can find: the holders of all the keys agree on a lie, and everything
/// follows from it. The list is what README and `verify --explain` say is not protected.
#[test]
fn re6_a_consistent_lie_by_the_holders_of_all_keys_is_not_caught() {
    for class in undetected() {
        for seed in 0..3 {
            let Forged { from, folder, .. } = (class.make)(&mut Choices::new(1000 + seed));
            assert_ne!(folder, *from, "{}", class.name);
            let found = judge(&folder);
            assert!(found.is_good(), "{}: {}", class.name, found.text());
        }
    }
}

#[test]
fn re6_honest_jobs_raise_no_alarm() {
    let n = if is_full() { 300 } else { 24 };
    for seed in 0..n {
        let found = judge(&honest::released(seed));
        assert!(found.is_good() && found.remarks.is_empty(), "seed {seed}: {}", found.text());
    }
}

/// Every byte of every file, or each so-and-so-many-th of a sample, changed to another.
#[test]
fn ca2_every_changed_byte_of_a_released_folder_is_noticed() {
    let good = honest::released(7);
    assert!(judge(&good).is_good());
    for (path, bytes) in &good.files {
        let step = if is_full() { 1 } else { (bytes.len() / 12).max(1) };
        for at in (0..bytes.len()).step_by(step) {
            let mut folder = good.clone();
            let byte = &mut folder.files.get_mut(path).unwrap()[at];
            // One bit, as a bad disk does; which one moves on with the place.
            *byte ^= 1 << (at % 8);
            let found = judge(&folder);
            assert!(!found.is_good(), "byte {at} of `{path}`");
        }
    }
}

/// The same with the list of hashes made again: what is signed or chained is still noticed. Only the
/// readable copies and the list itself carry no trust.
#[test]
fn ca2_every_changed_byte_is_noticed_with_the_sums_made_again() {
    const AIDS: [&str; 4] = ["SHA256SUMS", "report.html", "recipe.txt", ".gitattributes"];
    let good = honest::released(7);
    for (path, bytes) in good.files.iter().filter(|(path, _)| !AIDS.contains(&path.as_str())) {
        let step = if is_full() { 1 } else { (bytes.len() / 8).max(1) };
        for at in (0..bytes.len()).step_by(step) {
            let mut folder = good.clone();
            folder.files.get_mut(path).unwrap()[at] ^= 1 << (at % 8);
            sum_again(&mut folder);
            assert!(!judge(&folder).is_good(), "byte {at} of `{path}`");
        }
    }
}

#[test]
fn me7_a_photo_that_the_journal_names_must_lie_there_as_it_was() {
    let good = honest::with_photo();
    assert!(judge(&good).is_good(), "{}", judge(&good).text());
    let path = good.files.keys().find(|path| path.starts_with("evidence/")).unwrap().clone();
    let mut gone = good.clone();
    gone.files.remove(&path);
    sum_again(&mut gone);
    let said = judge(&gone).text();
    assert!(said.contains("entry") && said.contains("of the journal names it"), "{said}");
    let mut longer = good.clone();
    longer.files.get_mut(&path).unwrap().push(0);
    sum_again(&mut longer);
    assert!(judge(&longer).text().contains("is not the file that entry"), "{said}");
}
