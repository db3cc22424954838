//! A procedure that others perform, made ready to be played alone: the plate is read, and all that it
//! assumes is so.

use std::fmt::Write as _;

use crate::equipment::model::Equipment;
use crate::ids::ProcedureId;
use crate::procedure::model::Procedure;

/// What stands before the id of the procedure in that of the one that performs it alone.
const PREFIX: &str = "alone_";

/// The id of what performs `procedure` alone.
pub(super) fn id_of(procedure: &ProcedureId) -> Option<ProcedureId> {
    ProcedureId::new(format!("{PREFIX}{procedure}")).ok()
}

/// A procedure that does nothing but perform `procedure`, with everything given that it needs: a step
/// `fit_out` where the equipment has fit-outs, and `assumed` where it assumes tokens.
pub(super) fn caller(procedure: &Procedure, equipment: &Equipment) -> String {
    let id = &procedure.id.value;
    let mut out = format!(
        "format: \"1.0\"\nprocedure: {PREFIX}{id}\ntitle: {id} alone\nequipment: {}\nrevision: 1\n\
         effective: 2000-01-01\nrevisions: [{{revision: 1, date: 2000-01-01, by: m.dube, what: Made \
         for a rehearsal, why: To be played alone}}]\nperformed_by: apprentice\nsigned_by: \
         mechanic\nsignal_words: ansi-z535\n",
        procedure.equipment.value
    );
    let assumed: Vec<String> =
        procedure.assumes.iter().map(|token| token.value.to_string()).collect();
    // What does not last ends with what it rests on; else it would be set again without that.
    let fleeting = procedure.tokens.iter().filter(|(_, token)| token.may_expire());
    let fleeting = fleeting.map(|(id, _)| id.to_string()).filter(|id| !assumed.contains(id));
    let back: Vec<String> = assumed.iter().cloned().chain(fleeting).collect();
    let mut write = |text: std::fmt::Arguments<'_>| {
        out.write_fmt(text).expect("internal: a `String` takes any text");
    };
    if !assumed.is_empty() {
        write(format_args!("tokens:\n"));
        for token in &back {
            write(format_args!("  {token}: {{title: Given for a rehearsal}}\n"));
        }
    }
    write(format_args!("steps:\n"));
    if !equipment.builds().is_empty() {
        write(format_args!("  - {{id: fit_out, enter: The fit-out., kind: fit_out}}\n"));
    }
    let tokens = assumed.join(", ");
    if !assumed.is_empty() {
        write(format_args!(
            "  - {{id: assumed, do: All that it assumes is so., sets: [{tokens}]}}\n"
        ));
    }
    write(format_args!("  - {{id: {id}, perform: {id}}}\n"));
    if !assumed.is_empty() {
        write(format_args!(
            "  - {{id: given_back, do: All that was given is taken back., clears: [{}]}}\n",
            back.join(", ")
        ));
    }
    out
}
