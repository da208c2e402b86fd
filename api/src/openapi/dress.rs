//! What every operation has without saying so itself: a dry run, other formats
//! of lists, tags, problems, the way from what was made to what can be done
//! with it.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use crate::openapi::examples::{self, Step};
use crate::problem::Kind;
use crate::routes::{self, Access, Route};

/// Operations that slow guessing down.
const SLOWED: [&str; 3] = ["/api/v1/sessions", "/api/v1/me/password", "/api/v1/me/pin"];
/// Parts of an address that are ids.
const IDS: [&str; 6] = ["shop", "order", "job", "vehicle", "comeback", "person"];

/// An operation with where it stands.
struct Place<'a> {
    route: &'a Route,
    is_list: bool,
    is_report: bool,
    has_body: bool,
    has_query: bool,
    matches_version: bool,
}

/// Adds to the document what its operations share.
pub fn dress(document: &mut Value) {
    refer_to_items(document);
    if let Some(components) = document.get_mut("components").and_then(Value::as_object_mut) {
        components.insert("parameters".to_owned(), parameters());
        components.insert("responses".to_owned(), responses());
        components.insert("headers".to_owned(), headers());
    }
    let links = links(document);
    let lists = lists(document);
    let Some(paths) = document.get_mut("paths").and_then(Value::as_object_mut) else { return };
    for (path, item) in paths {
        for (method, operation) in item.as_object_mut().into_iter().flatten() {
            let method = method.to_uppercase();
            let found = routes::TABLE.iter().find(|r| r.path == path && r.method == method);
            if let (Some(route), Some(operation)) = (found, operation.as_object_mut()) {
                one(route, operation, &links, &lists);
            }
        }
    }
    if let Some(tags) = document.get_mut("tags").and_then(Value::as_array_mut) {
        tags.sort_by(|a, b| name_of(a).cmp(name_of(b)));
    }
}

fn name_of(value: &Value) -> &str {
    value.get("name").and_then(Value::as_str).unwrap_or_default()
}

/// A page's items are the type itself, not a copy of it.
fn refer_to_items(document: &mut Value) {
    let Some(schemas) = document.pointer_mut("/components/schemas").and_then(Value::as_object_mut)
    else {
        return;
    };
    let names: Vec<String> = schemas.keys().cloned().collect();
    for (name, schema) in schemas.iter_mut() {
        let item = name.strip_prefix("Page_").filter(|item| names.iter().any(|n| n == item));
        if let (Some(item), Some(items)) = (item, schema.pointer_mut("/properties/items/items")) {
            *items = json!({ "$ref": format!("#/components/schemas/{item}") });
        }
    }
}

fn parameters() -> Value {
    json!({
        "DryRun": {
            "name": "dry_run", "in": "query", "required": false,
            "description": "Check everything, keep nothing: the answer is that of the write, with status 200 in place of 201.",
            "schema": { "type": "boolean", "default": false },
        },
        "Format": {
            "name": "format", "in": "query", "required": false,
            "description": "The format of the answer, in place of Accept.",
            "schema": { "type": "string", "enum": ["json", "csv", "ndjson"] },
        },
        "Spreadsheet": {
            "name": "spreadsheet", "in": "query", "required": false,
            "description": "In CSV, put an apostrophe before what a spreadsheet would take for a formula.",
            "schema": { "type": "boolean", "default": false },
        },
        "IfNoneMatch": {
            "name": "If-None-Match", "in": "header", "required": false,
            "description": "The ETag of the answer you have: 304 where it is still that.",
            "schema": { "type": "string" },
        },
    })
}

fn headers() -> Value {
    let text =
        |description: &str| json!({ "description": description, "schema": { "type": "string" } });
    json!({
        "ETag": text("The version and what the answer's body is."),
        "Location": text("The address of what was made."),
        "Link": text("The address of the next page, with rel=\"next\" (RFC 8288)."),
        "WWW-Authenticate": text("Bearer: send a token."),
        "Retry-After": { "description": "Seconds to wait.", "schema": { "type": "integer", "minimum": 1 } },
    })
}

/// A problem answer for every status that a problem has.
fn responses() -> Value {
    let mut all = Map::new();
    // No operation answers a wrong method, and none means to break.
    for kind in Kind::ALL.iter().filter(|kind| ![405, 500].contains(&kind.status)) {
        let titles: Vec<&str> =
            Kind::ALL.iter().filter(|k| k.status == kind.status).map(|k| k.title).collect();
        let mut response = json!({
            "description": titles.join("; "),
            "content": { "application/problem+json": { "schema": { "$ref": "#/components/schemas/Problem" } } },
        });
        let header = match kind.status {
            401 => Some("WWW-Authenticate"),
            429 | 503 | 507 => Some("Retry-After"),
            _ => None,
        };
        if let (Some(name), Some(response)) = (header, response.as_object_mut()) {
            response.insert("headers".to_owned(), header_refs(&[name]));
        }
        all.insert(format!("Problem{}", kind.status), response);
    }
    Value::Object(all)
}

fn header_refs(names: &[&str]) -> Value {
    let one = |name: &&str| {
        ((*name).to_owned(), json!({ "$ref": format!("#/components/headers/{name}") }))
    };
    Value::Object(names.iter().map(one).collect())
}

/// The types that are lists: they have `items`.
pub fn lists(document: &Value) -> BTreeSet<String> {
    let schemas = document.pointer("/components/schemas").and_then(Value::as_object);
    schemas
        .into_iter()
        .flatten()
        .filter(|(_, schema)| schema.pointer("/properties/items/items").is_some())
        .map(|(name, _)| name.clone())
        .collect()
}

fn one(route: &Route, operation: &mut Map<String, Value>, links: &Links, lists: &BTreeSet<String>) {
    let parameters = operation.get("parameters").and_then(Value::as_array);
    let has = |what: &str, value: &str| {
        parameters.is_some_and(|all| {
            all.iter().any(|p| p.get(what).and_then(Value::as_str) == Some(value))
        })
    };
    let place = Place {
        route,
        is_list: route.method == "GET" && list_of(operation, lists).is_some(),
        is_report: route.method == "GET" && route.path.contains("/reports/"),
        has_body: operation.contains_key("requestBody"),
        has_query: has("in", "query"),
        matches_version: has("name", "If-Match"),
    };
    let has_format = has("name", "format");
    add_parameters(&place, has_format, operation);
    let id = operation.get("operationId").and_then(Value::as_str).unwrap_or_default();
    let example = examples::first(id);
    if let (Some(body), Some(content)) =
        (example.and_then(|step| step.body.as_ref()), content_of(operation.get_mut("requestBody")))
    {
        content.insert("example".to_owned(), examples::with_ids(body));
    }
    let made = links.get(&format!("{} {}", route.method, route.path)).cloned();
    let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) else {
        return;
    };
    responses.remove("4XX");
    responses.remove("5XX");
    good(&place, responses, made);
    if let Some(step) = example {
        show_answer(step, responses);
    }
    for status in refusals(&place) {
        let reference = json!({ "$ref": format!("#/components/responses/Problem{status}") });
        responses.entry(status.to_string()).or_insert(reference);
    }
    let mut sorted: Vec<(String, Value)> = std::mem::take(responses).into_iter().collect();
    sorted.sort_by(|a, b| a.0.cmp(&b.0));
    responses.extend(sorted);
}

/// The JSON form of a body or an answer.
fn content_of(holder: Option<&mut Value>) -> Option<&mut Map<String, Value>> {
    let content = holder?.get_mut("content")?.as_object_mut()?;
    content.values_mut().next()?.as_object_mut()
}

fn show_answer(step: &Step, responses: &mut Map<String, Value>) {
    let content = content_of(responses.get_mut(&step.status.to_string()));
    if let (Some(content), Some(answer)) = (content, &step.answer) {
        content.insert("example".to_owned(), answer.clone());
    }
}

/// The name of the list type that a GET answers.
pub fn list_of<'a>(operation: &'a Map<String, Value>, lists: &BTreeSet<String>) -> Option<&'a str> {
    let content = operation.get("responses")?.get("200")?.get("content")?;
    let reference = content.get("application/json")?.get("schema")?.get("$ref")?.as_str()?;
    let name = reference.rsplit('/').next()?;
    lists.contains(name).then_some(name)
}

fn add_parameters(place: &Place<'_>, has_format: bool, operation: &mut Map<String, Value>) {
    let mut names = Vec::new();
    if place.route.takes_dry_run() {
        names.push("DryRun");
    }
    if (place.is_list || place.is_report) && !has_format {
        names.push("Format");
    }
    if place.is_list || place.is_report {
        names.push("Spreadsheet");
    }
    if place.route.method == "GET" {
        names.push("IfNoneMatch");
    }
    let all = operation.entry("parameters").or_insert_with(|| json!([]));
    let Some(all) = all.as_array_mut() else { return };
    for parameter in all.iter_mut() {
        known_parts(parameter);
    }
    all.extend(names.iter().map(|n| json!({ "$ref": format!("#/components/parameters/{n}") })));
    if all.is_empty() {
        operation.remove("parameters");
    }
}

fn known_parts(parameter: &mut Value) {
    let name = name_of(parameter).to_owned();
    let in_path = parameter.get("in").and_then(Value::as_str) == Some("path");
    if in_path && IDS.contains(&name.as_str()) {
        if let Some(schema) = parameter.get_mut("schema").and_then(Value::as_object_mut) {
            schema.insert("format".to_owned(), json!("uuid"));
        }
    } else if name == "Idempotency-Key"
        && let Some(schema) = parameter.get_mut("schema").and_then(Value::as_object_mut)
    {
        schema.insert("minLength".to_owned(), json!(1));
        schema.insert("maxLength".to_owned(), json!(255));
    } else if name == "If-Match"
        && let Some(parameter) = parameter.as_object_mut()
    {
        parameter.insert(
            "description".to_owned(),
            json!("The ETag you read. Exactly one: `*` and lists are refused with 412."),
        );
    }
}

/// Headers, formats and the dry run of what succeeds.
fn good(place: &Place<'_>, responses: &mut Map<String, Value>, links: Option<Value>) {
    if place.route.method == "GET" {
        if let Some(answer) = responses.get_mut("200").and_then(Value::as_object_mut) {
            let names: &[&str] = if place.is_list { &["ETag", "Link"] } else { &["ETag"] };
            answer.insert("headers".to_owned(), header_refs(names));
            let content = answer.get_mut("content").and_then(Value::as_object_mut);
            if let (true, Some(content)) = (place.is_list, content) {
                for media_type in ["text/csv", "application/x-ndjson"] {
                    content
                        .insert(media_type.to_owned(), json!({ "schema": { "type": "string" } }));
                }
            }
        }
        responses.insert("304".to_owned(), json!({ "description": "It is still what you have" }));
        return;
    }
    let Some(made) = responses.get_mut("201").and_then(Value::as_object_mut) else { return };
    if place.route.takes_dry_run() {
        let tried = json!({
            "description": "Dry run: what would be made; nothing is kept",
            "content": made.get("content").cloned().unwrap_or_default(),
        });
        made.insert("headers".to_owned(), header_refs(&["Location", "ETag"]));
        if let Some(links) = links {
            made.insert("links".to_owned(), links);
        }
        responses.entry("200").or_insert(tried);
    }
}

/// The statuses that a refusal may have.
fn refusals(place: &Place<'_>) -> Vec<u16> {
    let writes = place.route.method != "GET";
    let known = place.route.access != Access::Public;
    let takes_more = place.has_query || place.route.takes_dry_run();
    let may_be = [
        (400, place.has_body || writes),
        (401, true),
        (403, known && (writes || matches!(place.route.access, Access::May(_)))),
        (404, place.route.path.contains('{')),
        (406, place.is_list || place.is_report),
        (408, place.has_body),
        (409, known && writes),
        (412, place.matches_version),
        (413, place.has_body),
        (415, place.has_body),
        (422, place.has_body || takes_more || place.is_list),
        (428, place.matches_version),
        (429, SLOWED.contains(&place.route.path) && writes),
        (503, true),
        (507, known && writes),
    ];
    may_be.into_iter().filter_map(|(status, applies)| applies.then_some(status)).collect()
}

type Links = BTreeMap<String, Value>;

/// From what a POST makes to every operation at its address.
fn links(document: &Value) -> Links {
    let mut found = Links::new();
    let Some(paths) = document.get("paths").and_then(Value::as_object) else { return found };
    for (path, item) in paths.iter().filter(|(_, item)| item.get("post").is_some()) {
        let mut of_path = Map::new();
        for (other, operations) in paths {
            let Some(part) = part_below(path, other) else { continue };
            for operation in operations.as_object().into_iter().flat_map(Map::values) {
                let Some(id) = operation.get("operationId").and_then(Value::as_str) else {
                    continue;
                };
                of_path.insert(id.to_owned(), link(id, other, part));
            }
        }
        if !of_path.is_empty() && item.pointer("/post/responses/201").is_some() {
            found.insert(format!("POST {path}"), Value::Object(of_path));
        }
    }
    found
}

/// The one part by which an address is longer. A job is made on its order and
/// has an address of its own.
fn part_below<'a>(path: &str, other: &'a str) -> Option<&'a str> {
    if path.ends_with("/orders/{order}/jobs") && other.ends_with("/{shop}/jobs/{job}") {
        return Some("job");
    }
    let rest = other.strip_prefix(path)?.strip_prefix("/{")?.strip_suffix('}')?;
    (!rest.contains('/')).then_some(rest)
}

fn link(operation: &str, path: &str, made: &str) -> Value {
    let parts = path.split('/').filter_map(|p| p.strip_prefix('{')?.strip_suffix('}'));
    let parameters: Map<String, Value> = parts
        .map(|part| {
            let from = if part == made {
                "$response.body#/id".to_owned()
            } else {
                format!("$request.path.{part}")
            };
            (part.to_owned(), Value::String(from))
        })
        .collect();
    json!({ "operationId": operation, "parameters": parameters })
}
