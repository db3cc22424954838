//! The line or plane of least squares through readings, exactly, and the zone about it.

use num_bigint::BigInt;
use num_traits::{One as _, ToPrimitive as _};

use super::exact::{Exact, Rows, inverse, over_one, times};
use super::whole::{Reading, Whole};

/// A plane or line z = c + a·x + b·y and the zone that the readings fill along the height.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fit {
    /// Its height at the origin, in metres.
    pub height: Exact,
    /// Its slopes, one for each direction.
    pub slopes: Vec<Exact>,
    /// The zone along the height, in metres.
    pub width: Exact,
}

/// Fits by least squares; `None` where the places do not fix the slopes.
pub fn least_squares(readings: &[Reading]) -> Option<Fit> {
    let whole = Whole::of(readings);
    let one = BigInt::one();
    let terms: Vec<Vec<&BigInt>> =
        whole.places.iter().map(|place| std::iter::once(&one).chain(place).collect()).collect();
    let size = terms.first()?.len();
    let column = |i: usize| terms.iter().filter_map(move |term| term.get(i).copied());
    let sum = |i: usize, other: &mut dyn Iterator<Item = &BigInt>| {
        Exact::from_integer(column(i).zip(other).map(|(a, b)| a * b).sum())
    };
    let rows: Rows =
        (0..size).map(|i| (0..size).map(|j| sum(i, &mut column(j))).collect()).collect();
    let right: Vec<Exact> = (0..size).map(|i| sum(i, &mut whole.heights.iter())).collect();
    let found = times(&inverse(&rows)?, &right);
    let (factors, below) = over_one(&found);
    let left = terms.iter().zip(&whole.heights).map(|(term, height)| {
        let fitted: BigInt = term.iter().zip(&factors).map(|(at, factor)| *at * factor).sum();
        height * &below - fitted
    });
    let (mut least, mut most) = (None, None);
    for value in left {
        if least.as_ref().is_none_or(|least| value < *least) {
            least = Some(value.clone());
        }
        if most.as_ref().is_none_or(|most| value > *most) {
            most = Some(value);
        }
    }
    let width = Exact::new(most? - least?, below * &whole.height_scale);
    let slope_scale = Exact::new(whole.place_scale, whole.height_scale.clone());
    let mut found = found.into_iter();
    let height = found.next()? / whole.height_scale;
    Some(Fit { height, slopes: found.map(|slope| slope * &slope_scale).collect(), width })
}

/// The share of a zone along the height that it is across its planes: 1/√(1 + a² + b²).
pub fn across(slopes: &[Exact]) -> f64 {
    let steep: f64 = slopes
        .iter()
        .map(|slope| slope.to_f64().unwrap_or(f64::INFINITY))
        .map(|slope| slope * slope)
        .sum();
    1.0 / libm::sqrt(1.0 + steep)
}
