//! Pumps: `flow_efficiency.csv` and `flow_pulsation.csv`.

use witnessmark::calc::pump::{pulsation, shaft_torque};

use super::{figure, full, table, within, work, worked};
use crate::support::csv::{Row, close, rows};

/// What of a row is given, in SI units; columns that are empty are left out.
fn given(row: &Row, wanted: &[(&'static str, &str, &str)]) -> Option<Vec<(&'static str, String)>> {
    let one = |&(name, column, unit): &(&'static str, &str, &str)| {
        Some((name, figure(row.figure(column)?, unit).trim_end().to_owned()))
    };
    wanted.iter().map(one).collect()
}

#[test]
fn flow_efficiency_power_and_current_of_every_row() {
    let volume = ("displacement", "displacement_m3_rev", "m³");
    let speed = ("speed", "speed_rpm", "rev/min");
    let flow = ("flow", "actual_flow_m3_s", "m³/s");
    let pressure = ("pressure", "pressure_Pa", "Pa");
    for row in table(include_str!("../../reference/flow_efficiency.csv"), 24, 0) {
        let name = row.name();
        // These two reckon the power of the theoretical flow.
        let by_theory = name.starts_with("published_sarkar");
        let pumped = ("flow", "theoretical_flow_m3_s", "m³/s");
        let pumped = if by_theory { pumped } else { flow };
        let mut checks = 0;
        let mut check = |got: f64, column: &str| {
            if let Some(want) = row.figure(column) {
                // The row's own tolerance is for what the source prints; its columns are full.
                close(got, want, full(&row).min(1e-7), &format!("{name} {column}"));
                checks += 1;
            }
        };
        if let Some(given) = given(&row, &[volume, speed]) {
            let working = worked("theoretical_flow", &given);
            check(working.figure("flow").unwrap(), "theoretical_flow_m3_s");
        }
        let turns = row.figure("speed_rpm").is_some_and(|speed| speed > 0.0);
        if let Some(given) = given(&row, &[volume, speed, flow]).filter(|_| turns) {
            let working = worked("volumetric_efficiency", &given);
            check(working.figure("efficiency").unwrap(), "vol_efficiency");
        }
        if let Some(given) =
            given(&row, &[pumped, pressure, ("efficiency", "overall_efficiency", "")])
        {
            let working = worked("pump_power", &given);
            check(working.figure("hydraulic_power").unwrap(), "hydraulic_power_W");
            check(working.figure("shaft_power").unwrap(), "shaft_power_W");
        } else if let Some(mut given) = given(&row, &[pumped, pressure]) {
            given.push(("efficiency", "1".to_owned()));
            check(
                worked("pump_power", &given).figure("hydraulic_power").unwrap(),
                "hydraulic_power_W",
            );
        }
        let torque = ("torque", "shaft_torque_Nm", "N·m");
        let loaded = row.figure("shaft_torque_Nm").is_some_and(|torque| torque > 0.0);
        if let Some(given) =
            given(&row, &[volume, speed, flow, pressure, torque]).filter(|_| loaded)
        {
            let working = worked("pump_efficiency", &given);
            check(working.figure("volumetric").unwrap(), "vol_efficiency");
            check(working.figure("mechanical").unwrap(), "mech_efficiency");
            check(working.figure("overall").unwrap(), "overall_efficiency");
            check(working.figure("shaft_power").unwrap(), "shaft_power_W");
        }
        if let (Some(power), Some(rpm)) = (row.figure("shaft_power_W"), row.figure("speed_rpm"))
            && let Some(torque) = shaft_torque(power, rpm / 60.0)
        {
            check(torque, "shaft_torque_Nm");
        }
        if let Some(given) = given(
            &row,
            &[
                ("power", "shaft_power_W", "W"),
                ("voltage", "voltage_V", "V"),
                ("power_factor", "power_factor", ""),
                ("efficiency", "motor_efficiency", ""),
            ],
        ) {
            check(worked("motor_current", &given).figure("current").unwrap(), "current_A");
        }
        if let (Some(v), Some(m)) = (row.figure("vol_efficiency"), row.figure("mech_efficiency")) {
            check(v * m, "overall_efficiency");
        }
        assert!(checks > 0, "{name}: nothing was checked");
    }
}

#[test]
fn displacements_of_the_pumps_whose_sizes_are_told() {
    let rows = table(include_str!("../../reference/flow_efficiency.csv"), 24, 0);
    for (name, cylinders, bore, stroke, rod) in [
        ("published_sarkar_9_4", "1", "150 mm", "300 mm", None),
        ("published_sarkar_9_3", "1", "150 mm", "300 mm", Some("0 mm")),
        ("published_sullivan_7_piston", "9", "0.5 in", "0.75 in", None),
    ] {
        let row = rows.iter().find(|row| row.name() == name).unwrap();
        assert!(row.text("note").contains(stroke.split(' ').next().unwrap()), "{name}");
        let sizes = [("cylinders", cylinders), ("bore", bore), ("stroke", stroke)];
        let given: Vec<_> = sizes.into_iter().chain(rod.map(|rod| ("rod", rod))).collect();
        let given: Vec<_> = given.into_iter().map(|(n, text)| (n, text.to_owned())).collect();
        let volume = worked("displacement", &given).figure("displacement").unwrap();
        close(volume, row.number("displacement_m3_rev"), 1e-8, name);
    }
}

#[test]
fn pulsation_by_cylinders_and_rods() {
    let rows = rows(include_str!("../../reference/flow_pulsation.csv"));
    assert_eq!(rows.len(), 30);
    for row in rows {
        let cylinders: u32 = row.text("cylinders").parse().unwrap();
        let ratio = row.text("rod_to_crank_ratio").parse().ok();
        let found = pulsation(cylinders, row.text("acting") == "double", ratio);
        let (name, atol) = (row.name(), row.number("atol_pct_points"));
        close(found.mean, row.number("mean_flow_over_A_r_omega"), 1e-5, name);
        within(found.peak * 100.0, row.number("peak_above_mean_pct"), atol, name);
        within(found.trough * 100.0, row.number("trough_below_mean_pct"), atol, name);
        within((found.peak + found.trough) * 100.0, row.number("total_variation_pct"), atol, name);
    }
}

#[test]
fn a_curve_is_read_between_its_ends_only() {
    let curve = |speed: &str, flow: &str| {
        let given = [
            ("curve_speeds", "100 200 300 rev/min"),
            ("curve_flows", "20 41 63 L/min"),
            ("speed", speed),
            ("flow", flow),
        ];
        work("curve_flow", &given.map(|(name, text)| (name, text.to_owned())))
    };
    let share = |speed, flow| curve(speed, flow).unwrap().figure("share").unwrap();
    within(share("200 rev/min", "41 L/min"), 1.0, 1e-12, "at a point");
    within(share("250 rev/min", "26 L/min"), 0.5, 1e-12, "between two");
    within(share("100 rev/min", "20 L/min"), 1.0, 1e-12, "at the end");
    let refusal = curve("301 rev/min", "63 L/min").unwrap_err().to_string();
    assert!(refusal.contains("from 100 rev/min to 300 rev/min: beyond its ends"), "{refusal}");
    assert!(
        curve("300 rev/min", "70 L/min")
            .unwrap()
            .warnings
            .iter()
            .any(|w| w.contains("above its curve"))
    );
}

#[test]
fn what_no_pump_can_be_is_refused() {
    for (name, given, why) in [
        (
            "displacement",
            vec![("cylinders", "2.5"), ("bore", "40 mm"), ("stroke", "60 mm")],
            "a whole number",
        ),
        (
            "displacement",
            vec![("cylinders", "1"), ("bore", "40 mm"), ("stroke", "60 mm"), ("rod", "40 mm")],
            "leave the rod out for a plunger",
        ),
        (
            "volumetric_efficiency",
            vec![("displacement", "0.2 L"), ("speed", "0 rev/min"), ("flow", "1 L/min")],
            "measure while it turns",
        ),
        (
            "pump_power",
            vec![("flow", "60 L/min"), ("pressure", "10 bar"), ("volumetric", "90 %")],
            "and not all of them",
        ),
        (
            "weighed_flow",
            vec![
                ("full", "10 kg"),
                ("empty", "12 kg"),
                ("time", "60 s"),
                ("density", "1000 kg/m³"),
            ],
            "nothing went in",
        ),
        (
            "pump_power",
            vec![("flow", "60 L/min"), ("pressure", "10 bar gauge")],
            "a gauge pressure",
        ),
        (
            "curve_flow",
            vec![
                ("curve_speeds", "200 100 rev/min"),
                ("curve_flows", "1 2 L/min"),
                ("speed", "150 rev/min"),
                ("flow", "1 L/min"),
            ],
            "each above the one before",
        ),
    ] {
        let given: Vec<_> = given.into_iter().map(|(n, text)| (n, text.to_owned())).collect();
        let refusal = work(name, &given).unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
}
