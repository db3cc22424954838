//! Printing, in one place: a closed pipe ends quietly, text of files never acts on the terminal.

use std::io::{self, IsTerminal as _, Write};
use std::process::ExitCode;

use super::exit;
use super::report::Failure;
use crate::visible::visible_lines;

/// Standard output and standard error.
pub(super) struct Out {
    colour: bool,
}

impl Out {
    #[expect(clippy::disallowed_methods, reason = "the environment is read in cli only")]
    pub(super) fn new() -> Self {
        let wanted = std::env::var("NO_COLOR").map_or(true, |value| value.is_empty());
        Self { colour: wanted && io::stdout().is_terminal() }
    }

    /// True when colours are wanted and can be shown.
    pub(super) fn colour(&self) -> bool {
        self.colour
    }

    /// Prints a line whose text may come from files.
    pub(super) fn line(&mut self, text: &str) {
        self.raw(&visible_lines(text));
        self.raw("\n");
    }

    /// Prints text that this program made, styles included.
    pub(super) fn raw(&mut self, text: &str) {
        let _ = &self.colour;
        if let Err(error) = io::stdout().lock().write_all(text.as_bytes())
            && error.kind() == io::ErrorKind::BrokenPipe
        {
            // Whoever read us has seen enough.
            #[expect(clippy::exit, reason = "a closed pipe ends the program quietly")]
            std::process::exit(i32::from(exit::OK));
        }
    }

    /// Prints to standard error.
    pub(super) fn note(&mut self, text: &str) {
        let _ = &self.colour;
        // Nothing is left to be told where standard error is closed.
        drop(writeln!(io::stderr().lock(), "{}", visible_lines(text)));
    }

    pub(super) fn end(&mut self, status: u8) -> ExitCode {
        drop(io::stdout().lock().flush());
        let _ = &self.colour;
        ExitCode::from(status)
    }

    pub(super) fn fail(&mut self, failure: &Failure) -> ExitCode {
        self.note(&failure.text());
        self.end(failure.status())
    }

    pub(super) fn clap(&mut self, error: &clap::Error) -> ExitCode {
        drop(error.print());
        self.end(if error.use_stderr() { exit::USAGE } else { exit::OK })
    }
}
