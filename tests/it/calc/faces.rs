//! Flatness and straightness: every set of `flatness.csv`, and what straightedge and feeler tell.

use std::path::Path;

use witnessmark::calc::flat::{Exact, Reading, least_squares, least_zone};

use super::{table, within, work, worked};
use crate::support::csv::{Row, rows};

/// The points of a set, as lists of texts: places, then heights.
fn lists(row: &Row) -> Vec<(&'static str, String)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(row.text("file"));
    let points = rows(&std::fs::read_to_string(path).unwrap());
    assert_eq!(points.len().to_string(), row.text("points"), "{}", row.name());
    let list = |column: &str| {
        let figures: Vec<&str> = points.iter().map(|point| point.text(column)).collect();
        figures.join(" ") + " mm"
    };
    let mut lists = vec![("x", list("x_mm")), ("heights", list("z_mm"))];
    if row.text("kind") == "flatness" {
        lists.push(("y", list("y_mm")));
    }
    lists
}

/// The same points as exact readings.
fn readings(row: &Row) -> Vec<Reading> {
    let lists = lists(row);
    let list = |name: &str| -> Vec<Exact> {
        let text = &lists.iter().find(|(given, _)| *given == name).unwrap().1;
        let figure = |text: &str| {
            let (figure, _) = witnessmark::units::Quantity::parse_literal(text).unwrap();
            figure.si / Exact::from_integer(1000.into())
        };
        text.trim_end_matches(" mm").split(' ').map(figure).collect()
    };
    let is_face = lists.len() == 3;
    let at = list("x")
        .into_iter()
        .enumerate()
        .map(|(i, x)| if is_face { vec![x, list("y")[i].clone()] } else { vec![x] });
    at.zip(list("heights")).map(|(at, height)| Reading { at, height }).collect()
}

#[test]
fn every_set_has_its_zones() {
    let mut refused = 0;
    for row in table(include_str!("../../reference/flatness.csv"), 22, 0) {
        let (name, kind) = (row.name(), row.text("kind"));
        if row.text("degenerate") == "true" {
            let refusal = work(kind, &lists(&row)).unwrap_err().to_string();
            assert!(refusal.contains("on one line in plan"), "{refusal}");
            refused += 1;
            continue;
        }
        let working = worked(kind, &lists(&row));
        let atol = row.number("atol_um");
        for (column, output) in [
            ("mz_zone_vertical_um", "zone"),
            ("mz_zone_normal_um", "zone_across"),
            ("ls_zone_vertical_um", "least_squares"),
            ("ls_zone_normal_um", "least_squares_across"),
        ] {
            let got = working.figure(output).unwrap() * 1e6;
            within(got, row.number(column), atol, &format!("{name} {column}"));
        }
        // The exact zone, as a fraction of a millimetre.
        let exact: Exact = row.text("mz_zone_vertical_exact_mm").parse().unwrap();
        let zone = least_zone(&readings(&row)).unwrap();
        assert_eq!(zone.width, exact / Exact::from_integer(1000.into()), "{name}");
        let fit = least_squares(&readings(&row)).unwrap();
        let near = |exact: &Exact| num_traits::ToPrimitive::to_f64(exact).unwrap();
        within(near(&fit.height) * 1e3, row.number("ls_plane_c_mm"), 1e-8, name);
        within(near(&fit.slopes[0]), row.number("ls_plane_a_mm_mm"), 1e-8, name);
        if let Some(b) = row.figure("ls_plane_b_mm_mm") {
            within(near(&fit.slopes[1]), b, 1e-8, name);
        }
    }
    assert_eq!(refused, 1);
}

#[test]
fn a_tilt_changes_nothing_and_a_grid_is_the_same_as_its_places() {
    let given = |pairs: &[(&'static str, &str)]| -> Vec<(&'static str, String)> {
        pairs.iter().map(|(name, text)| (*name, (*text).to_owned())).collect()
    };
    let heights = "0 4 -2 3 9 1 -5 2 6 µm";
    let grid =
        given(&[("heights", heights), ("columns", "3"), ("step_x", "50 mm"), ("step_y", "50 mm")]);
    let places = given(&[
        ("heights", heights),
        ("x", "0 50 100 0 50 100 0 50 100 mm"),
        ("y", "0 0 0 50 50 50 100 100 100 mm"),
    ]);
    let tilted = given(&[
        ("heights", "0 5 0 7 14 7 3 11 16 µm"),
        ("columns", "3"),
        ("step_x", "50 mm"),
        ("step_y", "50 mm"),
    ]);
    let zone = |given: &[(&str, String)]| worked("flatness", given).figure("zone").unwrap();
    within(zone(&grid) * 1e6, 12.5, 1e-9, "grid");
    within(zone(&places), zone(&grid), 0.0, "places");
    within(zone(&tilted), zone(&grid), 0.0, "tilted by 1 and 4 µm a step");
}

#[test]
fn what_does_not_go_together_is_refused_with_what_to_give() {
    for (name, given, why) in [
        ("flatness", vec![("heights", "1 2 3 µm")], "either `columns`, `step_x` and `step_y`"),
        ("flatness", vec![("heights", "1 2 3 µm"), ("columns", "3")], "and not both"),
        (
            "flatness",
            vec![
                ("heights", "1 2 3 4 5 µm"),
                ("columns", "3"),
                ("step_x", "1 mm"),
                ("step_y", "1 mm"),
            ],
            "5 `heights` do not fill rows of 3",
        ),
        (
            "flatness",
            vec![("heights", "1 2 3 µm"), ("x", "0 1 2 mm"), ("y", "0 1 mm")],
            "`heights` has 3, `x` has 3, `y` has 2",
        ),
        (
            "flatness",
            vec![("heights", "1 2 µm"), ("x", "0 1 mm"), ("y", "0 1 mm")],
            "a face needs 3 or more",
        ),
        ("straightness", vec![("heights", "1 2 µm"), ("x", "5 5 mm")], "at 2 places or more"),
        ("straightness", vec![("heights", "1 2 µm")], "either the `step`"),
        (
            "feeler_gap",
            vec![("went", "0.05 0.1 mm"), ("stopped", "0.06 0.1 mm")],
            "at lay 2 the leaf that did not go in is no thicker",
        ),
    ] {
        let given: Vec<_> = given.into_iter().map(|(n, text)| (n, text.to_owned())).collect();
        let refusal = work(name, &given).unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
}

#[test]
fn a_limit_between_two_leaves_is_not_decided() {
    let gap = |limit: &str| {
        let given = [("went", "0.05 mm"), ("stopped", "0.08 mm"), ("at_most", limit)];
        worked("feeler_gap", &given.map(|(name, text)| (name, text.to_owned())))
    };
    let undecided = |limit| gap(limit).warnings.iter().any(|text| text.contains("not decided"));
    assert_eq!(gap("0.08 mm").word("verdict"), Some("within"));
    assert!(!undecided("0.08 mm"));
    assert_eq!(gap("0.06 mm").word("verdict"), Some("above"));
    assert!(undecided("0.06 mm") && undecided("0.05 mm"));
    assert!(!undecided("0.04 mm"), "above for certain");
}
