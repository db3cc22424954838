//! `check --watch`: tells when one of the files has changed.
//!
//! Compares the bytes, not the times: an editor that saves twice in one tick is seen, and a file that
//! was only touched is not.

use std::path::{Path, PathBuf};

/// The files as they were seen last.
#[derive(Debug, Default)]
pub(super) struct Watch(Vec<(PathBuf, Option<Vec<u8>>)>);

impl Watch {
    /// The files that are not as they were, a vanished one included; all of them at first.
    pub(super) fn changed(
        &mut self,
        paths: &[PathBuf],
        read: impl Fn(&Path) -> Option<Vec<u8>>,
    ) -> Vec<PathBuf> {
        let now: Vec<_> = paths.iter().map(|path| (path.clone(), read(path))).collect();
        let changed =
            now.iter().filter(|file| !self.0.contains(file)).map(|(path, _)| path.clone());
        let changed = changed.collect();
        self.0 = now;
        changed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_told_once_when_it_changes_or_vanishes() {
        let paths = [PathBuf::from("a"), PathBuf::from("b")];
        let mut watch = Watch::default();
        assert_eq!(watch.changed(&paths, |_| Some(vec![1])), paths);
        assert!(watch.changed(&paths, |_| Some(vec![1])).is_empty());
        let b = |path: &Path| Some(vec![if path == Path::new("b") { 2 } else { 1 }]);
        assert_eq!(watch.changed(&paths, b), paths[1..]);
        assert!(watch.changed(&paths, b).is_empty());
        assert_eq!(watch.changed(&paths, |_| None), paths);
    }
}
