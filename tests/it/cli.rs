//! The real binary: the main job end to end, checked with stock tools, and wrong input of each kind.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

const BINARY: &str = env!("CARGO_BIN_EXE_witnessmark");

fn witnessmark(arguments: &[&str]) -> Command {
    let mut command = Command::new(BINARY);
    command.args(arguments).env_clear().env("LANG", "C.UTF-8").env("TZ", "UTC");
    command.stdin(Stdio::null());
    command
}

struct Ran {
    status: i32,
    out: String,
    err: String,
}

fn ran(output: &Output) -> Ran {
    Ran {
        status: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

fn run(arguments: &[&str]) -> Ran {
    ran(&witnessmark(arguments).output().unwrap())
}

fn run_with_input(arguments: &[&str], input: &str) -> Ran {
    let mut child = witnessmark(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    ran(&child.wait_with_output().unwrap())
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// One shop with one released job, played once for all tests; each test works on a copy.
fn played() -> &'static Path {
    static PLAYED: OnceLock<tempfile::TempDir> = OnceLock::new();
    PLAYED
        .get_or_init(|| {
            let dir = tempfile::tempdir().unwrap();
            let shop = dir.path().join("shop");
            let ran = run(&["demo", "--play", "--shop", text(&shop)]);
            assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
            dir
        })
        .path()
}

struct Shop {
    _dir: tempfile::TempDir,
    root: PathBuf,
}

impl Shop {
    /// A copy of the played shop that may be written to.
    fn copy() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let root = dir.path().join("shop");
        let status = Command::new("cp")
            .args(["-r", text(&played().join("shop")), text(&root)])
            .status()
            .unwrap();
        assert!(status.success());
        let status = Command::new("chmod").args(["-R", "u+w", text(&root)]).status().unwrap();
        assert!(status.success());
        Self { _dir: dir, root }
    }

    fn job(&self) -> PathBuf {
        self.root.join("jobs").join(self.job_id())
    }

    fn job_id(&self) -> String {
        let entry = std::fs::read_dir(self.root.join("jobs")).unwrap().next().unwrap().unwrap();
        entry.file_name().into_string().unwrap()
    }

    fn passphrase(&self, who: &str) -> String {
        let list = std::fs::read_to_string(self.root.join("keys/passphrases.txt")).unwrap();
        let line = list.lines().find(|l| l.starts_with(&format!("{who}: "))).unwrap();
        line.split_once(": ").unwrap().1.to_owned()
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        let mut all = arguments.to_vec();
        all.extend(["--shop", text(&self.root)]);
        run(&all)
    }
}

/// Changes the byte at `at` from the front, or from the back where it is negative.
fn change_byte(path: &Path, at: isize) {
    let mut bytes = std::fs::read(path).unwrap();
    let index =
        if at < 0 { bytes.len().checked_add_signed(at).unwrap() } else { at.unsigned_abs() };
    bytes[index] = if bytes[index] == b'0' { b'1' } else { b'0' };
    std::fs::write(path, bytes).unwrap();
}

#[test]
fn a_played_job_is_released_and_checked_with_stock_tools() {
    let shop = played().join("shop");
    for name in ["allowed_signers", "trust", "shop.yaml", "shop.yaml.sig", "approvals.jsonl"] {
        assert!(shop.join(name).is_file(), "{name}");
    }
    let jobs: Vec<_> = std::fs::read_dir(shop.join("jobs")).unwrap().collect();
    assert_eq!(jobs.len(), 1);
    let job = jobs[0].as_ref().unwrap().path();
    for name in ["journal.jsonl", "record.json", "record.json.sig", "SHA256SUMS", "report.html"] {
        assert!(job.join(name).is_file(), "{name}");
    }
    let sums = Command::new("sha256sum")
        .args(["-c", "--quiet", "SHA256SUMS"])
        .current_dir(&job)
        .output()
        .expect("sha256sum is part of coreutils; install that package");
    assert!(sums.status.success(), "{}", String::from_utf8_lossy(&sums.stdout));
    let record: serde_json::Value =
        serde_json::from_slice(&std::fs::read(job.join("record.json")).unwrap()).unwrap();
    let signer = record["release"]["signer"].as_str().unwrap();
    assert_eq!(record["kind"], "demo");
    let good = Command::new("ssh-keygen")
        .args(["-Y", "verify", "-f", "../../allowed_signers", "-I", signer])
        .args(["-n", "release.v1@witnessmark", "-s", "record.json.sig"])
        .current_dir(&job)
        .stdin(std::fs::File::open(job.join("record.json")).unwrap())
        .output()
        .expect("ssh-keygen is part of OpenSSH; install the package openssh-client");
    assert!(good.status.success(), "{}", String::from_utf8_lossy(&good.stderr));
    let verified = run(&["verify", text(&job)]);
    assert_eq!(verified.status, 0, "{}", verified.out);
    assert!(verified.out.contains("5 replay      good"), "{}", verified.out);
    assert!(verified.out.contains("demo"), "{}", verified.out);
}

#[test]
fn an_apprentice_cannot_release_in_the_eyes_of_stock_ssh_keygen_either() {
    let shop = Shop::copy();
    let lines = std::fs::read_to_string(shop.root.join("allowed_signers")).unwrap();
    let apprentice = lines.lines().find(|l| l.starts_with("i.varga ")).unwrap();
    assert!(!apprentice.contains("release.v1@witnessmark"), "{apprentice}");
}

#[test]
fn two_plays_differ_in_keys_and_hashes_and_another_script_in_path_and_parts() {
    let dir = tempfile::tempdir().unwrap();
    let other = dir.path().join("other");
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/rehearsals/solvent_stop.yaml");
    let ran = run(&["demo", "--play", "--script", script, "--shop", text(&other)]);
    assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
    let first = played().join("shop");
    let read = |shop: &Path, name: &str| std::fs::read_to_string(shop.join(name)).unwrap();
    assert_ne!(read(&first, "trust"), read(&other, "trust"));
    let record = |shop: &Path| -> serde_json::Value {
        let job = std::fs::read_dir(shop.join("jobs")).unwrap().next().unwrap().unwrap().path();
        serde_json::from_str(&read(&job, "record.json")).unwrap()
    };
    let (one, two) = (record(&first), record(&other));
    assert_ne!(one["journal"]["head"], two["journal"]["head"]);
    assert_eq!((&one["outcome"], &two["outcome"]), (&"completed".into(), &"stopped".into()));
    assert_ne!(one["parts"], two["parts"]);
    let job = std::fs::read_dir(other.join("jobs")).unwrap().next().unwrap().unwrap().path();
    assert_eq!(run(&["verify", text(&job)]).status, 0);
    // A job is not vouched for by another shop's key.
    let ran = run(&["verify", text(&job), "--trust", text(&first.join("trust"))]);
    assert_eq!(ran.status, 14, "{}", ran.out);
    assert!(ran.out.contains("origin"), "{}", ran.out);
}

#[test]
fn a_changed_byte_anywhere_is_noticed_and_its_place_is_named() {
    for (name, at, status) in [
        ("journal.jsonl", 400, 11),
        ("journal.jsonl", -60, 11),
        ("record.json", 300, 11),
        ("record.json.sig", 120, 11),
        ("files/shop.yaml", 60, 11),
        ("files/procedure-make_safe.yaml", 900, 11),
        ("SHA256SUMS", 3, 11),
        ("report.html", 500, 11),
    ] {
        let shop = Shop::copy();
        change_byte(&shop.job().join(name), at);
        let ran = run(&["verify", text(&shop.job())]);
        assert_eq!(ran.status, status, "{name}: {}", ran.out);
        assert!(ran.out.contains(name), "{name}: {}", ran.out);
    }
    let shop = Shop::copy();
    std::fs::write(shop.job().join("evidence/extra"), b"x").unwrap();
    let ran = run(&["verify", text(&shop.job())]);
    assert_eq!(ran.status, 11, "{}", ran.out);
    assert!(ran.out.contains("evidence/extra"), "{}", ran.out);
}

#[test]
fn a_folder_alone_does_not_vouch_for_itself() {
    let shop = Shop::copy();
    let alone = tempfile::tempdir().unwrap();
    let moved = alone.path().join("deep").join("er").join("job");
    std::fs::create_dir_all(moved.parent().unwrap()).unwrap();
    std::fs::rename(shop.job(), &moved).unwrap();
    let ran = run(&["verify", text(&moved)]);
    assert_eq!(ran.status, 14, "{}", ran.out);
    assert!(ran.out.contains("origin unknown"), "{}", ran.out);
    let ran = run(&["verify", text(&moved), "--trust", text(&shop.root.join("trust"))]);
    assert_eq!(ran.status, 0, "{}", ran.out);
    let ran = run(&["verify", "--json", text(&moved)]);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(json["answers"].as_array().unwrap().len(), 5, "{}", ran.out);
}

#[test]
fn bad_yaml_is_shown_at_its_place_with_status_1() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("bad.yaml");
    std::fs::write(&path, "format: \"1.0\"\nprocedure: x\ntitle: [unclosed\n").unwrap();
    let ran = run(&["check", text(&path)]);
    assert_eq!(ran.status, 1, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("error[WM101]") && ran.out.contains("bad.yaml:"), "{}", ran.out);

    let good = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/equipment/marram_3_40.yaml");
    let procedure =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/make_safe.yaml"))
            .unwrap();
    let path = dir.path().join("unit.yaml");
    let added = "  - id: gap\n    measure: Measure it.\n    with: feeler_gauge\n    unit: furlong\n    \
        limit: {at_most: 1 mm}\n    above: {verdict: refer}\n    could_not_measure: {verdict: refer}\n";
    std::fs::write(&path, format!("{procedure}{added}")).unwrap();
    let ran = run(&["check", text(&path), good]);
    assert_eq!(ran.status, 1, "{}", ran.out);
    assert!(ran.out.contains("WM301") && ran.out.contains("furlong"), "{}", ran.out);
    let ran = run(&["check", good, "/nowhere/at/all.yaml"]);
    assert_eq!(ran.status, 5, "{}", ran.err);
    assert!(ran.err.contains("/nowhere/at/all.yaml"), "{}", ran.err);
}

#[test]
fn safe_edits_leave_every_other_byte_and_a_second_round_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("e.yaml");
    let wrong = "# prüf – 5 µm\r\nformat: \"1.0\"\nequipment: e\ntitle: no   # as it is\nrevision: 1\n\
                 efective: 2026-01-05\nrevisions:\n  - {revision: 1, date: 2026-01-05, by: m.dube, why: A}\n";
    std::fs::write(&path, wrong).unwrap();
    let right = wrong.replace("title: no ", "title: \"no\" ").replace("efective", "effective");
    for _ in 0..2 {
        let ran = run(&["check", "--fix", text(&path)]);
        assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), right);
    }
}

#[test]
fn what_new_begins_checks_clean_and_is_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    for kind in ["procedure", "equipment", "rehearsal", "shop"] {
        let id = format!("my_{kind}");
        let begin = ["new", kind, &id, "--folder", text(dir.path())];
        assert_eq!(run(&begin).status, 0);
        let path = dir.path().join(format!("{id}.yaml"));
        let ran = run(&["check", "--strict", text(&path)]);
        assert_eq!(ran.status, 0, "{}", ran.out);
        let again = run(&begin);
        assert_eq!(again.status, 2);
        assert!(again.err.contains("is there already"), "{}", again.err);
    }
}

#[test]
fn the_shops_own_files_are_without_fault() {
    let shop = played().join("shop");
    let mut files = vec!["check".to_owned(), text(&shop.join("shop.yaml")).to_owned()];
    for folder in ["procedures", "procedures/equipment", "procedures/rehearsals"] {
        for entry in std::fs::read_dir(shop.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                files.push(text(&path).to_owned());
            }
        }
    }
    let files: Vec<&str> = files.iter().map(String::as_str).collect();
    let ran = run(&files);
    assert_eq!(ran.status, 0, "{}", ran.out);
    assert!(ran.out.contains("0 errors, 0 warnings"), "{}", ran.out);
}

#[test]
fn explain_knows_every_code_and_suggests_near_ones() {
    let ran = run(&["explain", "WM204"]);
    assert_eq!(ran.status, 0);
    assert!(ran.out.contains("one-action"), "{}", ran.out);
    let ran = run(&["explain", "one-acton"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("one-action"), "{}", ran.err);
}

/// A shop whose demo job stands at the first valve inspection, opened over a pipe and left at once.
fn begun() -> Shop {
    let dir = tempfile::tempdir().unwrap();
    let root = dir.path().join("shop");
    let ran = run(&["demo", "--plain", "--shop", text(&root)]);
    assert_eq!(ran.status, 6, "{}{}", ran.out, ran.err);
    Shop { _dir: dir, root }
}

#[test]
fn a_changed_procedure_is_not_approved_and_opens_no_job() {
    let shop = begun();
    let path = shop.root.join("procedures/oil_flush.yaml");
    let mut changed = std::fs::read_to_string(&path).unwrap();
    changed.push_str("# a harmless comment\n");
    std::fs::write(&path, changed).unwrap();
    let ran = shop.run(&["open", "fluid_end_service", "--machine", "P-101B", "--plain"]);
    assert_eq!(ran.status, 3, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("not as it was approved"), "{}", ran.err);
    assert!(ran.err.contains("next: "), "{}", ran.err);
    // The author cannot approve it, a wrong passphrase approves nothing, a mechanic can.
    let approve = |by: &str, passphrase: &str| {
        run_with_input(
            &[
                "approve",
                "fluid_end_service",
                "--equipment",
                "marram_3_40",
                "--by",
                by,
                "--shop",
                text(&shop.root),
            ],
            &format!("{passphrase}\n{}\n", shop.passphrase("shop")),
        )
    };
    let ran = approve("m.dube", &shop.passphrase("m.dube"));
    assert_eq!(ran.status, 3, "{}{}", ran.out, ran.err);
    let ran = approve("a.salmela", "wrong");
    assert_eq!(ran.status, 3, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("passphrase does not open"), "{}", ran.err);
    let ran = approve("a.salmela", &shop.passphrase("a.salmela"));
    assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("approved procedure/oil_flush by a.salmela"), "{}", ran.out);
    let ran = shop.run(&["open", "fluid_end_service", "--machine", "P-101B", "--plain"]);
    assert_eq!(ran.status, 6, "{}{}", ran.out, ran.err);
}

#[test]
fn an_unknown_machine_or_job_is_refused_with_what_there_is() {
    let shop = begun();
    let ran = shop.run(&["open", "fluid_end_service", "--machine", "P-999", "--plain"]);
    assert_eq!(ran.status, 3);
    assert!(ran.err.contains("P-101A, P-101B"), "{}", ran.err);
    let ran = shop.run(&["walk", "the-last-one", "--plain"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("witnessmark jobs"), "{}", ran.err);
    let ran = run(&["jobs", "--shop", "/nowhere"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("there is no shop at `/nowhere`"), "{}", ran.err);
}

#[test]
fn a_wrong_passphrase_identifies_nobody_and_an_apprentice_cannot_decide() {
    let shop = begun();
    let before = std::fs::read(shop.job().join("journal.jsonl")).unwrap();
    let ran =
        run_with_input(&["walk", "--plain", "--shop", text(&shop.root)], "1\nwrong-passphrase\n");
    assert_eq!(ran.status, 6, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("passphrase does not open"), "{}", ran.out);
    let after = std::fs::read(shop.job().join("journal.jsonl")).unwrap();
    assert_eq!(after, before, "nothing was entered");
}

#[test]
fn a_second_process_on_the_same_job_is_told_so() {
    let shop = begun();
    let job = shop.job_id();
    let mut first = witnessmark(&["walk", "--plain", "--shop", text(&shop.root)])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // Wait until the first one has the job: it has asked its first question.
    let mut byte = [0u8; 1];
    std::io::Read::read_exact(first.stdout.as_mut().unwrap(), &mut byte).unwrap();
    let ran = shop.run(&["walk", &job, "--plain"]);
    assert_eq!(ran.status, 5, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("in use by another witnessmark"), "{}", ran.err);
    first.kill().unwrap();
    first.wait().unwrap();
    // The lock died with the process.
    assert_eq!(shop.run(&["walk", &job, "--plain"]).status, 6);
}

#[test]
fn a_damaged_journal_is_refused_and_left_as_it_is() {
    let shop = begun();
    let journal = shop.job().join("journal.jsonl");
    change_byte(&journal, 700);
    let before = std::fs::read(&journal).unwrap();
    let ran = shop.run(&["walk", "--plain"]);
    assert_ne!(ran.status, 0);
    let ran = shop.run(&["walk", &shop.job_id(), "--plain"]);
    assert_eq!(ran.status, 4, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("line "), "{}", ran.err);
    assert_eq!(std::fs::read(&journal).unwrap(), before);
}

#[test]
fn a_torn_last_line_is_set_aside_and_told() {
    let shop = begun();
    let journal = shop.job().join("journal.jsonl");
    let mut bytes = std::fs::read(&journal).unwrap();
    let whole = bytes.len();
    bytes.extend(b"{\"at\":\"2026-11-25T");
    std::fs::write(&journal, &bytes).unwrap();
    let ran = shop.run(&["walk", "--plain"]);
    assert_eq!(ran.status, 6, "{}{}", ran.out, ran.err);
    let after = std::fs::read(&journal).unwrap();
    assert_eq!(after[..whole], bytes[..whole]);
    let added = String::from_utf8_lossy(&after[whole..]);
    assert!(added.contains("torn_tail_set_aside"), "{added}");
    let kept = std::fs::read_dir(shop.job())
        .unwrap()
        .filter_map(Result::ok)
        .any(|e| e.file_name().to_string_lossy().starts_with("journal.torn-"));
    assert!(kept);
}

#[test]
fn the_full_screen_without_a_terminal_says_what_to_use() {
    let shop = begun();
    let ran = shop.run(&["walk"]);
    assert_eq!(ran.status, 2, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("--plain"), "{}", ran.err);
}

#[test]
fn the_command_line_itself_is_checked() {
    assert_eq!(run(&[]).status, 2);
    assert_eq!(run(&["dance"]).status, 2);
    assert_eq!(run(&["--help"]).status, 0);
    assert_eq!(run(&["--version"]).status, 0);
    let ran = run(&["verify", "--explain"]);
    assert_eq!(ran.status, 0);
    assert!(ran.out.contains("Not protected:"), "{}", ran.out);
}

#[test]
fn re1_a_report_in_every_form_names_the_hash_of_the_record_and_what_was_signed() {
    let shop = Shop::copy();
    let job = shop.job();
    let sum = Command::new("sha256sum").arg(job.join("record.json")).output().unwrap();
    let hash = String::from_utf8_lossy(&sum.stdout).get(..64).unwrap().to_owned();
    for form in ["markdown", "text", "csv", "json"] {
        let ran = run(&["report", text(&job), "--format", form]);
        assert_eq!(ran.status, 0, "{form}: {}", ran.err);
        assert!(ran.out.contains(&hash), "{form}");
        assert!(ran.out.contains("released"), "{form}");
    }
    let page = run(&["report", text(&job), "--format", "html"]).out;
    assert_eq!(page.as_bytes(), std::fs::read(job.join("report.html")).unwrap());
    let missing = run(&["report", text(&shop.root)]);
    assert_eq!(missing.status, 3, "{}", missing.err);
}

#[test]
fn re2_the_recipe_that_is_printed_is_the_one_in_the_folder() {
    let shop = Shop::copy();
    let printed = run(&["recipe", text(&shop.job())]);
    assert_eq!(printed.status, 0, "{}", printed.err);
    assert_eq!(printed.out.as_bytes(), std::fs::read(shop.job().join("recipe.txt")).unwrap());
}

#[test]
fn many_folders_are_judged_at_once_and_answered_in_order() {
    let shop = Shop::copy();
    let job = shop.job();
    let (good, none) = (text(&job), "no-such-folder");
    for jobs in ["1", "2", "7"] {
        let ran = run(&["verify", "--jobs", jobs, good, none, good, good]);
        assert_eq!(ran.status, 2, "{}", ran.err);
        assert_eq!(ran.out.matches("all five answers are good").count(), 3);
        assert!(ran.err.contains(none));
    }
}
