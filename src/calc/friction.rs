//! What a full round pipe costs: friction factor and head lost.
//!
//! Steady flow of a liquid that is thinner or thicker but not pasty. Pulsation is not in it: the
//! acceleration head of `suction` is beside it.

use super::bounds::{Bounds, Outside, whole_power};

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

const ROUGHNESS: Bounds = Bounds {
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
    let rough = ROUGHNESS.take(relative_roughness)?;
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
