//! Procedure files.

use super::super::fields::{Choice, Mapping, Shape, may, must, since};
use super::super::{texts, words};
use super::TITLE;
use super::limit::COMPARE_ALL;
use super::step::{SAFE_STATE, STANDING, steps};
use super::{CONDITION, EFFECTIVE, FORMAT, LINE, NAME, NAMES, REVISION, REVISIONS, TEXT, TEXTS};

const STEP_PATH: Shape = Shape::Text(&texts::STEP_PATH);

static NEEDS: Mapping = Mapping {
    name: "needs",
    noun: "what a procedure needs",
    doc: "What must be at hand before step 1; confirmed line by line.",
    fields: &[
        may("people", TEXTS, "People and their qualifications."),
        may("tools", NAMES, "Tools and instruments by kind."),
        may("supplies", NAMES, "Supplies."),
        may("ppe", NAMES, "Personal protective equipment."),
        may("state", TEXTS, "The state of the machine."),
    ],
    choice: Choice::None,
    rest: None,
};

static TOKEN: Mapping = Mapping {
    name: "token",
    noun: "a token",
    doc: "A state such as `locked` that steps set, clear and need.",
    fields: &[
        must("title", LINE, "One line for people."),
        may("clear_before_release", Shape::Flag, "True when release needs it cleared again."),
        may("lasts", Shape::Text(&texts::DURATION), "The time after which it must be set again."),
        may(
            "volatile",
            Shape::Flag,
            "True when it must be set again after a pause, a change of hands or a stop.",
        ),
        since(
            "1.1",
            may(
                "personal",
                Shape::Flag,
                "True for a lock or tag of one's own: whoever takes over hangs theirs first.",
            ),
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static LOOSE_PART: Mapping = Mapping {
    name: "loose_part",
    noun: "a loose part",
    doc: "Something that is fitted for the work only and must come out again.",
    fields: &[must("title", LINE, "One line for people: what it is and where it sits.")],
    choice: Choice::None,
    rest: None,
};

static ENERGY: Mapping = Mapping {
    name: "energy",
    noun: "an `energy`",
    doc: "The states that cut a machine off from its energies, and the hold point that looks at them.",
    fields: &[
        must(
            "states",
            NAMES,
            "Tokens in the order in which they come to be: each may be set only while the one before is in force.",
        ),
        must("hold", STEP_PATH, "The hold point at which all of them must be in force."),
    ],
    choice: Choice::None,
    rest: None,
};

static NEVER: Mapping = Mapping {
    name: "never",
    noun: "a `never`",
    doc: "A step that must not be reached.",
    fields: &[
        must("reach", STEP_PATH, "The step."),
        may("when", CONDITION, "The condition under which it must not be reached."),
        must("because", TEXT, "Why."),
    ],
    choice: Choice::None,
    rest: None,
};

static ALWAYS: Mapping = Mapping {
    name: "always",
    noun: "an `always`",
    doc: "A step that must be done and accepted before another.",
    fields: &[
        must("first", STEP_PATH, "The step that comes first."),
        must(
            "before",
            STEP_PATH,
            "The step that comes after, or `end`: the end of this procedure, also where another one performs it.",
        ),
        must("because", TEXT, "Why."),
    ],
    choice: Choice::None,
    rest: None,
};

/// A procedure file.
pub static PROCEDURE: Mapping = Mapping {
    name: "procedure",
    noun: "a procedure file",
    doc: "How something is done: steps, findings, limits by name, hold points, safety messages.",
    fields: &[
        FORMAT,
        must("procedure", NAME, "Its id, which is also the name of its file."),
        TITLE,
        must("equipment", NAME, "The equipment file or family that it is written for."),
        REVISION,
        EFFECTIVE,
        REVISIONS,
        must("performed_by", Shape::Word(&words::PERFORMS), "Who carries out the steps."),
        must("signed_by", Shape::Word(&words::DECIDES), "Who signs for the job."),
        must("signal_words", Shape::Word(&words::SIGNAL_WORDS), "The family of signal words."),
        may("needs", Shape::Mapping(&NEEDS), "What must be at hand before step 1."),
        may(
            "tokens",
            Shape::Keyed(&texts::WORD, &Shape::Mapping(&TOKEN), 0),
            "The tokens that steps set, clear and need.",
        ),
        may(
            "fit_outs",
            Shape::List(&Shape::Text(&texts::LETTER), 1),
            "The fit-outs that it is written for; all, if absent.",
        ),
        may("assumes", NAMES, "Tokens that the caller must have set."),
        may("never", Shape::List(&Shape::Mapping(&NEVER), 0), "What must not be reached."),
        may("always", Shape::List(&Shape::Mapping(&ALWAYS), 0), "What must come first."),
        steps(),
        since(
            "1.1",
            may(
                "energy",
                Shape::Mapping(&ENERGY),
                "How hazardous energy is controlled where something must be isolated.",
            ),
        ),
        since(
            "1.1",
            may(
                "languages",
                Shape::List(&Shape::Text(&texts::LANGUAGE), 1),
                "Languages in which every safety message stands besides English.",
            ),
        ),
        COMPARE_ALL,
        SAFE_STATE,
        STANDING,
        may(
            "loose_parts",
            Shape::Keyed(&texts::WORD, &Shape::Mapping(&LOOSE_PART), 1),
            "Caps, slings, bars and the like: tokens that must be cleared before release.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};
