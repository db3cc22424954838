//! Reading a rehearsal file. Whether its steps, parts and people are there shows when it is played.

use super::model::{Expectation, OutcomeWord, Rehearsal, Scripted, ScriptedAnswer, Settings};
use crate::diag::Diagnostic;
use crate::ids::{Name, PartId};
use crate::language::Thread;
use crate::language::take::{self, Lower, each, optional};
use crate::language::{self, FileKind};
use crate::procedure::model::Verdict;
use crate::source::{At, FileId, Source};
use crate::units::duration::parse_duration;
use crate::yaml::Node;

/// Reads a rehearsal file. It is there only without errors; warnings may come with it.
pub fn read(file: FileId, source: &Source) -> (Option<Rehearsal>, Vec<Diagnostic>) {
    language::read((file, source), FileKind::Rehearsal, rehearsal)
}

fn rehearsal(root: &Node, lower: &mut Lower<'_>) -> Option<Rehearsal> {
    for node in root.get("answers").map_or(&[][..], Node::items) {
        let found = node.get("found").map_or(&[][..], Node::items).iter();
        let names: Vec<At<String>> = found.filter_map(take::text_at).collect();
        lower.unique(&names, "findings of one answer");
    }
    Some(Rehearsal {
        id: take::name(root.get("rehearsal")?)?.value,
        title: take::text(root.get("title")?)?,
        procedure: take::name(root.get("procedure")?)?,
        machine: take::text_at(root.get("machine")?)?,
        performer: take::name(root.get("performer")?)?,
        mechanic: take::name(root.get("mechanic")?)?,
        second: optional(root.get("second"), take::name)?,
        answers: each(root.get("answers"), scripted)?,
        expect: expectation(root.get("expect")?)?,
    })
}

fn scripted(node: &Node) -> Option<Scripted> {
    Some(Scripted { at: take::text_at(node.get("at")?)?, answer: answer(node)?, span: node.span })
}

fn answer(node: &Node) -> Option<ScriptedAnswer> {
    if let Some(reading) = node.get("reading") {
        let instrument = take::text(node.get("using")?)?;
        Some(ScriptedAnswer::Reading { text: take::text(reading)?, instrument })
    } else if let Some(reason) = node.get("could_not_measure") {
        take::text(reason).map(ScriptedAnswer::CouldNotMeasure)
    } else if let Some(found) = node.get("found") {
        let names = take::names::<Name>(Some(found))?;
        Some(ScriptedAnswer::Found(names.into_iter().map(|name| name.value).collect()))
    } else if let Some(entered) = node.get("enter") {
        take::text(entered).map(ScriptedAnswer::Entered)
    } else if let Some(time) = node.get("waited") {
        parse_duration(time.text()?).map(ScriptedAnswer::Waited)
    } else if let Some(items) = node.get("not_so") {
        each(Some(items), take::number).map(ScriptedAnswer::NotSo)
    } else if let Some(name) = node.get("attach") {
        take::text(name).map(ScriptedAnswer::Attach)
    } else if let Some(reason) = node.get("nothing_to_attach") {
        take::text(reason).map(ScriptedAnswer::NothingToAttach)
    } else if let Some(reason) = node.get("left_out") {
        take::text(reason).map(ScriptedAnswer::LeftOut)
    } else if let Some(reason) = node.get("done_otherwise") {
        take::text(reason).map(ScriptedAnswer::DoneOtherwise)
    } else if let Some(word) = node.get("concede") {
        let because = take::text(node.get("because")?)?;
        Some(ScriptedAnswer::Concede { verdict: verdict(word)?, because })
    } else if let Some(settings) = node.get("settings") {
        let shown = node.get("shown").map_or(&[][..], Node::entries).iter();
        let shown = shown.map(|(key, node)| Some((key.value.parse().ok()?, take::text(node)?)));
        let thread = |node: &Node| Thread::parse(node.text()?);
        Some(ScriptedAnswer::Settings(Settings {
            settings: each(Some(settings), take::text)?,
            instrument: take::text(node.get("using")?)?,
            thread: optional(node.get("thread"), thread)?,
            adapter: optional(node.get("adapter"), take::text)?,
            shown: shown.collect::<Option<_>>()?,
        }))
    } else if let Some(lots) = node.get("lots") {
        let lot =
            |(key, lot): &(At<String>, Node)| Some((take::key_name(key)?.value, take::text(lot)?));
        lots.entries().iter().map(lot).collect::<Option<_>>().map(ScriptedAnswer::Lots)
    } else {
        let verdict = verdict(node.get("decide")?)?;
        Some(ScriptedAnswer::Decide { verdict, because: take::text(node.get("because")?)? })
    }
}

fn verdict(node: &Node) -> Option<Verdict> {
    Verdict::parse(node.text()?)
}

fn expectation(node: &Node) -> Option<Expectation> {
    let needed = |part: &Node| {
        let position = optional(part.get("position"), take::text)?.unwrap_or_default();
        Some((PartId::new(part.get("part")?.text()?).ok()?, position))
    };
    let verdicts = node.get("verdicts").map_or(&[][..], Node::entries).iter();
    Some(Expectation {
        outcome: match node.get("outcome")?.text()? {
            "released" => OutcomeWord::Released,
            "stopped" => OutcomeWord::Stopped,
            _ => return None,
        },
        parts: optional(node.get("parts"), |parts| each(Some(parts), needed))?,
        verdicts: verdicts
            .map(|(at, word)| Some((at.clone(), verdict(word)?)))
            .collect::<Option<_>>()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_and_expectations_are_read_as_written() {
        let text = include_str!("../../tests/fixtures/language/good/rehearsal_full.yaml");
        let (rehearsal, found) = read(FileId(0), &Source::new("r", text));
        assert_eq!(found, []);
        let rehearsal = rehearsal.unwrap();
        let answer = |i: usize| rehearsal.answers[i].answer.clone();
        let reading = ScriptedAnswer::Reading { text: "0.2".into(), instrument: "C-03".into() };
        assert_eq!(answer(0), reading);
        assert_eq!(rehearsal.answers[0].at.value, "backlash/places[wheel_third=*]/play");
        assert_eq!(answer(4), ScriptedAnswer::Found(vec![Name::new("torn").unwrap()]));
        assert_eq!(answer(6), ScriptedAnswer::NotSo(vec![2]));
        assert_eq!(rehearsal.expect.outcome, OutcomeWord::Released);
        assert_eq!(rehearsal.expect.parts.as_ref().unwrap()[1].1, "");
        assert_eq!(rehearsal.expect.verdicts[1].1, Verdict::Replace);
    }
}
