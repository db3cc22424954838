//! The real binary in a real pseudo-terminal: begun, killed in mid step, resumed, left.

use std::path::Path;
use std::time::{Duration, Instant};

use crate::support::pty::{PATIENCE, Screen, journal, passphrase};

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

#[test]
fn a_terminal_that_shows_lines_only_gets_the_walk_in_lines_and_is_told_so() {
    let dir = tempfile::tempdir().unwrap();
    let shop = dir.path().join("shop");
    let place = shop.to_str().unwrap();
    let mut screen = Screen::start_as("dumb", &["demo", "--shop", place], (100, 60));
    screen.until("the walk goes on in numbered lines");
    screen.until("Who is at work? Number or id");
    let raw = String::from_utf8_lossy(&screen.raw.lock().unwrap()).into_owned();
    assert!(!raw.contains('\u{1b}'), "no code for a screen: {raw}");
    screen.keys("quit\r");
    assert_eq!(screen.end(), 0);
    let mut screen = Screen::start_as("dumb", &["bench", "--shop", place], (100, 60));
    screen.until("this terminal shows lines only");
    assert_ne!(screen.end(), 0);
}
