//! How long a key takes to its finished frame, what it sends, and how long the bench takes to its
//! first frame. `cargo bench --bench screen`
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at the clock and lays out files")]
#![expect(clippy::print_stdout, clippy::panic, reason = "a benchmark prints its figures or ends")]
#![expect(clippy::unwrap_used, reason = "a benchmark ends where something is not so")]
#![expect(clippy::indexing_slicing, reason = "places in sorted figures")]

#[expect(dead_code, reason = "the shop is that of the tests, and not all of it is needed here")]
#[path = "../it/support/bench.rs"]
mod bench;
#[expect(dead_code, reason = "the disk is that of the tests, and not all of it is needed here")]
#[path = "../it/support/disk.rs"]
mod disk;

use std::cell::Cell;
use std::fmt::Write as _;
use std::io::{Read as _, Write};
use std::path::Path;
use std::rc::Rc;
use std::time::{Duration, Instant};

use crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use portable_pty::{CommandBuilder, PtySize, native_pty_system};
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{Terminal, TerminalOptions, Viewport};
use witnessmark::ids::Sha256;
use witnessmark::session::Session;
use witnessmark::session::keys::Keys as _;
use witnessmark::tui::runtime::{Runtime, Turn};
use witnessmark::tui::view::view;
use witnessmark::walk::flow::Ask;
use witnessmark::walk::{Address, Answer, Command};

use bench::{Bench, BenchKeys, PASSPHRASE, Released, person};

/// Entries before the keys that are measured.
const N_ENTRIES: u64 = 10_000;
/// Sections of ten steps.
const N_SECTIONS: usize = 50;
/// Lines of a list.
const N_ITEMS: usize = 25;
const N_JOBS: usize = 1_000;

fn main() {
    let shop = Bench::with(&[("long", &procedure())]);
    let mut session = shop.job_of("long");
    walk_far(&mut session);
    let flow = &session.files().flow;
    println!("{} steps, {} entries", flow.instances.len(), session.entries().len());
    println!("what was pressed                 window   median ms   p99 ms   most ms   bytes  p99");
    for size in [(200, 60), (80, 24)] {
        keys(&mut session, size);
    }
    first_frame();
}

/// 500 steps: lists, looks, readings, things to do.
fn procedure() -> String {
    let mut text = String::from("steps:\n");
    for n in 0..N_SECTIONS {
        let mut out = |line: String| writeln!(text, "{line}").unwrap();
        out(format!("  - id: part_{n}"));
        out(format!("    section: Part {n} of the machine"));
        out("    steps:".to_owned());
        for list in 0..6 {
            out(format!("      - id: list_{list}"));
            out(format!("        check: Confirm every line of list {list} of part {n}."));
            let items: Vec<String> = (1..=N_ITEMS).map(|i| format!("Line {i} is so.")).collect();
            out(format!("        items: [{}]", items.join(", ")));
            out("        not_so: {verdict: accept}".to_owned());
        }
        for look in 0..2 {
            out(format!("      - id: look_{look}"));
            out(format!("        look: Look at side {look} of part {n}."));
            out("        findings: {no_fault: {see: Clean, verdict: accept}, \
                 dirty: {see: Dirty, verdict: accept}}"
                .to_owned());
        }
        out("      - id: length".to_owned());
        out(format!("        measure: Measure the length of part {n}."));
        for line in [
            "with: calliper",
            "unit: mm",
            "limit: spring.free_length",
            "below: {verdict: accept}",
            "above: {verdict: accept}",
            "could_not_measure: {verdict: accept}",
        ] {
            out(format!("        {line}"));
        }
        out("      - id: clean".to_owned());
        out(format!("        do: Wipe part {n} clean."));
    }
    text
}

/// Answers up to the lists of the last sections, with notes in between, to so many entries.
fn walk_far(session: &mut Session) {
    let ines = person("i.varga");
    let signer = BenchKeys.signer(&ines, PASSPHRASE.to_owned().into()).unwrap();
    session.identify(&ines, signer.as_ref()).unwrap();
    let until = Address::parse("part_46/list_0").unwrap();
    while let Some(index) = session.state().walk.asked() {
        let flow = session.files().flow.clone();
        let instance = flow.instance(index);
        if instance.address == until {
            break;
        }
        let address = instance.address.clone();
        match &instance.ask {
            Ask::Check { items, .. } => {
                for item in 0..u32::try_from(items.len()).unwrap() {
                    let address = address.clone();
                    session.submit(Command::CheckItem { address, item, so: true }).unwrap();
                }
            }
            ask => {
                let answer = match ask {
                    Ask::Look { findings, .. } => Answer::Found(vec![findings[0].id.clone()]),
                    Ask::Measure(_) => Answer::Read {
                        reading: witnessmark::units::Reading::parse(
                            "45.0",
                            witnessmark::units::Unit::Millimetre,
                        )
                        .unwrap(),
                        instrument: witnessmark::walk::accept::snapshot(
                            session
                                .files()
                                .shop
                                .instruments
                                .iter()
                                .find(|i| i.id == "C-03")
                                .unwrap(),
                        ),
                        several: None,
                    },
                    _ => Answer::Done,
                };
                session.submit(Command::Answer { address, answer, signed: None }).unwrap();
            }
        }
    }
    while session.state().n_entries < N_ENTRIES {
        let text = "Seen on the way; nothing that needs anybody.".to_owned();
        session.submit(Command::AddNote { address: None, text }).unwrap();
    }
}

/// Where the bytes go that a terminal would get.
#[derive(Default)]
struct Counted(Rc<Cell<usize>>);

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.set(self.0.get() + bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// The processor time of this thread.
fn processor() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(time.tv_sec.unsigned_abs(), u32::try_from(time.tv_nsec).unwrap())
}

fn key(code: KeyCode) -> Event {
    Event::Key(KeyEvent::new(code, KeyModifiers::NONE))
}

fn control(letter: char) -> Event {
    Event::Key(KeyEvent::new(KeyCode::Char(letter), KeyModifiers::CONTROL))
}

fn keys(session: &mut Session, (columns, rows): (u16, u16)) {
    let mut released = Released::default();
    let mut runtime = Runtime::new(session, &BenchKeys, &mut released, (columns, rows));
    let area = Rect { x: 0, y: 0, width: columns, height: rows };
    let options = TerminalOptions { viewport: Viewport::Fixed(area) };
    let sent = Rc::new(Cell::new(0));
    let backend = CrosstermBackend::new(Counted(Rc::clone(&sent)));
    let mut terminal = Terminal::with_options(backend, options).unwrap();
    let mut at_ms = 0;
    let mut press = |runtime: &mut Runtime<'_>, event: &Event| {
        at_ms += 2_000;
        let before = (processor(), sent.get());
        let turn = runtime.feed(event, at_ms);
        if turn != Turn::Idle {
            terminal
                .draw(|frame| {
                    if let Some(at) = view(&runtime.model, frame.area(), frame.buffer_mut()) {
                        frame.set_cursor_position(at);
                    }
                })
                .unwrap();
        }
        let taken = processor().saturating_sub(before.0);
        (taken, sent.get() - before.1, turn)
    };
    // Somebody is at work, and has looked at what is open.
    let mut start = |runtime: &mut Runtime<'_>, letters: &str, event: Option<Event>| {
        for c in letters.chars() {
            press(runtime, &key(KeyCode::Char(c)));
        }
        event.map(|event| press(runtime, &event))
    };
    start(&mut runtime, "", Some(control('w')));
    start(&mut runtime, "1", Some(key(KeyCode::Enter)));
    start(&mut runtime, PASSPHRASE, Some(key(KeyCode::Enter)));
    let window = format!("{columns}x{rows}");
    let mut measure = |runtime: &mut Runtime<'_>, what: &str, n: usize, events: &[Event]| {
        let all: Vec<_> = (0..n).map(|i| press(runtime, &events[i % events.len()])).collect();
        report(what, &window, all);
    };
    let n_before = runtime.session().entries().len();
    measure(&mut runtime, "y to a line of a list (saved)", 180, &[key(KeyCode::Char('y'))]);
    let n_saved = runtime.session().entries().len() - n_before;
    // The step that comes after six lists is no list.
    assert!(n_saved >= 140, "{n_saved} answers were saved:\n{:?}", runtime.model.status);
    measure(
        &mut runtime,
        "1, 2 among findings",
        1_000,
        &[key(KeyCode::Char('1')), key(KeyCode::Char('2'))],
    );
    measure(&mut runtime, "the note, and back", 200, &[control('t'), key(KeyCode::Esc)]);
    measure(&mut runtime, "o, the outline, and back", 200, &[control('o'), key(KeyCode::Esc)]);
    press_all(&mut runtime, &[control('o')]);
    measure(&mut runtime, "down in the outline", 400, &[key(KeyCode::Down)]);
    measure(&mut runtime, "up in the outline", 400, &[key(KeyCode::Up)]);
    press_all(&mut runtime, &[key(KeyCode::Esc)]);
    measure(&mut runtime, "p, the job sheet, and back", 60, &[control('p'), key(KeyCode::Esc)]);
    // A look, a look, and the figure.
    let enter = key(KeyCode::Enter);
    press_all(
        &mut runtime,
        &[key(KeyCode::Char('1')), enter.clone(), key(KeyCode::Char('1')), enter],
    );
    let typed: Vec<Event> = "45.0".chars().map(|c| key(KeyCode::Char(c))).collect();
    let erased = vec![key(KeyCode::Backspace); 4];
    measure(&mut runtime, "a figure typed and erased", 1_000, &[typed, erased].concat());
    measure(&mut runtime, "a key without a meaning", 1_000, &[key(KeyCode::F(9))]);
    press_all(&mut runtime, &[control('x')]);
    press_all(&mut runtime, &"bent".chars().map(|c| key(KeyCode::Char(c))).collect::<Vec<_>>());
    press_all(&mut runtime, &[key(KeyCode::Enter), key(KeyCode::Enter)]);
}

/// Presses keys that are not measured, each a good while after the last.
fn press_all(runtime: &mut Runtime<'_>, events: &[Event]) {
    for event in events {
        let at_ms = runtime.model.hand.last_at.unwrap_or_default() + 2_000;
        runtime.feed(event, at_ms);
    }
}

fn report(what: &str, window: &str, mut all: Vec<(Duration, usize, Turn)>) {
    let idle = all.iter().all(|(.., turn)| *turn == Turn::Idle);
    if idle {
        assert!(all.iter().all(|(_, bytes, _)| *bytes == 0), "what changes nothing sends nothing");
    }
    let ms = |taken: Duration| taken.as_secs_f64() * 1e3;
    let last = all.len() - 1;
    let p99 = last * 99 / 100;
    all.sort_by_key(|(taken, ..)| *taken);
    let (median, high, most) = (ms(all[last / 2].0), ms(all[p99].0), ms(all[last].0));
    all.sort_by_key(|(_, bytes, _)| *bytes);
    let (bytes, bytes_high) = (all[last / 2].1, all[p99].1);
    println!(
        "{what:<32} {window:>7}   {median:9.3}  {high:7.3}   {most:7.3}   {bytes:5}  {bytes_high}"
    );
}

/// From the start of the program to the first frame of the bench, with a thousand open jobs.
fn first_frame() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let place = shop.to_str().unwrap();
    let binary = env!("CARGO_BIN_EXE_witnessmark");
    let ran = std::process::Command::new(binary).args(["demo", "--play", "--shop", place]).output();
    assert!(ran.unwrap().status.success());
    let jobs = shop.join("jobs");
    let one = std::fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path();
    let journal = std::fs::read_to_string(one.join("journal.jsonl")).unwrap();
    // Left in mid job: the first half of its entries.
    let n_lines = journal.lines().count() / 2;
    let half: String = journal.split_inclusive('\n').take(n_lines).collect();
    let year = one.file_name().unwrap().to_str().unwrap().split_once('-').unwrap().0.to_owned();
    for n in 1..=N_JOBS {
        let job = jobs.join(format!("{year}-{n:04}"));
        if n > 1 {
            std::fs::create_dir(&job).unwrap();
            copy(&one.join("files"), &job.join("files"));
        }
        // Every other job is released, the others are open.
        if n % 2 == 0 {
            std::fs::write(job.join("journal.jsonl"), &journal).unwrap();
            std::fs::write(job.join("record.json.sig"), Sha256::of(b"").to_string()).unwrap();
        } else if n > 1 {
            std::fs::write(job.join("journal.jsonl"), &half).unwrap();
        }
    }
    let mut all: Vec<f64> = (0..40).map(|_| one_start(binary, place)).collect();
    all.sort_by(f64::total_cmp);
    println!(
        "start to first frame, {N_JOBS} jobs, half of them open: median {:.1} ms, most {:.1} ms",
        all[all.len() / 2],
        all[all.len() - 1]
    );
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    for file in std::fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        if file.file_type().unwrap().is_file() {
            std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
        } else {
            copy(&file.path(), &to.join(file.file_name()));
        }
    }
}

/// One start in a pseudo-terminal, in milliseconds.
fn one_start(binary: &str, shop: &str) -> f64 {
    let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
    let pair = native_pty_system().openpty(size).unwrap();
    let mut command = CommandBuilder::new(binary);
    command.args(["bench", "--shop", shop]);
    command.env("TERM", "xterm-256color");
    let mut reader = pair.master.try_clone_reader().unwrap();
    let mut writer = pair.master.take_writer().unwrap();
    let start = Instant::now();
    let mut child = pair.slave.spawn_command(command).unwrap();
    drop(pair.slave);
    let mut seen = Vec::new();
    let mut chunk = [0; 8192];
    // The foot line is drawn last.
    while !String::from_utf8_lossy(&seen).contains("keys") {
        let n = reader.read(&mut chunk).unwrap();
        assert!(n > 0, "{}", String::from_utf8_lossy(&seen));
        seen.extend_from_slice(&chunk[..n]);
    }
    let taken = start.elapsed().as_secs_f64() * 1e3;
    writer.write_all(b"q").unwrap();
    std::thread::spawn(move || while matches!(reader.read(&mut chunk), Ok(1..)) {});
    child.wait().unwrap();
    taken
}
