//! The reports of released demo jobs: what an owner and a releaser read on them, story by story.

use std::path::Path;
use std::process::Command;

/// The forms of one released job.
struct Told {
    page: String,
    text: String,
    markdown: String,
    _dir: tempfile::TempDir,
}

fn run(arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_witnessmark"));
    command.args(arguments).env_clear().env("LANG", "C.UTF-8").env("TZ", "UTC");
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

impl Told {
    fn of(story: &str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let shop = dir.path().join("shop");
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/rehearsals");
        let script = root.join(format!("{story}.yaml"));
        run(&["demo", "--shop", shop.to_str().unwrap(), "--script", script.to_str().unwrap()]);
        let job = shop.join("jobs/2026-0001");
        let report = |form: &str| run(&["report", job.to_str().unwrap(), "--format", form]);
        Self { page: report("html"), text: report("text"), markdown: report("markdown"), _dir: dir }
    }

    /// The first page without its tags, each white space one.
    fn first(&self) -> String {
        let body = self.page.split_once("<body>").unwrap().1;
        plain(body.split_once("<h2>In figures</h2>").unwrap().0)
    }

    /// A section behind it, likewise.
    fn section(&self, heading: &str) -> String {
        let from = self.page.split_once(&format!("<h2>{heading}</h2>")).unwrap().1;
        plain(from.split_once("<h2>").unwrap().0)
    }

    /// Everything in front of the annex.
    fn before_annex(&self) -> &str {
        self.page.split_once("<h2>Annex").unwrap().0
    }
}

fn plain(html: &str) -> String {
    let mut text = String::new();
    for part in html.split('<') {
        text.push(' ');
        // A picture's title says for ears what the figures beside it say.
        if part.starts_with("title>") {
            continue;
        }
        text.push_str(part.split_once('>').map_or(part, |(_, rest)| rest));
    }
    text.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn holds(text: &str, all: &[&str]) {
    for one in all {
        assert!(text.contains(one), "{one}:\n{text}");
    }
}

#[track_caller]
fn lacks(text: &str, all: &[&str]) {
    for one in all {
        assert!(!text.contains(one), "{one}:\n{text}");
    }
}

#[test]
fn a_torn_diaphragm_is_told_with_what_was_found_done_fitted_and_said_to_the_product_side() {
    let told = Told::of("torn_diaphragm");
    let first = told.first();
    holds(
        &first,
        &[
            "Complaint: Oil level rising, oil like milk",
            "Running hours: 13260 h",
            "The product side. Shift supervisor told that oil may have reached the product (cylinder 2)",
            "The line was rinsed, and the rinse was let away. A sample was taken",
            "? A small hole or tear, with oil on the liquid side or liquid behind cylinder 2 Tomas Reiter \
             decided to renew it: A cut as long as a fingernail",
            "Cloudy or milky, or with a line of water under it Tomas Reiter accepted it: Eleven days",
            "Parts renewed",
            "2 × Bearing of the drive shaft MP-4001",
            "1 × Seal of the drive shaft MP-4006",
            "lot SR-2231 (inlet side); lot SR-2232 (outlet side)",
            "decided 2 doubtful results: “Cloudy or milky, or with a …”",
            "No deviations from the procedure, no corrections.",
        ],
    );
    // What was taken out and put back is not renewed, and nobody reads names of files there.
    lacks(&first, &["Clamp disc", "not fitted", "cylinder=", "face/", "outcome:", "(hole)"]);
    let fitted = told.section("Parts fitted");
    holds(&fitted, &["3 × Clamp disc of the diaphragm put back", "3 × Diaphragm new"]);
    // Each decision was asked by what was found, and not by all that could have been.
    let steps = told.section("Every step");
    holds(&steps, &["Oil may have reached the product, and product the oil."]);
    lacks(
        told.before_annex(),
        &["the oil. / Something pushed", "Metal in the oil is the certified"],
    );
    let found = told.section("Findings and decisions");
    holds(&found, &["Cloudy, milky, or with drops or a line of water; ↻ once more"]);
    lacks(&found, &["(milky)"]);
}

#[test]
fn starved_suction_says_why_figures_outside_were_let_pass_and_claims_none_as_left() {
    let told = Told::of("starved_suction");
    let first = told.first();
    holds(
        &first,
        &[
            "4 of 50 figures outside.",
            "The line starves the pump by the sum too. The working names what to change.",
            "at least 0 bar diff -0.179 bar diff ↓ below",
            "Starved at its inlet. The search for the cause starts here.",
            "-0.31 bar gauge ↓ below -0.05 bar gauge",
            "✗ Crescents or rings bitten into the liquid face cylinder 1, 2, 3 part renewed",
            "↻ Spitting or foam done again, then in order",
            "What speaks against it, or was looked for and not seen",
        ],
    );
    lacks(&first, &["0.178525"]);
    assert!(told.page.contains("-0.178525 bar diff"), "the annex is exact");
    // The figure of the test run stands beside the one found, and nowhere a second time.
    let readings = told.section("Readings");
    assert_eq!(readings.matches("-0.05 bar gauge").count(), 1, "{readings}");
    let apart = told.section("Not applicable");
    holds(&apart, &["Not so: oil level is below. Tell the shift supervisor"]);
    lacks(&apart, &["==", "_", "cylinder="]);
}

#[test]
fn a_stopped_job_renews_nothing_and_guesses_no_cause() {
    let told = Told::of("solvent_stop");
    let first = told.first();
    holds(
        &first,
        &[
            "Stopped, and released as stopped",
            "Likely, by what was found What stopped the job EPDM has stood in solvent.",
            "By “Swollen, soft or tacky” The wrong elastomer",
            "Parts needed and not fitted",
            "3 × Diaphragm MP-3001 cylinder 1, 2, 3 Swollen, soft or tacky",
            "left so at the stop",
        ],
    );
    // What only had to be done once more is no cause, and nothing there is set off.
    lacks(&first, &["Parts renewed", "Why it failed", "isolating valve"]);
    assert!(!told.page.contains("headline cause stated"));
    let reducer = Told::of("reducer_worn_pair");
    holds(&reducer.first(), &["third wheel third", "Complaint:"]);
    lacks(&reducer.first(), &["wheel_third", "Parts renewed"]);
}

#[test]
fn text_and_markdown_say_demo_first_and_what_the_page_says() {
    let told = Told::of("torn_diaphragm");
    assert!(told.text.starts_with("DEMO: "), "{}", told.text);
    assert!(told.markdown.starts_with("**DEMO: "), "{}", told.markdown);
    let (own, fields) = told.text.split_once("\nThe whole record\n").unwrap();
    for line in own.lines().chain(fields.lines()) {
        let is_one_word = line.split_whitespace().count() == 1;
        assert!(line.chars().count() <= 80 || is_one_word, "{line}");
    }
    let flat = own.split_whitespace().collect::<Vec<_>>().join(" ");
    let markdown = told.markdown.split_once("## The whole record").unwrap().0;
    for form in [flat.as_str(), markdown] {
        holds(
            form,
            &[
                "Marram Point waterworks",
                "Opened",
                "Released",
                "A small hole or tear",
                "What the releaser looked at before signing",
                "Photos and files",
                "sha256sum record.json",
                "Also looked at, and let pass",
            ],
        );
        lacks(form, &["cylinder=", "\\-", "&#58;"]);
    }
    holds(&told.markdown, &["| 2026-", "seat_ring"]);
}

#[test]
fn readings_alone_are_a_table_for_a_spreadsheet() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let script =
        concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals/reducer_worn_pair.yaml");
    run(&["demo", "--shop", shop.to_str().unwrap(), "--script", script]);
    let job = shop.join("jobs/2026-0001");
    let table = run(&["report", job.to_str().unwrap(), "--format", "csv-readings"]);
    let rows: Vec<&str> = table.lines().collect();
    assert!(rows[0].starts_with("entry,at,by,address,asked,where,as,figure,unit"), "{table}");
    let worn = rows.iter().find(|row| row.contains("third wheel third")).unwrap();
    holds(worn, &["found,0.23,mm,0.23 mm,above,replace,0.08 mm,0.22 mm,I-01"]);
}
