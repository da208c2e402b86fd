//! Why a request is refused, in the trade's terms. What status that becomes is
//! decided elsewhere.

/// One fault in what was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldFault {
    /// RFC 6901 pointer to the field; empty for the whole.
    pub pointer: String,
    /// Short fixed word, for programs.
    pub code: &'static str,
    /// A sentence that says what to do.
    pub detail: String,
}

impl FieldFault {
    /// A fault at `/field`.
    #[must_use]
    pub fn new(field: &str, code: &'static str, detail: impl Into<String>) -> Self {
        let pointer = if field.is_empty() { String::new() } else { format!("/{field}") };
        Self { pointer, code, detail: detail.into() }
    }
}

/// What a decision answers when it does not do what was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// Not there, or not for these eyes: the same answer.
    NotFound,
    /// The role may not do this.
    Forbidden(String),
    /// What was sent cannot be taken.
    Invalid(Vec<FieldFault>),
    /// The record does not allow it.
    Conflict(String),
    /// Somebody else changed it; the version that stands now.
    Stale(i32),
    /// The same key came with another request.
    KeyReused,
}

impl Refusal {
    /// One fault at one field.
    #[must_use]
    pub fn field(field: &str, code: &'static str, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldFault::new(field, code, detail)])
    }
}
