//! Walks a journal's entries again through the procedure that came with them, and holds each entry
//! against what the rules make of the same move.
//!
//! Only the first entry that does not follow is named: everything after it stands on it. Signatures
//! and the chain are other questions of [`mod@super::verify`].

use crate::ids::{BootClock, Moment, Now};
use crate::units::Reading;
use crate::walk::event::{
    Answer, Entry, Event, InstrumentSnapshot, JobOpened, Judged, Next, SEMANTICS, SEMANTICS_KNOWN,
    Waited,
};
use crate::walk::{Address, Command, Files, JobState, actor, decide, hands};

/// Why a journal is not what the rules make of its answers.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReplayFault {
    /// An entry does not follow.
    #[error("entry {n}{} does not follow: {why}", place(address.as_ref()))]
    Departs {
        /// The entry.
        n: u64,
        /// The step that it is about.
        address: Option<Address>,
        /// What differs.
        why: String,
    },
    /// The job was walked by other rules, which says nothing against it.
    #[error(
        "the job was walked by rules {found} and this program knows rules up to {SEMANTICS}: it cannot \
         be judged here; use the version of the program that made it"
    )]
    CannotJudge {
        /// Its rules.
        found: u32,
    },
}

fn place(address: Option<&Address>) -> String {
    address.map_or_else(String::new, |address| format!(" at `{address}`"))
}

/// Walks `entries` again through `files` and returns the state that they come to.
///
/// # Errors
/// The first entry that the rules would not have made, or other rules altogether.
pub fn replay_check(files: &Files, entries: &[Entry]) -> Result<JobState, ReplayFault> {
    let mut entries = entries.iter();
    let mut state = open(files, entries.next())?;
    for entry in entries {
        check(files, &state, entry).map_err(|why| ReplayFault::Departs {
            n: entry.n,
            address: entry.event.address().cloned(),
            why,
        })?;
        state.apply(&files.flow, entry);
    }
    Ok(state)
}

fn open(files: &Files, first: Option<&Entry>) -> Result<JobState, ReplayFault> {
    let departs = |why: String| ReplayFault::Departs { n: 0, address: None, why };
    let Some(first) = first else {
        return Err(departs("the journal is empty".to_owned()));
    };
    let Event::JobOpened(opened) = &first.event else {
        return Err(departs(format!("it is `{}`, and a job is opened first", first.event.word())));
    };
    if !SEMANTICS_KNOWN.contains(&opened.semantics) {
        return Err(ReplayFault::CannotJudge { found: opened.semantics });
    }
    if first.n != 0 || first.by.is_some() {
        return Err(departs("a job is opened by nobody, as entry 0".to_owned()));
    }
    match opening_differs(files, opened) {
        Some(why) => Err(departs(why)),
        None => Ok(JobState::open(&files.flow, (**opened).clone(), first.at)),
    }
}

fn opening_differs(files: &Files, opened: &JobOpened) -> Option<String> {
    let flow = &files.flow;
    let differs = |what: &str, entry: &dyn std::fmt::Display, file: &dyn std::fmt::Display| {
        (entry.to_string() != file.to_string()).then(|| {
            let (entry, file) = (entry.to_string(), file.to_string());
            format!(
                "it says {what} `{}`, and the job's files say `{}`",
                entry.escape_debug(),
                file.escape_debug()
            )
        })
    };
    let Some(machine) = files.shop.machines.iter().find(|m| m.tag == opened.machine) else {
        let tag = opened.machine.escape_debug();
        return Some(format!("the machine `{tag}` is not on the shop's list"));
    };
    differs("kind", &opened.kind.word(), &files.shop.kind.word())
        .or_else(|| differs("serial number", &opened.serial, &machine.serial))
        .or_else(|| differs("equipment", &opened.equipment, &machine.equipment))
        .or_else(|| differs("equipment", &opened.equipment, flow.equipment_id()))
        .or_else(|| differs("procedure", &opened.procedure, &flow.procedure))
        .or_else(|| differs("revision", &opened.revision, &flow.revision))
}

/// Why `entry` would not have been made in `state`.
fn check(files: &Files, state: &JobState, entry: &Entry) -> Result<(), String> {
    if entry.n != state.n_entries {
        return Err(format!("it has the number {}, and {} comes next", entry.n, state.n_entries));
    }
    if state.released.is_some() {
        return Err("the job was released before it, and nothing may follow a release".to_owned());
    }
    let origin = command(&entry.event)?;
    if entry.late.is_some() && !matches!(origin, Origin::Move(_)) {
        return Err("it is said to have been seen earlier, and it is the program's own".to_owned());
    }
    let command = match origin {
        Origin::Move(command) => match entry.late.clone() {
            None => command,
            Some(late) => Box::new(Command::Late { late, command }),
        },
        Origin::Clock(from) => return clock(state, entry, from),
        Origin::Expiry => {
            if hands::due(files, state, entry.at).as_ref() != Some(&entry.event) {
                return Err("it says that a state no longer holds, and it did".to_owned());
            }
            return by(state.person.as_ref(), entry);
        }
        Origin::Recovery => {
            return match &entry.by {
                None => Ok(()),
                Some(by) => Err(format!("`{by}` is said to have made an entry of the program's")),
            };
        }
    };
    if entry.at < state.last_at {
        return Err(format!(
            "it was made on {}, before the entry that it follows ({}), and no entry says that \
             the clock went back",
            entry.at.spoken(),
            state.last_at.spoken()
        ));
    }
    by(actor(state, &command).as_ref(), entry)?;
    let events = decide(files, state, &command, Now { wall: entry.at, boot: boot(&entry.event) })
        .map_err(|refusal| format!("it was not allowed there: {refusal}"))?;
    match events.as_slice() {
        [event] if *event == entry.event => Ok(()),
        [event] => Err(difference(&entry.event, event)),
        _ => Err("the rules make another number of entries of it".to_owned()),
    }
}

/// The clock since boot that a move was made by, where its entry keeps it.
fn boot(event: &Event) -> Option<BootClock> {
    match event {
        Event::WaitBegun { boot, .. }
        | Event::Answered { answer: Answer::Waited(Waited { boot, .. }), .. } => *boot,
        _ => None,
    }
}

fn by(wanted: Option<&crate::ids::PersonId>, entry: &Entry) -> Result<(), String> {
    if entry.by.as_ref() == wanted {
        return Ok(());
    }
    let name = |person: Option<&crate::ids::PersonId>| {
        person.map_or_else(|| "nobody".to_owned(), |person| format!("`{person}`"))
    };
    let found = name(entry.by.as_ref());
    Err(format!("it is entered by {found}, and {} was at work", name(wanted)))
}

/// A clock that went back is entered when it really did, and says from where.
fn clock(state: &JobState, entry: &Entry, from: Moment) -> Result<(), String> {
    if from != state.last_at {
        return Err(format!(
            "it says that the clock stood at {from}, and the entry before was made at {}",
            state.last_at
        ));
    }
    if entry.at >= state.last_at {
        return Err("it says that the clock went back, and it did not".to_owned());
    }
    by(state.person.as_ref(), entry)
}

/// Where an entry came from.
enum Origin {
    /// A person's move.
    Move(Box<Command>),
    /// The clock, which stood there before.
    Clock(Moment),
    /// A state of the machine that no longer holds.
    Expiry,
    /// The recovery after a power cut.
    Recovery,
}

/// The move that an event was made of.
fn command(event: &Event) -> Result<Origin, String> {
    Ok(Origin::Move(Box::new(match event {
        Event::JobOpened(_) => return Err("a job is opened once, by entry 0".to_owned()),
        Event::TornTailSetAside { .. } => return Ok(Origin::Recovery),
        Event::ClockWentBack { from } => return Ok(Origin::Clock(*from)),
        Event::TokenExpired { .. } => return Ok(Origin::Expiry),
        Event::Identified(signed) => Command::Identify(signed.clone()),
        Event::SafetyAcknowledged { address, .. } => {
            Command::AcknowledgeSafety { address: address.clone() }
        }
        Event::ItemChecked { address, item, so, .. } => {
            Command::CheckItem { address: address.clone(), item: *item, so: *so }
        }
        Event::LayerLaid { address, laid, .. } => {
            Command::LayLayer { address: address.clone(), laid: laid.clone() }
        }
        Event::WrenchSet { address, wrench, .. } => Command::SetWrench {
            address: address.clone(),
            wrench: Box::new(wrench.as_ref().into()),
        },
        Event::FastenerTightened { address, tight, .. } => {
            Command::Tighten { address: address.clone(), tight: tight.clone() }
        }
        Event::FastenerRechecked { address, fastener, direction, reading, instrument } => {
            Command::Recheck {
                address: address.clone(),
                fastener: *fastener,
                direction: *direction,
                reading: reading.clone(),
                instrument: Box::new(instrument.clone()),
            }
        }
        Event::FastenerLoosened { address, fastener, reason, .. } => Command::Loosen {
            address: address.clone(),
            fastener: *fastener,
            reason: reason.clone(),
        },
        Event::Answered { address, answer: Answer::Waited(_), .. } => {
            Command::EndWait { address: address.clone() }
        }
        Event::WaitBegun { address, .. } => Command::BeginWait { address: address.clone() },
        Event::Answered { address, answer, signed, .. } => Command::Answer {
            address: address.clone(),
            answer: answer.clone(),
            signed: signed.clone(),
        },
        Event::Corrected { address, answer, reason, signed, .. } => Command::Correct {
            address: address.clone(),
            answer: answer.clone(),
            reason: reason.clone(),
            signed: signed.clone(),
        },
        Event::Confirmed { address, .. } => Command::Confirm { address: address.clone() },
        Event::Conceded { address, verdict, reason, signed, .. } => Command::Concede {
            address: address.clone(),
            verdict: *verdict,
            reason: reason.clone(),
            signed: signed.clone(),
        },
        Event::Disposed { address, said, signed } => Command::Dispose {
            address: address.clone(),
            said: said.clone(),
            signed: signed.clone(),
        },
        Event::WorkHalted { standing, reason, .. } => {
            Command::Halt { standing: standing.clone(), reason: reason.clone() }
        }
        Event::WorkResumed { reason, signed } => {
            Command::Resume { reason: reason.clone(), signed: signed.clone() }
        }
        Event::Paused { reason } => Command::Pause { reason: reason.clone() },
        Event::TakenUp { shown } => Command::TakeUp { shown: shown.clone() },
        Event::WitnessTold { address, who } => {
            Command::TellWitness { address: address.clone(), who: who.clone() }
        }
        Event::EvidenceAdded { address, evidence } => {
            Command::AddEvidence { address: address.clone(), evidence: evidence.clone() }
        }
        Event::ZeroChecked { instrument, reading, .. } => zero(instrument, reading),
        Event::NoteAdded { address, text } => {
            Command::AddNote { address: address.clone(), text: text.clone() }
        }
        Event::PerformedSigned(signed) => Command::SignPerformed(signed.clone()),
        Event::ExceptionsAcknowledged { shown } => {
            Command::AcknowledgeExceptions { shown: shown.clone() }
        }
        Event::Released { record, signature } => {
            Command::MarkReleased { record: *record, signature: *signature }
        }
    })))
}

fn zero(instrument: &InstrumentSnapshot, reading: &Reading) -> Command {
    Command::CheckZero { instrument: Box::new(instrument.clone()), reading: reading.clone() }
}

/// In words, how the entry as found differs from the one that the rules make.
fn difference(found: &Event, made: &Event) -> String {
    let (found_judged, made_judged) = (found.judged(), made.judged());
    let verdict = |judged: Option<&Judged>| {
        judged.and_then(|j| j.verdict).map_or("no verdict", crate::procedure::model::Verdict::word)
    };
    let (said, given) = (verdict(found_judged), verdict(made_judged));
    if said != given {
        return format!("it says `{said}`, and the answers give `{given}`");
    }
    if let (Some(said), Some(given)) = (found_judged, made_judged)
        && said.next != given.next
    {
        return format!(
            "it says that the walk went to {}, and the answers lead to {}",
            next(&said.next),
            next(&given.next)
        );
    }
    if let (Event::Corrected { supersedes: said, .. }, Event::Corrected { supersedes: given, .. }) =
        (found, made)
        && said != given
    {
        return format!(
            "it supersedes entry {said}, and the answer before is that of entry {given}"
        );
    }
    match found {
        Event::SafetyAcknowledged { .. } => {
            "the safety text that was acknowledged is not the one of the procedure".to_owned()
        }
        Event::LayerLaid { .. } => {
            "it and the stack do not agree on which layer is the last".to_owned()
        }
        Event::ZeroChecked { .. } => {
            "it says otherwise than the list of instruments whether that is near enough to zero"
                .to_owned()
        }
        Event::ItemChecked { .. } => {
            "it and the list do not agree on which line is the last".to_owned()
        }
        _ => "the rules make another entry of it".to_owned(),
    }
}

fn next(next: &Next) -> String {
    match next {
        Next::Ask(address) => format!("`{address}`"),
        Next::End => "the end".to_owned(),
        Next::Stopped => "a stop".to_owned(),
    }
}
