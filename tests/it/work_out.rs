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

const SUCTION: &str = "steps:\n\
    - {id: low, enter: The lowest level, kind: figure, unit: m}\n\
    - {id: high, enter: The highest level, kind: figure, unit: m}\n\
    - {id: dirty, enter: The loss of the dirty strainer, kind: figure, unit: bar diff}\n\
    - id: margin\n  work_out: Read what the suction leaves to spare.\n  calculation: suction_check\n  \
      given:\n    \
        altitude: 300 m\n    level: [low, high]\n    temperature: [8 °C, 18 °C]\n    speed: 220 rpm\n    \
        displacement: 0.185 L\n    length: 1.2 m\n    bore: 40 mm\n    strainer: [0.02 bar diff, dirty]\n    \
        cylinders: 3\n    npsh_required: 6 m\n    least_margin: 0.5 m\n  \
      unit: m\n  limit: {at_least: 0.5 m}\n  basis: The papers of the pump\n  \
      below: {verdict: refer, say: The line starves the pump.}\n  \
      could_not_work_out: {verdict: refer, say: The figures contradict each other.}\n";

/// A job up to the suction check, with the levels in metres and the strainer in bar.
fn surveyed(low: &str, high: &str, dirty: &str) -> Bench {
    let files = files_of(&[("made", &made(SUCTION))], ("marram_3_40", EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    for (id, text, unit) in
        [("low", low, Unit::Metre), ("high", high, Unit::Metre), ("dirty", dirty, Unit::BarDiff)]
    {
        bench.submit(answer(id, figure(text, unit))).unwrap();
    }
    bench
}

#[test]
fn me6_a_suction_is_worked_out_at_its_worst_and_says_which_term_to_change() {
    let mut bench = surveyed("0.5", "2", "0.3");
    let found = worked(&bench);
    assert_eq!(found.given["level"], "0.5 m to 2 m");
    assert_eq!(found.given["strainer"], "0.02 bar to 0.3 bar diff");
    // On paper: air 0.9777 bar and water of 18 °C (0.0206 bar, 998.6 kg/m³) make 9.772 m; level 0.5 m; 40.7 L/min
    // through 40 mm is 0.5398 m/s, v²/2g 0.01486 m: pipe (f = 0.0278) 0.0124 m, entry 0.0074 m; strainer 3.064 m;
    // strokes 1.2 · 0.5398 · 220 · 0.066/(1.5 · 9.80665) = 0.6394 m. 6.549 m are left, 0.549 m more than asked for.
    let margin: f64 = found.result.as_ref().unwrap().text.parse().unwrap();
    assert!((margin - 0.549).abs() < 0.002, "{margin}");
    bench.submit(answer("margin", Answer::WorkedOut(found))).unwrap();
    let judged = bench.entries.last().unwrap().event.judged().unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Accept));

    let mut bench = surveyed("0.2", "2", "0.3");
    let (index, _) = bench.asked().unwrap();
    let Ask::WorkOut(note) = &bench.files.flow.instance(index).ask else { panic!("worked out") };
    let working = bench.state.walk.working(&bench.files.flow, &bench.state, note).unwrap();
    let page = working.text();
    for line in [
        "the least level (0.2 m), the greatest temperature (18 °C), the greatest strainer loss (0.300 bar)",
        "NOT ENOUGH, 0.25 m is missing",
        "To change it\n  loss in the strainer at most 0.275 bar (now 0.300 bar)",
        "level: z = 0.2 m to 2 m (liquid level above the pump's centre line; negative below it; `low; high`)",
    ] {
        assert!(page.contains(line), "{line}: {page}");
    }
    let found = worked(&bench);
    bench.submit(answer("margin", Answer::WorkedOut(found))).unwrap();
    let judged = bench.entries.last().unwrap().event.judged().unwrap();
    assert_eq!(judged.verdict, Some(Verdict::Refer));
    replay_check(&bench.files, &bench.entries).unwrap();
}

#[test]
fn me6_a_range_upside_down_or_a_liquid_that_boils_gives_no_figure() {
    for (low, high, dirty, why) in [
        ("2", "0.5", "0.3", "exchange them"),
        ("-8", "0.5", "0.3", "the liquid boils before the pump"),
    ] {
        let mut bench = surveyed(low, high, dirty);
        let found = worked(&bench);
        assert!(found.result.as_ref().unwrap_err().contains(why), "{found:?}");
        bench.submit(answer("margin", Answer::WorkedOut(found))).unwrap();
        let judged = bench.entries.last().unwrap().event.judged().unwrap();
        assert_eq!(judged.verdict, Some(Verdict::Refer));
    }
}

#[test]
fn a_range_takes_two_figures_and_no_more() {
    let steps = SUCTION.replace("level: [low, high]", "level: [low, high, high]");
    let refused = files_of(&[("made", &made(&steps))], ("marram_3_40", EQUIPMENT), "made");
    let told = refused.unwrap_err();
    assert!(told.contains("`level` takes one figure, or the least and the greatest"), "{told}");
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
