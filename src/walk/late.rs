//! Late entries: what was seen or done some time before it could be entered. Both times are kept.

use chrono::{NaiveDate, NaiveTime, TimeZone as _};

use super::accept;
use super::address::Address;
use super::command::Command;
use super::event::Entry;
use super::flow::{Flow, InstanceIdx, Node, NodeIdx};
use super::job::{Held, JobState};
use super::refusal::Refusal;
use crate::ids::{Moment, PersonId};
use crate::units::duration::spoken_duration;

/// When something was really seen or done, and why it was not entered then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Late {
    /// When it was seen, with the offset of the place.
    pub observed: Moment,
    /// Why it was entered later.
    pub reason: String,
}

/// An entry that was made late.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LateNote {
    /// The entry.
    pub n: u64,
    /// The instance.
    pub address: Address,
    /// When it was entered.
    pub at: Moment,
    /// Who entered it.
    pub by: Option<PersonId>,
    /// When it was seen, and why it was entered later.
    pub late: Late,
}

impl LateNote {
    /// In a sentence.
    pub fn text(&self) -> String {
        let later = self.at.time().signed_duration_since(self.late.observed.time());
        let later = u64::try_from(later.num_seconds()).unwrap_or_default();
        format!(
            "entry {} at {} was seen on {} and entered on {}, {} later: {}",
            self.n,
            self.address,
            self.late.observed.spoken(),
            self.at.spoken(),
            spoken_duration(later),
            self.late.reason
        )
    }
}

impl JobState {
    /// Keeps that `entry` was made late, where it was.
    pub(super) fn note_late(&mut self, entry: &Entry) {
        let (Some(late), Some(address)) = (&entry.late, entry.event.address()) else { return };
        self.late.push(LateNote {
            n: entry.n,
            address: address.clone(),
            at: entry.at,
            by: entry.by.clone(),
            late: late.clone(),
        });
    }
}

impl Held {
    /// When it was seen: the time of the entry, unless that was made late.
    pub fn observed(&self) -> Moment {
        self.late.as_ref().map_or(self.at, |late| late.observed)
    }
}

impl Late {
    /// Reads `TIME REASON`, as a person types it: `10:05 both hands in oil` for today,
    /// `2026-11-24 10:05 …` for another day, or a whole time with its offset. Day and time are those
    /// of the place, with the offset of `now`.
    ///
    /// # Errors
    /// What is missing or cannot be read.
    pub fn parse(text: &str, now: Moment) -> Result<Self, Refusal> {
        let wrong = |why: &'static str| Refusal::Late(why.to_owned());
        let (first, rest) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
        let (observed, reason) = if let Some(moment) = Moment::parse(first) {
            (moment, rest)
        } else {
            let (day, clock, reason) = match NaiveDate::parse_from_str(first, "%Y-%m-%d") {
                Ok(day) => {
                    let (clock, reason) = rest.trim().split_once(' ').unwrap_or((rest.trim(), ""));
                    (day, clock, reason)
                }
                Err(_) => (now.day(), first, rest),
            };
            let clock = NaiveTime::parse_from_str(clock, "%H:%M").map_err(|_fault| {
                wrong("write the time as `10:05`, or with its day as `2026-11-24 10:05`")
            })?;
            let local = now.time().offset().from_local_datetime(&day.and_time(clock)).single();
            let local = local.ok_or_else(|| wrong("there is no such time"))?;
            (Moment::new(local), reason)
        };
        if observed >= now {
            return Err(wrong("that time is still to come; give the day too, if it was not today"));
        }
        if reason.trim().is_empty() {
            return Err(wrong("say behind the time why it was not entered then"));
        }
        Ok(Self { observed, reason: reason.trim().to_owned() })
    }
}

/// Refuses a time at which the move cannot have been made: before what had to come first, while the
/// work was stopped, or not before now.
pub(super) fn check(
    flow: &Flow,
    state: &JobState,
    late: &Late,
    (command, now): (&Command, Moment),
) -> Result<(), Refusal> {
    let refused = |why: String| Err(Refusal::Late(why));
    let seen = late.observed;
    let Some(address) = command.may_be_late() else {
        return refused(
            "only an answer of one's own without a signature can be entered late".into(),
        );
    };
    accept::line("the reason", &late.reason)?;
    if seen >= now {
        return refused(format!("{} is not before now", seen.spoken()));
    }
    if seen < state.opened_at {
        let opened = state.opened_at.spoken();
        return refused(format!("{} is before the job was opened ({opened})", seen.spoken()));
    }
    let index = flow.find(address).ok_or_else(|| Refusal::NoSuchStep(address.clone()))?;
    if let Some(ready) = state.ready_at.get(&index).filter(|ready| seen < **ready) {
        return refused(format!(
            "{} is before the safety text of this step was read or its witness was told ({})",
            seen.spoken(),
            ready.spoken()
        ));
    }
    let before = state.walk.path.iter().take_while(|other| **other != index);
    let before = before.filter(|other| !in_free_order(flow, **other, index));
    let first = before.filter_map(|other| Some((*other, state.held.get(*other)?.as_ref()?)));
    if let Some((other, held)) = first.max_by_key(|(_, held)| held.observed())
        && seen < held.observed()
    {
        return refused(format!(
            "{} is before `{}`, which comes first ({})",
            seen.spoken(),
            flow.instance(other).address,
            held.observed().spoken()
        ));
    }
    let stopped = state.halts.iter().find(|halt| {
        seen > halt.at && halt.resumed.as_ref().is_none_or(|(_, resumed, _)| seen < *resumed)
    });
    match stopped {
        None => Ok(()),
        Some(halt) => refused(format!("the work was stopped then, from {} on", halt.at.spoken())),
    }
}

/// True when one of the two may be done before or after the other.
fn in_free_order(flow: &Flow, one: InstanceIdx, other: InstanceIdx) -> bool {
    let node = |index: InstanceIdx| -> Option<NodeIdx> {
        flow.nodes
            .iter()
            .position(|node| matches!(node, Node::Ask { instance, .. } if *instance == index))
    };
    let (Some(one), Some(other)) = (node(one), node(other)) else { return false };
    flow.any_orders.iter().any(|order| {
        let member = |at: NodeIdx| order.members.iter().position(|m| m.contains(&at));
        matches!((member(one), member(other)), (Some(a), Some(b)) if a != b)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ca3_a_time_is_read_as_it_is_written_with_its_reason() {
        let now = Moment::parse("2026-11-25T11:00:00+01:00").unwrap();
        let read = |text: &str| Late::parse(text, now).map(|l| (l.observed.to_string(), l.reason));
        let at = |time: &str| Ok((time.to_owned(), "hands in oil".to_owned()));
        assert_eq!(read("10:05 hands in oil"), at("2026-11-25T10:05:00.000+01:00"));
        assert_eq!(read("2026-11-24 23:50  hands in oil"), at("2026-11-24T23:50:00.000+01:00"));
        assert_eq!(read("2026-11-25T09:00:00Z hands in oil"), at("2026-11-25T09:00:00.000Z"));
        for (wrong, why) in [
            ("11:30 hands", "still to come"),
            ("10:05", "why it was not entered"),
            ("10.05 hands", "write the time as"),
            ("2026-11-24 hands", "write the time as"),
            ("", "write the time as"),
        ] {
            assert!(read(wrong).unwrap_err().to_string().contains(why), "{wrong}");
        }
    }
}
