//! Releasing: the order, what can go wrong at each step, and power cuts between any two operations.

use std::rc::Rc;

use witnessmark::ids::PersonId;
use witnessmark::journal;
use witnessmark::ports::{Clock, Disk, SignError, Signer};
use witnessmark::procedure::model::Verdict;
use witnessmark::record::completion::{Answer, Record};
use witnessmark::record::{KeyPair, Namespace, verify};
use witnessmark::session::Session;
use witnessmark::session::open::OpenError;
use witnessmark::session::play::Until;
use witnessmark::session::release::{Finished, ReleaseError};
use witnessmark::session::shop::{With, approve};
use witnessmark::store::load_folder;
use witnessmark::walk::event::{Meaning, SEMANTICS};
use witnessmark::walk::{Command, Event, Refusal};

use crate::rehearsals;
use crate::support::disk::Survives;
use crate::support::small_shop::{
    Bench, STORY, address, answer, dispose, forge, person, read, signer, submit, trust,
};

fn release(session: &mut Session) -> Result<(), ReleaseError> {
    let shown = session.exceptions();
    session.release(&person("t.reiter"), &signer("t.reiter"), &shown).map(|_| ())
}

fn assert_good(bench: &Bench, session: &Session) {
    let found = verify::verify(&bench.load(session.job()), Some(&trust()));
    assert!(found.is_good() && found.exit_status() == 0, "{}", found.text());
    assert!(found.is_released);
}

fn n_of(session: &Session, is: fn(&Event) -> bool) -> usize {
    session.entries().iter().filter(|entry| is(&entry.event)).count()
}

#[test]
fn a_released_job_holds_its_record_and_everything_to_check_it_with() {
    let bench = Bench::new();
    let folder = bench.released(STORY);
    let names: Vec<&str> = folder.files.keys().map(String::as_str).collect();
    assert_eq!(
        names,
        [
            ".gitattributes",
            "SHA256SUMS",
            "files/approvals.jsonl",
            "files/approvals.jsonl.sig",
            "files/equipment-test_pump.yaml",
            "files/procedure-small.yaml",
            "files/shop.yaml",
            "files/shop.yaml.sig",
            "journal.jsonl",
            "recipe.txt",
            "record.json",
            "record.json.sig",
            "report.html",
        ]
    );
    let record = Record::parse(&folder.files["record.json"]).unwrap();
    assert_eq!((record.outcome.as_str(), record.kind.as_str()), ("completed", "record"));
    let bytes = String::from_utf8(folder.files["record.json"].clone()).unwrap();
    assert!(bytes.contains(r#""signer":"t.reiter"}"#) && !bytes.ends_with('\n'));
    let parts: Vec<_> = record
        .parts
        .iter()
        .map(|p| (p.part.as_str(), p.position.as_str(), p.number.as_deref(), p.because.as_str()))
        .collect();
    assert_eq!(
        parts,
        [
            ("gasket", "", None, "always renewed"),
            ("spring", "cylinder=1", Some("0077"), "springs[cylinder=1]/free_length"),
        ]
    );
    let spring = record.steps.iter().find(|s| s.address.contains("cylinder=1")).unwrap();
    let Answer::Read { reading, instrument, .. } = &spring.answer else { panic!("{spring:?}") };
    assert_eq!((reading.text.as_str(), reading.value.as_str()), ("43.90", "43.9 mm"));
    assert_eq!((instrument.id.as_str(), instrument.certificate.as_str()), ("C-03", "K C-03"));
    assert_eq!(spring.what, "43.90 mm is below 44.6 mm, with C-03");
    let limit = spring.limit.as_ref().unwrap();
    assert_eq!(limit.words, "at least 44.6 mm");
    let seat = record.steps.iter().find(|s| s.address == "seat").unwrap();
    assert_eq!(
        (seat.verdict_judged.as_deref(), seat.verdict.as_deref()),
        (Some("refer"), Some("accept"))
    );
    let correction = &record.corrections[0];
    assert!(correction.before.starts_with("44.70 mm") && correction.after.starts_with("43.90 mm"));
    assert_eq!(correction.reason, "read the wrong line");
    assert_eq!(record.not_applicable[0].because, "elastomer == fkm");
    let meanings: Vec<&str> = record.signatures.iter().map(|s| s.meaning.as_str()).collect();
    assert_eq!(
        meanings,
        ["identified", "decided", "performed", "hold_released", "disposed", "identified"]
    );
    let [scored, spring] = [1, 0].map(|n| &record.dispositions[n]);
    assert_eq!(
        (spring.done.as_str(), spring.lot.as_deref(), spring.by.as_deref()),
        ("replaced", Some("L-77"), Some("t.reiter"))
    );
    assert_eq!((scored.done.as_str(), scored.rules.as_str()), ("used_as_is", "refer"));
    let page = String::from_utf8(folder.files["report.html"].clone()).unwrap();
    assert!(page.contains("smells of oil &amp; &lt;rust&gt;"), "{page}");
    assert!(page.contains("Valve spring") && !page.contains("DEMO"));
}

#[test]
fn sg6_only_the_person_at_work_releases_what_they_have_seen() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    let shown = session.exceptions();
    assert!(shown.len() >= 3, "{shown:#?}");
    let other = session.release(&person("o.nkemelu"), &signer("o.nkemelu"), &shown);
    assert!(matches!(other, Err(ReleaseError::NotAtWork { .. })), "{other:?}");
    let n_entries = session.entries().len();
    let unseen = session.release(&person("t.reiter"), &signer("t.reiter"), &shown[1..]);
    assert!(unseen.unwrap_err().to_string().contains("look at it again"));
    assert_eq!(session.entries().len(), n_entries);
    release(&mut session).unwrap();
    assert!(matches!(
        release(&mut session).unwrap_err(),
        ReleaseError::Refused(Refusal::JobReleased)
    ));
    assert_good(&bench, &session);
}

#[test]
fn re5_sg3_an_open_job_and_the_performer_are_refused() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    let shown = session.exceptions();
    let error = session.release(&person("i.varga"), &signer("i.varga"), &shown).unwrap_err();
    assert!(error.to_string().contains("mechanic"), "{error}");
    let mut open =
        bench.shop.new_job(&witnessmark::ids::ProcedureId::new("small").unwrap(), "P-1").unwrap();
    open.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    assert!(release(&mut open).unwrap_err().to_string().contains("is still open"));
    assert_eq!(open.entries().len(), 2);
}

/// A job in which `t.reiter` took back their own decision on the seat and decided once more.
fn decided_twice(bench: &Bench) -> Session {
    let mut session = bench.job(STORY);
    let at = address("seat/decision");
    let (verdict, why) = (Verdict::Accept, "old, shallow, and clear of the sealing land");
    let meaning = Meaning::Decided { verdict, reason: why.to_owned() };
    let signed = session
        .sign(&person("t.reiter"), Some(at.clone()), meaning, &signer("t.reiter"))
        .unwrap_or_else(|e| panic!("{e}"));
    let answer = witnessmark::walk::Answer::Decided { verdict, reason: why.to_owned() };
    let reason = "looked again with the lamp".to_owned();
    submit(&mut session, Command::Correct { address: at, answer, reason, signed: Some(signed) });
    session
}

/// Signs again what the correction made worthless: the hold, and what was done about the spring.
fn hold_again(session: &mut Session, holder: &str) {
    session
        .release_hold(&address("ready"), &person(holder), &signer(holder))
        .unwrap_or_else(|e| panic!("{e}"));
    dispose(session, holder);
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
}

/// Deciding is not carrying out, the second time neither; what somebody measured is their work.
#[test]
fn sg3_who_corrects_their_own_decision_may_release_and_who_corrects_a_reading_may_not() {
    let bench = Bench::new();
    let mut session = decided_twice(&bench);
    hold_again(&mut session, "t.reiter");
    assert!(session.state().unsigned_people().is_empty());
    release(&mut session).unwrap_or_else(|e| panic!("{e}"));
    assert_good(&bench, &session);
    let record = Record::parse(&bench.load(session.job()).files["record.json"]).unwrap();
    let [_, corrected] = record.corrections.as_slice() else { panic!("{:#?}", record.corrections) };
    assert!(corrected.before.contains("old and shallow"), "{corrected:#?}");
    assert!(corrected.after.contains("clear of the sealing land"), "{corrected:#?}");

    let mut session = bench.job(STORY);
    let shown = session.to_take_up().expect("the work is in other hands");
    submit(&mut session, Command::TakeUp { shown });
    let answer = read(&session, "45.2", "C-03");
    let command = Command::Correct {
        address: address("springs[cylinder=2]/free_length"),
        answer,
        reason: "read the wrong line".to_owned(),
        signed: None,
    };
    submit(&mut session, command);
    let decided = (Verdict::Accept, "the groove is old and shallow");
    session
        .decide(&address("seat/decision"), decided, &person("o.nkemelu"), &signer("o.nkemelu"))
        .unwrap_or_else(|e| panic!("{e}"));
    session.sign_performed(&person("t.reiter"), &signer("t.reiter")).unwrap();
    hold_again(&mut session, "o.nkemelu");
    let refused = release(&mut session).unwrap_err().to_string();
    assert!(refused.contains("t.reiter carried out steps"), "{refused}");
    assert!(refused.contains("another mechanic signs"), "{refused}");
}

/// The first rules called a corrected decision work of its signer. A job of that time is walked by them.
#[test]
fn re6_a_job_is_judged_by_the_rules_that_it_was_walked_by() {
    let bench = Bench::new();
    let mut session = decided_twice(&bench);
    hold_again(&mut session, "t.reiter");
    release(&mut session).unwrap_or_else(|e| panic!("{e}"));
    let folder = bench.load(session.job());
    let of_rules = |rules: u32| {
        let change = |entries: &mut Vec<witnessmark::walk::Entry>| {
            let Event::JobOpened(opened) = &mut entries[0].event else { panic!() };
            opened.semantics = rules;
        };
        verify::verify(&forge(&folder, change, |record| record), Some(&trust()))
    };
    assert!(of_rules(SEMANTICS).is_good(), "{}", of_rules(SEMANTICS).text());
    let said = of_rules(1).text();
    assert!(said.contains("the work of t.reiter is not signed for yet"), "{said}");
}

/// A key that does not sign, or signs something else.
struct Broken(Option<KeyPair>);

impl Signer for Broken {
    fn sign(&self, _: &str, message: &[u8]) -> Result<String, SignError> {
        match &self.0 {
            None => Err(SignError::WrongPassphrase),
            Some(key) => Ok(key.sign(Namespace::Release, message)),
        }
    }
}

#[test]
fn o18_a_signature_that_is_not_made_or_does_not_hold_leaves_the_job_unsigned() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    let shown = session.exceptions();
    let by: PersonId = person("t.reiter");
    for broken in [Broken(None), Broken(Some(KeyPair::generate())), Broken(None)] {
        let error = session.release(&by, &broken, &shown).unwrap_err();
        assert!(error.to_string().contains("not released"), "{error}");
        assert_eq!(session.state().released, None);
        let folder = bench.load(session.job());
        assert!(!folder.files.keys().any(|path| path.starts_with("record.json")));
        let found = verify::verify(&folder, Some(&trust()));
        assert_eq!(found.exit_status(), 13, "{}", found.text());
        assert!(found.headline().contains("not released yet"));
    }
    // The list was acknowledged once and has not changed since.
    release(&mut session).unwrap();
    let is_seen = |event: &Event| matches!(event, Event::ExceptionsAcknowledged { .. });
    assert_eq!(n_of(&session, is_seen), 1);
    assert_good(&bench, &session);
}

#[test]
fn o18_a_stale_signature_never_counts() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    let folder = bench.folder(session.job());
    bench.disk.put(&folder.record_signature(), b"-----BEGIN SSH SIGNATURE-----\n");
    let shown = session.exceptions();
    let done = session.release(&person("t.reiter"), &signer("t.reiter"), &shown).unwrap();
    assert!(done.discarded.unwrap().contains("a signature and no record"));
    assert_good(&bench, &session);
    // The signature of another job's record is as stale.
    let bytes = bench.load(session.job()).files;
    let mut other = bench.job(STORY);
    let folder = bench.folder(other.job());
    bench.disk.put(&folder.record(), &bytes["record.json"]);
    bench.disk.put(&folder.record_signature(), &bytes["record.json.sig"]);
    let finished = other.finish_release().unwrap();
    let Finished::Discarded(why) = finished else { panic!("{finished:?}") };
    assert!(why.contains("signed for the job 2026-0001, not for 2026-0002"), "{why}");
    release(&mut other).unwrap();
    assert_good(&bench, &other);
}

#[test]
fn ca3_a_clock_that_goes_back_is_looked_at_before_the_release() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    let shown = session.exceptions();
    bench.clock.turn(-3600);
    let error = session.release(&person("t.reiter"), &signer("t.reiter"), &shown).unwrap_err();
    assert!(error.to_string().contains("look at it again"), "{error}");
    release(&mut session).unwrap();
    assert_good(&bench, &session);
}

#[test]
fn a_closed_job_is_not_worked_on_again() {
    let bench = Bench::new();
    let mut session = bench.job(STORY);
    release(&mut session).unwrap();
    let job = session.job().clone();
    drop(session);
    let error = bench.shop.resume(&job).unwrap_err();
    assert!(matches!(error, OpenError::Released(_)), "{error}");
}

/// Plays a rehearsal of the demo on a real disk, releases it and judges the folder, with this program
/// and with `sha256sum`.
fn demo_is_released_and_good(text: &str, outcome: &str) {
    let demo = rehearsals::demo();
    let script = rehearsals::script(text);
    let mut session = demo.open(&script);
    demo.play(&mut session, &script, &Until::Over);
    let key = |id: &PersonId| &demo.made.keys[id];
    for by in session.state().unsigned_people() {
        session.sign_performed(&by, key(&by)).unwrap();
    }
    let mechanic = script.mechanic.value.clone();
    session.identify(&mechanic, key(&mechanic)).unwrap();
    let shown = session.exceptions();
    session.release(&mechanic, key(&mechanic), &shown).unwrap_or_else(|e| panic!("{e}"));
    let folder = load_folder(session.disk().as_ref(), session.folder()).unwrap();
    let found = verify::verify(&folder, Some(&demo.shop.trust));
    assert!(found.is_good(), "{}", found.text());
    assert!(found.headline().contains("(demo, a made-up shop)"));
    let record = Record::parse(&folder.files["record.json"]).unwrap();
    assert_eq!((record.outcome.as_str(), record.kind.as_str()), (outcome, "demo"));
    assert_eq!(record.stop.is_some(), outcome == "stopped");
    let sums = std::process::Command::new("sha256sum")
        .args(["--check", "--strict", "--quiet", "SHA256SUMS"])
        .current_dir(session.folder().root())
        .status()
        .unwrap();
    assert!(sums.success());
    let page = String::from_utf8(folder.files["report.html"].clone()).unwrap();
    assert!(page.contains("DEMO"));
}

#[test]
fn the_demo_with_a_worn_spring_is_released() {
    demo_is_released_and_good(witnessmark::demo::SCRIPT, "completed");
}

#[test]
fn a_demo_that_stops_is_released_as_stopped() {
    let script = include_str!("../../procedures/rehearsals/solvent_stop.yaml");
    demo_is_released_and_good(script, "stopped");
}

/// Goes on after a power cut, as the program does when a job is opened.
fn go_on(bench: &Bench, job: &witnessmark::ids::JobId) -> Result<Option<Session>, String> {
    let mut session = match bench.reopened().resume(job) {
        Err(OpenError::Released(_)) => return Ok(None),
        resumed => resumed.map_err(|error| error.to_string())?,
    };
    session.finish_release().map_err(|error| error.to_string())?;
    if session.state().released.is_none() {
        release(&mut session).map_err(|error| error.to_string())?;
    }
    Ok(Some(session))
}

fn assert_released_once(bench: &Bench, job: &witnessmark::ids::JobId, what: &str) {
    let folder = bench.load(job);
    let found = verify::verify(&folder, Some(&trust()));
    assert!(found.is_good(), "{what}: {}", found.text());
    let scan = journal::scan(&folder.files["journal.jsonl"]).unwrap();
    let is_release = |event: &Event| matches!(event, Event::Released { .. });
    assert_eq!(scan.entries().filter(|e| is_release(&e.event)).count(), 1, "{what}");
    let part = folder.files.keys().find(|path| path.contains(".part"));
    assert_eq!(part, None, "{what}");
}

#[test]
fn a_release_stopped_at_any_operation_is_completed_or_repeated_and_never_doubled() {
    let whole = Bench::new();
    let mut session = whole.job(STORY);
    let before = whole.disk.n_ops();
    release(&mut session).unwrap();
    let n_ops = whole.disk.n_ops() - before;
    assert!(n_ops > 30, "{n_ops}");
    for survives in Survives::ALL {
        for stop_at in 1..=n_ops {
            let bench = Bench::new();
            let mut session = bench.job(STORY);
            let job = session.job().clone();
            bench.disk.stop_at(stop_at);
            release(&mut session).unwrap_err();
            bench.disk.power_cut(survives);
            drop(session);
            let what = format!("{survives:?} at operation {stop_at} of {n_ops}");
            drop(go_on(&bench, &job).unwrap_or_else(|error| panic!("{what}: {error}")));
            assert_released_once(&bench, &job, &what);
        }
    }
}

#[test]
fn a_disk_that_fails_once_during_a_release_can_be_tried_again() {
    let whole = Bench::new();
    let mut session = whole.job(STORY);
    let before = whole.disk.n_syncs();
    release(&mut session).unwrap();
    let n_syncs = whole.disk.n_syncs() - before;
    for fail_at in 1..=n_syncs {
        let bench = Bench::new();
        let mut session = bench.job(STORY);
        let job = session.job().clone();
        bench.disk.fail_sync_at(fail_at);
        let what = format!("sync {fail_at} of {n_syncs}");
        if release(&mut session).is_err() {
            if session.state().released.is_none() {
                release(&mut session).unwrap_or_else(|error| panic!("{what}: {error}"));
            } else {
                session.finish_release().unwrap_or_else(|error| panic!("{what}: {error}"));
            }
        }
        assert_released_once(&bench, &job, &what);
    }
}

/// Opens a job in a shop whose files were changed on the disk after the approval.
fn opened_with(change: impl FnOnce(&Bench)) -> Result<(), String> {
    let bench = Bench::new();
    change(&bench);
    let id = witnessmark::ids::ProcedureId::new("small").unwrap();
    bench.reopened().new_job(&id, "P-1").map(drop).map_err(|error| error.to_string())
}

fn edit(bench: &Bench, from: &str, to: &str) {
    let path = bench.shop.folder.procedures().join("small.yaml");
    let text = String::from_utf8(bench.disk.files()[&path].clone()).unwrap();
    assert!(text.contains(from), "{from}");
    bench.disk.put(&path, text.replace(from, to).as_bytes());
}

fn approve_it(bench: &Bench, who: &str) {
    let port: Rc<dyn Disk> = bench.disk.port();
    let clock: Rc<dyn Clock> = Rc::clone(&bench.clock) as Rc<dyn Clock>;
    let ids = (
        witnessmark::ids::ProcedureId::new("small").unwrap(),
        witnessmark::ids::EquipmentId::new("test_pump").unwrap(),
    );
    let with = With { person: &person(who), key: &signer(who) };
    approve(&port, &clock, &bench.shop.folder, (&ids.0, &ids.1), with, &signer("shop"))
        .unwrap_or_else(|e| panic!("{e}"));
}

const SECOND: (&str, &str) = (
    "revision: 1\neffective: 2026-01-01\nrevisions:\n",
    "revision: 2\neffective: 2026-01-01\nrevisions:\n  - {revision: 2, date: 2026-01-01, by: a.writer, why: Second issue.}\n",
);

#[test]
fn au1_a_draft_an_edited_a_superseded_and_a_future_revision_open_no_job() {
    assert_eq!(opened_with(|_| {}), Ok(()));
    let edited = opened_with(|bench| edit(bench, "Take off the cover.", "Lift off the cover."));
    assert!(edited.unwrap_err().contains("is not as it was approved"));
    let draft = opened_with(|bench| edit(bench, SECOND.0, SECOND.1));
    assert!(draft.unwrap_err().contains("is revision 2, which was not approved"));
    let superseded = opened_with(|bench| {
        let path = bench.shop.folder.procedures().join("small.yaml");
        let first = bench.disk.files()[&path].clone();
        edit(bench, SECOND.0, SECOND.1);
        approve_it(bench, "t.reiter");
        bench.disk.put(&path, &first);
    });
    let said = superseded.unwrap_err();
    assert!(said.contains("which was approved once; revision 2 is in force"), "{said}");
    let future = opened_with(|bench| {
        edit(bench, SECOND.0, &SECOND.1.replace("effective: 2026-01-01", "effective: 2026-04-01"));
        approve_it(bench, "t.reiter");
    });
    let said = future.unwrap_err();
    assert!(said.contains("may be worked by from 2026-04-01 on, and it is 2026-03-02"), "{said}");
}

#[test]
fn au1_an_older_signed_list_of_approvals_is_not_slipped_in() {
    let said = opened_with(|bench| {
        let path = bench.shop.folder.procedures().join("small.yaml");
        let list = [bench.shop.folder.approvals(), bench.shop.folder.approvals_signature()];
        let files = bench.disk.files();
        let first = files[&path].clone();
        edit(bench, SECOND.0, SECOND.1);
        approve_it(bench, "t.reiter");
        let id = witnessmark::ids::ProcedureId::new("small").unwrap();
        drop(bench.reopened().new_job(&id, "P-1").unwrap());
        // Whoever can write to the newest job makes its copy of the list say nothing.
        let newest = bench.reopened().new_job(&id, "P-1").unwrap();
        let copy = newest.folder().root().join("files/approvals.jsonl");
        drop(newest);
        bench.disk.put(&copy, &files[&list[0]]);
        // The older revision with the older list, which the shop has signed too.
        bench.disk.put(&path, &first);
        for path in &list {
            bench.disk.put(path, &files[path]);
        }
    });
    let said = said.unwrap_err();
    assert!(said.contains("older than job 2026-0001"), "{said}");
}

/// A shop whose list of approvals has grown, and a job that was opened with the list of before.
#[test]
fn au1_a_job_opened_with_a_list_that_the_shop_had_added_to_is_named() {
    let bench = Bench::new();
    let judge = |bench: &Bench, session: &Session, approvals: &witnessmark::record::Approvals| {
        let (day, approvals) = (bench.clock.now().day(), Some(approvals));
        let today = verify::Today { day, roster: None, approvals };
        verify::verify_today(&bench.load(session.job()), Some(&trust()), Some(today))
    };
    let mut before = bench.job(STORY);
    release(&mut before).unwrap();
    let path = bench.shop.folder.procedures().join("small.yaml");
    let first = bench.disk.files()[&path].clone();
    edit(&bench, SECOND.0, SECOND.1);
    approve_it(&bench, "t.reiter");
    let now = bench.reopened().approvals;
    assert!(judge(&bench, &before, &now).is_good());
    // The second revision is taken back without a word, and a job is opened by the first.
    bench.disk.put(&path, &first);
    let mut after = bench.job(STORY);
    release(&mut after).unwrap();
    let found = judge(&bench, &after, &now);
    assert_eq!(found.exit_status(), 14, "{}", found.text());
    assert!(
        found.text().contains("approvals-rolled-back: the job was opened on"),
        "{}",
        found.text()
    );
    assert!(found.text().contains("an older list was slipped in"), "{}", found.text());
}

#[test]
fn sg1_a_job_that_ended_in_a_stop_is_never_signed_as_completed() {
    let bench = Bench::with_steps(
        "  - id: seat
    look: Look at the seat.
    findings:
      no_fault: {see: Clean and bright, verdict: accept}
      cracked: {see: A crack, verdict: stop, say: It is not opened further., safe_state: Closed and locked}
",
    );
    let mut session = bench
        .shop
        .new_job(&witnessmark::ids::ProcedureId::new("small").unwrap(), "P-1")
        .unwrap_or_else(|e| panic!("{e}"));
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    let cracked = vec![witnessmark::ids::Name::new("cracked").unwrap()];
    answer(&mut session, "seat", witnessmark::walk::Answer::Found(cracked));
    let stop = session.state().walk.asked().unwrap();
    let stop = session.files().flow.instance(stop).address.to_string();
    answer(&mut session, &stop, witnessmark::walk::Answer::Stopped);
    session.sign_performed(&person("i.varga"), &signer("i.varga")).unwrap();
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    let shown = session.exceptions();
    assert!(shown[0].contains("the job was stopped at"), "{shown:?}");
    release(&mut session).unwrap();
    let folder = bench.load(session.job());
    assert_good(&bench, &session);
    assert_eq!(Record::parse(&folder.files["record.json"]).unwrap().outcome, "stopped");
    // Not by asking again, not by opening it again.
    assert!(matches!(
        release(&mut session).unwrap_err(),
        ReleaseError::Refused(Refusal::JobReleased)
    ));
    let job = session.job().clone();
    drop(session);
    assert!(matches!(bench.shop.resume(&job).unwrap_err(), OpenError::Released(_)));
    // And not by everybody's keys over a record that says so: the answers say otherwise.
    let (from, to) = (r#""outcome":"stopped""#, r#""outcome":"completed""#);
    let forged = forge(&folder, |_| {}, |record| record.replacen(from, to, 1));
    let found = verify::verify(&forged, Some(&trust()));
    assert_eq!(found.exit_status(), 15, "{}", found.text());
    assert!(
        found.text().contains("at `outcome` it says \"completed\", and the journal"),
        "{}",
        found.text()
    );
}

#[test]
fn ca1_both_values_stand_with_reason_person_and_time_in_journal_record_and_page() {
    let folder = Bench::new().released(STORY);
    let record = Record::parse(&folder.files["record.json"]).unwrap();
    let [correction] = record.corrections.as_slice() else { panic!("{:?}", record.corrections) };
    assert!(correction.before.starts_with("44.70 mm") && correction.after.starts_with("43.90 mm"));
    assert_eq!(
        (correction.by.as_deref(), correction.before_by.as_deref(), correction.reason.as_str()),
        (Some("i.varga"), Some("i.varga"), "read the wrong line")
    );
    assert!(correction.before_at < correction.at, "{correction:?}");
    // The first entry is still there, byte for byte as the second names it.
    let journal = String::from_utf8(folder.files["journal.jsonl"].clone()).unwrap();
    let lines: Vec<&str> = journal.lines().collect();
    let line = |n: u64| usize::try_from(n).unwrap();
    let (first, second) = (line(correction.supersedes), line(correction.n));
    assert!(lines[first].contains(r#""text":"44.70""#), "{}", lines[first]);
    assert!(lines[second].contains(&format!("\"supersedes\":{first}")), "{}", lines[second]);
    let page = String::from_utf8(folder.files["report.html"].clone()).unwrap();
    let section =
        page.split_once("<h2>Corrections</h2>").unwrap().1.split_once("</table>").unwrap().0;
    let at = |text: &str| witnessmark::ids::Moment::parse(text).unwrap().spoken();
    let (before_at, after_at) = (at(&correction.before_at), at(&correction.at));
    for shown in
        ["44.70 mm", "43.90 mm", "read the wrong line", "I.VARGA", before_at.as_str(), &after_at]
    {
        assert!(section.contains(shown), "{shown}: {section}");
    }
}

#[test]
fn sg1_every_copy_shows_who_signed_when_and_what_it_means() {
    use witnessmark::record::report::exports::Exports;
    let folder = Bench::new().released(STORY);
    let record = &folder.files["record.json"];
    let page = String::from_utf8(folder.files["report.html"].clone()).unwrap();
    let exports = Exports::of(record).unwrap();
    let copies = [
        ("html", page),
        ("markdown", exports.markdown()),
        ("text", exports.text()),
        ("csv", exports.csv()),
        ("json", exports.json()),
    ];
    let read = Record::parse(record).unwrap();
    for (form, copy) in &copies {
        // Markdown writes what would be markup another way.
        let plain = copy.replace('\\', "").replace("&#58;", ":");
        for signature in &read.signatures {
            for told in [&signature.signer, &signature.at, &signature.meaning] {
                let spoken =
                    witnessmark::ids::Moment::parse(told).map(witnessmark::ids::Moment::spoken);
                let is_told = plain.contains(told.as_str())
                    || spoken.is_some_and(|spoken| plain.contains(&spoken));
                assert!(is_told, "{form}: {told}");
            }
        }
        assert!(copy.contains("released"), "{form}");
    }
}
