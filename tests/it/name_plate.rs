//! One procedure, several builds: what the name plate says decides what is asked.

use witnessmark::walk::{Address, Answer, Command, Refusal};

use crate::support::procedures::EQUIPMENT;
use crate::support::pure::{Bench, files_of};
use crate::support::small_shop;

const HEAD: &str = "format: \"1.0\"\nequipment: marram_3_40\nrevision: 1\neffective: 2026-01-01\n\
    revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]\n\
    performed_by: apprentice\nsigned_by: mechanic\nsignal_words: ansi-z535\n";
const STEPS: &str = "title: Made\nsteps:\n- {id: plate, enter: The plate, kind: fit_out}\n\
    - id: valves\n  section: Valves\n  each: cylinder\n  steps:\n  - {id: wipe, do: Wipe it.}\n";

fn files(equipment: &str, more: &str) -> Result<witnessmark::walk::Files, String> {
    let made = format!("{HEAD}procedure: made\n{STEPS}{more}");
    let ring = format!(
        "{HEAD}procedure: ring\ntitle: The ring\nfit_outs: [B]\nsteps:\n- {{id: fit, do: Fit the ring.}}\n"
    );
    files_of(&[("made", &made), ("ring", &ring)], ("marram_3_40", equipment), "made")
}

fn bench(equipment: &str, more: &str) -> Bench {
    Bench::new(files(equipment, more).unwrap_or_else(|e| panic!("{e}")))
}

fn enter(bench: &mut Bench, plate: &str) -> Result<(), Refusal> {
    let address = Address::parse("plate").unwrap();
    bench.submit(Command::Answer {
        address,
        answer: Answer::Entered(plate.to_owned()),
        signed: None,
    })
}

fn steps(bench: &Bench) -> Vec<String> {
    bench.files.flow.instances.iter().map(|x| x.address.to_string()).collect()
}

#[test]
fn pc3_one_procedure_gives_other_steps_for_three_cylinders_and_for_five() {
    let of = |cylinders: &str| EQUIPMENT.replace("cylinder: [1, 2]", cylinders);
    let three = bench(&of("cylinder: [1, 2, 3]"), "");
    let five = bench(&of("cylinder: [1, 2, 3, 4, 5]"), "");
    assert_eq!(steps(&three).len(), 4);
    assert_eq!(steps(&five).len(), 6);
    assert_eq!(steps(&five)[5], "valves[cylinder=5]/wipe");
}

#[test]
fn pc3_a_performed_procedure_is_asked_only_of_the_fit_outs_that_it_is_written_for() {
    let more = "- {id: ring, perform: ring}\n";
    for (letter, progress) in [("A", (2, 1)), ("B", (3, 0))] {
        let mut bench = bench(EQUIPMENT, more);
        enter(&mut bench, letter).unwrap();
        for cylinder in [1, 2] {
            let address = Address::parse(&format!("valves[cylinder={cylinder}]/wipe")).unwrap();
            let command = Command::Answer { address, answer: Answer::Done, signed: None };
            bench.submit(command).unwrap();
        }
        let found = bench.state.progress();
        let asked = found.current + found.done - 1;
        assert_eq!((asked, found.not_applicable), progress, "{letter}");
        let ring = bench.files.flow.find(&Address::parse("ring/fit").unwrap()).unwrap();
        if let witnessmark::walk::place::Status::NotApplicable(guard) =
            bench.state.walk.status[ring]
        {
            let flow = &bench.files.flow;
            assert_eq!(flow.guard(guard).text(flow), "the fit-out is B");
        }
    }
}

#[test]
fn pc3_a_procedure_for_other_fit_outs_refuses_the_plate() {
    let mut bench = bench(EQUIPMENT, "fit_outs: [A]\n");
    let refusal = enter(&mut bench, "B").unwrap_err();
    assert!(matches!(refusal, Refusal::OtherFitOut { .. }), "{refusal}");
    let refusal = enter(&mut bench, "C").unwrap_err();
    assert!(matches!(refusal, Refusal::UnknownFitOut { .. }), "{refusal}");
    enter(&mut bench, "A").unwrap();
}

#[test]
fn pc3_a_fit_out_that_the_equipment_does_not_have_and_a_plate_read_too_early_are_the_authors() {
    let unknown = files(EQUIPMENT, "fit_outs: [Q]\n").map(|_| ()).unwrap_err();
    assert!(unknown.contains("WM601") && unknown.contains("no fit-out `Q`"), "{unknown}");
    let early =
        format!("{HEAD}procedure: made\ntitle: Made\nsteps:\n- {{id: ring, perform: ring}}\n");
    let ring = format!(
        "{HEAD}procedure: ring\ntitle: The ring\nfit_outs: [B]\nsteps:\n- {{id: fit, do: Fit it.}}\n"
    );
    let told = files_of(&[("made", &early), ("ring", &ring)], ("marram_3_40", EQUIPMENT), "made")
        .map(|_| ())
        .unwrap_err();
    assert!(told.contains("WM405") && told.contains("comes from the name plate"), "{told}");
}

#[test]
fn pc3_a_code_on_the_plate_decides_like_a_letter() {
    let coded = EQUIPMENT.replace(
        "fit_outs: {A: {title: One, elastomer: epdm}, B: {title: Other, elastomer: nbr}}",
        "name_plate: {code: [{at: 3, length: 2, means: {EP: {elastomer: epdm}, NB: {elastomer: nbr}}}]}",
    );
    let more = "- {id: wash, do: Wash it., when: elastomer == nbr}\n";
    let mut bench = bench(&coded, more);
    let refusal = enter(&mut bench, "34XX").unwrap_err().to_string();
    assert!(refusal.contains("`XX` at character 3"), "{refusal}");
    let refusal = enter(&mut bench, "34N").unwrap_err().to_string();
    assert!(refusal.contains("3 characters, and those of this equipment have 4"), "{refusal}");
    enter(&mut bench, "34NB").unwrap();
    assert_eq!(bench.state.walk.settings.len(), 1);
    assert_eq!(bench.state.walk.fit_out.as_deref(), Some("34NB"));
}

#[test]
fn pc3_a_serial_number_out_of_range_opens_no_job() {
    let bench = small_shop::Bench::with_serials("900", "999");
    let error = bench
        .shop
        .new_job(&witnessmark::ids::ProcedureId::new("small").unwrap(), "P-1")
        .map(|_| ())
        .unwrap_err()
        .to_string();
    assert!(error.contains("is for the serial numbers 900 to 999"), "{error}");
}
