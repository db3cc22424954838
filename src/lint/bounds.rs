//! Steps side by side whose conditions part a reading at one figure: who gets the figure itself?

use crate::diag::{Code, Diagnostic};
use crate::expr::parse::parse;
use crate::expr::{Comparison, Expr, Path};
use crate::source::{FileId, Span};
use crate::units::Quantity;
use crate::yaml::Node;

/// What of a figure the conditions around it take.
#[derive(Default)]
struct Around {
    below: Option<Span>,
    above: Option<Span>,
    /// The condition that takes the figure with what lies below it.
    to: Option<Span>,
    /// The condition that takes the figure with what lies above it.
    from: Option<Span>,
    /// Some condition asks for the figure itself: it was thought of.
    meant: bool,
}

/// Reports every figure that two steps of one list leave out between them, or both take.
pub(super) fn holes(file: FileId, root: &Node) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    lists(file, root, &mut found);
    found
}

fn lists(file: FileId, node: &Node, found: &mut Vec<Diagnostic>) {
    for (key, value) in node.entries() {
        if key.value == "steps" {
            list(file, value.items(), found);
        }
        lists(file, value, found);
    }
    for item in node.items() {
        lists(file, item, found);
    }
}

fn list(file: FileId, steps: &[Node], found: &mut Vec<Diagnostic>) {
    let mut parted: Vec<(Parted, Around)> = Vec::new();
    for when in steps.iter().filter_map(|step| step.get("when")) {
        let Some(text) = when.text() else { continue };
        let Ok(condition) = parse(text, file, 0) else { continue };
        let Some((sign, parts)) = comparison(text, &condition) else { continue };
        let at = parted.iter().position(|(known, _)| known.is(&parts)).unwrap_or(parted.len());
        if at == parted.len() {
            parted.push((parts, Around::default()));
        }
        let Some((_, around)) = parted.get_mut(at) else { continue };
        match sign {
            Comparison::Less => around.below = Some(when.span),
            Comparison::LessOrEqual => around.to = Some(when.span),
            Comparison::Greater => around.above = Some(when.span),
            Comparison::GreaterOrEqual => around.from = Some(when.span),
            Comparison::Equal | Comparison::NotEqual => around.meant = true,
        }
    }
    for (Parted { name, text, .. }, around) in parted {
        let Around { below, above, to, from, meant: false } = around else { continue };
        let (at, other, text) = match (below, above, to, from) {
            (Some(below), Some(above), None, None) => {
                (above, below, format!("no step is for `{name}` of exactly {text}"))
            }
            (None, None, Some(to), Some(from)) => {
                (from, to, format!("two steps are for `{name}` of exactly {text}"))
            }
            _ => continue,
        };
        found.push(
            Diagnostic::warning(Code::HoleAtBound, at, text)
                .related(other, "the other side")
                .help("give the figure to one of the two: `<=` with `>`, or `<` with `>=`"),
        );
    }
}

/// A reading and the figure that parts it.
struct Parted {
    name: String,
    figure: Quantity,
    /// The figure as written.
    text: String,
}

impl Parted {
    fn is(&self, other: &Self) -> bool {
        self.name == other.name && self.figure == other.figure
    }
}

/// A condition that is one comparison of a name with a figure, as if the name stood on the left.
/// What stands beside it and asks whether there is an answer is left out.
fn comparison(text: &str, condition: &Expr<Path>) -> Option<(Comparison, Parted)> {
    match condition {
        Expr::And(members, _) => {
            let mut members = members.iter().filter(|m| !matches!(m, Expr::Answered(..)));
            let only = members.next()?;
            if members.next().is_some() { None } else { comparison(text, only) }
        }
        Expr::Compare(sign, left, right, _) => {
            let (sign, name, figure, at) = match (left.as_ref(), right.as_ref()) {
                (Expr::Name(name, _), Expr::Quantity(figure, at)) => (*sign, name, figure, at),
                (Expr::Quantity(figure, at), Expr::Name(name, _)) => {
                    (turned(*sign), name, figure, at)
                }
                _ => return None,
            };
            let text = text.get(at.start..at.end)?.to_owned();
            Some((sign, Parted { name: name.to_string(), figure: figure.clone(), text }))
        }
        _ => None,
    }
}

/// The comparison with its sides changed about.
fn turned(sign: Comparison) -> Comparison {
    match sign {
        Comparison::Less => Comparison::Greater,
        Comparison::LessOrEqual => Comparison::GreaterOrEqual,
        Comparison::Greater => Comparison::Less,
        Comparison::GreaterOrEqual => Comparison::LessOrEqual,
        Comparison::Equal | Comparison::NotEqual => sign,
    }
}
