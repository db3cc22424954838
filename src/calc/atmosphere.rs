//! The air pressure to be reckoned with at an altitude.
//!
//! The weather is not in it: it moves the pressure by some ± 30 hPa at most places, and a barometer on
//! site is better than any altitude.

use super::bounds::{Bounds, Outside};

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
    let z = ALTITUDE.take(altitude)?;
    Ok(standard(EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z)))
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
