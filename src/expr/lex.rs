//! Cuts the text of a condition into tokens with their places.
//!
//! Mends what has one plain meaning (`=`, `&&`, quoted words) so that the parser can go on, and
//! reports it. The order of tokens is the parser's business.

use std::ops::Range;

use crate::diag::{Code, Diagnostic};
use crate::source::{FileId, Span};
use crate::units::{Quantity, Unit};

use super::ast::Comparison;

/// What a token is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kind {
    /// A figure with its unit.
    Figure(Quantity),
    /// A word that is not one of the language's own.
    Word(String),
    And,
    Or,
    Not,
    In,
    Truth(bool),
    Compare(Comparison),
    Plus,
    Minus,
    Star,
    Slash,
    Open,
    Close,
    Comma,
    Dot,
    End,
}

/// A token and its place.
#[derive(Debug, Clone)]
pub(super) struct Token {
    pub(super) kind: Kind,
    pub(super) span: Span,
}

/// The tokens of `text`, ended by [`Kind::End`], and what is wrong with them.
pub(super) fn lex(text: &str, file: FileId, offset: usize) -> (Vec<Token>, Vec<Diagnostic>) {
    let mut lexer =
        Lexer { text, at: 0, file, offset, tokens: Vec::new(), diagnostics: Vec::new() };
    while lexer.next() {}
    let end = lexer.at;
    lexer.push(Kind::End, end..end);
    (lexer.tokens, lexer.diagnostics)
}

struct Lexer<'a> {
    text: &'a str,
    at: usize,
    file: FileId,
    offset: usize,
    tokens: Vec<Token>,
    diagnostics: Vec<Diagnostic>,
}

fn is_word_start(c: char) -> bool {
    c.is_alphabetic() || c == '_'
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Characters of units, known or not: `µm`, `N·m`, `%`, `°C`.
fn is_unit_start(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '%' | '°' | 'µ' | '"' | '\'' | '″' | '′' | '”' | '’')
}

fn is_unit(c: char) -> bool {
    is_unit_start(c) || is_word(c) || matches!(c, '·' | '²' | '³')
}

impl<'a> Lexer<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn span(&self, range: Range<usize>) -> Span {
        Span::new(self.file, self.offset + range.start, self.offset + range.end)
    }

    fn push(&mut self, kind: Kind, range: Range<usize>) {
        let span = self.span(range);
        self.tokens.push(Token { kind, span });
    }

    /// Takes characters while `in_run` holds.
    fn run(&mut self, in_run: impl Fn(char) -> bool) -> &'a str {
        let rest = self.rest();
        let (taken, _) = rest.split_at(rest.find(|c| !in_run(c)).unwrap_or(rest.len()));
        self.at += taken.len();
        taken
    }

    fn report(&mut self, code: Code, range: Range<usize>, headline: String, help: &str) {
        let mut diagnostic = Diagnostic::error(code, self.span(range), headline);
        if !help.is_empty() {
            diagnostic = diagnostic.help(help);
        }
        self.diagnostics.push(diagnostic);
    }

    /// Reads one token; false at the end.
    fn next(&mut self) -> bool {
        self.run(|c| matches!(c, ' ' | '\t' | '\n' | '\r'));
        let Some(first) = self.rest().chars().next() else { return false };
        let start = self.at;
        if first.is_ascii_digit() || (first == '.' && self.digit_follows()) {
            self.figure();
        } else if is_word_start(first) {
            self.word();
        } else if first == '"' || first == '\'' {
            self.quoted(first);
        } else {
            self.sign(first, start);
        }
        true
    }

    fn digit_follows(&self) -> bool {
        self.rest().chars().nth(1).is_some_and(|c| c.is_ascii_digit())
            && !matches!(self.tokens.last(), Some(Token { kind: Kind::Word(_), .. }))
    }

    fn figure(&mut self) {
        let start = self.at;
        let digits = self.run(|c| c.is_ascii_digit() || c == '.');
        // A comma between digits is a decimal comma: nothing else may stand there.
        let comma = self.rest().strip_prefix(',').is_some_and(|r| r.starts_with(is_digit));
        if comma {
            self.at += 1;
            let part = self.run(is_digit);
            self.report(
                Code::BadFigure,
                start..self.at,
                format!("`{digits},{part}` has a decimal comma"),
                &format!("write `{digits}.{part}`"),
            );
        }
        let figure_end = self.at;
        let (unit, end) = self.unit();
        self.at = end;
        let quantity = Quantity::parse_literal(digits);
        if let (Err(fault), false) = (&quantity, comma) {
            self.report(Code::BadFigure, start..figure_end, fault.to_string(), "");
        }
        let figure = quantity.map_or_else(|_| Quantity::whole(0), |(q, _)| q);
        self.push(Kind::Figure(Quantity::new(figure.si, unit)), start..end);
    }

    /// The unit that follows a figure, and where it ends. A known word there is a unit even where
    /// the language has that word too: after a figure `in` is the inch.
    fn unit(&mut self) -> (Unit, usize) {
        let rest = self.rest();
        let spaces = rest.len() - rest.trim_start_matches([' ', '\t', '\n', '\r']).len();
        let start = self.at + spaces;
        let after = rest.get(spaces..).unwrap_or("");
        if !after.starts_with(is_unit_start) {
            return (Unit::One, self.at);
        }
        let (word, _) = after.split_at(after.find(|c| !is_unit(c)).unwrap_or(after.len()));
        if matches!(word, "and" | "or" | "not") {
            return (Unit::One, self.at);
        }
        if let Some((unit, length)) = Unit::at_start_of(after) {
            return (unit, start + length);
        }
        let end = start + word.len();
        let (headline, help) = match (Unit::ambiguity(word), Unit::suggestion(word)) {
            (Some(mend), _) => {
                (format!("`{word}` can mean different things"), format!("write {mend}"))
            }
            (None, Some(unit)) => {
                (format!("`{word}` is not a unit that this version has"), format!("write `{unit}`"))
            }
            (None, None) => {
                (format!("`{word}` is not a unit that this version has"), String::new())
            }
        };
        self.report(Code::UnknownUnit, start..end, headline, &help);
        (Unit::One, end)
    }

    fn word(&mut self) {
        let start = self.at;
        let word = self.run(is_word);
        let hyphenated =
            self.rest().strip_prefix('-').is_some_and(|rest| rest.starts_with(is_word));
        let after_dot = matches!(self.tokens.last(), Some(Token { kind: Kind::Dot, .. }));
        if hyphenated {
            self.run(|c| is_word(c) || c == '-');
            let whole = self.text.get(start..self.at).unwrap_or("");
            let whole = whole.trim_end_matches('-');
            self.at = start + whole.len();
            self.report(
                Code::BadCondition,
                start..self.at,
                format!("`{whole}` is not a name"),
                &format!(
                    "names are written with `_`: `{}`; for a difference put spaces around the `-`",
                    whole.replace('-', "_")
                ),
            );
            return self.push(Kind::Word("name".to_owned()), start..self.at);
        }
        let kind = match word {
            _ if after_dot => Kind::Word(word.to_owned()),
            "and" => Kind::And,
            "or" => Kind::Or,
            "not" => Kind::Not,
            "in" => Kind::In,
            "true" => Kind::Truth(true),
            "false" => Kind::Truth(false),
            _ => Kind::Word(word.to_owned()),
        };
        self.push(kind, start..self.at);
    }

    /// A word in quotes, as other languages have it.
    fn quoted(&mut self, quote: char) {
        let start = self.at;
        self.at += 1;
        let word = self.run(|c| c != quote);
        let closed = self.rest().starts_with(quote);
        self.at += usize::from(closed);
        self.report(
            Code::BadCondition,
            start..self.at,
            "words in a condition stand without quotes".to_owned(),
            &format!("write `{word}`"),
        );
        self.push(Kind::Word("word".to_owned()), start..self.at);
    }

    fn sign(&mut self, first: char, start: usize) {
        const SIGNS: [(&str, Kind, Option<&str>); 26] = [
            ("==", Kind::Compare(Comparison::Equal), None),
            ("!=", Kind::Compare(Comparison::NotEqual), None),
            ("<=", Kind::Compare(Comparison::LessOrEqual), None),
            (">=", Kind::Compare(Comparison::GreaterOrEqual), None),
            ("<>", Kind::Compare(Comparison::NotEqual), Some("!=")),
            ("=<", Kind::Compare(Comparison::LessOrEqual), Some("<=")),
            ("=>", Kind::Compare(Comparison::GreaterOrEqual), Some(">=")),
            ("&&", Kind::And, Some("and")),
            ("||", Kind::Or, Some("or")),
            ("<", Kind::Compare(Comparison::Less), None),
            (">", Kind::Compare(Comparison::Greater), None),
            ("=", Kind::Compare(Comparison::Equal), Some("==")),
            ("&", Kind::And, Some("and")),
            ("|", Kind::Or, Some("or")),
            ("!", Kind::Not, Some("not")),
            ("≤", Kind::Compare(Comparison::LessOrEqual), Some("<=")),
            ("≥", Kind::Compare(Comparison::GreaterOrEqual), Some(">=")),
            ("≠", Kind::Compare(Comparison::NotEqual), Some("!=")),
            ("+", Kind::Plus, None),
            ("-", Kind::Minus, None),
            ("*", Kind::Star, None),
            ("/", Kind::Slash, None),
            ("(", Kind::Open, None),
            (")", Kind::Close, None),
            (",", Kind::Comma, None),
            (".", Kind::Dot, None),
        ];
        let rest = self.rest();
        let Some((text, kind, mend)) = SIGNS.into_iter().find(|(s, ..)| rest.starts_with(s)) else {
            self.at += first.len_utf8();
            return self.report(
                Code::BadCondition,
                start..self.at,
                format!(
                    "`{}` has no meaning in a condition",
                    crate::visible::visible(&first.to_string())
                ),
                "",
            );
        };
        self.at += text.len();
        if let Some(mend) = mend {
            self.report(
                Code::BadCondition,
                start..self.at,
                format!("`{text}` has no meaning in a condition"),
                &format!("write `{mend}`"),
            );
        }
        self.push(kind, start..self.at);
    }
}

fn is_digit(c: char) -> bool {
    c.is_ascii_digit()
}
