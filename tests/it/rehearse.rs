//! Rehearsals without a screen: what they take, what is written for the rest, which mistakes they see.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use proptest::prelude::*;
use witnessmark::demo;
use witnessmark::ids::{EquipmentId, Moment, ProcedureId};
use witnessmark::ports::Clock as _;
use witnessmark::rehearsal::{self, model::Rehearsal};
use witnessmark::rehearse::missing::{Cast, Missing};
use witnessmark::rehearse::mutate::{broken, mutants};
use witnessmark::rehearse::places::{Atlas, Course};
use witnessmark::rehearse::{Bench, Coverage, Fate, Group, Shelf, Text, mutate, write_missing};
use witnessmark::source::{FileId, Source};
use witnessmark::store::SystemClock;
use witnessmark::walk::disposition;

use crate::support::procedures;

fn now() -> Moment {
    Moment::parse("2026-11-25T06:00:00+01:00").unwrap()
}

fn text(name: &str, text: &str) -> Text {
    Text { name: name.to_owned(), text: text.to_owned() }
}

/// A procedure `made` with these steps, for the test machine.
fn procedure(steps: &str) -> String {
    procedures::made(&format!("steps:\n{steps}"))
}

/// The procedure `made`, its equipment and the demo's shop.
fn shelf_of(text_of: &str) -> Shelf {
    Shelf {
        procedures: BTreeMap::from([(
            ProcedureId::new("made").unwrap(),
            text("made.yaml", text_of),
        )]),
        equipment: BTreeMap::from([(
            EquipmentId::new("marram_3_40").unwrap(),
            text("equipment/marram_3_40.yaml", procedures::EQUIPMENT),
        )]),
        shop: text("shop.yaml", &demo::sample_shop(SystemClock.now())),
    }
}

struct Room {
    shelf: Shelf,
    bench: Bench,
    course: Course,
    coverage: Coverage,
}

impl Room {
    fn of(text_of: &str) -> Self {
        Self::on(shelf_of(text_of), ("made", false), "marram_3_40")
    }

    fn on(shelf: Shelf, (procedure, is_alone): (&str, bool), equipment: &str) -> Self {
        let bench = Bench::set_up(&shelf, now()).unwrap_or_else(|e| panic!("{e}"));
        let (procedure, equipment) =
            (ProcedureId::new(procedure).unwrap(), EquipmentId::new(equipment).unwrap());
        let course =
            Course::load(&shelf, (&procedure, is_alone), &equipment, &mut Atlas::default());
        let course = course.expect("files without mistakes");
        let coverage = Coverage::of(&course);
        Self { shelf, bench, course, coverage }
    }

    /// Plays a script and counts what it takes.
    fn play(&mut self, script: &Rehearsal) -> bool {
        let played = self.bench.play(script).unwrap_or_else(|e| panic!("{e}"));
        let state = played.session.state();
        self.coverage.add(&self.course, &state.walk, state);
        played.is_as_expected()
    }

    /// Plays every story of a written file and counts what they take.
    fn play_all(&mut self, text: &str) -> bool {
        script(text).stories().all(|story| self.play(&story))
    }

    fn write(&mut self) -> Missing {
        let shop = self.bench.shop_file().unwrap();
        let cast = Cast::of(&shop, &shop.machines[0], None).unwrap();
        write_missing(&mut self.bench, &self.course, &mut self.coverage, &cast, &mut |_| true)
            .unwrap_or_else(|e| panic!("{e}"))
    }

    fn missing(&self) -> Vec<String> {
        let missing = self.coverage.missing_in_order().into_iter();
        missing.map(|shown| format!("{}: {}", shown.group.word(), shown.what)).collect()
    }

    fn fates(&self, scripts: &[Rehearsal]) -> Vec<(String, Fate)> {
        let made = mutants(&self.shelf, &self.course).into_iter();
        let broken = broken(&self.course.flow);
        made.map(|mutant| {
            let fate = mutate(&self.shelf, &mutant, (scripts, &broken), now());
            let fate = fate.unwrap_or_else(|e| panic!("{e}"));
            (mutant.what, fate)
        })
        .collect()
    }
}

fn script(text: &str) -> Rehearsal {
    let (script, found) = rehearsal::read(FileId(0), &Source::new("script.yaml", text));
    script.unwrap_or_else(|| panic!("{found:#?}\n{text}"))
}

const PLATE: &str = "- {id: plate, enter: Letter, kind: fit_out}\n";
const SPRING: &str = "- id: spring\n  measure: Measure the spring.\n  with: calliper\n  unit: mm\n  \
                      limit: spring.length\n  below: {verdict: replace, parts: [spring]}\n  \
                      could_not_measure: {verdict: refer}\n";

#[test]
fn au8_the_smallest_set_takes_a_limit_below_at_and_above() {
    let mut room = Room::of(&procedure(SPRING));
    let missing = room.write();
    assert_eq!(room.missing(), Vec::<String>::new());
    let written = missing.written.expect("something is missing");
    // Above in the story; below, at, and no reading with each of the mechanic's two decisions.
    assert_eq!(written.n_cases, 4, "{}", written.text);
    assert_eq!(missing.not_found, []);
    let all = &written.text;
    for reading in ["37.99 mm", "38 mm", "38.2 mm"] {
        assert!(all.contains(&format!("reading: \"{reading}\"")), "{reading}: {all}");
    }
    assert!(room.play_all(all), "{all}");
    assert!(all.starts_with("# Written by"), "{all}");
}

#[test]
fn au8_positions_are_used_so_that_fewer_rehearsals_do() {
    let spring = SPRING.lines().map(|line| format!("  {line}\n")).collect::<Vec<_>>().concat();
    let steps = format!("- id: valves\n  section: Valves\n  each: cylinder\n  steps:\n{spring}");
    let mut room = Room::of(&procedure(&steps));
    let missing = room.write();
    assert_eq!(room.missing(), Vec::<String>::new());
    // Five outcomes of which the stop takes a rehearsal of its own; two cylinders share the rest.
    assert!(missing.written.expect("something is missing").n_cases <= 2);
}

#[test]
fn au8_a_guard_is_taken_both_ways_and_a_bound_is_reached() {
    let steps = format!(
        "{PLATE}- id: seat\n  look: Look at the seat.\n  findings:\n    fine: {{see: Fine, verdict: \
         accept}}\n    torn: {{see: Torn, verdict: replace, parts: [disc]}}\n- id: rinse\n  when: \
         elastomer == epdm and seat == torn\n  do: Rinse it.\n- id: wash\n  section: Wash\n  repeat:\n    \
         until: sample == clear\n    at_most: 2\n    otherwise: {{stop: Not clear, safe_state: Safe}}\n  \
         steps:\n    - id: sample\n      enter: How it looks\n      kind: choice\n      choices: \
         {{milky: Milky, clear: Clear}}\n"
    );
    let mut room = Room::of(&procedure(&steps));
    let missing = room.write();
    assert_eq!(room.missing(), Vec::<String>::new(), "{missing:#?}");
    let (taken, all) = room.coverage.count(Group::Branches, None);
    assert_eq!((taken, all), (4, 4));
    assert_eq!(room.coverage.count(Group::Bounds, None), (1, 1));
    assert_eq!(room.coverage.count(Group::FitOuts, None), (2, 2));
    // The plain way; a torn EPDM seat, clear at the second wash; and the other fit-out, never clear.
    assert!(missing.written.expect("something is missing").n_cases <= 2);
}

#[test]
fn what_no_answers_lead_to_is_listed_with_its_line() {
    let steps = format!(
        "{PLATE}- id: one\n  when: elastomer == epdm\n  do: One.\n- id: two\n  when: elastomer == epdm \
         and elastomer == nbr\n  do: Two.\n"
    );
    let mut room = Room::of(&procedure(&steps));
    let missing = room.write();
    let told: Vec<_> = missing
        .not_found
        .iter()
        .map(|shown| (shown.what.as_str(), shown.at.as_str(), (shown.file.as_str(), shown.line)))
        .collect();
    let line = |n| ("made.yaml", Some(n));
    assert_eq!(
        told,
        [
            ("step", "two", line(16)),
            ("true: elastomer == epdm and elastomer == nbr", "two", line(17)),
        ]
    );
}

#[test]
fn au8_a_limit_moved_by_its_last_digit_is_noticed_by_what_is_written() {
    let mut room = Room::of(&procedure(SPRING));
    let missing = room.write();
    let written = missing.written.expect("something is missing");
    let scripts: Vec<Rehearsal> = script(&written.text).stories().collect();
    let fates = room.fates(&scripts);
    assert!(fates.len() >= 5, "{fates:#?}");
    let unnoticed: Vec<_> = fates.iter().filter(|(_, fate)| *fate == Fate::Unnoticed).collect();
    assert_eq!(unnoticed, Vec::<&(String, Fate)>::new());
    // A rehearsal far from the limit does not see that it moved.
    let far = script(
        "format: \"1.0\"\nrehearsal: far\ntitle: Far\nprocedure: made\nmachine: P-101A\nperformer: \
         i.varga\nmechanic: t.reiter\nanswers:\n  - {at: spring, reading: \"39\", using: C-03}\n\
         expect:\n  outcome: released\n  verdicts: {spring: accept}\n",
    );
    let fates = room.fates(&[far]);
    let unnoticed: Vec<&str> = fates
        .iter()
        .filter(|(_, fate)| *fate == Fate::Unnoticed)
        .map(|(what, _)| what.as_str())
        .collect();
    assert_eq!(
        unnoticed,
        [
            "a verdict of `spring` is refer for replace",
            "a verdict of `spring` is accept for refer",
            "limit of `spring.length`: 37.99 mm for 38.00 mm",
            "limit of `spring.length`: 38.01 mm for 38.00 mm",
        ]
    );
}

#[test]
fn au7_a_mistake_that_breaks_a_promise_is_noticed_by_the_proof_and_the_rest_is_made_all_the_same() {
    let steps = "- id: lock\n  do: Lock it.\n- id: cover\n  do: Lift the cover.\n- id: wipe\n  do: Wipe \
                 it.\nalways:\n- {first: lock, before: cover, because: It can start.}\n";
    let room = &mut Room::of(&procedure(steps));
    let scripts = [rehearsal_of("answers: []\nexpect: {outcome: released}\n")];
    let told = |room: &Room| -> Vec<(String, Fate)> { room.fates(&scripts) };
    let expected = |lock| {
        [("lock", lock), ("cover", Fate::Unnoticed), ("wipe", Fate::Unnoticed)]
            .map(|(step, fate)| (format!("step `{step}` is dropped"), fate))
    };
    assert_eq!(told(room), expected(Fate::Disproved));
    // Of a promise that is broken already, the mistake does not tell.
    let broken = steps.replace("do: Lock it.", "do: Lock it.\n  when: false");
    let room = Room::of(&procedure(&broken));
    let dropped = told(&room).into_iter().filter(|(what, _)| what == "step `lock` is dropped");
    assert_eq!(dropped.map(|(_, fate)| fate).collect::<Vec<_>>(), [Fate::Unnoticed]);
}

#[test]
fn a_dropped_guard_and_swapped_layers_are_mistakes_too() {
    let steps = format!(
        "{PLATE}- id: rinse\n  when: elastomer == epdm\n  look: Look\n  findings:\n    fine: {{see: Fine, \
         verdict: accept}}\n    torn: {{see: Torn, verdict: replace, parts: [disc]}}\n- id: lay\n  build: \
         Lay the valve.\n  stack: valve\n  laid: with_flow\n"
    );
    let mut room = Room::of(&procedure(&steps));
    let missing = room.write();
    let written = missing.written.expect("something is missing");
    let scripts: Vec<Rehearsal> = script(&written.text).stories().collect();
    let fates = room.fates(&scripts);
    let fate = |of: &str| fates.iter().find(|(what, _)| what == of).map(|(_, fate)| *fate);
    // The first of that text is the step's; a layer has the same, and no rehearsal says which layers.
    assert_eq!(fate("`when: elastomer == epdm` is dropped"), Some(Fate::Noticed));
    assert_eq!(fate("step `rinse` is dropped"), Some(Fate::Noticed));
    assert_eq!(fate("layers `ring` and `disc` are swapped"), Some(Fate::Unnoticed), "{fates:#?}");
    assert_eq!(fate("step `plate` is dropped"), Some(Fate::Checked));
}

/// The demo's own files.
pub(crate) fn demo_shelf() -> Shelf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let read = |folder: &Path| -> Vec<(String, Text)> {
        let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let files = files.filter(|path| path.extension().is_some_and(|ending| ending == "yaml"));
        files
            .map(|path| {
                let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
                let name = format!("{stem}.yaml");
                (stem, text(&name, &std::fs::read_to_string(&path).unwrap()))
            })
            .collect()
    };
    let procedures = read(&folder).into_iter();
    let equipment = read(&folder.join("equipment")).into_iter();
    Shelf {
        procedures: procedures.map(|(id, t)| (ProcedureId::new(id).unwrap(), t)).collect(),
        equipment: equipment.map(|(id, t)| (EquipmentId::new(id).unwrap(), t)).collect(),
        shop: text("shop.yaml", &demo::sample_shop(SystemClock.now())),
    }
}

#[test]
fn au8_the_demo_says_what_its_own_rehearsals_do_not_take() {
    let mut room = Room::on(demo_shelf(), ("fluid_end_service", false), "marram_3_40");
    for text in [
        include_str!("../../procedures/rehearsals/nothing_wrong.yaml"),
        include_str!("../../procedures/rehearsals/solvent_stop.yaml"),
        demo::SCRIPT,
    ] {
        assert!(room.play(&script(text)));
    }
    let missing = room.coverage.missing_in_order();
    let hole =
        missing.iter().find(|shown| shown.group == Group::Findings && shown.what == "`hole`");
    let hole = hole.expect("no rehearsal has a hole");
    assert_eq!(hole.at, "diaphragm_inspection/cylinders[cylinder=1]/face");
    assert_eq!(hole.file, "diaphragm_inspection.yaml");
    let (taken, all) = room.coverage.count(Group::Positions, None);
    assert_eq!(taken, all);
    let (taken, all) = room.coverage.count(Group::FitOuts, None);
    assert!(taken < all);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_for_a_random_procedure_plays_back_and_takes_more(seed in any::<u64>()) {
        let mut room = Room::of(&procedures::random(seed));
        let missing = room.write();
        let taken = room.coverage.taken.clone();
        prop_assert!(!taken.is_empty(), "{:?}\n{}", missing.stuck, procedures::random(seed));
        let written = missing.written.expect("something is missing");
        let mut again = BTreeSet::new();
        for story in script(&written.text).stories() {
            room.coverage.taken.clear();
            prop_assert!(room.play(&story), "{}", written.text);
            // Nothing that failed is left open: the job could be released.
            let session = room.bench.play(&story).unwrap().session;
            let open = disposition::open(session.files(), session.state());
            prop_assert!(open.is_empty(), "{open:?}\n{}", written.text);
            let new = room.coverage.taken.difference(&again).count();
            prop_assert!(new > 0, "takes nothing new: {}", written.text);
            again.extend(room.coverage.taken.iter().cloned());
        }
        prop_assert_eq!(again, taken);
    }
}

fn program(arguments: &[&str], folder: &Path) -> (i32, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap() + &String::from_utf8(out.stderr).unwrap();
    (out.status.code().unwrap(), text)
}

/// A folder with a small procedure, its equipment and one rehearsal.
fn folder(verdict: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for inner in ["equipment", "rehearsals"] {
        std::fs::create_dir(dir.path().join(inner)).unwrap();
    }
    let write = |path: &str, text: &str| std::fs::write(dir.path().join(path), text).unwrap();
    write("made.yaml", &procedure(SPRING));
    write("equipment/marram_3_40.yaml", procedures::EQUIPMENT);
    write(
        "rehearsals/short.yaml",
        &format!(
            "format: \"1.0\"\nrehearsal: short\ntitle: Short\nprocedure: made\nmachine: P-101A\n\
             performer: i.varga\nmechanic: t.reiter\nanswers:\n  - {{at: spring, reading: \"37.5\", \
             using: C-03}}\n  - {{at: other, enter: x}}\nexpect:\n  outcome: released\n  verdicts:\n    \
             spring: {verdict}\n"
        ),
    );
    dir
}

#[test]
fn differences_are_shown_line_by_line_and_end_with_status_1() {
    let dir = folder("accept");
    let (status, told) = program(&["rehearse", "rehearsals/short.yaml"], dir.path());
    assert_eq!(status, 1, "{told}");
    let told = told.split("\ntaken of").next().unwrap();
    insta::assert_snapshot!(told, @r"
    note: no `shop.yaml` beside or above the procedures, so the demo's people, instruments and machines are used; name yours with `--shop-file FILE`
    rehearsals/short.yaml: 2 differences
      rehearsals/short.yaml:14: spring
        - expected: accept
        + found:    replace
      rehearsals/short.yaml:10: other
        - expected: asked
        + found:    not asked, so that this answer is never given
    ");
}

#[test]
fn what_is_written_is_played_with_the_rest_from_then_on() {
    let dir = folder("replace");
    let path = dir.path().join("rehearsals/short.yaml");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("  - {at: other, enter: x}\n", "")).unwrap();
    let short = "rehearsals/short.yaml";
    let (status, told) = program(&["rehearse", "--all", short], dir.path());
    assert_eq!(status, 1, "{told}");
    assert!(told.contains("made.yaml:12: limits: a reading at 38 mm at spring"), "{told}");
    let (status, told) = program(&["rehearse", "--write-missing", "rehearsals", short], dir.path());
    assert_eq!(status, 0, "{told}");
    let files: Vec<String> = std::fs::read_dir(dir.path().join("rehearsals"))
        .unwrap()
        .map(|entry| format!("rehearsals/{}", entry.unwrap().file_name().to_str().unwrap()))
        .collect();
    let arguments = ["rehearse", "--all", "--mutate", "--format", "json"].into_iter();
    let arguments: Vec<&str> = arguments.chain(files.iter().map(String::as_str)).collect();
    let (status, told) = program(&arguments, dir.path());
    assert_eq!(status, 0, "{told}");
    let found: serde_json::Value = serde_json::from_str(&told).unwrap();
    // The author's own, and what was written: the plain way and three cases.
    assert_eq!(found["rehearsals"].as_array().unwrap().len(), 5, "{told}");
    assert_eq!(found["not_taken"], serde_json::json!([]));
    assert_eq!(found["coverage"]["limits"], serde_json::json!({"taken": 3, "all": 3}));
    let mistakes = found["procedures"][0]["mistakes"].as_array().unwrap();
    let unnoticed: Vec<&str> = mistakes
        .iter()
        .filter(|mistake| mistake["fate"] == "not noticed")
        .map(|mistake| mistake["what"].as_str().unwrap())
        .collect();
    // The author's own reading below lies too far off to see it.
    assert_eq!(unnoticed, ["limit of `spring.length`: 37.99 mm for 38.00 mm"]);
    let checked: Vec<&str> =
        ["check"].into_iter().chain(files.iter().map(String::as_str)).collect();
    let (status, told) = program(&checked, dir.path());
    assert_eq!((status, told.contains(" 0 warnings")), (0, true), "{told}");
}

/// A rehearsal of `made`, as a file.
fn rehearsal_of(rest: &str) -> Rehearsal {
    script(&format!(
        "format: \"1.0\"\nrehearsal: made_up\ntitle: Made up\nprocedure: made\nmachine: P-101A\n\
         performer: i.varga\nmechanic: t.reiter\n{rest}"
    ))
}

const ONE_SPRING: &str = "answers:\n  - {at: spring, reading: \"39\", using: C-03}\nexpect:\n  outcome: \
                          released\n  parts: []\ncases:\n";

/// What differs in the last story of a file.
fn differences_of_last(room: &mut Room, script: &Rehearsal) -> Vec<String> {
    let story = script.stories().last().unwrap();
    let played = room.bench.play(&story).unwrap_or_else(|e| panic!("{e}"));
    assert!(played.stuck.is_none(), "{:?}", played.stuck);
    let told =
        played.differences.iter().map(|d| format!("{}: {} but {}", d.what, d.expected, d.found));
    told.chain(played.unused.iter().map(|index| format!("unused {index}"))).collect()
}

#[test]
fn au8_a_case_is_the_story_with_some_answers_changed() {
    let mut room = Room::of(&procedure(SPRING));
    let none: [&str; 0] = [];
    let case = |answers: &str, expect: &str| {
        rehearsal_of(&format!(
            "{ONE_SPRING}  other:\n    answers: [{answers}]\n    expect: {{{expect}}}\n"
        ))
    };
    let short = "{at: spring, reading: \"37\", using: C-03}";
    let said = "outcome: released, more_parts: [{part: spring}], verdicts: {spring: replace}";
    assert_eq!(differences_of_last(&mut room, &case(short, said)), none);
    // A case that ends as the story does has its parts list, unless it says otherwise.
    let told = differences_of_last(&mut room, &case(short, "outcome: released"));
    assert_eq!(told, ["part spring: not needed but needed"]);
    // An answer of its own that nothing asks for is told; the story's may lie idle.
    let idle = format!("{short}, {{at: nowhere, enter: x}}");
    let told = differences_of_last(&mut room, &case(&idle, said));
    assert_eq!(told, ["unused 1"]);
    let stop =
        "{at: spring, could_not_measure: Bent}, {at: spring/decision, decide: stop, because: Bent}";
    assert_eq!(differences_of_last(&mut room, &case(stop, "outcome: stopped")), none);
}

#[test]
fn a_pattern_in_a_case_takes_the_place_of_all_that_it_names() {
    let file = rehearsal_of(
        "answers:\n  - {at: \"a[x=1]/b\", enter: one}\n  - {at: \"a[x=*]/b\", enter: all}\n  - {at: c, \
         enter: c}\nexpect: {outcome: released}\ncases:\n  other:\n    answers: [{at: \"a[x=*]/b\", \
         enter: other}]\n    expect: {outcome: stopped}\n",
    );
    let stories: Vec<Rehearsal> = file.stories().collect();
    let answers: Vec<(&str, bool)> =
        stories[1].answers.iter().map(|a| (a.at.value.as_str(), a.is_of_story)).collect();
    assert_eq!(answers, [("a[x=*]/b", false), ("c", true)]);
    assert_eq!(stories[0].answers.len(), 3);
}

#[test]
fn what_an_author_says_to_be_out_of_reach_is_listed_and_held_against_what_is_taken() {
    let steps =
        format!("{PLATE}- id: two\n  when: elastomer == epdm and elastomer == nbr\n  do: Two.\n");
    let mut room = Room::of(&procedure(&steps));
    assert!(
        room.play(&rehearsal_of("answers: [{at: plate, enter: A}]\nexpect: {outcome: released}\n"))
    );
    let n_missing = room.missing().len();
    assert!(room.coverage.excuse(&room.course, "two", "no plate says both"));
    assert_eq!(room.missing().len(), n_missing - 1);
    assert!(
        !room.coverage.excuse(&room.course, "two", "no plate says both"),
        "nothing is left there"
    );
    assert!(!room.coverage.excuse(&room.course, "plate", "it is taken"));
}

#[test]
fn steps_asked_and_not_asked_are_held_against_the_walk() {
    let steps = format!("{PLATE}- id: rinse\n  when: elastomer == epdm\n  do: Rinse it.\n");
    let mut room = Room::of(&procedure(&steps));
    let mut told = |letter: &str, expect: &str| {
        let script = rehearsal_of(&format!(
            "answers: [{{at: plate, enter: {letter}}}]\nexpect: {{outcome: released, {expect}}}\n"
        ));
        differences_of_last(&mut room, &script)
    };
    let none: [&str; 0] = [];
    assert_eq!(told("A", "asked: [rinse]"), none);
    assert_eq!(told("B", "not_asked: [rinse]"), none);
    assert_eq!(told("B", "asked: [rinse]"), ["rinse: asked but not asked"]);
    assert_eq!(told("A", "not_asked: [rinse]"), ["rinse: not asked but asked"]);
    // A slip of the pen would else be true for ever.
    assert_eq!(
        told("A", "not_asked: [rinze]"),
        ["rinze: not asked but no such step or section in this procedure"]
    );
}

#[test]
fn st6_a_state_that_runs_out_in_the_middle_of_a_list_is_set_again() {
    let items = (1..=15).map(|n| format!("      - Bolt {n} is out.\n"));
    let items = items.collect::<Vec<_>>().concat();
    let mut room = Room::of(&procedures::made(&format!(
        "tokens:\n  warm: {{title: Oil warmed, lasts: 8 min}}\nsteps:\n  - {{id: heat, do: Warm the oil., \
         sets: [warm]}}\n  - id: bolts\n    check: Take out the bolts.\n    needs: [warm]\n    items:\n\
         {items}    not_so: {{verdict: refer}}\n"
    )));
    let script = rehearsal_of("answers: []\nexpect: {outcome: released, asked: [bolts]}\n");
    let played = room.bench.play(&script).unwrap_or_else(|e| panic!("{e}"));
    assert!(played.is_as_expected(), "{:?} {:?}", played.stuck, played.differences);
    assert!(
        !played.session.state().expired.is_empty(),
        "the list was over before the oil was cold"
    );
}

/// A procedure that others perform: it assumes a state and reads the fit-out.
const PART: &str = "assumes: [locked]\ntokens:\n  locked: {title: Locked}\nsteps:\n  - {id: turn, do: Turn \
                    the shaft., needs: [locked]}\n  - {id: rinse, when: elastomer == epdm, do: Rinse it.}\n";

#[test]
fn au8_what_others_perform_is_rehearsed_alone_and_counts_for_its_file() {
    let mut room = Room::on(shelf_of(&procedures::made(PART)), ("made", true), "marram_3_40");
    let files: Vec<&str> = room.coverage.files().into_iter().collect();
    assert_eq!(files, ["made.yaml"], "what only plays it alone does not count");
    let missing = room.write();
    assert_eq!(room.missing(), Vec::<String>::new());
    let text = missing.written.expect("something is missing").text;
    assert!(text.contains("\nalone: true\n"), "{text}");
    assert!(room.play_all(&text), "{text}");
}

#[test]
fn fb6_a_wait_that_may_end_too_late_is_played_as_long_as_its_script_says() {
    let mut room = Room::of(&procedure(
        "- {id: settle, wait: The oil settles., for: 10 min, at_most: 10.5 min, too_late: {verdict: refer}}\n",
    ));
    let story = |answers: &str, verdict: &str| {
        rehearsal_of(&format!(
            "answers: [{answers}]\nexpect: {{outcome: released, verdicts: {{settle: {verdict}}}}}\n"
        ))
    };
    let decided = "{at: settle/decision, decide: accept, because: As seen}";
    assert!(room.play(&story("", "accept")));
    assert!(room.play(&story("{at: settle, waited: 630 s}", "accept")));
    let late = format!("{{at: settle, waited: 631 s}}, {decided}");
    assert!(room.play(&story(&late, "refer")));
    let missing = room.write();
    assert_eq!((missing.not_found, missing.written.map(|w| w.n_cases)), (Vec::new(), Some(1)));
}

#[test]
fn me8_what_is_written_says_what_was_done_of_failed_results_that_no_step_settles() {
    let mut room = Room::of(&procedure(SPRING));
    let written = room.write().written.expect("something is missing").text;
    let said = "{at: \"spring\", dispose: replaced, because: \"As this rehearsal needs it\"}";
    assert!(written.contains(said), "{written}");
    for story in script(&written).stories() {
        let played = room.bench.play(&story).unwrap();
        assert!(played.is_as_expected());
        assert_eq!(disposition::open(played.session.files(), played.session.state()), []);
    }
}

#[test]
fn what_is_not_written_says_why() {
    // Nothing sets the state that the step needs: no job comes past it.
    let mut room = Room::of(&procedure(
        "- {id: on, do: Go on., sets: [hot], needs: [hot]}\ntokens: {hot: {title: Hot}}\n",
    ));
    let missing = room.write();
    assert!(missing.written.is_none());
    let why = missing.stuck.expect("a reason").to_string();
    assert!(why.starts_with("at `on`: "), "{why}");
}

#[test]
fn au7_a_saved_script_is_played_with_the_people_and_things_of_the_shop() {
    let dir = folder("replace");
    let at = |path: &str| dir.path().join(path);
    let steps = format!(
        "{PLATE}- {{id: seat, look: Look at the seat., findings: {{fine: {{see: Fine, verdict: accept}}, worn: \
         {{see: Worn, verdict: refer}}}}}}\n- {{id: gap, measure: Measure it., with: calliper, unit: mm, limit: \
         spring.length, below: {{verdict: refer}}, could_not_measure: {{verdict: refer}}}}\n- {{id: lock, when: \
         seat == worn, do: Lock it.}}\n- {{id: cover, do: Lift the cover.}}\nalways:\n- {{first: lock, before: \
         cover, because: It can start.}}\n"
    );
    std::fs::write(at("made.yaml"), procedure(&steps)).unwrap();
    let prove = ["prove", "--save", "rehearsals", "made.yaml", "equipment/marram_3_40.yaml"];
    let (status, told) = program(&prove, dir.path());
    assert_eq!(status, 1, "{told}");
    assert!(!told.contains("before `rehearse` can play it"), "{told}");
    let saved = std::fs::read_to_string(at("rehearsals/made_breaks_1.yaml")).unwrap();
    assert!(saved.contains("machine: \"P-101A\"") && saved.contains("using: \"C-"), "{saved}");
    // It comes to its place although the promise is broken: what is rehearsed is no job.
    let (status, told) = program(&["rehearse", "rehearsals/made_breaks_1.yaml"], dir.path());
    assert_eq!(status, 0, "{told}");
    // Where the shop has no such machine, the author is told what to fill in.
    for file in ["made.yaml", "equipment/marram_3_40.yaml"] {
        let text = std::fs::read_to_string(at(file)).unwrap();
        std::fs::write(at(file), text.replace("equipment: marram_3_40", "equipment: marram_9"))
            .unwrap();
    }
    let (_, told) = program(&prove, dir.path());
    let gap = "before `rehearse` can play it: the shop file lists no machine of `marram_9`: put the mark of one \
               in the place of `MACHINE`, and its serial number in that of `0000000`";
    assert!(told.contains(gap), "{told}");
}
