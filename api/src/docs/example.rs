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
        let pairs: Vec<String> = step.query.iter().map(|(name, value)| pair(name, value)).collect();
        address = format!("{address}?{}", pairs.join("&"));
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

/// One part of a query: a told value under its name, any other encoded.
fn pair(name: &str, value: &Value) -> String {
    let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    if text.contains("{{") {
        return format!("{name}={}", shown(&text));
    }
    serde_urlencoded::to_string([(name, text)]).unwrap_or_default()
}

/// The day as a day, other told values as `<name>`.
fn shown(text: &str) -> String {
    text.replace("{{day}}", examples::DAY).replace("{{", "<").replace("}}", ">")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_names_what_it_needs() {
        let told = of("readOrder", "GET", "/api/v1/shops/{shop}/orders/{order}", false);
        let command = told.map(|example| example.command).unwrap_or_default();
        assert!(command.contains("$SERVER/api/v1/shops/<shop>/orders/<order>"), "{command}");
        for (operation, path, query) in [
            ("reportWeekly", "/reports/weekly", "?as_of=2026-11-27"),
            ("listAudit", "/audit", "?order_id=<order>"),
        ] {
            let told = of(operation, "GET", path, false);
            let command = told.map(|example| example.command).unwrap_or_default();
            assert!(command.contains(&format!("$SERVER{path}{query}")), "{command}");
        }
    }
}
