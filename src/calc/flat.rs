//! Flat and straight: the least zone that holds readings of height, the zone about the fit of least
//! squares, and what straightedge and feeler tell.

mod exact;
mod fit;
mod whole;
mod zone;

use num_bigint::BigInt;
use num_traits::{ToPrimitive as _, Zero as _};

pub use self::exact::Exact;
pub use self::fit::{Fit, across, least_squares};
pub use self::whole::Reading;
pub use self::zone::{Contact, Side, Zone, least_zone};

use super::declare::{AT_MOST, Calculation, Held, Input, Output};
use super::figure::{digits, shown};
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

const MM: (Dimension, &str) = (Dimension::Length, "mm");
const SLOPE: (Dimension, &str) = (Dimension::Number, "");

const HEIGHTS: Input = Input::figures("heights", "z", "the readings of height", MM)
    .from_to("-1000 mm", "1000 mm", "no indicator reads farther; look at the unit")
    .weightless();

const fn places(name: &'static str, symbol: &'static str, what: &'static str) -> Input {
    Input::figures(name, symbol, what, MM)
        .from_to("-100000 mm", "100000 mm", "no face is larger; look at the unit")
        .weightless()
}

const fn step(name: &'static str, what: &'static str) -> Input {
    Input::figure(name, "", what, MM)
        .from_to("0.001 mm", "10000 mm", "places must lie apart; look at the unit")
        .weightless()
}

const EXACTLY: &str = "worked out exactly, without rounding; the readings that carry the zone prove that none is less";
const ALONG: &str = "the zone is measured along the readings; on a face that stands at a slope of more than \
                     1 in 100 to the datum the zone across it is less, and given too";
const INDICATOR: &str = "the doubt of the indicator and of what it ran on is not in the result";
const SOURCE: &str = "minimum zone: ISO 1101 and ISO 12781 (from memory); the proof by contacts is the \
                      duality of linear programming, in any textbook of it";

/// How flat a face is, from readings of height on a grid or at any places.
///
/// zone = least over a, b of max(z − a·x − b·y) − min(z − a·x − b·y), in mm; and the same about the
/// plane of least squares. At least 3 readings that are not on one line, at most 10 000. Source: the
/// minimum zone of ISO 1101 (from memory).
pub static FLATNESS: Calculation = Calculation {
    name: "flatness",
    title: "how flat a face is, from readings of height at places on it",
    formulas: &[
        "zone = max(z − a·x − b·y) − min(z − a·x − b·y), with the tilt a, b that makes it least",
        "proof: zone = Σ weight·z of the high readings − Σ weight·z of the low ones",
        "least squares: the same about the plane for which Σ(z − c − a·x − b·y)² is least",
        "across the face: zone/√(1 + a² + b²)",
    ],
    symbols: &[("a, b", "tilt of the zone along x and y, mm for each mm")],
    valid: &["3 to 10 000 readings that do not all lie on one line", EXACTLY],
    warnings: &[
        ALONG,
        INDICATOR,
        "only places that were read count: a scratch between them is not seen",
        "least squares never gives less than the minimum zone; compare like with like",
    ],
    sources: &[SOURCE],
    inputs: &[
        HEIGHTS,
        Input::count("columns", "", "readings in a row, where they were taken row by row")
            .from_to("2", "1000", "a grid has two columns or more")
            .weightless()
            .optional("then give `x` and `y`"),
        step("step_x", "step from one reading to the next in a row").optional("then give `x`"),
        step("step_y", "step from one row to the next").optional("then give `y`"),
        places("x", "x", "place of each reading, along")
            .optional("then give `columns` and both steps"),
        places("y", "y", "place of each reading, across")
            .optional("then give `columns` and both steps"),
    ],
    outputs: &[
        Output::figure("zone", "least zone that holds all readings", MM),
        Output::figure("zone_across", "the same measured across the face", MM),
        Output::figure("least_squares", "zone about the plane of least squares", MM),
        Output::figure("least_squares_across", "the same measured across the face", MM),
        Output::figure("tilt_x", "tilt of the least zone along x", SLOPE),
        Output::figure("tilt_y", "tilt of the least zone along y", SLOPE),
    ],
    held: Some(Held { at_least: "zone", at_most: "zone" }),
    example: &[
        ("heights", "0 4 -2 3 9 1 5 2 6 µm"),
        ("columns", "3"),
        ("step_x", "50 mm"),
        ("step_y", "50 mm"),
        ("at_most", "0.02 mm"),
    ],
    run: flatness,
};

/// How straight an edge is, from readings of height along it.
///
/// zone = least over a of max(z − a·x) − min(z − a·x), in mm. At least 2 readings at different places,
/// at most 10 000. Source: the minimum zone of ISO 1101 (from memory).
pub static STRAIGHTNESS: Calculation = Calculation {
    name: "straightness",
    title: "how straight an edge or a shaft is, from readings of height along it",
    formulas: &[
        "zone = max(z − a·x) − min(z − a·x), with the tilt a that makes it least",
        "proof: zone = Σ weight·z of the high readings − Σ weight·z of the low ones",
        "least squares: the same about the line for which Σ(z − c − a·x)² is least",
        "across the edge: zone/√(1 + a²)",
    ],
    symbols: &[("a", "tilt of the zone, mm for each mm")],
    valid: &["2 to 10 000 readings, not all at one place", EXACTLY],
    warnings: &[
        ALONG,
        INDICATOR,
        "only places that were read count",
        "least squares never gives less than the minimum zone; compare like with like",
    ],
    sources: &[SOURCE],
    inputs: &[
        HEIGHTS,
        step("step", "step from one reading to the next").optional("then give `x`"),
        places("x", "x", "place of each reading").optional("then give `step`"),
    ],
    outputs: &[
        Output::figure("zone", "least zone that holds all readings", MM),
        Output::figure("zone_across", "the same measured across the edge", MM),
        Output::figure("least_squares", "zone about the line of least squares", MM),
        Output::figure("least_squares_across", "the same measured across the edge", MM),
        Output::figure("tilt", "tilt of the least zone", SLOPE),
    ],
    held: Some(Held { at_least: "zone", at_most: "zone" }),
    example: &[("heights", "0 2 5 4 1 -1 3 4 µm"), ("step", "100 mm"), ("at_most", "0.01 mm")],
    run: straightness,
};

fn flatness(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let heights = known.exact_list("heights");
    let grid = ["columns", "step_x", "step_y"].map(|name| known.has(name));
    let free = ["x", "y"].map(|name| known.has(name));
    let places: Vec<Vec<Exact>> = match (grid, free) {
        ([true, true, true], [false, false]) => on_grid(
            heights.len(),
            known.count("columns")?,
            [known.exact("step_x")?, known.exact("step_y")?],
        )?,
        ([false, false, false], [true, true]) => {
            let (x, y) = (known.exact_list("x"), known.exact_list("y"));
            alike(&[("heights", heights.len()), ("x", x.len()), ("y", y.len())])?;
            x.into_iter().zip(y).map(|(x, y)| vec![x, y]).collect()
        }
        _ => {
            let text = "say where the readings were taken: either `columns`, `step_x` and `step_y` for a \
                        grid read row by row, or lists `x` and `y`, and not both";
            return Err(CalcRefusal::Together(text.to_owned()));
        }
    };
    let readings = readings(places, heights);
    let columns = known.has("columns").then(|| known.count("columns")).transpose()?;
    let name = |i: usize| match columns.and_then(|columns| usize::try_from(columns).ok()) {
        Some(columns) if columns > 0 => {
            format!("reading {} (row {}, column {})", i + 1, i / columns + 1, i % columns + 1)
        }
        _ => format!("reading {}", i + 1),
    };
    let refusal = || {
        CalcRefusal::Impossible(if readings.len() < 3 {
            format!("{} readings do not fix a plane; a face needs 3 or more", readings.len())
        } else {
            "the readings lie on one line in plan: they say nothing about the tilt across it, so a face \
             cannot be judged by them; read beside that line too, or take `straightness`"
                .to_owned()
        })
    };
    let zone = least_zone(&readings).ok_or_else(refusal)?;
    let fit = least_squares(&readings).ok_or_else(refusal)?;
    Ok(sheet(
        &readings,
        &zone,
        &fit,
        &Words { name: &name, tilts: &["tilt_x", "tilt_y"], formulas: FACE },
    ))
}

fn straightness(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let heights = known.exact_list("heights");
    let places: Vec<Vec<Exact>> = match (known.exact_maybe("step"), known.has("x")) {
        (Some(step), false) => (0..heights.len()).map(|i| vec![&step * BigInt::from(i)]).collect(),
        (None, true) => {
            let x = known.exact_list("x");
            alike(&[("heights", heights.len()), ("x", x.len())])?;
            x.into_iter().map(|x| vec![x]).collect()
        }
        _ => {
            let text = "say where the readings were taken: either the `step` between them, or a list `x`, \
                        and not both";
            return Err(CalcRefusal::Together(text.to_owned()));
        }
    };
    let readings = readings(places, heights);
    let refusal = || {
        CalcRefusal::Impossible(
            "readings at one place do not fix a line; an edge needs readings at 2 places or more"
                .to_owned(),
        )
    };
    let zone = least_zone(&readings).ok_or_else(refusal)?;
    let fit = least_squares(&readings).ok_or_else(refusal)?;
    let name = |i: usize| format!("reading {}", i + 1);
    Ok(sheet(&readings, &zone, &fit, &Words { name: &name, tilts: &["tilt"], formulas: EDGE }))
}

fn readings(places: Vec<Vec<Exact>>, heights: Vec<Exact>) -> Vec<Reading> {
    places.into_iter().zip(heights).map(|(at, height)| Reading { at, height }).collect()
}

fn on_grid(
    n: usize,
    columns: u32,
    [step_x, step_y]: [Exact; 2],
) -> Result<Vec<Vec<Exact>>, CalcRefusal> {
    let columns = usize::try_from(columns).unwrap_or(usize::MAX).max(1);
    if !n.is_multiple_of(columns) {
        return Err(CalcRefusal::Together(format!(
            "{n} `heights` do not fill rows of {columns} `columns`; one reading for each place is asked for, \
             row by row"
        )));
    }
    let place =
        |i: usize| vec![&step_x * BigInt::from(i % columns), &step_y * BigInt::from(i / columns)];
    Ok((0..n).map(place).collect())
}

/// Whether lists that belong together have one length.
pub(super) fn alike(lists: &[(&str, usize)]) -> Result<(), CalcRefusal> {
    let mut lengths = lists.iter().map(|(_, len)| len);
    let first = lengths.next();
    if lengths.all(|len| Some(len) == first) {
        return Ok(());
    }
    let told: Vec<String> = lists.iter().map(|(name, len)| format!("`{name}` has {len}")).collect();
    let text = format!("lists that belong together must be of one length: {}", told.join(", "));
    Err(CalcRefusal::Together(text))
}

/// What is said otherwise of a face and of an edge.
struct Words<'a> {
    name: &'a dyn Fn(usize) -> String,
    tilts: &'a [&'static str],
    formulas: [&'static str; 3],
}

const FACE: [&str; 3] = [
    "zone = max(z − a·x − b·y) − min(z − a·x − b·y), a and b so that it is least",
    "max − min of z − c − a·x − b·y, with Σ(z − c − a·x − b·y)² least",
    "zone/√(1 + a² + b²)",
];
const EDGE: [&str; 3] = [
    "zone = max(z − a·x) − min(z − a·x), a so that it is least",
    "max − min of z − c − a·x, with Σ(z − c − a·x)² least",
    "zone/√(1 + a²)",
];

/// The nearest floating-point number.
fn near(exact: &Exact) -> f64 {
    exact.to_f64().unwrap_or(f64::NAN)
}

fn mm(exact: &Exact) -> String {
    shown(near(exact), "mm")
}

fn sheet(readings: &[Reading], zone: &Zone, fit: &Fit, words: &Words<'_>) -> Sheet {
    let mut sheet = Sheet::new();
    let [least, squares, normal] = words.formulas;
    let slopes: Vec<String> = zone.slopes.iter().map(|slope| digits(near(slope), 4)).collect();
    sheet.line(
        format!("least zone of {} readings", readings.len()),
        least,
        format!(
            "tilt {}",
            slopes.join(" along x, ") + if slopes.len() > 1 { " along y" } else { "" }
        ),
        mm(&zone.width),
    );
    let mut sum = String::new();
    for contact in &zone.contacts {
        let Contact { reading, side, weight } = contact;
        let height =
            readings.get(*reading).map_or_else(Exact::zero, |reading| reading.height.clone());
        let sign = match (side, sum.is_empty()) {
            (Side::Top, true) => "",
            (Side::Top, false) => " + ",
            (Side::Bottom, _) => " − ",
        };
        let weight = if *weight == Exact::from_integer(1.into()) {
            String::new()
        } else {
            format!("{}·", digits(near(weight), 4))
        };
        sum.push_str(sign);
        sum.push_str(&weight);
        sum.push_str(&format_signed(&mm(&height)));
    }
    let told: Vec<String> = zone
        .contacts
        .iter()
        .map(|contact| {
            let side = if contact.side == Side::Top { "high" } else { "low" };
            format!("{} {side}", (words.name)(contact.reading))
        })
        .collect();
    if !zone.width.is_zero() {
        sheet.line(
            format!("carried by {}", told.join(", ")),
            "zone = Σ weight·z of the high readings − Σ weight·z of the low ones",
            sum,
            mm(&zone.width),
        );
    }
    let share = across(&zone.slopes);
    let zone_across = near(&zone.width) * share;
    let squares_across = near(&fit.width) * across(&fit.slopes);
    if share < 0.999_95 {
        sheet.line(
            "across it",
            normal,
            format!("{} · {}", mm(&zone.width), digits(share, 6)),
            shown(zone_across, "mm"),
        );
    }
    let fitted: Vec<String> = fit.slopes.iter().map(|slope| digits(near(slope), 4)).collect();
    let figures = format!("c = {}, tilt {}", mm(&fit.height), fitted.join(" and "));
    sheet.line("zone about the fit of least squares", squares, figures, mm(&fit.width));
    for contact in zone.contacts.iter().filter(|_| !zone.width.is_zero()) {
        let sign = if contact.side == Side::Top { "+" } else { "−" };
        let weight = digits(near(&contact.weight), 3);
        sheet.weighs((words.name)(contact.reading), "1 µm more", format!("{sign}{weight} µm"));
    }
    if share < 0.999_95 {
        sheet.warn(format!(
            "the zone stands at a slope to the datum: across the face it is {}; say which is meant",
            shown(zone_across, "mm")
        ));
    }
    sheet.gives("zone", near(&zone.width));
    sheet.gives("zone_across", zone_across);
    sheet.gives("least_squares", near(&fit.width));
    sheet.gives("least_squares_across", squares_across);
    for (name, slope) in words.tilts.iter().zip(&zone.slopes) {
        sheet.gives(name, near(slope));
    }
    sheet
}

/// A figure that may stand behind a sign.
fn format_signed(figure: &str) -> String {
    if figure.starts_with('-') { format!("({figure})") } else { figure.to_owned() }
}

/// What straightedge and feeler tell of a face.
///
/// The largest gap under the edge lies between the thickest leaf that went in and the thinnest that did
/// not: g ≥ max(went) − e, g < max(refused) + e, with the straightedge's own error e. Lengths in mm.
/// Source: common practice; that the gap between two contacts is the straightness of that line follows
/// from the minimum zone.
pub static FEELER_GAP: Calculation = Calculation {
    name: "feeler_gap",
    title: "how far from straight or flat a face is, by straightedge and feeler",
    formulas: &["gap ≥ max(went) − e", "gap < max(stopped) + e"],
    symbols: &[("gap", "largest gap under the straightedge, mm")],
    valid: &[
        "a gap between two places that the straightedge rests on: there it is the straightness of that line",
        "each lay of the straightedge has one leaf in both lists, in the same order",
    ],
    warnings: &[
        "a face may be worse than any one line of it shows: lay the edge along, across and on both diagonals; \
         a twist shows on the diagonals only, and by half of what it is",
        "an edge that rocks on a crown: level it until the gaps at both ends are alike; that gap counts",
        "a leaf that goes in with force is too thick; burrs and paint lift the edge",
    ],
    sources: &["common practice, no source"],
    inputs: &[
        Input::figures(
            "went",
            "",
            "thickest leaf that went in, for each lay of the straightedge",
            MM,
        )
        .from_to("0 mm", "20 mm", "no feeler is thicker; look at the unit"),
        Input::figures("stopped", "", "thinnest leaf that did not go in, for each lay", MM)
            .from_to("0.001 mm", "20 mm", "no feeler is thinner or thicker; look at the unit"),
        Input::figure("edge_error", "e", "how far the straightedge itself may be off", MM)
            .from_to("0 mm", "1 mm", "such an edge is no straightedge")
            .or("0 mm"),
    ],
    outputs: &[
        Output::figure("gap_most", "the gap is less than this", MM),
        Output::figure("gap_least", "the gap is at least this", MM),
    ],
    held: Some(Held { at_least: "gap_least", at_most: "gap_most" }),
    example: &[
        ("went", "0.03 0.05 0.04 0.05 mm"),
        ("stopped", "0.04 0.06 0.05 0.06 mm"),
        ("edge_error", "0.005 mm"),
        ("at_most", "0.1 mm"),
    ],
    run: feeler_gap,
};

fn feeler_gap(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (went, stopped) = (known.exact_list("went"), known.exact_list("stopped"));
    alike(&[("went", went.len()), ("stopped", stopped.len())])?;
    if let Some(lay) = went.iter().zip(&stopped).position(|(went, stopped)| went >= stopped) {
        return Err(CalcRefusal::Impossible(format!(
            "at lay {} the leaf that did not go in is no thicker than the one that did; look at `went` and \
             `stopped`",
            lay + 1
        )));
    }
    let error = known.exact("edge_error")?;
    let most = |leaves: &[Exact]| leaves.iter().max().cloned().unwrap_or_else(Exact::zero);
    let (thickest, above) = (most(&went), most(&stopped));
    let least = (&thickest - &error).max(Exact::zero());
    let below = &above + &error;
    let mut sheet = Sheet::new();
    sheet.line(
        "the gap is less than",
        "max(stopped) + e",
        format!("{} + {}", mm(&above), mm(&error)),
        mm(&below),
    );
    sheet.line(
        "the gap is at least",
        "max(went) − e",
        format!("{} − {}", mm(&thickest), mm(&error)),
        mm(&least),
    );
    if let Some(limit) = known.exact_maybe(AT_MOST)
        && least <= limit
        && below > limit
    {
        sheet.warn(format!(
            "the limit of {} lies between what went in and what did not: not decided; try a leaf of just that \
             thickness",
            mm(&limit)
        ));
    }
    if went.len() < 4 {
        sheet.warn(
            "fewer than four lays: along, across and both diagonals are the least for a face",
        );
    }
    sheet.gives("gap_most", near(&below));
    sheet.gives("gap_least", near(&least));
    Ok(sheet)
}
