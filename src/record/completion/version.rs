//! The versions of the format. A record is read and made again in the version that it is written in.

/// A version of the record, `MAJOR.MINOR`; later ones are greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Version {
    /// The first.
    V1_0,
    /// Answers that stand on the first page of the report; names of limits.
    V1_1,
}

impl Version {
    /// Every one that this program reads, oldest first.
    pub const ALL: [Self; 2] = [Self::V1_0, Self::V1_1];
    /// The one that it writes.
    pub const NEWEST: Self = Self::V1_1;

    /// As it stands in a record.
    pub const fn word(self) -> &'static str {
        match self {
            Self::V1_0 => "1.0",
            Self::V1_1 => "1.1",
        }
    }

    /// Reads [`Self::word`]; `None` for versions of another program.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|version| version.word() == word)
    }

    /// All of them, for people.
    pub(super) fn words() -> String {
        Self::ALL.map(Self::word).join(" and ")
    }
}
