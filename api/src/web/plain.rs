//! Faults of reading, said to whoever wrote the request. The reader's own words
//! speak of a program's types.

use serde::de::DeserializeOwned;

use crate::domain::refusal::FieldFault;

/// A fault at a place of the body.
#[must_use]
pub fn fault(mut pointer: String, said: &str) -> FieldFault {
    for (opening, code) in [("missing field ", "required"), ("unknown field ", "unknown")] {
        let Some(name) = said.strip_prefix(opening).and_then(first_quoted) else { continue };
        let end = format!("/{}", name.replace('~', "~0").replace('/', "~1"));
        if !pointer.ends_with(&end) {
            pointer.push_str(&end);
        }
        return FieldFault { pointer, code, detail: words(said) };
    }
    let code = if said.starts_with("unknown variant ") { "word" } else { "type" };
    FieldFault { pointer, code, detail: words(said) }
}

/// What to do, in plain words.
#[must_use]
pub fn words(said: &str) -> String {
    if said.starts_with("missing field ") {
        return "this field is missing".to_owned();
    }
    if said.starts_with("unknown field ") {
        return match choices(said) {
            Some(known) => format!("this field is not known here; choose from: {known}"),
            None => "this field is not known here; leave it out".to_owned(),
        };
    }
    if said.starts_with("unknown variant ") {
        return choices(said).map_or_else(
            || "this word is not known here".to_owned(),
            |c| format!("choose one of: {c}"),
        );
    }
    if said.starts_with("duplicate field ") {
        return "this field is here twice".to_owned();
    }
    if let Some((_, expected)) = said.rsplit_once(", expected ") {
        let too_far = said.starts_with("invalid value: integer");
        return wanted(expected, too_far);
    }
    of_text(said).map_or_else(|| said.to_owned(), str::to_owned)
}

/// The words of number and date readers.
fn of_text(said: &str) -> Option<&'static str> {
    Some(match said {
        "invalid digit found in string" | "cannot parse integer from empty string" => {
            "write a whole number"
        }
        "number too large to fit in target type" | "number too small to fit in target type" => {
            "write a whole number nearer to zero"
        }
        "invalid float literal" | "cannot parse float from empty string" => "write a number",
        "provided string was not `true` or `false`" => "write true or false",
        "input contains invalid characters"
        | "premature end of input"
        | "trailing input"
        | "input is out of range"
        | "input is not enough for unique date and time" => "write a day such as 2026-03-02",
        said if said.ends_with("is not a UUID") => "write an id as you read it: it is a UUID",
        said if said.contains("untagged enum") => "write one of the forms the document shows",
        _ => return None,
    })
}

/// What is wanted where something else was sent.
fn wanted(expected: &str, too_far: bool) -> String {
    match expected {
        "i8" | "i16" | "i32" | "i64" | "u8" | "u16" | "u32" | "u64" | "usize" | "isize" => {
            if too_far {
                "write a whole number nearer to zero"
            } else {
                "write a whole number"
            }
        }
        "f32" | "f64" => "write a number",
        "a boolean" => "write true or false",
        "a formatted date string" => "write a day such as 2026-03-02",
        "a sequence" => "write a list, in square brackets",
        "a map" => "write an object, in curly braces",
        "unit" | "null" => "write null",
        text if text.contains("string") || text == "a character" => "write text, in quotes",
        text if text.starts_with("struct ") => "write an object, in curly braces",
        text if text.contains("enum ") => "write one of the words the document lists",
        text => return format!("write {text}"),
    }
    .to_owned()
}

fn first_quoted(text: &str) -> Option<&str> {
    text.split('`').nth(1)
}

/// The names behind "expected".
fn choices(said: &str) -> Option<String> {
    let (_, listed) = said.split_once(", expected ")?;
    let names: Vec<&str> = listed.split('`').skip(1).step_by(2).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// The parameter of a query that cannot be read: its name, and why.
#[must_use]
pub fn parameter<T: DeserializeOwned>(query: &str) -> Option<FieldFault> {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query).ok()?;
    pairs.into_iter().find_map(|pair| {
        let alone = serde_urlencoded::to_string([&pair]).ok()?;
        let said = serde_urlencoded::from_str::<T>(&alone).err()?.to_string();
        if said.starts_with("missing field ") {
            return None;
        }
        let code = if said.starts_with("unknown field ") { "unknown" } else { "query" };
        let detail = words(&said).replace("this field", "this parameter");
        Some(FieldFault { pointer: pair.0, code, detail })
    })
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[test]
    fn a_missing_field_is_pointed_at() {
        let fault = fault("/jobs/0".into(), "missing field `complaint`");
        assert_eq!(
            (fault.pointer.as_str(), fault.code, fault.detail.as_str()),
            ("/jobs/0/complaint", "required", "this field is missing")
        );
    }

    #[test]
    fn nothing_speaks_of_types() {
        for (said, plain) in [
            ("invalid type: floating point `1.5`, expected i64", "write a whole number"),
            ("invalid value: integer `300`, expected u8", "write a whole number nearer to zero"),
            ("invalid type: map, expected a string", "write text, in quotes"),
            (
                "invalid type: integer `3`, expected struct NewOrder",
                "write an object, in curly braces",
            ),
            ("unknown variant `x`, expected one of `a`, `b`", "choose one of: a, b"),
            ("unknown variant `x`, expected `a` or `b`", "choose one of: a, b"),
            (
                "unknown field `x`, there are no fields",
                "this field is not known here; leave it out",
            ),
            ("premature end of input", "write a day such as 2026-03-02"),
            ("name it in the trade's words", "name it in the trade's words"),
        ] {
            assert_eq!(words(said), plain);
        }
    }

    #[test]
    fn a_query_s_fault_has_its_name() {
        #[derive(Debug, Deserialize)]
        #[serde(deny_unknown_fields)]
        #[expect(dead_code, reason = "only read into")]
        struct Query {
            limit: Option<i64>,
            name: Option<String>,
        }
        let fault = parameter::<Query>("name=a&limit=x").unwrap();
        assert_eq!(
            (fault.pointer.as_str(), fault.detail.as_str()),
            ("limit", "write a whole number")
        );
        let fault = parameter::<Query>("color=red").unwrap();
        assert_eq!((fault.pointer.as_str(), fault.code), ("color", "unknown"));
        assert!(fault.detail.starts_with("this parameter is not known here; choose from: limit"));
    }
}
