//! The examples that tests run, as a command and what comes back.

use serde_json::Value;

use crate::openapi::examples::{self, Step};

/// An example for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Example {
    pub command: String,
    pub status: u16,
    pub answer: Option<String>,
}

/// The first example of an operation.
#[must_use]
pub fn of(operation: &str, method: &str, path: &str, keyed: bool) -> Option<Example> {
    let step = examples::first(operation)?;
    Some(Example {
        command: command(step, method, path, keyed),
        status: step.status,
        answer: step.answer.as_ref().map(pretty),
    })
}

fn pretty(value: &Value) -> String {
    serde_json::to_string_pretty(value).unwrap_or_default()
}

fn command(step: &Step, method: &str, path: &str, keyed: bool) -> String {
    let mut address = path.to_owned();
    for (part, value) in &step.path {
        let value = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        address = address.replace(&format!("{{{part}}}"), &value);
    }
    // What the step does not say stands under its own name.
    address = shown(&address).replace('{', "<").replace('}', ">");
    if !step.query.is_empty() {
        let query = serde_urlencoded::to_string(&step.query).unwrap_or_default();
        address = format!("{address}?{query}");
    }
    let mut lines = vec![match method {
        "GET" => format!("curl \"$SERVER{address}\""),
        other => format!("curl -X {other} \"$SERVER{address}\""),
    }];
    if step.role != "nobody" {
        lines.push("-H \"Authorization: Bearer $TOKEN\"".to_owned());
    }
    if keyed {
        lines.push("-H \"Idempotency-Key: $(uuidgen)\"".to_owned());
    }
    if step.on.is_some() {
        lines.push("-H 'If-Match: \"<the ETag you read>\"'".to_owned());
    }
    if let Some(body) = &step.body {
        let media_type =
            if method == "PATCH" { "application/merge-patch+json" } else { "application/json" };
        lines.push(format!("-H \"Content-Type: {media_type}\""));
        lines.push(format!("-d '{}'", shown(&pretty(body)).replace('\'', "'\\''")));
    }
    lines.join(" \\\n  ")
}

/// Told values as `<name>`.
fn shown(text: &str) -> String {
    text.replace("{{", "<").replace("}}", ">")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_names_what_it_needs() {
        let told = of("readOrder", "GET", "/api/v1/shops/{shop}/orders/{order}", false);
        let command = told.map(|example| example.command).unwrap_or_default();
        assert!(command.contains("$SERVER/api/v1/shops/<shop>/orders/<order>"), "{command}");
    }
}
