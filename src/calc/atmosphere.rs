//! The air pressure to be reckoned with at an altitude.
//!
//! The weather is not in it: it moves the pressure by some ± 30 hPa at most places, and a barometer on
//! site is better than any altitude.

use super::bounds::{Bounds, Outside};
use super::declare::{Calculation, Held, Input, Output};
use super::figure::{digits, shown};
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

/// Pressure of the standard atmosphere at sea level, in pascals.
pub const SEA_LEVEL_PA: f64 = 101_325.0;

/// Standard acceleration of free fall, in m/s².
pub const STANDARD_GRAVITY: f64 = 9.806_65;

/// Radius of the earth that geopotential altitude is defined with, in metres.
const EARTH_RADIUS_M: f64 = 6_356_766.0;

const SEA_LEVEL_K: f64 = 288.15;
const LAPSE_K_PER_M: f64 = 0.0065;

/// `g·M/(R·L)` with M = 28.9644 g/mol and R = 8.31432 J/(mol·K), the constants of the 1976 standard.
const EXPONENT: f64 = STANDARD_GRAVITY * 0.028_964_4 / (8.314_32 * LAPSE_K_PER_M);

const ALTITUDE: Bounds = Bounds {
    what: "the altitude",
    low: -500.0,
    high: 5000.0,
    unit: "m",
    because: "the calculation is checked for places where pumps stand",
};

/// Air at one altitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// The absolute pressure, in pascals.
    pub pressure: f64,
    /// The temperature of the standard atmosphere, in kelvins; the air on site is as it is.
    pub temperature: f64,
}

/// The standard atmosphere at a geometric altitude: metres above the sea, as maps give it.
///
/// Formula: `h = R·z/(R + z)`, then as [`at_geopotential`]. Valid from −500 to 5000 m.
/// Source: US Standard Atmosphere 1976; ISO 2533 differs by less than 1 in a million here.
pub fn at_altitude(altitude: f64) -> Result<Air, Outside> {
    ALTITUDE.take(altitude).map(geopotential).map(standard)
}

fn geopotential(altitude: f64) -> f64 {
    EARTH_RADIUS_M * altitude / (EARTH_RADIUS_M + altitude)
}

/// The standard atmosphere at a geopotential altitude.
///
/// Formula: `p = 101 325 Pa · (1 − 0.0065·h/288.15)^5.2559`, `T = 288.15 − 0.0065·h`.
/// Valid from −500 to 5000 m. Source: US Standard Atmosphere 1976.
pub fn at_geopotential(altitude: f64) -> Result<Air, Outside> {
    ALTITUDE.take(altitude).map(standard)
}

fn standard(geopotential: f64) -> Air {
    let temperature = SEA_LEVEL_K - LAPSE_K_PER_M * geopotential;
    Air { pressure: SEA_LEVEL_PA * libm::pow(temperature / SEA_LEVEL_K, EXPONENT), temperature }
}

/// The altitude above the sea, as an input.
pub(super) const ALTITUDE_INPUT: Input =
    Input::figure("altitude", "z", "altitude of the site above the sea", (Dimension::Length, "m"))
        .from_to("-500 m", "5000 m", "the calculation is checked for places where pumps stand");

/// The formula of the pressure, for paper.
pub(super) const FORMULA: &str = "p = 1.01325 bar·(1 − 0.0065·h/288.15)^5.2559";

/// Where the pressure comes from.
pub(super) const SOURCE: &str =
    "US Standard Atmosphere 1976; ISO 2533 differs by less than 1 in a million here";

/// The air pressure to reckon with at an altitude.
///
/// h = R·z/(R + z), p = 1.01325 bar·(1 − 0.0065·h/288.15)^5.2559. Altitudes in m, pressure absolute. From −500
/// to 5000 m. Warns that the weather is not in it. Source: US Standard Atmosphere 1976.
pub static AIR_PRESSURE: Calculation = Calculation {
    name: "air_pressure",
    title: "what air pressure to reckon with at an altitude",
    formulas: &["h = R·z/(R + z)", FORMULA],
    symbols: &[
        ("h", "geopotential altitude, m; 4 m less than z at 5000 m"),
        ("R", "6 356 766 m, the radius of the earth that h is defined with"),
        ("p", "air pressure, absolute"),
    ],
    valid: &["places from 500 m below the sea to 5000 m above it"],
    warnings: &[
        "the weather is not in it: a deep low takes another 0.03 bar; a barometer on site is better",
        "a weather report gives the pressure as it would be at the sea, not as it is on a mountain",
    ],
    sources: &[SOURCE],
    inputs: &[
        ALTITUDE_INPUT,
        Input::word(
            "kind",
            "which altitude: of the map, or geopotential",
            &["geometric", "geopotential"],
        )
        .or("geometric"),
    ],
    outputs: &[
        Output::figure("pressure", "air pressure", (Dimension::AbsolutePressure, "bar abs")),
        Output::figure(
            "temperature",
            "of the standard air at this altitude; the air on site is as it is",
            (Dimension::Temperature, "°C"),
        ),
    ],
    held: Some(Held { at_least: "pressure", at_most: "pressure" }),
    example: &[("altitude", "1600 m")],
    run: air_pressure,
};

fn air_pressure(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let altitude = known.figure("altitude")?;
    let z = known.shown("altitude");
    let (h, air) = if known.word("kind") == "geopotential" {
        (z, at_geopotential(altitude)?)
    } else {
        let h = shown(geopotential(altitude), "m");
        let figures = format!("6 356 766 m · {z} / (6 356 766 m + {z})");
        sheet.line("geopotential altitude", "h = R·z/(R + z)", figures, h.clone());
        (h, at_altitude(altitude)?)
    };
    let figures = format!("1.01325 bar · (1 − 0.0065 · {h} / 288.15)^{}", digits(EXPONENT, 5));
    sheet.line("air pressure", FORMULA, figures, shown(air.pressure, "bar abs"));
    sheet.warn(
        "the air pressure is that of the standard atmosphere: a deep low takes another 0.03 bar",
    );
    sheet.gives("pressure", air.pressure);
    sheet.gives("temperature", air.temperature);
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sea_is_where_it_should_be_and_pressure_falls() {
        let pressure = |z| at_altitude(z).expect("within").pressure;
        assert!((pressure(0.0) - SEA_LEVEL_PA).abs() < 1e-9);
        assert!(pressure(-500.0) > pressure(0.0) && pressure(4999.0) > pressure(5000.0));
    }

    #[test]
    fn outside_of_the_range_is_refused() {
        for z in [-500.1, 5000.1, f64::NAN] {
            assert!(at_altitude(z).is_err() && at_geopotential(z).is_err(), "{z}");
        }
    }
}
