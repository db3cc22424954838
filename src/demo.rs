//! The demo: an invented shop made on the spot, with keys of its own and jobs really played.
//!
//! Nothing here is a shortcut: the shop is set up, approved, worked in and released through the same
//! code as a real one. Only the people, the pump and every figure are invented, and `kind: demo`
//! stands in each record and on each screen.

pub mod clock;
pub mod words;

use std::collections::BTreeMap;
use std::path::Path;
use std::rc::Rc;

use chrono::{Days, TimeDelta};
use zeroize::Zeroizing;

use crate::ids::{EquipmentId, Moment, PersonId, ProcedureId};
use crate::ports::{Clock, Disk, Overwrite, SignError, Signer};
use crate::record::{KeyFault, KeyPair, Namespace};
use crate::session::open::OpenError;
use crate::session::shop::{ApproveError, With, approve, set_up};
use crate::store::{ShopFolder, StoreError};
use crate::walk::Address;

/// The people of the demo, in the order of the roster.
pub const PEOPLE: [&str; 4] = ["i.varga", "t.reiter", "a.salmela", "m.dube"];
/// The procedure of the demo's job.
pub const PROCEDURE: &str = "fluid_end_service";
/// The equipment of the demo's pumps.
pub const EQUIPMENT: &str = "marram_3_40";
/// The demo's pump.
pub const MACHINE: &str = "P-101A";
/// The first valve inspection, where the demo hands the job over to the person at the screen.
pub const HANDED_OVER_AT: &str = "valve_inspection/cylinders[cylinder=1]/stacks[side=inlet]/spring";
/// The script that the demo plays.
pub const SCRIPT: &str = include_str!("../procedures/rehearsals/worn_spring_warped_plate.yaml");

/// How long before the shop is made its files seem to have been approved.
const APPROVED_BEFORE: TimeDelta = TimeDelta::days(20);

const SHOP_TEMPLATE: &str = include_str!("demo/shop_template.yaml");
/// A file below `procedures/` with its text.
macro_rules! file {
    ($path:literal) => {
        ($path, include_str!(concat!("../procedures/", $path)))
    };
}

/// Every file that a new demo shop holds, by its path below `procedures/`.
const FILES: [(&str, &str); 30] = [
    file!("receive.yaml"),
    file!("make_safe.yaml"),
    file!("fluid_end_teardown.yaml"),
    file!("valve_inspection.yaml"),
    file!("diaphragm_inspection.yaml"),
    file!("cause.yaml"),
    file!("hydraulic_end.yaml"),
    file!("diaphragm_install.yaml"),
    file!("oil_flush.yaml"),
    file!("valve_stack_inlet.yaml"),
    file!("valve_stack_outlet.yaml"),
    file!("close_up.yaml"),
    file!("relief_valve.yaml"),
    file!("fill_and_bleed.yaml"),
    file!("test_run.yaml"),
    file!("hand_over.yaml"),
    file!("fluid_end_service.yaml"),
    file!("overhaul.yaml"),
    file!("reducer_service.yaml"),
    file!("equipment/marram_3_40.yaml"),
    file!("equipment/marram_5_60.yaml"),
    file!("equipment/corran_r2.yaml"),
    ("rehearsals/worn_spring_warped_plate.yaml", SCRIPT),
    file!("rehearsals/nothing_wrong.yaml"),
    file!("rehearsals/solvent_stop.yaml"),
    file!("rehearsals/service_with_worn_springs.yaml"),
    file!("rehearsals/starved_suction.yaml"),
    file!("rehearsals/torn_diaphragm.yaml"),
    file!("rehearsals/end_of_life.yaml"),
    file!("rehearsals/reducer_shimmed.yaml"),
];

/// The jobs that the demo's shop has approved: a procedure with the machine type it is done on.
const APPROVED: [(&str, &str); 4] = [
    (PROCEDURE, EQUIPMENT),
    ("overhaul", EQUIPMENT),
    ("overhaul", "marram_5_60"),
    ("reducer_service", "corran_r2"),
];

/// The name of the file with the demo's passphrases, below `keys/`.
pub const PASSPHRASES: &str = "passphrases.txt";

/// Why the demo's shop could not be made.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// The disk.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A key.
    #[error("a key of the demo: {0}")]
    Key(#[from] KeyFault),
    /// Setting up or approving.
    #[error(transparent)]
    Approve(#[from] ApproveError),
    /// The shop.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The system has no randomness to give.
    #[error("the system gave no random bytes for keys: {0}")]
    Random(String),
}

/// A key in memory that signs without asking.
#[derive(Debug)]
pub struct HeldKey(pub KeyPair);

impl Signer for HeldKey {
    fn sign(&self, namespace: &str, message: &[u8]) -> Result<String, SignError> {
        match Namespace::parse(namespace) {
            Some(namespace) => Ok(self.0.sign(namespace, message)),
            None => {
                Err(SignError::Agent { reason: format!("`{namespace}` is no purpose we know") })
            }
        }
    }
}

/// What was made for a new demo shop.
pub struct Made {
    /// The people's keys.
    pub keys: BTreeMap<PersonId, HeldKey>,
    /// Each key's passphrase, the shop key's as `shop`.
    pub passphrases: Vec<(String, Zeroizing<String>)>,
}

/// Makes a demo shop in `folder`: keys, roster, instruments, machines, approved procedures.
///
/// # Errors
/// The disk, or no randomness. Mistakes in the embedded files would be a bug, and are reported.
pub fn make(
    disk: &Rc<dyn Disk>,
    clock: &Rc<dyn Clock>,
    folder: &ShopFolder,
) -> Result<Made, DemoError> {
    folder.create(disk.as_ref())?;
    for (path, text) in FILES {
        write(disk, &folder.procedures().join(path), text.as_bytes())?;
    }
    let mut keys = BTreeMap::new();
    let mut passphrases = Vec::new();
    for person in PEOPLE {
        let id = person_id(person);
        let (key, passphrase) = new_key(disk, folder, person)?;
        passphrases.push((person.to_owned(), passphrase));
        keys.insert(id, key);
    }
    let (shop_key, passphrase) = new_key(disk, folder, "shop")?;
    passphrases.push(("shop".to_owned(), passphrase));
    let mut list = Zeroizing::new(String::from(
        "# The demo's passphrases. A real shop writes none down and keeps the shop key elsewhere.\n",
    ));
    for (who, passphrase) in &passphrases {
        list.push_str(&format_line(who, passphrase));
    }
    write(disk, &folder.keys().join(PASSPHRASES), list.as_bytes())?;
    let now = clock.now();
    let shop_yaml = shop_file(&keys, now);
    set_up(disk, folder, &shop_yaml, (&shop_key.0.public(), &shop_key))?;
    let approver = person_id("t.reiter");
    // The files were approved before any job that is played in the past was opened.
    let earlier = Moment::new(now.time() - APPROVED_BEFORE);
    let then: Rc<dyn Clock> = Rc::new(clock::SimulatedClock::ending(earlier, TimeDelta::zero()));
    if let Some(key) = keys.get(&approver) {
        let approver = With { person: &approver, key };
        for (procedure, equipment) in APPROVED {
            let files = job_files(procedure, equipment);
            approve(disk, &then, folder, (&files.0, &files.1), approver, &shop_key)?;
        }
    }
    Ok(Made { keys, passphrases })
}

fn person_id(text: &str) -> PersonId {
    PersonId::new(text).expect("internal: the demo's people have names")
}

fn job_files(procedure: &str, equipment: &str) -> (ProcedureId, EquipmentId) {
    (
        ProcedureId::new(procedure).expect("internal: the demo's procedures have names"),
        EquipmentId::new(equipment).expect("internal: the demo's machine types have names"),
    )
}

/// The procedure that does the whole job.
pub fn overhaul() -> ProcedureId {
    ProcedureId::new("overhaul").expect("internal: the demo's procedures have names")
}

/// The first valve inspection, where the demo hands the job over.
pub fn handed_over_at() -> Address {
    Address::parse(HANDED_OVER_AT).expect("internal: the demo's place is an address")
}

fn format_line(who: &str, passphrase: &str) -> String {
    format!("{who}: {passphrase}\n")
}

fn write(disk: &Rc<dyn Disk>, path: &Path, bytes: &[u8]) -> Result<(), DemoError> {
    disk.write_new(path, bytes, Overwrite::Replace).map_err(StoreError::from)?;
    Ok(())
}

fn new_key(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    who: &str,
) -> Result<(HeldKey, Zeroizing<String>), DemoError> {
    let key = KeyPair::generate();
    let passphrase = words::passphrase()?;
    let sealed = key.seal(&passphrase)?;
    write(disk, &folder.keys().join(who), sealed.as_bytes())?;
    disk.set_private(&folder.keys().join(who)).map_err(StoreError::from)?;
    let public = format!("{} {who}\n", key.public().text());
    write(disk, &folder.keys().join(format!("{who}.pub")), public.as_bytes())?;
    Ok((HeldKey(key), passphrase))
}

/// The demo's shop file as of `now`, its people still without keys.
pub fn sample_shop(now: Moment) -> String {
    shop_file(&BTreeMap::new(), now)
}

/// The template with keys and days filled in.
fn shop_file(keys: &BTreeMap<PersonId, HeldKey>, now: Moment) -> String {
    let mut out = String::new();
    let mut rest = SHOP_TEMPLATE;
    while let Some((before, after)) = rest.split_once("{{") {
        out.push_str(before);
        let Some((hole, after)) = after.split_once("}}") else { break };
        if let Some(person) = hole.strip_prefix("key:") {
            let key = PersonId::new(person).ok().and_then(|id| keys.get(&id));
            out.push_str(&key.map(|k| k.0.public().text()).unwrap_or_default());
        } else if let Some(days) = hole.strip_prefix("date:") {
            out.push_str(&day(now, days.parse().unwrap_or(0)));
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

fn day(now: Moment, offset: i64) -> String {
    let days = Days::new(offset.unsigned_abs());
    let today = now.day();
    let moved =
        if offset < 0 { today.checked_sub_days(days) } else { today.checked_add_days(days) };
    moved.unwrap_or(today).to_string()
}

/// Reads the demo's passphrases back from its own file.
///
/// # Errors
/// The disk.
pub fn passphrases(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
) -> Result<Vec<(String, Zeroizing<String>)>, DemoError> {
    let path = folder.keys().join(PASSPHRASES);
    let bytes = disk.read(&path, 1 << 16).map_err(StoreError::from)?;
    Ok(String::from_utf8_lossy(&bytes)
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once(": "))
        .map(|(who, passphrase)| (who.to_owned(), Zeroizing::new(passphrase.to_owned())))
        .collect())
}

/// Opens the demo's keys with its own passphrases.
///
/// # Errors
/// The disk, or a key that was changed.
pub fn keys(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
) -> Result<BTreeMap<PersonId, HeldKey>, DemoError> {
    let mut keys = BTreeMap::new();
    for (who, passphrase) in passphrases(disk, folder)? {
        let Ok(person) = PersonId::new(who.as_str()) else { continue };
        let bytes = disk.read(&folder.keys().join(&who), 1 << 16).map_err(StoreError::from)?;
        let text = Zeroizing::new(String::from_utf8_lossy(&bytes).into_owned());
        keys.insert(person, HeldKey(KeyPair::open(&text, &passphrase)?));
    }
    Ok(keys)
}
