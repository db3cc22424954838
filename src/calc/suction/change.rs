//! Which term to change: how far each one alone must move for the pump to have what it asks for.
//!
//! Whether a change can be made on site is for the people there to say.

use std::fmt;

use super::worst::{self, BORE_MAX_M};
use super::{Flow, Liquid, Spread, Suction, SuctionRefusal};
use crate::calc::water::FREEZING_K;

/// Halvings of the way from now to the end of the reach; they leave less than a millionth of it.
const HALVINGS: usize = 40;

/// A term that can be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Term {
    /// The bore of the line, in metres; up to four times now.
    Bore,
    /// The length of the line, in metres.
    Length,
    /// The lowest level above the pump, in metres; up to 20 m more.
    Level,
    /// The greatest speed, in revolutions a minute, and the flow with it; down to a tenth.
    Speed,
    /// The greatest flow, in m³/s, where there is no speed; down to a tenth.
    Flow,
    /// The highest temperature of the water, in kelvins; down to its freezing point.
    Temperature,
    /// The sum of the loss factors K.
    Fittings,
    /// The pressure lost in the dirty strainer, in pascals.
    Strainer,
    /// The distance of a stabiliser from the pump, in metres.
    Stabiliser,
    /// The least pressure in the tank above the air's, in pascals; up to 100 kPa more.
    Tank,
}

impl Term {
    /// All terms, those first that are easiest to change.
    pub const ALL: [Self; 10] = [
        Self::Strainer,
        Self::Speed,
        Self::Flow,
        Self::Level,
        Self::Temperature,
        Self::Stabiliser,
        Self::Fittings,
        Self::Length,
        Self::Bore,
        Self::Tank,
    ];

    /// What the term is called.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Bore => "bore of the line",
            Self::Length => "length of the line",
            Self::Level => "lowest level above the pump",
            Self::Speed => "greatest speed",
            Self::Flow => "greatest flow",
            Self::Temperature => "highest temperature",
            Self::Fittings => "loss factor K of the fittings",
            Self::Strainer => "loss in the strainer",
            Self::Stabiliser => "stabiliser",
            Self::Tank => "least tank pressure above the air's",
        }
    }

    /// The factor and the unit in which people state the term, and what to add for temperatures.
    const fn shown(self) -> (f64, f64, &'static str) {
        match self {
            Self::Bore => (1000.0, 0.0, " mm"),
            Self::Length | Self::Level | Self::Stabiliser => (1.0, 0.0, " m"),
            Self::Speed => (1.0, 0.0, " rev/min"),
            Self::Flow => (6e4, 0.0, " L/min"),
            Self::Temperature => (1.0, -FREEZING_K, " °C"),
            Self::Fittings => (1.0, 0.0, ""),
            Self::Strainer | Self::Tank => (1e-5, 0.0, " bar"),
        }
    }

    /// A wider bore, a higher level and a fuller tank help; of all else, less.
    const fn more_helps(self) -> bool {
        matches!(self, Self::Bore | Self::Level | Self::Tank)
    }
}

/// How far a term must move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// To this figure, in the unit of the term.
    To(f64),
    /// To this figure, but then the inlet sees more than the greatest pressure that it may.
    TooMuch(f64),
    /// Not even at the end of what is reasonable, the figure, is enough won.
    CannotAlone(f64),
}

/// One term and how far it alone must move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The term.
    pub term: Term,
    /// Where it stands now, at its bad end; `None` for a stabiliser where there is none.
    pub now: Option<f64>,
    /// How far it must move.
    pub reach: Reach,
}

impl Change {
    /// Whether this change alone is enough.
    pub const fn wins(&self) -> bool {
        matches!(self.reach, Reach::To(_))
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { term, now, reach } = *self;
        let (factor, offset, unit) = term.shown();
        let shown = |figure: f64, up| rounded((figure + offset) * factor, up);
        let now = match now {
            Some(now) => format!("now {}{unit}", nearest((now + offset) * factor)),
            None => "now none".to_owned(),
        };
        match reach {
            Reach::To(figure) => {
                let figure = shown(figure, term.more_helps());
                match term {
                    Term::Stabiliser => {
                        write!(f, "a stabiliser within {figure}{unit} of the pump ({now})")
                    }
                    _ if term.more_helps() => {
                        write!(f, "{} at least {figure}{unit} ({now})", term.words())
                    }
                    _ => write!(f, "{} at most {figure}{unit} ({now})", term.words()),
                }
            }
            Reach::TooMuch(figure) => {
                let figure = shown(figure, term.more_helps());
                write!(
                    f,
                    "{} would have to be {figure}{unit} ({now}), and then the inlet sees more than the \
                     greatest pressure that it may",
                    term.words()
                )
            }
            Reach::CannotAlone(end) => {
                let end = nearest((end + offset) * factor);
                write!(f, "{} cannot win it alone, not even at {end}{unit} ({now})", term.words())
            }
        }
    }
}

/// Three digits, rounded up or down.
fn rounded(figure: f64, up: bool) -> String {
    let (scale, places) = three_digits(figure);
    let whole = figure * scale;
    // A hair of slack keeps 80 from becoming 80.1.
    let slack = whole.abs() * 1e-9;
    let whole = if up { libm::ceil(whole - slack) } else { libm::floor(whole + slack) };
    format!("{:.places$}", whole / scale + 0.0)
}

fn nearest(figure: f64) -> String {
    let (scale, places) = three_digits(figure);
    format!("{:.places$}", libm::round(figure * scale) / scale + 0.0)
}

/// The factor and the decimals that leave three digits; whole numbers stay whole.
fn three_digits(figure: f64) -> (f64, usize) {
    match figure.abs() {
        size if size >= 100.0 => (1.0, 0),
        size if size >= 10.0 => (10.0, 1),
        size if size >= 1.0 => (100.0, 2),
        size if size <= f64::EPSILON => (1.0, 0),
        _ => (1000.0, 3),
    }
}

/// Every term that is there to be changed, in the order of [`Term::ALL`].
pub(super) fn all(suction: &Suction) -> Result<Vec<Change>, SuctionRefusal> {
    let mut changes = Vec::new();
    for term in Term::ALL {
        let Some((now, from, end)) = way(suction, term) else { continue };
        changes.push(Change { term, now, reach: reach(suction, term, from, end)? });
    }
    Ok(changes)
}

/// Where a term stands, and from where to where it may move; `None` where there is nothing to win.
fn way(suction: &Suction, term: Term) -> Option<(Option<f64>, f64, f64)> {
    let line = &suction.line;
    let (now, end) = match term {
        Term::Bore => (line.bore.low, (line.bore.low * 4.0).min(BORE_MAX_M)),
        Term::Length => (line.length.high, 0.0),
        Term::Level => (suction.level.low, (suction.level.low + 20.0).min(100.0)),
        Term::Speed => (suction.speed.high, suction.speed.high / 10.0),
        Term::Flow => match suction.flow {
            Flow::At(flow) if suction.speed.high <= 0.0 => (flow.high, flow.high / 10.0),
            Flow::At(_) | Flow::PerTurn(_) => return None,
        },
        Term::Temperature => match suction.liquid {
            Liquid::Water(temperature) => (temperature.high, FREEZING_K),
            Liquid::Other { .. } => return None,
        },
        Term::Fittings => (line.fittings.high, 0.0),
        Term::Strainer => (line.strainer.high, 0.0),
        Term::Stabiliser => {
            let pulsation = suction.pulsation?;
            let from = pulsation.stabiliser.unwrap_or(line.length.low);
            return (from > 0.0).then_some((pulsation.stabiliser, from, 0.0));
        }
        Term::Tank => (suction.tank.low, (suction.tank.low + 1e5).min(10e6)),
    };
    ((end - now).abs() > 0.0).then_some((Some(now), now, end))
}

/// The least move of a term that is enough, by halving.
fn reach(suction: &Suction, term: Term, from: f64, end: f64) -> Result<Reach, SuctionRefusal> {
    let enough = |figure| -> Result<bool, SuctionRefusal> {
        match worst::find(&moved(suction, term, figure)) {
            Ok(worst) => Ok(worst.margin >= suction.margin && worst.above_boiling > 0.0),
            Err(SuctionRefusal::TankBoils { .. }) => Ok(false),
            Err(other) => Err(other),
        }
    };
    if !enough(end)? {
        return Ok(Reach::CannotAlone(end));
    }
    let (mut short, mut won) = (from, end);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(short, won);
        if enough(middle)? {
            won = middle;
        } else {
            short = middle;
        }
    }
    let highest = |suction| worst::highest(suction).map(|highest| highest.margin);
    let (before, after) = (highest(suction)?, highest(&moved(suction, term, won))?);
    let too_much = |margin: Option<f64>| margin.is_some_and(|margin| margin < 0.0);
    Ok(if too_much(after) && !too_much(before) { Reach::TooMuch(won) } else { Reach::To(won) })
}

/// The same suction with one term moved to a figure. Both ends of a range move together where the term
/// is built or set; where it is a bound, the range is cut.
pub(super) fn moved(suction: &Suction, term: Term, figure: f64) -> Suction {
    let mut s = *suction;
    let at_least = |spread: Spread| Spread { low: figure, high: spread.high.max(figure) };
    let at_most = |spread: Spread| Spread { low: spread.low.min(figure), high: figure };
    match term {
        Term::Bore => s.line.bore = at_least(s.line.bore),
        Term::Length => {
            s.line.length = at_most(s.line.length);
            if let Some(pulsation) = &mut s.pulsation {
                let length = s.line.length.low;
                pulsation.stabiliser = pulsation.stabiliser.map(|at| at.min(length));
            }
        }
        Term::Level => s.level = at_least(s.level),
        Term::Speed => {
            let share = figure / s.speed.high;
            s.speed = at_most(s.speed);
            slow(&mut s, share);
        }
        Term::Flow => {
            if let Flow::At(flow) = s.flow {
                slow(&mut s, figure / flow.high);
            }
        }
        Term::Temperature => {
            if let Liquid::Water(temperature) = &mut s.liquid {
                *temperature = at_most(*temperature);
            }
        }
        Term::Fittings => s.line.fittings = at_most(s.line.fittings),
        Term::Strainer => s.line.strainer = at_most(s.line.strainer),
        Term::Stabiliser => {
            if let Some(pulsation) = &mut s.pulsation {
                pulsation.stabiliser = Some(figure);
            }
        }
        Term::Tank => s.tank = at_least(s.tank),
    }
    s
}

/// Takes flow to a share of what it was, and with it the strainer's loss, which goes with its square.
fn slow(suction: &mut Suction, share: f64) {
    if let Flow::At(flow) = &mut suction.flow {
        let high = flow.high * share;
        *flow = Spread { low: flow.low.min(high), high };
    }
    let Spread { low, high } = suction.line.strainer;
    suction.line.strainer = Spread { low: low * share * share, high: high * share * share };
}
