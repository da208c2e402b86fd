//! Histories that are read in the background: all of them after the start, later
//! a large one that is not there. Recording never waits for that.

use std::collections::{BTreeSet, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};

use super::{Live, locked};
use crate::db::{Answer, Db, Fault};
use crate::shops::model::{Shop, all};
use crate::shops::write::last_change;

/// Histories read at once: the rows of one shop are in memory while it is read.
const WORKERS: usize = 2;

/// How many shops' reports can be asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    pub ready: usize,
    pub of: usize,
}

/// What is to be read, and who reads.
#[derive(Default)]
pub(super) struct Queue {
    waiting: VecDeque<(Db, Shop)>,
    /// Those that wait, and those that are being read.
    awaited: BTreeSet<i32>,
    /// How many came in since nothing was awaited.
    round: usize,
    workers: usize,
}

impl Queue {
    fn add(&mut self, db: &Db, shop: &Shop) {
        if self.awaited.is_empty() {
            self.round = 0;
        }
        if self.awaited.insert(shop.id) {
            self.round += 1;
            self.waiting.push_back((db.clone(), shop.clone()));
        }
    }

    const fn is_short_of_workers(&self) -> bool {
        self.workers < WORKERS
    }

    /// The next one; a worker that finds none is dismissed.
    fn next(&mut self) -> Option<(Db, Shop)> {
        let next = self.waiting.pop_front();
        if next.is_none() {
            self.workers -= 1;
        }
        next
    }
}

impl Live {
    /// Begins to read every shop's history, the busiest first.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn begin(&self, db: &Db) -> Answer<()> {
        let mut shops = db.read(|conn| {
            let shops = all(conn)?.into_iter();
            let busy = shops.map(|shop| Ok((last_change(conn, shop.id)?, shop)));
            busy.collect::<Answer<Vec<(i64, Shop)>>>()
        })?;
        shops.sort_by_key(|(changes, _)| std::cmp::Reverse(*changes));
        let mut queue = locked(&self.0.queue);
        shops.iter().for_each(|(_, shop)| queue.add(db, shop));
        drop(queue);
        (0..WORKERS.min(shops.len())).for_each(|_| self.employ());
        Ok(())
    }

    /// Sees to it that the shop's history will be there; answers what to say until
    /// it is.
    pub(super) fn read_later(&self, db: &Db, shop: &Shop) -> Fault {
        let mut queue = locked(&self.0.queue);
        queue.add(db, shop);
        let (of, left) = (queue.round, queue.awaited.len());
        drop(queue);
        self.employ();
        let ready = of.saturating_sub(left);
        let shops = if of == 1 { "shop" } else { "shops" };
        Fault::NotReady(format!(
            "the record is being read for reports: {ready} of {of} {shops} done"
        ))
    }

    /// Of a number of shops, those whose reports need not wait.
    #[must_use]
    pub fn progress(&self, shops: usize) -> Progress {
        let awaited = locked(&self.0.queue).awaited.len();
        Progress { ready: shops.saturating_sub(awaited), of: shops }
    }

    fn employ(&self) {
        let mut queue = locked(&self.0.queue);
        if !queue.is_short_of_workers() || queue.waiting.is_empty() {
            return;
        }
        queue.workers += 1;
        drop(queue);
        let live = self.clone();
        let named = std::thread::Builder::new().name("histories".into());
        if let Err(error) = named.spawn(move || live.work()) {
            tracing::error!(%error, "nobody can read the histories");
            let mut queue = locked(&self.0.queue);
            queue.workers -= 1;
            queue.waiting.clear();
            queue.awaited.clear();
        }
    }

    fn work(&self) {
        loop {
            // Named, so that the lock is let go before the reading begins.
            let next = locked(&self.0.queue).next();
            let Some((db, shop)) = next else { return };
            let slot = self.slot(shop.id);
            let read = catch_unwind(AssertUnwindSafe(|| slot.fill(self, &db, &shop)));
            if read.is_err() {
                tracing::error!(shop = shop.code, "the reading of a shop's history broke off");
            }
            locked(&self.0.queue).awaited.remove(&shop.id);
        }
    }
}
