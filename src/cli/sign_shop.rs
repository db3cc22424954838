//! `sign-shop`: the shop key signs a new or changed roster and instrument list.

use std::path::PathBuf;
use std::rc::Rc;

use super::out::Out;
use super::report::Failure;
use super::{SignShopArguments, exit, keys, prompt};
use crate::demo::HeldKey;
use crate::ports::Disk;
use crate::session::shop::{set_up, sign_roster};
use crate::store::{OsDisk, ShopFolder, StoreError};

pub(super) fn run(arguments: &SignShopArguments, out: Out) -> Result<u8, Failure> {
    let root = arguments.shop.shop.clone().unwrap_or_else(|| PathBuf::from("."));
    let folder = ShopFolder::at(root);
    let disk: Rc<dyn Disk> = Rc::new(OsDisk);
    let bytes = disk.read(&folder.shop_file(), 4 << 20).map_err(StoreError::from)?;
    let text = String::from_utf8(bytes).map_err(|_error| {
        Failure::usage("`shop.yaml` is not UTF-8 text").hint("save it as UTF-8")
    })?;
    let passphrase = prompt::passphrase("the shop key", "to sign the roster")?;
    let key = HeldKey(keys::key_pair(&arguments.key, &passphrase)?);
    let public = key.0.public();
    if disk.exists(&folder.approvals()).map_err(StoreError::from)? {
        sign_roster(&disk, &folder, &text, (&public, &key))?;
        out.line("signed `shop.yaml`; `allowed_signers` follows it");
    } else {
        set_up(&disk, &folder, &text, (&public, &key))?;
        out.line("set up: signed `shop.yaml`, wrote `trust`, `allowed_signers` and an empty list of approvals");
        out.line("keep the shop key away from the bench; `trust` is its public half, for `verify`");
    }
    Ok(exit::OK)
}
