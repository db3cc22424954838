//! `jobs`: the jobs of a shop and how each stands. Also finds the shop for the other commands.

use std::path::PathBuf;
use std::rc::Rc;

use super::out::Out;
use super::report::{Failure, Kind};
use super::{ShopArgument, exit};
use crate::ports::{Clock, Disk};
use crate::session::open::OpenShop;
use crate::store::{OsDisk, ShopFolder, StoreError, SystemClock};
use crate::walk::Event;

/// The shop's folder that the command line, the environment or this folder names.
#[expect(clippy::disallowed_methods, reason = "the environment is read in cli only")]
pub(super) fn folder(argument: &ShopArgument) -> Result<ShopFolder, Failure> {
    let named = argument
        .shop
        .clone()
        .or_else(|| std::env::var("WITNESSMARK_SHOP").ok().map(PathBuf::from))
        .unwrap_or_else(|| PathBuf::from("."));
    let folder = ShopFolder::at(named);
    let there = OsDisk.exists(&folder.shop_file()).map_err(StoreError::from)?;
    if there {
        return Ok(folder);
    }
    Err(Failure::usage(format!("there is no shop at `{}`", folder.root().display())).hint(
        "name one with `--shop DIR` or $WITNESSMARK_SHOP; `witnessmark demo` makes one to try",
    ))
}

/// Loads the shop.
pub(super) fn load(argument: &ShopArgument) -> Result<OpenShop, Failure> {
    load_folder(folder(argument)?)
}

/// Loads the shop of a folder.
pub(super) fn load_folder(folder: ShopFolder) -> Result<OpenShop, Failure> {
    let disk: Rc<dyn Disk> = Rc::new(OsDisk);
    let clock: Rc<dyn Clock> = Rc::new(SystemClock);
    Ok(OpenShop::load(&disk, &clock, folder)?)
}

/// The jobs that are not released, oldest first.
pub(super) fn open_jobs(shop: &OpenShop) -> Result<Vec<crate::ids::JobId>, Failure> {
    let mut open = Vec::new();
    for id in shop.folder.job_ids(shop.disk().as_ref())? {
        let Ok(scan) = shop.folder.job(&id).read_journal(shop.disk().as_ref()) else { continue };
        let last = scan.lines.last().map(|line| &line.entry.event);
        if last.is_some_and(|event| !matches!(event, Event::Released { .. })) {
            open.push(id);
        }
    }
    Ok(open)
}

pub(super) fn run(argument: &ShopArgument, out: Out) -> Result<u8, Failure> {
    let shop = load(argument)?;
    let ids = shop.folder.job_ids(shop.disk().as_ref())?;
    if ids.is_empty() {
        out.line("no jobs yet; `witnessmark open PROCEDURE --machine TAG` opens one");
    }
    let mut damaged = false;
    for id in ids {
        let line = match shop.folder.job(&id).read_journal(shop.disk().as_ref()) {
            Err(error) => {
                damaged = true;
                format!("{id}  DAMAGED  {error}")
            }
            Ok(scan) => {
                let entries: Vec<_> = scan.entries().collect();
                let (first, last) = (entries.first(), entries.last());
                match (first.map(|e| &e.event), last) {
                    (Some(Event::JobOpened(opened)), Some(last)) => {
                        let stands = match last.event {
                            Event::Released { .. } => "released".to_owned(),
                            _ => waits(&shop, &id),
                        };
                        let by = last
                            .by
                            .as_ref()
                            .map_or_else(|| "nobody yet".to_owned(), ToString::to_string);
                        format!(
                            "{id}  {stands}  {} on {} ({}), {} entries, last {} by {by}",
                            opened.procedure,
                            opened.machine,
                            opened.kind.word(),
                            entries.len(),
                            last.at.spoken(),
                        )
                    }
                    _ => {
                        format!("{id}  empty  the job was never opened; its folder can be removed")
                    }
                }
            }
        };
        out.line(&line);
    }
    if damaged {
        return Err(Failure::new(Kind::Damaged, "a journal above is damaged")
            .hint("restore that folder from a copy; nothing in it was changed"));
    }
    Ok(exit::OK)
}

/// `open`, and what the job waits for where that is a signature.
fn waits(shop: &OpenShop, id: &crate::ids::JobId) -> String {
    let awaited = shop.what_is_open(id).and_then(|open| open.signature);
    awaited.map_or_else(
        || "open".to_owned(),
        |awaited| format!("open, waits: a {} {}", awaited.by.word(), awaited.what.says()),
    )
}
