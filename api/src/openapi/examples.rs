//! The examples that tests run, one step after another.

use std::sync::OnceLock;

use serde::Deserialize;
use serde_json::{Map, Value};

/// A request that is sent and what it answers. What stands in `{{ }}` was told
/// by an earlier step.
#[derive(Debug, Deserialize)]
pub struct Step {
    operation: String,
    #[serde(rename = "as")]
    pub role: String,
    #[serde(default)]
    pub path: Map<String, Value>,
    #[serde(default)]
    pub query: Map<String, Value>,
    pub body: Option<Value>,
    /// The address whose version the request is made on.
    pub on: Option<String>,
    pub status: u16,
    pub answer: Option<Value>,
}

#[derive(Deserialize)]
struct Examples {
    steps: Vec<Step>,
}

fn all() -> &'static [Step] {
    static STEPS: OnceLock<Vec<Step>> = OnceLock::new();
    STEPS.get_or_init(|| {
        let text = include_str!("../../../openapi/examples.json");
        serde_json::from_str::<Examples>(text).map_or_else(|_| Vec::new(), |all| all.steps)
    })
}

/// The first step with an operation.
#[must_use]
pub fn first(operation: &str) -> Option<&'static Step> {
    all().iter().find(|step| step.operation == operation)
}

/// The day that stands for `{{day}}`.
pub const DAY: &str = "2026-11-27";

/// A value with a day or an id in place of each that an earlier step told.
#[must_use]
pub fn with_ids(value: &Value) -> Value {
    match value {
        Value::String(text) if text == "{{day}}" => Value::String(DAY.to_owned()),
        Value::String(text) if text.starts_with("{{") => {
            Value::String("0198f3c2-5a1e-7c40-8b1d-2f6f0a9c4e11".to_owned())
        }
        Value::Array(items) => items.iter().map(with_ids).collect(),
        Value::Object(fields) => {
            fields.iter().map(|(name, field)| (name.clone(), with_ids(field))).collect()
        }
        other => other.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_examples_can_be_read() {
        assert!(all().len() > 40);
        assert!(first("openOrder").is_some_and(|step| step.body.is_some()));
    }
}
