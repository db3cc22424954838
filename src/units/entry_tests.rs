//! What fields take and refuse, case by case, and properties of all readings.

use std::cmp::Ordering;

use proptest::prelude::*;

use super::*;
use crate::units::{Limit, Side};

fn read(text: &str, field: Unit) -> Reading {
    Reading::parse(text, field).unwrap_or_else(|fault| panic!("`{text}`: {fault}"))
}

fn refused(text: &str, field: Unit) -> String {
    match Reading::parse(text, field) {
        Ok(reading) => panic!("`{text}` was read as {}", reading.echo()),
        Err(fault) => fault.to_string(),
    }
}

#[test]
fn o07_a_point_and_a_comma_are_both_the_decimal_mark() {
    for text in ["12.3", "12,3", " 12,3 ", "12.3 mm", "12,3mm", "12.3\u{a0}mm"] {
        let reading = read(text, Unit::Millimetre);
        assert_eq!(reading.value.render(Unit::Millimetre), "12.3 mm", "{text}");
        assert_eq!(reading.echo(), "12.3 mm", "{text}");
    }
    assert_eq!(read(",5", Unit::Millimetre).echo(), "0.5 mm");
    assert_eq!(read("0,500", Unit::Millimetre).echo(), "0.500 mm");
    assert_eq!(read("-,02", Unit::Millimetre).echo(), "-0.02 mm");
    assert_eq!(read("−0.02", Unit::Millimetre).value, read("-0.02", Unit::Millimetre).value);
    assert_eq!(read("44.10", Unit::Millimetre).text, "44.10");
    assert_eq!(read("44.10", Unit::Millimetre).echo(), "44.10 mm");
    assert_eq!(read("3", Unit::One).echo(), "3");
}

#[test]
fn o07_grouped_and_doubly_marked_figures_are_refused_with_the_reason() {
    let refused = |text| refused(text, Unit::Millimetre);
    assert_eq!(refused("1,000"), "`1,000` can be 1 or 1000; write one of them without a comma");
    assert_eq!(
        refused("12,345 mm"),
        "`12,345` can be 12.345 or 12345; write one of them without a comma"
    );
    let two = "both `.` and `,` stand in the figure; keep the decimal mark and leave the other out";
    assert_eq!(refused("1,000.5"), two);
    assert_eq!(refused("1.000,5"), two);
    let grouped = "the digits are grouped with a space; write them together";
    assert_eq!(refused("1 000"), grouped);
    assert_eq!(refused("1\u{202f}000"), grouped);
    assert_eq!(refused("1'000"), "the digits are grouped with `'`; write them together");
    assert_eq!(refused("1’000"), "the digits are grouped with `’`; write them together");
    assert_eq!(refused("12.3.4"), "`.` stands more than once; a figure has one decimal mark");
    assert_eq!(refused("1,000,000"), "`,` stands more than once; a figure has one decimal mark");
    assert_eq!(
        refused("12."),
        "the figure ends with `.`; write the digits after it or leave it out"
    );
}

#[test]
fn o08_fractions_are_read_exactly() {
    for (text, millimetres, echo) in [
        ("1 3/16\"", "30.1625 mm", "1 3/16 in = 30.1625 mm"),
        ("1-3/16 in", "30.1625 mm", "1 3/16 in = 30.1625 mm"),
        ("4 1/2\"", "114.3 mm", "4 1/2 in = 114.3 mm"),
        ("13/16\"", "20.6375 mm", "13/16 in = 20.6375 mm"),
        ("6' 5 1/4\"", "1962.15 mm", "77 1/4 in = 1962.15 mm"),
        ("6'5 1/4\"", "1962.15 mm", "77 1/4 in = 1962.15 mm"),
        ("6'-5 1/4″", "1962.15 mm", "77 1/4 in = 1962.15 mm"),
        ("6 ft 5.25 in", "1962.15 mm", "77 1/4 in = 1962.15 mm"),
        ("¾\"", "19.05 mm", "3/4 in = 19.05 mm"),
        ("1¾ in", "44.45 mm", "1 3/4 in = 44.45 mm"),
        ("3/4”", "19.05 mm", "3/4 in = 19.05 mm"),
        ("3⁄4″", "19.05 mm", "3/4 in = 19.05 mm"),
        ("11/4\"", "69.85 mm", "2 3/4 in = 69.85 mm"),
        ("-1 3/16\"", "-30.1625 mm", "-1 3/16 in = -30.1625 mm"),
        ("1/2 mm", "0.5 mm", "1/2 mm"),
        ("1/3\"", "127/15 mm", "1/3 in ≈ 8.4667 mm"),
    ] {
        let reading = read(text, Unit::Millimetre);
        assert_eq!(reading.value.render(Unit::Millimetre), millimetres, "{text}");
        assert_eq!(reading.echo(), echo, "{text}");
    }
    assert_eq!(read("1 3/16", Unit::Inch).unit, Unit::Inch);
    assert_eq!(read("6'", Unit::Inch).echo(), "6 ft");
}

#[test]
fn o08_doubtful_fractions_are_refused_with_the_reason() {
    assert_eq!(
        refused("1 3/16", Unit::Millimetre),
        "say the unit of this fraction: write `1 3/16 in` for inches, or a decimal figure"
    );
    let refused = |text| refused(text, Unit::Inch);
    assert_eq!(refused("1 3/0\""), "a fraction cannot have 0 below the `/`");
    assert_eq!(refused("1 /16\""), "`1 /16\"` is not a fraction; write it like `3/16` or `1 3/16`");
    assert_eq!(refused("5/4/2\""), "`5/4/2\"` is not a fraction; write it like `3/16` or `1 3/16`");
    assert_eq!(
        refused("1 19/16\""),
        "the fraction `19/16` after a whole number must be less than 1"
    );
    assert_eq!(refused("6' 5"), "say the unit of `5` after the feet: write `5 in` or `5\"`");
    let feet = "feet and inches are whole feet, then inches below 12, like `6' 5 1/4\"`";
    assert_eq!(refused("6' 15\""), feet);
    assert_eq!(refused("6.5' 5\""), feet);
    assert_eq!(refused("6' 5 mm"), feet);
    assert_eq!(refused("6' 5''"), "`''` is not a unit that this version has; write `in`");
    assert!(refused("1.5/16").contains("is not a fraction"));
    assert!(refused("1 00/16").contains("is not a fraction"));
}

#[test]
fn o08_an_impossible_slip_is_out_of_limits_and_shown_so_that_it_is_seen() {
    let bound = |text| Some(Quantity::parse_literal(text).unwrap().0);
    let limit = Limit::new(bound("1.2 in"), bound("1.3 in"), Unit::Inch).unwrap();
    let slip = read("11/4\"", Unit::Inch);
    assert_eq!(limit.judge(&slip.value), Some(Side::Above));
    assert_eq!(limit.explain(&slip), "2 3/4 in is above 1.3 in");
}

#[test]
fn what_is_no_figure_is_refused_at_once() {
    let refused = |text: &str| refused(text, Unit::Millimetre);
    assert_eq!(refused(""), "nothing was typed");
    assert_eq!(refused("   "), "nothing was typed");
    assert_eq!(refused("1e999999999"), "a figure has no exponent; write all its digits");
    assert_eq!(refused("1E-5"), "a figure has no exponent; write all its digits");
    assert_eq!(refused(&"9".repeat(41)), "a figure has at most 40 digits");
    assert_eq!(
        refused(&"9".repeat(4_000_000)),
        "this is too long for a figure; at most 80 characters are read"
    );
    assert_eq!(refused("mm"), "a figure starts with a digit; found `m`");
    assert_eq!(refused("--5"), "a figure starts with a digit; found `-`");
    assert_eq!(refused("5 furlong"), "`furlong` is not a unit that this version has");
    assert_eq!(refused("5 inches"), "`inches` is not a unit that this version has; write `in`");
    assert_eq!(refused("5#"), "`#` does not belong in a figure");
    assert_eq!(refused("5\u{1b}[2J"), "`\\u{1b}` does not belong in a figure");
    assert_eq!(refused("5 €"), "`€` does not belong in a figure");
    assert_eq!(refused("[A"), "`[` does not belong in a figure");
    assert_eq!(refused("5 number"), "`number` is a plain number, and this field takes a length");
    assert_eq!(
        Reading::parse("5 mm", Unit::One).unwrap_err().to_string(),
        "`mm` is a length, and this field takes a plain number"
    );
}

#[test]
fn me2_a_recorded_reading_is_read_again_as_it_was() {
    for (text, field) in [
        ("44.10", Unit::Millimetre),
        ("12,3", Unit::Millimetre),
        ("1 3/16\"", Unit::Millimetre),
        ("6' 5 1/4\"", Unit::Millimetre),
        ("3", Unit::One),
        ("5", Unit::Thou),
    ] {
        let reading = read(text, field);
        let again = Reading::from_recorded(&reading.text, reading.unit.symbol()).unwrap();
        assert_eq!(again, reading);
        assert_eq!(Reading::from_recorded(&reading.text, reading.unit.word()).unwrap(), reading);
    }
    assert_eq!(
        Reading::from_recorded("5 in", "mm").unwrap_err().to_string(),
        "the text `5 in` is in `in`, and the record says `mm`"
    );
    assert!(Reading::from_recorded("5", "furlong").is_err());
}

#[test]
fn o10_every_spelling_of_an_inch_pound_is_one_and_none_with_feet_is() {
    let limit = Limit::new(
        Some(Quantity::parse_literal("175 in-lb").unwrap().0),
        Some(Quantity::parse_literal("185 in-lb").unwrap().0),
        Unit::PoundForceInch,
    )
    .unwrap();
    let side = |text: &str| limit.judge(&read(text, Unit::PoundForceInch).value).unwrap();
    for text in ["180 in-lb", "180 in-lbs", "180 lb-in", "180 inch-pounds", "180 lbf in", "180"] {
        assert_eq!(side(text), Side::Within, "{text}");
    }
    for text in ["15 ft·lbf", "15 ft-lb", "20.3 Nm", "20.3 N·m", "207 kgf·cm", "2.07 kgf·m"] {
        assert_eq!(side(text), Side::Within, "{text}");
    }
    for text in ["180 ft-lb", "180 ft-lbs", "180 lbf·ft"] {
        assert_eq!(side(text), Side::Above, "{text}");
        let inches = read(text, Unit::PoundForceInch).value.render(Unit::PoundForceInch);
        assert_eq!(inches, "2160 lbf·in");
    }
    // Which prefix was meant is never guessed from the capitals.
    for text in ["180 mN·m", "180 MN·m", "180 mNm", "180 MNm", "180 NM", "180 nm", "180 nM"] {
        let said = refused(text, Unit::PoundForceInch);
        assert!(said.contains("write `N·m`"), "{text}: {said}");
    }
    // What stands in the record is what was typed, with the conversion beside it.
    let reading = read("20.3 Nm", Unit::PoundForceInch);
    assert_eq!(reading.spoken(), "20.3 N·m");
    assert_eq!(
        limit.explain(&reading),
        "20.3 N·m (about 179.6701 lbf·in) is within 175 lbf·in to 185 lbf·in"
    );
    assert_eq!(
        refused("180 lb", Unit::PoundForceInch),
        "`lb` is a mass, and this field takes a torque; write `N·m`, `in-lb` or `ft-lb`"
    );
    assert_eq!(
        refused("180 in", Unit::PoundForceInch),
        "`in` is a length, and this field takes a torque; write `N·m`, `in-lb` or `ft-lb`"
    );
    assert_eq!(
        refused("180 nm", Unit::PoundForceInch),
        "`nm` is not a unit that this version has; write `N·m`"
    );
    assert_eq!(
        refused("180 MNm", Unit::PoundForceInch),
        "`MNm` can mean different things; write `N·m` with all its digits; `M` is a million of them"
    );
}

#[test]
fn me1_a_bare_pressure_takes_the_kind_of_its_field_or_is_refused() {
    let reading = read("30 psi", Unit::BarGauge);
    assert_eq!((reading.unit, reading.echo()), (Unit::PsiGauge, "30 psi gauge".to_owned()));
    assert_eq!(read("2,5 bar", Unit::BarGauge).echo(), "2.5 bar gauge");
    assert_eq!(
        refused("30 psi", Unit::BarAbs),
        "`psi` can mean different things; write `psi gauge`, `psi abs` or `psi diff`"
    );
    assert_eq!(read("1 bar abs", Unit::BarAbs).echo(), "1 bar abs");
    assert_eq!(
        refused("30 psia", Unit::BarAbs),
        "`psia` is not a unit that this version has; write `psi abs`"
    );
    assert_eq!(
        refused("1 bar abs", Unit::BarGauge),
        "`bar abs` is an absolute pressure, and this field takes a gauge pressure"
    );
    assert_eq!(
        refused("30 psig", Unit::BarGauge),
        "`psig` is not a unit that this version has; write `psi gauge`"
    );
    assert_eq!(
        refused("30 gal", Unit::Litre),
        "`gal` can mean different things; write `US gal` or `imp gal`"
    );
    assert_eq!(read("10 °C", Unit::KelvinDifference).echo(), "10 ΔK");
    assert_eq!(read("-5,5 °C", Unit::Celsius).echo(), "-5.5 °C");
    assert_eq!(read("40 m3/h", Unit::LitrePerMinute).echo(), "40 m³/h");
    assert_eq!(read("4 %", Unit::Percent).value, Quantity::parse_literal("0.04").unwrap().0);
}

#[test]
fn me1_a_torque_in_a_pressure_is_the_authors_mistake() {
    let torque = Quantity::parse_literal("2 MPa gauge").unwrap().0;
    let pair = (Some(Quantity::parse_literal("1 N·m").unwrap().0), Some(torque));
    let fault = Limit::new(pair.0, pair.1, Unit::NewtonMetre).unwrap_err().to_string();
    assert_eq!(fault, "one side of this limit is a torque and the other a gauge pressure");
    assert_eq!(
        Quantity::parse_literal("200 bar").unwrap_err().to_string(),
        "`bar` can mean different things; write `bar gauge`, `bar abs` or `bar diff`"
    );
}

/// Common practice, no source: a fitter's table gives 18 in·lbf as 2.0 N·m.
#[test]
fn eighteen_inch_pounds_are_two_newton_metres_to_one_place() {
    let torque = Quantity::parse_literal("18 in-lb").unwrap().0;
    assert_eq!(torque.render_rounded(Unit::NewtonMetre, 1), "2.0 N·m");
}

fn any_unit() -> impl Strategy<Value = Unit> {
    proptest::sample::select(Unit::ALL.to_vec())
}

/// `n / 10^places` in `unit`, as a fraction of SI units: numerator and denominator, worked out here
/// in whole numbers.
fn fraction_of(n: i64, places: u32, unit: Unit) -> (BigInt, BigInt) {
    let (factor, offset) = (unit.factor(), unit.offset());
    let below = BigInt::from(10).pow(places) * factor.denom();
    let above = BigInt::from(n) * factor.numer() * offset.denom() + offset.numer() * &below;
    (above, below * offset.denom())
}

/// How a person writes `n / 10^places`.
fn decimal_of(n: i64, places: u32) -> String {
    let width = places as usize + 1;
    let digits = format!("{:0>width$}", n.unsigned_abs());
    let (whole, part) = digits.split_at(digits.len() - places as usize);
    let point = if places == 0 { "" } else { "." };
    format!("{}{whole}{point}{part}", if n < 0 { "-" } else { "" })
}

proptest! {
    #[test]
    fn no_text_at_all_panics(text in any::<String>(), field in any_unit()) {
        drop(Reading::parse(&text, field).map(|r| (r.echo(), r.spoken())));
        drop(Quantity::parse_literal(&text));
        drop(crate::units::Tolerance::parse_literal(&text));
        drop(crate::units::Uncertainty::parse_literal(&text, &text));
        let (suggestion, ambiguity) = (Unit::suggestion(&text), Unit::ambiguity(&text));
        prop_assert!(Unit::parse(&text).is_none() || ambiguity.is_none(), "{suggestion:?}");
        let places = crate::units::compare::stated_places(&text);
        prop_assert!(usize::from(places) <= text.len());
    }

    /// The oracle multiplies whole numbers crosswise; the verdict must agree in any pair of units,
    /// at a bound most of all.
    #[test]
    fn a_verdict_in_any_units_agrees_with_whole_numbers(
        (unit, other) in any_unit().prop_flat_map(|unit| {
            let alike = Unit::ALL.iter().copied().filter(|u| u.dimension() == unit.dimension());
            (Just(unit), proptest::sample::select(alike.collect::<Vec<_>>()))
        }),
        (n, places) in (any::<i32>(), 0u32..=9),
        (bound, bound_places) in (any::<i32>(), 0u32..=9),
        same in any::<bool>(),
        nudge in -1i64..=1,
    ) {
        let n = i64::from(n);
        // Near the same figure in the same unit, or anything in any.
        let (other, bound, bound_places) = if same {
            (unit, n * 10 + nudge, places + 1)
        } else {
            (other, i64::from(bound), bound_places)
        };
        let text = format!("{} {}", decimal_of(n, places), unit.word());
        let reading = read(&text, unit);
        let bound_text = format!("{} {}", decimal_of(bound, bound_places), other.word());
        let (limit_value, limit_unit) = Quantity::parse_literal(&bound_text).unwrap();
        prop_assert_eq!(limit_unit, other);
        let (above, below) = fraction_of(n, places, unit);
        let (bound_above, bound_below) = fraction_of(bound, bound_places, other);
        let order = (above * bound_below).cmp(&(bound_above * below));
        let least = Limit::new(Some(limit_value.clone()), None, other).unwrap();
        let most = Limit::new(None, Some(limit_value), other).unwrap();
        let at_least = if order == Ordering::Less { Side::Below } else { Side::Within };
        let at_most = if order == Ordering::Greater { Side::Above } else { Side::Within };
        prop_assert_eq!(least.judge(&reading.value), Some(at_least));
        prop_assert_eq!(most.judge(&reading.value), Some(at_most));
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,90}", field in any_unit()) {
        drop(Reading::parse(&text, field).map(|r| (r.echo(), r.spoken())));
        drop(Quantity::parse_literal(&text));
        drop(Reading::from_recorded(&text, &text));
    }

    #[test]
    fn no_text_of_likely_characters_panics(
        text in "[-+0-9.,/ '\"½µminftho″’e]{0,24}",
        field in any_unit(),
    ) {
        if let Ok(reading) = Reading::parse(&text, field) {
            drop(reading.echo());
            let again = Reading::from_recorded(&reading.text, reading.unit.symbol());
            prop_assert_eq!(again, Ok(reading));
        }
        drop(Quantity::parse_literal(&text));
    }

    #[test]
    fn an_exact_print_reads_back_as_the_same(
        numerator in any::<i64>(),
        denominator in 1..=100_000i64,
        unit in any_unit(),
    ) {
        let figure = Ratio::new(BigInt::from(numerator), BigInt::from(denominator));
        let quantity = Quantity::new(figure.clone(), unit);
        prop_assert_eq!(quantity.in_unit(unit), figure);
        let printed = quantity.render(unit);
        prop_assert_eq!(&read(&printed, unit).value, &quantity);
        if quantity.is_decimal_in(unit) {
            prop_assert_eq!(Quantity::parse_literal(&printed), Ok((quantity, unit)));
        }
    }

    #[test]
    fn a_conversion_there_and_back_changes_nothing(
        numerator in any::<i64>(),
        denominator in 1..=i64::MAX,
        from in any_unit(),
        at in any::<usize>(),
    ) {
        let alike: Vec<Unit> = Unit::ALL.iter().copied().filter(|u| u.dimension() == from.dimension()).collect();
        let to = alike[at % alike.len()];
        let figure = Ratio::new(BigInt::from(numerator), BigInt::from(denominator));
        let there = Quantity::new(figure.clone(), from).in_unit(to);
        prop_assert_eq!(Quantity::new(there, to).in_unit(from), figure);
    }

    /// The oracle knows only whole numbers of ten-thousandths of a micrometre.
    #[test]
    fn a_verdict_at_a_limit_agrees_with_whole_numbers(
        reading in -20_000i64..20_000,
        in_inches in any::<bool>(),
        bound in -2_000_000i64..2_000_000,
        nudge in -2i64..=2,
        at_bound in any::<bool>(),
    ) {
        // Hundredths of a millimetre, or ten-thousandths of an inch (2.54 µm).
        let (unit, per_step, places) = if in_inches {
            (Unit::Inch, 25_400i64, 4)
        } else {
            (Unit::Millimetre, 100_000i64, 2)
        };
        let value = reading * per_step;
        let bound = if at_bound { value + nudge } else { bound * 10_000 };
        let scale = |n: i64, p: u32| Ratio::new(BigInt::from(n), BigInt::from(10i64.pow(p)));
        let text = Quantity::new(scale(reading, places), unit).render_rounded(unit, places as usize);
        let reading = read(&text, Unit::Millimetre);
        let bound_text = Quantity::new(scale(bound, 7), Unit::Millimetre).render(Unit::Millimetre);
        let bound_quantity = Quantity::parse_literal(&bound_text).unwrap().0;
        let least = Limit::new(Some(bound_quantity.clone()), None, Unit::Millimetre).unwrap();
        let most = Limit::new(None, Some(bound_quantity.clone()), Unit::Millimetre).unwrap();
        let below = if value < bound { Side::Below } else { Side::Within };
        let above = if value > bound { Side::Above } else { Side::Within };
        prop_assert_eq!(least.judge(&reading.value), Some(below));
        prop_assert_eq!(most.judge(&reading.value), Some(above));
        if value.cmp(&bound) == Ordering::Less {
            let said = least.explain(&reading);
            let (left, right) = said.split_once(" is below ").unwrap();
            prop_assert_ne!(left, right);
        }
    }
}
