//! A shop in memory, made of the user's files and of keys made on the spot, to play rehearsals in.
//!
//! A rehearsal tests a procedure, not the shop: everybody listed counts as qualified and every
//! instrument as calibrated on the day of playing. What is out of use or revoked stays so.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use chrono::TimeDelta;

use super::alone;
use super::edits::{self, Edit};
use super::memory::{Held, MemoryDisk, Ticking};
use crate::equipment;
use crate::ids::{EquipmentId, Moment, PersonId, ProcedureId};
use crate::ports::{Clock, Disk, DiskError, Overwrite, Signer};
use crate::procedure;
use crate::record::KeyPair;
use crate::rehearsal::model::Rehearsal;
use crate::session::Session;
use crate::session::open::{OpenError, OpenShop};
use crate::session::play::{Difference, Hands, PlayError, Until, differences, play, unused};
use crate::session::shop::{ApproveError, With, approve, set_up};
use crate::source::{FileId, Source};
use crate::store::{ShopFolder, StoreError};

const ROOT: &str = "/shop";
/// A mechanic who is in no real shop, and so wrote none of the files.
pub const APPROVER: &str = "rehearsal.approver";

/// A file's text, and the name that people know it by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// The name, such as its path.
    pub name: String,
    /// The text.
    pub text: String,
}

/// The files that rehearsals are played with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shelf {
    /// Procedures by the names of their files.
    pub procedures: BTreeMap<ProcedureId, Text>,
    /// Equipment files by their names.
    pub equipment: BTreeMap<EquipmentId, Text>,
    /// The shop file.
    pub shop: Text,
}

/// Why nothing can be rehearsed.
#[derive(Debug, thiserror::Error)]
pub enum RehearseError {
    /// The files do not fit together, or a machine or procedure is missing.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The files have mistakes.
    #[error(transparent)]
    Approve(#[from] ApproveError),
    /// A file is not there.
    #[error("there is no {what} `{id}` beside the rehearsals; {next}")]
    Missing {
        /// The kind of file.
        what: &'static str,
        /// Its id.
        id: String,
        /// What to do.
        next: &'static str,
    },
    /// Nobody of the shop may do it.
    #[error("`{shop}` lists nobody who may {what}; list such a person under `people`")]
    Nobody {
        /// The shop file.
        shop: String,
        /// What is to be done.
        what: &'static str,
    },
}

impl From<StoreError> for RehearseError {
    fn from(error: StoreError) -> Self {
        OpenError::from(error).into()
    }
}

impl From<DiskError> for RehearseError {
    fn from(error: DiskError) -> Self {
        StoreError::from(error).into()
    }
}

/// A rehearsal that was played as far as it went.
#[derive(Debug)]
pub struct Played {
    /// The job.
    pub session: Session,
    /// Why it went no further.
    pub stuck: Option<PlayError>,
    /// What came otherwise than expected.
    pub differences: Vec<Difference>,
    /// Scripted answers that nothing asked for, by their index.
    pub unused: Vec<usize>,
}

impl Played {
    /// True when all came as expected.
    pub fn is_as_expected(&self) -> bool {
        self.stuck.is_none() && self.differences.is_empty() && self.unused.is_empty()
    }
}

/// A shop to play in.
#[derive(Debug)]
pub struct Bench {
    disk: MemoryDisk,
    now: Moment,
    keys: BTreeMap<PersonId, Held>,
    shop_key: Held,
    approved: BTreeSet<(ProcedureId, EquipmentId)>,
}

impl Bench {
    /// Sets up a shop in memory with the files of `shelf`.
    ///
    /// # Errors
    /// Mistakes in the shop file.
    pub fn set_up(shelf: &Shelf, now: Moment) -> Result<Self, RehearseError> {
        let disk = MemoryDisk::with_root(Path::new(ROOT));
        let folder = ShopFolder::at(ROOT);
        folder.create(&disk)?;
        let write =
            |path: PathBuf, text: &str| disk.write_new(&path, text.as_bytes(), Overwrite::Replace);
        for (id, file) in &shelf.procedures {
            write(folder.procedures().join(format!("{id}.yaml")), &file.text)?;
        }
        for (id, file) in &shelf.equipment {
            write(folder.equipment().join(format!("{id}.yaml")), &file.text)?;
        }
        let (shop, keys) = staffed(&shelf.shop.text, now);
        let shop_key = Held(KeyPair::generate());
        let port: Rc<dyn Disk> = Rc::new(disk.fork());
        set_up(&port, &folder, &shop, (&shop_key.0.public(), &shop_key))?;
        let bench = Self { disk, now, keys, shop_key, approved: BTreeSet::new() };
        bench.keep(port.as_ref(), &folder)?;
        Ok(bench)
    }

    /// Takes over the shop's own files from another disk.
    fn keep(&self, from: &dyn Disk, folder: &ShopFolder) -> Result<(), RehearseError> {
        let files = [
            folder.shop_file(),
            folder.shop_signature(),
            folder.trust(),
            folder.approvals(),
            folder.approvals_signature(),
        ];
        for path in files {
            let bytes = from.read(&path, u64::MAX)?;
            self.disk.write_new(&path, &bytes, Overwrite::Replace)?;
        }
        Ok(())
    }

    /// A fresh copy of the shop, with a clock of its own.
    fn shop(&self) -> Result<OpenShop, OpenError> {
        let disk: Rc<dyn Disk> = Rc::new(self.disk.fork());
        let clock: Rc<dyn Clock> = Rc::new(Ticking::from(self.now));
        OpenShop::load(&disk, &clock, ShopFolder::at(ROOT))
    }

    /// The shop file as it is played with.
    ///
    /// # Errors
    /// The shop's own files; a mistake of the program's.
    pub fn shop_file(&self) -> Result<crate::shop::model::Shop, RehearseError> {
        Ok(self.shop()?.shop().clone())
    }

    /// Opens a job of `procedure` on the machine `tag`; alone, with all given that its callers give.
    /// Nothing is proved: that is for `check`, `prove` and the opening of a real job.
    ///
    /// # Errors
    /// An unknown machine, a missing file, or every mistake of the files.
    pub fn open(
        &mut self,
        procedure: &ProcedureId,
        tag: &str,
        is_alone: bool,
    ) -> Result<Session, RehearseError> {
        let equipment = self.shop()?.machine(tag)?.equipment.clone();
        let caller = if is_alone { self.caller(procedure, &equipment)? } else { None };
        let procedure = caller.as_ref().unwrap_or(procedure);
        let pair = (procedure.clone(), equipment);
        if !self.approved.contains(&pair) {
            self.approve(&pair)?;
            self.approved.insert(pair);
        }
        Ok(self.shop()?.rehearsed_job(procedure, tag)?)
    }

    /// Puts what performs `procedure` alone beside it. `None` where a file is missing or has mistakes,
    /// which opening the procedure itself then says.
    fn caller(
        &self,
        procedure: &ProcedureId,
        equipment: &EquipmentId,
    ) -> Result<Option<ProcedureId>, RehearseError> {
        let folder = ShopFolder::at(ROOT);
        let paths = [
            folder.procedures().join(format!("{procedure}.yaml")),
            folder.equipment().join(format!("{equipment}.yaml")),
        ];
        let mut sources = Vec::new();
        for path in paths {
            if !self.disk.exists(&path)? {
                return Ok(None);
            }
            let text = self.disk.read(&path, u64::MAX)?;
            sources.push(Source::new("file", String::from_utf8_lossy(&text).as_ref()));
        }
        let read = sources.first().and_then(|source| procedure::read(FileId(0), source).0);
        let on = sources.get(1).and_then(|source| equipment::read(FileId(0), source).0);
        let (Some(read), Some(on), Some(id)) = (read, on, alone::id_of(procedure)) else {
            return Ok(None);
        };
        let path = folder.procedures().join(format!("{id}.yaml"));
        let text = alone::caller(&read, &on);
        self.disk.write_new(&path, text.as_bytes(), Overwrite::Replace)?;
        Ok(Some(id))
    }

    fn approve(&self, pair: &(ProcedureId, EquipmentId)) -> Result<(), RehearseError> {
        let folder = ShopFolder::at(ROOT);
        let missing =
            |what, id: &str, next| RehearseError::Missing { what, id: id.to_owned(), next };
        let (procedure, equipment) = pair;
        if !self.disk.exists(&folder.procedures().join(format!("{procedure}.yaml")))? {
            let next = "name its folder with `--folder`, or mend `procedure` in the rehearsal";
            return Err(missing("procedure", procedure.as_str(), next));
        }
        if !self.disk.exists(&folder.equipment().join(format!("{equipment}.yaml")))? {
            let next = "put it into the folder `equipment` there";
            return Err(missing("equipment file", equipment.as_str(), next));
        }
        let disk: Rc<dyn Disk> = Rc::new(self.disk.fork());
        // Approved before any job is opened.
        let earlier = Moment::new(self.now.time() - TimeDelta::hours(1));
        let clock: Rc<dyn Clock> = Rc::new(Ticking::from(earlier));
        let person = approver();
        let key = self.keys.get(&person).expect("internal: the approver was given a key");
        let with = With { person: &person, key };
        approve(&disk, &clock, &folder, (procedure, equipment), with, &self.shop_key)?;
        self.keep(disk.as_ref(), &folder)
    }

    /// Plays `script` as far as it goes.
    ///
    /// # Errors
    /// The job cannot be opened, or the script names people that the shop does not.
    pub fn play(&mut self, script: &Rehearsal) -> Result<Played, RehearseError> {
        let (procedure, machine) = (&script.procedure.value, &script.machine.value);
        let mut session = self.open(procedure, machine, script.alone)?;
        let hands = Hands {
            performer: self.key(&script.performer.value)?,
            mechanic: self.key(&script.mechanic.value)?,
            second: match &script.second {
                Some(second) => Some(self.key(&second.value)?),
                None => None,
            },
        };
        let result = play(&mut session, script, &hands, &Until::Over);
        let (used, stuck) = match result {
            Ok(used) => (Some(used), None),
            Err(error) => (None, Some(error)),
        };
        // What a script says of places that it never came to is no news.
        let (differences, unused) = match &used {
            None => (Vec::new(), Vec::new()),
            Some(used) => (differences(&session, script), unused(script, used)),
        };
        Ok(Played { session, stuck, differences, unused })
    }

    fn key(&self, person: &PersonId) -> Result<&dyn Signer, RehearseError> {
        let held = self.keys.get(person).map(|key| key as &dyn Signer);
        held.ok_or_else(|| RehearseError::Missing {
            what: "person",
            id: person.to_string(),
            next: "take a person of the shop file",
        })
    }
}

fn approver() -> PersonId {
    PersonId::new(APPROVER).expect("internal: the approver has a name")
}

/// The shop file with keys made on the spot and an approver, all qualified and calibrated.
fn staffed(text: &str, now: Moment) -> (String, BTreeMap<PersonId, Held>) {
    let mut keys = BTreeMap::new();
    let mut edits = Vec::new();
    let Some(root) = edits::tree(text) else { return (text.to_owned(), keys) };
    let day = |days: i64| (now.day() + TimeDelta::days(days)).to_string();
    let (from, until) = (day(-400), day(400));
    let new_key = |id: PersonId, keys: &mut BTreeMap<PersonId, Held>| {
        let key = KeyPair::generate();
        let public = key.public().text();
        keys.insert(id, Held(key));
        public
    };
    if let Some(people) = root.get("people") {
        for person in people.items() {
            let id = person.get("id").and_then(|id| PersonId::new(id.text()?).ok());
            let (Some(id), Some(key)) = (id, person.get("key")) else { continue };
            edits.push(Edit::replace(key, format!("\"{}\"", new_key(id, &mut keys))));
            let days = [("qualified_from", &from), ("qualified_until", &until)];
            edits.extend(days.iter().filter_map(|(key, day)| {
                person.get(key).map(|node| Edit::replace(node, (*day).clone()))
            }));
        }
        let public = new_key(approver(), &mut keys);
        let item = format!(
            "{{id: {APPROVER}, name: Approver of this rehearsal, roles: [mechanic], \
             key: \"{public}\", qualified_from: {from}, qualified_until: {until}}}"
        );
        edits.push(edits::first_item(text, people, &item));
    }
    for instrument in root.get("instruments").map_or(&[][..], |list| list.items()) {
        let due = instrument.get("calibration_due");
        edits.extend(due.map(|node| Edit::replace(node, until.clone())));
    }
    (edits::apply(text, &edits), keys)
}
