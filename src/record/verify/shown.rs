//! A verification as text for people and as JSON for programs. Everything that came with the folder is
//! made safe to show.

use serde::Serialize;

use super::{Answer, Fault, SignedBy, Verification};
use crate::ids::Moment;
use crate::visible::visible;

/// The version of the JSON form.
const FORMAT: &str = "1.0";

impl Verification {
    /// The one sentence that stands first.
    pub fn headline(&self) -> String {
        let job = match (&self.job, self.kind.as_deref()) {
            (Some(job), Some("demo")) => format!("job {job} (demo, a made-up shop)"),
            (Some(job), _) => format!("job {job}"),
            (None, _) => "this folder".to_owned(),
        };
        let bad: Vec<&Answer> = self.answers.iter().filter(|a| !a.is_good()).collect();
        match bad.as_slice() {
            [] => format!("{job}: all five answers are good"),
            [only] if !self.is_released && is_not_released(only) => {
                format!("{job}: not released yet; what is there is good")
            }
            [first, ..] => format!(
                "{job}: NOT good, {} of five answers; the first is {}: {}",
                bad.len(),
                first.question.word(),
                first.faults.first().map_or("", |fault| fault.name.word())
            ),
        }
    }

    /// The answers for people, some lines each.
    pub fn text(&self) -> String {
        let mut lines = vec![self.headline(), String::new()];
        for answer in &self.answers {
            let (number, word) = (answer.question.number(), answer.question.word());
            if answer.is_good() {
                lines.push(format!("  {number} {word:<11} good  {}", answer.checked));
                continue;
            }
            for (at, fault) in answer.faults.iter().enumerate() {
                let head =
                    if at == 0 { format!("  {number} {word:<11} BAD   ") } else { " ".repeat(21) };
                lines.push(format!("{head}{}: {}", fault.name.word(), fault.says));
            }
        }
        if !self.signatures.is_empty() {
            lines.push(String::new());
            lines.push("Signatures that hold:".to_owned());
            lines.extend(self.signatures.iter().map(signature_line));
        }
        for remark in &self.remarks {
            lines.push(String::new());
            lines.push(format!("Note: {remark}"));
        }
        let mut text = String::new();
        for line in lines {
            text.push_str(visible(&line).trim_end());
            text.push('\n');
        }
        text
    }

    /// The answers for programs: one JSON object, with all five.
    pub fn json(&self) -> String {
        let wire = Wire {
            answers: self.answers.iter().map(AnswerWire::from).collect(),
            exit_status: self.exit_status(),
            format: FORMAT,
            good: self.is_good(),
            job: self.job.as_deref(),
            kind: self.kind.as_deref(),
            released: self.is_released,
            remarks: &self.remarks,
            signatures: self.signatures.iter().map(SignedWire::from).collect(),
        };
        crate::canonical::to_line(&wire)
    }
}

fn is_not_released(answer: &Answer) -> bool {
    matches!(answer.faults.as_slice(), [Fault { name: super::FaultName::NotReleased, .. }])
}

fn signature_line(signed: &SignedBy) -> String {
    let place = signed.n.map_or_else(|| "the record".to_owned(), |n| format!("entry {n}"));
    let at = Moment::parse(&signed.at).map_or_else(|| signed.at.clone(), Moment::spoken);
    format!("  {place:<10}  {} as {}, {at}: {}", signed.signer, signed.role, signed.says)
}

#[derive(Serialize)]
struct Wire<'a> {
    answers: Vec<AnswerWire<'a>>,
    exit_status: u8,
    format: &'a str,
    good: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    job: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kind: Option<&'a str>,
    released: bool,
    remarks: &'a [String],
    signatures: Vec<SignedWire<'a>>,
}

#[derive(Serialize)]
struct AnswerWire<'a> {
    checked: &'a str,
    faults: Vec<FaultWire<'a>>,
    good: bool,
    n: u8,
    question: &'a str,
}

impl<'a> From<&'a Answer> for AnswerWire<'a> {
    fn from(answer: &'a Answer) -> Self {
        Self {
            checked: if answer.is_good() { &answer.checked } else { "" },
            faults: answer.faults.iter().map(FaultWire::from).collect(),
            good: answer.is_good(),
            n: answer.question.number(),
            question: answer.question.word(),
        }
    }
}

#[derive(Serialize)]
struct FaultWire<'a> {
    name: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<&'a str>,
    says: &'a str,
}

impl<'a> From<&'a Fault> for FaultWire<'a> {
    fn from(fault: &'a Fault) -> Self {
        Self { name: fault.name.word(), place: fault.place.as_deref(), says: &fault.says }
    }
}

#[derive(Serialize)]
struct SignedWire<'a> {
    at: &'a str,
    meaning: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    n: Option<u64>,
    role: &'a str,
    says: &'a str,
    signer: &'a str,
}

impl<'a> From<&'a SignedBy> for SignedWire<'a> {
    fn from(signed: &'a SignedBy) -> Self {
        Self {
            at: &signed.at,
            meaning: &signed.meaning,
            n: signed.n,
            role: &signed.role,
            says: &signed.says,
            signer: &signed.signer,
        }
    }
}
