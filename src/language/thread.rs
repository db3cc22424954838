//! How a thread is put together: dry or oiled.

/// How a thread is put together. No factor leads from one to the other: a torque holds for the
/// thread that it is given for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thread {
    /// Clean and dry.
    Dry,
    /// Oiled.
    Oiled,
}

impl Thread {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Dry, Self::Oiled];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Dry => "dry",
            Self::Oiled => "oiled",
        }
    }

    /// Reads the word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|thread| thread.word() == word)
    }
}
