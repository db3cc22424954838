//! How likely a reading's verdict is wrong: a normal distribution about the reading, and nothing
//! known before.
//!
//! Floating point, unlike every other verdict: roots and exponentials come from `libm`, so that a
//! replay gives the same bits on every machine. Readings by one instrument are not independent;
//! sums of risks hold all the same, products would not.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use super::decision::Guard;
use super::{Limit, Quantity, Side, Uncertainty};

/// The probability that a standard normal variable lies between `from` and `to`.
fn between(from: f64, to: f64) -> f64 {
    // Mirrored to the upper tail, where differences of small figures stay exact.
    let (from, to) = if to <= 0.0 { (-to, -from) } else { (from, to) };
    0.5 * (beyond(from) - beyond(to))
}

/// Twice the probability of more than `z`.
fn beyond(z: f64) -> f64 {
    libm::erfc(z * std::f64::consts::FRAC_1_SQRT_2)
}

/// `figure` as the nearest floating-point number, or as infinity.
fn float(figure: &Ratio<BigInt>) -> f64 {
    let beyond_all = if figure.is_negative() { f64::NEG_INFINITY } else { f64::INFINITY };
    figure.to_f64().filter(|float| !float.is_nan()).unwrap_or(beyond_all)
}

/// The probability that the truth behind `value` lies within `limit`; `None` where the three do not
/// measure the same.
pub fn conformance_probability(
    limit: &Limit,
    value: &Quantity,
    uncertainty: &Uncertainty,
) -> Option<f64> {
    let dimension = limit.unit.dimension();
    if value.dimension != dimension || !uncertainty.is_of(dimension) {
        return None;
    }
    if uncertainty.is_zero() {
        let side = limit.judge(value)?;
        return Some(if side == Side::Within { 1.0 } else { 0.0 });
    }
    let standard = uncertainty.standard().si;
    // Distances are exact before they become floating-point numbers.
    let away = |bound: &Quantity| float(&((&bound.si - &value.si) / &standard));
    let from = limit.at_least.as_ref().map_or(f64::NEG_INFINITY, away);
    let to = limit.at_most.as_ref().map_or(f64::INFINITY, away);
    Some(between(from, to))
}

/// The probability that a reading on the drawn-in bound of a one-sided limit is wrongly accepted;
/// `None` without uncertainty.
pub fn false_acceptance(guard: &Guard, uncertainty: &Uncertainty) -> Option<f64> {
    let standard = uncertainty.standard().si;
    let width = guard.width(uncertainty).si;
    (!standard.is_zero()).then(|| 0.5 * beyond(float(&(width / standard))))
}

/// How many of some accepted readings are expected to be wrong, of their probabilities to conform.
pub fn expected_wrong(probabilities: impl IntoIterator<Item = f64>) -> f64 {
    probabilities.into_iter().map(|conforms| 1.0 - conforms).sum()
}

/// What is known of the parts before any is measured: normally distributed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Process {
    /// The mean.
    pub mean: Quantity,
    /// The standard deviation, a difference greater than zero.
    pub deviation: Quantity,
}

/// The risks of measuring many parts of a process with one rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlobalRisk {
    /// The share of parts that conform.
    pub conforming: f64,
    /// The share of all parts that do not conform and are accepted.
    pub consumer: f64,
    /// The share of all parts that conform and are rejected.
    pub producer: f64,
}

/// Bounds in standard deviations from the mean of a process.
struct Bounds {
    from: f64,
    to: f64,
}

/// The risks of accepting within `accept` what should lie within `limit`; `None` where they do not
/// measure the same or the process does not vary.
pub fn global(
    process: &Process,
    limit: &Limit,
    accept: &Limit,
    uncertainty: &Uncertainty,
) -> Option<GlobalRisk> {
    let dimension = process.mean.dimension;
    let deviation = process.deviation.as_step_of(dimension)?.si;
    let same = [limit, accept].iter().all(|limit| limit.unit.dimension() == dimension);
    if !same || !uncertainty.is_of(dimension) || !deviation.is_positive() {
        return None;
    }
    let scaled = |limit: &Limit| {
        let away = |bound: &Quantity| float(&((&bound.si - &process.mean.si) / &deviation));
        Bounds {
            from: limit.at_least.as_ref().map_or(f64::NEG_INFINITY, away),
            to: limit.at_most.as_ref().map_or(f64::INFINITY, away),
        }
    };
    let (limit, accept) = (scaled(limit), scaled(accept));
    let measuring = float(&(uncertainty.standard().si / &deviation));
    let (mut consumer, mut producer) = (0.0, 0.0);
    let breaks = breaks(&limit, &accept, measuring);
    for (from, to) in breaks.iter().zip(breaks.iter().skip(1)) {
        let middle = f64::midpoint(*from, *to);
        let conforms = middle >= limit.from && middle <= limit.to;
        let share = integral(*from, *to, |z| {
            let accepted = accepted(z, &accept, measuring);
            density(z) * if conforms { 1.0 - accepted } else { accepted }
        });
        *(if conforms { &mut producer } else { &mut consumer }) += share;
    }
    Some(GlobalRisk { conforming: between(limit.from, limit.to), consumer, producer })
}

/// The probability that a part at `z` is measured within `accept`.
fn accepted(z: f64, accept: &Bounds, measuring: f64) -> f64 {
    if measuring > 0.0 {
        between((accept.from - z) / measuring, (accept.to - z) / measuring)
    } else if z >= accept.from && z <= accept.to {
        1.0
    } else {
        0.0
    }
}

fn density(z: f64) -> f64 {
    const INVERSE_ROOT_OF_TWO_PI: f64 = 0.398_942_280_401_432_7;
    INVERSE_ROOT_OF_TWO_PI * libm::exp(-0.5 * z * z)
}

/// Beyond so many deviations there is nothing that a floating-point sum would notice.
const FAR: f64 = 10.0;

/// Where the integrand bends: between two of these it is smooth.
fn breaks(limit: &Bounds, accept: &Bounds, measuring: f64) -> Vec<f64> {
    let mut breaks = vec![-FAR, FAR, limit.from, limit.to];
    for bound in [accept.from, accept.to] {
        breaks.extend([bound - FAR * measuring, bound, bound + FAR * measuring]);
    }
    breaks.retain(|at| (-FAR..=FAR).contains(at));
    breaks.sort_by(f64::total_cmp);
    breaks
}

/// Gauss and Legendre's rule of five points on each of equal parts.
fn integral(from: f64, to: f64, of: impl Fn(f64) -> f64) -> f64 {
    const PARTS: u32 = 64;
    const POINTS: [(f64, f64); 5] = [
        (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
        (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.0, 0.568_888_888_888_888_9),
        (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.906_179_845_938_664, 0.236_926_885_056_189_1),
    ];
    let half = (to - from) / (2.0 * f64::from(PARTS));
    let part = |n: u32| {
        let middle = from + half * f64::from(2 * n + 1);
        POINTS.iter().map(|(at, weight)| weight * of(middle + half * at)).sum::<f64>()
    };
    half * (0..PARTS).map(part).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    fn read(text: &str) -> Quantity {
        Quantity::parse_literal(text).unwrap().0
    }

    fn limit(least: Option<&str>, most: Option<&str>) -> Limit {
        Limit::new(least.map(read), most.map(read), Unit::NewtonMetre).unwrap()
    }

    #[test]
    fn me4_the_chance_that_a_reading_conforms() {
        let u = Uncertainty::parse_literal("4 N·m", "2").unwrap();
        let both = limit(Some("192 N·m"), Some("208 N·m"));
        let percent = |reading: &str, places: usize| {
            let p = conformance_probability(&both, &read(reading), &u).unwrap();
            format!("{:.places$}", p * 100.0)
        };
        assert_eq!(percent("200 N·m", 2), "99.99");
        for (reading, shown) in [
            ("204 N·m", "97.7"),
            ("205 N·m", "93.3"),
            ("207 N·m", "69.1"),
            ("208 N·m", "50.0"),
            ("209 N·m", "30.9"),
            ("212 N·m", "2.3"),
            ("213 N·m", "0.6"),
        ] {
            assert_eq!(percent(reading, 1), shown, "{reading}");
        }
        assert_eq!(conformance_probability(&both, &read("1 mm"), &u), None);
    }

    #[test]
    fn far_tails_stay_apart_and_nothing_is_no_number() {
        let u = Uncertainty::parse_literal("2 N·m", "2").unwrap();
        let both = limit(Some("0 N·m"), Some("1 N·m"));
        let p = |reading: &str| conformance_probability(&both, &read(reading), &u).unwrap();
        assert!(p("30 N·m") > 0.0 && p("30 N·m") < 1e-180);
        assert!((p("30 N·m") / p("-29 N·m") - 1.0).abs() < 1e-12);
        assert!(p(&format!("{} N·m", "9".repeat(40))) < 1e-300);
        let tiny = Uncertainty::parse_literal("0.0000000000000000000000000000000000001 N·m", "2");
        let p = conformance_probability(&both, &read("0.5 N·m"), &tiny.unwrap());
        assert!((p.unwrap() - 1.0).abs() < 1e-15);
        let none = Uncertainty::parse_literal("0 N·m", "2").unwrap();
        let p = |reading: &str| conformance_probability(&both, &read(reading), &none).unwrap();
        assert!(p("1 N·m") > 0.5 && p("1.0000001 N·m") < 0.5);
        assert_eq!(false_acceptance(&Guard::full(), &none), None);
    }

    #[test]
    fn the_risks_of_a_process_add_up() {
        let process = Process { mean: read("200 N·m"), deviation: read("4 N·m") };
        let both = limit(Some("192 N·m"), Some("208 N·m"));
        let risk = |expanded: &str| {
            let u = Uncertainty::parse_literal(expanded, "2").unwrap();
            global(&process, &both, &both, &u).unwrap()
        };
        // Without uncertainty nothing is wrongly decided; with more, more is.
        let none = risk("0 N·m");
        assert!(none.consumer.abs() < 1e-15 && none.producer.abs() < 1e-15);
        assert!((none.conforming - 0.954_499_736_103_642).abs() < 1e-12);
        let (some, more) = (risk("1 N·m"), risk("4 N·m"));
        assert!(0.0 < some.consumer && some.consumer < more.consumer);
        assert!(0.0 < some.producer && some.producer < more.producer);
        // All that a very uncertain instrument takes or leaves: rejected and conforming is at most
        // what conforms.
        assert!(risk("4000 N·m").producer < none.conforming);
        // A limit with one bound.
        let least = limit(Some("192 N·m"), None);
        let u = Uncertainty::parse_literal("0.001 N·m", "2").unwrap();
        let one = global(&process, &least, &least, &u).unwrap();
        assert!((one.conforming - 0.977_249_868_051_820_8).abs() < 1e-12);
        assert!(one.consumer < 1e-4 && one.producer < 1e-4);
        let still = Process { deviation: read("0 N·m"), ..process };
        assert_eq!(global(&still, &least, &least, &u), None);
        assert!((expected_wrong([0.9, 0.8, 1.0]) - 0.3).abs() < 1e-12);
    }
}
