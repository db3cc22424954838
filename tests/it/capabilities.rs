//! The table of DEVELOPERS.md that says by what each capability is shown: it is whole, and every test
//! that it names is there.

use std::collections::BTreeSet;
use std::path::Path;

/// The groups of capabilities, in their order, with how many each has.
const GROUPS: [(&str, u32); 13] = [
    ("PC", 6),
    ("ST", 7),
    ("FB", 10),
    ("PK", 5),
    ("ME", 9),
    ("IN", 4),
    ("CA", 5),
    ("SG", 9),
    ("RE", 6),
    ("AU", 8),
    ("LL", 4),
    ("AC", 4),
    ("FL", 4),
];

/// What is said of a capability that nothing shows.
const NOT_YET: &str = "not yet";

/// A row: the id and what shows it.
struct Row {
    id: String,
    shown_by: String,
}

fn rows(page: &str) -> Vec<Row> {
    let (_, table) = page.split_once("## What is shown, and by what").unwrap();
    let table = table.split_once("\n## ").unwrap().0;
    let cells = table.lines().filter(|line| line.starts_with('|')).skip(2);
    cells
        .map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            let [_, id, name, shown_by, _] = cells[..] else { panic!("{line}: not three cells") };
            assert!(!name.is_empty(), "{id} has no name");
            Row { id: id.to_owned(), shown_by: shown_by.to_owned() }
        })
        .collect()
}

/// The `file::function` that a cell names, and what is said of it to be open.
fn named(cell: &str) -> Vec<(&str, &str)> {
    let shown = cell.split_once("; open: ").map_or(cell, |(shown, _)| shown);
    shown
        .split(", ")
        .map(|text| {
            let test = text.trim();
            let test = test.strip_prefix('`').and_then(|test| test.strip_suffix('`'));
            test.and_then(|test| test.split_once("::"))
                .unwrap_or_else(|| panic!("`{text}`: neither `file::test` nor {NOT_YET}"))
        })
        .collect()
}

/// Why there is no such test; nothing if there is.
fn fault(root: &Path, (file, function): (&str, &str)) -> Option<String> {
    let Ok(text) = std::fs::read_to_string(root.join(file)) else {
        return Some(format!("there is no {file}"));
    };
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let declared = format!("fn {function}(");
    // A test of one of the `rehearsals!` of a file stands there as `name: "/file.yaml"`.
    let listed = format!("{function}: \"/");
    let at = lines.iter().position(|line| line.starts_with(&declared));
    let is_test = at.is_some_and(|at| {
        let above = lines[..at].iter().rev();
        above.take_while(|line| line.starts_with("#[")).any(|line| *line == "#[test]")
    });
    let is_listed = lines.iter().any(|line| line.starts_with(&listed));
    (!is_test && !is_listed).then(|| format!("{file} has no test {function}"))
}

#[test]
fn every_capability_has_its_row_and_every_named_test_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let rows = rows(&page);
    let told: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let due: Vec<String> = GROUPS
        .into_iter()
        .flat_map(|(group, n)| (1..=n).map(move |i| format!("{group}{i}")))
        .collect();
    assert_eq!(told, due);
    assert_eq!(told.len(), 81);
    let mut faults = BTreeSet::new();
    for row in rows.iter().filter(|row| row.shown_by != NOT_YET) {
        for test in named(&row.shown_by) {
            faults.extend(fault(root, test).map(|why| format!("{}: {why}", row.id)));
        }
    }
    assert!(faults.is_empty(), "DEVELOPERS.md: {faults:#?}");
}

#[test]
fn a_test_that_is_not_there_or_is_none_is_told() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let file = "tests/it/capabilities.rs";
    let this = (file, "a_test_that_is_not_there_or_is_none_is_told");
    assert_eq!(fault(root, this), None);
    let listed = ("tests/it/whole_job.rs", "no_statement_no_job");
    assert_eq!(fault(root, listed), None);
    for wrong in [(file, "fault"), (file, "a_test"), ("tests/it/nowhere.rs", this.1)] {
        assert!(fault(root, wrong).is_some(), "{wrong:?}");
    }
}
