//! The JSON Schema of what is written in canonical form, made of the very types that write it.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

/// The schema of `T`, as the text of a `schemas/*.schema.json`.
///
/// What is not there is left out in canonical form, so nothing may be `null`.
pub fn schema_of<T: JsonSchema>(title: &str) -> String {
    let generator = SchemaSettings::draft2020_12().into_generator();
    let mut schema = generator.into_root_schema_for::<T>().to_value();
    without_null(&mut schema);
    if let Value::Object(schema) = &mut schema {
        schema.insert("title".to_owned(), json!(title));
    }
    let text = serde_json::to_string_pretty(&schema);
    text.expect("internal: a JSON value can be written") + "\n"
}

/// Takes the `null` of optional fields away, and with it their default.
fn without_null(schema: &mut Value) {
    match schema {
        Value::Array(items) => items.iter_mut().for_each(without_null),
        Value::Object(fields) => {
            if fields.get("default").is_some_and(Value::is_null) {
                fields.remove("default");
            }
            if let Some(Value::Array(kinds)) = fields.get_mut("type") {
                kinds.retain(|kind| kind != "null");
                if let [only] = kinds.as_slice() {
                    let only = only.clone();
                    fields.insert("type".to_owned(), only);
                }
            }
            if let Some(Value::Array(ways)) = fields.get_mut("anyOf") {
                ways.retain(|way| *way != json!({"type": "null"}));
            }
            fields.values_mut().for_each(without_null);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}
