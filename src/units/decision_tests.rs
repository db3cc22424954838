//! The rules on one limit, side by side, and a property of all limits.

use proptest::prelude::*;

use super::*;
use crate::units::{Ties, Unit};

fn read(text: &str) -> Quantity {
    Quantity::parse_literal(text).unwrap().0
}

/// 192 to 208 N·m.
fn limit() -> Limit {
    Limit::new(Some(read("192 N·m")), Some(read("208 N·m")), Unit::NewtonMetre).unwrap()
}

fn four() -> Uncertainty {
    Uncertainty::parse_literal("4 N·m", "2").unwrap()
}

fn share(hundredths: i32) -> DecisionRule {
    DecisionRule::Probability(Ratio::new(hundredths.into(), 100.into()))
}

#[test]
fn me3_each_rule_says_its_own_of_a_reading_near_a_limit() {
    use Decision::{Above, NotProven, Within};
    let rules = [
        DecisionRule::Simple,
        DecisionRule::Guarded(Guard::full()),
        DecisionRule::Proven(Guard::full()),
        DecisionRule::Proven(Guard::ninety_five()),
        share(95),
    ];
    for (reading, wanted) in [
        ("200 N·m", [Within, Within, Within, Within, Within]),
        ("204 N·m", [Within, Within, Within, Within, Within]),
        ("204.5 N·m", [Within, Above, NotProven, Within, Within]),
        ("205 N·m", [Within, Above, NotProven, NotProven, Above]),
        ("208 N·m", [Within, Above, NotProven, NotProven, Above]),
        ("209 N·m", [Above, Above, NotProven, NotProven, Above]),
        ("212 N·m", [Above, Above, NotProven, Above, Above]),
        ("213 N·m", [Above, Above, Above, Above, Above]),
    ] {
        for (rule, wanted) in rules.iter().zip(wanted) {
            let decision = rule.decide(&limit(), &read(reading), Some(&four()));
            assert_eq!(decision, Ok(wanted), "{reading} by {rule:?}");
        }
    }
}

#[test]
fn decisions_are_told_with_the_rule_that_they_rest_on() {
    let reading = |text| Reading::parse(text, Unit::NewtonMetre).unwrap();
    let said =
        |rule: &DecisionRule, text| rule.explain(&limit(), &reading(text), Some(&four())).unwrap();
    let proven = DecisionRule::Proven(Guard::full());
    assert_eq!(said(&proven, "204.0"), "204.0 N·m is within 192 N·m to 208 N·m, by 4 N·m or more");
    assert_eq!(
        said(&proven, "205"),
        "205 N·m is within 192 N·m to 208 N·m, but by less than 4 N·m: not proven"
    );
    assert_eq!(
        said(&proven, "212"),
        "212 N·m is above 208 N·m, but by no more than 4 N·m: not proven"
    );
    assert_eq!(said(&proven, "213"), "213 N·m is above 208 N·m");
    assert_eq!(
        said(&DecisionRule::Guarded(Guard::full()), "205"),
        "205 N·m is within 192 N·m to 208 N·m, but by less than 4 N·m: rejected"
    );
    assert_eq!(
        said(&share(95), "205"),
        "205 N·m is within 192 N·m to 208 N·m; it conforms with a probability of 93.32 %, too \
         little for 95 %"
    );
    assert_eq!(said(&DecisionRule::Simple, "205"), "205 N·m is within 192 N·m to 208 N·m");
    assert_eq!(
        proven.words(&limit(), &four()),
        "proven, by 4 N·m inside or outside the limits (U = 4 N·m, k = 2)"
    );
    assert_eq!(
        DecisionRule::Guarded(Guard::ninety_five()).words(&limit(), &four()),
        "guarded, limits drawn in by 3.29 N·m (U = 4 N·m, k = 2)"
    );
    assert_eq!(
        share(95).words(&limit(), &four()),
        "probability, at least 95 % within the limits (U = 4 N·m, k = 2)"
    );
}

#[test]
fn a_pressure_and_a_temperature_are_guarded_by_differences() {
    let most = Limit::new(None, Some(read("60 °C")), Unit::Celsius).unwrap();
    let half = Uncertainty::parse_literal("0.9 Δ°F", "2").unwrap();
    let guarded = DecisionRule::Guarded(Guard::full());
    assert_eq!(guarded.decide(&most, &read("59.5 °C"), Some(&half)), Ok(Decision::Within));
    assert_eq!(guarded.decide(&most, &read("59.6 °C"), Some(&half)), Ok(Decision::Above));
    assert_eq!(
        guarded.words(&most, &half),
        "guarded, limits drawn in by 0.5 ΔK (U = 0.5 ΔK, k = 2)"
    );
    assert_eq!(guarded.zone(&most, &half), (None, Some(read("59.5 °C"))));
    let least = Limit::new(Some(read("5 bar gauge")), None, Unit::BarGauge).unwrap();
    let tenth = Uncertainty::parse_literal("0.1 bar gauge", "2").unwrap();
    assert_eq!(guarded.decide(&least, &read("5.1 bar gauge"), Some(&tenth)), Ok(Decision::Within));
    assert_eq!(guarded.zone(&least, &tenth), (Some(read("5.1 bar gauge")), None));
    assert_eq!(
        guarded.words(&least, &tenth),
        "guarded, limits drawn in by 0.1 bar diff (U = 0.1 bar diff, k = 2)"
    );
}

#[test]
fn what_cannot_be_decided_says_why() {
    let fault = |rule: &DecisionRule, limit: &Limit, value: &str, u: Option<&Uncertainty>| {
        rule.decide(limit, &read(value), u).unwrap_err().to_string()
    };
    let guarded = DecisionRule::Guarded(Guard::full());
    assert_eq!(
        fault(&guarded, &limit(), "200 N·m", None),
        "the rule `guarded` needs the uncertainty of the instrument, and it is not known; take an \
         instrument with a certificate"
    );
    assert_eq!(
        fault(&guarded, &limit(), "200 mm", Some(&four())),
        "the limit is a torque and the reading a length"
    );
    let length = Uncertainty::parse_literal("4 mm", "2").unwrap();
    assert_eq!(
        fault(&guarded, &limit(), "200 N·m", Some(&length)),
        "the limit is a torque and the uncertainty a length"
    );
    let rounded = Compare::Rounded { places: 0, ties: Ties::HalfUp };
    let rounding = limit().with_compare(rounded).unwrap();
    assert_eq!(
        fault(&guarded, &rounding, "200 N·m", Some(&four())),
        "the rule `guarded` weighs the reading as it was read; let the limit compare `absolute`"
    );
    let value = read("208.4 N·m");
    assert_eq!(DecisionRule::Simple.decide(&rounding, &value, None), Ok(Decision::Within));
    for percent in [0, 100, 120, -5] {
        assert_eq!(share(percent).check(&limit()), Err(DecisionFault::Probability));
    }
    let negative = DecisionRule::Proven(Guard::Expanded(Ratio::new((-1).into(), 2.into())));
    assert_eq!(negative.check(&limit()), Err(DecisionFault::NegativeGuard));
}

proptest! {
    /// The oracle compares whole thousandths.
    #[test]
    fn rules_with_guard_bands_agree_with_whole_numbers(
        least in -2_000i64..2_000,
        width in 0i64..2_000,
        value in -5_000i64..5_000,
        expanded in 0i64..1_500,
    ) {
        let mm = |n: i64| {
            let figure = Ratio::new(BigInt::from(n), BigInt::from(1_000));
            Quantity::new(figure, Unit::Millimetre)
        };
        let most = least + width;
        let limit = Limit::new(Some(mm(least)), Some(mm(most)), Unit::Millimetre).unwrap();
        let u = Uncertainty::new(mm(expanded), Ratio::from_integer(2.into())).unwrap();
        let inside = value >= least + expanded && value <= most - expanded;
        let outside = value < least - expanded || value > most + expanded;
        let guarded = DecisionRule::Guarded(Guard::full()).decide(&limit, &mm(value), Some(&u));
        let proven = DecisionRule::Proven(Guard::full()).decide(&limit, &mm(value), Some(&u));
        let (guarded, proven) = (guarded.unwrap(), proven.unwrap());
        prop_assert_eq!(guarded == Decision::Within, inside);
        prop_assert_eq!(proven == Decision::Within, inside);
        prop_assert_eq!(proven == Decision::NotProven, !inside && !outside);
        prop_assert!(guarded != Decision::NotProven);
        if !inside && outside {
            let side = if value < least { Decision::Below } else { Decision::Above };
            prop_assert_eq!((guarded, proven), (side, side));
        }
        let (from, to) = DecisionRule::Proven(Guard::full()).zone(&limit, &u);
        prop_assert_eq!((from, to), (Some(mm(least + expanded)), Some(mm(most - expanded))));
    }
}
