//! Equipment files.

use super::super::fields::{Choice, Mapping, Shape, may, must};
use super::super::{texts, words};
use super::limit::{COMPARE_ALL, NAMED_LIMIT};
use super::{CONDITION, EFFECTIVE, FORMAT, LINE, NAME, QUANTITY, REVISION, REVISIONS, TEXT, TITLE};

static FIT_OUT: Mapping = Mapping {
    name: "fit_out",
    noun: "a fit-out",
    doc: "What one letter on the name plate means: a choice for every setting.",
    fields: &[must("title", LINE, "One line for people.")],
    choice: Choice::None,
    rest: Some(NAME),
};

static SERIALS: Mapping = Mapping {
    name: "serials",
    noun: "a range of serial numbers",
    doc: "The serial numbers that this file is for, both ends included.",
    fields: &[
        must("from", Shape::Text(&texts::PLATE), "The first, letter for letter."),
        must("to", Shape::Text(&texts::PLATE), "The last, of the same length."),
    ],
    choice: Choice::None,
    rest: None,
};

static MEANING: Mapping = Mapping {
    name: "code_meaning",
    noun: "the meaning of a code",
    doc: "The settings that some characters of the plate's code stand for.",
    fields: &[],
    choice: Choice::None,
    rest: Some(NAME),
};

static CODE_PART: Mapping = Mapping {
    name: "code_part",
    noun: "a part of a code",
    doc: "Some characters of the plate's code, and what they stand for.",
    fields: &[
        must("at", Shape::Count, "The first of its characters, from 1."),
        may("length", Shape::Count, "How many characters; 1, if absent."),
        must(
            "means",
            Shape::Keyed(&texts::PLATE, &Shape::Mapping(&MEANING), 1),
            "The settings by the characters that stand there.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static NAME_PLATE: Mapping = Mapping {
    name: "name_plate",
    noun: "a name plate",
    doc: "What stands on the name plate: which serial numbers there are, and a code that decodes.",
    fields: &[
        may("serials", Shape::Mapping(&SERIALS), "The serial numbers that this file is for."),
        may(
            "code",
            Shape::List(&Shape::Mapping(&CODE_PART), 1),
            "A code that stands for the settings, in the place of `fit_outs`.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static PART: Mapping = Mapping {
    name: "part",
    noun: "a part",
    doc: "A part that inspections judge and renew.",
    fields: &[
        must("title", LINE, "One line for people."),
        may("number", LINE, "The number in the shop's store, letter for letter."),
        may("quantity", Shape::Count, "How many go to one position; 1, if absent."),
        may("per", NAME, "The kind of position that it belongs to."),
        may("always_new", Shape::Flag, "True when it is renewed whatever it looks like."),
        may("lot", Shape::Flag, "True when its lot is written down as it is laid."),
    ],
    choice: Choice::None,
    rest: None,
};

static LAYER: Mapping = Mapping {
    name: "layer",
    noun: "a layer",
    doc: "One part of a stack, where it lies and how.",
    fields: &[
        must("layer", NAME, "Its name, unique in the stack."),
        must("part", NAME, "The part."),
        may("face", LINE, "The marked face, such as `the keyed face`."),
        may("toward", Shape::Word(&words::TOWARDS), "Where the marked face points; with `face`."),
        may(
            "profile",
            Shape::Word(&words::PROFILES),
            "How it looks from the side, for drawing it; a block, if absent.",
        ),
        may("title", LINE, "One line for people; the part's, if absent."),
        may("when", CONDITION, "The layer drops out where this is false; reads settings only."),
    ],
    choice: Choice::None,
    rest: None,
};

static STACK: Mapping = Mapping {
    name: "stack",
    noun: "a stack",
    doc: "Loose parts that lie on each other, told once for both orders of laying.",
    fields: &[
        must("title", LINE, "One line for people."),
        must(
            "layers",
            Shape::List(&Shape::Mapping(&LAYER), 1),
            "The layers as the flow meets them.",
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static FASTENERS: Mapping = Mapping {
    name: "fasteners",
    noun: "a set of fasteners",
    doc: "Fasteners of one joint, numbered clockwise from 1 as the file's own picture says.",
    fields: &[
        must("title", LINE, "One line for people."),
        must("count", Shape::Count, "How many there are."),
        must(
            "order",
            Shape::Either(&Shape::Word(&words::ORDERS), &Shape::List(&Shape::Count, 1)),
            "The order of tightening: `star`, or every number once.",
        ),
        must("condition", Shape::Word(&words::THREADS), "The thread that the torques are for."),
        may("thread", LINE, "The thread in words, such as its size."),
    ],
    choice: Choice::None,
    rest: None,
};

static CONSTANT: Mapping = Mapping {
    name: "constant",
    noun: "a constant",
    doc: "A figure that procedures use by its dotted name.",
    fields: &[must("value", QUANTITY, "The figure."), may("basis", TEXT, "Where it comes from.")],
    choice: Choice::None,
    rest: None,
};

/// An equipment file.
pub static EQUIPMENT: Mapping = Mapping {
    name: "equipment",
    noun: "an equipment file",
    doc: "What a machine type is made of, and its figures.",
    fields: &[
        FORMAT,
        must("equipment", NAME, "Its id, which is also the name of its file."),
        may("family", NAME, "The family that it belongs to; procedures may be written for it."),
        TITLE,
        REVISION,
        EFFECTIVE,
        REVISIONS,
        may(
            "positions",
            Shape::Keyed(&texts::WORD, &Shape::List(&Shape::Text(&texts::POSITION), 1), 0),
            "Kinds of position with their names in order.",
        ),
        may(
            "settings",
            Shape::Keyed(&texts::WORD, &Shape::List(&NAME, 1), 0),
            "What a fit-out decides, each with its choices.",
        ),
        may(
            "fit_outs",
            Shape::Keyed(&texts::LETTER, &Shape::Mapping(&FIT_OUT), 0),
            "Fit-outs by the letter on the name plate.",
        ),
        may("name_plate", Shape::Mapping(&NAME_PLATE), "What stands on the name plate."),
        may("parts", Shape::Keyed(&texts::WORD, &Shape::Mapping(&PART), 0), "Parts by name."),
        COMPARE_ALL,
        may(
            "limits",
            Shape::Keyed(
                &texts::WORD,
                &Shape::Keyed(&texts::WORD, &Shape::Mapping(&NAMED_LIMIT), 1),
                0,
            ),
            "Limits by group and name.",
        ),
        may(
            "constants",
            Shape::Keyed(
                &texts::WORD,
                &Shape::Keyed(&texts::WORD, &Shape::Mapping(&CONSTANT), 1),
                0,
            ),
            "Constants by group and name: volumes, displacements, times, counts.",
        ),
        may(
            "torques",
            Shape::Keyed(
                &texts::WORD,
                &Shape::Keyed(&texts::WORD, &Shape::Mapping(&NAMED_LIMIT), 1),
                0,
            ),
            "Torques by group and name; limits as any other.",
        ),
        may(
            "fasteners",
            Shape::Keyed(&texts::WORD, &Shape::Mapping(&FASTENERS), 0),
            "Sets of fasteners by name.",
        ),
        may("stacks", Shape::Keyed(&texts::WORD, &Shape::Mapping(&STACK), 0), "Stacks by name."),
    ],
    choice: Choice::None,
    rest: None,
};
