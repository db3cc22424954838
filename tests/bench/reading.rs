//! How long it takes from a typed reading to its verdict, for each way of judging it.
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at the clock")]
#![expect(clippy::indexing_slicing, reason = "as many times as were taken")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::hint::black_box;
use std::time::Instant;

use witnessmark::units::{
    Compare, DecisionRule, Guard, Limit, Quantity, Reading, Ties, Uncertainty, Unit,
};

/// How often each batch is timed.
const TIMES: usize = 201;
/// How many readings a batch has, so that the clock's own steps do not show.
const BATCH: u32 = 1_000;

/// Median and greatest of the times of one reading, in nanoseconds.
fn time(mut once: impl FnMut()) -> (f64, f64) {
    let mut nanos: Vec<f64> = (0..TIMES)
        .map(|_| {
            let start = Instant::now();
            (0..BATCH).for_each(|_| once());
            start.elapsed().as_secs_f64() * 1e9 / f64::from(BATCH)
        })
        .collect();
    nanos.sort_by(f64::total_cmp);
    (nanos[TIMES / 2], nanos[TIMES - 1])
}

fn quantity(text: &str) -> Quantity {
    Quantity::parse_literal(text).expect("a figure").0
}

fn main() {
    let bounds = (quantity("44.60 mm"), quantity("45.40 mm"));
    let limit = Limit::new(Some(bounds.0), Some(bounds.1), Unit::Millimetre).expect("a limit");
    let to_two = Compare::Rounded { places: 2, ties: Ties::HalfEven };
    let rounding = limit.clone().with_compare(to_two).expect("two places");
    let uncertainty = Uncertainty::parse_literal("0.03 mm", "2").expect("an uncertainty");
    let proven = DecisionRule::Proven(Guard::full());
    let probability = DecisionRule::Probability(quantity("95 %").si);

    let parse = |text: &str| Reading::parse(black_box(text), Unit::Millimetre).expect("a reading");
    let decide = |text: &str, rule: &DecisionRule| {
        let decision = rule.decide(&limit, &parse(text).value, Some(&uncertainty));
        black_box(decision.expect("a decision"));
    };
    let report = |what: &str, (median, greatest): (f64, f64)| {
        println!("{what}: median {median:.0} ns, greatest {greatest:.0} ns");
    };
    report("read only, `44.73`", time(|| drop(black_box(parse("44.73")))));
    report(
        "read and judge, `44.73`",
        time(|| {
            black_box(limit.judge(&parse("44.73").value));
        }),
    );
    report(
        "read and judge, `1 3/4 in`",
        time(|| {
            black_box(limit.judge(&parse("1 3/4 in").value));
        }),
    );
    report(
        "read, round and judge, `44.725`",
        time(|| {
            black_box(rounding.judge(&parse("44.725").value));
        }),
    );
    report("read and prove, `44.73`", time(|| decide("44.73", &proven)));
    report("read and decide by probability, `44.73`", time(|| decide("44.73", &probability)));
    report(
        "read, judge and say so, `44.53`",
        time(|| {
            drop(black_box(limit.explain(&parse("44.53"))));
        }),
    );
}
