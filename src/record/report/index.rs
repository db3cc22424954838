//! The steps of a record by what they have to do with each other: a result, the decision on it, what was
//! done about it, and the same place looked at once more.

use std::collections::BTreeMap;

use super::words::{self, position, without_passes};
use crate::procedure::model::Verdict;
use crate::record::completion::{Answer, Concession, Disposition, Record, Step};

/// A record with its steps found by address.
#[derive(Debug)]
pub(super) struct Index<'a> {
    pub(super) record: &'a Record,
    by_address: BTreeMap<&'a str, &'a Step>,
    /// The entry of the last pass of each place.
    last: BTreeMap<String, &'a str>,
    names: BTreeMap<&'a str, &'a str>,
}

/// Where a decision stands that is asked because something was done again often enough.
const BOUND: &str = "/bound";

/// The verdict of the rules on an answer, when it was given.
pub(super) fn judged(step: &Step) -> Option<Verdict> {
    Verdict::parse(step.verdict_judged.as_ref().or(step.verdict.as_ref())?)
}

/// True for a result that the rules did not simply let pass.
pub(super) fn is_refused(step: &Step) -> bool {
    judged(step).is_some_and(|verdict| verdict != Verdict::Accept)
}

impl<'a> Index<'a> {
    pub(super) fn of(record: &'a Record) -> Self {
        let mut last = BTreeMap::new();
        for step in &record.steps {
            last.insert(without_passes(&step.address), step.address.as_str());
        }
        Self {
            record,
            by_address: record.steps.iter().map(|step| (step.address.as_str(), step)).collect(),
            last,
            names: record.people.iter().map(|p| (p.id.as_str(), p.name.as_str())).collect(),
        }
    }

    pub(super) fn step(&self, address: &str) -> Option<&'a Step> {
        self.by_address.get(address).copied()
    }

    /// The name of a person, else the id.
    pub(super) fn name<'b>(&self, id: &'b str) -> &'b str
    where
        'a: 'b,
    {
        self.names.get(id).copied().filter(|name| !name.is_empty()).unwrap_or(id)
    }

    /// The result that a decision is about.
    pub(super) fn inspected(&self, decision: &Step) -> Option<&'a Step> {
        if !matches!(decision.answer, Answer::Decided { .. }) {
            return None;
        }
        let place = decision.address.strip_suffix("/decision")?;
        self.step(place.strip_suffix(BOUND).unwrap_or(place))
    }

    /// What a step asked. A decision is asked by what was found, and not by all that could have been.
    pub(super) fn asked(&self, step: &Step) -> String {
        let inspected = self
            .inspected(step)
            .filter(|inspected| step.address.len() == inspected.address.len() + "/decision".len());
        match inspected {
            Some(inspected) if !inspected.said.is_empty() => inspected.said.join(" "),
            Some(inspected) if step.text.contains(" / ") => inspected.text.clone(),
            _ => step.text.clone(),
        }
    }

    /// What a step asked, with its position.
    pub(super) fn asked_where(&self, step: &Step) -> String {
        with_place(&self.asked(step), &position(&step.address))
    }

    /// What is asked at an address, where the record tells.
    pub(super) fn text(&self, address: &str) -> String {
        let not_asked = self.record.not_applicable.iter();
        match self.step(address) {
            Some(step) => self.asked(step),
            None => not_asked
                .clone()
                .find(|step| step.address == address)
                .map_or_else(|| words::spoken(address), |step| step.text.clone()),
        }
    }

    /// What stands at an address, for people: what was asked there and where, else the address.
    pub(super) fn place(&self, address: &str) -> String {
        let parked = self.record.parked.iter().map(|p| (&p.address, &p.text));
        let not_asked = self.record.not_applicable.iter().map(|n| (&n.address, &n.text));
        match self.step(address) {
            Some(step) => self.asked_where(step),
            None => match parked.chain(not_asked).find(|(at, _)| *at == address) {
                Some((at, text)) => with_place(text, &position(at)),
                None => words::spoken(address),
            },
        }
    }

    /// [`Self::place`] of every address that the record names.
    pub(super) fn places(&self) -> BTreeMap<String, String> {
        let record = self.record;
        let steps = record.steps.iter().map(|step| &step.address);
        let parked = record.parked.iter().map(|parked| &parked.address);
        let not_asked = record.not_applicable.iter().map(|step| &step.address);
        let all = steps.chain(parked).chain(not_asked);
        all.map(|at| (at.clone(), self.place(at))).collect()
    }

    /// The decision on a result, where somebody made one.
    pub(super) fn decision(&self, step: &Step) -> Option<(&'a Step, &'a str, &'a str)> {
        let own = self.step(&format!("{}/decision", step.address));
        let decision = own.or_else(|| self.step(&format!("{}{BOUND}/decision", step.address)))?;
        match &decision.answer {
            Answer::Decided { verdict, reason } => Some((decision, verdict, reason)),
            _ => None,
        }
    }

    pub(super) fn concession(&self, step: &Step) -> Option<&'a Concession> {
        self.record.concessions.iter().find(|conceded| conceded.address == step.address)
    }

    pub(super) fn disposition(&self, step: &Step) -> Option<&'a Disposition> {
        self.record.dispositions.iter().find(|disposition| disposition.address == step.address)
    }

    /// The last pass of the same place, where it is a later one.
    pub(super) fn later(&self, step: &Step) -> Option<&'a Step> {
        let last = self.step(self.last.get(&without_passes(&step.address))?)?;
        (last.address != step.address).then_some(last)
    }

    /// What was decided and done about a result, in words and with names; empty where nothing was.
    pub(super) fn outcome(&self, step: &Step) -> Vec<String> {
        let mut said = Vec::new();
        let (mut is_decided, mut is_renewed) = (false, false);
        if let Some((decision, verdict, reason)) = self.decision(step) {
            let who = decision.by.as_deref().map_or("somebody", |by| self.name(by));
            said.push(format!("{who} {}: {}", decided(verdict), reason.trim_end_matches('.')));
            (is_decided, is_renewed) = (true, verdict == Verdict::Replace.word());
        }
        if let Some(conceded) = self.concession(step) {
            let who = self.name(&conceded.by);
            let reason = conceded.reason.trim_end_matches('.');
            said.push(format!("{who} {} against the rule: {reason}", decided(&conceded.verdict)));
            is_decided = true;
        }
        match self.disposition(step) {
            Some(done) if done.done == "inspected_again" => said.push(self.again(step)),
            Some(done) if done.done == "used_as_is" && is_decided => {}
            Some(done) if done.done == "fitted" && is_renewed => {}
            Some(_) if judged(step) == Some(Verdict::Stop) => {
                said.push("the job was stopped".to_owned());
            }
            Some(done) => said.push(self.stated(done)),
            None if judged(step) == Some(Verdict::Rework) => said.push(self.again(step)),
            None if step.verdict.as_deref() == Some(Verdict::Stop.word()) && !is_decided => {
                said.push("the job was stopped".to_owned());
            }
            None => {}
        }
        said
    }

    /// What was done, with who says so and why, where a person does.
    fn stated(&self, done: &Disposition) -> String {
        let is_said = ["used_as_is", "set_apart", "scrapped"].contains(&done.done.as_str());
        match &done.by {
            Some(by) if is_said && !done.says.is_empty() => {
                format!("{} ({})", done.says, self.name(by))
            }
            _ => done_words(done),
        }
    }

    fn again(&self, step: &Step) -> String {
        match self.later(step) {
            None => "not done again".to_owned(),
            Some(last) if is_refused(last) => "done again".to_owned(),
            Some(_) => "done again, then in order".to_owned(),
        }
    }
}

/// What somebody did with a doubtful result by their verdict.
fn decided(verdict: &str) -> String {
    match Verdict::parse(verdict) {
        Some(Verdict::Accept) => "accepted it".to_owned(),
        Some(Verdict::Replace) => "decided to renew it".to_owned(),
        Some(Verdict::Stop) => "stopped the job".to_owned(),
        Some(Verdict::Rework) => "decided to do it again".to_owned(),
        Some(Verdict::Refer) | None => format!("decided {verdict}"),
    }
}

pub(super) fn with_place(text: &str, place: &str) -> String {
    if place.is_empty() {
        return text.to_owned();
    }
    format!("{} ({place})", text.trim_end_matches('.'))
}

/// What was done about a failed result, short.
pub(super) fn done_words(disposition: &Disposition) -> String {
    let lot = disposition.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
    let done = match disposition.done.as_str() {
        "fitted" | "replaced" => "part renewed",
        "used_as_is" => "used as it is",
        "left_at_stop" => "left so at the stop",
        "set_apart" => "set apart",
        other => other,
    };
    format!("{}{lot}", words::spoken(done))
}
