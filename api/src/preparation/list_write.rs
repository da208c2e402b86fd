//! How lists are written: made, changed by another version, withdrawn.

use analytics::preparation::Line;
use diesel::prelude::*;

use super::lists::{
    NewReadingList, NewReadingListVersion, ReadingList, ReadingListVersion, ShownReadingList,
    VersionRow, by_id, shown,
};
use super::sound;
use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::schema::{reading_list, reading_list_version};
use crate::db::{Answer, Fault};
use crate::domain::ids::{ReadingListId, ReadingListVersionId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::jobs::model::{no_faults, optional};
use crate::shops::write::{About, ShopWrite};

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
    let lines = sound::tidied(new.lines.as_deref().unwrap_or_else(|| purpose.lines()));
    no_faults(sound::faults(&lines))?;
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
    let stands = add_version(write, &list, 1, (&lines, reason))?;
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
    let lines = sound::tidied(&new.lines);
    let mut faults: Vec<FieldFault> = sound::faults(&lines);
    let reason = text::required("reason", &new.reason, 1000);
    faults.extend(reason.clone().err());
    no_faults(faults)?;
    let mut list = before.list.clone();
    list.version += 1;
    let stands = add_version(write, &list, before.stands.number + 1, (&lines, reason.ok()))?;
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
