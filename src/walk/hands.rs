//! Whose hands the work is in: pauses, change of hands, work that is stopped, and the states of the
//! machine that do not outlast them.

use chrono::TimeDelta;

use super::address::Address;
use super::event::{Entry, Event, Expiry};
use super::flow::Flow;
use super::job::{Files, JobState};
use super::place::Stand;
use crate::ids::{Moment, Name, PersonId};

/// A break that is longer than this is a pause, in minutes.
pub const PAUSE_MINUTES: i64 = 30;
/// So many steps that were done last are looked at again.
pub const LAST_STEPS: usize = 3;
/// What is done where the procedure gives no safe state.
pub const NO_SAFE_STATE: &str =
    "Leave the machine isolated, locked, relieved and tagged, as local rules ask";

/// Work that was stopped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Halt {
    /// The entry.
    pub n: u64,
    /// When.
    pub at: Moment,
    /// Who stopped it.
    pub by: Option<PersonId>,
    /// Where.
    pub address: Option<Address>,
    /// The standing condition that was seen.
    pub standing: Option<Name>,
    /// Why.
    pub reason: String,
    /// The state in which the machine is left.
    pub safe_state: String,
    /// Who let it go on, when and why.
    pub resumed: Option<(PersonId, Moment, String)>,
}

impl Halt {
    /// In a sentence.
    pub fn text(&self) -> String {
        let at = self.address.as_ref().map_or_else(String::new, |at| format!(" at {at}"));
        let end = match &self.resumed {
            Some((person, _, why)) => format!("{person} let it go on: {why}"),
            None => format!("it was not taken up again; {}", self.safe_state),
        };
        format!("the work was stopped{at} (entry {}): {}; {end}", self.n, self.reason)
    }
}

impl JobState {
    /// Takes up a stop, a pause, a change of hands or a state that expired; true when answers
    /// changed.
    #[expect(clippy::wildcard_enum_match_arm, reason = "only a few entries touch whose hands hold")]
    pub(super) fn changed_hands(&mut self, flow: &Flow, entry: &Entry) -> bool {
        let by = entry.by.clone();
        match &entry.event {
            Event::TokenExpired { token, address, because } => {
                self.expired.push((entry.n, token.clone(), *because));
                self.expiring.retain(|(expiring, ..)| expiring != token);
                let Some(instance) = flow.find(address) else { return false };
                // It is verified again. What was seen then was so then, and signatures over it
                // stand: nothing before them has changed.
                let held = self.held.get_mut(instance).and_then(Option::take);
                if self.opened.semantics >= 3 {
                    self.to_verify.extend(held.map(|held| (instance, held)));
                }
                self.items.remove(&instance);
                self.laid.remove(&instance);
                self.tightening.remove(&instance);
                self.acknowledged.remove(&instance);
                return true;
            }
            Event::WorkHalted { address, standing, reason, safe_state } => {
                self.halts.push(Halt {
                    n: entry.n,
                    at: entry.at,
                    by,
                    address: address.clone(),
                    standing: standing.clone(),
                    reason: reason.clone(),
                    safe_state: safe_state.clone(),
                    resumed: None,
                });
                self.expire_volatile(flow, Expiry::Halt);
            }
            Event::WorkResumed { reason, signed } => {
                if let Some(halt) = self.halts.last_mut() {
                    let who = signed.statement.signer.clone();
                    halt.resumed = Some((who, entry.at, reason.clone()));
                }
            }
            Event::Paused { reason } => {
                self.in_hand(entry);
                self.paused = Some(reason.clone());
                self.expire_volatile(flow, Expiry::Pause);
            }
            Event::TakenUp { .. } => {
                let paused = self.was_paused(entry.at);
                if let Some(person) = by {
                    if self.hand.as_ref().is_some_and(|(hand, _)| *hand != person) {
                        self.expire_volatile(flow, Expiry::Hands);
                    } else if paused {
                        self.expire_volatile(flow, Expiry::Pause);
                    }
                    self.hand = Some((person, entry.at));
                }
                self.paused = None;
            }
            _ => {}
        }
        false
    }

    /// States that do not outlast a pause, a change of hands or a stop.
    fn expire_volatile(&mut self, flow: &Flow, because: Expiry) {
        for (token, _) in flow.tokens.iter().filter(|(_, note)| note.volatile) {
            let known = self.expiring.iter().any(|(expiring, ..)| expiring == token);
            if let (false, Some(setter)) = (known, self.walk.setter(flow, token)) {
                self.expiring.push((token.clone(), setter, because));
            }
        }
    }

    /// The work that is stopped now, where it is.
    pub fn halted(&self) -> Option<&Halt> {
        self.halts.last().filter(|halt| halt.resumed.is_none())
    }

    /// True when nobody had the work in hand for longer than a break takes, or it was paused.
    pub fn was_paused(&self, now: Moment) -> bool {
        let gap = TimeDelta::minutes(PAUSE_MINUTES);
        let idle = |at: &Moment| now.time().signed_duration_since(at.time()) > gap;
        self.paused.is_some() || self.hand.as_ref().is_some_and(|(_, at)| idle(at))
    }

    /// True when whoever is at work must first look at what is open and at what was done last.
    pub fn take_up_due(&self, now: Moment) -> bool {
        let Some((hand, _)) = &self.hand else { return false };
        self.was_paused(now) || self.person.as_ref().is_some_and(|person| person != hand)
    }
}

/// What time and hands alone bring, one event at a time: a clock that went back, a state that no
/// longer holds. To be entered before anything else is decided.
pub fn due(files: &Files, state: &JobState, now: Moment) -> Option<Event> {
    if state.released.is_some() {
        return None;
    }
    if now < state.last_at {
        return Some(Event::ClockWentBack { from: state.last_at });
    }
    let flow = &files.flow;
    let expired = |token: &crate::ids::TokenId, setter: usize, because| Event::TokenExpired {
        token: token.clone(),
        address: flow.instance(setter).address.clone(),
        because,
    };
    if let Some((token, setter, because)) = state.expiring.first() {
        return Some(expired(token, *setter, *because));
    }
    flow.tokens.iter().find_map(|(token, note)| {
        let lasts = TimeDelta::try_seconds(i64::try_from(note.lasts_s?).ok()?)?;
        let setter = state.walk.setter(flow, token)?;
        let set = state.held.get(setter)?.as_ref()?.observed();
        let over = now.time().signed_duration_since(set.time()) > lasts;
        over.then(|| expired(token, setter, Expiry::Time))
    })
}

/// What whoever takes the work up must look at: what is open, by whom what was done, what is in
/// force at the machine, and the steps done last. A function of the job alone, so that the lines
/// can be compared with those that were shown.
pub fn lines(files: &Files, state: &JobState) -> Vec<String> {
    let flow = &files.flow;
    let mut lines = Vec::new();
    if let Some((hand, at)) = &state.hand {
        let why = state.paused.as_ref().map_or_else(String::new, |why| format!(": {why}"));
        lines.push(format!("left: by {}, {}{why}", files.shop.called(hand), at.spoken()));
    }
    if let Some(halt) = state.halted() {
        lines.push(halt.text());
    }
    let open = super::open::open(flow, state);
    let left = state.hand.as_ref().map_or_else(String::new, |(hand, at)| {
        format!(", left by {} {}", files.shop.called(hand), at.time().format("%H:%M"))
    });
    lines.push(format!("open: {}{left}", open.what));
    lines.extend(open.rest.into_iter().map(|rest| format!("to do: {rest}")));
    if let Stand::Asked(index, _) = state.walk.stand {
        for note in flow.instance(index).standing.iter() {
            lines.push(format!("at any moment: {}: {}", note.see, note.then));
        }
    }
    for token in &state.walk.in_force {
        let Some(note) = flow.tokens.get(token) else { continue };
        let word = if note.loose { "in the machine" } else { "in force" };
        lines.push(format!("{word}: {}", note.title));
    }
    lines.extend(own_first(files, state));
    let mut done: Vec<_> = state
        .walk
        .path
        .iter()
        .filter_map(|index| Some((*index, state.held.get(*index)?.as_ref()?)))
        .collect();
    done.sort_by_key(|(_, held)| held.n);
    let sealed = state.walk.sealed(flow);
    let from = done.len().saturating_sub(LAST_STEPS);
    for (index, held) in done.into_iter().skip(from) {
        let instance = flow.instance(index);
        let what = if sealed == Some(index) {
            "taken".to_owned()
        } else {
            super::exceptions::answer_text(&instance.ask, &held.answer)
        };
        let by = held.by.as_ref().map_or_else(|| "nobody", |by| files.shop.called(by));
        lines.push(format!("done: {} -> {what}, by {by}", instance.ask.text()));
    }
    lines
}

/// What whoever takes over from another person hangs before that person's own comes off: no moment goes
/// by in which nobody's lock holds.
fn own_first<'a>(files: &'a Files, state: &'a JobState) -> impl Iterator<Item = String> + 'a {
    let from = state.hand.as_ref().map(|(hand, _)| hand);
    let from = from.filter(|hand| state.person.as_ref().is_some_and(|person| person != *hand));
    let personal = state.walk.in_force.iter().filter_map(|token| files.flow.tokens.get(token));
    let personal = personal.filter(|note| note.personal);
    personal.zip(std::iter::repeat(from)).filter_map(|(note, from)| {
        let from = files.shop.called(from?);
        Some(format!("your own first: {}: yours hangs before {from} takes theirs off", note.title))
    })
}
