//! Displacement and flow: what a pump should give, what it gives, and what share that is.

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::shown;
use super::super::flat::alike;
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::{Comparison, Sheet};
use super::{ACTUAL_FLOW, FLOW, LITRE, MM, SHARE, SPEED, TURNS, VOLUME_OF_A_TURN};
use crate::units::Dimension;

/// The volume of one turn, m³: z·π/4·D²·s, and z·π/4·(2·D² − d²)·s where both sides of the piston work.
pub fn displacement(cylinders: f64, bore: f64, stroke: f64, rod: Option<f64>) -> f64 {
    let squares = rod.map_or(bore * bore, |rod| 2.0 * bore * bore - rod * rod);
    cylinders * std::f64::consts::FRAC_PI_4 * squares * stroke
}

/// The volume that a piston or plunger pump displaces in one turn.
///
/// V = z·π/4·D²·s; with both sides at work V = z·π/4·(2·D² − d²)·s. D, s, d in mm, V in litres. Source:
/// geometry.
pub static DISPLACEMENT: Calculation = Calculation {
    name: "displacement",
    title: "what volume a piston or plunger pump displaces in one turn",
    formulas: &["V = z·π/4·D²·s", "both sides at work: V = z·π/4·(2·D² − d²)·s"],
    symbols: &[("V", "volume of one turn, L")],
    valid: &[
        "pistons and plungers; a diaphragm moved by oil displaces what its plunger does, less what the oil \
              gives and leaks",
    ],
    warnings: &["with an adjustable stroke take the stroke as it is set, measured"],
    sources: &["geometry"],
    inputs: &[
        Input::count("cylinders", "z", "cylinders").from_to("1", "24", "no such pump has more"),
        Input::figure("bore", "D", "diameter of the piston or plunger", MM).from_to(
            "1 mm",
            "2000 mm",
            "no piston is smaller or larger; look at the unit",
        ),
        Input::figure("stroke", "s", "whole stroke", MM).from_to(
            "0.1 mm",
            "5000 mm",
            "no stroke is shorter or longer; look at the unit",
        ),
        Input::figure("rod", "d", "diameter of the rod, where both sides work", MM)
            .from_to("0 mm", "2000 mm", "no rod is larger; look at the unit")
            .optional("then one side of the piston works"),
    ],
    outputs: &[Output::figure("displacement", "volume of one turn", LITRE)],
    held: Some(Held { at_least: "displacement", at_most: "displacement" }),
    example: &[("cylinders", "3"), ("bore", "40 mm"), ("stroke", "60 mm")],
    run: run_displacement,
};

fn run_displacement(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (cylinders, bore) = (known.figure("cylinders")?, known.figure("bore")?);
    let (stroke, rod) = (known.figure("stroke")?, known.maybe("rod"));
    if rod.is_some_and(|rod| rod >= bore) {
        return Err(CalcRefusal::Impossible(format!(
            "a `rod` of {} does not go through a `bore` of {} and leave a piston; leave the rod out for a plunger",
            known.shown("rod"),
            known.shown("bore")
        )));
    }
    let volume = displacement(cylinders, bore, stroke, rod);
    let mut sheet = Sheet::new();
    let (z, d, s) = (known.shown("cylinders"), known.shown("bore"), known.shown("stroke"));
    let (formula, figures) = if rod.is_some() {
        (
            "V = z·π/4·(2·D² − d²)·s",
            format!("{z} · π/4 · (2 · ({d})² − ({})²) · {s}", known.shown("rod")),
        )
    } else {
        ("V = z·π/4·D²·s", format!("{z} · π/4 · ({d})² · {s}"))
    };
    sheet.line("volume of one turn", formula, figures, shown(volume, "L"));
    sheet.gives("displacement", volume);
    Ok(sheet)
}

/// The flow that a displacement gives at a speed, nothing lost.
///
/// Q = V·n; V in litres, n in turns a minute, Q in L/min. Source: geometry.
pub static THEORETICAL_FLOW: Calculation = Calculation {
    name: "theoretical_flow",
    title: "what flow a pump would give at its speed if nothing were lost",
    formulas: &["Q = V·n"],
    symbols: &[("Q", "flow, L/min")],
    valid: &["a speed measured at the crank or shaft that the displacement is told for"],
    warnings: &["no pump gives this: valves, leaks and what the liquid gives take from it"],
    sources: &["geometry"],
    inputs: &[VOLUME_OF_A_TURN, SPEED],
    outputs: &[Output::figure("flow", "theoretical flow", FLOW)],
    held: Some(Held { at_least: "flow", at_most: "flow" }),
    example: &[("displacement", "0.2262 L"), ("speed", "300 rev/min")],
    run: theoretical_flow,
};

/// V·n, written on the sheet.
fn theoretical(known: &Known<'_>, sheet: &mut Sheet) -> Result<f64, CalcRefusal> {
    let flow = known.figure("displacement")? * known.figure("speed")?;
    let figures = format!("{} · {}", known.shown("displacement"), known.shown("speed"));
    sheet.line("theoretical flow", "Q = V·n", figures, shown(flow, "L/min"));
    Ok(flow)
}

fn theoretical_flow(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let flow = theoretical(known, &mut sheet)?;
    if flow <= 0.0 {
        sheet.warn("a pump that stands gives nothing");
    }
    sheet.gives("flow", flow);
    Ok(sheet)
}

/// The share of its theoretical flow that a pump gives.
///
/// ηv = Q/(V·n), slip = V·n − Q. V in litres, n in turns a minute, Q in L/min. Refused at standstill; warned
/// above 100 %. Source: definition.
pub static VOLUMETRIC_EFFICIENCY: Calculation = Calculation {
    name: "volumetric_efficiency",
    title: "what share of its theoretical flow a pump gives, and what it loses",
    formulas: &["Qt = V·n", "ηv = Q/Qt", "slip = Qt − Q"],
    symbols: &[("Qt", "theoretical flow, L/min"), ("ηv", "volumetric efficiency")],
    valid: &["flow and speed measured at the same time, at a steady pressure"],
    warnings: &[
        "it falls with pressure: compare only at the same pressure and liquid",
        "one low cylinder of three takes a third: look at each before all",
    ],
    sources: &["definition"],
    inputs: &[VOLUME_OF_A_TURN, SPEED, ACTUAL_FLOW],
    outputs: &[
        Output::figure("efficiency", "volumetric efficiency", SHARE),
        Output::figure("slip", "flow that is lost", FLOW),
        Output::figure("theoretical", "theoretical flow", FLOW),
    ],
    held: Some(Held { at_least: "efficiency", at_most: "efficiency" }),
    example: &[
        ("displacement", "0.2262 L"),
        ("speed", "300 rev/min"),
        ("flow", "62.4 L/min"),
        ("at_least", "90 %"),
    ],
    run: volumetric_efficiency,
};

fn volumetric_efficiency(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let (full, flow) = (theoretical(known, &mut sheet)?, known.figure("flow")?);
    if full <= 0.0 {
        return Err(CalcRefusal::Impossible(
            "at a `speed` of 0 a pump has no theoretical flow, and no share of it can be told; measure while it \
             turns"
                .to_owned(),
        ));
    }
    let (share, slip) = (flow / full, full - flow);
    let (q, full_text) = (known.shown("flow"), shown(full, "L/min"));
    sheet.line(
        "volumetric efficiency",
        "ηv = Q/Qt",
        format!("{q} / {full_text}"),
        shown(share, "%"),
    );
    sheet.line("slip", "Qt − Q", format!("{full_text} − {q}"), shown(slip, "L/min"));
    over_full(&mut sheet, share);
    sheet.gives("efficiency", share);
    sheet.gives("slip", slip);
    sheet.gives("theoretical", full);
    Ok(sheet)
}

/// Warns of more than a pump can give.
pub(super) fn over_full(sheet: &mut Sheet, share: f64) {
    if share > 1.0 {
        sheet.warn(
            "more than 100 %: no pump gives more than it displaces; look at stroke, speed, flow meter and whether \
             liquid runs through by itself",
        );
    }
}

/// The measured flow against the maker's curve at the measured speed.
///
/// Qc by straight lines between the points of the curve; share = Q/Qc. Speeds in turns a minute, flows in
/// L/min. Refused beyond the ends of the curve. Source: common practice.
pub static CURVE_FLOW: Calculation = Calculation {
    name: "curve_flow",
    title: "how the measured flow stands to the pump's curve at the measured speed",
    formulas: &["Qc = Q1 + (Q2 − Q1)·(n − n1)/(n2 − n1)", "share = Q/Qc"],
    symbols: &[("Qc", "flow of the curve, L/min"), ("1, 2", "points of the curve on either side")],
    valid: &[
        "the curve of this pump at this pressure and liquid",
        "a speed between the ends of the curve",
    ],
    warnings: &[
        "between two points the curve is taken as straight",
        "the speed must be measured: one from the name plate of the motor or the drive's display says little",
    ],
    sources: &["common practice, no source"],
    inputs: &[
        Input::figures("curve_speeds", "", "speeds of the curve's points, rising", TURNS).from_to(
            "0 rev/min",
            "10000 rev/min",
            "no such pump turns faster, and none backwards",
        ),
        Input::figures("curve_flows", "", "flows of the same points", FLOW).from_to(
            "0 L/min",
            "1000000 L/min",
            "no such pump gives more; look at the unit",
        ),
        SPEED,
        ACTUAL_FLOW,
    ],
    outputs: &[
        Output::figure("share", "measured flow as a share of the curve's", SHARE),
        Output::figure("expected", "flow of the curve", FLOW),
        Output::figure("missing", "what is missing to it", FLOW),
    ],
    held: Some(Held { at_least: "share", at_most: "share" }),
    example: &[
        ("curve_speeds", "100 200 300 rev/min"),
        ("curve_flows", "20.1 41.5 63.0 L/min"),
        ("speed", "248 rev/min"),
        ("flow", "47.5 L/min"),
        ("at_least", "95 %"),
    ],
    run: curve_flow,
};

fn curve_flow(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (speeds, flows) = (known.list("curve_speeds"), known.list("curve_flows"));
    alike(&[("curve_speeds", speeds.len()), ("curve_flows", flows.len())])?;
    let points: Vec<(f64, f64)> = speeds.into_iter().zip(flows).collect();
    let pairs = || points.iter().zip(points.iter().skip(1));
    if points.len() < 2 || pairs().any(|(one, next)| next.0 <= one.0) {
        let text = "`curve_speeds` must be two or more, each above the one before: read them off the curve from \
                    left to right";
        return Err(CalcRefusal::Together(text.to_owned()));
    }
    let (speed, flow) = (known.figure("speed")?, known.figure("flow")?);
    let between = pairs().find(|(one, next)| speed >= one.0 && speed <= next.0);
    let Some(((n1, q1), (n2, q2))) = between else {
        let ends = points.first().zip(points.last()).map_or((0.0, 0.0), |(a, b)| (a.0, b.0));
        return Err(CalcRefusal::Outside {
            name: "speed".to_owned(),
            found: known.shown("speed"),
            low: shown(ends.0, "rev/min"),
            high: shown(ends.1, "rev/min"),
            because: "beyond its ends the curve says nothing".to_owned(),
        });
    };
    let expected = q1 + (q2 - q1) * (speed - n1) / (n2 - n1);
    if expected <= 0.0 {
        return Err(CalcRefusal::Impossible(
            "the curve gives no flow at this speed: there is nothing to hold the measured flow against".to_owned(),
        ));
    }
    let share = flow / expected;
    let mut sheet = Sheet::new();
    let [n1, n2] = [n1, n2].map(|n| shown(*n, "rev/min"));
    let [q1, q2] = [q1, q2].map(|q| shown(*q, "L/min"));
    let (n, q, curve) = (known.shown("speed"), known.shown("flow"), shown(expected, "L/min"));
    sheet.line(
        "flow of the curve",
        "Qc = Q1 + (Q2 − Q1)·(n − n1)/(n2 − n1)",
        format!("{q1} + ({q2} − {q1}) · ({n} − {n1})/({n2} − {n1})"),
        curve.clone(),
    );
    sheet.line("measured against the curve", "Q/Qc", format!("{q} / {curve}"), shown(share, "%"));
    sheet.held(Comparison {
        what: "flow".to_owned(),
        value: q,
        against: format!("the curve's {curve} at {n}"),
        verdict: format!("{} of it", shown(share, "%")),
    });
    if share > 1.05 {
        sheet.warn("well above its curve: look at speed, flow meter and whether it is the curve of this pump");
    }
    sheet.gives("share", share);
    sheet.gives("expected", expected);
    sheet.gives("missing", expected - flow);
    Ok(sheet)
}

/// The flow from a tank that is filled for a timed while and weighed.
///
/// Q = (m2 − m1)/(ρ·t); masses in kg, density in kg/m³, time in s, Q in L/min. Refused when the tank does
/// not gain. Source: common practice.
pub static WEIGHED_FLOW: Calculation = Calculation {
    name: "weighed_flow",
    title: "what a pump gives, by a tank weighed before and after a timed while",
    formulas: &["Q = (m2 − m1)/(ρ·t)"],
    symbols: &[("Q", "flow, L/min")],
    valid: &[
        "a steady flow that goes into the tank and nowhere else",
        "density at the temperature of the liquid",
    ],
    warnings: &[
        "half a second of a hand-held watch is 1 % of 50 s: fill for a minute or more",
        "swing the hose in and out with the watch; do not start and stop the pump",
    ],
    sources: &["common practice, no source"],
    inputs: &[
        Input::figure("full", "m2", "tank after", (Dimension::Mass, "kg")).from_to(
            "0 kg",
            "100000 kg",
            "no scale in a shop reads more; look at the unit",
        ),
        Input::figure("empty", "m1", "tank before", (Dimension::Mass, "kg"))
            .from_to("0 kg", "100000 kg", "no scale in a shop reads more; look at the unit")
            .or("0 kg"),
        Input::figure("time", "t", "time of filling", (Dimension::Time, "s")).from_to(
            "1 s",
            "86400 s",
            "a shorter time cannot be taken by hand; look at the unit",
        ),
        Input::figure("density", "ρ", "density of the liquid", (Dimension::Density, "kg/m³"))
            .from_to(
                "300 kg/m³",
                "3000 kg/m³",
                "no liquid that is pumped is lighter or heavier; look at the unit",
            ),
    ],
    outputs: &[
        Output::figure("flow", "flow", FLOW),
        Output::figure("volume", "volume that went in", LITRE),
    ],
    held: Some(Held { at_least: "flow", at_most: "flow" }),
    example: &[
        ("full", "78.6 kg"),
        ("empty", "12.4 kg"),
        ("time", "62.5 s"),
        ("density", "998.2 kg/m³"),
    ],
    run: weighed_flow,
};

fn weighed_flow(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let gain = known.figure("full")? - known.figure("empty")?;
    if gain <= 0.0 {
        return Err(CalcRefusal::Impossible(format!(
            "the tank weighs {} after and {} before: nothing went in; look at `full` and `empty`",
            known.shown("full"),
            known.shown("empty")
        )));
    }
    let (time, density) = (known.figure("time")?, known.figure("density")?);
    let volume = gain / density;
    let flow = volume / time;
    let mut sheet = Sheet::new();
    let (m2, m1) = (known.shown("full"), known.shown("empty"));
    let rho = known.shown("density");
    sheet.line(
        "volume that went in",
        "(m2 − m1)/ρ",
        format!("({m2} − {m1}) / {rho}"),
        shown(volume, "L"),
    );
    let figures = format!("{} / {}", shown(volume, "L"), known.shown("time"));
    sheet.line("flow", "Q = (m2 − m1)/(ρ·t)", figures, shown(flow, "L/min"));
    if time < 30.0 {
        sheet.warn("filled for less than 30 s: the watch alone may be 2 % off or more");
    }
    sheet.gives("flow", flow);
    sheet.gives("volume", volume);
    Ok(sheet)
}
