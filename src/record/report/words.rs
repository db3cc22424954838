//! What a record says in its own names and numbers, as people read it. Nothing is lost by it: the annex
//! has every field letter for letter.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, Zero as _};

use super::readings::si;
use crate::record::completion::{Figure, Finding, Limit};
use crate::units::{Quantity, Unit};

/// A name of the files as words: `wheel_third` is `wheel third`.
pub(super) fn spoken(name: &str) -> String {
    name.replace('_', " ")
}

/// An address as it is whatever the pass.
pub(super) fn without_passes(address: &str) -> String {
    let words = address.split('/').map(|word| word.split_once('#').map_or(word, |(w, _)| w));
    words.collect::<Vec<_>>().join("/")
}

/// The positions in an address, as records write them: `cylinder=2,side=inlet`.
pub(super) fn position_of(address: &str) -> String {
    let inner = address.split('[').skip(1).filter_map(|rest| rest.split_once(']'));
    inner.map(|(inside, _)| inside).collect::<Vec<_>>().join(",")
}

/// The positions in an address, for people: `cylinder 2, inlet side`.
pub(super) fn position(address: &str) -> String {
    places(&[&position_of(address)])
}

fn is_number(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_digit())
}

/// Places of one kind: `cylinder 1, 2`, `inlet and outlet side`.
fn of_kind(kind: &str, names: &[&str]) -> String {
    let kind = spoken(kind);
    if names.iter().all(|name| is_number(name)) {
        return format!("{kind} {}", names.join(", "));
    }
    let names: Vec<String> = names.iter().map(|name| spoken(name)).collect();
    match names.split_last() {
        Some((last, [])) => format!("{last} {kind}"),
        Some((last, before)) => format!("{} and {last} {kind}", before.join(", ")),
        None => String::new(),
    }
}

/// Positions as people say them, what they share said once: `cylinder 1, 2, 3, inlet and outlet side`.
pub(super) fn places(positions: &[&str]) -> String {
    let mut by_rest: Vec<(&str, &str, Vec<&str>)> = Vec::new();
    for position in positions.iter().filter(|position| !position.is_empty()) {
        let (first, rest) = position.split_once(',').unwrap_or((position, ""));
        let (kind, name) = first.split_once('=').unwrap_or(("", first));
        match by_rest.iter_mut().find(|(known, of, _)| (*known, *of) == (kind, rest)) {
            Some((_, _, names)) if names.contains(&name) => {}
            Some((_, _, names)) => names.push(name),
            None => by_rest.push((kind, rest, vec![name])),
        }
    }
    let mut by_names: Vec<(&str, Vec<&str>, Vec<&str>)> = Vec::new();
    for (kind, rest, names) in by_rest {
        match by_names.iter_mut().find(|(known, of, _)| *known == kind && *of == names) {
            Some((_, _, rests)) => rests.push(rest),
            None => by_names.push((kind, names, vec![rest])),
        }
    }
    let spoken = by_names.iter().map(|(kind, names, rests)| {
        let (head, tail) = (of_kind(kind, names), places(rests));
        if tail.is_empty() { head } else { format!("{head}, {tail}") }
    });
    spoken.collect::<Vec<_>>().join("; ")
}

/// What was seen, in the words of the procedure.
pub(super) fn seen(found: &[Finding]) -> String {
    let words = |finding: &Finding| match finding.see.as_str() {
        "" => spoken(&finding.id),
        see => see.to_owned(),
    };
    found.iter().map(words).collect::<Vec<_>>().join("; ")
}

/// A text that was typed, or the choice that was picked, which is a name of the files.
pub(super) fn entered(text: &str) -> String {
    let is_name = text.contains('_')
        && text.split('_').all(|w| !w.is_empty() && w.bytes().all(|b| b.is_ascii_lowercase()));
    if is_name { spoken(text) } else { text.to_owned() }
}

/// The text as typed, with the unit of the field where none was typed.
pub(super) fn as_typed(reading: &Figure) -> String {
    let bare =
        reading.text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'));
    if bare && reading.unit != Unit::One.word() && !reading.unit.is_empty() {
        format!("{} {}", reading.text, reading.unit)
    } else {
        reading.text.clone()
    }
}

/// A figure and its unit on one line.
pub(super) fn with_nbsp(figure: &str) -> String {
    figure.replace(' ', "\u{a0}")
}

/// How a figure was read, where that is not what was typed.
pub(super) fn read_as(figure: &Figure) -> Option<String> {
    let typed = as_typed(figure);
    let same = |text: &str| text.replace(',', ".").replace('\u{a0}', " ");
    (same(&typed) != same(&figure.value) && !figure.value.is_empty()).then(|| figure.value.clone())
}

/// A figure that was worked out: three digits that count, more only where fewer would seem to lie on
/// the other side of a bound.
pub(super) fn rounded(figure: &Figure, limit: Option<&Limit>) -> String {
    let exact = as_typed(figure);
    let Ok((quantity, unit)) = Quantity::parse_literal(&figure.value) else { return exact };
    let bounds: Vec<Ratio<BigInt>> = limit
        .iter()
        .flat_map(|limit| [&limit.at_least, &limit.at_most])
        .filter_map(|bound| si(bound.as_deref()?))
        .collect();
    let side = |value: &Ratio<BigInt>| bounds.iter().map(|b| value.cmp(b)).collect::<Vec<_>>();
    let mut shares = quantity.in_unit(unit).abs();
    let mut places = 2_usize;
    let ten = Ratio::from_integer(BigInt::from(10));
    while !shares.is_zero() && shares >= ten && places > 0 {
        (shares, places) = (shares / &ten, places - 1);
    }
    while !shares.is_zero() && shares < Ratio::from_integer(1.into()) && places < 12 {
        (shares, places) = (shares * &ten, places + 1);
    }
    for places in places..12 {
        let text = quantity.render_rounded(unit, places);
        let Ok((shown, _)) = Quantity::parse_literal(&text) else { break };
        if side(&shown.si) == side(&quantity.si) {
            return if text.len() < exact.len() { text } else { exact };
        }
    }
    exact
}

/// A condition of a procedure in words: `oil level is below and the shaft is not stiff`.
pub(super) fn condition(text: &str) -> String {
    let word = |word: &str| {
        let word = match word {
            "==" => "is",
            "!=" => "is not",
            "<" => "is less than",
            ">" => "is more than",
            "<=" => "is at most",
            ">=" => "is at least",
            other => other,
        };
        spoken(word).replace('.', " ")
    };
    // A point in a number is no path.
    let one = |w: &str| {
        if is_number(w.trim_start_matches(['"', '(', '-'])) { w.to_owned() } else { word(w) }
    };
    text.split(' ').map(one).collect::<Vec<_>>().join(" ")
}

/// What a signature means, entries told as people count them.
pub(super) fn signed(says: &str) -> String {
    let Some((head, range)) = says.split_once("entries from ") else { return says.to_owned() };
    match range.split_once(" to ") {
        Some((from, to)) if from == to => {
            format!("{head}entry {from}")
        }
        _ => says.to_owned(),
    }
}

/// `1 figure`, `2 figures`.
pub(super) fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// The first so many characters, whole words only.
pub(super) fn short(text: &str, max: usize) -> String {
    if text.chars().count() <= max {
        return text.to_owned();
    }
    let mut kept = String::new();
    for word in text.split(' ') {
        if kept.chars().count() + word.chars().count() >= max {
            break;
        }
        if !kept.is_empty() {
            kept.push(' ');
        }
        kept.push_str(word);
    }
    format!("{} …", kept.trim_end_matches([',', ';', '.']))
}

/// Bytes as people say them.
pub(super) fn size(len_bytes: u64) -> String {
    let tenth = |unit: u64| {
        let tenths = len_bytes.saturating_mul(10).saturating_add(unit / 2) / unit;
        format!("{}.{}", tenths / 10, tenths % 10)
    };
    match len_bytes {
        0..1_000 => count(usize::try_from(len_bytes).unwrap_or(0), "byte", "bytes"),
        1_000..1_000_000 => format!("{} kB", tenth(1_000)),
        _ => format!("{} MB", tenth(1_000_000)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_say_once_what_they_share_and_hold_no_names_of_files() {
        for (positions, said) in [
            (vec!["cylinder=1", "cylinder=2", "cylinder=2"], "cylinder 1, 2"),
            (vec!["wheel_third=third"], "third wheel third"),
            (vec!["cylinder=2,side=inlet"], "cylinder 2, inlet side"),
            (
                vec![
                    "cylinder=1,side=inlet",
                    "cylinder=1,side=outlet",
                    "cylinder=2,side=inlet",
                    "cylinder=2,side=outlet",
                ],
                "cylinder 1, 2, inlet and outlet side",
            ),
            (
                vec!["cylinder=1,side=inlet", "cylinder=3,side=outlet"],
                "cylinder 1, inlet side; cylinder 3, outlet side",
            ),
            (vec!["", ""], ""),
        ] {
            assert_eq!(places(&positions), said);
        }
        assert_eq!(position("a[cylinder=2]/b[side=inlet]/c#2"), "cylinder 2, inlet side");
    }

    #[test]
    fn worked_out_figures_have_three_digits_and_never_change_sides() {
        let figure = |text: &str, unit: &str| Figure {
            text: text.to_owned(),
            unit: unit.to_owned(),
            value: if unit == "number" { text.to_owned() } else { format!("{text} {unit}") },
        };
        let limit = |least: &str| Limit {
            at_least: Some(least.to_owned()),
            at_most: None,
            basis: None,
            blind: false,
            compare: None,
            conforms: None,
            decided: None,
            grade: None,
            name: None,
            rounded: None,
            rule: None,
            words: String::new(),
        };
        assert_eq!(rounded(&figure("-0.178525", "bar diff"), None), "-0.179 bar diff");
        assert_eq!(rounded(&figure("97.3858", "%"), None), "97.4 %");
        assert_eq!(rounded(&figure("3", "number"), None), "3");
        assert_eq!(rounded(&figure("1234.5", "mm"), None), "1235 mm");
        // 37.4 would lie within.
        assert_eq!(rounded(&figure("37.3961", "mm"), Some(&limit("37.4 mm"))), "37.396 mm");
        assert_eq!(rounded(&figure("37.39999", "mm"), Some(&limit("37.4 mm"))), "37.39999 mm");
    }

    #[test]
    fn conditions_signatures_sizes_and_choices_are_words() {
        assert_eq!(
            condition("still.oil_colour == clear and hours >= 1.5 or \"x\" != not_so"),
            "still oil colour is clear and hours is at least 1.5 or \"x\" is not not so"
        );
        assert_eq!(signed("carried out their entries from 25 to 25"), "carried out their entry 25");
        let two = "carried out their entries from 2 to 25";
        assert_eq!(signed(two), two);
        assert_eq!(
            [size(1), size(77), size(5_678_901), size(1_500)],
            ["1 byte", "77 bytes", "5.7 MB", "1.5 kB"]
        );
        assert_eq!(
            [entered("with_dampener"), entered("V_12"), entered("a b_c")],
            ["with dampener", "V_12", "a b_c"]
        );
        assert_eq!(short("A cut, as long as a nail", 8), "A cut …");
    }
}
