//! The full screen in a real terminal: a pseudo-terminal with this very test program at its other end.

use std::io::{Read as _, Write as _};
use std::num::NonZero;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use witnessmark::tui::graphics::Graphics;
use witnessmark::tui::theme::Look;

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

use crate::photos::{PHOTOS, seat};
use crate::support::bench::{Bench, BenchKeys, PASSPHRASE, Released};

/// Set for the program at the other end.
const OTHER_END: &str = "WITNESSMARK_TEST_OTHER_END";
/// The longest wait for something that must come.
const PATIENCE: Duration = Duration::from_secs(20);

/// The other end: not a test of its own, and nothing happens where it is run as one.
#[test]
fn other_end() {
    let Ok(what) = std::env::var(OTHER_END) else { return };
    let bench = Bench::new();
    let mut session = bench.job();
    if what == "panic" {
        // Dies inside the walk, with the screen taken.
        let dies = Dies;
        drop(witnessmark::tui::run(&mut session, &dies, &mut Released::default(), Look::default()));
        return;
    }
    if what == "photo" {
        let bench = Bench::with(&[("bench_photos", PHOTOS)]);
        bench.disk.put(std::path::Path::new("/cam/seat.png"), &seat());
        let look = Look { graphics: Some(Graphics::Kitty), ..Look::default() };
        let mut session = bench.job_of("bench_photos");
        witnessmark::tui::run(&mut session, &BenchKeys, &mut Released::default(), look).unwrap();
        return;
    }
    let end =
        witnessmark::tui::run(&mut session, &BenchKeys, &mut Released::default(), Look::default())
            .unwrap();
    let said = format!("ended {end:?} with {} entries\n", session.entries().len());
    std::io::stdout().write_all(said.as_bytes()).unwrap();
}

/// Keys that panic.
struct Dies;

impl witnessmark::session::keys::Keys for Dies {
    fn signer(
        &self,
        _: &witnessmark::ids::PersonId,
        _: zeroize::Zeroizing<String>,
    ) -> Result<Box<dyn witnessmark::ports::Signer>, witnessmark::ports::SignError> {
        panic!("a fault of the program");
    }
}

fn some(n: u16) -> NonZero<u16> {
    NonZero::new(n).unwrap()
}

struct Screen {
    master: Box<dyn MasterPty + Send>,
    child: Box<dyn Child + Send + Sync>,
    writer: Box<dyn std::io::Write + Send>,
    bytes: Receiver<Vec<u8>>,
    parser: vt100::Parser,
    raw: Vec<u8>,
}

impl Screen {
    fn open(what: &str, (columns, rows): (u16, u16)) -> Self {
        let size = PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(std::env::current_exe().unwrap());
        command.args(["--exact", "screen::other_end", "--nocapture", "--test-threads=1"]);
        command.env(OTHER_END, what);
        command.env("TERM", "xterm-256color");
        command.env("RUST_BACKTRACE", "0");
        let child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let writer = pair.master.take_writer().unwrap();
        let mut reader = pair.master.try_clone_reader().unwrap();
        let (sender, bytes) = channel();
        std::thread::spawn(move || {
            let mut chunk = [0; 4096];
            while let Ok(n) = reader.read(&mut chunk) {
                if n == 0 || sender.send(chunk[..n].to_vec()).is_err() {
                    break;
                }
            }
        });
        let parser = vt100::Parser::new(some(rows), some(columns), 0);
        Self { master: pair.master, child, writer, bytes, parser, raw: Vec::new() }
    }

    /// Takes in what was written until the screen shows `text`.
    fn wait_for(&mut self, text: &str) {
        self.wait(text, |screen| screen.contents().contains(text));
    }

    fn wait(&mut self, what: &str, met: impl Fn(&vt100::Screen) -> bool) {
        self.wait_until(what, |screen| met(screen.parser.screen()));
    }

    /// Takes in what was written until `code` stands in it, after the first `from` bytes.
    fn wait_raw(&mut self, code: &str, from: usize) {
        self.wait_until(code, |screen| String::from_utf8_lossy(&screen.raw[from..]).contains(code));
    }

    fn wait_until(&mut self, what: &str, met: impl Fn(&Self) -> bool) {
        let start = Instant::now();
        while !met(self) {
            match self.bytes.recv_timeout(Duration::from_millis(50)) {
                Ok(bytes) => {
                    self.parser.process(&bytes);
                    self.raw.extend(bytes);
                }
                Err(_) => assert!(
                    start.elapsed() < PATIENCE,
                    "no `{what}` on\n{}",
                    self.parser.screen().contents()
                ),
            }
        }
    }

    fn keys(&mut self, bytes: &str) {
        self.writer.write_all(bytes.as_bytes()).unwrap();
        self.writer.flush().unwrap();
    }

    /// Identifies as Ines.
    fn identify(&mut self) {
        self.wait_for("Who is at work from here on?");
        self.keys("\r");
        self.wait_for("Passphrase of your own key");
        self.keys(PASSPHRASE);
        self.wait_for("**********");
        self.keys("\r");
        self.wait_for("wear: safety glasses");
    }

    /// The terminal is as a shell wants it: main screen, cursor, no paste marks.
    fn is_given_back(&mut self) {
        self.wait("the main screen", |screen| {
            !screen.alternate_screen() && !screen.hide_cursor() && !screen.bracketed_paste()
        });
    }
}

#[test]
fn a_walk_in_a_real_terminal_and_leaving_it() {
    let mut screen = Screen::open("walk", (80, 24));
    screen.identify();
    assert!(screen.parser.screen().alternate_screen());
    assert!(screen.parser.screen().bracketed_paste());
    // Ten presses at once are one answer.
    screen.keys("yyyyyyyyyy");
    screen.wait_for("[y] so      wear: safety glasses");
    assert!(!screen.parser.screen().contents().contains("[y] so      tool"));
    // A window that shrinks and grows again.
    for (columns, rows, text) in [(20, 5, "needs 40x12, has 20x5"), (80, 24, "tool: calliper")] {
        let size = PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 };
        screen.parser.screen_mut().set_size(some(rows), some(columns));
        screen.master.resize(size).unwrap();
        screen.wait_for(text.split(", has").next().unwrap());
    }
    screen.keys("\u{11}"); // ctrl-q
    screen.wait_for("Leave the job for now?");
    screen.keys("y");
    screen.wait_for("ended Left with 3 entries");
    screen.is_given_back();
    assert!(screen.child.wait().unwrap().success());
}

#[test]
fn a_signal_ends_the_walk_and_gives_the_terminal_back() {
    let mut screen = Screen::open("walk", (80, 24));
    screen.identify();
    let pid = i32::try_from(screen.child.process_id().unwrap()).unwrap();
    let pid = rustix::process::Pid::from_raw(pid).unwrap();
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    screen.wait_for("ended ToldToEnd with 2 entries");
    screen.is_given_back();
}

#[test]
fn going_to_sleep_gives_the_terminal_back_and_waking_takes_it_again() {
    let mut screen = Screen::open("walk", (80, 24));
    screen.identify();
    let before = screen.raw.len();
    screen.keys("\u{1a}"); // ctrl-z
    screen.wait_raw("\u{1b}[?1049l", before);
    // No shell stands behind this terminal, so the system may have let it sleep or not.
    let pid = i32::try_from(screen.child.process_id().unwrap()).unwrap();
    let pid = rustix::process::Pid::from_raw(pid).unwrap();
    rustix::process::kill_process(pid, rustix::process::Signal::CONT).unwrap();
    screen.wait_raw("\u{1b}[?1049h", before);
    screen.wait_for("wear: safety glasses");
    screen.keys("y");
    screen.wait_for("[y] so      wear: safety glasses");
}

#[test]
fn a_panic_gives_the_terminal_back_before_it_speaks() {
    let mut screen = Screen::open("panic", (80, 24));
    screen.wait_for("Who is at work from here on?");
    screen.keys("\r");
    screen.wait_for("Passphrase of your own key");
    screen.keys("x");
    screen.wait_for(" > *");
    screen.keys("\r");
    screen.wait_raw("a fault of the program", 0);
    screen.is_given_back();
    let said = String::from_utf8_lossy(&screen.raw).into_owned();
    let left = said.find("\u{1b}[?1049l").unwrap();
    assert!(left < said.find("a fault of the program").unwrap());
}

#[test]
fn a_real_paste_goes_into_the_field_and_answers_nothing() {
    let mut screen = Screen::open("walk", (80, 24));
    screen.identify();
    // A paste where keys answer does nothing, whatever stands in it.
    screen.keys("\u{1b}[200~yyy\r\u{1b}[201~");
    screen.keys("t");
    screen.wait_for("Note: ctrl-r saves it");
    // In a text it is text: lines stay lines, and what acts on terminals is seen and does not act.
    screen.keys("\u{1b}[200~first\nsecond\u{1b}[2J\u{1b}[201~");
    screen.wait_for("second");
    screen.wait_for("first");
    assert!(!screen.parser.screen().contents().contains("[y] so"), "the paste answered");
    screen.keys("\u{1b}");
    screen.wait_for("wear: safety glasses");
    screen.keys("\u{11}");
    screen.wait_for("Leave the job for now?");
    screen.keys("y");
    screen.wait_for("ended Left with 2 entries");
    screen.is_given_back();
}

#[test]
fn a_line_that_hangs_up_ends_the_walk_with_everything_saved() {
    let mut screen = Screen::open("walk", (80, 24));
    screen.identify();
    screen.keys("y");
    screen.wait_for("[y] so      wear: safety glasses");
    let Screen { master, mut child, writer, .. } = screen;
    drop((writer, master));
    let pid = i32::try_from(child.process_id().unwrap()).unwrap();
    let pid = rustix::process::Pid::from_raw(pid).unwrap();
    rustix::process::kill_process(pid, rustix::process::Signal::HUP).unwrap();
    let start = Instant::now();
    while child.try_wait().unwrap().is_none() {
        assert!(start.elapsed() < PATIENCE, "it goes on without anybody");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_picture_is_sent_once_where_the_terminal_takes_it_and_taken_away_again() {
    let mut screen = Screen::open("photo", (80, 24));
    screen.wait_for("Who is at work from here on?");
    screen.keys("\r");
    screen.wait_for("Passphrase of your own key");
    screen.keys(PASSPHRASE);
    screen.wait_for("**********");
    screen.keys("\r");
    screen.wait_for("The path of the photo or file");
    screen.keys("/cam/seat.png");
    screen.wait_for("seat.png");
    let before = screen.raw.len();
    screen.keys("\t");
    screen.wait_raw("\u{1b}_Ga=T,f=24,", before);
    screen.wait_raw("m=0;", before);
    screen.wait_for("64 x 48 pixels");
    // A key that changes nothing about the picture sends none again.
    screen.keys("?");
    screen.wait_for("Keys that work there");
    screen.wait_raw("\u{1b}_Ga=d,", before);
    screen.keys("\u{1b}");
    screen.wait_for("64 x 48 pixels");
    screen.keys("\u{1b}");
    screen.wait_for("The path of the photo or file");
    let sent = String::from_utf8_lossy(&screen.raw[before..]).into_owned();
    assert_eq!(sent.matches("\u{1b}_Ga=T").count(), 2, "once each time that it came up");
    assert_eq!(sent.matches("\u{1b}_Ga=d").count(), 2);
    screen.keys("\u{11}");
    screen.wait_for("Leave the job for now?");
    screen.keys("y");
    screen.is_given_back();
}
