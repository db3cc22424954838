//! Fasteners as they are tightened: rounds of one wrench setting each, what is due, what was redone.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_rational::Ratio;

use super::address::Address;
use super::event::{Direction, InstrumentSnapshot, Round, Tight, Wrench};
use super::flow::ExitNote;
use super::job::JobState;
use crate::ids::{Moment, Name, PersonId};
use crate::language::Thread;
use crate::procedure::model::OnRedo;
use crate::units::{Limit, Quantity, Reading, Side};

/// What a tightening step asks for, with everything looked up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TightenNote {
    /// What is tightened.
    pub text: String,
    /// The fasteners in words.
    pub fasteners: String,
    /// Their numbers in the order of tightening.
    pub order: Vec<u32>,
    /// The thread that the torque is for.
    pub condition: Thread,
    /// The thread in words.
    pub thread: Option<String>,
    /// The torque of the last pass.
    pub torque: Limit,
    /// The torque that is aimed at.
    pub aim: Quantity,
    /// Where the torque comes from.
    pub basis: Option<String>,
    /// The kind of wrench.
    pub with: Name,
    /// The share of the torque in each pass, in percent; the last is 100.
    pub passes: Vec<u32>,
    /// What is tightened again when one was loosened.
    pub on_redo: OnRedo,
    /// What a re-check is held against.
    pub recheck: Option<Limit>,
    /// What follows when a fastener is not so.
    pub not_so: ExitNote,
}

/// What comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Due {
    /// The wrench is set for this pass.
    Wrench {
        /// The pass, from 1.
        pass: u32,
    },
    /// This fastener is tightened.
    Fastener {
        /// The pass, from 1.
        pass: u32,
        /// Its number.
        fastener: u32,
    },
    /// Nothing.
    Nothing,
}

/// Tightening under way or done.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tightening {
    /// The rounds in force, in order.
    pub rounds: Vec<Round>,
    /// True from the wrench being set to the last fastener of its round.
    pub wrench_set: bool,
}

/// A fastener that was loosened again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoosenedNote {
    /// The entry.
    pub n: u64,
    /// The instance.
    pub address: Address,
    /// The fastener.
    pub fastener: u32,
    /// Why.
    pub reason: String,
    /// Who.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
    /// What no longer counts because of it, with the settings of the wrench.
    pub superseded: Vec<Round>,
}

/// A re-check of a fastener. It replaces nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecheckNote {
    /// The entry.
    pub n: u64,
    /// The instance.
    pub address: Address,
    /// The fastener.
    pub fastener: u32,
    /// Which way the wrench was pulled.
    pub direction: Direction,
    /// The reading.
    pub reading: Reading,
    /// The instrument as it stood.
    pub instrument: InstrumentSnapshot,
    /// Who.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// So many parts of a quantity.
#[expect(clippy::arithmetic_side_effects, reason = "rationals of any size do not overflow")]
fn part(whole: &Quantity, parts: u32, of: u32) -> Quantity {
    let share = Ratio::new(BigInt::from(parts), BigInt::from(of));
    Quantity { si: &whole.si * share, dimension: whole.dimension }
}

impl TightenNote {
    /// The share of a pass in percent.
    pub fn share(&self, pass: u32) -> u32 {
        let index = usize::try_from(pass).unwrap_or(usize::MAX).saturating_sub(1);
        self.passes.get(index).copied().unwrap_or(100)
    }

    /// The torque that a pass aims at.
    pub fn aim_of(&self, pass: u32) -> Quantity {
        part(&self.aim, self.share(pass), 100)
    }

    /// What the torque at the fastener must keep to in a pass: the limit in the last ones, a tenth
    /// either way of its share before.
    pub fn keep_to(&self, pass: u32) -> Limit {
        if self.share(pass) == 100 {
            return self.torque.clone();
        }
        let aim = self.aim_of(pass);
        Limit {
            at_least: Some(part(&aim, 9, 10)),
            at_most: Some(part(&aim, 11, 10)),
            unit: self.torque.unit,
            compare: crate::units::Compare::Absolute,
        }
    }

    /// The fasteners of a pass that are still to be tightened, in order.
    pub fn open(&self, rounds: &[Round], pass: u32) -> Vec<u32> {
        let of_pass = rounds.iter().filter(|round| round.pass == pass);
        let done: BTreeSet<u32> =
            of_pass.flat_map(|round| round.fasteners.iter().map(|tight| tight.fastener)).collect();
        self.order.iter().copied().filter(|fastener| !done.contains(fastener)).collect()
    }

    /// The passes, from 1.
    pub fn pass_numbers(&self) -> impl Iterator<Item = u32> {
        (1u32..).take(self.passes.len())
    }

    /// True when something is not as it must be: a fastener, or the thread.
    pub fn is_not_so(&self, rounds: &[Round]) -> bool {
        rounds.iter().any(|round| {
            round.wrench.thread != self.condition || round.fasteners.iter().any(|tight| !tight.so)
        })
    }

    /// True when nothing more is to be tightened.
    pub fn is_whole(&self, rounds: &[Round]) -> bool {
        self.is_not_so(rounds) || self.pass_numbers().all(|pass| self.open(rounds, pass).is_empty())
    }

    /// The fasteners that have gone through all passes.
    pub fn n_tight(&self, rounds: &[Round]) -> usize {
        let open: BTreeSet<u32> =
            self.pass_numbers().flat_map(|pass| self.open(rounds, pass)).collect();
        self.order.len().saturating_sub(open.len())
    }

    /// What comes next.
    pub fn due(&self, tightening: &Tightening) -> Due {
        let rounds = &tightening.rounds;
        if self.is_not_so(rounds) {
            return Due::Nothing;
        }
        for pass in self.pass_numbers() {
            if let Some(fastener) = self.open(rounds, pass).first().copied() {
                let set = tightening.wrench_set && rounds.last().is_some_and(|r| r.pass == pass);
                return if set { Due::Fastener { pass, fastener } } else { Due::Wrench { pass } };
            }
        }
        Due::Nothing
    }

    /// What is said of a fastener, with a reading of the last pass held against the torque.
    pub fn judged(&self, pass: u32, tight: &Tight) -> Tight {
        let outside = self.share(pass) == 100
            && tight
                .reading
                .as_ref()
                .is_some_and(|r| self.torque.judge(&r.value) != Some(Side::Within));
        Tight { so: tight.so && !outside, ..tight.clone() }
    }
}

impl Tightening {
    /// A wrench is set for a pass. A setting that nothing was tightened with is replaced.
    pub(super) fn set(&mut self, pass: u32, wrench: Wrench) {
        if self.rounds.last().is_some_and(|round| round.fasteners.is_empty()) {
            self.rounds.pop();
        }
        self.rounds.push(Round { pass, wrench, fasteners: Vec::new() });
        self.wrench_set = true;
    }

    /// A fastener is tightened with the wrench as it is set; false where none is set for the pass.
    pub(super) fn tighten(&mut self, pass: u32, tight: Tight) -> bool {
        match self.rounds.last_mut().filter(|round| round.pass == pass) {
            Some(round) => {
                round.fasteners.push(tight);
                true
            }
            None => false,
        }
    }

    /// True when `fastener` was tightened and counts.
    pub fn holds(&self, fastener: u32) -> bool {
        self.rounds.iter().any(|r| r.fasteners.iter().any(|tight| tight.fastener == fastener))
    }

    /// Takes back what a loosened fastener makes worthless, and what was not so. Returns it.
    pub(super) fn loosen(&mut self, note: &TightenNote, fastener: u32) -> Vec<Round> {
        self.wrench_set = false;
        let mut superseded = Vec::new();
        for round in &mut self.rounds {
            let goes = |tight: &Tight| {
                !tight.so
                    || match note.on_redo {
                        OnRedo::ThisOne => tight.fastener == fastener,
                        OnRedo::All => true,
                        OnRedo::FromPass(pass) => round.pass >= pass || tight.fastener == fastener,
                    }
            };
            let (gone, kept) = std::mem::take(&mut round.fasteners).into_iter().partition(goes);
            round.fasteners = kept;
            let gone: Vec<Tight> = gone;
            if !gone.is_empty() {
                let (pass, wrench) = (round.pass, round.wrench.clone());
                superseded.push(Round { pass, wrench, fasteners: gone });
            }
        }
        self.rounds.retain(|round| !round.fasteners.is_empty());
        superseded
    }
}

impl JobState {
    /// The tightening of `index` so far.
    pub fn tightening_of(&self, index: super::flow::InstanceIdx) -> Tightening {
        self.tightening.get(&index).cloned().unwrap_or_default()
    }
}
