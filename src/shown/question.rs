//! One step as it is put to a person: what is asked, what good looks like, what an answer comes to.
//!
//! What is typed is understood here, for the screens and the plain walk alike; whether the answer
//! may be given is for `walk`.

mod whom;

use std::collections::BTreeMap;

use chrono::NaiveDate;

pub use whom::{ForWhom, is_for_another};

use super::grid::{GridShown, SeenAt};
use super::{RingShown, StackShown};
use crate::ids::{Moment, Name, PartId, PersonId, Role};
use crate::procedure::model::{EntryKind, Mode, Verdict};
use crate::session::Session;
use crate::shop::model::Instrument;
use crate::units::{Criterion, Decision, EntryFault, Reading, Uncertainty, Unit};
use crate::walk::accept::{plausible_figure, snapshot, suits, usable};
use crate::walk::event::{InstrumentSnapshot, Several, WorkedOut};
use crate::walk::exceptions::answer_text;
use crate::walk::flow::{Ask, Deviation, InstanceIdx, StandingNote};
use crate::walk::hands::NO_SAFE_STATE;
use crate::walk::instruments::{fresh, loads, shown as zero_shown, zero_due};
use crate::walk::job::{Files, JobState};
use crate::walk::place::{Answers as _, exits_taken, judge};
use crate::walk::several::SeveralNote;
use crate::walk::{Address, Answer, Command, safety};

/// A calibration that ends within so many days is mentioned.
const DUE_SOON_DAYS: i64 = 14;

/// The question of a decision, as it is put by what was found, not by all that could have been.
pub(super) fn by_what_was_found(files: &Files, state: &JobState, mut ask: Ask) -> Ask {
    let flow = &files.flow;
    let Ask::Decide { about: Some(about), say, .. } = &mut ask else { return ask };
    let inspected = state.walk.ask(flow, state, *about);
    let Some(answer) = state.answer(*about) else { return ask };
    let taken = exits_taken(&inspected, answer).into_iter();
    let told = taken.filter(|exit| exit.verdict == Verdict::Refer);
    let told: Vec<&str> = told.filter_map(|exit| exit.say.as_deref()).collect();
    // One of several that were put together; any other question stands as it is.
    let all: Vec<&str> = say.split(" / ").collect();
    if !told.is_empty() && told.iter().all(|one| all.contains(one)) {
        *say = told.join(" ");
    }
    ask
}

/// An instrument of the kind that a reading needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InstrumentLine {
    /// As an entry keeps it.
    pub snapshot: InstrumentSnapshot,
    /// Its title.
    pub title: String,
    /// Its range.
    pub range: String,
    /// Why it may not be used today, where that is so.
    pub barred: Option<String>,
    /// In how many days its calibration ends, where that is soon.
    pub due_in_days: Option<i64>,
    /// How far from zero it may show with nothing in it, while that is still to be looked at today.
    pub zero_within: Option<String>,
    /// How often a wrench was used since its calibration, and how often it may be.
    pub loads: Option<(u32, u32)>,
}

impl InstrumentLine {
    /// The mark and the title, and the end of its calibration where that is soon.
    pub fn short(&self) -> String {
        let soon = match self.due_in_days {
            Some(0) => ", calibration ends TODAY".to_owned(),
            Some(days) => format!(", calibration ends in {days} days"),
            None => String::new(),
        };
        format!("{}  {}{soon}", self.snapshot.id, self.title)
    }

    /// One line for people.
    pub fn text(&self) -> String {
        let due: NaiveDate = self.snapshot.calibration_due;
        let soon = match self.due_in_days {
            Some(0) => ", calibration ends TODAY".to_owned(),
            Some(days) => format!(", calibration ends in {days} days"),
            None => format!(", calibrated until {due}"),
        };
        let loads = self.loads.map(|(used, most)| format!(", used {used} of {most} times"));
        let loads = loads.unwrap_or_default();
        format!("{}  {}, {}{soon}{loads}", self.snapshot.id, self.title, self.range)
    }
}

/// A parked answer that is asked again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parked {
    /// The answer.
    pub text: String,
    /// Who gave it.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// What an answer comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consequence {
    /// The decision.
    pub verdict: Verdict,
    /// In words: the decision, parts, what the person is told.
    pub words: String,
}

/// What was understood of a typed figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// Nothing was typed yet.
    Nothing,
    /// It is no figure; why.
    Fault(String),
    /// A figure.
    Figure {
        /// As an entry keeps it.
        reading: Reading,
        /// All readings, where the step asks for several.
        several: Option<Box<Several>>,
        /// In words, against the limit where there is one.
        words: String,
        /// What is said of it against the limit, where there is one.
        said: Option<Decision>,
    },
}

/// A step as it is put to a person.
#[derive(Debug, Clone)]
pub struct Question {
    /// Its address.
    pub address: Address,
    /// What is asked.
    pub ask: Ask,
    /// Who answers.
    pub by: Role,
    /// For whom it is, where whoever is at work cannot answer it alone.
    pub for_whom: Option<ForWhom>,
    /// Why it is asked once more, where it was answered before.
    pub again: Option<String>,
    /// The sections around it, outermost first.
    pub within: Vec<String>,
    /// Safety text, worst first.
    pub safety: Vec<safety::Message>,
    /// Why whoever is at work cannot acknowledge it.
    pub safety_unread: Option<String>,
    /// True once the safety text is acknowledged, or where there is none.
    pub safety_read: bool,
    /// What good looks like.
    pub expect: Option<String>,
    /// Why the step is there.
    pub why: Option<String>,
    /// Tools and supplies.
    pub uses: Vec<String>,
    /// How the machine is left when the work is stopped here.
    pub safe_state: String,
    /// What may happen here at any moment: its name, what is seen, what is done then.
    pub standing: Vec<StandingNote>,
    /// Who must be told before it is answered, and nobody was yet.
    pub witness: Option<Role>,
    /// Why it cannot be left out or done otherwise; `None` where a mechanic may allow it.
    pub no_deviation: Option<&'static str>,
    /// When what is answered here was seen, where the person said that it is entered late.
    pub late: Option<String>,
    /// Whether its section is read and done, or done and confirmed.
    pub mode: Mode,
    /// The items answered so far.
    pub items_done: Vec<bool>,
    /// For a stack: its layers.
    pub stack: Option<StackShown>,
    /// For a stack: that of the other side, with its name.
    pub beside: Option<(String, StackShown)>,
    /// For fasteners: what is done and what is due.
    pub ring: Option<RingShown>,
    /// The answer that only needs to be confirmed.
    pub parked: Option<Parked>,
    /// For what the program works out: what it comes to, and the working line by line.
    pub worked: Option<(WorkedOut, Vec<String>)>,
    /// For a flatness that is worked out: the grid of its readings.
    pub grid: Option<GridShown>,
    /// For a look that is taken again: what was found before.
    pub seen_before: Vec<SeenAt>,
    /// For readings: the instruments of the kind.
    pub instruments: Vec<InstrumentLine>,
    /// For a fit-out: the letters and what they mean. For a choice: the choices.
    pub choices: Vec<(String, String)>,
    /// For a decision: what it is about, of two readings both.
    pub about: Option<String>,
    /// For a wait whose time runs: the seconds that are left.
    pub left_s: Option<u64>,
    /// The answer in force, for a correction.
    pub answered: Option<String>,
    /// True while the limit is kept back, until the first reading is saved.
    pub sealed: bool,
    part_titles: BTreeMap<PartId, String>,
}

/// The positions of an address in words, such as `cylinder 2, side inlet`; `None` without any.
pub(super) fn positions_text(address: &Address) -> Option<String> {
    let words =
        |(kind, name): &(Name, String)| format!("{} {}", kind.spoken(), name.replace('_', " "));
    let all: Vec<String> = address.positions().map(words).collect();
    (!all.is_empty()).then(|| all.join(", "))
}

impl Question {
    /// The step `index` of the job in `session`.
    pub fn of(session: &Session, index: InstanceIdx) -> Self {
        let (files, state) = (session.files(), session.state());
        let flow = &files.flow;
        let instance = flow.instance(index);
        let now = session.now();
        let held = state.held.get(index).and_then(Option::as_ref);
        let (messages, safety_unread) =
            match safety::read_by(files, instance, state.person.as_ref()) {
                Ok(messages) => (messages, None),
                Err(refusal) => (safety::as_written(instance), Some(refusal.to_string())),
            };
        let parked = held.filter(|_| state.must_confirm(index)).map(|held| Parked {
            text: answer_text(&instance.ask, &held.answer),
            by: held.by.clone(),
            at: held.at,
        });
        let ask = state.walk.ask(flow, state, index).into_owned();
        let ask = by_what_was_found(session.files(), state, ask);
        let instruments = match &ask {
            Ask::Measure(note) => {
                let known = note.against.criterion().filter(|_| !note.blind);
                instruments(session, &note.with, (note.unit, known), now)
            }
            Ask::Tighten(note) => instruments(session, &note.with, (note.torque.unit, None), now),
            _ => Vec::new(),
        };
        let about = match &instance.ask {
            Ask::Decide { about: Some(about), .. } => Some(about_text(session, *about)),
            _ => None,
        };
        let worked = worked(session, &instance.ask);
        let sealed = held.is_none() && matches!(&ask, Ask::Measure(note) if note.blind);
        Self {
            address: instance.address.clone(),
            ask,
            by: instance.by,
            for_whom: ForWhom::of(session, index),
            again: whom::again(session, index),
            within: instance.within.clone(),
            safety: messages,
            safety_unread,
            safety_read: safety::is_read(files, state, index),
            expect: instance.expect.clone(),
            why: instance.why.clone(),
            uses: instance.uses.iter().map(Name::spoken).collect(),
            safe_state: instance.safe_state.as_deref().unwrap_or(NO_SAFE_STATE).to_owned(),
            standing: instance.standing.to_vec(),
            witness: instance.witness.filter(|_| !state.told.contains_key(&index)),
            no_deviation: match instance.deviation {
                Deviation::Allowed => None,
                Deviation::Barred(why) => Some(why),
            },
            late: session.late(&instance.address).map(|late| {
                format!("seen on {}, entered late: {}", late.observed.spoken(), late.reason)
            }),
            mode: instance.mode,
            items_done: state
                .items
                .get(&index)
                .map(|items| items.values().copied().collect())
                .unwrap_or_default(),
            stack: StackShown::of(session, index),
            beside: super::beside::stack(session, index),
            ring: RingShown::of(session, index),
            parked,
            grid: worked.as_ref().and_then(|(worked, _)| GridShown::of(worked)),
            worked,
            seen_before: super::grid::seen_before(session, index),
            instruments,
            choices: choices(session, &instance.ask),
            about,
            left_s: left_s(session, index),
            sealed,
            answered: held.map(|held| answer_text(&instance.ask, &held.answer)),
            part_titles: flow
                .equipment
                .parts
                .iter()
                .map(|(id, part)| (id.clone(), part.title.clone()))
                .collect(),
        }
    }

    /// What the last check at zero came to, in words.
    pub fn zero_said(session: &Session) -> String {
        match session.state().zero_checks.last() {
            Some(check) if !check.so => format!(
                "Saved: {} does NOT show zero. Set it to zero and look again, or take another.",
                check.instrument.id
            ),
            _ => "Saved: it shows zero.".to_owned(),
        }
    }

    /// What the reading at `address`, once it is saved, comes to against a limit that was kept back;
    /// `None` where it was not.
    pub fn revealed(session: &Session, address: &Address) -> Option<String> {
        let (files, state) = (session.files(), session.state());
        let index = files.flow.find(address)?;
        let Ask::Measure(note) = &files.flow.instance(index).ask else { return None };
        let held = state.held.get(index)?.as_ref().filter(|_| note.blind)?;
        let question = Self::of(session, index);
        let said = answer_text(&question.ask, &held.answer);
        let words = question.consequence(&held.answer)?.words;
        Some(format!("Saved: {said} -> {}", words.trim_end_matches('.')))
    }

    /// The section that it stands in, outermost first.
    pub fn breadcrumb(&self) -> String {
        self.within.join(" > ")
    }

    /// Which of several alike the person stands at, such as `cylinder 2, side inlet`, and which
    /// pass; `None` where there is one only.
    pub fn stands_at(&self) -> Option<String> {
        let positions = positions_text(&self.address);
        let passes = self
            .address
            .0
            .iter()
            .filter(|segment| segment.pass > 1)
            .map(|segment| format!("{}, time {}", segment.id.spoken(), segment.pass));
        let all: Vec<String> = positions.into_iter().chain(passes).collect();
        (!all.is_empty()).then(|| all.join(", "))
    }

    /// How a list is worked that is done before it is confirmed.
    pub fn done_first(&self) -> Option<&'static str> {
        (self.mode == Mode::DoConfirm && matches!(self.ask, Ask::Check { .. }))
            .then_some("do all of this list, then confirm it line by line")
    }

    /// The word for what the person does.
    pub fn task(&self) -> &'static str {
        match &self.ask {
            Ask::Needs(_) => "GET READY",
            Ask::Do(_) => "DO",
            Ask::Check { .. } => "CHECK",
            Ask::Look { .. } => "LOOK",
            Ask::Measure(_) => "MEASURE",
            Ask::WorkOut(_) => "WORKED OUT",
            Ask::Build { .. } => "BUILD",
            Ask::Tighten(_) => "TIGHTEN",
            Ask::Enter { .. } => "ENTER",
            Ask::Attach { .. } => "ATTACH",
            Ask::Decide { .. } => "DECIDE",
            Ask::Hold(_) => "HOLD POINT",
            Ask::Wait { .. } => "WAIT",
            Ask::Stop(_) => "STOP",
        }
    }

    /// The unit of a figure that is asked for.
    pub fn field(&self) -> Option<Unit> {
        match &self.ask {
            Ask::Measure(note) => Some(note.unit),
            Ask::Tighten(note) => Some(note.torque.unit),
            Ask::Enter { kind: EntryKind::Figure { unit, .. }, .. } => Some(*unit),
            _ => None,
        }
    }

    /// What a reading must keep to, in words.
    pub fn limit_words(&self) -> Option<String> {
        let Ask::Measure(note) = &self.ask else { return None };
        if self.sealed {
            return Some("kept back until the reading is saved".to_owned());
        }
        Some(note.against.render())
    }

    /// The rule by which readings of `instrument` are decided, in words, where it is not the plain
    /// one.
    pub fn rule_words(&self, instrument: Option<&str>) -> Option<String> {
        let (criterion, expanded) = self.criterion(instrument)?;
        if !criterion.needs_uncertainty() {
            return None;
        }
        Some(expanded.map_or_else(
            || criterion.rule.word().to_owned(),
            |uncertainty| criterion.rule.words(&criterion.limit, &uncertainty),
        ))
    }

    /// What a reading must keep to, and the uncertainty of `instrument` that it is decided with; `None`
    /// while that is kept back.
    pub fn criterion(&self, instrument: Option<&str>) -> Option<(&Criterion, Option<Uncertainty>)> {
        let Ask::Measure(note) = &self.ask else { return None };
        if self.sealed {
            return None;
        }
        let expanded = self.instrument(instrument).and_then(|line| line.snapshot.expanded());
        Some((note.against.criterion()?, expanded))
    }

    /// The instrument with this mark among those of the kind that is needed.
    pub fn instrument(&self, mark: Option<&str>) -> Option<&InstrumentLine> {
        self.instruments.iter().find(|line| Some(line.id()) == mark)
    }

    /// What is understood of `text`, typed where a figure is asked for, read with `instrument`.
    pub fn typed(&self, text: &str, instrument: Option<&str>) -> Typed {
        let Some(unit) = self.field() else { return Typed::Nothing };
        if text.trim().is_empty() {
            return Typed::Nothing;
        }
        let Ask::Measure(note) = &self.ask else {
            return match Reading::parse(text, unit) {
                Err(fault) => Typed::Fault(fault.to_string()),
                Ok(reading) => match self.implausible(std::slice::from_ref(&reading)) {
                    Some(why) => Typed::Fault(why),
                    None => {
                        Typed::Figure { words: reading.echo(), reading, several: None, said: None }
                    }
                },
            };
        };
        let (reading, several) = match note.parse(text) {
            Ok(understood) => understood,
            Err(fault) => return Typed::Fault(fault.to_string()),
        };
        let taken = several.as_ref().map_or(std::slice::from_ref(&reading), |s| &s.taken);
        if let Some(why) = self.implausible(taken) {
            return Typed::Fault(why);
        }
        let against = self.criterion(instrument);
        let against = against.as_ref().map(|(criterion, expanded)| (criterion, expanded.as_ref()));
        let mut words = against
            .map_or_else(|| reading.echo(), |(criterion, by)| criterion.explain(&reading, by));
        if let (Some(asked), Some(given)) = (&note.several, &several) {
            let (taken, count) = (given.taken.len(), asked.repeats.count);
            words = format!("{taken} of {count} readings, {}: {words}", asked.repeats.rule.word());
        }
        let said = against.and_then(|(criterion, by)| criterion.decide(&reading.value, by).ok());
        Typed::Figure { reading, several, words, said }
    }

    /// Why one of these readings cannot be right here; `None` where each can.
    fn implausible(&self, taken: &[Reading]) -> Option<String> {
        let (unit, plausible) = match &self.ask {
            Ask::Measure(note) => (note.unit, note.plausible.as_ref()),
            Ask::Enter { kind: EntryKind::Figure { unit, plausible }, .. } => {
                (*unit, plausible.as_ref())
            }
            _ => return None,
        };
        let refusal = |one| plausible_figure(one, unit, plausible).err();
        taken.iter().find_map(refusal).map(|refusal| refusal.to_string())
    }

    /// The answer that a reading makes; `None` where the step asks for no figure or the instrument
    /// is not there.
    pub fn figure_answer(
        &self,
        reading: Reading,
        several: Option<Box<Several>>,
        instrument: Option<&str>,
    ) -> Option<Answer> {
        match &self.ask {
            Ask::Measure(_) => {
                let instrument = self.instrument(instrument)?.snapshot.clone();
                Some(Answer::Read { reading, instrument, several })
            }
            Ask::Enter { kind: EntryKind::Figure { .. }, .. } => {
                Some(Answer::EnteredFigure(reading))
            }
            _ => None,
        }
    }

    /// The answer that the program works out.
    pub fn worked_out(&self) -> Option<Answer> {
        self.worked.as_ref().map(|(worked, _)| Answer::WorkedOut(worked.clone()))
    }

    /// What `answer` comes to, for answers that are an inspection.
    pub fn consequence(&self, answer: &Answer) -> Option<Consequence> {
        if self.sealed && matches!(answer, Answer::Read { .. }) {
            return None;
        }
        let verdict = judge(&self.ask, answer)?;
        let mut words = verdict_words(verdict).to_owned();
        for exit in exits_taken(&self.ask, answer) {
            let parts: Vec<String> = exit
                .parts
                .iter()
                .map(|part| self.part_titles.get(part).cloned().unwrap_or_else(|| part.spoken()))
                .collect();
            if !parts.is_empty() && exit.verdict == Verdict::Replace {
                words.push_str(" the ");
                words.push_str(&parts.join(", ").to_lowercase());
            }
            if let Some(say) = &exit.say {
                words.push_str(". ");
                words.push_str(say.trim_end_matches('.'));
            }
        }
        Some(Consequence { verdict, words })
    }

    /// The plausible range and the source of the limit, in words, where there are such.
    pub fn limit_notes(&self) -> Vec<String> {
        let range = |range: &(crate::units::Quantity, crate::units::Quantity), unit: Unit| {
            format!("plausible is {} to {}", range.0.render(unit), range.1.render(unit))
        };
        match &self.ask {
            Ask::Measure(note) => {
                let plausible = note.plausible.as_ref().map(|p| range(p, note.unit));
                let several = note.several.as_ref().map(SeveralNote::words);
                let basis = note.basis.clone().filter(|_| !self.sealed);
                several.into_iter().chain(plausible).chain(basis).collect()
            }
            Ask::Enter { kind: EntryKind::Figure { plausible: Some(p), unit }, .. } => {
                vec![range(p, *unit)]
            }
            _ => Vec::new(),
        }
    }

    /// The kind of instrument that a reading needs.
    pub fn instrument_kind(&self) -> Option<&Name> {
        match &self.ask {
            Ask::Measure(note) => Some(&note.with),
            Ask::Tighten(note) => Some(&note.with),
            _ => None,
        }
    }

    /// The instrument `id`, while it is still to be read with nothing in it today.
    pub fn zero_due(&self, id: Option<&str>) -> Option<&InstrumentLine> {
        self.instrument(id).filter(|line| line.zero_within.is_some())
    }

    /// The instruments that may be used today.
    pub fn usable_instruments(&self) -> Vec<&InstrumentLine> {
        self.instruments.iter().filter(|line| line.barred.is_none()).collect()
    }
}

impl InstrumentLine {
    /// The mark on it.
    pub fn id(&self) -> &str {
        &self.snapshot.id
    }

    /// What it is asked with nothing in it, in words.
    pub fn zero_words(&self) -> String {
        let within = self.zero_within.as_deref().unwrap_or_default();
        format!("{} with nothing in it: what does it show? Zero within {within}", self.id())
    }

    /// The move that says what it showed with nothing in it.
    ///
    /// # Errors
    /// No figure was typed.
    pub fn zero_checked(&self, typed: &str, unit: Unit) -> Result<Command, EntryFault> {
        let reading = Reading::parse(typed, unit)?;
        Ok(Command::CheckZero { instrument: Box::new(self.snapshot.clone()), reading })
    }
}

/// What is decided about: what was asked, and what was found. Of two readings both.
fn about_text(session: &Session, about: InstanceIdx) -> String {
    let (files, state) = (session.files(), session.state());
    let ask = &files.flow.instance(about).ask;
    let found = |index: InstanceIdx| {
        let held = state.held.get(index).and_then(Option::as_ref);
        held.map_or_else(
            || "no answer".to_owned(),
            |held| answer_text(&files.flow.instance(index).ask, &held.answer),
        )
    };
    let by = |index: InstanceIdx| {
        let held = state.held.get(index).and_then(Option::as_ref);
        let id = held.and_then(|held| held.by.as_ref());
        let person = id.and_then(|id| files.shop.person(id));
        person.map_or_else(|| "nobody".to_owned(), |person| person.name.clone())
    };
    if let Ask::Measure(note) = ask
        && let Some(second) = &note.second_of
    {
        let (first, last) = (second.first, about);
        return format!(
            "{} -> first, by {}: {}; second, by {}: {}; the two agree within {}",
            ask.text(),
            by(first),
            found(first),
            by(last),
            found(last),
            second.agree_within.render(note.unit)
        );
    }
    format!("{} -> {}", ask.text(), found(about))
}

/// A decision as people say it.
pub fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "good",
        Verdict::Rework => "rework, then look again",
        Verdict::Replace => "replace",
        Verdict::Refer => "ask the mechanic",
        Verdict::Stop => "stop the job",
    }
}

/// A decision as the one who decides says it.
pub fn decision_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "accept it as it is",
        Verdict::Rework => "rework it",
        Verdict::Replace => "replace it",
        Verdict::Refer => "ask again",
        Verdict::Stop => "stop the job",
    }
}

fn instruments(
    session: &Session,
    kind: &Name,
    (unit, criterion): (Unit, Option<&Criterion>),
    now: Moment,
) -> Vec<InstrumentLine> {
    let barred = |instrument: &Instrument| {
        let usable = usable(instrument, kind, now);
        let fresh = usable.and_then(|()| fresh(session.state(), instrument));
        let fit = fresh.and_then(|()| criterion.map_or(Ok(()), |c| suits(instrument, c)));
        fit.err().map(|refusal| refusal.to_string())
    };
    let of_kind = session.files().shop.instruments.iter().filter(|i| i.kind == *kind);
    of_kind
        .map(|instrument| {
            let days = instrument.calibration_due.signed_duration_since(now.day()).num_days();
            InstrumentLine {
                snapshot: snapshot(instrument),
                title: instrument.title.clone(),
                range: format!(
                    "{} to {}",
                    instrument.range.0.render(unit),
                    instrument.range.1.render(unit)
                ),
                barred: barred(instrument),
                due_in_days: (0..=DUE_SOON_DAYS).contains(&days).then_some(days),
                zero_within: instrument
                    .zero_check
                    .as_ref()
                    .filter(|_| zero_due(session.state(), instrument, now))
                    .map(zero_shown),
                loads: loads(session.state(), instrument)
                    .zip(instrument.loads.map(|listed| listed.at_most)),
            }
        })
        .collect()
}

/// The seconds that are left of the wait `index`, where its time runs.
pub(crate) fn left_s(session: &Session, index: InstanceIdx) -> Option<u64> {
    let Ask::Wait { length_s, .. } = &session.files().flow.instance(index).ask else { return None };
    let running = session.state().waits.get(&index)?;
    Some(length_s.saturating_sub(running.until(session.clocks()).elapsed_s))
}

/// What the program works out with the answers so far, and how; for the step that is asked.
fn worked(session: &Session, ask: &Ask) -> Option<(WorkedOut, Vec<String>)> {
    let Ask::WorkOut(note) = ask else { return None };
    let (flow, state) = (&session.files().flow, session.state());
    let worked = state.walk.worked_out(flow, state, note);
    let lines = match state.walk.working(flow, state, note) {
        Ok(working) => working.text().lines().map(str::to_owned).collect(),
        Err(why) => vec![format!("It cannot be worked out: {why}")],
    };
    Some((worked, lines))
}

fn choices(session: &Session, ask: &Ask) -> Vec<(String, String)> {
    match ask {
        Ask::Enter { kind: EntryKind::Choice(choices), .. } => {
            choices.iter().map(|(id, text)| (id.value.as_str().to_owned(), text.clone())).collect()
        }
        Ask::Enter { kind: EntryKind::FitOut, .. } => session
            .files()
            .flow
            .equipment
            .fit_outs
            .iter()
            .map(|(letter, fit_out)| (letter.clone(), fit_out.title.clone()))
            .collect(),
        _ => Vec::new(),
    }
}
