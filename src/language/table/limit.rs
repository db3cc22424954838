//! Limits, given in a step or by name in an equipment file.

use super::super::fields::{Case, Choice, Field, KeyChoice, Mapping, Shape, later, may, must};
use super::{QUANTITY, RANGE, TEXT};
use crate::diag::Code;

static BOUNDS: KeyChoice = KeyChoice {
    what: "bound",
    code: Code::BadLimit,
    cases: &[
        Case {
            word: "bounds",
            lead: &[
                may("at_least", QUANTITY, "The least reading that passes; that reading passes."),
                may("at_most", QUANTITY, "The greatest reading that passes; that reading passes."),
            ],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "between",
            lead: &[must(
                "between",
                Shape::List(&QUANTITY, 2),
                "The least and the greatest reading that pass.",
            )],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "nominal",
            lead: &[
                must("nominal", QUANTITY, "The figure that is aimed at."),
                must("plus", QUANTITY, "How much more still passes."),
                must("minus", QUANTITY, "How much less still passes."),
            ],
            fields: &[],
            then: Choice::None,
        },
    ],
};

const COMPARE: Field = later("compare", "Comparing rounded figures.");
const RULE: Field = later("rule", "Guarding a limit by the instrument's uncertainty.");
const GRADES: Field = later("grades", "Limits by grade.");
const RELATIVE_TO: Field = later("relative_to", "Limits relative to another reading.");

/// A limit given in a step.
pub(super) static LIMIT: Mapping = Mapping {
    name: "limit",
    noun: "a limit",
    doc: "What a reading must keep to. Bounds are included.",
    fields: &[COMPARE, RULE, GRADES, RELATIVE_TO],
    choice: Choice::Key(&BOUNDS),
    rest: None,
};

/// A limit given by name.
pub(super) static NAMED_LIMIT: Mapping = Mapping {
    name: "named_limit",
    noun: "a limit",
    doc: "A limit that procedures use by its dotted name.",
    fields: &[
        must("basis", TEXT, "Where the figures come from."),
        may(
            "plausible",
            Shape::Mapping(&RANGE),
            "Readings outside this range are taken for a slip of the hand.",
        ),
        COMPARE,
        RULE,
        GRADES,
        RELATIVE_TO,
    ],
    choice: Choice::Key(&BOUNDS),
    rest: None,
};
