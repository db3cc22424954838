//! What each fluid calculation says of itself, and its inputs.

use super::{Fluid, Input, Kind, run, suction};

const fn input(name: &'static str, what: &'static str, unit: &'static str) -> Input {
    Input { name, what, unit, kind: Kind::Figure, without: None }
}

const fn maybe(input: Input, without: &'static str) -> Input {
    Input { without: Some(without), ..input }
}

const fn range(input: Input) -> Input {
    Input { kind: Kind::Range, ..input }
}

const fn word(name: &'static str, what: &'static str, words: &'static [&'static str]) -> Input {
    Input { name, what, unit: "", kind: Kind::Word(words), without: None }
}

/// The words for [`Give`](crate::calc::suction::Give), in its order.
pub(super) const GIVES: &[&str] = &["deaerated_water", "water", "hydrocarbon", "hot_oil"];

/// The words for [`PumpType`](crate::calc::suction::PumpType), in its order.
pub(super) const PUMPS: &[&str] = &[
    "simplex_single",
    "simplex_double",
    "duplex_single",
    "duplex_double",
    "triplex",
    "quintuplex",
    "septuplex",
    "nonuplex",
];

const GRAVITY: Input = maybe(input("gravity", "acceleration of free fall", "m/s²"), "9.80665 m/s²");
const FLOW: Input = input("flow", "flow", "m³/s");
const LENGTH: Input = input("length", "length of the line", "m");
const BORE: Input = input("bore", "bore of the line", "m");
const ROUGHNESS: Input = maybe(input("roughness", "roughness of the wall", "m"), "a smooth wall");
const FITTINGS: Input =
    maybe(input("fittings", "sum of the K of entry, bends and valves", ""), "no fittings");
const VISCOSITY: Input = input("viscosity", "kinematic viscosity", "m²/s");
const SPEED: Input = input("speed", "speed of the crank, in revolutions a minute", "");
const PUMP: Input = word("pump", "how the pump is built", PUMPS);
const LIQUID: Input = word("liquid", "how much the liquid gives", GIVES);

const HI: &str = "the rule h = L·v·n·C/(k·g) is attributed to the reciprocating-pump standard of the \
    Hydraulic Institute (ANSI/HI 6.1-6.5); rule, C and k are from memory. The motion of the crank gives \
    the same C within 1.3 %; nothing was found that supports the k";
const R7_97: &str = "IAPWS R7-97(2012): region 4 for the vapour pressure, region 1 for the density";
const R12_08: &str = "IAPWS R12-08 for the viscosity";
const USSA: &str = "US Standard Atmosphere 1976, ISO 2533";
const STIFF: &str = "the acceleration head is for short stiff lines without a stabiliser: a hose or more \
    than 15 m of line (from memory) is warned of";
const TRANSITION: &str = "Re 2000 to 4000: no source prescribes a factor; the worse of laminar and \
    turbulent is given, as a bound";
const PETROLEUM: &str = "for petroleum oils; synthetic ones may be otherwise";

/// The fluid calculations.
pub const FLUIDS: [Fluid; 9] = [
    Fluid {
        name: "water",
        title: "at what pressure water of a temperature boils, how dense and how thick it is",
        formulas: &[
            "p_vapour = (2·C/(−B + √(B² − 4·A·C)))⁴ MPa; A, B, C from ϑ = T + n9/(T − n10)",
            "ρ = p/(R·T·π·γ_π), viscosity μ = μ0(T)·μ1(T, ρ), ν = μ/ρ",
        ],
        symbols: &[
            ("T", "temperature, K"),
            ("p", "absolute pressure, Pa"),
            ("ρ", "density, kg/m³"),
            ("μ, ν", "dynamic viscosity, Pa·s, and kinematic, m²/s"),
        ],
        valid: &["0 to 350 °C, as a liquid: from its vapour pressure to 1000 bar"],
        warnings: &["pure water; salt, glycol and air in it are not reckoned"],
        sources: &[R7_97, R12_08],
        inputs: &[
            input("temperature", "temperature of the water", "K"),
            maybe(
                input("pressure", "absolute pressure on it", "Pa"),
                "1.01325 bar, or its vapour pressure where that is more",
            ),
        ],
        run: run::water,
    },
    Fluid {
        name: "atmosphere",
        title: "the air pressure to be reckoned with at an altitude",
        formulas: &[
            "p = 101 325 Pa·(1 − 0.0065·h/288.15)^5.2559, h = R·z/(R + z), R = 6 356 766 m",
        ],
        symbols: &[("z", "altitude on the map, m"), ("h", "geopotential altitude, m")],
        valid: &["−500 to 5000 m"],
        warnings: &["the weather is not in it: a deep low takes another 3 kPa"],
        sources: &[USSA],
        inputs: &[
            input("altitude", "altitude", "m"),
            Input {
                without: Some("geometric"),
                ..word("kind", "which altitude", &["geometric", "geopotential"])
            },
        ],
        run: run::atmosphere,
    },
    Fluid {
        name: "pipe_loss",
        title: "the head that a pipe with its fittings costs",
        formulas: &[
            "v = Q/(π/4·D²), Re = v·D/ν",
            "f = 64/Re up to Re 2000; 1/√f = −2·log10(ε/D/3.7 + 2.51/(Re·√f)) from Re 4000",
            "h = (f·L/D + ΣK)·v²/2g",
        ],
        symbols: &[
            ("Q", "flow, m³/s"),
            ("D, L, ε", "bore, length and roughness of the wall, m"),
            ("ν", "kinematic viscosity, m²/s"),
            ("f", "Darcy friction factor"),
            ("ΣK", "sum of the loss factors"),
        ],
        valid: &["full round pipe, steady flow, Re up to 100 million, ε/D up to 0.05"],
        warnings: &[TRANSITION],
        sources: &["Darcy-Weisbach; Hagen-Poiseuille; Colebrook-White, solved to 1e-12"],
        inputs: &[FLOW, LENGTH, BORE, VISCOSITY, ROUGHNESS, FITTINGS, GRAVITY],
        run: run::pipe_loss,
    },
    Fluid {
        name: "acceleration_head",
        title: "what it costs to get the suction line's liquid going at every stroke",
        formulas: &["h_acc = L·v·n·C/(k·g)"],
        symbols: &[
            ("L", "length of the line, m"),
            ("v", "mean velocity in it, m/s"),
            ("n", "speed of the crank, rev/min"),
            (
                "C",
                "by cylinders: 0.4 simplex, 0.2 duplex, 0.066 triplex, 0.04 quintuplex and so on",
            ),
            ("k", "by liquid: 1.4 deaerated water, 1.5 water, 2 hydrocarbons, 2.5 hot oil"),
        ],
        valid: &["short stiff lines without a stabiliser"],
        warnings: &[STIFF, "k has no support but memory"],
        sources: &[HI],
        inputs: &[
            LENGTH,
            input("velocity", "mean velocity in the line", "m/s"),
            SPEED,
            PUMP,
            LIQUID,
            GRAVITY,
        ],
        run: run::acceleration_head,
    },
    Fluid {
        name: "suction",
        title: "does the liquid reach the pump with enough pressure, and if not, what to change",
        formulas: &[
            "NPSHa = (p_air + p_tank − p_vapour)/(ρ·g) + z − h_pipe − h_fittings − h_strainer − h_acc",
            "h_pipe = f·L/D·v²/2g, h_fittings = ΣK·v²/2g, h_strainer = Δp/(ρ·g), h_acc = L·v·n·C/(k·g)",
            "p_inlet = p_vapour + ρ·g·(NPSHa − v²/2g), p_max = p_air + p_tank + ρ·g·(z + h_acc)",
        ],
        symbols: &[
            ("p_air", "air pressure, absolute: by altitude or barometer"),
            ("p_tank", "pressure in the tank above the air's; 0 when open"),
            (
                "p_vapour, ρ, ν",
                "vapour pressure, density and viscosity: water by temperature, else entered",
            ),
            ("z", "level above the pump's centre line; negative when it lifts"),
            ("f, L, D, v, ΣK", "as in `pipe_loss`"),
            ("h_acc, C, k", "as in `acceleration_head`"),
        ],
        valid: &[
            "one bore all along, a liquid without gas in it, −500 to 5000 m",
            "refused: a tank below nothing, a liquid that boils in tank or line",
            "each figure may be a range: the worst of all that may come together is reckoned, and named",
        ],
        warnings: &[STIFF, TRANSITION, "friction and acceleration are added: on the safe side"],
        sources: &["the balance is in every pump handbook", USSA, R7_97, R12_08, HI],
        inputs: &[
            maybe(range(input("altitude", "altitude", "m")), "`air_pressure` is given"),
            maybe(
                range(input("air_pressure", "air pressure, absolute", "Pa")),
                "`altitude` is given",
            ),
            maybe(
                range(input("tank_pressure", "tank pressure above the air's", "Pa")),
                "an open tank",
            ),
            range(input("level", "level above the pump", "m")),
            maybe(
                range(input("temperature", "temperature of the water", "K")),
                "another liquid: `vapour_pressure`, `density` and `viscosity`",
            ),
            maybe(range(input("vapour_pressure", "vapour pressure, absolute", "Pa")), "water"),
            maybe(range(input("density", "density", "kg/m³")), "water"),
            maybe(range(VISCOSITY), "water"),
            maybe(range(SPEED), "a steady flow"),
            maybe(range(FLOW), "`displacement` is given"),
            maybe(range(input("displacement", "volume of one turn", "m³")), "`flow` is given"),
            range(LENGTH),
            range(BORE),
            range(ROUGHNESS),
            range(FITTINGS),
            maybe(
                range(input(
                    "strainer",
                    "pressure lost in the strainer at the greatest flow",
                    "Pa",
                )),
                "no strainer",
            ),
            Input { without: Some("stiff"), ..word("wall", "pipe or hose", &["stiff", "hose"]) },
            Input { without: Some("a steady flow: no acceleration head"), ..PUMP },
            Input { without: Some("`water`"), ..LIQUID },
            maybe(input("stabiliser", "way from the pump to a stabiliser", "m"), "no stabiliser"),
            maybe(input("npsh_required", "NPSH required", "m"), "another of the four requirements"),
            maybe(
                input("least_inlet_absolute", "least inlet pressure, absolute", "Pa"),
                "another of the four requirements",
            ),
            maybe(
                input("least_inlet_gauge", "least inlet pressure above the air's", "Pa"),
                "another of the four requirements",
            ),
            maybe(
                input("greatest_vacuum", "greatest vacuum", "Pa"),
                "another of the four requirements",
            ),
            maybe(input("margin", "margin asked for, in metres of NPSH", "m"), "none"),
            maybe(input("margin_pressure", "margin asked for, as a pressure", "Pa"), "none"),
            maybe(
                input("greatest_inlet_absolute", "greatest inlet pressure, absolute", "Pa"),
                "not looked at",
            ),
            maybe(
                input("greatest_inlet_gauge", "greatest inlet pressure above the air's", "Pa"),
                "not looked at",
            ),
            GRAVITY,
        ],
        run: suction::suction,
    },
    Fluid {
        name: "oil_viscosity",
        title: "how thick an oil is at a temperature",
        formulas: &["log10 log10(ν + 0.7) = A − B·log10 T"],
        symbols: &[
            ("ν", "kinematic viscosity, mm²/s"),
            ("T", "temperature, K"),
            ("A, B", "from two points"),
        ],
        valid: &["2 mm²/s and more, −70 to 370 °C"],
        warnings: &[PETROLEUM, "beyond the two points the line is carried on: said so"],
        sources: &["the form of ASTM D341 as restated in public; the practice was not read"],
        inputs: &[
            input("temperature_1", "temperature of the first viscosity", "K"),
            input("viscosity_1", "first kinematic viscosity", "m²/s"),
            input("temperature_2", "temperature of the second viscosity", "K"),
            input("viscosity_2", "second kinematic viscosity", "m²/s"),
            input("temperature", "temperature asked for", "K"),
        ],
        run: run::oil_viscosity,
    },
    Fluid {
        name: "viscosity_index",
        title: "how little an oil thins when it warms up",
        formulas: &[
            "VI = 100·(L − U)/(L − H) up to 100",
            "VI = 100 + (10^N − 1)/0.00715, N = (log10 H − log10 U)/log10 Y above 100",
        ],
        symbols: &[
            ("U, Y", "kinematic viscosity at 40 and at 100 °C, mm²/s"),
            ("L, H", "at 40 °C of oils of index 0 and 100 that are alike at 100 °C"),
        ],
        valid: &["2 mm²/s and more at 100 °C"],
        warnings: &[
            PETROLEUM,
            "the practice reads a table: unrounded, the index may differ by 0.1",
        ],
        sources: &[
            "ASTM D2270; L and H by the equations beside its table, coefficients from memory: they \
            meet the table of a public library within 0.12 %",
        ],
        inputs: &[
            input("viscosity_40", "kinematic viscosity at 40 °C", "m²/s"),
            input("viscosity_100", "kinematic viscosity at 100 °C", "m²/s"),
        ],
        run: run::viscosity_index,
    },
    Fluid {
        name: "viscosity_grade",
        title: "which ISO VG grade an oil is",
        formulas: &["midpoint ± 10 % at 40 °C, both limits among it"],
        symbols: &[],
        valid: &["ISO VG 2 to 3200; between grades there are gaps"],
        warnings: &[],
        sources: &["ISO 3448 as restated in public; VG 2200 and 3200 from memory"],
        inputs: &[input("viscosity_40", "kinematic viscosity at 40 °C", "m²/s")],
        run: run::viscosity_grade,
    },
    Fluid {
        name: "cleanliness",
        title: "the cleanliness code of an oil from its particle counts",
        formulas: &["scale number: more than the limit below, up to and including its own"],
        symbols: &[("counts", "particles of 4, 6 and 14 µm(c) and larger in a millilitre")],
        valid: &["0 to 2.5 million in a millilitre; above it >28"],
        warnings: &["fewer than 20 particles counted in all: written with ≥"],
        sources: &["ISO 4406 as restated in public (1999 and 2017); >28 from memory"],
        inputs: &[
            maybe(input("count_4", "particles of 4 µm and larger in a millilitre", ""), "a dash"),
            maybe(input("count_6", "particles of 6 µm and larger in a millilitre", ""), "a dash"),
            maybe(input("count_14", "particles of 14 µm and larger in a millilitre", ""), "a dash"),
            maybe(input("counted_4", "particles of 4 µm counted in all", ""), "enough"),
            maybe(input("counted_6", "particles of 6 µm counted in all", ""), "enough"),
            maybe(input("counted_14", "particles of 14 µm counted in all", ""), "enough"),
        ],
        run: run::cleanliness,
    },
];
