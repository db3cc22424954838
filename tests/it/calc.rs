//! The named calculations against values from outside, and `calc` at the command line.

mod bolts;
mod faces;
mod fluids;
mod flushing;
mod program;
mod pumps;
mod springs;

use witnessmark::calc::{self, CalcRefusal, Inputs, Working};

use crate::support::csv::{Row, rows};

/// The rows of a file, which has this many, and this many of them from memory.
fn table(csv: &str, count: usize, from_memory: usize) -> Vec<Row> {
    let rows = rows(csv);
    let recalled = rows.iter().filter(|row| row.text("basis") == "memory").count();
    assert_eq!((rows.len(), recalled), (count, from_memory));
    rows
}

/// A figure without an exponent, with its unit.
fn figure(value: f64, unit: &str) -> String {
    format!("{value} {unit}")
}

fn work(name: &str, given: &[(&str, String)]) -> Result<Working, CalcRefusal> {
    let calculation = calc::named(name)?;
    let pairs = given.iter().map(|(name, text)| (*name, text.as_str()));
    calc::run(calculation, &Inputs::read(calculation, pairs, "a test")?)
}

fn worked(name: &str, given: &[(&str, String)]) -> Working {
    work(name, given).unwrap_or_else(|refusal| panic!("{name} {given:?}: {refusal}"))
}

/// What nine printed digits leave open, where the inputs of a row are rounded to nine digits too.
const PRINTED: f64 = 1e-8;

/// The first tolerance of a row.
fn tight(row: &Row) -> f64 {
    let text = row.text("rtol");
    let first = text.split([' ', ';', ',']).next().unwrap();
    first.parse().unwrap_or_else(|_| panic!("{}: {text}", row.name()))
}

/// The tolerance of a row for its full columns, which no nine digits can be held to more closely.
fn full(row: &Row) -> f64 {
    tight(row).max(PRINTED)
}

/// Within a tolerance in the unit of both.
#[track_caller]
fn within(got: f64, want: f64, atol: f64, what: &str) {
    assert!((got - want).abs() <= atol, "{what}: {got} for {want}");
}
