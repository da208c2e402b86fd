//! How often the record uses each code.

use std::collections::HashMap;

use diesel::dsl::count_star;
use diesel::prelude::*;

use super::merge::end_of;
use super::model::{entries, standings};
use crate::db::schema::{comeback, job, job_check, job_operation};
use crate::db::{Answer, Conn};
use crate::domain::codes::system_of;

/// Uses by code.
pub type Uses = HashMap<String, i64>;

/// What the record carries of a list, as it lies there, with how often.
fn carried(conn: &mut Conn, shop_id: i32, list: &str) -> Answer<Vec<(String, i64)>> {
    let counted: Vec<(Option<String>, i64)> = match list {
        "symptom" | "system" => job::table
            .filter(job::shop_id.eq(shop_id))
            .group_by(job::symptom)
            .select((job::symptom, count_star()))
            .load(conn)?,
        "cause" => job::table
            .filter(job::shop_id.eq(shop_id))
            .group_by(job::cause)
            .select((job::cause, count_star()))
            .load(conn)?,
        "when" => job::table
            .filter(job::shop_id.eq(shop_id))
            .group_by(job::happens_when)
            .select((job::happens_when, count_star()))
            .load(conn)?,
        "comeback_reason" => comeback::table
            .filter(comeback::shop_id.eq(shop_id))
            .group_by(comeback::reason)
            .select((comeback::reason, count_star()))
            .load(conn)?,
        "check" => job_check::table
            .filter(job_check::shop_id.eq(shop_id))
            .group_by(job_check::code)
            .select((job_check::code.nullable(), count_star()))
            .load(conn)?,
        _ => job_operation::table
            .filter(job_operation::shop_id.eq(shop_id))
            .group_by(job_operation::code)
            .select((job_operation::code.nullable(), count_star()))
            .load(conn)?,
    };
    Ok(counted.into_iter().filter_map(|(code, count)| Some((code?, count))).collect())
}

/// How often the record uses each code of a list: jobs, check lines, operation
/// lines or decided comebacks that carry it, or one that was merged into it.
///
/// # Errors
/// Where the database does not answer.
pub fn of_list(conn: &mut Conn, shop_id: i32, list: &str) -> Answer<Uses> {
    let carried = carried(conn, shop_id, list)?;
    let mut uses = Uses::new();
    match list {
        "system" => {
            let symptoms = standings(conn, shop_id, "symptom")?;
            let systems: HashMap<String, Option<String>> = entries(conn, shop_id, Some("symptom"))?
                .into_iter()
                .map(|entry| (entry.code, entry.system))
                .collect();
            for (symptom, count) in carried {
                let symptom = end_of(&symptoms, &symptom);
                let system = systems.get(symptom).cloned().flatten();
                let system = system.unwrap_or_else(|| system_of(symptom).to_owned());
                *uses.entry(system).or_default() += count;
            }
        }
        // A job carries all of its conditions in one text, parted by blanks.
        "when" => {
            for (all, count) in carried {
                for code in all.split_whitespace() {
                    *uses.entry(code.to_owned()).or_default() += count;
                }
            }
        }
        _ => uses.extend(carried),
    }
    let list = standings(conn, shop_id, list)?;
    let mut counted = Uses::new();
    for (code, count) in uses {
        *counted.entry(end_of(&list, &code).to_owned()).or_default() += count;
    }
    Ok(counted)
}
