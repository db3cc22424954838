//! Limits, given in a step or by name in an equipment file.

use super::super::fields::{Case, Choice, Field, KeyChoice, Mapping, Shape, may, must, since};
use super::super::{texts, words};
use super::{QUANTITY, RANGE, TEXT};
use crate::diag::Code;

const PLAIN: Case = Case {
    word: "bounds",
    lead: &[
        may("at_least", QUANTITY, "The least reading that passes; that reading passes."),
        may("at_most", QUANTITY, "The greatest reading that passes; that reading passes."),
    ],
    fields: &[],
    then: Choice::None,
};
const BETWEEN: Case = Case {
    word: "between",
    lead: &[must(
        "between",
        Shape::List(&QUANTITY, 2),
        "The least and the greatest reading that pass.",
    )],
    fields: &[],
    then: Choice::None,
};
const NOMINAL: Case = Case {
    word: "nominal",
    lead: &[
        must("nominal", QUANTITY, "The figure that is aimed at."),
        must("plus", QUANTITY, "How much more still passes, or how many percent."),
        must("minus", QUANTITY, "How much less still passes, or how many percent."),
    ],
    fields: &[],
    then: Choice::None,
};
const BY_GRADE: Case = Case {
    word: "grades",
    lead: &[must(
        "grades",
        Shape::Keyed(&texts::WORD, &A_GRADE, 1),
        "Limits by name, the closest first; what meets none of them fails.",
    )],
    fields: &[],
    then: Choice::None,
};

static BOUNDS: KeyChoice =
    KeyChoice { what: "bound", code: Code::BadLimit, cases: &[PLAIN, BETWEEN, NOMINAL, BY_GRADE] };

static GRADE_BOUNDS: KeyChoice =
    KeyChoice { what: "bound", code: Code::BadLimit, cases: &[PLAIN, BETWEEN, NOMINAL] };

static A_GRADE: Shape = Shape::Mapping(&GRADE);

/// One grade of a limit.
static GRADE: Mapping = Mapping {
    name: "grade",
    noun: "a grade",
    doc: "What a reading of this grade keeps to. Bounds are included.",
    fields: &[],
    choice: Choice::Key(&GRADE_BOUNDS),
    rest: None,
};

/// How a reading is held against the bounds, whatever they are.
const COMPARE: Field = may(
    "compare",
    Shape::Word(&words::COMPARES),
    "As read, or rounded to the places of the bounds first; `absolute`, if absent.",
);
/// The same for all limits of a file that do not say it themselves.
pub(super) const COMPARE_ALL: Field = since(
    "1.1",
    may(
        "compare",
        Shape::Word(&words::COMPARES),
        "How readings are compared with the limits of this file: as read, or rounded to the places of \
     the bounds first; a limit can say otherwise. `absolute`, if absent.",
    ),
);
const RULE: Field = may(
    "rule",
    Shape::Word(&words::RULES),
    "What it takes to accept a reading of an instrument with an uncertainty; `simple`, if absent.",
);
const GUARD: Field = may(
    "guard",
    Shape::Text(&texts::GUARD),
    "How far `guarded` and `proven` draw the bounds in; `1 U`, if absent.",
);
const PROBABILITY: Field = may(
    "probability",
    Shape::Text(&texts::PROBABILITY),
    "How probably the truth must lie within the limit, for the rule `probability`.",
);

const CAPABILITY: Field = may(
    "capability",
    Shape::Text(&texts::INDEX),
    "The least capability index of the instrument: the width of the limit over four of its \
     standard uncertainties.",
);

const HOLDS_AT: Field = since(
    "1.1",
    may(
        "holds_at",
        Shape::Mapping(&RANGE),
        "The temperatures of the part between which the limit holds; the step then says under \
     `temperature` where that was read.",
    ),
);

/// A limit given in a step.
pub(super) static LIMIT: Mapping = Mapping {
    name: "limit",
    noun: "a limit",
    doc: "What a reading must keep to. Bounds are included.",
    fields: &[COMPARE, RULE, GUARD, PROBABILITY, CAPABILITY, HOLDS_AT],
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
        GUARD,
        PROBABILITY,
        CAPABILITY,
        HOLDS_AT,
    ],
    choice: Choice::Key(&BOUNDS),
    rest: None,
};
