//! The kinds of text: names, days, figures, conditions and plain words for people.

use chrono::NaiveDate;
use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{One as _, Signed as _};

use super::fields::{Quoting, TextFault, TextShape};
use crate::address::{Address, is_position_name};
use crate::diag::Code;
use crate::ids::{FigureId, Name, NameFault, PersonId, Sha256};
use crate::units::duration::parse_duration;
use crate::units::{Guard, Quantity, Unit};

/// Step ids that the program gives to steps of its own.
pub const STEP_IDS_TAKEN: [&str; 6] = ["bound", "chosen", "decision", "needs", "second", "stop"];

/// Words of conditions, which nothing can be named.
pub const CONDITION_WORDS: [&str; 6] = ["and", "false", "in", "not", "or", "true"];

const NAME: &str = "^[a-z][a-z0-9_]*$";
const DOTTED: &str = "^[a-z][a-z0-9_.]*$";

/// Plain words for people, over several lines where need be.
pub static TEXT: TextShape = TextShape {
    noun: "a text",
    pattern: None,
    typed: &["number", "boolean"],
    quoting: Quoting::WhenRetyped,
    code: Code::BadValue,
    check: not_blank,
};

/// Plain words for people on one line.
pub static LINE: TextShape = TextShape {
    noun: "one line of text",
    pattern: Some(r"^[^\n]*\S[^\n]*$"),
    typed: &["number", "boolean"],
    quoting: Quoting::WhenRetyped,
    code: Code::BadValue,
    check: |text| {
        not_blank(text)?;
        if text.contains('\n') { Err(fault("it goes over several lines")) } else { Ok(()) }
    },
};

/// The version of the language.
pub static FORMAT: TextShape = TextShape {
    noun: "the format version, such as `\"1.0\"`",
    pattern: Some(r"^1\.[01]$"),
    typed: &["number"],
    quoting: Quoting::WhenRetyped,
    code: Code::FormatVersion,
    check: |text| if super::FORMATS.contains(&text) { Ok(()) } else { Err(fault("")) },
};

/// A name.
pub static WORD: TextShape = TextShape {
    noun: "a name",
    pattern: Some(NAME),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: name,
};

/// A language, by its code of ISO 639.
pub static LANGUAGE: TextShape = TextShape {
    noun: "a language by its code of two or three letters, such as `de`",
    pattern: Some("^[a-z]{2,3}$"),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: |text| {
        let fits = (2..=3).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_lowercase());
        if fits { Ok(()) } else { Err(fault("")) }
    },
};

/// A step's name.
pub static STEP_ID: TextShape = TextShape {
    noun: "a step's name",
    pattern: Some(NAME),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: |text| {
        name(text)?;
        if STEP_IDS_TAKEN.contains(&text) {
            return Err(fault("the program gives that name to steps of its own"));
        }
        Ok(())
    },
};

/// A person's name in the roster.
pub static PERSON: TextShape = TextShape {
    noun: "a person's id such as `i.varga`",
    pattern: Some(DOTTED),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: |text| PersonId::new(text).map(drop).map_err(name_fault),
};

/// A dotted name of a figure in the equipment file.
pub static FIGURE_NAME: TextShape = TextShape {
    noun: "the name of a figure in the equipment file, such as `valve_spring.free_length`",
    pattern: Some(DOTTED),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: |text| {
        dotted(text)?;
        FigureId::new(text).map(drop).map_err(name_fault)
    },
};

/// A dotted name of a step.
pub static STEP_PATH: TextShape = TextShape {
    noun: "the name of a step, such as `teardown.springs`",
    pattern: Some(DOTTED),
    typed: &[],
    quoting: Quoting::WhenRetyped,
    code: Code::BadName,
    check: dotted,
};

/// A position's name.
pub static POSITION: TextShape = TextShape {
    noun: "a position's name: letters, digits and `_`",
    pattern: Some("^[A-Za-z0-9_]+$"),
    typed: &["number", "boolean"],
    quoting: Quoting::WhenRetypedUnlessWhole,
    code: Code::BadName,
    check: |text| if is_position_name(text) { Ok(()) } else { Err(fault("")) },
};

/// A serial number, or characters of a code on the name plate.
pub static PLATE: TextShape = TextShape {
    noun: "what stands on a name plate: letters, digits, `-`, `/` and `.`, at most 40 of them",
    pattern: Some("^[A-Za-z0-9./-]{1,40}$"),
    typed: &["number"],
    quoting: Quoting::WhenRetyped,
    code: Code::BadValue,
    check: |text| {
        let fits = (1..=40).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_alphanumeric() || b"./-".contains(&b));
        if fits { Ok(()) } else { Err(fault("")) }
    },
};

/// A fit-out's letter on the name plate.
pub static LETTER: TextShape = TextShape {
    noun: "a letter of the name plate: capital letters and digits, at most four",
    pattern: Some("^[A-Z0-9]{1,4}$"),
    typed: &["number"],
    quoting: Quoting::WhenRetypedUnlessWhole,
    code: Code::BadName,
    check: |text| {
        let fits = (1..=4).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
        if fits { Ok(()) } else { Err(fault("")) }
    },
};

/// A calendar day.
pub static DATE: TextShape = TextShape {
    noun: "a day written `YYYY-MM-DD`",
    pattern: Some("^[0-9]{4}-[0-9]{2}-[0-9]{2}$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: |text| {
        if day(text).is_some() {
            return Ok(());
        }
        let shape = text.len() == 10 && text.bytes().filter(|b| *b == b'-').count() == 2;
        Err(fault(if shape { "the calendar has no such day" } else { "" }))
    },
};

/// A condition.
pub static CONDITION: TextShape = TextShape {
    noun: "a condition such as `springs.free_length < 44.6 mm`",
    pattern: None,
    typed: &["number", "boolean"],
    quoting: Quoting::Never,
    code: Code::BadCondition,
    check: not_blank,
};

/// A figure with its unit.
pub static QUANTITY: TextShape = TextShape {
    noun: "a figure such as `44.6 mm`",
    pattern: None,
    typed: &["number"],
    quoting: Quoting::Never,
    code: Code::BadFigure,
    check: |text| Quantity::parse_literal(text).map(drop).map_err(|why| fault(why.to_string())),
};

/// A time that is waited.
pub static DURATION: TextShape = TextShape {
    noun: "a time such as `10 min`: whole seconds, at most 31 days",
    pattern: None,
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadFigure,
    check: |text| if parse_duration(text).is_some() { Ok(()) } else { Err(fault("")) },
};

/// A time that is waited, or the name of one in the equipment file.
pub static DURATION_OR_FIGURE: TextShape = TextShape {
    noun: "a time such as `10 min`, or the name of a constant such as `flush.settles`",
    pattern: None,
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadFigure,
    check: |text| {
        let fits = parse_duration(text).is_some() || FigureId::new(text).is_ok();
        if fits { Ok(()) } else { Err(fault("")) }
    },
};

/// A reading as a person types it; rehearsals play refused readings too.
pub static AS_TYPED: TextShape = TextShape {
    noun: "a text, as a person would type it",
    pattern: None,
    typed: &["number", "boolean"],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: not_blank,
};

/// A unit.
pub static UNIT: TextShape = TextShape {
    noun: "a unit such as `mm`, or `number`",
    pattern: None,
    typed: &[],
    quoting: Quoting::Never,
    code: Code::UnknownUnit,
    check: |text| {
        if Unit::parse(text).is_some() {
            return Ok(());
        }
        let help = Unit::suggestion(text).map(|near| format!("did you mean `{near}`?"));
        Err(TextFault { why: String::new(), help })
    },
};

/// A fastener's number.
pub static NUMBER: TextShape = TextShape {
    noun: "a number from 1",
    pattern: Some("^[1-9][0-9]{0,3}$"),
    typed: &["number"],
    quoting: Quoting::Never,
    code: Code::BadName,
    check: |text| {
        let plain = !text.starts_with('0') && text.bytes().all(|b| b.is_ascii_digit());
        if plain && (1..=4).contains(&text.len()) { Ok(()) } else { Err(fault("")) }
    },
};

/// The width of a guard band.
pub static GUARD: TextShape = TextShape {
    noun: "a guard band such as `1 U` or `1.645 u`",
    pattern: Some("^[0-9]+([.][0-9]+)? ?[Uu]$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadLimit,
    check: |text| match guard(text) {
        Some(_) => Ok(()),
        None => Err(TextFault {
            why: String::new(),
            help: Some(
                "`U` is the expanded uncertainty of the instrument, `u` the standard one"
                    .to_owned(),
            ),
        }),
    },
};

/// A SHA-256.
pub static SHA256: TextShape = TextShape {
    noun: "a SHA-256 in 64 hexadecimal digits",
    pattern: Some("^[0-9a-f]{64}$"),
    typed: &["number"],
    quoting: Quoting::WhenRetyped,
    code: Code::BadValue,
    check: |text| match Sha256::parse(text) {
        Some(_) => Ok(()),
        None => Err(fault("it is what `sha256sum` prints before the name of the file")),
    },
};

/// A probability that is less than certain.
pub static PROBABILITY: TextShape = TextShape {
    noun: "a probability such as `95 %`",
    pattern: Some("^[0-9]+([.][0-9]+)? ?%$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadLimit,
    check: |text| match probability(text) {
        Some(_) => Ok(()),
        None => Err(fault("it lies between 0 % and 100 %, neither of them")),
    },
};

/// A capability index.
pub static INDEX: TextShape = TextShape {
    noun: "an index such as `3`",
    pattern: Some("^[0-9]+([.][0-9]+)?$"),
    typed: &["number"],
    quoting: Quoting::Never,
    code: Code::BadLimit,
    check: |text| match index(text) {
        Some(_) => Ok(()),
        None => Err(fault("it is a number above 0")),
    },
};

/// A share of a torque.
pub static PERCENT: TextShape = TextShape {
    noun: "a share in whole percent, such as `30 %`",
    pattern: Some("^([1-9][0-9]?|100) ?%$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: |text| if percent(text).is_some() { Ok(()) } else { Err(fault("")) },
};

/// A person's public key.
pub static PUBLIC_KEY: TextShape = TextShape {
    noun: "a public key, `ssh-ed25519 AAAA…` without a comment",
    pattern: Some("^ssh-ed25519 [A-Za-z0-9+/]+=*$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: |text| {
        let body = text.strip_prefix("ssh-ed25519 ").unwrap_or("");
        let base64 = |b: u8| b.is_ascii_alphanumeric() || b == b'+' || b == b'/';
        let bare = body.trim_end_matches('=');
        let fits = !bare.is_empty() && bare.bytes().all(base64);
        match (fits, ssh_key::PublicKey::from_openssh(text)) {
            (true, Ok(_)) => Ok(()),
            (true, Err(_)) => Err(fault("the key is damaged or cut off")),
            _ => Err(fault("")),
        }
    },
};

/// The coverage factor of an uncertainty.
pub static FACTOR: TextShape = TextShape {
    noun: "a plain number such as `2`",
    pattern: None,
    typed: &["number"],
    quoting: Quoting::Never,
    code: Code::BadFigure,
    check: |text| match Quantity::parse_literal(text) {
        Ok((_, Unit::One)) => Ok(()),
        Ok(_) => Err(fault("it has a unit")),
        Err(why) => Err(fault(why.to_string())),
    },
};

/// The address of a step.
pub static ADDRESS: TextShape = TextShape {
    noun: "an address such as `valves[cylinder=2]/spring#2`",
    pattern: Some(r"^[a-z][A-Za-z0-9_/\[\],=#]*$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: |text| if Address::parse(text).is_some() { Ok(()) } else { Err(fault("")) },
};

/// The address of a step, `*` for any position or pass.
pub static ADDRESS_PATTERN: TextShape = TextShape {
    noun: "an address such as `valves[cylinder=*]/spring`",
    pattern: Some(r"^[a-z][A-Za-z0-9_/\[\],=#*]*$"),
    typed: &[],
    quoting: Quoting::Never,
    code: Code::BadValue,
    check: |text| {
        let sample = text.replace("=*", "=1").replace("#*", "#2");
        if Address::parse(&sample).is_some() { Ok(()) } else { Err(fault("")) }
    },
};

/// Reads a share of 1 to 100 percent.
pub fn percent(text: &str) -> Option<u32> {
    let digits = text.strip_suffix('%')?.trim_end();
    let plain = !digits.starts_with('0') && digits.bytes().all(|b| b.is_ascii_digit());
    digits.parse().ok().filter(|share| plain && (1..=100).contains(share))
}

/// Reads the width of a guard band.
pub fn guard(text: &str) -> Option<Guard> {
    let times = |letter| decimal(text.strip_suffix(letter)?.trim_end());
    times('U').map(Guard::Expanded).or_else(|| times('u').map(Guard::Standard))
}

/// Reads a probability in percent, neither 0 nor 100, as a plain number.
pub fn probability(text: &str) -> Option<Ratio<BigInt>> {
    let share = decimal(text.strip_suffix('%')?.trim_end())? / BigInt::from(100);
    (share.is_positive() && share < Ratio::one()).then_some(share)
}

/// Reads a capability index.
pub fn index(text: &str) -> Option<Ratio<BigInt>> {
    decimal(text).filter(Ratio::is_positive)
}

/// A decimal figure without sign.
fn decimal(text: &str) -> Option<Ratio<BigInt>> {
    let plain = text.starts_with(|c: char| c.is_ascii_digit())
        && text.ends_with(|c: char| c.is_ascii_digit())
        && text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let (value, unit) = Quantity::parse_literal(text).ok()?;
    (plain && unit == Unit::One).then_some(value.si)
}

/// Reads a calendar day in its one accepted form.
pub fn day(text: &str) -> Option<NaiveDate> {
    let form = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    form.then(|| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()).flatten()
}

fn fault(why: impl Into<String>) -> TextFault {
    TextFault { why: why.into(), help: None }
}

fn not_blank(text: &str) -> Result<(), TextFault> {
    if text.trim().is_empty() { Err(fault("it is empty")) } else { Ok(()) }
}

fn name(text: &str) -> Result<(), TextFault> {
    if CONDITION_WORDS.contains(&text) {
        return Err(fault("it is a word of conditions"));
    }
    Name::new(text).map(drop).map_err(name_fault)
}

fn dotted(text: &str) -> Result<(), TextFault> {
    text.split('.').try_for_each(name)
}

fn name_fault(why: NameFault) -> TextFault {
    let help = matches!(why, NameFault::Character('-'))
        .then(|| "`-` is minus in conditions; use `_`".to_owned());
    TextFault { why: why.to_string(), help }
}
