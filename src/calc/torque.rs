//! Bolted joints: in which order and passes to tighten, what to set at the wrench, what preload a
//! torque gives, and what a thread can bear.

mod order;
mod preload;
mod thread;
mod wrench;

pub use self::order::{TIGHTENING_ORDER, TIGHTENING_PASSES, order};
pub use self::preload::{
    Friction, PRELOAD_FROM_TORQUE, TORQUE_FROM_PRELOAD, exact_helix_factor, nut_factor_parts,
};
pub use self::thread::{THREAD, Thread};
pub use self::wrench::{WRENCH_CHECK, WRENCH_SETTING, setting};

use crate::units::Dimension;

const MM: (Dimension, &str) = (Dimension::Length, "mm");
const NUMBER: (Dimension, &str) = (Dimension::Number, "");
const SHARE: (Dimension, &str) = (Dimension::Number, "%");
const NEWTON_METRE: (Dimension, &str) = (Dimension::Torque, "N·m");
const KILONEWTON: (Dimension, &str) = (Dimension::Force, "kN");
const STRESS: (Dimension, &str) = (Dimension::PressureDifference, "N/mm²");
