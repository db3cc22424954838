//! JSON Schemas (2020-12) for editors, made from the table.
//!
//! Whatever the reader accepts is valid; a schema cannot see everything that the reader refuses.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::FileKind;
use super::fields::{COUNT_MAX, Case, Choice, Field, Mapping, Presence, Shape, TextShape};
use super::texts;

/// The schema of one kind of file, as the text of `schemas/KIND.schema.json`.
pub fn schema(kind: FileKind) -> String {
    let root = kind.mapping();
    let mut defs = BTreeMap::new();
    collect(root, &mut defs);
    let mut schema = Map::new();
    schema.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".into(), json!(format!("witnessmark: {}", root.noun)));
    schema.insert("$ref".into(), reference(root));
    schema.insert("$defs".into(), Value::Object(defs.into_iter().collect()));
    let mut text =
        serde_json::to_string_pretty(&schema).expect("internal: a JSON value can be written");
    text.push('\n');
    text
}

fn reference(mapping: &Mapping) -> Value {
    json!(format!("#/$defs/{}", mapping.name))
}

/// Adds the schemas of `mapping` and of every mapping that can stand in it.
fn collect(mapping: &'static Mapping, defs: &mut BTreeMap<String, Value>) {
    if defs.contains_key(mapping.name) {
        return;
    }
    defs.insert(mapping.name.to_owned(), definition(mapping));
    let mut shapes: Vec<Shape> = mapping.all().iter().map(|field| field.shape).collect();
    while let Some(shape) = shapes.pop() {
        match shape {
            Shape::Mapping(inner) | Shape::FigureOr(inner) => collect(inner, defs),
            Shape::Either(one, many) => shapes.extend([*one, *many]),
            Shape::List(inner, _) | Shape::OneOrMore(inner) | Shape::Keyed(_, inner, _) => {
                shapes.push(*inner);
            }
            _ => {}
        }
    }
}

fn definition(mapping: &'static Mapping) -> Value {
    let mut properties = Map::new();
    for field in mapping.all().into_iter().filter(usable) {
        properties.entry(field.key).or_insert_with(|| property(field));
    }
    let mut definition = Map::new();
    definition.insert("description".into(), json!(mapping.doc));
    definition.insert("type".into(), json!("object"));
    definition.insert("properties".into(), Value::Object(properties));
    definition
        .insert("additionalProperties".into(), mapping.rest.map_or(json!(false), shape_schema));
    definition.insert("required".into(), json!(required(mapping.fields.iter())));
    let rules = rules(&mapping.choice, mapping);
    if !rules.is_empty() {
        definition.insert("allOf".into(), json!(rules));
    }
    Value::Object(definition)
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the form that `filter` calls")]
fn usable(field: &&'static Field) -> bool {
    field.presence != Presence::Reserved
}

fn required(fields: impl Iterator<Item = &'static Field>) -> Vec<&'static str> {
    fields.filter(|field| field.presence == Presence::Required).map(|field| field.key).collect()
}

fn property(field: &Field) -> Value {
    let mut schema = shape_schema(field.shape);
    if let Value::Object(schema) = &mut schema {
        schema.insert("description".into(), json!(field.doc));
    }
    schema
}

/// The rules that a choice adds: which keys go together.
fn rules(choice: &'static Choice, mapping: &'static Mapping) -> Vec<Value> {
    match choice {
        Choice::None => Vec::new(),
        Choice::Key(by) => {
            let usable_cases: Vec<&Case> =
                by.cases.iter().filter(|case| any_usable(case)).collect();
            let one_of: Vec<Value> = usable_cases.iter().map(|case| picked(case)).collect();
            let mut rules = vec![json!({ "oneOf": one_of })];
            for case in usable_cases {
                rules.push(
                    json!({ "if": picked(case), "then": consequence(by.cases, case, mapping) }),
                );
            }
            rules
        }
        Choice::Word(by) => by
            .cases
            .iter()
            .map(|case| {
                // Where the key is absent, `properties` alone holds: that is the default.
                let mut given = json!({ "properties": { by.key: { "const": case.word } } });
                if by.default != Some(case.word)
                    && let Value::Object(given) = &mut given
                {
                    given.insert("required".into(), json!([by.key]));
                }
                json!({ "if": given, "then": consequence(by.cases, case, mapping) })
            })
            .collect(),
    }
}

fn any_usable(case: &Case) -> bool {
    case.lead.iter().any(|field| field.presence != Presence::Reserved)
}

/// Holds where one of the lead keys is there.
fn picked(case: &Case) -> Value {
    let leads: Vec<Value> = case.lead.iter().map(|f| json!({ "required": [f.key] })).collect();
    match leads.as_slice() {
        [one] => one.clone(),
        _ => json!({ "anyOf": leads }),
    }
}

/// What a case asks for and what it leaves no room for.
fn consequence(cases: &'static [Case], case: &'static Case, mapping: &'static Mapping) -> Value {
    let own: Vec<&'static Field> = case.all().into_iter().filter(usable).collect();
    let mut properties = Map::new();
    for field in cases.iter().flat_map(Case::all) {
        let here = own.iter().any(|f| f.key == field.key);
        if !here && !mapping.fields.iter().any(|f| f.key == field.key) {
            properties.insert(field.key.to_owned(), json!(false));
        }
    }
    // A key that the mapping has too is narrowed by the case (`by` of a hold).
    for field in &own {
        if mapping.fields.iter().any(|f| f.key == field.key) {
            properties.insert(field.key.to_owned(), shape_schema(field.shape));
        }
    }
    let mut then = Map::new();
    then.insert("required".into(), json!(required(case.own())));
    if !properties.is_empty() {
        then.insert("properties".into(), Value::Object(properties));
    }
    let inner = rules(&case.then, mapping);
    if !inner.is_empty() {
        then.insert("allOf".into(), json!(inner));
    }
    Value::Object(then)
}

fn shape_schema(shape: Shape) -> Value {
    let count = || json!({ "type": "integer", "minimum": 1, "maximum": COUNT_MAX });
    match shape {
        Shape::Anything => json!({}),
        Shape::Text(text) => text_schema(text),
        Shape::Word(words) => json!({ "enum": words }),
        Shape::Flag => json!({ "type": "boolean" }),
        Shape::Count => count(),
        Shape::CountOrFigure => json!({ "anyOf": [count(), text_schema(&texts::FIGURE_NAME)] }),
        Shape::FigureOr(mapping) => {
            json!({ "anyOf": [{ "$ref": reference(mapping) }, text_schema(&texts::FIGURE_NAME)] })
        }
        Shape::Either(one, many) => {
            json!({ "anyOf": [shape_schema(*one), shape_schema(*many)] })
        }
        Shape::Mapping(mapping) => json!({ "$ref": reference(mapping) }),
        Shape::List(item, least) => {
            json!({ "type": "array", "items": shape_schema(*item), "minItems": least })
        }
        Shape::OneOrMore(item) => {
            let item = shape_schema(*item);
            json!({ "anyOf": [item, { "type": "array", "items": item, "minItems": 1 }] })
        }
        Shape::Keyed(name, value, least) => json!({
            "type": "object",
            "propertyNames": { "pattern": name.pattern.unwrap_or(NOT_BLANK) },
            "additionalProperties": shape_schema(*value),
            "minProperties": least,
        }),
    }
}

const NOT_BLANK: &str = r"\S";

fn text_schema(text: &TextShape) -> Value {
    let pattern = text.pattern.unwrap_or(NOT_BLANK);
    if text.typed.is_empty() {
        return json!({ "type": "string", "pattern": pattern });
    }
    let types: Vec<&str> = std::iter::once("string").chain(text.typed.iter().copied()).collect();
    json!({ "type": types, "pattern": pattern })
}
