//! Moves on the screens themselves: answering the step, outline, sign-off, who.

use super::{Effect, at_end, build, page, refuse, scroll, tighten};
use crate::procedure::model::Verdict;
use crate::shown::question::Typed;
use crate::tui::field::Field;
use crate::tui::keymap::Move;
use crate::tui::model::{
    Choosing, LineFor, Model, Overlay, PhotoOf, Screen, Signing, Status, Way, options,
};
use crate::units::Decision;
use crate::walk::disposition::Disposition;
use crate::walk::flow::Ask;
use crate::walk::{Answer, Command};

pub(super) fn on_screen(model: &mut Model, what: Move) -> Vec<Effect> {
    // Whatever comes next is seen from where it begins.
    if !matches!(what, Move::PageDown | Move::PageUp) {
        model.hand.paged = None;
    }
    match what {
        Move::Outline => {
            let here = model
                .shown
                .outline
                .iter()
                .position(|r| r.address.is_some() && r.state == crate::shown::State::Here);
            model.screen = Screen::Outline { cursor: here.unwrap_or(0) };
            return Vec::new();
        }
        Move::Sheet => return vec![Effect::Sheet],
        Move::History => return vec![Effect::History],
        Move::Note => {
            model.ask_note();
            return Vec::new();
        }
        Move::Evidence => {
            model.ask_line(LineFor::Evidence);
            return Vec::new();
        }
        Move::Deviate => return deviate(model),
        Move::Halt => return halt(model),
        Move::Pause => {
            model.ask_line(LineFor::Pause);
            return Vec::new();
        }
        Move::Late => {
            model.ask_line(LineFor::Late);
            return Vec::new();
        }
        Move::Who => {
            model.screen = Screen::Who { cursor: 0 };
            return Vec::new();
        }
        Move::Sign => return sign_own_work(model),
        Move::Back => return back(model),
        Move::PageDown | Move::PageUp => {
            let by = page(model);
            let by = if what == Move::PageDown { by } else { -by };
            if let Screen::Outline { .. } = model.screen {
                return list(model, by);
            }
            scroll(model, by);
            return Vec::new();
        }
        _ => {}
    }
    match &model.screen {
        Screen::Who { .. } => who(model, what),
        Screen::Walk | Screen::Correct(_) => answer(model, what),
        Screen::Outline { .. } => outline(model, what),
        Screen::SignOff { .. } => sign_off(model, what),
        Screen::History { .. } => match what {
            Move::Up => list(model, -1),
            Move::Down => list(model, 1),
            _ => Vec::new(),
        },
        Screen::Sheet { .. } | Screen::Done(_) => {
            match what {
                Move::Up => scroll(model, -1),
                Move::Down => scroll(model, 1),
                _ => {}
            }
            Vec::new()
        }
    }
}

fn back(model: &mut Model) -> Vec<Effect> {
    match &model.screen {
        Screen::Walk | Screen::SignOff { .. } | Screen::Done(_) => {
            if model.answering().is_some_and(|(_, draft, _)| !draft.field.is_empty()) {
                let said = "What you typed is kept. ctrl-u empties the field.".to_owned();
                model.status = Some(Status::Good(said));
            }
        }
        Screen::Who { .. } if model.shown.who.is_none() => {}
        Screen::Who { .. }
        | Screen::Outline { .. }
        | Screen::Sheet { .. }
        | Screen::History { .. }
        | Screen::Correct(_) => {
            if model.shown.who.is_none() {
                model.screen = Screen::Who { cursor: 0 };
                return Vec::new();
            }
            model.settle_screen();
            // What is due before anything else lies over it again.
            model.take_up();
        }
    }
    Vec::new()
}

/// Moves the cursor of a list by `by` rows.
fn list(model: &mut Model, by: isize) -> Vec<Effect> {
    let n_rows = match &model.screen {
        Screen::Who { .. } => model.shown.workers().len(),
        Screen::History { history, .. } => history.series.len(),
        _ => model.shown.outline.len(),
    };
    if let Screen::Who { cursor } | Screen::Outline { cursor } | Screen::History { cursor, .. } =
        &mut model.screen
    {
        *cursor = cursor.saturating_add_signed(by).min(n_rows.saturating_sub(1));
    }
    Vec::new()
}

fn who(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Up => list(model, -1),
        Move::Down => list(model, 1),
        Move::Pick(index) => {
            if index < model.shown.workers().len() {
                model.screen = Screen::Who { cursor: index };
            }
            Vec::new()
        }
        Move::Go => {
            let Screen::Who { cursor } = model.screen else { return Vec::new() };
            match model.shown.workers().get(cursor) {
                Some(person) => {
                    vec![Effect::Unlock { person: person.id.clone(), what: Signing::Identify }]
                }
                None => refuse(model, "nobody on the list may work today; have it renewed"),
            }
        }
        _ => Vec::new(),
    }
}

fn outline(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Up => list(model, -1),
        Move::Down => list(model, 1),
        Move::Concede => concede(model),
        Move::Dispose => dispose(model),
        Move::Photo => photos(model),
        Move::Go => {
            let Screen::Outline { cursor } = model.screen else { return Vec::new() };
            let address = model.shown.outline.get(cursor).and_then(|row| row.address.clone());
            match address.filter(|at| model.shown.open_too.iter().any(|(open, _)| open == at)) {
                Some(address) => vec![Effect::Choose(address)],
                None => refuse(model, "this row is not open; only steps in free order are"),
            }
        }
        Move::Correct => {
            let Screen::Outline { cursor } = model.screen else { return Vec::new() };
            let row = model.shown.outline.get(cursor);
            match row.and_then(|row| row.address.clone().filter(|_| row.answer.is_some())) {
                Some(address) => vec![Effect::Look(address)],
                None => {
                    refuse(model, "this row has no answer to correct; pick a step that is done")
                }
            }
        }
        _ => Vec::new(),
    }
}

/// Stop the work: what was seen?
pub(super) fn halt(model: &mut Model) -> Vec<Effect> {
    let Some(question) = model.shown.question() else { return Vec::new() };
    let known: Vec<_> = question.standing.iter().map(|n| (n.id.clone(), n.see.clone())).collect();
    let safe = question.safe_state.trim_end_matches('.').to_owned();
    if known.is_empty() {
        model.ask_line(LineFor::Halt);
        return Vec::new();
    }
    let mut options: Vec<String> = known.iter().map(|(_, see)| see.clone()).collect();
    options.push("another reason".to_owned());
    let title = format!("Stop the work. Leave the machine so: {safe}. What was seen?");
    let what = Choosing::Halt(known);
    model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
    Vec::new()
}

fn deviate(model: &mut Model) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    if let Some(why) = question.no_deviation {
        let why = format!("this step stays as written: {why}");
        return refuse(model, &why);
    }
    let what = Choosing::Deviation(question.address.clone());
    let mut options = vec!["it is done, otherwise than written".to_owned()];
    if question.ask.may_be_left_out() {
        options.push("it is left out".to_owned());
    }
    let title = "A mechanic signs for it. What becomes of this step?".to_owned();
    model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
    Vec::new()
}

fn concede(model: &mut Model) -> Vec<Effect> {
    let Screen::Outline { cursor } = model.screen else { return Vec::new() };
    let row = model.shown.outline.get(cursor);
    let Some((address, may)) = row
        .and_then(|row| Some((row.address.clone()?, row.substitutes.clone())))
        .filter(|(_, may)| !may.is_empty())
    else {
        return refuse(model, "the procedure allows no other decision than its own on this row");
    };
    let options =
        may.iter().map(|v| crate::shown::decision_words(*v).to_owned()).collect::<Vec<_>>();
    let title = "In the place of what the rules say, a mechanic decides:".to_owned();
    let what = Choosing::Concession(address, may);
    model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
    Vec::new()
}

/// The photos and files of a row.
fn photos(model: &mut Model) -> Vec<Effect> {
    let Screen::Outline { cursor } = model.screen else { return Vec::new() };
    let address = model.shown.outline.get(cursor).and_then(|row| row.address.clone());
    let files = address.map_or_else(Vec::new, |address| model.shown.files_of(&address));
    if files.is_empty() {
        return refuse(model, "no photo or file lies with this row; the rows that have one say so");
    }
    vec![Effect::Photo(files.into_iter().map(PhotoOf::Attached).collect(), 0)]
}

/// What was done about a failed result?
fn dispose(model: &mut Model) -> Vec<Effect> {
    let Screen::Outline { cursor } = model.screen else { return Vec::new() };
    let row = model.shown.outline.get(cursor).filter(|row| row.failed);
    let Some(address) = row.and_then(|row| row.address.clone()) else {
        return refuse(model, "nothing on this row failed, or what was done about it is known");
    };
    let options = Disposition::ALL.iter().map(|d| d.spoken().to_owned()).collect();
    let title = "A mechanic signs for it. What was done about this result?".to_owned();
    let what = Choosing::Disposition(address);
    model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
    Vec::new()
}

/// Whom did you tell?
fn witness(model: &mut Model) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let Some(role) = question.witness else { return Vec::new() };
    let address = question.address.clone();
    let mut people = model.people_for(role);
    people.retain(|p| Some(&p.id) != model.shown.who.as_ref());
    let options = people.iter().map(|p| p.name.clone()).collect();
    let what = Choosing::Witness(address, people.into_iter().map(|p| p.id).collect());
    let title = "Whom did you tell?".to_owned();
    model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
    Vec::new()
}

fn sign_own_work(model: &mut Model) -> Vec<Effect> {
    match model.shown.unsigned.first() {
        Some(open) => {
            vec![Effect::Unlock { person: open.person.clone(), what: Signing::Performed }]
        }
        None => refuse(model, "all work so far is signed for"),
    }
}

fn sign_off(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Go => model.draft.scroll = None,
        Move::Up => {
            scroll(model, -1);
            return Vec::new();
        }
        Move::Down => {
            scroll(model, 1);
            return Vec::new();
        }
        _ => return Vec::new(),
    }
    if let Some(block) = model.shown.blocks.first() {
        if model.shown.unsigned.is_empty() {
            // Where a failed result is what is missing, it is shown with the key that says what was done.
            if let Some(cursor) = model.shown.outline.iter().position(|row| row.failed) {
                let block = format!("not ready to sign: {block}: press a");
                model.screen = Screen::Outline { cursor };
                return refuse(model, &block);
            }
            let block = format!("not ready to sign: {block}");
            return refuse(model, &block);
        }
        return sign_own_work(model);
    }
    let people = model.shown.releasers().into_iter().cloned().collect();
    let Screen::SignOff { lines, seen } = &mut model.screen else { return Vec::new() };
    if *seen < lines.len() {
        *seen += 1;
        return Vec::new();
    }
    let what = Signing::Release(lines.clone());
    let title = "Who signs for the whole job?".to_owned();
    model.overlays.push(Overlay::People { title, people, cursor: 0, what });
    Vec::new()
}

/// A move at the step on the screen.
fn answer(model: &mut Model, what: Move) -> Vec<Effect> {
    match model.way() {
        Some(Way::Safety) => safety(model, what),
        Some(Way::Confirm) => confirm(model, what),
        Some(Way::Items) => items(model, what),
        Some(Way::Wrench) => tighten::wrench(model, what),
        Some(Way::Fastener) => tighten::fastener(model, what),
        Some(Way::Tightened) => tighten::again(model, what),
        Some(Way::Layers) => build::layers(model, what),
        Some(Way::Done) if what == Move::Go => {
            let worked = model.answering().and_then(|(question, ..)| question.worked_out());
            candidate(model, worked.unwrap_or(Answer::Done))
        }
        Some(Way::Stop) if what == Move::Go => stop(model),
        Some(Way::Hold) if what == Move::Go => hold(model),
        Some(Way::Wait) if what == Move::Go => wait(model),
        Some(Way::One | Way::Several) => pick(model, what),
        Some(Way::Figure) => figure(model, what),
        Some(Way::Text) => text(model, what),
        Some(Way::File) => file(model, what),
        Some(Way::Witness) if what == Move::Go => witness(model),
        Some(Way::Halted) if what == Move::Go => {
            let title = "The work is stopped.".to_owned();
            let options = vec![
                "a mechanic lets it go on".to_owned(),
                "the job ends here, and is signed off".to_owned(),
            ];
            let what = Choosing::Halted;
            model.overlays.push(Overlay::Choice { title, options, cursor: 0, what });
            Vec::new()
        }
        Some(Way::Done | Way::Stop | Way::Hold | Way::Wait | Way::Witness | Way::Halted) | None => {
            Vec::new()
        }
    }
}

/// What a complete answer leads to: it is saved, or a correction asks for its reason.
pub(super) fn candidate(model: &mut Model, answer: Answer) -> Vec<Effect> {
    let Some((question, _, correction)) = model.answering() else { return Vec::new() };
    if correction {
        model.ask_line(LineFor::Correction(Box::new(answer)));
        return Vec::new();
    }
    let address = question.address.clone();
    vec![Effect::Submit(Box::new(Command::Answer { address, answer, signed: None }))]
}

fn safety(model: &mut Model, what: Move) -> Vec<Effect> {
    match what {
        Move::Up => scroll(model, -1),
        Move::Down => scroll(model, 1),
        Move::Read if !at_end(model) => {
            return refuse(model, "read it to its end first: the arrow down shows the rest");
        }
        Move::Read => {
            let address = model.answering().map(|(question, ..)| question.address.clone());
            return address
                .map(|address| Effect::Submit(Box::new(Command::AcknowledgeSafety { address })))
                .into_iter()
                .collect();
        }
        _ => {}
    }
    Vec::new()
}

fn confirm(model: &Model, what: Move) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let address = question.address.clone();
    match what {
        Move::Yes => vec![Effect::Submit(Box::new(Command::Confirm { address }))],
        Move::Correct => vec![Effect::Look(address)],
        _ => Vec::new(),
    }
}

fn items(model: &mut Model, what: Move) -> Vec<Effect> {
    let so = match what {
        Move::Yes => true,
        Move::No => false,
        _ => return Vec::new(),
    };
    let Some((question, draft, correction)) = model.answering() else { return Vec::new() };
    let n_items = question.ask.items().map_or(0, <[String]>::len);
    if !correction {
        let item = u32::try_from(question.items_done.len()).unwrap_or(u32::MAX);
        let address = question.address.clone();
        return vec![Effect::Submit(Box::new(Command::CheckItem { address, item, so }))];
    }
    // A list that was complete once is begun anew.
    let mut given = if draft.items.len() < n_items { draft.items.clone() } else { Vec::new() };
    given.push(so);
    model.draft_mut().items.clone_from(&given);
    if given.len() < n_items { Vec::new() } else { candidate(model, Answer::Items(given)) }
}

fn wait(model: &Model) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let address = question.address.clone();
    vec![Effect::Submit(Box::new(match question.left_s {
        None => Command::BeginWait { address },
        Some(_) => Command::EndWait { address },
    }))]
}

fn stop(model: &mut Model) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let Ask::Stop(stop) = &question.ask else { return Vec::new() };
    let lines = vec![
        stop.text.clone(),
        format!("State of the machine: {}", stop.safe_state),
        "Is the machine in this state, and are the people told? The job then ends.".to_owned(),
    ];
    model.overlays.push(Overlay::Sure { lines, answer: Box::new(Answer::Stopped) });
    Vec::new()
}

fn hold(model: &mut Model) -> Vec<Effect> {
    if !model.shown.unsigned.is_empty() {
        return sign_own_work(model);
    }
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let (role, address) = (question.by, question.address.clone());
    let people = model.people_for(role);
    let title = "Who has looked, and lifts the hold?".to_owned();
    let what = Signing::Hold(address);
    model.overlays.push(Overlay::People { title, people, cursor: 0, what });
    Vec::new()
}

fn pick(model: &mut Model, what: Move) -> Vec<Effect> {
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    let several = matches!(question.ask, Ask::Look { several: true, .. });
    let n_options = options(question).len();
    let at = draft.picked.last().copied();
    let picked = match what {
        Move::Pick(index) if index < n_options => index,
        Move::Up if !several => at.map_or(n_options.saturating_sub(1), |i| i.saturating_sub(1)),
        Move::Down if !several => at.map_or(0, |i| i + 1).min(n_options.saturating_sub(1)),
        Move::Up => {
            scroll(model, -1);
            return Vec::new();
        }
        Move::Down => {
            scroll(model, 1);
            return Vec::new();
        }
        Move::Go => return picked_answer(model),
        _ => return Vec::new(),
    };
    let draft = model.draft_mut();
    draft.scroll = None;
    if !several {
        draft.picked = vec![picked];
    } else if let Some(at) = draft.picked.iter().position(|i| *i == picked) {
        draft.picked.remove(at);
    } else {
        draft.picked.push(picked);
        draft.picked.sort_unstable();
    }
    Vec::new()
}

fn picked_answer(model: &mut Model) -> Vec<Effect> {
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    let Some(first) = draft.picked.first().copied() else {
        return refuse(model, "pick a line by its number first, then press enter");
    };
    let answer = match &question.ask {
        Ask::Look { findings, .. } => Answer::Found(
            draft.picked.iter().filter_map(|i| findings.get(*i)).map(|f| f.id.clone()).collect(),
        ),
        Ask::Decide { may, .. } => {
            let verdict = may.get(first).copied().unwrap_or(Verdict::Stop);
            model.ask_line(LineFor::Decision(verdict));
            return Vec::new();
        }
        _ => match question.choices.get(first) {
            Some((id, _)) => Answer::Entered(id.clone()),
            None => return Vec::new(),
        },
    };
    candidate(model, answer)
}

/// Edits the line that is typed; false where `what` is no edit.
pub(super) fn edit(field: &mut Field, what: Move) -> bool {
    match what {
        Move::Type(c) => field.insert(c),
        Move::Erase => field.erase(),
        Move::Delete => field.delete(),
        Move::Clear => *field = Field::default(),
        Move::Left => field.left(),
        Move::Right => field.right(),
        Move::Home => field.home(),
        Move::End => field.end(),
        _ => return false,
    }
    true
}

fn figure(model: &mut Model, what: Move) -> Vec<Effect> {
    if edit(&mut model.draft_mut().field, what) {
        let draft = model.draft_mut();
        draft.warned = false;
        draft.scroll = None;
        return Vec::new();
    }
    match what {
        Move::CouldNot => {
            model.ask_line(LineFor::CouldNot);
            Vec::new()
        }
        Move::Instruments => instruments(model),
        Move::Go => figure_answer(model),
        _ => Vec::new(),
    }
}

pub(super) fn instruments(model: &mut Model) -> Vec<Effect> {
    let Some((question, ..)) = model.answering() else { return Vec::new() };
    let usable = question.usable_instruments();
    if usable.is_empty() {
        return refuse(
            model,
            "no instrument of this kind may be used today; ctrl-x says that there is no reading",
        );
    }
    let in_hand = model.instrument(question);
    let cursor = usable.iter().position(|i| Some(i.id()) == in_hand.as_deref()).unwrap_or(0);
    model.overlays.push(Overlay::Instruments { cursor });
    Vec::new()
}

/// True where the instrument in hand is to be read with nothing in it first, which is asked now.
pub(super) fn asks_zero(model: &mut Model) -> bool {
    let id = model.answering().and_then(|(question, ..)| {
        let in_hand = model.instrument(question);
        question.zero_due(in_hand.as_deref()).map(|line| line.id().to_owned())
    });
    let Some(id) = id else { return false };
    model.ask_line(LineFor::Zero(id));
    true
}

fn figure_answer(model: &mut Model) -> Vec<Effect> {
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    let instrument = model.instrument(question);
    let typed = question.typed(&draft.field.text(), instrument.as_deref());
    let Typed::Figure { reading, several, said, .. } = typed else {
        let why = match typed {
            Typed::Fault(fault) => fault,
            Typed::Nothing | Typed::Figure { .. } => "type the figure first".to_owned(),
        };
        return refuse(model, &why);
    };
    let Some(answer) = question.figure_answer(reading, several, instrument.as_deref()) else {
        return instruments(model);
    };
    if asks_zero(model) {
        return Vec::new();
    }
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    // Out of its limit a figure has consequences: it is shown once more before it counts.
    let out = said.is_some_and(|said| said != Decision::Within);
    if out && !draft.warned {
        model.draft_mut().warned = true;
        return Vec::new();
    }
    if let (Some(kind), Some(id)) = (question.instrument_kind().cloned(), instrument) {
        model.hand.instruments.insert(kind, id);
    }
    candidate(model, answer)
}

fn text(model: &mut Model, what: Move) -> Vec<Effect> {
    if edit(&mut model.draft_mut().field, what) {
        return Vec::new();
    }
    if what != Move::Go {
        return Vec::new();
    }
    let Some((_, draft, _)) = model.answering() else { return Vec::new() };
    let typed = draft.field.text().trim().to_owned();
    if typed.is_empty() {
        return refuse(model, "type the text first");
    }
    candidate(model, Answer::Entered(typed))
}

fn file(model: &mut Model, what: Move) -> Vec<Effect> {
    if edit(&mut model.draft_mut().field, what) {
        return Vec::new();
    }
    let Some((question, draft, _)) = model.answering() else { return Vec::new() };
    match what {
        Move::Photo => {
            let typed = draft.field.text().trim().to_owned();
            super::over::photos(model, typed)
        }
        Move::CouldNot => {
            model.ask_line(LineFor::Lacking);
            Vec::new()
        }
        Move::Go => {
            let path = draft.field.text().trim().to_owned();
            if path.is_empty() {
                return refuse(model, "type the path of the photo or file first");
            }
            vec![Effect::Keep { path, address: Some(question.address.clone()), answers: true }]
        }
        _ => Vec::new(),
    }
}
