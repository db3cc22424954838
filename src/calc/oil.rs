//! Oil: viscosity at a temperature, viscosity index, viscosity grade, cleanliness code.
//!
//! For petroleum oils. Synthetic oils with a high share of additives, water in oil and greases may be
//! otherwise; whether an oil fits a machine is for its maker to say.

mod asked;

use std::fmt;

pub use self::asked::{CLEANLINESS_CODE, OIL_VISCOSITY, VISCOSITY_GRADE, VISCOSITY_INDEX};

use super::bounds::{Bounds, Outside};
use super::refusal::CalcRefusal;

/// The least kinematic viscosity that the short form of ASTM D341 holds for, in mm²/s.
pub const VISCOSITY_MIN: f64 = 2.0;

const VISCOSITY: Bounds = Bounds {
    what: "the kinematic viscosity",
    low: VISCOSITY_MIN,
    high: 2e7,
    unit: "mm²/s",
    because: "the straight line of viscosity over temperature holds from 2 mm²/s up",
};

const TEMPERATURE: Bounds = Bounds {
    what: "the temperature of the oil",
    low: 203.15,
    high: 643.15,
    unit: "K",
    because: "the chart for petroleum oils ends at −70 °C and 370 °C",
};

/// Why no figure can be given for an oil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OilRefusal {
    /// A figure out of its range.
    Outside(Outside),
    /// Both points of the line have the same temperature.
    SameTemperature(f64),
    /// The oil is said to be as thick or thicker when it is warmer.
    ThickerWhenWarmer,
    /// There is no count in the sample.
    NothingCounted,
}

impl fmt::Display for OilRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outside(outside) => outside.fmt(f),
            Self::SameTemperature(kelvins) => write!(
                f,
                "both viscosities are for {:.2} °C: two temperatures are needed to draw the line",
                kelvins - super::water::FREEZING_K
            ),
            Self::ThickerWhenWarmer => f.write_str(
                "the viscosity does not fall with temperature, which every petroleum oil's does: \
                 look whether the two figures were exchanged",
            ),
            Self::NothingCounted => {
                f.write_str("no size has a count: at least one of 4, 6 and 14 µm is needed")
            }
        }
    }
}

impl std::error::Error for OilRefusal {}

impl From<OilRefusal> for CalcRefusal {
    fn from(refusal: OilRefusal) -> Self {
        Self::Impossible(refusal.to_string())
    }
}

impl From<Outside> for OilRefusal {
    fn from(outside: Outside) -> Self {
        Self::Outside(outside)
    }
}

/// A kinematic viscosity at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscosityPoint {
    /// In kelvins.
    pub temperature: f64,
    /// In mm²/s (centistokes).
    pub viscosity: f64,
}

/// The line through two points on the paper of ASTM D341.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscosityLine {
    /// The constant A.
    pub a: f64,
    /// The slope B.
    pub b: f64,
    low: f64,
    high: f64,
}

/// A viscosity read off the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineViscosity {
    /// In mm²/s.
    pub viscosity: f64,
    /// The temperature lies outside of the two points: the line is carried on beyond what is known.
    pub extrapolated: bool,
}

impl ViscosityLine {
    /// Draws the line through the viscosities at two temperatures.
    ///
    /// Formula: `log10 log10(ν + 0.7) = A − B·log10 T`, ν in mm²/s, T in kelvins; the form of ASTM D341
    /// for 2 mm²/s and more, which was not read itself but in public restatements. For petroleum oils.
    pub fn through(one: ViscosityPoint, other: ViscosityPoint) -> Result<Self, OilRefusal> {
        let (cold, warm) =
            if one.temperature <= other.temperature { (one, other) } else { (other, one) };
        let log = |t| TEMPERATURE.take(t).map(libm::log10);
        let (x_cold, x_warm) = (log(cold.temperature)?, log(warm.temperature)?);
        let (y_cold, y_warm) = (height(cold.viscosity)?, height(warm.viscosity)?);
        if x_warm <= x_cold {
            return Err(OilRefusal::SameTemperature(cold.temperature));
        }
        if y_warm >= y_cold {
            return Err(OilRefusal::ThickerWhenWarmer);
        }
        let b = (y_cold - y_warm) / (x_warm - x_cold);
        Ok(Self { a: y_cold + b * x_cold, b, low: cold.temperature, high: warm.temperature })
    }

    /// The viscosity at a temperature in kelvins, refused where it is less than 2 mm²/s.
    pub fn at(&self, temperature: f64) -> Result<LineViscosity, OilRefusal> {
        let t = TEMPERATURE.take(temperature)?;
        let z = power_of_ten(power_of_ten(self.a - self.b * libm::log10(t)));
        let viscosity = VISCOSITY.take(z - 0.7)?;
        Ok(LineViscosity { viscosity, extrapolated: t < self.low || t > self.high })
    }
}

fn height(viscosity: f64) -> Result<f64, Outside> {
    Ok(libm::log10(libm::log10(VISCOSITY.take(viscosity)? + 0.7)))
}

fn power_of_ten(exponent: f64) -> f64 {
    libm::pow(10.0, exponent)
}

/// A stretch of viscosity at 100 °C and the parabolas over it: `L = a·Y² + b·Y + c`, `H = d·Y² + e·Y + f`.
struct Stretch {
    to: f64,
    l: [f64; 3],
    h: [f64; 3],
}

const fn stretch(to: f64, l: [f64; 3], h: [f64; 3]) -> Stretch {
    Stretch { to, l, h }
}

/// The equations that ASTM D2270 gives beside its table. From memory; they meet the table, as a public
/// library has it, within 0.12 % at all its 311 rows.
const STRETCHES: [Stretch; 16] = [
    stretch(3.8, [1.146_73, 1.7576, -0.109], [0.841_55, 1.5521, -0.077]),
    stretch(4.4, [3.380_95, -15.4952, 33.196], [0.785_71, 1.7929, -0.183]),
    stretch(5.0, [2.5, -7.2143, 13.812], [0.821_43, 1.5679, 0.119]),
    stretch(6.4, [0.101, 16.635, -45.469], [0.049_85, 9.1613, -18.557]),
    stretch(7.0, [3.357_14, -23.5643, 78.466], [0.226_19, 7.7369, -16.656]),
    stretch(7.7, [0.011_91, 21.475, -72.87], [0.797_62, -0.7321, 14.61]),
    stretch(9.0, [0.418_58, 16.1558, -56.04], [0.057_94, 10.5156, -28.24]),
    stretch(12.0, [0.887_79, 7.5527, -16.6], [0.266_65, 6.7015, -10.81]),
    stretch(15.0, [0.7672, 10.7972, -38.18], [0.200_73, 8.4658, -22.49]),
    stretch(18.0, [0.973_05, 5.3135, -2.2], [0.288_89, 5.9741, -4.93]),
    stretch(22.0, [0.972_56, 5.25, -0.98], [0.245_04, 7.416, -16.73]),
    stretch(28.0, [0.914_13, 7.4759, -21.82], [0.203_23, 9.1267, -34.23]),
    stretch(40.0, [0.870_31, 9.7157, -50.77], [0.184_11, 10.1015, -46.75]),
    stretch(55.0, [0.847_03, 12.6752, -133.31], [0.170_29, 11.4866, -80.62]),
    stretch(70.0, [0.859_21, 11.1009, -83.19], [0.1713, 11.368, -76.94]),
    stretch(f64::INFINITY, [0.835_31, 14.6731, -216.246], [0.168_41, 11.8493, -96.947]),
];

/// A viscosity index with what it was reckoned from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscosityIndex {
    /// The index before rounding.
    pub exact: f64,
    /// The index as it is stated, a whole number.
    pub stated: f64,
    /// The viscosity at 40 °C of the oil of index 0 that is alike at 100 °C, in mm²/s.
    pub l: f64,
    /// The same for the oil of index 100, in mm²/s.
    pub h: f64,
}

/// The viscosity index of a petroleum oil.
///
/// Formulas: up to 100 `VI = 100·(L − U)/(L − H)`; above it `VI = 100 + (10^N − 1)/0.00715` with
/// `N = (log10 H − log10 U)/log10 Y`. U at 40 °C, Y at 100 °C in mm²/s; L and H by the equations beside
/// the table of ASTM D2270 (coefficients from memory, see the source). Valid from Y = 2 mm²/s.
/// The practice reads a table: now and then its unrounded index differs by 0.1.
pub fn viscosity_index(at_40: f64, at_100: f64) -> Result<ViscosityIndex, OilRefusal> {
    let u = VISCOSITY.take(at_40)?;
    let y = Bounds {
        what: "the viscosity at 100 °C",
        high: 1000.0,
        because: "ASTM D2270 begins at 2 mm²/s",
        ..VISCOSITY
    }
    .take(at_100)?;
    if y >= u {
        return Err(OilRefusal::ThickerWhenWarmer);
    }
    let parabola = |[square, line, fixed]: [f64; 3]| (square * y + line) * y + fixed;
    let [.., last] = &STRETCHES;
    let Stretch { l, h, .. } = STRETCHES.iter().find(|s| y <= s.to).unwrap_or(last);
    let (l, h) = (parabola(*l), parabola(*h));
    let exact = if u >= h {
        100.0 * (l - u) / (l - h)
    } else {
        let power = (libm::log10(h) - libm::log10(u)) / libm::log10(y);
        100.0 + (power_of_ten(power) - 1.0) / 0.007_15
    };
    Ok(ViscosityIndex { exact, stated: libm::rint(exact), l, h })
}

/// The midpoints of ISO 3448 in hundredths of mm²/s, by the number of the grade. 2200 and 3200 are from
/// memory, the others from public restatements.
const GRADES: [(u32, u32); 20] = [
    (2, 220),
    (3, 320),
    (5, 460),
    (7, 680),
    (10, 1000),
    (15, 1500),
    (22, 2200),
    (32, 3200),
    (46, 4600),
    (68, 6800),
    (100, 10_000),
    (150, 15_000),
    (220, 22_000),
    (320, 32_000),
    (460, 46_000),
    (680, 68_000),
    (1000, 100_000),
    (1500, 150_000),
    (2200, 220_000),
    (3200, 320_000),
];

/// A viscosity grade of ISO 3448.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grade {
    /// The number after `ISO VG`.
    pub number: u32,
    /// The midpoint at 40 °C, in mm²/s.
    pub midpoint: f64,
    /// The least viscosity at 40 °C: the midpoint less 10 %.
    pub min: f64,
    /// The greatest viscosity at 40 °C: the midpoint and 10 %.
    pub max: f64,
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ISO VG {}", self.number)
    }
}

/// What ISO 3448 has for a viscosity at 40 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Graded {
    /// Within the limits of this grade.
    Within(Grade),
    /// Between two grades, or beyond the last on a side: the neighbours.
    Between {
        /// The grade below, if there is one.
        below: Option<Grade>,
        /// The grade above, if there is one.
        above: Option<Grade>,
    },
}

/// All grades, from thin to thick.
pub fn grades() -> impl DoubleEndedIterator<Item = Grade> {
    // Whole numbers first, so that 1.98 is the 1.98 that people type.
    GRADES.iter().map(|&(number, hundredths)| Grade {
        number,
        midpoint: f64::from(hundredths) / 100.0,
        min: f64::from(hundredths * 90) / 10_000.0,
        max: f64::from(hundredths * 110) / 10_000.0,
    })
}

/// The viscosity grade of ISO 3448 that a viscosity at 40 °C belongs to.
///
/// Rule: a grade takes its midpoint ± 10 %, both limits among it; there are gaps between grades.
/// `at_40` in mm²/s.
pub fn grade(at_40: f64) -> Result<Graded, OilRefusal> {
    let nu = Bounds {
        low: f64::MIN_POSITIVE,
        because: "a liquid has a viscosity above zero",
        ..VISCOSITY
    }
    .take(at_40)?;
    if let Some(grade) = grades().find(|grade| (grade.min..=grade.max).contains(&nu)) {
        return Ok(Graded::Within(grade));
    }
    let below = grades().rev().find(|grade| grade.max < nu);
    Ok(Graded::Between { below, above: grades().find(|grade| grade.min > nu) })
}

/// The upper limits of the scale numbers 0 to 28 of ISO 4406, in particles per millilitre.
const SCALE: [f64; 29] = [
    0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0,
    640.0, 1300.0, 2500.0, 5000.0, 1e4, 2e4, 4e4, 8e4, 1.6e5, 3.2e5, 6.4e5, 1.3e6, 2.5e6,
];

/// Fewer particles than this in the whole sample make a scale number uncertain; written with `≥`.
pub const COUNTED_MIN: u32 = 20;

/// How many particles of a size and larger there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Count {
    /// Per millilitre of oil.
    pub per_ml: f64,
    /// How many were counted in fact, if it is known.
    pub counted: Option<u32>,
}

/// A cleanliness code of ISO 4406.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cleanliness {
    /// The code, such as `19/16/10`; `-` stands for a size without a count.
    pub code: String,
    /// A larger size has more particles than a smaller one, which cannot be: the counts include all
    /// larger particles.
    pub out_of_order: bool,
}

/// The scale number of ISO 4406 for a count: 0 to 28, `None` above.
///
/// Rule: more than the limit below, up to and including the limit of the number. The limit of 28,
/// 2.5 million per millilitre, and `>28` above it are from memory. `per_ml` is particles per millilitre.
pub fn scale_number(per_ml: f64) -> Result<Option<usize>, OilRefusal> {
    let count = Bounds {
        what: "the count",
        low: 0.0,
        high: 1e12,
        unit: "particles/mL",
        because: "a millilitre cannot hold more",
    }
    .take(per_ml)?;
    Ok(SCALE.iter().position(|&limit| count <= limit))
}

/// The limits of a scale number: more than the first, up to and including the second, per millilitre.
fn scale_limits(number: usize) -> Option<(f64, f64)> {
    let below = number.checked_sub(1).and_then(|below| SCALE.get(below)).copied();
    Some((below.unwrap_or(0.0), *SCALE.get(number)?))
}

/// The cleanliness code from the counts at 4, 6 and 14 µm(c) and larger.
///
/// Source: ISO 4406, the table of scale numbers as restated in public (1999 and 2017 editions).
pub fn cleanliness(counts: [Option<Count>; 3]) -> Result<Cleanliness, OilRefusal> {
    if counts.iter().all(Option::is_none) {
        return Err(OilRefusal::NothingCounted);
    }
    let mut parts = Vec::new();
    for count in counts {
        parts.push(match count {
            None => "-".to_owned(),
            Some(Count { per_ml, counted }) => {
                let few = counted.is_some_and(|counted| counted < COUNTED_MIN);
                let mark = if few { "≥" } else { "" };
                match scale_number(per_ml)? {
                    Some(number) => format!("{mark}{number}"),
                    None => ">28".to_owned(),
                }
            }
        });
    }
    let given: Vec<f64> = counts.iter().flatten().map(|count| count.per_ml).collect();
    let out_of_order = given.iter().zip(given.iter().skip(1)).any(|(small, large)| large > small);
    Ok(Cleanliness { code: parts.join("/"), out_of_order })
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn point(temperature: f64, viscosity: f64) -> ViscosityPoint {
        ViscosityPoint { temperature, viscosity }
    }

    #[test]
    fn the_line_passes_its_points_in_either_order() {
        let (cold, warm) = (point(313.15, 46.0), point(373.15, 6.78));
        for line in [ViscosityLine::through(cold, warm), ViscosityLine::through(warm, cold)] {
            let line = line.expect("a line");
            let middle = line.at(333.15).expect("within");
            assert!(!middle.extrapolated && (middle.viscosity - 20.592).abs() < 1e-3);
            assert!(line.at(273.15).expect("within").extrapolated);
        }
    }

    #[test]
    fn a_line_that_no_oil_has_is_refused() {
        let through = |a, b| ViscosityLine::through(a, b).expect_err("no line").to_string();
        let a = point(313.15, 46.0);
        assert!(through(a, point(313.15, 6.78)).contains("two temperatures"));
        assert!(through(a, point(373.15, 50.0)).contains("exchanged"));
        assert!(through(a, point(373.15, 1.5)).contains("2 mm²/s"));
        assert!(through(a, point(f64::NAN, 6.0)).contains("not a number"));
        let line = ViscosityLine::through(a, point(373.15, 2.5)).expect("a line");
        assert!(line.at(440.0).expect_err("too thin").to_string().contains("2 mm²/s"));
    }

    #[test]
    fn grades_take_their_limits_and_leave_gaps() {
        let number = |nu| match grade(nu).expect("a viscosity") {
            Graded::Within(grade) => Some(grade.number),
            Graded::Between { .. } => None,
        };
        assert_eq!([1.98, 2.42, 28.8, 35.2, 41.4].map(number), [2, 2, 32, 32, 46].map(Some));
        assert_eq!([1.97, 2.43, 35.3, 41.3, 3521.0].map(number), [None; 5]);
        let Graded::Between { below: Some(below), above: Some(above) } = grade(38.0).expect("ok")
        else {
            panic!("38 lies between grades");
        };
        assert_eq!(
            (below.to_string(), above.to_string()),
            ("ISO VG 32".into(), "ISO VG 46".into())
        );
        assert!(grade(0.0).is_err() && grade(f64::NAN).is_err());
    }

    #[test]
    fn few_counted_particles_are_marked() {
        let count = |per_ml, counted| Some(Count { per_ml, counted: Some(counted) });
        let code = |counts| cleanliness(counts).expect("counted");
        let sample = code([count(100.0, 9000), count(30.0, 2700), count(1.0, 12)]);
        assert_eq!(sample, Cleanliness { code: "14/12/≥7".into(), out_of_order: false });
        assert!(code([count(1.0, 900), count(30.0, 2700), None]).out_of_order);
        assert_eq!(cleanliness([None; 3]), Err(OilRefusal::NothingCounted));
        assert!(cleanliness([count(-1.0, 1), None, None]).is_err());
    }

    #[test]
    fn an_index_needs_an_oil_that_thins() {
        assert!(viscosity_index(5.0, 1.9).is_err());
        assert!(viscosity_index(8.0, 9.0).is_err());
        assert!(viscosity_index(f64::NAN, 9.0).is_err());
    }
}
