//! Text that a spreadsheet would run (CWE-1236). An apostrophe before it says that
//! it is text; ours can be taken off again.

use std::borrow::Cow;

/// What a formula begins with. The full-width ones are read as the plain ones where
/// people type them (OWASP, "CSV Injection").
const BEGINNINGS: [char; 12] = ['=', '+', '-', '@', '\t', '\r', '\n', '\0', '＝', '＋', '－', '＠'];

/// A signed number is none, and stays one.
fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    // Not what else is read as one: "-inf" is none to a spreadsheet.
    digits.starts_with(|c: char| c.is_ascii_digit()) && text.parse::<f64>().is_ok()
}

/// Whether a spreadsheet would take the text for a formula.
fn is_formula(text: &str) -> bool {
    text.starts_with(BEGINNINGS) && !is_number(text)
}

/// Text as it goes into a file for a spreadsheet: an apostrophe before what
/// would be run as a formula, and before an apostrophe that looks like ours.
#[must_use]
pub fn guarded(text: &str) -> Cow<'_, str> {
    if is_formula(text.trim_start_matches('\'')) { format!("'{text}").into() } else { text.into() }
}

/// Text as it goes into a file for programs: an apostrophe only before one that
/// looks like ours, so that it comes back.
#[must_use]
pub fn plain(text: &str) -> Cow<'_, str> {
    if text.starts_with('\'') { guarded(text) } else { text.into() }
}

/// Either the other way round.
#[must_use]
pub fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if is_formula(rest.trim_start_matches('\'')) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_guarded_comes_back(text in "['=+@\0\t＝-]{0,4}.{0,6}") {
            let kept = guarded(&text);
            prop_assert_eq!(unguarded(&kept), text.as_str());
            prop_assert!(!is_formula(&kept));
            let kept = plain(&text);
            prop_assert_eq!(unguarded(&kept), text.as_str());
        }

        #[test]
        fn numbers_stay_numbers(number in prop::num::f64::NORMAL, cents: i64) {
            for text in [number.to_string(), format!("{number:e}"), cents.to_string()] {
                prop_assert_eq!(guarded(&text), text.as_str());
            }
        }
    }

    // The triggers named by OWASP, "CSV Injection".
    #[test]
    fn formulas_get_an_apostrophe() {
        for text in ["=1+1", "+1+1", "-x", "-", "@A1", "\tx", "\r", "\n=", "\0=", "＝1", "-inf"] {
            assert!(guarded(text).starts_with('\''), "{text}");
        }
        for text in ["rough idle", "-40", "+1.5", "-2.5e-7"] {
            assert_eq!(guarded(text), text);
        }
        assert_eq!(plain("=1+1"), "=1+1");
        assert_eq!(unguarded("'90s radio"), "'90s radio");
    }
}
