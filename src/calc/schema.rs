//! The JSON Schema of what `calc --json` writes.

use serde_json::{Value as Json, json};

use super::json::FORMAT;

fn object(required: &[&str], properties: &Json) -> Json {
    json!({
        "type": "object", "additionalProperties": false, "required": required,
        "properties": properties,
    })
}

fn array(items: &Json) -> Json {
    json!({"type": "array", "items": items})
}

/// An object whose fields are all text and all there.
fn texts(names: &[&str]) -> Json {
    let fields = names.iter().map(|name| ((*name).to_owned(), json!({"type": "string"})));
    object(names, &Json::Object(fields.collect()))
}

fn text() -> Json {
    json!({"type": "string"})
}

fn maybe_text() -> Json {
    json!({"type": ["string", "null"]})
}

fn name() -> Json {
    json!({"type": "string", "pattern": "^[a-z][a-z0-9_]*$"})
}

fn working() -> Json {
    let (text, maybe_text, name) = (text(), maybe_text(), name());
    let figure = json!({"type": "string", "pattern": "^-?[0-9]+(\\.[0-9]+)?$"});
    let used = object(
        &["name", "symbol", "what", "value", "converted", "from"],
        &json!({
            "name": name, "symbol": text, "what": text, "value": text, "converted": maybe_text,
            "from": text,
        }),
    );
    let result = object(
        &["name", "what", "shown"],
        &json!({
            "name": name, "what": text, "shown": text, "dimension": text, "si": figure,
            "si_list": {"type": "array", "items": figure}, "word": text,
        }),
    );
    let result = json!({
        "allOf": [result],
        "oneOf": [
            {"required": ["si", "dimension"]},
            {"required": ["si_list", "dimension"]},
            {"required": ["word"]},
        ],
    });
    object(
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
        &json!({
            "format": {"const": FORMAT}, "calculation": name, "title": text,
            "inputs": array(&used),
            "lines": array(&texts(&["what", "formula", "figures", "result"])),
            "results": array(&result),
            "compared_with": array(&texts(&["what", "value", "against", "verdict"])),
            "sensitivity": array(&texts(&["input", "step", "effect"])),
            "changes": array(&text), "warnings": array(&text),
        }),
    )
}

fn calculation() -> Json {
    let (text, maybe_text, name) = (text(), maybe_text(), name());
    let words = json!({"type": ["array", "null"], "items": {"type": "string"}});
    let input = object(
        &["name", "symbol", "what", "takes", "dimension", "words", "need", "without", "range"],
        &json!({
            "name": name, "symbol": text, "what": text,
            "takes": {"enum": ["figure", "range", "count", "figures", "word"]},
            "dimension": maybe_text, "words": words,
            "need": {"enum": ["required", "default", "optional"]}, "without": maybe_text,
            "range": {"oneOf": [{"type": "null"}, texts(&["low", "high", "because"])]},
        }),
    );
    let output = object(
        &["name", "what", "gives", "dimension", "words"],
        &json!({
            "name": name, "what": text, "gives": {"enum": ["figure", "figures", "word", "text"]},
            "dimension": maybe_text, "words": words,
        }),
    );
    object(
        &[
            "format", "name", "title", "formulas", "symbols", "inputs", "outputs", "limits",
            "valid", "warnings", "sources", "example",
        ],
        &json!({
            "format": {"const": FORMAT}, "name": name, "title": text,
            "formulas": array(&text), "symbols": array(&texts(&["symbol", "what"])),
            "inputs": array(&input), "outputs": array(&output),
            "limits": {"oneOf": [{"type": "null"}, texts(&["at_least", "at_most"])]},
            "valid": array(&text), "warnings": array(&text),
            "sources": array(&text), "example": text,
        }),
    )
}

/// The JSON Schema of what `calc --json` writes: a working, or what one calculation or all of them say
/// of themselves.
pub fn schema() -> String {
    let schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "witnessmark calc --json",
        "description": "a working, what one calculation says of itself, or all of them",
        "oneOf": [
            {"$ref": "#/$defs/working"},
            {"$ref": "#/$defs/calculation"},
            {"type": "array", "items": {"$ref": "#/$defs/calculation"}},
        ],
        "$defs": {"working": working(), "calculation": calculation()},
    });
    let text = serde_json::to_string_pretty(&schema);
    text.expect("internal: a JSON value can be written") + "\n"
}
