//! The one canonical name of a step instance: perform path, positions, pass number.
//!
//! The walk makes these names, and rehearsals and entries speak in them. Which instances there are
//! is `walk::flow`'s matter.

use std::fmt;

use crate::ids::{Name, StepId};

/// One word of an address.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Segment {
    /// The step's or section's name.
    pub id: StepId,
    /// The positions that a section with `each` stands at; empty elsewhere.
    pub positions: Vec<(Name, String)>,
    /// The pass of a repeat or rework, from 1; the first is not written.
    pub pass: u32,
}

/// An address such as `teardown/valves[cylinder=2,side=inlet]/spring#2`.
///
/// Two instances never share an address, and an address never changes with the answers.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Address(pub Vec<Segment>);

impl Address {
    /// This address with one more segment.
    #[must_use]
    pub fn child(&self, segment: Segment) -> Self {
        let mut segments = self.0.clone();
        segments.push(segment);
        Self(segments)
    }

    /// Reads an address in its canonical form; anything else is `None`.
    pub fn parse(text: &str) -> Option<Self> {
        let segments: Option<Vec<Segment>> = text.split('/').map(parse_segment).collect();
        let address = Self(segments?);
        // Only the canonical form names anything: `a#1` and `a#02` are not addresses.
        (address.to_string() == text).then_some(address)
    }

    /// The positions along the whole address, outermost first.
    pub fn positions(&self) -> impl Iterator<Item = &(Name, String)> {
        self.0.iter().flat_map(|segment| segment.positions.iter())
    }
}

fn parse_segment(text: &str) -> Option<Segment> {
    let (text, pass) = match text.rsplit_once('#') {
        Some((before, pass)) => (before, pass.parse().ok()?),
        None => (text, 1),
    };
    let (id, positions) = match text.split_once('[') {
        Some((id, rest)) => (id, parse_positions(rest.strip_suffix(']')?)?),
        None => (text, Vec::new()),
    };
    Some(Segment { id: StepId::new(id).ok()?, positions, pass })
}

fn parse_positions(text: &str) -> Option<Vec<(Name, String)>> {
    text.split(',')
        .map(|pair| {
            let (kind, name) = pair.split_once('=')?;
            is_position_name(name).then_some(())?;
            Some((Name::new(kind).ok()?, name.to_owned()))
        })
        .collect()
}

/// True when `text` can name a position: letters, digits and `_`, at most 32 of them.
pub fn is_position_name(text: &str) -> bool {
    (1..=32).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_')
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, segment) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("/")?;
            }
            f.write_str(segment.id.as_str())?;
            for (j, (kind, name)) in segment.positions.iter().enumerate() {
                write!(f, "{}{kind}={name}", if j == 0 { "[" } else { "," })?;
            }
            if !segment.positions.is_empty() {
                f.write_str("]")?;
            }
            if segment.pass > 1 {
                write!(f, "#{}", segment.pass)?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_read_only_in_its_canonical_form() {
        for text in ["a", "over/tear/valves[cylinder=2,side=inlet]/spring#2", "wash#3/sample"] {
            assert_eq!(Address::parse(text).unwrap().to_string(), text);
        }
        for text in ["", "a#1", "a#02", "a#0", "a[]", "A", "a//b", "a[x=]", "a[x=1", "a/", "a#+2"] {
            assert_eq!(Address::parse(text), None, "{text}");
        }
    }
}
