//! Bolts: `thread_geometry.csv`, `torque_tension.csv`, `torque_wrench.csv`, `bolt_patterns.csv`.

use witnessmark::calc::torque::{Friction, exact_helix_factor, order};

use super::{PRINTED, figure, table, tight, within, work, worked};
use crate::support::csv::{Row, close};

#[test]
fn threads_have_their_diameters_area_and_preload() {
    for row in table(include_str!("../../reference/thread_geometry.csv"), 24, 0) {
        let name = row.name();
        let working = worked(
            "thread",
            &[
                ("diameter", figure(row.number("d_mm"), "mm")),
                ("pitch", figure(row.number("pitch_mm"), "mm")),
                ("proof_strength", figure(row.number("proof_8_8_N_mm2"), "N/mm²")),
            ],
        );
        let result = |name| working.figure(name).unwrap();
        close(result("pitch_diameter") * 1e3, row.number("d2_mm"), PRINTED, name);
        close(result("core_diameter") * 1e3, row.number("d3_mm"), PRINTED, name);
        close(result("stress_area") * 1e6, row.number("stress_area_mm2"), PRINTED, name);
        close(result("preload"), row.number("preload_75pct_proof_8_8_N"), PRINTED, name);
        if let Some(table) = row.figure("stress_area_table_mm2") {
            close(result("stress_area") * 1e6, table, 4e-3, name);
        }
    }
}

fn friction(row: &Row) -> Friction {
    Friction {
        thread: row.number("mu_thread"),
        head: row.number("mu_head"),
        head_diameter: row.number("Dkm_mm") / 1e3,
    }
}

fn long(row: &Row) -> Vec<(&'static str, String)> {
    vec![
        ("diameter", figure(row.number("d_mm"), "mm")),
        ("pitch", figure(row.number("pitch_mm"), "mm")),
        ("thread_friction", row.text("mu_thread").to_owned()),
        ("head_friction", row.text("mu_head").to_owned()),
        ("head_diameter", figure(row.number("Dkm_mm"), "mm")),
    ]
}

#[test]
fn torque_and_preload_of_every_row_both_ways() {
    let mut kinds = [0; 3];
    for row in table(include_str!("../../reference/torque_tension.csv"), 47, 0) {
        match row.text("kind") {
            "short form T = K·d·F" => {
                short_form(&row);
                kinds[0] += 1;
            }
            "Motosh / VDI 2230 sum" => {
                long_form(&row);
                kinds[1] += 1;
            }
            _ => {
                let (d2, pitch) = (row.number("d2_mm") / 1e3, row.number("pitch_mm") / 1e3);
                let factor = exact_helix_factor(d2, pitch, friction(&row));
                let factor = factor / (row.number("d_mm") / 1e3);
                close(factor, row.number("K"), tight(&row), row.name());
                kinds[2] += 1;
            }
        }
    }
    assert_eq!(kinds, [11, 35, 1]);
}

fn short_form(row: &Row) {
    let name = row.name();
    let own =
        [("diameter", figure(row.number("d_mm"), "mm")), ("nut_factor", row.text("K").to_owned())];
    let torque = row.number("torque_Nm");
    let given = [vec![("preload", figure(row.number("preload_N"), "N"))], own.to_vec()].concat();
    let working = worked("torque_from_preload", &given);
    close(working.figure("torque").unwrap(), torque, PRINTED, name);
    if let Some(printed) = row.figure("printed_torque_Nm") {
        close(working.figure("torque").unwrap(), printed, tight(row), name);
    }
    let given = [vec![("torque", figure(torque, "N·m"))], own.to_vec()].concat();
    let working = worked("preload_from_torque", &given);
    close(working.figure("preload").unwrap(), row.number("preload_N"), PRINTED, name);
}

fn long_form(row: &Row) {
    let name = row.name();
    let preload = row.number("preload_N");
    let given = [vec![("preload", figure(preload, "N"))], long(row)].concat();
    let working = worked("torque_from_preload", &given);
    let result = |name| working.figure(name).unwrap();
    for (column, output) in [
        ("K", "nut_factor"),
        ("torque_Nm", "torque"),
        ("torque_pitch_Nm", "torque_pitch"),
        ("torque_thread_Nm", "torque_thread"),
        ("torque_head_Nm", "torque_head"),
    ] {
        close(result(output), row.number(column), PRINTED, &format!("{name} {column}"));
    }
    close(result("preload_least"), 0.7 * preload, 1e-12, name);
    close(result("preload_greatest"), 1.3 * preload, 1e-12, name);
    let (d2, pitch) = (row.number("d2_mm") / 1e3, row.number("pitch_mm") / 1e3);
    let exact = preload * exact_helix_factor(d2, pitch, friction(row));
    close(exact, row.number("torque_exact_helix_Nm"), PRINTED, name);
    let rounded = 0.16 * row.number("pitch_mm")
        + 0.58 * row.number("d2_mm") * row.number("mu_thread")
        + 0.5 * row.number("Dkm_mm") * row.number("mu_head");
    close(result("torque"), preload * rounded / 1e3, 6e-3, name);
    let given = [vec![("torque", figure(row.number("torque_Nm"), "N·m"))], long(row)].concat();
    let back = worked("preload_from_torque", &given);
    close(back.figure("preload").unwrap(), preload, PRINTED, name);
    let Some(printed) = row.figure("printed_preload_N") else { return };
    close(result("torque"), row.number("printed_torque_Nm"), 1e-2, name);
    let yields = if row.number("d_mm") <= 16.0 { "640 N/mm²" } else { "660 N/mm²" };
    let thread = worked(
        "thread",
        &[
            ("diameter", figure(row.number("d_mm"), "mm")),
            ("pitch", figure(row.number("pitch_mm"), "mm")),
            ("yield_strength", yields.to_owned()),
            ("thread_friction", row.text("mu_thread").to_owned()),
        ],
    );
    let whole = thread.figure("preload_with_torsion").unwrap();
    close(whole, preload, PRINTED, name);
    close(whole, printed, 4e-3, name);
}

#[test]
fn settings_of_the_wrench_and_what_a_reference_shows() {
    let mut kinds = [0; 2];
    for row in table(include_str!("../../reference/torque_wrench.csv"), 18, 6) {
        let name = row.name();
        if row.text("kind") == "extension" {
            let working = worked(
                "wrench_setting",
                &[
                    ("torque", figure(row.number("target_torque_Nm"), "N·m")),
                    ("wrench_length", figure(row.number("wrench_length_mm"), "mm")),
                    ("extension", figure(row.number("extension_mm"), "mm")),
                    ("angle", figure(row.number("angle_deg"), "°")),
                ],
            );
            let set = working.figure("setting").unwrap();
            close(set, row.number("setting_Nm"), PRINTED, name);
            let foot_pounds = row.number("setting_lbf_ft");
            close(set, foot_pounds * 1.355_817_948_331_400_4, tight(&row).max(PRINTED), name);
            kinds[0] += 1;
            continue;
        }
        let working = worked(
            "wrench_check",
            &[
                ("set", figure(row.number("set_Nm"), "N·m")),
                ("measured", figure(row.number("reference_Nm"), "N·m")),
                ("greatest", figure(row.number("tool_max_Nm"), "N·m")),
            ],
        );
        close(
            100.0 * working.figure("deviation").unwrap(),
            row.number("deviation_pct"),
            PRINTED,
            name,
        );
        close(100.0 * working.figure("allowed").unwrap(), row.number("limit_pct"), 1e-12, name);
        assert_eq!(working.word("judged"), Some(row.text("result")), "{name}");
        kinds[1] += 1;
    }
    assert_eq!(kinds, [12, 6]);
}

#[test]
fn orders_are_as_published_or_spread_in_opposite_pairs() {
    let mut exact = 0;
    for row in table(include_str!("../../reference/bolt_patterns.csv"), 11, 8) {
        let count: u32 = row.text("bolts").parse().unwrap();
        let told: Vec<u32> = row.text("order").split(' ').map(|n| n.parse().unwrap()).collect();
        let found = order(count);
        if row.text("what_to_test") == "exact sequence" {
            assert_eq!(found, told);
            exact += 1;
        }
        let mut sorted = found.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, (1..=count).collect::<Vec<_>>());
        if row.text("each_pair_opposite") == "true" {
            assert!(
                found.chunks(2).all(|pair| pair[0].abs_diff(pair[1]) == count / 2),
                "{found:?}"
            );
            within(
                gap_after_four(&found, count),
                row.number("largest_gap_after_4_bolts_deg"),
                1e-9,
                "gap",
            );
        }
        let working = worked("tightening_order", &[("fasteners", count.to_string())]);
        let listed: Vec<f64> = found.iter().map(|&n| f64::from(n)).collect();
        assert_eq!(working.figures("order"), Some(listed.as_slice()));
    }
    assert_eq!(exact, 6);
}

/// The largest angle without a tight fastener once four are.
fn gap_after_four(order: &[u32], count: u32) -> f64 {
    let mut tight: Vec<u32> = order.iter().copied().take(4).collect();
    tight.sort_unstable();
    let around = tight.iter().zip(tight.iter().skip(1).copied().chain([tight[0] + count]));
    let gap = around.map(|(one, next)| next - one).max().unwrap();
    f64::from(gap) * 360.0 / f64::from(count)
}

#[test]
fn passes_rise_to_the_full_torque_and_go_round_once_more() {
    let passes = |shares: Option<&str>| {
        let torque = Some(("torque", "120 N·m".to_owned()));
        let shares = shares.map(|text| ("shares", text.to_owned()));
        let given: Vec<_> = torque.into_iter().chain(shares).collect();
        work("tightening_passes", &given).map(|w| w.figures("passes").unwrap().to_vec())
    };
    assert_eq!(passes(None).unwrap(), [36.0, 72.0, 120.0, 120.0]);
    assert_eq!(passes(Some("50 100 %")).unwrap(), [60.0, 120.0, 120.0]);
    for shares in ["60 30 100 %", "30 60 %", "30 30 100 %"] {
        assert!(passes(Some(shares)).unwrap_err().to_string().contains("end at 100 %"), "{shares}");
    }
}

#[test]
fn what_no_joint_and_no_wrench_can_be_is_refused() {
    for (name, given, why) in [
        (
            "wrench_setting",
            vec![
                ("torque", "80 N·m"),
                ("wrench_length", "400 mm"),
                ("extension", "350 mm"),
                ("angle", "180°"),
            ],
            "turn the adapter to 90° or less",
        ),
        (
            "wrench_check",
            vec![("set", "120 N·m"), ("measured", "118 N·m"), ("greatest", "100 N·m")],
            "above the greatest",
        ),
        (
            "thread",
            vec![("diameter", "2 mm"), ("pitch", "1.75 mm")],
            "no metric thread is so coarse",
        ),
        (
            "thread",
            vec![("diameter", "12 mm"), ("pitch", "1.75 mm"), ("at_least", "30 kN")],
            "does not come out without `proof_strength`",
        ),
        (
            "preload_from_torque",
            vec![("torque", "80 N·m"), ("diameter", "12 mm")],
            "either the `nut_factor`",
        ),
        (
            "preload_from_torque",
            vec![
                ("torque", "80 N·m"),
                ("diameter", "12 mm"),
                ("nut_factor", "0.2"),
                ("pitch", "1.75 mm"),
            ],
            "and not both",
        ),
        (
            "torque_from_preload",
            vec![
                ("preload", "40 kN"),
                ("diameter", "12 mm"),
                ("pitch", "1.75 mm"),
                ("thread_friction", "0.12"),
                ("head_friction", "0.12"),
                ("head_diameter", "10 mm"),
            ],
            "the face lies outside of the hole",
        ),
    ] {
        let given: Vec<_> = given.into_iter().map(|(n, text)| (n, text.to_owned())).collect();
        let refusal = work(name, &given).unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
}
