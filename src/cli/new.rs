//! `new`: a file to begin with, commented, that checks clean as it stands.

use std::path::Path;

use super::NewArguments;
use super::exit;
use super::out::Out;
use super::report::Failure;
use crate::ids::Name;
use crate::ports::{Disk as _, Overwrite};
use crate::store::{OsDisk, StoreError};

/// The kinds of file that can be begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Kind {
    /// How something is done.
    Procedure,
    /// What a machine type is made of, and its figures.
    Equipment,
    /// Scripted answers, and what must come of them.
    Rehearsal,
    /// People, instruments and machines.
    Shop,
}

impl Kind {
    fn template(self) -> &'static str {
        match self {
            Self::Procedure => include_str!("new/procedure.yaml"),
            Self::Equipment => include_str!("new/equipment.yaml"),
            Self::Rehearsal => include_str!("new/rehearsal.yaml"),
            Self::Shop => include_str!("new/shop.yaml"),
        }
    }
}

/// What stands in the templates where the file's own id belongs.
const ID: &str = "new_id";

pub(super) fn run(arguments: &NewArguments, out: Out) -> Result<u8, Failure> {
    let id = &arguments.id;
    if Name::new(id.as_str()).is_err() {
        return Err(Failure::usage(format!("`{id}` is not an id"))
            .hint("small letters, digits and `_`, a letter first, such as `seal_change`"));
    }
    let folder = arguments.folder.as_path();
    let name = format!("{id}.yaml");
    let path = if folder == Path::new(".") { Path::new(&name).into() } else { folder.join(&name) };
    if OsDisk.exists(&path).map_err(StoreError::from)? {
        return Err(Failure::usage(format!("`{}` is there already", path.display()))
            .hint("take another id, or delete that file yourself; nothing was changed"));
    }
    let text = arguments.kind.template().replace(ID, id);
    OsDisk.write_new(&path, text.as_bytes(), Overwrite::Never).map_err(StoreError::from)?;
    out.line(&path.display().to_string());
    out.line(&format!("next: witnessmark check --watch {}", path.display()));
    Ok(exit::OK)
}
