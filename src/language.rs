//! The language of the four kinds of file: its keys in one table, and what is made from the table.
//!
//! `conform` holds a file against the table and reports every fault of shape; the readers beside
//! the models then take the values and look at what they mean. JSON Schemas and the listing for
//! people come from the same table.

mod conform;
pub mod fields;
mod listing;
mod profile;
mod revision_note;
mod schema;
mod table;
pub(crate) mod take;
pub mod texts;
mod thread;
mod toward;
pub mod words;

pub use listing::listing;
pub use profile::Profile;
pub use revision_note::RevisionNote;
pub use schema::schema;
pub use table::{EQUIPMENT, PROCEDURE, REHEARSAL, SHOP};
pub use thread::Thread;
pub use toward::Toward;

use crate::diag::{Code, Diagnostic, has_errors};
use crate::source::{FileId, Source, Span};
use crate::yaml::{self, Node};
use fields::Mapping;
use take::Lower;

/// The newest version of the language that this program reads.
///
/// - 1.1: `headline` at steps, `mode` of sections, `energy` and `compare` at the head, `blind` readings,
///   limits that hold at some temperatures, what a step `disturbs`, the certificate, the check at zero
///   and the loads of an instrument.
/// - 1.0: the first.
pub const FORMAT: &str = "1.1";

/// Every version that it reads, oldest first. A file has the keys of its own version only, so that a
/// program of that version can read it too.
pub const FORMATS: [&str; 2] = ["1.0", FORMAT];

/// The four kinds of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FileKind {
    /// How something is done.
    Procedure,
    /// What a machine type is made of.
    Equipment,
    /// A procedure played with scripted answers.
    Rehearsal,
    /// Who works here, with what.
    Shop,
}

impl FileKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Procedure, Self::Equipment, Self::Rehearsal, Self::Shop];

    /// The kind's word, which is also the key that tells it.
    pub fn word(self) -> &'static str {
        self.mapping().name
    }

    /// The root of such a file.
    pub fn mapping(self) -> &'static Mapping {
        match self {
            Self::Procedure => &PROCEDURE,
            Self::Equipment => &EQUIPMENT,
            Self::Rehearsal => &REHEARSAL,
            Self::Shop => &SHOP,
        }
    }
}

/// The kind of file that `root` is, told by the keys that are there.
pub fn kind_of(root: &Node) -> Option<FileKind> {
    // A rehearsal names its procedure, and a procedure its equipment, so the order matters.
    [FileKind::Shop, FileKind::Rehearsal, FileKind::Procedure, FileKind::Equipment]
        .into_iter()
        .find(|kind| root.get(kind.word()).is_some())
}

/// Reads a file of one kind: text, shape, then meaning. The model is there only without errors.
pub(crate) fn read<T>(
    (file, source): (FileId, &Source),
    kind: FileKind,
    lower: impl FnOnce(&Node, &mut Lower<'_>) -> Option<T>,
) -> (Option<T>, Vec<Diagnostic>) {
    match yaml::parse(file, source) {
        (None, found) => (None, found),
        (Some(root), found) => read_tree((file, source), (&root, found), kind, lower),
    }
}

/// The same, of a text that was parsed already, with what was wrong with it as such.
pub(crate) fn read_tree<T>(
    (file, source): (FileId, &Source),
    (root, mut found): (&Node, Vec<Diagnostic>),
    kind: FileKind,
    lower: impl FnOnce(&Node, &mut Lower<'_>) -> Option<T>,
) -> (Option<T>, Vec<Diagnostic>) {
    if root.kind == yaml::Kind::Refused {
        return (None, found);
    }
    if let Some(fault) = wrong_file(root, kind) {
        found.push(fault);
        return (None, found);
    }
    let mut faults = conform::check(file, source, root, kind.mapping());
    let mut lowering = Lower::new(file, source);
    lowering.compare = root.get("compare").and_then(yaml::Node::text).map(str::to_owned);
    let model = lower(root, &mut lowering);
    faults.append(&mut lowering.found);
    // A text spoilt by a hidden character is one mistake, whatever else is wrong with it then.
    let hidden = found.iter().filter(|fault| fault.code == Code::ControlCharacter);
    let hidden: Vec<Span> = hidden.map(|fault| fault.primary.span).collect();
    faults.retain(|fault| {
        let at = fault.primary.span;
        !hidden.iter().any(|spot| at.start <= spot.start && spot.end <= at.end)
    });
    found.append(&mut faults);
    found.sort_by_key(|fault| fault.primary.span.start);
    if has_errors(&found) {
        return (None, found);
    }
    if model.is_none() {
        let headline = format!("this file cannot be read as {}", kind.mapping().noun);
        found.push(Diagnostic::error(Code::BadValue, root.span, headline));
    }
    (model, found)
}

/// What makes the rest of a file not worth reading: another version, another kind, no mapping.
fn wrong_file(root: &Node, kind: FileKind) -> Option<Diagnostic> {
    if !matches!(root.kind, yaml::Kind::Map(_)) {
        let headline = format!("{} is a mapping of keys and values", kind.mapping().noun);
        return Some(
            Diagnostic::error(Code::BadValue, root.span, headline)
                .help(format!("start it with `format: \"{FORMAT}\"`")),
        );
    }
    if let Some((span, text)) = root.get("format").and_then(|n| Some((n.span, n.text()?)))
        && !FORMATS.contains(&text)
    {
        let headline = format!("format `{text}` is not one that this program reads");
        let known = FORMATS.map(|known| format!("`\"{known}\"`")).join(" and ");
        return Some(
            Diagnostic::error(Code::FormatVersion, span, headline)
                .help(format!("this program reads format {known}")),
        );
    }
    match kind_of(root) {
        Some(found) if found != kind => {
            let (key, _) = root.entries().iter().find(|(key, _)| key.value == found.word())?;
            let (is, wanted) = (found.mapping().noun, kind.mapping().noun);
            Some(
                Diagnostic::error(Code::BadValue, key.span, format!("this is {is}, not {wanted}"))
                    .help(format!("the key `{}` makes it {is}", found.word())),
            )
        }
        _ => None,
    }
}

/// Where a message about a whole mapping points: its first key, or its brackets when it is empty.
pub(crate) fn head(node: &Node) -> Span {
    node.entries().first().map_or(node.span, |(key, _)| key.span)
}
