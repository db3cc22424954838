//! The circle of fasteners: numbers with their marks, the pass and its torque, the wrench.
//!
//! Plain characters throughout, and a mark before a colour: `x` done, `>` next, `!` not so.

use super::card::{Detail, Put, instrument, typed};
use super::rows::{Row, hanging, width, wrapped};
use crate::shown::RingShown;
use crate::shown::ring::{FastenerState, wrench_words};
use crate::tui::model::{Model, Way};
use crate::tui::theme::Role;
use crate::tui::update::{adapter_of, thread, wrench_entry};
use crate::walk::tighten::Due;

/// The least width of the circle's picture; in narrower windows the numbers stand in a row.
const CIRCLE_FROM: usize = 34;
/// The most fasteners that the circle has room for.
const CIRCLE_MAX: usize = 16;

/// From so many columns on, the passes stand beside the circle, and where they begin.
const PASSES_FROM: usize = 72;
const PASSES_AT: usize = 40;
/// The same in narrower windows, with less beside the circle.
const PASSES_NARROW_FROM: usize = 54;
const PASSES_NARROW_AT: usize = 35;
/// Columns of the bar of a pass with the whole torque.
const PASS_BAR: usize = 12;
const PASS_BAR_NARROW: usize = 4;

/// Where each of `n` fasteners stands in a grid of half-turn columns and rows: clockwise, 1 on top.
/// Whole numbers only, so that the picture is the same everywhere.
fn places(n: usize) -> Vec<(usize, usize)> {
    // The rim of a box `across` wide and `down` high, walked clockwise from the middle of its top.
    let (across, down) = (28_usize, 6_usize);
    let rim: Vec<(usize, usize)> = (14..across)
        .map(|x| (x, 0))
        .chain((0..down).flat_map(|y| [(across, y); 4]))
        .chain((0..across).rev().map(|x| (x + 1, down)))
        .chain((0..down).rev().flat_map(|y| [(0, y + 1); 4]))
        .chain((0..14).map(|x| (x, 0)))
        .collect();
    (0..n).map(|i| rim.get(i * rim.len() / n.max(1)).copied().unwrap_or((0, 0))).collect()
}

fn mark(state: FastenerState) -> (char, Role) {
    match state {
        FastenerState::Done => ('x', Role::Good),
        FastenerState::NotSo => ('!', Role::Bad),
        FastenerState::Next => ('>', Role::Picked),
        FastenerState::Ahead => ('.', Role::Plain),
    }
}

/// A pass as it stands.
struct Pass {
    /// Its number.
    number: u32,
    /// `x` done, `>` under way, `.` to do.
    word: &'static str,
    role: Role,
    /// Its share of the torque, in percent.
    share: usize,
    /// The torque that it aims at.
    aim: String,
    /// How many are tightened, of how many.
    count: String,
}

impl Pass {
    fn all(ring: &RingShown) -> Vec<Self> {
        let n_all = ring.note.order.len();
        let due = ring.pass();
        ring.note
            .pass_numbers()
            .map(|number| {
                let n_done = n_all - ring.note.open(&ring.tightening.rounds, number).len();
                let (role, word) = match (n_done == n_all, due == Some(number)) {
                    (true, _) => (Role::Good, "x"),
                    (_, true) => (Role::Picked, ">"),
                    _ => (Role::Quiet, "."),
                };
                let share = usize::try_from(ring.note.share(number)).unwrap_or(100).min(100);
                let aim = ring.note.aim_of(number).render(ring.unit());
                Self { number, word, role, share, aim, count: format!("{n_done}/{n_all}") }
            })
            .collect()
    }

    /// A bar as long as its share of the torque.
    fn bar(&self, columns: usize) -> String {
        "━".repeat((self.share * columns).div_ceil(100))
    }
}

/// The torque of each pass as a bar, with how many are tightened; then the order of tightening.
fn passes(ring: &RingShown, is_narrow: bool) -> Vec<Vec<(Role, String)>> {
    let order: Vec<String> = ring.note.order.iter().map(ToString::to_string).collect();
    let row = |pass: Pass| {
        let Pass { number, word, role, ref aim, ref count, .. } = pass;
        let (label, columns) = if is_narrow { ("", PASS_BAR_NARROW) } else { ("pass ", PASS_BAR) };
        let bar = pass.bar(columns);
        let gap = if is_narrow { " " } else { "  " };
        vec![
            (role, format!("{word} {label}{number}")),
            (Role::Plain, format!(" {bar:<columns$} {aim}{gap}{count}")),
        ]
    };
    let mut rows: Vec<Vec<(Role, String)>> = Pass::all(ring).into_iter().map(row).collect();
    rows.push(vec![(Role::Quiet, format!("order: {}", order.join(" ")))]);
    rows
}

/// The passes in rows of their own, for windows with no room beside the circle.
fn passes_above(ring: &RingShown, columns: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut used = columns;
    for pass in Pass::all(ring) {
        let (mark, rest) = (
            format!("{} {}", pass.word, pass.number),
            format!(" {} {} {}   ", pass.bar(PASS_BAR_NARROW), pass.aim, pass.count),
        );
        let wide = width(&mark) + width(&rest);
        if used + wide > columns {
            rows.push(Row::new(Role::Plain, "   "));
            used = 3;
        }
        used += wide;
        if let Some(row) = rows.last_mut() {
            row.bits.extend([(pass.role, mark), (Role::Plain, rest)]);
        }
    }
    rows
}

fn circle(ring: &RingShown, columns: usize) -> Vec<Row> {
    let states = ring.states();
    let places = places(states.len());
    let mut rows = Vec::new();
    for y in 0..=6 {
        let mut here: Vec<_> =
            states.iter().zip(&places).filter(|(_, (_, row))| *row == y).collect();
        here.sort_by_key(|(_, (x, _))| *x);
        let mut bits = vec![(Role::Plain, "   ".to_owned())];
        let mut at = 0;
        for ((number, state), (x, _)) in here {
            bits.push((Role::Plain, " ".repeat(x.saturating_sub(at))));
            let (mark, role) = mark(*state);
            let text = format!("{mark}{number}");
            at = at.max(*x) + text.len();
            bits.push((role, text));
        }
        rows.push(Row::of(bits));
    }
    if columns < PASSES_NARROW_FROM {
        return passes_above(ring, columns).into_iter().chain(rows).collect();
    }
    let is_narrow = columns < PASSES_FROM;
    let at = if is_narrow { PASSES_NARROW_AT } else { PASSES_AT };
    for (row, pass) in rows.iter_mut().zip(passes(ring, is_narrow)) {
        let used: usize = row.bits.iter().map(|(_, text)| width(text)).sum();
        row.bits.push((Role::Plain, " ".repeat(at.saturating_sub(used))));
        row.bits.extend(pass);
    }
    rows
}

fn line(ring: &RingShown, columns: usize) -> Vec<Row> {
    let all: Vec<String> =
        ring.states().iter().map(|(n, state)| format!("{}{n}", mark(*state).0)).collect();
    wrapped(Role::Plain, &all.join("  "), columns, 3)
}

pub(super) fn rows(
    model: &Model,
    put: Put<'_>,
    mut rows: Vec<Row>,
    columns: usize,
) -> (Vec<Row>, usize) {
    let Put { question, way, detail, .. } = put;
    let Some(ring) = &question.ring else { return (rows, 0) };
    let pass = ring.pass().map_or_else(|| "all passes done".to_owned(), |p| ring.pass_words(p));
    let head = match detail {
        Detail::Small | Detail::Bare => pass,
        Detail::All | Detail::Least => format!("{}; {pass}", ring.count_words()),
    };
    let pass = hanging((Role::Look, "PASS   "), (Role::Task, &head), columns);
    if way == Way::Wrench {
        rows.extend(pass);
        return wrench(model, put, rows, columns);
    }
    // What is due stands together where the top may be out of sight.
    let first = detail == Detail::All;
    rows.extend(pass.iter().filter(|_| first).cloned());
    if detail < Detail::Small && columns >= CIRCLE_FROM && ring.note.order.len() <= CIRCLE_MAX {
        rows.extend(circle(ring, columns));
    } else {
        if detail < Detail::Small {
            rows.extend(passes_above(ring, columns));
        }
        rows.extend(line(ring, columns));
    }
    if first {
        rows.push(Row::new(Role::Quiet, "   x done  > next  . to do  ! not so"));
    } else {
        rows.extend(pass);
    }
    if let Due::Fastener { fastener, .. } = ring.due {
        let set = ring.wrench().map_or_else(String::new, |w| w.setting.echo());
        let text = format!("fastener {fastener}, with the wrench at {set}");
        rows.extend(hanging((Role::Picked, "  NEXT  "), (Role::Task, &text), columns));
    }
    for line in ring.history() {
        rows.extend(wrapped(Role::Look, &line, columns, 3));
    }
    if way == Way::Tightened {
        rows.extend(instrument(model, question, detail, columns));
        let text =
            "Was one loosened, press l. To check one again, press e: what it was set to stays.";
        rows.extend(wrapped(Role::Plain, text, columns, 0));
    }
    let focus = rows.len();
    (rows, focus)
}

fn wrench(model: &Model, put: Put<'_>, mut rows: Vec<Row>, columns: usize) -> (Vec<Row>, usize) {
    let Put { question, draft, detail, .. } = put;
    let Some(ring) = &question.ring else { return (rows, 0) };
    let small = detail >= Detail::Small;
    rows.extend(instrument(model, question, detail, columns));
    let needed = ring.thread_words();
    let (role, said) = match thread(question, draft) {
        Some(thread) if thread == ring.note.condition => (Role::Plain, thread.word().to_owned()),
        Some(thread) => (Role::Bad, format!("{}; the torque is not for it", thread.word())),
        None if small => (Role::Look, "ctrl-y".to_owned()),
        None => (Role::Look, "press ctrl-y and say whether it is dry or oiled".to_owned()),
    };
    let label = if small { "" } else { "for " };
    let needed = format!("   thread: {label}{needed}; here ");
    rows.extend(hanging((Role::Quiet, &needed), (role, &said), columns));
    let adapter = adapter_of(question, draft);
    if adapter.is_some() || !small {
        let text = adapter.unwrap_or_else(|| "none; ctrl-a where there is one".to_owned());
        rows.extend(hanging((Role::Quiet, "   adapter: "), (Role::Plain, &text), columns));
    }
    if !small {
        rows.push(Row::new(Role::Plain, "   The wrench is set to:"));
    }
    rows.push(typed(&draft.field, ring.unit().symbol(), columns));
    if let Some(pass) = ring.pass() {
        let limit = ring.note.keep_to(pass).render();
        rows.extend(wrapped(Role::Plain, &format!("at the fastener: {limit}"), columns, 3));
    }
    let mark = model.instrument(question);
    match wrench_entry(question, draft, mark.as_deref()) {
        Ok(entry) => {
            let words = wrench_words(&entry, ring.unit());
            rows.extend(hanging((Role::Plain, "  -> "), (Role::Task, &words), columns));
            if let Some(out) = ring.out_of_pass(&entry) {
                rows.extend(hanging((Role::Bad, "  OUT: "), (Role::Plain, &out), columns));
            }
        }
        Err(why) if !draft.field.is_empty() => {
            rows.extend(hanging((Role::Look, "  NOT YET: "), (Role::Plain, &why), columns));
        }
        Err(_) => {}
    }
    if let Some(basis) = ring.note.basis.as_ref().filter(|_| !small) {
        rows.extend(wrapped(Role::Quiet, basis, columns, 3));
    }
    for line in ring.history() {
        rows.extend(wrapped(Role::Look, &line, columns, 3));
    }
    let focus = if small { rows.len().saturating_sub(2) } else { rows.len() };
    (rows, focus)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_fasteners_of_a_circle_stand_on_each_other_and_the_first_is_on_top() {
        for n in 1..=CIRCLE_MAX {
            let places = places(n);
            assert_eq!(places[0], (14, 0));
            for (i, (x, y)) in places.iter().enumerate() {
                for (other_x, other_y) in &places[i + 1..] {
                    // A mark and two digits need three columns.
                    assert!(y != other_y || x.abs_diff(*other_x) >= 3, "{n}: {places:?}");
                }
            }
        }
    }
}
