//! A bench reading as a key: sums are never made of readings.

use std::cmp::Ordering;

/// What a part read on the bench: a finite number, in order.
#[derive(Debug, Clone, Copy)]
pub struct Reading(f64);

impl Reading {
    /// `None` for what is no finite number. The two zeros are one.
    #[must_use]
    pub fn new(value: f64) -> Option<Self> {
        value.is_finite().then_some(Self(value + 0.0))
    }

    /// As a selector writes it.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        text.parse().ok().and_then(Self::new)
    }

    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }
}

impl PartialEq for Reading {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Reading {}

impl PartialOrd for Reading {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Reading {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl std::fmt::Display for Reading {
    /// The shortest text that reads back as the same number.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_finite_number_is_no_reading() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(Reading::new(value), None);
        }
        for text in ["", "NaN", "inf", "-inf", "1e999", "12 V"] {
            assert_eq!(Reading::parse(text), None, "{text}");
        }
        assert_eq!(Reading::new(-0.0), Reading::new(0.0));
    }

    proptest! {
        /// Its text is the same reading again, and its order that of numbers.
        #[test]
        fn a_reading_survives_its_text(a in proptest::num::f64::ANY, b in -9.0_f64..9.0) {
            if let (Some(a), Some(b)) = (Reading::new(a), Reading::new(b)) {
                prop_assert_eq!(Reading::parse(&a.to_string()), Some(a));
                prop_assert_eq!(a < b, a.value() < b.value());
            }
        }
    }
}
