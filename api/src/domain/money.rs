//! Money in minor units, with the number of decimals of ISO 4217.

use super::decimal::{self, DecimalFault};

/// The most that one amount may be, in minor units: far past every real one,
/// and far from where sums of them would leave the numbers.
pub const MOST_MINOR: i64 = 1_000_000_000_000;

/// Currencies whose minor unit is not a hundredth (ISO 4217 list one).
const OTHER_DECIMALS: &[(&str, u32)] = &[
    ("BHD", 3),
    ("BIF", 0),
    ("CLF", 4),
    ("CLP", 0),
    ("DJF", 0),
    ("GNF", 0),
    ("IQD", 3),
    ("ISK", 0),
    ("JOD", 3),
    ("JPY", 0),
    ("KMF", 0),
    ("KRW", 0),
    ("KWD", 3),
    ("LYD", 3),
    ("OMR", 3),
    ("PYG", 0),
    ("RWF", 0),
    ("TND", 3),
    ("UGX", 0),
    ("UYI", 0),
    ("UYW", 4),
    ("VND", 0),
    ("VUV", 0),
    ("XAF", 0),
    ("XOF", 0),
    ("XPF", 0),
];

/// A currency code of three capital letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Currency(String);

impl Currency {
    /// Takes three letters, in either case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        (text.len() == 3 && text.bytes().all(|b| b.is_ascii_alphabetic()))
            .then(|| Self(text.to_ascii_uppercase()))
    }

    /// XXX, the code of ISO 4217 for no currency.
    #[must_use]
    pub fn none() -> Self {
        Self("XXX".to_owned())
    }

    /// The code.
    #[must_use]
    pub fn code(&self) -> &str {
        &self.0
    }

    /// How many decimals its amounts have.
    #[must_use]
    pub fn decimals(&self) -> u32 {
        OTHER_DECIMALS.iter().find(|(code, _)| *code == self.0).map_or(2, |(_, decimals)| *decimals)
    }

    /// Reads `12.34` as minor units.
    ///
    /// # Errors
    /// Where it is no decimal number, has too many decimals, or is too large.
    pub fn parse_amount(&self, text: &str) -> Result<i64, DecimalFault> {
        decimal::parse_scaled(text, self.decimals())
    }

    /// As [`Self::parse_amount`], of an amount as people write it: `$1,234.50`.
    ///
    /// # Errors
    /// As there.
    pub fn read_amount(&self, text: &str) -> Result<i64, DecimalFault> {
        self.parse_amount(&bare(text, self.code()))
    }

    /// Writes minor units as `12.34`.
    #[must_use]
    pub fn format_amount(&self, minor: i64) -> String {
        decimal::format_scaled(minor, self.decimals())
    }
}

/// An amount without its currency's sign or code and without commas between
/// thousands, as pages write them; a comma anywhere else stays, and is refused.
fn bare(text: &str, code: &str) -> String {
    let text = text.trim().trim_start_matches('$').trim_end_matches(code).trim();
    let (whole, fraction) = text.split_once('.').map_or((text, None), |(w, f)| (w, Some(f)));
    let mut groups = whole.split(',');
    let led = groups.next().is_some_and(|first| (1..=3).contains(&first.len()));
    if !led || !groups.all(|group| group.len() == 3) {
        return text.to_owned();
    }
    let whole = whole.replace(',', "");
    fraction.map_or_else(|| whole.clone(), |fraction| format!("{whole}.{fraction}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_as_pages_write_them() {
        let written = [
            ("$1,234.50", "1234.50"),
            ("150", "150"),
            ("1234.50 USD", "1234.50"),
            ("1,23", "1,23"),
            ("1,2345", "1,2345"),
            ("1,000,000", "1000000"),
        ];
        for (text, digits) in written {
            assert_eq!(bare(text, "USD"), digits, "{text}");
        }
    }
}
