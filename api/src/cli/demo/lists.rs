//! The demo shop's own words for what it charges.

use chrono::NaiveDate;

use super::circle::Year;
use crate::codes::change::{self, CodePatch};
use crate::codes::model as codes;
use crate::db::Answer;

/// A code in words: `battery-replace` is "Battery replace".
fn in_words(code: &str) -> String {
    let text = code.replace('-', " ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

impl Year<'_> {
    /// Gives the operations that came with the files words to be read by.
    pub(super) fn name_operations(&self, day: NaiveDate) -> Answer<()> {
        self.manage(day, |write| {
            for entry in codes::entries(write.conn, write.shop.id, Some("operation"))? {
                if entry.label != entry.code {
                    continue;
                }
                let patch =
                    CodePatch { label: Some(in_words(&entry.code)), ..CodePatch::default() };
                change::change(write, &entry.list, &entry.code, entry.version, &patch)?;
            }
            Ok(())
        })
    }
}
