//! An import under way: what it knows, what it is about to write, and what it
//! will say.

use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

use chrono::NaiveDate;
use diesel::prelude::*;

use super::changes::Changes;
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{Known, ShopPlace, ShopState};
use super::labels::{self, Labels};
use super::parse;
use super::source::{Header, Raw};
use super::summary::{Summary, Tally};
use crate::codes::model::{self as codes, CodeEntry};
use crate::db::schema::{labor_entry, person, shop_group};
use crate::db::{Answer, Conn, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::LISTS;
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

    /// Writes what the chunk came to, one transaction a shop.
    ///
    /// # Errors
    /// Where the record does not take it; the shops before stand.
    pub fn flush(&mut self) -> Answer<()> {
        for (place, changes) in std::mem::take(&mut self.pending) {
            let shop = self.known.shops.get(place).and_then(|state| state.shop.clone());
            if let (false, false, Some(shop)) = (self.options.dry_run, changes.is_empty(), shop) {
                let now = self.now;
                self.db.write_blocking(move |conn| changes.write(conn, &shop, now))?;
            }
        }
        Ok(())
    }

    /// The shop of a code, made where there is none.
    pub(super) fn shop(&mut self, code: &str) -> Answer<ShopPlace> {
        if let Some(place) = self.known.shops.iter().position(|shop| shop.code == code) {
            return Ok(place);
        }
        let (group, found) = self.db.read(|conn| find_shop(conn, code))?;
        let state = match found {
            Some(shop) => self.db.read(|conn| state_of(conn, shop, false))?,
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
        let state = self.db.read(|conn| state_of(conn, shop.clone(), false))?;
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
        self.db.read(|conn| state_of(conn, shop, true))
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

    /// The small number of a shop in the record; `None` where nothing of the
    /// shop can be there yet.
    pub(super) fn number_in_record(&self, place: ShopPlace) -> Option<i32> {
        self.known.shops.get(place).filter(|shop| !shop.fresh).map(|shop| shop.number)
    }

    /// The currency of a row's amounts.
    pub(super) fn money_of_row(&self, header: &Header, raw: &Raw) -> Currency {
        self.known.money_of(parse::order_no(header, raw).as_deref())
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
            let order = parse::order_no(header, raw).and_then(|no| self.known.orders.get(&*no));
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

    /// Another file begins.
    pub fn next_file(&mut self) {
        self.known.next_file();
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

fn state_of(conn: &mut Conn, shop: Shop, fresh: bool) -> Answer<ShopState> {
    let listed = |list: &str| LISTS.iter().copied().find(|known| *known == list);
    let entries = codes::entries(conn, shop.id, None)?;
    let codes = entries
        .iter()
        .filter_map(|entry| Some((listed(&entry.list)?, entry.code.clone())))
        .collect();
    let labels = Labels::new(entries.into_iter().filter_map(|entry| {
        let list = listed(&entry.list).filter(|_| entry.is_live())?;
        Some((list, entry.code, entry.label))
    }));
    let labor: Option<i32> = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop.id))
        .select(labor_entry::shop_id)
        .first(conn)
        .optional()?;
    Ok(ShopState {
        number: shop.id,
        code: shop.code.clone(),
        zone: shop.zone(),
        money: shop.money(),
        fresh,
        had_labor: labor.is_some(),
        codes,
        labels,
        group: Some(shop.group_id.clone()),
        shop: Some(Arc::new(shop)),
    })
}

/// The person of a name, and whether they work in the shop already.
fn find_person(
    conn: &mut Conn,
    group: &GroupId,
    shop_id: i32,
    name: &str,
) -> Answer<Option<(PersonId, bool)>> {
    let found: Option<PersonId> = person::table
        .filter(person::group_id.eq(group).and(person::name.eq(name)))
        .select(person::id)
        .first(conn)
        .optional()?;
    match found {
        Some(id) => {
            let works = people::works_in(conn, &id, shop_id)?;
            Ok(Some((id, works)))
        }
        None => Ok(None),
    }
}

/// The lists that a new shop would start with.
fn starting_codes() -> HashSet<(&'static str, String)> {
    labels::starting().map(|(list, code, _)| (list, code.to_owned())).collect()
}
