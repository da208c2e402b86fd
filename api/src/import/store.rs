//! An import under way: what it knows, what it is about to write, and what it
//! will say.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::thread::JoinHandle;

use chrono::NaiveDate;
use diesel::prelude::*;

use super::changes::Changes;
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{Known, ShopPlace, ShopState};
use super::labels::Labels;
use super::parse;
use super::source::{Header, Raw};
use super::state::{find_person, starting_codes, state_of};
use super::summary::{Summary, Tally};
use crate::codes::model::CodeEntry;
use crate::db::schema::shop_group;
use crate::db::{self, Answer, Conn, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, PersonId};
use crate::domain::money::Currency;
use crate::domain::zone::Zone;
use crate::people::model as people;
use crate::shops::model::{self as shops, NewShop, ReturnCosts, Settings, Shop};

/// Settings of shops that the record does not have yet.
#[derive(Debug, Clone)]
pub struct NewShops {
    /// Absent: the shop's code.
    pub name: Option<String>,
    pub zone: Zone,
    pub currency: Currency,
    pub labor_cost_minor: i64,
    pub posted_rate_minor: i64,
    pub window_days: i32,
}

/// How to import.
#[derive(Debug, Clone)]
pub struct Options {
    /// Rows that differ from the record are written over it.
    pub update: bool,
    /// Nothing is written.
    pub dry_run: bool,
    pub new_shops: NewShops,
    /// From when on the files name the comebacks.
    pub links_from: Option<NaiveDate>,
}

/// A row that was not taken, with all that is wrong with it.
#[derive(Debug, Clone)]
pub struct Reject {
    pub file: HistoryFile,
    pub raw: Raw,
    pub faults: Vec<Fault>,
}

/// An import under way.
pub struct Store<'a> {
    pub(super) db: &'a Db,
    pub(super) options: Options,
    now: UtcStamp,
    pub(super) known: Known,
    pending: BTreeMap<ShopPlace, Changes>,
    /// The chunk before, on its way into the record while this one is placed.
    under_way: Option<JoinHandle<Answer<()>>>,
    pub summary: Summary,
    /// To be taken and told by whoever drives the import.
    pub rejects: Vec<Reject>,
}

impl<'a> Store<'a> {
    /// An import that has met nothing yet.
    #[must_use]
    pub fn new(db: &'a Db, options: Options, now: UtcStamp) -> Self {
        Self {
            db,
            options,
            now,
            known: Known::default(),
            pending: BTreeMap::new(),
            under_way: None,
            summary: Summary::default(),
            rejects: Vec::new(),
        }
    }

    /// Turns a row away.
    pub(super) fn reject(&mut self, file: HistoryFile, raw: Raw, faults: Vec<Fault>) {
        self.summary.file(file).rejected += 1;
        self.rejects.push(Reject { file, raw, faults });
    }

    /// What will be written to a shop next.
    pub(super) fn changes(&mut self, shop: ShopPlace) -> &mut Changes {
        self.pending.entry(shop).or_default()
    }

    /// Sends what the chunk came to on its way into the record, one transaction
    /// a shop, when the chunk before is there.
    ///
    /// # Errors
    /// Where the record did not take the chunk before; those before it stand.
    pub fn flush(&mut self) -> Answer<()> {
        self.settle()?;
        let mut writes = Vec::new();
        for (place, changes) in std::mem::take(&mut self.pending) {
            let shop = self.known.shops.get(place).and_then(|state| state.shop.clone());
            if let (false, false, Some(shop)) = (self.options.dry_run, changes.is_empty(), shop) {
                writes.push((shop, changes));
            }
        }
        if !writes.is_empty() {
            let (db, now) = (self.db.clone(), self.now);
            let writer = std::thread::Builder::new().name("history-writer".into());
            let started = writer.spawn(move || write_all(&db, writes, now));
            self.under_way =
                Some(started.map_err(|error| db::Fault::Unavailable(error.to_string()))?);
        }
        Ok(())
    }

    /// Waits until everything that was flushed is in the record.
    ///
    /// # Errors
    /// Where the record did not take it.
    pub fn settle(&mut self) -> Answer<()> {
        let stopped = |_| Err(db::Fault::Unavailable("the import's writer has stopped".into()));
        self.under_way.take().map_or(Ok(()), |writer| writer.join().unwrap_or_else(stopped))
    }

    /// Reads the record as everything that was flushed leaves it.
    pub(super) fn look<T>(&mut self, work: impl FnOnce(&mut Conn) -> Answer<T>) -> Answer<T> {
        self.settle()?;
        self.db.read(work)
    }

    /// The shop of a code, made where there is none.
    pub(super) fn shop(&mut self, code: &str) -> Answer<ShopPlace> {
        if let Some(place) = self.known.shops.iter().position(|shop| shop.code == code) {
            return Ok(place);
        }
        let (group, found) = self.db.read(|conn| find_shop(conn, code))?;
        let state = match found {
            Some(shop) => self.db.read(|conn| state_of(conn, shop))?,
            None => {
                self.summary.shops.push(code.to_owned());
                self.make_shop(code, group)?
            }
        };
        self.known.shops.push(state);
        Ok(self.known.shops.len() - 1)
    }

    /// Takes a shop that is in the record already.
    pub(super) fn take_shop(&mut self, shop: &Shop) -> Answer<ShopPlace> {
        let state = self.db.read(|conn| state_of(conn, shop.clone()))?;
        self.known.shops.push(state);
        Ok(self.known.shops.len() - 1)
    }

    fn make_shop(&self, code: &str, group: Option<GroupId>) -> Answer<ShopState> {
        let new = &self.options.new_shops;
        if self.options.dry_run {
            return Ok(ShopState {
                shop: None,
                number: 0,
                code: code.to_owned(),
                zone: new.zone,
                money: new.currency.clone(),
                fresh: true,
                had_labor: false,
                codes: starting_codes(),
                labels: Labels::starting(),
                group,
            });
        }
        let wanted = NewShop {
            code: code.to_owned(),
            name: new.name.clone().unwrap_or_else(|| code.to_owned()),
            zone: new.zone,
            currency: new.currency.clone(),
            labor_cost_minor: new.labor_cost_minor,
            posted_rate_minor: new.posted_rate_minor,
            window_days: new.window_days,
            week_start: 1,
            date_style: None,
            return_costs: ReturnCosts::default(),
        };
        let now = self.now;
        let shop = self.db.write_blocking(move |conn| {
            let group = shops::first_group(conn, "Group", now)?;
            shops::make(conn, &group, &wanted)
        })?;
        self.db.read(|conn| state_of(conn, shop))
    }

    /// Adds a code to the shop's list where it is not there.
    pub(super) fn know_code(&mut self, place: ShopPlace, list: &'static str, code: Option<&str>) {
        let (Some(code), Some(shop)) = (code, self.known.shops.get_mut(place)) else {
            return;
        };
        if !shop.codes.insert((list, code.to_owned())) {
            return;
        }
        if let Some(meant) = shop.labels.code(list, code) {
            self.summary.labels.insert((list, code.to_owned()), meant.to_owned());
        }
        let entry = CodeEntry::plain(shop.number, list, code, code, "import");
        let system = entry.system.clone();
        self.changes(place).codes.push(entry);
        self.summary.codes.entry(list).or_default().insert(code.to_owned());
        self.know_code(place, "system", system.as_deref());
    }

    /// The technician of a name, made where there is none.
    pub(super) fn person(&mut self, place: ShopPlace, name: &str) -> Answer<Option<PersonId>> {
        let key = (place, name.to_owned());
        if let Some(id) = self.known.people.get(&key) {
            return Ok(Some(id.clone()));
        }
        let Some(shop) = self.known.shops.get(place) else {
            return Ok(None);
        };
        let (number, group) = (shop.number, shop.group.clone());
        let found = match &group {
            Some(group) => self.db.read(|conn| find_person(conn, group, number, name))?,
            None => None,
        };
        let id = match (found, group) {
            (Some((id, true)), _) => id,
            (Some((id, false)), _) if self.options.dry_run => id,
            (found, Some(group)) if !self.options.dry_run => {
                if found.is_none() {
                    self.summary.people.insert(name.to_owned());
                }
                let name = name.to_owned();
                self.db.write_blocking(move |conn| people::named(conn, &group, number, &name))?
            }
            _ => {
                self.summary.people.insert(name.to_owned());
                PersonId::make()
            }
        };
        self.known.people.insert(key, id.clone());
        Ok(Some(id))
    }

    /// The small number of a shop in the record; `None` where nothing of its work
    /// can be there yet.
    pub(super) fn number_in_record(&self, place: ShopPlace) -> Option<i32> {
        self.known.shops.get(place).filter(|shop| !shop.fresh).map(|shop| shop.number)
    }

    /// The currency of a row's amounts.
    pub(super) fn money_of_row(&self, header: &Header, raw: &Raw) -> Currency {
        self.known.money_of(parse::order_named(header, raw).as_deref())
    }

    /// The zone of a row's shop: what the settings of the shop say, or of one
    /// that is still to be made.
    ///
    /// # Errors
    /// Where the record does not answer.
    pub(super) fn zone_of_row(
        &self,
        file: HistoryFile,
        header: &Header,
        raw: &Raw,
    ) -> Answer<Zone> {
        let shops = &self.known.shops;
        if file != HistoryFile::Orders {
            let order = parse::order_named(header, raw).and_then(|no| self.known.orders.get(&*no));
            let shop = order.and_then(|order| shops.get(order.shop));
            return Ok(shop.map_or(Zone::UTC, |shop| shop.zone));
        }
        let code = header.place("shop").and_then(|at| raw.fields.get(at)).unwrap_or_default();
        if let Some(shop) = shops.iter().find(|shop| shop.code == code) {
            return Ok(shop.zone);
        }
        let (_, found) = self.db.read(|conn| find_shop(conn, code))?;
        Ok(found.map_or(self.options.new_shops.zone, |shop| shop.zone()))
    }

    /// Writes from when on links are known, into every shop of the files.
    ///
    /// # Errors
    /// Where the record does not take it.
    pub(super) fn settle_links_from(&self) -> Answer<()> {
        let (Some(day), false) = (self.options.links_from, self.options.dry_run) else {
            return Ok(());
        };
        for shop in self.known.shops.iter().filter_map(|state| state.shop.clone()) {
            self.db.write_blocking(move |conn| {
                let row = shops::by_number(conn, shop.id)?;
                if row.links_from != Some(day) {
                    let settings = Settings { links_from: Some(Some(day)), ..Settings::default() };
                    shops::change(conn, shop.id, row.version, &settings)?;
                }
                Ok(())
            })?;
        }
        Ok(())
    }
}

fn write_all(db: &Db, writes: Vec<(Arc<Shop>, Changes)>, now: UtcStamp) -> Answer<()> {
    for (shop, changes) in writes {
        db.write_blocking(move |conn| changes.write(conn, &shop, now))?;
    }
    Ok(())
}

/// Counts a row one way or the other.
pub(super) fn count(tally: &mut Tally, outcome: Outcome) {
    match outcome {
        Outcome::Added => tally.added += 1,
        Outcome::Unchanged => tally.unchanged += 1,
        Outcome::Changed => tally.changed += 1,
    }
}

/// What became of a good row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    Added,
    Unchanged,
    Changed,
}

/// The shop of a code, where the record has it.
///
/// # Errors
/// Where the record does not answer.
pub fn shop_of_code(conn: &mut Conn, code: &str) -> Answer<Option<Shop>> {
    Ok(find_shop(conn, code)?.1)
}

fn find_shop(conn: &mut Conn, code: &str) -> Answer<(Option<GroupId>, Option<Shop>)> {
    let group: Option<GroupId> = shop_group::table
        .order(shop_group::created_at)
        .select(shop_group::id)
        .first(conn)
        .optional()?;
    let found = match &group {
        Some(group) => shops::of_group(conn, group)?.into_iter().find(|shop| shop.code == code),
        None => None,
    };
    Ok((group, found))
}
