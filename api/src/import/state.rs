//! What the record says of a shop and of people when an import meets them.

use std::collections::HashSet;
use std::sync::Arc;

use diesel::prelude::*;

use super::known::ShopState;
use super::labels::{self, Labels};
use crate::codes::model as codes;
use crate::db::schema::{labor_entry, person, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::codes::LISTS;
use crate::domain::ids::{GroupId, PersonId};
use crate::people::model as people;
use crate::shops::model::Shop;

/// What an import must know of a shop before its rows are met.
///
/// # Errors
/// Where the record does not answer.
pub fn state_of(conn: &mut Conn, shop: Shop) -> Answer<ShopState> {
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
    // Whatever a shop's work is, it hangs on a vehicle.
    let vehicle: Option<i32> = vehicle::table
        .filter(vehicle::shop_id.eq(shop.id))
        .select(vehicle::shop_id)
        .first(conn)
        .optional()?;
    Ok(ShopState {
        number: shop.id,
        code: shop.code.clone(),
        zone: shop.zone(),
        money: shop.money(),
        fresh: vehicle.is_none(),
        had_labor: labor.is_some(),
        codes,
        labels,
        group: Some(shop.group_id.clone()),
        shop: Some(Arc::new(shop)),
    })
}

/// The person of a name, and whether they work in the shop already.
///
/// # Errors
/// Where the record does not answer.
pub fn find_person(
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
pub fn starting_codes() -> HashSet<(&'static str, String)> {
    labels::starting().map(|(list, code, _)| (list, code.to_owned())).collect()
}
