//! Shop files.

use super::super::fields::{Choice, Mapping, Shape, may, must, since};
use super::super::{texts, words};
use super::{DATE, FORMAT, LINE, NAME, PERSON, QUANTITY, RANGE, REVISION, TITLE};

static SOMEBODY: Mapping = Mapping {
    name: "person",
    noun: "a person",
    doc: "One person of the roster.",
    fields: &[
        must("id", PERSON, "Their id in signatures and records."),
        must("name", LINE, "Their name."),
        must("roles", Shape::List(&Shape::Word(&words::ROLES), 1), "What they may do."),
        must(
            "key",
            Shape::Text(&texts::PUBLIC_KEY),
            "Their public key, `ssh-ed25519 AAAA…` without a comment.",
        ),
        must("qualified_from", DATE, "The first day on which they are qualified."),
        must("qualified_until", DATE, "The last day on which they are qualified."),
        may("certificate", LINE, "The certificate that says so."),
        may("revoked", DATE, "The day from which the key no longer counts."),
        since(
            "1.1",
            may(
                "language",
                Shape::Text(&texts::LANGUAGE),
                "The language in which they read safety messages; English, if absent.",
            ),
        ),
    ],
    choice: Choice::None,
    rest: None,
};

static LOADS: Mapping = Mapping {
    name: "loads",
    noun: "a count of loads",
    doc: "A torque wrench is calibrated anew after so many fasteners as well as after so long.",
    fields: &[
        may(
            "so_far",
            Shape::Count,
            "Fasteners since its calibration, when this list was made; none, if absent.",
        ),
        must("at_most", Shape::Count, "Fasteners at which it is calibrated again."),
    ],
    choice: Choice::None,
    rest: None,
};

static INSTRUMENT: Mapping = Mapping {
    name: "instrument",
    noun: "an instrument",
    doc: "One measuring instrument.",
    fields: &[
        must("id", LINE, "The mark on it."),
        must("kind", NAME, "Its kind, as procedures name it."),
        must("title", LINE, "One line for people."),
        must("range", Shape::Mapping(&RANGE), "The least and greatest reading."),
        must("resolution", QUANTITY, "The smallest step that it shows."),
        must("uncertainty", QUANTITY, "Expanded uncertainty."),
        must("k", Shape::Text(&texts::FACTOR), "Coverage factor of the uncertainty."),
        must("calibration_due", DATE, "The last day on which its calibration holds."),
        must("certificate", LINE, "The certificate."),
        since(
            "1.1",
            may(
                "certificate_sha256",
                Shape::Text(&texts::SHA256),
                "The SHA-256 of the certificate's file, so that a record tells which one it was.",
            ),
        ),
        since(
            "1.1",
            may(
                "zero_check",
                QUANTITY,
                "Read with nothing in it each day before its first reading; how far from zero it may \
             show then.",
            ),
        ),
        since(
            "1.1",
            may(
                "loads",
                Shape::Mapping(&LOADS),
                "For a torque wrench: how often it was used since its calibration.",
            ),
        ),
        may("out_of_use", LINE, "Why it must not be used."),
    ],
    choice: Choice::None,
    rest: None,
};

static MACHINE: Mapping = Mapping {
    name: "machine",
    noun: "a machine",
    doc: "One machine that the shop looks after.",
    fields: &[
        must("tag", LINE, "The mark on it."),
        must("equipment", NAME, "Its equipment file."),
        must("serial", LINE, "Its serial number, letter for letter."),
        may("fit_out", Shape::Text(&texts::LETTER), "The letter on its name plate."),
        must("title", LINE, "One line for people."),
    ],
    choice: Choice::None,
    rest: None,
};

/// A shop file.
pub static SHOP: Mapping = Mapping {
    name: "shop",
    noun: "a shop file",
    doc: "Who works here, with what, on which machines.",
    fields: &[
        FORMAT,
        must("shop", NAME, "Its id."),
        TITLE,
        REVISION,
        must("kind", Shape::Word(&words::SHOP_KINDS), "Whether its jobs count."),
        must("people", Shape::List(&Shape::Mapping(&SOMEBODY), 0), "The roster."),
        must("instruments", Shape::List(&Shape::Mapping(&INSTRUMENT), 0), "Measuring instruments."),
        must("machines", Shape::List(&Shape::Mapping(&MACHINE), 0), "Machines."),
    ],
    choice: Choice::None,
    rest: None,
};
