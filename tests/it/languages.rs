//! Safety messages in the reader's own language, and the registered signs beside them.

use std::path::Path;
use std::process::Command;

use witnessmark::procedure::sign::Sign;
use witnessmark::session::Session;
use witnessmark::walk::event::Event;
use witnessmark::walk::{Refusal, replay};

use crate::plain::typed;
use crate::support::bench::{Bench, Released, pair, person};
use crate::tui::{Hand, at_the_lift_unread};

/// The shop's apprentice reads this language.
fn apprentice(language: &str) -> (String, String) {
    let line = "name: Ines Varga, roles: [apprentice]";
    (line.to_owned(), format!("{line}, language: {language}"))
}

/// The bench with its safety messages in German as well, and an apprentice of one language.
fn bench(language: &str) -> Bench {
    let (line, with_language) = apprentice(language);
    Bench::edited(
        &[],
        &[
            (&line, &with_language),
            (
                "format: \"1.0\"\nprocedure: bench_service",
                "format: \"1.1\"\nprocedure: bench_service",
            ),
            ("signal_words: ansi-z535\nneeds:", "signal_words: ansi-z535\nlanguages: [de]\nneeds:"),
            (
                "          avoid: Stand beside the cover, never in front of it.\n",
                "          avoid: Stand beside the cover, never in front of it.\n          \
                 signs: [W035, M009]\n          in:\n            de:\n              word: WARNUNG\n              \
                 hazard: Eingeschlossener Druck\n              consequence: Der Deckel kann abspringen.\n              \
                 avoid: Neben den Deckel stellen.\n",
            ),
            (
                "          avoid: Leave every keeper screw alone.\n",
                "          avoid: Leave every keeper screw alone.\n          in:\n            de:\n              \
                 word: HINWEIS\n              hazard: Halteschrauben\n              consequence: Die Ölseite geht auf.\n              \
                 avoid: Halteschrauben nicht anfassen.\n",
            ),
        ],
    )
}

/// The apprentice stands before the safety messages of the first hazard.
fn at_the_lift<'a>(session: &'a mut Session, released: &'a mut Released) -> Hand<'a> {
    let hand = at_the_lift_unread(session, released, (80, 24));
    assert_eq!(hand.asked(), "open/lift");
    hand
}

#[test]
fn ac4_each_person_reads_safety_messages_in_their_own_language() {
    let bench = bench("de");
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift(&mut session, &mut released);
    let screen = hand.screen();
    for words in [
        "/!\\ WARNUNG",
        "Eingeschlossener Druck",
        "Neben den Deckel stellen.",
        "W035 falling objects",
        "M009 protective gloves",
        "(i) HINWEIS",
        "Halteschrauben nicht anfassen.",
    ] {
        assert!(screen.contains(words), "{words}:\n{screen}");
    }
    assert!(!screen.contains("Pressure trapped"), "{screen}");
    hand.keys("r");
    assert!(hand.screen().contains("Lift the cover"), "{}", hand.screen());
    assert!(hand.screen().contains("Neben den Deckel stellen."), "{}", hand.screen());
    // Another person has not read it: their words are others.
    session
        .identify(&person("t.reiter"), &witnessmark::demo::HeldKey(pair(&person("t.reiter"))))
        .unwrap();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("r");
    assert!(hand.screen().contains("Pressure trapped between closed valves"), "{}", hand.screen());
    // What was acknowledged is found again from the entries alone.
    let again = replay(&session.files().flow, session.entries()).unwrap();
    assert_eq!(again.acknowledged, session.state().acknowledged);
}

#[test]
fn ac4_nobody_goes_past_a_hazard_on_words_that_they_cannot_read() {
    let bench = bench("fi");
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_lift(&mut session, &mut released);
    let n_entries = hand.entries().len();
    hand.keys("r y enter r");
    assert_eq!(hand.entries().len(), n_entries, "{}", hand.screen());
    let screen = hand.screen();
    assert!(screen.contains("does not stand in `fi`"), "{screen}");
    assert!(!screen.contains("Lift the cover"), "{screen}");

    let mut session = bench.job();
    let lines = ["1", "y", "y", "y", "Rattles", "", "A", "", "2", "", "12", "", "read"];
    let (_, said) = typed(&mut session, &lines);
    assert!(said.contains("does not stand in `fi`, the language of Ines Varga"), "{said}");
    let acknowledged = |event: &Event| matches!(event, Event::SafetyAcknowledged { .. });
    assert!(!session.entries().iter().any(|entry| acknowledged(&entry.event)), "{said}");
}

#[test]
fn ac4_a_sign_is_its_code_and_what_it_means() {
    assert_eq!(Sign::find("M009").unwrap().to_string(), "M009 protective gloves");
    let bench = bench("de");
    let mut session = bench.job();
    let lines = ["1", "y", "y", "y", "Rattles", "", "A", "", "2", "", "12", ""];
    let (_, said) = typed(&mut session, &lines);
    assert!(said.contains("Signs: W035 falling objects, M009 protective gloves"), "{said}");
    assert!(said.contains("WARNUNG: Eingeschlossener Druck"), "{said}");
}

/// What a procedure performs is part of the run, and so are its languages.
#[test]
fn ac4_what_is_performed_stands_in_the_languages_of_whatever_performs_it() {
    let flow = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/flow");
    let read =
        |name: &str| std::fs::read_to_string(flow.join("missing_translation").join(name)).unwrap();
    let (top, low) = (read("good.yaml"), read("good_other.yaml"));
    let dir = tempfile::tempdir().unwrap();
    let told = |low: &str| {
        std::fs::write(dir.path().join("top.yaml"), &top).unwrap();
        std::fs::write(dir.path().join("low.yaml"), low).unwrap();
        let out = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
            .args(["check", "--strict", "--format", "short", "top.yaml", "low.yaml"])
            .arg(flow.join("equipment.yaml"))
            .current_dir(dir.path())
            .output()
            .unwrap();
        String::from_utf8(out.stdout).unwrap()
    };
    assert_eq!(told(&low), "");
    // As its author left it before anybody asked for German.
    let kept =
        low.lines().filter(|line| !line.starts_with("      in: {") && *line != "languages: [de]");
    let english: String = kept.flat_map(|line| [line, "\n"]).collect();
    let said = told(&english);
    assert!(said.contains("WM605") && said.contains("`wash`, which it performs, is not"), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
}

#[test]
fn ac4_a_refusal_says_whose_language_it_is_and_what_to_do() {
    let refusal =
        Refusal::NotInLanguage { name: "Ines Varga".into(), language: "fi".parse().unwrap() };
    let said = refusal.to_string();
    assert!(said.contains("Ines Varga") && said.contains("the author adds it"), "{said}");
}
