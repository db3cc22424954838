//! A rehearsal file: a procedure played with scripted answers, and what must come of it.

use crate::ids::{Name, PartId, PersonId, ProcedureId};
use crate::language::Thread;
use crate::procedure::model::{Disposition, Verdict};
use crate::source::{At, Span};

/// A rehearsal file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rehearsal {
    /// Its id.
    pub id: Name,
    /// One line for people.
    pub title: String,
    /// The procedure that is played.
    pub procedure: At<ProcedureId>,
    /// True where a procedure that others perform is played alone, with the plate read by a step
    /// `fit_out` and all that it assumes given.
    pub alone: bool,
    /// The machine's tag in the shop file.
    pub machine: At<String>,
    /// Who performs.
    pub performer: At<PersonId>,
    /// Who decides, releases holds and signs for the job.
    pub mechanic: At<PersonId>,
    /// Who takes second readings, where the procedure has some.
    pub second: Option<At<PersonId>>,
    /// The answers. Steps that need no judgement (do, check, acknowledging, holds) are answered
    /// done, yes and released where nothing is scripted.
    pub answers: Vec<Scripted>,
    /// What must come of it.
    pub expect: Expectation,
    /// The story once more with some answers changed, by name. Each is whole: its own answers come
    /// first, then those of the story that they do not replace.
    pub cases: Vec<Case>,
    /// Places with exits that no answers lead to, as the author sees it, each with the reason.
    pub out_of_reach: Vec<(At<String>, String)>,
}

impl Rehearsal {
    /// The story of the file, then its cases as rehearsals of their own.
    pub fn stories(&self) -> impl Iterator<Item = Self> {
        let story = Self { cases: Vec::new(), ..self.clone() };
        let of_case = {
            let story = story.clone();
            move |case: &Case| Self {
                title: case.title.clone().unwrap_or_else(|| story.title.clone()),
                answers: case.answers.clone(),
                expect: case.expect.clone(),
                ..story.clone()
            }
        };
        std::iter::once(story).chain(self.cases.iter().map(of_case))
    }
}

/// A story with some answers changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Case {
    /// Its name in the file.
    pub name: At<Name>,
    /// One line for people.
    pub title: Option<String>,
    /// All answers, its own first.
    pub answers: Vec<Scripted>,
    /// What must come of it.
    pub expect: Expectation,
}

/// One scripted answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scripted {
    /// The address, where `*` stands for any position or pass.
    pub at: At<String>,
    /// The answer.
    pub answer: ScriptedAnswer,
    /// Where it stands.
    pub span: Span,
    /// True for what a case takes over from the story of its file. It may stay unused: the case may
    /// end sooner, or go another way.
    pub is_of_story: bool,
}

impl Scripted {
    /// True where this answer of a case takes the place of `other`, which is the story's.
    pub fn replaces(&self, other: &Self) -> bool {
        let concedes = |a: &Self| matches!(a.answer, ScriptedAnswer::Concede { .. });
        let same = self.at.value == other.at.value || fits(&self.at.value, &other.at.value);
        same && concedes(self) == concedes(other)
    }
}

/// True when `pattern` names `address`; `*` stands for one position or pass.
pub fn fits(pattern: &str, address: &str) -> bool {
    match pattern.split_once('*') {
        None => pattern == address,
        Some((before, after)) => {
            let Some(rest) = address.strip_prefix(before) else { return false };
            let value =
                rest.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).unwrap_or(rest.len());
            value > 0 && rest.get(value..).is_some_and(|rest| fits(after, rest))
        }
    }
}

/// True when `pattern` names `address`, or a section or performed procedure that it lies in.
pub fn fits_within(pattern: &str, address: &str) -> bool {
    let ends = address.match_indices('/').map(|(at, _)| at).chain([address.len()]);
    ends.filter_map(|end| address.get(..end)).any(|outer| fits(pattern, outer))
}

/// What a script answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ScriptedAnswer {
    /// `reading: "44.1 mm"` with `using: C-03`
    Reading {
        /// As the person would type it.
        text: String,
        /// The instrument's mark.
        instrument: String,
    },
    /// `could_not_measure: REASON`
    CouldNotMeasure(String),
    /// `found: [torn]`
    Found(Vec<Name>),
    /// `enter: TEXT`
    Entered(String),
    /// `not_so: [2]`: the numbers of the items, from 1, that are not so.
    NotSo(Vec<u32>),
    /// `lots: {seat_ring: K-88}`: every layer lies as it must, these with their lots.
    Lots(Vec<(Name, String)>),
    /// `settings: [9, 18, 30]` with `using: W-01`
    Settings(Settings),
    /// `waited: 45 min`: the seconds that a wait lasts, where it is not just its time.
    Waited(u64),
    /// `decide: replace` with `because`
    Decide {
        /// The mechanic's verdict.
        verdict: Verdict,
        /// The mechanic's reason.
        because: String,
    },
    /// `attach: NAME`: a file of this name, with made-up content.
    Attach(String),
    /// `nothing_to_attach: REASON`
    NothingToAttach(String),
    /// `left_out: REASON`, which the mechanic signs.
    LeftOut(String),
    /// `done_otherwise: REASON`, which the mechanic signs.
    DoneOtherwise(String),
    /// `concede: accept` with `because`, beside the answer itself.
    Concede {
        /// The mechanic's verdict in the place of that of the rules.
        verdict: Verdict,
        /// The mechanic's reason.
        because: String,
    },
    /// `dispose: replaced` with `because` and perhaps `lot`: what was done about a failed result that
    /// no step shows. Said once all steps are done.
    Dispose {
        /// What was done.
        disposition: Disposition,
        /// The lot of the part in its place.
        lot: Option<String>,
        /// What was done and why, in the mechanic's words.
        because: String,
    },
}

/// How fasteners are tightened: the wrench's setting pass by pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// As the person would type them.
    pub settings: Vec<String>,
    /// The wrench's mark.
    pub instrument: String,
    /// The thread, where not as the torque is for.
    pub thread: Option<Thread>,
    /// The adapter's figures, where one is on the wrench.
    pub adapter: Option<String>,
    /// What the wrench showed in the last pass, by fastener.
    pub shown: Vec<(u32, String)>,
}

/// How a played job must end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutcomeWord {
    /// All steps done and the job released.
    Released,
    /// A stop was reached.
    Stopped,
}

/// What must come of a rehearsal; only what is stated is compared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expectation {
    /// How the job ends.
    pub outcome: OutcomeWord,
    /// Parts needed, by part and position as the parts list shows them.
    pub parts: Option<Vec<(PartId, String)>>,
    /// Verdicts by address.
    pub verdicts: Vec<(At<String>, Verdict)>,
    /// Steps or sections that the walk comes to, as patterns.
    pub asked: Vec<At<String>>,
    /// Steps or sections that the walk does not come to, as patterns.
    pub not_asked: Vec<At<String>>,
}

#[cfg(test)]
mod tests {
    use super::{fits, fits_within};

    #[test]
    fn a_star_stands_for_one_position_or_pass() {
        assert!(fits("a[x=*]/b", "a[x=2]/b"));
        assert!(fits("a[x=*,y=*]/b#*", "a[x=2,y=inlet]/b#3"));
        assert!(!fits("a[x=*]/b", "a[x=2]/c/b"));
        assert!(!fits("a[x=*]/b", "a[x=]/b"));
        assert!(!fits("a/*", "a/b/c"));
    }

    #[test]
    fn a_section_names_all_that_lies_in_it() {
        assert!(fits_within("a[x=*]", "a[x=2]/c/b"));
        assert!(fits_within("a/b", "a/b"));
        assert!(!fits_within("a/b", "a/bc"));
        assert!(!fits_within("a/b", "a"));
    }
}
