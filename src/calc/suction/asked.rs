//! The suction check as a named calculation: its inputs by name, its results, its working.

use super::acceleration::{self, ACTING, CYLINDERS, LIQUID, SPEED, turns_a_minute};
use super::working::metres;
use super::{
    Air, Change, Flow, Give, InletPressure, Line, Liquid, Pulsation, Requirement, Spread, Suction,
    SuctionRefusal, Wall, Weight, found,
};
use crate::calc::atmosphere::{self, ALTITUDE_INPUT, STANDARD_GRAVITY};
use crate::calc::declare::{Calculation, Input, Output};
use crate::calc::figure::in_three;
use crate::calc::friction::{self, BORE, FITTINGS, FLOW, LENGTH, ROUGHNESS, VISCOSITY};
use crate::calc::perform::Known;
use crate::calc::refusal::CalcRefusal;
use crate::calc::water::{R7_97, R12_08};
use crate::calc::working::Sheet;
use crate::units::Dimension;

impl From<SuctionRefusal> for CalcRefusal {
    fn from(refusal: SuctionRefusal) -> Self {
        Self::Impossible(refusal.to_string())
    }
}

const METRE: (Dimension, &str) = (Dimension::Length, "m");
const ABSOLUTE: (Dimension, &str) = (Dimension::AbsolutePressure, "bar abs");
const GAUGE: (Dimension, &str) = (Dimension::GaugePressure, "bar gauge");
const DIFFERENCE: (Dimension, &str) = (Dimension::PressureDifference, "bar");

/// Why the ranges end where no physics ends them.
const UNIT: &str = "no such pump stands so; look at the unit";
const OTHER: &str = "then one of the other requirements";
const UNBOUNDED: &str = "the greatest inlet pressure is told, and held against nothing";

/// What holds on site, what the pump moves through which line, and what it asks for by its papers.
static INPUTS: [Input; 29] = [
    Input { symbol: "h", ..ALTITUDE_INPUT }.or_range().optional("then give `air_pressure`"),
    Input::figure("air_pressure", "p_air", "air pressure on site, absolute", ABSOLUTE)
        .from_to("0.5 bar abs", "1.1 bar abs", "air has no other pressure below 5000 m")
        .or_range()
        .optional("then give `altitude`"),
    Input::figure(
        "tank_pressure",
        "p_tank",
        "pressure in the tank above the air's; 0 when it is open",
        GAUGE,
    )
    .from_to("-1.1 bar gauge", "100 bar gauge", UNIT)
    .or_range()
    .or("0 bar gauge"),
    Input::figure(
        "level",
        "z",
        "liquid level above the pump's centre line; negative below it",
        METRE,
    )
    .from_to("-30 m", "100 m", UNIT)
    .or_range(),
    Input::figure("temperature", "T", "temperature of the water", (Dimension::Temperature, "°C"))
        .from_to("0 °C", "200 °C", "below is ice; above it a suction is not checked by this")
        .or_range()
        .optional("for another liquid; then give `vapour_pressure`, `density` and `viscosity`"),
    Input::figure(
        "vapour_pressure",
        "p_vapour",
        "absolute pressure at which the liquid boils",
        ABSOLUTE,
    )
    .from_to("0 bar abs", "100 bar abs", UNIT)
    .or_range()
    .optional("for water; then give `temperature`"),
    Input::figure("density", "ρ", "density of the liquid", (Dimension::Density, "kg/m³"))
        .from_to("300 kg/m³", "3000 kg/m³", "no liquid that is pumped is lighter or heavier")
        .or_range()
        .optional("for water"),
    VISCOSITY.or_range().optional("for water"),
    SPEED.or_range().optional("for a steady flow"),
    FLOW.or_range().optional("then give `displacement`"),
    Input::figure("displacement", "V", "what the pump moves in one turn", (Dimension::Volume, "L"))
        .from_to("0 L", "1000 L", "no such pump displaces more in a turn; look at the unit")
        .or_range()
        .optional("then give `flow`"),
    LENGTH.or_range(),
    BORE.or_range(),
    ROUGHNESS.or_range(),
    FITTINGS.or_range().or("0.5"),
    Input::figure(
        "strainer",
        "Δp",
        "pressure lost in the strainer at the greatest flow, clean to dirty",
        DIFFERENCE,
    )
    .from_to("0 bar", "10 bar", "no strainer costs more; look at the unit")
    .or_range()
    .or("0 bar"),
    Input::word("wall", "pipe, or a hose that gives", &["stiff", "hose"]).or("stiff"),
    CYLINDERS.optional("for a steady flow: no acceleration head"),
    ACTING,
    LIQUID.or("water"),
    Input::figure("stabiliser", "", "way along the line from the pump to a stabiliser", METRE)
        .from_to("0 m", "1000 m", "it must sit in the line")
        .weightless()
        .optional("none is fitted"),
    Input::figure("npsh_required", "", "NPSH that the pump requires", METRE)
        .from_to("0 m", "100 m", "no pump asks for less or more")
        .weightless()
        .optional(OTHER),
    Input::figure("least_inlet_absolute", "", "least inlet pressure, absolute", ABSOLUTE)
        .from_to("0 bar abs", "100 bar abs", "less than none there is not")
        .weightless()
        .optional(OTHER),
    Input::figure("least_inlet_gauge", "", "least inlet pressure above the air's", GAUGE)
        .from_to("-1.1 bar gauge", "100 bar gauge", UNIT)
        .weightless()
        .optional(OTHER),
    Input::figure(
        "greatest_vacuum",
        "",
        "greatest vacuum at the inlet, as a positive figure",
        DIFFERENCE,
    )
    .from_to("0 bar", "1.1 bar", "it is below the air's pressure, and air has no more")
    .weightless()
    .optional(OTHER),
    Input::figure("least_margin", "", "margin asked for beyond `npsh_required`", METRE)
        .from_to("0 m", "100 m", "less than required is no margin")
        .weightless()
        .optional("none is asked for"),
    Input::figure(
        "least_margin_pressure",
        "",
        "margin asked for beyond a least inlet pressure or below a greatest vacuum",
        DIFFERENCE,
    )
    .from_to("0 bar", "100 bar", "less than required is no margin")
    .weightless()
    .optional("none is asked for"),
    Input::figure("greatest_inlet_absolute", "", "greatest inlet pressure, absolute", ABSOLUTE)
        .from_to("0 bar abs", "100 bar abs", "less than none there is not")
        .weightless()
        .optional(UNBOUNDED),
    Input::figure("greatest_inlet_gauge", "", "greatest inlet pressure above the air's", GAUGE)
        .from_to("-1.1 bar gauge", "100 bar gauge", UNIT)
        .weightless()
        .optional(UNBOUNDED),
];

/// The suction check: does the liquid reach the pump with enough pressure, and if not, what to change.
///
/// `NPSHa = (p_air + p_tank − p_vapour)/(ρ·g) + z − h_pipe − h_fittings − h_strainer − h_acc`, with Darcy-Weisbach,
/// K factors and `h_acc = L·v·n·C/(k·g)`; inlet pressure and greatest inlet pressure from it. Heads in metres of the liquid,
/// pressures in bar. Each figure may be a range: the worst of all that may come together is reckoned. Refused: a tank
/// below nothing, liquid that boils in tank or line. Warns of hose, length, transition, weather. Sources: US Standard
/// Atmosphere, IAPWS, Darcy-Weisbach; the acceleration head from memory.
pub static SUCTION_CHECK: Calculation = Calculation {
    name: "suction_check",
    title: "does the liquid reach the pump with enough pressure, and if not, which term to change",
    formulas: &[
        "NPSHa = (p_air + p_tank − p_vapour)/(ρ·g) + z − h_pipe − h_fittings − h_strainer − h_acc",
        "h_pipe = f·L/D·v²/2g, h_fittings = ΣK·v²/2g, h_strainer = Δp/(ρ·g), h_acc = L·v·n·C/(k·g)",
        "p_inlet = p_vapour + ρ·g·(NPSHa − v²/2g)",
        "p_max = p_air + p_tank + ρ·g·(z + h_acc)",
        "margin = NPSHa − npsh_required, or the same of pressures over ρ·g",
    ],
    symbols: &[
        (
            "NPSHa",
            "net positive suction head available: what is left above the vapour pressure, m of the liquid",
        ),
        ("p_air, p_vapour, ρ, ν", "by `air_pressure` and `water_properties`, or as entered"),
        ("f, v", "friction factor and mean velocity, as in `pipe_loss`"),
        ("C, k", "by cylinders and by liquid, as in `acceleration_head`"),
        ("p_inlet", "what a gauge at the flange shows at the worst moment of a stroke"),
        (
            "p_max",
            "the greatest pressure that the inlet sees: full tank, no losses, the surge of a stroke",
        ),
        ("g", "9.80665 m/s²; on the ground it is within 0.3 % of that"),
    ],
    valid: &[
        "one line of one bore, a liquid without gas in it, −500 to 5000 m above the sea",
        "every figure of site and line may be a range, such as `level=\"0.5 to 2 m\"`: the worst of all that may come \
        together is reckoned, and named",
        "refused: a tank that holds less than nothing, a liquid that boils in tank or line",
    ],
    warnings: &[
        friction::TYPICAL,
        acceleration::STIFF,
        "Re 2000 to 4000: no source prescribes a factor; the worse of laminar and turbulent is given, as a bound",
        "friction and acceleration head are added, though they do not peak at the same moment: on the safe side",
        "air that the line draws, or that comes out of the liquid, starves a pump whose sums are good",
        "a gauge at the pump decides between a sum and a site that differ",
    ],
    sources: &[
        "the balance is in every pump handbook, and so are the check examples",
        atmosphere::SOURCE,
        R7_97,
        R12_08,
        friction::SOURCE,
        acceleration::SOURCE,
    ],
    inputs: &INPUTS,
    outputs: &[
        Output::figure("margin", "what there is beyond what the pump requires, as a head", METRE),
        Output::figure("margin_pressure", "the same as a pressure", DIFFERENCE),
        Output::figure("missing", "what is missing to the margin asked for, as a head", METRE),
        Output::figure("npsh_available", "NPSH available", METRE),
        Output::figure("inlet_absolute", "pressure at the inlet, absolute", ABSOLUTE),
        Output::figure("inlet_gauge", "pressure at the inlet above the air's", GAUGE),
        Output::figure("greatest_absolute", "greatest pressure at the inlet, absolute", ABSOLUTE),
        Output::figure("greatest_gauge", "greatest pressure at the inlet above the air's", GAUGE),
        Output::figure("pipe_head", "lost in the straight pipe", METRE),
        Output::figure("fittings_head", "lost in entry, bends and valves", METRE),
        Output::figure("strainer_head", "lost in the strainer", METRE),
        Output::figure("acceleration_head", "to get the liquid going at every stroke", METRE),
        Output::word(
            "answer",
            "whether the pump has what it asks for; `too_much` is for the greatest inlet pressure",
            &["enough", "not_enough", "too_much"],
        ),
    ],
    held: None,
    example: &[
        ("altitude", "300 m"),
        ("level", "0.5 to 2 m"),
        ("temperature", "8 to 18 °C"),
        ("speed", "220 rev/min"),
        ("displacement", "0.185 L"),
        ("length", "6 m"),
        ("bore", "32 mm"),
        ("fittings", "3.5"),
        ("strainer", "0.02 to 0.3 bar"),
        ("cylinders", "3"),
        ("npsh_required", "6 m"),
        ("least_margin", "0.5 m"),
    ],
    run: suction_check,
};

const NONE: Spread = Spread::only(0.0);

fn together(text: impl Into<String>) -> CalcRefusal {
    CalcRefusal::Together(text.into())
}

fn liquid(known: &Known<'_>) -> Result<Liquid, CalcRefusal> {
    let others = ["density", "viscosity"];
    if known.one_of(&["temperature", "vapour_pressure"])? == "vapour_pressure" {
        let vapour_pressure = known.spread("vapour_pressure")?;
        let [density, viscosity] = others.map(|name| {
            known.spread_maybe(name).ok_or_else(|| {
                together(format!(
                    "a liquid with a `vapour_pressure` of its own needs its `{name}` too"
                ))
            })
        });
        return Ok(Liquid::Other { vapour_pressure, density: density?, viscosity: viscosity? });
    }
    match others.into_iter().find(|name| known.has(name)) {
        Some(other) => Err(together(format!(
            "`temperature` is for water, whose `{other}` follows from it; give `{other}` with `vapour_pressure` for \
             another liquid"
        ))),
        None => Ok(Liquid::Water(known.spread("temperature")?)),
    }
}

fn requirement(known: &Known<'_>) -> Result<Requirement, CalcRefusal> {
    let names = ["npsh_required", "least_inlet_absolute", "least_inlet_gauge", "greatest_vacuum"];
    let name = known.one_of(&names)?;
    let asked = known.figure(name)?;
    Ok(match name {
        "npsh_required" => Requirement::Npsh(asked),
        "least_inlet_absolute" => Requirement::LeastInlet(InletPressure::Absolute(asked)),
        "least_inlet_gauge" => Requirement::LeastInlet(InletPressure::Gauge(asked)),
        _ => Requirement::GreatestVacuum(asked),
    })
}

/// The margin in the unit of the requirement; the other kind of margin does not go with it.
fn margin(known: &Known<'_>, requires: Requirement) -> Result<f64, CalcRefusal> {
    let (head, pressure) = ("least_margin", "least_margin_pressure");
    let (fits, not) = match requires {
        Requirement::Npsh(_) => (head, pressure),
        Requirement::LeastInlet(_) | Requirement::GreatestVacuum(_) => (pressure, head),
    };
    if known.has(not) {
        let text =
            format!("`{not}` does not go with what the pump requires; give `{fits}` instead");
        return Err(together(text));
    }
    Ok(known.maybe(fits).unwrap_or(0.0))
}

fn line(known: &Known<'_>) -> Result<Line, CalcRefusal> {
    Ok(Line {
        wall: if known.word("wall") == "hose" { Wall::Hose } else { Wall::Stiff },
        length: known.spread("length")?,
        bore: known.spread("bore")?,
        roughness: known.spread("roughness")?,
        fittings: known.spread("fittings")?,
        strainer: known.spread("strainer")?,
    })
}

fn read(known: &Known<'_>) -> Result<Suction, CalcRefusal> {
    let air = match known.one_of(&["altitude", "air_pressure"])? {
        "altitude" => Air::Altitude(known.spread("altitude")?),
        _ => Air::Barometer(known.spread("air_pressure")?),
    };
    let flow = match known.one_of(&["flow", "displacement"])? {
        "flow" => Flow::At(known.spread("flow")?),
        _ => Flow::PerTurn(known.spread("displacement")?),
    };
    let pump = acceleration::pump(known)?;
    let speed = turns_a_minute(known);
    if speed.is_none() && (pump.is_some() || matches!(flow, Flow::PerTurn(_))) {
        return Err(together("with `cylinders` or a `displacement` the `speed` is needed too"));
    }
    let stabiliser = known.maybe("stabiliser");
    if pump.is_none() && stabiliser.is_some() {
        return Err(together(
            "a `stabiliser` is for a pump that works in strokes; say how many `cylinders`",
        ));
    }
    let greatest = ["greatest_inlet_absolute", "greatest_inlet_gauge"];
    let greatest_inlet = if greatest.iter().any(|name| known.has(name)) {
        let name = known.one_of(&greatest)?;
        let most = known.figure(name)?;
        let absolute = name == "greatest_inlet_absolute";
        Some(if absolute { InletPressure::Absolute(most) } else { InletPressure::Gauge(most) })
    } else {
        None
    };
    let requires = requirement(known)?;
    Ok(Suction {
        air,
        tank: known.spread("tank_pressure")?,
        level: known.spread("level")?,
        liquid: liquid(known)?,
        speed: speed.unwrap_or(NONE),
        flow,
        line: line(known)?,
        pulsation: pump.map(|pump| {
            let give = acceleration::give(known).unwrap_or(Give::Little);
            Pulsation { pump, give, stabiliser }
        }),
        requires,
        margin: margin(known, requires)?,
        greatest_inlet,
        gravity: STANDARD_GRAVITY,
    })
}

/// What a step of one figure does to the margin, in words; empty where it hardly does anything.
fn gain(weight: &Weight, per_head: f64) -> String {
    let head = weight.gain / per_head;
    let size = metres(head.abs());
    if size == metres(0.0) {
        return String::new();
    }
    let pressure = if per_head > 1.0 {
        format!(" ({})", in_three(weight.gain.abs(), "bar"))
    } else {
        String::new()
    };
    format!("{}{size}{pressure}", if head < 0.0 { "−" } else { "+" })
}

fn suction_check(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let asked = read(known)?;
    let found = found(&asked, known.on_paper())?;
    let (state, balance) = (&found.state, &found.balance);
    let weight = state.liquid.density * state.gravity;
    let per_head = if let Requirement::Npsh(_) = asked.requires { 1.0 } else { weight };
    let within = found.highest.margin.is_none_or(|margin| margin >= 0.0);
    let mut sheet = Sheet::new();
    sheet.lines(found.working(&asked));
    for comparison in found.compared(&asked) {
        sheet.held(comparison);
    }
    for step in &found.weights {
        sheet.weighs(step.input, step.step, gain(step, per_head));
    }
    let (wins, cannot): (Vec<&Change>, Vec<&Change>) =
        found.changes.iter().partition(|change| change.wins());
    for change in wins.into_iter().chain(cannot) {
        sheet.change(change.to_string());
    }
    for doubt in &found.doubts {
        sheet.warn(doubt.words());
    }
    sheet.gives("margin", found.margin / per_head);
    sheet.gives("margin_pressure", found.margin / per_head * weight);
    sheet.gives("missing", found.missing / per_head);
    sheet.gives("npsh_available", balance.npsh);
    sheet.gives("inlet_absolute", balance.inlet_pressure);
    sheet.gives("inlet_gauge", balance.inlet_pressure - state.air_pressure);
    sheet.gives("greatest_absolute", found.highest.absolute);
    sheet.gives("greatest_gauge", found.highest.gauge);
    sheet.gives("pipe_head", balance.pipe_head);
    sheet.gives("fittings_head", balance.fittings_head);
    sheet.gives("strainer_head", balance.strainer_head);
    sheet.gives("acceleration_head", balance.acceleration_head);
    sheet.gives_word(
        "answer",
        match (found.missing <= 0.0, within) {
            (true, true) => "enough",
            (false, _) => "not_enough",
            (true, false) => "too_much",
        },
    );
    Ok(sheet)
}
