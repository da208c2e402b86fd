//! What a query's codes and parts are in the record: a merged code is the entry
//! that it counts as now, and one that was never there is refused, so that a slip
//! of the pen does not read as nothing.

use std::collections::HashMap;

use analytics::history::History;
use analytics::reuse::Overrides;
use analytics::warning::{Planned, WarningsReport};
use chrono::NaiveDate;

use super::{Faults, PartAsked, ReportName, ReportQuery, Resolved};
use crate::codes::merge::{Standings, end_of};
use crate::codes::model::entries;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::RuleId;
use crate::domain::refusal::Refusal;
use crate::preparation::starting::Purpose;
use crate::reports::model;
use crate::rules::model::{self as rules, ShopRule};
use crate::shops::model::Shop;
use crate::warnings::planned::planned;
use crate::warnings::silence::{self, Silence};

/// The shop's lists, and whether its record has the part that is asked about.
#[derive(Debug, Clone, Default)]
pub struct Known {
    lists: HashMap<String, Standings>,
    part: bool,
    /// The shop rule that is asked about.
    rule: Option<AskedRule>,
    silences: Vec<Silence>,
    /// Checks of the shop's plans, by symptom.
    planned: Planned,
}

/// A shop rule as the effect report is asked for it.
#[derive(Debug, Clone)]
struct AskedRule {
    select: String,
    kept: String,
    not_known: Option<String>,
    start: String,
    review: String,
    withdrawn: Option<NaiveDate>,
}

impl AskedRule {
    fn of(row: &ShopRule) -> Answer<Self> {
        let jobs = row.asks()?.selectors();
        Ok(Self {
            select: jobs.about.to_string(),
            kept: jobs.kept.to_string(),
            not_known: jobs.not_known.map(|jobs| jobs.to_string()),
            start: row.starts_on.to_string(),
            review: row.review_on.to_string(),
            withdrawn: row.withdrawn_on,
        })
    }
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
        if let Some(id) = query.rule.as_deref().and_then(RuleId::parse) {
            let row = rules::find(conn, shop.id, &id)?;
            known.rule = row.as_ref().map(AskedRule::of).transpose()?;
        }
        if query.symptom.is_some()
            || query.first.is_some()
            || query.rule.is_some()
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

    /// The query with what a rule that it names stands for.
    ///
    /// # Errors
    /// No such rule; what a rule says, said besides.
    pub(super) fn asked(&self, query: &ReportQuery) -> Result<ReportQuery, Refusal> {
        if query.rule.is_none() {
            return Ok(query.clone());
        }
        let besides = [&query.select, &query.kept, &query.not_known, &query.start, &query.review];
        if besides.into_iter().any(Option::is_some) {
            let detail = "the rule says which jobs, since when and until when: name it alone";
            return Err(Refusal::field("rule", "value", detail));
        }
        let Some(rule) = self.rule.clone() else {
            return Err(Refusal::field("rule", "unknown_rule", "this shop has no such rule"));
        };
        Ok(ReportQuery {
            rule: None,
            select: Some(rule.select),
            kept: Some(rule.kept),
            not_known: rule.not_known,
            start: Some(rule.start),
            review: Some(rule.review),
            ..query.clone()
        })
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
        asked.rule.withdrawn = self.rule.as_ref().and_then(|rule| rule.withdrawn);
        asked.symptom = asked.symptom.map(|symptom| self.now("symptom", &symptom));
        asked.first.iter_mut().flatten().for_each(|check| *check = self.now("check", check));
        asked.select = asked.select.following(&|list, code| self.now(list, code));
        for jobs in [&mut asked.rule.kept, &mut asked.rule.not_known] {
            *jobs = jobs.take().map(|jobs| jobs.following(&|list, code| self.now(list, code)));
        }
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
        find_line(&mut faults, history, asked.hand_over.line.as_deref());
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

/// A line of a list that nobody has read yet has no figures; one that no list can
/// mean is a slip.
fn find_line(faults: &mut Faults, history: &History, line: Option<&str>) {
    let Some(line) = line else { return };
    let starts = Purpose::ALL.iter().any(|one| one.lines().iter().any(|known| known.key == line));
    let code = history.code_of(line);
    if !starts && !code.is_some_and(|code| history.readings().line.contains(&code)) {
        let detail = format!("nothing was read as {line} in the record");
        faults.add("line", "unknown_line", detail);
    }
}
