//! `demo`: an invented shop, walked by hand or played to its released record.

use std::io::{IsTerminal as _, stdin, stdout};
use std::path::Path;
use std::rc::Rc;

use chrono::TimeDelta;

use super::out::Out;
use super::report::{Failure, Kind};
use super::{DemoArguments, exit, jobs, walk};
use crate::demo;
use crate::demo::clock::{SimulatedClock, SkippingClock};
use crate::diag::render;
use crate::ids::{Moment, PersonId};
use crate::ports::{Clock, Disk, Signer};
use crate::rehearsal::{self, model::Rehearsal};
use crate::session::Session;
use crate::session::open::OpenShop;
use crate::session::play::{Hands, Until, differences, play, unused};
use crate::source::{Source, Sources};
use crate::store::{OsDisk, ShopFolder, StoreError, SystemClock};
use crate::walk::exceptions;
use crate::walk::place::Stand;

/// How long a played job seems to have taken.
const PLAYED: TimeDelta = TimeDelta::hours(60);
/// How long the part before the first valve inspection seems to have taken.
const PLAYED_BEFORE: TimeDelta = TimeDelta::hours(4);

pub(super) fn run(arguments: &DemoArguments, out: Out) -> Result<u8, Failure> {
    let script = match &arguments.script {
        Some(path) => read_script(path)?,
        None => parse_script("the demo's own script", demo::SCRIPT)?,
    };
    let disk: Rc<dyn Disk> = Rc::new(OsDisk);
    let folder = ShopFolder::at(&arguments.shop);
    let is_new = !disk.exists(&folder.shop_file()).map_err(StoreError::from)?;
    if is_new {
        let clock: Rc<dyn Clock> = Rc::new(SystemClock);
        demo::make(&disk, &clock, &folder)?;
        out.line(&format!(
            "Made the invented shop of Marram Point in `{}`: DEMO, nothing in it is real.",
            arguments.shop.display()
        ));
    } else {
        out.line(&format!("Using the demo shop in `{}`.", arguments.shop.display()));
    }
    let passphrases = demo::passphrases(&disk, &folder)?;
    out.line("Passphrases (also in keys/passphrases.txt of that folder):");
    for (who, passphrase) in &passphrases {
        out.line(&format!("  {who:<10} {}", passphrase.as_str()));
    }
    if arguments.overhaul {
        return overhaul_by_hand(arguments, &disk, &folder, out);
    }
    let by_hand = !arguments.play
        && arguments.script.is_none()
        && (arguments.plain || (stdin().is_terminal() && stdout().is_terminal()));
    if by_hand {
        return by_hand_from_the_first_valve(arguments, &script, &disk, &folder, out);
    }
    play_to_the_end(&script, &disk, &folder, out)
}

/// The whole overhaul from its first step, or from where it was left.
fn overhaul_by_hand(
    arguments: &DemoArguments,
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    out: Out,
) -> Result<u8, Failure> {
    let real: Rc<dyn Clock> = Rc::new(SystemClock);
    let open = jobs::open_jobs(&jobs::load_folder(folder.clone())?)?.pop();
    // The time goes on from the last entry. A new job begins so early that it ends by now.
    let start = match &open {
        Some(job) => {
            let scan = folder.job(job).read_journal(disk.as_ref())?;
            scan.lines.last().map(|line| line.entry.at)
        }
        None => None,
    };
    let start = start.unwrap_or_else(|| Moment::new(real.now().time() - PLAYED));
    let clock: Rc<dyn Clock> = Rc::new(SkippingClock::starting(real, start));
    let shop = OpenShop::load(disk, &clock, folder.clone())?;
    let session = match open {
        Some(job) => shop.resume(&job)?,
        None => shop.new_job(&demo::overhaul(), demo::MACHINE)?,
    };
    out.line(&format!(
        "Job {} on {}. Waits are over as soon as they begin.",
        session.job(),
        session.state().opened.machine
    ));
    walk::by_hand(session, arguments.plain, folder.keys(), out)
}

fn read_script(path: &Path) -> Result<Rehearsal, Failure> {
    let bytes = OsDisk.read(path, 1 << 20).map_err(StoreError::from)?;
    let text = String::from_utf8(bytes).map_err(|_error| {
        Failure::usage(format!("`{}` is not UTF-8 text", path.display())).hint("save it as UTF-8")
    })?;
    parse_script(&path.display().to_string(), &text)
}

fn parse_script(name: &str, text: &str) -> Result<Rehearsal, Failure> {
    let mut sources = Sources::default();
    let source = Source::new(name, text);
    let id = sources.add(source.clone());
    let (script, diagnostics) = rehearsal::read(id, &source);
    script.ok_or_else(|| {
        let shown = render::terminal(&diagnostics, &sources, false);
        Failure::new(Kind::Findings, format!("the script has mistakes:\n{shown}"))
            .hint("a script is a rehearsal file; `procedures/rehearsals` of the demo shop has some")
    })
}

struct People {
    keys: std::collections::BTreeMap<PersonId, demo::HeldKey>,
}

impl People {
    fn key(&self, person: &PersonId) -> Result<&dyn Signer, Failure> {
        match self.keys.get(person) {
            Some(key) => Ok(key),
            None => Err(Failure::new(Kind::Refused, format!("the demo has no key of `{person}`"))
                .hint(format!("its people are {}", demo::PEOPLE.join(", ")))),
        }
    }

    fn hands<'a>(&'a self, script: &Rehearsal) -> Result<Hands<'a>, Failure> {
        Ok(Hands {
            performer: self.key(&script.performer.value)?,
            mechanic: self.key(&script.mechanic.value)?,
            second: script.second.as_ref().map(|second| self.key(&second.value)).transpose()?,
        })
    }
}

fn by_hand_from_the_first_valve(
    arguments: &DemoArguments,
    script: &Rehearsal,
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    out: Out,
) -> Result<u8, Failure> {
    let shop = jobs::load_folder(folder.clone())?;
    let open = jobs::open_jobs(&shop)?;
    let job = if let Some(job) = open.last() {
        job.clone()
    } else {
        let people = People { keys: demo::keys(disk, folder)? };
        let clock: Rc<dyn Clock> =
            Rc::new(SimulatedClock::ending(SystemClock.now(), PLAYED_BEFORE));
        let played = OpenShop::load(disk, &clock, folder.clone())?;
        let mut session = played.new_job(&script.procedure.value, &script.machine.value)?;
        let until = Until::Asked(demo::handed_over_at());
        play(&mut session, script, &people.hands(script)?, &until)?;
        session.job().clone()
    };
    out.line(&format!(
        "Job {job}: {} is at work; sign as `{}`, and as `{}` where a mechanic is asked.",
        script.performer.value, script.performer.value, script.mechanic.value
    ));
    let session = shop.resume(&job)?;
    walk::by_hand(session, arguments.plain, folder.keys(), out)
}

fn play_to_the_end(
    script: &Rehearsal,
    disk: &Rc<dyn Disk>,
    folder: &ShopFolder,
    out: Out,
) -> Result<u8, Failure> {
    let people = People { keys: demo::keys(disk, folder)? };
    let hands = people.hands(script)?;
    let clock = Rc::new(SimulatedClock::ending(SystemClock.now(), PLAYED));
    let as_clock: Rc<dyn Clock> = Rc::<SimulatedClock>::clone(&clock);
    let shop = OpenShop::load(disk, &as_clock, folder.clone())?;
    let mut session = shop.new_job(&script.procedure.value, &script.machine.value)?;
    out.line("");
    out.line(&format!("Playing `{}` on {}: {}", script.id, script.machine.value, script.title));
    let used = play(&mut session, script, &hands, &Until::Over)?;
    for person in session.state().unsigned_people() {
        let key = people.key(&person)?;
        session.sign_performed(&person, key)?;
    }
    clock.finish();
    let mechanic = script.mechanic.value.clone();
    session.identify(&mechanic, hands.mechanic)?;
    let shown = session.exceptions();
    for line in &shown {
        out.line(&format!("  look at: {line}"));
    }
    let done = session.release(&mechanic, hands.mechanic, &shown)?;
    tell(&session, out);
    drop(done);
    let differences = differences(&session, script);
    for difference in &differences {
        out.line(&format!(
            "  NOT AS EXPECTED {}: expected {}, found {}",
            difference.what, difference.expected, difference.found
        ));
    }
    let idle = unused(script, &used).into_iter().filter_map(|index| script.answers.get(index));
    for answer in idle {
        out.line(&format!("  never asked: {}", answer.at.value));
    }
    how_to_check(&session, folder, out);
    Ok(if differences.is_empty() { exit::OK } else { exit::FINDINGS })
}

/// What happened, in a few lines.
fn tell(session: &Session, out: Out) {
    let (files, state) = (session.files(), session.state());
    let progress = state.progress();
    out.line(&format!(
        "Job {} ({}): {} entries, {} steps done, {} not applicable.",
        session.job(),
        state.opened.kind.word(),
        session.entries().len(),
        progress.done,
        progress.not_applicable
    ));
    let end = match state.walk.stand {
        Stand::End => "all steps done".to_owned(),
        Stand::Stopped(index) => format!("stopped: {}", files.flow.instance(index).ask.text()),
        Stand::Asked(index, _) => format!("still open at {}", files.flow.instance(index).address),
    };
    out.line(&format!("Outcome: {}.", end.trim_end_matches('.')));
    out.line("Parts needed:");
    for part in exceptions::parts_needed(files, state) {
        let title = files.flow.equipment.parts.get(&part.part).map_or("", |p| p.title.as_str());
        out.line(&format!(
            "  {} x {title} ({}) {} - {}",
            part.quantity, part.part, part.position, part.because
        ));
    }
}

fn how_to_check(session: &Session, folder: &ShopFolder, out: Out) {
    let job = session.folder().root().display().to_string();
    out.line("");
    out.line("Signed and released. Check it:");
    out.line(&format!("  witnessmark verify {job}"));
    out.line(&format!("  cd {job}"));
    out.line("  sha256sum -c SHA256SUMS");
    let mechanic = session.state().person.as_ref().map_or_else(String::new, ToString::to_string);
    out.line(&format!(
        "  ssh-keygen -Y verify -f ../../allowed_signers -I {mechanic} -n release.v1@witnessmark \
         -s record.json.sig < record.json"
    ));
    out.line(&format!("Trust this shop by its public key: {}", folder.trust().display()));
}
