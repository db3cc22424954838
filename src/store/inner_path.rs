//! A path that cannot lead out of the folder it belongs to.
//!
//! Paths stand in entries and records that may come from anywhere. Whether a link stands on the
//! way is looked at when the file is read.

use std::fmt;
use std::path::{Component, Path, PathBuf};

use super::StoreError;

/// The longest inner path, in bytes.
pub const INNER_PATH_LEN_BYTES_MAX: usize = 1024;

/// A relative path with `/` between plain names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct InnerPath(String);

impl InnerPath {
    /// Checks `text` and makes it a path.
    ///
    /// # Errors
    /// [`StoreError::LeadsOut`] for anything but plain names with `/` between them.
    pub fn new(text: impl Into<String>) -> Result<Self, StoreError> {
        let text = text.into();
        let path = Path::new(&text);
        let is_plain = path.components().all(|part| matches!(part, Component::Normal(_)));
        // The path's own parts would hide `a//b`, `a/./b` and `a/`; its words do not.
        let has_plain_words = text.split('/').all(|word| !matches!(word, "" | "." | ".."));
        let is_short = text.len() <= INNER_PATH_LEN_BYTES_MAX;
        if is_plain && has_plain_words && is_short && !text.contains('\0') {
            Ok(Self(text))
        } else {
            Err(StoreError::LeadsOut { path: text })
        }
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The path below `folder`.
    pub fn below(&self, folder: &Path) -> PathBuf {
        folder.join(&self.0)
    }

    /// The folders on the way to the file, outermost first, below `folder`.
    pub fn folders(&self, folder: &Path) -> Vec<PathBuf> {
        let mut way = folder.to_owned();
        let mut folders = Vec::new();
        let mut words = self.0.split('/').peekable();
        while let Some(word) = words.next() {
            way.push(word);
            if words.peek().is_some() {
                folders.push(way.clone());
            }
        }
        folders
    }
}

impl fmt::Display for InnerPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_names_below_the_folder_are_paths() {
        for text in
            ["a", "files/procedures/seal.yaml", "a/..b", "a b/ö.png", "a\\b", ".gitattributes"]
        {
            assert!(InnerPath::new(text).is_ok(), "{text}");
        }
        let outside = [
            "",
            "/",
            "/etc/passwd",
            "..",
            "a/../b",
            "../a",
            ".",
            "./a",
            "a/.",
            "a//b",
            "a/",
            "a\0",
        ];
        for text in outside {
            assert!(matches!(InnerPath::new(text), Err(StoreError::LeadsOut { .. })), "{text}");
        }
        assert!(InnerPath::new("a".repeat(INNER_PATH_LEN_BYTES_MAX + 1)).is_err());
    }

    #[test]
    fn the_folders_on_the_way_are_told_outermost_first() {
        let path = InnerPath::new("a/b/c").unwrap();
        assert_eq!(path.folders(Path::new("/j")), [Path::new("/j/a"), Path::new("/j/a/b")]);
        assert!(InnerPath::new("a").unwrap().folders(Path::new("/j")).is_empty());
    }
}
