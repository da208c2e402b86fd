//! Text that people type: NFC, without control characters, bounded.

use unicode_normalization::UnicodeNormalization;

use super::refusal::FieldFault;

/// Cleans one field: trimmed, NFC; line breaks and tabs stay only where the
/// field has lines.
///
/// # Errors
/// Where it is empty, too long (in characters), or holds control characters.
pub fn required(field: &str, text: &str, most: usize) -> Result<String, FieldFault> {
    let text: String = text.trim().nfc().collect();
    if text.is_empty() {
        return Err(FieldFault::new(field, "required", "write something here"));
    }
    if text.chars().count() > most {
        return Err(FieldFault::new(field, "too_long", format!("write at most {most} characters")));
    }
    let forbidden = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if text.chars().any(forbidden) {
        return Err(FieldFault::new(field, "control_character", "remove the control characters"));
    }
    Ok(text)
}

/// As [`required`], but nothing and blanks are an absent value.
///
/// # Errors
/// As [`required`], but for emptiness.
pub fn optional(
    field: &str,
    text: Option<&str>,
    most: usize,
) -> Result<Option<String>, FieldFault> {
    match text {
        Some(text) if !text.trim().is_empty() => required(field, text, most).map(Some),
        _ => Ok(None),
    }
}
