//! What YAML tools make of an unquoted text: the core schema of YAML 1.2, and the older habits
//! that still spoil part numbers and revisions.
//!
//! The reader of this program keeps every text letter for letter; this module only tells where
//! others would not, and gives the value that a JSON Schema sees.

use serde_json::Value;

use super::{Kind, Node, Style};

/// What an unquoted text is re-typed to elsewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Retyped {
    /// Nothing there, `null`, `~`.
    Null,
    /// `true`, and in older tools `yes`, `on`, `y`.
    Truth,
    /// `1.10`, `012`, `1E5`.
    Number,
    /// `12:30`, which older tools read to the base of 60, and dates.
    Time,
}

impl Retyped {
    /// What it becomes, for a message.
    pub fn noun(self) -> &'static str {
        match self {
            Self::Null => "nothing",
            Self::Truth => "true or false",
            Self::Number => "a number",
            Self::Time => "a time or date",
        }
    }
}

/// What some YAML tool makes of the unquoted `text` when it does not stay a text.
pub fn retyped(text: &str) -> Option<Retyped> {
    if is_null(text) {
        return Some(Retyped::Null);
    }
    let small = text.to_ascii_lowercase();
    // The YAML 1.1 type library: `bool`.
    if matches!(small.as_str(), "y" | "n" | "yes" | "no" | "on" | "off" | "true" | "false") {
        return Some(Retyped::Truth);
    }
    if is_core_number(text) || is_older_number(&small) {
        return Some(Retyped::Number);
    }
    is_time(text).then_some(Retyped::Time)
}

/// True for the texts that YAML 1.2 reads as null.
pub(super) fn is_null(text: &str) -> bool {
    matches!(text, "" | "~" | "null" | "Null" | "NULL")
}

fn digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

fn unsigned(text: &str) -> &str {
    text.strip_prefix(['-', '+']).unwrap_or(text)
}

fn is_core_number(text: &str) -> bool {
    let body = unsigned(text);
    if matches!(body, ".inf" | ".Inf" | ".INF") || matches!(text, ".nan" | ".NaN" | ".NAN") {
        return true;
    }
    if let Some(octal) = text.strip_prefix("0o") {
        return !octal.is_empty() && octal.bytes().all(|b| matches!(b, b'0'..=b'7'));
    }
    if let Some(hex) = text.strip_prefix("0x") {
        return !hex.is_empty() && hex.bytes().all(|b| b.is_ascii_hexdigit());
    }
    let (mantissa, exponent) = match body.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent)),
        None => (body, None),
    };
    let mantissa_ok = match mantissa.split_once('.') {
        Some(("", after)) => digits(after),
        Some((before, after)) => digits(before) && (after.is_empty() || digits(after)),
        None => digits(mantissa),
    };
    mantissa_ok && exponent.is_none_or(|e| digits(unsigned(e)))
}

/// YAML 1.1: `1_000`, `0b101`, hexadecimal with `_`.
fn is_older_number(small: &str) -> bool {
    let body = unsigned(small);
    if !body.starts_with(|c: char| c.is_ascii_digit()) {
        return false;
    }
    if let Some(binary) = body.strip_prefix("0b") {
        return !binary.is_empty() && binary.bytes().all(|b| matches!(b, b'0' | b'1' | b'_'));
    }
    if let Some(hex) = body.strip_prefix("0x") {
        return hex.bytes().all(|b| b.is_ascii_hexdigit() || b == b'_');
    }
    let plain: String = body.chars().filter(|c| *c != '_').collect();
    body.contains('_') && is_core_number(&plain)
}

/// `12:30`, `190:20:30.15`, `2026-09-01` and with a time after it.
fn is_time(text: &str) -> bool {
    let mut places = unsigned(text).split(':');
    let first = places.next().unwrap_or("");
    let rest: Vec<&str> = places.collect();
    let base_60 = |place: &&str| {
        let whole = place.split_once('.').map_or(*place, |(whole, _)| whole);
        digits(whole) && whole.len() <= 2
    };
    if digits(first) && !rest.is_empty() && rest.iter().all(base_60) {
        return true;
    }
    let day = text.split(['T', 't', ' ']).next().unwrap_or("");
    let mut places = day.split('-');
    let sizes = [(4, 4), (1, 2), (1, 2)];
    sizes.into_iter().all(|(least, most)| {
        places.next().is_some_and(|p| digits(p) && (least..=most).contains(&p.len()))
    }) && places.next().is_none()
}

/// The value that a JSON Schema sees: unquoted texts typed by the core schema of YAML 1.2.
pub fn to_json(node: &Node) -> Value {
    match &node.kind {
        Kind::Null | Kind::Refused => Value::Null,
        Kind::Scalar(scalar) if scalar.style == Style::Plain => typed(&scalar.text),
        Kind::Scalar(scalar) => Value::String(scalar.text.clone()),
        Kind::Seq(items) => Value::Array(items.iter().map(to_json).collect()),
        Kind::Map(entries) => Value::Object(
            entries.iter().map(|(key, value)| (key.value.clone(), to_json(value))).collect(),
        ),
    }
}

fn typed(text: &str) -> Value {
    match text {
        "true" | "True" | "TRUE" => return Value::Bool(true),
        "false" | "False" | "FALSE" => return Value::Bool(false),
        _ if is_null(text) => return Value::Null,
        _ if !is_core_number(text) => return Value::String(text.to_owned()),
        _ => {}
    }
    let whole = text.strip_prefix('+').unwrap_or(text);
    let whole = match (text.strip_prefix("0o"), text.strip_prefix("0x")) {
        (Some(octal), _) => i64::from_str_radix(octal, 8).ok(),
        (_, Some(hex)) => i64::from_str_radix(hex, 16).ok(),
        _ => whole.parse::<i64>().ok(),
    };
    if let Some(whole) = whole {
        return Value::from(whole);
    }
    // What JSON cannot hold (infinity, numbers past any size) stays a text.
    let number = text.parse::<f64>().ok().and_then(serde_json::Number::from_f64);
    number.map_or_else(|| Value::String(text.to_owned()), Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_that_some_tool_retypes_are_told_from_texts_that_stay() {
        use Retyped::{Null, Number, Time, Truth};
        for (text, want) in [
            ("0510210600", Some(Number)),
            ("1.10", Some(Number)),
            ("012", Some(Number)),
            ("1E5", Some(Number)),
            ("1_000", Some(Number)),
            ("0b11", Some(Number)),
            ("0x1F", Some(Number)),
            ("-.5", Some(Number)),
            (".inf", Some(Number)),
            ("NO", Some(Truth)),
            ("on", Some(Truth)),
            ("12:30", Some(Time)),
            ("1:10:20.5", Some(Time)),
            ("2026-09-01", Some(Time)),
            ("2026-09-01T10:00:00Z", Some(Time)),
            ("null", Some(Null)),
            ("~", Some(Null)),
            ("12:30 h", None),
            ("C-03", None),
            ("1.2.3", None),
            ("2026-0001", None),
            ("5 mm", None),
            ("nothing", None),
            ("1e", None),
            (".", None),
            ("_1", None),
        ] {
            assert_eq!(retyped(text), want, "{text}");
        }
    }
}
