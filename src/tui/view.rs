//! Draws what the screen holds. Only reads; says where the real cursor belongs.

mod bar;
mod bench;
mod card;
mod grid;
mod history;
mod lists;
mod over;
mod photo;
mod rail;
mod ring;
mod rows;
mod sheet;
mod signs;
mod stack;

use std::rc::Rc;

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::widgets::Widget as _;

use super::keymap;
use super::model::{Model, Overlay, Screen, Status, Way};
use super::theme::Role;
use crate::photo::Photo;
pub use bench::{bench, height as bench_height, over_rows as bench_over_rows};
use rows::{Row, cut, put, put_right, width};

/// The least columns and rows that are drawn.
pub const LEAST: (u16, u16) = (40, 12);
/// From so many columns on, the rail stands beside the step.
const RAIL_FROM: u16 = 100;
/// The columns of the rail, its border included.
const RAIL_WIDTH: u16 = 36;
/// The widest text; longer lines are hard to read.
const TEXT_WIDTH_MAX: usize = 92;

/// How the rows of the body fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Fit {
    /// All rows.
    pub n_rows: usize,
    /// The rows that are seen.
    pub height: usize,
    /// The first row that is seen.
    pub offset: usize,
}

impl Fit {
    /// True where rows above are not seen.
    pub fn above(self) -> bool {
        self.offset > 0
    }

    /// True where rows below are not seen.
    pub fn below(self) -> bool {
        self.offset.saturating_add(self.height) < self.n_rows
    }
}

/// The parts of the window.
struct Parts {
    head: Rect,
    rail: Option<Rect>,
    body: Rect,
    status: Rect,
    foot: Rect,
}

fn parts(model: &Model, area: Rect) -> Option<Parts> {
    if area.width < LEAST.0 || area.height < LEAST.1 {
        return None;
    }
    let head = Rect { height: 3, ..area };
    let foot = Rect { y: area.bottom() - 1, height: 1, ..area };
    let n_lines = u16::try_from(status_rows(model, area.width).len()).unwrap_or(u16::MAX);
    let status_height = n_lines.clamp(1, (area.height - 6).min(5));
    let status = Rect { y: area.bottom() - 1 - status_height, height: status_height, ..area };
    let middle = Rect { y: area.y + 3, height: area.height - 4 - status_height, ..area };
    let has_rail = area.width >= RAIL_FROM
        && model.overlays.is_empty()
        && matches!(model.screen, Screen::Walk | Screen::SignOff { .. });
    if !has_rail {
        return Some(Parts { head, rail: None, body: middle, status, foot });
    }
    let rail = Rect { width: RAIL_WIDTH, ..middle };
    let body = Rect { x: middle.x + RAIL_WIDTH, width: middle.width - RAIL_WIDTH, ..middle };
    Some(Parts { head, rail: Some(rail), body, status, foot })
}

/// The rows of the body, and the row that must be seen.
#[derive(Default)]
struct Body {
    rows: Vec<Row>,
    focus: Option<usize>,
    /// The row above it that must be seen too, and before it.
    from: Option<usize>,
    /// The first row that is seen, where somebody scrolled.
    scroll: Option<usize>,
    /// True where rows are left out that scrolling brings back.
    left_out: bool,
}

fn body(model: &Model, columns: u16, height: u16) -> Body {
    let columns = usize::from(columns).saturating_sub(2).min(TEXT_WIDTH_MAX);
    let mut body = match model.overlays.last() {
        Some(overlay) => over::body(model, overlay, columns),
        None => match &model.screen {
            Screen::Walk | Screen::Correct(_) => card::body(model, columns, usize::from(height)),
            Screen::Who { cursor } => lists::who(model, *cursor, columns),
            Screen::Outline { cursor } => {
                lists::outline(model, *cursor, columns, usize::from(height))
            }
            Screen::Sheet { sheet, scroll } => {
                sheet::body(model, sheet, (*scroll, usize::from(height)), columns)
            }
            Screen::History { history, cursor } => history::body(model, history, *cursor, columns),
            Screen::SignOff { lines, seen } => lists::sign_off(model, lines, *seen, columns),
            Screen::Done(lines) => lists::done(lines, columns),
        },
    };
    let pages = !model.overlays.is_empty() || matches!(model.screen, Screen::History { .. });
    if model.hand.paged.is_some() && pages {
        body.scroll = model.hand.paged;
    }
    if let Some(why) = &model.hand.unsaved {
        let mut rows = vec![Row::new(Role::Bad, "NOT SAVED")];
        rows.extend(rows::wrapped(Role::Plain, why, columns, 0));
        let kept = "Your answer is kept. Press r to save it again.";
        rows.extend(rows::wrapped(Role::Task, kept, columns, 0));
        rows.push(Row::default());
        body.focus = Some(0);
        body.from = None;
        body.scroll = None;
        rows.append(&mut body.rows);
        body.rows = rows;
    }
    body
}

fn fit_of(body: &Body, height: usize) -> Fit {
    let n_rows = body.rows.len();
    let max = n_rows.saturating_sub(height);
    let offset = match (body.scroll, body.focus) {
        (Some(scroll), _) => scroll.min(max),
        (None, Some(focus)) => {
            let offset = (focus + 2).saturating_sub(height).min(max);
            body.from.map_or(offset, |from| offset.min(from))
        }
        (None, None) => 0,
    };
    Fit { n_rows, height, offset }
}

/// How the body fits into the window as it is.
pub fn fit(model: &Model) -> Fit {
    let (width, height) = model.hand.size;
    let Some(parts) = parts(model, Rect { x: 0, y: 0, width, height }) else {
        // Nothing can be read in a window that is too small, so nothing is read to its end.
        return Fit { n_rows: 1, height: 0, offset: 0 };
    };
    let body = body(model, parts.body.width, parts.body.height);
    fit_of(&body, usize::from(parts.body.height))
}

/// Draws `model` into `area` of `buf`, and returns where the cursor belongs.
pub fn view(model: &Model, area: Rect, buf: &mut Buffer) -> Option<Position> {
    let area = area.intersection(buf.area);
    ratatui::widgets::Clear.render(area, buf);
    let Some(parts) = parts(model, area) else {
        let (columns, rows) = LEAST;
        let text = format!("needs {columns}x{rows}, has {}x{}", area.width, area.height);
        put(buf, Rect { height: area.height.min(1), ..area }, &[(Role::Plain, text)]);
        signs::fit_to(model.hand.look, area, buf);
        return None;
    };
    let body_area = Rect { x: parts.body.x + 1, width: parts.body.width - 1, ..parts.body };
    let body = body(model, parts.body.width, parts.body.height);
    let fit = fit_of(&body, usize::from(body_area.height));
    head(model, fit.offset > 0, parts.head, buf);
    if let Some(rail) = parts.rail {
        rail::draw(model, rail, buf);
    }
    let mut cursor = None;
    if let (Some(Overlay::Note(area)), None) = (model.overlays.last(), &model.hand.unsaved) {
        cursor = over::note(area, body_area, buf);
    } else {
        for (row, y) in body.rows.iter().skip(fit.offset).zip(body_area.top()..body_area.bottom()) {
            let line = Rect { y, height: 1, ..body_area };
            put(buf, line, &row.bits);
            if let Some(column) = row.cursor {
                let x = body_area.x.saturating_add(u16::try_from(column).unwrap_or(u16::MAX));
                cursor = Some(Position { x: x.min(body_area.right() - 1), y });
            }
        }
    }
    if let Some((place, photo)) = picture(model, area) {
        if model.hand.look.graphics.is_none() {
            photo::draw(photo, model.hand.look, place, buf);
        }
    } else if let (Some(Overlay::Photo(shown)), None) = (model.overlays.last(), &model.hand.unsaved)
        && shown.picture.is_ok()
    {
        let last = Rect { y: body_area.bottom() - 1, height: 1, ..body_area };
        photo::too_small(last, buf);
    }
    let said = status_rows(model, area.width);
    status(&said, more(model, fit, body.left_out), parts.status, buf);
    foot(model, parts.foot, buf);
    signs::fit_to(model.hand.look, area, buf);
    cursor
}

/// The photo that is looked at, and the cells that it takes; `None` without one.
pub fn picture(model: &Model, area: Rect) -> Option<(Rect, &Rc<Photo>)> {
    let Some(Overlay::Photo(shown)) = model.overlays.last() else { return None };
    let photo = shown.picture.as_ref().ok().filter(|_| model.hand.unsaved.is_none())?;
    let body = parts(model, area)?.body;
    let body = Rect { x: body.x + 1, width: body.width - 1, ..body };
    let n_head = photo::head(shown, usize::from(body.width).min(TEXT_WIDTH_MAX)).len();
    Some((photo::place(photo, body, n_head)?, photo))
}

/// Head line, place and rule. Where the top of the body is `out_of_sight`, what stands there and must
/// be seen at any moment is said here.
fn head(model: &Model, out_of_sight: bool, area: Rect, buf: &mut Buffer) {
    let shown = &model.shown;
    let first = Rect { height: 1, ..area };
    let who = format!(" {} ", shown.name_or_nobody(shown.who.as_ref()));
    let demo = if shown.is_demo() { " DEMO " } else { "" };
    let text = format!(" {}  {}  {}", shown.job, shown.machine, shown.title);
    let room = usize::from(area.width).saturating_sub(width(&who) + width(demo) + 1);
    let line = format!("{:<room$}", cut(&text, room));
    put(buf, first, &[(Role::Demo, demo.to_owned()), (Role::Head, format!("{line} "))]);
    put_right(buf, first, (Role::Head, &who));
    let second = Rect { y: area.y + 1, height: 1, ..area };
    let (place, progress) = place(model, out_of_sight);
    let room = usize::from(area.width).saturating_sub(width(&progress) + 3);
    put(buf, second, &[(Role::Plain, format!(" {}", cut(&place, room)))]);
    put_right(buf, second, (Role::Plain, &format!("{progress} ")));
    let rule = Rect { y: area.y + 2, height: 1, ..area };
    put(buf, rule, &[(Role::Quiet, "─".repeat(usize::from(area.width)))]);
    if let Some(standing) = standing(model, out_of_sight) {
        let room = usize::from(area.width).saturating_sub(2);
        let rule = Rect { x: rule.x + 1, width: rule.width - 1, ..rule };
        put(buf, rule, &[(Role::Look, cut(&format!(" ANY TIME: {standing} "), room))]);
    }
}

/// What may happen at any moment here, where the card that says so is not the one that is seen.
fn standing(model: &Model, out_of_sight: bool) -> Option<String> {
    let on_card = matches!(model.screen, Screen::Walk)
        && model.overlays.is_empty()
        && !out_of_sight
        && model.draft.scroll.is_none()
        && model.way() != Some(Way::Safety);
    let question = model.shown.question().filter(|_| !on_card)?;
    let all = question.standing.iter().map(|note| note.see.trim_end_matches('.'));
    let all: Vec<&str> = all.collect();
    (!all.is_empty() && model.shown.who.is_some()).then(|| all.join("; "))
}

/// The name of the screen, and how far the job is.
fn place(model: &Model, out_of_sight: bool) -> (String, String) {
    let progress = model.shown.progress_text();
    let place = match (&model.screen, model.overlays.last()) {
        (_, Some(Overlay::Help { .. })) => "Keys".to_owned(),
        (_, Some(Overlay::TakeUp { .. })) => "Before you go on".to_owned(),
        (_, Some(Overlay::Passphrase { .. })) => "Signature".to_owned(),
        (_, Some(Overlay::Note(_))) => "Note".to_owned(),
        (_, Some(Overlay::Photo(_))) => "Photo".to_owned(),
        (Screen::Who { .. }, _) => "Who is at work?".to_owned(),
        (Screen::Walk, _) => {
            let question = model.shown.question();
            // What to do stays at the top of the eye.
            let is_read = !matches!(model.way(), Some(Way::Safety | Way::Halted));
            if let Some(question) = question.filter(|_| out_of_sight && is_read) {
                let at = question.stands_at().map_or_else(String::new, |at| format!("{at}: "));
                return (format!("{}  {at}{}", question.task(), question.ask.text()), progress);
            }
            let place = question.map(crate::shown::Question::breadcrumb).unwrap_or_default();
            if place.is_empty() { model.shown.title.clone() } else { place }
        }
        (Screen::Outline { .. }, _) => "Outline: every step".to_owned(),
        (Screen::Sheet { .. }, _) => "Job sheet".to_owned(),
        (Screen::History { .. }, _) => format!("History of {}", model.shown.machine),
        (Screen::Correct(correcting), _) => {
            format!("Correction > {}", correcting.question.breadcrumb())
        }
        (Screen::SignOff { .. }, _) => "Sign-off".to_owned(),
        (Screen::Done(_), _) => "Released".to_owned(),
    };
    (place, progress)
}

/// What says on the status line that there is more than is seen, and the keys that lead to it.
fn more(model: &Model, fit: Fit, left_out: bool) -> Option<&'static str> {
    if !model.pages() {
        return (fit.above() || fit.below()).then_some(" more ");
    }
    match (fit.above(), fit.below()) {
        (true, true) => Some(" more: page up, page down "),
        (true, false) => Some(" more above: page up "),
        (false, true) => Some(" more below: page down "),
        (false, false) if left_out => Some(" more: page down "),
        (false, false) => None,
    }
}

/// What is said about the last move, whole, in as many rows as it takes.
fn status_rows(model: &Model, columns: u16) -> Vec<Row> {
    let columns = usize::from(columns).saturating_sub(1);
    match &model.status {
        None => Vec::new(),
        Some(Status::Good(said)) => rows::wrapped(Role::Good, &one_stop(said), columns, 1),
        Some(Status::Refused(why)) => {
            rows::wrapped(Role::Bad, &one_stop(&format!("NOT ACCEPTED: {why}")), columns, 1)
        }
    }
}

/// `text` without the second stop where a sentence that has one was put into another.
fn one_stop(text: &str) -> String {
    let doubled = text.contains("..") && !text.contains("...");
    if doubled { text.replace("..", ".") } else { text.to_owned() }
}

/// Puts `said` on its rows, and `more` behind its end where both have room: no word lies on another.
fn status(said: &[Row], more: Option<&str>, area: Rect, buf: &mut Buffer) {
    let rule = "─".repeat(usize::from(area.width));
    put(buf, area, &[(Role::Quiet, rule)]);
    let mut used = 0;
    for (row, y) in said.iter().zip(area.top()..area.bottom()) {
        let line = Rect { y, height: 1, ..area };
        if said.len() > 1 {
            put(buf, line, &[(Role::Plain, " ".repeat(usize::from(area.width)))]);
        }
        put(buf, line, &row.bits);
        used = row.bits.iter().map(|(_, text)| width(text)).sum();
        let gap = line.x.saturating_add(u16::try_from(used).unwrap_or(u16::MAX));
        put(buf, Rect { x: gap, width: 1, ..line }, &[(Role::Plain, " ".to_owned())]);
    }
    let last = Rect { y: area.bottom().saturating_sub(1), height: 1, ..area };
    let room = usize::from(area.width).saturating_sub(used + 1);
    if let Some(text) = more.filter(|text| width(text) <= room) {
        put_right(buf, last, (Role::Look, text));
    } else if more.is_some() && room > 7 {
        put_right(buf, last, (Role::Look, " more "));
    }
}

/// As many keys as there is room for.
fn foot(model: &Model, area: Rect, buf: &mut Buffer) {
    keys_line(&keymap::table(model), area, buf);
}

/// As many of `keys` as there is room for, the most needed first. Where those that answer, the way to
/// safety and the way to all keys have no room otherwise, they stand closer and `^x` is the control
/// key with x.
fn keys_line(keys: &[keymap::Binding], area: Rect, buf: &mut Buffer) {
    let keys: Vec<&keymap::Binding> = keys.iter().filter(|key| key.in_foot).collect();
    let room = usize::from(area.width);
    let (needed, wide) = foot_of(&keys, room, false);
    let (mut shown, mut is_tight) = (wide, false);
    if !needed {
        (_, shown) = foot_of(&keys, room, true);
        is_tight = true;
    }
    let mut bits = Vec::new();
    if !is_tight {
        bits.push((Role::Plain, " ".to_owned()));
    }
    for (key, says) in keys.iter().zip(shown).filter_map(|(key, says)| Some((key, says?))) {
        if is_tight {
            bits.push((Role::Key, tight(&key.label)));
            bits.push((Role::Plain, format!(" {says}  ")));
        } else {
            bits.push((Role::Key, format!(" {} ", key.label)));
            bits.push((Role::Plain, format!(" {says}  ")));
        }
    }
    put(buf, area, &bits);
}

fn tight(label: &str) -> String {
    label.replace("ctrl-", "^")
}

/// What is said of each key that has room, and whether all have that are needed most.
fn foot_of(
    keys: &[&keymap::Binding],
    columns: usize,
    is_tight: bool,
) -> (bool, Vec<Option<&'static str>>) {
    let wide = |key: &keymap::Binding, says: &str| {
        let label = if is_tight { width(&tight(&key.label)) } else { width(&key.label) + 2 };
        label + width(says) + 3
    };
    let mut by_need: Vec<usize> = (0..keys.len()).collect();
    by_need.sort_by_key(|at| keys.get(*at).map_or(u8::MAX, |key| key.need()));
    // The spaces behind the last one may be cut off.
    let mut room = if is_tight { columns + 2 } else { columns + 1 };
    let mut shown = vec![None; keys.len()];
    let mut all = true;
    for at in by_need {
        let (Some(key), Some(says)) = (keys.get(at), shown.get_mut(at)) else { continue };
        let short = if is_tight { key.in_brief() } else { key.in_short() };
        if wide(key, short) <= room {
            room -= wide(key, short);
            *says = Some(short);
        } else if key.need() <= 3 {
            all = false;
        }
    }
    (all, shown)
}
