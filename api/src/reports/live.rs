//! The shops' histories, in memory, brought up to the last change when they
//! are asked for. Derived: dropping one loses nothing.
//!
//! A report reads a history where it lies, under its shop's read lock; what
//! changes it takes the write lock, and only to put in what changed.

mod held;
mod kept;
mod sieve;
mod slot;
mod start;

use std::collections::HashMap;
use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use analytics::history::History;

use super::model::{self, Lists};
use crate::db::{Answer, Db, Fault};
use crate::shops::model::{Shop, by_number};
use crate::shops::write::last_change;
use kept::Keeper;
use slot::Slot;
use start::Queue;

pub use kept::{Question, Told};
pub use start::Progress;

/// A shop of up to that many jobs is read while somebody waits.
const SMALL: i64 = 5000;

/// The histories of all shops. Clones share them.
#[derive(Clone, Default)]
pub struct Live(Arc<Shared>);

struct Shared {
    /// Jobs of the largest shop for which a reader waits.
    small: i64,
    slots: Mutex<HashMap<i32, Arc<Slot>>>,
    queue: Mutex<Queue>,
    keeper: Mutex<Keeper>,
    /// Counts what any history came to say; each number is given once.
    contents: AtomicU64,
}

impl Default for Shared {
    fn default() -> Self {
        Self {
            small: SMALL,
            slots: Mutex::default(),
            queue: Mutex::default(),
            keeper: Mutex::default(),
            contents: AtomicU64::default(),
        }
    }
}

/// A lock whatever became of who held it: each guards values that are whole at
/// every moment.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Live {
    /// Reads the shop's history, up to its last change. Blocks: call it off the
    /// async threads.
    ///
    /// # Errors
    /// Where the database does not answer, its rows make no history, or a large
    /// one is not read yet.
    pub fn with<T>(&self, db: &Db, shop: &Shop, work: impl FnOnce(&History) -> T) -> Answer<T> {
        let slot = self.slot(shop.id);
        let held = slot.open(self, db, shop)?;
        Ok(work(held.get()?.history()))
    }

    /// Reads the histories of several shops at once, in the shops' order.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn with_all<T>(
        &self,
        db: &Db,
        shops: &[Shop],
        work: impl FnOnce(&[(&Shop, &History)]) -> T,
    ) -> Answer<T> {
        let mut slots: Vec<(usize, &Shop, Arc<Slot>)> =
            shops.iter().enumerate().map(|(at, shop)| (at, shop, self.slot(shop.id))).collect();
        // Whoever holds several locks takes them in one order, or two could wait
        // for each other.
        slots.sort_by_key(|(_, shop, _)| shop.id);
        let mut open = Vec::with_capacity(slots.len());
        for (at, shop, slot) in &slots {
            open.push((*at, *shop, slot.open(self, db, shop)?));
        }
        open.sort_by_key(|(at, ..)| *at);
        let mut histories = Vec::with_capacity(open.len());
        for (_, shop, held) in &open {
            histories.push((*shop, held.get()?.history()));
        }
        Ok(work(&histories))
    }

    fn slot(&self, shop_id: i32) -> Arc<Slot> {
        Arc::clone(locked(&self.0.slots).entry(shop_id).or_default())
    }
}

/// The shop's history, read for this once.
///
/// # Errors
/// As [`Live::with`].
pub fn anew(db: &Db, shop: &Shop) -> Answer<History> {
    let (facts, rows, change_no) = db.read(|conn| {
        // Its settings as they stand now, not as they were when it was found.
        let shop = &by_number(conn, shop.id)?;
        let lists = Lists::load(conn, shop)?;
        let rows = model::load(conn, shop, &lists)?;
        Ok((shop.facts(conn)?, rows, last_change(conn, shop.id)?))
    })?;
    History::new(facts, rows, change_no).map_err(|error| Fault::Unavailable(error.to_string()))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests;
