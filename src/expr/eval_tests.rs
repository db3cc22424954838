//! Evaluation case by case, and against a naive evaluator.

use proptest::prelude::*;

use super::*;
use crate::expr::Path;
use crate::expr::parse::parse;
use crate::source::{FileId, Span};

const AT: Span = Span { file: FileId(0), start: 0, end: 0 };

fn literal(text: &str) -> Lookup {
    Lookup::Value(Value::Quantity(Quantity::parse_literal(text).unwrap().0))
}

fn look(path: &Path) -> Lookup {
    let word = |text: &str| Name::new(text).unwrap();
    match path.to_string().as_str() {
        "spring" => literal("44.6 mm"),
        "none" => literal("0"),
        "seat" => Lookup::Value(Value::Word(word("torn"))),
        "several" => Lookup::Value(Value::Words(vec![word("torn"), word("hard")])),
        "yes" => truth(true),
        "no" => truth(false),
        "skipped" => Lookup::NotApplicable,
        "later" => Lookup::Unanswered,
        bare => Lookup::Value(Value::Word(word(bare))),
    }
}

fn value(text: &str) -> Option<Value> {
    eval(&parse(text, FileId(0), 0).unwrap(), &look)
}

fn is(text: &str) -> Option<bool> {
    match value(text) {
        Some(Value::Truth(truth)) => Some(truth),
        None => None,
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn comparisons_are_exact() {
    assert_eq!(is("spring >= 44.6 mm"), Some(true));
    assert_eq!(is("spring > 44.6 mm"), Some(false));
    assert_eq!(is("spring - 44.599999999999999999 mm > 0 mm"), Some(true));
    assert_eq!(is("0.1 + 0.2 == 0.3"), Some(true));
    assert_eq!(is("1 in == 25.4 mm"), Some(true));
    assert_eq!(is("1 / 3 * 3 == 1"), Some(true));
    assert_eq!(is("seat == torn and seat != hard"), Some(true));
    assert_eq!(is("torn in several"), Some(true));
    assert_eq!(is("loose in several"), Some(false));
}

#[test]
fn what_is_open_gives_no_result_unless_the_rest_decides() {
    assert_eq!(is("later == 3"), None);
    assert_eq!(is("no and later == 3"), Some(false));
    assert_eq!(is("later == 3 and no"), Some(false));
    assert_eq!(is("yes and later == 3"), None);
    assert_eq!(is("later == 3 or yes"), Some(true));
    assert_eq!(is("skipped == 3"), None);
    assert_eq!(is("skipped == 3 or yes"), Some(true));
    assert_eq!(is("not later"), None);
    assert_eq!(is("1 / none > 0"), None);
    assert_eq!(is("answered(spring) and not answered(skipped)"), Some(true));
    assert_eq!(is("answered(later)"), Some(false));
    assert_eq!(is("spring > 3"), None);
}

fn fold(fold: Fold, members: &[&str]) -> Option<Value> {
    let members = members.iter().map(|m| parse(m, FileId(0), 0).unwrap()).collect();
    eval(&Expr::Fold(fold, members, AT), &look)
}

#[test]
fn folds_leave_out_what_does_not_apply_and_wait_for_what_is_open() {
    let figure = |text: &str| Some(Value::Quantity(Quantity::parse_literal(text).unwrap().0));
    assert_eq!(fold(Fold::All, &[]), Some(Value::Truth(true)));
    assert_eq!(fold(Fold::All, &["skipped == 1"]), Some(Value::Truth(true)));
    assert_eq!(fold(Fold::Any, &["skipped == 1"]), Some(Value::Truth(false)));
    assert_eq!(fold(Fold::Any, &["later == 1", "yes"]), Some(Value::Truth(true)));
    assert_eq!(fold(Fold::Any, &["later == 1", "no"]), None);
    assert_eq!(fold(Fold::All, &["later == 1", "no"]), Some(Value::Truth(false)));
    assert_eq!(fold(Fold::Count, &["yes", "no", "skipped", "yes"]), figure("2"));
    assert_eq!(fold(Fold::Count, &["yes", "later"]), None);
    assert_eq!(fold(Fold::Sum, &["1 mm", "skipped", "2.5 mm"]), figure("3.5 mm"));
    assert_eq!(fold(Fold::Mean, &["1 mm", "2 mm", "skipped"]), figure("1.5 mm"));
    assert_eq!(fold(Fold::Min, &["3 mm", "1 mm", "2 mm"]), figure("1 mm"));
    assert_eq!(fold(Fold::Max, &["3 mm", "1 mm", "2 mm"]), figure("3 mm"));
    for of_none in [Fold::Min, Fold::Max, Fold::Mean, Fold::Sum] {
        assert_eq!(fold(of_none, &["skipped"]), None);
        assert_eq!(fold(of_none, &["1 mm", "later"]), None);
    }
}

/// Reads an expression off `bytes`; names are numbers into a table of answers, the first half of
/// it truths and the second half figures.
struct Maker<'a> {
    bytes: std::slice::Iter<'a, u8>,
    with_answered: bool,
}

const NAMES: usize = 4;

impl Maker<'_> {
    fn byte(&mut self) -> usize {
        self.bytes.next().copied().unwrap_or(0).into()
    }

    fn several(
        &mut self,
        member: fn(&mut Self, usize) -> Expr<usize>,
        depth: usize,
    ) -> Vec<Expr<usize>> {
        let count = self.byte() % 4;
        (0..count).map(|_| member(self, depth)).collect()
    }

    fn truth(&mut self, depth: usize) -> Expr<usize> {
        let kind = if depth == 0 { self.byte() % 3 } else { self.byte() % 9 };
        match kind {
            0 => Expr::Truth(self.byte().is_multiple_of(2), AT),
            1 if self.with_answered => Expr::Answered(self.byte() % (2 * NAMES), AT),
            1 | 2 => Expr::Name(self.byte() % NAMES, AT),
            3 => Expr::Not(Box::new(self.truth(depth - 1)), AT),
            4 => Expr::And(self.several(Self::truth, depth - 1), AT),
            5 => Expr::Or(self.several(Self::truth, depth - 1), AT),
            6 => {
                let fold = if self.byte().is_multiple_of(2) { Fold::Any } else { Fold::All };
                Expr::Fold(fold, self.several(Self::truth, depth - 1), AT)
            }
            _ => {
                use Comparison::{Equal, Greater, GreaterOrEqual, Less, LessOrEqual, NotEqual};
                let signs = [Equal, NotEqual, Less, LessOrEqual, Greater, GreaterOrEqual];
                let sign = signs[self.byte() % 6];
                let left = Box::new(self.figure(depth - 1));
                Expr::Compare(sign, left, Box::new(self.figure(depth - 1)), AT)
            }
        }
    }

    fn figure(&mut self, depth: usize) -> Expr<usize> {
        let kind = if depth == 0 { self.byte() % 2 } else { self.byte() % 7 };
        match kind {
            0 => Expr::Quantity(Quantity::whole(self.byte() % 5), AT),
            1 => Expr::Name(NAMES + self.byte() % NAMES, AT),
            2 => Expr::Negate(Box::new(self.figure(depth - 1)), AT),
            3 => {
                use Fold::{Max, Mean, Min, Sum};
                let fold = [Sum, Min, Max, Mean][self.byte() % 4];
                Expr::Fold(fold, self.several(Self::figure, depth - 1), AT)
            }
            4 => Expr::Fold(Fold::Count, self.several(Self::truth, depth - 1), AT),
            _ => {
                use Arithmetic::{Add, Divide, Multiply, Subtract};
                let sign = [Add, Subtract, Multiply, Divide][self.byte() % 4];
                let left = Box::new(self.figure(depth - 1));
                Expr::Arithmetic(sign, left, Box::new(self.figure(depth - 1)), AT)
            }
        }
    }
}

/// The naive evaluator's values: truths are 0 and 1, figures are fractions of machine integers.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Naive {
    Is(i128, i128),
    Skipped,
    Open,
}
use Naive::{Is, Open, Skipped};

fn less(a: (i128, i128), b: (i128, i128)) -> bool {
    a.0 * b.1 < b.0 * a.1
}

fn lowest(above: i128, below: i128) -> Naive {
    fn gcd(a: i128, b: i128) -> i128 {
        if b == 0 { a.abs() } else { gcd(b, a % b) }
    }
    let common = gcd(above, below).max(1) * below.signum();
    Is(above / common, below / common)
}

fn naive(expr: &Expr<usize>, table: &[Naive]) -> Naive {
    let flag = |truth: bool| Is(i128::from(truth), 1);
    let all = |members: &[Expr<usize>]| -> Vec<Naive> {
        members.iter().map(|m| naive(m, table)).collect()
    };
    let strict = |l: Naive, r: Naive, f: &dyn Fn((i128, i128), (i128, i128)) -> Naive| match (l, r)
    {
        (Is(a, b), Is(c, d)) => f((a, b), (c, d)),
        _ if l == Skipped || r == Skipped => Skipped,
        _ => Open,
    };
    let first_of = |values: &[Naive], order: &[Naive], otherwise: Naive| {
        order.iter().copied().find(|wanted| values.contains(wanted)).unwrap_or(otherwise)
    };
    match expr {
        Expr::Quantity(q, _) => Is(i128::try_from(q.si.numer().clone()).unwrap(), 1),
        Expr::Name(name, _) => table[*name],
        Expr::Truth(truth, _) => flag(*truth),
        Expr::Answered(name, _) => flag(matches!(table[*name], Is(..))),
        Expr::Not(inner, _) => match naive(inner, table) {
            Is(value, _) => Is(1 - value, 1),
            other => other,
        },
        Expr::And(members, _) => first_of(&all(members), &[flag(false), Open, Skipped], flag(true)),
        Expr::Or(members, _) => first_of(&all(members), &[flag(true), Open, Skipped], flag(false)),
        Expr::Fold(Fold::Any, members, _) => {
            first_of(&all(members), &[flag(true), Open], flag(false))
        }
        Expr::Fold(Fold::All, members, _) => {
            first_of(&all(members), &[flag(false), Open], flag(true))
        }
        Expr::Fold(fold, members, _) => {
            let values = all(members);
            let figures: Vec<_> = values
                .iter()
                .filter_map(|v| if let Is(a, b) = v { Some((*a, *b)) } else { None })
                .collect();
            let total = figures.iter().fold((0, 1), |t, f| (t.0 * f.1 + f.0 * t.1, t.1 * f.1));
            let least = |a: (i128, i128), b| if less(b, a) { b } else { a };
            let most = |a: (i128, i128), b| if less(a, b) { b } else { a };
            let picked = match fold {
                _ if values.contains(&Open) => None,
                Fold::Count => return lowest(total.0, total.1),
                _ if figures.is_empty() => None,
                Fold::Sum => Some(total),
                Fold::Mean => Some((total.0, total.1 * figures.len() as i128)),
                Fold::Min => figures.into_iter().reduce(least),
                _ => figures.into_iter().reduce(most),
            };
            picked.map_or(Open, |(above, below)| lowest(above, below))
        }
        Expr::Compare(sign, left, right, _) => {
            strict(naive(left, table), naive(right, table), &|a, b| {
                let (under, over) = (less(a, b), less(b, a));
                flag(match sign {
                    Comparison::Equal => !under && !over,
                    Comparison::NotEqual => under || over,
                    Comparison::Less => under,
                    Comparison::LessOrEqual => !over,
                    Comparison::Greater => over,
                    Comparison::GreaterOrEqual => !under,
                })
            })
        }
        Expr::Arithmetic(sign, left, right, _) => {
            strict(naive(left, table), naive(right, table), &|a, b| match sign {
                Arithmetic::Add => lowest(a.0 * b.1 + b.0 * a.1, a.1 * b.1),
                Arithmetic::Subtract => lowest(a.0 * b.1 - b.0 * a.1, a.1 * b.1),
                Arithmetic::Multiply => lowest(a.0 * b.0, a.1 * b.1),
                Arithmetic::Divide if b.0 == 0 => Open,
                Arithmetic::Divide => lowest(a.0 * b.1, a.1 * b.0),
            })
        }
        Expr::Negate(inner, _) => match naive(inner, table) {
            Is(above, below) => Is(-above, below),
            other => other,
        },
        Expr::Word(..) | Expr::In(..) => panic!("not made"),
    }
}

fn looked_up(table: &[Naive], name: usize) -> Lookup {
    match table[name] {
        Is(value, _) if name < NAMES => truth(value == 1),
        Is(above, below) => {
            let si = Ratio::new(BigInt::from(above), BigInt::from(below));
            figure(Some(Quantity::new(si, crate::units::Unit::One)))
        }
        Skipped => Lookup::NotApplicable,
        Open => Lookup::Unanswered,
    }
}

fn table() -> impl Strategy<Value = Vec<Naive>> {
    let truths = prop_oneof![Just(Is(0, 1)), Just(Is(1, 1)), Just(Skipped), Just(Open)];
    let figures = prop_oneof![(-4i128..5).prop_map(|n| Is(n, 1)), Just(Skipped), Just(Open)];
    (proptest::collection::vec(truths, NAMES), proptest::collection::vec(figures, NAMES))
        .prop_map(|(truths, figures)| [truths, figures].concat())
}

proptest! {
    #[test]
    fn it_agrees_with_a_naive_evaluator(
        bytes in proptest::collection::vec(any::<u8>(), 0..60),
        table in table(),
        wants_truth in any::<bool>(),
    ) {
        let mut maker = Maker { bytes: bytes.iter(), with_answered: true };
        let expr = if wants_truth { maker.truth(3) } else { maker.figure(3) };
        let found = eval(&expr, &|name| looked_up(&table, *name));
        let expected = match naive(&expr, &table) {
            Is(value, _) if wants_truth => Some(Value::Truth(value == 1)),
            Is(above, below) => {
                let si = Ratio::new(BigInt::from(above), BigInt::from(below));
                Some(Value::Quantity(Quantity::new(si, crate::units::Unit::One)))
            }
            Skipped | Open => None,
        };
        prop_assert_eq!(found, expected, "{:?}", expr);
    }

    #[test]
    fn a_result_that_is_given_early_stays(
        bytes in proptest::collection::vec(any::<u8>(), 0..60),
        now in table(),
        later in table(),
    ) {
        // Only `answered` may change when an answer comes.
        let mut maker = Maker { bytes: bytes.iter(), with_answered: false };
        let expr = maker.truth(3);
        if let Some(early) = eval(&expr, &|name| looked_up(&now, *name)) {
            let filled: Vec<Naive> =
                now.iter().zip(&later).map(|(n, l)| if *n == Open { *l } else { *n }).collect();
            prop_assert_eq!(eval(&expr, &|name| looked_up(&filled, *name)), Some(early), "{:?}", expr);
        }
    }
}
