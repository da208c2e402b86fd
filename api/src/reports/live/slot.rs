//! One shop's place among the histories: many read at once, one brings it up to
//! date.

use std::sync::{Mutex, PoisonError, RwLock, RwLockReadGuard};

use super::held::{Held, Step};
use super::{Live, locked};
use crate::db::{Answer, Db, Fault};
use crate::reports::model::{has_more_jobs_than, stamp};
use crate::shops::model::Shop;

#[derive(Default)]
pub(super) struct Slot {
    /// Empty before it is read, and while it changes: what fails half-way, or
    /// panics, leaves nothing behind that could be taken for true.
    held: RwLock<Option<Held>>,
    /// Whoever holds it brings the history up to date; the others wait and
    /// find it done.
    turn: Mutex<()>,
    /// Why the last reading in the background failed, told once.
    failed: Mutex<Option<String>>,
}

/// A history under its read lock.
pub(super) struct Open<'a>(RwLockReadGuard<'a, Option<Held>>);

impl Open<'_> {
    pub fn get(&self) -> Answer<&Held> {
        self.0.as_ref().ok_or_else(|| Fault::Unavailable("the history is gone again".into()))
    }
}

impl Slot {
    fn read(&self) -> RwLockReadGuard<'_, Option<Held>> {
        self.held.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn put(&self, held: Option<Held>) {
        *self.held.write().unwrap_or_else(PoisonError::into_inner) = held;
    }

    /// The history up to the last change that is committed now. A large one that
    /// is not there is read in the background.
    pub fn open(&self, live: &Live, db: &Db, shop: &Shop) -> Answer<Open<'_>> {
        let now = db.read(|conn| stamp(conn, shop.id))?;
        let held = self.read();
        match &*held {
            Some(of) if of.stamp() == now => return Ok(Open(held)),
            Some(_) => {}
            None => {
                drop(held);
                self.wait_for(live, db, shop)?;
                return self.up_to_date(live, db, shop);
            }
        }
        drop(held);
        self.up_to_date(live, db, shop)
    }

    /// Nobody waits until a large history is read.
    fn wait_for(&self, live: &Live, db: &Db, shop: &Shop) -> Answer<()> {
        if !db.read(|conn| has_more_jobs_than(conn, shop.id, live.0.small))? {
            return Ok(());
        }
        if let Some(why) = locked(&self.failed).take() {
            return Err(Fault::Unavailable(why));
        }
        Err(live.read_later(db, shop))
    }

    fn up_to_date(&self, live: &Live, db: &Db, shop: &Shop) -> Answer<Open<'_>> {
        let _turn = locked(&self.turn);
        let step = {
            let held = self.read();
            db.read(|conn| Step::read(conn, shop, held.as_ref()))?
        };
        match step {
            Step::Stay => {}
            Step::Change(change) => {
                let mut held = self.held.write().unwrap_or_else(PoisonError::into_inner);
                if let Some(own) = held.take() {
                    *held = Some(own.changed(change, live)?);
                }
            }
            Step::Rebuild => {
                self.put(None);
                self.wait_for(live, db, shop)?;
                self.put(Some(Held::read(live, db, shop)?));
            }
        }
        // Whoever would change it again waits for this turn.
        Ok(Open(self.read()))
    }

    #[cfg(test)]
    pub fn is_filled(&self) -> bool {
        self.read().is_some()
    }

    /// Reads it for those who come later, however large it is.
    pub fn fill(&self, live: &Live, db: &Db, shop: &Shop) {
        let _turn = locked(&self.turn);
        if self.read().is_some() {
            return;
        }
        match Held::read(live, db, shop) {
            Ok(held) => self.put(Some(held)),
            Err(fault) => {
                tracing::error!(shop = shop.code, ?fault, "a shop's history cannot be read");
                *locked(&self.failed) = Some(format!("{fault:?}"));
            }
        }
    }
}
