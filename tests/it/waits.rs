//! Waits: a time that must pass, told by clocks that can be set, stop and start anew.

use witnessmark::ids::{BootClock, Sha256};
use witnessmark::procedure::model::Verdict;
use witnessmark::record::replay::replay_check;
use witnessmark::walk::place::Stand;
use witnessmark::walk::{Address, Answer, Command, Event, Refusal, exceptions};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};

const MADE: &str = "\
steps:
  - id: settle
    wait: The oil settles.
    for: 30 min
    at_most: 2 h
    too_late: {verdict: refer, say: Decide whether it is stirred again.}
  - {id: draw, do: Draw a sample.}
";

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

/// A bench whose machine has been on for some time.
fn bench() -> Bench {
    let files = files_of(&[("made", &made(MADE))], ("marram_3_40", EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    bench.boot = Some(BootClock { boot: Sha256::of(b"first"), seconds: 90_000 });
    bench
}

fn begin(bench: &mut Bench) -> Result<(), Refusal> {
    bench.submit(Command::BeginWait { address: at("settle") })
}

/// Ends the wait when so many seconds have passed since the last move.
fn end_after(bench: &mut Bench, seconds: i64) -> Result<(), Refusal> {
    // Each move takes half a minute on this bench.
    bench.n_ticks += seconds - 30;
    let ended = bench.submit(Command::EndWait { address: at("settle") });
    if ended != Err(Refusal::TakeUpFirst) {
        return ended;
    }
    // What was left for long is looked at first, in the same moment.
    bench.n_ticks -= 30;
    bench.take_up_now();
    bench.n_ticks -= 30;
    bench.submit(Command::EndWait { address: at("settle") })
}

fn asked(bench: &Bench) -> String {
    bench.asked().map_or_else(|| "nothing".to_owned(), |(_, address)| address.to_string())
}

fn replays(bench: &Bench) {
    let state = replay_check(&bench.files, &bench.entries).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(state, bench.state);
}

#[test]
fn fb6_half_an_hour_is_refused_a_second_before_it_is_over() {
    let mut bench = bench();
    assert!(matches!(end_after(&mut bench, 60), Err(Refusal::WaitNotBegun)));
    begin(&mut bench).unwrap();
    assert!(matches!(begin(&mut bench), Err(Refusal::WaitRuns(_))));
    let refused = end_after(&mut bench, 1769).unwrap_err();
    assert_eq!(refused.to_string(), "the time has not passed yet: 1 s of 30 min are left");
    bench.n_ticks -= 29;
    bench.submit(Command::EndWait { address: at("settle") }).unwrap();
    assert_eq!(asked(&bench), "draw");
    let Some(Event::Answered { answer: Answer::Waited(waited), judged, .. }) =
        bench.entries.last().map(|e| &e.event)
    else {
        panic!("a wait ends with an answer");
    };
    // Both times are kept.
    assert_eq!((waited.ended.time() - waited.begun.time()).num_seconds(), 1800);
    assert_eq!((waited.elapsed_s, waited.doubtful), (1800, false));
    assert_eq!(judged.verdict, Some(Verdict::Accept));
    assert!(exceptions::list(&bench.files, &bench.state).is_empty());
    replays(&bench);
}

#[test]
fn fb6_a_missed_latest_time_takes_its_exit() {
    let mut bench = bench();
    begin(&mut bench).unwrap();
    end_after(&mut bench, 7201).unwrap();
    assert_eq!(asked(&bench), "settle/decision");
    replays(&bench);
}

#[test]
fn fb6_a_clock_set_ahead_does_not_shorten_a_wait_and_makes_it_late() {
    let mut bench = bench();
    begin(&mut bench).unwrap();
    let boot = bench.boot.unwrap();
    // The wall clock jumps three hours ahead; the machine has run for a minute.
    bench.boot = Some(BootClock { seconds: boot.seconds - 10_800, ..boot });
    assert!(matches!(end_after(&mut bench, 10_860), Err(Refusal::WaitNotOver { .. })));
    end_after(&mut bench, 1800).unwrap();
    assert_eq!(asked(&bench), "settle/decision");
    let shown = exceptions::list(&bench.files, &bench.state);
    assert!(shown.iter().any(|line| line.contains("the clocks disagree")), "{shown:?}");
    replays(&bench);
}

#[test]
fn fb6_after_a_reboot_the_wall_clock_tells_and_is_doubted() {
    let mut bench = bench();
    begin(&mut bench).unwrap();
    bench.boot = Some(BootClock { boot: Sha256::of(b"second"), seconds: 0 });
    end_after(&mut bench, 1800).unwrap();
    assert_eq!(asked(&bench), "draw");
    assert_eq!(exceptions::list(&bench.files, &bench.state).len(), 1);
    replays(&bench);
}

#[test]
fn fb6_o17_a_clock_that_went_back_begins_the_wait_anew() {
    let mut bench = bench();
    begin(&mut bench).unwrap();
    bench.n_ticks += 1500;
    let note = Command::AddNote { address: None, text: "still warm".to_owned() };
    bench.submit(note.clone()).unwrap();
    bench.n_ticks -= 1200;
    bench.submit(note).unwrap();
    let shown = exceptions::list(&bench.files, &bench.state);
    assert!(shown.iter().any(|line| line.ends_with("the wait at settle began anew")), "{shown:?}");
    assert!(matches!(end_after(&mut bench, 1799), Err(Refusal::WaitNotOver { .. })));
    bench.n_ticks -= 29;
    bench.submit(Command::EndWait { address: at("settle") }).unwrap();
    assert_eq!(asked(&bench), "draw");
    replays(&bench);
}

#[test]
fn a_wait_that_has_passed_is_not_corrected() {
    let mut bench = bench();
    begin(&mut bench).unwrap();
    end_after(&mut bench, 1800).unwrap();
    let command = Command::Correct {
        address: at("settle"),
        answer: Answer::Done,
        reason: "slip".to_owned(),
        signed: None,
    };
    assert!(matches!(bench.submit(command), Err(Refusal::WaitNotCorrected)));
    assert!(matches!(bench.state.walk.stand, Stand::Asked(..)));
}

/// A wait that is longer than a break, with a state that does not outlast one.
const COOLS: &str = "\
tokens:
  quiet: {title: Vents seen dry, volatile: true}
steps:
  - {id: vents, check: Look at the vents., items: [Both are dry.], not_so: {verdict: refer}, sets: [quiet]}
  - {id: settle, wait: The pump cools., for: 60 min}
  - {id: draw, do: Draw up the nuts., needs: [quiet]}
";

#[test]
fn pk3_a_wait_goes_on_while_a_state_that_did_not_outlast_it_is_verified_again() {
    let files = files_of(&[("made", &made(COOLS))], ("marram_3_40", EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    let look = Command::CheckItem { address: at("vents"), item: 0, so: true };
    bench.submit(look.clone()).unwrap();
    begin(&mut bench).unwrap();
    let refused = end_after(&mut bench, 3600);
    assert!(matches!(refused, Err(Refusal::StepNotOpen { .. })), "{refused:?}");
    assert_eq!(asked(&bench), "vents");
    bench.submit(look).unwrap();
    // The hour is over. It does not begin anew, or it would never end.
    assert_eq!(asked(&bench), "settle");
    assert!(matches!(begin(&mut bench), Err(Refusal::WaitRuns(_))));
    bench.submit(Command::EndWait { address: at("settle") }).unwrap();
    assert_eq!(asked(&bench), "draw");
    replays(&bench);
}
