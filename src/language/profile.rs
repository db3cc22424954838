//! How a part looks from the side, cut through: what a stack is drawn from.

/// How a part looks from the side. A part is drawn the way up that its marked face points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// Two cut ends and nothing between them.
    Ring,
    /// A ring with a slope that opens to its marked face.
    Seat,
    /// A thin disc with a stem on its marked face.
    Disc,
    /// Coils.
    Spring,
    /// A frame with bars, open at its marked face.
    Cage,
    /// A plate from edge to edge.
    Plate,
    /// A head on a shank.
    Screw,
    /// A thick body.
    Block,
}

impl Profile {
    /// Every one.
    pub const ALL: [Self; 8] = [
        Self::Ring,
        Self::Seat,
        Self::Disc,
        Self::Spring,
        Self::Cage,
        Self::Plate,
        Self::Screw,
        Self::Block,
    ];

    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ring => "ring",
            Self::Seat => "seat",
            Self::Disc => "disc",
            Self::Spring => "spring",
            Self::Cage => "cage",
            Self::Plate => "plate",
            Self::Screw => "screw",
            Self::Block => "block",
        }
    }

    /// Reads the word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|profile| profile.word() == word)
    }
}
