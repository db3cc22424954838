//! Plays a rehearsal through a real session: same decisions, same journal, same signatures.

mod tighten;

use std::collections::BTreeSet;

use super::{Session, SubmitError};
use crate::ids::{Name, PartId};
use crate::ports::Signer;
use crate::procedure::model::{EntryKind, Verdict};
use crate::rehearsal::model::{
    OutcomeWord, Rehearsal, Scripted, ScriptedAnswer, fits, fits_within,
};
use crate::units::{EntryFault, Reading, Unit};
use crate::walk::accept::snapshot;
use crate::walk::disposition::{self, Said, Settled};
use crate::walk::event::Laid;
use crate::walk::flow::{Ask, Instance, InstanceIdx};
use crate::walk::measure::MeasureNote;
use crate::walk::place::{Answers as _, Stand, judge};
use crate::walk::{Address, Answer, Command, Refusal, exceptions, instruments, safety};

/// Why a rehearsal could not be played on.
#[derive(Debug, thiserror::Error)]
pub enum PlayError {
    /// The script has no answer where judgement is asked.
    #[error(
        "the script has no answer for `{address}`, which asks to {asked}; add one under `answers`"
    )]
    NotScripted {
        /// The instance.
        address: Address,
        /// The action's word.
        asked: &'static str,
    },
    /// The scripted answer is of another kind.
    #[error("the script's answer for `{address}` does not fit: the step asks to {asked}")]
    DoesNotFit {
        /// The instance.
        address: Address,
        /// The action's word.
        asked: &'static str,
    },
    /// The scripted figure cannot be read.
    #[error("the script's figure for `{address}` is refused: {fault}")]
    Figure {
        /// The instance.
        address: Address,
        /// Why.
        fault: EntryFault,
    },
    /// Readings that are none, or not as many as asked for.
    #[error("at `{address}`: {why}")]
    Readings {
        /// The instance.
        address: Address,
        /// Why.
        why: String,
    },
    /// The instrument is not listed.
    #[error(
        "the script uses instrument `{instrument}` at `{address}`, which is not on the shop's list"
    )]
    Instrument {
        /// The instance.
        address: Address,
        /// The mark.
        instrument: String,
    },
    /// A second reading is asked, and the script names nobody for it.
    #[error("`{address}` asks for a second person's reading; name one under `second`")]
    NobodySecond {
        /// The instance.
        address: Address,
    },
    /// A move was refused or not saved.
    #[error("at `{address}`: {error}")]
    Submit {
        /// The instance, or what was done instead of one.
        address: String,
        /// Why.
        error: Box<SubmitError>,
    },
}

/// How far to play.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Until {
    /// To the end or a stop.
    Over,
    /// Until this instance is asked.
    Asked(Address),
}

/// The keys of the two people of a script.
pub struct Hands<'a> {
    /// The performer's.
    pub performer: &'a dyn Signer,
    /// The mechanic's.
    pub mechanic: &'a dyn Signer,
    /// That of whoever takes second readings.
    pub second: Option<&'a dyn Signer>,
}

/// Plays `script` in `session` until it is over or the place is reached. Returns the scripted
/// answers that were used, by index.
///
/// # Errors
/// The first thing that cannot be played; what was played before stays in the journal.
pub fn play(
    session: &mut Session,
    script: &Rehearsal,
    hands: &Hands<'_>,
    until: &Until,
) -> Result<BTreeSet<usize>, PlayError> {
    let mut player =
        Player { session, script, hands, used: BTreeSet::new(), is_away: false, n_called_away: 0 };
    if player.session.state().person.is_none() {
        let performer = &script.performer.value;
        let identified = player.session.identify(performer, hands.performer);
        done("identify", identified)?;
    }
    while let Some(index) = player.session.state().walk.asked() {
        let address = player.session.files().flow.instance(index).address.clone();
        if *until == Until::Asked(address.clone()) {
            break;
        }
        player.step(index, &address)?;
    }
    player.dispositions()?;
    Ok(player.used)
}

struct Player<'a> {
    session: &'a mut Session,
    script: &'a Rehearsal,
    hands: &'a Hands<'a>,
    used: BTreeSet<usize>,
    /// A mechanic works in the place of the performer.
    is_away: bool,
    /// How often a move came too late for a state that it needs.
    n_called_away: usize,
}

/// The most moves that may come too late: a state that always runs out first ends no rehearsal.
const N_CALLED_AWAY_MAX: usize = 200;

impl Player<'_> {
    /// A move at a step, or nothing where a state ran out of time before it: that is seen to first.
    fn submit(&mut self, address: &Address, command: Command) -> Result<(), PlayError> {
        let result = self.session.submit(command);
        self.came_in_time(address, result).map(drop)
    }

    /// A move at a step. False where a state ran out of time before it or with it: what sets the state
    /// is asked again first, and the step goes on where it was left.
    fn submit_part(&mut self, address: &Address, command: Command) -> Result<bool, PlayError> {
        let result = self.session.submit(command);
        Ok(self.came_in_time(address, result)? && !self.is_called_away(address))
    }

    /// False where a move was refused because the step it belongs to is not asked any more.
    fn came_in_time(
        &mut self,
        address: &Address,
        result: Result<(), SubmitError>,
    ) -> Result<bool, PlayError> {
        // A state that runs out with this very move is entered with the next one.
        let runs_out = matches!(result, Err(SubmitError::Refused(Refusal::Expired(_))));
        let is_late = matches!(result, Err(SubmitError::Refused(_)))
            && self.n_called_away < N_CALLED_AWAY_MAX
            && (runs_out || self.is_called_away(address));
        if is_late {
            self.n_called_away = self.n_called_away.saturating_add(1);
            return Ok(false);
        }
        done(&address.to_string(), result).map(|()| true)
    }

    #[expect(clippy::too_many_lines, reason = "one arm a question and its scripted answer")]
    fn step(&mut self, index: InstanceIdx, address: &Address) -> Result<(), PlayError> {
        let instance = self.session.files().flow.instance(index).clone();
        self.come_to_work(address, &instance)?;
        if let Some(shown) = self.session.to_take_up() {
            return self.submit(address, Command::TakeUp { shown });
        }
        if !safety::is_read(self.session.files(), self.session.state(), index) {
            return self.submit(address, Command::AcknowledgeSafety { address: address.clone() });
        }
        if self.session.state().asks_to_confirm() {
            return self.submit(address, Command::Confirm { address: address.clone() });
        }
        if let Some(role) = instance.witness
            && !self.session.state().told.contains_key(&index)
        {
            let who = self.script.mechanic.value.clone();
            debug_assert_eq!(role, crate::ids::Role::Mechanic, "only mechanics are witnesses");
            let command = Command::TellWitness { address: address.clone(), who };
            return self.submit(address, command);
        }
        let scripted = self.scripted(address).cloned();
        if let Some(departure) = self.departure(address, scripted.as_ref()) {
            return departure;
        }
        let second = instance.ask.is_second();
        if second {
            self.change_hands(address, true)?;
            if let Some(shown) = self.session.to_take_up() {
                // What did not outlast the change of hands is verified again first.
                return self.submit(address, Command::TakeUp { shown });
            }
        }
        let answer = match (&instance.ask, scripted.as_ref().map(|s| &s.answer)) {
            (Ask::Needs(items) | Ask::Check { items, .. }, None) => {
                return self.items(address, items.len(), &[]);
            }
            (Ask::Check { items, .. }, Some(ScriptedAnswer::NotSo(not_so))) => {
                return self.items(address, items.len(), not_so);
            }
            (Ask::Build { .. }, None) => return self.stack(index, address, &[], &[]),
            (Ask::Build { .. }, Some(ScriptedAnswer::NotSo(not_so))) => {
                return self.stack(index, address, &[], not_so);
            }
            (Ask::Build { .. }, Some(ScriptedAnswer::Lots(lots))) => {
                return self.stack(index, address, lots, &[]);
            }
            (Ask::Tighten(note), Some(ScriptedAnswer::Settings(script))) => {
                return self.tighten((index, address), note, script);
            }
            (Ask::Do(_), None) => Answer::Done,
            (Ask::WorkOut(note), None) => {
                let (flow, state) = (&self.session.files().flow, self.session.state());
                Answer::WorkedOut(state.walk.worked_out(flow, state, note))
            }
            (Ask::Stop(_), None) => Answer::Stopped,
            (Ask::Hold(_), None) => return self.hold(address),
            (Ask::Wait { length_s, .. }, None) => return self.wait(index, address, *length_s),
            (Ask::Wait { .. }, Some(ScriptedAnswer::Waited(seconds))) => {
                return self.wait(index, address, *seconds);
            }
            (Ask::Look { .. }, Some(ScriptedAnswer::Found(found))) => Answer::Found(found.clone()),
            (Ask::Measure(note), Some(ScriptedAnswer::Reading { text, instrument })) => {
                self.reading(address, note, text, instrument)?
            }
            (Ask::Attach { .. }, Some(ScriptedAnswer::Attach(name))) => {
                let bytes = format!("made up for a rehearsal: {name}\n");
                let kept = self.session.keep(name, bytes.as_bytes());
                Answer::Attached(kept.map_err(|error| PlayError::Submit {
                    address: address.to_string(),
                    error: Box::new(error),
                })?)
            }
            (Ask::Attach { .. }, Some(ScriptedAnswer::NothingToAttach(reason))) => {
                Answer::NotAttached { reason: reason.clone() }
            }
            (Ask::Measure(_), Some(ScriptedAnswer::CouldNotMeasure(reason))) => {
                Answer::CouldNotMeasure { reason: reason.clone() }
            }
            (
                Ask::Enter { kind: EntryKind::Figure { unit, .. }, .. },
                Some(ScriptedAnswer::Entered(text)),
            ) => Answer::EnteredFigure(figure(address, text, *unit)?),
            (Ask::Enter { .. }, Some(ScriptedAnswer::Entered(text))) => {
                Answer::Entered(text.clone())
            }
            (Ask::Decide { .. }, Some(ScriptedAnswer::Decide { verdict, because })) => {
                let mechanic = self.script.mechanic.value.clone();
                let result = self.session.decide(
                    address,
                    (*verdict, because),
                    &mechanic,
                    self.hands.mechanic,
                );
                return self.came_in_time(address, result).map(drop);
            }
            (ask, None) => {
                return Err(PlayError::NotScripted { address: address.clone(), asked: ask.word() });
            }
            (ask, Some(_)) => {
                return Err(PlayError::DoesNotFit { address: address.clone(), asked: ask.word() });
            }
        };
        let command = Command::Answer { address: address.clone(), answer, signed: None };
        let result = self.session.submit(command);
        if !self.came_in_time(address, result)? {
            return Ok(());
        }
        if second {
            self.change_hands(address, false)?;
        }
        self.concession(address)
    }

    /// Where a step is a mechanic's and the performer is none, the mechanic who takes second readings
    /// comes to work, or the one who signs for the job. The performer comes back for the next.
    fn come_to_work(&mut self, address: &Address, instance: &Instance) -> Result<(), PlayError> {
        if matches!(instance.ask, Ask::Hold(_) | Ask::Decide { .. }) {
            return Ok(());
        }
        let performer = &self.script.performer.value;
        let flow = &self.session.files().flow;
        let people = &self.session.files().shop.people;
        // Whoever takes over verifies what does not outlast a change of hands. Sent away for that, they
        // would have to verify it again when they come back, and so on for ever.
        let is_volatile = |token| flow.tokens.get(token).is_some_and(|note| note.volatile);
        if self.is_away && instance.sets.iter().any(is_volatile) {
            return Ok(());
        }
        let may = people.iter().any(|p| p.id == *performer && p.roles.contains(&instance.by));
        let (person, key) = match (&self.script.second, self.hands.second) {
            _ if may => (performer, self.hands.performer),
            (Some(second), Some(key)) => (&second.value, key),
            _ => (&self.script.mechanic.value, self.hands.mechanic),
        };
        if self.session.state().person.as_ref() == Some(person) || may != self.is_away {
            return Ok(());
        }
        self.is_away = !may;
        let person = person.clone();
        done(&address.to_string(), self.session.identify(&person, key))
    }

    /// The one who takes second readings comes to work, or the performer comes back.
    fn change_hands(&mut self, address: &Address, second: bool) -> Result<(), PlayError> {
        let (person, key) = match (second, &self.script.second, self.hands.second) {
            (false, ..) => (self.script.performer.value.clone(), self.hands.performer),
            (true, Some(person), Some(key)) => (person.value.clone(), key),
            (true, ..) => return Err(PlayError::NobodySecond { address: address.clone() }),
        };
        done(&address.to_string(), self.session.identify(&person, key))
    }

    /// A scripted deviation.
    fn departure(
        &mut self,
        address: &Address,
        scripted: Option<&Scripted>,
    ) -> Option<Result<(), PlayError>> {
        let (is_done, reason) = match scripted.map(|s| &s.answer)? {
            ScriptedAnswer::LeftOut(reason) => (false, reason),
            ScriptedAnswer::DoneOtherwise(reason) => (true, reason),
            _ => return None,
        };
        let (mechanic, key) = (self.script.mechanic.value.clone(), self.hands.mechanic);
        let result = self.session.deviate(address, (is_done, reason), &mechanic, key);
        Some(done(&address.to_string(), result))
    }

    /// A scripted concession on the answer that was just given.
    fn concession(&mut self, address: &Address) -> Result<(), PlayError> {
        let text = address.to_string();
        let of = |a: &Scripted| matches!(a.answer, ScriptedAnswer::Concede { .. });
        let answers = &self.script.answers;
        let at = answers.iter().position(|a| of(a) && fits(&a.at.value, &text));
        let Some((index, scripted)) = at.and_then(|i| Some((i, answers.get(i)?))) else {
            return Ok(());
        };
        let ScriptedAnswer::Concede { verdict, because } = scripted.answer.clone() else {
            return Ok(());
        };
        self.used.insert(index);
        let (mechanic, key) = (self.script.mechanic.value.clone(), self.hands.mechanic);
        let result = self.session.concede(address, (verdict, &because), &mechanic, key);
        done(&text, result)
    }

    /// What the script says was done about failed results that no step shows.
    fn dispositions(&mut self) -> Result<(), PlayError> {
        for failed in disposition::open(self.session.files(), self.session.state()) {
            let address = self.session.files().flow.instance(failed.index).address.clone();
            let text = address.to_string();
            let said = |a: &Scripted| match &a.answer {
                ScriptedAnswer::Dispose { disposition, lot, because }
                    if fits(&a.at.value, &text) =>
                {
                    let (lot, reason) = (lot.clone(), because.clone());
                    Some(Said { disposition: *disposition, lot, reason })
                }
                _ => None,
            };
            let answers = self.script.answers.iter().enumerate();
            let Some((index, said)) = answers.rev().find_map(|(i, a)| Some((i, said(a)?))) else {
                continue;
            };
            self.used.insert(index);
            // One part that was replaced may settle several results at its place.
            let (files, state) = (self.session.files(), self.session.state());
            let open = disposition::at(files, state, failed.index);
            if open.is_none_or(|now| now.settled != Settled::Open) {
                continue;
            }
            let (mechanic, key) = (self.script.mechanic.value.clone(), self.hands.mechanic);
            done(&text, self.session.dispose(&address, &said, &mechanic, key))?;
        }
        Ok(())
    }

    /// The answer for `address`: an exact one first, then the first pattern that fits.
    fn scripted(&mut self, address: &Address) -> Option<&Scripted> {
        let text = address.to_string();
        let answers = &self.script.answers;
        let counts = |a: &Scripted| {
            !matches!(a.answer, ScriptedAnswer::Concede { .. } | ScriptedAnswer::Dispose { .. })
        };
        let exact = answers.iter().position(|a| counts(a) && a.at.value == text);
        let fitting = || answers.iter().position(|a| counts(a) && fits(&a.at.value, &text));
        let index = exact.or_else(fitting)?;
        self.used.insert(index);
        answers.get(index)
    }

    fn items(
        &mut self,
        address: &Address,
        n_items: usize,
        not_so: &[u32],
    ) -> Result<(), PlayError> {
        // A list that was begun before an interruption goes on where it was left.
        let state = self.session.state();
        let answered = state.walk.asked().and_then(|index| state.items.get(&index));
        let from = answered.map_or(0, std::collections::BTreeMap::len);
        for item in (0..u32::try_from(n_items).unwrap_or(u32::MAX)).skip(from) {
            let so = !not_so.contains(&item.saturating_add(1));
            let command = Command::CheckItem { address: address.clone(), item, so };
            if !self.submit_part(address, command)? {
                break;
            }
        }
        Ok(())
    }

    /// True where something must be seen again before this step goes on, because its time ran out.
    fn is_called_away(&self, address: &Address) -> bool {
        let (flow, walk) = (&self.session.files().flow, &self.session.state().walk);
        let is_asked = walk.asked().is_some_and(|index| flow.instance(index).address == *address);
        !is_asked || self.session.to_take_up().is_some()
    }

    /// Lays what is left of a stack, up to the first layer that is not so.
    fn stack(
        &mut self,
        index: InstanceIdx,
        address: &Address,
        lots: &[(Name, String)],
        not_so: &[u32],
    ) -> Result<(), PlayError> {
        let (flow, state) = (&self.session.files().flow, self.session.state());
        let due = state.walk.layers_due(flow, state, index).into_iter();
        let layers: Vec<(Name, bool)> = due.map(|note| (note.id.clone(), note.lot)).collect();
        let from = state.standing(flow, index).len();
        for ((layer, keeps_lot), number) in layers.into_iter().zip(1u32..).skip(from) {
            let so = !not_so.contains(&number);
            let lot = lots.iter().find(|(name, _)| *name == layer && so && keeps_lot);
            let laid = Laid { layer, so, lot: lot.map(|(_, lot)| lot.clone()) };
            let command = Command::LayLayer { address: address.clone(), laid };
            if !self.submit_part(address, command)? || !so {
                break;
            }
        }
        Ok(())
    }

    fn wait(
        &mut self,
        index: InstanceIdx,
        address: &Address,
        seconds: u64,
    ) -> Result<(), PlayError> {
        if !self.session.state().waits.contains_key(&index) {
            self.submit(address, Command::BeginWait { address: address.clone() })?;
        }
        // A state that ran out in the meantime is seen again first; the wait goes on by itself.
        let ended = self.session.end_wait(address, seconds);
        self.came_in_time(address, ended).map(drop)
    }

    fn hold(&mut self, address: &Address) -> Result<(), PlayError> {
        self.sign_for_work(&address.to_string())?;
        let mechanic = self.script.mechanic.value.clone();
        let result = self.session.release_hold(address, &mechanic, self.hands.mechanic);
        done(&address.to_string(), result)
    }

    fn sign_for_work(&mut self, at: &str) -> Result<(), PlayError> {
        for person in self.session.state().unsigned_people() {
            let (hands, script) = (self.hands, self.script);
            let second = script.second.as_ref().filter(|second| second.value == person);
            let key = match (second, hands.second) {
                _ if person == script.mechanic.value => hands.mechanic,
                (Some(_), Some(key)) => key,
                _ => hands.performer,
            };
            let result = self.session.sign_performed(&person, key);
            done(at, result)?;
        }
        Ok(())
    }

    fn reading(
        &mut self,
        address: &Address,
        note: &MeasureNote,
        text: &str,
        mark: &str,
    ) -> Result<Answer, PlayError> {
        let (reading, several) = note.parse(text).map_err(|fault| PlayError::Readings {
            address: address.clone(),
            why: fault.to_string(),
        })?;
        let shop = &self.session.files().shop;
        let listed = shop.instrument(mark).ok_or_else(|| PlayError::Instrument {
            address: address.clone(),
            instrument: mark.to_owned(),
        })?;
        let instrument = snapshot(listed);
        // A rehearsal is about the procedure: its instruments are found at zero.
        if instruments::zero_due(self.session.state(), listed, self.session.now()) {
            let reading = figure(address, "0", note.unit)?;
            let instrument = Box::new(instrument.clone());
            self.submit(address, Command::CheckZero { instrument, reading })?;
        }
        Ok(Answer::Read { reading, instrument, several })
    }
}

fn done(at: &str, result: Result<(), SubmitError>) -> Result<(), PlayError> {
    result.map_err(|error| PlayError::Submit { address: at.to_owned(), error: Box::new(error) })
}

fn figure(address: &Address, text: &str, unit: Unit) -> Result<Reading, PlayError> {
    Reading::parse(text, unit)
        .map_err(|fault| PlayError::Figure { address: address.clone(), fault })
}

/// One difference between what a rehearsal expects and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// What is compared.
    pub what: String,
    /// What the file says.
    pub expected: String,
    /// What came.
    pub found: String,
}

/// Compares what came of a played script with what it expects. Only what is stated is compared.
pub fn differences(session: &Session, script: &Rehearsal) -> Vec<Difference> {
    let (files, state) = (session.files(), session.state());
    let mut out = Vec::new();
    let found = match state.walk.stand {
        Stand::End => "released",
        Stand::Stopped(_) => "stopped",
        Stand::Asked(..) => "open",
    };
    let expected = match script.expect.outcome {
        OutcomeWord::Released => "released",
        OutcomeWord::Stopped => "stopped",
    };
    if found != expected {
        out.push(Difference {
            what: "outcome".to_owned(),
            expected: expected.to_owned(),
            found: found.to_owned(),
        });
    }
    for (at, verdict) in &script.expect.verdicts {
        let judged =
            Address::parse(&at.value).and_then(|address| files.flow.find(&address)).and_then(
                |index| judge(&state.walk.ask(&files.flow, state, index), state.answer(index)?),
            );
        if judged != Some(*verdict) {
            out.push(Difference {
                what: at.value.clone(),
                expected: verdict.word().to_owned(),
                found: judged.map_or("no verdict", Verdict::word).to_owned(),
            });
        }
    }
    out.extend(script.expect.asked.iter().filter_map(|at| was_asked(session, &at.value, true)));
    out.extend(
        script.expect.not_asked.iter().filter_map(|at| was_asked(session, &at.value, false)),
    );
    if let Some(parts) = &script.expect.parts {
        let expected: BTreeSet<(PartId, String)> = parts.iter().cloned().collect();
        let found: BTreeSet<(PartId, String)> = exceptions::parts_needed(files, state)
            .into_iter()
            .map(|needed| (needed.part, needed.position))
            .collect();
        for (part, position) in expected.symmetric_difference(&found) {
            let is_expected = expected.contains(&(part.clone(), position.clone()));
            let word = |there: bool| if there { "needed" } else { "not needed" }.to_owned();
            out.push(Difference {
                what: format!("part {part} {position}").trim_end().to_owned(),
                expected: word(is_expected),
                found: word(!is_expected),
            });
        }
    }
    out
}

/// Whether the walk came to what a pattern names, held against what is expected.
fn was_asked(session: &Session, pattern: &str, expected: bool) -> Option<Difference> {
    let (flow, state) = (&session.files().flow, session.state());
    let named =
        |index: InstanceIdx| fits_within(pattern, &flow.instance(index).address.to_string());
    let word = |asked: bool| if asked { "asked" } else { "not asked" }.to_owned();
    let asked = state.walk.path.iter().any(|index| named(*index));
    let found = if !asked && !(0..flow.instances.len()).any(named) {
        "no such step or section in this procedure".to_owned()
    } else if asked == expected {
        return None;
    } else {
        word(asked)
    };
    Some(Difference { what: pattern.to_owned(), expected: word(expected), found })
}

/// The scripted answers that nothing asked for, by their index, but for what a case took over from
/// the story of its file.
pub fn unused(script: &Rehearsal, used: &BTreeSet<usize>) -> Vec<usize> {
    let answers = script.answers.iter().enumerate();
    answers
        .filter(|(index, answer)| !used.contains(index) && !answer.is_of_story)
        .map(|(index, _)| index)
        .collect()
}
