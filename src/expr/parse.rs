//! Text of a condition or formula to its tree.
//!
//! ```text
//! condition  = operand { "and" operand } | operand { "or" operand }     never mixed unbracketed
//! operand    = "not" operand | comparison
//! comparison = sum [ ( "==" | "!=" | "<" | "<=" | ">" | ">=" | "in" ) sum ]
//! sum        = product { ( "+" | "-" ) product }
//! product    = factor { ( "*" | "/" ) factor }
//! factor     = "-" factor | figure [ unit ] | "true" | "false" | name { "." name }
//!            | fold "(" condition ")" | "answered" "(" name { "." name } ")" | "(" condition ")"
//! fold       = "any" | "all" | "count" | "sum" | "min" | "max" | "mean"
//! ```
//! What names mean and whether things fit together is the business of `typing`.

use crate::diag::{Code, Diagnostic, suggestion};
use crate::ids::Name;
use crate::source::{At, FileId, Span};
use crate::units::Quantity;

use super::ast::{Arithmetic, Comparison, Expr, Fold, Path};
use super::lex::{Kind, Token, lex};

/// The longest condition, in bytes.
pub const CONDITION_LEN_BYTES_MAX: usize = 2_000;

/// The deepest tree of a condition; everything that walks one recurses no deeper.
pub const CONDITION_DEPTH_MAX: usize = 64;

/// The most diagnostics for one condition; a text that is no condition at all gives no flood.
const DIAGNOSTICS_MAX: usize = 8;

/// Reads a condition or formula that stands at byte `offset` of `file`.
///
/// # Errors
/// Everything that is wrong with the text, several places where that is possible.
pub fn parse(text: &str, file: FileId, offset: usize) -> Result<Expr<Path>, Vec<Diagnostic>> {
    let whole = Span::new(file, offset, offset + text.len());
    if text.len() > CONDITION_LEN_BYTES_MAX {
        return Err(vec![
            Diagnostic::error(Code::BadCondition, whole, "this condition is too long")
                .label(format!("{} bytes; {CONDITION_LEN_BYTES_MAX} are read", text.len()))
                .help("split the step, or say a part of it as a finding of its own"),
        ]);
    }
    if text.trim().is_empty() {
        return Err(vec![Diagnostic::error(Code::BadCondition, whole, "the condition is empty")]);
    }
    let (tokens, diagnostics) = lex(text, file, offset);
    let mut parser = Parser { tokens, at: 0, depth: 0, gave_up: false, diagnostics };
    let expr = parser.condition();
    parser.expect_end();
    if parser.diagnostics.is_empty() {
        return Ok(expr);
    }
    parser.diagnostics.sort_by_key(|d| d.primary.span.start);
    parser.diagnostics.truncate(DIAGNOSTICS_MAX);
    Err(parser.diagnostics)
}

struct Parser {
    tokens: Vec<Token>,
    at: usize,
    depth: usize,
    /// Set once the text is too deep: nothing more is reported then.
    gave_up: bool,
    diagnostics: Vec<Diagnostic>,
}

/// The words that are followed by a bracket, with the fold each stands for.
const FOLDS: [(&str, Fold); 7] = [
    ("any", Fold::Any),
    ("all", Fold::All),
    ("count", Fold::Count),
    ("sum", Fold::Sum),
    ("min", Fold::Min),
    ("max", Fold::Max),
    ("mean", Fold::Mean),
];

fn join(left: Span, right: Span) -> Span {
    Span::new(left.file, left.start, right.end)
}

impl Parser {
    fn token(&self) -> Token {
        let last = self.tokens.last();
        self.tokens
            .get(self.at)
            .or(last)
            .cloned()
            .expect("internal: the lexer ends every text with a token")
    }

    fn kind(&self) -> Kind {
        self.token().kind
    }

    /// The kind of the token after this one.
    fn following(&self) -> Option<&Kind> {
        self.tokens.get(self.at + 1).map(|token| &token.kind)
    }

    /// Takes the token; the end is never taken.
    fn take(&mut self) -> Token {
        let token = self.token();
        if token.kind != Kind::End {
            self.at += 1;
        }
        token
    }

    fn report(&mut self, diagnostic: Diagnostic) {
        if !self.gave_up {
            self.diagnostics.push(diagnostic);
        }
    }

    fn bad(&mut self, span: Span, headline: impl Into<String>, help: &str) {
        let mut diagnostic = Diagnostic::error(Code::BadCondition, span, headline);
        if !help.is_empty() {
            diagnostic = diagnostic.help(help);
        }
        self.report(diagnostic);
    }

    /// Runs `inner` one level deeper, or gives up.
    fn deeper(&mut self, inner: impl FnOnce(&mut Self) -> Expr<Path>) -> Expr<Path> {
        if self.depth >= CONDITION_DEPTH_MAX {
            let span = self.token().span;
            self.give_up(span);
            return Expr::Truth(false, span);
        }
        self.depth += 1;
        let expr = inner(self);
        self.depth -= 1;
        expr
    }

    fn give_up(&mut self, span: Span) {
        self.bad(
            span,
            format!("this condition is nested more than {CONDITION_DEPTH_MAX} deep"),
            "say it with fewer brackets and signs",
        );
        self.gave_up = true;
        self.at = self.tokens.len().saturating_sub(1);
    }

    fn condition(&mut self) -> Expr<Path> {
        let first = self.operand();
        let mut operators: Vec<(bool, Span)> = Vec::new();
        let mut members = vec![first];
        while let kind @ (Kind::And | Kind::Or) = self.kind() {
            let span = self.take().span;
            operators.push((kind == Kind::And, span));
            members.push(self.operand());
        }
        if members.len() == 1 {
            return members.remove(0);
        }
        let start = members.first().map_or_else(|| self.token().span, Expr::span);
        let span = members.last().map_or(start, |last| join(start, last.span()));
        let is_and = operators.first().is_none_or(|(is_and, _)| *is_and);
        if let Some((_, other)) = operators.iter().find(|(other, _)| *other != is_and) {
            let (first, second) = if is_and { ("and", "or") } else { ("or", "and") };
            let mut diagnostic = Diagnostic::error(
                Code::MixedAndOr,
                *other,
                "`and` and `or` stand side by side without brackets",
            )
            .label(format!("`{second}` here"))
            .help("put brackets around the part that belongs together: `(a and b) or c`");
            if let Some((_, at)) = operators.first() {
                diagnostic = diagnostic.related(*at, format!("`{first}` here"));
            }
            self.report(diagnostic);
        }
        if is_and { Expr::And(members, span) } else { Expr::Or(members, span) }
    }

    fn operand(&mut self) -> Expr<Path> {
        if self.kind() != Kind::Not {
            return self.comparison();
        }
        let start = self.take().span;
        let inner = self.deeper(Self::operand);
        let span = join(start, inner.span());
        Expr::Not(Box::new(inner), span)
    }

    fn comparison(&mut self) -> Expr<Path> {
        let left = self.sum();
        let Some((operator, _)) = self.comparison_sign() else { return left };
        let right = self.sum();
        let span = join(left.span(), right.span());
        while let Some((_, at)) = self.comparison_sign() {
            self.bad(
                at,
                "comparisons do not chain",
                "compare twice, joined with `and`: `a < b and b < c`",
            );
            self.sum();
        }
        match operator {
            Some(comparison) => Expr::Compare(comparison, Box::new(left), Box::new(right), span),
            None => Expr::In(Box::new(left), Box::new(right), span),
        }
    }

    /// Takes a comparison sign or `in` (`None` inside).
    fn comparison_sign(&mut self) -> Option<(Option<Comparison>, Span)> {
        match self.kind() {
            Kind::Compare(comparison) => Some((Some(comparison), self.take().span)),
            Kind::In => Some((None, self.take().span)),
            Kind::Not if self.following() == Some(&Kind::In) => {
                let span = join(self.take().span, self.take().span);
                self.bad(span, "`not in` has no meaning in a condition", "write `not (a in b)`");
                Some((None, span))
            }
            _ => None,
        }
    }

    fn sum(&mut self) -> Expr<Path> {
        self.chain(Self::product, |kind| match kind {
            Kind::Plus => Some(Arithmetic::Add),
            Kind::Minus => Some(Arithmetic::Subtract),
            _ => None,
        })
    }

    fn product(&mut self) -> Expr<Path> {
        self.chain(Self::factor, |kind| match kind {
            Kind::Star => Some(Arithmetic::Multiply),
            Kind::Slash => Some(Arithmetic::Divide),
            _ => None,
        })
    }

    fn chain(
        &mut self,
        member: fn(&mut Self) -> Expr<Path>,
        sign: fn(&Kind) -> Option<Arithmetic>,
    ) -> Expr<Path> {
        let mut left = member(self);
        let mut links = 0;
        while let Some(arithmetic) = sign(&self.kind()) {
            // Every link makes the tree one deeper on its left.
            links += 1;
            let at = self.take().span;
            if self.depth + links > CONDITION_DEPTH_MAX {
                self.give_up(at);
                return left;
            }
            let right = member(self);
            let span = join(left.span(), right.span());
            left = Expr::Arithmetic(arithmetic, Box::new(left), Box::new(right), span);
        }
        left
    }

    fn factor(&mut self) -> Expr<Path> {
        let Token { kind, span } = self.token();
        match kind {
            Kind::Minus => {
                self.take();
                let inner = self.deeper(Self::factor);
                let span = join(span, inner.span());
                match inner {
                    Expr::Quantity(quantity, _) => Expr::Quantity(quantity.negated(), span),
                    inner => Expr::Negate(Box::new(inner), span),
                }
            }
            Kind::Figure(quantity) => {
                self.take();
                Expr::Quantity(quantity, span)
            }
            Kind::Truth(truth) => {
                self.take();
                Expr::Truth(truth, span)
            }
            Kind::Open => {
                self.take();
                let inner = self.deeper(Self::condition);
                self.close(span);
                inner
            }
            Kind::Word(word) if self.following() == Some(&Kind::Open) => self.call(&word),
            Kind::Word(_) => {
                let path = self.path();
                path.map_or(Expr::Truth(false, span), |path| {
                    let span = path.span;
                    Expr::Name(path, span)
                })
            }
            other => self.missing_operand(&other, span),
        }
    }

    fn missing_operand(&mut self, found: &Kind, span: Span) -> Expr<Path> {
        let headline = match found {
            Kind::End => "the condition ends too early",
            Kind::Not => "`not` must stand in brackets here",
            _ => "a name, a figure or a bracket is missing here",
        };
        self.bad(span, headline, "");
        // A sign is left for the caller, which goes on behind it; `,` and `.` serve nobody.
        if matches!(found, Kind::Comma | Kind::Dot | Kind::Not) {
            self.take();
        }
        Expr::Quantity(Quantity::whole(0), span)
    }

    fn close(&mut self, open: Span) {
        if self.kind() == Kind::Close {
            self.take();
            return;
        }
        let Token { kind, span } = self.token();
        let headline =
            if kind == Kind::End { "a bracket is not closed" } else { "`)` is missing here" };
        self.report(
            Diagnostic::error(Code::BadCondition, span, headline)
                .related(open, "the bracket opens here"),
        );
    }

    /// `any(…)` and its like; the token after the word is the bracket.
    fn call(&mut self, word: &str) -> Expr<Path> {
        let start = self.take().span;
        let open = self.take().span;
        if word == "answered" {
            return self.answered(start, open);
        }
        let fold = FOLDS.iter().find(|(known, _)| *known == word).map(|(_, fold)| *fold);
        if fold.is_none() {
            let known = FOLDS.iter().map(|(known, _)| *known).chain(["answered"]);
            let help = suggestion(word, known).map_or_else(
                || "there are any, all, count, sum, min, max, mean and answered".to_owned(),
                |meant| format!("did you mean `{meant}`?"),
            );
            self.bad(start, format!("there is no `{word}(…)`"), &help);
        }
        if self.kind() == Kind::Close {
            let span = join(start, self.take().span);
            self.bad(span, format!("`{word}` needs what it looks at in its brackets"), "");
            return Expr::Truth(false, span);
        }
        let inner = self.deeper(Self::condition);
        self.only_one(word);
        let end = self.token().span;
        self.close(open);
        Expr::Fold(fold.unwrap_or(Fold::Any), vec![inner], join(start, end))
    }

    /// Reports and skips what follows a comma in brackets.
    fn only_one(&mut self, word: &str) {
        if self.kind() != Kind::Comma {
            return;
        }
        let span = self.token().span;
        self.bad(
            span,
            format!("`{word}` takes one thing"),
            "it goes over the positions of that one thing by itself",
        );
        while self.kind() == Kind::Comma {
            self.take();
            self.deeper(Self::condition);
        }
    }

    fn answered(&mut self, start: Span, open: Span) -> Expr<Path> {
        let Token { kind, span } = self.token();
        let path = if matches!(kind, Kind::Word(_)) {
            self.path()
        } else {
            self.bad(span, "`answered` needs the name of a step in its brackets", "");
            if !matches!(kind, Kind::Close | Kind::End) {
                self.deeper(Self::condition);
            }
            None
        };
        self.only_one("answered");
        let end = self.token().span;
        self.close(open);
        let span = join(start, end);
        path.map_or(Expr::Truth(false, span), |path| Expr::Answered(path, span))
    }

    /// A dotted name; `None` where a word of it is no name, which is reported.
    fn path(&mut self) -> Option<Path> {
        let mut span = self.token().span;
        let mut words = Vec::new();
        let mut is_sound = true;
        loop {
            let Token { kind: Kind::Word(word), span: at } = self.token() else {
                self.bad(span, "this name ends with a `.`", "");
                return None;
            };
            self.take();
            span = join(span, at);
            match Name::new(word.as_str()) {
                Ok(name) => words.push(At::new(name, at)),
                Err(fault) => {
                    is_sound = false;
                    let lower = word.to_lowercase();
                    let help = match lower.as_str() {
                        "and" | "or" | "not" | "true" | "false" | "in" => {
                            format!("write `{lower}`")
                        }
                        _ => fault.to_string(),
                    };
                    self.bad(at, format!("`{word}` is not a name"), &help);
                }
            }
            if self.kind() != Kind::Dot {
                return is_sound.then_some(Path { words, span });
            }
            span = join(span, self.take().span);
        }
    }

    /// Reports what is left over, and reads on behind it for further mistakes.
    fn expect_end(&mut self) {
        let mut reported = false;
        while self.kind() != Kind::End {
            let Token { kind, span } = self.token();
            if !reported {
                match kind {
                    Kind::Close => self.bad(span, "this bracket was never opened", ""),
                    _ => self.bad(span, "a sign or `and` is missing before this", ""),
                }
                reported = true;
            }
            // What cannot begin a condition is passed over, with the sign that may follow a bracket.
            while !matches!(
                self.kind(),
                Kind::End
                    | Kind::Figure(_)
                    | Kind::Word(_)
                    | Kind::Truth(_)
                    | Kind::Open
                    | Kind::Not
            ) {
                self.take();
            }
            if self.kind() != Kind::End {
                let before = self.at;
                self.condition();
                // A token that nothing takes would hold this loop for ever.
                if self.at == before {
                    self.take();
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "parse_tests.rs"]
mod tests;
