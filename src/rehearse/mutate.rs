//! Makes one mistake at a time in a procedure or its equipment file, and looks who notices.

use std::collections::BTreeSet;

use super::bench::{Bench, RehearseError, Shelf};
use super::edits::{self, Edit};
use super::places::Course;
use crate::ids::{EquipmentId, Moment, ProcedureId};
use crate::procedure::model::Verdict;
use crate::prove::prove;
use crate::rehearsal::model::Rehearsal;
use crate::session::open::OpenError;
use crate::session::shop::ApproveError;
use crate::source::Source;
use crate::walk::Flow;
use crate::yaml::Node;

/// One mistake.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mutant {
    /// What is wrong with the file, such as ``` `when: elastomer == epdm` is dropped ```.
    pub what: String,
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    change: Change,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Change {
    Procedure(ProcedureId, Vec<Edit>),
    Equipment(EquipmentId, Vec<Edit>),
}

/// Who notices a mistake.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fate {
    /// The file is refused when it is read.
    Checked,
    /// The files are sound, and what they promise does not hold any more.
    Disproved,
    /// A rehearsal comes out otherwise.
    Noticed,
    /// Nobody.
    Unnoticed,
}

/// The mistakes that can be made in a course, in file order.
pub fn mutants(shelf: &Shelf, course: &Course) -> Vec<Mutant> {
    let mut out = Vec::new();
    let mut texts = String::new();
    let written = |id: &&ProcedureId| !course.is_alone || **id != course.flow.procedure;
    for id in course.procedures.keys().filter(written) {
        let Some(file) = shelf.procedures.get(id) else { continue };
        texts.push_str(&file.text);
        let mut maker = Maker::new(&file.name, &file.text);
        if let Some(steps) = edits::tree(&file.text).as_ref().and_then(|root| root.get("steps")) {
            maker.steps(steps);
        }
        out.extend(maker.made(|edits| Change::Procedure(id.clone(), edits)));
    }
    let id = course.flow.equipment_id();
    if let Some(file) = shelf.equipment.get(id) {
        let mut maker = Maker::new(&file.name, &file.text);
        if let Some(root) = edits::tree(&file.text) {
            maker.stacks(&root, &texts);
            maker.limits(&root, &texts);
        }
        out.extend(maker.made(|edits| Change::Equipment(id.clone(), edits)));
    }
    out
}

/// What breaks of what a course promises, in words.
pub fn broken(flow: &Flow) -> BTreeSet<String> {
    prove(flow).broken().map(|(proven, _)| proven.text(flow)).collect()
}

/// Makes the mistake, proves again what is promised and plays the rehearsals until one notices. What
/// is `broken` without the mistake tells nothing of it.
///
/// # Errors
/// Anything but mistakes of the files.
pub fn mutate(
    shelf: &Shelf,
    mutant: &Mutant,
    (rehearsals, broken): (&[Rehearsal], &BTreeSet<String>),
    now: Moment,
) -> Result<Fate, RehearseError> {
    let mut shelf = shelf.clone();
    let (text, changes) = match &mutant.change {
        Change::Procedure(id, edits) => (shelf.procedures.get_mut(id), edits),
        Change::Equipment(id, edits) => (shelf.equipment.get_mut(id), edits),
    };
    if let Some(file) = text {
        file.text = edits::apply(&file.text, changes);
    }
    let mut bench = Bench::set_up(&shelf, now)?;
    let mut proved = BTreeSet::new();
    for script in rehearsals {
        match look(&mut bench, script, &mut proved, broken) {
            Ok(Fate::Unnoticed) => {}
            Ok(fate) => return Ok(fate),
            Err(
                RehearseError::Open(OpenError::Files(_))
                | RehearseError::Approve(ApproveError::Open(OpenError::Files(_))),
            ) => return Ok(Fate::Checked),
            Err(error) => return Err(error),
        }
    }
    Ok(Fate::Unnoticed)
}

/// The proof of what a rehearsal plays, once for each procedure and machine, and the rehearsal.
fn look(
    bench: &mut Bench,
    script: &Rehearsal,
    proved: &mut BTreeSet<(ProcedureId, String, bool)>,
    broken: &BTreeSet<String>,
) -> Result<Fate, RehearseError> {
    let (procedure, tag) = (&script.procedure.value, &script.machine.value);
    if proved.insert((procedure.clone(), tag.clone(), script.alone)) {
        let session = bench.open(procedure, tag, script.alone)?;
        if !self::broken(&session.files().flow).is_subset(broken) {
            return Ok(Fate::Disproved);
        }
    }
    let played = bench.play(script)?;
    Ok(if played.is_as_expected() { Fate::Unnoticed } else { Fate::Noticed })
}

struct Maker<'a> {
    source: Source,
    text: &'a str,
    made: Vec<(String, usize, Vec<Edit>)>,
}

impl<'a> Maker<'a> {
    fn new(name: &str, text: &'a str) -> Self {
        Self { source: Source::new(name, text), text, made: Vec::new() }
    }

    fn made(self, change: impl Fn(Vec<Edit>) -> Change) -> Vec<Mutant> {
        let (source, mut made) = (self.source, self.made);
        made.sort_by_key(|(_, at, _)| *at);
        let mutant = |(what, at, edits): (String, usize, Vec<Edit>)| Mutant {
            what,
            file: source.name().to_owned(),
            line: source.line_col(at).line,
            change: change(edits),
        };
        made.into_iter().map(mutant).collect()
    }

    fn make(&mut self, what: String, at: &Node, edits: Vec<Edit>) {
        self.made.push((what, at.span.start, edits));
    }

    /// Steps, with all that stand in them.
    fn steps(&mut self, steps: &Node) {
        for step in steps.items() {
            let id = step.get("id").and_then(Node::text).unwrap_or_default().to_owned();
            let drop = match step.get("when") {
                Some(when) => Edit::replace(when, "false"),
                None => edits::first_entry(self.text, step, "when: false"),
            };
            self.make(format!("step `{id}` is dropped"), step, vec![drop]);
            self.guard(step);
            self.outcomes(step, &id);
        }
    }

    fn guard(&mut self, of: &Node) {
        if let Some(when) = of.get("when") {
            let text = when.text().unwrap_or_default();
            let what = format!("`when: {text}` is dropped");
            self.make(what, when, vec![Edit::replace(when, "true")]);
        }
    }

    /// Verdicts, inline limits and steps below a step.
    fn outcomes(&mut self, node: &Node, id: &str) {
        for (key, value) in node.entries() {
            match key.value.as_str() {
                "steps" => self.steps(value),
                "verdict" => self.verdict(value, id),
                "limit" => self.limit(value, id),
                _ => self.outcomes(value, id),
            }
        }
    }

    fn verdict(&mut self, node: &Node, id: &str) {
        let Some(verdict) = node.text().and_then(Verdict::parse) else { return };
        let other = match verdict {
            Verdict::Accept | Verdict::Replace => Verdict::Refer,
            Verdict::Refer => Verdict::Accept,
            // These bring keys of their own, so that no other verdict can stand in their place.
            Verdict::Rework | Verdict::Stop => return,
        };
        let what = format!("a verdict of `{id}` is {} for {}", other.word(), verdict.word());
        self.make(what, node, vec![Edit::replace(node, other.word())]);
    }

    /// The bounds of a limit, each up and down by its last digit.
    fn limit(&mut self, limit: &Node, id: &str) {
        for (key, value) in limit.entries() {
            let bounds = match key.value.as_str() {
                "at_least" | "at_most" | "nominal" | "plus" | "minus" => {
                    std::slice::from_ref(value)
                }
                "between" => value.items(),
                _ => &[],
            };
            for bound in bounds {
                let Some(text) = bound.text() else { continue };
                for moved in last_digit(text) {
                    let what = format!("limit of `{id}`: {moved} for {text}");
                    self.make(what, bound, vec![Edit::replace(bound, format!("\"{moved}\""))]);
                }
            }
        }
    }

    /// Limits of the equipment file that a procedure names.
    fn limits(&mut self, root: &Node, procedures: &str) {
        for of in ["limits", "torques"] {
            for (group, limits) in root.get(of).map_or(&[][..], Node::entries) {
                for (name, limit) in limits.entries() {
                    let id = format!("{}.{}", group.value, name.value);
                    if names(procedures, &id) {
                        self.limit(limit, &id);
                    }
                }
            }
        }
    }

    /// Neighbours of stacks that a procedure lays.
    fn stacks(&mut self, root: &Node, procedures: &str) {
        for (name, stack) in root.get("stacks").map_or(&[][..], Node::entries) {
            let Some(layers) = stack.get("layers") else { continue };
            if !names(procedures, &name.value) {
                continue;
            }
            for layer in layers.items() {
                self.guard(layer);
            }
            for (one, two) in layers.items().iter().zip(layers.items().iter().skip(1)) {
                let (first, second) = (self.source.slice(one.span), self.source.slice(two.span));
                let edits = vec![
                    Edit::replace(one, second.trim_end()),
                    Edit::replace(two, first.trim_end()),
                ];
                let word = |layer: &Node| {
                    layer.get("layer").and_then(Node::text).unwrap_or_default().to_owned()
                };
                let what = format!("layers `{}` and `{}` are swapped", word(one), word(two));
                self.make(what, one, edits);
            }
        }
    }
}

/// True when `name` stands in the text as a word of its own.
fn names(text: &str, name: &str) -> bool {
    let part = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
    text.split(|c: char| !part(c)).collect::<BTreeSet<&str>>().contains(name)
}

/// A figure's text with its last digit one up and one down.
fn last_digit(text: &str) -> Vec<String> {
    let unit = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+')));
    let (figure, unit) = text.split_at(unit.unwrap_or(text.len()));
    let digits: String = figure.chars().filter(char::is_ascii_digit).collect();
    let Ok(whole) = digits.parse::<u64>() else { return Vec::new() };
    let shown = |whole: u64| {
        let digits = format!("{whole:0width$}", width = digits.len());
        let mut digits = digits.chars();
        let mut out: String = figure
            .chars()
            .map(|c| if c.is_ascii_digit() { digits.next().unwrap_or('0') } else { c })
            .collect();
        out.extend(digits);
        out + unit
    };
    let mut out: Vec<String> = whole.checked_sub(1).map(&shown).into_iter().collect();
    // A carry that needs one more digit would move the mark; one more place is left out.
    let up = whole.saturating_add(1);
    if up.to_string().len() <= digits.len() {
        out.push(shown(up));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_moves_by_its_last_digit() {
        assert_eq!(last_digit("38.00 mm"), ["37.99 mm", "38.01 mm"]);
        assert_eq!(last_digit("0.10"), ["0.09", "0.11"]);
        assert_eq!(last_digit("9 bar"), ["8 bar"]);
        assert_eq!(last_digit("0 mm"), ["1 mm"]);
        assert_eq!(last_digit("-5 °C"), ["-4 °C", "-6 °C"]);
        assert_eq!(last_digit("x"), Vec::<String>::new());
    }

    #[test]
    fn mistakes_are_made_one_at_a_time_and_each_changes_the_text() {
        let text = "steps:\n  - id: a\n    when: x == y\n    do: X\n  - id: b\n    look: Y\n    \
                    findings:\n      fine: {see: F, verdict: accept}\n      torn: {see: T, verdict: \
                    replace, parts: [p]}\n";
        let root = edits::tree(text).unwrap();
        let mut maker = Maker::new("t.yaml", text);
        maker.steps(root.get("steps").unwrap());
        let id = ProcedureId::new("t").unwrap();
        let made = maker.made(|edits| Change::Procedure(id.clone(), edits));
        let told: Vec<(usize, &str)> = made.iter().map(|m| (m.line, m.what.as_str())).collect();
        assert_eq!(
            told,
            [
                (2, "step `a` is dropped"),
                (3, "`when: x == y` is dropped"),
                (5, "step `b` is dropped"),
                (8, "a verdict of `b` is refer for accept"),
                (9, "a verdict of `b` is refer for replace"),
            ]
        );
        for mutant in &made {
            let Change::Procedure(_, edits) = &mutant.change else { panic!("a procedure") };
            let changed = edits::apply(text, edits);
            assert_ne!(changed, text);
            assert!(edits::tree(&changed).is_some(), "{changed}");
        }
    }
}
