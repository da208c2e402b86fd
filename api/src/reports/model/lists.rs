//! What rows take from the shop's lists.

use std::collections::HashMap;

use analytics::words::Curable;
use diesel::prelude::*;

use crate::db::schema::{code_entry, person};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::codes::system_of;
use crate::shops::model::Shop;

/// What a job's row takes from the shop's lists. They change without a job
/// being touched, so whoever keeps rows compares them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lists {
    /// System by symptom.
    systems: HashMap<String, String>,
    /// Whether cleaning cures it, by cause.
    curable: HashMap<String, Curable>,
    /// Name by person.
    pub(super) people: HashMap<String, String>,
    /// By list and code, the code of the entry that it counts as now.
    merged: HashMap<String, HashMap<String, String>>,
}

impl Lists {
    /// The shop's lists as they stand.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, shop: &Shop) -> Answer<Self> {
        let systems: Vec<(String, Option<String>)> = code_entry::table
            .filter(code_entry::shop_id.eq(shop.id).and(code_entry::list.eq("symptom")))
            .select((code_entry::code, code_entry::system))
            .load(conn)?;
        let causes: Vec<(String, Option<Word<Curable>>)> = code_entry::table
            .filter(code_entry::shop_id.eq(shop.id).and(code_entry::list.eq("cause")))
            .select((code_entry::code, code_entry::curable))
            .load(conn)?;
        let people: Vec<(String, String)> = person::table
            .filter(person::group_id.eq(&shop.group_id))
            .select((person::id, person::name))
            .load(conn)?;
        Ok(Self {
            merged: merged(conn, shop.id)?,
            systems: systems
                .into_iter()
                .filter_map(|(code, system)| Some((code, system?)))
                .collect(),
            curable: causes.into_iter().filter_map(|(code, word)| Some((code, word?.0))).collect(),
            people: people.into_iter().collect(),
        })
    }

    /// Whether rows made under these lists read the same under `later` ones:
    /// entries that only came in newly change no row.
    #[must_use]
    pub fn still_hold(&self, later: &Self) -> bool {
        self.systems
            .keys()
            .chain(later.systems.keys())
            .all(|symptom| self.system(symptom) == later.system(symptom))
            && self.curable == later.curable
            && self.merged == later.merged
            && self.people.iter().all(|(id, name)| later.people.get(id) == Some(name))
    }

    /// The code that a code of the record counts as now.
    pub(super) fn now(&self, list: &str, code: String) -> String {
        self.merged.get(list).and_then(|codes| codes.get(&code)).cloned().unwrap_or(code)
    }

    /// The symptom's system. A symptom that the list does not know belongs where
    /// its slug says.
    pub(super) fn system(&self, symptom: &str) -> String {
        let system = self.systems.get(symptom).map_or_else(|| system_of(symptom), String::as_str);
        self.now("system", system.to_owned())
    }

    pub(super) fn curable(&self, cause: &str) -> Option<Curable> {
        self.curable.get(cause).copied()
    }
}

/// Where each merged code leads in the end, by list.
fn merged(conn: &mut Conn, shop_id: i32) -> Answer<HashMap<String, HashMap<String, String>>> {
    let steps: Vec<(String, String, Option<String>)> = code_entry::table
        .filter(code_entry::shop_id.eq(shop_id).and(code_entry::merged_into.is_not_null()))
        .select((code_entry::list, code_entry::code, code_entry::merged_into))
        .load(conn)?;
    let mut lists: HashMap<String, HashMap<String, String>> = HashMap::new();
    for (list, code, into) in steps {
        lists.entry(list).or_default().extend(into.map(|into| (code, into)));
    }
    Ok(lists.into_iter().map(|(list, steps)| (list, ends(&steps))).collect())
}

/// The end of every chain of steps. Codes that lead in a ring stay themselves.
fn ends(steps: &HashMap<String, String>) -> HashMap<String, String> {
    let end = |code: &String| {
        let mut last = code;
        for _ in 0..=steps.len() {
            match steps.get(last) {
                Some(next) => last = next,
                None => return Some(last.clone()),
            }
        }
        None
    };
    steps.keys().filter_map(|code| Some((code.clone(), end(code)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(pairs: &[(&str, &str)]) -> HashMap<String, String> {
        pairs.iter().map(|(code, into)| ((*code).to_owned(), (*into).to_owned())).collect()
    }

    #[test]
    fn a_chain_of_merges_ends_at_its_last_entry() {
        let merged = steps(&[("a", "b"), ("b", "c"), ("d", "c")]);
        assert_eq!(ends(&merged), steps(&[("a", "c"), ("b", "c"), ("d", "c")]));
    }

    #[test]
    fn a_ring_ends_nowhere_and_hangs_nobody() {
        assert_eq!(ends(&steps(&[("a", "b"), ("b", "a"), ("c", "a"), ("d", "d")])), steps(&[]));
        assert_eq!(ends(&steps(&[("a", "b"), ("b", "a"), ("c", "e")])), steps(&[("c", "e")]));
    }
}
