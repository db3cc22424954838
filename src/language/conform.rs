//! Holds a file against the table: every fault of shape, each once, and nothing that only follows
//! from another fault. What values mean together is left to the readers.

use super::fields::{
    COUNT_MAX, Choice, Field, KeyChoice, Mapping, Presence, Quoting, Shape, TextShape,
};
use super::{FORMAT, FORMATS, head, texts};
use crate::diag::{Code, Diagnostic, Edit, suggestion, sure_suggestion};
use crate::source::{At, FileId, Source, Span};
use crate::yaml::{self, Kind, Node, Style};

/// Checks `root` against `mapping`.
pub(super) fn check(
    file: FileId,
    source: &Source,
    root: &Node,
    mapping: &'static Mapping,
) -> Vec<Diagnostic> {
    let format = root.get("format").and_then(Node::text).unwrap_or(FORMAT);
    let mut conform = Conform { file, source, format, found: Vec::new() };
    conform.mapping(root, mapping, &Owner { name: String::new(), span: head(root) });
    conform.found
}

struct Conform<'a> {
    file: FileId,
    source: &'a Source,
    /// The version that the file is written in.
    format: &'a str,
    found: Vec<Diagnostic>,
}

/// What a value belongs to, for messages about it.
#[derive(Clone)]
struct Owner {
    /// The key, in backquotes; empty for the file.
    name: String,
    /// Where the key stands.
    span: Span,
}

/// The keys that may stand in one mapping, given what else stands there.
#[derive(Default)]
struct Allowed {
    fields: Vec<&'static Field>,
    /// Keys of cases that are not taken, with what they would go with.
    elsewhere: Vec<(&'static Field, &'static str)>,
    /// Keys of cases, when it cannot be told which case is meant.
    undecided: Vec<&'static Field>,
    /// What the case is, for messages: `do`, `verdict: accept`.
    case: Option<String>,
    /// The action is one of a later version, and so are its keys.
    reserved: bool,
}

impl Conform<'_> {
    fn error(&mut self, code: Code, span: Span, headline: String) -> &mut Diagnostic {
        self.found.push(Diagnostic::error(code, span, headline));
        // The one just pushed.
        let last = self.found.len() - 1;
        self.found.get_mut(last).expect("internal: a message was just added")
    }

    fn mapping(&mut self, node: &Node, mapping: &'static Mapping, owner: &Owner) {
        if !matches!(node.kind, Kind::Map(_)) {
            self.wrong_kind(node, mapping.noun, owner);
            return;
        }
        let mut allowed = Allowed { fields: mapping.fields.iter().collect(), ..Allowed::default() };
        let unknown = unknown_keys(node, mapping);
        self.choose(&mapping.choice, node, &mut allowed, (owner, mapping, unknown.is_empty()));
        for (key, value) in node.entries() {
            self.entry(key, value, (mapping, node), &allowed);
        }
        self.missing(node, mapping, &allowed, (owner, &unknown));
    }

    fn choose(
        &mut self,
        choice: &'static Choice,
        node: &Node,
        allowed: &mut Allowed,
        place: (&Owner, &'static Mapping, bool),
    ) {
        match choice {
            Choice::None => {}
            Choice::Key(choice) => self.choose_by_key(choice, node, allowed, place),
            Choice::Word(by) => {
                let word = match node.get(by.key) {
                    Some(value) => value.text(),
                    None => by.default,
                };
                let taken = by.cases.iter().find(|case| Some(case.word) == word);
                let Some(taken) = taken else {
                    allowed.undecided.extend(by.cases.iter().flat_map(super::fields::Case::all));
                    return;
                };
                // Later cases hold before the keys of the mapping, so they stand first.
                allowed.fields.splice(0..0, taken.own());
                let others = by.cases.iter().filter(|case| case.word != taken.word);
                allowed
                    .elsewhere
                    .extend(others.flat_map(|case| case.all().into_iter().map(|f| (f, case.word))));
                allowed.case = Some(format!("{}: {}", by.key, taken.word));
                self.choose(&taken.then, node, allowed, place);
            }
        }
    }

    fn choose_by_key(
        &mut self,
        choice: &'static KeyChoice,
        node: &Node,
        allowed: &mut Allowed,
        (owner, mapping, all_known): (&Owner, &'static Mapping, bool),
    ) {
        let lead = |case: &'static super::fields::Case| {
            let mut keys = node.entries().iter().map(|(key, _)| key);
            keys.find(|key| case.lead.iter().any(|field| field.key == key.value))
        };
        let mut taken: Vec<_> =
            choice.cases.iter().filter_map(|case| Some((case, lead(case)?))).collect();
        taken.sort_by_key(|(_, key)| key.span.start);
        if let [(case, _)] = taken.as_slice() {
            allowed.reserved = case.lead.iter().all(|f| f.presence == Presence::Reserved);
            allowed.fields.splice(0..0, case.own());
            let others = choice.cases.iter().filter(|other| other.word != case.word);
            allowed
                .elsewhere
                .extend(others.flat_map(|other| other.all().into_iter().map(|f| (f, other.word))));
            allowed.case = Some(case.word.to_owned());
            self.choose(&case.then, node, allowed, (owner, mapping, all_known));
            return;
        }
        allowed.undecided.extend(choice.cases.iter().flat_map(super::fields::Case::all));
        let usable = choice
            .cases
            .iter()
            .flat_map(|case| case.lead)
            .filter(|f| f.presence != Presence::Reserved);
        let words = listed(usable.map(|f| f.key), "or");
        let what = choice.what;
        if let [(_, first), (_, second), ..] = taken.as_slice() {
            let headline = format!(
                "`{}` and `{}` do not go together: {} has one {what}",
                first.value, second.value, mapping.noun
            );
            let help = if what == "action" {
                "make two steps of it".to_owned()
            } else {
                "delete one of them".to_owned()
            };
            let message = Diagnostic::error(choice.code, second.span, headline);
            self.found.push(message.related(first.span, format!("one {what}")).help(help));
        } else if all_known && !merged(node) {
            let headline = format!("{} has no {what}", mapping.noun);
            let span = if node.entries().is_empty() { owner.span } else { head(node) };
            self.error(choice.code, span, headline).help = Some(format!("give it {words}"));
        }
    }

    fn entry(
        &mut self,
        key: &At<String>,
        value: &Node,
        (mapping, whole): (&Mapping, &Node),
        allowed: &Allowed,
    ) {
        let named = |fields: &[&'static Field]| fields.iter().copied().find(|f| f.key == key.value);
        let owner = Owner { name: format!("`{}`", key.value), span: key.span };
        if let Some(field) = named(&allowed.fields).or_else(|| named(&allowed.undecided)) {
            if field.presence == Presence::Reserved {
                let headline = format!("`{}` is not in this version", key.value);
                self.error(Code::NotInThisVersion, key.span, headline).help =
                    Some(format!("it is kept for: {}", lower_first(field.doc)));
            } else {
                self.too_old(key, field);
                self.value(value, field.shape, &owner);
            }
            return;
        }
        if value.kind == Kind::Refused || allowed.reserved {
            return;
        }
        if let Some(rest) = mapping.rest {
            self.key(key, &texts::WORD);
            self.value(value, rest, &owner);
            return;
        }
        let elsewhere: Vec<_> =
            allowed.elsewhere.iter().filter(|(f, _)| f.key == key.value).collect();
        if let (false, Some(case)) = (elsewhere.is_empty(), &allowed.case) {
            let headline = format!("`{}` does not go with `{case}`", key.value);
            let with = listed(elsewhere.iter().map(|(_, case)| *case), "or");
            self.error(Code::UnknownKey, key.span, headline).help =
                Some(format!("it goes with {with}; delete it here"));
            return;
        }
        let known = allowed.fields.iter().chain(&allowed.undecided);
        let known: Vec<&str> =
            known.filter(|f| f.presence != Presence::Reserved).map(|f| f.key).collect();
        let headline = format!("{} has no key `{}`", mapping.noun, key.value);
        let help = match suggestion(&key.value, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("its keys are {}", listed(known.iter().copied(), "and")),
        };
        // A key that is there already cannot be what this one was meant for.
        let free: Vec<&str> =
            known.into_iter().filter(|known| whole.get(known).is_none()).collect();
        let fault = self.error(Code::UnknownKey, key.span, headline);
        fault.help = Some(help);
        fault.fix = sure_suggestion(&key.value, free.iter().copied())
            .map(|near| Edit { span: key.span, text: near.to_owned() });
    }

    /// Says so where the file is written in a version that did not have the key yet.
    fn too_old(&mut self, key: &At<String>, field: &Field) {
        let place = |version| FORMATS.iter().position(|known| *known == version);
        if place(self.format) < place(field.since) {
            let since = field.since;
            let headline = format!(
                "`{}` is a key of format {since}, and this file is written in {}",
                key.value, self.format
            );
            self.error(Code::FormatVersion, key.span, headline).help =
                Some(format!("start the file with `format: \"{since}\"`"));
        }
    }

    fn missing(
        &mut self,
        node: &Node,
        mapping: &Mapping,
        allowed: &Allowed,
        (owner, unknown): (&Owner, &[Option<&'static str>]),
    ) {
        if merged(node) {
            return;
        }
        let mut missing: Vec<&'static Field> = Vec::new();
        for field in &allowed.fields {
            let wanted = field.presence == Presence::Required
                && node.get(field.key).is_none()
                && !unknown.contains(&Some(field.key))
                && !missing.iter().any(|known| known.key == field.key);
            if wanted {
                missing.push(field);
            }
        }
        missing.sort_by_key(|field| mapping.fields.iter().position(|f| f.key == field.key));
        let Some(first) = missing.first() else { return };
        let keys = listed(missing.iter().map(|f| f.key), "and");
        let with = match &allowed.case {
            Some(case) if !mapping.fields.iter().any(|f| f.key == first.key) => {
                format!(" with `{case}`")
            }
            _ => String::new(),
        };
        let headline = format!("{}{with} needs {keys}", mapping.noun);
        let help = format!("`{}`: {}", first.key, lower_first(first.doc));
        // In a list there is no key that owns the mapping; its own first key shows the place.
        let span = if node.entries().is_empty() { owner.span } else { head(node) };
        self.error(Code::MissingKey, span, headline).help = Some(help);
    }

    fn value(&mut self, node: &Node, shape: Shape, owner: &Owner) {
        if node.kind == Kind::Refused {
            return;
        }
        match shape {
            Shape::Anything => {}
            Shape::Text(text) => self.text(node, text, owner),
            Shape::Word(words) => self.word(node, words, owner),
            Shape::Flag => {
                let plain = plain_text(node);
                if !matches!(plain, Some("true" | "false")) {
                    self.wrong_value(node, "`true` or `false`, without quotes", owner);
                }
            }
            Shape::Count => {
                if plain_text(node).and_then(count).is_none() {
                    self.wrong_value(node, &format!("a whole number from 1 to {COUNT_MAX}"), owner);
                }
            }
            Shape::CountOrFigure => match plain_text(node) {
                Some(text) if text.starts_with(|c: char| c.is_ascii_digit() || c == '-') => {
                    self.value(node, Shape::Count, owner);
                }
                _ => self.text(node, &texts::FIGURE_NAME, owner),
            },
            Shape::FigureOr(mapping) => match node.kind {
                Kind::Map(_) => self.mapping(node, mapping, owner),
                _ => self.text(node, &texts::FIGURE_NAME, owner),
            },
            Shape::Either(one, many) => match node.kind {
                Kind::Map(_) | Kind::Seq(_) => self.value(node, *many, owner),
                _ => self.value(node, *one, owner),
            },
            Shape::Mapping(mapping) => self.mapping(node, mapping, owner),
            Shape::List(item, least) => match &node.kind {
                Kind::Seq(items) => self.items(node, items, (*item, least), owner),
                _ => self.wrong_kind(node, "a list", owner),
            },
            Shape::OneOrMore(item) => match &node.kind {
                Kind::Seq(items) => self.items(node, items, (*item, 1), owner),
                _ => self.value(node, *item, owner),
            },
            Shape::Keyed(name, value, least) => match &node.kind {
                Kind::Map(entries) => {
                    self.at_least(entries.len(), least, owner);
                    for (key, inner) in entries {
                        self.key(key, name);
                        let owner = Owner { name: format!("`{}`", key.value), span: key.span };
                        self.value(inner, *value, &owner);
                    }
                }
                _ => self.wrong_kind(node, "a mapping of names", owner),
            },
        }
    }

    fn items(&mut self, node: &Node, items: &[Node], (item, least): (Shape, usize), owner: &Owner) {
        self.at_least(items.len(), least, owner);
        for inner in items {
            let span = if inner.span.start == inner.span.end { node.span } else { inner.span };
            let owner = Owner { name: format!("an item of {}", owner.name), span };
            self.value(inner, item, &owner);
        }
    }

    fn at_least(&mut self, len: usize, least: usize, owner: &Owner) {
        if len < least {
            let headline = format!("{} needs at least {least}, and has {len}", owner.name);
            self.error(Code::BadValue, owner.span, headline);
        }
    }

    fn text(&mut self, node: &Node, shape: &'static TextShape, owner: &Owner) {
        let Some(text) = node.text() else {
            self.wrong_kind(node, shape.noun, owner);
            return;
        };
        if self.refused(text, node.span, shape, owner) {
            return;
        }
        if plain_text(node).is_some() {
            self.quote_it(text, node.span, shape);
        }
    }

    fn key(&mut self, key: &At<String>, shape: &'static TextShape) {
        if key.value == "<<" {
            return;
        }
        let owner = Owner { name: "this key".to_owned(), span: key.span };
        if !self.refused(&key.value, key.span, shape, &owner)
            && self.source.slice(key.span) == key.value
        {
            self.quote_it(&key.value, key.span, shape);
        }
    }

    fn refused(&mut self, text: &str, span: Span, shape: &TextShape, owner: &Owner) -> bool {
        let Err(fault) = (shape.check)(text) else { return false };
        let found = if text.trim().is_empty() {
            "nothing".to_owned()
        } else {
            format!("`{}`", short(text))
        };
        let headline = if fault.why.is_empty() {
            format!("{found} is not {}", shape.noun)
        } else {
            format!("{found} is not {}: {}", shape.noun, fault.why)
        };
        let span = if span.start == span.end { owner.span } else { span };
        self.error(shape.code, span, headline).help = fault.help;
        true
    }

    fn quote_it(&mut self, text: &str, span: Span, shape: &TextShape) {
        let Some(retyped) = yaml::retyped(text) else { return };
        let whole =
            text.bytes().all(|b| b.is_ascii_digit()) && (text == "0" || !text.starts_with('0'));
        let quiet = match shape.quoting {
            Quoting::Never => true,
            Quoting::WhenRetypedUnlessWhole => whole,
            Quoting::WhenRetyped => false,
        };
        if quiet {
            return;
        }
        let headline = format!("other programs read `{text}` as {}", retyped.noun());
        self.found.push(
            Diagnostic::warning(Code::QuoteIt, span, headline)
                .help(format!("write \"{text}\""))
                .fix(span, format!("\"{text}\"")),
        );
    }

    fn word(&mut self, node: &Node, words: &'static [&'static str], owner: &Owner) {
        let Some(text) = node.text() else {
            self.wrong_kind(node, &listed(words.iter().copied(), "or"), owner);
            return;
        };
        if words.contains(&text) {
            return;
        }
        let headline = format!("{} cannot be `{}`", owner.name, short(text));
        let help = match suggestion(text, words.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("write {}", listed(words.iter().copied(), "or")),
        };
        let plain = plain_text(node).is_some();
        let fault = self.error(Code::BadValue, node.span, headline);
        fault.help = Some(help);
        fault.fix = sure_suggestion(text, words.iter().copied())
            .filter(|_| plain)
            .map(|near| Edit { span: node.span, text: near.to_owned() });
    }

    fn wrong_value(&mut self, node: &Node, wanted: &str, owner: &Owner) {
        match node.text() {
            Some(text) => {
                let headline = format!("{} is {wanted}; found `{}`", owner.name, short(text));
                self.error(Code::BadValue, node.span, headline);
            }
            None => self.wrong_kind(node, wanted, owner),
        }
    }

    fn wrong_kind(&mut self, node: &Node, wanted: &str, owner: &Owner) {
        let found = match node.kind {
            Kind::Refused => return,
            Kind::Scalar(_) => "a text",
            Kind::Map(_) => "a mapping",
            Kind::Seq(_) => "a list",
            Kind::Null => "nothing",
        };
        let headline = format!("{} is {wanted}; found {found}", owner.name);
        // Nothing has no place; the key before it has.
        let span = if node.kind == Kind::Null { owner.span } else { first_line(self, node) };
        let null_word = node.kind == Kind::Null && !self.source.slice(node.span).is_empty();
        self.error(Code::BadValue, span, headline).help =
            null_word.then(|| "if the word itself is meant, put it in quotes".to_owned());
    }
}

/// The keys that the mapping never has, each with the key that was probably meant.
fn unknown_keys(node: &Node, mapping: &'static Mapping) -> Vec<Option<&'static str>> {
    let all = mapping.all();
    let unknown = node.entries().iter().filter(|(key, _)| {
        mapping.rest.is_none() && !all.iter().any(|field| field.key == key.value)
    });
    unknown.map(|(key, _)| suggestion(&key.value, all.iter().map(|f| f.key))).collect()
}

/// A message about a whole mapping or list points at its first line, not at all of it.
fn first_line(conform: &Conform<'_>, node: &Node) -> Span {
    let text = conform.source.slice(node.span);
    let len = text.find('\n').unwrap_or(text.len());
    Span::new(conform.file, node.span.start, node.span.start + len)
}

/// True when something was to be merged in, so that what is missing cannot be told.
fn merged(node: &Node) -> bool {
    node.get("<<").is_some()
}

fn plain_text(node: &Node) -> Option<&str> {
    match &node.kind {
        Kind::Scalar(scalar) if scalar.style == Style::Plain => Some(&scalar.text),
        _ => None,
    }
}

/// Reads a whole number as files write it: digits, no sign, no zero in front.
pub(super) fn count(text: &str) -> Option<u32> {
    let form = text.bytes().all(|b| b.is_ascii_digit()) && !text.starts_with('0');
    text.parse().ok().filter(|number| form && (1..=COUNT_MAX).contains(number))
}

fn listed<'a>(words: impl Iterator<Item = &'a str>, join: &str) -> String {
    let mut words: Vec<String> = words.map(|word| format!("`{word}`")).collect();
    words.dedup();
    match words.pop() {
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} {join} {last}", words.join(", ")),
        None => String::new(),
    }
}

fn lower_first(doc: &str) -> String {
    let mut chars = doc.trim_end_matches('.').chars();
    chars.next().map_or_else(String::new, |c| c.to_lowercase().chain(chars).collect())
}

fn short(text: &str) -> String {
    const LEN_CHARS_MAX: usize = 40;
    if text.chars().count() <= LEN_CHARS_MAX {
        return text.to_owned();
    }
    text.chars().take(LEN_CHARS_MAX).chain(['…']).collect()
}
