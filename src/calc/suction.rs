//! The suction check: does the liquid reach the pump with enough pressure, and if not, what to change.
//!
//! From atmosphere, tank, level, liquid, line and pump to the NPSH available and the pressure at the
//! inlet, both at the worst of what may come together. What the pump requires is typed in. Lines of
//! several bores, branches and gas in the liquid are not reckoned here.

pub mod acceleration;
mod asked;
pub mod change;
pub mod sensitivity;
pub mod state;
pub mod working;
pub mod worst;

use std::fmt;

pub use self::acceleration::{ACCELERATION_HEAD, Give, PumpType};
pub use self::asked::SUCTION_CHECK;
pub use self::change::{Change, Reach, Term};
pub use self::sensitivity::Weight;
pub use self::state::{Balance, LiquidState, Pulsation, State};
pub use self::worst::{End, Met};

use self::acceleration::SHORT_LINE_MAX_M;
use self::working::bar;
use super::bounds::Outside;
pub use super::bounds::Spread;
use super::friction::{self, Regime};

/// The air over the site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Air {
    /// The standard atmosphere at this altitude above the sea, in metres.
    Altitude(Spread),
    /// The pressure of a barometer on site, absolute, in pascals.
    Barometer(Spread),
}

/// What is pumped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Liquid {
    /// Water of this temperature, in kelvins; all else by the formulations for water.
    Water(Spread),
    /// Another liquid, at the temperatures that occur.
    Other {
        /// The absolute pressure at which it boils, in pascals.
        vapour_pressure: Spread,
        /// In kg/m³.
        density: Spread,
        /// The kinematic viscosity, in m²/s.
        viscosity: Spread,
    },
}

/// How the flow is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flow {
    /// Flow in m³/s, its ends at the ends of the speed.
    At(Spread),
    /// What the pump moves at one turn of its crank, in m³.
    PerTurn(Spread),
}

/// Pipe or hose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wall {
    /// Stiff pipe.
    Stiff,
    /// A hose, which gives.
    Hose,
}

/// The suction line, of one bore all along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Pipe or hose.
    pub wall: Wall,
    /// Its length, in metres.
    pub length: Spread,
    /// Its bore, in metres.
    pub bore: Spread,
    /// The roughness of its wall, in metres.
    pub roughness: Spread,
    /// The sum of the loss factors K of entry, bends and valves.
    pub fittings: Spread,
    /// The pressure lost in the strainer, clean to dirty, at the greatest flow, in pascals.
    pub strainer: Spread,
}

/// A pressure at the inlet, as the pump's papers state it. In pascals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InletPressure {
    /// Above vacuum.
    Absolute(f64),
    /// Above the air's; negative below it.
    Gauge(f64),
}

/// What the pump asks of its suction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Requirement {
    /// The NPSH required, in metres of the liquid.
    Npsh(f64),
    /// The least pressure at the inlet.
    LeastInlet(InletPressure),
    /// The greatest vacuum at the inlet: so far below the air's pressure, in pascals.
    GreatestVacuum(f64),
}

impl Requirement {
    /// The unit of the requirement and of its margin.
    pub const fn unit(&self) -> &'static str {
        match self {
            Self::Npsh(_) => "m",
            Self::LeastInlet(_) | Self::GreatestVacuum(_) => "Pa",
        }
    }
}

/// All that the check is fed with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suction {
    /// The air over the site.
    pub air: Air,
    /// The pressure in the tank above the air's, in pascals; 0 when it is open.
    pub tank: Spread,
    /// The level above the pump's centre line, in metres; negative when the pump lifts.
    pub level: Spread,
    /// What is pumped.
    pub liquid: Liquid,
    /// The speed of the pump's crank, in revolutions a minute; 0 where it does not matter.
    pub speed: Spread,
    /// The flow.
    pub flow: Flow,
    /// The line.
    pub line: Line,
    /// The pulsation of a reciprocating pump; `None` where the flow is steady.
    pub pulsation: Option<Pulsation>,
    /// What the pump asks for.
    pub requires: Requirement,
    /// How much more than required there must be, in the unit of the requirement.
    pub margin: f64,
    /// The greatest pressure that the pump's inlet may see.
    pub greatest_inlet: Option<InletPressure>,
    /// The acceleration of free fall, in m/s².
    pub gravity: f64,
}

/// The pressure that the inlet sees at most. In pascals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighestInlet {
    /// Above vacuum.
    pub absolute: f64,
    /// Above the air's.
    pub gauge: f64,
    /// What is left to the greatest that is allowed; negative when it is exceeded.
    pub margin: Option<f64>,
    /// The density of the liquid that it is so with, in kg/m³.
    pub density: f64,
    /// The surge of a stroke that is in it, in metres of the liquid.
    pub surge: f64,
}

/// What makes a result weaker than its digits look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The flow may be laminar or turbulent.
    Transition,
    /// A hose, and a rule for stiff pipe.
    Hose,
    /// A long line, and a rule for short ones.
    LongLine,
    /// Constants that nothing supports.
    Constants,
    /// Acceleration and friction do not peak together.
    Sum,
    /// A stabiliser counts as perfect.
    Stabiliser,
    /// The weather is not in an altitude.
    Weather,
}

impl Doubt {
    /// The doubt in words, with what it means for the figure.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Transition => friction::TRANSITION,
            Self::Hose => {
                "the acceleration head is reckoned for stiff pipe: a hose gives and swings, and the \
                 true figure may lie on either side; measure at the inlet"
            }
            Self::LongLine => acceleration::LONG_LINE,
            Self::Constants => acceleration::CONSTANTS,
            Self::Sum => {
                "friction and acceleration head are added though they do not peak at the same moment: \
                 this is on the safe side"
            }
            Self::Stabiliser => {
                "the stabiliser is taken as charged, large enough and perfect: no acceleration head \
                 upstream of it"
            }
            Self::Weather => {
                "the air pressure is that of the standard atmosphere: a deep low takes another 0.03 bar"
            }
        }
    }
}

/// What the check finds.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The worst state of all that may come together.
    pub state: State,
    /// Which end of each figure with a range is the worst.
    pub met: Vec<Met>,
    /// The balance of that state.
    pub balance: Balance,
    /// What is available, in the unit of the requirement: NPSH, pressure or vacuum.
    pub available: f64,
    /// What is available beyond what is required; negative when it falls short.
    pub margin: f64,
    /// What is missing to the margin that was asked for; 0 when nothing is.
    pub missing: f64,
    /// The pressure that the inlet sees at most.
    pub highest: HighestInlet,
    /// How much each figure weighs.
    pub weights: Vec<Weight>,
    /// How far each term alone must move to win what is missing; empty when nothing is.
    pub changes: Vec<Change>,
    /// What makes the figures weaker than they look.
    pub doubts: Vec<Doubt>,
}

/// Why there is no result.
#[derive(Debug, Clone, PartialEq)]
pub enum SuctionRefusal {
    /// A figure out of its range.
    Outside(Outside),
    /// The least of a figure is greater than its greatest.
    Reversed {
        /// What the figure is of.
        what: &'static str,
        /// Both ends, as given.
        spread: Spread,
    },
    /// The tank would hold less than no pressure.
    NoPressure {
        /// The absolute pressure that comes out, in pascals.
        surface: f64,
    },
    /// The liquid boils in the tank already.
    TankBoils {
        /// The absolute pressure in the tank, in pascals.
        surface: f64,
        /// The vapour pressure, in pascals.
        vapour: f64,
    },
    /// A stabiliser further from the pump than the line is long.
    StabiliserBeyondLine {
        /// Its distance, in metres.
        at: f64,
        /// The least length of the line, in metres.
        length: f64,
    },
    /// The liquid boils before it reaches the pump, so that no formula holds there.
    Boils {
        /// The absolute pressure that would be at the inlet, in pascals; may be below nothing.
        inlet: f64,
        /// The vapour pressure, in pascals.
        vapour: f64,
        /// Which end of each figure with a range is the worst.
        met: Vec<Met>,
        /// How far each term alone must move for the pump to have what it asks for.
        changes: Vec<Change>,
    },
}

impl From<Outside> for SuctionRefusal {
    fn from(outside: Outside) -> Self {
        Self::Outside(outside)
    }
}

impl fmt::Display for SuctionRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outside(outside) => outside.fmt(f),
            Self::Reversed { what, spread: Spread { low, high } } => {
                write!(
                    f,
                    "{what}: the least, {low}, is more than the greatest, {high}; exchange them"
                )
            }
            Self::NoPressure { surface } => write!(
                f,
                "the pressure in the tank comes to {} absolute: nothing has less than none; look \
                 whether it was meant as absolute or above the air's",
                bar(*surface)
            ),
            Self::TankBoils { surface, vapour } => write!(
                f,
                "the liquid boils in the tank: its vapour pressure is {} and the tank holds {} \
                 absolute; look at temperature and tank pressure",
                bar(*vapour),
                bar(*surface)
            ),
            Self::StabiliserBeyondLine { at, length } => write!(
                f,
                "the stabiliser is {at} m from the pump in a line of {length} m: it must sit in the line"
            ),
            Self::Boils { inlet, vapour, met, changes } => {
                write!(f, "the liquid boils before the pump")?;
                if !met.is_empty() {
                    let ends: Vec<String> = met.iter().map(Met::to_string).collect();
                    write!(f, " at {}", ends.join(", "))?;
                }
                let below = if *inlet < 0.0 { " (less than none)" } else { "" };
                write!(
                    f,
                    ": the pressure at its inlet comes to {} absolute{below} against a vapour pressure of \
                     {}, and no figure holds for liquid and vapour together",
                    bar(*inlet),
                    bar(*vapour)
                )?;
                let ways: Vec<String> =
                    changes.iter().filter(|change| change.wins()).map(Change::to_string).collect();
                if ways.is_empty() {
                    write!(f, "; no single change wins what the pump asks for")
                } else {
                    write!(
                        f,
                        "; any of these alone wins what the pump asks for: {}",
                        ways.join("; ")
                    )
                }
            }
        }
    }
}

impl std::error::Error for SuctionRefusal {}

/// Checks a pump's suction at the worst of what may come together.
///
/// Formulas, heads in metres of the liquid: `NPSHa = (p_air + p_tank − p_vapour)/(ρ·g) + z − h_pipe −
/// h_fittings − h_strainer − h_acceleration`; `h_pipe = f·L/D·v²/2g` with `f` of
/// [`friction_factor`](super::friction::friction_factor); `h_fittings = ΣK·v²/2g`; the acceleration head
/// by [`acceleration_head`](acceleration::acceleration_head). The pressure at the inlet is
/// `p_vapour + ρ·g·(NPSHa − v²/2g)`: what a gauge there shows, at the worst moment of a stroke.
/// The highest inlet pressure is reckoned without losses and with the acceleration head as a surge.
///
/// Sources: the balance is in every pump handbook, and so are the check examples; the acceleration head
/// is from memory. Refused: figures out of range, ranges upside down, a tank below nothing, and liquid
/// that boils in tank or line.
pub fn check(suction: &Suction) -> Result<Finding, SuctionRefusal> {
    found(suction, true)
}

/// What [`check`] finds; without `on_paper` weights and changes are left out, but from a refusal.
fn found(suction: &Suction, on_paper: bool) -> Result<Finding, SuctionRefusal> {
    let worst = worst::find(suction)?;
    let missing = (suction.margin - worst.margin).max(0.0);
    let boils = worst.above_boiling <= 0.0;
    let changes =
        if boils || missing > 0.0 && on_paper { change::all(suction)? } else { Vec::new() };
    if boils {
        return Err(SuctionRefusal::Boils {
            inlet: worst.boiling.1.inlet_pressure,
            vapour: worst.boiling.0.liquid.vapour_pressure,
            met: worst::met(suction, &worst.boiling.0),
            changes,
        });
    }
    let (state, balance) = worst.state;
    Ok(Finding {
        met: worst::met(suction, &state),
        available: worst::available(suction.requires, &state, &balance),
        margin: worst.margin,
        missing,
        highest: worst::highest(suction)?,
        weights: if on_paper { sensitivity::weights(suction, worst.margin) } else { Vec::new() },
        changes,
        doubts: doubts(suction, &balance),
        state,
        balance,
    })
}

fn doubts(suction: &Suction, balance: &Balance) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    if balance.course.friction.is_some_and(|friction| friction.regime == Regime::Transition) {
        doubts.push(Doubt::Transition);
    }
    if let Some(pulsation) = suction.pulsation {
        let column = pulsation.stabiliser.unwrap_or(suction.line.length.high);
        if suction.line.wall == Wall::Hose {
            doubts.push(Doubt::Hose);
        }
        if column > SHORT_LINE_MAX_M {
            doubts.push(Doubt::LongLine);
        }
        if pulsation.stabiliser.is_some() {
            doubts.push(Doubt::Stabiliser);
        }
        if balance.acceleration_head > 0.0 {
            doubts.extend([Doubt::Constants, Doubt::Sum]);
        }
    }
    if let Air::Altitude(_) = suction.air {
        doubts.push(Doubt::Weather);
    }
    doubts
}

#[cfg(test)]
#[path = "suction_tests.rs"]
mod tests;
