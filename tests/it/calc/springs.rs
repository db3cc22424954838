//! Springs: every row of `spring.csv`.

use super::{figure, full, table, within, work, worked};
use crate::support::csv::{Row, close};

const SPRINGS: &str = include_str!("../../reference/spring.csv");

fn coil(row: &Row) -> Vec<(&'static str, String)> {
    vec![
        ("wire", figure(row.number("d_mm"), "mm")),
        ("mean_diameter", figure(row.number("D_mean_mm"), "mm")),
        ("coils", row.text("n_active").to_owned()),
        ("shear_modulus", figure(row.number("G_MPa"), "N/mm²")),
        ("load", figure(row.number("force_N"), "N")),
    ]
}

fn lengths(row: &Row) -> Vec<(&'static str, String)> {
    vec![
        ("rate", figure(row.number("rate_N_mm"), "N/mm")),
        ("free_length", figure(row.number("free_length_mm"), "mm")),
        ("working_length", figure(row.number("length_mm"), "mm")),
    ]
}

#[test]
fn rates_and_stresses_of_every_row_that_has_a_wire() {
    let mut done = 0;
    for row in table(SPRINGS, 27, 1) {
        let name = row.name();
        // A row from a published example is recomputed in full; its own tolerance is for the print.
        let rtol = full(&row).min(1e-7);
        if row.figure("d_mm").is_none() {
            let load = worked(
                "spring_load",
                &[
                    ("rate", figure(row.number("rate_N_mm"), "N/mm")),
                    ("free_length", "100 mm".to_owned()),
                    ("working_length", figure(100.0 - row.number("deflection_mm"), "mm")),
                ],
            );
            close(load.figure("load").unwrap(), row.number("force_N"), full(&row), name);
            done += 1;
            continue;
        }
        let working = worked("spring_rate", &coil(&row));
        let result = |name| working.figure(name).unwrap();
        close(result("rate") / 1e3, row.number("rate_N_mm"), rtol, name);
        close(result("index"), row.number("index_C"), rtol, name);
        if row.text("kind").contains("length") || row.text("kind").contains("set") {
            done += 1;
            continue;
        }
        for (column, output, scale) in [
            ("deflection_mm", "deflection", 1e3),
            ("shear_uncorrected_MPa", "shear", 1e-6),
            ("shear_wahl_MPa", "shear_wahl", 1e-6),
        ] {
            if let Some(want) = row.figure(column) {
                close(result(output) * scale, want, rtol, name);
            }
        }
        if result("shear") > 0.0 {
            close(result("shear_wahl") / result("shear"), row.number("wahl_K"), rtol, name);
            let factor = result("shear_bergstraesser") / result("shear");
            close(factor, row.number("bergstraesser_K"), rtol, name);
        }
        done += 1;
    }
    assert_eq!(done, 27);
}

#[test]
fn loads_at_a_length_and_a_length_beyond_the_free_one() {
    let mut refused = 0;
    let at_length = |row: &Row| row.text("kind") == "load at length";
    for row in table(SPRINGS, 27, 1).iter().filter(|row| at_length(row)) {
        if row.number("length_mm") > row.number("free_length_mm") {
            let refusal = work("spring_load", &lengths(row)).unwrap_err().to_string();
            assert!(refusal.contains("longer than `free_length` of 60 mm"), "{refusal}");
            refused += 1;
            continue;
        }
        let load = worked("spring_load", &lengths(row)).figure("load").unwrap();
        close(load, row.number("force_N"), full(row), row.name());
    }
    assert_eq!(refused, 1);
}

#[test]
fn loads_lost_to_a_short_free_length() {
    let lost = |row: &Row| row.text("kind") == "load lost by set";
    let rows = table(SPRINGS, 27, 1);
    for row in rows.iter().filter(|row| lost(row)) {
        let mut given = lengths(row);
        given.push(("new_free_length", "60 mm".to_owned()));
        let working = worked("spring_load_lost", &given);
        close(working.figure("load_now").unwrap(), row.number("force_N"), full(row), row.name());
        let told: Vec<f64> =
            row.text("checked").split(' ').filter_map(|w| w.parse().ok()).collect();
        within(working.figure("lost").unwrap(), told[0], 1e-6, row.name());
        within(working.figure("lost_share").unwrap() * 100.0, told[1], 1e-6, row.name());
    }
    assert_eq!(rows.iter().filter(|row| lost(row)).count(), 5);
}
