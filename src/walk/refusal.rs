//! Why a move is refused, in the person's words with what to do next. Never journalled.

use super::address::Address;
use crate::ids::{Name, PersonId, Role, TokenId};

/// A rule that a move breaks.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// Another step is asked.
    #[error("`{address}` is not open: the step that is asked is {}; answer that one first", asked_text(.asked.as_ref()))]
    StepNotOpen {
        /// The step of the move.
        address: Address,
        /// The step that is asked.
        asked: Option<Address>,
    },
    /// The flow has no such step.
    #[error("there is no step `{0}` in this job; look at the outline for the names of its steps")]
    NoSuchStep(Address),
    /// All steps are answered.
    #[error(
        "all steps of this job are answered; a mistake can still be corrected, or the job released"
    )]
    JobAtEnd,
    /// The job is released.
    #[error("this job is released and closed; open a new job to add to it")]
    JobReleased,
    /// Nobody has identified.
    #[error("nobody has identified on this job; identify first, then answer")]
    NotIdentified,
    /// The person is not in the roster.
    #[error(
        "`{0}` is not on the list of authorised people; ask the shop to add them to `shop.yaml`"
    )]
    UnknownPerson(PersonId),
    /// The person's qualification does not hold today.
    #[error(
        "the qualification of {name} does not hold on {day}; have the list of authorised people renewed"
    )]
    NotQualified {
        /// Their name.
        name: String,
        /// The day.
        day: String,
    },
    /// The step is somebody else's.
    #[error("this is for a {needed}, and {name} is listed as {held}; call a {needed}")]
    RoleMissing {
        /// Their name.
        name: String,
        /// The role that is needed.
        needed: Role,
        /// The roles that they have.
        held: String,
    },
    /// The safety text is not acknowledged.
    #[error("read the safety text of this step to its end and acknowledge it first")]
    SafetyNotRead,
    /// The safety text is not there in the language of the person.
    #[error(
        "the safety text of this step does not stand in `{language}`, the language of {name}; somebody who reads another of its languages takes this step, or the author adds it under `in`"
    )]
    NotInLanguage {
        /// Their name.
        name: String,
        /// Their language.
        language: Name,
    },
    /// There is nothing to acknowledge.
    #[error("this step has no safety text to acknowledge, or it is acknowledged already")]
    NothingToAcknowledge,
    /// The answer is of another kind than the question.
    #[error("this step asks to {asked}; the answer given does not fit it")]
    WrongKind {
        /// The action's word.
        asked: &'static str,
    },
    /// An item that the list does not have, or that is answered already.
    #[error("the list has {n_items} lines; line {} is not open", .item.saturating_add(1))]
    ItemNotOpen {
        /// The item, from 0.
        item: u32,
        /// The number of items.
        n_items: usize,
    },
    /// A layer that is not the next one.
    #[error("the layer `{layer}` is not due now: next comes {next}; lay that one first")]
    LayerNotOpen {
        /// The layer.
        layer: String,
        /// The one that is due.
        next: String,
    },
    /// A fastener that is not the next one.
    #[error("fastener {fastener} is not due now: next comes {next}; tighten that one first")]
    FastenerNotOpen {
        /// The fastener.
        fastener: u32,
        /// The one that is due.
        next: u32,
    },
    /// The wrench is not set for the pass.
    #[error("set the wrench for pass {pass} first, and enter its setting")]
    WrenchNotSet {
        /// The pass.
        pass: u32,
    },
    /// The torque at the fastener is another one than the pass asks for.
    #[error(
        "this setting gives {torque} at the fastener, and pass {pass} needs {wanted}; set the wrench to {set}"
    )]
    WrenchSetting {
        /// The torque at the fastener.
        torque: String,
        /// The pass.
        pass: u32,
        /// What it needs.
        wanted: String,
        /// The setting that gives it.
        set: String,
    },
    /// An adapter without all of its figures.
    #[error(
        "an adapter is on the wrench and {what} is missing; the setting is not judged without it: measure it and enter all three figures"
    )]
    AdapterUnknown {
        /// What is missing.
        what: &'static str,
    },
    /// An adapter that turns nothing.
    #[error("with these figures the adapter turns nothing; look at its lengths and its angle")]
    AdapterUseless,
    /// The instrument was not read with nothing in it today.
    #[error(
        "{id} was not found at zero today; read it with nothing in it first, and it must show zero within {within}"
    )]
    ZeroDue {
        /// The instrument.
        id: String,
        /// How far from zero it may show.
        within: String,
    },
    /// Nobody asks for this check.
    #[error("the list asks for no check of {0} at zero; go on with the reading")]
    NoZeroCheck(String),
    /// A wrench was used as often as it may be between calibrations.
    #[error(
        "{id} has tightened the {at_most} fasteners after which it is calibrated again; set another wrench"
    )]
    LoadsReached {
        /// The wrench.
        id: String,
        /// How many those are.
        at_most: u32,
    },
    /// A fastener that was not tightened, or does not count.
    #[error("fastener {fastener} of `{address}` is not tightened yet; tighten it in its turn")]
    NotTightened {
        /// The fastener.
        fastener: u32,
        /// The step.
        address: Address,
    },
    /// What was tightened is not typed anew.
    #[error(
        "what was tightened is not typed anew; say that the fastener was loosened, and tighten it again"
    )]
    TightenedNotCorrected,
    /// What was worked out is not typed anew.
    #[error("what was worked out is not typed anew; correct the figure that went into it")]
    WorkedOutNotCorrected,
    /// The figure does not follow from what went into it.
    #[error(
        "`{calculation}` comes to something else with these answers; let it be worked out again"
    )]
    WorkedOutOtherwise {
        /// The calculation.
        calculation: &'static str,
    },
    /// The lot of a part is missing.
    #[error("the lot is written down with the {part}; type it as it stands on the part or its bag")]
    LotMissing {
        /// The part.
        part: String,
    },
    /// A lot where none is kept.
    #[error("no lot is kept with the {part} here; leave it out, or write it into a note")]
    LotNotDue {
        /// The part.
        part: String,
    },
    /// A finding that the step does not have.
    #[error("`{found}` is not one of the findings of this step; choose among {known}")]
    UnknownFinding {
        /// The finding.
        found: Name,
        /// Those there are.
        known: String,
    },
    /// No finding, or more than one where one is due.
    #[error("choose {} of the findings", if *several { "one or several" } else { "exactly one" })]
    FindingCount {
        /// True when several are allowed.
        several: bool,
    },
    /// "No fault" together with a fault.
    #[error("`no fault` excludes the other findings; choose either")]
    NoFaultExcludes,
    /// The instrument is not listed.
    #[error("`{0}` is not on the shop's list of instruments; use a listed one")]
    UnknownInstrument(String),
    /// Another number of readings than the step asks for.
    #[error(
        "{asked} readings are asked for, and {taken} are there; type all of them with `;` between"
    )]
    ReadingCount {
        /// How many are asked for.
        asked: usize,
        /// How many there are.
        taken: usize,
    },
    /// A reading beyond those asked for, without a reason.
    #[error(
        "{asked} readings are asked for; one more stays with the others, and needs `because` and a reason behind it"
    )]
    OneReadingTooMany {
        /// How many are asked for.
        asked: usize,
    },
    /// The value that counts is another one.
    #[error("the value is not the {rule} of these readings")]
    SettledOtherwise {
        /// The rule.
        rule: &'static str,
    },
    /// Readings that give no value.
    #[error("{0}")]
    BadReadings(String),
    /// The limit is a share of a figure that cannot be one.
    #[error(
        "the limit is {limit}, and that is not a figure above 0; correct the earlier reading first"
    )]
    NoReference {
        /// The limit, in words.
        limit: String,
    },
    /// The part is too warm or too cold for its limit.
    #[error(
        "the limit holds at {wanted}, and the part was read at {found}; let it come to that temperature and correct the reading of it"
    )]
    OtherTemperature {
        /// What it was read at.
        found: String,
        /// Where the limit holds.
        wanted: String,
    },
    /// The temperature of the part is not known.
    #[error("the limit holds at {wanted}, and the part's temperature was not read; read it first")]
    NoTemperature {
        /// Where the limit holds.
        wanted: String,
    },
    /// The instrument is not good enough for the limit.
    #[error("`{id}` does not suit this limit: {why}")]
    Unsuitable {
        /// The mark.
        id: String,
        /// Why.
        why: String,
    },
    /// The rule of the limit can say nothing of readings by this instrument.
    #[error("`{id}`: {why}")]
    Undecided {
        /// The mark.
        id: String,
        /// Why.
        why: String,
    },
    /// The instrument is of another kind.
    #[error("`{id}` is a {is}; this reading needs a {needed}")]
    InstrumentKind {
        /// The mark.
        id: String,
        /// Its kind.
        is: String,
        /// The kind that is needed.
        needed: String,
    },
    /// The instrument is out of use.
    #[error("`{id}` is out of use: {reason}; take another")]
    InstrumentOutOfUse {
        /// The mark.
        id: String,
        /// Why.
        reason: String,
    },
    /// The instrument's calibration has run out.
    #[error("the calibration of `{id}` was due on {due}; take another, or have it calibrated")]
    CalibrationDue {
        /// The mark.
        id: String,
        /// The day.
        due: String,
    },
    /// The instrument as entered is not the one that is listed.
    #[error("the entry describes `{0}` otherwise than the shop's list; pick the instrument again")]
    InstrumentChanged(String),
    /// The reading lies outside the instrument's range.
    #[error(
        "{reading} lies outside the range of `{id}`, {range}; read it again or take another instrument"
    )]
    OutOfRange {
        /// The reading.
        reading: String,
        /// The mark.
        id: String,
        /// Its range.
        range: String,
    },
    /// The figure is of another dimension.
    #[error("{reading} is not a {needed}; enter it in {unit}")]
    WrongDimension {
        /// The reading.
        reading: String,
        /// What is needed.
        needed: String,
        /// The field's unit.
        unit: String,
    },
    /// The figure lies outside what can be.
    #[error(
        "{reading} cannot be right here: plausible is {range}; look again and enter the whole figure again"
    )]
    Implausible {
        /// The reading.
        reading: String,
        /// The plausible range.
        range: String,
    },
    /// A text is empty, too long or holds control characters.
    #[error("{what} {why}")]
    BadText {
        /// What it is.
        what: &'static str,
        /// What is wrong and what to do.
        why: &'static str,
    },
    /// A choice that the step does not have.
    #[error("`{entered}` is not one of the choices; choose among {known}")]
    UnknownChoice {
        /// What was entered.
        entered: String,
        /// Those there are.
        known: String,
    },
    /// Not a calendar day.
    #[error("`{0}` is not a day; write it as year-month-day, such as 2026-11-25")]
    BadDate(String),
    /// The serial number is another one.
    #[error(
        "the serial number entered differs from `{expected}`, which this job is for, at character {at}; look at the plate again, or close this job and open one for the other machine"
    )]
    SerialDiffers {
        /// The job's serial number.
        expected: String,
        /// The first differing character, from 1.
        at: usize,
    },
    /// The fit-out letter is not in the table.
    #[error("fit-out `{entered}` is not in the table of this equipment; it knows {known}")]
    UnknownFitOut {
        /// What was entered.
        entered: String,
        /// Those there are.
        known: String,
    },
    /// The procedure is for other machines.
    #[error(
        "this procedure is written for fit-out {written_for}, and the plate says {entered}; look at the plate again, or close this job and open one with a procedure for {entered}"
    )]
    OtherFitOut {
        /// What was entered.
        entered: String,
        /// The fit-outs that it is for.
        written_for: String,
    },
    /// The code on the plate has another length.
    #[error(
        "the code has {found} characters, and those of this equipment have {wanted}; type it sign by sign as on the plate"
    )]
    PlateLength {
        /// How many were entered.
        found: usize,
        /// How many it should have.
        wanted: usize,
    },
    /// Some characters of the code stand for nothing.
    #[error(
        "`{found}` at character {at} of the code stands for nothing here; known there is {known}"
    )]
    PlateCharacters {
        /// The first of them, from 1.
        at: u32,
        /// The characters.
        found: String,
        /// Those that stand for something.
        known: String,
    },
    /// The verdict cannot be given here.
    #[error("`{verdict}` cannot be decided here; choose among {may}")]
    VerdictNotOpen {
        /// The verdict.
        verdict: &'static str,
        /// Those there are.
        may: String,
    },
    /// A state that the step needs is not in force.
    #[error(
        "this step needs `{0}`, which is not in force; stop here and tell the mechanic and the author of the procedure"
    )]
    TokenMissing(TokenId),
    /// The work is stopped.
    #[error(
        "the work is stopped: {reason}. {safe_state}. A mechanic lets it go on, or signs the job off"
    )]
    Halted {
        /// Why.
        reason: String,
        /// The state in which the machine is left.
        safe_state: String,
    },
    /// The work is not stopped.
    #[error("the work is not stopped; go on with the step that is asked")]
    NotHalted,
    /// What is open must be looked at first.
    #[error("look at what is open and at what was done last, and take the work up first")]
    TakeUpFirst,
    /// The work is in hand.
    #[error("the work is in your hands already; go on with the step that is asked")]
    NothingToTakeUp,
    /// The list to take up has changed.
    #[error("what is open has changed since it was shown; look at it again")]
    TakeUpChanged,
    /// A state of the machine no longer holds.
    #[error("`{0}` no longer holds and must be verified again first")]
    Expired(TokenId),
    /// The procedure knows no such standing condition here.
    #[error("`{0}` is not among what may happen at this step; give a reason in your own words")]
    NoSuchStanding(Name),
    /// Somebody must be told before.
    #[error("this is a witness point: tell a {0} first, enter whom you told, then go on")]
    WitnessNotTold(Role),
    /// Nobody needs to be told, or somebody was.
    #[error("this step is no witness point, or somebody was told of it already")]
    NothingToWitness,
    /// The step may not be left out or done otherwise.
    #[error("`{address}` cannot be left out or done otherwise: {why}")]
    NoDeviation {
        /// The step.
        address: Address,
        /// Why, with what to do.
        why: &'static str,
    },
    /// The step allows no other verdict than that of the rules.
    #[error(
        "the procedure allows no other decision than its own at `{0}`; add a note, or stop the work"
    )]
    NoConcession(Address),
    /// Nothing failed there, or what was done about it is known.
    #[error(
        "at `{0}` nothing failed that is still open; a part used as it is takes a concession, where \
         the procedure allows one"
    )]
    NothingToDispose(Address),
    /// That verdict cannot stand in the place of the rules' own.
    #[error("here a {verdict} cannot stand in the place of the {rules}; choose among {may}")]
    SubstituteNotOpen {
        /// The verdict that was given.
        verdict: &'static str,
        /// The verdict of the rules.
        rules: &'static str,
        /// Those that may be given.
        may: String,
    },
    /// The same person measured first.
    #[error(
        "{0} took the first reading; the second is taken by another person, who identifies first"
    )]
    SameMeasurer(PersonId),
    /// A file that is not fit to be evidence.
    #[error("`{name}` cannot be attached: {why}")]
    BadEvidence {
        /// Its name.
        name: String,
        /// Why, with what to do.
        why: &'static str,
    },
    /// The signature is missing or is about something else.
    #[error("this needs a signature: {0}")]
    Signature(&'static str),
    /// Work is not signed for yet.
    #[error("the work of {0} is not signed for yet; let them sign for their entries first")]
    WorkNotSigned(PersonId),
    /// The releaser of a hold did the work.
    #[error(
        "{0} carried out steps that this covers, and cannot also release them; another mechanic signs"
    )]
    SamePerson(PersonId),
    /// Nothing to sign for.
    #[error("{0} has no entries to sign for")]
    NothingToSign(PersonId),
    /// A time at which the move cannot have been made.
    #[error("the time when it was seen does not fit: {0}")]
    Late(String),
    /// There is no answer to correct.
    #[error("`{0}` has no answer to correct; go on with the step that is asked")]
    NothingToCorrect(Address),
    /// The correction changes nothing.
    #[error("the correction is the same as the entry; nothing to correct")]
    SameAnswer,
    /// A hold cannot be corrected.
    #[error("a released hold cannot be corrected; correct what it covers, and it lapses")]
    HoldNotCorrected,
    /// The wait runs already.
    #[error("the time of this wait runs already; it began at {0}")]
    WaitRuns(String),
    /// The wait was not begun.
    #[error("the time of this wait does not run yet; begin it first")]
    WaitNotBegun,
    /// The time has not passed.
    #[error("the time has not passed yet: {left} of {whole} are left")]
    WaitNotOver {
        /// What is left.
        left: String,
        /// The whole time.
        whole: String,
    },
    /// A wait cannot be corrected.
    #[error("a wait that has passed cannot be corrected; say in a note what was otherwise")]
    WaitNotCorrected,
    /// There is nothing to confirm.
    #[error("the step that is asked has no parked answer to confirm; answer it")]
    NothingToConfirm,
    /// The parked answer must be confirmed or corrected.
    #[error("this step was answered before and set aside; confirm that answer, or correct it")]
    ConfirmFirst,
    /// The job cannot be released yet.
    #[error("not ready to sign: {0}")]
    NotReady(String),
    /// The exceptions shown are not those of the job as it stands.
    #[error("the list to look at has changed since it was shown; look at it again")]
    ExceptionsChanged,
}

fn asked_text(asked: Option<&Address>) -> String {
    asked.map_or_else(|| "none".to_owned(), |address| format!("`{address}`"))
}
