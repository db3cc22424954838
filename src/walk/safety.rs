//! Safety text as it is shown and acknowledged, and acknowledgements that came too fast for reading.

use super::address::Address;
use super::event::Entry;
use super::flow::{Flow, InstanceIdx};
use super::job::JobState;
use crate::ids::{PersonId, Sha256};
use crate::procedure::model::SafetyText;

/// Nobody reads more words a second than this: about twice what good readers do.
const WORDS_A_SECOND_MAX: i64 = 10;
/// So many hasty acknowledgements are named, the others are counted.
const NAMED_MAX: usize = 5;

/// A safety text that was acknowledged faster than it can be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hasty {
    /// The entry.
    pub n: u64,
    /// Whose.
    pub by: PersonId,
    /// The step.
    pub address: Address,
    /// How many words the text has.
    pub n_words: usize,
    /// Milliseconds since the entry before, which is the longest that it can have been on the screen.
    pub took_ms: i64,
}

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

/// How many words people read in `texts`.
fn n_words(texts: &[SafetyText]) -> usize {
    texts.iter().flat_map(lines).map(|line| line.split_whitespace().count()).sum()
}

impl JobState {
    /// Takes up an acknowledgement. One that came sooner than its words can be read is noted, unless
    /// the same person has read the same words before in this job.
    pub(super) fn acknowledge(
        &mut self,
        flow: &Flow,
        (index, text): (InstanceIdx, Sha256),
        entry: &Entry,
    ) {
        self.acknowledged.insert(index, text);
        self.ready_at.insert(index, entry.at);
        let Some(by) = entry.by.as_ref().filter(|_| self.opened.semantics >= 2) else { return };
        if !self.read_by.insert((by.clone(), text)) {
            return;
        }
        let n_words = n_words(&flow.instance(index).safety);
        let least_ms =
            i64::try_from(n_words).unwrap_or(i64::MAX).saturating_mul(1000) / WORDS_A_SECOND_MAX;
        let took = entry.at.time().signed_duration_since(self.last_at.time());
        let took_ms = took.num_milliseconds().max(0);
        if took_ms < least_ms {
            let address = flow.instance(index).address.clone();
            self.hasty.push(Hasty { n: entry.n, by: by.clone(), address, n_words, took_ms });
        }
    }
}

/// What the releaser sees of it: one line, however many there are.
pub(super) fn hasty(state: &JobState) -> Option<String> {
    let one = |hasty: &Hasty| {
        let (whole, tenths) = (hasty.took_ms / 1000, hasty.took_ms % 1000 / 100);
        format!("{} ({} words in {whole}.{tenths} s, {})", hasty.address, hasty.n_words, hasty.by)
    };
    let named: Vec<String> = state.hasty.iter().take(NAMED_MAX).map(one).collect();
    let rest = match state.hasty.len().saturating_sub(NAMED_MAX) {
        0 => String::new(),
        n => format!(", and {n} more"),
    };
    let all = named.join(", ");
    (!named.is_empty())
        .then(|| format!("safety text acknowledged faster than it can be read: {all}{rest}"))
}
