//! Money in minor units, with the number of decimals of ISO 4217.

use super::decimal::{self, DecimalFault};

/// The most that one amount may be, in minor units: far past every real one,
/// and far from where sums of them would leave the numbers.
pub const MOST_MINOR: i64 = 1_000_000_000_000;

/// Whether so many hundredths at that price stay within one amount.
#[must_use]
pub fn line_fits(unit_minor: i64, quantity_hundredths: i64) -> bool {
    let line = i128::from(unit_minor) * i128::from(quantity_hundredths);
    line <= i128::from(MOST_MINOR) * 100
}

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
    use proptest::prelude::*;

    /// Numbers of every size, as many about the ends as between them.
    fn any_minor() -> impl Strategy<Value = i64> {
        let near = |end: i64| (-3_i64..=3).prop_map(move |by| end.saturating_add(by));
        prop_oneof![
            any::<i64>(),
            near(i64::MIN),
            near(i64::MAX),
            near(MOST_MINOR),
            near(0),
            (0_u32..63, -2_i64..=2).prop_map(|(power, by)| (1_i64 << power).saturating_add(by)),
        ]
    }

    fn any_currency() -> impl Strategy<Value = Currency> {
        prop::sample::select(vec!["USD", "JPY", "KWD", "CLF"])
            .prop_map(|code| Currency::parse(code).unwrap_or_else(Currency::none))
    }

    proptest! {
        // Against arithmetic that is wide enough for every answer.
        #[test]
        fn an_amount_is_read_exactly_or_not_at_all(minor in any_minor(), more in 0_usize..5, currency in any_currency()) {
            let text = currency.format_amount(minor) + &"7".repeat(more);
            let scale = 10_i128.pow(currency.decimals());
            let (sign, digits) = text.strip_prefix('-').map_or((1, text.as_str()), |rest| (-1, rest));
            let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
            let wide = |part: &str| part.parse::<i128>().unwrap_or(0);
            let exact = sign * (wide(whole) * scale + wide(fraction));
            match currency.parse_amount(&text) {
                Ok(read) => prop_assert_eq!(i128::from(read), exact),
                Err(DecimalFault::TooManyDecimals(_)) => prop_assert!(more > 0 && currency.decimals() > 0),
                // The lowest number has no twin above zero: it is out of reach as well.
                Err(DecimalFault::TooLarge) => prop_assert!(exact.abs() > i128::from(i64::MAX)),
                Err(DecimalFault::NotANumber) => prop_assert!(false, "{text}"),
            }
        }

        #[test]
        fn a_line_fits_where_its_sum_does(minor in any_minor(), quantity in any_minor()) {
            let exact = i128::from(minor) * i128::from(quantity);
            prop_assert_eq!(line_fits(minor, quantity), exact <= 100_000_000_000_000);
        }
    }

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
