//! What one line of text may mean. Pure: text in, meanings out; more than one
//! may hold at once, and the record says which does.

use crate::domain::{plate, vin};

/// Fewer characters than this are no end of a VIN or plate: they would fit too
/// many.
const LEAST_END: usize = 3;
/// So many characters tell one vehicle of a shop from all others nearly always.
const TELLING_END: usize = 6;
/// Words looked for at most, so that no query grows without bound.
const MOST_WORDS: usize = 5;

/// What was asked for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// As typed, trimmed; empty where nothing was.
    pub text: String,
    /// As the number of an order.
    pub order_no: String,
    /// As the number of a job: its order's and its own.
    pub job: Option<(String, i32)>,
    /// As a VIN or the end of one.
    pub vin: String,
    /// As a plate or the end of one.
    pub plate: String,
    /// As words, in lower case.
    pub words: Vec<String>,
}

impl Asked {
    /// Reads a line.
    #[must_use]
    pub fn of(text: &str) -> Self {
        let text = text.trim();
        let order_no = text.trim_start_matches('#').trim();
        let job = order_no
            .rsplit_once('/')
            .and_then(|(order, job)| Some((order.trim().to_owned(), job.trim().parse().ok()?)));
        let words = text.split_whitespace().map(str::to_lowercase);
        Self {
            text: text.to_owned(),
            order_no: order_no.to_owned(),
            job: job.filter(|(order, number)| !order.is_empty() && *number > 0),
            vin: scanned(text),
            plate: plate::key(text),
            words: words.filter(|word| is_word(word)).take(MOST_WORDS).collect(),
        }
    }

    /// Nothing that could be looked for.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.vin.is_empty() && self.plate.is_empty()
    }

    /// The text that the end of a VIN is compared with, where it is long enough
    /// for that.
    #[must_use]
    pub fn vin_end(&self) -> Option<String> {
        end(&self.vin)
    }

    /// As [`Self::vin_end`], of a plate.
    #[must_use]
    pub fn plate_end(&self) -> Option<String> {
        end(&self.plate)
    }

    /// Whether an end of that length tells one vehicle from all others.
    #[must_use]
    pub fn tells(&self) -> bool {
        self.plate.chars().count() >= TELLING_END
    }

    /// Whether the text has the length of a whole VIN.
    #[must_use]
    pub fn is_whole_vin(&self) -> bool {
        self.vin.chars().count() == 17 && self.vin.chars().all(|c| c.is_ascii_alphanumeric())
    }
}

/// A VIN as it was typed or scanned: some labels begin with an I that is no
/// part of it.
#[must_use]
pub fn scanned(text: &str) -> String {
    let vin = vin::normalize(text);
    match vin.strip_prefix('I') {
        Some(rest) if rest.chars().count() == 17 => rest.to_owned(),
        _ => vin,
    }
}

fn is_word(word: &str) -> bool {
    word.chars().filter(|c| c.is_alphanumeric()).count() >= 2
}

fn end(text: &str) -> Option<String> {
    let wanted = text.replace(['%', '_', '\\'], "");
    (wanted.chars().count() >= LEAST_END).then(|| format!("%{wanted}"))
}

/// A pattern that finds a word inside a text in lower case. A letter that a
/// database may not know how to lower stands for any; [`holds`] looks again.
#[must_use]
pub fn inside(word: &str) -> String {
    let pattern: String = word
        .chars()
        .filter(|c| !matches!(c, '%' | '_' | '\\'))
        .map(|c| if c.is_ascii() { c } else { '_' })
        .collect();
    format!("%{pattern}%")
}

/// Whether one of the texts holds the word, whatever the case.
#[must_use]
pub fn holds(texts: &[Option<&str>], word: &str) -> bool {
    texts.iter().flatten().any(|text| text.to_lowercase().contains(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_is_told_from_an_order() {
        assert_eq!(Asked::of(" 1042/2 ").job, Some(("1042".to_owned(), 2)));
        assert_eq!(Asked::of("#1042").order_no, "1042");
        for odd in ["1042", "/2", "1042/", "1042/0", "1042/x"] {
            assert_eq!(Asked::of(odd).job, None, "{odd}");
        }
    }

    #[test]
    fn a_scanned_vin_loses_the_letter_of_its_label() {
        let asked = Asked::of("i1g4ah59h4-5g118341");
        assert_eq!(asked.vin, "1G4AH59H45G118341");
        assert!(asked.is_whole_vin());
        // Short of a whole VIN behind it the I is a slip that stays to be seen.
        assert_eq!(Asked::of("I1G4AH59H").vin, "I1G4AH59H");
    }

    #[test]
    fn short_ends_and_wild_signs_find_nothing_by_chance() {
        assert_eq!(Asked::of("41").vin_end(), None);
        assert_eq!(Asked::of("%_%").plate_end(), None);
        assert_eq!(Asked::of("18-341").vin_end().as_deref(), Some("%18341"));
        assert!(Asked::of(" - . ").plate.is_empty());
        assert!(Asked::of("5G118341").tells() && !Asked::of("8341").tells());
    }

    #[test]
    fn words_are_found_whatever_their_case() {
        let asked = Asked::of("Éva O'Hara x");
        assert_eq!(asked.words, ["éva", "o'hara"]);
        assert_eq!(inside("éva"), "%_va%");
        assert!(holds(&[None, Some("ÉVA O'HARA")], "éva"));
        assert!(!holds(&[Some("Ava")], "éva"));
    }
}
