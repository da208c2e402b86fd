//! What differs between a record before and after.

use serde_json::Value;

fn field<'a>(record: Option<&'a Value>, name: &str) -> &'a Value {
    record.and_then(|record| record.get(name)).unwrap_or(&Value::Null)
}

/// The names of the fields whose values differ, in the order of the record
/// after, then of the one before. What is absent is null.
#[must_use]
pub fn changed(before: Option<&Value>, after: Option<&Value>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for record in [after, before].into_iter().flatten() {
        for name in record.as_object().into_iter().flat_map(|fields| fields.keys()) {
            if field(before, name) != field(after, name) && !names.contains(name) {
                names.push(name.clone());
            }
        }
    }
    names
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn fields_that_differ_are_named_once() {
        let before = json!({ "label": "old", "system": "engine", "kind": null, "gone": 1 });
        let after = json!({ "label": "new", "system": "engine", "minutes": 5, "kind": null });
        assert_eq!(changed(Some(&before), Some(&after)), ["label", "minutes", "gone"]);
        assert_eq!(changed(Some(&before), Some(&before)), Vec::<String>::new());
    }

    #[test]
    fn what_is_new_or_gone_differs_where_it_holds_something() {
        let record = json!({ "label": "new", "kind": null });
        assert_eq!(changed(None, Some(&record)), ["label"]);
        assert_eq!(changed(Some(&record), None), ["label"]);
        assert_eq!(changed(None, None), Vec::<String>::new());
    }
}
