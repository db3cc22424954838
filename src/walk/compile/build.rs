//! What a build step asks: the layers of its stack in the order of laying.

use super::super::flow::{Ask, ConditionKind, ExitNote, GuardIdx};
use super::super::names::Place;
use super::super::stack::LayerNote;
use super::{Builder, Context};
use crate::equipment::model::Layer;
use crate::ids::Name;
use crate::procedure::model::{Action, Step, Toward};

impl Builder<'_> {
    pub(super) fn build(&mut self, step: &Step, context: &Context<'_>) -> Option<Ask> {
        let Action::Build { text, stack, laid, not_so } = &step.action else { return None };
        let equipment = self.equipment;
        let Some(found) = equipment.stacks.get(&stack.value) else {
            let known = equipment.stacks.keys().map(Name::as_str);
            self.unknown(stack.span, "stack", stack.value.as_str(), known);
            return None;
        };
        let mut layers = Vec::new();
        for layer in found.laid(*laid) {
            let part = equipment.parts.get(&layer.part.value);
            let title = layer.title.clone().or_else(|| part.map(|part| part.title.clone()));
            layers.push(LayerNote {
                id: layer.layer.value.clone(),
                part: layer.part.value.clone(),
                title: title.unwrap_or_else(|| layer.part.value.spoken()),
                lies: layer.lies(*laid),
                faces_up: layer.faces_up(*laid),
                profile: layer.profile,
                lot: part.is_some_and(|part| part.lot),
                when: self.layer_guard(layer, context),
            });
        }
        Some(Ask::Build {
            text: text.clone(),
            stack: found.title.clone(),
            layers,
            flows_to_last: *laid == Toward::WithFlow,
            not_so: ExitNote::of(not_so),
        })
    }

    /// A layer's condition reads settings, and the position that the step stands at; no step.
    fn layer_guard(&mut self, layer: &Layer, context: &Context<'_>) -> Option<GuardIdx> {
        let when = layer.when.as_ref()?;
        let declared = std::mem::take(&mut self.declared);
        let place = Place { path: Vec::new(), root_len: 0, positions: context.positions.clone() };
        let guard = self.condition(when, &place, ConditionKind::When);
        self.declared = declared;
        guard
    }

    /// Layers are read where the step is asked that was laid into the graph last.
    pub(super) fn place_layers(&mut self, ask: &Ask) {
        let Ask::Build { layers, .. } = ask else { return };
        let node = self.nodes.len().saturating_sub(1);
        for guard in layers.iter().filter_map(|layer| layer.when) {
            if let Some(place) = self.guard_places.get_mut(guard)
                && *place == super::UNPATCHED
            {
                *place = node;
            }
        }
    }
}
