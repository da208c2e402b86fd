//! The shops' histories, in memory, brought up to the last change when they
//! are asked for. Derived: dropping one loses nothing.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError, RwLock};

use analytics::history::{History, HistoryError, JobId, Rows, ShopFacts};

use super::model::{self, Lists};
use crate::db::{Answer, Conn, Db, Fault};
use crate::shops::model::{Shop, by_number};
use crate::shops::write::last_change;

/// The histories of all shops. Clones share them.
#[derive(Clone, Default)]
pub struct Live(Arc<Mutex<HashMap<i32, Arc<Slot>>>>);

/// One shop's place.
#[derive(Default)]
struct Slot {
    held: RwLock<Option<Held>>,
    /// Whoever holds it brings the history up to date; the others wait and
    /// find it done.
    turn: Mutex<()>,
}

/// A history with what it was made under.
#[derive(Clone)]
struct Held {
    under: Under,
    history: Arc<History>,
}

/// What tells whether a history is still true: beside the change number, what
/// changes without one.
#[derive(Clone, PartialEq)]
struct Under {
    change_no: i64,
    facts: ShopFacts,
    lists: Lists,
}

impl Under {
    fn read(conn: &mut Conn, shop: &Shop) -> Answer<Self> {
        Ok(Self {
            change_no: last_change(conn, shop.id)?,
            facts: by_number(conn, shop.id)?.facts(conn)?,
            lists: Lists::load(conn, shop)?,
        })
    }
}

/// How to get from what is held to what is true.
enum Step {
    Stay(Arc<History>),
    Apply(Arc<History>, Vec<JobId>, Rows),
    Rebuild(Rows),
}

impl Step {
    fn read(conn: &mut Conn, shop: &Shop, held: Option<Held>, now: &Under) -> Answer<Self> {
        match held {
            Some(held) if held.under == *now => Ok(Self::Stay(held.history)),
            // A change number that went back is another record (a restored
            // one); what lists say differently may stand on every row.
            Some(held)
                if held.under.lists.still_hold(&now.lists)
                    && held.under.change_no <= now.change_no =>
            {
                let (touched, rows) =
                    model::load_changed(conn, shop, &now.lists, held.under.change_no)?;
                Ok(Self::Apply(held.history, touched, rows))
            }
            _ => model::load(conn, shop, &now.lists).map(Self::Rebuild),
        }
    }

    /// Copies the history only where a reader has it in hand.
    fn take(self, under: &Under) -> Result<Arc<History>, HistoryError> {
        match self {
            Self::Stay(history) => Ok(history),
            Self::Apply(mut history, touched, rows) => {
                let own = Arc::make_mut(&mut history);
                own.apply(&touched, rows, under.change_no)?;
                own.set_facts(under.facts.clone());
                Ok(history)
            }
            Self::Rebuild(rows) => {
                History::new(under.facts.clone(), rows, under.change_no).map(Arc::new)
            }
        }
    }
}

impl Live {
    /// The shop's history up to its last change. Blocks: call it off the async
    /// threads.
    ///
    /// # Errors
    /// Where the database does not answer, or its rows make no history.
    pub fn history(&self, db: &Db, shop: &Shop) -> Answer<Arc<History>> {
        let slot = self.slot(shop.id);
        let now = db.read(|conn| Under::read(conn, shop))?;
        match slot.held() {
            Some(held) if held.under == now => Ok(held.history),
            _ => slot.refresh(db, shop),
        }
    }

    fn slot(&self, shop_id: i32) -> Arc<Slot> {
        let mut slots = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(slots.entry(shop_id).or_default())
    }
}

impl Slot {
    fn held(&self) -> Option<Held> {
        self.held.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn put(&self, held: Option<Held>) {
        *self.held.write().unwrap_or_else(PoisonError::into_inner) = held;
    }

    fn refresh(&self, db: &Db, shop: &Shop) -> Answer<Arc<History>> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let held = self.held();
        let (under, step) = db.read(|conn| {
            let now = Under::read(conn, shop)?;
            let step = Step::read(conn, shop, held, &now)?;
            Ok((now, step))
        })?;
        // Empty while it changes: then nobody else has it in hand, and what
        // fails half-way is filled anew.
        self.put(None);
        let history = step.take(&under).map_err(|error| Fault::Unavailable(error.to_string()))?;
        self.put(Some(Held { under, history: Arc::clone(&history) }));
        Ok(history)
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests;
