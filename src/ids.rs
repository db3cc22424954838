//! Names and moments that every other module passes about, each with a type of its own.
//!
//! A value of one of these types has been checked when it was made, so nothing behind it checks
//! again. Nothing here touches files, clocks or the terminal.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, FixedOffset, SecondsFormat};

/// The longest accepted name, in bytes. Names stand in addresses, which stand in every entry.
pub const NAME_LEN_BYTES_MAX: usize = 64;

/// Why a text is not a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NameFault {
    /// The text is empty.
    #[error("a name cannot be empty")]
    Empty,
    /// The text is longer than [`NAME_LEN_BYTES_MAX`].
    #[error("a name has at most {NAME_LEN_BYTES_MAX} characters")]
    TooLong,
    /// The first character is not a small letter.
    #[error("a name starts with a small letter `a` to `z`")]
    Start,
    /// A later character is not allowed.
    #[error("a name holds small letters, digits and `_`; found `{}`", .0.escape_default())]
    Character(char),
}

fn name_fault(text: &str, extra: &[char]) -> Option<NameFault> {
    if text.len() > NAME_LEN_BYTES_MAX {
        return Some(NameFault::TooLong);
    }
    let mut chars = text.chars();
    match chars.next() {
        None => return Some(NameFault::Empty),
        Some('a'..='z') => {}
        Some(_) => return Some(NameFault::Start),
    }
    chars
        .find(|&c| {
            !(c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_' || extra.contains(&c))
        })
        .map(NameFault::Character)
}

macro_rules! name_type {
    ($(#[$doc:meta])* $name:ident, $extra:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(String);

        impl $name {
            /// Checks `text` and makes it a name.
            ///
            /// # Errors
            /// The first thing about `text` that keeps it from being a name.
            pub fn new(text: impl Into<String>) -> Result<Self, NameFault> {
                let text = text.into();
                match name_fault(&text, &$extra) {
                    Some(fault) => Err(fault),
                    None => Ok(Self(text)),
                }
            }

            /// The name as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }

            /// The name for people: `_` becomes a space.
            pub fn spoken(&self) -> String {
                self.0.replace('_', " ")
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl FromStr for $name {
            type Err = NameFault;

            fn from_str(text: &str) -> Result<Self, NameFault> {
                Self::new(text)
            }
        }
    };
}

name_type!(
    /// A step's or section's name inside its procedure, `[a-z][a-z0-9_]*` (no hyphen: `-` is minus).
    StepId, []
);
name_type!(
    /// A procedure's name.
    ProcedureId, []
);
name_type!(
    /// An equipment description's name, or the name of a family of them.
    EquipmentId, []
);
name_type!(
    /// A part's name in the equipment description.
    PartId, []
);
name_type!(
    /// A token's name: a state such as `locked` that steps set, clear and need.
    TokenId, []
);
name_type!(
    /// Any other name: a finding, a choice, a setting, a kind of position, a tool.
    Name, []
);
name_type!(
    /// A dotted name of a figure in the equipment description, such as `valve_spring.free_length`.
    FigureId, ['.']
);
name_type!(
    /// A person's name in the roster, such as `i.varga`.
    PersonId, ['.']
);

/// A job's name, `YYYY-NNNN`, which is also the name of its folder.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JobId(String);

impl JobId {
    /// Makes the name of the `number`th job of `year`.
    pub fn numbered(year: i32, number: u32) -> Self {
        Self(format!("{year:04}-{number:04}"))
    }

    /// Reads a job name, or `None` when `text` is not of the form `YYYY-NNNN`.
    pub fn parse(text: &str) -> Option<Self> {
        let (year, number) = text.split_once('-')?;
        let digits =
            |s: &str| s.len() >= 4 && s.len() <= 9 && s.bytes().all(|b| b.is_ascii_digit());
        (year.len() == 4 && digits(year) && digits(number)).then(|| Self(text.to_owned()))
    }

    /// The year and the number of the job.
    pub fn parts(&self) -> (i32, u32) {
        let (year, number) = self.0.split_once('-').unwrap_or(("0", "0"));
        (year.parse().unwrap_or(0), number.parse().unwrap_or(0))
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A procedure's, equipment file's or roster's revision, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Revision(pub u32);

impl fmt::Display for Revision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// What a person may do, from least to most. A mechanic may do whatever an apprentice may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Carries out steps.
    Apprentice,
    /// Certified: decides doubtful parts, releases holds, signs for the job.
    Mechanic,
    /// Writes procedures; performs nothing by that role.
    Author,
}

impl Role {
    /// Every role with its word in files and on the screen.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Apprentice, "apprentice"), (Self::Mechanic, "mechanic"), (Self::Author, "author")];

    /// The role's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Apprentice => "apprentice",
            Self::Mechanic => "mechanic",
            Self::Author => "author",
        }
    }

    /// Reads a role's word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, w)| *w == word).map(|(role, _)| *role)
    }

    /// True when someone with this role may do what `needed` asks for.
    pub fn covers(self, needed: Self) -> bool {
        self == needed || (self == Self::Mechanic && needed == Self::Apprentice)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A point in time with its offset from UTC, to the millisecond.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(DateTime<FixedOffset>);

impl Moment {
    /// Cuts `time` to whole milliseconds, so that a moment survives being written and read.
    pub fn new(time: DateTime<FixedOffset>) -> Self {
        use chrono::SubsecRound as _;
        Self(time.trunc_subsecs(3))
    }

    /// Reads an RFC 3339 time; one without an offset is refused.
    pub fn parse(text: &str) -> Option<Self> {
        DateTime::parse_from_rfc3339(text).ok().map(Self::new)
    }

    /// The time itself.
    pub fn time(self) -> DateTime<FixedOffset> {
        self.0
    }

    /// The calendar day where the time was taken.
    pub fn day(self) -> chrono::NaiveDate {
        self.0.date_naive()
    }

    /// For people: an unambiguous day, the time to the minute and the offset.
    pub fn spoken(self) -> String {
        self.0.format("%-d %b %Y %H:%M (%:z)").to_string()
    }
}

impl fmt::Display for Moment {
    /// RFC 3339 with milliseconds, the form in every file.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.to_rfc3339_opts(SecondsFormat::Millis, true))
    }
}

/// How long the machine has been on, counted by a clock that nobody can set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BootClock {
    /// The hash of what names this boot: readings of different boots cannot be compared.
    pub boot: Sha256,
    /// Whole seconds since the boot, sleep counted in.
    pub seconds: u64,
}

/// The time of a move: the wall clock, and the clock since boot where the machine has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Now {
    /// What the wall clock says.
    pub wall: Moment,
    /// What the clock since boot says.
    pub boot: Option<BootClock>,
}

impl From<Moment> for Now {
    fn from(wall: Moment) -> Self {
        Self { wall, boot: None }
    }
}

/// A SHA-256 digest.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sha256([u8; 32]);

impl Sha256 {
    /// 64 zeros: what stands before the first entry.
    pub const ZERO: Self = Self([0; 32]);

    /// The digest of `bytes`.
    pub fn of(bytes: &[u8]) -> Self {
        use sha2::Digest as _;
        Self(sha2::Sha256::digest(bytes).into())
    }

    /// Reads 64 small hexadecimal digits.
    pub fn parse(text: &str) -> Option<Self> {
        if text.len() != 64 || !text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
            return None;
        }
        let mut bytes = [0u8; 32];
        for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
            *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Sha256({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_checked_when_made() {
        assert!(StepId::new("spring_2").is_ok());
        assert_eq!(StepId::new(""), Err(NameFault::Empty));
        assert_eq!(StepId::new("2nd"), Err(NameFault::Start));
        assert_eq!(StepId::new("free-length"), Err(NameFault::Character('-')));
        assert_eq!(StepId::new("a.b"), Err(NameFault::Character('.')));
        assert!(PersonId::new("i.varga").is_ok());
        assert_eq!(StepId::new("a".repeat(65)), Err(NameFault::TooLong));
    }

    #[test]
    fn a_moment_needs_an_offset_and_survives_being_written() {
        assert!(Moment::parse("2026-11-25T10:00:00").is_none());
        let moment = Moment::parse("2026-11-25T10:00:00.123+01:00").unwrap();
        assert_eq!(Moment::parse(&moment.to_string()), Some(moment));
        assert_eq!(moment.to_string(), "2026-11-25T10:00:00.123+01:00");
    }

    #[test]
    fn sha256_of_the_empty_text_is_the_published_value() {
        // FIPS 180-4 example values, restated in every implementation's own tests.
        let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(Sha256::of(b"").to_string(), empty);
        assert_eq!(Sha256::parse(empty), Some(Sha256::of(b"")));
        assert!(Sha256::parse(&empty.to_uppercase()).is_none());
    }

    #[test]
    fn a_mechanic_covers_an_apprentice_and_an_author_covers_neither() {
        assert!(Role::Mechanic.covers(Role::Apprentice));
        assert!(!Role::Apprentice.covers(Role::Mechanic));
        assert!(!Role::Author.covers(Role::Apprentice));
    }
}
