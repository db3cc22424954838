//! The command line: arguments, exit statuses, one file a command, and the wiring of the rest.
//!
//! The only module that prints and that decides how the process ends.

mod approve;
mod calc;
mod check;
mod demo;
pub mod exit;
mod fitted;
mod generate;
mod jobs;
mod keys;
mod new;
mod out;
mod prompt;
mod prove;
mod recipe;
mod rehearse;
mod report;
mod report_job;
mod sign_shop;
mod verify;
mod walk;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::ids::{EquipmentId, JobId, PersonId, ProcedureId};
use out::Out;
use report::Failure;

/// Guided overhaul procedures in a terminal: branching inspections, exact limits, a signed record.
///
/// The program never replaces local rules, the maker's manual and licensed people.
#[derive(Debug, Parser)]
#[command(name = "witnessmark", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Make an invented shop and work on its pump, or have a whole job played.
    Demo(DemoArguments),
    /// Open a new job of a procedure on a machine, and walk it.
    Open(OpenArguments),
    /// Show the open jobs of the shop, go on with one, or begin a new one.
    Bench(BenchArguments),
    /// Go on with a job that was begun.
    Walk(WalkArguments),
    /// List the jobs of a shop.
    Jobs(ShopArgument),
    /// Check procedure, equipment, rehearsal and shop files, all mistakes at once.
    Check(CheckArguments),
    /// Play rehearsals without a screen, and list what of a procedure they do not take.
    Rehearse(RehearseArguments),
    /// Begin a procedure, equipment, rehearsal or shop file that is commented and checks clean.
    New(NewArguments),
    /// Prove what procedures promise, on every path and for every fit-out.
    Prove(ProveArguments),
    /// Explain a code that `check` prints, such as WM204.
    Explain {
        /// The code, or its name.
        code: String,
    },
    /// Work out a named calculation and show how: springs, flatness, torque, flushing, pumps.
    Calc(CalcArguments),
    /// Approve a procedure, all it performs and its equipment file, as they stand in the shop.
    Approve(ApproveArguments),
    /// Sign a new or changed `shop.yaml` with the shop key.
    SignShop(SignShopArguments),
    /// List the parts that jobs fitted, by machine, position, part or lot.
    Fitted(FittedArguments),
    /// Print the record of a finished job: HTML, Markdown, text, CSV or JSON.
    Report(ReportArguments),
    /// Print the shell lines with which anybody checks a finished job without this program.
    Recipe {
        /// The job's folder, or its number in the shop.
        job: String,
        #[command(flatten)]
        shop: ShopArgument,
    },
    /// Check finished jobs: files, chain, signatures, authority, replay.
    Verify(VerifyArguments),
    /// Write the files that are made from the program itself.
    #[command(hide = true)]
    Generate {
        /// What to write.
        #[arg(value_enum)]
        what: generate::What,
    },
}

/// Which shop.
#[derive(Debug, clap::Args)]
struct ShopArgument {
    /// The shop's folder. Without it: `$WITNESSMARK_SHOP`, then this folder if it holds a shop.
    #[arg(long, value_name = "DIR")]
    shop: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own")]
struct DemoArguments {
    /// The demo's folder.
    #[arg(long, value_name = "DIR", default_value = "witnessmark-demo")]
    shop: PathBuf,
    /// Play a whole job to its released record instead of walking it by hand.
    #[arg(long)]
    play: bool,
    /// Play the answers of this rehearsal file.
    #[arg(long, value_name = "FILE")]
    script: Option<PathBuf>,
    /// Walk the whole overhaul by hand from its first step; waits are over as soon as they begin.
    #[arg(long, conflicts_with_all = ["play", "script"])]
    overhaul: bool,
    /// Walk in numbered lines instead of full screen.
    #[arg(long)]
    plain: bool,
}

#[derive(Debug, clap::Args)]
struct OpenArguments {
    /// The procedure.
    procedure: ProcedureId,
    /// The machine's mark on the shop's list.
    #[arg(long, value_name = "TAG")]
    machine: String,
    #[command(flatten)]
    shop: ShopArgument,
    #[command(flatten)]
    how: HowArguments,
}

#[derive(Debug, clap::Args)]
struct BenchArguments {
    #[command(flatten)]
    shop: ShopArgument,
    /// The folder with the keys of the people; the shop's own, if absent.
    #[arg(long, value_name = "DIR")]
    keys: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
struct WalkArguments {
    /// The job. Without it: the only open job of the shop.
    job: Option<String>,
    #[command(flatten)]
    shop: ShopArgument,
    #[command(flatten)]
    how: HowArguments,
}

/// How a job is walked.
#[derive(Debug, clap::Args)]
struct HowArguments {
    /// Walk in numbered lines instead of full screen.
    #[arg(long)]
    plain: bool,
    /// The folder with the people's keys, each in a file of their name. Without it: `keys` in the
    /// shop.
    #[arg(long, value_name = "DIR")]
    keys: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of the command line")]
struct CheckArguments {
    /// The files. Procedures are joined with an equipment file that fits, if one is among them.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// How to print.
    #[arg(long, value_enum, default_value = "terminal")]
    format: check::Format,
    /// Make the edits that are safe, and leave every other byte as it is.
    #[arg(long)]
    fix: bool,
    /// End with status 1 for warnings too.
    #[arg(long)]
    strict: bool,
    /// Check again whenever one of the files changes, until Ctrl-C.
    #[arg(long)]
    watch: bool,
}

#[derive(Debug, clap::Args)]
struct RehearseArguments {
    /// Rehearsal files, or procedures that have none yet.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// The folder with the procedures, and `equipment` in it. Without it: beside or above the files.
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,
    /// The shop file. Without it: `shop.yaml` in or above the folder, then the demo's.
    #[arg(long, value_name = "FILE")]
    shop_file: Option<PathBuf>,
    /// Write rehearsals for what none takes into this folder, with what came of them.
    #[arg(long, value_name = "DIR")]
    write_missing: Option<PathBuf>,
    /// Make one mistake at a time in the procedure, and list those that no rehearsal notices.
    #[arg(long)]
    mutate: bool,
    /// End with status 1 also where something is not taken.
    #[arg(long)]
    all: bool,
    /// How to print.
    #[arg(long, value_enum, default_value = "text")]
    format: rehearse::Format,
}

#[derive(Debug, clap::Args)]
struct NewArguments {
    /// What to begin.
    #[arg(value_enum)]
    kind: new::Kind,
    /// Its id, which is also the name of its file.
    id: String,
    /// The folder for the file.
    #[arg(long, value_name = "DIR", default_value = ".")]
    folder: PathBuf,
}

#[derive(Debug, clap::Args)]
struct ProveArguments {
    /// The files: procedures, all that they perform, their equipment file; a shop file gives
    /// scripts their people.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// Save the shortest script that breaks each promise as a rehearsal in this folder.
    #[arg(long, value_name = "DIR")]
    save: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
struct CalcArguments {
    /// The calculation. Without it: all of them are listed.
    name: Option<String>,
    /// What it is given, such as `wire="4 mm"`.
    #[arg(value_name = "INPUT=VALUE")]
    given: Vec<String>,
    /// Say what it takes and gives, where it holds and where it comes from.
    #[arg(long)]
    explain: bool,
    /// Print as JSON, as `schemas/calc.schema.json` says.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
struct ApproveArguments {
    /// The procedure.
    procedure: ProcedureId,
    /// The equipment file.
    #[arg(long, value_name = "ID")]
    equipment: EquipmentId,
    /// Who approves: a mechanic who did not write the files.
    #[arg(long, value_name = "PERSON")]
    by: PersonId,
    #[command(flatten)]
    shop: ShopArgument,
    /// The folder with the keys. Without it: `keys` in the shop.
    #[arg(long, value_name = "DIR")]
    keys: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
struct SignShopArguments {
    #[command(flatten)]
    shop: ShopArgument,
    /// The shop key, as `ssh-keygen -t ed25519` makes it, with a passphrase.
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
}

#[derive(Debug, clap::Args)]
struct ReportArguments {
    /// The job's folder, or its number in the shop.
    job: String,
    /// In which form.
    #[arg(long, value_enum, default_value = "text")]
    format: report_job::Format,
    #[command(flatten)]
    shop: ShopArgument,
}

#[derive(Debug, clap::Args)]
struct FittedArguments {
    /// The machine, by its tag or its serial number.
    #[arg(long, value_name = "TAG")]
    machine: Option<String>,
    /// A position, such as `cylinder=3`; more than one where all must fit.
    #[arg(long, value_name = "POSITION")]
    at: Vec<String>,
    /// The part, by its name, its title or its number in the store.
    #[arg(long, value_name = "PART")]
    part: Option<String>,
    /// The lot, as it was written down.
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
    /// Print the answer as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    shop: ShopArgument,
}

#[derive(Debug, clap::Args)]
struct VerifyArguments {
    /// Job folders.
    #[arg(required_unless_present = "explain")]
    folders: Vec<PathBuf>,
    /// The shop's public key. Without it: `trust` of the shop that the folder lies in.
    #[arg(long, value_name = "FILE")]
    trust: Option<PathBuf>,
    /// How many folders are judged at once. Without it: as many as there are processors.
    #[arg(long, value_name = "N")]
    jobs: Option<std::num::NonZeroUsize>,
    /// Print all five answers as JSON.
    #[arg(long)]
    json: bool,
    /// Say what is protected and what is not.
    #[arg(long)]
    explain: bool,
}

/// Runs the program with `arguments` (the first is the program's own name).
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let out = Out::new();
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(error) => return out.clap(&error),
    };
    let result = match parsed.command {
        Command::Demo(arguments) => demo::run(&arguments, out),
        Command::Open(arguments) => walk::open(&arguments, out),
        Command::Bench(arguments) => walk::bench(&arguments),
        Command::Walk(arguments) => walk::resume(&arguments, out),
        Command::Jobs(shop) => jobs::run(&shop, out),
        Command::Check(arguments) => check::run(&arguments, out),
        Command::Rehearse(arguments) => rehearse::run(&arguments, out),
        Command::New(arguments) => new::run(&arguments, out),
        Command::Prove(arguments) => prove::run(&arguments, out),
        Command::Explain { code } => check::explain(&code, out),
        Command::Calc(arguments) => calc::run(&arguments, out),
        Command::Approve(arguments) => approve::run(&arguments, out),
        Command::SignShop(arguments) => sign_shop::run(&arguments, out),
        Command::Fitted(arguments) => fitted::run(&arguments, out),
        Command::Report(arguments) => report_job::run(&arguments, out),
        Command::Recipe { job, shop } => recipe::run(&job, &shop, out),
        Command::Verify(arguments) => Ok(verify::run(&arguments, out)),
        Command::Generate { what } => generate::run(what, out),
    };
    match result {
        Ok(status) => out.end(status),
        Err(failure) => out.fail(&failure),
    }
}

fn parse_job(text: &str) -> Result<JobId, Failure> {
    JobId::parse(text).ok_or_else(|| {
        Failure::usage(format!("`{text}` is not a job"))
            .hint("jobs are named like 2026-0031; `witnessmark jobs` lists them")
    })
}
