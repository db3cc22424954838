//! Coil springs: rate, load at a length, load lost to a short free length.

use super::declare::{Calculation, Held, Input, Output};
use super::figure::{digits, shown};
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

/// A helical compression spring of round wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// Diameter of the wire, m.
    pub wire: f64,
    /// Mean diameter of the coil, m.
    pub mean: f64,
    /// Coils that work.
    pub coils: f64,
    /// Shear modulus of the wire, Pa.
    pub modulus: f64,
}

impl Coil {
    /// The rate R = G·d⁴/(8·D³·n), N/m.
    ///
    /// Source: the form of EN 13906-1 (from memory), which the twist of the wire gives when it is
    /// integrated. Valid for round wire and a spring index D/d of 4 and more.
    pub fn rate(&self) -> f64 {
        let Self { wire, mean, coils, modulus } = *self;
        modulus * libm::pow(wire, 4.0) / (8.0 * libm::pow(mean, 3.0) * coils)
    }

    /// The spring index C = D/d.
    pub fn index(&self) -> f64 {
        self.mean / self.wire
    }

    /// Wahl's factor for the shear at the inside of the coil: (4C − 1)/(4C − 4) + 0.615/C.
    pub fn wahl(&self) -> f64 {
        let c = self.index();
        (4.0 * c - 1.0) / (4.0 * c - 4.0) + 0.615 / c
    }

    /// Bergsträsser's factor for the same: (4C + 2)/(4C − 3).
    pub fn bergstraesser(&self) -> f64 {
        let c = self.index();
        (4.0 * c + 2.0) / (4.0 * c - 3.0)
    }

    /// The shear in the wire under `force`, without a factor: 8·F·D/(π·d³), Pa.
    pub fn shear(&self, force: f64) -> f64 {
        8.0 * force * self.mean / (std::f64::consts::PI * libm::pow(self.wire, 3.0))
    }
}

const MM: (Dimension, &str) = (Dimension::Length, "mm");
const RATE: (Dimension, &str) = (Dimension::SpringRate, "N/mm");
const NEWTON: (Dimension, &str) = (Dimension::Force, "N");
const STRESS: (Dimension, &str) = (Dimension::PressureDifference, "N/mm²");

const WIRE: Input = Input::figure("wire", "d", "diameter of the wire", MM).from_to(
    "0.05 mm",
    "100 mm",
    "springs are not wound of other wire; look at the unit",
);
const MEAN: Input =
    Input::figure("mean_diameter", "D", "mean diameter of the coil: outside less one wire", MM)
        .from_to("0.1 mm", "2000 mm", "springs are not wound otherwise; look at the unit");
const COILS: Input = Input::figure(
    "coils",
    "n",
    "coils that work: with closed ends two fewer than counted",
    (Dimension::Number, ""),
)
.from_to("0.5", "500", "fewer or more do not make a spring");
const MODULUS: Input = Input::figure("shear_modulus", "G", "shear modulus of the wire", STRESS)
    .from_to("10000 N/mm²", "120000 N/mm²", "no spring wire lies outside of it")
    .or("79500 N/mm²");

const FREE: Input = Input::figure("free_length", "L0", "free length as measured", MM).from_to(
    "0.5 mm",
    "5000 mm",
    "longer and shorter springs are not meant; look at the unit",
);
const LENGTH: Input = Input::figure("working_length", "L", "length that it works at", MM).from_to(
    "0.5 mm",
    "5000 mm",
    "longer and shorter springs are not meant; look at the unit",
);
const STIFFNESS: Input = Input::figure("rate", "R", "spring rate", RATE).from_to(
    "0.0001 N/mm",
    "100000 N/mm",
    "no coil spring is softer or stiffer; look at the unit",
);

const EN: &str = "R = G·d⁴/(8·D³·n): the form of EN 13906-1, from memory; integrating the twist of the \
                  wire gives the same";

/// How stiff a coil spring is, from its wire, diameter and coils.
///
/// R = G·d⁴/(8·D³·n) with G in N/mm², d and D in mm: R in N/mm. C = D/d from 4 to 16 usual; refused
/// below 1.5. With a load: the deflection F/R and the shear 8·F·D/(π·d³), times Wahl's or
/// Bergsträsser's factor. Source: the form of EN 13906-1, from memory.
pub static SPRING_RATE: Calculation = Calculation {
    name: "spring_rate",
    title: "how stiff a coil spring is, from its wire, diameter and coils",
    formulas: &[
        "R = G·d⁴/(8·D³·n)",
        "C = D/d; with a load F: s = F/R, τ = 8·F·D/(π·d³)",
        "at the inside of the coil: τ·(4C + 2)/(4C − 3) after Bergsträsser, τ·((4C − 1)/(4C − 4) + 0.615/C) after Wahl",
    ],
    symbols: &[
        ("R", "spring rate, N/mm"),
        ("C", "spring index, a number"),
        ("s", "deflection under the load, mm"),
        ("τ", "shear in the wire, N/mm²"),
    ],
    valid: &[
        "compression springs of round wire, all coils alike, index C of 1.5 and more",
        "the load within what the coils allow: coils that touch are not seen",
    ],
    warnings: &[
        "an index below 4 or above 16 is unusual: look at the diameters",
        "the wire enters with its fourth power: measure it where it is not worn",
        "the modulus is that of steel spring wire where none is given: stainless, bronze and nickel alloys are softer",
    ],
    sources: &[
        EN,
        "Wahl's and Bergsträsser's factors: common textbooks",
        "79 500 N/mm² for steel wire: common practice, no source",
    ],
    inputs: &[
        WIRE,
        MEAN,
        COILS,
        MODULUS,
        Input::figure("load", "F", "load on the spring", NEWTON)
            .from_to("0 N", "1000000 N", "a compression spring takes no pull; look at the unit")
            .optional("no deflection and no stress come out"),
    ],
    outputs: &[
        Output::figure("rate", "spring rate", RATE),
        Output::figure("index", "spring index", (Dimension::Number, "")),
        Output::figure("deflection", "deflection under the load", MM).unless("without a load"),
        Output::figure("shear", "shear in the wire, no factor", STRESS).unless("without a load"),
        Output::figure("shear_bergstraesser", "shear at the inside, Bergsträsser", STRESS)
            .unless("without a load"),
        Output::figure("shear_wahl", "shear at the inside, Wahl", STRESS).unless("without a load"),
    ],
    held: Some(Held { at_least: "rate", at_most: "rate" }),
    example: &[
        ("wire", "4 mm"),
        ("mean_diameter", "32 mm"),
        ("coils", "6.5"),
        ("shear_modulus", "79500 N/mm²"),
        ("load", "150 N"),
    ],
    run: spring_rate,
};

fn spring_rate(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let coil = Coil {
        wire: known.figure("wire")?,
        mean: known.figure("mean_diameter")?,
        coils: known.figure("coils")?,
        modulus: known.figure("shear_modulus")?,
    };
    let index = coil.index();
    if index < 1.5 {
        return Err(CalcRefusal::Impossible(format!(
            "`mean_diameter` is {} of a wire of {}: an index of {}; below 1.5 no coil can be wound. The mean \
             diameter is the outside diameter less one wire",
            known.shown("mean_diameter"),
            known.shown("wire"),
            digits(index, 3)
        )));
    }
    let mut sheet = Sheet::new();
    let (wire, mean) = (known.shown("wire"), known.shown("mean_diameter"));
    let rate = coil.rate();
    sheet.line(
        "spring rate",
        "R = G·d⁴/(8·D³·n)",
        format!(
            "{} · ({wire})⁴ / (8 · ({mean})³ · {})",
            known.shown("shear_modulus"),
            known.shown("coils")
        ),
        shown(rate, "N/mm"),
    );
    sheet.line("spring index", "C = D/d", format!("{mean} / {wire}"), digits(index, 4));
    sheet.gives("rate", rate);
    sheet.gives("index", index);
    if let Some(load) = known.maybe("load") {
        stresses(&mut sheet, &coil, load);
    }
    if !(4.0..=16.0).contains(&index) {
        sheet.warn(format!(
            "the index {} lies outside of 4 to 16, which is unusual: look at the diameters",
            digits(index, 3)
        ));
    }
    Ok(sheet)
}

fn stresses(sheet: &mut Sheet, coil: &Coil, load: f64) {
    let (rate, shear) = (coil.rate(), coil.shear(load));
    let (bergstraesser, wahl) = (coil.bergstraesser(), coil.wahl());
    let force = shown(load, "N");
    sheet.line(
        "deflection",
        "s = F/R",
        format!("{force} / {}", shown(rate, "N/mm")),
        shown(load / rate, "mm"),
    );
    sheet.line(
        "shear in the wire",
        "τ = 8·F·D/(π·d³)",
        format!("8 · {force} · {} / (π · ({})³)", shown(coil.mean, "mm"), shown(coil.wire, "mm")),
        shown(shear, "N/mm²"),
    );
    for (name, formula, factor) in [
        ("Bergsträsser", "τ·(4C + 2)/(4C − 3)", bergstraesser),
        ("Wahl", "τ·((4C − 1)/(4C − 4) + 0.615/C)", wahl),
    ] {
        sheet.line(
            format!("shear at the inside of the coil, {name}"),
            formula,
            format!("{} · {}", shown(shear, "N/mm²"), digits(factor, 5)),
            shown(shear * factor, "N/mm²"),
        );
    }
    sheet.gives("deflection", load / rate);
    sheet.gives("shear", shear);
    sheet.gives("shear_bergstraesser", shear * bergstraesser);
    sheet.gives("shear_wahl", shear * wahl);
}

/// The load of a coil spring at the length that it works at.
///
/// F = R·(L0 − L) with R in N/mm, L0 and L in mm: F in N. Refused when L is more than L0. Source:
/// Hooke's law.
pub static SPRING_LOAD: Calculation = Calculation {
    name: "spring_load",
    title: "with what load a coil spring presses at the length that it works at",
    formulas: &["F = R·(L0 − L)"],
    symbols: &[("F", "load, N")],
    valid: &[
        "a compression spring with an even rate, between its free length and coils that touch",
    ],
    warnings: &["the rate of a conical or unevenly wound spring changes with its length"],
    sources: &["Hooke's law"],
    inputs: &[STIFFNESS, FREE, LENGTH],
    outputs: &[
        Output::figure("load", "load at the working length", NEWTON),
        Output::figure("deflection", "how far it is compressed", MM),
    ],
    held: Some(Held { at_least: "load", at_most: "load" }),
    example: &[
        ("rate", "11.9 N/mm"),
        ("free_length", "59.2 mm"),
        ("working_length", "45 mm"),
        ("at_least", "165 N"),
    ],
    run: spring_load,
};

fn spring_load(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (rate, free, length) =
        (known.figure("rate")?, known.figure("free_length")?, known.figure("working_length")?);
    let deflection = compressed(known, "free_length", free, length)?;
    let mut sheet = Sheet::new();
    sheet.line(
        "compressed by",
        "s = L0 − L",
        format!("{} − {}", known.shown("free_length"), known.shown("working_length")),
        shown(deflection, "mm"),
    );
    sheet.line(
        "load at the working length",
        "F = R·(L0 − L)",
        format!("{} · {}", known.shown("rate"), shown(deflection, "mm")),
        shown(rate * deflection, "N"),
    );
    if deflection <= 0.0 {
        sheet.warn("at its free length a spring does not press at all");
    }
    sheet.gives("load", rate * deflection);
    sheet.gives("deflection", deflection);
    Ok(sheet)
}

/// L0 − L, refused where the spring would be loose.
fn compressed(known: &Known<'_>, name: &str, free: f64, length: f64) -> Result<f64, CalcRefusal> {
    if length > free {
        return Err(CalcRefusal::Impossible(format!(
            "`working_length` is {}, longer than `{name}` of {}: the spring would be loose and press with \
             nothing; a working length is at most the free length",
            known.shown("working_length"),
            known.shown(name)
        )));
    }
    Ok(free - length)
}

/// What a spring has lost by growing short.
///
/// ΔF = R·(L0 new − L0), as a share of R·(L0 new − L). R in N/mm, lengths in mm. Source: Hooke's law;
/// the rate of a spring that has set stays what it was.
pub static SPRING_LOAD_LOST: Calculation = Calculation {
    name: "spring_load_lost",
    title: "what load a coil spring has lost by growing short",
    formulas: &[
        "F new = R·(L0 new − L), F now = R·(L0 − L)",
        "lost = F new − F now, as a share (L0 new − L0)/(L0 new − L)",
    ],
    symbols: &[("F", "load at the working length, N")],
    valid: &["a spring that has set and is otherwise whole: its rate is what it was"],
    warnings: &[
        "a cracked or corroded spring is replaced whatever its load",
        "the share lost does not hang on the rate, only the load does",
    ],
    sources: &["Hooke's law"],
    inputs: &[
        STIFFNESS,
        Input::figure("new_free_length", "L0 new", "free length of a new spring", MM).from_to(
            "0.5 mm",
            "5000 mm",
            "longer and shorter springs are not meant; look at the unit",
        ),
        FREE,
        LENGTH,
    ],
    outputs: &[
        Output::figure("lost_share", "load lost, of the new load", (Dimension::Number, "%")),
        Output::figure("lost", "load lost", NEWTON),
        Output::figure("load_now", "load that is left", NEWTON),
        Output::figure("load_new", "load of a new spring", NEWTON),
    ],
    held: Some(Held { at_least: "load_now", at_most: "lost_share" }),
    example: &[
        ("rate", "11.9 N/mm"),
        ("new_free_length", "60 mm"),
        ("free_length", "59 mm"),
        ("working_length", "45 mm"),
        ("at_most", "10 %"),
    ],
    run: spring_load_lost,
};

fn spring_load_lost(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (rate, new) = (known.figure("rate")?, known.figure("new_free_length")?);
    let (free, length) = (known.figure("free_length")?, known.figure("working_length")?);
    let (from_new, from_now) = (
        compressed(known, "new_free_length", new, length)?,
        compressed(known, "free_length", free, length)?,
    );
    if from_new <= 0.0 {
        return Err(CalcRefusal::Impossible(
            "a new spring would not press at this `working_length` either: there is no load to lose; look \
             at `new_free_length` and `working_length`"
                .to_owned(),
        ));
    }
    let (before, now) = (rate * from_new, rate * from_now);
    let (lost, share) = (rate * (new - free), (new - free) / from_new);
    let mut sheet = Sheet::new();
    let (r, l) = (known.shown("rate"), known.shown("working_length"));
    for (what, formula, name, load) in [
        ("load of a new spring", "F new = R·(L0 new − L)", "new_free_length", before),
        ("load that is left", "F now = R·(L0 − L)", "free_length", now),
    ] {
        let figures = format!("{r} · ({} − {l})", known.shown(name));
        sheet.line(what, formula, figures, shown(load, "N"));
    }
    let (new_text, now_text) = (shown(before, "N"), shown(now, "N"));
    let figures = format!("{new_text} − {now_text}");
    sheet.line("load lost", "F new − F now", figures, shown(lost, "N"));
    let figures = format!("{} / {new_text}", shown(lost, "N"));
    sheet.line("as a share of the new load", "lost/F new", figures, shown(share, "%"));
    if free > new {
        sheet.warn(
            "the spring is longer than a new one: nothing is lost; look whether it is the right spring",
        );
    }
    sheet.gives("lost_share", share);
    sheet.gives("lost", lost);
    sheet.gives("load_now", now);
    sheet.gives("load_new", before);
    Ok(sheet)
}
