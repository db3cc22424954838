//! The listing of all keys for people, in Markdown, made from the table.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::FileKind;
use super::fields::{Case, Choice, Field, Mapping, Presence, Shape};

/// Every key of one kind of file, mapping by mapping, in the order in which they are met.
pub fn listing(kind: FileKind) -> String {
    let mut text = String::new();
    let mut seen = BTreeSet::new();
    let mut waiting = vec![kind.mapping()];
    while let Some(mapping) = waiting.pop() {
        if seen.insert(mapping.name) {
            // Writing to a `String` cannot fail.
            let _ = section(&mut text, mapping);
            let mut inner: Vec<_> = mapping.all().iter().filter_map(|f| inner(f.shape)).collect();
            inner.reverse();
            waiting.append(&mut inner);
        }
    }
    text
}

fn section(text: &mut String, mapping: &'static Mapping) -> std::fmt::Result {
    writeln!(text, "### {}\n\n{}\n", mapping.name.replace('_', " "), mapping.doc)?;
    writeln!(text, "| key | what stands there | must it | what for |")?;
    writeln!(text, "| --- | --- | --- | --- |")?;
    for field in mapping.fields {
        row(text, field, "")?;
    }
    cases(text, &mapping.choice, "")?;
    if let Some(rest) = mapping.rest {
        writeln!(text, "| *name* | {} | no | A name of the author's own. |", shape(rest))?;
    }
    writeln!(text)
}

fn cases(text: &mut String, choice: &'static Choice, around: &str) -> std::fmt::Result {
    for case in choice.cases() {
        let with = match choice {
            Choice::Word(by) => format!("{around} with `{}: {}`", by.key, case.word),
            _ => around.to_owned(),
        };
        for field in case.lead {
            row(text, field, &with)?;
        }
        let with = match (choice, case.lead) {
            (Choice::Key(_), [lead, ..]) => format!("{around} with `{}`", lead.key),
            _ => with,
        };
        rows(text, case, &with)?;
        cases(text, &case.then, &with)?;
    }
    Ok(())
}

fn rows(text: &mut String, case: &'static Case, with: &str) -> std::fmt::Result {
    case.fields.iter().try_for_each(|field| row(text, field, with))
}

fn row(text: &mut String, field: &Field, with: &str) -> std::fmt::Result {
    let (what, must) = match field.presence {
        Presence::Required => (shape(field.shape), "yes"),
        Presence::Optional => (shape(field.shape), "no"),
        Presence::Reserved => (String::new(), "not in this version"),
    };
    writeln!(text, "| `{}`{with} | {what} | {must} | {} |", field.key, field.doc)
}

fn shape(shape_of: Shape) -> String {
    match shape_of {
        Shape::Anything => String::new(),
        Shape::Text(text) => text.noun.to_owned(),
        Shape::Word(words) => {
            words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
        }
        Shape::Flag => "`true` or `false`".to_owned(),
        Shape::Count => "a whole number".to_owned(),
        Shape::CountOrFigure => "a whole number, or the name of a figure".to_owned(),
        Shape::FigureOr(mapping) => format!("the name of a figure, or {}", mapping.noun),
        Shape::Either(one, many) => format!("{}, or {}", shape(*one), shape(*many)),
        Shape::Mapping(mapping) => mapping.noun.to_owned(),
        Shape::List(item, least) => format!("a list{}: {}", at_least(least), shape(*item)),
        Shape::OneOrMore(item) => format!("{}, or a list of them", shape(*item)),
        Shape::Keyed(_, value, least) => format!("by name{}: {}", at_least(least), shape(*value)),
    }
}

fn at_least(least: usize) -> String {
    if least == 0 { String::new() } else { format!(" of at least {least}") }
}

fn inner(shape: Shape) -> Option<&'static Mapping> {
    match shape {
        Shape::Mapping(mapping) | Shape::FigureOr(mapping) => Some(mapping),
        Shape::Either(_, item)
        | Shape::List(item, _)
        | Shape::OneOrMore(item)
        | Shape::Keyed(_, item, _) => inner(*item),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_of_a_kind_is_listed_with_its_meaning() {
        let text = listing(FileKind::Procedure);
        assert!(text.contains("| `measure` | a text | yes | What is measured: one reading"));
        assert!(text.contains("| `unit` with `enter` with `kind: figure` |"));
        assert!(text.contains("| `picture` |  | not in this version | A picture. |"));
        assert_eq!(text.matches("### step\n").count(), 1);
    }
}
