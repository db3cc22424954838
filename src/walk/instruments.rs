//! Instruments in a job: read with nothing in them each day, and how often a wrench was used.

use super::accept::{dimension, on_the_list};
use super::event::InstrumentSnapshot;
use super::job::{Files, JobState};
use super::refusal::Refusal;
use crate::ids::{Moment, PersonId};
use crate::shop::model::Instrument;
use crate::units::{Quantity, Reading};

/// A reading with nothing in the instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ZeroNote {
    /// The entry.
    pub n: u64,
    /// The instrument as it stood.
    pub instrument: InstrumentSnapshot,
    /// What it showed.
    pub reading: Reading,
    /// True when that is near enough to zero.
    pub so: bool,
    /// Who.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// True while `instrument` must be read with nothing in it before it is used on the day of `now`.
pub fn zero_due(state: &JobState, instrument: &Instrument, now: Moment) -> bool {
    let mut checks = state.zero_checks.iter().rev();
    instrument.zero_check.is_some()
        && !checks
            .find(|check| check.instrument.id == instrument.id)
            .is_some_and(|check| check.so && check.at.day() == now.day())
}

/// How often a wrench was used since its calibration, by the list and by this job; `None` where
/// nobody counts.
pub fn loads(state: &JobState, instrument: &Instrument) -> Option<u32> {
    let listed = instrument.loads?;
    let here = state.loads.get(&instrument.id).copied().unwrap_or(0);
    Some(listed.so_far.saturating_add(here))
}

/// Whether `instrument` can be read on the day of `now`, as far as this job knows.
///
/// # Errors
/// Not checked for zero on that day, or used as often as it may be.
pub fn ready(state: &JobState, instrument: &Instrument, now: Moment) -> Result<(), Refusal> {
    if let Some(within) = &instrument.zero_check
        && zero_due(state, instrument, now)
    {
        return Err(Refusal::ZeroDue { id: instrument.id.clone(), within: shown(within) });
    }
    fresh(state, instrument)
}

/// Whether a wrench may be used for one more fastener.
///
/// # Errors
/// It was used as often as it may be.
pub fn fresh(state: &JobState, instrument: &Instrument) -> Result<(), Refusal> {
    match (instrument.loads, loads(state, instrument)) {
        (Some(listed), Some(so_far)) if so_far >= listed.at_most => {
            Err(Refusal::LoadsReached { id: instrument.id.clone(), at_most: listed.at_most })
        }
        _ => Ok(()),
    }
}

/// Whether what an instrument showed with nothing in it is near enough to zero.
///
/// # Errors
/// An instrument that is not on the list or not to be used, that needs no such check, or a figure of
/// another kind.
pub(super) fn zero(
    files: &Files,
    given: &InstrumentSnapshot,
    reading: &Reading,
    now: Moment,
) -> Result<bool, Refusal> {
    let listed = on_the_list(files, None, given, now)?;
    let Some(within) = &listed.zero_check else {
        return Err(Refusal::NoZeroCheck(given.id.clone()));
    };
    dimension(reading, listed.range.0.dimension.usual())?;
    // Zero as the instrument shows it: of gauge pressure that is no pressure over the air.
    let zero = Reading::parse("0", reading.unit).map(|zero| zero.value.si).unwrap_or_default();
    #[expect(clippy::arithmetic_side_effects, reason = "rationals of any size do not overflow")]
    let off = &reading.value.si - zero;
    Ok(num_traits::Signed::abs(&off) <= within.si)
}

/// How far from zero an instrument may show, in words.
pub fn shown(within: &Quantity) -> String {
    within.render(within.dimension.usual())
}
