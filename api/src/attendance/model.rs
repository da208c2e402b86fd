//! Attendance rows, and the clock time beside them.

use chrono::{Duration, NaiveDate};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::day;
use crate::db::schema::{attendance, labor_entry};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{AttendanceId, PersonId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::{known_person, optional};
use crate::shops::write::{About, ShopWrite};

/// How long a person was there for work on one day, less unpaid breaks.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = attendance, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct Attendance {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: AttendanceId,
    pub person_id: PersonId,
    /// Shop-local day.
    pub worked_on: NaiveDate,
    pub attended_minutes: i32,
    pub note: Option<String>,
    pub version: i32,
}

/// A day's attendance as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DayAttended {
    /// Less unpaid breaks.
    #[schema(minimum = 0, maximum = 1440)]
    pub attended_minutes: i32,
    pub note: Option<String>,
}

/// A shop's attendance between two days, by day and person.
///
/// # Errors
/// Where the database does not answer.
pub fn between(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
    person: Option<&PersonId>,
) -> Answer<Vec<Attendance>> {
    let mut query = attendance::table
        .filter(attendance::shop_id.eq(shop_id).and(attendance::worked_on.between(from, to)))
        .order((attendance::worked_on, attendance::person_id))
        .select(Attendance::as_select())
        .into_boxed();
    if let Some(person) = person {
        query = query.filter(attendance::person_id.eq(person.clone()));
    }
    Ok(query.load(conn)?)
}

/// The line of a person and day, where there is one.
///
/// # Errors
/// Where the database does not answer.
pub fn of(
    conn: &mut Conn,
    shop_id: i32,
    person: &PersonId,
    worked_on: NaiveDate,
) -> Answer<Option<Attendance>> {
    Ok(attendance::table
        .filter(attendance::shop_id.eq(shop_id).and(attendance::person_id.eq(person)))
        .filter(attendance::worked_on.eq(worked_on))
        .select(Attendance::as_select())
        .first(conn)
        .optional()?)
}

/// Writes a person's day, over what stood.
///
/// # Errors
/// Faulty fields.
pub fn set(
    write: &mut ShopWrite<'_>,
    person: &PersonId,
    worked_on: NaiveDate,
    new: &DayAttended,
) -> Answer<Attendance> {
    known_person(write, "person", Some(person))?;
    let today = write.shop.zone().day(write.now);
    day::decide(worked_on, today, new.attended_minutes).map_err(Refusal::Invalid)?;
    let before = of(write.conn, write.shop.id, person, worked_on)?;
    let row = Attendance {
        shop_id: write.shop.id,
        id: before.as_ref().map_or_else(AttendanceId::make, |row| row.id.clone()),
        person_id: person.clone(),
        worked_on,
        attended_minutes: new.attended_minutes,
        note: optional("note", new.note.as_deref(), 1000)?,
        version: before.as_ref().map_or(1, |row| row.version + 1),
    };
    let action = if before.is_some() {
        diesel::update(attendance::table.find((row.shop_id, &row.id)))
            .set(&row)
            .execute(write.conn)?;
        "changed"
    } else {
        diesel::insert_into(attendance::table).values(&row).execute(write.conn)?;
        "added"
    };
    write.note(&About::new("attendance", &row.id), action, before.as_ref(), Some(&row))?;
    Ok(row)
}

/// Writes days of a person that the program makes itself: of any past, and none
/// of which stands yet.
///
/// # Errors
/// Where the database does not answer.
pub fn take_in(
    write: &mut ShopWrite<'_>,
    person: &PersonId,
    days: &[(NaiveDate, i32)],
) -> Answer<()> {
    for (worked_on, attended_minutes) in days {
        let row = Attendance {
            shop_id: write.shop.id,
            id: AttendanceId::make(),
            person_id: person.clone(),
            worked_on: *worked_on,
            attended_minutes: *attended_minutes,
            note: None,
            version: 1,
        };
        diesel::insert_into(attendance::table).values(&row).execute(write.conn)?;
        write.note(&About::new("attendance", &row.id), "added", None, Some(&row))?;
    }
    Ok(())
}

/// Takes a person's day back.
///
/// # Errors
/// Not found.
pub fn remove(write: &mut ShopWrite<'_>, person: &PersonId, worked_on: NaiveDate) -> Answer<()> {
    let Some(row) = of(write.conn, write.shop.id, person, worked_on)? else {
        return Err(Refusal::NotFound.into());
    };
    diesel::delete(attendance::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    write.note(&About::new("attendance", &row.id), "removed", Some(&row), None)
}

/// Whole minutes that ended labor entries of a person took, by the shop-local
/// day they started on.
///
/// # Errors
/// Where the database does not answer.
pub fn clocked(
    conn: &mut Conn,
    shop_id: i32,
    person: &PersonId,
    (from, to): (NaiveDate, NaiveDate),
) -> Answer<Vec<(NaiveDate, i64)>> {
    // The index goes by the moment of the start; no zone is a day away from UTC.
    let after = UtcStamp::from_naive((from - Duration::days(1)).into());
    let before = UtcStamp::from_naive((to + Duration::days(2)).into());
    let rows: Vec<(NaiveDate, UtcStamp, Option<UtcStamp>)> = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::person_id.eq(person)))
        .filter(labor_entry::started_at.between(after, before))
        .filter(labor_entry::started_on.between(from, to))
        .filter(labor_entry::ended_at.is_not_null())
        .select((labor_entry::started_on, labor_entry::started_at, labor_entry::ended_at))
        .load(conn)?;
    Ok(rows
        .into_iter()
        .filter_map(|(on, start, end)| Some((on, end?.minutes_since(start))))
        .collect())
}
