//! Flushing by drain and refill: what is left, and the least number of drains, in exact numbers.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Pow, ToPrimitive as _, Zero as _};

use super::declare::{Calculation, Held, Input, Output};
use super::figure::shown;
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

type Exact = Ratio<BigInt>;

/// The most drains that are reckoned with: no shop does more.
pub const DRAINS_MAX: u32 = 1000;

/// What is left of a contaminant after `drains`: `c_f + (c_0 − c_f)·rⁿ`.
///
/// Source: a balance of what stays, perfect mixing assumed.
pub fn residual(retained: &Exact, start: &Exact, fresh: &Exact, drains: u32) -> Exact {
    fresh + (start - fresh) * Pow::pow(retained, drains)
}

/// The least number of drains after which no more than `target` is left; `None` where it is never
/// reached or more than [`DRAINS_MAX`] are needed.
///
/// Found with a logarithm and settled in exact numbers, so that a target met exactly asks for no drain
/// more.
pub fn drains(retained: &Exact, start: &Exact, fresh: &Exact, target: &Exact) -> Option<u32> {
    let enough = |n: u32| residual(retained, start, fresh, n) <= *target;
    if enough(0) {
        return Some(0);
    }
    if target < fresh || *retained >= Exact::one() {
        return None;
    }
    if target == fresh {
        // Only a system that drains to the last drop comes down to what is filled in.
        return retained.is_zero().then_some(1);
    }
    let near = |exact: &Exact| exact.to_f64().unwrap_or(f64::NAN);
    let share = near(&((target - fresh) / (start - fresh)));
    let guess = libm::log(share) / libm::log(near(retained));
    let mut least = if guess.is_finite() {
        if guess > f64::from(DRAINS_MAX) + 1.0 {
            return None;
        }
        (libm::floor(guess) - 1.0).to_u32().unwrap_or(1).max(1)
    } else {
        1
    };
    while least > 1 && enough(least - 1) {
        least -= 1;
    }
    while !enough(least) {
        least += 1;
        if least > DRAINS_MAX {
            return None;
        }
    }
    Some(least)
}

const LITRE: (Dimension, &str) = (Dimension::Volume, "L");
const SHARE: (Dimension, &str) = (Dimension::Number, "%");

const TOTAL: Input = Input::figure("total", "V", "volume when it is full", LITRE).from_to(
    "0.001 L",
    "1000000 L",
    "no system that is flushed holds more or less; look at the unit",
);
const RETAINED: Input =
    Input::figure("retained", "Vr", "volume that stays when it is drained", LITRE).from_to(
        "0 L",
        "1000000 L",
        "no less than nothing stays; look at the unit",
    );
const START: Input =
    Input::figure("start", "c0", "share of the contaminant before the first drain", SHARE)
        .from_to("0 %", "100 %", "a share lies between nothing and all")
        .or("100 %");
const FRESH: Input =
    Input::figure("fresh", "cf", "share of it in the fluid that is filled in", SHARE)
        .from_to("0 %", "100 %", "a share lies between nothing and all")
        .or("0 %");

const VALID: &[&str] =
    &["every drain leaves the same volume, and what is filled in mixes with it to the last corner"];
const WARNINGS: &[&str] = &[
    "it assumes mixing; dead ends, hoses and films do not mix: the number is the least, and the sample decides",
    "circulate and warm the fluid before each drain, and drain at the lowest point",
    "measure what stays: filled in less than drained out before is what stays",
];
const SOURCES: &[&str] =
    &["a balance of what stays; a public weighed rinse experiment agrees for one rinse"];

/// What is left of a contaminant after a number of drains.
///
/// r = Vr/V, c = cf + (c0 − cf)·rⁿ. Volumes in litres, shares in % or ppm. Exact. Refused where more stays
/// than fits. Source: a balance; perfect mixing assumed.
pub static FLUSH_RESIDUAL: Calculation = Calculation {
    name: "flush_residual",
    title: "what is left of a contaminant after a number of drains and refills",
    formulas: &["r = Vr/V", "left = cf + (c0 − cf)·rⁿ"],
    symbols: &[("r", "share that stays at each drain")],
    valid: VALID,
    warnings: WARNINGS,
    sources: SOURCES,
    inputs: &[
        TOTAL,
        RETAINED,
        Input::count("drains", "n", "drains, each with a refill").from_to(
            "0",
            "1000",
            "no shop drains more often",
        ),
        START,
        FRESH,
    ],
    outputs: &[
        Output::figure("left", "share of the contaminant that is left", SHARE),
        Output::figure("retained_share", "share that stays at each drain", SHARE),
    ],
    held: Some(Held { at_least: "left", at_most: "left" }),
    example: &[("total", "120 L"), ("retained", "30 L"), ("start", "1500 ppm"), ("drains", "3")],
    run: flush_residual,
};

/// The least number of drains that a target asks for.
///
/// Least n with cf + (c0 − cf)·rⁿ ≤ target, r = Vr/V; exact. Refused where the fresh fluid itself is over
/// the target, nothing drains, or more than 1000 are needed. Source: a balance; perfect mixing assumed.
pub static FLUSH_DRAINS: Calculation =
    Calculation {
        name: "flush_drains",
        title: "how many drains and refills at the least bring a contaminant down to a target",
        formulas: &["r = Vr/V", "the least n with cf + (c0 − cf)·rⁿ ≤ target"],
        symbols: &[("r", "share that stays at each drain")],
        valid: VALID,
        warnings: WARNINGS,
        sources: SOURCES,
        inputs: &[
            TOTAL,
            RETAINED,
            Input::figure("target", "", "share of the contaminant that may be left", SHARE)
                .from_to("0 %", "100 %", "a share lies between nothing and all"),
            START,
            FRESH,
        ],
        outputs: &[
            Output::figure(
                "drains",
                "least number of drains, each with a refill",
                (Dimension::Number, ""),
            ),
            Output::figure("left", "share of the contaminant that is then left", SHARE),
            Output::figure("retained_share", "share that stays at each drain", SHARE),
        ],
        held: Some(Held { at_least: "drains", at_most: "drains" }),
        example: &[("total", "60 L"), ("retained", "12 L"), ("target", "1 %")],
        run: flush_drains,
    };

fn near(exact: &Exact) -> f64 {
    exact.to_f64().unwrap_or(f64::NAN)
}

/// A share in per cent, or in parts per million where it is small.
fn share(exact: &Exact) -> String {
    let value = near(exact);
    shown(value, if exact.is_zero() || value >= 1e-4 { "%" } else { "ppm" })
}

/// The share that stays, written on the sheet.
fn retained(known: &Known<'_>, sheet: &mut Sheet) -> Result<Exact, CalcRefusal> {
    let (total, stays) = (known.exact("total")?, known.exact("retained")?);
    if stays > total {
        return Err(CalcRefusal::Impossible(format!(
            "`retained` is {}, more than the {} that it holds when full; look at both",
            known.shown("retained"),
            known.shown("total")
        )));
    }
    let r = stays / total;
    let figures = format!("{} / {}", known.shown("retained"), known.shown("total"));
    sheet.line("share that stays at each drain", "r = Vr/V", figures, shown(near(&r), "%"));
    sheet.gives("retained_share", near(&r));
    sheet.warn("this assumes that every refill mixes to the last corner: the sample decides, not the number");
    Ok(r)
}

fn flush_residual(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let r = retained(known, &mut sheet)?;
    let (start, fresh) = (known.exact("start")?, known.exact("fresh")?);
    let drains = known.count("drains")?.min(DRAINS_MAX + 1);
    let left = residual(&r, &start, &fresh, drains);
    write_left(&mut sheet, [&start, &fresh, &r], drains, &left);
    if left > start {
        sheet.warn(
            "the fluid filled in carries more than what it replaces: each drain makes it worse",
        );
    }
    sheet.gives("left", near(&left));
    Ok(sheet)
}

fn write_left(sheet: &mut Sheet, [start, fresh, r]: [&Exact; 3], drains: u32, left: &Exact) {
    let r = super::figure::digits(near(r), 5);
    sheet.line(
        format!("left after {drains} drains"),
        "cf + (c0 − cf)·rⁿ",
        format!("{} + ({} − {}) · {r}^{drains}", share(fresh), share(start), share(fresh)),
        share(left),
    );
}

fn flush_drains(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let r = retained(known, &mut sheet)?;
    let (start, fresh, target) =
        (known.exact("start")?, known.exact("fresh")?, known.exact("target")?);
    let least = drains(&r, &start, &fresh, &target).ok_or_else(|| {
        CalcRefusal::Impossible(if target < fresh {
            format!(
                "the fluid filled in carries {}, more than the target of {}: no number of drains gets there; take \
                 cleaner fluid",
                share(&fresh),
                share(&target)
            )
        } else if r >= Exact::one() {
            "nothing drains: what stays is all that it holds, and no number of drains changes anything; find \
             another drain point"
                .to_owned()
        } else {
            format!(
                "more than {DRAINS_MAX} drains would be needed, or it is never reached: with {} left at each drain \
                 flush another way",
                shown(near(&r), "%")
            )
        })
    })?;
    if least > 0 {
        let before = residual(&r, &start, &fresh, least - 1);
        write_left(&mut sheet, [&start, &fresh, &r], least - 1, &before);
    }
    let left = residual(&r, &start, &fresh, least);
    write_left(&mut sheet, [&start, &fresh, &r], least, &left);
    let formula = "the least n with left ≤ target";
    let figures = format!("{} ≤ {}", share(&left), share(&target));
    sheet.line("least number of drains", formula, figures, least.to_string());
    if least == 0 {
        sheet.warn("it is within the target before anything is drained");
    }
    sheet.gives("drains", f64::from(least));
    sheet.gives("left", near(&left));
    Ok(sheet)
}
