//! The real binary in a real pseudo-terminal: begun, killed in mid step, resumed, left.

use std::io::{Read as _, Write};
use std::num::NonZero;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

const BINARY: &str = env!("CARGO_BIN_EXE_witnessmark");
/// Generous: a debug build makes five keys on a busy machine.
const PATIENCE: Duration = Duration::from_mins(1);

fn nonzero(n: u16) -> NonZero<u16> {
    NonZero::new(n).unwrap()
}

struct Screen {
    parser: Arc<Mutex<vt100::Parser>>,
    raw: Arc<Mutex<Vec<u8>>>,
    writer: Box<dyn Write + Send>,
    child: Box<dyn Child + Send + Sync>,
    master: Box<dyn MasterPty + Send>,
}

impl Screen {
    fn start(arguments: &[&str], (cols, rows): (u16, u16)) -> Self {
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(BINARY);
        command.args(arguments);
        command.env_clear();
        for (name, value) in [("TERM", "xterm-256color"), ("LANG", "C.UTF-8"), ("TZ", "UTC")] {
            command.env(name, value);
        }
        let child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let parser = Arc::new(Mutex::new(vt100::Parser::new(nonzero(rows), nonzero(cols), 0)));
        let raw = Arc::new(Mutex::new(Vec::new()));
        let mut reader = pair.master.try_clone_reader().unwrap();
        let (to, kept) = (Arc::clone(&parser), Arc::clone(&raw));
        std::thread::spawn(move || {
            let mut bytes = [0u8; 4096];
            while let Ok(n @ 1..) = reader.read(&mut bytes) {
                kept.lock().unwrap().extend_from_slice(&bytes[..n]);
                to.lock().unwrap().process(&bytes[..n]);
            }
        });
        let writer = pair.master.take_writer().unwrap();
        Self { parser, raw, writer, child, master: pair.master }
    }

    fn text(&self) -> String {
        self.parser.lock().unwrap().screen().contents()
    }

    /// Waits until the screen shows `wanted`.
    fn until(&self, wanted: &str) {
        let start = Instant::now();
        while !self.text().contains(wanted) {
            assert!(start.elapsed() < PATIENCE, "`{wanted}` never came:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Presses keys at a person's pace: what comes in a burst is taken for a paste, which never
    /// confirms anything.
    fn keys(&mut self, keys: &str) {
        std::thread::sleep(Duration::from_millis(400));
        self.writer.write_all(keys.as_bytes()).unwrap();
        self.writer.flush().unwrap();
    }

    fn resize(&self, (cols, rows): (u16, u16)) {
        self.parser.lock().unwrap().screen_mut().set_size(nonzero(rows), nonzero(cols));
        self.master.resize(PtySize { rows, cols, pixel_width: 0, pixel_height: 0 }).unwrap();
    }

    /// Waits for the end and returns its status.
    fn end(&mut self) -> u32 {
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.exit_code();
            }
            assert!(start.elapsed() < PATIENCE, "it never ended:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

fn passphrase(shop: &Path, who: &str) -> String {
    let list = std::fs::read_to_string(shop.join("keys/passphrases.txt")).unwrap();
    let line = list.lines().find(|l| l.starts_with(&format!("{who}: "))).unwrap();
    line.split_once(": ").unwrap().1.to_owned()
}

fn journal(shop: &Path) -> String {
    std::fs::read_to_string(shop.join("jobs").join(job(shop)).join("journal.jsonl")).unwrap()
}

fn job(shop: &Path) -> String {
    let entry = std::fs::read_dir(shop.join("jobs")).unwrap().next().unwrap().unwrap();
    entry.file_name().into_string().unwrap()
}

/// Identifies the apprentice, who then stands at the step that is asked.
fn identify(screen: &mut Screen, shop: &Path) {
    screen.until("Who is at work");
    screen.keys("\r");
    screen.until("Passphrase");
    let typed = passphrase(shop, "i.varga");
    screen.keys(&typed);
    screen.keys("\r");
}

#[test]
fn killed_in_mid_step_and_resumed_at_the_same_step() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let place = shop.to_str().unwrap();
    let mut screen = Screen::start(&["demo", "--shop", place], (80, 24));
    identify(&mut screen, &shop);
    screen.until("Look at the spring of this valve");
    assert!(screen.text().contains("DEMO"));
    screen.keys("1");
    screen.keys("\r");
    screen.until("Measure the free length");
    let before = journal(&shop);

    // A figure half typed, a window too small and back: nothing is lost and nothing entered.
    screen.keys("\t");
    screen.until("Which instrument");
    screen.keys("\r");
    screen.until("C-03");
    screen.keys("37.9");
    screen.until("37.9");
    screen.resize((20, 5));
    screen.until("needs");
    screen.resize((80, 24));
    screen.until("37.9");
    assert_eq!(journal(&shop), before);

    // Killed, not asked.
    screen.child.kill().unwrap();
    screen.end();
    assert_eq!(journal(&shop), before);

    let mut screen = Screen::start(&["walk", "--shop", place], (80, 24));
    identify(&mut screen, &shop);
    screen.until("Measure the free length");
    let resumed = journal(&shop);
    assert!(resumed.starts_with(&before), "what was saved is there, once");
    assert_eq!(resumed.lines().count(), before.lines().count() + 1, "one entry: who is at work");
    screen.child.kill().unwrap();
    screen.end();
}

#[test]
fn it_ends_when_the_other_end_of_the_line_is_gone() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let screen = Screen::start(&["demo", "--shop", shop.to_str().unwrap()], (80, 24));
    screen.until("Who is at work");
    let Screen { writer, mut child, master, .. } = screen;
    // The reader's thread holds one more handle of the line; it ends with the program.
    let id = child.process_id().unwrap();
    drop((writer, master));
    let status = std::process::Command::new("kill").args(["-HUP", &id.to_string()]).status();
    assert!(status.unwrap().success());
    let start = Instant::now();
    while child.try_wait().unwrap().is_none() {
        assert!(start.elapsed() < PATIENCE, "it goes on without anybody");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn the_terminal_is_left_as_it_was_on_a_signal_to_end() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let mut screen = Screen::start(&["demo", "--shop", shop.to_str().unwrap()], (80, 24));
    screen.until("Who is at work");
    let id = screen.child.process_id().unwrap();
    let status = std::process::Command::new("kill").arg(id.to_string()).status().unwrap();
    assert!(status.success());
    assert_eq!(screen.end(), 0);
    std::thread::sleep(Duration::from_millis(100));
    let raw = screen.raw.lock().unwrap().clone();
    let raw = String::from_utf8_lossy(&raw);
    for (on, off) in [("\u{1b}[?1049h", "\u{1b}[?1049l"), ("\u{1b}[?2004h", "\u{1b}[?2004l")] {
        assert!(raw.rfind(on).unwrap() < raw.rfind(off).unwrap(), "{on:?} is taken back");
    }
    assert!(raw.rfind("\u{1b}[?25h").is_some(), "the cursor is shown again");
}
