//! A script as a rehearsal file that a person can read, and that `rehearsal` reads back.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::script::Script;
use crate::ids::{Name, PersonId, Role};
use crate::procedure::model::{EntryKind, Verdict};
use crate::rehearsal::model::{
    Expectation, OutcomeWord, Rehearsal, Scripted, ScriptedAnswer, Settings,
};
use crate::rehearsal::write::quoted;
use crate::shop::model::{Instrument, Shop};
use crate::source::{At, FileId, Span};
use crate::units::Quantity;
use crate::walk::event::{Answer, InstrumentSnapshot, Several};
use crate::walk::flow::{Ask, Flow};

/// Who plays a script, with what, on which machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cast {
    /// The machine's mark.
    pub machine: String,
    /// Its serial number.
    pub serial: String,
    /// Who performs.
    pub performer: PersonId,
    /// Who decides.
    pub mechanic: PersonId,
    /// Who takes second readings.
    pub second: PersonId,
    /// The instruments that are in use.
    pub instruments: Vec<Instrument>,
}

/// The machine's mark where the shop has none that fits.
const NO_MACHINE: &str = "MACHINE";

impl Cast {
    /// Names that stand for people and things of no shop.
    pub fn nobody() -> Self {
        let person = |text: &str| PersonId::new(text).expect("internal: this is a person's id");
        Self {
            machine: NO_MACHINE.to_owned(),
            serial: "0000000".to_owned(),
            performer: person("performer"),
            mechanic: person("mechanic"),
            second: person("second"),
            instruments: Vec::new(),
        }
    }

    /// People and things of a shop, with a machine of the fit-out that the script enters if there
    /// is one.
    pub fn of(shop: &Shop, flow: &Flow, script: &Script) -> Self {
        let mut cast = Self::nobody();
        let plate = script.answers.iter().find_map(|(index, class)| {
            let ask = &flow.instance(*index).ask;
            let is_plate = matches!(ask, Ask::Enter { kind: EntryKind::FitOut, .. });
            match &class.answer {
                Answer::Entered(plate) if is_plate => Some(plate.clone()),
                _ => None,
            }
        });
        let fitting = || shop.machines.iter().filter(|m| m.equipment == *flow.equipment_id());
        let wanted = fitting().find(|m| plate.is_some() && m.fit_out == plate);
        if let Some(machine) = wanted.or_else(|| fitting().next()) {
            cast.machine.clone_from(&machine.tag);
            cast.serial.clone_from(&machine.serial);
        }
        let mut mechanics = shop.people.iter().filter(|p| p.roles.contains(&Role::Mechanic));
        let performs = shop.people.iter().find(|p| p.roles.contains(&Role::Apprentice));
        if let Some(mechanic) = mechanics.next() {
            cast.mechanic = mechanic.id.clone();
            let performer = performs.unwrap_or(mechanic);
            cast.performer = performer.id.clone();
            cast.second = mechanics.next().unwrap_or(mechanic).id.clone();
        }
        let in_use = shop.instruments.iter().filter(|listed| listed.out_of_use.is_none());
        cast.instruments = in_use.cloned().collect();
        cast
    }

    /// An instrument of this kind, one whose range holds the figure if there is one.
    fn instrument(&self, kind: &Name, figure: &Quantity) -> Option<&Instrument> {
        let of_kind = || self.instruments.iter().filter(|listed| listed.kind == *kind);
        let holds = |listed: &&Instrument| figure.lies_in(&listed.range);
        of_kind().find(holds).or_else(|| of_kind().next())
    }

    /// What an author has to put into the saved script before it can be played, a sentence each.
    pub fn gaps(&self, flow: &Flow, script: &Script) -> Vec<String> {
        let mut gaps = Vec::new();
        if self.machine == NO_MACHINE {
            gaps.push(format!(
                "the shop file lists no machine of `{}`: put the mark of one in the place of \
                 `{NO_MACHINE}`, and its serial number in that of `{}`",
                flow.equipment_id(),
                self.serial
            ));
        }
        let mut kinds = BTreeSet::new();
        for (index, _) in &script.answers {
            match &flow.instance(*index).ask {
                Ask::Measure(note) => kinds.insert(&note.with),
                Ask::Tighten(note) => kinds.insert(&note.with),
                _ => false,
            };
        }
        kinds.retain(|kind| self.instruments.iter().all(|listed| listed.kind != **kind));
        gaps.extend(kinds.into_iter().map(|kind| {
            format!(
                "the shop file lists no `{kind}` in use: put the mark of one in the place of `{kind}`"
            )
        }));
        gaps
    }
}

fn nowhere<T>(value: T) -> At<T> {
    At::new(value, Span::new(FileId(0), 0, 0))
}

/// The rehearsal that plays `script`.
pub fn rehearsal(flow: &Flow, script: &Script, cast: &Cast, id: Name, title: &str) -> Rehearsal {
    let mut answers = Vec::new();
    for (index, class) in &script.answers {
        let instance = flow.instance(*index);
        let at = instance.address.to_string();
        let mut scripted = |answer| {
            let (at, span) = (nowhere(at.clone()), Span::new(FileId(0), 0, 0));
            answers.push(Scripted { at, answer, span, is_of_story: false });
        };
        let answer = with_cast(&instance.ask, class.answer.clone(), cast);
        if let Some(answer) = self::scripted(&instance.ask, &answer) {
            scripted(answer);
        }
        if let Some(verdict) = class.substitute {
            scripted(ScriptedAnswer::Concede { verdict, because: "as seen".to_owned() });
        }
    }
    let stopped = script.answers.iter().any(|(_, class)| class.verdict == Some(Verdict::Stop));
    let has_second = script.answers.iter().any(|(_, class)| class.agrees.is_some());
    Rehearsal {
        id,
        title: title.to_owned(),
        procedure: nowhere(flow.procedure.clone()),
        alone: false,
        machine: nowhere(cast.machine.clone()),
        performer: nowhere(cast.performer.clone()),
        mechanic: nowhere(cast.mechanic.clone()),
        second: has_second.then(|| nowhere(cast.second.clone())),
        answers,
        expect: Expectation {
            outcome: if stopped { OutcomeWord::Stopped } else { OutcomeWord::Released },
            parts: None,
            verdicts: Vec::new(),
            asked: Vec::new(),
            not_asked: Vec::new(),
        },
        cases: Vec::new(),
        out_of_reach: Vec::new(),
    }
}

/// The answer with the machine and the instruments of the shop in it.
fn with_cast(ask: &Ask, mut answer: Answer, cast: &Cast) -> Answer {
    let mark = |instrument: &mut InstrumentSnapshot, figure: &Quantity| {
        if let Some(listed) = cast.instrument(&instrument.kind, figure) {
            instrument.id.clone_from(&listed.id);
        }
    };
    match &mut answer {
        Answer::Read { instrument, reading, .. } => mark(instrument, &reading.value),
        Answer::Tightened(rounds) => {
            for round in rounds {
                mark(&mut round.wrench.instrument, &round.wrench.setting.value);
            }
        }
        Answer::Entered(text) if matches!(ask, Ask::Enter { kind: EntryKind::Serial, .. }) => {
            text.clone_from(&cast.serial);
        }
        _ => {}
    }
    answer
}

/// The answer as a script writes it; nothing where none needs to be written.
pub fn scripted(ask: &Ask, answer: &Answer) -> Option<ScriptedAnswer> {
    match answer {
        Answer::Done | Answer::Released | Answer::Stopped | Answer::WorkedOut(_) => None,
        Answer::Items(items) => {
            let not_so: Vec<u32> =
                (1..).zip(items).filter(|(_, so)| !**so).map(|(n, _)| n).collect();
            (!not_so.is_empty()).then_some(ScriptedAnswer::NotSo(not_so))
        }
        Answer::Built(laid) => {
            let not_so: Vec<u32> = (1..).zip(laid).filter(|(_, l)| !l.so).map(|(n, _)| n).collect();
            if not_so.is_empty() {
                let lots = laid.iter().filter_map(|l| Some((l.layer.clone(), l.lot.clone()?)));
                let lots: Vec<_> = lots.collect();
                return (!lots.is_empty()).then_some(ScriptedAnswer::Lots(lots));
            }
            Some(ScriptedAnswer::NotSo(not_so))
        }
        Answer::Tightened(rounds) => {
            let first = &rounds.first()?.wrench;
            let Ask::Tighten(note) = ask else { return None };
            Some(ScriptedAnswer::Settings(Settings {
                settings: rounds.iter().map(|round| round.wrench.setting.text.clone()).collect(),
                instrument: first.instrument.id.clone(),
                thread: (first.thread != note.condition).then_some(first.thread),
                adapter: None,
                shown: Vec::new(),
            }))
        }
        Answer::Waited(waited) => match ask {
            Ask::Wait { length_s, .. } if *length_s == waited.at_longest_s => None,
            _ => Some(ScriptedAnswer::Waited(waited.at_longest_s)),
        },
        Answer::Found(found) => Some(ScriptedAnswer::Found(found.clone())),
        Answer::Read { reading, instrument, several } => {
            let typed = several.as_deref().map(Several::typed);
            let text = typed.unwrap_or_else(|| reading.text.clone());
            let instrument = instrument.id.clone();
            Some(ScriptedAnswer::Reading { text, instrument })
        }
        Answer::CouldNotMeasure { reason } => Some(ScriptedAnswer::CouldNotMeasure(reason.clone())),
        Answer::Entered(text) => Some(ScriptedAnswer::Entered(text.clone())),
        Answer::EnteredFigure(reading) => Some(ScriptedAnswer::Entered(reading.text.clone())),
        Answer::Attached(file) => Some(ScriptedAnswer::Attach(file.name.clone())),
        Answer::NotAttached { reason } => Some(ScriptedAnswer::NothingToAttach(reason.clone())),
        Answer::Deviated { done: true, reason } => {
            Some(ScriptedAnswer::DoneOtherwise(reason.clone()))
        }
        Answer::Deviated { done: false, reason } => Some(ScriptedAnswer::LeftOut(reason.clone())),
        Answer::Decided { verdict, reason } => {
            Some(ScriptedAnswer::Decide { verdict: *verdict, because: reason.clone() })
        }
    }
}

/// A rehearsal as YAML, under a comment.
pub fn to_yaml(rehearsal: &Rehearsal, comment: &str) -> String {
    let mut out = String::new();
    for line in comment.lines() {
        out.push_str(format!("# {line}").trim_end());
        out.push('\n');
    }
    out.push_str("format: \"1.0\"\n");
    let mut line = |text: std::fmt::Arguments<'_>| {
        out.write_fmt(text).expect("internal: a `String` takes any text");
        out.push('\n');
    };
    line(format_args!("rehearsal: {}", rehearsal.id));
    line(format_args!("title: {}", quoted(&rehearsal.title)));
    line(format_args!("procedure: {}", rehearsal.procedure.value));
    line(format_args!("machine: {}", quoted(&rehearsal.machine.value)));
    line(format_args!("performer: {}", rehearsal.performer.value));
    line(format_args!("mechanic: {}", rehearsal.mechanic.value));
    if let Some(second) = &rehearsal.second {
        line(format_args!("second: {}", second.value));
    }
    if rehearsal.answers.is_empty() {
        line(format_args!("answers: []"));
    } else {
        line(format_args!("answers:"));
    }
    for scripted in &rehearsal.answers {
        let at = quoted(&scripted.at.value);
        line(format_args!("  - {{at: {at}, {}}}", scripted.answer.keys()));
    }
    let outcome = match rehearsal.expect.outcome {
        OutcomeWord::Released => "released",
        OutcomeWord::Stopped => "stopped",
    };
    line(format_args!("expect: {{outcome: {outcome}}}"));
    out
}
