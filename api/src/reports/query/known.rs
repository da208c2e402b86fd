//! What a query's codes and parts are in the record: a merged code is the entry
//! that it counts as now, and one that was never there is refused, so that a slip
//! of the pen does not read as nothing.

use std::collections::HashMap;

use analytics::history::History;
use analytics::reuse::Overrides;
use analytics::warning::{Planned, WarningsReport};

use super::{Faults, PartAsked, ReportName, ReportQuery, Resolved};
use crate::codes::merge::{Standings, end_of};
use crate::codes::model::entries;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::refusal::Refusal;
use crate::reports::model;
use crate::shops::model::Shop;
use crate::warnings::planned::planned;
use crate::warnings::silence::{self, Silence};

/// The shop's lists, and whether its record has the part that is asked about.
#[derive(Debug, Clone, Default)]
pub struct Known {
    lists: HashMap<String, Standings>,
    part: bool,
    silences: Vec<Silence>,
    /// Checks of the shop's plans, by symptom.
    planned: Planned,
}

impl Known {
    /// What this query needs.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(
        conn: &mut Conn,
        shop: &Shop,
        (name, now): (ReportName, UtcStamp),
        query: &ReportQuery,
    ) -> Answer<Self> {
        let mut known = Self::default();
        if name == ReportName::Warnings {
            known.silences = silence::in_force(conn, shop.id, shop.zone().day(now))?;
            known.planned = planned(conn, shop.id)?;
        }
        if let Some(part) = &query.part {
            known.part = model::has_part(conn, shop.id, part)?;
        }
        if query.symptom.is_some()
            || query.first.is_some()
            || name == ReportName::Warnings
            || [&query.select, &query.kept].into_iter().flatten().any(|text| !text.is_empty())
        {
            for entry in entries(conn, shop.id, None)? {
                let list = known.lists.entry(entry.list.clone()).or_default();
                list.insert(entry.code.clone(), entry.standing());
            }
        }
        Ok(known)
    }

    /// With the entries of one list.
    #[cfg(test)]
    pub(super) fn of(list: &str, standings: Standings) -> Self {
        Self { lists: HashMap::from([(list.to_owned(), standings)]), ..Self::default() }
    }

    /// Says of every group of a scan whether it is silenced, and why.
    pub(super) fn silence(&self, report: &mut WarningsReport) {
        let now = |list: &str, code: &str| self.now(list, code);
        silence::mark(report, &self.silences, &now);
    }

    /// The plans' checks as figures count them.
    fn planned_now(&self) -> Planned {
        let mut now = Planned::new();
        for (symptom, checks) in &self.planned {
            let checks = checks.iter().map(|check| self.now("check", check));
            now.entry(self.now("symptom", symptom)).or_default().extend(checks);
        }
        now
    }

    fn now(&self, list: &str, code: &str) -> String {
        self.lists.get(list).map_or(code, |list| end_of(list, code)).to_owned()
    }

    /// The query with its codes as they count now.
    ///
    /// # Errors
    /// A symptom, a check or a part that neither a list nor the record has; a
    /// check to come first that only trained people may do.
    pub(super) fn follow(
        &self,
        history: &History,
        mut asked: Resolved,
    ) -> Result<Resolved, Refusal> {
        let mut faults = Faults::default();
        asked.planned = self.planned_now();
        asked.symptom = asked.symptom.map(|symptom| self.now("symptom", &symptom));
        asked.first.iter_mut().flatten().for_each(|check| *check = self.now("check", check));
        asked.select = asked.select.following(&|list, code| self.now(list, code));
        asked.rule.kept =
            asked.rule.kept.map(|kept| kept.following(&|list, code| self.now(list, code)));
        if let Some(symptom) = &asked.symptom {
            self.find_symptom(&mut faults, "symptom", history, symptom);
        }
        for check in asked.first.iter().flatten() {
            self.find_check(&mut faults, history, check);
        }
        for (field, selector) in
            [("select", Some(&asked.select)), ("kept", asked.rule.kept.as_ref())]
        {
            for symptom in selector.into_iter().flat_map(|selector| selector.symptoms()) {
                self.find_symptom(&mut faults, field, history, symptom);
            }
        }
        let told = asked.tells_of_the_hand();
        self.find_part(&mut faults, history, &asked.part, told);
        if faults.0.is_empty() { Ok(asked) } else { Err(Refusal::Invalid(faults.0)) }
    }

    fn find_symptom(&self, faults: &mut Faults, field: &str, history: &History, symptom: &str) {
        let listed = self.lists.get("symptom").is_some_and(|list| list.contains_key(symptom));
        let seen = || {
            let code = history.code_of(symptom);
            code.is_some_and(|code| history.jobs().symptom.contains(&code))
        };
        if !listed && !seen() {
            faults.add(field, "unknown_code", format!("there is no symptom {symptom}"));
        }
    }

    fn find_check(&self, faults: &mut Faults, history: &History, check: &str) {
        let listed = self.lists.get("check").is_some_and(|list| list.contains_key(check));
        let seen = || {
            let code = history.code_of(check);
            code.is_some_and(|code| history.checks().check.contains(&code))
        };
        if !listed && !seen() {
            faults.add("first", "unknown_code", format!("there is no check {check}"));
        } else if history.facts().trained_checks.contains(check) {
            let detail = format!("{check} is for trained people only and stands in no order");
            faults.add("first", "trained_only", detail);
        }
    }

    /// A part that is new to the shop has an answer where something is told of it.
    fn find_part(&self, faults: &mut Faults, history: &History, asked: &PartAsked, told: bool) {
        let Some(part) = &asked.part else { return };
        let told = told
            || asked.curable.is_some()
            || asked.tested.is_some()
            || asked.overrides != Overrides::default();
        let seen = || {
            let code = history.code_of(part);
            code.is_some_and(|code| history.parts().part.contains(&code))
        };
        if !self.part && !told && !seen() {
            let detail = format!(
                "there is no part {part} in the record; tell its cost or its minutes for advice \
                 on a part that is new here"
            );
            faults.add("part", "unknown_part", detail);
        }
    }
}
