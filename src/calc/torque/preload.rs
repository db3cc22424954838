//! Torque and preload, either way, with the scatter that hand torque has.

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::{digits, shown};
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::Sheet;
use super::thread::{DIAMETER, PITCH, Thread, taken};
use super::{KILONEWTON, MM, NEWTON_METRE, NUMBER, SHARE};

/// Friction of a joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// In the thread.
    pub thread: f64,
    /// Under the head or nut.
    pub head: f64,
    /// Mean diameter of the face under the head or nut, m.
    pub head_diameter: f64,
}

/// Torque for each newton of preload, in its three parts, in metres: the pitch P/2π, the thread
/// d2·μ/(2·cos 30°), the head Dk·μ/2. Their sum over d is the nut factor.
///
/// Source: the long form of Motosh and VDI 2230, from memory; it agrees with a published table within 1 %.
pub fn nut_factor_parts(thread: &Thread, friction: Friction) -> [f64; 3] {
    let cos30 = libm::sqrt(3.0) / 2.0;
    [
        thread.pitch / std::f64::consts::TAU,
        thread.pitch_diameter() * friction.thread / (2.0 * cos30),
        friction.head_diameter * friction.head / 2.0,
    ]
}

/// Torque for each newton of preload with the helix taken as it is, in metres:
/// d2/2·(tan φ + μ')/(1 − μ'·tan φ) + Dk·μ/2, μ' = μ/cos 30°. The parts above leave the products out;
/// for common threads the two agree within 0.6 %.
pub fn exact_helix_factor(d2: f64, pitch: f64, friction: Friction) -> f64 {
    let rub = friction.thread / (libm::sqrt(3.0) / 2.0);
    let rise = pitch / (std::f64::consts::PI * d2);
    d2 / 2.0 * (rise + rub) / (1.0 - rub * rise) + friction.head_diameter * friction.head / 2.0
}

const FACTOR: Input = Input::figure("nut_factor", "K", "nut factor", NUMBER)
    .from_to("0.02", "1", "no joint turns easier or harder")
    .optional("then give `pitch`, both frictions and `head_diameter`");
const THREAD_FRICTION: Input =
    Input::figure("thread_friction", "μG", "friction in the thread", NUMBER)
        .from_to("0", "0.6", "metal on metal has no more")
        .optional("then give `nut_factor`");
const HEAD_FRICTION: Input =
    Input::figure("head_friction", "μK", "friction under the head or nut that is turned", NUMBER)
        .from_to("0", "0.6", "metal on metal has no more")
        .optional("then give `nut_factor`");
const HEAD_DIAMETER: Input = Input::figure(
    "head_diameter",
    "Dk",
    "mean diameter of the face under it: half of (outside + hole)",
    MM,
)
.from_to("1 mm", "600 mm", "no head is smaller or larger; look at the unit")
.optional("then give `nut_factor`");
const SCATTER: Input = Input::figure("scatter", "s", "scatter of the preload, either way", SHARE)
    .from_to("0 %", "90 %", "with more there is no telling")
    .or("30 %");

const FORMULAS: &[&str] = &[
    "T = K·d·F, or with the thread known",
    "T = F·(P/(2π) + d2·μG/(2·cos 30°) + Dk·μK/2), K = T/(F·d)",
    "the same torque gives from (1 − s)·F to (1 + s)·F",
];
const VALID: &[&str] = &[
    "metric threads of 60°, tightened by hand with a torque wrench, the same side turned as the friction is for",
    "below yield: a bolt that stretches for good follows no formula",
];
const WARNINGS: &[&str] = &[
    "hand torque scatters by ±25 to 30 % with all done right; dirty, dry or used threads by more",
    "most of the torque goes into friction: 10 to 15 % is all that stretches the bolt",
    "K is about 0.2 for dry steel as delivered, 0.15 lightly oiled, 0.12 with paste: guesses, the maker's \
     figures hold",
];
const SOURCES: &[&str] = &[
    "short form: any textbook; long form: Motosh and VDI 2230, from memory, agrees with a public reprint of its \
     fine-thread table within 1 %",
    "±25 to 30 % by hand torque: common practice, no source; the K above: from memory",
];

/// What torque a preload asks for, and the range that it really gives.
///
/// T = K·d·F, or the long form with thread and friction; lengths in mm, F in kN, T in N·m; range
/// (1 ± s)·F. Sources: textbooks, VDI 2230 from memory.
pub static TORQUE_FROM_PRELOAD: Calculation = Calculation {
    name: "torque_from_preload",
    title: "what torque a preload asks for, and the range of preload that this torque really gives",
    formulas: FORMULAS,
    symbols: &[("d2", "pitch diameter, see `thread`")],
    valid: VALID,
    warnings: WARNINGS,
    sources: SOURCES,
    inputs: &[
        Input::figure("preload", "F", "preload that is wanted", KILONEWTON).from_to(
            "0 kN",
            "20000 kN",
            "no bolt bears more, and a bolt does not push; look at the unit",
        ),
        DIAMETER,
        FACTOR,
        PITCH.optional("then give `nut_factor`"),
        THREAD_FRICTION,
        HEAD_FRICTION,
        HEAD_DIAMETER,
        SCATTER,
    ],
    outputs: &[
        Output::figure("torque", "torque to tighten with", NEWTON_METRE),
        Output::figure("preload_least", "least preload that it may give", KILONEWTON),
        Output::figure("preload_greatest", "greatest preload that it may give", KILONEWTON),
        Output::figure("nut_factor", "nut factor", NUMBER),
        Output::figure("torque_pitch", "part that stretches the bolt", NEWTON_METRE)
            .unless("with `nut_factor`"),
        Output::figure("torque_thread", "part lost in the thread", NEWTON_METRE)
            .unless("with `nut_factor`"),
        Output::figure("torque_head", "part lost under the head", NEWTON_METRE)
            .unless("with `nut_factor`"),
    ],
    held: Some(Held { at_least: "preload_least", at_most: "preload_greatest" }),
    example: &[
        ("preload", "39.9 kN"),
        ("diameter", "12 mm"),
        ("pitch", "1.75 mm"),
        ("thread_friction", "0.12"),
        ("head_friction", "0.12"),
        ("head_diameter", "15.1 mm"),
    ],
    run: torque_from_preload,
};

/// What preload a torque gives, as a range.
///
/// F = T/(K·d), or the long form with thread and friction; range (1 ± s)·F. Lengths in mm, T in N·m, F in
/// kN. Sources: textbooks, VDI 2230 from memory.
pub static PRELOAD_FROM_TORQUE: Calculation = Calculation {
    name: "preload_from_torque",
    title: "what preload a torque gives, as the range that hand torque has",
    formulas: FORMULAS,
    symbols: &[("d2", "pitch diameter, see `thread`")],
    valid: VALID,
    warnings: WARNINGS,
    sources: SOURCES,
    inputs: &[
        Input::figure("torque", "T", "torque that it is tightened with", NEWTON_METRE).from_to(
            "0 N·m",
            "100000 N·m",
            "no wrench gives more; look at the unit",
        ),
        DIAMETER,
        FACTOR,
        PITCH.optional("then give `nut_factor`"),
        THREAD_FRICTION,
        HEAD_FRICTION,
        HEAD_DIAMETER,
        SCATTER,
    ],
    outputs: &[
        Output::figure("preload", "preload in the middle of the range", KILONEWTON),
        Output::figure("preload_least", "least preload", KILONEWTON),
        Output::figure("preload_greatest", "greatest preload", KILONEWTON),
        Output::figure("nut_factor", "nut factor", NUMBER),
    ],
    held: Some(Held { at_least: "preload_least", at_most: "preload_greatest" }),
    example: &[("torque", "80 N·m"), ("diameter", "12 mm"), ("nut_factor", "0.16")],
    run: preload_from_torque,
};

/// The nut factor, as given or worked out on the sheet, with its parts in metres.
fn factor(known: &Known<'_>, sheet: &mut Sheet) -> Result<(f64, Option<[f64; 3]>), CalcRefusal> {
    let long = ["pitch", "thread_friction", "head_friction", "head_diameter"];
    let has = long.map(|name| known.has(name));
    match (known.maybe("nut_factor"), has) {
        (Some(factor), [false, false, false, false]) => Ok((factor, None)),
        (None, [true, true, true, true]) => {
            let thread = taken(known)?;
            let friction = Friction {
                thread: known.figure("thread_friction")?,
                head: known.figure("head_friction")?,
                head_diameter: known.figure("head_diameter")?,
            };
            if friction.head_diameter < thread.diameter {
                return Err(CalcRefusal::Impossible(format!(
                    "`head_diameter` is {}, less than the thread of {}: the face lies outside of the hole; it is \
                     half of (outside + hole)",
                    known.shown("head_diameter"),
                    known.shown("diameter")
                )));
            }
            let parts = nut_factor_parts(&thread, friction);
            let factor = parts.iter().sum::<f64>() / thread.diameter;
            let d2 = shown(thread.pitch_diameter(), "mm");
            let (pitch, d) = (known.shown("pitch"), known.shown("diameter"));
            let h = shown(thread.height(), "mm");
            let figures = format!("{d} − 3/4 · {h}, with H = √3/2 · {pitch}");
            sheet.line("pitch diameter", "d2 = d − 3/4·H", figures, d2.clone());
            sheet.line(
                "nut factor",
                "K = (P/(2π) + d2·μG/(2·cos 30°) + Dk·μK/2)/d",
                format!(
                    "({pitch}/(2π) + {d2} · {}/(2·cos 30°) + {} · {}/2) / {d}",
                    known.shown("thread_friction"),
                    known.shown("head_diameter"),
                    known.shown("head_friction")
                ),
                digits(factor, 5),
            );
            Ok((factor, Some(parts)))
        }
        _ => {
            let text = "say how much of the torque is lost: either the `nut_factor`, or `pitch`, \
                        `thread_friction`, `head_friction` and `head_diameter`, and not both";
            Err(CalcRefusal::Together(text.to_owned()))
        }
    }
}

/// Writes the range about a preload, and gives its ends.
fn range(known: &Known<'_>, sheet: &mut Sheet, preload: f64) -> Result<(), CalcRefusal> {
    let scatter = known.figure("scatter")?;
    let (least, greatest) = (preload * (1.0 - scatter), preload * (1.0 + scatter));
    sheet.line(
        "range of the preload",
        "(1 − s)·F to (1 + s)·F",
        format!("{} ± {}", shown(preload, "kN"), known.shown("scatter")),
        format!("{} to {}", shown(least, "kN"), shown(greatest, "kN")),
    );
    if scatter < 0.25 {
        sheet.warn("hand torque scatters by 25 to 30 %: less must be shown, not hoped for");
    }
    sheet.gives("preload_least", least);
    sheet.gives("preload_greatest", greatest);
    Ok(())
}

fn torque_from_preload(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let (preload, diameter) = (known.figure("preload")?, known.figure("diameter")?);
    let (factor, parts) = factor(known, &mut sheet)?;
    let torque = match parts {
        Some(parts) => preload * parts.iter().sum::<f64>(),
        None => factor * diameter * preload,
    };
    let figures =
        format!("{} · {} · {}", digits(factor, 5), known.shown("diameter"), known.shown("preload"));
    sheet.line("torque", "T = K·d·F", figures, shown(torque, "N·m"));
    if let Some(parts) = parts {
        let [pitch, thread, head] = parts.map(|part| preload * part);
        sheet.line(
            "where it goes",
            "F·P/(2π), F·d2·μG/(2·cos 30°), F·Dk·μK/2",
            "",
            format!(
                "{} stretch the bolt, {} rub in the thread, {} under the head",
                shown(pitch, "N·m"),
                shown(thread, "N·m"),
                shown(head, "N·m")
            ),
        );
        sheet.gives("torque_pitch", pitch);
        sheet.gives("torque_thread", thread);
        sheet.gives("torque_head", head);
    }
    range(known, &mut sheet, preload)?;
    sheet.gives("torque", torque);
    sheet.gives("nut_factor", factor);
    Ok(sheet)
}

fn preload_from_torque(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let (torque, diameter) = (known.figure("torque")?, known.figure("diameter")?);
    let (factor, _) = factor(known, &mut sheet)?;
    let preload = torque / (factor * diameter);
    let figures = format!(
        "{} / ({} · {})",
        known.shown("torque"),
        digits(factor, 5),
        known.shown("diameter")
    );
    sheet.line("preload", "F = T/(K·d)", figures, shown(preload, "kN"));
    range(known, &mut sheet, preload)?;
    sheet.gives("preload", preload);
    sheet.gives("nut_factor", factor);
    Ok(sheet)
}
