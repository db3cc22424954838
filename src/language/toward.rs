//! Which way along the flow: the order in which a stack is laid, and where a marked face points.

/// Which way along the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Toward {
    /// The way the liquid runs.
    WithFlow,
    /// The other way.
    AgainstFlow,
}

impl Toward {
    /// Both.
    pub const ALL: [Self; 2] = [Self::WithFlow, Self::AgainstFlow];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::WithFlow => "with_flow",
            Self::AgainstFlow => "against_flow",
        }
    }

    /// Reads the word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|toward| toward.word() == word)
    }
}
