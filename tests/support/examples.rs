//! The examples of the document as requests that are known to be right, one after
//! another: to be sent as they are, or with something changed in them.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::client::{Call, encoded};
use super::{Answer, Client, Shops};

const FILE: &str = include_str!("../../openapi/examples.json");

/// An operation of the document.
pub struct Operation {
    pub method: String,
    pub path: String,
    pub keyed: bool,
    patched: bool,
    /// Of its body, where it has one.
    pub schema: Value,
    /// Names of what its query takes.
    pub parameters: Vec<String>,
}

/// What earlier steps told.
pub type Told = BTreeMap<String, String>;

/// The file, and the operations that it is about.
pub struct Examples {
    pub file: Value,
    pub operations: BTreeMap<String, Operation>,
    pub schemas: Value,
    pub told: Told,
}

/// A request that is ready to be sent.
pub struct Request<'a> {
    pub name: &'a str,
    pub operation: &'a Operation,
    pub client: Client,
    /// With its query.
    pub address: String,
    pub body: Option<Value>,
    tag: Option<String>,
}

fn operations(document: &Value) -> BTreeMap<String, Operation> {
    let mut found = BTreeMap::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let parameters = operation["parameters"].as_array().map_or(&[][..], Vec::as_slice);
            let content = operation["requestBody"]["content"].as_object();
            let first = content.and_then(|content| content.values().next());
            let of_query = parameters.iter().filter(|parameter| parameter["in"] == "query");
            let id = operation["operationId"].as_str().unwrap().to_owned();
            let made = Operation {
                method: method.to_uppercase(),
                path: path.clone(),
                keyed: parameters.iter().any(|parameter| parameter["name"] == "Idempotency-Key"),
                patched: method == "patch",
                schema: first.map_or(Value::Null, |body| body["schema"].clone()),
                parameters: of_query.map(|p| p["name"].as_str().unwrap().to_owned()).collect(),
            };
            found.insert(id, made);
        }
    }
    found
}

fn filled(value: &Value, told: &Told) -> Value {
    match value {
        Value::String(text) => Value::String(filled_text(text, told)),
        Value::Array(items) => items.iter().map(|item| filled(item, told)).collect(),
        Value::Object(fields) => {
            fields.iter().map(|(name, field)| (name.clone(), filled(field, told))).collect()
        }
        other => other.clone(),
    }
}

fn filled_text(text: &str, told: &Told) -> String {
    let mut text = text.to_owned();
    for (name, value) in told {
        text = text.replace(&format!("{{{{{name}}}}}"), value);
    }
    assert!(!text.contains("{{"), "no earlier step tells {text}");
    text
}

fn address(step: &Value, operation: &Operation, told: &Told) -> String {
    let part = |part: &str| {
        let Some(name) = part.strip_prefix('{').and_then(|p| p.strip_suffix('}')) else {
            return part.to_owned();
        };
        match step["path"].get(name) {
            Some(value) => filled_text(value.as_str().unwrap(), told),
            None => told.get(name).unwrap_or_else(|| panic!("no value for {name}: {step}")).clone(),
        }
    };
    let path: Vec<String> = operation.path.split('/').map(part).collect();
    let query: Vec<String> = step["query"]
        .as_object()
        .into_iter()
        .flatten()
        .map(|(name, value)| {
            format!("{name}={}", encoded(&filled_text(value.as_str().unwrap(), told)))
        })
        .collect();
    if query.is_empty() {
        path.join("/")
    } else {
        format!("{}?{}", path.join("/"), query.join("&"))
    }
}

impl Examples {
    pub fn of(shops: &Shops) -> Self {
        let document = shops.stranger().get("/openapi.json").expect(200).json();
        Self {
            file: serde_json::from_str(FILE).unwrap(),
            operations: operations(&document),
            schemas: document["components"]["schemas"].clone(),
            told: Told::from([("shop".to_owned(), shops.id("north").to_owned())]),
        }
    }

    pub fn steps(&self) -> &[Value] {
        self.file["steps"].as_array().unwrap()
    }

    /// The request of a step, with what the steps before it told.
    pub fn request<'a>(&'a self, shops: &Shops, step: &'a Value) -> Request<'a> {
        let name = step["operation"].as_str().unwrap();
        let operation = self.operations.get(name).unwrap_or_else(|| panic!("no operation {name}"));
        let client = match step["as"].as_str().unwrap() {
            "nobody" => shops.stranger(),
            role @ ("owner" | "administrator") => shops.person(&format!("{role}.riverside")),
            role => shops.person(&format!("{role}.north")),
        };
        let tag = step["on"].as_str().map(|thing| {
            let below = filled_text(thing, &self.told);
            let path = format!("/api/v1/shops/{}/{below}", self.told["shop"]);
            client.get(path.trim_end_matches('/')).expect(200).tag()
        });
        Request {
            name,
            operation,
            client,
            address: address(step, operation, &self.told),
            body: step.get("body").map(|body| filled(body, &self.told)),
            tag,
        }
    }

    /// Keeps what later steps take from the answer.
    pub fn keep(&mut self, step: &Value, answer: &Answer) {
        for (name, pointer) in step["capture"].as_object().into_iter().flatten() {
            let answer = answer.json();
            let value = answer.pointer(pointer.as_str().unwrap()).and_then(Value::as_str);
            let value = value.unwrap_or_else(|| panic!("no {pointer}: {answer}"));
            self.told.insert(name.clone(), value.to_owned());
        }
    }

    /// Plays the examples; before each one is sent, `meanwhile` may do something
    /// with it that changes nothing.
    pub fn play(&mut self, shops: &Shops, mut meanwhile: impl FnMut(&Self, &Request<'_>)) {
        for step in self.steps().to_vec() {
            let request = self.request(shops, &step);
            meanwhile(self, &request);
            let expected = u16::try_from(step["status"].as_u64().unwrap()).unwrap();
            let answer = request.send().expect(expected);
            self.keep(&step, &answer);
        }
    }
}

impl Request<'_> {
    pub fn send(&self) -> Answer {
        self.call(&self.address, self.body.as_ref()).send()
    }

    /// Whether its effect can be tried and taken back.
    pub fn takes_dry_run(&self) -> bool {
        self.operation.method != "GET" && self.operation.path.starts_with("/api/v1/shops")
    }

    /// Tries it with another body.
    pub fn rehearse(&self, body: &Value) -> Answer {
        let joined = if self.address.contains('?') { '&' } else { '?' };
        self.call(&format!("{}{joined}dry_run=true", self.address), Some(body)).send()
    }

    /// The request at another address, with another body.
    pub fn call(&self, address: &str, body: Option<&Value>) -> Call<'_> {
        let mut call = self.client.call(&self.operation.method, address);
        if let Some(body) = body {
            let media_type = if self.operation.patched {
                "application/merge-patch+json"
            } else {
                "application/json"
            };
            call = call.body(body.to_string(), media_type);
        }
        if let Some(tag) = &self.tag {
            call = call.if_match(tag);
        }
        if self.operation.keyed { call.new_key() } else { call }
    }
}

/// The kinds of a schema's value.
fn kinds(schema: &Value) -> Vec<&str> {
    match &schema["type"] {
        Value::String(kind) => vec![kind],
        Value::Array(several) => several.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    }
}

impl Examples {
    fn resolved<'a>(&'a self, schema: &'a Value) -> Vec<&'a Value> {
        if let Some(name) = schema["$ref"].as_str() {
            let name = name.rsplit('/').next().unwrap();
            return self.resolved(&self.schemas[name]);
        }
        let mut all = vec![schema];
        for several in ["oneOf", "anyOf", "allOf"] {
            let parts = schema[several].as_array().into_iter().flatten();
            all.extend(parts.flat_map(|part| self.resolved(part)));
        }
        all
    }

    /// Pointers into the body to every field of that kind, there or only possible;
    /// `formatted` are texts of a form of their own, such as days and ids.
    pub fn places(&self, request: &Request<'_>, kind: &str) -> Vec<String> {
        let mut found = Vec::new();
        if let Some(body) = &request.body {
            self.walk(&request.operation.schema, body, String::new(), kind, &mut found);
        }
        found.sort();
        found.dedup();
        found
    }

    fn walk(&self, schema: &Value, body: &Value, at: String, kind: &str, found: &mut Vec<String>) {
        for schema in self.resolved(schema) {
            let (listed, formed) = (schema.get("enum").is_some(), schema.get("format").is_some());
            let fits = match kind {
                "string" => kinds(schema).contains(&"string") && !listed && !formed,
                "formatted" => kinds(schema).contains(&"string") && formed,
                other => kinds(schema).contains(&other),
            };
            if fits && !at.is_empty() {
                found.push(at.clone());
            }
            for (name, property) in schema["properties"].as_object().into_iter().flatten() {
                if body.is_object() {
                    let below = body.get(name).unwrap_or(&Value::Null);
                    self.walk(property, below, format!("{at}/{name}"), kind, found);
                }
            }
            if let (Some(items), Some(first)) = (schema.get("items"), body.get(0)) {
                self.walk(items, first, format!("{at}/0"), kind, found);
            }
        }
    }
}

/// The body with another value there.
pub fn with(body: &Value, pointer: &str, value: Value) -> Value {
    let mut body = body.clone();
    let (above, name) = pointer.rsplit_once('/').unwrap();
    match body.pointer_mut(above) {
        Some(Value::Object(fields)) => {
            fields.insert(name.to_owned(), value);
        }
        Some(Value::Array(items)) => items[name.parse::<usize>().unwrap()] = value,
        _ => panic!("nothing is at {above}: {body}"),
    }
    body
}

/// Whether a text is the whole of some field of the answer.
pub fn holds(answer: &Value, text: &str) -> bool {
    match answer {
        Value::Object(fields) => fields.values().any(|value| holds(value, text)),
        Value::Array(items) => items.iter().any(|item| holds(item, text)),
        other => other == text,
    }
}

/// What would shut out whoever looks at the record afterwards.
const NOT_PLAYED: [&str; 2] = ["signOut", "changeOwnPassword"];

fn is_played(name: &str) -> bool {
    let ends_a_session = name.starts_with("end") && name.contains("Session");
    !(ends_a_session || NOT_PLAYED.contains(&name))
}

/// Fields whose text opens doors, or is what later steps go by.
const LEFT_ALONE: [&str; 5] = ["sign_in_name", "password", "pin", "zone", "currency"];

impl Examples {
    /// Plays the examples with as many of their texts as are taken changed to what
    /// `next` says; tells which field got which.
    pub fn poison(
        &mut self,
        shops: &Shops,
        mut next: impl FnMut() -> String,
    ) -> Vec<(String, String)> {
        let mut poisoned = Vec::new();
        for step in self.steps().to_vec() {
            let request = self.request(shops, &step);
            if !is_played(request.name) {
                continue;
            }
            let expected = u16::try_from(step["status"].as_u64().unwrap()).unwrap();
            let mut body = request.body.clone();
            if let Some(body) = body.as_mut().filter(|_| request.takes_dry_run()) {
                for at in self.places(&request, "string") {
                    if LEFT_ALONE.iter().any(|name| at.ends_with(name)) {
                        continue;
                    }
                    // One may be too long for the field where the next is not.
                    for text in [next(), next()] {
                        let tried = with(body, &at, json!(text));
                        if matches!(request.rehearse(&tried).status, 200 | 201 | 204) {
                            *body = tried;
                            poisoned.push((format!("{}{at}", request.name), text));
                            break;
                        }
                    }
                }
            }
            let answer = request.call(&request.address, body.as_ref()).send().expect(expected);
            self.keep(&step, &answer);
        }
        poisoned
    }
}
