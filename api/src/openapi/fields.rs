//! The fields of the document's types: for the columns of lists, and for the
//! reference.

use serde_json::{Map, Value};

/// What a reference points to; other values as they are.
#[must_use]
pub fn resolved<'a>(document: &'a Value, value: &'a Value) -> &'a Value {
    value
        .get("$ref")
        .and_then(Value::as_str)
        .and_then(|reference| document.pointer(reference.strip_prefix('#')?))
        .unwrap_or(value)
}

/// The fields of an object type in their order, with whether each is required.
/// Types that are put together from others have the fields of all.
#[must_use]
pub fn of<'a>(document: &'a Value, schema: &'a Value) -> Vec<(&'a str, &'a Value, bool)> {
    let schema = resolved(document, schema);
    let mut fields = Vec::new();
    for part in schema.get("allOf").and_then(Value::as_array).into_iter().flatten() {
        fields.extend(of(document, part));
    }
    let required: Vec<&str> = schema
        .get("required")
        .and_then(Value::as_array)
        .map(|names| names.iter().filter_map(Value::as_str).collect())
        .unwrap_or_default();
    let own = schema.get("properties").and_then(Value::as_object).into_iter().flat_map(Map::iter);
    fields
        .extend(own.map(|(name, field)| (name.as_str(), field, required.contains(&name.as_str()))));
    fields
}
