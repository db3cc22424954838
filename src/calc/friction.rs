//! What a full round pipe costs: friction factor and head lost.
//!
//! Steady flow of a liquid that is thinner or thicker but not pasty. Pulsation is not in it: the
//! acceleration head of `suction` is beside it.

use super::atmosphere::STANDARD_GRAVITY;
use super::bounds::{Bounds, Outside, whole_power};
use super::declare::{Calculation, Held, Input, Output};
use super::figure::{digits, shown};
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::{Line, Sheet};
use crate::units::Dimension;

/// Reynolds number up to which flow is reckoned laminar.
pub const LAMINAR_MAX: f64 = 2000.0;

/// Reynolds number from which flow is reckoned turbulent.
pub const TURBULENT_MIN: f64 = 4000.0;

/// Reynolds number below which nothing flows: squares of such velocities vanish in arithmetic.
pub const FLOWING_MIN: f64 = 1e-100;

const REYNOLDS: Bounds = Bounds {
    what: "the Reynolds number",
    low: FLOWING_MIN,
    high: 1e8,
    unit: "",
    because: "without flow there is no friction, and beyond 100 million nothing was measured",
};

const RELATIVE_ROUGHNESS: Bounds = Bounds {
    what: "the roughness over the bore",
    low: 0.0,
    high: 0.05,
    unit: "",
    because: "Colebrook-White holds for pipes no rougher than a twentieth of the bore",
};

/// How often Newton's rule is applied at most; it settles within six.
const ITERATIONS_MAX: usize = 40;

/// The way that a liquid flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// In layers, up to Re 2000: roughness does not matter.
    Laminar,
    /// Between Re 2000 and 4000 it may be either: the factor is the worse of both, a bound.
    Transition,
    /// In eddies, from Re 4000.
    Turbulent,
}

impl Regime {
    /// The word for it, with what it means for the figure.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Laminar => "laminar",
            Self::Transition => {
                "between laminar and turbulent: the worse of the two, a bound and no value"
            }
            Self::Turbulent => "turbulent",
        }
    }
}

/// The words for a regime as a result; the last is for a liquid that stands.
const REGIMES: &[&str] = &["laminar", "transition", "turbulent", "still"];

/// What people are warned of between the regimes.
pub(super) const TRANSITION: &str = "the flow lies between laminar and turbulent (Re 2000 to 4000), for which no source prescribes a \
    factor: friction is the worse of both, a bound";

/// The Darcy friction factor and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// The Darcy friction factor (four times Fanning's).
    pub factor: f64,
    /// How the liquid flows.
    pub regime: Regime,
}

/// The Darcy friction factor of a round pipe.
///
/// Formulas: `f = 64/Re` up to Re 2000 (Hagen-Poiseuille); from Re 4000 Colebrook-White,
/// `1/√f = −2·log10(ε/D/3.7 + 2.51/(Re·√f))`, solved to 1e-12. In between no source prescribes a factor:
/// the greater of both is given as a bound. Valid for Re up to 1e8 and `ε/D` up to 0.05.
/// `relative_roughness` is the roughness over the bore.
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> Result<Friction, Outside> {
    let re = REYNOLDS.take(reynolds)?;
    let rough = RELATIVE_ROUGHNESS.take(relative_roughness)?;
    let friction = if re <= LAMINAR_MAX {
        Friction { factor: laminar(re), regime: Regime::Laminar }
    } else if re < TURBULENT_MIN {
        Friction { factor: laminar(re).max(turbulent(re, rough)), regime: Regime::Transition }
    } else {
        Friction { factor: turbulent(re, rough), regime: Regime::Turbulent }
    };
    Ok(friction)
}

/// The factor that laminar flow has: `64/Re`.
pub fn laminar(reynolds: f64) -> f64 {
    64.0 / reynolds
}

/// Colebrook-White by Newton's rule on `x = 1/√f`, begun at Haaland's explicit formula.
fn turbulent(reynolds: f64, relative_roughness: f64) -> f64 {
    let a = relative_roughness / 3.7;
    let b = 2.51 / reynolds;
    let mut x = -1.8 * libm::log10(6.9 / reynolds + libm::pow(a, 1.11));
    for _ in 0..ITERATIONS_MAX {
        let inner = a + b * x;
        let miss = x + 2.0 * libm::log10(inner);
        let step = miss / (1.0 + 2.0 * b / (std::f64::consts::LN_10 * inner));
        x -= step;
        if step.abs() <= 1e-13 * x {
            break;
        }
    }
    1.0 / (x * x)
}

/// A liquid on its way through a round pipe, with what its friction comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// The flow, in m³/s.
    pub flow: f64,
    /// The bore, in m.
    pub bore: f64,
    /// The roughness of the wall, in m.
    pub roughness: f64,
    /// The kinematic viscosity, in m²/s.
    pub viscosity: f64,
    /// The mean velocity, in m/s.
    pub velocity: f64,
    /// The head of that velocity, in metres of the liquid.
    pub velocity_head: f64,
    /// The Reynolds number; 0 without flow.
    pub reynolds: f64,
    /// The friction factor; `None` without flow.
    pub friction: Option<Friction>,
}

impl Course {
    /// Works velocity, Reynolds number and friction factor out. All in SI units.
    ///
    /// # Errors
    /// A Reynolds number or a roughness that nothing is known of.
    pub fn of([flow, bore, roughness, viscosity]: [f64; 4], gravity: f64) -> Result<Self, Outside> {
        let velocity = velocity(flow, bore);
        let reynolds = velocity * bore / viscosity;
        let friction = (reynolds >= FLOWING_MIN)
            .then(|| friction_factor(reynolds, roughness / bore))
            .transpose()?;
        let velocity_head = velocity_head(velocity, gravity);
        Ok(Self { flow, bore, roughness, viscosity, velocity, velocity_head, reynolds, friction })
    }

    /// The friction factor; 0 without flow.
    pub fn factor(&self) -> f64 {
        self.friction.map_or(0.0, |friction| friction.factor)
    }

    /// Velocity, Reynolds number and friction factor on paper.
    pub(super) fn lines(&self) -> Vec<Line> {
        let (bore, velocity) = (shown(self.bore, "mm"), shown(self.velocity, "m/s"));
        let mut lines = vec![Line::new(
            "velocity",
            "v = Q/(π/4·D²), and its head v²/2g",
            format!("{} / (π/4 · ({bore})²)", shown(self.flow, "L/min")),
            format!("{velocity}, v²/2g = {}", shown(self.velocity_head, "m")),
        )];
        let Some(Friction { factor, regime }) = self.friction else { return lines };
        lines.push(Line::new(
            "Reynolds number",
            "Re = v·D/ν",
            format!("{velocity} · {bore} / {}", shown(self.viscosity, "mm²/s")),
            format!("{}: {}", digits(self.reynolds, 5), regime.words()),
        ));
        let re = digits(self.reynolds, 5);
        let laminar = format!("64 / {re}");
        let colebrook = "1/√f = −2·log10(ε/D/3.7 + 2.51/(Re·√f))";
        let rough = format!("with ε/D = {} / {bore}, Re = {re}", shown(self.roughness, "mm"));
        let (formula, figures) = match regime {
            Regime::Laminar => ("f = 64/Re".to_owned(), laminar),
            Regime::Turbulent => (colebrook.to_owned(), rough),
            Regime::Transition => (
                format!("the greater of 64/Re and {colebrook}"),
                format!(
                    "with {laminar} = {} and, {rough}, {}",
                    digits(64.0 / self.reynolds, 5),
                    digits(turbulent(self.reynolds, self.roughness / self.bore), 5)
                ),
            ),
        };
        lines.push(Line::new("friction factor", formula, figures, digits(factor, 5)));
        lines
    }
}

/// The mean velocity of a flow in a round pipe, in m/s; `flow` in m³/s, `bore` in m.
pub fn velocity(flow: f64, bore: f64) -> f64 {
    flow / (std::f64::consts::FRAC_PI_4 * whole_power(bore, 2))
}

/// `v²/(2·g)`, in metres of the liquid; `velocity` in m/s, `gravity` in m/s².
pub fn velocity_head(velocity: f64, gravity: f64) -> f64 {
    velocity * velocity / (2.0 * gravity)
}

/// The head that friction along a straight pipe costs (Darcy-Weisbach): `f·L/D·v²/(2·g)`.
///
/// `length` and `bore` in m, the velocity head and the result in metres of the liquid.
pub fn pipe_loss(factor: f64, length: f64, bore: f64, velocity_head: f64) -> f64 {
    factor * length / bore * velocity_head
}

/// The figures that people have on no paper.
pub(super) const TYPICAL: &str = "typical, from memory: K of a sharp entry 0.5, a bend 0.3 to 1, an open ball valve 0.1, a foot valve with \
    basket 3 and more; ε of drawn tube and plastic 0.002 mm, steel 0.05 mm, rusty steel 0.5 mm";

pub(super) const FLOW: Input = Input::figure("flow", "Q", "flow", (Dimension::Flow, "L/min"))
    .from_to("0 L/min", "120000 L/min", "no such line carries more; look at the unit");
pub(super) const LENGTH: Input =
    Input::figure("length", "L", "length of the line", (Dimension::Length, "m")).from_to(
        "0 m",
        "1000 m",
        "longer lines are not reckoned in one piece; look at the unit",
    );
pub(super) const BORE: Input =
    Input::figure("bore", "D", "bore of the line", (Dimension::Length, "mm")).from_to(
        "2 mm",
        "600 mm",
        "no such line is narrower or wider; look at the unit",
    );
pub(super) const VISCOSITY: Input = Input::figure(
    "viscosity",
    "ν",
    "kinematic viscosity of the liquid",
    (Dimension::KinematicViscosity, "mm²/s"),
)
.from_to("0.12 mm²/s", "100000 mm²/s", "no liquid that is pumped is thinner or thicker");
pub(super) const ROUGHNESS: Input =
    Input::figure("roughness", "ε", "roughness of the wall", (Dimension::Length, "mm"))
        .from_to("0 mm", "30 mm", "friction is known up to a twentieth of the bore")
        .or("0.05 mm");
pub(super) const FITTINGS: Input = Input::figure(
    "fittings",
    "ΣK",
    "sum of the loss factors of entry, bends and valves",
    (Dimension::Number, ""),
)
.from_to("0", "10000", "no line has more; look for the opening of a valve");

/// Where friction comes from.
pub(super) const SOURCE: &str = "Darcy-Weisbach; Hagen-Poiseuille up to Re 2000; Colebrook-White from Re 4000, solved to 1e-12: in every \
    textbook of fluid mechanics";

/// The head that a pipe with its fittings costs.
///
/// v = Q/(π/4·D²), Re = v·D/ν, f = 64/Re or Colebrook-White, h = (f·L/D + ΣK)·v²/2g. Q in L/min, D and ε in mm,
/// L in m, ν in mm²/s, h in metres of the liquid. Re up to 1e8, ε/D up to 0.05. Between Re 2000 and 4000 the worse
/// of both, as a bound. Sources: Darcy-Weisbach, Hagen-Poiseuille, Colebrook-White.
pub static PIPE_LOSS: Calculation = Calculation {
    name: "pipe_loss",
    title: "what head a pipe with its fittings costs",
    formulas: &[
        "v = Q/(π/4·D²)",
        "Re = v·D/ν",
        "f = 64/Re up to Re 2000",
        "1/√f = −2·log10(ε/D/3.7 + 2.51/(Re·√f)) from Re 4000",
        "h = (f·L/D + ΣK)·v²/2g",
    ],
    symbols: &[
        ("v", "mean velocity in the line, m/s"),
        ("Re", "Reynolds number"),
        ("f", "friction factor of Darcy, four times that of Fanning"),
        ("h", "head lost, in metres of the liquid"),
        ("g", "9.80665 m/s²; on the ground it is within 0.3 % of that"),
    ],
    valid: &["a full round pipe of one bore, steady flow, Re up to 100 million, ε/D up to 0.05"],
    warnings: &[
        "Re 2000 to 4000: no source prescribes a factor; the worse of laminar and turbulent is given, as a bound",
        TYPICAL,
        "a bore 10 % narrower than thought costs half as much again and more: measure it, and not the outside",
    ],
    sources: &[SOURCE],
    inputs: &[FLOW, LENGTH, BORE, VISCOSITY, ROUGHNESS, FITTINGS.or("0")],
    outputs: &[
        Output::figure("head", "head lost, in metres of the liquid", (Dimension::Length, "m")),
        Output::figure(
            "pipe",
            "the share of it that the straight pipe costs",
            (Dimension::Length, "m"),
        ),
        Output::figure("velocity", "mean velocity", (Dimension::Speed, "m/s")),
        Output::figure("reynolds", "Reynolds number", (Dimension::Number, "")),
        Output::figure("friction_factor", "friction factor", (Dimension::Number, ""))
            .unless("without flow"),
        Output::word(
            "regime",
            "how the liquid flows; `transition` means that the head is a bound",
            REGIMES,
        ),
    ],
    held: Some(Held { at_least: "head", at_most: "head" }),
    example: &[
        ("flow", "120 L/min"),
        ("length", "6 m"),
        ("bore", "52.5 mm"),
        ("viscosity", "20 mm²/s"),
        ("fittings", "2.5"),
    ],
    run: run_pipe_loss,
};

fn run_pipe_loss(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (length, bore, rough) =
        (known.figure("length")?, known.figure("bore")?, known.figure("roughness")?);
    let k = known.figure("fittings")?;
    let through = [known.figure("flow")?, bore, rough, known.figure("viscosity")?];
    let course = Course::of(through, STANDARD_GRAVITY)?;
    let pipe = pipe_loss(course.factor(), length, bore, course.velocity_head);
    let head = pipe + k * course.velocity_head;
    let between = course.friction.is_some_and(|found| found.regime == Regime::Transition);
    let bound = if between { "a bound: " } else { "" };
    let mut sheet = Sheet::new();
    sheet.lines(course.lines());
    sheet.line(
        "head lost",
        "h = (f·L/D + ΣK)·v²/2g",
        format!(
            "({} · {} / {} + {}) · {}",
            digits(course.factor(), 5),
            known.shown("length"),
            known.shown("bore"),
            digits(k, 5),
            shown(course.velocity_head, "m")
        ),
        format!("{bound}{}, {} of it in the straight pipe", shown(head, "m"), shown(pipe, "m")),
    );
    sheet.gives("head", head);
    sheet.gives("pipe", pipe);
    sheet.gives("velocity", course.velocity);
    sheet.gives("reynolds", course.reynolds);
    let regime = match course.friction {
        None => "still",
        Some(Friction { factor, regime }) => {
            sheet.gives("friction_factor", factor);
            match regime {
                Regime::Laminar => "laminar",
                Regime::Transition => "transition",
                Regime::Turbulent => "turbulent",
            }
        }
    };
    if between {
        sheet.warn(TRANSITION);
    }
    sheet.gives_word("regime", regime);
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factor(re: f64, rough: f64) -> Friction {
        friction_factor(re, rough).expect("within")
    }

    #[test]
    fn colebrook_holds_to_a_millionth_of_a_millionth() {
        for re in [4000.0, 12_345.0, 1e5, 1e6, 1e8] {
            for rough in [0.0, 1e-6, 1e-3, 0.05] {
                let x = 1.0 / libm::sqrt(factor(re, rough).factor);
                let again = -2.0 * libm::log10(rough / 3.7 + 2.51 * x / re);
                assert!((again / x - 1.0).abs() < 1e-12, "{re} {rough}");
            }
        }
    }

    #[test]
    fn between_the_regimes_the_worse_is_given_and_labelled() {
        assert_eq!(factor(2000.0, 1e-4).regime, Regime::Laminar);
        assert_eq!(factor(4000.0, 1e-4).regime, Regime::Turbulent);
        for re in [2000.1, 2300.0, 3000.0, 3999.9] {
            let friction = factor(re, 1e-4);
            assert_eq!(friction.regime, Regime::Transition);
            assert!(friction.factor >= laminar(re) && friction.factor >= turbulent(re, 1e-4));
            assert!(friction.regime.words().contains("a bound"));
        }
    }

    #[test]
    fn what_no_pipe_has_is_refused() {
        for (re, rough) in [(0.0, 0.0), (-1.0, 0.0), (f64::NAN, 0.0), (2e8, 0.0), (1e5, 0.06)] {
            assert!(friction_factor(re, rough).is_err(), "{re} {rough}");
        }
    }
}
