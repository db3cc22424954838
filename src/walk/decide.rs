//! Decides a person's move: the events that it makes, or the rule that it breaks.
//!
//! Signatures are only read here (who, what about); `record` checks their bytes.

mod tighten;

use super::accept;
use super::address::Address;
use super::command::Command;
use super::disposition;
use super::event::{Answer, Entry, Event, Judged, Laid, Meaning, Signed};
use super::exceptions;
use super::flow::{Ask, Instance, InstanceIdx};
use super::hands;
use super::job::{Files, JobState};
use super::place::Answers as _;
use super::refusal::Refusal;
use super::{safety, stack};
use crate::ids::{Moment, Name, Now, PersonId, Role};
use crate::procedure::model::Verdict;
use crate::shop::model::Standing;
use crate::units::duration::spoken_duration;

/// What `command` makes of the job, at the time `now`.
///
/// The first event may be that the clock went back. All events belong to the person that
/// [`actor`] names.
///
/// # Errors
/// The first rule that the move breaks.
pub fn decide(
    files: &Files,
    state: &JobState,
    command: &Command,
    now: impl Into<Now>,
) -> Result<Vec<Event>, Refusal> {
    let clocks = now.into();
    let now = clocks.wall;
    if state.released.is_some() {
        return Err(Refusal::JobReleased);
    }
    let mut events = Vec::new();
    match hands::due(files, state, now) {
        None => {}
        Some(Event::TokenExpired { token, .. }) => return Err(Refusal::Expired(token)),
        Some(clock) => events.push(clock),
    }
    let (late, command) = command.split_late();
    let observed = late.map_or(now, |late| late.observed);
    let decision = Decision { files, state, now, observed, clocks };
    decision.in_hand(command)?;
    let event = decision.event(command)?;
    if let Some(late) = late {
        super::late::check(&files.flow, state, late, (command, now))?;
    }
    events.push(event);
    Ok(events)
}

/// The entries that `command` makes at the time `now`, numbered on from the state.
///
/// # Errors
/// As [`decide`].
pub fn decided(
    files: &Files,
    state: &JobState,
    command: &Command,
    now: Now,
) -> Result<Vec<Entry>, Refusal> {
    let events = decide(files, state, command, now)?;
    let by = actor(state, command);
    let last = events.len().saturating_sub(1);
    let entry = |(i, event): (usize, Event)| Entry {
        n: state.n_entries.saturating_add(i as u64),
        at: now.wall,
        by: by.clone(),
        // A clock that went back comes first, and is the program's own.
        late: command.split_late().0.filter(|_| i == last).cloned(),
        event,
    };
    Ok(events.into_iter().enumerate().map(entry).collect())
}

/// Who the entries of `command` belong to: the signer of a signed move, else the person at work.
pub fn actor(state: &JobState, command: &Command) -> Option<PersonId> {
    match command.split_late().1 {
        Command::Identify(signed)
        | Command::SignPerformed(signed)
        | Command::Resume { signed, .. }
        | Command::Concede { signed, .. }
        | Command::Dispose { signed, .. }
        | Command::Answer { signed: Some(signed), .. }
        | Command::Correct { signed: Some(signed), .. } => Some(signed.statement.signer.clone()),
        Command::AcknowledgeSafety { .. }
        | Command::CheckItem { .. }
        | Command::LayLayer { .. }
        | Command::SetWrench { .. }
        | Command::Tighten { .. }
        | Command::Recheck { .. }
        | Command::Loosen { .. }
        | Command::Answer { signed: None, .. }
        | Command::Correct { signed: None, .. }
        | Command::Confirm { .. }
        | Command::Halt { .. }
        | Command::Pause { .. }
        | Command::TakeUp { .. }
        | Command::TellWitness { .. }
        | Command::AddEvidence { .. }
        | Command::BeginWait { .. }
        | Command::EndWait { .. }
        | Command::CheckZero { .. }
        | Command::AddNote { .. }
        | Command::AcknowledgeExceptions { .. }
        | Command::Late { .. }
        | Command::MarkReleased { .. } => state.person.clone(),
    }
}

/// The roster's word on a person at a moment.
///
/// # Errors
/// Unknown, not qualified on that day, or without the role.
pub fn authorised(
    files: &Files,
    person: &PersonId,
    needed: Option<Role>,
    now: Moment,
) -> Result<(), Refusal> {
    let Some(listed) = files.shop.person(person) else {
        return Err(Refusal::UnknownPerson(person.clone()));
    };
    let day = now.day();
    if listed.standing(day) != Standing::Qualified {
        return Err(Refusal::NotQualified { name: listed.name.clone(), day: day.to_string() });
    }
    match needed {
        Some(role) if !listed.covers(role) => Err(Refusal::RoleMissing {
            name: listed.name.clone(),
            needed: role,
            held: listed.roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(", "),
        }),
        _ => Ok(()),
    }
}

/// The verdicts that a mechanic may put in the place of `rules`: a failed part is used as it is, or
/// a good one is replaced all the same. What the rules leave to a mechanic is decided there.
pub fn substitutes(ask: &Ask, rules: Verdict) -> Vec<Verdict> {
    let replaceable = !super::place::parts_of(ask).is_empty();
    match rules {
        Verdict::Accept if replaceable => vec![Verdict::Replace],
        Verdict::Accept | Verdict::Refer => Vec::new(),
        Verdict::Rework | Verdict::Stop if replaceable => vec![Verdict::Accept, Verdict::Replace],
        Verdict::Rework | Verdict::Stop | Verdict::Replace => vec![Verdict::Accept],
    }
}

struct Decision<'a> {
    files: &'a Files,
    state: &'a JobState,
    /// When the move is entered.
    now: Moment,
    /// When it was made; earlier where it is entered late.
    observed: Moment,
    clocks: Now,
}

impl Decision<'_> {
    fn event(&self, command: &Command) -> Result<Event, Refusal> {
        match command {
            Command::Identify(signed) => self.identify(signed),
            Command::Late { .. } => Err(Refusal::Late("it is late twice over".to_owned())),
            Command::AcknowledgeSafety { address } => self.acknowledge(address),
            Command::CheckItem { address, item, so } => self.check_item(address, *item, *so),
            Command::LayLayer { address, laid } => self.lay_layer(address, laid),
            Command::SetWrench { address, wrench } => self.set_wrench(address, wrench),
            Command::Tighten { address, tight } => self.tighten(address, tight),
            Command::Recheck { address, fastener, direction, reading, instrument } => {
                self.recheck(address, (*fastener, *direction), reading, instrument)
            }
            Command::Loosen { address, fastener, reason } => {
                self.loosen(address, *fastener, reason)
            }
            Command::Answer { address, answer, signed } => {
                self.answer(address, answer, signed.as_deref())
            }
            Command::Correct { address, answer, reason, signed } => {
                self.correct(address, answer, reason, signed.as_deref())
            }
            Command::Confirm { address } => self.confirm(address),
            Command::Concede { address, verdict, reason, signed } => {
                self.concede(address, *verdict, reason, signed)
            }
            Command::Dispose { address, said, signed } => {
                disposition::check(self.files, self.state, address, said, signed)?;
                let signer = &signed.statement.signer;
                authorised(self.files, signer, Some(Role::Mechanic), self.now)?;
                Ok(Event::Disposed {
                    address: address.clone(),
                    said: said.clone(),
                    signed: signed.clone(),
                })
            }
            Command::Halt { standing, reason } => self.halt(standing.as_ref(), reason),
            Command::Resume { reason, signed } => self.resume(reason, signed),
            Command::Pause { reason } => {
                self.worker(None)?;
                accept::line("the reason", reason)?;
                Ok(Event::Paused { reason: reason.clone() })
            }
            Command::TakeUp { shown } => {
                self.worker(None)?;
                if !self.state.take_up_due(self.now) {
                    return Err(Refusal::NothingToTakeUp);
                }
                if hands::lines(self.files, self.state) != *shown {
                    return Err(Refusal::TakeUpChanged);
                }
                Ok(Event::TakenUp { shown: shown.clone() })
            }
            Command::TellWitness { address, who } => self.tell_witness(address, who),
            Command::AddEvidence { address, evidence } => {
                self.worker(None)?;
                accept::evidence(evidence)?;
                self.known(address.as_ref())?;
                Ok(Event::EvidenceAdded { address: address.clone(), evidence: evidence.clone() })
            }
            Command::BeginWait { address } => self.begin_wait(address),
            Command::EndWait { address } => self.end_wait(address),
            Command::CheckZero { instrument, reading } => {
                self.worker(None)?;
                let so = super::instruments::zero(self.files, instrument, reading, self.now)?;
                let (instrument, reading) = ((**instrument).clone(), reading.clone());
                Ok(Event::ZeroChecked { instrument, reading, so })
            }
            Command::AddNote { address, text } => self.add_note(address.as_ref(), text),
            Command::SignPerformed(signed) => self.sign_performed(signed),
            Command::AcknowledgeExceptions { shown } => self.acknowledge_exceptions(shown),
            Command::MarkReleased { record, signature } => {
                self.releasable()?;
                let (n, person, _) =
                    self.state.exceptions_seen.as_ref().ok_or(Refusal::ExceptionsChanged)?;
                if n.saturating_add(1) != self.state.n_entries
                    || Some(person) != self.state.person.as_ref()
                {
                    return Err(Refusal::ExceptionsChanged);
                }
                Ok(Event::Released { record: *record, signature: *signature })
            }
        }
    }

    /// Whether the work is in the hands of whoever moves, and may go on at all.
    fn in_hand(&self, command: &Command) -> Result<(), Refusal> {
        let works = match command {
            Command::AcknowledgeSafety { .. }
            | Command::CheckItem { .. }
            | Command::LayLayer { .. }
            | Command::SetWrench { .. }
            | Command::Tighten { .. }
            | Command::Recheck { .. }
            | Command::Loosen { .. }
            | Command::Answer { signed: None, .. }
            | Command::Correct { signed: None, .. }
            | Command::Confirm { .. }
            | Command::TellWitness { .. }
            | Command::BeginWait { .. }
            | Command::EndWait { .. }
            | Command::CheckZero { .. } => true,
            Command::Answer { signed: Some(_), .. }
            | Command::Correct { signed: Some(_), .. }
            | Command::Concede { .. }
            | Command::Dispose { .. }
            | Command::Pause { .. } => {
                return self.not_halted();
            }
            Command::Identify(_)
            | Command::Late { .. }
            | Command::SignPerformed(_)
            | Command::AddEvidence { .. }
            | Command::AddNote { .. }
            | Command::Halt { .. }
            | Command::Resume { .. }
            // Whoever lets stopped work go on has looked at it first.
            | Command::TakeUp { .. }
            | Command::AcknowledgeExceptions { .. }
            | Command::MarkReleased { .. } => false,
        };
        if works {
            self.not_halted()?;
            if self.state.take_up_due(self.now) {
                return Err(Refusal::TakeUpFirst);
            }
        }
        Ok(())
    }

    fn not_halted(&self) -> Result<(), Refusal> {
        match self.state.halted() {
            None => Ok(()),
            Some(halt) => Err(Refusal::Halted {
                reason: halt.reason.clone(),
                safe_state: halt.safe_state.clone(),
            }),
        }
    }

    fn halt(&self, standing: Option<&Name>, reason: &str) -> Result<Event, Refusal> {
        self.worker(None)?;
        self.not_halted()?;
        accept::line("the reason", reason)?;
        let asked = self.state.walk.asked().map(|index| self.files.flow.instance(index));
        if let Some(name) = standing
            && !asked.is_some_and(|i| i.standing.iter().any(|note| note.id == *name))
        {
            return Err(Refusal::NoSuchStanding(name.clone()));
        }
        let safe_state = asked.and_then(|instance| instance.safe_state.as_deref());
        Ok(Event::WorkHalted {
            address: asked.map(|instance| instance.address.clone()),
            standing: standing.cloned(),
            reason: reason.to_owned(),
            safe_state: safe_state.unwrap_or(hands::NO_SAFE_STATE).to_owned(),
        })
    }

    fn resume(&self, reason: &str, signed: &Signed) -> Result<Event, Refusal> {
        if self.state.halted().is_none() {
            return Err(Refusal::NotHalted);
        }
        accept::line("the reason", reason)?;
        let statement = &signed.statement;
        if statement.meaning != (Meaning::Resumed { reason: reason.to_owned() }) {
            return Err(Refusal::Signature("it must say that the work may go on, and why"));
        }
        authorised(self.files, &statement.signer, Some(Role::Mechanic), self.now)?;
        Ok(Event::WorkResumed { reason: reason.to_owned(), signed: Box::new(signed.clone()) })
    }

    fn worker(&self, needed: Option<Role>) -> Result<PersonId, Refusal> {
        let person = self.state.person.clone().ok_or(Refusal::NotIdentified)?;
        authorised(self.files, &person, needed, self.now)?;
        Ok(person)
    }

    fn identify(&self, signed: &Signed) -> Result<Event, Refusal> {
        if signed.statement.meaning != Meaning::Identified {
            return Err(Refusal::Signature("it must say who works from here on"));
        }
        authorised(self.files, &signed.statement.signer, None, self.now)?;
        Ok(Event::Identified(Box::new(signed.clone())))
    }

    /// The instance that is asked, when `address` names it.
    fn asked(&self, address: &Address) -> Result<(InstanceIdx, &Instance), Refusal> {
        let index =
            self.files.flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
        match self.state.walk.asked() {
            None => Err(Refusal::JobAtEnd),
            Some(_) if self.state.walk.open.contains(&index) => {
                Ok((index, self.files.flow.instance(index)))
            }
            Some(asked) => Err(Refusal::StepNotOpen {
                address: address.clone(),
                asked: Some(self.files.flow.instance(asked).address.clone()),
            }),
        }
    }

    fn acknowledge(&self, address: &Address) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(None)?;
        if safety::is_read(self.files, self.state, index) {
            return Err(Refusal::NothingToAcknowledge);
        }
        let text = safety::hash(&safety::read_by(self.files, instance, Some(&person))?);
        Ok(Event::SafetyAcknowledged { address: address.clone(), text })
    }

    /// What every answer needs, whatever it says.
    fn open(&self, index: InstanceIdx, instance: &Instance) -> Result<(), Refusal> {
        if !safety::is_read(self.files, self.state, index) {
            return Err(Refusal::SafetyNotRead);
        }
        if let Some(role) = instance.witness
            && !self.state.told.contains_key(&index)
        {
            return Err(Refusal::WitnessNotTold(role));
        }
        match instance.needs.iter().find(|t| !self.state.walk.tokens.contains(*t)) {
            Some(token) => Err(Refusal::TokenMissing(token.clone())),
            None => Ok(()),
        }
    }

    fn check_item(&self, address: &Address, item: u32, so: bool) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(Some(instance.by))?;
        if self.state.must_confirm(index) {
            return Err(Refusal::ConfirmFirst);
        }
        self.open(index, instance)?;
        let Some(items) = instance.ask.items() else {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        };
        // In order, one at a time: the next item is the first without an answer.
        let answered = self.state.items.get(&index).map_or(0, std::collections::BTreeMap::len);
        let next = u32::try_from(answered).unwrap_or(u32::MAX);
        if item != next || answered >= items.len() {
            return Err(Refusal::ItemNotOpen { item, n_items: items.len() });
        }
        if matches!(instance.ask, Ask::Needs(_)) && !so {
            return Err(Refusal::BadText {
                what: "what the job needs",
                why: "must be at hand before step 1; fetch it, then confirm the line",
            });
        }
        let event = Event::ItemChecked { address: address.clone(), item, so, judged: None };
        if answered.saturating_add(1) < items.len() {
            return Ok(event);
        }
        let mut all: Vec<bool> =
            self.state.items.get(&index).map(|m| m.values().copied().collect()).unwrap_or_default();
        all.push(so);
        let verdict = self.verdict(index, &Answer::Items(all));
        // Any judgement marks the last item; what it says is worked out from the state after.
        let marked = Event::ItemChecked {
            address: address.clone(),
            item,
            so,
            judged: Some(Judged { verdict, next: super::event::Next::End }),
        };
        let judged = self.judged(verdict, marked, Some(&person));
        Ok(Event::ItemChecked { address: address.clone(), item, so, judged: Some(judged) })
    }

    fn lay_layer(&self, address: &Address, laid: &Laid) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(Some(instance.by))?;
        if self.state.must_confirm(index) {
            return Err(Refusal::ConfirmFirst);
        }
        self.open(index, instance)?;
        if !matches!(instance.ask, Ask::Build { .. }) {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        }
        let flow = &self.files.flow;
        let due = self.state.walk.layers_due(flow, self.state, index);
        let standing = self.state.standing(flow, index);
        let next = due.get(standing.len()).copied();
        let Some(note) = next.filter(|note| note.id == laid.layer) else {
            return Err(stack::not_open(&laid.layer, next));
        };
        stack::lot_fits(note, laid)?;
        let build =
            |judged| Event::LayerLaid { address: address.clone(), laid: laid.clone(), judged };
        if laid.so && standing.len().saturating_add(1) < due.len() {
            return Ok(build(None));
        }
        let mut all: Vec<Laid> = standing.into_iter().map(|note| note.laid.clone()).collect();
        all.push(laid.clone());
        let verdict = self.verdict(index, &Answer::Built(all));
        let draft = build(Some(Judged { verdict, next: super::event::Next::End }));
        Ok(build(Some(self.judged(verdict, draft, Some(&person)))))
    }

    fn answer(
        &self,
        address: &Address,
        answer: &Answer,
        signed: Option<&Signed>,
    ) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        if self.state.must_confirm(index) {
            return Err(Refusal::ConfirmFirst);
        }
        let in_parts = instance.ask.items().is_some()
            || matches!(instance.ask, Ask::Build { .. } | Ask::Tighten(_));
        if in_parts && !matches!(answer, Answer::Deviated { .. }) {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        }
        let deviates = matches!(answer, Answer::Deviated { .. });
        let person = if instance.ask.is_signed() || deviates {
            let signed =
                signed.ok_or(Refusal::Signature("a mechanic signs to decide or to release"))?;
            self.signed_answer(index, instance, answer, signed)?
        } else {
            if signed.is_some() {
                return Err(Refusal::Signature("this step takes none"));
            }
            self.worker(Some(instance.by))?
        };
        self.open(index, instance)?;
        accept::check(self.files, self.state, instance, answer, self.observed)?;
        let build = |judged| Event::Answered {
            address: address.clone(),
            answer: answer.clone(),
            judged,
            signed: signed.cloned().map(Box::new),
        };
        let verdict = self.verdict(index, answer);
        let draft = build(Judged { verdict, next: super::event::Next::End });
        Ok(build(self.judged(verdict, draft, Some(&person))))
    }

    /// Checks who signs a decision or a hold and what the signature is about.
    fn signed_answer(
        &self,
        index: InstanceIdx,
        instance: &Instance,
        answer: &Answer,
        signed: &Signed,
    ) -> Result<PersonId, Refusal> {
        let statement = &signed.statement;
        if statement.address.as_ref() != Some(&instance.address) {
            return Err(Refusal::Signature("it is about another step"));
        }
        let deviates = matches!(answer, Answer::Deviated { .. });
        let role = if deviates { Role::Mechanic } else { instance.by };
        authorised(self.files, &statement.signer, Some(role), self.now)?;
        match (answer, &statement.meaning) {
            (Answer::Released, Meaning::HoldReleased) => {
                if let Some(person) = self.state.unsigned_people().into_iter().next() {
                    return Err(Refusal::WorkNotSigned(person));
                }
                if self.worked_before(index, &statement.signer) {
                    return Err(Refusal::SamePerson(statement.signer.clone()));
                }
            }
            (
                Answer::Decided { verdict, reason },
                Meaning::Decided { verdict: said, reason: why },
            ) if verdict == said && reason == why => {}
            (Answer::Deviated { done, reason }, Meaning::Deviated { done: said, reason: why })
                if done == said && reason == why => {}
            _ => return Err(Refusal::Signature("it says something else than the answer")),
        }
        Ok(statement.signer.clone())
    }

    /// True when `person` answered a step that the hold `index` covers: those before it in its
    /// section.
    fn worked_before(&self, index: InstanceIdx, person: &PersonId) -> bool {
        let flow = &self.files.flow;
        let hold = &flow.instance(index).address;
        let section = hold.0.split_last().map_or(&[][..], |(_, before)| before);
        // What lies behind it was done already where it is asked once more.
        let mut before = self.state.walk.path.iter().take_while(|i| **i != index);
        before.any(|i| {
            let instance = flow.instance(*i);
            instance.address.0.starts_with(section)
                && self.state.held.get(*i).and_then(Option::as_ref).is_some_and(|held| {
                    !held.is_signed(&instance.ask) && held.by.as_ref() == Some(person)
                })
        })
    }

    fn correct(
        &self,
        address: &Address,
        answer: &Answer,
        reason: &str,
        signed: Option<&Signed>,
    ) -> Result<Event, Refusal> {
        let index =
            self.files.flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
        let instance = self.files.flow.instance(index);
        let Some(held) = self.state.held.get(index).and_then(Option::as_ref) else {
            return Err(Refusal::NothingToCorrect(address.clone()));
        };
        accept::line("the reason", reason)?;
        let person = match (&instance.ask, signed) {
            (Ask::Hold(_), _) => return Err(Refusal::HoldNotCorrected),
            (Ask::Tighten(_), _) => return Err(Refusal::TightenedNotCorrected),
            (Ask::WorkOut(_), _) => return Err(Refusal::WorkedOutNotCorrected),
            (Ask::Wait { .. }, None) => return Err(Refusal::WaitNotCorrected),
            (Ask::Decide { .. }, Some(signed)) => {
                self.signed_answer(index, instance, answer, signed)?
            }
            (Ask::Decide { .. }, None) => return Err(Refusal::Signature("sign to decide")),
            (_, Some(signed)) if matches!(answer, Answer::Deviated { .. }) => {
                self.signed_answer(index, instance, answer, signed)?
            }
            (_, None) if matches!(answer, Answer::Deviated { .. }) => {
                return Err(Refusal::Signature("a mechanic signs that a step is left out"));
            }
            (_, Some(_)) => return Err(Refusal::Signature("this step takes none")),
            (_, None) => self.worker(Some(instance.by))?,
        };
        if held.answer == *answer {
            return Err(Refusal::SameAnswer);
        }
        accept::check(self.files, self.state, instance, answer, self.observed)?;
        let verdict = self.verdict(index, answer);
        let build = |judged| Event::Corrected {
            address: address.clone(),
            supersedes: held.n,
            answer: answer.clone(),
            reason: reason.to_owned(),
            judged,
            signed: signed.cloned().map(Box::new),
        };
        let draft = build(Judged { verdict, next: super::event::Next::End });
        Ok(build(self.judged(verdict, draft, Some(&person))))
    }

    fn begin_wait(&self, address: &Address) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        self.worker(Some(instance.by))?;
        if self.state.must_confirm(index) {
            return Err(Refusal::ConfirmFirst);
        }
        if !matches!(instance.ask, Ask::Wait { .. }) {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        }
        self.open(index, instance)?;
        match self.state.waits.get(&index) {
            Some(running) => Err(Refusal::WaitRuns(running.at.spoken())),
            None => Ok(Event::WaitBegun { address: address.clone(), boot: self.clocks.boot }),
        }
    }

    fn end_wait(&self, address: &Address) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(Some(instance.by))?;
        let Ask::Wait { length_s, .. } = &instance.ask else {
            return Err(Refusal::WrongKind { asked: instance.ask.word() });
        };
        self.open(index, instance)?;
        let running = self.state.waits.get(&index).ok_or(Refusal::WaitNotBegun)?;
        let waited = running.until(self.clocks);
        let left = length_s.saturating_sub(waited.elapsed_s);
        if left > 0 {
            return Err(Refusal::WaitNotOver {
                left: spoken_duration(left),
                whole: spoken_duration(*length_s),
            });
        }
        let answer = Answer::Waited(waited);
        let verdict = self.verdict(index, &answer);
        let build = |judged| Event::Answered {
            address: address.clone(),
            answer: answer.clone(),
            judged,
            signed: None,
        };
        let draft = build(Judged { verdict, next: super::event::Next::End });
        Ok(build(self.judged(verdict, draft, Some(&person))))
    }

    fn confirm(&self, address: &Address) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(Some(instance.by))?;
        let held = self.state.held.get(index).and_then(Option::as_ref);
        let Some(held) = held.filter(|held| held.stale) else {
            return Err(Refusal::NothingToConfirm);
        };
        self.open(index, instance)?;
        let verdict = self.verdict(index, &held.answer);
        let build = |judged| Event::Confirmed { address: address.clone(), judged };
        let draft = build(Judged { verdict, next: super::event::Next::End });
        Ok(build(self.judged(verdict, draft, Some(&person))))
    }

    /// What may stand in the place of the verdict `rules` at `instance`.
    fn concede(
        &self,
        address: &Address,
        verdict: Verdict,
        reason: &str,
        signed: &Signed,
    ) -> Result<Event, Refusal> {
        let index =
            self.files.flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
        let instance = self.files.flow.instance(index);
        let Some(role) = instance.concession else {
            return Err(Refusal::NoConcession(address.clone()));
        };
        let Some(answer) =
            self.state.answer(index).filter(|_| self.state.walk.path.contains(&index))
        else {
            return Err(Refusal::NothingToCorrect(address.clone()));
        };
        let Some(rules) = self.state.walk.judge_at(&self.files.flow, self.state, index, answer)
        else {
            return Err(Refusal::NoConcession(address.clone()));
        };
        accept::line("the reason", reason)?;
        let may = substitutes(&instance.ask, rules);
        if !may.contains(&verdict) || self.state.substitute(index) == Some(verdict) {
            let may = may.iter().map(|v| v.word()).collect::<Vec<_>>().join(", ");
            let (verdict, rules) = (verdict.word(), rules.word());
            return Err(Refusal::SubstituteNotOpen { verdict, rules, may });
        }
        let statement = &signed.statement;
        if statement.address.as_ref() != Some(address) {
            return Err(Refusal::Signature("it is about another step"));
        }
        let meaning = Meaning::Conceded { verdict, reason: reason.to_owned() };
        if statement.meaning != meaning {
            return Err(Refusal::Signature("it says something else than the decision"));
        }
        authorised(self.files, &statement.signer, Some(role), self.now)?;
        let build = |judged| Event::Conceded {
            address: address.clone(),
            verdict,
            reason: reason.to_owned(),
            judged,
            signed: Box::new(signed.clone()),
        };
        let draft = build(Judged { verdict: Some(verdict), next: super::event::Next::End });
        Ok(build(self.judged(Some(verdict), draft, Some(&statement.signer))))
    }

    fn tell_witness(&self, address: &Address, who: &PersonId) -> Result<Event, Refusal> {
        let (index, instance) = self.asked(address)?;
        let person = self.worker(Some(instance.by))?;
        let Some(role) = instance.witness.filter(|_| !self.state.told.contains_key(&index)) else {
            return Err(Refusal::NothingToWitness);
        };
        authorised(self.files, who, Some(role), self.now)?;
        if *who == person {
            return Err(Refusal::SamePerson(person));
        }
        Ok(Event::WitnessTold { address: address.clone(), who: who.clone() })
    }

    /// Refuses a step that the job does not have.
    fn known(&self, address: Option<&Address>) -> Result<(), Refusal> {
        match address {
            Some(address) if self.files.flow.find(address).is_none() => {
                Err(Refusal::NoSuchStep(address.clone()))
            }
            _ => Ok(()),
        }
    }

    fn verdict(&self, index: InstanceIdx, answer: &Answer) -> Option<Verdict> {
        self.state.walk.judge_at(&self.files.flow, self.state, index, answer)
    }

    fn add_note(&self, address: Option<&Address>, text: &str) -> Result<Event, Refusal> {
        self.worker(None)?;
        accept::note(text)?;
        self.known(address)?;
        Ok(Event::NoteAdded { address: address.cloned(), text: text.to_owned() })
    }

    fn sign_performed(&self, signed: &Signed) -> Result<Event, Refusal> {
        let signer = &signed.statement.signer;
        authorised(self.files, signer, None, self.now)?;
        let Meaning::Performed { from_n, to_n } = signed.statement.meaning else {
            return Err(Refusal::Signature("it must say which entries were carried out"));
        };
        match self.state.unsigned_range(signer) {
            None => Err(Refusal::NothingToSign(signer.clone())),
            Some((from, to)) if from == from_n && to == to_n => {
                Ok(Event::PerformedSigned(Box::new(signed.clone())))
            }
            Some(_) => Err(Refusal::Signature("it covers other entries than those that are open")),
        }
    }

    fn acknowledge_exceptions(&self, shown: &[String]) -> Result<Event, Refusal> {
        self.releasable()?;
        if exceptions::list(self.files, self.state) != shown {
            return Err(Refusal::ExceptionsChanged);
        }
        Ok(Event::ExceptionsAcknowledged { shown: shown.to_vec() })
    }

    fn releasable(&self) -> Result<(), Refusal> {
        let person = self.worker(Some(self.files.flow.signed_by))?;
        if let Some(block) = exceptions::blocks(self.files, self.state).into_iter().next() {
            return Err(Refusal::NotReady(block));
        }
        if self.state.work.contains_key(&person) {
            return Err(Refusal::SamePerson(person));
        }
        Ok(())
    }

    /// The judgement of an answer: its verdict, and where the walk goes once it is given.
    fn judged(&self, verdict: Option<Verdict>, draft: Event, by: Option<&PersonId>) -> Judged {
        let mut after = self.state.clone();
        let (n, at, by) = (after.n_entries, self.now, by.cloned());
        let entry = Entry { n, at, by, late: None, event: draft };
        after.apply(&self.files.flow, &entry);
        Judged { verdict, next: after.walk.next(&self.files.flow) }
    }
}
