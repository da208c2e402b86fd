//! Checks that the shop's plans ask for: left out, they are looked at whether or
//! not most jobs have them.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use serde::Deserialize;

use crate::db::schema::{check_plan, check_plan_version};
use crate::db::{Answer, Conn};

/// As much of a plan's step as is needed here.
#[derive(Debug, Deserialize)]
struct Step {
    check: String,
}

/// Checks of the plans in force that are for every vehicle, by symptom.
///
/// # Errors
/// Where the database does not answer.
pub fn planned(conn: &mut Conn, shop_id: i32) -> Answer<BTreeMap<String, BTreeSet<String>>> {
    let rows: Vec<(String, String)> = check_plan::table
        .inner_join(
            check_plan_version::table.on(check_plan_version::shop_id
                .eq(check_plan::shop_id)
                .and(check_plan_version::plan_id.eq(check_plan::id))),
        )
        .filter(check_plan::shop_id.eq(shop_id).and(check_plan::withdrawn_at.is_null()))
        .filter(check_plan::model.is_null().and(check_plan::engine.is_null()))
        .filter(check_plan_version::state.eq("in_force"))
        .select((check_plan::symptom, check_plan_version::steps_json))
        .load(conn)?;
    let mut planned: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (symptom, steps) in rows {
        let steps: Vec<Step> = serde_json::from_str(&steps).unwrap_or_default();
        planned.entry(symptom).or_default().extend(steps.into_iter().map(|step| step.check));
    }
    Ok(planned)
}
