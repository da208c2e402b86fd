//! What the entries of lists are called: files often bring an entry's label
//! where its code is meant.

use std::collections::HashMap;

use crate::codes::starting as lists;

/// The entries that every shop starts with: list, code, label.
pub fn starting() -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    let systems = lists::SYSTEMS.iter().map(|c| ("system", c.code, c.label));
    let symptoms = lists::SYMPTOMS.iter().map(|c| ("symptom", c.code, c.label));
    let whens = lists::WHENS.iter().map(|c| ("when", c.code, c.label));
    let causes = lists::CAUSES.iter().map(|c| ("cause", c.code, c.label));
    let checks = lists::CHECKS.iter().map(|c| ("check", c.code, c.label));
    let reasons = lists::COMEBACK_REASONS.iter().map(|c| ("comeback_reason", c.code, c.label));
    systems.chain(symptoms).chain(whens).chain(causes).chain(checks).chain(reasons)
}

/// Codes by their labels.
#[derive(Debug, Default)]
pub struct Labels {
    codes: HashMap<(&'static str, String), String>,
}

impl Labels {
    /// Of entries: list, code, label.
    pub fn new(entries: impl Iterator<Item = (&'static str, String, String)>) -> Self {
        let codes = entries.map(|(list, code, label)| ((list, folded(&label)), code)).collect();
        Self { codes }
    }

    /// Of the starting lists.
    #[must_use]
    pub fn starting() -> Self {
        Self::new(starting().map(|(list, code, label)| (list, code.to_owned(), label.to_owned())))
    }

    /// The other code of which the text is the label.
    #[must_use]
    pub fn code(&self, list: &'static str, text: &str) -> Option<&str> {
        let code = self.codes.get(&(list, folded(text)))?;
        (code != text).then_some(code)
    }
}

fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_in_any_letters_leads_to_its_code() {
        let entries = [("check", "road-test", "Road test"), ("check", "own look", "own look")];
        let owned = entries.map(|(list, code, label)| (list, code.to_owned(), label.to_owned()));
        let labels = Labels::new(owned.into_iter());
        assert_eq!(labels.code("check", " ROAD TEST"), Some("road-test"));
        assert_eq!(labels.code("cause", "Road test"), None);
        assert_eq!(labels.code("check", "own look"), None, "a code that is its own label");
    }
}
