//! Factors and conversions held against check values from outside the project.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive as _;
use witnessmark::units::{Quantity, Unit};

const UNITS: &str = include_str!("../reference/units.csv");
const CONVERSIONS: &str = include_str!("../reference/units_conversions.csv");

/// The fields of each row by the names in the header; lines that start with `#` are remarks.
fn rows(csv: &str) -> Vec<Vec<(String, String)>> {
    let mut lines = csv.lines().filter(|line| !line.starts_with('#')).map(fields);
    let header = lines.next().expect("a header");
    lines
        .map(|fields| {
            assert_eq!(fields.len(), header.len(), "{fields:?}");
            header.iter().cloned().zip(fields).collect()
        })
        .collect()
}

/// One line of CSV; a quoted field may hold commas and doubled quotes.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                fields.last_mut().expect("one field").push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => fields.last_mut().expect("one field").push(c),
        }
    }
    fields
}

fn field<'a>(row: &'a [(String, String)], name: &str) -> &'a str {
    row.iter().find(|(header, _)| header == name).map(|(_, value)| value.as_str()).expect(name)
}

/// A decimal or a fraction, exactly; `None` for what is neither.
fn exact(text: &str) -> Option<Ratio<BigInt>> {
    let whole = |text: &str| Quantity::parse_literal(text).ok().map(|(figure, _)| figure.si);
    match text.split_once('/') {
        Some((above, below)) => Some(whole(above)? / whole(below)?),
        None => whole(text),
    }
}

/// How the table here writes a row of the file. The file's pressures are differences here; gauge
/// and absolute ones have the same factor.
fn spelt(symbol: &str, dimension: &str) -> String {
    match (symbol, dimension) {
        ("gal", _) => "US gal".to_owned(),
        ("gpm", _) => "US gpm".to_owned(),
        ("fl oz", _) => "US fl oz".to_owned(),
        (symbol, "pressure") => format!("{symbol} diff"),
        (symbol, _) => symbol.to_owned(),
    }
}

fn named(name: &str) -> Option<Unit> {
    let row = rows(UNITS).into_iter().find(|row| field(row, "unit") == name)?;
    let symbol = field(&row, "symbols").split('|').next()?.to_owned();
    Unit::parse(&spelt(&symbol, field(&row, "dimension")))
}

/// A whole turn in radians: the table here counts turns, so that figures stay exact.
const TURN_RAD: f64 = 2.0 * std::f64::consts::PI;

#[test]
fn every_unit_has_the_published_factor_and_offset() {
    let rows = rows(UNITS);
    assert_eq!(rows.len(), 68);
    let mut n_turning = 0;
    for row in &rows {
        let (name, dimension) = (field(row, "unit"), field(row, "dimension"));
        for symbol in field(row, "symbols").split('|') {
            let spelling = spelt(symbol, dimension);
            if name == "radian per second" {
                // No rational number of turns: not taken.
                assert_eq!(Unit::parse(&spelling), None);
                n_turning += 1;
                continue;
            }
            let unit = Unit::parse(&spelling).unwrap_or_else(|| panic!("`{spelling}`"));
            if spelling != symbol {
                assert!(Unit::parse(symbol).is_none() && Unit::ambiguity(symbol).is_some());
            }
            let offset = exact(field(row, "offset_SI_exact")).expect("a number");
            assert_eq!(unit.offset(), offset, "{name}");
            if let Some(factor) = exact(field(row, "factor_to_SI_exact")) {
                assert_eq!(unit.factor(), factor, "{name} as {spelling}");
            } else {
                let float: f64 = field(row, "factor_to_SI_float").parse().expect("a float");
                let turns = unit.factor().to_f64().expect("finite") * TURN_RAD;
                assert!((turns / float - 1.0).abs() < 1e-15, "{name}: {turns} {float}");
                n_turning += 1;
            }
            for kind in ["gauge", "abs"] {
                if dimension == "pressure" {
                    let other = Unit::parse(&format!("{symbol} {kind}")).expect("every kind");
                    assert_eq!(other.factor(), unit.factor(), "{symbol} {kind}");
                    assert_ne!(other.dimension(), unit.dimension());
                }
            }
        }
    }
    // rpm as an angular velocity, rad/s, and the degree under both its spellings.
    assert_eq!(n_turning, 4);
}

#[test]
fn worked_conversions_come_out_exactly() {
    let rows = rows(CONVERSIONS);
    assert_eq!(rows.len(), 45);
    for row in &rows {
        let (from, to) = (named(field(row, "unit_from")), named(field(row, "unit_to")));
        let Some((from, to)) = from.zip(to) else {
            assert_eq!(field(row, "unit_to"), "radian per second");
            continue;
        };
        let value = exact(field(row, "value")).expect("a number");
        let quantity = Quantity::new(value.clone(), from);
        if let Some(result) = exact(field(row, "result_exact")) {
            assert_eq!(quantity.in_unit(to), result, "{row:?}");
            assert_eq!(Quantity::new(result, to).in_unit(from), value, "{row:?}");
        } else {
            assert!(field(row, "note").contains("must be refused"), "{row:?}");
            assert_ne!(from.dimension(), to.dimension(), "{row:?}");
            assert_eq!(quantity.compare(&Quantity::new(value, to)), None);
        }
    }
}
