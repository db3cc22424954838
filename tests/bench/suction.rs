//! How long a suction check takes, with and without looking for what to change.
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at the clock")]
#![expect(clippy::indexing_slicing, reason = "as many times as were taken")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::hint::black_box;
use std::time::Instant;

use witnessmark::calc::suction::{
    self, Air, Flow, Give, Line, Liquid, Pulsation, PumpType, Requirement, Spread, Suction, Wall,
};

/// How often each check is timed.
const TIMES: usize = 201;

fn suction(npsh_required: f64) -> Suction {
    Suction {
        air: Air::Altitude(Spread::between(0.0, 500.0)),
        tank: Spread::only(0.0),
        level: Spread::between(2.0, 3.0),
        liquid: Liquid::Water(Spread::between(283.15, 313.15)),
        speed: Spread::between(100.0, 200.0),
        flow: Flow::At(Spread::between(0.0015, 0.003)),
        line: Line {
            wall: Wall::Stiff,
            length: Spread::only(6.0),
            bore: Spread::only(0.0525),
            roughness: Spread::between(4.5e-5, 9e-5),
            fittings: Spread::only(2.5),
            strainer: Spread::between(2e3, 1e4),
        },
        pulsation: Some(Pulsation {
            pump: PumpType::Triplex,
            give: Give::Little,
            stabiliser: None,
        }),
        requires: Requirement::Npsh(npsh_required),
        margin: 0.5,
        greatest_inlet: None,
        gravity: 9.806_65,
    }
}

/// Median and greatest of the times of one check, in microseconds.
fn time(suction: &Suction) -> (f64, f64) {
    let mut micros: Vec<f64> = (0..TIMES)
        .map(|_| {
            let start = Instant::now();
            black_box(suction::check(black_box(suction))).expect("a result");
            start.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    micros.sort_by(f64::total_cmp);
    (micros[TIMES / 2], micros[TIMES - 1])
}

fn main() {
    for (what, npsh_required) in [("enough", 0.5), ("too little, nine changes", 6.0)] {
        let (median, greatest) = time(&suction(npsh_required));
        println!("suction check, {what}: median {median:.0} µs, greatest {greatest:.0} µs");
    }
}
