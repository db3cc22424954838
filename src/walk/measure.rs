//! A reading held against what it must keep to: what a measuring step knows, and what follows.

use std::borrow::Cow;

use super::event::{Answer, InstrumentSnapshot};
use super::flow::{Ask, ExitNote, Flow, InstanceIdx, Ref, SecondOf};
use super::place::{Answers, Walk};
use super::refusal::Refusal;
use super::several::SeveralNote;
use crate::expr::Expr;
use crate::expr::eval::{self, Value};
use crate::ids::{FigureId, Name};
use crate::procedure::model::Verdict;
use crate::units::{
    Criterion, Decision, DecisionRule, Limit, Quantity, Reading, Uncertainty, Unit,
};

/// What a measuring step asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeasureNote {
    /// What to measure.
    pub text: String,
    /// The kind of instrument.
    pub with: Name,
    /// The unit that a bare number means.
    pub unit: Unit,
    /// What a reading must keep to.
    pub against: Against,
    /// Readings outside are taken for a slip of the hand.
    pub plausible: Option<(Quantity, Quantity)>,
    /// Where the limit comes from.
    pub basis: Option<String>,
    /// The limit's name in the equipment file, where it has one.
    pub limit_name: Option<FigureId>,
    /// What follows below.
    pub below: Option<ExitNote>,
    /// What follows above.
    pub above: Option<ExitNote>,
    /// What follows when neither is proven.
    pub not_proven: Option<ExitNote>,
    /// What follows without a reading.
    pub could_not_measure: ExitNote,
    /// The limit is shown only after the reading is saved, so that nobody reads towards it.
    pub blind: bool,
    /// Where several readings are asked for: how many, and which counts.
    pub several: Option<SeveralNote>,
    /// The reading of the part's temperature, where the limit holds at some only.
    pub temperature: Option<Expr<Ref>>,
    /// For an independent second reading: what it is the second of.
    pub second_of: Option<SecondOf>,
}

/// What a reading is held against.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(clippy::large_enum_variant, reason = "it stands in a box already")]
pub enum Against {
    /// Figures that stand in the files.
    Fixed(Criterion),
    /// Shares of another figure of the job.
    Share(Box<Share>),
}

/// A limit that is a share of another figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Share {
    /// The shares.
    pub shares: Criterion,
    /// What they are shares of, as written.
    pub text: String,
    /// The same, with names looked up.
    pub of: Expr<Ref>,
    /// The figures that they come to; `None` before the other figure is there.
    pub now: Option<Criterion>,
}

impl Against {
    /// What a reading must keep to; `None` for shares of a figure that is not there.
    pub fn criterion(&self) -> Option<&Criterion> {
        match self {
            Self::Fixed(criterion) => Some(criterion),
            Self::Share(share) => share.now.as_ref(),
        }
    }

    /// The criterion as it stands in the files: figures, or shares.
    pub fn stated(&self) -> &Criterion {
        match self {
            Self::Fixed(criterion) => criterion,
            Self::Share(share) => &share.shares,
        }
    }

    /// In words: `at least 44.6 mm`, `at least 97 % of new_spring`.
    pub fn render(&self) -> String {
        match self {
            Self::Fixed(criterion) => criterion.render(),
            Self::Share(share) => {
                let stated = format!("{} of {}", share.shares.render(), share.text);
                let now = share.now.as_ref();
                now.map_or_else(|| stated.clone(), |now| format!("{} ({stated})", now.render()))
            }
        }
    }
}

impl MeasureNote {
    /// The bounds that a reading must keep to, where they are known.
    pub fn limit(&self) -> Option<&Limit> {
        self.against.criterion().map(|criterion| &criterion.limit)
    }

    /// What is said of a reading by the instrument that was used; `None` where it cannot be judged.
    pub fn decision(&self, reading: &Reading, by: &InstrumentSnapshot) -> Option<Decision> {
        let criterion = self.against.criterion()?;
        // Every answer is judged again at every entry, and the simple rule looks at the reading alone.
        let by = if criterion.rule == DecisionRule::Simple { None } else { by.expanded() };
        criterion.decide(&reading.value, by.as_ref()).ok()
    }

    /// What a decision leads to; `None` where the reading is accepted.
    pub fn exit(&self, decision: Decision) -> Option<&ExitNote> {
        match decision {
            Decision::Within => None,
            Decision::Below => self.below.as_ref(),
            Decision::Above => self.above.as_ref(),
            Decision::NotProven => self.not_proven.as_ref(),
        }
    }

    /// The verdict of the rules; `None` for a decision that the limit cannot lead to.
    pub fn verdict(&self, decision: Decision) -> Option<Verdict> {
        match decision {
            Decision::Within => Some(Verdict::Accept),
            Decision::Below | Decision::Above | Decision::NotProven => {
                self.exit(decision).map(|exit| exit.verdict)
            }
        }
    }

    /// Every exit.
    pub fn exits(&self) -> impl Iterator<Item = &ExitNote> {
        let judged = self.below.iter().chain(&self.above).chain(&self.not_proven);
        judged.chain([&self.could_not_measure])
    }

    /// What is said of a reading, in words.
    pub fn explain(&self, reading: &Reading, by: &InstrumentSnapshot) -> String {
        match self.against.criterion() {
            Some(criterion) => criterion.explain(reading, by.expanded().as_ref()),
            None => reading.echo(),
        }
    }
}

impl InstrumentSnapshot {
    /// The expanded uncertainty with its factor; `None` where the snapshot states none.
    pub fn expanded(&self) -> Option<Uncertainty> {
        Uncertainty::parse_literal(&self.uncertainty, &self.k).ok()
    }
}

impl Walk {
    /// The question of `index`, with what it takes from earlier answers put in.
    pub fn ask<'f>(
        &self,
        flow: &'f Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
    ) -> Cow<'f, Ask> {
        let ask = &flow.instance(index).ask;
        let Ask::Measure(note) = ask else { return Cow::Borrowed(ask) };
        let Against::Share(share) = &note.against else { return Cow::Borrowed(ask) };
        let look = |found: &Ref| self.look(flow, answers, found);
        let Some(Value::Quantity(reference)) = eval::eval(&share.of, &look) else {
            return Cow::Borrowed(ask);
        };
        let now = share.shares.of_reference(&reference, note.unit);
        let plausible = note.plausible.as_ref();
        let plausible =
            plausible.and_then(|(from, to)| from.times(&reference).zip(to.times(&reference)));
        let against = Against::Share(Box::new(Share { now, ..(**share).clone() }));
        Cow::Owned(Ask::Measure(Box::new(MeasureNote { against, plausible, ..(**note).clone() })))
    }

    /// Whether the part was read at a temperature at which its limit holds.
    ///
    /// # Errors
    /// The temperature is not known, or is another one.
    pub(super) fn holds_at_that(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        note: &MeasureNote,
    ) -> Result<(), Refusal> {
        let criterion = note.against.stated();
        let Some(range) = &criterion.holds_at else { return Ok(()) };
        let look = |found: &Ref| self.look(flow, answers, found);
        let read = note.temperature.as_ref().and_then(|formula| eval::eval(formula, &look));
        let wanted = criterion.holds_at_words().unwrap_or_default();
        match read {
            Some(Value::Quantity(found)) if found.lies_in(range) => Ok(()),
            Some(Value::Quantity(found)) => {
                let found = found.render(found.dimension.usual());
                Err(Refusal::OtherTemperature { found, wanted })
            }
            _ => Err(Refusal::NoTemperature { wanted }),
        }
    }

    /// True where a reading of `index` can be judged with the answers so far.
    pub(super) fn can_judge(
        &self,
        flow: &Flow,
        answers: &dyn Answers,
        index: InstanceIdx,
        answer: &Answer,
    ) -> bool {
        let Answer::Read { reading, instrument, .. } = answer else { return true };
        let Ask::Measure(note) = &*self.ask(flow, answers, index) else { return true };
        let is_plain = matches!(&note.against, Against::Fixed(c) if !c.needs_uncertainty());
        is_plain || note.decision(reading, instrument).is_some()
    }
}
