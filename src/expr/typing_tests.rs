//! What fits together and what does not.

use super::*;
use crate::expr::Path;
use crate::expr::parse::parse;
use crate::source::FileId;

fn names(words: &[&str]) -> Vec<Name> {
    words.iter().map(|word| Name::new(*word).unwrap()).collect()
}

fn type_of(path: &Path) -> Type {
    let of = |step: &str| format!("the findings of `{step}`");
    match path.to_string().as_str() {
        "spring" | "valve.free_length" => Type::Quantity(Dimension::Length),
        "passes" => Type::Quantity(Dimension::Number),
        "seat" => Type::Choice { of: of("seat"), words: names(&["sound", "torn"]) },
        "cover" => Type::Choice { of: of("cover"), words: names(&["bent", "torn"]) },
        "colour" => Type::Choice { of: "the colours".into(), words: names(&["red", "blue"]) },
        "diaphragm" => Type::Several { of: of("diaphragm"), words: names(&["torn", "hard"]) },
        "wipe" => Type::Nothing,
        "serial" => Type::Text,
        "spring.verdict" => Type::Verdict,
        other => panic!("asked about `{other}`"),
    }
}

fn word_of(path: &Path) -> Option<Name> {
    let known = ["spring", "passes", "seat", "cover", "colour", "diaphragm", "wipe", "serial"];
    match path.words.as_slice() {
        [word] if !known.contains(&word.value.as_str()) => Some(word.value.clone()),
        _ => None,
    }
}

fn typed(text: &str) -> (Expr<Path>, Type) {
    let expr = parse(text, FileId(0), 0).unwrap();
    check(expr, &type_of, &word_of).unwrap_or_else(|faults| panic!("{text}: {faults:#?}"))
}

fn faults(text: &str) -> Vec<String> {
    let expr = parse(text, FileId(0), 0).unwrap();
    let Err(faults) = check_condition(expr, &type_of, &word_of) else {
        panic!("`{text}` was accepted")
    };
    faults
        .iter()
        .map(|d| {
            let at = text.get(d.primary.span.start..d.primary.span.end).unwrap();
            let help = d.help.as_ref().map_or_else(String::new, |help| format!(" | {help}"));
            format!("{} @{at}: {}{help}", d.code.number(), d.headline)
        })
        .collect()
}

#[test]
fn bare_words_beside_a_choice_become_words() {
    for text in [
        "seat == torn",
        "torn == seat",
        "seat != sound",
        "torn in diaphragm",
        "spring.verdict != accept",
        "any(spring.verdict == replace)",
    ] {
        let (expr, found) = typed(text);
        assert_eq!(found, Type::Truth, "{text}");
        let mut left = Vec::new();
        expr.each_name(&mut |path, _| left.push(word_of(path)));
        assert!(left.iter().all(Option::is_none), "{text}: {expr:?}");
    }
    assert!(matches!(typed("seat == torn").0, Expr::Compare(_, _, right, _)
        if matches!(&*right, Expr::Word(word, _) if word.as_str() == "torn")));
    assert_eq!(typed("seat == cover").1, Type::Truth);
}

#[test]
fn figures_have_their_dimension() {
    let length = Type::Quantity(Dimension::Length);
    assert_eq!(typed("spring - valve.free_length").1, length);
    assert_eq!(typed("-(spring * 2) / passes").1, length);
    assert_eq!(typed("max(spring) / min(spring)").1, Type::Quantity(Dimension::Number));
    assert_eq!(typed("count(seat == torn) >= 2").1, Type::Truth);
    assert_eq!(typed("answered(wipe)").1, Type::Truth);
    assert_eq!(typed("serial == serial").1, Type::Truth);
}

#[test]
fn a_word_that_is_no_choice_there_is_named_with_its_mend() {
    assert_eq!(
        faults("seat == tron"),
        ["WM403 @tron: `tron` is none of the findings of `seat` | did you mean `torn`?"]
    );
    assert_eq!(
        faults("banana in diaphragm"),
        [
            "WM403 @banana: `banana` is none of the findings of `diaphragm` | there are `torn` and `hard`"
        ]
    );
    assert_eq!(
        faults("spring.verdict == accepted"),
        ["WM403 @accepted: `accepted` is none of the verdicts | did you mean `accept`?"]
    );
}

#[test]
fn names_that_stand_for_nothing_are_found_everywhere() {
    let nothing = |text: &str| {
        let faults = faults(text);
        assert_eq!(faults.len(), 1, "{text}: {faults:?}");
        assert!(faults[0].starts_with("WM402 @torn: `torn` stands for nothing here"), "{faults:?}");
    };
    nothing("torn");
    nothing("spring > torn");
    nothing("torn + 1 > 2");
    nothing("not torn");
    assert!(faults("answered(torn)")[0].starts_with("WM402"));
    let [both] = &faults("torn == worn")[..] else { panic!("one mistake, one message") };
    assert!(both.starts_with("WM402 @torn == worn: neither `torn` nor `worn` stands"), "{both}");
}

#[test]
fn dimensions_that_do_not_fit_are_the_authors_error() {
    let help = "give both sides a unit of the same kind, such as `3 mm`";
    assert_eq!(
        faults("spring > 44.6"),
        [format!("WM303 @spring > 44.6: a length is compared with a plain number | {help}")]
    );
    assert_eq!(
        faults("spring + 1 > 3 mm"),
        [format!("WM303 @spring + 1: a length cannot be added to a plain number | {help}")]
    );
    assert_eq!(
        faults("spring * spring > 3 mm"),
        [format!("WM303 @spring * spring > 3 mm: an area is compared with a length | {help}")]
    );
    assert_eq!(
        faults("spring * 20 °C > 3 mm"),
        ["WM303 @spring * 20 °C: a length cannot be multiplied by a temperature | \
          no kind of figure comes of it; look at the units of both sides"]
    );
    assert_eq!(
        faults("2 bar gauge - 1 bar abs > 0 bar diff"),
        ["WM303 @2 bar gauge - 1 bar abs: a gauge pressure cannot be in a difference with \
          an absolute pressure | they are counted from different zeros, and the air's pressure \
          between them changes; give both in `gauge` or both in `abs`"]
    );
    typed("60 °C - 20 °C > 30 ΔK and 18 in-lb < 3 N·m");
    assert!(faults("1 / spring > 3 mm")[0].starts_with("WM303"));
}

#[test]
fn types_that_do_not_fit_are_reported_once_each() {
    assert_eq!(
        faults("spring"),
        ["WM403 @spring: a condition is true or false; this is a length | \
          compare it with a figure, such as `x >= 44.6 mm`"]
    );
    assert_eq!(
        faults("wipe == 3"),
        [
            "WM403 @wipe: this step has no value | ask for its `.verdict`, or whether it is `answered(…)`"
        ]
    );
    assert!(faults("diaphragm == torn")[0].contains("several findings cannot be compared"));
    assert!(faults("torn in seat")[0].contains("compare it with `==`"));
    assert!(faults("seat in diaphragm and colour in diaphragm")[0].contains("never among"));
    assert_eq!(
        faults("seat < cover"),
        ["WM403 @seat < cover: only figures are less or greater | compare with `==` or `!=`"]
    );
    assert!(
        faults("seat == colour")[0]
            .contains("one of the findings of `seat` is compared with one of the colours")
    );
    assert!(faults("seat == 3")[0].contains("is compared with a plain number"));
    assert!(faults("sum(seat) > 3")[0].contains("a figure is needed here"));
    assert_eq!(faults("(spring > 3) and (seat == tron) and wipe").len(), 3);
}
