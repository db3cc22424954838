//! A small picture of where figures lie against their limit. Places in it are whole thousandths of its
//! width.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};
use serde::Serialize;

use super::readings::si;
use crate::record::completion::Limit;

/// Where readings lie.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Picture {
    pub(super) zone_x: u32,
    pub(super) zone_width: u32,
    /// True where the limit has a least.
    pub(super) has_least: bool,
    /// True where the limit has a most.
    pub(super) has_most: bool,
    pub(super) marks: Vec<Mark>,
    pub(super) label: String,
}

/// A reading in a picture.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Mark {
    pub(super) x: u32,
    /// `found`, `left`, or `once` for a figure that is neither.
    pub(super) phase: &'static str,
    /// On which side of the limit it lies outside: `below` or `above`.
    pub(super) outside: Option<&'static str>,
}

/// A figure to be drawn, with its text.
pub(super) type Drawn<'a> = (&'static str, Ratio<BigInt>, &'a str, Option<&'static str>);

/// A picture is this wide.
const WIDTH: u32 = 1000;
/// A limit with one bound is drawn this share of the bound to either side, more where a figure lies
/// farther off: so the same place means the same distance on every row with that limit.
const SHARE: u32 = 10;
/// This far from a bound lies what is outside at the least, so that it can be seen to be.
const APART: u32 = 12;

/// The least and the most that a picture shows.
fn ends(
    least: Option<&Ratio<BigInt>>,
    most: Option<&Ratio<BigInt>>,
    values: &[&Ratio<BigInt>],
) -> Option<(Ratio<BigInt>, Ratio<BigInt>)> {
    let ((Some(bound), None) | (None, Some(bound))) = (least, most) else {
        let low = values.iter().copied().chain(least).chain(most).min()?.clone();
        let high = values.iter().copied().chain(least).chain(most).max()?.clone();
        let span = &high - &low;
        let span = match (span.is_zero(), high.is_zero()) {
            (false, _) => span,
            (true, false) => high.abs() / BigInt::from(SHARE),
            (true, true) => Ratio::from_integer(1.into()),
        };
        let margin = span / BigInt::from(4);
        return Some((low - &margin, high + &margin));
    };
    let farthest = values.iter().map(|value| (*value - bound).abs()).max()?;
    let share = bound.abs() / BigInt::from(SHARE);
    let mut half = if share.is_zero() { power_of_ten(&farthest) } else { share };
    while half < farthest {
        half *= BigInt::from(2);
    }
    Some((bound - &half, bound + &half))
}

/// The power of ten at or below a figure; 1 for nothing.
fn power_of_ten(figure: &Ratio<BigInt>) -> Ratio<BigInt> {
    let ten = Ratio::from_integer(BigInt::from(10));
    let mut power = Ratio::from_integer(BigInt::from(1));
    if figure.is_zero() {
        return power;
    }
    while power > *figure {
        power /= &ten;
    }
    while &power * &ten <= *figure {
        power *= &ten;
    }
    power
}

/// The picture of `drawn` against `limit`; none where there is nothing to draw, or a bound cannot be.
pub(super) fn of(limit: &Limit, drawn: &[Drawn<'_>]) -> Option<Picture> {
    if drawn.is_empty() {
        return None;
    }
    let bound = |text: &Option<String>| text.as_deref().map(si);
    let (least, most) = (bound(&limit.at_least), bound(&limit.at_most));
    // A bound that cannot be drawn would make the picture say something else than the limit.
    if least == Some(None) || most == Some(None) {
        return None;
    }
    let (least, most) = (least.flatten(), most.flatten());
    let values: Vec<_> = drawn.iter().map(|(_, value, ..)| value).collect();
    let (low, high) = ends(least.as_ref(), most.as_ref(), &values)?;
    let x = |value: &Ratio<BigInt>| {
        let share = (value - &low) / (&high - &low) * BigInt::from(WIDTH);
        share.round().to_integer().to_u32().unwrap_or(0).min(WIDTH)
    };
    let zone_x = least.as_ref().map_or(0, x);
    let zone_end = most.as_ref().map_or(WIDTH, x);
    let mut label = format!("limit {}", limit.words);
    for (phase, _, text, _) in drawn {
        let as_phase = if *phase == "once" { String::new() } else { format!("as {phase} ") };
        label.push_str(&["; ", &as_phase, text].concat());
    }
    let mark = |(phase, value, _, outside): &Drawn<'_>| {
        let at = x(value);
        let x = match outside {
            Some("below") => at.min(zone_x.saturating_sub(APART)),
            Some("above") => at.max((zone_end + APART).min(WIDTH)),
            _ => at,
        };
        Mark { x, phase, outside: *outside }
    };
    let mut marks: Vec<Mark> = drawn.iter().map(mark).collect();
    if let [found, left] = marks.as_slice()
        && found.x == left.x
    {
        marks.remove(0);
    }
    Some(Picture {
        zone_x,
        zone_width: zone_end.saturating_sub(zone_x).max(2),
        has_least: least.is_some(),
        has_most: most.is_some(),
        marks,
        label,
    })
}

/// What the signs of [`Picture::plain`] mean.
pub(super) const LEGEND: &str = "In the small pictures [===] is the range that passes, o the figure as \
                                 found, x as left, # a figure that is neither.";

impl Picture {
    /// The picture in plain characters: `-` outside, `[===]` the range that passes, `o` as found, `x`
    /// as left, `#` neither.
    pub(super) fn plain(&self) -> String {
        const COLUMNS: u32 = 24;
        let column = |x: u32| (x * (COLUMNS - 1) + WIDTH / 2) / WIDTH;
        let (from, to) = (column(self.zone_x), column((self.zone_x + self.zone_width).min(WIDTH)));
        let place = |mark: &Mark| match mark.outside {
            Some("below") => column(mark.x).min(from.saturating_sub(1)),
            Some("above") => column(mark.x).max((to + 1).min(COLUMNS - 1)),
            _ => column(mark.x),
        };
        let at = |n: u32| {
            let mark = self.marks.iter().rev().find(|mark| place(mark) == n);
            match mark.map(|mark| mark.phase) {
                Some("found") => 'o',
                Some("left") => 'x',
                Some(_) => '#',
                None if n == from && self.has_least => '[',
                None if n == to && self.has_most => ']',
                None if (from..=to).contains(&n) => '=',
                None => '-',
            }
        };
        (0..COLUMNS).map(at).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        Limit {
            at_least: least.map(str::to_owned),
            at_most: most.map(str::to_owned),
            basis: None,
            blind: false,
            compare: None,
            conforms: None,
            decided: None,
            grade: None,
            name: None,
            rounded: None,
            rule: None,
            words: "limit".to_owned(),
        }
    }

    fn drawn<'a>(text: &'a str, outside: Option<&'static str>) -> Drawn<'a> {
        ("found", si(text).unwrap(), text, outside)
    }

    #[test]
    fn a_limit_with_one_bound_has_one_scale_and_near_and_far_look_different() {
        let least = limit(Some("37.4 mm"), None);
        let at = |text, outside| of(&least, &[drawn(text, outside)]).unwrap();
        let (near, far, good) =
            (at("37.39 mm", Some("below")), at("36.85 mm", Some("below")), at("38.1 mm", None));
        assert_eq!([near.zone_x, far.zone_x, good.zone_x], [500, 500, 500]);
        assert_eq!([near.marks[0].x, far.marks[0].x, good.marks[0].x], [488, 426, 594]);
        assert_eq!(near.plain(), "-----------o[===========");
        assert_eq!(far.plain(), "----------o-[===========");
        assert_eq!(good.plain(), "------------[=o=========");
        // Farther off than the share: the scale doubles until it holds it.
        assert_eq!(at("30 mm", Some("below")).marks[0].x, 5);
        let zero = limit(Some("0 bar diff"), None);
        let below = of(&zero, &[drawn("-0.178525 bar diff", Some("below"))]).unwrap();
        assert_eq!((below.zone_x, below.marks[0].x), (500, 54));
    }

    #[test]
    fn a_bound_that_does_not_end_is_not_drawn() {
        assert!(of(&limit(Some("1/3 in"), None), &[drawn("1 mm", None)]).is_none());
        assert!(of(&limit(None, Some("2 mm")), &[]).is_none());
    }
}
