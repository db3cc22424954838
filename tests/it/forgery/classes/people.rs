//! Forgeries of who did what: by an apprentice with their own key, and by people with each other's.

use chrono::TimeDelta;
use witnessmark::ids::{Moment, Role};
use witnessmark::journal;
use witnessmark::record::{Namespace, signed_of};
use witnessmark::walk::event::Meaning;
use witnessmark::walk::{Entry, Event};

use super::{Class, Forged, any, entries_of, is_good_reading, pick, same, set_reading, which};
use crate::support::pure::Choices;
use crate::support::small_shop::{Forger, key, person, signed_mut};

const STALE: &[&str] = &["signature-bad", "wrong-purpose", "statement-differs"];

fn apprentice(choices: &mut Choices) -> Forger {
    let fits_statements = choices.one_in(2);
    Forger { has: |who| who == "i.varga", fits_statements, ..Forger::with_every_key() }
}

/// What somebody else than the apprentice signed.
fn is_others(entry: &Entry) -> bool {
    signed_of(&entry.event).is_some_and(|(signed, _)| signed.statement.signer.as_str() != "i.varga")
}

/// What only a mechanic may sign.
fn is_mechanics(entry: &Entry) -> bool {
    signed_of(&entry.event)
        .is_some_and(|(s, _)| Namespace::of(&s.statement.meaning).roles() == [Role::Mechanic])
}

/// Lets `who` sign an entry in the place of who did, as `role`.
fn signed_by(entry: &mut Entry, who: &str, role: Role) {
    let signed = signed_mut(&mut entry.event).unwrap();
    signed.statement.signer = person(who);
    signed.statement.role = role;
    entry.by = Some(person(who));
}

/// Lets `who` sign an entry for `purpose`, whatever its statement says.
fn sealed_by(entry: &mut Entry, who: Option<&str>, purpose: Option<Namespace>) {
    let signed = signed_mut(&mut entry.event).unwrap();
    let bytes = journal::statement_bytes(&signed.statement);
    let who = who.unwrap_or(signed.statement.signer.as_str());
    let purpose = purpose.unwrap_or(Namespace::of(&signed.statement.meaning));
    signed.signature = key(who).sign(purpose, &bytes);
}

pub(super) fn by_an_apprentice() -> Vec<Class> {
    vec![
        class!("an own reading made better after a mechanic signed", |choices| {
            let job = pick(choices, |entries| any(entries, is_good_reading));
            let entries = entries_of(job);
            let n = which(choices, &entries, is_good_reading);
            let first = n + entries[n..].iter().position(is_others).unwrap();
            let change = |entries: &mut Vec<Entry>| set_reading(&mut entries[n], "44.97");
            let folder = apprentice(choices).forge(job, change, same);
            Forged { from: job, folder, names: STALE, place: format!("entry {first}") }
        }),
        class!("a mechanic's signature by an apprentice", |choices| {
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_mechanics);
            let role = if choices.one_in(2) { Role::Apprentice } else { Role::Mechanic };
            let change = |entries: &mut Vec<Entry>| signed_by(&mut entries[n], "i.varga", role);
            let folder = apprentice(choices).forge(job, change, same);
            let names = &["role-missing"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
        class!("an apprentice's key under a mechanic's name", |choices| {
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_mechanics);
            let change =
                |entries: &mut Vec<Entry>| sealed_by(&mut entries[n], Some("i.varga"), None);
            let folder = apprentice(choices).forge(job, change, same);
            let names = &["signature-bad"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
        class!("a release by an apprentice", |choices| {
            let job = pick(choices, |_| true);
            let forger = Forger { releaser: Some("i.varga"), ..apprentice(choices) };
            let folder = forger.forge(job, |_| {}, same);
            let names = &["role-missing"];
            Forged { from: job, folder, names, place: "record.json.sig".to_owned() }
        }),
    ]
}

/// The whole job, moved in time by whoever has everybody's key.
fn moved(
    choices: &mut Choices,
    later: TimeDelta,
    names: &'static [&'static str],
    place: &str,
) -> Forged {
    let job = pick(choices, |_| true);
    let forger = Forger { later, ..Forger::with_every_key() };
    Forged { from: job, folder: forger.forge(job, |_| {}, same), names, place: place.to_owned() }
}

pub(super) fn by_key_holders() -> Vec<Class> {
    vec![
        class!("a signature by somebody whom the shop does not know", |choices| {
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_mechanics);
            let change =
                |entries: &mut Vec<Entry>| signed_by(&mut entries[n], "s.tranger", Role::Mechanic);
            let folder = Forger::with_every_key().forge(job, change, same);
            let names = &["signer-unknown"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
        class!("a job after the qualifications lapsed", |choices| {
            let later = TimeDelta::days(305 + i64::try_from(choices.below(400)).unwrap());
            moved(choices, later, &["qualification-lapsed"], "entry 1")
        }),
        class!("a job from before people were qualified", |choices| {
            let later = TimeDelta::days(-430 - i64::try_from(choices.below(400)).unwrap());
            moved(choices, later, &["not-yet-qualified"], "entry 1")
        }),
        class!("a job from before its files were approved", |choices| {
            let later = TimeDelta::hours(-1 - i64::try_from(choices.below(300)).unwrap());
            moved(choices, later, &["not-approved"], "after the job was opened")
        }),
        class!("a signature made for another purpose", |choices| {
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_mechanics);
            let change = |entries: &mut Vec<Entry>| {
                sealed_by(&mut entries[n], None, Some(Namespace::Session));
            };
            let forger = Forger { has: |_| false, ..Forger::with_every_key() };
            let folder = forger.forge(job, change, same);
            let names = &["wrong-purpose"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
        class!("a performer's range that leaves something out", |choices| {
            let is_performed = |e: &Entry| matches!(e.event, Event::PerformedSigned(_));
            let job = pick(choices, |entries| any(entries, is_performed));
            let n = which(choices, &entries_of(job), is_performed);
            let change = |entries: &mut Vec<Entry>| {
                let signed = signed_mut(&mut entries[n].event).unwrap();
                let Meaning::Performed { to_n, .. } = &mut signed.statement.meaning else {
                    panic!()
                };
                *to_n -= 1;
            };
            let folder = Forger::with_every_key().forge(job, change, same);
            let names = &["entry-departs"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
        class!("a signature from before the entry that it follows", |choices| {
            let job = pick(choices, |_| true);
            let n = which(choices, &entries_of(job), is_mechanics);
            let change = |entries: &mut Vec<Entry>| {
                let before = entries[0].at.time() - TimeDelta::seconds(1);
                signed_mut(&mut entries[n].event).unwrap().statement.at = Moment::new(before);
            };
            let folder = Forger::with_every_key().forge(job, change, same);
            let names = &["statement-differs"];
            Forged { from: job, folder, names, place: format!("entry {n}") }
        }),
    ]
}
