//! A calculation in its own words: formulas, symbols, where it holds, warnings, sources, inputs.

use super::{Fluid, Input, Kind};

/// How far a line of a list is set in.
const INDENT: &str = "  ";

impl Fluid {
    /// The page for `--explain`: paragraphs under headings, without an end of line at the end.
    pub fn explain(&self) -> String {
        let mut page = vec![format!("{}: {}", self.name, self.title)];
        let symbols: Vec<String> =
            self.symbols.iter().map(|(symbol, what)| format!("{symbol}: {what}")).collect();
        let inputs: Vec<String> = self.inputs.iter().map(described).collect();
        let owned = |lines: &[&str]| lines.iter().map(|&line| line.to_owned()).collect();
        for (heading, lines) in [
            ("Formulas", owned(self.formulas)),
            ("Symbols", symbols),
            ("Holds for", owned(self.valid)),
            ("Warns of", owned(self.warnings)),
            ("Sources", owned(self.sources)),
            ("Inputs", inputs),
        ] {
            if !lines.is_empty() {
                page.push(String::new());
                page.push(heading.to_owned());
                page.extend(lines.into_iter().map(|line| format!("{INDENT}{line}")));
            }
        }
        page.join("\n")
    }
}

/// One input in a line.
fn described(input: &Input) -> String {
    let Input { name, what, unit, kind, without } = *input;
    let kind = match kind {
        Kind::Figure if unit.is_empty() => String::new(),
        Kind::Figure => format!(", {unit}"),
        Kind::Range if unit.is_empty() => ", may be a range".to_owned(),
        Kind::Range => format!(", {unit}, may be a range"),
        Kind::Word(words) => format!(": {}", words.join(", ")),
    };
    let without = without.map_or_else(String::new, |without| format!("; without it: {without}"));
    format!("{name}: {what}{kind}{without}")
}
