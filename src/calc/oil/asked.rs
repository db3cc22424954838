//! The oil calculations by name: inputs, results, working.

use super::{
    COUNTED_MIN, Count, Grade, Graded, ViscosityLine, ViscosityPoint, cleanliness, grade,
    scale_limits, scale_number, viscosity_index,
};
use crate::calc::declare::{Calculation, Held, Input, Output};
use crate::calc::figure::{digits, shown};
use crate::calc::perform::Known;
use crate::calc::refusal::CalcRefusal;
use crate::calc::working::Sheet;
use crate::units::Dimension;

const NUMBER: (Dimension, &str) = (Dimension::Number, "");
const CELSIUS: (Dimension, &str) = (Dimension::Temperature, "°C");
const MM2: (Dimension, &str) = (Dimension::KinematicViscosity, "mm²/s");

/// Square millimetres in a square metre.
const PER_M2: u32 = 1_000_000;

const LINE_ENDS: &str = "the straight line of viscosity over temperature holds from 2 mm²/s up";
const PETROLEUM: &str = "it holds for petroleum oils; polyglycols, esters and thickened oils may be otherwise: take the maker's \
    curve for those";

const fn viscosity(name: &'static str, symbol: &'static str, what: &'static str) -> Input {
    Input::figure(name, symbol, what, MM2).from_to("2 mm²/s", "20000000 mm²/s", LINE_ENDS)
}

const fn temperature(name: &'static str, symbol: &'static str, what: &'static str) -> Input {
    let ends = "the chart for petroleum oils ends at −70 °C and 370 °C";
    Input::figure(name, symbol, what, CELSIUS).from_to("-70 °C", "370 °C", ends)
}

/// A kinematic viscosity as it was typed, in mm²/s.
fn as_typed(known: &Known<'_>, name: &'static str) -> Result<f64, CalcRefusal> {
    known.spread_in(name, PER_M2).map(|ends| ends.low).ok_or_else(|| known.missing(name))
}

/// The viscosity of a petroleum oil at a temperature.
///
/// log10 log10(ν + 0.7) = A − B·log10 T through two points; ν in mm²/s, T in kelvins. From 2 mm²/s, −70 to 370 °C. Warns
/// beyond the two points, and of oils that are no petroleum oils. Source: the form of ASTM D341 as restated in public.
pub static OIL_VISCOSITY: Calculation = Calculation {
    name: "oil_viscosity",
    title: "how thick a petroleum oil is at a temperature",
    formulas: &[
        "log10 log10(ν + 0.7) = A − B·log10 T",
        "B = (y1 − y2)/(log10 T2 − log10 T1), A = y1 + B·log10 T1, y = log10 log10(ν + 0.7)",
    ],
    symbols: &[
        ("ν", "kinematic viscosity, as a number of mm²/s (the old centistokes)"),
        ("T, T1, T2", "temperatures in kelvins: °C + 273.15"),
        ("A, B", "what the two points of the data sheet give"),
    ],
    valid: &["petroleum oils of 2 mm²/s and more, −70 to 370 °C, without water or solvent in them"],
    warnings: &[
        PETROLEUM,
        "beyond the two points the line is carried on: said so where it is",
        "near its pour point an oil is thicker than any line says",
    ],
    sources: &["the form of ASTM D341 as restated in public; the practice itself was not read"],
    inputs: &[
        viscosity("viscosity_1", "ν1", "viscosity at the first temperature, by the data sheet"),
        viscosity("viscosity_2", "ν2", "viscosity at the second temperature, by the data sheet"),
        temperature("temperature", "T", "temperature asked for"),
        temperature("temperature_1", "T1", "first temperature of the data sheet").or("40 °C"),
        temperature("temperature_2", "T2", "second temperature of the data sheet").or("100 °C"),
    ],
    outputs: &[Output::figure("viscosity", "kinematic viscosity at that temperature", MM2)],
    held: Some(Held { at_least: "viscosity", at_most: "viscosity" }),
    example: &[
        ("viscosity_1", "46 mm²/s"),
        ("viscosity_2", "6.78 mm²/s"),
        ("temperature", "20 °C"),
    ],
    run: oil_viscosity,
};

fn oil_viscosity(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let point = |temperature, viscosity| {
        let (temperature, viscosity) = (known.figure(temperature)?, as_typed(known, viscosity)?);
        Ok::<_, CalcRefusal>(ViscosityPoint { temperature, viscosity })
    };
    let (one, other) =
        (point("temperature_1", "viscosity_1")?, point("temperature_2", "viscosity_2")?);
    let line = ViscosityLine::through(one, other)?;
    let t = known.figure("temperature")?;
    let read = line.at(t)?;
    let mut sheet = Sheet::new();
    sheet.line(
        "the line through two points",
        "log10 log10(ν + 0.7) = A − B·log10 T",
        format!(
            "{} at {}, {} at {}",
            known.shown("viscosity_1"),
            known.shown("temperature_1"),
            known.shown("viscosity_2"),
            known.shown("temperature_2")
        ),
        format!("A = {}, B = {}", digits(line.a, 6), digits(line.b, 6)),
    );
    let viscosity = read.viscosity / f64::from(PER_M2);
    sheet.line(
        "viscosity",
        "ν = 10^(10^(A − B·log10 T)) − 0.7",
        format!(
            "10^(10^({} − {} · log10 {})) − 0.7",
            digits(line.a, 6),
            digits(line.b, 6),
            digits(t, 5)
        ),
        shown(viscosity, "mm²/s"),
    );
    sheet.warn(PETROLEUM);
    if read.extrapolated {
        sheet.warn("the temperature lies beyond the two points: the line is carried on, a guess");
    }
    sheet.gives("viscosity", viscosity);
    Ok(sheet)
}

const AT_40: Input = viscosity("viscosity_40", "U", "kinematic viscosity at 40 °C");

/// The viscosity index of a petroleum oil.
///
/// VI = 100·(L − U)/(L − H) up to 100; above it VI = 100 + (10^N − 1)/0.00715, N = (log10 H − log10 U)/log10 Y. U, Y, L
/// and H in mm²/s. From Y = 2 mm²/s. Source: ASTM D2270, L and H by equations from memory.
pub static VISCOSITY_INDEX: Calculation = Calculation {
    name: "viscosity_index",
    title: "how little an oil thins when it warms up",
    formulas: &[
        "VI = 100·(L − U)/(L − H) up to 100",
        "VI = 100 + (10^N − 1)/0.00715, N = (log10 H − log10 U)/log10 Y above 100",
    ],
    symbols: &[
        ("VI", "viscosity index; the higher, the less it thins"),
        (
            "L, H",
            "viscosity at 40 °C of oils of index 0 and of index 100 that are alike at 100 °C, mm²/s",
        ),
    ],
    valid: &["petroleum oils of 2 mm²/s and more at 100 °C"],
    warnings: &[PETROLEUM, "the practice reads a table: unrounded, the index may differ by 0.1"],
    sources: &[
        "ASTM D2270; L and H by the equations beside its table, coefficients from memory: they meet the table of a \
        public library within 0.12 %",
    ],
    inputs: &[
        AT_40,
        Input::figure("viscosity_100", "Y", "kinematic viscosity at 100 °C", MM2).from_to(
            "2 mm²/s",
            "1000 mm²/s",
            "ASTM D2270 begins at 2 mm²/s",
        ),
    ],
    outputs: &[
        Output::figure(
            "viscosity_index",
            "viscosity index as it is stated, a whole number",
            NUMBER,
        ),
        Output::figure("unrounded", "the same before rounding", NUMBER),
    ],
    held: Some(Held { at_least: "viscosity_index", at_most: "viscosity_index" }),
    example: &[("viscosity_40", "46 mm²/s"), ("viscosity_100", "6.78 mm²/s")],
    run: run_viscosity_index,
};

fn run_viscosity_index(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let (u, y) = (as_typed(known, "viscosity_40")?, as_typed(known, "viscosity_100")?);
    let index = viscosity_index(u, y)?;
    let mut sheet = Sheet::new();
    let [at_40, at_100] = [u, y].map(|nu| digits(nu, 6));
    let [l, h] = [index.l, index.h].map(|nu| digits(nu, 6));
    sheet.line(
        "oils of index 0 and 100 that are alike at 100 °C",
        "L and H by the equations beside the table of ASTM D2270",
        format!("Y = {at_100} mm²/s"),
        format!("L = {l} mm²/s, H = {h} mm²/s"),
    );
    let (formula, figures) = if u >= index.h {
        ("VI = 100·(L − U)/(L − H)", format!("100 · ({l} − {at_40}) / ({l} − {h})"))
    } else {
        (
            "VI = 100 + (10^N − 1)/0.00715, N = (log10 H − log10 U)/log10 Y",
            format!("N = (log10 {h} − log10 {at_40}) / log10 {at_100}"),
        )
    };
    let result = format!("{}, stated {}", digits(index.exact, 5), digits(index.stated, 5));
    sheet.line("viscosity index", formula, figures, result);
    sheet.warn(PETROLEUM);
    sheet.gives("viscosity_index", index.stated);
    sheet.gives("unrounded", index.exact);
    Ok(sheet)
}

/// The ISO VG grade of an oil.
///
/// A grade takes its midpoint ± 10 % at 40 °C, both limits among it; mm²/s. ISO VG 2 to 3200. Source: ISO 3448 as
/// restated in public; VG 2200 and 3200 from memory.
pub static VISCOSITY_GRADE: Calculation = Calculation {
    name: "viscosity_grade",
    title: "which ISO VG grade an oil is",
    formulas: &["least = 0.9·midpoint, greatest = 1.1·midpoint, both among the grade"],
    symbols: &[(
        "midpoint",
        "near the number after ISO VG: 2.2, 3.2, 4.6, 6.8, 10, 15, 22, 32, 46, 68, 100 and on, mm²/s",
    )],
    valid: &["ISO VG 2 to 3200; between grades there are gaps, and an oil in one has no grade"],
    warnings: &[
        "used oil that left its grade is thinned, oxidised or mixed: the figure does not say which",
    ],
    sources: &["ISO 3448 as restated in public; VG 2200 and 3200 from memory"],
    inputs: &[Input::figure("viscosity_40", "ν", "kinematic viscosity at 40 °C", MM2)
        .from_to("0.1 mm²/s", "100000 mm²/s", "no oil is thinner or thicker; look at the unit")
        .weightless()],
    outputs: &[
        Output::text("grade", "the grade, or between which it lies"),
        Output::figure("number", "the number after ISO VG", NUMBER).unless("between grades"),
        Output::figure("least", "least viscosity of the grade", MM2).unless("between grades"),
        Output::figure("greatest", "greatest viscosity of the grade", MM2).unless("between grades"),
    ],
    held: None,
    example: &[("viscosity_40", "33.5 mm²/s")],
    run: run_viscosity_grade,
};

fn run_viscosity_grade(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let nu = as_typed(known, "viscosity_40")?;
    let mut sheet = Sheet::new();
    let typed = known.shown("viscosity_40");
    match grade(nu)? {
        Graded::Within(found) => {
            let Grade { number, midpoint, min, max } = found;
            let [low, high] = [min, max].map(|nu| format!("{} mm²/s", digits(nu, 6)));
            sheet.line(
                "grade",
                "0.9·midpoint ≤ ν ≤ 1.1·midpoint",
                format!("0.9 · {m} ≤ {typed} ≤ 1.1 · {m}", m = digits(midpoint, 6)),
                format!("{found}: {low} to {high}"),
            );
            sheet.weighs(
                "viscosity_40",
                format!("below {low} or above {high}"),
                "leaves the grade",
            );
            sheet.gives_word("grade", found.to_string());
            sheet.gives("number", f64::from(number));
            sheet.gives("least", min / f64::from(PER_M2));
            sheet.gives("greatest", max / f64::from(PER_M2));
        }
        Graded::Between { below, above } => {
            let text = match (below, above) {
                (Some(below), Some(above)) => format!("none, between {below} and {above}"),
                (Some(below), None) => format!("none, above {below}"),
                (None, Some(above)) => format!("none, below {above}"),
                (None, None) => "none".to_owned(),
            };
            sheet.line("grade", "0.9·midpoint ≤ ν ≤ 1.1·midpoint", typed, text.clone());
            sheet.warn("it lies in the gap between grades: it is none of them");
            sheet.gives_word("grade", text);
        }
    }
    Ok(sheet)
}

/// The sizes that are counted: input, how many were counted, result, what they are.
const SIZES: [[&str; 4]; 3] = [
    ["count_4", "counted_4", "number_4", "4 µm"],
    ["count_6", "counted_6", "number_6", "6 µm"],
    ["count_14", "counted_14", "number_14", "14 µm"],
];

const fn per_ml(name: &'static str, what: &'static str) -> Input {
    Input::figure(name, "", what, NUMBER)
        .from_to("0", "1000000000", "a millilitre cannot hold more")
        .weightless()
        .optional("a dash stands in its place")
}

const fn counted(name: &'static str, what: &'static str) -> Input {
    Input::count(name, "", what)
        .from_to("0", "1000000000", "a sample has no more")
        .weightless()
        .optional("they are taken as enough")
}

const fn scale(name: &'static str, what: &'static str) -> Output {
    Output::figure(name, what, NUMBER).unless("without its count, or above 28")
}

/// The cleanliness code of an oil from its particle counts.
///
/// A scale number takes more than the limit below, up to and including its own; particles per millilitre. 0 to 28.
/// Warns of few particles and of counts that contradict each other. Source: ISO 4406 as restated in public.
pub static CLEANLINESS_CODE: Calculation = Calculation {
    name: "cleanliness_code",
    title: "the cleanliness code of an oil from its particle counts",
    formulas: &[
        "scale number: more than the limit of the number below, up to and including its own",
    ],
    symbols: &[(
        "limits",
        "about twice the one before: 28 ends at 2 500 000 in a millilitre, 18 at 2500, 7 at 1.3, 0 at 0.01",
    )],
    valid: &[
        "particles of 4, 6 and 14 µm(c) and larger in a millilitre, each count with all larger ones in it",
    ],
    warnings: &[
        "one number up is twice the dirt; a sample bottle that was not clean shows as dirty oil",
        "fewer than 20 particles counted in all: the number is uncertain, and written with ≥",
        "water drops and air bubbles are counted as particles",
    ],
    sources: &[
        "ISO 4406 as restated in public (1999 and 2017); the limit of 28 and >28 above it from memory",
    ],
    inputs: &[
        per_ml("count_4", "particles of 4 µm(c) and larger in a millilitre"),
        per_ml("count_6", "particles of 6 µm(c) and larger in a millilitre"),
        per_ml("count_14", "particles of 14 µm(c) and larger in a millilitre"),
        counted("counted_4", "particles of 4 µm and larger that were counted in all"),
        counted("counted_6", "particles of 6 µm and larger that were counted in all"),
        counted("counted_14", "particles of 14 µm and larger that were counted in all"),
    ],
    outputs: &[
        Output::text("code", "the code"),
        scale("number_4", "scale number at 4 µm"),
        scale("number_6", "scale number at 6 µm"),
        scale("number_14", "scale number at 14 µm"),
    ],
    held: None,
    example: &[("count_4", "3000"), ("count_6", "500"), ("count_14", "7"), ("counted_14", "700")],
    run: cleanliness_code,
};

fn cleanliness_code(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let counts = SIZES.map(|[per_ml, counted, ..]| {
        let per_ml = known.maybe(per_ml)?;
        Some(Count { per_ml, counted: known.count(counted).ok() })
    });
    let code = cleanliness(counts)?;
    let mut sheet = Sheet::new();
    for (count, [input, _, output, size]) in counts.into_iter().zip(SIZES) {
        let Some(Count { per_ml, counted }) = count else { continue };
        let what = format!("{size} and larger");
        let number = scale_number(per_ml)?;
        let Some((number, (low, high))) = number.and_then(|n| Some((n, scale_limits(n)?))) else {
            sheet.line(what, "above the limit of 28", known.shown(input), ">28");
            continue;
        };
        let [low, high] = [low, high].map(|limit| digits(limit, 4));
        sheet.line(
            what,
            format!("more than {low}, up to and including {high}"),
            known.shown(input),
            number.to_string(),
        );
        sheet.weighs(
            input,
            format!("above {high}"),
            format!("{} in place of {number}", number + 1),
        );
        if counted.is_some_and(|counted| counted < COUNTED_MIN) {
            let text = format!(
                "fewer than {COUNTED_MIN} particles of {size} were counted: its number is uncertain"
            );
            sheet.warn(text);
        }
        sheet.gives(output, u32::try_from(number).map_or(f64::NAN, f64::from));
    }
    if code.out_of_order {
        sheet.warn(
            "a larger size has more particles than a smaller one, though each count holds all larger ones: look at the \
             counts",
        );
    }
    sheet.line("cleanliness code", "the three numbers in a row", "", code.code.clone());
    sheet.gives_word("code", code.code);
    Ok(sheet)
}
