//! Vehicle identification numbers. The check digit follows 49 CFR 565, Tables
//! III and IV; a digit that does not fit is a warning, never a block, since
//! only some countries use it.

/// What is odd about a VIN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VinWarning {
    /// Not seventeen characters.
    Length,
    /// A character that no VIN has (I, O, Q, or no letter or digit).
    Character,
    /// Position nine is not what the others make it.
    CheckDigit { expected: char },
}

impl std::fmt::Display for VinWarning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Length => f.write_str("a VIN has 17 characters; look again"),
            Self::Character => f.write_str("a VIN has no I, O or Q and no signs; look again"),
            Self::CheckDigit { expected } => write!(
                f,
                "by the check digit, position 9 would be {expected}; look again (vehicles from before 1981 or from elsewhere need not fit)"
            ),
        }
    }
}

/// Upper case, without blanks and hyphens.
#[must_use]
pub fn normalize(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '-').flat_map(char::to_uppercase).collect()
}

const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

fn value(c: char) -> Option<u32> {
    match c {
        '0'..='9' => c.to_digit(10),
        'A' | 'J' => Some(1),
        'B' | 'K' | 'S' => Some(2),
        'C' | 'L' | 'T' => Some(3),
        'D' | 'M' | 'U' => Some(4),
        'E' | 'N' | 'V' => Some(5),
        'F' | 'W' => Some(6),
        'G' | 'P' | 'X' => Some(7),
        'H' | 'Y' => Some(8),
        'R' | 'Z' => Some(9),
        _ => None,
    }
}

/// The digit (or X) that position nine should hold; `None` where a character
/// has no value. Position nine itself may hold anything.
#[must_use]
pub fn check_digit(vin: &str) -> Option<char> {
    let mut sum = 0;
    for (place, (c, weight)) in vin.chars().zip(WEIGHTS).enumerate() {
        if place != 8 {
            sum += value(c)? * weight;
        }
    }
    match sum % 11 {
        10 => Some('X'),
        rest => char::from_digit(rest, 10),
    }
}

/// What is odd about a normalized VIN; `None` where nothing is.
#[must_use]
pub fn warning(vin: &str) -> Option<VinWarning> {
    if vin.chars().count() != 17 {
        return Some(VinWarning::Length);
    }
    let Some(expected) = check_digit(vin) else {
        return Some(VinWarning::Character);
    };
    let ninth = vin.chars().nth(8)?;
    (ninth != expected).then_some(VinWarning::CheckDigit { expected })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // 49 CFR 565, Table V: sum 411, remainder 4.
    #[test]
    fn the_regulations_example() {
        assert_eq!(check_digit("1G4AH59H?5G118341"), Some('4'));
        assert_eq!(warning("1G4AH59H45G118341"), None);
    }

    // NHTSA, Outline for New Manufacturer Information: sum 314, remainder 6.
    #[test]
    fn the_agencys_example() {
        assert_eq!(check_digit("1J9RP1A3?A1644345"), Some('6'));
    }

    // Sum 89 = 8 * 11 + 1: all ones is valid.
    #[test]
    fn all_ones() {
        assert_eq!(warning("11111111111111111"), None);
    }

    // 412 mod 11 = 5: two serial digits swapped are caught.
    #[test]
    fn swapped_digits() {
        assert_eq!(warning("1G4AH59H45G118431"), Some(VinWarning::CheckDigit { expected: '5' }));
    }

    #[test]
    fn letters_that_no_vin_has() {
        assert_eq!(warning("IG4AH59H45G118341"), Some(VinWarning::Character));
        assert_eq!(warning("1G4AH59H"), Some(VinWarning::Length));
        assert_eq!(normalize(" 1g4ah59h4-5g118341"), "1G4AH59H45G118341");
    }

    proptest! {
        #[test]
        fn any_text_gets_an_answer(text in ".{0,40}") {
            let _answer = warning(&normalize(&text));
        }
    }
}
