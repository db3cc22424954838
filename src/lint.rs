//! What is wrong with a file that could still be walked: its wording, and the habits of the trade.
//!
//! Runs over the tree, where every text has its exact place. Everything here is a warning: a
//! program that reads prose can err, and a job must not hang on that. What the language itself
//! forbids is the readers' matter, and what follows from paths is the walk's.

mod allow;
mod bounds;
mod habits;
mod lexicon;
mod names;
mod needs;
mod passage;
mod ranges;
mod wording;

pub use allow::allow;

use crate::diag::Diagnostic;
use crate::language::FileKind;
use crate::source::{FileId, Source};
use crate::yaml::Node;

/// Everything to be said of a file of `kind`, in file order. Where the readers found errors
/// (`whole` is false) only single texts are looked at, so that nothing follows from a misspelt key.
pub fn check(
    kind: FileKind,
    file: FileId,
    source: &Source,
    root: &Node,
    whole: bool,
) -> Vec<Diagnostic> {
    let mut found = names::look_alikes(file, source);
    match kind {
        FileKind::Procedure => {
            let passages = passage::of_procedure(root, source);
            for passage in &passages {
                found.extend(wording::check(passage));
            }
            found.extend(names::two_names(root, &passages));
            found.extend(bounds::holes(file, root));
            let steps = passage::steps(root);
            for step in &steps {
                found.extend(habits::step(step, root, source));
            }
            let limits: Vec<&Node> = steps.iter().filter_map(|step| step.get("limit")).collect();
            found.extend(habits::comparison(root, &limits));
            if whole {
                found.extend(needs::both_ways(root, &steps));
                found.extend(habits::days(root));
            }
        }
        FileKind::Equipment => {
            found.extend(habits::figures_without_basis(root));
            found.extend(habits::comparison(root, &habits::named_limits(root)));
        }
        FileKind::Rehearsal | FileKind::Shop => {}
    }
    found.sort_by_key(|fault| fault.primary.span.start);
    found
}
