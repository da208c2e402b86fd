//! Check plans that the demo shop took.

use chrono::NaiveDate;

use super::circle::Year;
use crate::db::Answer;
use crate::plans::change::{self, NewPlan};

/// Complaints that it checks by a plan.
const SYMPTOMS: [&str; 3] = ["engine.tick", "charge.battery-flat", "cooling.overheats"];

impl Year<'_> {
    /// Takes the starting plans of some complaints.
    pub(super) fn take_plans(&self, day: NaiveDate) -> Answer<()> {
        self.manage(day, |write| {
            for symptom in SYMPTOMS {
                let new = NewPlan { symptom: symptom.to_owned(), ..NewPlan::default() };
                change::make(write, &new)?;
            }
            Ok(())
        })
    }
}
