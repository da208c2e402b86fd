//! The plans in force, as far as figures look at them.

use analytics::history::PlanFacts;
use diesel::prelude::*;

use super::model::{VersionRow, plans};
use crate::codes::merge::{Standings, end_of};
use crate::db::schema::check_plan_version;
use crate::db::{Answer, Conn};

/// The shop's plans in force, under the codes that count now.
///
/// # Errors
/// Where the database does not answer.
pub fn of_shop(conn: &mut Conn, shop_id: i32, checks: &Standings) -> Answer<Vec<PlanFacts>> {
    let plans = plans(conn, shop_id, false)?;
    if plans.is_empty() {
        return Ok(Vec::new());
    }
    let rows: Vec<VersionRow> = check_plan_version::table
        .filter(check_plan_version::shop_id.eq(shop_id))
        .filter(check_plan_version::state.eq("in_force"))
        .select(VersionRow::as_select())
        .load(conn)?;
    let symptoms = super::model::symptoms(conn, shop_id)?;
    let mut facts = Vec::new();
    for plan in plans {
        let Some(row) = rows.iter().find(|row| row.plan_id == plan.id) else { continue };
        let mut steps: Vec<(String, bool)> = Vec::new();
        for step in row.read()?.steps {
            let check = end_of(checks, &step.check).to_owned();
            if steps.iter().all(|(known, _)| *known != check) {
                steps.push((check, step.mandatory));
            }
        }
        facts.push(PlanFacts {
            symptom: end_of(&symptoms, &plan.symptom).to_owned(),
            model: plan.model,
            engine: plan.engine,
            steps,
        });
    }
    Ok(facts)
}
