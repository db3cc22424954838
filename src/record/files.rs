//! The files that a job is worked by: read together from the bytes below its `files/` folder.
//!
//! The same function serves opening a job and judging a finished one, so that both see the same.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::approvals::{FileKind, Subject};
use super::closure::FileInHand;
use crate::diag::{Diagnostic, has_errors, render};
use crate::equipment::{self, model::Equipment};
use crate::ids::{EquipmentId, Name, ProcedureId, Sha256};
use crate::procedure::{self, model::Procedure};
use crate::shop::{self, model::Shop};
use crate::source::{FileId, Source, Sources, Span};
use crate::walk::compile::performed;
use crate::walk::job::Files;
use crate::walk::{Library, compile};

/// The shop file's name below `files/`.
pub const SHOP: &str = "shop.yaml";
/// The signature of the shop file.
pub const SHOP_SIGNATURE: &str = "shop.yaml.sig";
/// The list of approvals.
pub const APPROVALS: &str = "approvals.jsonl";
/// The signature of the list of approvals.
pub const APPROVALS_SIGNATURE: &str = "approvals.jsonl.sig";

/// A procedure's name below `files/`.
pub fn procedure_name(id: &ProcedureId) -> String {
    format!("procedure-{id}.yaml")
}

/// An equipment file's name below `files/`.
pub fn equipment_name(id: &EquipmentId) -> String {
    format!("equipment-{id}.yaml")
}

/// Why a set of files cannot be worked by.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FilesFault {
    /// A file is not there.
    #[error("`{0}` is not among the files; restore it from where the job was opened")]
    Missing(String),
    /// A file is not text.
    #[error("`{0}` is not UTF-8 text")]
    NotText(String),
    /// Files have mistakes; their messages, ready to show.
    #[error("the files have mistakes:\n{0}")]
    Mistakes(String),
}

/// A set of files that fits together.
#[derive(Debug, Clone)]
pub struct JobFiles {
    /// What the walk needs.
    pub files: Files,
    /// Every procedure and the equipment file, for approval.
    pub in_hand: BTreeMap<Subject, FileInHand>,
    /// Warnings, ready to show; empty when there are none.
    pub warnings: String,
}

/// Reads the files of a job of `procedure` on `equipment`. `bytes` are by name below `files/`.
///
/// # Errors
/// A missing file, or every mistake of all of them together.
pub fn load(
    bytes: &BTreeMap<String, Vec<u8>>,
    procedure: &ProcedureId,
    equipment: &EquipmentId,
) -> Result<JobFiles, FilesFault> {
    let mut reader = Reader { bytes, sources: Sources::default(), out: Vec::new() };
    let shop = reader.shop()?;
    let (equipment, equipment_hash) = reader.equipment(equipment)?;
    let (procedures, hashes) = reader.closure(procedure)?;
    let (Some(shop), Some(equipment), false) = (shop, equipment, has_errors(&reader.out)) else {
        return Err(reader.mistakes());
    };
    let in_hand = in_hand(&procedures, &hashes, &equipment, equipment_hash);
    let library = Library { procedures, equipment: Arc::new(equipment) };
    let (flow, diagnostics) = compile(&library, procedure, Span::new(FileId(0), 0, 0));
    reader.out.extend(diagnostics);
    let Some(flow) = flow else { return Err(reader.mistakes()) };
    let warnings = render::terminal(&reader.out, &reader.sources, false);
    let files = Files { flow: Arc::new(flow), shop: Arc::new(shop) };
    Ok(JobFiles { files, in_hand, warnings })
}

struct Reader<'a> {
    bytes: &'a BTreeMap<String, Vec<u8>>,
    sources: Sources,
    out: Vec<Diagnostic>,
}

impl Reader<'_> {
    fn mistakes(&self) -> FilesFault {
        let errors: Vec<Diagnostic> = self.out.iter().filter(|d| d.is_error()).cloned().collect();
        FilesFault::Mistakes(render::terminal(&errors, &self.sources, false))
    }

    fn source(&mut self, name: &str) -> Result<(FileId, Source, Sha256), FilesFault> {
        let bytes = self.bytes.get(name).ok_or_else(|| FilesFault::Missing(name.to_owned()))?;
        let text =
            std::str::from_utf8(bytes).ok().ok_or_else(|| FilesFault::NotText(name.to_owned()))?;
        let source = Source::new(name, text);
        let id = self.sources.add(source.clone());
        Ok((id, source, Sha256::of(bytes)))
    }

    fn shop(&mut self) -> Result<Option<Shop>, FilesFault> {
        let (id, source, _) = self.source(SHOP)?;
        let (shop, diagnostics) = shop::read(id, &source);
        self.out.extend(diagnostics);
        Ok(shop)
    }

    fn equipment(
        &mut self,
        equipment: &EquipmentId,
    ) -> Result<(Option<Equipment>, Sha256), FilesFault> {
        let (id, source, hash) = self.source(&equipment_name(equipment))?;
        let (found, diagnostics) = equipment::read(id, &source);
        self.out.extend(diagnostics);
        Ok((found, hash))
    }

    #[expect(clippy::type_complexity, reason = "two maps by the same key, taken apart at once")]
    fn closure(
        &mut self,
        top: &ProcedureId,
    ) -> Result<(BTreeMap<ProcedureId, Arc<Procedure>>, BTreeMap<ProcedureId, Sha256>), FilesFault>
    {
        let mut found = BTreeMap::new();
        let mut hashes = BTreeMap::new();
        let mut todo = vec![top.clone()];
        while let Some(id) = todo.pop() {
            if hashes.contains_key(&id) {
                continue;
            }
            // A performed procedure that is not there is `compile`'s to report, at its place.
            let name = procedure_name(&id);
            if id != *top && !self.bytes.contains_key(&name) {
                continue;
            }
            let (file, source, hash) = self.source(&name)?;
            let (procedure, diagnostics) = procedure::read(file, &source);
            self.out.extend(diagnostics);
            hashes.insert(id.clone(), hash);
            if let Some(procedure) = procedure {
                todo.extend(performed(&procedure.steps));
                found.insert(id, Arc::new(procedure));
            }
        }
        Ok((found, hashes))
    }
}

/// The subject that approvals know a procedure by.
pub fn procedure_subject(id: &ProcedureId) -> Subject {
    let id = Name::new(id.as_str()).expect("internal: procedure ids and names share their rules");
    Subject { of: FileKind::Procedure, id }
}

/// The subject that approvals know an equipment file by.
pub fn equipment_subject(id: &EquipmentId) -> Subject {
    let id = Name::new(id.as_str()).expect("internal: equipment ids and names share their rules");
    Subject { of: FileKind::Equipment, id }
}

fn in_hand(
    procedures: &BTreeMap<ProcedureId, Arc<Procedure>>,
    hashes: &BTreeMap<ProcedureId, Sha256>,
    equipment: &Equipment,
    equipment_hash: Sha256,
) -> BTreeMap<Subject, FileInHand> {
    let mut in_hand = BTreeMap::new();
    for (id, procedure) in procedures {
        let Some(sha256) = hashes.get(id).copied() else { continue };
        let refers = performed(&procedure.steps)
            .into_iter()
            .filter_map(|called| Some((procedure_subject(&called), *hashes.get(&called)?)))
            .collect();
        let authors = procedure
            .revisions
            .iter()
            .filter(|note| note.revision == procedure.revision)
            .map(|note| note.by.clone())
            .collect();
        let file = FileInHand {
            revision: procedure.revision,
            effective: procedure.effective,
            sha256,
            refers,
            authors,
        };
        in_hand.insert(procedure_subject(id), file);
    }
    let authors = equipment
        .revisions
        .iter()
        .filter(|note| note.revision == equipment.revision)
        .map(|note| note.by.clone())
        .collect();
    let file = FileInHand {
        revision: equipment.revision,
        effective: equipment.effective,
        sha256: equipment_hash,
        refers: BTreeMap::new(),
        authors,
    };
    in_hand.insert(equipment_subject(&equipment.id.value), file);
    in_hand
}
