//! From parser events to the tree. Everything of YAML that the language does without is refused
//! here, at its own place.

use serde_yaml::granit_parser::{ErrorKind, Event, Parser, ScanError, StrInput, options};
use serde_yaml::granit_parser::{ScalarStyle, Span as EventSpan, StructureStyle};

use super::limits::DEPTH_MAX;
use super::{Kind, Node, Scalar, Style, characters, core};
use crate::diag::{Code, Diagnostic};
use crate::source::{At, FileId, Span};

/// The parser cannot go on; what was wrong has been said.
struct Stopped;

pub(super) struct Builder<'a> {
    file: FileId,
    text: &'a str,
    parser: Parser<'a, StrInput<'a>>,
    found: Vec<Diagnostic>,
}

impl<'a> Builder<'a> {
    pub(super) fn new(file: FileId, text: &'a str) -> Self {
        let options = options! {
            emit_anchor_events: true,
            emit_unresolved_aliases: true,
            emit_comments: false,
            disallow_directives: true,
            strict_indentation: true,
            bom_inside_document_as_content: true,
        };
        let parser = Parser::new_from_str_with_options(text, options);
        Self { file, text, parser, found: Vec::new() }
    }

    /// Reads the one document of the text.
    pub(super) fn document(mut self) -> (Option<Node>, Vec<Diagnostic>) {
        let node = self.root().unwrap_or(None);
        (node, self.found)
    }

    fn root(&mut self) -> Result<Option<Node>, Stopped> {
        let mut node = None;
        let mut documents = 0;
        loop {
            let (event, at) = self.next()?;
            match event {
                Event::StreamStart | Event::DocumentEnd => {}
                Event::StreamEnd => break,
                Event::DocumentStart(..) if documents == 0 => documents = 1,
                Event::DocumentStart(..) => {
                    let span = self.span(at);
                    self.found.push(second_document(span));
                    break;
                }
                event => node = Some(self.node(event, at, 1)?),
            }
        }
        if node.as_ref().is_none_or(|node| node.kind == Kind::Null) {
            let span = Span::new(self.file, 0, 0);
            self.found.push(
                Diagnostic::error(Code::BadYaml, span, "the file is empty")
                    .help("start it with `format: \"1.0\"`"),
            );
            return Ok(None);
        }
        Ok(node)
    }

    /// The next event that is a node or a mark of structure; anchors are refused on the way.
    fn next(&mut self) -> Result<(Event<'a>, EventSpan), Stopped> {
        loop {
            let (event, at) = match self.parser.next_event() {
                None => return Err(Stopped),
                Some(Ok(next)) => next,
                Some(Err(fault)) => {
                    let message = self.scan_fault(&fault);
                    self.found.push(message);
                    return Err(Stopped);
                }
            };
            if let Some(tag) = at.tag_span() {
                let span = self.span(tag);
                self.found.push(feature(
                    span,
                    "a tag",
                    "the language tells the kind of a value by its key; delete the tag",
                ));
            }
            if let Event::Anchor(..) = event {
                let span = self.span(at);
                self.found.push(feature(span, "an anchor", "write the value out where it is used"));
                continue;
            }
            return Ok((event, at));
        }
    }

    fn node(&mut self, event: Event<'a>, at: EventSpan, depth: usize) -> Result<Node, Stopped> {
        let span = self.span(at);
        if depth > DEPTH_MAX {
            let headline = format!("the file is nested more than {DEPTH_MAX} deep");
            self.found.push(
                Diagnostic::error(Code::TooLarge, span, headline)
                    .help("move steps to a procedure of their own and `perform` it"),
            );
            return Err(Stopped);
        }
        match event {
            Event::Scalar(text, style, ..) => Ok(self.scalar(&text, style, span)),
            Event::SequenceStart(style, ..) => self.sequence(style, span, depth),
            Event::MappingStart(style, ..) => self.mapping(style, span, depth),
            Event::Alias(_) | Event::UnresolvedAlias(_) => {
                self.found.push(feature(span, "an alias", "write the value out here"));
                Ok(Node { span, kind: Kind::Refused })
            }
            _ => Ok(Node { span, kind: Kind::Null }),
        }
    }

    fn scalar(&mut self, text: &str, style: ScalarStyle, span: Span) -> Node {
        let style = match style {
            ScalarStyle::Plain => Style::Plain,
            ScalarStyle::SingleQuoted | ScalarStyle::DoubleQuoted => Style::Quoted,
            ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
        };
        if style == Style::Plain && core::is_null(text) {
            return Node { span, kind: Kind::Null };
        }
        // What stands in the source letter for letter has been looked at there.
        let escaped = style == Style::Quoted && self.slice(span).contains('\\');
        let hidden = text.chars().find_map(|c| Some((c, characters::refused(c)?)));
        if let (true, Some((c, why))) = (escaped, hidden) {
            self.found.push(characters::message(c, why, span));
        }
        Node { span, kind: Kind::Scalar(Scalar { text: text.to_owned(), style }) }
    }

    fn sequence(
        &mut self,
        style: StructureStyle,
        start: Span,
        depth: usize,
    ) -> Result<Node, Stopped> {
        let mut items: Vec<Node> = Vec::new();
        loop {
            let (event, at) = self.next()?;
            if matches!(event, Event::SequenceEnd) {
                let last = items.last().map(|item| item.span.end);
                let span = self.whole(style, start, last, at);
                return Ok(Node { span, kind: Kind::Seq(items) });
            }
            items.push(self.node(event, at, depth + 1)?);
        }
    }

    fn mapping(
        &mut self,
        style: StructureStyle,
        start: Span,
        depth: usize,
    ) -> Result<Node, Stopped> {
        let mut entries: Vec<(At<String>, Node)> = Vec::new();
        let mut key_refused = false;
        loop {
            let (event, at) = self.next()?;
            if matches!(event, Event::MappingEnd) {
                let last = entries.last().map(|(key, value)| key.span.end.max(value.span.end));
                let span = self.whole(style, start, last, at);
                let nothing_left = key_refused && entries.is_empty();
                let kind = if nothing_left { Kind::Refused } else { Kind::Map(entries) };
                return Ok(Node { span, kind });
            }
            let key = self.key(event, at, depth + 1)?;
            let (event, at) = self.next()?;
            let merge = key.as_ref().is_some_and(|key| key.value == MERGE_KEY);
            let before = self.found.len();
            let mut value = self.node(event, at, depth + 1)?;
            if merge {
                // The alias behind a merge key is the same mistake.
                self.found.truncate(before);
                value.kind = Kind::Refused;
            }
            let Some(key) = key else {
                key_refused = true;
                continue;
            };
            match entries.iter().find(|(known, _)| known.value == key.value) {
                Some((known, _)) => self.found.push(duplicate(&key, known.span)),
                None => entries.push((key, value)),
            }
        }
    }

    fn key(
        &mut self,
        event: Event<'a>,
        at: EventSpan,
        depth: usize,
    ) -> Result<Option<At<String>>, Stopped> {
        let plain = matches!(event, Event::Scalar(_, ScalarStyle::Plain, ..));
        let text = match &event {
            Event::Scalar(text, ..) => Some(text.to_string()),
            _ => None,
        };
        let node = self.node(event, at, depth)?;
        let Some(text) = text else {
            if node.kind != Kind::Refused {
                self.found.push(feature(node.span, "a key of several parts", "a key is one word"));
            }
            return Ok(None);
        };
        if plain && text == MERGE_KEY {
            let help = "write the keys out where they are used; nothing is merged";
            self.found.push(feature(node.span, "a merge key", help));
        }
        Ok(Some(At::new(text, node.span)))
    }

    /// The range of a whole mapping or list: the parser gives its start and its end only.
    fn whole(
        &self,
        style: StructureStyle,
        start: Span,
        last: Option<usize>,
        end: EventSpan,
    ) -> Span {
        let end = match (style, last) {
            (StructureStyle::Block, Some(last)) => last,
            _ => self.span(end).end,
        };
        Span::new(self.file, start.start, end)
    }

    fn span(&self, at: EventSpan) -> Span {
        let (start, end) = match at.byte_range() {
            Some(range) => (range.start, range.end),
            None => (self.byte(at.start.index()), self.byte(at.end.index())),
        };
        let span = Span::new(self.file, start, end);
        // A block text's range runs into the line after it, and an empty one's is empty.
        let len = self.slice(span).trim_end().len();
        Span::new(self.file, start, start + len)
    }

    fn byte(&self, char_idx: usize) -> usize {
        self.text.char_indices().nth(char_idx).map_or(self.text.len(), |(at, _)| at)
    }

    fn slice(&self, span: Span) -> &str {
        self.text.get(span.start..span.end).unwrap_or("")
    }

    fn scan_fault(&self, fault: &ScanError) -> Diagnostic {
        let marker = fault.marker();
        let start = marker.byte_offset().unwrap_or_else(|| self.byte(marker.index()));
        let len = self.text.get(start..).and_then(|t| t.chars().next()).map_or(0, char::len_utf8);
        let span = Span::new(self.file, start, start + len);
        match fault.kind() {
            ErrorKind::DirectiveDisallowed => feature(
                span,
                "a directive",
                "delete the line; files are YAML 1.2 without directives",
            ),
            ErrorKind::RecursionLimitExceeded => {
                let headline = format!("the file is nested more than {DEPTH_MAX} deep");
                Diagnostic::error(Code::TooLarge, span, headline)
            }
            _ if fault.info().contains("tab") => {
                // The parser stops at the text before; the tab is what has to go.
                let tail = self.text.get(start..).unwrap_or_default();
                let tab = tail.find('\t').map_or(start, |at| start.saturating_add(at));
                let span = Span::new(self.file, tab, tab.saturating_add(1).min(self.text.len()));
                let help = advice(&ErrorKind::TabInIndentation);
                Diagnostic::error(Code::BadYaml, span, "this is not YAML: a tab indents the line")
                    .help(help)
            }
            kind => {
                let headline = format!("this is not YAML: {}", fault.info().trim_end_matches('.'));
                Diagnostic::error(Code::BadYaml, span, headline).help(advice(kind))
            }
        }
    }
}

const MERGE_KEY: &str = "<<";

fn advice(kind: &ErrorKind) -> &'static str {
    match kind {
        ErrorKind::TabNotAllowed
        | ErrorKind::TabInBlockIndentation
        | ErrorKind::TabInIndentation
        | ErrorKind::TabAtBlockScalarStart => "indent with spaces, not with tabs",
        ErrorKind::UnclosedQuotedScalar | ErrorKind::DocumentIndicatorInQuotedScalar => {
            "close the quotation mark, or put the whole text in the other kind of quotes"
        }
        ErrorKind::UnclosedFlowCollection { .. }
        | ErrorKind::UnexpectedEofFlowMapping
        | ErrorKind::UnexpectedEofFlowSequence
        | ErrorKind::MismatchedFlowCollectionEnd { .. }
        | ErrorKind::MisplacedFlowCollectionEnd => "every `{` and `[` needs its own `}` and `]`",
        ErrorKind::MappingValueNotAllowed => {
            "a text that holds `: ` needs quotes; a key must stand under its neighbours"
        }
        _ => "look at the indentation, quotes and brackets here and on the line before",
    }
}

fn feature(span: Span, what: &str, help: &str) -> Diagnostic {
    Diagnostic::error(Code::YamlFeature, span, format!("{what} has no place in these files"))
        .help(help)
}

fn second_document(span: Span) -> Diagnostic {
    Diagnostic::error(Code::SecondDocument, span, "a second document starts here")
        .label("nothing from here on was read")
        .help("a file holds one document; move the second one to a file of its own")
}

fn duplicate(key: &At<String>, first: Span) -> Diagnostic {
    let headline = format!("the key `{}` stands here a second time", key.value);
    Diagnostic::error(Code::DuplicateKey, key.span, headline)
        .related(first, "first here")
        .help("keep one of the two")
}
