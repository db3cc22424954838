//! Power: what the liquid gets, what the shaft takes, and what the motor draws.

use super::super::declare::{Calculation, Held, Input, Output};
use super::super::figure::{digits, shown};
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::Sheet;
use super::flow::over_full;
use super::{
    ACTUAL_FLOW, FLOW, KILOWATT, NEWTON_METRE, NUMBER, PRESSURE, SHARE, SPEED, VOLUME_OF_A_TURN,
};
use crate::units::Dimension;

/// The torque of a shaft: P/(2π·n), with n in turns a second; `None` at standstill.
pub fn shaft_torque(power: f64, speed: f64) -> Option<f64> {
    (speed > 0.0).then(|| power / (std::f64::consts::TAU * speed))
}

/// The current of a three-phase motor: P/(η·√3·U·cos φ).
pub fn motor_current(power: f64, voltage: f64, power_factor: f64, efficiency: f64) -> f64 {
    power / (efficiency * libm::sqrt(3.0) * voltage * power_factor)
}

const EFFICIENCY: Input = Input::figure("efficiency", "η", "overall efficiency of the pump", SHARE)
    .from_to("1 %", "100 %", "no machine gives more than it takes")
    .optional("then give `volumetric` and `mechanical`");

/// The power that a pump puts into the liquid, and what its shaft takes.
///
/// Ph = Δp·Q, Ps = Ph/η or Ph/(ηv·ηm), M = Ps/(2π·n). Δp in bar, Q in L/min, P in kW, M in N·m. Source:
/// definition.
pub static PUMP_POWER: Calculation = Calculation {
    name: "pump_power",
    title: "what power a pump puts into the liquid, and what its shaft takes",
    formulas: &["Ph = Δp·Q", "Ps = Ph/η, η = ηv·ηm", "M = Ps/(2π·n)"],
    symbols: &[
        ("Ph", "hydraulic power, kW"),
        ("Ps", "shaft power, kW"),
        ("M", "shaft torque, N·m"),
    ],
    valid: &[
        "the flow that the pump gives, and the pressure that it adds to it: outlet less inlet",
    ],
    warnings: &[
        "efficiencies are the maker's at this very point, or measured; guessed ones make a guess",
    ],
    sources: &["definition"],
    inputs: &[
        ACTUAL_FLOW,
        PRESSURE,
        EFFICIENCY,
        Input::figure("volumetric", "ηv", "volumetric efficiency", SHARE)
            .from_to("1 %", "100 %", "no pump gives more than it displaces")
            .optional("then give `efficiency`"),
        Input::figure("mechanical", "ηm", "mechanical efficiency", SHARE)
            .from_to("1 %", "100 %", "no machine gives more than it takes")
            .optional("then give `efficiency`"),
        SPEED.optional("no torque comes out"),
    ],
    outputs: &[
        Output::figure("shaft_power", "power that the shaft takes", KILOWATT),
        Output::figure("hydraulic_power", "power that the liquid gets", KILOWATT),
        Output::figure("torque", "torque of the shaft", NEWTON_METRE)
            .unless("without a `speed`, or at standstill"),
    ],
    held: Some(Held { at_least: "shaft_power", at_most: "shaft_power" }),
    example: &[
        ("flow", "62.4 L/min"),
        ("pressure", "100 bar"),
        ("volumetric", "92 %"),
        ("mechanical", "90 %"),
        ("speed", "300 rev/min"),
    ],
    run: pump_power,
};

/// Δp·Q, written on the sheet.
fn hydraulic(known: &Known<'_>, sheet: &mut Sheet) -> Result<f64, CalcRefusal> {
    let power = known.figure("pressure")? * known.figure("flow")?;
    let figures = format!("{} · {}", known.shown("pressure"), known.shown("flow"));
    sheet.line("power that the liquid gets", "Ph = Δp·Q", figures, shown(power, "kW"));
    sheet.gives("hydraulic_power", power);
    Ok(power)
}

fn pump_power(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let parts = (known.maybe("volumetric"), known.maybe("mechanical"));
    let (share, text) = match (known.maybe("efficiency"), parts) {
        (Some(whole), (None, None)) => (whole, known.shown("efficiency")),
        (None, (Some(volumetric), Some(mechanical))) => (
            volumetric * mechanical,
            format!("({} · {})", known.shown("volumetric"), known.shown("mechanical")),
        ),
        _ => {
            let text = "say what is lost: either the overall `efficiency`, or both `volumetric` and `mechanical`, \
                        and not all of them";
            return Err(CalcRefusal::Together(text.to_owned()));
        }
    };
    let power = hydraulic(known, &mut sheet)?;
    let shaft = power / share;
    let figures = format!("{} / {text}", shown(power, "kW"));
    sheet.line("power that the shaft takes", "Ps = Ph/η", figures, shown(shaft, "kW"));
    sheet.gives("shaft_power", shaft);
    if let Some(torque) = known.maybe("speed").and_then(|speed| shaft_torque(shaft, speed)) {
        let figures = format!("{} / (2π · {})", shown(shaft, "kW"), known.shown("speed"));
        sheet.line("torque of the shaft", "M = Ps/(2π·n)", figures, shown(torque, "N·m"));
        sheet.gives("torque", torque);
    }
    Ok(sheet)
}

/// The efficiencies of a pump from flow, pressure, speed and torque.
///
/// ηv = Q/(V·n), ηm = Δp·V/(2π·M), η = ηv·ηm. V in litres, M in N·m. Refused at standstill or without
/// torque. Source: definition.
pub static PUMP_EFFICIENCY: Calculation = Calculation {
    name: "pump_efficiency",
    title: "how well a pump does: volumetric, mechanical and overall efficiency from measurements",
    formulas: &["ηv = Q/(V·n)", "ηm = Δp·V/(2π·M)", "η = ηv·ηm = Δp·Q/(2π·n·M)"],
    symbols: &[("ηv, ηm, η", "volumetric, mechanical and overall efficiency")],
    valid: &["flow, pressure, speed and torque measured at the same time, steady"],
    warnings: &[
        "the torque is that of the pump's own shaft: a gear between takes its share",
        "each efficiency falls with another wear: volumetric with valves and leaks, mechanical with bearings and \
         packings",
    ],
    sources: &["definition"],
    inputs: &[
        VOLUME_OF_A_TURN,
        SPEED,
        ACTUAL_FLOW,
        PRESSURE,
        Input::figure("torque", "M", "torque of the shaft, measured", NEWTON_METRE).from_to(
            "0.001 N·m",
            "10000000 N·m",
            "a pump that works takes torque; look at the unit",
        ),
    ],
    outputs: &[
        Output::figure("overall", "overall efficiency", SHARE),
        Output::figure("volumetric", "volumetric efficiency", SHARE),
        Output::figure("mechanical", "mechanical efficiency", SHARE),
        Output::figure("hydraulic_power", "power that the liquid gets", KILOWATT),
        Output::figure("shaft_power", "power that the shaft takes", KILOWATT),
        Output::figure("theoretical", "theoretical flow", FLOW),
    ],
    held: Some(Held { at_least: "overall", at_most: "overall" }),
    example: &[
        ("displacement", "0.1 L"),
        ("speed", "1000 rev/min"),
        ("flow", "90 L/min"),
        ("pressure", "70 bar"),
        ("torque", "120 N·m"),
    ],
    run: pump_efficiency,
};

fn pump_efficiency(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let (volume, speed) = (known.figure("displacement")?, known.figure("speed")?);
    let (flow, pressure) = (known.figure("flow")?, known.figure("pressure")?);
    let torque = known.figure("torque")?;
    if speed <= 0.0 {
        return Err(CalcRefusal::Impossible(
            "at a `speed` of 0 nothing is pumped and no efficiency can be told; measure while it turns".to_owned(),
        ));
    }
    let full = volume * speed;
    hydraulic(known, &mut sheet)?;
    let shaft = std::f64::consts::TAU * speed * torque;
    let (volumetric, mechanical) =
        (flow / full, pressure * volume / (std::f64::consts::TAU * torque));
    let (v, n) = (known.shown("displacement"), known.shown("speed"));
    let (m, p) = (known.shown("torque"), known.shown("pressure"));
    sheet.line(
        "power that the shaft takes",
        "Ps = 2π·n·M",
        format!("2π · {n} · {m}"),
        shown(shaft, "kW"),
    );
    let figures = format!("{} / ({v} · {n})", known.shown("flow"));
    sheet.line("volumetric efficiency", "ηv = Q/(V·n)", figures, shown(volumetric, "%"));
    let figures = format!("{p} · {v} / (2π · {m})");
    sheet.line("mechanical efficiency", "ηm = Δp·V/(2π·M)", figures, shown(mechanical, "%"));
    let overall = volumetric * mechanical;
    let figures = format!("{} · {}", shown(volumetric, "%"), shown(mechanical, "%"));
    sheet.line("overall efficiency", "η = ηv·ηm", figures, shown(overall, "%"));
    over_full(&mut sheet, volumetric);
    if mechanical > 1.0 {
        sheet.warn("a mechanical efficiency above 100 % cannot be: look at torque, pressure and displacement");
    }
    sheet.gives("overall", overall);
    sheet.gives("volumetric", volumetric);
    sheet.gives("mechanical", mechanical);
    sheet.gives("shaft_power", shaft);
    sheet.gives("theoretical", full);
    Ok(sheet)
}

/// The current that a three-phase motor draws for a shaft power.
///
/// I = Ps/(η·√3·U·cos φ). Ps in kW, U in V between phases, I in A. Source: any textbook of electrical
/// machines.
pub static MOTOR_CURRENT: Calculation = Calculation {
    name: "motor_current",
    title: "what current a three-phase motor draws for the power that its shaft gives",
    formulas: &["I = P/(η·√3·U·cos φ)"],
    symbols: &[("I", "current in each phase, A")],
    valid: &["three-phase motors on the mains, loaded alike on all phases, near their rated load"],
    warnings: &[
        "below half load cos φ falls and the current hardly does: it then says little of the load",
        "behind a converter cos φ at the motor is not that on the mains side",
        "measuring at live terminals is for those who hold the licence for it",
    ],
    sources: &["any textbook of electrical machines"],
    inputs: &[
        Input::figure("power", "P", "power that the shaft gives", KILOWATT).from_to(
            "0 kW",
            "100000 kW",
            "no such motor gives more; look at the unit",
        ),
        Input::figure("voltage", "U", "voltage between two phases", (Dimension::Voltage, "V"))
            .from_to("50 V", "20000 V", "no such motor is fed outside of it; look at the unit"),
        Input::figure("power_factor", "cos φ", "power factor", NUMBER).from_to(
            "0.1",
            "1",
            "a power factor lies between nothing and 1",
        ),
        Input::figure("efficiency", "η", "efficiency of the motor", SHARE).from_to(
            "1 %",
            "100 %",
            "no machine gives more than it takes",
        ),
    ],
    outputs: &[Output::figure("current", "current in each phase", (Dimension::Current, "A"))],
    held: Some(Held { at_least: "current", at_most: "current" }),
    example: &[
        ("power", "12 kW"),
        ("voltage", "400 V"),
        ("power_factor", "0.86"),
        ("efficiency", "92 %"),
    ],
    run: run_motor_current,
};

fn run_motor_current(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (power, voltage) = (known.figure("power")?, known.figure("voltage")?);
    let (factor, share) = (known.figure("power_factor")?, known.figure("efficiency")?);
    let current = motor_current(power, voltage, factor, share);
    let mut sheet = Sheet::new();
    sheet.line(
        "current in each phase",
        "I = P/(η·√3·U·cos φ)",
        format!(
            "{} / ({} · √3 · {} · {})",
            known.shown("power"),
            known.shown("efficiency"),
            known.shown("voltage"),
            digits(factor, 4)
        ),
        shown(current, "A"),
    );
    sheet.gives("current", current);
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn torque_needs_a_speed() {
        assert_eq!(shaft_torque(1000.0, 0.0), None);
        let torque = shaft_torque(std::f64::consts::TAU, 1.0).unwrap();
        assert!((torque - 1.0).abs() < 1e-15);
    }
}
