//! Finds the files that rehearsals are played with: those beside them, in the layout of a shop.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use super::super::RehearseArguments;
use super::super::report::{Failure, Kind};
use crate::demo;
use crate::diag::{has_errors, render};
use crate::ids::{EquipmentId, ProcedureId};
use crate::language::{self, FileKind};
use crate::ports::{Clock as _, Disk as _};
use crate::procedure::model::Procedure;
use crate::rehearsal::{self, model::Rehearsal};
use crate::rehearse::{Shelf, Text};
use crate::source::{Source, Sources};
use crate::store::{OsDisk, StoreError, SystemClock};
use crate::yaml;

const FILE_LEN_BYTES_MAX: u64 = 1 << 20;

/// All that was found.
pub(super) struct Input {
    /// Where the procedures lie.
    pub(super) folder: PathBuf,
    /// The files to play with.
    pub(super) shelf: Shelf,
    /// The rehearsals named, with their files.
    pub(super) rehearsals: Vec<(Source, Rehearsal)>,
    /// The procedures named.
    pub(super) procedures: Vec<Procedure>,
    /// What people should know of how it was found.
    pub(super) notes: Vec<String>,
}

/// Reads the files named and those beside them.
pub(super) fn input(arguments: &RehearseArguments) -> Result<Input, Failure> {
    let mut notes = Vec::new();
    let folder = match &arguments.folder {
        Some(folder) => folder.clone(),
        None => folder_of(&arguments.files)?,
    };
    let shelf = Shelf {
        procedures: texts(&folder, |stem| ProcedureId::new(stem).ok())?,
        equipment: texts(&folder.join("equipment"), |stem| EquipmentId::new(stem).ok())?,
        shop: shop(arguments, &folder, &mut notes)?,
    };
    let mut input = Input { folder, shelf, rehearsals: Vec::new(), procedures: Vec::new(), notes };
    for path in &arguments.files {
        named(path, &mut input)?;
    }
    Ok(input)
}

/// The folder with the procedures: the first above a file that has a folder `equipment`.
pub(in crate::cli) fn folder_of(files: &[PathBuf]) -> Result<PathBuf, Failure> {
    for file in files {
        let parent = file.parent().unwrap_or(Path::new(""));
        let above = match parent.parent() {
            Some(above) if !parent.ends_with("..") => above.to_owned(),
            _ => parent.join(".."),
        };
        for folder in [parent.to_owned(), above, parent.join("procedures")] {
            if OsDisk.exists(&folder.join("equipment")).map_err(StoreError::from)? {
                return Ok(folder);
            }
        }
    }
    Err(Failure::usage("no procedures were found beside these files")
        .hint("they are looked for where there is a folder `equipment`, beside or above a file")
        .hint("or name their folder with `--folder DIR`"))
}

fn read(path: &Path) -> Result<Text, Failure> {
    let bytes = OsDisk.read(path, FILE_LEN_BYTES_MAX).map_err(StoreError::from)?;
    let name = path.display().to_string();
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Text { name, text }),
        Err(_not_text) => Err(Failure::new(Kind::Findings, format!("`{name}` is not UTF-8 text"))
            .hint("save the file as UTF-8")),
    }
}

/// The YAML files of a folder whose names are ids.
fn texts<Id: Ord>(
    folder: &Path,
    id_of: impl Fn(String) -> Option<Id>,
) -> Result<BTreeMap<Id, Text>, Failure> {
    let mut out = BTreeMap::new();
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    for entry in OsDisk.list(here).map_err(StoreError::from)? {
        let path = folder.join(&entry.name);
        let stem = path.file_stem().and_then(OsStr::to_str).map(str::to_owned);
        let is_yaml = path.extension().is_some_and(|ending| ending == "yaml");
        let Some(id) = stem.filter(|_| is_yaml).and_then(&id_of) else {
            continue;
        };
        out.insert(id, read(&path)?);
    }
    Ok(out)
}

fn shop(
    arguments: &RehearseArguments,
    folder: &Path,
    notes: &mut Vec<String>,
) -> Result<Text, Failure> {
    if let Some(path) = &arguments.shop_file {
        return read(path);
    }
    shop_beside(folder, notes)
}

/// The shop file beside or above the procedures, or the demo's.
pub(in crate::cli) fn shop_beside(folder: &Path, notes: &mut Vec<String>) -> Result<Text, Failure> {
    // The name of what lies above `.` or `..` is not in their own.
    let above = match folder.parent() {
        Some(above) if folder.file_name().is_some() => above.to_owned(),
        _ => folder.join(".."),
    };
    for path in [folder.join("shop.yaml"), above.join("shop.yaml")] {
        if OsDisk.exists(&path).map_err(StoreError::from)? {
            return read(&path);
        }
    }
    notes.push(
        "no `shop.yaml` beside or above the procedures, so the demo's people, instruments and \
         machines are used; name yours with `--shop-file FILE`"
            .to_owned(),
    );
    let text = demo::sample_shop(SystemClock.now());
    Ok(Text { name: "the demo's shop file".to_owned(), text })
}

/// Takes up a file that was named: a rehearsal or a procedure.
fn named(path: &Path, input: &mut Input) -> Result<(), Failure> {
    let file = read(path)?;
    let mut sources = Sources::default();
    let source = Source::new(file.name.as_str(), file.text.as_str());
    let id = sources.add(source.clone());
    let (node, mut found) = yaml::parse(id, &source);
    match node.as_ref().and_then(language::kind_of) {
        Some(FileKind::Rehearsal) => {
            let (script, diagnostics) = rehearsal::read(id, &source);
            found = diagnostics;
            input.rehearsals.extend(script.map(|script| (source, script)));
        }
        Some(FileKind::Procedure) => {
            let (procedure, diagnostics) = crate::procedure::read(id, &source);
            found = diagnostics;
            input.procedures.extend(procedure);
        }
        Some(FileKind::Equipment | FileKind::Shop) | None if has_errors(&found) => {}
        Some(FileKind::Equipment | FileKind::Shop) | None => {
            return Err(Failure::usage(format!("`{}` is no rehearsal", file.name))
                .hint("name rehearsal files, or procedures that have none yet"));
        }
    }
    if has_errors(&found) {
        let shown = render::terminal(&found, &sources, false);
        return Err(Failure::new(
            Kind::Findings,
            format!("`{}` cannot be played:\n{shown}", file.name),
        ));
    }
    Ok(())
}
