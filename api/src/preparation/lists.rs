//! Lists of readings and their versions: rows and queries.

use analytics::preparation::Line;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::schema::{reading_list, reading_list_version};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, ReadingListId, ReadingListVersionId};
use crate::domain::refusal::Refusal;
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
pub(super) struct VersionRow {
    pub shop_id: i32,
    pub id: ReadingListVersionId,
    pub list_id: ReadingListId,
    pub number: i32,
    pub lines_json: String,
    pub reason: Option<String>,
    pub person_id: Option<PersonId>,
    pub made_at: UtcStamp,
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
    /// The version that the row holds.
    ///
    /// # Errors
    /// Where its lines cannot be read.
    pub fn read(self) -> Answer<ReadingListVersion> {
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
    let latest: Option<VersionRow> = reading_list_version::table
        .filter(reading_list_version::shop_id.eq(shop_id))
        .filter(reading_list_version::list_id.eq(&list.id))
        .order(reading_list_version::number.desc())
        .select(VersionRow::as_select())
        .first(conn)
        .optional()?;
    let stands = latest.ok_or(Refusal::NotFound)?.read()?;
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
    let own = all(conn, shop_id, false)?;
    Ok(narrowest_first(&own, purpose, vehicle).into_iter().cloned().collect())
}

/// Of lists those of a purpose that fit a vehicle, the narrowest first; of equally
/// narrow ones that which was made first, whatever order they come in.
#[must_use]
pub fn narrowest_first<'a>(
    lists: &'a [ShownReadingList],
    purpose: Purpose,
    vehicle: &Vehicle,
) -> Vec<&'a ShownReadingList> {
    let mut fitting: Vec<&ShownReadingList> = lists
        .iter()
        .filter(|one| one.list.purpose == purpose.as_str() && one.list.fits(vehicle))
        .collect();
    fitting.sort_by(|a, b| {
        let narrower = b.list.narrowness().cmp(&a.list.narrowness());
        narrower.then_with(|| a.list.id.cmp(&b.list.id))
    });
    fitting
}

/// Whether the starting list is still offered: until the shop has one of its own
/// for every vehicle.
#[must_use]
pub fn offers_starting(purpose: Purpose, own: &[ShownReadingList]) -> bool {
    let general =
        |list: &ReadingList| list.make.is_none() && list.model.is_none() && list.engine.is_none();
    !own.iter().any(|one| one.list.purpose == purpose.as_str() && general(&one.list))
}
