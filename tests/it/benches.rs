//! The bench and the history: open jobs of a shop, a new one, and a reading over the jobs of a pump.

use chrono::TimeDelta;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive as _;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use witnessmark::ids::ProcedureId;
use witnessmark::tui::bench::{Bench as Screen, CameBack, Chosen, Page, Said};
use witnessmark::tui::runtime::Turn;
use witnessmark::tui::theme::Look;
use witnessmark::units::trend::Line;

use crate::support::bench::{Bench, Released};
use crate::support::csv;
use crate::tui::{at_the_reading, screen};

fn press(screen: &mut Screen<'_>, keys: &str) -> Turn {
    let mut turn = Turn::Idle;
    for word in keys.split_whitespace() {
        let code = match word {
            "enter" => KeyCode::Enter,
            "esc" => KeyCode::Esc,
            "down" => KeyCode::Down,
            "up" => KeyCode::Up,
            letter => KeyCode::Char(letter.chars().next().unwrap()),
        };
        turn = screen.feed(&Event::Key(KeyEvent::new(code, KeyModifiers::NONE)));
    }
    turn
}

fn drawn(bench: &Screen<'_>, (columns, rows): (u16, u16)) -> String {
    let area = Rect { x: 0, y: 0, width: columns, height: rows };
    let mut buf = Buffer::empty(area);
    let cursor = bench.draw(area, &mut buf);
    if let Some(at) = cursor {
        assert!(at.x < columns && at.y < rows, "{at:?} in {columns}x{rows}");
    }
    let line = |y| {
        let row: String = (0..columns).map(|x| buf[(x, y)].symbol()).collect();
        row.trim_end().to_owned()
    };
    (0..rows).map(line).collect::<Vec<_>>().join("\n")
}

/// Two jobs: one left in the middle of its nuts by Ines, one that nobody has touched.
fn two_jobs() -> Bench {
    let bench = Bench::new();
    let mut session = bench.closing();
    let mut released = Released::default();
    let mut hand = crate::assembly::at_the_nuts_of(&mut session, &mut released);
    hand.keys("y y");
    drop(session);
    bench.clock.pass(TimeDelta::minutes(12));
    drop(bench.job());
    bench
}

#[test]
fn the_bench_says_what_is_open_and_who_left_it_when() {
    let bench = two_jobs();
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    assert!(!drawn(&screen, (80, 24)).contains("fasteners 2, 4"), "nothing is replayed at first");
    press(&mut screen, "down");
    assert!(screen.tick());
    assert!(!screen.tick(), "what was looked at is not looked at again");
    insta::assert_snapshot!("80x24_bench", drawn(&screen, (80, 24)));
    insta::assert_snapshot!("60x16_bench", drawn(&screen, (60, 16)));
    insta::assert_snapshot!("120x40_bench", drawn(&screen, (120, 40)));
    assert_eq!(press(&mut screen, "enter"), Turn::Quit);
    let Some(Chosen::Job(job)) = &screen.chosen else { panic!("{:?}", screen.chosen) };
    assert_eq!(job.to_string(), "2026-0001");
}

#[test]
fn a_new_job_is_begun_from_machine_and_approved_procedure() {
    let bench = two_jobs();
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    press(&mut screen, "n");
    insta::assert_snapshot!("80x24_bench_machines", drawn(&screen, (80, 24)));
    press(&mut screen, "enter");
    insta::assert_snapshot!("80x24_bench_procedures", drawn(&screen, (80, 24)));
    assert_eq!(press(&mut screen, "2 enter"), Turn::Quit);
    let procedure = ProcedureId::new("bench_service").unwrap();
    assert_eq!(screen.chosen, Some(Chosen::New(procedure, "P-7".to_owned())));
}

#[test]
fn the_bench_fits_every_window_and_says_why_it_goes_nowhere() {
    let bench = Bench::new();
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    press(&mut screen, "enter");
    assert!(drawn(&screen, (80, 24)).contains("NOT ACCEPTED: no job is open"));
    let bench = two_jobs();
    for keys in ["", "?", "n", "n enter", "g"] {
        let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
        press(&mut screen, keys);
        screen.tick();
        for columns in 0..=60 {
            for rows in 0..=20 {
                let text = drawn(&screen, (columns, rows));
                if columns >= 22 && rows > 0 && (columns < 40 || rows < 12) {
                    assert!(text.starts_with("needs 40x12"), "{text}");
                }
            }
        }
    }
}

#[test]
fn what_cannot_be_opened_is_said_on_the_bench_with_what_why_and_what_next() {
    let bench = two_jobs();
    let job = witnessmark::ids::JobId::numbered(2026, 1);
    let lines = [
        "refused: job 2026-0001 is worked on by another process: it holds the lock of the folder",
        "  next: leave the walk there first",
    ];
    let said = Said { refused: true, lines: lines.map(str::to_owned).into() };
    let before = CameBack { chosen: Chosen::Job(job), said: Some(said) };
    let mut screen =
        Screen::back(&bench.shop, (80, 24), Look::default(), Some(before.clone())).unwrap();
    insta::assert_snapshot!("80x24_bench_not_opened", drawn(&screen, (80, 24)));
    for columns in 0..=60 {
        for rows in 0..=20 {
            drawn(&screen, (columns, rows));
        }
    }
    // Back on the bench, with the same job picked.
    assert_eq!(press(&mut screen, "esc"), Turn::Draw);
    assert_eq!(screen.page, Page::Jobs { cursor: 1 });
    // A long list of mistakes is read to its end in a small window.
    let mut before = before;
    let said = before.said.as_mut().unwrap();
    said.lines = (1..60).map(|n| format!("line {n}")).collect();
    let mut screen = Screen::back(&bench.shop, (40, 12), Look::default(), Some(before)).unwrap();
    assert!(!drawn(&screen, (40, 12)).contains("line 59"));
    for _ in 0..200 {
        press(&mut screen, "down");
    }
    assert!(drawn(&screen, (40, 12)).contains("line 59"), "{}", drawn(&screen, (40, 12)));
    press(&mut screen, "up");
    assert!(!drawn(&screen, (40, 12)).contains("bench."), "one row back from the end");
    // A new job that could not be opened: the same machine and procedure are picked.
    let procedure = ProcedureId::new("bench_service").unwrap();
    let chosen = Chosen::New(procedure, "P-7".to_owned());
    let before = CameBack { chosen, said: None };
    let screen = Screen::back(&bench.shop, (80, 24), Look::default(), Some(before)).unwrap();
    assert!(matches!(screen.page, Page::Procedures { cursor: 1, .. }), "{:?}", screen.page);
}

#[test]
fn the_jobs_that_wait_for_a_signature_stand_on_a_list_of_their_own() {
    let bench = two_jobs();
    // One job at its hold point, one stopped in mid step, one at its sign-off.
    let mut session = bench.job();
    let lines = crate::plain::WHOLE_JOB;
    let dirt = lines.iter().position(|line| *line == "2 3").unwrap();
    crate::plain::typed(&mut session, &lines[..dirt + 4]);
    drop(session);
    let mut session = bench.closing();
    let mut released = Released::default();
    let mut hand = crate::assembly::at_the_nuts_of(&mut session, &mut released);
    hand.keys("s");
    hand.text("The wrench slips");
    hand.keys("enter");
    drop(session);
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    press(&mut screen, "g");
    assert!(drawn(&screen, (80, 24)).contains("4 to look at"), "{}", drawn(&screen, (80, 24)));
    while screen.tick() {}
    insta::assert_snapshot!("80x24_bench_waiting", drawn(&screen, (80, 24)));
    insta::assert_snapshot!("60x16_bench_waiting", drawn(&screen, (60, 16)));
    assert_eq!(press(&mut screen, "2 enter"), Turn::Quit);
    let Some(Chosen::Job(job)) = &screen.chosen else { panic!("{:?}", screen.chosen) };
    assert_eq!(job.to_string(), "2026-0004");
    // What a job waits for stands on the list of all jobs too, once it was looked at.
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    press(&mut screen, "g");
    while screen.tick() {}
    press(&mut screen, "esc");
    let text = drawn(&screen, (80, 24));
    assert!(text.contains("STOPPED") && text.contains("HOLD"), "{text}");
}

/// The hand at the reading of a fourth job; the spring lost a tenth in each of the three before.
fn after_three_jobs(bench: &Bench) {
    for figure in ["45.2", "45.1", "45.0"] {
        let mut session = bench.job();
        let mut released = Released::default();
        let mut hand = at_the_reading(&mut session, &mut released);
        hand.text(figure);
        hand.keys("enter");
        drop(session);
        bench.clock.pass(TimeDelta::days(20));
    }
}

#[test]
fn the_history_plots_a_reading_over_the_jobs_with_the_day_that_its_trend_reaches_the_limit() {
    let bench = Bench::new();
    after_three_jobs(&bench);
    let mut session = bench.job();
    let mut released = Released::default();
    let mut hand = at_the_reading(&mut session, &mut released);
    hand.text("44.9");
    hand.keys("ctrl-o h");
    assert!(hand.screen().contains("Reading 1 of 1"), "{}", hand.screen());
    insta::assert_snapshot!("80x24_history", hand.screen());
    insta::assert_snapshot!("60x16_history", screen(hand.model(), 60, 16));
    insta::assert_snapshot!("120x40_history", screen(hand.model(), 120, 40));
    // What is typed is kept, and looking at the history entered nothing.
    hand.keys("esc");
    assert_eq!(hand.model().draft.field.text(), "44.9");
    // 45.0 mm on day 40, a tenth in 20 days: 44.6 mm after 80 days more.
    let first = hand.model().shown.now;
    let series = witnessmark::shown::HistoryShown::of(&session).unwrap().series;
    let witnessmark::shown::history::Trend::Reaches(line, at) = series[0].trend() else {
        panic!("{:?}", series[0].trend());
    };
    assert_eq!(line.slope, Ratio::new(BigInt::from(-1), BigInt::from(200)));
    let from_third = at.time().signed_duration_since(first.time() - TimeDelta::days(20));
    assert_eq!(from_third.num_days(), 80);
}

#[test]
fn lines_through_readings_come_out_as_published() {
    let rows = csv::rows(include_str!("../reference/linear_trend.csv"));
    let exact = |text: &str| {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let digits: BigInt = format!("{whole}{part}").parse().unwrap();
        Ratio::new(digits, BigInt::from(10).pow(u32::try_from(part.len()).unwrap()))
    };
    let mut n_rows = 0;
    for row in rows {
        let path =
            format!("{}/tests/reference/{}", env!("CARGO_MANIFEST_DIR"), row.text("dataset"));
        let data = std::fs::read_to_string(path).unwrap();
        let points: Vec<_> = data
            .lines()
            .skip(1)
            .map(|line| line.split_once(',').unwrap())
            .map(|(x, y)| (exact(x.trim()), exact(y.trim())))
            .collect();
        let line = Line::through(&points);
        let near = |found: &Ratio<BigInt>, wanted: f64| {
            let rtol: f64 = row.number("rtol");
            let found = found.to_f64().unwrap();
            assert!((found - wanted).abs() <= rtol * wanted.abs(), "{}: {found}", row.name());
        };
        n_rows += 1;
        let Some(slope) = row.figure("slope") else {
            assert_eq!(line, None, "{}", row.name());
            continue;
        };
        let line = line.unwrap();
        near(&line.slope, slope);
        near(&line.intercept, row.number("intercept"));
        if let (Some(y), Some(x)) = (row.figure("y0"), row.figure("x0")) {
            let reached = line.reaches(&Ratio::from_float(y).unwrap()).unwrap();
            near(&reached, x);
            near(&line.at(&reached), y);
        }
    }
    assert_eq!(n_rows, 9);
}

#[test]
fn every_procedure_that_a_machine_is_offered_can_be_opened_on_it() {
    use witnessmark::session::bench::Shop as _;
    let demo = crate::rehearsals::demo();
    let mut offered = Vec::new();
    for (tag, _) in demo.shop.machines() {
        let equipment = demo.shop.machine(&tag).unwrap().equipment.clone();
        for offer in demo.shop.offers(&tag).unwrap() {
            if let Err(error) = demo.shop.files(&offer.procedure, &equipment) {
                panic!("{tag}: {}: {error}", offer.procedure);
            }
            offered.push(offer.procedure.to_string());
        }
    }
    for wanted in ["overhaul", "make_safe", "fluid_end_service", "reducer_service"] {
        assert!(offered.iter().any(|id| id == wanted), "{wanted}: {offered:?}");
    }
}

#[test]
fn a_long_list_says_how_its_later_rows_are_reached_and_an_empty_one_offers_nothing() {
    let more: Vec<String> = (0..9).map(|n| format!("bench_more_{n}")).collect();
    let steps = "steps:\n  - id: wipe\n    do: Wipe the bench.\n";
    let more: Vec<(&str, &str)> = more.iter().map(|id| (id.as_str(), steps)).collect();
    let bench = Bench::with(&more);
    let mut screen = Screen::new(&bench.shop, (80, 24), Look::default()).unwrap();
    let foot = |screen: &Screen<'_>| drawn(screen, (80, 24)).lines().nth(23).unwrap().to_owned();
    let empty = foot(&screen);
    assert!(!empty.contains("enter") && !empty.contains("pick"), "{empty}");
    assert!(empty.contains("n  new job"), "{empty}");
    let session = bench.closing();
    let (job, machine) = (session.job().to_string(), "P-7");
    drop(session);
    let mut small = Screen::new(&bench.shop, (40, 12), Look::default()).unwrap();
    while small.tick() {}
    let text = drawn(&small, (40, 12));
    let row = text.lines().find(|line| line.contains("(*)")).unwrap();
    assert!(row.contains(&job) && row.contains(machine), "what is picked is seen first: {text}");
    press(&mut screen, "n enter");
    let text = drawn(&screen, (80, 24));
    assert!(text.contains("(bench_more_0)") && text.contains("(bench_more_8)"), "{text}");
    assert!(
        foot(&screen).contains("1-9  pick") && foot(&screen).contains("down  10 and on"),
        "{text}"
    );
    press(&mut screen, "9 down");
    let text = drawn(&screen, (80, 24));
    assert!(text.contains("10 (*)"), "{text}");
}
