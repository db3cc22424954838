//! Flushing: every row of `flush_dilution.csv`.

use witnessmark::calc::flat::Exact;
use witnessmark::calc::flush::residual;

use super::{figure, table, tight, work, worked};
use crate::support::csv::{Row, close};

/// A concentration of a row; a row that counts in ppm says so.
fn share(row: &Row, column: &str) -> String {
    let unit = if row.name().starts_with("ppm") { "ppm" } else { "" };
    figure(row.number(column), unit).trim_end().to_owned()
}

fn volumes(row: &Row) -> Vec<(&'static str, String)> {
    vec![
        ("total", figure(row.number("total_volume"), "L")),
        ("retained", figure(row.number("retained_volume"), "L")),
        ("start", share(row, "start_concentration")),
        ("fresh", share(row, "fresh_concentration")),
    ]
}

fn exact(text: &str) -> Exact {
    if text.contains('/') {
        return text.parse().unwrap();
    }
    witnessmark::units::Quantity::parse_literal(text).unwrap().0.si
}

#[test]
fn what_is_left_is_exact() {
    let mut done = 0;
    for row in table(include_str!("../../reference/flush_dilution.csv"), 33, 0) {
        let name = row.name();
        if row.text("residual_exact").is_empty() {
            continue;
        }
        let mut given = volumes(&row);
        given.push(("drains", row.text("cycles_n").to_owned()));
        let working = worked("flush_residual", &given);
        let scale = if name.starts_with("ppm") { 1e6 } else { 1.0 };
        let left = working.figure("left").unwrap() * scale;
        close(left, row.number("residual_float"), tight(&row), name);
        assert!(working.warnings.iter().any(|text| text.contains("the sample decides")));
        let retained = exact(row.text("retained_volume")) / exact(row.text("total_volume"));
        let [start, fresh] =
            ["start_concentration", "fresh_concentration"].map(|c| exact(row.text(c)));
        let drains = row.text("cycles_n").parse().unwrap();
        let left = residual(&retained, &start, &fresh, drains);
        assert_eq!(left, exact(row.text("residual_exact")), "{name}");
        done += 1;
    }
    assert_eq!(done, 20);
}

#[test]
fn the_least_number_of_drains_is_exact_and_never_is_told() {
    let (mut counted, mut never) = (0, 0);
    for row in table(include_str!("../../reference/flush_dilution.csv"), 33, 0) {
        if row.text("target").is_empty() {
            continue;
        }
        let mut given = volumes(&row);
        given.push(("target", row.text("target").to_owned()));
        if row.text("cycles_needed") == "never" {
            let refusal = work("flush_drains", &given).unwrap_err().to_string();
            assert!(refusal.contains("nothing drains"), "{refusal}");
            never += 1;
            continue;
        }
        let drains = worked("flush_drains", &given).figure("drains").unwrap();
        assert_eq!(drains.to_string(), row.text("cycles_needed"), "{}", row.name());
        counted += 1;
    }
    assert_eq!((counted, never), (12, 1));
}

#[test]
fn what_no_number_of_drains_reaches_is_refused_with_the_reason() {
    for (retained, target, fresh, why) in [
        ("30 L", "1 %", "2 %", "take cleaner fluid"),
        ("70 L", "1 %", "0 %", "more than the 60 L that it holds"),
        ("59.99 L", "1 %", "0 %", "more than 1000 drains"),
        ("60 L", "1 %", "0 %", "nothing drains"),
        ("12 L", "0 %", "0 %", "more than 1000 drains would be needed, or it is never reached"),
    ] {
        let given =
            [("total", "60 L"), ("retained", retained), ("target", target), ("fresh", fresh)];
        let given = given.map(|(name, text)| (name, text.to_owned()));
        let refusal = work("flush_drains", &given).unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
}
