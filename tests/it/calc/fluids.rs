//! The fluid calculations against check values from outside the project, row by row.
//!
//! Rows of basis `memory` are checked like the others; their count is asserted, so that none slips in
//! unnoticed among what was read or computed.

use witnessmark::calc::oil::{Count, Graded, ViscosityLine, ViscosityPoint};
use witnessmark::calc::suction::acceleration::{Column, acceleration_head, harmonic_head};
use witnessmark::calc::suction::state::npsh_available;
use witnessmark::calc::suction::{
    self, Air, Flow, Give, Line, Liquid, LiquidState, Pulsation, PumpType, Requirement, Spread,
    State, Suction, SuctionRefusal, Wall,
};
use witnessmark::calc::{atmosphere, friction, oil, water};

use proptest::prelude::*;

use witnessmark::calc::Working;

use super::{figure, table, work, worked};
use crate::support::csv::{Row, close, rows};

#[test]
fn water_boils_where_the_formulation_says() {
    let csv = include_str!("../../reference/saturation_pressure_water.csv");
    for row in table(csv, 34, 0) {
        let (name, t) = (row.name(), row.number("T_K"));
        if row.text("note").is_empty() && row.text("quantity_checked").contains("refused")
            || name.starts_with("error")
        {
            let refusal = water::saturation_pressure(t).expect_err(name);
            assert!(refusal.to_string().contains("0 to 373.946 °C"), "{refusal}");
            continue;
        }
        let (p, rtol) = (row.number("p_sat_Pa"), row.number("rtol"));
        match row.text("quantity_checked") {
            "T(p)" => close(water::saturation_temperature(p).expect(name), t, rtol, name),
            _ => close(water::saturation_pressure(t).expect(name), p, rtol, name),
        }
        // Seven digits of an exact decimal lie between the text and the nearest number.
        if t <= water::LIQUID_MAX_K {
            let named = worked("water_properties", &[("temperature", figure(t, "K"))]);
            close(named.figure("vapour_pressure").expect(name), p, rtol.max(1e-7), name);
        }
    }
}

/// The tolerance of `quantity` in a field such as `5e-5 density, 1e-3 viscosity`.
fn rtol_of(row: &Row, quantity: &str) -> f64 {
    let text = row.text("rtol");
    let part = text.split(", ").find(|part| part.ends_with(quantity)).unwrap_or(text);
    part.split(' ').next().and_then(|figure| figure.parse().ok()).expect("a tolerance")
}

#[test]
fn water_is_as_dense_and_as_thick_as_the_formulations_say() {
    let csv = include_str!("../../reference/water_density_viscosity.csv");
    for row in table(csv, 33, 0) {
        let (name, t) = (row.name(), row.number("T_K"));
        let checked = row.text("quantity_checked");
        if checked == "viscosity at given density" {
            let mu = water::viscosity_at_density(t, row.number("density_kg_m3")).expect(name);
            close(mu, row.number("dyn_viscosity_Pa_s"), rtol_of(&row, "viscosity"), name);
            continue;
        }
        let p = row.number("p_Pa");
        let density = water::density(t, p).expect(name);
        close(density, row.number("density_kg_m3"), rtol_of(&row, "density"), name);
        if let Some(if97) = row.figure("density_if97_kg_m3") {
            close(density, if97, 1e-8, name);
        }
        if checked.contains("viscosity") {
            let mu = water::liquid(t, p).expect(name).dynamic_viscosity;
            close(mu, row.number("dyn_viscosity_Pa_s"), rtol_of(&row, "viscosity"), name);
            let nu = row.number("kin_viscosity_m2_s");
            close(mu / density, nu, rtol_of(&row, "viscosity"), name);
        }
        let given = [("temperature", figure(t, "K")), ("pressure", figure(p, "Pa abs"))];
        let named = worked("water_properties", &given);
        close(named.figure("density").expect(name), density, 1e-12, name);
    }
}

#[test]
fn the_standard_atmosphere_at_every_altitude() {
    let csv = include_str!("../../reference/standard_atmosphere.csv");
    let mut refused = 0;
    for row in table(csv, 42, 0) {
        let (name, altitude, rtol) = (row.name(), row.number("altitude_m"), row.number("rtol"));
        let air = match row.text("altitude_kind") {
            "geometric" => atmosphere::at_altitude(altitude),
            _ => atmosphere::at_geopotential(altitude),
        };
        if altitude < -500.0 {
            assert!(air.expect_err(name).to_string().contains("-500 to 5000 m"));
            refused += 1;
            continue;
        }
        let air = air.expect(name);
        let kind = row.text("altitude_kind").to_owned();
        let given = [("altitude", figure(altitude, "m")), ("kind", kind)];
        let named = worked("air_pressure", &given);
        assert_eq!(named.figure("pressure"), Some(air.pressure), "{name}");
        close(air.pressure, row.number("pressure_Pa"), rtol, name);
        for (column, got) in
            [("pressure_iso2533_Pa", air.pressure), ("temperature_K", air.temperature)]
        {
            if let Some(want) = row.figure(column) {
                close(got, want, rtol, name);
            }
        }
    }
    assert_eq!(refused, 1, "only the row below the range");
}

/// A flow of water through a bore of 100 mm that has this Reynolds number.
fn through_a_pipe(reynolds: f64, relative_roughness: f64) -> Working {
    // What rounding leaves of a bound of the regimes stays on its side.
    let hair = if reynolds <= friction::LAMINAR_MAX { -1e-12 } else { 1e-12 };
    let flow = reynolds * (1.0 + hair) * 1e-6 / 0.1 * (std::f64::consts::FRAC_PI_4 * 0.01);
    worked(
        "pipe_loss",
        &[
            ("flow", figure(flow, "m³/s")),
            ("length", "1 m".to_owned()),
            ("bore", "100 mm".to_owned()),
            ("viscosity", "1 mm²/s".to_owned()),
            ("roughness", figure(relative_roughness * 100.0, "mm")),
        ],
    )
}

#[test]
fn friction_factors_of_every_regime() {
    let csv = include_str!("../../reference/friction_factor.csv");
    for row in table(csv, 53, 0) {
        let (name, re) = (row.name(), row.number("reynolds"));
        let rough = row.number("rel_roughness");
        let got = friction::friction_factor(re, rough).expect(name);
        let named = through_a_pipe(re, rough);
        close(named.figure("friction_factor").expect(name), got.factor, 1e-9, name);
        let regime = match got.regime {
            friction::Regime::Laminar => "laminar",
            friction::Regime::Transition => "transition",
            friction::Regime::Turbulent => "turbulent",
        };
        assert_eq!(named.word("regime"), Some(regime), "{name}");
        let bound = named.text().contains("= a bound: ");
        assert_eq!(bound, got.regime == friction::Regime::Transition, "{name}");
        match (row.text("regime"), row.figure("published_f")) {
            ("transition", _) => {
                assert_eq!(got.regime, friction::Regime::Transition, "{name}");
                assert!(got.regime.words().contains("a bound"), "{name}");
                let branches = row.text("source");
                let colebrook = branches.rsplit(' ').next().and_then(|f| f.parse().ok());
                close(got.factor, colebrook.expect("the worse branch"), 2e-5, name);
            }
            // Chart and print: the tolerance of the row is for what the source prints.
            (_, Some(printed)) => {
                close(got.factor, printed, row.number("rtol"), name);
                close(got.factor, row.number("darcy_f"), 1e-8, name);
            }
            ("laminar", None) => {
                // 64/Re to the last bit; the row is printed to nine digits.
                close(friction::laminar(re), 64.0 / re, row.number("rtol"), name);
                close(friction::laminar(re), row.number("darcy_f"), 5e-9, name);
            }
            (_, None) => {
                close(got.factor, row.number("darcy_f"), row.number("rtol"), name);
                close(got.factor / 4.0, row.number("fanning_f"), 1e-8, name);
            }
        }
    }
}

#[test]
fn oil_thins_along_the_line() {
    let csv = include_str!("../../reference/viscosity_temperature.csv");
    for row in table(csv, 37, 0) {
        let name = row.name();
        let kelvin = row.number("kelvin_offset");
        let point = |nu, t| ViscosityPoint {
            viscosity: row.number(nu),
            temperature: row.number(t) + kelvin,
        };
        let line = ViscosityLine::through(point("nu1_cSt", "T1_degC"), point("nu2_cSt", "T2_degC"))
            .expect(name);
        let nu = line.at(row.number("T_degC") + kelvin).expect(name);
        if name == "published_vg32" {
            close(line.a, 9.5259, 1e-5, name);
            close(line.b, 3.7449, 1e-5, name);
            close(nu.viscosity, 8.5, 7e-3, name);
        }
        close(line.a, row.number("A"), 1e-7, name);
        close(line.b, row.number("B"), 1e-7, name);
        close(nu.viscosity, row.number("nu_cSt"), 1e-7, name);
        let between = (40.0..=100.0).contains(&row.number("T_degC"));
        assert_eq!(nu.extrapolated, !between, "{name}");
        let kelvins = |t| figure(row.number(t) + kelvin, "K");
        let named = worked(
            "oil_viscosity",
            &[
                ("temperature_1", kelvins("T1_degC")),
                ("viscosity_1", figure(row.number("nu1_cSt"), "cSt")),
                ("temperature_2", kelvins("T2_degC")),
                ("viscosity_2", figure(row.number("nu2_cSt"), "cSt")),
                ("temperature", kelvins("T_degC")),
            ],
        );
        close(named.figure("viscosity").expect(name), nu.viscosity * 1e-6, 1e-12, name);
        let told = named.warnings.iter().any(|warning| warning.contains("carried on"));
        assert_eq!(told, !between, "{name}");
    }
}

#[test]
fn viscosity_indices_round_to_the_stated_ones() {
    let csv = include_str!("../../reference/viscosity_index.csv");
    for row in table(csv, 14, 1) {
        let (name, u, y) = (row.name(), row.number("nu_40C_cSt"), row.number("nu_100C_cSt"));
        let index = oil::viscosity_index(u, y);
        let given = [("viscosity_40", figure(u, "cSt")), ("viscosity_100", figure(y, "cSt"))];
        let named = work("viscosity_index", &given);
        assert_eq!(
            named.ok().and_then(|named| named.figure("viscosity_index")),
            row.figure("vi_rounded"),
            "{name}"
        );
        let Some(rounded) = row.figure("vi_rounded") else {
            assert!(index.expect_err(name).to_string().contains("2 mm²/s"), "{name}");
            continue;
        };
        let index = index.expect(name);
        close(index.stated, rounded, 0.0, name);
        // The practice interpolates in a table; the equations beside it are that close to it.
        assert!((index.exact - row.number("vi_unrounded")).abs() < 0.1, "{name}: {index:?}");
    }
}

#[test]
fn viscosity_grades_have_the_printed_limits() {
    let rows = table(include_str!("../../reference/iso_vg.csv"), 20, 2);
    assert_eq!(oil::grades().count(), rows.len());
    for (grade, row) in oil::grades().zip(&rows) {
        assert_eq!(grade.to_string(), row.text("grade"));
        let places = row.text("min_cSt").split('.').nth(1).map_or(0, str::len);
        assert_eq!(format!("{:.places$}", grade.min), row.text("min_cSt"));
        assert_eq!(format!("{:.places$}", grade.max), row.text("max_cSt"));
        for column in ["min_cSt", "midpoint_cSt", "max_cSt"] {
            let graded = oil::grade(row.number(column)).expect("a viscosity");
            assert_eq!(graded, Graded::Within(grade), "{column}");
            let named =
                worked("viscosity_grade", &[("viscosity_40", figure(row.number(column), "cSt"))]);
            assert_eq!(named.word("grade"), Some(row.text("grade")), "{column}");
        }
        close(grade.midpoint * 1e-6, row.number("midpoint_m2_s"), 1e-15, row.name());
    }
}

#[test]
fn scale_numbers_take_their_upper_limit_and_no_more() {
    for row in table(include_str!("../../reference/oil_cleanliness.csv"), 30, 1) {
        let number: Option<usize> = row.text("scale_number").parse().ok();
        let low = row.number("more_than_per_mL");
        let scale = |count| oil::scale_number(count).expect("a count");
        assert_eq!(scale(low * (1.0 + 1e-12) + 1e-12), number, "{}", row.name());
        if number != Some(0) {
            assert_ne!(scale(low), number, "{}", row.name());
        }
        if let Some(high) = row.figure("up_to_and_including_per_mL") {
            assert_eq!(scale(high), number, "{}", row.name());
            close(high * 100.0, row.number("up_to_per_100mL"), 1e-12, row.name());
        }
    }
}

#[test]
fn cleanliness_codes_from_counts() {
    for row in table(include_str!("../../reference/oil_cleanliness_codes.csv"), 9, 0) {
        let count = |size| {
            row.figure(&format!("count_ge_{size}um_per_mL"))
                .map(|per_ml| Count { per_ml, counted: None })
        };
        let name = row.name();
        let got = oil::cleanliness([count(4), count(6), count(14)]).expect(name);
        assert_eq!(got.code, row.text("code"), "{name}");
        assert_eq!(got.out_of_order, row.text("note").contains("odd order"), "{name}");
        let given: Vec<(&str, String)> = [4, 6, 14]
            .into_iter()
            .zip(["count_4", "count_6", "count_14"])
            .filter_map(|(size, input)| {
                let count = row.figure(&format!("count_ge_{size}um_per_mL"))?;
                Some((input, count.to_string()))
            })
            .collect();
        let named = worked("cleanliness_code", &given);
        assert_eq!(named.word("code"), Some(row.text("code")), "{name}");
        assert_eq!(
            named.warnings.iter().any(|w| w.contains("look at the counts")),
            got.out_of_order
        );
    }
}

/// The figure after `word` in text such as `T 20 °C; Q 200 L/min`.
fn after(text: &str, word: &str) -> Option<f64> {
    let part = text.split([';', ',']).map(str::trim).find_map(|part| part.strip_prefix(word))?;
    part.trim().split(' ').next()?.parse().ok()
}

#[test]
fn npsh_of_the_worked_examples() {
    let csv = include_str!("../../reference/npsh_examples.csv");
    let foot = 0.3048;
    for row in table(csv, 22, 0).iter().filter(|row| row.text("basis") == "published") {
        let losses = row.number("friction_head_m") + row.number("extra_loss_m");
        let inputs = row.text("inputs");
        let (pressures, weight) = match row.figure("p_surface_abs_Pa") {
            Some(surface) => (
                [surface, row.number("p_vapour_Pa")],
                row.number("density_kg_m3") * row.number("g_m_s2"),
            ),
            // Rows that print heads instead of pressures.
            None => (["Ha", "Hvp"].map(|name| after(inputs, name).expect(name) * foot), 1.0),
        };
        let npsh = npsh_available(pressures, weight, row.number("static_head_m"), losses);
        let miss = (npsh - row.number("npsha_m")).abs();
        assert!(miss <= row.number("atol_m"), "{}: {npsh}", row.name());
    }
}

/// A composed row as a single state, its liquid by our own formulations.
fn composed(row: &Row) -> State {
    let inputs = row.text("inputs");
    let of = |word| after(inputs, word).unwrap_or_else(|| panic!("{word} in {inputs}"));
    let (surface, temperature) = (row.number("p_surface_abs_Pa"), of("T") + 273.15);
    let vapour_pressure = water::saturation_pressure(temperature).expect("within");
    let water = water::liquid(temperature, surface.max(vapour_pressure)).expect("liquid");
    State {
        air_pressure: surface,
        tank_gauge: 0.0,
        level: row.number("static_head_m"),
        liquid: LiquidState {
            temperature: Some(temperature),
            vapour_pressure,
            density: water.density,
            viscosity: water.dynamic_viscosity / water.density,
        },
        flow: of("Q") / 60_000.0,
        speed: 0.0,
        length: of("L"),
        bore: of("D") / 1000.0,
        roughness: of("eps") / 1000.0,
        fittings: of("sum K"),
        strainer: row.number("extra_loss_m") * water.density * 9.806_65,
        pulsation: None,
        gravity: row.number("g_m_s2"),
    }
}

/// The same as the check is given it, with nothing unsure and nothing required.
fn as_asked(row: &Row, state: &State) -> Suction {
    let air = match after(row.text("inputs"), "altitude") {
        Some(altitude) => Air::Altitude(Spread::only(altitude)),
        None => Air::Barometer(Spread::only(100_000.0)),
    };
    let tank = if let Air::Barometer(_) = air { state.air_pressure - 100_000.0 } else { 0.0 };
    Suction {
        air,
        tank: Spread::only(tank),
        level: Spread::only(state.level),
        liquid: Liquid::Water(Spread::only(state.liquid.temperature.expect("water"))),
        speed: Spread::only(100.0),
        flow: Flow::At(Spread::only(state.flow)),
        line: Line {
            wall: Wall::Stiff,
            length: Spread::only(state.length),
            bore: Spread::only(state.bore),
            roughness: Spread::only(state.roughness),
            fittings: Spread::only(state.fittings),
            strainer: Spread::only(state.strainer),
        },
        pulsation: None,
        requires: Requirement::Npsh(0.0),
        margin: 0.0,
        greatest_inlet: None,
        gravity: state.gravity,
    }
}

/// The same as a person types it.
fn named_suction(row: &Row, state: &State) -> Vec<(&'static str, String)> {
    let (air, tank) = match after(row.text("inputs"), "altitude") {
        Some(altitude) => (("altitude", figure(altitude, "m")), 0.0),
        None => (("air_pressure", "1 bar abs".to_owned()), state.air_pressure - 1e5),
    };
    vec![
        air,
        ("tank_pressure", figure(tank, "Pa gauge")),
        ("level", figure(state.level, "m")),
        ("temperature", figure(state.liquid.temperature.unwrap(), "K")),
        ("flow", figure(state.flow, "m³/s")),
        ("length", figure(state.length, "m")),
        ("bore", figure(state.bore, "m")),
        ("roughness", figure(state.roughness, "m")),
        ("fittings", state.fittings.to_string()),
        ("strainer", figure(state.strainer, "Pa")),
        ("npsh_required", "0 m".to_owned()),
    ]
}

#[test]
fn npsh_of_the_composed_examples() {
    let csv = include_str!("../../reference/npsh_examples.csv");
    let mut checked = 0;
    for row in rows(csv).iter().filter(|row| row.name().starts_with("composed")) {
        let (name, state) = (row.name(), composed(row));
        let balance = state.balance().expect(name);
        let atol = row.number("atol_m");
        for (got, column) in [
            (balance.npsh, "npsha_m"),
            (balance.pipe_head + balance.fittings_head, "friction_head_m"),
            (balance.course.velocity_head, "velocity_head_m"),
        ] {
            assert!((got - row.number(column)).abs() <= atol, "{name} {column}: {got}");
        }
        if let Some(reynolds) = after(row.text("inputs"), "Re") {
            close(balance.course.reynolds, reynolds, 1e-3, name);
        }
        // The whole check says the same, or says why it says nothing; by name too.
        let named = work("suction_check", &named_suction(row, &state));
        match row.name() {
            "composed_negative" => assert!(named.unwrap_err().to_string().contains("boils before")),
            "composed_boiling_tank" => {
                assert!(named.unwrap_err().to_string().contains("boils in the tank"));
            }
            _ => {
                let npsh = named.unwrap().figure("npsh_available").unwrap();
                assert!((npsh - row.number("npsha_m")).abs() <= atol, "{name}");
            }
        }
        match suction::check(&as_asked(row, &state)) {
            Ok(finding) => {
                assert!((finding.balance.npsh - row.number("npsha_m")).abs() <= atol, "{name}");
                checked += 1;
            }
            Err(SuctionRefusal::Boils { .. }) => assert_eq!(name, "composed_negative"),
            Err(SuctionRefusal::TankBoils { .. }) => assert_eq!(name, "composed_boiling_tank"),
            Err(other) => panic!("{name}: {other}"),
        }
    }
    assert_eq!(checked, 11);
}

fn named_column(column: Column, pump: PumpType, give: Give) -> Vec<(&'static str, String)> {
    let liquid = match give {
        Give::Hardly => "deaerated_water",
        Give::Little => "water",
        Give::Somewhat => "hydrocarbon",
        Give::Much => "hot_oil",
    };
    let (cylinders, acting) = match pump {
        PumpType::SimplexSingle => (1, "single"),
        PumpType::SimplexDouble => (1, "double"),
        PumpType::DuplexSingle => (2, "single"),
        PumpType::DuplexDouble => (2, "double"),
        PumpType::Triplex => (3, "single"),
        PumpType::Quintuplex => (5, "single"),
        PumpType::Septuplex => (7, "single"),
        PumpType::Nonuplex => (9, "single"),
    };
    vec![
        ("length", figure(column.length, "m")),
        ("velocity", figure(column.velocity, "m/s")),
        ("speed", figure(column.speed, "rpm")),
        ("cylinders", cylinders.to_string()),
        ("acting", acting.to_owned()),
        ("liquid", liquid.to_owned()),
    ]
}

#[test]
fn acceleration_heads_by_the_rule_and_by_the_textbook() {
    let csv = include_str!("../../reference/acceleration_head.csv");
    for row in table(csv, 35, 32) {
        let name = row.name();
        let pump = PumpType::ALL.into_iter().find(|pump| pump.words() == row.text("pump_type"));
        let give = |k: f64| Give::ALL.into_iter().find(|give: &Give| (give.k() - k).abs() < 1e-12);
        if name.starts_with("constant_k") {
            let give = give(row.number("k")).expect(name);
            let liquid = row.text("liquid").split([',', ':']).next().unwrap_or_default();
            assert!(give.words().starts_with(liquid), "{name}: {}", give.words());
        } else if name.starts_with("constant") {
            let c = pump.expect(name).c();
            close(c, row.number("C"), 1e-15, name);
            close(c, row.number("C_kinematic_check"), 0.014, name);
        } else if let Some(pump) = pump {
            let column = Column {
                length: row.number("L_m"),
                velocity: row.number("v_m_s"),
                speed: row.number("n_rpm"),
                gravity: row.number("g_m_s2"),
            };
            let give = give(row.number("k")).expect(name);
            let head = acceleration_head(column, pump, give).expect(name);
            // Rows are printed to nine digits.
            let rtol = row.number("rtol").max(5e-9);
            close(head, row.number("ha_m"), rtol, name);
            close(head / 0.3048, row.number("ha_ft"), rtol, name);
            let named = worked("acceleration_head", &named_column(column, pump, give));
            let standard = column.gravity / atmosphere::STANDARD_GRAVITY;
            close(named.figure("head").expect(name), head * standard, 1e-12, name);
        } else {
            let note = row.text("note");
            let of = |word| {
                let text = note.split(word).nth(1).expect(word);
                text.split([';', ',', ' '])
                    .next()
                    .and_then(|figure| figure.parse().ok())
                    .expect(word)
            };
            let (length, speed) = (row.number("L_m"), row.number("n_rpm"));
            let head = harmonic_head(length, of("A/a = "), of(", r = "), speed, 9.81).expect(name);
            close(head, row.number("ha_m"), row.number("rtol"), name);
        }
    }
}

#[test]
fn the_same_bits_everywhere() {
    let at = |t, p| water::liquid(t, p).expect("liquid");
    let balance = suction::check(&starved()).expect("a result").balance;
    let bits = [
        water::saturation_pressure(353.15).expect("within"),
        at(293.15, 101_325.0).density,
        at(293.15, 101_325.0).dynamic_viscosity,
        atmosphere::at_altitude(1600.0).expect("within").pressure,
        friction::friction_factor(1e5, 1e-3).expect("within").factor,
        oil::viscosity_index(46.0, 8.0).expect("within").exact,
        balance.npsh,
        balance.inlet_pressure,
    ]
    .map(|figure| format!("{:016x}", figure.to_bits()));
    insta::assert_snapshot!(bits.join("\n"));
}

/// Any figure at all, sensible or not.
fn any_figure() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => any::<f64>(),
        3 => -10.0..1000.0f64,
        2 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(0.0),
    ]
}

/// Two figures of a range in order.
fn spread(low: f64, high: f64) -> impl Strategy<Value = Spread> {
    (low..=high, low..=high).prop_map(|(a, b)| Spread::between(a.min(b), a.max(b)))
}

fn liquid() -> impl Strategy<Value = Liquid> {
    prop_oneof![
        spread(273.15, 350.0).prop_map(Liquid::Water),
        (spread(0.0, 5e4), spread(700.0, 1400.0), spread(5e-7, 1e-3)).prop_map(
            |(vapour_pressure, density, viscosity)| Liquid::Other {
                vapour_pressure,
                density,
                viscosity
            }
        ),
    ]
}

fn line() -> impl Strategy<Value = Line> {
    (spread(0.0, 30.0), spread(0.02, 0.15), spread(0.0, 1e-4), spread(0.0, 10.0), spread(0.0, 3e4))
        .prop_map(|(length, bore, roughness, fittings, strainer)| Line {
            wall: Wall::Stiff,
            length,
            bore,
            roughness,
            fittings,
            strainer,
        })
}

fn requirement() -> impl Strategy<Value = Requirement> {
    use witnessmark::calc::suction::InletPressure;
    prop_oneof![
        (0.0..9.0).prop_map(Requirement::Npsh),
        (0.0..9e4).prop_map(Requirement::GreatestVacuum),
        (0.0..2e5).prop_map(|p| Requirement::LeastInlet(InletPressure::Absolute(p))),
        (-9e4..2e5).prop_map(|p| Requirement::LeastInlet(InletPressure::Gauge(p))),
    ]
}

fn sensible_suction() -> impl Strategy<Value = Suction> {
    let pump = prop_oneof![
        Just(None),
        (prop::sample::select(PumpType::ALL.to_vec()), prop::sample::select(Give::ALL.to_vec()))
            .prop_map(|(pump, give)| Some(Pulsation { pump, give, stabiliser: None })),
    ];
    (
        (spread(0.0, 3000.0), spread(0.0, 1e5), spread(-3.0, 10.0), liquid(), spread(20.0, 400.0)),
        (spread(0.0, 5e-3), line(), pump, requirement(), 0.0..1.0),
    )
        .prop_map(
            |(
                (altitude, tank, level, liquid, speed),
                (flow, line, pulsation, requires, margin),
            )| {
                Suction {
                    air: Air::Altitude(altitude),
                    tank,
                    level,
                    liquid,
                    speed,
                    flow: Flow::At(flow),
                    line,
                    pulsation,
                    requires,
                    margin,
                    greatest_inlet: None,
                    gravity: 9.806_65,
                }
            },
        )
}

/// A figure of the range, `share` of the way.
fn inside(spread: Spread, share: f64) -> Spread {
    Spread::only((spread.low + share * (spread.high - spread.low)).clamp(spread.low, spread.high))
}

proptest! {
    #[test]
    fn nothing_gives_nan_and_nothing_panics(f in prop::array::uniform12(any_figure())) {
        let finite = |figures: &[f64]| figures.iter().all(|figure| figure.is_finite());
        if let Ok(p) = water::saturation_pressure(f[0]) { prop_assert!(finite(&[p]) && p > 0.0); }
        if let Ok(t) = water::saturation_temperature(f[0]) { prop_assert!(finite(&[t])); }
        if let Ok(w) = water::liquid(f[0], f[1]) {
            prop_assert!(finite(&[w.density, w.dynamic_viscosity]) && w.density > 0.0);
        }
        if let Ok(mu) = water::viscosity_at_density(f[0], f[1]) { prop_assert!(mu.is_finite()); }
        if let Ok(air) = atmosphere::at_altitude(f[0]) { prop_assert!(air.pressure > 0.0); }
        if let Ok(x) = friction::friction_factor(f[0], f[1]) { prop_assert!(x.factor > 0.0); }
        let point = |t, nu| ViscosityPoint { temperature: t, viscosity: nu };
        if let Ok(line) = ViscosityLine::through(point(f[0], f[1]), point(f[2], f[3]))
            && let Ok(nu) = line.at(f[4])
        {
            prop_assert!(nu.viscosity.is_finite());
        }
        if let Ok(index) = oil::viscosity_index(f[0], f[1]) { prop_assert!(index.stated.is_finite()); }
        let _ = (oil::grade(f[0]), oil::scale_number(f[0]));
        let pair = |low, high| Spread::between(low, high);
        let wild = Suction {
            air: Air::Barometer(pair(f[0], f[1])),
            tank: pair(f[2], f[3]),
            level: pair(f[4], f[5]),
            liquid: Liquid::Water(pair(f[6], f[7])),
            speed: pair(f[8], f[9]),
            flow: Flow::PerTurn(pair(f[10], f[11])),
            line: Line {
                wall: Wall::Hose,
                length: pair(f[1], f[2]),
                bore: pair(f[3], f[4]),
                roughness: pair(f[5], f[6]),
                fittings: pair(f[7], f[8]),
                strainer: pair(f[9], f[10]),
            },
            pulsation: None,
            requires: Requirement::Npsh(f[11]),
            margin: f[0],
            greatest_inlet: None,
            gravity: f[1],
        };
        if let Ok(found) = suction::check(&wild) { prop_assert!(finite(&[found.margin])); }
    }

    #[test]
    fn one_wild_figure_is_refused_or_reckoned_with(
        sensible in sensible_suction(),
        wild in any_figure(),
        place in 0..14usize,
    ) {
        let mut suction = sensible;
        let line = &mut suction.line;
        match place {
            0 => suction.tank.low = wild,
            1 => suction.level.high = wild,
            2 => suction.level.low = wild,
            3 => suction.speed.high = wild,
            4 => suction.flow = Flow::At(Spread::only(wild)),
            5 => suction.flow = Flow::PerTurn(Spread::only(wild)),
            6 => line.length.high = wild,
            7 => line.bore.low = wild,
            8 => line.roughness.high = wild,
            9 => line.fittings.high = wild,
            10 => line.strainer.high = wild,
            11 => suction.air = Air::Altitude(Spread::between(wild, 100.0)),
            12 => suction.liquid = Liquid::Water(Spread::between(280.0, wild)),
            _ => suction.requires = Requirement::GreatestVacuum(wild),
        }
        match suction::check(&suction) {
            Ok(found) => {
                for figure in [found.margin, found.balance.npsh, found.highest.gauge] {
                    prop_assert!(figure.is_finite());
                }
            }
            Err(refusal) => {
                let text = refusal.to_string();
                // A figure that is no number may be named; none may be reckoned.
                prop_assert!(!text.contains("NaN") && !text.contains("inf "), "{}", text);
            }
        }
    }

    #[test]
    fn no_state_within_the_ranges_is_worse_than_the_worst(
        suction in sensible_suction(),
        share in prop::array::uniform12(0.0..=1.0f64),
    ) {
        let Ok(worst) = suction::check(&suction) else { return Ok(()) };
        for figure in [worst.margin, worst.available, worst.highest.absolute, worst.balance.npsh] {
            prop_assert!(figure.is_finite());
        }
        let Air::Altitude(altitude) = suction.air else { unreachable!("as generated") };
        let Flow::At(flow) = suction.flow else { unreachable!("as generated") };
        let line = suction.line;
        let some = Suction {
            air: Air::Altitude(inside(altitude, share[0])),
            tank: inside(suction.tank, share[1]),
            level: inside(suction.level, share[2]),
            liquid: match suction.liquid {
                Liquid::Water(t) => Liquid::Water(inside(t, share[3])),
                Liquid::Other { vapour_pressure, density, viscosity } => Liquid::Other {
                    vapour_pressure: inside(vapour_pressure, share[3]),
                    density: inside(density, share[4]),
                    viscosity: inside(viscosity, share[5]),
                },
            },
            speed: inside(suction.speed, share[6]),
            flow: Flow::At(inside(flow, share[6])),
            line: Line {
                length: inside(line.length, share[7]),
                bore: inside(line.bore, share[8]),
                roughness: inside(line.roughness, share[9]),
                fittings: inside(line.fittings, share[10]),
                // At the greatest flow; a lesser flow loses less.
                strainer: inside(line.strainer, share[11]),
                ..line
            },
            ..suction
        };
        let milder = suction::check(&some).expect("milder than one that is not refused");
        let hair = 1e-3 * worst.margin.abs().max(1.0);
        prop_assert!(milder.margin >= worst.margin - hair, "{} < {}", milder.margin, worst.margin);
        prop_assert!(milder.highest.gauge <= worst.highest.gauge + 1.0);
    }
}

/// A triplex that is starved by its line.
fn starved() -> Suction {
    Suction {
        air: Air::Altitude(Spread::only(0.0)),
        tank: Spread::only(0.0),
        level: Spread::between(0.5, 2.0),
        liquid: Liquid::Water(Spread::between(283.15, 313.15)),
        speed: Spread::between(100.0, 200.0),
        flow: Flow::At(Spread::between(0.0015, 0.003)),
        line: Line {
            wall: Wall::Hose,
            length: Spread::only(6.0),
            bore: Spread::only(0.0525),
            roughness: Spread::only(4.5e-5),
            fittings: Spread::only(2.5),
            strainer: Spread::between(2e3, 1e4),
        },
        pulsation: Some(Pulsation {
            pump: PumpType::Triplex,
            give: Give::Little,
            stabiliser: None,
        }),
        requires: Requirement::Npsh(5.0),
        margin: 0.5,
        greatest_inlet: None,
        gravity: 9.806_65,
    }
}

#[test]
fn the_working_reads_as_on_paper() {
    let suction = starved();
    let finding = suction::check(&suction).expect("a result");
    let mut lines: Vec<String> = finding
        .working(&suction)
        .into_iter()
        .map(|line| [line.what, line.formula, line.figures, line.result].join(" | "))
        .collect();
    let weights = finding.weights.iter();
    lines.extend(weights.map(|w| format!("{} {}: {:+.2} m", w.input, w.step, w.gain)));
    lines.extend(finding.changes.iter().map(ToString::to_string));
    lines.extend(finding.doubts.iter().map(|doubt| doubt.words().to_owned()));
    insta::assert_snapshot!(lines.join("\n"));
}
