//! `check` and `explain`: files read as the walk reads them, every mistake at its place.

mod fix;
mod watch;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::CheckArguments;
use super::exit;
use super::out::Out;
use super::report::Failure;
use crate::diag::{Code, Diagnostic, has_errors, render, sarif, suggestion};
use crate::equipment::{self, model::Equipment};
use crate::ids::ProcedureId;
use crate::language::{self, FileKind};
use crate::ports::{Disk as _, Overwrite};
use crate::procedure::{self, model::Procedure};
use crate::prove::{self, Constant, Report, prove};
use crate::shop::model::Shop;
use crate::source::{FileId, Source, Sources, Span};
use crate::store::{OsDisk, StoreError};
use crate::walk::flow::Guard;
use crate::walk::{Flow, Library, compile};
use crate::{lint, rehearsal, shop, yaml};

/// How mistakes are printed.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(super) enum Format {
    /// With a picture of the place.
    Terminal,
    /// One line each.
    Short,
    /// JSON.
    Json,
    /// SARIF 2.1.0, for code hosts and editors.
    Sarif,
}

/// The largest file that is read at all; the reader has a smaller limit of its own and says so.
const FILE_LEN_BYTES_MAX: u64 = 16 << 20;

/// Files as they were read.
#[derive(Default)]
pub(super) struct Read {
    pub(super) sources: Sources,
    pub(super) out: Vec<Diagnostic>,
    pub(super) shop: Option<Shop>,
    pub(super) flows: Vec<Flow>,
    procedures: Vec<Arc<Procedure>>,
    equipment: Vec<Arc<Equipment>>,
}

/// How often the files are looked at under `--watch`.
const WATCH_MS: u64 = 300;
/// How often edits are made, each on what the last have left. A mended key may show a mistake in its
/// value; nothing shows a third.
const N_FIX_ROUNDS_MAX: usize = 8;

pub(super) fn run(arguments: &CheckArguments, out: Out) -> Result<u8, Failure> {
    if !arguments.watch {
        return once(arguments, out);
    }
    let mut watch = watch::Watch::default();
    let read = |path: &Path| OsDisk.read(path, FILE_LEN_BYTES_MAX).ok();
    loop {
        let changed = watch.changed(&arguments.files, read);
        if !changed.is_empty() {
            out.line(&format!("---- {}", told(&changed)));
            // A file that vanished for a moment while it was saved comes back.
            if let Err(failure) = once(arguments, out) {
                out.note(&failure.text());
            }
            out.line("---- waiting for a change; end with Ctrl-C");
        }
        std::thread::sleep(Duration::from_millis(WATCH_MS));
    }
}

fn told(changed: &[PathBuf]) -> String {
    match changed {
        [one] => one.display().to_string(),
        more => format!("{} files", more.len()),
    }
}

fn once(arguments: &CheckArguments, out: Out) -> Result<u8, Failure> {
    let mut n_edits = 0;
    if arguments.fix {
        for _ in 0..N_FIX_ROUNDS_MAX {
            match fix_all(&look(&arguments.files)?, &arguments.files)? {
                0 => break,
                n => n_edits += n,
            }
        }
    }
    let mut read = look(&arguments.files)?;
    // No edit mends a promise, so proofs wait until the edits are made.
    if !has_errors(&read.out) {
        let reports: Vec<Report> = read.flows.iter().map(prove).collect();
        read.proofs(&reports);
    }
    let text = match arguments.format {
        Format::Terminal => render::terminal(&read.out, &read.sources, out.colour()),
        Format::Short => render::short(&read.out, &read.sources),
        Format::Json => render::json(&read.out, &read.sources),
        Format::Sarif => sarif::sarif(&read.out, &read.sources),
    };
    out.raw(&text);
    if matches!(arguments.format, Format::Terminal) {
        let errors = read.out.iter().filter(|d| d.is_error()).count();
        let warnings = read.out.len() - errors;
        let n_fixes = read.out.iter().filter(|d| d.fix.is_some()).count();
        let mut line = format!(
            "{}: {}, {}",
            number(arguments.files.len(), "file"),
            number(errors, "error"),
            number(warnings, "warning")
        );
        if n_edits > 0 {
            line = format!("{line}, {} made", number(n_edits, "edit"));
        } else if n_fixes > 0 {
            line = format!("{line}; `--fix` mends {n_fixes} of them");
        }
        out.line(&line);
    }
    let wrong = has_errors(&read.out) || (arguments.strict && !read.out.is_empty());
    Ok(if wrong { exit::FINDINGS } else { exit::OK })
}

/// A number of things, in words.
fn number(n: usize, what: &str) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{n} {what}{s}")
}

/// Reads, joins and lints the files.
pub(super) fn look(files: &[PathBuf]) -> Result<Read, Failure> {
    let mut read = Read::default();
    for path in files {
        read.file(path)?;
    }
    if !has_errors(&read.out) {
        read.join();
    }
    Ok(read)
}

/// Makes the edits that the messages offer, and says how many.
fn fix_all(read: &Read, files: &[PathBuf]) -> Result<usize, Failure> {
    let mut n_all = 0;
    for ((id, source), path) in read.sources.iter().zip(files) {
        let (text, n_edits) = fix::apply(source.text(), id, &read.out);
        if n_edits > 0 {
            OsDisk
                .write_new(path, text.as_bytes(), Overwrite::Replace)
                .map_err(StoreError::from)?;
        }
        n_all += n_edits;
    }
    Ok(n_all)
}

impl Read {
    pub(super) fn file(&mut self, path: &Path) -> Result<(), Failure> {
        let bytes = OsDisk.read(path, FILE_LEN_BYTES_MAX).map_err(StoreError::from)?;
        let text = String::from_utf8(bytes).map_err(|error| {
            let at = error.utf8_error().valid_up_to();
            Failure::new(
                super::report::Kind::Findings,
                format!("`{}` is not UTF-8 text: byte {at} is wrong", path.display()),
            )
            .hint("save the file as UTF-8")
        })?;
        let source = Source::new(path.display().to_string(), text);
        let id = self.sources.add(source.clone());
        let (node, diagnostics) = yaml::parse(id, &source);
        let Some(node) = node else {
            self.out.extend(diagnostics);
            return Ok(());
        };
        let kind = language::kind_of(&node);
        let parsed = (&node, diagnostics);
        let mut found = match kind {
            Some(FileKind::Procedure) => {
                let (model, found) = procedure::read_tree(id, &source, parsed);
                self.procedures.extend(model.map(Arc::new));
                found
            }
            Some(FileKind::Equipment) => {
                let (model, found) = equipment::read_tree(id, &source, parsed);
                self.equipment.extend(model.map(Arc::new));
                found
            }
            Some(FileKind::Rehearsal) => rehearsal::read_tree(id, &source, parsed).1,
            Some(FileKind::Shop) => {
                let (model, found) = shop::read_tree(id, &source, parsed);
                self.shop = model.or(self.shop.take());
                found
            }
            None => {
                self.unknown_kind(id, parsed.1);
                return Ok(());
            }
        };
        if let Some(kind) = kind {
            found.extend(lint::check(kind, id, &source, &node, !has_errors(&found)));
            found.sort_by_key(|fault| fault.primary.span.start);
        }
        self.out.extend(lint::allow(found, id, &source, Some(&node)));
        Ok(())
    }

    fn unknown_kind(&mut self, id: FileId, diagnostics: Vec<Diagnostic>) {
        self.out.extend(diagnostics);
        self.out.push(
            Diagnostic::error(
                Code::MissingKey,
                Span::new(id, 0, 0),
                "this file says of no kind that it is: it has none of the keys `procedure`, \
                 `equipment`, `rehearsal`, `shop`",
            )
            .help("begin a procedure with `format: \"1.0\"` and `procedure: its_id`"),
        );
    }

    /// Joins each procedure that no other performs with every equipment file that it is written for.
    pub(super) fn join(&mut self) {
        let mut by_id = BTreeMap::new();
        let mut twice = Vec::new();
        for procedure in &self.procedures {
            if let Some(first) = by_id.insert(procedure.id.value.clone(), Arc::clone(procedure)) {
                twice.push(
                    Diagnostic::error(
                        Code::DuplicateFile,
                        procedure.id.span,
                        format!("`{}` is given by two of these files", procedure.id.value),
                    )
                    .related(first.id.span, "and here")
                    .help("rename one of them, or leave one file out"),
                );
            }
        }
        if !twice.is_empty() {
            self.out.extend(twice);
            return;
        }
        let library = |equipment: &Arc<Equipment>| Library {
            procedures: by_id.clone(),
            equipment: Arc::clone(equipment),
        };
        let libraries: Vec<Library> = self.equipment.iter().map(library).collect();
        let mut joined = Vec::new();
        for procedure in tops(&self.procedures, &by_id) {
            for library in &libraries {
                let equipment = &library.equipment;
                if !equipment.takes(&procedure.equipment.value) {
                    continue;
                }
                let (flow, diagnostics) = compile(library, &procedure.id.value, procedure.id.span);
                joined.push((flow, diagnostics));
            }
        }
        for (flow, diagnostics) in joined {
            self.flows.extend(flow);
            self.add(diagnostics);
        }
        // Where something else is wrong, a step that names the part may be what is missing.
        if !has_errors(&self.out) {
            let unused = |equipment| compile::parts_not_used(equipment, &self.procedures);
            self.add(self.equipment.iter().map(AsRef::as_ref).flat_map(unused).collect());
        }
    }

    fn add(&mut self, diagnostics: Vec<Diagnostic>) {
        for diagnostic in diagnostics {
            if !self.out.contains(&diagnostic) {
                self.out.push(diagnostic);
            }
        }
    }

    /// Takes up what the proofs of the flows came to.
    fn proofs(&mut self, reports: &[Report]) {
        let flows = std::mem::take(&mut self.flows);
        for (flow, report) in flows.iter().zip(together(&flows, reports)) {
            self.add(prove::diagnostics(flow, &report));
        }
        self.flows = flows;
    }
}

/// The reports of several flows, seen together: a step is dead, and a condition constant, only where it
/// is so on every machine and in every job that has it.
pub(super) fn together(flows: &[Flow], reports: &[Report]) -> Vec<Report> {
    let mut steps: BTreeMap<Span, usize> = BTreeMap::new();
    let mut conditions: BTreeMap<Span, usize> = BTreeMap::new();
    for flow in flows {
        let of: BTreeSet<Span> = flow.instances.iter().filter_map(|i| i.span).collect();
        for span in of {
            *steps.entry(span).or_default() += 1;
        }
        let condition = |guard: &Guard| match guard {
            Guard::Condition { expr, .. } => Some(expr.span()),
            Guard::Outcome { .. } | Guard::FitOut { .. } => None,
        };
        let of: BTreeSet<Span> = flow.guards.iter().filter_map(condition).collect();
        for span in of {
            *conditions.entry(span).or_default() += 1;
        }
    }
    let mut dead: BTreeMap<Span, usize> = BTreeMap::new();
    let mut constant: BTreeMap<Constant, usize> = BTreeMap::new();
    for report in reports {
        for span in report.dead.keys() {
            *dead.entry(*span).or_default() += 1;
        }
        for found in &report.constant {
            *constant.entry(found.clone()).or_default() += 1;
        }
    }
    let mut out = reports.to_vec();
    for report in &mut out {
        report.dead.retain(|span, _| dead.get(span) == steps.get(span));
        report.constant.retain(|found| constant.get(found) == conditions.get(&found.span));
    }
    out
}

/// The procedures that none of the others performs. Where some perform each other in a circle and
/// nothing else does, the first of them stands for all, so that the circle is found.
fn tops(
    all: &[Arc<Procedure>],
    by_id: &BTreeMap<ProcedureId, Arc<Procedure>>,
) -> Vec<Arc<Procedure>> {
    let calls = |procedure: &Procedure| crate::walk::compile::performed(&procedure.steps);
    let performed: BTreeSet<ProcedureId> = all.iter().flat_map(|p| calls(p)).collect();
    let (inner, mut tops): (Vec<_>, Vec<_>) =
        all.iter().cloned().partition(|p| performed.contains(&p.id.value));
    let mut seen = BTreeSet::new();
    let mut open: Vec<ProcedureId> = tops.iter().map(|p| p.id.value.clone()).collect();
    let mut inner = inner.into_iter();
    loop {
        while let Some(id) = open.pop() {
            if seen.insert(id.clone()) {
                open.extend(by_id.get(&id).into_iter().flat_map(|p| calls(p)));
            }
        }
        let Some(next) = inner.find(|p| !seen.contains(&p.id.value)) else { return tops };
        open.push(next.id.value.clone());
        tops.push(next);
    }
}

pub(super) fn explain(code: &str, out: Out) -> Result<u8, Failure> {
    let Some(found) = Code::parse(code) else {
        let known = Code::ALL.iter().flat_map(|c| [c.number(), c.name()]);
        let mut failure = Failure::usage(format!("there is no code `{code}`"));
        if let Some(near) = suggestion(code, known) {
            failure = failure.hint(format!("did you mean `{near}`?"));
        }
        return Err(failure.hint("codes are printed by `witnessmark check`, such as WM204"));
    };
    out.line(&found.explanation());
    Ok(exit::OK)
}
