//! Failed results in the record, each with what was done about it.

use super::Disposition;
use super::encode::{Writer, id, word};
use crate::walk::disposition::{self, Failed, Settled};
use crate::walk::exceptions::answer_text;
use crate::walk::fitted::PartFitted;
use crate::walk::place::Answers as _;

impl Writer<'_> {
    pub(super) fn dispositions(&self) -> Vec<Disposition> {
        disposition::failed(self.files, self.state).iter().map(|f| self.disposition(f)).collect()
    }

    fn disposition(&self, failed: &Failed) -> Disposition {
        let flow = &self.files.flow;
        let instance = flow.instance(failed.index);
        let ask = self.state.walk.ask(flow, self.state, failed.index);
        let answer = self.state.answer(failed.index);
        let (done, done_n, by, lot, says) = settled(&failed.settled);
        Disposition {
            address: instance.address.to_string(),
            at: done_n.and_then(|n| self.entry(n)).map(|entry| entry.at.to_string()),
            by,
            done: done.to_owned(),
            done_n,
            lot,
            n: self.held(failed.index).map_or(0, |held| held.n),
            rules: word(failed.rules),
            says,
            verdict: word(failed.verdict),
            what: answer.map_or_else(String::new, |answer| answer_text(&ask, answer)),
        }
    }
}

type Words = (&'static str, Option<u64>, Option<String>, Option<String>, String);

fn settled(settled: &Settled) -> Words {
    match settled {
        Settled::Again { address, n } => {
            ("inspected_again", Some(*n), None, None, format!("inspected again as {address}"))
        }
        Settled::Accepted { by, n, reason } => {
            ("used_as_is", Some(*n), id(by.as_ref()), None, format!("used as it is: {reason}"))
        }
        Settled::Fitted(parts) => {
            let last = parts.iter().max_by_key(|part| part.n);
            let says: Vec<String> = parts.iter().map(fitted).collect();
            let by = last.and_then(|part| id(part.by.as_ref()));
            let lot = if let [only] = parts.as_slice() { only.lot.clone() } else { None };
            ("fitted", last.map(|part| part.n), by, lot, says.join("; "))
        }
        Settled::Stated(stated) => (
            stated.said.disposition.word(),
            Some(stated.n),
            Some(stated.by.to_string()),
            stated.said.lot.clone(),
            stated.said.reason.clone(),
        ),
        Settled::Ended => {
            let says = "the job was stopped, and the machine is left in its safe state";
            ("left_at_stop", None, None, None, says.to_owned())
        }
        // A job with one of these is not released.
        Settled::Open => ("open", None, None, None, "nothing says what was done".to_owned()),
    }
}

fn fitted(part: &PartFitted) -> String {
    let lot = part.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
    format!("{} fitted at {}{lot}", part.title, part.step)
}
