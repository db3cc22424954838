//! What Markdown and plain text tell, block by block: the first page and what stands behind it.

use std::collections::BTreeMap;

use super::findings;
use super::first_page::FirstPage;
use super::index::{Index, with_place};
use super::parts::Pieces;
use super::photos;
use super::picture;
use super::readings::{self, Cell, Row};
use super::shown;
use super::signers;
use super::words::count;
use crate::ids::Moment;

/// A piece of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Block {
    Heading(String),
    Line(String),
    /// A label with what there is to say under it.
    Told(String, String),
    /// A figure in plain characters.
    Picture(String),
    Commands(Vec<&'static str>),
    /// A table: its head, then its rows.
    Table([&'static str; 3], Vec<[String; 3]>),
}

use Block::{Commands, Heading, Line, Picture, Table, Told};

/// What a job of a made-up shop says before anything else.
pub(super) const DEMO: &str =
    "DEMO: a made-up job of a made-up shop. It says nothing of a real machine.";

fn when(at: &str) -> String {
    Moment::parse(at).map_or_else(|| at.to_owned(), Moment::spoken)
}

fn without_stop(text: &str) -> &str {
    text.trim_end_matches('.')
}

/// All of it, but for the title and the fields of the record.
pub(super) fn of(index: &Index<'_>) -> Vec<Block> {
    let rows = readings::rows(index);
    let first = FirstPage::of(index, &rows);
    let mut blocks = Vec::new();
    head(index, &first, &mut blocks);
    first_page(&first, &mut blocks);
    releaser(index, &mut blocks);
    departures(index, &mut blocks);
    passed(index, &mut blocks);
    files(index, &mut blocks);
    let rows = signers::all(index).into_iter().map(|signed| {
        let says = match signed.lapsed_by {
            Some(n) => format!("lapsed by entry {n}: {}", signed.says),
            None => with_place(&signed.says, without_stop(&signed.about)),
        };
        [format!("{} ({})", signed.who, signed.role), signed.when(), says]
    });
    blocks.push(Heading("Signatures".to_owned()));
    blocks.push(Table(["name", "when", "meaning"], rows.collect()));
    blocks
}

fn head(index: &Index<'_>, first: &FirstPage, blocks: &mut Vec<Block>) {
    let record = index.record;
    let machine = &record.machine;
    let mut said = format!("{}: {}", machine.tag, machine.equipment_title);
    said.extend([", serial number ", &machine.serial]);
    if let Some(fit_out) = &machine.fit_out {
        said.extend([", fit-out ", fit_out]);
    }
    blocks.push(Told("Machine".to_owned(), said));
    blocks.push(Told("Shop".to_owned(), record.shop.title.clone()));
    blocks.push(Told("Opened".to_owned(), when(&record.opened_at)));
    let release = &record.release;
    let by = format!("by {} as {}", index.name(&release.signer), release.role);
    blocks.push(Told("Released".to_owned(), format!("{}, {by}", when(&release.at))));
    blocks.push(Heading(first.outcome.to_owned()));
    if let Some(stop) = &record.stop {
        blocks.push(Line(stop.text.clone()));
        blocks.push(Line(format!("Left in this state: {}", stop.safe_state)));
        if !stop.tell.is_empty() {
            blocks.push(Line(format!("Told: {}", stop.tell.join("; "))));
        }
    }
    blocks.push(Line(first.departures.clone()));
}

fn more(further: &[String], blocks: &mut Vec<Block>) {
    if !further.is_empty() {
        blocks.push(Line(format!("Further: {}.", further.join("; "))));
    }
}

fn pieces(all: &[Pieces], blocks: &mut Vec<Block>) {
    for part in all {
        let lots = part.lots.join("; lot ");
        let told = [
            format!("{} × {}", part.quantity, part.title),
            part.number.clone().unwrap_or_default(),
            part.places.clone(),
            if lots.is_empty() { lots } else { format!("lot {lots}") },
        ];
        let told: Vec<String> = told.into_iter().filter(|text| !text.is_empty()).collect();
        blocks.push(Told(told.join(", "), part.because.clone()));
    }
}

fn first_page(first: &FirstPage, blocks: &mut Vec<Block>) {
    for group in &first.groups {
        blocks.push(Heading(group.title.to_owned()));
        let told = group.lines.iter().map(|told| Told(told.label.clone(), told.says.clone()));
        blocks.extend(told);
    }
    if !first.found.is_empty() {
        blocks.push(Heading("What was found, and what was done about it".to_owned()));
        for found in &first.found {
            let done = found.outcome.join("; ");
            let done = if done.is_empty() { found.verdict.clone() } else { done };
            blocks.push(Told(found.what_where(), done));
        }
        more(&first.more_found, blocks);
    }
    blocks.push(Heading("Outside the limit".to_owned()));
    blocks.push(Line(first.figures.clone()));
    for row in &first.outside {
        blocks.push(Told(with_place(without_stop(&row.text), &row.position), figure_words(row)));
        blocks.extend(row.picture.as_ref().map(|picture| Picture(picture.plain())));
    }
    more(&first.more_outside, blocks);
    if first.outside.iter().any(|row| row.picture.is_some()) {
        blocks.push(Line(picture::LEGEND.to_owned()));
    }
    let is_none = first.renewed.is_empty() && first.routine.is_empty();
    if !is_none || !first.is_stopped {
        blocks.push(Heading(first.parts_title.to_owned()));
    }
    pieces(&first.renewed, blocks);
    more(&first.more_renewed, blocks);
    pieces(&first.routine, blocks);
    if is_none && !first.is_stopped {
        blocks.push(Line("None".to_owned()));
    }
    if !first.missing.is_empty() {
        blocks.push(Heading(first.missing_title.to_owned()));
        pieces(&first.missing, blocks);
        more(&first.more_missing, blocks);
    }
    blocks.push(Heading("Who signed".to_owned()));
    for signer in &first.signers {
        let says = format!("{}; last {}", signer.says.join(", "), when(&signer.at));
        blocks.push(Told(format!("{} ({})", signer.name, signer.roles), says));
    }
    blocks.push(Heading("How to check this job".to_owned()));
    blocks.push(Line("This text proves nothing by itself. In the folder of the job:".to_owned()));
    let commands = vec!["sha256sum -c SHA256SUMS", "sha256sum record.json", "witnessmark verify ."];
    blocks.push(Commands(commands));
    blocks.push(Line(
        "The second line must print the SHA-256 above. Without this program, recipe.txt says how. The \
         shop's public key has to come from the shop, by another way than this folder."
            .to_owned(),
    ));
}

/// A figure as found and as left, with what was done where no figure tells, and why it was let pass.
fn figure_words(row: &Row) -> String {
    let cell = |phase: &str, cell: Option<&Cell>| {
        cell.map(|cell| {
            let side = cell.outside.map_or_else(String::new, |side| format!(", {side}"));
            let doubt = cell.verdict.as_deref().filter(|v| *v != "accept" && side.is_empty());
            let doubt = doubt.map_or_else(String::new, |verdict| format!(", {verdict}"));
            format!("{phase}{}{side}{doubt}", cell.text)
        })
    };
    let mut told = vec![
        (!row.limit.is_empty()).then(|| format!("limit {}", row.limit)),
        cell("as found ", row.found.as_ref()),
        cell("", row.once.as_ref()),
        cell("as left ", row.left.as_ref()),
        row.settled.clone(),
    ];
    told.extend(row.notes.iter().map(|note| Some(without_stop(note).to_owned())));
    told.into_iter().flatten().collect::<Vec<_>>().join("; ").replace('\u{a0}', " ")
}

fn releaser(index: &Index<'_>, blocks: &mut Vec<Block>) {
    blocks.push(Heading("What the releaser looked at before signing".to_owned()));
    let looked = shown::looked(index);
    if looked.is_empty() {
        blocks.push(Line("Nothing".to_owned()));
    }
    blocks.extend(looked.into_iter().map(|line| Told(String::new(), line)));
}

fn departures(index: &Index<'_>, blocks: &mut Vec<Block>) {
    let record = index.record;
    let deviated = shown::departures(index);
    if !deviated.is_empty() || !record.concessions.is_empty() {
        blocks.push(Heading("Deviations".to_owned()));
    }
    let who = |by: Option<&str>| by.map_or_else(String::new, |by| format!(", {}", index.name(by)));
    for d in &deviated {
        let said = format!("{} (entry {}, {}{})", d.says, d.n, when(d.at), who(d.by));
        blocks.push(Told(without_stop(&d.text).to_owned(), said));
    }
    for c in &record.concessions {
        let said = format!(
            "the rules say {}, {} decided {}: {} (entry {}, {})",
            c.rules,
            index.name(&c.by),
            c.verdict,
            c.reason,
            c.n,
            when(&c.at)
        );
        blocks.push(Told(without_stop(&index.place(&c.address)).to_owned(), said));
    }
    if !record.corrections.is_empty() {
        blocks.push(Heading("Corrections".to_owned()));
    }
    for c in &record.corrections {
        let said = format!(
            "{} (entry {}) became {} (entry {}, {}{}): {}",
            c.before,
            c.supersedes,
            c.after,
            c.n,
            when(&c.at),
            who(c.by.as_deref()),
            c.reason
        );
        blocks.push(Told(without_stop(&index.place(&c.address)).to_owned(), said));
    }
}

fn passed(index: &Index<'_>, blocks: &mut Vec<Block>) {
    let passed = findings::passed(index);
    let without = index.record.steps.iter().filter(|step| {
        use crate::record::completion::Answer;
        matches!(&step.answer, Answer::Found(found) if findings::is_without_fault(found))
    });
    let n_without = without.count();
    if passed.is_empty() && n_without == 0 {
        return;
    }
    blocks.push(Heading("Also looked at, and let pass".to_owned()));
    if n_without > 0 {
        let n = count(n_without, "inspection", "inspections");
        blocks.push(Line(format!("{n} without a fault")));
    }
    for one in passed {
        let again = if one.is_once_more { "; once more" } else { "" };
        let what = format!("{}{again}", with_place(&one.what, &one.places));
        blocks.push(Told(without_stop(&one.asked).to_owned(), what));
    }
}

fn files(index: &Index<'_>, blocks: &mut Vec<Block>) {
    let photos = photos::of(index, &BTreeMap::new());
    if photos.is_empty() {
        return;
    }
    blocks.push(Heading("Photos and files".to_owned()));
    for photo in photos {
        let about = without_stop(&photo.about);
        let about = if about.is_empty() { String::new() } else { format!("{about}; ") };
        let lies = photo.path.unwrap_or_else(|| photo.file.sha256.clone());
        let told = format!("{about}{}, entry {}, {lies}", photo.size, photo.n);
        blocks.push(Told(photo.file.name.clone(), told));
    }
}
