//! Small exact linear algebra: enough for fits and zones, in rational numbers.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Zero as _};

/// An exact number.
pub type Exact = Ratio<BigInt>;

/// Rows of a square matrix.
pub(super) type Rows = Vec<Vec<Exact>>;

/// The inverse; `None` where there is none.
pub(super) fn inverse(rows: &Rows) -> Option<Rows> {
    let n = rows.len();
    let unit = |row: usize| {
        (0..n).map(move |column| if row == column { Exact::one() } else { Exact::zero() })
    };
    let mut wide: Rows = rows
        .iter()
        .enumerate()
        .map(|(i, row)| row.iter().cloned().chain(unit(i)).collect())
        .collect();
    for column in 0..n {
        let found = wide
            .iter()
            .skip(column)
            .position(|row| row.get(column).is_some_and(|v| !v.is_zero()))?;
        wide.swap(column, column + found);
        let mut pivot = wide.get(column)?.clone();
        let lead = pivot.get(column)?.clone();
        for value in &mut pivot {
            *value /= &lead;
        }
        for (i, row) in wide.iter_mut().enumerate() {
            if i == column {
                row.clone_from(&pivot);
                continue;
            }
            let factor = row.get(column)?.clone();
            if !factor.is_zero() {
                for (value, above) in row.iter_mut().zip(&pivot) {
                    *value -= &factor * above;
                }
            }
        }
    }
    Some(wide.into_iter().map(|row| row.into_iter().skip(n).collect()).collect())
}

/// The sum of products.
pub(super) fn dot<'a>(
    one: impl IntoIterator<Item = &'a Exact>,
    other: impl IntoIterator<Item = &'a Exact>,
) -> Exact {
    one.into_iter().zip(other).map(|(a, b)| a * b).sum()
}

/// The matrix times a column.
pub(super) fn times(rows: &Rows, column: &[Exact]) -> Vec<Exact> {
    rows.iter().map(|row| dot(row, column)).collect()
}

/// A row times the matrix.
pub(super) fn row_times(row: &[Exact], rows: &Rows) -> Vec<Exact> {
    let width = rows.first().map_or(0, Vec::len);
    let column = |i: usize| rows.iter().filter_map(move |row| row.get(i));
    (0..width).map(|i| dot(row, column(i))).collect()
}

/// The same numbers as whole ones over one denominator.
pub(super) fn over_one(numbers: &[Exact]) -> (Vec<BigInt>, BigInt) {
    let below = common(numbers);
    (numbers.iter().map(|n| n.numer() * (&below / n.denom())).collect(), below)
}

/// The least number that every denominator divides.
pub(super) fn common<'a>(numbers: impl IntoIterator<Item = &'a Exact>) -> BigInt {
    numbers.into_iter().fold(BigInt::one(), |common, number| {
        // What is left of the denominator when it is cut against `common`.
        let left = Exact::new(common.clone(), number.denom().clone());
        common * left.denom()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_times_its_matrix_is_one_and_some_have_none() {
        let rows = |numbers: [[i64; 3]; 3]| -> Rows {
            numbers
                .iter()
                .map(|r| r.iter().map(|&n| Exact::from_integer(n.into())).collect())
                .collect()
        };
        let matrix = rows([[0, 2, 1], [1, 1, 0], [3, 0, 5]]);
        let inverse = inverse(&matrix).unwrap();
        let product: Rows = matrix.iter().map(|row| row_times(row, &inverse)).collect();
        assert_eq!(product, rows([[1, 0, 0], [0, 1, 0], [0, 0, 1]]));
        assert_eq!(super::inverse(&rows([[1, 2, 3], [2, 4, 6], [0, 0, 1]])), None);
    }
}
