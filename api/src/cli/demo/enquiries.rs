//! Enquiries of the demo shop into what came back.

use chrono::NaiveDate;

use super::circle::{EVENING, Year, after, before};
use crate::db::Answer;
use crate::demo;
use crate::domain::ids::{ActionId, ComebackId, EnquiryId};
use crate::enquiries::action_write::{self as actions, Ending, NewAction};
use crate::enquiries::findings::Findings;
use crate::enquiries::model as enquiries;
use crate::jobs::model as jobs;
use crate::shops::write::ShopWrite;

/// An enquiry, and the corrective action that came of it.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    pub enquiry: EnquiryId,
    pub action: ActionId,
}

/// What is found, and what is to be done.
struct Found {
    failed_item: &'static str,
    conditions: &'static str,
    verified_how: &'static str,
    checked: &'static str,
    not_checked: &'static str,
    analysis: &'static str,
    says: &'static str,
    kind: &'static str,
    words: &'static str,
}

const COOLANT: Found = Found {
    failed_item: "Water pump, leaking at the shaft; the hose replaced before was sound",
    conditions: "Warm engine, after a drive; dry when cold",
    verified_how: "Under pressure for ten minutes: drops at the pump, none at the hose",
    checked: "Looked under the hood and found the upper hose wet",
    not_checked: "The system was not put under pressure, before or after",
    analysis: "Two leaks at once. The first one found was taken for the cause, and nothing showed \
               the second before the vehicle left.",
    says: "The hose was wet and soft, so I stopped there",
    kind: "rule",
    words: "Pressure first where coolant goes missing, and again before it leaves",
};

/// Of late: what came back last, each in another way of ending.
const LATELY: [Found; 3] = [
    Found {
        failed_item: "The part replaced at the first visit",
        conditions: "As at the first visit",
        verified_how: "Driven by the technician who led the first job",
        checked: "The checks on the job, up to the first that showed something",
        not_checked: "What else the complaint could come from",
        analysis: "The first finding was taken for the cause.",
        says: "It was gone on the road test",
        kind: "training",
        words: "Go on looking after the first finding, and prove the repair the way it was \
                complained of",
    },
    Found {
        failed_item: "A part from the same box as the first",
        conditions: "Within a few days",
        verified_how: "Swapped with a good one: the fault went with the part",
        checked: "Fit and plug",
        not_checked: "The part itself, before it was fitted",
        analysis: "Most likely the part as supplied.",
        says: "Looked like new, was new",
        kind: "supplier",
        words: "Send the part back with our readings and ask about the lot",
    },
    Found {
        failed_item: "The repair itself",
        conditions: "Under load",
        verified_how: "Reproduced with the customer along",
        checked: "All of the usual checks",
        not_checked: "Nothing was left out",
        analysis: "Not settled yet.",
        says: "I would check the cheap thing first next time",
        kind: "check_plan",
        words: "Put the cheapest check of this complaint first in its plan",
    },
];

/// Holds the enquiry, with its corrective action.
fn hold(
    write: &mut ShopWrite<'_>,
    comeback: &ComebackId,
    found: &Found,
    due_on: NaiveDate,
) -> Answer<Asked> {
    let some = |text: &str| Some(text.to_owned());
    let findings = Findings {
        failed_item: some(found.failed_item),
        conditions: some(found.conditions),
        verified: Some(true),
        verified_how: some(found.verified_how),
        checked: some(found.checked),
        not_checked: some(found.not_checked),
        analysis: some(found.analysis),
        technician_says: some(found.says),
        ..Findings::default()
    };
    let enquiry = enquiries::write(write, comeback, None, &findings)?.id;
    let new = NewAction {
        enquiry_id: Some(enquiry.clone()),
        kind: found.kind.to_owned(),
        words: found.words.to_owned(),
        owner_id: None,
        due_on: Some(due_on),
    };
    let action = actions::add(write, &new)?.id;
    Ok(Asked { enquiry, action })
}

impl Year<'_> {
    /// The last of the coolant comebacks before the rule: it is why the rule was
    /// taken. None where the record has none.
    pub(super) fn ask_about_coolant(&self, rule_day: NaiveDate) -> Answer<Option<Asked>> {
        let shop_id = self.shop.id;
        let day = before(rule_day, 3);
        let found = self.comebacks(1, |conn, row| {
            let earlier = jobs::by_id(conn, shop_id, &row.earlier_job_id)?;
            let of_rule = earlier.symptom.as_deref() == Some(demo::RULE_SYMPTOM);
            Ok(of_rule && self.came_on(conn, row)?.1.is_some_and(|closed| closed < day))
        })?;
        let Some(comeback) = found.first().map(|row| row.id.clone()) else { return Ok(None) };
        self.manage(day, move |write| hold(write, &comeback, &COOLANT, after(day, 7))).map(Some)
    }

    /// What came back in the last weeks: one action open and overdue, one done, one
    /// open.
    pub(super) fn ask_about_lately(&self) -> Answer<()> {
        let since = before(self.end, 42);
        let found = self.comebacks(LATELY.len(), |conn, row| {
            let (opened, closed) = self.came_on(conn, row)?;
            Ok(opened >= since && closed.is_some())
        })?;
        let dates = [before(self.end, 4), after(self.end, 3), after(self.end, 10)];
        for ((row, found), due_on) in found.iter().zip(&LATELY).zip(dates) {
            let (id, closed) = (row.id.clone(), self.db.read(|conn| self.came_on(conn, row))?.1);
            let day = closed.map_or(self.end, |closed| after(closed, 1)).min(self.end);
            self.write((self.manager, day, EVENING), move |write| {
                let asked = hold(write, &id, found, due_on)?;
                if found.kind == "supplier" {
                    let action =
                        crate::enquiries::action::by_id(write.conn, write.shop.id, &asked.action)?;
                    let ending = Ending {
                        state: "done".to_owned(),
                        note: Some("Sent back; they replace it and look at the lot".to_owned()),
                    };
                    actions::end(write, &action.id, action.version, &ending)?;
                }
                Ok(())
            })?;
        }
        Ok(())
    }
}
