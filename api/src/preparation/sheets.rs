//! Sheets: the readings of one vehicle by one list. A reading is never written
//! over; it is taken again.

use analytics::preparation::{
    Degrees, Line, SheetVerdict, State, Taken, Temperature, Verdict, judge,
};
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::lists::{self, ReadingListVersion};
use super::reading::{self, Kept, NewReading};
use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::schema::{reading_sheet, reading_taken, repair_order};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    JobId, OrderId, PersonId, ReadingListId, ReadingListVersionId, ReadingSheetId, ReadingTakenId,
    VehicleId,
};
use crate::domain::refusal::Refusal;
use crate::jobs::model::{self as jobs, Job, optional};
use crate::jobs::writable;
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model::{self as vehicles, Vehicle};

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

/// The job that a sheet hangs on, opened for writing while the vehicle is here,
/// and afterwards as a correction.
struct OnJob {
    job: Job,
    corrected: Option<writable::Writable>,
}

fn status(write: &mut ShopWrite<'_>, order: &OrderId) -> Answer<String> {
    let place = repair_order::table.find((write.shop.id, order));
    Ok(place.select(repair_order::status).first(write.conn)?)
}

impl OnJob {
    fn open(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<Self> {
        let job = jobs::by_id(write.conn, write.shop.id, id)?;
        let open = status(write, &job.order_id)? == "open";
        let corrected = if open { None } else { Some(writable::open(write, id)?) };
        Ok(Self { job, corrected })
    }

    fn stamp(&self, write: &mut ShopWrite<'_>) -> Answer<()> {
        match &self.corrected {
            Some(writable) => writable.stamp(write),
            None => write.stamp_job(&self.job.id),
        }
    }
}

fn about<'a>(
    record: &'static str,
    id: impl std::fmt::Display,
    on_job: Option<&'a OnJob>,
) -> About<'a> {
    let about = About::new(record, id);
    match on_job {
        Some(on_job) => about.job(&on_job.job.id).order(&on_job.job.order_id),
        None => about,
    }
}

/// The vehicle that a sheet is of.
fn vehicle(
    write: &mut ShopWrite<'_>,
    new: &NewReadingSheet,
    on_job: Option<&OnJob>,
) -> Answer<Vehicle> {
    let id = match (on_job, &new.vehicle_id) {
        (Some(on_job), None) => repair_order::table
            .find((write.shop.id, &on_job.job.order_id))
            .select(repair_order::vehicle_id)
            .first(write.conn)?,
        (None, Some(id)) => id.clone(),
        _ => {
            let detail = "name either the vehicle or the job";
            return Err(Refusal::field("vehicle_id", "either", detail).into());
        }
    };
    vehicles::by_id(write.conn, write.shop.id, &id).map_err(|_| {
        Refusal::field("vehicle_id", "unknown", "the shop has no vehicle with that id").into()
    })
}

/// The version that a new sheet goes by.
fn chosen(
    write: &mut ShopWrite<'_>,
    new: &NewReadingSheet,
    (vehicle, on_job): (&Vehicle, Option<&OnJob>),
) -> Answer<ReadingListVersion> {
    if let Some(id) = &new.list_id {
        let list = lists::by_id(write.conn, write.shop.id, id).map_err(|_| {
            Refusal::field("list_id", "unknown", "the shop has no list with that id")
        })?;
        if list.withdrawn_at.is_some() {
            return Err(Refusal::field("list_id", "withdrawn", "choose a list that stands").into());
        }
        return Ok(lists::shown(write.conn, write.shop.id, list)?.stands);
    }
    let prepares = on_job.is_none_or(|on| on.job.kind.0.as_str() == "preparation");
    let usual = if prepares { Purpose::Preparation } else { Purpose::HandOver };
    let Some(purpose) = new.purpose.as_deref().map_or(Some(usual), Purpose::parse) else {
        let detail = "choose one of: preparation, hand_over";
        return Err(Refusal::field("purpose", "word", detail).into());
    };
    let symptom = on_job.and_then(|on| on.job.symptom.clone());
    let words = Lists::load(write.conn, write.shop.id)?;
    let mut fitting = lists::fitting(write.conn, write.shop.id, purpose, vehicle)?;
    fitting.retain(|one| on_job.is_none() || one.list.is_for(symptom.as_deref(), &words));
    match fitting.into_iter().next() {
        Some(list) => Ok(list.stands),
        None => Ok(lists::take_starting(write, purpose)?.stands),
    }
}

/// Begins a sheet.
///
/// # Errors
/// Faulty fields; a conflict where one by the same list is under way.
pub fn begin(write: &mut ShopWrite<'_>, new: &NewReadingSheet) -> Answer<ShownReadingSheet> {
    let on_job = new.job_id.as_ref().map(|id| OnJob::open(write, id)).transpose()?;
    let vehicle = vehicle(write, new, on_job.as_ref())?;
    let version = chosen(write, new, (&vehicle, on_job.as_ref()))?;
    let wanted = Wanted {
        job_id: new.job_id.clone(),
        vehicle_id: Some(vehicle.id.clone()),
        open: true,
        after: None,
        limit: i64::MAX,
    };
    let under_way = all(write.conn, write.shop.id, &wanted)?
        .iter()
        .any(|row| row.list_version_id == version.id && row.job_id == new.job_id);
    if under_way {
        let why = "a sheet by this list is under way: go on with that one";
        return Err(Refusal::Conflict(why.to_owned()).into());
    }
    let sheet = ReadingSheet {
        shop_id: write.shop.id,
        id: ReadingSheetId::make(),
        list_version_id: version.id,
        vehicle_id: vehicle.id,
        job_id: new.job_id.clone(),
        begun_by: write.person.clone(),
        begun_at: write.now,
        begun_on: write.shop.zone().day(write.now),
        passed_at: None,
        passed_by: None,
        note: optional("note", new.note.as_deref(), 2000)?,
        version: 1,
    };
    diesel::insert_into(reading_sheet::table).values(&sheet).execute(write.conn)?;
    let about = about("reading_sheet", &sheet.id, on_job.as_ref());
    write.note(&about, "begun", None, Some(&sheet))?;
    if let Some(on_job) = &on_job {
        on_job.stamp(write)?;
    }
    shown(write.conn, sheet)
}

/// A sheet that is not passed, with its job opened for writing.
fn under_way(
    write: &mut ShopWrite<'_>,
    id: &ReadingSheetId,
) -> Answer<(ShownReadingSheet, Option<OnJob>)> {
    let sheet = by_id(write.conn, write.shop.id, id)?;
    if sheet.passed_at.is_some() {
        let why = "the sheet is passed: begin another one to read again";
        return Err(Refusal::Conflict(why.to_owned()).into());
    }
    let on_job = sheet.job_id.as_ref().map(|job| OnJob::open(write, job)).transpose()?;
    Ok((shown(write.conn, sheet)?, on_job))
}

/// Writes a sheet over what stands, with its job's stamp.
fn save(write: &mut ShopWrite<'_>, sheet: &mut ReadingSheet, on_job: Option<&OnJob>) -> Answer<()> {
    sheet.version += 1;
    diesel::update(reading_sheet::table.find((sheet.shop_id, &sheet.id)))
        .set(&*sheet)
        .execute(write.conn)?;
    on_job.map_or(Ok(()), |on_job| on_job.stamp(write))
}

/// Takes a reading. Earlier ones of the line stay.
///
/// # Errors
/// Not found, faulty fields, a conflict where the sheet is passed.
pub fn read(
    write: &mut ShopWrite<'_>,
    id: &ReadingSheetId,
    new: &NewReading,
) -> Answer<ShownReadingSheet> {
    let (before, on_job) = under_way(write, id)?;
    let Some(line) = before.lines.iter().find(|line| line.key == new.line) else {
        let detail = "the sheet's list has no such line";
        return Err(Refusal::field("line", "unknown", detail).into());
    };
    let kept = reading::decide(line, new).map_err(Refusal::Invalid)?;
    let of_line = before.readings.iter().filter(|row| row.line_key == line.key);
    let attempt = of_line.map(|row| row.attempt).max().unwrap_or(0) + 1;
    for one in kept {
        let row = taken_row(write, id, (line, attempt), one);
        diesel::insert_into(reading_taken::table).values(&row).execute(write.conn)?;
        let about = about("reading_taken", &row.id, on_job.as_ref());
        write.note(&about, "added", None, Some(&row))?;
    }
    let mut sheet = before.sheet;
    save(write, &mut sheet, on_job.as_ref())?;
    shown(write.conn, sheet)
}

fn taken_row(
    write: &ShopWrite<'_>,
    sheet: &ReadingSheetId,
    (line, attempt): (&Line, i32),
    kept: Kept,
) -> ReadingTaken {
    ReadingTaken {
        shop_id: write.shop.id,
        id: ReadingTakenId::make(),
        sheet_id: sheet.clone(),
        line_key: line.key.clone(),
        place: kept.place.map(|place| place.to_string()),
        attempt,
        state: kept.state.as_str().to_owned(),
        unit: line.unit.clone().filter(|_| kept.value.is_some() && line.kind.is_measured()),
        value: kept.value,
        temperature: kept.temperature.map(|at| at.value),
        temperature_unit: kept.temperature.map(|at| at.unit.as_str().to_owned()),
        words: kept.words,
        reason: kept.reason,
        person_id: write.person.clone(),
        taken_at: write.now,
        taken_on: write.shop.zone().day(write.now),
    }
}

/// What holds a vehicle, by the labels of its lines.
#[must_use]
pub fn open_lines(sheet: &ShownReadingSheet) -> Vec<&str> {
    let holds = |key: &str| {
        let of_line = |line: &&analytics::preparation::LineVerdict| line.key == key;
        let group = |group: &&analytics::preparation::GroupVerdict| {
            group.verdict == Verdict::NotMeasured && group.keys.iter().any(|one| one == key)
        };
        sheet.verdict.lines.iter().find(of_line).is_some_and(|line| !line.verdict.lets_go())
            || sheet.verdict.groups.iter().any(|one| group(&one))
    };
    sheet.lines.iter().filter(|line| holds(&line.key)).map(|line| line.label.as_str()).collect()
}

/// Says that the vehicle passes, which ends the sheet.
///
/// # Errors
/// Not found; a conflict while anything fails or is not measured.
pub fn pass(write: &mut ShopWrite<'_>, id: &ReadingSheetId) -> Answer<ShownReadingSheet> {
    let (before, on_job) = under_way(write, id)?;
    if !before.verdict.passes {
        let open = open_lines(&before);
        let why = format!("it does not pass yet: {}", open.join("; "));
        return Err(Refusal::Conflict(why).into());
    }
    let mut sheet = before.sheet.clone();
    sheet.passed_at = Some(write.now);
    sheet.passed_by = Some(write.person.clone());
    save(write, &mut sheet, on_job.as_ref())?;
    let about = about("reading_sheet", id, on_job.as_ref());
    write.note(&about, "passed", Some(&before.sheet), Some(&sheet))?;
    shown(write.conn, sheet)
}
