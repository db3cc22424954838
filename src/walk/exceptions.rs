//! What must be looked at before signing, what keeps a job from being released, and the parts list.

use std::collections::BTreeMap;

use super::address::Address;
use super::disposition::{self, Settled};
use super::event::{Answer, Laid, Round, Several, Waited, WorkedOut};
use super::flow::{Ask, InstanceIdx};
use super::job::{Files, JobState};
use super::place::{Answers as _, Stand, exits_taken};
use super::wrench::at_fastener;
use crate::ids::PartId;
use crate::procedure::model::{EntryKind, Verdict};
use crate::units::duration::spoken_duration;
use crate::units::{Reading, Side};

/// One line of the parts list.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct PartNeeded {
    /// The part.
    pub part: PartId,
    /// The position that it goes to, such as `cylinder=2,side=inlet`; empty for the machine.
    pub position: String,
    /// How many.
    pub quantity: u32,
    /// Why: the instance that asked for it, or "always renewed".
    pub because: String,
}

/// The parts needed: what inspections replace, and what the equipment file always renews.
pub fn parts_needed(files: &Files, state: &JobState) -> Vec<PartNeeded> {
    let flow = &files.flow;
    let mut parts: BTreeMap<(PartId, String), PartNeeded> = BTreeMap::new();
    let mut add = |part: &PartId, position: String, because: String| {
        let quantity = flow.equipment.parts.get(part).map_or(1, |p| p.quantity);
        parts.entry((part.clone(), position.clone())).or_insert(PartNeeded {
            part: part.clone(),
            position,
            quantity,
            because,
        });
    };
    for (id, part) in &flow.equipment.parts {
        if !part.always_new {
            continue;
        }
        let positions = part
            .per
            .as_ref()
            .and_then(|kind| flow.equipment.positions.get(&kind.value).map(|n| (kind, n)));
        match positions {
            None => add(id, String::new(), "always renewed".to_owned()),
            Some((kind, names)) => {
                for name in names {
                    let position = format!("{}={name}", kind.value);
                    add(id, position, "always renewed".to_owned());
                }
            }
        }
    }
    for index in latest(files, state) {
        let because = flow.instance(index).address.to_string();
        for part in replaced_at(files, state, index) {
            add(&part, position_text(files, index), because.clone());
        }
    }
    parts.into_values().collect()
}

/// The parts that the answer of `index` itself replaces.
fn replaced_at(files: &Files, state: &JobState, index: InstanceIdx) -> Vec<PartId> {
    let ask = &files.flow.instance(index).ask;
    let Some(answer) = state.answer(index) else { return Vec::new() };
    if state.conceded.get(&index).is_some_and(|c| c.verdict == Verdict::Replace) {
        return super::place::parts_of(ask);
    }
    match (ask, answer) {
        (Ask::Decide { parts, .. }, Answer::Decided { verdict: Verdict::Replace, .. }) => {
            parts.clone()
        }
        _ if state.walk.verdicts.get(index).copied().flatten() == Some(Verdict::Replace) => {
            let flow = &files.flow;
            let asked = state.walk.ask(flow, state, index);
            let exits = exits_taken(&asked, answer).into_iter();
            let replacing = exits.filter(|exit| exit.verdict == Verdict::Replace);
            replacing.flat_map(|exit| exit.parts.clone()).collect()
        }
        _ => Vec::new(),
    }
}

/// The parts that a failed result calls for, by its own exit or by the decision on it.
pub fn parts_of_result(files: &Files, state: &JobState, index: InstanceIdx) -> Vec<PartId> {
    let flow = &files.flow;
    let mut parts = replaced_at(files, state, index);
    let decides = |i: &&InstanceIdx| matches!(&flow.instance(**i).ask, Ask::Decide { about: Some(about), .. } if *about == index);
    for decision in state.walk.path.iter().filter(decides) {
        parts.extend(replaced_at(files, state, *decision));
    }
    parts.sort();
    parts.dedup();
    parts
}

/// The place of an instance, whichever pass it is of.
pub(super) fn without_pass(address: &Address) -> Address {
    let mut address = address.clone();
    for segment in &mut address.0 {
        segment.pass = 1;
    }
    address
}

/// The visited instances, later passes in the place of earlier ones.
pub(super) fn latest(files: &Files, state: &JobState) -> Vec<InstanceIdx> {
    let mut last: BTreeMap<String, InstanceIdx> = BTreeMap::new();
    for index in &state.walk.path {
        let address = without_pass(&files.flow.instance(*index).address);
        last.insert(address.to_string(), *index);
    }
    let mut found: Vec<InstanceIdx> = last.into_values().collect();
    found.sort_unstable();
    found
}

/// The positions of an instance as one text.
pub fn position_text(files: &Files, index: InstanceIdx) -> String {
    files
        .flow
        .instance(index)
        .address
        .positions()
        .map(|(kind, name)| format!("{kind}={name}"))
        .collect::<Vec<_>>()
        .join(",")
}

/// What the releaser must look at before signing, one sentence each, in walk order. Empty when
/// there is nothing.
#[expect(clippy::too_many_lines, reason = "one paragraph for each kind of exception")]
pub fn list(files: &Files, state: &JobState) -> Vec<String> {
    let flow = &files.flow;
    let mut lines = Vec::new();
    if let Stand::Stopped(index) = state.walk.stand {
        let instance = flow.instance(index);
        lines.push(format!("the job was stopped at {}: {}", instance.address, instance.ask.text()));
        for token in still_set(files, state) {
            lines.push(format!("still in force at the stop: {token}"));
        }
    } else if state.halted().is_some() && state.opened.semantics >= 3 {
        let progress = state.progress();
        let not_done = progress.total.saturating_sub(progress.done);
        lines.push(format!("the job ends here with {not_done} steps not done"));
        for token in still_set(files, state) {
            lines.push(format!("still in force at the stop: {token}"));
        }
    }
    for index in &state.walk.path {
        let instance = flow.instance(*index);
        let Some(answer) = state.answer(*index) else { continue };
        if let Answer::Decided { verdict, reason } = answer {
            lines.push(format!(
                "{}: decided {} by {}: {reason}",
                instance.address,
                verdict.word(),
                by(state, *index)
            ));
            continue;
        }
        if let Answer::Deviated { done, reason } = answer {
            let what = if *done { "done otherwise than written" } else { "left out" };
            lines.push(format!(
                "{}: {what}, allowed by {}: {reason}",
                instance.address,
                by(state, *index)
            ));
            continue;
        }
        lines.extend(doubt(&instance.address, answer));
        if let Answer::NotAttached { reason } = answer {
            lines.push(format!("{}: nothing was attached: {reason}", instance.address));
        }
        if let Some(conceded) = state.conceded.get(index) {
            lines.push(format!(
                "{}: {} put {} in the place of what the rules say: {}",
                instance.address,
                conceded.by,
                conceded.verdict.word(),
                conceded.reason
            ));
        }
        let judged = state.walk.judge_at(flow, state, *index, answer);
        if let Some(verdict) = judged.filter(|v| *v != Verdict::Accept && *v != Verdict::Stop) {
            lines.push(format!(
                "{}: {} ({})",
                instance.address,
                verdict.word(),
                answer_text(&state.walk.ask(flow, state, *index), answer)
            ));
        }
        if let (Ask::Enter { kind: EntryKind::FitOut, .. }, Answer::Entered(letter)) =
            (&instance.ask, answer)
        {
            let listed = files.shop.machines.iter().find(|m| m.tag == state.opened.machine);
            if let Some(known) = listed.and_then(|m| m.fit_out.as_ref())
                && known != letter
            {
                lines.push(format!(
                    "{}: the plate says fit-out {letter}, the shop's list says {known}",
                    instance.address
                ));
            }
        }
    }
    for failed in disposition::failed(files, state) {
        if let Settled::Stated(stated) = &failed.settled {
            let (address, what) = (&flow.instance(failed.index).address, &stated.said);
            let lot = what.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
            lines.push(format!(
                "{address}: {}{lot}, signed by {}: {}",
                what.disposition.word().replace('_', " "),
                stated.by,
                what.reason
            ));
        }
    }
    lines.extend(state.halts.iter().map(super::hands::Halt::text));
    lines.extend(super::safety::hasty(state));
    lines.extend(state.late.iter().map(super::late::LateNote::text));
    for note in &state.corrections {
        lines.push(format!(
            "entry {} at {} was corrected in entry {}: {}",
            note.supersedes, note.address, note.n, note.reason
        ));
    }
    for lapsed in &state.lapsed {
        lines.push(format!(
            "the signature at {} (entry {}) lapsed by the correction in entry {}",
            lapsed.address, lapsed.n, lapsed.by_n
        ));
    }
    for index in state.parked() {
        lines.push(format!(
            "{}: work was entered that no longer belongs to this job; see that hands undid it",
            flow.instance(index).address
        ));
    }
    lines.extend(fasteners(files, state));
    lines.extend(off_zero(state));
    lines.extend(other_temperature(files, state));
    lines.extend(super::fitted::needed_and_not_fitted(files, state));
    for (n, text) in &state.journal_notes {
        lines.push(format!("entry {n}: {text}"));
    }
    lines
}

/// What is to be known of a wait whose time is told by one clock, or by two that disagree.
fn doubt(address: &Address, answer: &Answer) -> Option<String> {
    matches!(answer, Answer::Waited(Waited { doubtful: true, .. })).then(|| {
        format!("{address}: only one clock tells how long it was waited, or the clocks disagree")
    })
}

fn by(state: &JobState, index: InstanceIdx) -> String {
    state
        .held_of(index)
        .and_then(|held| held.by.as_ref())
        .map_or_else(|| "nobody".to_owned(), ToString::to_string)
}

fn still_set(files: &Files, state: &JobState) -> Vec<String> {
    state
        .walk
        .in_force
        .iter()
        .filter_map(|token| files.flow.tokens.get(token))
        .filter(|token| token.clear_before_release)
        .map(|token| token.title.clone())
        .collect()
}

/// An answer in words, for lists and reports.
pub fn answer_text(ask: &Ask, answer: &Answer) -> String {
    match answer {
        Answer::Done => "done".to_owned(),
        Answer::Released => "released".to_owned(),
        Answer::Waited(waited) => format!(
            "{} passed, from {} to {}",
            spoken_duration(waited.elapsed_s),
            waited.begun.spoken(),
            waited.ended.spoken()
        ),
        Answer::Stopped => "stopped".to_owned(),
        Answer::Items(items) => {
            let open: Vec<String> = items
                .iter()
                .zip(ask.items().unwrap_or_default())
                .filter(|(so, _)| !**so)
                .map(|(_, text)| text.clone())
                .collect();
            if open.is_empty() {
                "all so".to_owned()
            } else {
                format!("not so: {}", open.join("; "))
            }
        }
        Answer::Found(found) => {
            found.iter().map(crate::ids::Name::spoken).collect::<Vec<_>>().join(", ")
        }
        Answer::Read { reading, instrument, several } => {
            let figure = if let Ask::Measure(note) = ask {
                note.explain(reading, instrument)
            } else {
                reading.echo()
            };
            format!("{figure}{}, with {}", several_text(ask, several.as_deref()), instrument.id)
        }
        Answer::WorkedOut(worked) => worked_text(ask, worked),
        Answer::Built(laid) => built_text(ask, laid),
        Answer::Tightened(rounds) => tightened_text(ask, rounds),
        Answer::CouldNotMeasure { reason } => format!("could not be measured: {reason}"),
        Answer::Entered(text) => text.clone(),
        Answer::EnteredFigure(reading) => reading.echo(),
        Answer::Attached(file) => file.name.clone(),
        Answer::NotAttached { reason } => format!("nothing attached: {reason}"),
        Answer::Deviated { done: true, reason } => format!("done otherwise: {reason}"),
        Answer::Deviated { done: false, reason } => format!("left out: {reason}"),
        Answer::Decided { verdict, reason } => format!("{}: {reason}", verdict.word()),
    }
}

/// All readings of a step, where it asks for several.
fn several_text(ask: &Ask, several: Option<&Several>) -> String {
    let Some(several) = several else { return String::new() };
    let note = if let Ask::Measure(note) = ask { note.several.as_ref() } else { None };
    let points = note.map_or(&[][..], |note| note.points.as_slice());
    let rule = note.map_or("value", |note| note.repeats.rule.word());
    let one = |(at, reading): (usize, &Reading)| match points.get(at) {
        Some(point) => format!("{} {}", point.spoken(), reading.spoken()),
        None => reading.spoken(),
    };
    let all = several.taken.iter().enumerate().map(one).collect::<Vec<_>>().join(", ");
    let reason = several.reason.as_ref().map_or_else(String::new, |r| format!(", one more as {r}"));
    format!(" ({rule} of {all}{reason})")
}

fn worked_text(ask: &Ask, worked: &WorkedOut) -> String {
    let limit = if let Ask::WorkOut(note) = ask { note.limit.as_ref() } else { None };
    match (&worked.result, limit) {
        (Ok(reading), Some(limit)) => limit.explain(reading),
        (Ok(reading), None) => reading.echo(),
        (Err(why), _) => format!("could not be worked out: {why}"),
    }
}

fn built_text(ask: &Ask, laid: &[Laid]) -> String {
    let layers = if let Ask::Build { layers, .. } = ask { layers.as_slice() } else { &[] };
    let title = |laid: &Laid| {
        let note = layers.iter().find(|note| note.id == laid.layer);
        note.map_or_else(|| laid.layer.spoken(), |note| note.title.clone())
    };
    if let Some(not) = laid.iter().find(|laid| !laid.so) {
        return format!("does not lie as it must: {}", title(not));
    }
    let lots = laid.iter().filter_map(|l| l.lot.as_ref().map(|lot| format!("{} {lot}", title(l))));
    let lots: Vec<String> = lots.collect();
    let n = laid.len();
    if lots.is_empty() {
        format!("{n} layers laid")
    } else {
        format!("{n} layers laid; lots: {}", lots.join(", "))
    }
}

fn tightened_text(ask: &Ask, rounds: &[Round]) -> String {
    let (Ask::Tighten(note), Some(last)) = (ask, rounds.last()) else {
        return "nothing tightened".to_owned();
    };
    let with = &last.wrench.instrument.id;
    if last.wrench.thread != note.condition {
        return format!(
            "not judged: the thread is {}, and the torque is for {} ones",
            last.wrench.thread.word(),
            note.condition.word()
        );
    }
    let not_so = rounds.iter().flat_map(|round| &round.fasteners).find(|tight| !tight.so);
    if let Some(tight) = not_so {
        let reading = tight
            .reading
            .as_ref()
            .map_or_else(String::new, |reading| format!(", {}", note.torque.explain(reading)));
        return format!("fastener {} is not so{reading}, with {with}", tight.fastener);
    }
    let torque = at_fastener(&last.wrench)
        .map_or_else(String::new, |at| at.torque.render_rounded(note.torque.unit, 1));
    format!(
        "{} of {} tightened to {torque} in {} passes, with {with}",
        note.n_tight(rounds),
        note.order.len(),
        note.passes.len()
    )
}

/// Readings whose limit holds at another temperature than the one that the job tells now.
fn other_temperature(files: &Files, state: &JobState) -> Vec<String> {
    let flow = &files.flow;
    let of_path = state.walk.path.iter();
    of_path
        .filter_map(|index| {
            let Ask::Measure(note) = &flow.instance(*index).ask else { return None };
            let Answer::Read { .. } = state.answer(*index)? else { return None };
            let why = state.walk.holds_at_that(flow, state, note).err()?;
            Some(format!("{}: {why}", flow.instance(*index).address))
        })
        .collect()
}

/// Instruments that did not show zero with nothing in them.
fn off_zero(state: &JobState) -> impl Iterator<Item = String> {
    state.zero_checks.iter().filter(|check| !check.so).map(|check| {
        format!(
            "{} showed {} with nothing in it on {} (entry {}); whatever was read with it before is in doubt",
            check.instrument.id,
            check.reading.echo(),
            check.at.spoken(),
            check.n
        )
    })
}

/// Fasteners that were loosened again, and re-checks that lie outside what the step keeps to.
fn fasteners(files: &Files, state: &JobState) -> Vec<String> {
    let loosened = state.loosened.iter().map(|note| {
        let (fastener, address) = (note.fastener, &note.address);
        format!(
            "fastener {fastener} of {address} was loosened in entry {}: {}",
            note.n, note.reason
        )
    });
    let rechecked = state.rechecks.iter().filter_map(|check| {
        let index = files.flow.find(&check.address)?;
        let Ask::Tighten(note) = &files.flow.instance(index).ask else { return None };
        let limit = note.recheck.as_ref()?;
        (limit.judge(&check.reading.value) != Some(Side::Within)).then(|| {
            format!(
                "fastener {} of {} was re-checked in the {} direction: {}",
                check.fastener,
                check.address,
                check.direction.word(),
                limit.explain(&check.reading)
            )
        })
    });
    loosened.chain(rechecked).collect()
}

/// What keeps the job from being released, one sentence each.
pub fn blocks(files: &Files, state: &JobState) -> Vec<String> {
    let mut blocks = Vec::new();
    match state.walk.stand {
        // Work that was stopped may end there, with what a mechanic signs for it.
        Stand::Asked(..) if state.halted().is_some() => {}
        Stand::Asked(index, _) => blocks.push(format!(
            "step {} is still open; finish the steps first",
            files.flow.instance(index).address
        )),
        Stand::End => {
            for token in still_set(files, state) {
                blocks.push(format!("{token} is still in force; it must be taken off first"));
            }
            for failed in disposition::open(files, state) {
                blocks.push(format!(
                    "{}, and nothing says what was done about it; a mechanic says so and signs",
                    failed.text(files, state)
                ));
            }
        }
        Stand::Stopped(_) => {}
    }
    for person in state.unsigned_people() {
        blocks.push(format!("the work of {person} is not signed for yet; let them sign first"));
    }
    blocks
}
