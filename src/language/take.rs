//! Takes values out of a tree that has been held against the table.
//!
//! Nothing here reports a fault of shape: `conform` has said it, and these give `None`. What is
//! reported here is what values mean together.

use super::RevisionNote;
use super::conform::count;
use super::texts::{self, day};
use crate::diag::{Code, Diagnostic};
use crate::expr::{self, Condition};
use crate::ids::{Name, NameFault, PersonId, Revision};
use crate::source::{At, FileId, Source, Span};
use crate::units::{
    Compare, Criterion, DecisionRule, Demand, Dimension, Grade, Grades, Guard, Limit, LimitFault,
    Quantity, Ties, Tolerance, Unit,
};
use crate::yaml::Node;

/// The lowering of one file: its text, and what was found wrong with its meaning.
pub(crate) struct Lower<'a> {
    pub(crate) file: FileId,
    pub(crate) source: &'a Source,
    pub(crate) found: Vec<Diagnostic>,
    /// How the file has readings compared where a limit does not say.
    pub(crate) compare: Option<String>,
    /// The languages in which the file promises its safety messages besides English.
    pub(crate) languages: Vec<Name>,
}

impl<'a> Lower<'a> {
    pub(crate) fn new(file: FileId, source: &'a Source) -> Self {
        Self { file, source, found: Vec::new(), compare: None, languages: Vec::new() }
    }

    /// Reports `fault`.
    pub(crate) fn report(&mut self, fault: Diagnostic) {
        self.found.push(fault);
    }

    /// Reports an error with what to do about it.
    pub(crate) fn error(&mut self, code: Code, span: Span, headline: String, help: &str) {
        self.report(Diagnostic::error(code, span, headline).help(help));
    }

    /// A condition; its own faults are reported here.
    pub(crate) fn condition(&mut self, node: &Node) -> Option<Condition> {
        let text = node.text()?;
        if text.trim().is_empty() {
            return None;
        }
        let Some((verbatim, offset)) = node.verbatim(self.source) else {
            let headline = "a condition is written without escapes and inner quotes".to_owned();
            self.error(Code::BadCondition, node.span, headline, "write it without quotes");
            return None;
        };
        match expr::parse::parse(verbatim, self.file, offset) {
            Ok(expr) => Some(Condition { text: text.trim().to_owned(), expr, span: node.span }),
            Err(faults) => {
                self.found.extend(faults);
                None
            }
        }
    }

    /// What a mapping that gives a limit asks of a reading, whatever else stands in it. `head` is
    /// the place for what concerns the whole.
    pub(crate) fn criterion(&mut self, node: &Node, head: Span) -> Option<Criterion> {
        let rule = self.rule(node);
        let criterion = if let Some(grades) = node.get("grades") {
            self.grades(node, grades)
        } else {
            self.limit(node, node, head).map(Criterion::from)
        };
        let capability = optional(node.get("capability"), |n| texts::index(n.text()?))?;
        let demand = Demand { capability, steps: None };
        let holds_at = optional(node.get("holds_at"), |range| {
            let (from, to) = self.range(range)?;
            if from.dimension == Dimension::Temperature {
                return Some((from, to));
            }
            let headline =
                format!("a limit holds at temperatures, and this is {}", from.dimension.noun());
            self.error(
                Code::DimensionMismatch,
                range.span,
                headline,
                "such as `{from: 18 °C, to: 22 °C}`",
            );
            None
        })?;
        let criterion = Criterion { rule: rule?, demand, holds_at, ..criterion? };
        if let (Some(asked), None) = (node.get("capability"), criterion.limit.width()) {
            let headline = "a capability is told of two bounds, and this limit has one".to_owned();
            self.error(Code::BadLimit, asked.span, headline, "delete it, or give both bounds");
            return None;
        }
        let span = node.get("rule").map_or(head, |rule| rule.span);
        if let Err(fault) = criterion.rule.check(&criterion.limit) {
            self.report(Diagnostic::error(Code::BadLimit, span, fault.to_string()));
            return None;
        }
        if criterion.needs_uncertainty() && criterion.grades.is_some() {
            let headline = "a limit with grades takes readings by the rule `simple`".to_owned();
            let help = "give each grade a step of its own, or delete the rule";
            self.error(Code::BadLimit, span, headline, help);
            return None;
        }
        Some(criterion)
    }

    fn grades(&mut self, node: &Node, list: &Node) -> Option<Criterion> {
        let grades: Vec<Option<Grade>> = list
            .entries()
            .iter()
            .map(|(name, bounds)| {
                let limit = self.limit(bounds, node, name.span)?;
                Some(Grade { name: key_name(name)?.value.to_string(), limit })
            })
            .collect();
        let grades: Vec<Grade> = grades.into_iter().collect::<Option<_>>()?;
        if grades.is_empty() {
            return None;
        }
        match Grades::new(grades) {
            Ok(grades) => {
                let limit = grades.widest()?.limit.clone();
                Some(Criterion { grades: Some(grades), ..Criterion::from(limit) })
            }
            Err(fault) => {
                let span = node.entries().iter().find(|(key, _)| key.value == "grades")?.0.span;
                self.report(Diagnostic::error(Code::BadLimit, span, fault.to_string()));
                None
            }
        }
    }

    fn rule(&mut self, node: &Node) -> Option<DecisionRule> {
        let word = node.get("rule").map_or(Some("simple"), Node::text)?;
        let guard = optional(node.get("guard"), |n| texts::guard(n.text()?))?;
        let share = optional(node.get("probability"), |n| texts::probability(n.text()?))?;
        let guarded = matches!(word, "guarded" | "proven");
        for (key, belongs, to) in [
            ("guard", guarded, "the rules `guarded` and `proven`"),
            ("probability", word == "probability", "the rule `probability`"),
        ] {
            if let (Some(given), false) = (node.get(key), belongs) {
                let headline = format!("`{key}` belongs to {to}, and the rule here is `{word}`");
                self.error(Code::BadLimit, given.span, headline, "delete it, or give that rule");
            }
        }
        let guard = guard.unwrap_or_else(Guard::full);
        match word {
            "simple" => Some(DecisionRule::Simple),
            "guarded" => Some(DecisionRule::Guarded(guard)),
            "proven" => Some(DecisionRule::Proven(guard)),
            "probability" => {
                if share.is_none() {
                    let span = node.get("rule").map_or(node.span, |rule| rule.span);
                    let headline = "this rule does not say how probable is enough".to_owned();
                    self.error(Code::BadLimit, span, headline, "add `probability: 95 %`");
                }
                share.map(DecisionRule::Probability)
            }
            _ => None,
        }
    }

    /// The bounds of `node`, with readings compared as `whole` says.
    fn limit(&mut self, node: &Node, whole: &Node, head: Span) -> Option<Limit> {
        let (limit, stated) = self.bounds(node, head)?;
        let of_file = self.compare.as_deref().unwrap_or("absolute");
        let ties = match whole.get("compare").map_or(Some(of_file), Node::text)? {
            "absolute" => return Some(limit),
            "rounded_half_even" => Ties::HalfEven,
            "rounded_half_up" => Ties::HalfUp,
            _ => return None,
        };
        let texts = stated.iter().filter_map(|figure| figure.text());
        let compared =
            Compare::rounded_like(texts, ties).and_then(|compare| limit.with_compare(compare));
        match compared {
            Ok(limit) => Some(limit),
            Err(fault) => {
                let span = whole.get("compare").map_or(head, |compare| compare.span);
                let mut report = Diagnostic::error(Code::BadLimit, span, fault.to_string());
                if let Some(figure) = stated.last() {
                    report = report.related(figure.span, "a bound");
                }
                self.report(report);
                None
            }
        }
    }

    /// Bounds, and the figures that state them.
    fn bounds<'n>(&mut self, node: &'n Node, head: Span) -> Option<(Limit, Vec<&'n Node>)> {
        let forms = [
            &["at_least", "at_most"][..],
            &["between"],
            &["nominal", "plus", "minus"],
            &["grades"],
        ];
        let given = |form: &&[&str]| form.iter().any(|key| node.get(key).is_some());
        if forms.iter().filter(|form| given(form)).count() > 1 {
            return None;
        }
        let (least, most) = if let Some(both) = node.get("between") {
            let [least, most] = both.items() else {
                if both.items().len() > 2 {
                    let headline =
                        "`between` has two figures: the least and the greatest".to_owned();
                    self.error(Code::BadLimit, both.span, headline, "delete the others");
                }
                return None;
            };
            (Some(least), Some(most))
        } else if let Some(nominal) = node.get("nominal") {
            return self.nominal(node, nominal);
        } else {
            (node.get("at_least"), node.get("at_most"))
        };
        let stated = least.into_iter().chain(most).collect();
        let (least, most) = (optional(least, figure_at)?, optional(most, figure_at)?);
        let unit = least.as_ref().or(most.as_ref())?.value.1;
        if let (Some(least), Some(most)) = (&least, &most) {
            self.in_order(least, most, head)?;
        }
        let value = |bound: Option<At<(Quantity, Unit)>>| bound.map(|b| b.value.0);
        Some((Limit::new(value(least), value(most), unit).ok()?, stated))
    }

    fn nominal<'n>(&mut self, node: &'n Node, nominal: &'n Node) -> Option<(Limit, Vec<&'n Node>)> {
        let (middle, unit) = figure(nominal)?;
        let (plus, minus) = (node.get("plus")?, node.get("minus")?);
        let one = |tolerance: &Tolerance| Limit::around(&middle, tolerance, tolerance, unit);
        let mut tolerance = |node: &Node| {
            let tolerance = Tolerance::parse_literal(node.text()?).ok()?;
            match one(&tolerance) {
                Ok(_) => Some(tolerance),
                Err(fault) => {
                    let code = match fault {
                        LimitFault::NotATolerance { .. } => Code::DimensionMismatch,
                        _ => Code::BadLimit,
                    };
                    self.report(
                        Diagnostic::error(code, node.span, fault.to_string())
                            .related(nominal.span, "what it is a tolerance of"),
                    );
                    None
                }
            }
        };
        let (more, less) = (tolerance(plus), tolerance(minus));
        let limit = Limit::around(&middle, &more?, &less?, unit).ok()?;
        Some((limit, vec![nominal]))
    }

    /// A range; its ends are of one dimension and in order.
    pub(crate) fn range(&mut self, node: &Node) -> Option<(Quantity, Quantity)> {
        let (from, to) = (figure_at(node.get("from")?)?, figure_at(node.get("to")?)?);
        self.in_order(&from, &to, to.span)?;
        Some((from.value.0, to.value.0))
    }

    fn in_order(
        &mut self,
        least: &At<(Quantity, Unit)>,
        most: &At<(Quantity, Unit)>,
        span: Span,
    ) -> Option<()> {
        if least.value.0.dimension != most.value.0.dimension {
            self.mixed(most.span, least.span);
            return None;
        }
        if least.value.0.si > most.value.0.si {
            let headline = "the least figure is greater than the greatest".to_owned();
            self.report(
                Diagnostic::error(Code::BadLimit, span, headline)
                    .related(least.span, "the least")
                    .related(most.span, "the greatest")
                    .help("nothing can meet this; look at the two figures"),
            );
            return None;
        }
        Some(())
    }

    fn mixed(&mut self, span: Span, other: Span) {
        self.report(
            Diagnostic::error(Code::DimensionMismatch, span, "this measures something else")
                .related(other, "than this")
                .help("give both figures a unit of the same kind, such as `mm`"),
        );
    }

    /// Reports figures at `span` that do not measure what `unit` does, with the unit's place.
    pub(crate) fn same_dimension(&mut self, value: &Quantity, span: Span, unit: &At<Unit>) -> bool {
        let (is, wanted) = (value.dimension, unit.value.dimension());
        if is == wanted {
            return true;
        }
        let symbol = unit.value.symbol();
        let (headline, help) = if is == Dimension::Number {
            let help = format!("write the unit with the figure, such as `{symbol}`");
            (format!("this figure has no unit, and {} is measured", wanted.noun()), help)
        } else {
            let help = format!("write it in `{symbol}` or another unit of that kind");
            (format!("this is {}, and {} is measured", is.noun(), wanted.noun()), help)
        };
        self.report(
            Diagnostic::error(Code::DimensionMismatch, span, headline)
                .related(unit.span, "measured in this")
                .help(help),
        );
        false
    }

    /// The change log; one line must be about the file's own revision.
    pub(crate) fn revisions(&mut self, root: &Node) -> Option<Vec<RevisionNote>> {
        let node = root.get("revisions")?;
        let notes: Vec<RevisionNote> = each(Some(node), note)?;
        let own = root.get("revision").and_then(revision)?;
        if !notes.iter().any(|note| note.revision == own) && !notes.is_empty() {
            let span = root.entries().iter().find(|(key, _)| key.value == "revisions")?.0.span;
            self.report(
                Diagnostic::error(
                    Code::BadValue,
                    span,
                    format!("no line of the change log is about revision {own}"),
                )
                .related(root.get("revision")?.span, "the file's revision")
                .help("say in a new line what changed and why"),
            );
        }
        Some(notes)
    }

    /// Reports every later one of `names` that stands there already.
    pub(crate) fn unique(&mut self, names: &[At<String>], what: &str) {
        for (i, name) in names.iter().enumerate() {
            let earlier = names.iter().take(i).find(|known| known.value == name.value);
            if let Some(first) = earlier {
                self.twice(name, first.span, what);
            }
        }
    }

    /// Reports that `name` stands for two things.
    pub(crate) fn twice(&mut self, name: &At<String>, first: Span, what: &str) {
        self.report(
            Diagnostic::error(
                Code::DuplicateName,
                name.span,
                format!("`{}` names two {what}", name.value),
            )
            .related(first, "first here")
            .help("give one of them another name"),
        );
    }
}

fn note(node: &Node) -> Option<RevisionNote> {
    Some(RevisionNote {
        revision: revision(node.get("revision")?)?,
        date: date(node.get("date")?)?,
        by: PersonId::new(node.get("by")?.text()?).ok()?,
        what: optional(node.get("what"), text)?,
        why: text(node.get("why")?)?,
    })
}

/// A text; the line break that ends a block is not part of it.
pub(crate) fn text(node: &Node) -> Option<String> {
    node.text().map(|text| text.trim_end_matches('\n').to_owned())
}

/// A text with its place.
pub(crate) fn text_at(node: &Node) -> Option<At<String>> {
    text(node).map(|text| At::new(text, node.span))
}

/// A name of any type, with its place.
pub(crate) fn name<T: std::str::FromStr<Err = NameFault>>(node: &Node) -> Option<At<T>> {
    node.text()?.parse().ok().map(|name| At::new(name, node.span))
}

/// A list of names with their places.
pub(crate) fn names<T: std::str::FromStr<Err = NameFault>>(
    node: Option<&Node>,
) -> Option<Vec<At<T>>> {
    each(node, name)
}

/// The name that a key gives.
pub(crate) fn key_name(key: &At<String>) -> Option<At<Name>> {
    Name::new(key.value.as_str()).ok().map(|name| At::new(name, key.span))
}

/// A calendar day.
pub(crate) fn date(node: &Node) -> Option<chrono::NaiveDate> {
    day(node.text()?)
}

/// A whole number from 1.
pub(crate) fn number(node: &Node) -> Option<u32> {
    count(node.text()?)
}

/// A revision.
pub(crate) fn revision(node: &Node) -> Option<Revision> {
    number(node).map(Revision)
}

/// A truth; false where the key is absent.
pub(crate) fn flag(node: Option<&Node>) -> bool {
    node.and_then(Node::text) == Some("true")
}

/// A figure with the unit that it was written in.
pub(crate) fn figure(node: &Node) -> Option<(Quantity, Unit)> {
    Quantity::parse_literal(node.text()?).ok()
}

/// A figure with its unit and its place.
fn figure_at(node: &Node) -> Option<At<(Quantity, Unit)>> {
    figure(node).map(|figure| At::new(figure, node.span))
}

/// What `take` makes of a value that may be absent; `None` when it is there and cannot be taken.
#[expect(clippy::option_option, reason = "absent is an answer, unreadable is none")]
pub(crate) fn optional<T>(
    node: Option<&Node>,
    take: impl FnOnce(&Node) -> Option<T>,
) -> Option<Option<T>> {
    node.map_or(Some(None), |node| take(node).map(Some))
}

/// What `take` makes of every item of a list, or of the one value that stands for a list of one;
/// of nothing where the key is absent. Every item is taken before the whole is given up.
pub(crate) fn each<T>(node: Option<&Node>, take: impl FnMut(&Node) -> Option<T>) -> Option<Vec<T>> {
    let Some(node) = node else { return Some(Vec::new()) };
    let items = match &node.kind {
        crate::yaml::Kind::Seq(items) => items.as_slice(),
        _ => std::slice::from_ref(node),
    };
    let taken: Vec<Option<T>> = items.iter().map(take).collect();
    taken.into_iter().collect()
}
