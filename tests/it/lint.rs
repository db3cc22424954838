//! Wording and habits: each rule at its line in a file that has it, and nowhere in one that is right.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use witnessmark::diag::{Code, Diagnostic, has_errors, render, sarif};
use witnessmark::language::{FileKind, kind_of};
use witnessmark::source::{FileId, Source, Sources};
use witnessmark::{equipment, lint, procedure, yaml};

const FIXTURES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/lint");

/// Everything that `check` says of one procedure or equipment file.
fn said(source: &Source) -> Vec<Diagnostic> {
    let file = FileId(0);
    let (node, found) = yaml::parse(file, source);
    let Some(node) = node else { return found };
    let kind = kind_of(&node).unwrap();
    let mut found = match kind {
        FileKind::Equipment => equipment::read(file, source).1,
        _ => procedure::read(file, source).1,
    };
    found.extend(lint::check(kind, file, source, &node, !has_errors(&found)));
    lint::allow(found, file, source, Some(&node))
}

fn rules() -> Vec<(String, PathBuf)> {
    let mut rules: Vec<_> = std::fs::read_dir(FIXTURES)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), path))
        .collect();
    rules.sort();
    rules
}

fn source(path: &Path) -> Source {
    let name = format!(
        "{}/{}",
        path.parent().unwrap().file_name().unwrap().to_str().unwrap(),
        path.file_name().unwrap().to_str().unwrap()
    );
    Source::new(name, std::fs::read_to_string(path).unwrap())
}

fn by_line(source: &Source, found: &[Diagnostic]) -> BTreeMap<usize, Vec<String>> {
    let mut lines: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    for fault in found {
        let line = source.line_col(fault.primary.span.start).line;
        lines.entry(line).or_default().push(fault.code.number().to_owned());
    }
    for codes in lines.values_mut() {
        codes.sort();
    }
    lines
}

fn expected(text: &str) -> BTreeMap<usize, Vec<String>> {
    let marked = text.lines().enumerate().filter_map(|(i, line)| {
        let codes = line.split_once("#~ ")?.1;
        Some((i + 1, codes.split(' ').map(str::to_owned).collect()))
    });
    marked.collect()
}

#[test]
fn every_rule_is_said_at_its_line_and_nothing_else_is() {
    let mut wrong = Vec::new();
    for (rule, folder) in rules() {
        for file in ["bad.yaml", "good.yaml"] {
            let source = source(&folder.join(file));
            let found = said(&source);
            let (want, got) = (expected(source.text()), by_line(&source, &found));
            if want != got {
                wrong.push(format!("{rule}/{file}: want {want:?}, got {got:?}"));
            }
            assert_eq!(want.is_empty(), file == "good.yaml", "{rule}/{file}");
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_rule_of_wording_and_habit_has_its_folder() {
    let folders: Vec<String> = rules().into_iter().map(|(name, _)| name).collect();
    let of_this = |code: &&Code| code.number() >= "WM700" || code.number() == "WM107";
    let mut wanted: Vec<String> =
        Code::ALL.iter().filter(of_this).map(|code| code.name().replace('-', "_")).collect();
    wanted.sort();
    assert_eq!(folders, wanted);
}

#[test]
fn the_message_of_each_rule_reads_well() {
    let mut shown = String::new();
    for (_, folder) in rules() {
        let source = source(&folder.join("bad.yaml"));
        let found = said(&source);
        let mut sources = Sources::default();
        sources.add(source);
        shown.push_str(&render::terminal(&found, &sources, false));
        shown.push('\n');
    }
    insta::assert_snapshot!("messages", shown);
}

/// The codes that a procedure gives whose steps are those of `steps`.
fn codes(steps: &str) -> Vec<String> {
    let head = std::fs::read_to_string(format!("{FIXTURES}/long_text/good.yaml")).unwrap();
    let (head, _) = head.split_once("steps:\n").unwrap();
    let source = Source::new("p.yaml", format!("{head}steps:\n{steps}"));
    said(&source).iter().map(|fault| fault.code.number().to_owned()).collect()
}

fn instruction(text: &str) -> Vec<String> {
    codes(&format!("  - id: a\n    do: {text}\n"))
}

#[test]
fn ll1_a_sentence_has_at_most_twenty_words() {
    let twenty = format!("Lift{}.", " it".repeat(19));
    assert!(instruction(&twenty).is_empty());
    assert_eq!(instruction(&format!("Lift{}.", " it".repeat(20))), ["WM701"]);
}

#[test]
fn ll2_one_command_a_sentence_and_it_comes_first() {
    assert_eq!(instruction("Remove the cover and clean it."), ["WM704"]);
    assert!(instruction("While holding A, turn B.").is_empty());
    assert_eq!(instruction("The nut should be tightened."), ["WM705"]);
}

#[test]
fn ll3_one_name_and_no_vague_word() {
    assert_eq!(instruction("Turn it as required."), ["WM706"]);
    assert_eq!(instruction("Make it tight."), ["WM706"]);
    assert_eq!(instruction("Lay the spanner beside the wrench."), ["WM707"]);
}

#[test]
fn ll4_the_range_is_offered() {
    let text = std::fs::read_to_string(format!("{FIXTURES}/nominal_and_tolerance/bad.yaml"));
    let source = Source::new("p", text.unwrap());
    let found = said(&source);
    assert_eq!(found[0].help.as_deref(), Some("write `192 to 208 N·m`"));
    let edit = found[0].fix.clone().unwrap();
    assert_eq!(source.slice(edit.span), "200 ± 4 % N·m");
}

#[test]
fn st1_caution_is_about_people_and_st4_notes_give_no_order() {
    let caution = "  - id: a\n    caution: {hazard: Hard tools, consequence: Scratched plate., \
                   avoid: Keep steel away.}\n    do: Lift it.\n";
    assert_eq!(codes(caution), ["WM715"]);
    assert_eq!(codes("  - id: a\n    do: Lift it.\n    why: Remove the dowels.\n"), ["WM711"]);
    assert_eq!(codes("  - id: a\n    do: Lift it.\n    why: It is a hazard.\n"), ["WM712"]);
}

#[test]
fn st3_each_of_hazard_consequence_and_avoidance_is_due() {
    let parts = ["hazard: Hot oil", "consequence: Burnt skin.", "avoid: Keep away."];
    for i in 0..3 {
        let kept: Vec<_> = (0..3).filter(|j| *j != i).map(|j| parts[j]).collect();
        let text = format!("  - id: a\n    caution: {{{}}}\n    do: Lift it.\n", kept.join(", "));
        assert_eq!(codes(&text), ["WM202"], "{}", parts[i]);
    }
}

#[test]
fn pc4_a_check_only_compares_and_a_critical_step_says_what_is_seen() {
    let check = "  - id: a\n    check: Turn the shaft by hand.\n    items: [It runs free.]\n";
    assert_eq!(codes(check), ["WM716"]);
    assert_eq!(codes("  - id: a\n    do: Lift it.\n    sets: [locked]\n"), ["WM717"]);
}

#[test]
fn pc1_a_procedure_is_identified_dated_and_owned() {
    let good = std::fs::read_to_string(format!("{FIXTURES}/long_text/good.yaml")).unwrap();
    for key in ["procedure", "title", "revision", "effective", "signed_by", "equipment"] {
        let line = good.lines().find(|line| line.starts_with(&format!("{key}:"))).unwrap();
        let found = said(&Source::new(
            "p",
            good.replace(&format!("{line}\n"), "").replacen(
                "format:",
                if key == "procedure" { "steps_of: x\nformat:" } else { "format:" },
                1,
            ),
        ));
        assert!(has_errors(&found), "{key}");
    }
    let without = good.replace(", by: m.dube", "");
    assert!(said(&Source::new("p", without)).iter().any(|f| f.code == Code::MissingKey));
}

fn measure(limit: &str, exits: &str) -> Vec<String> {
    codes(&format!(
        "  - id: a\n    measure: Gap\n    with: lamp\n    unit: in\n    limit: {limit}\n    {exits}\n"
    ))
}

#[test]
fn fb3_every_outcome_has_an_exit() {
    let could_not = "could_not_measure: {verdict: refer}\n    basis: Drawing 4";
    let hole = measure("{at_most: 0.30 in}", could_not);
    assert!(hole.contains(&"WM501".to_owned()), "{hole:?}");
    let none = measure("{at_most: 0.30 in}", "above: {verdict: refer}\n    basis: Drawing 4");
    assert!(none.contains(&"WM202".to_owned()), "{none:?}");
}

#[test]
fn au5_a_limit_without_a_basis_is_told() {
    let found = measure(
        "{at_most: 0.30 in}",
        "above: {verdict: refer}\n    could_not_measure: {verdict: refer}",
    );
    assert!(found.contains(&"WM718".to_owned()), "{found:?}");
}

#[test]
fn fb5_a_repeat_has_a_bound_and_fb1_mixed_words_have_brackets() {
    let section = |repeat: &str| {
        codes(&format!(
            "  - id: s\n    section: S\n    repeat: {repeat}\n    steps:\n      - id: a\n        \
             do: Lift it.\n"
        ))
    };
    let otherwise = "otherwise: {refer: mechanic, say: Not so.}";
    assert_eq!(section(&format!("{{until: true, {otherwise}}}")), ["WM202"]);
    assert_eq!(section(&format!("{{at_most: 2, {otherwise}}}")), ["WM202"]);
    let mixed = "  - id: a\n    when: true or false and true\n    do: Lift it.\n";
    assert_eq!(codes(mixed), ["WM404"]);
}

#[test]
fn au6_retyped_texts_and_repeated_keys_are_told_with_their_mend() {
    let text = "format: \"1.0\"\nequipment: e\ntitle: no\nrevision: 1\neffective: 2026-01-05\n\
                revisions: [{revision: 1, date: 2026-01-05, by: m.dube, why: First}]\ntitle: b\n";
    let codes: Vec<_> =
        said(&Source::new("e", text)).iter().map(|fault| fault.code.number()).collect();
    assert!(codes.contains(&"WM209") && codes.contains(&"WM102"), "{codes:?}");
}

#[test]
fn me1_a_unit_with_something_tacked_on_is_refused() {
    let step = "  - id: a\n    enter: Enter the pressure.\n    kind: figure\n    unit: psig\n";
    assert_eq!(codes(step), ["WM301"]);
}

#[test]
fn sarif_is_what_the_standard_allows() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/sarif_as_written.schema.json");
    let schema = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let schema = jsonschema::validator_for(&schema).unwrap();
    for (rule, folder) in rules() {
        let source = source(&folder.join("bad.yaml"));
        let found = said(&source);
        let mut sources = Sources::default();
        sources.add(source);
        let log = serde_json::from_str(&sarif::sarif(&found, &sources)).unwrap();
        let faults: Vec<_> = schema.iter_errors(&log).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{rule}: {faults:?}");
    }
}
