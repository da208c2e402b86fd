//! What comes before any order of checks.

/// Checks that come first, in this order, where nothing else is asked for (common
/// practice): what reproduces the complaint, then looks that cost little and open
/// nothing. Who has not seen the complaint does not know when it is gone.
const COME_FIRST: [&str; 5] =
    ["interview-reproduce", "road-test", "visual-under-hood", "read-codes", "bulletin-recall"];

/// The place of a check, from 0, among those that come first by default; `None`
/// for all others.
#[must_use]
pub fn comes_first(code: &str) -> Option<usize> {
    COME_FIRST.iter().position(|first| *first == code)
}
