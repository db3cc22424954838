//! The suction check from its inputs by name.

use super::{Answer, FluidRefusal, Given, figure, run, word};
use crate::calc::atmosphere::STANDARD_GRAVITY;
use crate::calc::suction::working::{bar, metres};
use crate::calc::suction::{
    self, Air, Change, Flow, Give, InletPressure, Line, Liquid, Pulsation, Requirement, Spread,
    Suction, Wall,
};

const NONE: Spread = Spread::only(0.0);

fn liquid(given: &Given) -> Result<Liquid, FluidRefusal> {
    let (name, spread) = given.one_of(&["temperature", "vapour_pressure"])?;
    if name == "vapour_pressure" {
        let (density, viscosity) = (given.range("density")?, given.range("viscosity")?);
        return Ok(Liquid::Other { vapour_pressure: spread, density, viscosity });
    }
    match ["density", "viscosity"].into_iter().find(|name| given.maybe(name).is_some()) {
        Some(other) => Err(FluidRefusal::Both { one: "temperature", other }),
        None => Ok(Liquid::Water(spread)),
    }
}

fn requirement(given: &Given) -> Result<Requirement, FluidRefusal> {
    let names = ["npsh_required", "least_inlet_absolute", "least_inlet_gauge", "greatest_vacuum"];
    let (name, Spread { low: asked, .. }) = given.one_of(&names)?;
    Ok(match name {
        "npsh_required" => Requirement::Npsh(asked),
        "least_inlet_absolute" => Requirement::LeastInlet(InletPressure::Absolute(asked)),
        "least_inlet_gauge" => Requirement::LeastInlet(InletPressure::Gauge(asked)),
        _ => Requirement::GreatestVacuum(asked),
    })
}

/// The margin in the unit of the requirement; the other kind of margin contradicts it.
fn margin(given: &Given, requires: Requirement) -> Result<f64, FluidRefusal> {
    let (fits, not) = match requires {
        Requirement::Npsh(_) => ("margin", "margin_pressure"),
        Requirement::LeastInlet(_) | Requirement::GreatestVacuum(_) => {
            ("margin_pressure", "margin")
        }
    };
    if given.maybe(not).is_some() {
        return Err(FluidRefusal::Instead { found: not, wanted: fits });
    }
    Ok(given.figure_or(fits, 0.0))
}

fn read(given: &Given) -> Result<Suction, FluidRefusal> {
    let range_or = |name| given.maybe(name).unwrap_or(NONE);
    let air = match given.one_of(&["altitude", "air_pressure"])? {
        ("altitude", altitude) => Air::Altitude(altitude),
        (_, pressure) => Air::Barometer(pressure),
    };
    let flow = match given.one_of(&["flow", "displacement"])? {
        ("flow", flow) => Flow::At(flow),
        (_, turn) => Flow::PerTurn(turn),
    };
    let pump = run::pump(given);
    let turns = pump.is_some() || matches!(flow, Flow::PerTurn(_));
    let speed = if turns { given.range("speed")? } else { range_or("speed") };
    let stabiliser = given.maybe("stabiliser").map(|at| at.low);
    if pump.is_none() && stabiliser.is_some() {
        return Err(FluidRefusal::Missing { one_of: vec!["pump"] });
    }
    let greatest = ["greatest_inlet_absolute", "greatest_inlet_gauge"];
    let greatest_inlet = if greatest.iter().any(|name| given.maybe(name).is_some()) {
        let (name, Spread { low: most, .. }) = given.one_of(&greatest)?;
        let absolute = name == "greatest_inlet_absolute";
        Some(if absolute { InletPressure::Absolute(most) } else { InletPressure::Gauge(most) })
    } else {
        None
    };
    let requires = requirement(given)?;
    let hose = given.words.get("wall").is_some_and(|wall| wall == "hose");
    Ok(Suction {
        air,
        tank: range_or("tank_pressure"),
        level: given.range("level")?,
        liquid: liquid(given)?,
        speed,
        flow,
        line: Line {
            wall: if hose { Wall::Hose } else { Wall::Stiff },
            length: given.range("length")?,
            bore: given.range("bore")?,
            roughness: range_or("roughness"),
            fittings: range_or("fittings"),
            strainer: range_or("strainer"),
        },
        pulsation: pump.map(|pump| {
            let give = run::give(given).unwrap_or(Give::Little);
            Pulsation { pump, give, stabiliser }
        }),
        requires,
        margin: margin(given, requires)?,
        greatest_inlet,
        gravity: given.figure_or("gravity", STANDARD_GRAVITY),
    })
}

pub(super) fn suction(given: &Given) -> Result<Answer, FluidRefusal> {
    let asked = read(given)?;
    let found = suction::check(&asked)?;
    let unit = asked.requires.unit();
    let within = found.highest.margin.is_none_or(|margin| margin >= 0.0);
    let meets = found.missing <= 0.0 && within;
    let verdict = match (found.missing <= 0.0, within) {
        (true, true) => "enough",
        (false, _) => "not enough",
        (true, false) => "inlet pressure too great",
    };
    let outcomes = vec![
        figure("margin", found.margin, unit),
        word("verdict", verdict),
        figure("npsh_available", found.balance.npsh, "m"),
        figure("inlet_pressure_absolute", found.balance.inlet_pressure, "Pa"),
        figure(
            "inlet_pressure_gauge",
            found.balance.inlet_pressure - found.state.air_pressure,
            "Pa",
        ),
        figure("missing", found.missing, unit),
        figure("greatest_inlet_absolute", found.highest.absolute, "Pa"),
        figure("greatest_inlet_gauge", found.highest.gauge, "Pa"),
    ];
    let gain = |gain: f64| {
        let size = if unit == "Pa" { bar(gain.abs()) } else { metres(gain.abs()) };
        if size.trim_start_matches(['0', '.']).starts_with(' ') {
            return "hardly changes".to_owned();
        }
        format!("{}{size}", if gain < 0.0 { "−" } else { "+" })
    };
    let weights = found.weights.iter();
    Ok(Answer {
        outcomes,
        meets: Some(meets),
        working: found.working(&asked),
        weights: weights.map(|w| format!("{}: margin {}", w.step, gain(w.gain))).collect(),
        changes: found.changes.iter().map(Change::to_string).collect(),
        warnings: found.doubts.iter().map(|doubt| doubt.words().to_owned()).collect(),
    })
}
