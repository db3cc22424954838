//! A working, and what a calculation says of itself, as JSON. Its shape is in `schema`.
//!
//! Figures are text, as everywhere in this program: with all the digits that give the same
//! floating-point number again, in SI units, beside the text for people.

use serde_json::{Map, Value as Json, json};

use super::declare::{Calculation, Gives, Input, Need, Output, Takes};
use super::working::{Outcome, Value, Working};

/// The version of what is written here.
///
/// - 1.0: the first.
/// - 1.1: an input may take a `range`, a result may be a `text`.
pub const FORMAT: &str = "1.1";

impl Working {
    /// The whole working as a JSON value.
    pub fn json(&self) -> Json {
        let inputs = self.inputs.iter().map(|used| {
            json!({
                "name": used.name, "symbol": used.symbol, "what": used.what, "value": used.given,
                "converted": used.shown, "from": used.from,
            })
        });
        let lines = self.lines.iter().map(|line| {
            json!({
                "what": line.what, "formula": line.formula, "figures": line.figures,
                "result": line.result,
            })
        });
        let compared = self.compared_with.iter().map(|held| {
            json!({
                "what": held.what, "value": held.value, "against": held.against,
                "verdict": held.verdict,
            })
        });
        let weights = self
            .sensitivity
            .iter()
            .map(|w| json!({"input": w.input, "step": w.step, "effect": w.effect}));
        json!({
            "format": FORMAT,
            "calculation": self.calculation,
            "title": self.title,
            "inputs": inputs.collect::<Vec<_>>(),
            "lines": lines.collect::<Vec<_>>(),
            "results": self.results.iter().map(outcome).collect::<Vec<_>>(),
            "compared_with": compared.collect::<Vec<_>>(),
            "sensitivity": weights.collect::<Vec<_>>(),
            "changes": self.changes,
            "warnings": self.warnings,
        })
    }
}

fn outcome(outcome: &Outcome) -> Json {
    let text = |text: &str| Json::String(text.to_owned());
    let mut fields = Map::new();
    fields.insert("name".into(), text(outcome.name));
    fields.insert("what".into(), text(outcome.what));
    fields.insert("shown".into(), text(&outcome.shown()));
    if let Gives::Figure(dimension) | Gives::Figures(dimension) = outcome.gives {
        fields.insert("dimension".into(), text(dimension.word()));
    }
    match &outcome.value {
        Value::Figure(si) => fields.insert("si".into(), text(&plain(*si))),
        Value::Figures(list) => {
            let list = list.iter().map(|si| text(&plain(*si))).collect();
            fields.insert("si_list".into(), Json::Array(list))
        }
        Value::Word(word) => fields.insert("word".into(), text(word)),
    };
    Json::Object(fields)
}

/// The shortest decimal that gives the same number again; nothing is never negative.
fn plain(si: f64) -> String {
    format!("{}", si + 0.0)
}

impl Calculation {
    /// What the calculation says of itself, as a JSON value.
    pub fn json(&self) -> Json {
        let symbols =
            self.symbols.iter().map(|(symbol, what)| json!({"symbol": symbol, "what": what}));
        json!({
            "format": FORMAT,
            "name": self.name,
            "title": self.title,
            "formulas": self.formulas,
            "symbols": symbols.collect::<Vec<_>>(),
            "inputs": self.inputs.iter().map(input).collect::<Vec<_>>(),
            "outputs": self.outputs.iter().map(output).collect::<Vec<_>>(),
            "limits": self.held.map(|h| json!({"at_least": h.at_least, "at_most": h.at_most})),
            "valid": self.valid,
            "warnings": self.warnings,
            "sources": self.sources,
            "example": self.example_line(),
        })
    }
}

fn input(input: &Input) -> Json {
    let (takes, words) = match input.takes {
        Takes::Figure(_) => ("figure", None),
        Takes::Count => ("count", None),
        Takes::Range(_) => ("range", None),
        Takes::Figures(_) => ("figures", None),
        Takes::Word(words) => ("word", Some(words)),
    };
    let (need, without) = match input.need {
        Need::Required => ("required", None),
        Need::Default(text) => ("default", Some(text)),
        Need::Optional(text) => ("optional", Some(text)),
    };
    json!({
        "name": input.name, "symbol": input.symbol, "what": input.what, "takes": takes,
        "dimension": input.takes.dimension().map(super::Dimension::word),
        "words": words, "need": need, "without": without,
        "range": input.range.map(|r| json!({"low": r.low, "high": r.high, "because": r.because})),
    })
}

fn output(output: &Output) -> Json {
    let (gives, dimension, words) = match output.gives {
        Gives::Figure(dimension) => ("figure", Some(dimension), None),
        Gives::Figures(dimension) => ("figures", Some(dimension), None),
        Gives::Word(words) => ("word", None, Some(words)),
        Gives::Text => ("text", None, None),
    };
    json!({
        "name": output.name, "what": output.what, "gives": gives,
        "dimension": dimension.map(super::Dimension::word), "words": words,
    })
}
