//! The map of a face from readings of height, and the scale of findings over the times of a look.

use num_traits::Zero as _;

use super::rows::{Row, cut, width, wrapped};
use crate::shown::grid::{GridShown, LEVELS, SeenAt};
use crate::tui::theme::Role;
use crate::walk::flow::FindingNote;

/// The sign of each step of height, from the least on.
const SHADES: [&str; LEVELS] = ["·", "░", "▒", "▓", "█"];
/// The most times that the scale has room for; earlier ones are left out.
const TIMES_MAX: usize = 12;

/// The face as seen from above, each place with its height above the least where there is room.
pub(super) fn map(grid: &GridShown, columns: usize) -> Vec<Row> {
    let figures = GridShown::um_text(&grid.most()).len().max(2);
    let (wide, narrow) = (figures + 4, 2);
    let cell = if 2 + grid.columns * wide <= columns { wide } else { narrow };
    let n_rows = grid.rows().count();
    if 2 + grid.columns * cell > columns {
        let text = format!("{} by {n_rows} readings: too wide to draw here", grid.columns);
        return wrapped(Role::Quiet, &text, columns, 2);
    }
    let most = grid.most();
    let head = format!("  The face from above, {} by {n_rows} readings", grid.columns);
    let mut rows = vec![Row::new(Role::Quiet, cut(&head, columns))];
    for line in grid.rows() {
        let mut bits = vec![(Role::Plain, "  ".to_owned())];
        for above in line {
            let shade = SHADES.get(grid.level(above)).copied().unwrap_or("█");
            let (role, mark) = match above {
                above if *above == most => (Role::Picked, "▲"),
                above if above.is_zero() => (Role::Picked, "▼"),
                _ => (Role::Plain, shade),
            };
            bits.push((Role::Plain, shade.to_owned()));
            bits.push((role, mark.to_owned()));
            if cell == wide {
                let figure = GridShown::um_text(above);
                bits.push((Role::Plain, format!("{figure:>figures$}  ")));
            }
        }
        rows.push(Row::of(bits));
    }
    let legend = format!(
        "µm above the lowest: · least, █ most; ▼ lowest, ▲ highest ({})",
        GridShown::um_text(&most)
    );
    rows.extend(wrapped(Role::Quiet, &legend, columns, 2));
    rows
}

/// What was seen at each earlier time, on a scale of the findings in their order.
pub(super) fn scale(seen: &[SeenAt], findings: &[FindingNote], columns: usize) -> Vec<Row> {
    let shown = seen.get(seen.len().saturating_sub(TIMES_MAX)..).unwrap_or(seen);
    let Some(first) = shown.first() else { return Vec::new() };
    let mut rows = Vec::new();
    let times: Vec<String> = shown.iter().map(|seen| format!("{:>2} ", seen.time)).collect();
    let head = format!("  times  {}", times.concat());
    rows.push(Row::new(Role::Quiet, cut(&head, columns)));
    for (place, finding) in findings.iter().enumerate() {
        let mark = format!("{:>5}    ", place + 1);
        let mut bits = vec![(Role::Task, mark)];
        for at in shown {
            let found = at.findings.contains(&place);
            let (role, sign) = if found { (Role::Task, "● ") } else { (Role::Quiet, "· ") };
            bits.push((role, format!(" {sign}")));
        }
        let used: usize = bits.iter().map(|(_, text)| width(text)).sum();
        bits.push((Role::Quiet, cut(&finding.see, columns.saturating_sub(used + 1))));
        rows.push(Row::of(bits));
    }
    if first.time > 1 {
        rows.push(Row::new(Role::Quiet, "  earlier times are in the outline"));
    }
    rows
}
