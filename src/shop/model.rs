//! A shop file: people with their keys and roles, instruments, machines, defaults.

use chrono::NaiveDate;

use crate::ids::{EquipmentId, Name, PersonId, Revision, Role};
use crate::source::Span;
use crate::units::Quantity;

/// Whether jobs of this shop count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShopKind {
    /// Real work.
    Record,
    /// A made-up shop to try the program; stands in every record and on every screen.
    Demo,
}

impl ShopKind {
    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Record => "record",
            Self::Demo => "demo",
        }
    }
}

/// A shop file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shop {
    /// Its id.
    pub id: Name,
    /// One line for people.
    pub title: String,
    /// Counted up with every change of the roster or the instrument list.
    pub revision: Revision,
    /// Whether its jobs count.
    pub kind: ShopKind,
    /// The roster, in file order.
    pub people: Vec<Person>,
    /// Instruments, in file order.
    pub instruments: Vec<Instrument>,
    /// Machines, in file order.
    pub machines: Vec<Machine>,
}

/// One person of the roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Their id, which is also the principal of their signatures.
    pub id: PersonId,
    /// Their name.
    pub name: String,
    /// What they may do.
    pub roles: Vec<Role>,
    /// Their public key, `ssh-ed25519 AAAA…` without a comment.
    pub key: String,
    /// The first day on which they are qualified.
    pub qualified_from: NaiveDate,
    /// The last day on which they are qualified.
    pub qualified_until: NaiveDate,
    /// The certificate that says so.
    pub certificate: Option<String>,
    /// The day from which the key no longer counts.
    pub revoked: Option<NaiveDate>,
    /// The language in which they read safety messages; English, where it is not said.
    pub language: Option<Name>,
    /// Where they are listed.
    pub span: Span,
}

/// How a person's listing stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Qualified.
    Qualified,
    /// Their key no longer counts, from this day on.
    Revoked(NaiveDate),
    /// Qualified from this later day on.
    NotYet(NaiveDate),
    /// Qualified until this earlier day.
    Lapsed(NaiveDate),
}

impl Person {
    /// How they stand on `day`. A revocation weighs more than the days of the qualification, both
    /// of which belong to it.
    pub fn standing(&self, day: NaiveDate) -> Standing {
        match self.revoked {
            Some(from) if from <= day => Standing::Revoked(from),
            _ if day < self.qualified_from => Standing::NotYet(self.qualified_from),
            _ if self.qualified_until < day => Standing::Lapsed(self.qualified_until),
            _ => Standing::Qualified,
        }
    }

    /// True when one of their roles covers `needed`.
    pub fn covers(&self, needed: Role) -> bool {
        self.roles.iter().any(|role| role.covers(needed))
    }
}

impl Shop {
    /// The person with this id.
    pub fn person(&self, id: &PersonId) -> Option<&Person> {
        self.people.iter().find(|person| person.id == *id)
    }

    /// The name of a person, or their id where the list does not have them.
    pub fn called<'a>(&'a self, id: &'a PersonId) -> &'a str {
        self.person(id).map_or(id.as_str(), |person| person.name.as_str())
    }

    /// The instrument with this mark.
    pub fn instrument(&self, mark: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|instrument| instrument.id == mark)
    }
}

/// How often a torque wrench was used, and how often it may be before it is calibrated again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Loads {
    /// Fasteners since its calibration, when the list was made.
    pub so_far: u32,
    /// Fasteners at which it is calibrated again.
    pub at_most: u32,
}

/// One measuring instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Instrument {
    /// The mark on it, such as `C-03`.
    pub id: String,
    /// Its kind, as procedures name it.
    pub kind: Name,
    /// One line for people.
    pub title: String,
    /// The least and greatest reading.
    pub range: (Quantity, Quantity),
    /// The smallest step that it shows.
    pub resolution: Quantity,
    /// Expanded uncertainty.
    pub uncertainty: Quantity,
    /// Coverage factor of the uncertainty, as written.
    pub k: String,
    /// The SHA-256 of the certificate's file, in hexadecimal digits.
    pub certificate_sha256: Option<String>,
    /// How far from zero it may show in the check of the day; `None` where it needs none.
    pub zero_check: Option<Quantity>,
    /// For a torque wrench whose use is counted.
    pub loads: Option<Loads>,
    /// The last day on which its calibration holds.
    pub calibration_due: NaiveDate,
    /// The certificate.
    pub certificate: String,
    /// Why it must not be used, where that is so.
    pub out_of_use: Option<String>,
    /// Where it is listed.
    pub span: Span,
}

/// One machine that the shop looks after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Machine {
    /// The mark on it, such as `P-101A`.
    pub tag: String,
    /// Its equipment file.
    pub equipment: EquipmentId,
    /// Its serial number, letter for letter.
    pub serial: String,
    /// The letter on its name plate, where it is known.
    pub fit_out: Option<String>,
    /// One line for people.
    pub title: String,
    /// Where it is listed.
    pub span: Span,
}
