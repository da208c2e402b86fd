//! Texts as small integers.

use std::collections::HashMap;
use std::sync::Arc;

use super::{HistoryError, NONE};

/// One dictionary for every text of a shop, so that codes of any two columns
/// compare. Codes are given in the order of first sight and never change.
#[derive(Debug, Clone, Default)]
pub(super) struct Dictionary {
    texts: Vec<Arc<str>>,
    codes: HashMap<Arc<str>, u32>,
}

impl Dictionary {
    pub fn text(&self, code: u32) -> Option<&str> {
        self.texts.get(code as usize).map(AsRef::as_ref)
    }

    pub fn code_of(&self, text: &str) -> Option<u32> {
        self.codes.get(text).copied()
    }

    pub fn code(&mut self, text: &str) -> Result<u32, HistoryError> {
        if let Some(code) = self.codes.get(text) {
            return Ok(*code);
        }
        let code = u32::try_from(self.texts.len())
            .ok()
            .filter(|code| *code != NONE)
            .ok_or(HistoryError::TooMany("texts"))?;
        let text: Arc<str> = text.into();
        self.texts.push(Arc::clone(&text));
        self.codes.insert(text, code);
        Ok(code)
    }

    pub fn optional(&mut self, text: Option<&str>) -> Result<u32, HistoryError> {
        text.map_or(Ok(NONE), |text| self.code(text))
    }
}
