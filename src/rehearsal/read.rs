//! Reading a rehearsal file. Whether its steps, parts and people are there shows when it is played.

use super::model::{Case, Expectation, OutcomeWord, Rehearsal, Scripted, ScriptedAnswer, Settings};
use crate::diag::Diagnostic;
use crate::ids::{Name, PartId};
use crate::language::Thread;
use crate::language::take::{self, Lower, each, optional};
use crate::language::{self, FileKind};
use crate::procedure::model::{Disposition, Verdict};
use crate::source::{At, FileId, Source};
use crate::units::duration::parse_duration;
use crate::yaml::Node;

/// Reads a rehearsal file. It is there only without errors; warnings may come with it.
pub fn read(file: FileId, source: &Source) -> (Option<Rehearsal>, Vec<Diagnostic>) {
    language::read((file, source), FileKind::Rehearsal, rehearsal)
}

/// The same, of a text that was parsed already, with what was wrong with it as such.
pub fn read_tree(
    file: FileId,
    source: &Source,
    parsed: (&Node, Vec<Diagnostic>),
) -> (Option<Rehearsal>, Vec<Diagnostic>) {
    language::read_tree((file, source), parsed, FileKind::Rehearsal, rehearsal)
}

fn rehearsal(root: &Node, lower: &mut Lower<'_>) -> Option<Rehearsal> {
    let cases = root.get("cases").map_or(&[][..], Node::entries);
    let lists = std::iter::once(root).chain(cases.iter().map(|(_, case)| case));
    let answers = lists.filter_map(|list| list.get("answers")).flat_map(Node::items);
    for node in answers {
        let found = node.get("found").map_or(&[][..], Node::items).iter();
        let names: Vec<At<String>> = found.filter_map(take::text_at).collect();
        lower.unique(&names, "findings of one answer");
    }
    let answers = each(root.get("answers"), scripted)?;
    let expect = expectation(root.get("expect")?)?;
    let cases = cases.iter().map(|(name, node)| case(name, node, &answers, &expect));
    let cases = cases.collect::<Option<_>>()?;
    Some(Rehearsal {
        id: take::name(root.get("rehearsal")?)?.value,
        title: take::text(root.get("title")?)?,
        procedure: take::name(root.get("procedure")?)?,
        alone: take::flag(root.get("alone")),
        machine: take::text_at(root.get("machine")?)?,
        performer: take::name(root.get("performer")?)?,
        mechanic: take::name(root.get("mechanic")?)?,
        second: optional(root.get("second"), take::name)?,
        answers,
        expect,
        cases,
        out_of_reach: each(root.get("out_of_reach"), |node| {
            Some((take::text_at(node.get("at")?)?, take::text(node.get("because")?)?))
        })?,
    })
}

fn case(
    name: &At<String>,
    node: &Node,
    story: &[Scripted],
    expect_of_story: &Expectation,
) -> Option<Case> {
    let mut answers = each(node.get("answers"), scripted)?;
    let stay = story.iter().filter(|other| !answers.iter().any(|own| own.replaces(other)));
    let stay: Vec<Scripted> =
        stay.map(|other| Scripted { is_of_story: true, ..other.clone() }).collect();
    answers.extend(stay);
    let node_of_expect = node.get("expect")?;
    let mut expect = expectation(node_of_expect)?;
    let more = each(node_of_expect.get("more_parts"), needed)?;
    if expect.parts.is_none() && (expect.outcome == expect_of_story.outcome || !more.is_empty()) {
        expect.parts.clone_from(&expect_of_story.parts);
        expect.parts.iter_mut().for_each(|parts| parts.extend(more.iter().cloned()));
    }
    let title = optional(node.get("title"), take::text)?;
    Some(Case { name: take::key_name(name)?, title, answers, expect })
}

fn scripted(node: &Node) -> Option<Scripted> {
    Some(Scripted {
        at: take::text_at(node.get("at")?)?,
        answer: answer(node)?,
        span: node.span,
        is_of_story: false,
    })
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
    } else if let Some(word) = node.get("dispose") {
        let disposition = Disposition::parse(word.text()?)?;
        let because = take::text(node.get("because")?)?;
        let lot = optional(node.get("lot"), take::text)?;
        Some(ScriptedAnswer::Dispose { disposition, lot, because })
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

fn needed(part: &Node) -> Option<(PartId, String)> {
    let position = optional(part.get("position"), take::text)?.unwrap_or_default();
    Some((PartId::new(part.get("part")?.text()?).ok()?, position))
}

fn expectation(node: &Node) -> Option<Expectation> {
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
        asked: each(node.get("asked"), take::text_at)?,
        not_asked: each(node.get("not_asked"), take::text_at)?,
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
        assert!(rehearsal.alone);
        assert_eq!(rehearsal.expect.asked[1].value, "float#*");
        let [chipped, worn_out] = rehearsal.cases.as_slice() else { panic!("two cases") };
        // It ends as the story does, so its parts are the story's and one more.
        assert_eq!(chipped.expect.parts.as_ref().unwrap().len(), 3);
        assert_eq!(chipped.answers.len(), rehearsal.answers.len());
        assert_eq!(chipped.answers.iter().filter(|a| !a.is_of_story).count(), 1);
        assert_eq!(worn_out.expect.parts, Some(Vec::new()));
        assert_eq!(worn_out.expect.not_asked[0].value, "settle");
    }
}
