//! Which part lies where: asked of all jobs of a shop, and held against their records one by one.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
        .args(arguments)
        .env_clear()
        .env("TZ", "UTC")
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// A shop with two released jobs and an open one.
fn shop(dir: &Path) -> String {
    let shop = dir.join("shop").to_str().unwrap().to_owned();
    let (status, _, said) = run(&["demo", "--play", "--shop", &shop]);
    assert_eq!(status, 0, "{said}");
    let script = format!("{shop}/procedures/rehearsals/nothing_wrong.yaml");
    let (status, _, said) = run(&["demo", "--script", &script, "--shop", &shop]);
    assert_eq!(status, 0, "{said}");
    // Opened, and left at its first question.
    let open = ["open", "fluid_end_service", "--machine", "P-101B", "--plain", "--shop", &shop];
    assert_eq!(run(&open).0, 6);
    shop
}

/// What the records of the shop say, one by one: job, serial, part.
fn of_records(shop: &str, is_wanted: impl Fn(&Value, &Value) -> bool) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for job in std::fs::read_dir(Path::new(shop).join("jobs")).unwrap() {
        let path = job.unwrap().path().join("record.json");
        let Ok(text) = std::fs::read_to_string(path) else { continue };
        let record: Value = serde_json::from_str(&text).unwrap();
        for part in record["fitted"].as_array().into_iter().flatten() {
            if is_wanted(&record["machine"], part) {
                found.insert(format!("{} {} {}", record["job"], part["n"], part["part"]));
            }
        }
    }
    found
}

fn of_answer(json: &str) -> BTreeSet<String> {
    let answer: Value = serde_json::from_str(json).unwrap();
    let parts = answer["parts"].as_array().unwrap();
    parts.iter().map(|p| format!("{} {} {}", p["job"], p["entry"], p["part"])).collect()
}

#[test]
fn pc6_all_jobs_are_asked_by_machine_and_position_or_by_lot() {
    let dir = tempfile::tempdir().unwrap();
    let shop = shop(dir.path());
    let ask = |more: &[&str]| {
        let mut arguments = vec!["fitted", "--shop", shop.as_str()];
        arguments.extend(more);
        run(&arguments)
    };
    // One machine, one cylinder: part, lot, step, person.
    let records = std::fs::read_dir(Path::new(&shop).join("jobs")).unwrap();
    let any = records.map(|job| job.unwrap().path().join("record.json")).find(|path| path.exists());
    let record: Value =
        serde_json::from_str(&std::fs::read_to_string(any.unwrap()).unwrap()).unwrap();
    let serial = record["machine"]["serial"].as_str().unwrap().to_owned();
    let (status, json, said) = ask(&["--machine", &serial, "--at", "cylinder=3", "--json"]);
    assert_eq!(status, 0, "{said}");
    let at_cylinder =
        |part: &Value| part["position"].as_str().unwrap().split(',').any(|one| one == "cylinder=3");
    let wanted = of_records(&shop, |machine, part| {
        machine["serial"].as_str() == Some(serial.as_str()) && at_cylinder(part)
    });
    assert!(wanted.len() > 3, "{wanted:?}");
    assert_eq!(of_answer(&json), wanted);
    let (_, table, _) = ask(&["--machine", &serial, "--at", "cylinder 3"]);
    for shown in ["POSITION", "cylinder 3, side inlet", "i.varga", "released", "rebuild/", "entry "]
    {
        assert!(table.contains(shown), "{shown}: {table}");
    }
    assert!(table.ends_with(" of 3 jobs\n"), "{table}");
    // One lot, every machine that has a part of it.
    let fitted = record["fitted"].as_array().unwrap();
    let lot = fitted.iter().find_map(|part| part["lot"].as_str()).unwrap();
    let (status, json, _) = ask(&["--lot", lot, "--json"]);
    assert_eq!(status, 0);
    let wanted = of_records(&shop, |_, part| part["lot"].as_str() == Some(lot));
    assert!(!wanted.is_empty());
    assert_eq!(of_answer(&json), wanted);
    let (status, nothing, _) = ask(&["--lot", "no such lot"]);
    assert_eq!((status, nothing.as_str()), (0, "0 parts in 0 of 3 jobs\n"));
    let (status, _, said) = ask(&[]);
    assert!(status == 2 && said.contains("--machine TAG"), "{said}");
}

#[test]
fn pc6_a_record_that_was_changed_is_listed_as_not_good() {
    let dir = tempfile::tempdir().unwrap();
    let shop = shop(dir.path());
    let jobs = std::fs::read_dir(Path::new(&shop).join("jobs")).unwrap();
    let folder =
        jobs.map(|job| job.unwrap().path()).find(|path| path.join("record.json").exists()).unwrap();
    let opened = Command::new("chmod").args(["-R", "u+w"]).arg(&folder).status().unwrap();
    assert!(opened.success());
    let path = folder.join("record.json");
    let text = std::fs::read_to_string(&path).unwrap();
    let at = text.find("\"lot\":\"").unwrap();
    let (before, after) = text.split_at(at);
    std::fs::write(&path, format!("{before}{}", after.replacen("\"lot\":\"", "\"lot\":\"X", 1)))
        .unwrap();
    let (status, table, said) = run(&["fitted", "--shop", &shop, "--part", "seat_ring"]);
    assert!(status == 4 && table.contains("NOT GOOD"), "{status} {table}");
    assert!(said.contains("1 of those listed do not verify"), "{said}");
}
