//! The machine's earlier jobs, and the reading that is picked as a plot.

use num_bigint::BigInt;
use num_traits::{ToPrimitive as _, Zero as _};

use super::Body;
use super::rows::{Row, cut, hanging, width, wrapped};
use crate::shown::history::{HistoryShown, Series, Trend};
use crate::tui::model::Model;
use crate::tui::theme::Role;
use crate::units::Side;
use crate::units::trend::Figure;

/// Rows of the plot.
const PLOT_ROWS: usize = 7;
/// Columns of the figures beside the plot.
const AXIS: usize = 12;

pub(super) fn body(model: &Model, history: &HistoryShown, cursor: usize, columns: usize) -> Body {
    let n = history.jobs.len();
    let title = format!("{} of {}", if n == 1 { "1 job" } else { "Jobs" }, model.shown.machine);
    let mut rows = vec![Row::new(Role::Label, title)];
    for past in &history.jobs {
        let here = past.job == model.shown.job;
        let stands = match (here, past.released_at) {
            (true, _) => "this one".to_owned(),
            (false, Some(at)) => format!("released {}", at.spoken()),
            (false, None) => "open".to_owned(),
        };
        let text = format!("{}, {}", past.procedure.spoken(), past.opened_at.spoken());
        let job = format!("  {}  ", past.job);
        rows.extend(hanging(
            (Role::Task, &job),
            (Role::Plain, &format!("{text}: {stands}")),
            columns,
        ));
    }
    for (job, why) in &history.damaged {
        let head = format!("  {job}  DAMAGED  ");
        rows.extend(hanging((Role::Bad, &head), (Role::Plain, why), columns));
    }
    rows.push(Row::default());
    let Some(series) = history.series.get(cursor) else {
        let text = "No reading of this procedure was taken on it yet.";
        rows.extend(wrapped(Role::Quiet, text, columns, 0));
        return Body { rows, ..Body::default() };
    };
    let place = format!("Reading {} of {}  ", cursor + 1, history.series.len());
    let mut name = series.text.trim_end_matches('.').to_owned();
    if let Some(position) = &series.position {
        name.push_str(", ");
        name.push_str(position);
    }
    rows.extend(hanging((Role::Quiet, &place), (Role::Task, &name), columns));
    rows.extend(plot(series, columns));
    let role = match series.trend() {
        Trend::Past(_) => Role::Bad,
        Trend::Reaches(..) => Role::Look,
        Trend::Stays(_) => Role::Good,
        Trend::TooFew => Role::Quiet,
    };
    rows.extend(hanging((Role::Quiet, "  trend: "), (role, &series.trend_text()), columns));
    let limit = format!("limit: {}", series.limit.render());
    rows.extend(wrapped(Role::Plain, &limit, columns, 2));
    for point in series.points.iter().rev() {
        let side = series.limit.judge(&point.reading.value);
        let (role, word) = match side {
            Some(Side::Within) | None => (Role::Good, "within"),
            Some(Side::Below) => (Role::Bad, "BELOW"),
            Some(Side::Above) => (Role::Bad, "ABOVE"),
        };
        let when = (Role::Plain, format!("  {}  {}  ", point.job, point.at.spoken()));
        let read = (Role::Task, format!("{}  ", point.reading.echo()));
        let judged = (role, word.to_owned());
        let whole = [&when, &read, &judged].map(|(_, text)| width(text)).iter().sum::<usize>();
        if whole <= columns {
            rows.push(Row::of(vec![when, read, judged]));
        } else {
            rows.push(Row::of(vec![when]));
            rows.push(Row::of(vec![(Role::Plain, "    ".to_owned()), read, judged]));
        }
    }
    Body {
        focus: Some(rows.len().min(PLOT_ROWS + history.jobs.len() + 8)),
        rows,
        ..Body::default()
    }
}

/// The share of the way from `from` to `to`, as a place among `n`.
fn place(value: &Figure, from: &Figure, to: &Figure, n: usize) -> usize {
    let last = n.saturating_sub(1);
    let span = to - from;
    if span.is_zero() {
        return last / 2;
    }
    let share = (value - from) / span * BigInt::from(last);
    share.round().to_integer().to_usize().unwrap_or(0).min(last)
}

/// The readings by day, left to right, between the bounds of the limit.
fn plot(series: &Series, columns: usize) -> Vec<Row> {
    let room = columns.saturating_sub(AXIS + 4).clamp(8, 64);
    let bounds: Vec<Figure> = [&series.limit.at_least, &series.limit.at_most]
        .into_iter()
        .flatten()
        .map(|bound| series.figure(bound))
        .collect();
    let values: Vec<Figure> =
        series.points.iter().map(|point| series.figure(&point.reading.value)).collect();
    let all = || values.iter().chain(&bounds);
    let (Some(least), Some(most)) = (all().min().cloned(), all().max().cloned()) else {
        return Vec::new();
    };
    let seconds = |at: crate::ids::Moment| Figure::from_integer(at.time().timestamp().into());
    let times: Vec<Figure> = series.points.iter().map(|point| seconds(point.at)).collect();
    let (Some(from), Some(to)) = (times.first(), times.last()) else { return Vec::new() };
    let mut grid = vec![vec![(Role::Plain, " "); room]; PLOT_ROWS];
    let row_of = |value: &Figure| PLOT_ROWS - 1 - place(value, &least, &most, PLOT_ROWS);
    for bound in &bounds {
        if let Some(row) = grid.get_mut(row_of(bound)) {
            row.fill((Role::Look, "┄"));
        }
    }
    for ((value, time), point) in values.iter().zip(&times).zip(&series.points) {
        let within = matches!(series.limit.judge(&point.reading.value), Some(Side::Within) | None);
        let sign = if within { (Role::Good, "◆") } else { (Role::Bad, "×") };
        let cell =
            grid.get_mut(row_of(value)).and_then(|row| row.get_mut(place(time, from, to, room)));
        if let Some(cell) = cell {
            *cell = sign;
        }
    }
    let mut rows = Vec::new();
    for (n, cells) in grid.into_iter().enumerate() {
        let bound = [&series.limit.at_least, &series.limit.at_most]
            .into_iter()
            .flatten()
            .find(|bound| row_of(&series.figure(bound)) == n);
        let label = bound.map_or_else(String::new, |bound| bound.render(series.unit));
        let mut bits = vec![(Role::Plain, format!("{:>AXIS$} │", cut(&label, AXIS)))];
        bits.extend(cells.into_iter().map(|(role, sign)| (role, sign.to_owned())));
        rows.push(Row::of(bits));
    }
    let edge = format!("{:>AXIS$} └{}", "", "─".repeat(room));
    rows.push(Row::new(Role::Plain, edge));
    let (Some(first), Some(last)) = (series.points.first(), series.points.last()) else {
        return rows;
    };
    let day = |at: crate::ids::Moment| at.time().format("%-d %b %Y").to_string();
    let (left, right) = (day(first.at), day(last.at));
    let fill = room.saturating_sub(left.len() + right.len());
    let text = if first.at.day() == last.at.day() {
        left
    } else {
        format!("{left}{}{right}", " ".repeat(fill))
    };
    rows.push(Row::new(Role::Plain, format!("{:>AXIS$}  {text}", "")));
    rows
}
