//! Judging a folder: every change is found and its place named, and a lie that is properly signed is
//! refused where it stops following from its readings.

use std::sync::OnceLock;

use proptest::prelude::*;
use witnessmark::ids::{PersonId, Role};
use witnessmark::record::verify::{FaultName, Question, Today, Verification, verify, verify_today};
use witnessmark::record::{FolderBytes, KeyPair};
use witnessmark::shop::model::Shop;
use witnessmark::store::{JobFolder, OsDisk, load_folder};
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::event::{Meaning, SEMANTICS};
use witnessmark::walk::{Address, Answer, Entry, Event, Judged, Next};

use crate::support::small_shop::{Bench, STORY, Story, address, forge, person, sum_again, trust};

const PLAIN: Story = Story { lengths: ["45.0", "45.1"], seat: "no_fault", is_corrected: false };

/// A released job, made once.
fn good() -> &'static FolderBytes {
    static FOLDER: OnceLock<FolderBytes> = OnceLock::new();
    FOLDER.get_or_init(|| Bench::new().released(STORY))
}

fn plain() -> &'static FolderBytes {
    static FOLDER: OnceLock<FolderBytes> = OnceLock::new();
    FOLDER.get_or_init(|| Bench::new().released(PLAIN))
}

fn judge(folder: &FolderBytes) -> Verification {
    verify(folder, Some(&trust()))
}

/// The first fault of the first answer that is not good: status, name, place, sentence.
fn first(found: &Verification) -> (u8, &'static str, String, String) {
    let answer = found.answers.iter().find(|a| !a.is_good()).unwrap_or_else(|| panic!("good"));
    let fault = &answer.faults[0];
    let place = fault.place.clone().unwrap_or_default();
    (found.exit_status(), fault.name.word(), place, fault.says.clone())
}

/// The names of the faults of one answer.
fn names(found: &Verification, question: Question) -> Vec<&'static str> {
    found.answer(question).unwrap().faults.iter().map(|fault| fault.name.word()).collect()
}

fn changed(path: &str, change: impl FnOnce(&mut Vec<u8>)) -> FolderBytes {
    let mut folder = good().clone();
    change(folder.files.get_mut(path).unwrap());
    folder
}

/// Puts `to` in the place of the first `from`.
fn replaced(bytes: &mut Vec<u8>, from: &str, to: &str) {
    let text = String::from_utf8(bytes.clone()).unwrap();
    assert!(text.contains(from), "{from}");
    *bytes = text.replacen(from, to, 1).into_bytes();
}

/// The page carries no trust: a page of another version is told, and the job is as good as before.
#[test]
fn a_page_that_another_version_made_is_no_fault_and_is_told() {
    let mut folder =
        changed("report.html", |page| replaced(page, "How to check this job", "How to check it"));
    sum_again(&mut folder);
    let found = judge(&folder);
    assert!(found.is_good(), "{}", found.text());
    let [told] = &*found.remarks else { panic!("{:?}", found.remarks) };
    assert!(told.contains("another version made it") && told.contains("the record"), "{told}");
}

#[test]
fn a_good_job_is_good_in_all_five() {
    let found = judge(good());
    assert!(found.is_good(), "{}", found.text());
    assert_eq!(found.exit_status(), 0);
    assert_eq!(found.remarks, Vec::<String>::new());
    let json: serde_json::Value = serde_json::from_str(&found.json()).unwrap();
    assert_eq!(json["answers"].as_array().unwrap().len(), 5);
    assert_eq!((&json["good"], &json["job"]), (&true.into(), &"2026-0001".into()));
    let who: Vec<(&str, &str)> =
        found.signatures.iter().map(|s| (s.signer.as_str(), s.meaning.as_str())).collect();
    assert_eq!(
        who,
        [
            ("i.varga", "identified"),
            ("t.reiter", "decided"),
            ("i.varga", "performed"),
            ("t.reiter", "hold_released"),
            ("t.reiter", "disposed"),
            ("t.reiter", "identified"),
            ("t.reiter", "released"),
        ]
    );
    let text = found.text();
    assert!(text.starts_with("job 2026-0001: all five answers are good\n"), "{text}");
    assert!(text.contains("the record made again from them is the same, byte for byte"));
}

#[test]
fn one_changed_byte_anywhere_is_found_and_its_place_named() {
    for path in good().files.keys().filter(|path| *path != "SHA256SUMS") {
        let found = judge(&changed(path, |bytes| {
            let middle = bytes.len() / 2;
            bytes[middle] ^= 1;
        }));
        let (status, _, place, says) = first(&found);
        assert_eq!(status, 11, "{path}: {}", found.text());
        assert_eq!(&place, path);
        assert!(says.contains(path.as_str()), "{says}");
        if path == "journal.jsonl" {
            assert_eq!(names(&found, Question::Chain), ["journal-damaged"]);
        }
    }
    let sums = judge(&changed("SHA256SUMS", |bytes| {
        bytes[3] = if bytes[3] == b'0' { b'1' } else { b'0' }
    }));
    assert_eq!(first(&sums).0, 11);
}

/// No hash and no signature is over the last entry; its time stands in the signed record as well.
#[test]
fn ca2_the_time_of_the_last_entry_is_a_signed_one() {
    let lines = String::from_utf8(good().files["journal.jsonl"].clone()).unwrap();
    let last = lines.lines().next_back().unwrap();
    let at = last.split_once("\"at\":\"").unwrap().1.split_once('"').unwrap().0;
    let mut n_tried = 0;
    for (place, digit) in at.char_indices().filter(|(_, c)| c.is_ascii_digit()) {
        for other in ['0', '1', '2', '9'].into_iter().filter(|other| *other != digit) {
            let mut changed = at.to_owned();
            changed.replace_range(place..=place, &other.to_string());
            let mut folder = good().clone();
            let journal = lines.replacen(last, &last.replacen(at, &changed, 1), 1);
            folder.files.insert("journal.jsonl".to_owned(), journal.into_bytes());
            sum_again(&mut folder);
            let found = judge(&folder);
            assert!(!found.is_good(), "{changed} in the place of {at}");
            n_tried += 1;
        }
    }
    assert!(n_tried > 40, "{n_tried}");
}

#[test]
fn sums_made_again_hide_nothing() {
    for path in ["files/shop.yaml", "files/procedure-small.yaml", "record.json", "record.json.sig"]
    {
        let mut folder = changed(path, |bytes| {
            let middle = bytes.len() / 2;
            bytes[middle] ^= 1;
        });
        sum_again(&mut folder);
        let (status, name, place, _) = first(&judge(&folder));
        assert_eq!((status, name, place.as_str()), (11, "file-changed", path));
    }
    let mut folder = changed("journal.jsonl", |bytes| {
        replaced(bytes, "read the wrong line", "read the wrong rule");
    });
    sum_again(&mut folder);
    let (status, name, place, says) = first(&judge(&folder));
    assert_eq!((status, name, place.as_str()), (12, "journal-damaged", "journal.jsonl"));
    assert!(says.contains("lines 8 and 9 of the journal"), "{says}");
}

#[test]
fn files_put_in_taken_out_or_not_plain_are_told_apart() {
    let mut folder = good().clone();
    folder.files.insert("evidence/photo".into(), b"x".to_vec());
    assert_eq!(first(&judge(&folder)).1, "file-added");
    sum_again(&mut folder);
    let (status, name, place, says) = first(&judge(&folder));
    assert_eq!((status, name, place.as_str()), (11, "file-added", "evidence/photo"));
    assert!(says.contains("manifest"), "{says}");
    let mut folder = good().clone();
    folder.files.remove("record.json.sig");
    let found = judge(&folder);
    assert_eq!(first(&found).1, "file-missing");
    assert_eq!(names(&found, Question::Signatures), ["not-signed"]);
    let mut folder = good().clone();
    folder.odd.insert("files/link".into(), "is a link, which is not followed".into());
    assert_eq!(first(&judge(&folder)).1, "not-a-plain-file");
}

#[test]
fn o19_line_endings_that_were_turned_are_named_with_the_way_back() {
    for path in ["files/shop.yaml", "files/approvals.jsonl", "record.json.sig", "journal.jsonl"] {
        let found = judge(&changed(path, |bytes| {
            *bytes = String::from_utf8(bytes.clone()).unwrap().replace('\n', "\r\n").into_bytes();
        }));
        assert_eq!(names(&found, Question::Files), ["line-endings"], "{path}: {}", found.text());
        if path == "journal.jsonl" {
            assert_eq!(names(&found, Question::Chain), ["line-endings"]);
        }
    }
    let editor = judge(&changed("record.json", |bytes| bytes.push(b'\n')));
    assert_eq!(first(&editor).1, "line-endings");
    assert!(first(&editor).3.contains("`truncate -s -1 record.json`"), "{}", first(&editor).3);
    // Put right as it says, the job is good again.
    let mut folder = changed("files/shop.yaml", |bytes| {
        *bytes = String::from_utf8(bytes.clone()).unwrap().replace('\n', "\r\n").into_bytes();
    });
    assert!(first(&judge(&folder)).3.contains(r"`sed -i 's/\r$//' files/shop.yaml`"));
    folder.files.get_mut("files/shop.yaml").unwrap().retain(|byte| *byte != b'\r');
    assert!(judge(&folder).is_good());
}

#[test]
fn a_folder_cannot_vouch_for_itself() {
    let unknown = verify(good(), None);
    let (status, name, _, says) = first(&unknown);
    assert_eq!((status, name), (14, "origin-unknown"));
    assert!(says.contains("consistent in itself, origin unknown"), "{says}");
    let other = verify(good(), Some(&KeyPair::generate().public()));
    assert_eq!((first(&other).0, first(&other).1), (14, "origin-unknown"));
    assert!(first(&other).3.contains("another shop key"), "{}", other.text());
}

#[test]
fn a_job_that_is_not_released_has_an_answer_of_its_own() {
    let bench = Bench::new();
    let session = bench.job(STORY);
    let found = judge(&bench.load(session.job()));
    assert_eq!((first(&found).0, first(&found).1), (13, "not-released"));
    let bad = found.answers.iter().filter(|answer| !answer.is_good()).count();
    assert_eq!(bad, 1, "{}", found.text());
    assert!(!found.is_released);
}

fn at<'a>(entries: &'a mut [Entry], address: &str) -> &'a mut Entry {
    let wanted = self::address(address);
    let is_it = |entry: &&mut Entry| match &entry.event {
        Event::Answered { address, .. } => *address == wanted,
        _ => false,
    };
    entries.iter_mut().find(is_it).unwrap()
}

fn set_reading(entry: &mut Entry, text: &str) {
    let Event::Answered { answer: Answer::Read { reading, .. }, .. } = &mut entry.event else {
        panic!("{entry:?}")
    };
    *reading = Reading::parse(text, Unit::Millimetre).unwrap();
}

fn judged(entry: &mut Entry) -> &mut Judged {
    let Event::Answered { judged, .. } = &mut entry.event else { panic!("no answer") };
    judged
}

const SPRING: &str = "springs[cylinder=1]/free_length";

/// The fault of a forged job, which is good in the first four answers.
fn forged(change: impl FnOnce(&mut Vec<Entry>)) -> (String, String) {
    let found = judge(&forge(plain(), change, |record| record));
    for question in [Question::Files, Question::Chain, Question::Signatures, Question::Authority] {
        assert_eq!(names(&found, question), Vec::<&str>::new(), "{}", found.text());
    }
    let (status, name, place, says) = first(&found);
    assert_eq!((status, name), (15, "entry-departs"), "{says}");
    (place, says)
}

#[test]
fn the_forger_of_these_tests_makes_good_jobs() {
    for folder in [plain(), good()] {
        let found = judge(&forge(folder, |_| {}, |record| record));
        assert!(found.is_good(), "{}", found.text());
    }
}

#[test]
fn a_forged_reading_is_refused_at_its_entry() {
    let (place, says) = forged(|entries| set_reading(at(entries, SPRING), "44.59"));
    assert_eq!(place, "entry 5");
    assert!(says.contains("`springs[cylinder=1]/free_length`"), "{says}");
    assert!(says.contains("it says `accept`, and the answers give `replace`"), "{says}");
    // The other way about: a limit that is met, with the verdict of one that is not.
    let (_, says) = forged(|entries| {
        judged(at(entries, SPRING)).verdict = Some(witnessmark::procedure::model::Verdict::Replace);
    });
    assert!(says.contains("it says `replace`, and the answers give `accept`"), "{says}");
}

#[test]
fn a_forged_path_is_refused_at_its_entry() {
    let (place, says) = forged(|entries| {
        judged(at(entries, SPRING)).next = Next::Ask(address("seat"));
    });
    assert_eq!(place, "entry 5");
    assert!(
        says.contains("went to `seat`, and the answers lead to `springs[cylinder=2]"),
        "{says}"
    );
    // Another fit-out opens a step that nobody was shown.
    let (place, _) = forged(|entries| {
        let Event::Answered { answer, .. } = &mut at(entries, "plate").event else { panic!() };
        *answer = Answer::Entered("B".to_owned());
    });
    assert_eq!(place, "entry 8");
}

#[test]
fn an_entry_that_was_not_allowed_when_it_was_made_is_refused() {
    let swapped = |entries: &mut Vec<Entry>| {
        let n = usize::try_from(at(entries, SPRING).n).unwrap();
        let (first, second) = (entries[n].event.clone(), entries[n + 1].event.clone());
        entries[n].event = second;
        entries[n + 1].event = first;
    };
    let (place, says) = forged(swapped);
    assert_eq!(place, "entry 5");
    assert!(says.contains("is not open"), "{says}");
    let (_, says) = forged(|entries| {
        entries.retain(|entry| !matches!(entry.event, Event::SafetyAcknowledged { .. }));
        for entry in entries.iter_mut() {
            if let Event::PerformedSigned(signed) = &mut entry.event
                && let Meaning::Performed { to_n, .. } = &mut signed.statement.meaning
            {
                *to_n -= 1;
            }
        }
    });
    assert!(says.contains("safety text"), "{says}");
    let (_, says) = forged(|entries| {
        let entry = at(entries, SPRING);
        let Event::Answered { answer: Answer::Read { instrument, .. }, .. } = &mut entry.event
        else {
            panic!()
        };
        instrument.id = "C-09".to_owned();
        instrument.certificate = "K C-09".to_owned();
        instrument.calibration_due = chrono::NaiveDate::from_ymd_opt(2026, 1, 31).unwrap();
    });
    assert!(says.contains("calibration of `C-09` was due"), "{says}");
    let (_, says) = forged(|entries| at(entries, SPRING).by = Some(person("a.writer")));
    assert!(says.contains("it is entered by `a.writer`, and `i.varga` was at work"), "{says}");
    let (_, says) = forged(|entries| {
        let n = at(entries, SPRING).n;
        let earlier = entries[0].at;
        entries[usize::try_from(n).unwrap()].at = earlier;
    });
    assert!(says.contains("before the entry that it follows"), "{says}");
}

#[test]
fn re6_a_record_that_says_something_else_than_its_journal_is_refused_with_the_place() {
    let cases = [
        (
            r#""quantity":1"#,
            r#""quantity":2"#,
            "`fitted[0].quantity` it says 2, and the journal gives 1",
        ),
        (r#""outcome":"completed""#, r#""outcome":"stopped""#, "`outcome`"),
        (r#""text":"45.0""#, r#""text":"45.2""#, ".answer.read.reading.text`"),
        (r#""verdict":"accept""#, r#""verdict":"rework""#, ".verdict`"),
    ];
    for (from, to, wanted) in cases {
        let found = judge(&forge(plain(), |_| {}, |record| record.replacen(from, to, 1)));
        let (status, name, place, says) = first(&found);
        assert_eq!((status, name, place.as_str()), (15, "record-differs", "record.json"));
        assert!(says.contains(wanted), "{says}");
    }
}

/// Lets another person sign what `meaning` picks, as `role`.
fn signed_by(
    folder: &FolderBytes,
    is: fn(&Meaning) -> bool,
    (who, role): (&str, Role),
) -> Verification {
    let who: PersonId = person(who);
    judge(&forge(
        folder,
        |entries| {
            for entry in entries {
                let (Event::Identified(signed)
                | Event::PerformedSigned(signed)
                | Event::Answered { signed: Some(signed), .. }) = &mut entry.event
                else {
                    continue;
                };
                if is(&signed.statement.meaning) {
                    signed.statement.signer = who.clone();
                    signed.statement.role = role;
                    entry.by = Some(who.clone());
                }
            }
        },
        |record| record,
    ))
}

#[test]
fn sg2_a_signature_moved_to_another_record_fails() {
    let mut folder = good().clone();
    let others = plain().files["record.json.sig"].clone();
    folder.files.insert("record.json.sig".into(), others);
    sum_again(&mut folder);
    let found = judge(&folder);
    assert_eq!(first(&found).1, "file-changed");
    assert_eq!(names(&found, Question::Signatures), ["signature-bad"], "{}", found.text());
}

#[test]
fn sg3_signers_without_the_role_and_strangers_are_told_apart() {
    let hold = |meaning: &Meaning| *meaning == Meaning::HoldReleased;
    for role in [Role::Apprentice, Role::Mechanic] {
        let found = signed_by(plain(), hold, ("i.varga", role));
        assert_eq!((first(&found).0, first(&found).1), (14, "role-missing"), "{}", found.text());
        assert_eq!(names(&found, Question::Signatures), Vec::<&str>::new());
        assert_eq!(names(&found, Question::Replay), ["entry-departs"]);
    }
    let found = signed_by(plain(), hold, ("s.tranger", Role::Mechanic));
    assert_eq!((first(&found).0, first(&found).1), (14, "signer-unknown"), "{}", found.text());
}

#[test]
fn sg7_what_changed_since_is_told_and_a_revocation_counts() {
    let bench = Bench::new();
    let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
    let of = |roster: Option<&Shop>, at: &str| {
        verify_today(good(), Some(&trust()), Some(Today { day: day(at), roster, approvals: None }))
    };
    let later = of(None, "2027-02-01");
    assert!(later.is_good() && later.remarks[0].contains("has lapsed since"), "{}", later.text());
    let mut roster = bench.shop.shop().clone();
    roster.people.retain(|p| p.id != person("i.varga"));
    let left = of(Some(&roster), "2026-06-01");
    assert!(left.is_good() && left.remarks[0].contains("not in the shop's roster any more"));
    let mut one = bench.shop.shop().clone();
    one.people[0].revoked = Some(day("2026-05-01"));
    let witnessed = of(Some(&one), "2026-06-01");
    assert!(witnessed.is_good(), "{}", witnessed.text());
    let mut roster = bench.shop.shop().clone();
    roster.people[1].revoked = Some(day("2026-05-01"));
    let alone = of(Some(&roster), "2026-06-01");
    assert_eq!((first(&alone).0, first(&alone).1), (14, "key-revoked"));
    assert!(first(&alone).3.contains("no later signature of another person"));
}

#[test]
fn a_journal_of_other_rules_is_not_called_forged() {
    let found = judge(&forge(
        plain(),
        |entries| {
            let Event::JobOpened(opened) = &mut entries[0].event else { panic!() };
            opened.semantics = SEMANTICS + 1;
        },
        |record| record,
    ));
    assert_eq!((first(&found).0, first(&found).1), (15, "cannot-judge"), "{}", found.text());
}

#[test]
fn addresses_in_faults_are_those_of_the_procedure() {
    assert!(Address::parse(SPRING).is_some());
    assert_eq!(FaultName::EntryDeparts.word(), "entry-departs");
}

#[test]
fn a_folder_on_a_real_disk_is_read_and_links_are_named() {
    let dir = tempfile::tempdir().unwrap();
    for (path, bytes) in &good().files {
        let path = dir.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
    let load = || load_folder(&OsDisk, &JobFolder::at(dir.path())).unwrap();
    assert_eq!(&load(), good());
    assert!(judge(&load()).is_good());
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/passwd", dir.path().join("evidence")).unwrap();
        let found = judge(&load());
        assert_eq!((first(&found).1, first(&found).2.as_str()), ("not-a-plain-file", "evidence"));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Whatever is done to the bytes, `verify` answers, and never well.
    #[test]
    fn no_bytes_make_it_panic_or_pass(
        file in any::<prop::sample::Index>(),
        flips in prop::collection::vec((any::<prop::sample::Index>(), 1u8..), 1..4),
        cut in prop::option::weighted(0.3, any::<prop::sample::Index>()),
        resum in any::<bool>(),
    ) {
        let mut folder = good().clone();
        let paths: Vec<String> = folder.files.keys().cloned().collect();
        let path = file.get(&paths);
        let bytes = folder.files.get_mut(path).unwrap();
        let before = bytes.clone();
        for (at, flip) in flips {
            let at = at.index(bytes.len());
            bytes[at] ^= flip;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let is_aid = ["report.html", "recipe.txt", ".gitattributes", "SHA256SUMS"].contains(&path.as_str());
        prop_assume!(*bytes != before && !(resum && is_aid));
        if resum {
            sum_again(&mut folder);
        }
        let found = judge(&folder);
        prop_assert!(!found.is_good(), "{path}");
        prop_assert!(!found.text().is_empty() && !found.json().is_empty());
        prop_assert!(!verify(&folder, None).is_good());
    }
}
