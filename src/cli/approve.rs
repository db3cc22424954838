//! `approve`: a mechanic who did not write the files signs for them, and the shop key for the list.

use std::rc::Rc;

use super::keys::KeyFolder;
use super::out::Out;
use super::report::Failure;
use super::{ApproveArguments, exit, jobs, keys, prompt};
use crate::ports::{Clock, Disk, Signer};
use crate::session::shop::{With, approve};
use crate::store::{OsDisk, SystemClock};

pub(super) fn run(arguments: &ApproveArguments, out: Out) -> Result<u8, Failure> {
    let folder = jobs::folder(&arguments.shop)?;
    let disk: Rc<dyn Disk> = Rc::new(OsDisk);
    let clock: Rc<dyn Clock> = Rc::new(SystemClock);
    let key_folder = KeyFolder(arguments.keys.clone().unwrap_or_else(|| folder.keys()));
    let by = arguments.by.as_str();
    let key: Box<dyn Signer> = match key_folder.in_agent(&arguments.by)? {
        Some(agent) => Box::new(agent),
        None => key_folder.open(&arguments.by, &prompt::passphrase(by, "to approve")?)?,
    };
    let shop_passphrase = prompt::passphrase("the shop key", "to sign the list")?;
    let shop_key = keys::open_file(&key_folder.0.join("shop"), &shop_passphrase)?;
    let approved = approve(
        &disk,
        &clock,
        &folder,
        (&arguments.procedure, &arguments.equipment),
        With { person: &arguments.by, key: key.as_ref() },
        shop_key.as_ref(),
    )?;
    if approved.is_empty() {
        out.line("all of them are approved as they stand already");
    }
    for file in approved {
        out.line(&format!("approved {file} by {by}"));
    }
    Ok(exit::OK)
}
