//! Writes the files that are made from the program: schemas and the listing of the language.

use std::path::Path;
use std::rc::Rc;

use super::exit;
use super::out::Out;
use super::report::Failure;
use crate::calc;
use crate::journal;
use crate::language::{self, FileKind};
use crate::ports::{Disk, Overwrite};
use crate::record::completion::Record;
use crate::store::{OsDisk, StoreError};

/// What to write.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(super) enum What {
    /// `schemas/*.schema.json`, in this folder.
    Schemas,
    /// The keys of all four kinds of file, as Markdown, to standard output.
    Language,
}

const KINDS: [FileKind; 4] =
    [FileKind::Procedure, FileKind::Equipment, FileKind::Rehearsal, FileKind::Shop];

pub(super) fn run(what: What, out: Out) -> Result<u8, Failure> {
    match what {
        What::Schemas => {
            let disk: Rc<dyn Disk> = Rc::new(OsDisk);
            let folder = Path::new("schemas");
            if !disk.exists(folder).map_err(StoreError::from)? {
                disk.create_dir(folder).map_err(StoreError::from)?;
            }
            for kind in KINDS {
                let path = folder.join(format!("{}.schema.json", kind.word()));
                disk.write_new(&path, language::schema(kind).as_bytes(), Overwrite::Replace)
                    .map_err(StoreError::from)?;
                out.line(&format!("{}", path.display()));
            }
            let made = [
                ("calc", calc::schema()),
                ("journal", journal::schema()),
                ("record", Record::schema()),
            ];
            for (name, schema) in made {
                let path = folder.join(format!("{name}.schema.json"));
                disk.write_new(&path, schema.as_bytes(), Overwrite::Replace)
                    .map_err(StoreError::from)?;
                out.line(&format!("{}", path.display()));
            }
        }
        What::Language => {
            for kind in KINDS {
                out.line(&language::listing(kind));
            }
        }
    }
    Ok(exit::OK)
}
