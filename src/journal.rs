//! A journal's bytes: one entry a line, each line chained to the one before.
//!
//! Turns entries into lines and lines back into entries. Knows nothing of files (that is `store`'s
//! matter) nor of whether an entry was allowed when it was made (replay's).
//!
//! A line is canonical JSON (RFC 8785) and a line feed:
//!
//! | field | holds |
//! | --- | --- |
//! | `at` | when it was entered, RFC 3339 with milliseconds and offset |
//! | `by` | who was at work; left out before anyone identified |
//! | `format` | `"1.0"` |
//! | `late` | when it was really observed and why it was entered later; left out where it was not |
//! | `n` | the entry's number, from 0 |
//! | `prev` | the SHA-256 of the line before without its line feed; 64 zeros in the first |
//! | `what` | an object with one key, the event's word, and what belongs to the event |

pub mod scan;
mod wire;

use crate::canonical::{self, CanonicalFault};
use crate::ids::Sha256;
use crate::walk::Entry;
use crate::walk::event::Statement;

pub use scan::{Scan, ScanError, ScannedLine, Tail, scan};
pub use wire::ValueFault;

/// The format that this program writes, `MAJOR.MINOR`. It reads every minor up to its own.
///
/// - 1.0: the first.
pub const FORMAT: &str = "1.0";

/// The longest line, in bytes without the line feed. A reading with its instrument takes about
/// 700, a signed entry about 1,500; a list of exceptions is what comes near.
pub const LINE_LEN_BYTES_MAX: usize = 1 << 20;

/// The longest journal, in bytes.
pub const JOURNAL_LEN_BYTES_MAX: usize = 256 << 20;

/// What keeps one line from being an entry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LineFault {
    /// Nothing stands on it.
    #[error("the line is empty")]
    Empty,
    /// Longer than [`LINE_LEN_BYTES_MAX`].
    #[error("the line has {len_bytes} bytes, and at most {LINE_LEN_BYTES_MAX} are read")]
    TooLong {
        /// Its length.
        len_bytes: usize,
    },
    /// Not UTF-8.
    #[error("byte {at} of the line is not UTF-8")]
    NotUtf8 {
        /// The first bad byte, from 0.
        at: usize,
    },
    /// Not the canonical form of its value.
    #[error(transparent)]
    NotCanonical(#[from] CanonicalFault),
    /// Written by a later version of this program.
    #[error("it is written in format {found}, and this program reads up to {FORMAT}")]
    Newer {
        /// The format it names.
        found: String,
    },
    /// It names no format that ever was.
    #[error("it names no journal format; found {found}")]
    NoFormat {
        /// What stands there.
        found: String,
    },
    /// A field is missing, unknown or of the wrong shape.
    #[error("it is not shaped like an entry: {reason}")]
    Shape {
        /// What the reader said.
        reason: String,
    },
    /// A field's value is not what the field holds.
    #[error(transparent)]
    Value(#[from] ValueFault),
    /// A value is written in another way than this program writes it.
    #[error("a value in it is not written the way the journal writes it")]
    OtherWriting,
}

/// Writes `entry` as a line, without the line feed, after a line whose hash is `prev`.
pub fn encode(entry: &Entry, prev: Sha256) -> String {
    canonical::to_line(&wire::Line::new(entry, prev))
}

/// The JSON Schema of a line, as the text of `schemas/journal.schema.json`.
pub fn schema() -> String {
    canonical::schema_of::<wire::Line>("witnessmark: one line of a job's journal")
}

/// Reads a line, without its line feed, when it is exactly what [`encode`] writes.
///
/// # Errors
/// The first reason why it is not.
pub fn decode(line: &str) -> Result<(Entry, Sha256), LineFault> {
    if line.is_empty() {
        return Err(LineFault::Empty);
    }
    if line.len() > LINE_LEN_BYTES_MAX {
        return Err(LineFault::TooLong { len_bytes: line.len() });
    }
    // A newer format may have other rules for everything else, so it is told first.
    check_format(line)?;
    let value = canonical::parse(line)?;
    let wired: wire::Line = serde_json::from_value(value)
        .map_err(|error| LineFault::Shape { reason: error.to_string() })?;
    let (entry, prev) = wired.into_entry()?;
    // `2026-01-01T00:00:00+00:00` is a time, but it is not how a journal writes that time; two
    // writings of one entry would be two hashes of it.
    if encode(&entry, prev) == line { Ok((entry, prev)) } else { Err(LineFault::OtherWriting) }
}

fn check_format(line: &str) -> Result<(), LineFault> {
    let Ok(value) = serde_json::from_str::<serde_json::Value>(line) else {
        return Ok(());
    };
    let Some(found) = value.get("format") else {
        return Err(LineFault::NoFormat { found: "none".to_owned() });
    };
    let Some((major, minor)) = found.as_str().and_then(version) else {
        return Err(LineFault::NoFormat { found: found.to_string() });
    };
    match (major, minor) {
        (1, 0) => Ok(()),
        (1.., _) => Err(LineFault::Newer { found: format!("{major}.{minor}") }),
        (0, _) => Err(LineFault::NoFormat { found: found.to_string() }),
    }
}

fn version(text: &str) -> Option<(u32, u32)> {
    let (major, minor) = text.split_once('.')?;
    let version = (major.parse().ok()?, minor.parse().ok()?);
    (format!("{}.{}", version.0, version.1) == text).then_some(version)
}

/// The canonical JSON of a statement: the bytes that are signed, letter for letter as they stand
/// in the entry.
pub fn statement_bytes(statement: &Statement) -> Vec<u8> {
    canonical::to_line(&wire::StatementWire::from(statement)).into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{JobId, Moment, PersonId, Role};
    use crate::units::{Reading, Unit};
    use crate::walk::event::{Meaning, Signed};
    use crate::walk::{Address, Answer, Event, Judged, Next};

    fn note() -> Entry {
        Entry {
            n: 3,
            at: Moment::parse("2026-11-25T10:00:00+01:00").unwrap(),
            by: Some(PersonId::new("i.varga").unwrap()),
            late: None,
            event: Event::NoteAdded { address: None, text: "seat \"clean\"".to_owned() },
        }
    }

    #[test]
    fn a_line_is_as_described() {
        assert_eq!(
            encode(&note(), Sha256::ZERO),
            format!(
                r#"{{"at":"2026-11-25T10:00:00.000+01:00","by":"i.varga","format":"1.0","n":3,"prev":"{}","what":{{"note_added":{{"text":"seat \"clean\""}}}}}}"#,
                "0".repeat(64)
            )
        );
    }

    #[test]
    fn a_line_that_is_not_exactly_what_would_be_written_is_refused_with_its_reason() {
        let line = encode(&note(), Sha256::ZERO);
        let fault = |from: &str, to: &str| {
            assert!(line.contains(from), "{from}");
            decode(&line.replacen(from, to, 1)).unwrap_err().to_string()
        };
        assert_eq!(decode(&line).unwrap(), (note(), Sha256::ZERO));
        assert!(fault("1.0", "1.1").contains("format 1.1"));
        assert!(fault("1.0", "2.0").contains("format 2.0"));
        assert!(fault("\"1.0\"", "1").contains("names no journal format"));
        assert!(fault("\"n\":3", "\"n\":3,\"n\":3").contains("`n` stands twice"));
        assert!(fault("\"n\":3", "\"n\":9007199254740993").contains("2^53"));
        assert!(fault("\"n\":3", "\"m\":0,\"n\":3").contains("unknown field `m`"));
        assert!(fault(",\"n\"", ", \"n\"").contains("canonical form"));
        assert!(fault(".000+01:00", "+01:00").contains("not written the way"));
        assert!(fault("\"by\":\"i.varga\"", "\"by\":null").contains("not written the way"));
        assert!(fault("note_added", "note_made").contains("unknown variant `note_made`"));
        assert!(fault("i.varga", "I.Varga").contains("`by`"));
        assert!(fault("10:00:00.000+01:00", "25:00:00.000+01:00").contains("`at`"));
        assert_eq!(decode(""), Err(LineFault::Empty));
    }

    #[test]
    fn a_reading_whose_text_and_value_disagree_is_refused() {
        let reading = Reading::parse("2.50", Unit::Millimetre).unwrap();
        let entry = Entry {
            event: Event::Answered {
                address: Address::parse("wear/face").unwrap(),
                answer: Answer::EnteredFigure(reading),
                judged: Judged { verdict: None, next: Next::End },
                signed: None,
            },
            ..note()
        };
        let line = encode(&entry, Sha256::ZERO);
        assert!(line.contains(r#"{"text":"2.50","unit":"mm","value":"2.5 mm"}"#), "{line}");
        assert_eq!(decode(&line).unwrap().0, entry);
        for (from, to) in [("2.5 mm", "2.4 mm"), ("2.50", "2.51"), ("\"mm\"", "\"in\"")] {
            let fault = decode(&line.replacen(from, to, 1)).unwrap_err();
            assert!(matches!(fault, LineFault::Value(ValueFault::Reading { .. })), "{fault}");
        }
    }

    #[test]
    fn signed_bytes_are_the_bytes_in_the_entry() {
        let statement = Statement {
            job: JobId::numbered(2026, 31),
            head_n: 2,
            head: Sha256::of(b"x"),
            address: Address::parse("tear/hold"),
            signer: PersonId::new("k.osei").unwrap(),
            role: Role::Mechanic,
            meaning: Meaning::Performed { from_n: 1, to_n: 2 },
            at: note().at,
        };
        let bytes = String::from_utf8(statement_bytes(&statement)).unwrap();
        let signed = Signed { statement, signature: "S".to_owned() };
        let entry = Entry { event: Event::PerformedSigned(Box::new(signed)), ..note() };
        assert!(encode(&entry, Sha256::ZERO).contains(&format!("\"statement\":{bytes}}}")));
        assert!(bytes.contains(r#""kind":"statement""#), "{bytes}");
        assert!(bytes.contains(r#""meaning":{"performed":{"from_n":1,"to_n":2}}"#), "{bytes}");
    }
}
