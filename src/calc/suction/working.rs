//! The suction check on paper: every line of it with formula, figures and result, as one would write it
//! on the back of a job card.
//!
//! In the units of the shop: bar, metres, millimetres, degrees Celsius, litres a minute.

use super::state::{Balance, Pulsation, State};
use super::worst::Met;
use super::{Air, Finding, HighestInlet, InletPressure, Liquid, Requirement, Suction};
use crate::calc::friction::Regime;
use crate::calc::water::FREEZING_K;

/// One line of the working.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What the line works out.
    pub what: String,
    /// The formula, with symbols; empty where a figure is looked up or compared.
    pub formula: &'static str,
    /// The formula with its figures, or where the figure comes from.
    pub figures: String,
    /// The result with its unit.
    pub result: String,
}

pub(in crate::calc) fn step(
    what: impl Into<String>,
    formula: &'static str,
    figures: impl Into<String>,
    result: impl Into<String>,
) -> Step {
    Step { what: what.into(), formula, figures: figures.into(), result: result.into() }
}

/// Four digits, without a tail of zeroes behind the point.
pub(in crate::calc) fn digits(figure: f64) -> String {
    let size = figure.abs();
    let text = if size >= 1000.0 || libm::round(figure) >= 1000.0 {
        format!("{figure:.0}")
    } else if size >= 100.0 {
        format!("{figure:.1}")
    } else if size >= 10.0 {
        format!("{figure:.2}")
    } else if size >= 0.1 || size <= f64::EPSILON {
        format!("{figure:.3}")
    } else if size >= 1e-3 {
        format!("{figure:.5}")
    } else {
        format!("{figure:.2e}")
    };
    if text.contains('.') && !text.contains('e') {
        let text = text.trim_end_matches('0').trim_end_matches('.');
        return if text == "-0" { "0".to_owned() } else { text.to_owned() };
    }
    text
}

/// Pascals as bar.
pub(in crate::calc) fn bar(pascals: f64) -> String {
    let text = format!("{:.3} bar", pascals / 1e5);
    text.strip_prefix("-0.000").map_or(text.clone(), |rest| format!("0.000{rest}"))
}

/// A pressure against the air's.
fn gauge(pascals: f64) -> String {
    let side = if pascals < 0.0 { "below" } else { "above" };
    format!("{} {side} the air's", bar(pascals.abs()))
}

pub(in crate::calc) fn metres(head: f64) -> String {
    format!("{:.2} m", if head.abs() < 0.005 { 0.0 } else { head })
}

fn with_unit(figure: f64, unit: &str) -> String {
    if unit == "Pa" { bar(figure) } else { metres(figure) }
}

impl Finding {
    /// The whole working, in the order of the sums.
    pub fn working(&self, suction: &Suction) -> Vec<Step> {
        let (state, balance) = (&self.state, &self.balance);
        let mut steps = Vec::new();
        if !self.met.is_empty() {
            let ends: Vec<String> = self.met.iter().map(met).collect();
            steps.push(step("worst of what may come together", "", ends.join(", "), ""));
        }
        steps.extend(surroundings(suction, state));
        steps.extend(line(state, balance));
        steps.push(pressure_left(state, balance));
        steps.push(inlet(state, balance));
        steps.push(self.compared(suction));
        steps.push(highest(&self.highest, suction.greatest_inlet));
        steps
    }

    fn compared(&self, suction: &Suction) -> Step {
        let unit = suction.requires.unit();
        let has = with_unit(self.available, unit);
        let (what, asked) = match suction.requires {
            Requirement::Npsh(least) => ("NPSH", format!("at least {}", metres(least))),
            Requirement::LeastInlet(InletPressure::Absolute(least)) => {
                ("absolute pressure at the inlet", format!("at least {}", bar(least)))
            }
            Requirement::LeastInlet(InletPressure::Gauge(least)) => {
                ("pressure at the inlet above the air's", format!("at least {}", bar(least)))
            }
            Requirement::GreatestVacuum(most) => {
                ("vacuum at the inlet", format!("at most {}", bar(most)))
            }
        };
        let margin = with_unit(self.margin, unit);
        let wanted = with_unit(suction.margin, unit);
        let result = if self.missing > 0.0 {
            let missing = with_unit(self.missing, unit);
            format!("margin {margin}; {wanted} is asked for: NOT ENOUGH, {missing} is missing")
        } else {
            format!("margin {margin}; {wanted} is asked for: enough")
        };
        step(
            format!("{what} against what the pump asks for"),
            "",
            format!("{has}; the pump asks for {asked}"),
            result,
        )
    }
}

fn met(met: &Met) -> String {
    let figure = match met.unit {
        "Pa" => bar(met.figure),
        "K" => format!("{} °C", digits(met.figure - FREEZING_K)),
        "m³/s" => format!("{} L/min", digits(met.figure * 6e4)),
        "m²/s" => format!("{} mm²/s", digits(met.figure * 1e6)),
        "m" if matches!(met.what, "bore" | "roughness") => {
            format!("{} mm", digits(met.figure * 1000.0))
        }
        unit => format!("{} {unit}", digits(met.figure)),
    };
    format!("{met} ({})", figure.trim_end())
}

/// Air and liquid.
fn surroundings(suction: &Suction, state: &State) -> [Step; 2] {
    let air = match suction.air {
        Air::Altitude(altitude) => step(
            "air pressure",
            "p_air = 1.01325 bar · (1 − 0.0065·h/288.15)^5.2559",
            format!("standard atmosphere at {} m", digits(altitude.high)),
            bar(state.air_pressure),
        ),
        Air::Barometer(_) => step("air pressure", "", "barometer", bar(state.air_pressure)),
    };
    let of = &state.liquid;
    let properties = format!(
        "vapour pressure {}, density {} kg/m³, viscosity {} mm²/s",
        bar(of.vapour_pressure),
        digits(of.density),
        digits(of.viscosity * 1e6)
    );
    let liquid = match (suction.liquid, of.temperature) {
        (Liquid::Water(_), Some(kelvins)) => {
            let celsius = digits(kelvins - FREEZING_K);
            step("liquid", "", format!("water of {celsius} °C, IAPWS-IF97 and R12-08"), properties)
        }
        (Liquid::Water(_) | Liquid::Other { .. }, _) => {
            step("liquid", "", "as entered", properties)
        }
    };
    [air, liquid]
}

/// What the line costs.
fn line(state: &State, balance: &Balance) -> Vec<Step> {
    let (flow, bore) = (digits(state.flow * 6e4), digits(state.bore * 1000.0));
    let velocity = digits(balance.velocity);
    let mut steps = vec![step(
        "velocity in the line",
        "v = Q / (π/4·D²)",
        format!("{flow} L/min / (π/4·({bore} mm)²)"),
        format!("{velocity} m/s, v²/2g = {} m", digits(balance.velocity_head)),
    )];
    let head = digits(balance.velocity_head);
    if let Some(friction) = balance.friction {
        let viscosity = digits(state.liquid.viscosity * 1e6);
        steps.push(step(
            "Reynolds number",
            "Re = v·D/ν",
            format!("{velocity} m/s · {bore} mm / {viscosity} mm²/s"),
            format!("{:.0}: {}", balance.reynolds, friction.regime.words()),
        ));
        let rough = digits(state.roughness * 1000.0);
        let (formula, figures) = match friction.regime {
            Regime::Laminar => ("f = 64/Re", format!("64 / {:.0}", balance.reynolds)),
            Regime::Transition | Regime::Turbulent => (
                "1/√f = −2·log10(ε/D/3.7 + 2.51/(Re·√f))",
                format!("ε/D = {rough} mm / {bore} mm, Re = {:.0}", balance.reynolds),
            ),
        };
        steps.push(step("friction factor", formula, figures, digits(friction.factor)));
        steps.push(step(
            "lost in the pipe",
            "h_pipe = f·L/D·v²/2g",
            format!(
                "{} · {} m / {bore} mm · {head} m",
                digits(friction.factor),
                digits(state.length)
            ),
            metres(balance.pipe_head),
        ));
        steps.push(step(
            "lost in entry, bends and valves",
            "h_fittings = ΣK·v²/2g",
            format!("{} · {head} m", digits(state.fittings)),
            metres(balance.fittings_head),
        ));
    }
    if state.strainer > 0.0 {
        steps.push(step(
            "lost in the strainer",
            "h_strainer = Δp/(ρ·g)",
            format!(
                "{} / ({} kg/m³ · {} m/s²)",
                bar(state.strainer),
                digits(state.liquid.density),
                digits(state.gravity)
            ),
            metres(balance.strainer_head),
        ));
    }
    if let Some(pulsation) = state.pulsation {
        steps.push(jerks(state, balance, pulsation));
    }
    steps
}

fn jerks(state: &State, balance: &Balance, pulsation: Pulsation) -> Step {
    let Pulsation { pump, give, stabiliser } = pulsation;
    let length = stabiliser.unwrap_or(state.length).min(state.length);
    let to = if stabiliser.is_some() { " to the stabiliser" } else { "" };
    step(
        format!("to get the liquid going at every stroke{to}"),
        "h_acc = L·v·n·C/(k·g)",
        format!(
            "{} m · {} m/s · {} rev/min · {} / ({} · {}); C of a {pump} pump and k of {}, from memory: \
             nothing supports this k",
            digits(length),
            digits(balance.velocity),
            digits(state.speed),
            pump.c(),
            give.k(),
            digits(state.gravity),
            give.words()
        ),
        metres(balance.acceleration_head),
    )
}

fn pressure_left(state: &State, balance: &Balance) -> Step {
    let mut losses = vec![metres(balance.pipe_head), metres(balance.fittings_head)];
    if state.strainer > 0.0 {
        losses.push(metres(balance.strainer_head));
    }
    if state.pulsation.is_some() {
        losses.push(metres(balance.acceleration_head));
    }
    step(
        "NPSH available",
        "NPSHa = (p_air + p_tank − p_vapour)/(ρ·g) + z − losses",
        format!(
            "{} − {} + {} − ({})",
            metres(balance.surface_head),
            metres(balance.vapour_head),
            if state.level < 0.0 {
                format!("({})", metres(state.level))
            } else {
                metres(state.level)
            },
            losses.join(" + ")
        ),
        metres(balance.npsh),
    )
}

fn inlet(state: &State, balance: &Balance) -> Step {
    step(
        "pressure at the inlet, at the worst moment of a stroke",
        "p_inlet = p_vapour + ρ·g·(NPSHa − v²/2g)",
        format!(
            "{} + {} kg/m³ · {} m/s² · ({} − {} m)",
            bar(state.liquid.vapour_pressure),
            digits(state.liquid.density),
            digits(state.gravity),
            metres(balance.npsh),
            digits(balance.velocity_head)
        ),
        format!(
            "{} absolute, {}",
            bar(balance.inlet_pressure),
            gauge(balance.inlet_pressure - state.air_pressure)
        ),
    )
}

fn highest(highest: &HighestInlet, allowed: Option<InletPressure>) -> Step {
    let figures = "full tank at its greatest pressure, no losses, the surge of a stroke on top";
    let pressure = format!("{} absolute, {}", bar(highest.absolute), gauge(highest.gauge));
    let allowed = allowed.map(|allowed| match allowed {
        InletPressure::Absolute(most) => format!("{} absolute", bar(most)),
        InletPressure::Gauge(most) => gauge(most),
    });
    let result = match (allowed, highest.margin) {
        (Some(allowed), Some(margin)) => {
            let verdict = if margin < 0.0 { "TOO MUCH" } else { "within what is allowed" };
            format!("{pressure}; allowed {allowed}: {verdict}, margin {}", bar(margin))
        }
        _ => pressure,
    };
    step(
        "greatest pressure at the inlet",
        "p_max = p_air + p_tank + ρ·g·(z + h_acc)",
        figures,
        result,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_four_digits_and_no_tail() {
        for (figure, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (1.0, "1"),
            (0.0216, "0.0216"),
            (9.806_65, "9.807"),
            (52.5, "52.5"),
            (999.97, "1000"),
            (199_700.0, "199700"),
            (0.000_04, "4.00e-5"),
        ] {
            assert_eq!(digits(figure), text, "{figure}");
        }
        assert_eq!(bar(-10.0), "0.000 bar");
        assert_eq!(bar(101_325.0), "1.013 bar");
    }
}
