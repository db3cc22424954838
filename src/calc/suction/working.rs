//! The suction check on paper: every line of it with formula, figures and result, as one would write it
//! on the back of a job card.
//!
//! In the units of the shop: bar, metres, millimetres, degrees Celsius, litres a minute.

use super::acceleration::{self, Column};
use super::state::{Balance, Pulsation, State};
use super::worst::Met;
use super::{Air, Finding, HighestInlet, InletPressure, Liquid, Requirement, Suction};
use crate::calc::atmosphere;
use crate::calc::figure::{digits, shown};
use crate::calc::water::FREEZING_K;
use crate::calc::working::{Comparison, Line};

/// The digits of a figure that stands in a sum on paper.
const N_DIGITS: usize = 5;

/// Pascals as bar.
pub(super) fn bar(pascals: f64) -> String {
    let text = format!("{:.3} bar", pascals / 1e5);
    text.strip_prefix("-0.000").map_or(text.clone(), |rest| format!("0.000{rest}"))
}

/// A pressure against the air's.
fn gauge(pascals: f64) -> String {
    let side = if pascals < 0.0 { "below" } else { "above" };
    format!("{} {side} the air's", bar(pascals.abs()))
}

pub(super) fn metres(head: f64) -> String {
    format!("{:.2} m", if head.abs() < 0.005 { 0.0 } else { head })
}

fn with_unit(figure: f64, unit: &str) -> String {
    if unit == "Pa" { bar(figure) } else { metres(figure) }
}

impl Finding {
    /// The whole working, in the order of the sums.
    pub fn working(&self, suction: &Suction) -> Vec<Line> {
        let (state, balance) = (&self.state, &self.balance);
        let mut lines = Vec::new();
        if !self.met.is_empty() {
            let ends: Vec<String> = self.met.iter().map(met).collect();
            lines.push(Line::new("worst of what may come together", "", ends.join(", "), ""));
        }
        lines.extend(surroundings(suction, state));
        lines.extend(line(state, balance));
        lines.extend(dearest(balance));
        lines.push(pressure_left(state, balance));
        lines.push(inlet(state, balance));
        lines.push(highest(suction, state, &self.highest));
        lines
    }

    /// What is available against what the pump asks for, and what the inlet sees at most.
    pub(super) fn compared(&self, suction: &Suction) -> Vec<Comparison> {
        let unit = suction.requires.unit();
        let (what, asked) = match suction.requires {
            Requirement::Npsh(least) => ("NPSH available", format!("at least {}", metres(least))),
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
        let margin = if suction.margin > 0.0 {
            format!(", with a margin of {}", with_unit(suction.margin, unit))
        } else {
            String::new()
        };
        let left = with_unit(self.margin, unit);
        let verdict = if self.missing > 0.0 {
            format!("NOT ENOUGH, {} is missing", with_unit(self.missing, unit))
        } else {
            format!("enough, margin {left}")
        };
        let mut held = vec![Comparison {
            what: what.to_owned(),
            value: with_unit(self.available, unit),
            against: format!("{asked}{margin}, as the pump asks for"),
            verdict,
        }];
        if let (Some(most), Some(left)) = (suction.greatest_inlet, self.highest.margin) {
            let HighestInlet { absolute, gauge: above, .. } = self.highest;
            let (value, most) = match most {
                InletPressure::Absolute(most) => {
                    (format!("{} absolute", bar(absolute)), format!("{} absolute", bar(most)))
                }
                InletPressure::Gauge(most) => (gauge(above), gauge(most)),
            };
            held.push(Comparison {
                what: "greatest pressure at the inlet".to_owned(),
                value,
                against: format!("at most {most}, as the pump bears"),
                verdict: if left < 0.0 {
                    format!("TOO MUCH, by {}", bar(-left))
                } else {
                    format!("within, margin {}", bar(left))
                },
            });
        }
        held
    }
}

fn met(met: &Met) -> String {
    let figure = match met.unit {
        "Pa" => bar(met.figure),
        "K" => format!("{} °C", digits(met.figure - FREEZING_K, N_DIGITS)),
        "m³/s" => format!("{} L/min", digits(met.figure * 6e4, N_DIGITS)),
        "m²/s" => format!("{} mm²/s", digits(met.figure * 1e6, N_DIGITS)),
        "m" if matches!(met.what, "bore" | "roughness") => {
            format!("{} mm", digits(met.figure * 1000.0, N_DIGITS))
        }
        unit => format!("{} {unit}", digits(met.figure, N_DIGITS)),
    };
    format!("{met} ({})", figure.trim_end())
}

/// Air and liquid.
fn surroundings(suction: &Suction, state: &State) -> [Line; 2] {
    let air = match suction.air {
        Air::Altitude(altitude) => Line::new(
            "air pressure",
            atmosphere::FORMULA,
            format!("with the standard atmosphere at {} m", digits(altitude.high, N_DIGITS)),
            bar(state.air_pressure),
        ),
        Air::Barometer(_) => Line::new("air pressure", "", "barometer", bar(state.air_pressure)),
    };
    let of = &state.liquid;
    let properties = format!(
        "vapour pressure {}, density {} kg/m³, viscosity {} mm²/s",
        bar(of.vapour_pressure),
        digits(of.density, N_DIGITS),
        digits(of.viscosity * 1e6, N_DIGITS)
    );
    let liquid = match (suction.liquid, of.temperature) {
        (Liquid::Water(_), Some(kelvins)) => {
            let celsius = digits(kelvins - FREEZING_K, N_DIGITS);
            Line::new(
                "liquid",
                "",
                format!("water of {celsius} °C, IAPWS-IF97 and R12-08"),
                properties,
            )
        }
        (Liquid::Water(_) | Liquid::Other { .. }, _) => {
            Line::new("liquid", "", "as entered", properties)
        }
    };
    [air, liquid]
}

/// What the line costs.
fn line(state: &State, balance: &Balance) -> Vec<Line> {
    let mut lines = balance.course.lines();
    let (head, bore) = (shown(balance.course.velocity_head, "m"), shown(state.bore, "mm"));
    if balance.course.friction.is_some() {
        lines.push(Line::new(
            "lost in the pipe",
            "h_pipe = f·L/D·v²/2g",
            format!(
                "{} · {} / {bore} · {head}",
                digits(balance.course.factor(), N_DIGITS),
                shown(state.length, "m")
            ),
            metres(balance.pipe_head),
        ));
        lines.push(Line::new(
            "lost in entry, bends and valves",
            "h_fittings = ΣK·v²/2g",
            format!("{} · {head}", digits(state.fittings, N_DIGITS)),
            metres(balance.fittings_head),
        ));
    }
    if state.strainer > 0.0 {
        lines.push(Line::new(
            "lost in the strainer",
            "h_strainer = Δp/(ρ·g)",
            format!("{} / ({})", bar(state.strainer), weight(state.liquid.density, state)),
            metres(balance.strainer_head),
        ));
    }
    if let Some(pulsation) = state.pulsation {
        lines.push(jerks(state, balance, pulsation));
    }
    lines
}

/// ρ·g with figures.
fn weight(density: f64, state: &State) -> String {
    let gravity = digits(state.gravity, 6);
    format!("{} · {gravity} m/s²", shown(density, "kg/m³"))
}

fn jerks(state: &State, balance: &Balance, pulsation: Pulsation) -> Line {
    let Pulsation { pump, give, stabiliser } = pulsation;
    let to = if stabiliser.is_some() { ", from the pump to the stabiliser" } else { "" };
    let column = Column {
        length: stabiliser.unwrap_or(state.length).min(state.length),
        velocity: balance.course.velocity,
        speed: state.speed,
        gravity: state.gravity,
    };
    Line::new(
        format!("to get the liquid going at every stroke{to}"),
        acceleration::FORMULA,
        acceleration::figures(column, pump, give),
        metres(balance.acceleration_head),
    )
}

/// The losses, the greatest first; none where nothing is lost.
fn dearest(balance: &Balance) -> Option<Line> {
    let mut losses = [
        ("pipe", balance.pipe_head),
        ("entry, bends and valves", balance.fittings_head),
        ("strainer", balance.strainer_head),
        ("strokes", balance.acceleration_head),
    ];
    losses.sort_by(|(_, one), (_, other)| other.total_cmp(one));
    let all: f64 = losses.iter().map(|(_, head)| head).sum();
    let of = losses.iter().filter(|(_, head)| *head >= 0.005);
    let of: Vec<String> = of.map(|(what, head)| format!("{what} {}", metres(*head))).collect();
    (!of.is_empty()).then(|| {
        let what = "what is lost in all, the dearest first";
        Line::new(what, "", of.join(", "), metres(all))
    })
}

fn pressure_left(state: &State, balance: &Balance) -> Line {
    let mut losses = vec![metres(balance.pipe_head), metres(balance.fittings_head)];
    if state.strainer > 0.0 {
        losses.push(metres(balance.strainer_head));
    }
    if state.pulsation.is_some() {
        losses.push(metres(balance.acceleration_head));
    }
    Line::new(
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

fn inlet(state: &State, balance: &Balance) -> Line {
    Line::new(
        "pressure at the inlet, at the worst moment of a stroke",
        "p_inlet = p_vapour + ρ·g·(NPSHa − v²/2g)",
        format!(
            "{} + {} · ({} − {})",
            bar(state.liquid.vapour_pressure),
            weight(state.liquid.density, state),
            metres(balance.npsh),
            shown(balance.course.velocity_head, "m")
        ),
        format!(
            "{} absolute, {}",
            bar(balance.inlet_pressure),
            gauge(balance.inlet_pressure - state.air_pressure)
        ),
    )
}

fn highest(suction: &Suction, state: &State, highest: &HighestInlet) -> Line {
    let surge = if highest.surge > 0.0 { ", the surge of a stroke on top" } else { "" };
    Line::new(
        format!("greatest pressure at the inlet: full tank, no losses{surge}"),
        "p_max = p_air + p_tank + ρ·g·(z + h_acc)",
        format!(
            "{} + {} + {} · ({} + {})",
            bar(highest.absolute - highest.gauge),
            bar(suction.tank.high),
            weight(highest.density, state),
            metres(suction.level.high),
            metres(highest.surge)
        ),
        format!("{} absolute, {}", bar(highest.absolute), gauge(highest.gauge)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pressures_have_three_places_and_nothing_is_never_negative() {
        assert_eq!(bar(-10.0), "0.000 bar");
        assert_eq!(bar(101_325.0), "1.013 bar");
        assert_eq!(metres(-0.001), "0.00 m");
    }
}
