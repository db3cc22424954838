//! Several readings of one step, and what a reading was held against, as a record tells it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Figure;
use crate::units::{Compare, Criterion, Decision, DecisionRule, Quantity, Reading, Uncertainty};
use crate::walk::event::Answer;
use crate::walk::flow::Ask;
use crate::walk::place::decision;

/// What a reading was held against, and what was said of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// The least that passes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<String>,
    /// The most that passes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<String>,
    /// Where it comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
    /// True where the limit was shown only after the reading was saved.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub blind: bool,
    /// `absolute`, or how readings were rounded before they were compared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compare: Option<String>,
    /// How likely the truth lies within the limit, by the stated uncertainty of the instrument, a
    /// normal distribution and nothing known before; for readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conforms: Option<String>,
    /// `within`, `below`, `above` or `not_proven`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decided: Option<String>,
    /// The grade of an accepted reading, where the limit has grades.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<String>,
    /// Its name in the equipment file, for readings; from format 1.1 on. Figures as found and as left
    /// with one limit belong together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What was compared, where readings are rounded first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounded: Option<String>,
    /// The rule that decided, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
    /// In words.
    pub words: String,
}

/// Several readings of one step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Several {
    /// The points that they were taken at, in order, where they have names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<String>,
    /// Why there is one more than the step asks for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Which one counts: `first`, `mean`, `median` or `worst`.
    pub rule: String,
    /// All of them, in the order in which they were taken.
    pub taken: Vec<Figure>,
}

/// How many of the accepted readings of a job are expected to be wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WrongAcceptances {
    /// The sum over the accepted readings of how likely each does not conform.
    pub expected: String,
    /// Over so many accepted readings with a stated uncertainty.
    pub n_readings: u64,
}

impl Limit {
    /// The limit of a step and what was said of its answer; `None` for steps without one.
    pub(super) fn of(ask: &Ask, answer: &Answer) -> Option<Self> {
        let (criterion, basis, words) = match ask {
            Ask::Measure(note) => {
                (note.against.criterion()?.clone(), &note.basis, note.against.render())
            }
            Ask::WorkOut(note) => {
                let limit = note.limit.as_ref()?;
                (Criterion::from(limit.clone()), &note.basis, limit.render())
            }
            _ => return None,
        };
        let limit = &criterion.limit;
        let shown = |bound: &Option<Quantity>| bound.as_ref().map(|q| q.render(limit.unit));
        let reading = reading(answer);
        let rounded = |places: u8| {
            let compared = limit.compared(&reading?.value);
            Some(compared.render_rounded(limit.unit, usize::from(places)))
        };
        let (compare, rounded) = match limit.compare {
            Compare::Absolute => ("absolute".to_owned(), None),
            Compare::Rounded { places, ties } => {
                let places_word = if places == 1 { "place" } else { "places" };
                let how = format!("rounded_{} to {places} {places_word}", ties.word());
                (how, rounded(places))
            }
        };
        let uncertainty = uncertainty(answer);
        let rule = match (&criterion.rule, &uncertainty) {
            (DecisionRule::Simple, _) | (_, None) => criterion.rule.word().to_owned(),
            (rule, Some(uncertainty)) => rule.words(limit, uncertainty),
        };
        Some(Self {
            at_least: shown(&limit.at_least),
            at_most: shown(&limit.at_most),
            basis: basis.clone(),
            blind: matches!(ask, Ask::Measure(note) if note.blind),
            compare: Some(compare),
            conforms: conforms(ask, answer).map(|conforms| format!("{conforms:.6}")),
            decided: decision(ask, answer).map(|decided| {
                match decided {
                    Decision::Within => "within",
                    Decision::Below => "below",
                    Decision::Above => "above",
                    Decision::NotProven => "not_proven",
                }
                .to_owned()
            }),
            grade: reading
                .and_then(|reading| criterion.grade(&reading.value))
                .map(|grade| grade.name.clone()),
            name: name(ask),
            rounded,
            rule: Some(rule),
            words,
        })
    }
}

impl WrongAcceptances {
    /// The sum over the answers that were accepted as readings; `None` without any.
    pub(super) fn of<'a>(answers: impl Iterator<Item = (&'a Ask, &'a Answer)>) -> Option<Self> {
        let accepted = answers
            .filter(|(ask, answer)| decision(ask, answer) == Some(Decision::Within))
            .filter_map(|(ask, answer)| conforms(ask, answer));
        let probabilities: Vec<f64> = accepted.collect();
        if probabilities.is_empty() {
            return None;
        }
        let n_readings = u64::try_from(probabilities.len()).unwrap_or(u64::MAX);
        let expected = crate::units::risk::expected_wrong(probabilities);
        Some(Self { expected: format!("{expected:.6}"), n_readings })
    }
}

fn name(ask: &Ask) -> Option<String> {
    let Ask::Measure(note) = ask else { return None };
    note.limit_name.as_ref().map(ToString::to_string)
}

fn reading(answer: &Answer) -> Option<&Reading> {
    match answer {
        Answer::Read { reading, .. } => Some(reading),
        Answer::WorkedOut(worked) => worked.result.as_ref().ok(),
        _ => None,
    }
}

fn uncertainty(answer: &Answer) -> Option<Uncertainty> {
    match answer {
        Answer::Read { instrument, .. } => instrument.expanded(),
        _ => None,
    }
}

/// How likely the truth behind a reading lies within its limit.
fn conforms(ask: &Ask, answer: &Answer) -> Option<f64> {
    let (Ask::Measure(note), Answer::Read { reading, .. }) = (ask, answer) else { return None };
    note.against.criterion()?.conformance(&reading.value, &uncertainty(answer)?)
}
