//! A shop's row.

use std::collections::{BTreeMap, BTreeSet};

use analytics::history::ShopFacts;
use analytics::words::Access;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::part_policy::policies;
use crate::codes::merge::{Standing, Standings, end_of};
use crate::codes::starting::{CHECKS, FREE_LOOKS};
use crate::db::schema::{code_entry, shop, shop_counter, shop_group};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, ShopPublicId};
use crate::domain::money::Currency;
use crate::domain::refusal::Refusal;
use crate::domain::style::{DateStyle, Style};
use crate::domain::zone::Zone;
use crate::plans;

/// A shop with its settings. Amounts are minor units of `currency`; rates are
/// an hour.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = shop)]
#[schema(as = Shop)]
pub struct Shop {
    /// The small number that rows carry.
    #[serde(skip)]
    pub id: i32,
    #[serde(rename = "id")]
    pub public_id: ShopPublicId,
    #[serde(skip)]
    pub group_id: GroupId,
    pub code: String,
    pub name: String,
    pub time_zone: String,
    pub currency: String,
    #[schema(value_type = Option<i64>)]
    pub labor_cost_minor: i64,
    #[schema(value_type = Option<i64>)]
    pub posted_rate_minor: i64,
    pub window_days: i32,
    /// 1 = Monday ... 7 = Sunday.
    pub week_start: i32,
    pub ceiling_permille: i32,
    #[schema(value_type = Option<i64>)]
    pub return_diagnosis_minor: i64,
    #[schema(value_type = Option<i64>)]
    pub return_proof_minor: i64,
    #[schema(value_type = Option<i64>)]
    pub return_transport_minor: i64,
    #[schema(value_type = Option<i64>)]
    pub return_bay_minor: i64,
    #[schema(value_type = Option<i64>)]
    pub return_goodwill_minor: i64,
    pub assumed_cleaned_suspect_permille: i32,
    pub assumed_bystander_tested_permille: i32,
    pub assumed_bystander_untested_permille: i32,
    pub assumed_replaced_permille: i32,
    /// Jobs closed before this day enter no comeback share.
    pub links_from: Option<NaiveDate>,
    pub version: i32,
    /// How pages write days, times and money; null: as is usual with the currency.
    #[schema(value_type = Option<DateStyle>)]
    pub date_style: Option<Word<DateStyle>>,
    /// Days after the hand-over on which the customer is called; 0: never; null:
    /// 7.
    pub follow_up_days: Option<i32>,
    /// The same for complaints that come and go; null: 21.
    pub follow_up_intermittent_days: Option<i32>,
}

/// What a new shop is made with; the rest are starting values.
#[derive(Debug, Clone)]
pub struct NewShop {
    pub code: String,
    pub name: String,
    pub zone: Zone,
    pub currency: Currency,
    pub labor_cost_minor: i64,
    pub posted_rate_minor: i64,
    pub window_days: i32,
    pub week_start: i32,
    /// As is usual with the currency, where nobody has said.
    pub date_style: Option<DateStyle>,
    pub return_costs: ReturnCosts,
}

/// What a return costs besides its labor and the part, in minor units.
#[derive(Debug, Clone, Copy, Default)]
pub struct ReturnCosts {
    pub diagnosis: i64,
    pub proof: i64,
    pub transport: i64,
    pub bay: i64,
    pub goodwill: i64,
}

impl Shop {
    /// The zone; UTC where the stored name means nothing any more.
    #[must_use]
    pub fn zone(&self) -> Zone {
        Zone::parse(&self.time_zone).unwrap_or(Zone::UTC)
    }

    /// The currency of all its amounts.
    #[must_use]
    pub fn money(&self) -> Currency {
        Currency::parse(&self.currency).unwrap_or_else(Currency::none)
    }

    /// How its people write.
    #[must_use]
    pub fn style(&self) -> Style {
        let money = self.money();
        Style {
            dates: self.date_style.map_or_else(|| DateStyle::usual(&money), |word| word.0),
            money,
            zone: self.zone(),
        }
    }

    /// What a return costs besides labor and part.
    #[must_use]
    pub fn return_extra_minor(&self) -> i64 {
        [
            self.return_diagnosis_minor,
            self.return_proof_minor,
            self.return_transport_minor,
            self.return_bay_minor,
            self.return_goodwill_minor,
        ]
        .iter()
        .fold(0_i64, |sum, part| sum.saturating_add(*part))
    }

    /// The settings that figures depend on.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn facts(&self, conn: &mut Conn) -> Answer<ShopFacts> {
        let checks = checks(conn, self.id)?;
        // What the starting list keeps for trained people stays theirs.
        let trained = CHECKS.iter().filter(|check| check.access == Access::Trained);
        let trained = checks.as_counted(trained.map(|check| check.code).chain(checks.trained()));
        let share = |permille: i32| f64::from(permille) / 1000.0;
        Ok(ShopFacts {
            code: self.code.clone(),
            name: self.name.clone(),
            currency: self.currency.clone(),
            labor_cost_minor_per_hour: self.labor_cost_minor,
            posted_rate_minor_per_hour: self.posted_rate_minor,
            window_days: self.window_days,
            week_start: u8::try_from(self.week_start).unwrap_or(1),
            ceiling: share(self.ceiling_permille),
            return_extra_minor: self.return_extra_minor(),
            return_clocked_minor: self
                .return_diagnosis_minor
                .saturating_add(self.return_proof_minor),
            links_from: self.links_from,
            assumed_cleaned_suspect: share(self.assumed_cleaned_suspect_permille),
            assumed_bystander_tested: share(self.assumed_bystander_tested_permille),
            assumed_bystander_untested: share(self.assumed_bystander_untested_permille),
            assumed_replaced: share(self.assumed_replaced_permille),
            part_policies: policies(conn, self.id)?,
            free_looks: checks.as_counted(FREE_LOOKS.iter().copied()),
            trained_checks: trained,
            check_minutes: checks.minutes,
            check_access: checks.access,
            check_plans: plans::facts::of_shop(conn, self.id, &checks.standings)?,
        })
    }
}

/// What figures take from the shop's list of checks.
struct Checks {
    /// Typical minutes by check. A merged entry's are kept under its own code,
    /// where no row of the history looks for them.
    minutes: BTreeMap<String, i64>,
    /// What must be open before a check: as the shop's list says, else as the
    /// starting list does.
    access: BTreeMap<String, Access>,
    standings: Standings,
}

impl Checks {
    /// Codes of the starting list as they count in this shop's history.
    fn as_counted<'a>(&self, codes: impl Iterator<Item = &'a str>) -> BTreeSet<String> {
        codes.map(|code| end_of(&self.standings, code).to_owned()).collect()
    }

    /// Checks that the shop's list keeps for trained people.
    fn trained(&self) -> impl Iterator<Item = &str> {
        let trained = self.access.iter().filter(|(_, access)| **access == Access::Trained);
        trained.map(|(code, _)| code.as_str())
    }
}

fn checks(conn: &mut Conn, shop_id: i32) -> Answer<Checks> {
    type Row = (String, Option<i32>, Option<String>, Option<Word<Access>>);
    let rows: Vec<Row> = code_entry::table
        .filter(code_entry::shop_id.eq(shop_id).and(code_entry::list.eq("check")))
        .select((
            code_entry::code,
            code_entry::typical_minutes,
            code_entry::merged_into,
            code_entry::access,
        ))
        .load(conn)?;
    let mut checks = Checks {
        minutes: BTreeMap::new(),
        access: CHECKS.iter().map(|one| (one.code.to_owned(), one.access)).collect(),
        standings: Standings::new(),
    };
    for (check, minutes, merged_into, access) in rows {
        checks.access.extend(access.map(|access| (check.clone(), access.0)));
        checks.minutes.extend(minutes.map(|minutes| (check.clone(), i64::from(minutes))));
        checks.standings.insert(check, Standing { retired: false, merged_into });
    }
    Ok(checks)
}

/// The shops of a group, by code.
///
/// # Errors
/// Where the database does not answer.
pub fn of_group(conn: &mut Conn, group: &GroupId) -> Answer<Vec<Shop>> {
    Ok(shop::table
        .filter(shop::group_id.eq(group))
        .order(shop::code)
        .select(Shop::as_select())
        .load(conn)?)
}

/// Every shop, by group and code.
///
/// # Errors
/// Where the database does not answer.
pub fn all(conn: &mut Conn) -> Answer<Vec<Shop>> {
    Ok(shop::table.order((shop::group_id, shop::code)).select(Shop::as_select()).load(conn)?)
}

/// One shop by its small number.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_number(conn: &mut Conn, id: i32) -> Answer<Shop> {
    Ok(shop::table.find(id).select(Shop::as_select()).first(conn)?)
}

/// The first group, made where there is none.
///
/// # Errors
/// Where the database does not answer.
pub fn first_group(conn: &mut Conn, name: &str, now: UtcStamp) -> Answer<GroupId> {
    let found: Option<GroupId> = shop_group::table
        .order(shop_group::created_at)
        .select(shop_group::id)
        .first(conn)
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    make_group(conn, name, now)
}

/// The group of that name, made where there is none.
///
/// # Errors
/// Where the database does not answer.
pub fn named_group(conn: &mut Conn, name: &str, now: UtcStamp) -> Answer<GroupId> {
    let found: Option<GroupId> = shop_group::table
        .filter(shop_group::name.eq(name))
        .select(shop_group::id)
        .first(conn)
        .optional()?;
    match found {
        Some(id) => Ok(id),
        None => make_group(conn, name, now),
    }
}

/// A new group.
///
/// # Errors
/// Where the database does not answer.
pub fn make_group(conn: &mut Conn, name: &str, now: UtcStamp) -> Answer<GroupId> {
    let id = GroupId::make();
    diesel::insert_into(shop_group::table)
        .values((shop_group::id.eq(&id), shop_group::name.eq(name), shop_group::created_at.eq(now)))
        .execute(conn)?;
    Ok(id)
}

/// Makes a shop with its counter and the starting code lists.
///
/// # Errors
/// A conflict where the group has the code already.
pub fn make(conn: &mut Conn, group: &GroupId, new: &NewShop) -> Answer<Shop> {
    let taken = shop::table.filter(shop::group_id.eq(group).and(shop::code.eq(&new.code)));
    if taken.count().get_result::<i64>(conn)? > 0 {
        let why = format!("there is a shop {} in the group already; choose another", new.code);
        return Err(Refusal::Conflict(why).into());
    }
    let last: Option<i32> = shop::table.select(diesel::dsl::max(shop::id)).first(conn)?;
    let row = Shop {
        id: last.unwrap_or(0) + 1,
        public_id: ShopPublicId::make(),
        group_id: group.clone(),
        code: new.code.clone(),
        name: new.name.clone(),
        time_zone: new.zone.name().to_owned(),
        currency: new.currency.code().to_owned(),
        labor_cost_minor: new.labor_cost_minor,
        posted_rate_minor: new.posted_rate_minor,
        window_days: new.window_days,
        week_start: new.week_start,
        ceiling_permille: 100,
        return_diagnosis_minor: new.return_costs.diagnosis,
        return_proof_minor: new.return_costs.proof,
        return_transport_minor: new.return_costs.transport,
        return_bay_minor: new.return_costs.bay,
        return_goodwill_minor: new.return_costs.goodwill,
        assumed_cleaned_suspect_permille: 300,
        assumed_bystander_tested_permille: 30,
        assumed_bystander_untested_permille: 60,
        assumed_replaced_permille: 30,
        links_from: None,
        version: 1,
        date_style: Some(Word(new.date_style.unwrap_or_else(|| DateStyle::usual(&new.currency)))),
        follow_up_days: None,
        follow_up_intermittent_days: None,
    };
    diesel::insert_into(shop::table).values(&row).execute(conn)?;
    diesel::insert_into(shop_counter::table)
        .values((
            shop_counter::shop_id.eq(row.id),
            shop_counter::change_no.eq(0_i64),
            shop_counter::order_number.eq(0_i64),
        ))
        .execute(conn)?;
    crate::codes::model::write_starting(conn, row.id)?;
    Ok(row)
}

/// Settings that may change; absent ones stay.
#[derive(Debug, Clone, Default, AsChangeset)]
#[diesel(table_name = shop)]
pub struct Settings {
    pub name: Option<String>,
    pub labor_cost_minor: Option<i64>,
    pub posted_rate_minor: Option<i64>,
    pub window_days: Option<i32>,
    pub week_start: Option<i32>,
    pub ceiling_permille: Option<i32>,
    pub return_diagnosis_minor: Option<i64>,
    pub return_proof_minor: Option<i64>,
    pub return_transport_minor: Option<i64>,
    pub return_bay_minor: Option<i64>,
    pub return_goodwill_minor: Option<i64>,
    pub assumed_cleaned_suspect_permille: Option<i32>,
    pub assumed_bystander_tested_permille: Option<i32>,
    pub assumed_bystander_untested_permille: Option<i32>,
    pub assumed_replaced_permille: Option<i32>,
    pub links_from: Option<Option<NaiveDate>>,
    pub date_style: Option<Word<DateStyle>>,
    pub follow_up_days: Option<i32>,
    pub follow_up_intermittent_days: Option<i32>,
}

/// Writes settings over the version the writer has seen.
///
/// # Errors
/// Stale where another version stands.
pub fn change(conn: &mut Conn, id: i32, seen: i32, settings: &Settings) -> Answer<Shop> {
    let hit = diesel::update(shop::table.filter(shop::id.eq(id).and(shop::version.eq(seen))))
        .set((settings, shop::version.eq(seen + 1)))
        .execute(conn)?;
    let now = by_number(conn, id)?;
    if hit == 0 {
        return Err(Refusal::Stale(now.version).into());
    }
    Ok(now)
}
