//! Several shops: each is asked the same, on its own days.

use analytics::figure::Query;
use analytics::history::History;
use analytics::labor::{GroupLabor, labor_of_group};
use chrono::NaiveDate;

use super::{Faults, ReportName, ReportQuery, as_of, resolve};
use crate::domain::clock::UtcStamp;
use crate::domain::refusal::Refusal;
use crate::shops::model::Shop;

/// The shops in their order, and all of them together.
///
/// # Errors
/// Every parameter that cannot be taken.
pub fn labor_of_shops(
    shops: &[(&Shop, &History)],
    now: UtcStamp,
    query: &ReportQuery,
) -> Result<GroupLabor, Refusal> {
    let mut parts: Vec<(&History, Query)> = Vec::new();
    for (shop, history) in shops {
        parts.push((*history, resolve(ReportName::Labor, query, shop, now)?.figures));
    }
    Ok(labor_of_group(&parts))
}

/// The day at the end of which the shop's record is cut.
///
/// # Errors
/// A day that cannot be taken.
pub fn cut_at(query: &ReportQuery, shop: &Shop, now: UtcStamp) -> Result<NaiveDate, Refusal> {
    let mut faults = Faults::default();
    let day = as_of(&mut faults, query, shop, now);
    if faults.0.is_empty() { Ok(day) } else { Err(Refusal::Invalid(faults.0)) }
}
