//! How a text reads at the bench: length, one command a sentence, no vague word, notes that inform.
//!
//! Looks at one passage at a time; what several texts say together is `names` and `needs`.

use std::ops::Range;

use super::lexicon::{self, CONDITIONS, HAZARDS, LEADS, VAGUE};
use super::passage::{self, Passage, Use, Word};
use super::ranges;
use crate::diag::{Code, Diagnostic};

/// The most words of a sentence that tells what to do.
const N_WORDS_INSTRUCTION_MAX: usize = 20;
/// The most words of a sentence that describes.
const N_WORDS_DESCRIPTION_MAX: usize = 25;
/// The most sentences of one text.
const N_SENTENCES_MAX: usize = 6;
/// The most nouns in a row.
const N_NOUNS_MAX: usize = 3;

/// Everything to be said of the wording of one text.
pub(super) fn check(passage: &Passage<'_>) -> Vec<Diagnostic> {
    let sentences = passage.sentences();
    let mut found = Vec::new();
    length(passage, &sentences, &mut found);
    let instructs = matches!(passage.usage, Use::Action(_) | Use::Avoid);
    for words in &sentences {
        vague(passage, words, &mut found);
        nouns(passage, words, &mut found);
        if instructs || passage.usage == Use::Item {
            passive(passage, words, &mut found);
        }
        match passage.usage {
            Use::Action(action) => {
                second_command(passage, words, &mut found);
                if matches!(action, "do" | "hold") {
                    opening(passage, words, &mut found);
                }
                if action == "do" {
                    late_condition(passage, words, &mut found);
                }
            }
            Use::Avoid => opening(passage, words, &mut found),
            Use::Note(key) => note(passage, key, words, &mut found),
            Use::Item | Use::Safety | Use::Other => {}
        }
    }
    if passage.usage == Use::Action("do") {
        several_commands(passage, &sentences, &mut found);
        signal_word(passage, &sentences, &mut found);
    }
    ranges::check(passage, &mut found);
    found
}

/// From the first word to the last.
fn whole(words: &[Word]) -> Range<usize> {
    let start = words.first().map_or(0, |word| word.range.start);
    start..words.last().map_or(start, |word| word.range.end)
}

fn lower(word: Option<&Word>) -> Option<&str> {
    word.map(|word| word.lower.as_str())
}

fn length(passage: &Passage<'_>, sentences: &[Vec<Word>], found: &mut Vec<Diagnostic>) {
    let (most, what) = match passage.usage {
        Use::Action(_) | Use::Avoid => (N_WORDS_INSTRUCTION_MAX, "an instruction"),
        _ => (N_WORDS_DESCRIPTION_MAX, "a description"),
    };
    for words in sentences {
        let n_words = passage::count(words);
        if n_words > most {
            let headline = format!("this sentence has {n_words} words; {what} has at most {most}");
            found.push(
                Diagnostic::warning(Code::LongSentence, passage.at(&whole(words)), headline)
                    .help("make two sentences of it, or move the reason to `why`"),
            );
        }
    }
    if let Some(words) = sentences.get(N_SENTENCES_MAX) {
        let headline = format!("this text has {} sentences", sentences.len());
        found.push(
            Diagnostic::warning(Code::LongText, passage.at(&whole(words)), headline)
                .label(format!("the {}th sentence", N_SENTENCES_MAX + 1))
                .help(format!("a text has at most {N_SENTENCES_MAX}; cut it, or split the step")),
        );
    }
}

fn vague(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    let mut at = 0;
    while let Some(rest) = words.get(at..).filter(|rest| !rest.is_empty()) {
        let hit = VAGUE.iter().find_map(|(phrase, instead)| {
            let wanted: Vec<&str> = phrase.split(' ').collect();
            let taken = rest.get(..wanted.len())?;
            taken
                .iter()
                .map(|word| word.lower.as_str())
                .eq(wanted.iter().copied())
                .then_some((phrase, instead, taken))
        });
        let Some((phrase, instead, taken)) = hit else {
            at += 1;
            continue;
        };
        found.push(
            Diagnostic::warning(
                Code::VagueWord,
                passage.at(&whole(taken)),
                format!("`{phrase}` means something else to everybody"),
            )
            .help(*instead),
        );
        at += taken.len();
    }
}

fn nouns(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    let mut run: Vec<Word> = Vec::new();
    for word in words {
        if lexicon::is_noun(&word.lower) {
            run.push(word.clone());
        }
        if !lexicon::is_noun(&word.lower) || word.pause {
            cluster(passage, &run, found);
            run.clear();
        }
    }
    cluster(passage, &run, found);
}

fn cluster(passage: &Passage<'_>, run: &[Word], found: &mut Vec<Diagnostic>) {
    if run.len() > N_NOUNS_MAX {
        let headline = format!("{} nouns stand in a row", run.len());
        found.push(
            Diagnostic::warning(Code::NounCluster, passage.at(&whole(run)), headline)
                .help("say with `of`, `for` or `on` what belongs to what"),
        );
    }
}

fn passive(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    for (i, word) in words.iter().enumerate() {
        let (second, third) = (lower(words.get(i + 1)), lower(words.get(i + 2)));
        let n_words = match (word.lower.as_str(), second, third) {
            ("should" | "must" | "shall" | "ought", Some("be"), Some(_)) => 3,
            ("is" | "are" | "has" | "have" | "needs" | "need", Some("to"), Some("be")) => 4,
            _ => continue,
        };
        let Some(taken) = words.get(i..(i + n_words).min(words.len())) else { continue };
        let (headline, help) = if passage.usage == Use::Item {
            ("an item says what is so, not what should be", "write `is` or `are`")
        } else {
            ("this is a wish, not a command", "give the command: `Tighten the nut`")
        };
        found.push(
            Diagnostic::warning(Code::NotACommand, passage.at(&whole(taken)), headline).help(help),
        );
        return;
    }
}

/// The words from the command on; the clause before it is left out. `None` where the clause has
/// no end, or does not need one.
fn command(words: &[Word]) -> Option<&[Word]> {
    let first = words.first()?;
    if LEADS.contains(&&*first.lower) {
        let comma = words.iter().position(|word| word.pause)?;
        return words.get(comma + 1..).filter(|rest| !rest.is_empty());
    }
    Some(words)
}

fn opening(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    let Some(first) = words.first() else { return };
    let what = if passage.usage == Use::Avoid { "`avoid`" } else { "an instruction" };
    let Some(rest) = command(words) else {
        if CONDITIONS.contains(&&*first.lower) {
            let headline = "no comma tells where the condition ends and the command begins";
            found.push(
                Diagnostic::warning(Code::NotACommand, passage.at(&first.range), headline)
                    .help("put a comma behind the condition"),
            );
        }
        return;
    };
    let Some(head) = rest.first() else { return };
    // A wish has been reported as one.
    let wished = found.iter().any(|fault| {
        fault.code == Code::NotACommand
            && passage.at(&whole(words)).end >= fault.primary.span.end
            && fault.primary.span.start >= passage.at(&whole(words)).start
    });
    if lexicon::is_no_command(&head.lower) && !wished {
        let headline = format!("{what} opens with its command or its condition");
        let help = if passage.usage == Use::Avoid {
            "begin with what to do or to leave; what is the matter belongs into `hazard`"
        } else {
            "begin with the verb: `Remove the cover`; a reason belongs into `why`"
        };
        found.push(
            Diagnostic::warning(Code::NotACommand, passage.at(&head.range), headline)
                .label("no command")
                .help(help),
        );
    }
}

/// True where the sentence says that two things are done at once.
fn at_once(words: &[Word]) -> bool {
    words.iter().any(|word| ["while", "simultaneously", "together"].contains(&&*word.lower))
        || words.windows(3).any(|three| {
            let said: Vec<&str> = three.iter().map(|word| word.lower.as_str()).collect();
            said == ["the", "same", "time"]
        })
}

fn second_command(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    if at_once(words) {
        return;
    }
    for (i, word) in words.iter().enumerate().skip(1) {
        let before = i.checked_sub(1).and_then(|before| words.get(before));
        let joined = before.is_some_and(|b| ["and", "then"].contains(&&*b.lower));
        if joined && lexicon::commands(&word.lower, lower(words.get(i + 1))) {
            found.push(
                Diagnostic::warning(
                    Code::TwoInstructions,
                    passage.at(&word.range),
                    "a second instruction in one sentence",
                )
                .label("a command of its own")
                .help("make a step of it, so that each is seen, done and answered on its own"),
            );
            return;
        }
    }
}

fn several_commands(passage: &Passage<'_>, sentences: &[Vec<Word>], found: &mut Vec<Diagnostic>) {
    let commanding = |words: &&Vec<Word>| {
        command(words).is_some_and(|rest| {
            rest.first().is_some_and(|word| lexicon::commands(&word.lower, lower(rest.get(1))))
        })
    };
    let mut commands = sentences.iter().filter(commanding);
    if let (Some(_), Some(second)) = (commands.next(), commands.next()) {
        found.push(
            Diagnostic::warning(
                Code::TwoInstructions,
                passage.at(&whole(second)),
                "a second instruction in one step",
            )
            .help("make a step of it, so that each is seen, done and answered on its own"),
        );
    }
}

fn signal_word(passage: &Passage<'_>, sentences: &[Vec<Word>], found: &mut Vec<Diagnostic>) {
    let Some(first) = sentences.first().and_then(|words| words.first()) else { return };
    if ["danger", "warning", "caution", "notice", "beware"].contains(&&*first.lower) {
        found.push(
            Diagnostic::warning(
                Code::SafetyInAction,
                passage.at(&first.range),
                "safety text stands inside the instruction",
            )
            .help(
                "write it as `warning: {hazard, consequence, avoid}`: it is shown before the \
                 action and acknowledged on its own",
            ),
        );
    }
}

fn late_condition(passage: &Passage<'_>, words: &[Word], found: &mut Vec<Diagnostic>) {
    let late = words.iter().skip(1).find(|word| ["if", "unless"].contains(&&*word.lower));
    let Some(word) = late else { return };
    // `if necessary` has been called vague.
    if found.iter().any(|fault| fault.primary.span.start == passage.at(&word.range).start) {
        return;
    }
    let headline = format!("the condition `{} …` stands behind the action", word.lower);
    found.push(Diagnostic::warning(Code::LateCondition, passage.at(&word.range), headline).help(
        "whoever reads has already begun: ask it in a `look` and give this step a `when`, or \
             put the condition first",
    ));
}

fn note(passage: &Passage<'_>, key: &str, words: &[Word], found: &mut Vec<Diagnostic>) {
    let Some(first) = words.first() else { return };
    if lexicon::commands(&first.lower, lower(words.get(1))) {
        let headline = format!("`{key}` gives an order");
        found.push(
            Diagnostic::warning(Code::OrderInNote, passage.at(&first.range), headline)
                .label("an order")
                .help("a note informs; what has to be done is a step of its own"),
        );
    }
    if let Some(word) = words.iter().find(|word| HAZARDS.contains(&&*word.lower)) {
        let headline = format!("`{key}` speaks of a hazard");
        found.push(
            Diagnostic::warning(Code::HazardInNote, passage.at(&word.range), headline).help(
                "say it before the action, as `danger`, `warning` or `caution` with hazard, \
                 consequence and avoid",
            ),
        );
    }
}
