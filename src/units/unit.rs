//! The table of units: symbol, spellings, dimension and exact factor, one row each.
//!
//! A further dimension is a variant of [`Dimension`] and rows here; reading and printing of figures
//! need no change. What people type around a unit is the business of `entry`.

use num_bigint::BigInt;
use num_rational::Ratio;

use super::quantity::Dimension;

/// A unit of the table. Copies are cheap; two are equal when they are the same row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// No unit: a plain number.
    One,
    /// Metre.
    Metre,
    /// Centimetre.
    Centimetre,
    /// Millimetre.
    Millimetre,
    /// Micrometre.
    Micrometre,
    /// International inch.
    Inch,
    /// International foot.
    Foot,
    /// A thousandth of an inch.
    Thou,
    /// Newton metre.
    NewtonMetre,
    /// Degree of angle.
    Degree,
}

/// One row of the table.
struct Row {
    symbol: &'static str,
    dimension: Dimension,
    /// SI units in one of these, as numerator and denominator.
    factor: (i64, i64),
    /// Whether people in a shop write fractions of it without naming it.
    metric: bool,
    /// Every accepted spelling; capitals count, for `M` and `m` differ by much.
    spellings: &'static [&'static str],
    /// Spellings that are not accepted and whose meaning is plain enough to suggest this row.
    near: &'static [&'static str],
}

impl Unit {
    /// Every unit, in the order of the table.
    pub const ALL: [Self; 10] = [
        Self::One,
        Self::Metre,
        Self::Centimetre,
        Self::Millimetre,
        Self::Micrometre,
        Self::Inch,
        Self::Foot,
        Self::Thou,
        Self::NewtonMetre,
        Self::Degree,
    ];

    /// The table itself. The inch is 25.4 mm by definition, and the foot is 12 of them.
    const fn row(self) -> Row {
        const fn row(
            symbol: &'static str,
            dimension: Dimension,
            factor: (i64, i64),
            spellings: &'static [&'static str],
            near: &'static [&'static str],
        ) -> Row {
            Row { symbol, dimension, factor, metric: false, spellings, near }
        }
        const fn metric(
            symbol: &'static str,
            factor: (i64, i64),
            spellings: &'static [&'static str],
            near: &'static [&'static str],
        ) -> Row {
            Row { metric: true, ..row(symbol, Dimension::Length, factor, spellings, near) }
        }
        let length = Dimension::Length;
        match self {
            Self::One => {
                row("", Dimension::Number, (1, 1), &["number"], &["none", "one", "-", "1", "count"])
            }
            Self::Metre => metric("m", (1, 1), &["m"], &["metre", "metres", "meter", "meters"]),
            Self::Centimetre => {
                metric("cm", (1, 100), &["cm"], &["centimetre", "centimetres", "centimeter"])
            }
            Self::Millimetre => metric(
                "mm",
                (1, 1_000),
                &["mm"],
                &["millimetre", "millimetres", "millimeter", "millimeters", "mms"],
            ),
            Self::Micrometre => metric(
                "µm",
                (1, 1_000_000),
                &["µm", "μm", "um", "micron"],
                &["microns", "micrometre", "micrometres", "micrometer", "mu", "µ", "μ"],
            ),
            Self::Inch => row(
                "in",
                length,
                (127, 5_000),
                &["in", "\"", "″", "”"],
                &["inch", "inches", "ins", "in.", "''", "′′", "’’", "“"],
            ),
            Self::Foot => row(
                "ft",
                length,
                (381, 1_250),
                &["ft", "'", "′", "’"],
                &["foot", "feet", "ft.", "‘"],
            ),
            Self::Thou => row(
                "thou",
                length,
                (127, 5_000_000),
                &["thou", "mil"],
                &["thous", "mils", "thousandth", "thousandths", "tho"],
            ),
            Self::NewtonMetre => Row {
                metric: true,
                ..row(
                    "N·m",
                    Dimension::Torque,
                    (1, 1),
                    &["N·m", "Nm", "N⋅m"],
                    &["nm", "newtonmetre"],
                )
            },
            Self::Degree => Row {
                metric: true,
                ..row("°", Dimension::Angle, (1, 1), &["°", "deg"], &["degree", "degrees"])
            },
        }
    }

    /// Reads a spelling of a unit; `number` is [`Unit::One`]. Capitals count.
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.row().spellings.contains(&text))
    }

    /// How figures in this unit are followed on the screen; empty for a plain number.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// How files and messages name the unit: its symbol, or `number`.
    pub fn word(self) -> &'static str {
        if self == Self::One { "number" } else { self.symbol() }
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.row().dimension
    }

    /// The exact number of SI units in one of these.
    pub fn factor(self) -> Ratio<BigInt> {
        let (numerator, denominator) = self.row().factor;
        Ratio::new(BigInt::from(numerator), BigInt::from(denominator))
    }

    /// True for a unit of the metric system, whose figures are never written as bare fractions.
    pub fn is_metric(self) -> bool {
        self.row().metric
    }

    /// The accepted spelling that `text` most likely meant.
    pub fn suggestion(text: &str) -> Option<&'static str> {
        let lower = text.to_lowercase();
        Self::ALL.into_iter().find_map(|unit| {
            let row = unit.row();
            let meant = row.spellings.iter().chain(row.near).any(|known| *known == lower);
            meant.then(|| unit.word())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spelling_reads_as_its_unit_and_no_two_rows_share_one() {
        let mut seen = std::collections::BTreeSet::new();
        for unit in Unit::ALL {
            for spelling in unit.row().spellings {
                assert_eq!(Unit::parse(spelling), Some(unit), "{spelling}");
                assert!(seen.insert(*spelling), "{spelling} stands twice");
            }
            for near in unit.row().near {
                assert_eq!(Unit::parse(near), None, "{near}");
                assert_eq!(Unit::suggestion(near), Some(unit.word()), "{near}");
            }
            assert_eq!(Unit::parse(unit.word()), Some(unit));
        }
    }

    #[test]
    fn capitals_are_not_guessed_but_suggested() {
        assert_eq!(Unit::parse("MM"), None);
        assert_eq!(Unit::suggestion("MM"), Some("mm"));
        assert_eq!(Unit::suggestion("furlong"), None);
    }

    #[test]
    fn a_foot_is_twelve_inches_and_a_thou_a_thousandth_of_one() {
        let times = |n: i64| Ratio::from_integer(BigInt::from(n));
        assert_eq!(Unit::Inch.factor() * times(12), Unit::Foot.factor());
        assert_eq!(Unit::Thou.factor() * times(1_000), Unit::Inch.factor());
        assert_eq!(Unit::Millimetre.factor() * times(1_000), Unit::Metre.factor());
    }
}
