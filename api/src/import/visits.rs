//! Visits that the program makes itself come in by the road of the files.

use super::fields::Fault;
use super::known::{Placed, Said};
use super::parse::{CheckLine, JobLine};
use super::records::Visit;
use super::source::Raw;
use super::store::{NewShops, Options, Store};
use super::summary::Summary;
use crate::db::{self, Db};
use crate::domain::clock::UtcStamp;
use crate::shops::model::Shop;

/// Visits whose rows are written in one transaction.
const CHUNK: usize = 1_000;

/// Why visits did not come in.
#[derive(Debug)]
pub enum VisitsError {
    Record(db::Fault),
    /// A visit that a file would have had rejected: the maker's fault.
    Visit(String),
}

impl From<db::Fault> for VisitsError {
    fn from(fault: db::Fault) -> Self {
        Self::Record(fault)
    }
}

impl std::fmt::Display for VisitsError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Record(fault) => f.write_str(&super::told(fault)),
            Self::Visit(why) => write!(f, "a visit cannot be taken: {why}"),
        }
    }
}

/// Writes visits, sorted by their opening, into a shop of the record.
///
/// # Errors
/// See [`VisitsError`]; the chunks before stand.
pub fn import_visits(
    db: &Db,
    shop: &Shop,
    visits: impl Iterator<Item = Visit>,
    now: UtcStamp,
) -> Result<Summary, VisitsError> {
    let options = Options {
        update: false,
        dry_run: false,
        new_shops: NewShops {
            name: None,
            zone: shop.zone(),
            currency: shop.money(),
            labor_cost_minor: shop.labor_cost_minor,
            posted_rate_minor: shop.posted_rate_minor,
            window_days: shop.window_days,
        },
        links_from: None,
    };
    let mut store = Store::new(db, options, now);
    store.take_shop(shop)?;
    let mut visits = visits.peekable();
    while visits.peek().is_some() {
        let chunk: Vec<Visit> = visits.by_ref().take(CHUNK).collect();
        write_chunk(&mut store, shop, chunk)?;
        none_rejected(&store)?;
    }
    store.settle_links()?;
    none_rejected(&store)?;
    Ok(store.summary)
}

fn none_rejected(store: &Store<'_>) -> Result<(), VisitsError> {
    match store.rejects.first() {
        None => Ok(()),
        Some(reject) => {
            Err(VisitsError::Visit(format!("{}: {}", reject.file.file_name(), all(&reject.faults))))
        }
    }
}

fn write_chunk(store: &mut Store<'_>, shop: &Shop, visits: Vec<Visit>) -> db::Answer<()> {
    fn placed<T>(record: T) -> Placed<T> {
        Placed { raw: Raw::default(), record }
    }
    let (mut orders, mut jobs, mut checks) = (Vec::new(), Vec::new(), Vec::new());
    let (mut parts, mut labor) = (Vec::new(), Vec::new());
    for visit in visits {
        let mut order = visit.order;
        order.shop.clone_from(&shop.code);
        orders.push(placed(order));
        jobs.extend(visit.jobs.into_iter().map(|job| placed(JobLine { job, cause_state: None })));
        checks.extend(
            visit
                .checks
                .into_iter()
                .map(|check| placed(CheckLine { check, typed_at_close: false })),
        );
        parts.extend(visit.parts.into_iter().map(placed));
        labor.extend(visit.labor.into_iter().map(placed));
    }
    store.orders(orders, &Said::All)?;
    store.jobs(jobs, &Said::All)?;
    store.lines(checks, &Said::All)?;
    store.lines(parts, &Said::All)?;
    store.labor(labor, &Said::All)?;
    store.flush()
}

fn all(faults: &[Fault]) -> String {
    faults.iter().map(|f| format!("{} {}", f.column, f.reason)).collect::<Vec<_>>().join("; ")
}
