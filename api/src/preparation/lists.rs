//! Lists of readings and their versions: rows and queries.

use analytics::preparation::Line;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::sound;
use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::schema::{reading_list, reading_list_version};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, ReadingListId, ReadingListVersionId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::jobs::model::{no_faults, optional};
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model::Vehicle;

/// A list of readings; its lines are in its versions.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = reading_list, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct ReadingList {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ReadingListId,
    pub name: String,
    /// `preparation` or `hand_over`.
    pub purpose: String,
    /// For vehicles of this make, model, engine alone; absent: for all.
    pub make: Option<String>,
    pub model: Option<String>,
    pub engine: Option<String>,
    /// For jobs with this symptom alone, or with one of this system.
    pub symptom: Option<String>,
    pub withdrawn_at: Option<UtcStamp>,
    pub version: i32,
}

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = reading_list_version)]
struct VersionRow {
    shop_id: i32,
    id: ReadingListVersionId,
    list_id: ReadingListId,
    number: i32,
    lines_json: String,
    reason: Option<String>,
    person_id: Option<PersonId>,
    made_at: UtcStamp,
}

/// A list as it was at one time.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct ReadingListVersion {
    pub id: ReadingListVersionId,
    #[serde(skip)]
    pub list_id: ReadingListId,
    pub number: i32,
    pub lines: Vec<Line>,
    /// Why it was changed.
    pub reason: Option<String>,
    pub person_id: Option<PersonId>,
    pub made_at: UtcStamp,
}

/// A list with the version that stands.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShownReadingList {
    #[serde(flatten)]
    pub list: ReadingList,
    pub stands: ReadingListVersion,
}

/// A list as it is made.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReadingList {
    pub name: Option<String>,
    /// `preparation` or `hand_over`.
    pub purpose: String,
    pub make: Option<String>,
    pub model: Option<String>,
    pub engine: Option<String>,
    /// A code of the shop's symptoms or systems.
    pub symptom: Option<String>,
    /// Absent: those of the starting list of the purpose.
    pub lines: Option<Vec<Line>>,
    pub reason: Option<String>,
}

/// Another version of a list.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReadingListVersion {
    pub lines: Vec<Line>,
    /// Why.
    pub reason: String,
}

/// Lines as they are kept.
///
/// # Errors
/// Where they cannot be read.
pub fn lines_of(json: &str) -> Answer<Vec<Line>> {
    serde_json::from_str(json).map_err(|error| Fault::Unavailable(error.to_string()))
}

impl VersionRow {
    fn read(self) -> Answer<ReadingListVersion> {
        Ok(ReadingListVersion {
            lines: lines_of(&self.lines_json)?,
            id: self.id,
            list_id: self.list_id,
            number: self.number,
            reason: self.reason,
            person_id: self.person_id,
            made_at: self.made_at,
        })
    }
}

/// One list.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &ReadingListId) -> Answer<ReadingList> {
    Ok(reading_list::table.find((shop_id, id)).select(ReadingList::as_select()).first(conn)?)
}

/// The versions of a list, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn versions(
    conn: &mut Conn,
    shop_id: i32,
    id: &ReadingListId,
) -> Answer<Vec<ReadingListVersion>> {
    let rows: Vec<VersionRow> = reading_list_version::table
        .filter(reading_list_version::shop_id.eq(shop_id))
        .filter(reading_list_version::list_id.eq(id))
        .order(reading_list_version::number.desc())
        .select(VersionRow::as_select())
        .load(conn)?;
    rows.into_iter().map(VersionRow::read).collect()
}

/// One version.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn version(
    conn: &mut Conn,
    shop_id: i32,
    id: &ReadingListVersionId,
) -> Answer<ReadingListVersion> {
    let row: VersionRow = reading_list_version::table
        .find((shop_id, id))
        .select(VersionRow::as_select())
        .first(conn)?;
    row.read()
}

/// A list with its last version.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn shown(conn: &mut Conn, shop_id: i32, list: ReadingList) -> Answer<ShownReadingList> {
    let latest = versions(conn, shop_id, &list.id)?.into_iter().next();
    let stands = latest.ok_or(Refusal::NotFound)?;
    Ok(ShownReadingList { list, stands })
}

/// The shop's lists, those that are withdrawn only where asked for.
///
/// # Errors
/// Where the database does not answer.
pub fn all(conn: &mut Conn, shop_id: i32, withdrawn: bool) -> Answer<Vec<ShownReadingList>> {
    let mut query = reading_list::table
        .filter(reading_list::shop_id.eq(shop_id))
        .order((reading_list::purpose.desc(), reading_list::name, reading_list::id))
        .select(ReadingList::as_select())
        .into_boxed();
    if !withdrawn {
        query = query.filter(reading_list::withdrawn_at.is_null());
    }
    let rows: Vec<ReadingList> = query.load(conn)?;
    rows.into_iter().map(|row| shown(conn, shop_id, row)).collect()
}

fn same(wanted: Option<&str>, has: Option<&str>) -> bool {
    let plain = |text: &str| text.trim().to_lowercase();
    wanted.is_none_or(|wanted| has.is_some_and(|has| plain(has) == plain(wanted)))
}

impl ReadingList {
    /// Whether it is for such a vehicle.
    #[must_use]
    pub fn fits(&self, vehicle: &Vehicle) -> bool {
        same(self.make.as_deref(), vehicle.make.as_deref())
            && same(self.model.as_deref(), vehicle.model.as_deref())
            && same(self.engine.as_deref(), vehicle.engine.as_deref())
    }

    /// Whether it is for a complaint with such a symptom.
    #[must_use]
    pub fn is_for(&self, symptom: Option<&str>, lists: &Lists) -> bool {
        is_for(self.symptom.as_deref(), symptom, lists)
    }

    /// How narrowly it is meant.
    #[must_use]
    pub fn narrowness(&self) -> usize {
        let named = [&self.engine, &self.model, &self.make, &self.symptom];
        named.into_iter().filter(|field| field.is_some()).count()
    }
}

/// Whether a list's symptom, or system of symptoms, takes one in.
#[must_use]
pub fn is_for(of_list: Option<&str>, symptom: Option<&str>, lists: &Lists) -> bool {
    let Some(wanted) = of_list else { return true };
    symptom.is_some_and(|symptom| {
        let now = lists.now("symptom", symptom);
        let system = lists.now("system", lists.system(&now));
        now == lists.now("symptom", wanted) || system == lists.now("system", wanted)
    })
}

/// The lists of a purpose that fit a vehicle, the narrowest first.
///
/// # Errors
/// Where the database does not answer.
pub fn fitting(
    conn: &mut Conn,
    shop_id: i32,
    purpose: Purpose,
    vehicle: &Vehicle,
) -> Answer<Vec<ShownReadingList>> {
    let mut lists = all(conn, shop_id, false)?;
    lists.retain(|one| one.list.purpose == purpose.as_str() && one.list.fits(vehicle));
    lists.sort_by_key(|one| std::cmp::Reverse(one.list.narrowness()));
    Ok(lists)
}

/// Whether the starting list is still offered: until the shop has one of its own
/// for every vehicle.
#[must_use]
pub fn offers_starting(purpose: Purpose, own: &[ShownReadingList]) -> bool {
    let general =
        |list: &ReadingList| list.make.is_none() && list.model.is_none() && list.engine.is_none();
    !own.iter().any(|one| one.list.purpose == purpose.as_str() && general(&one.list))
}

fn json(lines: &[Line]) -> Answer<String> {
    serde_json::to_string(lines).map_err(|error| Fault::Unavailable(error.to_string()))
}

fn add_version(
    write: &mut ShopWrite<'_>,
    list: &ReadingList,
    number: i32,
    (lines, reason): (&[Line], Option<String>),
) -> Answer<ReadingListVersion> {
    let row = VersionRow {
        shop_id: write.shop.id,
        id: ReadingListVersionId::make(),
        list_id: list.id.clone(),
        number,
        lines_json: json(lines)?,
        reason,
        person_id: Some(write.person.clone()),
        made_at: write.now,
    };
    diesel::insert_into(reading_list_version::table).values(&row).execute(write.conn)?;
    row.read()
}

fn known_symptom(write: &mut ShopWrite<'_>, symptom: Option<&str>) -> Answer<()> {
    let Some(symptom) = symptom else { return Ok(()) };
    let lists = Lists::load(write.conn, write.shop.id)?;
    if ["symptom", "system"].iter().any(|list| lists.offers(list, symptom)) {
        return Ok(());
    }
    let detail = "choose a symptom or a system of the shop's lists";
    Err(Refusal::field("symptom", "unknown_code", detail).into())
}

/// Makes a list, of the starting lines where none are given.
///
/// # Errors
/// Faulty fields.
pub fn make(write: &mut ShopWrite<'_>, new: &NewReadingList) -> Answer<ShownReadingList> {
    let Some(purpose) = Purpose::parse(&new.purpose) else {
        let detail = "choose one of: preparation, hand_over";
        return Err(Refusal::field("purpose", "word", detail).into());
    };
    let lines = new.lines.as_deref().unwrap_or_else(|| purpose.lines());
    no_faults(sound::faults(lines))?;
    let name = optional("name", new.name.as_deref(), 200)?;
    known_symptom(write, new.symptom.as_deref())?;
    let list = ReadingList {
        shop_id: write.shop.id,
        id: ReadingListId::make(),
        name: name.unwrap_or_else(|| purpose.name().to_owned()),
        purpose: purpose.as_str().to_owned(),
        make: optional("make", new.make.as_deref(), 100)?,
        model: optional("model", new.model.as_deref(), 100)?,
        engine: optional("engine", new.engine.as_deref(), 100)?,
        symptom: new.symptom.clone(),
        withdrawn_at: None,
        version: 1,
    };
    let reason = optional("reason", new.reason.as_deref(), 1000)?;
    diesel::insert_into(reading_list::table).values(&list).execute(write.conn)?;
    let stands = add_version(write, &list, 1, (lines, reason))?;
    let after = ShownReadingList { list, stands };
    write.note(&About::new("reading_list", &after.list.id), "added", None, Some(&after))?;
    Ok(after)
}

/// The starting list of a purpose as a list to make.
///
/// # Errors
/// Where the database does not answer.
pub fn as_starting(write: &mut ShopWrite<'_>, purpose: Purpose) -> Answer<NewReadingList> {
    let lists = Lists::load(write.conn, write.shop.id)?;
    let symptom = purpose.symptom().filter(|code| lists.offers("system", code));
    Ok(NewReadingList {
        purpose: purpose.as_str().to_owned(),
        symptom: symptom.map(str::to_owned),
        ..NewReadingList::default()
    })
}

/// Takes the starting list of a purpose into the shop's own.
///
/// # Errors
/// Where the database does not answer.
pub fn take_starting(write: &mut ShopWrite<'_>, purpose: Purpose) -> Answer<ShownReadingList> {
    let new = as_starting(write, purpose)?;
    make(write, &new)
}

/// A list that may be changed, as the writer has seen it.
fn standing(write: &mut ShopWrite<'_>, id: &ReadingListId, seen: i32) -> Answer<ShownReadingList> {
    let list = by_id(write.conn, write.shop.id, id)?;
    if list.version != seen {
        return Err(Refusal::Stale(list.version).into());
    }
    if list.withdrawn_at.is_some() {
        return Err(Refusal::Conflict("the list is withdrawn; make a new one".to_owned()).into());
    }
    shown(write.conn, write.shop.id, list)
}

fn save(write: &mut ShopWrite<'_>, list: &ReadingList) -> Answer<()> {
    diesel::update(reading_list::table.find((list.shop_id, &list.id)))
        .set(list)
        .execute(write.conn)?;
    Ok(())
}

/// Another version of a list. Sheets that were begun keep the one they began
/// with.
///
/// # Errors
/// Not found, stale, withdrawn, faulty fields.
pub fn change(
    write: &mut ShopWrite<'_>,
    id: &ReadingListId,
    seen: i32,
    new: &NewReadingListVersion,
) -> Answer<ShownReadingList> {
    let before = standing(write, id, seen)?;
    let mut faults: Vec<FieldFault> = sound::faults(&new.lines);
    let reason = text::required("reason", &new.reason, 1000);
    faults.extend(reason.clone().err());
    no_faults(faults)?;
    let mut list = before.list.clone();
    list.version += 1;
    let stands = add_version(write, &list, before.stands.number + 1, (&new.lines, reason.ok()))?;
    save(write, &list)?;
    let after = ShownReadingList { list, stands };
    write.note(&About::new("reading_list", id), "changed", Some(&before), Some(&after))?;
    Ok(after)
}

/// Withdraws a list: no sheet is begun by it any more.
///
/// # Errors
/// Not found, stale, withdrawn already.
pub fn withdraw(
    write: &mut ShopWrite<'_>,
    id: &ReadingListId,
    seen: i32,
) -> Answer<ShownReadingList> {
    let before = standing(write, id, seen)?;
    let mut after = before.clone();
    after.list.withdrawn_at = Some(write.now);
    after.list.version += 1;
    save(write, &after.list)?;
    write.note(&About::new("reading_list", id), "withdrawn", Some(&before), Some(&after))?;
    Ok(after)
}
