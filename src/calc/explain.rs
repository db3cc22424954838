//! A calculation in its own words: formulas, symbols, inputs, results, where it holds, sources.

use super::declare::{AT_LEAST, AT_MOST, Calculation, Gives, Input, Need, Output, Takes};
use super::working::paged;

impl Calculation {
    /// The page for `--explain`: paragraphs under headings, without an end of line at the end.
    pub fn explain(&self) -> String {
        let page = vec![format!("{}: {}", self.name, self.title)];
        let owned = |lines: &[&str]| lines.iter().map(|&line| line.to_owned()).collect::<Vec<_>>();
        let symbols =
            self.symbols.iter().map(|(symbol, what)| format!("{symbol}: {what}")).collect();
        let mut inputs: Vec<String> = self.inputs.iter().flat_map(described).collect();
        inputs.extend(self.limits());
        let outputs = self.outputs.iter().map(result).collect();
        let paragraphs: [(&str, Vec<String>); 8] = [
            ("Formulas", owned(self.formulas)),
            ("Symbols that are no inputs", symbols),
            ("Give it, in any unit of the kind", inputs),
            ("It gives", outputs),
            ("Holds for", owned(self.valid)),
            ("Take care", owned(self.warnings)),
            ("Sources", owned(self.sources)),
            ("Try it", vec![self.example_line()]),
        ];
        paged(page, paragraphs)
    }

    /// The command line of the example.
    pub fn example_line(&self) -> String {
        let quoted = |text: &str| {
            let plain = text.chars().all(|c| c.is_ascii_alphanumeric() || "._-%".contains(c));
            if plain { text.to_owned() } else { format!("\"{text}\"") }
        };
        let given = self.example.iter().map(|(name, text)| format!(" {name}={}", quoted(text)));
        format!("witnessmark calc {}{}", self.name, given.collect::<String>())
    }

    fn limits(&self) -> Vec<String> {
        let Some(held) = self.held else { return Vec::new() };
        let line = |limit: &str, name: &str| {
            format!("{limit}: a limit that `{name}` is held against; may be left out")
        };
        vec![line(AT_LEAST, held.at_least), line(AT_MOST, held.at_most)]
    }
}

/// One input: what it is, and under it how it is written, where it must lie and what holds without it.
fn described(input: &Input) -> Vec<String> {
    let symbol =
        if input.symbol.is_empty() { String::new() } else { format!(" ({})", input.symbol) };
    let unit = input.unit;
    let written = match input.takes {
        Takes::Word(words) => format!("one of: {}", words.join(", ")),
        Takes::Count => "a whole number".to_owned(),
        Takes::Figures(_) if unit.is_empty() => "a list of numbers".to_owned(),
        Takes::Figures(_) => format!("a list in {unit}"),
        Takes::Range(_) if unit.is_empty() => "a number, or a range such as `1 to 2`".to_owned(),
        Takes::Range(_) => format!("in {unit}, or a range such as `1 to 2 {unit}`"),
        Takes::Figure(_) if unit.is_empty() => "a number".to_owned(),
        Takes::Figure(_) => format!("in {unit}"),
    };
    let range = input.range.map_or_else(String::new, |range| {
        format!("; from {} to {}: {}", range.low, range.high, range.because)
    });
    let without = match input.need {
        Need::Required => None,
        Need::Default(text) => Some(format!("without it {text} is taken")),
        Need::Optional(text) => Some(format!("may be left out: {text}")),
    };
    let mut lines =
        vec![format!("{}{symbol}: {}", input.name, input.what), format!("  {written}{range}")];
    lines.extend(without.map(|without| format!("  {without}")));
    lines
}

/// One result in a line.
fn result(output: &Output) -> String {
    let unit = match (output.gives, output.unit) {
        (Gives::Word(words), _) => format!(": {}", words.join(", ")),
        (Gives::Text, _) | (_, "") => String::new(),
        (Gives::Figure(_) | Gives::Figures(_), unit) => format!(", in {unit}"),
    };
    let absent = if output.absent.is_empty() {
        String::new()
    } else {
        format!("; does not come out {}", output.absent)
    };
    format!("{}: {}{unit}{absent}", output.name, output.what)
}
