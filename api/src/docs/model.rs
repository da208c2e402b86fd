//! The document as the reference shows it.

use serde_json::{Map, Value};

use super::example::{self, Example};
use super::kind;
use crate::domain::role::Role;
use crate::openapi::fields;
use crate::routes::{self, Access, Route};

/// A stretch of text, set as code or not.
pub struct Piece {
    pub is_code: bool,
    pub text: String,
}

/// Text with its code.
pub type Prose = Vec<Piece>;

pub struct Reference {
    pub about: Vec<Prose>,
    pub tags: Vec<Tag>,
    pub types: Vec<Type>,
}

pub struct Tag {
    pub name: String,
    pub text: String,
    pub operations: Vec<Operation>,
}

pub struct Operation {
    pub id: String,
    pub method: String,
    pub path: String,
    pub text: Prose,
    pub who: String,
    pub parameters: Vec<Parameter>,
    pub body: Option<Body>,
    pub answers: Vec<Told>,
    pub problems: Vec<Told>,
    pub example: Option<Example>,
}

pub struct Parameter {
    pub name: String,
    pub place: String,
    pub kind: String,
    pub required: bool,
    pub text: Prose,
}

pub struct Body {
    pub media_types: String,
    pub type_name: Option<String>,
    pub fields: Vec<Field>,
}

pub struct Field {
    pub name: String,
    pub kind: String,
    pub type_name: Option<String>,
    pub required: bool,
    pub text: Prose,
}

pub struct Told {
    pub status: String,
    pub text: String,
    pub media_types: String,
    pub type_name: Option<String>,
}

pub struct Type {
    pub name: String,
    pub text: Prose,
    /// Empty for a word of a list.
    pub fields: Vec<Field>,
}

/// Reads the document.
#[must_use]
pub fn read(document: &Value) -> Reference {
    let tags = document.get("tags").and_then(Value::as_array).into_iter().flatten();
    Reference {
        about: text(document.get("info"), "description").split("\n\n").map(prose).collect(),
        tags: tags
            .map(|tag| Tag {
                name: text(Some(tag), "name").to_owned(),
                text: text(Some(tag), "description").to_owned(),
                operations: operations(document, text(Some(tag), "name")),
            })
            .filter(|tag| !tag.operations.is_empty())
            .collect(),
        types: types(document),
    }
}

fn text<'a>(value: Option<&'a Value>, key: &str) -> &'a str {
    value.and_then(|value| value.get(key)).and_then(Value::as_str).unwrap_or_default()
}

/// Text between backticks is code.
fn prose(text: &str) -> Prose {
    let pieces = text.trim().split('`').enumerate();
    pieces
        .filter(|(_, text)| !text.is_empty())
        .map(|(place, text)| Piece { is_code: place % 2 == 1, text: text.to_owned() })
        .collect()
}

fn operations(document: &Value, tag: &str) -> Vec<Operation> {
    let tagged =
        |operation: &&Value| operation.pointer("/tags/0").and_then(Value::as_str) == Some(tag);
    // The table's order goes from what is asked first to what is asked last.
    routes::TABLE
        .iter()
        .filter_map(|route| {
            let item = document.get("paths")?.get(route.path)?;
            let operation = item.get(route.method.to_lowercase()).filter(tagged)?;
            Some(one(document, route, operation))
        })
        .collect()
}

fn one(document: &Value, route: &Route, operation: &Value) -> Operation {
    let id = text(Some(operation), "operationId").to_owned();
    let parameters: Vec<Parameter> = operation
        .get("parameters")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .map(|parameter| one_parameter(document, fields::resolved(document, parameter)))
        .collect();
    let keyed = parameters.iter().any(|parameter| parameter.name == "Idempotency-Key");
    let (problems, answers) =
        told(document, operation).into_iter().partition(|told| told.status.starts_with(['4', '5']));
    Operation {
        method: route.method.to_owned(),
        path: route.path.to_owned(),
        text: prose(text(Some(operation), "description")),
        who: who(route.access),
        body: operation.get("requestBody").map(|body| one_body(document, body)),
        example: example::of(&id, route.method, route.path, keyed),
        id,
        parameters,
        answers,
        problems,
    }
}

fn who(access: Access) -> String {
    match access {
        Access::Public => "anybody".to_owned(),
        Access::SignedIn => "anybody who is signed in".to_owned(),
        Access::InPerson => "anybody who signed in with a password".to_owned(),
        Access::May(what) => {
            let labels: Vec<&str> =
                Role::ALL.iter().filter(|role| role.may(what)).map(|role| role.label()).collect();
            labels.join(", ")
        }
    }
}

fn one_parameter(document: &Value, parameter: &Value) -> Parameter {
    Parameter {
        name: text(Some(parameter), "name").to_owned(),
        place: text(Some(parameter), "in").to_owned(),
        kind: parameter.get("schema").map_or_else(String::new, |s| kind::words(document, s)),
        required: parameter.get("required").and_then(Value::as_bool).unwrap_or_default(),
        text: prose(text(Some(parameter), "description")),
    }
}

/// Media types, and the type of the JSON one.
fn contents<'a>(
    document: &'a Value,
    holder: &'a Value,
) -> (String, Option<&'a str>, Option<&'a Value>) {
    let content = holder.get("content").and_then(Value::as_object);
    let names: Vec<&str> = content.into_iter().flat_map(Map::keys).map(String::as_str).collect();
    let schema = content.and_then(|all| all.values().next()).and_then(|first| first.get("schema"));
    (names.join(", "), schema.and_then(|schema| kind::named(document, schema)), schema)
}

fn one_body(document: &Value, body: &Value) -> Body {
    let (media_types, type_name, schema) = contents(document, body);
    let mut rows = Vec::new();
    if let Some(schema) = schema {
        add_fields(document, schema, "", true, &mut rows);
    }
    Body { media_types, type_name: type_name.map(str::to_owned), fields: rows }
}

/// The fields of a type; with `deep`, those of what it holds and lists, too.
fn add_fields(document: &Value, schema: &Value, base: &str, deep: bool, rows: &mut Vec<Field>) {
    for (name, field, required) in fields::of(document, schema) {
        let type_name = kind::named(document, field);
        let full = format!("{base}{name}");
        let described = text(Some(field), "description");
        rows.push(Field {
            kind: kind::words(document, field),
            type_name: type_name.map(str::to_owned),
            required,
            text: prose(described),
            name: full.clone(),
        });
        let held =
            type_name.and_then(|name| document.pointer(&format!("/components/schemas/{name}")));
        if let (true, Some(held)) = (deep, held) {
            let part = if kind::is_list(field) { "[]." } else { "." };
            add_fields(document, held, &format!("{full}{part}"), false, rows);
        }
    }
}

fn told(document: &Value, operation: &Value) -> Vec<Told> {
    let responses = operation.get("responses").and_then(Value::as_object);
    responses
        .into_iter()
        .flatten()
        .map(|(status, response)| {
            let response = fields::resolved(document, response);
            let (media_types, type_name, _) = contents(document, response);
            Told {
                status: status.clone(),
                text: text(Some(response), "description").to_owned(),
                media_types,
                type_name: type_name.map(str::to_owned),
            }
        })
        .collect()
}

fn types(document: &Value) -> Vec<Type> {
    let all = document.pointer("/components/schemas").and_then(Value::as_object);
    let is_object =
        |schema: &Value| schema.get("properties").is_some() || schema.get("allOf").is_some();
    all.into_iter()
        .flatten()
        .filter(|(_, schema)| is_object(schema))
        .map(|(name, schema)| {
            let mut rows = Vec::new();
            add_fields(document, schema, "", false, &mut rows);
            let described = prose(text(Some(schema), "description"));
            Type { name: name.clone(), text: described, fields: rows }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_operation_of_the_document_is_in_the_reference() {
        let document = crate::openapi::value();
        let reference = read(document);
        let shown: usize = reference.tags.iter().map(|tag| tag.operations.len()).sum();
        assert_eq!(shown, routes::TABLE.iter().filter(|route| route.is_api()).count());
        for operation in reference.tags.iter().flat_map(|tag| &tag.operations) {
            assert!(!operation.who.is_empty() && !operation.text.is_empty(), "{}", operation.id);
            assert!(!operation.answers.is_empty(), "{}", operation.id);
        }
        let named: Vec<&str> = reference.types.iter().map(|one| one.name.as_str()).collect();
        let fields = reference.types.iter().flat_map(|one| &one.fields);
        for type_name in fields.filter_map(|field| field.type_name.as_deref()) {
            assert!(named.contains(&type_name), "{type_name} leads nowhere");
        }
    }

    #[test]
    fn code_stands_between_backticks() {
        let pieces = prose("send `If-Match` with it");
        let shown: Vec<(bool, &str)> =
            pieces.iter().map(|p| (p.is_code, p.text.as_str())).collect();
        assert_eq!(shown, [(false, "send "), (true, "If-Match"), (false, " with it")]);
    }
}
