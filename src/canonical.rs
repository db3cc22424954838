//! Canonical JSON (RFC 8785): the one way to write a value, so that its bytes can be hashed and
//! signed.
//!
//! Narrower than the RFC on purpose: whole numbers up to 2^53 and no fractions. Figures are text
//! here, because readers of other languages disagree on numbers. Knows nothing of entries.

mod schema;

use std::cell::RefCell;
use std::fmt;

use serde::de::{DeserializeSeed, MapAccess, SeqAccess, Visitor};
use serde::{Deserializer, Serialize};
use serde_json::Value;

pub use schema::schema_of;

/// The greatest whole number that every JSON reader keeps exactly.
pub const INTEGER_MAX: u64 = 1 << 53;

/// Why a text is not canonical JSON.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CanonicalFault {
    /// It is not JSON at all.
    #[error("it is not JSON: {reason}")]
    NotJson {
        /// What the reader said.
        reason: String,
    },
    /// One object has a key twice.
    #[error("the key `{key}` stands twice")]
    DuplicateKey {
        /// The key.
        key: String,
    },
    /// A number that other readers may change.
    #[error("the number `{number}` is not a whole number up to 2^53; figures are written as text")]
    Number {
        /// The number.
        number: String,
    },
    /// The same value is written another way in canonical form.
    #[error("it is not in canonical form (RFC 8785)")]
    OtherForm,
}

/// Writes `value` as canonical JSON, without a line feed.
///
/// # Panics
/// When `value` holds a fraction, a number above [`INTEGER_MAX`], or a map whose keys are not
/// text. What is written is always one of the program's own types, which hold none of these.
pub fn to_line<T: Serialize + ?Sized>(value: &T) -> String {
    let value = serde_json::to_value(value).expect("internal: wire types are plain JSON values");
    let odd = odd_number(&value);
    assert!(odd.is_none(), "internal: wire types hold small whole numbers, found {odd:?}");
    canonical_text(&value)
}

/// Reads `text` when it is exactly the canonical form of its value.
///
/// # Errors
/// The first reason why it is not.
pub fn parse(text: &str) -> Result<Value, CanonicalFault> {
    let value: Value = serde_json::from_str(text)
        .map_err(|error| CanonicalFault::NotJson { reason: error.to_string() })?;
    if let Some(key) = duplicate_key(text) {
        return Err(CanonicalFault::DuplicateKey { key });
    }
    if let Some(number) = odd_number(&value) {
        return Err(CanonicalFault::Number { number });
    }
    if canonical_text(&value) == text { Ok(value) } else { Err(CanonicalFault::OtherForm) }
}

/// True when `text` is exactly the canonical form of its value.
pub fn is_canonical(text: &str) -> bool {
    parse(text).is_ok()
}

fn canonical_text(value: &Value) -> String {
    serde_json_canonicalizer::to_string(value)
        .expect("internal: a JSON value of small whole numbers has a canonical form")
}

/// The first number in `value` that is not a whole one within ±[`INTEGER_MAX`].
fn odd_number(value: &Value) -> Option<String> {
    match value {
        Value::Number(number) => {
            let size = number.as_u64().or_else(|| number.as_i64().map(i64::unsigned_abs));
            size.is_none_or(|size| size > INTEGER_MAX).then(|| number.to_string())
        }
        Value::Array(items) => items.iter().find_map(odd_number),
        Value::Object(fields) => fields.values().find_map(odd_number),
        Value::Null | Value::Bool(_) | Value::String(_) => None,
    }
}

/// The first key that stands twice in one object of `text`, which is JSON.
fn duplicate_key(text: &str) -> Option<String> {
    let found = RefCell::new(None);
    let mut reader = serde_json::Deserializer::from_str(text);
    // The walk over the text ends with an error where it finds a key twice; the key is in `found`.
    drop(UniqueKeys { found: &found }.deserialize(&mut reader));
    found.into_inner()
}

/// Walks any JSON and stops at the first key that stands twice.
#[derive(Clone, Copy)]
struct UniqueKeys<'a> {
    found: &'a RefCell<Option<String>>,
}

impl<'de> DeserializeSeed<'de> for UniqueKeys<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for UniqueKeys<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E>(self, _: &str) -> Result<(), E> {
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        while items.next_element_seed(self)?.is_some() {}
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<(), A::Error> {
        let mut seen = std::collections::BTreeSet::new();
        while let Some(key) = fields.next_key::<String>()? {
            if !seen.insert(key.clone()) {
                self.found.replace(Some(key));
                return Err(serde::de::Error::custom("a key stands twice"));
            }
            fields.next_value_seed(self)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sg9_keys_are_sorted_by_utf16_and_text_is_kept() {
        // RFC 8785, section 3.2.3: the order of this list is the RFC's own example.
        let text = "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u{80}\":\"Control\",\
                    \"ö\":\"Latin\",\"€\":\"Euro Sign\",\"😀\":\"Emoji\",\"\u{fb33}\":\"Hebrew\"}";
        let value: Value = serde_json::from_str(text).unwrap();
        assert_eq!(to_line(&value), text);
        assert!(is_canonical(text));
    }

    #[test]
    fn composed_and_decomposed_letters_stay_different_bytes() {
        let (composed, decomposed) = ("Bj\u{f6}rn", "Bjo\u{308}rn");
        assert_ne!(to_line(composed), to_line(decomposed));
        assert!(is_canonical(&to_line(composed)) && is_canonical(&to_line(decomposed)));
    }

    #[test]
    fn sg9_every_other_writing_of_a_value_is_refused_with_its_reason() {
        let other = [r#"{"b":1,"a":2}"#, r#"{"a": 1}"#, r#""\u0041""#, r#"["a"] "#, r#""\/""#];
        for text in other {
            assert_eq!(parse(text), Err(CanonicalFault::OtherForm), "{text}");
        }
        for text in ["1.5", "1.0", "1e3", "-0", "9007199254740993", "-9007199254740993"] {
            assert!(matches!(parse(text), Err(CanonicalFault::Number { .. })), "{text}");
        }
        for text in ["9007199254740992", "-9007199254740992", "0", r#""9007199254740993""#] {
            assert!(is_canonical(text), "{text}");
        }
        let twice = CanonicalFault::DuplicateKey { key: "a".to_owned() };
        assert_eq!(parse(r#"{"x":[{"a":1,"a":1}]}"#), Err(twice));
        for text in ["", "{", "nul", r#""\ud800""#, "{} {}"] {
            assert!(matches!(parse(text), Err(CanonicalFault::NotJson { .. })), "{text}");
        }
    }
}
