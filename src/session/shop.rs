//! Sets up a shop's folder, and approves its files.
//!
//! Everything here is signed by somebody: the roster and the list of approvals by the shop key, each
//! approval by a mechanic who did not write the file.

use std::rc::Rc;

use super::open::{OpenError, OpenShop};
use crate::diag::render;
use crate::ids::{EquipmentId, PersonId, ProcedureId, Role};
use crate::ports::{Clock, Disk, Overwrite, SignError, Signer};
use crate::record::approvals::{ListFault, check_list};
use crate::record::files::{FilesFault, SHOP, equipment_subject, procedure_subject};
use crate::record::roster::AuthorityFault;
use crate::record::{
    Approval, ApprovalStatement, Approvals, FileInHand, Namespace, PublicKey, Subject,
    allowed_signers, authority, check_people,
};
use crate::source::{Source, Sources};
use crate::store::{ShopFolder, StoreError};

/// Why a file was not approved. The list is as it was.
#[derive(Debug, thiserror::Error)]
pub enum ApproveError {
    /// The shop or its files.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The disk.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The approver wrote the file.
    #[error(
        "{approver} wrote revision {revision} of `{file}`, and cannot approve it; another mechanic approves"
    )]
    OwnWork {
        /// Who.
        approver: PersonId,
        /// The file.
        file: Subject,
        /// Its revision.
        revision: crate::ids::Revision,
    },
    /// The approver may not approve.
    #[error(transparent)]
    Authority(#[from] AuthorityFault),
    /// No signature was made.
    #[error(transparent)]
    NotSigned(#[from] SignError),
    /// The list that was signed does not verify.
    #[error("the new list of approvals does not verify, and was not saved: {0}")]
    List(#[from] ListFault),
    /// The key is not the shop's.
    #[error("this key is not the shop's: `trust` names another; sign with the shop's own key")]
    OtherShopKey,
    /// A signature is not by the approver's listed key.
    #[error("the approval is not by the key that `shop.yaml` lists for {0}; sign with that key")]
    OtherKey(PersonId),
}

/// Writes a new shop's own files: roster, trust, allowed signers, an empty list of approvals.
///
/// # Errors
/// Mistakes in the shop file, no signature, or the disk.
pub fn set_up(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    shop_yaml: &str,
    (trust, shop_key): (&PublicKey, &dyn Signer),
) -> Result<(), ApproveError> {
    folder.create(disk.as_ref())?;
    save_roster(disk, folder, shop_yaml, (trust, shop_key))?;
    let list = Approvals::default().encode();
    save_list(disk, folder, &list, (trust, shop_key))
}

/// Signs and writes `shop.yaml` and what follows from it. The key must be the shop's: a changed key
/// would leave every earlier approval without one.
///
/// # Errors
/// Mistakes in the file, another key than the shop's, no signature, or the disk.
pub fn sign_roster(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    shop_yaml: &str,
    (trust, shop_key): (&PublicKey, &dyn Signer),
) -> Result<(), ApproveError> {
    let known = disk.read(&folder.trust(), 64 << 10).map_err(StoreError::from)?;
    if String::from_utf8_lossy(&known).trim() != trust.text() {
        return Err(ApproveError::OtherShopKey);
    }
    save_roster(disk, folder, shop_yaml, (trust, shop_key))
}

fn save_roster(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    shop_yaml: &str,
    (trust, shop_key): (&PublicKey, &dyn Signer),
) -> Result<(), ApproveError> {
    let mut sources = Sources::default();
    let source = Source::new(SHOP, shop_yaml);
    let id = sources.add(source.clone());
    let (shop, diagnostics) = crate::shop::read(id, &source);
    let Some(shop) = shop else {
        let shown = render::terminal(&diagnostics, &sources, false);
        return Err(OpenError::Files(FilesFault::Mistakes(shown)).into());
    };
    if let Some(fault) = check_people(&shop, trust).into_iter().next() {
        return Err(OpenError::Roster(fault).into());
    }
    let signature = shop_key.sign(Namespace::Roster.text(), shop_yaml.as_bytes())?;
    let write = |path: &std::path::Path, bytes: &[u8]| {
        disk.write_new(path, bytes, Overwrite::Replace).map_err(StoreError::from)
    };
    write(&folder.shop_file(), shop_yaml.as_bytes())?;
    write(&folder.shop_signature(), signature.as_bytes())?;
    write(&folder.trust(), format!("{}\n", trust.text()).as_bytes())?;
    write(&folder.allowed_signers(), allowed_signers(&shop, trust).as_bytes())?;
    Ok(())
}

fn save_list(
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    list: &[u8],
    (trust, shop_key): (&PublicKey, &dyn Signer),
) -> Result<(), ApproveError> {
    let signature = shop_key.sign(Namespace::Approvals.text(), list)?;
    check_list(list, &signature, trust)?;
    let write = |path: &std::path::Path, bytes: &[u8]| {
        disk.write_new(path, bytes, Overwrite::Replace).map_err(StoreError::from)
    };
    write(&folder.approvals(), list)?;
    write(&folder.approvals_signature(), signature.as_bytes())?;
    Ok(())
}

/// Someone with their key.
#[derive(Clone, Copy)]
pub struct With<'a> {
    /// Who.
    pub person: &'a PersonId,
    /// Their key.
    pub key: &'a dyn Signer,
}

/// Approves `procedure`, everything it performs, and the equipment file, as they stand in the shop's
/// folder. Files that are approved as they stand already are left alone. Returns what was approved.
///
/// # Errors
/// Mistakes in the files, an approver who may not approve, no signature, or the disk.
pub fn approve(
    disk: &Rc<dyn Disk>,
    clock: &Rc<dyn Clock>,
    folder: &ShopFolder,
    (procedure, equipment): (&ProcedureId, &EquipmentId),
    approver: With<'_>,
    shop_key: &dyn Signer,
) -> Result<Vec<Subject>, ApproveError> {
    let _lock = folder.lock(disk.as_ref())?;
    let shop = OpenShop::load(disk, clock, folder.clone())?;
    let (files, _) = shop.files(procedure, equipment)?;
    let at = clock.now();
    authority(shop.shop(), approver.person, Role::Mechanic, at)?;
    let mut list = shop.approvals.clone();
    let mut approved = Vec::new();
    // What is referred to comes first, so that the list reads in the order of trust.
    let mut subjects: Vec<(&Subject, &FileInHand)> = files.in_hand.iter().collect();
    subjects.sort_by_key(|(subject, file)| {
        (file.refers.len(), **subject == procedure_subject(procedure), (*subject).clone())
    });
    subjects.sort_by_key(|(subject, _)| **subject != equipment_subject(equipment));
    for (subject, file) in subjects {
        let stands = list.in_force(subject).is_some_and(|a| {
            a.statement.sha256 == file.sha256 && a.statement.refers == file.refers
        });
        if stands {
            continue;
        }
        if file.authors.contains(approver.person) {
            return Err(ApproveError::OwnWork {
                approver: approver.person.clone(),
                file: subject.clone(),
                revision: file.revision,
            });
        }
        let statement = ApprovalStatement {
            file: subject.clone(),
            revision: file.revision,
            sha256: file.sha256,
            refers: file.refers.clone(),
            approver: approver.person.clone(),
            role: Role::Mechanic,
            at,
        };
        let signature = approver.key.sign(Namespace::Approval.text(), &statement.bytes())?;
        check_key(&shop, approver.person, &statement.bytes(), &signature)?;
        list.0.push(Approval { statement, signature });
        approved.push(subject.clone());
    }
    if !approved.is_empty() {
        save_list(disk, folder, &list.encode(), (&shop.trust, shop_key))?;
    }
    Ok(approved)
}

fn check_key(
    shop: &OpenShop,
    person: &PersonId,
    bytes: &[u8],
    signature: &str,
) -> Result<(), ApproveError> {
    let other = || ApproveError::OtherKey(person.clone());
    let listed = shop.shop().person(person).ok_or_else(other)?;
    let key = PublicKey::parse(&listed.key).map_err(OpenError::Trust)?;
    crate::record::verify(&key, Namespace::Approval, bytes, signature).map_err(|_fault| other())
}
