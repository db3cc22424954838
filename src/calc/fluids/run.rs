//! The plain fluid calculations, from their inputs by name to results and working.

use super::table::{GIVES, PUMPS};
use super::{Answer, FluidRefusal, Given, figure, word};
use crate::calc::bounds::Bounds;
use crate::calc::friction::{
    FLOWING_MIN, Regime, friction_factor, pipe_loss as along, velocity, velocity_head,
};
use crate::calc::oil::{self, COUNTED_MIN, Count, Graded, ViscosityLine, ViscosityPoint};
use crate::calc::suction::acceleration::{self, Column, SHORT_LINE_MAX_M};
use crate::calc::suction::working::{bar, digits, metres, step};
use crate::calc::suction::{Doubt, Give, PumpType};
use crate::calc::{atmosphere as air, water as h2o};

type Done = Result<Answer, FluidRefusal>;

fn celsius(kelvins: f64) -> String {
    format!("{} °C", digits(kelvins - h2o::FREEZING_K))
}

/// Square metres a second as the square millimetres that data sheets have.
const MM2: f64 = 1e6;

pub(super) fn water(given: &Given) -> Done {
    let t = given.figure("temperature")?;
    let vapour = h2o::saturation_pressure(t)?;
    let pressure = given.figure_or("pressure", air::SEA_LEVEL_PA.max(vapour));
    let liquid = h2o::liquid(t, pressure)?;
    let (rho, mu) = (liquid.density, liquid.dynamic_viscosity);
    let at = format!("T = {}, p = {}", celsius(t), bar(pressure));
    let working = vec![
        step(
            "boils at",
            "R7-97 equation 30",
            format!("T = {}", celsius(t)),
            format!("{} absolute", bar(vapour)),
        ),
        step("density", "R7-97 equation 7", at, format!("{rho:.2} kg/m³")),
        step(
            "viscosity",
            "R12-08 equation 10, ν = μ/ρ",
            format!("T = {}, ρ = {rho:.2} kg/m³", celsius(t)),
            format!("{} mPa·s, {} mm²/s", digits(mu * 1e3), digits(mu / rho * MM2)),
        ),
    ];
    let outcomes = vec![
        figure("vapour_pressure", vapour, "Pa"),
        figure("density", rho, "kg/m³"),
        figure("dynamic_viscosity", mu, "Pa·s"),
        figure("viscosity", mu / rho, "m²/s"),
    ];
    Ok(Answer::of(outcomes, working))
}

pub(super) fn atmosphere(given: &Given) -> Done {
    let altitude = given.figure("altitude")?;
    let geopotential = given.words.get("kind").is_some_and(|kind| kind == "geopotential");
    let standard =
        if geopotential { air::at_geopotential(altitude)? } else { air::at_altitude(altitude)? };
    let working = vec![step(
        "air pressure",
        "p = 1.01325 bar·(1 − 0.0065·h/288.15)^5.2559",
        format!("altitude {} m", digits(altitude)),
        format!("{} absolute", bar(standard.pressure)),
    )];
    let outcomes = vec![
        figure("pressure", standard.pressure, "Pa"),
        figure("temperature", standard.temperature, "K"),
    ];
    let warnings = vec![Doubt::Weather.words().to_owned()];
    Ok(Answer { warnings, ..Answer::of(outcomes, working) })
}

/// Any size that a pipe has.
const SIZE: Bounds =
    Bounds { what: "the bore", low: 0.001, high: 5.0, unit: "m", because: "look at the unit" };

fn gravity(given: &Given) -> Result<f64, FluidRefusal> {
    let gravity = given.figure_or("gravity", air::STANDARD_GRAVITY);
    let because = "it is so everywhere on the ground";
    let what = "the acceleration of free fall";
    Ok(Bounds { what, low: 9.76, high: 9.84, unit: "m/s²", because }.take(gravity)?)
}

pub(super) fn pipe_loss(given: &Given) -> Done {
    let bore = SIZE.take(given.figure("bore")?)?;
    let flow = Bounds { what: "the flow", low: 0.0, high: 100.0, unit: "m³/s", ..SIZE }
        .take(given.figure("flow")?)?;
    let long =
        Bounds { what: "the length", low: 0.0, high: 1e5, ..SIZE }.take(given.figure("length")?)?;
    let rough = Bounds { what: "the roughness", low: 0.0, high: bore / 20.0, ..SIZE }
        .take(given.figure_or("roughness", 0.0))?;
    let k = Bounds { what: "the K of the fittings", low: 0.0, high: 1e4, unit: "", ..SIZE }
        .take(given.figure_or("fittings", 0.0))?;
    let nu =
        Bounds { what: "the kinematic viscosity", low: 1e-7, high: 0.1, unit: "m²/s", ..SIZE }
            .take(given.figure("viscosity")?)?;
    let v = velocity(flow, bore);
    let head = velocity_head(v, gravity(given)?);
    let re = v * bore / nu;
    let mm = |metres: f64| digits(metres * 1000.0);
    let mut working = vec![step(
        "velocity",
        "v = Q/(π/4·D²)",
        format!("{} L/min / (π/4·({} mm)²)", digits(flow * 6e4), mm(bore)),
        format!("{} m/s, v²/2g = {} m", digits(v), digits(head)),
    )];
    let mut warnings = Vec::new();
    let mut factor = 0.0;
    if re >= FLOWING_MIN {
        let friction = friction_factor(re, rough / bore)?;
        factor = friction.factor;
        if friction.regime == Regime::Transition {
            warnings.push(Doubt::Transition.words().to_owned());
        }
        working.push(step(
            "Reynolds number",
            "Re = v·D/ν",
            format!("{} m/s · {} mm / {} mm²/s", digits(v), mm(bore), digits(nu * MM2)),
            format!("{re:.0}: {}", friction.regime.words()),
        ));
        working.push(step(
            "friction factor",
            if friction.regime == Regime::Laminar { "f = 64/Re" } else { "Colebrook-White" },
            format!("ε/D = {} mm / {} mm", mm(rough), mm(bore)),
            digits(factor),
        ));
    }
    let (pipe, fittings) = (along(factor, long, bore, head), k * head);
    working.push(step(
        "head lost",
        "h = (f·L/D + ΣK)·v²/2g",
        format!(
            "({} · {} m / {} mm + {}) · {} m",
            digits(factor),
            digits(long),
            mm(bore),
            digits(k),
            digits(head)
        ),
        format!(
            "{}: {} in the pipe, {} in fittings",
            metres(pipe + fittings),
            metres(pipe),
            metres(fittings)
        ),
    ));
    let outcomes = vec![
        figure("head", pipe + fittings, "m"),
        figure("velocity", v, "m/s"),
        figure("reynolds", re, ""),
        figure("friction_factor", factor, ""),
    ];
    Ok(Answer { warnings, ..Answer::of(outcomes, working) })
}

/// The pump that a word stands for.
pub(super) fn pump(given: &Given) -> Option<PumpType> {
    let word = given.words.get("pump")?;
    PUMPS.iter().zip(PumpType::ALL).find(|(name, _)| *name == word).map(|(_, pump)| pump)
}

/// How much the liquid gives that a word stands for.
pub(super) fn give(given: &Given) -> Option<Give> {
    let word = given.words.get("liquid")?;
    GIVES.iter().zip(Give::ALL).find(|(name, _)| *name == word).map(|(_, give)| give)
}

pub(super) fn acceleration_head(given: &Given) -> Done {
    let missing = |name| FluidRefusal::Missing { one_of: vec![name] };
    let pump = pump(given).ok_or_else(|| missing("pump"))?;
    let give = give(given).ok_or_else(|| missing("liquid"))?;
    let column = Column {
        length: given.figure("length")?,
        velocity: given.figure("velocity")?,
        speed: given.figure("speed")?,
        gravity: gravity(given)?,
    };
    let head = acceleration::acceleration_head(column, pump, give)?;
    let working = vec![step(
        "acceleration head",
        "h_acc = L·v·n·C/(k·g)",
        format!(
            "{} m · {} m/s · {} rev/min · {} / ({} · {}); C of a {pump} pump, k of {}",
            digits(column.length),
            digits(column.velocity),
            digits(column.speed),
            pump.c(),
            give.k(),
            digits(column.gravity),
            give.words()
        ),
        metres(head),
    )];
    let long = (column.length > SHORT_LINE_MAX_M).then_some(Doubt::LongLine);
    let warnings = [Some(Doubt::Constants), long].into_iter().flatten();
    let warnings = warnings.map(|doubt| doubt.words().to_owned()).collect();
    Ok(Answer { warnings, ..Answer::of(vec![figure("head", head, "m")], working) })
}

pub(super) fn oil_viscosity(given: &Given) -> Done {
    let point = |temperature, viscosity| {
        Ok::<_, FluidRefusal>(ViscosityPoint {
            temperature: given.figure(temperature)?,
            viscosity: given.figure(viscosity)? * MM2,
        })
    };
    let one = point("temperature_1", "viscosity_1")?;
    let other = point("temperature_2", "viscosity_2")?;
    let line = ViscosityLine::through(one, other)?;
    let t = given.figure("temperature")?;
    let read = line.at(t)?;
    let working = vec![
        step(
            "line through two points",
            "log10 log10(ν + 0.7) = A − B·log10 T",
            format!(
                "{} mm²/s at {}, {} mm²/s at {}",
                digits(one.viscosity),
                celsius(one.temperature),
                digits(other.viscosity),
                celsius(other.temperature)
            ),
            format!("A = {:.4}, B = {:.4}", line.a, line.b),
        ),
        step(
            "viscosity",
            "log10 log10(ν + 0.7) = A − B·log10 T",
            format!("T = {t:.2} K ({})", celsius(t)),
            format!("{} mm²/s", digits(read.viscosity)),
        ),
    ];
    let mut warnings =
        vec!["this holds for petroleum oils; synthetic ones may be otherwise".to_owned()];
    if read.extrapolated {
        let text = "the temperature lies beyond the two points: the line is carried on, a guess";
        warnings.push(text.to_owned());
    }
    let outcomes = vec![figure("viscosity", read.viscosity / MM2, "m²/s")];
    Ok(Answer { warnings, ..Answer::of(outcomes, working) })
}

pub(super) fn viscosity_index(given: &Given) -> Done {
    let (u, y) = (given.figure("viscosity_40")? * MM2, given.figure("viscosity_100")? * MM2);
    let index = oil::viscosity_index(u, y)?;
    let formula = if u >= index.h {
        "VI = 100·(L − U)/(L − H)"
    } else {
        "VI = 100 + (10^N − 1)/0.00715, N = (log10 H − log10 U)/log10 Y"
    };
    let working = vec![step(
        "viscosity index",
        formula,
        format!(
            "U = {}, Y = {}, L = {}, H = {} mm²/s",
            digits(u),
            digits(y),
            digits(index.l),
            digits(index.h)
        ),
        format!("{:.1}, stated {:.0}", index.exact, index.stated),
    )];
    let outcomes =
        vec![figure("viscosity_index", index.stated, ""), figure("unrounded", index.exact, "")];
    Ok(Answer::of(outcomes, working))
}

pub(super) fn viscosity_grade(given: &Given) -> Done {
    // The nearest figure of fifteen digits, so that 35.2 mm²/s is the 35.2 that was typed.
    let nu = tidy(given.figure("viscosity_40")? * MM2);
    let (text, figures) = match oil::grade(nu)? {
        Graded::Within(grade) => (
            grade.to_string(),
            format!("{} ± 10 %: {} to {} mm²/s", grade.midpoint, grade.min, grade.max),
        ),
        Graded::Between { below, above } => {
            let name = |grade: Option<oil::Grade>, none: &str| {
                grade.map_or_else(|| none.to_owned(), |grade| grade.to_string())
            };
            let (below, above) = (name(below, "nothing"), name(above, "nothing"));
            ("none".to_owned(), format!("between {below} and {above}: in a gap"))
        }
    };
    let shown = format!("{} mm²/s; {figures}", digits(nu));
    let working = vec![step("viscosity grade", "midpoint ± 10 % at 40 °C", shown, text.clone())];
    Ok(Answer::of(vec![word("grade", text)], working))
}

/// Fourteen digits: what is left of a figure after a conversion of units.
fn tidy(figure: f64) -> f64 {
    format!("{figure:.13e}").parse().unwrap_or(figure)
}

pub(super) fn cleanliness(given: &Given) -> Done {
    let count = |per_ml: &str, counted: &'static str| {
        let Some(per_ml) = given.maybe(per_ml) else { return Ok(None) };
        let whole = Bounds {
            what: "the particles counted",
            low: 0.0,
            high: 1e9,
            unit: "",
            because: "a sample has no more",
        };
        let counted = match given.maybe(counted) {
            None => None,
            Some(counted) => Some(if whole.take(counted.low)? < f64::from(COUNTED_MIN) {
                0
            } else {
                COUNTED_MIN
            }),
        };
        Ok::<_, FluidRefusal>(Some(Count { per_ml: per_ml.low, counted }))
    };
    let counts = [
        count("count_4", "counted_4")?,
        count("count_6", "counted_6")?,
        count("count_14", "counted_14")?,
    ];
    let code = oil::cleanliness(counts)?;
    let shown = counts.map(|count| count.map_or("-".to_owned(), |count| digits(count.per_ml)));
    let [four, six, fourteen] = shown;
    let figures =
        format!("{four} of 4 µm, {six} of 6 µm, {fourteen} of 14 µm and larger in a millilitre");
    let working = vec![step("cleanliness code", "table of ISO 4406", figures, code.code.clone())];
    let text = "a larger size has more particles than a smaller one, though each count holds all larger \
                ones: look at the counts";
    let warnings = code.out_of_order.then(|| text.to_owned()).into_iter().collect();
    Ok(Answer { warnings, ..Answer::of(vec![word("code", code.code)], working) })
}
