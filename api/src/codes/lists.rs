//! A shop's lists as pages show them: labels for codes, choices for fields.

use std::collections::HashMap;

use analytics::words::Access;

use super::merge::follow;
use super::model::{self, CodeEntry};
use super::starting::CHECKS;
use crate::db::{Answer, Conn};
use crate::web::words::{Pick, PickGroup};

/// All lists of one shop.
#[derive(Debug, Clone, Default)]
pub struct Lists {
    entries: HashMap<String, HashMap<String, CodeEntry>>,
}

impl Lists {
    /// The shop's lists as they stand.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, shop_id: i32) -> Answer<Self> {
        let mut entries: HashMap<String, HashMap<String, CodeEntry>> = HashMap::new();
        for entry in model::entries(conn, shop_id, None)? {
            entries.entry(entry.list.clone()).or_default().insert(entry.code.clone(), entry);
        }
        Ok(Self { entries })
    }

    fn entry(&self, list: &str, code: &str) -> Option<&CodeEntry> {
        self.entries.get(list)?.get(code)
    }

    /// What people call the code; the code itself where the list has no such.
    #[must_use]
    pub fn label(&self, list: &str, code: &str) -> String {
        self.entry(list, code).map_or_else(|| code.to_owned(), |entry| entry.label.clone())
    }

    /// The system of a symptom, by code.
    #[must_use]
    pub fn system<'a>(&'a self, symptom: &'a str) -> &'a str {
        self.entry("symptom", symptom)
            .and_then(|entry| entry.system.as_deref())
            .unwrap_or_else(|| crate::domain::codes::system_of(symptom))
    }

    /// The kind of a code, at the end of its merges: what a reason is put down to.
    #[must_use]
    pub fn kind(&self, list: &str, code: &str) -> Option<String> {
        self.end(list, code)?.kind.clone()
    }

    /// Whether cleaning cures a cause, as the list says.
    #[must_use]
    pub fn curable(&self, cause: &str) -> Option<analytics::words::Curable> {
        self.entry("cause", cause)?.curable.map(|word| word.0)
    }

    /// The code of a live entry that is meant by its label or its code.
    #[must_use]
    pub fn coded(&self, list: &str, text: &str) -> Option<String> {
        let wanted = text.trim().to_lowercase();
        let entries = self.entries.get(list)?.values();
        let mut live = entries.filter(|entry| entry.is_live());
        live.find(|entry| entry.label.to_lowercase() == wanted || entry.code == text.trim())
            .map(|entry| entry.code.clone())
    }

    /// Whether only trained people may do a check: as the list says, and always
    /// where the starting list does.
    #[must_use]
    pub fn is_for_trained(&self, check: &str) -> bool {
        let starting = CHECKS.iter().find(|known| known.code == check);
        let own = self.entry("check", check).and_then(|entry| entry.access);
        starting.is_some_and(|known| known.access == Access::Trained)
            || own.is_some_and(|access| access.0 == Access::Trained)
    }

    /// A list as choices, by label: what new work may use.
    #[must_use]
    pub fn picks(&self, list: &str) -> Vec<Pick> {
        let Some(entries) = self.entries.get(list) else { return Vec::new() };
        let live = entries.values().filter(|entry| entry.is_live());
        let mut picks: Vec<Pick> = live.map(CodeEntry::pick).collect();
        picks.sort_by(|a, b| a.label.cmp(&b.label));
        picks
    }

    /// Choices, and what the record holds now, where it is offered no more.
    #[must_use]
    pub fn holding(
        &self,
        list: &str,
        held: Option<&str>,
        mut groups: Vec<PickGroup>,
    ) -> Vec<PickGroup> {
        let entry = held.and_then(|code| self.entry(list, code));
        if let Some(entry) = entry.filter(|entry| !entry.is_live()) {
            let now = PickGroup { label: "As it stands".to_owned(), picks: vec![entry.pick()] };
            groups.insert(0, now);
        }
        groups
    }

    /// Whether new work may use the code.
    #[must_use]
    pub fn offers(&self, list: &str, code: &str) -> bool {
        self.entry(list, code).is_some_and(CodeEntry::is_live)
    }

    /// The code that a code counts as now.
    #[must_use]
    pub fn now(&self, list: &str, code: &str) -> String {
        self.end(list, code).map_or(code, |entry| &entry.code).to_owned()
    }

    /// The entry that a code counts as now.
    fn end(&self, list: &str, code: &str) -> Option<&CodeEntry> {
        let entries = self.entries.get(list)?;
        let end = follow(code, entries.len(), |at| entries.get(at)?.merged_into.as_deref());
        entries.get(end)
    }

    /// Symptoms as choices, under the systems they belong to.
    #[must_use]
    pub fn symptoms(&self) -> Vec<PickGroup> {
        let mut groups: Vec<PickGroup> = Vec::new();
        for pick in self.picks("symptom") {
            let label = self.label("system", self.system(&pick.value));
            match groups.iter_mut().find(|group| group.label == label) {
                Some(group) => group.picks.push(pick),
                None => groups.push(PickGroup { label, picks: vec![pick] }),
            }
        }
        groups.sort_by(|a, b| a.label.cmp(&b.label));
        groups
    }

    /// A list as choices, those that are usual first, under a heading of their
    /// own.
    #[must_use]
    pub fn usual_first(&self, list: &str, usual: &[String]) -> Vec<PickGroup> {
        let mut first: Vec<Pick> = Vec::new();
        for entry in usual.iter().filter_map(|code| self.end(list, code)) {
            let pick = entry.pick();
            if entry.is_live() && !first.contains(&pick) {
                first.push(pick);
            }
        }
        let rest: Vec<Pick> =
            self.picks(list).into_iter().filter(|pick| !first.contains(pick)).collect();
        let headed = [("Usual for this complaint", first), ("All others", rest)];
        headed
            .into_iter()
            .filter(|(_, picks)| !picks.is_empty())
            .map(|(label, picks)| PickGroup { label: label.to_owned(), picks })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lists(entries: &[(&str, Option<&str>)]) -> Lists {
        let mut lists = Lists::default();
        for (code, into) in entries {
            let entry = CodeEntry {
                merged_into: into.map(str::to_owned),
                ..CodeEntry::plain(1, "cause", code, code, "shop")
            };
            lists.entries.entry("cause".to_owned()).or_default().insert((*code).to_owned(), entry);
        }
        lists
    }

    fn values(groups: &[PickGroup]) -> Vec<(&str, Vec<&str>)> {
        groups
            .iter()
            .map(|group| {
                (group.label.as_str(), group.picks.iter().map(|p| p.value.as_str()).collect())
            })
            .collect()
    }

    #[test]
    fn what_was_merged_is_offered_as_its_target_only() {
        let lists = lists(&[("a", Some("b")), ("b", None), ("c", None)]);
        let usual = ["a".to_owned(), "b".to_owned()];
        let offered = lists.usual_first("cause", &usual);
        assert_eq!(
            values(&offered),
            [("Usual for this complaint", vec!["b"]), ("All others", vec!["c"])]
        );
        // What a job holds stays a choice on that job.
        let held = lists.holding("cause", Some("a"), offered.clone());
        assert_eq!(values(&held).first(), Some(&("As it stands", vec!["a"])));
        assert_eq!(lists.holding("cause", Some("b"), offered.clone()), offered);
    }
}
