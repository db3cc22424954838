//! The real binary in a real pseudo-terminal, and the words on its screen.

use std::io::{Read as _, Write};
use std::num::NonZero;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

pub(crate) const BINARY: &str = env!("CARGO_BIN_EXE_witnessmark");
/// Generous: a debug build makes five keys on a busy machine.
pub(crate) const PATIENCE: Duration = Duration::from_mins(1);

fn nonzero(n: u16) -> NonZero<u16> {
    NonZero::new(n).unwrap()
}

pub(crate) struct Screen {
    pub(crate) parser: Arc<Mutex<vt100::Parser>>,
    pub(crate) raw: Arc<Mutex<Vec<u8>>>,
    pub(crate) writer: Box<dyn Write + Send>,
    pub(crate) child: Box<dyn Child + Send + Sync>,
    pub(crate) master: Box<dyn MasterPty + Send>,
}

impl Screen {
    pub(crate) fn start(arguments: &[&str], size: (u16, u16)) -> Self {
        Self::start_as("xterm-256color", arguments, size)
    }

    /// The program in a terminal that calls itself `term`.
    pub(crate) fn start_as(term: &str, arguments: &[&str], (cols, rows): (u16, u16)) -> Self {
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(BINARY);
        command.args(arguments);
        command.env_clear();
        for (name, value) in [("TERM", term), ("LANG", "C.UTF-8"), ("TZ", "UTC")] {
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

    pub(crate) fn text(&self) -> String {
        self.parser.lock().unwrap().screen().contents()
    }

    /// Waits until the screen shows `wanted`.
    pub(crate) fn until(&self, wanted: &str) {
        let start = Instant::now();
        while !self.text().contains(wanted) {
            assert!(start.elapsed() < PATIENCE, "`{wanted}` never came:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Presses keys at a person's pace: what comes in a burst is taken for a paste, which never
    /// confirms anything.
    pub(crate) fn keys(&mut self, keys: &str) {
        std::thread::sleep(Duration::from_millis(400));
        self.burst(keys);
    }

    /// Writes keys at once.
    pub(crate) fn burst(&mut self, keys: &str) {
        self.writer.write_all(keys.as_bytes()).unwrap();
        self.writer.flush().unwrap();
    }

    pub(crate) fn resize(&self, (cols, rows): (u16, u16)) {
        self.parser.lock().unwrap().screen_mut().set_size(nonzero(rows), nonzero(cols));
        self.master.resize(PtySize { rows, cols, pixel_width: 0, pixel_height: 0 }).unwrap();
    }

    /// Waits for the end and returns its status.
    pub(crate) fn end(&mut self) -> u32 {
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

/// What the demo's own file says opens somebody's key.
pub(crate) fn passphrase(shop: &Path, who: &str) -> String {
    let list = std::fs::read_to_string(shop.join("keys/passphrases.txt")).unwrap();
    let line = list.lines().find(|l| l.starts_with(&format!("{who}: "))).unwrap();
    line.split_once(": ").unwrap().1.to_owned()
}

/// The journal of the shop's only job, as text.
pub(crate) fn journal(shop: &Path) -> String {
    std::fs::read_to_string(shop.join("jobs").join(job(shop)).join("journal.jsonl")).unwrap()
}

/// The shop's only job.
pub(crate) fn job(shop: &Path) -> String {
    let entry = std::fs::read_dir(shop.join("jobs")).unwrap().next().unwrap().unwrap();
    entry.file_name().into_string().unwrap()
}
