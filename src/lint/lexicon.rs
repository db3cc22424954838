//! The words that the rules of wording know: verbs of the bench, nouns, units, vague words.
//!
//! Lists, not grammar: a word that is in none of them passes.

/// Ends with a point, and the sentence goes on.
pub(super) const ABBREVIATIONS: &[&str] =
    &["e.g", "i.e", "no", "approx", "max", "min", "fig", "cf", "vs", "nos"];

/// Units behind a number, which count as one word with it.
pub(super) const UNITS: &[&str] = &[
    "mm", "cm", "m", "µm", "μm", "km", "in", "ft", "thou", "n·m", "nm", "lbf·ft", "lbf·in", "n", "kn",
    "bar", "mbar", "mpa", "kpa", "pa", "psi", "s", "min", "h", "°c", "°f", "k", "c", "f", "kg", "g",
    "mg", "l", "ml", "rpm", "v", "a", "hz", "kw", "w", "percent", "degrees", "degree", "second",
    "seconds", "minute", "minutes", "hour", "hours", "day", "days", "litre", "litres", "metre",
    "metres", "turn", "turns",
];

/// Verbs of the bench that are nothing else: behind `and`, each is a second instruction.
const VERBS: &[&str] = &[
    "remove", "loosen", "unscrew", "unbolt", "tighten", "retighten", "install", "insert", "attach",
    "detach", "disconnect", "connect", "reconnect", "assemble", "disassemble", "reassemble",
    "dismantle", "replace", "renew", "inspect", "examine", "verify", "confirm", "ensure", "record",
    "enter", "write", "measure", "compare", "adjust", "align", "rotate", "push", "pull", "press",
    "lower", "raise", "carry", "bring", "take", "put", "fill", "refill", "rinse", "wipe", "wash",
    "blow", "apply", "pour", "isolate", "unlock", "depressurise", "depressurize", "bleed", "close",
    "read", "tell", "inform", "notify", "ask", "wait", "keep", "let", "select", "choose", "make",
    "undo", "unplug", "withdraw", "extract", "lubricate", "degrease", "fetch", "hang", "lay", "fit",
    "refit", "draw", "repeat", "continue", "discard", "dispose", "secure", "ease", "open", "clean",
    "dry", "empty", "cut", "set", "shut", "start",
];

/// Verbs that are nouns or adjectives as well: a command only before an article or the like.
const VERBS_OR_NOUNS: &[&str] = &[
    "open", "clean", "dry", "empty", "cut", "set", "shut", "start", "fit", "close", "lower", "bleed",
    "seal", "tag", "lock", "drain", "plug", "mark", "hand", "vent", "turn", "lift", "test", "check",
    "hold", "look", "stop", "cover", "mount", "grease", "oil", "coat", "flush", "torque", "bolt",
    "screw", "clamp", "support", "place", "position", "move", "slide", "tap", "drive", "file", "lap",
    "polish", "sand", "scrape", "brush", "label", "note", "call", "report", "switch", "unload",
    "load", "crank", "stone", "stroke", "press", "draw", "record", "measure", "lead", "leave",
    "watch", "wear", "stand", "say", "confirm", "replace", "hang", "lay", "rinse", "wash", "wipe",
    "fill", "read", "wait", "feel", "listen", "smell", "count", "sling", "plane", "cap", "blank",
];

/// What stands behind a verb that commands, where the word alone does not tell.
const OPENS_AN_OBJECT: &[&str] = &[
    "the", "a", "an", "it", "them", "its", "their", "this", "that", "these", "those", "each", "every",
    "all", "both", "your", "any", "one", "two", "three", "four",
];

/// Words with which no command begins.
const NO_COMMAND: &[&str] = &[
    "the", "a", "an", "this", "these", "those", "it", "you", "there", "every", "each", "all", "both",
    "no", "one", "we", "he", "she", "they", "your", "its", "because", "due", "always",
];

/// Words that open a clause before the command.
pub(super) const LEADS: &[&str] = &[
    "if", "when", "while", "once", "after", "before", "unless", "until", "where", "with", "without",
    "for", "as", "from", "on", "at", "in", "by", "during", "to", "using",
];

/// Leads that are conditions: a comma ends them.
pub(super) const CONDITIONS: &[&str] =
    &["if", "when", "while", "once", "after", "before", "unless", "until"];

/// Words that people use for what they cannot be wrong about, with what to say instead.
pub(super) const VAGUE: &[(&str, &str)] = &[
    ("as required", "say when: a `when` with its condition, or leave it out"),
    ("as necessary", "say when: a `when` with its condition, or leave it out"),
    ("as needed", "say when: a `when` with its condition, or leave it out"),
    ("if necessary", "say when: a `when` with its condition"),
    ("if required", "say when: a `when` with its condition"),
    ("if needed", "say when: a `when` with its condition"),
    ("where applicable", "say where: a `when` with its condition"),
    ("as appropriate", "say which: a choice, or a `when` with its condition"),
    ("as applicable", "say which: a choice, or a `when` with its condition"),
    ("good condition", "say what is seen: no crack, no line across the face"),
    ("and so on", "list the rest, or leave it out"),
    ("etc", "list the rest, or leave it out"),
    ("adequate", "say how much, with a unit: a `measure` with a limit"),
    ("adequately", "say how much, with a unit: a `measure` with a limit"),
    ("sufficient", "say how much, with a unit: a `measure` with a limit"),
    ("sufficiently", "say how much, with a unit: a `measure` with a limit"),
    ("appropriate", "name it"),
    ("appropriately", "say how"),
    ("suitable", "name it"),
    ("proper", "say what it is like"),
    ("properly", "say what is seen when it is right"),
    ("acceptable", "give the limit: a `measure` with a limit, or a `look` with findings"),
    ("satisfactory", "give the limit: a `measure` with a limit, or a `look` with findings"),
    ("excessive", "give the limit: `at_most` with a unit"),
    ("reasonable", "give the limit, with a unit"),
    ("tight", "give the torque, or say what is seen: the nut does not turn by hand"),
    ("tightly", "give the torque, or say what is seen: the nut does not turn by hand"),
    ("hand-tight", "give the torque, or how far past the first resistance"),
    ("firmly", "give the torque, or say what is seen when it sits"),
    ("carefully", "say what to look out for, as a `notice` or in `expect`"),
    ("regularly", "say how often"),
    ("periodically", "say how often"),
];

/// Groups of names for one thing.
pub(super) const SYNONYMS: &[&[&str]] = &[
    &["spanner", "wrench"],
    &["calliper", "caliper", "vernier"],
    &["isolator", "disconnector"],
    &["bucket", "pail"],
    &["feeler gauge", "feeler gage", "thickness gauge"],
    &["straight edge", "straightedge"],
    &["diaphragm", "membrane"],
    &["crankcase", "sump"],
    &["manifold", "header"],
    &["inlet", "suction side"],
    &["outlet", "discharge side", "delivery side"],
    &["cylinder", "piston chamber"],
    &["micrometer", "micrometre screw"],
    &["gasket", "joint sheet"],
    &["circlip", "snap ring", "retaining ring"],
    &["allen key", "hex key"],
];

/// Nouns of the bench, for clusters of them.
const NOUNS: &[&str] = &[
    "valve", "spring", "plate", "seat", "disc", "pump", "cage", "ring", "seal", "manifold", "nut",
    "bolt", "stud", "screw", "flange", "gasket", "shaft", "bearing", "housing", "case", "cover",
    "cylinder", "block", "head", "rod", "piston", "diaphragm", "clamp", "guard", "coupling", "motor",
    "gear", "wheel", "pin", "key", "washer", "plug", "port", "line", "pipe", "hose", "pressure",
    "relief", "safety", "oil", "water", "liquid", "level", "temperature", "side", "face", "surface",
    "edge", "length", "width", "thickness", "diameter", "clearance", "gap", "torque", "gauge",
    "indicator", "lamp", "tray", "tag", "lock", "inlet", "outlet", "suction", "discharge", "filter",
    "strainer", "tank", "control", "switch", "isolator", "cable", "gland", "sleeve", "liner",
    "crosshead", "crankcase", "crank", "stem", "groove", "pocket", "land", "stack", "assembly",
    "surge", "dampener", "retainer", "adjustment", "procedure", "test", "inspection",
];

/// Words of harm to people.
pub(super) const PEOPLE: &[&str] = &[
    "hand", "hands", "finger", "fingers", "skin", "eye", "eyes", "person", "people", "injury",
    "injuries", "injure", "injures", "burn", "burns", "burnt", "cut", "cuts", "crush", "crushed",
    "hurt", "hurts", "body", "foot", "feet", "face", "shock", "slip", "fall", "falls", "pinch",
    "pinched", "irritated", "irritation", "breath", "lung", "lungs", "hearing", "kill", "kills",
    "death", "blind", "arm", "arms", "leg", "legs", "head", "bruise", "bruises", "scald", "scalds",
    "wound", "wounds", "poisoning", "somebody", "anybody", "someone",
];

/// Words of harm to things.
pub(super) const PROPERTY: &[&str] = &[
    "damage", "damaged", "damages", "scratch", "scratched", "scratches", "dent", "dented", "wear",
    "seize", "seized", "seizes", "leak", "leaks", "corrode", "corrosion", "ruin", "ruined", "ruins",
    "distort", "distorted", "spoil", "spoilt", "spoils", "swollen", "swell", "swells", "sludge",
    "broken", "break", "breaks", "cracked", "warped", "contaminated", "loss", "lost",
];

/// Words of danger, which a note must not hide.
pub(super) const HAZARDS: &[&str] = &[
    "danger", "dangerous", "hazard", "hazardous", "injury", "injure", "injured", "injuries", "kill",
    "kills", "death", "fatal", "crush", "crushed", "electrocute", "electrocution", "explosion",
    "explode", "explodes", "poisonous", "toxic", "scald", "scalds", "amputate", "blinded",
];

/// Verbs that handle a part; a `check` only compares.
pub(super) const HANDLING: &[&str] = &[
    "remove", "loosen", "unscrew", "unbolt", "tighten", "install", "insert", "attach", "detach",
    "disconnect", "connect", "assemble", "disassemble", "dismantle", "replace", "adjust", "align",
    "rotate", "turn", "push", "pull", "lift", "lower", "raise", "fill", "drain", "clean", "wipe",
    "flush", "open", "close", "fit", "set", "grease", "lubricate", "move", "press", "torque",
];

/// True for digits with a point, comma or slash.
pub(super) fn is_number(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
        && word.chars().all(|c| c.is_ascii_digit() || ".,/".contains(c))
}

/// True where `word` is a command, `next` being the word behind it.
pub(super) fn commands(word: &str, next: Option<&str>) -> bool {
    let clear = VERBS.contains(&word) && !VERBS_OR_NOUNS.contains(&word);
    let with_object = next.is_some_and(|next| OPENS_AN_OBJECT.contains(&next));
    clear || (with_object && (VERBS.contains(&word) || VERBS_OR_NOUNS.contains(&word)))
}

/// True where nothing that begins with `word` is a command.
pub(super) fn is_no_command(word: &str) -> bool {
    let verb = VERBS.contains(&word) || VERBS_OR_NOUNS.contains(&word);
    let gerund = word.len() > 5 && word.ends_with("ing") && !verb;
    !verb && (NO_COMMAND.contains(&word) || gerund || is_noun(word))
}

/// True for a noun of the bench, or its plural.
pub(super) fn is_noun(word: &str) -> bool {
    NOUNS.contains(&word) || word.strip_suffix('s').is_some_and(|one| NOUNS.contains(&one))
}
