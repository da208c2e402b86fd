//! Text that people type: NFC, without control characters, bounded. What one
//! line holds must also be seen: two names that look alike have to be alike.

use unicode_normalization::UnicodeNormalization;

use super::refusal::FieldFault;

/// A field that may hold this many characters has lines.
const LINES_FROM: usize = 1000;

/// Whether no text holds the character for exchange (Unicode, chapter 23.7).
fn noncharacter(c: char) -> bool {
    let code = u32::from(c);
    (0xfdd0..=0xfdef).contains(&code) || code & 0xfffe == 0xfffe
}

/// Whether the character is not seen, or changes the order in which others are.
/// The two joiners stay: some scripts are spelled with them.
fn unseen(c: char) -> bool {
    matches!(
        u32::from(c),
        0x00ad
            | 0x034f
            | 0x061c
            | 0x115f..=0x1160
            | 0x17b4..=0x17b5
            | 0x180e
            | 0x200b
            | 0x200e..=0x200f
            | 0x2028..=0x202e
            | 0x2060..=0x206f
            | 0x3164
            | 0xfeff
            | 0xffa0
            | 0xfff9..=0xfffb
            | 0xe0000..=0xe00ff
    )
}

/// As a text is kept: without blanks around it, in normal form C.
#[must_use]
pub fn tidied(text: &str) -> String {
    text.trim().nfc().collect()
}

/// Whether a trimmed text is clean as it stands: short enough, and nothing but
/// the letters, digits and signs that every keyboard has.
#[must_use]
pub fn is_plain(text: &str, most: usize) -> bool {
    let bytes = text.as_bytes();
    !bytes.is_empty() && bytes.len() <= most && bytes.iter().all(|b| matches!(b, b' '..=b'~'))
}

/// Cleans one field: trimmed, NFC; line breaks and tabs stay only where the
/// field has lines.
///
/// # Errors
/// Where it is empty, too long (in characters), or holds control characters; on
/// one line, also characters that nobody sees.
pub fn required(field: &str, text: &str, most: usize) -> Result<String, FieldFault> {
    let text = text.trim();
    if is_plain(text, most) {
        return Ok(text.to_owned());
    }
    let text: String = text.nfc().collect();
    if text.is_empty() {
        return Err(FieldFault::new(field, "required", "write something here"));
    }
    if text.chars().count() > most {
        return Err(FieldFault::new(field, "too_long", format!("write at most {most} characters")));
    }
    let lines = most >= LINES_FROM;
    let control =
        |c: char| noncharacter(c) || c.is_control() && !(lines && matches!(c, '\n' | '\r' | '\t'));
    if text.chars().any(control) {
        return Err(FieldFault::new(field, "control_character", "remove the control characters"));
    }
    if !lines && text.chars().any(unseen) {
        return Err(FieldFault::new(
            field,
            "unseen_character",
            "remove the characters that cannot be seen; type it anew",
        ));
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

/// As [`optional`], for what is read off a vehicle: nothing in it joins letters
/// without being seen.
///
/// # Errors
/// As there.
pub fn mark(field: &str, text: Option<&str>, most: usize) -> Result<Option<String>, FieldFault> {
    let text = optional(field, text, most)?;
    if text.as_deref().is_some_and(|text| text.contains(['\u{200c}', '\u{200d}'])) {
        return Err(FieldFault::new(
            field,
            "unseen_character",
            "remove the characters that cannot be seen; type it anew",
        ));
    }
    Ok(text)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn code(text: &str, most: usize) -> Option<&'static str> {
        required("name", text, most).err().map(|fault| fault.code)
    }

    #[test]
    fn one_line_holds_what_is_seen() {
        for unseen in ["\u{200b}", "\u{202e}", "\u{2066}", "\u{feff}", "\u{ad}", "\u{e0041}"] {
            assert_eq!(code(&format!("AB{unseen}12"), 20), Some("unseen_character"), "{unseen:?}");
        }
        for control in ["\u{7}", "\u{fdd0}", "\u{ffff}", "\n", "\t"] {
            assert_eq!(code(&format!("AB{control}12"), 20), Some("control_character"));
        }
        // Persian spells with the joiner that is no letter.
        assert_eq!(code("می\u{200c}خواهم", 20), None);
        assert_eq!(code("Zoë Østergård-Nyqvist", 200), None);
    }

    #[test]
    fn lines_stay_where_a_field_has_them() {
        assert_eq!(required("note", "one\r\n\ttwo", 1000).unwrap(), "one\r\n\ttwo");
        assert_eq!(code("bell \u{7}", 4000), Some("control_character"));
        assert_eq!(code("\u{10ffff}", 4000), Some("control_character"));
    }

    #[test]
    fn a_mark_has_no_joiners() {
        assert_eq!(mark("plate", Some(" AB 12 "), 20).unwrap().as_deref(), Some("AB 12"));
        assert_eq!(mark("plate", Some("A\u{200d}B"), 20).unwrap_err().code, "unseen_character");
        assert_eq!(mark("plate", Some("  "), 20), Ok(None));
    }
}
