//! A procedure as read from one file: checked in itself, not yet joined with others.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::sign::Sign;
pub use crate::expr::Condition;
use crate::expr::Path;
use crate::ids::{
    EquipmentId, FigureId, Name, PartId, ProcedureId, Revision, Role, StepId, TokenId,
};
pub use crate::language::{RevisionNote, Toward};
use crate::source::{At, Span};
use crate::units::{Criterion, Quantity, Repeats, Unit};

/// The family of signal words that a procedure uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalWords {
    /// ANSI Z535.6: CAUTION is about people, NOTICE about property.
    AnsiZ535,
}

/// A procedure file.
#[derive(Debug, Clone)]
pub struct Procedure {
    /// Its id, which is also the name of its file without the ending.
    pub id: At<ProcedureId>,
    /// One line for people.
    pub title: String,
    /// The equipment file or the family of equipment that it is written for.
    pub equipment: At<EquipmentId>,
    /// Its revision.
    pub revision: Revision,
    /// The day from which the revision holds.
    pub effective: NaiveDate,
    /// The change log, newest first or last as written.
    pub revisions: Vec<RevisionNote>,
    /// Who carries out steps that name nobody else.
    pub performed_by: Role,
    /// Who signs for a job of this procedure.
    pub signed_by: Role,
    /// The family of signal words.
    pub signal_words: SignalWords,
    /// What must be at hand before step 1.
    pub needs: Needs,
    /// The tokens that steps set, clear and need.
    pub tokens: BTreeMap<TokenId, Token>,
    /// The fit-outs that it is written for; empty for all.
    pub fit_outs: Vec<At<String>>,
    /// How the machine is left when the work is stopped.
    pub safe_state: Option<String>,
    /// What may happen at any step, and what is done then.
    pub standing: Vec<Standing>,
    /// Tokens that the caller must have set.
    pub assumes: Vec<At<TokenId>>,
    /// What must hold on every path.
    pub promises: Vec<Promise>,
    /// The languages in which every safety message stands besides English.
    pub languages: Vec<At<Name>>,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

/// What must be at hand before step 1, in the author's words or names.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Needs {
    /// People and their qualifications.
    pub people: Vec<String>,
    /// Tools and instruments by kind.
    pub tools: Vec<At<Name>>,
    /// Supplies.
    pub supplies: Vec<At<Name>>,
    /// Personal protective equipment.
    pub ppe: Vec<At<Name>>,
    /// The state of the machine.
    pub state: Vec<String>,
}

impl Needs {
    /// The lines to confirm, each with its heading, in the order they are shown.
    pub fn lines(&self) -> Vec<String> {
        let named = |heading: &str, names: &[At<Name>]| {
            names.iter().map(|n| format!("{heading}: {}", n.value.spoken())).collect::<Vec<_>>()
        };
        let mut lines: Vec<String> = Vec::new();
        lines.extend(self.people.iter().map(|p| format!("people: {p}")));
        lines.extend(self.state.iter().map(|s| format!("machine: {s}")));
        lines.extend(named("wear", &self.ppe));
        lines.extend(named("tool", &self.tools));
        lines.extend(named("supply", &self.supplies));
        lines
    }
}

/// A declared token.
#[expect(clippy::struct_excessive_bools, reason = "each is a key of its own in the file")]
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// For people: "locked out at the isolator".
    pub title: String,
    /// True when release needs the token cleared again.
    pub clear_before_release: bool,
    /// After how many seconds it must be set again.
    pub lasts_s: Option<u64>,
    /// True when it must be set again after a pause, a change of hands or a stop.
    pub volatile: bool,
    /// True for a lock or tag of one's own, which whoever takes the work over hangs first.
    pub personal: bool,
    /// True for something that is fitted for the work only.
    pub loose: bool,
    /// Where it is declared.
    pub span: Span,
}

impl Token {
    /// True when it may have to be set again although nothing cleared it.
    pub fn may_expire(&self) -> bool {
        self.volatile || self.lasts_s.is_some()
    }
}

/// Something that may happen at any step, and what is done then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Its name.
    pub id: At<Name>,
    /// What is seen.
    pub see: String,
    /// What is done at once.
    pub then: String,
}

/// Something that must hold on every path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Promise {
    /// `never: {reach: STEP, when: CONDITION}`
    NeverReach {
        /// The step, by dotted name.
        step: Path,
        /// The condition under which it must not be reached; always, when absent.
        when: Option<Condition>,
        /// Why.
        because: String,
    },
    /// `always: {first: STEP, before: STEP}`
    FirstBefore {
        /// The step that must be completed and accepted first.
        first: Path,
        /// The step, or `end`: the end of this procedure, each time that it was begun.
        before: Path,
        /// Why.
        because: String,
    },
}

impl Promise {
    /// True where it is about the end of the procedure, and not about a step.
    pub fn is_about_the_end(&self) -> bool {
        matches!(self, Self::FirstBefore { before, .. } if before.to_string() == "end")
    }
}

/// The signal words, from worst to least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SignalWord {
    /// Will kill or maim.
    Danger,
    /// Can kill or maim.
    Warning,
    /// Can hurt.
    Caution,
    /// Can damage property.
    Notice,
}

impl SignalWord {
    /// Every signal word, worst first.
    pub const ALL: [Self; 4] = [Self::Danger, Self::Warning, Self::Caution, Self::Notice];

    /// The word as printed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Danger => "DANGER",
            Self::Warning => "WARNING",
            Self::Caution => "CAUTION",
            Self::Notice => "NOTICE",
        }
    }
}

/// One safety message: shown whole, before the action, acknowledged on its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SafetyText {
    /// How grave.
    pub word: SignalWord,
    /// What can hurt.
    pub hazard: String,
    /// What happens then.
    pub consequence: String,
    /// How to avoid it.
    pub avoid: String,
    /// The signs that go with it.
    pub signs: Vec<Sign>,
    /// The same in other languages.
    pub other: BTreeMap<Name, SafetyWords>,
}

/// A safety message in the words of another language.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SafetyWords {
    /// The signal word.
    pub word: String,
    /// What can hurt.
    pub hazard: String,
    /// What happens then.
    pub consequence: String,
    /// How to avoid it.
    pub avoid: String,
}

/// As found or as left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Phase {
    /// Before anything was changed.
    Found,
    /// As the machine goes back.
    Left,
}

/// A place on the first page of a report, besides what every report has there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Headline {
    /// How the machine came, and what is said of it.
    Found,
    /// What was done for the product, where something may have reached it.
    Product,
    /// Why the machine failed.
    Cause,
    /// What is to be changed, so that it does not fail again.
    Change,
    /// When the next service is due, and what the site watches until then.
    NextService,
}

impl Headline {
    /// Every one, in the order of the page.
    pub const ALL: [Self; 5] =
        [Self::Found, Self::Product, Self::Cause, Self::Change, Self::NextService];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Product => "product",
            Self::Cause => "cause",
            Self::Change => "change",
            Self::NextService => "next_service",
        }
    }

    /// Reads [`Self::word`].
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|headline| headline.word() == word)
    }
}

/// An answer that stands on the first page of the report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeadlineNote {
    /// Where.
    pub under: Headline,
    /// What the answer is called there.
    pub label: String,
}

/// One step.
#[derive(Debug, Clone)]
pub struct Step {
    /// Its name, unique among the names visible where it stands.
    pub id: At<StepId>,
    /// Not applicable where this is false.
    pub when: Option<Condition>,
    /// Shown before the action, worst first.
    pub safety: Vec<SafetyText>,
    /// Tools and supplies used.
    pub uses: Vec<At<Name>>,
    /// Parts that go in with it.
    pub fits: Vec<At<PartId>>,
    /// Tokens set when the step is done.
    pub sets: Vec<At<TokenId>>,
    /// Tokens cleared when the step is done.
    pub clears: Vec<At<TokenId>>,
    /// Tokens without which the step may not be done.
    pub needs: Vec<At<TokenId>>,
    /// Why the step is there.
    pub why: Option<String>,
    /// What good looks like.
    pub expect: Option<String>,
    /// Who does it, where not the procedure's `performed_by`.
    pub by: Option<Role>,
    /// Where its limit comes from.
    pub basis: Option<String>,
    /// As found or as left.
    pub phase: Option<Phase>,
    /// Its answer stands on the first page of the report.
    pub headline: Option<HeadlineNote>,
    /// Who may put another verdict in place of the rules' own, with a signature.
    pub concession: Option<At<Role>>,
    /// A reading as found that cannot be taken again once this step is done.
    pub disturbs: Option<Condition>,
    /// Who is told before the step is done, and may come and watch.
    pub witness: Option<At<Role>>,
    /// What is done.
    pub action: Action,
}

/// A stretch of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DurationRef {
    /// In whole seconds.
    Literal(At<u64>),
    /// A constant of the equipment file.
    Figure(At<FigureId>),
}

/// A step's one action.
#[derive(Debug, Clone)]
#[expect(
    clippy::large_enum_variant,
    reason = "a file has a few hundred steps, read once; boxes would cloud every match"
)]
pub enum Action {
    /// One instruction.
    Do {
        /// The instruction.
        text: String,
    },
    /// A list confirmed item by item.
    Check {
        /// What the list is about.
        text: String,
        /// The items, at least one.
        items: Vec<String>,
        /// Taken when an item is not so; to the mechanic, when absent.
        not_so: Exit,
    },
    /// A part compared with described findings.
    Look {
        /// What to look at.
        text: String,
        /// True when several findings may be picked.
        several: bool,
        /// The findings in file order, at least two.
        findings: Vec<Finding>,
    },
    /// A reading against a limit.
    Measure {
        /// What to measure.
        text: String,
        /// The kind of instrument, as the shop's list names kinds.
        with: At<Name>,
        /// The unit that a bare number means.
        unit: Unit,
        /// The limit.
        limit: LimitRef,
        /// Taken when the reading is below the limit.
        below: Option<Exit>,
        /// Taken when the reading is above the limit.
        above: Option<Exit>,
        /// Taken when the rule of the limit proves neither.
        not_proven: Option<Exit>,
        /// What the limit is a share of.
        relative_to: Option<Condition>,
        /// Where the part's temperature was read.
        temperature: Option<Condition>,
        /// The limit is shown only after the reading is saved.
        blind: bool,
        /// How many readings are taken and which counts, with the points that have names.
        several: Option<(Repeats, Vec<Name>)>,
        /// Taken when no reading could be made.
        could_not_measure: Exit,
        /// Another person measures too, without sight of the first reading; how far the two may
        /// lie apart.
        second: Option<At<Quantity>>,
    },
    /// A figure that the program works out.
    WorkOut(Box<WorkOut>),
    /// A stack laid layer by layer.
    Build {
        /// What is built.
        text: String,
        /// The stack of the equipment file.
        stack: At<Name>,
        /// The order of laying.
        laid: Toward,
        /// Taken when a layer does not lie as it must; to the mechanic, when absent.
        not_so: Exit,
    },
    /// Fasteners tightened in a pattern and passes.
    Tighten {
        /// What is tightened.
        text: String,
        /// The fasteners of the equipment file.
        fasteners: At<Name>,
        /// The torque of the last pass.
        torque: At<FigureId>,
        /// The kind of wrench.
        with: At<Name>,
        /// The share of the torque in each pass, in percent; the last is 100.
        passes: Vec<u32>,
        /// What is tightened again when a fastener was loosened.
        on_redo: OnRedo,
        /// What a re-check is held against, where anything is.
        recheck_limit: Option<At<FigureId>>,
        /// Taken when a fastener is not so; to the mechanic, when absent.
        not_so: Exit,
    },
    /// A fact typed in.
    Enter {
        /// What to enter.
        text: String,
        /// What is accepted.
        kind: EntryKind,
    },
    /// A photo or file as evidence.
    Attach {
        /// What it shows.
        text: String,
        /// True when the job goes on without it, for a reason.
        may_lack: bool,
    },
    /// A signature by a role over everything so far in its section.
    Hold {
        /// What is released.
        text: String,
        /// Who may release it.
        role: Role,
    },
    /// A time that passes.
    Wait {
        /// What happens meanwhile.
        text: String,
        /// How long, in seconds.
        length: DurationRef,
        /// The longest that it may take, in seconds.
        at_most_s: Option<u64>,
        /// Taken when it took longer than that; there where `at_most_s` is.
        too_late: Option<Exit>,
    },
    /// Grouped steps.
    Section {
        /// Its heading.
        title: String,
        /// Repeated per position of this kind.
        each: Option<At<Name>>,
        /// Repeated until a condition holds.
        repeat: Option<Repeat>,
        /// Where it says so: its steps, or with `each` its positions, may be taken in any order.
        any_order: Option<Span>,
        /// Where exactly one of its steps is taken: what is asked to choose it.
        one_of: Option<At<String>>,
        /// How its steps are worked, where it says so.
        mode: Option<Mode>,
        /// How the machine is left when the work is stopped inside.
        safe_state: Option<String>,
        /// What may happen at any step inside, and what is done then.
        standing: Vec<Standing>,
        /// The steps, in order, at least one.
        steps: Vec<Step>,
    },
    /// Another procedure.
    Perform {
        /// The procedure.
        procedure: At<ProcedureId>,
    },
    /// The job ends here.
    Stop(StopText),
}

/// How the steps of a section are worked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mode {
    /// Each step is read, then done.
    #[default]
    ReadDo,
    /// What a list names is done first; then its lines are confirmed.
    DoConfirm,
}

impl Mode {
    /// Both.
    pub const ALL: [Self; 2] = [Self::ReadDo, Self::DoConfirm];

    /// Its word in the language.
    pub fn word(self) -> &'static str {
        match self {
            Self::ReadDo => "read_do",
            Self::DoConfirm => "do_confirm",
        }
    }

    /// The mode of that word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mode| mode.word() == word)
    }
}

impl Action {
    /// The action's word in the language.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Do { .. } => "do",
            Self::Check { .. } => "check",
            Self::Look { .. } => "look",
            Self::Measure { .. } => "measure",
            Self::WorkOut(_) => "work_out",
            Self::Build { .. } => "build",
            Self::Tighten { .. } => "tighten",
            Self::Enter { .. } => "enter",
            Self::Attach { .. } => "attach",
            Self::Hold { .. } => "hold",
            Self::Wait { .. } => "wait",
            Self::Section { .. } => "section",
            Self::Perform { .. } => "perform",
            Self::Stop(_) => "stop",
        }
    }
}

/// A named calculation, with what it is given and what follows from its result.
#[derive(Debug, Clone)]
pub struct WorkOut {
    /// What is worked out.
    pub text: String,
    /// The calculation.
    pub calculation: At<Name>,
    /// The inputs by name; several formulas make a list.
    pub given: Vec<(At<Name>, Vec<Condition>)>,
    /// Which result is kept; the first, when absent.
    pub result: Option<At<Name>>,
    /// The unit of the result.
    pub unit: At<Unit>,
    /// The limit of the result.
    pub limit: Option<LimitRef>,
    /// Taken when the result is below the limit.
    pub below: Option<Exit>,
    /// Taken when the result is above the limit.
    pub above: Option<Exit>,
    /// Taken when the calculation refuses what it is given.
    pub could_not_work_out: Exit,
}

/// What is tightened again when a fastener was loosened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnRedo {
    /// The loosened one, through all passes.
    ThisOne,
    /// Every one, through all passes.
    All,
    /// Every one, from this pass on.
    FromPass(u32),
}

/// How a job ends before its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StopText {
    /// What ends the job and what happens to the machine.
    pub text: String,
    /// The state in which the machine is left.
    pub safe_state: String,
    /// Who is told.
    pub tell: Vec<String>,
}

/// One thing that may be seen.
#[derive(Debug, Clone)]
pub struct Finding {
    /// Its name in conditions.
    pub id: At<Name>,
    /// What it looks like.
    pub see: String,
    /// A likely cause, where there is one.
    pub likely_cause: Option<String>,
    /// What follows.
    pub exit: Exit,
}

/// The finding that excludes all others of its step.
pub const NO_FAULT: &str = "no_fault";

/// A verdict on a part, from best to worst, so that the greatest of several findings wins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Good as it is.
    Accept,
    /// To be worked on, then inspected again.
    Rework,
    /// To be replaced.
    Replace,
    /// A mechanic decides.
    Refer,
    /// The job ends.
    Stop,
}

impl Verdict {
    /// Every verdict, best first.
    pub const ALL: [Self; 5] = [Self::Accept, Self::Rework, Self::Replace, Self::Refer, Self::Stop];

    /// The verdict's word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Accept => "accept",
            Self::Rework => "rework",
            Self::Replace => "replace",
            Self::Refer => "refer",
            Self::Stop => "stop",
        }
    }

    /// Reads a verdict's word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|v| v.word() == word)
    }
}

/// What a mechanic can state of a failed part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Disposition {
    /// Another part is in its place, fitted outside the stacks of the job.
    Replaced,
    /// It is out, tagged and kept from use until somebody decides.
    SetApart,
    /// It is out and made useless.
    Scrapped,
}

impl Disposition {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Replaced, Self::SetApart, Self::Scrapped];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Replaced => "replaced",
            Self::SetApart => "set_apart",
            Self::Scrapped => "scrapped",
        }
    }

    /// Reads the word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|disposition| disposition.word() == word)
    }

    /// For people at the bench.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::Replaced => "replaced: another part is in its place",
            Self::SetApart => "set apart: out, tagged and kept from use",
            Self::Scrapped => "scrapped: out and made useless",
        }
    }
}

/// What follows from an outcome: a verdict and what it brings.
#[derive(Debug, Clone)]
pub struct Exit {
    /// The verdict.
    pub verdict: Verdict,
    /// What the person is told.
    pub say: Option<String>,
    /// Parts that a `replace` adds to the parts list, or that a `refer` may add.
    pub parts: Vec<At<PartId>>,
    /// Who decides a `refer`.
    pub to: Role,
    /// Steps that belong to the outcome; for `rework`, the work before the same inspection again.
    pub steps: Vec<Step>,
    /// For `rework`: how often the work may be done, and what then.
    pub rework: Option<Rework>,
    /// For `stop`: how the job ends.
    pub stop: Option<StopText>,
    /// Where it stands.
    pub span: Span,
}

/// The bound of a rework.
#[derive(Debug, Clone)]
pub struct Rework {
    /// How often the rework may be done.
    pub at_most: CountRef,
    /// Taken when it has been done that often and the inspection still asks for it.
    pub otherwise: Otherwise,
}

/// A section's repetition.
#[derive(Debug, Clone)]
pub struct Repeat {
    /// Ends the repetition, read after each pass.
    pub until: Condition,
    /// The most passes.
    pub at_most: CountRef,
    /// Taken when the last pass still does not meet `until`.
    pub otherwise: Otherwise,
}

/// What follows when a bound is reached.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Otherwise {
    /// The job ends.
    Stop(StopText),
    /// Someone decides: accept and go on, or stop.
    Refer {
        /// Who.
        to: Role,
        /// What they are told.
        say: String,
    },
}

/// A whole number given here or by the equipment file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CountRef {
    /// Given here.
    Literal(At<u32>),
    /// A constant of the equipment file.
    Figure(At<FigureId>),
}

/// A limit given here or by the equipment file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LimitRef {
    /// Given here.
    Here(Box<At<Criterion>>),
    /// A limit of the equipment file.
    Figure(At<FigureId>),
}

impl LimitRef {
    /// Where it stands.
    pub fn span(&self) -> Span {
        match self {
            Self::Here(at) => at.span,
            Self::Figure(at) => at.span,
        }
    }
}

/// What an `enter` step accepts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EntryKind {
    /// Any text of one line.
    Text,
    /// A figure in a unit.
    Figure {
        /// The unit that a bare number means.
        unit: Unit,
        /// The plausible range, where there is one; outside it the entry is refused.
        plausible: Option<(Quantity, Quantity)>,
    },
    /// One of named choices, in file order.
    Choice(Vec<(At<Name>, String)>),
    /// A calendar day, `YYYY-MM-DD`.
    Date,
    /// A serial number, matched character by character with the machine's.
    Serial,
    /// The letter on the name plate; sets the machine's settings.
    FitOut,
}
