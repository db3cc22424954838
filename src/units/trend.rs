//! A straight line through readings, in exact figures, and where it reaches a bound.
//!
//! Least squares: slope `Sxy / Sxx` and intercept `mean y - slope * mean x`, as every handbook of
//! statistics gives it. A line says what was; that it goes on is the reader's guess, and is said so.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::Zero as _;

/// An exact figure.
pub type Figure = Ratio<BigInt>;

/// A straight line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What `y` gains for each `x`.
    pub slope: Figure,
    /// `y` where `x` is 0.
    pub intercept: Figure,
}

impl Line {
    /// The line with the least sum of squared distances in `y`; `None` for fewer than two points,
    /// and for points that all have the same `x`.
    #[expect(clippy::arithmetic_side_effects, reason = "rationals of any size do not overflow")]
    pub fn through(points: &[(Figure, Figure)]) -> Option<Self> {
        if points.len() < 2 {
            return None;
        }
        let n = Figure::from_integer(BigInt::from(points.len()));
        let mean_x = points.iter().map(|(x, _)| x).sum::<Figure>() / &n;
        let mean_y = points.iter().map(|(_, y)| y).sum::<Figure>() / &n;
        let (mut sxx, mut sxy) = (Figure::zero(), Figure::zero());
        for (x, y) in points {
            let from_mean = x - &mean_x;
            sxy += &from_mean * (y - &mean_y);
            sxx += &from_mean * &from_mean;
        }
        if sxx.is_zero() {
            return None;
        }
        let slope = sxy / sxx;
        let intercept = mean_y - &slope * mean_x;
        Some(Self { slope, intercept })
    }

    /// `y` at `x`.
    #[expect(clippy::arithmetic_side_effects, reason = "rationals of any size do not overflow")]
    pub fn at(&self, x: &Figure) -> Figure {
        &self.slope * x + &self.intercept
    }

    /// The `x` where the line reaches `y`; `None` for a line that is level.
    #[expect(clippy::arithmetic_side_effects, reason = "rationals of any size do not overflow")]
    pub fn reaches(&self, y: &Figure) -> Option<Figure> {
        (!self.slope.is_zero()).then(|| (y - &self.intercept) / &self.slope)
    }
}
