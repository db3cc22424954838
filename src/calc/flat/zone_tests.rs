//! The least zone against a slow and obvious search, and sets with nothing to spare.

use super::*;

fn exact(n: i64) -> Exact {
    Exact::from_integer(n.into())
}

fn face(points: &[(i64, i64, i64)]) -> Vec<Reading> {
    points
        .iter()
        .map(|&(x, y, z)| Reading { at: vec![exact(x), exact(y)], height: exact(z) })
        .collect()
}

fn edge(points: &[(i64, i64)]) -> Vec<Reading> {
    points.iter().map(|&(x, z)| Reading { at: vec![exact(x)], height: exact(z) }).collect()
}

/// The zone of fixed slopes.
fn across(readings: &[Reading], slopes: &[Exact]) -> Exact {
    let level = |r: &Reading| {
        let slope: Exact = r.at.iter().zip(slopes).map(|(at, slope)| at * slope).sum();
        &r.height - slope
    };
    let levels = || readings.iter().map(level);
    levels().max().unwrap() - levels().min().unwrap()
}

/// Every slope that three contacts on a side, or two on each, can fix: one of them is the best.
fn slow_face(points: &[(i64, i64, i64)]) -> Option<Exact> {
    let readings = face(points);
    let mut pairs = Vec::new();
    for (i, p) in points.iter().enumerate() {
        pairs.extend(points[..i].iter().map(|q| (p.0 - q.0, p.1 - q.1, p.2 - q.2)));
    }
    let mut best: Option<Exact> = None;
    for (i, (x, y, z)) in pairs.iter().enumerate() {
        for (u, v, w) in &pairs[..i] {
            let below = x * v - y * u;
            if below != 0 {
                let slope = |top: i64| Exact::new(top.into(), below.into());
                let slopes = [slope(z * v - w * y), slope(x * w - u * z)];
                let zone = across(&readings, &slopes);
                best = Some(best.map_or(zone.clone(), |best| best.min(zone)));
            }
        }
    }
    best
}

fn slow_edge(points: &[(i64, i64)]) -> Option<Exact> {
    let readings = edge(points);
    let mut best: Option<Exact> = None;
    for (i, p) in points.iter().enumerate() {
        for q in points[..i].iter().filter(|q| q.0 != p.0) {
            let zone = across(&readings, &[Exact::new((p.1 - q.1).into(), (p.0 - q.0).into())]);
            best = Some(best.map_or(zone.clone(), |best| best.min(zone)));
        }
    }
    best
}

/// Holds a zone against its readings: nothing outside, and contacts that prove that none is less.
fn proven(readings: &[Reading], zone: &Zone) {
    assert_eq!(across(readings, &zone.slopes), zone.width, "{readings:?}");
    let signed =
        |c: &Contact| if c.side == Side::Top { c.weight.clone() } else { -c.weight.clone() };
    let sum = |of: &dyn Fn(&Reading) -> Exact| -> Exact {
        zone.contacts.iter().map(|c| signed(c) * of(&readings[c.reading])).sum()
    };
    assert_eq!(sum(&|r| r.height.clone()), zone.width);
    assert!(sum(&|_| Exact::one()).is_zero());
    for direction in 0..readings[0].at.len() {
        assert!(sum(&|r| r.at[direction].clone()).is_zero());
    }
    for side in [Side::Top, Side::Bottom] {
        let of_side = zone.contacts.iter().filter(|c| c.side == side);
        assert_eq!(of_side.map(|c| c.weight.clone()).sum::<Exact>(), Exact::one());
    }
}

/// Numbers that look random and are the same every time.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        i64::try_from(self.0 % u64::try_from(end).unwrap()).unwrap()
    }
}

#[test]
fn faces_agree_with_the_slow_search() {
    let mut numbers = Numbers(0x9e37_79b9_7f4a_7c15);
    let (mut solved, mut refused) = (0, 0);
    for round in 0..400 {
        let n = 3 + usize::try_from(numbers.below(6)).unwrap();
        // Few places and few heights make rows, repeats and ties common.
        let (places, heights) = [(3, 3), (4, 20), (100, 1000), (2, 50)][round % 4];
        let points: Vec<_> = (0..n)
            .map(|_| (numbers.below(places), numbers.below(places), numbers.below(heights)))
            .collect();
        let readings = face(&points);
        match (least_zone(&readings), slow_face(&points)) {
            (Some(zone), Some(slow)) => {
                assert_eq!(zone.width, slow, "{points:?}");
                proven(&readings, &zone);
                solved += 1;
            }
            (None, None) => refused += 1,
            (fast, slow) => panic!("{points:?}: {fast:?} for {slow:?}"),
        }
    }
    assert!(solved > 300 && refused > 5, "{solved} solved, {refused} refused");
}

#[test]
fn edges_agree_with_the_slow_search() {
    let mut numbers = Numbers(0x2545_f491_4f6c_dd1d);
    for round in 0..400 {
        let n = 1 + usize::try_from(numbers.below(9)).unwrap();
        let (places, heights) = [(3, 3), (5, 20), (100, 1000)][round % 3];
        let points: Vec<_> =
            (0..n).map(|_| (numbers.below(places), numbers.below(heights))).collect();
        let (zone, slow) = (least_zone(&edge(&points)), slow_edge(&points));
        assert_eq!(zone.as_ref().map(|zone| zone.width.clone()), slow, "{points:?}");
        if let Some(zone) = zone {
            proven(&edge(&points), &zone);
        }
    }
}

#[test]
fn larger_sets_are_proven_by_their_contacts() {
    let mut numbers = Numbers(0x1234_5678_9abc_def1);
    for (n, places, heights) in [(400, 20, 30), (400, 10_000, 10), (300, 5, 5), (200, 1000, 1)] {
        let points: Vec<_> = (0..n)
            .map(|_| {
                let (x, y) = (numbers.below(places), numbers.below(places));
                (x, y, 3 * x - 2 * y + numbers.below(heights))
            })
            .collect();
        let readings = face(&points);
        let zone = least_zone(&readings).unwrap();
        proven(&readings, &zone);
        assert!(zone.width <= exact(heights), "{:?}", zone.width);
    }
}

#[test]
fn sets_with_nothing_to_spare() {
    let width = |points: &[(i64, i64, i64)]| least_zone(&face(points)).map(|zone| zone.width);
    assert_eq!(width(&[]), None);
    assert_eq!(width(&[(0, 0, 5)]), None);
    assert_eq!(width(&[(0, 0, 5), (1, 0, 7)]), None);
    assert_eq!(width(&[(1, 1, 5), (1, 1, 5), (1, 1, 5)]), None, "one place");
    assert_eq!(width(&[(0, 0, 0), (1, 2, 9), (2, 4, 3), (3, 6, 1)]), None, "one line in plan");
    assert_eq!(width(&[(0, 0, 10), (100, 0, -20), (0, 80, 30)]), Some(exact(0)), "three readings");
    assert_eq!(width(&[(0, 0, 1), (1, 0, 1), (0, 1, 1), (1, 1, 1)]), Some(exact(0)), "all alike");
    assert_eq!(width(&[(0, 0, 0), (1, 0, 3), (0, 1, -2), (7, 9, 3)]), Some(exact(0)), "a tilt");
    assert_eq!(width(&[(0, 0, 1), (0, 0, 4), (1, 0, 1), (0, 1, 1)]), Some(exact(3)), "read twice");
    assert_eq!(width(&[(0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 20)]), Some(exact(10)), "a twist");
}
