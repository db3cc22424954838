//! What there is to show of a job: one snapshot that every screen and the plain walk draw from.
//!
//! Made from a session between two moves; holds text as files and people wrote it. Making it safe to
//! show (`visible`) and laying it out is for those who draw.

mod beside;
pub mod files;
pub mod grid;
pub mod history;
mod open;
pub mod outline;
pub mod question;
pub mod ring;
pub mod sheet;
pub mod stack;

use crate::ids::{JobId, Moment, PersonId, Role};
use crate::procedure::model::StopText;
use crate::session::Session;
use crate::shop::model::ShopKind;
use crate::walk::Address;
use crate::walk::decide::authorised;
use crate::walk::flow::Ask;
use crate::walk::job::Progress;
use crate::walk::place::Stand;

pub use beside::positions;
pub use files::FileShown;
pub use history::HistoryShown;
pub use outline::{OutlineRow, State, Texts};
pub use question::{Consequence, Question, decision_words, verdict_words};
pub use ring::RingShown;
pub use sheet::Sheet;
pub use stack::StackShown;

/// A person of the roster, as others see them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Colleague {
    /// Their id.
    pub id: PersonId,
    /// Their name.
    pub name: String,
    /// Their roles.
    pub roles: Vec<Role>,
    /// Why they may not work today, where that is so.
    pub barred: Option<String>,
    /// True where some of the work on this job is theirs.
    pub worked: bool,
}

impl Colleague {
    /// Their roles in words.
    pub fn roles_text(&self) -> String {
        self.roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(", ")
    }

    /// True when they may do what `role` is asked for today.
    pub fn may(&self, role: Role) -> bool {
        self.barred.is_none() && self.roles.iter().any(|held| held.covers(role))
    }
}

/// Where the job stands.
#[derive(Debug, Clone)]
pub enum Place {
    /// A step is asked.
    Asked(Box<Question>),
    /// All steps are done.
    End,
    /// The job was stopped here.
    Stopped {
        /// The stop.
        address: Address,
        /// What it says.
        text: StopText,
    },
}

/// Somebody's work that they have not signed for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsigned {
    /// Who.
    pub person: PersonId,
    /// Their first and last open entry.
    pub range: (u64, u64),
}

impl Unsigned {
    /// The entries in words.
    pub fn range_text(&self) -> String {
        match self.range {
            (from, to) if from == to => format!("entry {from}"),
            (from, to) => format!("entries {from} to {to}"),
        }
    }
}

/// One snapshot of a job.
#[derive(Debug, Clone)]
pub struct Shown {
    /// The job.
    pub job: JobId,
    /// The procedure's title.
    pub title: String,
    /// Its revision.
    pub revision: u32,
    /// The machine's tag.
    pub machine: String,
    /// Whether the job counts.
    pub kind: ShopKind,
    /// When the snapshot was made.
    pub now: Moment,
    /// Who is at work, once somebody has identified in this run of the program.
    pub who: Option<PersonId>,
    /// The roster.
    pub people: Vec<Colleague>,
    /// How far the job is.
    pub progress: Progress,
    /// Where it stands.
    pub place: Place,
    /// Why the work is stopped and how the machine is left, while it is.
    pub halted: Option<(String, String)>,
    /// What must be looked at before the work is taken up, where that is due.
    pub take_up: Option<Vec<String>>,
    /// The other steps that may be done now, because the order of their section is free.
    pub open_too: Vec<(Address, String)>,
    /// Every step in order.
    pub outline: Vec<OutlineRow>,
    /// The photos and files, in the order in which they were attached.
    pub files: Vec<FileShown>,
    /// What must be looked at before signing; empty while a step is asked and nothing is stopped.
    pub exceptions: Vec<String>,
    /// What keeps the job from being released; empty as above.
    pub blocks: Vec<String>,
    /// Whose work is not signed for.
    pub unsigned: Vec<Unsigned>,
    /// Who signs for the job.
    pub signed_by: Role,
    /// What is open, a line each, down to the layer and the fastener.
    pub open: Vec<String>,
    /// True once released.
    pub released: bool,
    /// The number of entries.
    pub n_entries: u64,
}

impl Shown {
    /// The snapshot of `session` as it stands.
    pub fn of(session: &Session) -> Self {
        Self::at(session, None)
    }

    /// The snapshot of `session` with the step `chosen` put, where that one is open too.
    pub fn at(session: &Session, chosen: Option<&Address>) -> Self {
        Self::with(session, chosen, &mut Texts::default())
    }

    /// The same; `texts` are kept from one snapshot to the next.
    pub fn with(session: &Session, chosen: Option<&Address>, texts: &mut Texts) -> Self {
        let (files, state) = (session.files(), session.state());
        let flow = &files.flow;
        let now = session.now();
        let people = files.shop.people.iter().map(|person| Colleague {
            id: person.id.clone(),
            name: person.name.clone(),
            roles: person.roles.clone(),
            barred: authorised(files, &person.id, None, now).err().map(|r| r.to_string()),
            worked: state.work.contains_key(&person.id),
        });
        let place = match state.walk.stand {
            Stand::Asked(first, _) => {
                let index = chosen
                    .and_then(|address| flow.find(address))
                    .filter(|index| state.walk.open.contains(index))
                    .unwrap_or(first);
                Place::Asked(Box::new(Question::of(session, index)))
            }
            Stand::End => Place::End,
            Stand::Stopped(index) => {
                let instance = flow.instance(index);
                match &instance.ask {
                    Ask::Stop(text) => {
                        Place::Stopped { address: instance.address.clone(), text: text.clone() }
                    }
                    _ => Place::End,
                }
            }
        };
        // What is looked at before signing goes through the whole job: not with every key.
        let signing = !matches!(place, Place::Asked(_)) || state.halted().is_some();
        let put = match &place {
            Place::Asked(question) => Some(&question.address),
            Place::End | Place::Stopped { .. } => None,
        };
        let open_too = state
            .walk
            .open
            .iter()
            .map(|index| flow.instance(*index))
            .filter(|instance| Some(&instance.address) != put)
            .map(|instance| (instance.address.clone(), instance.ask.text().to_owned()));
        let open_too = open_too.collect();
        let unsigned = state.unsigned_people().into_iter().filter_map(|person| {
            state.unsigned_range(&person).map(|range| Unsigned { person, range })
        });
        Self {
            job: session.job().clone(),
            title: flow.title.clone(),
            revision: flow.revision.0,
            machine: state.opened.machine.clone(),
            kind: state.opened.kind,
            now,
            who: session.at_work().cloned(),
            people: people.collect(),
            progress: state.progress(),
            place,
            halted: state.halted().map(|halt| (halt.reason.clone(), halt.safe_state.clone())),
            take_up: session.to_take_up(),
            open_too,
            outline: outline::rows(session, texts),
            files: files::of(session),
            exceptions: if signing { session.exceptions() } else { Vec::new() },
            blocks: if signing { session.blocks() } else { Vec::new() },
            unsigned: unsigned.collect(),
            signed_by: flow.signed_by,
            open: open::open(session),
            released: state.released.is_some(),
            n_entries: state.n_entries,
        }
    }

    /// How far a job came that ends where the work was stopped.
    pub fn stopped_short(&self) -> String {
        let not_done = self.progress.total.saturating_sub(self.progress.done);
        let why = self.halted.as_ref().map_or_else(String::new, |(why, _)| format!("{why}; "));
        format!("{why}{} steps done, {not_done} not done", self.progress.done)
    }

    /// True for a job of a demo shop.
    pub fn is_demo(&self) -> bool {
        self.kind == ShopKind::Demo
    }

    /// The name of `person`, or their id where the roster does not know them.
    pub fn name(&self, person: &PersonId) -> String {
        self.people
            .iter()
            .find(|p| p.id == *person)
            .map_or_else(|| person.to_string(), |p| p.name.clone())
    }

    /// The name of whoever may be somebody.
    pub fn name_or_nobody(&self, person: Option<&PersonId>) -> String {
        person.map_or_else(|| "nobody".to_owned(), |person| self.name(person))
    }

    /// The step that is asked.
    pub fn question(&self) -> Option<&Question> {
        match &self.place {
            Place::Asked(question) => Some(question),
            Place::End | Place::Stopped { .. } => None,
        }
    }

    /// The photos and files of a step.
    pub fn files_of(&self, address: &Address) -> Vec<FileShown> {
        self.files.iter().filter(|f| f.address.as_ref() == Some(address)).cloned().collect()
    }

    /// The people who may do what `role` is asked for today.
    pub fn people_for(&self, role: Role) -> Vec<&Colleague> {
        self.people.iter().filter(|p| p.may(role)).collect()
    }

    /// The people who may sign for the whole job. Whoever did some of the work signs for that alone; they
    /// are named only where nobody else is there to be asked, so that the refusal says so.
    pub fn releasers(&self) -> Vec<&Colleague> {
        let (worked, others): (Vec<_>, Vec<_>) =
            self.people_for(self.signed_by).into_iter().partition(|person| person.worked);
        if others.is_empty() { worked } else { others }
    }

    /// The people who may work today at all; an author performs nothing by that role alone.
    pub fn workers(&self) -> Vec<&Colleague> {
        self.people_for(Role::Apprentice)
    }

    /// How far the job is, in words.
    pub fn progress_text(&self) -> String {
        let p = self.progress;
        format!("{} of {} done", p.done, p.total.saturating_sub(p.not_applicable))
    }
}

/// A moment for people at the bench: the day is left out when it is today.
pub fn spoken_at(at: Moment, now: Moment) -> String {
    if at.day() == now.day() && at.time().offset() == now.time().offset() {
        at.time().format("today %H:%M").to_string()
    } else {
        at.spoken()
    }
}
