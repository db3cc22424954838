//! How much each figure weighs: what the margin gains or loses when one of them alone is otherwise.

use super::worst;
use super::{Air, Flow, InletPressure, Liquid, Requirement, Spread, Suction};

/// What one figure, changed by a step, does to the margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weight {
    /// The figure and the step, as people say it: `10 % more speed`.
    pub step: &'static str,
    /// By how much the margin changes, in the unit of the requirement.
    pub gain: f64,
}

/// A step: the words for it, and the suction after it; `None` where there is nothing to change.
type Step = (&'static str, fn(&mut Suction) -> Option<()>);

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
    ("0.1 bar more air pressure", |s| match &mut s.air {
        Air::Barometer(pressure) => {
            shifted(pressure, 1e4);
            Some(())
        }
        Air::Altitude(_) => None,
    }),
    ("100 m more altitude", |s| match &mut s.air {
        Air::Altitude(altitude) => {
            shifted(altitude, 100.0);
            Some(())
        }
        Air::Barometer(_) => None,
    }),
    ("0.1 bar more in the tank", |s| {
        shifted(&mut s.tank, 1e4);
        Some(())
    }),
    ("1 m more level", |s| {
        shifted(&mut s.level, 1.0);
        Some(())
    }),
    ("5 °C warmer water", |s| match &mut s.liquid {
        Liquid::Water(temperature) => {
            shifted(temperature, 5.0);
            Some(())
        }
        Liquid::Other { .. } => None,
    }),
    ("10 % more vapour pressure", |s| match &mut s.liquid {
        Liquid::Other { vapour_pressure, .. } => scaled(vapour_pressure, 1.1),
        Liquid::Water(_) => None,
    }),
    ("10 % more density", |s| match &mut s.liquid {
        Liquid::Other { density, .. } => scaled(density, 1.1),
        Liquid::Water(_) => None,
    }),
    ("10 % more viscosity", |s| match &mut s.liquid {
        Liquid::Other { viscosity, .. } => scaled(viscosity, 1.1),
        Liquid::Water(_) => None,
    }),
    ("10 % more speed and flow", |s| {
        scaled(&mut s.speed, 1.1)?;
        faster(s)
    }),
    ("10 % more flow", |s| if s.speed.high > 0.0 { None } else { faster(s) }),
    ("1 m more line", |s| {
        shifted(&mut s.line.length, 1.0);
        Some(())
    }),
    ("10 % more bore", |s| scaled(&mut s.line.bore, 1.1)),
    ("a wall twice as rough", |s| scaled(&mut s.line.roughness, 2.0)),
    ("1 more on the K of the fittings", |s| {
        shifted(&mut s.line.fittings, 1.0);
        Some(())
    }),
    ("0.1 bar more in the strainer", |s| {
        shifted(&mut s.line.strainer, 1e4);
        Some(())
    }),
    ("a requirement 10 % higher", |s| match &mut s.requires {
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
    let gain = |&(step, change): &Step| {
        let mut changed = *suction;
        change(&mut changed)?;
        let after = worst::find(&changed).ok()?;
        Some(Weight { step, gain: after.margin - margin })
    };
    STEPS.iter().filter_map(gain).collect()
}
