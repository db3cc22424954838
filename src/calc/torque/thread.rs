//! The metric thread: its diameters, the area that bears, and the preload that it may carry.

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::shown;
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::Sheet;
use super::{KILONEWTON, MM, NUMBER, SHARE, STRESS};
use crate::units::Dimension;

/// A metric thread of the basic profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thread {
    /// Nominal diameter, m.
    pub diameter: f64,
    /// Pitch, m.
    pub pitch: f64,
}

impl Thread {
    /// The height of the fundamental triangle: H = √3/2·P.
    pub fn height(&self) -> f64 {
        libm::sqrt(3.0) / 2.0 * self.pitch
    }

    /// The pitch diameter: d2 = d − 3/4·H.
    pub fn pitch_diameter(&self) -> f64 {
        self.diameter - 0.75 * self.height()
    }

    /// The core diameter: d3 = d − 17/12·H.
    pub fn core_diameter(&self) -> f64 {
        self.diameter - 17.0 / 12.0 * self.height()
    }

    fn stress_diameter(&self) -> f64 {
        f64::midpoint(self.pitch_diameter(), self.core_diameter())
    }

    /// The stress area: As = π/4·((d2 + d3)/2)².
    pub fn stress_area(&self) -> f64 {
        let d = self.stress_diameter();
        std::f64::consts::FRAC_PI_4 * d * d
    }

    /// The preload at which tension and the torsion of tightening together use `share` of the yield
    /// strength: `share·Re·As/√(1 + 3·(3/2·d2/ds·(P/(π·d2) + 1.155·μ))²)`, ds = (d2 + d3)/2.
    ///
    /// Source: VDI 2230 (from memory); its fine-thread table agrees within 0.4 %.
    pub fn preload_with_torsion(&self, yield_strength: f64, share: f64, friction: f64) -> f64 {
        let d2 = self.pitch_diameter();
        let turn = self.pitch / (std::f64::consts::PI * d2) + 1.155 * friction;
        let torsion = 1.5 * d2 / self.stress_diameter() * turn;
        share * yield_strength * self.stress_area() / libm::sqrt(1.0 + 3.0 * torsion * torsion)
    }
}

pub(super) const DIAMETER: Input =
    Input::figure("diameter", "d", "nominal diameter of the thread", MM).from_to(
        "1 mm",
        "300 mm",
        "no bolt of a machine is thinner or thicker; look at the unit",
    );

pub(super) const PITCH: Input = Input::figure("pitch", "P", "pitch of the thread", MM).from_to(
    "0.2 mm",
    "8 mm",
    "no metric thread has another; look at the unit",
);

/// What a metric thread measures, and the preload that it may carry.
///
/// H = √3/2·P, d2 = d − 3/4·H, d3 = d − 17/12·H, As = π/4·((d2 + d3)/2)²; preload = share·Rp·As, and
/// with the torsion of tightening after VDI 2230. Lengths in mm, stresses in N/mm². Refused where the
/// pitch is more than a third of the diameter. Sources: ISO 898-1 as restated in public, VDI 2230 from memory.
pub static THREAD: Calculation = Calculation {
    name: "thread",
    title: "what a metric thread measures, the area that bears, and the preload that it may carry",
    formulas: &[
        "H = √3/2·P, d2 = d − 3/4·H, d3 = d − 17/12·H",
        "As = π/4·((d2 + d3)/2)²",
        "preload = share·Rp·As",
        "while it is tightened: preload = use·Re·As/√(1 + 3·(3/2·d2/ds·(P/(π·d2) + 1.155·μ))²), ds = (d2 + d3)/2",
    ],
    symbols: &[
        ("H", "height of the thread's triangle, mm"),
        ("d2, d3", "pitch and core diameter, mm"),
        ("As", "stress area, mm²"),
    ],
    valid: &["metric threads of 60°, coarse and fine", "a shank no thinner than the thread"],
    warnings: &[
        "proof and yield strength are those of the bolt's class as marked on its head: stainless and old bolts \
         have others",
        "what the parts under the head bear is not looked at",
    ],
    sources: &[
        "ISO 898-1: stress areas as restated in public; they agree within the three figures that they print",
        "VDI 2230 for the preload while it is tightened, from memory",
        "75 % of proof: common practice, no source",
    ],
    inputs: &[
        DIAMETER,
        PITCH,
        Input::figure("proof_strength", "Rp", "proof strength of the bolt's class", STRESS)
            .from_to("50 N/mm²", "2000 N/mm²", "no bolt is softer or harder; look at the unit")
            .optional("no preload comes out"),
        Input::figure("share", "", "share of the proof load", SHARE)
            .from_to("5 %", "100 %", "above the proof load a bolt stays long")
            .or("75 %"),
        Input::figure("yield_strength", "Re", "yield strength of the bolt's class", STRESS)
            .from_to("50 N/mm²", "2000 N/mm²", "no bolt is softer or harder; look at the unit")
            .optional("no preload with torsion comes out"),
        Input::figure("use", "", "use of the yield strength while it is tightened", SHARE)
            .from_to("5 %", "100 %", "above it the bolt yields")
            .or("90 %"),
        Input::figure("thread_friction", "μ", "friction in the thread", NUMBER)
            .from_to("0", "0.6", "metal on metal has no more")
            .or("0.12"),
    ],
    outputs: &[
        Output::figure("stress_area", "stress area", (Dimension::Area, "mm²")),
        Output::figure("pitch_diameter", "pitch diameter d2", MM),
        Output::figure("core_diameter", "core diameter d3", MM),
        Output::figure("preload", "share of the proof load", KILONEWTON)
            .unless("without `proof_strength`"),
        Output::figure("preload_with_torsion", "preload while it is tightened", KILONEWTON)
            .unless("without `yield_strength`"),
    ],
    held: Some(Held { at_least: "preload", at_most: "preload" }),
    example: &[("diameter", "12 mm"), ("pitch", "1.75 mm"), ("proof_strength", "580 N/mm²")],
    run: thread,
};

fn thread(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let thread = taken(known)?;
    let (d2, d3, area) = (thread.pitch_diameter(), thread.core_diameter(), thread.stress_area());
    let (d, p) = (known.shown("diameter"), known.shown("pitch"));
    let h = shown(thread.height(), "mm");
    let mut sheet = Sheet::new();
    sheet.line("height of the triangle", "H = √3/2·P", format!("√3/2 · {p}"), h.clone());
    sheet.line("pitch diameter", "d2 = d − 3/4·H", format!("{d} − 3/4 · {h}"), shown(d2, "mm"));
    sheet.line("core diameter", "d3 = d − 17/12·H", format!("{d} − 17/12 · {h}"), shown(d3, "mm"));
    sheet.line(
        "stress area",
        "As = π/4·((d2 + d3)/2)²",
        format!("π/4 · (({} + {})/2)²", shown(d2, "mm"), shown(d3, "mm")),
        shown(area, "mm²"),
    );
    sheet.gives("stress_area", area);
    sheet.gives("pitch_diameter", d2);
    sheet.gives("core_diameter", d3);
    if let Some(proof) = known.maybe("proof_strength") {
        let preload = known.figure("share")? * proof * area;
        let (share, proof) = (known.shown("share"), known.shown("proof_strength"));
        let figures = format!("{share} · {proof} · {}", shown(area, "mm²"));
        sheet.line("preload", "share·Rp·As", figures, shown(preload, "kN"));
        sheet.gives("preload", preload);
    }
    if let Some(yields) = known.maybe("yield_strength") {
        let (used, friction) = (known.figure("use")?, known.figure("thread_friction")?);
        let preload = thread.preload_with_torsion(yields, used, friction);
        sheet.line(
            "preload while it is tightened",
            "use·Re·As/√(1 + 3·(3/2·d2/ds·(P/(π·d2) + 1.155·μ))²)",
            format!(
                "{} · {} · {} / √(1 + 3·(3/2 · {} / {} · ({p}/(π · {}) + 1.155 · {}))²)",
                known.shown("use"),
                known.shown("yield_strength"),
                shown(area, "mm²"),
                shown(d2, "mm"),
                shown(f64::midpoint(d2, d3), "mm"),
                shown(d2, "mm"),
                known.shown("thread_friction")
            ),
            shown(preload, "kN"),
        );
        sheet.gives("preload_with_torsion", preload);
    }
    Ok(sheet)
}

/// The thread that is given.
pub(super) fn taken(known: &Known<'_>) -> Result<Thread, CalcRefusal> {
    let (diameter, pitch) = (known.figure("diameter")?, known.figure("pitch")?);
    if pitch > diameter / 3.0 {
        return Err(CalcRefusal::Impossible(format!(
            "a `pitch` of {} is more than a third of the `diameter` of {}: no metric thread is so coarse; look \
             at both",
            known.shown("pitch"),
            known.shown("diameter")
        )));
    }
    Ok(Thread { diameter, pitch })
}
