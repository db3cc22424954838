//! The first page of a report: what an owner reads before everything else, in each of the forms.

use witnessmark::record::FolderBytes;
use witnessmark::record::report::exports::Exports;
use witnessmark::walk::{Address, Answer};

use crate::support::small_shop::{Bench, answer, dispose, person, read, signer};

const STEPS: &str = r#"
  - id: springs
    section: Springs
    each: cylinder
    steps:
      - id: found
        measure: Measure the free length.
        with: caliper
        unit: mm
        limit: spring.free_length
        as: found
        below: {verdict: replace, parts: [spring], say: Renew the spring.}
        could_not_measure: {verdict: refer}
  - id: rubber
    measure: Measure the old spring of the neighbour.
    with: caliper
    unit: mm
    limit: spring.free_length
    below: {verdict: accept, say: Worn with its age.}
    could_not_measure: {verdict: refer}
  - id: cause
    enter: Enter the cause.
    headline: {under: cause, label: First cause}
    kind: choice
    choices: {grit: "Hard particles, from the *strainer*", age: Its age}
  - id: strainer
    look: Look at the strainer.
    headline: {under: cause, label: The strainer}
    findings:
      torn: {see: "Torn, or not seated", verdict: accept}
      clean: {see: Clean, verdict: accept}
  - id: change
    enter: Enter what to change.
    headline: {under: change, label: On site}
  - id: next
    enter: Enter the hours to the next service.
    headline: {under: next_service, label: Opened next after}
    kind: figure
    unit: h
    plausible: {from: "1 h", to: "9000 h"}
  - id: ready
    hold: The pump may go back.
    by: mechanic
"#;

fn released() -> FolderBytes {
    let bench = Bench::with_steps(STEPS);
    let mut session =
        bench.shop.new_job(&"small".parse().unwrap(), "P-1").unwrap_or_else(|e| panic!("{e}"));
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    for (at, length) in [
        ("springs[cylinder=1]/found", "43.90"),
        ("springs[cylinder=2]/found", "45.1"),
        ("rubber", "44.00"),
    ] {
        let read = read(&session, length, "C-03");
        answer(&mut session, at, read);
    }
    answer(&mut session, "cause", Answer::Entered("grit".to_owned()));
    answer(&mut session, "strainer", Answer::Found(vec!["torn".parse().unwrap()]));
    answer(&mut session, "change", Answer::Entered("A finer basket, seated all round".to_owned()));
    let hours = witnessmark::units::Reading::parse("4000", witnessmark::units::Unit::Hour).unwrap();
    answer(&mut session, "next", Answer::EnteredFigure(hours));
    session.sign_performed(&person("i.varga"), &signer("i.varga")).unwrap();
    let ready = Address::parse("ready").unwrap();
    session.release_hold(&ready, &person("t.reiter"), &signer("t.reiter")).unwrap();
    dispose(&mut session, "t.reiter");
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    bench.release(&mut session)
}

/// What stands before the rest in a form of the report.
fn first<'a>(form: &'a str, rest: &str) -> &'a str {
    form.split_once(rest).unwrap_or_else(|| panic!("no `{rest}` in\n{form}")).0
}

#[test]
fn re1_the_first_page_tells_cause_figures_parts_and_signatures_in_every_form() {
    let folder = released();
    let exports = Exports::of(&folder.files["record.json"]).unwrap();
    let text = exports.text();
    let text = first(&text, "Signatures\n");
    let told = text.split_once("\n\n").unwrap().1;
    insta::assert_snapshot!("text", told);
    let markdown = exports.markdown();
    let markdown = first(&markdown, "## Signatures").split_once("\n\n").unwrap().1;
    let markdown = markdown.split_once("## ").unwrap().1;
    insta::assert_snapshot!("markdown", markdown);
    let page = std::str::from_utf8(&folder.files["report.html"]).unwrap();
    let page = first(page, "In figures");
    for words in [
        "Completed and released",
        "Why it failed",
        "Hard particles, from the *strainer*",
        "Torn, or not seated",
        "A finer basket, seated all round",
        "<dt>Opened next after</dt>",
        "4000 h",
        "2 of 3 figures",
        "43.90\u{a0}mm",
        "↓ below",
        "part renewed, lot L-77",
        "<strong>Valve spring</strong>",
        "released 1 hold point",
        "released the job as mechanic",
        "sha256sum -c SHA256SUMS",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("45.1"), "a good reading stands on the first page");
}

/// O01: what is typed or written like a number, a word or a time stays as it was spelt, in the record and
/// in every form of the report.
#[test]
fn o01_spellings_last_from_the_entry_to_every_report() {
    let spellings = ["0510210600", "1.10", "NO", "12:30", "1E5", "2.50"];
    let step = |i: usize| format!("  - id: mark_{i}\n    enter: Enter the mark.\n    kind: text\n");
    let steps: String = (0..spellings.len()).map(step).collect();
    let bench = Bench::with_steps(&steps);
    let mut session =
        bench.shop.new_job(&"small".parse().unwrap(), "P-1").unwrap_or_else(|e| panic!("{e}"));
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    for (i, spelling) in spellings.iter().enumerate() {
        answer(&mut session, &format!("mark_{i}"), Answer::Entered((*spelling).to_owned()));
    }
    session.sign_performed(&person("i.varga"), &signer("i.varga")).unwrap();
    dispose(&mut session, "t.reiter");
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    let folder = bench.release(&mut session);
    let record = &folder.files["record.json"];
    let exports = Exports::of(record).unwrap();
    let (csv, json, page) = (exports.csv(), exports.json(), &folder.files["report.html"]);
    for spelling in spellings {
        let quoted = format!("\"{spelling}\"");
        assert!(std::str::from_utf8(record).unwrap().contains(&quoted), "{spelling}");
        assert!(json.contains(&quoted), "{spelling}");
        let cell = |cell: &str| cell.trim_matches('"') == spelling;
        assert!(csv.lines().any(|line| line.split(',').any(cell)), "{spelling}:\n{csv}");
        let (text, markdown) = (exports.text(), exports.markdown());
        assert!(text.contains(spelling), "{spelling}:\n{text}");
        assert!(
            markdown.replace('\\', "").replace("&#58;", ":").contains(spelling),
            "{spelling}:\n{markdown}"
        );
        assert!(std::str::from_utf8(page).unwrap().contains(spelling), "{spelling}");
    }
    for changed in ["86053248", "\"510210600\"", "\"2.5\"", "100000"] {
        assert!(!std::str::from_utf8(record).unwrap().contains(changed), "{changed}");
    }
}
