//! The limit as a bar, with the place of the reading. Exact figures, no rounding before the column.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use crate::tui::theme::Role;
use crate::units::{Limit, Reading, Side};

use super::rows::Row;

type Figure = Ratio<BigInt>;

/// The bar in `columns`: `░` is out of the limit, `━` within, `◆` a reading within, `×` one out.
pub(super) fn rows(limit: &Limit, reading: Option<&Reading>, columns: usize) -> Vec<Row> {
    let columns = columns.clamp(12, 56);
    let figure = |q: &crate::units::Quantity| q.in_unit(limit.unit);
    let (least, most) = (limit.at_least.as_ref().map(figure), limit.at_most.as_ref().map(figure));
    let (from, to) = range(least.as_ref(), most.as_ref());
    let column = |value: &Figure| column(value, &from, &to, columns);
    let place = reading.map(|r| figure(&r.value));
    let mut bits: Vec<(Role, String)> = vec![(Role::Plain, "  [".to_owned())];
    let (left, right) = (least.as_ref().map(&column), most.as_ref().map(&column));
    for at in 0..columns {
        let out = left.is_some_and(|l| at < l) || right.is_some_and(|r| at > r);
        let edge = left == Some(at) || right == Some(at);
        let here = place.as_ref().is_some_and(|p| column(p) == at);
        let side = reading.and_then(|r| limit.judge(&r.value));
        let bit = match (here, edge, out) {
            (true, ..) if side == Some(Side::Within) => (Role::Good, "◆"),
            (true, ..) => (Role::Bad, "×"),
            (false, true, _) => (Role::Plain, "┃"),
            (false, false, true) => (Role::Quiet, "░"),
            (false, false, false) => (Role::Plain, "━"),
        };
        bits.push((bit.0, bit.1.to_owned()));
    }
    bits.push((Role::Plain, "]".to_owned()));
    let mut labels = String::from("   ");
    for (bound, at) in [(&limit.at_least, left), (&limit.at_most, right)] {
        if let (Some(bound), Some(at)) = (bound, at) {
            let text = bound.render(limit.unit);
            let start = (3 + at).saturating_sub(text.chars().count() / 2);
            while labels.chars().count() < start {
                labels.push(' ');
            }
            if labels.chars().count() > start + text.chars().count() {
                labels.push(' ');
            }
            labels.push_str(&text);
        }
    }
    vec![Row::of(bits), Row::new(Role::Plain, labels)]
}

/// What the bar spans: the limit and as much again around it.
fn range(least: Option<&Figure>, most: Option<&Figure>) -> (Figure, Figure) {
    let near = |bound: &Figure| {
        let part = bound.abs() / BigInt::from(20);
        if part.is_zero() { Figure::from_integer(BigInt::from(1)) } else { part }
    };
    match (least, most) {
        (Some(least), Some(most)) => {
            let span = most - least;
            let around =
                if span.is_zero() { near(least) } else { span * BigInt::from(3) / BigInt::from(4) };
            (least - &around, most + around)
        }
        (Some(one), None) | (None, Some(one)) => (one - near(one), one + near(one)),
        (None, None) => (Figure::zero(), Figure::from_integer(BigInt::from(1))),
    }
}

/// The column of `value`; what lies outside stands at the end.
fn column(value: &Figure, from: &Figure, to: &Figure, columns: usize) -> usize {
    let last = columns.saturating_sub(1);
    let share = (value - from) / (to - from) * BigInt::from(last);
    share
        .round()
        .to_integer()
        .to_i64()
        .unwrap_or(0)
        .clamp(0, i64::try_from(last).unwrap_or(0))
        .unsigned_abs()
        .try_into()
        .unwrap_or(last)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::view::signs;
    use crate::units::{Quantity, Unit};

    fn text(limit: &Limit, reading: Option<&str>) -> String {
        let reading = reading.map(|r| Reading::parse(r, Unit::Millimetre).unwrap());
        let rows = rows(limit, reading.as_ref(), 21);
        rows[0].bits.iter().map(|(_, text)| signs::ascii(text)).collect()
    }

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        let read = |text: &str| Quantity::parse_literal(text).unwrap().0;
        Limit::new(least.map(read), most.map(read), Unit::Millimetre).unwrap()
    }

    #[test]
    fn a_reading_stands_at_its_place_between_the_bounds_or_at_the_end() {
        let both = limit(Some("10 mm"), Some("20 mm"));
        assert_eq!(text(&both, None), "  [::::::|=======|::::::]");
        assert_eq!(text(&both, Some("15")), "  [::::::|===O===|::::::]");
        assert_eq!(text(&both, Some("900")), "  [::::::|=======|:::::x]");
        assert_eq!(text(&both, Some("-900")), "  [x:::::|=======|::::::]");
    }

    #[test]
    fn one_bound_and_a_bound_of_nought_have_a_bar_too() {
        assert_eq!(text(&limit(Some("38 mm"), None), Some("38")), "  [::::::::::O==========]");
        assert_eq!(text(&limit(None, Some("0 mm")), Some("0.5")), "  [==========|::::x:::::]");
        assert_eq!(
            text(&limit(Some("1 mm"), Some("1 mm")), Some("1")),
            "  [::::::::::O::::::::::]"
        );
    }
}
