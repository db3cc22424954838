//! Safety text as it is shown and acknowledged, and acknowledgements that came too fast for reading.

use super::address::Address;
use super::event::Entry;
use super::flow::{Flow, Instance, InstanceIdx};
use super::job::{Files, JobState};
use super::refusal::Refusal;
use crate::ids::{Name, PersonId, Sha256};
use crate::procedure::model::SignalWord;
use crate::procedure::sign::Sign;

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

/// The language of every procedure's own texts.
const OWN_LANGUAGE: &str = "en";

/// A safety message as one person reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// How grave.
    pub word: SignalWord,
    /// The signal word in the language of the message.
    pub called: String,
    /// What can hurt.
    pub hazard: String,
    /// What happens then.
    pub consequence: String,
    /// How to avoid it.
    pub avoid: String,
    /// The signs that go with it.
    pub signs: Vec<Sign>,
}

impl Message {
    /// Its lines: signal word, hazard, consequence, avoidance, then the signs.
    fn lines(&self) -> impl Iterator<Item = String> {
        let words = [&self.called, &self.hazard, &self.consequence, &self.avoid].map(Clone::clone);
        words.into_iter().chain(self.signs.iter().map(ToString::to_string))
    }
}

/// The safety messages of `instance` in `language`, worst first; `None` where one of them is not there.
fn in_language(instance: &Instance, language: &str) -> Option<Vec<Message>> {
    let message = |text: &crate::procedure::model::SafetyText| {
        let signs = text.signs.clone();
        if language == OWN_LANGUAGE {
            return Some(Message {
                word: text.word,
                called: text.word.word().to_owned(),
                hazard: text.hazard.clone(),
                consequence: text.consequence.clone(),
                avoid: text.avoid.clone(),
                signs,
            });
        }
        let found = text.other.iter().find(|(name, _)| name.as_str() == language);
        found.map(|(_, words)| Message {
            word: text.word,
            called: words.word.clone(),
            hazard: words.hazard.clone(),
            consequence: words.consequence.clone(),
            avoid: words.avoid.clone(),
            signs,
        })
    };
    instance.safety.iter().map(message).collect()
}

/// The safety messages of `instance` as written, in English.
pub fn as_written(instance: &Instance) -> Vec<Message> {
    in_language(instance, OWN_LANGUAGE).unwrap_or_default()
}

/// The safety messages of `instance` as `person` reads them; nobody reads them as written.
///
/// # Errors
/// Where one of them does not stand in the language of that person: nobody goes past a hazard on words
/// that they cannot read.
pub fn read_by(
    files: &Files,
    instance: &Instance,
    person: Option<&PersonId>,
) -> Result<Vec<Message>, Refusal> {
    let listed = person.and_then(|id| files.shop.person(id));
    let Some((listed, language)) = listed.and_then(|p| p.language.as_ref().map(|l| (p, l))) else {
        return Ok(as_written(instance));
    };
    in_language(instance, language.as_str()).ok_or_else(|| Refusal::NotInLanguage {
        name: listed.name.clone(),
        language: language.clone(),
    })
}

/// True when the safety messages of `index` were read to their end, in the words of whoever is at work.
pub fn is_read(files: &Files, state: &JobState, index: InstanceIdx) -> bool {
    let instance = files.flow.instance(index);
    instance.safety.is_empty()
        || read_by(files, instance, state.person.as_ref())
            .is_ok_and(|read| state.acknowledged.get(&index) == Some(&hash(&read)))
}

/// The hash that an acknowledgement names: over every line of every message, in the order shown.
pub fn hash(messages: &[Message]) -> Sha256 {
    let mut all = String::new();
    for line in messages.iter().flat_map(Message::lines) {
        all.push_str(&line);
        all.push('\n');
    }
    Sha256::of(all.as_bytes())
}

/// How many words people read in the messages of `instance` whose hash is `text`.
fn n_words(instance: &Instance, text: Sha256) -> usize {
    let others = instance.safety.iter().flat_map(|text| text.other.keys()).map(Name::as_str);
    let read = others
        .filter_map(|language| in_language(instance, language))
        .find(|messages| hash(messages) == text)
        .unwrap_or_else(|| as_written(instance));
    read.iter().flat_map(Message::lines).map(|line| line.split_whitespace().count()).sum()
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
        let n_words = n_words(flow.instance(index), text);
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
