//! What people type into a field, and why it is refused.
//!
//! The same in every locale: the decimal mark is a point or a comma, and digits are never grouped,
//! because a guess at a mark is wrong by a factor of a thousand. What can be read in two ways is
//! refused with both readings. Limits and plausible ranges are the business of others.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Zero as _};

use super::fault::EntryFault;
use super::quantity::{FIGURE_DIGITS_MAX, with_symbol};
use super::{Quantity, Unit};

/// The longest entry, in characters: forty digits, a fraction and a unit fit well.
pub const ENTRY_CHARS_MAX: usize = 80;

/// A figure as typed and as understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The text as typed, letter for letter (`2.50` stays `2.50`), unit included when typed. Only
    /// spaces around it are left out.
    pub text: String,
    /// The unit: as typed, or the field's. Feet with inches count as inches.
    pub unit: Unit,
    /// The exact value.
    pub value: Quantity,
}

/// Spaces that people's keyboards and clipboards put between a figure and its unit.
pub(super) fn is_space(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}')
}

fn is_quote(c: char) -> bool {
    matches!(c, '"' | '″' | '”' | '“' | '\'' | '′' | '’' | '‘')
}

/// Signs that stand in units and nowhere else in an entry.
fn is_unit_sign(c: char) -> bool {
    matches!(c, '·' | '*' | '°' | '℃' | '℉' | '%' | '²' | '³' | '(' | ')')
}

fn vulgar(c: char) -> Option<(u8, u8)> {
    Some(match c {
        '½' => (1, 2),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    })
}

/// What an entry is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Piece<'a> {
    /// Digits with decimal marks among them.
    Digits(&'a str),
    /// A ready-made fraction.
    Vulgar(&'a str, u8, u8),
    Slash(&'a str),
    Hyphen(&'a str),
    Space(&'a str),
    /// Letters, or quote marks.
    Word(&'a str),
    /// A sign that only units have.
    Sign(&'a str),
}

impl<'a> Piece<'a> {
    fn text(self) -> &'a str {
        match self {
            Self::Digits(text)
            | Self::Vulgar(text, ..)
            | Self::Slash(text)
            | Self::Hyphen(text)
            | Self::Space(text)
            | Self::Word(text)
            | Self::Sign(text) => text,
        }
    }
}

fn joined(pieces: &[Piece<'_>]) -> String {
    pieces.iter().map(|piece| piece.text()).collect()
}

/// Cuts an entry into pieces.
fn cut(text: &str) -> Result<Vec<Piece<'_>>, EntryFault> {
    let mut pieces = Vec::new();
    let mut digits = 0;
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let run = |in_run: &dyn Fn(char) -> bool| {
            rest.split_at(rest.find(|c| !in_run(c)).unwrap_or(rest.len()))
        };
        let single = || rest.split_at(first.len_utf8());
        let (piece, after) = if first.is_ascii_digit() || first == '.' || first == ',' {
            let (text, after) = run(&|c| c.is_ascii_digit() || c == '.' || c == ',');
            digits += text.bytes().filter(u8::is_ascii_digit).count();
            (Piece::Digits(text), after)
        } else if let Some((above, below)) = vulgar(first) {
            let (text, after) = single();
            (Piece::Vulgar(text, above, below), after)
        } else if first == '/' || first == '\u{2044}' {
            let (text, after) = single();
            (Piece::Slash(text), after)
        } else if matches!(first, '-' | '\u{2010}' | '\u{2011}' | '\u{2013}' | '\u{2212}') {
            let (text, after) = single();
            (Piece::Hyphen(text), after)
        } else if is_space(first) {
            let (text, after) = run(&is_space);
            (Piece::Space(text), after)
        } else if is_quote(first) {
            let (text, after) = run(&is_quote);
            (Piece::Word(text), after)
        } else if is_unit_sign(first) {
            let (text, after) = single();
            (Piece::Sign(text), after)
        } else if first.is_alphabetic() {
            let (text, after) = run(&char::is_alphabetic);
            let exponent = after.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+');
            if matches!(text, "e" | "E") && exponent {
                return Err(EntryFault::Exponent);
            }
            (Piece::Word(text), after)
        } else {
            return Err(EntryFault::Character(first));
        };
        if digits > FIGURE_DIGITS_MAX {
            return Err(EntryFault::TooManyDigits);
        }
        pieces.push(piece);
        rest = after;
    }
    Ok(pieces)
}

/// Reads digits with at most one decimal mark.
pub(super) fn decimal(text: &str) -> Result<Ratio<BigInt>, EntryFault> {
    if text.bytes().filter(u8::is_ascii_digit).count() > FIGURE_DIGITS_MAX {
        return Err(EntryFault::TooManyDigits);
    }
    let (points, commas) = (text.matches('.').count(), text.matches(',').count());
    if points > 0 && commas > 0 {
        return Err(EntryFault::TwoMarks);
    }
    let mark = if commas > 0 { ',' } else { '.' };
    if points + commas > 1 {
        return Err(EntryFault::RepeatedMark(mark));
    }
    let (whole, part) = match text.split_once(mark) {
        Some((_, "")) => return Err(EntryFault::EndsInMark(mark)),
        Some(halves) => halves,
        None => (text, ""),
    };
    let could_be_thousands = (1..=3).contains(&whole.len()) && !whole.starts_with('0');
    if mark == ',' && part.len() == 3 && could_be_thousands {
        let part = part.trim_end_matches('0');
        let decimal = if part.is_empty() { whole.to_owned() } else { format!("{whole}.{part}") };
        return Err(EntryFault::Unclear {
            text: text.to_owned(),
            decimal,
            grouped: text.replace(',', ""),
        });
    }
    let scaled = whole_number(&format!("{whole}{part}"))?;
    let places = u32::try_from(part.len()).unwrap_or(u32::MAX);
    Ok(Ratio::new(scaled, BigInt::from(10).pow(places)))
}

fn whole_number(digits: &str) -> Result<BigInt, EntryFault> {
    digits.parse().ok().ok_or_else(|| EntryFault::NoFigure(digits.chars().next()))
}

/// A figure without sign or unit, and whether it was written as a fraction.
struct Magnitude {
    value: Ratio<BigInt>,
    is_fraction: bool,
    is_whole: bool,
}

impl Magnitude {
    fn fraction(value: Ratio<BigInt>) -> Self {
        Self { value, is_fraction: true, is_whole: false }
    }

    fn mixed(whole: &str, part: Ratio<BigInt>, text: &str) -> Result<Self, EntryFault> {
        if !is_digits(whole) {
            return Err(EntryFault::Fraction(text.to_owned()));
        }
        Ok(Self::fraction(Ratio::from_integer(whole_number(whole)?) + part))
    }
}

fn is_digits(text: &str) -> bool {
    text.bytes().all(|b| b.is_ascii_digit())
}

fn ratio(above: u8, below: u8) -> Ratio<BigInt> {
    Ratio::new(BigInt::from(above), BigInt::from(below))
}

fn fraction(above: &str, below: &str) -> Result<Ratio<BigInt>, EntryFault> {
    let text = format!("{above}/{below}");
    if !is_digits(above) || !is_digits(below) || above.starts_with('0') {
        return Err(EntryFault::Fraction(text));
    }
    let divisor = whole_number(below)?;
    if divisor.is_zero() {
        return Err(EntryFault::ZeroBelow);
    }
    Ok(Ratio::new(whole_number(above)?, divisor))
}

/// Takes the figure off the front of `pieces`.
fn magnitude<'a, 'p>(pieces: &'p [Piece<'a>]) -> Result<(Magnitude, &'p [Piece<'a>]), EntryFault> {
    use Piece::{Digits, Hyphen, Slash, Space, Vulgar};
    let taken = |n: usize| joined(pieces.get(..n).unwrap_or(pieces));
    Ok(match pieces {
        [
            Digits(whole),
            Space(_) | Hyphen(_),
            Digits(above),
            Slash(_),
            Digits(below),
            rest @ ..,
        ] => {
            let part = fraction(above, below)?;
            if part >= Ratio::one() {
                return Err(EntryFault::NotProper(format!("{above}/{below}")));
            }
            (Magnitude::mixed(whole, part, &taken(5))?, rest)
        }
        [Digits(whole), Space(_) | Hyphen(_), Vulgar(_, above, below), rest @ ..] => {
            (Magnitude::mixed(whole, ratio(*above, *below), &taken(3))?, rest)
        }
        [Digits(whole), Vulgar(_, above, below), rest @ ..] => {
            (Magnitude::mixed(whole, ratio(*above, *below), &taken(2))?, rest)
        }
        [Digits(above), Slash(_), Digits(below), rest @ ..] => {
            (Magnitude::fraction(fraction(above, below)?), rest)
        }
        [Vulgar(_, above, below), rest @ ..] => (Magnitude::fraction(ratio(*above, *below)), rest),
        [Digits(figure), rest @ ..] => {
            let value = decimal(figure)?;
            (Magnitude { value, is_fraction: false, is_whole: is_digits(figure) }, rest)
        }
        [other, ..] => return Err(EntryFault::NoFigure(other.text().chars().next())),
        [] => return Err(EntryFault::NoFigure(None)),
    })
}

/// An entry as understood, before it is held against its field.
struct Figure {
    value: Ratio<BigInt>,
    unit: Option<Unit>,
    is_fraction: bool,
}

fn figure(text: &str, field: Unit) -> Result<Figure, EntryFault> {
    if text.is_empty() {
        return Err(EntryFault::Empty);
    }
    if text.chars().count() > ENTRY_CHARS_MAX {
        return Err(EntryFault::TooLong);
    }
    let unsigned = text.strip_prefix('+').unwrap_or(text);
    let pieces = cut(unsigned)?;
    let (negative, pieces) = match pieces.as_slice() {
        [Piece::Hyphen(_), rest @ ..] if unsigned.len() == text.len() => (true, rest),
        all => (false, all),
    };
    let (first, rest) = magnitude(pieces)?;
    let mut figure = after_magnitude(&first, rest, &joined(pieces), field)?;
    if negative {
        figure.value = -figure.value;
    }
    Ok(figure)
}

/// Reads what follows the first magnitude: nothing, a unit, or inches after feet.
fn after_magnitude(
    first: &Magnitude,
    rest: &[Piece<'_>],
    whole_text: &str,
    field: Unit,
) -> Result<Figure, EntryFault> {
    use Piece::{Digits, Hyphen, Sign, Slash, Space, Vulgar, Word};
    // A unit may have hyphens, strokes and digits of its own: `in-lb`, `m3/h`.
    let after = match rest {
        [Space(_), after @ ..] | after => joined(after),
    };
    if let Some(unit) = Unit::parse_in(&after, field) {
        let value = first.value.clone();
        return Ok(Figure { value, unit: Some(unit), is_fraction: first.is_fraction });
    }
    let plain = |unit| Figure { value: first.value.clone(), unit, is_fraction: first.is_fraction };
    let is_decimal = !first.is_fraction;
    match rest {
        [] => Ok(plain(None)),
        [Space(_), Digits(_), ..] if is_decimal && !whole_text.contains(['/', '\u{2044}']) => {
            Err(EntryFault::Grouped(' '))
        }
        [Space(_), rest @ ..] | rest => match rest {
            [Word(unit)] => Err(EntryFault::unknown_unit(unit)),
            [Word(unit), rest @ ..] if Unit::parse(unit) == Some(Unit::Foot) => {
                feet_and_inches(first, unit, rest)
            }
            [Word(_) | Sign(_), ..] => Err(EntryFault::unknown_unit(&joined(rest))),
            [Slash(_) | Vulgar(..) | Digits(_), ..] => {
                Err(EntryFault::Fraction(whole_text.to_owned()))
            }
            [Hyphen(_) | Space(_), ..] | [] => Err(EntryFault::Character('-')),
        },
    }
}

fn feet_and_inches(feet: &Magnitude, mark: &str, rest: &[Piece<'_>]) -> Result<Figure, EntryFault> {
    use Piece::{Digits, Hyphen, Space, Word};
    if let [Digits(group)] = rest
        && mark.chars().all(is_quote)
        && group.split(['.', ',']).next().is_some_and(|whole| whole.len() == 3)
    {
        return Err(EntryFault::Grouped(mark.chars().next().unwrap_or('\'')));
    }
    let rest = match rest {
        [Space(_) | Hyphen(_), rest @ ..] | rest => rest,
    };
    let (inches, unit) = magnitude(rest)?;
    let unit = match unit {
        [Space(_), unit @ ..] | unit => unit,
    };
    match unit {
        [] => return Err(EntryFault::InchesUnmarked(joined(rest))),
        [Word(word)] if Unit::parse(word) == Some(Unit::Inch) => {}
        [Word(word)] if Unit::parse(word).is_none() => return Err(EntryFault::unknown_unit(word)),
        _ => return Err(EntryFault::FeetAndInches),
    }
    let twelve = Ratio::from_integer(BigInt::from(12));
    if !feet.is_whole || inches.value >= twelve {
        return Err(EntryFault::FeetAndInches);
    }
    Ok(Figure {
        value: &feet.value * twelve + inches.value,
        unit: Some(Unit::Inch),
        is_fraction: inches.is_fraction,
    })
}

impl Reading {
    /// Reads what was typed into a field whose shown unit is `field`.
    ///
    /// # Errors
    /// Why the text is no figure for this field, in the words of the person who typed it.
    pub fn parse(text: &str, field: Unit) -> Result<Self, EntryFault> {
        let text = text.trim_matches(is_space);
        let figure = figure(text, field)?;
        let unit = match figure.unit {
            Some(unit) => unit,
            None if figure.is_fraction && field.is_metric() => {
                return Err(EntryFault::UnitNeeded(text.to_owned()));
            }
            None => field,
        };
        if unit.dimension() != field.dimension() {
            return Err(EntryFault::WrongDimension {
                typed: unit.word().to_owned(),
                is: unit.dimension(),
                wanted: field.dimension(),
            });
        }
        Ok(Self { text: text.to_owned(), unit, value: Quantity::new(figure.value, unit) })
    }

    /// Reads a recorded reading again from its text and the unit that was recorded with it: the
    /// symbol, or nothing or `number` for a plain number.
    ///
    /// # Errors
    /// A text that no field would have taken, or one that names another unit.
    pub fn from_recorded(text: &str, unit_symbol: &str) -> Result<Self, EntryFault> {
        let unit = if unit_symbol.is_empty() {
            Unit::One
        } else {
            Unit::parse(unit_symbol).ok_or_else(|| EntryFault::unknown_unit(unit_symbol))?
        };
        let reading = Self::parse(text, unit)?;
        if reading.unit != unit || reading.text != text {
            return Err(EntryFault::RecordedUnit {
                text: text.to_owned(),
                says: reading.unit.word(),
                recorded: unit_symbol.to_owned(),
            });
        }
        Ok(reading)
    }

    /// The figure as understood, with its unit: typed digits are kept, fractions are in lowest terms.
    pub fn spoken(&self) -> String {
        self.digits_as_typed().map_or_else(
            || self.value.render_fraction(self.unit),
            |digits| with_symbol(&digits, self.unit),
        )
    }

    /// How the program says back what it understood, before it counts: `44.10 mm`, or for a
    /// fraction both forms, `1 3/16 in = 30.1625 mm`, `44 17/30 mm ≈ 44.5667 mm`.
    pub fn echo(&self) -> String {
        let spoken = self.spoken();
        if self.digits_as_typed().is_some() {
            return spoken;
        }
        let is_length = self.unit.dimension() == super::Dimension::Length;
        if self.unit.is_metric() || !is_length {
            // Such as a mean of three: nobody reads thirtieths off an instrument.
            return if self.value.is_decimal_in(self.unit) {
                spoken
            } else {
                format!("{spoken} ≈ {}", self.value.render_rounded(self.unit, 4))
            };
        }
        if self.value.is_decimal_in(Unit::Millimetre) {
            format!("{spoken} = {}", self.value.render(Unit::Millimetre))
        } else {
            format!("{spoken} ≈ {}", self.value.render_rounded(Unit::Millimetre, 4))
        }
    }

    /// The typed digits with a decimal point and a leading zero, where a decimal was typed.
    fn digits_as_typed(&self) -> Option<String> {
        let pieces = cut(self.text.trim_start_matches('+')).ok()?;
        let (sign, pieces) = match pieces.as_slice() {
            [Piece::Hyphen(_), rest @ ..] => ("-", rest),
            all => ("", all),
        };
        let (Piece::Digits(digits), rest) = pieces.split_first()? else { return None };
        let after = joined(rest);
        let after = after.trim_matches(is_space);
        if !after.is_empty() && Unit::parse_in(after, self.unit) != Some(self.unit) {
            return None;
        }
        let digits = digits.replace(',', ".");
        let zero = if digits.starts_with('.') { "0" } else { "" };
        Some(format!("{sign}{zero}{digits}"))
    }
}

#[cfg(test)]
#[path = "entry_tests.rs"]
mod tests;
