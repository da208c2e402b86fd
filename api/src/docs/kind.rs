//! What a field holds, in words.

use serde_json::Value;

use crate::openapi::fields::resolved;

/// The name of the object type that a field holds or lists, for a way there.
#[must_use]
pub fn named<'a>(document: &'a Value, schema: &'a Value) -> Option<&'a str> {
    let one = |schema: &'a Value| {
        let reference = schema.get("$ref")?.as_str()?;
        let is_object = {
            let target = resolved(document, schema);
            target.get("properties").is_some() || target.get("allOf").is_some()
        };
        is_object.then(|| reference.rsplit('/').next())?
    };
    let listed = schema.get("items").and_then(one);
    let chosen =
        || ["oneOf", "anyOf"].iter().find_map(|k| schema.get(*k)?.as_array()?.iter().find_map(one));
    one(schema).or(listed).or_else(chosen)
}

/// Whether the field is a list of what it names.
#[must_use]
pub fn is_list(schema: &Value) -> bool {
    schema.get("items").is_some()
}

/// The words.
#[must_use]
pub fn words(document: &Value, schema: &Value) -> String {
    let target = resolved(document, schema);
    for choice in ["oneOf", "anyOf"] {
        if let Some(parts) = target.get(choice).and_then(Value::as_array) {
            let all: Vec<String> = parts.iter().map(|part| words(document, part)).collect();
            return all.join(" or ");
        }
    }
    if let Some(values) = target.get("enum").and_then(Value::as_array) {
        let values: Vec<&str> = values.iter().filter_map(Value::as_str).collect();
        return with_null(target, format!("one of: {}", values.join(", ")));
    }
    if let Some(items) = target.get("items") {
        return with_null(target, format!("list of {}", words(document, items)));
    }
    if target.get("properties").is_some() || target.get("allOf").is_some() {
        return "object".to_owned();
    }
    let format = target.get("format").and_then(Value::as_str).unwrap_or_default();
    let word = match (first_type(target), format) {
        ("string", "uuid") => "id",
        ("string", "date-time") => "time",
        ("string", "date") => "day",
        ("string", _) => "text",
        ("integer", _) => "whole number",
        ("number", _) => "number",
        ("boolean", _) => "true or false",
        ("object", _) => "object",
        ("null", _) => "null",
        _ => "any value",
    };
    with_null(target, format!("{word}{}", range(target)))
}

fn types(schema: &Value) -> Vec<&str> {
    match schema.get("type") {
        Some(Value::String(one)) => vec![one],
        Some(Value::Array(all)) => all.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    }
}

fn first_type(schema: &Value) -> &str {
    let all = types(schema);
    all.iter().find(|t| **t != "null").or(all.first()).copied().unwrap_or_default()
}

fn with_null(schema: &Value, words: String) -> String {
    let all = types(schema);
    if all.len() > 1 && all.contains(&"null") { format!("{words}, or null") } else { words }
}

fn range(schema: &Value) -> String {
    let number = |key: &str| schema.get(key).filter(|value| value.is_number());
    match (number("minimum"), number("maximum")) {
        (Some(low), Some(high)) => format!(", {low} to {high}"),
        (Some(low), None) => format!(", {low} or more"),
        (None, Some(high)) => format!(", {high} at most"),
        (None, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn kinds_are_said_in_words() {
        let document = json!({ "components": { "schemas": {
            "Line": { "type": "object", "properties": { "id": { "type": "string" } } },
            "Word": { "type": "string", "enum": ["one", "two"] },
        } } });
        let reference = |name: &str| json!({ "$ref": format!("#/components/schemas/{name}") });
        for (schema, said) in [
            (json!({ "type": "string", "format": "uuid" }), "id"),
            (json!({ "type": ["string", "null"] }), "text, or null"),
            (json!({ "type": "integer", "minimum": 0, "maximum": 9 }), "whole number, 0 to 9"),
            (json!({ "type": "array", "items": reference("Line") }), "list of object"),
            (
                json!({ "oneOf": [{ "type": "null" }, reference("Word")] }),
                "null or one of: one, two",
            ),
        ] {
            assert_eq!(words(&document, &schema), said);
        }
        let list = json!({ "type": "array", "items": reference("Line") });
        assert_eq!(named(&document, &list), Some("Line"));
        assert_eq!(named(&document, &reference("Word")), None);
    }
}
