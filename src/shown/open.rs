//! What is open on a job, down to the layer and the fastener.

use super::ring::FastenerState;
use super::{RingShown, StackShown};
use crate::session::Session;
use crate::walk::place::Stand;

/// A line each.
pub(super) fn open(session: &Session) -> Vec<String> {
    let (flow, state) = (&session.files().flow, session.state());
    match state.walk.stand {
        Stand::Asked(index, _) => {
            let instance = flow.instance(index);
            let mut lines = vec![format!("{}: {}", instance.address, instance.ask.text())];
            if let (Some(items), Some(done)) = (instance.ask.items(), state.items.get(&index)) {
                for (n, item) in items.iter().enumerate().skip(done.len()) {
                    lines.push(format!("its line {} of {}: {item}", n + 1, items.len()));
                }
            }
            if let Some(stack) = StackShown::of(session, index) {
                let n_due = stack.due().count();
                for (n, note) in stack.due().enumerate().skip(stack.laid.len()) {
                    lines.push(format!("its layer {} of {n_due}: {}", n + 1, note.title));
                }
            }
            if let Some(ring) = RingShown::of(session, index) {
                let pass = ring.pass().map_or_else(String::new, |pass| ring.pass_words(pass));
                lines.push(format!("{}; {pass}", ring.count_words()));
                let open = ring.states().into_iter().filter(|(_, s)| *s != FastenerState::Done);
                let open: Vec<String> = open.map(|(number, _)| number.to_string()).collect();
                lines.push(format!("its fasteners still open in this pass: {}", open.join(", ")));
            }
            lines
        }
        Stand::End => vec!["all steps are answered; the job waits for its sign-off".to_owned()],
        Stand::Stopped(_) => vec!["the job was stopped; it waits for its sign-off".to_owned()],
    }
}
