//! The torque wrench: what to set with an adapter, and whether it tells the truth.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _};

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::shown;
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::{Comparison, Sheet};
use super::{MM, NEWTON_METRE, SHARE};
use crate::units::Dimension;

/// What to set for `torque` at the fastener: T·L/(L + E·cos α), with the angle in turns; `None` where
/// the adapter reaches back so far that the wrench has no lever left.
///
/// Source: army manuals for adapters in line; the cosine is the projection of the adapter on the wrench.
pub fn setting(torque: f64, length: f64, extension: f64, angle_turns: f64) -> Option<f64> {
    let lever = length + extension * libm::cos(angle_turns * std::f64::consts::TAU);
    (lever > length * 0.2).then(|| torque * length / lever)
}

/// What to set at a torque wrench with an adapter.
///
/// `T_set = T·L/(L + E·cos α)`, lengths in mm from the middle of the square drive. Refused where the
/// lever left is a fifth of the wrench or less. Source: US Army technical manuals; the cosine by geometry.
pub static WRENCH_SETTING: Calculation = Calculation {
    name: "wrench_setting",
    title: "what to set at a torque wrench with an adapter or crowfoot on it",
    formulas: &["set = T·L/(L + E·cos α)"],
    symbols: &[],
    valid: &[
        "a wrench that clicks or shows, pulled at its mark, square to the handle",
        "an adapter that turns with the drive: not a joint, not a torque multiplier",
    ],
    warnings: &[
        "L is from the middle of the grip to the middle of the square drive, E from there to the middle of the \
         fastener: measure both on this very wrench",
        "at 90° the setting is the torque itself: stand the adapter square to the wrench and nothing is to be \
         worked out",
        "pulled elsewhere than at the mark, a wrench with an adapter is wrong though it clicks",
    ],
    sources: &[
        "in line: US Army TM 9-2350-277-40&P, TM 1-1500-204-23-9; at 90°: US Navy training text",
        "between: by geometry, no source",
    ],
    inputs: &[
        Input::figure("torque", "T", "torque that the fastener must get", NEWTON_METRE).from_to(
            "0.1 N·m",
            "100000 N·m",
            "no wrench is set outside of it; look at the unit",
        ),
        Input::figure("wrench_length", "L", "middle of the grip to middle of the square drive", MM)
            .from_to("20 mm", "5000 mm", "no torque wrench is longer or shorter; look at the unit"),
        Input::figure("extension", "E", "middle of the square drive to middle of the fastener", MM)
            .from_to("0 mm", "2000 mm", "no adapter is longer; look at the unit"),
        Input::figure(
            "angle",
            "α",
            "adapter against the wrench: 0° points straight on",
            (Dimension::Angle, "°"),
        )
        .from_to("0°", "180°", "0° is straight on, 90° square, 180° straight back")
        .or("0°"),
    ],
    outputs: &[Output::figure("setting", "what to set at the wrench", NEWTON_METRE)],
    held: Some(Held { at_least: "setting", at_most: "setting" }),
    example: &[("torque", "80 N·m"), ("wrench_length", "400 mm"), ("extension", "50 mm")],
    run: wrench_setting,
};

fn wrench_setting(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (torque, length) = (known.figure("torque")?, known.figure("wrench_length")?);
    let (extension, angle) = (known.figure("extension")?, known.figure("angle")?);
    let (l, e, a) = (known.shown("wrench_length"), known.shown("extension"), known.shown("angle"));
    let set = setting(torque, length, extension, angle).ok_or_else(|| {
        CalcRefusal::Impossible(format!(
            "an adapter of {e} at {a} reaches back over a wrench of {l}: a fifth of its lever or less is left, \
             and no setting can be trusted; turn the adapter to 90° or less"
        ))
    })?;
    let mut sheet = Sheet::new();
    sheet.line(
        "what to set",
        "set = T·L/(L + E·cos α)",
        format!("{} · {l} / ({l} + {e} · cos {a})", known.shown("torque")),
        shown(set, "N·m"),
    );
    if extension > length / 2.0 {
        sheet.warn("the adapter is longer than half the wrench: where the hand pulls matters much");
    }
    if angle > 0.25 {
        sheet.warn("the adapter points back: the setting is above the torque; see that the wrench may be set so high");
    }
    sheet.gives("setting", set);
    Ok(sheet)
}

/// Whether a torque wrench tells the truth.
///
/// deviation = (set − measured)/measured, at most 4 % for a tool above 10 N·m and 6 % for one up to it.
/// Exact. Source: ISO 6789 for setting tools (type II class A), limits read in a restatement, the formula
/// from memory.
pub static WRENCH_CHECK: Calculation = Calculation {
    name: "wrench_check",
    title: "whether a torque wrench clicks where it should, from a reading on a reference",
    formulas: &["deviation = (set − measured)/measured"],
    symbols: &[],
    valid: &[
        "wrenches that are set and click (type II class A); of other kinds the limits were not read",
    ],
    warnings: &[
        "one reading is no calibration: take five at 20, 60 and 100 % of the greatest torque",
        "the doubt of the reference itself is not in it",
    ],
    sources: &[
        "ISO 6789: ±4 % above 10 N·m, ±6 % up to it, read in a restatement; the formula from memory",
    ],
    inputs: &[
        Input::figure("set", "", "torque that was set", NEWTON_METRE).from_to(
            "0.1 N·m",
            "100000 N·m",
            "no wrench is set outside of it; look at the unit",
        ),
        Input::figure("measured", "", "torque that the reference showed", NEWTON_METRE).from_to(
            "0.1 N·m",
            "100000 N·m",
            "no wrench gives torque outside of it; look at the unit",
        ),
        Input::figure("greatest", "", "greatest torque of the wrench", NEWTON_METRE)
            .from_to("0.1 N·m", "100000 N·m", "no wrench is made outside of it; look at the unit")
            .weightless(),
    ],
    outputs: &[
        Output::figure("deviation", "how much more was set than came out", SHARE),
        Output::figure("allowed", "how much it may be, either way", SHARE),
        Output::word("judged", "how it stands", &["pass", "fail"]),
    ],
    held: None,
    example: &[("set", "60 N·m"), ("measured", "62.1 N·m"), ("greatest", "100 N·m")],
    run: wrench_check,
};

fn wrench_check(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (set, measured) = (known.exact("set")?, known.exact("measured")?);
    let greatest = known.exact("greatest")?;
    if set > greatest {
        return Err(CalcRefusal::Impossible(format!(
            "`set` is {}, above the greatest torque of the wrench, {}; look at both",
            known.shown("set"),
            known.shown("greatest")
        )));
    }
    let small = greatest <= Ratio::from_integer(BigInt::from(10));
    let allowed: Ratio<BigInt> =
        Ratio::new(BigInt::from(if small { 6 } else { 4 }), BigInt::from(100));
    let deviation = (&set - &measured) / &measured;
    let judged = if deviation.abs() <= allowed { "pass" } else { "fail" };
    let near = |exact: &Ratio<BigInt>| exact.to_f64().unwrap_or(f64::NAN);
    let mut sheet = Sheet::new();
    let (s, m) = (known.shown("set"), known.shown("measured"));
    sheet.line(
        "deviation",
        "(set − measured)/measured",
        format!("({s} − {m}) / {m}"),
        shown(near(&deviation), "%"),
    );
    sheet.held(Comparison {
        what: "deviation".to_owned(),
        value: shown(near(&deviation), "%"),
        against: format!(
            "±{} for a wrench of {} 10 N·m",
            shown(near(&allowed), "%"),
            if small { "up to" } else { "more than" }
        ),
        verdict: judged.to_owned(),
    });
    if set < &greatest / Ratio::from_integer(BigInt::from(5)) {
        sheet.warn("below a fifth of its greatest torque no wrench is checked: the limits do not hold there");
    }
    sheet.gives("deviation", near(&deviation));
    sheet.gives("allowed", near(&allowed));
    sheet.gives_word("judged", judged);
    Ok(sheet)
}
