//! What was just done, told at the top of the page that shows it, with the way
//! to undo it: instead of asking before.

use actix_web::HttpRequest;
use uuid::Uuid;

/// What the address says was just done: `?did=WORD`, or `?did=WORD:ID` where it
/// was done to one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Did {
    pub word: String,
    pub id: Option<String>,
}

/// What is told of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    pub text: String,
    pub undo: Option<Undo>,
}

/// A form that undoes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undo {
    pub action: String,
    pub label: &'static str,
    /// Hidden fields.
    pub fields: Vec<(&'static str, String)>,
}

impl Did {
    /// Reads the address.
    #[must_use]
    pub fn of(req: &HttpRequest) -> Option<Self> {
        Self::read(req.query_string())
    }

    fn read(query: &str) -> Option<Self> {
        let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query).ok()?;
        let (_, said) = pairs.into_iter().find(|(name, _)| name == "did")?;
        Some(Self::said(&said))
    }

    fn said(text: &str) -> Self {
        match text.split_once(':') {
            Some((word, id)) => Self { word: word.to_owned(), id: Some(id.to_owned()) },
            None => Self { word: text.to_owned(), id: None },
        }
    }

    /// The id, where the word is that one.
    #[must_use]
    pub fn id_of(&self, word: &str) -> Option<&str> {
        self.id.as_deref().filter(|_| self.word == word)
    }
}

impl Notice {
    /// A sentence alone.
    #[must_use]
    pub fn plain(text: impl Into<String>) -> Self {
        Self { text: text.into(), undo: None }
    }

    /// The way back.
    #[must_use]
    pub fn undo(self, label: &'static str, action: String) -> Self {
        Self { undo: Some(Undo { action, label, fields: Vec::new() }), ..self }
    }

    /// A hidden field of the way back.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<String>) -> Self {
        if let Some(undo) = &mut self.undo {
            undo.fields.push((name, value.into()));
        }
        self
    }
}

impl Undo {
    /// A new key, so that sending it twice acts once.
    #[must_use]
    pub fn once(&self) -> String {
        Uuid::now_v7().to_string()
    }
}

/// The notice of a word that needs nothing of the record; `None` where the word
/// is none of these, so that an address cannot put words on a page.
#[must_use]
pub fn plain(did: &Did) -> Option<Notice> {
    let text = match did.word.as_str() {
        "saved" => "Saved.",
        "order-opened" => "The order is open.",
        "job-added" => "The job is added.",
        "authorize" => "The amount is kept.",
        "hand-over" => "The vehicle is handed over.",
        "void" => "The order is void.",
        "odometer-reset" => "The odometer's replacement is kept.",
        "added" => "Added.",
        "ended" => "Ended.",
        "taken-back" => "Taken back.",
        "revoked" => "Revoked.",
        "enrolled" => "This tablet is enrolled.",
        "started" => "The clock runs.",
        "stopped" => "The clock is stopped.",
        "labor-changed" => "The times are changed.",
        "labor-taken" => "The labor entry is taken back.",
        "check-changed" => "The check is changed.",
        "part-changed" => "The part is changed.",
        "operation-changed" => "The operation is changed.",
        "proof-taken" => "The proof is taken back.",
        "reopened" => "The job is open again.",
        "corrected" => "The job is corrected.",
        "waits" => "It waits from now.",
        "waits-ended" => "It waits no more.",
        "person" => "Put on the job.",
        "person-off" => "Taken off the job.",
        "sublet" => "The sublet is added.",
        "sublet-changed" => "The sublet is changed.",
        "sublet-taken" => "The sublet is taken back.",
        "plan" => "The plan is changed.",
        _ => return None,
    };
    Some(Notice::plain(text))
}

/// The notice on a page that reads its address field by field.
#[must_use]
pub fn of_query(did: Option<&str>) -> Option<Notice> {
    plain(&Did::said(did?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_says_what_was_done_and_to_what() {
        let one = Did { word: "check".into(), id: Some("a-1".into()) };
        assert_eq!(Did::read("x=1&did=check%3Aa-1"), Some(one.clone()));
        assert_eq!(Did::read("did=check:a-1"), Some(one));
        assert_eq!(Did::read("did=closed"), Some(Did { word: "closed".into(), id: None }));
        assert_eq!(Did::read("done=closed"), None);
    }

    #[test]
    fn only_known_words_are_told() {
        let told = |word: &str| plain(&Did { word: word.into(), id: None });
        assert!(told("saved").is_some());
        assert_eq!(told("<b>anything</b>"), None);
    }
}
