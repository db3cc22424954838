//! What the full screen holds: the job as shown, the screen, what lies over it, what is half typed.

use std::collections::BTreeMap;
use std::rc::Rc;

use tui_textarea::TextArea;

use super::field::{Field, Secret};
use super::keymap::Press;
use crate::ids::{Name, PersonId, Role};
use crate::language::Thread;
use crate::photo::Photo;
use crate::procedure::model::{EntryKind, Verdict};
use crate::shown::{Colleague, FileShown, HistoryShown, Place, Question, Sheet, Shown};
use crate::walk::disposition::{Disposition, Said};
use crate::walk::event::Laid;
use crate::walk::flow::Ask;
use crate::walk::tighten::Due;
use crate::walk::{Address, Answer};

/// Everything the full screen holds.
#[derive(Debug, Clone)]
pub struct Model {
    /// The job, as it was after the last move.
    pub shown: Shown,
    /// What is on the screen.
    pub screen: Screen,
    /// What lies over it, the last on top.
    pub overlays: Vec<Overlay>,
    /// The answer under way at the step that is asked.
    pub draft: Draft,
    /// What was typed over the screen and left without being saved.
    pub kept: Kept,
    /// One line about the last move.
    pub status: Option<Status>,
    /// The hand at the keys, and what it holds.
    pub hand: Hand,
}

/// What is on the screen.
#[derive(Debug, Clone)]
pub enum Screen {
    /// Who is at work?
    Who {
        /// The row that is picked.
        cursor: usize,
    },
    /// The step that is asked.
    Walk,
    /// Every step.
    Outline {
        /// The row that is picked.
        cursor: usize,
    },
    /// Parts, readings, cause, deviations, notes.
    Sheet {
        /// What stands on it.
        sheet: Box<Sheet>,
        /// The first row that is shown.
        scroll: usize,
    },
    /// The machine's earlier jobs, and a reading over them.
    History {
        /// The jobs and the readings.
        history: Box<HistoryShown>,
        /// The reading that is picked.
        cursor: usize,
    },
    /// An earlier step, to be answered anew.
    Correct(Box<Correcting>),
    /// What must be looked at, and the release.
    SignOff {
        /// The lines as they were when looking began.
        lines: Vec<String>,
        /// How many of them were looked at.
        seen: usize,
    },
    /// The job is released.
    Done(Vec<String>),
}

/// A step that is answered anew.
#[derive(Debug, Clone)]
pub struct Correcting {
    /// The step.
    pub question: Question,
    /// The new answer under way.
    pub draft: Draft,
}

/// An answer under way.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    /// The step that it belongs to.
    pub address: Option<Address>,
    /// The first row that is shown, once somebody scrolled.
    pub scroll: Option<usize>,
    /// The findings, choices or decision picked, by index.
    pub picked: Vec<usize>,
    /// What is typed.
    pub field: Field,
    /// The lines answered so far, in a correction of a list.
    pub items: Vec<bool>,
    /// The layers laid so far, in a correction of a stack.
    pub laid: Vec<Laid>,
    /// The adapter on the wrench, as typed; an empty text takes the last one off.
    pub adapter: Option<String>,
    /// The thread, once it is said how it is.
    pub thread: Option<Thread>,
    /// True once the person was shown what an answer out of its limit comes to.
    pub warned: bool,
}

/// Texts that were typed and left: they are there again once the same is asked for at the same step.
#[derive(Debug, Clone, Default)]
pub struct Kept {
    lines: Vec<(Option<Address>, LineFor, Field)>,
    /// The note.
    pub note: Option<Box<TextArea<'static>>>,
}

/// Something that lies over the screen.
#[derive(Debug, Clone)]
pub enum Overlay {
    /// The keys that work now.
    Help {
        /// The first row that is shown.
        scroll: usize,
    },
    /// Leave?
    Leave,
    /// What is open and what was done last, before the work is taken up.
    TakeUp {
        /// The lines.
        lines: Vec<String>,
        /// The first row that is shown.
        scroll: usize,
    },
    /// Something that cannot be undone is asked once more.
    Sure {
        /// What it is.
        lines: Vec<String>,
        /// The answer that counts once confirmed.
        answer: Box<Answer>,
    },
    /// A choice among a few things to do.
    Choice {
        /// What is chosen.
        title: String,
        /// The choices, a line each.
        options: Vec<String>,
        /// The row that is picked.
        cursor: usize,
        /// What the chosen row leads to.
        what: Choosing,
    },
    /// A choice among people.
    People {
        /// What they are asked for.
        title: String,
        /// Who may.
        people: Vec<Colleague>,
        /// The row that is picked.
        cursor: usize,
        /// What the one chosen signs.
        what: Signing,
    },
    /// A passphrase.
    Passphrase {
        /// Whose.
        person: PersonId,
        /// What is typed.
        secret: Secret,
        /// What is signed with it.
        what: Signing,
    },
    /// A line of text.
    Line {
        /// What it is for.
        what: LineFor,
        /// What is typed.
        field: Field,
    },
    /// A note.
    Note(Box<TextArea<'static>>),
    /// A photo or file, of one or several.
    Photo(Box<PhotoShown>),
    /// A choice among instruments.
    Instruments {
        /// The row that is picked.
        cursor: usize,
    },
}

/// Which photo is looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PhotoOf {
    /// The file at a path, before it is attached.
    Path(String),
    /// One that lies with the job.
    Attached(FileShown),
}

/// A photo as it is looked at.
#[derive(Debug, Clone)]
pub struct PhotoShown {
    /// All that may be looked at here.
    pub all: Vec<PhotoOf>,
    /// The one that is looked at.
    pub at: usize,
    /// Its name.
    pub name: String,
    /// Who attached it, when, how large it is.
    pub about: Vec<String>,
    /// The picture, or why it is not shown.
    pub picture: Result<Rc<Photo>, String>,
}

/// What is chosen among a few.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Choosing {
    /// Left out, or done otherwise than written.
    Deviation(Address),
    /// A verdict in the place of that of the rules.
    Concession(Address, Vec<Verdict>),
    /// What was done about a failed result.
    Disposition(Address),
    /// Who was told.
    Witness(Address, Vec<PersonId>),
    /// Why the work is stopped: these standing conditions with what is seen, or another reason.
    Halt(Vec<(Name, String)>),
    /// Work that is stopped goes on, or the job ends.
    Halted,
}

/// What is signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Signing {
    /// "I am at work from here on."
    Identify,
    /// "I carried this out."
    Performed,
    /// A hold is lifted.
    Hold(Address),
    /// A decision.
    Decide {
        /// Where.
        address: Address,
        /// What.
        verdict: Verdict,
        /// Why.
        reason: String,
    },
    /// Another decision in the place of an earlier one.
    Correct {
        /// Where.
        address: Address,
        /// What.
        verdict: Verdict,
        /// Why it is decided so.
        why: String,
        /// Why it is corrected.
        reason: String,
    },
    /// A step is left out, or done otherwise than written.
    Deviate {
        /// Where.
        address: Address,
        /// True when it is done, otherwise than written.
        done: bool,
        /// What and why.
        reason: String,
    },
    /// Work that was stopped goes on.
    Resume(String),
    /// Another verdict in the place of that of the rules.
    Concede {
        /// Where.
        address: Address,
        /// What.
        verdict: Verdict,
        /// Why.
        reason: String,
    },
    /// What was done about a failed result.
    Dispose(Address, Said),
    /// The whole job, these lines having been looked at.
    Release(Vec<String>),
}

impl Signing {
    /// The step that it is about.
    pub fn address(&self) -> Option<&Address> {
        match self {
            Self::Hold(address)
            | Self::Decide { address, .. }
            | Self::Correct { address, .. }
            | Self::Deviate { address, .. }
            | Self::Concede { address, .. }
            | Self::Dispose(address, _) => Some(address),
            Self::Identify | Self::Performed | Self::Resume(_) | Self::Release(_) => None,
        }
    }

    /// What the person says with their signature.
    pub fn says(&self) -> String {
        match self {
            Self::Identify => "I am at work on this job from here on.".to_owned(),
            Self::Performed => "I carried out the entries that stand under my name.".to_owned(),
            Self::Hold(address) => format!("I have looked, and lift the hold at {address}."),
            Self::Decide { address, verdict, reason } => format!(
                "I decide at {address}: {}, because {reason}",
                crate::shown::decision_words(*verdict)
            ),
            Self::Correct { address, verdict, why, reason } => format!(
                "I decide anew at {address}: {}, because {why}. Corrected because {reason}",
                crate::shown::decision_words(*verdict)
            ),
            Self::Deviate { address, done: true, reason } => {
                format!("I let {address} be done otherwise than written: {reason}")
            }
            Self::Deviate { address, done: false, reason } => {
                format!("I let {address} be left out, because {reason}")
            }
            Self::Concede { address, verdict, reason } => format!(
                "I decide at {address}, in the place of the procedure: {}, because {reason}",
                crate::shown::decision_words(*verdict)
            ),
            Self::Dispose(address, said) => {
                let lot = said.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
                format!(
                    "What failed at {address} is {}{lot}: {}",
                    said.disposition.spoken(),
                    said.reason
                )
            }
            Self::Resume(reason) => format!("I let the work go on, because {reason}"),
            Self::Release(lines) => format!(
                "I sign for the whole job, and have looked at {}.",
                match lines.len() {
                    0 => "the list, which is empty".to_owned(),
                    1 => "its one line".to_owned(),
                    n => format!("each of its {n} lines"),
                }
            ),
        }
    }
}

/// What a line of text is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineFor {
    /// Why there is no reading.
    CouldNot,
    /// Why there is no photo or file.
    Lacking,
    /// The path of a photo or file to put beside a step.
    Evidence,
    /// Why the work is stopped.
    Halt,
    /// Why it may go on.
    Resume,
    /// Why it is paused.
    Pause,
    /// When what is answered here was seen, and why it was not entered then.
    Late,
    /// Why a step is left out, or what is done instead.
    Deviation(Address, bool),
    /// Why another verdict takes the place of that of the rules.
    Concession(Address, Verdict),
    /// What was done about a failed result, and why.
    Disposition(Address, Disposition),
    /// Why it is decided so.
    Decision(Verdict),
    /// What this instrument shows with nothing in it.
    Zero(String),
    /// The lot of the part that is laid.
    Lot,
    /// The figures of an adapter.
    Adapter,
    /// What the wrench showed.
    Shown,
    /// Which fastener was loosened, and why.
    Loosened,
    /// Which fastener is checked again, which way, and the figure.
    Recheck,
    /// Why an answer is corrected.
    Correction(Box<Answer>),
}

impl LineFor {
    /// The step that a mechanic signs about.
    pub fn address(&self) -> Option<&Address> {
        match self {
            Self::Deviation(address, _)
            | Self::Concession(address, _)
            | Self::Disposition(address, _) => Some(address),
            _ => None,
        }
    }

    /// True where `self` and `other` ask for the same text, whatever answer it belongs to.
    fn asks_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Correction(_), Self::Correction(_)) | (Self::Decision(_), Self::Decision(_)) => {
                true
            }
            _ => self == other,
        }
    }

    /// What is asked for.
    pub fn title(&self) -> &'static str {
        match self {
            Self::CouldNot => "Why could it not be measured?",
            Self::Lacking => "Why is there no photo or file?",
            Self::Evidence => "The path of the photo or file to put beside this step:",
            Self::Halt => "Why is the work stopped?",
            Self::Resume => "Why may the work go on?",
            Self::Pause => "Why, or what does the next person have to know?",
            Self::Late => "When was it seen, and why not entered then? `10:05 hands in oil`",
            Self::Deviation(_, true) => "What is done instead, and why?",
            Self::Deviation(_, false) => "Why is it left out?",
            Self::Decision(_) | Self::Concession(..) => "Why is it decided so?",
            Self::Disposition(..) => "What was done, and why? With a lot: `lot L-77: TEXT`",
            Self::Adapter => {
                "Length of the wrench, of the adapter, and the angle: `400 50 90`; or `none`"
            }
            Self::Zero(_) => "With nothing in it, what does the instrument show?",
            Self::Shown => "What does the wrench show?",
            Self::Loosened => "Which fastener, and why? Such as `5 the washer was missing`",
            Self::Recheck => "Fastener, direction, figure: `5 tightening 34`",
            Self::Lot => "Its lot, as it stands on the part or its bag",
            Self::Correction(_) => "Why is the answer corrected?",
        }
    }
}

/// A line about the last move.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Status {
    /// It counted.
    Good(String),
    /// It did not; why.
    Refused(String),
}

/// The hand at the keys, and what it holds.
#[derive(Debug, Clone, Default)]
pub struct Hand {
    /// Columns and rows.
    pub size: (u16, u16),
    /// What the terminal can show.
    pub look: super::theme::Look,
    /// The key that answered last, when it was last down, and for how long it is taken for held.
    pub held: Option<(Press, u64, u64)>,
    /// When any key was last down.
    pub last_at: Option<u64>,
    /// When a bare escape came; what follows at once belongs to it.
    pub escape_at: Option<u64>,
    /// The instrument in hand, by kind.
    pub instruments: BTreeMap<Name, String>,
    /// Why the last move was not saved.
    pub unsaved: Option<String>,
    /// The first row of what lies on top that is shown, once somebody paged through it.
    pub paged: Option<usize>,
}

/// How a step takes its answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Its safety text comes first.
    Safety,
    /// An earlier answer is confirmed.
    Confirm,
    /// Line by line, yes or no.
    Items,
    /// Layer by layer, yes or no.
    Layers,
    /// The wrench is set for a pass.
    Wrench,
    /// One key a fastener.
    Fastener,
    /// All fasteners are tightened; one may be loosened or checked again.
    Tightened,
    /// One key: done.
    Done,
    /// One of a list.
    One,
    /// Some of a list.
    Several,
    /// A figure.
    Figure,
    /// A text.
    Text,
    /// The path of a photo or file.
    File,
    /// Somebody is told first.
    Witness,
    /// A signature by whoever may.
    Hold,
    /// A time passes.
    Wait,
    /// The end of the job.
    Stop,
    /// The work is stopped; no step takes an answer.
    Halted,
}

impl Way {
    /// How `question` takes its answer; in a `correction` neither safety nor confirming comes first.
    pub fn of(question: &Question, correction: bool) -> Self {
        if !correction && !question.safety_read {
            return Self::Safety;
        }
        if !correction && question.witness.is_some() {
            return Self::Witness;
        }
        if !correction && question.parked.is_some() {
            return Self::Confirm;
        }
        match &question.ask {
            Ask::Needs(_) | Ask::Check { .. } => Self::Items,
            Ask::Do(_) | Ask::WorkOut(_) => Self::Done,
            Ask::Look { several: true, .. } => Self::Several,
            Ask::Look { several: false, .. } | Ask::Decide { .. } => Self::One,
            Ask::Measure(_) => Self::Figure,
            Ask::Build { .. } => Self::Layers,
            Ask::Tighten(_) => match question.ring.as_ref().map(|ring| ring.due) {
                Some(Due::Wrench { .. }) if !correction => Self::Wrench,
                Some(Due::Fastener { .. }) if !correction => Self::Fastener,
                _ => Self::Tightened,
            },
            Ask::Enter { kind, .. } => match kind {
                EntryKind::Figure { .. } => Self::Figure,
                EntryKind::FitOut if question.choices.is_empty() => Self::Text,
                EntryKind::Choice(_) | EntryKind::FitOut => Self::One,
                EntryKind::Text | EntryKind::Date | EntryKind::Serial => Self::Text,
            },
            Ask::Attach { .. } => Self::File,
            Ask::Hold(_) => Self::Hold,
            Ask::Wait { .. } => Self::Wait,
            Ask::Stop(_) => Self::Stop,
        }
    }
}

/// The lines of a list that is picked from.
pub fn options(question: &Question) -> Vec<String> {
    match &question.ask {
        Ask::Look { findings, .. } => findings.iter().map(|f| f.see.clone()).collect(),
        Ask::Decide { may, .. } => {
            may.iter().map(|v| crate::shown::decision_words(*v).to_owned()).collect()
        }
        _ => question.choices.iter().map(|(id, text)| format!("{id}  {text}")).collect(),
    }
}

impl Model {
    /// The screen for a job that was just opened.
    pub fn new(shown: Shown, size: (u16, u16)) -> Self {
        let mut model = Self {
            screen: Screen::Who { cursor: 0 },
            overlays: Vec::new(),
            draft: Draft::default(),
            kept: Kept::default(),
            status: None,
            hand: Hand { size, ..Hand::default() },
            shown,
        };
        model.draft.address = model.shown.question().map(|q| q.address.clone());
        if model.shown.released {
            let said = "This job is released. Nothing can be added to it.".to_owned();
            model.screen = Screen::Done(vec![said]);
        } else if model.shown.who.is_some() {
            model.settle_screen();
        }
        model.take_up();
        model
    }

    /// The screen that belongs to the place of the job.
    pub fn settle_screen(&mut self) {
        self.screen = match self.shown.place {
            Place::Asked(_) => Screen::Walk,
            Place::End | Place::Stopped { .. } => {
                Screen::SignOff { lines: self.shown.exceptions.clone(), seen: 0 }
            }
        };
    }

    /// Asks for a line of text; what was typed for it before and left is there again.
    pub fn ask_line(&mut self, what: LineFor) {
        let at = self.answering().map(|(question, ..)| question.address.clone());
        let lines = &mut self.kept.lines;
        let before = lines.iter().position(|(there, of, _)| *there == at && of.asks_same(&what));
        let field = before.map_or_else(Field::default, |n| lines.remove(n).2);
        self.overlays.push(Overlay::Line { what, field });
    }

    /// Opens the note, with what was written and left.
    pub fn ask_note(&mut self) {
        let area = self.kept.note.take().unwrap_or_else(|| {
            let mut area = TextArea::default();
            area.set_cursor_line_style(ratatui::style::Style::new());
            Box::new(area)
        });
        self.overlays.push(Overlay::Note(area));
    }

    /// Takes what lies on top away, and keeps what was typed in it. True where something was.
    pub fn leave_top(&mut self) -> bool {
        let at = self.answering().map(|(question, ..)| question.address.clone());
        match self.overlays.pop() {
            Some(Overlay::Line { what, field }) if !field.is_empty() => {
                self.kept.lines.push((at, what, field));
                true
            }
            Some(Overlay::Note(area)) if area.lines().iter().any(|line| !line.is_empty()) => {
                self.kept.note = Some(area);
                true
            }
            _ => false,
        }
    }

    /// The step that is answered on this screen, its draft, and whether it is a correction.
    pub fn answering(&self) -> Option<(&Question, &Draft, bool)> {
        match &self.screen {
            Screen::Walk => self.shown.question().map(|q| (q, &self.draft, false)),
            Screen::Correct(correcting) => Some((&correcting.question, &correcting.draft, true)),
            _ => None,
        }
    }

    /// The draft of the step that is answered on this screen.
    pub fn draft_mut(&mut self) -> &mut Draft {
        match &mut self.screen {
            Screen::Correct(correcting) => &mut correcting.draft,
            _ => &mut self.draft,
        }
    }

    /// How the step on this screen takes its answer.
    pub fn way(&self) -> Option<Way> {
        if self.shown.halted.is_some() && matches!(self.screen, Screen::Walk) {
            return Some(Way::Halted);
        }
        self.answering().map(|(question, _, correction)| Way::of(question, correction))
    }

    /// The instrument in hand for `question`: the one used last, else the only one.
    pub fn instrument(&self, question: &Question) -> Option<String> {
        let usable = question.usable_instruments();
        let remembered = question.instrument_kind().and_then(|k| self.hand.instruments.get(k));
        if let Some(id) = remembered.filter(|id| usable.iter().any(|i| i.id() == id.as_str())) {
            return Some(id.clone());
        }
        match usable.as_slice() {
            [only] => Some(only.id().to_owned()),
            _ => None,
        }
    }

    /// The people who may do what `role` is asked for.
    pub fn people_for(&self, role: Role) -> Vec<Colleague> {
        self.shown.people_for(role).into_iter().cloned().collect()
    }

    /// Lays the lines of taking up over the screen, where that is due and somebody is at work.
    pub fn take_up(&mut self) {
        let there = self.overlays.iter().any(|o| matches!(o, Overlay::TakeUp { .. }));
        if let Some(lines) = self.shown.take_up.clone()
            && self.shown.who.is_some()
            && !self.shown.released
            && !there
        {
            self.overlays.push(Overlay::TakeUp { lines, scroll: 0 });
        }
    }

    /// True where the page keys lead to what is not seen.
    pub fn pages(&self) -> bool {
        match self.overlays.last() {
            Some(Overlay::Note(_) | Overlay::Photo(_)) => false,
            Some(_) => true,
            None => !matches!(self.screen, Screen::History { .. } | Screen::Who { .. }),
        }
    }

    /// True where letters are text, so that commands need the control key.
    pub fn is_typing(&self) -> bool {
        if self.hand.unsaved.is_some() {
            return false;
        }
        match self.overlays.last() {
            Some(Overlay::Passphrase { .. } | Overlay::Line { .. } | Overlay::Note(_)) => true,
            Some(_) => false,
            None => {
                matches!(self.way(), Some(Way::Figure | Way::Wrench | Way::Text | Way::File))
            }
        }
    }
}
