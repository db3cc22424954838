//! The limit as a bar, with the place of the reading and the band in which it is too close to call.
//! Exact figures, no rounding before the column.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use crate::tui::theme::Role;
use crate::units::{Criterion, Decision, DecisionRule, Limit, Quantity, Reading, Uncertainty};

use super::rows::{Row, width, wrapped};

type Figure = Ratio<BigInt>;

/// The columns of the bar's ends.
const ENDS: usize = 3;

/// The bar in `columns`: `░` is out of the limit, `━` within, `▒` too close to a bound for the
/// instrument that has `uncertainty`; `◆` is a reading that is taken, `?` one that is too close to
/// call, `×` one that is out.
pub(super) fn rows(
    criterion: &Criterion,
    uncertainty: Option<&Uncertainty>,
    reading: Option<&Reading>,
    columns: usize,
) -> Vec<Row> {
    let room = columns;
    let columns = columns.clamp(12, 56);
    let limit = &criterion.limit;
    let figure = |q: &Quantity| q.in_unit(limit.unit);
    let (least, most) = (limit.at_least.as_ref().map(figure), limit.at_most.as_ref().map(figure));
    let (from, to) = range(least.as_ref(), most.as_ref());
    let column = |value: &Figure| column(value, &from, &to, columns);
    let place = reading.map(|r| column(&figure(&r.value)));
    let said = reading.and_then(|r| criterion.decide(&r.value, uncertainty).ok());
    let (left, right) = (least.as_ref().map(&column), most.as_ref().map(&column));
    let band = uncertainty.and_then(|u| Band::of(criterion, u));
    let bands: Vec<(usize, usize)> =
        band.iter().flat_map(|band| band.columns(limit, column)).collect();
    let mut bits: Vec<(Role, String)> = vec![(Role::Plain, "  [".to_owned())];
    for at in 0..columns {
        let out = left.is_some_and(|l| at < l) || right.is_some_and(|r| at > r);
        let edge = left == Some(at) || right == Some(at);
        let close = bands.iter().any(|(from, to)| (*from..=*to).contains(&at));
        let bit = match (place == Some(at), edge, close, out) {
            (true, ..) => match said {
                Some(Decision::Within) => (Role::Good, "◆"),
                Some(Decision::NotProven) => (Role::Look, "?"),
                Some(Decision::Below | Decision::Above) | None => (Role::Bad, "×"),
            },
            (false, true, ..) => (Role::Plain, "┃"),
            (false, false, true, _) => (Role::Look, "▒"),
            (false, false, false, true) => (Role::Quiet, "░"),
            (false, false, false, false) => (Role::Plain, "━"),
        };
        bits.push((bit.0, bit.1.to_owned()));
    }
    bits.push((Role::Plain, "]".to_owned()));
    let mut labels = " ".repeat(ENDS);
    for (bound, at) in [(&limit.at_least, left), (&limit.at_most, right)] {
        if let (Some(bound), Some(at)) = (bound, at) {
            let text = bound.render(limit.unit);
            let start = (ENDS + at).saturating_sub(width(&text) / 2);
            while width(&labels) < start {
                labels.push(' ');
            }
            if width(&labels) > start + width(&text) {
                labels.push(' ');
            }
            labels.push_str(&text);
        }
    }
    let mut rows = vec![Row::of(bits), Row::new(Role::Plain, labels)];
    if let Some(band) = band {
        rows.extend(wrapped(Role::Plain, &band.words(limit), room, ENDS));
    }
    rows
}

/// The band along the bounds of a limit in which an uncertain reading is not taken.
struct Band {
    width: Quantity,
    /// True where it lies on both sides of a bound: a reading just outside is not rejected either.
    both_sides: bool,
}

impl Band {
    /// The band of a rule that has one of some width.
    fn of(criterion: &Criterion, uncertainty: &Uncertainty) -> Option<Self> {
        let (guard, both_sides) = match &criterion.rule {
            DecisionRule::Guarded(guard) => (guard, false),
            DecisionRule::Proven(guard) => (guard, true),
            DecisionRule::Simple | DecisionRule::Probability(_) => return None,
        };
        let width = guard.width(uncertainty);
        (!width.si.is_zero()).then_some(Self { width, both_sides })
    }

    /// The first and the last column of the band at each bound, by `column`.
    fn columns(&self, limit: &Limit, column: impl Fn(&Figure) -> usize) -> Vec<(usize, usize)> {
        let at = |q: Option<Quantity>| q.map(|q| column(&q.in_unit(limit.unit)));
        let mut all = Vec::new();
        for (bound, is_least) in [(&limit.at_least, true), (&limit.at_most, false)] {
            let Some(bound) = bound else { continue };
            let (below, above) = (at(bound.minus(&self.width)), at(bound.plus(&self.width)));
            let here = at(Some(bound.clone()));
            let (from, to) = match (self.both_sides, is_least) {
                (true, _) => (below, above),
                (false, true) => (here, above),
                (false, false) => (below, here),
            };
            all.extend(from.zip(to));
        }
        all
    }

    fn words(&self, limit: &Limit) -> String {
        let width = self.width.render_near(limit.unit.step());
        if self.both_sides {
            format!("▒ within {width} of a bound: too close to call")
        } else {
            format!("▒ within {width} of a bound: too close, counts as out")
        }
    }
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
    use crate::units::{Guard, Unit};

    fn text(limit: &Limit, reading: Option<&str>) -> String {
        by_rule(limit, DecisionRule::Simple, reading).0
    }

    /// The bar in ASCII, and what is said of its band.
    fn by_rule(limit: &Limit, rule: DecisionRule, reading: Option<&str>) -> (String, String) {
        let reading = reading.map(|r| Reading::parse(r, Unit::Millimetre).unwrap());
        let criterion = Criterion { rule, ..Criterion::from(limit.clone()) };
        let uncertainty = Uncertainty::parse_literal("2 mm", "2").unwrap();
        let rows = rows(&criterion, Some(&uncertainty), reading.as_ref(), 41);
        let text =
            |row: &Row| -> String { row.bits.iter().map(|(_, text)| text.as_str()).collect() };
        let bar = rows[0].bits.iter().map(|(_, text)| signs::ascii(text)).collect();
        let words: String = rows.iter().skip(2).map(text).collect();
        (bar, words.split_whitespace().collect::<Vec<_>>().join(" "))
    }

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        let read = |text: &str| Quantity::parse_literal(text).unwrap().0;
        Limit::new(least.map(read), most.map(read), Unit::Millimetre).unwrap()
    }

    #[test]
    fn a_reading_stands_at_its_place_between_the_bounds_or_at_the_end() {
        let both = limit(Some("10 mm"), Some("20 mm"));
        let simple = |reading| text(&both, reading);
        assert_eq!(simple(None), "  [::::::::::::|===============|::::::::::::]");
        assert_eq!(simple(Some("15")), "  [::::::::::::|=======O=======|::::::::::::]");
        assert_eq!(simple(Some("900")), "  [::::::::::::|===============|:::::::::::x]");
        assert_eq!(simple(Some("-900")), "  [x:::::::::::|===============|::::::::::::]");
    }

    #[test]
    fn one_bound_and_a_bound_of_nought_have_a_bar_too() {
        let at_least = limit(Some("38 mm"), None);
        let least = text(&at_least, Some("38"));
        assert_eq!(least, "  [::::::::::::::::::::O====================]");
        let most = text(&limit(None, Some("0 mm")), Some("0.5"));
        assert_eq!(most, "  [====================|:::::::::x::::::::::]");
        let one = text(&limit(Some("1 mm"), Some("1 mm")), Some("1"));
        assert_eq!(one, "  [::::::::::::::::::::O::::::::::::::::::::]");
    }

    #[test]
    fn the_band_that_is_too_close_to_call_lies_along_the_bounds() {
        let both = limit(Some("10 mm"), Some("20 mm"));
        let guarded = |reading| by_rule(&both, DecisionRule::Guarded(Guard::full()), reading);
        let (bar, words) = guarded(Some("15"));
        assert_eq!(bar, "  [::::::::::::|~~~====O====~~~|::::::::::::]");
        assert_eq!(words, "▒ within 2 mm of a bound: too close, counts as out");
        assert_eq!(guarded(Some("19")).0, "  [::::::::::::|~~~=========~x~|::::::::::::]");
        let proven = |reading| by_rule(&both, DecisionRule::Proven(Guard::full()), reading);
        let (bar, words) = proven(Some("19"));
        assert_eq!(bar, "  [:::::::::~~~|~~~=========~?~|~~~:::::::::]");
        assert_eq!(words, "▒ within 2 mm of a bound: too close to call");
        assert_eq!(proven(Some("24")).0, "  [:::::::::~~~|~~~=========~~~|~~~::x::::::]");
        // An instrument that is not good enough leaves nothing to be taken.
        let close = limit(Some("10 mm"), Some("12 mm"));
        let (bar, _) = by_rule(&close, DecisionRule::Guarded(Guard::full()), None);
        assert!(!bar.contains('='), "{bar}");
    }
}
