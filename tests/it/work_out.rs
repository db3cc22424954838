//! What the program works out: with which figures, what follows, and that nobody can write another
//! result into a record.

use witnessmark::procedure::model::Verdict;
use witnessmark::record::replay::{ReplayFault, replay_check};
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::event::WorkedOut;
use witnessmark::walk::flow::Ask;
use witnessmark::walk::place::Stand;
use witnessmark::walk::{Address, Answer, Command, Event, Refusal};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};

const STEPS: &str = "steps:\n\
    - {id: speed, enter: The speed, kind: figure, unit: rpm}\n\
    - {id: flow, enter: The flow, kind: figure, unit: L/min}\n\
    - id: share\n  work_out: Read what the pump delivers.\n  calculation: volumetric_efficiency\n  \
      given: {displacement: 0.2262 L, speed: speed, flow: flow}\n  unit: \"%\"\n  \
      limit: {at_least: \"90 %\"}\n  basis: The curve\n  \
      below: {verdict: refer, say: A valve leaks.}\n  \
      could_not_work_out: {verdict: refer, say: The shaft stood still.}\n\
    - {id: low, when: share.verdict == refer, do: Look for the leaking valve.}\n";

fn bench() -> Bench {
    let files = files_of(&[("made", &made(STEPS))], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn answer(address: &str, answer: Answer) -> Command {
    Command::Answer { address: at(address), answer, signed: None }
}

fn figure(text: &str, unit: Unit) -> Answer {
    Answer::EnteredFigure(Reading::parse(text, unit).unwrap())
}

/// What the program makes of the step that is asked.
fn worked(bench: &Bench) -> WorkedOut {
    let (index, _) = bench.asked().unwrap();
    let Ask::WorkOut(note) = &bench.files.flow.instance(index).ask else {
        panic!("not worked out")
    };
    bench.state.walk.worked_out(&bench.files.flow, &bench.state, note)
}

/// A job up to the calculation, at 300 turns a minute.
fn measured(flow: &str) -> Bench {
    let mut bench = bench();
    let (speed, flow) =
        (figure("300", Unit::RevolutionPerMinute), figure(flow, Unit::LitrePerMinute));
    bench.submit(answer("speed", speed)).unwrap();
    bench.submit(answer("flow", flow)).unwrap();
    bench
}

#[test]
fn me6_a_result_follows_from_its_formula_and_its_inputs() {
    let mut bench = measured("62.4");
    // 62.4 / (0.2262 · 300) = 0.919540, by hand.
    let found = worked(&bench);
    assert_eq!(found.result.as_ref().unwrap().text, "91.954");
    assert_eq!(found.given["displacement"], "0.2262 L");
    assert_eq!(found.given["flow"], "62.4 L/min");
    bench.submit(answer("share", Answer::WorkedOut(found))).unwrap();
    assert_eq!(bench.state.walk.stand, Stand::End);
    let judged = bench.entries.last().unwrap().event.judged().unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Accept));
}

#[test]
fn me6_a_corrected_input_has_the_result_worked_out_again() {
    let mut bench = measured("62.4");
    let first = worked(&bench);
    bench.submit(answer("share", Answer::WorkedOut(first.clone()))).unwrap();
    let correct = |address: &str, answer: Answer| Command::Correct {
        address: at(address),
        answer,
        reason: "Read off the wrong line".to_owned(),
        signed: None,
    };
    bench.submit(correct("flow", figure("52.4", Unit::LitrePerMinute))).unwrap();
    assert_eq!(bench.asked().unwrap().1, at("share"), "it no longer stands");
    // Nobody confirms the old one or types another.
    let old = bench.submit(answer("share", Answer::WorkedOut(first.clone()))).unwrap_err();
    assert!(matches!(old, Refusal::WorkedOutOtherwise { .. }), "{old}");
    let typed = bench.submit(correct("share", Answer::WorkedOut(first))).unwrap_err();
    assert!(matches!(typed, Refusal::WorkedOutNotCorrected), "{typed}");
    let anew = worked(&bench);
    assert_eq!(anew.result.as_ref().unwrap().text, "77.2178");
    bench.submit(answer("share", Answer::WorkedOut(anew))).unwrap();
    let judged = bench.entries.last().unwrap().event.judged().unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Refer));
}

#[test]
fn me6_an_edited_result_is_named_at_its_entry() {
    let mut bench = measured("52.4");
    let found = worked(&bench);
    bench.submit(answer("share", Answer::WorkedOut(found))).unwrap();
    replay_check(&bench.files, &bench.entries).unwrap();
    let mut forged = bench.entries.clone();
    let n = forged.len() - 1;
    let Event::Answered { answer: Answer::WorkedOut(worked), .. } = &mut forged[n].event else {
        panic!("the last entry is the result")
    };
    worked.result = Ok(Reading::parse("92.1", Unit::Percent).unwrap());
    let fault = replay_check(&bench.files, &forged).unwrap_err();
    let ReplayFault::Departs { n: named, address, .. } = &fault else { panic!("{fault}") };
    assert_eq!((*named, address.as_ref()), (forged[n].n, Some(&at("share"))), "{fault}");
}

#[test]
fn what_a_calculation_refuses_has_an_exit_and_never_a_figure() {
    let mut bench = bench();
    bench.submit(answer("speed", figure("0", Unit::RevolutionPerMinute))).unwrap();
    bench.submit(answer("flow", figure("62.4", Unit::LitrePerMinute))).unwrap();
    let found = worked(&bench);
    let why = found.result.clone().unwrap_err();
    assert!(!why.is_empty() && !why.contains("NaN"), "{why}");
    bench.submit(answer("share", Answer::WorkedOut(found))).unwrap();
    let judged = bench.entries.last().unwrap().event.judged().unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Refer));
}

#[test]
fn a_mistake_in_what_is_given_is_told_with_its_mend() {
    let told = |from: &str, to: &str| {
        let steps = STEPS.replace(from, to);
        assert_ne!(steps, STEPS, "{from}");
        files_of(&[("made", &made(&steps))], ("marram_3_40", EQUIPMENT), "made").unwrap_err()
    };
    for (from, to, said) in [
        ("volumetric_efficiency", "volumetric_eficiency", "did you mean `volumetric_efficiency`"),
        ("displacement: 0.2262 L, ", "", "is not given `displacement`"),
        ("flow: flow}", "flows: flow}", "did you mean `flow`"),
        ("flow: flow}", "flow: speed}", "`flow` takes"),
        (
            "unit: \"%\"\n  limit: {at_least: \"90 %\"}",
            "unit: mm\n  limit: {at_least: 9 mm}",
            "gives it in",
        ),
        ("below: {verdict: refer, say: A valve leaks.}", "basis: B", "below"),
        ("flow: flow}", "flow: low}", "not answered before"),
    ] {
        let found = told(from, to);
        assert!(found.contains(said), "{from} -> {to}: {found}");
    }
}
