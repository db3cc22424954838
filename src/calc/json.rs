//! A working and the list of calculations as JSON, and the schema of both.
//!
//! Figures are text, as everywhere in this program: with all the digits that give the same
//! floating-point number again, in SI units, beside the text for people.

use serde_json::{Value as Json, json};

use super::declare::{Calculation, Gives, Input, Need, Output, Takes};
use super::working::{Outcome, Value, Working};

/// The version of what is written here.
///
/// - 1.0: the first.
pub const FORMAT: &str = "1.0";

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
    let mut fields = json!({
        "name": outcome.name, "what": outcome.what, "shown": outcome.shown(),
    });
    if let Gives::Figure(dimension) | Gives::Figures(dimension) = outcome.gives {
        fields["dimension"] = dimension.word().into();
    }
    match &outcome.value {
        Value::Figure(si) => fields["si"] = plain(*si).into(),
        Value::Figures(list) => {
            fields["si_list"] = list.iter().map(|si| plain(*si)).collect::<Vec<_>>().into();
        }
        Value::Word(word) => fields["word"] = (*word).into(),
    }
    fields
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
    };
    json!({
        "name": output.name, "what": output.what, "gives": gives,
        "dimension": dimension.map(super::Dimension::word), "words": words,
    })
}

fn object(required: &[&str], properties: Json) -> Json {
    json!({
        "type": "object", "additionalProperties": false, "required": required,
        "properties": properties,
    })
}

fn array(items: Json) -> Json {
    json!({"type": "array", "items": items})
}

/// An object whose fields are all text and all there.
fn texts(names: &[&str]) -> Json {
    let fields = names.iter().map(|name| ((*name).to_owned(), json!({"type": "string"})));
    object(names, Json::Object(fields.collect()))
}

/// The JSON Schema of what `calc` writes: a working, or what a calculation says of itself.
pub fn schema() -> String {
    let text = json!({"type": "string"});
    let maybe_text = json!({"type": ["string", "null"]});
    let name = json!({"type": "string", "pattern": "^[a-z][a-z0-9_]*$"});
    let figure = json!({"type": "string", "pattern": "^-?[0-9]+(\\.[0-9]+)?$"});
    let words = json!({"type": ["array", "null"], "items": {"type": "string"}});
    let used = object(
        &["name", "symbol", "what", "value", "converted", "from"],
        json!({
            "name": name, "symbol": text, "what": text, "value": text, "converted": maybe_text,
            "from": text,
        }),
    );
    let mut result = object(
        &["name", "what", "shown"],
        json!({
            "name": name, "what": text, "shown": text, "dimension": text, "si": figure,
            "si_list": {"type": "array", "items": figure}, "word": text,
        }),
    );
    result["oneOf"] = json!([
        {"required": ["si", "dimension"]},
        {"required": ["si_list", "dimension"]},
        {"required": ["word"]},
    ]);
    let working = object(
        &[
            "format",
            "calculation",
            "title",
            "inputs",
            "lines",
            "results",
            "compared_with",
            "sensitivity",
            "changes",
            "warnings",
        ],
        json!({
            "format": {"const": FORMAT}, "calculation": name, "title": text,
            "inputs": array(used),
            "lines": array(texts(&["what", "formula", "figures", "result"])),
            "results": array(result),
            "compared_with": array(texts(&["what", "value", "against", "verdict"])),
            "sensitivity": array(texts(&["input", "step", "effect"])),
            "changes": array(text.clone()), "warnings": array(text.clone()),
        }),
    );
    let input = object(
        &["name", "symbol", "what", "takes", "dimension", "words", "need", "without", "range"],
        json!({
            "name": name, "symbol": text, "what": text,
            "takes": {"enum": ["figure", "count", "figures", "word"]},
            "dimension": maybe_text, "words": words,
            "need": {"enum": ["required", "default", "optional"]}, "without": maybe_text,
            "range": {"oneOf": [{"type": "null"}, texts(&["low", "high", "because"])]},
        }),
    );
    let output = object(
        &["name", "what", "gives", "dimension", "words"],
        json!({
            "name": name, "what": text, "gives": {"enum": ["figure", "figures", "word"]},
            "dimension": maybe_text, "words": words,
        }),
    );
    let calculation = object(
        &[
            "format", "name", "title", "formulas", "symbols", "inputs", "outputs", "limits",
            "valid", "warnings", "sources", "example",
        ],
        json!({
            "format": {"const": FORMAT}, "name": name, "title": text,
            "formulas": array(text.clone()), "symbols": array(texts(&["symbol", "what"])),
            "inputs": array(input), "outputs": array(output),
            "limits": {"oneOf": [{"type": "null"}, texts(&["at_least", "at_most"])]},
            "valid": array(text.clone()), "warnings": array(text.clone()),
            "sources": array(text.clone()), "example": text,
        }),
    );
    let schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "witnessmark calc --json",
        "description": "a working, what one calculation says of itself, or all of them",
        "oneOf": [
            {"$ref": "#/$defs/working"},
            {"$ref": "#/$defs/calculation"},
            {"type": "array", "items": {"$ref": "#/$defs/calculation"}},
        ],
        "$defs": {"working": working, "calculation": calculation},
    });
    serde_json::to_string_pretty(&schema).map(|text| text + "\n").unwrap_or_default()
}
