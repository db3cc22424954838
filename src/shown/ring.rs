//! Fasteners as they are put to a person: which one is next, in which pass, to which torque.

use crate::language::Thread;
use crate::session::Session;
use crate::units::{Reading, Side, Unit};
use crate::walk::command::{AdapterEntry, WrenchEntry};
use crate::walk::event::{Adapter, Direction, InstrumentSnapshot, Wrench};
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::tighten::{Due, LoosenedNote, RecheckNote, TightenNote, Tightening};
use crate::walk::wrench::{ANGLE, DIGITS, LENGTH, at_fastener, setting_for};

/// A set of fasteners.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RingShown {
    /// What the step asks for.
    pub note: TightenNote,
    /// What was done so far.
    pub tightening: Tightening,
    /// What comes next.
    pub due: Due,
    /// Those of this step that were loosened again.
    pub loosened: Vec<LoosenedNote>,
    /// Re-checks at this step.
    pub rechecks: Vec<RecheckNote>,
}

/// How a fastener stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FastenerState {
    /// Done in the pass that is due, or in all.
    Done,
    /// It is not so.
    NotSo,
    /// To be tightened now.
    Next,
    /// To be tightened later.
    Ahead,
}

impl RingShown {
    /// The fasteners of the step `index`; `None` for other steps.
    pub fn of(session: &Session, index: InstanceIdx) -> Option<Self> {
        let (flow, state) = (&session.files().flow, session.state());
        let instance = flow.instance(index);
        let Ask::Tighten(note) = &instance.ask else { return None };
        let tightening = state.tightening_of(index);
        let here = |address: &crate::walk::Address| *address == instance.address;
        Some(Self {
            due: note.due(&tightening),
            note: (**note).clone(),
            tightening,
            loosened: state.loosened.iter().filter(|n| here(&n.address)).cloned().collect(),
            rechecks: state.rechecks.iter().filter(|n| here(&n.address)).cloned().collect(),
        })
    }

    /// The unit of the torque.
    pub fn unit(&self) -> Unit {
        self.note.torque.unit
    }

    /// The pass that is due.
    pub fn pass(&self) -> Option<u32> {
        match self.due {
            Due::Wrench { pass } | Due::Fastener { pass, .. } => Some(pass),
            Due::Nothing => None,
        }
    }

    /// The fasteners from 1, each with how it stands in the pass that is due.
    pub fn states(&self) -> Vec<(u32, FastenerState)> {
        let rounds = &self.tightening.rounds;
        let not_so = |number: u32| {
            rounds.iter().flat_map(|r| &r.fasteners).any(|t| t.fastener == number && !t.so)
        };
        let open = self.pass().map_or_else(Vec::new, |pass| self.note.open(rounds, pass));
        let mut numbers = self.note.order.clone();
        numbers.sort_unstable();
        let state = |number: u32| match open.first() {
            _ if not_so(number) => FastenerState::NotSo,
            Some(next) if *next == number => FastenerState::Next,
            _ if open.contains(&number) => FastenerState::Ahead,
            _ => FastenerState::Done,
        };
        numbers.into_iter().map(|number| (number, state(number))).collect()
    }

    /// The pass in words: its share and its torque.
    pub fn pass_words(&self, pass: u32) -> String {
        let n_passes = self.note.passes.len();
        let aim = self.note.aim_of(pass).render(self.unit());
        match self.note.share(pass) {
            100 => format!("pass {pass} of {n_passes}: the whole torque, {aim}"),
            share => format!("pass {pass} of {n_passes}: {share} % of the torque, {aim}"),
        }
    }

    /// How many are tight, in words.
    pub fn count_words(&self) -> String {
        let n_tight = self.note.n_tight(&self.tightening.rounds);
        format!("{n_tight} of {} tight", self.note.order.len())
    }

    /// The thread that the torque is for, in words.
    pub fn thread_words(&self) -> String {
        let condition = self.note.condition.word();
        match &self.note.thread {
            Some(thread) => format!("{thread}, {condition}"),
            None => condition.to_owned(),
        }
    }

    /// The wrench as it was set last.
    pub fn wrench(&self) -> Option<&Wrench> {
        self.tightening.rounds.last().map(|round| &round.wrench)
    }

    /// What was loosened and checked again, a sentence each.
    pub fn history(&self) -> Vec<String> {
        let loosened = self.loosened.iter().map(|note| {
            let n: usize = note.superseded.iter().map(|round| round.fasteners.len()).sum();
            format!(
                "fastener {} was loosened: {}; {n} earlier entries no longer count",
                note.fastener, note.reason
            )
        });
        let rechecks = self.rechecks.iter().map(|check| {
            let judged = match &self.note.recheck {
                Some(limit) => limit.explain(&check.reading),
                None => format!("{}, kept and not judged", check.reading.echo()),
            };
            let direction = check.direction.word();
            format!("fastener {} re-checked, {direction}: {judged}", check.fastener)
        });
        loosened.chain(rechecks).collect()
    }

    /// That the torque at the fastener is not the one that the pass asks for, with the setting that
    /// gives it; `None` where it is, or where it is not known.
    pub fn out_of_pass(&self, entry: &WrenchEntry) -> Option<String> {
        let pass = self.pass()?;
        let wrench = wrench_of(entry)?;
        let wanted = self.note.keep_to(pass);
        if wanted.judge(&at_fastener(&wrench)?.torque) == Some(Side::Within) {
            return None;
        }
        let set = setting_for(&self.note.aim_of(pass), wrench.adapter.as_ref())?;
        let unit = self.unit();
        Some(format!("the pass needs {}; set it to {}", wanted.render(), set.render(unit)))
    }

    /// The wrench as typed; `adapter` as [`adapter_entry`] reads it.
    ///
    /// # Errors
    /// Which figure of the adapter cannot be read.
    pub fn entry(
        &self,
        setting: Reading,
        instrument: InstrumentSnapshot,
        adapter: Option<&str>,
        thread: Thread,
    ) -> Result<WrenchEntry, String> {
        let adapter = adapter.map(adapter_entry).transpose()?;
        Ok(WrenchEntry { instrument, setting, adapter, thread })
    }
}

/// Reads `LENGTH, EXTENSION, ANGLE`; figures that are left out are missing.
///
/// # Errors
/// The first figure that cannot be read.
pub fn adapter_entry(text: &str) -> Result<AdapterEntry, String> {
    let mut words = text.split([';', ' ']).map(|word| word.trim_matches(','));
    let mut words = words.by_ref().filter(|word| !word.is_empty());
    let mut next = |unit| match words.next() {
        Some("?" | "-") | None => Ok(None),
        Some(word) => Reading::parse(word, unit).map(Some).map_err(|e| format!("`{word}`: {e}")),
    };
    Ok(AdapterEntry { length: next(LENGTH)?, extension: next(LENGTH)?, angle: next(ANGLE)? })
}

/// An adapter as it was typed.
pub fn adapter_text(adapter: &Adapter) -> String {
    [&adapter.length, &adapter.extension, &adapter.angle].map(|r| r.text.replace(' ', "")).join(" ")
}

/// The wrench with all figures of its adapter; `None` while one is missing.
fn wrench_of(entry: &WrenchEntry) -> Option<Wrench> {
    let adapter = match &entry.adapter {
        None => None,
        Some(AdapterEntry { length, extension, angle }) => Some(Adapter {
            length: length.clone()?,
            extension: extension.clone()?,
            angle: angle.clone()?,
        }),
    };
    Some(Wrench {
        instrument: entry.instrument.clone(),
        setting: entry.setting.clone(),
        adapter,
        thread: entry.thread,
    })
}

/// What a wrench gives at the fastener, in words.
pub fn wrench_words(entry: &WrenchEntry, unit: Unit) -> String {
    let setting = entry.setting.echo();
    if entry.adapter.is_none() {
        return format!("{setting} at the fastener");
    }
    let Some(wrench) = wrench_of(entry) else {
        return format!("{setting} on the wrench; the adapter's figures are not all there");
    };
    match at_fastener(&wrench) {
        None => format!("{setting} on the wrench; this adapter turns nothing"),
        Some(at) => {
            let rounded = if at.exact { String::new() } else { format!(" ({DIGITS} digits)") };
            let torque = at.torque.render(unit);
            format!("{setting} on the wrench gives {torque}{rounded} at the fastener")
        }
    }
}

/// Reads `FASTENER DIRECTION FIGURE`.
///
/// # Errors
/// What is not understood.
pub fn recheck_entry(text: &str, unit: Unit) -> Result<(u32, Direction, Reading), String> {
    let form = "write the fastener, the direction and the figure, such as `5 tightening 34`";
    let mut words = text.splitn(3, ' ');
    let fastener = words.next().and_then(|word| word.parse().ok()).ok_or(form)?;
    let direction = words.next().and_then(Direction::parse).ok_or(form)?;
    let reading = Reading::parse(words.next().ok_or(form)?, unit).map_err(|e| e.to_string())?;
    Ok((fastener, direction, reading))
}

/// Reads `FASTENER REASON`.
///
/// # Errors
/// What is not understood.
pub fn loosened_entry(text: &str) -> Result<(u32, String), String> {
    let form = "write the fastener and the reason, such as `5 the washer was missing`";
    let (fastener, reason) = text.split_once(' ').ok_or(form)?;
    let fastener = fastener.parse().map_err(|_not_a_number| form)?;
    Ok((fastener, reason.trim().to_owned()))
}
