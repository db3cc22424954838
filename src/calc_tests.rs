//! What holds for every calculation of the registry.

use super::*;

fn example(calculation: &Calculation) -> Inputs {
    Inputs::read(calculation, calculation.example.iter().copied(), "the example").unwrap()
}

#[test]
fn every_name_is_a_word_of_its_own() {
    let mut names = std::collections::BTreeSet::new();
    let is_name = |name: &str| {
        name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    };
    for calculation in ALL {
        assert!(names.insert(calculation.name) && is_name(calculation.name));
        assert_eq!(find(calculation.name).map(|c| c.name), Some(calculation.name));
        let mut inputs = std::collections::BTreeSet::new();
        for name in calculation.input_names() {
            assert!(is_name(name) && inputs.insert(name), "{}: {name}", calculation.name);
        }
        let mut outputs = std::collections::BTreeSet::from([VERDICT]);
        for Output { name, .. } in calculation.outputs {
            assert!(is_name(name) && outputs.insert(name), "{}: {name}", calculation.name);
        }
        assert!(!calculation.sources.is_empty() && !calculation.valid.is_empty());
        assert!(!calculation.formulas.is_empty() && !calculation.outputs.is_empty());
    }
    assert!(find("no_such").is_none());
}

#[test]
fn every_range_default_and_unit_can_be_read() {
    for calculation in ALL {
        for input in calculation.inputs {
            let what = format!("{} {}", calculation.name, input.name);
            let dimension = input.takes.dimension();
            let Some(dimension) = dimension else { continue };
            assert!(Unit::of(dimension, input.unit).is_some() || input.unit.is_empty(), "{what}");
            let range = input.range.expect(&what);
            let low = Figure::read(range.low, dimension).expect(&what);
            let high = Figure::read(range.high, dimension).expect(&what);
            assert!(low.si < high.si, "{what}");
            if let Need::Default(text) = input.need {
                let default = Figure::read_list(text, dimension).expect(&what);
                assert!(default.iter().all(|f| f.si >= low.si && f.si <= high.si), "{what}");
            }
        }
        for output in calculation.outputs {
            if let Gives::Figure(dimension) | Gives::Figures(dimension) = output.gives {
                let unit = Unit::named(output.unit);
                assert_eq!(unit.dimension(), dimension, "{} {}", calculation.name, output.name);
            }
        }
        if let Some(held) = calculation.held {
            assert!(calculation.takes(AT_LEAST).is_some(), "{} {held:?}", calculation.name);
            assert!(calculation.takes(AT_MOST).is_some(), "{} {held:?}", calculation.name);
        }
    }
}

#[test]
fn every_example_is_worked_out_with_all_that_is_declared() {
    for calculation in ALL {
        let working = run(calculation, &example(calculation))
            .unwrap_or_else(|refusal| panic!("{}: {refusal}", calculation.name));
        for output in calculation.outputs.iter().filter(|output| output.absent.is_empty()) {
            assert!(working.result(output.name).is_some(), "{} {}", calculation.name, output.name);
        }
        assert!(!working.lines.is_empty(), "{}", calculation.name);
        assert_eq!(working, run(calculation, &example(calculation)).unwrap());
        // How a result stands against a limit is said beside the results and is none of them.
        let alone = results(calculation, &example(calculation)).unwrap();
        let said = working.results.iter().filter(|outcome| alone.contains(outcome));
        assert!(!alone.is_empty() && said.eq(&alone), "{}", calculation.name);
    }
}

#[test]
fn one_missing_unknown_or_wild_input_is_refused_by_name() {
    for calculation in ALL {
        let given = example(calculation);
        let mut other = given.clone();
        other.set("no_such", Given::Word("x".to_owned()), "a test");
        let refusal = run(calculation, &other).unwrap_err().to_string();
        assert!(refusal.contains("has no input `no_such`"), "{refusal}");
        for input in calculation.inputs {
            let what = format!("{} {}", calculation.name, input.name);
            if input.need == Need::Required {
                let left = calculation.example.iter().copied().filter(|(n, _)| *n != input.name);
                let left = Inputs::read(calculation, left, "a test").unwrap();
                let refusal = run(calculation, &left).unwrap_err().to_string();
                assert!(refusal.contains(&format!("`{}` is missing", input.name)), "{refusal}");
            }
            let mut wild = given.clone();
            wild.set(input.name, Given::Word("furlong".to_owned()), "a test");
            let refusal = run(calculation, &wild).unwrap_err().to_string();
            assert!(refusal.contains(input.name), "{what}: {refusal}");
            let Some(dimension) = input.takes.dimension() else { continue };
            for wild_figure in ["-1", "1"] {
                let digits = format!("{wild_figure}{}", "0".repeat(30));
                let si = digits.parse::<num_bigint::BigInt>().unwrap().into();
                let figure = Figure::new(si, dimension, digits);
                let wild_one = if matches!(input.takes, Takes::Figures(_)) {
                    Given::Figures(vec![figure])
                } else {
                    Given::Figure(figure)
                };
                let mut wild = given.clone();
                wild.set(input.name, wild_one, "a test");
                let refusal = run(calculation, &wild).unwrap_err().to_string();
                let range = input.range.unwrap();
                assert!(refusal.contains(range.because), "{what}: {refusal}");
                assert!(refusal.contains(range.low) && refusal.contains(range.high), "{refusal}");
            }
        }
    }
}

#[test]
fn limits_are_held_against_the_result_and_must_leave_room() {
    let inputs = |texts: &[(&'static str, &'static str)]| {
        let own = [("rate", "10 N/mm"), ("free_length", "60 mm"), ("working_length", "45 mm")];
        let all = own.iter().copied().chain(texts.iter().copied());
        Inputs::read(&spring::SPRING_LOAD, all, "a test").unwrap()
    };
    for (limits, verdict) in [
        (vec![("at_least", "150 N")], Some("within")),
        (vec![("at_least", "150.1 N")], Some("below")),
        (vec![("at_most", "149 N")], Some("above")),
        (vec![("at_least", "100 N"), ("at_most", "200 N")], Some("within")),
        (vec![], None),
    ] {
        let working = run(&spring::SPRING_LOAD, &inputs(&limits)).unwrap();
        assert_eq!(working.word(VERDICT), verdict, "{limits:?}");
        assert_eq!(working.compared_with.len(), limits.len());
    }
    let crossed = inputs(&[("at_least", "200 N"), ("at_most", "100 N")]);
    let refusal = run(&spring::SPRING_LOAD, &crossed).unwrap_err();
    assert!(refusal.to_string().contains("nothing can lie between"), "{refusal}");
}

#[test]
fn what_each_figure_weighs_is_told() {
    let working = run(&spring::SPRING_RATE, &example(&spring::SPRING_RATE)).unwrap();
    let told = |what: &str| {
        let weight = working.sensitivity.iter().find(|weight| weight.input == what).unwrap();
        (weight.step.as_str(), weight.effect.as_str())
    };
    assert_eq!(told("wire"), ("1 % more", "+0.485 N/mm (+4.06 %)"));
    assert_eq!(told("mean_diameter"), ("1 % more", "−0.351 N/mm (−2.94 %)"));
    assert_eq!(told("load"), ("1 % more", ""));
    assert!(working.text().contains("  nothing: load"));
}

#[test]
fn a_name_that_is_nearly_right_is_told() {
    let refusal = named("spring_stiffness").unwrap_err().to_string();
    assert!(refusal.contains("do you mean `spring_"), "{refusal}");
    assert!(named("frobnicate").unwrap_err().to_string().contains("lists them"));
}
