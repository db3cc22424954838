//! Conditions as authors write them, right and wrong.

use proptest::prelude::*;

use super::*;
use crate::units::Unit;

const FILE: FileId = FileId(0);

/// The tree with every part in brackets.
fn shown(expr: &Expr<Path>) -> String {
    let list = |members: &[Expr<Path>], word: &str| {
        format!("({})", members.iter().map(shown).collect::<Vec<_>>().join(word))
    };
    match expr {
        Expr::Quantity(q, _) => q.render(Unit::Millimetre),
        Expr::Name(path, _) => path.to_string(),
        Expr::Word(word, _) => format!("'{word}"),
        Expr::Truth(truth, _) => truth.to_string(),
        Expr::Not(inner, _) => format!("(not {})", shown(inner)),
        Expr::And(members, _) => list(members, " and "),
        Expr::Or(members, _) => list(members, " or "),
        Expr::Compare(sign, left, right, _) => {
            format!("({} {sign:?} {})", shown(left), shown(right))
        }
        Expr::In(left, right, _) => format!("({} in {})", shown(left), shown(right)),
        Expr::Arithmetic(sign, left, right, _) => {
            format!("({} {sign:?} {})", shown(left), shown(right))
        }
        Expr::Negate(inner, _) => format!("(-{})", shown(inner)),
        Expr::Fold(fold, members, _) => format!("{fold:?}{}", list(members, ", ")),
        Expr::Answered(path, _) => format!("answered({path})"),
    }
}

fn tree(text: &str) -> String {
    match parse(text, FILE, 0) {
        Ok(expr) => shown(&expr),
        Err(diagnostics) => panic!("{text}: {diagnostics:#?}"),
    }
}

/// Each diagnostic as `CODE @characters: headline | help`.
fn faults(text: &str) -> Vec<String> {
    // Spans count from the offset, as they do inside a file.
    let offset = 1_000;
    let Err(diagnostics) = parse(text, FILE, offset) else { panic!("`{text}` was accepted") };
    diagnostics
        .iter()
        .map(|d| {
            let Span { start, end, .. } = d.primary.span;
            let at = text.get(start - offset..end - offset).unwrap();
            let help = d.help.as_ref().map_or_else(String::new, |help| format!(" | {help}"));
            format!("{} @{at}: {}{help}", d.code.number(), d.headline)
        })
        .collect()
}

#[test]
fn operators_bind_as_on_paper() {
    assert_eq!(tree("a + b * c - d"), "((a Add (b Multiply c)) Subtract d)");
    assert_eq!(tree("(a + b) * -c"), "((a Add b) Multiply (-c))");
    assert_eq!(tree("a / b / c"), "((a Divide b) Divide c)");
    assert_eq!(tree("not a == b and c < 3 mm"), "((not (a Equal b)) and (c Less 3 mm))");
    assert_eq!(tree("(a and b) or c or d"), "((a and b) or c or d)");
    assert_eq!(tree("a and b and c"), "(a and b and c)");
    assert_eq!(tree("torn in diaphragm"), "(torn in diaphragm)");
    assert_eq!(tree("- 0.02 mm <= x"), "(-0.02 mm LessOrEqual x)");
    assert_eq!(tree("3 - 2"), "(3 Subtract 2)");
}

#[test]
fn names_figures_and_functions_are_read() {
    assert_eq!(
        tree("any(backlash.places.play.verdict != accept)"),
        "Any((backlash.places.play.verdict NotEqual accept))"
    );
    assert_eq!(
        tree("max(valves.spring) - min(valves.spring) > 0.1 in"),
        "((Max(valves.spring) Subtract Min(valves.spring)) Greater 2.54 mm)"
    );
    assert_eq!(tree("answered(spring) and true"), "(answered(spring) and true)");
    assert_eq!(tree("all == 1"), "(all Equal 1)");
    assert_eq!(tree("x > 5µm"), "(x Greater 0.005 mm)");
    assert_eq!(tree("x.min > 5 um"), "(x.min Greater 0.005 mm)");
    assert_eq!(tree("x == 5 in and y"), "((x Equal 127 mm) and y)");
    assert_eq!(tree("a\n  and b"), "(a and b)");
}

#[test]
fn spans_are_byte_ranges_of_the_file() {
    let expr = parse("a and 5 µm < bb", FILE, 100).unwrap();
    assert_eq!(expr.span(), Span::new(FILE, 100, 116));
    let Expr::And(members, _) = &expr else { panic!("{expr:?}") };
    assert_eq!(members[1].span(), Span::new(FILE, 106, 116));
    let Expr::Compare(_, left, right, _) = &members[1] else { panic!("{expr:?}") };
    assert_eq!(left.span(), Span::new(FILE, 106, 111));
    assert_eq!(right.span(), Span::new(FILE, 114, 116));
}

#[test]
fn and_with_or_needs_brackets() {
    assert_eq!(
        faults("a and b or c"),
        [
            "WM404 @or: `and` and `or` stand side by side without brackets | put brackets around the \
          part that belongs together: `(a and b) or c`"
        ]
    );
    assert_eq!(faults("(a or b and c) and d").len(), 1);
}

#[test]
fn comparisons_do_not_chain() {
    assert_eq!(
        faults("1 mm < x < 2 mm"),
        [
            "WM401 @<: comparisons do not chain | compare twice, joined with `and`: `a < b and b < c`"
        ]
    );
}

#[test]
fn a_hyphen_in_a_name_is_told_from_a_difference() {
    assert_eq!(
        faults("free-length > 3 mm"),
        ["WM401 @free-length: `free-length` is not a name | names are written with `_`: \
          `free_length`; for a difference put spaces around the `-`"]
    );
    assert_eq!(tree("free - length > 3 mm"), "((free Subtract length) Greater 3 mm)");
}

#[test]
fn signs_of_other_languages_are_named_with_their_mend() {
    assert_eq!(
        faults("a = b && !c"),
        [
            "WM401 @=: `=` has no meaning in a condition | write `==`",
            "WM401 @&&: `&&` has no meaning in a condition | write `and`",
            "WM401 @!: `!` has no meaning in a condition | write `not`",
        ]
    );
    assert_eq!(
        faults("a == \"torn\""),
        ["WM401 @\"torn\": words in a condition stand without quotes | write `torn`"]
    );
    assert_eq!(faults("a AND b")[0], "WM401 @AND: a sign or `and` is missing before this");
    assert_eq!(faults("a AND b")[1], "WM401 @AND: `AND` is not a name | write `and`");
    assert_eq!(
        faults("torn not in x"),
        ["WM401 @not in: `not in` has no meaning in a condition | write `not (a in b)`"]
    );
}

#[test]
fn figures_and_units_are_checked_where_they_stand() {
    assert_eq!(faults("x > 44,6 mm"), ["WM302 @44,6: `44,6` has a decimal comma | write `44.6`"]);
    assert_eq!(
        faults("x > 44.6 MM"),
        ["WM301 @MM: `MM` is not a unit that this version has | write `mm`"]
    );
    assert_eq!(faults("x > 2.2 kp·m"), ["WM301 @kp·m: `kp·m` is not a unit that this version has"]);
    assert_eq!(
        faults("x > 1.2.3"),
        ["WM302 @1.2.3: `.` stands more than once; a figure has one decimal mark"]
    );
}

#[test]
fn several_mistakes_are_reported_together() {
    assert_eq!(
        faults("(a == ) and sume(b) > 3 furlong"),
        [
            "WM401 @): a name, a figure or a bracket is missing here",
            "WM401 @sume: there is no `sume(…)` | did you mean `sum`?",
            "WM301 @furlong: `furlong` is not a unit that this version has",
        ]
    );
    assert_eq!(faults("a and"), ["WM401 @: the condition ends too early"]);
    assert_eq!(faults("(a"), ["WM401 @: a bracket is not closed"]);
    assert_eq!(faults("a) and b"), ["WM401 @): this bracket was never opened"]);
    assert_eq!(faults("a b"), ["WM401 @b: a sign or `and` is missing before this"]);
    assert_eq!(faults("a."), ["WM401 @a.: this name ends with a `.`"]);
    assert_eq!(faults("  "), ["WM401 @  : the condition is empty"]);
    assert_eq!(faults("any()"), ["WM401 @any(): `any` needs what it looks at in its brackets"]);
    assert_eq!(faults("max(a, b)").len(), 1);
    assert_eq!(
        faults("answered(3)"),
        ["WM401 @3: `answered` needs the name of a step in its brackets"]
    );
    assert_eq!(
        faults("Spring > 3 mm"),
        ["WM401 @Spring: `Spring` is not a name | a name starts with a small letter `a` to `z`"]
    );
}

#[test]
fn depth_and_length_are_bounded() {
    let brackets = |n: usize| format!("{}a{}", "(".repeat(n), ")".repeat(n));
    assert_eq!(tree(&brackets(64)), "a");
    assert_eq!(faults(&brackets(65)).len(), 1);
    assert_eq!(faults(&brackets(900)).len(), 1);
    assert_eq!(faults(&format!("{}a", "not ".repeat(400))).len(), 1);
    assert_eq!(faults(&format!("{}a", "-".repeat(1_900))).len(), 1);
    assert_eq!(faults(&format!("a{}", "+a".repeat(800))).len(), 1);
    assert_eq!(
        faults(&format!("a{}", "+b".repeat(1_000)))[0].split(": ").last(),
        Some(
            "this condition is too long | split the step, or say a part of it as a finding of its own"
        )
    );
    assert!(faults(&"# ".repeat(900)).len() <= 8);
}

proptest! {
    #[test]
    fn no_text_panics_and_spans_lie_in_the_text(text in "\\PC{0,60}") {
        check(&text)?;
    }

    #[test]
    fn no_text_of_likely_pieces_panics(
        pieces in proptest::collection::vec(
            proptest::sample::select(vec![
                "a", "b.c", "and", "or", "not", "in", "true", "(", ")", "<", "==", "+", "-", "*",
                "/", ",", ".", "3", "4.5 mm", "any(", "answered(", "µ", "\"", "'x", "x-y", "=",
            ]),
            0..20,
        ),
        glue in proptest::sample::select(vec!["", " "]),
    ) {
        check(&pieces.join(glue))?;
    }
}

fn check(text: &str) -> Result<(), TestCaseError> {
    match parse(text, FILE, 0) {
        Ok(expr) => prop_assert!(text.get(expr.span().start..expr.span().end).is_some()),
        Err(diagnostics) => {
            prop_assert!(!diagnostics.is_empty());
            for diagnostic in diagnostics {
                let span = diagnostic.primary.span;
                prop_assert!(text.get(span.start..span.end).is_some(), "{:?}", diagnostic);
            }
        }
    }
    Ok(())
}
