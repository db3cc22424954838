//! Suctions that are known to be right, wrong, and beyond reckoning.

use super::*;

const fn triplex() -> Suction {
    Suction {
        air: Air::Altitude(Spread::only(0.0)),
        tank: Spread::only(0.0),
        level: Spread::between(0.5, 2.0),
        liquid: Liquid::Water(Spread::between(283.15, 313.15)),
        speed: Spread::between(100.0, 200.0),
        flow: Flow::At(Spread::between(0.0015, 0.003)),
        line: Line {
            wall: Wall::Stiff,
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
        requires: Requirement::Npsh(2.5),
        margin: 0.5,
        greatest_inlet: None,
        gravity: 9.806_65,
    }
}

#[test]
fn the_worst_corner_is_named() {
    let finding = check(&triplex()).expect("a result");
    let ends: Vec<String> = finding.met.iter().map(Met::to_string).collect();
    assert_eq!(
        ends,
        [
            "the least level",
            "the greatest temperature",
            "the greatest speed",
            "the greatest flow",
            "the greatest strainer loss"
        ]
    );
}

#[test]
fn a_margin_that_is_there_asks_for_no_change() {
    let finding = check(&Suction { requires: Requirement::Npsh(0.5), ..triplex() }).expect("ok");
    assert!(finding.margin > 0.5 && finding.missing.abs() < f64::EPSILON);
    assert!(finding.changes.is_empty());
}

/// The changes that a suction is told, by term.
fn changes(suction: &Suction) -> Vec<Change> {
    let finding = check(suction).expect("a result");
    assert!(finding.missing > 0.0);
    finding.changes
}

#[test]
fn each_change_alone_wins_just_what_is_missing() {
    let suction = Suction { requires: Requirement::Npsh(5.0), ..triplex() };
    let changes = changes(&suction);
    let terms: Vec<Term> = changes.iter().map(|change| change.term).collect();
    let all = Term::ALL.into_iter().filter(|term| *term != Term::Flow);
    assert_eq!(terms, all.collect::<Vec<_>>(), "a pump with a speed");
    let mut won = 0;
    for Change { term, reach, .. } in changes {
        let Reach::To(figure) = reach else { continue };
        let after = change::moved(&suction, term, figure);
        let margin = worst::find(&after).expect("a result").margin;
        assert!((0.5..0.500_1).contains(&margin), "{term:?}: {margin}");
        won += 1;
    }
    assert!(won >= 4, "{won}");
}

#[test]
fn a_term_that_is_not_enough_says_so() {
    let suction = Suction { requires: Requirement::Npsh(9.0), ..triplex() };
    let strainer = changes(&suction).into_iter().find(|change| change.term == Term::Strainer);
    let text = strainer.expect("a strainer").to_string();
    assert_eq!(text, "loss in the strainer cannot win it alone, not even at 0 bar (now 0.100 bar)");
}

#[test]
fn requirements_of_each_kind_agree_on_one_state() {
    let of = |requires| check(&Suction { requires, margin: 0.0, ..triplex() }).expect("a result");
    let npsh = of(Requirement::Npsh(0.0));
    let absolute = of(Requirement::LeastInlet(InletPressure::Absolute(0.0)));
    let gauge = of(Requirement::LeastInlet(InletPressure::Gauge(0.0)));
    let vacuum = of(Requirement::GreatestVacuum(0.0));
    assert!((absolute.available - npsh.balance.inlet_pressure).abs() < 3e3);
    assert!((absolute.available - gauge.available - 101_325.0).abs() < 1e-6);
    assert!((gauge.available + vacuum.available).abs() < 1e-6);
    assert!((vacuum.margin - gauge.margin).abs() < 1e-6);
}

#[test]
fn a_line_in_which_the_liquid_boils_is_refused_with_the_ways_out() {
    let hot = Liquid::Water(Spread::between(333.15, 358.15));
    let refusal = check(&Suction { liquid: hot, level: Spread::only(-2.0), ..triplex() });
    let text = refusal.expect_err("boils").to_string();
    assert!(
        text.starts_with("the liquid boils before the pump at the greatest temperature"),
        "{text}"
    );
    assert!(text.contains("lowest level above the pump at least"), "{text}");
}

#[test]
fn hose_and_length_are_doubted() {
    let mut suction = triplex();
    suction.requires = Requirement::Npsh(0.0);
    suction.line.wall = Wall::Hose;
    suction.line.length = Spread::only(16.0);
    suction.level = Spread::only(20.0);
    let doubts = check(&suction).expect("a result").doubts;
    assert!(doubts.contains(&Doubt::Hose) && doubts.contains(&Doubt::LongLine));
    assert!(doubts.contains(&Doubt::Constants) && doubts.contains(&Doubt::Weather));
}

#[test]
fn a_stabiliser_shortens_the_column() {
    let mut suction = triplex();
    let without = check(&suction).expect("a result").balance;
    if let Some(pulsation) = &mut suction.pulsation {
        pulsation.stabiliser = Some(0.6);
    }
    let finding = check(&suction).expect("a result");
    let with = finding.balance;
    assert!((with.acceleration_head / without.acceleration_head - 0.1).abs() < 1e-9);
    assert!(finding.doubts.contains(&Doubt::Stabiliser));
}

#[test]
fn contradictions_are_refused_with_their_reason() {
    let refused = |suction: Suction| check(&suction).expect_err("refused").to_string();
    let upside_down = Suction { level: Spread::between(2.0, 0.5), ..triplex() };
    assert!(refused(upside_down).contains("exchange"));
    let vacuum = Suction { tank: Spread::only(-105e3), ..triplex() };
    assert!(refused(vacuum).contains("less than none"));
    let boiling = Suction {
        liquid: Liquid::Water(Spread::only(373.15)),
        tank: Spread::only(-10e3),
        ..triplex()
    };
    assert!(refused(boiling).contains("boils in the tank"));
    let mut beyond = triplex();
    if let Some(pulsation) = &mut beyond.pulsation {
        pulsation.stabiliser = Some(7.0);
    }
    assert!(refused(beyond).contains("must sit in the line"));
    let torrent = Suction { flow: Flow::At(Spread::only(0.3)), ..triplex() };
    assert!(refused(torrent).contains("20 m/s"));
    let crossed = Suction {
        requires: Requirement::LeastInlet(InletPressure::Gauge(2e5)),
        greatest_inlet: Some(InletPressure::Gauge(1e5)),
        ..triplex()
    };
    assert!(refused(crossed).contains("exchange"));
    assert!(refused(Suction { margin: f64::NAN, ..triplex() }).contains("not a number"));
}

#[test]
fn the_highest_inlet_pressure_is_of_the_full_tank_and_the_surge() {
    let suction = Suction {
        tank: Spread::between(0.0, 2e5),
        greatest_inlet: Some(InletPressure::Gauge(2e5)),
        requires: Requirement::Npsh(0.5),
        ..triplex()
    };
    let finding = check(&suction).expect("a result");
    let gauge = finding.highest.gauge;
    assert!(gauge > 2e5 + 9_700.0 * 2.0, "{gauge}");
    assert!((finding.highest.absolute - gauge - 101_325.0).abs() < 1e-6);
    assert!((finding.highest.margin.expect("asked for") - (2e5 - gauge)).abs() < 1e-6);
}

#[test]
fn figures_are_rounded_to_the_safe_side() {
    let text = |term, now, to| Change { term, now: Some(now), reach: Reach::To(to) }.to_string();
    assert_eq!(
        text(Term::Bore, 0.0525, 0.06123),
        "bore of the line at least 61.3 mm (now 52.5 mm)"
    );
    assert_eq!(
        text(Term::Speed, 200.0, 144.9),
        "greatest speed at most 144 rev/min (now 200 rev/min)"
    );
    assert_eq!(
        text(Term::Temperature, 353.15, 313.15),
        "highest temperature at most 40.0 °C (now 80.0 °C)"
    );
    assert_eq!(
        text(Term::Level, -2.0, -0.5),
        "lowest level above the pump at least -0.500 m (now -2.00 m)"
    );
}

#[test]
fn each_figure_weighs_as_it_should() {
    let weights = check(&triplex()).expect("a result").weights;
    let of = |input| {
        weights
            .iter()
            .find(|weight| weight.input == input)
            .unwrap_or_else(|| panic!("{input}"))
            .gain
    };
    assert!((of("level") - 1.0).abs() < 1e-9);
    assert!((of("what the pump asks for") + 0.25).abs() < 1e-9);
    assert!((of("strainer") + of("tank_pressure")).abs() < 1e-3);
    for worse in ["altitude", "temperature", "speed"] {
        assert!(of(worse) < 0.0, "{worse}");
    }
    assert!(of("bore") > 0.0);
    assert!(weights.iter().all(|weight| weight.input != "density"), "water has its own");
}

#[test]
fn a_steady_flow_is_told_in_flow() {
    let suction = Suction {
        speed: Spread::only(0.0),
        pulsation: None,
        requires: Requirement::Npsh(9.2),
        ..triplex()
    };
    let finding = check(&suction).expect("a result");
    let flow = finding.changes.iter().find(|change| change.term == Term::Flow).expect("a flow");
    assert!(flow.to_string().starts_with("greatest flow at most "), "{flow}");
    assert!(finding.changes.iter().all(|change| change.term != Term::Speed));
    assert!(finding.weights.iter().any(|weight| weight.input == "flow"));
}

#[test]
fn a_change_that_overloads_the_inlet_says_so() {
    let suction = Suction {
        requires: Requirement::Npsh(5.0),
        greatest_inlet: Some(InletPressure::Gauge(1e5)),
        ..triplex()
    };
    let tank = changes(&suction).into_iter().find(|change| change.term == Term::Tank);
    let tank = tank.expect("a tank");
    assert!(matches!(tank.reach, Reach::TooMuch(_)) && !tank.wins(), "{tank}");
}

#[test]
fn a_flow_too_small_for_arithmetic_is_no_flow() {
    let whisper = Flow::At(Spread::only(5e-309));
    let finding = check(&Suction { flow: whisper, ..triplex() }).expect("a result");
    assert!(finding.balance.course.friction.is_none() && finding.margin.is_finite());
}
