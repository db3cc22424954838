//! The fluid calculations by name: what they take, refuse and answer.

use super::*;

fn fluid(name: &str) -> &'static Fluid {
    Fluid::named(name).expect(name)
}

fn refused(name: &str, given: &Given) -> String {
    fluid(name).answer(given).expect_err("refused").to_string()
}

fn suction() -> Given {
    Given::default()
        .with("altitude", 500.0)
        .between("level", 0.5, 2.0)
        .between("temperature", 283.15, 313.15)
        .between("speed", 100.0, 200.0)
        .with("displacement", 0.0009)
        .with("length", 3.0)
        .with("bore", 0.0627)
        .with("npsh_required", 3.0)
        .word("pump", "triplex")
}

#[test]
fn each_says_all_of_itself() {
    for fluid in &FLUIDS {
        assert!(!fluid.formulas.is_empty() && !fluid.valid.is_empty(), "{}", fluid.name);
        assert!(!fluid.sources.is_empty() && !fluid.inputs.is_empty(), "{}", fluid.name);
        assert_eq!(FLUIDS.iter().filter(|other| other.name == fluid.name).count(), 1);
    }
}

#[test]
fn missing_unknown_and_doubled_inputs_are_refused() {
    assert_eq!(refused("water", &Given::default()), "`temperature` is missing");
    let text = refused("water", &Given::default().with("temp", 300.0));
    assert!(text.starts_with("there is no input `temp`; the inputs are `temperature`"), "{text}");
    let text = refused("water", &Given::default().between("temperature", 290.0, 300.0));
    assert_eq!(text, "`temperature` is a single figure, not a range");
    let text = refused("suction", &suction().with("air_pressure", 1e5));
    assert!(text.contains("`altitude` and `air_pressure`"), "{text}");
    let text = refused("suction", &suction().with("margin_pressure", 1e4));
    assert!(text.contains("give `margin` instead"), "{text}");
    let mut no_requirement = suction();
    no_requirement.figures.remove("npsh_required");
    assert!(refused("suction", &no_requirement).contains("one of these is missing"));
    let text = refused("suction", &suction().word("pump", "sextuplex"));
    assert!(text.contains("`triplex`"), "{text}");
}

#[test]
fn the_suction_is_answered_with_verdict_and_changes() {
    let enough = fluid("suction").answer(&suction()).expect("an answer");
    assert_eq!(enough.meets, Some(true), "{:?}", enough.outcomes);
    assert!(enough.changes.is_empty() && !enough.weights.is_empty());
    let short = fluid("suction").answer(&suction().with("margin", 5.0)).expect("an answer");
    assert_eq!(short.meets, Some(false));
    assert!(!short.changes.is_empty());
    let high = suction().with("greatest_inlet_gauge", 1e4);
    assert_eq!(fluid("suction").answer(&high).expect("an answer").meets, Some(false));
}

#[test]
fn a_typed_limit_survives_the_change_of_units() {
    for (nu, grade) in
        [(28.8, "ISO VG 32"), (35.2, "ISO VG 32"), (35.3, "none"), (1.98, "ISO VG 2")]
    {
        let answer =
            fluid("viscosity_grade").answer(&Given::default().with("viscosity_40", nu * 1e-6));
        let main = answer.expect("an answer").outcomes.remove(0).value;
        assert_eq!(main, Value::Word(grade.to_owned()), "{nu}");
    }
}

#[test]
fn weights_come_from_doing_it_again() {
    let given = Given::default()
        .with("flow", 0.003)
        .with("length", 6.0)
        .with("bore", 0.0525)
        .with("viscosity", 1e-6);
    let weights = fluid("pipe_loss").answer(&given).expect("an answer").weights;
    assert!(weights.contains(&"1 % more length of the line: +1.00 %".to_owned()), "{weights:?}");
    assert!(weights.iter().any(|weight| weight.starts_with("1 % more bore of the line: -4.")));
}
