//! How much the flow of a crank-driven pump swings over one turn.

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::{digits, shown};
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::Sheet;
use super::{NUMBER, SHARE};

/// Places of the crank that are looked at in one turn; a multiple of every number of cylinders up to
/// 9 and of 4, so that the corners of the flow are among them.
const PLACES: u32 = 5040;

/// The flow of one turn against its mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulsation {
    /// The mean flow over area, crank radius and angular speed.
    pub mean: f64,
    /// How far the greatest flow lies above the mean, as a share of it.
    pub peak: f64,
    /// How far the least flow lies below the mean, as a share of it.
    pub trough: f64,
}

/// The flow of `cylinders` on a crank, with the rod `rod_ratio` times the crank's radius long; endless
/// without.
///
/// Sum of the forward speeds sin θ + sin θ·cos θ/√(λ² − sin²θ) of all pistons, cranks evenly spaced; both
/// ways where both sides work, with the cranks of a duplex 90° apart then. Source: the motion of the crank.
pub fn pulsation(cylinders: u32, both_sides: bool, rod_ratio: Option<f64>) -> Pulsation {
    let apart = if both_sides && cylinders == 2 { PLACES / 4 } else { PLACES / cylinders.max(1) };
    let piston = |place: u32| {
        let angle = f64::from(place % PLACES) / f64::from(PLACES) * std::f64::consts::TAU;
        let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
        let tilt = rod_ratio.map_or(0.0, |ratio| cosine / libm::sqrt(ratio * ratio - sine * sine));
        let speed = sine * (1.0 + tilt);
        if both_sides { speed.abs() } else { speed.max(0.0) }
    };
    let flow = |place: u32| (0..cylinders).map(|i| piston(place + i * apart)).sum::<f64>();
    let (mut sum, mut least, mut most) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
    for place in 0..PLACES {
        let now = flow(place);
        sum += now;
        least = f64::min(least, now);
        most = f64::max(most, now);
    }
    let mean = sum / f64::from(PLACES);
    Pulsation { mean, peak: most / mean - 1.0, trough: 1.0 - least / mean }
}

/// How much the flow of a crank-driven pump swings over one turn.
///
/// q(θ) = Σ max(0, sin θ + sin θ·cos θ/√(λ² − sin²θ)) over the cylinders, against its mean. 1 to 9
/// cylinders, λ from 2. Source: the motion of the crank.
pub static PULSATION: Calculation = Calculation {
    name: "pulsation",
    title: "how much the flow of a crank-driven pump swings over one turn, by its cylinders",
    formulas: &[
        "q = Σ of sin θ + sin θ·cos θ/√(λ² − sin²θ) over the cylinders that press",
        "peak = max q/mean q − 1, trough = 1 − min q/mean q",
    ],
    symbols: &[
        (
            "θ",
            "angle of each crank, evenly spaced; a duplex that presses both ways has them 90° apart",
        ),
        ("q", "flow at that moment, over area, crank radius and angular speed"),
    ],
    valid: &[
        "valves that close at once, a liquid that does not give, a crank that turns evenly",
        "1 to 9 cylinders",
    ],
    warnings: &[
        "the flow at the cylinder is meant: dampener, hose and pipe change what a gauge shows",
        "where both sides work the rod's area is left out: with a thick rod the two strokes differ",
        "a swing larger than this, or at the turns of the crank, points to one cylinder or valve",
    ],
    sources: &[
        "the motion of the crank; the handbook figures +6/−17 % for three and +2/−5 % for five cylinders, from memory, agree",
    ],
    inputs: &[
        Input::count("cylinders", "z", "cylinders")
            .from_to("1", "9", "beyond nine the flow hardly swings")
            .weightless(),
        Input::word("acting", "sides of the piston that press", &["single", "double"]).or("single"),
        Input::figure(
            "rod_ratio",
            "λ",
            "length of the connecting rod over the radius of the crank",
            NUMBER,
        )
        .from_to("2", "1000", "a shorter rod jams, a longer one is endless")
        .optional("a rod without end, with which the flow swings least"),
    ],
    outputs: &[
        Output::figure("swing", "from trough to peak, of the mean flow", SHARE),
        Output::figure("peak", "greatest flow above the mean", SHARE),
        Output::figure("trough", "least flow below the mean", SHARE),
        Output::figure("mean", "mean flow over area, crank radius and angular speed", NUMBER),
    ],
    held: Some(Held { at_least: "swing", at_most: "swing" }),
    example: &[("cylinders", "3"), ("rod_ratio", "5")],
    run: run_pulsation,
};

fn run_pulsation(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (cylinders, both) = (known.count("cylinders")?, known.word("acting") == "double");
    let found = pulsation(cylinders, both, known.maybe("rod_ratio"));
    let Pulsation { mean, peak, trough } = found;
    let mut sheet = Sheet::new();
    let ratio =
        known.maybe("rod_ratio").map_or_else(|| "endless".to_owned(), |ratio| digits(ratio, 4));
    let figures = format!("z = {cylinders}, λ = {ratio}, over one turn");
    sheet.line("mean flow", "mean of Σ over the cylinders that press", figures, digits(mean, 6));
    let m = digits(mean, 6);
    let top = digits(mean * (1.0 + peak), 6);
    let bottom = digits(mean * (1.0 - trough), 6);
    sheet.line("peak", "max q/mean q − 1", format!("{top} / {m} − 1"), shown(peak, "%"));
    sheet.line("trough", "1 − min q/mean q", format!("1 − {bottom} / {m}"), shown(trough, "%"));
    sheet.line(
        "from trough to peak",
        "peak + trough",
        format!("{} + {}", shown(peak, "%"), shown(trough, "%")),
        shown(peak + trough, "%"),
    );
    if both && cylinders > 2 {
        sheet.warn(
            "cranks are taken 360°/z apart; other pumps that press both ways have them otherwise",
        );
    }
    sheet.gives("swing", peak + trough);
    sheet.gives("peak", peak);
    sheet.gives("trough", trough);
    sheet.gives("mean", mean);
    Ok(sheet)
}
