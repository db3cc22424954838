//! Conditions, the flow of steps and files together: each rule at its line in files that have its
//! mistake, nothing in those that do not, through the program itself.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use witnessmark::diag::Code;

const FIXTURES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures");

/// The rules with a folder of their own below `of`, by name.
fn folders(of: &str) -> Vec<(String, PathBuf)> {
    let listed = std::fs::read_dir(Path::new(FIXTURES).join(of)).unwrap();
    let mut folders: Vec<_> = listed
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), path))
        .collect();
    folders.sort();
    folders
}

/// The files of a fixture: those whose names begin with `bad` or with `good`.
fn files(folder: &Path, which: &str) -> Vec<String> {
    let listed = std::fs::read_dir(folder).unwrap();
    let names = listed.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.filter(|name| name.starts_with(which)).collect();
    names.sort();
    names
}

/// What `check` prints of a fixture, and its exit status.
fn check(folder: &Path, which: &str, format: &str) -> (String, Option<i32>) {
    let out = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
        .current_dir(folder)
        .args(["check", "--strict", "--format", format])
        .args(files(folder, which))
        .arg("../equipment.yaml")
        .output()
        .unwrap();
    (String::from_utf8(out.stdout).unwrap(), out.status.code())
}

/// Codes by file and line.
type Said = BTreeMap<(String, usize), Vec<String>>;

fn expected(folder: &Path, which: &str) -> Said {
    let mut said = Said::new();
    for name in files(folder, which) {
        let text = std::fs::read_to_string(folder.join(&name)).unwrap();
        for (i, line) in text.lines().enumerate() {
            if let Some((_, codes)) = line.split_once("#~ ") {
                let codes = codes.split(' ').map(str::to_owned).collect();
                said.insert((name.clone(), i + 1), codes);
            }
        }
    }
    said
}

fn said(short: &str) -> Said {
    let mut said = Said::new();
    for line in short.lines() {
        let mut parts = line.splitn(4, ':');
        let (file, number) = (parts.next().unwrap(), parts.next().unwrap());
        let (_, code) = line.split_once('[').unwrap();
        let (code, _) = code.split_once(']').unwrap();
        let place = (file.to_owned(), number.parse().unwrap());
        said.entry(place).or_default().push(code.to_owned());
    }
    said
}

#[test]
fn every_rule_of_the_flow_is_said_at_its_line_and_nothing_else_is() {
    let mut wrong = Vec::new();
    for (rule, folder) in folders("flow") {
        for which in ["bad", "good"] {
            let (printed, status) = check(&folder, which, "short");
            let (want, got) = (expected(&folder, which), said(&printed));
            if want != got || (status == Some(0)) != want.is_empty() {
                wrong.push(format!("{rule}/{which}: want {want:?}, got {status:?} {printed}"));
            }
            assert_eq!(want.is_empty(), which == "good", "{rule}/{which}");
        }
        let own = Code::parse(&rule.replace('_', "-")).unwrap();
        let codes: Vec<String> = expected(&folder, "bad").into_values().flatten().collect();
        assert!(codes.iter().all(|code| code == own.number()), "{rule}: {codes:?}");
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_message_of_each_rule_of_the_flow_reads_well() {
    let mut shown = String::new();
    for (_, folder) in folders("flow") {
        shown.push_str(&check(&folder, "bad", "terminal").0);
        shown.push('\n');
    }
    insta::assert_snapshot!("flow_messages", shown);
}

/// One registry: no rule without a text, a file that has its mistake and one that does not.
#[test]
fn every_rule_has_a_code_a_text_a_bad_fixture_and_a_good_one() {
    let with_folder: Vec<String> =
        ["flow", "lint"].into_iter().flat_map(folders).map(|(name, _)| name).collect();
    let read = |folder: &str| {
        let path = Path::new(FIXTURES).join("language").join(folder);
        let listed = std::fs::read_dir(path).unwrap();
        listed
            .map(|file| std::fs::read_to_string(file.unwrap().path()).unwrap())
            .collect::<Vec<_>>()
    };
    let (bad, good) = (read("bad"), read("good"));
    for code in Code::ALL {
        assert!(!code.explanation().is_empty() && code.number().len() == 5);
        if with_folder.contains(&code.name().replace('-', "_")) {
            continue;
        }
        // The readers' own rules: many to a file, and whole files that are right.
        assert!(code.number() < "WM400", "{code} has no folder of its own");
        let marks = |text: &String| {
            text.lines().any(|line| {
                line.split_once("#~ ").is_some_and(|(_, codes)| {
                    codes.split(' ').any(|marked| marked == code.number())
                })
            })
        };
        assert!(bad.iter().chain(&good).any(marks), "{code} has no bad fixture");
        assert!(good.iter().any(|text| !marks(text)), "{code} has no good fixture");
    }
}

/// O13 (d): a step that may not apply, and one behind it that branches on it all the same.
#[test]
fn o13_a_branch_on_a_step_that_may_not_apply_is_told_at_the_branch_with_both_steps() {
    let folder = Path::new(FIXTURES).join("flow/not_yet_answered");
    let (json, status) = check(&folder, "bad", "json");
    assert_eq!(status, Some(1));
    let told: serde_json::Value = serde_json::from_str(&json).unwrap();
    let faults = told["diagnostics"].as_array().or(told.as_array()).unwrap();
    let [fault] = faults.as_slice() else { panic!("{json}") };
    let text = std::fs::read_to_string(folder.join("bad.yaml")).unwrap();
    let line = |words: &str| 1 + text.lines().position(|line| line.contains(words)).unwrap() as u64;
    assert_eq!(fault["line"], line("when: seat == torn"), "{json}");
    assert!(fault["headline"].as_str().unwrap().contains("`seat` is not answered"), "{json}");
    assert_eq!(fault["related"][0]["line"], line("- id: seat"), "{json}");
}
