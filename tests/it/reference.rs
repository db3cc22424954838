//! Factors and conversions held against check values from outside the project.

use witnessmark::units::{Quantity, Unit};

const UNITS: &str = include_str!("../reference/units_length.csv");
const CONVERSIONS: &str = include_str!("../reference/units_conversions_length.csv");

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

fn named(name: &str) -> Unit {
    let row = rows(UNITS).into_iter().find(|row| field(row, "unit") == name).expect(name);
    let symbol = field(&row, "symbols").split('|').next().expect("a symbol").to_owned();
    Unit::parse(&symbol).expect("a known unit")
}

#[test]
fn every_spelling_of_a_length_has_the_published_factor() {
    let rows = rows(UNITS);
    assert_eq!(rows.len(), 6);
    for row in &rows {
        let factor =
            Quantity::parse_literal(field(row, "factor_to_SI_exact")).expect("a decimal").0;
        for symbol in field(row, "symbols").split('|') {
            let unit = Unit::parse(symbol).unwrap_or_else(|| panic!("`{symbol}` is not known"));
            assert_eq!(unit.factor(), factor.si, "{symbol}");
        }
    }
}

#[test]
fn worked_conversions_come_out_exactly() {
    let rows = rows(CONVERSIONS);
    assert_eq!(rows.len(), 5);
    for row in &rows {
        let (from, to) = (named(field(row, "unit_from")), named(field(row, "unit_to")));
        let value = Quantity::parse_literal(field(row, "value")).expect("a decimal").0;
        let result = Quantity::parse_literal(field(row, "result_exact")).expect("a decimal").0;
        assert_eq!(Quantity::new(value.si.clone(), from).in_unit(to), result.si, "{row:?}");
        assert_eq!(Quantity::new(result.si, to).in_unit(from), value.si, "{row:?}");
    }
}
