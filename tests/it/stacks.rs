//! Stacks: one description for both orders of laying, layers by fit-out, lots, parts fitted.

use witnessmark::ids::Name;
use witnessmark::walk::event::Laid;
use witnessmark::walk::fitted::{fitted, needed_and_not_fitted};
use witnessmark::walk::flow::Ask;
use witnessmark::walk::place::Stand;
use witnessmark::walk::{Address, Answer, Command, Refusal, exceptions, replay};

use crate::support::procedures::made;
use crate::support::pure::{Bench, files_of};

const EQUIPMENT: &str = r#"format: "1.0"
equipment: marram_3_40
title: Test machine
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]
positions: {side: [inlet, outlet]}
settings: {noise_ring: [fitted, none]}
fit_outs: {A: {title: One, noise_ring: fitted}, B: {title: Other, noise_ring: none}}
parts:
  seat: {title: Seat, per: side, always_new: true, lot: true}
  disc: {title: Disc, per: side}
  noise_ring: {title: Noise ring}
  cage: {title: Cage, per: side}
stacks:
  valve:
    title: Valve
    layers:
      - {layer: seat, part: seat, face: the keyed face, toward: against_flow}
      - {layer: disc, part: disc, face: the ribbed face, toward: with_flow}
      - {layer: noise_ring, part: noise_ring, when: noise_ring == fitted and side == outlet}
      - {layer: cage, part: cage}
"#;

const VALVES: &str = "- {id: plate, enter: Letter, kind: fit_out}
- id: valves
  section: Valves
  each: side
  steps:
    - {id: lay_inlet, when: side == inlet, build: Lay the inlet., stack: valve, laid: against_flow}
    - {id: lay_outlet, when: side == outlet, build: Lay the outlet., stack: valve, laid: with_flow}
- {id: close, do: Close the cover.}
";

const INLET: &str = "valves[side=inlet]/lay_inlet";
const OUTLET: &str = "valves[side=outlet]/lay_outlet";

fn bench(steps: &str) -> Bench {
    let text = made(&format!("steps:\n{steps}"));
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn laid(layer: &str, lot: Option<&str>) -> Laid {
    Laid { layer: Name::new(layer).unwrap(), so: true, lot: lot.map(str::to_owned) }
}

fn lay(bench: &mut Bench, address: &str, laid: Laid) -> Result<(), Refusal> {
    bench.submit(Command::LayLayer { address: at(address), laid })
}

fn plate(bench: &mut Bench, letter: &str) {
    let answer = Answer::Entered(letter.to_owned());
    bench.submit(Command::Answer { address: at("plate"), answer, signed: None }).unwrap();
}

fn asked(bench: &Bench) -> String {
    bench.asked().map_or_else(|| "nothing".to_owned(), |(_, address)| address.to_string())
}

/// The layers of a build step as the person is shown them, with how each lies.
fn layers(bench: &Bench, address: &str) -> Vec<String> {
    let index = bench.files.flow.find(&at(address)).unwrap();
    let due = bench.state.walk.layers_due(&bench.files.flow, &bench.state, index);
    due.iter().map(|note| format!("{} {}", note.id, note.lies.as_deref().unwrap_or("-"))).collect()
}

#[test]
fn in4_inlet_and_outlet_come_from_one_description_and_lie_the_other_way_round() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "A");
    assert_eq!(
        layers(&bench, INLET),
        [
            "cage -",
            "disc the ribbed face down, to the oil",
            "seat the keyed face up, to the liquid"
        ]
    );
    assert_eq!(
        layers(&bench, OUTLET),
        [
            "seat the keyed face down, to the oil",
            "disc the ribbed face up, to the liquid",
            "noise_ring -",
            "cage -"
        ]
    );
    for (address, first_is_flow) in [(INLET, false), (OUTLET, true)] {
        let index = bench.files.flow.find(&at(address)).unwrap();
        assert!(matches!(&bench.files.flow.instance(index).ask,
            Ask::Build { flows_to_last, .. } if *flows_to_last == first_is_flow));
    }
}

#[test]
fn in4_only_the_next_layer_can_be_laid_and_a_lot_is_asked_where_one_is_kept() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    let refusal = lay(&mut bench, INLET, laid("seat", Some("K-1"))).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "the layer `seat` is not due now: next comes Cage; lay that one first"
    );
    let with_lot = lay(&mut bench, INLET, laid("cage", Some("K-1"))).unwrap_err();
    assert!(matches!(with_lot, Refusal::LotNotDue { .. }));
    lay(&mut bench, INLET, laid("cage", None)).unwrap();
    lay(&mut bench, INLET, laid("disc", None)).unwrap();
    assert!(matches!(
        lay(&mut bench, INLET, laid("seat", None)).unwrap_err(),
        Refusal::LotMissing { .. }
    ));
    assert_eq!(asked(&bench), INLET);
    lay(&mut bench, INLET, laid("seat", Some("K-1"))).unwrap();
    assert_eq!(asked(&bench), OUTLET);
    // The noise ring is not in this fit-out: three layers, not four.
    assert_eq!(layers(&bench, OUTLET).len(), 3);
    let whole = Answer::Built(Vec::new());
    let command = Command::Answer { address: at(OUTLET), answer: whole, signed: None };
    assert!(matches!(bench.submit(command), Err(Refusal::WrongKind { .. })));
}

#[test]
fn in4_what_was_laid_before_an_interruption_is_there_after_it() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    lay(&mut bench, INLET, laid("cage", None)).unwrap();
    bench.identify("t.reiter");
    bench.take_up_now();
    let again = replay(&bench.files.flow, &bench.entries).unwrap();
    assert_eq!(again, bench.state);
    lay(&mut bench, INLET, laid("disc", None)).unwrap();
    lay(&mut bench, INLET, laid("seat", Some("K-1"))).unwrap();
    let by: Vec<String> = fitted(&bench.files, &bench.state)
        .iter()
        .map(|part| format!("{} by {}", part.part, part.by.as_ref().unwrap()))
        .collect();
    assert_eq!(by, ["cage by i.varga", "disc by t.reiter", "seat by t.reiter"]);
}

#[test]
fn in4_a_layer_that_does_not_lie_so_ends_the_step_at_the_mechanic() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    lay(&mut bench, INLET, laid("cage", None)).unwrap();
    let not_so = Laid { so: false, ..laid("disc", None) };
    lay(&mut bench, INLET, not_so).unwrap();
    assert_eq!(asked(&bench), "valves[side=inlet]/lay_inlet/decision");
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("does not lie as it must: Disc"), "{lines}");
}

#[test]
fn in4_a_corrected_fit_out_opens_the_stack_again_at_the_layer_that_is_missing() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    for (address, layers) in [(INLET, ["cage", "disc", "seat"]), (OUTLET, ["seat", "disc", "cage"])]
    {
        for layer in layers {
            let lot = (layer == "seat").then_some("K-1");
            lay(&mut bench, address, laid(layer, lot)).unwrap();
        }
    }
    assert_eq!(asked(&bench), "close");
    let command = Command::Correct {
        address: at("plate"),
        answer: Answer::Entered("A".to_owned()),
        reason: "the plate was dirty".to_owned(),
        signed: None,
    };
    bench.submit(command).unwrap();
    assert_eq!(asked(&bench), OUTLET);
    let early = lay(&mut bench, OUTLET, laid("seat", Some("K-1"))).unwrap_err();
    assert!(early.to_string().contains("next comes Noise ring"), "{early}");
    lay(&mut bench, OUTLET, laid("noise_ring", None)).unwrap();
    lay(&mut bench, OUTLET, laid("cage", None)).unwrap();
    assert_eq!(asked(&bench), "close");
}

#[test]
fn in4_a_lot_is_corrected_like_any_answer() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    for layer in [laid("cage", None), laid("disc", None), laid("seat", Some("K-1"))] {
        lay(&mut bench, INLET, layer).unwrap();
    }
    let anew = |layers: Vec<Laid>| Command::Correct {
        address: at(INLET),
        answer: Answer::Built(layers),
        reason: "the lot was misread".to_owned(),
        signed: None,
    };
    let short = anew(vec![laid("cage", None)]);
    assert!(matches!(bench.submit(short), Err(Refusal::WrongKind { .. })));
    let all = vec![laid("cage", None), laid("disc", None), laid("seat", Some("K-7"))];
    bench.submit(anew(all)).unwrap();
    let lots: Vec<_> = fitted(&bench.files, &bench.state).into_iter().map(|p| p.lot).collect();
    assert_eq!(lots, [None, None, Some("K-7".to_owned())]);
    assert_eq!(bench.state.corrections.len(), 1);
}

#[test]
fn pc6_what_was_laid_is_fitted_with_lot_and_position_and_what_is_missing_is_looked_at() {
    let mut bench = bench(VALVES);
    plate(&mut bench, "B");
    for layer in [laid("cage", None), laid("disc", None), laid("seat", Some("K-1"))] {
        lay(&mut bench, INLET, layer).unwrap();
    }
    let seat = fitted(&bench.files, &bench.state).pop().unwrap();
    assert_eq!(
        (seat.part.as_str(), seat.lot.as_deref(), seat.position.as_str()),
        ("seat", Some("K-1"), "side=inlet")
    );
    assert_eq!(seat.step.to_string(), INLET);
    let missing = |bench: &Bench| {
        let lines = exceptions::list(&bench.files, &bench.state);
        lines.into_iter().filter(|line| line.contains("needed")).collect::<Vec<_>>()
    };
    assert_eq!(missing(&bench), ["seat for side=outlet: 1 needed, 0 fitted"]);
    for layer in [laid("seat", Some("K-2")), laid("disc", None), laid("cage", None)] {
        lay(&mut bench, OUTLET, layer).unwrap();
    }
    assert!(missing(&bench).is_empty());
    let close = Command::Answer { address: at("close"), answer: Answer::Done, signed: None };
    bench.submit(close).unwrap();
    assert_eq!(bench.state.walk.stand, Stand::End);
}

#[test]
fn a_stack_is_read_where_its_fit_out_and_position_are_known() {
    let refused = |steps: &str| {
        let text = made(&format!("steps:\n{steps}"));
        files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").unwrap_err()
    };
    let lone = "- {id: plate, enter: Letter, kind: fit_out}\n\
        - {id: lay, build: Lay it., stack: valve, laid: with_flow}\n";
    assert!(refused(lone).contains("no `side` is current here"), "{}", refused(lone));
    let unknown = lone.replace("stack: valve", "stack: valv");
    assert!(refused(&unknown).contains("there is no stack `valv`"), "{}", refused(&unknown));
    let early = VALVES.replace("- {id: plate, enter: Letter, kind: fit_out}\n", "");
    assert!(refused(&early).contains("comes from the name plate"), "{}", refused(&early));
}

/// A part that goes in with a step that builds no stack counts once that step is done as it must be;
/// one that no step fits is told all the same.
#[test]
fn what_a_step_fits_counts_and_what_no_step_fits_is_told() {
    let equipment = crate::support::procedures::EQUIPMENT.replace(
        "parts: {",
        "parts: {gasket: {title: Gasket, always_new: true}, seal: {title: Seal, always_new: true}, ",
    );
    let steps = "steps:\n- {id: lid, do: Lay the lid on its gasket., fits: [gasket]}\n";
    let made = crate::support::procedures::made(steps);
    let files = files_of(&[("made", &made)], ("marram_3_40", &equipment), "made").unwrap();
    let mut bench = Bench::new(files);
    let told = |bench: &Bench| needed_and_not_fitted(&bench.files, &bench.state);
    let nothing = "gasket for the machine: 1 needed, 0 fitted";
    let no_step = "seal for the machine: 1 needed, 0 fitted";
    assert_eq!(told(&bench), [nothing, no_step]);
    let address = Address::parse("lid").unwrap();
    bench.submit(Command::Answer { address, answer: Answer::Done, signed: None }).unwrap();
    assert_eq!(told(&bench), [no_step]);
    let part = fitted(&bench.files, &bench.state).pop().unwrap();
    assert_eq!((part.title.as_str(), part.layer, part.quantity), ("Gasket", None, 1));

    let wrong = made.replace("[gasket]", "[gaskett]");
    let fault = files_of(&[("made", &wrong)], ("marram_3_40", &equipment), "made").unwrap_err();
    assert!(fault.contains("did you mean `gasket`?"), "{fault}");
}
