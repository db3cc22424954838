//! The fixed words that may stand under some keys.

/// What a mechanic can state was done about a failed result.
pub static DISPOSITIONS: [&str; 3] = ["replaced", "set_apart", "scrapped"];

/// Verdicts, best first.
pub static VERDICTS: [&str; 5] = ["accept", "rework", "replace", "refer", "stop"];

/// Verdicts that a person can decide on.
pub static DECISIONS: [&str; 3] = ["accept", "replace", "stop"];

/// Who may carry out steps.
pub static PERFORMS: [&str; 2] = ["apprentice", "mechanic"];

/// Who may decide, release and sign for a job.
pub static DECIDES: [&str; 1] = ["mechanic"];

/// Every role of the roster.
pub static ROLES: [&str; 3] = ["apprentice", "mechanic", "author"];

/// Families of signal words.
pub static SIGNAL_WORDS: [&str; 1] = ["ansi-z535"];

/// Safety signs of ISO 7010, by code.
pub static SIGNS: [&str; 44] = [
    "W001", "W002", "W010", "W011", "W012", "W015", "W016", "W017", "W018", "W019", "W021", "W022",
    "W023", "W024", "W025", "W029", "W035", "M001", "M002", "M003", "M004", "M008", "M009", "M010",
    "M011", "M013", "M014", "M015", "M016", "M017", "M018", "M021", "M026", "M027", "M028", "P001",
    "P002", "P003", "P004", "P010", "P011", "P015", "P022", "P031",
];

/// What may stand in the place of the verdict of the rules.
pub static SUBSTITUTES: [&str; 2] = ["accept", "replace"];

/// How the steps of a section are worked.
pub static MODES: [&str; 2] = ["read_do", "do_confirm"];

/// As found or as left.
pub static PHASES: [&str; 2] = ["found", "left"];

/// What the first page of a report tells, besides what every report tells.
pub static HEADLINES: [&str; 5] = ["found", "product", "cause", "change", "next_service"];

/// What an `enter` step accepts.
pub static ENTRY_KINDS: [&str; 6] = ["text", "figure", "choice", "date", "serial", "fit_out"];

/// Which way along the flow: the order of laying, and where a marked face points.
pub static TOWARDS: [&str; 2] = ["with_flow", "against_flow"];

/// How a part looks from the side.
pub static PROFILES: [&str; 8] =
    ["ring", "seat", "disc", "spring", "cage", "plate", "screw", "block"];

/// Threads as they are put together.
pub static THREADS: [&str; 2] = ["dry", "oiled"];

/// Orders of tightening that are worked out.
pub static ORDERS: [&str; 1] = ["star"];

/// What is tightened again when a fastener was loosened.
pub static REDO: [&str; 2] = ["this_one", "all"];

/// Whether a shop's jobs count.
pub static SHOP_KINDS: [&str; 2] = ["record", "demo"];

/// How a rehearsed job ends.
pub static OUTCOMES: [&str; 2] = ["released", "stopped"];

/// How readings are held against a limit.
pub static COMPARES: [&str; 3] = ["absolute", "rounded_half_even", "rounded_half_up"];

/// What it takes to accept a reading.
pub static RULES: [&str; 4] = ["simple", "guarded", "proven", "probability"];

/// Which of several readings counts.
pub static COUNTS: [&str; 4] = ["first", "mean", "median", "worst"];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::Role;
    use crate::language::{Profile, Thread, Toward};
    use crate::procedure::model::{Headline, Mode, Verdict};
    use crate::shop::model::ShopKind;

    #[test]
    fn the_words_are_those_of_the_models() {
        assert_eq!(VERDICTS, Verdict::ALL.map(Verdict::word));
        assert_eq!(ROLES, Role::ALL.map(|(_, word)| word));
        assert!(PERFORMS.iter().chain(&DECIDES).all(|word| Role::parse(word).is_some()));
        assert!(DECISIONS.iter().chain(&SUBSTITUTES).all(|word| Verdict::parse(word).is_some()));
        assert_eq!(MODES, Mode::ALL.map(Mode::word));
        assert_eq!(HEADLINES, Headline::ALL.map(Headline::word));
        assert_eq!(PROFILES, Profile::ALL.map(Profile::word));
        assert_eq!(TOWARDS, Toward::ALL.map(Toward::word));
        assert_eq!(THREADS, Thread::ALL.map(Thread::word));
        assert_eq!(SHOP_KINDS, [ShopKind::Record.word(), ShopKind::Demo.word()]);
    }
}
