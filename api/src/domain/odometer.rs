//! Odometer units, by their UCUM codes.

use super::refusal::FieldFault;

/// The most an odometer may show, in its own unit.
pub const MOST: i64 = 100_000_000;

/// The units an odometer counts in.
pub const UNITS: &[&str] = &["km", "[mi_i]"];

/// Reads a unit as people and files write it.
#[must_use]
pub fn parse_unit(text: &str) -> Option<&'static str> {
    match text {
        "km" => Some("km"),
        "[mi_i]" | "mi" | "miles" => Some("[mi_i]"),
        _ => None,
    }
}

/// The fault of a unit that no odometer counts in.
#[must_use]
pub fn unit_fault() -> FieldFault {
    FieldFault::new("odometer_unit", "word", format!("choose one of: {}", UNITS.join(", ")))
}
