//! Whose hands the work is in: pauses, shift change, work that is stopped anywhere, and what does not
//! outlast them.

use witnessmark::record::replay::replay_check;
use witnessmark::walk::event::{Event, Expiry, Meaning};
use witnessmark::walk::exceptions::{blocks, list};
use witnessmark::walk::hands::{NO_SAFE_STATE, lines};
use witnessmark::walk::{Address, Answer, Command, Refusal};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};

const MADE: &str = "\
safe_state: Motor locked and drains open
tokens:
  quiet: {title: Gauge at zero, volatile: true}
  warm: {title: Oil warmed, lasts: 40 min}
loose_parts:
  wedge: {title: Wooden wedge under the crank}
steps:
  - {id: gauge, check: Read the gauge., items: [The gauge reads zero.], not_so: {verdict: refer}, sets: [quiet]}
  - {id: heat, do: Warm the oil., sets: [warm]}
  - id: open
    section: Open the cover
    safe_state: Cover on two studs, drains open
    standing:
      - {id: hot, see: The housing is over 60 °C, then: Stop and leave it to cool.}
    steps:
      - {id: block, do: Set the wedge., sets: [wedge], needs: [quiet]}
      - id: bolts
        check: Take out the bolts.
        items: [Bolt 1 is out., Bolt 2 is out., Bolt 3 is out.]
        not_so: {verdict: refer}
        needs: [quiet, warm]
  - {id: draw, do: Draw the wedge., clears: [wedge]}
  - {id: last, do: Wipe the bench.}
";

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

fn bench_of(text: &str) -> Bench {
    let files = files_of(&[("made", &made(text))], ("marram_3_40", EQUIPMENT), "made");
    Bench::new(files.unwrap_or_else(|e| panic!("{e}")))
}

fn asked(bench: &Bench) -> String {
    bench.asked().map_or_else(|| "nothing".to_owned(), |(_, address)| address.to_string())
}

fn did(bench: &mut Bench, address: &str) -> Result<(), Refusal> {
    let answer = Answer::Done;
    bench.submit(Command::Answer { address: at(address), answer, signed: None })
}

fn tick(bench: &mut Bench, address: &str, item: u32) -> Result<(), Refusal> {
    bench.submit(Command::CheckItem { address: at(address), item, so: true })
}

fn replays(bench: &Bench) {
    let state = replay_check(&bench.files, &bench.entries).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(state, bench.state);
}

fn halt(bench: &mut Bench, standing: Option<&str>) -> Result<(), Refusal> {
    let standing = standing.map(|name| name.parse().unwrap());
    bench.submit(Command::Halt { standing, reason: "oil on the floor".to_owned() })
}

fn resume(bench: &mut Bench, who: &str) -> Result<(), Refusal> {
    let reason = "wiped up".to_owned();
    let signed = bench.signed(who, None, Meaning::Resumed { reason: reason.clone() });
    bench.submit(Command::Resume { reason, signed })
}

/// At the first bolt.
fn at_the_bolts() -> Bench {
    let mut bench = bench_of(MADE);
    tick(&mut bench, "gauge", 0).unwrap();
    did(&mut bench, "heat").unwrap();
    did(&mut bench, "open/block").unwrap();
    bench
}

#[test]
fn o12_pk5_the_next_person_sees_what_is_open_and_each_keeps_their_own() {
    let mut bench = at_the_bolts();
    tick(&mut bench, "open/bolts", 0).unwrap();
    bench.identify("t.reiter");
    // What was not looked at cannot be gone on with, and what was seen must be what is so.
    assert_eq!(tick(&mut bench, "open/bolts", 1), Err(Refusal::TakeUpFirst));
    let stale = Command::TakeUp { shown: vec!["all is well".to_owned()] };
    assert_eq!(bench.submit(stale), Err(Refusal::TakeUpChanged));
    let shown = lines(&bench.files, &bench.state);
    for part in [
        "left: by Ines Varga",
        "(open/bolts), left by Ines Varga ",
        "to do: line 2 of 3: ",
        "to do: line 3 of 3: ",
        "at any moment: The housing is over 60 °C: Stop and leave it to cool.",
        "in the machine: Wooden wedge under the crank",
        "in force: Gauge at zero",
    ] {
        assert!(shown.iter().any(|line| line.contains(part)), "{part}: {shown:#?}");
    }
    assert_eq!(shown.iter().filter(|line| line.starts_with("done: ")).count(), 3);
    bench.take_up_now();
    // The gauge is read again by those who now rely on it; the bolt that is out stays A's.
    assert_eq!(asked(&bench), "gauge");
    tick(&mut bench, "gauge", 0).unwrap();
    assert_eq!(asked(&bench), "open/bolts");
    tick(&mut bench, "open/bolts", 1).unwrap();
    let by: Vec<&str> = bench
        .entries
        .iter()
        .filter(|e| matches!(&e.event, Event::ItemChecked { address, .. } if *address == at("open/bolts")))
        .map(|e| e.by.as_ref().unwrap().as_str())
        .collect();
    assert_eq!(by, ["i.varga", "t.reiter"]);
    replays(&bench);
}

#[test]
fn pk3_after_a_break_what_was_done_last_is_looked_at_and_what_does_not_last_is_verified_again() {
    let mut bench = at_the_bolts();
    bench.n_ticks += 29 * 60;
    tick(&mut bench, "open/bolts", 0).unwrap();
    bench.n_ticks += 31 * 60;
    assert_eq!(tick(&mut bench, "open/bolts", 1), Err(Refusal::TakeUpFirst));
    // The oil has gone cold meanwhile, by the clock alone.
    bench.take_up_now();
    assert_eq!(asked(&bench), "gauge");
    tick(&mut bench, "gauge", 0).unwrap();
    assert_eq!(asked(&bench), "heat");
    did(&mut bench, "heat").unwrap();
    assert_eq!(asked(&bench), "open/bolts");
    let ran_out: Vec<_> =
        bench.state.expired.iter().map(|(_, token, why)| (token.as_str(), *why)).collect();
    assert_eq!(ran_out, [("warm", Expiry::Time), ("quiet", Expiry::Pause)]);
    replays(&bench);
}

#[test]
fn pk3_a_pause_is_kept_with_its_reason_and_shown_to_whoever_goes_on() {
    let mut bench = at_the_bolts();
    bench.submit(Command::Pause { reason: "the crane is needed".to_owned() }).unwrap();
    assert_eq!(tick(&mut bench, "open/bolts", 0), Err(Refusal::TakeUpFirst));
    let shown = lines(&bench.files, &bench.state);
    assert!(shown[0].ends_with(": the crane is needed"), "{shown:?}");
    bench.take_up_now();
    assert_eq!(asked(&bench), "gauge");
    assert_eq!(bench.submit(Command::TakeUp { shown: Vec::new() }), Err(Refusal::NothingToTakeUp));
    replays(&bench);
}

#[test]
fn fb10_at_every_step_the_work_stops_with_the_innermost_safe_state_and_a_mechanic_lets_it_go_on() {
    let moves = ["gauge", "heat", "open/block", "open/bolts", "draw", "last"];
    for n in 0..moves.len() {
        let mut bench = bench_of(MADE);
        let step = |bench: &mut Bench, address: &str| match address {
            "gauge" => tick(bench, "gauge", 0),
            "open/bolts" => (0..3).try_for_each(|n| tick(bench, "open/bolts", n)),
            _ => did(bench, address),
        };
        for address in &moves[..n] {
            step(&mut bench, address).unwrap();
        }
        assert_eq!(asked(&bench), moves[n]);
        halt(&mut bench, None).unwrap();
        let inner = moves[n].starts_with("open/");
        let want =
            if inner { "Cover on two studs, drains open" } else { "Motor locked and drains open" };
        let refused = step(&mut bench, moves[n]).unwrap_err();
        assert!(matches!(&refused, Refusal::Halted { safe_state, .. } if safe_state == want));
        assert!(refused.to_string().contains(want), "{refused}");
        assert!(matches!(halt(&mut bench, None), Err(Refusal::Halted { .. })));
        assert!(matches!(resume(&mut bench, "i.varga"), Err(Refusal::RoleMissing { .. })));
        replays(&bench);
        resume(&mut bench, "t.reiter").unwrap();
        assert_eq!(resume(&mut bench, "t.reiter"), Err(Refusal::NotHalted));
        // What a stop may have undone is verified first, where it is still needed.
        if n > 0 {
            assert_eq!(asked(&bench), "gauge");
            tick(&mut bench, "gauge", 0).unwrap();
        }
        assert_eq!(asked(&bench), moves[n]);
        for address in &moves[n..] {
            step(&mut bench, address).unwrap();
        }
        assert!(bench.state.is_over());
        let shown = list(&bench.files, &bench.state);
        assert!(shown.iter().any(|l| l.contains("oil on the floor") && l.contains("wiped up")));
        replays(&bench);
    }
}

#[test]
fn fb10_stopped_work_that_was_left_is_looked_at_by_the_mechanic_who_lets_it_go_on() {
    let mut bench = at_the_bolts();
    halt(&mut bench, None).unwrap();
    bench.n_ticks += 12 * 3600;
    bench.identify("t.reiter");
    let shown = lines(&bench.files, &bench.state);
    assert!(shown.iter().any(|line| line.contains("oil on the floor")), "{shown:#?}");
    bench.take_up_now();
    resume(&mut bench, "t.reiter").unwrap();
    assert_eq!(asked(&bench), "gauge");
    tick(&mut bench, "gauge", 0).unwrap();
    replays(&bench);
}

#[test]
fn fb10_work_that_is_stopped_can_end_the_job_only_with_what_was_left_behind_said() {
    let text = MADE.replace("safe_state: Motor locked and drains open\n", "");
    let mut bench = bench_of(&text);
    halt(&mut bench, None).unwrap();
    assert_eq!(bench.state.halted().unwrap().safe_state, NO_SAFE_STATE);
    let shown = list(&bench.files, &bench.state);
    assert!(shown.iter().any(|line| line.contains("was not taken up again")), "{shown:#?}");
}

#[test]
fn fb7_what_holds_in_a_section_is_shown_at_its_steps_stops_by_name_and_ends_with_it() {
    let mut bench = bench_of(MADE);
    let hot = |bench: &Bench| {
        let (index, _) = bench.asked().unwrap();
        bench.files.flow.instance(index).standing.iter().any(|note| note.id.as_str() == "hot")
    };
    assert!(!hot(&bench));
    assert!(matches!(halt(&mut bench, Some("hot")), Err(Refusal::NoSuchStanding(_))));
    tick(&mut bench, "gauge", 0).unwrap();
    did(&mut bench, "heat").unwrap();
    assert!(hot(&bench));
    did(&mut bench, "open/block").unwrap();
    assert!(hot(&bench));
    (0..3).for_each(|n| tick(&mut bench, "open/bolts", n).unwrap());
    assert!(!hot(&bench));
    let mut bench = at_the_bolts();
    halt(&mut bench, Some("hot")).unwrap();
    assert_eq!(bench.state.halted().unwrap().standing.as_ref().unwrap().as_str(), "hot");
    replays(&bench);
}

#[test]
fn pc5_what_was_put_in_for_the_work_must_come_out_before_release() {
    let text = MADE.replace("  - {id: draw, do: Draw the wedge., clears: [wedge]}\n", "");
    let mut bench = bench_of(&text);
    tick(&mut bench, "gauge", 0).unwrap();
    did(&mut bench, "heat").unwrap();
    did(&mut bench, "open/block").unwrap();
    (0..3).for_each(|n| tick(&mut bench, "open/bolts", n).unwrap());
    did(&mut bench, "last").unwrap();
    assert!(bench.state.is_over());
    let kept = blocks(&bench.files, &bench.state);
    assert!(kept.iter().any(|line| line.contains("Wooden wedge under the crank")), "{kept:#?}");
    // Drawn again, nothing keeps it back.
    let mut bench = at_the_bolts();
    (0..3).for_each(|n| tick(&mut bench, "open/bolts", n).unwrap());
    did(&mut bench, "draw").unwrap();
    did(&mut bench, "last").unwrap();
    let kept = blocks(&bench.files, &bench.state);
    assert!(!kept.iter().any(|line| line.contains("wedge")), "{kept:#?}");
}

#[test]
fn each_reason_to_stop_has_a_place_of_its_own() {
    let (head, _) = MADE.split_once("steps:").unwrap();
    let head = head.replace("loose_parts:\n  wedge: {title: Wooden wedge under the crank}\n", "");
    let text = format!(
        "{head}steps:\n  - id: gap\n    measure: Measure the gap.\n    with: calliper\n    \
         unit: mm\n    limit: {{at_most: 2.00 mm}}\n    \
         above: {{verdict: stop, say: It gapes., safe_state: Locked}}\n    \
         could_not_measure: {{verdict: stop, say: Nobody can tell., safe_state: Locked}}\n"
    );
    let none = Answer::CouldNotMeasure { reason: "out of reach".to_owned() };
    for (wide, stands, says) in
        [(true, "gap/stop", "It gapes."), (false, "gap/stop_2", "Nobody can tell.")]
    {
        let mut bench = bench_of(&text);
        let answer = if wide { reading(&bench, "2.01") } else { none.clone() };
        bench.submit(Command::Answer { address: at("gap"), answer, signed: None }).unwrap();
        let (index, address) = bench.asked().unwrap();
        assert_eq!(address.to_string(), stands);
        assert!(bench.files.flow.instance(index).ask.text().contains(says));
        let answer = Answer::Stopped;
        bench.submit(Command::Answer { address, answer, signed: None }).unwrap();
        assert!(bench.state.is_over());
        replays(&bench);
    }
}

fn reading(bench: &Bench, text: &str) -> Answer {
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    let unit = witnessmark::units::Unit::Millimetre;
    Answer::Read {
        reading: witnessmark::units::Reading::parse(text, unit).unwrap(),
        instrument: witnessmark::walk::accept::snapshot(listed),
        several: None,
    }
}

const LOCKED: &str = "\
tokens:
  locked: {title: Own lock and tag on the isolator, clear_before_release: true, personal: true}
steps:
  - {id: lock, do: Hang your own lock., sets: [locked], expect: The handle cannot be moved.}
  - {id: work, do: Wipe the bench., needs: [locked]}
  - {id: lock_off, do: Take your own lock off., clears: [locked], expect: The key is in your hand.}
";

/// 29 CFR 1910.147(f)(4): between two people no moment goes by in which nobody's lock hangs.
#[test]
fn st7_nobody_takes_a_lock_over_before_their_own_hangs() {
    let text = made(LOCKED).replacen("1.0", "1.1", 1);
    let files = files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made");
    let mut bench = Bench::new(files.unwrap_or_else(|e| panic!("{e}")));
    did(&mut bench, "lock").unwrap();
    let own = "your own first: Own lock and tag on the isolator: yours hangs before Ines Varga takes \
               theirs off";
    let told = |bench: &Bench| lines(&bench.files, &bench.state).iter().any(|line| line == own);
    // After a pause of one's own it is one's own lock that hangs.
    bench.n_ticks += 31 * 60;
    assert!(!told(&bench));
    bench.take_up_now();
    bench.identify("t.reiter");
    assert_eq!(did(&mut bench, "work"), Err(Refusal::TakeUpFirst));
    let mut shown = lines(&bench.files, &bench.state);
    assert!(told(&bench), "{shown:#?}");
    // Whoever did not see that line has not taken over, and nothing is unlocked meanwhile.
    shown.retain(|line| line != own);
    assert_eq!(bench.submit(Command::TakeUp { shown }), Err(Refusal::TakeUpChanged));
    assert_eq!(did(&mut bench, "lock_off"), Err(Refusal::TakeUpFirst));
    bench.take_up_now();
    did(&mut bench, "work").unwrap();
    // The one who left comes back and wants the lock off: theirs is not the one that counts now.
    bench.identify("i.varga");
    assert_eq!(did(&mut bench, "lock_off"), Err(Refusal::TakeUpFirst));
    let back = lines(&bench.files, &bench.state);
    assert!(back.iter().any(|line| line.contains("yours hangs before Tomas Reiter")), "{back:#?}");
    replays(&bench);
}

const JUDGED: &str = "\
tokens:
  quiet: {title: Gauge at zero, volatile: true}
loose_parts:
  wedge: {title: Wooden wedge under the crank}
steps:
  - {id: gauge, check: Read the gauge., items: [The gauge reads zero.], not_so: {verdict: refer}, sets: [quiet]}
  - {id: block, do: Set the wedge., sets: [wedge], needs: [quiet]}
  - id: seat
    look: Look at the seat.
    needs: [quiet]
    findings:
      fine: {see: Bright all round, verdict: accept}
      torn: {see: A torn edge, verdict: replace, parts: [disc], say: Out it goes.}
  - {id: wipe, do: Wipe the bench., needs: [quiet]}
  - {id: draw, do: Draw the wedge., clears: [wedge]}
";

/// Somebody has set a wedge, found a torn seat and wiped the bench.
fn judged() -> Bench {
    let mut bench = bench_of(JUDGED);
    tick(&mut bench, "gauge", 0).unwrap();
    did(&mut bench, "block").unwrap();
    let answer = Answer::Found(vec!["torn".parse().unwrap()]);
    bench.submit(Command::Answer { address: at("seat"), answer, signed: None }).unwrap();
    did(&mut bench, "wipe").unwrap();
    bench
}

#[test]
fn pk3_what_was_done_stays_done_while_a_state_is_verified_again() {
    let mut bench = judged();
    let before = bench.state.progress();
    let verdicts = bench.state.walk.verdicts.clone();
    bench.n_ticks += 31 * 60;
    bench.take_up_now();
    assert_eq!(asked(&bench), "gauge");
    let now = bench.state.progress();
    assert_eq!((now.done, now.ahead), (before.done - 1, before.ahead + 1), "{now:?}");
    assert_eq!(bench.state.walk.verdicts, verdicts, "what was found is known all the while");
    // Whoever takes over now hears of the last steps done, and of what sits in the machine.
    bench.identify("t.reiter");
    let shown = lines(&bench.files, &bench.state);
    for part in
        ["done: Wipe the bench.", "done: Look at the seat. -> torn", "in the machine: Wooden wedge"]
    {
        assert!(shown.iter().any(|line| line.starts_with(part)), "{part}: {shown:#?}");
    }
    assert!(shown.iter().any(|line| line.starts_with("open: step 1: ")), "{shown:#?}");
    let next = "to do: then step 5: Draw the wedge. (draw)";
    assert!(shown.iter().any(|line| line == next), "{shown:#?}");
    assert!(!shown.iter().any(|line| line.contains("in force: Gauge at zero")), "{shown:#?}");
    bench.take_up_now();
    assert_eq!(
        did(&mut bench, "draw").map_err(|e| e.to_string().contains("`draw` is not open")),
        Err(true)
    );
    tick(&mut bench, "gauge", 0).unwrap();
    assert_eq!(asked(&bench), "draw");
    assert_eq!(bench.state.progress().done, before.done);
    replays(&bench);
}

/// A job that ends where the work was stopped hides nothing of what was found before.
#[test]
fn fb10_a_job_that_ends_at_a_stop_keeps_what_was_found() {
    use witnessmark::walk::exceptions::{list, parts_needed};
    let mut bench = judged();
    let before = parts_needed(&bench.files, &bench.state);
    halt(&mut bench, None).unwrap();
    // The state that did not outlast the stop is entered with the next move.
    assert!(did(&mut bench, "draw").is_err());
    assert_eq!(asked(&bench), "gauge");
    assert_eq!(parts_needed(&bench.files, &bench.state), before);
    let shown = list(&bench.files, &bench.state);
    for part in ["torn", "Wooden wedge under the crank"] {
        assert!(shown.iter().any(|line| line.contains(part)), "{part}: {shown:#?}");
    }
    replays(&bench);
}
