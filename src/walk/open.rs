//! What is open on a job, down to the line, the layer and the fastener.
//!
//! A function of the files and the entries alone, so that what a person is shown can be held against it.

use super::flow::{Ask, Flow, InstanceIdx};
use super::job::JobState;
use super::place::Stand;
use super::tighten::Due;
use crate::ids::{PersonId, Role};

/// What is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Open {
    /// The step, or what the job waits for, in a sentence.
    pub what: String,
    /// What is still to do of the step, a line each; empty for a step that is done at once.
    pub rest: Vec<String>,
    /// The signature that nobody can go on without, where that is what the job waits for.
    pub signature: Option<Awaited>,
}

/// A signature that a job waits for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Awaited {
    /// What is signed.
    pub what: Signs,
    /// Who may.
    pub by: Role,
    /// Those who first sign for their own work, in no order.
    pub first: Vec<PersonId>,
}

/// What is signed where a job waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signs {
    /// The whole job.
    SignOff,
    /// A hold is lifted.
    Hold,
    /// A decision.
    Decision,
    /// Work that was stopped goes on, or the job ends.
    Stopped,
}

impl Signs {
    /// Its word on lists.
    pub fn word(self) -> &'static str {
        match self {
            Self::SignOff => "SIGN-OFF",
            Self::Hold => "HOLD",
            Self::Decision => "DECIDE",
            Self::Stopped => "STOPPED",
        }
    }

    /// What whoever signs does, behind their role: `a mechanic` ...
    pub fn says(self) -> &'static str {
        match self {
            Self::SignOff => "signs for the whole job",
            Self::Hold => "looks, and lifts the hold",
            Self::Decision => "decides",
            Self::Stopped => "lets the work go on, or ends the job",
        }
    }
}

/// The signature that the job in `state` waits for, if it waits for one.
fn awaited(flow: &Flow, state: &JobState) -> Option<Awaited> {
    let (what, by) = match state.walk.stand {
        Stand::End | Stand::Stopped(_) => (Signs::SignOff, flow.signed_by),
        Stand::Asked(..) if state.halted().is_some() => (Signs::Stopped, Role::Mechanic),
        Stand::Asked(index, _) => {
            let instance = flow.instance(index);
            if matches!(instance.ask, Ask::Hold(_)) {
                (Signs::Hold, instance.by)
            } else if matches!(instance.ask, Ask::Decide { .. }) {
                (Signs::Decision, instance.by)
            } else {
                return None;
            }
        }
    };
    // A hold and the whole job rest on what those who did the work have signed.
    let rests = matches!(what, Signs::SignOff | Signs::Hold);
    let first = if rests { state.unsigned_people() } else { Vec::new() };
    Some(Awaited { what, by, first })
}

/// What is open on the job in `state`.
pub fn open(flow: &Flow, state: &JobState) -> Open {
    Open { signature: awaited(flow, state), ..what(flow, state) }
}

/// The same, but for signatures.
fn what(flow: &Flow, state: &JobState) -> Open {
    let index = match state.walk.stand {
        Stand::Asked(index, _) => index,
        Stand::End => {
            let what = "all steps are answered; the job waits for its sign-off".to_owned();
            return Open { what, rest: Vec::new(), signature: None };
        }
        Stand::Stopped(_) => {
            let what = "the job was stopped; it waits for its sign-off".to_owned();
            return Open { what, rest: Vec::new(), signature: None };
        }
    };
    let (what, mut rest) = step(flow, state, index);
    // What was under way when a state had to be verified again comes right after that.
    if let Some(waiting) = state.walk.waiting {
        let (what, of_it) = step(flow, state, waiting);
        rest.push(format!("then {what}"));
        rest.extend(of_it);
    }
    Open { what, rest, signature: None }
}

/// A step that is open, and what of it is left to do.
fn step(flow: &Flow, state: &JobState, index: InstanceIdx) -> (String, Vec<String>) {
    let instance = flow.instance(index);
    // The path holds the steps that are answered, and those that are asked once more.
    let path = &state.walk.path;
    let number = path.iter().position(|i| *i == index).unwrap_or(path.len()).saturating_add(1);
    let what = format!("step {number}: {} ({})", instance.ask.text(), instance.address);
    let mut rest = Vec::new();
    if let Some(items) = instance.ask.items() {
        let done = state.items.get(&index).map_or(0, std::collections::BTreeMap::len);
        // A list that nobody has begun is the step itself.
        if done > 0 {
            let open = (1_usize..).zip(items).skip(done);
            rest.extend(open.map(|(n, item)| format!("line {n} of {}: {item}", items.len())));
        }
    }
    rest.extend(layers(flow, state, index));
    if let Ask::Tighten(note) = &instance.ask {
        let tightening = state.tightening_of(index);
        let pass = match note.due(&tightening) {
            Due::Wrench { pass } | Due::Fastener { pass, .. } => pass,
            Due::Nothing => return (what, rest),
        };
        let open = note.open(&tightening.rounds, pass);
        let share = note.share(pass);
        let (n_open, n_all, n_passes) = (open.len(), note.order.len(), note.passes.len());
        let word = if n_open == 1 { "fastener" } else { "fasteners" };
        let numbers = ranges(open);
        rest.push(format!(
            "{word} {numbers} of {n_all}, in pass {pass} of {n_passes} ({share} % of the torque)"
        ));
    }
    (what, rest)
}

/// The layers that are still to be laid.
fn layers(flow: &Flow, state: &JobState, index: InstanceIdx) -> Vec<String> {
    let due = state.walk.layers_due(flow, state, index);
    let n_laid = state.standing(flow, index).len();
    let open = (1_usize..).zip(&due).skip(n_laid);
    open.map(|(n, note)| format!("layer {n} of {}: {}", due.len(), note.title)).collect()
}

/// Numbers in order, neighbours drawn together: `1, 4 to 8`.
fn ranges(mut numbers: Vec<u32>) -> String {
    numbers.sort_unstable();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, to)) if to.checked_add(1) == Some(number) => *to = number,
            _ => runs.push((number, number)),
        }
    }
    let words: Vec<String> = runs
        .into_iter()
        .map(|(from, to)| match to.saturating_sub(from) {
            0 => from.to_string(),
            1 => format!("{from}, {to}"),
            _ => format!("{from} to {to}"),
        })
        .collect();
    words.join(", ")
}

#[cfg(test)]
mod tests {
    use super::ranges;

    #[test]
    fn neighbours_are_drawn_together() {
        assert_eq!(ranges(vec![8, 4, 5, 6, 7]), "4 to 8");
        assert_eq!(ranges(vec![1, 2, 5]), "1, 2, 5");
        assert_eq!(ranges(vec![3]), "3");
        assert_eq!(ranges(vec![]), "");
    }
}
