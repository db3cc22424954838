//! Water as a liquid: vapour pressure, density and viscosity.
//!
//! Steam, sea water and mixtures are not here. Sources: IAPWS R7-97(2012), the Industrial Formulation
//! 1997, region 4 (saturation) and region 1 (liquid), and IAPWS R12-08 for the viscosity; coefficients
//! as a public library restates them, held against the verification values of the releases. Roots,
//! logarithms and powers go through `libm`, so that every machine gives the same bits.

use super::atmosphere::SEA_LEVEL_PA;
use super::bounds::{Bounds, Outside, whole_power};
use super::declare::{Calculation, Held, Input, Output};
use super::figure::shown;
use super::perform::Known;
use super::refusal::CalcRefusal;
use super::working::Sheet;
use crate::units::Dimension;

/// The lowest temperature of the formulation, 0 °C, in kelvins.
pub const FREEZING_K: f64 = 273.15;

/// The highest temperature of the liquid region, 350 °C, in kelvins.
pub const LIQUID_MAX_K: f64 = 623.15;

/// The critical temperature, where liquid and vapour become one, in kelvins.
pub const CRITICAL_K: f64 = 647.096;

const SATURATED: Bounds = Bounds {
    what: "the temperature of the water",
    low: FREEZING_K,
    high: CRITICAL_K,
    unit: "K",
    because: "below is ice, above the critical point there is no boiling",
};

const BOILING: Bounds = Bounds {
    what: "the pressure",
    low: 611.213,
    high: 22.064e6,
    unit: "Pa",
    because: "water boils at a temperature only from 0 °C to its critical point",
};

const LIQUID: Bounds =
    Bounds { high: LIQUID_MAX_K, because: "the formula for liquid water ends there", ..SATURATED };

/// The greatest pressure of the liquid region, in pascals.
const PRESSURE_MAX_PA: f64 = 100e6;

const DENSITY: Bounds = Bounds {
    what: "the density of the water",
    low: 1.0,
    high: 1200.0,
    unit: "kg/m³",
    because: "water is not heavier",
};

/// Coefficients n1 to n10 of R7-97(2012), table 34.
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// The absolute pressure at which water of this temperature boils, in pascals.
///
/// Formula: R7-97(2012) eq. 30, `p = (2·C / (−B + √(B² − 4·A·C)))⁴` in megapascals with `ϑ = T + n9/(T − n10)`,
/// `A = ϑ² + n1·ϑ + n2`, `B = n3·ϑ² + n4·ϑ + n5`, `C = n6·ϑ² + n7·ϑ + n8`.
/// Valid from 273.15 to 647.096 K. `temperature` in kelvins.
pub fn saturation_pressure(temperature: f64) -> Result<f64, Outside> {
    let t = SATURATED.take(temperature)?;
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let theta = t + n9 / (t - n10);
    let a = theta * theta + n1 * theta + n2;
    let b = n3 * theta * theta + n4 * theta + n5;
    let c = n6 * theta * theta + n7 * theta + n8;
    Ok(whole_power(2.0 * c / (-b + libm::sqrt(b * b - 4.0 * a * c)), 4) * 1e6)
}

/// The temperature at which water boils under this absolute pressure, in kelvins.
///
/// Formula: R7-97(2012) eq. 31, the exact inverse of [`saturation_pressure`].
/// Valid from 611.213 Pa to 22.064 megapascals. `pressure` in pascals.
pub fn saturation_temperature(pressure: f64) -> Result<f64, Outside> {
    let p = BOILING.take(pressure)?;
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let beta = libm::sqrt(libm::sqrt(p / 1e6));
    let square = beta * beta + n3 * beta + n6;
    let line = n1 * beta * beta + n4 * beta + n7;
    let fixed = n2 * beta * beta + n5 * beta + n8;
    let root = 2.0 * fixed / (-line - libm::sqrt(line * line - 4.0 * square * fixed));
    let sum = n10 + root;
    Ok((sum - libm::sqrt(sum * sum - 4.0 * (n9 + n10 * root))) / 2.0)
}

/// Exponents I, J and coefficient n of R7-97(2012), table 2. Rows of I = 0 do not reach the density.
const REGION_1: [(i32, i32, f64); 26] = [
    (1, -9, 0.283_190_801_238_04e-3),
    (1, -7, -0.607_063_015_658_74e-3),
    (1, -1, -0.189_900_682_184_19e-1),
    (1, 0, -0.325_297_487_705_05e-1),
    (1, 1, -0.218_417_171_754_14e-1),
    (1, 3, -0.528_383_579_699_30e-4),
    (2, -3, -0.471_843_210_732_67e-3),
    (2, 0, -0.300_017_807_930_26e-3),
    (2, 1, 0.476_613_939_069_87e-4),
    (2, 3, -0.441_418_453_308_46e-5),
    (2, 17, -0.726_949_962_975_94e-15),
    (3, -4, -0.316_796_448_450_54e-4),
    (3, 0, -0.282_707_979_853_12e-5),
    (3, 6, -0.852_051_281_201_03e-9),
    (4, -5, -0.224_252_819_080_00e-5),
    (4, -2, -0.651_712_228_956_01e-6),
    (4, 10, -0.143_417_299_379_24e-12),
    (5, -8, -0.405_169_968_601_17e-6),
    (8, -11, -0.127_343_017_416_41e-8),
    (8, -6, -0.174_248_712_306_34e-9),
    (21, -29, -0.687_621_312_955_31e-18),
    (23, -31, 0.144_783_078_285_21e-19),
    (29, -38, 0.263_357_816_627_95e-22),
    (30, -39, -0.119_476_226_400_71e-22),
    (31, -40, 0.182_280_945_814_04e-23),
    (32, -41, -0.935_370_872_924_58e-25),
];

/// The density of liquid water, in kg/m³.
///
/// Formula: R7-97(2012) eq. 7, `v = R·T/p · π·γ_π(π, τ)` with `π = p/16.53 MPa`, `τ = 1386 K/T` and
/// `R = 461.526 J/(kg·K)`. Valid from 273.15 to 623.15 K, from the saturation pressure to 100 megapascals: below
/// it the water is steam. `temperature` in kelvins, `pressure` absolute, in pascals.
pub fn density(temperature: f64, pressure: f64) -> Result<f64, Outside> {
    let t = LIQUID.take(temperature)?;
    let p = Bounds {
        what: "the pressure of the water",
        low: saturation_pressure(t)?,
        high: PRESSURE_MAX_PA,
        unit: "Pa",
        because: "below its vapour pressure water is steam, above 100 MPa the formula ends",
    }
    .take(pressure)?;
    let (pi, tau) = (7.1 - p / 16.53e6, 1386.0 / t - 1.222);
    let slope: f64 = REGION_1
        .iter()
        .map(|&(i, j, n)| -n * f64::from(i) * whole_power(pi, i - 1) * whole_power(tau, j))
        .sum();
    Ok(16.53e6 / (461.526 * t * slope))
}

/// Coefficients of R12-08, table 1.
const VISCOSITY_H: [f64; 4] = [1.677_52, 2.204_62, 0.636_656_4, -0.241_605];

/// Exponents i, j and coefficient of R12-08, table 2.
const VISCOSITY_H_IJ: [(i32, i32, f64); 21] = [
    (0, 0, 0.520_094),
    (1, 0, 0.085_089_5),
    (2, 0, -1.083_74),
    (3, 0, -0.289_555),
    (0, 1, 0.222_531),
    (1, 1, 0.999_115),
    (2, 1, 1.887_97),
    (3, 1, 1.266_13),
    (5, 1, 0.120_573),
    (0, 2, -0.281_378),
    (1, 2, -0.906_851),
    (2, 2, -0.772_479),
    (3, 2, -0.489_837),
    (4, 2, -0.257_040),
    (0, 3, 0.161_913),
    (1, 3, 0.257_399),
    (0, 4, -0.032_537_2),
    (3, 4, 0.069_845_2),
    (4, 5, 0.008_721_02),
    (3, 6, -0.004_356_73),
    (5, 6, -0.000_593_264),
];

/// The dynamic viscosity of water of a known density, in Pa·s.
///
/// Formula: R12-08 eq. 10 to 12, `μ = μ0(T)·μ1(T, ρ)`; the third factor matters only close to the
/// critical point, which lies outside of the range here. Valid from 273.15 to 623.15 K.
/// `temperature` in kelvins, `density` in kg/m³.
pub fn viscosity_at_density(temperature: f64, density: f64) -> Result<f64, Outside> {
    let t = LIQUID.take(temperature)? / CRITICAL_K;
    let rho = DENSITY.take(density)? / 322.0;
    let thin: f64 = (0..).zip(VISCOSITY_H).map(|(power, h)| h / whole_power(t, power)).sum();
    let dense: f64 = VISCOSITY_H_IJ
        .iter()
        .map(|&(i, j, h)| h * whole_power(1.0 / t - 1.0, i) * whole_power(rho - 1.0, j))
        .sum();
    Ok(100.0 * libm::sqrt(t) / thin * libm::exp(rho * dense) * 1e-6)
}

/// Liquid water of one temperature and pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidWater {
    /// The absolute pressure at which it boils, in pascals.
    pub vapour_pressure: f64,
    /// Its density, in kg/m³.
    pub density: f64,
    /// Its dynamic viscosity, in Pa·s.
    pub dynamic_viscosity: f64,
}

/// The three properties together; `temperature` in kelvins, `pressure` absolute, in pascals.
pub fn liquid(temperature: f64, pressure: f64) -> Result<LiquidWater, Outside> {
    let vapour_pressure = saturation_pressure(temperature)?;
    let density = density(temperature, pressure)?;
    let dynamic_viscosity = viscosity_at_density(temperature, density)?;
    Ok(LiquidWater { vapour_pressure, density, dynamic_viscosity })
}

/// Where the vapour pressure and the density come from.
pub(super) const R7_97: &str = "IAPWS R7-97(2012), the Industrial Formulation 1997: region 4 for the vapour pressure, region 1 for the density";

/// Where the viscosity comes from.
pub(super) const R12_08: &str = "IAPWS R12-08 for the viscosity";

const ABSOLUTE: (Dimension, &str) = (Dimension::AbsolutePressure, "bar abs");
const CELSIUS: (Dimension, &str) = (Dimension::Temperature, "°C");

/// Vapour pressure, density and viscosity of water.
///
/// Formulas: IAPWS R7-97(2012) equations 30, 31 and 7, R12-08 equation 10. Temperatures in °C, pressures
/// absolute in bar, density in kg/m³. From 0 to 350 °C, from the vapour pressure to 1000 bar; refused as steam below
/// it. Warns of what is dissolved. Sources: the releases.
pub static WATER_PROPERTIES: Calculation = Calculation {
    name: "water_properties",
    title: "at what pressure water of a temperature boils, how dense and how thick it is",
    formulas: &[
        "p_v = (2·C/(−B + √(B² − 4·A·C)))⁴ MPa, A = ϑ² + n1·ϑ + n2, B = n3·ϑ² + n4·ϑ + n5, C = n6·ϑ² + n7·ϑ + n8",
        "ϑ = T + n9/(T − n10)",
        "ρ = p/(R·T·π·γ_π), π = p/16.53 MPa",
        "ν = μ/ρ, μ = μ0(T)·μ1(T, ρ)",
    ],
    symbols: &[
        ("p_v", "vapour pressure: the absolute pressure at which water of this temperature boils"),
        ("n1 to n10", "numbers that the release prints in its table 34"),
        ("γ_π", "a sum of powers that the release prints in its table 2; R = 461.526 J/(kg·K)"),
        ("ρ", "density, kg/m³"),
        ("μ, ν", "dynamic viscosity, mPa·s, and kinematic, mm²/s"),
    ],
    valid: &["pure water as a liquid: 0 to 350 °C, from its vapour pressure to 1000 bar"],
    warnings: &[
        "salt, glycol and dissolved air are not reckoned; air comes out long before the water boils",
        "seven digits of this cannot be done by hand: a printed steam table shows the same to four",
    ],
    sources: &[R7_97, R12_08],
    inputs: &[
        Input::figure("temperature", "T", "temperature of the water", CELSIUS).from_to(
            "0 °C",
            "350 °C",
            "below is ice, and the formula for liquid water ends there",
        ),
        Input::figure("pressure", "p", "absolute pressure on it", ABSOLUTE)
            .from_to("0.0061 bar abs", "1000 bar abs", "the formula for liquid water ends there")
            .optional("1.01325 bar abs is taken, or its vapour pressure where that is more"),
    ],
    outputs: &[
        Output::figure("vapour_pressure", "pressure at which it boils", ABSOLUTE),
        Output::figure("density", "density", (Dimension::Density, "kg/m³")),
        Output::figure(
            "dynamic_viscosity",
            "dynamic viscosity",
            (Dimension::DynamicViscosity, "mPa·s"),
        ),
        Output::figure(
            "viscosity",
            "kinematic viscosity",
            (Dimension::KinematicViscosity, "mm²/s"),
        ),
        Output::figure("boils_at", "temperature at which it boils under this pressure", CELSIUS)
            .unless("above 220.64 bar abs, where nothing boils"),
    ],
    held: Some(Held { at_least: "vapour_pressure", at_most: "vapour_pressure" }),
    example: &[("temperature", "60 °C")],
    run: water_properties,
};

fn water_properties(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let mut sheet = Sheet::new();
    let temperature = known.figure("temperature")?;
    let vapour = saturation_pressure(temperature)?;
    let pressure = known.maybe("pressure").unwrap_or_else(|| SEA_LEVEL_PA.max(vapour));
    let LiquidWater { density, dynamic_viscosity, .. } = liquid(temperature, pressure)?;
    let (t, p) = (known.shown("temperature"), shown(pressure, "bar abs"));
    sheet.line(
        "vapour pressure",
        "R7-97 equation 30",
        format!("with T = {t}"),
        shown(vapour, "bar abs"),
    );
    sheet.line(
        "density",
        "R7-97 equation 7",
        format!("with T = {t}, p = {p}"),
        shown(density, "kg/m³"),
    );
    let rho = shown(density, "kg/m³");
    let mu = shown(dynamic_viscosity, "mPa·s");
    sheet.line(
        "dynamic viscosity",
        "R12-08 equation 10",
        format!("with T = {t}, ρ = {rho}"),
        mu.clone(),
    );
    let viscosity = dynamic_viscosity / density;
    sheet.line(
        "kinematic viscosity",
        "ν = μ/ρ",
        format!("{mu} / {rho}"),
        shown(viscosity, "mm²/s"),
    );
    sheet.gives("vapour_pressure", vapour);
    sheet.gives("density", density);
    sheet.gives("dynamic_viscosity", dynamic_viscosity);
    sheet.gives("viscosity", viscosity);
    if let Ok(boils_at) = saturation_temperature(pressure) {
        sheet.line(
            "boils under this pressure at",
            "R7-97 equation 31",
            format!("with p = {p}"),
            shown(boils_at, "°C"),
        );
        sheet.gives("boils_at", boils_at);
    }
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boiling_point_and_boiling_pressure_are_inverse() {
        for t in [273.16, 300.0, 353.15, 500.0, 640.0] {
            let p = saturation_pressure(t).expect("within");
            let back = saturation_temperature(p).expect("within");
            assert!((back / t - 1.0).abs() < 1e-9, "{t} {back}");
        }
    }

    #[test]
    fn steam_is_refused_as_a_liquid() {
        let text = density(373.15, 101_325.0).expect_err("steam").to_string();
        assert!(text.contains("steam") && text.contains("1.01418"), "{text}");
        assert!(density(373.15, 101_418.0).is_ok());
        assert!(liquid(300.0, 200e6).is_err());
    }

    #[test]
    fn the_ends_of_the_range_are_refused_beyond() {
        for t in [273.14, 647.2, f64::NAN, f64::INFINITY] {
            assert!(saturation_pressure(t).is_err(), "{t}");
        }
        assert!(viscosity_at_density(630.0, 600.0).is_err());
        assert!(saturation_temperature(600.0).is_err());
    }
}
