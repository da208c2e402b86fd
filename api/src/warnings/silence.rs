//! Silences: groups that are not warned of, and why.

use analytics::select::Selector;
use analytics::warning::{Warning, WarningSilenced, WarningsReport};
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::decide::{decide, holds};
use crate::db::schema::warning_silence;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, SilenceId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::shops::write::{About, ShopWrite};

/// A group that is not warned of.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = warning_silence, primary_key(shop_id, id), treat_none_as_null = true)]
#[schema(as = WarningSilence)]
pub struct Silence {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: SilenceId,
    /// What the warning is about: `lot`, `supplier`, `model`, `model_year`,
    /// `engine`, `operation`, `skipped_check`, `new_technician`.
    pub kind: String,
    /// The group, as the warning names it.
    pub group_key: String,
    pub reason: String,
    /// The last day of it; for good where absent.
    pub until_on: Option<NaiveDate>,
    /// Who silenced it.
    pub person_id: PersonId,
    pub made_at: UtcStamp,
    /// When somebody ended it before its last day.
    pub ended_at: Option<UtcStamp>,
    pub ended_by: Option<PersonId>,
    pub version: i32,
}

/// A silence as asked for.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewWarningSilence)]
pub struct NewSilence {
    pub kind: String,
    /// As the warning has it.
    pub group_key: String,
    /// Why nobody needs to hear of it.
    pub reason: String,
    /// The last day of it; for good where absent.
    pub until_on: Option<NaiveDate>,
}

/// The shop's silences, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn list(conn: &mut Conn, shop_id: i32) -> Answer<Vec<Silence>> {
    Ok(warning_silence::table
        .filter(warning_silence::shop_id.eq(shop_id))
        .order((warning_silence::made_at.desc(), warning_silence::id.desc()))
        .select(Silence::as_select())
        .load(conn)?)
}

/// Those that hold on a day.
///
/// # Errors
/// Where the database does not answer.
pub fn in_force(conn: &mut Conn, shop_id: i32, today: NaiveDate) -> Answer<Vec<Silence>> {
    let mut rows: Vec<Silence> = warning_silence::table
        .filter(warning_silence::shop_id.eq(shop_id))
        .filter(warning_silence::ended_at.is_null())
        .order((warning_silence::made_at, warning_silence::id))
        .select(Silence::as_select())
        .load(conn)?;
    rows.retain(|row| holds(row.until_on, today));
    Ok(rows)
}

/// One silence.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &SilenceId) -> Answer<Silence> {
    let row = warning_silence::table
        .find((shop_id, id))
        .select(Silence::as_select())
        .first(conn)
        .optional()?;
    row.ok_or_else(|| Refusal::NotFound.into())
}

/// Silences a group.
///
/// # Errors
/// Faulty fields; a conflict where the group is silenced already.
pub fn add(write: &mut ShopWrite<'_>, new: &NewSilence) -> Answer<Silence> {
    let shop_id = write.shop.id;
    let today = write.shop.zone().day(write.now);
    let (mut faults, kind) = match decide(&new.kind, &new.group_key, new.until_on, today) {
        Ok(kind) => (Vec::<FieldFault>::new(), Some(kind)),
        Err(faults) => (faults, None),
    };
    let reason = text::required("reason", &new.reason, 1000).map_err(|fault| faults.push(fault));
    let (Some(kind), Ok(reason), true) = (kind, reason, faults.is_empty()) else {
        return Err(Refusal::Invalid(faults).into());
    };
    let standing: Option<Silence> = warning_silence::table
        .filter(warning_silence::shop_id.eq(shop_id).and(warning_silence::kind.eq(kind.as_str())))
        .filter(warning_silence::group_key.eq(&new.group_key))
        .filter(warning_silence::ended_at.is_null())
        .select(Silence::as_select())
        .first(write.conn)
        .optional()?;
    match standing {
        Some(row) if holds(row.until_on, today) => {
            return Err(Refusal::Conflict("the warning is silenced already".into()).into());
        }
        // Its last day is over: it makes room.
        Some(row) => {
            ended(write, &row)?;
        }
        None => {}
    }
    let row = Silence {
        shop_id,
        id: SilenceId::make(),
        kind: kind.as_str().to_owned(),
        group_key: new.group_key.clone(),
        reason,
        until_on: new.until_on,
        person_id: write.person.clone(),
        made_at: write.now,
        ended_at: None,
        ended_by: None,
        version: 1,
    };
    diesel::insert_into(warning_silence::table).values(&row).execute(write.conn)?;
    write.note(&About::new("warning_silence", &row.id), "added", None, Some(&row))?;
    Ok(row)
}

/// Ends a silence: the group is warned of again.
///
/// # Errors
/// Not found; a conflict where it is ended already.
pub fn end(write: &mut ShopWrite<'_>, id: &SilenceId) -> Answer<Silence> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.ended_at.is_some() {
        return Err(Refusal::Conflict("the silence is ended already".into()).into());
    }
    ended(write, &row)
}

fn ended(write: &mut ShopWrite<'_>, before: &Silence) -> Answer<Silence> {
    let row = Silence {
        ended_at: Some(write.now),
        ended_by: Some(write.person.clone()),
        version: before.version + 1,
        ..before.clone()
    };
    diesel::update(warning_silence::table.find((row.shop_id, &row.id)))
        .set(&row)
        .execute(write.conn)?;
    write.note(&About::new("warning_silence", &row.id), "ended", Some(before), Some(&row))?;
    Ok(row)
}

/// A key with its codes as they count now.
fn counted_now(key: &str, now: &impl Fn(&str, &str) -> String) -> String {
    Selector::parse(key).map_or_else(|_| key.to_owned(), |key| key.following(now).to_string())
}

/// Writes to every group of a scan whether it is silenced; `now` gives the code
/// that a code of a list counts as.
pub fn mark(
    report: &mut WarningsReport,
    silences: &[Silence],
    now: &impl Fn(&str, &str) -> String,
) {
    let silenced: Vec<(&Silence, String)> =
        silences.iter().map(|row| (row, counted_now(&row.group_key, now))).collect();
    let mark = |warning: &mut Warning| {
        let key = counted_now(&warning.group_key, now);
        let found = silenced
            .iter()
            .find(|(row, silenced)| row.kind == warning.kind.as_str() && *silenced == key);
        warning.silenced = found.map(|(row, _)| WarningSilenced {
            id: row.id.to_string(),
            reason: row.reason.clone(),
            until_on: row.until_on,
        });
    };
    report.warnings.iter_mut().chain(&mut report.next).for_each(mark);
}
