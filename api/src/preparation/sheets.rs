//! Sheets: the readings of one vehicle by one list. Rows and queries.

use analytics::preparation::{
    Degrees, GroupVerdict, Line, LineVerdict, SheetVerdict, State, Taken, Temperature, Verdict,
    judge,
};
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::lists;
use crate::db::schema::{reading_sheet, reading_taken};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    JobId, PersonId, ReadingListId, ReadingListVersionId, ReadingSheetId, ReadingTakenId, VehicleId,
};

/// A sheet.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = reading_sheet, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct ReadingSheet {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ReadingSheetId,
    pub list_version_id: ReadingListVersionId,
    pub vehicle_id: VehicleId,
    /// Absent: of a vehicle in stock, on no job.
    pub job_id: Option<JobId>,
    pub begun_by: PersonId,
    pub begun_at: UtcStamp,
    /// Shop-local day.
    pub begun_on: NaiveDate,
    /// When somebody said that it passes; only then is it ended.
    pub passed_at: Option<UtcStamp>,
    pub passed_by: Option<PersonId>,
    pub note: Option<String>,
    pub version: i32,
}

/// One reading, as it was taken.
#[derive(
    Debug, Clone, PartialEq, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = reading_taken)]
pub struct ReadingTaken {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ReadingTakenId,
    #[serde(skip)]
    pub sheet_id: ReadingSheetId,
    pub line_key: String,
    /// Of cells: which, from 1.
    pub place: Option<String>,
    /// The last attempt of a line counts.
    pub attempt: i32,
    /// `measured`, `not_applicable`, `not_measured`.
    pub state: String,
    /// As it was read; a yes is 1, a no 0.
    pub value: Option<f64>,
    pub unit: Option<String>,
    pub temperature: Option<f64>,
    pub temperature_unit: Option<String>,
    pub words: Option<String>,
    pub reason: Option<String>,
    pub person_id: PersonId,
    pub taken_at: UtcStamp,
    /// Shop-local day.
    pub taken_on: NaiveDate,
}

/// A sheet as it is begun.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReadingSheet {
    /// The vehicle, where it is on no job.
    #[schema(value_type = Option<String>, format = Uuid)]
    pub vehicle_id: Option<VehicleId>,
    #[schema(value_type = Option<String>, format = Uuid)]
    pub job_id: Option<JobId>,
    /// Absent: the narrowest list of the purpose that fits the vehicle, else the
    /// starting list, which becomes the shop's own.
    #[schema(value_type = Option<String>, format = Uuid)]
    pub list_id: Option<ReadingListId>,
    /// Without a list: `preparation` or `hand_over`; absent: by the job's kind.
    pub purpose: Option<String>,
    pub note: Option<String>,
}

/// A sheet with its list, what was read, and what that makes of the vehicle.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShownReadingSheet {
    #[serde(flatten)]
    pub sheet: ReadingSheet,
    pub list_id: ReadingListId,
    pub list_name: String,
    /// Number of the list's version.
    pub list_number: i32,
    pub purpose: String,
    pub lines: Vec<Line>,
    /// In the order in which they were taken.
    pub readings: Vec<ReadingTaken>,
    pub verdict: SheetVerdict,
}

/// What is wanted of the list of sheets.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    pub job_id: Option<JobId>,
    pub vehicle_id: Option<VehicleId>,
    /// Only those that are not passed.
    pub open: bool,
    pub after: Option<ReadingSheetId>,
    pub limit: i64,
}

/// Sheets, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn all(conn: &mut Conn, shop_id: i32, wanted: &Wanted) -> Answer<Vec<ReadingSheet>> {
    let mut query = reading_sheet::table
        .filter(reading_sheet::shop_id.eq(shop_id))
        .order(reading_sheet::id.desc())
        .limit(wanted.limit)
        .select(ReadingSheet::as_select())
        .into_boxed();
    if let Some(job) = &wanted.job_id {
        query = query.filter(reading_sheet::job_id.eq(job.clone()));
    }
    if let Some(vehicle) = &wanted.vehicle_id {
        query = query.filter(reading_sheet::vehicle_id.eq(vehicle.clone()));
    }
    if wanted.open {
        query = query.filter(reading_sheet::passed_at.is_null());
    }
    if let Some(after) = &wanted.after {
        query = query.filter(reading_sheet::id.lt(after.clone()));
    }
    Ok(query.load(conn)?)
}

/// One sheet.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &ReadingSheetId) -> Answer<ReadingSheet> {
    Ok(reading_sheet::table.find((shop_id, id)).select(ReadingSheet::as_select()).first(conn)?)
}

fn readings(conn: &mut Conn, shop_id: i32, id: &ReadingSheetId) -> Answer<Vec<ReadingTaken>> {
    let mut rows: Vec<ReadingTaken> = reading_taken::table
        .filter(reading_taken::shop_id.eq(shop_id).and(reading_taken::sheet_id.eq(id)))
        .order((reading_taken::taken_at, reading_taken::attempt, reading_taken::id))
        .select(ReadingTaken::as_select())
        .load(conn)?;
    let place = |row: &ReadingTaken| row.place.as_deref().and_then(|at| at.parse::<u32>().ok());
    rows.sort_by_key(|row| (row.taken_at, row.attempt, place(row)));
    Ok(rows)
}

impl ReadingTaken {
    /// As verdicts look at it.
    #[must_use]
    pub fn taken(&self) -> Taken {
        let unit = self.temperature_unit.as_deref().and_then(Degrees::parse);
        Taken {
            key: self.line_key.clone(),
            place: self.place.as_deref().and_then(|place| place.parse().ok()),
            attempt: self.attempt,
            state: State::parse(&self.state).unwrap_or(State::NotMeasured),
            value: self.value,
            temperature: self
                .temperature
                .zip(unit)
                .map(|(value, unit)| Temperature { value, unit }),
            words: self.words.clone(),
            reason: self.reason.clone(),
        }
    }
}

/// A sheet with all that hangs on it.
///
/// # Errors
/// Where the database does not answer.
pub fn shown(conn: &mut Conn, sheet: ReadingSheet) -> Answer<ShownReadingSheet> {
    let version = lists::version(conn, sheet.shop_id, &sheet.list_version_id)?;
    let list = lists::by_id(conn, sheet.shop_id, &version.list_id)?;
    let readings = readings(conn, sheet.shop_id, &sheet.id)?;
    let taken: Vec<Taken> = readings.iter().map(ReadingTaken::taken).collect();
    Ok(ShownReadingSheet {
        verdict: judge(&version.lines, &taken),
        list_id: list.id,
        list_name: list.name,
        list_number: version.number,
        purpose: list.purpose,
        lines: version.lines,
        readings,
        sheet,
    })
}

/// The lines that hold a vehicle. Of lines of which one is enough, those that are
/// not on the vehicle do only where there is no other to read.
fn open(sheet: &ShownReadingSheet) -> impl Iterator<Item = &Line> {
    let goes = move |key: &str| {
        let of_line = |line: &&LineVerdict| line.key == key;
        sheet.verdict.lines.iter().find(of_line).is_none_or(|line| line.verdict.lets_go())
    };
    let owed = move |group: &GroupVerdict| {
        group.verdict == Verdict::NotMeasured && group.keys.iter().all(|key| goes(key))
    };
    let holds = move |key: &str| {
        !goes(key)
            || sheet
                .verdict
                .groups
                .iter()
                .any(|group| owed(group) && group.keys.iter().any(|one| one == key))
    };
    sheet.lines.iter().filter(move |line| holds(&line.key))
}

/// What holds a vehicle, by the labels of its lines.
#[must_use]
pub fn open_lines(sheet: &ShownReadingSheet) -> Vec<&str> {
    open(sheet).map(|line| line.label.as_str()).collect()
}

/// The same by their keys.
#[must_use]
pub fn open_keys(sheet: &ShownReadingSheet) -> Vec<&str> {
    open(sheet).map(|line| line.key.as_str()).collect()
}
