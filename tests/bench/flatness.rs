//! How long the exact flatness of 1,000 readings takes, from readings to zone and from texts to working.
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at the clock")]
#![expect(clippy::indexing_slicing, reason = "as many times as were taken")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::hint::black_box;
use std::time::Instant;

use witnessmark::calc::flat::{Exact, Reading, least_squares, least_zone};
use witnessmark::calc::{self, Inputs};

/// How often each is timed.
const TIMES: usize = 51;

/// Columns and rows of the grid.
const GRID: (u32, u32) = (40, 25);

/// Heights in tenths of a micrometre: a dish with a twist, and a scatter that is the same every time.
fn heights() -> Vec<i64> {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut scatter = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        i64::try_from(state % 61).expect("small") - 30
    };
    let (columns, rows) = GRID;
    let places = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
    places
        .map(|(column, row)| {
            let (x, y) = (i64::from(column) - 20, i64::from(row) - 12);
            (x * x + y * y) / 4 + x * y / 5 + 7 * x + scatter()
        })
        .collect()
}

/// Median and greatest of the times of `work`, in milliseconds.
fn time(mut work: impl FnMut()) -> (f64, f64) {
    let mut millis: Vec<f64> = (0..TIMES)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    millis.sort_by(f64::total_cmp);
    (millis[TIMES / 2], millis[TIMES - 1])
}

fn main() {
    let heights = heights();
    let (columns, rows) = GRID;
    let places = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
    let exact = |number: i64, below: i64| Exact::new(number.into(), below.into());
    let readings: Vec<Reading> = places
        .zip(&heights)
        .map(|((column, row), height)| Reading {
            at: vec![exact(i64::from(column) * 25, 1000), exact(i64::from(row) * 25, 1000)],
            height: exact(*height, 10_000_000),
        })
        .collect();
    let text = |height: &i64| {
        let sign = if *height < 0 { "-" } else { "" };
        format!("{sign}{}.{}", height.abs() / 10, height.abs() % 10)
    };
    let list = heights.iter().map(text).collect::<Vec<_>>().join(" ") + " µm";
    let columns = columns.to_string();
    let given = [
        ("heights", list.as_str()),
        ("columns", &columns),
        ("step_x", "25 mm"),
        ("step_y", "25 mm"),
    ];
    let calculation = calc::find("flatness").expect("it is there");
    let zone = time(|| drop(black_box(least_zone(black_box(&readings)))));
    let fit = time(|| drop(black_box(least_squares(black_box(&readings)))));
    let whole = time(|| {
        let inputs = Inputs::read(calculation, given, "a benchmark").expect("inputs");
        black_box(calc::run(calculation, &inputs)).expect("a result");
    });
    for (what, (median, greatest)) in
        [("least zone", zone), ("least squares", fit), ("text to working", whole)]
    {
        println!(
            "flatness of {} readings, {what}: median {median:.2} ms, greatest {greatest:.2} ms",
            heights.len()
        );
    }
}
