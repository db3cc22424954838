//! Parts that an equipment file lists and that nothing uses.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::{each_step, performed, ways};
use crate::diag::{Code, Diagnostic};
use crate::equipment::model::Equipment;
use crate::ids::PartId;
use crate::procedure::model::Procedure;

/// The parts of `equipment` that no stack lays and that none of `procedures` names.
///
/// A procedure on its own seldom handles every part of a machine, so nothing is said unless one of
/// them performs others: they are then taken for the whole job.
pub fn parts_not_used(equipment: &Equipment, procedures: &[Arc<Procedure>]) -> Vec<Diagnostic> {
    let all = procedures.iter().map(AsRef::as_ref);
    let of_it: Vec<&Procedure> =
        all.filter(|procedure| equipment.takes(&procedure.equipment.value)).collect();
    if of_it.iter().all(|procedure| performed(&procedure.steps).is_empty()) {
        return Vec::new();
    }
    let layers = equipment.stacks.values().flat_map(|stack| &stack.layers);
    let mut used: BTreeSet<&PartId> = layers.map(|layer| &layer.part.value).collect();
    for procedure in &of_it {
        each_step(&procedure.steps, &mut |step| {
            let of_results = ways(&step.action).into_iter().flat_map(|(_, exit)| &exit.parts);
            used.extend(step.fits.iter().chain(of_results).map(|part| &part.value));
        });
    }
    let unused = equipment.parts.iter().filter(|(id, _)| !used.contains(id));
    unused
        .map(|(id, part)| {
            let headline = match &of_it[..] {
                [_] => format!("no stack lays `{id}`, and the procedure checked here does not name it"),
                more => format!(
                    "no stack lays `{id}`, and none of the {} procedures checked here names it",
                    more.len()
                ),
            };
            Diagnostic::warning(Code::PartNotUsed, part.span, headline).help(
                "lay it in a stack, name it under `fits` or `parts` where it is renewed, or delete it \
                 here; where another procedure names it, check that one too",
            )
        })
        .collect()
}
