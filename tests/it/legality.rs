//! What a person may do: corrections, lapsed signatures, parked answers, roles, instruments.

use witnessmark::ids::Name;
use witnessmark::procedure::model::Verdict;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::event::{Meaning, Next};
use witnessmark::walk::place::Stand;
use witnessmark::walk::{Address, Answer, Command, Event, Refusal, exceptions};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};

const HEAD: &str = "\
tokens:
  locked: {title: The lock at the isolator, clear_before_release: true}
  drained: {title: Drained}
steps:
";

fn bench(steps: &str) -> Bench {
    let text = made(&format!("{HEAD}{steps}"));
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn read(bench: &Bench, text: &str, mark: &str) -> Answer {
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == mark).unwrap();
    Answer::Read {
        reading: Reading::parse(text, Unit::Millimetre).unwrap(),
        instrument: snapshot(listed),
        several: None,
    }
}

fn give(bench: &mut Bench, address: &str, answer: Answer) {
    let index = bench.files.flow.find(&at(address)).unwrap();
    let ask = bench.files.flow.instance(index).ask.clone();
    bench.give(&at(address), &ask, answer);
}

fn answer(address: &str, answer: Answer) -> Command {
    Command::Answer { address: at(address), answer, signed: None }
}

fn correct(address: &str, answer: Answer) -> Command {
    let reason = "the calliper was not at zero".to_owned();
    Command::Correct { address: at(address), answer, reason, signed: None }
}

fn asked(bench: &Bench) -> String {
    bench.asked().map_or_else(|| "nothing".to_owned(), |(_, address)| address.to_string())
}

const SPRING: &str = r"- id: spring
  measure: Measure the free length.
  with: calliper
  unit: mm
  limit: spring.length
  below: {verdict: replace, parts: [spring]}
  could_not_measure: {verdict: refer, parts: [spring]}
- id: tag
  when: spring.verdict == replace
  do: Tag the spring.
- id: wipe
  do: Wipe the seat.
- id: seen
  hold: Confirm the findings.
  by: mechanic
- id: close
  do: Close the cover.
";

#[test]
fn ca4_a_correction_reopens_what_is_missing_and_lapses_the_hold_over_it() {
    let mut bench = bench(SPRING);
    let reading = read(&bench, "38.00", "C-03");
    give(&mut bench, "spring", reading);
    assert_eq!(asked(&bench), "wipe", "38.00 against at least 38.00 mm is accepted");
    give(&mut bench, "wipe", Answer::Done);
    give(&mut bench, "seen", Answer::Released);
    give(&mut bench, "close", Answer::Done);
    assert_eq!(bench.state.walk.stand, Stand::End);

    let short = read(&bench, "37.99", "C-03");
    bench.submit(correct("spring", short)).unwrap();
    // The branch that was skipped is asked; the hold over the old figure has lapsed for good.
    assert_eq!(asked(&bench), "tag");
    assert_eq!(bench.state.lapsed.len(), 1);
    let event = &bench.entries.last().unwrap().event;
    assert!(matches!(event, Event::Corrected { judged, .. }
        if judged.verdict == Some(Verdict::Replace) && judged.next == Next::Ask(at("tag"))));
    give(&mut bench, "tag", Answer::Done);
    // What was done before and is still due waits behind the hold and stands after it.
    assert_eq!(asked(&bench), "seen");
    give(&mut bench, "seen", Answer::Released);
    assert_eq!(bench.state.walk.stand, Stand::End);
    // Both values are there.
    let note = &bench.state.corrections[0];
    assert_eq!((note.supersedes, note.address.to_string()), (2, "spring".to_owned()));
    let lines = exceptions::list(&bench.files, &bench.state).join("\n");
    assert!(lines.contains("was corrected"), "{lines}");
    assert!(lines.contains("lapsed"), "{lines}");
    let parts = exceptions::parts_needed(&bench.files, &bench.state);
    assert_eq!(parts.iter().map(|p| p.part.as_str()).collect::<Vec<_>>(), ["spring"]);
}

#[test]
fn a_parked_answer_is_not_counted_and_needs_one_confirmation_when_it_is_asked_again() {
    let mut bench = bench(SPRING);
    let reading = read(&bench, "37.5", "C-03");
    give(&mut bench, "spring", reading);
    give(&mut bench, "tag", Answer::Done);
    let good = read(&bench, "38.2", "C-03");
    bench.submit(correct("spring", good)).unwrap();
    assert_eq!(asked(&bench), "wipe");
    let parked = bench.state.parked();
    assert_eq!(parked, [bench.files.flow.find(&at("tag")).unwrap()]);
    assert!(exceptions::list(&bench.files, &bench.state).iter().any(|l| l.starts_with("tag:")));
    let short = read(&bench, "37.4", "C-03");
    bench.submit(correct("spring", short)).unwrap();
    assert_eq!(asked(&bench), "tag");
    assert_eq!(bench.submit(answer("tag", Answer::Done)), Err(Refusal::ConfirmFirst));
    bench.submit(Command::Confirm { address: at("tag") }).unwrap();
    assert_eq!(asked(&bench), "wipe");
    assert!(matches!(
        bench.submit(Command::Confirm { address: at("wipe") }),
        Err(Refusal::NothingToConfirm)
    ));
}

#[test]
fn only_the_step_that_is_asked_can_be_answered() {
    let mut bench = bench(SPRING);
    let refusal = bench.submit(answer("wipe", Answer::Done)).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "`wipe` is not open: the step that is asked is `spring`; answer that one first"
    );
    assert!(matches!(bench.submit(answer("elsewhere", Answer::Done)), Err(Refusal::NoSuchStep(_))));
    assert!(matches!(bench.submit(answer("spring", Answer::Done)), Err(Refusal::WrongKind { .. })));
    assert!(matches!(
        bench.submit(correct("wipe", Answer::Done)),
        Err(Refusal::NothingToCorrect(_))
    ));
}

#[test]
fn in1_an_instrument_is_checked_when_it_is_used() {
    let mut bench = bench(SPRING);
    let wrong_kind = read(&bench, "12", "M-02");
    assert!(matches!(
        bench.submit(answer("spring", wrong_kind)),
        Err(Refusal::InstrumentKind { .. })
    ));
    let too_far = read(&bench, "151 mm", "C-03");
    assert!(matches!(bench.submit(answer("spring", too_far)), Err(Refusal::OutOfRange { .. })));
    let Answer::Read { reading, mut instrument, .. } = read(&bench, "38", "C-03") else { panic!() };
    instrument.uncertainty = "0.001 mm".to_owned();
    assert!(matches!(
        bench.submit(answer("spring", Answer::Read { reading, instrument, several: None })),
        Err(Refusal::InstrumentChanged(_))
    ));
    let number = Answer::Read {
        reading: Reading::parse("38", Unit::One).unwrap(),
        instrument: snapshot(&bench.files.shop.instruments[0]),
        several: None,
    };
    assert!(matches!(bench.submit(answer("spring", number)), Err(Refusal::WrongDimension { .. })));
    let overdue = "- {id: gap, measure: Read, with: micrometer, unit: mm, limit: {at_most: 1 mm}, \
        above: {verdict: stop, say: Stop, safe_state: Safe}, \
        could_not_measure: {verdict: stop, say: Stop, safe_state: Safe}}\n";
    let mut bench = self::bench(overdue);
    let reading = read(&bench, "0.5", "M-05");
    let refusal = bench.submit(answer("gap", reading)).unwrap_err().to_string();
    assert_eq!(
        refusal,
        "the calibration of `M-05` was due on 2021-01-01; take another, or have it calibrated"
    );
}

#[test]
fn what_could_not_be_measured_goes_to_the_mechanic_who_signs_the_decision() {
    let mut bench = bench(SPRING);
    let reason = "the spring is in two pieces".to_owned();
    give(&mut bench, "spring", Answer::CouldNotMeasure { reason });
    assert_eq!(asked(&bench), "spring/decision");
    let decided = |verdict| Answer::Decided { verdict, reason: "broken".to_owned() };
    let unsigned = answer("spring/decision", decided(Verdict::Replace));
    assert!(matches!(bench.submit(unsigned), Err(Refusal::Signature(_))));
    let meaning = Meaning::Decided { verdict: Verdict::Replace, reason: "broken".to_owned() };
    let by_apprentice = bench.signed("i.varga", Some(at("spring/decision")), meaning.clone());
    let refused = bench.submit(Command::Answer {
        address: at("spring/decision"),
        answer: decided(Verdict::Replace),
        signed: Some(by_apprentice),
    });
    assert_eq!(
        refused.unwrap_err().to_string(),
        "this is for a mechanic, and Ines Varga is listed as apprentice; call a mechanic"
    );
    let says_other = bench.signed("t.reiter", Some(at("spring/decision")), meaning);
    let refused = bench.submit(Command::Answer {
        address: at("spring/decision"),
        answer: decided(Verdict::Accept),
        signed: Some(says_other),
    });
    assert!(matches!(refused, Err(Refusal::Signature(_))));
    give(&mut bench, "spring/decision", decided(Verdict::Replace));
    // The walk follows the decision: the verdict in force opens the branch.
    assert_eq!(asked(&bench), "tag");
    let parts = exceptions::parts_needed(&bench.files, &bench.state);
    assert_eq!(parts.len(), 1);
}

#[test]
fn a_hold_needs_signed_work_and_another_person() {
    let mut bench = bench(SPRING);
    let reading = read(&bench, "38.2", "C-03");
    give(&mut bench, "spring", reading);
    bench.identify("t.reiter");
    give(&mut bench, "wipe", Answer::Done);
    let release = |bench: &Bench| Command::Answer {
        address: at("seen"),
        answer: Answer::Released,
        signed: Some(bench.signed("t.reiter", Some(at("seen")), Meaning::HoldReleased)),
    };
    let command = release(&bench);
    assert!(matches!(bench.submit(command), Err(Refusal::WorkNotSigned(_))));
    for who in bench.state.unsigned_people() {
        let (from_n, to_n) = bench.state.unsigned_range(&who).unwrap();
        let signed = bench.signed(who.as_str(), None, Meaning::Performed { from_n, to_n });
        bench.submit(Command::SignPerformed(signed)).unwrap();
    }
    let command = release(&bench);
    let refusal = bench.submit(command).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "t.reiter carried out steps that this covers, and cannot also release them; another \
         mechanic signs"
    );
}

#[test]
fn an_apprentice_cannot_release_a_job_and_a_lock_must_come_off_first() {
    let mut bench = bench(
        "- {id: lock, do: Lock the isolator., sets: [locked]}\n\
         - {id: drain, needs: [locked], do: Drain the pump., sets: [drained]}\n",
    );
    give(&mut bench, "lock", Answer::Done);
    give(&mut bench, "drain", Answer::Done);
    assert_eq!(bench.state.walk.stand, Stand::End);
    let command = Command::AcknowledgeExceptions { shown: Vec::new() };
    assert!(matches!(bench.submit(command.clone()), Err(Refusal::RoleMissing { .. })));
    bench.identify("t.reiter");
    let refusal = bench.submit(command).unwrap_err().to_string();
    assert_eq!(
        refusal,
        "not ready to sign: The lock at the isolator is still in force; it must be taken off first"
    );
}

#[test]
fn a_step_whose_token_is_not_in_force_cannot_be_done() {
    let mut bench = bench(
        "- {id: ready, enter: Ready, kind: choice, choices: {yes_it_is: Yes, not_yet: No}}\n\
         - {id: lock, when: ready == yes_it_is, do: Lock the isolator., sets: [locked]}\n\
         - {id: drain, needs: [locked], do: Drain the pump.}\n",
    );
    give(&mut bench, "ready", Answer::Entered("not_yet".to_owned()));
    let refusal = bench.submit(answer("drain", Answer::Done)).unwrap_err();
    assert!(matches!(refusal, Refusal::TokenMissing(_)));
}

#[test]
fn the_worst_of_several_findings_wins_and_no_fault_excludes_the_others() {
    let steps = "- id: disc\n  look: Look at the disc.\n  several: true\n  findings:\n    \
        no_fault: {see: Nothing, verdict: accept}\n    \
        worn: {see: Worn, verdict: replace, parts: [disc]}\n    \
        odd: {see: Odd, verdict: refer, parts: [spring]}\n\
        - {id: wipe, do: Wipe it.}\n";
    let mut bench = bench(steps);
    let found =
        |words: &[&str]| Answer::Found(words.iter().map(|w| Name::new(*w).unwrap()).collect());
    let both = found(&["no_fault", "worn"]);
    assert_eq!(bench.submit(answer("disc", both)), Err(Refusal::NoFaultExcludes));
    assert!(matches!(bench.submit(answer("disc", found(&[]))), Err(Refusal::FindingCount { .. })));
    let unknown = bench.submit(answer("disc", found(&["torn"]))).unwrap_err();
    assert_eq!(
        unknown.to_string(),
        "`torn` is not one of the findings of this step; choose among no_fault, worn, odd"
    );
    bench.submit(answer("disc", found(&["worn", "odd"]))).unwrap();
    assert_eq!(asked(&bench), "disc/decision");
}

#[test]
fn a_repeat_turned_true_earlier_by_a_correction_parks_its_later_passes() {
    let steps = "- id: flush\n  section: Flush\n  repeat:\n    until: sample == clear\n    \
        at_most: flush.at_most\n    otherwise: {stop: Not clear, safe_state: Safe}\n  steps:\n  \
        - {id: sample, enter: Sample, kind: choice, choices: {clear: Clear, milky: Milky}}\n\
        - {id: fill, do: Fill.}\n";
    let mut bench = bench(steps);
    let entered = |text: &str| Answer::Entered(text.to_owned());
    give(&mut bench, "flush/sample", entered("milky"));
    assert_eq!(bench.state.progress().total, 3, "a repeat counts the passes begun");
    give(&mut bench, "flush#2/sample", entered("clear"));
    assert_eq!(asked(&bench), "fill");
    bench.submit(correct("flush/sample", entered("clear"))).unwrap();
    assert_eq!(asked(&bench), "fill");
    assert_eq!(bench.state.parked(), [bench.files.flow.find(&at("flush#2/sample")).unwrap()]);
    // And false again opens the next pass; its parked answer wants one confirmation.
    bench.submit(correct("flush/sample", entered("milky"))).unwrap();
    assert_eq!(asked(&bench), "flush#2/sample");
    assert!(bench.state.asks_to_confirm());
    bench.submit(Command::Confirm { address: at("flush#2/sample") }).unwrap();
    bench.submit(correct("flush#2/sample", entered("milky"))).unwrap();
    give(&mut bench, "flush#3/sample", entered("milky"));
    assert_eq!(asked(&bench), "flush/stop");
    give(&mut bench, "flush/stop", Answer::Stopped);
    assert!(matches!(bench.state.walk.stand, Stand::Stopped(_)));
}

#[test]
fn a_serial_number_is_matched_character_by_character() {
    let mut bench = bench("- {id: serial, enter: Serial number, kind: serial}\n");
    let refusal = bench.submit(answer("serial", Answer::Entered("0340177".to_owned())));
    assert!(matches!(refusal, Err(Refusal::SerialDiffers { at: 6, .. })));
    bench.submit(answer("serial", Answer::Entered("0340117".to_owned()))).unwrap();
}

#[test]
fn st5_safety_text_is_acknowledged_on_its_own_and_before_the_answer() {
    let mut bench = bench(
        "- id: lift\n  warning: {hazard: Weight, consequence: Crushed hand, avoid: Use the sling.}\n  \
         do: Lift the cover.\n",
    );
    assert_eq!(bench.submit(answer("lift", Answer::Done)), Err(Refusal::SafetyNotRead));
    bench.submit(Command::AcknowledgeSafety { address: at("lift") }).unwrap();
    assert_eq!(
        bench.submit(Command::AcknowledgeSafety { address: at("lift") }),
        Err(Refusal::NothingToAcknowledge)
    );
    bench.submit(answer("lift", Answer::Done)).unwrap();
}

#[test]
fn pc2_step_one_stays_shut_until_everything_that_is_needed_is_there() {
    let rest = "needs:\n  tools: [ring_spanner, straight_edge]\n  ppe: [safety_glasses]\nsteps:\n\
        - {id: lift, do: Lift the cover., uses: [ring_spanner, straight_edge]}\n";
    let files = files_of(&[("made", &made(rest))], ("marram_3_40", EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    let (_, needs) = bench.asked().unwrap();
    let flow = std::sync::Arc::clone(&bench.files.flow);
    let n_items = flow.instance(flow.find(&needs).unwrap()).ask.items().unwrap().len();
    assert_eq!(n_items, 3);
    for item in 0..3 {
        let refusal = bench.submit(answer("lift", Answer::Done)).unwrap_err();
        assert!(matches!(refusal, Refusal::StepNotOpen { .. }), "{refusal}");
        // What is not there is fetched; a `no` opens nothing.
        let check = |so| Command::CheckItem { address: needs.clone(), item, so };
        assert!(matches!(bench.submit(check(false)), Err(Refusal::BadText { .. })));
        bench.submit(check(true)).unwrap();
    }
    bench.submit(answer("lift", Answer::Done)).unwrap();
    assert_eq!(bench.state.walk.stand, Stand::End);
}
