//! A stack as it is put to a person: what is laid, what comes next, what this machine does not have.

use crate::session::Session;
use crate::walk::event::Laid;
use crate::walk::flow::{Ask, InstanceIdx};
use crate::walk::stack::LayerNote;

/// A stack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StackShown {
    /// Its name for people.
    pub title: String,
    /// Its layers, from the first in to the last in.
    pub layers: Vec<LayerShown>,
    /// What was laid so far, in the same order.
    pub laid: Vec<Laid>,
    /// True when the liquid runs from the first in to the last in.
    pub flows_to_last: bool,
}

/// One layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerShown {
    /// The layer.
    pub note: LayerNote,
    /// The condition that this machine does not meet, where it has no such layer.
    pub out: Option<String>,
}

/// How a layer stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LayerState<'a> {
    /// Laid as it must lie.
    Laid(&'a Laid),
    /// It does not lie as it must.
    NotSo,
    /// To be laid now.
    Next,
    /// To be laid later.
    Ahead,
    /// Not in this machine, because this is not so.
    Out(&'a str),
}

impl StackShown {
    /// The stack of the step `index`; `None` for other steps.
    pub fn of(session: &Session, index: InstanceIdx) -> Option<Self> {
        let (flow, state) = (&session.files().flow, session.state());
        let Ask::Build { stack, flows_to_last, .. } = &flow.instance(index).ask else {
            return None;
        };
        let layers = state.walk.layers(flow, state, index).into_iter().map(|(note, due)| {
            let when = note.when.filter(|_| !due);
            LayerShown { note: note.clone(), out: when.map(|when| flow.guard(when).text(flow)) }
        });
        Some(Self {
            title: stack.clone(),
            layers: layers.collect(),
            laid: state.standing(flow, index).into_iter().map(|n| n.laid.clone()).collect(),
            flows_to_last: *flows_to_last,
        })
    }

    /// The layers that are due.
    pub fn due(&self) -> impl Iterator<Item = &LayerNote> {
        self.layers.iter().filter(|layer| layer.out.is_none()).map(|layer| &layer.note)
    }

    /// The layer that comes after `laid`.
    pub fn next(&self, laid: &[Laid]) -> Option<&LayerNote> {
        self.due().nth(laid.len())
    }

    /// Every layer with how it stands once `laid` is laid.
    pub fn states<'a>(&'a self, laid: &'a [Laid]) -> Vec<(&'a LayerNote, LayerState<'a>)> {
        let mut n_due = 0;
        let state = |layer: &'a LayerShown| {
            if let Some(out) = &layer.out {
                return (&layer.note, LayerState::Out(out));
            }
            let state = match laid.get(n_due) {
                Some(laid) if laid.so => LayerState::Laid(laid),
                Some(_) => LayerState::NotSo,
                None if n_due == laid.len() => LayerState::Next,
                None => LayerState::Ahead,
            };
            n_due += 1;
            (&layer.note, state)
        };
        self.layers.iter().map(state).collect()
    }
}

/// The layer and how its marked face lies.
pub fn layer_words(note: &LayerNote) -> String {
    match &note.lies {
        Some(lies) => format!("{}: {lies}", note.title),
        None => note.title.clone(),
    }
}
