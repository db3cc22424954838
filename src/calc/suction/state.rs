//! One state of a pump's suction: every figure settled, every term of the balance worked out.

use super::acceleration::{Column, Give, PumpType, acceleration_head};
use crate::calc::bounds::{Bounds, Outside};
use crate::calc::friction::{Course, LAMINAR_MAX, pipe_loss, velocity};

/// The velocity beyond which a suction line is surely typed in wrong, in m/s.
const VELOCITY: Bounds = Bounds {
    what: "the velocity in the suction line",
    low: 0.0,
    high: 20.0,
    unit: "m/s",
    because: "no suction line is run so fast; look at flow, bore and their units",
};

/// What moves the liquid in jerks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulsation {
    /// How the pump is built.
    pub pump: PumpType,
    /// How much the liquid gives.
    pub give: Give,
    /// How far from the pump a stabiliser sits, in metres along the line; `None` without one.
    pub stabiliser: Option<f64>,
}

/// The liquid in one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidState {
    /// Its temperature in kelvins, where it is known.
    pub temperature: Option<f64>,
    /// The absolute pressure at which it boils, in pascals.
    pub vapour_pressure: f64,
    /// Its density, in kg/m³.
    pub density: f64,
    /// Its kinematic viscosity, in m²/s.
    pub viscosity: f64,
}

/// Everything that the balance needs, each a single figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// The air pressure at the tank, absolute, in pascals.
    pub air_pressure: f64,
    /// The pressure over the liquid in the tank above the air's, in pascals; 0 in an open tank.
    pub tank_gauge: f64,
    /// The level above the pump's centre line, in metres; negative when the pump lifts.
    pub level: f64,
    /// The liquid.
    pub liquid: LiquidState,
    /// The flow, in m³/s.
    pub flow: f64,
    /// The speed of the pump's crank, in revolutions a minute.
    pub speed: f64,
    /// The length of the line, in metres.
    pub length: f64,
    /// The bore of the line, in metres.
    pub bore: f64,
    /// The roughness of its wall, in metres.
    pub roughness: f64,
    /// The sum of the loss factors K of entry, bends and valves.
    pub fittings: f64,
    /// The pressure lost in the strainer at this flow, in pascals.
    pub strainer: f64,
    /// The pulsation, for a reciprocating pump.
    pub pulsation: Option<Pulsation>,
    /// The acceleration of free fall, in m/s².
    pub gravity: f64,
}

/// The balance of one state. Heads in metres of the liquid, pressures in pascals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// How the liquid goes through the line.
    pub course: Course,
    /// The absolute pressure on the liquid in the tank.
    pub surface_pressure: f64,
    /// The head of the pressure on the liquid.
    pub surface_head: f64,
    /// The head of the vapour pressure.
    pub vapour_head: f64,
    /// What the straight pipe costs.
    pub pipe_head: f64,
    /// What entry, bends and valves cost.
    pub fittings_head: f64,
    /// What the strainer costs.
    pub strainer_head: f64,
    /// What the jerks cost.
    pub acceleration_head: f64,
    /// The NPSH available: what is left above the vapour pressure, velocity head included.
    pub npsh: f64,
    /// The absolute pressure that a gauge at the pump's inlet would show at the worst moment of a
    /// stroke; less than 0 where there is no such state.
    pub inlet_pressure: f64,
}

impl Balance {
    /// How far the pressure at the inlet lies above the vapour pressure, as a head; not above 0 the
    /// liquid boils before the pump.
    pub fn above_boiling(&self) -> f64 {
        self.npsh - self.course.velocity_head
    }
}

/// The NPSH available from the terms of the balance, all in metres of the liquid.
///
/// Formula: `NPSHa = (ps − pv)/(ρ·g) + z − losses`; pressures absolute in pascals, density in kg/m³.
pub fn npsh_available(surface_and_vapour: [f64; 2], weight: f64, level: f64, losses: f64) -> f64 {
    let [surface, vapour] = surface_and_vapour;
    (surface - vapour) / weight + level - losses
}

impl State {
    /// Works the balance out.
    pub fn balance(&self) -> Result<Balance, Outside> {
        let weight = self.liquid.density * self.gravity;
        let velocity = VELOCITY.take(velocity(self.flow, self.bore))?;
        let through = [self.flow, self.bore, self.roughness, self.liquid.viscosity];
        let course = Course::of(through, self.gravity)?;
        let velocity_head = course.velocity_head;
        let pipe_head = pipe_loss(course.factor(), self.length, self.bore, velocity_head);
        let fittings_head = self.fittings * velocity_head;
        let strainer_head = self.strainer / weight;
        let acceleration_head = match self.pulsation {
            None => 0.0,
            Some(Pulsation { pump, give, stabiliser }) => {
                let length = stabiliser.unwrap_or(self.length).min(self.length);
                let (speed, gravity) = (self.speed, self.gravity);
                acceleration_head(Column { length, velocity, speed, gravity }, pump, give)?
            }
        };
        let surface_pressure = self.air_pressure + self.tank_gauge;
        let losses = pipe_head + fittings_head + strainer_head + acceleration_head;
        let vapour = self.liquid.vapour_pressure;
        let npsh = npsh_available([surface_pressure, vapour], weight, self.level, losses);
        Ok(Balance {
            course,
            surface_pressure,
            surface_head: surface_pressure / weight,
            vapour_head: vapour / weight,
            pipe_head,
            fittings_head,
            strainer_head,
            acceleration_head,
            npsh,
            inlet_pressure: vapour + weight * (npsh - velocity_head),
        })
    }

    /// The kinematic viscosity just thin enough that the flow is not laminar any more.
    pub(super) fn viscosity_at_the_jump(&self) -> f64 {
        let just_above = LAMINAR_MAX * (1.0 + 1e-9);
        velocity(self.flow, self.bore) * self.bore / just_above
    }
}
