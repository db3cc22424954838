//! Exits of inspections, and what follows when a bound is reached.

use super::super::fields::{Case, Choice, Field, KeyChoice, Mapping, Shape, WordChoice, may, must};
use super::super::words;
use super::step::A_STEP;
use super::{NAME, TEXT, TEXTS};
use crate::diag::Code;

const STEPS_DOC: &str = "Steps that belong to the outcome.";
/// A function, because a constant may not lead back to itself, and steps have exits.
const fn steps() -> Field {
    may("steps", Shape::List(&A_STEP, 1), STEPS_DOC)
}
const SAY: Field = may("say", TEXT, "What the person is told.");
const PARTS_DOC: &str = "Parts that go on the parts list.";
const PARTS: Shape = Shape::List(&NAME, 1);
const SAFE_STATE: Field = must("safe_state", TEXT, "The state in which the machine is left.");
const TELL: Field = may("tell", TEXTS, "Who is told.");

static BY_VERDICT: WordChoice = WordChoice {
    key: "verdict",
    default: None,
    cases: &[
        Case { word: "accept", lead: &[], fields: &[SAY, steps()], then: Choice::None },
        Case {
            word: "rework",
            lead: &[],
            fields: &[
                SAY,
                must(
                    "steps",
                    Shape::List(&A_STEP, 1),
                    "The work to be done before the same inspection again.",
                ),
                must("at_most", Shape::CountOrFigure, "How often the work may be done."),
                must(
                    "otherwise",
                    Shape::Mapping(&OTHERWISE),
                    "What follows when the work did not help that often.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "replace",
            lead: &[],
            fields: &[SAY, must("parts", PARTS, PARTS_DOC), steps()],
            then: Choice::None,
        },
        Case {
            word: "refer",
            lead: &[],
            fields: &[
                SAY,
                may("parts", PARTS, PARTS_DOC),
                may("to", Shape::Word(&words::DECIDES), "Who decides."),
                steps(),
            ],
            then: Choice::None,
        },
        Case {
            word: "stop",
            lead: &[],
            fields: &[
                must("say", TEXT, "What ends the job and what happens to the machine."),
                SAFE_STATE,
                TELL,
                steps(),
            ],
            then: Choice::None,
        },
    ],
};

const VERDICT: Field =
    must("verdict", Shape::Word(&words::VERDICTS), "What the rules say of the part.");

/// What follows from an outcome.
pub(super) static EXIT: Mapping = Mapping {
    name: "exit",
    noun: "an exit",
    doc: "What follows from an outcome: a verdict and what it brings.",
    fields: &[VERDICT],
    choice: Choice::Word(&BY_VERDICT),
    rest: None,
};

/// A described finding with its exit.
pub(super) static FINDING: Mapping = Mapping {
    name: "finding",
    noun: "a finding",
    doc: "One thing that may be seen, and what follows from it.",
    fields: &[
        must("see", TEXT, "What it looks like."),
        may("likely_cause", TEXT, "What probably brought it about."),
        VERDICT,
    ],
    choice: Choice::Word(&BY_VERDICT),
    rest: None,
};

/// What follows when a bound is reached.
pub(super) static OTHERWISE: Mapping = Mapping {
    name: "otherwise",
    noun: "an `otherwise`",
    doc: "What follows when something has been done as often as it may be.",
    fields: &[],
    choice: Choice::Key(&KeyChoice {
        what: "outcome",
        code: Code::MissingKey,
        cases: &[
            Case {
                word: "stop",
                lead: &[must("stop", TEXT, "What ends the job and what happens to the machine.")],
                fields: &[SAFE_STATE, TELL],
                then: Choice::None,
            },
            Case {
                word: "refer",
                lead: &[must("refer", Shape::Word(&words::DECIDES), "Who decides.")],
                fields: &[must("say", TEXT, "What they are told.")],
                then: Choice::None,
            },
        ],
    }),
    rest: None,
};
