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
        let mut inputs: Vec<String> = self.inputs.iter().map(described).collect();
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

/// One input in a line.
fn described(input: &Input) -> String {
    let symbol =
        if input.symbol.is_empty() { String::new() } else { format!(" ({})", input.symbol) };
    let unit = match (input.takes, input.unit) {
        (Takes::Word(words), _) => format!(": {}", words.join(", ")),
        (Takes::Count, _) => ", a whole number".to_owned(),
        (Takes::Figures(_), "") => ", a list".to_owned(),
        (Takes::Figures(_), unit) => format!(", a list in {unit}"),
        (Takes::Figure(_), "") => String::new(),
        (Takes::Figure(_), unit) => format!(", in {unit}"),
    };
    let range = input.range.map_or_else(String::new, |range| {
        format!("; from {} to {}: {}", range.low, range.high, range.because)
    });
    let without = match input.need {
        Need::Required => String::new(),
        Need::Default(text) => format!("; without it {text} is taken"),
        Need::Optional(text) => format!("; may be left out: {text}"),
    };
    format!("{}{symbol}: {}{unit}{range}{without}", input.name, input.what)
}

/// One result in a line.
fn result(output: &Output) -> String {
    let unit = match (output.gives, output.unit) {
        (Gives::Word(words), _) => format!(": {}", words.join(", ")),
        (_, "") => String::new(),
        (Gives::Figure(_) | Gives::Figures(_), unit) => format!(", in {unit}"),
    };
    let absent = if output.absent.is_empty() {
        String::new()
    } else {
        format!("; does not come out {}", output.absent)
    };
    format!("{}: {}{unit}{absent}", output.name, output.what)
}
