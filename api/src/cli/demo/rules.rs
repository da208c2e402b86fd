//! The demo shop's rules: one that worked, one that is too young to tell, one
//! that nobody could follow.

use analytics::effect::evidence;
use analytics::words::RuleKind;
use chrono::NaiveDate;

use super::circle::{EVENING, MORNING, Year, after, before};
use super::enquiries::Asked;
use crate::codes::lists::Lists;
use crate::db::{Answer, Fault};
use crate::demo;
use crate::domain::ids::RuleId;
use crate::enquiries::action_write::{self as actions, Verification};
use crate::enquiries::model as enquiries;
use crate::reports::live;
use crate::rules::decide::{Says, earliest_review};
use crate::rules::model::{self as rules, NewRule};
use crate::rules::settle::{self, RuleReview, RuleWithdrawal};
use crate::rules::told;

/// A rule of the demo shop.
struct Taken {
    kind: RuleKind,
    title: &'static str,
    words: &'static str,
    symptom: Option<&'static str>,
    part: Option<&'static str>,
    check: Option<&'static str>,
}

const COOLANT: Taken = Taken {
    kind: RuleKind::CheckFirst,
    title: "Pressure before parts",
    words: "Where coolant goes missing, put the system under pressure first and hold it, before \
            any part is ordered. A wet hose may be one leak of two.",
    symptom: Some(demo::RULE_SYMPTOM),
    part: None,
    check: Some(demo::RULE_CHECK),
};

const VALVE: Taken = Taken {
    kind: RuleKind::ReplaceSuspect,
    title: "A sticking idle air valve is replaced",
    words: "An idle air valve that was the cause is not cleaned and put back. One that was only in \
            the way may be.",
    symptom: None,
    part: Some("IAV-100"),
    check: None,
};

const THROTTLE: Taken = Taken {
    kind: RuleKind::CleanAndTest,
    title: "Throttle bodies are measured after cleaning",
    words: "Read the flow on the bench before a cleaned throttle body goes back.",
    symptom: None,
    part: Some("THR-70"),
    check: None,
};

impl Taken {
    fn says(&self) -> Says<'_> {
        Says {
            symptom: self.symptom,
            part: self.part,
            check: self.check,
            unit: None,
            low: None,
            high: None,
            limit_source: None,
            about: None,
        }
    }
}

impl Year<'_> {
    /// Takes a rule on a day, with what the record said by then.
    fn take(
        &self,
        (day, review_on): (NaiveDate, NaiveDate),
        taken: &'static Taken,
        asked: Option<&Asked>,
    ) -> Answer<RuleId> {
        let history = live::anew(self.db, self.shop)?;
        let lists = self.db.read(|conn| Lists::load(conn, self.shop.id))?;
        let rule = rules::asks(taken.kind, &RuleId::make(), &taken.says())
            .ok_or_else(|| Fault::Unavailable("no rule can be made of that".into()))?;
        let now = |list: &str, code: &str| lists.now(list, code);
        let figures = evidence(&history, &rule, before(day, 1), &now);
        let check = taken.check.map(|code| lists.label("check", code));
        let sentence = told::evidence(taken.kind, check.as_deref(), &figures);
        let json = serde_json::to_string(&figures)
            .map_err(|error| Fault::Unavailable(error.to_string()))?;
        let new = NewRule {
            kind: taken.kind,
            title: taken.title.to_owned(),
            words: taken.words.to_owned(),
            symptom: taken.symptom.map(str::to_owned),
            part: taken.part.map(str::to_owned),
            check_code: taken.check.map(str::to_owned),
            unit: None,
            low_limit: None,
            high_limit: None,
            limit_source: None,
            about: None,
            evidence_json: sentence.is_some().then_some(json),
            evidence: sentence.unwrap_or_else(|| "Nothing of the kind is on record yet".to_owned()),
            owner_id: self.manager.clone(),
            starts_on: day,
            review_on,
            action_id: asked.map(|asked| asked.action.clone()),
        };
        self.write((self.manager, day, MORNING), move |write| Ok(rules::take(write, &new)?.id))
    }

    /// The rule that the record shows to have worked.
    pub(super) fn take_coolant_rule(
        &self,
        day: NaiveDate,
        asked: Option<&Asked>,
    ) -> Answer<RuleId> {
        self.take((day, demo::rule_review(self.end)), &COOLANT, asked)
    }

    /// What the review came to, and that the corrective action held.
    pub(super) fn review_coolant_rule(&self, rule: &RuleId, asked: Option<&Asked>) -> Answer<()> {
        let rule = rule.clone();
        let asked = asked.cloned();
        self.manage(demo::rule_review(self.end), move |write| {
            let standing = rules::by_id(write.conn, write.shop.id, &rule)?;
            let review = RuleReview {
                word: "kept".to_owned(),
                note: "Fewer came back, beside other cooling work that stayed as it was".to_owned(),
            };
            settle::review(write, &rule, standing.version, &review)?;
            let Some(asked) = &asked else { return Ok(()) };
            let action = crate::enquiries::action::by_id(write.conn, write.shop.id, &asked.action)?;
            let said = Verification {
                held: true,
                how: "The rule's effect on its review day: fewer comebacks".to_owned(),
            };
            actions::verify(write, &action.id, action.version, &said)?;
            let enquiry = enquiries::by_id(write.conn, write.shop.id, &asked.enquiry)?;
            enquiries::close(
                write,
                &enquiry.comeback_id,
                enquiry.version,
                Some("The rule stands, and it holds"),
            )?;
            Ok(())
        })
    }

    /// Five weeks old: too early to tell.
    pub(super) fn take_valve_rule(&self) -> Answer<()> {
        let day = before(self.end, 35);
        self.take((day, after(earliest_review(day, self.shop.window_days), 60)), &VALVE, None)?;
        Ok(())
    }

    /// A rule that nobody could follow; it stays on record.
    pub(super) fn withdraw_untested_rule(&self, day: NaiveDate) -> Answer<()> {
        let start = after(day, 28);
        let review = after(earliest_review(start, self.shop.window_days), 30);
        let id = self.take((start, review), &THROTTLE, None)?;
        self.write((self.manager, after(start, 63), EVENING), move |write| {
            let rule = rules::by_id(write.conn, write.shop.id, &id)?;
            let withdrawal = RuleWithdrawal {
                reason: "The flow bench was sold, and nothing else reads it".to_owned(),
            };
            settle::withdraw(write, &id, rule.version, &withdrawal)?;
            Ok(())
        })
    }
}
