//! Number plates: the same plate is written with blanks, hyphens and points, or
//! without.

/// What two ways of writing one plate have in common: upper case, without
/// blanks, hyphens and points.
#[must_use]
pub fn key(plate: &str) -> String {
    plate
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '-' | '.'))
        .flat_map(char::to_uppercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_plate_however_it_is_written() {
        for written in ["ab-12 cd", "AB 12.CD", "aB12Cd", " a b-1 2.c d "] {
            assert_eq!(key(written), "AB12CD");
        }
        assert_eq!(key(" - . "), "");
    }
}
