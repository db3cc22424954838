//! Safety text as it is shown and acknowledged.

use crate::ids::Sha256;
use crate::procedure::model::SafetyText;

/// The lines of a safety message as shown: signal word, hazard, consequence, avoidance.
pub fn lines(text: &SafetyText) -> [String; 4] {
    [text.word.word().to_owned(), text.hazard.clone(), text.consequence.clone(), text.avoid.clone()]
}

/// The hash that an acknowledgement names: over every line of every message, in the order shown.
pub fn hash(texts: &[SafetyText]) -> Sha256 {
    let mut all = String::new();
    for line in texts.iter().flat_map(lines) {
        all.push_str(&line);
        all.push('\n');
    }
    Sha256::of(all.as_bytes())
}
