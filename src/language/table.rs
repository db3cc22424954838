//! Every key of the language, in one place.
//!
//! To add a key: one line here, and the field in the model and its reader; the schema and the
//! listing follow. To reserve one: one line with `later`.

mod equipment;
mod limit;
mod outcome;
mod procedure;
mod rehearsal;
mod shop;
mod step;

pub use equipment::EQUIPMENT;
pub use procedure::PROCEDURE;
pub use rehearsal::REHEARSAL;
pub use shop::SHOP;

use super::fields::{Choice, Field, Mapping, Shape, may, must};
use super::texts;

const TEXT: Shape = Shape::Text(&texts::TEXT);
const LINE: Shape = Shape::Text(&texts::LINE);
const NAME: Shape = Shape::Text(&texts::WORD);
const DATE: Shape = Shape::Text(&texts::DATE);
const PERSON: Shape = Shape::Text(&texts::PERSON);
const CONDITION: Shape = Shape::Text(&texts::CONDITION);
const QUANTITY: Shape = Shape::Text(&texts::QUANTITY);
const UNIT: Shape = Shape::Text(&texts::UNIT);
const NAMES: Shape = Shape::List(&NAME, 0);
const TEXTS: Shape = Shape::List(&TEXT, 0);
const ITEMS: Shape = Shape::List(&TEXT, 1);

const FORMAT: Field = must(
    "format",
    Shape::Text(&texts::FORMAT),
    "The version of the language, `\"1.0\"` or a later one that its keys ask for.",
);
const TITLE: Field = must("title", LINE, "One line for people.");
const REVISION: Field =
    must("revision", Shape::Count, "Counted up from 1 with every released change.");
const EFFECTIVE: Field = must("effective", DATE, "The day from which the revision holds.");
const REVISIONS: Field =
    must("revisions", Shape::List(&A_NOTE, 1), "The change log; one line is about this revision.");

static A_NOTE: Shape = Shape::Mapping(&NOTE);

static NOTE: Mapping = Mapping {
    name: "revision_note",
    noun: "a line of the change log",
    doc: "One line of a file's change log.",
    fields: &[
        must("revision", Shape::Count, "The revision that the line is about."),
        must("date", DATE, "The day of the change."),
        must("by", PERSON, "Who wrote it."),
        may("what", TEXT, "What changed."),
        must("why", TEXT, "Why it changed."),
    ],
    choice: Choice::None,
    rest: None,
};

static RANGE: Mapping = Mapping {
    name: "range",
    noun: "a range",
    doc: "From one figure to another, both included.",
    fields: &[
        must("from", QUANTITY, "The least figure."),
        must("to", QUANTITY, "The greatest figure."),
    ],
    choice: Choice::None,
    rest: None,
};
