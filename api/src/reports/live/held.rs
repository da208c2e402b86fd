//! A history with what it was made under, and how it gets from there to what is
//! true now.

use analytics::history::{History, ShopFacts};

use super::Live;
use super::sieve::{ALWAYS, Changed, Moves, Sieve};
use crate::db::{Answer, Conn, Db, Fault};
use crate::reports::model::{self, Lists, Stamp, stamp};
use crate::shops::model::{Shop, by_number};

pub(super) struct Held {
    stamp: Stamp,
    shop: Shop,
    lists: Lists,
    history: History,
    moves: Moves,
    sieve: Sieve,
}

/// The shop's settings, where they are not those that a history was made under.
pub(super) struct Settings {
    shop: Shop,
    facts: ShopFacts,
    lists: Lists,
}

impl Settings {
    fn read(conn: &mut Conn, shop: &Shop) -> Answer<Self> {
        let shop = by_number(conn, shop.id)?;
        Ok(Self { facts: shop.facts(conn)?, lists: Lists::load(conn, &shop)?, shop })
    }
}

/// What makes a history true again.
pub(super) struct Change {
    stamp: Stamp,
    settings: Option<Settings>,
    rows: Changed,
}

/// How to get from what is held to what is true.
pub(super) enum Step {
    Stay,
    Change(Box<Change>),
    Rebuild,
}

impl Step {
    pub fn read(conn: &mut Conn, shop: &Shop, held: Option<&Held>) -> Answer<Self> {
        let now = stamp(conn, shop.id)?;
        let Some(held) = held else { return Ok(Self::Rebuild) };
        if held.stamp == now {
            return Ok(Self::Stay);
        }
        // A change number that went back is another record (a restored one).
        if held.stamp.change_no > now.change_no {
            return Ok(Self::Rebuild);
        }
        let settings = match held.stamp.settings == now.settings {
            true => None,
            false => Some(Settings::read(conn, shop)?),
        };
        let lists = settings.as_ref().map_or(&held.lists, |settings| &settings.lists);
        // What lists say differently may stand on every row.
        if !held.lists.still_hold(lists) {
            return Ok(Self::Rebuild);
        }
        let (touched, rows) = model::load_changed(conn, shop, lists, held.stamp.change_no)?;
        let rows = held.sieve.sift(&held.history, touched, rows);
        Ok(Self::Change(Box::new(Change { stamp: now, settings, rows })))
    }
}

impl Held {
    /// The history as it stands, read whole.
    pub fn read(live: &Live, db: &Db, shop: &Shop) -> Answer<Self> {
        let (stamp, settings, rows) = db.read(|conn| {
            let settings = Settings::read(conn, shop)?;
            let rows = model::load(conn, &settings.shop, &settings.lists)?;
            Ok((stamp(conn, shop.id)?, settings, rows))
        })?;
        let Settings { shop, facts, lists } = settings;
        let history = History::new(facts, rows, stamp.change_no).map_err(broken)?;
        let moves = Moves::new(live.next_content());
        Ok(Self { stamp, shop, lists, history, moves, sieve: Sieve::default() })
    }

    /// With what changed. What fails here is gone: nobody can say how far it came.
    pub fn changed(mut self, change: Box<Change>, live: &Live) -> Answer<Self> {
        let Change { stamp, settings, rows } = *change;
        let Changed { touched, rows, since, seen } = rows;
        self.history.apply(&touched, rows, stamp.change_no).map_err(broken)?;
        self.sieve.keep(seen);
        if let Some(day) = since {
            self.moves.note(day, live.next_content());
        }
        if let Some(Settings { shop, facts, lists }) = settings {
            if *self.history.facts() != facts {
                self.history.set_facts(facts);
                self.moves.note(ALWAYS, live.next_content());
            }
            (self.shop, self.lists) = (shop, lists);
        }
        self.stamp = stamp;
        Ok(self)
    }

    pub const fn stamp(&self) -> Stamp {
        self.stamp
    }

    pub const fn history(&self) -> &History {
        &self.history
    }

    pub const fn shop(&self) -> &Shop {
        &self.shop
    }

    pub const fn moves(&self) -> &Moves {
        &self.moves
    }
}

fn broken(error: analytics::history::HistoryError) -> Fault {
    Fault::Unavailable(error.to_string())
}
