//! In which order the fasteners of a ring are tightened, and in which passes.

use super::super::declare::{Calculation, Input, Output};
use super::super::figure::{digits, shown};
use super::super::perform::Known;
use super::super::refusal::CalcRefusal;
use super::super::working::Sheet;
use super::{NEWTON_METRE, NUMBER, SHARE};

/// The order for a ring of `count` fasteners, numbered clockwise from 1.
///
/// Opposite pairs, then the pair across them, and so on with the angles halved: for 4, 8 and 12 as
/// published in gasket guidance, for 16, 20 and 24 as recalled. Where no opposite exists, the nearest
/// to it.
pub fn order(count: u32) -> Vec<u32> {
    if count % 2 == 1 {
        let stride = (count / 2).max(1);
        return (0..count).map(|i| i * stride % count + 1).collect();
    }
    if count.is_multiple_of(4) {
        let quarter = count / 4;
        let around = |start: u32| [0, 2, 1, 3].map(|turn| start + turn * quarter);
        return starts(quarter).into_iter().flat_map(around).collect();
    }
    let half = count / 2;
    let opposite = |start: u32| [start, (start + half - 1) % count + 1];
    (0..half).flat_map(|i| opposite(2 * i + 1)).collect()
}

/// With which fasteners the crosses begin, so that they spread over the first quarter.
fn starts(quarter: u32) -> Vec<u32> {
    let odd_then_even = || (1..=quarter).step_by(2).chain((2..=quarter).step_by(2)).collect();
    match quarter {
        0..=3 => (1..=quarter).collect(),
        _ if quarter.is_multiple_of(2) => {
            (1..=quarter / 2).flat_map(|i| [i, i + quarter / 2]).collect()
        }
        _ => odd_then_even(),
    }
}

/// In which order the fasteners of a ring are tightened.
///
/// Opposite pairs with the angle halved, clockwise numbers. 2 to 200 fasteners. Source: public gasket
/// guidance for 4, 8 and 12; the legacy cross pattern of ASME PCC-1 for 16, 20 and 24 is recalled;
/// other counts follow the same habit.
pub static TIGHTENING_ORDER: Calculation = Calculation {
    name: "tightening_order",
    title: "in which order to tighten the fasteners of a ring",
    formulas: &["opposite first, then across, then halve the angles between"],
    symbols: &[],
    valid: &[
        "2 to 200 fasteners evenly spaced on a ring, numbered clockwise, one tool",
        "for rows, frames and two rings the maker's drawing holds",
    ],
    warnings: &[
        "where the maker gives an order, that one holds",
        "6, 10 and other counts that 4 does not divide have no standard order: this is one of several in use",
        "an odd count has no opposites: the nearest to it follows",
    ],
    sources: &[
        "4, 8 and 12: public gasket guidance; 16, 20 and 24: the legacy cross pattern of ASME PCC-1, from memory",
        "other counts: common practice, no source",
    ],
    inputs: &[Input::count("fasteners", "n", "fasteners on the ring")
        .from_to("2", "200", "one fastener has no order, and no flange has more than 200")
        .weightless()],
    outputs: &[Output::figures(
        "order",
        "numbers of the fasteners, clockwise, in their order",
        NUMBER,
    )],
    held: None,
    example: &[("fasteners", "8")],
    run: tightening_order,
};

fn tightening_order(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let count = known.count("fasteners")?;
    let order = order(count);
    let mut sheet = Sheet::new();
    let told: Vec<String> = order.iter().map(u32::to_string).collect();
    let formula = match (count % 4, count % 2) {
        (0, _) => "number, opposite, a quarter on, opposite of that; then between them",
        (_, 0) => "number, opposite; then two on",
        _ => "always nearly half a turn on: no opposite exists",
    };
    sheet.line("order", formula, format!("n = {count}"), told.join(" "));
    if count % 4 != 0 && count > 2 {
        sheet.warn("no standard order is known for this count: this one spreads the load and is one of several");
    }
    sheet.gives_list("order", order.into_iter().map(f64::from).collect());
    Ok(sheet)
}

/// The torques of the passes in which a joint is tightened.
///
/// Pass i at its share of the torque, by default 30, 60 and 100 %, then once more around at 100 % until
/// nothing turns. Torque in N·m. Source: common practice, and the legacy method of ASME PCC-1 from memory.
pub static TIGHTENING_PASSES: Calculation = Calculation {
    name: "tightening_passes",
    title: "to which torque each pass tightens, up to the full torque and once more around",
    formulas: &["pass = share·T", "last: T around the ring, until nothing turns"],
    symbols: &[],
    valid: &["shares that rise to 100 %", "hand torque with one tool"],
    warnings: &[
        "each pass goes through all fasteners in their order before the next begins",
        "the last round goes clockwise from fastener to neighbour: a gasket settles and lets go of some",
        "where the maker gives other passes, those hold",
    ],
    sources: &[
        "30, 60 and 100 % and a round more: common practice; the legacy method of ASME PCC-1, from memory",
    ],
    inputs: &[
        Input::figure("torque", "T", "full torque", NEWTON_METRE).from_to(
            "0.1 N·m",
            "100000 N·m",
            "no wrench is set outside of it; look at the unit",
        ),
        Input::figures("shares", "", "share of each pass", SHARE)
            .from_to("1 %", "100 %", "a pass is a share of the full torque")
            .or("30 60 100 %"),
    ],
    outputs: &[Output::figures(
        "passes",
        "torque of each pass, the last round included",
        NEWTON_METRE,
    )],
    held: None,
    example: &[("torque", "120 N·m")],
    run: tightening_passes,
};

fn tightening_passes(known: &Known<'_>) -> Result<Sheet, CalcRefusal> {
    let torque = known.figure("torque")?;
    let exact = known.exact_list("shares");
    let full = num_traits::One::one();
    let rising = exact.windows(2).all(|pair| pair.first() < pair.last());
    if !rising || exact.last() != Some(&full) {
        let text = "`shares` must rise from pass to pass and end at 100 %: the last pass brings the full torque";
        return Err(CalcRefusal::Together(text.to_owned()));
    }
    let mut sheet = Sheet::new();
    let mut passes: Vec<f64> = Vec::new();
    for (i, share) in known.list("shares").into_iter().enumerate() {
        let pass = share * torque;
        let figures = format!("{} · {}", shown(share, "%"), known.shown("torque"));
        sheet.line(format!("pass {}", i + 1), "share·T", figures, shown(pass, "N·m"));
        passes.push(pass);
    }
    let last = format!(
        "{} on every fastener, neighbour to neighbour, until none turns",
        known.shown("torque")
    );
    sheet.line(
        format!("pass {}", digits(f64::from(u32::try_from(passes.len() + 1).unwrap_or(0)), 4)),
        "T",
        "",
        last,
    );
    passes.push(torque);
    sheet.gives_list("passes", passes);
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_order_takes_each_fastener_once_and_opposites_in_pairs() {
        for count in 2..=200 {
            let found = order(count);
            let mut sorted = found.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, (1..=count).collect::<Vec<_>>());
            if count % 2 == 0 {
                for pair in found.chunks(2) {
                    assert_eq!(pair[0].abs_diff(pair[1]), count / 2, "{count}: {found:?}");
                }
            } else if count > 3 {
                for pair in found.windows(2) {
                    let apart = pair[0].abs_diff(pair[1]);
                    assert_eq!(apart.min(count - apart), count / 2, "{count}: {found:?}");
                }
            }
        }
    }
}
