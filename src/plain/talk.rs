//! Lines in, lines out. Everything that goes out is made safe to show here, and nowhere else.

use std::io::{self, BufRead, Read as _, Write};

use crate::visible::visible;

/// The longest line that is read, in bytes; the rest of a longer one is thrown away with it.
const LINE_LEN_BYTES_MAX: u64 = 64 * 1024;

/// The two ends of the conversation.
pub(super) struct Talk<'a> {
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
}

impl<'a> Talk<'a> {
    pub(super) fn new(input: &'a mut dyn BufRead, out: &'a mut dyn Write) -> Self {
        Self { input, out }
    }

    /// Writes one line.
    pub(super) fn say(&mut self, text: &str) -> io::Result<()> {
        // A sentence that has its stop, put into one that has its own.
        let doubled = text.ends_with("..") && !text.ends_with("...");
        let text = if doubled { text.strip_suffix('.').unwrap_or(text) } else { text };
        writeln!(self.out, "{}", visible(text))
    }

    /// Writes `prompt` and reads one line, without its end. `None` once the input has ended.
    pub(super) fn line(&mut self, prompt: &str) -> io::Result<Option<String>> {
        loop {
            write!(self.out, "{}: ", visible(prompt))?;
            self.out.flush()?;
            let mut bytes = Vec::new();
            let read = (&mut *self.input).take(LINE_LEN_BYTES_MAX).read_until(b'\n', &mut bytes)?;
            // The answer of a pipe is not seen; an end keeps the lines apart all the same.
            if read == 0 {
                self.say("")?;
                return Ok(None);
            }
            if bytes.last() != Some(&b'\n') && bytes.len() as u64 == LINE_LEN_BYTES_MAX {
                self.skip_line()?;
                self.say("That line is too long. Nothing was saved.")?;
                continue;
            }
            while matches!(bytes.last(), Some(b'\n' | b'\r')) {
                bytes.pop();
            }
            match String::from_utf8(bytes) {
                Ok(line) => return Ok(Some(line)),
                Err(_) => self.say("That line is not UTF-8 text. Nothing was saved.")?,
            }
        }
    }

    fn skip_line(&mut self) -> io::Result<()> {
        loop {
            let mut bytes = Vec::new();
            let read = (&mut *self.input).take(LINE_LEN_BYTES_MAX).read_until(b'\n', &mut bytes)?;
            if read == 0 || bytes.last() == Some(&b'\n') {
                return Ok(());
            }
        }
    }
}
