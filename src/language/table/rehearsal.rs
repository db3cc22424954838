//! Rehearsal files.

use super::super::fields::{Case, Choice, Field, KeyChoice, Mapping, Shape, may, must};
use super::super::{texts, words};
use super::{FORMAT, LINE, NAME, PERSON, TEXT, TITLE};
use crate::diag::Code;

static BY_ANSWER: KeyChoice = KeyChoice {
    what: "answer",
    code: Code::MissingKey,
    cases: &[
        Case {
            word: "reading",
            lead: &[must("reading", Shape::Text(&texts::AS_TYPED), "As the person types it.")],
            fields: &[must("using", LINE, "The mark on the instrument.")],
            then: Choice::None,
        },
        Case {
            word: "could_not_measure",
            lead: &[must("could_not_measure", TEXT, "Why no reading could be made.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "found",
            lead: &[must("found", Shape::OneOrMore(&NAME), "The findings picked.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "enter",
            lead: &[must("enter", LINE, "As the person types it.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "not_so",
            lead: &[must(
                "not_so",
                Shape::List(&Shape::Count, 1),
                "The numbers of the items, from 1, that are not so.",
            )],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "attach",
            lead: &[must("attach", LINE, "The name of a made-up file.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "nothing_to_attach",
            lead: &[must("nothing_to_attach", TEXT, "Why there is no file.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "left_out",
            lead: &[must("left_out", TEXT, "Why the mechanic lets the step be left out.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "done_otherwise",
            lead: &[must("done_otherwise", TEXT, "What is done in the place of what is written.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "concede",
            lead: &[must(
                "concede",
                Shape::Word(&words::SUBSTITUTES),
                "The mechanic's verdict in the place of that of the rules, beside the answer.",
            )],
            fields: &[must("because", TEXT, "The mechanic's reason.")],
            then: Choice::None,
        },
        Case {
            word: "dispose",
            lead: &[must(
                "dispose",
                Shape::Word(&words::DISPOSITIONS),
                "What was done about a failed result that no step shows, once all steps are done.",
            )],
            fields: &[
                must("because", TEXT, "What was done and why, in the mechanic's words."),
                may("lot", LINE, "The lot of the part in its place."),
            ],
            then: Choice::None,
        },
        Case {
            word: "waited",
            lead: &[must("waited", Shape::Text(&texts::DURATION), "How long a wait lasts.")],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "lots",
            lead: &[must(
                "lots",
                Shape::Keyed(&texts::WORD, &LINE, 1),
                "The lots of a stack, by layer; every layer lies as it must.",
            )],
            fields: &[],
            then: Choice::None,
        },
        Case {
            word: "settings",
            lead: &[must(
                "settings",
                Shape::List(&Shape::Text(&texts::AS_TYPED), 1),
                "What the wrench is set to, pass by pass, as the person types it.",
            )],
            fields: &[
                must("using", LINE, "The mark on the wrench."),
                may("thread", Shape::Word(&words::THREADS), "The thread; as due, if absent."),
                may("adapter", LINE, "Length of the wrench, of the adapter, and the angle."),
                may(
                    "shown",
                    Shape::Keyed(&texts::NUMBER, &Shape::Text(&texts::AS_TYPED), 1),
                    "What the wrench showed in the last pass, by fastener.",
                ),
            ],
            then: Choice::None,
        },
        Case {
            word: "decide",
            lead: &[must("decide", Shape::Word(&words::DECISIONS), "The mechanic's verdict.")],
            fields: &[must("because", TEXT, "The mechanic's reason.")],
            then: Choice::None,
        },
    ],
};

static ANSWER: Mapping = Mapping {
    name: "answer",
    noun: "a scripted answer",
    doc: "One scripted answer.",
    fields: &[must(
        "at",
        Shape::Text(&texts::ADDRESS_PATTERN),
        "The address of the step; `*` for any position or pass.",
    )],
    choice: Choice::Key(&BY_ANSWER),
    rest: None,
};

static NEEDED: Mapping = Mapping {
    name: "needed_part",
    noun: "a needed part",
    doc: "One line of the parts list.",
    fields: &[
        must("part", NAME, "The part."),
        may("position", LINE, "The position, as the parts list shows it."),
    ],
    choice: Choice::None,
    rest: None,
};

static ONE_PART: Shape = Shape::Mapping(&NEEDED);
static ONE_VERDICT: Shape = Shape::Word(&words::VERDICTS);
static ONE_PLACE: Shape = Shape::Text(&texts::ADDRESS_PATTERN);

const OUTCOME: Field = must("outcome", Shape::Word(&words::OUTCOMES), "How the job ends.");
const PARTS: Field = may("parts", Shape::List(&ONE_PART, 0), "The whole parts list.");
const VERDICTS: Field =
    may("verdicts", Shape::Keyed(&texts::ADDRESS, &ONE_VERDICT, 0), "Verdicts by address.");
const ASKED: Field = may(
    "asked",
    Shape::List(&ONE_PLACE, 1),
    "Steps or sections that the walk comes to; `*` for any position or pass.",
);
const NOT_ASKED: Field = may(
    "not_asked",
    Shape::List(&ONE_PLACE, 1),
    "Steps or sections that the walk does not come to; `*` for any position or pass.",
);

static EXPECT: Mapping = Mapping {
    name: "expect",
    noun: "what must come of it",
    doc: "What must come of a rehearsal; only what is stated is compared.",
    fields: &[OUTCOME, PARTS, VERDICTS, ASKED, NOT_ASKED],
    choice: Choice::None,
    rest: None,
};

static EXPECT_OF_CASE: Mapping = Mapping {
    name: "expect_of_case",
    noun: "what must come of a case",
    doc: "What must come of a case; only what is stated is compared. Where it ends as the story does, \
          its parts list is that of the story.",
    fields: &[
        OUTCOME,
        PARTS,
        may(
            "more_parts",
            Shape::List(&Shape::Mapping(&NEEDED), 1),
            "The parts list of the story, and these.",
        ),
        VERDICTS,
        ASKED,
        NOT_ASKED,
    ],
    choice: Choice::None,
    rest: None,
};

static CASE: Mapping = Mapping {
    name: "case",
    noun: "a case",
    doc: "The story of the file once more, with some answers changed.",
    fields: &[
        may("title", LINE, "One line for people."),
        must(
            "answers",
            Shape::List(&Shape::Mapping(&ANSWER), 1),
            "The answers that differ. One with `*` takes the place of all that it stands for.",
        ),
        must("expect", Shape::Mapping(&EXPECT_OF_CASE), "What must come of it."),
    ],
    choice: Choice::None,
    rest: None,
};

static OUT_OF_REACH: Mapping = Mapping {
    name: "out_of_reach",
    noun: "a place out of reach",
    doc: "A place with exits that no answers lead to, as the author sees it.",
    fields: &[
        must("at", Shape::Text(&texts::ADDRESS_PATTERN), "The step; `*` for any position or pass."),
        must("because", TEXT, "Why nothing leads there."),
    ],
    choice: Choice::None,
    rest: None,
};

/// A rehearsal file.
pub static REHEARSAL: Mapping = Mapping {
    name: "rehearsal",
    noun: "a rehearsal file",
    doc: "A procedure played with scripted answers, and what must come of it.",
    fields: &[
        FORMAT,
        must("rehearsal", NAME, "Its id."),
        TITLE,
        must("procedure", NAME, "The procedure that is played."),
        may(
            "alone",
            Shape::Flag,
            "True to play a procedure that others perform alone: its plate is read by a step \
             `fit_out`, and all that it assumes is given.",
        ),
        must("machine", LINE, "The machine's tag in the shop file."),
        must("performer", PERSON, "Who performs."),
        must("mechanic", PERSON, "Who decides, releases and signs for the job."),
        may("second", PERSON, "Who takes second readings."),
        must("answers", Shape::List(&Shape::Mapping(&ANSWER), 0), "The answers."),
        must("expect", Shape::Mapping(&EXPECT), "What must come of it."),
        may(
            "cases",
            Shape::Keyed(&texts::WORD, &Shape::Mapping(&CASE), 1),
            "The same story with some answers changed, each by its name and played on its own.",
        ),
        may(
            "out_of_reach",
            Shape::List(&Shape::Mapping(&OUT_OF_REACH), 1),
            "What no rehearsal can take, each with the reason; it is listed at each rehearsing.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};
