//! What a bench needs of the shop: its open jobs, its machines, what is approved for each.

use std::collections::BTreeSet;

use super::history::{Glance, OpenJob};
use super::open::OpenShop;
use crate::ids::{EquipmentId, JobId, Moment, PersonId, ProcedureId};
use crate::shop::model::ShopKind;
use crate::source::{FileId, Source};
use crate::walk::open::Open;

/// The largest procedure file that is looked at for its head.
const FILE_LEN_BYTES_MAX: u64 = 1 << 20;

/// A procedure that may be opened on a machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// The procedure.
    pub procedure: ProcedureId,
    /// Its title.
    pub title: String,
    /// Its revision.
    pub revision: u32,
}

/// The shop as a bench sees it. Nothing here writes.
pub trait Shop {
    /// Its name for people.
    fn title(&self) -> String;
    /// True for a demo shop.
    fn is_demo(&self) -> bool;
    /// The time.
    fn now(&self) -> Moment;
    /// The name of a person.
    fn name(&self, person: &PersonId) -> String;
    /// Jobs without a signed record, newest first.
    ///
    /// # Errors
    /// Why the list cannot be read.
    fn job_ids(&self) -> Result<Vec<JobId>, String>;
    /// How a job stands, by the ends of its journal.
    fn glance(&self, id: &JobId) -> Glance;
    /// How a job stands, its whole journal being checked; `None` once it is released.
    fn open_job(&self, id: &JobId) -> Option<OpenJob>;
    /// What is open on a job.
    fn what_is_open(&self, id: &JobId) -> Option<Open>;
    /// The machines: tag and one line for people.
    fn machines(&self) -> Vec<(String, String)>;
    /// What is approved for a machine. Opening it checks everything once more.
    ///
    /// # Errors
    /// Why that cannot be told.
    fn offers(&self, tag: &str) -> Result<Vec<Offer>, String>;
}

impl Shop for OpenShop {
    fn title(&self) -> String {
        self.shop().title.clone()
    }

    fn is_demo(&self) -> bool {
        self.shop().kind == ShopKind::Demo
    }

    fn now(&self) -> Moment {
        self.clock().now()
    }

    fn name(&self, person: &PersonId) -> String {
        self.shop().called(person).to_owned()
    }

    fn job_ids(&self) -> Result<Vec<JobId>, String> {
        self.jobs_without_record().map_err(|error| error.to_string())
    }

    fn glance(&self, id: &JobId) -> Glance {
        Self::glance(self, id)
    }

    fn open_job(&self, id: &JobId) -> Option<OpenJob> {
        Self::open_job(self, id)
    }

    fn what_is_open(&self, id: &JobId) -> Option<Open> {
        Self::what_is_open(self, id)
    }

    fn machines(&self) -> Vec<(String, String)> {
        let line = |m: &crate::shop::model::Machine| {
            (m.tag.clone(), format!("{}, serial {}", m.title, m.serial))
        };
        self.shop().machines.iter().map(line).collect()
    }

    fn offers(&self, tag: &str) -> Result<Vec<Offer>, String> {
        let machine = self.machine(tag).map_err(|error| error.to_string())?;
        let kinds = self.kinds(&machine.equipment);
        let mut offers = Vec::new();
        let mut performed = BTreeSet::new();
        for id in self.approved_procedures() {
            let path = self.folder.procedures().join(format!("{id}.yaml"));
            let Ok(bytes) = self.disk().read(&path, FILE_LEN_BYTES_MAX) else { continue };
            let Ok(text) = String::from_utf8(bytes) else { continue };
            let source = Source::new(format!("{id}.yaml"), text);
            let (read, _) = crate::procedure::read(FileId(0), &source);
            let Some(read) = read.filter(|read| kinds.contains(&read.equipment.value)) else {
                continue;
            };
            performed.extend(crate::walk::compile::performed(&read.steps));
            // One that rests on what another does first is no job of its own.
            if !read.assumes.is_empty() {
                continue;
            }
            let revision = read.revision.0;
            offers.push(Offer { procedure: id, title: read.title.clone(), revision });
        }
        // Nor is one that asks of what only the procedure around it has answered.
        let stands_alone = |id: &ProcedureId| self.files(id, &machine.equipment).is_ok();
        offers.retain(|o| !performed.contains(&o.procedure) || stands_alone(&o.procedure));
        Ok(offers)
    }
}

impl OpenShop {
    /// The equipment file of that id, and the family that it belongs to.
    fn kinds(&self, equipment: &EquipmentId) -> Vec<EquipmentId> {
        let mut kinds = vec![equipment.clone()];
        let path = self.folder.equipment().join(format!("{equipment}.yaml"));
        let read = self.disk().read(&path, FILE_LEN_BYTES_MAX).ok();
        if let Some(text) = read.and_then(|bytes| String::from_utf8(bytes).ok()) {
            let source = Source::new(format!("{equipment}.yaml"), text);
            let (read, _) = crate::equipment::read(FileId(0), &source);
            kinds.extend(read.and_then(|read| read.family).map(|family| family.value));
        }
        kinds
    }
}
