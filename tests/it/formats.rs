//! The written formats: their schemas hold for all that is written, and each reader takes its own
//! version and refuses every other with its reason.

use std::collections::BTreeMap;
use std::path::Path;

use proptest::prelude::*;
use serde_json::Value;
use witnessmark::canonical;
use witnessmark::ids::Sha256;
use witnessmark::journal::{self, LineFault};
use witnessmark::record::completion::{self, Record, RecordFault, Version};
use witnessmark::record::report::exports::Exports;
use witnessmark::record::report::render_with;
use witnessmark::record::verify::verify;
use witnessmark::record::{FolderBytes, PublicKey, Release};
use witnessmark::store::{JobFolder, OsDisk, load_folder};
use witnessmark::walk::Answer;

use crate::support::generate::{each_kind, entry};
use crate::support::small_shop::{Bench, STORY, answer, person, signer};

const JOURNAL: &str = include_str!("../../schemas/journal.schema.json");
const RECORD: &str = include_str!("../../schemas/record.schema.json");

fn validator(schema: &str) -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(schema).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

fn holds(schema: &jsonschema::Validator, text: &str) -> Result<(), String> {
    let value: Value = serde_json::from_str(text).unwrap();
    schema.validate(&value).map_err(|error| format!("{error} in {text}"))
}

#[test]
fn re3_every_kind_of_entry_and_each_record_is_as_its_schema_says() {
    let (lines, records) = (validator(JOURNAL), validator(RECORD));
    for entry in each_kind() {
        holds(&lines, &journal::encode(&entry, Sha256::ZERO)).unwrap();
    }
    let folder = Bench::new().released(STORY);
    for line in std::str::from_utf8(&folder.files["journal.jsonl"]).unwrap().lines() {
        holds(&lines, line).unwrap();
    }
    let record = std::str::from_utf8(&folder.files["record.json"]).unwrap();
    holds(&records, record).unwrap();
    let with = |text: &str, from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    };
    let line = journal::encode(&each_kind()[0], Sha256::ZERO);
    for (schema, text, from, to) in [
        (&lines, line.as_str(), "\"n\":0", "\"n\":\"0\""),
        (&lines, &line, "\"prev\"", "\"previous\""),
        (&lines, &line, "\"n\":0", "\"n\":0,\"note\":null"),
        (&records, record, "\"outcome\"", "\"result\""),
        (&records, record, "\"semantics\":3", "\"semantics\":null"),
    ] {
        assert!(holds(schema, &with(text, from, to)).is_err(), "{from} -> {to}");
    }
}

/// Which version a reader takes: its own and every one before it; no other.
#[test]
fn re3_each_reader_takes_its_own_version_and_says_why_it_takes_no_other() {
    let line = journal::encode(&each_kind()[0], Sha256::ZERO);
    let folder = Bench::new().released(STORY);
    let record = String::from_utf8(folder.files["record.json"].clone()).unwrap();
    assert_eq!((journal::FORMAT, completion::FORMAT), ("1.0", "1.1"));
    assert!(journal::decode(&line).is_ok());
    let in_version = |text: &str, own: &str, version: &str| {
        let written = format!("\"format\":\"{own}\"");
        assert!(text.contains(&written));
        text.replacen(&written, &format!("\"format\":\"{version}\""), 1)
    };
    for version in Version::ALL {
        let read = Record::parse(in_version(&record, "1.1", version.word()).as_bytes());
        assert_eq!(read.unwrap().format, version.word());
    }
    assert_eq!(Version::NEWEST.word(), completion::FORMAT);
    let fault = journal::decode(&in_version(&line, "1.0", "1.1")).unwrap_err();
    assert!(matches!(fault, LineFault::Newer { .. }), "{fault}");
    for (version, is_newer) in [
        ("1.2", true),
        ("1.10", true),
        ("2.0", true),
        ("10.0", true),
        ("0.9", false),
        ("1", false),
        ("01.0", false),
        ("1.0.0", false),
        ("", false),
    ] {
        let fault = journal::decode(&in_version(&line, "1.0", version)).unwrap_err();
        assert_eq!(matches!(fault, LineFault::Newer { .. }), is_newer, "{version}: {fault}");
        assert_eq!(matches!(fault, LineFault::NoFormat { .. }), !is_newer, "{version}: {fault}");
        let fault = Record::parse(in_version(&record, "1.1", version).as_bytes()).unwrap_err();
        assert!(matches!(fault, RecordFault::OtherFormat(_)), "{version}: {fault}");
    }
    // A form that is not canonical is refused whatever its version.
    assert!(canonical::parse(&line.replacen(",\"n\"", ", \"n\"", 1)).is_err());
}

/// The folders of jobs that were released in a format of long ago, by their names.
fn of_old(version: &str, name: &str) -> (FolderBytes, PublicKey) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/records").join(version);
    let trust = std::fs::read_to_string(folder.join(format!("{name}.pub"))).unwrap();
    let job = load_folder(&OsDisk, &JobFolder::at(folder.join(name))).unwrap();
    (job, PublicKey::parse(trust.trim()).unwrap())
}

/// A job that was released by the first version: every answer of its journal still leads to the same
/// record, byte for byte in the format of that time, and every form of report is still made of it.
#[test]
fn re3_a_record_of_the_first_format_is_verified_and_reported_for_ever() {
    for name in ["reducer", "small"] {
        let (job, trust) = of_old("v1_0", name);
        let found = verify(&job, Some(&trust));
        assert!(found.is_good() && found.is_released, "{name}: {}", found.text());
        let bytes = &job.files["record.json"];
        let record = Record::parse(bytes).unwrap();
        assert_eq!(record.format, "1.0");
        assert!(record.steps.iter().all(|step| step.headline.is_none()));
        let page = render_with(bytes, &BTreeMap::new()).unwrap();
        let exports = Exports::of(bytes).unwrap();
        let forms = [page, exports.markdown(), exports.text(), exports.csv(), exports.json()];
        for form in forms {
            assert!(form.contains(&Sha256::of(bytes).to_string()), "{name}");
            assert!(form.contains(&record.machine.serial), "{name}");
        }
        // The schema of today holds for the record of then.
        holds(&validator(RECORD), std::str::from_utf8(bytes).unwrap()).unwrap();
        // It is the old format that is made again: one digit of it, and it is another record.
        let mut newer = job.clone();
        let text = String::from_utf8(bytes.clone()).unwrap();
        let text = text.replacen("\"format\":\"1.0\"", "\"format\":\"1.1\"", 1);
        newer.files.insert("record.json".to_owned(), text.into_bytes());
        assert!(!verify(&newer, Some(&trust)).is_good(), "{name}");
    }
}

/// What the program writes today in the format of then is what it wrote then.
#[test]
fn re3_a_headline_is_told_from_1_1_on_and_is_nothing_to_1_0() {
    let step = "  - id: why\n    enter: Enter the cause.\n    headline: {under: cause, label: The cause}\n";
    let bench = Bench::with_steps(step);
    let mut session = bench.shop.new_job(&"small".parse().unwrap(), "P-1").unwrap();
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    answer(&mut session, "why", Answer::Entered("Grit".to_owned()));
    let head = journal::encode(session.entries().last().unwrap(), Sha256::ZERO);
    let release = Release {
        job: session.job().clone(),
        head_n: session.entries().len() as u64 - 1,
        head: Sha256::of(head.as_bytes()),
        signer: person("t.reiter"),
        role: session.files().flow.signed_by,
        at: session.state().last_at,
    };
    let written = |version| {
        let job = (session.files(), session.state(), session.entries());
        let text = completion::encode_as(version, job, &BTreeMap::new(), &release);
        Record::parse(text.as_bytes()).unwrap()
    };
    let (old, new) = (written(Version::V1_0), written(Version::V1_1));
    let told = new.steps[0].headline.as_ref().unwrap();
    assert_eq!([&*told.under, &*told.label, &*told.says], ["cause", "The cause", "Grit"]);
    assert!(old.steps[0].headline.is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn re3_whatever_is_entered_is_as_its_schema_says(entry in entry()) {
        let lines = validator(JOURNAL);
        let held = holds(&lines, &journal::encode(&entry, Sha256::ZERO));
        prop_assert!(held.is_ok(), "{:?}", held);
    }
}

/// A job that was stopped and ended by the rules of the walk before these: what lay behind the state that
/// did not outlast the stop stands in no list of its record, and the record is what those rules make of it.
#[test]
fn re3_a_job_of_older_rules_is_judged_by_them() {
    let (job, trust) = of_old("rules_2", "stopped");
    let found = verify(&job, Some(&trust));
    assert!(found.is_good() && found.is_released, "{}", found.text());
    let text = std::str::from_utf8(&job.files["journal.jsonl"]).unwrap();
    assert!(text.contains("\"semantics\":2") && text.contains("token_expired"));
    let record = Record::parse(&job.files["record.json"]).unwrap();
    let judged = text.lines().filter(|line| line.contains("\"answered\":")).count();
    assert!(record.steps.len() < judged, "{} of {judged} answers", record.steps.len());
}
