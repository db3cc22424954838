//! Units, decisions and torque wrenches held against check values from outside the project.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive as _;
use witnessmark::units::risk::{self, Process};
use witnessmark::units::torque_wrench::{self, Declared};
use witnessmark::units::{Decision, DecisionRule, Guard, Limit, Quantity, Uncertainty, Unit};

use crate::support::csv::{Row, close, rows};

const UNITS: &str = include_str!("../reference/units.csv");
const CONVERSIONS: &str = include_str!("../reference/units_conversions.csv");
const RULES: &str = include_str!("../reference/decision_rules.csv");
const VECTORS: &str = include_str!("../reference/decision_vectors.csv");
const GLOBAL: &str = include_str!("../reference/decision_global_risk.csv");
const WRENCHES: &str = include_str!("../reference/torque_wrench.csv");

/// A decimal or a fraction, exactly; `None` for what is neither.
fn exact(text: &str) -> Option<Ratio<BigInt>> {
    let whole = |text: &str| Quantity::parse_literal(text).ok().map(|(figure, _)| figure.si);
    match text.split_once('/') {
        Some((above, below)) => Some(whole(above)? / whole(below)?),
        None => whole(text),
    }
}

/// How the table here writes a row of the file. The file's pressures are differences here; gauge
/// and absolute ones have the same factor.
fn spelt(symbol: &str, dimension: &str) -> String {
    match (symbol, dimension) {
        ("gal", _) => "US gal".to_owned(),
        ("gpm", _) => "US gpm".to_owned(),
        ("fl oz", _) => "US fl oz".to_owned(),
        (symbol, "pressure") => format!("{symbol} diff"),
        (symbol, _) => symbol.to_owned(),
    }
}

fn named(name: &str) -> Option<Unit> {
    let row = rows(UNITS).into_iter().find(|row| row.text("unit") == name)?;
    let symbol = row.text("symbols").split('|').next()?.to_owned();
    Unit::parse(&spelt(&symbol, row.text("dimension")))
}

/// A whole turn in radians: the table here counts turns, so that figures stay exact.
const TURN_RAD: f64 = 2.0 * std::f64::consts::PI;

#[test]
fn every_unit_has_the_published_factor_and_offset() {
    let rows = rows(UNITS);
    assert_eq!(rows.len(), 68);
    let mut n_turning = 0;
    for row in &rows {
        let (name, dimension) = (row.text("unit"), row.text("dimension"));
        for symbol in row.text("symbols").split('|') {
            let spelling = spelt(symbol, dimension);
            if name == "radian per second" {
                // No rational number of turns: not taken.
                assert_eq!(Unit::parse(&spelling), None);
                n_turning += 1;
                continue;
            }
            let unit = Unit::parse(&spelling).unwrap_or_else(|| panic!("`{spelling}`"));
            if spelling != symbol {
                assert!(Unit::parse(symbol).is_none() && Unit::ambiguity(symbol).is_some());
            }
            let offset = exact(row.text("offset_SI_exact")).expect("a number");
            assert_eq!(unit.offset(), offset, "{name}");
            if let Some(factor) = exact(row.text("factor_to_SI_exact")) {
                assert_eq!(unit.factor(), factor, "{name} as {spelling}");
            } else {
                let float: f64 = row.text("factor_to_SI_float").parse().expect("a float");
                let turns = unit.factor().to_f64().expect("finite") * TURN_RAD;
                assert!((turns / float - 1.0).abs() < 1e-15, "{name}: {turns} {float}");
                n_turning += 1;
            }
            for kind in ["gauge", "abs"] {
                if dimension == "pressure" {
                    let other = Unit::parse(&format!("{symbol} {kind}")).expect("every kind");
                    assert_eq!(other.factor(), unit.factor(), "{symbol} {kind}");
                    assert_ne!(other.dimension(), unit.dimension());
                }
            }
        }
    }
    // rpm as an angular velocity, rad/s, and the degree under both its spellings.
    assert_eq!(n_turning, 4);
}

#[test]
fn worked_conversions_come_out_exactly() {
    let rows = rows(CONVERSIONS);
    assert_eq!(rows.len(), 45);
    for row in &rows {
        let (from, to) = (named(row.text("unit_from")), named(row.text("unit_to")));
        let Some((from, to)) = from.zip(to) else {
            assert_eq!(row.text("unit_to"), "radian per second");
            continue;
        };
        let value = exact(row.text("value")).expect("a number");
        let quantity = Quantity::new(value.clone(), from);
        if let Some(result) = exact(row.text("result_exact")) {
            assert_eq!(quantity.in_unit(to), result, "{}", row.name());
            assert_eq!(Quantity::new(result, to).in_unit(from), value, "{}", row.name());
        } else {
            assert!(row.text("note").contains("must be refused"), "{}", row.name());
            assert_ne!(from.dimension(), to.dimension(), "{}", row.name());
            assert_eq!(quantity.compare(&Quantity::new(value, to)), None);
        }
    }
}

/// The field as a length in millimetres, or as nothing. What the rows measure plays no part.
fn millimetres(row: &Row, name: &str) -> Option<Quantity> {
    let text = row.text(name);
    let figure =
        (!text.is_empty()).then(|| exact(text).unwrap_or_else(|| panic!("{name}: {text}")));
    figure.map(|figure| Quantity::new(figure, Unit::Millimetre))
}

fn limit(row: &Row, least: &str, most: &str) -> Limit {
    Limit::new(millimetres(row, least), millimetres(row, most), Unit::Millimetre).unwrap()
}

fn rule(text: &str) -> DecisionRule {
    let times = |text: &str| Guard::Expanded(exact(text).expect("a number"));
    match text {
        "simple" => DecisionRule::Simple,
        "iso14253" => DecisionRule::Proven(Guard::full()),
        "guard_U" => DecisionRule::Guarded(Guard::full()),
        _ => match (text.strip_prefix("pc>="), text.strip_prefix("guard_")) {
            (Some(share), _) => DecisionRule::Probability(exact(share).expect("a number")),
            (_, Some(guard)) => DecisionRule::Guarded(times(guard.trim_end_matches('U'))),
            (None, None) => panic!("`{text}`"),
        },
    }
}

#[test]
fn me3_each_rule_decides_as_published() {
    let rows = rows(RULES);
    assert_eq!(rows.len(), 39);
    for row in &rows {
        let name = row.name();
        let (limit, rule) = (limit(row, "lower_limit", "upper_limit"), rule(row.text("rule")));
        let reading = millimetres(row, "reading").expect("a reading");
        let k = exact(row.text("k")).expect("a factor");
        let expanded = millimetres(row, "U_expanded").expect("an uncertainty");
        let uncertainty = Uncertainty::new(expanded, k).unwrap();
        assert_eq!(Some(uncertainty.standard()), millimetres(row, "u_std"), "{name}");

        let decision = rule.decide(&limit, &reading, Some(&uncertainty)).unwrap();
        let said = match decision {
            Decision::Within => "accept",
            Decision::Below | Decision::Above => "reject",
            Decision::NotProven => "neither",
        };
        assert_eq!(said, row.text("decision"), "{name}");

        let is = risk::conformance_probability(&limit, &reading, &uncertainty).unwrap();
        let miss = (is - row.number("conformance_probability")).abs();
        assert!(miss <= row.number("atol_probability"), "{name}: {is}");

        if let Some(width) = millimetres(row, "guard_band_w") {
            let zone = rule.zone(&limit, &uncertainty);
            let wanted = (millimetres(row, "accept_from"), millimetres(row, "accept_to"));
            assert_eq!(zone, wanted, "{name}");
            let guard = match rule {
                DecisionRule::Guarded(guard) | DecisionRule::Proven(guard) => guard,
                DecisionRule::Simple | DecisionRule::Probability(_) => {
                    Guard::Expanded(Ratio::from_integer(0.into()))
                }
            };
            assert_eq!(guard.width(&uncertainty), width, "{name}");
            let risk = risk::false_acceptance(&guard, &uncertainty);
            match row.figure("false_accept_risk_at_accept_limit") {
                Some(wanted) => close(risk.expect("a risk"), wanted, 1e-8, name),
                None => assert_eq!(risk, None, "{name}"),
            }
        }
    }
}

#[test]
fn me3_me4_the_vectors_of_one_limit_come_out_under_each_rule() {
    let newtons =
        |figure: &str| Quantity::parse_literal(&format!("{figure} N·m")).expect("a torque").0;
    let bounds = (Some(newtons("192")), Some(newtons("208")));
    let limit = Limit::new(bounds.0, bounds.1, Unit::NewtonMetre).unwrap();
    let uncertainty = Uncertainty::parse_literal("4 N·m", "2").unwrap();
    let rows = rows(VECTORS);
    assert_eq!(rows.len(), 8);
    for row in &rows {
        let reading = newtons(row.text("reading"));
        for (column, rule) in [
            ("simple", DecisionRule::Simple),
            ("guard_U", DecisionRule::Proven(Guard::full())),
            ("guard_95", DecisionRule::Proven(Guard::ninety_five())),
        ] {
            let said = match rule.decide(&limit, &reading, Some(&uncertainty)).unwrap() {
                Decision::Within => "pass",
                Decision::Below | Decision::Above => "fail",
                Decision::NotProven => "inconclusive",
            };
            assert_eq!(said, row.text(column), "{} by {column}", row.name());
        }
        let printed = row.text("conforms_percent");
        let places = printed.split_once('.').map_or(0, |(_, part)| part.len());
        let is = risk::conformance_probability(&limit, &reading, &uncertainty).unwrap();
        assert_eq!(format!("{:.places$}", is * 100.0), printed, "{}", row.name());
    }
}

#[test]
fn me4_the_risks_of_a_process_are_those_of_the_worked_example() {
    let rows = rows(GLOBAL);
    assert_eq!(rows.len(), 1);
    for row in &rows {
        let figure = |name| millimetres(row, name).expect("a figure");
        let process = Process { mean: figure("process_mean"), deviation: figure("process_sd") };
        let (limit, accept) =
            (limit(row, "lower_limit", "upper_limit"), limit(row, "accept_from", "accept_to"));
        let one = Ratio::from_integer(1.into());
        let uncertainty = Uncertainty::new(figure("measuring_u"), one).unwrap();
        let risk = risk::global(&process, &limit, &accept, &uncertainty).unwrap();
        for (is, name) in [
            (risk.conforming, "prior_conformance"),
            (risk.consumer, "consumer_risk"),
            (risk.producer, "producer_risk"),
        ] {
            let wanted = row.number(name);
            assert!((is - wanted).abs() <= row.number("atol"), "{name}: {is} for {wanted}");
            // Eight digits are printed.
            close(is, wanted, 1e-7, name);
        }
    }
}

#[test]
fn o14_torque_wrenches_are_set_and_judged_as_published() {
    let rows = rows(WRENCHES);
    assert_eq!(rows.len(), 18);
    let (mut n_settings, mut n_deviations) = (0, 0);
    for row in &rows {
        let name = row.name();
        let figure =
            |column: &str, unit| Quantity::new(exact(row.text(column)).expect("a number"), unit);
        let float = |quantity: &Quantity, unit| quantity.in_unit(unit).to_f64().expect("finite");
        if row.text("kind") == "extension" {
            let adapter = Declared {
                wrench: Some(figure("wrench_length_mm", Unit::Millimetre)),
                extension: Some(figure("extension_mm", Unit::Millimetre)),
                angle: Some(figure("angle_deg", Unit::Degree)),
            };
            let adapter = adapter.adapter().expect("all is known");
            for (target, setting, unit) in [
                ("target_torque_Nm", "setting_Nm", Unit::NewtonMetre),
                ("target_torque_lbf_ft", "setting_lbf_ft", Unit::PoundForceFoot),
            ] {
                let target = figure(target, unit);
                let set = adapter.setting_for(&target);
                // Nine digits are printed of both.
                let rtol = row.number("rtol").max(1e-8);
                close(float(&set, unit), row.number(setting), rtol, name);
                assert_eq!(adapter.at_fastener(&set), target, "{name}");
            }
            n_settings += 1;
        } else {
            let torque = |column| figure(column, Unit::NewtonMetre);
            let (set, reference) = (torque("set_Nm"), torque("reference_Nm"));
            let greatest = torque("tool_max_Nm");
            let off = torque_wrench::deviation(&set, &reference).expect("a share");
            let percent = off.to_f64().expect("finite") * 100.0;
            // Nine digits are printed.
            close(percent, row.number("deviation_pct"), row.number("rtol").max(5e-9), name);
            let permitted = torque_wrench::permitted_deviation(&greatest).expect("a torque");
            let wanted = exact(row.text("limit_pct")).expect("a number") / BigInt::from(100);
            assert_eq!(permitted, wanted, "{name}");
            let conforms = torque_wrench::conforms(&set, &reference, &greatest);
            assert_eq!(conforms, Some(row.text("result") == "pass"), "{name}");
            n_deviations += 1;
        }
    }
    assert_eq!((n_settings, n_deviations), (12, 6));
}
