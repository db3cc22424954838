//! What people, editors and tools get to see.

use super::*;
use crate::diag::Code;
use crate::source::FileId;

fn sources(text: &str) -> Sources {
    let mut sources = Sources::default();
    sources.add(Source::new("a.yaml", text));
    sources
}

fn span(text: &str, part: &str) -> Span {
    let start = text.find(part).unwrap();
    Span::new(FileId(0), start, start + part.len())
}

fn bad_figure(text: &str, part: &str) -> Diagnostic {
    Diagnostic::error(Code::BadFigure, span(text, part), "`abc` is not a figure")
}

const A: &str = "# prüf – 5 µm\nnote: |\n  “clean” the face – 20 °C\nlimit: {max: abc, unit: mm}\n";
const B: &str = "limit: {note: \"µm – é\", max: abc}";
const C: &str = "limit: {note: \"軸受 e\u{301}\", max: abc}";

#[test]
fn a_picture_shows_code_place_caret_and_mend() {
    let diagnostic = bad_figure(A, "abc")
        .label("a word")
        .related(span(A, "unit"), "the unit is said here")
        .help("write a decimal");
    assert_eq!(
        terminal(&[diagnostic], &sources(A), false),
        "\
error[WM302]: `abc` is not a figure
 --> a.yaml:4:14
  |
4 | limit: {max: abc, unit: mm}
  |              ^^^  ---- the unit is said here
  |              |
  |              a word
  |
  = help: write a decimal
"
    );
}

#[test]
fn columns_count_characters_and_the_caret_stands_under_its_word() {
    assert_eq!(
        short(&[bad_figure(A, "abc")], &sources(A)),
        "a.yaml:4:14: error[WM302]: `abc` is not a figure\n"
    );
    for (text, column, display_column) in [(B, 30, 30), (C, 29, 30)] {
        let diagnostic = [bad_figure(text, "abc")];
        let short = short(&diagnostic, &sources(text));
        assert!(short.starts_with(&format!("a.yaml:1:{column}:")), "{short}");
        let picture = terminal(&diagnostic, &sources(text), false);
        assert!(picture.contains(&format!("a.yaml:1:{column}\n")), "{picture}");
        let carets = picture.lines().find(|line| line.ends_with("^^^")).unwrap();
        // `1 | ` stands before the text.
        assert_eq!(carets.find('^').unwrap() + 1, 4 + display_column, "{picture}");
    }
}

#[test]
fn text_from_files_never_acts_on_the_terminal() {
    let text =
        "title: \u{1b}]52;c;x\u{7} PASS\u{202e}LIAF \u{9d}0;x\u{9c}\u{200f} abc\r\nnext: 1\r\n";
    let mut sources = Sources::default();
    sources.add(Source::new("a\u{1b}[2J.yaml", text));
    let diagnostic = [Diagnostic::warning(Code::ControlCharacter, span(text, "abc"), "near \u{7}")
        .label("\u{1b}[1m")
        .related(span(text, "\u{202e}"), "\u{2066}")
        .help("a\u{85}b\nc")];
    let outputs = [
        terminal(&diagnostic, &sources, false),
        short(&diagnostic, &sources),
        json(&diagnostic, &sources),
    ];
    for output in &outputs {
        assert!(!output.chars().any(|c| is_hidden(c) && c != '\n'), "{output:?}");
    }
    let [picture, _, json] = outputs;
    let shown = picture.lines().find(|line| line.starts_with("1 | ")).unwrap();
    let carets = picture.lines().find(|line| line.contains("^^^")).unwrap();
    assert_eq!(shown.find("abc"), carets.find("^^^"), "{picture}");
    assert!(shown.contains(r"PASS\u{202e}LIAF"), "{picture}");
    let read: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(read["diagnostics"][0]["headline"], "near \u{7}");
    assert_eq!(read["diagnostics"][0]["help"], "a\u{85}b\nc");
}

#[test]
fn json_has_its_documented_shape() {
    let diagnostic = [bad_figure(A, "abc").related(span(A, "unit"), "the unit")];
    let read: serde_json::Value = serde_json::from_str(&json(&diagnostic, &sources(A))).unwrap();
    assert_eq!(
        read,
        serde_json::json!({"format": "1.0", "diagnostics": [{
            "code": "WM302", "name": "bad-figure", "level": "error",
            "headline": "`abc` is not a figure", "label": "", "file": "a.yaml",
            "line": 4, "column": 14, "end_line": 4, "end_column": 17,
            "byte_start": 73, "byte_end": 76, "help": null,
            "related": [{"text": "the unit", "file": "a.yaml", "line": 4, "column": 19,
                "end_line": 4, "end_column": 23, "byte_start": 78, "byte_end": 82}],
        }]})
    );
}

#[test]
fn places_at_the_edge_or_outside_do_not_panic() {
    let mut two = sources("a: µ\nb: 1\n");
    let other = two.add(Source::new("b.yaml", ""));
    let spans = [
        Span::new(FileId(0), 0, 0),
        Span::new(FileId(0), 4, 4),
        Span::new(FileId(0), 3, 99),
        Span::new(FileId(0), 98, 99),
        Span::new(FileId(0), 5, 11),
        Span::new(other, 0, 0),
        Span::new(other, 5, 9),
        Span::new(FileId(7), 0, 3),
    ];
    for one in spans {
        for related in spans {
            let diagnostic =
                [Diagnostic::error(Code::BadYaml, one, "x").related(related, "y").help("z")];
            assert!(terminal(&diagnostic, &two, false).starts_with("error[WM101]: x\n"));
            assert!(terminal(&diagnostic, &two, true).contains('\u{1b}'));
            assert!(short(&diagnostic, &two).ends_with("error[WM101]: x\n"));
            assert!(serde_json::from_str::<serde_json::Value>(&json(&diagnostic, &two)).is_ok());
        }
    }
}

#[test]
fn several_pictures_stand_apart() {
    let picture = terminal(&[bad_figure(B, "abc"), bad_figure(B, "limit")], &sources(B), false);
    assert_eq!(picture.matches("\n\nerror[WM302]").count(), 1, "{picture}");
}
