//! For whom a step is, where whoever is at work cannot answer it alone, and why it is asked once more.

use crate::session::{Session, SubmitError};
use crate::walk::Refusal;
use crate::walk::decide::authorised;
use crate::walk::event::Expiry;
use crate::walk::flow::{Ask, InstanceIdx};

/// For whom a step is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ForWhom {
    /// Somebody else goes on with it.
    Another(String),
    /// Somebody else signs it; whoever is at work picks them.
    Signer(String),
}

impl ForWhom {
    /// For whom the step `index` is; `None` where whoever is at work answers it.
    pub(super) fn of(session: &Session, index: InstanceIdx) -> Option<Self> {
        let (files, state) = (session.files(), session.state());
        let person = session.at_work()?;
        let instance = files.flow.instance(index);
        let may = authorised(files, person, Some(instance.by), session.now()).is_ok();
        let role = instance.by.word();
        match &instance.ask {
            Ask::Decide { .. } if !may => {
                Some(Self::Signer(format!("a {role}, who decides and signs")))
            }
            Ask::Hold(_) if !may => Some(Self::Signer(format!("a {role}, who looks and signs"))),
            Ask::Decide { .. } | Ask::Hold(_) => None,
            _ if !may => Some(Self::Another(format!("a {role}"))),
            Ask::Measure(note) => {
                let first = note.second_of.as_ref()?.first;
                let took = state.held.get(first)?.as_ref()?.by.as_ref()?;
                (took == person).then(|| {
                    Self::Another("another person, who has not seen the first reading".to_owned())
                })
            }
            _ => None,
        }
    }

    /// Where `key` lets another person go on, in words.
    pub fn words(&self, key: &str, pick: &str) -> String {
        match self {
            Self::Another(whom) => format!("{whom}: {key}"),
            Self::Signer(whom) => format!("{whom}: {pick}"),
        }
    }
}

/// Why the step `index` is asked although it was answered: what it proved did not last, or it was signed
/// over something that was corrected since.
pub(super) fn again(session: &Session, index: InstanceIdx) -> Option<String> {
    let (files, state) = (session.files(), session.state());
    let instance = files.flow.instance(index);
    if state.to_verify.contains_key(&index) {
        let expired =
            state.expired.iter().rev().find(|(_, token, _)| instance.sets.contains(token));
        let (_, token, because) = expired?;
        let title = &files.flow.tokens.get(token)?.title;
        let because = match because {
            Expiry::Pause => "a pause",
            Expiry::Hands => "a change of hands",
            Expiry::Halt => "a stop of the work",
            Expiry::Time => "so long a time",
        };
        return Some(format!("`{title}` does not outlast {because}; what was done since stands"));
    }
    let held = state.held.get(index).is_some_and(Option::is_some);
    let lapsed = state.lapsed.iter().rev().find(|lapsed| lapsed.address == instance.address)?;
    (!held).then(|| {
        format!(
            "entry {} corrected what this was signed over in entry {}, so that signature lapsed",
            lapsed.by_n, lapsed.n
        )
    })
}

/// True where a move was refused because somebody else is needed for it.
pub fn is_for_another(error: &SubmitError) -> bool {
    let refusal = match error {
        SubmitError::Refused(refusal) => Some(refusal),
        _ => None,
    };
    matches!(refusal, Some(Refusal::RoleMissing { .. } | Refusal::SameMeasurer(_)))
}
