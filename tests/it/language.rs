//! The four readers against files: what is good is read, what is bad is said at its line, and the
//! published schemas agree.

#![expect(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    reason = "fixtures are read here; one that is not there is a failed test"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde_json::Value;
use witnessmark::diag::{Diagnostic, has_errors};
use witnessmark::language::{self, FileKind};
use witnessmark::source::{FileId, Source};
use witnessmark::yaml;
use witnessmark::{equipment, procedure, rehearsal, shop};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The fixtures of a folder, in the order of their names.
fn fixtures(folder: &str) -> Vec<(String, String)> {
    let folder = root().join("tests/fixtures/language").join(folder);
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> = entries.collect();
    paths.sort();
    let name = |path: &Path| path.file_stem().unwrap().to_str().unwrap().to_owned();
    paths.iter().map(|path| (name(path), std::fs::read_to_string(path).unwrap())).collect()
}

/// The kind of a fixture, told by the start of its name.
fn kind(name: &str) -> FileKind {
    FileKind::ALL.into_iter().find(|kind| name.starts_with(kind.word())).unwrap()
}

/// Reads `text`; true when a model came of it.
fn read(kind: FileKind, source: &Source) -> (bool, Vec<Diagnostic>) {
    fn there<T>((model, found): (Option<T>, Vec<Diagnostic>)) -> (bool, Vec<Diagnostic>) {
        (model.is_some(), found)
    }
    let file = FileId(0);
    match kind {
        FileKind::Procedure => there(procedure::read(file, source)),
        FileKind::Equipment => there(equipment::read(file, source)),
        FileKind::Rehearsal => there(rehearsal::read(file, source)),
        FileKind::Shop => there(shop::read(file, source)),
    }
}

/// Codes by line, sorted.
type ByLine = BTreeMap<usize, Vec<String>>;

fn expected(text: &str) -> ByLine {
    let mut lines = ByLine::new();
    for (i, line) in text.lines().enumerate() {
        if let Some((_, codes)) = line.split_once("#~ ") {
            let mut codes: Vec<String> = codes.split(' ').map(str::to_owned).collect();
            codes.sort();
            lines.insert(i + 1, codes);
        }
    }
    lines
}

fn reported(source: &Source, found: &[Diagnostic]) -> ByLine {
    let mut lines = ByLine::new();
    for fault in found {
        let line = source.line_col(fault.primary.span.start).line;
        lines.entry(line).or_default().push(fault.code.number().to_owned());
    }
    for codes in lines.values_mut() {
        codes.sort();
    }
    lines
}

fn told(source: &Source, found: &[Diagnostic]) -> String {
    let line = |fault: &Diagnostic| {
        let place = source.line_col(fault.primary.span.start);
        let help = fault.help.as_deref().unwrap_or("-");
        let (line, column, code) = (place.line, place.column, fault.code.number());
        format!("  {line}:{column} {code} {} ({help})\n", fault.headline)
    };
    found.iter().map(line).collect()
}

#[test]
fn every_message_stands_at_its_line_and_no_other_is_given() {
    let mut wrong = Vec::new();
    for folder in ["good", "bad"] {
        for (name, text) in fixtures(folder) {
            let source = Source::new(name.as_str(), text.as_str());
            let (model, found) = read(kind(&name), &source);
            let (want, got) = (expected(&text), reported(&source, &found));
            if want != got || model != (folder == "good") {
                let lines =
                    want.keys().chain(got.keys()).collect::<std::collections::BTreeSet<_>>();
                let differ: Vec<_> = lines
                    .into_iter()
                    .filter(|line| want.get(line) != got.get(line))
                    .map(|line| {
                        format!("  line {line}: want {:?}, got {:?}", want.get(line), got.get(line))
                    })
                    .collect();
                wrong.push(format!(
                    "{folder}/{name}:\n{}\n{}",
                    differ.join("\n"),
                    told(&source, &found)
                ));
            }
            assert_eq!(model, !has_errors(&found), "{name}");
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join(""));
}

#[test]
fn every_code_of_the_readers_has_a_fixture() {
    let all: String = fixtures("bad").into_iter().chain(fixtures("good")).map(|(_, t)| t).collect();
    for code in [
        "WM101", "WM102", "WM103", "WM104", "WM105", "WM106", "WM201", "WM202", "WM203", "WM204",
        "WM205", "WM206", "WM207", "WM208", "WM209", "WM210", "WM301", "WM302", "WM303", "WM304",
        "WM401", "WM404", "WM501", "WM502",
    ] {
        assert!(all.contains(&format!("#~ {code}")) || all.contains(&format!(" {code}")), "{code}");
    }
}

fn committed(kind: FileKind) -> PathBuf {
    root().join(format!("schemas/{}.schema.json", kind.word()))
}

#[test]
fn the_committed_schemas_are_the_generated_ones() {
    for kind in FileKind::ALL {
        let path = committed(kind);
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(
            text == language::schema(kind),
            "{} is out of date: run `witnessmark generate schemas`",
            path.display()
        );
    }
}

fn validator(kind: FileKind) -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(&language::schema(kind)).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

fn json(source: &Source) -> Option<Value> {
    yaml::parse(FileId(0), source).0.map(|node| yaml::to_json(&node))
}

/// What is accepted is valid; so what is not valid is refused.
fn agree(name: &str, source: &Source, schema: &jsonschema::Validator) {
    let (accepted, found) = read(kind(name), source);
    if let (true, Some(value)) = (accepted, json(source)) {
        let faults: Vec<_> = schema.iter_errors(&value).map(|e| e.to_string()).collect();
        assert!(
            faults.is_empty(),
            "{name} is accepted and not valid: {faults:?}\n{}",
            source.text()
        );
    }
    for fault in found {
        let end = fault.primary.span.end;
        assert!(source.text().is_char_boundary(end), "{name}: {fault:?}");
    }
}

#[test]
fn every_accepted_file_is_valid_and_every_invalid_file_is_refused() {
    let schemas: BTreeMap<FileKind, _> = FileKind::ALL.map(|k| (k, validator(k))).into();
    for (name, text) in fixtures("good").into_iter().chain(fixtures("bad")) {
        agree(&name, &Source::new(name.as_str(), text), &schemas[&kind(&name)]);
    }
    // A schema that lets everything through would pass the above.
    for (name, text) in fixtures("bad") {
        let shape = ["unknown", "missing", "values", "one_action", "reserved", "faults"];
        if shape.iter().any(|part| name.contains(part)) && !name.contains("no_note") {
            let value = json(&Source::new(name.as_str(), text)).unwrap();
            assert!(!schemas[&kind(&name)].is_valid(&value), "{name}");
        }
    }
}

#[test]
fn a_deleted_line_or_a_misspelt_key_never_panics_and_is_refused_where_the_schema_refuses() {
    let schemas: BTreeMap<FileKind, _> = FileKind::ALL.map(|k| (k, validator(k))).into();
    for (name, text) in fixtures("good").into_iter().chain(fixtures("bad")) {
        let schema = &schemas[&kind(&name)];
        let lines: Vec<&str> = text.lines().collect();
        for i in 0..lines.len() {
            let kept: Vec<&str> =
                lines.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, l)| *l).collect();
            agree(&name, &Source::new(name.as_str(), kept.join("\n")), schema);
            for (at, _) in lines[i].match_indices(": ") {
                let mut misspelt: Vec<String> = lines.iter().map(|&l| l.to_owned()).collect();
                misspelt[i].insert(at, 'x');
                agree(&name, &Source::new(name.as_str(), misspelt.join("\n")), schema);
            }
        }
    }
}

#[test]
fn a_file_of_another_kind_is_called_by_its_name() {
    let (_, text) = fixtures("good").into_iter().find(|(n, _)| n == "equipment_full").unwrap();
    let source = Source::new("e", text);
    let (model, found) = procedure::read(FileId(0), &source);
    assert!(model.is_none());
    assert_eq!(told(&source, &found).lines().count(), 1);
    assert_eq!(found[0].headline, "this is an equipment file, not a procedure file");
}

/// O01: part numbers, revisions, yes and no, and times keep their spelling.
#[test]
fn o01_texts_that_look_like_other_things_keep_their_spelling() {
    let (_, text) = fixtures("good").into_iter().find(|(n, _)| n == "equipment_minimal").unwrap();
    for spelling in ["0510210600", "1.10", "NO", "12:30", "1E5"] {
        let text = format!("{text}parts:\n  seal: {{title: Seal, number: {spelling}}}\n");
        let source = Source::new("e", text);
        let (model, found) = equipment::read(FileId(0), &source);
        let part = model.unwrap().parts.into_values().next().unwrap();
        assert_eq!(part.number.as_deref(), Some(spelling));
        let [warning] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!(warning.code.number(), "WM209");
        assert_eq!(source.slice(warning.primary.span), spelling);
        assert_eq!(warning.help, Some(format!("write \"{spelling}\"")));
    }
}

/// O02: characters outside ASCII shift no place.
#[test]
fn o02_places_count_characters_after_text_outside_ascii() {
    let cases = [
        (
            "# prüf – 5 µm\nnote: |\n  “clean” the face – 20 °C\nlimit: {max: abc, unit: mm}\n",
            4,
            14,
        ),
        ("limit: {note: \"µm – é\", max: abc}", 1, 30),
        ("limit: {note: \"軸受 e\u{301}\", max: abc}", 1, 29),
    ];
    for (text, line, column) in cases {
        let source = Source::new("t", text);
        let node = yaml::parse(FileId(0), &source).0.unwrap();
        let span = node.get("limit").unwrap().get("max").unwrap().span;
        assert_eq!(source.slice(span), "abc");
        let place = source.line_col(span.start);
        assert_eq!((place.line, place.column), (line, column), "{text}");
    }
    let (_, text) = fixtures("good").into_iter().find(|(n, _)| n == "equipment_minimal").unwrap();
    let text =
        format!("# prüf – 5 µm\n{text}limits: {{f: {{g: {{basis: \"µm – é\", at_most: abc}}}}}}\n");
    let source = Source::new("e", text);
    let (_, found) = equipment::read(FileId(0), &source);
    assert_eq!(source.slice(found[0].primary.span), "abc");
    assert_eq!(source.line_col(found[0].primary.span.start).column, 44);
}

/// O03: nothing of a file goes unread without a word, and nothing false follows from it.
#[test]
fn o03_a_second_document_or_a_merge_key_is_refused_at_its_place_and_alone() {
    let good = fixtures("good").into_iter().find(|(n, _)| n == "procedure_full").unwrap().1;
    let text = format!("{good}---\nformat: \"1.0\"\nsteps: [{{unit: furlong}}]\n");
    let source = Source::new("p", text);
    let (model, found) = procedure::read(FileId(0), &source);
    assert!(model.is_none());
    let [fault] = found.as_slice() else { panic!("{}", told(&source, &found)) };
    assert_eq!(fault.code.number(), "WM103");
    assert_eq!(source.slice(fault.primary.span), "---");
    assert_eq!(source.line_col(fault.primary.span.start).line, good.lines().count() + 1);

    let text = good.replace("limit: {at_least: 44.6 mm}", "limit: {<<: *b, at_least: 44.6 mm}");
    let source = Source::new("p", text);
    let (_, found) = procedure::read(FileId(0), &source);
    let [fault] = found.as_slice() else { panic!("{}", told(&source, &found)) };
    assert_eq!(fault.code.number(), "WM104");
    assert_eq!(source.slice(fault.primary.span), "<<");
}

/// O06: text that would act on the terminal is told with its code point, at its place.
#[test]
fn o06_characters_that_act_on_a_terminal_are_told_with_their_code_point_and_place() {
    let good = fixtures("good").into_iter().find(|(n, _)| n == "procedure_full").unwrap().1;
    let title = good.lines().find(|line| line.starts_with("title: ")).unwrap();
    for (written, code_point) in [
        ("\"Seal\\a\\e]52;c;cm0gLXJmIH4=\\a change\"", "7"),
        ("Seal \u{202e}LIAF", "202e"),
        ("Seal \u{9d}0;x\u{9c}", "9d"),
        ("\"Seal \\r change\"", "d"),
        ("Seal \u{2066}x", "2066"),
    ] {
        let source = Source::new("p", good.replace(title, &format!("title: {written}")));
        let found = procedure::read(FileId(0), &source).1;
        let at = |fault: &&Diagnostic| {
            source.slice(fault.primary.span).contains("Seal")
                || written.contains(source.slice(fault.primary.span))
        };
        let fault = found.iter().find(at).unwrap_or_else(|| panic!("{written:?}: {found:?}"));
        let told = format!("{} {:?}", fault.headline, fault.help).to_lowercase();
        assert!(told.contains(code_point), "{written:?}: {told}");
        let line = source.line_col(fault.primary.span.start).line;
        assert_eq!(line, good.lines().position(|line| line == title).unwrap() + 1, "{written:?}");
    }
}
