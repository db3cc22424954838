//! The written formats: their schemas hold for all that is written, and each reader takes its own
//! version and refuses every other with its reason.

use proptest::prelude::*;
use serde_json::Value;
use witnessmark::canonical;
use witnessmark::ids::Sha256;
use witnessmark::journal::{self, LineFault};
use witnessmark::record::completion::{self, Record, RecordFault};

use crate::support::generate::{each_kind, entry};
use crate::support::small_shop::{Bench, STORY};

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
        (&records, record, "\"semantics\":1", "\"semantics\":null"),
    ] {
        assert!(holds(schema, &with(text, from, to)).is_err(), "{from} -> {to}");
    }
}

/// Which version a reader takes: its own, and no other while there is none before it.
#[test]
fn re3_each_reader_takes_its_own_version_and_says_why_it_takes_no_other() {
    let line = journal::encode(&each_kind()[0], Sha256::ZERO);
    let folder = Bench::new().released(STORY);
    let record = String::from_utf8(folder.files["record.json"].clone()).unwrap();
    assert_eq!((journal::FORMAT, completion::FORMAT), ("1.0", "1.0"));
    assert!(journal::decode(&line).is_ok() && Record::parse(record.as_bytes()).is_ok());
    for (version, is_newer) in [
        ("1.1", true),
        ("1.10", true),
        ("2.0", true),
        ("10.0", true),
        ("0.9", false),
        ("1", false),
        ("01.0", false),
        ("1.0.0", false),
        ("", false),
    ] {
        let written = |text: &str| {
            text.replacen("\"format\":\"1.0\"", &format!("\"format\":\"{version}\""), 1)
        };
        let fault = journal::decode(&written(&line)).unwrap_err();
        assert_eq!(matches!(fault, LineFault::Newer { .. }), is_newer, "{version}: {fault}");
        assert_eq!(matches!(fault, LineFault::NoFormat { .. }), !is_newer, "{version}: {fault}");
        let fault = Record::parse(written(&record).as_bytes()).unwrap_err();
        assert!(matches!(fault, RecordFault::OtherFormat(_)), "{version}: {fault}");
    }
    // A form that is not canonical is refused whatever its version.
    assert!(canonical::parse(&line.replacen(",\"n\"", ", \"n\"", 1)).is_err());
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
