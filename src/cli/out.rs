//! Printing, in one place: a closed pipe ends quietly, text of files never acts on the terminal.

use std::io::{self, IsTerminal as _, Write as _};
use std::process::ExitCode;

use super::exit;
use super::report::Failure;
use crate::visible::visible_lines;

/// Standard output and standard error.
#[derive(Debug, Clone, Copy)]
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
    pub(super) fn colour(self) -> bool {
        self.colour
    }

    /// Prints a line whose text may come from files.
    pub(super) fn line(self, text: &str) {
        self.raw(&visible_lines(text));
        self.raw("\n");
    }

    #[expect(clippy::unused_self, reason = "whoever prints holds the outlet")]
    /// Prints text that this program made, styles included.
    pub(super) fn raw(self, text: &str) {
        if let Err(error) = io::stdout().lock().write_all(text.as_bytes())
            && error.kind() == io::ErrorKind::BrokenPipe
        {
            // Whoever read us has seen enough.
            std::process::exit(i32::from(exit::OK));
        }
    }

    #[expect(clippy::unused_self, reason = "whoever prints holds the outlet")]
    /// Prints to standard error.
    pub(super) fn note(self, text: &str) {
        // Nothing is left to be told where standard error is closed.
        drop(writeln!(io::stderr().lock(), "{}", visible_lines(text)));
    }

    #[expect(clippy::unused_self, reason = "whoever prints holds the outlet")]
    pub(super) fn end(self, status: u8) -> ExitCode {
        drop(io::stdout().lock().flush());
        ExitCode::from(status)
    }

    pub(super) fn fail(self, failure: &Failure) -> ExitCode {
        self.note(&failure.text());
        self.end(failure.status())
    }

    pub(super) fn clap(self, error: &clap::Error) -> ExitCode {
        drop(error.print());
        self.end(if error.use_stderr() { exit::USAGE } else { exit::OK })
    }
}
