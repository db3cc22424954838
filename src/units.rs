//! Quantities, units, what people type, limits.
//!
//! Every value is an exact rational in SI units, so a comparison at a limit never depends on
//! floating point. The one exception is a decision by probability, in `risk`.

mod beside;
pub mod compare;
pub mod criterion;
pub mod decision;
pub mod dimension;
pub mod duration;
pub mod entry;
pub mod fault;
pub mod grades;
pub mod instrument;
pub mod limit;
pub mod quantity;
pub mod repeat;
pub mod risk;
pub mod slip;
pub mod tolerance;
pub mod torque_wrench;
pub mod trend;
pub mod uncertainty;
pub mod unit;

pub use compare::{Compare, Ties};
pub use criterion::Criterion;
pub use decision::{Decision, DecisionFault, DecisionRule, Guard};
pub use dimension::Dimension;
pub use entry::Reading;
pub use fault::EntryFault;
pub use grades::{Grade, Graded, Grades, GradesFault};
pub use instrument::{Capacity, Demand, Unfit};
pub use limit::{Limit, LimitFault, Side};
pub use quantity::Quantity;
pub use repeat::{RepeatFault, RepeatRule, Repeats, Settled};
pub use slip::{Hint, Slip, Turn};
pub use tolerance::Tolerance;
pub use uncertainty::{Uncertainty, UncertaintyFault};
pub use unit::Unit;
