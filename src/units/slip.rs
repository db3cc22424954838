//! Slips of the hand and the eye that a wrong reading may come from, each with what it would be.
//!
//! A hint, never a verdict and never a correction: a reading that is out of its limits stays so
//! until a person reads the instrument again. Whether to ask is left to others.

use super::{Quantity, Reading, Unit};

/// What an instrument shows again after one turn, so that a turn too many or too few is not seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Turn {
    /// What turns, such as `thimble`.
    pub part: String,
    /// How far one turn goes.
    pub travel: Quantity,
}

impl Turn {
    /// The thimble of a metric micrometer, 0.5 mm a turn.
    pub fn thimble() -> Self {
        Self::new("thimble", 5, Unit::Millimetre)
    }

    /// The thimble of an inch micrometer, 0.025 in a turn.
    pub fn inch_thimble() -> Self {
        Self::new("thimble", 250, Unit::Thou)
    }

    /// A dial whose hand goes `travel` in one turn.
    pub fn dial(travel: Quantity) -> Self {
        Self { part: "dial".to_owned(), travel }
    }

    /// `tenths` of `unit` a turn.
    fn new(part: &str, tenths: i32, unit: Unit) -> Self {
        let travel = num_rational::Ratio::new(tenths.into(), 10.into());
        Self { part: part.to_owned(), travel: Quantity::new(travel, unit) }
    }
}

/// What may have gone wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Slip {
    /// One turn too few or too many was counted.
    Turn(Turn),
    /// Two neighbouring digits changed places.
    Transposed,
    /// The decimal mark is one place off.
    Mark,
    /// The figure was read in another unit than was typed: inches for feet are a factor of 12.
    Unit {
        /// The unit it was read in.
        read_in: Unit,
        /// How many times the typed unit is the other, where that is a whole number.
        times: Option<u32>,
    },
}

/// A slip and what the reading would be without it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hint {
    /// The slip.
    pub slip: Slip,
    /// The reading without it, which lies in the expected range.
    pub would_be: Quantity,
    /// The unit for showing it.
    pub unit: Unit,
}

/// Units that are taken for each other at the bench.
const CONFUSED: [(Unit, Unit); 4] = [
    (Unit::Foot, Unit::Inch),
    (Unit::PoundForceFoot, Unit::PoundForceInch),
    (Unit::Millimetre, Unit::Inch),
    (Unit::Micrometre, Unit::Thou),
];

impl Hint {
    /// Slips that would bring `reading` into the range `expected`, ends included, that most likely
    /// first. None for a reading that lies in it already.
    ///
    /// Both ends are needed: with one, half of all figures would be brought in by some slip.
    pub fn all(
        reading: &Reading,
        expected: (&Quantity, &Quantity),
        turn: Option<&Turn>,
    ) -> Vec<Self> {
        let fits = |value: &Quantity| {
            Some(value.compare(expected.0)?.is_ge() && value.compare(expected.1)?.is_le())
        };
        if fits(&reading.value) != Some(false) {
            return Vec::new();
        }
        let mut hints: Vec<Self> = Vec::new();
        for (slip, would_be, unit) in candidates(reading, turn) {
            let known = hints.iter().any(|hint| hint.would_be == would_be);
            if fits(&would_be) == Some(true) && !known {
                hints.push(Self { slip, would_be, unit });
            }
        }
        hints
    }

    /// The hint in words: `one turn of the thimble less would be 12.34 mm`.
    pub fn words(&self, reading: &Reading) -> String {
        let would_be = self.would_be.render(self.unit);
        let is_more = self.would_be.si > reading.value.si;
        match &self.slip {
            Slip::Turn(turn) => {
                let less = if is_more { "more" } else { "less" };
                format!("one turn of the {} {less} would be {would_be}", turn.part)
            }
            Slip::Transposed => {
                format!("with two digits the other way round it would be {would_be}")
            }
            Slip::Mark => format!("with the decimal mark moved one place it would be {would_be}"),
            Slip::Unit { read_in, times } => {
                let times = times.map_or_else(String::new, |times| {
                    format!(", and `{}` is {times} times that", reading.unit.word())
                });
                format!("read in `{}` it would be {would_be}{times}", read_in.word())
            }
        }
    }
}

fn candidates(reading: &Reading, turn: Option<&Turn>) -> Vec<(Slip, Quantity, Unit)> {
    let (value, unit) = (&reading.value, reading.unit);
    let figure = value.in_unit(unit);
    let mut found = Vec::new();
    if let Some(turn) = turn {
        let travel = &turn.travel;
        for moved in [value.minus(travel), value.plus(travel)].into_iter().flatten() {
            if moved.dimension == value.dimension {
                found.push((Slip::Turn(turn.clone()), moved, unit));
            }
        }
    }
    for (one, other) in CONFUSED {
        let read_in = if unit == one { other } else { one };
        if unit == one || unit == other {
            let ratio = unit.factor() / read_in.factor();
            let times = ratio.is_integer().then(|| u32::try_from(ratio.to_integer()).ok());
            let would_be = Quantity::new(figure.clone(), read_in);
            found.push((Slip::Unit { read_in, times: times.flatten() }, would_be, read_in));
        }
    }
    let ten = num_bigint::BigInt::from(10);
    for moved in [&figure / &ten, &figure * &ten] {
        found.push((Slip::Mark, Quantity::new(moved, unit), unit));
    }
    for text in transposed(&reading.text) {
        let read = Reading::parse(&text, unit).ok().filter(|read| read.unit == unit);
        found.extend(read.map(|read| (Slip::Transposed, read.value, unit)));
    }
    found
}

/// `text` with each two neighbouring digits that differ the other way round; a decimal mark between
/// two digits stays where it is.
fn transposed(text: &str) -> Vec<String> {
    let characters: Vec<char> = text.chars().collect();
    let digits: Vec<usize> = characters
        .iter()
        .enumerate()
        .filter_map(|(at, c)| c.is_ascii_digit().then_some(at))
        .collect();
    let mut found = Vec::new();
    for pair in digits.windows(2) {
        let &[one, other] = pair else { continue };
        let between = characters.get(one + 1..other).unwrap_or_default();
        let next = between.is_empty() || matches!(between, ['.' | ',']);
        if next && characters.get(one) != characters.get(other) {
            let mut changed = characters.clone();
            changed.swap(one, other);
            found.push(changed.into_iter().collect());
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hints(text: &str, field: Unit, expected: (&str, &str), turn: Option<&Turn>) -> Vec<String> {
        let bound = |text| Quantity::parse_literal(text).unwrap().0;
        let reading = Reading::parse(text, field).unwrap();
        let hints = Hint::all(&reading, (&bound(expected.0), &bound(expected.1)), turn);
        hints.iter().map(|hint| hint.words(&reading)).collect()
    }

    #[test]
    fn each_slip_is_told_with_what_the_reading_would_be() {
        let thimble = Turn::thimble();
        let dial = Turn::dial(Quantity::parse_literal("1 mm").unwrap().0);
        let mm = Unit::Millimetre;
        for (text, field, expected, turn, hint) in [
            (
                "12.84",
                mm,
                ("12.30 mm", "12.40 mm"),
                Some(&thimble),
                "one turn of the thimble less would be 12.34 mm",
            ),
            (
                "11.84",
                mm,
                ("12.30 mm", "12.40 mm"),
                Some(&thimble),
                "one turn of the thimble more would be 12.34 mm",
            ),
            (
                "0.52",
                mm,
                ("1.5 mm", "1.6 mm"),
                Some(&dial),
                "one turn of the dial more would be 1.52 mm",
            ),
            (
                "0.525 in",
                mm,
                ("0.499 in", "0.501 in"),
                Some(&Turn::inch_thimble()),
                "one turn of the thimble less would be 0.5 in",
            ),
            (
                "44.69",
                mm,
                ("44.9 mm", "45.0 mm"),
                None,
                "with two digits the other way round it would be 44.96 mm",
            ),
            (
                "54,1",
                mm,
                ("45 mm", "45.2 mm"),
                None,
                "with two digits the other way round it would be 45.1 mm",
            ),
            (
                "0.03",
                mm,
                ("0.25 mm", "0.35 mm"),
                None,
                "with the decimal mark moved one place it would be 0.3 mm",
            ),
            (
                "180 ft-lb",
                Unit::PoundForceInch,
                ("175 in-lb", "185 in-lb"),
                None,
                "read in `lbf·in` it would be 180 lbf·in, and `lbf·ft` is 12 times that",
            ),
            ("6 in", Unit::Foot, ("5.9 ft", "6.1 ft"), None, "read in `ft` it would be 6 ft"),
            ("1.5", mm, ("1.4 in", "1.6 in"), None, "read in `in` it would be 1.5 in"),
            ("38 in", mm, ("37 mm", "39 mm"), None, "read in `mm` it would be 38 mm"),
        ] {
            assert_eq!(hints(text, field, expected, turn), [hint], "{text}");
        }
    }

    #[test]
    fn a_reading_that_fits_or_that_no_slip_explains_has_no_hint() {
        let none: [&str; 0] = [];
        let mm = Unit::Millimetre;
        let range = ("12.30 mm", "12.40 mm");
        assert_eq!(hints("12.34", mm, range, Some(&Turn::thimble())), none);
        assert_eq!(hints("13.5", mm, range, Some(&Turn::thimble())), none);
        assert_eq!(hints("12.84", mm, range, None), none);
        assert_eq!(hints("13.5", mm, ("1 bar diff", "2 bar diff"), None), none);
        assert_eq!(hints("77.7", mm, range, None), none);
    }

    #[test]
    fn no_value_is_told_twice() {
        // The figure ten times less is also that of two digits changed.
        let found = hints("10", Unit::One, ("1", "1"), None);
        assert_eq!(found, ["with the decimal mark moved one place it would be 1"]);
    }
}
