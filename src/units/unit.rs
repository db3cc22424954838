//! The table of units: symbol, spellings, dimension and exact factor, one row each.
//!
//! A pressure is gauge, absolute or a difference: three kinds that must not be mixed, so each of its
//! units stands three times. Factors follow from the definitions of the SI Brochure and of NIST
//! SP 811 (2008), appendix B; the tests hold each of them against an independent library.

use num_bigint::BigInt;
use num_rational::Ratio;

use super::dimension::Dimension;

/// One row of the table.
struct Row {
    symbol: &'static str,
    dimension: Dimension,
    /// SI units in one of these, as numerator and denominator.
    factor: (i128, i128),
    /// What is added after that, as numerator and denominator: scales that do not begin at zero.
    offset: (i64, i64),
    /// Whether people in a shop never write fractions of it without naming it.
    metric: bool,
    /// Every accepted spelling; capitals count, for `M` and `m` differ by much.
    spellings: &'static [&'static str],
    /// Spellings that are not accepted and whose meaning is plain enough to suggest this row.
    near: &'static [&'static str],
}

macro_rules! units {
    ($($(#[doc = $doc:literal])+ $unit:ident: $symbol:literal, $dimension:ident, $factor:tt $(+ $offset:tt)?, $metric:literal,
        [$($spelling:literal),*], [$($near:literal),*];)*) => {
        /// A unit of the table. Copies are cheap; two are equal when they are the same row.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Unit {
            $($(#[doc = $doc])+ $unit,)*
        }

        impl Unit {
            /// Every unit, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$unit),*];

            const fn row(self) -> &'static Row {
                match self {
                    $(Self::$unit => &Row {
                        symbol: $symbol,
                        dimension: Dimension::$dimension,
                        factor: $factor,
                        offset: units!(@offset $($offset)?),
                        metric: $metric,
                        spellings: &[$($spelling),*],
                        near: &[$($near),*],
                    },)*
                }
            }
        }
    };
    (@offset) => { (0, 1) };
    (@offset $offset:tt) => { $offset };
}

units! {
    /// No unit: a plain number.
    One: "", Number, (1, 1), false,
        ["number"], ["none", "one", "-", "1", "count"];
    /// A hundredth.
    Percent: "%", Number, (1, 100), false,
        ["%"], ["percent", "per cent", "pct"];
    /// Metre.
    Metre: "m", Length, (1, 1), true,
        ["m"], ["metre", "metres", "meter", "meters"];
    /// Centimetre.
    Centimetre: "cm", Length, (1, 100), true,
        ["cm"], ["centimetre", "centimetres", "centimeter"];
    /// Millimetre.
    Millimetre: "mm", Length, (1, 1000), true,
        ["mm"], ["millimetre", "millimetres", "millimeter", "millimeters", "mms"];
    /// Micrometre.
    Micrometre: "µm", Length, (1, 1_000_000), true,
        ["µm", "μm", "um", "micron"], ["microns", "micrometre", "micrometres", "micrometer", "mu", "µ", "μ"];
    /// International inch.
    Inch: "in", Length, (127, 5000), false,
        ["in", "\"", "″", "”"], ["inch", "inches", "ins", "in.", "''", "′′", "’’", "“"];
    /// International foot.
    Foot: "ft", Length, (381, 1250), false,
        ["ft", "'", "′", "’"], ["foot", "feet", "ft.", "‘"];
    /// A thousandth of an inch.
    Thou: "thou", Length, (127, 5_000_000), false,
        ["thou", "mil"], ["thous", "mils", "thousandth", "thousandths", "tho"];
    /// Square metre.
    SquareMetre: "m²", Area, (1, 1), false,
        ["m²", "m2"], ["sqm"];
    /// Square centimetre.
    SquareCentimetre: "cm²", Area, (1, 10000), false,
        ["cm²", "cm2"], [];
    /// Square millimetre.
    SquareMillimetre: "mm²", Area, (1, 1_000_000), false,
        ["mm²", "mm2"], ["sqmm"];
    /// Square inch.
    SquareInch: "in²", Area, (16129, 25_000_000), false,
        ["in²", "in2", "sq in"], ["sqin"];
    /// Cubic metre.
    CubicMetre: "m³", Volume, (1, 1), false,
        ["m³", "m3"], [];
    /// Litre.
    Litre: "L", Volume, (1, 1000), false,
        ["L", "l"], ["litre", "litres", "liter", "liters", "ltr"];
    /// Millilitre.
    Millilitre: "mL", Volume, (1, 1_000_000), false,
        ["mL", "ml", "cc", "cm³", "cm3"], ["millilitre", "milliliter"];
    /// Cubic inch.
    CubicInch: "in³", Volume, (2_048_383, 125_000_000_000), false,
        ["in³", "in3", "cu in"], [];
    /// Cubic foot.
    CubicFoot: "ft³", Volume, (55_306_341, 1_953_125_000), false,
        ["ft³", "ft3", "cu ft"], [];
    /// US gallon, 231 cubic inches.
    UsGallon: "US gal", Volume, (473_176_473, 125_000_000_000), false,
        ["US gal"], ["usgal", "us gallon"];
    /// Imperial gallon.
    ImperialGallon: "imp gal", Volume, (454_609, 100_000_000), false,
        ["imp gal", "UK gal"], ["impgal", "imperial gallon"];
    /// US fluid ounce.
    UsFluidOunce: "US fl oz", Volume, (473_176_473, 16_000_000_000_000), false,
        ["US fl oz"], [];
    /// Imperial fluid ounce.
    ImperialFluidOunce: "imp fl oz", Volume, (454_609, 16_000_000_000), false,
        ["imp fl oz"], [];
    /// Kilogram.
    Kilogram: "kg", Mass, (1, 1), false,
        ["kg"], ["kilogram", "kilograms", "kgs", "kilo"];
    /// Gram.
    Gram: "g", Mass, (1, 1000), false,
        ["g"], ["gram", "grams", "gr"];
    /// Pound (avoirdupois).
    Pound: "lb", Mass, (45_359_237, 100_000_000), false,
        ["lb", "lbm"], ["lbs", "pound", "pounds"];
    /// Ounce (avoirdupois).
    Ounce: "oz", Mass, (45_359_237, 1_600_000_000), false,
        ["oz"], ["ounce", "ounces"];
    /// Second.
    Second: "s", Time, (1, 1), false,
        ["s"], ["sec", "secs", "second", "seconds"];
    /// Minute.
    Minute: "min", Time, (60, 1), false,
        ["min"], ["mins", "minute", "minutes"];
    /// Hour.
    Hour: "h", Time, (3600, 1), false,
        ["h"], ["hr", "hrs", "hour", "hours"];
    /// Day of 24 hours.
    Day: "d", Time, (86400, 1), false,
        ["d"], ["day", "days"];
    /// Kelvin, from absolute zero.
    Kelvin: "K", Temperature, (1, 1), false,
        ["K"], ["kelvin"];
    /// Degree Celsius.
    Celsius: "°C", Temperature, (1, 1) + (5463, 20), false,
        ["°C", "degC", "℃"], ["°c", "c", "celsius", "degc"];
    /// Degree Fahrenheit.
    Fahrenheit: "°F", Temperature, (5, 9) + (45967, 180), false,
        ["°F", "degF", "℉"], ["°f", "f", "fahrenheit", "degf"];
    /// Degree Rankine.
    Rankine: "°R", Temperature, (5, 9), false,
        ["°R"], ["rankine"];
    /// A difference of one kelvin.
    KelvinDifference: "ΔK", TemperatureDifference, (1, 1), false,
        ["ΔK", "Δ°C"], ["delta k", "dk"];
    /// A difference of one degree Fahrenheit.
    FahrenheitDifference: "Δ°F", TemperatureDifference, (5, 9), false,
        ["Δ°F"], ["delta f"];
    /// Newton.
    Newton: "N", Force, (1, 1), false,
        ["N"], ["newton", "newtons"];
    /// Kilonewton.
    Kilonewton: "kN", Force, (1000, 1), false,
        ["kN"], [];
    /// Pound-force.
    PoundForce: "lbf", Force, (8_896_443_230_521, 2_000_000_000_000), false,
        ["lbf"], ["lb-f", "pound-force"];
    /// Ounce-force.
    OunceForce: "ozf", Force, (8_896_443_230_521, 32_000_000_000_000), false,
        ["ozf"], [];
    /// Kilogram-force.
    KilogramForce: "kgf", Force, (196_133, 20000), false,
        ["kgf", "kp"], [];
    /// Newton metre.
    NewtonMetre: "N·m", Torque, (1, 1), false,
        ["N·m", "Nm", "N m", "N-m", "N.m", "N*m"], ["nm", "newton metre", "newton meter", "newton metres", "mnm"];
    /// Newton centimetre.
    NewtonCentimetre: "N·cm", Torque, (1, 100), false,
        ["N·cm", "Ncm", "N cm", "N-cm"], ["ncm"];
    /// Pound-force inch.
    PoundForceInch: "lbf·in", Torque, (1_129_848_290_276_167, 10_000_000_000_000_000), false,
        ["lbf·in", "lbf in", "lbf-in", "in·lbf", "in lbf", "in-lbf", "in-lb", "in-lbs", "in lb", "in lbs", "in·lb", "lb-in", "lbs-in", "lb in", "lb·in", "inch-pound", "inch-pounds", "inch pounds"], ["inlb", "inlbs", "lbin", "lbfin", "pound-inch", "pound-inches"];
    /// Pound-force foot.
    PoundForceFoot: "lbf·ft", Torque, (3_389_544_870_828_501, 2_500_000_000_000_000), false,
        ["lbf·ft", "lbf ft", "lbf-ft", "ft·lbf", "ft lbf", "ft-lbf", "ft-lb", "ft-lbs", "ft lb", "ft lbs", "ft·lb", "lb-ft", "lbs-ft", "lb ft", "lb·ft", "foot-pound", "foot-pounds", "foot pounds"], ["ftlb", "ftlbs", "lbft", "lbfft", "pound-foot", "pound-feet"];
    /// Ounce-force inch.
    OunceForceInch: "ozf·in", Torque, (1_129_848_290_276_167, 160_000_000_000_000_000), false,
        ["ozf·in", "ozf in", "ozf-in", "in·ozf", "in-oz", "oz-in", "in oz", "oz in"], ["inoz", "ozin"];
    /// Kilogram-force metre.
    KilogramForceMetre: "kgf·m", Torque, (196_133, 20000), false,
        ["kgf·m", "kgf m", "kgf-m", "kp·m"], ["kgfm", "kgm", "kg-m", "kg m", "kpm"];
    /// Kilogram-force centimetre.
    KilogramForceCentimetre: "kgf·cm", Torque, (196_133, 2_000_000), false,
        ["kgf·cm", "kgf cm", "kgf-cm", "kp·cm"], ["kgfcm", "kgcm", "kg-cm", "kg cm"];
    /// Pascal, above the atmosphere.
    PascalGauge: "Pa gauge", GaugePressure, (1, 1), false,
        ["Pa gauge"], ["pa(g)", "pa(gauge)", "pag"];
    /// Pascal, above vacuum.
    PascalAbs: "Pa abs", AbsolutePressure, (1, 1), false,
        ["Pa abs"], ["pa(a)", "pa(abs)", "paa"];
    /// Pascal, as a difference.
    PascalDiff: "Pa diff", PressureDifference, (1, 1), false,
        ["Pa diff"], ["pa(d)", "pa(diff)", "pad"];
    /// Kilopascal, above the atmosphere.
    KilopascalGauge: "kPa gauge", GaugePressure, (1000, 1), false,
        ["kPa gauge"], ["kpa(g)", "kpa(gauge)", "kpag"];
    /// Kilopascal, above vacuum.
    KilopascalAbs: "kPa abs", AbsolutePressure, (1000, 1), false,
        ["kPa abs"], ["kpa(a)", "kpa(abs)", "kpaa"];
    /// Kilopascal, as a difference.
    KilopascalDiff: "kPa diff", PressureDifference, (1000, 1), false,
        ["kPa diff"], ["kpa(d)", "kpa(diff)", "kpad"];
    /// Megapascal, above the atmosphere.
    MegapascalGauge: "MPa gauge", GaugePressure, (1_000_000, 1), false,
        ["MPa gauge", "N/mm² gauge", "N/mm2 gauge"], ["mpa(g)", "mpa(gauge)", "mpag", "n/mm2(g)", "n/mm2(gauge)", "n/mm2g", "n/mm²(g)", "n/mm²(gauge)", "n/mm²g"];
    /// Megapascal, above vacuum.
    MegapascalAbs: "MPa abs", AbsolutePressure, (1_000_000, 1), false,
        ["MPa abs", "N/mm² abs", "N/mm2 abs"], ["mpa(a)", "mpa(abs)", "mpaa", "n/mm2(a)", "n/mm2(abs)", "n/mm2a", "n/mm²(a)", "n/mm²(abs)", "n/mm²a"];
    /// Megapascal, as a difference.
    MegapascalDiff: "MPa diff", PressureDifference, (1_000_000, 1), false,
        ["MPa diff", "N/mm² diff", "N/mm2 diff"], ["mpa(d)", "mpa(diff)", "mpad", "n/mm2(d)", "n/mm2(diff)", "n/mm2d", "n/mm²(d)", "n/mm²(diff)", "n/mm²d"];
    /// Bar, above the atmosphere.
    BarGauge: "bar gauge", GaugePressure, (100_000, 1), false,
        ["bar gauge"], ["bar(g)", "bar(gauge)", "barg"];
    /// Bar, above vacuum.
    BarAbs: "bar abs", AbsolutePressure, (100_000, 1), false,
        ["bar abs"], ["bar(a)", "bar(abs)", "bara"];
    /// Bar, as a difference.
    BarDiff: "bar diff", PressureDifference, (100_000, 1), false,
        ["bar diff"], ["bar(d)", "bar(diff)", "bard"];
    /// Millibar, above the atmosphere.
    MillibarGauge: "mbar gauge", GaugePressure, (100, 1), false,
        ["mbar gauge", "hPa gauge"], ["hpa(g)", "hpa(gauge)", "hpag", "mbar(g)", "mbar(gauge)", "mbarg"];
    /// Millibar, above vacuum.
    MillibarAbs: "mbar abs", AbsolutePressure, (100, 1), false,
        ["mbar abs", "hPa abs"], ["hpa(a)", "hpa(abs)", "hpaa", "mbar(a)", "mbar(abs)", "mbara"];
    /// Millibar, as a difference.
    MillibarDiff: "mbar diff", PressureDifference, (100, 1), false,
        ["mbar diff", "hPa diff"], ["hpa(d)", "hpa(diff)", "hpad", "mbar(d)", "mbar(diff)", "mbard"];
    /// Standard atmosphere, above the atmosphere.
    AtmosphereGauge: "atm gauge", GaugePressure, (101_325, 1), false,
        ["atm gauge"], ["atm(g)", "atm(gauge)", "atmg"];
    /// Standard atmosphere, above vacuum.
    AtmosphereAbs: "atm abs", AbsolutePressure, (101_325, 1), false,
        ["atm abs"], ["atm(a)", "atm(abs)", "atma"];
    /// Standard atmosphere, as a difference.
    AtmosphereDiff: "atm diff", PressureDifference, (101_325, 1), false,
        ["atm diff"], ["atm(d)", "atm(diff)", "atmd"];
    /// Pound-force per square inch, above the atmosphere.
    PsiGauge: "psi gauge", GaugePressure, (8_896_443_230_521, 1_290_320_000), false,
        ["psi gauge", "lbf/in² gauge", "lbf/in2 gauge"], ["lbf/in2(g)", "lbf/in2(gauge)", "lbf/in2g", "lbf/in²(g)", "lbf/in²(gauge)", "lbf/in²g", "psi(g)", "psi(gauge)", "psig"];
    /// Pound-force per square inch, above vacuum.
    PsiAbs: "psi abs", AbsolutePressure, (8_896_443_230_521, 1_290_320_000), false,
        ["psi abs", "lbf/in² abs", "lbf/in2 abs"], ["lbf/in2(a)", "lbf/in2(abs)", "lbf/in2a", "lbf/in²(a)", "lbf/in²(abs)", "lbf/in²a", "psi(a)", "psi(abs)", "psia"];
    /// Pound-force per square inch, as a difference.
    PsiDiff: "psi diff", PressureDifference, (8_896_443_230_521, 1_290_320_000), false,
        ["psi diff", "lbf/in² diff", "lbf/in2 diff"], ["lbf/in2(d)", "lbf/in2(diff)", "lbf/in2d", "lbf/in²(d)", "lbf/in²(diff)", "lbf/in²d", "psi(d)", "psi(diff)", "psid"];
    /// Conventional millimetre of mercury, above the atmosphere.
    MillimetreMercuryGauge: "mmHg gauge", GaugePressure, (26_664_477_483, 200_000_000), false,
        ["mmHg gauge"], ["mmhg(g)", "mmhg(gauge)", "mmhgg"];
    /// Conventional millimetre of mercury, above vacuum.
    MillimetreMercuryAbs: "mmHg abs", AbsolutePressure, (26_664_477_483, 200_000_000), false,
        ["mmHg abs"], ["mmhg(a)", "mmhg(abs)", "mmhga"];
    /// Conventional millimetre of mercury, as a difference.
    MillimetreMercuryDiff: "mmHg diff", PressureDifference, (26_664_477_483, 200_000_000), false,
        ["mmHg diff"], ["mmhg(d)", "mmhg(diff)", "mmhgd"];
    /// Torr, above the atmosphere.
    TorrGauge: "Torr gauge", GaugePressure, (20265, 152), false,
        ["Torr gauge"], ["torr(g)", "torr(gauge)", "torrg"];
    /// Torr, above vacuum.
    TorrAbs: "Torr abs", AbsolutePressure, (20265, 152), false,
        ["Torr abs"], ["torr(a)", "torr(abs)", "torra"];
    /// Torr, as a difference.
    TorrDiff: "Torr diff", PressureDifference, (20265, 152), false,
        ["Torr diff"], ["torr(d)", "torr(diff)", "torrd"];
    /// Conventional inch of mercury, above the atmosphere.
    InchMercuryGauge: "inHg gauge", GaugePressure, (3_386_388_640_341, 1_000_000_000), false,
        ["inHg gauge"], ["inhg(g)", "inhg(gauge)", "inhgg"];
    /// Conventional inch of mercury, above vacuum.
    InchMercuryAbs: "inHg abs", AbsolutePressure, (3_386_388_640_341, 1_000_000_000), false,
        ["inHg abs"], ["inhg(a)", "inhg(abs)", "inhga"];
    /// Conventional inch of mercury, as a difference.
    InchMercuryDiff: "inHg diff", PressureDifference, (3_386_388_640_341, 1_000_000_000), false,
        ["inHg diff"], ["inhg(d)", "inhg(diff)", "inhgd"];
    /// Conventional inch of water, above the atmosphere.
    InchWaterGauge: "inH2O gauge", GaugePressure, (24_908_891, 100_000), false,
        ["inH2O gauge"], ["inh2o(g)", "inh2o(gauge)", "inh2og"];
    /// Conventional inch of water, above vacuum.
    InchWaterAbs: "inH2O abs", AbsolutePressure, (24_908_891, 100_000), false,
        ["inH2O abs"], ["inh2o(a)", "inh2o(abs)", "inh2oa"];
    /// Conventional inch of water, as a difference.
    InchWaterDiff: "inH2O diff", PressureDifference, (24_908_891, 100_000), false,
        ["inH2O diff"], ["inh2o(d)", "inh2o(diff)", "inh2od"];
    /// Conventional foot of water, above the atmosphere.
    FootWaterGauge: "ftH2O gauge", GaugePressure, (74_726_673, 25000), false,
        ["ftH2O gauge"], ["fth2o(g)", "fth2o(gauge)", "fth2og"];
    /// Conventional foot of water, above vacuum.
    FootWaterAbs: "ftH2O abs", AbsolutePressure, (74_726_673, 25000), false,
        ["ftH2O abs"], ["fth2o(a)", "fth2o(abs)", "fth2oa"];
    /// Conventional foot of water, as a difference.
    FootWaterDiff: "ftH2O diff", PressureDifference, (74_726_673, 25000), false,
        ["ftH2O diff"], ["fth2o(d)", "fth2o(diff)", "fth2od"];
    /// Conventional metre of water, above the atmosphere.
    MetreWaterGauge: "mH2O gauge", GaugePressure, (196_133, 20), false,
        ["mH2O gauge", "mWC gauge"], ["mh2o(g)", "mh2o(gauge)", "mh2og", "mwc(g)", "mwc(gauge)", "mwcg"];
    /// Conventional metre of water, above vacuum.
    MetreWaterAbs: "mH2O abs", AbsolutePressure, (196_133, 20), false,
        ["mH2O abs", "mWC abs"], ["mh2o(a)", "mh2o(abs)", "mh2oa", "mwc(a)", "mwc(abs)", "mwca"];
    /// Conventional metre of water, as a difference.
    MetreWaterDiff: "mH2O diff", PressureDifference, (196_133, 20), false,
        ["mH2O diff", "mWC diff"], ["mh2o(d)", "mh2o(diff)", "mh2od", "mwc(d)", "mwc(diff)", "mwcd"];
    /// Cubic metre per second.
    CubicMetrePerSecond: "m³/s", Flow, (1, 1), false,
        ["m³/s", "m3/s"], [];
    /// Litre per minute.
    LitrePerMinute: "L/min", Flow, (1, 60000), false,
        ["L/min", "l/min", "lpm"], ["l/m"];
    /// Litre per hour.
    LitrePerHour: "L/h", Flow, (1, 3_600_000), false,
        ["L/h", "l/h"], ["lph"];
    /// Cubic metre per hour.
    CubicMetrePerHour: "m³/h", Flow, (1, 3600), false,
        ["m³/h", "m3/h"], ["cbm/h"];
    /// US gallon per minute.
    UsGallonPerMinute: "US gpm", Flow, (157_725_491, 2_500_000_000_000), false,
        ["US gpm", "US gal/min"], ["usgpm"];
    /// Imperial gallon per minute.
    ImperialGallonPerMinute: "imp gpm", Flow, (454_609, 6_000_000_000), false,
        ["imp gpm", "imp gal/min"], ["impgpm"];
    /// Metre per second.
    MetrePerSecond: "m/s", Speed, (1, 1), false,
        ["m/s"], [];
    /// Millimetre per second.
    MillimetrePerSecond: "mm/s", Speed, (1, 1000), false,
        ["mm/s"], [];
    /// Revolution per second.
    RevolutionPerSecond: "1/s", Rotation, (1, 1), false,
        ["1/s", "r/s"], ["rps"];
    /// Revolution per minute.
    RevolutionPerMinute: "rpm", Rotation, (1, 60), false,
        ["rpm", "r/min", "1/min"], ["rev/min", "revs", "upm"];
    /// Watt.
    Watt: "W", Power, (1, 1), false,
        ["W"], ["watt", "watts"];
    /// Kilowatt.
    Kilowatt: "kW", Power, (1000, 1), false,
        ["kW"], [];
    /// Mechanical horsepower, 550 ft·lbf/s.
    Horsepower: "hp", Power, (37_284_993_579_113_511, 50_000_000_000_000), false,
        ["hp"], ["bhp"];
    /// Metric horsepower, 75 kgf·m/s.
    MetricHorsepower: "PS", Power, (588_399, 800), false,
        ["PS", "CV"], [];
    /// Electrical horsepower.
    ElectricalHorsepower: "hp(E)", Power, (746, 1), false,
        ["hp(E)"], [];
    /// Square metre per second.
    SquareMetrePerSecond: "m²/s", KinematicViscosity, (1, 1), false,
        ["m²/s", "m2/s"], [];
    /// Centistokes.
    Centistokes: "cSt", KinematicViscosity, (1, 1_000_000), false,
        ["cSt", "mm²/s", "mm2/s"], ["cst"];
    /// Pascal second.
    PascalSecond: "Pa·s", DynamicViscosity, (1, 1), false,
        ["Pa·s", "Pa s", "Pa-s"], [];
    /// Centipoise.
    Centipoise: "cP", DynamicViscosity, (1, 1000), false,
        ["cP", "mPa·s", "mPa s"], ["cp", "cps"];
    /// Kilogram per cubic metre.
    KilogramPerCubicMetre: "kg/m³", Density, (1, 1), false,
        ["kg/m³", "kg/m3"], [];
    /// Gram per cubic centimetre.
    GramPerCubicCentimetre: "g/cm³", Density, (1000, 1), false,
        ["g/cm³", "g/cm3", "g/mL", "g/ml", "kg/L", "kg/l"], [];
    /// Pound per cubic foot.
    PoundPerCubicFoot: "lb/ft³", Density, (28_349_523_125, 1_769_802_912), false,
        ["lb/ft³", "lb/ft3"], [];
    /// Newton per metre.
    NewtonPerMetre: "N/m", SpringRate, (1, 1), false,
        ["N/m"], [];
    /// Newton per millimetre.
    NewtonPerMillimetre: "N/mm", SpringRate, (1000, 1), false,
        ["N/mm"], [];
    /// Pound-force per inch.
    PoundForcePerInch: "lbf/in", SpringRate, (8_896_443_230_521, 50_800_000_000), false,
        ["lbf/in", "lb/in"], [];
    /// One whole turn.
    Turn: "turn", Angle, (1, 1), false,
        ["turn"], ["turns", "rev", "revolution"];
    /// Degree of angle.
    Degree: "°", Angle, (1, 360), false,
        ["°", "deg"], ["degree", "degrees"];
    /// Ampere.
    Ampere: "A", Current, (1, 1), false,
        ["A"], ["amp", "amps", "ampere"];
    /// Milliampere.
    Milliampere: "mA", Current, (1, 1000), false,
        ["mA"], [];
    /// Volt.
    Volt: "V", Voltage, (1, 1), false,
        ["V"], ["volt", "volts"];
}

/// Words that stand for more than one unit, with what to write.
const AMBIGUOUS: [(&str, &str); 6] = [
    ("gal", "`US gal` or `imp gal`"),
    ("gallon", "`US gal` or `imp gal`"),
    ("gallons", "`US gal` or `imp gal`"),
    ("gpm", "`US gpm` or `imp gpm`"),
    ("gal/min", "`US gpm` or `imp gpm`"),
    ("fl oz", "`US fl oz` or `imp fl oz`"),
];

impl Unit {
    /// Reads a spelling of a unit; `number` is [`Unit::One`]. Capitals count.
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|unit| unit.row().spellings.contains(&text))
    }

    /// Reads a spelling in a field of `field`: there a bare `psi` takes the kind of the field where
    /// that is gauge or a difference, and a bare `°C` is a difference where one is asked.
    pub fn parse_in(text: &str, field: Self) -> Option<Self> {
        let word = match field.dimension() {
            Dimension::GaugePressure => "gauge",
            Dimension::PressureDifference => "diff",
            Dimension::TemperatureDifference => {
                return match Self::parse(text)? {
                    Self::Kelvin | Self::Celsius => Some(Self::KelvinDifference),
                    Self::Fahrenheit | Self::Rankine => Some(Self::FahrenheitDifference),
                    unit => Some(unit),
                };
            }
            _ => return Self::parse(text),
        };
        Self::parse(text).or_else(|| Self::parse(&format!("{text} {word}")))
    }

    /// The unit with the longest spelling that `text` begins with, and the length of that spelling
    /// in bytes. A spelling ends where a word would end.
    pub fn at_start_of(text: &str) -> Option<(Self, usize)> {
        let goes_on = |c: char| c.is_alphanumeric() || matches!(c, '_' | '·' | '²' | '³');
        let fits = |spelling: &&str| {
            text.strip_prefix(*spelling)
                .is_some_and(|rest| rest.is_empty() || !rest.starts_with(goes_on))
        };
        let found = Self::ALL.iter().flat_map(|unit| {
            unit.row().spellings.iter().filter(|s| fits(s)).map(|s| (*unit, s.len()))
        });
        found.max_by_key(|(_, length)| *length)
    }

    /// How figures in this unit are followed on the screen; empty for a plain number.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// How files and messages name the unit: its symbol, or `number`.
    pub fn word(self) -> &'static str {
        if self == Self::One { "number" } else { self.symbol() }
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.row().dimension
    }

    /// The exact number of SI units in one of these.
    pub fn factor(self) -> Ratio<BigInt> {
        let (numerator, denominator) = self.row().factor;
        Ratio::new(BigInt::from(numerator), BigInt::from(denominator))
    }

    /// What is added to a figure in SI units: zero but for temperatures.
    pub fn offset(self) -> Ratio<BigInt> {
        let (numerator, denominator) = self.row().offset;
        Ratio::new(BigInt::from(numerator), BigInt::from(denominator))
    }

    /// The unit of differences of this one: itself, but for scales with a zero of their own.
    #[must_use]
    pub fn step(self) -> Self {
        let step = self.dimension().step();
        if step == self.dimension() {
            return self;
        }
        let alike = |unit: &Self| unit.dimension() == step && unit.factor() == self.factor();
        Self::ALL.iter().copied().find(alike).unwrap_or_else(|| step.base())
    }

    /// True for a length of the metric system, whose figures are never written as bare fractions.
    pub fn is_metric(self) -> bool {
        self.row().metric
    }

    /// Every accepted spelling, the symbol first.
    pub fn spellings(self) -> &'static [&'static str] {
        self.row().spellings
    }

    /// The accepted spelling that `text` most likely meant.
    pub fn suggestion(text: &str) -> Option<&'static str> {
        let lower = text.to_lowercase();
        Self::ALL.iter().find_map(|unit| {
            let row = unit.row();
            let meant =
                row.spellings.iter().chain(row.near).any(|known| known.to_lowercase() == lower);
            meant.then(|| unit.word())
        })
    }

    /// What to write for a word that stands for more than one unit: a bare `gal`, a pressure that
    /// does not say from where.
    pub fn ambiguity(text: &str) -> Option<String> {
        if let Some((_, mend)) = AMBIGUOUS.iter().find(|(word, _)| *word == text) {
            return Some((*mend).to_owned());
        }
        // A million or a thousandth: people's capitals do not tell.
        if let Some(bare) = text.strip_prefix(['M', 'm'])
            && Self::parse(bare) == Some(Self::NewtonMetre)
        {
            let million = if text.starts_with('M') { "; `M` is a million of them" } else { "" };
            return Some(format!("`N·m` with all its digits{million}"));
        }
        let gauge = Self::parse(&format!("{text} gauge"))?;
        let bare = gauge.symbol().trim_end_matches(" gauge");
        Some(format!("`{bare} gauge`, `{bare} abs` or `{bare} diff`"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spelling_reads_as_its_unit_and_no_two_rows_share_one() {
        let mut seen = std::collections::BTreeSet::new();
        for unit in Unit::ALL {
            for spelling in unit.spellings() {
                assert_eq!(Unit::parse(spelling), Some(*unit), "{spelling}");
                assert!(seen.insert(*spelling), "{spelling} stands twice");
                assert_eq!(Unit::ambiguity(spelling), None, "{spelling}");
                if *unit != Unit::One {
                    assert_eq!(Unit::at_start_of(spelling), Some((*unit, spelling.len())));
                }
            }
            for near in unit.row().near {
                assert_eq!(Unit::parse(near), None, "{near}");
                assert_eq!(Unit::suggestion(near), Some(unit.word()), "{near}");
            }
            assert_eq!(Unit::parse(unit.word()), Some(*unit));
        }
    }

    #[test]
    fn capitals_are_not_guessed_but_suggested() {
        assert_eq!(Unit::parse("MM"), None);
        assert_eq!(Unit::suggestion("MM"), Some("mm"));
        assert_eq!(Unit::suggestion("furlong"), None);
        assert_eq!(Unit::suggestion("nm"), Some("N·m"));
    }

    #[test]
    fn a_word_for_two_units_is_neither() {
        for word in ["gal", "gpm", "psi", "bar", "MNm", "fl oz", "mmHg"] {
            assert_eq!(Unit::parse(word), None, "{word}");
            assert!(Unit::ambiguity(word).is_some(), "{word}");
        }
        assert_eq!(Unit::ambiguity("psi").unwrap(), "`psi gauge`, `psi abs` or `psi diff`");
        assert_eq!(Unit::parse_in("psi", Unit::BarGauge), Some(Unit::PsiGauge));
        assert_eq!(Unit::parse_in("psi", Unit::KilopascalDiff), Some(Unit::PsiDiff));
        assert_eq!(Unit::parse_in("psi", Unit::BarAbs), None);
        assert_eq!(Unit::parse_in("psi abs", Unit::BarGauge), Some(Unit::PsiAbs));
        assert_eq!(Unit::parse_in("°C", Unit::KelvinDifference), Some(Unit::KelvinDifference));
        assert_eq!(Unit::parse_in("psig", Unit::BarGauge), None);
        assert_eq!(Unit::suggestion("psig"), Some("psi gauge"));
    }

    #[test]
    fn every_scale_has_differences_of_the_same_size() {
        for unit in Unit::ALL {
            assert_eq!(unit.step().factor(), unit.factor(), "{unit:?}");
            assert_eq!(unit.step().dimension(), unit.dimension().step(), "{unit:?}");
        }
        assert_eq!(Unit::Celsius.step(), Unit::KelvinDifference);
        assert_eq!(Unit::BarGauge.step(), Unit::BarDiff);
        assert_eq!(Unit::TorrAbs.step(), Unit::TorrDiff);
        assert_eq!(Unit::Inch.step(), Unit::Inch);
    }

    #[test]
    fn the_longest_spelling_counts() {
        assert_eq!(Unit::at_start_of("in-lb and"), Some((Unit::PoundForceInch, 5)));
        assert_eq!(Unit::at_start_of("in and"), Some((Unit::Inch, 2)));
        assert_eq!(Unit::at_start_of("bar gauge)"), Some((Unit::BarGauge, 9)));
        assert_eq!(Unit::at_start_of("m3/h"), Some((Unit::CubicMetrePerHour, 4)));
        assert_eq!(Unit::at_start_of("inner"), None);
    }

    #[test]
    fn a_foot_is_twelve_inches_and_a_thou_a_thousandth_of_one() {
        let times = |n: i64| Ratio::from_integer(BigInt::from(n));
        assert_eq!(Unit::Inch.factor() * times(12), Unit::Foot.factor());
        assert_eq!(Unit::Thou.factor() * times(1_000), Unit::Inch.factor());
        assert_eq!(Unit::Millimetre.factor() * times(1_000), Unit::Metre.factor());
        assert_eq!(Unit::PoundForceInch.factor() * times(12), Unit::PoundForceFoot.factor());
    }
}
