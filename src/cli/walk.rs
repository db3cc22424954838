//! `open` and `walk`: a job by hand, full screen or in lines.

use std::io::{self, BufReader, IsTerminal as _};
use std::path::{Path, PathBuf};

use zeroize::Zeroizing;

use super::keys::KeyFolder;
use super::out::Out;
use super::report::{Failure, Kind};
use super::{BenchArguments, OpenArguments, WalkArguments, exit, jobs, parse_job, prompt};
use crate::diag::suggestion;
use crate::ids::{JobId, PersonId, ProcedureId};
use crate::plain::{self, PlainEnd};
use crate::ports::{SignError, Signer};
use crate::session::Session;
use crate::session::keys::{Keys, Passphrases, Releaser};
use crate::session::open::OpenShop;
use crate::session::release::Finished;
use crate::store::StoreError;
use crate::tui::bench::{CameBack, Chosen, Said};
use crate::tui::graphics::Graphics;
use crate::tui::terminal::{self, End};
use crate::tui::theme::{Colours, Look};

pub(super) fn open(arguments: &OpenArguments, out: Out) -> Result<u8, Failure> {
    let shop = jobs::load(&arguments.shop)?;
    // Nothing is begun that cannot be walked.
    needs_terminal(arguments.how.plain)?;
    is_there(&shop, &arguments.procedure)?;
    let session = shop.new_job(&arguments.procedure, &arguments.machine)?;
    out.line(&format!("Opened job {} on {}.", session.job(), arguments.machine));
    let keys = arguments.how.keys.clone().unwrap_or_else(|| shop.folder.keys());
    by_hand(session, arguments.how.plain, keys, out)
}

/// A procedure's name that no file of the shop has is a slip of the hand.
fn is_there(shop: &OpenShop, procedure: &ProcedureId) -> Result<(), Failure> {
    let folder = shop.folder.procedures();
    if shop.disk().exists(&folder.join(format!("{procedure}.yaml"))).map_err(StoreError::from)? {
        return Ok(());
    }
    let known = shop.approved_procedures();
    let mut failure = Failure::usage(format!("there is no procedure `{procedure}` in this shop"));
    if let Some(near) = suggestion(procedure.as_str(), known.iter().map(ProcedureId::as_str)) {
        failure = failure.hint(format!("did you mean `{near}`?"));
    }
    Err(failure.hint("`witnessmark bench` shows what can be opened on each machine"))
}

fn needs_terminal(in_lines: bool) -> Result<(), Failure> {
    if in_lines || io::stdin().is_terminal() && io::stdout().is_terminal() {
        return Ok(());
    }
    Err(Failure::usage("the full screen needs a terminal for input and output")
        .hint("use `--plain` to walk in numbered lines over a pipe"))
}

pub(super) fn resume(arguments: &WalkArguments, out: Out) -> Result<u8, Failure> {
    let shop = jobs::load(&arguments.shop)?;
    let job =
        if let Some(text) = &arguments.job { parse_job(text)? } else { only_open_job(&shop)? };
    let session = shop.resume(&job)?;
    let keys = arguments.how.keys.clone().unwrap_or_else(|| shop.folder.keys());
    by_hand(session, arguments.how.plain, keys, out)
}

/// The bench, and the jobs that are chosen there, until the person leaves it.
pub(super) fn bench(arguments: &BenchArguments) -> Result<u8, Failure> {
    if !io::stdin().is_terminal() || !io::stdout().is_terminal() {
        return Err(Failure::usage("the bench needs a terminal for input and output")
            .hint("`witnessmark jobs` lists the jobs; `open` and `walk` take `--plain`"));
    }
    if shows_lines_only() {
        return Err(Failure::usage(
            "the bench takes the whole screen, and this terminal shows lines only",
        )
        .hint("`witnessmark jobs` lists the jobs; `open` and `walk` go on in numbered lines"));
    }
    let shop = jobs::load(&arguments.shop)?;
    let keys = arguments.keys.clone().unwrap_or_else(|| shop.folder.keys());
    let mut before = None;
    while let Some(chosen) = crate::tui::run_bench(&shop, look(), before.take())
        .map_err(|error| Failure::new(Kind::Machine, error.to_string()))?
    {
        let opened = match &chosen {
            Chosen::Job(job) => shop.resume(job),
            Chosen::New(procedure, machine) => shop.new_job(procedure, machine),
        };
        // What cannot be opened is said on the bench, which goes on: other jobs can be worked.
        let begun = opened.map_err(Failure::from).and_then(|mut session| {
            let said = closed_before(&mut session)?;
            Ok((session, said))
        });
        let said = match begun {
            Err(failure) => Some(Said { refused: true, lines: lines_of(&failure.text()) }),
            Ok((session, lines)) if session.state().released.is_some() => {
                Some(Said { refused: false, lines })
            }
            Ok((mut session, _)) => match on_screen(&mut session, &keys)? {
                End::ToldToEnd => return Ok(exit::OK),
                End::Left | End::Released => None,
            },
        };
        before = Some(CameBack { chosen, said });
    }
    Ok(exit::OK)
}

fn lines_of(text: &str) -> Vec<String> {
    text.lines().map(str::to_owned).collect()
}

fn only_open_job(shop: &OpenShop) -> Result<JobId, Failure> {
    let open = jobs::open_jobs(shop)?;
    match open.as_slice() {
        [one] => Ok(one.clone()),
        [] => Err(Failure::usage("no job is open in this shop")
            .hint("`witnessmark open PROCEDURE --machine TAG` opens one")),
        several => {
            let names: Vec<_> = several.iter().map(ToString::to_string).collect();
            Err(Failure::usage(format!("several jobs are open: {}", names.join(", ")))
                .hint("name the one: `witnessmark walk JOB`; or pick it: `witnessmark bench`"))
        }
    }
}

/// People's keys in a folder, and their passphrases from whoever is at the terminal.
struct AtTheBench {
    folder: KeyFolder,
}

impl Keys for AtTheBench {
    fn signer(
        &self,
        person: &PersonId,
        passphrase: Zeroizing<String>,
    ) -> Result<Box<dyn Signer>, SignError> {
        self.folder.open(person, &passphrase)
    }

    fn asks_passphrase(&self, person: &PersonId) -> bool {
        !self.folder.is_in_agent(person)
    }
}

impl Passphrases for AtTheBench {
    fn ask(&mut self, who: &PersonId, why: &str) -> Option<Zeroizing<String>> {
        prompt::passphrase(who.as_str(), why).ok()
    }
}

/// Releases through the session, and says what was written.
struct WithRecord;

impl Releaser for WithRecord {
    fn release(
        &mut self,
        session: &mut Session,
        person: &PersonId,
        signer: &dyn Signer,
        shown: &[String],
    ) -> Result<Vec<String>, String> {
        session.release(person, signer, shown).map_err(|error| error.to_string())?;
        let folder = session.folder().root().display().to_string();
        Ok(vec![
            format!("Record, signature, report and list of hashes are in {folder}."),
            format!("Check it at any time: witnessmark verify {folder}"),
        ])
    }
}

/// Completes a release that was signed and not entered, and says what was found.
fn closed_before(session: &mut Session) -> Result<Vec<String>, Failure> {
    let mut said = match session.finish_release()? {
        Finished::Nothing => Vec::new(),
        Finished::Completed(done) => vec![format!(
            "A release by {} had been signed and not entered; it is completed now.",
            done.signer
        )],
        Finished::Closed => {
            vec!["Reports and sums of this released job were written anew.".to_owned()]
        }
        Finished::Discarded(why) => vec![why],
    };
    if session.state().released.is_some() {
        said.push("This job is released and closed.".to_owned());
    }
    Ok(said)
}

/// Walks `session` by hand until it is released or left.
pub(super) fn by_hand(
    mut session: Session,
    in_lines: bool,
    keys: PathBuf,
    out: Out,
) -> Result<u8, Failure> {
    for line in closed_before(&mut session)? {
        out.line(&line);
    }
    if session.state().released.is_some() {
        return Ok(exit::OK);
    }
    let is_dumb = !in_lines && shows_lines_only();
    if is_dumb {
        out.line(
            "This terminal shows lines only (`TERM=dumb`): the walk goes on in numbered lines.",
        );
    }
    if in_lines || is_dumb {
        return lines(&mut session, &mut AtTheBench { folder: KeyFolder(keys) });
    }
    needs_terminal(in_lines)?;
    out.line(&match on_screen(&mut session, &keys)? {
        End::Left => {
            let shop = session.folder().shop();
            let shop = shop.map_or_else(String::new, |shop| format!(" --shop {}", shop.display()));
            let job = session.job();
            format!("The job stays open; `witnessmark walk {job}{shop}` goes on with it.")
        }
        End::ToldToEnd => {
            "Told to end. The job stays open; everything answered is saved.".to_owned()
        }
        End::Released => "The job is released and closed.".to_owned(),
    });
    Ok(exit::OK)
}

/// Walks `session` on the full screen.
fn on_screen(session: &mut Session, keys: &Path) -> Result<End, Failure> {
    let bench = AtTheBench { folder: KeyFolder(keys.to_owned()) };
    terminal::run(session, &bench, &mut WithRecord, look())
        .map_err(|error| Failure::new(Kind::Machine, error.to_string()))
}

/// True where the terminal says of itself that it can do nothing but show one line after another.
#[expect(clippy::disallowed_methods, reason = "the environment is read in cli only")]
fn shows_lines_only() -> bool {
    std::env::var("TERM").is_ok_and(|term| term == "dumb")
}

/// What the terminal can show, as the environment says: letters by the locale, colours by `NO_COLOR`,
/// `COLORTERM` and `TERM`, pictures by the name of the terminal.
#[expect(clippy::disallowed_methods, reason = "the environment is read in cli only")]
pub(super) fn look() -> Look {
    let said = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(said).unwrap_or_default();
    let locale = locale.to_lowercase();
    Look {
        ascii: !locale.contains("utf-8") && !locale.contains("utf8"),
        no_colour: said("NO_COLOR").is_some(),
        colours: match (said("COLORTERM").as_deref(), said("TERM")) {
            (Some("truecolor" | "24bit"), _) => Colours::All,
            (_, Some(term)) if term.contains("256") => Colours::Cube,
            _ => Colours::Sixteen,
        },
        graphics: Graphics::of(said),
    }
}

fn lines(session: &mut Session, bench: &mut AtTheBench) -> Result<u8, Failure> {
    // One byte at a time, so that what follows a line is still there for a passphrase prompt.
    let mut input = BufReader::with_capacity(1, io::stdin());
    let mut output = io::stdout();
    let keys = AtTheBench { folder: bench.folder.clone() };
    let with = plain::With { keys: &keys, passphrases: bench, releaser: &mut WithRecord };
    let end = plain::run(session, &mut input, &mut output, with)
        .map_err(|error| Failure::new(Kind::Machine, error.to_string()))?;
    Ok(match end {
        PlainEnd::Released | PlainEnd::Left => exit::OK,
        PlainEnd::InputEnded => exit::LEFT_OPEN,
    })
}
