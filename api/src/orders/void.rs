//! Voiding an order: it keeps its number and its reason, and counts nowhere.

use analytics::words::LinkState;
use serde::Deserialize;

use super::change::{same_version, save};
use super::model::{Order, WholeOrder, by_id, whole};
use super::planned;
use crate::comebacks::model as comebacks;
use crate::comebacks::refine;
use crate::db::Answer;
use crate::domain::ids::OrderId;
use crate::domain::refusal::Refusal;
use crate::domain::text;
use crate::jobs::labor;
use crate::jobs::model as jobs;
use crate::jobs::waits;
use crate::shops::write::ShopWrite;

/// Why the order is void.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Voiding {
    /// Kept with the order.
    pub reason: String,
}

/// What stands when an order is to be voided.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    pub status: &'a str,
    /// Whether the writer may change what is handed over.
    pub corrects: bool,
    /// Labor entries that run on its jobs.
    pub running_labor: usize,
    /// Confirmed comebacks that its jobs are part of.
    pub confirmed_comebacks: usize,
}

/// Whether an order may be voided.
///
/// # Errors
/// Forbidden where it is handed over and the writer may not correct; a conflict
/// where something stands against it.
pub fn decide(standing: Standing<'_>) -> Result<(), Refusal> {
    let conflict = |why: &str| Err(Refusal::Conflict(why.to_owned()));
    match standing.status {
        "void" => return conflict("the order is void already"),
        "closed" if !standing.corrects => {
            return Err(Refusal::Forbidden(
                "the vehicle is handed over: ask the service manager to void the order".to_owned(),
            ));
        }
        _ => {}
    }
    if standing.running_labor > 0 {
        return conflict("somebody works on a job of the order: stop the labor first");
    }
    if standing.confirmed_comebacks > 0 {
        return conflict("a job of the order is part of a confirmed comeback: reject that first");
    }
    Ok(())
}

/// Voids an order. Proposed comebacks and plans that its jobs are part of go;
/// what was recorded on the jobs stays with them.
///
/// # Errors
/// Not found; stale; no reason; what [`decide`] answers.
pub fn void(
    write: &mut ShopWrite<'_>,
    id: &OrderId,
    seen: i32,
    with: &Voiding,
) -> Answer<WholeOrder> {
    let shop_id = write.shop.id;
    let before = by_id(write.conn, shop_id, id)?;
    same_version(&before, seen)?;
    let reason = text::required("reason", &with.reason, 1000)
        .map_err(|fault| Refusal::Invalid(vec![fault]))?;
    let jobs = jobs::of_order(write.conn, shop_id, id)?;
    let (mut running_labor, mut confirmed_comebacks) = (0, 0);
    for job in &jobs {
        let labor = labor::of_job(write.conn, shop_id, &job.id)?;
        running_labor += labor.iter().filter(|entry| entry.ended_at.is_none()).count();
        let links = comebacks::of_job(write.conn, shop_id, &job.id)?;
        confirmed_comebacks +=
            links.iter().filter(|link| link.state.0 == LinkState::Confirmed).count();
    }
    let standing = Standing {
        status: &before.status,
        corrects: write.corrects,
        running_labor,
        confirmed_comebacks,
    };
    decide(standing)?;
    write.correction = before.status == "closed";
    for job in &jobs {
        refine::withdraw(write, job)?;
        planned::forget(write, job)?;
        if job.outcome.is_none() {
            waits::work_begins(write, job, write.now)?;
        }
    }
    let after = Order {
        status: "void".to_owned(),
        closed_at: None,
        closed_on: None,
        void_reason: Some(reason),
        voided_at: Some(write.now),
        ..before.clone()
    };
    save(write, "voided", &before, after)?;
    whole(write.conn, shop_id, id)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPEN: Standing<'_> =
        Standing { status: "open", corrects: false, running_labor: 0, confirmed_comebacks: 0 };

    #[test]
    fn an_open_order_without_running_work_may_be_voided() {
        assert_eq!(decide(OPEN), Ok(()));
        let conflict = |standing| matches!(decide(standing), Err(Refusal::Conflict(_)));
        assert!(conflict(Standing { running_labor: 1, ..OPEN }));
        assert!(conflict(Standing { confirmed_comebacks: 1, ..OPEN }));
        assert!(conflict(Standing { status: "void", corrects: true, ..OPEN }));
    }

    #[test]
    fn after_the_hand_over_only_who_corrects() {
        let closed = Standing { status: "closed", ..OPEN };
        assert!(matches!(decide(closed), Err(Refusal::Forbidden(_))));
        assert_eq!(decide(Standing { corrects: true, ..closed }), Ok(()));
    }
}
