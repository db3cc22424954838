//! Stacks: every layer has its line, and is laid one at a time.

use super::{Halt, Prompt, Walker, sentence};
use crate::shown::Question;
use crate::shown::stack::{LayerState, layer_words};
use crate::walk::event::Laid;
use crate::walk::stack::LayerNote;
use crate::walk::{Answer, Command};

impl Walker<'_> {
    /// The whole stack, from the first in to the last in.
    pub(super) fn stack(&mut self, question: &Question) -> Result<(), Halt> {
        let Some(stack) = &question.stack else { return Ok(()) };
        let flow = if stack.flows_to_last {
            "the liquid runs from the first in to the last in"
        } else {
            "the liquid runs from the last in to the first in"
        };
        self.talk.say(&format!("{}, first in first; {flow}:", stack.title))?;
        let mut n = 0;
        for (note, state) in stack.states(&stack.laid) {
            if let LayerState::Out(because) = state {
                let text = format!("-. {}: not in this machine (only when {because})", note.title);
                self.talk.say(&text)?;
                continue;
            }
            n += 1;
            let state = match state {
                LayerState::Laid(laid) => match &laid.lot {
                    Some(lot) => format!(": laid, lot {lot}"),
                    None => ": laid".to_owned(),
                },
                LayerState::NotSo => ": NOT as it must lie".to_owned(),
                LayerState::Next => ": next".to_owned(),
                LayerState::Ahead | LayerState::Out(_) => String::new(),
            };
            self.talk.say(&format!("{n}. {}{state}", layer_words(note)))?;
        }
        Ok(())
    }

    /// The next layer.
    pub(super) fn layer(&mut self, question: &Question) -> Result<(), Halt> {
        let Some(stack) = &question.stack else { return Err(Halt::Again) };
        let Some(note) = stack.next(&stack.laid) else { return Err(Halt::Again) };
        let n_due = stack.due().count();
        let laid = self.one_layer(note, stack.laid.len(), n_due)?;
        let so = laid.so;
        let mut all = stack.laid.clone();
        all.push(laid.clone());
        let address = question.address.clone();
        self.submit(Command::LayLayer { address: address.clone(), laid })?;
        self.talk.say(if so { "Saved: it is laid." } else { "Saved: it does NOT lie so." })?;
        if so && all.len() < n_due {
            self.last = Some(address);
        } else if let Some(consequence) = question.consequence(&Answer::Built(all)) {
            self.talk.say(&format!("{}.", sentence(&consequence.words)))?;
        }
        Ok(())
    }

    /// The whole stack anew, for a correction.
    pub(super) fn layers(&mut self, question: &Question) -> Result<Answer, Halt> {
        let Some(stack) = &question.stack else { return Err(Halt::Again) };
        let n_due = stack.due().count();
        let mut all = Vec::new();
        for (n, note) in stack.due().enumerate() {
            let laid = self.one_layer(note, n, n_due)?;
            let so = laid.so;
            all.push(laid);
            if !so {
                break;
            }
        }
        Ok(Answer::Built(all))
    }

    fn one_layer(&mut self, note: &LayerNote, n: usize, n_due: usize) -> Result<Laid, Halt> {
        self.talk.say(&format!("Layer {} of {n_due}: {}", n + 1, layer_words(note)))?;
        let so = self.yes_or_no("Does it lie so? y = yes, n = no")?;
        let lot = if so && note.lot {
            let lot = self.prompt(Prompt::FreeText, "Its lot, as it stands on the part")?;
            self.echoed(&format!("Lot `{lot}`"))?;
            Some(lot)
        } else {
            None
        };
        Ok(Laid { layer: note.id.clone(), so, lot })
    }
}
