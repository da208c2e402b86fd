//! Decimal numbers as scaled integers, without a float on the way.

/// Why a decimal number was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalFault {
    NotANumber,
    TooManyDecimals(u32),
    TooLarge,
}

impl std::fmt::Display for DecimalFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotANumber => {
                f.write_str("write a number such as 12 or 12.5, with a point and no other signs")
            }
            Self::TooManyDecimals(0) => f.write_str("write a whole number, without decimals"),
            Self::TooManyDecimals(most) => write!(f, "write at most {most} decimals"),
            Self::TooLarge => f.write_str("the number is too large"),
        }
    }
}

/// Reads `-12.5` as -1250 with a scale of two. Zeros past the scale are taken.
///
/// # Errors
/// See [`DecimalFault`].
pub fn parse_scaled(text: &str, scale: u32) -> Result<i64, DecimalFault> {
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (-1_i64, rest),
        None => (1, text),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(fraction) || whole.is_empty() {
        return Err(DecimalFault::NotANumber);
    }
    let fraction = fraction.trim_end_matches('0');
    let width = usize::try_from(scale).unwrap_or(usize::MAX);
    if fraction.len() > width {
        return Err(DecimalFault::TooManyDecimals(scale));
    }
    let mut joined = String::with_capacity(whole.len() + width);
    joined.push_str(whole);
    joined.push_str(fraction);
    joined.extend(std::iter::repeat_n('0', width - fraction.len()));
    joined.parse::<i64>().ok().and_then(|n| n.checked_mul(sign)).ok_or(DecimalFault::TooLarge)
}

/// Writes -1250 with a scale of two as `-12.50`.
#[must_use]
pub fn format_scaled(value: i64, scale: u32) -> String {
    if scale == 0 {
        return value.to_string();
    }
    let width = usize::try_from(scale).unwrap_or(0);
    let digits = format!("{:0>1$}", value.unsigned_abs(), width + 1);
    let (whole, fraction) = digits.split_at(digits.len() - width);
    let sign = if value < 0 { "-" } else { "" };
    format!("{sign}{whole}.{fraction}")
}

/// Writes hundredths in the shortest form: 120 as `1.2`, 100 as `1`.
#[must_use]
pub fn format_hundredths(value: i64) -> String {
    let full = format_scaled(value, 2);
    full.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A little less than nothing reads nothing, without a sign.
#[must_use]
pub fn rounded(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|byte| matches!(byte, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// A plain decimal number with its thousands apart: `20,223.00`. Other texts stay.
#[must_use]
pub fn thousands(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
    let (whole, part) = rest.split_once('.').map_or((rest, None), |(w, p)| (w, Some(p)));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !part.is_none_or(digits) {
        return text.to_owned();
    }
    let mut apart = String::with_capacity(text.len() + 4);
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) {
            apart.push(',');
        }
        apart.push(digit);
    }
    let part = part.map_or_else(String::new, |part| format!(".{part}"));
    format!("{sign}{apart}{part}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_written_reads_back(value: i64, scale in 0_u32..=4) {
            // The smallest i64 has no positive twin to negate.
            prop_assume!(value != i64::MIN);
            prop_assert_eq!(parse_scaled(&format_scaled(value, scale), scale), Ok(value));
        }

        #[test]
        fn no_text_makes_it_fall_over(text in ".{0,40}", scale in 0_u32..=4) {
            let _answer = parse_scaled(&text, scale);
        }
    }

    #[test]
    fn refuses_what_it_cannot_keep() {
        assert_eq!(parse_scaled("1.005", 2), Err(DecimalFault::TooManyDecimals(2)));
        assert_eq!(parse_scaled("1,5", 2), Err(DecimalFault::NotANumber));
        assert_eq!(parse_scaled("", 2), Err(DecimalFault::NotANumber));
        assert_eq!(parse_scaled("99999999999999999999", 2), Err(DecimalFault::TooLarge));
        assert_eq!(parse_scaled("1.500", 2), Ok(150));
        assert_eq!(format_hundredths(120), "1.2");
        assert_eq!(format_hundredths(100), "1");
    }
}
