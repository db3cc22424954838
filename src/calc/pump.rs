//! Pumps that displace: volume of a turn, flow, efficiencies, power, pulsation.
//!
//! What reaches the inlet is in `suction`.

mod flow;
mod power;
mod pulsation;

pub use self::flow::{
    CURVE_FLOW, DISPLACEMENT, THEORETICAL_FLOW, VOLUMETRIC_EFFICIENCY, WEIGHED_FLOW, displacement,
};
pub use self::power::{MOTOR_CURRENT, PUMP_EFFICIENCY, PUMP_POWER, motor_current, shaft_torque};
pub use self::pulsation::{PULSATION, Pulsation, pulsation};

use super::declare::Input;
use crate::units::Dimension;

const MM: (Dimension, &str) = (Dimension::Length, "mm");
const NUMBER: (Dimension, &str) = (Dimension::Number, "");
const SHARE: (Dimension, &str) = (Dimension::Number, "%");
const LITRE: (Dimension, &str) = (Dimension::Volume, "L");
const FLOW: (Dimension, &str) = (Dimension::Flow, "L/min");
const TURNS: (Dimension, &str) = (Dimension::Rotation, "rev/min");
const BAR: (Dimension, &str) = (Dimension::PressureDifference, "bar");
const KILOWATT: (Dimension, &str) = (Dimension::Power, "kW");
const NEWTON_METRE: (Dimension, &str) = (Dimension::Torque, "N·m");

const VOLUME_OF_A_TURN: Input = Input::figure("displacement", "V", "volume of one turn", LITRE)
    .from_to(
        "0.000001 L",
        "100000 L",
        "no pump displaces more or less in a turn; look at the unit",
    );
const SPEED: Input = Input::figure("speed", "n", "speed of the crank or shaft, measured", TURNS)
    .from_to("0 rev/min", "10000 rev/min", "no such pump turns faster, and none backwards");
const ACTUAL_FLOW: Input = Input::figure("flow", "Q", "flow as measured", FLOW).from_to(
    "0 L/min",
    "1000000 L/min",
    "no such pump gives more; look at the unit",
);
const PRESSURE: Input = Input::figure("pressure", "Δp", "pressure from inlet to outlet", BAR)
    .from_to("0 bar", "10000 bar", "no such pump presses more; look at the unit");
