//! Named calculations that a mechanic can follow on paper: pure functions with formula, range and
//! source.
//!
//! [`find`] gives what a calculation says of itself, [`run`] does it. Figures come in as exact
//! quantities with where they came from; floating point, roots and powers are those of `libm`, so
//! that a record replays to the same bits everywhere.

pub mod atmosphere;
pub mod bounds;
mod declare;
mod explain;
mod figure;
pub mod flat;
pub mod flush;
pub mod friction;
mod json;
pub mod oil;
mod perform;
pub mod pump;
mod refusal;
mod schema;
pub mod spring;
pub mod suction;
pub mod torque;
mod unit;
pub mod water;
mod working;

pub use crate::units::Dimension;
pub use declare::{
    AT_LEAST, AT_MOST, Calculation, Gives, Held, Input, Need, Output, Range, Takes, VERDICT,
    VERDICTS,
};
pub use figure::{Figure, LIST_MAX, digits};
pub use json::FORMAT;
pub use perform::{Given, Inputs, Known, results, run};
pub use refusal::CalcRefusal;
pub use schema::schema;
pub use unit::Unit;
pub use working::{Comparison, Line, Outcome, Sheet, Used, Value, Weight, Working};

/// Every named calculation, in the order that they are listed.
pub static ALL: &[&Calculation] = &[
    &spring::SPRING_RATE,
    &spring::SPRING_LOAD,
    &spring::SPRING_LOAD_LOST,
    &flat::FLATNESS,
    &flat::STRAIGHTNESS,
    &flat::FEELER_GAP,
    &torque::TIGHTENING_ORDER,
    &torque::TIGHTENING_PASSES,
    &torque::WRENCH_SETTING,
    &torque::WRENCH_CHECK,
    &torque::PRELOAD_FROM_TORQUE,
    &torque::TORQUE_FROM_PRELOAD,
    &torque::THREAD,
    &flush::FLUSH_RESIDUAL,
    &flush::FLUSH_DRAINS,
    &pump::DISPLACEMENT,
    &pump::THEORETICAL_FLOW,
    &pump::VOLUMETRIC_EFFICIENCY,
    &pump::CURVE_FLOW,
    &pump::WEIGHED_FLOW,
    &pump::PUMP_POWER,
    &pump::PUMP_EFFICIENCY,
    &pump::MOTOR_CURRENT,
    &pump::PULSATION,
    &suction::SUCTION_CHECK,
    &suction::ACCELERATION_HEAD,
    &friction::PIPE_LOSS,
    &atmosphere::AIR_PRESSURE,
    &water::WATER_PROPERTIES,
    &oil::OIL_VISCOSITY,
    &oil::VISCOSITY_INDEX,
    &oil::VISCOSITY_GRADE,
    &oil::CLEANLINESS_CODE,
];

/// The calculation of this name.
pub fn find(name: &str) -> Option<&'static Calculation> {
    ALL.iter().copied().find(|calculation| calculation.name == name)
}

/// The calculation of this name, or the refusal that names the one it is most like.
///
/// # Errors
/// When there is none of this name.
pub fn named(name: &str) -> Result<&'static Calculation, CalcRefusal> {
    find(name).ok_or_else(|| {
        let words = |text: &str| text.split('_').map(str::to_owned).collect::<Vec<_>>();
        let asked = words(name);
        let near = ALL
            .iter()
            .map(|c| (words(c.name).iter().filter(|w| asked.contains(w)).count(), c.name))
            .filter(|(shared, _)| *shared > 0)
            .max_by_key(|(shared, _)| *shared)
            .map(|(_, near)| near);
        CalcRefusal::NoSuch { name: name.to_owned(), near }
    })
}

#[cfg(test)]
#[path = "calc_tests.rs"]
mod tests;
