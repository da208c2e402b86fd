//! How sheets are written: begun, read, passed. A reading is never written over;
//! it is taken again.

use analytics::preparation::Line;
use diesel::prelude::*;

use super::list_write::take_starting;
use super::lists::{self, ReadingListVersion, is_for};
use super::reading::{self, Kept, NewReading};
use super::sheets::{
    NewReadingSheet, ReadingSheet, ReadingTaken, ShownReadingSheet, Wanted, all, by_id, open_lines,
    shown,
};
use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::schema::{reading_sheet, reading_taken, repair_order};
use crate::db::{Answer, Fault};
use crate::domain::ids::{JobId, OrderId, ReadingSheetId, ReadingTakenId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::{self as jobs, Job, optional};
use crate::jobs::writable;
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model::{self as vehicles, Vehicle};

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

/// What an id of the body names: where nothing does, the fault is the field's.
pub(super) fn known<T>(found: Answer<T>, field: &str, detail: &str) -> Answer<T> {
    found.map_err(|fault| match fault {
        Fault::Refused(Refusal::NotFound) => Refusal::field(field, "unknown", detail).into(),
        other => other,
    })
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
    let detail = "no vehicle of this shop has that id";
    known(vehicles::by_id(write.conn, write.shop.id, &id), "vehicle_id", detail)
}

/// The version that a new sheet goes by: of the list that is named, else of the
/// narrowest that fits, else of the starting list, where the page offers it too.
fn chosen(
    write: &mut ShopWrite<'_>,
    new: &NewReadingSheet,
    (vehicle, on_job): (&Vehicle, Option<&OnJob>),
) -> Answer<ReadingListVersion> {
    if let Some(id) = &new.list_id {
        let detail = "no list of this shop has that id";
        let list = known(lists::by_id(write.conn, write.shop.id, id), "list_id", detail)?;
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
    if let Some(list) = fitting.into_iter().next() {
        return Ok(list.stands);
    }
    let own = lists::all(write.conn, write.shop.id, false)?;
    let meant = on_job.is_none() || is_for(purpose.symptom(), symptom.as_deref(), &words);
    if !meant || !lists::offers_starting(purpose, &own) {
        let detail = "no list of readings is meant for this job: name one";
        return Err(Refusal::field("list_id", "required", detail).into());
    }
    Ok(take_starting(write, purpose)?.stands)
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
