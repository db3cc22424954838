//! What is open on a job, as lines for those who draw.

use crate::session::Session;

/// The step that is open, then what is still to do of it, a line each.
pub(super) fn open(session: &Session) -> Vec<String> {
    let open = crate::walk::open::open(&session.files().flow, session.state());
    let mut lines = vec![open.what];
    lines.extend(open.rest.into_iter().map(|rest| format!("still to do: {rest}")));
    lines
}
