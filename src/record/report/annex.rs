//! The whole record, field by field. Made of the record's own tree, so that no field can be missing,
//! those of later versions neither.

use serde::Serialize;
use serde_json::Value;

/// One object or list of the record, with its plain fields.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Line {
    /// Where it stands, such as `steps[3].limit`; empty for the record itself.
    pub(super) path: String,
    /// Its fields that hold no others, with their values.
    pub(super) fields: Vec<(String, String)>,
}

/// A line for everything that holds plain fields, in the order of the record.
pub(super) fn lines(record: &Value) -> Vec<Line> {
    let mut lines = Vec::new();
    walk(record, "", &mut lines);
    lines
}

fn walk(value: &Value, path: &str, lines: &mut Vec<Line>) {
    let children: Vec<(String, &Value)> = match value {
        Value::Object(fields) => fields.iter().map(|(key, inner)| (key.clone(), inner)).collect(),
        Value::Array(items) => {
            items.iter().enumerate().map(|(n, inner)| (format!("[{n}]"), inner)).collect()
        }
        _ => return,
    };
    let fields: Vec<(String, String)> =
        children.iter().filter_map(|(key, inner)| Some((key.clone(), plain(inner)?))).collect();
    if !fields.is_empty() {
        lines.push(Line { path: path.to_owned(), fields });
    }
    for (key, inner) in children {
        let is_below = key.starts_with('[') || path.is_empty();
        let below = if is_below { format!("{path}{key}") } else { format!("{path}.{key}") };
        walk(inner, &below, lines);
    }
}

/// The value of a field that holds no others; what is empty is said to be.
fn plain(value: &Value) -> Option<String> {
    match value {
        Value::Object(fields) => fields.is_empty().then(|| "none".to_owned()),
        Value::Array(items) => items.is_empty().then(|| "none".to_owned()),
        Value::String(text) => Some(text.clone()),
        other => Some(other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn re1_every_leaf_stands_on_a_line_of_its_object() {
        let record = json!({"a": 1, "b": {"c": [], "d": [{"e": "x"}, "y"]}});
        let text: Vec<String> =
            lines(&record).iter().map(|line| format!("{} {:?}", line.path, line.fields)).collect();
        let wanted = [
            r#" [("a", "1")]"#,
            r#"b [("c", "none")]"#,
            r#"b.d [("[1]", "y")]"#,
            r#"b.d[0] [("e", "x")]"#,
        ];
        assert_eq!(text, wanted);
    }
}
