//! The least zone between two parallel lines or planes that holds all readings, exactly.
//!
//! The zone is measured along the height, as the readings are. The search walks from one set of
//! contacts to the next better one and ends where no reading lies outside of the zone that its contacts
//! span. The contacts then prove the result: their weighted heights, with weights that balance in
//! place, add up to the zone, and no zone that holds them can be less.

use num_bigint::BigInt;
use num_traits::{One as _, Signed as _, Zero as _};

use super::exact::{Exact, Rows, inverse, over_one, row_times, times};
use super::whole::{Reading, Whole};

/// Which side of the zone a contact bears on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// The upper.
    Top,
    /// The lower.
    Bottom,
}

/// A reading that the zone rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Which reading, from 0.
    pub reading: usize,
    /// The side.
    pub side: Side,
    /// How much of a small change of the reading goes into the zone; those of a side add up to 1.
    pub weight: Exact,
}

/// The least zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zone {
    /// Its width along the height, in metres.
    pub width: Exact,
    /// Its slopes, one for each direction.
    pub slopes: Vec<Exact>,
    /// What it rests on, top first, in the order of the readings.
    pub contacts: Vec<Contact>,
}

type Column = (Side, usize);

/// The state of the search: four contacts on a face, three along an edge.
struct Search<'a> {
    whole: &'a Whole,
    basis: Vec<Column>,
    /// The inverse of the matrix whose columns are those of the basis.
    inverse: Rows,
}

/// A zone between two planes, as whole numbers over one denominator.
struct Span {
    below: BigInt,
    top: BigInt,
    bottom: BigInt,
    slopes: Vec<BigInt>,
}

impl<'a> Search<'a> {
    fn new(whole: &'a Whole, basis: Vec<Column>) -> Option<Self> {
        let columns: Rows = basis.iter().map(|column| of(whole, *column)).collect();
        let size = columns.len();
        let rows = (0..size)
            .map(|i| columns.iter().filter_map(|column| column.get(i).cloned()).collect())
            .collect();
        let inverse = inverse(&rows)?;
        Some(Self { whole, basis, inverse })
    }

    /// How much each contact carries.
    fn weights(&self) -> Vec<Exact> {
        let mut right = vec![Exact::zero(); self.basis.len()];
        for side in right.iter_mut().take(2) {
            *side = Exact::one();
        }
        times(&self.inverse, &right)
    }

    /// The zone that the contacts span.
    fn span(&self) -> Span {
        let heights: Vec<Exact> = self
            .basis
            .iter()
            .map(|&(side, i)| {
                let height = self.whole.heights.get(i).cloned().unwrap_or_default();
                Exact::from_integer(if side == Side::Top { height } else { -height })
            })
            .collect();
        let exact = row_times(&heights, &self.inverse);
        let (whole, below) = over_one(&exact);
        let mut whole = whole.into_iter();
        let (top, bottom) = (whole.next().unwrap_or_default(), whole.next().unwrap_or_default());
        Span { top, bottom, slopes: whole.collect(), below }
    }

    /// The reading that lies farthest outside of the span, or the first that does.
    fn outside(&self, span: &Span, first: bool) -> Option<Column> {
        let mut worst: Option<(BigInt, Column)> = None;
        let mut offer = |excess: BigInt, column: Column| {
            let better = match &worst {
                None => true,
                Some((most, held)) if first => column < *held && most.is_positive(),
                Some((most, _)) => excess > *most,
            };
            if excess.is_positive() && better {
                worst = Some((excess, column));
            }
        };
        for (i, (place, height)) in self.whole.places.iter().zip(&self.whole.heights).enumerate() {
            let slope: BigInt = place.iter().zip(&span.slopes).map(|(at, slope)| at * slope).sum();
            let level = height * &span.below - slope;
            offer(&level - &span.top, (Side::Top, i));
            offer(-level - &span.bottom, (Side::Bottom, i));
        }
        worst.map(|(_, column)| column)
    }

    /// Takes `entering` into the contacts; true when the zone grew by that.
    fn exchange(self, entering: Column) -> Option<(Self, bool)> {
        let change = times(&self.inverse, &of(self.whole, entering));
        let weights = self.weights();
        let (grown, leaving) = weights
            .iter()
            .zip(&change)
            .zip(&self.basis)
            .enumerate()
            .filter(|(_, ((_, change), _))| change.is_positive())
            .map(|(i, ((weight, change), column))| ((weight / change, *column), i))
            .min()
            .map(|((step, _), i)| (step.is_positive(), i))?;
        let mut basis = self.basis;
        if let Some(place) = basis.get_mut(leaving) {
            *place = entering;
        }
        Self::new(self.whole, basis).map(|search| (search, grown))
    }
}

/// The column of a contact: which side it is on, and where.
fn of(whole: &Whole, (side, i): Column) -> Vec<Exact> {
    let top = side == Side::Top;
    let one = |set: bool| if set { Exact::one() } else { Exact::zero() };
    let place = whole.places.get(i).into_iter().flatten();
    let place = place.map(|at| Exact::from_integer(if top { at.clone() } else { -at }));
    [one(top), one(!top)].into_iter().chain(place).collect()
}

/// Finds the least zone; `None` where the places do not fix its slopes: fewer than two places along
/// an edge, or all on one line on a face.
pub fn least_zone(readings: &[Reading]) -> Option<Zone> {
    let whole = Whole::of(readings);
    let mut search = start(&whole)?;
    let mut first = false;
    loop {
        let span = search.span();
        let Some(entering) = search.outside(&span, first) else {
            return Some(found(&search, &span));
        };
        let (next, grown) = search.exchange(entering)?;
        search = next;
        // Taking the first reading outside, as long as the zone does not grow, cannot go in circles.
        first = !grown;
    }
}

/// Contacts to begin with: one reading on both sides, and others whose places fix the slopes.
fn start(whole: &Whole) -> Option<Search<'_>> {
    let directions = whole.places.first()?.len();
    let mut chosen = vec![0];
    let mut spread: Vec<Vec<Exact>> = Vec::new();
    let origin = whole.places.first()?;
    for (i, place) in whole.places.iter().enumerate() {
        if spread.len() == directions {
            break;
        }
        let from_origin: Vec<Exact> =
            place.iter().zip(origin).map(|(at, from)| Exact::from_integer(at - from)).collect();
        let fresh = match (spread.first(), from_origin.as_slice()) {
            (None, steps) => steps.iter().any(|step| !step.is_zero()),
            (Some(one), [x, y]) => match one.as_slice() {
                [u, v] => u * y != v * x,
                _ => false,
            },
            _ => false,
        };
        if fresh {
            spread.push(from_origin);
            chosen.push(i);
        }
    }
    if spread.len() < directions {
        return None;
    }
    let tops = chosen.into_iter().map(|i| (Side::Top, i));
    Search::new(whole, tops.chain([(Side::Bottom, 0)]).collect())
}

fn found(search: &Search<'_>, span: &Span) -> Zone {
    let (places, heights) = (&search.whole.place_scale, &search.whole.height_scale);
    let width = Exact::new(&span.top + &span.bottom, &span.below * heights);
    let slope = |slope: &BigInt| Exact::new(slope * places, &span.below * heights);
    let mut contacts: Vec<Contact> = search
        .basis
        .iter()
        .zip(search.weights())
        .filter(|(_, weight)| weight.is_positive())
        .map(|(&(side, reading), weight)| Contact { reading, side, weight })
        .collect();
    contacts.sort_by_key(|contact| (contact.side, contact.reading));
    Zone { width, slopes: span.slopes.iter().map(slope).collect(), contacts }
}

#[cfg(test)]
#[path = "zone_tests.rs"]
mod tests;
