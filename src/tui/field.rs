//! A line that is being typed, and a passphrase that is being typed.

use zeroize::Zeroizing;

use crate::visible::visible;

/// The longest line, in characters.
const LINE_CHARS_MAX: usize = 500;
/// The longest passphrase, in bytes. Its room is taken at once, so that no shorter copy is left
/// behind by growing.
const SECRET_BYTES_MAX: usize = 512;

/// A line with a cursor.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Field {
    chars: Vec<char>,
    at: usize,
}

impl Field {
    /// The text.
    pub fn text(&self) -> String {
        self.chars.iter().collect()
    }

    /// The text before the cursor.
    pub fn before(&self) -> String {
        self.chars.iter().take(self.at).collect()
    }

    /// True when nothing is typed.
    pub fn is_empty(&self) -> bool {
        self.chars.is_empty()
    }

    /// Puts `c` where the cursor is.
    pub fn insert(&mut self, c: char) {
        if self.chars.len() < LINE_CHARS_MAX {
            self.chars.insert(self.at, c);
            self.at += 1;
        }
    }

    /// Puts a pasted text where the cursor is. Line ends become spaces, and what would act on the
    /// terminal becomes a stand-in, so that it is seen.
    pub fn paste(&mut self, text: &str) {
        let line = text.trim().replace(['\r', '\n', '\t'], " ");
        for c in visible(&line).chars() {
            self.insert(c);
        }
    }

    /// Takes away the character before the cursor.
    pub fn erase(&mut self) {
        if let Some(before) = self.at.checked_sub(1) {
            self.chars.remove(before);
            self.at = before;
        }
    }

    /// Takes away the character under the cursor.
    pub fn delete(&mut self) {
        if self.at < self.chars.len() {
            self.chars.remove(self.at);
        }
    }

    /// Moves the cursor.
    pub fn left(&mut self) {
        self.at = self.at.saturating_sub(1);
    }

    /// Moves the cursor.
    pub fn right(&mut self) {
        self.at = (self.at + 1).min(self.chars.len());
    }

    /// Moves the cursor to the start.
    pub fn home(&mut self) {
        self.at = 0;
    }

    /// Moves the cursor to the end.
    pub fn end(&mut self) {
        self.at = self.chars.len();
    }
}

/// A passphrase that is being typed. Never shown, wiped when it goes.
#[derive(Clone)]
pub struct Secret(Zeroizing<String>);

impl Default for Secret {
    fn default() -> Self {
        Self(Zeroizing::new(String::with_capacity(SECRET_BYTES_MAX)))
    }
}

impl std::fmt::Debug for Secret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret")
    }
}

impl Secret {
    /// Adds a character at the end.
    pub fn push(&mut self, c: char) {
        if self.0.len() + c.len_utf8() <= SECRET_BYTES_MAX {
            self.0.push(c);
        }
    }

    /// Takes away the last character.
    pub fn erase(&mut self) {
        self.0.pop();
    }

    /// How many characters were typed.
    pub fn n_chars(&self) -> usize {
        self.0.chars().count()
    }

    /// Hands the passphrase over and starts anew.
    pub fn take(&mut self) -> Zeroizing<String> {
        std::mem::take(self).0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_paste_never_ends_a_line_and_never_acts() {
        let mut field = Field::default();
        field.paste("12.3\n\u{1b}[2J\n");
        assert_eq!(field.text(), r"12.3 \u{1b}[2J");
    }

    #[test]
    fn a_field_is_edited_where_the_cursor_is() {
        let mut field = Field::default();
        "123".chars().for_each(|c| field.insert(c));
        field.left();
        field.insert('.');
        assert_eq!((field.text(), field.before()), ("12.3".to_owned(), "12.".to_owned()));
        field.erase();
        field.home();
        field.delete();
        assert_eq!(field.text(), "23");
        field.end();
        field.right();
        field.erase();
        assert_eq!(field.text(), "2");
    }

    #[test]
    fn a_secret_is_not_printed_and_is_gone_once_taken() {
        let mut secret = Secret::default();
        "seal".chars().for_each(|c| secret.push(c));
        assert_eq!(format!("{secret:?}"), "Secret");
        assert_eq!(secret.take().as_str(), "seal");
        assert_eq!(secret.n_chars(), 0);
    }
}
