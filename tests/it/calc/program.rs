//! `witnessmark calc` as people and programs call it.

use std::process::Command;

use num_bigint::BigInt;
use num_rational::Ratio;
use proptest::prelude::*;
use serde_json::Value;
use witnessmark::calc::{self, ALL, Calculation, Figure, Given, Inputs, Takes, Working};
use witnessmark::canonical;

fn example(calculation: &Calculation) -> Working {
    let inputs =
        Inputs::read(calculation, calculation.example.iter().copied(), "as given").unwrap();
    calc::run(calculation, &inputs).unwrap()
}

fn run(arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_witnessmark"));
    let output = command.args(arguments).env_clear().output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(&calc::schema()).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

#[test]
fn every_calculation_explains_itself() {
    let pages: Vec<String> = ALL.iter().map(|calculation| calculation.explain()).collect();
    insta::assert_snapshot!(pages.join("\n\n\n"));
}

#[test]
fn every_example_reads_as_on_paper() {
    let pages: Vec<String> = ALL.iter().map(|calculation| example(calculation).text()).collect();
    insta::assert_snapshot!(pages.join("\n\n\n"));
}

#[test]
fn the_same_bits_everywhere() {
    let mut lines = Vec::new();
    for calculation in ALL {
        for result in &example(calculation).results {
            let bits = match &result.value {
                calc::Value::Figure(si) => format!("{:016x}", si.to_bits()),
                calc::Value::Figures(list) => list
                    .iter()
                    .map(|si| format!("{:016x}", si.to_bits()))
                    .collect::<Vec<_>>()
                    .join(" "),
                calc::Value::Word(word) => word.clone(),
            };
            lines.push(format!("{} {} {bits}", calculation.name, result.name));
        }
    }
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn json_is_canonical_and_as_its_schema_says() {
    let schema = validator();
    for calculation in ALL {
        for value in [example(calculation).json(), calculation.json()] {
            let faults: Vec<String> = schema.iter_errors(&value).map(|e| e.to_string()).collect();
            assert!(faults.is_empty(), "{}: {faults:?}", calculation.name);
            assert!(canonical::is_canonical(&canonical::to_line(&value)));
        }
        let mut value = example(calculation).json();
        value["results"][0]["si"] = 1.5.into();
        assert!(!schema.is_valid(&value), "a schema that lets everything through");
    }
    let (status, out, _) = run(&["calc", "--json"]);
    let all: Value = serde_json::from_str(&out).unwrap();
    assert!(status == 0 && schema.is_valid(&all));
    assert_eq!(all.as_array().unwrap().len(), ALL.len());
}

#[test]
fn the_committed_schema_is_the_generated_one() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("schemas/calc.schema.json");
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text == calc::schema(), "out of date: run `witnessmark generate schemas`");
}

#[test]
fn the_program_lists_explains_works_out_and_refuses() {
    let (status, out, _) = run(&["calc"]);
    assert_eq!(status, 0);
    assert!(ALL.iter().all(|calculation| out.contains(calculation.title)));
    let (status, out, _) = run(&["calc", "spring_load", "--explain"]);
    assert!(status == 0 && out.contains("Formulas\n  F = R·(L0 − L)"), "{out}");
    let given =
        ["calc", "spring_load", "rate=10 N/mm", "free_length=60 mm", "working_length=45 mm"];
    let (status, out, err) = run(&given);
    assert!(status == 0 && out.contains("load: 150 N"), "{out}{err}");
    let json = [&given[..], &["--json", "at_least=160 N"]].concat();
    let (status, out, _) = run(&json);
    let value: Value = serde_json::from_str(&out).unwrap();
    assert!(status == 0 && validator().is_valid(&value));
    assert_eq!(value["results"].as_array().unwrap().last().unwrap()["word"], "below");
    assert_eq!(value["results"][0]["si"], "150");
    for (arguments, status, told) in [
        (vec!["spring_lod"], 2, "do you mean `spring_"),
        (vec!["spring_load"], 2, "`rate` is missing: spring rate; such as `rate=\"11.9 N/mm\"`"),
        (vec!["spring_load", "stiffness=1 N/mm"], 2, "has no input `stiffness`; it takes `rate`"),
        (vec!["spring_load", "rate"], 2, "inputs are written `name=value`, such as `rate="),
        (vec!["spring_load", "rate=1 N/mm", "rate=2 N/mm"], 2, "`rate` is given twice"),
        (vec!["spring_load", "rate=10"], 3, "`rate` has no unit; a spring rate is asked for: N/mm"),
        (
            vec!["spring_load", "rate=-1 N/mm", "free_length=60 mm", "working_length=45 mm"],
            3,
            "it must lie from 0.0001 N/mm",
        ),
        (vec!["pulsation", "cylinders=3", "acting=triple"], 3, "it is one of `single`, `double`"),
        (vec!["theoretical_flow", "displacement=NaN", "speed=1 rpm"], 3, "no figure"),
        (
            vec!["suction_check", "tank_pressure=0.5 bar"],
            3,
            "`bar`, which can mean different things: `bar gauge`, `bar abs` or `bar diff`; a gauge pressure",
        ),
        (vec!["suction_check", "level=2 to 1 m", "length=1 m", "bore=50 mm"], 3, "exchange them"),
        (
            vec!["suction_check", "level=1 m", "length=1 m", "bore=50 mm"],
            3,
            "one of these is missing",
        ),
    ] {
        let (ended, out, err) = run(&[&["calc"], arguments.as_slice()].concat());
        assert_eq!(ended, status, "{arguments:?}: {out}{err}");
        assert!(err.contains(told) && err.contains("next: "), "{arguments:?}: {err}");
    }
}

/// Any figure at all, sensible or not, as the exact figure that a reading becomes.
fn any_figure() -> impl Strategy<Value = Ratio<BigInt>> {
    (any::<i64>(), -30i32..30).prop_map(|(digits, power)| {
        let ten = Ratio::from_integer(BigInt::from(10));
        Ratio::from_integer(BigInt::from(digits)) * num_traits::Pow::pow(ten, power)
    })
}

proptest! {
    #[test]
    fn a_wild_figure_is_refused_or_reckoned_with(
        which in 0..ALL.len(),
        place in any::<prop::sample::Index>(),
        wild in any_figure(),
        share in 0u32..=1000,
    ) {
        let calculation = ALL[which];
        let mut inputs =
            Inputs::read(calculation, calculation.example.iter().copied(), "a test").unwrap();
        let input = place.get(calculation.inputs);
        let Some(dimension) = input.takes.dimension() else { return Ok(()) };
        let range = input.range.unwrap();
        let [low, high] = [range.low, range.high].map(|end| Figure::read(end, dimension).unwrap().si);
        // Half of the tries lie in the range, some at its very ends.
        let si = if share % 2 == 0 { &low + (&high - &low) * Ratio::new(share.into(), 1000.into()) } else { wild };
        let si = if input.takes == Takes::Count { si.trunc() } else { si };
        let figure = Figure::new(si, dimension, "wild");
        let given = match input.takes {
            Takes::Figures(_) => Given::Figures(vec![figure]),
            _ => Given::Figure(figure),
        };
        inputs.set(input.name, given, "a test");
        match calc::run(calculation, &inputs) {
            Ok(working) => {
                let page = format!("{}{}", working.text(), working.json());
                prop_assert!(!page.contains("NaN") && !page.contains(" inf"), "{page}");
            }
            Err(refusal) => {
                let text = refusal.to_string();
                prop_assert!(!text.contains("NaN") && !text.contains("not a number"), "{text}");
            }
        }
    }
}
