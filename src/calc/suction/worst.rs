//! The worst of what may come together: for each figure with a range, the end that starves the pump.
//!
//! For most figures the bad end is known beforehand. Liquids are tried: hot water boils sooner, cold
//! water drags more. Friction jumps up where flow leaves the laminar range, so that point is tried too.

use std::fmt;

use super::state::{Balance, LiquidState, State};
use super::{
    Air, Flow, HighestInlet, InletPressure, Liquid, Requirement, Spread, Suction, SuctionRefusal,
};
use crate::calc::bounds::Bounds;
use crate::calc::{atmosphere, water};

/// Into how many parts a range of temperatures is cut, each end of a part tried.
const TEMPERATURE_PARTS: u8 = 8;

/// Halvings to find the temperature at which flow leaves the laminar range.
const HALVINGS: usize = 50;

/// An end of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The least.
    Least,
    /// The greatest.
    Greatest,
    /// Neither: inside the range.
    Inside,
}

/// The end of a range that the worst state has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Met {
    /// What the figure is of.
    pub what: &'static str,
    /// The end.
    pub end: End,
    /// The figure, in the unit of its field.
    pub figure: f64,
    /// That unit.
    pub unit: &'static str,
}

impl fmt::Display for Met {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let end = match self.end {
            End::Least => "the least ",
            End::Greatest => "the greatest ",
            End::Inside => "a middling ",
        };
        write!(f, "{end}{}", self.what)
    }
}

/// The worst states of a suction, before anything is refused for boiling.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worst {
    /// The state with the least margin and its balance.
    pub(super) state: (State, Balance),
    /// What it has beyond the requirement.
    pub(super) margin: f64,
    /// The state closest to boiling and its balance.
    pub(super) boiling: (State, Balance),
    /// How far that state is above boiling, as a head.
    pub(super) above_boiling: f64,
}

const fn bounds(
    what: &'static str,
    [low, high]: [f64; 2],
    unit: &'static str,
    because: &'static str,
) -> Bounds {
    Bounds { what, low, high, unit, because }
}

const UNITS: &str = "look at the unit";

const AIR: Bounds =
    bounds("the air pressure", [50e3, 110e3], "Pa", "air has no other pressure below 5000 m");
const TANK: Bounds = bounds("the tank pressure", [-110e3, 10e6], "Pa", UNITS);
const LEVEL: Bounds = bounds("the level", [-30.0, 100.0], "m", UNITS);
const WATER: Bounds = bounds(
    "the temperature of the water",
    [water::FREEZING_K, 473.15],
    "K",
    "below is ice; above 200 °C a suction is not checked by this",
);
const VAPOUR: Bounds = bounds("the vapour pressure", [0.0, 10e6], "Pa", UNITS);
const DENSITY: Bounds = bounds(
    "the density",
    [300.0, 3000.0],
    "kg/m³",
    "no liquid that is pumped is lighter or heavier",
);
const VISCOSITY: Bounds = bounds("the kinematic viscosity", [1.2e-7, 0.1], "m²/s", UNITS);
const SPEED: Bounds = bounds("the speed", [0.0, 5000.0], "rev/min", UNITS);
const FLOW: Bounds = bounds("the flow", [0.0, 2.0], "m³/s", UNITS);
const PER_TURN: Bounds = bounds("the displacement of a turn", [0.0, 1.0], "m³", UNITS);
const LENGTH: Bounds = bounds("the length of the line", [0.0, 1000.0], "m", UNITS);
const BORE: Bounds = bounds("the bore of the line", [0.002, BORE_MAX_M], "m", UNITS);
const FITTINGS: Bounds = bounds("the loss factor K of the fittings", [0.0, 10_000.0], "", UNITS);
const STRAINER: Bounds = bounds("the pressure lost in the strainer", [0.0, 1e6], "Pa", UNITS);
const GRAVITY: Bounds = bounds(
    "the acceleration of free fall",
    [9.76, 9.84],
    "m/s²",
    "it is so everywhere on the ground",
);
const NPSH: Bounds =
    bounds("the NPSH required", [0.0, 100.0], "m", "no pump asks for less or more");
const VACUUM: Bounds = bounds(
    "the greatest vacuum",
    [0.0, 110e3],
    "Pa",
    "it is given below the air's pressure, as a positive figure, and air has no more",
);
const ABSOLUTE: Bounds = bounds(
    "the absolute inlet pressure of the pump",
    [0.0, 10e6],
    "Pa",
    "less than none there is not; look whether it was meant above the air's",
);
const GAUGE: Bounds =
    bounds("the inlet pressure of the pump above the air's", [-110e3, 10e6], "Pa", UNITS);
const MARGIN: Bounds =
    bounds("the margin that is asked for", [0.0, 1e7], "", "less than required is no margin");

/// The widest bore that is reckoned, in metres.
pub(super) const BORE_MAX_M: f64 = 0.6;

fn take(bounds: Bounds, spread: Spread) -> Result<Spread, SuctionRefusal> {
    bounds.take(spread.low)?;
    bounds.take(spread.high)?;
    if spread.low > spread.high {
        return Err(SuctionRefusal::Reversed { what: bounds.what, spread });
    }
    Ok(spread)
}

/// The air pressure, absolute, least and greatest.
fn air(suction: &Suction) -> Result<Spread, SuctionRefusal> {
    match suction.air {
        Air::Barometer(pressure) => take(AIR, pressure),
        Air::Altitude(spread) => {
            let (top, bottom) =
                (atmosphere::at_altitude(spread.high)?, atmosphere::at_altitude(spread.low)?);
            if spread.low > spread.high {
                return Err(SuctionRefusal::Reversed { what: "the altitude", spread });
            }
            Ok(Spread { low: top.pressure, high: bottom.pressure })
        }
    }
}

/// The greatest flow that may be, in m³/s.
fn greatest_flow(suction: &Suction) -> Result<f64, SuctionRefusal> {
    let flow = match suction.flow {
        Flow::At(flow) => take(FLOW, flow)?.high,
        Flow::PerTurn(turn) => take(PER_TURN, turn)?.high * suction.speed.high / 60.0,
    };
    Ok(FLOW.take(flow)?)
}

/// Looks at what the pump asks for.
fn demands(suction: &Suction) -> Result<(), SuctionRefusal> {
    let pressure = |pressure| match pressure {
        InletPressure::Absolute(figure) => ABSOLUTE.take(figure),
        InletPressure::Gauge(figure) => GAUGE.take(figure),
    };
    let least = match suction.requires {
        Requirement::Npsh(figure) => NPSH.take(figure).map(|_| None)?,
        Requirement::GreatestVacuum(figure) => {
            VACUUM.take(figure).map(|figure| Some(InletPressure::Gauge(-figure)))?
        }
        Requirement::LeastInlet(least) => pressure(least).map(|_| Some(least))?,
    };
    let greatest = suction.greatest_inlet;
    greatest.map(pressure).transpose()?;
    MARGIN.take(suction.margin)?;
    match (least, greatest) {
        (Some(InletPressure::Absolute(low)), Some(InletPressure::Absolute(high)))
        | (Some(InletPressure::Gauge(low)), Some(InletPressure::Gauge(high)))
            if low > high =>
        {
            let what = "the pressure that the pump takes at its inlet";
            Err(SuctionRefusal::Reversed { what, spread: Spread { low, high } })
        }
        _ => Ok(()),
    }
}

/// The state of all bad ends, with a liquid still to be put in.
fn starved(suction: &Suction) -> Result<State, SuctionRefusal> {
    let line = &suction.line;
    take(SPEED, suction.speed)?;
    let (length, bore) = (take(LENGTH, line.length)?, take(BORE, line.bore)?);
    let wall = Bounds {
        what: "the roughness of the wall",
        low: 0.0,
        high: bore.low / 20.0,
        unit: "m",
        because: "friction is known up to a twentieth of the bore",
    };
    if let Some(at) = suction.pulsation.and_then(|pulsation| pulsation.stabiliser) {
        LENGTH.take(at)?;
        if at > length.low {
            return Err(SuctionRefusal::StabiliserBeyondLine { at, length: length.low });
        }
    }
    demands(suction)?;
    let (air_pressure, tank_gauge) = (air(suction)?.low, take(TANK, suction.tank)?.low);
    let surface = air_pressure + tank_gauge;
    if surface <= 0.0 {
        return Err(SuctionRefusal::NoPressure { surface });
    }
    let none =
        LiquidState { temperature: None, vapour_pressure: 0.0, density: 1.0, viscosity: 1.0 };
    Ok(State {
        air_pressure,
        tank_gauge,
        level: take(LEVEL, suction.level)?.low,
        liquid: none,
        flow: greatest_flow(suction)?,
        speed: suction.speed.high,
        length: length.high,
        bore: bore.low,
        roughness: take(wall, line.roughness)?.high,
        fittings: take(FITTINGS, line.fittings)?.high,
        strainer: take(STRAINER, line.strainer)?.high,
        pulsation: suction.pulsation,
        gravity: GRAVITY.take(suction.gravity)?,
    })
}

fn water_at(temperature: f64, surface: f64) -> Result<LiquidState, SuctionRefusal> {
    let vapour_pressure = water::saturation_pressure(temperature)?;
    if surface < vapour_pressure {
        return Err(SuctionRefusal::TankBoils { surface, vapour: vapour_pressure });
    }
    let water = water::liquid(temperature, surface)?;
    Ok(LiquidState {
        temperature: Some(temperature),
        vapour_pressure,
        density: water.density,
        viscosity: water.dynamic_viscosity / water.density,
    })
}

/// Every liquid that has to be tried with the other bad ends.
fn liquids(suction: &Suction, state: &State) -> Result<Vec<LiquidState>, SuctionRefusal> {
    let surface = state.air_pressure + state.tank_gauge;
    let jump = state.viscosity_at_the_jump();
    match suction.liquid {
        Liquid::Water(temperature) => {
            let t = take(WATER, temperature)?;
            // The hottest first: it is the one that may boil in the tank.
            let mut tried = vec![water_at(t.high, surface)?];
            if !t.is_wide() {
                return Ok(tried);
            }
            for part in 0..TEMPERATURE_PARTS {
                let share = f64::from(part) / f64::from(TEMPERATURE_PARTS);
                tried.push(water_at(t.low + share * (t.high - t.low), surface)?);
            }
            let mut ends = t;
            let thinner = |t| Ok::<bool, SuctionRefusal>(water_at(t, surface)?.viscosity <= jump);
            if !thinner(t.low)? && thinner(t.high)? {
                for _ in 0..HALVINGS {
                    let middle = f64::midpoint(ends.low, ends.high);
                    if thinner(middle)? {
                        ends.high = middle;
                    } else {
                        ends.low = middle;
                    }
                }
                tried.push(water_at(ends.high, surface)?);
            }
            Ok(tried)
        }
        Liquid::Other { vapour_pressure, density, viscosity } => {
            let vapour = take(VAPOUR, vapour_pressure)?.high;
            if surface < vapour {
                return Err(SuctionRefusal::TankBoils { surface, vapour });
            }
            let (density, viscosity) = (take(DENSITY, density)?, take(VISCOSITY, viscosity)?);
            let mut tried = Vec::new();
            let between = viscosity.low < jump && jump < viscosity.high;
            for density in [density.low, density.high] {
                for viscosity in
                    [viscosity.high, viscosity.low].into_iter().chain(between.then_some(jump))
                {
                    tried.push(LiquidState {
                        temperature: None,
                        vapour_pressure: vapour,
                        density,
                        viscosity,
                    });
                }
            }
            Ok(tried)
        }
    }
}

/// What a state has of what the pump requires, in the unit of the requirement.
pub(super) fn available(requires: Requirement, state: &State, balance: &Balance) -> f64 {
    match requires {
        Requirement::Npsh(_) => balance.npsh,
        Requirement::LeastInlet(InletPressure::Absolute(_)) => balance.inlet_pressure,
        Requirement::LeastInlet(InletPressure::Gauge(_)) => {
            balance.inlet_pressure - state.air_pressure
        }
        Requirement::GreatestVacuum(_) => state.air_pressure - balance.inlet_pressure,
    }
}

/// What a state has beyond what the pump requires.
fn margin(requires: Requirement, state: &State, balance: &Balance) -> f64 {
    let has = available(requires, state, balance);
    match requires {
        Requirement::Npsh(least)
        | Requirement::LeastInlet(InletPressure::Absolute(least) | InletPressure::Gauge(least)) => {
            has - least
        }
        Requirement::GreatestVacuum(most) => most - has,
    }
}

/// Finds the worst states.
pub(super) fn find(suction: &Suction) -> Result<Worst, SuctionRefusal> {
    let starved = starved(suction)?;
    let mut worst: Option<Worst> = None;
    for liquid in liquids(suction, &starved)? {
        let state = State { liquid, ..starved };
        let balance = state.balance()?;
        let this = Worst {
            state: (state, balance),
            margin: margin(suction.requires, &state, &balance),
            boiling: (state, balance),
            above_boiling: balance.above_boiling(),
        };
        let so_far = worst.get_or_insert(this);
        if this.margin < so_far.margin {
            (so_far.margin, so_far.state) = (this.margin, this.state);
        }
        if this.above_boiling < so_far.above_boiling {
            (so_far.above_boiling, so_far.boiling) = (this.above_boiling, this.boiling);
        }
    }
    Ok(worst.expect("internal: there is always a liquid to try"))
}

/// The pressure that the inlet sees at most: full tank, no losses, and the surge of every stroke.
pub(super) fn highest(suction: &Suction) -> Result<HighestInlet, SuctionRefusal> {
    let starved = starved(suction)?;
    let (mut head_pressure, mut density, mut surge) = (f64::NEG_INFINITY, 0.0, 0.0);
    for liquid in liquids(suction, &starved)? {
        let head = State { liquid, ..starved }.balance()?.acceleration_head;
        let pressure = liquid.density * starved.gravity * (suction.level.high + head);
        if pressure > head_pressure {
            (head_pressure, density, surge) = (pressure, liquid.density, head);
        }
    }
    let gauge = suction.tank.high + head_pressure;
    let absolute = gauge + air(suction)?.high;
    let margin = suction.greatest_inlet.map(|greatest| match greatest {
        InletPressure::Absolute(most) => most - absolute,
        InletPressure::Gauge(most) => most - gauge,
    });
    Ok(HighestInlet { absolute, gauge, margin, density, surge })
}

/// Which end of each figure with a range a state has.
pub(super) fn met(suction: &Suction, state: &State) -> Vec<Met> {
    let line = &suction.line;
    let mut met = Vec::new();
    let mut add = |what, spread: Spread, figure: f64, unit| {
        if spread.is_wide() {
            let end = if figure <= spread.low {
                End::Least
            } else if figure >= spread.high {
                End::Greatest
            } else {
                End::Inside
            };
            met.push(Met { what, end, figure, unit });
        }
    };
    match suction.air {
        Air::Altitude(altitude) => add("altitude", altitude, altitude.high, "m"),
        Air::Barometer(pressure) => add("air pressure", pressure, state.air_pressure, "Pa"),
    }
    add("tank pressure", suction.tank, state.tank_gauge, "Pa");
    add("level", suction.level, state.level, "m");
    match suction.liquid {
        Liquid::Water(temperature) => {
            add(
                "temperature",
                temperature,
                state.liquid.temperature.unwrap_or(temperature.high),
                "K",
            );
        }
        Liquid::Other { vapour_pressure, density, viscosity } => {
            add("vapour pressure", vapour_pressure, state.liquid.vapour_pressure, "Pa");
            add("density", density, state.liquid.density, "kg/m³");
            add("viscosity", viscosity, state.liquid.viscosity, "m²/s");
        }
    }
    add("speed", suction.speed, state.speed, "rev/min");
    if let Flow::At(flow) = suction.flow {
        add("flow", flow, state.flow, "m³/s");
    }
    add("length of line", line.length, state.length, "m");
    add("bore", line.bore, state.bore, "m");
    add("roughness", line.roughness, state.roughness, "m");
    add("fittings", line.fittings, state.fittings, "");
    add("strainer loss", line.strainer, state.strainer, "Pa");
    met
}
