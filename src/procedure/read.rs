//! Reading a procedure file.
//!
//! Shapes have been held against the table before; here values are taken, and looked at together.
//! Whether names in conditions, figures and performed procedures are there is `walk::flow`'s work.

mod energy;
mod exits;
mod names;
mod steps;
mod tighten;
mod work_out;

use super::model::{DurationRef, Needs, Procedure, Promise, SignalWords, Standing, Token};
use crate::diag::{Code, Diagnostic};
use crate::expr::Path;
use crate::ids::{Name, Role, TokenId};
use crate::language::take::{self, Lower, each, optional};
use crate::language::{self, FileKind};
use crate::source::{At, FileId, Source, Span};
use crate::yaml::Node;

/// Reads a procedure. It is there only without errors; warnings may come with it.
pub fn read(file: FileId, source: &Source) -> (Option<Procedure>, Vec<Diagnostic>) {
    language::read((file, source), FileKind::Procedure, procedure)
}

/// The same, of a text that was parsed already, with what was wrong with it as such.
pub fn read_tree(
    file: FileId,
    source: &Source,
    parsed: (&Node, Vec<Diagnostic>),
) -> (Option<Procedure>, Vec<Diagnostic>) {
    language::read_tree((file, source), parsed, FileKind::Procedure, procedure)
}

fn procedure(root: &Node, lower: &mut Lower<'_>) -> Option<Procedure> {
    names::check(root, lower);
    let languages = take::names::<Name>(root.get("languages"));
    lower.languages = languages.iter().flatten().map(|language| language.value.clone()).collect();
    let revisions = lower.revisions(root);
    let promises = promises(root, lower);
    let tokens = tokens(root, lower);
    let standing = standing(root.get("standing"), lower);
    let mut steps = steps::steps(root.get("steps"), lower);
    if let Some(steps) = &mut steps {
        energy::demand(root.get("energy"), steps, lower);
    }
    Some(Procedure {
        id: take::name(root.get("procedure")?)?,
        title: take::text(root.get("title")?)?,
        equipment: take::name(root.get("equipment")?)?,
        revision: take::revision(root.get("revision")?)?,
        effective: take::date(root.get("effective")?)?,
        revisions: revisions?,
        performed_by: role(root.get("performed_by")?)?,
        signed_by: role(root.get("signed_by")?)?,
        signal_words: SignalWords::AnsiZ535,
        needs: optional(root.get("needs"), needs)?.unwrap_or_default(),
        tokens: tokens?.into_iter().collect(),
        fit_outs: each(root.get("fit_outs"), take::text_at)?,
        safe_state: optional(root.get("safe_state"), take::text)?,
        standing: standing?,
        assumes: take::names(root.get("assumes"))?,
        languages: languages?,
        promises: promises?,
        steps: steps?,
    })
}

fn role(node: &Node) -> Option<Role> {
    Role::parse(node.text()?)
}

fn needs(node: &Node) -> Option<Needs> {
    let named = |key: &str| take::names::<Name>(node.get(key));
    Some(Needs {
        people: each(node.get("people"), take::text)?,
        tools: named("tools")?,
        supplies: named("supplies")?,
        ppe: named("ppe")?,
        state: each(node.get("state"), take::text)?,
    })
}

fn tokens(root: &Node, lower: &mut Lower<'_>) -> Option<Vec<(TokenId, Token)>> {
    let entries = |key: &str| root.get(key).map_or(&[][..], Node::entries);
    let mut tokens = Vec::new();
    for (key, node) in entries("tokens") {
        let token = Token {
            title: take::text(node.get("title")?)?,
            clear_before_release: take::flag(node.get("clear_before_release")),
            lasts_s: optional(node.get("lasts"), |node| seconds(node, lower))?,
            volatile: take::flag(node.get("volatile")),
            personal: take::flag(node.get("personal")),
            loose: false,
            span: key.span,
        };
        tokens.push((TokenId::new(key.value.as_str()).ok()?, token));
    }
    for (key, node) in entries("loose_parts") {
        if let Some((declared, _)) = entries("tokens").iter().find(|(t, _)| t.value == key.value) {
            lower.twice(key, declared.span, "tokens");
        }
        let token = Token {
            title: take::text(node.get("title")?)?,
            clear_before_release: true,
            lasts_s: None,
            volatile: false,
            personal: false,
            loose: true,
            span: key.span,
        };
        tokens.push((TokenId::new(key.value.as_str()).ok()?, token));
    }
    Some(tokens)
}

/// A time that is given here; a procedure's token is the same on every machine.
fn seconds(node: &Node, lower: &mut Lower<'_>) -> Option<u64> {
    match steps::duration_ref(node)? {
        DurationRef::Literal(at) => Some(at.value),
        DurationRef::Figure(at) => {
            let headline = "how long a state lasts is given here".to_owned();
            let help = "write a time such as `30 min`";
            lower.error(Code::BadFigure, at.span, headline, help);
            None
        }
    }
}

/// Standing conditions; no two share a name.
fn standing(node: Option<&Node>, lower: &mut Lower<'_>) -> Option<Vec<Standing>> {
    let found = each(node, |node| {
        Some(Standing {
            id: take::name(node.get("id")?)?,
            see: take::text(node.get("see")?)?,
            then: take::text(node.get("then")?)?,
        })
    })?;
    let names: Vec<At<String>> =
        found.iter().map(|s| At::new(s.id.value.to_string(), s.id.span)).collect();
    lower.unique(&names, "standing conditions");
    Some(found)
}

fn promises(root: &Node, lower: &mut Lower<'_>) -> Option<Vec<Promise>> {
    let never = each(root.get("never"), |node| {
        let when = optional(node.get("when"), |when| lower.condition(when));
        Some(Promise::NeverReach {
            step: path(node.get("reach")?)?,
            when: when?,
            because: take::text(node.get("because")?)?,
        })
    });
    let always = each(root.get("always"), |node| {
        Some(Promise::FirstBefore {
            first: path(node.get("first")?)?,
            before: path(node.get("before")?)?,
            because: take::text(node.get("because")?)?,
        })
    });
    let mut promises = never?;
    promises.extend(always?);
    Some(promises)
}

/// A dotted name, every word with its place; a quoted one's words share the place of the whole.
fn path(node: &Node) -> Option<Path> {
    let text = node.text()?;
    let plain = node.span.end - node.span.start == text.len();
    let mut offset = 0;
    let mut words = Vec::new();
    for word in text.split('.') {
        let start = node.span.start + offset;
        let span =
            if plain { Span::new(node.span.file, start, start + word.len()) } else { node.span };
        words.push(At::new(Name::new(word).ok()?, span));
        offset += word.len() + 1;
    }
    Some(Path { words, span: node.span })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::model::{Action, EntryKind, LimitRef, Otherwise, Step, Verdict};
    use crate::units::{Quantity, Unit};

    const FULL: &str = include_str!("../../tests/fixtures/language/good/procedure_full.yaml");

    fn full() -> (Source, Procedure) {
        let source = Source::new("full.yaml", FULL);
        let (procedure, found) = read(FileId(0), &source);
        assert_eq!(found, []);
        (source, procedure.unwrap())
    }

    fn step<'p>(procedure: &'p Procedure, id: &str) -> &'p Step {
        procedure.steps.iter().find(|step| step.id.value.as_str() == id).unwrap()
    }

    #[test]
    fn the_header_is_read_as_written() {
        let (source, procedure) = full();
        assert_eq!(procedure.id.value.as_str(), "reducer_backlash");
        assert_eq!(source.slice(procedure.equipment.span), "gear_reducer");
        assert_eq!(procedure.revisions.len(), 2);
        assert_eq!(procedure.needs.lines().len(), 6);
        let cleared = procedure.tokens.values().filter(|token| token.clear_before_release);
        assert_eq!(cleared.count(), 2, "the lock, and the loose part");
        let Promise::NeverReach { step, when: None, .. } = &procedure.promises[1] else {
            panic!("{:?}", procedure.promises)
        };
        let words: Vec<&str> = step.words.iter().map(|word| source.slice(word.span)).collect();
        assert_eq!(words, ["backlash", "places", "play"]);
    }

    #[test]
    fn safety_messages_stand_worst_first_and_texts_end_without_a_line_break() {
        let (_, procedure) = full();
        let lock = step(&procedure, "lock");
        let words: Vec<&str> = lock.safety.iter().map(|text| text.word.word()).collect();
        assert_eq!(words, ["DANGER", "CAUTION", "CAUTION", "NOTICE"]);
        let why = "The drive can be started from the control room.\nNobody there sees you.";
        assert_eq!(lock.why.as_deref(), Some(why));
        let Action::Do { text } = &step(&procedure, "wipe").action else { panic!() };
        assert_eq!(text, "Wipe the flanks of the output wheel.");
    }

    #[test]
    fn a_check_without_not_so_goes_to_the_mechanic() {
        let (_, procedure) = full();
        let Action::Check { not_so, .. } = &step(&procedure, "cover").action else { panic!() };
        assert_eq!((not_so.verdict, not_so.to), (Verdict::Refer, Role::Mechanic));
        let Action::Check { not_so, .. } = &step(&procedure, "bolts").action else { panic!() };
        assert_eq!(not_so.parts.len(), 1);
    }

    #[test]
    fn findings_keep_their_order_and_their_exits() {
        let (_, procedure) = full();
        let Action::Look { findings, several: true, .. } = &step(&procedure, "seal").action else {
            panic!()
        };
        let names: Vec<&str> = findings.iter().map(|f| f.id.value.as_str()).collect();
        assert_eq!(names, ["no_fault", "hard", "dirty", "torn"]);
        let rework = findings[2].exit.rework.as_ref().unwrap();
        assert!(matches!(rework.otherwise, Otherwise::Refer { to: Role::Mechanic, .. }));
        let stop = findings[3].exit.stop.as_ref().unwrap();
        assert_eq!(stop.text, "The reducer goes back to the maker.");
        assert_eq!(stop.tell, ["The foreman"]);
    }

    #[test]
    fn limits_are_exact_in_every_form() {
        let (_, procedure) = full();
        let exact = |text: &str| Quantity::parse_literal(text).unwrap().0;
        for (id, least, most, unit) in [
            ("float", Some("0.1 mm"), Some("0.25 mm"), Unit::Millimetre),
            ("free_length", Some("44.6 mm"), None, Unit::Millimetre),
            ("bore", Some("1.5 in"), Some("1.502 in"), Unit::Inch),
        ] {
            let Action::Measure { limit: LimitRef::Here(limit), .. } = &step(&procedure, id).action
            else {
                panic!("{id}")
            };
            assert_eq!(limit.value.limit.at_least, least.map(exact), "{id}");
            assert_eq!(limit.value.limit.at_most, most.map(exact), "{id}");
            assert_eq!(limit.value.limit.unit, unit);
        }
    }

    #[test]
    fn an_entry_is_a_text_unless_it_says_otherwise() {
        let (_, procedure) = full();
        let kind = |id: &str| match &step(&procedure, id).action {
            Action::Enter { kind, .. } => kind.clone(),
            other => panic!("{other:?}"),
        };
        assert_eq!(kind("remark"), EntryKind::Text);
        assert_eq!(kind("letter"), EntryKind::FitOut);
        let EntryKind::Figure { unit, plausible } = kind("teeth") else { panic!() };
        assert_eq!((unit, plausible.unwrap().1), (Unit::One, Quantity::whole(200)));
        let EntryKind::Choice(choices) = kind("oil") else { panic!() };
        assert_eq!(choices[1].1, "Synthetic oil");
    }

    #[test]
    fn a_condition_keeps_its_text_and_its_place_in_every_style() {
        for condition in ["oil == mineral", "\"oil == mineral\"", ">-\n      oil == mineral\n"] {
            let text = FULL.replace("oil == mineral and not (cover.verdict == refer)", condition);
            let source = Source::new("p", text);
            let (procedure, found) = read(FileId(0), &source);
            assert_eq!(found, [], "{condition}");
            let procedure = procedure.unwrap();
            let when = step(&procedure, "height").when.as_ref().unwrap();
            assert_eq!(when.text, "oil == mineral");
            assert_eq!(source.slice(when.expr.span()), "oil == mineral", "{condition}");
        }
    }
}
