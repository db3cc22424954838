//! The outline: every section and step with its state, as rows.

use std::collections::BTreeMap;

use crate::ids::{Moment, PersonId};
use crate::procedure::model::Verdict;
use crate::session::Session;
use crate::walk::decide::substitutes;
use crate::walk::disposition::{self, Disposition, Said};
use crate::walk::exceptions::answer_text;
use crate::walk::flow::InstanceIdx;
use crate::walk::place::{Answers as _, Status};
use crate::walk::{Address, Answer};

use super::Shown;

/// What stands in the place of a first reading while the second is not taken.
pub(crate) const SEALED: &str = "taken; shown once the second person has measured";

/// How a row stands. Each state has a letter and a word before it has a colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Answered and counted.
    Done,
    /// Answered, and something about it must be looked at before signing.
    Noted,
    /// Asked now.
    Here,
    /// Not reached yet.
    Open,
    /// Not asked, because of a condition.
    NotApplicable,
}

impl State {
    /// Its letter.
    pub fn letter(self) -> char {
        match self {
            Self::Done => 'D',
            Self::Noted => 'L',
            Self::Here => 'H',
            Self::Open => '.',
            Self::NotApplicable => 'N',
        }
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Noted => "look at",
            Self::Here => "here",
            Self::Open => "to do",
            Self::NotApplicable => "not applicable",
        }
    }

    /// Every state, for legends.
    pub const ALL: [Self; 5] =
        [Self::Done, Self::Noted, Self::Here, Self::Open, Self::NotApplicable];
}

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutlineRow {
    /// How deep it stands, from 0.
    pub depth: usize,
    /// A section's title, or what a step asks.
    pub text: String,
    /// How it stands.
    pub state: State,
    /// For sections: done and all steps in it that apply.
    pub count: Option<(usize, usize)>,
    /// For steps: its address.
    pub address: Option<Address>,
    /// For done steps: the answer, with its decision where it is not plain good.
    pub answer: Option<String>,
    /// For done steps: by whom and when.
    pub by: Option<(Option<PersonId>, Moment)>,
    /// For steps that are not applicable: the condition.
    pub because: Option<String>,
    /// For done steps: the verdicts that a mechanic may put in the place of that of the rules.
    pub substitutes: Vec<Verdict>,
    /// For done steps: what a mechanic signed about the result, in words.
    pub signed: Vec<String>,
    /// True where a result failed and, with all steps done, nothing says what was done about it.
    pub failed: bool,
}

/// What was answered, in words, by step and entry. An entry never changes, so its words are made once
/// however often the job is shown.
#[derive(Debug, Default)]
pub struct Texts(BTreeMap<InstanceIdx, (u64, String)>);

impl Texts {
    /// The words of the answer that entry `n` gave at `index`.
    fn of(&mut self, index: InstanceIdx, n: u64, make: impl FnOnce() -> String) -> &str {
        let known = self.0.entry(index).or_insert_with(|| (n, String::new()));
        if known.0 != n || known.1.is_empty() {
            *known = (n, make());
        }
        &known.1
    }
}

/// The rows of the job in `session`.
pub fn rows(session: &Session, texts: &mut Texts) -> Vec<OutlineRow> {
    let (flow, state) = (&session.files().flow, session.state());
    let sealed = state.walk.sealed(flow);
    let failed: Vec<usize> =
        disposition::open(session.files(), state).iter().map(|failed| failed.index).collect();
    let mut rows: Vec<OutlineRow> = Vec::new();
    // The open sections: title and the row that stands for it.
    let mut open: Vec<(String, usize)> = Vec::new();
    for (index, instance) in flow.instances.iter().enumerate() {
        let Some(status) = state.walk.status.get(index).copied() else { continue };
        if status == Status::NotBegun {
            continue;
        }
        let same = open.iter().zip(&instance.within).take_while(|((a, _), b)| a == *b).count();
        open.truncate(same);
        for title in instance.within.iter().skip(same) {
            open.push((title.clone(), rows.len()));
            rows.push(OutlineRow {
                depth: open.len().saturating_sub(1),
                text: title.clone(),
                state: State::NotApplicable,
                count: Some((0, 0)),
                address: None,
                answer: None,
                by: None,
                because: None,
                substitutes: Vec::new(),
                signed: Vec::new(),
                failed: false,
            });
        }
        let held = state.held.get(index).and_then(Option::as_ref);
        let verdict = state.walk.verdicts.get(index).copied().flatten();
        let departs = held.is_some_and(|held| {
            let deviates =
                matches!(held.answer, Answer::Deviated { .. } | Answer::NotAttached { .. });
            deviates || state.conceded.contains_key(&index)
        });
        let noted = verdict.is_some_and(|v| v != Verdict::Accept)
            || departs
            || held.is_some_and(|held| !held.supersedes.is_empty());
        let step = match status {
            Status::Done if noted => State::Noted,
            Status::Done => State::Done,
            Status::Current => State::Here,
            Status::Ahead | Status::NotBegun => State::Open,
            Status::NotApplicable(_) => State::NotApplicable,
        };
        let because = match status {
            Status::NotApplicable(guard) => Some(flow.guard(guard).text(flow)),
            _ => None,
        };
        let held = held.filter(|_| status == Status::Done);
        let answer = held.map(|held| {
            if sealed == Some(index) {
                return SEALED.to_owned();
            }
            let text = texts.of(index, held.n, || answer_text(&instance.ask, &held.answer));
            match verdict.filter(|v| *v != Verdict::Accept) {
                Some(verdict) => format!("{text}: {}", super::verdict_words(verdict)),
                None => text.to_owned(),
            }
        });
        for (_, row) in &open {
            if let Some(section) = rows.get_mut(*row) {
                count(section, step);
            }
        }
        rows.push(OutlineRow {
            depth: open.len(),
            text: instance.ask.text().to_owned(),
            state: step,
            count: None,
            address: Some(instance.address.clone()),
            answer,
            by: held.map(|held| (held.by.clone(), held.at)),
            because,
            substitutes: substitutes_at(session, index),
            signed: signed_at(session, index),
            failed: failed.contains(&index),
        });
    }
    rows
}

/// What a mechanic put in the place of the rules' verdict at `index`, and what was done about it.
fn signed_at(session: &Session, index: usize) -> Vec<String> {
    let (files, state) = (session.files(), session.state());
    let called = |id| files.shop.called(id);
    let conceded = state.conceded.get(&index).map(|conceded| {
        let (by, words) = (called(&conceded.by), super::decision_words(conceded.verdict));
        format!("{by} decided: {words}, because {}", conceded.reason)
    });
    let disposed = state.disposed.get(&index).map(|stated| {
        let said = &stated.said;
        let lot = said.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
        let (what, by) = (said.disposition.spoken(), called(&stated.by));
        format!("{what}{lot}: {}; signed by {by}", said.reason)
    });
    conceded.into_iter().chain(disposed).collect()
}

/// Reads what a mechanic writes about a failed result.
///
/// # Errors
/// What was written is a lot and nothing else.
pub fn said_of(disposition: Disposition, text: &str) -> Result<Said, String> {
    let said = Said::parse(disposition, text);
    let reason = said.reason.as_str();
    let is_bare = !reason.is_empty() && !reason.contains(' ');
    if reason.is_empty() || is_bare && reason.contains(|c: char| c.is_ascii_digit()) {
        let lot = said.lot.as_deref().unwrap_or(if is_bare { reason } else { "L-77" });
        return Err(format!(
            "say in words what was done and why; a lot stands before it: `lot {lot}: a new part`"
        ));
    }
    Ok(said)
}

impl Shown {
    /// The step at `address` as people say it, a label and a text each: what was asked and where it
    /// stands, what was found by whom, what was signed about it. Empty where there is none.
    pub fn step_in_words(&self, address: &Address) -> Vec<(&'static str, String)> {
        let row = self.outline.iter().find(|row| row.address.as_ref() == Some(address));
        let Some(row) = row else { return Vec::new() };
        let at = super::question::positions_text(address);
        let at = at.map_or_else(String::new, |at| format!(" ({at})"));
        let asked = self.question().filter(|question| question.address == *address);
        let text = asked.map_or(row.text.as_str(), |question| question.ask.text());
        let mut said = vec![("step", format!("{}{at}", text.trim_end_matches('.')))];
        if let Some(answer) = &row.answer {
            let by = row.by.as_ref().map_or_else(String::new, |(by, at)| {
                let name = self.name_or_nobody(by.as_ref());
                format!("; by {name}, {}", super::spoken_at(*at, self.now))
            });
            said.push(("found", format!("{}{by}", answer.trim_end_matches('.'))));
        }
        said.extend(asked.and_then(|question| Some(("about", question.about.clone()?))));
        said.extend(row.signed.iter().map(|text| ("signed", text.clone())));
        said
    }

    /// A line that is looked at before signing, as people say it: the step and the people that it
    /// names by their marks.
    pub fn line_in_words(&self, line: &str) -> Vec<(&'static str, String)> {
        let names = |mark: &str| {
            line.match_indices(mark).any(|(from, _)| {
                let before = line.get(..from).and_then(|text| text.chars().next_back());
                let after = line.get(from + mark.len()..).and_then(|text| text.chars().next());
                let part =
                    |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || "/[_".contains(c));
                !part(before) && !part(after)
            })
        };
        let rows = self.outline.iter().filter_map(|row| row.address.as_ref());
        let at = rows.filter(|at| names(&at.to_string())).max_by_key(|at| at.to_string().len());
        let mut said = at.map_or_else(Vec::new, |at| self.step_in_words(at));
        let people = self.people.iter().filter(|person| names(person.id.as_str()));
        said.extend(people.map(|person| ("who", format!("{} is {}", person.id, person.name))));
        said
    }

    /// What was found that somebody looks at before they sign, a line each.
    pub fn found_so_far(&self) -> Vec<String> {
        let noted = self.outline.iter().filter(|row| row.state == State::Noted);
        noted
            .filter_map(|row| {
                let at = row.address.as_ref().and_then(super::question::positions_text);
                let at = at.map_or_else(String::new, |at| format!(" ({at})"));
                let text = row.text.trim_end_matches('.');
                Some(format!("{text}{at} -> {}", row.answer.as_ref()?))
            })
            .collect()
    }
}

/// What may stand in the place of the verdict of a done step.
fn substitutes_at(session: &Session, index: usize) -> Vec<Verdict> {
    let (flow, state) = (&session.files().flow, session.state());
    let instance = flow.instance(index);
    let done = state.walk.status.get(index) == Some(&Status::Done);
    let Some(answer) = state.answer(index).filter(|_| done && instance.concession.is_some()) else {
        return Vec::new();
    };
    let rules = state.walk.judge_at(flow, state, index, answer);
    let mut may = rules.map_or_else(Vec::new, |rules| substitutes(&instance.ask, rules));
    may.retain(|verdict| state.substitute(index) != Some(*verdict));
    may
}

/// Takes one more step into a section's own state.
fn count(section: &mut OutlineRow, step: State) {
    let (mut done, mut all) = section.count.unwrap_or_default();
    match step {
        State::Done | State::Noted => {
            done += 1;
            all += 1;
        }
        State::Here | State::Open => all += 1,
        State::NotApplicable => {}
    }
    section.count = Some((done, all));
    section.state = match (section.state, step) {
        (State::Here, _) | (_, State::Here) => State::Here,
        _ if all == 0 => State::NotApplicable,
        _ if done < all => State::Open,
        // What is to be looked at in it is not hidden behind its head.
        (State::Noted, _) | (_, State::Noted) => State::Noted,
        _ => State::Done,
    };
}
