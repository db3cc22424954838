//! A stack: loose parts that lie on each other, told once, as the flow meets them.
//!
//! Which one is laid first, and which way its marked face then points, follows from the order of
//! laying; so an inlet and an outlet of the same parts share one description.

use crate::expr::Condition;
use crate::ids::{Name, PartId};
use crate::language::{Profile, Toward};
use crate::source::{At, Span};

/// A stack.
#[derive(Debug, Clone)]
pub struct Stack {
    /// One line for people.
    pub title: String,
    /// The layers as the flow meets them, at least one of them always there.
    pub layers: Vec<Layer>,
    /// Where it is declared.
    pub span: Span,
}

/// One part of a stack.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Its name, unique in the stack.
    pub layer: At<Name>,
    /// The part.
    pub part: At<PartId>,
    /// The marked face in words, and which way it points.
    pub face: Option<(String, Toward)>,
    /// How it looks from the side.
    pub profile: Profile,
    /// One line for people, where not the part's.
    pub title: Option<String>,
    /// The layer drops out where this is false.
    pub when: Option<Condition>,
}

impl Stack {
    /// The layers from the first in to the last in.
    pub fn laid(&self, order: Toward) -> Vec<&Layer> {
        match order {
            Toward::WithFlow => self.layers.iter().collect(),
            Toward::AgainstFlow => self.layers.iter().rev().collect(),
        }
    }
}

impl Layer {
    /// True when the marked face points up once the layer is laid in `order`; `None` where it may
    /// lie either way up.
    pub fn faces_up(&self, order: Toward) -> Option<bool> {
        self.face.as_ref().map(|(_, toward)| *toward == order)
    }

    /// How the marked face lies once the layer is laid in `order`: what is laid last lies to the
    /// liquid, what is laid first to the oil.
    pub fn lies(&self, order: Toward) -> Option<String> {
        let (face, _) = self.face.as_ref()?;
        Some(if self.faces_up(order)? {
            format!("{face} up, to the liquid")
        } else {
            format!("{face} down, to the oil")
        })
    }
}
