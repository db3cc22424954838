//! Acceleration head: what it costs to set the liquid in the suction line going at every stroke.
//!
//! A rule for short stiff lines. How long columns swing, and what a hose gives, is not in it.

use std::fmt;

use crate::calc::atmosphere::STANDARD_GRAVITY;
use crate::calc::bounds::{Bounds, Outside, Spread};
use crate::calc::declare::{Calculation, Held, Input, Output};
use crate::calc::figure::{digits, shown};
use crate::calc::friction::LENGTH;
use crate::calc::perform::Known;
use crate::calc::refusal::CalcRefusal;
use crate::calc::working::Sheet;
use crate::units::Dimension;

/// Length of line from which the rule is doubtful, in metres. From memory.
pub const SHORT_LINE_MAX_M: f64 = 15.0;

/// How a reciprocating pump is built, as far as the flow in its suction line tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PumpType {
    /// One cylinder, one side.
    SimplexSingle,
    /// One cylinder, both sides.
    SimplexDouble,
    /// Two cylinders, one side each.
    DuplexSingle,
    /// Two cylinders, both sides each.
    DuplexDouble,
    /// Three cylinders.
    Triplex,
    /// Five cylinders.
    Quintuplex,
    /// Seven cylinders.
    Septuplex,
    /// Nine cylinders.
    Nonuplex,
}

impl PumpType {
    /// All types with a constant.
    pub const ALL: [Self; 8] = [
        Self::SimplexSingle,
        Self::SimplexDouble,
        Self::DuplexSingle,
        Self::DuplexDouble,
        Self::Triplex,
        Self::Quintuplex,
        Self::Septuplex,
        Self::Nonuplex,
    ];

    /// The constant C of the rule. From memory; crank kinematics at a crank of a fifth of the rod give
    /// the same within 1.3 %.
    pub const fn c(self) -> f64 {
        match self {
            Self::SimplexSingle => 0.4,
            Self::SimplexDouble | Self::DuplexSingle => 0.2,
            Self::DuplexDouble => 0.115,
            Self::Triplex => 0.066,
            Self::Quintuplex => 0.04,
            Self::Septuplex => 0.028,
            Self::Nonuplex => 0.022,
        }
    }

    /// What it is called.
    pub const fn words(self) -> &'static str {
        match self {
            Self::SimplexSingle => "simplex single-acting",
            Self::SimplexDouble => "simplex double-acting",
            Self::DuplexSingle => "duplex single-acting",
            Self::DuplexDouble => "duplex double-acting",
            Self::Triplex => "triplex",
            Self::Quintuplex => "quintuplex",
            Self::Septuplex => "septuplex",
            Self::Nonuplex => "nonuplex",
        }
    }
}

impl fmt::Display for PumpType {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

/// How much a liquid gives under pressure, as the rule has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Give {
    /// Hardly: deaerated water.
    Hardly,
    /// Little: water, amine, glycol.
    Little,
    /// Somewhat: most hydrocarbons.
    Somewhat,
    /// Much: hot oil, ethane.
    Much,
}

impl Give {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Hardly, Self::Little, Self::Somewhat, Self::Much];

    /// The constant k of the rule. From memory, and nothing else was found to support it.
    pub const fn k(self) -> f64 {
        match self {
            Self::Hardly => 1.4,
            Self::Little => 1.5,
            Self::Somewhat => 2.0,
            Self::Much => 2.5,
        }
    }

    /// The liquids that are so.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hardly => "deaerated water",
            Self::Little => "water, amine or glycol",
            Self::Somewhat => "most hydrocarbons",
            Self::Much => "hot oil or ethane",
        }
    }
}

/// What the rule is fed with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// The length of the line whose liquid is moved, in metres.
    pub length: f64,
    /// The mean velocity in it, in m/s.
    pub velocity: f64,
    /// The speed of the pump's crank, in revolutions a minute.
    pub speed: f64,
    /// The acceleration of free fall, in m/s².
    pub gravity: f64,
}

impl Column {
    fn checked(self) -> Result<Self, Outside> {
        let not_negative = Bounds {
            what: "the length of the line",
            low: 0.0,
            high: 1e5,
            unit: "m",
            because: "no line is shorter than nothing",
        };
        not_negative.take(self.length)?;
        Bounds { what: "the velocity in the line", unit: "m/s", high: 100.0, ..not_negative }
            .take(self.velocity)?;
        Bounds { what: "the speed of the pump", unit: "rev/min", ..not_negative }
            .take(self.speed)?;
        Bounds {
            what: "the acceleration of free fall",
            low: 9.7,
            high: 9.9,
            unit: "m/s²",
            because: "it is so everywhere on the ground",
        }
        .take(self.gravity)?;
        Ok(self)
    }
}

/// The acceleration head of a reciprocating pump without a stabiliser, in metres of the liquid.
///
/// Formula: `h = L·v·n·C/(k·g)`, L in m, v in m/s, n in rev/min, g in m/s². The rule is attributed to the
/// reciprocating-pump standard of the Hydraulic Institute (ANSI/HI 6.1-6.5); it and C and k are from
/// memory. For short stiff lines.
pub fn acceleration_head(column: Column, pump: PumpType, give: Give) -> Result<f64, Outside> {
    let Column { length, velocity, speed, gravity } = column.checked()?;
    Ok(length * velocity * speed * pump.c() / (give.k() * gravity))
}

/// The greatest acceleration head of one plunger that moves as a sine, in metres of the liquid.
///
/// Formula: `h = (L/g)·(A/a)·ω²·r`, the plunger's area over the pipe's, ω from the speed, r the crank.
/// The textbooks' case of a rigid column and an endless rod; the rule above is for what is built.
pub fn harmonic_head(
    length: f64,
    area_ratio: f64,
    crank: f64,
    speed: f64,
    gravity: f64,
) -> Result<f64, Outside> {
    Column { length, velocity: 0.0, speed, gravity }.checked()?;
    let positive = Bounds {
        what: "the plunger's area over the pipe's",
        low: 0.0,
        high: 1e4,
        unit: "",
        because: "it cannot be less than nothing",
    };
    let ratio = positive.take(area_ratio)?;
    let crank = Bounds { what: "the radius of the crank", high: 10.0, unit: "m", ..positive }
        .take(crank)?;
    let omega = speed * std::f64::consts::PI / 30.0;
    Ok(length / gravity * ratio * omega * omega * crank)
}

/// The words for [`Give`], in its order.
pub(super) const LIQUIDS: &[&str] = &["deaerated_water", "water", "hydrocarbon", "hot_oil"];

pub(super) const CYLINDERS: Input = Input::count("cylinders", "", "cylinders of the pump")
    .from_to("1", "9", "the rule has no C for more")
    .weightless();
pub(super) const ACTING: Input =
    Input::word("acting", "sides of the piston that press", &["single", "double"]).or("single");
pub(super) const LIQUID: Input = Input::word("liquid", "how much the liquid gives", LIQUIDS);
pub(super) const SPEED: Input =
    Input::figure("speed", "n", "speed of the crank", (Dimension::Rotation, "rev/min")).from_to(
        "0 rev/min",
        "5000 rev/min",
        "no such pump turns faster, and none backwards",
    );

/// The pump that is meant; `None` where no cylinders are given.
pub(super) fn pump(known: &Known<'_>) -> Result<Option<PumpType>, CalcRefusal> {
    if !known.has("cylinders") {
        return Ok(None);
    }
    let (cylinders, acting) = (known.count("cylinders")?, known.word("acting"));
    Ok(Some(match (cylinders, acting) {
        (1, "double") => PumpType::SimplexDouble,
        (1, _) => PumpType::SimplexSingle,
        (2, "double") => PumpType::DuplexDouble,
        (2, _) => PumpType::DuplexSingle,
        (3, "single") => PumpType::Triplex,
        (5, "single") => PumpType::Quintuplex,
        (7, "single") => PumpType::Septuplex,
        (9, "single") => PumpType::Nonuplex,
        _ => {
            return Err(CalcRefusal::Impossible(format!(
                "the rule has no C for {cylinders} {acting}-acting cylinders: it has one for 1 and 2 of either kind, \
                 and for 3, 5, 7 and 9 single-acting ones; measure at the inlet"
            )));
        }
    }))
}

/// How much the liquid gives that a word stands for.
pub(super) fn give(known: &Known<'_>) -> Option<Give> {
    let word = known.word("liquid");
    LIQUIDS.iter().zip(Give::ALL).find(|(name, _)| **name == word).map(|(_, give)| give)
}

/// The figures of the rule, as they stand in a line.
pub(super) fn figures(column: Column, pump: PumpType, give: Give) -> String {
    let Column { length, velocity, speed, gravity } = column;
    format!(
        "{} · {} · {} rev/min · {} / ({} · {}); C of a {pump} pump, k of {}",
        shown(length, "m"),
        shown(velocity, "m/s"),
        digits(speed, 5),
        pump.c(),
        give.k(),
        digits(gravity, 6),
        give.words()
    )
}

pub(super) const FORMULA: &str = "h_acc = L·v·n·C/(k·g)";
pub(super) const STIFF: &str = "the acceleration head is for short stiff lines without a stabiliser: a hose, or more than 15 m of \
    line (from memory), is warned of";
pub(super) const SOURCE: &str = "the rule h = L·v·n·C/(k·g) is attributed to the reciprocating-pump standard of the Hydraulic Institute \
    (ANSI/HI 6.1-6.5); rule, C and k are from memory. The motion of the crank gives the same C within 1.3 %; nothing was \
    found that supports the k";
pub(super) const CONSTANTS: &str = "the constants C and k of the acceleration head are from memory; C is borne out by the motion of the \
    crank within 1.3 %, k by nothing";
pub(super) const LONG_LINE: &str = "the acceleration head is reckoned for short lines: this one is longer than 15 m, pressure waves run \
    in it, and the figure may be far off; measure at the inlet, or fit a stabiliser";

/// What it costs to get the liquid of the suction line going at every stroke.
///
/// `h_acc = L·v·n·C/(k·g)`. L in m, v in m/s, n in rev/min, h in metres of the liquid. For short stiff lines without a
/// stabiliser; warns from 15 m. Source: attributed to ANSI/HI 6.1-6.5; rule, C and k from memory.
pub static ACCELERATION_HEAD: Calculation = Calculation {
    name: "acceleration_head",
    title: "what it costs to get the suction line's liquid going at every stroke",
    formulas: &[FORMULA],
    symbols: &[
        ("h_acc", "acceleration head, in metres of the liquid"),
        (
            "C",
            "by cylinders: one 0.4, two 0.2, three 0.066, five 0.04, seven 0.028, nine 0.022; double-acting: one 0.2, two \
            0.115",
        ),
        (
            "k",
            "by liquid: deaerated water 1.4; water, amine, glycol 1.5; most hydrocarbons 2; hot oil, ethane 2.5",
        ),
        ("g", "9.80665 m/s²; on the ground it is within 0.3 % of that"),
    ],
    valid: &["short stiff lines without a stabiliser; with one, the line from the pump to it"],
    warnings: &[STIFF, CONSTANTS],
    sources: &[SOURCE],
    inputs: &[
        LENGTH,
        Input::figure(
            "velocity",
            "v",
            "mean velocity in the line, as `pipe_loss` gives it",
            (Dimension::Speed, "m/s"),
        )
        .from_to("0 m/s", "20 m/s", "no suction line is run so fast; look at the unit"),
        SPEED,
        CYLINDERS,
        ACTING,
        LIQUID,
    ],
    outputs: &[Output::figure("head", "acceleration head", (Dimension::Length, "m"))],
    held: Some(Held { at_least: "head", at_most: "head" }),
    example: &[
        ("length", "6 m"),
        ("velocity", "1 m/s"),
        ("speed", "300 rev/min"),
        ("cylinders", "3"),
        ("liquid", "water"),
    ],
    run: run_acceleration_head,
};

fn run_acceleration_head(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let pump = pump(known)?.ok_or_else(|| known.missing("cylinders"))?;
    let give = give(known).ok_or_else(|| known.missing("liquid"))?;
    let column = Column {
        length: known.figure("length")?,
        velocity: known.figure("velocity")?,
        speed: turns_a_minute(known).map_or(0.0, |speed| speed.high),
        gravity: STANDARD_GRAVITY,
    };
    let head = acceleration_head(column, pump, give)?;
    let mut sheet = Sheet::new();
    sheet.line("acceleration head", FORMULA, figures(column, pump, give), shown(head, "m"));
    sheet.warn(CONSTANTS);
    if column.length > SHORT_LINE_MAX_M {
        sheet.warn(LONG_LINE);
    }
    sheet.gives("head", head);
    Ok(sheet)
}

/// The speed in turns a minute, as the rule has it; a table of turns holds turns a second.
pub(super) fn turns_a_minute(known: &Known<'_>) -> Option<Spread> {
    known.spread_in("speed", 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_head_falls_with_more_cylinders_and_softer_liquids() {
        let column = Column { length: 6.0, velocity: 1.0, speed: 300.0, gravity: 9.806_65 };
        let head = |pump, give| acceleration_head(column, pump, give).expect("within");
        for (more, fewer) in [
            (PumpType::Triplex, PumpType::DuplexSingle),
            (PumpType::Quintuplex, PumpType::Triplex),
            (PumpType::Nonuplex, PumpType::Septuplex),
        ] {
            assert!(head(more, Give::Little) < head(fewer, Give::Little));
        }
        assert!(head(PumpType::Triplex, Give::Much) < head(PumpType::Triplex, Give::Hardly));
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let column = Column { length: 6.0, velocity: 1.0, speed: 300.0, gravity: 9.806_65 };
        for bad in [
            Column { length: -1.0, ..column },
            Column { velocity: f64::NAN, ..column },
            Column { speed: f64::INFINITY, ..column },
            Column { gravity: 0.0, ..column },
        ] {
            assert!(acceleration_head(bad, PumpType::Triplex, Give::Little).is_err(), "{bad:?}");
        }
        assert!(harmonic_head(5.0, -4.0, 0.2, 30.0, 9.81).is_err());
    }
}
