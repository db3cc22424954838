//! Readings of height on a grid, as the working of a flatness was given them, and what a look saw at
//! the earlier times of the same place.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{ToPrimitive as _, Zero as _};

use crate::session::Session;
use crate::units::{Reading, Unit};
use crate::walk::event::WorkedOut;
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::{Address, Answer};

/// How many steps a height is told apart in.
pub const LEVELS: usize = 5;
/// Micrometres in a millimetre.
const UM: u32 = 1_000;

/// Heights on a grid, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GridShown {
    /// Readings in a row.
    pub columns: usize,
    /// Each height above the least of them, in micrometres.
    pub above_um: Vec<Ratio<BigInt>>,
}

impl GridShown {
    /// The grid that `worked` was worked out from; `None` for other workings and for readings that
    /// lie at places of their own.
    pub fn of(worked: &WorkedOut) -> Option<Self> {
        if worked.calculation != "flatness" {
            return None;
        }
        let columns = worked.given.get("columns")?.trim().parse().ok()?;
        let heights = worked.given.get("heights")?.split(", ").map(|text| {
            let reading = Reading::parse(text, Unit::Millimetre).ok()?;
            Some(reading.value.in_unit(Unit::Millimetre) * BigInt::from(UM))
        });
        let heights: Vec<Ratio<BigInt>> = heights.collect::<Option<_>>()?;
        let least = heights.iter().min()?.clone();
        let above_um = heights.into_iter().map(|height| height - &least).collect();
        (columns >= 2).then_some(Self { columns, above_um })
    }

    /// The rows, each from its first reading to its last.
    pub fn rows(&self) -> impl Iterator<Item = &[Ratio<BigInt>]> {
        self.above_um.chunks(self.columns)
    }

    /// The greatest height above the least.
    pub fn most(&self) -> Ratio<BigInt> {
        self.above_um.iter().max().cloned().unwrap_or_else(Ratio::zero)
    }

    /// In which of [`LEVELS`] steps a height lies, from the least on.
    pub fn level(&self, above_um: &Ratio<BigInt>) -> usize {
        let most = self.most();
        if most.is_zero() {
            return 0;
        }
        let share = above_um / most * BigInt::from(LEVELS);
        share.floor().to_integer().to_usize().unwrap_or(0).min(LEVELS - 1)
    }

    /// A height in whole micrometres.
    pub fn um_text(above_um: &Ratio<BigInt>) -> String {
        above_um.round().to_integer().to_string()
    }
}

/// What was found at one time of a place that is looked at again and again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenAt {
    /// Which time it was, from 1.
    pub time: u32,
    /// The findings, by their place in the list.
    pub findings: Vec<usize>,
}

/// What was found at the earlier times of the look `index`, in their order; empty for the first.
pub(super) fn seen_before(session: &Session, index: InstanceIdx) -> Vec<SeenAt> {
    let (flow, state) = (&session.files().flow, session.state());
    let here = flow.instance(index);
    let Ask::Look { findings, .. } = &here.ask else { return Vec::new() };
    if here.address.0.iter().all(|segment| segment.pass <= 1) {
        return Vec::new();
    }
    let same_place = |other: &Address| {
        other.0.len() == here.address.0.len()
            && other.0.iter().zip(&here.address.0).all(|(a, b)| {
                let mut a = a.clone();
                a.pass = b.pass;
                a == *b
            })
    };
    let mut seen = Vec::new();
    for earlier in state.walk.path.iter().filter(|earlier| **earlier != index) {
        let held = state.held.get(*earlier).and_then(Option::as_ref);
        let Some(Answer::Found(found)) = held.map(|held| &held.answer) else { continue };
        if !same_place(&flow.instance(*earlier).address) {
            continue;
        }
        let places = (0..).zip(findings).filter(|(_, finding)| found.contains(&finding.id));
        let time = u32::try_from(seen.len()).unwrap_or(u32::MAX).saturating_add(1);
        seen.push(SeenAt { time, findings: places.map(|(place, _)| place).collect() });
    }
    seen
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn worked(heights: &str, columns: &str) -> WorkedOut {
        let given = [("heights", heights), ("columns", columns)];
        WorkedOut {
            calculation: "flatness".to_owned(),
            given: given.map(|(name, text)| (name.to_owned(), text.to_owned())).into(),
            result: Err(String::new()),
        }
    }

    #[test]
    fn heights_stand_above_the_least_in_micrometres_and_in_five_steps() {
        let grid = GridShown::of(&worked("0.002 mm, 0.010 mm, 4 µm, 0 mm", "2")).unwrap();
        let shown: Vec<Vec<String>> =
            grid.rows().map(|row| row.iter().map(GridShown::um_text).collect()).collect();
        assert_eq!(shown, [["2", "10"], ["4", "0"]]);
        let levels: Vec<usize> = grid.above_um.iter().map(|um| grid.level(um)).collect();
        assert_eq!(levels, [1, 4, 2, 0]);
    }

    #[test]
    fn what_is_no_grid_is_none() {
        assert_eq!(GridShown::of(&worked("0 mm, 1 mm", "1")), None);
        assert_eq!(GridShown::of(&worked("0 mm, high", "2")), None);
        let places = WorkedOut { given: BTreeMap::new(), ..worked("0 mm", "2") };
        assert_eq!(GridShown::of(&places), None);
        let level = GridShown::of(&worked("1 mm, 1 mm", "2")).unwrap();
        assert_eq!(level.level(&level.above_um[0]), 0);
    }
}
