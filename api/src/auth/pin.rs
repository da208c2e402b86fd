//! PINs: six digits, good on an enrolled tablet alone, hashed as passwords are.

use crate::domain::refusal::FieldFault;

const DIGITS: usize = 6;

/// Checks a new PIN.
///
/// # Errors
/// Not six digits, or among the first that anybody tries.
pub fn acceptable(pin: &str) -> Result<(), FieldFault> {
    let digits = pin.as_bytes();
    if digits.len() != DIGITS || !digits.iter().all(u8::is_ascii_digit) {
        return Err(FieldFault::new("pin", "digits", "choose exactly six digits"));
    }
    let one_digit = digits.iter().all(|digit| Some(digit) == digits.first());
    if one_digit || matches!(pin, "123456" | "654321") {
        return Err(FieldFault::new("pin", "guessable", "choose a PIN that is harder to guess"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_digits_that_nobody_tries_first() {
        for pin in ["135790", "012345", "000001"] {
            assert!(acceptable(pin).is_ok(), "{pin}");
        }
        for pin in ["", "12345", "1234567", "12345a", "１３５７９０", "777777", "123456", "654321"]
        {
            assert!(acceptable(pin).is_err(), "{pin}");
        }
    }
}
