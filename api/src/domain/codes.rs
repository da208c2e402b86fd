//! Codes of a shop's lists: short slugs such as `engine.tick`.

use super::refusal::FieldFault;

/// The lists a shop keeps.
pub const LISTS: &[&str] =
    &["system", "symptom", "when", "cause", "check", "comeback_reason", "operation"];

/// Reads a code: letters, digits, `.`, `-` and `_`, at most 80, in any script's
/// letters so that imported lists survive.
///
/// # Errors
/// Where it is empty, too long, or has other characters.
pub fn parse(field: &str, text: &str) -> Result<String, FieldFault> {
    let text = super::text::required(field, text, 80)?;
    let allowed = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ' | '/');
    if text.starts_with(char::is_alphanumeric) && text.chars().all(allowed) {
        Ok(text)
    } else {
        Err(FieldFault::new(
            field,
            "code",
            "begin with a letter or digit; use letters, digits, points, hyphens and underscores only",
        ))
    }
}

/// The system a symptom belongs to by its slug, for symptoms that the list does
/// not know: the part before the first point.
#[must_use]
pub fn system_of(symptom: &str) -> &str {
    symptom.split('.').next().unwrap_or(symptom)
}

/// A code as one part of an address.
#[must_use]
pub fn address_part(code: &str) -> String {
    code.bytes().fold(String::new(), |mut part, byte| {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-' | b'_' | b'~') {
            part.push(char::from(byte));
        } else {
            part.push_str(&format!("%{byte:02X}"));
        }
        part
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 3986: all but the unreserved signs are written by their bytes.
    #[test]
    fn a_code_is_one_part_of_an_address() {
        assert_eq!(address_part("engine.tick"), "engine.tick");
        assert_eq!(address_part("a/b é"), "a%2Fb%20%C3%A9");
    }
}
