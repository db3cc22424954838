//! The photos and files of a job: which, at which step, by whom and when.

use crate::ids::{Moment, PersonId};
use crate::session::Session;
use crate::walk::event::Evidence;
use crate::walk::{Address, Answer};

/// A photo or file that lies with the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileShown {
    /// The step that it answers or lies beside; `None` where it is about the whole job.
    pub address: Option<Address>,
    /// What the job log keeps of it.
    pub evidence: Evidence,
    /// Who attached it.
    pub by: Option<PersonId>,
    /// When.
    pub at: Moment,
}

/// All of them, in the order in which they were attached.
pub(super) fn of(session: &Session) -> Vec<FileShown> {
    let (flow, state) = (&session.files().flow, session.state());
    let beside = state.evidence.iter().map(|(n, by, address, evidence)| {
        let entry = usize::try_from(*n).ok().and_then(|n| session.entries().get(n));
        let at = entry.map_or_else(|| session.now(), |entry| entry.at);
        (*n, FileShown { address: address.clone(), evidence: evidence.clone(), by: by.clone(), at })
    });
    let answers = state.held.iter().enumerate().filter_map(|(index, held)| {
        let held = held.as_ref()?;
        let Answer::Attached(evidence) = &held.answer else { return None };
        let address = Some(flow.instance(index).address.clone());
        let (evidence, by) = (evidence.clone(), held.by.clone());
        Some((held.n, FileShown { address, evidence, by, at: held.at }))
    });
    let mut all: Vec<(u64, FileShown)> = beside.chain(answers).collect();
    all.sort_by_key(|(n, _)| *n);
    all.into_iter().map(|(_, file)| file).collect()
}
