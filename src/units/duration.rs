//! Stretches of time in whole seconds: as authors write them, as people are shown them.

use num_traits::ToPrimitive as _;

use super::{Dimension, Quantity, Unit};

/// The longest time that a step can ask for: 31 days.
pub const DURATION_S_MAX: u64 = 31 * 24 * 3600;

/// The whole seconds of a figure such as `10 min`; `None` for what is no time, not whole, nothing
/// at all or too long.
pub fn whole_seconds(figure: &Quantity) -> Option<u64> {
    if figure.dimension != Dimension::Time {
        return None;
    }
    let seconds = figure.in_unit(Unit::Second);
    let whole = seconds.is_integer().then(|| seconds.to_integer().to_u64()).flatten()?;
    (1..=DURATION_S_MAX).contains(&whole).then_some(whole)
}

/// The whole seconds of a text such as `10 min`.
pub fn parse_duration(text: &str) -> Option<u64> {
    Quantity::parse_literal(text).ok().and_then(|(figure, _)| whole_seconds(&figure))
}

/// A time for people: `1 h 30 min`, `29 min 59 s`, `0 s`.
pub fn spoken_duration(seconds: u64) -> String {
    let parts = [(seconds / 3600, "h"), (seconds / 60 % 60, "min"), (seconds % 60, "s")];
    let words: Vec<String> =
        parts.iter().filter(|(n, _)| *n > 0).map(|(n, unit)| format!("{n} {unit}")).collect();
    if words.is_empty() { "0 s".to_owned() } else { words.join(" ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_are_whole_seconds_within_bounds() {
        let cases = [
            ("10 min", Some(600)),
            ("0.5 h", Some(1800)),
            ("90 s", Some(90)),
            ("0 s", None),
            ("0.5 s", None),
            ("10 mm", None),
            ("-1 min", None),
            ("9999 h", None),
            ("ten", None),
        ];
        for (text, wanted) in cases {
            assert_eq!(parse_duration(text), wanted, "{text}");
        }
        assert_eq!(spoken_duration(1799), "29 min 59 s");
        assert_eq!(spoken_duration(5400), "1 h 30 min");
        assert_eq!(spoken_duration(0), "0 s");
    }
}
