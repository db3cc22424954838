//! Steps and their actions.

use super::super::fields::{
    Case, Choice, Field, KeyChoice, Mapping, Shape, WordChoice, later, may, must, since,
};
use super::super::{texts, words};
use super::limit::LIMIT;
use super::outcome::{EXIT, FINDING, OTHERWISE};
use super::{CONDITION, ITEMS, LINE, NAME, NAMES, QUANTITY, RANGE, TEXT, TEXTS, UNIT};
use crate::diag::Code;

const SAFETY_TEXT: Shape = Shape::OneOrMore(&Shape::Mapping(&SAFETY));
/// A function, because a constant may not lead back to itself, and exits have steps.
const fn an_exit() -> Shape {
    Shape::Mapping(&EXIT)
}

static POINTS: Shape = Shape::List(&NAME, 2);

const FITS: Field =
    may("fits", NAMES, "Parts that go in with this step, at every position that it is about.");

static HEADLINE_OF: Mapping = Mapping {
    name: "headline",
    noun: "a headline",
    doc: "What the answer is called on the first page of the report, and where it stands there.",
    fields: &[
        must(
            "under",
            Shape::Word(&words::HEADLINES),
            "Where: how it came, the product side, why it failed, what is to be changed, or the next service.",
        ),
        must("label", LINE, "What the answer is called there, for the owner."),
    ],
    choice: Choice::None,
    rest: None,
};

/// On steps whose answer says something that an owner can read.
const HEADLINE: Field = since(
    "1.1",
    may(
        "headline",
        Shape::Mapping(&HEADLINE_OF),
        "The answer stands on the first page of the report.",
    ),
);

/// The steps of a section or procedure.
pub(super) const fn steps() -> Field {
    must("steps", Shape::List(&A_STEP, 1), "The steps, in order.")
}

static SAFETY: Mapping = Mapping {
    name: "safety",
    noun: "a safety message",
    doc: "One safety message: shown whole before the action, acknowledged on its own.",
    fields: &[
        must("hazard", TEXT, "What can hurt."),
        must("consequence", TEXT, "What happens then."),
        must("avoid", TEXT, "How to avoid it."),
        since(
            "1.1",
            may(
                "signs",
                Shape::List(&Shape::Word(&words::SIGNS), 1),
                "Safety signs that go with it, by their codes in ISO 7010.",
            ),
        ),
        since(
            "1.1",
            may(
                "in",
                Shape::Keyed(&texts::LANGUAGE, &Shape::Mapping(&SAFETY_IN), 1),
                "The same message in other languages.",
            ),
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static SAFETY_IN: Mapping = Mapping {
    name: "safety_in",
    noun: "a safety message in another language",
    doc: "One safety message as it stands in another language.",
    fields: &[
        must("word", LINE, "The signal word in that language."),
        must("hazard", TEXT, "What can hurt."),
        must("consequence", TEXT, "What happens then."),
        must("avoid", TEXT, "How to avoid it."),
    ],
    choice: Choice::None,
    rest: None,
};

static STANDING_CONDITION: Mapping = Mapping {
    name: "standing",
    noun: "a standing condition",
    doc: "Something that may happen at any step, and what is done then.",
    fields: &[
        must("id", Shape::Text(&texts::WORD), "Its name."),
        must("see", TEXT, "What is seen."),
        must("then", TEXT, "What is done at once."),
    ],
    choice: Choice::None,
    rest: None,
};

static A_STANDING_CONDITION: Shape = Shape::Mapping(&STANDING_CONDITION);

/// The state in which work that is stopped leaves the machine.
pub(super) const SAFE_STATE: Field = may(
    "safe_state",
    TEXT,
    "How the machine is left when the work is stopped inside; the innermost one holds.",
);

/// What holds at every step inside.
pub(super) const STANDING: Field = may(
    "standing",
    Shape::List(&A_STANDING_CONDITION, 1),
    "What may happen at any step inside, and what is done then.",
);

static REPEAT: Mapping = Mapping {
    name: "repeat",
    noun: "a repetition",
    doc: "Repeats a section until a condition holds.",
    fields: &[
        must("until", CONDITION, "Ends the repetition; read after each pass."),
        must("at_most", Shape::CountOrFigure, "The most passes."),
        must(
            "otherwise",
            Shape::Mapping(&OTHERWISE),
            "What follows when the last pass does not meet `until`.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static SECOND: Mapping = Mapping {
    name: "second",
    noun: "a second measurement",
    doc: "An independent second measurement by another person.",
    fields: &[must(
        "agree_within",
        QUANTITY,
        "How far the two readings may lie apart; beyond it a mechanic decides.",
    )],
    choice: Choice::None,
    rest: None,
};

static REDO: Mapping = Mapping {
    name: "redo",
    noun: "what is done again",
    doc: "Every fastener is tightened again from a pass on.",
    fields: &[must("from_pass", Shape::Count, "The first pass that is done again, from 1.")],
    choice: Choice::None,
    rest: None,
};

const fn bare(word: &'static str, fields: &'static [Field]) -> Case {
    Case { word, lead: &[], fields, then: Choice::None }
}

static BY_KIND: WordChoice = WordChoice {
    key: "kind",
    default: Some("text"),
    cases: &[
        bare("text", &[]),
        bare(
            "figure",
            &[
                must("unit", UNIT, "The unit that a bare number means; `number` for none."),
                may(
                    "plausible",
                    Shape::Mapping(&RANGE),
                    "Entries outside this range are taken for a slip of the hand.",
                ),
            ],
        ),
        bare(
            "choice",
            &[must(
                "choices",
                Shape::Keyed(&texts::WORD, &TEXT, 1),
                "The choices by name, each with a line for people.",
            )],
        ),
        bare("date", &[]),
        bare("serial", &[]),
        bare("fit_out", &[]),
    ],
};

static BY_ACTION: KeyChoice = KeyChoice {
    what: "action",
    code: Code::OneAction,
    cases: &[
        Case {
            word: "do",
            lead: &[must("do", TEXT, "One instruction, carried out and confirmed.")],
            fields: &[HEADLINE, FITS],
            then: Choice::None,
        },
        Case {
            word: "check",
            lead: &[must("check", TEXT, "What is confirmed, item by item.")],
            fields: &[
                HEADLINE,
                FITS,
                must("items", ITEMS, "The items."),
                may(
                    "not_so",
                    an_exit(),
                    "Taken when an item is not so; to the mechanic, if absent.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "look",
            lead: &[must("look", TEXT, "What is looked at and compared with the findings.")],
            fields: &[
                HEADLINE,
                may("several", Shape::Flag, "True when several findings may be picked."),
                must(
                    "findings",
                    Shape::Keyed(&texts::WORD, &Shape::Mapping(&FINDING), 2),
                    "The findings by name, at least two.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "measure",
            lead: &[must("measure", TEXT, "What is measured: one reading against a limit.")],
            fields: &[
                HEADLINE,
                must("with", NAME, "The kind of instrument."),
                must("unit", UNIT, "The unit that a bare number means."),
                must(
                    "limit",
                    Shape::FigureOr(&LIMIT),
                    "The limit, or the name of one in the equipment file.",
                ),
                may("below", an_exit(), "Taken when the reading is below the limit."),
                may("above", an_exit(), "Taken when the reading is above the limit."),
                may(
                    "not_proven",
                    an_exit(),
                    "Taken when the rule `proven` can neither accept nor reject the reading.",
                ),
                since(
                    "1.1",
                    may(
                        "temperature",
                        CONDITION,
                        "The reading of the part's temperature, for a limit that holds at some only.",
                    ),
                ),
                may(
                    "relative_to",
                    CONDITION,
                    "What the limit is a share of, such as an earlier reading of a new part.",
                ),
                must("could_not_measure", an_exit(), "Taken when no reading could be made."),
                may(
                    "second",
                    Shape::Mapping(&SECOND),
                    "Another person measures too, without sight of the first reading.",
                ),
                since(
                    "1.1",
                    may(
                        "blind",
                        Shape::Flag,
                        "True when the limit is shown only after the reading is saved.",
                    ),
                ),
                may(
                    "readings",
                    Shape::Either(&Shape::Count, &POINTS),
                    "How many readings are taken, or the points of which each is read once.",
                ),
                may(
                    "counts",
                    Shape::Word(&words::COUNTS),
                    "Which of several readings counts; it goes with `readings`.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "build",
            lead: &[must("build", TEXT, "What is laid, layer by layer.")],
            fields: &[
                must("stack", NAME, "The stack of the equipment file."),
                must(
                    "laid",
                    Shape::Word(&words::TOWARDS),
                    "The order of laying: along the flow or against it.",
                ),
                may(
                    "not_so",
                    an_exit(),
                    "Taken when a layer does not lie as it must; to the mechanic, if absent.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "tighten",
            lead: &[must("tighten", TEXT, "What is tightened, fastener by fastener.")],
            fields: &[
                FITS,
                must("fasteners", NAME, "The fasteners of the equipment file."),
                must("torque", Shape::Text(&texts::FIGURE_NAME), "The torque of the last pass."),
                must("with", NAME, "The kind of wrench."),
                must(
                    "passes",
                    Shape::List(&Shape::Text(&texts::PERCENT), 1),
                    "The share of the torque in each pass, rising to `100 %`.",
                ),
                may("round_more", Shape::Flag, "True for one more round at the full torque."),
                must(
                    "on_redo",
                    Shape::Either(&Shape::Word(&words::REDO), &Shape::Mapping(&REDO)),
                    "What is tightened again when one was loosened.",
                ),
                may(
                    "recheck_limit",
                    Shape::Text(&texts::FIGURE_NAME),
                    "What a later re-check is held against; nothing, if absent.",
                ),
                may(
                    "not_so",
                    an_exit(),
                    "Taken when a fastener is not so; to the mechanic, if absent.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "enter",
            lead: &[must("enter", TEXT, "What is typed in.")],
            fields: &[
                HEADLINE,
                may(
                    "kind",
                    Shape::Word(&words::ENTRY_KINDS),
                    "What is accepted; `text`, if absent.",
                ),
            ],
            then: Choice::Word(&BY_KIND),
        },
        Case {
            word: "hold",
            lead: &[must("hold", TEXT, "What is released by a signature.")],
            fields: &[must("by", Shape::Word(&words::DECIDES), "Who releases it.")],
            then: Choice::None,
        },
        Case {
            word: "wait",
            lead: &[must("wait", TEXT, "What happens while a stated time passes.")],
            fields: &[
                must("for", Shape::Text(&texts::DURATION_OR_FIGURE), "How long, at least."),
                may("at_most", Shape::Text(&texts::DURATION), "The longest that it may take."),
                may("too_late", an_exit(), "Taken when it took longer than `at_most`."),
            ],
            then: Choice::None,
        },
        Case {
            word: "section",
            lead: &[must("section", LINE, "The heading of grouped steps.")],
            fields: &[
                may("each", NAME, "Repeated per position of this kind."),
                may("repeat", Shape::Mapping(&REPEAT), "Repeated until a condition holds."),
                may(
                    "any_order",
                    Shape::Flag,
                    "True when its steps, or with `each` its positions, may be taken in any order.",
                ),
                may(
                    "one_of",
                    TEXT,
                    "Asked first: which one of its steps is taken. The others are not applicable.",
                ),
                since(
                    "1.1",
                    may(
                        "mode",
                        Shape::Word(&words::MODES),
                        "`read_do`, if absent: each step is read and done. `do_confirm`: what a list \
                         names is done first, and its lines are confirmed then.",
                    ),
                ),
                steps(),
                SAFE_STATE,
                STANDING,
            ],
            then: Choice::None,
        },
        Case {
            word: "perform",
            lead: &[must("perform", NAME, "Another procedure, by its id.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "stop",
            lead: &[must("stop", TEXT, "Ends the job: why, and what happens to the machine.")],
            fields: &[
                must("safe_state", TEXT, "The state in which the machine is left."),
                may("tell", TEXTS, "Who is told."),
            ],
            then: Choice::None,
        },
        Case {
            word: "work_out",
            lead: &[must("work_out", TEXT, "What the program works out from entries and data.")],
            fields: &[
                HEADLINE,
                must("calculation", NAME, "The named calculation; `calc` lists them."),
                must(
                    "given",
                    Shape::Keyed(&texts::WORD, &Shape::OneOrMore(&CONDITION), 1),
                    "Its inputs by name: a step, a figure of the equipment file, a formula of them, or a literal.",
                ),
                may("result", NAME, "Which of its results is kept; its first, if absent."),
                must("unit", UNIT, "The unit of the result."),
                may(
                    "limit",
                    Shape::FigureOr(&LIMIT),
                    "The limit, or the name of one in the equipment file.",
                ),
                may("below", an_exit(), "Taken when the result is below the limit."),
                may("above", an_exit(), "Taken when the result is above the limit."),
                must(
                    "could_not_work_out",
                    an_exit(),
                    "Taken when the calculation refuses what it is given.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "attach",
            lead: &[must("attach", TEXT, "What the photo or file shows.")],
            fields: &[may("may_lack", Shape::Flag, "True when the job goes on without it.")],
            then: Choice::None,
        },
    ],
};

/// A step, as an item of a list.
pub(super) static A_STEP: Shape = Shape::Mapping(&STEP);

/// A step.
pub(super) static STEP: Mapping = Mapping {
    name: "step",
    noun: "a step",
    doc: "One step: a name, exactly one action, and what is shown or asked with it.",
    fields: &[
        must("id", Shape::Text(&texts::STEP_ID), "Its name, unique among the names visible there."),
        may("when", CONDITION, "Not applicable where this is false."),
        may("danger", SAFETY_TEXT, "Will kill or maim."),
        may("warning", SAFETY_TEXT, "Can kill or maim."),
        may("caution", SAFETY_TEXT, "Can hurt."),
        may("notice", SAFETY_TEXT, "Can damage property."),
        may("uses", NAMES, "Tools and supplies that are used."),
        may("sets", NAMES, "Tokens set when the step is done."),
        may("clears", NAMES, "Tokens cleared when the step is done."),
        may("needs", NAMES, "Tokens without which the step may not be done."),
        may("why", TEXT, "Why the step is there."),
        may("expect", TEXT, "What good looks like."),
        may("by", Shape::Word(&words::PERFORMS), "Who does it, where not the one who performs."),
        may("basis", TEXT, "Where its limit comes from."),
        may("as", Shape::Word(&words::PHASES), "As found or as left."),
        may(
            "concession",
            Shape::Word(&words::DECIDES),
            "Who may put another verdict in place of the rules' own, with a signature.",
        ),
        since(
            "1.1",
            may(
                "disturbs",
                CONDITION,
                "A step whose reading, as found, cannot be taken again once this one is done; it must \
                 come before on every path.",
            ),
        ),
        later("picture", "A picture."),
        may("witness", Shape::Word(&words::DECIDES), "Who is told before the step is done."),
    ],
    choice: Choice::Key(&BY_ACTION),
    rest: None,
};
