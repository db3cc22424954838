//! How entries look on a line: one struct for each shape, and nothing but text, truths, small
//! whole numbers and lists in them.
//!
//! The only place where the events of the walk meet JSON. `outward` fills these shapes and cannot
//! fail; `inward` checks every value on the way back.

mod inward;
mod outward;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use inward::ValueFault;

/// What stands in `kind` of every statement.
const STATEMENT_KIND: &str = "statement";

/// A whole line; see the table in the parent module.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Line {
    at: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    format: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    late: Option<LateWire>,
    n: u64,
    prev: String,
    what: What,
}

/// When an entry was really observed, where it was made late.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LateWire {
    observed: String,
    reason: String,
}

/// An event; the key is [`crate::walk::Event::word`].
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum What {
    JobOpened(JobOpenedWire),
    Identified(SignedWire),
    SafetyAcknowledged {
        address: String,
        text: String,
    },
    ItemChecked {
        address: String,
        item: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        judged: Option<JudgedWire>,
        so: bool,
    },
    LayerLaid {
        address: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        judged: Option<JudgedWire>,
        laid: LaidWire,
    },
    WrenchSet {
        address: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        judged: Option<JudgedWire>,
        pass: u32,
        wrench: WrenchWire,
    },
    FastenerTightened {
        address: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        judged: Option<JudgedWire>,
        pass: u32,
        tight: TightWire,
    },
    FastenerRechecked {
        address: String,
        direction: String,
        fastener: u32,
        instrument: InstrumentWire,
        reading: ReadingWire,
    },
    FastenerLoosened {
        address: String,
        fastener: u32,
        judged: JudgedWire,
        reason: String,
    },
    Answered {
        address: String,
        answer: AnswerWire,
        judged: JudgedWire,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        signed: Option<SignedWire>,
    },
    Corrected {
        address: String,
        answer: AnswerWire,
        judged: JudgedWire,
        reason: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        signed: Option<SignedWire>,
        supersedes: u64,
    },
    Confirmed {
        address: String,
        judged: JudgedWire,
    },
    Conceded {
        address: String,
        judged: JudgedWire,
        reason: String,
        signed: SignedWire,
        verdict: String,
    },
    Disposed {
        address: String,
        disposition: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lot: Option<String>,
        reason: String,
        signed: SignedWire,
    },
    TokenExpired {
        address: String,
        because: String,
        token: String,
    },
    WorkHalted {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<String>,
        reason: String,
        safe_state: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        standing: Option<String>,
    },
    WorkResumed {
        reason: String,
        signed: SignedWire,
    },
    Paused {
        reason: String,
    },
    TakenUp {
        shown: Vec<String>,
    },
    WitnessTold {
        address: String,
        who: String,
    },
    EvidenceAdded {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<String>,
        evidence: EvidenceWire,
    },
    WaitBegun {
        address: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        boot: Option<BootClockWire>,
    },
    ZeroChecked {
        instrument: InstrumentWire,
        reading: ReadingWire,
        so: bool,
    },
    NoteAdded {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        address: Option<String>,
        text: String,
    },
    PerformedSigned(SignedWire),
    TornTailSetAside {
        len_bytes: u64,
        sha256: String,
    },
    ClockWentBack {
        from: String,
    },
    ExceptionsAcknowledged {
        shown: Vec<String>,
    },
    Released {
        record: String,
        signature: String,
    },
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct JobOpenedWire {
    equipment: String,
    files: BTreeMap<String, String>,
    job: String,
    kind: String,
    machine: String,
    previous_release: String,
    procedure: String,
    revision: u32,
    semantics: u32,
    serial: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum AnswerWire {
    Done,
    Items(Vec<bool>),
    Found(Vec<String>),
    Read {
        instrument: InstrumentWire,
        reading: ReadingWire,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        several: Option<SeveralWire>,
    },
    WorkedOut(WorkedOutWire),
    CouldNotMeasure {
        reason: String,
    },
    Built(Vec<LaidWire>),
    Tightened(Vec<RoundWire>),
    Entered(String),
    EnteredFigure(ReadingWire),
    Attached(EvidenceWire),
    NotAttached {
        reason: String,
    },
    Deviated {
        done: bool,
        reason: String,
    },
    Decided {
        reason: String,
        verdict: String,
    },
    Released,
    Waited(WaitedWire),
    Stopped,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SeveralWire {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    taken: Vec<ReadingWire>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WorkedOutWire {
    calculation: String,
    given: BTreeMap<String, String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    refused: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    result: Option<ReadingWire>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LaidWire {
    layer: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    lot: Option<String>,
    so: bool,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RoundWire {
    fasteners: Vec<TightWire>,
    pass: u32,
    wrench: WrenchWire,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TightWire {
    fastener: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    reading: Option<ReadingWire>,
    so: bool,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WrenchWire {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    adapter: Option<AdapterWire>,
    instrument: InstrumentWire,
    setting: ReadingWire,
    thread: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct AdapterWire {
    angle: ReadingWire,
    extension: ReadingWire,
    length: ReadingWire,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct BootClockWire {
    boot: String,
    seconds: u64,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WaitedWire {
    at_longest_s: u64,
    begun: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    boot: Option<BootClockWire>,
    doubtful: bool,
    elapsed_s: u64,
    ended: String,
}

/// A figure: the text as typed, the unit's word, and the exact value in that unit.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ReadingWire {
    text: String,
    unit: String,
    value: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct EvidenceWire {
    len_bytes: u64,
    name: String,
    sha256: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct InstrumentWire {
    calibration_due: String,
    certificate: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    certificate_sha256: Option<String>,
    id: String,
    k: String,
    kind: String,
    resolution: String,
    uncertainty: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct JudgedWire {
    next: NextWire,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    verdict: Option<String>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
enum NextWire {
    Ask(String),
    End,
    Stopped,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SignedWire {
    signature: String,
    statement: StatementWire,
}

/// A statement. Its canonical form is what is signed, so a field added here is a new namespace.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StatementWire {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    address: Option<String>,
    at: String,
    head: String,
    head_n: u64,
    job: String,
    kind: String,
    meaning: MeaningWire,
    role: String,
    signer: String,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum MeaningWire {
    Identified,
    Performed {
        from_n: u64,
        to_n: u64,
    },
    Decided {
        reason: String,
        verdict: String,
    },
    HoldReleased,
    Deviated {
        done: bool,
        reason: String,
    },
    Conceded {
        reason: String,
        verdict: String,
    },
    Disposed {
        disposition: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lot: Option<String>,
        reason: String,
    },
    Resumed {
        reason: String,
    },
}
