//! Labor of several shops: each is asked the same, on its own days.

use analytics::figure::Query;
use analytics::history::History;
use analytics::labor::{GroupLabor, labor_of_group};

use super::{ReportName, ReportQuery, resolve};
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
