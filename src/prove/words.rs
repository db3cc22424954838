//! A proof in the author's words: one diagnostic for each promise that does not hold or may not.

use super::{Doubt, Lapse, Proof, Proven, Report, Script, Subject};
use crate::diag::{Code, Diagnostic};
use crate::ids::Name;
use crate::procedure::model::{Promise, Verdict};
use crate::source::{FileId, Span};
use crate::units::duration::spoken_duration;
use crate::walk::event::Answer;
use crate::walk::flow::{Flow, Node, ResolvedPromise};

/// The most answers of a script that a note shows; the whole of it is saved as a rehearsal.
const N_ANSWERS_SHOWN_MAX: usize = 12;

impl Proven {
    /// What is promised, in one line.
    pub fn text(&self, flow: &Flow) -> String {
        match &self.subject {
            Subject::Promise(number) => {
                flow.promises.get(*number).map_or_else(String::new, promise_text)
            }
            Subject::Needs(instance, token) => {
                format!("`{token}` is in force at `{}`", flow.instance(*instance).address)
            }
            Subject::Again(instance, token) => format!(
                "`{token}` is in force whenever `{}` is asked again",
                flow.instance(*instance).address
            ),
            Subject::Assumes(procedure, token) => {
                format!("`{token}` is in force where `{procedure}` is performed")
            }
        }
    }

    /// The place at which a script breaks it.
    pub fn place(&self, flow: &Flow, script: &Script) -> String {
        let ends = match self.subject {
            Subject::Promise(number) => flow.promises.get(number).map(|p| p.ends.as_slice()),
            Subject::Needs(..) | Subject::Assumes(..) | Subject::Again(..) => None,
        };
        let place = match (ends.unwrap_or_default().first().map(|end| flow.node(*end)), script.at) {
            (Some(Node::Performed { procedure, .. }), _) => format!("the end of `{procedure}`"),
            (_, Some(at)) => format!("`{}`", flow.instance(at).address),
            (_, None) => "the end".to_owned(),
        };
        let Some(Lapse { token, asks }) = &script.lapse else { return place };
        let why = match flow.tokens.get(token) {
            Some(note) if note.volatile => "after a break there",
            _ => "once its time is over there",
        };
        format!(
            "{place}, where `{token}` lapses {why} and `{}` is asked again",
            flow.instance(*asks).address
        )
    }
}

fn promise_text(resolved: &ResolvedPromise) -> String {
    match &resolved.promise {
        Promise::NeverReach { step, when: None, .. } => format!("never reach `{step}`"),
        Promise::NeverReach { step, when: Some(when), .. } => {
            format!("never reach `{step}` when `{}`", when.text)
        }
        Promise::FirstBefore { first, before, .. } => {
            format!("always `{first}` before `{before}`")
        }
    }
}

impl Script {
    /// The answers that are more than carrying out what is asked, one a line, each with its place.
    pub fn lines(&self, flow: &Flow) -> Vec<String> {
        let mut lines = Vec::new();
        for (index, class) in &self.answers {
            let address = &flow.instance(*index).address;
            let mut say = |text: &str| lines.push(format!("{address}: {text}"));
            let found =
                |names: &[Name]| names.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
            match &class.answer {
                Answer::Done | Answer::Released | Answer::Stopped | Answer::Attached(_) => {}
                Answer::Items(items) if !items.contains(&false) => {}
                Answer::Items(_) => say("an item is not so"),
                Answer::Built(laid) if laid.iter().all(|layer| layer.so) => {}
                Answer::Built(_) => say("a layer does not lie as it must"),
                Answer::Tightened(_) if class.verdict == Some(Verdict::Accept) => {}
                Answer::Tightened(_) => say("a fastener is not so"),
                Answer::Waited(waited) => {
                    say(&format!("waited {}", spoken_duration(waited.at_longest_s)));
                }
                Answer::Found(names) => say(&found(names)),
                Answer::Read { reading, .. } | Answer::EnteredFigure(reading) => {
                    say(&reading.text);
                }
                Answer::WorkedOut(worked) => match &worked.result {
                    Ok(reading) => say(&format!("comes to {}", reading.spoken())),
                    Err(_) => say("could not be worked out"),
                },
                Answer::CouldNotMeasure { .. } => say("could not measure"),
                Answer::Entered(text) => say(text),
                Answer::NotAttached { .. } => say("nothing to attach"),
                Answer::Deviated { .. } => say("done otherwise"),
                Answer::Decided { verdict, .. } => {
                    say(&format!("the mechanic decides {}", verdict.word()));
                }
            }
            if let Some(verdict) = class.substitute {
                lines.push(format!("{address}: the mechanic concedes {}", verdict.word()));
            }
        }
        lines
    }

    /// The script in a note.
    fn note(&self, flow: &Flow, place: &str) -> String {
        let mut lines = self.lines(flow);
        let more = lines.len().saturating_sub(N_ANSWERS_SHOWN_MAX);
        lines.truncate(N_ANSWERS_SHOWN_MAX);
        let steps =
            if lines.is_empty() { "whatever is answered".to_owned() } else { lines.join("; ") };
        let more = if more > 0 { format!("; and {more} more") } else { String::new() };
        format!("{steps}{more}; then {place}")
    }
}

/// What an author is told of a proof.
pub fn diagnostics(flow: &Flow, report: &Report) -> Vec<Diagnostic> {
    let nowhere = Span::new(FileId(0), 0, 0);
    let mut out = Vec::new();
    for proven in &report.promises {
        let span = proven.span.unwrap_or(nowhere);
        let text = proven.text(flow);
        let note = |script: &Script| script.note(flow, &proven.place(flow, script));
        out.extend(match (&proven.proof, &proven.subject) {
            (Proof::Proved, _) => None,
            (Proof::Broken(script), Subject::Promise(number)) => {
                let because = flow.promises.get(*number).map(|p| because(&p.promise));
                let mut broken = Diagnostic::error(
                    Code::BrokenPromise,
                    span,
                    format!("a path breaks this: {text}"),
                );
                because.unwrap_or_default().clone_into(&mut broken.primary.text);
                Some(broken.help(format!("the shortest: {}", note(script))))
            }
            (
                Proof::Broken(script),
                Subject::Needs(..) | Subject::Assumes(..) | Subject::Again(..),
            ) => Some(
                Diagnostic::error(
                    Code::StateNotInForce,
                    span,
                    format!("not on every path: {text}"),
                )
                .help(format!("the shortest: {}", note(script))),
            ),
            (Proof::NotProven(doubt, script), _) => {
                let (why, what) = match doubt {
                    Doubt::Relation => (
                        "it hangs on how readings compare",
                        "hold the readings against a limit, or break the promise up",
                    ),
                    Doubt::FreeOrder => (
                        "the two stand in a section whose order is free",
                        "take `any_order` out, or move one of them out of the section",
                    ),
                    Doubt::Unfinished(why) => (*why, "split the procedure"),
                };
                let help = match script {
                    Some(script) => format!("{what}; the path in doubt: {}", note(script)),
                    None => what.to_owned(),
                };
                let headline = format!("not proven: {text}: {why}");
                Some(Diagnostic::warning(Code::NotProven, span, headline).help(help))
            }
        });
    }
    for (span, name) in &report.dead {
        out.push(
            Diagnostic::warning(Code::DeadStep, *span, format!("no path comes to `{name}`"))
                .help("take the step out, or mend the conditions before it"),
        );
    }
    for constant in &report.constant {
        let truth = if constant.truth { "true" } else { "false" };
        out.push(
            Diagnostic::warning(
                Code::ConstantCondition,
                constant.span,
                format!("`{}` is always {truth} here", constant.text),
            )
            .help("take the condition out, or mend it"),
        );
    }
    out
}

fn because(promise: &Promise) -> &str {
    match promise {
        Promise::NeverReach { because, .. } | Promise::FirstBefore { because, .. } => because,
    }
}
