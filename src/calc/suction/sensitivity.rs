//! How much each figure weighs: what the margin gains or loses when one of them alone is otherwise.

use super::worst;
use super::{Air, Flow, InletPressure, Liquid, Requirement, Spread, Suction};

/// What one figure, changed by a step, does to the margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weight {
    /// The figure, by the name of its input.
    pub input: &'static str,
    /// The step, as people say it: `10 % more`.
    pub step: &'static str,
    /// By how much the margin changes, in the unit of the requirement.
    pub gain: f64,
}

/// A step: the input, the words for it, and the suction after it; `None` where there is nothing to change.
type Step = (&'static str, &'static str, fn(&mut Suction) -> Option<()>);

fn shifted(spread: &mut Spread, by: f64) {
    *spread = Spread { low: spread.low + by, high: spread.high + by };
}

/// Scales both ends; nothing to scale is no step.
fn scaled(spread: &mut Spread, by: f64) -> Option<()> {
    let wide = spread.high > 0.0;
    *spread = Spread { low: spread.low * by, high: spread.high * by };
    wide.then_some(())
}

/// A tenth more flow; what a strainer costs goes with the square of it.
fn faster(suction: &mut Suction) -> Option<()> {
    scaled(&mut suction.line.strainer, 1.21);
    match &mut suction.flow {
        Flow::At(flow) => scaled(flow, 1.1),
        // The speed has moved.
        Flow::PerTurn(_) => Some(()),
    }
}

const STEPS: [Step; 16] = [
    ("air_pressure", "0.1 bar more", |s| match &mut s.air {
        Air::Barometer(pressure) => {
            shifted(pressure, 1e4);
            Some(())
        }
        Air::Altitude(_) => None,
    }),
    ("altitude", "100 m more", |s| match &mut s.air {
        Air::Altitude(altitude) => {
            shifted(altitude, 100.0);
            Some(())
        }
        Air::Barometer(_) => None,
    }),
    ("tank_pressure", "0.1 bar more", |s| {
        shifted(&mut s.tank, 1e4);
        Some(())
    }),
    ("level", "1 m more", |s| {
        shifted(&mut s.level, 1.0);
        Some(())
    }),
    ("temperature", "5 °C more", |s| match &mut s.liquid {
        Liquid::Water(temperature) => {
            shifted(temperature, 5.0);
            Some(())
        }
        Liquid::Other { .. } => None,
    }),
    ("vapour_pressure", "10 % more", |s| match &mut s.liquid {
        Liquid::Other { vapour_pressure, .. } => scaled(vapour_pressure, 1.1),
        Liquid::Water(_) => None,
    }),
    ("density", "10 % more", |s| match &mut s.liquid {
        Liquid::Other { density, .. } => scaled(density, 1.1),
        Liquid::Water(_) => None,
    }),
    ("viscosity", "10 % more", |s| match &mut s.liquid {
        Liquid::Other { viscosity, .. } => scaled(viscosity, 1.1),
        Liquid::Water(_) => None,
    }),
    ("speed", "10 % more, and the flow with it", |s| {
        scaled(&mut s.speed, 1.1)?;
        faster(s)
    }),
    ("flow", "10 % more", |s| if s.speed.high > 0.0 { None } else { faster(s) }),
    ("length", "1 m more", |s| {
        shifted(&mut s.line.length, 1.0);
        Some(())
    }),
    ("bore", "10 % more", |s| scaled(&mut s.line.bore, 1.1)),
    ("roughness", "twice as much", |s| scaled(&mut s.line.roughness, 2.0)),
    ("fittings", "1 more", |s| {
        shifted(&mut s.line.fittings, 1.0);
        Some(())
    }),
    ("strainer", "0.1 bar more", |s| {
        shifted(&mut s.line.strainer, 1e4);
        Some(())
    }),
    ("what the pump asks for", "10 % more", |s| match &mut s.requires {
        Requirement::Npsh(figure) | Requirement::LeastInlet(InletPressure::Absolute(figure)) => {
            *figure *= 1.1;
            (*figure > 0.0).then_some(())
        }
        Requirement::LeastInlet(InletPressure::Gauge(_)) | Requirement::GreatestVacuum(_) => None,
    }),
];

/// The weight of every figure that is there. A step that leads out of the range of the check is left
/// out: there is no margin to compare with.
pub(super) fn weights(suction: &Suction, margin: f64) -> Vec<Weight> {
    let gain = |&(input, step, change): &Step| {
        let mut changed = *suction;
        change(&mut changed)?;
        let after = worst::find(&changed).ok()?;
        Some(Weight { input, step, gain: after.margin - margin })
    };
    STEPS.iter().filter_map(gain).collect()
}
