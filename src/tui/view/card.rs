//! The step: safety text first, the one thing to do, what good looks like, the answer.

use super::rows::{Row, hanging, width, wrapped};
use super::{Body, bar};
use crate::procedure::model::{SignalWord, Verdict};
use crate::shown::question::Typed;
use crate::shown::{Question, spoken_at};
use crate::tui::field::Field;
use crate::tui::model::{Draft, Model, Way, options};
use crate::tui::theme::Role;
use crate::units::Decision;
use crate::units::duration::spoken_duration;
use crate::walk::Answer;
use crate::walk::flow::Ask;
use crate::walk::safety::Message;

/// The step in `columns`. Where it is longer than `height` and nobody has scrolled, what can be left
/// out is left out: reasons, tools, empty rows.
pub(super) fn body(model: &Model, columns: usize, height: usize) -> Body {
    let whole = built(model, columns, Detail::All);
    if whole.rows.len() <= height || whole.scroll.is_some() {
        return whole;
    }
    let all = if height < SMALL_BELOW {
        [Detail::Small, Detail::Bare].as_slice()
    } else {
        [Detail::Least].as_slice()
    };
    // The first that shows the whole of what it is answered by.
    let fits = |body: &Body| body.focus.is_none_or(|focus| focus + 2 <= height);
    let mut bodies = all.iter().map(|detail| built(model, columns, *detail));
    let first = bodies.next().unwrap_or_default();
    let body = if fits(&first) { first } else { bodies.next_back().unwrap_or(first) };
    Body { left_out: true, ..body }
}

/// In so few rows a step shows what it is answered by and nothing drawn.
const SMALL_BELOW: usize = 10;

/// How much of a step is shown.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Detail {
    /// Everything.
    All,
    /// Without reasons, tools and empty rows.
    Least,
    /// Without what is drawn as well.
    Small,
    /// Without what good looks like as well: the task, the answer and what it is held against.
    Bare,
}

fn built(model: &Model, columns: usize, detail: Detail) -> Body {
    let Some((question, draft, correction)) = model.answering() else {
        return Body::default();
    };
    let way = model.way().unwrap_or_else(|| Way::of(question, correction));
    if way == Way::Safety {
        return Body {
            rows: safety(model, question, columns),
            scroll: Some(draft.scroll.unwrap_or(0)),
            ..Body::default()
        };
    }
    let mut rows = Vec::new();
    for text in &question.safety {
        rows.extend(reminder(text, columns));
    }
    let all = detail == Detail::All;
    if all {
        rows.push(Row::default());
    }
    let task = format!("{:<7}  ", question.task());
    let label = |word: &str| format!("{word:<columns$}", columns = width(&task));
    let whom = for_whom(model, question, &label("FOR"), columns).filter(|_| !correction);
    let (whom_first, whom_last) = if detail >= Detail::Small { (None, whom) } else { (whom, None) };
    rows.extend(whom_first.into_iter().flatten());
    if let Some(again) = question.again.as_ref().filter(|_| !correction && detail != Detail::Bare) {
        rows.extend(hanging((Role::Look, &label("AGAIN")), (Role::Plain, again), columns));
    }
    // Mixing up positions is the classic slip, so where to stand comes before what to do.
    if let Some(at) = question.stands_at() {
        rows.extend(hanging((Role::Look, &label("AT")), (Role::Task, &at), columns));
    }
    if all && !correction {
        rows.extend(positions(model, question, &label("ALL"), columns));
    }
    rows.extend(hanging((Role::Look, &task), (Role::Task, question.ask.text()), columns));
    if !model.shown.open_too.is_empty() && !correction && all {
        let n = model.shown.open_too.len();
        let text = format!("{n} more may be done first, in any order: press o and pick one");
        rows.extend(hanging((Role::Quiet, &label("FREE")), (Role::Quiet, &text), columns));
    }
    if let Some(first) = question.done_first() {
        rows.extend(hanging((Role::Look, &label("FIRST")), (Role::Plain, first), columns));
    }
    for note in question.standing.iter().filter(|_| !correction) {
        let text = format!("{}. Then: {}", note.see.trim_end_matches('.'), note.then);
        rows.extend(hanging((Role::Look, &label("ANY TIME")), (Role::Plain, &text), columns));
    }
    if let Some(late) = &question.late {
        rows.extend(hanging((Role::Look, &label("LATE:")), (Role::Plain, late), columns));
    }
    if let Some(expect) = question.expect.as_ref().filter(|_| detail != Detail::Bare) {
        rows.extend(hanging((Role::Good, &label("GOOD:")), (Role::Plain, expect), columns));
    }
    if all && !question.uses.is_empty() {
        let uses = question.uses.join(", ");
        rows.extend(hanging((Role::Quiet, &label("with")), (Role::Quiet, &uses), columns));
    }
    if all {
        rows.push(Row::default());
    }
    let for_other = whom_last.is_some().then_some(rows.len());
    rows.extend(whom_last.into_iter().flatten());
    let put = Put { question, draft, way, detail };
    let Answering { mut rows, from, focus } = answer(model, put, rows, columns);
    let from = for_other.or(from);
    if let Some(why) = question.why.as_ref().filter(|_| all) {
        rows.push(Row::default());
        rows.extend(hanging((Role::Quiet, "Why: "), (Role::Quiet, why), columns));
    }
    Body { rows, focus: Some(focus), from, scroll: draft.scroll, left_out: false }
}

/// For whom the step is and which key lets them go on, where it is not for whoever is at work.
fn for_whom(model: &Model, question: &Question, label: &str, columns: usize) -> Option<Vec<Row>> {
    let whom = question.for_whom.as_ref()?;
    let who = if model.is_typing() { "ctrl-w" } else { "w" };
    let pick = match question.ask {
        Ask::Decide { .. } => "pick a line, then enter",
        _ => "enter, and pick who signs",
    };
    let text = whom.words(&format!("{who} changes who is at work"), pick);
    Some(hanging((Role::Look, label), (Role::Task, &text), columns))
}

/// The positions at which this step stands, a letter and a word each.
fn positions(model: &Model, question: &Question, label: &str, columns: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut used = columns;
    for (name, state) in crate::shown::positions(&model.shown.outline, &question.address) {
        let text = format!(" {name} {}   ", state.word());
        if used + width(&text) > columns {
            let label = if rows.is_empty() { label.to_owned() } else { " ".repeat(width(label)) };
            used = width(&label);
            rows.push(Row::new(Role::Quiet, label));
        }
        used += width(&text) + 1;
        if let Some(row) = rows.last_mut() {
            row.bits.push((super::rail::role(state), state.letter().to_string()));
            row.bits.push((Role::Plain, text));
        }
    }
    rows
}

fn signal(text: &Message) -> (Role, String) {
    let called = &text.called;
    match text.word {
        SignalWord::Danger => (Role::Danger, format!(" /!\\ {called} ")),
        SignalWord::Warning => (Role::Warning, format!(" /!\\ {called} ")),
        SignalWord::Caution => (Role::Caution, format!(" /!\\ {called} ")),
        SignalWord::Notice => (Role::Notice, format!(" (i) {called}  ")),
    }
}

/// The safety text whole.
fn safety(model: &Model, question: &Question, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    if let Some(whom) = for_whom(model, question, "FOR  ", columns) {
        rows.extend(whom);
        rows.push(Row::default());
    }
    for text in &question.safety {
        let (role, word) = signal(text);
        rows.push(Row::new(role, word));
        rows.extend(wrapped(Role::Task, &text.hazard, columns, 2));
        rows.extend(wrapped(Role::Plain, &text.consequence, columns, 2));
        rows.extend(wrapped(Role::Task, &text.avoid, columns, 2));
        for sign in &text.signs {
            rows.extend(wrapped(Role::Look, &sign.to_string(), columns, 2));
        }
        rows.push(Row::default());
    }
    match &question.safety_unread {
        None => {
            let text = "Read to its end? Press r. The step comes after that.";
            rows.extend(wrapped(Role::Plain, text, columns, 0));
        }
        Some(why) => {
            rows.extend(wrapped(Role::Bad, &format!("You cannot go on: {why}."), columns, 0));
        }
    }
    rows
}

/// The safety text once it was read: its word, and how the harm is avoided.
fn reminder(text: &Message, columns: usize) -> Vec<Row> {
    let (role, word) = signal(text);
    let mut rows = hanging((role, &format!("{word} ")), (Role::Plain, &text.avoid), columns);
    if let Some(row) = rows.first_mut() {
        // The colour ends with the word.
        row.bits.splice(0..1, [(role, word), (Role::Plain, " ".to_owned())]);
    }
    rows
}

/// The step that is answered, and how much of it is shown.
#[derive(Clone, Copy)]
pub(super) struct Put<'a> {
    pub(super) question: &'a Question,
    pub(super) draft: &'a Draft,
    pub(super) way: Way,
    pub(super) detail: Detail,
}

/// The rows so far with those of the answer, the first that must be seen where there is room, and the
/// last that must be.
pub(super) struct Answering {
    pub(super) rows: Vec<Row>,
    pub(super) from: Option<usize>,
    pub(super) focus: usize,
}

impl From<(Vec<Row>, usize)> for Answering {
    fn from((rows, focus): (Vec<Row>, usize)) -> Self {
        Self { rows, from: None, focus }
    }
}

/// The rows of the answer, behind those of the step.
fn answer(model: &Model, put: Put<'_>, mut rows: Vec<Row>, columns: usize) -> Answering {
    let Put { question, draft, way, .. } = put;
    if let (Some(before), true) = (&question.answered, way != Way::Confirm)
        && question.parked.is_none()
        && matches!(model.screen, crate::tui::model::Screen::Correct(_))
    {
        rows.extend(hanging((Role::Quiet, "so far: "), (Role::Plain, before), columns));
    }
    match way {
        Way::Safety => {}
        Way::Confirm => rows.extend(parked(model, question, columns)),
        Way::Items => return items(question, draft, rows, columns),
        Way::Layers => return super::stack::rows(model, (question, draft), rows, columns).into(),
        Way::Wrench | Way::Fastener | Way::Tightened => {
            return super::ring::rows(model, put, rows, columns).into();
        }
        Way::Done if question.worked.is_some() => {
            rows.extend(working(question, columns));
            // Last, so that it is seen first: a working is longer than most windows.
            if let Some(grid) = &question.grid {
                rows.push(Row::default());
                rows.extend(super::grid::map(grid, columns));
            }
            rows.extend(wrapped(
                Role::Plain,
                "Read the working. Press enter to go on.",
                columns,
                0,
            ));
        }
        Way::Done => rows.push(Row::new(Role::Plain, "Done? Press enter.")),
        Way::One | Way::Several => return list(put, rows, columns),
        Way::Figure => return figure(model, put, rows, columns),
        Way::Text => {
            rows.push(typed(&draft.field, "", columns));
            let focus = rows.len();
            return (rows, focus).into();
        }
        Way::File => {
            rows.push(Row::new(Role::Plain, "The path of the photo or file:"));
            rows.push(typed(&draft.field, "", columns));
            let focus = rows.len();
            for file in model.shown.files_of(&question.address) {
                rows.extend(super::over::attached(model, &file, columns));
            }
            return (rows, focus).into();
        }
        Way::Halted => rows.extend(halted(model, columns)),
        Way::Witness => {
            let role = question.witness.map_or("mechanic", crate::ids::Role::word);
            let text = format!("Tell a {role} first. They may come and watch.");
            rows.extend(hanging((Role::Look, "WITNESS POINT  "), (Role::Task, &text), columns));
            rows.extend(wrapped(Role::Plain, "Press enter once somebody is told.", columns, 0));
        }
        Way::Hold => {
            // What was found is as long as it is; what is to do about it is seen first.
            let focus = rows.len();
            rows.extend(hold(model, question, columns));
            return (rows, focus).into();
        }
        Way::Wait => rows.extend(wait(question, columns)),
        Way::Stop => rows.extend(stop(question, columns)),
    }
    let focus = rows.len().saturating_sub(1);
    (rows, focus).into()
}

/// Why the work is stopped, and how the machine is left.
fn halted(model: &Model, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    if let Some((reason, safe_state)) = &model.shown.halted {
        rows.extend(hanging((Role::Bad, "STOPPED      "), (Role::Task, reason), columns));
        rows.extend(hanging((Role::Bad, "LEAVE IT SO  "), (Role::Task, safe_state), columns));
    }
    rows.extend(wrapped(Role::Plain, "A mechanic lets it go on. Press enter.", columns, 0));
    rows
}

/// The working of a calculation as on paper; each heading stands out.
fn working(question: &Question, columns: usize) -> Vec<Row> {
    let lines = question.worked.iter().flat_map(|(_, lines)| lines);
    lines
        .flat_map(|line| {
            let text = line.trim_start();
            let indent = line.len().saturating_sub(text.len());
            let role = if indent == 0 { Role::Task } else { Role::Plain };
            if text.is_empty() {
                vec![Row::default()]
            } else {
                wrapped(role, text, columns, indent)
            }
        })
        .collect()
}

fn parked(model: &Model, question: &Question, columns: usize) -> Vec<Row> {
    let Some(parked) = &question.parked else { return Vec::new() };
    let by = model.shown.name_or_nobody(parked.by.as_ref());
    let at = spoken_at(parked.at, model.shown.now);
    let mut rows = wrapped(Role::Plain, &format!("Answered before, by {by}, {at}:"), columns, 0);
    rows.extend(wrapped(Role::Task, &parked.text, columns, 2));
    rows.extend(wrapped(Role::Plain, "Look again. Does it still stand?", columns, 0));
    rows
}

/// Puts the real cursor on the first of `rows`.
pub(super) fn point_at(rows: &mut [Row], column: usize) {
    if let Some(row) = rows.first_mut() {
        row.cursor = Some(column);
    }
}

fn items(question: &Question, draft: &Draft, mut rows: Vec<Row>, columns: usize) -> Answering {
    let given = if draft.items.is_empty() { &question.items_done } else { &draft.items };
    let correcting = question.items_done.len() == question.ask.items().map_or(0, <[String]>::len);
    let given = if correcting { &draft.items } else { given };
    let (mut from, mut focus) = (None, rows.len());
    for (n, item) in question.ask.items().unwrap_or_default().iter().enumerate() {
        let (mark, role) = match given.get(n) {
            Some(true) => ("[y] so      ", Role::Good),
            Some(false) => ("[n] NOT SO  ", Role::Bad),
            None if n == given.len() => (" >  so?     ", Role::Picked),
            None => ("[ ]         ", Role::Quiet),
        };
        let text = if n == given.len() { Role::Task } else { Role::Plain };
        let mut item = hanging((role, mark), (text, item), columns);
        if n == given.len() {
            point_at(&mut item, 1);
            from = Some(rows.len());
        }
        rows.extend(item);
        if n <= given.len() {
            focus = rows.len();
        }
    }
    Answering { rows, from, focus }
}

fn list(put: Put<'_>, mut rows: Vec<Row>, columns: usize) -> Answering {
    let Put { question, draft, way, detail } = put;
    if let Some(about) = &question.about {
        rows.extend(hanging((Role::Quiet, "about: "), (Role::Plain, about), columns));
    }
    let (mut from, mut focus) = (None, rows.len());
    // Where not all is seen at once, what it comes to stands with what is picked.
    let close = detail >= Detail::Small;
    for (n, text) in options(question).iter().enumerate() {
        let picked = draft.picked.contains(&n);
        let mark = match (picked, way) {
            (true, Way::Several) => format!("{} [x] ", n + 1),
            (false, Way::Several) => format!("{} [ ] ", n + 1),
            (true, _) => format!("{} (*) ", n + 1),
            (false, _) => format!("{} ( ) ", n + 1),
        };
        let role = if picked { Role::Picked } else { Role::Plain };
        let mut option = hanging((Role::Task, &mark), (role, text), columns);
        let is_last = draft.picked.last() == Some(&n);
        if is_last {
            point_at(&mut option, 3);
            from = Some(rows.len());
        }
        rows.extend(option);
        if is_last && close {
            rows.extend(picked_so(question, draft, columns));
        }
        if picked || draft.picked.is_empty() && n == 0 {
            focus = rows.len();
        }
    }
    let Ask::Look { findings, .. } = &question.ask else { return Answering { rows, from, focus } };
    rows.extend(super::grid::scale(&question.seen_before, findings, columns));
    if !draft.picked.is_empty() && !close {
        rows.extend(picked_so(question, draft, columns));
        focus = rows.len().saturating_sub(1);
    }
    Answering { rows, from, focus }
}

/// The likely cause of what is picked, and what it comes to.
fn picked_so(question: &Question, draft: &Draft, columns: usize) -> Vec<Row> {
    let Ask::Look { findings, .. } = &question.ask else { return Vec::new() };
    let found: Vec<_> = draft.picked.iter().filter_map(|i| findings.get(*i)).collect();
    let mut rows = Vec::new();
    for cause in found.iter().filter_map(|f| f.likely_cause.as_ref()) {
        rows.extend(hanging((Role::Quiet, "  likely cause: "), (Role::Quiet, cause), columns));
    }
    let answer = Answer::Found(found.iter().map(|f| f.id.clone()).collect());
    rows.extend(comes_to(question, &answer, columns));
    rows
}

/// What an answer comes to, in words before colour.
fn comes_to(question: &Question, answer: &Answer, columns: usize) -> Vec<Row> {
    let Some(consequence) = question.consequence(answer) else { return Vec::new() };
    let role = match consequence.verdict {
        Verdict::Accept => Role::Good,
        Verdict::Rework | Verdict::Replace | Verdict::Refer => Role::Look,
        Verdict::Stop => Role::Bad,
    };
    hanging((Role::Plain, "  -> "), (role, &consequence.words), columns)
}

/// A field with what is typed and its unit. The end of a long text is what is seen.
pub(super) fn typed(field: &Field, unit: &str, columns: usize) -> Row {
    let room = columns.saturating_sub(5 + width(unit)).max(4);
    let before = crate::visible::visible(&field.before());
    let shown = crate::visible::visible(&field.text());
    let skip = width(&before).saturating_sub(room.saturating_sub(1));
    let text: String = shown.chars().skip(skip).take(room).collect();
    let fill = " ".repeat(14_usize.saturating_sub(width(&text)).min(room - width(&text).min(room)));
    Row {
        bits: vec![
            (Role::Plain, " > ".to_owned()),
            (Role::Typed, format!("{text}{fill}")),
            (Role::Plain, format!(" {unit}")),
        ],
        cursor: Some(3 + width(&before).saturating_sub(skip)),
    }
}

fn figure(model: &Model, put: Put<'_>, mut rows: Vec<Row>, columns: usize) -> Answering {
    let Put { question, draft, detail, .. } = put;
    let Some(unit) = question.field() else { return (rows, 0).into() };
    let instrument_in_hand = model.instrument(question);
    let in_hand = instrument_in_hand.as_deref();
    let known = question.typed(&draft.field.text(), in_hand);
    if question.instrument_kind().is_some() {
        rows.extend(instrument(model, question, detail, columns));
    }
    let mut field = typed(&draft.field, unit.symbol(), columns);
    let reading = match &known {
        Typed::Figure { reading, .. } => Some(reading),
        Typed::Nothing | Typed::Fault(_) => None,
    };
    // On the other scale too: an instrument that is marked otherwise shows at once.
    if let Some(beside) = reading.and_then(|reading| reading.beside(unit)) {
        let used: usize = field.bits.iter().map(|(_, text)| width(text)).sum();
        if used + width(&beside) + 3 <= columns {
            field.bits.push((Role::Quiet, format!("   {beside}")));
        }
    }
    let from = Some(rows.len());
    rows.push(field);
    if let Some((criterion, uncertainty)) = question.criterion(in_hand)
        && detail < Detail::Small
    {
        let room = columns.saturating_sub(6);
        rows.extend(bar::rows(criterion, uncertainty.as_ref(), reading, room));
    }
    let mut focus = None;
    match &known {
        Typed::Nothing => {
            let limit = question.limit_words().map(|limit| format!("limit: {limit}"));
            let mut notes = question.limit_notes();
            notes.splice(0..0, question.rule_words(in_hand).map(|rule| format!("rule: {rule}")));
            if detail >= Detail::Small {
                // The limit itself is seen before anything else about it.
                rows.extend(limit.iter().flat_map(|text| wrapped(Role::Plain, text, columns, 3)));
                focus = Some(rows.len().saturating_sub(2));
            } else {
                notes.splice(0..0, limit);
            }
            rows.extend(wrapped(Role::Plain, &notes.join("; "), columns, 3));
        }
        Typed::Fault(fault) => {
            rows.extend(hanging((Role::Bad, "   NO FIGURE YET: "), (Role::Plain, fault), columns));
        }
        Typed::Figure { reading, several, words, said } => {
            let role = match said {
                Some(Decision::Within) | None => Role::Good,
                Some(Decision::NotProven) => Role::Look,
                Some(Decision::Below | Decision::Above) => Role::Bad,
            };
            rows.extend(wrapped(role, words, columns, 3));
            let answer = question.figure_answer(reading.clone(), several.clone(), in_hand);
            if let (Some(answer), Some(_)) = (answer, said) {
                rows.extend(comes_to(question, &answer, columns));
            }
            if draft.warned {
                let word = match said {
                    Some(Decision::NotProven) => "NEITHER IS PROVEN",
                    _ => "OUT OF ITS LIMIT",
                };
                let figure = reading.echo();
                let text = format!("{word}: {figure}. Is the figure right? Enter records it.");
                rows.extend(wrapped(Role::Bad, &text, columns, 3));
            }
        }
    }
    let focus = focus.unwrap_or(rows.len());
    Answering { rows, from, focus }
}

pub(super) fn instrument(
    model: &Model,
    question: &Question,
    detail: Detail,
    columns: usize,
) -> Vec<Row> {
    let in_hand = model.instrument(question);
    let line = question.instrument(in_hand.as_deref());
    let (role, text) = match line {
        Some(line) if line.due_in_days.is_some() => (Role::Look, line.short()),
        Some(line) if detail >= Detail::Small => (Role::Plain, line.id().to_owned()),
        Some(line) => (Role::Plain, line.short()),
        None if question.usable_instruments().is_empty() => {
            (Role::Bad, "none that may be used today".to_owned())
        }
        None => (Role::Look, "press tab and pick the one in your hand".to_owned()),
    };
    hanging((Role::Quiet, "   instrument: "), (role, &text), columns)
}

fn hold(model: &Model, question: &Question, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    for open in &model.shown.unsigned {
        let name = model.shown.name(&open.person);
        let text = format!("{name} signs for their own work, {}", open.range_text());
        rows.extend(hanging((Role::Look, "1 to do   "), (Role::Plain, &text), columns));
    }
    if model.shown.unsigned.is_empty() {
        let text = "The work so far is signed for";
        rows.extend(hanging((Role::Good, "1 done    "), (Role::Plain, text), columns));
    }
    let text = format!("A {} looks, and lifts the hold", question.by.word());
    rows.extend(hanging((Role::Look, "2 to do   "), (Role::Plain, &text), columns));
    rows.extend(wrapped(
        Role::Plain,
        "Nobody goes on before both have signed. Press enter.",
        columns,
        0,
    ));
    let found = model.shown.found_so_far();
    let n = found.len();
    let mark = format!("{:<10}", format!("{n} found"));
    if n == 0 {
        let text = "nothing that is to be looked at";
        rows.extend(hanging((Role::Quiet, &mark), (Role::Plain, text), columns));
    }
    for (n, text) in found.iter().enumerate() {
        let mark = if n == 0 { mark.as_str() } else { "          " };
        rows.extend(hanging((Role::Look, mark), (Role::Plain, text), columns));
    }
    rows
}

fn wait(question: &Question, columns: usize) -> Vec<Row> {
    let Ask::Wait { length_s, .. } = &question.ask else { return Vec::new() };
    let whole = spoken_duration(*length_s);
    let (role, left, next) = match question.left_s {
        None => (Role::Look, whole, "Press enter, and the time runs."),
        Some(0) => (Role::Good, "nothing: it is over".to_owned(), "Press enter."),
        Some(left) => {
            let left = format!("{} of {whole}", spoken_duration(left));
            (Role::Look, left, "You may go away: the time runs on.")
        }
    };
    let mut rows = hanging((Role::Quiet, "TIME LEFT  "), (role, &left), columns);
    rows.extend(wrapped(Role::Plain, next, columns, 0));
    rows
}

fn stop(question: &Question, columns: usize) -> Vec<Row> {
    let Ask::Stop(stop) = &question.ask else { return Vec::new() };
    let mut rows = hanging((Role::Bad, "LEAVE IT SO  "), (Role::Task, &stop.safe_state), columns);
    if !stop.tell.is_empty() {
        let tell = stop.tell.join(", ");
        rows.extend(hanging((Role::Bad, "TELL         "), (Role::Task, &tell), columns));
    }
    rows.push(Row::new(Role::Plain, "Press enter once both are done."));
    rows
}
