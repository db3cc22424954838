//! What was seen before it could be entered: both times stay, and neither can be made up freely.

use witnessmark::ids::Moment;
use witnessmark::record::completion::Record;
use witnessmark::record::verify::verify;
use witnessmark::walk::{Address, Answer, Command, Event, Late, Refusal, exceptions};

use crate::plain::typed;
use crate::support::bench::{Bench as TypingBench, Released};
use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};
use crate::support::small_shop::{
    self, address, answer, forge, person, read, signer, submit, trust,
};
use crate::tui::Hand;

const STEPS: &str = "steps:
- id: lift
  warning: {hazard: A load, consequence: It falls., avoid: Stand clear.}
  do: Lift the head.
- id: seat
  enter: Enter the mark on the seat.
  kind: text
- id: plug
  enter: Enter the mark on the plug.
  kind: text
";

fn bench() -> Bench {
    let text = made(STEPS);
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}\n{text}")))
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

/// The answer to a step, seen at a time of the day of the bench, which begins at 06:00.
fn seen(bench: &mut Bench, step: &str, answer: Answer, time: &str) -> Result<(), Refusal> {
    let observed = moment(&format!("2026-11-25T{time}+01:00"));
    let late = Late { observed, reason: "both hands in oil".to_owned() };
    let command = Box::new(Command::Answer { address: at(step), answer, signed: None });
    bench.submit(Command::Late { late, command })
}

fn text(text: &str) -> Answer {
    Answer::Entered(text.to_owned())
}

#[test]
fn ca3_a_late_entry_carries_both_times_and_is_looked_at_before_the_release() {
    let mut bench = bench();
    bench.n_ticks = 3600;
    bench.submit(Command::AcknowledgeSafety { address: at("lift") }).unwrap();
    bench
        .submit(Command::Answer { address: at("lift"), answer: Answer::Done, signed: None })
        .unwrap();
    bench.n_ticks = 5400;
    bench.take_up();
    seen(&mut bench, "seat", text("S-4"), "07:10:00").unwrap();
    let entry = bench.entries.last().unwrap();
    assert_eq!(entry.at, moment("2026-11-25T07:30:30+01:00"));
    let late = entry.late.as_ref().unwrap();
    assert_eq!(late.observed, moment("2026-11-25T07:10:00+01:00"));
    let lines = exceptions::list(&bench.files, &bench.state);
    let line = lines.iter().find(|line| line.contains("seat")).unwrap();
    assert_eq!(
        line,
        "entry 4 at seat was seen on 25 Nov 2026 07:10 (+01:00) and entered on 25 Nov 2026 07:30 \
         (+01:00), 20 min 30 s later: both hands in oil"
    );
    // What comes next may be late too, and not before it.
    let refused = seen(&mut bench, "plug", text("P"), "07:09:59").unwrap_err().to_string();
    assert!(refused.contains("`seat`, which comes first (25 Nov 2026 07:10"), "{refused}");
    seen(&mut bench, "plug", text("P"), "07:10:00").unwrap();
}

#[test]
fn ca3_a_time_at_which_it_cannot_have_been_seen_is_refused() {
    let mut bench = bench();
    bench.n_ticks = 3600;
    bench.submit(Command::AcknowledgeSafety { address: at("lift") }).unwrap();
    let before = bench.entries.len();
    for (time, why) in [
        ("05:59:59", "before the job was opened"),
        ("07:00:00", "before the safety text of this step was read"),
        ("23:00:00", "is not before now"),
    ] {
        let refused = seen(&mut bench, "lift", Answer::Done, time).unwrap_err().to_string();
        assert!(refused.contains(why), "{time}: {refused}");
    }
    assert_eq!(bench.entries.len(), before);
    bench
        .submit(Command::Answer { address: at("lift"), answer: Answer::Done, signed: None })
        .unwrap();
    bench.n_ticks = 4000;
    let reason = "a leak".to_owned();
    bench.submit(Command::Halt { standing: None, reason }).unwrap();
    bench.n_ticks = 5000;
    let reason = "tightened".to_owned();
    let meaning = witnessmark::walk::event::Meaning::Resumed { reason: reason.clone() };
    let signed = bench.signed("t.reiter", None, meaning);
    bench.submit(Command::Resume { reason, signed }).unwrap();
    bench.take_up();
    let refused = seen(&mut bench, "seat", text("S"), "07:10:00").unwrap_err().to_string();
    assert!(refused.contains("the work was stopped then"), "{refused}");
    let signed = Some(bench.signed(
        "t.reiter",
        Some(at("seat")),
        witnessmark::walk::event::Meaning::Deviated { done: false, reason: "x".to_owned() },
    ));
    let answer = Answer::Deviated { done: false, reason: "x".to_owned() };
    let late = Late { observed: moment("2026-11-25T07:20:00+01:00"), reason: "x".to_owned() };
    let command = Box::new(Command::Answer { address: at("seat"), answer, signed });
    let refused = bench.submit(Command::Late { late, command }).unwrap_err().to_string();
    assert!(refused.contains("without a signature"), "{refused}");
}

/// A released job in which one reading was entered later than it was taken.
fn released_late(bench: &small_shop::Bench) -> witnessmark::record::FolderBytes {
    let procedure = witnessmark::ids::ProcedureId::new("small").unwrap();
    let mut session = bench.shop.new_job(&procedure, "P-1").unwrap();
    session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
    answer(&mut session, "plate", text("A"));
    submit(&mut session, Command::AcknowledgeSafety { address: address("cover") });
    answer(&mut session, "cover", Answer::Done);
    bench.clock.turn(1500);
    let first = address("springs[cylinder=1]/free_length");
    session.seen_earlier(&first, "08:20 no dry hand for the keys").unwrap();
    let reading = read(&session, "43.90", "C-03");
    answer(&mut session, "springs[cylinder=1]/free_length", reading);
    assert!(session.late(&first).is_none(), "it holds for one answer only");
    let reading = read(&session, "45.1", "C-03");
    answer(&mut session, "springs[cylinder=2]/free_length", reading);
    let found = vec![witnessmark::ids::Name::new("no_fault").unwrap()];
    answer(&mut session, "seat", Answer::Found(found));
    for item in [0, 1] {
        submit(&mut session, Command::CheckItem { address: address("closed"), item, so: true });
    }
    session.sign_performed(&person("i.varga"), &signer("i.varga")).unwrap();
    session.release_hold(&address("ready"), &person("t.reiter"), &signer("t.reiter")).unwrap();
    small_shop::dispose(&mut session, "t.reiter");
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    bench.release(&mut session)
}

#[test]
fn ca3_record_report_and_verify_hold_both_times() {
    let folder = released_late(&small_shop::Bench::new());
    let good = verify(&folder, Some(&trust()));
    assert!(good.is_good(), "{}", good.text());
    let record = Record::parse(&folder.files["record.json"]).unwrap();
    let [late] = record.late.as_slice() else { panic!("{:?}", record.late) };
    assert_eq!(late.observed, "2026-03-02T08:20:00.000+01:00");
    assert_eq!(late.reason, "no dry hand for the keys");
    let step = record.steps.iter().find(|step| step.n == late.n).unwrap();
    assert_eq!(step.observed.as_deref(), Some(late.observed.as_str()));
    assert!(step.at > late.observed);
    assert!(
        record.exceptions.shown.iter().any(|line| line.contains("was seen on 2 Mar 2026 08:20"))
    );
    let page = String::from_utf8(folder.files["report.html"].clone()).unwrap();
    assert!(page.contains("Entered later than seen") && page.contains("2 Mar 2026 08:20"));
    // With every key: a time that the rules do not allow is found at its entry.
    let n = usize::try_from(late.n).unwrap();
    let forged = forge(
        &folder,
        |entries| {
            let early = moment("2026-03-02T07:00:00+01:00");
            entries[n].late.as_mut().unwrap().observed = early;
        },
        |record| record,
    );
    let said = verify(&forged, Some(&trust())).text();
    assert!(said.contains(&format!("entry {n} at `springs[cylinder=1]/free_length`")), "{said}");
    assert!(said.contains("before the job was opened"), "{said}");
    // What the program itself enters is never late.
    let forged = forge(
        &folder,
        |entries| {
            let late = entries[n].late.clone();
            let identified = entries.iter_mut().find(|e| matches!(e.event, Event::Identified(_)));
            identified.unwrap().late = late;
        },
        |record| record,
    );
    assert!(!verify(&forged, Some(&trust())).is_good());
}

#[test]
fn ca3_plain_lines_and_keys_enter_the_same_late_entry() {
    let bench = TypingBench::new();
    let mut session = bench.job();
    let start = ["1", "y", "y", "y", "Rattles when warm", ""];
    typed(&mut session, &start);
    let minute = session.now().time().format("%Y-%m-%d %H:%M").to_string();
    bench.clock.pass(chrono::TimeDelta::minutes(10));
    let seen = format!(":seen {minute} the bench was taken");
    let (_, said) = typed(&mut session, &["", ":seen 99:00 x", &seen, "A", ""]);
    assert!(said.contains("Not accepted: the time when it was seen does not fit"), "{said}");
    assert!(said.contains("LATE ENTRY"), "{said}");
    let last = session.entries().last().unwrap().clone();
    assert_eq!(last.late.as_ref().unwrap().reason, "the bench was taken");
    assert!(matches!(last.event, Event::Answered { .. }), "{last:?}");

    let bench = TypingBench::new();
    let mut session = bench.job();
    typed(&mut session, &start);
    bench.clock.pass(chrono::TimeDelta::minutes(10));
    let mut released = Released::default();
    let mut hand = Hand::at(&mut session, &mut released, (80, 24));
    hand.keys("v");
    assert!(hand.screen().contains("When was it seen"), "{}", hand.screen());
    hand.text(&format!("{minute} the bench was taken"));
    hand.keys("enter");
    assert!(hand.screen().contains("LATE:"), "{}", hand.screen());
    hand.keys("1 enter");
    let keyed = hand.entries().iter().find(|entry| entry.late.is_some()).unwrap().clone();
    assert_eq!((keyed.late, keyed.event), (last.late, last.event));
}
