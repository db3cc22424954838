//! How a reading is held against a limit: as it was read, or rounded first.
//!
//! No standard has a default that all specifications share, so a limit says which; where it says
//! nothing, the reading is compared as it is. How a figure is shown has no part in this.

use std::cmp::Ordering;

use num_bigint::BigInt;
use num_rational::Ratio;

use super::limit::LimitFault;
use super::quantity::ten_to;
use super::{Quantity, Unit};

/// What becomes of a figure exactly between two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ties {
    /// It goes to the even one: 2.025 to 2.02.
    HalfEven,
    /// It goes away from zero: 2.025 to 2.03.
    HalfUp,
}

impl Ties {
    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::HalfEven => "half_even",
            Self::HalfUp => "half_up",
        }
    }

    /// Reads the word in files.
    pub fn parse(word: &str) -> Option<Self> {
        [Self::HalfEven, Self::HalfUp].into_iter().find(|ties| ties.word() == word)
    }
}

/// How a reading is compared with the bounds of its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Compare {
    /// As it was read, with every digit.
    #[default]
    Absolute,
    /// Rounded in the unit of the limit.
    Rounded {
        /// To how many decimal places.
        places: u8,
        /// What becomes of a figure exactly between two.
        ties: Ties,
    },
}

impl Compare {
    /// Rounding to the places that all of `figures`, as written in the file, are stated with:
    /// `2.030 mm` states three.
    ///
    /// # Errors
    /// Figures with different numbers of places, since a reading is rounded once.
    pub fn rounded_like<'a>(
        figures: impl IntoIterator<Item = &'a str>,
        ties: Ties,
    ) -> Result<Self, LimitFault> {
        let mut stated: Option<(&str, u8)> = None;
        for figure in figures {
            let places = stated_places(figure);
            match stated {
                Some((first, other)) if other != places => {
                    return Err(LimitFault::PlacesDiffer {
                        one: first.to_owned(),
                        other: figure.to_owned(),
                    });
                }
                _ => stated = Some((figure, places)),
            }
        }
        Ok(Self::Rounded { places: stated.map_or(0, |(_, places)| places), ties })
    }

    /// The value that is held against the bounds of a limit in `unit`.
    #[must_use]
    pub fn apply(self, value: &Quantity, unit: Unit) -> Quantity {
        match self {
            Self::Rounded { places, ties } if unit.dimension() == value.dimension => {
                Quantity::new(rounded(&value.in_unit(unit), places, ties), unit)
            }
            Self::Rounded { .. } | Self::Absolute => value.clone(),
        }
    }

    /// The method in words, for a record: `compared as read`, `rounded to 2 places, half_even`.
    pub fn words(self) -> String {
        match self {
            Self::Absolute => "compared as read".to_owned(),
            Self::Rounded { places, ties } => {
                let plural = if places == 1 { "" } else { "s" };
                format!("rounded to {places} place{plural}, {}", ties.word())
            }
        }
    }
}

/// How many decimal places a figure is written with.
pub fn stated_places(figure: &str) -> u8 {
    let digits = figure
        .split_once('.')
        .map_or(0, |(_, after)| after.bytes().take_while(u8::is_ascii_digit).count());
    u8::try_from(digits).unwrap_or(u8::MAX)
}

/// `figure` rounded to `places`.
fn rounded(figure: &Ratio<BigInt>, places: u8, ties: Ties) -> Ratio<BigInt> {
    let scale = ten_to(usize::from(places));
    let scaled = figure * &scale;
    let whole = match ties {
        Ties::HalfUp => scaled.round().to_integer(),
        Ties::HalfEven => {
            let below = scaled.floor().to_integer();
            let half = Ratio::new(BigInt::from(1), BigInt::from(2));
            let up = match (scaled - &below).cmp(&half) {
                Ordering::Less => false,
                Ordering::Equal => below.bit(0),
                Ordering::Greater => true,
            };
            below + u8::from(up)
        }
    };
    Ratio::new(whole, scale)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn figure(text: &str) -> Ratio<BigInt> {
        Quantity::parse_literal(text).unwrap().0.si
    }

    #[test]
    fn figures_exactly_between_two_follow_the_tie_rule_and_others_the_nearer() {
        for (text, places, even, up) in [
            ("2.025", 2, "2.02", "2.03"),
            ("2.035", 2, "2.04", "2.04"),
            ("2.0349", 2, "2.03", "2.03"),
            ("2.02500000001", 2, "2.03", "2.03"),
            ("-2.025", 2, "-2.02", "-2.03"),
            ("-2.035", 2, "-2.04", "-2.04"),
            ("-0.5", 0, "0", "-1"),
            ("0.5", 0, "0", "1"),
            ("1.5", 0, "2", "2"),
            ("2.03", 5, "2.03", "2.03"),
        ] {
            assert_eq!(rounded(&figure(text), places, Ties::HalfEven), figure(even), "{text}");
            assert_eq!(rounded(&figure(text), places, Ties::HalfUp), figure(up), "{text}");
        }
    }

    #[test]
    fn places_are_those_that_the_limit_is_written_with() {
        for (text, places) in [("2.03 mm", 2), ("2.030 mm", 3), ("50 mm", 0), (".5 m3/h", 1)] {
            assert_eq!(stated_places(text), places, "{text}");
        }
        assert_eq!(
            Compare::rounded_like(["2.03 mm", "2.10 mm"], Ties::HalfUp),
            Ok(Compare::Rounded { places: 2, ties: Ties::HalfUp })
        );
        assert_eq!(
            Compare::rounded_like(["2.03 mm", "2.1 mm"], Ties::HalfUp).unwrap_err().to_string(),
            "`2.03 mm` and `2.1 mm` have different numbers of decimals; write both with as many as a \
             reading is rounded to"
        );
    }

    #[test]
    fn methods_are_named_as_they_stand_in_a_record() {
        assert_eq!(Compare::default().words(), "compared as read");
        let rounded = |places, ties| Compare::Rounded { places, ties }.words();
        assert_eq!(rounded(2, Ties::HalfEven), "rounded to 2 places, half_even");
        assert_eq!(rounded(1, Ties::HalfUp), "rounded to 1 place, half_up");
        for ties in [Ties::HalfEven, Ties::HalfUp] {
            assert_eq!(Ties::parse(ties.word()), Some(ties));
        }
        assert_eq!(Ties::parse("up"), None);
    }

    proptest! {
        /// The oracle divides whole numbers.
        #[test]
        fn rounding_agrees_with_whole_numbers(n in -1_000_000i64..1_000_000) {
            // Thousandths to tenths.
            let figure = Ratio::new(BigInt::from(n), BigInt::from(1000));
            let (below, over) = (n.div_euclid(100), n.rem_euclid(100));
            let even = below + i64::from(over > 50 || (over == 50 && below % 2 != 0));
            let up = below + i64::from(over > 50 || (over == 50 && n > 0));
            let tenths = |n: i64| Ratio::new(BigInt::from(n), BigInt::from(10));
            prop_assert_eq!(rounded(&figure, 1, Ties::HalfEven), tenths(even));
            prop_assert_eq!(rounded(&figure, 1, Ties::HalfUp), tenths(up));
        }
    }
}
