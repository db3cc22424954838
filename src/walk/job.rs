//! A job as its entries make it: a fold that never refuses and never reads a clock.

mod assembly;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::address::Address;
use super::disposition::Stated;
use super::event::{Answer, Entry, Event, Evidence, Expiry, JobOpened, Laid, Meaning, Signed};
use super::flow::{Ask, Flow, InstanceIdx};
use super::hands::Halt;
use super::instruments::ZeroNote;
use super::late::{Late, LateNote};
use super::place::{Answers, Stand, Status, Walk, walk};
use super::safety::Hasty;
use super::stack::LaidNote;
use super::tighten::{LoosenedNote, RecheckNote, Tightening};
use super::wait::Running;
use crate::ids::{Moment, PersonId, Sha256, TokenId};
use crate::procedure::model::{Token, Verdict};
use crate::shop::model::Shop;

/// The files in force for a job.
#[derive(Debug, Clone)]
pub struct Files {
    /// The compiled procedure.
    pub flow: Arc<Flow>,
    /// The shop file.
    pub shop: Arc<Shop>,
}

/// An answer that is held for an instance.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The answer in force.
    pub answer: Answer,
    /// The entry that gave it.
    pub n: u64,
    /// Who gave it.
    pub by: Option<PersonId>,
    /// When it was entered.
    pub at: Moment,
    /// When it was really seen, where it was entered late.
    pub late: Option<Late>,
    /// True when it was parked and is not confirmed since.
    pub stale: bool,
    /// The entries that it superseded, oldest first.
    pub supersedes: Vec<u64>,
}

impl Held {
    /// True when the answer to `ask` is a signature, which lapses when what lay before it changes.
    pub fn is_signed(&self, ask: &Ask) -> bool {
        ask.is_signed() || matches!(self.answer, Answer::Deviated { .. })
    }
}

/// A mechanic's verdict in the place of that of the rules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conceded {
    /// The verdict.
    pub verdict: Verdict,
    /// Why.
    pub reason: String,
    /// The entry.
    pub n: u64,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
}

/// A correction as people are shown it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CorrectionNote {
    /// The entry that corrected.
    pub n: u64,
    /// The entry that was superseded.
    pub supersedes: u64,
    /// The instance.
    pub address: Address,
    /// The answer before.
    pub before: Answer,
    /// The answer since.
    pub after: Answer,
    /// Why.
    pub reason: String,
    /// Who.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// A signature that no longer counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lapsed {
    /// The instance that was signed.
    pub address: Address,
    /// The entry of the signature.
    pub n: u64,
    /// The correction that it lapsed by.
    pub by_n: u64,
}

/// A job after some entries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobState {
    /// What entry 0 says.
    pub opened: JobOpened,
    /// When the job was opened.
    pub opened_at: Moment,
    /// How many entries there are.
    pub n_entries: u64,
    /// The time of the last entry.
    pub last_at: Moment,
    /// The person at work.
    pub person: Option<PersonId>,
    /// The answers held, by instance.
    pub held: Vec<Option<Held>>,
    /// Answers whose state does not hold any more, until they are given again, by instance.
    pub to_verify: BTreeMap<InstanceIdx, Held>,
    /// Acknowledged safety texts, by instance.
    pub acknowledged: BTreeMap<InstanceIdx, Sha256>,
    /// Who has acknowledged which safety text.
    pub read_by: BTreeSet<(PersonId, Sha256)>,
    /// Safety texts that were acknowledged faster than they can be read.
    pub hasty: Vec<Hasty>,
    /// Items answered so far, by instance and item.
    pub items: BTreeMap<InstanceIdx, BTreeMap<u32, bool>>,
    /// Verdicts that stand in the place of those of the rules.
    pub conceded: BTreeMap<InstanceIdx, Conceded>,
    /// What mechanics state was done about failed results, by instance.
    pub disposed: BTreeMap<InstanceIdx, Stated>,
    /// From when on an instance may be answered: its safety text was read, its witness was told.
    pub ready_at: BTreeMap<InstanceIdx, Moment>,
    /// Entries that were made late, in order.
    pub late: Vec<LateNote>,
    /// Who was told of a witness point, and in which entry.
    pub told: BTreeMap<InstanceIdx, (u64, PersonId)>,
    /// Every time that the work was stopped, in order.
    pub halts: Vec<Halt>,
    /// Why the work was paused, while nobody has taken it up again.
    pub paused: Option<String>,
    /// Who had the work in hand last, and when.
    pub hand: Option<(PersonId, Moment)>,
    /// States that no longer hold and are not yet entered as expired, each with its setter.
    pub expiring: Vec<(TokenId, InstanceIdx, Expiry)>,
    /// States that have expired: entry, state, why.
    pub expired: Vec<(u64, TokenId, Expiry)>,
    /// Photos and files beside steps, with the entry, the person and the instance.
    pub evidence: Vec<(u64, Option<PersonId>, Option<Address>, Evidence)>,
    /// Layers laid so far, by instance.
    pub laid: BTreeMap<InstanceIdx, Vec<LaidNote>>,
    /// Tightening under way or done, by instance.
    pub tightening: BTreeMap<InstanceIdx, Tightening>,
    /// Fasteners loosened again, in order.
    pub loosened: Vec<LoosenedNote>,
    /// Re-checks of fasteners, in order.
    pub rechecks: Vec<RecheckNote>,
    /// The waits whose time runs, by instance; only the one that is asked counts.
    pub waits: BTreeMap<InstanceIdx, Running>,
    /// Readings with nothing in the instrument, in order.
    pub zero_checks: Vec<ZeroNote>,
    /// How many fasteners were tightened in this job, by the mark on the wrench.
    pub loads: BTreeMap<String, u32>,
    /// Notes, with the entry, the person and the instance.
    pub notes: Vec<(u64, Option<PersonId>, Option<Address>, String)>,
    /// Corrections, in order.
    pub corrections: Vec<CorrectionNote>,
    /// Lapsed signatures, in order.
    pub lapsed: Vec<Lapsed>,
    /// Ranges signed by performers: person, first, last entry.
    pub ranges: Vec<(PersonId, u64, u64)>,
    /// Whoever has work entries, with those that they have not signed for, in order. Kept as entries
    /// come, because it is asked with every key.
    pub work: BTreeMap<PersonId, Vec<u64>>,
    /// Sentences about the journal itself: torn tails, clocks that went back.
    pub journal_notes: Vec<(u64, String)>,
    /// The exceptions acknowledged last, by whom, at which entry.
    pub exceptions_seen: Option<(u64, PersonId, Vec<String>)>,
    /// The record's hash, once released.
    pub released: Option<Sha256>,
    /// Where the walk stands.
    pub walk: Walk,
}

impl Answers for JobState {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        self.held_of(instance).filter(|held| !held.stale).map(|held| &held.answer)
    }

    fn is_to_be_verified(&self, instance: InstanceIdx) -> bool {
        self.to_verify.contains_key(&instance)
    }

    fn substitute(&self, instance: InstanceIdx) -> Option<Verdict> {
        self.conceded.get(&instance).map(|conceded| conceded.verdict)
    }
}

/// Progress through the steps that are instantiated now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Progress {
    /// Answered and counted.
    pub done: usize,
    /// Asked now: 0 or 1.
    pub current: usize,
    /// Not reached yet.
    pub ahead: usize,
    /// Not applicable.
    pub not_applicable: usize,
    /// All of them.
    pub total: usize,
}

impl JobState {
    /// The state after entry 0.
    pub fn open(flow: &Flow, opened: JobOpened, at: Moment) -> Self {
        let n = flow.instances.len();
        Self {
            opened,
            opened_at: at,
            n_entries: 1,
            last_at: at,
            person: None,
            held: vec![None; n],
            to_verify: BTreeMap::new(),
            acknowledged: BTreeMap::new(),
            read_by: BTreeSet::new(),
            hasty: Vec::new(),
            items: BTreeMap::new(),
            conceded: BTreeMap::new(),
            disposed: BTreeMap::new(),
            ready_at: BTreeMap::new(),
            late: Vec::new(),
            told: BTreeMap::new(),
            halts: Vec::new(),
            paused: None,
            hand: None,
            expiring: Vec::new(),
            expired: Vec::new(),
            evidence: Vec::new(),
            laid: BTreeMap::new(),
            tightening: BTreeMap::new(),
            loosened: Vec::new(),
            rechecks: Vec::new(),
            waits: BTreeMap::new(),
            zero_checks: Vec::new(),
            loads: BTreeMap::new(),
            notes: Vec::new(),
            corrections: Vec::new(),
            lapsed: Vec::new(),
            ranges: Vec::new(),
            work: BTreeMap::new(),
            journal_notes: Vec::new(),
            exceptions_seen: None,
            released: None,
            walk: walk(flow, &Vec::new()),
        }
    }

    /// What is held of an instance, be it that it has to be verified again.
    pub fn held_of(&self, instance: InstanceIdx) -> Option<&Held> {
        let held = self.held.get(instance).and_then(Option::as_ref);
        held.or_else(|| self.to_verify.get(&instance))
    }

    /// The state after one more entry. Total: an entry that names nothing changes nothing but the
    /// count, so that a damaged journal can still be looked at; `verify` is what refuses it.
    pub fn apply(&mut self, flow: &Flow, entry: &Entry) {
        self.n_entries = entry.n.saturating_add(1);
        self.note_late(entry);
        let rewalk = self.note(flow, entry);
        self.last_at = entry.at;
        if rewalk {
            self.rewalk(flow);
        }
    }

    /// Takes up the entry; true when answers changed.
    #[expect(clippy::too_many_lines, reason = "one arm an event, and each says what it changes")]
    fn note(&mut self, flow: &Flow, entry: &Entry) -> bool {
        let by = entry.by.clone();
        match &entry.event {
            Event::JobOpened(_) => false,
            Event::Identified(signed) => {
                self.person = Some(signed.statement.signer.clone());
                false
            }
            Event::SafetyAcknowledged { address, text } => {
                self.in_hand(entry);
                if let Some(instance) = flow.find(address) {
                    self.acknowledge(flow, (instance, *text), entry);
                }
                false
            }
            Event::ItemChecked { address, item, so, judged } => {
                let Some(instance) = flow.find(address) else { return false };
                self.did_work(entry);
                let items = self.items.entry(instance).or_default();
                items.insert(*item, *so);
                if judged.is_none() {
                    return false;
                }
                let answer = Answer::Items(items.values().copied().collect());
                self.hold(instance, answer, entry);
                true
            }
            Event::LayerLaid { address, .. }
            | Event::WrenchSet { address, .. }
            | Event::FastenerTightened { address, .. }
            | Event::FastenerRechecked { address, .. }
            | Event::FastenerLoosened { address, .. } => {
                flow.find(address).is_some_and(|instance| self.assembled(flow, instance, entry))
            }
            Event::Answered { address, answer, signed, .. } => {
                let Some(instance) = flow.find(address) else { return false };
                if signed.is_none() {
                    self.did_work(entry);
                }
                self.hold(instance, answer.clone(), entry);
                true
            }
            Event::Corrected { address, supersedes, answer, reason, signed, .. } => {
                let Some(instance) = flow.find(address) else { return false };
                // A decision is signed where it stands, corrected or not.
                if signed.is_none() || self.opened.semantics < 2 {
                    self.did_work(entry);
                }
                self.correct(flow, (instance, *supersedes), (answer, reason), entry);
                true
            }
            Event::Confirmed { address, .. } => {
                let Some(instance) = flow.find(address) else { return false };
                self.did_work(entry);
                if let Some(Some(held)) = self.held.get_mut(instance) {
                    held.stale = false;
                }
                true
            }
            Event::Conceded { address, verdict, reason, signed, .. } => {
                let Some(instance) = flow.find(address) else { return false };
                let conceded = Conceded {
                    verdict: *verdict,
                    reason: reason.clone(),
                    n: entry.n,
                    by: signed.statement.signer.clone(),
                    at: entry.at,
                };
                self.conceded.insert(instance, conceded);
                true
            }
            Event::Disposed { address, said, signed } => {
                let Some(instance) = flow.find(address) else { return false };
                let (said, by) = (said.clone(), signed.statement.signer.clone());
                self.disposed.insert(instance, Stated { said, n: entry.n, by, at: entry.at });
                false
            }
            Event::TokenExpired { .. }
            | Event::WorkHalted { .. }
            | Event::WorkResumed { .. }
            | Event::Paused { .. }
            | Event::TakenUp { .. } => self.changed_hands(flow, entry),
            Event::WitnessTold { address, who } => {
                self.in_hand(entry);
                if let Some(instance) = flow.find(address) {
                    self.told.insert(instance, (entry.n, who.clone()));
                    self.ready_at.insert(instance, entry.at);
                }
                false
            }
            Event::EvidenceAdded { address, evidence } => {
                self.did_work(entry);
                self.evidence.push((entry.n, by, address.clone(), evidence.clone()));
                false
            }
            Event::WaitBegun { address, boot } => {
                self.in_hand(entry);
                let Some(instance) = flow.find(address) else { return false };
                self.did_work(entry);
                self.waits.insert(instance, Running { n: entry.n, at: entry.at, boot: *boot });
                false
            }
            Event::ZeroChecked { instrument, reading, so } => {
                self.did_work(entry);
                self.zero_checks.push(ZeroNote {
                    n: entry.n,
                    instrument: instrument.clone(),
                    reading: reading.clone(),
                    so: *so,
                    by,
                    at: entry.at,
                });
                false
            }
            Event::NoteAdded { address, text } => {
                self.notes.push((entry.n, by, address.clone(), text.clone()));
                false
            }
            Event::PerformedSigned(signed) => {
                self.performed(signed);
                false
            }
            Event::TornTailSetAside { len_bytes, .. } => {
                self.journal_notes.push((
                    entry.n,
                    format!("{len_bytes} bytes of an unfinished entry were set aside"),
                ));
                false
            }
            Event::ClockWentBack { from } => {
                self.journal_notes
                    .push((entry.n, format!("the clock went back from {} to {}", from, entry.at)));
                for (instance, running) in &mut self.waits {
                    (running.at, running.boot) = (entry.at, None);
                    let address = &flow.instance(*instance).address;
                    self.journal_notes.push((entry.n, format!("the wait at {address} began anew")));
                }
                false
            }
            Event::ExceptionsAcknowledged { shown } => {
                if let Some(person) = by {
                    self.exceptions_seen = Some((entry.n, person, shown.clone()));
                }
                false
            }
            Event::Released { record, .. } => {
                self.released = Some(*record);
                false
            }
        }
    }

    /// Whoever made the entry has the work in hand.
    pub(super) fn in_hand(&mut self, entry: &Entry) {
        if let Some(person) = &entry.by {
            self.hand = Some((person.clone(), entry.at));
        }
    }

    fn did_work(&mut self, entry: &Entry) {
        self.in_hand(entry);
        if let Some(person) = &entry.by {
            let open = self.work.entry(person.clone()).or_default();
            let covers = |(by, from, to): &(PersonId, u64, u64)| {
                by == person && (*from..=*to).contains(&entry.n)
            };
            if !self.ranges.iter().any(covers) {
                open.push(entry.n);
            }
        }
    }

    fn performed(&mut self, signed: &Signed) {
        if let Meaning::Performed { from_n, to_n } = signed.statement.meaning {
            let signer = &signed.statement.signer;
            self.ranges.push((signer.clone(), from_n, to_n));
            if let Some(open) = self.work.get_mut(signer) {
                open.retain(|n| !(from_n..=to_n).contains(n));
            }
        }
    }

    fn hold(&mut self, instance: InstanceIdx, answer: Answer, entry: &Entry) {
        self.to_verify.remove(&instance);
        if let Some(slot) = self.held.get_mut(instance) {
            let supersedes = slot.take().map_or_else(Vec::new, |held| held.supersedes);
            *slot = Some(Held {
                answer,
                n: entry.n,
                by: entry.by.clone(),
                at: entry.at,
                late: entry.late.clone(),
                stale: false,
                supersedes,
            });
        }
    }

    fn correct(
        &mut self,
        flow: &Flow,
        (instance, supersedes): (InstanceIdx, u64),
        (answer, reason): (&Answer, &str),
        entry: &Entry,
    ) {
        let Some(before) = self.held.get(instance).cloned().flatten() else { return };
        self.corrections.push(CorrectionNote {
            n: entry.n,
            supersedes,
            address: flow.instance(instance).address.clone(),
            before: before.answer.clone(),
            after: answer.clone(),
            reason: reason.to_owned(),
            by: entry.by.clone(),
            at: entry.at,
        });
        self.hold(instance, answer.clone(), entry);
        if let Some(Some(held)) = self.held.get_mut(instance) {
            held.supersedes = before.supersedes;
            held.supersedes.push(supersedes);
        }
        if let Answer::Items(items) = answer {
            let numbered = (0u32..).zip(items.iter().copied()).collect();
            self.items.insert(instance, numbered);
        }
        if let Answer::Built(laid) = answer {
            let note =
                |laid: &Laid| LaidNote { laid: laid.clone(), n: entry.n, by: entry.by.clone() };
            self.laid.insert(instance, laid.iter().map(note).collect());
        }
        self.lapse(flow, (instance, supersedes), entry);
    }

    /// A signature stands for what lay before it; what lay before it has changed.
    fn lapse(&mut self, flow: &Flow, (instance, supersedes): (InstanceIdx, u64), entry: &Entry) {
        for (index, slot) in self.held.iter_mut().enumerate() {
            let lapses = index != instance
                && slot.as_ref().is_some_and(|held| {
                    held.is_signed(&flow.instance(index).ask) && held.n > supersedes
                });
            if lapses && let Some(held) = slot.take() {
                self.lapsed.push(Lapsed {
                    address: flow.instance(index).address.clone(),
                    n: held.n,
                    by_n: entry.n,
                });
            }
        }
        let signed = |i: &InstanceIdx, held: &mut Held| {
            held.is_signed(&flow.instance(*i).ask) && held.n > supersedes
        };
        self.lapsed.extend(self.to_verify.extract_if(.., signed).map(|(i, held)| Lapsed {
            address: flow.instance(i).address.clone(),
            n: held.n,
            by_n: entry.n,
        }));
        // So does a verdict in the place of that of the rules, first of all of the answer itself.
        let lapsed =
            self.conceded.extract_if(.., |index, c| *index == instance || c.n > supersedes);
        let mut lapsed: Vec<(InstanceIdx, u64)> = lapsed.map(|(i, c)| (i, c.n)).collect();
        // And what was said of a failed result, which may be another one now.
        let stated = self.disposed.extract_if(.., |i, s| *i == instance || s.n > supersedes);
        lapsed.extend(stated.map(|(i, s)| (i, s.n)));
        self.lapsed.extend(lapsed.into_iter().map(|(index, n)| Lapsed {
            address: flow.instance(index).address.clone(),
            n,
            by_n: entry.n,
        }));
    }

    fn rewalk(&mut self, flow: &Flow) {
        self.walk = walk(flow, self);
        // The time of a wait counts only while the step is open, or while a state that did not outlast
        // it is verified again: begun anew after that, a wait longer than a break would never end.
        let open = &self.walk.open;
        let lasts_not = |token| flow.tokens.get(token).is_some_and(Token::may_expire);
        let verifies = |index: &InstanceIdx| flow.instance(*index).sets.iter().any(lasts_not);
        let verified_again = open.iter().any(verifies);
        self.waits.retain(|instance, _| verified_again || open.contains(instance));
        let counted = self.walk.path.len();
        let held = self.held.iter().flatten().count().saturating_add(self.to_verify.len());
        if held == counted {
            return;
        }
        // Answers that the walk cannot come to any more are parked: they need one confirmation if
        // they are ever asked again. Answers ahead of a place that was reopened simply wait.
        let reachable = self.walk.reachable(flow);
        let visited: BTreeSet<InstanceIdx> = self.walk.path.iter().copied().collect();
        for (index, slot) in self.held.iter_mut().enumerate() {
            if let Some(held) = slot
                && !visited.contains(&index)
                && !reachable.contains(&index)
            {
                held.stale = true;
            }
        }
    }

    /// The instances whose answers are held but not counted, because the walk does not ask them.
    pub fn parked(&self) -> Vec<InstanceIdx> {
        self.held
            .iter()
            .enumerate()
            .filter(|(index, slot)| {
                slot.as_ref().is_some_and(|held| held.stale) && !self.walk.open.contains(index)
            })
            .map(|(index, _)| index)
            .collect()
    }

    /// True when the instance that is asked only needs a confirmation of its parked answer.
    pub fn asks_to_confirm(&self) -> bool {
        self.walk.asked().is_some_and(|index| self.must_confirm(index))
    }

    /// True when the answer of `index` is parked and must be confirmed or corrected first.
    pub fn must_confirm(&self, index: InstanceIdx) -> bool {
        // What is worked out is not confirmed: it is worked out anew.
        let held = self.held.get(index).and_then(Option::as_ref);
        held.is_some_and(|held| held.stale && !matches!(held.answer, Answer::WorkedOut(_)))
    }

    /// How far the job is.
    pub fn progress(&self) -> Progress {
        let mut progress = Progress::default();
        for status in &self.walk.status {
            let count = match status {
                Status::Done => &mut progress.done,
                Status::Current => &mut progress.current,
                Status::Ahead => &mut progress.ahead,
                Status::NotApplicable(_) => &mut progress.not_applicable,
                Status::NotBegun => continue,
            };
            *count = count.saturating_add(1);
            progress.total = progress.total.saturating_add(1);
        }
        progress
    }

    /// The work entries of `person` that no signed range of theirs covers: first and last.
    pub fn unsigned_range(&self, person: &PersonId) -> Option<(u64, u64)> {
        let open = self.work.get(person)?;
        Some((*open.first()?, *open.last()?))
    }

    /// The people with work entries that no signed range covers.
    pub fn unsigned_people(&self) -> Vec<PersonId> {
        let open = self.work.iter().filter(|(_, open)| !open.is_empty());
        open.map(|(person, _)| person.clone()).collect()
    }

    /// True once nothing may be answered any more.
    pub fn is_over(&self) -> bool {
        !matches!(self.walk.stand, Stand::Asked(..))
    }
}

/// The state after `entries`, or `None` where entry 0 does not open a job.
pub fn replay(flow: &Flow, entries: &[Entry]) -> Option<JobState> {
    let (first, rest) = entries.split_first()?;
    let Event::JobOpened(opened) = &first.event else { return None };
    let mut state = JobState::open(flow, (**opened).clone(), first.at);
    for entry in rest {
        state.apply(flow, entry);
    }
    Some(state)
}
